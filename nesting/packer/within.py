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
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from .fronts import Front, Index
    from .grids import Grid
    from .layouts import Tree
    from .recursion import IntArray

    Cells = tuple[IntArray, IntArray]

__all__ = ["Bounded", "best_within", "trace_within", "traces_within", "work_within"]

# What pricing within limits counts as against pricing without, which is more than it has come to
# cost: so much, and once more for each word of copies; and so many times that where the grid's
# splits are laid out anew.
WITHIN_WORK, LAID_OUT_WORK = 2, 3
# Between so many fronts somebody may ask to end.
FRONTS_A_CHECK = 32
# A part of no size: nothing comes of it.
NOTHING = 0


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
    pieces
        The one piece worth most in each part, -1 where none fits; of the shape of `values`.
    work
        What it cost to find them, in splits compared by levels.
    """

    values: IntArray
    copies: tuple[IntArray, ...]
    fields: _Packing
    worths: tuple[int, ...]
    pieces: Index
    work: int

    def holding(self, counts: Sequence[int]) -> NDArray[np.bool_]:
        """Return which parts hold just these copies, of types that have a limit."""
        packed = [0] * len(self.copies)
        for count, number, one in zip(counts, self.fields.word, self.fields.one, strict=True):
            if number >= 0:
                packed[number] += count * one
        same = [word == whole for word, whole in zip(self.copies, packed, strict=True)]
        return np.asarray(np.logical_and.reduce(same))

    def together(self, one: Cells, two: Cells) -> IntArray:
        """Return what pairs of parts are worth, nothing where both exceed a limit together."""
        sums = self.values[one] + self.values[two]
        fields = zip(self.copies, self.fields.offsets, self.fields.guards, strict=True)
        for word, offset, guard in fields:
            sums[((word[one] + word[two] + offset) & guard) != 0] = 0
        return sums

    def single(self, row: int, column: int) -> int:
        """Return the piece that a part is kept for and nothing else; -1 if it is split."""
        piece = int(self.pieces[row, column])
        # A split is kept only if it is worth more than any one piece.
        return piece if int(self.values[row, column]) == self.worths[piece] else -1


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


def work_within(grid: Grid, limits: Sequence[int | None]) -> int:
    """Return what `best_within` would cost, in splits compared by levels."""
    return _work(grid, len(_pack_fields(limits).offsets))


def best_within(
    grid: Grid,
    values: Sequence[int],
    limits: Sequence[int | None],
    check: Callable[[], None] | None = None,
) -> Bounded:
    """Return good values of every part with at most `limits` copies of each type.

    Parameters
    ----------
    values
        Of one piece of each type; rounded to so many bits that a part's value and the number of
        a split fit into 32.
    limits
        None where no part can hold more than there may be.
    check
        Called now and then; what it raises ends the pricing.
    """
    rank_bits = max(1, grid.most_splits.bit_length())
    shift = _spare_bits(grid, values, rank_bits)
    while True:
        coarse = [value >> shift for value in values]
        bounded = _priced(grid, coarse, _pack_fields(limits), rank_bits, check)
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


def _priced(
    grid: Grid,
    values: Sequence[int],
    packing: _Packing,
    rank_bits: int,
    check: Callable[[], None] | None,
) -> Bounded | None:
    """Return the tables for values of few enough bits; None if a part's value has too many."""
    most = max(
        (v for v, limit in zip(values, packing.limits, strict=True) if limit != 0), default=0
    )
    if most << rank_bits >= NARROW_MOST:
        return None
    best = _best_pieces(grid, values, packing.limits)
    table = np.append(values, 0).astype(np.int32)[best] << rank_bits
    copies = _copies_of_one(packing, best)
    work = _Within.of(table, copies, packing, rank_bits)
    for number, front in enumerate(grid.fronts()):
        if check is not None and number % FRONTS_A_CHECK == 0:
            check()
        if not work.price(front):
            return None
    return Bounded(
        table >> rank_bits, copies, packing, tuple(values), best, _work(grid, len(copies))
    )


def _work(grid: Grid, words: int) -> int:
    times = WITHIN_WORK + words
    return grid.work * (times if grid.keeps_fronts else times * LAID_OUT_WORK)


def _best_pieces(grid: Grid, values: Sequence[int], limits: Sequence[int | None]) -> Index:
    """Return the piece worth most in each part, of equals the first; -1 where none fits.

    So that one sweep serves all pieces, they are told apart by their rank in worth.
    """
    wanted = [n for n, limit in enumerate(limits) if limit != 0 and values[n] > 0]
    ranked = sorted(wanted, key=lambda piece: (values[piece], -piece))
    ranks = {piece: rank for rank, piece in enumerate(ranked, start=1)}
    table = np.zeros(grid.shape, dtype=np.intp)
    for piece, _, row, column in grid.places:
        table[row, column] = max(table[row, column], ranks.get(piece, 0))
    if not grid.x.exact:
        np.maximum.accumulate(table, axis=0, out=table)
        np.maximum.accumulate(table, axis=1, out=table)
    return np.array([-1, *ranked], dtype=np.intp)[table]


def _copies_of_one(packing: _Packing, best: Index) -> tuple[IntArray, ...]:
    """Return the packed copies of one of each part's piece, a table a word."""
    word, one = np.array([*packing.word, -1]), np.array([*packing.one, 0], dtype=np.int64)
    return tuple(np.where(word == number, one, 0)[best] for number in range(len(packing.offsets)))


