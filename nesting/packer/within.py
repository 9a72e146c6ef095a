"""Good layouts within given numbers of copies, over a grid of part sizes.

The recursion of `recursion`, where each part keeps one set of copies, the best found, and sums
that exceed a limit are refused. It is a heuristic: every value is reached by some layout, but a
better one may be missed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .layouts import Place
from .recursion import NARROW_MOST, splits_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .fronts import Front, Index
    from .grids import Grid
    from .layouts import Tree
    from .recursion import IntArray

__all__ = ["WITHIN_WORK", "Bounded", "best_within", "trace_within"]

# What pricing within limits costs against pricing without, as measured.
WITHIN_WORK = 3


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

    Parameters
    ----------
    values
        Of one piece of each type; rounded to so many bits that a part's value and the number of
        a split fit into 32.
    limits
        None where no part can hold more than there may be.
    """
    rank_bits = max(1, grid.most_splits.bit_length())
    shift = _spare_bits(grid, values, rank_bits)
    while True:
        coarse = [value >> shift for value in values]
        bounded = _priced(grid, coarse, _pack_fields(limits), rank_bits)
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


def _priced(grid: Grid, values: Sequence[int], packing: _Packing, rank_bits: int) -> Bounded | None:
    """Return the tables for values of few enough bits; None if a part's value has too many."""
    table = np.zeros(grid.shape, dtype=np.int32)
    copies = tuple(np.zeros(grid.shape, dtype=np.int64) for _ in packing.offsets)
    for piece, _, row, column in grid.places:
        if packing.limits[piece] != 0:
            if values[piece] << rank_bits >= NARROW_MOST:
                return None
            value = values[piece] << rank_bits
            _offer_piece(grid, table, copies, packing, piece, value, row, column)
    work = _Within(table.ravel(), tuple(word.ravel() for word in copies), packing, rank_bits)
    for front in grid.fronts():
        if not work.price(front):
            return None
    return Bounded(table >> rank_bits, copies, packing, tuple(values))


@dataclass(frozen=True, slots=True)
class _Within:
    """Values, shifted so that a split's rank fits in beside, and copies; both laid out flat."""

    values: IntArray
    copies: tuple[IntArray, ...]
    packing: _Packing
    rank_bits: int

    def price(self, front: Front) -> bool:
        """Let each part take its best split within the limits; return whether values are small."""
        sums = self.values.take(front.first)
        sums += self.values.take(front.second)
        sums += front.ranks
        best = np.maximum.reduceat(sums, front.starts)
        part, pick, worth = self._better(front, best, slice(None))
        over = self._over(front.first[pick], front.second[pick])
        if over.any():
            again = part[over]
            part, pick, worth = part[~over], pick[~over], worth[~over]
            self._take(front, part, pick, worth)
            part, pick, worth = self._next_best(front, sums, again)
        self._take(front, part, pick, worth)
        return int(self.values.take(front.cells).max()) < NARROW_MOST

    def _better(
        self, front: Front, best: IntArray, parts: Index | slice
    ) -> tuple[Index, Index, IntArray]:
        """Return the parts whose best split beats what they hold, the split, and its worth."""
        rank = (1 << self.rank_bits) - 1
        worth = best & ~np.int32(rank)
        hits = np.flatnonzero(worth > self.values[front.cells[parts]])
        part = hits if isinstance(parts, slice) else parts[hits]
        last = front.starts[part] + front.lengths[part] - 1
        return part, last - (best[hits] & rank), worth[hits]

    def _next_best(
        self, front: Front, sums: IntArray, parts: Index
    ) -> tuple[Index, Index, IntArray]:
        """Return the best splits of some parts among those that exceed no limit."""
        lengths = front.lengths[parts]
        begins = np.cumsum(lengths) - lengths
        splits = np.arange(int(lengths.sum())) + np.repeat(front.starts[parts] - begins, lengths)
        some = sums[splits]
        some[self._over(front.first[splits], front.second[splits])] = 0
        return self._better(front, np.maximum.reduceat(some, begins), parts)

    def _over(self, first: Index, second: Index) -> NDArray[np.bool_]:
        """Return which sums of two parts exceed a limit."""
        over = np.zeros(len(first), dtype=np.int64)
        fields = zip(self.copies, self.packing.offsets, self.packing.guards, strict=True)
        for word, offset, guard in fields:
            both = word.take(first)
            both += word.take(second)
            both += offset
            both &= guard
            over |= both
        return np.not_equal(over, 0)

    def _take(self, front: Front, part: Index, pick: Index, worth: IntArray) -> None:
        cells, first, second = front.cells[part], front.first[pick], front.second[pick]
        self.values[cells] = worth
        for word in self.copies:
            word[cells] = word[first] + word[second]


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
    for split in splits_of(grid, row, column):
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
