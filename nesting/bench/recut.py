"""The same drawing cut otherwise: every piece and leftover where it is, by other cuts.

A layout's tree is one of many that cut its pieces where they lie. Which of them is cut decides
what the stop must be set to: waste taken off first needs a setting of its own, and left to the end
it needs none. Here a tree is looked for that does with given settings, by dynamic programming over
the rectangles that cuts at these settings can leave; of several the one with fewest cuts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from ..plan.model import Axis, LeftoverKind, SourceKind
from ..plan.trees import CutNode, PieceNode, WasteNode
from .work import settings_of

if TYPE_CHECKING:
    from ..plan.model import PlanTool, PlanTrim
    from ..plan.trees import DraftLayout, Node

__all__ = ["recut"]

MOST_PARTS = 2_000
Leaf = PieceNode | WasteNode
Box = tuple[int, int, int, int]  # left, top, right, bottom
Found = tuple[int, "Node"]  # how many cuts, and the tree


class _TooMany(Exception):
    """More parts than are worth looking at."""


def recut(
    draft: DraftLayout,
    settings: frozenset[int],
    tool: PlanTool,
    trim: PlanTrim,
    scale: tuple[int, int | None],
    kind_of: Callable[[int, int], LeftoverKind],
) -> DraftLayout | None:
    """Return a layout with the same pieces, offcuts and slip sheets, cut at given settings alone.

    None if there is none, or too many parts would have to be looked at.

    Parameters
    ----------
    settings
        What the stop may be set to, in steps; cuts beyond its reach are marked in pencil.
    scale
        The smallest setting for which the rule has a mark, and the largest of the stop or None.
    kind_of
        What a leftover of this width and height is called.
    """
    if tool.longest_cut is not None and any((trim.left, trim.top, trim.right, trim.bottom)):
        return None  # a cut is as long as what is not trimmed yet
    leaves = [
        leaf
        for leaf in _leaves(draft.root)
        if isinstance(leaf, PieceNode) or kind_of(leaf.width, leaf.height) is not LeftoverKind.SCRAP
    ]
    rough = tool.squares and draft.source.kind is SourceKind.SHEET
    ends = (draft.source.width, draft.source.height) if rough else (None, None)
    work = _Recut(tool, scale, settings, ends)
    try:
        found = work.best(_box(draft.root), tuple(leaves))
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
        Where the sheet's own far edges lie, if they are as they came; else None.
    """

    tool: PlanTool
    scale: tuple[int, int | None]
    settings: frozenset[int]
    ends: tuple[int | None, int | None]
    seen: dict[Box, Found | None] = field(default_factory=dict)

    def best(self, part: Box, leaves: tuple[Leaf, ...]) -> Found | None:
        """Return the tree of fewest cuts for a part with these leaves in it."""
        if part in self.seen:
            return self.seen[part]
        if len(self.seen) >= MOST_PARTS:
            raise _TooMany
        found = self._known(part, leaves)
        if found is None:
            self.seen[part] = None
            ways = (self._cut(part, leaves, axis, at) for axis, at in self._ways(part, leaves))
            found = min((way for way in ways if way is not None), key=_cuts, default=None)
        self.seen[part] = found
        return found

    def _known(self, part: Box, leaves: tuple[Leaf, ...]) -> Found | None:
        left, top, right, bottom = part
        if not leaves:
            return 0, WasteNode(left, top, right - left, bottom - top)
        if len(leaves) == 1 and _box(leaves[0]) == part:
            return 0, leaves[0]
        return None

    def _ways(self, part: Box, leaves: tuple[Leaf, ...]) -> Iterator[tuple[int, int]]:
        """Yield the cuts of a part that go through no leaf and that the tool can make."""
        longest, strip, kerf = self.tool.longest_cut, self.tool.narrowest_strip, self.tool.kerf
        for axis in (0, 1):
            low, high = part[axis], part[axis + 2]
            if longest is not None and part[3 - axis] - part[1 - axis] > longest:
                continue
            for at in sorted(self._places(axis, low, high)):
                if at - low < max(1, strip) or 0 < high - at - kerf < strip:
                    continue
                if all(_box(one)[axis + 2] <= at or at + kerf <= _box(one)[axis] for one in leaves):
                    yield axis, at

    def _places(self, axis: int, low: int, high: int) -> set[int]:
        """Return where a part can be cut at one of the settings, or beyond the stop's reach."""
        kerf = self.tool.kerf
        near = {low + setting for setting in self.settings}
        far = {high - kerf - setting for setting in self.settings}
        rough = self.ends[axis] == high
        return {
            at
            for at in near | far
            if low < at < high
            and settings_of(self.tool, self.scale, (low, high - low), at, rough=rough)
            & self.settings
        }

    def _cut(self, part: Box, leaves: tuple[Leaf, ...], axis: int, at: int) -> Found | None:
        kerf = self.tool.kerf
        before = tuple(one for one in leaves if _box(one)[axis + 2] <= at)
        after = tuple(one for one in leaves if _box(one)[axis] >= at + kerf)
        here, there = list(part), list(part)
        here[axis + 2], there[axis] = at, at + kerf
        first = self.best((here[0], here[1], here[2], here[3]), before)
        if first is None:
            return None
        second: Found | None = (0, first[1])
        if there[axis] < part[axis + 2]:
            second = self.best((there[0], there[1], there[2], there[3]), after)
        if second is None:
            return None
        left, top, right, bottom = part
        rest = second[1] if there[axis] < part[axis + 2] else None
        tree = CutNode(
            (Axis.X, Axis.Y)[axis], at, left, top, right - left, bottom - top, first[1], rest
        )
        return 1 + first[0] + second[0], tree


def _cuts(found: Found) -> int:
    return found[0]
