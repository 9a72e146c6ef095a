"""Whether the ledger is whole: its chain, its sums, and its views against the events."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from ..errors import LedgerError
from .book import broken_links, square
from .events import Event, read_exact
from .state import State, fold, standing
from .store import opened, read_events
from .windows import drop_out_faults

if TYPE_CHECKING:
    import sqlite3

    from .book import Ledger

__all__ = ["Balance", "Checked", "balances", "check_ledger"]

IN = ("sheets in", "added", "slips in", "found", "drop-out")
CHANGED = ("measured", "corrected", "seen", "sheets counted", "slips counted")
OUT = (
    "pieces", "kerf", "scrap", "trim", "slips retired",
    "used", "given away", "spoiled", "lost", "sheets out",
)  # fmt: skip
TAKEN = ("sheets cut", "cut")
LEFT = ("pieces", "kerf", "scrap", "trim", "slips made", "made")


@dataclass(frozen=True, slots=True)
class Balance:
    """Where one board's area came from and where it is, in whole numbers of one small area.

    ``came + changed == went + sheets + offcuts + slips``, where the ledger is whole.

    Attributes
    ----------
    unit
        The small area, in square millimetres: all of the board's areas are multiples of it.
    came, went, changed
        By event: what came in; what went; what measuring and counting added or took away.
    sheets, offcuts, slips
        What stands on the rack now, counted from the things and not from the events.
    """

    board: str
    unit: Fraction
    came: tuple[tuple[str, int], ...]
    changed: tuple[tuple[str, int], ...]
    went: tuple[tuple[str, int], ...]
    sheets: int
    offcuts: int
    slips: int

    @property
    def difference(self) -> int:
        """What is missing; zero where the ledger is whole."""
        came = sum(area for _, area in (*self.came, *self.changed))
        went = sum(area for _, area in self.went)
        return came - went - self.sheets - self.offcuts - self.slips


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found.

    Attributes
    ----------
    faults
        Whatever is wrong, a sentence each; empty where the ledger is whole.
    remarks
        What is odd and does no harm, such as a clock that went back.
    """

    events: int
    balances: tuple[Balance, ...]
    faults: tuple[str, ...]
    remarks: tuple[str, ...]


def check_ledger(ledger: Ledger) -> Checked:
    """Check the ledger from its first event to its last.

    Raises
    ------
    LedgerError
        If the file cannot be read as a ledger at all.
    """
    with opened(ledger.path) as connection:
        events = tuple(read_events(connection))
        faults = [*_file(connection), *broken_links(events), *_cut_short(connection, events)]
        try:
            state = fold(events)
        except LedgerError as error:
            return Checked(len(events), (), (*faults, str(error)), ())
        faults += _views(connection, state)
    made = balances(state)
    faults += [*_areas(events), *_jobs(events), *_unbalanced(made)]
    faults += drop_out_faults(events)
    return Checked(len(events), made, tuple(faults), tuple(_clock(events)))


def _file(connection: sqlite3.Connection) -> Iterator[str]:
    for (said,) in connection.execute("PRAGMA integrity_check"):
        if said != "ok":
            yield f"the file is damaged: {said}"
    guards = connection.execute("SELECT count(*) FROM sqlite_master WHERE type = 'trigger'")
    if guards.fetchone()[0] != 2:
        yield "the triggers that guard the events were taken out"


def _cut_short(connection: sqlite3.Connection, events: tuple[Event, ...]) -> Iterator[str]:
    row = connection.execute("SELECT seq FROM sqlite_sequence WHERE name = 'events'").fetchone()
    highest, last = (row[0] if row else 0), (events[-1].seq if events else 0)
    if highest != last:
        yield f"events {last + 1} to {highest} are missing at the end"


def _views(connection: sqlite3.Connection, state: State) -> Iterator[str]:
    """Yield where the views, which compute the state in SQL, say otherwise than the events."""
    found = {
        row[0]: tuple(row[1:])
        for row in connection.execute("SELECT number, state, board, width, height FROM offcuts")
    }
    for number, kept in state.offcuts.items():
        lengths = (kept.size.width.mm, kept.size.height.mm)
        row = found.pop(number, None)
        told = None if row is None else (row[0], row[1], read_exact(row[2]), read_exact(row[3]))
        if told != (kept.state, kept.board, *lengths):
            yield f"the view of offcut {number} is not what its events say"
    for number in found:
        yield f"the view has an offcut {number} that no event made"
    for view, counts in (("sheets", state.sheets), ("slip_sheets", state.slips)):
        query = f"SELECT board, width, height, count FROM {view}"  # noqa: S608  our own names
        rows = {(b, read_exact(w), read_exact(h)): c for b, w, h, c in connection.execute(query)}
        ours = {(b, s.width.mm, s.height.mm): c for (b, s), c in counts.items() if c}
        if {key: count for key, count in rows.items() if count} != ours:
            yield f"the view {view} is not what the events say"


def balances(state: State) -> tuple[Balance, ...]:
    """Return where each board's area came from and where it is now."""
    boards = sorted({*state.accounts, *(key[0] for key in (*state.sheets, *state.slips))})
    return tuple(_balance(state, board) for board in boards)


def _balance(state: State, board: str) -> Balance:
    account = state.accounts.get(board, {})
    things = [
        sum((square(size) * n for (name, size), n in counts.items() if name == board), Fraction(0))
        for counts in (state.sheets, state.slips)
    ]
    here = [kept for kept in state.offcuts.values() if kept.board == board and kept.here]
    things.append(sum((square(kept.size) for kept in here), Fraction(0)))
    unit = Fraction(1, math.lcm(*(area.denominator for area in (*account.values(), *things))))

    def rows(names: Iterable[str]) -> tuple[tuple[str, int], ...]:
        return tuple((name, int(account[name] / unit)) for name in names if account.get(name))

    sheets, slips, offcuts = (int(area / unit) for area in things)
    return Balance(board, unit, rows(IN), rows(CHANGED), rows(OUT), sheets, offcuts, slips)


def _unbalanced(made: Iterable[Balance]) -> Iterator[str]:
    for one in made:
        if one.difference:
            yield f"{one.board!r}: {one.difference} of {one.unit} sq mm cannot be accounted for"


def _areas(events: Iterable[Event]) -> Iterator[str]:
    """Yield every event whose area is not that of what it moves."""
    for event in events:
        if event.area is None or event.width is None or event.event in CHANGED[:3]:
            continue
        count = 1 if event.count is None else event.count
        if read_exact(event.area) != square(event.size) * count:
            yield f"event {event.seq} states an area that is not its size times its count"


def _jobs(events: tuple[Event, ...]) -> Iterator[str]:
    """Yield every job whose sources are not its pieces, kerf and leftovers."""
    listed, undone = standing(events)
    sums: dict[tuple[int, str], Fraction] = {}
    for event in listed:
        if event.job is None or event.area is None or event.entry in undone:
            continue
        sign = (event.event in TAKEN) - (event.event in LEFT)
        key = (event.job, event.board or "")
        sums[key] = sums.get(key, Fraction(0)) + sign * read_exact(event.area)
    for (job, board), rest in sums.items():
        if rest:
            yield f"job {job}: {rest} sq mm of {board!r} were cut and became nothing"


def _clock(events: tuple[Event, ...]) -> Iterator[str]:
    from datetime import datetime

    latest: datetime | None = None
    for event in events:
        at = datetime.fromisoformat(event.at)
        if latest is not None and at < latest:
            yield f"the clock went back before event {event.seq} ({event.at}); the order is kept"
        latest = at
