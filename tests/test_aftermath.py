"""A job in the middle: what lies on the bench, what is in hand, and the rest planned again."""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.text import Text

import kerfwright as kw
from kerfwright.aftermath.fetched import fetched_of
from kerfwright.aftermath.rest import bench_of
from kerfwright.aftermath.said import tales_of
from kerfwright.aftermath.sheets import finer
from kerfwright.drawings import Paper
from kerfwright.drawings.canvas import draw_pages
from kerfwright.lengths import common_step
from kerfwright.plan.edges import edges_off
from kerfwright.plan.files import plan_from_json
from kerfwright.plan.model import PlanTrim
from kerfwright.plan.so_far import Holdings
from kerfwright.spreadsheet import cuts_csv
from kerfwright.telling import compared, first_off, squaring, tell

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


@pytest.mark.parametrize("measured", [False, True])
def test_a_part_is_known_no_better_than_the_sheet_it_is_left_of(measured: bool) -> None:
    """Cut 1 sets one half, and what the sheet leaves is the other; both are cut alike.

    So either may be the one that nobody knows. Of a measured sheet it is off by what its side may
    be, and by the cut: each 1/32 in for the stop and 0.5 mm, up to a metre for class II.
    """
    order = _order(("A", 4, _size(16, 20)))
    sheet = kw.SheetSize(_size(32, 40), Fraction(20), measured=_size(32, 40) if measured else None)
    order = replace(order, boards=(replace(order.boards[0], sheets=(sheet,)),))
    audited = _planned(order)
    first = audited.plan.boards[0].layouts[0].cuts[0]
    plan = _rest(kw.resume_plan(audited, done=["L1:1"]))
    (board,) = plan.boards
    once = kw.Length(Fraction(207, 160))
    axis = 0 if first.axis is kw.Axis.X else 1
    offs = [item.off for item in board.stock if item.source.kind is kw.SourceKind.OFFCUT]
    worst = once + once if measured else None
    assert [off[axis] for off in offs if off] == [worst]
    pieces = [piece for layout in board.layouts for piece in layout.pieces]
    sides = [(piece.across, piece.down)[axis] for piece in pieces]
    errors = Counter(side.error for side in sides if side is not None)
    assert errors == {worst: 2}  # of one layout, for both parts
    assert plan_from_json(kw.plan_to_json(plan)) == plan
    stock = tuple(replace(item, off=None) for item in board.stock)
    with pytest.raises(kw.AuditError, match="is said to be"):
        kw.audit_plan(replace(plan, boards=(replace(board, stock=stock),)))


def test_a_label_that_is_a_number_is_told_from_a_cut() -> None:
    """Labels 1 and 2 are cuts too: alone they are refused; by their names on the page they go."""
    audited = _planned(_order(("1", 1, _size(16, 20)), ("2", 3, _size(16, 20))))
    with pytest.raises(kw.RefusedValue) as refusal:
        kw.resume_plan(audited, done=["L1"], ruined=["L1:2"])
    told = str(refusal.value)
    assert "may be a piece 2 or the part that cut 2 divides" in told
    assert "write L1:2-1 for the piece" in told
    for name, label in (("L1:2-1", "2"), ("L1:1-1", "1")):
        resumed = kw.resume_plan(audited, done=["L1"], ruined=[name])
        assert _ordered(_rest(resumed)) == {label: 1}


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


def test_equal_parts_are_one_layout(four_a_sheet: kw.AuditedPlan) -> None:
    """After cut 1 of both sheets the four halves, C and D of each, are cut alike: 2 mats each."""
    plan = _rest(kw.resume_plan(four_a_sheet, done=["L1:1"]))
    board = plan.boards[0]
    assert board.sheets == 0
    (layout,) = board.layouts
    assert (layout.source.kind, layout.source.id) == (kw.SourceKind.OFFCUT, "L1/1-2 C, D")
    assert layout.copies == 4
    assert Counter(p.label for p in layout.pieces) == {"A": 2}
    (item,) = (item for item in board.stock if item.source == layout.source)
    assert item.available == 4
    (told,) = kw.audit_plan(plan).facts
    assert told.sources[0].copies == 4


def test_unequal_parts_have_layouts_of_their_own(four_a_sheet: kw.AuditedPlan) -> None:
    """Of sheet 1 the halves are an inch off, of sheet 2 as planned: three kinds of part."""
    first = four_a_sheet.plan.boards[0].layouts[0].cuts[0]
    used = (four_a_sheet.plan.step * first.setting - INCH).in_unit(kw.Unit.INCH)
    plan = _rest(kw.resume_plan(four_a_sheet, done=["L1/2:1"], wrong=[f"L1/1:1={used}"]))
    parts = {i.source.id: i.available for i in plan.boards[0].stock if i.source.id is not None}
    assert parts == {"L1/1 D": 1, "L1/2 C, D": 2}


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


def _quarter_trim() -> kw.Trim:
    quarter = INCH * Fraction(1, 4)
    return kw.Trim(quarter, quarter, quarter, quarter)


def _quarter_trimmed() -> kw.AuditedPlan:
    """Two 15 x 19 mats; the offcut beneath them lies along the right and the bottom edge."""
    return _planned(_order(("A", 2, _size(15, 19)), trim=_quarter_trim()))


def _first_of(plan: kw.Plan) -> dict[str, tuple[str, ...]]:
    """Return what each layout's page says to take off first."""
    (board,) = plan.boards
    return {layout.id: first_off(layout, board, plan) for layout in board.layouts}


def test_a_factory_edge_on_a_part_is_taken_off_first() -> None:
    """A part that still has its trims on is stock without them, and its page says what to take.

    Cut 1 took off one of the four trims; the others are still on.
    """
    audited = _quarter_trimmed()
    assert all(cut.setting for cut in audited.plan.boards[0].layouts[0].cuts[:4])
    plan = _rest(kw.resume_plan(audited, done=["L1:1"]))
    ((sentence,),) = _first_of(plan).values()
    assert sentence.startswith("First take 1/4 in off its ")
    assert sentence.count("1/4 in off its") == 3
    (layout,) = plan.boards[0].layouts
    step = plan.step
    assert (step * layout.source.width, step * layout.source.height) == (
        INCH * Fraction(63, 2),
        INCH * Fraction(79, 2),
    )
    assert plan_from_json(kw.plan_to_json(plan)) == plan


