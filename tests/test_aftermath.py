"""A job in the middle: what lies on the bench, what is in hand, and the rest planned again."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import kerfwright as kw
from kerfwright.aftermath.rest import bench_of
from kerfwright.aftermath.said import tales_of
from kerfwright.aftermath.sheets import finer
from kerfwright.lengths import common_step

INCH = kw.Length.of(1, kw.Unit.INCH)


def _size(width: int | Fraction, height: int | Fraction) -> kw.Size:
    return kw.Size(INCH * width, INCH * height)


def _order(
    *mats: tuple[str, int, kw.Size],
    trim: kw.Trim | None = None,
    tool: kw.Tool | None = None,
    price: int | None = 20,
) -> kw.Order:
    cost = None if price is None else Fraction(price)
    board = kw.Board(
        "rag",
        tool or kw.Tool(),
        (kw.SheetSize(_size(32, 40), cost),),
        trim or kw.Trim(),
    )
    pieces = tuple(kw.Piece(label, kw.PieceKind.MAT, qty, size, "rag") for label, qty, size in mats)
    return kw.Order("show", pieces, (board,))


def _planned(order: kw.Order) -> kw.AuditedPlan:
    plan = kw.make_plan(order)
    assert isinstance(plan, kw.Plan)
    return kw.audit_plan(plan)


@pytest.fixture(scope="module")
def four_a_sheet() -> kw.AuditedPlan:
    """Eight 16 x 20 mats: four to a 32 x 40 sheet, so one layout of three cuts, twice."""
    audited = _planned(_order(("A", 8, _size(16, 20))))
    (layout,) = audited.plan.boards[0].layouts
    assert (layout.copies, len(layout.cuts)) == (2, 3)
    return audited


def _rest(resumed: kw.Resumed) -> kw.Plan:
    assert isinstance(resumed.plan, kw.Plan)
    return kw.audit_plan(resumed.plan).plan


def _ordered(plan: kw.Plan) -> dict[str, int]:
    return {line.label: line.qty for board in plan.boards for line in board.ordered}


def test_what_is_cut_as_planned_costs_nothing(four_a_sheet: kw.AuditedPlan) -> None:
    """One of two sheets is cut: four are in hand, the other sheet is cut as planned, for 20."""
    resumed = kw.resume_plan(four_a_sheet, done=["L1/1"])
    assert resumed.in_hand == {"A": 4}
    (back,) = resumed.set_backs
    assert (back.sheets, back.planned_sheets, back.cost) == (1, 1, Fraction(0))
    plan = _rest(resumed)
    assert (_ordered(plan), plan.boards[0].proved_least) == ({"A": 4}, True)
    old = four_a_sheet.plan.boards[0].layouts[0]
    (new,) = plan.boards[0].layouts
    step = plan.step.mm / four_a_sheet.plan.step.mm
    assert [(c.axis, c.at * step) for c in new.cuts] == [(c.axis, Fraction(c.at)) for c in old.cuts]


def test_a_part_in_the_middle_is_cut_on(four_a_sheet: kw.AuditedPlan) -> None:
    """After cut 1 of both sheets the four halves, 2 mats each, are all that is cut from."""
    plan = _rest(kw.resume_plan(four_a_sheet, done=["L1:1"]))
    board = plan.boards[0]
    assert board.sheets == 0
    assert [layout.source.kind for layout in board.layouts] == [kw.SourceKind.OFFCUT] * 4
    assert sorted(layout.source.id or "" for layout in board.layouts) == [
        f"L1/{sheet} cut 1 {side}" for sheet in (1, 2) for side in ("at stop", "beyond")
    ]
    assert all(Counter(p.label for p in layout.pieces) == {"A": 2} for layout in board.layouts)


def test_a_wrong_setting_costs_a_sheet(four_a_sheet: kw.AuditedPlan) -> None:
    """Cut 1 an inch short spoils one half: 2 of 8 mats are lost, and no scrap holds a 16 x 20.

    One part is an inch too narrow, the other an inch too wide: that one still gives two. So of
    the 4 mats of that sheet two must come from a third sheet, and 20 is what the mistake costs.
    """
    first = four_a_sheet.plan.boards[0].layouts[0].cuts[0]
    planned = four_a_sheet.plan.step * first.setting
    used = (planned - INCH).in_unit(kw.Unit.INCH)
    resumed = kw.resume_plan(four_a_sheet, wrong=[f"L1/1:1={used}"])
    (back,) = resumed.set_backs
    assert (back.sheets, back.planned_sheets, back.cost, back.priced) == (2, 1, Fraction(20), True)
    board = _rest(resumed).boards[0]
    assert (board.sheets, board.value, board.proved_least) == (2, Fraction(40), True)
    assert resumed.in_hand == {}


def test_without_prices_the_cost_is_an_area() -> None:
    """The only piece of a 32 x 40 sheet is ruined: one more sheet, 32 x 40 in of it."""
    audited = _planned(_order(("A", 1, _size(30, 38)), price=None))
    resumed = kw.resume_plan(audited, done=["L1"], ruined=["L1:A"])
    (back,) = resumed.set_backs
    assert (back.cost, back.priced) == (32 * 40 * INCH.mm**2, False)
    assert _ordered(_rest(resumed)) == {"A": 1}


def test_nothing_left_to_cut_is_no_plan(four_a_sheet: kw.AuditedPlan) -> None:
    """All cuts of all sheets made: eight in hand and no plan."""
    resumed = kw.resume_plan(four_a_sheet, done=["L1"])
    assert (resumed.plan, resumed.in_hand) == (None, {"A": 8})


def test_a_ruined_part_is_lost_whole(four_a_sheet: kw.AuditedPlan) -> None:
    """The half that cut 2 would divide is spoiled: two mats are to come from a new sheet."""
    resumed = kw.resume_plan(four_a_sheet, done=["L1:1"], ruined=["L1/2:2"])
    (back,) = resumed.set_backs
    assert (back.sheets, back.planned_sheets, back.cost) == (1, 0, Fraction(20))
    assert sum(_ordered(_rest(resumed)).values()) == 8


def test_a_setting_finer_than_the_plan_s_step(four_a_sheet: kw.AuditedPlan) -> None:
    """A cut at 15 31/32 in is counted exactly, though the plan's step is four inches."""
    first = four_a_sheet.plan.boards[0].layouts[0].cuts[0]
    used = (four_a_sheet.plan.step * first.setting).in_unit(kw.Unit.INCH) - Fraction(1, 32)
    resumed = kw.resume_plan(four_a_sheet, wrong=[f"L1/1:1={used}"])
    wide = {
        plan_source.width if first.axis is kw.Axis.X else plan_source.height
        for plan_source in (i.source for i in _rest(resumed).boards[0].stock)
        if plan_source.kind is kw.SourceKind.OFFCUT
    }
    full = INCH * (32 if first.axis is kw.Axis.X else 40)
    plan = _rest(resumed)
    assert {plan.step * steps for steps in wide} == {full - INCH * used}


