"""When the rack changes: what is refused, what the message says, and what can be undone."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from racks import BOARD, booked, mats, measured, order, planned, size, small_ledger

import kerfwright as kw
from kerfwright.ledger import Ledger, book_cut, cancel_job, check_ledger, offered
from kerfwright.ledger.rack import (
    Found,
    add_offcuts,
    add_own,
    add_sheets,
    correct,
    count_rack,
    count_sheets,
    describe_board,
    find_again,
    move,
    take,
)
from kerfwright.ledger.words import changes, entry_words
from kerfwright.makes import what_they_make

LINEN = kw.Board(BOARD, grade=kw.Grade.COTTON, buffered=True, no_turn=True)
SHEET = size("32 x 40")


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Give a ledger of five sheets and two offcuts, in three entries."""
    return small_ledger(tmp_path / "ledger.db")


def refusal(act: Callable[[], object]) -> str:
    """Return the message with which something is refused."""
    with pytest.raises(kw.LedgerError) as refused:
        act()
    return str(refused.value)


# --- an offcut that is set aside is corrected ---------------------------------------------------

CORRECTIONS = {
    "size": ({"size": size("15 7/8 x 20")}, "has 15 7/8 x 20 in to use and not 16 x 20 in"),
    "board": ({"board": "black core"}, f"is of 'black core' and not of '{BOARD}'"),
    "grade": ({"grade": "wood-pulp"}, "is wood-pulp, a lower grade than cotton"),
    "no grade": ({"grade": "unknown"}, "is of unknown grade, and may not serve cotton"),
    "buffering": ({"buffered": False}, "is not buffered, unlike the order's board"),
    "direction": ({"directed": False}, "has no known direction, and the board has one"),
    "edges": (
        {
            "edges": (
                kw.parse_length("1", kw.Unit.INCH),
                *[kw.Length(size("1 x 1").width.mm * 0)] * 3,
            )
        },
        "has 15 x 20 in to use and not 16 x 20 in",
    ),
}


@pytest.mark.parametrize("what", CORRECTIONS)
def test_a_job_is_not_cut_from_what_was_corrected(what: str, ledger: Ledger) -> None:
    """The message names what changed, by which entry, and what can be done."""
    add_offcuts(ledger, [measured("16 x 20", buffered=True)])
    job = booked(ledger, order(mats("A", 1, "16 x 20"), board=LINEN), "/jobs/show").job
    assert job.offcuts == (3,)
    how, told = CORRECTIONS[what]
    entry = correct(ledger, 3, **how).number  # type: ignore[arg-type]
    before = ledger.path.read_bytes()
    message = refusal(lambda: book_cut(ledger, job.number))
    assert message == (
        "job 1 cannot be booked as cut, since the ledger has changed after it was planned: "
        f"offcut 3 {told}. If what entry {entry} says is wrong, `kerfwright ledger undo {entry}` "
        "takes it back. Otherwise cancel the job (`kerfwright ledger cancel 1`) and plan it again"
    )
    assert ledger.path.read_bytes() == before
    ledger.undo(entry)
    assert book_cut(ledger, job.number).entry.number


def test_a_correction_that_does_no_harm_refuses_nothing(ledger: Ledger) -> None:
    """An offcut that is better than was known, or is put elsewhere, is cut as planned."""
    describe_board(ledger, BOARD, grade=kw.Grade.WOOD_PULP)
    pulp = kw.Board(BOARD, grade=kw.Grade.WOOD_PULP)
    take(ledger, [1, 2], "given away")
    add_offcuts(ledger, [measured("16 x 20", grade=None, unknown=True)])
    job = booked(ledger, order(mats("A", 1, "16 x 20"), board=pulp), "/jobs/show").job
    correct(ledger, 3, grade="cotton", buffered=True, directed=False)
    move(ledger, [3], "B2")
    assert book_cut(ledger, job.number).entry.number
    assert check_ledger(ledger).faults == ()


@pytest.mark.parametrize("way", ["lost", "spoiled"])
def test_a_job_is_not_cut_from_what_is_gone(way: str, ledger: Ledger) -> None:
    """The message says how it went, and how to take that back."""
    job = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show").job
    entry = take(ledger, [2], way).number
    message = refusal(lambda: book_cut(ledger, job.number))
    assert f"offcut 2 is {way}. If what entry {entry} says is wrong" in message
    if way == "lost":
        find_again(ledger, 2)
        message = refusal(lambda: book_cut(ledger, job.number))
        assert "offcut 2 is on the rack, no longer set aside" in message


