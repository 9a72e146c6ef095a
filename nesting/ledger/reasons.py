"""Why each offcut of the rack is used in a plan or stays whole: only what plan and rack show.

What remains is weighed as the plan weighs it (see `plan.rungs`), in twentieths of a sheet.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from ..lengths import format_size
from ..plan.model import Aim, LeftoverKind, SourceKind
from ..plan.rungs import worth_in_twentieths
from .sources import is_of_the_rack
from .sums import age_in_days

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..audit.facts import AuditedPlan
    from ..lengths import Length, Unit
    from ..plan.model import BoardPlan, Layout, Source
    from .offer import Passed
    from .state import State

__all__ = ["Reasons", "reasons_of"]


@dataclass(frozen=True, slots=True)
class Reasons:
    """Number and reason of each offcut of the order's boards that is on the rack."""

    used: tuple[tuple[int, str], ...]
    unused: tuple[tuple[int, str], ...]


def reasons_of(state: State, passed: Iterable[Passed], audited: AuditedPlan) -> Reasons:
    """Return why each offcut of the order's boards is used or not.

    Parameters
    ----------
    state
        The ledger, from which the age of each is taken.
    passed
        Those that the plan was not offered.
    """
    used: list[tuple[int, str]] = []
    unused: list[tuple[int, str]] = []
    for plan in audited.plan.boards:
        board = _Board(state, plan, audited.plan.step, audited.plan.unit)
        used += [(one.number, board.used_for(one)) for one in board.used]
        unused += [(one.number, board.kept_since(one)) for one in board.unused]
    unused += [(one.number, one.why) for one in passed]
    return Reasons(tuple(sorted(used)), tuple(sorted(unused)))


@dataclass(frozen=True, slots=True)
class _Offcut:
    """One offcut that was offered; its area in steps squared, `layout` where it is used."""

    number: int
    width: int
    height: int
    born: tuple[datetime, int]
    since: str
    layout: Layout | None

    @property
    def area(self) -> int:
        return self.width * self.height

    @property
    def sides(self) -> tuple[int, int]:
        return self.width, self.height


