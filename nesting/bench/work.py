"""What there is to cut: every cut of a layout with what it comes after and how it may be set.

A layout's tree, with the trims of its sheet before it, becomes tasks. A task can be done once the
task that makes its part is done. Each may be set from one edge of its part or from the opposite
one, but a saw's fence is not set to a strip too thin to be pushed past the blade, with a tool
whose first edges are squared nothing is set from far edges that are as they came, nor with any tool
from far edges whose trim stays on, and nothing is set to less than the rule shows: a knife's trim
so thin is cut by eye, without the stop, and all else is set from the other end if it can be. How
many sides of pieces are then left over, rather than set by the stop, is counted here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..plan.model import Axis, Edge, SourceKind
from ..plan.trees import CutNode, PieceNode

if TYPE_CHECKING:
    from ..plan.model import PlanTool, PlanTrim, Source
    from ..plan.trees import DraftLayout, Node

__all__ = [
    "FAR",
    "NEAR",
    "End",
    "Part",
    "Task",
    "Work",
    "ends_of",
    "halves_of",
    "rough_ends",
    "settings_of",
    "trims_left_on",
    "unset_ends",
    "work_of",
]

NEAR = {Axis.X: Edge.LEFT, Axis.Y: Edge.TOP}
FAR = {Axis.X: Edge.RIGHT, Axis.Y: Edge.BOTTOM}
Untrimmed = tuple[tuple[Edge, int], ...]


@dataclass(frozen=True, slots=True)
class Part:
    """What lies on the bench: its extent, what becomes of it, and the trims still to come off.

    `node` is None for a strip of trim.
    """

    x: int
    y: int
    width: int
    height: int
    node: Node | None
    untrimmed: Untrimmed = ()

    @property
    def area(self) -> int:
        """Area in steps squared."""
        return self.width * self.height

    def along(self, axis: Axis) -> tuple[int, int]:
        """Return where the part begins on `axis`, and its length."""
        return (self.x, self.width) if axis is Axis.X else (self.y, self.height)

    def across(self, axis: Axis) -> tuple[int, int]:
        """Return where the part begins on the other axis, and its length."""
        return self.along(Axis.Y if axis is Axis.X else Axis.X)


@dataclass(frozen=True, slots=True)
class End:
    """One way to set a cut: the distance from the edge that lies against the stop.

    Attributes
    ----------
    left_over
        How many sides of pieces on one copy come to be what this leaves of the part.
    """

    edge: Edge
    setting: int
    left_over: int


@dataclass(frozen=True, slots=True)
class Task:
    """One cut.

    Attributes
    ----------
    parent
        The task that makes its part; None for the whole source.
    ends
        The ways in which it may be set.
    by_stop
        Whether the stop is set for it; not where it does not reach that far, so that the cut is
        marked in pencil, nor where the rule does not show so little, so that it is made by eye.
    """

    number: int
    parent: int | None
    part: Part
    axis: Axis
    at: int
    is_trim: bool
    ends: tuple[End, ...]
    by_stop: bool

    @property
    def settings(self) -> frozenset[int]:
        """What the stop may be set to; nothing where it is not set."""
        return frozenset(end.setting for end in self.ends) if self.by_stop else frozenset()


@dataclass(frozen=True, slots=True)
class Work:
    """One layout's tasks, each after the one that makes its part, and what they leave."""

    tasks: tuple[Task, ...]
    finished: tuple[Part, ...]


def work_of(
    draft: DraftLayout,
    tool: PlanTool,
    trim: PlanTrim,
    reach: int | None,
    finest: int = 1,
    rough: Sequence[str] = (),
) -> Work:
    """Return what there is to cut of a layout.

    Parameters
    ----------
    trim
        What comes off the source's own edges. Where the tree reaches over a far one, no cut takes
        that off by itself.
    reach
        The largest setting of the stop, in steps; None where there is no limit.
    finest
        The smallest setting that is not less than the rule shows.
    rough
        The far edges of an offcut that are still as its sheet came.
    """
    left_on = trims_left_on(draft, trim)
    ends = unset_ends(draft, tool, trim, rough)
    return _Builder(tool, (finest, reach), ends, left_on).built(_whole(draft, trim, left_on))


def unset_ends(
    draft: DraftLayout, tool: PlanTool, trim: PlanTrim, rough: Sequence[str] = ()
) -> dict[Axis, int]:
    """Return where the far edges of a layout's source lie that nothing is to be set from.

    Parameters are those of `work_of`.
    """
    left_on = trims_left_on(draft, trim)
    ends = {axis: end for axis, end in _far_ends(draft.source).items() if axis in left_on}
    return rough_ends(draft.source, tool, rough) | ends