# --- sheets that are set aside are counted away -------------------------------------------------


def test_sheets_that_were_counted_away_are_not_booked_in_again(ledger: Ledger) -> None:
    """The message says how many there are, and what to do if they were bought, or were there."""
    job = booked(ledger, order(mats("A", 9, "16 x 20")), "/jobs/show").job
    assert dict(job.sheets) == {(BOARD, SHEET): 2}
    entry = count_sheets(ledger, BOARD, SHEET, 1).number
    before = ledger.path.read_bytes()
    assert refusal(lambda: book_cut(ledger, job.number)) == (
        "job 1 cannot be booked as cut, since the ledger has changed after it was planned: "
        f"2 full sheets of {BOARD} (32 x 40 in) were set aside, and only 1 is there. "
        "If the missing sheets were bought for this job, `kerfwright ledger cut 1 --bought` books "
        f"them in and the job as cut. If what entry {entry} says is wrong, `kerfwright ledger undo "
        f"{entry}` takes it back. Otherwise cancel the job (`kerfwright ledger cancel 1`) and plan "
        "it again"
    )
    assert ledger.path.read_bytes() == before
    offer = offered(ledger, order(mats("B", 1, "16 x 20")), "/jobs/other")
    assert offer.order.boards[0].sheets[0].on_hand == 0


def sheets_of(entry: kw.Booked) -> list[tuple[str, int | None]]:
    """Return what a booking did with full sheets."""
    return [(e.event, e.count) for e in entry.entry.events if e.event.startswith("sheets")]


def test_sheets_that_were_bought_after_all_are_booked_in(ledger: Ledger) -> None:
    """By one word more; and only what is missing."""
    job = booked(ledger, order(mats("A", 9, "16 x 20")), "/jobs/show").job
    count_sheets(ledger, BOARD, SHEET, 1)
    done = book_cut(ledger, job.number, bought=True)
    assert sheets_of(done) == [("sheets in", 1), ("sheets cut", 2)]
    assert ledger.state().sheets[BOARD, SHEET] == 0
    assert check_ledger(ledger).faults == ()


def test_a_count_that_leaves_enough_refuses_nothing(ledger: Ledger) -> None:
    """Three of five are there, and the job has two."""
    job = booked(ledger, order(mats("A", 9, "16 x 20")), "/jobs/show").job
    count_sheets(ledger, BOARD, SHEET, 3)
    assert sheets_of(book_cut(ledger, job.number)) == [("sheets cut", 2)]


def test_too_few_sheets_for_two_jobs_serve_the_first_to_be_cut(ledger: Ledger) -> None:
    """Each has two set aside and three are there: the first books its two, the other is refused."""
    first = booked(ledger, order(mats("A", 9, "16 x 20")), "/jobs/first").job
    second = booked(ledger, order(mats("A", 8, "16 x 20")), "/jobs/second").job
    assert [dict(job.sheets)[BOARD, SHEET] for job in (first, second)] == [2, 2]
    count_sheets(ledger, BOARD, SHEET, 3)
    assert sheets_of(book_cut(ledger, first.number)) == [("sheets cut", 2)]
    assert "and only 1 is there" in refusal(lambda: book_cut(ledger, second.number))
    add_sheets(ledger, BOARD, SHEET, 1)
    assert sheets_of(book_cut(ledger, second.number)) == [("sheets cut", 2)]
    assert check_ledger(ledger).faults == ()


def test_sheets_that_the_plan_had_to_buy_are_booked_in_unasked(tmp_path: Path) -> None:
    """They were never on the rack, and no count can have missed them."""
    ledger = Ledger(tmp_path / "ledger.db")
    ledger.begin()
    count_sheets(ledger, BOARD, SHEET, 1)
    job = booked(ledger, order(mats("A", 8, "16 x 20")), "/jobs/show").job
    assert sheets_of(book_cut(ledger, job.number)) == [("sheets in", 1), ("sheets cut", 2)]


# --- undo ---------------------------------------------------------------------------------------


