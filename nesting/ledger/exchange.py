"""The ledger in other forms: CSV for a rack in a spreadsheet, JSON for everything ever recorded."""

from __future__ import annotations

import csv
import difflib
import hashlib
import io
import json
import os
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TypeVar

from ..cells import neutral, plain
from ..errors import Fault, InputError, LedgerError, RefusedValue
from ..lengths import ZERO, Length, Size, Unit, parse_length, parse_size, step_text
from ..staging import clear_dead, staging
from ..stock import Grade
from .book import Entry, Ledger, broken_links
from .check import check_within
from .events import Event
from .rack import Found, Measured, Stack, Told, add_stock, flag_text
from .sizes import LEAST_SIDE
from .state import BoardFacts, CannotFollow, Kept, State, fold
from .store import append, opened, read_events, writing
from .texts import one_line
from .told_events import FORMAT, VERSION, events_in

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
IMPORTED = (
    "kind", "size", "board", "qty", "grade", "buffered", "grain", "direction", "edges", "place",
    "price", "windows", "since", "note",
)  # fmt: skip
EXPORTED = (
    "number", "kind", "state", "size", "board", "qty", "grade", "buffered", "grain", "direction",
    "edges", "place", "price", "windows", "since", "source",
)  # fmt: skip
KINDS = (OFFCUT, DROP_OUT, SHEET, SLIP, OF_BOARD) = (
    "offcut", "drop-out", "full sheet", "slip sheet", "board",
)  # fmt: skip
# What a row that lists sheets or slip sheets cannot say, and what only such a row says.
OF_OFFCUTS = ("direction", "edges", "place", "since", "note")
OF_SHEETS = {"price": SHEET, "windows": SLIP}
# What an exported file has besides: a number is given anew, and the old one is noted.
READ_BACK = ("number", "state", "source")
COUNTED = ("number", "size", "place")
EDGES = ("left", "right", "top", "bottom")
A_DAY = timedelta(days=1)
MOST = 10_000  # offcuts in a row, each of which gets a number
MOST_ALIKE = 999_999_999  # sheets or slip sheets of a size, which are only counted


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


def parse_edges(
    text: str, unit: Unit, *, decimal_comma: bool = False
) -> tuple[Length, Length, Length, Length]:
    """Return what each bad edge loses, out of ``left 1/4, top 1/2``; nothing for ``none``.

    Raises
    ------
    RefusedValue
        If it is not of that form.
    """
    found = dict.fromkeys(EDGES, ZERO)
    text = "" if text.strip().lower() == "none" else text
    # A comma before a digit may be a decimal one; what follows one that parts is an edge's name.
    for part in filter(None, (part.strip() for part in re.split(r"[;,](?!\d)", text))):
        name, _, length = part.partition(" ")
        if name.lower() not in EDGES or not length.strip():
            raise RefusedValue(
                "edges", text, "is not clear", "write such as left 1/4, top 1/2; or none"
            )
        found[name.lower()] = parse_length(length, unit, "edges", decimal_comma=decimal_comma)
    left, right, top, bottom = (found[name] for name in EDGES)
    return left, right, top, bottom


# --- CSV in -------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Row:
    """One row of a table, with a place for its faults."""

    where: str
    cells: Mapping[str, str]
    faults: list[Fault]
    decimal_comma: bool = False  # as in a file whose columns are parted by semicolons

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
    table = _table(path, text, delimiter)
    header = [cell.strip().lower() for cell in table[0]] if table else []
    faults = list(_header_faults(path, header, columns, needed))
    if faults:
        raise InputError(tuple(faults))
    rows = []
    for place, cells in enumerate(table[1:], start=2):
        where = f"{path.name}, row {place}"
        faults += _stray_faults(where, header, cells, delimiter)
        if any(cell.strip() for cell in cells):
            told = dict(zip(header, cells, strict=False))
            rows.append(_Row(where, told, faults, delimiter == ";"))
    return rows


def _table(path: Path, text: str, delimiter: str) -> list[list[str]]:
    table: list[list[str]] = []
    try:
        table.extend(csv.reader(io.StringIO(text), delimiter=delimiter))
    except csv.Error as error:  # of a cell of over 131,072 characters
        where = f"{path.name}, row {len(table) + 1}"
        accepted = "is a double quote missing at the end of a cell? Then close it"
        raise InputError(
            (Fault(where, "", "", "has a cell that is too long", accepted),)
        ) from error
    return table


