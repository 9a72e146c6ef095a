"""Slips that a person makes at the ledger: each is told, and none is taken for something else."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from conftest import Command
from racks import BOARD, SMALL_ORDER, booked, mats, measured, order, planned, size

import kerfwright as kw
from kerfwright.ledger import Ledger, book_cut, check_ledger, set_aside
from kerfwright.ledger.exchange import export_csv, import_csv, parse_edges, read_count
from kerfwright.ledger.jobs import job_named
from kerfwright.ledger.rack import (
    Found,
    add_offcuts,
    add_sheets,
    correct,
    count_rack,
    describe_board,
    find_again,
    move,
    take,
)

# --- tables -------------------------------------------------------------------------------------

STRAY = {
    "a comma too many": (
        "size,board,edges\n14 x 32,rag,left 1/4, top 1/2\n",
        "row 2: 'top 1/2' stands in column 4, which has no name",
    ),
    "no name over it": ("size,board,\n14 x 32,rag,left 1/4\n", "'left 1/4' stands in column 3"),
    "a name twice": ("size,board,size\n14 x 32,rag,10 x 12\n", "column 'size' stands there twice"),
}


@pytest.mark.parametrize("how", STRAY)
def test_a_cell_that_belongs_to_no_column_is_refused(how: str, rack: Ledger) -> None:
    """Nothing of it is lost in silence, and nothing of the file is taken in."""
    text, problem = STRAY[how]
    path = rack.path.with_name("more.csv")
    path.write_text(text)
    with pytest.raises(kw.InputError) as refused:
        import_csv(rack, path, kw.Unit.INCH)
    assert problem in str(refused.value)
    assert len(rack.state().offcuts) == 2


def test_a_count_with_a_cell_too_many_is_refused(rack: Ledger) -> None:
    """As a table of a rack is; empty cells at the end of a row are nothing."""
    path = rack.path.with_name("count.csv")
    path.write_text("number,place\n1,A1,14 x 31\n")
    with pytest.raises(kw.InputError, match="'14 x 31' stands in column 3"):
        read_count(path, kw.Unit.INCH)
    path.write_text("number,place\n1,A1,,\n")
    assert read_count(path, kw.Unit.INCH) == (Found(1, None, "A1"),)


# --- which job ----------------------------------------------------------------------------------


def test_a_folder_called_by_the_number_of_another_job(rack: Ledger, command: Command) -> None:
    """Neither is booked unasked; each can be named."""
    Path("3.toml").write_text(SMALL_ORDER.replace("qty = 3", "qty = 1"))
    for number in range(1, 4):
        booked(rack, order(mats("A", 1, "8 x 10"), name=f"order {number}"), f"/jobs/{number}")
    assert command("plan", "3.toml").status == 0
    for what in ("cut", "cancel"):
        ran = command("ledger", what, "3")
        told = " ".join(ran.err.split())
        assert ran.status == 2
        assert "3 is the number of a job (order 3), and a folder with the plan of job 4" in told
        assert 'Write "job 3" for the one, or 3/ for the other' in told
    assert {job.state for job in rack.state().jobs.values()} == {"set aside"}
    assert (job_named(rack, "job 3"), job_named(rack, "3/")) == (3, 4)


def test_a_folder_called_by_a_year_is_found(rack: Ledger, command: Command) -> None:
    """Where no job has the number the folder is meant."""
    Path("show.toml").rename("2026.toml")
    assert command("plan", "2026.toml").status == 0
    assert job_named(rack, "2026") == 1
    with pytest.raises(kw.LedgerError, match="there is no job 2027"):
        job_named(rack, "2027")


# --- corrections --------------------------------------------------------------------------------


def test_a_corrected_board_brings_its_own_grade(rack: Ledger) -> None:
    """What was known of the wrong board is not known of the right one."""
    describe_board(rack, "white pulp", grade=kw.Grade.WOOD_PULP, buffered=True)
    correct(rack, 1, board="cream")
    correct(rack, 2, board="white pulp")
    first, second = rack.state().offcuts.values()
    assert (first.grade, first.buffered) == (None, None)
    assert (second.grade, second.buffered) == (kw.Grade.WOOD_PULP, True)
    correct(rack, 1, board="white pulp", grade="cotton", buffered=False)
    first = rack.state().offcuts[1]
    assert (first.grade, first.buffered) == (kw.Grade.COTTON, False)
    assert check_ledger(rack).faults == ()


def test_a_corrected_board_is_told_with_its_grade(rack: Ledger, command: Command) -> None:
    """The answer says that the grade is another now."""
    assert rack.state().offcuts[1].grade is kw.Grade.COTTON
    told = command("ledger", "correct", 1, "--board", "cream").out
    assert "grade unknown, was cotton" in told


def test_bad_edges_that_leave_nothing_are_refused(rack: Ledger) -> None:
    """However they come about: said, or by a smaller size, corrected or counted."""
    edges = parse_edges("left 15", kw.Unit.INCH)
    add_offcuts(rack, [measured("16 x 20", edges=edges)])
    none = "leave nothing of offcut"
    with pytest.raises(kw.LedgerError, match=f"{none} 2, 16 x 20 in; nothing was recorded"):
        correct(rack, 2, edges=parse_edges("left 20", kw.Unit.INCH))
    with pytest.raises(kw.LedgerError, match=f"{none} 3, 15 x 20 in"):
        correct(rack, 3, size=size("15 x 20"))
    with pytest.raises(kw.LedgerError, match=f"{none} 3, 15 x 20 in"):
        count_rack(rack, [Found(1), Found(2), Found(3, size("15 x 20"))])


def test_that_no_edge_is_bad_has_a_word(rack: Ledger, command: Command) -> None:
    """It takes back what was said before."""
    command("ledger", "correct", 2, "--edges", "left 1/4")
    told = command("ledger", "correct", 2, "--edges", "none").out
    assert "bad edges none, were left 1/4 in" in told
    assert rack.state().offcuts[2].usable == size("16 x 20")
    assert rack.state().offcuts[2].board == BOARD


# --- taken in twice -----------------------------------------------------------------------------


def test_a_file_that_another_terminal_takes_in_first_is_refused(
    rack: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether it is there already is asked in the transaction that records it."""
    path = rack.path.with_name("more.csv")
    path.write_text("size,board\n20 x 20,rag\n")
    as_it_was = Ledger.record_seeing
    other = Ledger(rack.path)

    def slower(self: Ledger, drafts: object) -> object:
        monkeypatch.setattr(Ledger, "record_seeing", as_it_was)
        import_csv(other, path, kw.Unit.INCH)
        return as_it_was(self, drafts)  # type: ignore[arg-type]

    monkeypatch.setattr(Ledger, "record_seeing", slower)
    with pytest.raises(
        kw.LedgerError, match=r"more\.csv: the very same file was taken in as entry"
    ):
        import_csv(rack, path, kw.Unit.INCH)
    assert len(rack.state().offcuts) == 3


