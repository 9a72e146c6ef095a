"""The fields of plan.json, checked one by one; every fault of a file is gathered, none raised.

A field that is at fault gives a harmless stand-in, so that reading goes on to the next one. The
stand-ins never leave this room: a reader with any fault raises in the end.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from ..errors import Fault, InputError
from .jsontext import Doubtful, JsonObject

__all__ = ["LARGEST_COUNT", "LARGEST_LENGTH", "Faults", "Table", "rational"]

LARGEST_LENGTH = 2**26  # steps to a side; the grid's own limit
LARGEST_COUNT = 2**53 - 1  # what every JSON reader holds exactly
MOST_FAULTS = 25
ABSENT = object()
NUMBER = re.compile(r"\d{1,400}(?:\.\d{1,400})?|\d{1,400}/\d{1,400}", re.ASCII)

Choice = TypeVar("Choice", bound=StrEnum)
Row = TypeVar("Row")


class Faults:
    """Gathers what is wrong with one file."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._found: list[Fault] = []

    def add(self, path: str, field: str, value: object, problem: str, accepted: str) -> None:
        """Note that `field` at `path` is at fault."""
        where = f"{self._file}, {path}" if path else self._file
        self._found.append(Fault(where, field, _shown(value), problem, accepted))

    def __bool__(self) -> bool:
        return bool(self._found)

    def error(self) -> InputError:
        """Return the error that lists the faults found, the first few of very many."""
        shown = self._found[:MOST_FAULTS]
        rest = len(self._found) - len(shown)
        if rest:
            shown.append(Fault(self._file, "", "", f"has {rest} more faults", ""))
        return InputError(tuple(shown))


def _shown(value: object) -> str:
    """Return `value` as it was written, cut short."""
    if isinstance(value, Doubtful):
        return value.written
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, dict):
        return "{…}"
    if isinstance(value, list):
        return "[…]"
    return str(value)[:60].encode("utf-8", "replace").decode()


def rational(value: object) -> Fraction | None:
    """Return the exact number that the string `value` spells, or None."""
    if not isinstance(value, str) or NUMBER.fullmatch(value) is None:
        return None
    try:
        return Fraction(value)
    except ZeroDivisionError:
        return None


