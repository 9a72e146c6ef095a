"""Plan one board: a first plan, the bound, better plans, until the two meet or work runs out."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from .bounds import PieceValues, area_values, next_total, simplified
from .choice import Choice, affordable, choice_within, choose
from .columns import VALUE_BITS, ColumnGeneration, ProperColumns
from .dive import dive, without
from .dual_feasible import dual_feasible_values
from .ease import easiest
from .exhaust import TooMany, maximal_layouts
from .fill import corrected, fill, fill_seconds, next_layout, starting_values
from .grids import MOST_LIMITED_SIZES, build_grid, exact_grid, quick_grid, strip_grid
from .layouts import Layout, Place, caps
from .legal import legal
from .master import NoOptimum
from .mixes import Mixes, alone_enough, least_shown, plainest
from .recreate import cheaper, loosest, soon_put_together
from .remains import Remains, kindest, slimmed
from .running import SPLITS_A_SECOND, Budget, Stopped, hold_memory, splits_as_seconds
from .skeletons import Skeletons, completed, skeletons
from .within import work_within

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .mixes import Listing, Mix, Rule

__all__ = ["Packed", "Stuck", "effort", "pack", "surely_unreachable", "unreachable"]

SECONDS_AT_LEAST, SECONDS_A_SIZE, SECONDS_AT_MOST = 3.0, 0.25, 30.0
MANY_SIZES, SECONDS_A_SIZE_MORE = 40, 0.6
EXHAUST_SECONDS = 0.6
EXHAUST_LIMITED_SECONDS = 4.0
EXHAUST_EFFORT = 4.0
# A plan at the bound is looked for first where there are so few layouts, for so many seconds.
FEW_LISTED, AFFORDABLE_SECONDS = 300, 0.05
# What a first list of skeletons may take in seconds, and later ones, but so much of what is left.
SKELETON_SECONDS, SKELETON_LATER_SECONDS, SKELETON_SHARE = 0.3, 4.0, 0.5
SKELETON_EFFORT, FIRST_COMPLETIONS, MOST_LISTS = 1.0, 2, 20
MOST_EXHAUST_WORK = 8e6
MOST_PRICINGS = 40
# How often a layout within the order is looked for where copies are few, in pricings.
PROPER_EVERY = 10
CHEAP_WORK = 4e6
# The most that one pricing may cost on the grids where layouts are looked for, coarse to fine.
GRID_WORK = (4e6, 1.2e7, 4e7, 1.6e8)
# Without an exact grid: from which work on the only coarse one is dear, and one finer than those.
DEAR_WORK, FINER_WORK = 1.2e7, 6.4e8
# What a fill may take of the budget.
FILL_SHARE = 0.3
FIRST_FILLS = 2
# Above so much work times sizes a first plan is put together piece by piece.
MOST_FILL_WORK, FEW_COPIES = 2.5e8, 2.5
# So it is where filling it layout by layout would count as more than so many seconds; then that is
# done, if it would count as no more than so many times the budget.
MOST_FIRST_SECONDS, MOST_PUT_OFF = 4.0, 3.0
RECREATE_SECONDS, POLISH_SECONDS = 0.15, 0.03
# Where pieces go one by one: for so long before layouts are listed, as either may settle a board.
RECREATE_EARLY_SECONDS = 2.0
FEW_SIZES = 7
QUICKLY_PRICED = 1e6
# Values are priced if they come so near to raising the bound as they are.
MOST_PROPOSED, PROMISING = 2, 1.03
RECREATE_SHARE, RECREATE_LATER_SHARE, FIRST_RESTART, RESTART_LENGTHS = 0.6, 0.2, 100, 4
# The same with several sizes of sheet, where plans a little cheaper are many.
RECREATE_SIZES_SHARE = 0.35
# How many sheets' worth of waste the sheets that are cleared have between them, at first and later.
LOOSE = (1.3, math.inf)
LOOSE_SHARES = (0.25, 0.75)
# CP-SAT's seconds and whole plans filled, round by round.
EFFORTS = ((0.2, 1), (0.3, 1), (0.5, 2), (1.0, 3), (2.0, 5), (3.0, 8), (4.0, 12), (6.0, 20))
# How far between the bound and the cost in hand a dive aims, with several sizes of sheet; and how
# many mixes of them are looked at in a round.
AIM, MIXES_CHOSEN, MIXES_LISTED, LISTING_SECONDS, CHOICE_SECONDS = 0.25, 6, 2, 1.0, 0.5
# The most of what is left of the budget that may go into raising the bound by mixes at once.
MIXES_SHARE = 0.3
# Sets of copies of a part, where every layout is listed that a mix of sheets could use.
MOST_SETS = 400
REMAINS_SHARE, EASE_SECONDS_A_SIZE = 0.002, 0.003
RESERVE = 0.4
# The same where pieces go one by one and even one fill would use up the budget: only clearing and
# refilling is left to look for a plan.
RESERVE_PIECEMEAL = 0.75
# Where the plan to look for may waste less than so many sheets, the master is polished longer.
POLISH, POLISH_TIGHT, TIGHT = 0.15, 0.4, 0.15
QUICK_LIMITED_SIZES = 90
FREE_SHARE, LONGEST_SHARE = 0.5, 0.8
# Round by round, how much more a layout may cost than it is worth, in sheets, for its parts' sizes
# to be kept where the exact grid is dear.
LOSSES = (0.0, 0.005)
# Where a plan is as many sheets above the bound when its budget is spent, it gets so many times
# that budget more, one after the other.
FAR, MORE = 2, (2.0, 3.0)
DIVE_SHARE = 0.3  # of what is left of the budget
# No dive is begun that could not price so often.
FEWEST_PRICINGS = 4
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
    rules
        Further piece values that `lower` needs: together with the costs they leave no numbers of
        sheets that cost less.
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
    rules: tuple[Rule, ...] = ()

    @property
    def proved(self) -> bool:
        """Whether no plan costs less."""
        return self.cost == self.lower


@dataclass(frozen=True, slots=True)
class Stuck:
    """Not even one piece of some of these types could be cut, though each fits a source."""

    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """For what a list of layouts was asked, and how long it might take.

    Attributes
    ----------
    bound, values
        The list's; no values where it need not be known which.
    seconds
        Infinite where the list was whole, so that more would not help.
    """

    bound: int = 0
    values: tuple[int, ...] = ()
    seconds: float = -1.0

    def covers(self, other: _Asked) -> bool:
        """Whether another list would say no more, going by these."""
        same = (self.bound, self.values) == (other.bound, other.values)
        return same and other.seconds <= self.seconds


@dataclass(slots=True)
class Search:
    """The state of planning one board.

    Attributes
    ----------
    grids
        To look for layouts on, coarse ones first.
    relaxed
        The grid that bounds are proved on; None where it would be too large to price.
    pool
        Every layout met that the tool can cut.
    limited
        Whether layouts must keep all limits of the tool, more than the bound may know.
    values
        The piece values that the last of the first fills came to.
    skeletons
        Layouts of the pieces with a value, of which a cheaper plan could be.
    listed, listed_properly
        What was last asked of lists of all layouts, and of those within the order.
    proper
        The master of layouts within the order, once it was asked for.
    rounds
        How many of `EFFORTS` are begun.
    restart
        The seed with which clearing and refilling goes on.
    put_off
        Whether a first fill was put off for a plan that is there sooner.
    """

    instance: Instance
    budget: Budget
    grids: tuple[Grid, ...]
    relaxed: Grid | None
    best: Choice
    lower: int
    limited: bool
    pool: dict[Layout, None] = field(default_factory=dict)
    searched: str = ""
    values: list[float] | None = None
    mixes: Mixes | None = None
    skeletons: tuple[Layout, ...] = ()
    listed: _Asked = field(default_factory=_Asked)
    listed_properly: _Asked = field(default_factory=_Asked)
    proper: ProperColumns | None = None
    rounds: int = 0
    restart: int = FIRST_RESTART
    put_off: bool = False

    @property
    def grid(self) -> Grid:
        """Return the finest grid to look for layouts on."""
        return self.grids[-1]

    @property
    def is_dear(self) -> bool:
        """Whether layouts are looked for on coarser grids than the finest, and on sparse ones."""
        return not self.limited and (
            self.grids[-1] is not self.grids[0]
            or (self.relaxed is None and self.grids[0].work > DEAR_WORK)
        )

    @property
    def cost(self) -> int:
        """Return the cost of the best plan so far."""
        return self.best.cost(self.instance)

    @property
    def grain(self) -> int:
        """Return a cost by whose multiples alone plans can differ."""
        return math.gcd(*(source.cost for source in self.instance.sources)) or 1

    @property
    def checks(self) -> bool:
        """Whether the grids give layouts that the tool may not be able to cut, if few."""
        return not self.limited and self.instance.has_bench_limits

    def is_closed(self) -> bool:
        """Whether the best plan meets the bound."""
        return self.cost <= self.lower

    def cuttable(self, layouts: Iterable[Layout]) -> tuple[Layout, ...]:
        """Return those layouts that the tool can cut."""
        if not self.instance.has_bench_limits:
            return tuple(layouts)
        checked = (legal(self.instance, layout) for layout in layouts)
        return tuple(layout for layout in checked if layout is not None)

    def gather(self, layouts: Iterable[Layout]) -> None:
        """Take into the pool those layouts that the tool can cut."""
        self.pool.update(dict.fromkeys(self.cuttable(layouts)))

    def meet(self, layouts: Iterable[Layout]) -> None:
        """Take layouts of the grids into the pool."""
        if self.checks:
            self.gather(layouts)
        else:
            self.pool.update(dict.fromkeys(layouts))

    def offer_unchecked(self, choice: Choice) -> None:
        """Take `choice` if it is cheaper and the tool can cut all of it, or those that it can."""
        self.gather(choice.copies)
        cuttable = {legal(self.instance, layout): n for layout, n in choice.copies.items()}
        if None in cuttable:
            return
        kept = Choice({layout: n for layout, n in cuttable.items() if layout})
        if kept.cost(self.instance) < self.cost:
            self.best = kept

    def offer(self, choice: Choice | None) -> None:
        """Take `choice` if it is cheaper, and its layouts into the pool in any case."""
        if choice is None:
            return
        if self.checks:
            self.offer_unchecked(choice)
            return
        self.pool.update(dict.fromkeys(choice.copies))
        if choice.cost(self.instance) < self.cost:
            self.best = choice

    def say(self, trying: str) -> None:
        """Report progress, and stop if asked to."""
        self.budget.report(self.cost, self.lower, trying)
        self.budget.check()


def unreachable(instance: Instance) -> tuple[int, ...]:
    """Return the piece types for which no legal cuts are found that free one from any source.

    If at all, a piece is freed from a source by a cut along each of its sides, shavings apart:
    cutting somewhere else first leaves no shorter cut and no wider remainder. Trims are taken off
    first; see `surely_unreachable` for where that matters.
    """
    return tuple(
        number
        for number, piece in enumerate(instance.pieces)
        if not any(
            legal(instance, Layout(source, (), Place(number, bool(turned)))) is not None
            for source in range(len(instance.sources))
            for turned in range(len(piece.orientations()))
        )
    )


def surely_unreachable(instance: Instance) -> bool:
    """Whether the pieces that are `unreachable` are so for certain.

    A waste strip that keeps its trim may be wide enough to cut off where the waste alone is not,
    and such cuts are not looked for.
    """
    trimmed = any(source.trim_x or source.trim_y for source in instance.sources)
    if not (trimmed and instance.narrowest_strip):
        return True
    return unreachable(instance) == unreachable(replace(instance, narrowest_strip=0))


def effort(instance: Instance) -> float:
    """Return how many deterministic seconds the instance is worth, by its number of sizes."""
    sizes = len(instance.pieces)
    more = SECONDS_A_SIZE_MORE * max(0, sizes - MANY_SIZES)
    return min(SECONDS_AT_MOST, SECONDS_AT_LEAST + SECONDS_A_SIZE * sizes + more)


def pack(instance: Instance, budget: Budget, *, rungs: int = 2) -> Packed | Stuck:
    """Return the best plan found for `instance`; every piece must fit some source.

    Where the stock is limited, sheets beyond it may be used at a price that no plan without them
    can reach; a plan that still uses them says how many the stock is short of.

    Parameters
    ----------
    rungs
        1 to stop at the least cost; 2 to look, at that cost, for a plan that leaves more, and at
        that worth for one of fewer layouts.

    Raises
    ------
    Stopped
        If the budget's `abort` struck before a first plan was found.
    """
    hold_memory()
    seconds = budget.seconds
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
        _fill_once(search)
        _close(search, bounding)
        if extended is instance:  # else what is far above is stock that is short
            _go_on(search, bounding, seconds)
    except Stopped:
        stopped = True
    except NoOptimum:
        pass  # what was found stands
    cost = search.cost
    lower, proof, rules = _shown(extended, search, bounding)
    one = stopped or rungs == 1
    chosen = slimmed(extended, search.best) if one else _kindest(extended, search)
    used = chosen.used(extended)
    kinds = len(instance.sources)
    return Packed(
        choice=chosen,
        cost=cost,
        lower=lower,
        proof=proof,
        by_exhaustion=bool(search.searched),
        searched=search.searched,
        stopped=stopped,
        short=used[kinds:],
        surely_short=bool(used[kinds:]) and lower >= extended.sources[-1].cost,
        rules=rules,
    )


def _kindest(instance: Instance, search: Search) -> Choice:
    """Return the best plan made to leave more at its cost, and then of fewer layouts."""
    remains, stop = Remains(instance), search.budget.stop
    share = Budget(REMAINS_SHARE * effort(instance), stop)
    chosen = kindest(remains, search.best, share)
    share = Budget(EASE_SECONDS_A_SIZE * len(instance.pieces), stop)
    return easiest(remains, chosen, search.pool, share)


def _shown(
    instance: Instance, search: Search, bounding: ColumnGeneration
) -> tuple[int, PieceValues, tuple[Rule, ...]]:
    """Return the bound, the piece values that show it, as plain as will do, and further rules.

    Where the bound rests on a search, they show as much of it as they can.
    """
    cost, lower = search.cost, search.lower
    by_values = bounding.lower(cost)
    proof = simplified(instance, bounding.proof, by_values, bounding.whole, cost)
    if lower <= by_values or search.mixes is None:
        return lower, proof, ()
    shown = least_shown(instance, search.mixes.rules, lower)
    if not search.searched:
        lower = max(by_values, shown)
    if shown <= by_values:
        return lower, proof, ()
    alone = alone_enough(instance, search.mixes.rules[0], shown)
    if alone is None:
        return lower, proof, plainest(instance, search.mixes.rules, shown)
    rule, dropped = alone
    unit = Fraction(bounding.whole << dropped, 1 << VALUE_BITS)
    values = tuple(unit * value for value in rule.values)
    worth = sum((v * d for v, d in zip(values, instance.demands, strict=True)), Fraction(0))
    return lower, PieceValues(values, worth - proof.charges, proof.charges), ()


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
        most = (QUICK_LIMITED_SIZES, MOST_LIMITED_SIZES)
        grids = tuple(build_grid(instance, limited=True, most=number) for number in most)
    else:
        grids = _grids(instance, relaxed)
    first, put_off = _first_plan(instance, grids[0], budget)
    if first is None:
        return None
    area = area_values(instance)
    lower = next_total(area.bound, instance, first.cost(instance))
    limited, pool = instance.has_bench_limits, dict.fromkeys(first.copies)
    search = Search(instance, budget, grids, relaxed, first, lower, limited, pool, put_off=put_off)
    exact = relaxed or grids[-1]
    quick = grids[0] if grids[0] is not exact and not instance.has_bench_limits else None
    proves = relaxed is not None
    return search, ColumnGeneration(instance, exact, budget, area, _whole(instance), quick, proves)


def _grids(instance: Instance, relaxed: Grid | None) -> tuple[Grid, ...]:
    """Return the grids on which to look for layouts, each finer than the one before."""
    found: list[Grid] = []
    for most in GRID_WORK if relaxed is not None else (*GRID_WORK, FINER_WORK):
        grid = quick_grid(instance, relaxed, most)
        if not found or grid.work > found[-1].work:
            found.append(grid)
    return tuple(found)


def _first_plan(instance: Instance, coarse: Grid, budget: Budget) -> tuple[Choice | None, bool]:
    """Return a plan made quickly, whatever the budget, and whether a fill was put off for it.

    None if none is found. Layout by layout where that is quick: then few layouts serve many sheets.
    Else piece by piece.
    """
    values = starting_values(instance, POWERS[0])
    if instance.has_bench_limits:
        quick = build_grid(instance, limited=True, most=QUICK_LIMITED_SIZES)
        return fill(instance, quick, values, budget.for_first_plan()), False
    piecemeal = _is_piecemeal(instance, coarse)
    if piecemeal or fill_seconds(instance, coarse) > MOST_FIRST_SECONDS:
        found = soon_put_together(instance, budget.for_first_plan())
        if found is not None:
            return found, not piecemeal
    return fill(instance, coarse, values, budget.for_first_plan()), False


def _fill_once(search: Search) -> None:
    """Fill a whole plan where that was put off for a plan made sooner.

    It may take as much again as the whole budget, and more, but is not taken off it.
    """
    instance, coarse = search.instance, search.grids[0]
    most = MOST_PUT_OFF * search.budget.seconds
    if search.is_closed() or not search.put_off or fill_seconds(instance, coarse) > most:
        return
    search.say("whole plans")
    values, stop = starting_values(instance, POWERS[0]), search.budget.stop
    search.offer(fill(instance, coarse, values, Budget(most, stop, stop)))


def _is_piecemeal(instance: Instance, coarse: Grid) -> bool:
    """Whether sizes are many and copies few, and a fill so dear, that pieces go one by one."""
    return _has_few_copies(instance) and coarse.work * len(instance.pieces) > MOST_FILL_WORK


def _has_few_copies(instance: Instance) -> bool:
    return sum(instance.demands) <= FEW_COPIES * len(instance.pieces)


def _whole(instance: Instance) -> int:
    return max(source.cost for source in instance.sources) or 1


def _close(search: Search, bounding: ColumnGeneration) -> None:
    """Work until the plan meets the bound or nothing is left to try."""
    search.say("first plan")
    for step in _steps(search, bounding):
        if search.is_closed():
            return
        step(search)
    if not search.is_closed():
        _deepen(search, bounding)


def _go_on(search: Search, bounding: ColumnGeneration, seconds: float) -> None:
    """Spend more than the budget's `seconds` on a plan that lies sheets above the bound.

    With several sizes of sheet it is the dearest that counts. Without an exact grid, where the
    seconds do not go far, one sheet above is enough for the last extension.
    """
    for more in MORE:
        far = 1 if more == MORE[-1] and not bounding.proves else FAR
        if search.cost - search.lower < far * bounding.whole:
            continue
        search.budget.seconds = more * seconds
        _close(search, bounding)


def _steps(search: Search, bounding: ColumnGeneration) -> tuple[Callable[[Search], None], ...]:
    """Return what is tried before `_deepen`, and in which order."""
    if search.limited:
        return (
            partial(_without_strips, bounding=bounding),
            partial(_within_strips, bounding=bounding),
            partial(_choose, bounding=bounding, effort=EFFORTS[0][0]),
            partial(_recreate, seconds=RECREATE_SECONDS, seed=1),
            _better_fills,
            _exhaust,
        )
    bound, later = partial(_bound, bounding=bounding), RECREATE_LATER_SHARE
    if len([source for source in search.instance.sources if source.cost]) > 1:
        bound, later = partial(_bound_by_mixes, bounding=bounding), RECREATE_SIZES_SHARE
    longer = partial(_recreate, seconds=RECREATE_SECONDS, seed=1)
    diving = partial(_dive_sparsely, bounding=bounding, seed=0)
    listing = partial(_list_skeletons, bounding=bounding, most_seconds=SKELETON_SECONDS)
    if _is_piecemeal(search.instance, search.grids[0]):
        first = partial(_recreate, seconds=RECREATE_SECONDS, seed=0)
        early = partial(_recreate_for, seconds=RECREATE_EARLY_SECONDS)
        again = partial(_recreate_again, share=RECREATE_SHARE)
        proper = partial(_go_proper, bounding=bounding)
        # Clearing and refilling again may take most of what is left, so this comes before it.
        finish = partial(
            _round_and_finish, columns=bounding, grid=search.grids[0], passes=EFFORTS[0][1]
        )
        return first, bound, early, listing, proper, diving, finish, again
    if len(search.instance.pieces) <= FEW_SIZES:
        # Layout by layout first: strips of equal pieces are easier to cut.
        return bound, partial(_better_fills, polish=False), _exhaust, longer, diving, listing
    if not bounding.proves and _fills_dearly(search):
        return bound, longer, diving, _exhaust
    steps: tuple[Callable[[Search], None], ...] = (
        bound,
        _better_fills,
        longer,
        diving,
        listing,
        _exhaust,
    )
    if _has_few_copies(search.instance):
        again = partial(_recreate_again, share=later)
        steps = (*steps, partial(_go_proper, bounding=bounding), again)
    if bounding.grid.work <= QUICKLY_PRICED:
        return steps
    return partial(_recreate, seconds=POLISH_SECONDS, seed=0), *steps


def _fills_dearly(search: Search) -> bool:
    """Whether filling whole plans anew would use up too much of the budget."""
    seconds = fill_seconds(search.instance, search.grids[0])
    return seconds > FILL_SHARE * search.budget.seconds


def _without_strips(search: Search, bounding: ColumnGeneration) -> None:
    """Plan as if strips could be as narrow as one likes; take the bound, and what can be cut.

    The longest cut is held by the grids themselves, trims apart.
    """
    free = replace(search.instance, narrowest_strip=0)
    grids = _grids(free, search.relaxed)
    pool = dict(search.pool)
    part = FREE_SHARE if search.instance.narrowest_strip else LONGEST_SHARE
    with search.budget.lent(part * search.budget.seconds) as share:
        best, lower = search.best, search.lower
        inner = Search(free, share, grids, search.relaxed, best, lower, limited=False, pool=pool)
        bounding.budget = share
        try:
            _close(inner, bounding)
        finally:
            bounding.budget = search.budget
            search.lower, search.searched = inner.lower, inner.searched
            search.mixes = inner.mixes
            search.offer_unchecked(inner.best)
            search.gather(inner.pool)


def _within_strips(search: Search, bounding: ColumnGeneration) -> None:
    """Raise the bound with the narrowest strip held, where that forbids anything.

    Not where it is made of numbers of sheets: their rules are those of one grid.
    """
    if search.mixes is not None or not bounding.proves:
        return
    grid = strip_grid(search.instance)
    if grid is None:
        return
    bounding.go_on_with(grid, search.grids[-1])
    _bound(search, bounding)
    if search.lower <= bounding.lower(search.cost):
        search.searched = ""  # the values show as much


def _deepen(search: Search, bounding: ColumnGeneration) -> None:
    """Look for better whole plans, with more effort each round."""
    small = search.grid.work < CHEAP_WORK
    columns = _proper_columns(search, bounding)
    for effort, passes in EFFORTS[search.rounds :]:
        search.rounds += 1
        number = search.rounds
        grid = search.grids[min((number - 1) // 2, len(search.grids) - 1)]
        steps = [
            partial(_list_skeletons, bounding=bounding),
            partial(_complete_skeletons, seed=FIRST_COMPLETIONS + number),
            partial(_try_mixes, effort=effort),
            *(
                partial(_dive_sparsely, bounding=bounding, seed=seed)
                for seed in _seeds(search, number)
            ),
            partial(_choose, bounding=bounding, effort=effort),
            partial(_list_for_mixes, effort=effort),
            partial(_round_and_finish, columns=bounding, grid=grid, passes=passes),
            partial(_recreate, seconds=RECREATE_SECONDS * passes, seed=number),
        ]
        if small:
            steps += [
                partial(_proper, columns=columns),
                partial(_list_properly, bounding=bounding, columns=columns),
                partial(_round_and_finish, columns=columns, grid=grid, passes=passes),
                partial(_choose, bounding=bounding, effort=effort),
                partial(_dive, columns=columns, grid=grid, seed=number),
                partial(_choose, bounding=bounding, effort=effort),
            ]
        for step in steps:
            if search.is_closed() or search.budget.spent:
                return
            step(search)


def _recreate(search: Search, seconds: float, seed: int, plan: Choice | None = None) -> None:
    """Clear parts of a plan's sheets by chance and put the pieces back, towards fewer sheets.

    First on so few of the loosest sheets as waste more than one sheet between them, so that most
    layouts are left in peace.

    Parameters
    ----------
    plan
        By default the best so far.
    """
    # Pieces too many would be put back like others.
    now = slimmed(search.instance, search.best if plan is None else plan)
    left = min(seconds, search.budget.seconds)
    for loose, part in zip(LOOSE, LOOSE_SHARES, strict=True):
        with search.budget.lent(left * part) as share:
            while not search.is_closed() and (found := _recreated(search, share, loose, seed, now)):
                now = found
                search.offer(now)
                search.say("clearing and refilling")


def _recreate_again(search: Search, share: float) -> None:
    """Clear and refill with one seed after another, for a share of the budget."""
    _recreate_for(search, share * search.budget.seconds)


def _recreate_for(search: Search, seconds: float) -> None:
    """Clear and refill with one seed after another, for so many of the budget's seconds, or so.

    An attempt that has begun is not cut short.
    """
    least = search.budget.seconds - seconds
    while not search.is_closed() and search.budget.seconds > max(0.0, least):
        # Short attempts and long ones in turn: which is better differs from board to board.
        length = 1 << search.restart % RESTART_LENGTHS
        _recreate(search, RECREATE_SECONDS * length, search.restart)
        search.say("clearing and refilling")
        search.restart += 1


def _recreated(
    search: Search, budget: Budget, loose: float, seed: int, plan: Choice
) -> Choice | None:
    """Return a cheaper plan that the tool can cut, or None."""
    chosen, kept = loosest(search.instance, plan, loose, seed)
    layouts = cheaper(search.instance, chosen, kept, budget, seed) or ()
    found = search.cuttable(layouts)
    return kept.and_sheets(found) if layouts and len(found) == len(layouts) else None


def _proper_columns(search: Search, bounding: ColumnGeneration) -> ProperColumns:
    """Return the master of layouts within the order, the same each time."""
    if search.proper is None:
        search.proper = ProperColumns(search.instance, search.grid, search.budget, bounding.whole)
    return search.proper


def _go_proper(search: Search, bounding: ColumnGeneration) -> None:
    """Settle a board of few copies by layouts within the order."""
    if search.grid.work < CHEAP_WORK:
        columns = _proper_columns(search, bounding)
        _proper(search, columns)
        _list_properly(search, bounding, columns)


def _proper(search: Search, columns: ProperColumns) -> None:
    """Gather layouts within the demands, as many as pay."""
    columns.add(search.pool)
    _step_properly(search, columns)


def _step_properly(search: Search, columns: ProperColumns) -> None:
    """Price within the demands for as long as that finds layouts."""
    for _ in range(MOST_PRICINGS):
        columns.step()
        search.say("layouts within the order")
        if columns.done or search.budget.spent:
            break
    search.meet(columns.master.layouts)


def _dive(search: Search, columns: ColumnGeneration | ProperColumns, grid: Grid, seed: int) -> None:
    if columns.state is None:
        return
    values = _guided(search.instance, columns.state.duals)
    # A dive begins with the layouts that those before it met, so it pays to begin anew where one
    # would take nearly all there is.
    many = len(search.instance.pieces) > MANY_SIZES and search.relaxed is not None
    part = DIVE_SHARE if many else 1
    pricing = splits_as_seconds(work_within(grid, caps(search.instance, search.instance.demands)))
    if FEWEST_PRICINGS * pricing > part * search.budget.seconds:
        return
    with search.budget.lent(part * search.budget.seconds) as share:
        plan, met = dive(
            search.instance,
            grid,
            search.pool,
            columns.whole,
            _aimed_at(search),
            share,
            values,
            seed,
            seldom=search.relaxed is None,
        )
    search.meet(met)
    search.offer(plan)
    search.say("diving")
    if plan is not None:
        _recreate(search, POLISH_SECONDS, seed, plan)


def _dive_sparsely(search: Search, bounding: ColumnGeneration, seed: int) -> None:
    """Dive on the sizes of the best layouts' parts, or on all where these are quick to price."""
    _dive(search, bounding, _sparse(search, bounding, LOSSES[seed % len(LOSSES)]), seed)


