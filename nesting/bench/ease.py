"""What a sequence of settings asks of the person: sides left over, quarter turns, and lifts.

Given the sequence, each cut is made as soon as the stop stands at its setting; what remains to be
chosen is its end. A cut set from one end or the other leaves other sides over, turns the part
otherwise, and is made sooner or later. Since a part's cuts matter to no other part, the best
ends are found by dynamic programming over the trees, from the last cuts up.

A sequence that is only begun is taken to go on with every setting at once; what comes of that is
a bound for all sequences that begin so.

A part is lifted onto the tool for each cut but one that follows the cut that made it, at the same
setting, or at any where there is one copy. Here only what follows at the same setting is counted;
what is spared where the stop moves in between is in `laying`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..plan.model import Edge
from .jobs import Job, children_of, quarters

__all__ = ["NEVER", "Chosen", "Ease", "Handling", "Table"]

# Sides, turns and lifts in one number, of which the first decide: quicker than tuples.
SIDE, TURN = 1 << 96, 1 << 48
NEVER = 1 << 200  # of what cannot be done
ROOT = -1
Path = tuple[int, ...]
Key = tuple[int, int]  # when the part is there, by the place in the sequence, and its cut's end


@dataclass(frozen=True, slots=True, order=True)
class Handling:
    """Sides left over, quarter turns and lifts, over all copies; compared in this order."""

    left_over: int
    turns: int
    lifts: int

    @property
    def number(self) -> int:
        """The three in one."""
        return self.left_over * SIDE + self.turns * TURN + self.lifts

    @staticmethod
    def of(number: int) -> Handling:
        """Return the three that `number` stands for."""
        left_over, rest = divmod(number, SIDE)
        return Handling(left_over, *divmod(rest, TURN))


@dataclass(frozen=True, slots=True)
class Chosen:
    """When a job is done, by the place in the sequence, the first being 1; and from which end.

    What needs no stop may be done at place 0, before the stop is set.
    """

    place: int
    end: int


@dataclass(frozen=True, slots=True)
class _Way:
    """One end of a job: what it costs before what follows.

    Attributes
    ----------
    cost
        By the end of the parent's cut; -1 for none.
    """

    setting: int | None
    cost: dict[int, int]


class Ease:
    """The least handling of a board's jobs for one sequence of settings after another.

    A layout's cuts matter to no other layout, and to them only its own settings matter: where a
    sequence differs from an earlier one in others, what is known of the layout still holds.

    Attributes
    ----------
    looks
        How many jobs were looked at so far.
    """

    def __init__(self, jobs: Sequence[Job]) -> None:
        self.jobs = jobs
        self.below = children_of(jobs)
        self._ways = [self._ways_of(job) for job in jobs]
        self._trees = _trees(jobs)
        self._settings = [
            frozenset[int]().union(*(jobs[number].task.settings for number in tree))
            for tree in self._trees
        ]
        self._known: list[dict[tuple[Path, bool], int]] = [{} for _ in self._trees]
        self.looks = 0

    def _ways_of(self, job: Job) -> tuple[_Way, ...]:
        lies = {ROOT: Edge.LEFT}
        if job.parent is not None:
            lies = {n: end.edge for n, end in enumerate(self.jobs[job.parent].task.ends)}
        return tuple(
            _Way(
                end.setting if job.task.by_stop else None,
                {
                    above: job.copies * (end.left_over * SIDE + quarters(edge, end.edge) * TURN + 1)
                    for above, edge in lies.items()
                },
            )
            for end in job.task.ends
        )

    def least(self, settings: Path, *, whole: bool = True) -> int:
        """Return the least handling as one number; `NEVER` if not everything can be done.

        Parameters
        ----------
        whole
            Whether the sequence ends there; if not, any setting may follow.
        """
        trees = range(len(self._trees))
        return min(NEVER, sum(self._least_of(tree, settings, whole=whole) for tree in trees))

    def _least_of(self, tree: int, settings: Path, *, whole: bool) -> int:
        """Return the least handling of one tree."""
        able, known = self._settings[tree], self._known[tree]
        own = tuple(setting for setting in settings if setting in able)
        found = known.get((own, whole))
        if found is None:
            numbers = self._trees[tree]
            self.looks += len(numbers)
            table = Table(self, own, whole=whole, numbers=numbers)
            found = known[own, whole] = table.values[numbers[0]][0, ROOT][0]
        return found

    def chosen(self, settings: Path) -> list[Chosen]:
        """Return when and from which end each job is done for the least handling."""
        return Table(self, settings, whole=True).chosen()

    def ways(self, number: int) -> tuple[_Way, ...]:
        """Return the ends of a job."""
        return self._ways[number]


def _trees(jobs: Sequence[Job]) -> list[list[int]]:
    """Return the jobs of each source, each after the one that makes its part."""
    trees: dict[int, list[int]] = {}
    root: list[int] = []
    for number, job in enumerate(jobs):
        root.append(number if job.parent is None else root[job.parent])
        trees.setdefault(root[-1], []).append(number)
    return list(trees.values())


class Table:
    """What each job and all below it cost, by when its part is there and how it lies.

    Parameters
    ----------
    numbers
        Which jobs: all of a tree, or of several; every one where not given.

    Attributes
    ----------
    values
        For each job and key, the least; and the least where it follows the cut that made its part.
    """

    def __init__(
        self, ease: Ease, settings: Path, *, whole: bool, numbers: Sequence[int] | None = None
    ) -> None:
        self._ease, self._settings = ease, settings
        self._numbers = range(len(ease.jobs)) if numbers is None else numbers
        self._later = None if whole else len(settings) + 1
        self._when: dict[tuple[int | None, int], int | None] = {}
        self.values: dict[int, dict[Key, tuple[int, int]]] = {one: {} for one in self._numbers}
        self._best: dict[int, dict[Key, tuple[int, int]]] = {one: {} for one in self._numbers}
        keys = self._keys()
        for number in reversed(self._numbers):
            for key in keys[number]:
                self._fill(number, key)

    def _keys(self) -> dict[int, set[Key]]:
        """Return for each job when and how its part may come to be there."""
        jobs, below = self._ease.jobs, self._ease.below
        keys: dict[int, set[Key]] = {
            one: {(0, ROOT)} if jobs[one].parent is None else set() for one in self._numbers
        }
        for number in self._numbers:
            if below[number]:
                after = {
                    (done, end)
                    for place, _ in keys[number]
                    for end, way in enumerate(self._ease.ways(number))
                    if (done := self.when(way.setting, place)) is not None
                }
                for child in below[number]:
                    keys[child] = after
        return keys

    def when(self, setting: int | None, place: int) -> int | None:
        """Return at which place a setting is first made, from `place` on; None for never."""
        if setting is None:
            return place
        key = (setting, place)
        if key not in self._when:
            begin = max(place, 1) - 1
            later = (n for n in range(begin, len(self._settings)) if self._settings[n] == setting)
            found = next(later, None)
            self._when[key] = self._later if found is None else found + 1
        return self._when[key]

    def _fill(self, number: int, key: Key) -> None:
        place, above = key
        best = same = NEVER
        end_best = end_same = 0
        for end, way in enumerate(self._ease.ways(number)):
            done = self.when(way.setting, place)
            if done is None:
                continue
            cost = way.cost[above] + self._after(number, (done, end))
            if cost < best:
                best, end_best = cost, end
            if cost < same and self.stays(number, key, way.setting, done):
                same, end_same = cost, end
        self.values[number][key] = best, same
        self._best[number][key] = end_best, end_same

    def stays(self, number: int, key: Key, setting: int | None, done: int) -> bool:
        """Return whether a job done at `done` may follow at once the cut that made its part."""
        place, above = key
        job = self._ease.jobs[number]
        if job.parent is None or place != done:
            return False
        before = self._ease.ways(job.parent)[above].setting
        if place == self._later and None not in (before, setting):
            return before == setting
        return job.copies == 1 or (before is None) == (setting is None)

    def _after(self, number: int, key: Key) -> int:
        """Return what the jobs after this one cost; one of them may follow at once."""
        cost = spared = 0
        copies = self._ease.jobs[number].copies
        for child in self._ease.below[number]:
            best, same = self.values[child][key]
            cost += best
            spared = max(spared, copies - (same - best))
        return cost - spared if cost < NEVER else NEVER

    def chosen(self) -> list[Chosen]:
        """Return the best choice for every job."""
        found = [Chosen(0, 0)] * len(self._ease.jobs)
        follows: dict[int, bool] = {}
        keys: dict[int, Key] = {}
        for number, job in enumerate(self._ease.jobs):
            key = keys.get(number, (0, ROOT))
            end = self._best[number][key][1 if follows.get(number) else 0]
            place = self.when(self._ease.ways(number)[end].setting, key[0])
            assert place is not None, "a sequence that does everything is asked for"
            found[number] = Chosen(place, end)
            after = (place, end)
            keys.update(dict.fromkeys(self._ease.below[number], after))
            first = self._first_of(number, after, job.copies)
            if first is not None:
                follows[first] = True
        return found

    def _first_of(self, number: int, key: Key, copies: int) -> int | None:
        """Return the job that follows at once, as `_after` reckons."""
        most, first = 0, None
        for child in self._ease.below[number]:
            best, same = self.values[child][key]
            if copies - (same - best) > most:
                most, first = copies - (same - best), child
        return first
