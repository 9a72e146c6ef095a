"""Plan one board: a first plan, the bound, better plans, until the two meet or work runs out."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from .bounds import area_values, next_total, simplified
from .choice import Choice, choose
from .columns import ColumnGeneration, ProperColumns
from .dive import dive
from .exhaust import TooMany, maximal_layouts
from .fill import corrected, fill, next_layout, starting_values
from .grids import build_grid, exact_grid, quick_grid
from .legal import legal
from .recursion import best_values
from .running import Budget, Stopped, splits_as_seconds
from .tidy import tidied, without_surplus

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ..problem.instance import Instance
    from .bounds import PieceValues
    from .grids import Grid
    from .layouts import Layout

__all__ = ["Packed", "Stuck", "pack", "unreachable"]

EXHAUST_SECONDS = 0.6
EXHAUST_LIMITED_SECONDS = 4.0
EXHAUST_EFFORT = 4.0
MOST_PRICINGS = 40
CHEAP_WORK = 4e6
MOST_WORK = 4e7
RESERVE = 0.4
QUICK_LIMITED_SIZES = 90
FREE_SHARE = 0.5
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
    searched
        What that search was, in a sentence; empty otherwise.
    stopped
        Whether someone asked to end before the packer would have.
    short
        How many of each source would be needed beyond the stock; empty or all 0 for a plan.
    surely_short
        Whether it is proved that no plan does without them.
    """

    choice: Choice
    cost: int
    lower: int
    proof: PieceValues
    by_exhaustion: bool
    searched: str
    stopped: bool
    short: tuple[int, ...] = ()
    surely_short: bool = False

    @property
    def proved(self) -> bool:
        """Whether no plan costs less."""
        return self.cost == self.lower


@dataclass(frozen=True, slots=True)
class Stuck:
    """Not even one piece of some of these types could be cut, though each fits a source."""

    pieces: tuple[int, ...]


@dataclass(slots=True)
class Search:
    """The state of planning one board."""

    instance: Instance
    budget: Budget
    grid: Grid
    relaxed: Grid | None
    best: Choice
    lower: int
    pool: dict[Layout, None] = field(default_factory=dict)
    searched: str = ""

    @property
    def cost(self) -> int:
        """Return the cost of the best plan so far."""
        return self.best.cost(self.instance)

    @property
    def limited(self) -> bool:
        """Whether layouts must keep limits of the tool that the bound does not know."""
        return self.instance.has_bench_limits

    def is_closed(self) -> bool:
        """Whether the best plan meets the bound."""
        return self.cost <= self.lower

    def offer_relaxed(self, choice: Choice) -> None:
        """Take a choice made without the tool's limits, if all of it keeps them after all."""
        self.gather(choice.copies)
        cuttable = {legal(self.instance, layout): n for layout, n in choice.copies.items()}
        if None not in cuttable:
            self.offer(Choice({layout: n for layout, n in cuttable.items() if layout}))

    def cuttable(self, layouts: Iterable[Layout]) -> tuple[Layout, ...]:
        """Return those layouts that the tool can cut."""
        if not self.limited:
            return tuple(layouts)
        checked = (legal(self.instance, layout) for layout in layouts)
        return tuple(layout for layout in checked if layout is not None)

    def gather(self, layouts: Iterable[Layout]) -> None:
        """Take into the pool those layouts that the tool can cut."""
        self.pool.update(dict.fromkeys(self.cuttable(layouts)))

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


def unreachable(instance: Instance) -> tuple[int, ...]:
    """Return the piece types that no legal cuts can free from any source."""
    if not instance.has_bench_limits:
        return ()
    return tuple(
        number
        for number, piece in enumerate(instance.pieces)
        if not _reachable(replace(instance, pieces=(piece,)))
    )


def _reachable(single: Instance) -> bool:
    grid = build_grid(single, limited=True, most=QUICK_LIMITED_SIZES)
    table = best_values(grid, (1,))
    return any(
        table[grid.cell(source.width + single.kerf, source.height + single.kerf)] > 0
        for source in single.sources
    )


