"""`kerfwright plan`: what it writes, prints and returns, however it ends."""

from __future__ import annotations

import errno
import json
from pathlib import Path

import pytest
from conftest import Command

import kerfwright as kw
from kerfwright.lengths import parse_unit

ORDER = """\
name = "Harbour school summer show"

[[board]]
name = "warm white rag 4-ply"
sheets = [ { size = "32 x 40", price = "21.50" } ]

[[mat]]
label = "A"
qty = 3
size = "16 x 20"
board = "warm white rag 4-ply"
"""


@pytest.fixture
def order_file(tmp_path: Path) -> Path:
    """Three 16 x 20 mats from 32 x 40 sheets: four fit one sheet, so one sheet is the least."""
    path = tmp_path / "show.toml"
    path.write_text(ORDER, encoding="utf-8")
    return path


def planning(monkeypatch: pytest.MonkeyPatch, outcome: object) -> None:
    """Let planning return or raise `outcome`, whatever the order."""

    def make_plan(_order: kw.Order, _watch: kw.Watch) -> object:
        if isinstance(outcome, BaseException):
            raise outcome
        return outcome

    monkeypatch.setitem(vars(kw), "make_plan", make_plan)


def test_an_order_becomes_a_plan_and_pages(command: Command, order_file: Path) -> None:
    """The files stand in a folder beside the order; the summary says what to take and why."""
    ran = command("plan", order_file)
    assert (ran.status, ran.err) == (0, "")
    folder = order_file.with_suffix("")
    assert {path.name for path in folder.iterdir()} == {
        "plan.json",
        "cut-sheets.pdf",
        "cuts.csv",
        ".kerfwright",
    }
    assert (folder / "cut-sheets.pdf").read_bytes().startswith(b"%PDF")
    for told in ("Harbour school summer show", "1 full sheet, 32 x 40 in", "No plan can cost less",
                 "21.50", "1 offcut, 16 x 20 in, from L1", str(folder / "plan.json")):  # fmt: skip
        assert told in ran.out
    assert command("verify", folder / "plan.json").status == 0


def test_the_same_order_gives_the_same_plan(command: Command, order_file: Path) -> None:
    """Planning again into another folder gives the same plan.json, byte for byte."""
    command("plan", order_file)
    command("plan", order_file, "--out", order_file.parent / "again")
    first = (order_file.parent / "show" / "plan.json").read_bytes()
    assert (order_file.parent / "again" / "plan.json").read_bytes() == first


def test_planning_again_writes_over_its_own_files(command: Command, order_file: Path) -> None:
    """A second run into the same folder succeeds, the first one's files being its own."""
    assert command("plan", order_file).status == 0
    assert command("plan", order_file).status == 0


def test_images_are_drawn_when_asked_for(command: Command, order_file: Path) -> None:
    """With --draw png and --draw svg there are images beside the PDF."""
    ran = command("plan", order_file, "--draw", "png", "--draw", "svg")
    suffixes = {path.suffix for path in order_file.with_suffix("").glob("[!.]*")}
    assert (ran.status, suffixes) == (0, {".json", ".pdf", ".csv", ".png", ".svg"})


def test_json_counts_what_the_order_of_cuts_asks_for(command: Command, order_file: Path) -> None:
    """Settings, sides left over, turns and lifts are those of plan.json, each with its bound."""
    (told,) = json.loads(command("plan", order_file, "--json").out)["boards"]
    written = json.loads((order_file.with_suffix("") / "plan.json").read_text())
    cutting = written["boards"][0]["cutting"]
    for count in ("settings", "sides_left_over", "quarter_turns", "lifts"):
        for name in (count, f"{count}_lower_bound"):
            assert told[name] == cutting[name], name
    for name in ("before_no_way_back", "before_no_way_back_upper_bound"):
        assert told[name] == cutting[name], name
    assert told["lifts"] > 0


def test_json_has_the_facts_for_a_program(command: Command, order_file: Path) -> None:
    """With --json the output is one JSON object with exact lengths, areas and money."""
    told = json.loads(command("plan", order_file, "--json").out)
    (board,) = told["boards"]
    assert told["exit_status"] == 0
    assert (board["sheets"], board["sheets_lower_bound"], board["proved_least"]) == (1, 1, True)
    assert board["cost"] == "43/2"
    # 3 x 320 = 960 of 1280 square inches; the rest is one 16 x 20 offcut.
    assert (board["areas"]["pieces"], board["areas"]["offcut"]) == ("960", "320")
    assert [Path(name).name for name in told["files"]] == [
        "plan.json",
        "cut-sheets.pdf",
        "cuts.csv",
    ]