def _seeds(search: Search, number: int) -> tuple[int, ...]:
    """Return the seeds of a round's dives: one for each loss where there are sparse grids."""
    if not search.is_dear:
        return (number,)
    first = (number - 1) * len(LOSSES) + 1
    return tuple(range(first, first + len(LOSSES)))


def _sparse(search: Search, bounding: ColumnGeneration, loss: float) -> Grid:
    """Return a grid of the sizes of parts of layouts that lose no more than so much."""
    if not search.is_dear or bounding.state is None:
        return search.grids[0]
    grid = bounding.sparse(loss)
    return grid if grid.work <= search.grids[-1].work else search.grids[0]


def _aimed_at(search: Search) -> int:
    """Return what a plan to look for may cost.

    Where totals lie close together, a plan that is a little cheaper is found soon and worth little.
    """
    gap = search.cost - search.grain - search.lower
    return search.lower + (gap if search.mixes is None else math.floor(AIM * gap))


def _exhaust(search: Search) -> None:
    """Settle a small board by listing its maximal layouts, if they are few.

    With limits of the tool the list may want layouts, so that its bound is not used.
    """
    if search.grid.work > MOST_EXHAUST_WORK or len(search.instance.pieces) > MANY_SIZES:
        return
    search.say("listing layouts")
    seconds = EXHAUST_LIMITED_SECONDS if search.limited else EXHAUST_SECONDS
    grid = search.grid if search.limited or search.relaxed is None else search.relaxed
    with search.budget.lent(seconds) as share:
        try:
            listed = maximal_layouts(search.instance, grid, share)
        except TooMany:
            listed = ()
    layouts = search.cuttable(listed)
    if not layouts:
        return
    _afford(search, layouts)
    if search.is_closed():
        return
    plan, bound = choose(
        search.instance, layouts, search.best, search.lower, search.budget, EXHAUST_EFFORT
    )
    search.offer(plan)
    whole = len(layouts) == len(listed)  # what a layout left out holds might be cut otherwise
    if bound > search.lower and grid is search.relaxed and whole:
        search.lower = min(bound, search.cost)
        search.searched = (
            f"All {len(layouts)} maximal layouts within the order were listed, and CP-SAT showed "
            "that no choice of them costs less."
        )