# --- sheets that the order knows, and sheets that it does not -----------------------------------


def test_sheets_on_hand_that_the_ledger_has_not_heard_of(rack: Ledger, command: Command) -> None:
    """They are refused as offcuts are; once added the ledger counts, and the plan says so."""
    blue = SMALL_ORDER.replace(BOARD, "blue").replace(
        'price = "21.50"', "on_hand = 4, buyable = false"
    )
    Path("show.toml").write_text(blue)
    refused = command("plan", "show.toml")
    told = " ".join(refused.err.split())
    assert refused.status == 2
    assert "the ledger has never heard of them: 4 of 32 x 40 in of 'blue'" in told
    assert 'kerfwright ledger add "32 x 40 in" --board "blue" --sheets --qty 4' in told
    assert rack.state().jobs == {}
    command("ledger", "add", "32 x 40", "--board", "blue", "--sheets", "--qty", 3)
    planned = command("plan", "show.toml")
    assert planned.status == 0, planned.err
    told = " ".join(planned.out.split())
    assert "By the ledger 3 are free, and the ledger counts" in told
    assert "1 full sheet" in command("ledger", "jobs").out
    assert "booked in as bought" not in command("ledger", "cut", "show").out


def test_sheets_that_are_passed_over_are_named(rack: Ledger, command: Command) -> None:
    """A size typed the other way round, and one without a price."""
    turned = command("ledger", "add", "40 x 32", "--board", BOARD, "--sheets", "--qty", 2)
    assert "is known in 32 x 40 in already" in " ".join(turned.out.split())
    command("ledger", "add", "40 x 60", "--board", BOARD, "--sheets")
    text = Path("show.toml").read_text()
    Path("show.toml").write_text(text.replace("[[mat]]", "[[mat]]\nturn = false", 1))
    told = " ".join(command("plan", "show.toml").out.split())
    assert f"2 full sheets of {BOARD}, 40 x 32 in, are on the rack and not used" in told
    assert "They are listed the other way round." in told
    assert f"1 full sheet of {BOARD}, 40 x 60 in, is on the rack and not used" in told
    command("ledger", "board", BOARD, "--size", "40 x 60", "--price", "40")
    told = " ".join(command("plan", "show.toml").out.split())
    assert "40 x 60 in, is on the rack and not used" not in told
    assert rack.state().sheets[BOARD, size("40 x 60")] == 1


