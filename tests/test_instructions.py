"""What to do at the bench, in words: letters, turns, what to measure, and the spreadsheet of it."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, islice
from pathlib import Path

import drawn_plans as made
import pytest
from plans import GOOD_PLANS, INCH, agreed, benched, mat, two_sheet_sizes, with_board, with_layout

import kerfwright as kw
from kerfwright.audit import audit_plan
from kerfwright.audit.facts import AuditedPlan
from kerfwright.cells import neutral
from kerfwright.drawings.labels import Legend
from kerfwright.drawings.rows import row_words
from kerfwright.drawings.words import Measures
from kerfwright.instructions import board_runs, instructions, letters, nearest_mark
from kerfwright.lengths import Length
from kerfwright.plan.model import Edge, Plan
from kerfwright.planning import make_plan
from kerfwright.readers import load_order
from kerfwright.spreadsheet import COLUMNS, cuts_csv
from kerfwright.telling import first_off


def rows(audited: AuditedPlan) -> list[dict[str, str]]:
    """Return the rows of ``cuts.csv`` as a spreadsheet reads them."""
    text = cuts_csv(audited)
    assert text.startswith("\ufeff")
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline="")))


def test_letters_leave_out_what_looks_like_a_number() -> None:
    """There is no I and no O; after Z comes AA."""
    found = list(islice(letters(), 26))
    assert found[:9] == ["A", "B", "C", "D", "E", "F", "G", "H", "J"]
    assert not {"I", "O"} & {*found}
    assert found[24:] == ["AA", "AB"]


def test_the_benched_sheet_in_words() -> None:
    """Four 16 x 20 from a sheet: halved twice at 20, each half at 16, the rest measured.

    A is a label, so the sheet is B. It gives C and D; D gives E and scrap; C gives A1 and A2, E
    gives A3 and A4. A2 and A4 are what is left of 32 in: measure that they are 16. Cut 2 leaves the
    part as it lies.
    """
    plan = benched()
    board = plan.boards[0]
    told = instructions(board.layouts[0], board, plan)
    assert [(one.part, one.names) for one in told] == [
        ("B", ("C", "D")),
        ("D", ("E", "scrap")),
        ("C", ("A1", "A2")),
        ("E", ("A3", "A4")),
    ]
    assert [one.turn for one in told] == [1, 0, -1, -1]
    assert [one.moved for one in told] == [True, False, True, False]
    assert [one.commits for one in told] == [True, False, False, False]
    checks = [(check.name, check.steps, check.is_width) for one in told for check in one.checks]
    assert checks == [("A2", 32, True), ("A4", 32, True)]


def test_no_numbered_piece_is_named_like_another_label() -> None:
    """Beside a label A2 the pieces of A are A-1 and so on; beside A-2 as well, A--1."""
    plan = benched()
    (board,) = plan.boards
    for others, names in ((("A2",), "A-1 A-2 A-3 A-4"), (("A2", "A-2"), "A--1 A--2 A--3 A--4")):
        more = tuple(replace(board.ordered[0], label=label) for label in others)
        beside = replace(plan, boards=(replace(board, ordered=(*board.ordered, *more)),))
        told = instructions(board.layouts[0], board, beside)
        assert [name for one in told[2:] for name in one.names] == names.split()


def test_a_piece_labelled_like_a_leftover_is_numbered() -> None:
    """A single piece labelled scrap, Offcut or trim is not named as what is thrown away is."""
    for label, name in (("scrap", "scrap1"), ("Offcut", "Offcut1"), ("slip sheet", "slip sheet 1")):
        whole = made.plan(made.board(made.layout(made.X(256, made.P(label), made.W()), 512, 640)))
        (told,) = instructions(whole.boards[0].layouts[0], whole.boards[0], whole)
        assert told.names == (name, "scrap")


def test_a_sheet_can_change_course_while_another_layout_begins_alike() -> None:
    """Two layouts that share their first cut part ways only at the second."""
    plan = agreed()
    first = plan.boards[0].layouts[0]
    other = replace(first, id="L2", cuts=(first.cuts[0], first.cuts[2]))
    board = replace(plan.boards[0], layouts=(first, other))
    assert [one.commits for one in instructions(first, board, plan)] == [False, True, False]


def test_runs_gather_what_is_cut_at_one_setting_over_all_layouts() -> None:
    """The board's order is told setting by setting."""
    plan = benched()
    (board,) = plan.boards
    runs = board_runs(board, plan)
    assert [(run.setting, [numbers for _, numbers in run.cuts]) for run in runs] == [
        (40, [(1, 2)]),
        (32, [(3, 4)]),
    ]


