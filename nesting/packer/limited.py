"""The best single layout within limited copies: exact where it ends, and a bound where it does not.

Three steps. Multipliers on the limits turn the problem into one of unlimited copies, which the
recursion solves exactly; the best of them, found by subgradients (Held, Wolfe and Crowder 1974,
Validation of subgradient optimization; from memory), give an upper bound, and the recursion that
keeps within the limits gives layouts. Then every part collects all sets of copies that it can
yield, from small parts to large, but for those that lie within another set, and those that even
the best completion, at the same multipliers, would not bring above the best layout known. The
first time each part keeps only a few sets, which soon finds good layouts, then more. Once nothing
had to be left out for want of room, the layout is best; else what was left out gives the bound.

Building layouts from small parts with such a bound on the rest follows Wang (1983), Two algorithms
for constrained two-dimensional cutting stock problems, and Viswanathan and Bagchi (1993),
Best-first search methods for constrained two-dimensional cutting stock problems (both from
memory); relaxing the limits in the recursion follows Christofides and Whitlock (1977).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from .layouts import Place, Split, counts_of
from .recursion import best_values, trace
from .within import best_within, trace_within

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from .grids import Grid
    from .layouts import Tree

    IntArray = NDArray[np.int64]

__all__ = ["BestLayout", "NearBest", "best_limited", "paying_layouts"]

# Multipliers are whole numbers of these parts of one unit of value.
PARTS = 1000
ROUNDS = 60
WITHIN_EVERY = 4
PATIENCE = 6
# Multipliers are tightened with at most this share of the work.
TIGHTEN_SHARE = 0.5
# Sets of copies kept of each part, in one collection after the other; the first find good
# layouts, and any of them proves the best one if it leaves none out.
MOST_SETS = (20, 200, 2000)
# Sets looked through for one within another, for each that is kept.
SPARE = 4
# Sets kept in all, and pairs joined at once: what memory holds.
MOST_KEPT = 4_000_000
MOST_PAIRS = 1_000_000
BLOCK = 256
UNREACHED = np.iinfo(np.int64).min // 4
PLACED, EMPTY = -1, -2
# What a part, a join, a pair of sets joined, and a pair looked at for one within the other cost,
# and a part merely looked at, in the unit of the grid's work.
A_PART = 300_000
A_JOIN = 30_000
A_CANDIDATE = 150
A_PAIR = 4
LOOK = 20


@dataclass(frozen=True, slots=True)
class BestLayout:
    """The most valuable layout found.

    Attributes
    ----------
    value
        What its pieces are worth.
    upper
        No layout within the limits is worth more.
    root
        Its tree of cuts; None for an empty one.
    counts
        Pieces of each type.
    spent
        What it took to find, in splits compared.
    """

    value: int
    upper: int
    root: Tree
    counts: tuple[int, ...]
    spent: float = field(default=0.0, compare=False)

    @property
    def proved(self) -> bool:
        """Whether no layout within the limits is worth more."""
        return self.value == self.upper


def best_limited(
    grid: Grid,
    cell: tuple[int, int],
    values: Sequence[int],
    limits: Sequence[int],
    work: float,
    better: Callable[[Tree, float], tuple[Tree, float]] | None = None,
) -> BestLayout:
    """Return the most valuable layout of one part with at most `limits` copies of each type.

    Parameters
    ----------
    grid
        A grid without a narrowest strip, as ``build_grid(instance, limited=False)`` gives it.
    cell
        The part's row and column.
    values
        Of one piece of each type; not negative, and below 2**40.
    work
        How much may be done, in splits compared: about `grid.work` for each of sixty pricings, and
        the rest for collecting sets of copies. The same work gives the same layout, always.
    better
        Told the best layout before sets are collected and the work that is left, returns one at
        least as good, and the work that it took.
    """
    search = _Search(grid, cell, tuple(values), tuple(limits), work)
    search.lay()
    search.tighten()
    if better is not None and search.value < search.upper and search.work > 0:
        tree, spent = better(search.root, search.work)
        search.work -= spent
        search.offer(tree)
    for most in MOST_SETS:
        if search.value < search.upper and search.work > 0:
            _Collection(search, most).run()
    return BestLayout(
        search.value,
        search.upper,
        search.root,
        counts_of(search.root, len(search.values)),
        work - search.work,
    )


def paying_layouts(
    grid: Grid,
    cell: tuple[int, int],
    values: Sequence[int],
    limits: Sequence[int],
    least: int,
    work: float,
) -> tuple[tuple[Tree, ...], float]:
    """Return layouts of one part that are worth more than `least`, and what it took to look.

    The layouts that the search for the best multipliers meets on its way: where the recursion that
    keeps one set of copies a part finds nothing any more, these still do. Parameters are those of
    `best_limited`, but that all of `work` goes into multipliers, and the grid may be any.
    """
    search = _Search(grid, cell, tuple(values), tuple(limits), work / TIGHTEN_SHARE, least)
    # The first look within the limits was the caller's own.
    search.pays, search.within_from = least, WITHIN_EVERY - 1
    search.tighten()
    return tuple(search.found.values()), work / TIGHTEN_SHARE - search.work


class NearBest:
    """The layouts of one part, within limited copies, that are worth nearly the most.

    Parameters are as of `best_limited`.

    Attributes
    ----------
    upper
        No layout is worth more.
    spent
        Work so far.
    whole
        Whether nothing had to be left out of the last list for want of room or work.
    """

    def __init__(
        self,
        grid: Grid,
        cell: tuple[int, int],
        values: Sequence[int],
        limits: Sequence[int],
        work: float,
    ) -> None:
        self._search = _Search(grid, cell, tuple(values), tuple(limits), work)
        self._search.tighten()
        self.upper = self._search.upper
        self.spent = work - self._search.work
        self.whole = True

    def worth(self, least: int, work: float, most: int) -> list[Tree]:
        """Return every layout worth at least ``least``; some, where that takes too much: `whole`.

        Layouts that lie within another one are left out, and copies over the limits may be cut.

        Parameters
        ----------
        most
            How many sets of copies a part may have.
        """
        if self.upper < least:
            return []
        search = self._search
        search.work, search.value = work, least - 1
        collection = _Collection(search, most)
        trees = collection.all_worth()
        self.spent += work - search.work
        self.whole = not collection.left_out and search.work > 0 and collection.kept <= MOST_KEPT
        return trees


@dataclass(slots=True)
class _Search:
    """The best layout and the best multipliers so far.

    Attributes
    ----------
    pays
        Layouts worth more than this are kept, one for the same copies; None to keep none.
    charges
        The best multipliers, in parts.
    table
        The recursion's values at those.
    """

    grid: Grid
    cell: tuple[int, int]
    values: tuple[int, ...]
    limits: tuple[int, ...]
    work: float
    value: int = 0
    upper: int = 0
    root: Tree = None
    pays: int | None = None
    within_from: int = 0
    found: dict[tuple[int, ...], Tree] = field(default_factory=dict)
    charges: tuple[int, ...] = ()
    table: IntArray | None = None

    def offer(self, tree: Tree) -> None:
        """Take a layout, its copies over the limits left uncut, if it is worth more."""
        tree = _without_excess(tree, [*self.limits])
        counts = counts_of(tree, len(self.values))
        worth = sum(value * n for value, n in zip(self.values, counts, strict=True))
        if self.pays is not None and worth > self.pays:
            self.found.setdefault(counts, tree)
        if worth > self.value:
            self.value, self.root = worth, tree

    def charged(self, charges: Sequence[int]) -> tuple[int, ...]:
        """Return the pieces' values less their charges, in parts; some may be negative."""
        return tuple(v * PARTS - c for v, c in zip(self.values, charges, strict=True))

    def allowance(self, charges: Sequence[int]) -> int:
        """Return what the charges give back for the limits, in parts."""
        return sum(c * most for c, most in zip(charges, self.limits, strict=True))

    def lay(self) -> None:
        """Gather first layouts, laid piece by piece: enough where nearly everything fits."""
        sizes: dict[int, tuple[int, int]] = {}
        for piece, _, row, column in self.grid.places:
            sizes[piece] = int(self.grid.x.sizes[row]), int(self.grid.y.sizes[column])
        orders: tuple[Callable[[int], float], ...] = (
            lambda piece: sizes[piece][0] * sizes[piece][1],
            lambda piece: max(sizes[piece]),
            lambda piece: min(sizes[piece]),
            lambda piece: self.values[piece] / (sizes[piece][0] * sizes[piece][1]),
        )
        for order in orders:
            pieces = sorted(sizes, key=order, reverse=True)
            self.offer(_laid(self.grid, self.cell, pieces, self.limits))

    def tighten(self) -> None:
        """Lower the upper bound by subgradient steps, and gather layouts on the way."""
        charges = [0.0] * len(self.values)
        length, idle = 1.0, 0
        floor = self.work * (1 - TIGHTEN_SHARE)
        # With every piece charged its whole value: all copies, and no room asked for.
        everything = sum(v * most for v, most in zip(self.values, self.limits, strict=True))
        least = None
        for round_number in range(ROUNDS):
            whole = tuple(round(charge) for charge in charges)
            bound, counts = self._priced(whole, keep_below=least)
            idle = 0 if least is None or bound < least else idle + 1
            least = bound if least is None else min(least, bound)
            self.upper = min(everything, least // PARTS)
            if round_number % WITHIN_EVERY == self.within_from:
                self._offer_within(whole)
            if self.value >= self.upper or self.work <= floor:
                return
            if idle >= PATIENCE:
                length, idle = length / 2, 0
            _move(charges, counts, self.limits, length * (bound - self.value * PARTS))

    def _priced(
        self, charges: tuple[int, ...], keep_below: int | None
    ) -> tuple[int, tuple[int, ...]]:
        """Return the bound at some charges, in parts, and the copies in the layout behind it."""
        worth = [max(0, value) for value in self.charged(charges)]
        table = best_values(self.grid, worth)
        self.work -= self.grid.work
        tree = trace(self.grid, worth, table, *self.cell)
        self.offer(tree)
        bound = int(table[self.cell]) + self.allowance(charges)
        if keep_below is None or bound < keep_below:
            self.charges, self.table = charges, table
        return bound, counts_of(tree, len(self.values))

    def _offer_within(self, charges: tuple[int, ...]) -> None:
        worth = [max(0, value) for value in self.charged(charges)]
        bounded = best_within(self.grid, worth, self.limits)
        self.work -= bounded.work
        self.offer(trace_within(self.grid, bounded, *self.cell))


def _move(
    charges: list[float], counts: Sequence[int], limits: Sequence[int], distance: float
) -> None:
    """Raise the charges of pieces over their limits, and lower those of the others."""
    over = [n - most for n, most in zip(counts, limits, strict=True)]
    # A piece that is not charged and not over its limit stays as it is.
    steep = [o if o > 0 or charge > 0 else 0 for o, charge in zip(over, charges, strict=True)]
    norm = sum(one * one for one in steep)
    if norm:
        for number, one in enumerate(steep):
            charges[number] = max(0.0, charges[number] + distance / norm * one)


def _completions(grid: Grid, cell: tuple[int, int], table: IntArray) -> IntArray:
    """Return for each part the most that the rest of ``cell`` can be worth around it.

    Parts that no cuts of the cell give have a large negative value. Levels of rows go from large
    to small: a level is finished once all larger rows, and its own larger columns, have told it.
    No two splits of a part share a first or a second part, so that they can all be told at once.
    """
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

    def capped(self, copies: IntArray) -> IntArray:
        """Return the copies, shape ``(n, words)``, with those over their limits left out."""
        over = (copies + self.slack) & self.guard
        full = over - (over >> (self.bits - 1))
        return np.asarray((copies & ~(full | over)) | (self.limits & full))

    def worth(self, copies: IntArray, values: Sequence[int]) -> IntArray:
        """Return what each row of copies is worth at some values of one copy each."""
        total = np.zeros(len(copies), dtype=np.int64)
        mask = (1 << self.bits) - 1
        for piece, value in enumerate(values):
            if value:
                word = copies[:, piece // self.in_a_word]
                total += ((word >> self._shift(piece)) & mask) * value
        return total

    def contained(self, copies: IntArray) -> NDArray[np.bool_]:
        """Return which rows lie, copy by copy, within an earlier one."""
        inside = np.zeros(len(copies), dtype=bool)
        for start in range(1, len(copies), BLOCK):
            some = slice(start, min(start + BLOCK, len(copies)))
            earlier = np.flatnonzero(~inside[: some.stop])
            within = np.ones((some.stop - start, len(earlier)), dtype=bool)
            for word in range(self.words):
                larger = copies[earlier, word] | self.guard[word]
                spare = larger[np.newaxis, :] - copies[some, word][:, np.newaxis]
                within &= (spare & self.guard[word]) == self.guard[word]
            within &= earlier[np.newaxis, :] < np.arange(start, some.stop)[:, np.newaxis]
            inside[some] = within.any(axis=1)
        return inside


@dataclass(frozen=True, slots=True)
class _Sets:
    """The sets of copies that one part can yield, the best gain first.

    Attributes
    ----------
    gains
        In parts, shape ``(n,)``.
    copies
        Packed, shape ``(n, words)``.
    come
        How each is made, shape ``(n, 5)``: axis, index of the first and of the second part along
        it, and the number of the set in each; or `PLACED`, the place and three zeros; or `EMPTY`.
    """

    gains: IntArray
    copies: IntArray
    come: IntArray


class _Collection:
    """Every set of copies of every part that could still lead to a better layout.

    A set that lies within another one of the same part is left out: whatever can be made with it
    can be made with the other, its further copies left uncut. For the same reason copies over
    their limits do no harm; they are not counted.
    """

    def __init__(self, search: _Search, most: int) -> None:
        assert search.table is not None
        self.search, self.grid, self.most = search, search.grid, most
        self.table = search.table
        self.rest = _completions(search.grid, search.cell, search.table)
        self.gain = [max(0, gain) for gain in search.charged(search.charges)]
        self.allowance = search.allowance(search.charges)
        self.fields = _Fields(search.limits)
        self.sets: dict[tuple[int, int], _Sets] = {}
        self.top = np.full(search.grid.shape, UNREACHED, dtype=np.int64)
        # A part of no size yields nothing, which a long part trimmed is joined with.
        self.top[0, :] = self.top[:, 0] = 0
        # The best bound of any set that was left out for want of room, in parts.
        self.dropped, self.left_out = 0, False
        self.kept = 0
        none = np.zeros((1, self.fields.words), dtype=np.int64)
        self.nothing = _Sets(np.zeros(1, dtype=np.int64), none, np.array([[EMPTY, 0, 0, 0, 0]]))
        self.ones = [self.fields.one(piece) for piece in range(len(self.gain))]

    def run(self) -> bool:
        """Collect from small parts to large; return whether it came to its end.

        Then no layout is worth more than the best one known, but for sets left out.
        """
        search = self.search
        search.work -= search.grid.work + LOOK * self.rest.size
        least = (search.value + 1) * PARTS - self.allowance
        hopeful = np.argwhere(self.rest + self.table >= least)
        for row, column in hopeful.tolist():
            if row and column and row <= search.cell[0] and column <= search.cell[1]:
                self._collect(row, column)
            if search.work <= 0 or self.kept > MOST_KEPT:
                return False
        root = self.sets.get(search.cell)
        if root is not None:
            true = self.fields.worth(root.copies, search.values)
            search.offer(self._tree(search.cell, int(true.argmax())))
        search.upper = min(search.upper, max(search.value, self.dropped // PARTS))
        return True

    def all_worth(self) -> list[Tree]:
        """Return the layouts worth more than the search's."""
        least = (self.search.value + 1) * PARTS - self.allowance
        for row, column in np.argwhere(self.rest + self.table >= least).tolist():
            if row and column and row <= self.search.cell[0] and column <= self.search.cell[1]:
                self._collect(row, column)
            if self.search.work <= 0 or self.kept > MOST_KEPT:
                return []
        root = self.sets.get(self.search.cell)
        if root is None:
            return []
        worth = self.fields.worth(root.copies, self.search.values)
        enough = np.flatnonzero(worth > self.search.value)
        return [self._tree(self.search.cell, number) for number in enough.tolist()]

    def _collect(self, row: int, column: int) -> None:
        """Collect the sets of one part."""
        least = (self.search.value + 1) * PARTS - self.allowance - int(self.rest[row, column])
        copies, come = self._candidates(row, column, least)
        self.search.work -= A_PART + A_CANDIDATE * len(copies) * (self.fields.words + 1)
        if not len(copies):
            return
        copies = self.fields.capped(copies)
        gains = self.fields.worth(copies, self.gain)
        order = np.lexsort((*-copies.T, -gains))
        order = order[gains[order] >= least]
        same = (copies[order[1:]] == copies[order[:-1]]).all(axis=1)
        order = order[np.concatenate([[True], ~same])] if len(order) else order
        order = self._cut_off(order, gains, row, column, SPARE * self.most)
        inside = self.fields.contained(copies[order])
        self.search.work -= A_PAIR * len(order) ** 2 * self.fields.words / 2
        order = self._cut_off(order[~inside], gains, row, column, self.most)
        if len(order):
            self.sets[row, column] = _Sets(gains[order], copies[order], come[order])
            self.top[row, column] = gains[order[0]]
            self.kept += len(order)

    def _cut_off(
        self, order: IntArray, gains: IntArray, row: int, column: int, most: int
    ) -> IntArray:
        if len(order) > most:
            bound = int(gains[order[most]] + self.rest[row, column]) + self.allowance
            self.dropped, self.left_out = max(self.dropped, bound), True
        return order[:most]

    def _candidates(self, row: int, column: int, least: int) -> tuple[IntArray, IntArray]:
        """Return copies and origins of all that pieces and splits make of a part."""
        copies: list[IntArray] = []
        come: list[IntArray] = []
        if least <= 0:
            copies.append(np.zeros((1, self.fields.words), dtype=np.int64))
            come.append(np.array([[EMPTY, 0, 0, 0, 0]]))
        for number, (piece, _, at_row, at_column) in enumerate(self.grid.places):
            inside = at_row <= row and at_column <= column
            if inside and self.search.limits[piece] > 0 and self.gain[piece] >= least:
                copies.append(self.ones[piece][np.newaxis, :])
                come.append(np.array([[PLACED, number, 0, 0, 0]]))
        for axis, splits in ((0, self.grid.x.splits[row]), (1, self.grid.y.splits[column])):
            if not self.grid.may_split(axis, row, column):
                continue
            line = self.top[:, column] if axis == 0 else self.top[row]
            first, second = splits
            hits = np.flatnonzero(line[first] + line[second] >= least)
            for one, two in zip(first[hits].tolist(), second[hits].tolist(), strict=True):
                self._join(axis, one, two, (row, column), least, copies, come)
        if not copies:
            none = np.zeros((0, self.fields.words), dtype=np.int64)
            return none, np.zeros((0, 5), dtype=np.int64)
        return np.concatenate(copies), np.concatenate(come)

    def _join(
        self, axis: int, one: int, two: int, cell: tuple[int, int], least: int,
        copies: list[IntArray], come: list[IntArray],
    ) -> None:  # fmt: skip
        """Add the pairs of sets on both sides of a cut that could pay."""
        first = self.sets[(one, cell[1]) if axis == 0 else (cell[0], one)] if one else self.nothing
        second = self.sets[(two, cell[1]) if axis == 0 else (cell[0], two)]
        # Gains fall: a set pairs with so many of the other side's.
        pairs = np.searchsorted(-second.gains, first.gains - least, side="right")
        number = int(np.searchsorted(-pairs, 0, side="left"))
        pairs = pairs[:number]
        total = int(pairs.sum())
        self.search.work -= A_JOIN + A_CANDIDATE * total
        if total > MOST_PAIRS:
            # Too many to hold: the least promising pairs go, and count as left out.
            allowed = max(1, MOST_PAIRS // number)
            lost = pairs > allowed
            best = int((first.gains[:number][lost] + second.gains[allowed]).max())
            self.dropped = max(self.dropped, best + int(self.rest[cell]) + self.allowance)
            self.left_out = True
            pairs = np.minimum(pairs, allowed)
        i = np.repeat(np.arange(number), pairs)
        ends = np.cumsum(pairs)
        j = np.arange(len(i)) - np.repeat(ends - pairs, pairs)
        copies.append(first.copies[i] + second.copies[j])
        origin = np.empty((len(i), 5), dtype=np.int64)
        origin[:, 0], origin[:, 1], origin[:, 2] = axis, one, two
        origin[:, 3], origin[:, 4] = i, j
        come.append(origin)

    def _tree(self, cell: tuple[int, int], number: int) -> Tree:
        """Return the tree of cuts behind one set of a part."""
        axis, one, two, first, second = self.sets[cell].come[number].tolist()
        if axis == EMPTY:
            return None
        if axis == PLACED:
            piece, turned = self.grid.places[one][:2]
            return Place(piece, turned)
        ways = ((one, cell[1]), (two, cell[1])) if axis == 0 else ((cell[0], one), (cell[0], two))
        if not one:
            return self._tree(ways[1], second)
        sizes = (self.grid.x if axis == 0 else self.grid.y).sizes
        return _joined(
            axis, int(sizes[one]), self._tree(ways[0], first), self._tree(ways[1], second)
        )


def _joined(axis: int, at: int, first: Tree, second: Tree) -> Tree:
    """Return the tree of a cut; on reduced sizes an empty part need not be cut off."""
    if first is None or second is None:
        return first if second is None else second
    return Split(axis, at, first, second)


def _without_excess(tree: Tree, left: list[int]) -> Tree:
    """Return the tree with the copies left uncut that exceed what is `left`, which it uses up."""
    if isinstance(tree, Place):
        if left[tree.piece] == 0:
            return None
        left[tree.piece] -= 1
        return tree
    if isinstance(tree, Split):
        first = _without_excess(tree.first, left)
        return _joined(tree.axis, tree.at, first, _without_excess(tree.second, left))
    return None


@dataclass(slots=True)
class _Room:
    """A part while a layout is laid piece by piece: bare, or a place with two rooms beside it."""

    width: int
    height: int
    place: Place | None = None
    axis: int = 0
    at: tuple[int, int] = (0, 0)
    beside: tuple[_Room, ...] = ()

    def lay(self, place: Place, width: int, height: int) -> tuple[_Room, ...]:
        """Lay a piece into the corner, the larger rest kept whole; return the rests."""
        wide, high = self.width - width, self.height - height
        self.place, self.at = place, (width, height)
        # The first cut runs along the whole of the larger rest.
        self.axis = 0 if wide * self.height >= high * self.width else 1
        if self.axis == 0:
            self.beside = (_Room(wide, self.height), _Room(width, high))
        else:
            self.beside = (_Room(self.width, high), _Room(wide, height))
        return self.beside

    def tree(self) -> Tree:
        """Return the tree of cuts."""
        if self.place is None:
            return None
        far, near = (room.tree() for room in self.beside)
        corner = _joined(1 - self.axis, self.at[1 - self.axis], self.place, near)
        return _joined(self.axis, self.at[self.axis], corner, far)


def _laid(grid: Grid, cell: tuple[int, int], pieces: Sequence[int], limits: Sequence[int]) -> Tree:
    """Return a layout of the pieces in that order, each in the smallest room that takes it."""
    whole = _Room(int(grid.x.sizes[cell[0]]), int(grid.y.sizes[cell[1]]))
    rooms = [whole]
    ways: dict[int, list[tuple[Place, int, int]]] = {}
    for piece, turned, row, column in grid.places:
        size = int(grid.x.sizes[row]), int(grid.y.sizes[column])
        ways.setdefault(piece, []).append((Place(piece, turned), *size))
    for piece in pieces:
        for _ in range(limits[piece]):
            fits = [
                (room.width * room.height, number, room, way)
                for number, room in enumerate(rooms)
                for way in ways.get(piece, ())
                if way[1] <= room.width and way[2] <= room.height
            ]
            if not fits:
                break
            _, number, room, way = min(fits, key=lambda fit: fit[:2])
            rooms[number : number + 1] = [r for r in room.lay(*way) if r.width and r.height]
    return whole.tree()