@pytest.mark.usefixtures("rack")
def test_a_board_in_other_capitals_is_named(command: Command) -> None:
    """It is another board, and that is said when it is added and when it is passed over."""
    added = command("ledger", "add", "20 x 20", "--board", "Warm White Rag")
    assert f"There is a board {BOARD} already" in " ".join(added.out.split())
    assert "There is a board" not in command("ledger", "add", "9 x 9", "--board", BOARD[:9]).out
    told = " ".join(command("plan", "show.toml").out.split())
    assert f"The rack has Warm White Rag, too, which is not used, since the order says {BOARD}" in (
        told
    )


# --- what is told as recorded -------------------------------------------------------------------

MEDDLING = {
    "nothing comes in": (
        "CREATE TRIGGER z BEFORE INSERT ON events BEGIN SELECT RAISE(IGNORE); END",
        "a trigger z was put in",
    ),
    "the end stays": (
        "DROP TRIGGER the_end_moves_on",
        "the trigger the_end_moves_on was taken out",
    ),
}


@pytest.mark.parametrize("how", MEDDLING)
def test_what_the_file_does_not_keep_is_not_told_as_recorded(how: str, rack: Ledger) -> None:
    """Nor is a ledger made unreadable by recording in it."""
    statement, why = MEDDLING[how]
    connection = sqlite3.connect(rack.path)
    connection.execute(statement)
    connection.close()
    before = rack.events()
    with pytest.raises(kw.LedgerError, match=f"did not keep what was written.*{why}"):
        add_offcuts(rack, [measured("20 x 20")])
    assert rack.events() == before


# --- grade, buffering and counts ----------------------------------------------------------------


def test_an_offcut_of_unknown_grade_may_be_buffered(rack: Ledger, command: Command) -> None:
    """As one that was tested; what is not said of it stays unknown, whatever its board is."""
    describe_board(rack, BOARD, buffered=True)
    command("ledger", "add", "9 x 9", "--board", BOARD, "--grade", "unknown", "--buffered", "no")
    command("ledger", "add", "9 x 9", "--board", BOARD, "--grade", "unknown")
    third, fourth = list(rack.state().offcuts.values())[2:]
    assert (third.grade, third.buffered) == (None, False)
    assert (fourth.grade, fourth.buffered) == (None, None)


def test_an_exported_rack_comes_in_however_much_there_is(rack: Ledger) -> None:
    """More sheets of a size than one row of offcuts may list, and what is buffered as it was."""
    for _ in range(2):
        add_sheets(rack, "blue", size("32 x 40"), 9_000)
    correct(rack, 2, grade="unknown", buffered=True)
    path = rack.path.with_name("all.csv")
    path.write_text(export_csv(rack))
    other = Ledger(rack.path.with_name("other.db"))
    other.begin()
    import_csv(other, path, kw.Unit.INCH)
    assert other.state().sheets["blue", size("32 x 40")] == 18_000
    assert (other.state().offcuts[2].grade, other.state().offcuts[2].buffered) == (None, True)


