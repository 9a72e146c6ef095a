"""Slip sheets: which ones serve a window cut, how far they are worn, and when they are retired.

They have no numbers; they are counted by board and size, and so are the windows cut over them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..plan.leftovers import SLIP_SHEET_WIDTH
from .events import Event, sized

if TYPE_CHECKING:
    from ..lengths import Length, Size, Unit
    from .state import State

__all__ = [
    "MATS_A_SLIP",
    "MOST_A_SLIP",
    "Serving",
    "overworn",
    "retired",
    "scored",
    "serves",
    "serving",
    "wear",
    "worn_by",
]

# How many windows are cut over one slip sheet, shifted between cuts, before it is scored too
# often, where the ledger has no setting of its own. Common practice, no source: what is published
# says to shift or replace it once scored, and gives no count.
MATS_A_SLIP = 10
MOST_A_SLIP = 1000  # not a trade limit: a slip of the pen
Key = tuple[str, "Size"]


@dataclass(frozen=True, slots=True)
class Serving:
    """The slip sheets on hand that serve a job.

    Attributes
    ----------
    count
        How many.
    windows
        How many windows they are still good for, together.
    each
        For how many windows one serves when it is new.
    others
        Those on hand that do not serve: too short, too narrow, or of no mat board.
    """

    count: int
    windows: int
    others: int
    each: int = MATS_A_SLIP


def serves(size: Size, longest: Length, unit: Unit) -> bool:
    """Return whether a slip sheet is wide enough and as long as the longest mat.

    A window cut is shorter than the mat that it is in, so that this one is longer than the cut.

    Parameters
    ----------
    unit
        The job's: the least width is 3 in or 75 mm, as for the slip sheets that a plan makes.
    """
    short, long = sorted((size.width, size.height))
    return short >= SLIP_SHEET_WIDTH[unit] and long >= longest


def _of_mat_board(state: State, board: str) -> bool:
    known = state.boards.get(board)
    return known is None or known.grade is None or known.grade.is_mat_board


def serving(state: State, longest: Length, unit: Unit) -> Serving:
    """Return what there is to lie under the windows of a job, its longest mat given."""
    count = windows = others = 0
    for key, there in state.slips.items():
        if serves(key[1], longest, unit) and _of_mat_board(state, key[0]):
            good = _good_for(state, key)
            count += there if good else 0
            windows += good
        else:
            others += there
    return Serving(count, windows, others, state.windows_a_slip)


def _good_for(state: State, key: Key) -> int:
    return max(0, state.slips[key] * state.windows_a_slip - state.scored[key])


def wear(
    state: State, job: int, windows: Iterable[tuple[Length, int]], unit: Unit
) -> Iterator[Event]:
    """Yield which slip sheets lie under the windows of a job, and which are retired by that.

    Those in use already go first, then the shortest that serve. Windows for which there is none
    in the ledger wear none. `state` is moved on by each event.

    Parameters
    ----------
    windows
        For each line of mats its longer side, and how many windows are cut.
    """
    # The longest first, since fewer slip sheets serve them.
    for longest, wanted in sorted(windows, reverse=True):
        left = wanted
        while left and (key := _next(state, longest, unit)) is not None:
            cut = min(left, _good_for(state, key))
            left -= cut
            yield from _moved(state, scored(key, cut, job))
            yield from worn_out(state, key, job)


def worn_out(state: State, key: Key, job: int | None = None) -> Iterator[Event]:
    """Yield that those slip sheets are retired over which enough windows were cut.

    `state` is moved on by each event.
    """
    worn = min(state.scored[key] // state.windows_a_slip, state.slips[key])
    if worn:
        yield from _moved(state, *retired(state, key, worn, job, worn=True))


def worn_by(state: State, key: Key, windows: int) -> tuple[int, int]:
    """Return how many slip sheets are worn where each serves so many windows, and their windows.

    Those in use lie under a window first, so that all windows but those of the last one are as
    many a slip sheet as the setting had it.
    """
    full, rest = divmod(state.scored[key], state.windows_a_slip)
    worn, cut = full, full * state.windows_a_slip
    if rest >= windows:
        worn, cut = worn + 1, cut + rest
    return min(worn, state.slips[key]), cut


def overworn(state: State) -> Iterator[tuple[Key, int]]:
    """Yield the slip sheets over which more windows were cut than they serve, and how many."""
    for key, windows in state.scored.items():
        if windows > state.slips[key] * state.windows_a_slip:
            yield key, windows


def _next(state: State, longest: Length, unit: Unit) -> Key | None:
    found = [
        key
        for key in state.slips
        if serves(key[1], longest, unit) and _of_mat_board(state, key[0]) and _good_for(state, key)
    ]
    return min(found, key=lambda key: (not state.scored[key], *_by_length(key)), default=None)


def _by_length(key: Key) -> tuple[Length, Length, str]:
    short, long = sorted((key[1].width, key[1].height))
    return long, short, key[0]


def _moved(state: State, *events: Event) -> Iterator[Event]:
    for event in events:
        state.apply(event)
        yield event


def scored(key: Key, windows: int, job: int | None = None) -> Event:
    """Return the event that so many windows were cut over slip sheets; below zero, forgotten."""
    board, size = key
    event = Event("slips scored", job=job, board=board, count=windows)
    return replace(sized(event, size), area=None)


def retired(
    state: State,
    key: Key,
    count: int,
    job: int | None = None,
    *,
    worn: bool = False,
    windows: int | None = None,
) -> tuple[Event, ...]:
    """Return the events that take slip sheets out, and with them the windows cut over them.

    Parameters
    ----------
    windows
        How many these are; where it is not said, as many as they serve, if so many were cut.
    """
    board, size = key
    each = state.windows_a_slip
    note = f"scored by {each} windows each" if worn else None
    event = Event("slips retired", job=job, board=board, count=count, note=note)
    forgotten = min(state.scored[key], count * each if windows is None else windows)
    # What is left cannot have been scored more often than it serves, nor what is not there at all.
    most = max(0, (state.slips[key] - count) * each)
    forgotten = max(forgotten, state.scored[key] - most)
    less = (scored(key, -forgotten, job),) if forgotten else ()
    return (sized(event, size, count), *less)
