"""To what the stop is set, one setting after another: the shortest sequence that cuts everything.

A forest of tasks, each to be done at one of a few settings and after its parent. While the stop
stands, whatever can be cut at that setting is cut: it costs nothing, and only makes more parts.
So a sequence of settings says it all, and the question is for the shortest one, a kin of the
shortest common supersequence. It is found by A* (Hart, Nilsson & Raphael, 1968, "A formal basis
for the heuristic determination of minimum cost paths") over what remains to be cut; where that
would take too long, by keeping the most promising few at each length, and then the bound is what
A* had reached.
"""

from __future__ import annotations

import heapq
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

__all__ = [
    "MOST_LOOKS",
    "Forest",
    "ForestCut",
    "Found",
    "State",
    "Stop",
    "in_haste",
    "never",
    "shortened",
    "shortest",
    "shortest_of",
]

MOST_LOOKS = 600  # states that A* opens
WIDTH = 100  # states that are kept at each length where A* gives up
# Pairs of tasks compared, from which on A* gives up, and the few that are kept become two.
MOST_COMPARED = 500_000
MOST_VISITED = 3_000_000  # tasks visited to see which settings can be left out
Options = frozenset[int]
State = frozenset[int]
Path = tuple[int, ...]
Stop = Callable[[], bool]


def never() -> bool:
    """Return that nobody wants an end."""
    return False


class ForestCut(Exception):
    """Somebody wanted an end before the tasks were sorted."""


@dataclass(frozen=True, slots=True)
class Found:
    """A sequence of settings, a length that no sequence goes below, and others as short."""

    settings: Path
    lower_bound: int
    also: tuple[Path, ...] = ()


def shortest(
    options: Sequence[Options],
    parents: Sequence[int | None],
    rank: Mapping[int, int] | None = None,
    most_looks: int = MOST_LOOKS,
    stop: Stop = never,
) -> Found:
    """Return the shortest sequence of settings that does every task.

    Parameters
    ----------
    options
        The settings at which each task can be done; none at all for one that needs no stop.
    parents
        The task after which each can be done; it comes earlier in the list.
    rank
        Which settings come first where nothing else decides; smaller ones, if not given.
    stop
        Asked now and then whether to end with the best sequence so far.
    """
    try:
        return shortest_of(Forest(options, parents, rank or {}, stop), most_looks)
    except ForestCut:
        return in_haste(options, parents)


def shortest_of(forest: Forest, most_looks: int = MOST_LOOKS, known: Path = ()) -> Found:
    """Return the shortest sequence of settings that does every task of a forest.

    Parameters
    ----------
    known
        A sequence that may do every task: what is found is no longer then.

    Raises
    ------
    ForestCut
        If an end was wanted before there was any sequence.
    """
    trial = _Trial(forest)
    is_known = bool(known) and trial.does(known)
    first = _one_by_one(forest)
    ways = [trial.shortened(way) for way in ([first, known] if is_known else [first])]
    best, least = min(ways, key=len), forest.bound(forest.start)
    if len(best) == least:
        return _found(ways, least)
    found, least = _a_star(forest, len(best), most_looks)
    if found is not None:
        return Found(found, least)
    if least < len(best) and not is_known:
        ways.append(trial.shortened(_beam(forest, first)))
    return _found(ways, least)


def _found(ways: Sequence[Path], least: int) -> Found:
    shortest = min(map(len, ways))
    first, *also = dict.fromkeys(way for way in ways if len(way) == shortest)
    return Found(first, least, tuple(also))


def in_haste(options: Sequence[Options], parents: Sequence[int | None]) -> Found:
    """Return a sequence that takes, each time, the setting at which most tasks wait.

    It takes no longer than the tasks take to count, and is what is left where there is no time.
    """
    path = _most_first(options, parents)
    forced = {one for one in options if len(one) == 1}  # each of these must be made
    return Found(path, max(len(forced), min(1, len(path))))