@dataclass(frozen=True, slots=True)
class _Within:
    """Values, shifted so that a split's rank fits in beside, and copies; both laid out flat.

    Attributes
    ----------
    raised
        The copies again, each word's offset added: one of these and one of `copies` add up to a
        word whose guards show which types exceed their limits.
    """

    values: IntArray
    copies: tuple[IntArray, ...]
    raised: tuple[IntArray, ...]
    packing: _Packing
    rank_bits: int

    @classmethod
    def of(
        cls, table: IntArray, copies: tuple[IntArray, ...], packing: _Packing, rank_bits: int
    ) -> _Within:
        """Start from tables of the best single pieces; pricing changes them."""
        flat = tuple(word.ravel() for word in copies)
        raised = tuple(word + offset for word, offset in zip(flat, packing.offsets, strict=True))
        return cls(table.ravel(), flat, raised, packing, rank_bits)

    def price(self, front: Front) -> bool:
        """Let each part take its best split within the limits; return whether values are small.

        Where both of a split's parts together would exceed one, the one worth more is cut, and the
        other left. All splits are asked, since finding those worth asking takes as long.
        """
        over = self._over(front.first, front.second)
        one, two = self.values.take(front.first), self.values.take(front.second)
        sums = one + two
        np.copyto(sums, np.maximum(one, two, out=one), where=over)
        sums += front.ranks
        best = np.maximum.reduceat(sums, front.starts)
        ranks = best & ((1 << self.rank_bits) - 1)
        best -= ranks
        part = np.flatnonzero(best > self.values.take(front.cells))
        if not len(part):
            return True
        worth = best[part]
        pick = front.starts[part] + front.lengths[part] - 1 - ranks[part]
        first, second = front.first[pick], front.second[pick]
        self._leave_one(first, second, np.flatnonzero(over[pick]))
        self._take(front.cells[part], first, second, worth)
        return int(worth.max()) < NARROW_MOST

    def _over(self, first: Index, second: Index) -> NDArray[np.bool_]:
        """Return which sums of two parts exceed a limit."""
        over = np.zeros(len(first), dtype=np.bool_)
        fields = zip(self.copies, self.raised, self.packing.guards, strict=True)
        for word, raised, guard in fields:
            both = raised.take(first)
            both += word.take(second)
            both &= guard
            over |= both != 0
        return over

    def _leave_one(self, first: Index, second: Index, over: Index) -> None:
        """Let some splits, by number, be cut for the part worth more alone."""
        one, two = first[over], second[over]
        first[over] = np.where(self.values[one] >= self.values[two], one, two)
        second[over] = NOTHING

    def _take(self, cells: Index, first: Index, second: Index, worth: IntArray) -> None:
        self.values[cells] = worth
        fields = zip(self.copies, self.raised, self.packing.offsets, strict=True)
        for word, raised, offset in fields:
            both = word[first] + word[second]
            word[cells] = both
            raised[cells] = both + offset


def trace_within(grid: Grid, bounded: Bounded, row: int, column: int) -> Tree:
    """Return a tree of cuts that reaches the value and the copies kept for one part."""
    worth = int(bounded.values[row, column])
    if worth == 0:
        return None
    piece = bounded.single(row, column)
    if piece >= 0:
        return Place(piece, grid.turned(piece, row, column))
    return _traced_splits(grid, bounded, row, column) or _traced_half(grid, bounded, row, column)


def traces_within(grid: Grid, bounded: Bounded, cell: tuple[int, int], most: int) -> Iterator[Tree]:
    """Yield the tree kept for a part, then the best by up to ``most - 1`` other first cuts.

    Each keeps within the limits; they come with falling worth.
    """
    yield trace_within(grid, bounded, *cell)
    ways = [
        (-int(sums[number]), split.axis, int(number), split)
        for split in splits_of(grid, *cell)
        for sums in [bounded.together(split.one, split.two)]
        for number in np.argsort(-sums, kind="stable")[:most]
    ]
    ways.sort(key=lambda way: way[:3])
    for worth, _, number, split in ways[1:most]:
        if worth == 0:
            return
        one, two = split.chosen(bounded.values, np.array([number]))
        yield split.joined(
            trace_within(grid, bounded, *one), trace_within(grid, bounded, *two), one
        )


def _traced_splits(grid: Grid, bounded: Bounded, row: int, column: int) -> Tree:
    """Return the tree of a split whose parts together make what is kept; None if there is none."""
    worth = int(bounded.values[row, column])
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
    return None


def _traced_half(grid: Grid, bounded: Bounded, row: int, column: int) -> Tree:
    """Return the tree of a split of which one part makes all that is kept, the other left."""
    worth = int(bounded.values[row, column])
    for split in splits_of(grid, row, column):
        for half in (split.one, split.two):
            same = bounded.values[half] == worth
            for word in bounded.copies:
                same &= word[half] == word[row, column]
            hit = np.flatnonzero(same)
            if len(hit):
                part = int(half[0][hit[0]]), int(half[1][hit[0]])
                return split.joined(trace_within(grid, bounded, *part), None, part)
    raise AssertionError("a part's copies come from no split")
