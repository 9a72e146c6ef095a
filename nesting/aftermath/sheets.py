"""One sheet cut as far as it was, with the settings that were really used.

Lengths are whole numbers of a step that also holds the settings used.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, TypeVar

from ..lengths import Length, Size, format_length, format_size
from ..plan.edges import trims_left_on
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
    StockItem,
    trim_of,
)
from ..plan.trees import CutNode, PieceNode, WasteNode
from .names import side_of
from .said import DONE, RUINED, WRONG, SheetTale, Spoiled, refused

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ..lengths import Unit
    from ..plan.trees import Node
    from .offs import Errors, Off

__all__ = [
    "Cuttable",
    "Lying",
    "Rect",
    "Scale",
    "Sheet",
    "cut_so_far",
    "finer",
    "standing_of",
    "usable_of",
]

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


def usable_of(source: Source, board: BoardPlan) -> Rect:
    """Return what of a source pieces may lie in: its trim is off, as far as cuts take it off."""
    trim = trim_of(source, board.trim, board.stock)
    width, height = source.width - trim.left - trim.right, source.height - trim.top - trim.bottom
    return Rect(trim.left, trim.top, width, height)


def standing_of(layout: Layout, board: BoardPlan) -> Rect:
    """Return what of a source a layout's cuts divide, those apart that take off trims.

    That is what pieces may lie in, with each far trim that no cut takes off by itself: the scrap
    beside it has it in.
    """
    usable, source = usable_of(layout.source, board), layout.source
    left_on = trims_left_on(layout, board)
    return replace(
        usable,
        width=source.width - usable.x if Edge.RIGHT in left_on else usable.width,
        height=source.height - usable.y if Edge.BOTTOM in left_on else usable.height,
    )


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

    def cuts_of(self, number: int) -> set[int]:
        """Return the numbers of the cuts that divide a part and what comes of it."""
        cuts = (self.parts[n].cut for n in self._below(number))
        return {cut.number for cut in cuts if cut is not None}

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
        What it is called on its sheet.
    clean
        Whether a person said how much of it is good, so that no edge is to be taken off.
    off
        By how much its width and its height may be off at worst, each None where nobody knows;
        None alone for what was measured.
    """

    rect: Rect
    planned: int | None
    name: str
    clean: bool = False
    off: Off | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet as far as it is cut.

    Attributes
    ----------
    lying
        What lies there.
    kerf_area, ruined_area, edge_area
        What is dust, what was thrown away, and what came off an edge that was to stay.
    pending
        Edges that are still to come off before the first cut.
    """

    tale: SheetTale
    cuttable: Cuttable
    lying: tuple[Lying, ...]
    kerf_area: int
    ruined_area: int
    edge_area: int = 0
    pending: tuple[Edge, ...] = ()


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
        stock=tuple(_finer_item(item, factor) for item in board.stock),
        value=board.value * area,
        value_lower_bound=board.value_lower_bound * area,
        layouts=tuple(_finer_layout(layout, factor) for layout in board.layouts),
    )


def _finer_item(item: StockItem, factor: int) -> StockItem:
    edges = ("left", "right", "top", "bottom")
    trim, untrimmed = (
        None if one is None else _times(one, factor, *edges) for one in (item.trim, item.untrimmed)
    )
    source = _times(item.source, factor, "width", "height")
    return replace(item, source=source, trim=trim, untrimmed=untrimmed)


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


def cut_so_far(
    tale: SheetTale,
    cuttable: Cuttable,
    names: Mapping[int, str],
    scale: Scale,
    errors: Errors | None = None,
    first: Sequence[tuple[Edge, int, int]] = (),
) -> Sheet:
    """Return a sheet with the cuts made that are said to be, and what is good of spoiled parts.

    Parameters
    ----------
    names
        Of the layout's parts, by their numbers.
    errors
        By how much what is cut may be off; None where the plan does not know.
    first
        The edges that come off before the first cut, as `edges_off` has them.

    Raises
    ------
    RefusedValue
        For a cut that cannot have been made so, or a spoiled part that is not there.
    """
    replay = _Replay(tale, cuttable, names, scale, errors)
    pending = tuple(edge for edge, _, _ in first if not tale.made and edge not in tale.edges)
    edge_area = replay.begin(_begun(tale, first, scale, replay.source))
    passed_over = _passed_over(tale, cuttable, names)
    for cut in cuttable.layout.cuts[: tale.made]:
        if cut.number not in passed_over:
            replay.make(cut)
    spoiling = _Spoiling(replay, scale)
    for spoiled in tale.spoiled:
        spoiling.spoil(spoiled)
    lying = (*(replay.parts[number] for number in sorted(replay.parts)), *replay.strays)
    return Sheet(tale, cuttable, lying, replay.kerf_area, spoiling.area, max(0, edge_area), pending)


def _begun(
    tale: SheetTale, first: Sequence[tuple[Edge, int, int]], scale: Scale, source: Rect
) -> Rect:
    """Return what lies there before the first cut: beyond the source are edges still to come off.

    Of an edge that was taken off otherwise than the page has it, more or less is left.
    """
    over = dict.fromkeys(Edge, 0)
    sizes = {edge: (size, rest) for edge, size, rest in first}
    for edge in (*sizes, *tale.edges):
        across = edge in (Edge.LEFT, Edge.RIGHT)
        size, rest = sizes.get(edge, (0, source.width if across else source.height))
        left = tale.edges.get(edge)
        if left is not None:
            over[edge] = left.steps(scale.step) - rest
        elif edge not in tale.edges and not tale.made:
            over[edge] = size
    return Rect(
        -over[Edge.LEFT],
        -over[Edge.TOP],
        source.width + over[Edge.LEFT] + over[Edge.RIGHT],
        source.height + over[Edge.TOP] + over[Edge.BOTTOM],
    )


def _passed_over(tale: SheetTale, cuttable: Cuttable, names: Mapping[int, str]) -> set[int]:
    """Return the cuts that were not made, since their part was spoiled before its turn.

    That is so where a part is named by its letter and cuts are made after all of its own.
    """
    found: set[int] = set()
    for spoiled in tale.spoiled:
        number = next((n for n, name in names.items() if name == spoiled.what.upper()), None)
        own = set() if number is None else cuttable.cuts_of(number)
        if own and min(own) <= tale.made and tale.made not in own and not own & {*tale.settings}:
            found |= own
    return found


@dataclass(frozen=True, slots=True)
class Scale:
    """How lengths are counted and shown, and whether a part's direction matters."""

    step: Length
    unit: Unit
    no_turn: bool

    def length(self, steps: int) -> str:
        """Return a length as a person reads it."""
        return format_length(self.step * steps, self.unit, with_unit=True)

    def of(self, rect: Rect) -> Size:
        """Return the size of a rectangle."""
        return Size(self.step * rect.width, self.step * rect.height)

    def size(self, size: Size) -> str:
        """Return a size as a person reads it."""
        return format_size(size, self.unit, with_unit=True)


