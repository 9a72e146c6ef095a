"""What is told of a plan: true of it, whatever it is like, and the same wherever it is shown."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import drawn_plans as made
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text
from plans import benched, with_board

import kerfwright as kw
from kerfwright.cli import summary
from kerfwright.drawings import draw_cover
from kerfwright.plan.model import AsPlanned, SourceKind, StockItem
from kerfwright.telling import (
    UNBROKEN,
    Told,
    cautions,
    money,
    often,
    read_as_one,
    source_size,
    squaring,
    stopped,
    tell,
)


def facts_of(audited: kw.AuditedPlan, **changes: object) -> kw.BoardFacts:
    """Return the only board's facts, changed."""
    return replace(audited.facts[0], **changes)  # type: ignore[arg-type]


def board_of(audited: kw.AuditedPlan, **changes: object) -> kw.BoardPlan:
    """Return the only board's plan, changed."""
    return replace(audited.plan.boards[0], **changes)  # type: ignore[arg-type]


def told(audited: kw.AuditedPlan, facts: kw.BoardFacts, **changes: object) -> Told:
    """Return what is told of the only board, the board's plan being changed."""
    plan = replace(audited.plan, boards=(board_of(audited, **changes),))
    return tell(kw.AuditedPlan(plan, (facts,)))[0]


def proof(audited: kw.AuditedPlan, **changes: object) -> str:
    """Return the first sentence about the proof of the changed board."""
    return told(audited, facts_of(audited), **changes).proof[0]


@pytest.fixture
def usual() -> kw.AuditedPlan:
    """Give a board of three layouts, four sheets and an offcut, counted but not audited."""
    return made.audited(made.plan(made.usual().boards[0]))


# --- what to take, and what it costs ------------------------------------------------------------


def test_sheets_are_counted_and_offcuts_go_by_their_pencil_marks(usual: kw.AuditedPlan) -> None:
    """Sheets are told by number and size, an offcut by the id pencilled on it and its size."""
    assert told(usual, facts_of(usual)).take == (
        "4 full sheets, 32 x 40 in",
        "offcut 7, 14 x 32 in",
    )


def test_one_sheet_is_a_sheet(small_audited: kw.AuditedPlan) -> None:
    """One sheet is not one sheets."""
    assert tell(small_audited)[0].take == ("1 full sheet, 32 x 40 in",)


@pytest.mark.parametrize(
    ("on_hand", "told_of_it"),
    [
        (None, ""),
        (0, ": 4 to buy"),
        (3, ": 3 on hand, 1 to buy"),
        (4, ": 4 on hand"),
        (9, ": 4 on hand"),
    ],
)
def test_what_is_on_hand_need_not_be_bought(
    usual: kw.AuditedPlan, on_hand: int | None, told_of_it: str
) -> None:
    """Where it is known how many sheets stand on the rack, the rest are to be bought."""
    taken = usual.facts[0].sources[0].source
    stock = tuple(
        replace(item, on_hand=on_hand) if item.source == taken else item
        for item in usual.plan.boards[0].stock
    )
    take = told(usual, facts_of(usual), stock=stock).take
    assert take == (f"4 full sheets, 32 x 40 in{told_of_it}", "offcut 7, 14 x 32 in")


def test_a_measured_sheet_goes_by_the_size_that_it_is_sold_in() -> None:
    """Sold as 32 x 40 it measures 40 1/2 high: nobody finds it on the rack by that alone."""
    one = tell(kw.audit_plan(benched()))[0]
    assert one.take == ("1 full sheet, 32 x 40 in, measured 32 x 40 1/2",)
    assert one.made[0][0] == "once"  # the board has no other source
    exact = with_board(benched(), stock=(replace(benched().boards[0].stock[0], nominal=None),))
    assert source_size(benched().boards[0].layouts[0].source, exact.boards[0], exact) == (
        "32 x 40 1/2 in"
    )


TWO_EDGES = "Square a long edge of each sheet first, then the one next to it, and measure from"
NONE_OVER = "Take off no more than the sheet is over its size."
STILL = "A measured sheet must still have its measured size when its edges are square"