def pack(instance: Instance, budget: Budget) -> Packed | Stuck:
    """Return the best plan found for `instance`; every piece must fit some source.

    Where the stock is limited, sheets beyond it may be used at a price that no plan without them
    can reach; a plan that still uses them says how many the stock is short of.

    Raises
    ------
    Stopped
        If the budget's `abort` struck before a first plan was found.
    """
    extended, started = instance, None
    if any(source.available is None for source in instance.sources):
        started = _started(instance, budget)
    if started is None:
        extended = _with_extra_sources(instance)
        started = _started(extended, budget)
    if started is None:
        return Stuck(tuple(range(len(instance.pieces))))
    search, bounding = started
    stopped = False
    try:
        _close(search, bounding)
    except Stopped:
        stopped = True
    cost, lower = search.cost, search.lower
    proof = simplified(extended, bounding.proof, bounding.lower(cost), bounding.whole, cost)
    areas = [piece.width * piece.height for piece in instance.pieces]
    slim = without_surplus(search.best.copies, instance.demands, areas)
    neat: dict[Layout, int] = {}
    for layout, copies in slim.items():
        one = layout if stopped else _neat(extended, layout)
        neat[one] = neat.get(one, 0) + copies
    used = Choice(neat).used(extended)
    kinds = len(instance.sources)
    return Packed(
        choice=Choice(neat),
        cost=cost,
        lower=lower,
        proof=proof,
        by_exhaustion=bool(search.searched),
        searched=search.searched,
        stopped=stopped,
        short=used[kinds:],
        surely_short=bool(used[kinds:]) and lower >= extended.sources[-1].cost,
    )


def _neat(instance: Instance, layout: Layout) -> Layout:
    """Return the layout tidied, if the tool can cut it so."""
    neat = tidied(instance, layout)
    cuttable = legal(instance, neat) if instance.has_bench_limits else neat
    return layout if cuttable is None else cuttable


def _with_extra_sources(instance: Instance) -> Instance:
    """Return the instance with as many more of every source as one likes, at a forbidding price.

    No plan that does without them costs as much as one of them.
    """
    limited = sum(source.cost * (source.available or 0) for source in instance.sources)
    dearest = max(source.cost for source in instance.sources)
    dear = 1 + limited + dearest * sum(instance.demands)
    extra = tuple(replace(source, cost=dear, available=None) for source in instance.sources)
    return replace(instance, sources=(*instance.sources, *extra))


def _started(instance: Instance, budget: Budget) -> tuple[Search, ColumnGeneration] | None:
    """Return the search with its first plan and the bound by area; None if no plan was found."""
    relaxed = exact_grid(instance)
    if instance.has_bench_limits:
        grid = build_grid(instance, limited=True)
    else:
        grid = quick_grid(instance, relaxed, MOST_WORK)
    first = _first_plan(instance, relaxed, budget)
    if first is None:
        return None
    area = area_values(instance)
    lower = next_total(area.bound, instance, first.cost(instance))
    search = Search(instance, budget, grid, relaxed, first, lower, dict.fromkeys(first.copies))
    return search, ColumnGeneration(instance, relaxed or grid, budget, area, _whole(instance))


def _first_plan(instance: Instance, relaxed: Grid | None, budget: Budget) -> Choice | None:
    """Return a plan made quickly, whatever the budget; None if none is found."""
    values = starting_values(instance, POWERS[0])
    if instance.has_bench_limits:
        quick = build_grid(instance, limited=True, most=QUICK_LIMITED_SIZES)
    else:
        quick = quick_grid(instance, relaxed, CHEAP_WORK)
    return fill(instance, quick, values, budget.for_first_plan())


def _whole(instance: Instance) -> int:
    return max(source.cost for source in instance.sources) or 1


def _close(search: Search, bounding: ColumnGeneration) -> None:
    """Work until the plan meets the bound or nothing is left to try."""
    search.say("first plan")
    if search.limited and not search.is_closed():
        _without_limits(search, bounding)
        for step in (_better_fills, _exhaust, partial(_deepen, bounding=bounding)):
            if search.is_closed():
                return
            step(search)
        return
    steps = (_better_fills, partial(_bound, bounding=bounding), _exhaust)
    for step in steps if search.relaxed is not None else steps[:1]:
        if search.is_closed():
            return
        step(search)
    _deepen(search, bounding)


