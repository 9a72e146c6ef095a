"""Every set of copies of every part that could still lead to a layout worth enough.

Parts go from small to large. The sets of a part are made of those of two parts on both sides of a
cut; a set that lies within another one of the same part is left out, and one that even the best
completion does not bring to what is asked. All sets lie in a few long arrays, those of a part one
after the other, so that all cuts of a part are looked at together.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .layouts import Place, Split

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from .grids import Grid
    from .layouts import Tree

    IntArray = NDArray[np.int64]

__all__ = ["Collection", "PartToCut", "go_on", "joined"]

# Sets looked through for one within another, for each that is kept.
SPARE = 4
# Sets kept in all, and pairs joined at once: what memory holds.
MOST_KEPT = 4_000_000
MOST_PAIRS = 1_000_000
# Cuts with no more pairs of sets than these are looked at together, all pairs of each.
FEW_PAIRS = 64
BLOCK = 256
UNREACHED = np.iinfo(np.int64).min // 4
PLACED, EMPTY = -1, -2
# The set of a part of no size, and of one that nothing is cut from.
NOTHING = 0
# What a part, a cut with many pairs, a pair of sets joined, and a pair looked at for one within
# the other cost, and a part merely looked at, in the unit of the grid's work.
A_PART = 50_000
A_JOIN = 20_000
A_CANDIDATE = 60
A_PAIR = 1
LOOK = 20


def go_on() -> None:
    """Let work go on: nobody can end it."""


@dataclass(frozen=True, slots=True)
class PartToCut:
    """One part to be cut, and what pieces are worth, less what is charged for copies, if anything.

    Attributes
    ----------
    grid, cell
        The grid and the part's row and column.
    limits
        The most copies of each type.
    gains
        Of one piece of each type; not negative.
    table
        What each part is worth at most, as the recursion on `gains` gives it.
    """

    grid: Grid
    cell: tuple[int, int]
    limits: tuple[int, ...]
    gains: tuple[int, ...]
    table: IntArray

    def completions(self) -> IntArray:
        """Return for each part the most that the rest of the whole can be worth around it.

        Parts that no cuts of the whole give have a large negative value. Levels of rows go from
        large to small: a level is finished once all larger rows, and its own larger columns, have
        told it. No two splits of a part share a first or a second part, so that they can all be
        told at once.
        """
        grid, cell, table = self.grid, self.cell, self.table
        rest = np.full(grid.shape, UNREACHED, dtype=np.int64)
        rest[cell] = 0
        for level in reversed(grid.x.levels):
            rows = slice(level.start, min(level.end, cell[0] + 1))
            block, values = rest[rows].T.copy(), table[rows].T
            for column in range(cell[1], 0, -1):
                first, second = grid.y.splits[column]
                block[first] = np.maximum(block[first], block[column] + values[second])
                block[second] = np.maximum(block[second], block[column] + values[first])
            rest[rows] = block.T
            for row in range(rows.start, rows.stop):
                first, second = grid.x.splits[row]
                rest[first] = np.maximum(rest[first], rest[row] + table[second])
                rest[second] = np.maximum(rest[second], rest[row] + table[first])
        return rest

    def hopeful(self, rest: IntArray, least: int) -> IntArray:
        """Return the parts that could lead to `least` gains, with the most that is left around."""
        parts = np.argwhere(rest + self.table >= least)
        inside = (parts > 0).all(axis=1) & (parts <= np.array(self.cell)).all(axis=1)
        return np.asarray(parts[inside])

    def least_work(self, least: int) -> int:
        """Return what it takes at least to collect all sets that could lead to so much."""
        return A_PART * len(self.hopeful(self.completions(), least))


class _Fields:
    """Copies packed into words, a field a piece type, all of one width with one bit to spare.

    One addition adds all copies, one mask shows what exceeds its limit.
    """

    def __init__(self, limits: Sequence[int]) -> None:
        self.bits = max(limits, default=1).bit_length() + 1
        self.in_a_word = 62 // self.bits
        self.types = len(limits)
        self.words = -(-len(limits) // self.in_a_word)
        self.limits = self._packed(limits)
        self.slack = self._packed([(1 << (self.bits - 1)) - 1 - most for most in limits])
        self.guard = self._packed([1 << (self.bits - 1)] * len(limits))

    def _packed(self, counts: Sequence[int]) -> IntArray:
        words = [0] * self.words
        for piece, count in enumerate(counts):
            words[piece // self.in_a_word] += count << self._shift(piece)
        return np.array(words, dtype=np.int64)

    def _shift(self, piece: int) -> int:
        return piece % self.in_a_word * self.bits

    def one(self, piece: int) -> IntArray:
        """Return one copy of a piece."""
        return self._packed([int(number == piece) for number in range(self.types)])

    def over(self, copies: IntArray) -> IntArray:
        """Return the guard bits of what exceeds its limit, shape ``(n, words)``."""
        return np.asarray((copies + self.slack) & self.guard)

    def capped(self, copies: IntArray, over: IntArray) -> IntArray:
        """Return the copies, shape ``(n, words)``, with those over their limits left out."""
        full = over - (over >> (self.bits - 1))
        return np.asarray((copies & ~(full | over)) | (self.limits & full))

    def excess(self, copies: IntArray, over: IntArray, values: Sequence[int]) -> IntArray:
        """Return what the copies over their limits are worth, at some values of one copy each."""
        total = np.zeros(len(copies), dtype=np.int64)
        mask = (1 << self.bits) - 1
        anywhere = np.bitwise_or.reduce(over, axis=0).tolist()
        for piece, value in enumerate(values):
            word, shift = piece // self.in_a_word, self._shift(piece)
            if value and (anywhere[word] >> shift) & mask:
                most = (int(self.limits[word]) >> shift) & mask
                total += np.maximum(((copies[:, word] >> shift) & mask) - most, 0) * value
        return total

    def worth(self, copies: IntArray, values: Sequence[int]) -> IntArray:
        """Return what each row of copies is worth at some values of one copy each."""
        total = np.zeros(len(copies), dtype=np.int64)
        mask = (1 << self.bits) - 1
        for piece, value in enumerate(values):
            if value:
                word = copies[:, piece // self.in_a_word]
                total += ((word >> self._shift(piece)) & mask) * value
        return total

    def contained(self, copies: IntArray) -> tuple[NDArray[np.bool_], int]:
        """Return which rows lie, copy by copy, within an earlier one; and pairs looked at."""
        inside, looked = np.zeros(len(copies), dtype=bool), 0
        for start in range(1, len(copies), BLOCK):
            some = slice(start, min(start + BLOCK, len(copies)))
            earlier = np.flatnonzero(~inside[: some.stop])
            within = np.ones((some.stop - start, len(earlier)), dtype=bool)
            looked += within.size
            for word in range(self.words):
                larger = copies[earlier, word] | self.guard[word]
                spare = larger[np.newaxis, :] - copies[some, word][:, np.newaxis]
                within &= (spare & self.guard[word]) == self.guard[word]
            within &= earlier[np.newaxis, :] < np.arange(start, some.stop)[:, np.newaxis]
            inside[some] = within.any(axis=1)
        return inside, looked


class _Sets(NamedTuple):
    """Sets of copies, and how each is made.

    Attributes
    ----------
    gains
        Shape ``(n,)``.
    copies
        Packed, shape ``(n, words)``.
    come
        Shape ``(n, 4)``: the axis of the cut, the index of the first part along it, and the
        numbers of the sets on both sides; or `PLACED`, the place and two zeros; or `EMPTY`.
    """

    gains: IntArray
    copies: IntArray
    come: IntArray

    def of(self, chosen: IntArray | NDArray[np.bool_]) -> _Sets:
        """Return some of them."""
        return _Sets(self.gains[chosen], self.copies[chosen], self.come[chosen])


@dataclass(slots=True)
class _Store:
    """Every set kept, by number; the first is the empty one."""

    sets: _Sets
    length: int = 1

    @classmethod
    def of(cls, words: int) -> _Store:
        """Return a store that holds the empty set."""
        come = np.zeros((BLOCK, 4), dtype=np.int64)
        come[NOTHING, 0] = EMPTY
        gains, copies = np.zeros(BLOCK, dtype=np.int64), np.zeros((BLOCK, words), dtype=np.int64)
        return cls(_Sets(gains, copies, come))

    def keep(self, sets: _Sets) -> int:
        """Take sets; return the number of the first of them."""
        start, self.length = self.length, self.length + len(sets.gains)
        while self.length > len(self.sets.gains):
            self.sets = _Sets(*(np.concatenate([part, np.zeros_like(part)]) for part in self.sets))
        for held, taken in zip(self.sets, sets, strict=True):
            held[start : self.length] = taken
        return start


@dataclass(slots=True)
class _Cuts:
    """Cuts of one part: their axes, first parts, and the sets on both sides, by start and count."""

    axis: IntArray
    at: IntArray
    first: tuple[IntArray, IntArray]
    second: tuple[IntArray, IntArray]

    @property
    def pairs(self) -> IntArray:
        """Return how many pairs of sets each has."""
        return np.asarray(self.first[1] * self.second[1])

    def of(self, chosen: IntArray) -> _Cuts:
        """Return some of them."""
        first, second = (
            (start[chosen], count[chosen]) for start, count in (self.first, self.second)
        )
        return _Cuts(self.axis[chosen], self.at[chosen], first, second)

    def paired(self, pairs: IntArray) -> tuple[IntArray, IntArray, IntArray]:
        """Return all pairs of sets: the cut's number, and the two sets'."""
        (start, _), (other, count) = self.first, self.second
        if pairs.max() == 1:
            return np.arange(len(pairs)), start, other
        cut = np.repeat(np.arange(len(pairs)), pairs)
        ends = np.cumsum(pairs)
        left, right = np.divmod(np.arange(int(ends[-1])) - (ends - pairs)[cut], count[cut])
        return cut, start[cut] + left, other[cut] + right


@dataclass(slots=True)
class Collection:
    """Every set of copies of every part that could still lead to a layout worth enough.

    A set that lies within another one of the same part is left out: whatever can be made with it
    can be made with the other, its further copies left uncut. For the same reason copies over
    their limits do no harm; they are not counted.

    Attributes
    ----------
    whole
        What layouts are of.
    least
        What the gains of a layout must come to.
    most
        How many sets of copies a part may have.
    work
        What is left of the work that may be done.
    or_none
        Whether to give up as soon as anything has to be left out.
    check
        Called between parts; may raise, to end it.
    dropped
        The best bound of any set that was left out for want of room.
    left_out
        Whether any was.
    rest
        For each part the most that what is left around it can come to.
    """

    whole: PartToCut
    least: int
    most: int
    work: float
    or_none: bool = False
    check: Callable[[], None] = go_on
    dropped: int = field(default=0, init=False)
    left_out: bool = field(default=False, init=False)
    rest: IntArray = field(init=False)
    _fields: _Fields = field(init=False)
    _store: _Store = field(init=False)
    _start: IntArray = field(init=False)
    _count: IntArray = field(init=False)
    _top: IntArray = field(init=False)
    _gave_up: bool = field(default=False, init=False)
    _pieces: tuple[IntArray, IntArray, IntArray, IntArray] = field(init=False)
    _ones: IntArray = field(init=False)

    def __post_init__(self) -> None:
        whole, shape = self.whole, self.whole.grid.shape
        self.rest = whole.completions()
        self._fields = _Fields(whole.limits)
        self._store = _Store.of(self._fields.words)
        self._start, self._count = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
        self._top = np.full(shape, UNREACHED, dtype=np.int64)
        # A part of no size yields nothing, which a long part trimmed is joined with.
        self._top[0, :] = self._top[:, 0] = 0
        self._count[0, :] = self._count[:, 0] = 1
        places = [
            (number, row, column, whole.gains[piece])
            for number, (piece, _, row, column) in enumerate(whole.grid.places)
            if whole.limits[piece] > 0
        ]
        number, row, column, gain = np.array(places, dtype=np.int64).reshape(-1, 4).T
        self._pieces = number, row, column, gain
        ones = np.array([self._fields.one(piece) for piece in range(len(whole.limits))])
        of_place = [piece for piece, *_ in whole.grid.places]
        self._ones = ones[of_place] if of_place else ones

    @property
    def is_whole(self) -> bool:
        """Whether nothing had to be left out for want of room or work."""
        return not (self.left_out or self._gave_up)

    def run(self) -> bool:
        """Collect from small parts to large; return whether it came to its end.

        It is not begun where the parts alone would take more than there is left.
        """
        self.work -= self.whole.grid.work + LOOK * self.rest.size
        hopeful = self.whole.hopeful(self.rest, self.least)
        if A_PART * len(hopeful) > self.work:
            self._gave_up = True
            return False
        for row, column in hopeful.tolist():
            self.check()
            self._collect(row, column)
            if not self._may_go_on():
                self._gave_up = True
                return False
        return True

    def worths(self, values: Sequence[int]) -> IntArray:
        """Return what the whole part's sets are worth, each at some values of one copy."""
        return self._fields.worth(self._store.sets.copies[self._numbers(self.whole.cell)], values)

    def tree(self, number: int) -> Tree:
        """Return the tree of cuts behind one of the whole part's sets."""
        return self._tree(int(self._start[self.whole.cell]) + number)

    def _may_go_on(self) -> bool:
        if self.or_none and self.left_out:
            return False
        return self.work > 0 and self._store.length <= MOST_KEPT

    def _numbers(self, cell: tuple[int, int]) -> slice:
        start = int(self._start[cell])
        return slice(start, start + int(self._count[cell]))

    def _collect(self, row: int, column: int) -> None:
        """Collect the sets of one part."""
        rest = int(self.rest[row, column])
        made = self._made(row, column, self.least - rest)
        self.work -= A_PART + A_CANDIDATE * len(made.gains) * (self._fields.words + 1)
        if len(made.gains) > 1:
            made = self._few(made, rest)
        if len(made.gains):
            self._start[row, column] = self._store.keep(made)
            self._count[row, column] = len(made.gains)
            self._top[row, column] = made.gains[0]

    def _few(self, made: _Sets, rest: int) -> _Sets:
        """Return the sets by falling gain, none twice, none within another, and not too many."""
        order = np.lexsort((*-made.copies.T, -made.gains))
        copies = made.copies[order]
        order = order[np.append(True, (copies[1:] != copies[:-1]).any(axis=1))]
        order = self._cut_off(order, made.gains, rest, SPARE * self.most)
        if len(order) > 1:
            inside, looked = self._fields.contained(made.copies[order])
            self.work -= A_PAIR * looked * self._fields.words
            order = self._cut_off(order[~inside], made.gains, rest, self.most)
        return made.of(order)

    def _cut_off(self, order: IntArray, gains: IntArray, rest: int, most: int) -> IntArray:
        if len(order) > most:
            self.dropped = max(self.dropped, int(gains[order[most]]) + rest)
            self.left_out = True
        return order[:most]

    def _made(self, row: int, column: int, least: int) -> _Sets:
        """Return the sets, of enough gain, that pieces and cuts make of a part; some many times."""
        parts = [self._placed(row, column, least)]
        cuts = self._cuts(row, column, least)
        if cuts is not None:
            pairs = cuts.pairs
            few = np.flatnonzero(pairs <= FEW_PAIRS)
            if len(few) == len(pairs):
                parts.append(self._joined(cuts, *cuts.paired(pairs), least))
            else:
                some = cuts.of(few)
                parts += [self._joined(some, *some.paired(pairs[few]), least)] if len(few) else []
                parts += [
                    self._of_many(cuts.of(np.array([number])), row, column, least)
                    for number in np.flatnonzero(pairs > FEW_PAIRS).tolist()
                ]
        held = [part for part in parts if len(part.gains)]
        if len(held) == 1:
            return held[0]
        return _Sets(*(np.concatenate(same) for same in zip(*(held or parts[:1]), strict=True)))

    def _placed(self, row: int, column: int, least: int) -> _Sets:
        """Return the sets of one piece, or none, of enough gain."""
        numbers, rows, columns, gains = self._pieces
        fit = np.flatnonzero((rows <= row) & (columns <= column) & (gains >= least))
        number = numbers[fit]
        come = np.zeros((len(fit), 4), dtype=np.int64)
        come[:, 0], come[:, 1] = PLACED, number
        placed = _Sets(gains[fit], self._ones[number], come)
        if least > 0:
            return placed
        empty = self._store.sets.of(np.array([NOTHING]))
        return _Sets(*(np.concatenate(pair) for pair in zip(empty, placed, strict=True)))

    def _cuts(self, row: int, column: int, least: int) -> _Cuts | None:
        """Return the cuts of a part whose sides' best sets come to enough; None if there are none.

        A cut that would leave nothing on its second side is none, but may trim a part.
        """
        grid, found = self.whole.grid, []
        for axis, splits, at in ((0, grid.x.splits[row], column), (1, grid.y.splits[column], row)):
            if not grid.may_split(axis, row, column):
                continue
            side = (slice(None), at) if axis == 0 else (at, slice(None))
            top, (first, second) = self._top[side], splits
            hits = np.flatnonzero(top[first] + top[second] >= least)
            if len(hits):
                one, two = first[hits], second[hits]
                start, count = self._start[side], self._count[side]
                axes = np.full(len(hits), axis)
                found.append((axes, one, start[one], count[one], start[two], count[two]))
        if not found:
            return None
        if len(found) == 1:
            axes, ats, *sides = found[0]
        else:
            axes, ats, *sides = (np.concatenate(pair) for pair in zip(*found, strict=True))
        return _Cuts(axes, ats, (sides[0], sides[1]), (sides[2], sides[3]))

    def _joined(
        self, cuts: _Cuts, cut: IntArray, first: IntArray, second: IntArray, least: int
    ) -> _Sets:
        """Return the sets of pairs that come to enough, no copies over their limits."""
        held = self._store.sets
        gains = held.gains[first] + held.gains[second]
        enough = np.flatnonzero(gains >= least)
        if len(enough) < len(gains):
            cut, first, second = cut[enough], first[enough], second[enough]
            gains = gains[enough]
        copies = held.copies[first] + held.copies[second]
        come = np.stack([cuts.axis[cut], cuts.at[cut], first, second], axis=1)
        made = _Sets(gains, copies, come)
        over = self._fields.over(copies)
        if not over.any():
            return made
        gains = gains - self._fields.excess(copies, over, self.whole.gains)
        made = _Sets(gains, self._fields.capped(copies, over), come)
        return made.of(np.flatnonzero(gains >= least))

    def _of_many(self, cut: _Cuts, row: int, column: int, least: int) -> _Sets:
        """Return the sets of one cut with many on its sides: only the pairs that come to enough."""
        held = self._store.sets.gains
        (start, count), (other, others) = cut.first, cut.second
        one, two = int(start[0]), int(other[0])
        gains, partners = held[one : one + int(count[0])], held[two : two + int(others[0])]
        # Gains fall: a set pairs with so many of the other side's.
        pairs = np.searchsorted(-partners, gains - least, side="right")
        number = int(np.searchsorted(-pairs, 0, side="left"))
        pairs = pairs[:number]
        total = int(pairs.sum())
        self.work -= A_JOIN + A_CANDIDATE * total
        if total > MOST_PAIRS:
            # Too many to hold: the least promising pairs go, and count as left out.
            allowed = max(1, MOST_PAIRS // number)
            lost = pairs > allowed
            best = int((gains[:number][lost] + partners[allowed]).max())
            self.dropped = max(self.dropped, best + int(self.rest[row, column]))
            self.left_out = True
            pairs = np.minimum(pairs, allowed)
        left = np.repeat(np.arange(number), pairs)
        ends = np.cumsum(pairs)
        right = np.arange(len(left)) - np.repeat(ends - pairs, pairs)
        same = np.zeros(len(left), dtype=np.int64)
        return self._joined(cut, same, one + left, two + right, least)

    def _tree(self, number: int) -> Tree:
        axis, at, one, two = self._store.sets.come[number].tolist()
        if axis == EMPTY:
            return None
        grid = self.whole.grid
        if axis == PLACED:
            piece, turned = grid.places[at][:2]
            return Place(piece, turned)
        if not at:
            return self._tree(two)
        sizes = (grid.x if axis == 0 else grid.y).sizes
        return joined(axis, int(sizes[at]), self._tree(one), self._tree(two))


def joined(axis: int, at: int, first: Tree, second: Tree) -> Tree:
    """Return the tree of a cut; on reduced sizes an empty part need not be cut off."""
    if first is None or second is None:
        return first if second is None else second
    return Split(axis, at, first, second)