@pytest.mark.parametrize(
    ("measured", "trim", "begins", "holds", "lacks"),
    [
        (True, "", TWO_EDGES, STILL, "over its size"),
        (False, "", TWO_EDGES, NONE_OVER, "measured"),
        (False, "right bottom", TWO_EDGES, NONE_OVER, "measured"),
        (True, "left", "Square the top edge of each sheet first, and trim the left", STILL,
         "over its size"),
        (False, "top", "Square the left edge of each sheet first", NONE_OVER, "measured"),
    ],
)  # fmt: skip
def test_what_is_squared_is_told_so_that_the_planned_size_remains(
    measured: bool, trim: str, begins: str, holds: str, lacks: str
) -> None:
    """A measured sheet is over nothing; of the others only what is over may come off."""
    board = benched().boards[0]
    sides = replace(board.trim, **dict.fromkeys(trim.split(), 1))
    stock = board.stock if measured else (replace(board.stock[0], nominal=None),)
    (sentence,) = squaring(replace(board, trim=sides, stock=stock))
    assert sentence.startswith(begins)
    assert holds in sentence
    assert lacks not in sentence.replace("measure from", "")


def test_trims_are_to_be_square_to_each_other() -> None:
    """A trim set off a factory edge squares nothing: the second is made square to the first."""
    board = benched().boards[0]
    (told,) = squaring(replace(board, trim=replace(board.trim, left=1, top=1)))
    assert told.startswith("Trim a long edge of each sheet first, then the one next to it square")


def test_an_edge_too_long_for_the_tool_is_not_to_be_trimmed_first() -> None:
    """Where the long edges are longer than any cut, a short one is trimmed first."""
    board = benched().boards[0]
    source = board.layouts[0].source
    tool = replace(board.tool, longest_cut=max(source.width, source.height) - 1)
    trim = replace(board.trim, left=1, top=1)
    (told,) = squaring(replace(board, trim=trim, tool=tool))
    assert told.startswith("Trim a short edge of each sheet first.")


def test_nothing_is_said_of_squaring_where_nothing_is_squared() -> None:
    """Offcuts are as they are, and not every tool asks for it."""
    board = benched().boards[0]
    layout = board.layouts[0]
    parts = replace(layout, source=replace(layout.source, kind=SourceKind.OFFCUT, id="7"))
    for changed in (
        replace(board, layouts=(parts,)),
        replace(board, tool=replace(board.tool, squares=False)),
    ):
        assert not list(squaring(changed))


def test_parts_on_the_bench_may_have_edges_as_they_came() -> None:
    """Of a rest the cover says which of its parts; of its full sheets what it says of any."""
    board = benched().boards[0]
    (layout,) = board.layouts
    part = replace(layout, source=replace(layout.source, kind=SourceKind.OFFCUT, id="L1 C"))
    item = StockItem(part.source, None, 1, rough=("right", "bottom"))
    rest = replace(board, layouts=(part,), as_planned=AsPlanned(1, Fraction(1), 0))
    assert not list(squaring(rest))
    rest = replace(rest, stock=(*board.stock, item))
    (told,) = squaring(rest)
    edges = f"right and bottom of {part.id}"
    assert told.startswith(f"Some edges of parts are still as their sheet came: {edges}.")
    (_, sheets) = squaring(replace(rest, layouts=(part, layout)))
    assert sheets.startswith("Square a long edge of each sheet first")
    assert not list(squaring(replace(rest, tool=replace(board.tool, squares=False))))


def test_a_drop_out_has_no_name(usual: kw.AuditedPlan) -> None:
    """Sources without an id are counted."""
    source = replace(usual.facts[0].sources[0].source, kind=kw.SourceKind.DROP_OUT)
    facts = facts_of(usual, sources=(kw.SourceUse(source, 2),))
    assert told(usual, facts).take == ("2 drop-outs, 32 x 40 in",)


def test_cost_is_told_where_every_size_has_a_price(small_audited: kw.AuditedPlan) -> None:
    """Money is told where it was the aim, and there only."""
    facts = facts_of(small_audited)
    assert told(small_audited, facts).cost == ("21.50 for full sheets",)
    assert told(small_audited, facts, aim=kw.Aim.AREA).cost == ()