def test_two_rows_of_a_count_for_one_number(rack: Ledger) -> None:
    """Alike they are one; otherwise one of them is a slip of the pencil."""
    path = rack.path.with_name("count.csv")
    path.write_text("number,size,place\n1,14 x 32,A1\n1,13 x 32,B7\n")
    with pytest.raises(
        kw.InputError, match=r"row 3.*stands in count\.csv, row 2, too, with another"
    ):
        read_count(path, kw.Unit.INCH)
    path.write_text("number,place\n1,A1\n1,A1\n12345,A1\n")
    assert {one.number for one in read_count(path, kw.Unit.INCH)} == {1, 12345}
    with pytest.raises(kw.LedgerError, match="offcut 1 was counted twice"):
        count_rack(rack, [Found(1), Found(2), Found(1, size("13 x 32"))])


# --- told otherwise the second time -------------------------------------------------------------


@pytest.mark.usefixtures("rack")
def test_drop_outs_told_otherwise_are_not_passed_over(command: Command) -> None:
    """Another size, fewer, or another place: the message says how to put it right."""
    command("plan", "show.toml")
    command("ledger", "cut", "show", "--drop-out", "A=11 x 14")
    other = command("ledger", "cut", "show", "--drop-out", "A=10 x 12")
    told = " ".join(other.err.split())
    assert other.status == 2
    assert "(4, 5, 6): 4 as 11 x 14 in, and not 10 x 12 in; nothing was recorded" in told
    assert '`kerfwright ledger correct 4 --size "10 x 12 in"` corrects it' in told
    fewer = command("ledger", "cut", "show", "--drop-out", "A=2 of 11 x 14")
    assert "(4, 5, 6): 3, and not 2; nothing was recorded" in " ".join(fewer.err.split())
    assert command("ledger", "correct", 4, "--size", "10 x 12").status == 0
    again = command("ledger", "cut", "show", "--drop-out", "A=11 x 14", "--place", "C 2")
    assert "nothing was recorded" in again.out
    assert 'kerfwright ledger move 3 4 5 6 --to "C 2"' in " ".join(again.out.split())


def test_a_plan_says_which_job_it_replaces(rack: Ledger, command: Command) -> None:
    """That it is cancelled is no secret, whichever order it was of."""
    assert "Instead of job" not in command("plan", "show.toml").out
    Path("other.toml").write_text(SMALL_ORDER.replace("qty = 3", "qty = 1"))
    told = " ".join(command("plan", "other.toml", "--out", "show").out.split())
    assert "Instead of job 1 (show), which had this folder and is cancelled" in told
    assert rack.state().jobs[1].state == "cancelled"


# --- bad edges, numbers and files that changed --------------------------------------------------


@pytest.mark.parametrize("when", ["set aside", "planned"])
def test_a_bad_edge_that_is_another_is_noticed(when: str, rack: Ledger) -> None:
    """The usable size is the same, and the pages would have the good edge cut off."""
    left, right = (parse_edges(f"{side} 1/16", kw.Unit.INCH) for side in ("left", "right"))
    correct(rack, 2, size=size("16 1/16 x 20"), edges=left)
    offer, plan = planned(rack, order(mats("A", 1, "16 x 20")), "/jobs/show")
    if when == "planned":
        correct(rack, 2, edges=right)
        with pytest.raises(kw.LedgerError, match=r"with bad edges left 1/16 in.*and now.*right"):
            set_aside(rack, offer, plan)
        return
    job = set_aside(rack, offer, plan).job.number
    correct(rack, 2, edges=right)
    with pytest.raises(kw.LedgerError, match="has other bad edges than the pages say: right 1/16"):
        book_cut(rack, job)
    correct(rack, 2, edges=left)
    assert book_cut(rack, job).entry.number


