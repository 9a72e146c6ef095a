"""A whole rack goes out to CSV and JSON and comes in again as it was."""

from __future__ import annotations

import json
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from racks import BOARD, booked, mats, measured, order, size, small_ledger

import kerfwright as kw
from kerfwright.ledger import Ledger, book, book_cut, check_ledger, offered
from kerfwright.ledger.events import Event, chained
from kerfwright.ledger.exchange import (
    export_csv,
    export_json,
    import_csv,
    import_json,
    read_count,
)
from kerfwright.ledger.rack import (
    Measured,
    Stack,
    Told,
    add_offcuts,
    add_sheets,
    add_slips,
    add_stock,
    describe_board,
    move,
    take,
)
from kerfwright.ledger.state import BoardFacts


@pytest.fixture
def full(tmp_path: Path) -> Ledger:
    """Give a ledger with something of every sort, in inches and millimetres."""
    ledger = small_ledger(tmp_path / "full.db")
    inch = kw.parse_length("1/4", kw.Unit.INCH)
    none = kw.Length(inch.mm * 0)
    describe_board(ledger, BOARD, grade=kw.Grade.COTTON, buffered=True)
    describe_board(ledger, "white foam", grade=kw.Grade.FOAM)
    add_sheets(ledger, BOARD, size("32 x 40"), 2, price=Fraction("21.50"))
    add_sheets(ledger, "white foam", size("1000 x 1400 mm"), 3)
    add_slips(ledger, BOARD, size("4 x 40"), 3)
    add_offcuts(ledger, [
        measured("14 1/3 x 20", "=1+1", edges=(inch, none, none, inch)),
        measured("300 x 401.5 mm", "shelf, B", directed=False, buffered=False),
        Measured("white foam", size("20 x 20"), unknown=True, note="-from the attic"),
        Measured(BOARD, size("12 x 12"), kw.Grade.COTTON, unsure=True),
        Measured(BOARD, size("9 x 12"), kw.Grade.COTTON, directed=False, dropped=True),
    ])  # fmt: skip
    take(ledger, [1], "spoiled")
    job = booked(ledger, order(mats("A", 7, "16 x 20")), "/jobs/show").job
    book_cut(ledger, job.number, drop_outs={"A": size("11 x 14")}, place="C2")
    booked(ledger, order(mats("B", 1, "12 x 12")), "/jobs/aside")
    return ledger


def stock(ledger: Ledger) -> tuple[Counter[object], ...]:
    """Return all that is on the rack, numbers and dates left out."""
    state = ledger.state()
    kept = Counter(
        (one.board, one.size, one.grade, one.buffered, one.directed, one.edges, one.place,
         one.came_by == "drop-out")
        for one in state.offcuts.values() if one.here
    )  # fmt: skip
    counts = [
        Counter({key: number for key, number in sums.items() if number})
        for sums in (state.sheets, state.slips, state.scored)
    ]
    priced = Counter({(*key, state.prices[key]): 1 for key in state.prices})
    return (kept, *counts, priced)  # type: ignore[arg-type]


def fresh(folder: Path, name: str) -> Ledger:
    """Return an empty ledger."""
    ledger = Ledger(folder / name)
    ledger.begin()
    return ledger


def test_a_whole_rack_goes_through_csv_and_back(full: Ledger, tmp_path: Path) -> None:
    """Offcuts, drop-outs, full sheets with prices, slip sheets with their wear."""
    path = tmp_path / "rack.csv"
    path.write_text(export_csv(full))
    other = fresh(tmp_path, "other.db")
    import_csv(other, path, kw.Unit.INCH)
    assert stock(other) == stock(full)
    assert sum(stock(full)[0].values()) > 7
    assert all(stock(full))
    assert check_ledger(other).faults == ()
    (tmp_path / "again.csv").write_text(export_csv(other))
    third = fresh(tmp_path, "third.db")
    import_csv(third, tmp_path / "again.csv", kw.Unit.MILLIMETRE)  # every size has its unit
    assert stock(third) == stock(full)


def test_a_whole_ledger_goes_through_json_and_back(full: Ledger, tmp_path: Path) -> None:
    """Event for event, and so the stock, jobs and all."""
    path = tmp_path / "all.json"
    path.write_text(export_json(full))
    other = fresh(tmp_path, "other.db")
    import_json(other, path)
    assert other.events() == full.events()
    assert stock(other) == stock(full)
    assert other.state() == full.state()
    assert check_ledger(other).faults == ()


