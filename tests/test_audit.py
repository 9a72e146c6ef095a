"""The audit passes good plans, counts them, and catches each kind of broken plan by name."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from plans import (
    GOOD_PLANS,
    INCH,
    KEEP,
    agreed,
    benched,
    cuts,
    hardboard_backs,
    left,
    mat,
    offcut,
    piece,
    searched,
    sheet,
    step,
    trimmed,
    two_sheet_sizes,
    values,
    with_a_way_back,
    with_an_offcut,
    with_board,
    with_cut,
    with_layout,
    with_piece,
)

from kerfwright.audit import CODES, Areas, audit_plan, find_faults, verify_plan
from kerfwright.errors import AuditError, InputError
from kerfwright.lengths import Length, Size
from kerfwright.plan.files import plan_from_json, plan_to_json
from kerfwright.plan.model import (
    Aim,
    BenchStep,
    Certificate,
    CertificateKind,
    Cutting,
    Edge,
    Made,
    MadeBy,
    Plan,
    PlanTrim,
    Rungs,
)
from kerfwright.plan.rungs import rungs_of

HERE = Path(__file__).parent


def codes(plan: Plan) -> set[str]:
    """Return the kinds of what the audit finds."""
    return {finding.code for finding in find_faults(plan)}


# --- good plans -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", GOOD_PLANS)
def test_good_plan_passes(name: str) -> None:
    """Nothing is found wrong with a good plan, and the audited plan holds it unchanged."""
    plan = GOOD_PLANS[name]()
    assert find_faults(plan) == ()
    assert audit_plan(plan).plan == plan


@pytest.mark.parametrize("name", GOOD_PLANS)
def test_areas_add_up(name: str) -> None:
    """Pieces, kerf and leftovers add up to the sources, on every board."""
    for facts in audit_plan(GOOD_PLANS[name]()).facts:
        areas = facts.areas
        parts = areas.pieces + areas.kerf + areas.offcut + areas.slip_sheet
        assert parts + areas.scrap + areas.trim == areas.sources


def test_facts_of_the_trimmed_sheet() -> None:
    """The facts are what a pencil gives.

    Pieces 4 x 47 x 37 = 6956. Trim strips 80 + 80 + 96 + 96 = 352. The rest of 100 x 80 = 8000 is
    kerf: 80 + 80 + 96 + 96 + 76 + 76 + 4 x 47 = 692. Settings 1, 96, 1, 76, 47, 37.
    """
    facts = audit_plan(trimmed()).facts[0]
    assert facts.areas == Areas(8000, 8000, 6956, 692, 0, 0, 0, 352)
    assert (facts.cuts, facts.settings) == (10, 6)
    assert (facts.bound, facts.sheets_bound, facts.rechecked) == (Fraction(8), 1, True)


def _rungs(**changes: int | None) -> Plan:
    """Return the plan with an offcut with its rungs, in whole inches, some of them changed.

    A quarter of the sheet is left: (1/4) to the power 1.5 is 1/8, two twentieths and a half. The
    sheet and the offcut have 376 of 1728 square inches more than the pieces, (376/1280) to the
    power 1.5 is 3.18 twentieths. Five pieces from two sources take three cuts at least.
    """
    plan = with_an_offcut()
    cuts = sum(len(layout.cuts) for layout in plan.boards[0].layouts)
    rungs = Rungs(worth=2, worth_upper_bound=3, cuts=cuts, cuts_lower_bound=3, layouts=2)
    return with_board(plan, keep=KEEP, rungs=replace(rungs, **changes))  # type: ignore[arg-type]


def test_rungs_below_the_first() -> None:
    """What remains and how many cuts it takes, as worked out with a pencil."""
    assert find_faults(_rungs()) == ()
    board = _rungs().boards[0]
    found = rungs_of(board.stock, board.ordered, board.layouts, board.aim, board.value, KEEP, INCH)
    assert found == board.rungs


def test_facts_count_copies() -> None:
    """Areas, cuts and leftovers count every copy of a layout; settings count its copies once."""
    plan = agreed()
    twice = with_layout(
        with_board(
            plan,
            ordered=(mat("A", 6, 4, 5),),
            sheets=2,
            sheets_lower_bound=2,
            value=Fraction(43),
            value_lower_bound=Fraction(43),
        ),
        copies=2,
    )
    facts = audit_plan(twice).facts[0]
    assert (facts.sheets, facts.cuts, facts.settings) == (2, 6, 2)
    assert (facts.areas.sources, facts.areas.offcut) == (160, 40)
    assert (facts.left[0].count, facts.sources[0].copies) == (2, 2)


def test_free_offcut_is_no_sheet() -> None:
    """An offcut is cut from, but is no full sheet and costs nothing."""
    facts = audit_plan(with_an_offcut()).facts[0]
    assert facts.sheets == 1
    assert (facts.areas.sources, facts.areas.sheets) == (1280 + 14 * 32, 1280)
    assert facts.bound == 1280


def test_bound_of_a_search_is_not_rechecked() -> None:
    """A bound by exhaustion passes, and the facts say that only a rerun can repeat it."""
    facts = audit_plan(searched()).facts[0]
    assert not facts.rechecked
    assert facts.bound == 0


def test_search_with_values_is_rechecked_as_far_as_they_go() -> None:
    """Values beside a search must hold on their own, and may show the whole bound."""
    plan = hardboard_backs()
    note = "Every layout of one sheet was tried."
    held = plan.boards[0].certificate.values
    both = Certificate(CertificateKind.EXHAUSTION, held, note)
    assert audit_plan(with_board(plan, certificate=both)).facts[0].rechecked
    double = Certificate(CertificateKind.EXHAUSTION, {"A back": 2 * held["A back"]}, note)
    assert codes(with_board(plan, certificate=double)) == {"value-too-high"}


def test_search_that_says_nothing_is_no_proof() -> None:
    """A bound by exhaustion must say what was searched."""
    silent = Certificate(CertificateKind.EXHAUSTION, {}, " ")
    assert "certificate-without-note" in codes(with_board(searched(), certificate=silent))


def test_verify_reads_the_file_alone(tmp_path: Path) -> None:
    """A plan verified from its file gives the same audited plan as the one in memory."""
    path = tmp_path / "plan.json"
    path.write_text(plan_to_json(hardboard_backs()), encoding="utf-8")
    assert verify_plan(path) == audit_plan(hardboard_backs())


def test_plan_in_the_agreed_keys_alone_verifies() -> None:
    """A plan.json with no more than the agreed keys passes."""
    facts = verify_plan(HERE / "data" / "plans" / "as-agreed.json").facts[0]
    assert (facts.sheets, facts.bound, facts.rechecked) == (1, Fraction("21.50"), True)


def test_a_turned_square_passes_where_it_may_be_turned() -> None:
    """A square piece may be said to be turned where turning is allowed, for it looks the same."""
    plan = with_an_offcut()
    layout = plan.boards[0].layouts[1]
    turned = replace(layout, pieces=tuple(replace(item, turned=True) for item in layout.pieces))
    assert codes(with_board(plan, layouts=(plan.boards[0].layouts[0], turned))) == set()


# --- broken plans -----------------------------------------------------------------------------

Break = Callable[[], Plan]


def _without_cut(plan: Plan, number: int) -> Plan:
    """Drop a cut and number the others anew."""
    kept = [cut for cut in plan.boards[0].layouts[0].cuts if cut.number != number]
    return with_layout(plan, cuts=tuple(replace(c, number=n) for n, c in enumerate(kept, 1)))


def _swapped(plan: Plan, one: int, other: int) -> Plan:
    """Exchange two cuts and number all anew."""
    made = list(plan.boards[0].layouts[0].cuts)
    made[one - 1], made[other - 1] = made[other - 1], made[one - 1]
    return with_layout(plan, cuts=tuple(replace(c, number=n) for n, c in enumerate(made, 1)))


def _tool(plan: Plan, **changes: object) -> Plan:
    """Change the first board's tool."""
    return with_board(plan, tool=replace(plan.boards[0].tool, **changes))  # type: ignore[arg-type]


