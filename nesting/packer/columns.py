"""Column generation: price, add the layouts that pay, and keep the best bound that is proved."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from .bounds import PieceValues, next_total, rate
from .fill import caps
from .layouts import Layout, counts_of, fits
from .legal import legal
from .master import Master, MasterState
from .recursion import best_values, best_within, trace, trace_within

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .running import Budget

__all__ = ["ColumnGeneration", "ProperColumns"]

VALUE_BITS = 30
IMPROVES = 1e-9
PROPER_IMPROVES = 1e-6
SMOOTHING = 0.5


@dataclass(slots=True)
class ColumnGeneration:
    """The master and its pricing over one grid.

    Attributes
    ----------
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
    master: Master = field(init=False)
    state: MasterState | None = None
    done: bool = False
    _centre: tuple[float, ...] | None = None

    def __post_init__(self) -> None:
        self.master = Master(self.instance, self.whole)

    def add(self, layouts: Iterable[Layout]) -> None:
        """Offer layouts to the master."""
        for layout in layouts:
            if self.master.add(layout):
                self.done = False

    def lower(self, most: int) -> int:
        """Return the bound, rounded up to the next total that sources can add up to."""
        return next_total(self.proof.bound, self.instance, most)

    def step(self) -> tuple[int, ...]:
        """Solve the master, price at smoothed values, add what pays; return the values priced.

        Smoothing after Wentges (1997), Weighted Dantzig-Wolfe decomposition for linear
        mixed-integer programming: values between the master's own and those of the best bound.
        """
        self.state = self.master.solve()
        duals = self.state.duals
        if self._centre is not None:
            mixed = [
                SMOOTHING * best + (1 - SMOOTHING) * now
                for best, now in zip(self._centre, duals, strict=True)
            ]
            values = self._price(mixed)
            if values is not None:
                return values
        values = self._price(duals)
        if values is None:
            self.done = True
            values = tuple(math.floor(dual * (1 << VALUE_BITS)) for dual in duals)
        return values

    def _price(self, duals: Sequence[float]) -> tuple[int, ...] | None:
        """Price at `duals`; return the whole values if a layout was added that pays."""
        values = tuple(math.floor(dual * (1 << VALUE_BITS)) for dual in duals)
        table = best_values(self.grid, values)
        self.budget.spend(self.grid.work)
        cells = [
            self.grid.cell(source.width + self.instance.kerf, source.height + self.instance.kerf)
            for source in self.instance.sources
        ]
        best = [int(table[cell]) for cell in cells]
        proof = rate(self.instance, values, best, Fraction(self.whole, 1 << VALUE_BITS))
        if proof.bound > self.proof.bound:
            self.proof = proof
            self._centre = tuple(duals)
        added = False
        for number, cell in enumerate(cells):
            root = trace(self.grid, values, table, *cell)
            layout = Layout(number, counts_of(root, len(values)), root)
            if self._pays(layout):
                added = self.master.add(layout) or added
        return values if added else None

    def _pays(self, layout: Layout) -> bool:
        assert self.state is not None
        worth = sum(
            dual * count for dual, count in zip(self.state.duals, layout.counts, strict=True)
        )
        cost = self.instance.sources[layout.source].cost / self.whole
        return worth + self.state.source_duals[layout.source] > cost + IMPROVES


@dataclass(slots=True)
class ProperColumns:
    """A master of proper layouts: none holds more of a type than is wanted.

    Pricing keeps within the demands and so may miss layouts; the master is a guide to whole plans
    and proves nothing.
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

    def step(self) -> MasterState:
        """Solve the master and add the layouts that pay; return the optimum before."""
        self.state = self.master.solve()
        values = [max(1, math.floor(dual * (1 << VALUE_BITS))) for dual in self.state.duals]
        limits = caps(self.instance, self.instance.demands)
        bounded = best_within(self.grid, values, limits)
        self.budget.spend(5 * self.grid.work)
        added = False
        for number, source in enumerate(self.instance.sources):
            cell = self.grid.cell(
                source.width + self.instance.kerf, source.height + self.instance.kerf
            )
            worth = int(bounded.values[cell]) / (1 << VALUE_BITS)
            cost = source.cost / self.whole - self.state.source_duals[number]
            if worth > cost + PROPER_IMPROVES:
                root = trace_within(self.grid, bounded, *cell)
                layout = Layout(number, counts_of(root, len(values)), root)
                added = self._add_legal(layout) or added
        self.done = not added
        return self.state

    def _add_legal(self, layout: Layout) -> bool:
        cuttable = legal(self.instance, layout) if self.instance.has_bench_limits else layout
        if cuttable is None or not fits(self.instance, layout):
            return False
        return self.master.add(cuttable)