class _Board:
    """The offcuts that one board's plan had to choose from.

    Of a job that is partly cut the parts on the bench are offcuts of the plan as well; they are
    named by letters, and are none of the rack's.
    """

    def __init__(self, state: State, plan: BoardPlan, step: Length, unit: Unit) -> None:
        self._plan, self._step, self._unit = plan, step, unit
        layouts = {one.source: one for one in plan.layouts}
        offered = [
            self._offcut(state, item.source, layouts.get(item.source))
            for item in plan.stock
            if is_of_the_rack(item.source)
        ]
        parts = [
            layouts.get(item.source)
            for item in plan.stock
            if item.source.kind is SourceKind.OFFCUT and not is_of_the_rack(item.source)
        ]
        self.cut_parts = any(layout is not None for layout in parts)
        self.spare_parts = any(layout is None for layout in parts)
        self.used = [one for one in offered if one.layout is not None]
        self.unused = [one for one in offered if one.layout is None]

    def _offcut(self, state: State, source: Source, layout: Layout | None) -> _Offcut:
        kept = state.kept(int(source.id or 0))
        return _Offcut(kept.number, source.width, source.height, kept.born, kept.since, layout)

    # --- used -----------------------------------------------------------------------------------

    def used_for(self, one: _Offcut) -> str:
        """Say what is cut from an offcut, and why from this one, where that is plain."""
        assert one.layout is not None
        made = _counted(one.layout)
        alike = [other for other in self.unused if other.sides == one.sides]
        if alike and all(one.born < other.born for other in alike):
            return f"used for {made}; older than {_named(alike)} of the same size"
        if self._smallest(one):
            return f"used for {made}; of those that may serve, no smaller one is left"
        return f"used for {made}"

    def _smallest(self, one: _Offcut) -> bool:
        """Return whether its one piece fits none of the smaller offcuts, and a larger is left."""
        assert one.layout is not None
        if (
            self.spare_parts
            or len(one.layout.pieces) != 1
            or not any(o.area > one.area for o in self.unused)
        ):
            return False
        smaller = [other for other in self.unused if other.area <= one.area]
        return not any(self._holds(other, one.layout, smallest=True) for other in smaller)

    def _holds(self, other: _Offcut, layout: Layout, *, smallest: bool = False) -> bool:
        """Return whether an offcut holds a layout's one piece, or its whole source."""
        wide, high = layout.source.width, layout.source.height
        if smallest:
            wide, high = layout.pieces[0].width, layout.pieces[0].height
        if wide <= other.width and high <= other.height:
            return True
        turn = {line.label: line.turn for line in self._plan.ordered}
        turns = not self._plan.no_turn and all(turn[piece.label] for piece in layout.pieces)
        return turns and high <= other.width and wide <= other.height

    # --- kept -----------------------------------------------------------------------------------

    def kept_since(self, one: _Offcut) -> str:
        """Say why an offcut that could have served stays whole."""
        return next(self._kept(one))

    def _kept(self, one: _Offcut) -> Iterator[str]:
        for other in self.used:
            if other.sides == one.sides and other.born < one.born:
                yield f"kept: offcut {other.number} of the same size came {_before(other, one)}"
        whole = self._worth_told(one)
        for other in sorted(self.used, key=lambda other: (other.area, other.born)):
            if self._better_broken(other, one):
                assert other.layout is not None
                older = " and older" if other.born < one.born else ""
                fits = "fits" if len(other.layout.pieces) == 1 else "fit"
                yield (
                    f"kept: {whole}; {_counted(other.layout)} {fits} offcut {other.number}, "
                    f"smaller{older}, {self._worth_told(other)}"
                )
        if not self._plan.sheets:
            yield f"kept: {whole}; {self._comes_from()}"
        yield f"kept: {whole}; {self._no_saving()}"

    def _comes_from(self) -> str:
        """Say what all pieces are cut from where no full sheet is."""
        if not self.cut_parts:
            return f"all that is ordered of its board comes from {_named(self.used)}"
        used = f"{_named(self.used)} and " if self.used else ""
        return f"all that is left to cut of its board comes from {used}parts on the bench"

    def _better_broken(self, other: _Offcut, one: _Offcut) -> bool:
        """Return whether breaking `one` in the place of a smaller `other` surely leaves no more.

        At most, all that the pieces do not take of `one` would be left in a single part.
        """
        assert other.layout is not None
        if other.area >= one.area or not self._holds(one, other.layout):
            return False
        pieces = sum(piece.width * piece.height for piece in other.layout.pieces)
        left = sum(
            (
                self._worth(part.width, part.height)
                for part in other.layout.leftovers
                if part.kind is LeftoverKind.OFFCUT
            ),
            Fraction(0),
        )
        at_most = worth_in_twentieths(one.area - pieces, self._plan.stock)
        return self._worth(*one.sides) + left >= self._worth(*other.sides) + at_most

    def _worth(self, width: int, height: int) -> Fraction:
        """Return the worth of a part; nothing where it does not hold the size worth keeping."""
        return (
            worth_in_twentieths(width * height, self._plan.stock)
            if self._holds_keep(width, height)
            else Fraction(0)
        )

    def _holds_keep(self, width: int, height: int) -> bool:
        if self._plan.keep is None:
            return True
        narrow, tall = sorted((self._plan.keep.width, self._plan.keep.height))
        short, long = sorted((width, height))
        return narrow <= self._step * short and tall <= self._step * long

    def _worth_told(self, one: _Offcut) -> str:
        if not self._holds_keep(*one.sides):
            assert self._plan.keep is not None
            keep = format_size(self._plan.keep, self._unit, with_unit=True)
            return f"worth nothing whole, being under the {keep} worth keeping"
        twentieths = int(self._worth(*one.sides))
        if not twentieths:
            return "worth less than a twentieth of a sheet whole"
        return f"worth {twentieths} twentieth{'' if twentieths == 1 else 's'} of a sheet whole"

    def _no_saving(self) -> str:
        """Say that nothing is saved with it, and claim no more than the plan does."""
        best = "the best plan found leaves it so"
        if self._plan.rungs is not None:
            best = f"the best plan found leaves {self._plan.rungs.worth} twentieths in all"
        if not self._plan.proved_least:
            return best
        if self._plan.aim is Aim.COST:
            return f"no plan costs less with it; {best}"
        sizes = sum(item.source.kind is SourceKind.SHEET for item in self._plan.stock)
        less = "fewer full sheets" if sizes == 1 else "less of full sheets"
        return f"no plan takes {less} with it; {best}"


def _counted(layout: Layout) -> str:
    counts = Counter(piece.label for piece in layout.pieces)
    return ", ".join(f"{count} x {label}" for label, count in counts.items())


def _named(offcuts: Sequence[_Offcut]) -> str:
    numbers = ", ".join(map(str, sorted(one.number for one in offcuts)))
    return f"offcut{'' if len(offcuts) == 1 else 's'} {numbers}"


def _before(other: _Offcut, one: _Offcut) -> str:
    days = age_in_days(other.since, datetime.fromisoformat(one.since))
    return f"{days} day{'' if days == 1 else 's'} before it" if days else "before it"
