"""What a file says before anyone has judged it, and the faults found while judging."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from ..errors import Fault, InputError, RefusedValue

__all__ = ["BadCell", "Document", "FaultList", "Place", "Record", "closest", "kind_of"]

_LONGEST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a file something stands.

    Attributes
    ----------
    line
        Line of a text file or row of a spreadsheet, from 1; 0 for the file as a whole.
    noun
        ``"line"`` or ``"row"``.
    cell
        The cell's name such as ``"D4"``, where there is one.
    """

    file: str
    line: int = 0
    noun: str = "line"
    cell: str = ""

    @property
    def spot(self) -> str:
        """The place without its file: ``"line 12"``."""
        return f"{self.noun} {self.line}" if self.line else "the same file"

    def __str__(self) -> str:
        if not self.line:
            return self.file
        cell = f", cell {self.cell}" if self.cell else ""
        return f"{self.file}, {self.spot}{cell}"

    def told_from(self, other: Place) -> str:
        """Return this place as said to someone who looks at `other`."""
        return self.spot if self.file == other.file else str(self)


@dataclass(frozen=True, slots=True)
class BadCell:
    """A value that is spoilt whatever its field: a spreadsheet's date or error, a number 1e5.

    Where `accepted` is empty, what would do depends on the field.
    """

    shown: str
    problem: str
    accepted: str


@dataclass(frozen=True, slots=True)
class Record:
    """One table or row.

    Attributes
    ----------
    values
        What each field holds; blank fields are left out.
    places
        Where each field stands, where that is known better than `place`.
    absent
        Fields that nobody should miss here, since their whole column is missing.
    """

    place: Place
    values: Mapping[str, object]
    places: Mapping[str, Place]
    absent: frozenset[str] = frozenset()

    def at(self, field: str) -> Place:
        """Return where `field` stands, or should."""
        return self.places.get(field, self.place)


@dataclass(frozen=True, slots=True)
class Document:
    """What one file holds.

    Attributes
    ----------
    top
        Its `name`, `unit` and `rule`; empty for a spreadsheet.
    is_rows
        Whether it is a spreadsheet, whose rows may state their own unit.
    decimal_comma
        Whether ``16,5`` is a number in it.
    """

    top: Record
    tools: tuple[Record, ...] = ()
    boards: tuple[Record, ...] = ()
    offcuts: tuple[Record, ...] = ()
    pieces: tuple[Record, ...] = ()
    is_rows: bool = False
    decimal_comma: bool = False
    notes: tuple[str, ...] = ()

    @property
    def file(self) -> str:
        """The file's name, as messages give it."""
        return self.top.place.file


class FaultList:
    """Gathers every fault of the files being read.

    Parameters
    ----------
    files
        The names of the files, in the order in which to tell their faults.
    """

    def __init__(self, *files: str) -> None:
        self._files = files
        self._found: list[tuple[Place, Fault]] = []

    def __len__(self) -> int:
        return len(self._found)

    def add(self, place: Place, field: str, value: object, problem: str, accepted: str) -> None:
        """Note one fault."""
        self._found.append((place, Fault(str(place), field, shown(value), problem, accepted)))

    def refuse(self, place: Place, refusal: RefusedValue) -> None:
        """Note that a parser or a model object refused a value."""
        self.add(place, refusal.field, refusal.value, refusal.problem, refusal.accepted)

    def raise_any(self) -> None:
        """Raise an InputError with every fault, file by file and line by line, if there is one."""
        if self._found:
            found = sorted(self._found, key=self._rank)
            raise InputError(tuple(dict.fromkeys(fault for _, fault in found)))

    def _rank(self, item: tuple[Place, Fault]) -> tuple[int, int]:
        """Return where in the telling a fault comes; those of no file named come first."""
        place = item[0]
        file = self._files.index(place.file) + 1 if place.file in self._files else 0
        return file, place.line


def shown(value: object) -> str:
    """Return `value` as its file writes it, cut short; empty for nothing."""
    if value is None:
        return ""
    if isinstance(value, BadCell):
        return shown(value.shown)
    if isinstance(value, (list, tuple)):
        return "[…]"
    if isinstance(value, Mapping):
        return "{…}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**_LONGEST_SHOWN:
        # Python refuses to print an integer of some thousands of digits.
        return "…"
    text = str(value)
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 1] + "…"


def kind_of(value: object) -> str:
    """Return what sort of thing a file's value is, for a message."""
    for kinds, name in _KINDS:
        if isinstance(value, kinds):
            return name
    return "something else"


_KINDS: tuple[tuple[type | tuple[type, ...], str], ...] = (
    (bool, "true or false"),
    (int, "a number"),
    ((Decimal, float), "a number"),
    (str, "text"),
    ((dt.date, dt.time), "a date or time"),
    ((list, tuple), "a list"),
    (Mapping, "a table"),
)


def closest(word: str, known: Iterable[str]) -> str | None:
    """Return the name in `known` that `word` was probably meant to be."""
    by_case = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(word.casefold(), by_case, 1, 0.6)
    return by_case[near[0]] if near else None
