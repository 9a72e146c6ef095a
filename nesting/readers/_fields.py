"""A record read field by field; each thing wrong becomes a fault and reading goes on."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from ..errors import RefusedValue
from ..lengths import Length, Size, Unit, parse_length, parse_size
from ._records import BadCell, FaultList, Place, Record, closest

__all__ = ["Fields", "Reading"]

T = TypeVar("T")
D = TypeVar("D")

# Other words that people use for a field, only so that a message can name the right one.
_MEANT = {
    "quantity": "qty", "count": "qty", "number": "qty", "pieces": "qty", "material": "board",
    "stock": "board", "name": "label", "title": "label", "id": "label", "type": "kind",
    "rotate": "turn", "units": "unit", "w": "width", "h": "height", "length": "height",
    "cost": "price", "dimensions": "size", "blade": "kerf", "sheet": "sheets", "tools": "tool",
    "boards": "board", "mats": "mat", "backers": "backer", "offcuts": "offcut", "piece": "mat",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reading:
    """How a file's lengths are to be read."""

    unit: Unit
    decimal_comma: bool = False


class Fields:
    """The fields of one record.

    A field at fault or missing gives a stand-in. No stand-in leaves this room, for reading ends
    in an error if there was any fault.
    """

    def __init__(self, record: Record, reading: Reading, faults: FaultList) -> None:
        self.record = record
        self.reading = reading
        self.faults = faults

    def has(self, field: str) -> bool:
        """Return whether the record says anything in `field`."""
        return field in self.record.values

    def at(self, field: str) -> Place:
        """Return where `field` stands."""
        return self.record.at(field)

    def fault(self, field: str, problem: str, accepted: str) -> None:
        """Note that `field`, as written, is at fault."""
        self.faults.add(self.at(field), field, self.record.values.get(field), problem, accepted)

    def only(self, known: Iterable[str], what: str) -> None:
        """Refuse every field that is not among `known`."""
        refuse_unknown(self.record, tuple(known), what, self.faults)

    def get(self, field: str, parse: Callable[[object], T], default: D) -> T | D:
        """Return what `parse` makes of `field`, or `default` where there is nothing in it."""
        if not self.has(field):
            return default
        value = self.record.values[field]
        try:
            return parse(_unspoilt(field, value))
        except RefusedValue as refusal:
            self.faults.refuse(self.at(field), refusal)
            return default

    def need(self, field: str, parse: Callable[[object], T], accepted: str) -> T | None:
        """Return what `parse` makes of `field`, or None where it is missing or at fault."""
        if not self.has(field) and field not in self.record.absent:
            self.faults.add(self.at(field), field, "", "is missing", accepted)
        return self.get(field, parse, None)

    def length(self, field: str, *, zero: bool = False) -> Callable[[object], Length]:
        """Return a parser of lengths as this file writes them."""

        def parse(value: object) -> Length:
            comma = self.reading.decimal_comma
            return parse_length(value, self.reading.unit, field, zero=zero, decimal_comma=comma)

        return parse

    def size(self, field: str) -> Callable[[object], Size]:
        """Return a parser of sizes as this file writes them."""

        def parse(value: object) -> Size:
            comma = self.reading.decimal_comma
            return parse_size(value, self.reading.unit, field, decimal_comma=comma)

        return parse

    def build(self, make: Callable[..., T], values: Mapping[str, object]) -> T | None:
        """Return the model object made of `values`; each refusal of it becomes a fault.

        A refused value that has a default is replaced by it and the making repeated, so that
        two refusals are both told.
        """
        left = dict(values)
        while True:
            try:
                return make(**left)
            except RefusedValue as refusal:
                self.faults.refuse(self.at(refusal.field), refusal)
                if refusal.field not in left or refusal.field not in _defaulted(make):
                    return None
                del left[refusal.field]


def _defaulted(make: object) -> set[str]:
    assert isinstance(make, type)
    assert dataclasses.is_dataclass(make)
    missing = dataclasses.MISSING
    return {
        field.name
        for field in dataclasses.fields(make)
        if field.default is not missing or field.default_factory is not missing
    }


def _unspoilt(field: str, value: object) -> object:
    if isinstance(value, BadCell):
        raise RefusedValue(field, value.shown, value.problem, value.accepted)
    return value


def refuse_unknown(record: Record, known: tuple[str, ...], what: str, faults: FaultList) -> None:
    """Refuse every field of `record` that is not among `known`, suggesting the nearest."""
    for field in record.values:
        if field not in known:
            accepted = _suggestion(field, known)
            faults.add(record.at(field), field, "", f"is not known in {what}", accepted)


def _suggestion(field: str, known: tuple[str, ...]) -> str:
    if field in ("unit", "rule"):
        return "put it at the top of the file, before the first [[…]]"
    near = meant(field, known)
    return f"did you mean {near}?" if near else f"known are {', '.join(known)}"


def meant(word: str, known: tuple[str, ...]) -> str | None:
    """Return the name in `known` that `word` was probably meant for."""
    other = _MEANT.get(word.lower())
    return other if other in known else closest(word, known)
