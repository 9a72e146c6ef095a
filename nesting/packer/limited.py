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

from .collection import Collection, PartToCut, go_on, joined
from .layouts import Place, Split, counts_of
from .recursion import best_values, trace
from .within import best_within, trace_within

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from .grids import Grid
    from .layouts import Tree

    IntArray = NDArray[np.int64]

__all__ = ["BestLayout", "NearBest", "best_limited", "paying_layouts", "without_excess"]

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
            search.collect(most)
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
    check: Callable[[], None] = go_on,
) -> tuple[tuple[Tree, ...], float]:
    """Return layouts of one part that are worth more than `least`, and what it took to look.

    The layouts that the search for the best multipliers meets on its way: where the recursion that
    keeps one set of copies a part finds nothing any more, these still do. Parameters are those of
    `best_limited`, but that all of `work` goes into multipliers, and the grid may be any;
    `check` is called now and then, and may raise to end it.
    """
    search = _Search(
        grid, cell, tuple(values), tuple(limits), work / TIGHTEN_SHARE, least, check=check
    )
    # The first look within the limits was the caller's own.
    search.pays, search.within_from = least, WITHIN_EVERY - 1
    search.tighten()
    return tuple(search.found.values()), work / TIGHTEN_SHARE - search.work


class NearBest:
    """The layouts of one part, within limited copies, that are worth nearly the most.

    Parameters are as of `best_limited`; `check` is called now and then, and may raise to end it.

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
        check: Callable[[], None] = go_on,
    ) -> None:
        self._search = _Search(grid, cell, tuple(values), tuple(limits), work, check=check)
        self._search.tighten()
        self.upper = self._search.upper
        self.spent = work - self._search.work
        self.whole = True

    def worth(self, least: int, work: float, most: int, *, or_none: bool = False) -> list[Tree]:
        """Return every layout worth at least ``least``; some, where that takes too much: `whole`.

        Layouts that lie within another one are left out, and copies over the limits may be cut.

        Parameters
        ----------
        most
            How many sets of copies a part may have.
        or_none
            Whether to give up where these are not all.
        """
        if self.upper < least:
            return []
        search = self._search
        search.work, search.value = work, least - 1
        collection = search.collection(most, or_none=or_none)
        trees: list[Tree] = []
        if collection.run():
            worths = collection.worths(search.values)
            trees = [collection.tree(int(number)) for number in np.flatnonzero(worths >= least)]
        self.spent += work - collection.work
        self.whole = collection.is_whole
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
    check: Callable[[], None] = go_on

    def offer(self, tree: Tree) -> None:
        """Take a layout, its copies over the limits left uncut, if it is worth more."""
        tree = without_excess(tree, [*self.limits])
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
        self.check()
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

    def collection(self, most: int, *, or_none: bool = False) -> Collection:
        """Return the collection of what would be worth more, at the best multipliers."""
        assert self.table is not None
        gains = tuple(max(0, gain) for gain in self.charged(self.charges))
        part = PartToCut(self.grid, self.cell, self.limits, gains, self.table)
        least = (self.value + 1) * PARTS - self.allowance(self.charges)
        return Collection(part, least, most, self.work, or_none, self.check)

    def collect(self, most: int) -> None:
        """Collect the sets that would be worth more, and take the best; at its end none are left.

        Then no layout is worth more than the best one known, but for sets left out.
        """
        collection = self.collection(most)
        ended = collection.run()
        self.work = collection.work
        if not ended:
            return
        worths = collection.worths(self.values)
        if len(worths):
            self.offer(collection.tree(int(worths.argmax())))
        dropped = collection.dropped + self.allowance(self.charges) if collection.left_out else 0
        self.upper = min(self.upper, max(self.value, dropped // PARTS))


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


def without_excess(tree: Tree, left: list[int]) -> Tree:
    """Return the tree with the copies left uncut that exceed what is `left`, which it uses up."""
    if isinstance(tree, Place):
        if left[tree.piece] == 0:
            return None
        left[tree.piece] -= 1
        return tree
    if isinstance(tree, Split):
        first = without_excess(tree.first, left)
        return joined(tree.axis, tree.at, first, without_excess(tree.second, left))
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
        corner = joined(1 - self.axis, self.at[1 - self.axis], self.place, near)
        return joined(self.axis, self.at[self.axis], corner, far)


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
