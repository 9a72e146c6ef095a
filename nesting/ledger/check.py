"""Whether the ledger is whole: its chain, its sums, and its views against the events."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from ..errors import LedgerError
from ..lengths import Length, Size
from .book import broken_links, cut_short, square
from .events import Event, read_exact
from .form import differences, strangers
from .rack import flag_text
from .schema import WITH_HOLDER, WITH_SINCE, WITH_VIEWS, WITH_WINDOWS
from .slips import overworn
from .state import ASIDE, CannotFollow, Kept, State, fold
from .store import applied, has_log, opened, read_ends, read_events, reading
from .trace import Trace, cut_up, traced
from .windows import drop_out_faults

if TYPE_CHECKING:
    import sqlite3

    from .book import Ledger

__all__ = ["Balance", "Checked", "balances", "check_ledger", "check_within", "mark_of"]

IN = ("sheets in", "added", "slips in", "found", "drop-out")
CHANGED = ("measured", "corrected", "seen", "sheets counted", "slips counted")
OUT = (
    "pieces", "kerf", "scrap", "trim", "slips retired",
    "used", "given away", "spoiled", "lost", "sheets out",
)  # fmt: skip
SQUARE_INCH = Fraction(254, 10) ** 2  # in square millimetres
_LOGGED = (
    "another program keeps a log beside the file (write-ahead logging), which a copy of the file "
    "alone would lack; the next thing recorded here puts that back, once no other program has the "
    "file open"
)
MARKED = 12  # how much of a digest a mark shows; it is to be written down by hand


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
    traces
        For each board, every item of area, where it came from and where it is now.
    mark
        The last event and the beginning of its digest, ``57-3f9a12c40d21``. Kept elsewhere, on
        paper say, it shows later whether anything up to here was changed.
    """

    events: int
    balances: tuple[Balance, ...]
    faults: tuple[str, ...]
    remarks: tuple[str, ...]
    traces: tuple[Trace, ...] = ()
    mark: str = ""


def check_ledger(ledger: Ledger, *, mark: str | None = None) -> Checked:
    """Check the ledger from its first event to its last.

    Parameters
    ----------
    mark
        What an earlier check gave as its mark; the ledger must still go through it.

    Raises
    ------
    LedgerError
        If the file cannot be read as a ledger at all, or `mark` is none.
    """
    wanted = None if mark is None else _read_mark(mark)
    with opened(ledger.path) as connection, reading(connection):
        return check_within(connection, wanted)


def check_within(connection: sqlite3.Connection, wanted: tuple[int, str] | None = None) -> Checked:
    """Check a ledger as it stands within a transaction; see `check_ledger`."""
    logged = has_log(connection)
    version = applied(connection)
    bent = tuple(differences(connection, version))
    if "the table events was taken out" in bent:
        return Checked(0, (), bent, ())
    events = tuple(read_events(connection))
    faults = [
        *_damage(connection),
        *bent,
        *broken_links(events),
        *cut_short(events, read_ends(connection)),
        *_unmarked(events, wanted),
    ]
    remarks = [*strangers(connection, version)]
    if logged:
        remarks.append(_LOGGED)
    try:
        state = fold(events)
    except CannotFollow as error:
        told = f"event {error.event.seq} ({error.event.event}) cannot be: {error}"
        return Checked(len(events), (), (*faults, told), ())
    if not bent and version >= WITH_VIEWS:
        faults += _views(connection, state, version)
    made, traces = balances(state), traced(events, state)
    faults += [*_areas(events), *_layouts(events), *_unbalanced(made), *_untraced(made, traces)]
    faults += [*_undated(events), *drop_out_faults(events)]
    remarks += _overworn(state)
    if not faults:
        remarks += _clock(events)
    return Checked(len(events), made, tuple(faults), tuple(remarks), traces, mark_of(events))


def mark_of(events: tuple[Event, ...]) -> str:
    """Return the mark of the last event; see `Checked`."""
    return f"{events[-1].seq}-{events[-1].digest[:MARKED]}" if events else "0"