def _afford(search: Search, layouts: Sequence[Layout]) -> None:
    """Look for a plan at the bound among few layouts, which mostly is found at once."""
    if len(layouts) > FEW_LISTED:
        return
    with search.budget.lent(AFFORDABLE_SECONDS) as share:
        plan = affordable(search.instance, layouts, search.lower, share)
    if plan is not None:
        search.offer(plan)


def _list_skeletons(
    search: Search, bounding: ColumnGeneration, most_seconds: float = SKELETON_LATER_SECONDS
) -> None:
    """List the layouts, of the pieces with a value, that a plan at the bound could use, if few.

    No choice of them may do: then the bound rises. Else small pieces are to be added. Where there
    were too many, it is tried again only with more work to spend.
    """
    if not bounding.proves or bounding.state is None or not _lists(search):
        return
    seconds = min(most_seconds, SKELETON_SHARE * search.budget.seconds)
    asked = _Asked(search.lower, (), seconds)
    if search.listed.covers(asked):
        return
    search.listed = asked
    search.say("listing layouts")
    unit = Fraction(bounding.whole, 1 << VALUE_BITS)
    with search.budget.lent(seconds) as share:
        listed = skeletons(search.instance, bounding.last_values(), unit, search.lower, share)
    if listed is None:
        return
    search.listed = replace(asked, seconds=math.inf)
    _choose_listed(search, bounding, listed)