def test_a_plan_without_an_order_is_cut_layout_by_layout() -> None:
    """An older plan has no order over its layouts; its settings are told all the same."""
    plan = two_sheet_sizes()
    (board,) = plan.boards
    runs = board_runs(board, plan)
    assert [run.setting for run in runs] == [20, 30, 2, 20]


def test_what_the_stop_does_not_reach_is_marked_in_pencil() -> None:
    """A reach of 19 in leaves the cuts at 20 to the pencil, with no setting."""
    plan = benched()
    tool = replace(plan.boards[0].tool, reach=INCH * 19)
    cutting = plan.boards[0].cutting
    assert cutting is not None
    steps = (replace(cutting.steps[0], setting=None), cutting.steps[1])
    changed = with_board(
        plan,
        tool=tool,
        cutting=replace(cutting, steps=steps, settings=1, settings_lower_bound=1),
    )
    told = rows(audit_plan(changed))
    assert [row["set by"] for row in told] == ["pencil marks", "pencil marks", "stop", "stop"]
    assert [row["stop moves"] for row in told] == ["no", "no", "yes", "no"]


def test_a_cut_by_eye_moves_no_stop(tmp_path: Path) -> None:
    """A trim of half the rule's first mark is neither set nor marked: rows and runs say so.

    With cuts beyond the reach of the stop before it, it is a run of its own all the same.
    """
    path = tmp_path / "eye.toml"
    path.write_text(
        'unit = "in"\nrule = "1/8 in"\n[[tool]]\nname = "t"\nkind = "bench cutter"\nreach = 24\n'
        '[[board]]\nname = "rag"\ntool = "t"\ntrim = { left = "1/16", top = "1/16" }\n'
        'sheets = [{ size = "32 x 40", measured = "32 1/16 x 40 3/32" }]\n'
        '[[mat]]\nlabel = "N"\nqty = 1\nsize = "31 x 26"\nboard = "rag"\n',
        encoding="utf-8",
    )
    plan = make_plan(load_order(path))
    assert isinstance(plan, Plan)
    (board,) = plan.boards
    told = rows(audit_plan(plan))
    by_eye = [row for row in told if row["set by"] == "eye"]
    assert {(row["setting"], row["setting on the rule"]) for row in by_eye} == {
        ("0.0625", "under 1/8 in")
    }
    assert {row["set by"] for row in told} == {"eye", "pencil marks"}
    assert {row["stop moves"] for row in told} == {"no"}
    runs = board_runs(board, plan)
    assert {run.setting for run in runs} == {None}
    assert [run.by_eye for run in runs] == [
        kind == "eye" for kind, _ in groupby(row["set by"] for row in told)
    ]
    assert {True, False} == {run.by_eye for run in runs}
    for one in instructions(board.layouts[0], board, plan):
        assert not one.by_stop
        assert not one.moved
        assert one.by_eye is not one.is_marked


REACHED = """
[[tool]]
name = "t"
longest_cut = 32
reach = 10
narrowest_strip = 1
squares = true
[[board]]
name = "w"
tool = "t"
[[mat]]
label = "a"
qty = 6
size = "12 x 16"
board = "w"
[[mat]]
label = "b"
qty = 8
size = "9 x 11"
board = "w"
[[mat]]
label = "c"
qty = 11
size = "5 x 7"
board = "w"
"""