def trims_left_on(draft: DraftLayout, trim: PlanTrim) -> dict[Axis, int]:
    """Return where the far trims begin that the tree reaches over, by the axis that they end."""
    root, ends = draft.root, _far_ends(draft.source)
    reached = {Axis.X: root.x + root.width, Axis.Y: root.y + root.height}
    sizes = {Axis.X: trim.right, Axis.Y: trim.bottom}
    return {
        axis: ends[axis] - size
        for axis, size in sizes.items()
        if size and reached[axis] == ends[axis]
    }


def _far_ends(source: Source) -> dict[Axis, int]:
    return {Axis.X: source.width, Axis.Y: source.height}


def rough_ends(source: Source, tool: PlanTool, rough: Sequence[str] = ()) -> dict[Axis, int]:
    """Return where a source's far edges lie that are as they came, if first edges are squared.

    Parameters
    ----------
    rough
        Which they are, of an offcut; of a sheet it is both.
    """
    ends = _far_ends(source)
    if not tool.squares:
        return {}
    if source.kind is SourceKind.SHEET:
        return ends
    return {axis: end for axis, end in ends.items() if FAR[axis].value in rough}


def _whole(draft: DraftLayout, trim: PlanTrim, left_on: Mapping[Axis, int]) -> Part:
    source = draft.source
    sides = [(Edge.LEFT, trim.left), (Edge.TOP, trim.top)]
    ends = [
        (Edge.RIGHT, 0 if Axis.X in left_on else trim.right),
        (Edge.BOTTOM, 0 if Axis.Y in left_on else trim.bottom),
    ]
    if source.width > source.height:  # a long edge is squared first, the next one to it
        sides.reverse()
        ends.reverse()
    untrimmed = tuple((edge, size) for edge, size in (*sides, *ends) if size)
    return Part(0, 0, source.width, source.height, draft.root, untrimmed)


@dataclass(slots=True)
class _Cut:
    """A cut before its ends are chosen; each half is a task's number, a part, or nothing."""

    parent: int | None
    part: Part
    axis: Axis
    at: int
    is_trim: bool
    halves: tuple[Part, Part]
    made: list[int | Part | None]


class _Builder:
    def __init__(
        self,
        tool: PlanTool,
        scale: tuple[int, int | None],
        rough: Mapping[Axis, int],
        left_on: Mapping[Axis, int],
    ) -> None:
        self._tool = tool
        self._finest, self._reach = scale
        self._rough, self._left_on = rough, left_on
        self._cuts: list[_Cut] = []
        self._finished: list[Part] = []

    def built(self, whole: Part) -> Work:
        waiting: list[tuple[Part, int | None, int]] = [(whole, None, 0)]
        while waiting:
            part, parent, half = waiting.pop()
            cut = self._cut_of(part, parent)
            if cut is None:
                self._finished.append(part)
            made: int | Part = part if cut is None else len(self._cuts)
            if parent is not None:
                self._cuts[parent].made[half] = made
            if cut is not None:
                self._cuts.append(cut)
                number = len(self._cuts) - 1
                waiting += [
                    (one, number, index)
                    for index, one in reversed(list(enumerate(cut.halves)))
                    if one.width > 0 and one.height > 0
                ]
        sides = _sides(self._cuts)
        tasks = tuple(self._task(number, sides) for number in range(len(self._cuts)))
        return Work(tasks, tuple(self._finished))

    def _cut_of(self, part: Part, parent: int | None) -> _Cut | None:
        """Return the part's next cut: a trim that the tool can make, else its tree's own."""
        for edge, size in part.untrimmed:
            length = part.height if edge in (Edge.LEFT, Edge.RIGHT) else part.width
            if self._tool.longest_cut is None or length <= self._tool.longest_cut:
                return self._trim(part, parent, edge, size)
        if isinstance(part.node, CutNode):
            return self._divide(part, parent, part.node)
        return None

    def _trim(self, part: Part, parent: int | None, edge: Edge, size: int) -> _Cut:
        kerf = self._tool.kerf
        axis = Axis.X if edge in (Edge.LEFT, Edge.RIGHT) else Axis.Y
        low, full = part.along(axis)
        near = edge is NEAR[axis]
        at = low + size - kerf if near else low + full - size
        before, after = halves_of(part, axis, at, kerf)
        rest = tuple(pair for pair in part.untrimmed if pair[0] is not edge)
        if near:
            after = replace(after, node=part.node, untrimmed=rest)
        else:
            before = replace(before, node=part.node, untrimmed=rest)
        return _Cut(parent, part, axis, at, True, (before, after), [None, None])

    def _divide(self, part: Part, parent: int | None, node: CutNode) -> _Cut:
        axis = node.axis
        before, after = halves_of(part, axis, node.at, self._tool.kerf)
        before = replace(before, node=node.first, untrimmed=_without(part, FAR[axis]))
        # The last band may reach the trim: then what is left beyond it is trim alone.
        begin, size = after.along(axis)
        is_trim = size > 0 and begin >= self._left_on.get(axis, math.inf)
        second = None if is_trim else node.second
        after = replace(after, node=second, untrimmed=_without(part, NEAR[axis]))
        return _Cut(parent, part, axis, node.at, is_trim, (before, after), [None, None])

    def _task(self, number: int, sides: list[dict[Axis, int]]) -> Task:
        cut = self._cuts[number]
        low, full = cut.part.along(cut.axis)
        first, second = (_of_half(made, cut.axis, sides) for made in cut.made)
        ends, by_stop = ends_of(
            self._tool,
            (self._finest, self._reach),
            End(NEAR[cut.axis], cut.at - low, second),
            End(FAR[cut.axis], low + full - cut.at - self._tool.kerf, first),
            is_trim=cut.is_trim,
            rough=low + full == self._rough.get(cut.axis),
        )
        return Task(
            number, cut.parent, cut.part, cut.axis, cut.at, cut.is_trim, tuple(ends), by_stop
        )