def _lists(search: Search) -> bool:
    """Whether lists of layouts say anything: a list for cutting with limits may want some."""
    return not search.instance.has_bench_limits and search.mixes is None and search.lower > 0


def _choose_listed(search: Search, bounding: ColumnGeneration, listed: Skeletons) -> bool:
    """Choose among all layouts that a plan at the bound could use; return whether none is left.

    Then the bound rises; else such a plan may be near.
    """
    # What a plan costs at least is no bound for plans of some of the pieces only.
    plan, none = choice_within(
        listed.reduced, listed.layouts, search.lower, search.budget, SKELETON_EFFORT
    )
    if none:
        # The list is that of this bound alone.
        search.lower = min(search.lower + search.grain, search.cost)
        search.skeletons = ()
        search.searched = _said_of(len(listed.layouts))
    elif plan is not None:
        search.skeletons = tuple(listed.in_full(search.instance))
        for seed in range(FIRST_COMPLETIONS):
            _complete_skeletons(search, seed)
        _choose(search, bounding, CHOICE_SECONDS)
    return none


def _said_of(layouts: int) -> str:
    """Return what a list of so many layouts shows, in a sentence."""
    if not layouts:
        return (
            "By one set of values for the sizes, no layout within the order is worth enough for a "
            "plan below this bound; a search through all of them showed it."
        )
    return (
        f"Of all layouts of the sizes that have a value, the {layouts} that a plan below this "
        "bound could use were listed; CP-SAT showed that no choice of them makes all pieces."
    )


