"""The best single layout for given piece values, over a grid of part sizes.

Gilmore and Gomory (1966), The theory and computation of knapsack functions: the best value of a
part is that of one piece in it, or of its best split in two. `best_values` solves this exactly
for unlimited copies, `best_within` keeps within given numbers of copies and is then a heuristic.

Both price whole levels of rows at once. The rows of a level differ by less than the narrowest
piece, so none is a part of another: first every row takes its best split of the width from
finished rows, then the level, transposed, takes its splits of the height, a level of columns at
a time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from .grids import CHUNK, chunks
from .layouts import Place, Split

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from .grids import Grid
    from .layouts import Tree
    from .positions import Level

IntArray: TypeAlias = "NDArray[np.signedinteger]"

__all__ = [
    "WITHIN_WORK",
    "Bounded",
    "IntArray",
    "best_values",
    "best_within",
    "trace",
    "trace_within",
    "traces",
]

# Tables of 32 bits where every sum of two values fits, and of 64 where not.
NARROW_MOST = 1 << 30
# Where more of a call's best sums than this exceed the limits, all of its sums are checked.
CROWDED = 0.15
# What pricing within limits costs against pricing without, as measured.
WITHIN_WORK = 5


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
    for level in grid.x.levels:
        rows = slice(level.start, level.end)
        _sweep(table, level, None if grid.may_split_x is None else grid.may_split_x[rows])
        block = np.ascontiguousarray(table[rows].T)
        may = None if grid.may_split_y is None else grid.may_split_y[rows].T
        for down in grid.y.levels:
            _sweep(block, down, None if may is None else may[down.start : down.end])
        table[rows] = block.T
    return table


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
    worth = int(table[row, column])
    if worth == 0:
        return None
    for piece, turned, at_row, at_column in grid.places:
        if values[piece] == worth and grid.holds(at_row, at_column, row, column):
            return Place(piece, turned)
    for split in _splits(grid, row, column):
        hit = np.flatnonzero(table[split.one] + table[split.two] == worth)
        if len(hit):
            one, two = split.chosen(table, hit)
            return split.joined(
                trace(grid, values, table, *one), trace(grid, values, table, *two), one
            )
    raise AssertionError("a part's value comes from no split")


def traces(
    grid: Grid, values: Sequence[int], table: IntArray, cell: tuple[int, int], most: int
) -> Iterator[Tree]:
    """Yield a best tree of a part, then the best by up to ``most - 1`` other first cuts.

    Each first cut frees a part of another size; the trees come with falling worth.
    """
    yield trace(grid, values, table, *cell)
    if most == 1:
        return
    ways = [
        (-int(worth), split.axis, number, split)
        for split in _splits(grid, *cell)
        for number, worth in enumerate(table[split.one] + table[split.two])
    ]
    ways.sort(key=lambda way: way[:3])
    for _, _, number, split in ways[1:most]:
        one, two = split.chosen(table, np.array([number]))
        yield split.joined(trace(grid, values, table, *one), trace(grid, values, table, *two), one)


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
        if not self.grid.x.exact and (first is None or second is None):
            return first if second is None else second
        sizes = (self.grid.y if self.axis else self.grid.x).sizes
        return Split(self.axis, int(sizes[one[self.axis]]), first, second)


def _splits(grid: Grid, row: int, column: int) -> Iterator[_Splits]:
    for axis, (first, second) in ((0, grid.x.splits[row]), (1, grid.y.splits[column])):
        if len(first) and grid.may_split(axis, row, column):
            if axis == 0:
                across = np.full_like(first, column)
                yield _Splits(grid, axis, (first, across), (second, across))
            else:
                down = np.full_like(first, row)
                yield _Splits(grid, axis, (down, first), (down, second))


@dataclass(frozen=True, slots=True)
class _Packing:
    """Where each type's field lies: word, shift; and each word's offset and mask.

    Types of which there are enough for any part, or none at all, have no field; word -1.
    """

    limits: tuple[int | None, ...]
    word: tuple[int, ...]
    one: tuple[int, ...]
    offsets: tuple[int, ...]
    guards: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Bounded:
    """Best values within limits, and the copies that make each up.

    Copies are packed into words, a field a piece type with one bit to spare, so that one addition
    adds all copies and one mask shows whether any exceeds its limit.

    Attributes
    ----------
    copies
        One table a word, each of the shape of `values`; only of types that have a limit.
    worths
        Of one piece of each type, as rounded for `values`.
    """

    values: IntArray
    copies: tuple[IntArray, ...]
    fields: _Packing
    worths: tuple[int, ...]

    def holding(self, counts: Sequence[int]) -> NDArray[np.bool_]:
        """Return which parts hold just these copies, of types that have a limit."""
        packed = [0] * len(self.copies)
        for count, number, one in zip(counts, self.fields.word, self.fields.one, strict=True):
            if number >= 0:
                packed[number] += count * one
        same = [word == whole for word, whole in zip(self.copies, packed, strict=True)]
        return np.asarray(np.logical_and.reduce(same))

    def holds_just(self, piece: int, row: int, column: int) -> bool:
        """Return whether the copies kept for a part are one of `piece` and nothing else."""
        if self.fields.limits[piece] == 0 or int(self.values[row, column]) != self.worths[piece]:
            return False
        return all(
            int(word[row, column])
            == (self.fields.one[piece] if self.fields.word[piece] == number else 0)
            for number, word in enumerate(self.copies)
        )


def _pack_fields(limits: Sequence[int | None]) -> _Packing:
    word, one = [], []
    offsets, guards = [0], [0]
    shift = 0
    for limit in limits:
        if not limit:
            word.append(-1)
            one.append(0)
            continue
        bits = limit.bit_length() + 1
        if shift + bits > 62:
            offsets.append(0)
            guards.append(0)
            shift = 0
        word.append(len(offsets) - 1)
        one.append(1 << shift)
        offsets[-1] += ((1 << (bits - 1)) - 1 - limit) << shift
        guards[-1] += 1 << (shift + bits - 1)
        shift += bits
    return _Packing(tuple(limits), tuple(word), tuple(one), tuple(offsets), tuple(guards))


def best_within(grid: Grid, values: Sequence[int], limits: Sequence[int | None]) -> Bounded:
    """Return good values of every part with at most `limits` copies of each type.

    Each part keeps one set of copies, the best found, and splits whose sums exceed a limit are
    refused: every value is reached by some layout, but a better one may be missed.

    Parameters
    ----------
    values
        Of one piece of each type; rounded to so many bits that a part's value and the number of
        a split fit into 32.
    limits
        None where no part can hold more than there may be.
    """
    longest = max(level.first.shape[1] for axis in (grid.x, grid.y) for level in axis.levels)
    rank_bits = max(1, longest.bit_length())
    shift = _spare_bits(grid, values, rank_bits)
    while True:
        coarse = [value >> shift for value in values]
        bounded = _priced_within(grid, coarse, _pack_fields(limits), rank_bits)
        if bounded is not None:
            return bounded
        shift += 1


def _spare_bits(grid: Grid, values: Sequence[int], rank_bits: int) -> int:
    """Return how many of the values' last bits to drop, as the densest piece lets expect."""
    room = float(grid.x.sizes[-1]) * float(grid.y.sizes[-1])
    densest = max(
        (
            values[piece] / (float(grid.x.sizes[row]) * float(grid.y.sizes[column]))
            for piece, _, row, column in grid.places
        ),
        default=0.0,
    )
    bits = int(densest * room).bit_length() + rank_bits
    return max(0, bits - (NARROW_MOST.bit_length() - 1))


