"""The ledger: events that are never changed, a state derived from them, and the loop closed."""

from __future__ import annotations

import csv
import io
import sqlite3
import tempfile
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from racks import BOARD, booked, mats, measured, order, planned, size, small_ledger
from ten_jobs import JOBS, ten
from test_drawings import texts

import kerfwright as kw
from kerfwright.drawings import Paper
from kerfwright.drawings.canvas import draw_pages
from kerfwright.ledger import Ledger, book_cut, cancel_job, check_ledger, offered, set_aside
from kerfwright.ledger.jobs import job_named
from kerfwright.ledger.rack import (
    Found,
    add_offcuts,
    add_sheets,
    add_slips,
    correct,
    count_rack,
    count_sheets,
    find_again,
    move,
    retire_slips,
    take,
)
from kerfwright.spreadsheet import cuts_csv
from kerfwright.telling import tell


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Give a ledger of five sheets and two offcuts."""
    return small_ledger(tmp_path / "ledger.db")


def states(ledger: Ledger) -> dict[int, str]:
    """Return the state of every offcut."""
    return {number: kept.state for number, kept in ledger.state().offcuts.items()}


def whole(ledger: Ledger) -> bool:
    """Return whether the check finds nothing wrong."""
    assert check_ledger(ledger).faults == ()
    return True


def test_an_offcut_has_a_number_and_a_life(ledger: Ledger) -> None:
    """Its state is what its events say, in their order."""
    move(ledger, [1], "B3")
    correct(ledger, 1, size=size("13 7/8 x 32"))
    take(ledger, [1], "lost")
    find_again(ledger, 1, "C1")
    kept = ledger.state().offcuts[1]
    assert (kept.state, kept.place, kept.size) == ("on the rack", "C1", size("13 7/8 x 32"))
    told = [event.event for event in ledger.events() if event.offcut == 1]
    assert told == ["added", "moved", "measured", "lost", "found"]
    assert whole(ledger)


def test_events_cannot_be_changed_or_taken_out(ledger: Ledger) -> None:
    """SQLite itself refuses to update or delete an event."""
    connection = sqlite3.connect(ledger.path)
    for statement in ("UPDATE events SET place = 'X'", "DELETE FROM events"):
        with pytest.raises(sqlite3.IntegrityError, match="an event is never"):
            connection.execute(statement)
    connection.close()


def test_undo_is_an_event(ledger: Ledger) -> None:
    """What is undone no longer counts, stays in the ledger, and its number is not given again."""
    third = add_offcuts(ledger, [measured("20 x 20")])
    assert ledger.undo().number == third.number
    assert sorted(states(ledger)) == [1, 2]
    assert [event.event for event in ledger.events()][-2:] == ["added", "undone"]
    assert add_offcuts(ledger, [measured("20 x 20")]).offcuts == (4,)
    assert whole(ledger)


def test_undo_goes_back_one_entry_at_a_time(ledger: Ledger) -> None:
    """Three times undo empties a ledger of two entries, and then there is nothing to undo."""
    assert [ledger.undo().number, ledger.undo().number] == [2, 1]
    with pytest.raises(kw.LedgerError, match="nothing to undo"):
        ledger.undo()
    assert states(ledger) == {}
    assert whole(ledger)


def test_a_job_takes_fitting_offcuts_before_a_sheet(ledger: Ledger) -> None:
    """Three 16 x 20 and two 14 x 14: the offcuts take one and two, a sheet the other two."""
    job = booked(ledger, order(mats("A", 3, "16 x 20"), mats("B", 2, "14 x 14")), "/jobs/show").job
    assert sorted(job.offcuts) == [1, 2]
    assert dict(job.sheets) == {(BOARD, size("32 x 40")): 1}
    assert states(ledger) == {1: "set aside", 2: "set aside"}
    assert ledger.state().free_sheets(BOARD, size("32 x 40")) == 4


def test_a_job_once_cut_leaves_its_offcuts_on_the_rack(ledger: Ledger) -> None:
    """Two of four 16 x 20 from a sheet leave half of it whole, which gets the next number."""
    job = booked(ledger, order(mats("A", 3, "16 x 20")), "/jobs/show").job
    book_cut(ledger, job.number, place="C2")
    kept = ledger.state().offcuts[3]
    assert kept.size in {size("32 x 20"), size("16 x 40")}
    assert (kept.place, kept.grade) == ("C2", kw.Grade.COTTON)
    assert states(ledger) == {1: "on the rack", 2: "cut", 3: "on the rack"}
    assert ledger.state().sheets[BOARD, size("32 x 40")] == 4
    assert whole(ledger)


def test_doing_it_twice_does_nothing_twice(ledger: Ledger) -> None:
    """Planning, cutting or cancelling again records nothing."""
    job = order(mats("A", 3, "16 x 20"))
    first = booked(ledger, job, "/jobs/show")
    assert booked(ledger, job, "/jobs/show").entry.number == 0
    assert booked(ledger, job, "/jobs/show").job.number == first.job.number
    assert book_cut(ledger, first.job.number).entry.number > 0
    events = ledger.events()
    assert book_cut(ledger, first.job.number).entry.number == 0
    other = booked(ledger, order(mats("A", 1, "11 x 14")), "/jobs/other").job
    assert cancel_job(ledger, other.number).entry.number > 0
    assert cancel_job(ledger, other.number).entry.number == 0
    assert len(events) < len(ledger.events())
    assert whole(ledger)


def test_a_job_that_is_cancelled_lets_go(ledger: Ledger) -> None:
    """Offcuts and sheets are free again, and the job can no longer be cut."""
    job = booked(ledger, order(mats("A", 5, "16 x 20")), "/jobs/show").job
    cancel_job(ledger, job.number)
    assert states(ledger) == {1: "on the rack", 2: "on the rack"}
    assert ledger.state().free_sheets(BOARD, size("32 x 40")) == 5
    with pytest.raises(kw.LedgerError, match="was cancelled"):
        book_cut(ledger, job.number)
    assert whole(ledger)


def test_a_job_planned_again_replaces_itself(ledger: Ledger) -> None:
    """Another order into the same folder lets the first go and takes what it had."""
    first = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show").job
    second = booked(ledger, order(mats("A", 1, "15 x 19")), "/jobs/show").job
    assert ledger.state().jobs[first.number].state == "cancelled"
    assert second.offcuts == (2,)
    assert whole(ledger)


def test_what_is_set_aside_is_not_offered_to_another_job(ledger: Ledger) -> None:
    """The next job does not get the offcut, and is told why."""
    booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show")
    offer = offered(ledger, order(mats("A", 1, "16 x 20")), "/jobs/other")
    assert [offcut.id for offcut in offer.order.offcuts] == []
    assert {one.number: one.why for one in offer.passed} == {
        1: "too small for any piece ordered of its board",
        2: "is set aside for job 1",
    }


def test_a_plan_from_a_ledger_that_changed_is_refused(ledger: Ledger) -> None:
    """An offcut that went meanwhile, and one that came, are named; nothing is set aside."""
    plan = planned(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show")
    take(ledger, [2], "given away")
    add_offcuts(ledger, [measured("17 x 21")])
    with pytest.raises(kw.LedgerError) as refused:
        set_aside(ledger, *plan)
    assert "offcut 2: no longer to be had" in str(refused.value)
    assert "offcut 3: new, 17 x 21 in" in str(refused.value)
    assert ledger.state().jobs == {}


def test_a_change_elsewhere_does_not_matter(ledger: Ledger) -> None:
    """An offcut of another board that comes meanwhile refuses no plan."""
    plan = planned(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show")
    move(ledger, [2], "Z9")
    assert set_aside(ledger, *plan).job.offcuts == (2,)


def test_sheets_that_were_bought_are_booked_in(tmp_path: Path) -> None:
    """A job of two sheets with one on hand books in the other, and none is left."""
    ledger = Ledger(tmp_path / "ledger.db")
    ledger.begin()
    count_sheets(ledger, BOARD, size("32 x 40"), 1)
    job = booked(ledger, order(mats("A", 8, "16 x 20")), "/jobs/show").job
    events = book_cut(ledger, job.number).entry.events
    assert [(e.event, e.count) for e in events if e.event.startswith("sheets")] == [
        ("sheets in", 1),
        ("sheets cut", 2),
    ]
    assert ledger.state().sheets[BOARD, size("32 x 40")] == 0
    assert whole(ledger)


def test_bad_edges_are_taken_off_and_accounted_for(ledger: Ledger) -> None:
    """An offcut of 17 x 20 with a bad inch on the left serves as 16 x 20, and 1 x 20 is trim."""
    inch = kw.parse_length("1", kw.Unit.INCH)
    nothing = kw.Length(inch.mm * 0)
    take(ledger, [1, 2], "given away")
    add_offcuts(ledger, [measured("17 x 20", edges=(inch, nothing, nothing, nothing))])
    booking = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show")
    assert booking.job.offcuts == (3,)
    events = book_cut(ledger, booking.job.number).entry.events
    (trim,) = [event for event in events if event.event == "trim"]
    assert trim.area == "64516/5"  # 20 sq in of 645.16 sq mm
    assert whole(ledger)


def test_the_pages_of_a_plan_say_which_bad_edges_come_off_first(ledger: Ledger) -> None:
    """Cover, the layout's own page, the checklist and cuts.csv; of offcuts that are used, alone."""
    inch = kw.parse_length("1", kw.Unit.INCH)
    nothing = kw.Length(inch.mm * 0)
    take(ledger, [1, 2], "given away")
    add_offcuts(ledger, [measured("17 x 20", edges=(inch, nothing, nothing, nothing))])
    add_offcuts(ledger, [measured("25 x 30", edges=(nothing, inch, nothing, nothing))])
    _, audited = planned(ledger, order(mats("A", 1, "16 x 10")), "/jobs/show")
    (told,) = tell(audited)
    said = "irst take 1 in off its left edge (16 in is left); the size given is what is left then."
    assert told.first == (f"L1, offcut 3, 16 x 20 in: f{said}",)
    assert not any("bad edges" in note for note in audited.plan.notes)
    cover, page, checklist, *_ = (" ".join(texts(one)) for one in draw_pages(audited, Paper.LETTER))
    assert said in cover
    assert f"F{said}" in page
    assert "its left edge" in checklist
    first, *later = csv.DictReader(io.StringIO(cuts_csv(audited).lstrip("\ufeff")))
    assert first["take off first"] == f"F{said}"
    assert not any(row["take off first"] for row in later)