def _list_properly(search: Search, bounding: ColumnGeneration, columns: ProperColumns) -> None:
    """List as `_list_skeletons` does, going by the values of layouts within the order."""
    sources = search.instance.sources
    if not bounding.proves or any(source.available is not None for source in sources):
        return
    if columns.state is None:
        return
    seconds = min(SKELETON_LATER_SECONDS, SKELETON_SHARE * search.budget.seconds)
    if search.listed_properly.covers(_Asked(search.lower, columns.last_values(), seconds)):
        return
    rises = True
    with search.budget.lent(seconds) as share:
        while rises and _lists(search) and not search.is_closed():
            listed = _listed_properly(search, columns, share)
            rises = listed is not None and _choose_listed(search, bounding, listed)
            enough = seconds if listed is None else math.inf
            search.listed_properly = _Asked(search.lower, columns.last_values(), enough)


def _listed_properly(search: Search, columns: ProperColumns, budget: Budget) -> Skeletons | None:
    """Return the layouts within the order that a plan at the bound could use, if few.

    What such a layout is worth at most has to be found out by listing, too: those that are worth
    more than any known one go into the master, and all is listed anew.
    """
    unit = Fraction(columns.whole, 1 << VALUE_BITS)
    for _ in range(MOST_LISTS):
        if budget.spent:
            return None
        search.say("listing layouts")
        best = columns.most_worth(search.lower)
        values = columns.last_values()
        listed = skeletons(search.instance, values, unit, search.lower, budget, best)
        if listed is None or not listed.above:
            return listed
        columns.add(listed.named(one, search.instance) for one in listed.above)
        _step_properly(search, columns)
    return None


