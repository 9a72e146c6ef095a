"""After the choice: no piece too many, and what is left over in one part where it can be.

Layouts cover the demands, so a plan may hold pieces too many. They are taken out of as few copies
as will do; each layout is then packed again into a corner, so that one large part is left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from .grids import Grid
from .layouts import Layout, Place, Split, gross_areas, needed
from .positions import normal_patterns, relaxed_axis
from .within import best_within, trace_within

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from ..problem.instance import Instance
    from .layouts import Tree

__all__ = ["settings", "thinned", "tidied", "wastes", "without_surplus"]

MOST_WORK = 3e6
BELOW_KEEP = 1e-6
MOST_PATTERNS = 400


def without_surplus(
    copies: Mapping[Layout, int], demands: Sequence[int], areas: Sequence[int]
) -> dict[Layout, int]:
    """Return the layouts with every piece beyond the demands taken out.

    Each time one copy loses as much area as it can, until nothing is surplus; layouts that come
    to hold nothing are dropped.
    """
    left = dict(copies)
    surplus = [
        sum(layout.counts[piece] * n for layout, n in left.items()) - demand
        for piece, demand in enumerate(demands)
    ]
    while any(surplus):
        layout = max(left, key=lambda one: _removable(one, surplus, areas))
        taken = [min(a, b) for a, b in zip(layout.counts, surplus, strict=True)]
        times = max(
            1,
            min(
                left[layout],
                *(spare // count for spare, count in zip(surplus, taken, strict=True) if count),
            ),
        )
        slim = thinned(layout, taken)
        left[layout] -= times
        if left[layout] == 0:
            del left[layout]
        if any(slim.counts):
            left[slim] = left.get(slim, 0) + times
        surplus = [spare - count * times for spare, count in zip(surplus, taken, strict=True)]
    return left


def _removable(layout: Layout, surplus: Sequence[int], areas: Sequence[int]) -> int:
    return sum(
        min(count, spare) * area
        for count, spare, area in zip(layout.counts, surplus, areas, strict=True)
    )


def thinned(layout: Layout, taken: Sequence[int]) -> Layout:
    """Return the layout with so many pieces of each type taken out."""
    counts = tuple(count - less for count, less in zip(layout.counts, taken, strict=True))
    return Layout(layout.source, counts, _without(layout.root, list(taken)))


def _without(tree: Tree, taken: list[int]) -> Tree:
    """Return the tree with pieces taken out, those cut last first."""
    if isinstance(tree, Place):
        if taken[tree.piece]:
            taken[tree.piece] -= 1
            return None
        return tree
    if isinstance(tree, Split):
        second = _without(tree.second, taken)
        first = _without(tree.first, taken)
        return (
            None if first is None and second is None else replace(tree, first=first, second=second)
        )
    return None


def tidied(instance: Instance, layout: Layout) -> Layout:
    """Return the layout with the same pieces in a corner, if more is then left in one part.

    What is left counts to the power 1.5, so that one large part beats two small, and next to
    nothing below the instance's `keep` size. If as much is left either way, the layout is taken
    that cuts its pieces at fewer different widths and heights.
    """
    source = instance.sources[layout.source]
    keep = _Keep(*sorted(instance.keep))
    before = sum(
        keep.worth(width, height)
        for width, height in wastes(layout.root, source.width, source.height, instance)
    )
    found = _cornered(instance, layout, keep)
    if found is None or found[0] < before * (1 - 1e-9):
        return layout
    more = found[0] > before * (1 + 1e-9)
    plainer = settings(instance, found[1]) < settings(instance, layout)
    return found[1] if more or plainer else layout


def settings(instance: Instance, layout: Layout) -> int:
    """Return at how many different sizes the layout's parts are cut off, closed up."""
    found: set[tuple[int, int]] = set()
    todo = [layout.root]
    while todo:
        node = todo.pop()
        if isinstance(node, Split):
            found.add((node.axis, needed(node.first, node.axis, instance)))
            todo += (node.first, node.second)
    return len(found)


