"""One sheet cut as far as it was, with the settings that were really used.

Lengths are whole numbers of a step that also holds the settings used.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, TypeVar

from ..lengths import Length, format_length
from ..plan.model import (
    Aim,
    Axis,
    BoardPlan,
    Cut,
    Edge,
    Layout,
    Leftover,
    OrderedPiece,
    PlacedPiece,
    Plan,
    PlanTool,
    PlanTrim,
    Source,
    SourceKind,
)
from ..plan.trees import CutNode, PieceNode, WasteNode
from .said import DONE, RUINED, WRONG, SheetTale, refused

if TYPE_CHECKING:
    from ..lengths import Unit
    from ..plan.trees import Node

__all__ = ["Cuttable", "Lying", "Rect", "Sheet", "cut_so_far", "finer", "usable_of"]

Half = tuple["int | None", "int | None"]
Counted = TypeVar("Counted", PlanTool, PlanTrim, OrderedPiece, Source, PlacedPiece, Leftover, Cut)


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle on its source."""

    x: int
    y: int
    width: int
    height: int

    @property
    def area(self) -> int:
        """Area in steps squared."""
        return self.width * self.height

    def along(self, axis: Axis) -> tuple[int, int]:
        """Return where it begins and ends on `axis`."""
        if axis is Axis.X:
            return self.x, self.x + self.width
        return self.y, self.y + self.height

    def across(self, axis: Axis) -> tuple[int, int]:
        """Return where it begins and ends on the other axis."""
        return self.along(Axis.Y if axis is Axis.X else Axis.X)

    def between(self, axis: Axis, low: int, high: int) -> Rect | None:
        """Return what of it lies from `low` to `high` on `axis`; None where that is nothing."""
        own_low, own_high = self.along(axis)
        low, high = max(low, own_low), min(high, own_high)
        if high <= low:
            return None
        if axis is Axis.X:
            return Rect(low, self.y, high - low, self.height)
        return Rect(self.x, low, self.width, high - low)

    def within(self, other: Rect) -> Rect | None:
        """Return what of it lies in `other`."""
        part = self.between(Axis.X, *other.along(Axis.X))
        return None if part is None else part.between(Axis.Y, *other.along(Axis.Y))


def usable_of(source: Source, trim: PlanTrim) -> Rect:
    """Return what of a source pieces may lie in: a full sheet has its trim off."""
    if source.kind is not SourceKind.SHEET:
        return Rect(0, 0, source.width, source.height)
    width, height = source.width - trim.left - trim.right, source.height - trim.top - trim.bottom
    return Rect(trim.left, trim.top, width, height)


@dataclass(slots=True)
class _Part:
    """A part as planned: where it lies, the cut that divides it, and the halves' numbers."""

    rect: Rect
    cut: Cut | None = None
    halves: Half = (None, None)
    piece: PlacedPiece | None = None


