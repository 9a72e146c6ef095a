"""Layouts of those pieces alone that have a value: few, where large pieces settle everything.

Small pieces that fit into what large ones leave get no value from the master. Without them, all
layouts that a plan of some cost could use can often be listed: what each costs more than it is
worth is no more than what the plan may cost above the worth of all pieces. If no choice of these
*skeletons* covers the pieces that have a value, no plan costs so little; a choice that does is a
plan, but for the small pieces.

To leave out what costs too much for its worth is reduced-cost fixing (Crowder, Johnson and Padberg
1983, Solving large-scale zero-one linear programming problems; from memory).
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from .bounds import rate
from .collection import PartToCut
from .fill import starting_values, whole_values
from .grids import exact_grid
from .layouts import Layout, Place, Split, caps, counts_of
from .limited import NearBest, without_excess
from .recursion import best_values
from .refill import refilled
from .running import SPLITS_A_SECOND
from .within import best_within

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .layouts import Tree
    from .recursion import IntArray
    from .running import Budget

__all__ = ["Skeletons", "completed", "skeletons"]

# A piece that is worth less than this share of the dearest source counts as without value.
NOTHING = 1e-6
# Sets of copies of a part, and pricings for what limited copies are worth at most, which may take
# so much of the budget.
MOST_SETS, TIGHTENINGS, TIGHTENING_SHARE = 2000, 8, 0.25
# Limits on copies leave fewer parts to look at than there are without, at best so many times.
MOST_TIGHTENED = 4
# How many skeletons are completed at once, and what it takes to look through one for room.
MOST_COMPLETED, A_LAYOUT = 250, 1e6


@dataclass(frozen=True, slots=True)
class Skeletons:
    """Every layout that a plan could use, of the pieces with a value; not those within another.

    Attributes
    ----------
    reduced
        The instance of the pieces with a value.
    kept
        Which pieces these are.
    layouts
        Of `reduced`.
    above
        Those layouts that are worth more than one of their source was taken to be; where there are
        any, further ones may be missing.
    """

    reduced: Instance
    kept: tuple[int, ...]
    layouts: tuple[Layout, ...]
    above: tuple[Layout, ...] = ()

    def in_full(self, instance: Instance) -> list[Layout]:
        """Return the layouts as those of the whole instance."""
        return [self.named(layout, instance) for layout in self.layouts]

    def named(self, layout: Layout, instance: Instance) -> Layout:
        """Return a layout of `reduced` as one of the whole instance."""
        root = _named(layout.root, self.kept)
        return Layout(layout.source, counts_of(root, len(instance.pieces)), root)


def skeletons(
    instance: Instance,
    values: Sequence[int],
    unit: Fraction,
    most: int,
    budget: Budget,
    best: Sequence[int] | None = None,
) -> Skeletons | None:
    """Return the skeletons of plans that cost at most `most`; None if they are not all found.

    Parameters
    ----------
    values
        One a piece type, whole; any will do, those of the master leave fewest layouts.
    unit
        What one unit of value costs.
    budget
        Where it does not suffice, they are not all found.
    best
        What a layout within the demands is taken to be worth at most on each source; by default
        what one of unlimited copies is worth. If any is worth more, it is among
        `Skeletons.above`; then others may not have been listed. Only where no source is limited.
    """
    least = NOTHING * max(source.cost for source in instance.sources) / unit
    kept = tuple(number for number, value in enumerate(values) if value > least)
    if not kept:
        return None
    reduced = replace(instance, pieces=tuple(instance.pieces[number] for number in kept))
    grid = exact_grid(reduced)
    if grid is None or grid.work * TIGHTENINGS > budget.seconds * SPLITS_A_SECOND:
        return None
    worths = tuple(values[number] for number in kept)
    listing = _Listing(reduced, grid, worths, unit, most, budget, best)
    layouts = listing.run()
    if layouts is None:
        return None
    return Skeletons(reduced, kept, tuple(layouts), tuple(listing.above(layouts)))


@dataclass(frozen=True, slots=True)
class _Listing:
    """What `skeletons` lists, and on which grid."""

    instance: Instance
    grid: Grid
    values: Sequence[int]
    unit: Fraction
    most: int
    budget: Budget
    best: Sequence[int] | None

    def above(self, layouts: Sequence[Layout]) -> Iterator[Layout]:
        """Yield those layouts, without copies that nobody wants, worth more than was assumed."""
        if self.best is None:
            return
        for layout in layouts:
            root = without_excess(layout.root, [*self.instance.demands])
            counts = counts_of(root, len(self.values))
            worth = sum(v * n for v, n in zip(self.values, counts, strict=True))
            if worth > self.best[layout.source]:
                yield Layout(layout.source, counts, root)

    def run(self) -> list[Layout] | None:
        """Return every layout worth enough on its source; None if that takes too much."""
        found: list[Layout] = []
        table = best_values(self.grid, self.values)
        self.budget.spend(self.grid.work)
        worths = self._least_worth(table)
        if worths is None:
            return None
        for number, least in enumerate(worths):
            trees = self._near(number, least, table)
            if trees is None:
                return None
            for tree in trees:
                counts = counts_of(tree, len(self.values))
                if any(counts):
                    found.append(Layout(number, counts, tree))
        return found

    def _least_worth(self, table: IntArray) -> list[int] | None:
        """Return what a layout of each source is worth at least, if a plan could use it.

        None where the values prove nothing.

        All that the sheets of a plan cost more than they are worth, over what limited sources save
        at most, is the plan's cost less the bound of the values.
        """
        sources = self.instance.sources
        best = self.best
        assert best is None or all(source.available is None for source in sources)
        if best is None:
            best = [int(table[self.grid.root(source, self.instance)]) for source in sources]
        proof = rate(self.instance, self.values, best, self.unit)
        scale = proof.values[0] / self.values[0]
        if not scale:
            return None
        spare = self.most - proof.bound
        if spare < 0:
            # What the sheets are taken to hold does not do: some layout must be worth more.
            return [worth + 1 for worth in best]
        found = []
        for source, worth in zip(sources, best, strict=True):
            limited = source.available is not None
            price = max(Fraction(source.cost), worth * scale) if limited else source.cost
            found.append(math.ceil((price - spare) / scale))
        return found

    def _near(self, number: int, least: int, table: IntArray) -> list[Tree] | None:
        """Return the layouts of a source that are worth so much; None if not all were found."""
        cell = self.grid.root(self.instance.sources[number], self.instance)
        limits, values = self.instance.demands, tuple(self.values)
        work = self.budget.seconds * SPLITS_A_SECOND
        first = 2 * min(TIGHTENINGS * self.grid.work, TIGHTENING_SHARE * work)
        part = PartToCut(self.grid, cell, limits, values, table)
        self.budget.spend(self.grid.work)
        if part.least_work(least) > MOST_TIGHTENED * work:
            return None
        near = NearBest(self.grid, cell, self.values, limits, first, self.budget.check)
        self.budget.spend(near.spent)
        before = near.spent
        work = self.budget.seconds * SPLITS_A_SECOND
        trees = near.worth(least, work, MOST_SETS, or_none=True) if work > 0 else []
        self.budget.spend(near.spent - before)
        return trees if work > 0 and near.whole else None


def _named(tree: Tree, kept: Sequence[int]) -> Tree:
    """Return a tree of the pieces with a value with the pieces' own numbers."""
    if isinstance(tree, Place):
        return Place(kept[tree.piece], tree.turned)
    if isinstance(tree, Split):
        return replace(tree, first=_named(tree.first, kept), second=_named(tree.second, kept))
    return None


def completed(
    instance: Instance, grid: Grid, layouts: Sequence[Layout], seed: int, budget: Budget
) -> Iterator[Layout]:
    """Yield the layouts with their free room used for pieces that are wanted.

    Where there are many, some of them, drawn by chance. For instances without bench limits.

    Parameters
    ----------
    seed
        With 0 pieces count their areas; with other seeds some are preferred by chance, so that
        others come into the room.
    """
    # Chance decides where to look, not what is right; nothing secret hangs on it.
    chance = random.Random(seed)  # noqa: S311
    areas = starting_values(instance, 1.0)
    values = whole_values([area * chance.random() for area in areas] if seed else areas)
    bounded = best_within(grid, values, caps(instance, instance.demands))
    budget.spend(bounded.work)
    if len(layouts) > MOST_COMPLETED:
        layouts = chance.sample(layouts, MOST_COMPLETED)
    for layout in layouts:
        budget.spend(A_LAYOUT)
        pairs = zip(layout.counts, instance.demands, strict=True)
        demands = [max(count, demand) for count, demand in pairs]
        yield refilled(instance, grid, layout, values, demands, budget, bounded)