def test_a_cut_job_is_undone_and_cut_again(ledger: Ledger) -> None:
    """What it took is set aside again, what it left is gone, and a second cut gives new numbers."""
    job = booked(ledger, order(mats("A", 3, "16 x 20")), "/jobs/show").job
    before = ledger.state()
    entry = book_cut(ledger, job.number, drop_outs={"A": size("11 x 14")}).entry.number
    assert ledger.undo().number == entry
    after = ledger.state()
    assert (after.offcuts, after.sheets, after.slips) == (
        before.offcuts,
        before.sheets,
        before.slips,
    )
    assert after.jobs[job.number].state == "set aside"
    assert check_ledger(ledger).faults == ()
    book_cut(ledger, job.number)
    assert sorted(ledger.state().offcuts) == [1, 2, 7]
    assert check_ledger(ledger).faults == ()


def test_a_count_is_undone(ledger: Ledger) -> None:
    """What it had lost, found, moved and resized is as it was."""
    take(ledger, [1], "lost")
    before = ledger.state()
    entry = count_rack(ledger, [Found(1, size("14 x 31"), "B1")]).number
    assert {n: k.state for n, k in ledger.state().offcuts.items()} == {1: "on the rack", 2: "lost"}
    ledger.undo(entry)
    assert ledger.state().offcuts == before.offcuts
    count_sheets(ledger, BOARD, SHEET, 3)
    ledger.undo()
    assert ledger.state().sheets == before.sheets
    assert check_ledger(ledger).faults == ()


def test_a_correction_is_undone(ledger: Ledger) -> None:
    """Even of its board, which moves its area from one account to the other and back."""
    before = ledger.state().offcuts
    correct(ledger, 1, board="black core", size=size("13 x 31"), grade="unknown")
    assert check_ledger(ledger).faults == ()
    ledger.undo()
    assert ledger.state().offcuts == before
    assert check_ledger(ledger).faults == ()


def test_a_measure_that_a_job_was_cut_by_is_not_undone_before_the_job(ledger: Ledger) -> None:
    """Else the board's sum would be broken: the job was cut from so much and no more."""
    entry = correct(ledger, 2, size=size("16 x 21")).number
    job = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show").job
    cut = book_cut(ledger, job.number).entry.number
    assert refusal(lambda: ledger.undo(entry)) == (
        f"entry {entry} (offcut 2 measured) cannot be undone yet: entry {cut} (job 1 cut) came "
        f"after it and rests on it. Undo that one first: `kerfwright ledger undo {cut}`"
    )
    ledger.undo(cut)
    ledger.undo(entry)
    assert check_ledger(ledger).faults == ()


def test_an_undo_names_everything_that_must_be_undone_before(ledger: Ledger) -> None:
    """In an order in which each can be undone."""
    job = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show").job  # entry 3
    book_cut(ledger, job.number)  # entry 4
    assert refusal(lambda: ledger.undo(2)) == (
        "entry 2 (offcuts 1, 2 added) cannot be undone yet: what came after it rests on it. Undo "
        "these first, in this order: 4, 3. They are entry 4 (job 1 cut); entry 3 (job 1 planned)"
    )
    for entry in (4, 3, 2):
        ledger.undo(entry)
    assert ledger.state().offcuts == {}


def test_the_order_of_undoing_can_always_be_followed(ledger: Ledger) -> None:
    """The loss of an offcut that was found and moved: first the moving, then the finding."""
    lost = take(ledger, [1], "lost").number
    found = find_again(ledger, 1).number
    moved = move(ledger, [1], "B1").number
    message = refusal(lambda: ledger.undo(lost))
    assert f"in this order: {moved}, {found}. They are" in message
    for entry in (moved, found, lost):
        ledger.undo(entry)
    assert ledger.state().offcuts[1].place == "A1"


def test_many_offcuts_are_named_in_a_line(ledger: Ledger) -> None:
    """A run by its ends, others by the first few."""
    add_offcuts(ledger, [measured("9 x 9")] * 9)
    move(ledger, [1, 3, 5, 7, 8, 9, 10, 11], "B1")
    assert entry_words(ledger.undo().events) == "offcuts 1, 3, 5, 7, 8, 9 and 2 more moved to B1"
    assert entry_words(ledger.undo().events) == "offcuts 3 to 11 added"