def _without_limits(search: Search, bounding: ColumnGeneration) -> None:
    """Plan as if the tool had no limits; take the bound, and what keeps the limits after all."""
    free = replace(search.instance, longest_cut=None, narrowest_strip=0)
    share = search.budget.share(FREE_SHARE * search.budget.seconds)
    before = share.seconds
    grid = quick_grid(free, search.relaxed, MOST_WORK)
    inner = Search(free, share, grid, search.relaxed, search.best, search.lower, dict(search.pool))
    bounding.budget = share
    try:
        _close(inner, bounding)
    finally:
        bounding.budget = search.budget
        search.budget.seconds -= before - share.seconds
        search.lower, search.searched = inner.lower, inner.searched
        search.offer_relaxed(inner.best)
        search.gather(inner.pool)


def _deepen(search: Search, bounding: ColumnGeneration) -> None:
    """Look for better whole plans, with more effort each round."""
    if not search.limited and search.relaxed is not None:
        _round_and_finish(search, bounding, passes=2)
        _choose(search, effort=0.3)
    columns = ProperColumns(search.instance, search.grid, search.budget, bounding.whole)
    for effort, passes in ((0.3, 2), (1.0, 5), (3.0, 12), (6.0, 20)):
        for step in (
            partial(_proper, columns=columns),
            partial(_round_and_finish, columns=columns, passes=passes),
            partial(_choose, effort=effort),
            partial(_dive, columns=columns),
            partial(_choose, effort=effort),
        ):
            if search.is_closed() or search.budget.spent:
                return
            step(search)


def _proper(search: Search, columns: ProperColumns) -> None:
    """Gather layouts within the demands, as many as pay."""
    columns.add(search.pool)
    for _ in range(MOST_PRICINGS):
        columns.step()
        search.say("layouts within the order")
        if columns.done or search.budget.spent:
            break
    search.pool.update(dict.fromkeys(columns.master.layouts))


def _dive(search: Search, columns: ProperColumns) -> None:
    assert columns.state is not None
    values = _guided(search.instance, columns.state.duals)
    plan, met = dive(
        search.instance, search.grid, search.pool, columns.whole, search.budget, values
    )
    search.pool.update(dict.fromkeys(met))
    search.offer(plan)
    search.say("diving")


def _exhaust(search: Search) -> None:
    """Settle a small board by listing its maximal layouts, if they are few.

    With limits of the tool the list may want layouts, so that its bound is not used.
    """
    search.say("listing layouts")
    share = search.budget.share(EXHAUST_LIMITED_SECONDS if search.limited else EXHAUST_SECONDS)
    before = share.seconds
    grid = search.grid if search.limited or search.relaxed is None else search.relaxed
    try:
        listed = maximal_layouts(search.instance, grid, share)
    except TooMany:
        listed = ()
    search.budget.seconds -= before - share.seconds
    layouts = search.cuttable(listed)
    if not layouts:
        return
    plan, bound = choose(
        search.instance, layouts, search.best, search.lower, search.budget, EXHAUST_EFFORT
    )
    search.offer(plan)
    if bound > search.lower and grid is search.relaxed:
        search.lower = min(bound, search.cost)
        search.searched = (
            f"All {len(layouts)} maximal layouts within the order were listed, and CP-SAT showed "
            "that no choice of them costs less."
        )


def _fills_in_budget(search: Search) -> int:
    if search.grid.work < CHEAP_WORK:
        return 3
    sheets = search.lower // _whole(search.instance)
    layouts = min(sheets, 2 * len(search.instance.pieces))
    cost = splits_as_seconds(5 * search.grid.work * layouts)
    return 1 if cost < (1 - RESERVE) * search.budget.seconds else 0


