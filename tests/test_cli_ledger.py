"""The ledger's commands: each says what it did, and a mistake is one clear message."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from pathlib import Path

import pytest
from conftest import Command, Ran
from racks import BOARD, SMALL_ORDER, small_ledger

import kerfwright as kw
from kerfwright.ledger.exchange import import_csv, import_json
from kerfwright.makes import what_they_make

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture
def rack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a ledger named by the environment, with an order beside it; the folder is the own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(tmp_path / "rack.db"))
    (tmp_path / "show.toml").write_text(SMALL_ORDER)
    return small_ledger(tmp_path / "rack.db").path


def told(ran: Ran) -> dict[str, object]:
    """Return the answer for a program."""
    assert ran.status == 0, ran.err
    answer: dict[str, object] = json.loads(ran.out)
    return answer


@pytest.mark.usefixtures("rack")
def test_the_loop_is_closed(command: Command) -> None:
    """Plan, cut, and what is left is on the rack; a second `cut` records nothing."""
    planned = command("plan", "show.toml")
    assert planned.status == 0, planned.err
    assert "Job 1: offcut 2 set aside. When it is cut: kerfwright ledger cut 1" in planned.out
    assert "1 full sheet, 32 x 40 in: 1 on hand" in planned.out
    assert "Offcut 1, 14 x 32 in: too small for any piece ordered of its board." in planned.out
    assert "Job 1, show, is cut" in command("ledger", "cut", "show", "--place", "C1").out
    assert "nothing was recorded" in command("ledger", "cut", "show/plan.json").out
    assert [one["number"] for one in told(command("ledger", "list", "--json"))["offcuts"]] == [1, 3]  # type: ignore[attr-defined]
    assert command("ledger", "check").status == 0


@pytest.mark.usefixtures("rack")
def test_the_summary_for_programs_has_the_ledger(command: Command) -> None:
    """The job, what is set aside, and why the rest stays."""
    ledger = told(command("plan", "show.toml", "--json"))["ledger"]
    assert isinstance(ledger, dict)
    assert (ledger["job"], ledger["offcuts"], ledger["slip_sheets_needed"]) == (1, [2], 1)
    assert ledger["untouched"] == [
        {"offcut": 1, "why": "too small for any piece ordered of its board"}
    ]


def test_files_that_cannot_be_written_take_the_setting_aside_back(
    rack: Path, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a failure to write, nothing is set aside."""
    import kerfwright.outputs as outputs

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(outputs, "_put_in_place", full)
    ran = command("plan", "show.toml")
    assert ran.status == 2
    assert "No space left on device" in ran.err
    state = kw.Ledger(rack).state()
    assert [kept.state for kept in state.offcuts.values()] == ["on the rack"] * 2
    assert state.jobs == {}
    assert kw.check_ledger(kw.Ledger(rack)).faults == ()


def test_without_a_ledger_the_plan_is_what_it_was(rack: Path, command: Command) -> None:
    """With --no-ledger no ledger is asked or written to."""
    before = rack.read_bytes()
    ran = command("plan", "show.toml", "--no-ledger")
    assert "set aside" not in ran.out
    assert rack.read_bytes() == before


def test_a_ledger_named_that_is_not_there_is_refused(rack: Path, command: Command) -> None:
    """A slip in its name does not plan past the rack."""
    ran = command("plan", "show.toml", "--ledger", rack.with_name("rakc.db"))
    assert ran.status == 2
    assert "there is no ledger; `kerfwright ledger begin` makes one" in ran.err
    assert not Path("show").exists()


@pytest.mark.usefixtures("rack")
def test_a_life_is_shown(command: Command) -> None:
    """Each event of an offcut in a line; an undone one is marked."""
    command("ledger", "move", 1, "--to", "B3")
    command("ledger", "take", 1, "--why", "given-away", "--note", "to the school")
    command("ledger", "undo")
    shown = command("ledger", "show", 1).out
    assert "at B3" in shown
    assert re.search(r"given away, 14 x 32 in, to the school  \(undone\)", shown)


@pytest.mark.usefixtures("rack")
def test_a_life_names_its_job_once(command: Command) -> None:
    """Of what a job made the layout is told with the job, and the job not twice."""
    command("plan", "show.toml")
    command("ledger", "cut", "show", "--place", "C1")
    (made,) = [line for line in command("ledger", "show", 3).out.splitlines() if "made" in line]
    assert re.search(r"made, 16 x 40 in, at C1, job 1, layout L2$", made)