def settings_of(
    tool: PlanTool, scale: tuple[int, int | None], along: tuple[int, int], at: int, *, rough: bool
) -> frozenset[tuple[int, bool]]:
    """Return what the stop may be set to for a cut; nothing where it is not set.

    With each setting goes whether it is from the part's near edge.

    Parameters
    ----------
    scale
        The smallest setting that is not less than the rule shows, and the largest of the stop or
        None.
    along
        Where the part begins, and its length.
    rough
        Whether its far edge is a sheet's own and not squared.
    """
    low, full = along
    near, far = End(Edge.LEFT, at - low, 0), End(Edge.RIGHT, low + full - at - tool.kerf, 0)
    ends, by_stop = ends_of(tool, scale, near, far, rough=rough)
    return frozenset((end.setting, end is near) for end in ends) if by_stop else frozenset()


def ends_of(
    tool: PlanTool,
    scale: tuple[int, int | None],
    near: End,
    far: End,
    *,
    is_trim: bool = False,
    rough: bool,
) -> tuple[list[End], bool]:
    """Return the ends from which a cut may be set, and whether the stop is set for it.

    Parameters
    ----------
    scale
        The smallest setting that is not less than the rule shows, and the largest of the stop or
        None.
    rough
        Whether the part's far edge is a sheet's own and not squared.
    """
    finest, reach = scale
    ends = _held(tool, [end for end in (near, far) if end.setting > 0] or [near])
    if tool.kerf or not is_trim:
        ends = [end for end in ends if end.setting >= finest] or ends
    ends = _squared(ends, rough=rough)
    by_eye = [end for end in ends if end.setting < finest]
    if by_eye:
        return by_eye, False
    within = [end for end in ends if reach is None or end.setting <= reach]
    return within or ends, bool(within)


def _held(tool: PlanTool, ends: list[End]) -> list[End]:
    """Return the ends at which no thin strip lies between a saw's fence and its blade."""
    if not tool.kerf:
        return ends
    return [end for end in ends if end.setting >= tool.narrowest_strip] or ends


def _squared(ends: list[End], *, rough: bool) -> list[End]:
    """Return the ends that measure from a squared edge, where the far one is not, if any.

    A setting from an edge that is as it came gives neither size nor squareness. The first two
    edges, left and top, are those that are squared or trimmed first.
    """
    near = [end for end in ends if end.edge in NEAR.values()]
    return near if rough and near else ends


def _without(part: Part, edge: Edge) -> Untrimmed:
    return tuple(pair for pair in part.untrimmed if pair[0] is not edge)


def halves_of(part: Part, axis: Axis, at: int, kerf: int) -> tuple[Part, Part]:
    """Return the extents before and after a cut; either may come out empty."""
    if axis is Axis.X:
        rest = part.x + part.width - at - kerf
        return (
            Part(part.x, part.y, at - part.x, part.height, None),
            Part(at + kerf, part.y, rest, part.height, None),
        )
    rest = part.y + part.height - at - kerf
    return (
        Part(part.x, part.y, part.width, at - part.y, None),
        Part(part.x, at + kerf, part.width, rest, None),
    )


def _sides(cuts: list[_Cut]) -> list[dict[Axis, int]]:
    """Return for each cut how many pieces take their size along each axis from its part's own."""
    sides: list[dict[Axis, int]] = [{} for _ in cuts]
    for number in range(len(cuts) - 1, -1, -1):
        cut = cuts[number]
        for axis in Axis:
            both = (_of_half(made, axis, sides) for made in cut.made)
            sides[number][axis] = 0 if axis is cut.axis else sum(both)
    return sides


def _of_half(made: int | Part | None, axis: Axis, sides: list[dict[Axis, int]]) -> int:
    if made is None:
        return 0
    if isinstance(made, int):
        return sides[made][axis]
    return int(isinstance(made.node, PieceNode))
