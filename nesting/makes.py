"""What could still be cut: the usual small mats that the offcuts in hand would make."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .lengths import ZERO, Length, Size, Unit
from .order import Order, Piece, PieceKind
from .plan.model import NoPlan, SourceKind
from .planning import make_plan
from .stock import Board, Offcut, SheetSize, Tool

if TYPE_CHECKING:
    from .ledger.state import Kept, State

__all__ = ["SMALL_SIZES", "Makes", "what_they_make"]

# Common ready-made frame sizes; common practice, no source. 8 x 10 is a museum standard too (CCI
# Notes 11/5).
SMALL_SIZES = tuple(
    Size(Length.of(width, Unit.INCH), Length.of(height, Unit.INCH))
    for width, height in ((5, 7), (6, 8), (8, 10), (9, 12), (11, 14), (12, 16), (16, 20))
)


@dataclass(frozen=True, slots=True)
class Makes:
    """How many pieces of one size the offcuts of one board would make, and from which.

    Attributes
    ----------
    proved
        Whether no more can be cut from them with straight cuts.
    directed
        Whether the board has a direction, so that none is turned: the first number of the size
        runs along the first number of the sheet's.
    """

    board: str
    size: Size
    count: int
    offcuts: tuple[int, ...]
    proved: bool
    directed: bool = False


def what_they_make(
    state: State, sizes: Sequence[Size] = (), *, kerf: Length = ZERO
) -> Iterator[Makes]:
    """Yield, for each board and size, how many pieces the free offcuts would make by themselves.

    Each size is by itself: they make so many of this *or* so many of that. The packer is asked
    for more than they can give, and may take the rest from sheets of exactly the piece's size;
    it takes as few of those as it can, and what it does not take comes from the offcuts.

    Of a board that the ledger knows to have a direction no piece is turned, and offcuts whose own
    direction nobody knows are left out.

    Parameters
    ----------
    sizes
        As they lie on the sheet. Where none is given: `SMALL_SIZES`, and those of a board with a
        direction both ways, since a mat may be wanted upright or across.
    kerf
        What the tool removes; none for a knife.
    """
    free = [kept for kept in state.offcuts.values() if kept.state == "on the rack"]
    for board in sorted({kept.board for kept in free}):
        known = state.boards.get(board)
        directed = known is not None and known.directed is True
        usual = _both_ways(SMALL_SIZES) if directed else SMALL_SIZES
        for size in sizes or usual:
            holding = [k for k in free if k.board == board and _holds(k, size, directed)]
            if holding:
                yield _made(board, size, holding, kerf, directed=directed)


def _both_ways(sizes: Sequence[Size]) -> tuple[Size, ...]:
    return tuple(one for size in sizes for one in (size, Size(size.height, size.width)))


def _holds(kept: Kept, size: Size, directed: bool) -> bool:
    usable = kept.usable
    if usable is None or (directed and not kept.directed):
        return False
    if size.width <= usable.width and size.height <= usable.height:
        return True
    return not directed and size.height <= usable.width and size.width <= usable.height


def _made(
    board: str, size: Size, holding: Sequence[Kept], kerf: Length, *, directed: bool
) -> Makes:
    asked = sum(_most(kept, size) for kept in holding)
    sheets = (SheetSize(size),)
    stock = Board(board, tool=Tool(kerf=kerf), sheets=sheets, no_turn=directed)
    offcuts = tuple(
        Offcut(board, usable, str(kept.number))
        for kept in holding
        if (usable := kept.usable) is not None
    )
    piece = Piece("A", PieceKind.BACKER, asked, size, board)
    plan = make_plan(Order("what they make", (piece,), (stock,), offcuts))
    assert not isinstance(plan, NoPlan)
    (made,) = plan.boards
    used = [
        int(layout.source.id or 0)
        for layout in made.layouts
        if layout.source.kind is SourceKind.OFFCUT
    ]
    count = asked - made.sheets
    return Makes(board, size, count, tuple(sorted(used)), made.proved_least, directed)


def _most(kept: Kept, size: Size) -> int:
    """Return a number of pieces that an offcut certainly does not exceed: by area."""
    usable = kept.usable
    assert usable is not None
    return int((usable.width.mm * usable.height.mm) // (size.width.mm * size.height.mm))
