"""Parallel cuts of a part in whatever order: of a few cuts, the order that none beats.

A tree says which cut divides a part first. Of cuts that run side by side any may be the first, and
what each is set to depends on which strips still hang together. Here all such orders are looked
through, for all layouts of a board together, by A* (Hart, Nilsson & Raphael 1968, "A formal basis
for the heuristic determination of minimum cost paths") over the runs of strips that are not
divided yet: fewest settings first, then fewest sides of pieces left over.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count
from typing import TYPE_CHECKING

from ..plan.model import Axis
from ..plan.trees import CutNode, PieceNode
from .work import FAR, NEAR, End, ends_of

if TYPE_CHECKING:
    from ..plan.trees import DraftLayout, Node
    from .ordered import Bench
    from .work import Task, Work

__all__ = ["Regrouped", "regrouped"]

# Cuts of a board up to which all orders are looked through, and how many states at most.
MOST_CUTS, MOST_LOOKS = 20, 400
SETTING = 1 << 40  # what a setting costs beside sides left over
Run = tuple[int, int, int]  # a comb, and from which of its strips on to before which
Way = tuple[int, int | None, int]  # after which strip, the stop's setting, sides left over
State = tuple[frozenset[Run], int | None]  # what is to be divided, and the setting
Move = tuple[Run, int]


@dataclass(frozen=True, slots=True)
class Regrouped:
    """The drawings with their parallel cuts in the best order.

    Attributes
    ----------
    settings, left_over
        The fewest settings that any order of these cuts needs, and the fewest sides of pieces that
        are left over with so many.
    """

    drafts: list[DraftLayout]
    settings: int
    left_over: int


@dataclass(frozen=True, slots=True)
class _Comb:
    """A part that parallel cuts divide into strips, some of which are combs again.

    Attributes
    ----------
    strips
        None where bands meet, or the last one leaves nothing.
    low, high
        Where each strip begins and ends on the axis.
    below
        The comb that a strip is, or None.
    sides
        How many sides of pieces each strip's own length is, over all copies.
    is_rough
        Whether it ends at an edge that nothing is to be set from.
    """

    node: CutNode
    strips: Sequence[Node | None]
    low: Sequence[int]
    high: Sequence[int]
    below: Sequence[int | None]
    sides: Sequence[int]
    is_rough: bool


def regrouped(
    drafts: Sequence[DraftLayout], bench: Bench, known: tuple[int, int], stop: Callable[[], bool]
) -> Regrouped | None:
    """Return the drawings cut in the best order; None if that would take too long to find.

    Parameters
    ----------
    known
        The settings and sides left over of the best order known of the drawings as they are; they
        stay as they are if nothing is better.
    """
    works = [bench.work_of(draft) for draft in drafts]
    if sum(len(work.tasks) for work in works) > MOST_CUTS:
        return None
    if not all(_are_first(work.tasks) for work in works):
        return None
    search = _Search(_Combs(drafts, works, bench), stop)
    settings, left_over = known
    found = search.better(settings * SETTING + left_over)
    return Regrouped(list(drafts), *known) if found is None and search.is_sure else found


def _are_first(tasks: Sequence[Task]) -> bool:
    """Whether all trims come before the other cuts; edges longer than the tool cuts do not."""
    trims = sum(task.is_trim for task in tasks)
    return all(task.is_trim for task in tasks[:trims])


class _Combs:
    """The drawings' parts with parallel cuts, and the ways to cut them.

    The trims of a drawing are runs as well, of a comb below zero: one trim before the other, and
    all before the drawing's own cuts.
    """

    def __init__(self, drafts: Sequence[DraftLayout], works: Sequence[Work], bench: Bench) -> None:
        self._drafts, self._bench = drafts, bench
        self._combs: list[_Comb] = []
        self._roots = [self._built(draft.root, draft) for draft in drafts]
        self._trims = [[task for task in work.tasks if task.is_trim] for work in works]
        self._known: dict[Run, tuple[Way, ...]] = {}
        self._forced: dict[Run, frozenset[int]] = {}
        self._left: dict[Run, int] = {}

    def _built(self, node: Node | None, draft: DraftLayout) -> int | None:
        """Take up a part's combs, those within it first; return its own number, if it is one."""
        if not isinstance(node, CutNode):
            return None
        axis, kerf = node.axis, self._bench.tool.kerf
        strips, bands = _strips(node, axis)
        begin, length = (node.x, node.width) if axis is Axis.X else (node.y, node.height)
        comb = _Comb(
            node,
            strips,
            (begin, *(at + kerf for at in bands)),
            (*bands, begin + length),
            [self._built(one, draft) for one in strips],
            [_spanned(one, axis) * draft.copies for one in strips],
            begin + length == self._bench.unset_ends(draft).get(axis),
        )
        self._combs.append(comb)
        return len(self._combs) - 1

    def first(self) -> frozenset[Run]:
        """Return what is to be divided first of each drawing."""
        whole = [self._of_drawing(number, 0) for number in range(len(self._drafts))]
        return frozenset().union(*whole)

    def _of_drawing(self, number: int, trimmed: int) -> frozenset[Run]:
        if trimmed < len(self._trims[number]):
            return frozenset([(-1 - number, trimmed, trimmed)])
        return self._of_comb(self._roots[number])

    def _of_comb(self, number: int | None) -> frozenset[Run]:
        if number is None:
            return frozenset()
        return frozenset([(number, 0, len(self._combs[number].strips))])

    def is_single(self, run: Run) -> bool:
        """Whether there is but one cut to make of it."""
        return run[0] < 0 or run[2] - run[1] == 2

    def ways(self, run: Run) -> tuple[Way, ...]:
        """Return the ways to cut a run of strips once; a setting is None without the stop."""
        if run not in self._known:
            self._known[run] = tuple(self._ways(run))
        return self._known[run]

    def _ways(self, run: Run) -> Iterator[Way]:
        number, begin, end = run
        if number < 0:
            task = self._trims[-1 - number][begin]
            copies = self._drafts[-1 - number].copies
            for one in task.ends:
                yield begin, one.setting if task.by_stop else None, one.left_over * copies
            return
        comb = self._combs[number]
        low, high, kerf = comb.low[begin], comb.high[end - 1], self._bench.tool.kerf
        for last in range(begin, end - 1):
            if comb.strips[last + 1] is None and last < end - 2:
                continue  # nothing is shaved off a part's near edge
            at = comb.high[last]
            near = comb.sides[begin] if last == begin else 0
            far = comb.sides[end - 1] if last == end - 2 else 0
            ends, by_stop = ends_of(
                self._bench.tool,
                (self._bench.finest, self._bench.reach),
                End(NEAR[comb.node.axis], at - low, far),
                End(FAR[comb.node.axis], high - at - kerf, near),
                rough=comb.is_rough and end == len(comb.strips),
            )
            for one in ends:
                yield last, one.setting if by_stop else None, one.left_over

    def after(self, run: Run, last: int) -> frozenset[Run]:
        """Return what is to be divided of a run that was cut after one of its strips."""
        number, begin, end = run
        if number < 0:
            return self._of_drawing(-1 - number, begin + 1)
        halves = ((number, begin, last + 1), (number, last + 1, end))
        below = self._combs[number].below
        return frozenset().union(
            *(
                frozenset([half]) if half[2] - half[1] > 1 else self._of_comb(below[half[1]])
                for half in halves
            )
        )

    def forced(self, run: Run) -> frozenset[int]:
        """Return settings that dividing a run, and what is in it, cannot do without."""
        if run not in self._forced:
            settings = {setting for _, setting, _ in self.ways(run)}
            own = settings if self.is_single(run) and len(settings) == 1 else set()
            forced = frozenset(one for one in own if one is not None)
            self._forced[run] = forced.union(*map(self.forced, self._within(run)))
        return self._forced[run]

    def left_over(self, run: Run) -> int:
        """Return how many sides dividing a run, and what is in it, leaves over at least.

        Each cut sets one part by the stop, so that of the strips one at least is left.
        """
        if run not in self._left:
            number, begin, end = run
            own = (
                min(left_over for _, _, left_over in self.ways(run))
                if number < 0
                else min(self._combs[number].sides[begin:end])
            )
            self._left[run] = own + sum(map(self.left_over, self._within(run)))
        return self._left[run]

    def _within(self, run: Run) -> frozenset[Run]:
        """Return what is to be divided once a run is, or is trimmed."""
        number, begin, end = run
        if number < 0:
            return self._of_drawing(-1 - number, begin + 1)
        return frozenset().union(*map(self._of_comb, self._combs[number].below[begin:end]))

    def drawn(self, cuts: Mapping[Run, int]) -> list[DraftLayout]:
        """Return the drawings with each run cut after the strip that is said."""
        return [
            draft if root is None else replace(draft, root=self._whole(root, cuts))
            for draft, root in zip(self._drafts, self._roots, strict=True)
        ]

    def _whole(self, number: int, cuts: Mapping[Run, int]) -> Node:
        made = self._drawn((number, 0, len(self._combs[number].strips)), cuts)
        assert made is not None
        return made

    def _drawn(self, run: Run, cuts: Mapping[Run, int]) -> Node | None:
        number, begin, end = run
        comb = self._combs[number]
        if end - begin == 1:
            below = comb.below[begin]
            return comb.strips[begin] if below is None else self._whole(below, cuts)
        last = cuts[run]
        first = self._drawn((number, begin, last + 1), cuts)
        second = self._drawn((number, last + 1, end), cuts)
        assert first is not None
        low, length = comb.low[begin], comb.high[end - 1] - comb.low[begin]
        whole = replace(comb.node, at=comb.high[last], first=first, second=second)
        if comb.node.axis is Axis.X:
            return replace(whole, x=low, width=length)
        return replace(whole, y=low, height=length)