def _priced_within(
    grid: Grid, values: Sequence[int], packing: _Packing, rank_bits: int
) -> Bounded | None:
    """Return the tables for values of few enough bits; None if a part's value has too many."""
    table = np.zeros(grid.shape, dtype=np.int32)
    copies = tuple(np.zeros(grid.shape, dtype=np.int64) for _ in packing.offsets)
    for piece, _, row, column in grid.places:
        if packing.limits[piece] != 0:
            if values[piece] << rank_bits >= NARROW_MOST:
                return None
            value = values[piece] << rank_bits
            _offer_piece(grid, table, copies, packing, piece, value, row, column)
    for level in grid.x.levels:
        rows = slice(level.start, level.end)
        sweep = _Within(table, copies, packing, rank_bits)
        sweep.run(level, None if grid.may_split_x is None else grid.may_split_x[rows])
        turned = _Within(
            np.ascontiguousarray(table[rows].T),
            tuple(np.ascontiguousarray(word[rows].T) for word in copies),
            packing,
            rank_bits,
        )
        may = None if grid.may_split_y is None else grid.may_split_y[rows].T
        for down in grid.y.levels:
            turned.run(down, None if may is None else may[down.start : down.end])
        table[rows] = turned.table.T
        for word, part in zip(copies, turned.copies, strict=True):
            word[rows] = part.T
        if int(table[rows].max()) >= NARROW_MOST:
            return None
    return Bounded(table >> rank_bits, copies, packing, tuple(values))