def _most_first(options: Sequence[Options], parents: Sequence[int | None]) -> Path:
    below: list[list[int]] = [[] for _ in options]
    for task, above in enumerate(parents):
        if above is not None:
            below[above].append(task)
    waiting: dict[int, dict[int, None]] = {}
    path: list[int] = []
    ready = [task for task, above in enumerate(parents) if above is None]
    while True:
        while ready:
            task = ready.pop()
            if not options[task] or (path and path[-1] in options[task]):
                ready += below[task]
            for setting in options[task] if not path or path[-1] not in options[task] else ():
                waiting.setdefault(setting, {})[task] = None
        offered = [setting for setting, tasks in waiting.items() if tasks]
        if not offered:
            return tuple(path)
        path.append(max(offered, key=lambda one: (len(waiting[one]), -one)))
        for task in list(waiting[path[-1]]):
            for setting in options[task]:
                waiting[setting].pop(task)
            ready += below[task]


class Forest:
    """The tasks without those that come for free with others.

    Equal subtrees are one node, and a task that can always be done along with the one before it
    is none. A state is the set of nodes that can be done next.
    """

    def __init__(
        self,
        options: Sequence[Options],
        parents: Sequence[int | None],
        rank: Mapping[int, int],
        stop: Stop = never,
    ) -> None:
        self.stop = stop
        self.options: list[Options] = []
        self.below: list[State] = []
        self._rank = rank
        self._known: dict[tuple[Options, State], int] = {}
        self._blocks: list[dict[int, int]] = []
        self._choices: list[frozenset[Options]] = []
        self._forced: list[int] = []
        self._orders: list[dict[int, int]] = []
        self._bits: dict[int, int] = {}
        self._bounds: dict[State, int] = {}
        self.compared = 0
        self._implied: dict[tuple[int, int], bool] = {}
        children: list[set[int]] = [set() for _ in options]
        roots: set[int] = set()
        for task in range(len(options) - 1, -1, -1):
            if stop():
                raise ForestCut
            above = parents[task]
            node = self._node(options[task], children[task])
            (roots if above is None else children[above]).add(node)
        self.start = self.after(roots, None)

    def _node(self, options: Options, children: Iterable[int]) -> int:
        key = (options, self._needed(self._flat(options, children)))
        if key not in self._known:
            self._known[key] = len(self.options)
            self.options.append(options)
            self.below.append(key[1])
            self._blocks.append(self._counted(*key))
            below = (self._choices[child] for child in key[1])
            own = {options} if len(options) > 1 else set()
            self._choices.append(frozenset(own).union(*below))
            self._note_orders(*key)
        return self._known[key]

    def _note_orders(self, options: Options, below: State) -> None:
        """Note which settings a node forces, as bits, and which of them come after which."""
        after: dict[int, int] = {}
        forced = 0
        for child in below:
            forced |= self._forced[child]
            for setting, later in self._orders[child].items():
                after[setting] = after.get(setting, 0) | later
        if len(options) == 1:
            (own,) = options
            after[own] = after.get(own, 0) | forced
            forced |= self._bit(own)
        self._forced.append(forced)
        self._orders.append(after)

    def _bit(self, setting: int) -> int:
        return self._bits.setdefault(setting, 1 << len(self._bits))

    def _flat(self, options: Options, children: Iterable[int]) -> set[int]:
        """Return what remains below once all that can be done along with a task is done."""
        left: set[int] = set()
        waiting = list(children)
        while waiting:
            node = waiting.pop()
            if not self.options[node] or (options and options <= self.options[node]):
                waiting += self.below[node]
            else:
                left.add(node)
        return left

    def _counted(self, options: Options, below: State) -> dict[int, int]:
        """Return how often each setting must be made, at least, on some way down from a node."""
        found: dict[int, int] = {}
        for child in below:
            for setting, times in self._blocks[child].items():
                found[setting] = max(times, found.get(setting, 0))
        if len(options) == 1:
            (own,) = options
            found[own] = 1 + max((self._again(child, own) for child in below), default=0)
        return found

    def _again(self, node: int, setting: int) -> int:
        """Return how often `setting` must be made again from `node` on, the stop standing at it."""
        if setting in self.options[node]:
            return max((self._again(child, setting) for child in self.below[node]), default=0)
        return self._blocks[node].get(setting, 0)

    def _implies(self, one: int, other: int) -> bool:
        """Return whether every sequence that does `one` with all below it does `other` too."""
        key = (one, other)
        if key not in self._implied:
            self._implied[key] = one == other or self._covers(one, other)
        return self._implied[key]

    def _covers(self, one: int, other: int) -> bool:
        mine = self.options[one]
        # When `one` is done, so is `other`, if not before; what follows it must be implied.
        if (
            bool(mine)
            and mine <= self.options[other]
            and all(
                self._implies(one, after) or any(self._implies(b, after) for b in self.below[one])
                for after in self.below[other]
            )
        ):
            return True
        return any(self._implies(child, other) for child in self.below[one])

    def _needed(self, nodes: Iterable[int], among: Iterable[int] = ()) -> State:
        """Return the nodes without those that others imply; `among` have been looked at."""
        kept = sorted(among)
        for node in sorted(set(nodes).difference(kept)):
            self.compared += len(kept)
            if any(self._implies(other, node) for other in kept):
                continue
            kept = [other for other in kept if not self._implies(node, other)]
            kept.append(node)
        return frozenset(kept)

    def after(self, state: Iterable[int], setting: int | None) -> State:
        """Return what can be done next once all that can be is done at `setting`."""
        if setting is None:
            return self._needed(self._flat(frozenset(), state))
        done = [node for node in state if setting in self.options[node]]
        left = frozenset(state).difference(done)
        return self._needed(self._flat(frozenset((setting,)), done), left)

    def offered(self, state: State) -> list[int]:
        """Return the settings at which something can be done, those of first rank first."""
        found = {setting for node in state for setting in self.options[node]}
        return sorted(found, key=lambda setting: (self._rank.get(setting, 0), setting))

    def bound(self, state: State) -> int:
        """Return how many more settings it takes at least.

        Each setting counts as often as the longest way down must come back to it. Of settings
        that must come before one another in a circle, one must be made once more. Of the tasks
        with a choice of settings, none of them counted, those that share none take one each.
        """
        if state not in self._bounds:
            self._bounds[state] = self._bound(state)
        return self._bounds[state]

    def _bound(self, state: State) -> int:
        most: dict[int, int] = {}
        for node in state:
            for setting, times in self._blocks[node].items():
                most[setting] = max(times, most.get(setting, 0))
        met, more = set(most), 0
        choices = frozenset[Options]().union(*(self._choices[node] for node in state))
        for options in sorted(choices, key=sorted):
            if not options & met:
                met |= options
                more += 1
        # A circle of three is looked for among pairs, so that is what a bound costs.
        self.compared += len(state) + len(most) ** 2
        return sum(most.values()) + more + self._circles(state, most)

    def _circles(self, state: State, most: Mapping[int, int]) -> int:
        """Return how many circles of settings, none met twice, are in the way of each other.

        Only settings that count once are looked at. Circles of two and of three are found.
        """
        after: dict[int, int] = {}
        for node in state:
            for setting, later in self._orders[node].items():
                after[setting] = after.get(setting, 0) | later
        free = [setting for setting in sorted(most) if most[setting] == 1 and after.get(setting)]
        bits = self._bits
        taken: set[int] = set()
        found = 0
        for size in (2, 3):
            for one in free:
                if one not in taken:
                    circle = _circle(one, [s for s in free if s not in taken], after, bits, size)
                    taken.update(circle)
                    found += bool(circle)
        return found


