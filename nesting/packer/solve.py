"""Plan one board: a first plan, the bound, better plans, until the two meet or work runs out."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from .bounds import PieceValues, area_values, next_total, simplified
from .choice import Choice, choose
from .columns import ColumnGeneration
from .fill import corrected, fill, next_layout, starting_values, whole_values
from .layouts import Layout
from .recursion import build_grid
from .running import Budget, Stopped

if TYPE_CHECKING:
    from .instance import Instance
    from .recursion import Grid

__all__ = ["Packed", "pack"]

POWERS = (1.02, 1.0, 1.1, 1.3, 0.9)


@dataclass(frozen=True, slots=True)
class Packed:
    """What the packer found for one board.

    Attributes
    ----------
    choice
        The layouts to cut.
    cost, lower
        Of full sheets, in the instance's unit; no plan costs less than `lower`.
    proof
        Piece values; they prove `lower` unless `by_exhaustion`.
    by_exhaustion
        Whether `lower` rests on a search that only a rerun can repeat.
    stopped
        Whether someone asked to end before the packer would have.
    """

    choice: Choice
    cost: int
    lower: int
    proof: PieceValues
    by_exhaustion: bool
    stopped: bool

    @property
    def proved(self) -> bool:
        """Whether no plan costs less."""
        return self.cost == self.lower


@dataclass(slots=True)
class Search:
    """The state of planning one board."""

    instance: Instance
    budget: Budget
    grid: Grid
    relaxed: Grid
    best: Choice
    lower: int
    pool: dict[Layout, None] = field(default_factory=dict)
    by_exhaustion: bool = False

    @property
    def cost(self) -> int:
        """Return the cost of the best plan so far."""
        return self.best.cost(self.instance)

    @property
    def closed(self) -> bool:
        """Whether the best plan meets the bound."""
        return self.cost <= self.lower

    def offer(self, choice: Choice | None) -> None:
        """Take `choice` if it is cheaper, and its layouts into the pool in any case."""
        if choice is None:
            return
        self.pool.update(dict.fromkeys(choice.copies))
        if choice.cost(self.instance) < self.cost:
            self.best = choice

    def say(self, trying: str) -> None:
        """Report progress, and stop if asked to."""
        self.budget.report(self.cost, self.lower, trying)
        self.budget.check()


def pack(instance: Instance, budget: Budget) -> Packed | None:
    """Return the best plan for `instance`, or None where none was found."""
    limited = instance.has_bench_limits
    relaxed = build_grid(instance, limited=False)
    grid = build_grid(instance, limited=True) if limited else relaxed
    first = fill(instance, grid, starting_values(instance, POWERS[0]), Budget(math.inf))
    if first is None:
        return None
    area = area_values(instance)
    lower = next_total(area.bound, instance, first.cost(instance))
    search = Search(instance, budget, grid, relaxed, first, lower, dict.fromkeys(first.copies))
    proof, stopped = area, False
    bounding = ColumnGeneration(instance, relaxed, budget, area, _whole(instance))
    try:
        _close(search, bounding)
    except Stopped:
        stopped = True
    proof = bounding.proof
    goal = bounding.lower(search.cost)
    proof = simplified(instance, proof, goal, _whole(instance), search.cost)
    return Packed(search.best, search.cost, search.lower, proof, search.by_exhaustion, stopped)


def _whole(instance: Instance) -> int:
    return max(source.cost for source in instance.sources) or 1


def _close(search: Search, bounding: ColumnGeneration) -> None:
    """Work until the plan meets the bound or nothing is left to try."""
    search.say("first plan")
    if search.closed:
        return
    _better_fills(search, passes=3)
    if search.closed:
        return
    _bound(search, bounding)
    if search.closed:
        return
    columns = bounding
    if search.grid is not search.relaxed:
        columns = ColumnGeneration(
            search.instance, search.grid, search.budget, bounding.proof, bounding.whole
        )
        _generate(search, columns)
    for effort, passes in ((0.5, 2), (2.0, 6), (6.0, 16)):
        _round_and_finish(search, columns, passes)
        _choose(search, effort)
        if search.closed or search.budget.spent:
            return


def _better_fills(search: Search, passes: int) -> None:
    for power in POWERS[:passes]:
        values = starting_values(search.instance, power)
        plan = fill(search.instance, search.grid, values, search.budget)
        search.offer(plan)
        search.say("whole plans")
        if plan is None or search.closed:
            return


def _bound(search: Search, bounding: ColumnGeneration) -> None:
    """Raise the bound by column generation without the tool's limits."""
    bounding.add(search.pool)
    while not bounding.done and not search.budget.spent:
        values = bounding.step()
        search.lower = max(search.lower, bounding.lower(search.cost))
        search.say("bound")
        assert bounding.state is not None
        if search.closed or _cannot_rise(search, bounding):
            break
        if search.grid is search.relaxed:
            layout = next_layout(
                search.instance,
                search.grid,
                [max(1, value) for value in values],
                search.instance.demands,
                [source.available for source in search.instance.sources],
                search.budget,
            )
            if layout is not None:
                bounding.add([layout])
    if search.grid is search.relaxed:
        search.pool.update(dict.fromkeys(bounding.master.layouts))


