"""The far trims of a layout: none is cut off by itself where only scrap lies along its edge.

What is cut off beside that edge next is thrown away, and the trim with it: a cut of its own would
help nobody, and what a saw may not hold without the trim it often may with it. Near edges are
always trimmed, since everything is measured from them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..plan.model import Axis, LeftoverKind
from ..plan.trees import CutNode, PieceNode, WasteNode
from .vain import span_of, spanning

if TYPE_CHECKING:
    from collections.abc import Callable

    from ..plan.trees import DraftLayout, Node
    from .ordered import Bench

__all__ = ["over_far_trims"]


class _InTheWay(Exception):
    """More than scrap lies at the edge, or the scrap would be more, or too narrow for the tool."""


def over_far_trims(
    draft: DraftLayout, bench: Bench, kind_of: Callable[[int, int], LeftoverKind]
) -> DraftLayout:
    """Return a layout whose tree reaches over each far trim along which only scrap lies.

    Every piece, offcut and slip sheet is where it was; the scrap takes the trim in. The layout
    itself is returned where there is no such edge, and where a source is longer than the tool
    cuts: there it is the trims that make later cuts short enough.

    Parameters
    ----------
    kind_of
        What a leftover of this width and height is called.
    """
    source, trim, longest = draft.source, bench.trim_of(draft), bench.tool.longest_cut
    if longest is not None and max(source.width, source.height) > longest:
        return draft
    reaching = _Reaching(bench.tool.kerf, bench.tool.narrowest_strip, kind_of)
    root = draft.root
    for axis, size, end in (
        (Axis.X, trim.right, source.width),
        (Axis.Y, trim.bottom, source.height),
    ):
        if size:
            root = reaching.over(root, axis, end)
    return draft if root is draft.root else replace(draft, root=root)


@dataclass(frozen=True, slots=True)
class _Reaching:
    kerf: int
    narrowest: int
    kind_of: Callable[[int, int], LeftoverKind]

    def over(self, root: Node, axis: Axis, end: int) -> Node:
        """Return a tree that ends there on an axis; the same one where that cannot be."""
        try:
            return self._over(root, axis, end)
        except _InTheWay:
            return root

    def _over(self, node: Node, axis: Axis, end: int) -> Node:
        if isinstance(node, PieceNode):
            raise _InTheWay
        span = (span_of(node, axis)[0], end)
        if isinstance(node, WasteNode):
            return self._scrap(spanning(node, axis, span))
        wider = spanning(node, axis, span)
        if wider.axis is axis:
            return self._along(wider, end)
        second = None if wider.second is None else self._over(wider.second, axis, end)
        return replace(wider, first=self._over(wider.first, axis, end), second=second)

    def _along(self, node: CutNode, end: int) -> Node:
        """Return a part whose last cuts are left out, as far as they take nothing but scrap off."""
        if node.second is not None and self._holds(node.second):
            return replace(node, second=self._over(node.second, node.axis, end))
        try:
            return self._over(node.first, node.axis, end)
        except _InTheWay:
            return replace(node, second=self._beyond(node, end))

    def _beyond(self, node: CutNode, end: int) -> Node | None:
        """Return the scrap beyond the last cut that is needed; None where its band runs off."""
        begin = node.at + self.kerf
        if begin >= end:
            return None
        if end - begin < self.narrowest:
            raise _InTheWay
        whole = WasteNode(node.x, node.y, node.width, node.height)
        return self._scrap(spanning(whole, node.axis, (begin, end)))

    def _scrap(self, node: WasteNode) -> WasteNode:
        if self._holds(node):
            raise _InTheWay
        return node

    def _holds(self, node: Node) -> bool:
        """Whether a part has anything in it that is no scrap."""
        waiting = [node]
        while waiting:
            one = waiting.pop()
            if isinstance(one, CutNode):
                waiting += [one.first] if one.second is None else [one.first, one.second]
            elif isinstance(one, PieceNode) or not self._is_scrap(one):
                return True
        return False

    def _is_scrap(self, node: WasteNode) -> bool:
        return self.kind_of(node.width, node.height) is LeftoverKind.SCRAP
