"""Whole plans by diving: fix what the master uses whole, price again for what is left.

After Vanderbeck (2000), On Dantzig-Wolfe decomposition in integer programming and ways to perform
branching in a branch-and-price algorithm (from memory): round, solve the residual anew, repeat.
Only proper layouts take part, those that make no more of a type than is still wanted; a layout
that has come to make too much takes part without the surplus.
"""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from .choice import Choice
from .columns import ProperColumns
from .fill import corrected, fill, fill_seconds
from .layouts import Layout, Place, sheets_filled, used_area
from .legal import legal
from .recreate import cheaper, is_soon_put_together, put_together
from .remains import slimmed
from .tidy import thinned

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .running import Budget

__all__ = ["dive", "without"]

MOST_PRICINGS, MOST_PRICINGS_BEYOND, LOOKS_SHARE = 6, 12, 0.1
# Where the master says too much, a pricing more for so many types.
MANY_MORE = 4
# How few sheets are left when they are filled; more where a plan may waste a whole sheet more.
FILL_FROM_SHEETS, ROOMY, FILL_AGAIN = 6, 5, 0.5
FILL_POWERS = (1.02, 1.1, 1.0)
KEEPS = 0.8
STRAYS = 4
# If it is to price seldom: where a pricing for each sheet would take more than this share of the
# budget, the first master is priced for so much of it, and those below only where, with the layouts
# known, what is fixed would cost more by this share of what it still may.
DEAR_SHARE, ROOT_SHARE, SLACK_SHARE = 0.6, 0.5, 0.2
RECREATE_SECONDS = 0.05
MOST_MISSES, MOST_TRIES = 12, 3
SAME = 1e-6


@dataclass(slots=True)
class _Node:
    """A part of a plan that is fixed, and what is left to plan.

    Attributes
    ----------
    left
        The instance that remains.
    layouts
        To start the master from.
    total
        What is fixed and the master's optimum for what is left, in its unit; as the node before
        it until it is priced.
    columns
        The master of what is left, once priced.
    taken
        What was fixed last for a node below.
    barred
        Layouts not to fix here again.
    filled_at
        How much was left, in sheets, when it was last filled on the way here.
    put_at
        The same when it was last put together piece by piece.
    """

    left: Instance
    fixed: dict[Layout, int]
    layouts: list[Layout]
    total: float
    filled_at: float = math.inf
    put_at: float = math.inf
    columns: ProperColumns | None = None
    taken: dict[Layout, int] = field(default_factory=dict)
    barred: set[Layout] = field(default_factory=set)

    @property
    def sheets_left(self) -> float:
        """How many of the largest sheet what is left would fill."""
        return sheets_filled(self.left)

    def below(self, taken: dict[Layout, int], layouts: list[Layout], left: Instance) -> _Node:
        """Return the node where `taken` is fixed too."""
        fixed = dict(self.fixed)
        for layout, copies in taken.items():
            fixed[layout] = fixed.get(layout, 0) + copies
        self.taken = taken
        return _Node(left, fixed, layouts, self.total, self.filled_at, self.put_at)

    def with_rest(self, rest: Choice) -> Choice:
        """Return what is fixed with `rest` for what is left."""
        total = dict(self.fixed)
        for layout, copies in rest.copies.items():
            total[layout] = total.get(layout, 0) + copies
        return Choice(total)


def dive(
    instance: Instance,
    grid: Grid,
    pool: Iterable[Layout],
    whole: int,
    most: int,
    budget: Budget,
    values: Sequence[float],
    seed: int = 0,
    *,
    seldom: bool = False,
) -> tuple[Choice | None, list[Layout]]:
    """Return a whole plan, or None, and the layouts met on the way.

    Parameters
    ----------
    pool
        Layouts to start from.
    whole
        The dearest source's cost.
    most
        What the plan may cost; where the master shows that it would cost more, the dive goes back.
    values
        Piece values for filling what is left at the end.
    seed
        With 0 the most used layout is fixed each time; other seeds stray from that, each its own
        way.
    seldom
        Whether to go by layouts already known, where pricing for each sheet would take too much of
        the budget.
    """
    # Chance decides where to look, not what is right; nothing secret hangs on it.
    chance = random.Random(seed) if seed else None  # noqa: S311
    work = _Dive(instance, grid, whole, most, budget, values, chance, seldom)
    return work.run(list(pool)), list(work.met)


