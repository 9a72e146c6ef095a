"""What is done at the rack: adding, moving, measuring, counting, giving away."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

from ..errors import LedgerError
from .book import Entry, square
from .events import Event, area_text, length_text, sized
from .offer import own_key
from .sizes import refuse_tiny
from .slips import MOST_A_SLIP, retired, scored, worn_by
from .sources import begun_offcuts
from .state import NO_EDGES, BoardFacts, Kept, State

if TYPE_CHECKING:
    from fractions import Fraction

    from ..lengths import Length, Size
    from ..order import Order
    from ..stock import Grade
    from .book import Ledger

__all__ = [
    "WAYS_OUT",
    "Found",
    "Measured",
    "Stack",
    "Told",
    "add_offcuts",
    "add_own",
    "add_sheets",
    "add_slips",
    "add_stock",
    "correct",
    "count_rack",
    "count_sheets",
    "count_slips",
    "describe_board",
    "find_again",
    "move",
    "retire_slips",
    "set_slip_windows",
    "take",
    "take_sheets",
]

T = TypeVar("T")
# How an offcut or a sheet can go, other than by a job.
WAYS_OUT = ("used", "given away", "spoiled", "lost")


@dataclass(frozen=True, slots=True)
class Measured:
    """An offcut measured by hand, before it has a number.

    Attributes
    ----------
    grade, buffered
        None: as the ledger knows the board, else not known.
    unknown
        The grade is not known, whatever the board's name says.
    directed
        Whether the first number is known to run along the first number of the sheet's size.
    edges
        What its bad edges lose: left, right, top, bottom.
    dropped
        Whether it is the drop-out of a window, of a mat that is in no job of the ledger.
    unsure
        Whether it is buffered is not known, whatever is known of the board.
    earlier
        By what an order listed it, where one did; see `offer.own_key`.
    since
        When it came, as an ISO 8601 date and time with its offset; empty for now.
    """

    board: str
    size: Size
    grade: Grade | None = None
    buffered: bool | None = None
    unknown: bool = False
    directed: bool = True
    edges: tuple[Length, Length, Length, Length] = NO_EDGES
    place: str = ""
    note: str = ""
    dropped: bool = False
    earlier: str = ""
    unsure: bool = False
    since: str = ""


def flag_text(flag: bool | None) -> str:
    """Return ``yes``, ``no`` or ``unknown``."""
    return "unknown" if flag is None else "yes" if flag else "no"


def edges_text(edges: Sequence[Length]) -> str | None:
    """Return the four lengths, or None where no edge is bad."""
    return " ".join(map(length_text, edges)) if any(edges) else None


def add_offcuts(ledger: Ledger, offcuts: Sequence[Measured], source: str = "") -> Entry:
    """Put offcuts on the rack, each with the next free number, all in one entry.

    Parameters
    ----------
    source
        Where they come from, such as a file and its digest; one that was taken in before is
        refused.

    Raises
    ------
    LedgerError
        If an offcut is bad edges only, or `source` was taken in before.
    """
    return add_stock(ledger, offcuts, (), source)


@dataclass(frozen=True, slots=True)
class Stack:
    """Full sheets or slip sheets, which are counted and have no numbers.

    Attributes
    ----------
    count
        How many; of full sheets it may be zero, where only the price is told.
    slips
        Whether they are slip sheets.
    grade, buffered
        Of the board; None where it is not said.
    price
        What one full sheet costs.
    windows
        How many windows were cut over these slip sheets.
    """

    board: str
    size: Size
    count: int
    slips: bool = False
    grade: Grade | None = None
    buffered: bool | None = None
    price: Fraction | None = None
    windows: int = 0


@dataclass(frozen=True, slots=True)
class Told:
    """What is told of a board, None where it is not."""

    board: str
    facts: BoardFacts


def add_stock(
    ledger: Ledger,
    offcuts: Sequence[Measured],
    stacks: Sequence[Stack],
    source: str = "",
    *,
    boards: Sequence[Told] = (),
    again: bool = False,
) -> Entry:
    """Put offcuts, full sheets and slip sheets on the rack, all in one entry.

    Parameters
    ----------
    boards
        What is told of boards besides.
    source
        Where they come from, such as a file and its digest.
    again
        Whether a source that was taken in before is taken in once more.

    Raises
    ------
    LedgerError
        If a size is none that there is, an offcut is bad edges only, something is told of a board
        that the ledger knows otherwise, or `source` was taken in before.
    """

    def drafts(events: tuple[Event, ...], state: State) -> Iterator[Event]:
        # Here and not before, since another process may be taking in the same.
        if source and not again:
            _refuse_again(events, source)
        # First, since an offcut that does not say what it is is what its board is.
        of_stacks = [Told(one.board, BoardFacts(one.grade, one.buffered)) for one in stacks]
        yield from _in_turn(state, [*boards, *of_stacks], _described)
        yield from _in_turn(state, stacks, _priced)
        for number, offcut in enumerate(offcuts, state.numbers + 1):
            yield _added(state, offcut, number, source)
        for stack in stacks:
            yield from _stacked(stack, source)

    return ledger.record_seeing(drafts)


def _refuse_again(events: tuple[Event, ...], source: str) -> None:
    undone = {event.undoes for event in events}
    digest = f" {source.rpartition(' ')[2]}"  # a copy under another name is the same file
    for event in events:
        if event.entry not in undone and (event.note or "").endswith(digest):
            name = source.strip("[]").rpartition(" ")[0] or source
            raise LedgerError(
                f"{name}: the very same file was taken in as entry {event.entry} on "
                f"{event.at[:10]}; nothing was recorded; --again takes it in once more"
            )


def _in_turn(
    state: State, things: Iterable[T], events: Callable[[State, T], Iterator[Event]]
) -> Iterator[Event]:
    """Yield the events of each thing, once those before it are applied."""
    for thing in things:
        for event in events(state, thing):
            state.apply(event)
            yield event


def _described(state: State, told: Told) -> Iterator[Event]:
    known, new = state.boards.get(told.board, BoardFacts()), told.facts
    pairs = (
        (new.grade, known.grade), (new.buffered, known.buffered), (new.directed, known.directed),
    )  # fmt: skip
    if any(asked is not None and there not in (None, asked) for asked, there in pairs):
        grain = "" if new.directed is None else f", and grain {flag_text(known.directed)}"
        raise LedgerError(
            f"the ledger knows {told.board!r} otherwise: its grade is "
            f"{known.grade or 'unknown'}, and buffered {flag_text(known.buffered)}{grain}"
        )
    grade = new.grade if known.grade is None else None
    buffered = new.buffered if known.buffered is None else None
    directed = new.directed if known.directed is None else None
    if BoardFacts(grade, buffered, directed) != BoardFacts():
        yield Event(
            "board described",
            board=told.board,
            grade=None if grade is None else grade.value,
            buffered=None if buffered is None else flag_text(buffered),
            direction=None if directed is None else "known" if directed else "unknown",
        )


def _priced(state: State, stack: Stack) -> Iterator[Event]:
    if stack.price is not None and state.prices.get((stack.board, stack.size)) != stack.price:
        yield price_event(stack.board, stack.size, stack.price)


def _stacked(stack: Stack, source: str) -> Iterator[Event]:
    if not stack.count:
        return
    refuse_tiny(stack.size, "a slip sheet" if stack.slips else "a sheet")
    what = "slips in" if stack.slips else "sheets in"
    event = Event(what, board=stack.board, count=stack.count, note=source or None)
    yield sized(event, stack.size, stack.count)
    if stack.windows:
        yield scored((stack.board, stack.size), stack.windows)


def _added(state: State, offcut: Measured, number: int, source: str) -> Event:
    known = state.boards.get(offcut.board, BoardFacts())
    grade = None if offcut.unknown else offcut.grade or known.grade
    buffered = offcut.buffered
    if buffered is None and not (offcut.unknown or offcut.unsure):
        buffered = known.buffered
    refuse_tiny(offcut.size, "an offcut")
    _refuse_no_rest(offcut.size, offcut.edges)
    told = {"earlier": offcut.earlier, "since": offcut.since}
    told = {name: text for name, text in told.items() if text}
    event = Event(
        "drop-out" if offcut.dropped else "added",
        offcut=number,
        board=offcut.board,
        grade="unknown" if grade is None else grade.value,
        buffered=flag_text(buffered),
        direction="known" if offcut.directed else "unknown",
        edges=edges_text(offcut.edges),
        place=offcut.place,
        note=" ".join(part for part in (offcut.note or _by_hand(offcut), source) if part),
        details=json.dumps(told) if told else None,
    )
    return sized(event, offcut.size)


def add_own(ledger: Ledger, order: Order, file: str) -> Entry:
    """Put the offcuts that an order itself lists on the rack, but for those that are known already.

    Parameters
    ----------
    file
        Where they were listed, for their source.
    """
    boards = {board.name: board for board in order.boards}

    def drafts(state: State) -> Iterator[Event]:
        known = {(kept.born_board, kept.earlier) for kept in state.offcuts.values()}
        number = state.numbers
        for offcut in order.offcuts:
            key, board = own_key(offcut), boards[offcut.board]
            if (offcut.board, key) not in known:
                number += 1
                note = f"numbered {offcut.id} in {file}"
                one = Measured(
                    board.name, offcut.size, board.grade, board.buffered, note=note, earlier=key
                )
                yield _added(state, one, number, "")

    return ledger.record(drafts)


def _by_hand(offcut: Measured) -> str:
    return "a drop-out, measured by hand" if offcut.dropped else "measured by hand"


def move(ledger: Ledger, numbers: Sequence[int], place: str) -> Entry:
    """Put offcuts somewhere else; those that are there already are left out."""
    place = " ".join(place.split())
    return ledger.record(
        lambda state: [
            Event("moved", offcut=number, place=place)
            for number in dict.fromkeys(numbers)
            if state.kept(number).place != place or not state.kept(number).here
        ]
    )


def take(ledger: Ledger, numbers: Sequence[int], way: str, note: str = "") -> Entry:
    """Take offcuts off the rack other than by a job: one of `WAYS_OUT`."""
    return ledger.record(lambda state: [_gone(state.kept(n), way, note) for n in numbers])


def _gone(kept: Kept, way: str, note: str) -> Event:
    event = Event(way, offcut=kept.number, board=kept.board, note=note or None)
    return sized(event, kept.size)


def find_again(ledger: Ledger, number: int, place: str | None = None) -> Entry:
    """Put a lost offcut back on the rack; one that a job has begun is set aside for it again."""
    return ledger.record(lambda state: _back(state, state.kept(number), place))


def _back(state: State, kept: Kept, place: str | None) -> Iterator[Event]:
    yield sized(Event("found", offcut=kept.number, board=kept.board, place=place), kept.size)
    job = begun_offcuts(state).get(kept.number)
    if job is not None:
        yield Event("set aside", job=job, offcut=kept.number)


def correct(
    ledger: Ledger,
    number: int,
    *,
    size: Size | None = None,
    board: str | None = None,
    grade: str | None = None,
    buffered: bool | None = None,
    directed: bool | None = None,
    edges: tuple[Length, Length, Length, Length] | None = None,
    note: str = "",
) -> Entry:
    """Write down what an offcut is after all; what is None stays as it was.

    Parameters
    ----------
    board
        Its grade, and whether it is buffered, are then as the ledger knows that board, or unknown,
        unless they are said too: what was known was known of another board.
    grade
        A grade's name, or ``unknown``.

    Raises
    ------
    LedgerError
        If there is no such offcut, or its bad edges would leave nothing of it.
    """
    if size is not None:
        refuse_tiny(size, "an offcut")

    def drafts(state: State) -> Iterator[Event]:
        kept = state.kept(number)
        what = "measured" if size is not None and board is None else "corrected"
        event = Event(
            what,
            offcut=number,
            board=kept.board,
            grade=grade,
            buffered=None if buffered is None else flag_text(buffered),
            direction=None if directed is None else "known" if directed else "unknown",
            edges=None if edges is None else " ".join(map(length_text, edges)),
            note=note or None,
        )
        if board is not None and board != kept.board:
            event = _as_its_board(state, board, event)
        if size is not None or edges is not None:
            _refuse_no_rest(size or kept.size, edges or kept.edges, f"offcut {number}, ")
        if _is_new(kept, event, size or kept.size, board or kept.board):
            yield from _changed(kept, event, size or kept.size, board or kept.board)

    return ledger.record(drafts)


def _as_its_board(state: State, board: str, event: Event) -> Event:
    known = state.boards.get(board, BoardFacts())
    grade = "unknown" if known.grade is None else known.grade.value
    return replace(
        event, grade=event.grade or grade, buffered=event.buffered or flag_text(known.buffered)
    )


def _refuse_no_rest(size: Size, edges: Sequence[Length], what: str = "") -> None:
    """Refuse bad edges that leave nothing."""
    left, right, top, bottom = edges
    if left + right >= size.width or top + bottom >= size.height:
        raise LedgerError(
            f"the bad edges leave nothing of {what or 'the offcut, '}{size}; nothing was recorded"
        )


def _is_new(kept: Kept, event: Event, size: Size, board: str) -> bool:
    """Return whether a correction says anything that is not known; of what is gone, always."""
    told = (
        (event.grade, kept.grade.value if kept.grade else "unknown"),
        (event.buffered, flag_text(kept.buffered)),
        (event.direction, "known" if kept.directed else "unknown"),
        (event.edges, " ".join(map(length_text, kept.edges))),
    )
    same = all(new is None or new == known for new, known in told)
    return not (same and size == kept.size and board == kept.board and kept.here)


def _changed(kept: Kept, event: Event, size: Size, board: str) -> Iterator[Event]:
    """Yield the change, with what its board gains or loses by it."""
    if board != kept.board:
        yield Event(
            "corrected", offcut=kept.number, board=kept.board, area=area_text(-square(kept.size))
        )
        yield sized(replace(event, board=board), size)
        return
    gain = square(size) - square(kept.size)
    resized = sized(event, size) if size != kept.size else event
    yield replace(resized, area=area_text(gain) if gain else None)


@dataclass(frozen=True, slots=True)
class Found:
    """What a count of the rack found of one offcut; `size` and `place` where they differ."""

    number: int
    size: Size | None = None
    place: str | None = None


def count_rack(ledger: Ledger, found: Iterable[Found], *, place: str | None = None) -> Entry:
    """Reconcile the ledger with what is there.

    What is there but was lost is found, what is not there is lost, what has another size or place
    is written down, and the rest was seen. What a job has begun lies on the bench, and is not
    missed on the rack.

    Parameters
    ----------
    place
        Only this place was counted: what was seen is there, and only offcuts of it can be missing.
    """
    place = None if place is None else " ".join(place.split())
    seen: dict[int, Found] = {}
    for one in found:
        if seen.setdefault(one.number, one) != one:
            raise LedgerError(
                f"offcut {one.number} was counted twice, with another size or place; look again"
            )
    for one in seen.values():
        if one.size is not None:
            refuse_tiny(one.size, f"offcut {one.number}")

    def drafts(state: State) -> Iterator[Event]:
        for one in seen.values():
            yield from _reconciled(state, state.kept(one.number), one, one.place or place)
        begun = begun_offcuts(state)
        for kept in state.offcuts.values():
            counted = (place is None or kept.place == place) and kept.number not in begun
            if kept.here and counted and kept.number not in seen:
                yield _gone(kept, "lost", "not there when the rack was counted")

    return ledger.record(drafts)


def _reconciled(state: State, kept: Kept, one: Found, place: str | None) -> Iterator[Event]:
    if kept.state == "lost":
        yield from _back(state, kept, place)
    elif not kept.here:
        raise LedgerError(f"offcut {kept.number} cannot be there: {kept.state}")
    if one.size is not None:
        _refuse_no_rest(one.size, kept.edges, f"offcut {kept.number}, ")
    event = Event("seen", offcut=kept.number, board=kept.board, place=place)
    yield from _changed(kept, event, one.size or kept.size, kept.board)


def add_sheets(
    ledger: Ledger, board: str, size: Size, count: int, *, price: Fraction | None = None
) -> Entry:
    """Put full sheets on the rack."""
    return add_stock(ledger, (), (Stack(board, size, count, price=price),))


def price_event(board: str, size: Size, price: Fraction) -> Event:
    """Return the event that says what one sheet costs."""
    event = Event("board described", board=board, details=json.dumps({"price": area_text(price)}))
    return replace(sized(event, size), area=None)


def take_sheets(ledger: Ledger, board: str, size: Size, count: int, note: str) -> Entry:
    """Take full sheets off the rack other than by a job."""
    event = Event("sheets out", board=board, count=count, note=note)
    return ledger.record(lambda _: (sized(event, size, count),))


def count_sheets(ledger: Ledger, board: str, size: Size, there: int) -> Entry:
    """Write down how many full sheets there are after all."""
    if there:
        refuse_tiny(size, "a sheet")

    def drafts(state: State) -> tuple[Event, ...]:
        key, what = (board, size), "sheets counted"
        # That there is none of a size never heard of is news, too: an order may count on some.
        if not there and key not in state.sheets:
            return (sized(Event(what, board=board, count=0), size, 0),)
        return _difference(what, board, size, there - state.sheets[key])

    return ledger.record(drafts)


def add_slips(ledger: Ledger, board: str, size: Size, count: int) -> Entry:
    """Put slip sheets with the others."""
    return add_stock(ledger, (), (Stack(board, size, count, slips=True),))


def retire_slips(ledger: Ledger, board: str, size: Size, count: int) -> Entry:
    """Take out slip sheets that are scored too often, and forget the windows cut over them."""
    return ledger.record(lambda state: retired(state, (board, size), count))


def count_slips(ledger: Ledger, board: str, size: Size, there: int) -> Entry:
    """Write down how many slip sheets there are after all."""
    if there:
        refuse_tiny(size, "a slip sheet")

    def drafts(state: State) -> Iterator[Event]:
        key = (board, size)
        yield from _difference("slips counted", board, size, there - state.slips[key])
        over = state.scored[key] - there * state.windows_a_slip
        if over > 0:
            yield scored(key, -over)

    return ledger.record(drafts)


def set_slip_windows(ledger: Ledger, windows: int) -> Entry:
    """Set how many windows are cut over one slip sheet before it is retired, from now on.

    Those on hand that are worn by that are retired at once.

    Raises
    ------
    LedgerError
        If it is no number from 1 to `slips.MOST_A_SLIP`.
    """
    if not 1 <= windows <= MOST_A_SLIP:
        raise LedgerError(
            f"{windows} windows are not cut over one slip sheet; say a number from 1 to "
            f"{MOST_A_SLIP:,}"
        )

    def drafts(state: State) -> Iterator[Event]:
        if windows == state.windows_a_slip:
            return
        worn = {key: worn_by(state, key, windows) for key in state.slips}
        event = Event("slips set", count=windows)
        state.apply(event)
        yield event
        for key, (count, cut) in worn.items():
            if count:
                yield from _worn(state, key, count, cut)

    return ledger.record(drafts)


def _worn(state: State, key: tuple[str, Size], count: int, windows: int) -> Iterator[Event]:
    """Yield that worn slip sheets go, with the windows that were cut over them."""
    going, *less = retired(state, key, count, windows=windows)
    note = f"worn, since one serves {state.windows_a_slip} windows"
    yield from (replace(going, note=note), *less)


def _difference(what: str, board: str, size: Size, more: int) -> tuple[Event, ...]:
    return (sized(Event(what, board=board, count=more), size, more),) if more else ()


def describe_board(
    ledger: Ledger,
    board: str,
    *,
    grade: Grade | None = None,
    buffered: bool | None = None,
    directed: bool | None = None,
    prices: Mapping[Size, Fraction] | None = None,
) -> Entry:
    """Write down what a board is, and what its sheets cost; what is None stays as it was.

    Parameters
    ----------
    directed
        Whether it has a grain, a pattern or another direction, so that no piece of it is turned.
    """

    def drafts(state: State) -> Iterator[Event]:
        known = state.boards.get(board, BoardFacts())
        after = BoardFacts(
            grade or known.grade, _or(buffered, known.buffered), _or(directed, known.directed)
        )
        if after != known:
            yield Event(
                "board described",
                board=board,
                grade=None if grade is None else grade.value,
                buffered=None if buffered is None else flag_text(buffered),
                direction=None if directed is None else "known" if directed else "unknown",
            )
        for size, price in (prices or {}).items():
            if state.prices.get((board, size)) != price:
                yield price_event(board, size, price)

    return ledger.record(drafts)


def _or(flag: bool | None, otherwise: bool | None) -> bool | None:
    return otherwise if flag is None else flag
