"""The cutting order of a board: all layouts together, their copies side by side.

The sequence of settings is the shortest that there is, or nearly. Within a setting, trims come
first, then larger parts; a part that has just been cut and can be cut again stays on the tool.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from ..plan.model import (
    BenchStep,
    Cut,
    Cutting,
    Edge,
    Layout,
    Leftover,
    LeftoverKind,
    PlacedPiece,
)
from ..plan.trees import PieceNode, WasteNode
from .sequence import shortest
from .sizes import sized
from .work import End, Part, Task, Work, work_of

if TYPE_CHECKING:
    from ..lengths import Length
    from ..plan.model import PlanTool, PlanTrim, Source
    from ..plan.trees import DraftLayout

__all__ = ["Bench", "KindOf", "order_board"]

KindOf = Callable[[int, int], LeftoverKind]
"""What a leftover of this width and height is called."""

MOST_SWAPPED = 300  # cuts times settings, up to which other ways are tried
Path = tuple[int, ...]
AROUND = (Edge.LEFT, Edge.TOP, Edge.RIGHT, Edge.BOTTOM)


@dataclass(frozen=True, slots=True)
class Bench:
    """What the cuts are made with and read on.

    Attributes
    ----------
    step, rule
        How long a step is, and the finest mark of the rule.
    measured
        The sources whose sizes somebody measured.
    """

    tool: PlanTool
    trim: PlanTrim
    step: Length
    rule: Length
    measured: frozenset[Source] = frozenset()

    @property
    def reach(self) -> int | None:
        """The largest setting of the stop in whole steps."""
        reach = self.tool.reach
        return None if reach is None else int(reach.mm / self.step.mm)


def order_board(
    drafts: Sequence[DraftLayout], names: Sequence[str], bench: Bench, kind_of: KindOf
) -> tuple[tuple[Layout, ...], Cutting]:
    """Return the layouts of a board with their cuts in order, and the order of them all.

    Parameters
    ----------
    drafts
        The tree of each layout over the usable rectangle of its source.
    names
        The layouts' ids.
    kind_of
        What a leftover is called.
    """
    works = [work_of(draft, bench.tool, bench.trim, bench.reach) for draft in drafts]
    jobs = _jobs(works)
    searched = shortest(
        [job.task.settings for job in jobs], [job.parent for job in jobs], _rank(jobs)
    )
    found = _easiest(jobs, [draft.copies for draft in drafts], searched.settings)
    layouts = tuple(
        sized(_layout(number, draft, names[number], works[number], found, kind_of), bench)
        for number, draft in enumerate(drafts)
    )
    return layouts, _cutting(found, names, searched.lower_bound)


@dataclass(frozen=True, slots=True)
class _Job:
    """A task of one of the layouts.

    Attributes
    ----------
    parent
        A place in the list of all.
    late
        Whether it comes after the others at its setting, so that its part stays on the tool.
    """

    layout: int
    task: Task
    parent: int | None
    late: bool = False

    @property
    def rank(self) -> tuple[object, ...]:
        """What comes first where nothing else decides."""
        part = self.task.part
        return (self.late, not self.task.is_trim, -part.area, self.layout, part.y, part.x)


def _jobs(works: Sequence[Work]) -> list[_Job]:
    jobs: list[_Job] = []
    for layout, work in enumerate(works):
        first = len(jobs)
        for task in work.tasks:
            parent = None if task.parent is None else first + task.parent
            jobs.append(_Job(layout, task, parent))
    return jobs


def _rank(jobs: Sequence[_Job]) -> dict[int, int]:
    """Return the settings' places: those of trims first, then those of larger parts."""
    first: dict[int, tuple[bool, int]] = {}
    for job in jobs:
        for setting in job.task.settings:
            own = (not job.task.is_trim, -job.task.part.area)
            first[setting] = min(own, first.get(setting, own))
    return {setting: place for place, setting in enumerate(sorted(first, key=first.__getitem__))}


@dataclass(frozen=True, slots=True)
class _Made:
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

    job: int
    layout: int
    task: Task
    end: End
    setting: int | None
    turns: int
    lifts: int


class _Making:
    """Does the jobs at one setting after another."""

    def __init__(self, jobs: Sequence[_Job], copies: Sequence[int]) -> None:
        self._jobs, self._copies = jobs, copies
        self._below: list[list[int]] = [[] for _ in jobs]
        self._ready: list[int] = []
        self._lies: dict[int, Edge] = {}
        self._made: list[_Made] = []
        for number, job in enumerate(jobs):
            (self._ready if job.parent is None else self._below[job.parent]).append(number)

    def made(self, settings: Iterable[int]) -> list[_Made]:
        """Return the jobs in the order in which they are done."""
        self._do_all(None)
        for setting in settings:
            self._do_all(setting)
        return self._made

    def _do_all(self, setting: int | None) -> None:
        """Do what can be done at a setting, and then without the stop, until nothing more can."""
        while can := self._can(setting):
            last = self._made[-1].job if self._made else None
            stays = [n for n in can if self._jobs[n].parent == last is not None]
            number = min(stays or can, key=lambda n: self._jobs[n].rank)
            self._ready.remove(number)
            self._ready += self._below[number]
            by_stop = self._jobs[number].task.by_stop
            self._do(number, setting if by_stop else None, last)

    def _can(self, setting: int | None) -> list[int]:
        """Return what can be done at a setting; nothing there, what needs no stop."""
        tasks = [(number, self._jobs[number].task) for number in self._ready]
        by_stop = [number for number, task in tasks if setting in task.settings]
        return by_stop or [number for number, task in tasks if not task.by_stop]

    def _do(self, number: int, setting: int | None, last: int | None) -> None:
        job = self._jobs[number]
        lies = Edge.LEFT if job.parent is None else self._lies[job.parent]
        ends = [end for end in job.task.ends if setting in (None, end.setting)]
        end = min(ends, key=lambda one: (_quarters(lies, one.edge), AROUND.index(one.edge)))
        copies = self._copies[job.layout]
        self._lies[number] = end.edge
        stays = job.parent == last is not None
        same = stays and self._made[-1].setting == setting
        lifts = 0 if same or (stays and copies == 1) else copies
        turns = copies * _quarters(lies, end.edge)
        self._made.append(_Made(number, job.layout, job.task, end, setting, turns, lifts))


