"""Which entry can be undone, and what must be undone before it."""

from __future__ import annotations

from ..errors import LedgerError
from .events import Event
from .slips import overworn
from .state import CannotFollow, State, fold, standing
from .words import entry_words

__all__ = ["to_undo"]

LOOKED_FOR = 20  # entries that rest on one which is to be undone
NAMED = 6  # of them that are told in words


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
    first = _before(events, asked, frozenset(), LOOKED_FOR)
    if first != (asked,):
        more = asked not in first
        raise LedgerError(_refusal(events, told, first if more else first[:-1], more=more))
    return asked


def _words(events: tuple[Event, ...], entry: int) -> str:
    return entry_words([event for event in events if event.entry == entry])


def _before(
    events: tuple[Event, ...], entry: int, undone: frozenset[int], most: int, deep: int = 0
) -> tuple[int, ...]:
    """Return the entries to undo one after another, the wanted one last.

    What fails to follow once an entry is undone rests on it, and is itself undone first with all
    that rests on it. It always came later, so this ends. No more than the first `most` are looked
    for: each takes a reading of the whole ledger, which others wait for.
    """
    order: list[int] = []
    while len(order) < most and deep <= most:
        try:
            gone = frozenset({entry, *undone, *order})
            _refuse_overworn(events, gone, fold(events, gone))
        except CannotFollow as error:
            gone = frozenset({*undone, *order})
            first = _before(events, error.event.entry, gone, most - len(order), deep + 1)
            if not first:
                break
            order += first
        else:
            return (*order, entry)
    return tuple(order)


def _refuse_overworn(events: tuple[Event, ...], gone: frozenset[int], left: State) -> None:
    """Refuse to leave windows that were cut over slip sheets which are then not there.

    Raises
    ------
    CannotFollow
        Naming the last event that says of such windows.
    """
    found = {key for key, _ in overworn(left)}
    if not found:
        return
    found -= {key for key, _ in overworn(fold(events))}  # as they were already
    undone = standing(events)[1] | gone
    for event in reversed(events):
        worn = event.event == "slips scored" and (event.count or 0) > 0
        if worn and event.entry not in undone and (event.board or "", event.size) in found:
            raise CannotFollow(event, "the slip sheets under its windows would not be there")


def _refusal(events: tuple[Event, ...], told: str, first: tuple[int, ...], *, more: bool) -> str:
    """Say what rests on an entry, and how to undo it all the same."""
    rests = "; ".join(f"entry {number} ({_words(events, number)})" for number in first[:NAMED])
    if not first:
        return (
            f"{told} cannot be undone yet: much came after it and rests on it. `kerfwright ledger "
            "undo` takes back the latest entry; or write down what is right now"
        )
    if len(first) == 1 and not more:
        return (
            f"{told} cannot be undone yet: {rests} came after it and rests on it. Undo that one "
            f"first: `kerfwright ledger undo {first[0]}`"
        )
    order = ", ".join(map(str, first))
    others = len(first) - NAMED
    rests += f"; and {others} more" if others > 0 else ""
    after = ", and then what the next refusal names" if more else ""
    return (
        f"{told} cannot be undone yet: what came after it rests on it. Undo these first, in this "
        f"order: {order}{after}. They are {rests}"
    )
