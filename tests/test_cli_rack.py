"""The ledger's commands at the rack: counting, labels, what could still be cut, jobs by folder."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import Command, Ran
from racks import BOARD, SMALL_ORDER, measured, size

import kerfwright as kw
from kerfwright.drawings.lettering import width
from kerfwright.drawings.rack_labels import SIZES, fitted
from kerfwright.ledger import Ledger
from kerfwright.ledger.rack import Measured, add_offcuts, add_slips, take
from kerfwright.makes import METRIC_SIZES, SMALL_SIZES, what_they_make


def told(ran: Ran) -> dict[str, object]:
    """Return the answer for a program."""
    assert ran.status == 0, ran.err
    answer: dict[str, object] = json.loads(ran.out)
    return answer


def test_slip_sheets_are_counted(rack: Ledger, command: Command) -> None:
    """Of so many in the ledger so many are there; the list says how worn they are."""
    add_slips(rack, BOARD, size("4 x 40"), 3)
    which = ("--board", BOARD, "--size", "4 x 40")
    counted = command("ledger", "count", "--slips", 1, *which)
    assert "1 slip sheet is there, 4 x 40 in of warm white rag: written down" in counted.out
    assert "So many are in the ledger" in command("ledger", "count", "--slips", 1, *which).out
    assert rack.events()[-1].event == "slips counted"
    command("plan", "show.toml")
    cut = command("ledger", "cut", "show").out
    assert "  3 windows cut" in cut.splitlines()
    assert "1 slip sheet, 4 x 40 in of warm white rag, scored by 3 windows" in (
        command("ledger", "list").out
    )
    assert command("ledger", "check").status == 0


def test_worn_slip_sheets_are_named(rack: Ledger, command: Command) -> None:
    """Three windows after nine wear one out; those over none are told."""
    add_slips(rack, BOARD, size("4 x 40"), 1)
    Path("show.toml").write_text(SMALL_ORDER.replace("qty = 3", "qty = 12"))
    command("plan", "show.toml")
    cut = command("ledger", "cut", "show").out
    assert "12 windows cut, 2 of them over no slip sheet in the ledger" in cut
    assert "1 slip sheet to throw out, and off the ledger: 4 x 40 in of warm white rag" in cut


@pytest.mark.usefixtures("rack")
def test_an_emptied_shelf_is_counted(command: Command) -> None:
    """By saying so; by saying nothing nothing is lost."""
    for arguments in ((), ("--place", "A1")):
        ran = command("ledger", "count", *arguments)
        assert ran.status == 2
        assert "give the numbers of what is there, or --none" in " ".join(ran.err.split())
    both = command("ledger", "count", 1, "--none", "--place", "A1")
    assert (both.status, "some are named" in both.err) == (2, True)
    assert "lost: 1" in command("ledger", "count", "--none", "--place", "A1").out
    again = command("ledger", "count", "--none", "--place", "A1")
    assert "No offcut at A1 in the ledger either; nothing was recorded." in again.out
    Path("count.csv").write_text("number\n")
    assert "lost: 2" in command("ledger", "count", "count.csv", "--none").out
    assert command("ledger", "check").status == 0


@pytest.mark.usefixtures("rack")
def test_jobs_named_alike_are_told_apart(command: Command) -> None:
    """By their folders, in the list and in what is said of each."""
    for folder in ("spring", "autumn"):
        assert command("plan", "show.toml", "--out", folder).status == 0
    listed = command("ledger", "jobs").out
    here = Path.cwd()
    assert f"   1  show, planned {kw.Ledger(kw.default_path()).state().jobs[1].planned[:10]}" in (
        listed
    )
    assert f"      {here / 'spring'}" in listed.splitlines()
    assert f"      {here / 'autumn'}" in listed.splitlines()
    assert "      1 full sheet, 32 x 40 in of warm white rag" in listed.splitlines()
    assert f"Job 2, show in {here / 'autumn'}, is cut" in command("ledger", "cut", "autumn").out
    assert f"Job 1, show in {here / 'spring'}, is canc" in command("ledger", "cancel", "spring").out


NOT_KEPT = {
    "an offcut": ("ledger", "add", "0.4 x 300 mm", "--board", "b"),
    "a sheet": ("ledger", "add", "0.4 x 300 mm", "--board", "b", "--sheets"),
    "a slip sheet": ("ledger", "add", "5 x 300 mm", "--board", "b", "--slips"),
    "a correction": ("ledger", "correct", 1, "--size", "3/8 x 20"),
    "a count": ("ledger", "count", "--slips", 2, "--board", "b", "--size", "9.9 x 300 mm"),
}


@pytest.mark.parametrize("what", NOT_KEPT)
def test_a_size_that_nobody_keeps_is_refused(what: str, rack: Ledger, command: Command) -> None:
    """Under 10 mm either way it is a slip of the hand or of the unit."""
    before = rack.events()
    ran = command(*NOT_KEPT[what])
    assert ran.status == 2
    assert "nothing narrower than 10 mm (3/8 in) is kept. Is the unit right?" in (
        " ".join(ran.err.split())
    )
    assert rack.events() == before


@pytest.mark.usefixtures("rack")
def test_too_few_is_told_in_words(command: Command) -> None:
    """None, one and several, each with its size."""
    take = ("ledger", "take", "--board", BOARD, "--size", "32 x 40")
    assert f"there is no slip sheet of '{BOARD}', 32 x 40 in" in command(*take, "--slips", 2).err
    assert f"there are only 5 free sheets of '{BOARD}', 32 x 40 in" in (
        command(*take, "--sheets", 9).err
    )
    assert command(*take, "--sheets", 4).status == 0
    assert f"there is only 1 free sheet of '{BOARD}', 32 x 40" in command(*take, "--sheets", 2).err


@pytest.mark.usefixtures("rack")
def test_drop_outs_are_told_by_count(command: Command) -> None:
    """With or after the cut; what is not clear is refused."""
    command("plan", "show.toml")
    for text in ("A", "A=x of 11 x 14", "A=0 of 11 x 14"):
        ran = command("ledger", "cut", "show", "--drop-out", text)
        assert (ran.status, "is not clear; write such as 'A=11 x 14'" in ran.err) == (2, True)
    twice = command("ledger", "cut", "1", "--drop-out", "A=9 x 9", "--drop-out", "A=8 x 8")
    assert (twice.status, "names the same mats twice" in twice.err) == (2, True)
    out = command("ledger", "cut", "show", "--drop-out", "A=2 of 11 x 14").out
    assert out.count("new drop-out") == 2
    later = command("ledger", "cut", "show", "--drop-out", "A=11 x 14").out
    assert "Job 1, show, was cut before; added to it (entry" in later
    assert later.count("new drop-out") == 1
    assert "nothing was recorded" in command("ledger", "cut", "show").out
    assert command("ledger", "check").status == 0


def test_what_they_make_respects_the_grade(rack: Ledger, command: Command) -> None:
    """Offcuts of unknown grade, and of foam, are reckoned apart from the cotton ones."""
    add_offcuts(rack, [measured("16 x 20", grade=None), measured("16 x 20")])
    add_offcuts(rack, [Measured("white foam", size("10 x 30"), kw.Grade.FOAM)])
    out = command("ledger", "makes", "8 x 10").out.splitlines()
    assert out == [
        "warm white rag, cotton",
        "   12 mats, 8 x 10 in, from offcuts 1 (4), 2 (4), 4 (4)",
        "warm white rag, grade unknown: for the lowest grade only",
        "    4 pieces, 8 x 10 in, from offcut 3",
        "white foam, foam",
        "    3 backers, 8 x 10 in, from offcut 5",
    ]


@pytest.mark.usefixtures("rack")
def test_what_they_make_in_centimetres(command: Command) -> None:
    """A metric bench is asked about metric sizes; 14 x 32 in is 35.6 x 81.3 cm."""
    out = command("ledger", "makes", "--unit", "cm").out
    assert "13 x 18 cm" in out
    assert "    3 mats, 30 x 40 cm, from offcuts 1 (2), 2" in out.splitlines()
    assert "5 x 7" not in out


# By our own exhaustive count, made twice: the yields of a 32 x 40 in sheet in the trade's usual
# sizes, turning allowed.
YIELDS = {"5 x 7": 36, "6 x 8": 26, "8 x 10": 16, "9 x 12": 10, "11 x 14": 6, "16 x 20": 4}


@pytest.mark.parametrize("text", YIELDS)
def test_what_they_make_is_the_most_there_is(text: str, tmp_path: Path) -> None:
    """A leftover of a whole sheet's size gives what a sheet gives, and two give twice that."""
    ledger = Ledger(tmp_path / "ledger.db")
    ledger.begin()
    add_offcuts(ledger, [measured("32 x 40"), measured("40 x 32")])
    (made,) = what_they_make(ledger.state(), [size(text)])
    assert made.offcuts == ((1, YIELDS[text]), (2, YIELDS[text]))