def test_money_is_shown_in_cents_and_marked_where_that_rounds() -> None:
    """A third of one is marked as rounded; a half and a whole are not."""
    amounts = (Fraction(43, 2), Fraction(7), Fraction(1, 3), Fraction(10, 3), Fraction(0))
    shown = ["21.50", "7.00", "≈0.33", "≈3.33", "0.00"]
    assert [money(amount) for amount in amounts] == shown


# --- the proof ----------------------------------------------------------------------------------


AMONG = "with straight cuts from this stock"


def test_the_claim_is_no_stronger_than_the_plan(small_audited: kw.AuditedPlan) -> None:
    """Proved or not, by cost or by area: each has a sentence that says so much and no more.

    Each says what the bound is a bound over: straight cuts, and the stock given.
    """
    area = {"aim": kw.Aim.AREA, "value": Fraction(480), "sheets": 6}
    small = small_audited
    assert proof(small) == f"No plan can cost less {AMONG}, and none can use fewer sheets."
    assert proof(small, sheets=2) == f"No plan can cost less {AMONG}."
    assert proof(small, **area) == f"No plan can use fewer {AMONG}."
    open_area = {**area, "proved_least": False, "sheets_lower_bound": 5}
    said = f"At least 5 sheets are needed {AMONG}; this plan uses 6; fewer was not ruled out."
    assert proof(small, **open_area) == said
    said = f"At least 1 sheet is needed {AMONG}; this plan uses 6; fewer was not ruled out."
    assert proof(small, **{**open_area, "sheets_lower_bound": 1}) == said
    open_cost = {"value": Fraction(43), "proved_least": False}
    said = f"At least 21.50 must be spent {AMONG}; this plan spends 43.00; less was not ruled out."
    assert proof(small, **open_cost) == said


def test_the_claim_names_the_longest_cut_where_it_matters(small_audited: kw.AuditedPlan) -> None:
    """A tool that cuts farther might do better; where all sheets are short enough it could not."""
    board, plan = small_audited.plan.boards[0], small_audited.plan
    longest = max(max(item.source.width, item.source.height) for item in board.stock)
    enough = proof(small_audited, tool=replace(board.tool, longest_cut=longest))
    assert enough == f"No plan can cost less {AMONG}, and none can use fewer sheets."
    short = proof(small_audited, tool=replace(board.tool, longest_cut=longest - 1))
    told = kw.format_length(plan.step * (longest - 1), plan.unit, with_unit=True)
    among = f"with straight cuts of at most {told} from this stock"
    assert short == f"No plan can cost less {among}, and none can use fewer sheets."


def test_sheets_of_several_sizes_are_not_counted_against_each_other(
    small_audited: kw.AuditedPlan,
) -> None:
    """Where the board comes in two sizes without prices, the claim is about area, with its unit.

    A step is 4 in: 80 and 150 steps squared are 1280 and 2400 square inches.
    """
    large = kw.StockItem(kw.Source(kw.SourceKind.SHEET, None, 10, 15), None, None)
    board = small_audited.plan.boards[0]
    free = replace(board.tool, longest_cut=None)
    area = {"aim": kw.Aim.AREA, "stock": (*board.stock, large), "tool": free}
    said = proof(small_audited, **area)
    assert said == f"No plan can use less board in full sheets {AMONG}."
    unproved = {"proved_least": False, "value": Fraction(150), "value_lower_bound": Fraction(80)}
    said = proof(small_audited, **area, **unproved)
    assert said == (
        f"At least 1,280 sq in of full sheets is needed {AMONG}; this plan uses 2,400 sq in;"
        " less was not ruled out."
    )