def _stray_faults(
    where: str, header: list[str], cells: list[str], delimiter: str
) -> Iterator[Fault]:
    """Yield a fault for every filled cell that no column's name stands over."""
    sign = "semicolon" if delimiter == ";" else "comma"
    for place, cell in enumerate(cells):
        if cell.strip() and (place >= len(header) or not header[place]):
            yield Fault(
                where,
                "",
                cell.strip(),
                f"stands in column {place + 1}, which has no name",
                f"name the column in row 1; a cell with a {sign} in it goes in double quotes",
            )


def _header_faults(
    path: Path, header: list[str], columns: tuple[str, ...], needed: tuple[str, ...]
) -> Iterator[Fault]:
    where = f"{path.name}, row 1"
    for name in needed:
        if name not in header:
            accepted = f"columns are {', '.join(columns)}"
            yield Fault(where, "", "", f"has no column {name}", accepted)
    for name in dict.fromkeys(header):
        if name and header.count(name) > 1:
            yield Fault(where, "column", name, "stands there twice", "leave one of them out")
        if name and name not in columns:
            near = difflib.get_close_matches(name, columns, 1)
            accepted = f"did you mean {near[0]}?" if near else f"known are {', '.join(columns)}"
            yield Fault(where, "column", name, "is not known", accepted)


