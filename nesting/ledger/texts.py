"""Texts that the ledger keeps: on one line, and with nothing in them that cannot be printed.

A place or a note is printed in a terminal, where a sign for steering it would be obeyed, and is
drawn on labels.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import replace

from ..errors import LedgerError, RefusedValue
from .events import Event

__all__ = ["one_line", "tidied"]

# Invisible marks that turn the reading direction: a text with one prints as another.
_TURNERS = {*map(chr, range(0x202A, 0x202F)), *map(chr, range(0x2066, 0x206A))}
# Of these the place is a folder and the note an order's name or a label, which are as they are.
_OF_JOBS = {"job planned", "pieces"}


def one_line(text: str, field: str) -> str:
    """Return a text with every gap in it a single blank.

    Raises
    ------
    RefusedValue
        If it holds a sign that cannot be printed.
    """
    line = " ".join(text.split())
    for sign in line:
        if sign in _TURNERS or unicodedata.category(sign) in {"Cc", "Co", "Cs"}:
            problem = f"holds the unprintable character U+{ord(sign):04X}"
            raise RefusedValue(field, line, problem, "retype it")
    return line


def tidied(events: Iterable[Event]) -> Iterator[Event]:
    """Yield events that are to be recorded, their texts on one line each.

    Raises
    ------
    LedgerError
        If a board, a place or a note holds a sign that cannot be printed.
    """
    for event in events:
        yield event if event.event in _OF_JOBS else _tidied(event)


def _tidied(event: Event) -> Event:
    try:
        if event.board is not None:
            one_line(event.board, "board")  # a board's name is a key, and stays as it was looked up
        place = event.place and one_line(event.place, "place")
        note = event.note and one_line(event.note, "note")
    except RefusedValue as refusal:
        told = f"{refusal.field} {refusal.value!r} {refusal.problem}"
        raise LedgerError(f"{told}; nothing was recorded; {refusal.accepted}") from refusal
    return replace(event, place=place, note=note)