def _complete_skeletons(search: Search, seed: int) -> None:
    """Gather skeletons with small pieces added."""
    if not search.skeletons:
        return
    layouts = completed(search.instance, search.grids[0], search.skeletons, seed, search.budget)
    search.pool.update(dict.fromkeys(layouts))
    search.say("completing layouts")


def _better_fills(search: Search, *, polish: bool = True) -> None:
    """Fill whole plans with the best layouts for areas, values corrected each time.

    Called again, it goes on with the values that it had come to.
    """
    values = search.values or starting_values(search.instance, POWERS[1])
    left = _Left.of(search.instance)
    search.values = _corrected_fills(
        search, values, search.grids[0], FIRST_FILLS, {}, left, polish=polish
    )


def _bound(search: Search, bounding: ColumnGeneration) -> None:
    """Raise the bound by column generation.

    Goes on, for a while, where the bound cannot rise any more: the nearer the master is to its
    optimum, the better a guide it is to whole plans.
    """
    bounding.add(search.pool)
    if bounding.proves and bounding.state is None and not bounding.grid.holds_strips:
        check = search.budget.check
        for values in dual_feasible_values(search.instance, MOST_PROPOSED, VALUE_BITS, check):
            worth = sum(v * d for v, d in zip(values, search.instance.demands, strict=True))
            if worth * bounding.whole * PROMISING <= search.lower << VALUE_BITS:
                break
            bounding.propose(values)
            search.lower = max(search.lower, bounding.lower(search.cost))
            search.say("bound")
            if search.is_closed():
                return
    share = _reserve(search) * search.budget.seconds
    polish, tight = ((1 - part) * search.budget.seconds for part in (POLISH, POLISH_TIGHT))
    pricings = 0
    while not bounding.done and search.budget.seconds > share:
        values = bounding.step()
        search.lower = max(search.lower, bounding.lower(search.cost))
        search.say("bound")
        if search.is_closed():
            break
        enough = tight if _is_tight(search, bounding) else polish
        if search.budget.seconds < enough and _cannot_rise(search, bounding):
            break
        pricings += 1
        if _wants_proper(search, pricings):
            bounding.add(_proper_layout(search, values))
    search.gather(bounding.master.layouts)


