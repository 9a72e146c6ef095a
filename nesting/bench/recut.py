"""The same drawing cut otherwise: every piece and leftover where it is, by other cuts.

A layout's tree is one of many that cut its pieces where they lie. Which of them is cut decides
what the stop must be set to: waste taken off first needs a setting of its own, and left to the end
it needs none. Here a tree is looked for that does with a sequence of settings, by dynamic
programming over the rectangles that cuts at these settings can leave, and the place in the
sequence. Of several the one with fewest cuts is taken, then the one that leaves the fewest sides
of pieces over; then, where it is asked for, the one whose pieces may be off least at worst: what a
part may be off is part of its state then.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate
from typing import TYPE_CHECKING

from ..plan.model import Axis, LeftoverKind
from ..plan.trees import CutNode, PieceNode, WasteNode
from .work import rough_ends, settings_of

if TYPE_CHECKING:
    from ..plan.model import PlanTool
    from ..plan.trees import DraftLayout, Node
    from .ordered import Bench

__all__ = ["NOTHING", "Cost", "Exactness", "Looks", "Recut", "recut", "together"]

MOST_PARTS = 5_000
MOST_DEEP = 500  # parts within one another
MOST_LOOKS = 40_000  # at single places to cut, over all that is tried for a board
Box = tuple[int, int, int, int]  # left, top, right, bottom
Leaf = tuple[Box, PieceNode | WasteNode]
Off = int | None  # in one unit; None where nobody knows
Offs = tuple[Off, Off]  # across and down
Cost = tuple[int, int, int, int, int]  # cuts, sides left over; then as in `Closeness`
Found = tuple[Cost, "Node"]  # what is less in the better tree, and the tree
Way = tuple[int, int, int, bool]  # axis, place, its setting's place, whether from the near edge
NOTHING: Cost = (0, 0, 0, 0, 0)
UNSAID: Offs = (0, 0)


class _TooMany(Exception):
    """More than is worth looking at, or someone asked to end."""


@dataclass(frozen=True, slots=True)
class Exactness:
    """How exact settings and a source are, in one unit.

    Attributes
    ----------
    offs
        By setting: by how much it may be off.
    first
        By how much the source's width and height may be off.
    """

    offs: Mapping[int, int]
    first: Offs


@dataclass(frozen=True, slots=True)
class Recut:
    """A layout cut otherwise, and what that comes to for one copy."""

    draft: DraftLayout
    cost: Cost


@dataclass(slots=True)
class Looks:
    """How often a board's parts may still be looked at for a place to cut."""

    stop: Callable[[], bool]
    left: int = MOST_LOOKS

    def spend(self, looks: int) -> None:
        """Take some off.

        Raises
        ------
        _TooMany
            If none are left, or someone asked to end.
        """
        self.left -= looks
        if self.left < 0 or self.stop():
            raise _TooMany


def recut(
    draft: DraftLayout,
    settings: Sequence[int],
    bench: Bench,
    kind_of: Callable[[int, int], LeftoverKind],
    looks: Looks,
    exactness: Exactness | None = None,
) -> Recut | None:
    """Return a layout with the same pieces, offcuts and slip sheets, cut at these settings alone.

    None if there is none, or too many parts would have to be looked at.

    Parameters
    ----------
    settings
        What the stop is set to, one after another, in steps.
    kind_of
        What a leftover of this width and height is called.
    looks
        Shared by all that is tried for a board.
    exactness
        Given where of trees with as few cuts and sides left over the most exact one is wanted.
    """
    tool, trim = bench.tool, bench.trim_of(draft)
    if tool.longest_cut is not None and any((trim.left, trim.top, trim.right, trim.bottom)):
        return None  # a cut is as long as what is not trimmed yet
    leaves = [
        (_box(leaf), leaf)
        for leaf in _leaves(draft.root)
        if isinstance(leaf, PieceNode) or kind_of(leaf.width, leaf.height) is not LeftoverKind.SCRAP
    ]
    rough = rough_ends(draft.source, tool, bench.rough.get(draft.source, ()))
    ends = rough.get(Axis.X), rough.get(Axis.Y)
    offs = None if exactness is None else exactness.offs
    first = UNSAID if exactness is None else exactness.first
    work = _Recut(tool, (bench.finest, bench.reach), tuple(settings), ends, looks, offs)
    try:
        found = work.best(_box(draft.root), tuple(leaves), 0, first)
    except _TooMany:
        return None
    return None if found is None else Recut(replace(draft, root=found[1]), found[0])