def test_what_they_make_is_what_a_plan_makes(rack: Ledger) -> None:
    """A plan for just so many from the offcuts needs no sheet, and one more needs one."""
    add_offcuts(rack, [measured("19 x 23"), measured("13 7/8 x 17")])
    offcuts = tuple(
        kw.Offcut(BOARD, one.size, str(one.number)) for one in rack.state().offcuts.values()
    )
    for made in what_they_make(rack.state(), SMALL_SIZES[:5]):
        for more, sheets in ((0, 0), (1, 1)):
            piece = kw.Piece("A", kw.PieceKind.BACKER, made.count + more, made.size, BOARD)
            plan = kw.make_plan(kw.Order("all", (piece,), (kw.Board(BOARD),), offcuts))
            assert isinstance(plan, kw.Plan)
            assert plan.boards[0].sheets == sheets
    assert len(SMALL_SIZES) == len(METRIC_SIZES)


def test_kerf_makes_fewer(rack: Ledger, command: Command) -> None:
    """A saw takes its width: a 16 x 20 gives two, 8 + 1/8 + 8 of its 20 in, and no more four."""
    add_offcuts(rack, [measured("16 x 20")])
    out = command("ledger", "makes", "8 x 10", "--kerf", "1/8").out
    assert "from offcuts 1 (3), 2 (2), 3 (2)" in out