@pytest.mark.parametrize("kerf", [0, 1])
def test_edges_that_come_off_first_are_work_to_do(kerf: int) -> None:
    """A 31 3/4 x 40 mat of a sheet with a 1/4 in trim to the right, cut at 31 7/8 and not 31 3/4.

    1/8 in is to come off its right edge. With a knife that is set from there; with a saw of an
    eighth of an inch it would lie between fence and blade, so that 31 3/4 is set from the left.
    """
    blade = kw.Tool("saw", kerf=INCH * Fraction(1, 8)) if kerf else kw.Tool()
    trim = kw.Trim(right=INCH * Fraction(1, 4))
    order = _order(("M", 1, _size(Fraction(127, 4), 40)), trim=trim, tool=blade)
    audited = _planned(order)
    (cut,) = audited.plan.boards[0].layouts[0].cuts
    far = cut.stop is kw.Edge.LEFT
    plan = _rest(kw.resume_plan(audited, wrong=[f"L1:1={'31 7/8' if far else '1/8'}"]))
    (board,) = plan.boards
    (layout,) = board.layouts
    assert layout.cuts == ()
    (sentence,) = first_off(layout, board, plan)
    set_far = f" ({'set 31 3/4 in from the left one' if kerf else '31 3/4 in is left'})"
    assert sentence.startswith(f"First take 1/8 in off its right edge{set_far}; ")
    rest = kw.audit_plan(plan)
    (told,) = tell(rest)
    assert ": first take 1/8 in off its right edge" in told.first[0]
    (row,) = csv.DictReader(cuts_csv(rest).lstrip("\ufeff").splitlines())
    assert (row["layout"], row["cut"], row["take off first"]) == ("L2", "", sentence)
    said = " ".join(_words(rest))
    assert "No more cuts" in said
    assert "No cuts: take it as it is" not in said
    assert "1 edge to trim" in said
    assert "measure M: should be 40 high" in said


def _words(audited: kw.AuditedPlan) -> list[str]:
    """Return what the pages of a plan say."""
    figures = list(draw_pages(audited, Paper.LETTER))
    return [text.get_text() for figure in figures for text in figure.findobj(Text)]


def test_a_trimmed_part_is_not_trimmed_again() -> None:
    """After the four trims nothing is to be taken off: the part is 31 1/2 x 39 1/2 as it lies."""
    audited = _quarter_trimmed()
    plan = _rest(kw.resume_plan(audited, done=["L1:4"]))
    assert [*_first_of(plan).values()] == [()]
    (item,) = (item for item in plan.boards[0].stock if item.source.kind is kw.SourceKind.OFFCUT)
    assert item.trim is None


def test_of_a_trim_cut_too_narrow_the_rest_comes_off() -> None:
    """The first trim was cut at 1/8 in and not 1/4: another 1/8 in is to come off that edge."""
    audited = _quarter_trimmed()
    plan = _rest(kw.resume_plan(audited, wrong=["L1:1=1/8"]))
    ((sentence,),) = _first_of(plan).values()
    assert (sentence.count("1/8 in off its"), sentence.count("1/4 in off its")) == (1, 3)


def _quarter_trimmed_part() -> kw.AuditedPlan:
    """Two 15 x 19 mats from a sheet of which one trim is off: three come off the part first."""
    audited = _quarter_trimmed()
    assert audited.plan.boards[0].layouts[0].cuts[0].stop in (kw.Edge.LEFT, kw.Edge.TOP)
    return kw.audit_plan(_rest(kw.resume_plan(audited, done=["L1:1"])))


def _edges_to_come(plan: kw.Plan) -> list[str]:
    (board,) = plan.boards
    return [edge for layout in board.layouts for edge, _, _ in edges_off(layout, board)]


def test_an_edge_that_is_off_is_not_taken_off_again() -> None:
    """Of the three edges of the part the first one said is off, and those before it on the page."""
    part = _quarter_trimmed_part()
    edges = _edges_to_come(part.plan)
    assert len(edges) == 3
    for made in range(1, 4):
        resumed = kw.resume_plan(part, done=[f"L2:{edges[made - 1]}"])
        assert _edges_to_come(_rest(resumed)) == edges[made:]
        assert [back.mistakes for back in resumed.set_backs] == [0]
        (begun,) = resumed.so_far
        (own,) = begun.parts
        assert begun.trim + own.trim == 0  # it was counted with the sheet
    assert not _edges_to_come(_rest(kw.resume_plan(part, done=["L2:1"])))


def test_an_edge_taken_off_too_far_makes_a_smaller_part() -> None:
    """Of 31 1/2 in between good edges 31 in is left: half an inch is lost, no piece by it.

    In the part's own plan each edge said to be off otherwise counts as a mistake.
    """
    part = _quarter_trimmed_part()
    (edge, *others) = _edges_to_come(part.plan)
    (layout,) = part.plan.boards[0].layouts
    across = edge in ("left", "right")
    rest = next(r for e, _, r in edges_off(layout, part.plan.boards[0]) if e == edge)
    step = part.plan.step
    left = (step * rest).in_unit(kw.Unit.INCH) - Fraction(1, 2)
    resumed = kw.resume_plan(part, wrong=[f"L2:{edge}={left}"])
    plan = _rest(resumed)
    (new,) = plan.boards[0].layouts
    before = (step * layout.source.width, step * layout.source.height)
    after = (plan.step * new.source.width, plan.step * new.source.height)
    half = INCH * Fraction(1, 2)
    assert before == (after[0] + half, after[1]) if across else (after[0], after[1] + half)
    assert _edges_to_come(plan) == others
    assert [back.mistakes for back in resumed.set_backs] == [1]
    (begun,) = resumed.so_far
    (own,) = begun.parts
    assert begun.trim == begun.source.width * begun.source.height - own.width * own.height


