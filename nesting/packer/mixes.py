"""How many sheets of each size there may be: rules that piece values lay down, and what they leave.

Give each piece a value. What the sheets of a plan can hold at most must be worth as much as all
pieces wanted, so that the numbers of sheets of each size keep to a rule: number times the worth of
the best layout, added up, is at least what is wanted. The rule is linear duality as in Gilmore and
Gomory (1961); that the numbers are whole, and that several rules hold at once, is what makes it say
more than the master's bound. The cheapest numbers that keep all rules known, the *mix*, are asked
whether layouts can cover the demands in fractions (column generation once more); where they cannot,
the duals are values for a new rule, which that mix does not keep.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from ortools.linear_solver import pywraplp

from .layouts import Layout, counts_of, fits
from .limited import NearBest
from .recursion import best_values, trace

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .recursion import IntArray
    from .running import Budget

__all__ = [
    "Listing",
    "Mix",
    "Mixes",
    "Rule",
    "TooManyMixes",
    "alone_enough",
    "cheapest",
    "least_shown",
    "mixes",
    "plainest",
    "rule_of",
]

Mix = tuple[int, ...]

VALUE_BITS = 27
PAYS = 1e-7
# Pricings for one mix, and numbers looked at in one search for mixes.
MOST_PRICINGS = 60
MOST_NUMBERS = 20_000
# How many pricings may go into what limited copies are worth at most.
TIGHTENINGS = 8
# What a piece may be worth at most, all of its kind together; a mix is worth 1.
OUT_OF_REACH = 4.0


class TooManyMixes(Exception):
    """There are more numbers of sheets to look at than is worth while."""


@dataclass(frozen=True, slots=True)
class Rule:
    """What piece values say of the numbers of sheets.

    Attributes
    ----------
    values
        One a piece type, whole.
    best
        The worth of the best layout of each source, or more.
    wanted
        What all pieces wanted are worth: number times `best`, over all sources, is no less.
    """

    values: tuple[int, ...]
    best: tuple[int, ...]
    wanted: int

    def is_kept(self, mix: Mix) -> bool:
        """Whether a mix can hold as much as is wanted."""
        return sum(b * n for b, n in zip(self.best, mix, strict=True)) >= self.wanted


def rule_of(instance: Instance, values: Sequence[int], best: Sequence[int]) -> Rule:
    """Return the rule of whole-number values, given the best layout's worth on each source."""
    wanted = sum(v * d for v, d in zip(values, instance.demands, strict=True))
    return Rule(tuple(values), tuple(best), wanted)


def _numbers(instance: Instance) -> list[int | None]:
    """Return the most of each source that a plan can use; None for any number.

    What costs nothing is taken to be there in full: a rule is never harder to keep for it.
    """
    pieces = sum(instance.demands)
    return [
        min(pieces, source.available) if source.available is not None
        else pieces if source.cost == 0
        else None
        for source in instance.sources
    ]  # fmt: skip


def mixes(
    instance: Instance, rules: Sequence[Rule], at_least: int, below: int, dead: Sequence[Mix] = ()
) -> Iterator[tuple[int, Mix]]:
    """Yield each mix that keeps all rules, with its cost, from `at_least` to less than `below`.

    Every source that costs nothing is in each mix as often as there is one.

    Parameters
    ----------
    dead
        Mixes that will not do; nor do those with no more sheets of any size.

    Raises
    ------
    TooManyMixes
        If there are too many to look at.
    """
    search = _Search.of(instance, rules, at_least, below)
    for cost, mix in search.run():
        if not _is_dead(mix, dead):
            yield cost, mix


def _is_dead(mix: Mix, dead: Sequence[Mix]) -> bool:
    return any(all(n <= m for n, m in zip(mix, one, strict=True)) for one in dead)


def cheapest(
    instance: Instance, rules: Sequence[Rule], below: int, dead: Sequence[Mix] = ()
) -> tuple[int, Mix] | None:
    """Return a cheapest mix that keeps all rules, with its cost; None if none costs less.

    Parameters
    ----------
    dead
        As of `mixes`.

    Raises
    ------
    TooManyMixes
        If there are too many to look at.
    """
    best: tuple[int, Mix] | None = None
    search = _Search.of(instance, rules, 0, below)
    # Where a mix is dead, one with more of the last source may not be.
    for cost, mix in search.run(only_least=not dead):
        if cost < search.below and not _is_dead(mix, dead):
            best = cost, mix
            search.below = cost
    return best


