"""Rules for how many sheets of each size there must be, against trying everything."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

from brute import least_cost, yields
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_brute import tiny

from kerfwright.audit.numbers import Holding, least_total
from kerfwright.packer.choice import Choice
from kerfwright.packer.grids import exact_grid
from kerfwright.packer.layouts import Layout, Place
from kerfwright.packer.limited import NearBest
from kerfwright.packer.mixes import Mixes, Rule, cheapest, mixes, plainest
from kerfwright.packer.running import Budget
from kerfwright.packer.solve import Search, _chosen_of
from kerfwright.problem.instance import Instance, PieceType, SourceType

MOST = 7


def bare(costs: list[int], limits: list[int | None]) -> Instance:
    """Return an instance of which only what sources cost, and how many there are, matters."""
    sources = zip(costs, limits, strict=True)
    return Instance(
        (PieceType(1, 1, 99, may_turn=False),), tuple(SourceType(1, 1, *one) for one in sources)
    )


@st.composite
def ruled(draw: st.DrawFn) -> tuple[Instance, list[Rule], int]:
    """Draw up to three sizes of sheet, up to three rules, and a cost to stay below."""
    kinds = draw(st.integers(1, 3))
    costs = draw(st.lists(st.integers(1, 9), min_size=kinds, max_size=kinds))
    limits = draw(st.lists(st.none() | st.integers(0, 4), min_size=kinds, max_size=kinds))
    rules = draw(
        st.lists(
            st.builds(
                Rule,
                st.just((1,)),
                st.tuples(*[st.integers(0, 12)] * kinds),
                st.integers(1, 60),
            ),
            min_size=1,
            max_size=3,
        )
    )
    return bare(costs, limits), rules, draw(st.integers(1, MOST * min(costs)))


def tried(instance: Instance, rules: list[Rule], below: int) -> list[tuple[int, tuple[int, ...]]]:
    """Return every mix that keeps the rules and costs less, with its cost, cheapest first."""
    most = [MOST if one.available is None else one.available for one in instance.sources]
    found = []
    for mix in itertools.product(*(range(number + 1) for number in most)):
        cost = sum(one.cost * n for one, n in zip(instance.sources, mix, strict=True))
        if cost < below and all(rule.is_kept(mix) for rule in rules):
            found.append((cost, mix))
    return sorted(found)


@given(ruled())
def test_mixes_are_all_that_keep_the_rules(drawn: tuple[Instance, list[Rule], int]) -> None:
    """None is missed and none is too many, and the audit comes to the same least cost."""
    instance, rules, below = drawn
    every = tried(instance, rules, below)
    assert sorted(mixes(instance, rules, 0, below)) == every
    best = cheapest(instance, rules, below)
    assert (None if best is None else best[0]) == (every[0][0] if every else None)
    holdings = [
        Holding(Fraction(one.cost), one.available, tuple(Fraction(rule.best[n]) for rule in rules))
        for n, one in enumerate(instance.sources)
    ]
    wanted = [Fraction(rule.wanted) for rule in rules]
    least = least_total(holdings, wanted, Fraction(below), 99)
    assert least == (every[0][0] if every else below)


@given(ruled())
def test_a_dead_mix_takes_what_lies_within_it_along(
    drawn: tuple[Instance, list[Rule], int],
) -> None:
    """With the cheapest mix dead, the next is the cheapest that has more of some size."""
    instance, rules, below = drawn
    every = tried(instance, rules, below)
    if not every:
        return
    dead = every[0][1]
    left = [cost for cost, mix in every if any(n > m for n, m in zip(mix, dead, strict=True))]
    found = cheapest(instance, rules, below, [dead])
    assert (None if found is None else found[0]) == (min(left) if left else None)


@given(ruled())
def test_the_plainest_rules_show_the_same(drawn: tuple[Instance, list[Rule], int]) -> None:
    """Whatever is left out or rounded, no mix costs less than before."""
    instance, rules, below = drawn
    whole = [replace(rule, values=(1,), wanted=99) for rule in rules]
    found = cheapest(instance, whole, below)
    goal = below if found is None else found[0]
    plain = plainest(instance, whole, goal)
    assert cheapest(instance, plain, goal) is None
    assert len(plain) <= len(whole)


@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(tiny())
def test_no_plan_breaks_a_rule(instance: Instance) -> None:
    """What trying everything finds least is no less than the bound by numbers of sheets."""
    free = replace(instance, longest_cut=None, narrowest_strip=0)
    least = least_cost(free)
    grid = exact_grid(free)
    if least is None or grid is None:
        return
    found = Mixes(free, grid, Budget(2.0))
    assert found.lower(least + 1) <= least
    for _, mix in mixes(free, found.rules, 0, least):
        listing = found.listing(mix, 1e8, 500)
        if listing is not None and listing.whole:
            assert listing.is_whole_for(mix)
            assert not _do(found.only(mix), listing.of(mix)), "a plan that costs less"


def _do(instance: Instance, layouts: list[Layout]) -> bool:
    """Return whether some choice of the layouts covers the demands; every choice is tried."""
    slots = [
        [None, *(one.counts for one in layouts if one.source == number)]
        for number, source in enumerate(instance.sources)
        for _ in range(source.available or 0)
    ]
    return any(
        all(
            sum(counts[piece] for counts in choice if counts) >= demand
            for piece, demand in enumerate(instance.demands)
        )
        for choice in itertools.islice(itertools.product(*slots), 20_000)
    )


@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(tiny(), st.lists(st.integers(0, 9), min_size=3, max_size=3), st.integers(0, 30))
def test_all_layouts_worth_enough_are_listed(
    instance: Instance, values: list[int], least: int
) -> None:
    """Each set of pieces that trying everything finds, if worth it, lies within a listed one."""
    free = replace(instance, longest_cut=None, narrowest_strip=0)
    grid = exact_grid(free)
    assert grid is not None
    source, worth = free.sources[0], values[: len(free.pieces)]
    near = NearBest(grid, grid.root(source, free), worth, free.demands, 1e8)
    trees = near.worth(least, 1e8, 500)
    assert near.whole
    from kerfwright.packer.layouts import counts_of

    listed = [counts_of(tree, len(worth)) for tree in trees]
    for counts in yields(free, source.width, source.height):
        if sum(v * n for v, n in zip(worth, counts, strict=True)) >= least:
            assert any(all(x <= y for x, y in zip(counts, one, strict=True)) for one in listed)


def test_a_mix_that_need_not_be_used_up_is_not_dead() -> None:
    """One 2 x 2 needs one sheet of 7 x 8; of two of them it is not said that none will do."""
    instance = Instance(
        (PieceType(2, 2, 1, may_turn=False),),
        (SourceType(9, 8, 72, None), SourceType(7, 8, 9, None)),
    )
    grid = exact_grid(instance)
    assert grid is not None
    dear = Layout(0, (1,), Place(0, turned=False))
    cheap = Layout(1, (1,), Place(0, turned=False))
    budget = Budget(5.0)
    search = Search(instance, budget, (grid,), grid, Choice({dear: 1}), 0, limited=False)
    search.mixes = Mixes(instance, grid, budget)
    found, none = _chosen_of(search, (0, 2), [cheap], 1.0)
    assert (found, none, search.cost) == (True, False, 9)