LONG = "antique white textured eight-ply cotton museum board, batch 7"


def test_a_label_holds_a_long_name_whole() -> None:
    """Sixty signs and a long source are wrapped and shrunk, not cut off."""
    texts = (
        LONG,
        "cotton, buffered",
        "14 in lies along the sheet's first side",
        f"2026-03-01, {LONG}",
    )
    lines, type_size = fitted(texts, 170, 48)
    assert " ".join(lines) == " ".join(texts)
    assert SIZES[-1] <= type_size < SIZES[0]
    assert all(width(line, type_size) <= 170 for line in lines)
    short, usual = fitted(("rag", "cotton"), 170, 48)
    assert (short, usual) == (("rag", "cotton"), SIZES[0])


def test_a_label_that_cannot_hold_all_says_so() -> None:
    """Each text keeps a line, the first as many as there are, and an ellipsis stands for more."""
    lines, type_size = fitted((LONG * 9, "cotton", "direction unknown"), 170, 48)
    assert type_size == SIZES[-1]
    assert len(lines) <= 48 / (1.27 * type_size)
    assert lines[-2:] == ("cotton", "direction unknown")
    assert lines[-3].endswith("…")


def test_labels_say_what_is_odd_about_them(rack: Ledger, command: Command) -> None:
    """An offcut that is gone by the ledger, and a board's name that the typeface cannot show."""
    sea = "\N{CJK UNIFIED IDEOGRAPH-6D77}"
    numbers = add_offcuts(rack, [Measured(f"{sea} blue", size("10 x 12"))] * 2).offcuts
    take(rack, [1], "spoiled")
    ran = command("ledger", "labels", 1, 2, *numbers, "--out", "a.pdf")
    assert ran.out.splitlines() == [
        "4 labels: a.pdf",
        "Offcut 1 is spoiled, by the ledger; it has a label all the same.",
        f"The typeface of the labels lacks {sea}, so that labels {numbers[0]}, {numbers[1]} have "
        "empty boxes there, with the signs' codes behind; write the name on each by hand.",
    ]
    facts = told(command("ledger", "labels", 2, "--out", "b.pdf", "--json"))
    assert facts["remarks"] == []


@pytest.mark.usefixtures("rack")
def test_labels_on_a_full_disk_name_the_file(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As every file that cannot be written is named."""

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("kerfwright.drawings.rack_labels.draw_labels", full)
    ran = command("ledger", "labels", "--out", "a.pdf")
    assert (ran.status, ran.out) == (2, "")
    assert "a.pdf: cannot be written: No space left on device" in ran.err
    assert not Path("a.pdf").exists()


def test_the_list_says_what_is_odd_about_an_offcut(rack: Ledger, command: Command) -> None:
    """Its bad edges, an unknown direction, and whether it is buffered, where that is known."""
    odd = ("--edges", "left 1/4, top 1/2", "--buffered", "no", "--no-direction")
    command("ledger", "add", "14 x 32", "--board", "blue", *odd)
    number = max(rack.state().offcuts)
    for ran in (command("ledger", "list", "--board", "blue"), command("ledger", "show", number)):
        assert (
            "blue, grade unknown, not buffered, direction unknown, bad edges left 1/4 in, top "
            "1/2 in, " in ran.out
        )
    facts = told(command("ledger", "show", number, "--json"))
    assert facts["edges"] == {"left": "1/4 in", "right": "0 in", "top": "1/2 in", "bottom": "0 in"}
