"""Why an offcut is used or stays whole: each reason is true of the plan and the rack."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from racks import BOARD, mats, measured, order, planned, size

import kerfwright as kw
from kerfwright.ledger import Ledger, Reserved, book, offered, reserved, set_aside
from kerfwright.ledger.rack import add_offcuts, add_sheets
from kerfwright.plan.model import SourceKind
from kerfwright.plan.rungs import worth_in_twentieths


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Give a ledger with a sheet of 32 x 40 in and no offcut."""
    ledger = Ledger(tmp_path / "ledger.db")
    ledger.begin()
    add_sheets(ledger, BOARD, size("32 x 40"), 9)
    return ledger


def told(ledger: Ledger, job: kw.Order, *sizes: str, directed: bool = True) -> Reserved:
    """Put offcuts on the rack, plan a job, and return what is said of the rack."""
    if sizes:
        add_offcuts(ledger, [measured(text, directed=directed) for text in sizes])
    offer, audited = planned(ledger, job, "/jobs/show")
    return reserved(ledger, offer, audited, set_aside(ledger, offer, audited))


def why(one: Reserved) -> dict[int, str]:
    """Return the reason of every offcut."""
    return dict((*one.used, *one.untouched))


ONE = order(mats("A", 1, "11 x 14"))


def test_the_older_of_two_alike_is_used(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    """Age decides, and is told in days."""
    for number, day in enumerate(("01", "13", "13"), 1):
        monkeypatch.setattr(book, "now", lambda day=day: f"2026-03-{day}T12:00:00+00:00")
        if number < 3:
            add_offcuts(ledger, [measured("11 x 14")])
    assert why(told(ledger, ONE, "11 x 14")) == {
        1: "used for 1 x A; older than offcuts 2, 3 of the same size",
        2: "kept: offcut 1 of the same size came 12 days before it",
        3: "kept: offcut 1 of the same size came 12 days before it",
    }


def test_the_page_shows_what_is_said(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    """The example of docs/ledger.md is what such a rack and order give."""
    page = (Path(__file__).parent.parent / "docs" / "ledger.md").read_text(encoding="utf-8")
    example = re.search(r"```text\n(Offcut 2, .*?)```", page, re.DOTALL)
    assert example is not None
    for day, sizes in (("01", ("24 x 32", "16 x 20")), ("13", ("16 x 20", "8 x 10"))):
        monkeypatch.setattr(book, "now", lambda day=day: f"2026-03-{day}T12:00:00+00:00")
        add_offcuts(ledger, [measured(text) for text in sizes])
    assert list(told(ledger, ONE).why) == example[1].splitlines()


def test_a_large_offcut_is_kept_for_its_worth(ledger: Ledger) -> None:
    """16 x 20 in is a quarter of 32 x 40, to the power 1.5 an eighth: 2.5 twentieths.

    24 x 32 in is six tenths: 0.6 ** 1.5 x 20 = 9.29...; both by the rule in docs/concepts.md.
    """
    found = why(told(ledger, ONE, "24 x 32", "16 x 20"))
    assert found == {
        1: "kept: worth 9 twentieths of a sheet whole; 1 x A fits offcut 2, smaller, "
        "worth 2 twentieths of a sheet whole",
        2: "used for 1 x A; of those that may serve, no smaller one is left",
    }


def test_smaller_and_older_is_told_as_both(ledger: Ledger) -> None:
    """The one used came first, too."""
    found = why(told(ledger, ONE, "16 x 20", "24 x 32"))
    assert "fits offcut 1, smaller and older, worth 2" in found[2]


def test_what_holds_nothing_is_too_small(ledger: Ledger) -> None:
    """One is too small; one holds the mat only turned, which the board forbids."""
    linen = kw.Board(BOARD, grade=kw.Grade.COTTON, no_turn=True)
    found = why(told(ledger, order(mats("A", 1, "11 x 14"), board=linen), "10 x 40", "14 x 11"))
    assert found == {
        1: "too small for any piece ordered of its board",
        2: "holds a piece only if it is turned, and the board has a direction",
    }


def test_what_may_not_be_turned_says_who_forbids_it(ledger: Ledger) -> None:
    """Not the board here, but the order."""
    fixed = order(mats("A", 1, "11 x 14", turn=False))
    assert why(told(ledger, fixed, "14 x 11")) == {
        1: "holds a piece only if it is turned, and the order forbids that"
    }


def test_grade_and_direction_are_named(ledger: Ledger) -> None:
    """What may not serve says so."""
    linen = kw.Board(BOARD, grade=kw.Grade.COTTON, no_turn=True)
    job = order(mats("A", 1, "11 x 14"), board=linen)
    add_offcuts(ledger, [measured("12 x 15", grade=kw.Grade.WOOD_PULP)])
    found = why(told(ledger, job, "12 x 15", directed=False))
    assert "a lower grade than cotton" in found[1]
    assert "no known direction" in found[2]


def test_offcuts_that_do_for_all_leave_the_rest(ledger: Ledger) -> None:
    """Two mats come from two offcuts of another shape, the third is not asked for."""
    job = order(mats("A", 1, "11 x 14"), mats("B", 1, "8 x 30"))
    found = why(told(ledger, job, "11 x 14", "8 x 30", "9 x 29"))
    assert found[3] == "too small for any piece ordered of its board"
    more = why(told(ledger, job, "12 x 29"))
    assert more[4].startswith("kept: worth ")
    assert "1 x A fits offcut 1, smaller and older" in more[4]


def test_an_offcut_that_saves_no_sheet_says_so(ledger: Ledger) -> None:
    """Four 16 x 20 take a whole sheet; a fifth mat of 15 x 19 comes from one offcut only."""
    job = order(mats("A", 4, "16 x 20"))
    found = why(told(ledger, job, "16 x 20"))
    assert re.fullmatch(
        r"(used for 1 x A|kept: worth 2 twentieths of a sheet whole; no plan takes fewer full "
        r"sheets with it; the best plan found leaves \d+ twentieths in all)",
        found[1],
    )


def test_those_that_share_a_reason_share_a_sentence(ledger: Ledger) -> None:
    """Each is still named with its size."""
    one = told(ledger, ONE, "8 x 10", "11 x 14", "7 x 9")
    small = "too small for any piece ordered of its board"
    assert f"Offcuts 1, 8 x 10 in; 3, 7 x 9 in: {small}." in one.why
    assert "Offcut 2, 11 x 14 in: used for 1 x A." in one.why


def test_a_shared_reason_is_told_in_the_plural(ledger: Ledger) -> None:
    """Two that another job has are set aside, and do not is."""
    add_offcuts(ledger, [measured("11 x 14"), measured("11 x 14")])
    pair = order(mats("A", 2, "11 x 14"))
    offer, audited = planned(ledger, pair, "/jobs/first")
    first = reserved(ledger, offer, audited, set_aside(ledger, offer, audited))
    assert "Offcuts 1, 11 x 14 in; 2, 11 x 14 in: each used for 1 x A." in first.why
    offer, audited = planned(ledger, pair, "/jobs/second")
    second = reserved(ledger, offer, audited, set_aside(ledger, offer, audited))
    assert "Offcuts 1, 11 x 14 in; 2, 11 x 14 in: are set aside for job 1." in second.why


def test_every_offcut_of_the_board_has_one_reason(ledger: Ledger) -> None:
    """No more and no fewer than are on the rack; those of another board have none."""
    from kerfwright.ledger.rack import Measured

    add_offcuts(ledger, [Measured("black core", size("11 x 14"))])
    one = told(ledger, ONE, "11 x 14", "30 x 30", "5 x 7", "11 x 14")
    assert sorted(why(one)) == [2, 3, 4, 5]
    assert len(one.used) + len(one.untouched) == 4
    assert one.offcuts == tuple(number for number, _ in one.used)


SIDES = st.integers(9, 33)
RACKS = st.lists(st.tuples(SIDES, SIDES), min_size=1, max_size=5)
WANTED = st.lists(st.tuples(st.integers(1, 3), SIDES, SIDES), min_size=1, max_size=2)


@settings(max_examples=25, deadline=None)
@given(RACKS, WANTED)
def test_whatever_the_rack_no_reason_is_false(
    rack: list[tuple[int, int]], wanted: list[tuple[int, int, int]]
) -> None:
    """Each claim is looked up again in the plan: sizes, ages, worths, sheets and proof."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        ledger = Ledger(Path(folder) / "ledger.db")
        ledger.begin()
        lines = [mats(chr(65 + n), q, f"{w} x {h}") for n, (q, w, h) in enumerate(wanted)]
        add_offcuts(ledger, [measured(f"{w} x {h}") for w, h in rack])
        try:
            offer, audited = planned(ledger, order(*lines), "/jobs/show")
        except AssertionError:
            return  # no plan exists, and so there is nothing to say
        said = reserved(ledger, offer, audited, set_aside(ledger, offer, audited))
        _true_of(audited, rack, said)


def _true_of(audited: kw.AuditedPlan, rack: list[tuple[int, int]], said: Reserved) -> None:
    (board,) = audited.plan.boards
    area = {n: w * h for n, (w, h) in enumerate(rack, 1)}
    layouts = {
        int(one.source.id or 0): one
        for one in board.layouts
        if one.source.kind is SourceKind.OFFCUT
    }
    assert sorted(n for n, _ in (*said.used, *said.untouched)) == sorted(area)
    assert {n for n, _ in said.used} == set(layouts)
    inch = Fraction(254, 10) / audited.plan.step.mm
    for number, reason in said.untouched:
        for other in map(int, re.findall(r"offcuts? (\d+)", reason)):
            assert other in layouts
            if "smaller" in reason:
                assert area[other] < area[number]
                assert (other < number) is ("and older" in reason)
            if "same size" in reason:
                assert rack[other - 1] == rack[number - 1]
                assert other < number
        worth = re.match(r"kept: worth (\d+) twentieth", reason)
        if worth:
            exact = worth_in_twentieths(int(area[number] * inch**2), board.stock)
            assert int(worth[1]) == int(exact)
        assert "no plan" not in reason or board.proved_least
        assert "all that is ordered" not in reason or board.sheets == 0
    for number, reason in said.used:
        made = sum(int(n) for n in re.findall(r"(\d+) x [A-Z]", reason))
        assert made == len(layouts[number].pieces)
        if "older than" in reason:
            alike = [n for n in area if rack[n - 1] == rack[number - 1] and n not in layouts]
            assert ", ".join(map(str, alike)) in reason.partition("older than")[2]
            assert all(number < other for other in alike)
        if "no smaller one" in reason:
            (piece,) = layouts[number].pieces
            short, long = sorted((piece.width, piece.height))
            for other in set(area) - set(layouts):
                narrow, tall = sorted(int(side * inch) for side in rack[other - 1])
                holds = short <= narrow and long <= tall
                assert not holds or area[other] > area[number]


def test_a_piece_lies_on_its_offcut_so_that_most_is_left(tmp_path: Path) -> None:
    """Turned, one cut frees a 9 x 12 and leaves 12 x 24; upright, two would leave 12 x 21."""
    ledger = Ledger(tmp_path / "rack.db")
    ledger.begin()
    add_offcuts(ledger, [measured(text) for text in ("29 x 16", "12 x 33", "21 x 25", "20 x 36")])
    plan = kw.make_plan(offered(ledger, order(mats("A", 1, "9 x 12")), tmp_path / "out").order)
    assert isinstance(plan, kw.Plan)
    rungs = plan.boards[0].rungs
    assert rungs is not None
    assert (rungs.worth, rungs.cuts) == (20, 1)