def import_csv(ledger: Ledger, path: Path, unit: Unit, *, again: bool = False) -> Entry:
    """Put what a CSV file lists on the rack, all or none: offcuts, full sheets, slip sheets.

    Columns are ``size`` and ``board``, and if need be ``kind, qty, grade, buffered, grain,
    direction, edges, place, price, windows, since, note``; those of an exported file are read as
    well. A row may also tell no more than what a board is, or what a sheet of it costs.

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
    state = ledger.state()
    each = state.windows_a_slip
    kinds = [(row, row.get("kind", _kind, OFFCUT)) for row in rows]
    offcuts = [
        one
        for row, kind in kinds
        if kind in {OFFCUT, DROP_OUT}
        for one in _measured(row, unit, dropped=kind == DROP_OUT)
    ]
    counted = [
        (row, one)
        for row, kind in kinds
        if kind in {SHEET, SLIP}
        for one in _stack(row, unit, kind, each)
    ]
    described = [(row, one) for row, kind in kinds for one in _told(row, kind)]
    _note_contradictions(state, described, counted)
    stacks, boards = [one for _, one in counted], [one for _, one in described]
    if rows and rows[0].faults:
        raise InputError(tuple(sorted(rows[0].faults, key=_row_number)))
    if not rows:
        raise InputError((Fault(str(path), "", "", "lists nothing", "write a row for each"),))
    source = f"[{path.name} {hashlib.sha256(path.read_bytes()).hexdigest()[:12]}]"
    return add_stock(ledger, offcuts, stacks, source, boards=boards, again=again)


def _row_number(fault: Fault) -> int:
    return int(fault.where.rpartition(" ")[2])


def _note_contradictions(
    state: State, told: list[tuple[_Row, Told]], counted: list[tuple[_Row, Stack]]
) -> None:
    """Note every cell that says otherwise than the ledger, or a row before it, of a board."""
    known: dict[tuple[object, ...], tuple[object, str]] = {}
    for board, facts in state.boards.items():
        for column, value, _ in _facts(facts):
            known[board, column] = (value, "the ledger")
    said: list[tuple[_Row, tuple[object, ...], list[tuple[str, object, str]]]]
    said = [(row, (one.board,), _facts(one.facts)) for row, one in told]
    for row, one in counted:
        facts = BoardFacts(one.grade, one.buffered)
        said.append((row, (one.board,), _facts(facts)))
        if one.price is not None:
            said.append((row, (one.board, one.size), [("price", one.price, "")]))
    for row, key, values in said:
        for column, value, option in values:
            first, where = known.setdefault((*key, column), (value, row.where))
            if first != value:
                accepted = "say the same in both, or leave one out"
                if where == "the ledger":
                    accepted = f'`kerfwright ledger board "{key[0]}" {option}` corrects the ledger'
                problem = f"is not what {where} says of {key[0]!r}"
                cell = row.cells.get(column, "").strip()
                row.faults.append(Fault(row.where, column, cell, problem, accepted))


def _facts(facts: BoardFacts) -> list[tuple[str, object, str]]:
    """Return what is known of a board: the column, the value, and the option that corrects it."""
    rows = (
        ("grade", facts.grade, f"--grade {facts.grade}"),
        ("buffered", facts.buffered, f"--buffered {flag_text(facts.buffered)}"),
        ("grain", facts.directed, f"--direction {flag_text(facts.directed)}"),
    )
    return [(column, value, option) for column, value, option in rows if value is not None]


def _kind(text: str) -> str:
    word = text.strip().lower()
    known = {**{name: name for name in KINDS}, "sheet": SHEET, "drop out": DROP_OUT, "slip": SLIP}
    if word not in known:
        raise RefusedValue("kind", text, "is not known", f"write {', '.join(KINDS)}")
    return known[word]


def _size(row: _Row, unit: Unit, what: str) -> Size | None:
    def read(text: str) -> Size:
        size = parse_size(text, unit, decimal_comma=row.decimal_comma)
        if min(size.width, size.height) < LEAST_SIDE:
            problem = f"is too small for {what}"
            raise RefusedValue("size", text, problem, "write sides of 10 mm (3/8 in) or more")
        return size

    return row.need("size", read, "write such as 14 x 32")


def _board(row: _Row) -> str | None:
    return row.need("board", partial(_line, field="board"), "name the board")


def _line(text: str, field: str) -> str:
    return plain(one_line(text, field))


def _told(row: _Row, kind: str) -> Iterator[Told]:
    """Yield what a row tells of its board: whether it has a grain, and more in a row of its own."""
    directed = row.get("grain", _grain, None)
    grade = buffered = None
    if kind == OF_BOARD:
        _refuse_others(row, kind, ("size", "qty", *OF_OFFCUTS, *OF_SHEETS))
        grade = row.get("grade", parse_grade, None)
        buffered = row.get("buffered", parse_buffered, None)
        board = _board(row)
    else:
        board = plain(" ".join(row.cells.get("board", "").split()))
    facts = BoardFacts(grade, buffered, directed)
    if board and facts != BoardFacts():
        yield Told(board, facts)


def _grain(text: str) -> bool | None:
    word = text.strip().lower()
    if word not in {"yes", "no", "unknown"}:
        raise RefusedValue("grain", text, "is not clear", "write yes, no or unknown")
    return {"yes": True, "no": False}.get(word)


def _since(text: str) -> str:
    """Return a date, or a date and time, as the ledger keeps it."""
    accepted = "write such as 2026-03-02, or 2026-03-02T14:30:00+01:00"
    try:
        came = datetime.fromisoformat(text).astimezone()
        future = came - datetime.now().astimezone() > A_DAY  # by which clocks may differ
    except (ValueError, OverflowError) as error:
        raise RefusedValue("since", text, "is no date", accepted) from error
    if future:
        raise RefusedValue("since", text, "lies in the future", "write when it came")
    return came.isoformat(timespec="seconds")


def _measured(row: _Row, unit: Unit, *, dropped: bool) -> Iterator[Measured]:
    _refuse_others(row, OFFCUT, tuple(OF_SHEETS))
    size, board = _size(row, unit, "an offcut"), _board(row)
    grade = row.get("grade", parse_grade, None)
    buffered = row.get("buffered", parse_buffered, None)
    directed = row.get("direction", _direction, not dropped)
    edges = row.get("edges", lambda text: _edges(row, text, unit), (ZERO, ZERO, ZERO, ZERO))
    count = row.get("qty", _count, 1)
    unknown = row.cells.get("grade", "").strip().lower() == "unknown"
    unsure = row.cells.get("buffered", "").strip().lower() == "unknown"
    place = row.get("place", partial(_line, field="place"), "")
    since = row.get("since", _since, "")
    note = _note(row)
    if size is None or board is None:
        return
    one = Measured(
        board,
        size,
        grade,
        buffered,
        unknown,
        directed,
        edges,
        place,
        note,
        dropped,
        unsure=unsure,
        since=since,
    )
    yield from (one for _ in range(count))


def _edges(row: _Row, text: str, unit: Unit) -> tuple[Length, Length, Length, Length]:
    return parse_edges(text, unit, decimal_comma=row.decimal_comma)


def _price(row: _Row, text: str) -> Fraction:
    return price_of(text.replace(",", ".", 1) if row.decimal_comma else text)


def _stack(row: _Row, unit: Unit, kind: str, each: int) -> Iterator[Stack]:
    others = tuple(name for name, only in OF_SHEETS.items() if only != kind)
    _refuse_others(row, kind, (*OF_OFFCUTS, *others))
    size, board = _size(row, unit, f"a {kind}"), _board(row)
    grade = row.get("grade", parse_grade, None)
    buffered = row.get("buffered", parse_buffered, None)
    priced = kind == SHEET and bool(row.cells.get("price", "").strip())
    least = 0 if priced else 1  # a price may be told of sheets of which none is there
    count = row.get("qty", lambda text: _count(text, least=least, most=MOST_ALIKE), 1)
    price = row.get("price", lambda text: _price(row, text), None)
    windows = row.get("windows", lambda text: _windows(text, count, each), 0) if kind == SLIP else 0
    if size is not None and board is not None:
        yield Stack(board, size, count, kind == SLIP, grade, buffered, price, windows)


def _refuse_others(row: _Row, kind: str, names: tuple[str, ...]) -> None:
    """Note every cell that says what a row of this kind cannot say."""
    for name in names:
        text = row.cells.get(name, "").strip()
        if text:
            problem = f"is said of {'an' if kind == OFFCUT else 'a'} {kind}, which has none"
            row.faults.append(Fault(row.where, name, text, problem, "leave it out"))


def _windows(text: str, slips: int, each: int) -> int:
    windows = _count(text, "windows", 0, MOST_ALIKE * each)
    if windows >= slips * each:
        problem = f"is {each} or more for each of {slips}, which are worn then"
        accepted = "leave out those that are worn, or first set how many windows one serves"
        raise RefusedValue("windows", text, problem, accepted)
    return windows


def _note(row: _Row) -> str:
    told = [row.get(name, partial(_line, field=name), "") for name in ("note", "source")]
    before = row.cells.get("number", "").strip()
    return "; ".join(filter(None, (*told, f"numbered {before} before" if before else "")))


def _direction(text: str) -> bool:
    if text.lower() not in {"known", "unknown"}:
        raise RefusedValue("direction", text, "is not clear", "write known or unknown")
    return text.lower() == "known"


def _count(text: str, field: str = "qty", least: int = 1, most: int = MOST) -> int:
    short = text.isascii() and text.isdecimal() and len(text) <= len(str(most))
    if not (short and least <= int(text) <= most):
        accepted = f"write a whole number from {least} to {most:,}"
        raise RefusedValue(field, text, "is no count", accepted)
    return int(text)


def _offcut_number(text: str) -> int:
    return _count(text, "number", most=MOST_ALIKE)


def read_count(path: Path, unit: Unit) -> tuple[Found, ...]:
    """Return what a count of the rack found: a CSV of ``number``, and ``size`` or ``place``.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    rows = _rows(path, COUNTED, ("number",))
    found = []
    seen: dict[int, tuple[Found, str]] = {}
    for row in rows:
        number = row.need("number", _offcut_number, "write what is pencilled on it")
        read = partial(parse_size, unit=unit, decimal_comma=row.decimal_comma)
        size = row.get("size", read, None)
        if number is not None:
            place = row.get("place", lambda text: one_line(text, "place"), None)
            one = Found(number, size, place)
            first, where = seen.setdefault(number, (one, row.where))
            if first != one:
                told = f"stands in {where}, too, with another size or place"
                accepted = "look at the offcuts again, and leave out or mend one of the rows"
                row.faults.append(Fault(row.where, "number", str(number), told, accepted))
            found.append(one)
    if rows and rows[0].faults:
        raise InputError(tuple(rows[0].faults))
    return tuple(found)


