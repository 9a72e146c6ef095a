"""TOML files: the text, its tables, and on which line each stands."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

from ._fields import refuse_unknown
from ._files import decode, read_bytes
from ._lines import Lines, TableLines, find_lines
from ._records import BadCell, Document, FaultList, Place, Record, kind_of

__all__ = ["read_toml"]

_TABLES = ("tool", "board", "offcut", "mat", "backer")
_TOP = ("name", "unit", "rule", *_TABLES)
PIECE_KEYS = ("label", "qty", "size", "board", "turn")
# What tomllib says, in words for somebody who has never heard of it.
_NO_STATEMENT = "the line is neither a [[header]] nor a key = value"
_PLAIN = {
    "Cannot overwrite a value": ("the same key is given twice", "keep one of the two"),
    "Expected newline or end of document after a statement": (
        "the value is not in quotes, or something follows it",
        'text stands in quotes, as in size = "16 x 20"',
    ),
    "Invalid value": (
        "the value is not in quotes",
        'text stands in quotes, as in size = "16 x 20"',
    ),
    "Invalid statement": (_NO_STATEMENT, 'write it as in size = "16 x 20"'),
    "Expected '=' after a key in a key/value pair": (
        _NO_STATEMENT,
        'write it as in size = "16 x 20"',
    ),
    "Illegal character '\\n'": ("quotes are opened and not closed", "close them on the same line"),
    "Unclosed array": ("a list is opened and not closed", "close it with ]"),
    "Unclosed inline table": ("a table is opened and not closed", "close it with }"),
    "Unterminated string": ("quotes are opened and not closed", "close them"),
}


def read_toml(path: Path, faults: FaultList, accepted: str) -> Document | None:
    """Return what the TOML file at `path` holds, or None after noting why it cannot be read."""
    data = read_bytes(path, faults, accepted)
    text = None if data is None else decode(data, path, faults, "line")
    if text is None:
        return None
    text = text.replace("\r\n", "\n")
    tables = _parse(text, path.name, faults)
    return None if tables is None else _document(path.name, tables, find_lines(text), faults)


def _parse(text: str, file: str, faults: FaultList) -> Mapping[str, object] | None:
    try:
        return tomllib.loads(text, parse_float=_decimal)
    except tomllib.TOMLDecodeError as error:
        line, problem, accepted = _syntax(str(error), text)
        written = text.split("\n")[line - 1].strip()
        faults.add(Place(file, line), "", written, f"is not TOML: {problem}", accepted)
    except ValueError:
        # The integer is longer than Python reads; tomllib does not say where.
        faults.add(Place(file), "", "", "holds a number of thousands of digits", "shorten it")
    except RecursionError:
        faults.add(Place(file), "", "", "holds lists within lists beyond reason", "write them flat")
    return None


def _decimal(text: str) -> Decimal | BadCell:
    """Return a number with a point; one with an exponent is for its field to refuse."""
    if re.fullmatch(r"[+-]?[0-9_]+\.[0-9_]+", text):
        return Decimal(text)
    return BadCell(text, "is not a plain number", "write it out, such as 16.125")


def _syntax(message: str, text: str) -> tuple[int, str, str]:
    """Return the line that tomllib names, what it says in plain words, and what would do."""
    match = re.fullmatch(r"(.*) \(at (?:line (\d+), column \d+|end of document)\)", message, re.S)
    said = match[1] if match else message
    line = int(match[2]) if match and match[2] else text.rstrip().count("\n") + 1
    return line, *_PLAIN.get(said, (said[:1].lower() + said[1:], "mend the line"))


def _document(file: str, tables: Mapping[str, object], lines: Lines, faults: FaultList) -> Document:
    top = _record(file, tables, lines.top)
    refuse_unknown(_with_header_lines(top, lines), _TOP, "an order file", faults)
    found = {name: _records(name, top, lines, faults) for name in _TABLES}
    pieces = [*_pieces("mat", found["mat"], faults), *_pieces("backer", found["backer"], faults)]
    pieces.sort(key=lambda record: record.place.line)
    return Document(top, found["tool"], found["board"], found["offcut"], tuple(pieces))


def _with_header_lines(top: Record, lines: Lines) -> Record:
    headers = {name: Place(top.place.file, rows[0].header) for name, rows in lines.tables.items()}
    return Record(top.place, top.values, headers | dict(top.places))


def _record(file: str, values: Mapping[str, object], lines: TableLines) -> Record:
    places = {key: Place(file, line) for key, line in lines.keys.items()}
    return Record(Place(file, lines.header), values, places)


def _records(name: str, top: Record, lines: Lines, faults: FaultList) -> tuple[Record, ...]:
    tables = top.values.get(name, [])
    place = Place(top.place.file, lines.of(name, 0).header)
    if not isinstance(tables, list):
        found = f"is {kind_of(tables)}, not a list of tables"
        faults.add(place, name, tables, found, f"head each with [[{name}]], in double brackets")
        return ()
    records = []
    for index, table in enumerate(tables):
        if isinstance(table, Mapping):
            records.append(_record(place.file, table, lines.of(name, index)))
        else:
            faults.add(place, name, table, "is not a table", f"head each with [[{name}]]")
    return tuple(records)


def _pieces(kind: str, records: tuple[Record, ...], faults: FaultList) -> list[Record]:
    """Return `records` with the kind that their header states."""
    for record in records:
        refuse_unknown(record, PIECE_KEYS, f"[[{kind}]]", faults)
    return [
        Record(record.place, {**record.values, "kind": kind}, record.places) for record in records
    ]