def _leaves(node: Node | None) -> Iterator[PieceNode | WasteNode]:
    if isinstance(node, CutNode):
        yield from _leaves(node.first)
        yield from _leaves(node.second)
    elif node is not None:
        yield node


def _box(node: Node) -> Box:
    return node.x, node.y, node.x + node.width, node.y + node.height


@dataclass(slots=True)
class _Recut:
    """The best trees of the parts looked at so far.

    Attributes
    ----------
    ends
        Where the source's own far edges lie, if they are as they came; else None.
    offs
        By how much each setting may be off; None where that does not matter.
    """

    tool: PlanTool
    scale: tuple[int, int | None]
    settings: tuple[int, ...]
    ends: tuple[int | None, int | None]
    looks: Looks
    offs: Mapping[int, int] | None
    seen: dict[tuple[Box, int, Offs], Found | None] = field(default_factory=dict)
    known: dict[tuple[int, int, bool], frozenset[tuple[int, bool]]] = field(default_factory=dict)
    deep: int = 0

    def best(self, part: Box, leaves: tuple[Leaf, ...], begin: int, off: Offs) -> Found | None:
        """Return the best tree for a part, at the settings from the `begin`-th on.

        Parameters
        ----------
        off
            By how much the part itself may be off.
        """
        key = part, begin, off
        if key in self.seen:
            return self.seen[key]
        if len(self.seen) >= MOST_PARTS or self.deep >= MOST_DEEP:
            raise _TooMany
        found = self._known(part, leaves, off)
        if found is None:
            self.looks.spend(len(self.settings) - begin)
            self.deep += 1
            ways = (self._cut(part, leaves, off, way) for way in self._ways(part, leaves, begin))
            found = min((way for way in ways if way is not None), key=_cost, default=None)
            self.deep -= 1
        self.seen[key] = found
        return found

    def _known(self, part: Box, leaves: tuple[Leaf, ...], off: Offs) -> Found | None:
        left, top, right, bottom = part
        if not leaves:
            return NOTHING, WasteNode(left, top, right - left, bottom - top)
        if len(leaves) == 1 and leaves[0][0] == part:
            leaf = leaves[0][1]
            known = [one for one in off if one is not None]
            sides = (2 - len(known), max(known, default=0), sum(known))
            return (0, 0, *sides) if isinstance(leaf, PieceNode) else NOTHING, leaf
        return None

    def _ways(self, part: Box, leaves: tuple[Leaf, ...], begin: int) -> Iterator[Way]:
        """Yield the cuts of a part that go through no leaf and that the tool can make.

        Each place with the first setting from either end.
        """
        longest, kerf = self.tool.longest_cut, self.tool.kerf
        for axis in (0, 1):
            low, high = part[axis], part[axis + 2]
            if longest is not None and part[3 - axis] - part[1 - axis] > longest:
                continue
            begins, ends = _spans(leaves, axis, kerf)
            found: set[tuple[int, bool]] = set()
            for number in range(begin, len(self.settings)):
                setting = self.settings[number]
                for at, is_near in ((low + setting, True), (high - kerf - setting, False)):
                    if not low < at < high or (at, is_near) in found:
                        continue
                    if ends[bisect_left(begins, at)] > at:
                        continue
                    if self._is_made(axis, low, high, (at, setting, is_near)):
                        found.add((at, is_near))
                        yield axis, at, number, is_near

    def _is_made(self, axis: int, low: int, high: int, way: tuple[int, int, bool]) -> bool:
        """Whether the tool cuts there, and the stop may be set so."""
        at, setting, is_near = way
        strip = self.tool.narrowest_strip
        if at - low < max(1, strip) or 0 < high - at - self.tool.kerf < strip:
            return False
        key = (at - low, high - low, self.ends[axis] == high)
        if key not in self.known:
            along, rough = (low, high - low), key[2]
            self.known[key] = settings_of(self.tool, self.scale, along, at, rough=rough)
        return (setting, is_near) in self.known[key]

    def _cut(self, part: Box, leaves: tuple[Leaf, ...], off: Offs, way: Way) -> Found | None:
        axis, at, number, is_near = way
        kerf = self.tool.kerf
        before = tuple(one for one in leaves if one[0][axis + 2] <= at)
        after = tuple(one for one in leaves if one[0][axis] >= at + kerf)
        here, there = list(part), list(part)
        here[axis + 2], there[axis] = at, at + kerf
        if self._is_vain((before, here), (after, there), axis, part):
            return None
        offs = self._after(off, axis, number, is_near=is_near)
        first = self.best((here[0], here[1], here[2], here[3]), before, number, offs[0])
        if first is None:
            return None
        left_over = _spanning(after, there, axis) if is_near else _spanning(before, here, axis)
        cost, rest = together((1, left_over, 0, 0, 0), first[0]), None
        if there[axis] < part[axis + 2]:
            second = self.best((there[0], there[1], there[2], there[3]), after, number, offs[1])
            if second is None:
                return None
            cost, rest = together(cost, second[0]), second[1]
        left, top, right, bottom = part
        tree = CutNode(
            (Axis.X, Axis.Y)[axis], at, left, top, right - left, bottom - top, first[1], rest
        )
        return cost, tree

    def _is_vain(
        self,
        near: tuple[Sequence[Leaf], Sequence[int]],
        far: tuple[Sequence[Leaf], Sequence[int]],
        axis: int,
        part: Box,
    ) -> bool:
        """Whether a cut takes off waste alone, away from every leaf.

        Such cuts would only fit the settings of others; but one that makes later cuts short enough
        is needed, and so is dust where the tool leaves no strip so narrow.
        """
        longest = self.tool.longest_cut
        if longest is not None and part[axis + 2] - part[axis] > longest:
            return False
        if not near[0]:
            return min(box[axis] for box, _ in far[0]) > far[1][axis]
        if not far[0] and (far[1][axis] < part[axis + 2] or not self.tool.narrowest_strip):
            return max(box[axis + 2] for box, _ in near[0]) < near[1][axis + 2]
        return False

    def _after(self, off: Offs, axis: int, number: int, *, is_near: bool) -> tuple[Offs, Offs]:
        """Return by how much the halves of a part may be off, the near one first."""
        if self.offs is None:
            return off, off
        error, before = self.offs[self.settings[number]], off[axis]
        left = None if before is None else before + error
        both = (error, left) if is_near else (left, error)
        if axis == 0:
            return (both[0], off[1]), (both[1], off[1])
        return (off[0], both[0]), (off[0], both[1])


def _spans(leaves: Sequence[Leaf], axis: int, kerf: int) -> tuple[list[int], list[int]]:
    """Return where spans begin that no cut may lie in, and by their number how far they reach.

    A cut at `at` lies in one where the spans that begin before it, as `bisect_left` numbers them,
    reach beyond it.
    """
    spans = sorted((box[axis] - kerf, box[axis + 2]) for box, _ in leaves)
    reach = accumulate((end for _, end in spans), max, initial=0)
    return [begin for begin, _ in spans], [*reach]


def _spanning(leaves: Sequence[Leaf], part: Sequence[int], axis: int) -> int:
    """Return how many pieces have their side along an axis from the part that they lie in."""
    sides = (part[axis], part[axis + 2])
    boxes = (box for box, leaf in leaves if isinstance(leaf, PieceNode))
    return sum((box[axis], box[axis + 2]) == sides for box in boxes)


def together(one: Cost, other: Cost, copies: int = 1) -> Cost:
    """Return what two come to together, of the other one so many copies."""
    more = (number * copies for number in other)
    cuts, left_over, unknown, _, total = map(sum, zip(one, more, strict=True))
    return cuts, left_over, unknown, max(one[3], other[3]), total


def _cost(found: Found) -> Cost:
    return found[0]