def test_of_an_edge_taken_off_too_little_the_rest_comes_off() -> None:
    """An eighth of the quarter inch is still on: it comes off, and the part is as planned."""
    part = _quarter_trimmed_part()
    (edge, *others) = _edges_to_come(part.plan)
    (layout,) = part.plan.boards[0].layouts
    rest = next(r for e, _, r in edges_off(layout, part.plan.boards[0]) if e == edge)
    left = (part.plan.step * rest).in_unit(kw.Unit.INCH) + Fraction(1, 8)
    plan = _rest(kw.resume_plan(part, wrong=[f"L2:{edge}={left}"]))
    (new,) = plan.boards[0].layouts
    sides = {(plan.step * s.width, plan.step * s.height) for s in (new.source,)}
    assert sides == {(part.plan.step * layout.source.width, part.plan.step * layout.source.height)}
    assert _edges_to_come(plan) == [edge, *others]
    (size,) = {s for e, s, _ in edges_off(new, plan.boards[0]) if e == edge}
    assert plan.step * size == INCH * Fraction(1, 8)


def test_a_sheet_squared_too_far_is_a_smaller_sheet(four_a_sheet: kw.AuditedPlan) -> None:
    """Where 31 3/4 of 32 in is left no 16 x 20 fits twice: two of four, so another sheet."""
    resumed = kw.resume_plan(four_a_sheet, wrong=["L1/1:Left=31 3/4"])
    (back,) = resumed.set_backs
    assert (back.planned_sheets, back.sheets, back.mistakes) == (1, 2, 1)
    (begun,) = resumed.so_far
    assert begun.trim * 128 == begun.source.width * begun.source.height


def test_edges_and_their_mistakes_are_refused_where_they_cannot_be() -> None:
    """A trim of a full sheet is a cut; an edge is off once, and leaves less than there was."""
    sheet = _quarter_trimmed()
    part = _quarter_trimmed_part()
    (first, *_) = _edges_to_come(part.plan)
    gone = next(e for e in ("left", "top") if e not in _edges_to_come(part.plan))
    rest = next(
        (part.plan.step * r).in_unit(kw.Unit.INCH)
        for e, _, r in edges_off(part.plan.boards[0].layouts[0], part.plan.boards[0])
        if e == first
    )
    for audited, said, told in (
        (sheet, {"wrong": ["L1:left=31"]}, "names the left edge of L1, which a cut takes off"),
        (sheet, {"done": ["L1:left"]}, "those that come off first are none"),
        (part, {"done": [f"L2:{gone}"]}, f"names the {gone} edge of L2; those that come off"),
        (part, {"wrong": [f"L2:{first}={rest}"]}, "gives what was to be left"),
        (part, {"wrong": [f"L2:{first}=50"]}, "leaves no less than there was"),
        (part, {"wrong": [f"L2:{first}=30", f"L2:{first}=29"]}, f"of the {first} edge a second"),
        (part, {"wrong": [f"L2:{first}"]}, "or an edge and what was left"),
    ):
        with pytest.raises(kw.RefusedValue) as refusal:
            kw.resume_plan(audited, said.get("done", []), said.get("wrong", []))
        assert told in str(refusal.value)


@pytest.mark.parametrize("squares", [True, False])
def test_parts_keep_the_edges_that_are_as_they_came(squares: bool) -> None:
    """Of a sheet squared left and top the far parts keep its right and bottom edges as they came.

    12 in come off the left of a 32 x 40 sheet, and 12 off what is left of it; so in a second rest.
    """
    tool = kw.Tool("cutter", kind=kw.ToolKind.BENCH_CUTTER, squares=squares)
    audited = _planned(_order(("A", 1, _size(7, 40)), ("B", 2, _size(12, 40)), tool=tool))
    assert all(cut.axis is kw.Axis.X for cut in audited.plan.boards[0].layouts[0].cuts)
    plan = _rest(kw.resume_plan(audited, done=["L1:1"]))
    (board,) = plan.boards
    used = {layout.source for layout in board.layouts}
    (item,) = (one for one in board.stock if one.source in used)
    assert item.rough == (("right", "bottom") if squares else ())
    assert plan_from_json(kw.plan_to_json(plan)) == plan
    again = _rest(kw.resume_plan(kw.audit_plan(plan), done=["L2:1"]))
    rough = {one.rough for one in again.boards[0].stock if one.source.kind is kw.SourceKind.OFFCUT}
    assert (("right", "bottom") in rough) is squares


@pytest.mark.parametrize(
    ("rough", "set_from"),
    [((), {(12, kw.Edge.LEFT), (12, kw.Edge.RIGHT)}),
     (("bottom",), {(12, kw.Edge.LEFT), (12, kw.Edge.RIGHT)}),
     (("right", "bottom"), {(12, kw.Edge.LEFT), (8, kw.Edge.LEFT)})],
)  # fmt: skip
def test_nothing_is_set_from_an_edge_as_it_came(
    rough: tuple[str, ...], set_from: set[tuple[int, kw.Edge]]
) -> None:
    """12 and 8 of a part 32 in wide: at one setting, 12, if the 8 may be what is left of 20.

    The 12 in beyond it are set from the right edge then, which must not be as it came.
    """
    tool = kw.Tool("cutter", kind=kw.ToolKind.BENCH_CUTTER, squares=True)
    order = _order(("A", 1, _size(12, 40)), ("B", 1, _size(8, 40)), tool=tool)
    order = replace(order, offcuts=(kw.Offcut("rag", _size(32, 40), "7", rough=rough),))
    plan = _planned(order).plan
    (layout,) = plan.boards[0].layouts
    settings = [int((plan.step * cut.setting).in_unit(kw.Unit.INCH)) for cut in layout.cuts]
    stops = [cut.stop for cut in layout.cuts]
    assert set(zip(settings, stops, strict=True)) == set_from
    assert plan.boards[0].cutting is not None
    assert plan.boards[0].cutting.settings == (2 if "right" in rough else 1)