def _reserve(search: Search) -> float:
    """Return what share of the budget is kept for whole plans."""
    instance, coarse = search.instance, search.grids[0]
    if search.limited or not _is_piecemeal(instance, coarse):
        return RESERVE
    dear = fill_seconds(instance, coarse) > search.budget.seconds
    return RESERVE_PIECEMEAL if dear else RESERVE


def _wants_proper(search: Search, pricings: int) -> bool:
    """Whether a layout within the order is looked for after so many pricings for the bound.

    Plans that leave more, or are of fewer layouts, are made of these; but where nearly every piece
    is a type of its own, one takes up to ten times as long as a pricing.
    """
    instance = search.instance
    rarely = _has_few_copies(instance) and not instance.has_bench_limits
    return search.grid.work < CHEAP_WORK and not (rarely and pricings % PROPER_EVERY)


def _proper_layout(search: Search, values: Sequence[int]) -> list[Layout]:
    """Return the best layout within the order that the tool can cut, by such values, if any."""
    found = next_layout(
        search.instance,
        search.grid,
        [max(1, value) for value in values],
        search.instance.demands,
        [source.available for source in search.instance.sources],
        search.budget,
    )
    return [] if found is None else [found]


def _bound_by_mixes(search: Search, bounding: ColumnGeneration) -> None:
    """Raise the bound by column generation, then by which numbers of sheets can do at all."""
    _bound(search, bounding)
    if search.is_closed() or not bounding.proves:
        return
    search.mixes = Mixes(search.instance, bounding.grid, search.budget)
    search.mixes.price(bounding.whole_values())
    _raise_by_mixes(search, search.mixes)


def _raise_by_mixes(search: Search, mixes: Mixes) -> None:
    mixes.know(search.pool)
    with search.budget.lent(MIXES_SHARE * search.budget.seconds) as share:
        mixes.budget = share
        try:
            lower = mixes.lower(search.cost)
        finally:
            mixes.budget = search.budget
    if lower > search.lower:
        search.lower = lower
        search.searched = mixes.searched
    search.meet(mixes.met)
    search.say("numbers of sheets")


def _try_mixes(search: Search, effort: float) -> None:
    """Look for a plan with each mix of sheets that costs less and may do."""
    mixes = search.mixes
    if mixes is None or search.limited:
        return
    _raise_by_mixes(search, mixes)
    for mix in itertools.islice(mixes.hopeful(search.lower, search.cost), MIXES_CHOSEN):
        if search.is_closed() or search.budget.spent:
            return
        layouts = mixes.could_serve(mix, search.pool)
        if _chosen_of(search, mix, layouts, effort)[0]:
            return