@dataclass(slots=True)
class Cuttable:
    """A layout as planned: every part that its cuts make, each after the one it comes from."""

    layout: Layout
    kerf: int
    parts: list[_Part] = field(default_factory=list)
    divided: dict[int, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        source = self.layout.source
        self.parts.append(_Part(Rect(0, 0, source.width, source.height)))
        on_bench = [0]
        for cut in self.layout.cuts:
            number = next(n for n in on_bench if _divides(cut, self.parts[n].rect))
            on_bench.remove(number)
            self._divide(number, cut)
            on_bench += [half for half in self.parts[number].halves if half is not None]
        pieces = {(p.x, p.y, p.width, p.height): p for p in self.layout.pieces}
        for number in on_bench:
            r = self.parts[number].rect
            self.parts[number].piece = pieces.get((r.x, r.y, r.width, r.height))

    def _divide(self, number: int, cut: Cut) -> None:
        part = self.parts[number]
        part.cut = cut
        self.divided[cut.number] = number
        halves: list[int | None] = []
        for rect in _halves(part.rect, cut.axis, cut.at, self.kerf):
            halves.append(None if rect is None else len(self.parts))
            if rect is not None:
                self.parts.append(_Part(rect))
        part.halves = (halves[0], halves[1])

    def tree(self, number: int, usable: Rect, shift: tuple[int, int]) -> Node | None:
        """Return a part's cuts still to come, within `usable`, moved back by `shift`."""
        built: dict[int, Node | None] = {}
        for n in reversed(self._below(number)):
            clip = self.parts[n].rect.within(usable)
            built[n] = None if clip is None else self._node(n, clip, shift, built)
        return built[number]

    def _below(self, number: int) -> list[int]:
        found = [number]
        for n in found:  # it grows meanwhile
            found += [half for half in self.parts[n].halves if half is not None]
        return found

    def _node(
        self, number: int, clip: Rect, shift: tuple[int, int], built: dict[int, Node | None]
    ) -> Node | None:
        part = self.parts[number]
        x, y = clip.x - shift[0], clip.y - shift[1]
        if part.piece is not None:
            piece = part.piece
            return PieceNode(piece.label, x, y, piece.width, piece.height, piece.turned)
        if part.cut is None:
            return WasteNode(x, y, clip.width, clip.height)
        first, second = (None if half is None else built[half] for half in part.halves)
        if first is None or part.cut.at >= clip.along(part.cut.axis)[1]:
            return second if first is None else first
        at = part.cut.at - shift[0 if part.cut.axis is Axis.X else 1]
        return CutNode(part.cut.axis, at, x, y, clip.width, clip.height, first, second)


@dataclass(frozen=True, slots=True)
class Lying:
    """A part on the bench.

    Attributes
    ----------
    rect
        Where on its source it was really cut.
    planned
        The number of the part that it was to be; None where the plan had none.
    name
        Whose part it is, and which side of which cut.
    """

    rect: Rect
    planned: int | None
    name: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet as far as it is cut: what lies there, what is dust, what was thrown away."""

    tale: SheetTale
    cuttable: Cuttable
    lying: tuple[Lying, ...]
    kerf_area: int
    ruined_area: int


def finer(plan: Plan, step: Length) -> Plan:
    """Return `plan` counted in `step`, of which its own step is a whole number."""
    factor = plan.step.steps(step)
    if factor == 1:
        return plan
    return replace(plan, step=step, boards=tuple(_finer_board(b, factor) for b in plan.boards))


def _finer_board(board: BoardPlan, factor: int) -> BoardPlan:
    area = factor**2 if board.aim is Aim.AREA else 1
    return replace(
        board,
        tool=_times(board.tool, factor, "kerf", "longest_cut", "narrowest_strip"),
        trim=_times(board.trim, factor, "left", "right", "top", "bottom"),
        ordered=tuple(_times(line, factor, "width", "height") for line in board.ordered),
        stock=tuple(
            replace(item, source=_times(item.source, factor, "width", "height"))
            for item in board.stock
        ),
        value=board.value * area,
        value_lower_bound=board.value_lower_bound * area,
        layouts=tuple(_finer_layout(layout, factor) for layout in board.layouts),
    )


def _finer_layout(layout: Layout, factor: int) -> Layout:
    place = ("x", "y", "width", "height")
    return replace(
        layout,
        source=_times(layout.source, factor, "width", "height"),
        pieces=tuple(_times(piece, factor, *place) for piece in layout.pieces),
        leftovers=tuple(_times(part, factor, *place) for part in layout.leftovers),
        cuts=tuple(_times(cut, factor, "at", "start", "end", "setting") for cut in layout.cuts),
    )


def _times(item: Counted, factor: int, *names: str) -> Counted:
    numbers = {name: getattr(item, name) for name in names}
    more: dict[str, Any] = {n: v if v is None else v * factor for n, v in numbers.items()}
    return replace(item, **more)


def cut_so_far(tale: SheetTale, cuttable: Cuttable, step: Length, unit: Unit) -> Sheet:
    """Return a sheet with the cuts made that are said to be.

    Raises
    ------
    RefusedValue
        For a cut that cannot have been made so, or a ruined part that is not there.
    """
    replay = _Replay(tale, cuttable, step, unit)
    for cut in cuttable.layout.cuts[: tale.made]:
        replay.make(cut)
    for number in tale.ruined_cuts:
        replay.ruin(number)
    lying = (*replay.parts.values(), *replay.strays)
    return Sheet(tale, cuttable, lying, replay.kerf_area, replay.ruined_area)


class _Replay:
    def __init__(self, tale: SheetTale, cuttable: Cuttable, step: Length, unit: Unit) -> None:
        self._tale, self._cuttable, self._step, self._unit = tale, cuttable, step, unit
        whole = Lying(cuttable.parts[0].rect, 0, f"{tale.name} whole")
        self.parts: dict[int, Lying] = {0: whole}
        self.strays: list[Lying] = []
        self.kerf_area = self.ruined_area = 0

    def make(self, cut: Cut) -> None:
        number = self._cuttable.divided[cut.number]
        used = self._tale.settings.get(cut.number)
        setting = cut.setting if used is None else used.steps(self._step)
        lying = self.parts.pop(number, None)
        rect = None if lying is None else lying.rect
        low, high = (0, 0) if rect is None else rect.along(cut.axis)
        if rect is None or (
            setting >= high - low and (used is not None or self._off(number, rect))
        ):
            raise self._impossible(cut, setting, high - low)
        near = cut.stop in (Edge.LEFT, Edge.TOP)
        at = low + setting if near else high - setting - self._cuttable.kerf
        halves = _halves(rect, cut.axis, at, self._cuttable.kerf)
        self.kerf_area += rect.area - sum(half.area for half in halves if half is not None)
        for index, half in enumerate(halves):
            if half is not None:
                where = "at stop" if (index == 0) == near else "beyond"
                planned = self._cuttable.parts[number].halves[index]
                self._lay(Lying(half, planned, f"{self._tale.name} cut {cut.number} {where}"))

    def _off(self, number: int, rect: Rect) -> bool:
        planned = self._cuttable.parts[number].rect
        return (planned.width, planned.height) != (rect.width, rect.height)

    def _lay(self, lying: Lying) -> None:
        if lying.planned is None:
            self.strays.append(lying)
        else:
            self.parts[lying.planned] = lying

    def _impossible(self, cut: Cut, setting: int, length: int) -> Exception:
        option = WRONG if cut.number in self._tale.settings else DONE
        told = format_length(self._step * setting, self._unit, with_unit=True)
        there = (
            f"its part is only {format_length(self._step * length, self._unit, with_unit=True)}"
            if length
            else "nothing is left of its part"
        )
        text = f"{self._tale.name}:{cut.number}"
        problem = f"cannot have been cut at {told}: {there}"
        return refused(option, text, problem, "say what was really cut")

    def ruin(self, number: int) -> None:
        name = f"{self._tale.name}:{number}"
        if number <= self._tale.made:
            problem = f"names the part that cut {number} would divide, but that cut is made"
            raise refused(RUINED, name, problem, "name a cut still to be made, or a piece")
        lying = self.parts.pop(self._cuttable.divided[number], None)
        if lying is None:
            problem = f"names the part that cut {number} would divide, which is not cut free yet"
            raise refused(RUINED, name, problem, "say with --done which cuts are made before it")
        self.ruined_area += lying.rect.area


def _divides(cut: Cut, rect: Rect) -> bool:
    low, high = rect.along(cut.axis)
    return rect.across(cut.axis) == (cut.start, cut.end) and low <= cut.at < high


def _halves(rect: Rect, axis: Axis, at: int, kerf: int) -> tuple[Rect | None, Rect | None]:
    low, high = rect.along(axis)
    return rect.between(axis, low, at), rect.between(axis, at + kerf, high)
