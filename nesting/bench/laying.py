"""Jobs in a row: what is done at each setting, one after another, and how parts are handled.

At each setting a part that has just been cut and can be cut again stays on the tool; else what
ranks first is taken. Where there is one copy, a part may stay while the stop moves: then the cut
that makes it is put last at its setting, and the one that divides it first at the next.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from ..plan.model import Edge
from .ease import Chosen, Handling
from .jobs import Job, children_of, quarters
from .work import End

__all__ = ["Made", "by_layout", "handled", "handling", "in_a_row"]

Pair = tuple[int, int]  # a job done last at a setting, and one that follows at the next


@dataclass(frozen=True, slots=True)
class Made:
    """A job as it is done.

    Attributes
    ----------
    setting
        None where the cut is marked in pencil.
    turns
        Quarter turns of the part since it was last on the tool, over all copies.
    lifts
        How often a part is laid on the tool for it, over all copies.
    """

    number: int
    job: Job
    end: End
    setting: int | None
    turns: int
    lifts: int


def handling(made: Sequence[Made]) -> Handling:
    """Return what jobs done in a row come to."""
    return Handling(
        sum(one.job.copies * one.end.left_over for one in made),
        sum(one.turns for one in made),
        sum(one.lifts for one in made),
    )


def handled(jobs: Sequence[Job], row: Iterable[tuple[int, int]]) -> list[Made]:
    """Return jobs as they are done in a row, each from an end of its own."""
    made: list[Made] = []
    lies: dict[int, Edge] = {}
    for number, place in row:
        job = jobs[number]
        end = job.task.ends[place]
        setting = end.setting if job.task.by_stop else None
        last = made[-1] if made else None
        stays = last is not None and job.parent == last.number
        stays = stays and last is not None and (job.copies == 1 or setting == last.setting)
        before = Edge.LEFT if job.parent is None else lies[job.parent]
        lies[number] = end.edge
        turns = job.copies * quarters(before, end.edge)
        made.append(Made(number, job, end, setting, turns, 0 if stays else job.copies))
    return made


def by_layout(made: Sequence[Made], jobs: Sequence[Job]) -> list[Made]:
    """Return jobs with those of a layout together at each setting, where that asks no more.

    Each layout keeps its own order. Of a setting's layouts the one that was first stays so, and
    the one that was last: a part may stay on the tool from one setting to the next.
    """
    best = list(made)
    for begin, end in _runs(made):
        run = best[begin:end]
        ranks = {layout: place for place, layout in
                 enumerate(dict.fromkeys(one.job.layout for one in run))}  # fmt: skip
        if run[-1].job.layout != run[0].job.layout:
            ranks[run[-1].job.layout] = len(ranks)
        together = sorted(run, key=lambda one: ranks[one.job.layout])
        if together == run:
            continue
        row = (*best[:begin], *together, *best[end:])
        tried = handled(jobs, ((one.number, one.job.task.ends.index(one.end)) for one in row))
        if handling(tried) <= handling(best):
            best = tried
    return best


def _runs(made: Sequence[Made]) -> Iterator[tuple[int, int]]:
    """Yield where what is done at one setting begins and ends."""
    begin = 0
    for _, group in groupby(made, key=lambda one: one.setting):
        end = begin + len(list(group))
        yield begin, end
        begin = end


def in_a_row(jobs: Sequence[Job], chosen: Sequence[Chosen]) -> list[Made]:
    """Return jobs as they are done where it is chosen when and from which end."""
    below = children_of(jobs)
    groups: dict[int, list[int]] = {}
    for number, one in enumerate(chosen):
        groups.setdefault(one.place, []).append(number)
    places = sorted(groups)
    late = _late(jobs, chosen, _last_ones([groups[place] for place in places], jobs, chosen, below))
    row: list[int] = []
    for place in places:
        row += _Group(jobs, below, chosen, late).done(groups[place], row[-1] if row else None)
    return handled(jobs, ((number, chosen[number].end) for number in row))


def _late(jobs: Sequence[Job], chosen: Sequence[Chosen], last: Iterable[int]) -> set[int]:
    """Return jobs to be put last, each with those at its setting that must come before it."""
    late: set[int] = set()
    for job in last:
        number: int | None = job
        while number is not None and chosen[number].place == chosen[job].place:
            late.add(number)
            number = jobs[number].parent
    return late


class _Group:
    """Does what is to be done at one place in the sequence of settings."""

    def __init__(
        self,
        jobs: Sequence[Job],
        below: Sequence[Sequence[int]],
        chosen: Sequence[Chosen],
        late: set[int],
    ) -> None:
        self._jobs, self._below, self._chosen, self._late = jobs, below, chosen, late

    def done(self, numbers: Sequence[int], last: int | None) -> Iterator[int]:
        """Yield the numbers in the order in which they are done."""
        group = set(numbers)
        ready = {number for number in numbers if self._jobs[number].parent not in group}
        stays = {number for number in ready if last is not None and self._follows(number, last)}
        while ready:
            number = min(stays or ready, key=self._rank)
            yield number
            ready.remove(number)
            after = group.intersection(self._below[number])
            ready |= after
            stays = {one for one in after if self._follows(one, number)}

    def _rank(self, number: int) -> tuple[object, ...]:
        return (number in self._late, *self._jobs[number].rank)

    def _follows(self, number: int, last: int) -> bool:
        """Return whether the part stays on the tool when this job comes next."""
        one, before = self._jobs[number], self._jobs[last]
        if one.parent != last:
            return False
        if one.copies == 1:
            return True
        alike = one.task.by_stop is before.task.by_stop
        return alike and self._chosen[number].place == self._chosen[last].place


def _last_ones(
    groups: Sequence[Sequence[int]],
    jobs: Sequence[Job],
    chosen: Sequence[Chosen],
    below: Sequence[Sequence[int]],
) -> list[int]:
    """Return the jobs to be done last at their settings, so that most parts stay on the tool.

    From each setting to the next one part can stay, if it is of a single copy and nothing more is
    cut of it before. A job cannot be both first and last unless it is the only one.
    """
    pairs = [_pairs(one, other, jobs, chosen, below) for one, other in pairwise(groups)]
    best: Mapping[Pair | None, tuple[int, list[int]]] = {None: (0, [])}
    for group, offered in zip(groups, pairs, strict=False):
        following: dict[Pair | None, tuple[int, list[int]]] = {}
        for pair in (None, *offered):
            ways = [
                (count + (pair is not None), [*last, *([] if pair is None else pair[:1])])
                for before, (count, last) in best.items()
                if before is None or pair is None or before[1] != pair[0] or len(group) == 1
            ]
            if ways:
                following[pair] = max(ways, key=lambda way: way[0])
        best = following
    return max(best.values(), key=lambda way: way[0])[1]


def _pairs(
    group: Iterable[int],
    following: Iterable[int],
    jobs: Sequence[Job],
    chosen: Sequence[Chosen],
    below: Sequence[Sequence[int]],
) -> list[Pair]:
    nexts = set(following)
    found: list[Pair] = []
    for number in group:
        same = (chosen[child].place == chosen[number].place for child in below[number])
        if jobs[number].copies == 1 and not any(same):
            found += [(number, child) for child in below[number] if child in nexts]
    return found