@dataclass(slots=True)
class _Dive:
    """The search, the layouts met, and the best plan that came of it.

    Attributes
    ----------
    for_looks
        How much of the budget may still go into looking harder, in deterministic seconds.
    prices_dearly
        Whether pricing once for each sheet would take too much of the budget.
    """

    instance: Instance
    grid: Grid
    whole: int
    most: int
    budget: Budget
    values: Sequence[float]
    chance: random.Random | None
    seldom: bool
    met: dict[Layout, None] = field(default_factory=dict)
    best: Choice | None = None
    for_looks: float = field(init=False)
    prices_dearly: bool = field(init=False)

    def __post_init__(self) -> None:
        self.for_looks = LOOKS_SHARE * self.budget.seconds
        self.prices_dearly = self._prices_dearly(_Node(self.instance, {}, [], 0.0))

    def run(self, layouts: list[Layout]) -> Choice | None:
        """Fix layouts until a plan costs no more than it may, going back where one misses."""
        path = [_Node(self.instance, {}, layouts, 0.0)]
        misses = 0
        while path and not self.is_reached() and not self.budget.spent:
            below = self._deeper(path[-1])
            if below is not None:
                path.append(below)
                continue
            misses += 1
            if misses > MOST_MISSES:
                break
            path = _back(path)
        return self.best

    def is_reached(self) -> bool:
        """Whether a plan was found that costs no more than it may."""
        return self.best is not None and self.best.cost(self.instance) <= self.most

    def offer(self, plan: Choice) -> None:
        """Take a plan if it is the cheapest so far."""
        if self.best is None or plan.cost(self.instance) < self.best.cost(self.instance):
            self.best = plan

    def _deeper(self, node: _Node) -> _Node | None:
        """Return the node below with more fixed; None if there is none worth it."""
        if not any(node.left.demands):
            self.offer(Choice(node.fixed))
            return None
        if node.columns is None:
            node.columns = self._priced(node)
        if node.columns is None or node.columns.state is None:
            return None
        state, layouts = node.columns.state, node.columns.master.layouts
        self.met.update(dict.fromkeys(layouts))
        if self._is_too_dear(node):
            return None
        sheets = node.sheets_left
        is_roomy = self.prices_dearly or node.total * self.whole <= self.most - self.whole
        fill_from = FILL_FROM_SHEETS * (ROOMY if is_roomy else 1)
        if self._prices_dearly(node):
            if sheets <= fill_from and sheets < node.put_at and is_soon_put_together(node.left):
                node.put_at = sheets
                self._put_together(node)
        elif sheets <= min(fill_from, FILL_AGAIN * node.filled_at):
            node.filled_at = sheets
            self._finish(node)
        if self.is_reached():
            return None
        open_ones = [
            (layout, share)
            for layout, share in zip(layouts, state.usage, strict=False)
            if share > SAME and layout not in node.barred
        ]
        taken = _whole(open_ones, self.chance) or _likeliest(node.left, open_ones, self.chance)
        if not taken:
            return None
        left = without(node.left, taken)
        return node.below(taken, _proper(layouts, state.usage, left), left)

    def _priced(self, node: _Node) -> ProperColumns | None:
        """Return the master of what is left, priced as long as it pays; None if it has no start."""
        start = _start(node.left, self.grid, self.values, self.budget)
        if start is None:
            return None
        columns = ProperColumns(node.left, self.grid, self.budget, self.whole)
        columns.add([*start, *node.layouts])
        fixed = Choice(node.fixed).cost(self.instance) / self.whole
        before = node.total
        if node.fixed and self._prices_dearly(node):
            node.total = fixed + columns.solve().objective
            if node.total - before <= SLACK_SHARE * (self.most / self.whole - before):
                return columns
        least = ROOT_SHARE * self.budget.seconds if self.prices_dearly and not node.fixed else 0.0
        wanted = sum(demand > 0 for demand in node.left.demands)
        for number in range(1, MOST_PRICINGS_BEYOND + wanted // MANY_MORE + 1):
            node.total = fixed + columns.step().objective
            if columns.done or self.budget.seconds <= least or node.total <= before + SAME:
                break
            # What the first master has not seen, none below it is likely to see.
            if number >= MOST_PRICINGS and node.fixed and not self._is_too_dear(node):
                break
        self._price_harder(node, columns, fixed)
        return columns

    def _price_harder(self, node: _Node, columns: ProperColumns, fixed: float) -> None:
        """Look harder for layouts before a node is given up for what the master says."""
        with self.budget.lent(self.for_looks) as share:
            columns.budget = share
            before = share.seconds
            while self._is_too_dear(node) and not share.spent and columns.look_harder():
                for _ in range(MOST_PRICINGS):
                    node.total = fixed + columns.step().objective
                    if columns.done or share.seconds <= 0 or not self._is_too_dear(node):
                        break
            columns.budget = self.budget
            self.for_looks -= before - share.seconds

    def _is_too_dear(self, node: _Node) -> bool:
        """Whether the master shows that the plan would cost more than it may."""
        return node.total * self.whole > self.most * (1 + SAME)

    def _prices_dearly(self, node: _Node) -> bool:
        """Whether pricing once for each sheet that is left would take too much of the budget."""
        most = DEAR_SHARE * self.budget.seconds
        return self.seldom and fill_seconds(node.left, self.grid) > most

    def _finish(self, node: _Node) -> None:
        """Fill what is left a few times over, values corrected; then try for a sheet less."""
        now, least = list(self.values), None
        for power in FILL_POWERS:
            rest = fill(node.left, self.grid, now, self.budget)
            if rest is None:
                return
            self.offer(node.with_rest(rest))
            if least is None or rest.cost(node.left) < least.cost(node.left):
                least = rest
            now = corrected(node.left, now, rest, power)
        if least is not None and not self.grid.x.exact:
            self._recreate(node, least)

    def _put_together(self, node: _Node) -> None:
        """Put together what is left piece by piece, which is quick; then try for a sheet less."""
        rest = put_together(node.left, self.budget)
        found = None if rest is None else _cuttable(node.left, rest.sheets)
        if found is not None:
            rest = Choice.of(found)
            self.offer(node.with_rest(rest))
            self._recreate(node, rest)

    def _recreate(self, node: _Node, rest: Choice) -> None:
        """Clear and refill the few sheets of the rest, towards a sheet less."""
        sheets = slimmed(node.left, rest).sheets
        with self.budget.lent(RECREATE_SECONDS) as share:
            while (found := cheaper(node.left, sheets, Choice({}), share, seed=0)) is not None:
                cuttable = _cuttable(node.left, found)
                if cuttable is None:
                    return
                sheets = cuttable
                self.offer(node.with_rest(Choice.of(sheets)))


def _cuttable(instance: Instance, layouts: Sequence[Layout]) -> list[Layout] | None:
    """Return the layouts as the tool can cut them; None if it cannot cut one of them."""
    if not instance.has_bench_limits:
        return list(layouts)
    checked = (legal(instance, layout) for layout in layouts)
    found = [layout for layout in checked if layout is not None]
    return found if len(found) == len(layouts) else None


def _back(path: list[_Node]) -> list[_Node]:
    """Return the path up to the node where the layout was fixed that cost most, now barred.

    Only single layouts are undone; whole parts of the master's usage cost next to nothing.
    """
    costs = [
        (below.total - node.total, number)
        for number, (node, below) in enumerate(itertools.pairwise(path))
        if len(node.taken) == 1 and len(node.barred) < MOST_TRIES
    ]
    if not costs:
        return []
    _, number = max(costs)
    node = path[number]
    node.barred.update(node.taken)
    return path[: number + 1]


def _start(
    left: Instance, grid: Grid, values: Sequence[float], budget: Budget
) -> list[Layout] | None:
    """Return layouts with which the master has a solution; None if none were found.

    Single pieces will do where the tool is free and some source that holds them never runs out.
    """
    wanted = [number for number, piece in enumerate(left.pieces) if piece.demand]
    if not left.has_bench_limits:
        alone = [layout for number in wanted if (layout := _alone(left, number)) is not None]
        if len(alone) == len(wanted):
            return alone
    plan = fill(left, grid, values, budget)
    return None if plan is None else list(plan.copies)


def _alone(instance: Instance, number: int) -> Layout | None:
    counts = tuple(int(n == number) for n in range(len(instance.pieces)))
    for source_number, source in enumerate(instance.sources):
        if source.available is None:
            for turned, (width, height) in enumerate(instance.pieces[number].orientations()):
                if width <= source.width and height <= source.height:
                    return Layout(source_number, counts, Place(number, bool(turned)))
    return None


def _whole(
    open_ones: list[tuple[Layout, float]], chance: random.Random | None
) -> dict[Layout, int]:
    """Return the whole parts of the usage, by chance not all of them."""
    whole = {layout: math.floor(share + SAME) for layout, share in open_ones if share + SAME >= 1}
    if chance is None:
        return whole
    return {layout: n for layout, n in whole.items() if n > 1 or chance.random() < KEEPS}


def _likeliest(
    left: Instance, open_ones: list[tuple[Layout, float]], chance: random.Random | None
) -> dict[Layout, int]:
    """Return the most used layout once, or one of those drawn by their use."""
    ranked = sorted(open_ones, key=lambda one: (one[1], used_area(left, one[0])))
    top = ranked[-STRAYS:] if chance is not None else ranked[-1:]
    if not top:
        return {}
    if chance is None:
        return {top[0][0]: 1}
    return {chance.choices(top, [share for _, share in top])[0][0]: 1}


def _proper(layouts: Sequence[Layout], usage: Sequence[float], left: Instance) -> list[Layout]:
    """Return the layouts that are still proper, and those in use without their surplus."""
    found: dict[Layout, None] = {}
    for layout, share in zip(layouts, usage, strict=False):
        surplus = [max(0, n - d) for n, d in zip(layout.counts, left.demands, strict=True)]
        if not any(surplus):
            found[layout] = None
        elif share > SAME:
            slim: Layout | None = thinned(layout, surplus)
            if slim is not None and left.has_bench_limits:
                slim = legal(left, slim)
            if slim is not None and any(slim.counts):
                found[slim] = None
    return list(found)


def without(instance: Instance, taken: dict[Layout, int]) -> Instance:
    """Return the instance that remains when some layouts are cut."""
    demands = list(instance.demands)
    available = [source.available for source in instance.sources]
    for layout, copies in taken.items():
        for piece, count in enumerate(layout.counts):
            demands[piece] = max(0, demands[piece] - count * copies)
        left = available[layout.source]
        if left is not None:
            available[layout.source] = max(0, left - copies)
    pieces = zip(instance.pieces, demands, strict=True)
    sources = zip(instance.sources, available, strict=True)
    return replace(
        instance,
        pieces=tuple(replace(piece, demand=demand) for piece, demand in pieces),
        sources=tuple(replace(source, available=number) for source, number in sources),
    )