class _Replay:
    """Makes the cuts of one sheet."""

    def __init__(
        self,
        tale: SheetTale,
        cuttable: Cuttable,
        names: Mapping[int, str],
        scale: Scale,
        errors: Errors | None,
    ) -> None:
        self.tale, self.cuttable, self.names, self._scale = tale, cuttable, names, scale
        self._errors = errors
        self.source = cuttable.parts[0].rect
        self.parts: dict[int, Lying] = {}
        self.strays: list[Lying] = []
        self.kerf_area = 0

    def begin(self, whole: Rect) -> int:
        """Lay down what there was before the first cut; return what of the source is missing."""
        source = self.cuttable.layout.source
        off = None if self._errors is None else self._errors.of_source(source)
        self.parts[0] = Lying(whole, 0, self.names[0], off=off)
        return self.source.area - self.area(whole)

    def area(self, rect: Rect) -> int:
        """Return what of a part counts: edges that were to come off the source are none of it."""
        inner = rect.within(self.source)
        return 0 if inner is None else inner.area

    def make(self, cut: Cut) -> None:
        number = self.cuttable.divided[cut.number]
        used = self.tale.settings.get(cut.number)
        setting = cut.setting if used is None else used.steps(self._scale.step)
        lying = self.parts.pop(number, None)
        rect = None if lying is None else lying.rect
        low, high = (0, 0) if rect is None else rect.along(cut.axis)
        if rect is None or (
            setting >= high - low and (used is not None or self._off(number, rect))
        ):
            raise self._impossible(cut, setting, high - low)
        near = cut.stop in (Edge.LEFT, Edge.TOP)
        at = low + setting if near else high - setting - self.cuttable.kerf
        halves = _halves(rect, cut.axis, at, self.cuttable.kerf)
        left = sum(self.area(half) for half in halves if half is not None)
        self.kerf_area += self.area(rect) - left
        for index, half in enumerate(halves):
            if half is not None:
                planned = self.cuttable.parts[number].halves[index]
                name = side_of(cut, index) if planned is None else self.names[planned]
                off = None
                if self._errors is not None and lying is not None and lying.off is not None:
                    by_stop = near is (index == 0)
                    off = self._errors.after(cut, setting, lying.off, by_stop=by_stop)
                self._lay(Lying(half, planned, name, off=off))

    def _off(self, number: int, rect: Rect) -> bool:
        planned = self.cuttable.parts[number].rect
        return (planned.width, planned.height) != (rect.width, rect.height)

    def _lay(self, lying: Lying) -> None:
        if lying.planned is None:
            self.strays.append(lying)
        else:
            self.parts[lying.planned] = lying

    def _impossible(self, cut: Cut, setting: int, length: int) -> Exception:
        option = WRONG if cut.number in self.tale.settings else DONE
        there = (
            f"its part is only {self._scale.length(length)}"
            if length
            else "nothing is left of its part"
        )
        text = f"{self.tale.name}:{cut.number}"
        problem = f"cannot have been cut at {self._scale.length(setting)}: {there}"
        return refused(option, text, problem, "say what was really cut")


