"""Layouts of the pieces that have a value: that none is missed, and what is concluded from them."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from brute import least_cost
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.packer import solve
from kerfwright.packer.choice import Choice, choice_within
from kerfwright.packer.exhaust import maximal_layouts
from kerfwright.packer.grids import exact_grid
from kerfwright.packer.layouts import Layout, fits
from kerfwright.packer.running import Budget
from kerfwright.packer.skeletons import completed, skeletons
from kerfwright.packer.solve import Packed, effort, pack
from kerfwright.problem.instance import Instance, PieceType, SourceType

if TYPE_CHECKING:
    from kerfwright.packer.columns import ColumnGeneration
    from kerfwright.packer.skeletons import Skeletons
    from kerfwright.packer.solve import Search

PLENTY = 10.0

# Two halves stand side by side on a sheet, four quarters lie one above the other, and beside a
# half there is no room for a quarter. What is beside the quarters holds the small ones.
HALVES, QUARTERS, SMALL = 3, 6, 5
BY_HAND = Instance(
    (
        PieceType(12, 20, HALVES, False),
        PieceType(13, 5, QUARTERS, False),
        PieceType(11, 5, SMALL, False),
    ),
    (SourceType(24, 20, 1, None),),
)
BY_HAND_VALUES = (2, 1, 0)
BY_HAND_UNIT = Fraction(1, 4)


def listed(most: int) -> Skeletons:
    """Return the skeletons of plans of so many sheets for the board by hand."""
    found = skeletons(BY_HAND, BY_HAND_VALUES, BY_HAND_UNIT, most, Budget(PLENTY))
    assert found is not None
    return found


def in_hand(instance: Instance, sheets: int) -> Choice:
    """Return a choice that costs as much as so many sheets; what is on them is of no account."""
    return Choice({Layout(0, (1,) * len(instance.pieces), None): sheets})


def test_pieces_without_value_are_left_out() -> None:
    """The pieces are worth three sheets, so that each sheet of three is worth all that it costs."""
    found = listed(3)
    assert found.kept == (0, 1)
    assert {layout.counts for layout in found.layouts} == {(2, 0), (0, 4)}


def test_a_plan_may_cost_more_and_waste_more() -> None:
    """A plan of four may waste a sheet: every layout is listed that is not within another."""
    assert {layout.counts for layout in listed(4).layouts} == {(2, 0), (0, 4)}
    assert {layout.counts for layout in listed(4).in_full(BY_HAND)} == {(2, 0, 0), (0, 4, 0)}


def test_no_choice_means_no_plan() -> None:
    """Three halves take two sheets, six quarters two others: never three, though values say so."""
    found = listed(3)
    within = choice_within(found.reduced, found.layouts, 3, Budget(PLENTY), PLENTY)
    assert within == (None, True)
    found = listed(4)
    plan, none = choice_within(found.reduced, found.layouts, 4, Budget(PLENTY), PLENTY)
    assert plan is not None
    assert (plan.cost(found.reduced), none) == (4, False)


def test_a_bound_of_all_pieces_is_none_of_the_large_ones() -> None:
    """Three halves take two sheets; that the order takes four does not mean that two will not do.

    A list for four was once chosen from as if the halves alone had to cost four.
    """
    halves = (HALVES, 0, 0)
    found = skeletons(BY_HAND, halves, BY_HAND_UNIT, 4, Budget(PLENTY))
    assert found is not None
    assert found.kept == (0,)
    plan, none = choice_within(found.reduced, found.layouts, 4, Budget(PLENTY), PLENTY)
    assert plan is not None
    assert (plan.cost(found.reduced), none) == (2, False)


def test_small_pieces_come_beside_the_quarters() -> None:
    """Four of them do; what was there stays, and no more than is wanted is added."""
    grid = exact_grid(BY_HAND)
    assert grid is not None
    full = listed(4).in_full(BY_HAND)
    for seed in range(3):
        found = {one.counts for one in completed(BY_HAND, grid, full, seed, Budget(PLENTY))}
        assert found == {(2, 0, 0), (0, 4, 4)}


def test_too_little_work_lists_nothing() -> None:
    """A list that is not whole would prove what is not so."""
    assert skeletons(BY_HAND, BY_HAND_VALUES, BY_HAND_UNIT, 3, Budget(1e-6)) is None


def board(seed: int) -> tuple[Instance, tuple[int, ...]]:
    """Return a small board, and values that are none of them nothing."""
    chance = random.Random(seed)  # noqa: S311 - no secrets here
    sides = sorted({(chance.randint(5, 12), chance.randint(5, 12)) for _ in range(4)})
    pieces = [PieceType(w, h, chance.randint(1, 4), chance.random() < 0.5) for w, h in sides]
    values = tuple(piece.width * piece.height + chance.randint(0, 20) for piece in pieces)
    return Instance(tuple(pieces), (SourceType(20, 17, 1, None),), kerf=seed % 2), values


def every_layout(instance: Instance) -> set[tuple[int, ...]]:
    """Return the counts of all maximal layouts, listed another way."""
    grid = exact_grid(instance)
    assert grid is not None
    return {layout.counts for layout in maximal_layouts(instance, grid, Budget(PLENTY))}


def within_the_order(counts: tuple[int, ...], instance: Instance) -> tuple[int, ...]:
    """Return the counts without copies that nobody wants."""
    return tuple(min(pair) for pair in zip(counts, instance.demands, strict=True))


@pytest.mark.parametrize("seed", range(40))
def test_just_those_layouts_are_listed_that_may_serve(seed: int) -> None:
    """All maximal layouts are listed another way, and what each may waste is reckoned anew."""
    instance, values = board(seed)

    def worth(counts: tuple[int, ...]) -> int:
        return sum(value * count for value, count in zip(values, counts, strict=True))

    no_limits = tuple(replace(piece, demand=20) for piece in instance.pieces)
    best = max(worth(one) for one in every_layout(replace(instance, pieces=no_limits)))
    wanted = worth(instance.demands)
    sheets = -(-wanted // best)
    # So many sheets can hold this much more than is wanted, and no sheet wastes more than that.
    spare = sheets * best - wanted
    may_serve = {one for one in every_layout(instance) if worth(one) >= best - spare}
    found = skeletons(instance, values, Fraction(1, best), sheets, Budget(PLENTY))
    assert found is not None
    assert all(fits(instance, layout) for layout in found.layouts)
    assert {within_the_order(layout.counts, instance) for layout in found.layouts} == may_serve


@pytest.mark.parametrize("seed", range(40))
def test_within_the_order_layouts_are_worth_less_and_fewer_may_serve(seed: int) -> None:
    """What a layout within the order is worth at most is found out another way, and assumed."""
    instance, values = board(seed)

    def worth(counts: tuple[int, ...]) -> int:
        return sum(value * count for value, count in zip(values, counts, strict=True))

    every = every_layout(instance)
    best, wanted = max(worth(one) for one in every), worth(instance.demands)
    sheets = -(-wanted // best)
    spare = sheets * best - wanted
    unit = Fraction(1, best)
    found = skeletons(instance, values, unit, sheets, Budget(PLENTY), (best,))
    assert found is not None
    assert not found.above
    assert {within_the_order(layout.counts, instance) for layout in found.layouts} == {
        one for one in every if worth(one) >= best - spare
    }


@pytest.mark.parametrize("seed", range(40))
def test_a_layout_worth_more_than_was_assumed_is_named(seed: int) -> None:
    """Whether or not so little would do for the order, what refutes it comes to light."""
    instance, values = board(seed)
    worths = [
        sum(value * count for value, count in zip(values, one, strict=True))
        for one in every_layout(instance)
    ]
    assumed = max(worths) - 1
    wanted = sum(v * d for v, d in zip(values, instance.demands, strict=True))
    for most in (wanted // assumed, -(-wanted // assumed)):
        found = skeletons(
            instance, values, Fraction(1, assumed), max(1, most), Budget(PLENTY), (assumed,)
        )
        assert found is not None
        assert found.above
        for layout in found.above:
            assert within_the_order(layout.counts, instance) == layout.counts
            assert sum(v * n for v, n in zip(values, layout.counts, strict=True)) > assumed


@st.composite
def few_copies(draw: st.DrawFn) -> Instance:
    """Draw a sheet and some pieces of which few go onto it, one or two of each."""
    side = st.integers(3, 8)
    piece = st.builds(PieceType, side, side, st.integers(1, 2), st.booleans())
    pieces = draw(st.lists(piece, min_size=2, max_size=4))
    width, height = draw(st.integers(8, 13)), draw(st.integers(8, 13))
    return Instance(tuple(pieces), (SourceType(width, height, 1, None),))


def begun(instance: Instance, sheets: int) -> tuple[Search, ColumnGeneration]:
    """Return a search whose master is at its optimum, as if a plan of so many sheets were known."""
    started = solve._started(instance, Budget(PLENTY))
    assert started is not None
    search, bounding = started
    search.best = in_hand(instance, sheets)
    search.budget.seconds = PLENTY
    bounding.add(search.pool)
    while not bounding.done:
        bounding.step()
    search.lower = bounding.lower(search.cost)
    return search, bounding


@settings(max_examples=200, deadline=None)
@given(few_copies())
def test_listing_within_the_order_proves_no_more_than_is_true(instance: Instance) -> None:
    """A brute force that knows no values says how many sheets are needed."""
    least = least_cost(instance)
    assert least is not None
    for sheets in (least, least + 1):
        search, bounding = begun(instance, sheets)
        solve._go_proper(search, bounding)
        assert search.lower <= least
        assert search.lower == least or sheets > least or not search.searched


def test_few_copies_need_more_sheets_than_values_of_many_say() -> None:
    """Three of 6 x 6 on sheets of 11 x 12: one and a half in fractions of two, but one a sheet.

    The large one leaves 5 x 12 on the one side and 6 x 6 above itself; two sixes side by side do
    not fit. The values of unlimited copies say two sheets, those within the order three.
    """
    pieces = (PieceType(7, 9, 1, False), PieceType(5, 5, 3, False), PieceType(6, 7, 1, False))
    instance = Instance(pieces, (SourceType(12, 12, 1, None),))
    least = least_cost(instance)
    assert least is not None
    search, bounding = begun(instance, least)
    solve._go_proper(search, bounding)
    assert search.lower == least


# A board of the benchmark's generator, drawn at random: width, height and how many are wanted.
DRAWN = (
    (600, 800, 56), (516, 625, 29), (611, 636, 14), (710, 755, 15), (632, 723, 16),
    (497, 756, 8), (503, 643, 40), (361, 700, 32), (502, 537, 37), (330, 677, 23),
    (320, 663, 17), (470, 499, 24), (429, 506, 30), (300, 400, 21), (280, 350, 8),
    (240, 300, 13), (213, 575, 14), (441, 445, 15), (338, 431, 4), (205, 248, 8),
    (154, 307, 10), (343, 485, 16),
)  # fmt: skip


def test_a_board_whose_values_say_a_sheet_too_few_is_proved() -> None:
    """In fractions 246 sheets do; that it takes 247 only a list of layouts shows."""
    pieces = tuple(PieceType(*one, False) for one in DRAWN)
    instance = Instance(pieces, (SourceType(815, 1120, 1, None),), kerf=3)
    found = pack(instance, Budget(effort(instance)), rungs=1)
    assert isinstance(found, Packed)
    assert (found.cost, found.lower, found.by_exhaustion) == (247, 247, True)
    assert 245 < found.proof.bound <= 246
    assert "layouts of the sizes that have a value" in found.searched