def _stock(plan: Plan, number: int, **changes: object) -> Plan:
    """Change one row of the first board's stock."""
    stock = list(plan.boards[0].stock)
    stock[number] = replace(stock[number], **changes)  # type: ignore[arg-type]
    return with_board(plan, stock=tuple(stock))


def _kerf_ignored() -> Plan:
    """Cut the agreed plan, made for a knife, with a saw that removes one step."""
    return _tool(agreed(), kerf=1)


def _piece_in_trim() -> Plan:
    """Give the agreed plan's board a trim that its first cut does not heed."""
    return with_board(agreed(), trim=PlanTrim(1, 0, 0, 0))


def _all_copies(copies: int) -> Plan:
    """Cut the agreed layout a number of times without ordering more."""
    return with_layout(agreed(), copies=copies)


def _leftovers(*rows: object) -> Plan:
    """Replace the leftovers of the agreed layout."""
    return with_layout(agreed(), leftovers=rows)


def _two_layouts_of_one_name() -> Plan:
    layouts = tuple(replace(layout, id="L1") for layout in two_sheet_sizes().boards[0].layouts)
    return with_board(two_sheet_sizes(), layouts=layouts)


def _slip_sheet_called_scrap() -> Plan:
    """Let the order's longest mat be 14 in, so that the 14 x 4 strip is as long as it."""
    plan = with_an_offcut()
    board = plan.boards[0]
    small = replace(
        board,
        ordered=(mat("B", 2, 14, 14),),
        layouts=board.layouts[1:],
        sheets=0,
        sheets_lower_bound=0,
        value=Fraction(0),
        value_lower_bound=Fraction(0),
        certificate=values(B="0"),
    )
    return replace(plan, boards=(small,))