def _circle(
    one: int, free: Sequence[int], after: Mapping[int, int], bits: Mapping[int, int], size: int
) -> tuple[int, ...]:
    """Return settings that come after one another and in the end before the first; or none."""
    nexts = [other for other in free if other != one and after[one] & bits[other]]
    if size == 2:
        return next(((one, other) for other in nexts if after[other] & bits[one]), ())
    lasts = [other for other in free if other != one and after[other] & bits[one]]
    pairs = ((other, last) for other in nexts for last in lasts if other != last)
    return next(((one, a, b) for a, b in pairs if after[a] & bits[b]), ())


def _one_by_one(forest: Forest) -> Path:
    """Return a sequence that takes, each time, the setting after which least is left to do."""
    state, path = forest.start, []
    while state:
        if forest.stop():
            raise ForestCut
        tried = [(setting, forest.after(state, setting)) for setting in forest.offered(state)]
        setting, state = min(tried, key=lambda pair: (forest.bound(pair[1]), len(pair[1])))
        path.append(setting)
    return tuple(path)


def _a_star(forest: Forest, known: int, most_looks: int) -> tuple[Path | None, int]:
    """Return a shortest sequence if it is under `known`, and a bound on its length."""
    start, most = forest.start, forest.compared + MOST_COMPARED
    heap: list[tuple[int, int, int, State, Path]] = [(forest.bound(start), 0, 0, start, ())]
    reached = {start: 0}
    count = looks = 0
    while heap:
        least, _, _, state, path = heapq.heappop(heap)
        if not state:
            return path, least
        if len(path) > reached[state]:
            continue
        if looks == most_looks or forest.compared > most or forest.stop():
            return None, least
        looks += 1
        for setting in forest.offered(state):
            after = forest.after(state, setting)
            length = len(path) + 1
            whole = max(least, length + forest.bound(after))
            if whole < known and length < reached.get(after, known):
                reached[after] = length
                count += 1
                heapq.heappush(heap, (whole, -length, count, after, (*path, setting)))
    return None, known


