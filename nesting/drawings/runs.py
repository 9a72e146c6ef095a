"""Runs of equal cuts, which share one number on the drawing and one row of the list.

At the bench such a run is one thing: the stop stays, and every part that lies against it is cut
until nothing more comes off. Only where a layout has many cuts are they gathered like this; few
are easier to follow one by one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from ..audit.case import Part, Step
from ..audit.replay import replay
from ..plan.model import Layout

__all__ = ["MOST_SINGLE", "Run", "runs"]

MOST_SINGLE = 12  # cuts of a layout that all stand singly

Sides = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Run:
    """One cut, or several in a row with the same stop and setting on equal parts.

    Attributes
    ----------
    steps
        The cuts, in order.
    """

    steps: tuple[Step, ...]

    @property
    def name(self) -> str:
        """The number of the cut, or ``72–83``."""
        first, last = (self.steps[end].cut.number for end in (0, -1))
        return str(first) if first == last else f"{first}–{last}"

    @property
    def taken(self) -> tuple[Part, ...]:
        """The parts that are cut, as they were before the first cut."""
        made = self._made()
        return tuple(step.part for step in self.steps if step.part not in made)

    @property
    def given(self) -> tuple[Part, ...]:
        """The parts that there are after the last cut."""
        cut = {step.part for step in self.steps}
        return tuple(part for part in self._made() if part not in cut)

    @property
    def between(self) -> dict[Part, tuple[Part, ...]]:
        """For each part that is cut, those that come of it and are cut again, in order."""
        found: dict[Part, list[Part]] = {}
        origin: dict[Part | None, Part] = {}
        for step in self.steps:
            first = origin.setdefault(step.part, step.part)
            again = found.setdefault(first, [])
            if step.part != first:
                again.append(step.part)
            origin[step.first] = origin[step.second] = first
        return {part: tuple(again) for part, again in found.items()}

    @property
    def times(self) -> int:
        """How often each part is cut, what comes of it included."""
        return len(self.steps) // len(self.taken)

    def _made(self) -> dict[Part, None]:
        """Return what the cuts make on the way and in the end, in order."""
        both = (part for step in self.steps for part in (step.first, step.second))
        return {part: None for part in both if part is not None}


def runs(layout: Layout, kerf: int) -> tuple[Run, ...]:
    """Return the layout's cuts in order, those of a long list gathered into runs."""
    steps = replay(layout, kerf).steps
    if len(steps) <= MOST_SINGLE:
        return tuple(Run((step,)) for step in steps)
    return tuple(run for long in _gathered(steps) for run in _even(long))


def _gathered(steps: tuple[Step, ...]) -> Iterator[Run]:
    """Yield runs in which each part is as large as the first, or comes of one that is."""
    held: list[Step] = []
    made: set[Part | None] = set()
    for step in steps:
        if held and not (_alike(held[0], step) and _belongs(step.part, held[0].part, made)):
            yield Run(tuple(held))
            held, made = [], set()
        held.append(step)
        made |= {step.first, step.second}
    if held:
        yield Run(tuple(held))


def _alike(one: Step, other: Step) -> bool:
    first, second = one.cut, other.cut
    return (first.axis, first.stop, first.setting) == (second.axis, second.stop, second.setting)


def _belongs(part: Part, first: Part, made: set[Part | None]) -> bool:
    return part in made or _sides(part) == _sides(first)


def _sides(part: Part) -> Sides:
    return part.right - part.left, part.bottom - part.top


def _even(run: Run) -> Iterator[Run]:
    """Yield the run if all its parts are cut equally often, else what it has of such parts.

    Where parts take turns, these are cuts of parts of one size that follow one another.
    """
    often: Counter[Part] = Counter()
    origin: dict[Part | None, Part] = {}
    for step in run.steps:
        first = origin.setdefault(step.part, step.part)
        often[first] += 1
        origin[step.first] = origin[step.second] = first
    if len(set(often.values())) == 1:
        yield run
        return
    one_by_one = [first for first, _ in groupby(run.steps, key=lambda step: origin[step.part])]
    is_whole = len(one_by_one) == len(often)
    for _, equal in groupby(
        run.steps, key=lambda s: often[origin[s.part]] if is_whole else _sides(s.part)
    ):
        yield Run(tuple(equal))
