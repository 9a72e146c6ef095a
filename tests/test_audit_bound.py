"""The audit's bound: sums of sheet costs, kerf and trim in the pricing, limited sources charged."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import (
    backer,
    hardboard_backs,
    mat,
    offcut,
    sheet,
    trimmed,
    two_sheet_sizes,
    values,
    with_an_offcut,
    with_board,
)

from kerfwright.audit import audit_plan, bound, reprice
from kerfwright.audit.bound import Bound, SheetKind, fewest_sheets, find_bound, next_total
from kerfwright.audit.check import case_of
from kerfwright.plan.model import Certificate, Plan, PlanTool, PlanTrim, StockItem


def kinds(*rows: tuple[str, int | None]) -> tuple[SheetKind, ...]:
    """Return sheet kinds of these costs and numbers."""
    return tuple(SheetKind(Fraction(cost), available) for cost, available in rows)


def shown(plan: Plan, **changes: object) -> Bound:
    """Return what the first board's certificate shows, after changes, whatever the plan claims."""
    changed = with_board(plan, **changes)
    return find_bound(case_of(changed.boards[0], changed))


def codes(bound_shown: Bound) -> list[str]:
    """Return the kinds of what is wrong with the values."""
    return [finding.code for finding in bound_shown.findings]


# --- sums -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("least", "stock", "total"),
    [
        ("16.125", kinds(("21.50", None)), "21.50"),
        ("21.51", kinds(("21.50", None)), "43"),
        ("48", kinds(("20", None), ("34", 1)), "54"),
        ("55", kinds(("20", None), ("34", 1)), "60"),
        ("61", kinds(("20", None), ("34", 1)), "74"),  # 2 x 20 + 34; two of 34 are not to be had
        ("61", kinds(("20", None), ("34", None)), "68"),
        ("0", kinds(("20", None)), "0"),
        ("1/3", kinds(("1/3", 1)), "1/3"),
        ("35/100", kinds(("1/3", None), ("1/2", None)), "1/2"),
        ("5", kinds(("0", None), ("7", None)), "7"),
    ],
)
def test_next_sum_of_sheets(least: str, stock: tuple[SheetKind, ...], total: str) -> None:
    """The bound rises to the next sum that the sheets in stock can have."""
    assert next_total(Fraction(least), stock) == Fraction(total)


def test_sum_that_no_sheets_reach() -> None:
    """More than all sheets together, or anything from sheets that cost nothing, is not reached."""
    assert next_total(Fraction(41), kinds(("20", 2))) is None
    assert next_total(Fraction(1), kinds(("0", None))) is None
    assert next_total(Fraction(1), ()) is None