@pytest.mark.usefixtures("rack")
def test_a_life_that_was_undone_is_shown_too(command: Command) -> None:
    """Its events are there, marked; a number that was never given has none."""
    command("ledger", "add", "20 x 20", "--board", BOARD)
    command("ledger", "undo")
    shown = command("ledger", "show", 3)
    assert "its coming was undone" in shown.out
    assert "added, 20 x 20 in, measured by hand  (undone)" in shown.out
    assert command("ledger", "show", 4).status == 2


@pytest.mark.usefixtures("rack")
def test_the_list_is_filtered(command: Command) -> None:
    """By board, by what it holds, by place and by age."""
    command("ledger", "add", "8 x 10", "--board", "black core")

    def numbers(*options: object) -> list[int]:
        offcuts = told(command("ledger", "list", "--json", *options))["offcuts"]
        assert isinstance(offcuts, list)
        return [one["number"] for one in offcuts]

    assert numbers() == [1, 2, 3]
    assert numbers("--board", "RAG") == [1, 2]
    assert numbers("--holds", "20 x 15") == [2]
    assert numbers("--place", "A1") == [1]
    assert numbers("--older", 1) == []


@pytest.mark.usefixtures("rack")
def test_a_rack_in_a_csv_is_taken_in_once(command: Command) -> None:
    """Its rows get the next numbers; the very same file again is refused, unless asked for."""
    Path("more.csv").write_text(
        "size,board,qty,grade,direction,edges,place\n"
        "14 x 20,black core,2,cotton,,,D1\n"
        "300 x 400 mm,black core,,unknown,unknown,left 5 mm,\n"
    )
    assert "3 offcuts, numbered 3 to 5" in command("ledger", "import", "more.csv").out
    again = command("ledger", "import", "more.csv")
    assert (again.status, "the very same file was taken in" in again.err) == (2, True)
    assert command("ledger", "import", "more.csv", "--again").status == 0
    assert command("ledger", "check").status == 0


@pytest.mark.usefixtures("rack")
def test_every_fault_of_a_csv_is_told(command: Command) -> None:
    """With row, column and what would do; nothing is taken in."""
    Path("bad.csv").write_text("size,board,grade\n14 x,black core,\n8 x 10,,coton\n")
    ran = command("ledger", "import", "bad.csv")
    assert ran.status == 2
    assert "bad.csv, row 2: size '14 x' is not a size" in ran.err
    assert "bad.csv, row 3: board is missing" in ran.err
    assert "bad.csv, row 3: grade 'coton' is not a known grade; write cotton" in ran.err
    Path("bad.csv").write_text("sise,board\n")
    assert (
        "column 'sise' is not known; did you mean size?"
        in command("ledger", "import", "bad.csv").err
    )
    assert len(told(command("ledger", "list", "--json"))["offcuts"]) == 2  # type: ignore[arg-type]


@pytest.mark.usefixtures("rack")
def test_what_is_exported_can_be_taken_in(command: Command, tmp_path: Path) -> None:
    """As JSON everything comes back, event for event; as CSV the sizes are exact."""
    command("ledger", "add", "16.1 x 20.3", "--board", BOARD)
    command("ledger", "export", "all.json")
    copy = kw.Ledger(tmp_path / "copy.db")
    copy.begin()
    assert import_json(copy, Path("all.json")) == len(copy.events())
    assert copy.events() == kw.Ledger(tmp_path / "rack.db").events()
    assert kw.check_ledger(copy).faults == ()
    command("ledger", "export", "rack.csv")
    header, *rows = Path("rack.csv").read_text().splitlines()
    assert header.startswith("number,kind,state,size,board")
    assert rows[2].startswith("3,offcut,on the rack,161/10 in x 203/10 in,")
    assert "is there already" in command("ledger", "export", "rack.csv").err
    other = kw.Ledger(tmp_path / "other.db")
    other.begin()
    import_csv(other, Path("rack.csv"), kw.Unit.INCH)
    sizes = [[kept.size for kept in one.state().offcuts.values()] for one in (copy, other)]
    assert sizes[0] == sizes[1]
    assert other.state().offcuts[3].source.startswith("measured by hand; numbered 3 before")