# --- out ----------------------------------------------------------------------------------------


def export_csv(ledger: Ledger) -> str:
    """Return all that is on the rack, sizes exact.

    That is a row for each offcut, and one for each board's full sheets and slip sheets of a size;
    besides, what each board is, and what sheets cost of which none is there.
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, EXPORTED, restval="", lineterminator="\n")
    writer.writeheader()
    for row in _exported(ledger.state()):
        cells = {name: neutral(one) if isinstance(one, str) else one for name, one in row.items()}
        writer.writerow(cells)
    return out.getvalue()


def _exported(state: State) -> Iterator[dict[str, object]]:
    for board, facts in state.boards.items():
        if facts != BoardFacts():
            yield {
                "kind": OF_BOARD, "board": board, "grade": facts.grade or "unknown",
                "buffered": flag_text(facts.buffered), "grain": flag_text(facts.directed),
            }  # fmt: skip
    here = sorted((one for one in state.offcuts.values() if one.here), key=lambda one: one.born)
    yield from (_exported_offcut(one) for one in here)
    for (board, size), cost in state.prices.items():
        if not state.sheets[board, size]:
            yield {
                "kind": SHEET, "size": exact_size(size), "board": board, "qty": 0,
                "price": _price_text(cost),
            }  # fmt: skip
    for kind, counts in ((SHEET, state.sheets), (SLIP, state.slips)):
        for (board, size), count in counts.items():
            if not count:
                continue
            known = state.boards.get(board, BoardFacts())
            row: dict[str, object] = {
                "kind": kind, "size": exact_size(size), "board": board, "qty": count,
                "grade": known.grade or "unknown", "buffered": flag_text(known.buffered),
            }  # fmt: skip
            if kind == SLIP:
                row["windows"] = state.scored[board, size]
            elif (price := state.prices.get((board, size))) is not None:
                row["price"] = _price_text(price)
            yield row


def _price_text(price: Fraction) -> str:
    """Return a price as `price_of` reads it; one that was typed has a few decimals at most."""
    return format(Decimal(price.numerator) / Decimal(price.denominator), "f")


def _exported_offcut(kept: Kept) -> dict[str, object]:
    named = zip(EDGES, kept.edges, strict=True)
    return {
        "number": kept.number,
        "kind": DROP_OUT if kept.came_by == DROP_OUT else OFFCUT,
        "state": kept.state,
        "size": exact_size(kept.size),
        "board": kept.board,
        "qty": 1,
        "grade": kept.grade or "unknown",
        "buffered": flag_text(kept.buffered),
        "direction": "known" if kept.directed else "unknown",
        "edges": ", ".join(f"{name} {step_text(length)}" for name, length in named if length),
        "place": kept.place,
        "since": kept.born[0].isoformat(timespec="seconds"),
        "source": kept.source,
    }


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
        If the file is none that `export_json` wrote, or was changed since, or what it holds does
        not pass the check of a ledger.
    LedgerError
        If the ledger is not empty.
    """
    events = events_in(path)
    fault = next(broken_links(events), None) or _impossible(events)
    if fault:
        raise InputError((Fault(str(path), "", "", fault, "use the file as it was written"),))
    with opened(ledger.path, record=True) as connection, writing(connection):
        if next(read_events(connection), None) is not None:
            raise LedgerError(
                f"{ledger.path}: is not empty, and a whole ledger fills an empty one only; "
                "`kerfwright ledger begin --ledger FILE` begins another"
            )
        append(connection, events)
        faults = check_within(connection).faults
        if faults:
            told = "use the file as it was written"
            raise InputError(tuple(Fault(str(path), "", "", one, told) for one in faults))
    return len(events)


def _impossible(events: tuple[Event, ...]) -> str:
    try:
        fold(events)
    except CannotFollow as error:
        return f"event {error.event.seq} ({error.event.event}) cannot be: {error}"
    return ""


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all, over nothing that is there.

    What a process that was killed at this left in the folder is cleared away.

    Raises
    ------
    InputError
        If something is there, or it cannot be written.
    """
    if os.path.lexists(path):
        raise InputError((Fault(str(path), "", "", "is there already", "give another name"),))
    folder = path.absolute().parent
    clear_dead([folder])
    try:
        with staging(folder) as stage:
            made = stage / "text"
            with made.open("w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            made.chmod(0o644)
            os.link(made, path)
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