def _cannot_rise(search: Search, bounding: ColumnGeneration) -> bool:
    """Whether even the master's own optimum would not give a higher bound."""
    assert bounding.state is not None
    optimum = bounding.state.objective * bounding.whole * (1 - 1e-9)
    from fractions import Fraction

    return next_total(Fraction(optimum), search.instance, search.cost) <= search.lower


def _generate(search: Search, columns: ColumnGeneration) -> None:
    """Gather layouts that keep the tool's limits."""
    columns.add(search.pool)
    while not columns.done and not search.budget.spent:
        columns.step()
        search.say("layouts within the tool's limits")
    search.pool.update(dict.fromkeys(columns.master.layouts))


def _round_and_finish(search: Search, columns: ColumnGeneration, passes: int) -> None:
    """Round the master down and finish what remains, with corrected values."""
    columns.add(search.pool)
    state = columns.master.solve()
    copies: dict[Layout, int] = {}
    demands = list(search.instance.demands)
    available = [source.available for source in search.instance.sources]
    for layout, usage in zip(columns.master.layouts, state.usage, strict=True):
        whole = math.floor(usage + 1e-6)
        if whole:
            copies[layout] = whole
            for piece, count in enumerate(layout.counts):
                demands[piece] = max(0, demands[piece] - whole * count)
            left = available[layout.source]
            if left is not None:
                available[layout.source] = left - whole
    values: list[float] = list(state.duals)
    areas = starting_values(search.instance, 1.0)
    top = max(values) or 1.0
    scale = max(areas) / top
    values = [max(value * scale, area * 0.05) for value, area in zip(values, areas, strict=True)]
    for number in range(passes):
        rest = fill(search.instance, search.grid, values, search.budget, demands, available)
        if rest is None:
            return
        total = dict(copies)
        for layout, count in rest.copies.items():
            total[layout] = total.get(layout, 0) + count
        search.offer(Choice(total))
        search.say("rounding")
        if search.closed:
            return
        values = corrected(search.instance, values, rest, POWERS[number % len(POWERS)])
    for number in range(passes):
        plan = fill(search.instance, search.grid, values, search.budget)
        if plan is None:
            return
        search.offer(plan)
        search.say("whole plans")
        if search.closed:
            return
        values = corrected(search.instance, values, plan, POWERS[number % len(POWERS)])


def _choose(search: Search, effort: float) -> None:
    if search.closed:
        return
    search.say("choosing layouts")
    search.offer(
        choose(search.instance, list(search.pool), search.best, search.lower, search.budget, effort)
    )


__all__ += ["whole_values"]