def _read_mark(text: str) -> tuple[int, str]:
    number, _, digest = text.strip().partition("-")
    right = number.isascii() and number.isdecimal() and set(digest) <= set("0123456789abcdef")
    if not right or bool(int(number)) != bool(digest):
        raise LedgerError(
            f"{text!r} is no mark; it was printed by an earlier check, such as 57-3f9a12c40d21"
        )
    return int(number), digest


def _unmarked(events: tuple[Event, ...], wanted: tuple[int, str] | None) -> Iterator[str]:
    """Yield where the ledger does not go through an event that was marked before."""
    if wanted is None or not wanted[0]:
        return
    number, digest = wanted
    if number > len(events):
        yield f"the mark names event {number}, and there are only {len(events)}"
    elif not events[number - 1].digest.startswith(digest):
        yield f"event {number} is not the one that was marked: it, or one before it, was changed"


def _damage(connection: sqlite3.Connection) -> Iterator[str]:
    for (said,) in connection.execute("PRAGMA integrity_check"):
        if said != "ok":
            yield f"the file is damaged: {said}"


def _views(connection: sqlite3.Connection, state: State, version: int) -> Iterator[str]:
    """Yield where the views, which compute the state in SQL, say otherwise than the events."""
    yield from _offcuts_view(connection, state, version)
    yield from _counts_views(connection, state, version)
    rows = connection.execute("SELECT job, name, state, planned_at, folder FROM jobs")
    found = {row[0]: tuple(row[1:]) for row in rows}
    ours = {n: (j.name, j.state, j.planned, j.folder) for n, j in state.jobs.items()}
    for number in sorted({*found, *ours}):
        if found.get(number) != ours.get(number):
            yield f"the view of job {number} is not what its events say"


def _offcuts_view(connection: sqlite3.Connection, state: State, version: int) -> Iterator[str]:
    since = "since" if version >= WITH_SINCE else "NULL"
    for_job = "for_job" if version >= WITH_HOLDER else "NULL"
    query = (
        "SELECT number, state, board, width, height, coalesce(grade, 'unknown'),"  # noqa: S608  our own names
        " coalesce(buffered, 'unknown'), coalesce(direction, 'known'), edges, coalesce(place, ''),"
        f" came_by, from_job, coalesce(source, ''), {since}, {for_job} FROM offcuts"
    )
    found = {row[0]: tuple(row[1:]) for row in connection.execute(query)}
    for number, kept in state.offcuts.items():
        row = found.pop(number, None)
        ours = _shown(kept)
        if version < WITH_HOLDER:
            ours = (*ours[:-1], None)
        if version < WITH_SINCE:
            ours = (*ours[:-2], None, None)
        if row is None or _read(row) != ours:
            yield f"the view of offcut {number} is not what its events say"
    for number in found:
        yield f"the view has an offcut {number} that no event made"


def _shown(kept: Kept) -> tuple[object, ...]:
    """Return an offcut as its row in the view ought to be."""
    return (
        kept.state, kept.board, kept.size.width.mm, kept.size.height.mm,
        "unknown" if kept.grade is None else kept.grade.value, flag_text(kept.buffered),
        "known" if kept.directed else "unknown", tuple(edge.mm for edge in kept.edges), kept.place,
        kept.came_by, kept.job, kept.source, kept.since, kept.aside,
    )  # fmt: skip


def _read(row: tuple[Any, ...]) -> tuple[object, ...]:
    """Return a row of the view with its numbers read."""
    edges = tuple(read_exact(part) for part in (row[7] or "0/1 0/1 0/1 0/1").split())
    return (*row[:2], read_exact(row[2]), read_exact(row[3]), *row[4:7], edges, *row[8:])