def shortened(forest: Forest, settings: Path) -> Path:
    """Return a sequence with settings left out, one after another, while others can do without.

    Of a setting that is made twice one may do at a place in between, and in place of a setting
    another one of its cuts may be made, so that this is not needed where it was.
    """
    return _Trial(forest).shortened(settings)


class _Trial:
    """Whether sequences of settings do everything in a forest, as long as a budget lasts."""

    def __init__(self, forest: Forest) -> None:
        self._forest, self._looks = forest, 0
        self._instead: dict[int, set[int]] = {}
        for options in set(forest.options):
            for setting in options:
                self._instead.setdefault(setting, set()).update(options - {setting})

    def shortened(self, settings: Path) -> Path:
        """Return a sequence with settings left out; see the function."""
        self._looks = 0
        for shorter_at in (_left_out_at, self._merged_at):
            place = idle = 0
            while idle < len(settings) and self._goes_on():
                better = next((one for one in shorter_at(settings, place) if self.does(one)), None)
                idle = idle + 1 if better is None else 0
                settings = settings if better is None else better
                place = (place + 1) % max(1, len(settings))
        return settings

    def _goes_on(self) -> bool:
        """Whether the budget lasts, and nobody wants an end."""
        return self._looks < MOST_VISITED and not self._forest.stop()

    def does(self, settings: Path) -> bool:
        """Return whether a sequence does everything, each node as soon as it can be done."""
        made: dict[int, list[int]] = {}
        for place, setting in enumerate(settings):
            made.setdefault(setting, []).append(place)
        never = len(settings)
        waiting = [(node, 0) for node in self._forest.start]
        met = set(waiting)
        self._looks += never
        while waiting and self._looks < MOST_VISITED:
            self._looks += 1
            node, begin = waiting.pop()
            places = (made.get(setting, ()) for setting in self._forest.options[node])
            done = min((_first_from(begin, one, never) for one in places), default=never)
            if done == never:
                return False
            after = {(child, done) for child in self._forest.below[node]} - met
            met |= after
            waiting += after
        return not waiting

    def _merged_at(self, settings: Path, place: int) -> Iterator[Path]:
        """Yield sequences with one setting less, another one taking over what it does."""
        setting = settings[place]
        before, after = settings[:place], settings[place + 1 :]
        yield (*before, *after)
        if setting in after:
            again = after.index(setting)
            for number in range(1, again):
                between = (*after[:number], setting, *after[number:again])
                yield (*before, *between, *after[again + 1 :])
        for other in sorted(self._instead.get(setting, ())):
            changed = (*before, other, *after)
            for number in [n for n, one in enumerate(settings) if one == other]:
                yield (*changed[:number], *changed[number + 1 :])


def _left_out_at(settings: Path, place: int) -> Iterator[Path]:
    yield (*settings[:place], *settings[place + 1 :])


def _first_from(begin: int, places: Sequence[int], never: int) -> int:
    """Return the first of some places from `begin` on."""
    number = bisect_left(places, begin)
    return places[number] if number < len(places) else never


def _beam(forest: Forest, known: Path) -> Path:
    """Return a sequence found by keeping the few most promising states at each length.

    If that is no shorter than the one known, it is that one.
    """
    most = forest.compared + MOST_COMPARED
    states: dict[State, Path] = {forest.start: ()}
    for _ in known:
        following: dict[State, Path] = {}
        for state, path in states.items():
            if forest.stop():
                return known
            for setting in forest.offered(state):
                after = forest.after(state, setting)
                if not after:
                    return (*path, setting)
                following.setdefault(after, (*path, setting))
        ranked = sorted(following, key=lambda state: (forest.bound(state), len(state)))
        width = WIDTH if forest.compared < most else 2
        states = {state: following[state] for state in ranked[:width]}
    return known
