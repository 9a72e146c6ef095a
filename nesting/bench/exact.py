"""The best order of a few cuts, by trying them one by one: A* over what is ready and what lies.

Hart, Nilsson & Raphael (1968), "A formal basis for the heuristic determination of minimum cost
paths". What remains is bounded by the settings that nothing else can replace, and by the sides and
turns of each tree by itself.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from ..plan.model import Edge
from .ease import SIDE, TURN
from .jobs import Job, children_of, quarters

__all__ = ["SETTING", "State", "Trial", "Tried", "best_row"]

SETTING = 1 << 144
Row = tuple[tuple[int, int], ...]  # jobs, each with the place of its end


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of trying.

    Attributes
    ----------
    row
        Jobs in order, each with its end; None where nothing better was found than is known.
    is_sure
        Whether there is nothing better than it, or than what is known.
    """

    row: Row | None
    is_sure: bool


@dataclass(frozen=True, slots=True)
class State:
    """What can be done, with the edge that lies against the stop; the setting; the last cut.

    `last` is None where nothing that comes of it can stay on the tool.
    """

    ready: frozenset[tuple[int, Edge]]
    setting: int | None
    last: int | None
    marked: bool


def best_row(
    jobs: Sequence[Job], settings: int, known: int, most_looks: int, stop: Callable[[], bool]
) -> Tried:
    """Return the row of least handling among those with so few settings.

    Parameters
    ----------
    settings
        How often the stop may be set.
    known
        The handling of the best row known, as one number.
    """
    return Trial(jobs, settings).best(settings * SETTING + known, most_looks, stop)


class Trial:
    """What a few cuts may come to, one after another.

    Parameters
    ----------
    most
        How often the stop is set at least.
    """

    def __init__(self, jobs: Sequence[Job], most: int) -> None:
        self._jobs, self._most = jobs, most
        self._below = children_of(jobs)
        self._forced: list[frozenset[int]] = [frozenset()] * len(jobs)
        self._least: dict[tuple[int, Edge], int] = {}
        for number in range(len(jobs) - 1, -1, -1):
            self._bound(number)

    def _bound(self, number: int) -> None:
        """Bound what a job and all below it cost, by the edge that lies against the stop."""
        job, below = self._jobs[number], self._below[number]
        alone = job.task.settings if len(job.task.settings) == 1 else frozenset()
        self._forced[number] = alone.union(*(self._forced[child] for child in below))
        after = {
            end.edge: end.left_over * job.copies * SIDE
            + sum(self._least[child, end.edge] for child in below)
            for end in job.task.ends
        }
        for lies in Edge:
            self._least[number, lies] = min(
                quarters(lies, edge) * job.copies * TURN + cost for edge, cost in after.items()
            )

    def start(self) -> State:
        """Return that every source lies there, with its left edge against the stop."""
        roots = frozenset((n, Edge.LEFT) for n, job in enumerate(self._jobs) if job.parent is None)
        return State(roots, None, None, marked=False)

    def best(self, known: int, most_looks: int, stop: Callable[[], bool]) -> Tried:
        """Return the best row that costs less than `known`."""
        start = self.start()
        heap: list[tuple[int, int, int, State, Row]] = [(self.ahead(start, 0), 0, 0, start, ())]
        reached = {start: 0}
        count = looks = 0
        while heap:
            _, cost, _, state, row = heapq.heappop(heap)
            if not state.ready:
                return Tried(row, is_sure=True)
            if cost > reached[state]:
                continue
            if looks == most_looks or stop():
                return Tried(None, is_sure=False)
            looks += 1
            for made, price, after in self.steps(state):
                whole = cost + price
                ahead = self.ahead(after, whole)
                if ahead < known and whole < reached.get(after, known):
                    reached[after] = whole
                    count += 1
                    heapq.heappush(heap, (ahead, whole, count, after, (*row, made)))
        return Tried(None, is_sure=True)

    def ahead(self, state: State, cost: int) -> int:
        """Return what it costs at least in all."""
        settings, rest = divmod(cost, SETTING)
        forced = frozenset[int]().union(*(self._forced[number] for number, _ in state.ready))
        least = max(self._most, settings + len(forced.difference((state.setting,))))
        return least * SETTING + rest + sum(self._least[one] for one in state.ready)

    def steps(self, state: State) -> Iterator[tuple[tuple[int, int], int, State]]:
        """Yield each job and end that may be next, with what it costs and what is there then."""
        for number, lies in sorted(state.ready):  # sets of words differ from run to run
            job = self._jobs[number]
            by_stop = job.task.by_stop
            for place, end in enumerate(job.task.ends):
                stays = job.parent is not None and state.last == job.parent
                alike = state.setting == end.setting and not state.marked
                alike = alike if by_stop else state.marked
                price = job.copies * (end.left_over * SIDE + quarters(lies, end.edge) * TURN)
                price += 0 if stays and (job.copies == 1 or alike) else job.copies
                price += SETTING if by_stop and state.setting != end.setting else 0
                ready = state.ready.difference({(number, lies)}).union(
                    (child, end.edge) for child in self._below[number]
                )
                last = number if self._below[number] else None
                setting = end.setting if by_stop else state.setting
                marked = last is not None and not by_stop
                yield (number, place), price, State(ready, setting, last, marked)
