"""An event, its area and its digest, chained over the one before."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from ..lengths import Length, Size

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "BEGINNING",
    "COLUMNS",
    "NUMBERS",
    "Event",
    "area_text",
    "chained",
    "length_text",
    "read_exact",
    "sized",
]

BEGINNING = "kerfwright ledger"  # what the first event has for a digest before it


@dataclass(frozen=True, slots=True)
class Event:
    """One dated event; a field that says nothing is None.

    Attributes
    ----------
    seq
        Its place in the ledger; events are ordered by it and never by the clock.
    entry
        What was recorded together has the same entry, and is undone together.
    at
        What the clock said, for people to read.
    width, height
        ``n/d``, exact millimetres.
    edges
        What an offcut loses at its bad edges, left, right, top and bottom: four lengths.
    area
        Of all that the event moves, ``n/d``, exact square millimetres.
    undoes
        The entry that no longer counts.
    previous, digest
        SHA-256 over this event with the digest of the one before it.
    """

    event: str
    job: int | None = None
    offcut: int | None = None
    board: str | None = None
    grade: str | None = None
    buffered: str | None = None
    direction: str | None = None
    width: str | None = None
    height: str | None = None
    edges: str | None = None
    count: int | None = None
    area: str | None = None
    place: str | None = None
    note: str | None = None
    undoes: int | None = None
    details: str | None = None
    seq: int = 0
    entry: int = 0
    at: str = ""
    previous: str = ""
    digest: str = ""

    @property
    def size(self) -> Size:
        """The size that it states.

        Raises
        ------
        ValueError
            If it states none.
        """
        if self.width is None or self.height is None:
            raise ValueError("states no size")
        return Size(Length(read_exact(self.width)), Length(read_exact(self.height)))

    def told(self) -> dict[str, object]:
        """Return the parts of `details`, empty where there are none.

        Raises
        ------
        ValueError
            If they are not what kerfwright writes.
        """
        told = json.loads(self.details) if self.details else {}
        if not isinstance(told, dict):
            raise ValueError("details are parts with names")
        return told

    def right_digest(self) -> str:
        """Return the digest that it ought to have."""
        said = [getattr(self, name) for name in COLUMNS if name != "digest"]
        text = json.dumps(said, ensure_ascii=True, separators=(",", ":"))
        return hashlib.sha256(text.encode("ascii")).hexdigest()


COLUMNS = tuple(field.name for field in fields(Event))
NUMBERS = frozenset({"job", "offcut", "count", "undoes", "seq", "entry"})


def chained(drafts: Iterable[Event], last: Event | None, entry: int, at: str) -> tuple[Event, ...]:
    """Return `drafts` numbered on from `last`, with their digests."""
    made: list[Event] = []
    for draft in drafts:
        before = made[-1] if made else last
        event = replace(
            draft,
            seq=before.seq + 1 if before else 1,
            entry=entry,
            at=at,
            previous=before.digest if before else BEGINNING,
        )
        made.append(replace(event, digest=event.right_digest()))
    return tuple(made)


def length_text(length: Length) -> str:
    """Return ``n/d``, exact millimetres."""
    return _text(length.mm)


def area_text(square_mm: Fraction) -> str:
    """Return ``n/d``, exact square millimetres."""
    return _text(square_mm)


def _text(number: Fraction) -> str:
    return f"{number.numerator}/{number.denominator}"


def read_exact(text: str) -> Fraction:
    """Return the number that ``n/d`` states.

    Raises
    ------
    ValueError
        If it is not of that form.
    """
    top, slash, bottom = text.partition("/")
    if not slash or not bottom.isdecimal() or int(bottom) == 0:
        raise ValueError(f"{text!r} is no exact number")
    return Fraction(int(top), int(bottom))


def sized(event: Event, size: Size, count: int = 1) -> Event:
    """Return `event` with a size, and the area of `count` of it."""
    return replace(
        event,
        width=length_text(size.width),
        height=length_text(size.height),
        area=area_text(size.width.mm * size.height.mm * count),
    )
