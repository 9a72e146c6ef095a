"""The same drawing cut otherwise: every piece and leftover where it is, by other cuts.

A layout's tree is one of many that cut its pieces where they lie. Which of them is cut decides
what the stop must be set to: waste taken off first needs a setting of its own, and left to the end
it needs none. Here a tree is looked for that does with a sequence of settings, by dynamic
programming over the rectangles that cuts at these settings can leave, and the place in the
sequence; of several the one with fewest cuts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from ..plan.model import Axis, LeftoverKind
from ..plan.trees import CutNode, PieceNode, WasteNode
from .work import rough_ends, settings_of

if TYPE_CHECKING:
    from ..plan.model import PlanTool
    from ..plan.trees import DraftLayout, Node
    from .order_of_cuts import Bench

__all__ = ["Looks", "recut"]

MOST_PARTS = 5_000
MOST_LOOKS = 40_000  # at single places to cut, over all that is tried for a board
Leaf = PieceNode | WasteNode
Box = tuple[int, int, int, int]  # left, top, right, bottom
Found = tuple[int, "Node"]  # how many cuts, and the tree


class _TooMany(Exception):
    """More than is worth looking at, or someone asked to end."""


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
) -> DraftLayout | None:
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
    """
    tool, trim = bench.tool, bench.trim
    if tool.longest_cut is not None and any((trim.left, trim.top, trim.right, trim.bottom)):
        return None  # a cut is as long as what is not trimmed yet
    leaves = [
        leaf
        for leaf in _leaves(draft.root)
        if isinstance(leaf, PieceNode) or kind_of(leaf.width, leaf.height) is not LeftoverKind.SCRAP
    ]
    rough = rough_ends(draft.source, tool, bench.rough.get(draft.source, ()))
    ends = rough.get(Axis.X), rough.get(Axis.Y)
    work = _Recut(tool, (bench.finest, bench.reach), tuple(settings), ends, looks)
    try:
        found = work.best(_box(draft.root), tuple(leaves), 0)
    except _TooMany:
        return None
    return None if found is None else replace(draft, root=found[1])


def _leaves(node: Node | None) -> Iterator[Leaf]:
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
    """

    tool: PlanTool
    scale: tuple[int, int | None]
    settings: tuple[int, ...]
    ends: tuple[int | None, int | None]
    looks: Looks
    seen: dict[tuple[Box, int], Found | None] = field(default_factory=dict)

    def best(self, part: Box, leaves: tuple[Leaf, ...], begin: int) -> Found | None:
        """Return the tree of fewest cuts for a part, at the settings from the `begin`-th on."""
        key = part, begin
        if key in self.seen:
            return self.seen[key]
        if len(self.seen) >= MOST_PARTS:
            raise _TooMany
        found = self._known(part, leaves)
        if found is None:
            self.looks.spend(len(self.settings) - begin)
            ways = (self._cut(part, leaves, *way) for way in self._ways(part, leaves, begin))
            found = min((way for way in ways if way is not None), key=_cuts, default=None)
        self.seen[key] = found
        return found

    def _known(self, part: Box, leaves: tuple[Leaf, ...]) -> Found | None:
        left, top, right, bottom = part
        if not leaves:
            return 0, WasteNode(left, top, right - left, bottom - top)
        if len(leaves) == 1 and _box(leaves[0]) == part:
            return 0, leaves[0]
        return None

    def _ways(
        self, part: Box, leaves: tuple[Leaf, ...], begin: int
    ) -> Iterator[tuple[int, int, int]]:
        """Yield the cuts of a part that go through no leaf and that the tool can make.

        Each with its axis and place, and the place of its setting in the sequence.
        """
        longest, strip, kerf = self.tool.longest_cut, self.tool.narrowest_strip, self.tool.kerf
        for axis in (0, 1):
            low, high = part[axis], part[axis + 2]
            if longest is not None and part[3 - axis] - part[1 - axis] > longest:
                continue
            for at, number in self._places(axis, low, high, begin):
                if at - low < max(1, strip) or 0 < high - at - kerf < strip:
                    continue
                if all(_box(one)[axis + 2] <= at or at + kerf <= _box(one)[axis] for one in leaves):
                    yield axis, at, number

    def _places(self, axis: int, low: int, high: int, begin: int) -> Iterator[tuple[int, int]]:
        """Yield where a part can be cut, each place with the first setting that does it."""
        along, rough = (low, high - low), self.ends[axis] == high
        found: set[int] = set()
        for number in range(begin, len(self.settings)):
            setting = self.settings[number]
            for at in (low + setting, high - self.tool.kerf - setting):
                if not low < at < high or at in found:
                    continue
                if setting in settings_of(self.tool, self.scale, along, at, rough=rough):
                    found.add(at)
                    yield at, number

    def _cut(
        self, part: Box, leaves: tuple[Leaf, ...], axis: int, at: int, number: int
    ) -> Found | None:
        kerf = self.tool.kerf
        before = tuple(one for one in leaves if _box(one)[axis + 2] <= at)
        after = tuple(one for one in leaves if _box(one)[axis] >= at + kerf)
        here, there = list(part), list(part)
        here[axis + 2], there[axis] = at, at + kerf
        first = self.best((here[0], here[1], here[2], here[3]), before, number)
        if first is None:
            return None
        cuts, rest = 1 + first[0], None
        if there[axis] < part[axis + 2]:
            second = self.best((there[0], there[1], there[2], there[3]), after, number)
            if second is None:
                return None
            cuts, rest = cuts + second[0], second[1]
        left, top, right, bottom = part
        tree = CutNode(
            (Axis.X, Axis.Y)[axis], at, left, top, right - left, bottom - top, first[1], rest
        )
        return cuts, tree


def _cuts(found: Found) -> int:
    return found[0]