def test_awkward_costs_claim_less(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the sums are too many to list, the costs' common divisor is what is rounded up to.

    20 and 34 have 2: from 55 on the next multiple is 56, below the true 60 and so still a bound.
    """
    monkeypatch.setattr(bound, "MOST_TOTALS", 10)
    assert next_total(Fraction(55), kinds(("20", None), ("34", 1))) == 56


stocks = st.lists(
    st.builds(SheetKind, st.fractions(0, 9, max_denominator=4), st.none() | st.integers(0, 3)),
    min_size=1,
    max_size=3,
)


@given(st.fractions(0, 20, max_denominator=6), stocks)
@settings(deadline=None)
def test_sums_as_by_listing_them(least: Fraction, stock: list[SheetKind]) -> None:
    """The next sum, and the fewest sheets that reach it, are what listing every choice gives."""
    # From 20 on, with a cost of 1/4 or more, 80 and one of a kind are enough; most are few.
    counts = [
        range(1 + (_enough(kind, least) if kind.available is None else kind.available))
        for kind in stock
    ]
    chosen = [
        (sum((n * kind.cost for n, kind in zip(choice, stock, strict=True)), Fraction(0)), choice)
        for choice in itertools.product(*counts)
    ]
    sums = [total for total, _ in chosen if total >= least]
    assert next_total(least, stock) == min(sums, default=None)
    assert fewest_sheets(least, stock) == min(
        (sum(choice) for total, choice in chosen if total >= least), default=None
    )


def _enough(kind: SheetKind, least: Fraction) -> int:
    return min(-(-least // kind.cost), 80) if kind.cost else 0


def test_fewest_sheets_takes_the_dearest_first() -> None:
    """74 of 20s and one 34 is three sheets: 34 + 20 + 20."""
    assert fewest_sheets(Fraction(74), kinds(("20", None), ("34", 1))) == 3


# --- pricing ----------------------------------------------------------------------------------


def back(value: Fraction | int) -> Certificate:
    """Return a certificate that values each back."""
    return values(**{"A back": str(value)})


def test_kerf_makes_pieces_and_sheet_larger() -> None:
    """A 1/8 in kerf beside each 15 7/8 x 19 7/8 back: fourteen fill 48 x 96, as 16 x 20 would.

    At a fourteenth of the sheet fourteen are worth what it costs; at a thirteenth, more.
    """
    area = Fraction(384 * 768)
    assert shown(hardboard_backs(), certificate=back(area / 14)).value == 2 * area
    high = shown(hardboard_backs(), certificate=back(area / 13))
    assert codes(high) == ["value-too-high"]
    assert "is worth 4128768/13, more than the 294912" in high.findings[0].sentence


def test_kerf_between_full_size_pieces_costs_room() -> None:
    """Backs of full 16 x 20 in, 16 1/8 x 20 1/8 with their kerf, no longer go fourteen a sheet.

    48 1/8 takes two of 20 1/8 across, and 96 1/8 five of 16 1/8 down: ten. Eleven need an area of
    11 x 129 x 161 = 228459 of 385 x 769 = 296065, so it is the recursion that says no.
    """
    area = Fraction(384 * 768)
    large = (backer("A back", 26, 128, 160),)
    assert codes(shown(hardboard_backs(), ordered=large, certificate=back(area / 10))) == []
    assert codes(shown(hardboard_backs(), ordered=large, certificate=back(area / 9))) == [
        "value-too-high"
    ]


def test_trim_makes_the_sheet_smaller() -> None:
    """A piece of 48 x 38 goes once into the trimmed 96 x 76 and four times into the whole sheet.

    With the kerf, two across need 98 and two down 78: more than 97 and 77, less than 101 and 81.
    At 8, the price of a sheet, one is worth what it costs.
    """
    large = (backer("A", 4, 48, 38, turn=False),)
    worth = values(A="8")
    assert shown(trimmed(), ordered=large, certificate=worth).value == 32
    whole = shown(trimmed(), ordered=large, certificate=worth, trim=PlanTrim(0, 0, 0, 0))
    assert codes(whole) == ["value-too-high"]


def test_offcuts_have_no_trim() -> None:
    """A 14 x 32 offcut holds two 14 x 14 whatever is trimmed off full sheets, and is charged both.

    2 x 10 for what was ordered, less 20 for what the offcut may hold.
    """
    trim = PlanTrim(2, 2, 2, 2)
    plan = with_board(with_an_offcut(), trim=trim, certificate=values(B="10"))
    assert shown(plan).value == 0
    assert shown(plan, stock=plan.boards[0].stock[:1]).value == 1280


def test_offcut_is_charged_for_what_it_may_hold() -> None:
    """At 320 each, four 14 x 14 pay a sheet; the offcut may hold two of the three: 320 are left."""
    plan = with_board(with_an_offcut(), certificate=values(B="320"))
    assert shown(plan, ordered=(mat("B", 2, 14, 14),)).value == 0
    assert shown(plan, ordered=(mat("B", 3, 14, 14),)).value == 1280


def test_offcut_that_does_not_say_how_many_is_one() -> None:
    """An offcut is one thing: without a number it is charged once, not priced as endless."""
    plan = with_board(with_an_offcut(), certificate=values(B="320"))
    sheets, old = plan.boards[0].stock
    unsaid = shown(plan, stock=(sheets, replace(old, available=None)))
    assert unsaid == shown(plan)


def test_turning_counts_only_where_it_is_allowed() -> None:
    """A 32 x 40 holds two 20 x 30 turned, and one where the board has a direction."""
    plan = with_board(two_sheet_sizes(), certificate=values(D="20"))
    small = plan.boards[0].stock[:1]
    assert codes(shown(plan, stock=small)) == ["value-too-high"]
    assert codes(shown(plan, stock=small, no_turn=True)) == []
    assert codes(shown(plan, stock=small, ordered=(mat("D", 6, 20, 30, turn=False),))) == []


def test_a_narrowest_strip_lets_pieces_be_worth_more() -> None:
    """Two 30 x 20 leave a strip of 2 of a 32 x 40; where none under 3 is held, none can be cut."""
    plan = with_board(two_sheet_sizes(), certificate=values(D="20"))
    small = plan.boards[0].stock[:1]
    for strip, found in ((2, ["value-too-high"]), (3, [])):
        tool = PlanTool("knife", 0, None, strip)
        assert codes(shown(plan, stock=small, tool=tool)) == found


def test_a_trim_that_is_still_on_makes_a_strip_wide_enough() -> None:
    """With 1 trimmed off, the strip beside two 30 x 20 is 1, or 2 with its trim on."""
    plan = with_board(two_sheet_sizes(), certificate=values(D="20"), trim=PlanTrim(0, 1, 0, 0))
    small = plan.boards[0].stock[:1]
    for strip, found in ((2, ["value-too-high"]), (3, [])):
        tool = PlanTool("knife", 0, None, strip)
        assert codes(shown(plan, stock=small, tool=tool)) == found


def test_with_a_kerf_a_narrowest_strip_does_not_raise_the_bound() -> None:
    """What is too narrow is taken off a kerf at a time: it forbids nothing."""
    plan = hardboard_backs()
    tool = replace(plan.boards[0].tool, narrowest_strip=100)
    assert tool.kerf > 0
    assert shown(plan, tool=tool) == shown(plan)


def test_where_strips_take_too_long_they_may_be_as_narrow_as_one_likes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What the audit then finds is no less, so that nothing false passes."""
    plan = with_board(two_sheet_sizes(), certificate=values(D="20"))
    tool = PlanTool("knife", 0, None, 3)
    monkeypatch.setattr(reprice, "MOST_STRIP_WORK", 0)
    assert codes(shown(plan, stock=plan.boards[0].stock[:1], tool=tool)) == ["value-too-high"]


def test_a_longest_cut_lets_pieces_be_worth_more() -> None:
    """Two 20 x 30 come from a 32 x 40 by a cut of 32 at least; with 31 at most none can be made."""
    plan = with_board(two_sheet_sizes(), certificate=values(D="20"))
    small = plan.boards[0].stock[:1]
    for longest, found in ((40, ["value-too-high"]), (32, ["value-too-high"]), (31, [])):
        assert codes(shown(plan, stock=small, tool=PlanTool("knife", 0, longest, 0))) == found


def test_stock_rows_of_one_size_are_added_up() -> None:
    """The same sheet on hand and to buy, at two prices: the cheaper ones are spent first."""
    plan = two_sheet_sizes()
    stock = (
        StockItem(sheet(32, 40), Fraction(5), 1),
        StockItem(sheet(32, 40), Fraction(20), None),
        StockItem(sheet(40, 60), Fraction(34), 1),
    )
    # 34 + 5 are spent. The cheap one saves at most 20 - 5 = 15, the large one 6: 60 - 21 = 39.
    plan = with_board(plan, stock=stock, value=Fraction(39), value_lower_bound=Fraction(39))
    facts = audit_plan(plan).facts[0]
    assert (facts.bound, facts.sheets) == (Fraction(39), 2)


def test_sheets_are_bounded_by_area_too() -> None:
    """Where the values show little, areas still show that two sheets are needed."""
    plan = with_board(
        hardboard_backs(),
        certificate=back(1),
        value_lower_bound=Fraction(384 * 768),
        proved_least=False,
    )
    facts = audit_plan(plan).facts[0]
    assert (facts.bound, facts.sheets_bound) == (Fraction(384 * 768), 2)


def test_offcuts_are_taken_off_before_sheets_are_counted_by_area() -> None:
    """An offcut as large as the order leaves no sheet to be needed by area."""
    plan = with_board(with_an_offcut(), certificate=values(A="0"))
    assert shown(plan).sheets == 1
    large = StockItem(offcut("8", 100, 100), None, 1)
    assert shown(plan, stock=(*plan.boards[0].stock, large)).sheets == 0


def test_values_of_any_height_are_a_rule_for_numbers_of_sheets() -> None:
    """At 6 each, six mats are worth 36: a small sheet holds 12 and the one large sheet 24.

    The sum alone, 36, leads to two small sheets at 20. But two hold 24 only, and one with the
    large one are the least that hold 36: 20 + 34.
    """
    facts = audit_plan(with_board(two_sheet_sizes(), certificate=values(D="6"))).facts[0]
    assert facts.bound == 54
    assert facts.rechecked