def test_a_number_that_is_void_is_to_be_rubbed_out(rack: Ledger, command: Command) -> None:
    """Undo says so, and so does the same job booked again, and a count that reads it."""
    command("plan", "show.toml")
    assert "new offcut 3: " in command("ledger", "cut", "show").out
    undone = command("ledger", "undo").out
    assert "Rub out the number 3: no offcut gets it again." in " ".join(undone.split())
    again = " ".join(command("ledger", "cut", "show", "--place", "C1").out.split())
    assert "new offcut 4 (was 3 before the undo: rub that out): " in again
    entry = rack.events()[-1].entry - 1
    counted = command("ledger", "count", 1, 3)
    assert f"its coming was undone by entry {entry}" in " ".join(counted.err.split())


def test_a_job_whose_plan_is_not_in_its_folder_is_marked(rack: Ledger, command: Command) -> None:
    """Where its files were never written, or the folder holds another plan's."""
    command("plan", "show.toml")
    assert "not in that folder" not in command("ledger", "jobs").out
    folder = Path("show").absolute()
    booked(rack, order(mats("A", 1, "8 x 10")), str(folder))
    told = command("ledger", "jobs").out
    assert "its plan is not in that folder: plan it again, or `kerfwright ledger cancel 2`" in told
    assert '"plan_there": false' in command("ledger", "jobs", "--json").out


def test_a_refused_undo_is_short(rack: Ledger) -> None:
    """However much rests on the entry; what it names to be undone first can be."""
    for place in range(60):
        move(rack, [1], f"B{place}")
    with pytest.raises(kw.LedgerError) as refused:
        rack.undo(2)
    told = str(refused.value)
    assert len(told) < 700
    assert "in this order: 3, 4, 5," in told
    assert "and then what the next refusal names" in told
    assert "; and 14 more" in told
    rack.undo(3)


def test_an_undo_with_a_long_chain_after_it_is_refused(rack: Ledger) -> None:
    """Lost and found in turn: each rests on the one before."""
    for _ in range(30):
        take(rack, [1], "lost")
        find_again(rack, 1)
    with pytest.raises(kw.LedgerError, match="much came after it and rests on it"):
        rack.undo(3)


TURNED = """
[[board]]
name = "blue"
sheets = [ { size = "32 x 40" } ]
[[mat]]
label = "A"
qty = 8
size = "16 x 20"
board = "blue"
"""


@pytest.mark.parametrize(
    "sheets",
    [
        'sheets = [ { size = "32 x 40" } ]',
        'sheets = [ { size = "32 x 40", price = "20" } ]',
        'sheets = [ { size = "32 x 40", on_hand = 4, buyable = false } ]',
        "",
    ],
    ids=["listed", "priced", "on hand", "none"],
)
def test_sheets_typed_the_other_way_round_are_not_bought_again(
    rack: Ledger, command: Command, sheets: str
) -> None:
    """Of a board with no direction a sheet of 40 x 32 is one of 32 x 40: both come off the rack."""
    command("ledger", "add", "40 x 32", "--board", "blue", "--sheets", "--qty", 4)
    text = TURNED.replace('sheets = [ { size = "32 x 40" } ]', sheets)
    Path("show.toml").write_text(text)
    ran = command("plan", "show.toml")
    assert ran.status == 0, ran.err
    told = " ".join(ran.out.split())
    assert "2 full sheets, 40 x 32 in: 2 on hand" in told
    assert "its sheets of 32 x 40 in are those that the ledger has as 40 x 32 in" in told
    assert "bought" not in command("ledger", "cut", "show").out
    assert rack.state().sheets["blue", size("40 x 32")] == 2
    assert rack.state().sheets["blue", size("32 x 40")] == 0
    assert command("ledger", "check").status == 0


@pytest.mark.parametrize(
    "why",
    ['name = "blue"\nno_turn = true', 'name = "blue"\ntrim = { left = "1/4" }', "turn = false"],
    ids=["direction", "trim", "piece"],
)
def test_a_sheet_with_a_right_way_round_is_not_turned(
    rack: Ledger, command: Command, why: str
) -> None:
    """Then the two sizes are two things; what stays on the rack while others are bought is told."""
    command("ledger", "add", "40 x 32", "--board", "blue", "--sheets", "--qty", 4)
    name = 'name = "blue"' if "blue" in why else 'label = "A"'
    text = TURNED.replace(name, why if "blue" in why else f"{name}\n{why}", 1)
    Path("show.toml").write_text(text.replace("16 x 20", "17 x 22"))
    ran = command("plan", "show.toml")
    assert ran.status == 0, ran.err
    assert "are those that the ledger has as" not in " ".join(ran.out.split())
    Path("show.toml").write_text(text.replace('"32 x 40" }', '"32 x 40", on_hand = 4 }'))
    told = " ".join(command("plan", "show.toml", "--out", "other").err.split())
    assert "are they the 4 of 40 x 32 in of 'blue' that it has, the other way round" in told
    assert rack.state().sheets["blue", size("40 x 32")] == 4