def _counts_views(connection: sqlite3.Connection, state: State, version: int) -> Iterator[str]:
    aside: Counter[tuple[str, Size]] = Counter()
    for job in state.jobs.values():
        if job.state == ASIDE:
            aside.update(dict(job.sheets))
    windows = "windows" if version >= WITH_WINDOWS else "0"
    nothing: Counter[tuple[str, Size]] = Counter()
    for view, more, counts, others in (
        ("sheets", "set_aside", state.sheets, aside),
        ("slip_sheets", windows, state.slips, state.scored if windows != "0" else nothing),
    ):
        query = f"SELECT board, width, height, count, {more} FROM {view}"  # noqa: S608  our own names
        rows = {
            (board, read_exact(width), read_exact(height)): (count or 0, other or 0)
            for board, width, height, count, other in connection.execute(query)
        }
        ours = {
            (board, size.width.mm, size.height.mm): (counts[board, size], others[board, size])
            for board, size in {**counts, **others}
        }
        for one in sorted({*rows, *ours}):
            if rows.get(one, (0, 0)) != ours.get(one, (0, 0)):
                size = Size(Length(one[1]), Length(one[2]))
                yield f"the view {view} is not what the events say of {one[0]!r}, {size}"


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
    unit = _unit([*account.values(), *things])

    def rows(names: Iterable[str]) -> tuple[tuple[str, int], ...]:
        return tuple((name, int(account[name] / unit)) for name in names if account.get(name))

    sheets, slips, offcuts = (int(area / unit) for area in things)
    return Balance(board, unit, rows(IN), rows(CHANGED), rows(OUT), sheets, offcuts, slips)


def _unit(areas: Iterable[Fraction]) -> Fraction:
    """Return a small area that measures all of `areas` in whole numbers.

    The largest square of a binary part of an inch that does, else of a decimal part of a
    millimetre, else whatever does.
    """
    listed = list(areas)
    squares = [SQUARE_INCH / Fraction(4) ** n for n in range(7)]
    squares += [Fraction(1, 100) ** n for n in range(3)]
    for unit in squares:
        if all((area / unit).denominator == 1 for area in listed):
            return unit
    return Fraction(1, math.lcm(*(area.denominator for area in listed)))


def _unbalanced(made: Iterable[Balance]) -> Iterator[str]:
    for one in made:
        if one.difference:
            yield f"{one.board!r}: {one.difference} of {one.unit} sq mm cannot be accounted for"


def _untraced(made: Iterable[Balance], traces: Iterable[Trace]) -> Iterator[str]:
    """Yield where what is traced item by item is not what the accounts say."""
    by_board = {trace.board: trace for trace in traces}
    for one in made:
        trace = by_board.get(one.board)
        there = (one.sheets + one.offcuts + one.slips) * one.unit
        if trace is None or trace.difference or trace.there != there:
            yield f"{one.board!r}: what is traced to where it is now is not what the accounts say"


def _areas(events: Iterable[Event]) -> Iterator[str]:
    """Yield every event whose area is not that of what it moves."""
    for event in events:
        if event.area is None or event.width is None or event.event in CHANGED[:3]:
            continue
        count = 1 if event.count is None else event.count
        try:
            right = read_exact(event.area) == square(event.size) * count
        except ValueError:
            right = False
        if not right:
            yield f"event {event.seq} states an area that is not its size times its count"


def _layouts(events: tuple[Event, ...]) -> Iterator[str]:
    """Yield every layout of a job whose sources are not its pieces, kerf and leftovers."""
    for one in cut_up(events):
        if one.rest:
            layout = f", layout {one.layout}" if one.layout else ""
            what = f"{one.rest} sq mm of {one.board!r} were cut and became nothing"
            yield f"job {one.job}{layout}: {what}"


def _overworn(state: State) -> Iterator[str]:
    for (board, size), windows in overworn(state):
        there = state.slips[board, size]
        good = f"{there or 'none'} {'are' if there > 1 else 'is'} there"
        yield (
            f"{windows} windows were cut over slip sheets of {board!r}, {size}: {good}, and one "
            f"serves {state.windows_a_slip}; they are worn, and serve no more"
        )


def _undated(events: tuple[Event, ...]) -> Iterator[str]:
    for event in events:
        try:
            datetime.fromisoformat(event.at).astimezone()
        except (ValueError, OverflowError):
            yield f"event {event.seq} has no date"


def _clock(events: tuple[Event, ...]) -> Iterator[str]:
    latest: datetime | None = None
    for event in events:
        at = datetime.fromisoformat(event.at).astimezone()
        if latest is not None and at < latest:
            yield f"the clock went back before event {event.seq} ({event.at}); the order is kept"
        latest = at