@pytest.mark.parametrize(
    ("unit", "step", "said"),
    [
        # 80 x 1/16 sq in are 5 exactly; 80 x 1/9 are 8 8/9, and a bound is never rounded up.
        (kw.Unit.INCH, kw.Length.of(Fraction(1, 4), kw.Unit.INCH), "5 sq in"),
        (kw.Unit.INCH, kw.Length.of(Fraction(1, 3), kw.Unit.INCH), "≈8 sq in"),
        # 80 x 0.01 m² are 0.8; 80 x 1 mm² are 0.00008.
        (kw.Unit.MILLIMETRE, kw.Length.of(100, kw.Unit.MILLIMETRE), "0.8 m²"),
        (kw.Unit.CENTIMETRE, kw.Length.of(1, kw.Unit.MILLIMETRE), "≈0 m²"),
        (kw.Unit.CENTIMETRE, kw.Length.of(10, kw.Unit.CENTIMETRE), "0.8 m²"),
    ],
)
def test_areas_are_told_in_the_plans_own_unit(
    small_audited: kw.AuditedPlan, unit: kw.Unit, step: kw.Length, said: str
) -> None:
    """Square inches or square metres, rounded down where they must be, and then marked."""
    large = kw.StockItem(kw.Source(kw.SourceKind.SHEET, None, 10, 15), None, None)
    board = board_of(
        small_audited,
        aim=kw.Aim.AREA,
        stock=(*small_audited.plan.boards[0].stock, large),
        value=Fraction(150),
        value_lower_bound=Fraction(80),
        proved_least=False,
    )
    plan = replace(small_audited.plan, boards=(board,), unit=unit, step=step)
    (shown,) = tell(kw.AuditedPlan(plan, small_audited.facts))
    assert shown.proof[0].startswith(f"At least {said} of full sheets")


def test_every_sentence_about_the_proof_is_explained(small_audited: kw.AuditedPlan) -> None:
    """docs/pages.md has a row for each sentence that can stand beside Proof."""
    page = Path(__file__).parents[1] / "docs" / "pages.md"
    rows = re.findall(r"^\| ([A-Z][^|]+\.) \|", page.read_text(encoding="utf-8"), re.MULTILINE)
    large = kw.StockItem(kw.Source(kw.SourceKind.SHEET, None, 10, 15), None, None)
    two_sizes = (*small_audited.plan.boards[0].stock, large)
    said = {
        sentence
        for aim in kw.Aim
        for proved in (True, False)
        for stock in (small_audited.plan.boards[0].stock, two_sizes)
        for bound in (1, 2)
        for sheets in (0, 2)
        for rechecked in (True, False)
        for sentence in told(
            small_audited,
            facts_of(small_audited, rechecked=rechecked),
            aim=aim,
            proved_least=proved,
            stock=stock,
            sheets=sheets,
            sheets_lower_bound=bound,
            tool=replace(small_audited.plan.boards[0].tool, longest_cut=None),
        ).proof
    }
    assert {plain(sentence) for sentence in said} == {plain(row) for row in rows}


def plain(sentence: str) -> str:
    """Return a sentence with every number as one sign, and its nouns as for several."""
    return re.sub(r"[0-9][0-9.,]*", "#", sentence).replace("# sheet is", "# sheets are")


def test_a_board_cut_from_offcuts_needs_no_proof(small_audited: kw.AuditedPlan) -> None:
    """Where no full sheet is taken, it says that none is needed, and nothing more."""
    said = told(small_audited, facts_of(small_audited), sheets=0).proof
    assert said == ("No full sheet is needed.",)


def test_the_kind_of_proof_is_told(small_audited: kw.AuditedPlan) -> None:
    """Piece values that the audit priced again are told apart from a search."""
    said = told(small_audited, facts_of(small_audited, rechecked=True)).proof[1:]
    assert said == ("The bound was rechecked from the piece values in the plan.",)
    note = "Every set of two layouts was tried."
    certificate = kw.Certificate(kw.CertificateKind.EXHAUSTION, {}, note)
    facts = facts_of(small_audited, rechecked=False)
    said = told(small_audited, facts, certificate=certificate).proof[1:]
    search = "Shown by a search that only a rerun can repeat."
    assert said == (f"{search} {note}",)
    assert told(small_audited, facts).proof[1:] == (search,)


# --- what is cut and left -----------------------------------------------------------------------