@dataclass(frozen=True, slots=True)
class _Keep:
    short: int
    long: int

    def worth(self, width: int, height: int) -> float:
        """Return what a part of this true size is worth as stock."""
        short, long = sorted((width, height))
        kept = short >= self.short and long >= self.long
        return math.pow(short * long, 1.5) * (1.0 if kept else BELOW_KEEP)

    def worths(self, widths: NDArray[np.int64], heights: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return `worth` of every pair, arrays broadcast."""
        short, long = np.minimum(widths, heights), np.maximum(widths, heights)
        kept = (short >= self.short) & (long >= self.long)
        area = np.where(short > 0, short * long, 0).astype(np.float64)
        return np.asarray(area**1.5 * np.where(kept, 1.0, BELOW_KEEP))


def wastes(tree: Tree, width: int, height: int, instance: Instance) -> Iterator[tuple[int, int]]:
    """Yield the true sizes of the parts left over, each cut so that the larger stays whole."""
    if width <= 0 or height <= 0:
        return
    if tree is None:
        yield width, height
        return
    kerf = instance.kerf
    if isinstance(tree, Place):
        wide, high = needed(tree, 0, instance) - kerf, needed(tree, 1, instance) - kerf
        if (width - wide) * height >= (height - high) * width:
            yield from _beyond((width - wide - kerf, height), (wide, height - high - kerf))
        else:
            yield from _beyond((width, height - high - kerf), (width - wide - kerf, high))
        return
    size = needed(tree.first, tree.axis, instance)
    if tree.axis == 0:
        yield from wastes(tree.first, size - kerf, height, instance)
        yield from wastes(tree.second, width - size, height, instance)
    else:
        yield from wastes(tree.first, width, size - kerf, instance)
        yield from wastes(tree.second, width, height - size, instance)


def _beyond(*parts: tuple[int, int]) -> Iterator[tuple[int, int]]:
    yield from (part for part in parts if part[0] > 0 and part[1] > 0)


def _cornered(instance: Instance, layout: Layout, keep: _Keep) -> tuple[float, Layout] | None:
    """Return the best worth of what is left beyond a corner that holds everything."""
    source = instance.sources[layout.source]
    grid = _fine_grid(instance, layout)
    if grid is None or grid.work > MOST_WORK:
        return None
    kerf = instance.kerf
    areas = gross_areas(instance)
    bounded = best_within(grid, areas, layout.counts)
    whole = bounded.holding(layout.counts)
    if not whole.any():
        return None
    wide, high = grid.x.sizes[:, np.newaxis], grid.y.sizes[np.newaxis, :]
    across = keep.worths(source.width - wide, np.full_like(high, source.height)) + keep.worths(
        wide - kerf, source.height - high
    )
    down = keep.worths(np.full_like(wide, source.width), source.height - high) + keep.worths(
        source.width - wide, high - kerf
    )
    worth = np.where(whole, np.maximum(across, down), -1.0)
    row, column = (int(n) for n in np.unravel_index(int(worth.argmax()), worth.shape))
    corner = trace_within(grid, bounded, row, column)
    first_axis = 0 if across[row, column] >= down[row, column] else 1
    sizes = (int(grid.x.sizes[row]), int(grid.y.sizes[column]))
    inner = Split(1 - first_axis, sizes[1 - first_axis], corner, None)
    root = Split(first_axis, sizes[first_axis], inner, None)
    return float(worth[row, column]), replace(layout, root=root)


def _fine_grid(instance: Instance, layout: Layout) -> Grid | None:
    """Return a grid of every normal pattern of the layout's pieces; None if they are too many."""
    kerf = instance.kerf
    source = instance.sources[layout.source]
    sides = [
        (number, bool(turned), width + kerf, height + kerf)
        for number, piece in enumerate(instance.pieces)
        if layout.counts[number]
        for turned, (width, height) in enumerate(piece.orientations())
    ]
    widths, heights = [side[2] for side in sides], [side[3] for side in sides]
    across = normal_patterns(widths, source.width + kerf).tolist()
    down = normal_patterns(heights, source.height + kerf).tolist()
    if max(len(across), len(down)) > MOST_PATTERNS:
        return None
    x, y = relaxed_axis(widths, across), relaxed_axis(heights, down)
    places = tuple(
        (number, turned, int(np.searchsorted(x.sizes, wide)), int(np.searchsorted(y.sizes, high)))
        for number, turned, wide, high in sides
        if wide <= x.sizes[-1] and high <= y.sizes[-1]
    )
    return Grid(x, y, places)