FAULTS = {
    "kind": ("kind,size,board\nshelf,8 x 10,rag\n", "row 2: kind 'shelf' is not known; write offc"),
    "price": ("size,board,price\n8 x 10,rag,3\n", "price '3' is said of an offcut, which has none"),
    "place": (
        "kind,size,board,place\nslip sheet,4 x 40,rag,A1\n",
        "place 'A1' is said of a slip sheet, which has none",
    ),
    "windows": ("kind,size,board,windows\nsheet,4 x 40,rag,2\n", "is said of a full sheet"),
    "tiny": ("size,board\n0.4 x 10 mm,rag\n", "too small for an offcut; write sides of 10 mm"),
    "nothing": ("size,board\n", "lists nothing"),
    "worn": (
        "kind,size,board,qty,windows\nslip,4 x 40,rag,2,21\n",
        "windows '21' is 10 or more for each of 2, which are worn then; leave out those",
    ),
    "count": ("kind,size,board,qty\nslip,4 x 40,rag,0\n", "qty '0' is no count"),
    "future": (
        "size,board,since\n8 x 10,rag,2962-03-02\n",
        "row 2: since '2962-03-02' lies in the future; write when it came",
    ),
    "two grades": (
        "kind,size,board,grade\nboard,,rag,wood-pulp\nsheet,32 x 40,rag,cotton\n",
        "row 3: grade 'cotton' is not what rack.csv, row 2 says of 'rag'; say the same in both",
    ),
    "two prices": (
        "kind,size,board,qty,price\nsheet,32 x 40,rag,1,20\nsheet,32 x 40,rag,1,30\n",
        "row 3: price '30' is not what rack.csv, row 2 says of 'rag'",
    ),
    "grain": (
        "kind,size,board,grain\noffcut,12 x 40,rag,yes\noffcut,13 x 40,rag,no\n",
        "row 3: grain 'no' is not what rack.csv, row 2 says of 'rag'",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_what_a_row_cannot_say_is_told(fault: str, tmp_path: Path) -> None:
    """With the row, the column and what would do; nothing is taken in."""
    text, told = FAULTS[fault]
    ledger = fresh(tmp_path, "ledger.db")
    (tmp_path / "rack.csv").write_text(text)
    with pytest.raises(kw.InputError) as refused:
        import_csv(ledger, tmp_path / "rack.csv", kw.Unit.INCH)
    assert told in str(refused.value)
    assert ledger.events() == ()


def test_faults_are_told_in_the_order_of_their_rows(tmp_path: Path) -> None:
    """Whatever is looked at first."""
    (tmp_path / "rack.csv").write_text(
        "kind,size,board,qty,place\nsheet,8 x,rag,1,\noffcut,8 x 10,,1,\nshelf,8 x 10,rag,1,\n"
        "slip,4 x 40,rag,0,A1\n"
    )
    with pytest.raises(kw.InputError) as refused:
        import_csv(fresh(tmp_path, "ledger.db"), tmp_path / "rack.csv", kw.Unit.INCH)
    rows = [int(fault.where.split()[-1]) for fault in refused.value.faults]
    assert rows == sorted(rows)
    assert set(rows) == {2, 3, 4, 5}


def test_a_table_that_says_otherwise_what_a_board_is_is_refused(tmp_path: Path) -> None:
    """The grade of a board is one, for all its sheets."""
    ledger = fresh(tmp_path, "ledger.db")
    describe_board(ledger, "rag", grade=kw.Grade.COTTON)
    (tmp_path / "rack.csv").write_text("kind,size,board,grade\nsheet,32 x 40,rag,wood-pulp\n")
    told = "row 2: grade 'wood-pulp' is not what the ledger says of 'rag'; `kerfwright ledger board"
    with pytest.raises(kw.InputError, match=told):
        import_csv(ledger, tmp_path / "rack.csv", kw.Unit.INCH)


def test_sheets_are_not_taken_in_twice_either(tmp_path: Path) -> None:
    """A file of sheets alone is known again."""
    ledger = fresh(tmp_path, "ledger.db")
    (tmp_path / "rack.csv").write_text("kind,size,board,qty\nsheet,32 x 40,rag,4\n")
    import_csv(ledger, tmp_path / "rack.csv", kw.Unit.INCH)
    with pytest.raises(kw.LedgerError, match="the very same file was taken in"):
        import_csv(ledger, tmp_path / "rack.csv", kw.Unit.INCH)
    assert ledger.state().sheets["rag", size("32 x 40")] == 4


def test_a_table_with_semicolons_has_decimal_commas(tmp_path: Path) -> None:
    """As spreadsheets write it where the comma is the decimal sign; a count is read so, too."""
    ledger = fresh(tmp_path, "ledger.db")
    path = tmp_path / "rack.csv"
    path.write_text(
        "kind;size;board;edges;price\n;350,5 x 500;rag;left 2,5, top 1;\n"
        "full sheet;815 x 1120;rag;;21,50\n"
    )
    import_csv(ledger, path, kw.Unit.MILLIMETRE)
    (kept,) = ledger.state().offcuts.values()
    assert kept.size == size("350.5 x 500 mm")
    assert kept.usable == size("348 x 499 mm")
    assert ledger.state().prices == {("rag", size("815 x 1120 mm")): Fraction("21.50")}
    (tmp_path / "count.csv").write_text("number;size\n1;350,25 x 500\n")
    assert read_count(tmp_path / "count.csv", kw.Unit.MILLIMETRE)[0].size == size("350.25 x 500 mm")


# --- what a table carries, whatever is on the rack ----------------------------------------------

Lines = list[tuple[Any, ...]]
Priced = dict[tuple[str, str], tuple[int, Fraction | None]]
EDGE = st.sampled_from([kw.Length(Fraction(0)), kw.parse_length("3/8", kw.Unit.INCH)])
FACTS = st.builds(
    BoardFacts,
    st.sampled_from([None, kw.Grade.COTTON, kw.Grade.WOOD_PULP]),
    st.sampled_from([None, True, False]),
    st.sampled_from([None, True, False]),
)
LINES = st.lists(
    st.tuples(
        st.sampled_from([BOARD, "grey linen"]),
        st.sampled_from(["14 x 32", "16 x 20", "14 1/3 x 20", "300 x 401.5 mm"]),
        st.sampled_from([None, "unknown", kw.Grade.COTTON, kw.Grade.FOAM]),
        st.sampled_from([None, "unsure", True, False]),
        st.booleans(),
        st.booleans(),
        EDGE,
        st.sampled_from(["", "A1", "=B2"]),
        st.sampled_from(["", "2025-12-24T18:00:00+01:00", "2026-01-07T09:30:00+00:00"]),
    ),
    max_size=5,
)
PRICED = st.dictionaries(
    st.tuples(st.sampled_from([BOARD, "grey linen"]), st.sampled_from(["32 x 40", "40 x 60"])),
    st.tuples(st.integers(0, 3), st.sampled_from([None, Fraction("21.50"), Fraction(8)])),
    max_size=3,
)


def filled(
    path: Path, facts: tuple[BoardFacts, BoardFacts], lines: Lines, priced: Priced
) -> Ledger:
    """Return a ledger with whatever was thought up."""
    ledger = Ledger(path)
    ledger.begin()
    boards = [Told(name, one) for name, one in zip((BOARD, "grey linen"), facts, strict=True)]
    stacks = [
        Stack(board, size(text), count, price=price)
        for (board, text), (count, price) in priced.items()
        if count or price is not None
    ]
    none = kw.Length(Fraction(0))
    offcuts = [
        Measured(
            board,
            size(text),
            grade if isinstance(grade, kw.Grade) else None,
            buffered if isinstance(buffered, bool) else None,
            grade == "unknown",
            directed,
            (edge, none, none, none),
            place,
            dropped=dropped,
            unsure=buffered == "unsure",
            since=since,
        )
        for board, text, grade, buffered, directed, dropped, edge, place, since in lines
    ]
    add_stock(ledger, offcuts, stacks, boards=boards)
    return ledger


def whole(ledger: Ledger) -> tuple[object, ...]:
    """Return a whole rack: offcuts the oldest first with their dates, counts, boards, prices."""
    state = ledger.state()
    here = sorted((one for one in state.offcuts.values() if one.here), key=lambda one: one.born)
    return (
        [replace(one, number=0, born=(one.born[0], 0), since="", source="") for one in here],
        {key: count for key, count in state.sheets.items() if count},
        {name: facts for name, facts in state.boards.items() if facts != BoardFacts()},
        state.prices,
    )


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(facts=st.tuples(FACTS, FACTS), lines=LINES, priced=PRICED)
def test_any_rack_goes_through_both_forms_and_is_the_same(
    tmp_path: Path, facts: tuple[BoardFacts, BoardFacts], lines: Lines, priced: Priced
) -> None:
    """With the directions of boards, the prices of sheets that are not there, and all dates."""
    with tempfile.TemporaryDirectory(dir=tmp_path) as name:
        folder = Path(name)
        ledger = filled(folder / "one.db", facts, lines, priced)
        (folder / "rack.csv").write_text(export_csv(ledger))
        (folder / "all.json").write_text(export_json(ledger))
        copies = fresh(folder, "csv.db"), fresh(folder, "json.db")
        if whole(ledger) != ([], {}, {}, {}):
            import_csv(copies[0], folder / "rack.csv", kw.Unit.INCH)
        import_json(copies[1], folder / "all.json")
        for copy in copies:
            assert whole(copy) == whole(ledger)
            assert check_ledger(copy).faults == ()


def test_the_oldest_goes_first_after_a_table_was_sorted_otherwise(tmp_path: Path) -> None:
    """By the dates in it, and not by its rows; also beside what was there before."""
    ledger = fresh(tmp_path, "ledger.db")
    add_offcuts(ledger, [measured("16 x 20")])
    rows = ("2026-03-02", "", "2025-01-31T10:00:00+00:00")
    told = "".join(f"16 x 20,{BOARD},cotton,{since}\n" for since in rows)
    (tmp_path / "rack.csv").write_text(f"size,board,grade,since\n{told}")
    import_csv(ledger, tmp_path / "rack.csv", kw.Unit.INCH)
    offer = offered(ledger, order(mats("A", 1, "16 x 20")), str(tmp_path / "show"))
    assert [one.id for one in offer.order.offcuts] == ["4", "2", "1", "3"]
    connection = sqlite3.connect(ledger.path)
    dates = dict(connection.execute("SELECT number, since FROM offcuts"))
    connection.close()
    assert dates == {number: kept.since for number, kept in ledger.state().offcuts.items()}
    assert datetime.fromisoformat(dates[4]) == datetime.fromisoformat(rows[2])


def test_a_clock_that_goes_back_makes_nothing_older(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What came later is younger, whatever the clock said, and stays so through a table."""
    ledger = fresh(tmp_path, "ledger.db")
    for hour in ("12", "09", "13"):
        monkeypatch.setattr(book, "now", lambda hour=hour: f"2026-03-02T{hour}:00:00+00:00")
        add_offcuts(ledger, [measured("16 x 20", place=hour)])
    (tmp_path / "rack.csv").write_text(export_csv(ledger))
    copy = fresh(tmp_path, "copy.db")
    import_csv(copy, tmp_path / "rack.csv", kw.Unit.INCH)
    for one in (ledger, copy):
        kept = sorted(one.state().offcuts.values(), key=lambda kept: kept.born)
        assert [kept.place for kept in kept] == ["12", "09", "13"]


# As it was written before boards' grains were.
COLUMNS = (
    "number,kind,state,size,board,qty,grade,buffered,direction,edges,place,price,windows,since,"
    "source"
)
EARLIER = f"""{COLUMNS}
3,offcut,on the rack,14 in x 32 in,rag,1,cotton,unknown,known,left 1/4 in,A1,,,{{since}},by hand
,full sheet,,32 in x 40 in,rag,5,cotton,unknown,,,,21.5,,,
,slip sheet,,4 in x 40 in,rag,2,cotton,unknown,,,,,7,,
"""


def test_a_table_of_an_earlier_version_is_read(tmp_path: Path) -> None:
    """Without a column for the grain; the date that it had was not read then, and is now."""
    ledger = fresh(tmp_path, "ledger.db")
    since = "2026-01-05T10:00:00+01:00"
    (tmp_path / "rack.csv").write_text(EARLIER.format(since=since))
    import_csv(ledger, tmp_path / "rack.csv", kw.Unit.INCH)
    state = ledger.state()
    (kept,) = state.offcuts.values()
    assert kept.born[0] == datetime.fromisoformat(since)
    assert state.prices == {("rag", size("32 x 40")): Fraction("21.5")}
    assert (state.boards["rag"].directed, state.scored["rag", size("4 x 40")]) == (None, 7)


def test_a_board_known_otherwise_and_a_date_that_is_none_are_refused(tmp_path: Path) -> None:
    """Each with what it is, and nothing is taken in."""
    ledger = fresh(tmp_path, "ledger.db")
    describe_board(ledger, "linen", directed=True)
    path = tmp_path / "rack.csv"
    path.write_text("kind,size,board,grain\nboard,,linen,no\n")
    with pytest.raises(kw.InputError, match="grain 'no' is not what the ledger says of 'linen'"):
        import_csv(ledger, path, kw.Unit.INCH)
    path.write_text("size,board,grain,since\n8 x 10,linen,maybe,3/2/2026\n")
    with pytest.raises(kw.InputError) as refused:
        import_csv(ledger, path, kw.Unit.INCH)
    assert "grain 'maybe' is not clear; write yes, no or unknown" in str(refused.value)
    assert "since '3/2/2026' is no date; write such as 2026-03-02" in str(refused.value)
    assert len(ledger.events()) == 1


# --- a whole ledger as JSON that was changed by hand --------------------------------------------

BENT: dict[str, tuple[int, str, object, str]] = {
    "a number as text": (
        2, "count", "5", 'event 2: count \'"5"\' is not a whole number; write a whole',
    ),
    "yes for a number": (1, "seq", True, "seq 'true' is not a whole number; write a whole number"),
    "beyond any number": (1, "entry", 2**70, "is not a whole number; write a whole number"),
    "text as a number": (1, "board", 7, "board '7' is not a text; write a text, or null"),
    "half a letter": (1, "board", "\ud800", "is not a text; write a text, or null"),
    "a length in inches": (3, "width", "14 in", "width '\"14 in\"' is not an exact number"),
    "three edges": (3, "edges", "0/1 0/1 0/1", "is not four exact lengths; write such as 127/20"),
    "a state": (3, "buffered", "maybe", "is not known; write yes, no or unknown, or null"),
    "no event": (1, "event", "stolen", "is not an event that is known; known are board"),
    "no event at all": (1, "event", None, "event 'null' is not an event that is known; write"),
    "a day": (1, "at", "yesterday", "at '\"yesterday\"' is not a date; write such as 2026"),
    "a list": (1, "details", "[1]", "is not an object in JSON; write an object in JSON"),
}  # fmt: skip


@pytest.mark.parametrize("case", BENT)
def test_a_value_of_another_sort_is_told(full: Ledger, tmp_path: Path, case: str) -> None:
    """With the file, the event, the field, the value, and what would be accepted."""
    place, field, value, message = BENT[case]
    document = json.loads(export_json(full))
    document["events"][place - 1][field] = value
    path = tmp_path / "all.json"
    path.write_text(json.dumps(document))
    other = fresh(tmp_path, "other.db")
    with pytest.raises(kw.InputError) as refused:
        import_json(other, path)
    assert message in str(refused.value)
    assert f"all.json, event {place}: {field} " in str(refused.value)
    assert len(refused.value.faults) == 1
    assert other.events() == ()


DOCUMENTS = {
    "no JSON": ("{", "is no ledger that was exported: it is not JSON in UTF-8; give a .json file"),
    "too deep": ("[" * 100_000, "is no ledger that was exported"),
    "a list": ("[]", "is no ledger that was exported; give a .json file"),
    "another": ('{"format": "notes"}', "is no ledger that was exported"),
    "to come": (
        '{"format": "kerfwright-ledger", "version": 2}',
        "version '2' is not known to this kerfwright; it reads 1",
    ),
    "no events": (
        '{"format": "kerfwright-ledger", "version": 1, "events": {}}', "events '{}' is no list",
    ),
    "no event": (
        '{"format": "kerfwright-ledger", "version": 1, "events": [3]}', "event 1: '3' is no event",
    ),
    "no fields": (
        '{"format": "kerfwright-ledger", "version": 1, "events": [{}]}', "1: event is missing",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", DOCUMENTS)
def test_a_document_that_is_no_ledger_is_told(tmp_path: Path, case: str) -> None:
    """Whatever it is, the message names the file and says why."""
    text, message = DOCUMENTS[case]
    path = tmp_path / "all.json"
    path.write_text(text)
    with pytest.raises(kw.InputError) as refused:
        import_json(fresh(tmp_path, "other.db"), path)
    assert "all.json" in str(refused.value)
    assert message in str(refused.value)


def test_events_that_cannot_follow_one_another_are_told(full: Ledger, tmp_path: Path) -> None:
    """With digests that are right, whoever made them, the ledger's rules hold all the same."""
    first, second = full.events()[:2]
    made = chained([replace(first, seq=0), replace(second, event="cut", job=9, offcut=4)], None, 1,
                   first.at)  # fmt: skip
    document = json.loads(export_json(full))
    document["events"] = [asdict(event) for event in made]
    (tmp_path / "all.json").write_text(json.dumps(document))
    with pytest.raises(kw.InputError, match=r"event 2 \(cut\) cannot be: there is no offcut 4"):
        import_json(fresh(tmp_path, "other.db"), tmp_path / "all.json")


def test_one_cell_too_much_is_one_fault(full: Ledger, tmp_path: Path) -> None:
    """Windows are said of slip sheets only; of a full sheet they are not reckoned with as well."""
    path = tmp_path / "rack.csv"
    path.write_text("kind,size,board,windows\nsheet,32 x 40,rag,25\n")
    with pytest.raises(kw.InputError) as refusal:
        import_csv(full, path, kw.Unit.INCH)
    assert [fault.problem for fault in refusal.value.faults] == [
        "is said of a full sheet, which has none"
    ]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda event: replace(event, at="0001-01-01"), "no date"),
        (lambda event: replace(event, area="1/1") if event.area else event, "area"),
    ],
    ids=["a date that is none", "areas that are wrong"],
)
def test_a_document_that_would_not_pass_the_check_is_not_taken_in(
    full: Ledger, tmp_path: Path, change: Callable[[Event], Event], told: str
) -> None:
    """Whoever made its digests anew: no ledger is begun that is not whole."""
    made: tuple[Event, ...] = ()
    for event in map(change, full.events()):
        made += chained([event], made[-1] if made else None, event.entry, event.at)
    document = json.loads(export_json(full))
    document["events"] = [asdict(event) for event in made]
    (tmp_path / "all.json").write_text(json.dumps(document))
    other = fresh(tmp_path, "other.db")
    with pytest.raises(kw.InputError, match=told):
        import_json(other, tmp_path / "all.json")
    assert other.events() == ()