def test_the_stop_stands_while_cuts_are_marked_in_pencil(tmp_path: Path) -> None:
    """Pencil cuts lie between cuts at 9, and the stop is set to it once: so say file and rows.

    Nothing is measured from a far edge as it came, though the stop would reach from there: a cut
    beyond the reach is marked in pencil from the squared edge.
    """
    path = tmp_path / "reached.toml"
    path.write_text(REACHED, encoding="utf-8")
    plan = make_plan(load_order(path))
    assert isinstance(plan, Plan)
    (board,) = plan.boards
    assert board.cutting is not None
    told = rows(audit_plan(plan))
    stops = [row["setting"] for row in told if row["set by"] == "stop"]
    moves = [row["setting"] for row in told if row["stop moves"] == "yes"]
    assert moves == [setting for setting, _ in groupby(stops)]
    assert len(moves) == board.cutting.settings
    runs = board_runs(board, plan)
    again = [two for one, mark, two in zip(runs, runs[1:], runs[2:], strict=False)
             if mark.setting is None and one.setting == two.setting]  # fmt: skip
    assert again
    assert not any(run.moves for run in again)
    far = {Edge.RIGHT: 32, Edge.BOTTOM: 40}
    for layout in board.layouts:
        for one in instructions(layout, board, plan):
            assert one.by_stop or not one.moved
            end = plan.step * (one.cut.at + one.cut.setting)
            assert end != INCH * far.get(one.cut.stop, 0)
    assert "pencil marks" in {row["set by"] for row in told}


def _from_offcut(*, squares: bool, **edges: object) -> Plan:
    """Return the plan of a 15 x 20 mat from a 20 x 33 offcut whose edges are bad."""
    size = kw.Size(INCH * 20, INCH * 33)
    tool = kw.Tool("cutter", kind=kw.ToolKind.BENCH_CUTTER, longest_cut=INCH * 40, squares=squares)
    sheets = (kw.SheetSize(kw.Size(INCH * 32, INCH * 40)),)
    mats = (kw.Piece("A", kw.PieceKind.MAT, 1, kw.Size(INCH * 15, INCH * 20), "rag"),)
    offcuts = (kw.Offcut("rag", size, "7", **edges),)  # type: ignore[arg-type]
    plan = make_plan(kw.Order("show", mats, (kw.Board("rag", tool, sheets),), offcuts=offcuts))
    assert isinstance(plan, Plan)
    assert plan.boards[0].sheets == 0
    return plan


HALF = INCH * Fraction(1, 2)
BAD_EDGES = [
    ({"left": "top"}, {"left": "top"}),
    ({"left": "bottom", "top": "left"}, {"left": "bottom", "top": "left"}),
    ({"left": "top", "bottom": "left"}, {"left": "top", "bottom": "left"}),
    ({"left": "", "top": "left", "bottom": "left"}, {"left": "", "top": "left", "bottom": "left"}),
    ({"left": "", "top": "left", "right": "top", "bottom": "left"},
     {"left": "", "right": "", "top": "left", "bottom": "left"}),
]  # fmt: skip


@pytest.mark.parametrize("squares", [True, False])
@pytest.mark.parametrize(("by_cuts", "at_first"), BAD_EDGES)
def test_a_bad_edge_is_made_square_to_a_good_one_next_to_it(
    squares: bool, by_cuts: dict[str, str], at_first: dict[str, str]
) -> None:
    """The first to a good edge next to it, or else straight; the next ones to what is good then.

    So say rows and spreadsheet where cuts take it off, and the words where it comes off first.
    """
    bad = kw.Trim(**dict.fromkeys(by_cuts, HALF))
    plan = _from_offcut(squares=squares, untrimmed=bad)
    board = plan.boards[0]
    (layout,) = board.layouts
    told = rows(audit_plan(plan))
    words = row_words(layout, board, Measures(plan), Legend(1.0, ()))
    heeded = [row["heed"] for row in told if row["heed"]]
    said = [one for row in words for one in row.before if one.startswith("Make it")]
    if not squares:
        assert (heeded, said) == ([], [])
    for other in by_cuts.values() if squares else ():
        heed = f"square to the {other} edge" if other else "make it straight"
        assert heed in heeded
        assert any(heed.lower() in one.lower() for one in said)
    assert len(said) == len(heeded)

    plan = _from_offcut(squares=squares, trim=bad)
    (first,) = first_off(plan.boards[0].layouts[0], plan.boards[0], plan)
    for edge, square in at_first.items():
        straight = "straight " if squares and not square else ""
        to = f" square to the {square} edge" if squares and square else ""
        assert f"1/2 in {straight}off its {edge} edge{to} (" in first