def test_what_to_buy_is_told_to_people_and_programs(command: Command, order_file: Path) -> None:
    """Nine quarters need three sheets; two are on hand, and one is to be bought."""
    text = ORDER.replace('price = "21.50"', "on_hand = 2").replace("qty = 3", "qty = 9")
    order_file.write_text(text, encoding="utf-8")
    told = json.loads(command("plan", order_file, "--json").out)
    (take,) = told["boards"][0]["take"]
    assert (take["count"], take["on_hand"], take["to_buy"]) == (3, 2, 1)
    said = "3 full sheets, 32 x 40 in: 2 on hand, 1 to buy"
    assert said in command("plan", order_file).out
    assert said in command("verify", order_file.with_suffix("") / "plan.json").out


def test_no_plan_names_every_culprit(
    command: Command, order_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no plan exists the status is 1, every reason is told, and nothing is written."""
    reasons = ("Mat 'A' fits no sheet.", "Mat 'B' fits no sheet.")
    planning(monkeypatch, kw.NoPlan("show", reasons))
    ran = command("plan", order_file)
    assert (ran.status, ran.out) == (1, "")
    assert ran.err == "No plan exists:\n  Mat 'A' fits no sheet.\n  Mat 'B' fits no sheet.\n"
    assert [*order_file.parent.iterdir()] == [order_file]


def test_failures_are_told_to_programs_too(
    command: Command, order_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With --json a failure is on standard output as JSON, and on standard error in words."""
    planning(monkeypatch, kw.NoPlan("show", ("Mat 'A' fits no sheet.",)))
    ran = command("plan", order_file, "--json")
    assert json.loads(ran.out) == {
        "exit_status": 1,
        "failure": "no plan exists",
        "messages": ["Mat 'A' fits no sheet."],
        "proved": True,
    }
    assert "Mat 'A' fits no sheet." in ran.err


def test_no_plan_found_is_not_called_impossible(
    command: Command, order_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a plan may exist and none was found, neither the heading nor --json denies it."""
    planning(monkeypatch, kw.NoPlan("show", ("It was not settled.",), proved=False))
    ran = command("plan", order_file, "--json")
    assert (ran.status, ran.err) == (1, "No plan was found:\n  It was not settled.\n")
    told = json.loads(ran.out)
    assert (told["failure"], told["proved"]) == ("no plan was found", False)


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (kw.Interrupted(), 130, "Stopped before there was a plan"),
        (KeyboardInterrupt(), 130, "Stopped at once; no file was written or changed."),
        (kw.AuditError(("Cut 3 is too long.",)), 70, "Cut 3 is too long."),
        (ZeroDivisionError("by nought"), 70, "ZeroDivisionError: by nought"),
        (MemoryError(), 70, "the memory ran out"),
        (RecursionError("too deep"), 70, "too deep"),
        (
            OSError(errno.ENOSPC, "No space left on device", "rack.toml"),
            2,
            "rack.toml: No space left",
        ),
        (kw.RefusedValue("qty", 0, "is zero", "write 1"), 2, "qty: 0 is zero; write 1"),
    ],
)
def test_each_failure_has_its_status_and_message(
    command: Command,
    order_file: Path,
    monkeypatch: pytest.MonkeyPatch,
    error: BaseException,
    status: int,
    said: str,
) -> None:
    """Whatever happens there is a message and no traceback, and nothing is written."""
    planning(monkeypatch, error)
    ran = command("plan", order_file)
    assert ran.status == status
    assert said in ran.err
    assert "Traceback" not in ran.err
    assert [*order_file.parent.iterdir()] == [order_file]


def test_a_traceback_is_there_for_those_who_ask(
    command: Command, order_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With KERFWRIGHT_TRACEBACK set an internal error shows where it happened."""
    monkeypatch.setenv("KERFWRIGHT_TRACEBACK", "1")
    planning(monkeypatch, ZeroDivisionError("by nought"))
    assert "Traceback" in command("plan", order_file).err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--seconds", "0"], "'0' is no time to plan in; write a number above 0"),
        (["--seconds", "-3"], "'-3' is no time to plan in"),
        (["--seconds", "nan"], "'nan' is no time to plan in"),
        (["--seconds", "inf"], "'inf' is no time to plan in"),
        (["--seconds", "soon"], "'soon' is no time to plan in"),
        (["--unit", "furlong"], "'furlong' is not a unit; write in, mm or cm"),
        (["--draw", "gif"], "'gif' is not one of 'png', 'svg'"),
        (["--draw", "pdf"], "'pdf' is not one of 'png', 'svg'"),
        (["--out", " "], "it names no folder"),
        (["--colour"], "No such option: --colour"),
        (["another.toml"], "unexpected extra argument"),
    ],
)
def test_misuse_is_told_in_one_line(
    command: Command, order_file: Path, options: list[str], said: str
) -> None:
    """A bad option gives status 2 and one line that names it, and nothing is written."""
    ran = command("plan", order_file, *options)
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err
    assert ran.err.count("\n") == 1
    assert [*order_file.parent.iterdir()] == [order_file]