def test_a_factory_edge_on_a_part_is_taken_off_first() -> None:
    """A part that still has its trims on is stock without them, and the plan says what to take."""
    quarter = INCH * Fraction(1, 4)
    trim = kw.Trim(quarter, quarter, quarter, quarter)
    audited = _planned(_order(("A", 4, _size(15, 19)), trim=trim))
    assert all(cut.setting for cut in audited.plan.boards[0].layouts[0].cuts[:4])
    resumed = kw.resume_plan(audited, done=["L1:1"])
    (sentence,) = resumed.first
    assert sentence.startswith("First of all, of the part 'L1 cut 1 beyond' take 1/4 in")
    assert sentence.count("1/4 in off its") == 3
    plan = _rest(resumed)
    assert sentence in plan.notes
    (layout,) = plan.boards[0].layouts
    step = plan.step
    assert (step * layout.source.width, step * layout.source.height) == (
        INCH * Fraction(63, 2),
        INCH * Fraction(79, 2),
    )


def test_what_was_to_do_first_is_said_as_long_as_it_is_to_do() -> None:
    """Of the plan for the rest the trimmed part is cut: its sentence stays until then, no longer.

    Two 31 x 39 mats take two 32 x 40 sheets with 1/4 in trims; one sheet has its first trim off.
    """
    quarter = INCH * Fraction(1, 4)
    trim = kw.Trim(quarter, quarter, quarter, quarter)
    audited = _planned(_order(("A", 2, _size(31, 39)), trim=trim))
    rest = kw.resume_plan(audited, done=["L1/1:1"])
    (sentence,) = rest.first
    plan = _rest(rest)
    part = next(one for one in plan.boards[0].layouts if one.source.id is not None)
    sheet = next(one for one in plan.boards[0].layouts if one.source.id is None)
    again = kw.audit_plan(plan)
    assert sentence in _rest(kw.resume_plan(again, done=[sheet.id])).notes
    assert sentence not in _rest(kw.resume_plan(again, done=[part.id])).notes


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"done": ["L7"]}, "names no layout of this plan (L1)"),
        ({"done": ["L1:4"]}, "names cut 4 of L1, which has cuts 1 to 3"),
        ({"done": ["L1/3:1"]}, "names no sheet of L1, which has sheets 1 to 2"),
        ({"done": ["L1:2-3"]}, "leaves out cut 1 of L1/1"),
        ({"done": ["L1:3-2"]}, "counts backwards"),
        ({"done": ["L1:some"]}, "does not say which cuts are made"),
        ({"done": [""]}, "names no layout"),
        ({"wrong": ["L1:1=3"]}, "does not say which of the 2 sheets of L1"),
        ({"wrong": ["L1/1:1"]}, "does not say which cut was made at which setting"),
        ({"wrong": ["L1/1:1=16"]}, "gives the setting of the plan"),
        ({"wrong": ["L1/1:1=99"]}, "cannot have been cut at 99 in"),
        ({"wrong": ["L1/1:1=soon"]}, "has the setting 'soon', which is not a length"),
        ({"wrong": ["L1/1:1=1.0000000001"]}, "is finer than any rule"),
        ({"wrong": ["L1/1:1=3", "L1/1:1=4"]}, "speaks of cut 1 a second time"),
        ({"wrong": ["L1/1:1=39"], "done": ["L1/1:3"]}, "its part is only"),
        ({"ruined": ["L1/1:3"]}, "is not cut free yet"),
        ({"ruined": ["L1/1:1"], "done": ["L1:2"]}, "but that cut is made"),
        ({"ruined": ["L1/1:A"]}, "names a finished A, of which none is in hand"),
        ({"ruined": ["L1/1:Q"]}, "names no cut and no piece of L1"),
    ],
)
def test_what_cannot_be_is_refused(
    four_a_sheet: kw.AuditedPlan, said: dict[str, list[str]], told: str
) -> None:
    """Each slip gets a message of its own that says what would do."""
    with pytest.raises(kw.RefusedValue) as refusal:
        kw.resume_plan(
            four_a_sheet, said.get("done", []), said.get("wrong", []), said.get("ruined", [])
        )
    assert told in str(refusal.value)


