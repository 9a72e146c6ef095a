"""Cuts in vain: those that a layout is cut without, and every piece comes out all the same.

A tree that keeps a tool's limits may cut what holds no piece, or take a sliver off a part at whose
edge no piece lies. Nobody at a bench makes such cuts: what holds no piece is left whole, and the
sliver stays on what is left over beside it.

They remain where the tool could not make the other cuts without them: where these would be too
long, or where a saw has to shave waste away a kerf at a time because it leaves no strip so narrow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

from ..plan.model import Axis, LeftoverKind
from ..plan.trees import CutNode, PieceNode, WasteNode

if TYPE_CHECKING:
    from collections.abc import Callable

    from ..plan.model import PlanTool, PlanTrim
    from ..plan.trees import DraftLayout, Node
    from .ordered import Bench

__all__ = ["span_of", "spanning", "without_vain_cuts"]

Sized = TypeVar("Sized", WasteNode, CutNode)
Span = tuple[int, int]  # where a part begins and ends along an axis


class _InTheWay(Exception):
    """A piece lies at the edge, or the tool could not make the cuts any more."""


def without_vain_cuts(
    draft: DraftLayout, bench: Bench, kind_of: Callable[[int, int], LeftoverKind]
) -> DraftLayout:
    """Return a layout with the same pieces where they are, without the cuts that help none of them.

    A strip that is of use is still cut off; one that would be scrap is not, where only leftovers
    lie beside it.

    Parameters
    ----------
    kind_of
        What a leftover of this width and height is called.
    """
    spared = _Spared(bench.tool, bench.trim_of(draft), kind_of)
    return replace(draft, root=spared.tree(draft.root))


@dataclass(frozen=True, slots=True)
class _Spared:
    tool: PlanTool
    trim: PlanTrim
    kind_of: Callable[[int, int], LeftoverKind]

    def tree(self, node: Node) -> Node:
        """Return a tree of the same pieces with as few cuts as can be left out one by one."""
        if not isinstance(node, CutNode):
            return node
        first = self.tree(node.first)
        second = None if node.second is None else self.tree(node.second)
        if isinstance(first, WasteNode) and not isinstance(second, CutNode | PieceNode):
            return WasteNode(node.x, node.y, node.width, node.height)
        node = replace(node, first=first, second=second)
        try:
            return self._left_out(node) or node
        except _InTheWay:
            return node

    def _left_out(self, node: CutNode) -> Node | None:
        """Return a tree without the node's cut, if it only takes scrap from beside leftovers."""
        if self._is_scrap(node.second):
            return self._spread(node.first, node.axis, span_of(node, node.axis))
        if node.second is not None and self._is_scrap(node.first):
            return self._spread(node.second, node.axis, span_of(node, node.axis))
        return None

    def _is_scrap(self, node: Node | None) -> bool:
        if isinstance(node, WasteNode):
            return self.kind_of(node.width, node.height) is LeftoverKind.SCRAP
        return node is None

    def _spread(self, node: Node, axis: Axis, span: Span) -> Node:
        """Return a tree over more room along an axis, with every piece where it was."""
        if span_of(node, axis) == span:
            return node
        if isinstance(node, PieceNode):
            raise _InTheWay
        if isinstance(node, WasteNode):
            return spanning(node, axis, span)
        wider = spanning(node, axis, span)
        return self._along(wider, span) if wider.axis is axis else self._across(wider, axis, span)

    def _along(self, node: CutNode, span: Span) -> Node:
        (low, high), beyond = span, node.at + self.tool.kerf
        first, second = self._spread(node.first, node.axis, (low, node.at)), node.second
        if second is None:
            return replace(node, first=first, second=self._beyond(node, (beyond, high)))
        return replace(node, first=first, second=self._spread(second, node.axis, (beyond, high)))

    def _beyond(self, node: CutNode, span: Span) -> Node | None:
        """Return what is left beyond a cut that left nothing, if the tool allows for it."""
        if 0 < span[1] - span[0] < self.tool.narrowest_strip:
            raise _InTheWay
        whole = WasteNode(node.x, node.y, node.width, node.height)
        return spanning(whole, node.axis, span) if span[1] > span[0] else None

    def _across(self, node: CutNode, axis: Axis, span: Span) -> Node:
        longest = self.tool.longest_cut
        trims = (self.trim.left + self.trim.right, self.trim.top + self.trim.bottom)
        if longest is not None and span[1] - span[0] + trims[axis is Axis.Y] > longest:
            raise _InTheWay
        first = self._spread(node.first, axis, span)
        second = None if node.second is None else self._spread(node.second, axis, span)
        return replace(node, first=first, second=second)


def span_of(node: Node, axis: Axis) -> Span:
    """Return where a part begins and ends along an axis."""
    if axis is Axis.X:
        return node.x, node.x + node.width
    return node.y, node.y + node.height


def spanning(node: Sized, axis: Axis, span: Span) -> Sized:
    """Return a part that begins and ends there along an axis; of a cut one its halves as is."""
    low, size = span[0], span[1] - span[0]
    if axis is Axis.X:
        return replace(node, x=low, width=size)
    return replace(node, y=low, height=size)