def _better_fills(search: Search) -> None:
    """Fill whole plans with the best layouts for areas, as often as the budget bears."""
    for power in POWERS[: _fills_in_budget(search)]:
        values = starting_values(search.instance, power)
        plan = fill(search.instance, search.grid, values, search.budget)
        search.offer(plan)
        search.say("whole plans")
        if plan is None or search.is_closed():
            return


def _bound(search: Search, bounding: ColumnGeneration) -> None:
    """Raise the bound by column generation without the tool's limits."""
    bounding.add(search.pool)
    reserve = RESERVE * search.budget.seconds
    while not bounding.done and search.budget.seconds > reserve:
        values = bounding.step()
        search.lower = max(search.lower, bounding.lower(search.cost))
        search.say("bound")
        assert bounding.state is not None
        if search.is_closed() or _cannot_rise(search, bounding):
            break
        if search.grid.work < CHEAP_WORK:
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
    search.pool.update(dict.fromkeys(bounding.master.layouts))


def _cannot_rise(search: Search, bounding: ColumnGeneration) -> bool:
    """Whether even the master's own optimum would not give a higher bound."""
    assert bounding.state is not None
    optimum = bounding.state.objective * bounding.whole * (1 - 1e-9)
    return next_total(Fraction(optimum), search.instance, search.cost) <= search.lower


def _round_and_finish(
    search: Search, columns: ColumnGeneration | ProperColumns, passes: int
) -> None:
    """Round the master down and finish what remains; then whole plans; values corrected."""
    state = columns.state
    if state is None:
        return
    kept, left = _rounded_down(search.instance, columns.master.layouts, state.usage)
    values = _guided(search.instance, state.duals)
    values = _corrected_fills(search, values, passes, kept, left)
    _corrected_fills(search, values, passes, {}, _Left.of(search.instance))


@dataclass(frozen=True, slots=True)
class _Left:
    """Demands and sources that a part of a plan leaves."""

    demands: tuple[int, ...]
    available: tuple[int | None, ...]

    @classmethod
    def of(cls, instance: Instance) -> _Left:
        return cls(instance.demands, tuple(source.available for source in instance.sources))


def _rounded_down(
    instance: Instance, layouts: Sequence[Layout], usage: Sequence[float]
) -> tuple[dict[Layout, int], _Left]:
    copies = {
        layout: math.floor(share + 1e-6)
        for layout, share in zip(layouts, usage, strict=False)
        if share + 1e-6 >= 1
    }
    demands = list(instance.demands)
    available = [source.available for source in instance.sources]
    for layout, whole in copies.items():
        for piece, count in enumerate(layout.counts):
            demands[piece] = max(0, demands[piece] - whole * count)
        left = available[layout.source]
        if left is not None:
            available[layout.source] = max(0, left - whole)
    return copies, _Left(tuple(demands), tuple(available))


def _guided(instance: Instance, duals: Sequence[float]) -> list[float]:
    """Return the master's values on the scale of areas, none of them next to nothing."""
    areas = starting_values(instance, 1.0)
    scale = max(areas) / (max(duals) or 1.0)
    return [max(dual * scale, area * 0.05) for dual, area in zip(duals, areas, strict=True)]


def _corrected_fills(
    search: Search, values: list[float], passes: int, kept: Mapping[Layout, int], left: _Left
) -> list[float]:
    """Offer `kept` and what remains filled `passes` times over; return the corrected values."""
    for number in range(passes):
        if search.is_closed():
            break
        rest = fill(
            search.instance, search.grid, values, search.budget, left.demands, left.available
        )
        if rest is None:
            break
        total = dict(kept)
        for layout, count in rest.copies.items():
            total[layout] = total.get(layout, 0) + count
        search.offer(Choice(total))
        search.say("whole plans")
        values = corrected(search.instance, values, rest, POWERS[number % len(POWERS)])
    return values


def _choose(search: Search, effort: float) -> None:
    if search.is_closed():
        return
    search.say("choosing layouts")
    plan, _ = choose(
        search.instance, list(search.pool), search.best, search.lower, search.budget, effort
    )
    search.offer(plan)
