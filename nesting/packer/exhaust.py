"""Small boards settled outright: every maximal layout listed, then the cheapest choice of them.

A layout is maximal if no other within the demands yields as much of every type and more of one.
Each part keeps the set of its maximal yields; those of a part are sums, cut off at the demands,
of the yields of its two parts over all splits. Where the sets stay small this is quick, and CP-SAT
over the sheets' own sets then finds a cheapest plan and proves it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .layouts import Layout, Place, Split, counts_of

if TYPE_CHECKING:
    from ..problem.instance import Instance
    from .grids import Grid
    from .layouts import Tree
    from .positions import IntArray
    from .running import Budget

__all__ = ["TooMany", "maximal_layouts"]

MOST_YIELDS = 400
MOST_SUMS = 60_000
# Rows of counts are told apart by a number below this.
MOST_KEYS = 1 << 62
SPLITS_A_SUM = 100
SPLITS_A_STEP = 7_000


class TooMany(Exception):
    """A part has more maximal yields than are worth listing."""


@dataclass(slots=True)
class _Yields:
    """The maximal yields of every part so far; each a row of counts."""

    grid: Grid
    limits: IntArray
    budget: Budget
    table: dict[tuple[int, int], IntArray]

    def of(self, row: int, column: int) -> IntArray:
        """Return the maximal yields of a part, shape ``(n, types)``; listed when first asked."""
        known = self.table.get((row, column))
        if known is None:
            known = self._list(row, column)
            self.table[row, column] = known
        return known

    def halves(
        self, row: int, column: int
    ) -> list[tuple[int, int, tuple[int, int], tuple[int, int]]]:
        """Return every split as its axis, its first part's size and the two parts."""
        grid = self.grid
        found = []
        for axis, splits in ((0, grid.x.splits[row]), (1, grid.y.splits[column])):
            if grid.may_split(axis, row, column):
                sizes = (grid.x if axis == 0 else grid.y).sizes
                for a, b in zip(splits[0].tolist(), splits[1].tolist(), strict=True):
                    one, two = ((a, column), (b, column)) if axis == 0 else ((row, a), (row, b))
                    found.append((axis, int(sizes[a]), one, two))
        return found

    def _list(self, row: int, column: int) -> IntArray:
        sums = [self._alone(row, column)]
        if not row or not column:
            return sums[0]
        for _, _, one, two in self.halves(row, column):
            first, second = self.of(*one), self.of(*two)
            if len(first) * len(second) > MOST_SUMS:
                raise TooMany
            both = (first[:, np.newaxis, :] + second[np.newaxis, :, :]).reshape(
                -1, len(self.limits)
            )
            sums.append(np.minimum(both, self.limits))
        every = distinct(np.concatenate(sums), self.limits)
        self.budget.spend(
            SPLITS_A_SUM * sum(len(some) for some in sums) + SPLITS_A_STEP * len(sums)
        )
        return maximal(every, self.budget)

    def _alone(self, row: int, column: int) -> IntArray:
        rows = np.zeros((1, len(self.limits)), dtype=np.int64)
        for piece, _, at_row, at_column in self.grid.places:
            if self.limits[piece] and self.grid.holds(at_row, at_column, row, column):
                one = np.zeros((1, len(self.limits)), dtype=np.int64)
                one[0, piece] = 1
                rows = np.concatenate([rows, one])
        return rows


def distinct(rows: IntArray, limits: IntArray) -> IntArray:
    """Return every row once, sorted; no count exceeds its limit.

    A row is told by one number, a digit a type, where that fits a word: far quicker to sort.
    """
    digits = [int(limit) + 1 for limit in limits]
    if math.prod(digits) >= MOST_KEYS:
        return np.unique(rows, axis=0)
    scale = np.array([math.prod(digits[n + 1 :]) for n in range(len(digits))], dtype=np.int64)
    keys = np.unique(rows @ scale)
    return np.stack([keys // one % digit for one, digit in zip(scale, digits, strict=True)], axis=1)


def maximal(rows: IntArray, budget: Budget) -> IntArray:
    """Return the rows that no other row covers.

    Raises
    ------
    TooMany
        If that is more than are worth keeping, or takes too long to tell.
    """
    rows = rows[np.argsort(-rows.sum(axis=1), kind="stable")]
    kept = np.zeros((0, rows.shape[1]), dtype=np.int64)
    while len(rows):
        kept = np.concatenate([kept, rows[:1]])
        if len(kept) > MOST_YIELDS:
            raise TooMany
        budget.spend(SPLITS_A_STEP + rows.size)
        if budget.spent:
            raise TooMany
        rows = rows[~(rows <= rows[0]).all(axis=1)]
    return kept


def maximal_layouts(instance: Instance, grid: Grid, budget: Budget) -> tuple[Layout, ...]:
    """Return every maximal layout of every source.

    Raises
    ------
    TooMany
        If a part has more maximal yields than are worth listing.
    Stopped
        If someone asked to end.
    """
    yields = _Yields(grid, np.array(instance.demands, dtype=np.int64), budget, {})
    found = []
    for number, source in enumerate(instance.sources):
        cell = grid.root(source, instance)
        for wanted in yields.of(*cell):
            if not wanted.any():
                continue
            root = _trace(yields, wanted, *cell)
            found.append(Layout(number, counts_of(root, len(instance.pieces)), root))
    return tuple(found)


def _trace(yields: _Yields, wanted: IntArray, row: int, column: int) -> Tree:
    """Return a tree that yields at least `wanted`, which the part is known to yield."""
    if not wanted.any():
        return None
    if wanted.sum() == 1:
        piece = int(wanted.argmax())
        for number, turned, at_row, at_column in yields.grid.places:
            if number == piece and yields.grid.holds(at_row, at_column, row, column):
                return Place(piece, turned)
    for axis, at, one, two in yields.halves(row, column):
        for first in yields.of(*one):
            rest = np.maximum(wanted - first, 0)
            if (yields.of(*two) >= rest).all(axis=1).any():
                have = np.minimum(first, wanted)
                under, beside = _trace(yields, have, *one), _trace(yields, rest, *two)
                return Split(axis, at, under, beside) if at else beside
    raise AssertionError("a part's yield comes from no split")
