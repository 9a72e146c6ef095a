"""Column generation: price, add the layouts that pay, and keep the best bound that is proved."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from .bounds import PieceValues, next_total, rate
from .grids import sparse_grid
from .layouts import Layout, caps, counts_of, fits
from .legal import legal
from .limited import paying_layouts
from .master import Master, MasterState
from .recursion import best_values, traces
from .within import best_within, traces_within

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .recursion import IntArray
    from .running import Budget

__all__ = ["VALUE_BITS", "ColumnGeneration", "ProperColumns"]

VALUE_BITS = 27
# What solving a master without pricing counts as, a size, in splits compared; about what it takes.
SOLVE_WORK = 1e5
IMPROVES = 1e-9
PROPER_IMPROVES = 1e-6
SMOOTHING = 0.5
# How much harder a look for proper layouts may be than one pricing, and what it costs at least.
HARDER, A_LOOK = 25, 1e7
# On grids where one pricing is this dear, so many layouts are taken from it.
SEVERAL = 8
SEVERAL_FROM = 4e6
# How many proper layouts are taken from one pricing, on any grid.
SEVERAL_WITHIN = 8
# How much more a layout may cost than it is worth, in sheets, for its parts' sizes to be priced.
SPARSE_LOSS = 0.02
# How much of the exact grid's work such a grid may take, and what it costs to make, a size.
SPARSE_SHARE, SPARSE_BUILD = 0.5, 3e4


@dataclass(slots=True)
class ColumnGeneration:
    """The master and its pricing over one grid.

    Attributes
    ----------
    quick
        A coarser grid on which layouts that pay are looked for first, or None. It proves nothing.
    proves
        Whether `grid` is exact. If not, the master is a guide to whole plans and no bound.
    whole
        The dearest source's cost; the unit of the master.
    proof
        The piece values with the best bound so far.
    state
        The master's last optimum.
    done
        Whether no layout can improve the master any more.
    """

    instance: Instance
    grid: Grid
    budget: Budget
    proof: PieceValues
    whole: int
    quick: Grid | None = None
    proves: bool = True
    master: Master = field(init=False)
    state: MasterState | None = None
    done: bool = False
    _centre: tuple[float, ...] | None = None
    _sparse: Grid | None = None
    _explored: bool = False

    def __post_init__(self) -> None:
        self.master = Master(self.instance, self.whole)

    def go_on_with(self, grid: Grid, quick: Grid | None = None) -> None:
        """Begin a master afresh on a grid that knows more; the best bound so far stands.

        Parameters
        ----------
        quick
            To look for layouts on first.
        """
        self.grid, self.quick = grid, quick
        self.master, self.state = Master(self.instance, self.whole), None
        self.done = self._explored = False
        self._sparse = None

    def add(self, layouts: Iterable[Layout]) -> None:
        """Offer layouts to the master."""
        for layout in layouts:
            if self.master.add(layout):
                self.done = False

    def lower(self, most: int) -> int:
        """Return the bound, rounded up to the next total that sources can add up to."""
        return next_total(self.proof.bound, self.instance, most)

    def whole_values(self) -> tuple[int, ...]:
        """Return the values of the best bound so far as whole numbers."""
        scale = Fraction(1 << VALUE_BITS, self.whole)
        return tuple(math.floor(value * scale) for value in self.proof.values)

    def last_values(self) -> tuple[int, ...]:
        """Return the master's last values as whole numbers."""
        assert self.state is not None
        return _whole_values(self.state.duals)

    def step(self) -> tuple[int, ...]:
        """Solve the master, price, add what pays; return the values priced.

        First on the quick grid, then at smoothed values, then at the master's own. Smoothing after
        Wentges (1997), Weighted Dantzig-Wolfe decomposition for linear mixed-integer programming:
        values between the master's own and those of the best bound.
        """
        self.state = self.master.solve()
        duals = self.state.duals
        values = _whole_values(duals)
        if self.quick is not None:
            if not self._explored:
                table = best_values(self.quick, values)
                self.budget.spend(self.quick.work)
                if self._add_best(self.quick, values, table):
                    return values
                self._explored = True
            if not self.grid.holds_strips and self._pays_sparsely(values):
                return values
        if self._centre is not None:
            mixed = _whole_values(
                [
                    SMOOTHING * best + (1 - SMOOTHING) * now
                    for best, now in zip(self._centre, duals, strict=True)
                ]
            )
            if self._price(mixed):
                return mixed
        self.done = not self._price(values)
        return values

    def _pays_sparsely(self, values: tuple[int, ...]) -> bool:
        """Price on the sizes of the best layouts' parts; return whether a layout was added."""
        if self._sparse is None:
            self._sparse = self.sparse(SPARSE_LOSS)
        if self._sparse.work > SPARSE_SHARE * self.grid.work:
            return False
        table = best_values(self._sparse, values)
        self.budget.spend(self._sparse.work)
        return self._add_best(self._sparse, values, table)

    def propose(self, values: tuple[int, ...]) -> None:
        """Price values from elsewhere, for the bound that they prove."""
        self._price(values)

    def _price(self, values: tuple[int, ...]) -> bool:
        """Price whole values exactly; return whether a layout was added that pays."""
        table = best_values(self.grid, values)
        self.budget.spend(self.grid.work)
        if self.proves:
            self._prove(values, table)
        self._sparse = None
        return self._add_best(self.grid, values, table)

    def _prove(self, values: tuple[int, ...], table: IntArray) -> None:
        """Keep the bound that the values prove, if it is the best so far."""
        best = [
            int(table[self.grid.root(source, self.instance)]) for source in self.instance.sources
        ]
        proof = rate(self.instance, values, best, Fraction(self.whole, 1 << VALUE_BITS))
        if proof.bound > self.proof.bound:
            self.proof = proof
            self._centre = tuple(value / (1 << VALUE_BITS) for value in values)

    def _add_best(self, grid: Grid, values: tuple[int, ...], table: IntArray) -> bool:
        """Add the best layout of each source, and others by other first cuts, if they pay."""
        added = False
        several = SEVERAL if grid.work >= SEVERAL_FROM else 1
        for number, source in enumerate(self.instance.sources):
            cell = grid.root(source, self.instance)
            for root in traces(grid, values, table, cell, several):
                layout = Layout(number, counts_of(root, len(values)), root)
                if not self._pays(layout):
                    break
                if fits(self.instance, layout):
                    added = self.master.add(layout) or added
        return added

    def could_serve(self, layouts: Iterable[Layout], most: int) -> list[Layout]:
        """Return the layouts that a plan of at most this cost might use, by the master's values.

        A layout that costs more than it is worth costs the plan so much more than the master's
        optimum.
        """
        if self.state is None:
            return list(layouts)
        return self.near(layouts, most / self.whole - self.state.objective)

    def near(self, layouts: Iterable[Layout], loss: float) -> list[Layout]:
        """Return the layouts that cost at most so much more than they are worth, in its unit."""
        return [layout for layout in layouts if -self._gain(layout) <= loss + IMPROVES]

    def sparse(self, loss: float) -> Grid:
        """Return a grid of the sizes of parts of the master's layouts that lose no more."""
        grid = sparse_grid(self.instance, self.near(self.master.layouts, loss))
        self.budget.spend(SPARSE_BUILD * sum(grid.shape))
        return grid

    def _pays(self, layout: Layout) -> bool:
        return self.state is None or self._gain(layout) > IMPROVES

    def _gain(self, layout: Layout) -> float:
        """Return by how much a layout is worth more than it costs, by the master's values."""
        assert self.state is not None
        made = zip(self.state.duals, layout.counts, strict=True)
        worth = sum(dual * count for dual, count in made)
        cost = self.instance.sources[layout.source].cost / self.whole
        return worth + self.state.source_duals[layout.source] - cost