@pytest.fixture(scope="module")
def mixed() -> kw.AuditedPlan:
    """Several sizes with a kerf and trims: a job of more than one layout."""
    eighth = INCH * Fraction(1, 8)
    half = eighth * 4
    order = _order(
        ("A", 5, _size(15, 19)),
        ("B", 7, _size(8, 10)),
        ("C", 3, _size(11, 14)),
        trim=kw.Trim(half, half, half, half),
        tool=kw.Tool("saw", kerf=eighth),
    )
    return _planned(order)


@settings(deadline=None)
@given(data=st.data())
def test_cutting_loses_no_area(mixed: kw.AuditedPlan, data: st.DataObject) -> None:
    """Whatever was cut, parts, dust and spoiled parts of each sheet make up the whole sheet."""
    old = mixed.plan
    layout = data.draw(st.sampled_from(old.boards[0].layouts))
    sheet = data.draw(st.integers(1, layout.copies))
    number = data.draw(st.integers(1, len(layout.cuts)))
    setting = data.draw(st.integers(1, 16 * 40))
    said = [f"{layout.id}/{sheet}:{number}={Fraction(setting, 16)}"]
    try:
        (tale,) = tales_of(old, (), said)
        plan = finer(old, common_step((old.step, tale.settings[number])))
        bench = bench_of(plan, plan.boards[0], tales_of(plan, (), said), set())
    except kw.RefusedValue as refusal:
        if "setting of the plan" in str(refusal) or "cannot have been cut" in str(refusal):
            return
        raise
    (begun,) = bench.sheets
    source = begun.cuttable.layout.source
    lying = sum(part.rect.area for part in begun.lying)
    assert lying + begun.kerf_area + begun.ruined_area == source.width * source.height


@settings(deadline=None, max_examples=25)  # each one plans a job
@given(data=st.data())
def test_cuts_made_as_planned_never_cost_a_sheet(
    mixed: kw.AuditedPlan, data: st.DataObject
) -> None:
    """However far a job is cut as planned, the rest takes no more sheets than it would have.

    The pieces in hand and those still to be made are those of the order.
    """
    done = []
    for layout in mixed.plan.boards[0].layouts:
        for sheet in range(1, layout.copies + 1):
            made = data.draw(st.integers(0, len(layout.cuts)))
            done += [f"{layout.id}/{sheet}:{made}"] if made else []
    resumed = kw.resume_plan(mixed, done)
    (back,) = resumed.set_backs
    assert back.sheets <= back.planned_sheets
    assert back.cost <= 0
    rest = {} if resumed.plan is None else _ordered(_rest(resumed))
    assert Counter(rest) + Counter(resumed.in_hand) == Counter(A=5, B=7, C=3)


@settings(deadline=None, max_examples=25)  # each one plans a job
@given(data=st.data())
def test_one_wrong_cut_never_costs_more_than_a_sheet(
    mixed: kw.AuditedPlan, data: st.DataObject
) -> None:
    """Whatever one wrong cut spoils, a new sheet cut as that one should have been makes good."""
    layout = data.draw(st.sampled_from(mixed.plan.boards[0].layouts))
    cut = data.draw(st.sampled_from(layout.cuts))
    off = data.draw(st.sampled_from([-5, -3, -1, 1]))
    used = (mixed.plan.step * cut.setting).in_unit(kw.Unit.INCH) + Fraction(off, 16)
    resumed = kw.resume_plan(mixed, wrong=[f"{layout.id}/1:{cut.number}={used}"])
    (back,) = resumed.set_backs
    assert back.sheets <= back.planned_sheets + 1
    rest = {} if resumed.plan is None else _ordered(_rest(resumed))
    assert Counter(rest) + Counter(resumed.in_hand) == Counter(A=5, B=7, C=3)
