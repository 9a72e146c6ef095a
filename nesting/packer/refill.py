"""Fill what a layout leaves over with pieces that are still wanted.

`best_within` keeps one set of copies a part, and so may refuse pieces for which there is room.
Each part left over is looked at again, with the demands that remain.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from .layouts import Layout, Place, Split, caps, counts_of, fits, needed
from .within import best_within, trace_within

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .layouts import Tree
    from .running import Budget
    from .within import Bounded

__all__ = ["refilled"]


def refilled(
    instance: Instance,
    grid: Grid,
    layout: Layout,
    values: Sequence[int],
    demands: Sequence[int],
    budget: Budget,
    bounded: Bounded | None = None,
) -> Layout:
    """Return the layout with room left over used for `demands` beyond its own pieces.

    Room is found where closing the tree up leaves it; the tool's limits are for `legal` to judge.

    Parameters
    ----------
    bounded
        What any part holds at best, if it is known; for other demands, too.
    """
    left = [wanted - count for wanted, count in zip(demands, layout.counts, strict=True)]
    source = instance.sources[layout.source]
    sizes = tuple(piece.orientations() for piece in instance.pieces)
    work = _Refill(instance, grid, values, left, budget, sizes, bounded)
    root = work.walk(layout.root, source.width, source.height)
    fuller = Layout(layout.source, counts_of(root, len(left)), root)
    return fuller if fits(instance, fuller) else layout


@dataclass(slots=True)
class _Refill:
    """What is still wanted, and the best ways to use any part for it, found when first needed."""

    instance: Instance
    grid: Grid
    values: Sequence[int]
    left: list[int]
    budget: Budget
    sizes: Sequence[Sequence[tuple[int, int]]]
    bounded: Bounded | None = None

    def walk(self, tree: Tree, width: int, height: int) -> Tree:
        """Return the tree for a part of this true size with its waste used."""
        if tree is None:
            return self.take(width, height)
        if isinstance(tree, Place):
            return self._beside(tree, width, height)
        kerf = self.instance.kerf
        size = needed(tree.first, tree.axis, self.instance)
        if tree.axis == 0:
            first = self.walk(tree.first, size - kerf, height)
            second = self.walk(tree.second, width - size, height)
        else:
            first = self.walk(tree.first, width, size - kerf)
            second = self.walk(tree.second, width, height - size)
        return replace(tree, at=size, first=first, second=second)

    def _beside(self, place: Place, width: int, height: int) -> Tree:
        """Use what lies beyond a piece in the corner of its part, the larger waste kept whole."""
        kerf = self.instance.kerf
        wide = needed(place, 0, self.instance) - kerf
        high = needed(place, 1, self.instance) - kerf
        if (width - wide) * height >= (height - high) * width:
            inner = self._joined(1, high + kerf, place, wide, height - high - kerf)
            return self._joined(0, wide + kerf, inner, width - wide - kerf, height)
        inner = self._joined(0, wide + kerf, place, width - wide - kerf, high)
        return self._joined(1, high + kerf, inner, width, height - high - kerf)

    def _joined(self, axis: int, at: int, tree: Tree, width: int, height: int) -> Tree:
        more = self.take(width, height)
        return tree if more is None else Split(axis, at, tree, more)

    def take(self, width: int, height: int) -> Tree:
        """Return what a part left over is best used for, and count it off."""
        if self.budget.spent or not self._could_hold(width, height):
            return None
        kerf = self.instance.kerf
        for _ in range(2):
            if self.bounded is None:
                self.bounded = best_within(
                    self.grid, self.values, caps(self.instance, self.left), self.budget.check
                )
                self.budget.spend(self.bounded.work)
            tree = trace_within(
                self.grid, self.bounded, *self.grid.cell(width + kerf, height + kerf)
            )
            counts = counts_of(tree, len(self.left))
            if all(count <= left for count, left in zip(counts, self.left, strict=True)):
                self.left = [left - count for count, left in zip(counts, self.left, strict=True)]
                return tree
            self.bounded = None
        return None

    def _could_hold(self, width: int, height: int) -> bool:
        return any(
            wide <= width and high <= height
            for left, sizes in zip(self.left, self.sizes, strict=True)
            if left > 0
            for wide, high in sizes
        )
