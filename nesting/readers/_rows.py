"""Rows of a spreadsheet, under a header, as records."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ._fields import meant
from ._records import BadCell, FaultList, Place, Record

__all__ = ["Row", "cell_name", "header_fields", "records_from"]

COLUMNS = ("label", "kind", "qty", "size", "width", "height", "board", "turn", "unit")
_MEASURES = ("size", "width", "height")
_HEADER_ADVICE = "name the columns label, kind, qty, size, board in the first row"
_LENGTH_ADVICE = "format the cell as text and type '16 1/8 with the apostrophe in front, or 16.125"
_DATE_ADVICE = {
    "qty": "format the cell as a number and type how many",
    "size": "format the cell as text and type 16 x 20",
    "width": _LENGTH_ADVICE,
    "height": _LENGTH_ADVICE,
}
_DATE_ADVICE_ELSEWHERE = "format the cell as text and type it again"
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_DATE = re.compile(
    r"[0-9]{4}[-/.][0-9]{1,2}[-/.][0-9]{1,2}(?:[ t][0-9:.]+)?"
    r"|[0-9]{1,2}[/.-][0-9]{1,2}[/.-](?:[0-9]{4}|[0-9]{2})(?: [0-9:.]+)?"
    rf"|[0-9]{{1,4}}[-/. ]{_MONTH}(?:[-/. ,]+[0-9]{{1,4}})?"
    rf"|{_MONTH}[-/. ][0-9]{{1,4}}(?:[-/. ,]+[0-9]{{2,4}})?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Row:
    """One row that is not blank: its number from 1, and its cells."""

    number: int
    cells: tuple[object, ...]


def is_blank(cell: object) -> bool:
    """Return whether a cell holds nothing that a person can see."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def cell_name(row: int, column: int) -> str:
    """Return the name of a cell, such as ``D4``, from its row from 1 and column from 0."""
    letters = ""
    column += 1
    while column:
        column, letter = divmod(column - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{row}"


def header_fields(row: Row) -> list[str]:
    """Return the column names of a header row, in lower case; empty for a blank cell."""
    return [cell.strip().lower() if isinstance(cell, str) else "" for cell in row.cells]


def records_from(file: str, rows: Iterable[Row], faults: FaultList) -> tuple[Record, ...]:
    """Return the rows under the header as records; every fault of the header is noted."""
    remaining = iter(rows)
    header = next(remaining, None)
    if header is None:
        faults.add(Place(file), "", "", "is empty", _HEADER_ADVICE)
        return ()
    fields = header_fields(header)
    absent = _check_header(file, header, fields, faults)
    if absent is None:
        return ()
    return tuple(_record(file, row, fields, absent, faults) for row in remaining)


def _check_header(
    file: str, header: Row, fields: Sequence[str], faults: FaultList
) -> frozenset[str] | None:
    """Return the required columns that are missing, or None if the row is no header at all."""
    place = Place(file, header.number, "row")
    absent = _missing_columns(fields)
    if len(absent) > 3 or not set(fields) & set(COLUMNS):
        faults.add(place, "", "", "does not name the columns", _HEADER_ADVICE)
        return None
    for name in sorted(absent, key=COLUMNS.index):
        faults.add(place, "", "", f"has no column {name}", _HEADER_ADVICE)
    _refuse_columns(place, header, fields, faults)
    return frozenset(absent)


def _missing_columns(fields: Sequence[str]) -> set[str]:
    absent = {"label", "kind", "qty", "board"} - set(fields)
    if "size" in fields:
        return absent
    if "width" in fields or "height" in fields:
        return absent | ({"width", "height"} - set(fields))
    return absent | {"size"}


def _refuse_columns(place: Place, header: Row, fields: Sequence[str], faults: FaultList) -> None:
    for column, name in enumerate(fields):
        written = header.cells[column]
        if name in COLUMNS and fields.index(name) < column:
            faults.add(place, "", "", f"has two columns {name}", "keep one of them")
        elif not name and is_blank(written):
            continue
        elif name not in COLUMNS:
            near = meant(name, COLUMNS)
            accepted = f"did you mean {near}?" if near else f"known are {', '.join(COLUMNS)}"
            cell = Place(file=place.file, line=place.line, noun="row",
                         cell=cell_name(header.number, column))  # fmt: skip
            faults.add(cell, "column", written, "is not known", accepted)


def _record(
    file: str, row: Row, fields: Sequence[str], absent: frozenset[str], faults: FaultList
) -> Record:
    place = Place(file, row.number, "row")
    values: dict[str, object] = {}
    places: dict[str, Place] = {}
    for column, name in enumerate(fields):
        places[name] = Place(file, row.number, "row", cell_name(row.number, column))
        if column < len(row.cells) and not is_blank(row.cells[column]):
            values.setdefault(name, _measured(name, row.cells[column]))
    _check_width(place, row, fields, faults)
    if "" in values:
        faults.add(places[""], "", values.pop(""), "stands under no column name", "name the column")
    return Record(place, values, places, absent)


def _measured(name: str, cell: object) -> object:
    """Return `cell`, spoilt if its spreadsheet made a date of it; its column says what to do."""
    advice = _DATE_ADVICE.get(name, _DATE_ADVICE_ELSEWHERE)
    if isinstance(cell, BadCell):
        return cell if cell.accepted else replace(cell, accepted=advice)
    if name in _MEASURES and isinstance(cell, str) and _DATE.fullmatch(cell.strip()):
        return BadCell(cell, "is a date, which spreadsheets make of fractions", advice)
    return cell


def _check_width(place: Place, row: Row, fields: Sequence[str], faults: FaultList) -> None:
    extra = [cell for cell in row.cells[len(fields) :] if not is_blank(cell)]
    if extra:
        faults.add(
            place, "", "",
            f"has {len(row.cells)} cells where the header names {len(fields)} columns",
            "put quotes round a cell that holds a comma or a semicolon",
        )  # fmt: skip
