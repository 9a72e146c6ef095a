"""All board, traced to where it is now: worked by hand, and in whole numbers."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from racks import BOARD, booked, mats, measured, order, size, small_ledger

import kerfwright as kw
from kerfwright.ledger import Ledger, book_cut, check_ledger
from kerfwright.ledger.rack import (
    add_offcuts,
    add_slips,
    correct,
    count_sheets,
    find_again,
    move,
    retire_slips,
    take,
    take_sheets,
)

SQUARE_INCH = Fraction(254, 10) ** 2


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Give a ledger of five sheets and two offcuts: 6400 + 448 + 320 sq in."""
    return small_ledger(tmp_path / "ledger.db")


Row = tuple[str, str, Fraction | int, int | None, str]


def rows(ledger: Ledger, board: str = BOARD) -> list[Row]:
    """Return each item: its part, what it is, square inches, its offcut, and where it is."""
    checked = check_ledger(ledger)
    assert checked.faults == ()
    (trace,) = [trace for trace in checked.traces if trace.board == board]
    assert trace.difference == 0
    return [
        (item.part, item.what, item.area / SQUARE_INCH, item.offcut, item.now)
        for item in trace.items
    ]


def test_a_rack_is_traced_from_the_first_sheet(ledger: Ledger) -> None:
    """One job, a loss, a gift, a measure, slip sheets, a count and drop-outs: each in its place.

    7 mats of 16 x 20 are 2240 sq in. Offcut 2 (320) gives one, two sheets (2560) six; 640 are left
    as an offcut. Each window gives a drop-out of 11 x 14, 154 sq in.
    """
    job = booked(ledger, order(mats("A", 7, "16 x 20")), "/jobs/show").job
    book_cut(ledger, job.number, place="C2", drop_outs={"A": size("11 x 14")})
    correct(ledger, 1, size=size("13 x 32"))
    take(ledger, [4, 5], "given away", "to the school")
    take(ledger, [6], "lost")
    take(ledger, [7], "lost")
    find_again(ledger, 7)
    add_slips(ledger, BOARD, size("4 x 40"), 3)
    retire_slips(ledger, BOARD, size("4 x 40"), 1)
    count_sheets(ledger, BOARD, size("32 x 40"), 2)
    take_sheets(ledger, BOARD, size("32 x 40"), 1, "spoiled")
    assert rows(ledger) == [
        ("came in", "full sheets", 6400, None, ""),
        ("came in", "slip sheets", 480, None, ""),
        ("came in", "offcut", 448, 1, ""),
        ("came in", "offcut", 320, 2, ""),
        ("measured and counted", "full sheets, counted", -1280, None, ""),
        ("measured and counted", "offcut, measured or corrected", -32, 1, ""),
        ("pieces", "pieces", 320, None, ""),
        ("pieces", "pieces", 1280, None, ""),
        ("pieces", "pieces", 640, None, ""),
        *[("pieces", "drop-out, back on the rack", -154, n, "") for n in range(4, 11)],
        ("slip sheets retired", "slip sheets", 160, None, ""),
        ("gone otherwise", "full sheets", 1280, None, "spoiled"),
        ("gone otherwise", "offcut", 154, 4, "given away"),
        ("gone otherwise", "offcut", 154, 5, "given away"),
        ("gone otherwise", "offcut", 154, 6, "lost"),
        ("there now", "full sheets", 1280, None, ""),
        ("there now", "slip sheets", 320, None, ""),
        ("there now", "offcut", 416, 1, "at A1"),
        ("there now", "offcut", 640, 3, "at C2"),
        *[("there now", "offcut", 154, n, "at C2") for n in range(7, 11)],
    ]