def test_what_comes_off_first_is_said_as_long_as_it_is_to_do() -> None:
    """Of the plan for the rest the trimmed part is cut: its sentence stays until then, no longer.

    Two 31 x 39 mats take two 32 x 40 sheets with 1/4 in trims; one sheet has its first trim off.
    """
    audited = _planned(_order(("A", 2, _size(31, 39)), trim=_quarter_trim()))
    plan = _rest(kw.resume_plan(audited, done=["L1/1:1"]))
    part = next(one for one in plan.boards[0].layouts if one.source.id is not None)
    sheet = next(one for one in plan.boards[0].layouts if one.source.id is None)
    assert _first_of(plan)[part.id] != ()
    assert _first_of(plan)[sheet.id] == ()
    again = kw.audit_plan(plan)
    still = _rest(kw.resume_plan(again, done=[sheet.id]))
    assert [*_first_of(still).values()] == [_first_of(plan)[part.id]]
    assert [*_first_of(_rest(kw.resume_plan(again, done=[part.id]))).values()] == [()]


def test_what_is_good_of_a_spoiled_part_is_cut_from(four_a_sheet: kw.AuditedPlan) -> None:
    """Of the spoiled half D, 16 x 40, a torn end leaves 16 x 30: one mat comes from it.

    Of eight mats, two come from half C, one from what is good of D, four from the other sheet;
    the eighth needs a third sheet, since 10 in of D are lost.
    """
    first = four_a_sheet.plan.boards[0].layouts[0].cuts[0]
    across = first.axis is kw.Axis.X
    good = "16 x 30" if across else "30 x 16"
    resumed = kw.resume_plan(four_a_sheet, done=["L1/1:1"], ruined=[f"L1/1:D={good}"])
    (back,) = resumed.set_backs
    assert (back.sheets, back.planned_sheets, back.mistakes) == (2, 1, 1)
    plan = _rest(resumed)
    (part,) = (i.source for i in plan.boards[0].stock if i.source.id == "L1/1 D")
    sides = sorted((plan.step * part.width, plan.step * part.height))
    assert sides == [INCH * 16, INCH * 30]


def test_a_part_spoiled_before_its_turn_was_passed_over(four_a_sheet: kw.AuditedPlan) -> None:
    """Cuts 1 to 3 of sheet 1 are said to be made, and part C spoiled: so cut 2, its own, was not.

    Two mats come from D by cut 3; of C half is good, which is one mat more.
    """
    cuts = four_a_sheet.plan.boards[0].layouts[0].cuts
    good = "16 x 20" if cuts[0].axis is kw.Axis.X else "20 x 16"
    spoiled = kw.resume_plan(four_a_sheet, done=["L1/1:1-3"], ruined=["L1/1:C"])
    assert (spoiled.in_hand, spoiled.set_backs[0].sheets) == ({"A": 2}, 2)
    half = kw.resume_plan(four_a_sheet, done=["L1/1:1-3"], ruined=[f"L1/1:C={good}"])
    assert half.in_hand == {"A": 2}
    layouts = _rest(half).boards[0].layouts
    assert [len(one.pieces) for one in layouts if one.source.id == "L1/1 C"] == [1]


def test_a_cut_the_wrong_way_leaves_two_good_parts(four_a_sheet: kw.AuditedPlan) -> None:
    """Half D, 16 x 40, was slit along its length: 7 x 40 and 9 x 40 are left, and no 16 x 20.

    They are offcuts of a 32 x 40 sheet with the usual keep of 8 x 10, and a slip sheet: 7 is
    narrower than 8, and at least 3 in wide and as long as the longest mat.
    """
    first = four_a_sheet.plan.boards[0].layouts[0].cuts[0]
    across = first.axis is kw.Axis.X
    good = "7 x 40 + 9 x 40" if across else "40 x 7 + 40 x 9"
    resumed = kw.resume_plan(four_a_sheet, done=["L1/1:1"], ruined=[f"L1/1:D={good}"])
    told = {(one.name, one.kind) for one in resumed.idle}
    assert told == {
        ("L1/1 D", kw.LeftoverKind.SLIP_SHEET),
        ("L1/1 D (2)", kw.LeftoverKind.OFFCUT),
    }
    (note,) = (note for note in _rest(resumed).notes if note.startswith("On the bench besides"))
    assert "slip sheet L1/1 D, " in note


def test_a_spoiled_piece_can_give_a_smaller_one() -> None:
    """Of the finished 30 x 38 a corner is bent; 12 x 30 of it is good, and that is the other mat.

    As planned each takes a sheet, and the second is still whole. Now the 30 x 38 takes that one,
    and the mistake costs no sheet.
    """
    audited = _planned(_order(("A", 1, _size(30, 38)), ("B", 1, _size(12, 30))))
    layout = next(one for one in audited.plan.boards[0].layouts if one.pieces[0].label == "A")
    resumed = kw.resume_plan(audited, done=[layout.id], ruined=[f"{layout.id}:A=12 x 30"])
    assert resumed.in_hand == {}
    (board,) = _rest(resumed).boards
    made = {p.label: one.source.id for one in board.layouts for p in one.pieces}
    assert made == {"A": None, "B": f"{layout.id} A"}
    (old,) = audited.plan.boards
    assert old.rungs is not None
    lost = old.rungs.worth  # what B left of its sheet: of that nothing remains
    assert lost > 0
    assert (board.sheets, board.as_planned) == (1, kw.AsPlanned(1, Fraction(20), 1, lost))


