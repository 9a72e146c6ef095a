"""Orders kept in a workbook, and what a spreadsheet does to fractions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest

from kerfwright import load_order
from kerfwright.errors import InputError
from kerfwright.lengths import Unit, parse_length, parse_size
from kerfwright.order import Piece, PieceKind

Rows = Sequence[Sequence[object]]

HEADER = ("label", "kind", "qty", "size", "board")
SIDES = ("label", "kind", "qty", "width", "height", "board")


def workbook(folder: Path, rows: Rows, **others: Rows) -> Path:
    """Write `rows` to the first sheet of a workbook, and `others` to sheets of their names."""
    book = openpyxl.Workbook()
    book.active.title = "Order"
    for row in rows:
        book.active.append(list(row))
    for title, content in others.items():
        sheet = book.create_sheet(title)
        for row in content:
            sheet.append(list(row))
    path = folder / "order.xlsx"
    book.save(path)
    return path


def refused(path: Path) -> list[str]:
    """Return the faults of a workbook."""
    with pytest.raises(InputError) as refusal:
        load_order(path)
    return [str(fault) for fault in refusal.value.faults]


def test_a_workbook_gives_the_pieces_that_a_text_file_gives(tmp_path: Path) -> None:
    """The pieces of tests/data/good, as cells."""
    rows = [
        ("Label", "Kind", "Qty", "Size", "Board", "Turn"),
        ("A", "Mat", 6, "16.5 x 20", "white rag", True),
        (2, "backer", 12.0, "40 x 50.5 cm", "foam", "no"),
        (None, " ", None, None, None, None),
        ("C", "mat", "1", "A3", "white rag", None),
    ]
    good = Path(__file__).parent / "data" / "good" / "order.toml"
    assert load_order(workbook(tmp_path, rows)).pieces == load_order(good).pieces


@pytest.mark.parametrize(
    ("cell", "inches"),
    [(16, "16"), (16.0, "16"), (16.125, "16 1/8"), (16.1, "16.1"), (0.1 + 0.2, "0.3"),
     ("16-1/8", "16 1/8"), ("16 1/8", "16 1/8"), ("413mm", "413mm")],
)  # fmt: skip
def test_numbers_in_cells_are_exact(tmp_path: Path, cell: object, inches: str) -> None:
    """A number is what its fifteen digits say, as the spreadsheet shows it: 0.1 + 0.2 is 0.3."""
    path = workbook(tmp_path, [SIDES, ("A", "mat", 1, cell, 20, "rag")])
    width = load_order(path).pieces[0].size.width
    assert width == parse_length(inches, Unit.INCH)


def test_numbers_may_name_things(tmp_path: Path) -> None:
    """Labels and boards typed as numbers are their digits."""
    path = workbook(tmp_path, [HEADER, (7, "mat", 1, "8 x 10", 3.0), (1.5, "mat", 1, "8 x 10", 3)])
    size = parse_size("8 x 10", Unit.INCH)
    assert load_order(path).pieces == (
        Piece("7", PieceKind.MAT, 1, size, "3"),
        Piece("1.5", PieceKind.MAT, 1, size, "3"),
    )


DATE_ADVICE = "format the cell as text and type '16 1/8 with the apostrophe in front, or 16.125"


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        (dt.date(2026, 1, 2), "2026-01-02"),
        (dt.datetime(2026, 1, 16), "2026-01-16"),
        (dt.datetime(2026, 1, 16, 8, 30), "2026-01-16 08:30:00"),
        ("16-Jan", "16-Jan"),
        ("1/16/26", "1/16/26"),
    ],
)
def test_a_date_is_refused_by_the_name_of_its_cell(
    tmp_path: Path, cell: object, shown: str
) -> None:
    """A fraction that its spreadsheet made a date of is named, with what to type instead."""
    path = workbook(tmp_path, [SIDES, (), ("A", "mat", 1, 20, cell, "rag")])
    assert refused(path) == [
        f"order.xlsx, row 3, cell E3: height {shown!r} is a date, which spreadsheets make of "
        f"fractions; {DATE_ADVICE}"
    ]


@pytest.mark.parametrize(
    ("cell", "shown"),
    [(dt.time(16, 8), "16:08:00"), (dt.timedelta(hours=30, minutes=5), "1 day, 6:05:00")],
)
def test_a_time_is_no_date(tmp_path: Path, cell: object, shown: str) -> None:
    """16:8 typed for a size becomes a time of day, which is said as such; so does a duration."""
    (fault,) = refused(workbook(tmp_path, [HEADER, ("A", "mat", 1, cell, "rag")]))
    assert fault == (
        f"order.xlsx, row 2, cell D2: size {shown!r} is a time, which spreadsheets make of numbers;"
        " format the cell as text and type 16 x 20"
    )


@pytest.mark.parametrize(
    ("column", "advice"),
    [
        ("size", "format the cell as text and type 16 x 20"),
        ("qty", "format the cell as a number and type how many"),
        ("board", "format the cell as text and type it again"),
    ],
)
def test_what_to_type_for_a_date_depends_on_the_column(
    tmp_path: Path, column: str, advice: str
) -> None:
    """A size is two lengths, a quantity a number; advice for one would be no help for another."""
    row = {"label": "A", "kind": "mat", "qty": 1, "size": "8 x 10", "board": "rag"}
    cells = {**row, column: dt.date(2026, 1, 16)}
    (fault,) = refused(workbook(tmp_path, [HEADER, tuple(cells.values())]))
    assert fault.endswith(f"is a date, which spreadsheets make of fractions; {advice}")


def test_a_date_in_a_text_file_is_met_with_a_size(tmp_path: Path) -> None:
    """A CSV file that a spreadsheet spoilt is answered in the same way."""
    path = tmp_path / "order.csv"
    path.write_text("label,kind,qty,size,board\nA,mat,1,16-Jan,rag\n", encoding="utf-8")
    (fault,) = refused(path)
    assert fault.endswith("fractions; format the cell as text and type 16 x 20")


def test_a_label_that_became_a_date_is_refused(tmp_path: Path) -> None:
    """A label such as 1-2 becomes a date too; read as one it would print as a date."""
    path = workbook(tmp_path, [HEADER, (dt.date(2026, 2, 1), "mat", 1, "8 x 10", "rag")])
    (fault,) = refused(path)
    assert fault.startswith("order.xlsx, row 2, cell A2: label '2026-02-01' is a date")


@pytest.mark.parametrize(
    ("cell", "told"),
    [
        ("=8*2", "cell D2: width '=8*2' is a formula without a stored result; type the value"),
        ("#REF!", "cell D2: width '#REF!' is an error in the spreadsheet; type the value itself"),
        ("#DIV/0!", "cell D2: width '#DIV/0!' is an error in the spreadsheet"),
        (True, "cell D2: width 'true' is not a length"),
        (-3, "cell D2: width '-3' is negative"),
        (1e300, "cell D2: width"),
        (None, "cell D2: width is missing"),
    ],
)
def test_a_spoilt_cell_is_refused_by_its_name(tmp_path: Path, cell: object, told: str) -> None:
    """Formulas that were never worked out, spreadsheet errors, and what is no length."""
    (fault,) = refused(workbook(tmp_path, [SIDES, ("A", "mat", 1, cell, 20, "rag")]))
    assert told in fault


def test_every_fault_of_a_workbook_is_told(tmp_path: Path) -> None:
    """Five faults in three rows, row by row."""
    rows = [
        (*HEADER, "colour"),
        ("A", "matt", 2.5, "16 x 20", "rag"),
        ("A", "mat", 1, 16, "rag"),
    ]
    assert [fault.split(": ")[0] for fault in refused(workbook(tmp_path, rows))] == [
        "order.xlsx, row 1, cell F1",
        "order.xlsx, row 2, cell B2",
        "order.xlsx, row 2, cell C2",
        "order.xlsx, row 3, cell D3",
        "order.xlsx, row 3, cell A3",
    ]


ORDER: Rows = [HEADER, ("A", "mat", 1, "8 x 10", "rag")]
PRICES: Rows = [("board", "price"), ("rag", 21.5)]


def test_the_first_sheet_is_read_if_it_has_labels(tmp_path: Path) -> None:
    """Other sheets are passed over, and the order says which was read."""
    order = load_order(workbook(tmp_path, ORDER, Prices=PRICES, Old=ORDER))
    assert len(order.pieces) == 1
    assert order.notes[0] == "The sheet 'Order' of order.xlsx was read."


def test_else_the_only_sheet_with_labels_is_read(tmp_path: Path) -> None:
    """The order may stand behind a sheet of prices."""
    order = load_order(workbook(tmp_path, PRICES, Pieces=ORDER, Empty=[]))
    assert order.notes[0] == "The sheet 'Pieces' of order.xlsx was read."
    assert order.pieces[0].label == "A"


@pytest.mark.parametrize("others", [{"One": ORDER, "Two": ORDER}, {"One": PRICES}])
def test_no_sheet_is_guessed(tmp_path: Path, others: dict[str, Rows]) -> None:
    """Two orders behind a sheet of prices, or none at all, are refused."""
    (fault,) = refused(workbook(tmp_path, PRICES, **others))
    assert "order.xlsx: has several sheets and no telling which is the order" in fault


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([], "order.xlsx: is empty"),
        ([HEADER], "order.xlsx: orders no pieces"),
        ([("A", "mat", 6, "16 x 20", "rag")], "order.xlsx, row 1: does not name the columns"),
    ],
)
def test_a_workbook_without_an_order_is_refused(tmp_path: Path, rows: Rows, told: str) -> None:
    """An empty sheet, a header alone, and rows without a header."""
    (fault,) = refused(workbook(tmp_path, rows))
    assert fault.startswith(told)


def test_a_workbook_cut_short_is_refused(tmp_path: Path) -> None:
    """Half a file, or a file whose middle is spoilt, gives one message and no traceback."""
    path = workbook(tmp_path, ORDER)
    whole = path.read_bytes()
    for spoilt in (whole[: len(whole) // 2], whole[:200] + bytes(400) + whole[600:]):
        path.write_bytes(spoilt)
        (fault,) = refused(path)
        assert fault.startswith("order.xlsx: is damaged, or no XLSX workbook")
