"""Which entry can be undone, and what must be undone before it."""

from __future__ import annotations

from ..errors import LedgerError
from .events import Event
from .state import CannotFollow, fold, standing
from .words import entry_words

__all__ = ["to_undo"]


def to_undo(events: tuple[Event, ...], asked: int | None) -> int:
    """Return the entry to undo: the one asked for, else the latest that stands.

    Raises
    ------
    LedgerError
        If there is none, it was undone or is an undoing itself, or something later rests on it,
        saying what, and what to undo first.
    """
    _, undone = standing(events)
    undoings = {event.entry: event.undoes for event in events if event.undoes is not None}
    last = events[-1].entry if events else 0
    if asked is None:
        can = [e.entry for e in events if e.entry not in undone and e.entry not in undoings]
        if not can:
            raise LedgerError("there is nothing to undo")
        asked = max(can)
    if not 1 <= asked <= last:
        known = f"they are numbered 1 to {last}" if last else "there are none yet"
        raise LedgerError(f"there is no entry {asked}; {known}")
    told = f"entry {asked} ({_words(events, asked)})"
    if asked in undone:
        by = next(entry for entry, other in undoings.items() if other == asked)
        raise LedgerError(f"{told} was undone already, by entry {by}; nothing was recorded")
    if asked in undoings:
        again = undoings[asked] or 0
        raise LedgerError(
            f"entry {asked} took back entry {again} ({_words(events, again)}); a taking back is "
            "not taken back. If that is to count after all, record it once more"
        )
    first = _before(events, asked, frozenset())
    if len(first) > 1:
        raise LedgerError(_refusal(events, told, first[:-1]))
    return asked


def _words(events: tuple[Event, ...], entry: int) -> str:
    return entry_words([event for event in events if event.entry == entry])


def _before(events: tuple[Event, ...], entry: int, undone: frozenset[int]) -> tuple[int, ...]:
    """Return the entries to undo one after another, the wanted one last.

    What fails to follow once an entry is undone rests on it, and is itself undone first with all
    that rests on it. It always came later, so this ends.
    """
    order: list[int] = []
    while True:
        try:
            fold(events, frozenset({entry, *undone, *order}))
        except CannotFollow as error:
            gone = frozenset({*undone, *order})
            order += _before(events, error.event.entry, gone)
        else:
            return (*order, entry)


def _refusal(events: tuple[Event, ...], told: str, first: tuple[int, ...]) -> str:
    """Say what rests on an entry, and how to undo it all the same."""
    rests = "; ".join(f"entry {number} ({_words(events, number)})" for number in first)
    if len(first) == 1:
        return (
            f"{told} cannot be undone yet: {rests} came after it and rests on it. Undo that one "
            f"first: `kerfwright ledger undo {first[0]}`"
        )
    order = ", ".join(map(str, first))
    return (
        f"{told} cannot be undone yet: what came after it rests on it. Undo these first, in this "
        f"order: {order}. They are {rests}"
    )