def test_the_cost_stands_in_the_plan(four_a_sheet: kw.AuditedPlan) -> None:
    """The new plan has what was planned beside it, and says what the mistake costs; files too.

    Nothing was to be left over. Now half a sheet is: 20 (1/2)^1.5 = 7.07 twentieths.
    """
    plan = _rest(kw.resume_plan(four_a_sheet, done=["L1:1"], ruined=["L1/2:C"]))
    (board,) = plan.boards
    assert board.as_planned == kw.AsPlanned(0, Fraction(0), 1, -7)
    (told,) = tell(kw.audit_plan(plan))
    assert told.compared == (
        "The mistake costs one more sheet (20.00): 1 still to be opened, none as planned; "
        "no plan can do with fewer; what is left over is worth 7/20 of a sheet more than planned.",
    )
    assert plan_from_json(kw.plan_to_json(plan)) == plan


def test_a_mistake_may_cost_no_sheet(four_a_sheet: kw.AuditedPlan) -> None:
    """One 16 x 20 from a sheet: after a wrong cut what is left of the sheet still holds it.

    It was to leave 12 x 16 and 32 x 24 of 32 x 40: 1.16 and 9.30 twentieths. Of 32 x 17 and
    32 x 23 it leaves 12 x 17 and 32 x 23: 1.27 and 8.72, or else 32 x 17 and 12 x 23, 5.54 and
    2.00, and the better one is taken. Both are rounded down.
    """
    audited = _planned(_order(("A", 1, _size(16, 20))))
    cut = audited.plan.boards[0].layouts[0].cuts[0]
    used = (audited.plan.step * cut.setting + INCH).in_unit(kw.Unit.INCH)
    (told,) = tell(kw.audit_plan(_rest(kw.resume_plan(audited, wrong=[f"L1:1={used}"]))))
    assert told.compared == (
        "The mistake costs no sheet: no full sheet is still to be opened, as planned; "
        "what is left over is worth 1/20 of a sheet less than planned.",
    )
    (told,) = tell(kw.audit_plan(_rest(kw.resume_plan(four_a_sheet, done=["L1/1"]))))
    assert told.compared == ("Nothing is lost: 1 full sheet is still to be opened, as planned.",)


@pytest.mark.parametrize(
    ("cost", "square", "told"),
    [
        (5, None, "1 full sheet is still to be opened, as planned, but a dearer one; no plan"),
        (5, Fraction(1), "1 full sheet is still to be opened, as planned, but a larger one; no"),
        (-5, None, "1 full sheet is still to be opened, as planned, but a cheaper one."),
    ],
)
def test_as_many_sheets_of_another_size_are_said(
    cost: int, square: Fraction | None, told: str
) -> None:
    """A sheet of another size than planned is said to be one, beside what it costs more."""
    then = kw.AsPlanned(1, Fraction(20), 1)
    now = (1, Fraction(20) + cost)
    assert told in compared(now, then, square=square, unit=kw.Unit.MILLIMETRE, proof="least")


def test_drop_outs_are_stock_like_any_other(four_a_sheet: kw.AuditedPlan) -> None:
    """A plan that lists two 16 x 20 drop-outs goes on with them, as offcuts with a name."""
    (board,) = four_a_sheet.plan.boards
    width, height = (four_a_sheet.plan.boards[0].layouts[0].source.width // 2,
                     four_a_sheet.plan.boards[0].layouts[0].source.height // 2)  # fmt: skip
    dropped = kw.Source(kw.SourceKind.DROP_OUT, None, width, height)
    stock = (*board.stock, kw.StockItem(dropped, None, 2))
    plan = replace(four_a_sheet.plan, boards=(replace(board, stock=stock),))
    audited = replace(four_a_sheet, plan=plan)
    resumed = kw.resume_plan(audited, done=["L1/1"], ruined=["L1/1:A", "L1/1:A"])
    (back,) = resumed.set_backs
    assert (back.sheets, back.cost) == (1, Fraction(0))
    names = {one.source.id: one.copies for one in _rest(resumed).boards[0].layouts}
    assert names == {None: 1, "drop-out 1": 2}


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"done": ["L7"]}, "names no layout of this plan (L1)"),
        ({"done": ["L1:4"]}, "names cut 4 of L1, which has cuts 1 to 3"),
        ({"done": ["L1/3:1"]}, "names no sheet of L1, which has sheets 1 to 2"),
        ({"done": ["L1:2-3"]}, "leaves out cut 1 of L1/1"),
        ({"done": ["L1:3-2"]}, "counts backwards"),
        ({"done": ["L1:1,3"]}, "leaves out cut 2 of L1/1"),
        ({"done": ["L1:1,,2"]}, "does not say which cuts are made"),
        ({"done": ["L1/1,3:1"]}, "names no sheet of L1, which has sheets 1 to 2"),
        ({"wrong": ["L1/1:1-2=3"]}, "does not say which cut was made at which setting"),
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
        (
            {"ruined": ["L1/1:Q"]},
            "names no cut, part or piece of L1; its parts and pieces are B, C",
        ),
        ({"ruined": ["L1/1"]}, "does not say which part is spoiled"),
        ({"ruined": ["L1/1:="]}, "does not say which part is spoiled"),
        ({"ruined": ["L1/1:B=12"]}, "has the size '12', which"),
        (
            {"ruined": ["L1/1:B=50 x 60"]},
            "says that 50 x 60 in is good of a part that is 32 x 40 in",
        ),
        ({"ruined": ["L1/1:B=32 x 40"]}, "says that all of the part is good"),
        ({"ruined": ["L1/1:B=32 x 30 + 32 x 20"]}, "says that more is good than the part holds"),
        ({"ruined": ["L1/1:B=20 x 30 + 20 x 30"]}, "says that more is good than the part holds"),
        ({"ruined": ["L1/1:B=9 x 9", "L1/1:B=8 x 8"]}, "is said twice"),
        ({"ruined": ["L1/1:B=1.0000000001 x 9"]}, "is finer than any rule"),
        ({"ruined": ["L1/1:C=9 x 9"]}, "names C, which is not cut free yet"),
        ({"ruined": ["L1/1:B"], "done": ["L1:1"]}, "names part B, which cut 1 has divided"),
        ({"ruined": ["L1/1:D"], "done": ["L1:3"]}, "names part D, which cut 3 has divided"),
        ({"ruined": ["L1/1:C", "L1/1:2"], "done": ["L1:1"]}, "or was named before"),
        ({"ruined": ["L1/1:A1"], "done": ["L1:1"]}, "names A1, which is not cut free yet"),
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