def test_an_offcut_of_unknown_grade_serves_only_the_lowest(ledger: Ledger) -> None:
    """It may not serve cotton, and may serve wood-pulp."""
    take(ledger, [1, 2], "given away")
    add_offcuts(ledger, [measured("16 x 20", grade=None)])
    cotton = offered(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show")
    assert cotton.passed[0].why == "is of unknown grade, and may not serve cotton"
    pulp = kw.Board(BOARD, grade=kw.Grade.WOOD_PULP)
    lowest = offered(ledger, order(mats("A", 1, "16 x 20"), board=pulp), "/jobs/show")
    assert [offcut.id for offcut in lowest.order.offcuts] == ["3"]


def test_direction_is_kept(ledger: Ledger) -> None:
    """A board with a direction gets no offcut of unknown direction, and turns none."""
    linen = kw.Board(BOARD, grade=kw.Grade.COTTON, no_turn=True)
    add_offcuts(ledger, [measured("16 x 20", directed=False), measured("20 x 16")])
    offer = offered(ledger, order(mats("A", 1, "16 x 20"), board=linen), "/jobs/show")
    assert [offcut.id for offcut in offer.order.offcuts] == ["2"]
    assert {one.number: one.why for one in offer.passed if one.number > 2} == {
        3: "has no known direction, and the board has one",
        4: "holds a piece only if it is turned, and the board has a direction",
    }


def test_the_oldest_of_equals_goes_first(ledger: Ledger) -> None:
    """Of three offcuts of one size the two that came first are taken."""
    add_offcuts(ledger, [measured("16 x 20"), measured("16 x 20")])
    job = booked(ledger, order(mats("A", 2, "16 x 20")), "/jobs/show").job
    assert job.offcuts == (2, 3)


def test_a_count_of_the_rack_reconciles(ledger: Ledger) -> None:
    """What is missing is lost, what was lost is found, what differs is written down."""
    add_offcuts(ledger, [measured("20 x 20"), measured("10 x 30", "A1")])
    take(ledger, [3], "lost")
    count_rack(ledger, [Found(1, size("14 x 31")), Found(3), Found(2, None, "B7")])
    assert states(ledger) == {1: "on the rack", 2: "on the rack", 3: "on the rack", 4: "lost"}
    state = ledger.state()
    assert (state.offcuts[1].size, state.offcuts[2].place) == (size("14 x 31"), "B7")
    assert whole(ledger)


def test_what_is_seen_in_one_place_is_there(ledger: Ledger) -> None:
    """A count of A2 that finds offcut 1 of A1 there moves it, and misses no offcut elsewhere."""
    add_offcuts(ledger, [measured("20 x 20", "B1")])
    count_rack(ledger, [Found(1)], place="A2")
    assert ledger.state().offcuts[1].place == "A2"
    assert states(ledger) == {1: "on the rack", 2: "lost", 3: "on the rack"}
    assert whole(ledger)


def test_an_offcut_that_was_lost_is_no_longer_set_aside(ledger: Ledger) -> None:
    """Found again, it may serve another job; cancelling the first does not take it from that."""
    first = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/first").job
    take(ledger, [2], "lost")
    with pytest.raises(kw.LedgerError, match="offcut 2 is lost"):
        book_cut(ledger, first.number)
    find_again(ledger, 2)
    second = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/second").job
    assert second.offcuts == (2,)
    cancel_job(ledger, first.number)
    assert states(ledger)[2] == "set aside"
    book_cut(ledger, second.number)
    assert whole(ledger)


def test_sheets_of_a_size_that_the_order_does_not_list_are_offered(ledger: Ledger) -> None:
    """As many as there are and no more; where the order has prices, only if theirs is known."""
    add_sheets(ledger, BOARD, size("40 x 60"), 2)

    def sizes(price: str | None) -> list[tuple[kw.Size, int | None, bool]]:
        cost = None if price is None else Fraction(price)
        board = kw.Board(BOARD, sheets=(kw.SheetSize(size("32 x 40"), cost),))
        asked = order(mats("A", 1, "16 x 20"), board=board)
        (found,) = offered(ledger, asked, "/jobs/show").order.boards
        return [(one.size, one.on_hand, one.buyable) for one in found.sheets]

    listed, other = (size("32 x 40"), 5, True), (size("40 x 60"), 2, False)
    assert sizes(None) == [listed, other]
    assert sizes("21.50") == [listed]
    add_sheets(ledger, BOARD, size("40 x 60"), 1, price=Fraction(40))
    assert sizes("21.50") == [listed, (size("40 x 60"), 3, False)]


def test_an_order_that_says_otherwise_what_a_board_is_is_refused(ledger: Ledger) -> None:
    """The board is cotton in the ledger once a job said so."""
    booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show")
    pulp = kw.Board(BOARD, grade=kw.Grade.WOOD_PULP)
    with pytest.raises(kw.LedgerError, match="is wood-pulp, and the ledger says cotton"):
        offered(ledger, order(mats("A", 1, "16 x 20"), board=pulp), "/jobs/other")


def test_drop_outs_come_from_their_windows(ledger: Ledger) -> None:
    """Each mat of a label gives one, of unknown direction; none as large as the mat is taken."""
    job = booked(ledger, order(mats("A", 3, "16 x 20")), "/jobs/show").job
    with pytest.raises(kw.LedgerError, match="does not come from the mat 'A'"):
        book_cut(ledger, job.number, drop_outs={"A": size("16 x 20")})
    with pytest.raises(kw.LedgerError, match="no piece 'Z'"):
        book_cut(ledger, job.number, drop_outs={"Z": size("1 x 2")})
    book_cut(ledger, job.number, drop_outs={"A": size("11 x 14")})
    dropped = [kept for kept in ledger.state().offcuts.values() if kept.came_by == "drop-out"]
    assert [(kept.size, kept.directed) for kept in dropped] == [(size("11 x 14"), False)] * 3
    assert whole(ledger)


def test_slip_sheets_are_counted_and_retired(ledger: Ledger) -> None:
    """No more can be retired than there are."""
    add_slips(ledger, BOARD, size("4 x 40"), 3)
    retire_slips(ledger, BOARD, size("4 x 40"), 2)
    with pytest.raises(kw.LedgerError, match="there is only 1 slip sheet of"):
        retire_slips(ledger, BOARD, size("4 x 40"), 2)
    assert ledger.state().slips[BOARD, size("4 x 40")] == 1
    assert whole(ledger)


def test_a_job_is_known_by_its_plan(ledger: Ledger, tmp_path: Path) -> None:
    """Its number, its plan.json and the folder of that name it; a changed file names none."""
    offer, audited = planned(ledger, order(mats("A", 1, "16 x 20")), str(tmp_path / "show"))
    kw.write_outputs(audited, tmp_path / "show")
    number = set_aside(ledger, offer, audited).job.number
    path = tmp_path / "show" / "plan.json"
    for name in (str(number), str(path), str(path.parent)):
        assert job_named(ledger, name) == number
    path.write_text(path.read_text() + " ")
    with pytest.raises(kw.LedgerError, match="nothing is set aside for this plan"):
        job_named(ledger, str(path))


def test_ten_jobs_in_a_row_take_fewer_sheets_through_a_ledger(tmp_path: Path) -> None:
    """The same ten jobs take 22 full sheets without a ledger; the sums are exact after each.

    Drop-outs of earlier windows serve later jobs, and slip sheets are worn out and replaced by
    those that the jobs make.
    """
    jobs = ten(10, tmp_path / "ledger.db")
    assert sum(one.without for one in jobs) == 22
    assert sum(one.through for one in jobs) <= 12
    assert all(one.through <= one.without for one in jobs)
    assert sum(one.windows for one in jobs) == sum(qty for mats, _ in JOBS for qty, _ in mats)
    assert sum(one.dropped for one in jobs) == 11
    assert any(one.from_windows for one in jobs)
    assert any(one.retired for one in jobs)


ACTS = st.lists(
    st.tuples(st.sampled_from(("add", "move", "measure", "lose", "find", "job", "cancel", "undo")),
              st.integers(1, 6), st.integers(12, 30)),
    min_size=3, max_size=12,
)  # fmt: skip


def act(ledger: Ledger, what: str, number: int, long: int) -> None:
    """Do one thing to a ledger."""
    if what == "add":
        add_offcuts(ledger, [measured(f"{long} x 20")])
    elif what == "move":
        move(ledger, [number], f"place {long}")
    elif what == "measure":
        correct(ledger, number, size=size(f"{long} x 19 7/8"))
    elif what == "lose":
        take(ledger, [number], "lost")
    elif what == "find":
        find_again(ledger, number)
    elif what == "job":
        job = booked(ledger, order(mats("A", 2, f"{long} x 15")), f"/jobs/{number}").job
        if long % 3:
            book_cut(ledger, job.number)
    elif what == "cancel":
        cancel_job(ledger, number)
    else:
        ledger.undo()


@settings(max_examples=15, deadline=None)
@given(ACTS)
def test_whatever_is_done_the_ledger_is_whole(acts: list[tuple[str, int, int]]) -> None:
    """After any acts chain, views and sums are right; what is refused writes nothing."""
    with tempfile.TemporaryDirectory() as folder:
        ledger = small_ledger(Path(folder) / "ledger.db")
        for one in acts:
            before = ledger.path.read_bytes()
            try:
                act(ledger, *one)
            except kw.LedgerError:
                assert ledger.path.read_bytes() == before
            assert check_ledger(ledger).faults == ()
