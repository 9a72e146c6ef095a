"""A whole ledger as JSON tells it: read back with every value looked at before it is believed."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from ..errors import Fault, InputError
from .events import COLUMNS, NUMBERS, Event, read_exact
from .state import EVENTS

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["FORMAT", "VERSION", "events_in"]

FORMAT = "kerfwright-ledger"
VERSION = 1
TOLD_AT_MOST = 20  # faults; where there are more, the file is of another sort altogether
HIGHEST = 2**63 - 1  # SQLite's integers
SHOWN = 60  # characters of a value that is told
NEEDED = ("event", "seq", "entry", "at", "previous", "digest")
_WHOLE = "write a whole number"
_EXACT = "write such as 1778/5, exact millimetres, or square millimetres of an area"


def events_in(path: Path) -> tuple[Event, ...]:
    """Return the events of a file that `exchange.export_json` wrote.

    Raises
    ------
    InputError
        If it is no such file, or with every value that is none: the event and field it stands in,
        what it is and what it may be.
    """
    told = _document(path)
    listed = told.get("events")
    if not isinstance(listed, list):
        refused = Fault(str(path), "events", _shown(listed), "is no list", "give it as exported")
        raise InputError((refused,))
    faults = [fault for place, one in enumerate(listed, 1) for fault in _faults(path, place, one)]
    if faults:
        raise InputError(tuple(faults[:TOLD_AT_MOST]))
    return tuple(Event(**{name: one[name] for name in COLUMNS}) for one in listed)


def _document(path: Path) -> Mapping[str, Any]:
    where, accepted = str(path), "give a .json file that `kerfwright ledger export` wrote"
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(
            (Fault(where, "", "", f"cannot be read: {error.strerror}", ""),)
        ) from error
    except (ValueError, RecursionError) as error:
        problem = "is no ledger that was exported: it is not JSON in UTF-8"
        raise InputError((Fault(where, "", "", problem, accepted),)) from error
    if not isinstance(told, dict) or told.get("format") != FORMAT:
        raise InputError((Fault(where, "", "", "is no ledger that was exported", accepted),))
    if told.get("version") != VERSION:
        problem = "is not known to this kerfwright"
        shown = _shown(told.get("version"))
        raise InputError((Fault(where, "version", shown, problem, f"it reads {VERSION}"),))
    return told


def _shown(value: object) -> str:
    text = json.dumps(value, ensure_ascii=True)
    return text if len(text) <= SHOWN else f"{text[:SHOWN]}..."


def _faults(path: Path, place: int, one: object) -> Iterator[Fault]:
    where = f"{path}, event {place}"
    if not isinstance(one, dict):
        yield Fault(where, "", _shown(one), "is no event", "an event has a value for each field")
        return
    for name in COLUMNS:
        if name not in one:
            yield Fault(where, name, "", "is missing", "write null where it says nothing")
            continue
        value = one[name]
        accepted = _accepted(name, value)
        if accepted:
            yield Fault(where, name, _shown(value), f"is not {_sort(name)}", accepted)


def _sort(name: str) -> str:
    return "a whole number" if name in NUMBERS else _SORTS.get(name, ("a text", None, ""))[0]


def _accepted(name: str, value: object) -> str:
    """Return what would be accepted in place of a value, or nothing where it is."""
    optional = "" if name in NEEDED else ", or null"
    if value is None:
        return "" if optional else ("write a whole number" if name in NUMBERS else "write a text")
    if name in NUMBERS:
        right = type(value) is int and abs(value) <= HIGHEST
        return "" if right else f"{_WHOLE}{optional}"
    if not isinstance(value, str) or not _sound(value):
        return f"write a text{optional}"
    _, read, accepted = _SORTS.get(name, ("", None, ""))
    if read is None:
        return ""
    try:
        read(value)
    except (ValueError, TypeError, OverflowError, RecursionError):
        return f"{accepted}{optional}"
    return ""


def _sound(text: str) -> bool:
    """Return whether a text holds no half of a character, which no file can keep."""
    return not any("\ud800" <= one <= "\udfff" for one in text)


def _edges(text: str) -> None:
    left, right, top, bottom = text.split()
    for part in (left, right, top, bottom):
        read_exact(part)


def _one_of(*known: str) -> Callable[[str], object]:
    return known.index


def _object(text: str) -> None:
    if not isinstance(json.loads(text), dict):
        raise TypeError("is no object")


# Of texts that must be of a form: what they are, what reads them, and what would be accepted.
_SORTS: Mapping[str, tuple[str, Callable[[str], object] | None, str]] = {
    **dict.fromkeys(("width", "height", "area"), ("an exact number", read_exact, _EXACT)),
    "edges": ("four exact lengths", _edges, "write such as 127/20 0/1 0/1 0/1"),
    "buffered": ("known", _one_of("yes", "no", "unknown"), "write yes, no or unknown"),
    "direction": ("known", _one_of("known", "unknown"), "write known or unknown"),
    "event": ("an event that is known", _one_of(*EVENTS), f"known are {', '.join(EVENTS)}"),
    "at": ("a date", datetime.fromisoformat, "write such as 2026-03-02T12:00:00+00:00"),
    "details": ("an object in JSON", _object, "write an object in JSON, as a text"),
}