@pytest.mark.usefixtures("rack")
def test_a_changed_export_is_refused(command: Command, tmp_path: Path) -> None:
    """Its chain is checked before anything is taken in."""
    command("ledger", "export", "all.json")
    text = Path("all.json").read_text()
    Path("all.json").write_text(text.replace('"A1"', '"Z1"'))
    copy = kw.Ledger(tmp_path / "copy.db")
    copy.begin()
    with pytest.raises(kw.InputError, match="was changed after it was recorded"):
        import_json(copy, Path("all.json"))
    assert copy.events() == ()


@pytest.mark.usefixtures("rack")
def test_a_count_by_numbers_or_file(command: Command) -> None:
    """What is not named is lost; a file can say sizes as well."""
    assert "lost: 1" in command("ledger", "count", 2).out
    Path("count.csv").write_text("number,size,place\n1,13 x 32,\n2,,B1\n")
    assert "found: 1" in command("ledger", "count", "count.csv").out
    (first, second) = kw.Ledger(kw.default_path()).state().offcuts.values()
    assert (str(first.size), second.place) == ("13 x 32 in", "B1")


@pytest.mark.usefixtures("rack")
def test_a_summary_has_area_money_and_age(command: Command) -> None:
    """448 and 320 sq in of offcuts, at 21.50 for 1280: 12.90."""
    command("ledger", "add", "32 x 40", "--board", BOARD, "--sheets", "--price", "21.50")
    out = command("ledger", "summary").out
    assert "6 full sheets, 7,680 sq in (4.95 m²), worth 129.00\n" in out
    assert "2 offcuts, 768 sq in (0.50 m²), worth 12.90, the oldest 0 days old" in out


@pytest.mark.usefixtures("rack")
def test_labels_are_drawn(command: Command) -> None:
    """One PDF, over nothing that is there."""
    assert command("ledger", "labels", "--out", "labels.pdf").status == 0
    assert Path("labels.pdf").read_bytes().startswith(b"%PDF")
    assert "is there already" in command("ledger", "labels", "--out", "labels.pdf").err


def test_what_the_offcuts_make(rack: Path) -> None:
    """A 14 x 32 makes four of 8 x 14 (4 x 8 = 32), a 16 x 20 two side by side (2 x 8 = 16)."""
    size = kw.parse_size("8 x 14", kw.Unit.INCH)
    (made,) = what_they_make(kw.Ledger(rack).state(), [size])
    assert (made.count, made.offcuts) == (6, ((1, 4), (2, 2)))