def test_a_part_told_as_idle_is_told_so_only_while_it_is() -> None:
    """One A of a sheet leaves two parts that hold an A; one makes the A that is spoiled.

    The other is idle until that one is spoiled as well. Of the first A 8 x 10 is good, which
    holds no A: it stays on the bench, and is told as it was.
    """
    audited = _planned(_order(("A", 1, _size(10, 12))))
    resumed = kw.resume_plan(audited, done=["L1"], ruined=["L1:A=8 x 10"])
    spare, good = sorted(resumed.idle, key=lambda one: not one.in_stock)
    assert (spare.in_stock, good.in_stock) == (True, False)
    first = kw.audit_plan(_rest(resumed))
    besides = [note for note in first.plan.notes if note.startswith("On the bench besides")]
    assert [(spare.name in note, good.name in note) for note in besides] == [
        (True, False),
        (False, True),
    ]
    as_before = kw.resume_plan(first)
    assert [one.name for one in as_before.idle] == [spare.name]
    assert Counter(_rest(as_before).notes) == Counter(first.plan.notes)
    again = _rest(kw.resume_plan(first, ruined=[f"{first.plan.boards[0].layouts[0].id}:1"]))
    assert [layout.source.id for layout in again.boards[0].layouts] == [spare.name]
    assert [note for note in again.notes if "besides" in note] == besides[1:]


@pytest.fixture(scope="module")
def panels() -> kw.AuditedPlan:
    """Six 11 x 17 mats from a 44 x 90 sheet, 1/2 in off each edge, with a tool that cuts 50 in.

    Its long edges cannot be trimmed before a cut across has made them short enough.
    """
    half = INCH * Fraction(1, 2)
    tool = kw.Tool("cutter", longest_cut=INCH * 50, squares=True)
    order = _order(("A", 6, _size(11, 17)), trim=kw.Trim(half, half, half, half), tool=tool)
    board = replace(order.boards[0], sheets=(kw.SheetSize(_size(44, 90), Fraction(30)),))
    return _planned(replace(order, boards=(board,)))


def _parts_with_edges(plan: kw.Plan) -> list[str]:
    """Return the layouts that are cut from parts with factory edges for cuts to take off."""
    (board,) = plan.boards
    on = {item.source: item.untrimmed for item in board.stock if item.untrimmed is not None}
    return [layout.id for layout in board.layouts if layout.source in on]


def test_an_edge_too_long_to_trim_costs_nothing(panels: kw.AuditedPlan) -> None:
    """Wherever one stops, what is planned goes on: no sheet is opened, and nothing worth is lost.

    While a part is longer than 50 in its edges stay on, and are cut off as the plan had it.
    """
    (layout,) = panels.plan.boards[0].layouts
    with_edges = 0
    for made in range(len(layout.cuts)):
        resumed = kw.resume_plan(panels, done=[f"L1:1-{made}"] if made else [])
        plan = _rest(resumed)
        (board,), (back,) = plan.boards, resumed.set_backs
        assert (resumed.left_out, back.mistakes) == ((), 0)
        assert (board.sheets, back.sheets, back.cost) == (
            int(made == 0),
            int(made == 0),
            Fraction(0),
        )
        assert board.as_planned is not None
        assert board.as_planned.worth_lost == 0
        assert plan_from_json(kw.plan_to_json(plan)) == plan
        with_edges += bool(_parts_with_edges(plan))
    assert with_edges


def test_edges_still_on_a_part_are_cut_off_and_told(panels: kw.AuditedPlan) -> None:
    """After the short edges the long ones are on: they count into the cuts, which trim them.

    The part is 44 x 89 in: 43 in of it can be used. In a second rest it is so, too; an edge is
    named by the cut that takes it off; and none comes off before the first cut.
    """
    plan = _rest(kw.resume_plan(panels, done=["L1:1-2"]))
    (board,) = plan.boards
    (name,) = _parts_with_edges(plan)
    (layout,) = (one for one in board.layouts if one.id == name)
    inch = INCH.steps(plan.step)
    assert (layout.source.width, layout.source.height) == (44 * inch, 89 * inch)
    assert max(cut.end - cut.start for cut in layout.cuts) <= 50 * inch
    trims = [one for one in layout.leftovers if one.kind is kw.LeftoverKind.TRIM]
    assert len(trims) == 2
    assert not edges_off(layout, board)
    told = " ".join(squaring(board))
    assert f"left and right of {name}. What is longer than the tool cuts" in told
    assert "still as their sheet came" not in told
    audited = kw.audit_plan(plan)
    with pytest.raises(kw.RefusedValue, match="which a cut takes off") as refusal:
        kw.resume_plan(audited, wrong=[f"{name}:left=43"])
    number = int(str(refusal.value).split(f"say {name}:")[1].split("=")[0])
    cut = layout.cuts[number - 1]
    assert cut.axis is kw.Axis.X
    again = _rest(kw.resume_plan(audited, done=[f"{name}:1"]))
    assert again.boards[0].sheets == 0
    # A setting of the first cut that was an inch short still leaves a part with such edges.
    setting = plan.step * layout.cuts[0].setting - INCH
    wrong = f"{name}:1={setting.in_unit(kw.Unit.INCH)}"
    assert _rest(kw.resume_plan(audited, wrong=[wrong])).boards[0].as_planned is not None