@dataclass(frozen=True, slots=True)
class _Within:
    """Values, shifted so that a split's rank fits in beside, and copies; rows split by levels."""

    table: IntArray
    copies: tuple[IntArray, ...]
    packing: _Packing
    rank_bits: int

    def run(self, level: Level, allowed: NDArray[np.bool_] | None) -> None:
        """Let the rows of a level take the best sum of two finished rows within the limits."""
        for rows, splits in chunks(level, self.table.shape[1]):
            may = None if allowed is None else allowed[rows]
            row, column, pick, value = self._winners(level, rows, splits, may, None)
            over = self._over(level.first[row, pick], level.second[row, pick], column)
            self._take(level, ~over, row, column, pick, value)
            again = np.flatnonzero(over)
            if not len(again):
                continue
            if len(again) > CROWDED * (rows.stop - rows.start) * self.table.shape[1]:
                every = self._all_over(level, rows, splits)
                row, column, pick, value = self._winners(level, rows, splits, may, every)
                self._take(level, np.ones(len(row), dtype=bool), row, column, pick, value)
            else:
                self._look_again(level, splits, row[again], column[again])

    def _winners(
        self,
        level: Level,
        rows: slice,
        splits: slice,
        allowed: NDArray[np.bool_] | None,
        barred: NDArray[np.bool_] | None,
    ) -> tuple[IntArray, IntArray, IntArray, IntArray]:
        """Return row, column, split and worth wherever the best split beats what stands there."""
        sums = _sums(self.table, level, rows, splits)
        if barred is not None:
            sums[barred] = 0
        number = splits.stop - splits.start
        sums += np.arange(number - 1, -1, -1, dtype=np.int32)[:, np.newaxis]
        best = _halved(sums)
        rank = (1 << self.rank_bits) - 1
        worth = best & ~np.int32(rank)
        beats = worth > self.table[level.start + rows.start : level.start + rows.stop]
        if allowed is not None:
            beats &= allowed
        row, column = np.nonzero(beats)
        pick = splits.stop - 1 - (best[row, column] & rank)
        return row + rows.start, column, pick, worth[row, column]

    def _over(self, first: IntArray, second: IntArray, column: IntArray) -> NDArray[np.bool_]:
        """Return which sums of two parts exceed a limit; arrays of equal shape or broadcast."""
        over = np.zeros(np.broadcast_shapes(first.shape, column.shape), dtype=np.int64)
        fields = zip(self.copies, self.packing.offsets, self.packing.guards, strict=True)
        for word, offset, guard in fields:
            over |= (word[first, column] + word[second, column] + offset) & guard
        return np.not_equal(over, 0)

    def _all_over(self, level: Level, rows: slice, splits: slice) -> NDArray[np.bool_]:
        """Return which of a call's sums exceed a limit, shape ``(rows, splits, columns)``."""
        first, second = level.first[rows, splits], level.second[rows, splits]
        over = np.zeros((*first.shape, self.table.shape[1]), dtype=np.int64)
        fields = zip(self.copies, self.packing.offsets, self.packing.guards, strict=True)
        for word, offset, guard in fields:
            sums = np.take(word, first, axis=0)
            sums += np.take(word, second, axis=0)
            sums += offset
            sums &= guard
            over |= sums
        return np.not_equal(over, 0)

    def _look_again(self, level: Level, splits: slice, row: IntArray, column: IntArray) -> None:
        """Take the best split within the limits where the best of all is not."""
        at_once = max(1, CHUNK // (splits.stop - splits.start))
        for start in range(0, len(row), at_once):
            some = slice(start, start + at_once)
            first, second = level.first[row[some], splits], level.second[row[some], splits]
            where = column[some, np.newaxis]
            sums = self.table[first, where] + self.table[second, where]
            sums[self._over(first, second, where)] = -1
            pick = sums.argmax(axis=1)
            worth = sums[np.arange(len(pick)), pick]
            better = worth > self.table[level.start + row[some], column[some]]
            self._take(level, better, row[some], column[some], pick + splits.start, worth)

    def _take(
        self,
        level: Level,
        where: NDArray[np.bool_],
        row: IntArray,
        column: IntArray,
        pick: IntArray,
        worth: IntArray,
    ) -> None:
        row, column, pick = row[where], column[where], pick[where]
        first, second = level.first[row, pick], level.second[row, pick]
        self.table[level.start + row, column] = worth[where]
        for word in self.copies:
            word[level.start + row, column] = word[first, column] + word[second, column]


def _offer_piece(
    grid: Grid,
    table: IntArray,
    copies: Sequence[IntArray],
    packing: _Packing,
    piece: int,
    value: int,
    row: int,
    column: int,
) -> None:
    where = (
        (slice(row, row + 1), slice(column, column + 1))
        if grid.x.exact
        else (slice(row, None), slice(column, None))
    )
    better = table[where] < value
    table[where][better] = value
    for number, word in enumerate(copies):
        word[where][better] = packing.one[piece] if packing.word[piece] == number else 0


def trace_within(grid: Grid, bounded: Bounded, row: int, column: int) -> Tree:
    """Return a tree of cuts that reaches the value and the copies kept for one part."""
    worth = int(bounded.values[row, column])
    if worth == 0:
        return None
    for piece, turned, at_row, at_column in grid.places:
        if grid.holds(at_row, at_column, row, column) and bounded.holds_just(piece, row, column):
            return Place(piece, turned)
    for split in _splits(grid, row, column):
        same = bounded.values[split.one] + bounded.values[split.two] == worth
        for word in bounded.copies:
            same &= word[split.one] + word[split.two] == word[row, column]
        hit = np.flatnonzero(same)
        if len(hit):
            one, two = split.chosen(bounded.values, hit)
            return split.joined(
                trace_within(grid, bounded, *one), trace_within(grid, bounded, *two), one
            )
    raise AssertionError("a part's copies come from no split")
