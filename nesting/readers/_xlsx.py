"""XLSX workbooks, through openpyxl."""

from __future__ import annotations

import datetime as dt
import io
import warnings
from collections.abc import Iterator
from decimal import Decimal
from itertools import zip_longest
from pathlib import Path
from typing import Any

from ._files import read_bytes
from ._records import BadCell, Document, FaultList, Place, Record
from ._rows import Row, header_fields, is_blank, records_from

__all__ = ["read_xlsx"]

_RESAVE = "save it again as an XLSX workbook, without a password"
_RETYPE = "type the value itself"


def read_xlsx(path: Path, faults: FaultList, accepted: str) -> Document | None:
    """Return what the workbook at `path` holds, or None after noting why it cannot be read."""
    data = read_bytes(path, faults, accepted)
    if data is None:
        return None
    problem = _no_workbook(data)
    if problem:
        faults.add(Place(path.name), "", "", problem, _RESAVE)
        return None
    try:
        sheets = _sheets(data)
    except Exception:  # a spoilt workbook makes openpyxl raise nearly anything
        faults.add(Place(path.name), "", "", "is damaged, or no XLSX workbook", _RESAVE)
        return None
    return _document(path.name, sheets, faults)


def _no_workbook(data: bytes) -> str:
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        return "is protected by a password, or is an old workbook"
    if not data.strip():
        return "is empty"
    return "" if data.startswith(b"PK") else "is no XLSX workbook, whatever its name says"


def _document(file: str, sheets: dict[str, tuple[Row, ...]], faults: FaultList) -> Document | None:
    name = _chosen(sheets)
    if name is None:
        faults.add(
            Place(file), "", "",
            "has several sheets and no telling which is the order",
            "put the order on the first sheet, with the columns label, kind, qty, size, board",
        )  # fmt: skip
        return None
    notes = (f"The sheet {name!r} of {file} was read.",) if len(sheets) > 1 else ()
    records = records_from(file, sheets[name], faults)
    return Document(Record(Place(file), {}, {}), pieces=records, is_rows=True, notes=notes)


def _chosen(sheets: dict[str, tuple[Row, ...]]) -> str | None:
    """Return the first sheet if its header has a label, else the only one whose header has."""
    names = list(sheets)
    headed = [name for name in names if sheets[name] and "label" in header_fields(sheets[name][0])]
    if names[0] in headed or len(names) == 1:
        return names[0]
    return headed[0] if len(headed) == 1 else None


def _sheets(data: bytes) -> dict[str, tuple[Row, ...]]:
    """Return the rows of every sheet.

    The workbook is opened twice: once for the results of its formulas, once for the formulas,
    since a formula whose result was never stored looks blank the first time.
    """
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        results = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        formulas = load_workbook(io.BytesIO(data), read_only=True)
        return {
            sheet.title: tuple(_rows(sheet, formulas[sheet.title])) for sheet in results.worksheets
        }


def _rows(results: Any, formulas: Any) -> Iterator[Row]:  # noqa: ANN401 - openpyxl is untyped
    # Some programs store a sheet's extent wrongly; openpyxl would believe it.
    results.reset_dimensions()
    formulas.reset_dimensions()
    pairs = zip(results.iter_rows(), formulas.iter_rows(), strict=True)
    for number, (cells, stated) in enumerate(pairs, 1):
        values = tuple(_value(cell, told) for cell, told in zip_longest(cells, stated))
        if not all(map(is_blank, values)):
            yield Row(number, values)


def _value(cell: Any, stated: Any) -> object:  # noqa: ANN401 - openpyxl is untyped
    """Return what a cell holds: text, a flag, or an exact number; a BadCell if it is spoilt."""
    value = cell.value
    if value is None and stated.value is not None:
        return BadCell(str(stated.value), "is a formula without a stored result", _RETYPE)
    if cell.data_type == "e":
        return BadCell(str(value), "is an error in the spreadsheet", _RETYPE)
    if isinstance(value, dt.date):
        return BadCell(_day(value), "is a date, which spreadsheets make of fractions", "")
    if isinstance(value, (dt.time, dt.timedelta)):
        return BadCell(str(value), "is a time, which spreadsheets make of numbers", "")
    return _exact(value) if isinstance(value, float) else value


def _day(value: dt.date) -> str:
    if isinstance(value, dt.datetime) and value.time() == dt.time():
        return str(value.date())
    return str(value)


def _exact(value: float) -> int | Decimal:
    """Return the number that the spreadsheet shows, which keeps fifteen digits of any."""
    number = Decimal(f"{value:.15g}")
    return int(number) if number == number.to_integral_value() else number