def test_what_cannot_be_undone_is_told_why(ledger: Ledger) -> None:
    """None so numbered, undone already, or an undoing itself."""
    assert refusal(lambda: ledger.undo(9)) == "there is no entry 9; they are numbered 1 to 2"
    move(ledger, [1], "B1")
    ledger.undo()
    assert refusal(lambda: ledger.undo(3)) == (
        "entry 3 (offcut 1 moved to B1) was undone already, by entry 4; nothing was recorded"
    )
    assert refusal(lambda: ledger.undo(4)) == (
        "entry 4 took back entry 3 (offcut 1 moved to B1); a taking back is not taken back. If "
        "that is to count after all, record it once more"
    )


# --- what an event changed ----------------------------------------------------------------------


def test_an_event_says_what_it_changed(ledger: Ledger) -> None:
    """From what to what, in Python and in the view; undone events counted as they stood then."""
    correct(ledger, 1, size=size("13 7/8 x 32"), note="a corner was bent")
    ledger.undo()
    correct(ledger, 1, grade="wood-pulp", directed=False)
    correct(ledger, 1, board="black core", size=size("13 x 32"))
    move(ledger, [1], "B3")
    edge = kw.parse_length("1/4", kw.Unit.INCH)
    nothing = kw.Length(edge.mm * 0)
    correct(ledger, 1, edges=(edge, nothing, nothing, nothing))
    events = ledger.events()
    told = [changes(events, event) for event in events if event.offcut == 1]
    assert told == [
        (),
        ("size 13 7/8 x 32 in, was 14 x 32 in",),
        ("grade wood-pulp, was cotton", "direction unknown, was known"),
        (),
        (
            "size 13 x 32 in, was 14 x 32 in",
            f"board black core, was {BOARD}",
            "grade unknown, was wood-pulp",
        ),
        ("place B3, was A1",),
        ("bad edges left 1/4 in, were none",),
    ]
    connection = sqlite3.connect(ledger.path)
    rows = connection.execute("SELECT changed FROM story WHERE number = 1 ORDER BY seq").fetchall()
    connection.close()
    assert [row[0] for row in rows] == [
        None,
        "size 352.425 x 812.8 mm, was 355.6 x 812.8 mm",
        "grade wood-pulp, was cotton; direction unknown, was known",
        None,
        f"size 330.2 x 812.8 mm, was 355.6 x 812.8 mm; board black core, was {BOARD}; "
        "grade unknown, was wood-pulp",
        "place B3, was A1",
        "edges 127/20 0/1 0/1 0/1, was 0/1 0/1 0/1 0/1",
    ]


# --- a board with a direction -------------------------------------------------------------------


def counts(ledger: Ledger, *sizes: str) -> list[tuple[str, int, tuple[int, ...]]]:
    """Return what the offcuts make of some sizes."""
    made = what_they_make(ledger.state(), [size(one) for one in sizes])
    return [(str(one.size), one.count, tuple(number for number, _ in one.offcuts)) for one in made]


def test_makes_turns_nothing_of_a_board_with_a_direction(ledger: Ledger) -> None:
    """A 14 x 32 holds two of 14 x 16 or, turned, none; unknown directions are left out."""
    add_offcuts(ledger, [measured("14 x 16", directed=False)])
    free = [("14 x 16 in", 4, (1, 2, 3)), ("16 x 14 in", 4, (1, 2, 3))]
    assert counts(ledger, "14 x 16", "16 x 14") == free
    describe_board(ledger, BOARD, directed=True)
    kept = [("14 x 16 in", 3, (1, 2)), ("16 x 14 in", 1, (2,))]
    assert counts(ledger, "14 x 16", "16 x 14") == kept
    assert check_ledger(ledger).faults == ()


def test_the_usual_sizes_of_a_board_with_a_direction_are_tried_both_ways(ledger: Ledger) -> None:
    """A mat may be wanted upright or across."""
    describe_board(ledger, BOARD, directed=True)
    made = {(str(one.size), one.count) for one in what_they_make(ledger.state())}
    # 14 x 32 and 16 x 20: upright 12 x 16 goes into them twice and once, across none and once.
    assert {("12 x 16 in", 3), ("16 x 12 in", 1)} <= made


