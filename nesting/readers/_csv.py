"""CSV files: commas, or semicolons with decimal commas."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

from ._files import decode, read_bytes
from ._records import Document, FaultList, Place, Record
from ._rows import Row, is_blank, records_from

__all__ = ["read_csv"]


def read_csv(path: Path, faults: FaultList, accepted: str) -> Document | None:
    """Return what the CSV file at `path` holds, or None after noting why it cannot be read."""
    data = read_bytes(path, faults, accepted)
    text = None if data is None else decode(data, path, faults, "row")
    if text is None:
        return None
    separator = _separator(text)
    if separator == "\t":
        faults.add(
            Place(path.name), "", "", "is separated by tabs", "save it with commas or semicolons"
        )
        return None
    records = records_from(path.name, _rows(text, separator, path.name, faults), faults)
    top = Record(Place(path.name), {}, {})
    return Document(top, pieces=records, is_rows=True, decimal_comma=separator == ";")


def _separator(text: str) -> str:
    """Return what separates the columns, by the header: the commonest of the three."""
    header = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")
    return max(",;\t", key=header.count)


def _rows(text: str, separator: str, file: str, faults: FaultList) -> Iterator[Row]:
    """Yield the rows that are not blank; the numbers are those that a spreadsheet shows."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader, None)
        except csv.Error:
            place = Place(file, number, "row")
            accepted = 'double each quote inside quotes: "16"" x 20""", or write in for inches'
            faults.add(place, "", "", "has quotes that do not match", accepted)
            return
        if cells is None:
            return
        if not all(map(is_blank, cells)):
            yield Row(number, tuple(cells))