def test_each_layout_says_how_often_and_what(usual: kw.AuditedPlan) -> None:
    """A layout is told with its copies, its source, and its pieces counted by label."""
    assert told(usual, facts_of(usual)).cut == (
        "3 times, from sheet 32 x 40 in: 4 x A",
        "once, from sheet 32 x 40 in: Hall, portrait, B",
        "once, from offcut 7, 14 x 32 in: B",
    )


def test_what_is_left_is_told_with_its_layouts(usual: kw.AuditedPlan) -> None:
    """Offcuts come first, then slip sheets, each with its size and every layout that leaves it.

    L2 leaves 32 - 11 = 21 in by 40 - 16 1/8 = 23 7/8 in. A layout like it is cut twice.
    """
    again = replace(usual.plan.boards[0].layouts[1], id="L4", copies=2)
    board = board_of(usual, layouts=(*usual.plan.boards[0].layouts, again))
    audited = made.audited(made.plan(board))
    assert [text for text in tell(audited)[0].left if "waste" not in text][:3] == [
        "3 offcuts, 21 x 23 7/8 in, from L2, L4",
        "1 offcut, 14 x 17 3/8 in, from L3",
        "3 slip sheets, 12 x 16 1/8 in, from L2, L4",
    ]


def test_what_goes_to_waste_is_told_last(small_audited: kw.AuditedPlan) -> None:
    """Scrap, trim and kerf are added up and told as a share of what is taken."""

    def waste(areas: kw.Areas) -> str:
        return told(small_audited, facts_of(small_audited, areas=areas)).left[-1]

    assert tell(small_audited)[0].left == (
        "1 offcut, 16 x 20 in, from L1",
        "Nothing goes to waste.",
    )
    said = waste(kw.Areas(sources=1000, scrap=20, trim=10, kerf=5))  # 35 in 1000, to the even
    assert said == "About 4% of what is taken goes to scrap, trim and kerf."
    said = waste(kw.Areas(sources=1000, scrap=9))
    assert said == "Under 1% of what is taken goes to scrap, trim and kerf."


# --- what to heed -------------------------------------------------------------------------------


def test_a_plan_cut_short_says_so(small_audited: kw.AuditedPlan) -> None:
    """Ctrl-C and --seconds are each told; a finished plan says nothing of it."""
    said = {stop: stopped(replace(small_audited.plan, stopped=stop)) for stop in kw.Stop}
    rest = "this is the best plan found by then; another run may differ."
    assert said == {
        kw.Stop.DONE: (),
        kw.Stop.INTERRUPTED: (f"Planning was stopped by hand: {rest}",),
        kw.Stop.SECONDS: (f"Planning was stopped by the clock: {rest}",),
    }


def test_each_tool_has_its_caution(small_audited: kw.AuditedPlan) -> None:
    """A knife's caution stands where a knife cuts, a saw's where a saw does."""
    knife = small_audited.plan
    saw = replace(knife, boards=(board_of(small_audited, tool=kw.PlanTool("saw", 1, None, 0)),))
    both = replace(knife, boards=knife.boards + saw.boards)
    assert [each.in_brief[:6] for each in cautions(knife)] == ["Knife:"]
    assert [each.in_brief[:4] for each in cautions(saw)] == ["Saw:"]
    assert [each.heading for each in cautions(both)] == ["With a knife", "With a saw"]


@pytest.mark.parametrize(("kerf", "told"), [(0, True), (1, False)])
@pytest.mark.parametrize(
    ("size", "thin"),
    [("31 1/2 x 20", False), ("31 9/16 x 20", True), ("39 1/2 x 31 1/2", False)],
)
def test_who_cuts_a_thin_strip_by_hand_is_warned(
    size: str, thin: bool, kerf: int, told: bool
) -> None:
    """A strip of 1/2 in can be held beside a knife, one of 7/16 cannot; common practice."""
    mat = kw.Piece("A", kw.PieceKind.MAT, 1, kw.parse_size(size, kw.Unit.INCH), "rag")
    sheets = (kw.SheetSize(kw.parse_size("32 x 40", kw.Unit.INCH)),)
    plan = kw.make_plan(kw.Order("show", (mat,), (kw.Board("rag", sheets=sheets),)))
    assert isinstance(plan, kw.Plan)
    (board,) = plan.boards
    tool = replace(board.tool, kerf=kerf)
    plan = replace(plan, boards=(replace(board, tool=tool),))
    (caution,) = cautions(plan)
    assert any("under 1/2 in" in sentence for sentence in caution.in_full) is (thin and told)