def test_a_layout_says_what_it_became_and_where_that_is(ledger: Ledger) -> None:
    """An offcut of one job is followed into the next, and from there to the rack."""
    first = booked(ledger, order(mats("A", 3, "16 x 20")), "/jobs/first").job
    book_cut(ledger, first.number)
    second = booked(ledger, order(mats("B", 1, "16 x 20")), "/jobs/second").job
    assert second.offcuts == (3,)
    (trace,) = check_ledger(ledger).traces
    from_sheet = next(one for one in trace.layouts if one.took[0].what == "full sheets")
    assert from_sheet.became[-1].now == "on the rack, set aside for job 2"
    book_cut(ledger, second.number, place="C2")
    move(ledger, [4], "D1")
    (trace,) = check_ledger(ledger).traces
    from_sheet = next(one for one in trace.layouts if one.took[0].what == "full sheets")
    assert [(one.what, one.offcut, one.now) for one in from_sheet.became] == [
        ("pieces", None, ""),
        ("offcut", 3, "cut for job 2"),
    ]
    last = trace.layouts[-1]
    assert [(one.offcut, one.now) for one in last.took] == [(3, "")]
    assert [(one.what, one.offcut, one.now) for one in last.became] == [
        ("pieces", None, ""),
        ("offcut", 4, "at D1"),
    ]
    assert all(one.rest == 0 for one in trace.layouts)


def test_kerf_trim_and_scrap_have_their_place(tmp_path: Path) -> None:
    """A saw's kerf, a bad edge, and what is too small to keep, in millimetres."""
    ledger = Ledger(tmp_path / "ledger.db")
    ledger.begin()
    side, nothing = kw.Length(Fraction(10)), kw.Length(Fraction(0))
    sized = kw.parse_size("413 x 500", kw.Unit.MILLIMETRE)
    edges = (side, nothing, nothing, nothing)
    add_offcuts(ledger, [measured("1 x 1")])
    take(ledger, [1], "used")
    from kerfwright.ledger.rack import Measured

    add_offcuts(ledger, [Measured(BOARD, sized, kw.Grade.COTTON, edges=edges)])
    saw = kw.Board(BOARD, tool=kw.Tool("saw", kerf=kw.Length(Fraction(3))), grade=kw.Grade.COTTON)
    piece = kw.Piece(
        "A", kw.PieceKind.BACKER, 1, kw.parse_size("400 x 500", kw.Unit.MILLIMETRE), BOARD
    )
    job = booked(ledger, order(piece, board=saw), "/jobs/show").job
    book_cut(ledger, job.number)
    found = {part: area * SQUARE_INCH for part, what, area, *_ in rows(ledger) if what != "offcut"}
    assert found == {"pieces": 200_000, "kerf": 1500, "trim": 5000}


def test_a_board_that_was_corrected_leaves_one_account_for_another(ledger: Ledger) -> None:
    """Both sums are exact, and each says which offcut it was."""
    correct(ledger, 1, board="black core", size=size("13 x 32"))
    assert ("measured and counted", "offcut, measured or corrected", -448, 1, "") in rows(ledger)
    assert rows(ledger, "black core") == [
        ("measured and counted", "offcut, measured or corrected", 416, 1, ""),
        ("there now", "offcut", 416, 1, "at A1"),
    ]


def test_what_is_undone_is_traced_no_more(ledger: Ledger) -> None:
    """A job that was cut and undone leaves the trace as it was before."""
    before = rows(ledger)
    job = booked(ledger, order(mats("A", 3, "16 x 20")), "/jobs/show").job
    book_cut(ledger, job.number)
    assert len(rows(ledger)) > len(before)
    ledger.undo()
    ledger.undo()
    assert rows(ledger) == before


def test_the_numbers_are_whole(ledger: Ledger) -> None:
    """Of sizes in sixteenths in squares of a sixteenth; of thirds in what measures them."""
    assert check_ledger(ledger).balances[0].unit == SQUARE_INCH
    add_offcuts(ledger, [measured("13 1/16 x 20 1/16")])
    (balance,) = check_ledger(ledger).balances
    assert balance.unit == SQUARE_INCH / 256
    assert balance.offcuts == (448 + 320) * 256 + 209 * 321
    add_offcuts(ledger, [measured("40/3 x 20")])
    (balance,) = check_ledger(ledger).balances
    (trace,) = check_ledger(ledger).traces
    assert all((item.area / balance.unit).denominator == 1 for item in trace.items)
