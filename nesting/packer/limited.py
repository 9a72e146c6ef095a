"""The best single layout within limited copies: exact where it ends, and a bound where it does not.

Three steps. Multipliers on the limits turn the problem into one of unlimited copies, which the
recursion solves exactly; the best of them, found by subgradients (Held, Wolfe and Crowder 1974,
Validation of subgradient optimization; from memory), give an upper bound, and the recursion that
keeps within the limits gives layouts. Then every part collects all sets of copies that it can
yield, from small parts to large, but for those that even the best completion, at the same
multipliers, would not bring above the best layout known. If that ends, the layout is best.

Building layouts from small parts with such a bound on the rest follows Wang (1983), Two algorithms
for constrained two-dimensional cutting stock problems, and Viswanathan and Bagchi (1993),
Best-first search methods for constrained two-dimensional cutting stock problems (both from
memory); relaxing the limits in the recursion follows Christofides and Whitlock (1977).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .layouts import Place, Split, counts_of
from .recursion import best_values, best_within, trace, trace_within

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .grids import Grid
    from .layouts import Tree

    IntArray = NDArray[np.int64]

__all__ = ["BestLayout", "best_limited"]

# Multipliers are whole numbers of these parts of one unit of value.
PARTS = 1000
ROUNDS = 60
WITHIN_EVERY = 4
PATIENCE = 6
# How many splits one sum of two sets of copies costs as much as, in the unit of the grid's work.
SPLITS_A_SUM = 1000


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
    """

    value: int
    upper: int
    root: Tree
    counts: tuple[int, ...]

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
) -> BestLayout:
    """Return the most valuable layout of one part with at most `limits` copies of each type.

    Parameters
    ----------
    grid
        A grid without the tool's limits, as ``build_grid(instance, limited=False)`` gives it.
    cell
        The part's row and column.
    values
        Of one piece of each type; not negative, and below 2**40.
    work
        How much may be done, in splits compared: about `grid.work` for each of sixty pricings, and
        the rest for collecting sets of copies. The same work gives the same layout, always.
    """
    search = _Search(grid, cell, tuple(values), tuple(limits), work)
    search.tighten()
    if search.value < search.upper:
        _Collection(search).run()
    return BestLayout(
        search.value, search.upper, search.root, counts_of(search.root, len(search.values))
    )


