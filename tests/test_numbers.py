"""The certificate with several sets of values, from the order to the audit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from plans import with_board

import kerfwright as kw
from kerfwright.audit import find_faults
from kerfwright.audit.numbers import Holding, TooManyNumbers, least_total
from kerfwright.plan.files import plan_from_json, plan_to_json

BOARD = "white rag"
MATS = ((7, "20 x 24"), (8, "14 x 18"), (5, "12 x 16"))


def order(small: str = "28 x 36", price: str = "7", *, buyable: bool = True) -> kw.Order:
    """Return the order of docs/packer.md, from sheets of two sizes at a price each."""
    sizes = (("32 x 40", "10", True), (small, price, buyable))
    sheets = tuple(
        kw.SheetSize(
            kw.parse_size(size, kw.Unit.INCH),
            price=Fraction(cost),
            on_hand=None if any_number else 2,
            buyable=any_number,
        )
        for size, cost, any_number in sizes
    )
    pieces = tuple(
        kw.Piece(label, kw.PieceKind.MAT, qty, kw.parse_size(size, kw.Unit.INCH), BOARD)
        for label, (qty, size) in zip("ABC", MATS, strict=True)
    )
    return kw.Order("two sizes", pieces, (kw.Board(BOARD, sheets=sheets),))


def planned(asked: kw.Order) -> kw.Plan:
    """Return the plan, which there is."""
    made = kw.make_plan(asked)
    assert isinstance(made, kw.Plan)
    return made


def test_the_audit_finds_the_bound_again_from_further_values() -> None:
    """The values alone show 54; with one more rule for the numbers of sheets, 55."""
    plan = planned(order())
    board = plan.boards[0]
    assert board.proved_least
    assert board.value == 55
    assert len(board.certificate.further) == 1
    assert plan_from_json(plan_to_json(plan)) == plan
    facts = kw.audit_plan(plan).facts[0]
    assert facts.rechecked
    assert facts.bound == 55


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (lambda _: (), "bound-too-high"),
        (lambda values: ({**values, "A": Fraction(0)},), "bound-too-high"),
        (lambda values: ({**values, "Z": Fraction(1)},), "value-label-unknown"),
        (lambda values: ({**values, "A": Fraction(-1)},), "value-negative"),
    ],
)
def test_further_values_that_show_less_are_found_out(change: object, found: str) -> None:
    """Left out, too low, of a label that was not ordered, or below zero."""
    plan = planned(order())
    certificate = plan.boards[0].certificate
    assert callable(change)
    changed = replace(certificate, further=change(certificate.further[0]))
    faults = {fault.code for fault in find_faults(with_board(plan, certificate=changed))}
    assert found in faults


def test_higher_values_show_no_more_than_there_is() -> None:
    """Values may be raised at will: the audit prices what a sheet holds by them."""
    plan = planned(order())
    certificate = plan.boards[0].certificate
    further = ({label: 1000 * value for label, value in certificate.further[0].items()},)
    tall = with_board(plan, certificate=replace(certificate, further=further))
    assert kw.audit_plan(tall).facts[0].bound == 55


def test_the_values_themselves_are_a_rule() -> None:
    """Where the master's values alone rule a mix out, nothing further is written."""
    plan = planned(order("20 x 32", "13/2"))
    assert plan.boards[0].certificate.further == ()
    assert kw.audit_plan(plan).facts[0].bound == plan.boards[0].value == 60


def test_few_small_sheets_on_hand() -> None:
    """Where only two small sheets are to be had, the audit bears the bound out as well."""
    plan = planned(order(buyable=False))
    assert kw.audit_plan(plan).facts[0].rechecked
    assert plan.boards[0].proved_least


def test_too_many_numbers_are_said_to_be_so() -> None:
    """Numbers of sheets that nothing ties down are not tried without end."""
    endless = [Holding(Fraction(cost), None, (Fraction(cost),)) for cost in (1009, 1013, 1019)]
    with pytest.raises(TooManyNumbers):
        least_total(endless, [Fraction(10**7) - Fraction(1, 2)], Fraction(10**7) + 200, 10)