@pytest.mark.parametrize("arguments", [["plan"], ["nope"], ["verify"], ["--nope"]])
def test_a_command_line_without_sense_is_misuse(command: Command, arguments: list[str]) -> None:
    """A missing argument or an unknown command gives status 2 and says where to read on."""
    ran = command(*arguments)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.rstrip().endswith("--help")


def test_orders_that_cannot_be_read_are_told(command: Command, tmp_path: Path) -> None:
    """A missing order, a folder, and a file of no known kind are each named, with status 2."""
    (tmp_path / "notes.txt").write_text("A 3 of 16 x 20")
    for path in (tmp_path / "gone.toml", tmp_path, tmp_path / "notes.txt"):
        ran = command("plan", path)
        assert (ran.status, ran.out) == (2, "")
        assert str(path) in ran.err or path.name in ran.err
    assert [*tmp_path.iterdir()] == [tmp_path / "notes.txt"]


def test_every_fault_of_an_order_has_a_line(command: Command, tmp_path: Path) -> None:
    """Two faults of one file are told at once, a line each, and nothing is planned."""
    path = tmp_path / "show.toml"
    path.write_text(ORDER.replace("qty = 3", "qty = 0").replace("16 x 20", "16 x tall"))
    ran = command("plan", path)
    assert ran.status == 2
    assert len(ran.err.splitlines()) == 2


def test_a_folder_that_will_not_do_is_told_before_planning(
    command: Command, order_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the folder's name is a file's, or holds another's plan.json, no planning is begun."""
    planning(monkeypatch, AssertionError("planned"))
    ran = command("plan", order_file, "--out", order_file)
    said = f"{order_file}: is not a folder; choose another folder with --out\n"
    assert (ran.status, ran.err) == (2, said)
    (order_file.parent / "plan.json").write_text("{}")
    ran = command("plan", order_file, "--out", order_file.parent)
    assert ran.status == 2
    assert "plan.json: is in the way" in ran.err


def test_the_options_reach_the_library(
    command: Command, order_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """--stock, --unit, --out and --seconds arrive where they are meant to."""
    seen: dict[str, object] = {}

    def load_order(path: Path, **options: object) -> None:
        seen.update(options, path=path)
        raise kw.InputError((kw.Fault("here", "", "", "enough", ""),))

    monkeypatch.setitem(vars(kw), "load_order", load_order)
    command("plan", order_file, "--stock", "rack.toml", "--unit", "mm")
    assert seen == {"path": order_file, "stock": Path("rack.toml"), "unit": kw.Unit.MILLIMETRE}


@pytest.mark.parametrize("word", ["mm", "MM", "millimetres", "inch", "Inches", "centimeter"])
def test_a_unit_may_be_spelled_as_in_a_file(
    command: Command, order_file: Path, monkeypatch: pytest.MonkeyPatch, word: str
) -> None:
    """--unit takes whatever `unit` takes in a file, and means the same."""
    seen: list[object] = []

    def load(_path: Path, *, stock: object, unit: object) -> kw.Order:  # noqa: ARG001  as called
        seen.append(unit)
        raise kw.InputError((kw.Fault("order", "", "", "is not read here", ""),))

    monkeypatch.setitem(vars(kw), "load_order", load)
    assert command("plan", order_file, "--unit", word).status == 2
    assert seen == [parse_unit(word)]