@dataclass(slots=True)
class _Search:
    """The best layout and the best multipliers so far.

    Attributes
    ----------
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
    charges: tuple[int, ...] = ()
    table: IntArray | None = None

    def offer(self, tree: Tree) -> None:
        """Take a layout if it keeps within the limits and is worth more."""
        counts = counts_of(tree, len(self.values))
        if any(n > most for n, most in zip(counts, self.limits, strict=True)):
            return
        worth = sum(value * n for value, n in zip(self.values, counts, strict=True))
        if worth > self.value:
            self.value, self.root = worth, tree

    def charged(self, charges: Sequence[int]) -> tuple[int, ...]:
        """Return the pieces' values less their charges, in parts; some may be negative."""
        return tuple(v * PARTS - c for v, c in zip(self.values, charges, strict=True))

    def allowance(self, charges: Sequence[int]) -> int:
        """Return what the charges give back for the limits, in parts."""
        return sum(c * most for c, most in zip(charges, self.limits, strict=True))

    def tighten(self) -> None:
        """Lower the upper bound by subgradient steps, and gather layouts on the way."""
        charges = [0.0] * len(self.values)
        length, idle = 1.0, 0
        least = None
        for round_number in range(ROUNDS):
            whole = tuple(round(charge) for charge in charges)
            bound, counts = self._priced(whole, keep_below=least)
            idle = 0 if least is None or bound < least else idle + 1
            least = bound if least is None else min(least, bound)
            self.upper = least // PARTS
            if round_number % WITHIN_EVERY == 0:
                self._offer_within(whole)
            if self.value >= self.upper or self.work <= 0:
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
        self.work -= 2 * self.grid.work
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

    Parts that no cuts of the cell give have a large negative value.
    """
    rest = np.full(grid.shape, np.iinfo(np.int64).min // 4, dtype=np.int64)
    rest[cell] = 0
    for row in range(cell[0], 0, -1):
        for column in range(cell[1], 0, -1):
            first, second = grid.y.splits[column]
            if len(first):
                here = rest[row, column]
                np.maximum.at(rest[row], first, here + table[row, second])
                np.maximum.at(rest[row], second, here + table[row, first])
        for one, two in zip(*grid.x.splits[row], strict=True):
            np.maximum(rest[one], rest[row] + table[two], out=rest[one])
            np.maximum(rest[two], rest[row] + table[one], out=rest[two])
    return rest


class _Collection:
    """Every set of copies of every part that could still lead to a better layout.

    Copies are packed into one whole number, a field a piece type with one bit to spare, so that
    one addition adds all and one mask shows whether any exceeds its limit.
    """

    def __init__(self, search: _Search) -> None:
        assert search.table is not None
        self.search = search
        self.grid = search.grid
        self.rest = _completions(search.grid, search.cell, search.table)
        self.gain = search.charged(search.charges)
        self.allowance = search.allowance(search.charges)
        self.one: list[int] = []
        self.slack = self.guard = shift = 0
        for most in search.limits:
            bits = most.bit_length() + 1
            self.one.append(1 << shift)
            self.slack |= ((1 << (bits - 1)) - 1 - most) << shift
            self.guard |= 1 << (shift + bits - 1)
            shift += bits
        # By part: gain in parts, copies, tree; the best gain first.
        self.sets: dict[tuple[int, int], list[tuple[int, int, Tree]]] = {}

    def run(self) -> None:
        """Collect from small parts to large; if that ends, the best layout is proved."""
        rows, columns = self.search.cell
        for row in range(1, rows + 1):
            for column in range(1, columns + 1):
                self.sets[row, column] = self._collected(row, column)
                if self.search.work <= 0:
                    return
        self.search.upper = self.search.value

    def _least(self, row: int, column: int) -> int:
        """Return the gain from which on a set of a part could lead to a better layout."""
        better = (self.search.value + 1) * PARTS
        return better - self.allowance - int(self.rest[row, column])

    def _collected(self, row: int, column: int) -> list[tuple[int, int, Tree]]:
        least = self._least(row, column)
        found: dict[int, tuple[int, Tree]] = {}
        if least <= 0:
            found[0] = (0, None)
        for piece, turned, at_row, at_column in self.grid.places:
            inside = self.grid.holds(at_row, at_column, row, column)
            if inside and self.search.limits[piece] > 0 and self.gain[piece] >= least:
                found[self.one[piece]] = (self.gain[piece], Place(piece, turned))
        for axis, axis_of in ((0, self.grid.x), (1, self.grid.y)):
            firsts, seconds = axis_of.splits[row if axis == 0 else column]
            for first, second in zip(firsts.tolist(), seconds.tolist(), strict=True):
                one = self.sets[(first, column) if axis == 0 else (row, first)]
                two = self.sets[(second, column) if axis == 0 else (row, second)]
                if one and two and one[0][0] + two[0][0] >= least:
                    self._join(axis, int(axis_of.sizes[first]), one, two, least, found)
        for _, tree in found.values():
            self.search.offer(tree)
        ordered = sorted(((gain, copies) for copies, (gain, _) in found.items()), reverse=True)
        return [(gain, copies, found[copies][1]) for gain, copies in ordered]

    def _join(
        self,
        axis: int,
        at: int,
        one: list[tuple[int, int, Tree]],
        two: list[tuple[int, int, Tree]],
        least: int,
        found: dict[int, tuple[int, Tree]],
    ) -> None:
        """Add the sets of both sides of a cut, pair by pair, while the pairs could pay."""
        tried = 0
        for gain, copies, tree in one:
            if gain + two[0][0] < least:
                break
            for other_gain, other_copies, other in two:
                if gain + other_gain < least:
                    break
                tried += 1
                both = copies + other_copies
                if both not in found and not (both + self.slack) & self.guard:
                    joined = _joined(axis, at, tree, other)
                    found[both] = (gain + other_gain, joined)
        self.search.work -= tried * SPLITS_A_SUM


def _joined(axis: int, at: int, first: Tree, second: Tree) -> Tree:
    """Return the tree of a cut; on reduced sizes an empty part need not be cut off."""
    if first is None or second is None:
        return first if second is None else second
    return Split(axis, at, first, second)
