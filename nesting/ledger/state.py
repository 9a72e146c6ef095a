"""What the events come to: every offcut, sheet, slip sheet and job as it stands.

The state is folded from the events one by one, and an event that cannot follow those before it is
refused by name. The views in the file compute the same in SQL; `check` holds the two equal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from fractions import Fraction

from ..errors import LedgerError
from ..lengths import ZERO, Length, Size
from ..stock import Grade
from .events import Event, read_exact
from .slips import MATS_A_SLIP, MOST_A_SLIP

__all__ = [
    "EVENTS",
    "NO_EDGES",
    "BoardFacts",
    "CannotFollow",
    "Job",
    "Kept",
    "State",
    "fold",
    "standing",
]

Edges = tuple[Length, Length, Length, Length]
NO_EDGES: Edges = (ZERO, ZERO, ZERO, ZERO)
RACK, ASIDE, CUT, LOST = "on the rack", "set aside", "cut", "lost"
CANCELLED = "cancelled"
_BORN_BY = ("added", "made", "drop-out")


class CannotFollow(LedgerError):
    """An event cannot follow those before it.

    Parameters
    ----------
    event
        The one that cannot.
    """

    def __init__(self, event: Event, why: str) -> None:
        self.event = event
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class Kept:
    """One offcut.

    Attributes
    ----------
    number
        What is pencilled on it.
    state
        ``on the rack``, ``set aside``, ``cut``, or how it went.
    grade, buffered
        None where it is not known.
    size
        As measured; the first number runs along the first number of the sheet's size, unless
        `directed` is False: then nobody knows.
    edges
        What its bad edges lose: left, right, top, bottom.
    since
        When it came, as the clock had it then, or as was said when it was taken in from elsewhere.
    born
        By which age is judged: the latest that the clock had ever said by then, or what was said,
        and then the event. A clock that goes back makes nothing older.
    job
        Which it came from; `aside` is the one that it is kept for or was cut for.
    amended
        The latest entry that changed what it is or whether it is there, other than for a job; 0
        where none did.
    earlier
        By what an order listed it before it came into the ledger, and `born_board` its board then;
        `earlier` is empty where none did.
    """

    number: int
    state: str
    board: str
    size: Size
    grade: Grade | None
    buffered: bool | None
    directed: bool
    edges: Edges
    place: str
    since: str
    born: tuple[datetime, int]
    came_by: str
    source: str
    job: int | None = None
    aside: int | None = None
    amended: int = 0
    earlier: str = ""
    born_board: str = ""

    @property
    def usable(self) -> Size | None:
        """Its size less its bad edges; None where nothing is left."""
        left, right, top, bottom = self.edges
        width = self.size.width - left - right
        height = self.size.height - top - bottom
        return Size(width, height) if width > ZERO and height > ZERO else None

    @property
    def here(self) -> bool:
        """Whether it is on the rack, set aside or not."""
        return self.state in {RACK, ASIDE}


@dataclass(frozen=True, slots=True)
class Job:
    """One job that was planned from the ledger.

    Attributes
    ----------
    state
        ``set aside``, ``cut`` or ``cancelled``.
    folder
        Where its plan was written, as an absolute path.
    plan
        What it takes and leaves, as it was planned.
    offcuts, sheets
        What is set aside for it: numbers, and how many of each board's size.
    windows, dropped
        For each label of its mats, how many windows are cut, and how many drop-outs are kept.
    entry
        Under which it was planned.
    made
        Whether pieces of it are booked; of a cancelled job, those that were cut before.
    """

    number: int
    name: str
    state: str
    folder: str
    plan: dict[str, object]
    planned: str
    offcuts: tuple[int, ...] = ()
    sheets: tuple[tuple[tuple[str, Size], int], ...] = ()
    entry: int = 0
    windows: tuple[tuple[str, int], ...] = ()
    dropped: tuple[tuple[str, int], ...] = ()
    made: bool = False


@dataclass(frozen=True, slots=True)
class BoardFacts:
    """What is known of a board, None where it is not."""

    grade: Grade | None = None
    buffered: bool | None = None
    directed: bool | None = None


@dataclass(slots=True)
class State:
    """The ledger as it stands; `apply` moves it on by one event.

    Attributes
    ----------
    scored
        How many windows were cut over the slip sheets of a board and size that are there.
    windows_a_slip
        How many windows are cut over one slip sheet before it is retired.
    accounts
        For each board, the exact square millimetres that came in and went out, by event.
    missed
        For each board and size of which a count found fewer sheets, the latest such entry.
    clock
        The latest that the clock ever said.
    void
        Offcuts whose coming was undone, and the entry that undid it.
    numbers, jobs_numbered
        The highest numbers ever given; none is given again, not even after an undo.
    """

    offcuts: dict[int, Kept] = field(default_factory=dict)
    sheets: Counter[tuple[str, Size]] = field(default_factory=Counter)
    slips: Counter[tuple[str, Size]] = field(default_factory=Counter)
    scored: Counter[tuple[str, Size]] = field(default_factory=Counter)
    windows_a_slip: int = MATS_A_SLIP
    jobs: dict[int, Job] = field(default_factory=dict)
    boards: dict[str, BoardFacts] = field(default_factory=dict)
    prices: dict[tuple[str, Size], Fraction] = field(default_factory=dict)
    accounts: dict[str, dict[str, Fraction]] = field(default_factory=dict)
    missed: dict[tuple[str, Size], int] = field(default_factory=dict)
    void: dict[int, int] = field(default_factory=dict)
    numbers: int = 0
    jobs_numbered: int = 0
    entry: int = 0
    last: Event | None = None
    clock: datetime | None = None

    def free_sheets(self, board: str, size: Size, job: int | None = None) -> int:
        """Return how many sheets on the rack are not set aside, other than for `job`."""
        kept = sum(
            dict(one.sheets).get((board, size), 0)
            for one in self.jobs.values()
            if one.state == ASIDE and one.number != job
        )
        return max(0, self.sheets[board, size] - kept)

    def kept(self, number: int) -> Kept:
        """Return an offcut by its number.

        Raises
        ------
        LedgerError
            If there is none.
        """
        if number in self.void and number not in self.offcuts:
            raise LedgerError(
                f"there is no offcut {number} in the ledger: its coming was undone by entry "
                f"{self.void[number]}; if the number is on a piece, rub it out"
            )
        if number not in self.offcuts:
            raise LedgerError(f"there is no offcut {number} in the ledger")
        return self.offcuts[number]

    def job(self, number: int) -> Job:
        """Return a job by its number.

        Raises
        ------
        LedgerError
            If there is none.
        """
        if number not in self.jobs:
            raise LedgerError(
                f"there is no job {number} in the ledger; `kerfwright ledger jobs --all` lists them"
            )
        return self.jobs[number]

    def apply(self, event: Event) -> None:
        """Move on by one event.

        Raises
        ------
        CannotFollow
            If it cannot follow what stands.
        """
        try:
            event.told()
            _RULES[event.event](self, event)
            self._account(event)
        except LedgerError as error:
            raise CannotFollow(event, str(error)) from error
        except (AssertionError, AttributeError, KeyError, TypeError, ValueError) as error:
            told = f"event {event.seq} ({event.event}) makes no sense"
            raise CannotFollow(event, told) from error
        self.note(event)

    def note(self, event: Event) -> None:
        """Take note of an event's numbers, whether it stands or is undone."""
        self.numbers = max(self.numbers, event.offcut or 0)
        self.jobs_numbered = max(self.jobs_numbered, event.job or 0)
        self.entry = max(self.entry, event.entry)
        self.last = event
        self.clock = _later(self.clock, event.at)

    def _account(self, event: Event) -> None:
        if event.area is not None:
            assert event.board is not None
            account = self.accounts.setdefault(event.board, {})
            area, what = read_exact(event.area), event.event
            if what == "drop-out" and "label" in event.told():
                area, what = -area, "pieces"  # it was part of a mat until now
            account[what] = account.get(what, Fraction(0)) + area


