"""Drop-outs come out of mats, and slip sheets wear by the windows cut over them."""

from __future__ import annotations

import shutil
import sqlite3
from fractions import Fraction
from pathlib import Path

import pytest
from racks import BOARD, booked, mats, measured, order, planned, size, small_ledger

import kerfwright as kw
from kerfwright.ledger import DropOut, Ledger, book_cut, check_ledger, reserved, set_aside
from kerfwright.ledger.rack import (
    add_offcuts,
    add_slips,
    count_slips,
    retire_slips,
    set_slip_windows,
    take,
)
from kerfwright.ledger.slips import scored, serves, serving

SQUARE_INCH = Fraction(254, 10) ** 2


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Give a ledger of five sheets and two offcuts."""
    return small_ledger(tmp_path / "ledger.db")


def whole(ledger: Ledger) -> None:
    """See that the check finds nothing wrong, and the sums are exact."""
    checked = check_ledger(ledger)
    assert checked.faults == ()
    assert all(one.difference == 0 for one in checked.balances)


def account(ledger: Ledger, what: str) -> Fraction:
    """Return what the board's account says, in square inches."""
    return ledger.state().accounts[BOARD].get(what, Fraction(0)) / SQUARE_INCH


def cut_job(ledger: Ledger, qty: int = 3, text: str = "16 x 20", **how: object) -> int:
    """Plan and cut mats A, and return the job."""
    job = booked(ledger, order(mats("A", qty, text)), f"/jobs/{text}").job.number
    book_cut(ledger, job, **how)  # type: ignore[arg-type]
    return job


def test_a_drop_out_leaves_the_mat_it_was_part_of(ledger: Ledger) -> None:
    """Three mats of 320 sq in, less three drop-outs of 154: 498 sq in of pieces are left."""
    before = sum(area for _, area in check_ledger(ledger).balances[0].came)
    cut_job(ledger, drop_outs={"A": size("11 x 14")})
    assert account(ledger, "pieces") == 3 * 320 - 3 * 154
    assert account(ledger, "drop-out") == 0  # nothing came in
    balance = check_ledger(ledger).balances[0]
    assert sum(area for _, area in balance.came) == before
    kept = [one for one in ledger.state().offcuts.values() if one.came_by == "drop-out"]
    assert [(one.size, one.board) for one in kept] == [(size("11 x 14"), BOARD)] * 3
    (told,) = {str(e.told()) for e in ledger.events() if e.event == "drop-out"}
    assert told == "{'kind': 'mat', 'label': 'A'}"
    whole(ledger)


def test_the_next_plan_uses_a_drop_out(ledger: Ledger) -> None:
    """A mat of 11 x 14 in comes from the window of the job before; no sheet is opened."""
    take(ledger, [1], "given away")
    cut_job(ledger, 1, drop_outs={"A": size("11 x 14")})
    (number,) = (one.number for one in ledger.state().offcuts.values() if one.here)
    job = booked(ledger, order(mats("B", 1, "11 x 14")), "/jobs/next").job
    assert job.offcuts == (number,)
    assert job.sheets == ()
    book_cut(ledger, job.number)
    whole(ledger)


def both(ledger: Ledger, name: str = "/jobs/both") -> int:
    """Plan mats A and backers B of the same board, and return the job."""
    backer = kw.Piece("B", kw.PieceKind.BACKER, 2, size("16 x 20"), BOARD)
    return booked(ledger, order(mats("A", 2, "16 x 20"), backer), name).job.number


REFUSED = {
    "a backer": ({"B": DropOut(size("11 x 14"))}, "'B' of job 1 is a backer: no window"),
    "no piece": ({"Z": DropOut(size("11 x 14"))}, "job 1 has no piece 'Z'"),
    "too large": ({"A": DropOut(size("16 x 16"))}, "16 x 16 in does not come from the mat 'A'"),
    "too long": ({"A": DropOut(size("20 x 11"))}, "does not come from the mat 'A' .16 x 20 in."),
    "too many": ({"A": DropOut(size("11 x 14"), 3)}, "job 1 has 2 mats 'A', so that 3 drop-outs"),
    "tiny": ({"A": DropOut(size("1/4 x 14"))}, "too small for a drop-out"),
}


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("what", REFUSED)
def test_what_no_mat_gave_is_refused(what: str, late: bool, ledger: Ledger) -> None:
    """With the cut or after it; nothing is recorded."""
    wanted, told = REFUSED[what]
    job = both(ledger)
    if late:
        book_cut(ledger, job)
    before = ledger.events()
    with pytest.raises(kw.LedgerError, match=told):
        book_cut(ledger, job, drop_outs=wanted)
    assert ledger.events() == before


