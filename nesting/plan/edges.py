"""Edges of which no cut of a layout says anything.

Some come off a part before its first cut: one of a sheet that was begun may have factory edges on
it still, and an offcut bad ones. Its source is what is left without them. Others stay on the scrap
that lies along them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .model import Axis, Edge, trim_of

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from .model import BoardPlan, Layout, Source

__all__ = ["FACING", "edges_named", "edges_off", "good_edges", "square_to", "trims_left_on"]

FACING = {
    Edge.LEFT: Edge.RIGHT,
    Edge.RIGHT: Edge.LEFT,
    Edge.TOP: Edge.BOTTOM,
    Edge.BOTTOM: Edge.TOP,
}
ALONG, ACROSS = (Edge.LEFT, Edge.RIGHT), (Edge.TOP, Edge.BOTTOM)
NEXT_TO = {**dict.fromkeys(ALONG, ACROSS), **dict.fromkeys(ACROSS, ALONG)}


def edges_named(edges: Sequence[str]) -> str:
    """Return some edges in words.

    Examples
    --------
    >>> edges_named(["left"]), edges_named(["left", "right", "top"])
    ('left', 'left, right and top')
    """
    return " and ".join(one for one in (", ".join(edges[:-1]), edges[-1]) if one)


def edges_off(layout: Layout, board: BoardPlan) -> tuple[tuple[Edge, int, int], ...]:
    """Return which edges must come off a layout's offcut first, one after the other.

    With each goes how much comes off, and how long the part is after it, in steps.
    """
    trims = [item.trim for item in board.stock if item.source == layout.source]
    trim = next((one for one in trims if one is not None), None)
    if trim is None:
        return ()
    wide, high = layout.source.width, layout.source.height
    edges = (
        (Edge.LEFT, trim.left, wide + trim.right),
        (Edge.RIGHT, trim.right, wide),
        (Edge.TOP, trim.top, high + trim.bottom),
        (Edge.BOTTOM, trim.bottom, high),
    )
    return tuple(edge for edge in edges if edge[1])


def good_edges(source: Source, board: BoardPlan) -> frozenset[Edge]:
    """Return the edges of an offcut that others can be squared to.

    Nothing is to come off them, and they are not as their sheet came.
    """
    items = [item for item in board.stock if item.source == source]
    trims = [trim for item in items for trim in (item.trim, item.untrimmed) if trim is not None]
    bad = {edge for edge in Edge if any(getattr(trim, edge.value) for trim in trims)}
    rough = {Edge(edge) for item in items for edge in item.rough}
    return frozenset(Edge) - bad - rough


def square_to(edge: Edge, good: Collection[Edge]) -> Edge | None:
    """Return which of the good edges a new one is to be square to; None if none is next to it.

    Examples
    --------
    >>> square_to(Edge.LEFT, {Edge.RIGHT, Edge.BOTTOM}).value
    'bottom'
    """
    return next((one for one in NEXT_TO[edge] if one in good), None)


def trims_left_on(layout: Layout, board: BoardPlan) -> frozenset[Edge]:
    """Return which far edges keep their trim: no cut takes it off by itself, though the tool could.

    What is longer than the tool cuts is trimmed part by part, and some of it never is: of a source
    so long none is said to keep it.
    """
    source, longest = layout.source, board.tool.longest_cut
    if longest is not None and max(source.width, source.height) > longest:
        return frozenset()
    trim = trim_of(source, board.trim, board.stock)
    far = (
        (Edge.RIGHT, trim.right, (Axis.X, source.width - trim.right)),
        (Edge.BOTTOM, trim.bottom, (Axis.Y, source.height - trim.bottom)),
    )
    cuts = {(cut.axis, cut.at) for cut in layout.cuts}
    return frozenset(edge for edge, size, line in far if size and line not in cuts)