@pytest.mark.parametrize("price", ["", ', price = "20"'], ids=["no price", "priced"])
@pytest.mark.parametrize("there", [(1, 1), (1, 3), (3, 1)], ids=["1 and 1", "1 and 3", "3 and 1"])
def test_sheets_on_hand_either_way_round_are_taken_before_one_is_bought(
    rack: Ledger, command: Command, there: tuple[int, int], price: str
) -> None:
    """A board has no direction, and its sheets were typed both ways: all of them are sheets."""
    upright, turned = there
    command("ledger", "add", "32 x 40", "--board", "blue", "--sheets", "--qty", upright)
    command("ledger", "add", "40 x 32", "--board", "blue", "--sheets", "--qty", turned)
    few = TURNED.replace("qty = 8", f"qty = {4 * sum(there)}").replace(
        '"32 x 40"', f'"32 x 40"{price}'
    )
    Path("show.toml").write_text(few)
    ran = command("plan", "show.toml")
    assert ran.status == 0, ran.err
    assert "to buy" not in ran.out
    held = dict(rack.state().jobs[1].sheets)
    assert held == {("blue", size("32 x 40")): upright, ("blue", size("40 x 32")): turned}
    assert "bought" not in command("ledger", "cut", "show").out
    left = {name: count for (name, _), count in rack.state().sheets.items() if count}
    assert "blue" not in left
    assert command("ledger", "check").status == 0


@pytest.mark.usefixtures("rack")
def test_an_order_may_count_sheets_that_lie_the_other_way_round(
    command: Command,
) -> None:
    """The order says that three are on hand; the ledger has two of them turned, and is believed."""
    command("ledger", "add", "32 x 40", "--board", "blue", "--sheets", "--qty", 1)
    command("ledger", "add", "40 x 32", "--board", "blue", "--sheets", "--qty", 2)
    Path("show.toml").write_text(TURNED.replace('"32 x 40" }', '"32 x 40", on_hand = 3 }'))
    ran = command("plan", "show.toml")
    assert ran.status == 0, ran.err
    assert "The order says that" not in ran.out
    Path("show.toml").write_text(TURNED.replace('"32 x 40" }', '"32 x 40", on_hand = 4 }'))
    told = " ".join(command("plan", "show.toml").out.split())
    assert "By the ledger 3 are free, and the ledger counts." in told


def test_that_none_is_there_can_be_said_of_a_size_never_heard_of(
    rack: Ledger, command: Command
) -> None:
    """The order counts on four; the message names the count, and after it the ledger counts."""
    Path("show.toml").write_text(TURNED.replace('"32 x 40" }', '"32 x 40", on_hand = 4 }'))
    refused = " ".join(command("plan", "show.toml").err.split())
    none = ("ledger", "count", "--sheets", 0, "--board", "blue", "--size", "32 x 40 in")
    assert 'kerfwright ledger count --sheets 0 --board "blue" --size "32 x 40 in"' in refused
    assert "0 full sheets are there" in command(*none).out
    assert "So many are in the ledger" in command(*none).out
    told = " ".join(command("plan", "show.toml").out.split())
    assert "2 to buy" in told
    assert "By the ledger none are free" in told
    assert check_ledger(rack).faults == ()
    assert "blue" not in command("ledger", "list").out