def test_drop_outs_can_be_told_later_and_only_once(ledger: Ledger) -> None:
    """Two of three at first, then all: one more; the same again records nothing."""
    job = cut_job(ledger)
    assert book_cut(ledger, job).entry.number == 0
    first = book_cut(ledger, job, drop_outs={"A": DropOut(size("11 x 14"), 2)})
    assert len(first.entry.offcuts) == 2
    more = book_cut(ledger, job, drop_outs={"A": size("11 x 14")})
    assert len(more.entry.offcuts) == 1
    assert book_cut(ledger, job, drop_outs={"A": size("11 x 14")}).entry.number == 0
    whole(ledger)


def test_a_drop_out_is_no_better_known_than_its_mat(ledger: Ledger) -> None:
    """A mat of an offcut whose grade nobody knows has a drop-out whose grade nobody knows."""
    take(ledger, [1, 2], "given away")
    add_offcuts(ledger, [measured("16 x 20", grade=None)])
    pulp = kw.Board(BOARD, grade=kw.Grade.WOOD_PULP)
    job = booked(ledger, order(mats("A", 1, "16 x 20"), board=pulp), "/jobs/pulp").job
    assert job.offcuts == (3,)
    book_cut(ledger, job.number, drop_outs={"A": size("11 x 14")})
    assert ledger.state().offcuts[4].grade is None
    whole(ledger)


def test_a_drop_out_that_no_mat_gave_is_found(ledger: Ledger) -> None:
    """An entry put in past the rules, its digests right, is found by the check."""
    from kerfwright.ledger.events import Event, sized

    job = cut_job(ledger, 1, drop_outs={"A": size("11 x 14")})
    forged = Event(
        "drop-out", job=job, offcut=9, board=BOARD, details='{"kind": "mat", "label": "A"}'
    )
    ledger.record(lambda _: (sized(forged, size("15 x 21")),))
    faults = check_ledger(ledger).faults
    assert any("no mat of job 1 has room for this drop-out" in fault for fault in faults)
    assert any("2 drop-outs of 1 mats 'A'" in fault for fault in faults)


def test_undoing_the_cut_waits_for_the_drop_outs(ledger: Ledger) -> None:
    """What fell out of a mat cannot be there if the mat was never cut."""
    job = cut_job(ledger, 1)
    cut = ledger.state().entry
    book_cut(ledger, job, drop_outs={"A": size("11 x 14")})
    with pytest.raises(kw.LedgerError):
        ledger.undo(cut)
    ledger.undo()
    ledger.undo(cut)
    whole(ledger)


@pytest.mark.parametrize(
    ("text", "unit", "right"),
    [
        ("3 x 20", kw.Unit.INCH, True),
        ("20 x 3", kw.Unit.INCH, True),
        ("2 15/16 x 40", kw.Unit.INCH, False),
        ("75 x 508 mm", kw.Unit.INCH, False),
        ("75 x 508 mm", kw.Unit.MILLIMETRE, True),
        ("74.9 x 1016 mm", kw.Unit.MILLIMETRE, False),
        ("8 x 19 15/16", kw.Unit.INCH, False),
    ],
)
def test_a_slip_sheet_is_wide_and_long_enough(text: str, unit: kw.Unit, right: bool) -> None:
    """3 in, or 75 mm on a metric bench (3 to 4 in: a cutter maker's advice), and 20 in long."""
    longest = kw.parse_length("20 in", kw.Unit.INCH)
    assert serves(kw.parse_size(text, kw.Unit.INCH), longest, unit) is right


def test_a_job_says_what_slip_sheets_it_needs(ledger: Ledger) -> None:
    """Twelve windows need two; one of three on hand is too narrow and one too short."""
    add_slips(ledger, BOARD, size("2 x 40"), 1)
    add_slips(ledger, BOARD, size("4 x 18"), 1)
    add_slips(ledger, BOARD, size("4 x 40"), 1)
    job = order(mats("A", 12, "16 x 20"))
    offer, audited = planned(ledger, job, "/jobs/show")
    told = reserved(ledger, offer, audited, booked(ledger, job, "/jobs/show"))
    assert (told.slips_needed, told.slips_on_hand, told.slips_windows) == (2, 1, 10)
    assert (
        "2 slip sheets for 12 windows (10 windows each), 20 in or longer and 3 in or wider: "
        "1 on hand, good for 10 windows (2 more of another size or board), 0 made by this job."
    ) in told.told


