"""The ledger itself: what can be recorded in it, each entry whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import LedgerError
from .events import BEGINNING, Event, chained
from .state import State, fold
from .store import append, now, opened, read_ends, read_events, reading, writing
from .texts import tidied
from .undoing import to_undo

if TYPE_CHECKING:
    from fractions import Fraction

    from ..lengths import Size

__all__ = [
    "Entry",
    "Ledger",
    "broken_links",
    "cut_short",
    "square",
]

Drafts = Callable[[State], Iterable[Event]]
Ends = tuple[tuple[int, str | None], ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """What was recorded together.

    Attributes
    ----------
    number
        By which it can be undone; 0 where nothing was to be recorded.
    """

    number: int
    events: tuple[Event, ...]

    @property
    def offcuts(self) -> tuple[int, ...]:
        """The offcuts that it tells of, in order, each once."""
        return tuple(dict.fromkeys(e.offcut for e in self.events if e.offcut is not None))


class Ledger:
    """A ledger in a file.

    Parameters
    ----------
    path
        The file; it is opened anew for each call, so that other programs can use it between.
    """

    def __init__(self, path: Path | str) -> None:
        self.path = Path(path)

    def begin(self) -> bool:
        """Make the file if it is not there, and return whether it was made.

        Raises
        ------
        LedgerError
            If something else stands there, or it cannot be made.
        """
        try:
            with opened(self.path):
                there = True
        except LedgerError:
            there = False
        with opened(self.path, create=True):
            return not there

    def events(self) -> tuple[Event, ...]:
        """Return everything that was ever recorded, in order, once its chain is seen to be whole.

        Raises
        ------
        LedgerError
            If the ledger cannot be read, or was tampered with.
        """
        with opened(self.path) as connection, reading(connection):
            found = tuple(read_events(connection))
            ends = read_ends(connection)
        self._whole(found, ends)
        return found

    def state(self) -> State:
        """Return the ledger as it stands.

        Raises
        ------
        LedgerError
            If the ledger cannot be read, or was tampered with.
        """
        return fold(self.events())

    def record(self, drafts: Drafts) -> Entry:
        """Record what `drafts` makes of the state, in one transaction.

        No other process writes between the reading of the state and the end. Where there is
        nothing to record nothing is written.

        Raises
        ------
        LedgerError
            If an event cannot follow what stands, or the ledger cannot be written; then it is as
            it was.
        """
        return self._record(lambda _, state: drafts(state))

    def record_seeing(self, drafts: Callable[[tuple[Event, ...], State], Iterable[Event]]) -> Entry:
        """Do as `record`, where `drafts` looks at the events so far, too."""
        return self._record(drafts)

    def _record(self, drafts: Callable[[tuple[Event, ...], State], Iterable[Event]]) -> Entry:
        with opened(self.path, record=True) as connection, writing(connection):
            before = tuple(read_events(connection))
            self._whole(before, read_ends(connection))
            state = fold(before)
            entry, last = state.entry + 1, state.last
            made = chained(tidied(drafts(before, state)), last, entry, now())
            if not made:
                return Entry(0, ())
            self._follow(before, made)
            append(connection, made)
        return Entry(entry, made)

    def _follow(self, before: tuple[Event, ...], made: tuple[Event, ...]) -> None:
        """See that what is to be recorded can follow what stands."""
        if any(event.undoes is not None for event in made):
            fold((*before, *made))
            return
        # `drafts` may have moved its state on, to see what would come of it.
        state = fold(before)
        for event in made:
            state.apply(event)

    def _whole(self, events: tuple[Event, ...], ends: Ends) -> None:
        fault = next(chain(broken_links(events), cut_short(events, ends)), None)
        if fault is not None:
            told = "nothing is recorded in it before that is mended; go back to a backup"
            raise LedgerError(f"{self.path}: {fault}; {told}")

    def undo(self, entry: int | None = None) -> Entry:
        """Undo an entry, the latest that still stands where none is named, and return it.

        Undoing is an entry too: nothing is taken out of the ledger.

        Raises
        ------
        LedgerError
            If there is none, or something later rests on it, saying what to undo before it.
        """
        chosen: list[tuple[Event, ...]] = []

        def drafts(events: tuple[Event, ...], _: State) -> tuple[Event, ...]:
            number = to_undo(events, entry)
            chosen.append(tuple(event for event in events if event.entry == number))
            return (Event("undone", undoes=number),)

        self._record(drafts)
        return Entry(chosen[-1][0].entry, chosen[-1])


def broken_links(events: Iterable[Event]) -> Iterator[str]:
    """Yield a sentence for every event that is not as it was recorded."""
    before, number = BEGINNING, 0
    for event in events:
        if event.seq != number + 1:
            yield f"event {number + 1} is missing"
        if event.previous != before:
            yield f"event {event.seq} does not follow the one before it: one of them was changed"
        if event.digest != event.right_digest():
            yield f"event {event.seq} was changed after it was recorded"
        before, number = event.digest, event.seq


def cut_short(events: tuple[Event, ...], ends: Ends) -> Iterator[str]:
    """Yield a sentence where the file remembers another last event than it has."""
    last = events[-1].seq if events else 0
    digest = events[-1].digest if events else BEGINNING
    highest = max(number for number, _ in ends)
    if highest > last:
        yield (
            f"event {highest} is missing at the end"
            if highest == last + 1
            else f"events {last + 1} to {highest} are missing at the end"
        )
    elif any(number != last or kept not in (None, digest) for number, kept in ends):
        yield "what the file remembers of its last event was changed"


def square(size: Size) -> Fraction:
    """Return the exact area in square millimetres."""
    return size.width.mm * size.height.mm
