"""The best single layout for given piece values, over a grid of part sizes.

Gilmore and Gomory (1966), The theory and computation of knapsack functions: the best value of a
part is that of one piece in it, or of its best split in two; with unlimited copies of every piece
this is exact. Many parts are priced at once: a front of them where the grid's splits can be kept
in memory, else whole rows, whose splits are those of one width.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from .grids import chunks
from .layouts import Place, Split

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from .grids import Grid, Held
    from .layouts import Tree
    from .positions import Level

IntArray: TypeAlias = "NDArray[np.signedinteger]"

__all__ = ["NARROW_MOST", "IntArray", "best_values", "splits_of", "trace", "traces"]

# Tables of 32 bits where every sum of two values fits, and of 64 where not.
NARROW_MOST = 1 << 30


def _base(grid: Grid, values: Sequence[int], dtype: type[np.signedinteger]) -> IntArray:
    """Return the value of the best single piece in each part."""
    table = np.zeros(grid.shape, dtype=dtype)
    for piece, _, row, column in grid.places:
        table[row, column] = max(int(table[row, column]), values[piece])
    if not grid.x.exact:
        np.maximum.accumulate(table, axis=0, out=table)
        np.maximum.accumulate(table, axis=1, out=table)
    return table


def best_values(grid: Grid, values: Sequence[int]) -> IntArray:
    """Return the best value of every part, copies unlimited.

    Parameters
    ----------
    values
        Of one piece of each type; not negative, and small enough that a source's value fits in
        62 bits.

    Returns
    -------
    ndarray of int32 or int64, shape ``(m, n)``
        By part width and height.
    """
    if max(values, default=0) < NARROW_MOST:
        table = _priced(grid, values, np.int32)
        # A sum can only have overflowed if one of its terms, which had not, shows it.
        if int(table.max()) < NARROW_MOST and int(table.min()) >= 0:
            return table
    return _priced(grid, values, np.int64)


def _priced(grid: Grid, values: Sequence[int], dtype: type[np.signedinteger]) -> IntArray:
    table = _base(grid, values, dtype)
    if grid.keeps_fronts:
        _price_by_fronts(grid, table.ravel())
    else:
        _price_by_levels(grid, table)
    return table


def _price_by_fronts(grid: Grid, table: IntArray) -> None:
    """Price a table, laid out flat, in place."""
    for front in grid.fronts():
        sums = table.take(front.first)
        sums += table.take(front.second)
        best = np.maximum.reduceat(sums, front.starts)
        table[front.cells] = np.maximum(table.take(front.cells), best)


def _price_by_levels(grid: Grid, table: IntArray) -> None:
    """Price a table in place, a level of rows and then of columns at a time.

    The rows of a level differ by less than the narrowest piece, so none is a part of another:
    first every row takes its best split of the width from finished rows, then the level,
    transposed, takes its splits of the height, a level of columns at a time.
    """
    for level in grid.x.levels:
        rows = slice(level.start, level.end)
        _sweep(table, level, None if grid.may_split_x is None else grid.may_split_x[rows])
        block = np.ascontiguousarray(table[rows].T)
        may = None if grid.may_split_y is None else grid.may_split_y[rows].T
        for down in grid.y.levels:
            _sweep(block, down, None if may is None else may[down.start : down.end])
        table[rows] = block.T


def _sweep(table: IntArray, level: Level, allowed: NDArray[np.bool_] | None) -> None:
    """Let the rows of a level take the best sum of two finished rows, column by column."""
    for rows, splits in chunks(level, table.shape[1]):
        best = _halved(_sums(table, level, rows, splits))
        if allowed is not None:
            best[~allowed[rows]] = 0
        into = table[level.start + rows.start : level.start + rows.stop]
        np.maximum(into, best, out=into)


def _sums(table: IntArray, level: Level, rows: slice, splits: slice) -> IntArray:
    """Return the worth of each split, shape ``(rows, splits, columns)``."""
    sums = np.take(table, level.first[rows, splits], axis=0)
    sums += np.take(table, level.second[rows, splits], axis=0)
    return sums


def _halved(sums: IntArray) -> IntArray:
    """Return the maximum over the middle axis; `sums` is used up.

    Halves are laid on each other, which runs at the speed of memory; a plain reduction over an
    axis in the middle does not.
    """
    left = sums.shape[1]
    while left > 1:
        half = (left + 1) // 2
        np.maximum(sums[:, : left - half], sums[:, half:left], out=sums[:, : left - half])
        left = half
    return sums[:, 0]


def trace(grid: Grid, values: Sequence[int], table: IntArray, row: int, column: int) -> Tree:
    """Return a tree of cuts that reaches ``table[row, column]``."""
    return _Tracer.of(grid, values, table).tree(row, column)


def traces(
    grid: Grid, values: Sequence[int], table: IntArray, cell: tuple[int, int], most: int
) -> Iterator[Tree]:
    """Yield a best tree of a part, then the best by up to ``most - 1`` other first cuts.

    Each first cut frees a part of another size; the trees come with falling worth.
    """
    tracer = _Tracer.of(grid, values, table)
    yield tracer.tree(*cell)
    if most == 1:
        return
    ways = [
        (-int(worth), split.axis, number, split)
        for split in splits_of(grid, *cell)
        for number, worth in enumerate(table[split.one] + table[split.two])
    ]
    ways.sort(key=lambda way: way[:3])
    for _, _, number, split in ways[1:most]:
        yield tracer.joined(split, np.array([number]))


@dataclass(frozen=True, slots=True)
class _Tracer:
    """Trees of cuts by a table of values.

    Attributes
    ----------
    singles
        The grid's places by the value of the piece, in the grid's order.
    known
        The trees of parts found so far: a layout may hold a small part a thousand times.
    """

    grid: Grid
    table: IntArray
    singles: dict[int, list[Held]]
    known: dict[tuple[int, int], Tree] = field(default_factory=dict)

    @classmethod
    def of(cls, grid: Grid, values: Sequence[int], table: IntArray) -> _Tracer:
        """Return one with nothing traced yet."""
        singles: dict[int, list[Held]] = {}
        for place in grid.places:
            singles.setdefault(values[place[0]], []).append(place)
        return cls(grid, table, singles)

    def tree(self, row: int, column: int) -> Tree:
        """Return a tree of cuts that reaches ``table[row, column]``."""
        if self.table[row, column] == 0:
            return None
        found = self.known.get((row, column))
        if found is None:
            found = self.known[row, column] = self._found(row, column)
        return found

    def joined(self, split: _Splits, hits: NDArray[np.intp]) -> Tree:
        """Return the tree of one of a split's hits."""
        one, two = split.chosen(self.table, hits)
        return split.joined(self.tree(*one), self.tree(*two), one)

    def _found(self, row: int, column: int) -> Tree:
        worth = int(self.table[row, column])
        for piece, turned, at_row, at_column in self.singles.get(worth, ()):
            if self.grid.holds(at_row, at_column, row, column):
                return Place(piece, turned)
        for split in splits_of(self.grid, row, column):
            hits = np.flatnonzero(self.table[split.one] + self.table[split.two] == worth)
            if len(hits):
                return self.joined(split, hits)
        raise AssertionError("a part's value comes from no split")