def standing(events: Iterable[Event]) -> tuple[tuple[Event, ...], frozenset[int]]:
    """Return all events, and the entries that were undone."""
    listed = tuple(events)
    return listed, frozenset(event.undoes for event in listed if event.undoes is not None)


def fold(events: Iterable[Event], without: frozenset[int] = frozenset()) -> State:
    """Return the state that events lead to.

    Parameters
    ----------
    without
        Entries that are left out as if they were undone too.

    Raises
    ------
    CannotFollow
        If one cannot follow those before it, naming it.
    """
    listed, undone = standing(events)
    undone |= without
    by = {event.undoes: event.entry for event in listed if event.undoes is not None}
    state = State()
    for event in listed:
        if event.entry in undone:
            state.note(event)
            if event.event in _BORN_BY and event.offcut is not None:
                state.void[event.offcut] = by.get(event.entry, 0)
        else:
            state.apply(event)
    return state


# --- the rules: one for each event --------------------------------------------------------------


def _edges_of(text: str | None, otherwise: Edges) -> Edges:
    if text is None:
        return otherwise
    left, right, top, bottom = (Length(read_exact(part)) for part in text.split())
    return left, right, top, bottom


def _grade(text: str | None, otherwise: Grade | None) -> Grade | None:
    if text is None:
        return otherwise
    return None if text == "unknown" else Grade(text)


