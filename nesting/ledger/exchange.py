"""The ledger in other forms: CSV for a rack in a spreadsheet, JSON for everything ever recorded."""

from __future__ import annotations

import csv
import difflib
import hashlib
import io
import json
import os
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path
from typing import TypeVar

from ..cells import neutral
from ..errors import Fault, InputError, LedgerError, RefusedValue
from ..lengths import ZERO, Length, Size, Unit, parse_length, parse_size, step_text
from ..stock import Grade
from .book import Entry, Ledger, broken_links
from .events import COLUMNS, Event
from .rack import Found, Measured, add_offcuts
from .state import Kept, fold
from .store import append, opened, read_events, writing

__all__ = [
    "exact_size",
    "export_csv",
    "export_json",
    "import_csv",
    "import_json",
    "parse_buffered",
    "parse_edges",
    "parse_grade",
    "price_of",
    "read_count",
    "write_text",
]

T = TypeVar("T")
FORMAT = "kerfwright-ledger"
VERSION = 1
IMPORTED = (
    "size", "board", "qty", "grade", "buffered", "direction", "edges", "place", "note",
)  # fmt: skip
EXPORTED = (
    "number", "state", "size", "board", "grade", "buffered", "direction", "edges", "place",
    "since", "source",
)  # fmt: skip
# What an exported file has besides: a number is given anew, and the old one is noted.
READ_BACK = ("number", "state", "since", "source")
COUNTED = ("number", "size", "place")
EDGES = ("left", "right", "top", "bottom")
MOST = 10_000


def exact_size(size: Size) -> str:
    """Return a size exactly, as `parse_size` reads it: ``14 in x 129/8 in``."""
    return f"{step_text(size.width)} x {step_text(size.height)}"


# --- values -------------------------------------------------------------------------------------


def parse_grade(text: str) -> Grade | None:
    """Return the grade that `text` names; None for ``unknown``.

    Raises
    ------
    RefusedValue
        If it names none.
    """
    word = text.strip().lower()
    if word == "unknown":
        return None
    if word not in [grade.value for grade in Grade]:
        known = ", ".join(grade.value for grade in Grade)
        raise RefusedValue("grade", text, "is not a known grade", f"write {known} or unknown")
    return Grade(word)


def parse_buffered(text: str) -> bool | None:
    """Return whether a board is buffered; None for ``unknown``.

    Raises
    ------
    RefusedValue
        If it is not yes, no or unknown.
    """
    word = text.strip().lower()
    if word not in {"yes", "no", "unknown"}:
        raise RefusedValue("buffered", text, "is not clear", "write yes, no or unknown")
    return {"yes": True, "no": False}.get(word)


def parse_edges(text: str, unit: Unit) -> tuple[Length, Length, Length, Length]:
    """Return what each bad edge loses, out of ``left 1/4, top 1/2``.

    Raises
    ------
    RefusedValue
        If it is not of that form.
    """
    found = dict.fromkeys(EDGES, ZERO)
    for part in filter(None, (part.strip() for part in text.replace(";", ",").split(","))):
        name, _, length = part.partition(" ")
        if name.lower() not in EDGES or not length.strip():
            raise RefusedValue("edges", text, "is not clear", "write such as left 1/4, top 1/2")
        found[name.lower()] = parse_length(length, unit, "edges")
    left, right, top, bottom = (found[name] for name in EDGES)
    return left, right, top, bottom


# --- CSV in -------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Row:
    """One row of a table, with a place for its faults."""

    where: str
    cells: Mapping[str, str]
    faults: list[Fault]

    def get(self, name: str, read: Callable[[str], T], otherwise: T) -> T:
        """Return what a cell says, or `otherwise` where it is empty or at fault."""
        text = self.cells.get(name, "").strip()
        if not text:
            return otherwise
        try:
            return read(text)
        except RefusedValue as refusal:
            told = (name, text, refusal.problem, refusal.accepted)
            self.faults.append(Fault(self.where, *told))
            return otherwise

    def need(self, name: str, read: Callable[[str], T], accepted: str) -> T | None:
        """Return what a cell says, which must say something."""
        if not self.cells.get(name, "").strip():
            self.faults.append(Fault(self.where, name, "", "is missing", accepted))
            return None
        return self.get(name, read, None)