class Table:
    """One object of the file, asked for its fields by name.

    Parameters
    ----------
    value
        What stands where the object should.
    path
        Where that is, in words: ``"board 1, layout 2"``; empty for the file as a whole.
    known
        Every key that the object may have.

    An `ABSENT` object has been noted as missing already; nothing more is said of its fields.
    """

    def __init__(self, value: object, path: str, faults: Faults, known: tuple[str, ...]) -> None:
        self.path = path
        self.faults = faults
        self._known = known
        self._value: dict[str, object] = value if isinstance(value, dict) else {}
        self._usable = isinstance(value, dict)
        if not self._usable and value is not ABSENT:
            faults.add(path, "", value, "is not an object", "write { … } with named fields")
        if isinstance(value, JsonObject):
            for name in value.repeated:
                faults.add(path, name, "", "is given twice", "give it once")
        self._refuse_unknown()

    def _refuse_unknown(self) -> None:
        for name in self._value:
            if name not in self._known:
                near = difflib.get_close_matches(name, self._known, 1, 0.5)
                hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(self._known)}"
                self.faults.add(self.path, "key", name, "is not known here", hint)

    def has(self, name: str) -> bool:
        """Return whether the field is given and is not null."""
        return self._value.get(name) is not None

    def _take(self, name: str, accepted: str) -> object:
        """Return the field, or None after noting that it is missing."""
        if name not in self._value:
            if self._usable:
                self.faults.add(self.path, name, "", "is missing", accepted)
            return None
        return self._value[name]

    def _missing(self, name: str) -> bool:
        return name not in self._value

    def refuse(self, name: str, problem: str, accepted: str) -> None:
        """Note that the field is at fault."""
        self.faults.add(self.path, name, self._value.get(name), problem, accepted)

    def whole(self, name: str, low: int = 0, high: int = LARGEST_LENGTH) -> int:
        """Return a whole number from `low` to `high`."""
        accepted = f"write a whole number from {low} to {high}"
        value = self._take(name, accepted)
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        if not self._missing(name):
            self.refuse(name, _number_problem(value, low), accepted)
        return low

    def whole_or_none(self, name: str, low: int = 0, high: int = LARGEST_COUNT) -> int | None:
        """Return a whole number, or None where the field is null."""
        if name in self._value and self._value[name] is None:
            return None
        return self.whole(name, low, high)

    def text(self, name: str) -> str:
        """Return a string."""
        accepted = "write it as text in quotes"
        value = self._take(name, accepted)
        if isinstance(value, str) and not _has_surrogate(value):
            return value
        if not self._missing(name):
            self.refuse(name, "is not text", accepted)
        return ""

    def text_or_none(self, name: str) -> str | None:
        """Return a string, or None where the field is null."""
        if name in self._value and self._value[name] is None:
            return None
        return self.text(name)

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a list of strings."""
        value = self._take(name, "write a list of texts")
        if isinstance(value, list) and all(
            isinstance(item, str) and not _has_surrogate(item) for item in value
        ):
            return tuple(value)
        self.refuse(name, "is not a list of texts", "write a list of texts in quotes")
        return ()

    def wholes(self, name: str, low: int = 1, high: int = LARGEST_COUNT) -> tuple[int, ...]:
        """Return a list of whole numbers from `low` to `high`."""
        accepted = f"write a list of whole numbers from {low}"
        value = self._take(name, accepted)
        if isinstance(value, list) and all(
            isinstance(item, int) and not isinstance(item, bool) and low <= item <= high
            for item in value
        ):
            return tuple(value)
        if not self._missing(name):
            self.refuse(name, "is not a list of whole numbers", accepted)
        return ()

    def flag(self, name: str) -> bool:
        """Return true or false."""
        value = self._take(name, "write true or false")
        if isinstance(value, bool):
            return value
        if not self._missing(name):
            self.refuse(name, "is neither true nor false", "write true or false")
        return False

    def choice(self, name: str, kind: type[Choice]) -> Choice:
        """Return one member of `kind`."""
        accepted = f"write one of: {', '.join(kind)}"
        value = self._take(name, accepted)
        for member in kind:
            if member.value == value:
                return member
        if not self._missing(name):
            self.refuse(name, "is not known", accepted)
        return next(iter(kind))

    def number(self, name: str) -> Fraction:
        """Return the exact number of a string such as ``"21.50"`` or ``"43/8"``."""
        accepted = 'write an exact number in quotes, such as "21.50" or "43/8"'
        value = self._take(name, accepted)
        exact = rational(value)
        if exact is None and not self._missing(name):
            self.refuse(name, "is not an exact number of zero or more", accepted)
        return exact or Fraction(0)

    def number_or_none(self, name: str) -> Fraction | None:
        """Return an exact number, or None where the field is null."""
        if name in self._value and self._value[name] is None:
            return None
        return self.number(name)

    def parsed(self, name: str, parse: Callable[[str], Row], accepted: str, other: Row) -> Row:
        """Return what `parse` makes of a string; `other` after it refuses one."""
        text = self.text(name)
        if not text:
            return other
        try:
            return parse(text)
        except ValueError:
            self.refuse(name, "is not understood", accepted)
            return other

    def rows(self, name: str, one: str) -> Iterator[tuple[object, str]]:
        """Yield each item of a list with its path: ``one 1``, ``one 2``, ..."""
        value = self._take(name, "write a list [ … ]")
        if isinstance(value, list):
            prefix = f"{self.path}, " if self.path else ""
            for number, item in enumerate(value, 1):
                yield item, f"{prefix}{one} {number}"
        elif not self._missing(name):
            self.refuse(name, "is not a list", "write a list [ … ]")

    def member(self, name: str, known: tuple[str, ...]) -> Table:
        """Return the object that the field holds."""
        value = self._take(name, "write { … } with named fields")
        prefix = f"{self.path}, {name}" if self.path else name
        return Table(ABSENT if self._missing(name) else value, prefix, self.faults, known)

    def mapping(self, name: str) -> dict[str, object]:
        """Return the object that the field holds, whatever its keys."""
        value = self._take(name, "write { … }")
        if isinstance(value, dict):
            for repeated in getattr(value, "repeated", ()):
                self.faults.add(self.path, f"{name} {repeated}", "", "is given twice", "once")
            return value
        if not self._missing(name):
            self.refuse(name, "is not an object", "write { … }")
        return {}


def _number_problem(value: object, low: int) -> str:
    if isinstance(value, Doubtful):
        return value.problem
    if isinstance(value, bool) or not isinstance(value, int):
        return "is not a whole number"
    if value < low:
        return "is negative" if value < 0 else "is too small"
    return "is too large"


def _has_surrogate(text: str) -> bool:
    return any("\ud800" <= character <= "\udfff" for character in text)