def _whole_values(duals: Sequence[float]) -> tuple[int, ...]:
    return tuple(math.floor(dual * (1 << VALUE_BITS)) for dual in duals)


@dataclass(slots=True)
class ProperColumns:
    """A master of proper layouts: none holds more of a type than is wanted.

    Pricing keeps within the demands and so may miss layouts, at a first look many, at a harder one
    fewer; the master is a guide to whole plans and proves nothing by itself.
    """

    instance: Instance
    grid: Grid
    budget: Budget
    whole: int
    master: Master = field(init=False)
    state: MasterState | None = None
    done: bool = False

    def __post_init__(self) -> None:
        self.master = Master(self.instance, self.whole)

    def add(self, layouts: Iterable[Layout]) -> None:
        """Offer those of `layouts` that are proper."""
        for layout in layouts:
            wanted = zip(layout.counts, self.instance.demands, strict=True)
            if all(count <= demand for count, demand in wanted) and self.master.add(layout):
                self.done = False

    def last_values(self) -> tuple[int, ...]:
        """Return the last optimum's piece values, whole, in 2**-`VALUE_BITS` of `whole`."""
        assert self.state is not None
        return _whole_values(self.state.duals)

    def most_worth(self, most: int) -> list[int]:
        """Return what a layout of each source is worth at most, of those known.

        But no less than any may be worth without a plan that costs `most` being possible.
        """
        values = self.last_values()
        wanted = sum(v * d for v, d in zip(values, self.instance.demands, strict=True))
        best = [-(-source.cost * wanted // most) - 1 for source in self.instance.sources]
        for layout in self.master.layouts:
            worth = sum(v * n for v, n in zip(values, layout.counts, strict=True))
            best[layout.source] = max(best[layout.source], worth)
        return best

    def solve(self) -> MasterState:
        """Solve the master; return its optimum."""
        self.state = self.master.solve()
        self.budget.spend(SOLVE_WORK * len(self.instance.pieces))
        return self.state

    def step(self) -> MasterState:
        """Solve the master and add the layouts that pay; return the optimum before."""
        self.state = self.master.solve()
        values = [max(1, value) for value in _whole_values(self.state.duals)]
        bounded = best_within(
            self.grid, values, caps(self.instance, self.instance.demands), self.budget.check
        )
        self.budget.spend(bounded.work)
        added = False
        for number, source in enumerate(self.instance.sources):
            cell = self.grid.root(source, self.instance)
            for root in traces_within(self.grid, bounded, cell, SEVERAL_WITHIN):
                layout = Layout(number, counts_of(root, len(values)), root)
                worth = sum(d * n for d, n in zip(self.state.duals, layout.counts, strict=True))
                if worth <= self._price(number):
                    break
                added = self._add_legal(layout) or added
        self.done = not added
        return self.state

    def look_harder(self) -> bool:
        """Add layouts that pay by the last optimum and that `step` missed; return whether any."""
        assert self.state is not None
        values = _whole_values(self.state.duals)
        added = False
        for number, source in enumerate(self.instance.sources):
            roots, work = paying_layouts(
                self.grid,
                self.grid.root(source, self.instance),
                values,
                self.instance.demands,
                math.ceil(self._price(number) * (1 << VALUE_BITS)),
                HARDER * self.grid.work,
                self.budget.check,
            )
            self.budget.spend(work + A_LOOK)
            for root in roots:
                added = self._add_legal(Layout(number, counts_of(root, len(values)), root)) or added
        self.done = not added
        return added

    def _price(self, number: int) -> float:
        """Return what a layout of a source must be worth to pay, by the master's values."""
        assert self.state is not None
        cost = self.instance.sources[number].cost / self.whole
        return cost - self.state.source_duals[number] + PROPER_IMPROVES

    def _add_legal(self, layout: Layout) -> bool:
        cuttable = legal(self.instance, layout) if self.instance.has_bench_limits else layout
        if cuttable is None or not fits(self.instance, layout):
            return False
        return self.master.add(cuttable)