def _cutting(plan: Plan, **changes: object) -> Plan:
    """Return a plan with fields of its first board's order of cuts changed."""
    cutting = plan.boards[0].cutting
    assert cutting is not None
    return with_board(plan, cutting=replace(cutting, **changes))  # type: ignore[arg-type]


def _steps(*steps: BenchStep) -> Plan:
    return _cutting(benched(), steps=steps)


def _side(by: MadeBy, millimetres: str | None) -> Plan:
    """Return the benched plan with another claim about the width of its first piece."""
    error = None if millimetres is None else Length(Fraction(millimetres))
    return with_piece(benched(), 0, across=Made(by, error))


BROKEN: dict[str, tuple[Break, set[str]]] = {
    # The order of all cuts.
    "an order of a layout that there is not": (
        lambda: _steps(step(40, "L1", 1, 2), step(32, "L1", 3, 4), step(32, "L9", 1)),
        {"order-layout-unknown"},
    ),
    "an order that leaves a cut out": (
        lambda: _steps(step(40, "L1", 1, 2), step(32, "L1", 3)),
        {"order-wrong"},
    ),
    "an order that makes a cut twice": (
        lambda: _steps(step(40, "L1", 1, 2, 2), step(32, "L1", 3, 4)),
        {"order-wrong"},
    ),
    "an order before its time": (
        lambda: _steps(step(32, "L1", 3, 4), step(40, "L1", 1, 2)),
        {"order-wrong"},
    ),
    "an order with an empty step": (
        lambda: _steps(step(40, "L1", 1, 2), step(32, "L1"), step(32, "L1", 3, 4)),
        {"order-wrong"},
    ),
    "an order with another setting": (
        lambda: _steps(step(40, "L1", 1, 2), step(31, "L1", 3, 4)),
        {"order-setting"},
    ),
    "an order in pencil within the stop's reach": (
        lambda: _steps(step(40, "L1", 1, 2), step(None, "L1", 3, 4)),
        {"order-setting"},
    ),
    "a setting beyond the stop's reach": (
        lambda: _tool(benched(), reach=INCH * 19),
        {"order-setting"},
    ),
    "fewer settings said": (
        lambda: _cutting(benched(), settings=1, settings_lower_bound=1),
        {"order-count"},
    ),
    "more turns said": (lambda: _cutting(benched(), quarter_turns=4), {"order-count"}),
    "fewer lifts said": (lambda: _cutting(benched(), lifts=2), {"order-count"}),
    "fewer sides left over said": (
        lambda: _cutting(benched(), sides_left_over=1, sides_left_over_lower_bound=1),
        {"order-count"},
    ),
    "a bound above the sides left over": (
        lambda: _cutting(benched(), sides_left_over_lower_bound=3),
        {"handling-bound-too-high"},
    ),
    "a bound above the turns": (
        lambda: _cutting(benched(), quarter_turns_lower_bound=4),
        {"handling-bound-too-high"},
    ),
    "a bound above the lifts": (
        lambda: _cutting(benched(), lifts_lower_bound=4),
        {"handling-bound-too-high"},
    ),
    "more cuts with a way back said": (
        lambda: _cutting(benched(), before_no_way_back=1, before_no_way_back_upper_bound=4),
        {"order-count"},
    ),
    "a bound below the cuts with a way back": (
        lambda: _cutting(with_a_way_back(), before_no_way_back_upper_bound=0),
        {"way-back-bound-too-low"},
    ),
    "a bound above the settings": (
        lambda: _cutting(benched(), settings_lower_bound=3),
        {"settings-bound-too-high"},
    ),
    # The rungs below the first aim.
    "more worth claimed": (lambda: _rungs(worth=3), {"wrong-worth"}),
    "worth bounded too low": (lambda: _rungs(worth_upper_bound=2), {"worth-bound-too-low"}),
    "fewer cuts claimed": (lambda: _rungs(cuts=1), {"wrong-ease"}),
    "more layouts claimed": (lambda: _rungs(layouts=3), {"wrong-ease"}),
    "cuts bounded too high": (lambda: _rungs(cuts_lower_bound=4), {"cuts-bound-too-high"}),
    # What sides come from.
    "a set side said to be left over": (
        lambda: _side(MadeBy.LEFT_OVER, "207/80"),
        {"side-made-by"},
    ),
    "a side said to be exact": (lambda: _side(MadeBy.STOP, "0"), {"side-error"}),
    "a side said to be less sure than it is": (lambda: _side(MadeBy.STOP, None), {"side-error"}),
    "a better rule": (lambda: _tool(benched(), rule_class="I"), {"side-error"}),
    # The replay.
    "cut numbers with a gap": (lambda: with_cut(agreed(), 3, number=4), {"cut-number"}),
    "a cut beyond the sheet": (lambda: with_cut(agreed(), 1, at=8), {"cut-touches-nothing"}),
    "a knife cut along an edge": (
        lambda: with_cut(agreed(), 1, at=0, setting=0),
        {"cut-touches-nothing"},
    ),
    "a cut that ends short": (lambda: with_cut(agreed(), 1, end=9), {"cut-not-edge-to-edge"}),
    "a cut that runs over": (lambda: with_cut(agreed(), 3, end=9), {"cut-not-edge-to-edge"}),
    "a cut across two parts": (lambda: with_cut(agreed(), 2, end=8), {"cut-through-several"}),
    "crosscut before the long cut": (
        lambda: _swapped(agreed(), 1, 2),
        {"cut-not-edge-to-edge"},
    ),
    "the same cut twice": (
        lambda: with_layout(
            agreed(),
            cuts=(
                *agreed().boards[0].layouts[0].cuts,
                replace(agreed().boards[0].layouts[0].cuts[0], number=4),
            ),
        ),
        {"cut-touches-nothing"},
    ),
    "a setting one off": (lambda: with_cut(agreed(), 1, setting=3), {"wrong-setting"}),
    "a setting that forgets the kerf": (
        # From the right edge at 100 - 2 + 1 = 99 it would be 0 to the strip; 98 - 2 = 96 is right.
        lambda: with_cut(trimmed(), 2, setting=97),
        {"wrong-setting"},
    ),
    "a setting from the other edge": (
        lambda: with_cut(two_sheet_sizes(), 1, at=20, stop=Edge.RIGHT, setting=19),
        {"wrong-setting"},
    ),
    "a stop beside the cut": (lambda: with_cut(agreed(), 1, stop=Edge.TOP), {"wrong-stop"}),
    # The tool.
    "a cut longer than the tool": (lambda: _tool(agreed(), longest_cut=9), {"cut-too-long"}),
    "a strip too narrow": (
        # No piece of 20 x 30 can be cut, so that no plan costs as little as this one.
        lambda: _tool(two_sheet_sizes(), narrowest_strip=25),
        {"strip-too-narrow", "bound-above-value"},
    ),
    "a narrow strip that is no trim": (
        # The 2 in strip right of two turned pieces; nothing is trimmed from this board.
        lambda: _tool(two_sheet_sizes(), narrowest_strip=3),
        {"strip-too-narrow"},
    ),
    "a trim thinner than the kerf": (
        # The first cut then removes 3 from 1 on, and the second one sets out from 4, not from 2.
        lambda: _tool(trimmed(), kerf=3),
        {"trim-under-kerf", "cut-not-edge-to-edge", "wrong-setting"},
    ),
    # The parts.
    "kerf ignored": (
        _kerf_ignored,
        # The second column is 3 wide, not 4, so its crosscut runs over; and with a kerf one sheet
        # of 9 x 11 holds a single 5 x 6, yet the certificate stays within its cost.
        {"cut-not-edge-to-edge"},
    ),
    "a piece missing": (
        lambda: with_layout(agreed(), pieces=agreed().boards[0].layouts[0].pieces[:2]),
        {"too-few-pieces", "part-not-listed", "areas-differ"},
    ),
    "a piece too many": (
        lambda: with_layout(
            agreed(),
            pieces=(*agreed().boards[0].layouts[0].pieces, piece("A", 4, 5, 4, 5)),
            leftovers=(),
        ),
        {"too-many-pieces"},
    ),
    "a piece listed twice": (
        lambda: with_piece(agreed(), 1, y=0),
        {"piece-not-cut", "part-not-listed", "overlap"},
    ),
    "a layout cut twice": (
        lambda: _all_copies(2),
        {"too-many-pieces", "wrong-sheets", "wrong-value"},
    ),
    "a layout cut no time": (
        lambda: _all_copies(0),
        {"wrong-copies", "too-few-pieces", "wrong-sheets", "wrong-value"},
    ),
    "a piece moved off its part": (
        lambda: with_piece(agreed(), 2, x=3),
        {"piece-not-cut", "part-not-listed", "overlap"},
    ),
    "a piece off the sheet": (
        lambda: with_piece(agreed(), 2, x=5),
        {"piece-not-cut", "part-not-listed", "outside-source"},
    ),
    "a piece without area": (
        lambda: with_piece(agreed(), 2, width=0),
        {"piece-not-cut", "part-not-listed", "no-area", "wrong-size", "areas-differ"},
    ),
    "a label that nobody ordered": (
        lambda: with_piece(agreed(), 0, label="Z"),
        {"label-unknown", "too-few-pieces"},
    ),
    "a label ordered twice": (
        lambda: with_board(agreed(), ordered=(mat("A", 3, 4, 5), mat("A", 3, 4, 5))),
        # 6 are then to be valued: 32.25, and the next sum of sheets is 43, above the plan's 21.50.
        {"label-twice", "bound-above-value"},
    ),
    "a piece of another size": (
        lambda: with_board(agreed(), ordered=(mat("A", 3, 4, 4),)),
        # 4 x 4 still fits twice either way: 8 x 10 holds four, and the bound stands.
        {"wrong-size"},
    ),
    "said to be turned and is not": (lambda: with_piece(agreed(), 0, turned=True), {"wrong-size"}),
    "turned on a board with a direction": (
        lambda: with_board(two_sheet_sizes(), no_turn=True),
        # Unturned, the 32 x 40 holds one: 10 for 20; the 40 x 60 still four. The bound stands.
        {"turned"},
    ),
    "turned against the order": (
        lambda: with_board(two_sheet_sizes(), ordered=(mat("D", 6, 20, 30, turn=False),)),
        {"turned"},
    ),
    # The place.
    "a piece in the trim": (_piece_in_trim, {"piece-in-trim"}),
    "a leftover too large": (
        lambda: _leftovers(left("offcut", 3, 5, 5, 5)),
        {"leftover-not-left", "part-not-listed", "overlap", "areas-differ"},
    ),
    "a leftover not listed": (_leftovers, {"part-not-listed", "areas-differ"}),
    "a leftover from nowhere": (
        lambda: _leftovers(left("offcut", 4, 5, 4, 5), left("offcut", 8, 0, 2, 10)),
        {"leftover-not-left", "outside-source", "areas-differ"},
    ),
    "an offcut called scrap": (
        lambda: _leftovers(left("scrap", 4, 5, 4, 5)),
        {"wrong-leftover-kind"},
    ),
    "scrap called an offcut": (
        lambda: with_board(agreed(), keep=Size(INCH * 17, INCH * 17)),
        {"wrong-leftover-kind"},
    ),
    "a trim called scrap": (
        lambda: with_layout(
            trimmed(),
            leftovers=(
                *trimmed().boards[0].layouts[0].leftovers[:3],
                left("scrap", 2, 79, 96, 1),
            ),
        ),
        {"wrong-leftover-kind"},
    ),
    "a trim where nothing is trimmed": (
        lambda: _leftovers(left("trim", 4, 5, 4, 5)),
        {"wrong-leftover-kind"},
    ),
    "a slip sheet called scrap": (_slip_sheet_called_scrap, {"wrong-leftover-kind"}),
    # The totals.
    "a sheet too few counted": (
        lambda: with_board(hardboard_backs(), sheets=1, sheets_lower_bound=1),
        {"wrong-sheets"},
    ),
    "a cost too low": (
        lambda: with_board(agreed(), value=Fraction(20)),
        {"wrong-value", "wrong-proof", "bound-above-value"},
    ),
    "an area that is not the sheets'": (
        lambda: with_board(
            with_an_offcut(), value=Fraction(1281), value_lower_bound=Fraction(1281)
        ),
        {"wrong-value", "bound-too-high"},
    ),
    "aim area though all is priced": (
        lambda: with_board(agreed(), aim=Aim.AREA),
        # By area, 3 x 43/8 rounds up to the sheet's 80, and the plan claims 21.50.
        {"wrong-aim", "wrong-value", "bound-above-value"},
    ),
    "aim cost without a price": (
        lambda: with_board(with_an_offcut(), aim=Aim.COST),
        {"wrong-aim", "wrong-value", "value-too-high"},
    ),
    "a sheet that is not in the stock": (
        lambda: with_board(two_sheet_sizes(), stock=two_sheet_sizes().boards[0].stock[1:]),
        # One 40 x 60 in stock alone cannot reach the 60 - 6 that the values ask for.
        {"not-in-stock", "values-impossible"},
    ),
    "an offcut with another name": (
        lambda: _stock(with_an_offcut(), 1, source=offcut("8", 14, 32)),
        {"not-in-stock"},
    ),
    "an offcut of another size": (
        lambda: _stock(with_an_offcut(), 1, source=offcut("7", 32, 14)),
        {"not-in-stock"},
    ),
    "one offcut used twice": (
        lambda: with_layout(
            with_board(with_an_offcut(), ordered=(mat("A", 3, 16, 20), mat("B", 4, 14, 14))),
            1,
            copies=2,
        ),
        {"offcut-used-twice"},
    ),
    "more sheets than there are": (
        lambda: _stock(two_sheet_sizes(), 1, available=0),
        # With no large sheet nothing is charged: 60, which three small ones cost.
        {"stock-exceeded", "wrong-value", "bound-above-value"},
    ),
    "more on hand than there are": (
        lambda: _stock(two_sheet_sizes(), 1, on_hand=2),
        {"wrong-on-hand"},
    ),
    "fewer on hand than none": (
        lambda: _stock(two_sheet_sizes(), 0, on_hand=-1),
        {"wrong-on-hand"},
    ),
    "two layouts of one name": (_two_layouts_of_one_name, {"layout-twice"}),
    "a board twice": (
        lambda: replace(agreed(), boards=agreed().boards * 2),
        {"board-twice"},
    ),
    "no step": (lambda: replace(agreed(), step=Length(Fraction(0))), {"step-not-positive"}),
    # The bound.
    "a value a sheet cannot pay": (
        lambda: with_board(agreed(), certificate=values(A="44/8")),
        {"value-too-high"},
    ),
    "a value for a stranger": (
        lambda: with_board(agreed(), certificate=values(A="43/8", B="1")),
        {"value-label-unknown"},
    ),
    "a negative value": (
        lambda: with_board(agreed(), certificate=values(A="-1")),
        {"value-negative"},
    ),
    "no values at all": (
        lambda: with_board(agreed(), certificate=values()),
        {"certificate-without-values"},
    ),
    "values too low for the bound": (
        lambda: with_board(two_sheet_sizes(), certificate=values(D="0")),
        # What is worth nothing asks for no sheet.
        {"bound-too-high"},
    ),
    "a bound that the certificate does not show": (
        lambda: with_board(hardboard_backs(), certificate=values(**{"A back": "0"})),
        # Worth nothing, the backs show nothing; that two sheets are needed shows by area alone:
        # 26 x 128 x 160 = 532480 of 385 x 769 = 296065.
        {"bound-too-high"},
    ),
    "too many sheets said to be needed": (
        lambda: with_board(agreed(), sheets_lower_bound=2),
        {"bound-above-value", "sheets-bound-too-high"},
    ),
    "a bound above the plan": (
        lambda: with_board(agreed(), value_lower_bound=Fraction(43), proved_least=False),
        {"bound-above-value", "bound-too-high"},
    ),
    "proved though the bound is not met": (
        lambda: with_board(agreed(), value_lower_bound=Fraction(16)),
        {"wrong-proof"},
    ),
    "not proved though the bound is met": (
        lambda: with_board(agreed(), proved_least=False),
        {"wrong-proof"},
    ),
    "a search that claims more than the plan": (
        lambda: with_board(searched(), sheets_lower_bound=3),
        {"bound-above-value"},
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_plan_is_caught_by_name(name: str) -> None:
    """Exactly the expected kinds of findings are made on a broken plan, and it is refused."""
    broken, expected = BROKEN[name]
    plan = broken()
    assert codes(plan) == expected
    with pytest.raises(AuditError) as caught:
        audit_plan(plan)
    assert set(caught.value.codes) == expected
    assert len(caught.value.findings) == len(caught.value.codes)


def test_a_board_with_an_order_of_cuts_counts_its_settings() -> None:
    """The settings of a board are those of its order, and so are what shows the bound."""
    facts = audit_plan(benched()).facts[0]
    assert (facts.settings, facts.settings_rechecked) == (2, True)


def test_a_bound_on_settings_that_the_distances_do_not_show_is_tried(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Two numbers are met, but 10 comes before and after 8: three settings, as no two do it all.

    From 41 x 20, cut 1 takes a piece off at 10; cut 2 a strip of 31 x 8; cut 3 a piece of 10 x 8
    off that. From the other ends they are at 31, 12 and 21, and none of these is met twice.
    """
    layout = replace(
        benched().boards[0].layouts[0],
        source=sheet(41, 20),
        pieces=(piece("A", 0, 0, 10, 20), piece("B", 10, 0, 10, 8)),
        leftovers=(left("scrap", 20, 0, 21, 8), left("scrap", 10, 8, 31, 12)),
        cuts=cuts("x 10 0 20 10 left", "y 8 10 41 8 top", "x 20 0 8 10 left"),
    )
    plan = with_board(
        benched(),
        ordered=(mat("A", 1, 10, 20), mat("B", 1, 10, 8)),
        stock=(replace(benched().boards[0].stock[0], source=sheet(41, 20)),),
        layouts=(layout,),
        value=Fraction(820),
        value_lower_bound=Fraction(820),
        certificate=values(A="200"),
        keep=None,
        cutting=Cutting(3, 3, 2, 1, (step(10, "L1", 1), step(8, "L1", 2), step(10, "L1", 3))),
    )
    assert audit_plan(plan).facts[0].settings_rechecked
    monkeypatch.setattr("kerfwright.audit.cutting.MOST_TRIED", 0)
    assert not audit_plan(plan).facts[0].settings_rechecked


def test_every_kind_of_finding_but_one_has_a_broken_plan() -> None:
    """Each name in the audit's list is met above; the one too large to build is tested apart."""
    met = set().union(*(expected for _, expected in BROKEN.values()))
    assert met == set(CODES) - {"certificate-too-large"}


def test_findings_are_sentences_that_name_board_and_culprit() -> None:
    """A finding says which board, layout and cut, in the plan's own unit."""
    found = find_faults(_tool(agreed(), longest_cut=9))
    assert [finding.sentence for finding in found] == [
        "Board 'warm white rag 4-ply', layout L1, cut 1: it is 40 in long, and the knife cuts"
        " 36 in at most."
    ]


def test_values_that_reach_the_next_sum_are_enough() -> None:
    """Lower values show the same bound where no sum of sheets lies between.

    6 x 8 = 48, and the large sheet holds 32 for its 34, so nothing is charged. The sums are 20,
    34, 40, 54, 60, ...: the first from 48 on is 54.
    """
    assert codes(with_board(two_sheet_sizes(), certificate=values(D="8"))) == set()


def test_each_limited_sheet_is_charged_for_what_it_may_save() -> None:
    """At 12 each the small sheet is overpaid, 24 for 20; at 10 the large one costs 6 of charges."""
    assert codes(with_board(two_sheet_sizes(), certificate=values(D="12"))) == {"value-too-high"}
    assert audit_plan(two_sheet_sizes()).facts[0].bound == 54


def test_certificate_too_large_to_recheck_is_said_so() -> None:
    """A grid with a hundred million cut positions is refused, not waited for.

    A piece of 1 x 1 step puts a cut position at every step of a 10000 x 10000 sheet.
    """
    plan = with_board(
        agreed(),
        ordered=(mat("A", 3, 4, 5), mat("dot", 1, 1, 1)),
        stock=(replace(agreed().boards[0].stock[0], source=sheet(10000, 10000)),),
        certificate=values(A="1", dot="1"),
        tool=replace(agreed().boards[0].tool, longest_cut=None),
    )
    assert "certificate-too-large" in codes(plan)
    board = plan.boards[0]
    few = replace(plan, boards=(replace(board, stock=(replace(board.stock[0], available=3),)),))
    assert "certificate-too-large" not in codes(few), "what is limited may be charged by area"


def _numbers_of(layouts: object, path: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
    """Return the path of every whole number in a JSON value."""
    if isinstance(layouts, dict):
        return [p for key, item in layouts.items() for p in _numbers_of(item, (*path, key))]
    if isinstance(layouts, list):
        return [p for key, item in enumerate(layouts) for p in _numbers_of(item, (*path, key))]
    return [path] if isinstance(layouts, int) and not isinstance(layouts, bool) else []


@pytest.mark.parametrize("name", GOOD_PLANS)
@pytest.mark.parametrize("by", [-1, 1])
def test_no_number_of_a_layout_can_be_changed(name: str, by: int) -> None:
    """Each number in the layouts and the order, changed by one step, makes a plan that is refused.

    The one number that may grow is how often an unlimited source is cut; but then too many
    pieces are made.
    """
    text = plan_to_json(GOOD_PLANS[name]())
    for part in ("layouts", "ordered"):
        for path in _numbers_of(json.loads(text)["boards"][0][part]):
            changed = json.loads(text)
            held = changed["boards"][0][part]
            for key in path[:-1]:
                held = held[key]
            held[path[-1]] += by
            with pytest.raises((AuditError, InputError)):
                audit_plan(plan_from_json(json.dumps(changed)))
