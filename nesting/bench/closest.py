"""Among orders that ask equally much, the one whose pieces come out closest to their sizes.

The end from which a cut is set decides what its halves come from: one is set by the stop, the
other is what is left, and adds what its part was off. For a sequence of settings the best ends are
found by dynamic programming over the trees, as in `ease`, with what a part may be off as part of
its state; a part keeps one best way, so that the sum over all sides is not always the least, where
another part has the worst side. Then single settings are exchanged for those of the cuts' other
ends. What is asked of the person, settings, sides left over, turns and lifts, stays as it was
found.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from ..plan.model import Axis
from ..plan.trees import PieceNode
from .ease import NEVER, Chosen, Ease, Table
from .easiest import exchanged
from .jobs import Job
from .laying import Made, handling, in_a_row
from .sizes import setting_error, source_errors
from .work import NEAR, Part, halves_of

if TYPE_CHECKING:
    from ..lengths import Length
    from ..plan.trees import DraftLayout
    from .ordered import Bench
    from .work import Work

__all__ = ["Closeness", "Sides", "closeness", "closest"]

MOST_WAYS = 6_000  # in which parts may be there, over all sequences tried
Path = tuple[int, ...]
Off = int | None  # in the smallest unit that holds all; None where nobody knows
Key = tuple[int, int, Off, Off]  # the place in the sequence, the parent's end, off across, off down
Value = tuple[int, int, int, int]  # handling, then as in `Closeness`
NONE: Value = (0, 0, 0, 0)
ROOT = -1


@dataclass(frozen=True, slots=True, order=True)
class Closeness:
    """How far the sides of all pieces may be off; compared in this order.

    Attributes
    ----------
    unknown
        Sides that rest on a sheet that nobody measured.
    worst, total
        Of the others, in one unit for a board.
    """

    unknown: int
    worst: int
    total: int


@dataclass(frozen=True, slots=True)
class _Half:
    """What comes of one half of a cut: it is cut again, or a piece, or neither."""

    job: int | None
    is_piece: bool


class Sides:
    """What each cut of a board makes of the sides of its halves."""

    def __init__(
        self,
        drafts: Sequence[DraftLayout],
        works: Sequence[Work],
        jobs: Sequence[Job],
        bench: Bench,
    ) -> None:
        self.jobs = jobs
        settings = {end.setting for job in jobs for end in job.task.ends}
        offs = {one: setting_error(one, bench).mm for one in settings}
        first = [source_errors(draft.source, bench) for draft in drafts]
        known = [*offs.values(), *(one.mm for both in first for one in both if one is not None)]
        unit = math.lcm(*(one.denominator for one in known))
        self.offs = {one: int(off * unit) for one, off in offs.items()}
        self.first = [(_steps(across, unit), _steps(down, unit)) for across, down in first]
        self.halves = list(self._halves(works, bench.tool.kerf))

    def _halves(self, works: Sequence[Work], kerf: int) -> Iterator[tuple[_Half, _Half]]:
        cut = {(job.layout, _extent(job.task.part)): number for number, job in enumerate(self.jobs)}
        pieces = {
            (layout, _extent(part))
            for layout, work in enumerate(works)
            for part in work.finished
            if isinstance(part.node, PieceNode)
        }
        for job in self.jobs:
            task = job.task
            halves = halves_of(task.part, task.axis, task.at, kerf)
            keys = [(job.layout, _extent(half)) for half in halves]
            first, second = (_Half(cut.get(key), key in pieces) for key in keys)
            yield first, second

    def after(self, number: int, end: int, across: Off, down: Off) -> tuple[tuple[Off, Off], ...]:
        """Return what both halves of a cut are off, across and down, by what its part is off."""
        task = self.jobs[number].task
        chosen = task.ends[end]
        off = self.offs[chosen.setting]
        before = across if task.axis is Axis.X else down
        left = None if before is None else before + off
        both = (off, left) if chosen.edge is NEAR[task.axis] else (left, off)
        if task.axis is Axis.X:
            return tuple((one, down) for one in both)
        return tuple((across, one) for one in both)


def _steps(error: Length | None, unit: int) -> Off:
    return None if error is None else int(error.mm * unit)


def _extent(part: Part) -> tuple[int, int, int, int]:
    return part.x, part.y, part.width, part.height


def _piece(offs: tuple[Off, Off], copies: int) -> Value:
    known = [off for off in offs if off is not None]
    unknown = (len(offs) - len(known)) * copies
    return (0, unknown, max(known, default=0), sum(known) * copies)


def _with(one: Value, other: Value) -> Value:
    return (one[0] + other[0], one[1] + other[1], max(one[2], other[2]), one[3] + other[3])


def closeness(made: Sequence[Made], sides: Sides) -> Closeness:
    """Return how far the sides of all pieces may be off when jobs are done so."""
    ends = {one.number: one.job.task.ends.index(one.end) for one in made}
    offs: dict[int, tuple[Off, Off]] = {}
    whole = NONE
    for number, job in enumerate(sides.jobs):
        across, down = offs.get(number, sides.first[job.layout])
        after = sides.after(number, ends[number], across, down)
        for half, off in zip(sides.halves[number], after, strict=True):
            if half.job is not None:
                offs[half.job] = off
            if half.is_piece:
                whole = _with(whole, _piece(off, job.copies))
    return Closeness(*whole[1:])


class _Search:
    """The best ends for a sequence of settings."""

    def __init__(self, sides: Sides, ease: Ease) -> None:
        self._sides, self._ease = sides, ease
        self._jobs = sides.jobs
        self._ways = 0

    def chosen(self, settings: Path) -> list[Chosen] | None:
        """Return when and from which end each job is done; None if that takes too long."""
        table = Table(self._ease, settings, whole=True)
        keys = self._keys(table)
        if keys is None:
            return None
        filled = _Filled(self._sides, self._ease, table)
        for number in range(len(self._jobs) - 1, -1, -1):
            for key in keys[number]:
                filled.fill(number, key)
        return filled.chosen()

    def _keys(self, table: Table) -> list[dict[Key, None]] | None:
        """Return for each job the ways in which its part may be there."""
        keys: list[dict[Key, None]] = [{} for _ in self._jobs]
        for number, job in enumerate(self._jobs):
            if job.parent is None:
                keys[number][_start(self._sides, job)] = None
            self._ways += len(keys[number])
            if self._ways > MOST_WAYS:
                return None
            for key in keys[number]:
                for end, way in enumerate(self._ease.ways(number)):
                    done = table.when(way.setting, key[0])
                    if done is not None:
                        for child, after in _children(self._sides, number, (done, end), key):
                            keys[child][after] = None
        return keys


def _start(sides: Sides, job: Job) -> Key:
    across, down = sides.first[job.layout]
    return (0, ROOT, across, down)


def _children(
    sides: Sides, number: int, done: tuple[int, int], key: Key
) -> Iterator[tuple[int, Key]]:
    """Yield the jobs that cut the halves, each with how its part is there."""
    offs = sides.after(number, done[1], key[2], key[3])
    for half, off in zip(sides.halves[number], offs, strict=True):
        if half.job is not None:
            yield half.job, (*done, *off)


class _Filled:
    """What each job and all below it come to, by how its part is there; as in `ease`."""

    def __init__(self, sides: Sides, ease: Ease, table: Table) -> None:
        self._sides, self._ease, self._table = sides, ease, table
        self._values: list[dict[Key, tuple[Value, Value]]] = [{} for _ in sides.jobs]
        self._best: list[dict[Key, tuple[int, int]]] = [{} for _ in sides.jobs]

    def fill(self, number: int, key: Key) -> None:
        never: Value = (NEVER, 0, 0, 0)
        best = same = never
        end_best = end_same = 0
        for end, way in enumerate(self._ease.ways(number)):
            done = self._table.when(way.setting, key[0])
            if done is None:
                continue
            after, _ = self._after(number, (done, end), key)
            cost = (way.cost[key[1]] + after[0], *after[1:])
            if cost < best:
                best, end_best = cost, end
            if cost < same and self._table.stays(number, key[:2], way.setting, done):
                same, end_same = cost, end
        self._values[number][key] = best, same
        self._best[number][key] = end_best, end_same

    def _after(self, number: int, done: tuple[int, int], key: Key) -> tuple[Value, int | None]:
        """Return what comes after a job, and which of the jobs after it follows at once."""
        copies = self._sides.jobs[number].copies
        own = NONE
        offs = self._sides.after(number, done[1], key[2], key[3])
        for half, off in zip(self._sides.halves[number], offs, strict=True):
            if half.is_piece:
                own = _with(own, _piece(off, copies))
        below = list(_children(self._sides, number, done, key))
        tried: list[tuple[Value, int | None]] = [(self._together(own, below, None), None)]
        for child, _ in below:
            value = self._together(own, below, child)
            tried.append(((value[0] - copies, *value[1:]), child))
        return min(tried, key=lambda one: one[0])

    def _together(self, own: Value, below: list[tuple[int, Key]], first: int | None) -> Value:
        for child, key in below:
            own = _with(own, self._values[child][key][1 if child == first else 0])
        return own

    def chosen(self) -> list[Chosen]:
        """Return the best choice for every job."""
        jobs = self._sides.jobs
        found = [Chosen(0, 0)] * len(jobs)
        keys: dict[int, Key] = {}
        follows: set[int | None] = set()
        for number, job in enumerate(jobs):
            key = keys.get(number) or _start(self._sides, job)
            end = self._best[number][key][1 if number in follows else 0]
            place = self._table.when(self._ease.ways(number)[end].setting, key[0])
            assert place is not None, "a sequence that does everything is asked for"
            found[number] = Chosen(place, end)
            keys.update(_children(self._sides, number, (place, end), key))
            follows.add(self._after(number, (place, end), key)[1])
        return found


def closest(made: Sequence[Made], sides: Sides, stop: Callable[[], bool]) -> list[Made]:
    """Return jobs in an order that asks as much of the person, and comes out as close as found."""
    ease = Ease(sides.jobs)
    search = _Search(sides, ease)
    asked, best, near = handling(made), list(made), closeness(made, sides)
    stops = [one.setting for one in made if one.setting is not None]
    path = tuple(setting for setting, _ in groupby(stops))
    waiting = [path, *exchanged(path, sides.jobs)]
    while waiting:
        settings = waiting.pop(0)
        if stop():
            break
        if ease.least(settings) >= NEVER:
            continue
        chosen = search.chosen(settings)
        if chosen is None:
            break
        other = in_a_row(sides.jobs, chosen)
        close = closeness(other, sides)
        if handling(other) == asked and close < near:
            best, near = other, close
            waiting = list(exchanged(settings, sides.jobs))
    return best