class _Search:
    def __init__(self, combs: _Combs, stop: Callable[[], bool]) -> None:
        self._combs, self._stop, self.is_sure = combs, stop, True
        # By state: the one before, and what was cut between.
        self._came: dict[State, tuple[State | None, tuple[Move, ...]]] = {}

    def better(self, known: int) -> Regrouped | None:
        """Return the drawings cut in the best order; None if there is none, or not soon found.

        `is_sure` says afterwards whether there is none that costs less than `known`.
        """
        cost, moves, first = self._settled((self._combs.first(), None))
        self._came[first] = None, moves
        reached, number, looks = {first: cost}, count(), 0
        heap = [(cost + self._ahead(first), next(number), cost, first)]
        while heap:
            ahead, _, cost, state = heapq.heappop(heap)
            if ahead >= known:
                return None
            if cost > reached[state]:
                continue
            if not state[0]:
                drafts = self._combs.drawn(dict(self._moves(state)))
                return Regrouped(drafts, *divmod(cost, SETTING))
            looks += 1
            if looks > MOST_LOOKS or self._stop():
                self.is_sure = False
                return None
            for price, moves, after in self._steps(state):
                whole = cost + price
                ahead = whole + self._ahead(after)
                if ahead < known and whole < reached.get(after, known):
                    reached[after] = whole
                    self._came[after] = state, moves
                    heapq.heappush(heap, (ahead, next(number), whole, after))
        return None

    def _ahead(self, state: State) -> int:
        """Return what is still to be paid at least."""
        forced = frozenset().union(*map(self._combs.forced, state[0]))
        sides = sum(map(self._combs.left_over, state[0]))
        return len(forced - {state[1]}) * SETTING + sides

    def _steps(self, state: State) -> Iterator[tuple[int, tuple[Move, ...], State]]:
        """Yield what one cut more costs, what is cut, and what there is then."""
        runs, setting = state
        for run in sorted(runs):
            for last, needed, left_over in self._combs.ways(run):
                now = setting if needed is None else needed
                price = left_over + (SETTING if now != setting else 0)
                left = (runs - {run}) | self._combs.after(run, last)
                more, moves, after = self._settled((left, now))
                yield price + more, ((run, last), *moves), after

    def _settled(self, state: State) -> tuple[int, tuple[Move, ...], State]:
        """Make the cuts that cost nothing now and could not be made better later."""
        runs, setting = state
        cost, moves, waiting = 0, [], sorted(runs)
        while waiting:
            run = waiting.pop()
            if not self._combs.is_single(run):
                continue
            ways = self._combs.ways(run)
            least = min(left_over for _, _, left_over in ways)
            if any(now in (None, setting) and left == least for _, now, left in ways):
                cost += least
                after = self._combs.after(run, ways[0][0])
                moves.append((run, ways[0][0]))
                runs = (runs - {run}) | after
                waiting += sorted(after)
        return cost, tuple(moves), (runs, setting)

    def _moves(self, state: State | None) -> Iterator[Move]:
        while state is not None:
            state, moves = self._came[state]
            yield from moves


def _spanned(node: Node | None, axis: Axis) -> int:
    """Return how many pieces take their size along an axis from a part."""
    if isinstance(node, CutNode):
        return 0 if node.axis is axis else _spanned(node.first, axis) + _spanned(node.second, axis)
    return int(isinstance(node, PieceNode))


def _strips(node: Node | None, axis: Axis) -> tuple[list[Node | None], list[int]]:
    """Return the strips of a part on an axis, and where the bands between them begin."""
    strips: list[Node | None] = []
    bands: list[int] = []
    while isinstance(node, CutNode) and node.axis is axis:
        before, inner = _strips(node.first, axis)
        strips += before
        bands += [*inner, node.at]
        node = node.second
    return [*strips, node], bands