def test_a_table_tells_what_looks_like_a_slip(rack: Ledger, command: Command) -> None:
    """As `ledger add` does, each thing once; all of it is taken in."""
    rows = f"size,board,kind,qty\n40 x 32,{BOARD},sheet,4\n9 x 12,{BOARD.upper()},,1\n"
    Path("more.csv").write_text(f"{rows}9 x 14,{BOARD.upper()},,1\n")
    ran = command("ledger", "import", "more.csv")
    told = " ".join(ran.out.split())
    assert ran.status == 0, ran.err
    assert told.count(f"There is a board {BOARD} already") == 1
    assert "change the name in the table, and import that" in told
    assert told.count(f"{BOARD} is known in 32 x 40 in already") == 1
    assert rack.state().sheets[BOARD, size("40 x 32")] == 4


@pytest.mark.usefixtures("rack")
@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (("slips", "--windows", "0"), "0 windows are not cut over one slip sheet; say a number"),
        (("slips", "--windows", "1001"), "say a number from 1 to 1,000"),
        (("slips", "--windows", "ten"), "'ten' is no number of windows; say a whole number"),
        (("count", "3.5"), "'3.5' is no offcut's number; give the numbers of what is there"),
        (("count", "1", "x"), "'x' is no offcut's number"),
        (("count", "rack.txt"), "or one .csv file"),
        (("count", "none.csv"), "none.csv: cannot be read"),
    ],
)
def test_what_is_no_number_is_said_in_plain_words(
    command: Command, asked: tuple[str, ...], told: str
) -> None:
    """Each says what would be accepted, and nothing is recorded."""
    ran = command("ledger", *asked)
    assert ran.status == 2
    assert told in " ".join(ran.err.split())


def test_sheets_that_stay_while_others_are_bought_are_named(rack: Ledger, command: Command) -> None:
    """Of a board with a direction one is bought, and one stands there turned."""
    command("ledger", "add", "32 x 40", "--board", "blue", "--sheets", "--qty", 1)
    command("ledger", "add", "40 x 32", "--board", "blue", "--sheets", "--qty", 1)
    text = TURNED.replace('name = "blue"', 'name = "blue"\nno_turn = true', 1)
    Path("show.toml").write_text(text)
    told = " ".join(command("plan", "show.toml").out.split())
    assert dict(rack.state().jobs[1].sheets) == {("blue", size("32 x 40")): 1}
    told_of = "Of blue full sheets stay on the rack (1 of 40 x 32 in), though some are to be bought"
    assert f"{told_of} (1 of 32 x 40 in)." in told


def test_sheets_that_another_job_holds_are_said_to_be_held(rack: Ledger, command: Command) -> None:
    """Whoever takes them off by hand, or plans with the order's own count, is told of the job."""
    command("plan", "show.toml")
    ran = command("ledger", "take", "--sheets", 5, "--board", BOARD, "--size", "32 x 40")
    assert ran.status == 2
    assert "there are only 4 free sheets" in ran.err
    assert "1 is set aside for job 1" in " ".join(ran.err.split())
    Path("other.toml").write_text(
        f'[[board]]\nname = "{BOARD}"\ngrade = "cotton"\n'
        'sheets = [ { size = "32 x 40", on_hand = 5, buyable = false } ]\n'
        f'[[mat]]\nlabel = "B"\nqty = 5\nsize = "30 x 38"\nboard = "{BOARD}"\n'
    )
    ran = command("plan", "other.toml")
    assert ran.status == 1
    assert "By the ledger 4 are free, and the ledger counts." in " ".join(ran.err.split())
    assert "`kerfwright ledger jobs --all` lists them" in command("ledger", "cut", "77").err
    assert rack.state().jobs[1].state == "set aside"


def test_a_copy_of_a_table_is_the_same_file(rack: Ledger, command: Command) -> None:
    """Its content tells, whatever its name."""
    for name in ("rack.csv", "copy of rack.csv"):
        Path(name).write_text("size,board\n14 x 32,rag\n")
    assert command("ledger", "import", "rack.csv").status == 0
    ran = command("ledger", "import", "copy of rack.csv")
    assert ran.status == 2
    assert "copy of rack.csv: the very same file was taken in as entry" in ran.err
    assert command("ledger", "import", "copy of rack.csv", "--again").status == 0
    assert len([one for one in rack.state().offcuts.values() if one.board == "rag"]) == 2