@pytest.mark.parametrize(
    ("rough", "heed"), [((), "square to the bottom edge"), (("bottom",), "make it straight")]
)
def test_nothing_is_squared_to_an_edge_as_the_sheet_came(rough: tuple[str, ...], heed: str) -> None:
    """Left and top edges are bad: the left one is squared to the bottom one, unless that is raw."""
    bad = kw.Trim(left=HALF, top=HALF)
    told = rows(audit_plan(_from_offcut(squares=True, untrimmed=bad, rough=rough)))
    assert [row["heed"] for row in told if row["heed"]] == [heed, "square to the left edge"]


def test_the_spreadsheet_says_which_side_to_measure() -> None:
    """A2 and A4 are what is left of 32 in across."""
    told = [row["measure"] for row in rows(audit_plan(benched())) if row["measure"]]
    assert told == ["A2: should be 16 wide", "A4: should be 16 wide"]


def test_the_nearest_mark_comes_with_what_is_beyond_it() -> None:
    """On a rule of whole inches 20 1/2 in reads 21, which is half an inch too long."""
    plan = replace(benched(), rule=INCH)
    mark, beyond = nearest_mark(41, plan)
    assert (str(mark), str(Length(-beyond.mm))) == ("21 in", "1/2 in")


@pytest.mark.parametrize("name", GOOD_PLANS)
def test_every_cut_has_a_row(name: str) -> None:
    """The spreadsheet has each cut of each layout once, in a table with every column filled in."""
    plan = GOOD_PLANS[name]()
    told = rows(audit_plan(plan))
    assert all({*row} == {*COLUMNS} for row in told)
    assert [row["place"] for row in told] == [str(n) for n in range(1, len(told) + 1)]
    cuts = [(row["board"], row["layout"], row["cut"]) for row in told]
    assert sorted(cuts) == sorted(
        (board.board, layout.id, str(cut.number))
        for board in plan.boards
        for layout in board.layouts
        for cut in layout.cuts
    )


def test_numbers_in_the_spreadsheet_are_numbers() -> None:
    """Lengths are plain decimals, of which a spreadsheet makes no date; the rule's has a unit."""
    row = rows(audit_plan(benched()))[0]
    assert (row["part height"], row["setting"], row["setting on the rule"]) == (
        "40.5",
        "20",
        "20 in",
    )


@pytest.mark.parametrize("label", ["=1+1", "+1", "-1", "@sum", "=cmd|' /C calc'!A0", " =1"])
def test_a_label_cannot_be_a_formula(label: str) -> None:
    """A text that begins like a formula is given an apostrophe, wherever the label stands first."""
    assert neutral(label) == f"'{label}"
    plan = _labelled(label)
    board = with_board(plan, board=label)
    for row in rows(audit_plan(board)):
        assert row["board"] == f"'{label}"
        assert not row["gives"].lstrip().startswith(("=", "+", "-", "@"))


def _labelled(label: str) -> Plan:
    plan = agreed()
    layout = plan.boards[0].layouts[0]
    pieces = tuple(replace(piece, label=label) for piece in layout.pieces)
    certificate = replace(plan.boards[0].certificate, values={label: Fraction(0)})
    plan = with_board(plan, ordered=(mat(label, 3, 4, 5),), certificate=certificate)
    plan = with_board(plan, proved_least=False, value_lower_bound=Fraction(0), sheets_lower_bound=0)
    return with_layout(plan, pieces=pieces)


def test_the_spreadsheet_says_how_exact_each_piece_is() -> None:
    """Of the four A two are set by the stop, 207/160 mm or 0.05094 in; two are off by double."""
    told = [row["off at worst"] for row in rows(audit_plan(benched()))]
    one = "A1: 0.051 wide, 0.051 high; A2: 0.102 wide, 0.051 high"
    other = "A3: 0.051 wide, 0.051 high; A4: 0.102 wide, 0.051 high"
    assert told == ["", "", one, other]