def test_slip_sheets_wear_and_are_retired(ledger: Ledger) -> None:
    """Of two, twelve windows wear out one; the other is scored by two."""
    key = (BOARD, size("4 x 40"))
    add_slips(ledger, *key, 2)
    add_slips(ledger, BOARD, size("2 x 40"), 1)
    job = cut_job(ledger, 12)
    state = ledger.state()
    assert (state.slips[key], state.scored[key]) == (1, 2)
    assert state.slips[BOARD, size("2 x 40")] == 1
    assert state.jobs[job].windows == (("A", 12),)
    events = [(e.event, e.count, e.job) for e in ledger.events() if "slips" in e.event][2:]
    assert events == [
        ("slips scored", 12, job), ("slips retired", 1, job), ("slips scored", -10, job)
    ]  # fmt: skip
    connection = sqlite3.connect(ledger.path)
    rows = connection.execute("SELECT height_mm, count, windows FROM slip_sheets").fetchall()
    connection.close()
    assert sorted(rows) == [(1016.0, 1, 0), (1016.0, 1, 2)]
    whole(ledger)


def test_how_many_windows_a_slip_sheet_serves_is_a_setting(ledger: Ledger) -> None:
    """It holds from then on, in what a job is told and in what is retired; undo brings ten back."""
    key = (BOARD, size("4 x 40"))
    add_slips(ledger, *key, 3)
    before = set_slip_windows(ledger, 5)
    job, pieces = "/jobs/other", order(mats("B", 12, "16 x 20"))
    offer, audited = planned(ledger, pieces, job)
    told = reserved(ledger, offer, audited, set_aside(ledger, offer, audited))
    assert (told.slips_needed, told.slips_windows) == (3, 15)
    assert "3 slip sheets for 12 windows (5 windows each), " in " ".join(told.told)
    cut_job(ledger, 12)
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (1, 2)
    assert set_slip_windows(ledger, 5).number == 0
    assert ledger.undo(before.number).number == before.number
    assert ledger.state().windows_a_slip == 10
    whole(ledger)


def test_a_lower_setting_retires_what_is_worn_by_it(ledger: Ledger) -> None:
    """At once and in the same entry, so that it is undone with it."""
    key = (BOARD, size("4 x 40"))
    add_slips(ledger, *key, 2)
    cut_job(ledger, 7)
    entry = set_slip_windows(ledger, 6)
    retired = [(e.count, e.note) for e in entry.events if e.event == "slips retired"]
    assert retired == [(1, "worn, since one serves 6 windows")]
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (1, 0)
    whole(ledger)
    ledger.undo()
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (2, 7)
    whole(ledger)


@pytest.mark.parametrize("windows", [0, -1, 1001])
def test_a_setting_that_is_none_is_refused(ledger: Ledger, windows: int) -> None:
    """With what would be one; nothing is recorded."""
    events = ledger.events()
    with pytest.raises(kw.LedgerError, match="say a number from 1 to 1,000"):
        set_slip_windows(ledger, windows)
    assert ledger.events() == events


def test_windows_that_are_not_cut_wear_nothing(ledger: Ledger) -> None:
    """They can be told later, and then once."""
    key = (BOARD, size("4 x 40"))
    add_slips(ledger, *key, 1)
    job = cut_job(ledger, windows=False)
    assert ledger.state().scored[key] == 0
    book_cut(ledger, job, windows=True)
    assert book_cut(ledger, job, windows=True).entry.number == 0
    assert ledger.state().scored[key] == 3
    with pytest.raises(kw.LedgerError, match="no window is said to be cut"):
        book_cut(ledger, job, windows=False, drop_outs={"A": size("11 x 14")})


def test_windows_over_no_slip_sheet_are_counted_too(ledger: Ledger) -> None:
    """A backer has none; without slip sheets nothing wears."""
    job = both(ledger)
    book_cut(ledger, job)
    assert ledger.state().jobs[job].windows == (("A", 2),)
    assert not any(ledger.state().scored.values())
    whole(ledger)


def test_slip_sheets_of_no_mat_board_do_not_serve(ledger: Ledger) -> None:
    """Strips of a board that is known to be foam stay as they are."""
    from kerfwright.ledger.rack import describe_board

    describe_board(ledger, "white foam", grade=kw.Grade.FOAM)
    add_slips(ledger, "white foam", size("4 x 40"), 1)
    cut_job(ledger)
    assert not any(ledger.state().scored.values())


def test_retiring_and_counting_forget_the_wear(ledger: Ledger) -> None:
    """Retired by hand, its windows go with it; counted to none, nothing is scored."""
    key = (BOARD, size("4 x 40"))
    add_slips(ledger, *key, 3)
    cut_job(ledger, 9)
    retire_slips(ledger, *key, 1)
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (2, 0)
    cut_job(ledger, 6, "14 x 18")
    there = ledger.state().slips[key]  # the job may have made some
    count_slips(ledger, *key, 0)
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (0, 0)
    assert count_slips(ledger, *key, 0).number == 0
    count_slips(ledger, *key, 4)
    assert [e.count for e in ledger.events() if e.event == "slips counted"] == [-there, 4]
    whole(ledger)