@dataclass(frozen=True, slots=True)
class _Splits:
    """Every way to split one part across one axis: the rows and columns of both parts."""

    grid: Grid
    axis: int
    one: tuple[IntArray, IntArray]
    two: tuple[IntArray, IntArray]

    def chosen(
        self, worth: IntArray, hits: NDArray[np.intp]
    ) -> tuple[tuple[int, int], tuple[int, int]]:
        """Return the first hit with something in both parts, else the one that wastes most."""
        first, second = worth[self.one][hits], worth[self.two][hits]
        full = np.flatnonzero((first > 0) & (second > 0))
        if len(full):
            pick = int(hits[full[0]])
        else:
            larger = np.maximum(self.one[self.axis][hits], self.two[self.axis][hits])
            pick = int(hits[int(larger.argmin())])
        return (
            (int(self.one[0][pick]), int(self.one[1][pick])),
            (int(self.two[0][pick]), int(self.two[1][pick])),
        )

    def joined(self, first: Tree, second: Tree, one: tuple[int, int]) -> Tree:
        """Return the tree of the split; on reduced sizes an empty part need not be cut off."""
        if self.grid.closes_up and (first is None or second is None):
            return first if second is None else second
        sizes = (self.grid.y if self.axis else self.grid.x).sizes
        return Split(self.axis, int(sizes[one[self.axis]]), first, second)


def splits_of(grid: Grid, row: int, column: int) -> Iterator[_Splits]:
    """Yield the splits of one part across each axis along which there are any."""
    for axis, (first, second) in ((0, grid.x.splits[row]), (1, grid.y.splits[column])):
        if len(first) and grid.may_split(axis, row, column):
            if axis == 0:
                across = np.full_like(first, column)
                yield _Splits(grid, axis, (first, across), (second, across))
            else:
                down = np.full_like(first, row)
                yield _Splits(grid, axis, (down, first), (down, second))