def _rows(path: Path, columns: tuple[str, ...], needed: tuple[str, ...]) -> list[_Row]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "is not text in UTF-8"
        raise InputError((Fault(str(path), "", "", f"cannot be read: {reason}", ""),)) from error
    first = text.partition("\n")[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    table = list(csv.reader(io.StringIO(text), delimiter=delimiter))
    header = [cell.strip().lower() for cell in table[0]] if table else []
    faults = list(_header_faults(path, header, columns, needed))
    if faults:
        raise InputError(tuple(faults))
    return [
        _Row(f"{path.name}, row {place}", dict(zip(header, cells, strict=False)), faults)
        for place, cells in enumerate(table[1:], start=2)
        if any(cell.strip() for cell in cells)
    ]


def _header_faults(
    path: Path, header: list[str], columns: tuple[str, ...], needed: tuple[str, ...]
) -> Iterator[Fault]:
    where = f"{path.name}, row 1"
    for name in needed:
        if name not in header:
            accepted = f"columns are {', '.join(columns)}"
            yield Fault(where, "", "", f"has no column {name}", accepted)
    for name in header:
        if name and name not in columns:
            near = difflib.get_close_matches(name, columns, 1)
            accepted = f"did you mean {near[0]}?" if near else f"known are {', '.join(columns)}"
            yield Fault(where, "column", name, "is not known", accepted)


def import_csv(ledger: Ledger, path: Path, unit: Unit, *, again: bool = False) -> Entry:
    """Put the offcuts that a CSV file lists on the rack, all or none.

    Columns are ``size`` and ``board``, and if need be ``qty, grade, buffered, direction, edges,
    place, note``; those of an exported file are read as well.

    Parameters
    ----------
    unit
        What bare numbers take.
    again
        Whether a file that was taken in before is taken in once more.

    Raises
    ------
    InputError
        With every fault of the file.
    LedgerError
        If the very same file was taken in before.
    """
    rows = _rows(path, (*IMPORTED, *READ_BACK), ("size", "board"))
    offcuts = [one for row in rows for one in _measured(row, unit)]
    if rows and rows[0].faults:
        raise InputError(tuple(rows[0].faults))
    if not offcuts:
        raise InputError((Fault(str(path), "", "", "lists no offcut", "write a row for each"),))
    source = f"[{path.name} {hashlib.sha256(path.read_bytes()).hexdigest()[:12]}]"
    if not again:
        _refuse_again(ledger, path, source)
    return add_offcuts(ledger, offcuts, source)


def _refuse_again(ledger: Ledger, path: Path, source: str) -> None:
    events = ledger.events()
    undone = {event.undoes for event in events}
    for event in events:
        if event.entry not in undone and (event.note or "").endswith(source):
            raise LedgerError(
                f"{path}: the very same file was taken in as entry {event.entry} on "
                f"{event.at[:10]}; nothing was recorded; --again takes it in once more"
            )


def _measured(row: _Row, unit: Unit) -> Iterator[Measured]:
    size = row.need("size", lambda text: parse_size(text, unit), "write such as 14 x 32")
    board = row.need("board", lambda text: " ".join(text.split()), "name the board")
    grade = row.get("grade", parse_grade, None)
    buffered = row.get("buffered", parse_buffered, None)
    directed = row.get("direction", _direction, True)
    edges = row.get("edges", lambda text: parse_edges(text, unit), (ZERO, ZERO, ZERO, ZERO))
    count = row.get("qty", _count, 1)
    unknown = row.cells.get("grade", "").strip().lower() == "unknown"
    place = row.cells.get("place", "").strip()
    note = _note(row)
    if size is None or board is None:
        return
    for _ in range(count):
        yield Measured(board, size, grade, buffered, unknown, directed, edges, place, note)


def _note(row: _Row) -> str:
    told = [row.cells.get(name, "").strip() for name in ("note", "source")]
    before = row.cells.get("number", "").strip()
    return "; ".join(filter(None, (*told, f"numbered {before} before" if before else "")))


def _direction(text: str) -> bool:
    if text.lower() not in {"known", "unknown"}:
        raise RefusedValue("direction", text, "is not clear", "write known or unknown")
    return text.lower() == "known"


def _count(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and 1 <= int(text) <= MOST):
        raise RefusedValue("qty", text, "is no count", f"write a whole number from 1 to {MOST:,}")
    return int(text)


def read_count(path: Path, unit: Unit) -> tuple[Found, ...]:
    """Return what a count of the rack found: a CSV of ``number``, and ``size`` or ``place``.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    rows = _rows(path, COUNTED, ("number",))
    found = []
    for row in rows:
        number = row.need("number", _count, "write what is pencilled on it")
        size = row.get("size", lambda text: parse_size(text, unit), None)
        if number is not None:
            found.append(Found(number, size, row.cells.get("place", "").strip() or None))
    if rows and rows[0].faults:
        raise InputError(tuple(rows[0].faults))
    return tuple(found)


# --- out ----------------------------------------------------------------------------------------


def export_csv(ledger: Ledger) -> str:
    """Return every offcut that is on the rack, a row each, sizes exact."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(EXPORTED)
    kept = ledger.state().offcuts.values()
    writer.writerows(
        [neutral(cell) if isinstance(cell, str) else cell for cell in _exported(one)]
        for one in kept
        if one.here
    )
    return out.getvalue()


def _exported(kept: Kept) -> tuple[object, ...]:
    named = zip(EDGES, kept.edges, strict=True)
    edges = ", ".join(f"{name} {step_text(length)}" for name, length in named if length)
    buffered = "unknown" if kept.buffered is None else "yes" if kept.buffered else "no"
    return (
        kept.number,
        kept.state,
        exact_size(kept.size),
        kept.board,
        kept.grade or "unknown",
        buffered,
        "known" if kept.directed else "unknown",
        edges,
        kept.place,
        kept.since,
        kept.source,
    )


def export_json(ledger: Ledger) -> str:
    """Return everything that was ever recorded, from which `import_json` makes it anew."""
    events = [asdict(event) for event in ledger.events()]
    told = {"format": FORMAT, "version": VERSION, "events": events}
    return json.dumps(told, indent=1, ensure_ascii=False) + "\n"


def import_json(ledger: Ledger, path: Path) -> int:
    """Fill an empty ledger with everything that `export_json` wrote, and return its events.

    Raises
    ------
    InputError
        If the file is none that `export_json` wrote, or was changed since.
    LedgerError
        If the ledger is not empty.
    """
    events = _events_in(path)
    fault = next(broken_links(events), None)
    if fault is not None:
        raise InputError((Fault(str(path), "", "", fault, "use the file as it was written"),))
    fold(events)
    with opened(ledger.path, record=True) as connection, writing(connection):
        if next(read_events(connection), None) is not None:
            raise LedgerError(
                f"{ledger.path}: is not empty, and a whole ledger fills an empty one only; "
                "`kerfwright ledger begin --ledger FILE` begins another"
            )
        append(connection, events)
    return len(events)


def _events_in(path: Path) -> tuple[Event, ...]:
    refused = Fault(str(path), "", "", "is no ledger that was exported", "give such a .json file")
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        if (told["format"], told["version"]) != (FORMAT, VERSION):
            raise InputError((refused,))
        return tuple(Event(**{name: one[name] for name in COLUMNS}) for one in told["events"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError((refused,)) from error


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all, over nothing that is there.

    Raises
    ------
    InputError
        If something is there, or it cannot be written.
    """
    if os.path.lexists(path):
        raise InputError((Fault(str(path), "", "", "is there already", "give another name"),))
    try:
        handle, name = tempfile.mkstemp(prefix=".kerfwright-", dir=path.absolute().parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            Path(name).chmod(0o644)
            os.link(name, path)
        finally:
            Path(name).unlink(missing_ok=True)
    except OSError as error:
        problem = f"cannot be written: {error.strerror or error}"
        raise InputError((Fault(str(path), "", "", problem, ""),)) from error


def price_of(text: str) -> Fraction:
    """Return a price such as ``21.50``.

    Raises
    ------
    RefusedValue
        If it is none, or is not above zero.
    """
    plain = text.replace(".", "", 1)
    if not (plain.isascii() and plain.isdecimal() and len(text) <= 15 and Fraction(text) > 0):
        raise RefusedValue("price", text, "is not a price", "write what one costs, such as 21.50")
    return Fraction(text)