def test_a_job_of_before_has_no_drop_outs_to_give(tmp_path: Path) -> None:
    """A ledger saved before the kinds of pieces were noted says so, and what to do instead."""
    path = tmp_path / "ledger.db"
    shutil.copy(Path(__file__).parent / "data" / "ledgers" / "schema-2.db", path)
    ledger = Ledger(path)
    assert book_cut(ledger, 1, windows=True).entry.number == 0
    with pytest.raises(kw.LedgerError, match="add it with `kerfwright ledger add --drop-out`"):
        book_cut(ledger, 1, drop_outs={"A": size("11 x 14")})
    add_offcuts(ledger, [measured("11 x 14", dropped=True)])
    (kept,) = (one for one in ledger.state().offcuts.values() if one.came_by == "drop-out")
    assert kept.source == "a drop-out, measured by hand"
    assert dict(check_ledger(ledger).balances[0].came)["drop-out"] > 0
    whole(ledger)


def test_a_lower_setting_throws_out_no_slip_sheet_that_is_new(ledger: Ledger) -> None:
    """All nine windows were cut over one of three: that one is worn by four, the others are new."""
    key = (BOARD, size("4 x 40"))
    add_slips(ledger, *key, 3)
    cut_job(ledger, 9)
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (3, 9)
    set_slip_windows(ledger, 4)
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (2, 0)
    whole(ledger)


def test_the_coming_of_a_slip_sheet_that_is_in_use_is_not_undone(ledger: Ledger) -> None:
    """Its wear would pass to the next one; the refusal names the cut that rests on it."""
    key = (BOARD, size("4 x 40"))
    came = add_slips(ledger, *key, 1).number
    cut_job(ledger, 4)
    cut = ledger.events()[-1].entry
    with pytest.raises(kw.LedgerError, match=f"entry {cut} .* came after it and rests on it"):
        ledger.undo(came)
    assert ledger.state().scored[key] == 4
    ledger.undo(cut)
    ledger.undo(came)
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (0, 0)
    assert check_ledger(ledger).remarks == ()


def test_a_setting_is_not_undone_under_the_windows_that_it_allowed(ledger: Ledger) -> None:
    """Sixteen windows over one slip sheet would be more than ten, and it would never be worn."""
    key = (BOARD, size("4 x 40"))
    add_slips(ledger, *key, 1)
    entry = set_slip_windows(ledger, 20).number
    cut_job(ledger, 16, "5 x 7")
    assert ledger.state().scored[key] == 16
    with pytest.raises(kw.LedgerError, match="came after it and rests on it"):
        ledger.undo(entry)
    set_slip_windows(ledger, 10)
    assert (ledger.state().slips[key], ledger.state().scored[key]) == (0, 0)
    whole(ledger)


def test_slip_sheets_worn_in_an_older_ledger_are_remarked(ledger: Ledger) -> None:
    """They serve no window and are not counted as on hand; what else is recorded can be undone."""
    key = (BOARD, size("4 x 40"))
    add_slips(ledger, *key, 1)
    ledger.record(lambda _: [scored(key, 12)])
    (remark,) = check_ledger(ledger).remarks
    assert remark.startswith("12 windows were cut over slip sheets of 'warm white rag', 4 x 40 in")
    there = serving(ledger.state(), size("4 x 40").width, kw.Unit.INCH)
    assert (there.count, there.windows) == (0, 0)
    add_offcuts(ledger, [measured("10 x 12")])
    ledger.undo()
    assert check_ledger(ledger).faults == ()


def test_drop_outs_of_another_size_are_not_taken_in_by_halves(ledger: Ledger) -> None:
    """Two of three are there; three of another size contradict them, one more does not."""
    job = cut_job(ledger, drop_outs={"A": DropOut(size("11 x 14"), 2)})
    events = ledger.events()
    with pytest.raises(kw.LedgerError, match="as 11 x 14 in, and not 11 x 13 in; nothing was"):
        book_cut(ledger, job, drop_outs={"A": DropOut(size("11 x 13"))})
    assert ledger.events() == events
    book_cut(ledger, job, drop_outs={"A": DropOut(size("11 x 13"), 3)})
    kept = [one.size for one in ledger.state().offcuts.values() if one.came_by == "drop-out"]
    assert kept == [size("11 x 14"), size("11 x 14"), size("11 x 13")]
    whole(ledger)