class _Spoiling:
    """Takes spoiled parts off the bench, and lays down what of them is good."""

    def __init__(self, replay: _Replay, scale: Scale) -> None:
        self._replay, self._scale = replay, scale
        self.area = 0

    def spoil(self, spoiled: Spoiled) -> None:
        lying = self._taken(spoiled)
        rects = [self._good(spoiled, lying, size) for size in spoiled.good]
        self._refuse_too_much(spoiled, lying, rects)
        for index, rect in enumerate(rects, 1):
            name = lying.name if index == 1 else f"{lying.name} ({index})"
            self._replay.strays.append(Lying(rect, None, name, clean=True))
        self.area += max(0, self._replay.area(lying.rect) - sum(rect.area for rect in rects))

    def _taken(self, spoiled: Spoiled) -> Lying:
        """Take the part that is meant off the bench."""
        cuttable, what = self._replay.cuttable, spoiled.what
        is_label = any(piece.label == what for piece in cuttable.layout.pieces)
        if what.isdecimal() and 1 <= int(what[:9]) <= len(cuttable.layout.cuts):
            if is_label:
                raise self._two_things(spoiled)
            return self._to_be_cut(spoiled, int(what))
        if is_label:
            return self._labelled(spoiled)
        names = self._replay.names
        for name in (what, what.upper()):
            number = next((one for one, own in names.items() if own == name), None)
            if number is not None:
                return self._numbered(spoiled, number)
            stray = next((one for one in self._replay.strays if one.name == name), None)
            if stray is not None:
                self._replay.strays.remove(stray)
                return stray
        known = ", ".join(dict.fromkeys(n for n in names.values() if n != "whole")) or "none"
        problem = f"names no cut, part or piece of {cuttable.layout.id}"
        raise refused(RUINED, spoiled.text, problem, f"its parts and pieces are {known}")

    def _two_things(self, spoiled: Spoiled) -> Exception:
        """Say how to name a piece, or a part, where a label is the number of a cut."""
        layout, what = self._replay.cuttable.layout, spoiled.what
        own = {(piece.x, piece.y) for piece in layout.pieces if piece.label == what}
        parts = self._replay.cuttable.parts
        named = [name for number, name in self._replay.names.items()
                 if (parts[number].rect.x, parts[number].rect.y) in own
                 and parts[number].piece is not None]  # fmt: skip
        part = self._replay.names[self._replay.cuttable.divided[int(what)]]
        problem = f"may be a piece {what} or the part that cut {what} divides"
        sheet = self._replay.tale.name
        accepted = f"write {sheet}:{named[0]} for the piece, or {sheet}:{part} for the part"
        return refused(RUINED, spoiled.text, problem, accepted)

    def _to_be_cut(self, spoiled: Spoiled, cut: int) -> Lying:
        if cut <= self._replay.tale.made:
            problem = f"names the part that cut {cut} would divide, but that cut is made"
            accepted = "name a cut still to be made, or the letter of a part"
            raise refused(RUINED, spoiled.text, problem, accepted)
        return self._numbered(spoiled, self._replay.cuttable.divided[cut])

    def _numbered(self, spoiled: Spoiled, number: int) -> Lying:
        lying = self._replay.parts.pop(number, None)
        if lying is not None:
            return lying
        cut = self._replay.cuttable.parts[number].cut
        name = self._replay.names[number]
        if cut is not None and cut.number <= self._replay.tale.made:
            problem = f"names part {name}, which cut {cut.number} has divided"
            raise refused(RUINED, spoiled.text, problem, "name what came of it")
        said = any(one is not spoiled for one in self._replay.tale.spoiled)
        problem = f"names {name}, which is not cut free yet{' or was named before' * said}"
        raise refused(RUINED, spoiled.text, problem, "say with --done which cuts are made")

    def _labelled(self, spoiled: Spoiled) -> Lying:
        parts = self._replay.cuttable.parts
        finished = [
            number
            for number, lying in self._replay.parts.items()
            if (piece := parts[number].piece) is not None
            and piece.label == spoiled.what
            and (piece.width, piece.height) == (lying.rect.width, lying.rect.height)
        ]
        if finished:
            return self._replay.parts.pop(finished[0])
        said = sum(one.what == spoiled.what for one in self._replay.tale.spoiled) - 1
        have = {0: "none is", 1: "one is"}.get(said, f"{said} are")
        problem = f"names a finished {spoiled.what}, of which {have} in hand"
        accepted = "say with --done which cuts are made, and each spoiled piece once"
        raise refused(RUINED, spoiled.text, problem, accepted)

    def _good(self, spoiled: Spoiled, lying: Lying, size: Size) -> Rect:
        step, rect = self._scale.step, self._held(lying)
        width, height = size.width.steps(step), size.height.steps(step)
        if width <= rect.width and height <= rect.height:
            return Rect(0, 0, width, height)
        if not self._scale.no_turn and height <= rect.width and width <= rect.height:
            return Rect(0, 0, height, width)
        there = self._scale.size(self._scale.of(rect))
        problem = f"says that {self._scale.size(size)} is good of a part that is {there}"
        turn = ", its first number along the sheet's first" if self._scale.no_turn else ""
        raise refused(RUINED, spoiled.text, problem, f"measure what is good{turn}")

    def _held(self, lying: Lying) -> Rect:
        """Return what can be good of a part: not the edges that were to come off first."""
        return lying.rect.within(self._replay.source) or lying.rect

    def _refuse_too_much(self, spoiled: Spoiled, lying: Lying, rects: list[Rect]) -> None:
        there = self._held(lying)
        if [(rect.width, rect.height) for rect in rects] == [(there.width, there.height)]:
            problem = "says that all of the part is good"
            raise refused(RUINED, spoiled.text, problem, "leave it out, or measure what is good")
        beside = all(
            one.width + other.width <= there.width or one.height + other.height <= there.height
            for index, one in enumerate(rects)
            for other in rects[:index]
        )
        if not beside or sum(rect.area for rect in rects) > there.area:
            size = self._scale.size(self._scale.of(there))
            problem = f"says that more is good than the part holds, which is {size}"
            raise refused(RUINED, spoiled.text, problem, "measure the good parts again")


def _divides(cut: Cut, rect: Rect) -> bool:
    low, high = rect.along(cut.axis)
    return rect.across(cut.axis) == (cut.start, cut.end) and low <= cut.at < high


def _halves(rect: Rect, axis: Axis, at: int, kerf: int) -> tuple[Rect | None, Rect | None]:
    low, high = rect.along(axis)
    return rect.between(axis, low, at), rect.between(axis, at + kerf, high)