def _flag(text: str | None, otherwise: bool | None) -> bool | None:
    if text is None:
        return otherwise
    return {"yes": True, "known": True, "no": False}.get(text)


def _later(clock: datetime | None, said: str) -> datetime | None:
    try:
        at = datetime.fromisoformat(said).astimezone()
    except (ValueError, OverflowError):  # `check` tells of an event without a date
        return clock
    return at if clock is None else max(clock, at)


def _age(state: State, event: Event) -> tuple[datetime, int]:
    since = event.told().get("since")
    if since is not None:
        return datetime.fromisoformat(str(since)).astimezone(), event.seq
    latest = _later(state.clock, event.at)
    return latest or datetime.fromtimestamp(0).astimezone(), event.seq


def _born(state: State, event: Event) -> None:
    assert event.offcut is not None
    assert event.board is not None
    if event.offcut in state.offcuts:
        raise LedgerError(f"offcut {event.offcut} is in the ledger already")
    state.offcuts[event.offcut] = Kept(
        number=event.offcut,
        state=RACK,
        board=event.board,
        size=event.size,
        grade=_grade(event.grade, None),
        buffered=_flag(event.buffered, None),
        directed=event.direction != "unknown",
        edges=_edges_of(event.edges, NO_EDGES),
        place=event.place or "",
        since=str(event.told().get("since", event.at)),
        born=_age(state, event),
        came_by=event.event,
        source=event.note or "",
        job=event.job,
        earlier=str(event.told().get("earlier", "")),
        born_board=event.board,
    )


def _dropped(state: State, event: Event) -> None:
    label = event.told().get("label")
    if label is not None:
        job = _cut_job(state, event)
        state.jobs[job.number] = replace(job, dropped=_more(job.dropped, str(label), 1))
    _born(state, event)


def _windows(state: State, event: Event) -> None:
    job = _cut_job(state, event)
    windows = _more(job.windows, event.note or "", _number(event))
    state.jobs[job.number] = replace(job, windows=windows)


def _cut_job(state: State, event: Event) -> Job:
    job = state.job(event.job or 0)
    if job.state != CUT and not (job.state == CANCELLED and job.made):
        raise LedgerError(f"event {event.seq}: job {job.number} is not cut, and so has no windows")
    return job


def _more(
    counts: tuple[tuple[str, int], ...], label: str, more: int
) -> tuple[tuple[str, int], ...]:
    sums = Counter(dict(counts))
    sums[label] += more
    return tuple(sums.items())


def _there(state: State, event: Event) -> Kept:
    kept = state.kept(event.offcut or 0)
    if not kept.here:
        back = f"; `kerfwright ledger correct {kept.number} --found` puts it back"
        hint = back if kept.state == LOST else ""
        raise LedgerError(f"offcut {kept.number} is not there: {kept.state}{hint}")
    return kept


def _as_it_was(kept: Kept, event: Event) -> None:
    """Refuse an event that moves another size or board than the offcut has."""
    if event.size != kept.size or event.board != kept.board:
        raise LedgerError(
            f"offcut {kept.number} was {event.size} of {event.board!r} when it was "
            f"{event.event}, and not {kept.size} of {kept.board!r}"
        )


def _gain(kept: Kept, after: Kept, event: Event) -> Fraction:
    """Return what the account of the event's board gains by a change."""
    if after.board != kept.board:
        return _area(after.size)
    if event.area is not None and event.width is None:
        return -_area(kept.size)  # its board is corrected: it leaves this account
    return _area(after.size) - _area(kept.size)


