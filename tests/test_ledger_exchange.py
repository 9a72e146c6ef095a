"""A whole rack goes out to CSV and JSON and comes in again as it was."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest
from racks import BOARD, booked, mats, measured, order, size, small_ledger

import kerfwright as kw
from kerfwright.ledger import Ledger, book_cut, check_ledger
from kerfwright.ledger.exchange import (
    export_csv,
    export_json,
    import_csv,
    import_json,
    read_count,
)
from kerfwright.ledger.rack import (
    Measured,
    add_offcuts,
    add_sheets,
    add_slips,
    describe_board,
    take,
)


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
    priced = Counter({(*key, state.prices[key]): 1 for key in state.prices if state.sheets[key]})
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
        "windows '21' is more than 10 for each of 2; leave out those that are worn",
    ),
    "count": ("kind,size,board,qty\nslip,4 x 40,rag,0\n", "qty '0' is no count"),
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


def test_a_table_that_says_otherwise_what_a_board_is_is_refused(tmp_path: Path) -> None:
    """The grade of a board is one, for all its sheets."""
    ledger = fresh(tmp_path, "ledger.db")
    describe_board(ledger, "rag", grade=kw.Grade.COTTON)
    (tmp_path / "rack.csv").write_text("kind,size,board,grade\nsheet,32 x 40,rag,wood-pulp\n")
    with pytest.raises(kw.LedgerError, match="knows 'rag' otherwise: its grade is cotton"):
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