def test_a_cell_that_is_too_long_is_a_fault_of_its_row(full: Ledger, tmp_path: Path) -> None:
    """A quote that is never closed takes in the rest of the file; nothing is taken in of it."""
    path = tmp_path / "rack.csv"
    path.write_text('size,board,note\n14 x 32,rag,\n10 x 12,rag,"' + "so long, " * 20_000)
    count = len(full.events())
    with pytest.raises(kw.InputError) as refusal:
        import_csv(full, path, kw.Unit.INCH)
    (fault,) = refusal.value.faults
    assert fault.where == "rack.csv, row 3"
    assert fault.problem == "has a cell that is too long"
    assert len(full.events()) == count
    with pytest.raises(kw.InputError):
        read_count(path, kw.Unit.INCH)


@pytest.mark.parametrize("sign", ["\0", "\x1b[2J", "\u202e"], ids=["NUL", "escape", "turner"])
@pytest.mark.parametrize("column", ["board", "place", "note"])
def test_a_table_with_what_cannot_be_printed_is_refused(
    full: Ledger, tmp_path: Path, column: str, sign: str
) -> None:
    """A terminal would obey it, and a label could not show it; a line break is only a blank."""
    path = tmp_path / "rack.csv"
    cells = {"size": "14 x 32", "board": "rag", "place": "A1", "note": "", column: f"A{sign}1"}
    path.write_text(",".join(cells) + "\n" + ",".join(cells.values()) + "\n", encoding="utf-8")
    with pytest.raises(kw.InputError) as refusal:
        import_csv(full, path, kw.Unit.INCH)
    (fault,) = refusal.value.faults
    assert (fault.where, fault.field) == ("rack.csv, row 2", column)
    assert fault.problem == f"holds the unprintable character U+{ord(sign[0]):04X}"


def test_texts_are_kept_on_one_line(full: Ledger, tmp_path: Path) -> None:
    """A place that breaks over two lines of a cell is the same place as with a blank."""
    path = tmp_path / "rack.csv"
    path.write_text('size,board,place,note\n14 x 32,"a\nrag","shelf\n  B","from\tthe attic"\n')
    number = import_csv(full, path, kw.Unit.INCH).offcuts[0]
    kept = full.state().offcuts[number]
    assert (kept.board, kept.place) == ("a rag", "shelf B")
    assert kept.source.startswith("from the attic")
    move(full, [number], "shelf\r\nC")
    assert full.state().offcuts[number].place == "shelf C"
    count = len(full.events())
    move(full, [number], "shelf  C")
    assert len(full.events()) == count
    told = "holds the unprintable character U"
    with pytest.raises(kw.LedgerError, match=told):
        move(full, [number], "A\x1b[2J")
    with pytest.raises(kw.LedgerError, match=told):
        take(full, [number], "spoiled", "bell\a")
    with pytest.raises(kw.LedgerError, match=told):
        add_offcuts(full, [Measured("ra\0g", size("10 x 12"))])
    assert len(full.events()) == count