def _list_for_mixes(search: Search, effort: float) -> None:
    """Settle mixes by listing every layout that a plan with them could use, where these are few."""
    mixes = search.mixes
    if mixes is None or search.limited:
        return
    _raise_by_mixes(search, mixes)
    work = max(effort, LISTING_SECONDS) * SPLITS_A_SECOND
    listing: Listing | None = None
    listings = 0
    for mix in mixes.hopeful(search.lower, search.cost):
        if search.is_closed() or search.budget.spent:
            return
        if listing is None or not listing.is_whole_for(mix):
            if listings == MIXES_LISTED:
                return
            listing = mixes.listing(mix, work, MOST_SETS)
            listings += 1
        if listing is not None and _is_settled(search, mixes, mix, listing, effort):
            return


def _is_settled(search: Search, mixes: Mixes, mix: Mix, listing: Listing, effort: float) -> bool:
    """Choose among listed layouts; return whether a plan was found with a mix."""
    search.meet(listing.layouts)
    layouts = listing.of(mix)
    if not listing.whole:
        layouts = mixes.could_serve(mix, search.pool)
    found, none = _chosen_of(search, mix, layouts, max(effort, CHOICE_SECONDS))
    if none and listing.is_whole_for(mix):
        mixes.dead.append(mix)
        _raise_by_mixes(search, mixes)
    return found


def _chosen_of(
    search: Search, mix: Mix, layouts: Sequence[Layout], effort: float
) -> tuple[bool, bool]:
    """Look for a plan of some layouts with a mix; return whether there is one, and is none.

    A plan need not use up the mix, so that where there is none, none does with less either.
    """
    assert search.mixes is not None
    search.say("choosing sheets")
    cost = search.mixes.cost(mix)
    only = search.mixes.only(mix)
    plan, bound = choose(only, layouts, search.best, search.lower, search.budget, effort)
    search.offer(plan)
    return plan.cost(only) <= cost, bound > cost


def _cannot_rise(search: Search, bounding: ColumnGeneration) -> bool:
    """Whether even the master's own optimum would not give a higher bound."""
    assert bounding.state is not None
    optimum = bounding.state.objective * bounding.whole * (1 - 1e-9)
    return next_total(Fraction(optimum), search.instance, search.cost) <= search.lower


def _is_tight(search: Search, bounding: ColumnGeneration) -> bool:
    """Whether the master's layouts leave a plan that meets the bound hardly any waste to spare."""
    assert bounding.state is not None
    return bounding.state.objective > search.lower / bounding.whole - TIGHT


def _round_and_finish(
    search: Search, columns: ColumnGeneration | ProperColumns, grid: Grid, passes: int
) -> None:
    """Round the master down and finish what remains; then whole plans; values corrected."""
    state = columns.state
    if state is None:
        return
    kept, left = _rounded_down(search, columns.master.layouts, state.usage)
    values = _guided(search.instance, state.duals)
    values = _corrected_fills(search, values, grid, passes, kept, left)
    _corrected_fills(search, values, grid, passes, {}, _Left.of(search.instance))


@dataclass(frozen=True, slots=True)
class _Left:
    """Demands and sources that a part of a plan leaves."""

    demands: tuple[int, ...]
    available: tuple[int | None, ...]

    @classmethod
    def of(cls, instance: Instance) -> _Left:
        return cls(instance.demands, tuple(source.available for source in instance.sources))


def _rounded_down(
    search: Search, layouts: Sequence[Layout], usage: Sequence[float]
) -> tuple[dict[Layout, int], _Left]:
    """Return the whole parts of the usage of layouts that the tool can cut, and what they leave."""
    copies = {
        layout: math.floor(share + 1e-6)
        for used, share in zip(layouts, usage, strict=False)
        if share + 1e-6 >= 1
        for layout in search.cuttable([used])
    }
    left = without(search.instance, copies)
    return copies, _Left(left.demands, tuple(source.available for source in left.sources))


def _guided(instance: Instance, duals: Sequence[float]) -> list[float]:
    """Return the master's values on the scale of areas, none of them next to nothing."""
    areas = starting_values(instance, 1.0)
    scale = max(areas) / (max(duals) or 1.0)
    return [max(dual * scale, area * 0.05) for dual, area in zip(duals, areas, strict=True)]


def _corrected_fills(
    search: Search,
    values: list[float],
    grid: Grid,
    passes: int,
    kept: Mapping[Layout, int],
    left: _Left,
    *,
    polish: bool = True,
) -> list[float]:
    """Offer `kept` and what remains filled `passes` times over; return the corrected values.

    No fill is begun that the budget is unlikely to last for.
    """
    seconds = fill_seconds(search.instance, grid, left.demands)
    for number in range(passes):
        if search.is_closed() or seconds > search.budget.seconds:
            break
        rest = fill(search.instance, grid, values, search.budget, left.demands, left.available)
        if rest is None:
            break
        total = dict(kept)
        for layout, count in rest.copies.items():
            total[layout] = total.get(layout, 0) + count
        plan = Choice(total)
        search.offer(plan)
        search.say("whole plans")
        if polish:
            _recreate(search, POLISH_SECONDS, number, plan)
        values = corrected(search.instance, values, rest, POWERS[number % len(POWERS)])
    return values


def _choose(search: Search, bounding: ColumnGeneration, effort: float) -> None:
    """Choose among the layouts met that a cheaper plan could use."""
    if search.is_closed():
        return
    search.say("choosing layouts")
    layouts = bounding.could_serve(search.pool, search.cost - search.grain)
    rules = [] if search.mixes is None else search.mixes.rules
    plan, _ = choose(
        search.instance, layouts, search.best, search.lower, search.budget, effort, rules
    )
    search.offer(plan)