def test_a_direction_is_learned_from_an_order_and_kept(ledger: Ledger) -> None:
    """A later order that does not mention it turns nothing either, and is told so."""
    booked(ledger, order(mats("A", 1, "16 x 20"), board=LINEN), "/jobs/show")
    assert ledger.state().boards[BOARD].directed is True
    offer = offered(ledger, order(mats("A", 1, "20 x 16")), "/jobs/other")
    assert offer.order.boards[0].no_turn
    assert any("no piece of it is turned" in note for note in offer.order.notes)
    describe_board(ledger, BOARD, directed=False)
    offer = offered(ledger, order(mats("A", 1, "20 x 16")), "/jobs/other")
    assert not offer.order.boards[0].no_turn
    assert offer.order.notes == ()


# --- offcuts that an order lists itself ---------------------------------------------------------


def own(*offcuts: kw.Offcut, turn: bool = False) -> kw.Order:
    """Return an order with offcuts of its own."""
    board = kw.Board(BOARD, grade=kw.Grade.COTTON, no_turn=turn)
    return kw.Order("show", (mats("A", 1, "15 x 20"),), (board,), offcuts)


def test_offcuts_of_an_order_that_the_ledger_does_not_know_are_refused(ledger: Ledger) -> None:
    """The message names them, and the one command that takes them in."""
    asked = own(kw.Offcut(BOARD, size("15 x 20"), "7"))
    told = refusal(lambda: offered(ledger, asked, "/jobs/show", named="show.toml"))
    assert f"lists 1 offcut that the ledger does not know: '7' of {BOARD}. " in told
    assert "`kerfwright ledger import show.toml` takes it into the ledger; then plan again" in told


def test_offcuts_of_an_order_are_taken_in_once(ledger: Ledger) -> None:
    """With what the order says of their board; after that the ledger alone counts."""
    take(ledger, [2], "given away")
    asked = own(kw.Offcut(BOARD, size("15 x 20"), "7"), kw.Offcut(BOARD, size("9 x 9"), "old"))
    assert add_own(ledger, asked, "show.toml").offcuts == (3, 4)
    assert add_own(ledger, asked, "show.toml").number == 0
    kept = ledger.state().offcuts[3]
    assert (kept.grade, kept.source) == (kw.Grade.COTTON, "numbered 7 in show.toml")
    job = booked(ledger, asked, "/jobs/show").job
    assert job.offcuts == (3,)
    book_cut(ledger, job.number)
    offer, _ = planned(ledger, asked, "/jobs/again")
    assert offer.order.offcuts == ()
    assert any("7 is 3, old is 4" in note for note in offer.order.notes)
    assert check_ledger(ledger).faults == ()


def test_another_offcut_of_the_same_id_is_not_taken_for_it(ledger: Ledger) -> None:
    """An id that was rubbed out and given again, or taking in that was undone, is not known."""
    asked = own(kw.Offcut(BOARD, size("15 x 20"), "7"))
    add_own(ledger, asked, "show.toml")
    other = own(kw.Offcut(BOARD, size("16 x 20"), "7"))
    assert "does not know" in refusal(lambda: offered(ledger, other, "/jobs/show"))
    ledger.undo()
    assert "does not know" in refusal(lambda: offered(ledger, asked, "/jobs/show"))


def test_a_cancelled_job_can_be_undone_to_stand_again(ledger: Ledger) -> None:
    """Unless its offcut is set aside for another meanwhile."""
    job = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show").job
    entry = cancel_job(ledger, job.number).entry.number
    other = booked(ledger, order(mats("B", 1, "16 x 20")), "/jobs/other")
    told = refusal(lambda: ledger.undo(entry))
    assert (
        f"entry {entry} (job 1 cancelled) cannot be undone yet: entry {other.entry.number}" in told
    )
    ledger.undo(other.entry.number)
    ledger.undo(entry)
    assert ledger.state().jobs[1].state == "set aside"
    assert check_ledger(ledger).faults == ()


def test_a_correction_that_says_nothing_new_records_nothing(ledger: Ledger) -> None:
    """A size turned is new; the same size, grade and direction are not."""
    before = ledger.path.read_bytes()
    assert correct(ledger, 1, size=size("14 x 32"), grade="cotton", directed=True).number == 0
    assert ledger.path.read_bytes() == before
    assert correct(ledger, 1, size=size("32 x 14")).number == 3
    take(ledger, [1], "lost")
    told = refusal(lambda: correct(ledger, 1, grade="cotton"))
    back = "`kerfwright ledger correct 1 --found` puts it back"
    assert told == f"offcut 1 is not there: lost; {back}"
