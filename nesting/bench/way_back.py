"""Among orders that ask equally much, one in which a sheet may become another layout for longest.

From the first cut that no other layout of the same sheet has, trims apart, there is no way back.
Runs of cuts at one setting are moved past one another, and single cuts within their runs, as long
as more cuts come before those; of a few cuts every order is tried. The ends, and with them all
sizes, stay as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from .jobs import Job, lines_of
from .laying import Made, handled, handling

if TYPE_CHECKING:
    from ..plan.trees import DraftLayout
    from .ease import Handling
    from .jobs import Line

__all__ = ["before_no_way_back", "later"]

# Orders looked at, in cuts; each takes about so many steps as there are cuts.
MOST_LOOKS = 40_000
FEW = 9  # jobs, up to which every order is tried
Row = tuple[int, ...]


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


def later(
    made: Sequence[Made],
    jobs: Sequence[Job],
    drafts: Sequence[DraftLayout],
    stop: Callable[[], bool],
) -> list[Made]:
    """Return the jobs in an order that asks no more, with no way back as late as is found."""
    lines = lines_of(jobs, drafts)
    best = list(made)
    if len(drafts) < 2 or len(set(lines)) == len(lines):
        return best
    ends = {one.number: one.job.task.ends.index(one.end) for one in made}
    search = _Search(jobs, lines, ends, best, stop)
    search.move()
    if len(jobs) <= FEW:
        search.try_every_row(())
    return search.best


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

    def try_every_row(self, begun: Row) -> None:
        """Try each order that begins so, but for those that ask more."""
        if len(begun) == len(self._jobs):
            self._take(begun)
            return
        for number, job in enumerate(self._jobs):
            if number in begun or not (job.parent is None or job.parent in begun):
                continue
            row = (*begun, number)
            if self._is_over(row):
                return
            if _asked(self._made(row)) <= self._known:
                self.try_every_row(row)


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