def _area(size: Size) -> Fraction:
    return size.width.mm * size.height.mm


def _amended(state: State, event: Event) -> None:
    kept = _there(state, event)
    after = replace(
        kept,
        board=event.board or kept.board,
        size=event.size if event.width is not None else kept.size,
        grade=_grade(event.grade, kept.grade),
        buffered=_flag(event.buffered, kept.buffered),
        directed=kept.directed if event.direction is None else event.direction == "known",
        edges=_edges_of(event.edges, kept.edges),
        place=kept.place if event.place is None else event.place,
        amended=kept.amended if event.event == "moved" else event.entry,
    )
    if read_exact(event.area or "0/1") != _gain(kept, after, event):
        raise LedgerError(
            f"offcut {kept.number} is {kept.size}, and had another size when it was {event.event}"
        )
    state.offcuts[kept.number] = after


def _set_aside(state: State, event: Event) -> None:
    kept, job = _there(state, event), state.job(event.job or 0)
    if kept.state != RACK:
        raise LedgerError(f"offcut {kept.number} is set aside for job {kept.aside} already")
    state.offcuts[kept.number] = replace(kept, state=ASIDE, aside=job.number)
    # What was lost and is found again is among them already.
    offcuts = tuple(dict.fromkeys((*job.offcuts, kept.number)))
    state.jobs[job.number] = replace(job, offcuts=offcuts)


def _let_go(state: State, event: Event) -> None:
    kept = state.kept(event.offcut or 0)
    if kept.state != ASIDE or kept.aside != event.job:
        raise LedgerError(f"offcut {kept.number} is not set aside for job {event.job}")
    job = state.job(event.job or 0)
    rest = tuple(number for number in job.offcuts if number != kept.number)
    state.offcuts[kept.number] = replace(kept, state=RACK, aside=None)
    state.jobs[job.number] = replace(job, offcuts=rest)


def _cut(state: State, event: Event) -> None:
    kept = state.kept(event.offcut or 0)
    if kept.state != ASIDE or kept.aside != event.job:
        raise LedgerError(f"offcut {kept.number} is not set aside for job {event.job}")
    _as_it_was(kept, event)
    state.offcuts[kept.number] = replace(kept, state=CUT)


def _gone(state: State, event: Event) -> None:
    kept = _there(state, event)
    if kept.state == ASIDE and event.event in {"used", "given away"}:
        raise LedgerError(
            f"offcut {kept.number} is set aside for job {kept.aside}; cancel it first"
        )
    _as_it_was(kept, event)
    state.offcuts[kept.number] = replace(kept, state=event.event, aside=None, amended=event.entry)


def _found(state: State, event: Event) -> None:
    kept = state.kept(event.offcut or 0)
    if kept.state != LOST:
        raise LedgerError(f"offcut {kept.number} is not lost: {kept.state}")
    _as_it_was(kept, event)
    place = kept.place if event.place is None else event.place
    state.offcuts[kept.number] = replace(
        kept, state=RACK, aside=None, place=place, amended=event.entry
    )


def _number(event: Event) -> int:
    if event.count is None or event.board is None:
        raise ValueError("states no count")
    return event.count


def _sheets(sign: int) -> Callable[[State, Event], None]:
    def rule(state: State, event: Event) -> None:
        key = (event.board or "", event.size)
        after = state.sheets[key] + sign * _number(event)
        if after < 0 or (event.event == "sheets out" and state.free_sheets(*key) < _number(event)):
            told = _short(state.free_sheets(*key), "free sheet", key)
            raise LedgerError(f"{told}{_held(state, key)}")
        if event.event == "sheets counted" and _number(event) < 0:
            state.missed[key] = event.entry
        state.sheets[key] = after

    return rule


def _held(state: State, key: tuple[str, Size]) -> str:
    """Say for which jobs the other sheets of that size are kept."""
    held = [
        f"{count} {'is' if count == 1 else 'are'} set aside for job {job.number}"
        for job in state.jobs.values()
        if job.state == ASIDE and (count := dict(job.sheets).get(key, 0))
    ]
    return f"; {', '.join(held)}" if held else ""


