"""Parallel cuts of one part, put one after another: each takes a strip off the near edge.

A tree may divide a part in the middle and each half again by cuts that run the same way. In
whatever order such cuts are made the same parts come of them, and no cut is longer or leaves less
to hold. Taken off strip by strip, more sides of pieces are set by the stop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..plan.model import Axis
from ..plan.trees import CutNode, DraftLayout, Node

__all__ = ["in_strips"]


def in_strips(draft: DraftLayout) -> DraftLayout:
    """Return a layout of which every part is cut strip by strip; the same parts come of it.

    One that is cut so already is returned itself.
    """
    return replace(draft, root=_stripped(draft.root)) if _divides_a_half(draft.root) else draft


def _divides_a_half(root: Node) -> bool:
    """Return whether a part that comes before a cut is itself divided the same way."""
    waiting: list[Node] = [root]
    while waiting:
        node = waiting.pop()
        if isinstance(node, CutNode):
            if isinstance(node.first, CutNode) and node.first.axis is node.axis:
                return True
            waiting += [node.first] if node.second is None else [node.first, node.second]
    return False


def _stripped(node: Node) -> Node:
    if not isinstance(node, CutNode):
        return node
    strips, bands = _flat(node, node.axis)
    made = [None if strip is None else _stripped(strip) for strip in strips]
    return _in_a_row(node, made, bands)


def _flat(node: Node | None, axis: Axis) -> tuple[list[Node | None], list[int]]:
    """Return the strips of a part on an axis, and where the bands between them begin.

    The last strip is None where the last band leaves nothing.
    """
    strips: list[Node | None] = []
    bands: list[int] = []
    while isinstance(node, CutNode) and node.axis is axis:
        before, inner = _flat(node.first, axis)
        if before[-1] is None:  # bands that meet stay as they are
            before, inner = [node.first], []
        strips += before
        bands += [*inner, node.at]
        node = node.second
    return [*strips, node], bands


def _in_a_row(whole: CutNode, strips: Sequence[Node | None], bands: Sequence[int]) -> Node:
    """Return the cuts of a part one after another, from the last one up."""
    *before, rest = strips
    for strip, at in zip(reversed(before), reversed(bands), strict=True):
        assert strip is not None, "only the last band leaves nothing"
        rest = _cut(whole, at, strip, rest)
    assert rest is not None
    return rest


def _cut(whole: CutNode, at: int, strip: Node, rest: Node | None) -> CutNode:
    if whole.axis is Axis.X:
        across = whole.x + whole.width - strip.x
        return replace(whole, at=at, x=strip.x, width=across, first=strip, second=rest)
    down = whole.y + whole.height - strip.y
    return replace(whole, at=at, y=strip.y, height=down, first=strip, second=rest)