MISTAKES = {
    "no such offcut": (("ledger", "show", 99), "there is no offcut 99"),
    "no such job": (("ledger", "cut", 9), "there is no job 9"),
    "no plan": (("ledger", "cut", "nowhere"), "nowhere: cannot be read"),
    "size": (("ledger", "add", "14 x", "--board", "b"), "size '14 x' is not a size"),
    "grade": (("ledger", "add", "1 x 1", "--board", "b", "--grade", "x"), "is not a known grade"),
    "edges": (("ledger", "add", "1 x 1", "--board", "b", "--edges", "up 2"), "left 1/4, top 1/2"),
    "all edge": (("ledger", "add", "1 x 1", "--board", "b", "--edges", "left 2"), "leave nothing"),
    "nothing to correct": (("ledger", "correct", 1), "nothing is given to correct"),
    "nothing to take": (("ledger", "take"), "name offcuts by number"),
    "too many sheets": (
        ("ledger", "take", "--sheets", 9, "--board", BOARD, "--size", "32 x 40"),
        "there are only 5 free sheets",
    ),
    "count": (("ledger", "count"), "give the numbers of what is there"),
    "export": (("ledger", "export", "x.txt"), "neither .csv nor .json"),
    "both": (("plan", "show.toml", "--ledger", "x", "--no-ledger"), "exclude one another"),
    "not lost": (("ledger", "correct", 1, "--found"), "offcut 1 is not lost"),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_told_and_nothing_recorded(mistake: str, rack: Path, command: Command) -> None:
    """One message, status 2, and the ledger is as it was."""
    arguments, message = MISTAKES[mistake]
    before = rack.read_bytes()
    ran = command(*arguments)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert "Traceback" not in ran.err
    assert rack.read_bytes() == before


def test_a_ledger_that_is_not_whole_fails_its_check(rack: Path, command: Command) -> None:
    """Status 1, with every fault."""
    connection = sqlite3.connect(rack)
    connection.execute("DROP TRIGGER events_are_never_changed")
    connection.execute("UPDATE events SET count = 6 WHERE event = 'sheets in'")
    connection.commit()
    connection.close()
    ran = command("ledger", "check")
    assert ran.status == 1
    assert "event 1 was changed after it was recorded" in ran.err


def test_the_page_tells_the_story_as_any_tool_reads_it(tmp_path: Path) -> None:
    """The table in docs/ledger.md is what its query gives on the saved ledger."""
    path = tmp_path / "ledger.db"
    newest = max(
        (ROOT / "tests" / "data" / "ledgers").glob("schema-*.db"), key=lambda one: one.name
    )
    shutil.copy(newest, path)
    page = (ROOT / "docs" / "ledger.md").read_text(encoding="utf-8")
    query = re.search(r'sqlite3 -box ledger.db "(.*)"', page)
    assert query is not None
    connection = sqlite3.connect(path)
    rows = connection.execute(query[1]).fetchall()
    connection.close()
    lines = [
        [cell.strip() for cell in line.strip("│\n").split("│")]
        for line in page.splitlines()
        if line.startswith("│")
    ]
    assert lines[1:] == [["" if cell is None else str(cell) for cell in row] for row in rows]


def test_the_page_shows_a_trace_as_it_is(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two sheets, two offcuts, a job that is cut and one that is planned, a measure and a gift."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(tmp_path / "ledger.db"))
    Path("show.toml").write_text(SMALL_ORDER)
    Path("next.toml").write_text(SMALL_ORDER.replace("qty = 3", "qty = 1"))
    of = ("--board", BOARD)
    for line in (
        ("ledger", "begin"),
        ("ledger", "add", "32 x 40", *of, "--sheets", "--qty", 2),
        ("ledger", "add", "16 x 20", *of, "--grade", "cotton"),
        ("ledger", "add", "14 x 32", *of, "--grade", "cotton", "--place", "A1"),
        ("plan", "show.toml"),
        ("ledger", "cut", "show", "--place", "C2"),
        ("plan", "next.toml"),
        ("ledger", "correct", 2, "--size", "13 x 32"),
        ("ledger", "take", 2, "--why", "given-away"),
    ):
        assert command(*line).status == 0
    first, *shown, last = command("ledger", "check", "--trace").out.splitlines()
    assert first.startswith("19 events, none changed")
    assert last.startswith("Mark of this check, to write down: 19-")
    page = (ROOT / "docs" / "ledger.md").read_text(encoding="utf-8")
    assert "\n".join(["```text", *shown, "```"]) in page


def test_the_page_shows_how_from_python(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The example of docs/ledger.md runs."""
    page = (ROOT / "docs" / "ledger.md").read_text(encoding="utf-8")
    example = re.search(r"```python\n(.*?)```", page, re.DOTALL)
    assert example is not None
    (tmp_path / "sample_jobs").symlink_to(ROOT / "sample_jobs")
    monkeypatch.chdir(tmp_path)
    exec(compile(example[1], "docs/ledger.md", "exec"), {})  # noqa: S102  our own page
    assert (tmp_path / "science-fair" / "plan.json").is_file()


def test_a_folder_names_its_own_job(command: Command, tmp_path: Path) -> None:
    """Two jobs with the very same plan are told apart by their folders, cut once each."""
    usual = str(tmp_path / "empty.db")
    assert command("ledger", "begin", "--ledger", usual).status == 0
    (tmp_path / "show.toml").write_text(SMALL_ORDER)
    folders = [str(tmp_path / name) for name in ("a", "b")]
    for folder in folders:
        ran = command("plan", str(tmp_path / "show.toml"), "--out", folder, "--ledger", usual)
        assert ran.status == 0, ran.err
    assert "Job 1," in command("ledger", "cut", folders[0], "--ledger", usual).out
    assert "nothing was recorded" in command("ledger", "cut", folders[0], "--ledger", usual).out
    shutil.copytree(folders[1], tmp_path / "c")
    elsewhere = command("ledger", "cut", str(tmp_path / "c"), "--ledger", usual)
    assert elsewhere.status != 0
    assert "Give the job's number" in " ".join(elsewhere.err.split())
    assert "Job 2," in command("ledger", "cut", folders[1], "--ledger", usual).out


@pytest.mark.usefixtures("rack")
def test_an_empty_count_loses_nothing(command: Command, tmp_path: Path) -> None:
    """A table that lists no offcut is refused, and nothing is written down as lost."""
    (tmp_path / "count.csv").write_text("number,place\n")
    ran = command("ledger", "count", "count.csv")
    assert ran.status == 2
    assert "lists no offcut" in " ".join(ran.err.split())
    assert len(told(command("ledger", "list", "--json"))["offcuts"]) == 2  # type: ignore[arg-type]


@pytest.mark.usefixtures("rack")
def test_an_export_runs_no_formula(command: Command, tmp_path: Path) -> None:
    """A place that a spreadsheet would run as a formula is written as text."""
    ran = command("ledger", "add", "11 x 14", "--board", BOARD, "--place", "=1+1")
    assert ran.status == 0, ran.err
    assert command("ledger", "export", "rack.csv").status == 0
    assert ",'=1+1," in (tmp_path / "rack.csv").read_text()


@pytest.mark.usefixtures("rack")
def test_sheets_bought_after_all_are_one_command(command: Command) -> None:
    """The message names it, and it works as it is named."""
    assert command("plan", "show.toml").status == 0
    there = ("--board", BOARD, "--size", "32 x 40")
    assert command("ledger", "count", "--sheets", 0, *there).status == 0
    refused = command("ledger", "cut", "show")
    assert (refused.status, refused.out) == (2, "")
    named = re.search(r"`kerfwright (ledger cut 1 --bought)`", refused.err)
    assert named is not None
    out = command(*named[1].split()).out
    assert "1 full sheet, 32 x 40 in of warm white rag: not on the rack, so booked in" in out
    assert command("ledger", "check").status == 0


@pytest.mark.usefixtures("rack")
def test_offcuts_of_an_order_are_taken_in_by_one_command(command: Command) -> None:
    """The message names it with the files that were given; then the plan goes through."""
    Path("own.toml").write_text(SMALL_ORDER)
    listed = f'[[offcut]]\nboard = "{BOARD}"\nsize = "18 x 22"\nid = "7"\n'
    Path("my stock.toml").write_text(listed)
    asked = ("own.toml", "--stock", "my stock.toml")
    refused = command("plan", *asked)
    assert refused.status == 2
    assert '`kerfwright ledger import own.toml --stock "my stock.toml"` takes it in' in refused.err
    done = command("ledger", "import", *asked)
    assert "Pencil the new numbers on them: 3 (numbered 7 in my stock.toml) (entry 3)" in done.out
    again = command("ledger", "import", *asked)
    assert "All of them are in the ledger already; nothing was recorded." in again.out
    planned = command("plan", *asked)
    assert planned.status == 0, planned.err
    assert "7 is 3." in " ".join(planned.out.split())
    none = command("ledger", "import", "show.toml")
    assert (none.status, "lists no offcut" in none.err) == (2, True)


@pytest.mark.usefixtures("rack")
def test_a_board_is_described(command: Command) -> None:
    """What it is can be asked, written down and corrected."""
    assert command("ledger", "board", "nothing").err.startswith("the ledger has no board 'nothing'")
    assert "direction: not known" in command("ledger", "board", BOARD).out
    command(
        "ledger", "board", BOARD, "--grade", "wood-pulp", "--direction", "yes",
        "--price", "21.50", "--size", "32 x 40",
    )  # fmt: skip
    out = command("ledger", "board", BOARD).out
    assert "grade: wood-pulp" in out
    assert "direction: yes" in out
    assert "a sheet of 32 x 40 in costs 21.50" in out
    assert "Nothing new; nothing" in command("ledger", "board", BOARD, "--direction", "yes").out
    refused = command("plan", "show.toml").err
    named = re.search(r'`kerfwright ledger board "(.*)" (--grade cotton)`', refused)
    assert named is not None
    assert command("ledger", "board", named[1], *named[2].split()).status == 0
    assert command("plan", "show.toml").status == 0
    made = command("ledger", "makes", "14 x 16", "16 x 14").out
    assert made.splitlines() == [
        "warm white rag, cotton; none turned: the board has a direction",
        "    2 mats, 14 x 16 in, from offcut 1",
    ]


@pytest.mark.usefixtures("rack")
def test_a_life_says_what_was_corrected(command: Command) -> None:
    """From what to what."""
    changed = ("ledger", "correct", 1, "--size", "13 7/8 x 32", "--note", "a bent corner")
    assert "Offcut 1: size 13 7/8 x 32 in, was 14 x 32 in (entry 3)" in command(*changed).out
    assert "Nothing new; nothing was recorded." in command(*changed).out
    command("ledger", "correct", 1, "--grade", "wood-pulp", "--board", "black core")
    shown = command("ledger", "show", 1).out
    assert "measured, size 13 7/8 x 32 in, was 14 x 32 in, a bent corner" in shown
    assert f"corrected, no longer counted as {BOARD}" in shown
    assert f"board black core, was {BOARD}, grade wood-pulp, was cotton" in shown


@pytest.mark.usefixtures("rack")
def test_a_check_traces_all_board(command: Command) -> None:
    """Every line says what and where; the sum of the parts is said to be exact."""
    command("plan", "show.toml")
    command("ledger", "cut", "show", "--place", "C2")
    out = command("ledger", "check", "--trace").out
    assert "warm white rag, in square inches" in out
    assert "7,168 = 960 pieces + 6,208 there now: exact." in out
    assert "640  offcut 3, 16 x 40 in: at C2" in out
    assert "job 1, layout L2 was cut from 1,280 (1 full sheet, 32 x 40 in), and became" in out
    assert "640  2 pieces A, 16 x 20 in" in out
    traces = told(command("ledger", "check", "--trace", "--json"))["traces"]
    assert isinstance(traces, list)
    assert traces[0]["difference"] == 0
    mark = told(command("ledger", "check", "--json"))["mark"]
    assert command("ledger", "check", "--mark", mark).status == 0
    assert "is no mark" in command("ledger", "check", "--mark", "x").err
    other = f"{str(mark).partition('-')[0]}-000000000000"
    ran = command("ledger", "check", "--mark", other)
    assert (ran.status, "is not the one that was marked" in ran.err) == (1, True)


@pytest.mark.usefixtures("rack")
def test_an_undo_says_what_it_undid_or_why_not(command: Command) -> None:
    """In words for a person."""
    command("ledger", "move", 1, "--to", "B3")
    refused = command("ledger", "undo", 2)
    assert "entry 2 (offcuts 1, 2 added) cannot be undone yet: entry 3" in refused.err
    assert "Entry 3 no longer counts: offcut 1 moved to B3" in command("ledger", "undo").out
    assert "Entry 2 no longer counts: offcuts 1, 2 added" in command("ledger", "undo").out


READING = (
    ("list",), ("show", 1), ("jobs",), ("makes",), ("labels",), ("summary",), ("check",),
    ("board", "b"), ("export", "all.json"), ("export", "rack.csv"),
)  # fmt: skip


@pytest.mark.parametrize("line", READING, ids=lambda line: " ".join(map(str, line)))
def test_a_command_that_reads_makes_and_changes_nothing(
    line: tuple[object, ...], command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An empty file, or none, becomes no ledger, and a ledger of an old schema stays one."""
    monkeypatch.chdir(tmp_path)
    empty, old = tmp_path / "empty.db", tmp_path / "old.db"
    empty.touch()
    shutil.copy(ROOT / "tests" / "data" / "ledgers" / "schema-1.db", old)
    before = old.read_bytes()
    for path, told_of in ((empty, "is empty"), (tmp_path / "none.db", "there is no ledger")):
        ran = command("ledger", *line, "--ledger", path)
        assert (ran.status, ran.out, told_of in ran.err) == (2, "", True)
    assert empty.stat().st_size == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["empty.db", "old.db"]
    command("ledger", *line, "--ledger", old)
    assert old.read_bytes() == before
    assert not list(tmp_path.glob("old.db*-*"))


def test_begin_makes_a_ledger_of_an_empty_file(command: Command, tmp_path: Path) -> None:
    """And says so; a second time it is there already."""
    path = tmp_path / "empty.db"
    path.touch()
    assert command("ledger", "begin", "--ledger", path).out.startswith("A ledger was begun")
    assert command("ledger", "begin", "--ledger", path).out.startswith("There is a ledger already")


@pytest.mark.usefixtures("rack")
def test_how_many_windows_a_slip_sheet_serves_is_said_and_set(command: Command) -> None:
    """Ten at first; set lower, what is worn by that is named."""
    command("ledger", "add", "4 x 40", "--board", BOARD, "--slips", "--qty", "2")
    command("plan", "show.toml")
    command("ledger", "cut", "show")
    assert told(command("ledger", "slips", "--json"))["windows"] == 10
    done = command("ledger", "slips", "--windows", "3").out
    assert "One slip sheet serves 3 windows from now on; throw out 1 of " in done
    assert "nothing was recorded" in command("ledger", "slips", "--windows", "3").out
    assert "the windows that a slip sheet serves set to 3" in command("ledger", "undo").out
    assert command("ledger", "slips").out == "One slip sheet serves 10 windows.\n"
    assert command("ledger", "slips", "--windows", "0").status == 2
