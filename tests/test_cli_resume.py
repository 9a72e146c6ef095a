"""`kerfwright resume`: what it writes, prints and returns, however it ends."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import Command

import kerfwright as kw

ORDER = """\
name = "Harbour school summer show"

[[board]]
name = "warm white rag 4-ply"
sheets = [ { size = "32 x 40", price = "21.50", on_hand = 2 } ]

[[mat]]
label = "A"
qty = 8
size = "16 x 20"
board = "warm white rag 4-ply"
"""


@pytest.fixture
def plan_file(command: Command, tmp_path: Path) -> Path:
    """Eight 16 x 20 mats from two 32 x 40 sheets, four from each: one layout, three cuts."""
    (tmp_path / "show.toml").write_text(ORDER, encoding="utf-8")
    assert command("plan", tmp_path / "show.toml").status == 0
    return tmp_path / "show" / "plan.json"


def test_the_rest_goes_into_a_new_folder(command: Command, plan_file: Path) -> None:
    """One sheet is cut: the other one's plan stands in show-rest, verified, and costs no more."""
    before = plan_file.read_bytes()
    ran = command("resume", plan_file, "--done", "L1/1")
    assert (ran.status, ran.err) == (0, "")
    assert "4 x A" in ran.out
    assert "Nothing is lost: 1 full sheet is still to be opened, as planned." in ran.out
    folder = plan_file.parent.with_name("show-rest")
    assert {path.name for path in folder.iterdir()} == {
        "plan.json",
        "cut-sheets.pdf",
        "cuts.csv",
        ".kerfwright",
    }
    assert plan_file.read_bytes() == before
    assert command("verify", folder / "plan.json").status == 0
    (item,) = kw.read_plan(folder / "plan.json").boards[0].stock
    assert item.on_hand == 1


def test_an_existing_folder_is_passed_by(command: Command, plan_file: Path) -> None:
    """The second time the folder is show-rest-2, and what stood in show-rest is as it was."""
    taken = plan_file.parent.with_name("show-rest")
    taken.mkdir()
    assert command("resume", plan_file, "--done", "L1/1").status == 0
    assert [*taken.iterdir()] == []
    assert (plan_file.parent.with_name("show-rest-2") / "plan.json").is_file()


def test_the_mistake_is_priced(command: Command, plan_file: Path, tmp_path: Path) -> None:
    """A first cut an inch in ruins a sheet for two of its four mats: one more sheet, 21.50.

    The part beyond the stop is 31 or 39 in wide and still gives at least two. All of 31 x 40 is
    left: a share of 31/32 of a sheet, to the power 1.5, is 0.953, so 19 twentieths are won.
    """
    ran = command("resume", plan_file, "--wrong", "L1/1:1=1", "--out", tmp_path / "again", "--json")
    assert (ran.status, ran.err) == (0, "")
    told = json.loads(ran.out)
    assert told["compared"] == [
        {
            "board": "warm white rag 4-ply",
            "aim": "cost",
            "sheets": 2,
            "sheets_as_planned": 1,
            "value": "43",
            "value_as_planned": "43/2",
            "mistake": "43/2",
            "went_wrong": 1,
            "worth_lost": -19,
        }
    ]
    assert told["in_hand"] == {}
    assert told["boards"][0]["proved_least"] is True
    assert (tmp_path / "again" / "plan.json").is_file()
    told = command("resume", plan_file, "--wrong", "L1/1:1=1").out
    assert "The mistake costs one more sheet (21.50): 2 still to be opened, 1 as planned" in told


def test_a_resumed_plan_can_be_resumed(command: Command, plan_file: Path) -> None:
    """Of the rest one cut is made: its two halves are what is left, and the sheet is open.

    Layouts are numbered on, so that no part is called like one of an earlier plan.
    """
    assert command("resume", plan_file, "--done", "L1/1").status == 0
    rest = plan_file.parent.with_name("show-rest")
    ran = command("resume", rest / "plan.json", "--done", "L2:1", "--json")
    assert ran.status == 0
    told = json.loads(ran.out)
    assert (told["boards"][0]["sheets"], told["order"].count("the rest")) == (0, 1)
    assert [layout["id"] for layout in told["boards"][0]["layouts"]] == ["L3"]
    again = rest.with_name("show-rest-rest") / "plan.json"
    assert command("verify", again).status == 0


@pytest.mark.parametrize("as_json", [False, True])
def test_nothing_left_to_cut_writes_nothing(
    command: Command, plan_file: Path, *, as_json: bool
) -> None:
    """When all is cut, that is said, with status 0 and no new folder."""
    ran = command("resume", plan_file, "--done", "L1", *(["--json"] if as_json else []))
    assert (ran.status, ran.err) == (0, "")
    if as_json:
        told = json.loads(ran.out)
        assert (told["in_hand"], told["boards"], told["files"]) == ({"A": 8}, [], [])
    else:
        assert "8 x A" in ran.out
        assert "nothing is left to cut" in ran.out
    assert {path.name for path in plan_file.parent.parent.iterdir()} == {"show", "show.toml"}


def test_what_cannot_be_ends_with_2(command: Command, plan_file: Path) -> None:
    """An unknown layout is one message and status 2; no folder is made."""
    ran = command("resume", plan_file, "--done", "L9")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        "--done: 'L9' names no layout of this plan (L1); "
        "write a layout and its cuts, such as L1:1-4 or L1/2:4\n"
    )
    assert not plan_file.parent.with_name("show-rest").exists()


def test_the_plan_being_cut_is_not_written_over(command: Command, plan_file: Path) -> None:
    """--out must not be the folder of the plan itself."""
    before = plan_file.read_bytes()
    ran = command("resume", plan_file, "--done", "L1/1", "--out", plan_file.parent)
    assert ran.status == 2
    assert "holds the plan being cut" in ran.err
    assert plan_file.read_bytes() == before


def test_a_wrong_plan_is_not_gone_on_with(command: Command, plan_file: Path) -> None:
    """A plan that fails its audit is refused as by verify."""
    text = plan_file.read_text(encoding="utf-8")
    plan_file.write_text(text.replace('"sheets": 2', '"sheets": 1'), encoding="utf-8")
    ran = command("resume", plan_file, "--done", "L1/1")
    assert ran.status == 1
    assert ran.err.startswith("This plan fails its audit")


def test_too_few_sheets_left_is_no_plan(command: Command, tmp_path: Path) -> None:
    """With two sheets and no more to be had, a ruined sheet leaves two mats without board."""
    text = ORDER.replace("on_hand = 2", "on_hand = 2, buyable = false")
    (tmp_path / "short.toml").write_text(text, encoding="utf-8")
    assert command("plan", tmp_path / "short.toml").status == 0
    ran = command("resume", tmp_path / "short" / "plan.json", "--wrong", "L1/1:1=1")
    assert ran.status == 1
    assert (
        "the sheets left are too few; with 1 more full sheet of 32 x 40 in it can be done"
        in ran.err
    )
    assert not (tmp_path / "short-rest").exists()
    fetched = ("--wrong", "L1/1:1=1", "--more", "32 x 40")
    ran = command("resume", tmp_path / "short" / "plan.json", *fetched)
    assert (ran.status, ran.err) == (0, "")
    assert "2 full sheets, 32 x 40 in: 2 on hand" in ran.out
    assert command("verify", tmp_path / "short-rest" / "plan.json").status == 0