def test_the_audit_knows_edges_that_are_still_on(panels: kw.AuditedPlan) -> None:
    """Wider edges than were said lie under pieces; none at all make offcuts and scrap of trim."""
    plan = _rest(kw.resume_plan(panels, done=["L1:1-2"]))
    (board,) = plan.boards
    step = INCH.steps(plan.step)
    for edges, found in (
        (PlanTrim(step, step // 2, 0, 0), "lies in the trim"),
        (None, "is not that but scrap"),
    ):
        stock = tuple(
            item if item.untrimmed is None else replace(item, untrimmed=edges)
            for item in board.stock
        )
        with pytest.raises(kw.AuditError, match=found):
            kw.audit_plan(replace(plan, boards=(replace(board, stock=stock),)))


def test_what_is_kept_is_told_as_it_lies_there(panels: kw.AuditedPlan) -> None:
    """The planned offcut has its long edges on for good: it is kept at its size, and as much worth.

    The pages of the plan have it at that size, too.
    """
    (layout,) = panels.plan.boards[0].layouts
    largest = max(layout.leftovers, key=lambda one: one.width * one.height)
    inch = panels.plan.step
    size = kw.Size(inch * largest.width, inch * largest.height)
    assert size.width == INCH * 44
    resumed = kw.resume_plan(panels, done=["L1"])
    assert resumed.plan is None
    (kept,) = (one for one in resumed.idle if one.size == size)
    assert kept.edges == ("left", "right")
    assert kept.told("SIZE").endswith("SIZE with its left and right edges still to come off")
    resumed = kw.resume_plan(panels, done=[f"L1:1-{len(layout.cuts) - 1}"])
    (note,) = (one for one in resumed.notes if "44 x " in one)
    assert "in with its left and right edges still to come off" in note


@pytest.mark.parametrize(
    ("edges", "named", "is_one"),
    [
        (("left",), "left edge", True),
        (("left", "right", "top"), "left, right and top edges", False),
    ],
)
def test_edges_are_listed(edges: tuple[str, ...], named: str, is_one: bool) -> None:
    """As a person lists them."""
    count = 1 if is_one else 3
    one = kw.Idle("rag", "L1 C", kw.LeftoverKind.OFFCUT, _size(9, 9), count, True, edges)
    start = "offcut L1 C, " if is_one else "3 offcuts L1 C, each "
    assert one.told("9 x 9") == f"{start}9 x 9 with its {named} still to come off"


def test_equal_parts_differ_by_the_edges_that_are_as_they_came() -> None:
    """Of two equal halves of a sheet squared left and top the far one has one more such edge.

    They are stock apart, so that it is said of that one alone.
    """
    tool = kw.Tool("cutter", kind=kw.ToolKind.BENCH_CUTTER, squares=True)
    audited = _planned(_order(("A", 4, _size(16, 20)), tool=tool))
    (layout,) = audited.plan.boards[0].layouts
    first = layout.cuts[0]
    assert (first.setting * 2) in (layout.source.width, layout.source.height)
    plan = _rest(kw.resume_plan(audited, done=["L1:1"]))
    far = "right" if first.axis is kw.Axis.X else "bottom"
    rough = [one.rough for one in plan.boards[0].stock if one.source.kind is kw.SourceKind.OFFCUT]
    assert [far in edges for edges in rough] == [False, True]


@pytest.mark.parametrize("said", ["L1:1-2", "L1:1\N{EN DASH}2", "L1:2,1", "L1/2,1:1 , 2", "L1:2"])
def test_cuts_are_named_as_the_pages_do(four_a_sheet: kw.AuditedPlan, said: str) -> None:
    """With the dash that is printed, and one by one in any order; of both sheets two cuts."""
    tales = tales_of(four_a_sheet.plan, [said])
    assert [(tale.sheet, tale.made) for tale in tales] == [(1, 2), (2, 2)]


def test_a_label_may_have_an_equals_sign() -> None:
    """A piece is named whole where its label has the sign; what is good of it follows another.

    Of A and "A=9 x 10" either may be meant by "A=9 x 10"; by their names on the page they are not.
    """
    labels = ("=SUM(A1)", "A", "A=9 x 10")
    audited = _planned(_order(*((label, 2, _size(10, 20)) for label in labels)))
    for said, what, good in (
        ("=SUM(A1)", "=SUM(A1)", ()),
        ("=SUM(A1)1", "=SUM(A1)1", ()),
        ("=SUM(A1)=9 x 12", "=SUM(A1)", (_size(9, 12),)),
        ("A1=9 x 10", "A1", (_size(9, 10),)),
        ("A=9 x 10-1", "A=9 x 10-1", ()),
        ("A=9 x 11", "A", (_size(9, 11),)),
    ):
        (tale,) = tales_of(audited.plan, [], [], [f"L1:{said}"])
        (spoiled,) = tale.spoiled
        assert (spoiled.what, spoiled.good) == (what, good)
    resumed = kw.resume_plan(audited, done=["L1"], ruined=["L1:=SUM(A1)1", "L1:A=9 x 10-1"])
    assert resumed.in_hand == {"=SUM(A1)": 1, "A": 2, "A=9 x 10": 1}
    with pytest.raises(kw.RefusedValue, match="or what is good of A"):
        kw.resume_plan(audited, done=["L1"], ruined=["L1:A=9 x 10"])


def test_a_wrong_edge_that_stays_is_told_those_that_come_off() -> None:
    """A part of which the left edge comes off first: its right one is to stay, at 31 3/4 in."""
    audited = _quarter_trimmed_part()
    (layout,) = (one for one in audited.plan.boards[0].layouts
                 if edges_off(one, audited.plan.boards[0]))  # fmt: skip
    first = [edge for edge, _, _ in edges_off(layout, audited.plan.boards[0])]
    stays = next(edge for edge in kw.Edge if edge not in first)
    with pytest.raises(kw.RefusedValue) as refusal:
        kw.resume_plan(audited, wrong=[f"{layout.id}:{stays}=99"])
    told = f"the {stays} edge of {layout.id} is to stay; those that come off first are "
    assert told + ", ".join(first) in str(refusal.value)


def _limited(*boards: tuple[str, kw.SheetSize]) -> kw.AuditedPlan:
    """Four 16 x 20 mats of each board, from one sheet: no more are there."""
    order = _order(("A", 4, _size(16, 20)))
    rag, mat = order.boards[0], order.pieces[0]
    return _planned(
        replace(
            order,
            boards=tuple(replace(rag, name=name, sheets=(sheet,)) for name, sheet in boards),
            pieces=tuple(replace(mat, label=name, board=name) for name, _ in boards),
        )
    )


ONE = kw.SheetSize(_size(32, 40), Fraction(20), on_hand=1, buyable=False)
MEASURED = replace(ONE, measured=_size(Fraction(65, 2), 40))


def test_sheets_that_were_fetched_are_used() -> None:
    """An inch too far in, the sheet gives two of four mats; no other is there until one is fetched.

    The message says how to go on. With two fetched, one is left for the next time.
    """
    audited = _limited(("rag", ONE))
    failed = kw.resume_plan(audited, wrong=["L1:1=1"])
    assert isinstance(failed.plan, kw.NoPlan)
    (reason,) = failed.plan.reasons
    assert reason.endswith(
        "with 1 more full sheet of 32 x 40 in it can be done."
        ' Once you have it, resume with --more "32 x 40" as well.'
    )
    resumed = kw.resume_plan(audited, wrong=["L1:1=1"], more=["2 of 32 x 40"])
    plan = _rest(resumed)
    (board,), (back,) = plan.boards, resumed.set_backs
    assert (board.sheets, back.cost) == (1, Fraction(20))
    (sheet,) = (item for item in board.stock if item.source.kind is kw.SourceKind.SHEET)
    assert (sheet.available, sheet.on_hand) == (2, 2)
    (opened,) = (one.id for one in board.layouts if one.source == sheet.source)
    again = kw.resume_plan(kw.audit_plan(plan), ruined=[f"{opened}:1"])
    assert _rest(again).boards[0].sheets == 1


def test_what_was_fetched_is_counted_in() -> None:
    """Where one more is not enough, the message says how many it takes in all."""
    audited = _planned(
        replace(
            _order(("A", 8, _size(16, 20))),
            boards=(kw.Board("rag", sheets=(replace(ONE, on_hand=2),)),),
        )
    )
    ruined = [f"L1/{sheet}:B" for sheet in (1, 2)]
    for more, short, in_all in ((), 2, 2), (["32 x 40"], 1, 2):
        failed = kw.resume_plan(audited, ruined=ruined, more=more)
        assert isinstance(failed.plan, kw.NoPlan)
        sheets = "1 more full sheet" if short == 1 else f"{short} more full sheets"
        (reason,) = failed.plan.reasons
        assert f"with {sheets} of 32 x 40 in it can be done" in reason
        assert f'resume with --more "{in_all} of 32 x 40" as well.' in reason
    for more in (["2 of 32 x 40"], ["32 x 40", "1"], ["2"], ["rag: 2"], ["rag: 2 OF 32 x 40"]):
        assert _rest(kw.resume_plan(audited, ruined=ruined, more=more)).boards[0].sheets == 2


def test_of_several_boards_the_one_that_is_short_is_named() -> None:
    """And a sheet goes by the size that it is planned with, or by that in which it is sold."""
    audited = _limited(("rag", ONE), ("rag: blue", MEASURED))
    layout = next(one.id for one in audited.plan.boards[1].layouts)
    failed = kw.resume_plan(audited, wrong=[f"{layout}:1=1"])
    assert isinstance(failed.plan, kw.NoPlan)
    (reason,) = failed.plan.reasons
    assert reason.endswith('resume with --more "rag: blue: 32 1/2 x 40" as well.')
    for size in ("32 1/2 x 40", "32 x 40"):
        plan = _rest(kw.resume_plan(audited, wrong=[f"{layout}:1=1"], more=[f"rag: blue: {size}"]))
        assert [(one.board, one.sheets) for one in plan.boards] == [("rag", 1), ("rag: blue", 1)]


def test_what_is_to_be_typed_is_exact() -> None:
    """A sheet that measures 815 x 1018 mm is no number of inches: it goes by millimetres."""
    metric = kw.Size(kw.Length(Fraction(815)), kw.Length(Fraction(1018)))
    audited = _limited(("rag", replace(ONE, measured=metric)))
    failed = kw.resume_plan(audited, wrong=["L1:1=1"])
    assert isinstance(failed.plan, kw.NoPlan)
    (reason,) = failed.plan.reasons
    typed = reason.split('--more "')[1].split('"')[0]
    assert typed == "815 x 1018 mm"
    assert _rest(kw.resume_plan(audited, wrong=["L1:1=1"], more=[typed])).boards[0].sheets == 1


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("32 x 40", "does not say of which board"),
        ("rag: 30 x 40", "names no size of full sheet in this plan (32 x 40 in)"),
        ("red: 32 x 40", "names no board of this plan (rag, blue, any)"),
        ("rag: 0 of 32 x 40", "is no sheet more"),
        ("rag: 1 of", "has the size '1 of', which is not a size"),
        ("rag:", "has the size '', which is empty"),
        ("any: 32 x 40", "names sheets of which the plan takes as many as it needs"),
        ("blue: 1", "does not say of which size (32 x 40 in, 24 x 40 in)"),
    ],
)
def test_sheets_that_cannot_have_been_fetched_are_refused(more: str, told: str) -> None:
    """Each slip gets a message of its own that says what would do."""
    plan = _limited(("rag", ONE), ("blue", ONE), ("any", kw.SheetSize(_size(32, 40)))).plan
    blue = plan.boards[1]
    (item,) = blue.stock
    narrow = replace(item, source=replace(item.source, width=item.source.width * 3 // 4))
    boards = (plan.boards[0], replace(blue, stock=(item, narrow)), plan.boards[2])
    with pytest.raises(kw.RefusedValue) as refusal:
        fetched_of(replace(plan, boards=boards), [more], Holdings())
    assert told in str(refusal.value)