@dataclass(slots=True)
class _Search:
    """Numbers tried one source after the other, the dearest first.

    Attributes
    ----------
    rates
        For each rule and each source, the least that a unit of worth costs on it or a later one;
        None where they hold nothing.
    """

    order: tuple[int, ...]
    costs: tuple[int, ...]
    most: tuple[int | None, ...]
    best: tuple[tuple[int, ...], ...]
    wanted: tuple[int, ...]
    rates: tuple[tuple[Fraction | None, ...], ...]
    fixed: Mix
    at_least: int
    below: int
    looked: int = 0

    @classmethod
    def of(cls, instance: Instance, rules: Sequence[Rule], at_least: int, below: int) -> _Search:
        most = _numbers(instance)
        costs = [source.cost for source in instance.sources]
        paid = [n for n, cost in enumerate(costs) if cost > 0]
        paid.sort(key=lambda n: -costs[n])
        fixed = tuple(0 if cost else most[n] or 0 for n, cost in enumerate(costs))
        wanted = [
            rule.wanted - sum(b * n for b, n in zip(rule.best, fixed, strict=True))
            for rule in rules
        ]
        best = [tuple(rule.best[n] for n in paid) for rule in rules]
        prices = tuple(costs[n] for n in paid)
        rates = [_rates(prices, worths) for worths in best]
        return cls(
            tuple(paid),
            prices,
            tuple(most[n] for n in paid),
            tuple(best),
            tuple(wanted),
            tuple(rates),
            fixed,
            at_least,
            below,
        )

    def run(self, *, only_least: bool = False) -> Iterator[tuple[int, Mix]]:
        """Yield costs and mixes; with `only_least` only the least number of the last source."""
        for cost, numbers in self._below(0, 0, self.wanted, only_least):
            mix = list(self.fixed)
            for source, number in zip(self.order, numbers, strict=True):
                mix[source] = number
            yield cost, tuple(mix)

    def _below(
        self, at: int, spent: int, wanted: tuple[int, ...], only_least: bool
    ) -> Iterator[tuple[int, tuple[int, ...]]]:
        self.looked += 1
        if self.looked > MOST_NUMBERS:
            raise TooManyMixes
        if at == len(self.order):
            if max(wanted, default=0) <= 0 and self.at_least <= spent < self.below:
                yield spent, ()
            return
        low, high = self._range(at, spent, wanted)
        if at == len(self.order) - 1 and only_least:
            high = min(high, low)
        for number in range(low, high + 1):
            left = tuple(w - self.best[k][at] * number for k, w in enumerate(wanted))
            inner = self._below(at + 1, spent + number * self.costs[at], left, only_least)
            for cost, numbers in inner:
                yield cost, (number, *numbers)

    def _range(self, at: int, spent: int, wanted: tuple[int, ...]) -> tuple[int, int]:
        """Return which numbers of a source can be part of a mix that costs less than `below`.

        What a rule still wants costs at least so much on the later sources; with `number` sheets
        of this one, number times cost and that must stay below.
        """
        cost, room = self.costs[at], self.below - 1 - spent
        low, high = 0, room // cost
        most = self.most[at]
        if most is not None:
            high = min(high, most)
        for worths, rates, want in zip(self.best, self.rates, wanted, strict=True):
            if want <= 0:
                continue
            worth, rate = worths[at], rates[at + 1]
            if rate is None and worth == 0:
                return 0, -1
            if rate is None:
                low = max(low, -(-want // worth))
                continue
            # Up to what this rule wants: number * cost + (want - number * worth) * rate <= room.
            slope, spare = cost - worth * rate, room - want * rate
            if slope < 0:
                low = max(low, math.ceil(spare / slope))
            elif spare < 0:
                return 0, -1
            elif slope > 0 and want * cost > room * worth:
                high = min(high, math.floor(spare / slope))
        return low, high


def _rates(costs: Sequence[int], worths: Sequence[int]) -> tuple[Fraction | None, ...]:
    found: list[Fraction | None] = [None]
    for cost, worth in zip(reversed(costs), reversed(worths), strict=True):
        last = found[-1]
        if worth:
            rate = Fraction(cost, worth)
            last = rate if last is None else min(last, rate)
        found.append(last)
    return tuple(reversed(found))


@dataclass(slots=True)
class Mixes:
    """Which mixes are ruled out, and which are not.

    Attributes
    ----------
    grid
        On which bounds are proved.
    rules
        All that are known.
    dead
        Mixes that a search has shown not to do.
    met
        Layouts that came of it.
    """

    instance: Instance
    grid: Grid
    budget: Budget
    rules: list[Rule] = field(default_factory=list)
    dead: list[Mix] = field(default_factory=list)
    met: dict[Layout, None] = field(default_factory=dict)
    _able: set[Mix] = field(default_factory=set)
    _listed: dict[tuple[Mix, int], float] = field(default_factory=dict)
    _known: _MixMaster | None = None

    @property
    def searched(self) -> str:
        """What the bound rests on that only a rerun can repeat, in a sentence."""
        if not self.dead:
            return ""
        return (
            f"For {len(self.dead)} numbers of sheets that piece values do not rule out, every "
            "layout that could be part of a plan was listed, and CP-SAT showed that no choice of "
            "them will do."
        )

    @property
    def _master(self) -> _MixMaster:
        if self._known is None:
            self._known = _MixMaster(self.instance)
        return self._known

    def price(self, values: Sequence[int]) -> None:
        """Add the rule of whole-number values."""
        self.rules.append(self._rule(values, best_values(self.grid, values)))
        self.budget.spend(self.grid.work)

    def know(self, layouts: Iterable[Layout]) -> None:
        """Take layouts into account."""
        for layout in layouts:
            self._master.add(layout)

    def lower(self, most: int) -> int:
        """Return what every plan costs at least, or `most`, making rules as long as it rises."""
        least = 0
        while not self.budget.spent:
            try:
                found = cheapest(self.instance, self.rules, most, self.dead)
            except TooManyMixes:
                return least
            if found is None:
                return most
            least = found[0]
            if self._is_able(found[1]):
                return least
        return least

    def hopeful(self, at_least: int, below: int) -> Iterator[Mix]:
        """Yield the mixes in a range of costs that are not ruled out, the cheapest first."""
        try:
            ranked = sorted(mixes(self.instance, self.rules, at_least, below, self.dead))
        except TooManyMixes:
            return
        for _, mix in ranked:
            if all(rule.is_kept(mix) for rule in self.rules) and self._is_able(mix):
                yield mix

    def cost(self, mix: Mix) -> int:
        """Return what the sheets of a mix cost."""
        return sum(s.cost * n for s, n in zip(self.instance.sources, mix, strict=True))

    def only(self, mix: Mix) -> Instance:
        """Return the instance with the sheets of a mix and no others."""
        sources = zip(self.instance.sources, mix, strict=True)
        return replace(self.instance, sources=tuple(replace(s, available=n) for s, n in sources))

    def could_serve(self, mix: Mix, layouts: Iterable[Layout]) -> list[Layout]:
        """Return those of the layouts that a plan of this mix, made of them, might use."""
        layouts = list(layouts)
        self.know(layouts)
        duals = self._master.solve(mix)
        if duals is None:
            return layouts
        spare = 1 - duals.times + PAYS
        return [one for one in layouts if mix[one.source] and duals.loss(one) <= spare]

    def listing(self, mix: Mix, work: float, most: int) -> Listing | None:
        """Return every layout that a plan of this mix might use, or some where they are too many.

        What the sheets of the mix can hold at most is worth so much more than all pieces wanted;
        no layout can waste more than that. Layouts that lie within another one are left out.

        Parameters
        ----------
        work
            How much may be spent on it, in splits compared.
        most
            How many sets of copies a part may have.

        None if it was tried before with no less work and no fewer sets.
        """
        if (mix, most) in self._listed and work <= self._listed[mix, most]:
            return None
        self._listed[mix, most] = work
        duals = self._settled(mix)
        if duals is None:
            return None
        values = duals.whole_values()
        wanted = sum(v * d for v, d in zip(values, self.instance.demands, strict=True))
        near: dict[int, NearBest] = {}
        for number, source in enumerate(self.instance.sources):
            if mix[number]:
                cell = self.grid.root(source, self.instance)
                tighten = TIGHTENINGS * self.grid.work
                near[number] = NearBest(
                    self.grid, cell, values, self.instance.demands, tighten, self.budget.check
                )
                self.budget.spend(near[number].spent)
        most_worth = {number: one.upper for number, one in near.items()}
        spare = sum(worth * mix[number] for number, worth in most_worth.items()) - wanted
        left = work
        found: list[Layout] = []
        whole = True
        for number, one in near.items():
            before = one.spent
            trees = one.worth(one.upper - spare, left, most) if spare >= 0 else []
            left -= one.spent - before
            self.budget.spend(one.spent - before)
            whole = whole and one.whole
            found += [Layout(number, counts_of(tree, len(values)), tree) for tree in trees if tree]
        return Listing(tuple(found), most_worth, wanted, spare, whole)

    def _is_able(self, mix: Mix) -> bool:
        """Whether layouts can cover the demands with a mix in fractions; if not, make a rule."""
        if mix in self._able:
            return True
        rule = self._broken_rule(mix)
        if rule is None:
            if not self.budget.spent:
                self._able.add(mix)
            return True
        self.rules.append(rule)
        return False

    def _broken_rule(self, mix: Mix) -> Rule | None:
        """Return a rule that the mix does not keep; None if none is found."""
        for _ in range(MOST_PRICINGS):
            duals = self._master.solve(mix)
            if duals is None or duals.times <= 1 + PAYS or self.budget.spent:
                return None
            rule, added = self._priced(duals)
            if not rule.is_kept(mix):
                return rule
            if not added:
                return None
        return None

    def _settled(self, mix: Mix) -> _Duals | None:
        """Return the values at which no layout pays any more; None if they are not reached."""
        for _ in range(MOST_PRICINGS):
            duals = self._master.solve(mix)
            if duals is None or self.budget.spent:
                return None
            if not self._priced(duals)[1]:
                return duals
        return None

    def _priced(self, duals: _Duals) -> tuple[Rule, bool]:
        """Price some values; return their rule, and whether a layout was added that pays."""
        values = duals.whole_values()
        table = best_values(self.grid, values)
        self.budget.spend(self.grid.work)
        added = False
        for number, source in enumerate(self.instance.sources):
            root = trace(self.grid, values, table, *self.grid.root(source, self.instance))
            layout = Layout(number, counts_of(root, len(values)), root)
            if duals.loss(layout) < -PAYS * max(duals.prices) and fits(self.instance, layout):
                self.met[layout] = None
                added = self._master.add(layout) or added
        return self._rule(values, table), added

    def _rule(self, values: Sequence[int], table: IntArray) -> Rule:
        sources = self.instance.sources
        best = [int(table[self.grid.root(source, self.instance)]) for source in sources]
        return rule_of(self.instance, values, best)


@dataclass(frozen=True, slots=True)
class Listing:
    """Every layout, but for those within another, that wastes no more than `spare`, by some values.

    Attributes
    ----------
    most_worth
        What no layout of a source is worth more than; of the sources looked at.
    wanted
        What all pieces wanted are worth.
    whole
        Whether it is every layout; else some.
    """

    layouts: tuple[Layout, ...]
    most_worth: dict[int, int]
    wanted: int
    spare: int
    whole: bool

    def is_whole_for(self, mix: Mix) -> bool:
        """Whether every layout that a plan of a mix might use is among them, or within one."""
        if not self.whole:
            return False
        worth = 0
        for source, number in enumerate(mix):
            if number and source not in self.most_worth:
                return False
            worth += number * self.most_worth.get(source, 0)
        return worth - self.wanted <= self.spare

    def of(self, mix: Mix) -> list[Layout]:
        """Return the layouts on sources of a mix."""
        return [layout for layout in self.layouts if mix[layout.source]]


@dataclass(frozen=True, slots=True)
class _Duals:
    """What pieces are worth and sheets cost, for one mix, in floating point.

    Attributes
    ----------
    times
        How many times over the mix must be there; all pieces are worth so much, and the mix 1.
    """

    worths: tuple[float, ...]
    prices: tuple[float, ...]
    times: float

    def loss(self, layout: Layout) -> float:
        """Return by how much a sheet costs more than its layout is worth."""
        worth = sum(w * n for w, n in zip(self.worths, layout.counts, strict=True))
        return self.prices[layout.source] - worth

    def whole_values(self) -> tuple[int, ...]:
        """Return the pieces' values rounded down to whole numbers."""
        scale = (1 << VALUE_BITS) / (max(self.prices) or 1.0)
        return tuple(math.floor(worth * scale) for worth in self.worths)


class _MixMaster:
    """How many times over the sheets of a mix must be there to cover the demands in fractions."""

    def __init__(self, instance: Instance) -> None:
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        infinity = self._solver.infinity()
        self._rows = [self._solver.Constraint(float(d), infinity) for d in instance.demands]
        self._limits = [self._solver.Constraint(-infinity, 0.0) for _ in instance.sources]
        self._goal = self._solver.Objective()
        self._goal.SetMinimization()
        self._times = self._column(1.0)
        for row, demand in zip(self._rows, instance.demands, strict=True):
            row.SetCoefficient(self._column(OUT_OF_REACH / max(1, demand)), 1.0)
        self._seen: set[tuple[int, tuple[int, ...]]] = set()

    def _column(self, cost: float) -> pywraplp.Variable:
        column = self._solver.NumVar(0.0, self._solver.infinity(), "")
        self._goal.SetCoefficient(column, cost)
        return column

    def add(self, layout: Layout) -> bool:
        """Add a layout; return whether it is new."""
        key = (layout.source, layout.counts)
        if key in self._seen or not any(layout.counts):
            return False
        self._seen.add(key)
        column = self._column(0.0)
        for row, count in zip(self._rows, layout.counts, strict=True):
            if count:
                row.SetCoefficient(column, count)
        self._limits[layout.source].SetCoefficient(column, 1.0)
        return True

    def solve(self, mix: Mix) -> _Duals | None:
        """Return the optimum for a mix over the layouts so far; None if the solver fails."""
        for limit, number in zip(self._limits, mix, strict=True):
            limit.SetCoefficient(self._times, -float(number))
        if self._solver.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        return _Duals(
            tuple(max(0.0, row.dual_value()) for row in self._rows),
            tuple(max(0.0, -limit.dual_value()) for limit in self._limits),
            self._goal.Value(),
        )


def plainest(instance: Instance, rules: Sequence[Rule], goal: int) -> tuple[Rule, ...]:
    """Return as few of the rules, in as small numbers, as still show that no mix costs less.

    A value may be rounded down, and then what a layout is worth may be too. All rules are returned
    as they are if some mix that keeps them costs less than `goal`.
    """
    if not _show(instance, rules, goal):
        return tuple(rules)
    kept = list(rules)
    for rule in rules:
        fewer = [one for one in kept if one is not rule]
        if fewer and _show(instance, fewer, goal):
            kept = fewer
    for number, rule in enumerate(kept):
        for bits in range(max(rule.values, default=0).bit_length(), 0, -1):
            plain = _rounded(instance, rule, bits)
            if _show(instance, [*kept[:number], plain, *kept[number + 1 :]], goal):
                kept[number] = plain
                break
    return tuple(kept)


def least_shown(instance: Instance, rules: Sequence[Rule], most: int) -> int:
    """Return what a cheapest mix that keeps the rules costs, at most `most`; 0 if too hard."""
    try:
        found = cheapest(instance, rules, most)
    except TooManyMixes:
        return 0
    return most if found is None else found[0]


def alone_enough(instance: Instance, rule: Rule, goal: int) -> tuple[Rule, int] | None:
    """Return a rule, with as many bits dropped as will do, and how many; None if it falls short.

    What it is to show is that no mix costs less than `goal`.
    """
    for bits in range(max(rule.values, default=0).bit_length(), -1, -1):
        plain = _rounded(instance, rule, bits)
        if _show(instance, [plain], goal):
            return plain, bits
    return None


def _rounded(instance: Instance, rule: Rule, bits: int) -> Rule:
    values = [value >> bits for value in rule.values]
    return rule_of(instance, values, [worth >> bits for worth in rule.best])


def _show(instance: Instance, rules: Sequence[Rule], goal: int) -> bool:
    try:
        return cheapest(instance, rules, goal) is None
    except TooManyMixes:
        return False