def _easiest(jobs: Sequence[_Job], copies: Sequence[int], settings: Path) -> list[_Made]:
    """Return the jobs in the order in which they are done, with few turns and lifts.

    As long as that spares a turn or a lift and everything can still be done, settings that follow
    one another are swapped, a cut that may be set from either end is kept to one, or a cut is put
    last at its setting. On large jobs, where little is to be won, all stays as it is.
    """
    best = _Making(jobs, copies).made(settings)
    if len(jobs) * len(settings) > MOST_SWAPPED:
        return best
    better: _Way | None = _Way(tuple(jobs), settings)
    while better is not None:
        way, better = better, None
        for other in way.neighbours():
            made = _Making(other.jobs, copies).made(other.settings)
            if len(made) == len(jobs) and _handling(made) < _handling(best):
                best, better = made, other
                break
    return best


@dataclass(frozen=True, slots=True)
class _Way:
    """Jobs with the ends that they may be set from and whether late; and the settings."""

    jobs: tuple[_Job, ...]
    settings: Path

    def neighbours(self) -> Iterator[_Way]:
        """Yield the ways that differ in two settings swapped, or in one job."""
        for place in range(len(self.settings) - 1):
            one, other = self.settings[place : place + 2]
            swapped = (*self.settings[:place], other, one, *self.settings[place + 2 :])
            yield replace(self, settings=swapped)
        for place, job in enumerate(self.jobs):
            ends = job.task.ends if len(job.task.ends) > 1 else ()
            others = [replace(job, task=replace(job.task, ends=(end,))) for end in ends]
            others += [] if job.late or job.task.is_trim else [replace(job, late=True)]
            for changed in others:
                jobs = (*self.jobs[:place], changed, *self.jobs[place + 1 :])
                yield replace(self, jobs=jobs)


def _handling(found: Sequence[_Made]) -> int:
    return sum(made.turns + made.lifts for made in found)


def _quarters(one: Edge, other: Edge) -> int:
    """Return by how many quarter turns another edge comes to lie against the stop."""
    off = (AROUND.index(one) - AROUND.index(other)) % 4
    return min(off, 4 - off)


def _layout(
    number: int, draft: DraftLayout, name: str, work: Work, found: Sequence[_Made], kind_of: KindOf
) -> Layout:
    own = [made for made in found if made.layout == number]
    return Layout(
        name,
        draft.copies,
        draft.source,
        tuple(_pieces(work.finished)),
        tuple(_leftovers(work.finished, kind_of)),
        tuple(_cut(place, made) for place, made in enumerate(own, 1)),
    )


def _cut(number: int, made: _Made) -> Cut:
    task = made.task
    start, size = task.part.across(task.axis)
    end = made.end
    return Cut(number, task.axis, task.at, start, start + size, end.setting, end.edge)


def _pieces(parts: Iterable[Part]) -> Iterator[PlacedPiece]:
    nodes = (part.node for part in parts)
    placed = (node for node in nodes if isinstance(node, PieceNode))
    for node in sorted(placed, key=lambda n: (n.y, n.x)):
        yield PlacedPiece(node.label, node.x, node.y, node.width, node.height, node.turned)


def _leftovers(parts: Iterable[Part], kind_of: KindOf) -> Iterator[Leftover]:
    for part in sorted(parts, key=lambda p: (p.y, p.x)):
        if isinstance(part.node, PieceNode):
            continue
        is_waste = isinstance(part.node, WasteNode)
        kind = kind_of(part.width, part.height) if is_waste else LeftoverKind.TRIM
        yield Leftover(kind, part.x, part.y, part.width, part.height)


def _cutting(found: Sequence[_Made], names: Sequence[str], lower_bound: int) -> Cutting:
    numbers = [0] * len(names)
    steps: list[BenchStep] = []
    for (setting, layout), group in groupby(found, key=lambda made: (made.setting, made.layout)):
        first = numbers[layout]
        numbers[layout] += len(list(group))
        cuts = tuple(range(first + 1, numbers[layout] + 1))
        steps.append(BenchStep(setting, names[layout], cuts))
    by_stop = [step.setting for step in steps if step.setting is not None]
    return Cutting(
        settings=sum(1 for _ in groupby(by_stop)),
        settings_lower_bound=lower_bound,
        quarter_turns=sum(made.turns for made in found),
        lifts=sum(made.lifts for made in found),
        steps=tuple(steps),
    )
