"""What must be cut: the lines of an order, and the stock it is cut from."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from enum import StrEnum
from fractions import Fraction

from .errors import RefusedValue
from .lengths import ZERO, Length, Size, Unit, common_step, step_text
from .stock import Board, Offcut

__all__ = [
    "MOST_STEPS",
    "Order",
    "Piece",
    "PieceKind",
    "default_rule",
    "job_step",
    "order_digest",
]

DEFAULT_RULE = Length(Fraction(254, 160))  # 1/16 in
MOST_STEPS = 2**26
MOST_PIECES = 1_000_000


def default_rule(unit: Unit) -> Length:
    """Return the finest mark of a usual bench rule: 1/16 in, or 1 mm where `unit` is metric."""
    return DEFAULT_RULE if unit is Unit.INCH else Length(Fraction(1))


class PieceKind(StrEnum):
    """A mat has a window; a backer has none."""

    MAT = "mat"
    BACKER = "backer"


@dataclass(frozen=True, slots=True)
class Piece:
    """One line of an order: `qty` equal blanks.

    Attributes
    ----------
    label
        Unique in the order.
    size
        Outer size of the blank.
    board
        Name of the board it is cut from.
    turn
        Whether it may be cut turned by a quarter.
    """

    label: str
    kind: PieceKind
    qty: int
    size: Size
    board: str
    turn: bool = True

    def __post_init__(self) -> None:
        if not self.label.strip():
            raise RefusedValue("label", self.label, "is empty", "write a label such as A")
        if not self.board.strip():
            raise RefusedValue("board", self.board, "is empty", "write the board's name")
        if not 1 <= self.qty <= MOST_PIECES:
            problem = "is less than one" if self.qty < 1 else f"is over {MOST_PIECES:,}"
            raise RefusedValue("qty", self.qty, problem, "write a whole number from 1")


@dataclass(frozen=True, slots=True)
class Order:
    """A whole order with the stock it is cut from.

    Attributes
    ----------
    unit
        What lengths are shown in.
    rule
        The finest mark on the bench rule.
    boards
        Every board that a piece names, in the order of first mention, then the stock's others.
    notes
        What was assumed, each a sentence to show.
    """

    name: str
    pieces: tuple[Piece, ...]
    boards: tuple[Board, ...]
    offcuts: tuple[Offcut, ...] = ()
    unit: Unit = Unit.INCH
    rule: Length = DEFAULT_RULE
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.pieces:
            raise RefusedValue("pieces", "", "are none", "order at least one mat or backer")
        if self.rule <= ZERO:
            raise RefusedValue("rule", str(self.rule), "is not longer than zero", "write 1/16 in")
        _once("label", (piece.label for piece in self.pieces))
        _once("board", (board.name for board in self.boards))
        _once("id", (f"{offcut.id} of {offcut.board}" for offcut in self.offcuts))
        known = {board.name for board in self.boards}
        named = [piece.board for piece in self.pieces] + [offcut.board for offcut in self.offcuts]
        for board in named:
            if board not in known:
                raise RefusedValue("board", board, "is not among the boards", "describe it")


def _once(field: str, names: Iterable[str]) -> None:
    for name, times in Counter(names).items():
        if times > 1:
            raise RefusedValue(field, name, "is given twice", "give each its own")


def order_digest(order: Order) -> str:
    """Return ``sha256:`` and hexadecimal digits over everything that the order says.

    Two files that say the same, whatever their format and their spelling of lengths, have the
    same digest. The notes, which say how a file was read, are left out.
    """
    said = {name: value for name, value in _canonical_fields(order).items() if name != "notes"}
    text = json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return f"sha256:{hashlib.sha256(text.encode()).hexdigest()}"


def _canonical_fields(thing: object) -> dict[str, object]:
    assert is_dataclass(thing)
    return {field.name: _canonical(getattr(thing, field.name)) for field in fields(thing)}


def _canonical(value: object) -> object:
    if isinstance(value, Length):
        return f"{value.mm} mm"
    if isinstance(value, tuple):
        return [_canonical(item) for item in value]
    if is_dataclass(value):
        return _canonical_fields(value)
    return str(value) if isinstance(value, Fraction) else value


@dataclass(frozen=True, slots=True)
class _Named:
    """A length of the job, and what it is the length of."""

    what: str
    length: Length

    def __str__(self) -> str:
        text = str(self.length)
        return f"{step_text(self.length) if text.startswith('≈') else text} ({self.what})"


def job_step(order: Order) -> Length:
    """Return the coarsest grid that holds every length of the job exactly.

    That is the lengths of the pieces and, of each board in use, its sheets, offcuts and trim
    and its tool's kerf, longest cut and narrowest strip. The rest (`keep`, `thickness`, the
    rule and boards that no piece names) places no cut.

    Raises
    ------
    RefusedValue
        If a sheet's side would be more than 2^26 steps, naming the lengths to blame.
    """
    named = tuple(_job_lengths(order))
    step = common_step(item.length for item in named)
    longest = _longest_side(order)
    if _fits(longest, step):
        return step
    culprits = _to_blame(named, longest)
    raise RefusedValue(
        "lengths",
        ", ".join(map(str, culprits[:5])),
        f"would need more than {MOST_STEPS:,} steps to a sheet's side",
        "round them to a mark of the rule",
    )


def _job_lengths(order: Order) -> Iterator[_Named]:
    """Yield every length that a cut's place can depend on."""
    used = {piece.board for piece in order.pieces}
    for board in order.boards:
        if board.name in used:
            yield from _board_lengths(board)
    for offcut in order.offcuts:
        if offcut.board in used:
            yield from _sides(f"offcut {offcut.id}", offcut.size)
    for piece in order.pieces:
        yield from _sides(piece.label, piece.size)


def _board_lengths(board: Board) -> Iterator[_Named]:
    for sheet in board.sheets:
        yield from _sides(f"sheet of {board.name}", sheet.size)
    for edge, length in board.trim.edges():
        yield _Named(f"{edge} trim of {board.name}", length)
    tool = board.tool
    yield _Named(f"kerf of {tool.name}", tool.kerf)
    yield _Named(f"longest cut of {tool.name}", tool.longest_cut or ZERO)
    yield _Named(f"narrowest strip of {tool.name}", tool.narrowest_strip)


def _sides(what: str, size: Size) -> Iterator[_Named]:
    yield _Named(f"width of {what}", size.width)
    yield _Named(f"height of {what}", size.height)


def _longest_side(order: Order) -> Length:
    used = {piece.board for piece in order.pieces}
    sizes = [sheet.size for board in order.boards if board.name in used for sheet in board.sheets]
    sizes += [offcut.size for offcut in order.offcuts if offcut.board in used]
    return max(max(size.width, size.height) for size in sizes)


def _fits(longest: Length, step: Length) -> bool:
    return longest.mm / step.mm <= MOST_STEPS


def _to_blame(named: tuple[_Named, ...], longest: Length) -> tuple[_Named, ...]:
    """Return the lengths without which the grid would be coarse enough.

    Plain lengths are taken first, those with the smaller denominator in inches or millimetres;
    one that makes the grid of those already taken too fine is to blame.
    """
    blamed: list[_Named] = []
    step = ZERO
    for item in sorted((item for item in named if item.length), key=_fineness):
        finer = common_step((step, item.length))
        if _fits(longest, finer):
            step = finer
        else:
            blamed.append(item)
    return tuple(blamed)


def _fineness(item: _Named) -> int:
    return min(item.length.mm.denominator, item.length.in_unit(Unit.INCH).denominator)
