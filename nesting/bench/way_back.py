"""Among orders that ask equally much, one in which a sheet may become another layout for longest.

From the first cut that no other layout of the same sheet has, trims apart, there is no way back.
Runs of cuts at one setting are moved past one another, and single cuts within their runs, as long
as more cuts come before those. Then every order is tried that asks no more and leaves no piece less
exact, each cut from either end, by branch and bound (Land & Doig, 1960, "An automatic method of
solving discrete programming problems"); if that ends within its budget, there is none with more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from .exact import SETTING, Trial
from .jobs import Job, lines_of
from .laying import Made, handled, handling

if TYPE_CHECKING:
    from ..plan.trees import DraftLayout
    from .ease import Handling
    from .exact import State
    from .jobs import Line

__all__ = ["Later", "before_no_way_back", "later"]

# Orders looked at, in cuts; each takes about so many steps as there are cuts.
MOST_LOOKS = 40_000
MOST_BEGUN = 400  # orders begun, of which all that follow are tried or ruled out
MOST_DEEP = 400  # cuts of a board up to which that is tried
Row = tuple[int, ...]
Open = dict[int, tuple[int, ...]]  # layouts with a way back: which others their sheets may become


def before_no_way_back(jobs: Sequence[Job], lines: Sequence[Line], row: Sequence[int]) -> int:
    """Return how many cuts come before there is no way back, over all layouts.

    Parameters
    ----------
    lines
        Where on which source each job cuts.
    row
        Jobs in order.
    """
    every: dict[int, set[Line]] = {}
    for job, line in zip(jobs, lines, strict=True):
        every.setdefault(job.layout, set()).add(line)
    open_ones = {
        layout: [other for number, other in every.items() if number != layout] for layout in every
    }
    count = 0
    for number in row:
        job, line = jobs[number], lines[number]
        if job.layout not in open_ones:
            continue
        left = [other for other in open_ones[job.layout] if line in other]
        if left or job.task.is_trim:
            open_ones[job.layout] = left
            count += 1
        else:
            del open_ones[job.layout]
    return count


@dataclass(frozen=True, slots=True)
class Later:
    """Jobs in order, with no way back as late as was found.

    Attributes
    ----------
    before
        How many cuts come before there is no way back, over all layouts.
    most
        No order that asks as little and is as exact has more.
    """

    made: list[Made]
    before: int
    most: int


def later(
    made: Sequence[Made],
    jobs: Sequence[Job],
    drafts: Sequence[DraftLayout],
    stop: Callable[[], bool],
    is_as_exact: Callable[[Sequence[Made]], bool],
) -> Later:
    """Return the jobs in an order that asks no more, with no way back as late as is found.

    Parameters
    ----------
    is_as_exact
        Whether pieces may be off no more than in the order given.
    """
    lines = lines_of(jobs, drafts)
    ways = _WaysBack(jobs, lines)
    best = list(made)
    count, most = before_no_way_back(jobs, lines, _numbers(best)), ways.most(frozenset(), None)
    if count < most:
        ends = {one.number: one.job.task.ends.index(one.end) for one in made}
        search = _Search(jobs, lines, ends, best, stop)
        search.move()
        best = search.best
        count = before_no_way_back(jobs, lines, _numbers(best))
    if count < most and len(jobs) <= MOST_DEEP:
        every = _Every(jobs, ways, best, count, stop, is_as_exact)
        if every.try_every_row():
            most = every.most
        best, count = every.best, every.most
    return Later(best, count, most)


def _numbers(made: Sequence[Made]) -> list[int]:
    return [one.number for one in made]


class _WaysBack:
    """Which other layouts the sheets may still become as cuts are made."""

    def __init__(self, jobs: Sequence[Job], lines: Sequence[Line]) -> None:
        self._jobs = jobs
        self._own: dict[int, list[int]] = {}
        for number, job in enumerate(jobs):
            self._own.setdefault(job.layout, []).append(number)
        cut = {layout: {lines[n] for n in own} for layout, own in self._own.items()}
        self._shared = [
            frozenset(
                layout
                for layout, others in cut.items()
                if layout != job.layout and lines[number] in others
            )
            for number, job in enumerate(jobs)
        ]
        self.start: Open = {
            layout: tuple(other for other in self._own if other != layout) for layout in self._own
        }

    def after(self, opened: Open, number: int) -> tuple[Open, int]:
        """Return what is open after a job, and 1 if there was a way back until then, else 0."""
        job = self._jobs[number]
        if job.layout not in opened:
            return opened, 0
        left = tuple(one for one in opened[job.layout] if one in self._shared[number])
        if left or job.task.is_trim:
            return {**opened, job.layout: left}, 1
        return {layout: ways for layout, ways in opened.items() if layout != job.layout}, 0

    def most(self, done: frozenset[int], opened: Open | None) -> int:
        """Return how many more cuts may come at most while there is a way back."""
        found = 0
        for layout, ways in (self.start if opened is None else opened).items():
            to_do = [number for number in self._own[layout] if number not in done]
            trims = sum(self._jobs[number].task.is_trim for number in to_do)
            rest = [number for number in to_do if not self._jobs[number].task.is_trim]
            shared = (sum(one in self._shared[number] for number in rest) for one in ways)
            found += trims + max(shared, default=0)
        return found


class _Every:
    """Tries every order that asks no more than is known, each job from either end.

    Attributes
    ----------
    best
        The best so far.
    most
        How many of its cuts come before there is no way back.
    """

    def __init__(
        self,
        jobs: Sequence[Job],
        ways: _WaysBack,
        made: list[Made],
        most: int,
        stop: Callable[[], bool],
        is_as_exact: Callable[[Sequence[Made]], bool],
    ) -> None:
        self._jobs, self._ways, self._stop, self._is_as_exact = jobs, ways, stop, is_as_exact
        self.best, self.most = made, most
        settings, asked = _asked(made)
        self._known = settings * SETTING + asked.number
        self._trial = Trial(jobs, 0)

    def try_every_row(self) -> bool:
        """Return whether all were tried, or ruled out."""
        waiting = [_Begun(self._trial.start(), 0, 0, self._ways.start, ())]
        seen: set[tuple[object, ...]] = set()
        looks = 0
        while waiting:
            begun = waiting.pop()
            done = frozenset(number for number, _ in begun.row)
            if begun.count + self._ways.most(done, begun.opened) <= self.most:
                continue
            if not begun.state.ready:
                self._take(begun)
                continue
            looks += 1
            if looks > MOST_BEGUN or self._stop():
                return False
            waiting += [one for one in self._steps(begun) if _is_new(one, seen)]
        return True

    def _steps(self, begun: _Begun) -> Iterator[_Begun]:
        for made, price, after in self._trial.steps(begun.state):
            cost = begun.cost + price
            if self._trial.ahead(after, cost) <= self._known:
                opened, more = self._ways.after(begun.opened, made[0])
                yield _Begun(after, cost, begun.count + more, opened, (*begun.row, made))

    def _take(self, begun: _Begun) -> None:
        made = handled(self._jobs, begun.row)
        if begun.count > self.most and self._is_as_exact(made):
            self.best, self.most = made, begun.count


@dataclass(frozen=True, slots=True)
class _Begun:
    """An order that is begun: what it costs, and how many of its cuts had a way back."""

    state: State
    cost: int
    count: int
    opened: Open
    row: tuple[tuple[int, int], ...]


def _is_new(begun: _Begun, seen: set[tuple[object, ...]]) -> bool:
    """Return whether nothing alike was met: the same cuts, with the same to follow."""
    opened = tuple(sorted(begun.opened.items()))
    key = (frozenset(begun.row), begun.state, begun.cost, begun.count, opened)
    if key in seen:
        return False
    seen.add(key)
    return True


class _Search:
    """Looks for an order with more cuts before there is no way back.

    Attributes
    ----------
    best
        The best so far.
    """

    def __init__(
        self,
        jobs: Sequence[Job],
        lines: Sequence[Line],
        ends: Mapping[int, int],
        made: list[Made],
        stop: Callable[[], bool],
    ) -> None:
        self._jobs, self._lines, self._ends, self._stop = jobs, lines, ends, stop
        self.best, self._known = made, _asked(made)
        self._most = before_no_way_back(jobs, lines, [one.number for one in made])
        self._looks = MOST_LOOKS

    def _is_over(self, row: Row) -> bool:
        """Whether there were enough looks, this one taken."""
        self._looks -= len(row)
        return self._looks < 0 or self._stop()

    def _made(self, row: Row) -> list[Made]:
        return handled(self._jobs, ((number, self._ends[number]) for number in row))

    def _take(self, row: Row) -> bool:
        """Return whether an order is better, and keep it."""
        count = before_no_way_back(self._jobs, self._lines, row)
        if count <= self._most or not _keeps_order(self._jobs, row):
            return False
        tried = self._made(row)
        if _asked(tried) > self._known:
            return False
        self.best, self._most = tried, count
        return True

    def move(self) -> None:
        """Move runs and cuts as long as that is better."""
        better = True
        while better:
            better = False
            for row in _moved(self.best):
                if self._is_over(row):
                    return
                if self._take(row):
                    better = True
                    break


def _asked(made: Sequence[Made]) -> tuple[int, Handling]:
    settings = [one.setting for one in made if one.setting is not None]
    return sum(1 for _ in groupby(settings)), handling(made)


def _moved(made: Sequence[Made]) -> Iterator[Row]:
    """Yield the row with one run, or one job of a run, moved to another place."""
    runs = [
        tuple(one.number for one in group) for _, group in groupby(made, key=lambda m: m.setting)
    ]
    for moved in _shifted(runs):
        yield tuple(number for run in moved for number in run)
    for place, run in enumerate(runs):
        for shifted in _shifted([(number,) for number in run]):
            within = [*runs[:place], *shifted, *runs[place + 1 :]]
            yield tuple(number for part in within for number in part)


def _shifted(items: Sequence[Row]) -> Iterator[list[Row]]:
    """Yield the items with one of them elsewhere."""
    for place, item in enumerate(items):
        rest = [*items[:place], *items[place + 1 :]]
        for to in range(len(items)):
            if to != place:
                yield [*rest[:to], item, *rest[to:]]


def _keeps_order(jobs: Sequence[Job], row: Row) -> bool:
    """Whether each job comes after the one that makes its part."""
    done: set[int] = set()
    for number in row:
        parent = jobs[number].parent
        if parent is not None and parent not in done:
            return False
        done.add(number)
    return True