def _sheets_aside(state: State, event: Event) -> None:
    key, job = (event.board or "", event.size), state.job(event.job or 0)
    if state.free_sheets(*key) < _number(event):
        raise LedgerError(_short(state.free_sheets(*key), "free sheet", key))
    state.jobs[job.number] = replace(job, sheets=(*job.sheets, (key, _number(event))))


def _slips(sign: int) -> Callable[[State, Event], None]:
    def rule(state: State, event: Event) -> None:
        key = (event.board or "", event.size)
        after = state.slips[key] + sign * _number(event)
        if after < 0:
            raise LedgerError(_short(state.slips[key], "slip sheet", key))
        state.slips[key] = after

    return rule


def _short(count: int, what: str, key: tuple[str, Size]) -> str:
    """Say how few there are."""
    told = f"{what}{'' if count == 1 else 's'} of {key[0]!r}, {key[1]}"
    if not count:
        return f"there is no {what} of {key[0]!r}, {key[1]}"
    return f"there {'is' if count == 1 else 'are'} only {count} {told}"


def _scored(state: State, event: Event) -> None:
    key = (event.board or "", event.size)
    after = state.scored[key] + _number(event)
    if after < 0:
        raise LedgerError(f"slip sheets of {key[0]!r} that were scored then were retired since")
    state.scored[key] = after


def _slips_set(state: State, event: Event) -> None:
    if event.count is None or not 1 <= event.count <= MOST_A_SLIP:
        raise ValueError("no slip sheet serves so many windows")
    state.windows_a_slip = event.count


def _planned(state: State, event: Event) -> None:
    assert event.job is not None
    if event.job in state.jobs:
        raise LedgerError(f"job {event.job} is in the ledger already")
    state.jobs[event.job] = Job(
        event.job,
        event.note or "",
        ASIDE,
        event.place or "",
        event.told(),
        event.at,
        entry=event.entry,
    )


def _ended(outcome: str) -> Callable[[State, Event], None]:
    def rule(state: State, event: Event) -> None:
        job = state.job(event.job or 0)
        if job.state != ASIDE:
            raise LedgerError(f"job {job.number} is {job.state} already")
        state.jobs[job.number] = replace(job, state=outcome)

    return rule


def _described(state: State, event: Event) -> None:
    assert event.board is not None
    known = state.boards.get(event.board, BoardFacts())
    state.boards[event.board] = BoardFacts(
        _grade(event.grade, known.grade),
        _flag(event.buffered, known.buffered),
        _flag({"known": "yes", "unknown": "no"}.get(event.direction or ""), known.directed),
    )
    price = event.told().get("price")
    if event.width is not None and isinstance(price, str):
        state.prices[event.board, event.size] = read_exact(price)


def _noted(state: State, event: Event) -> None:
    """Change nothing but the accounts."""
    job = state.job(event.job or 0)
    if event.event == "pieces":
        if event.width is None or _number(event) < 1:
            raise ValueError("are no pieces")
        state.jobs[job.number] = replace(job, made=True)


def _nothing(state: State, event: Event) -> None:
    """Change nothing."""


_RULES: dict[str, Callable[[State, Event], None]] = {
    "board described": _described,
    **dict.fromkeys(("added", "made"), _born),
    "drop-out": _dropped,
    **dict.fromkeys(("measured", "moved", "corrected", "seen"), _amended),
    "set aside": _set_aside,
    "let go": _let_go,
    "cut": _cut,
    **dict.fromkeys(("used", "given away", "spoiled", "lost"), _gone),
    "found": _found,
    "sheets in": _sheets(1),
    "sheets out": _sheets(-1),
    "sheets counted": _sheets(1),
    "sheets set aside": _sheets_aside,
    "sheets cut": _sheets(-1),
    "slips in": _slips(1),
    "slips made": _slips(1),
    "slips retired": _slips(-1),
    "slips counted": _slips(1),
    "slips scored": _scored,
    "slips set": _slips_set,
    "windows cut": _windows,
    **dict.fromkeys(("pieces", "scrap", "trim", "kerf"), _noted),
    "job planned": _planned,
    "job cut": _ended(CUT),
    "job cancelled": _ended(CANCELLED),
    "undone": _nothing,
}

EVENTS = tuple(_RULES)
