"""The tasks of all layouts of a board in one list, and what comes first where nothing decides."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..plan.model import Axis, Edge

if TYPE_CHECKING:
    from ..plan.model import Source
    from ..plan.trees import DraftLayout
    from .work import Task, Work

__all__ = ["AROUND", "Job", "Line", "children_of", "jobs_of", "lines_of", "quarters", "rank_of"]

AROUND = (Edge.LEFT, Edge.TOP, Edge.RIGHT, Edge.BOTTOM)
Line = tuple["Source", Axis, int, int, int]


@dataclass(frozen=True, slots=True)
class Job:
    """A task of one of the layouts, to be done on all copies.

    Attributes
    ----------
    parent
        A place in the list of all.
    is_shared
        Whether another layout has the same cut, so that the sheet may still become that.
    """

    layout: int
    copies: int
    task: Task
    parent: int | None
    is_shared: bool

    @property
    def rank(self) -> tuple[object, ...]:
        """What comes first where nothing else decides."""
        part, task = self.task.part, self.task
        free = (not task.by_stop, not task.is_trim, not self.is_shared)
        return (*free, -part.area, self.layout, part.y, part.x)


def jobs_of(drafts: Sequence[DraftLayout], works: Sequence[Work]) -> list[Job]:
    """Return the tasks of all layouts, each after the one that makes its part."""
    often = Counter(line for draft, work in zip(drafts, works, strict=True)
                    for line in {_line(draft, task) for task in work.tasks})  # fmt: skip
    jobs: list[Job] = []
    for layout, (draft, work) in enumerate(zip(drafts, works, strict=True)):
        first = len(jobs)
        for task in work.tasks:
            parent = None if task.parent is None else first + task.parent
            shared = often[_line(draft, task)] > 1
            jobs.append(Job(layout, draft.copies, task, parent, shared))
    return jobs


def _line(draft: DraftLayout, task: Task) -> Line:
    return (draft.source, task.axis, task.at, *task.part.across(task.axis))


def lines_of(jobs: Sequence[Job], drafts: Sequence[DraftLayout]) -> list[Line]:
    """Return where on which source each job cuts."""
    return [_line(drafts[job.layout], job.task) for job in jobs]


def children_of(jobs: Sequence[Job]) -> list[list[int]]:
    """Return for each job those that its parts are cut by."""
    below: list[list[int]] = [[] for _ in jobs]
    for number, job in enumerate(jobs):
        if job.parent is not None:
            below[job.parent].append(number)
    return below


def rank_of(jobs: Iterable[Job]) -> dict[int, int]:
    """Return the settings' places: those of trims first, of shared cuts, then of larger parts."""
    first: dict[int, tuple[bool, bool, int]] = {}
    for job in jobs:
        own = (not job.task.is_trim, not job.is_shared, -job.task.part.area)
        for setting in job.task.settings:
            first[setting] = min(own, first.get(setting, own))
    return dict(_numbered(sorted(first, key=first.__getitem__)))


def _numbered(settings: Iterable[int]) -> Iterator[tuple[int, int]]:
    for place, setting in enumerate(settings):
        yield setting, place


def quarters(one: Edge, other: Edge) -> int:
    """Return by how many quarter turns another edge comes to lie against the stop."""
    off = (AROUND.index(one) - AROUND.index(other)) % 4
    return min(off, 4 - off)
