"""What could still be cut: the usual small mats and backers that the offcuts in hand would make."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .errors import LedgerError
from .lengths import ZERO, Length, Size, Unit, common_step
from .problem.instance import Instance, PieceType, SourceType

if TYPE_CHECKING:
    from .ledger.state import Kept, State
    from .stock import Grade

__all__ = ["METRIC_SIZES", "SMALL_SIZES", "Group", "Makes", "groups_of", "what_they_make"]

# Common ready-made frame sizes; common practice, no source. 8 x 10 is a museum standard too (CCI
# Notes 11/5).
SMALL_SIZES = tuple(
    Size(Length.of(width, Unit.INCH), Length.of(height, Unit.INCH))
    for width, height in ((5, 7), (6, 8), (8, 10), (9, 12), (11, 14), (12, 16), (16, 20))
)
# The same in whole centimetres; common practice, no source.
METRIC_SIZES = tuple(
    Size(Length.of(width, Unit.CENTIMETRE), Length.of(height, Unit.CENTIMETRE))
    for width, height in ((13, 18), (15, 20), (18, 24), (20, 25), (24, 30), (30, 40), (40, 50))
)


@dataclass(frozen=True, slots=True)
class Group:
    """Offcuts that may serve the same orders: of one board, equally well known.

    Attributes
    ----------
    grade, buffered
        None where it is not known: then they serve no better grade than the lowest.
    directed
        Whether the board has a direction, so that nothing is turned: the first number of a size
        runs along the first number of the sheet's.
    """

    board: str
    grade: Grade | None
    buffered: bool | None
    directed: bool = False

    @property
    def makes(self) -> str:
        """What is cut from them: mats of mat board, backers of the rest, pieces where unsure."""
        if self.grade is None:
            return "piece"
        return "mat" if self.grade.is_mat_board else "backer"


@dataclass(frozen=True, slots=True)
class Makes:
    """How many pieces of one size a group of offcuts would make, and from which.

    No more can be cut from them with straight cuts.

    Attributes
    ----------
    offcuts
        The number of each offcut, and how many it makes; the oldest first.
    """

    group: Group
    size: Size
    offcuts: tuple[tuple[int, int], ...]

    @property
    def count(self) -> int:
        """How many pieces in all."""
        return sum(count for _, count in self.offcuts)


def groups_of(state: State) -> dict[Group, list[Kept]]:
    """Return the offcuts that are free, the oldest first, by what they may serve."""
    found: dict[Group, list[Kept]] = {}
    for kept in sorted(state.offcuts.values(), key=lambda one: one.born):
        if kept.state == "on the rack" and kept.usable is not None:
            known = state.boards.get(kept.board)
            directed = known is not None and known.directed is True
            group = Group(kept.board, kept.grade, kept.buffered, directed)
            found.setdefault(group, []).append(kept)
    return dict(sorted(found.items(), key=lambda item: _order(item[0])))


def _order(group: Group) -> tuple[str, str, str]:
    return group.board, str(group.grade or "~"), str(group.buffered)


def what_they_make(
    state: State,
    sizes: Sequence[Size] = (),
    *,
    kerf: Length = ZERO,
    usual: Sequence[Size] = SMALL_SIZES,
) -> Iterator[Makes]:
    """Yield, for each group and size, how many pieces the free offcuts would make by themselves.

    Each size is by itself: they make so many of this *or* so many of that. Offcuts of another
    grade, or known less well, are reckoned apart, since they may not serve the same orders.

    Of a board that the ledger knows to have a direction no piece is turned, and offcuts whose own
    direction nobody knows are left out.

    Parameters
    ----------
    sizes
        As they lie on the sheet. Where none is given: the `usual` ones, and those of a board with
        a direction both ways, since a mat may be wanted upright or across.
    kerf
        What the tool removes; none for a knife.

    Raises
    ------
    LedgerError
        If a size is so small beside the offcuts that there are too many ways to cut them.
    """
    for group, kept in groups_of(state).items():
        free = [one for one in kept if one.directed or not group.directed]
        mine = sizes or (_both_ways(usual) if group.directed else usual)
        for size in mine:
            made = tuple(_counts(free, size, kerf, may_turn=not group.directed))
            if made:
                yield Makes(group, size, made)


def _both_ways(sizes: Sequence[Size]) -> tuple[Size, ...]:
    return tuple(one for size in sizes for one in (size, Size(size.height, size.width)))


def _counts(
    free: Sequence[Kept], size: Size, kerf: Length, *, may_turn: bool
) -> Iterator[tuple[int, int]]:
    """Yield each offcut that holds the size, and the most that straight cuts make of it.

    One recursion of the packer prices every part of the largest, and so all of them.
    """
    from .packer.grids import exact_grid
    from .packer.recursion import best_values

    usable = {one.number: one.usable for one in free if one.usable is not None}
    sides = [side for one in (size, *usable.values()) for side in (one.width, one.height)]
    step = common_step([*sides, kerf])
    sources = {
        number: SourceType(one.width.steps(step), one.height.steps(step), 0, 1)
        for number, one in usable.items()
    }
    if not sources:
        return
    piece = PieceType(size.width.steps(step), size.height.steps(step), 1, may_turn)
    instance = Instance((piece,), tuple(set(sources.values())), kerf.steps(step))
    grid = exact_grid(instance)
    if grid is None:
        raise LedgerError(
            f"{size} is too small to be reckoned with on such large offcuts; ask for a larger size"
        )
    table = best_values(grid, (1,))
    for number, source in sources.items():
        count = int(table[grid.root(source, instance)])
        if count:
            yield number, count
