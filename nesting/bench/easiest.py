"""Of the shortest sequences of settings, the one that leaves least over and asks least handling.

Sequences are tried depth first, the most promising first, and given up where what they begin
with cannot end better than the best one known: branch and bound (Land & Doig, 1960, "An automatic
method of solving discrete programming problems"; from memory). On a few cuts every row is tried.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..plan.model import Edge
from .ease import NEVER, TURN, Ease, Handling
from .exact import best_row
from .jobs import Job, children_of, quarters
from .laying import Made, handled, handling, in_a_row
from .sequence import Forest, Found, State, shortened

__all__ = ["Easiest", "easiest", "exchanged", "swapped"]

MOST_SWAPPED = 10_000  # jobs times sequences tried
# Jobs looked at; of a sequence's layouts those that it puts in an order not met before.
MOST_IMPROVED = 100_000
MOST_TRIED, A_STATE = 30_000, 30  # a state counts as so many
FEW = 12  # jobs, up to which every row is tried
MOST_LOOKS = 2_000
Path = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Easiest:
    """The jobs in order, and what no order with as few settings goes below.

    Attributes
    ----------
    least
        Of sides left over; of turns where as few are left over; of lifts where there are as few
        of both.
    """

    made: list[Made]
    least: Handling


def easiest(
    jobs: Sequence[Job],
    forest: Forest | None,
    found: Found,
    *,
    is_shortest: bool,
    in_depth: bool = True,
) -> Easiest:
    """Return the jobs in the order of least handling.

    Parameters
    ----------
    forest
        The jobs as tasks; None where there was no time to sort them.
    found
        Sequences of settings that do everything.
    is_shortest
        Whether there is surely no shorter one.
    in_depth
        Whether other sequences as short are looked through, and not only what is near those found.
    """
    ease = Ease(jobs)
    searches = [_Search(ease, one, forest) for one in (found.settings, *found.also)]
    for one in searches:
        if forest is not None and not one.is_settled:
            one.swap()
    search = min(searches, key=lambda one: one.found)
    if forest is None:
        return Easiest(search.made, search.bound)
    if is_shortest and in_depth and not search.is_settled:
        search.branch()
        search.swap()
        if len(jobs) <= FEW and not search.is_settled:
            search.try_every_row()
    shorter = search.settings if is_shortest else shortened(forest, search.settings)
    if len(shorter) < len(search.settings):
        return easiest(jobs, forest, Found(shorter, found.lower_bound), is_shortest=False)
    return Easiest(search.made, search.bound)


class _Search:
    """Looks for less handling.

    Attributes
    ----------
    settings, made, found
        The best so far, one setting after another and job by job; and what it comes to.
    bound
        What nothing goes below.
    """

    def __init__(self, ease: Ease, settings: Path, forest: Forest | None) -> None:
        self._jobs, self._forest = ease.jobs, forest
        self._ease = ease
        self._least = NEVER
        self._tried = 0
        self.settings = settings
        self.made: list[Made] = []
        self._take(settings)
        self.found = handling(self.made)
        root = self._ease.least((), whole=False)
        self.bound = self._bounded(root, settled=False)

    @property
    def is_settled(self) -> bool:
        """Whether nothing can be better."""
        return self.found == self.bound

    def _stops(self, most: int) -> bool:
        self._tried += len(self._jobs)
        return self._tried > most or (self._forest is not None and self._forest.stop())

    def _is_over(self, most: int) -> bool:
        """Whether more jobs were looked at than `most`, or someone asked to end."""
        return self._ease.looks > most or (self._forest is not None and self._forest.stop())

    def _take(self, settings: Path) -> bool:
        """Return whether a sequence of settings is better than the best so far, and keep it."""
        number = self._ease.least(settings)
        if number >= NEVER:
            return False
        self._least = min(number, self._least)
        if self.made and number // TURN > self.found.number // TURN:
            return False
        made = in_a_row(self._jobs, self._ease.chosen(settings))
        found = handling(made)
        if self.made and found >= self.found:
            return False
        self.made, self.found, self.settings = made, found, settings
        return True

    def _bounded(self, number: int, *, settled: bool) -> Handling:
        """Return the bound that `number`, the least without parts that stay in between, shows."""
        least = Handling.of(number)
        spared = self._may_stay()
        if not settled and least.left_over < self.found.left_over:
            return Handling(least.left_over, self._fewest_turns(), self._fewest_lifts())
        if not settled and least.turns < self.found.turns:
            return Handling(least.left_over, least.turns, self._fewest_lifts())
        lifts = max(least.lifts - spared, self._fewest_lifts())
        return Handling(least.left_over, least.turns, lifts)

    def _may_stay(self) -> int:
        """Return how many parts of single copies may stay on the tool while the stop moves."""
        below = children_of(self._jobs)
        single = [
            (job.task.by_stop, [self._jobs[child].task.by_stop for child in below[number]])
            for number, job in enumerate(self._jobs)
            if job.copies == 1 and below[number]
        ]
        moves = max(0, len(self.settings) - 1)
        marked = sum(1 for by_stop, after in single if not by_stop and any(after))
        return min(moves, len(single)) + marked

    def _fewest_turns(self) -> int:
        """Return the fewest quarter turns, whatever is left over."""
        least: dict[tuple[int, Edge], int] = {}
        below = children_of(self._jobs)
        for number in range(len(self._jobs) - 1, -1, -1):
            job = self._jobs[number]
            after = {
                end.edge: sum(least[child, end.edge] for child in below[number])
                for end in job.task.ends
            }
            for lies in Edge:
                least[number, lies] = min(
                    job.copies * quarters(lies, edge) + rest for edge, rest in after.items()
                )
        return sum(least[n, Edge.LEFT] for n, job in enumerate(self._jobs) if job.parent is None)

    def _fewest_lifts(self) -> int:
        """Return how often parts are lifted at least, each staying once if it may at all."""
        below = children_of(self._jobs)
        lifts = 0
        for number, job in enumerate(self._jobs):
            after = [self._jobs[child].task for child in below[number]]
            alike = (
                one.settings & job.task.settings or not (one.by_stop or job.task.by_stop)
                for one in after
            )
            stays = any(alike) if job.copies > 1 else bool(after)
            lifts += 0 if stays else job.copies
        return lifts

    def swap(self) -> None:
        """Exchange and swap settings as long as that is better.

        One is exchanged for that of the other end of a cut, or with the next in the sequence.
        First that is done place by place where it leaves fewer sides over or takes fewer turns,
        which a look at the layouts concerned tells; then wherever it may take fewer lifts.
        """
        self._improve()
        self._tried = 0
        better = True
        while better and not self.is_settled:
            better = False
            others = exchanged(self.settings, self._jobs)
            for settings in [*others, *swapped(self.settings)]:
                if self._stops(MOST_SWAPPED):
                    return
                if self._take(settings):
                    better = True
                    break

    def _improve(self) -> None:
        """Change settings, one place after another, until none is left that helps."""
        instead = _instead(self._jobs)
        settings, least = self.settings, self._least
        place = idle = 0
        most = self._ease.looks + MOST_IMPROVED
        while idle < len(settings) and not self._is_over(most):
            for other in _changed_at(settings, place, instead):
                number = self._ease.least(other)
                if number // TURN < least // TURN:
                    settings, least, idle = other, number, 0
                    break
            else:
                idle += 1
            place = (place + 1) % len(settings)
        self._take(settings)

    def branch(self) -> None:
        """Try every sequence of that length which may be better; the bound then is what is."""
        assert self._forest is not None
        most = self._ease.looks + MOST_TRIED
        waiting: list[tuple[Path, State]] = [((), self._forest.start)]
        while waiting:
            path, state = waiting.pop()
            if not state:
                self._take(path)
                continue
            offered = list(self._offered(path, state))
            most -= A_STATE
            if self._is_over(most):
                return
            waiting += [
                (after, left) for _, after, left in sorted(offered, key=_first, reverse=True)
            ]
        self.bound = self._bounded(self._least, settled=True)

    def _offered(self, path: Path, state: State) -> Iterator[tuple[int, Path, State]]:
        """Yield how a sequence may go on, with the least that may come of it."""
        assert self._forest is not None
        for setting in self._forest.offered(state):
            after = (*path, setting)
            left = self._forest.after(state, setting)
            if len(after) + self._forest.bound(left) <= len(self.settings):
                least = self._ease.least(after, whole=not left)
                if least < self._least:
                    yield least, after, left

    def try_every_row(self) -> None:
        """Try the cuts one by one."""
        assert self._forest is not None
        tried = best_row(
            self._jobs, len(self.settings), self.found.number, MOST_LOOKS, self._forest.stop
        )
        if tried.row is not None:
            self.made = handled(self._jobs, tried.row)
            self.found = handling(self.made)
        if tried.is_sure:
            self.bound = self.found


def _first(offer: tuple[int, Path, State]) -> int:
    return offer[0]


def exchanged(settings: Path, jobs: Sequence[Job]) -> Iterator[Path]:
    """Yield sequences in which one setting is another of the cuts that it serves."""
    instead = _instead(jobs)
    for place in range(len(settings)):
        yield from _exchanged_at(settings, place, instead)


def _instead(jobs: Sequence[Job]) -> dict[int, dict[int, None]]:
    """Return by setting the others of the cuts that it serves."""
    instead: dict[int, dict[int, None]] = {}
    for alike in dict.fromkeys(job.task.settings for job in jobs):
        for setting in alike:
            instead.setdefault(setting, {}).update(dict.fromkeys(sorted(alike - {setting})))
    return instead


def _exchanged_at(
    settings: Path, place: int, instead: Mapping[int, Iterable[int]]
) -> Iterator[Path]:
    for other in instead.get(settings[place], ()):
        if other not in settings[max(0, place - 1) : place + 2]:
            yield (*settings[:place], other, *settings[place + 1 :])


def swapped(settings: Path) -> Iterator[Path]:
    """Yield sequences in which two settings that follow one another are swapped."""
    for place in range(len(settings) - 1):
        yield _swapped_at(settings, place)


def _swapped_at(settings: Path, place: int) -> Path:
    one, other = settings[place : place + 2]
    return (*settings[:place], other, one, *settings[place + 2 :])


def _changed_at(settings: Path, place: int, instead: Mapping[int, Iterable[int]]) -> Iterator[Path]:
    """Yield sequences with another setting at a place, or with that one put after the next."""
    yield from _exchanged_at(settings, place, instead)
    if place + 1 < len(settings):
        yield _swapped_at(settings, place)