@pytest.mark.parametrize(
    ("times", "told"), [(1, "once"), (2, "twice"), (3, "3 times"), (40, "40 times")]
)
def test_how_often_is_told_in_one_way(times: int, told: str) -> None:
    """Once, twice, 3 times, on the cover, in the cut list and on the terminal."""
    assert often(times) == told


@pytest.mark.parametrize(
    ("text", "joined"),
    [
        ("take 2 x M34, M1", "take 2_x_M34, M1"),
        ("sheet 32 × 40 in, measured ≈32 1/8 × 40", "sheet 32_×_40_in, measured ≈32_1/8_×_40"),
        ("L1 × 2: cuts 30–32; L3: cut 31", "L1_×_2:_cuts_30–32; L3:_cut_31"),
        ("cut 1 at 1214, cut 2 at ≈2435", "cut_1_at_1214, cut_2_at_≈2435"),
        ("L2 (page 4), twice", "L2 (page_4), twice"),
        ("should be 16 wide ±0.1 and 20 high", "should be 16_wide_±0.1 and 20_high"),
        ("No plan can use fewer.", "No plan can use fewer."),
    ],
)  # fmt: skip
def test_what_is_read_as_one_is_not_broken(text: str, joined: str) -> None:
    """No line ends within a size, a count or the number of a cut."""
    assert read_as_one(text).replace(UNBROKEN, "_") == joined


# --- wherever it is shown -----------------------------------------------------------------------


def test_sign_and_names_are_the_showers_own(usual: kw.AuditedPlan) -> None:
    """Type has a sign of its own for a size; labels and ids pass through what spells them."""
    (shown,) = tell(usual, times="×", spell=str.upper)
    assert shown.cut[1:] == (
        "once, from sheet 32 × 40 in: HALL, PORTRAIT, B",
        "once, from offcut 7, 14 × 32 in: B",
    )
    assert shown.cut[0].endswith(": 4 × A")


@pytest.mark.parametrize("name", ["usual", "sawn", "halves", "slivers"])
@pytest.mark.parametrize(("rechecked", "aim"), [(True, kw.Aim.COST), (False, kw.Aim.AREA)])
def test_page_and_terminal_say_the_same(name: str, rechecked: bool, aim: kw.Aim) -> None:
    """Every sentence told of a board stands on the cover and in the summary, word for word."""
    plan = made.EVERY[name]()
    boards = tuple(replace(board, aim=aim) for board in plan.boards)
    audited = made.audited(replace(plan, boards=boards, stopped=kw.Stop.SECONDS))
    facts = tuple(replace(one, rechecked=rechecked) for one in audited.facts)
    audited = kw.AuditedPlan(audited.plan, facts)
    figure = Figure(figsize=(8.5, 11))
    draw_cover(figure, audited)
    page = " ".join(text.get_text() for text in figure.findobj(Text))
    terminal = summary.summary_text(audited, ())
    for paper, plain in zip(tell(audited, times="×"), tell(audited), strict=True):
        for row in ("take", "proof", "cost", "left"):
            assert all(sentence in page for sentence in getattr(paper, row))
        for row in ("take", "proof", "cost", "cut", "left"):
            assert all(sentence in terminal for sentence in getattr(plain, row))
        # on the cover, labels stand in a row, or each on a line where one is long
        assert all(
            f"{often}: {', '.join(pieces)}" in page or f"{often}: {' '.join(pieces)}" in page
            for often, pieces in paper.made
        )
    assert all(sentence in page and sentence in terminal for sentence in stopped(audited.plan))


def test_telling_loads_nothing_that_draws_or_plans() -> None:
    """The sentences can be had without paying for matplotlib or the solver."""
    code = (
        "import sys, kerfwright.telling;"
        "print([m for m in sys.modules if m in ('matplotlib', 'ortools', 'rich')])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert done.stdout.strip() == b"[]"
