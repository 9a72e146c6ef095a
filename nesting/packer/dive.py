"""Whole plans by diving: fix what the master uses whole, price again for what is left.

After Vanderbeck (2000), On Dantzig-Wolfe decomposition in integer programming and ways to perform
branching in a branch-and-price algorithm (from memory): round, solve the residual anew, repeat.
Only proper layouts take part, those that make no more of a type than is still wanted; a layout
that has come to make too much takes part without the surplus.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from .choice import Choice
from .columns import ProperColumns
from .fill import corrected, fill
from .layouts import Layout, Place, gross_areas, gross_rooms, used_area
from .recreate import cheaper
from .remains import slimmed
from .tidy import thinned

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .running import Budget

__all__ = ["dive", "without"]

MOST_PRICINGS = 6
FILL_FROM_SHEETS = 6
FILL_POWERS = (1.02, 1.1, 1.0)
KEEPS = 0.8
STRAYS = 4
RECREATE_SECONDS = 0.05


@dataclass(slots=True)
class _Dive:
    """What is fixed so far, what is left, and the best plan that came of it."""

    instance: Instance
    whole: int
    left: Instance
    fixed: dict[Layout, int] = field(default_factory=dict)
    best: Choice | None = None

    def fix(self, taken: dict[Layout, int]) -> None:
        """Fix some layouts and take what they make off what is left."""
        for layout, copies in taken.items():
            self.fixed[layout] = self.fixed.get(layout, 0) + copies
        self.left = without(self.left, taken)

    def offer(self, rest: Choice | None) -> None:
        """Take what is fixed with `rest` for what is left, if that is the cheapest so far."""
        if rest is None:
            return
        total = dict(self.fixed)
        for layout, copies in rest.copies.items():
            total[layout] = total.get(layout, 0) + copies
        plan = Choice(total)
        if self.best is None or plan.cost(self.instance) < self.best.cost(self.instance):
            self.best = plan

    def is_nearly_done(self) -> bool:
        """Whether so little is left that a few fills will do."""
        room = max(gross_rooms(self.instance))
        areas = zip(gross_areas(self.left), self.left.demands, strict=True)
        area = sum(area * demand for area, demand in areas)
        return area <= FILL_FROM_SHEETS * room


def dive(
    instance: Instance,
    grid: Grid,
    pool: Iterable[Layout],
    whole: int,
    budget: Budget,
    values: Sequence[float],
    seed: int = 0,
) -> tuple[Choice | None, list[Layout]]:
    """Return a whole plan, or None, and the layouts met on the way.

    Parameters
    ----------
    pool
        Layouts to start from.
    whole
        The dearest source's cost.
    values
        Piece values for filling what is left at the end.
    seed
        With 0 the most used layout is fixed each time; other seeds stray from that, each its own
        way.
    """
    # Chance decides where to look, not what is right; nothing secret hangs on it.
    chance = random.Random(seed) if seed else None  # noqa: S311
    work = _Dive(instance, whole, instance)
    met: dict[Layout, None] = {}
    layouts = list(pool)
    while any(work.left.demands) and not budget.spent:
        columns = ProperColumns(work.left, grid, budget, whole)
        start = _start(work.left, grid, values, budget)
        if start is None:
            break
        columns.add([*start, *layouts])
        for _ in range(MOST_PRICINGS):
            state = columns.step()
            if columns.done or budget.spent:
                break
        met.update(dict.fromkeys(columns.master.layouts))
        taken = _taken(columns.master.layouts, state.usage, work.left, chance)
        work.fix(taken)
        layouts = _proper(columns.master.layouts, state.usage, work.left)
        if work.is_nearly_done() and any(work.left.demands):
            _finish(work, grid, values, budget)
    if not any(work.left.demands):
        work.offer(Choice({}))
    return work.best, list(met)


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


def _finish(work: _Dive, grid: Grid, values: Sequence[float], budget: Budget) -> None:
    """Fill what is left a few times over, values corrected each time; then try for a sheet less."""
    now, least = list(values), None
    for power in FILL_POWERS:
        rest = fill(work.left, grid, now, budget)
        if rest is None:
            return
        work.offer(rest)
        if least is None or rest.cost(work.left) < least.cost(work.left):
            least = rest
        now = corrected(work.left, now, rest, power)
    if least is not None and not work.left.has_bench_limits:
        _recreate(work, least, budget)


def _recreate(work: _Dive, rest: Choice, budget: Budget) -> None:
    """Clear and refill the few sheets of the rest, towards a sheet less."""
    sheets = slimmed(work.left, rest).sheets
    with budget.lent(RECREATE_SECONDS) as share:
        while (found := cheaper(work.left, sheets, Choice({}), share, seed=0)) is not None:
            sheets = found
            work.offer(Choice.of(sheets))


def _taken(
    layouts: Sequence[Layout],
    usage: Sequence[float],
    left: Instance,
    chance: random.Random | None,
) -> dict[Layout, int]:
    """Return the whole parts of the usage; if there are none, the most used layout once."""
    whole = {
        layout: math.floor(share + 1e-6)
        for layout, share in zip(layouts, usage, strict=False)
        if share + 1e-6 >= 1
    }
    if chance is not None:
        whole = {layout: n for layout, n in whole.items() if n > 1 or chance.random() < KEEPS}
    if whole:
        return whole
    ranked = sorted(
        range(len(usage)), key=lambda number: (usage[number], used_area(left, layouts[number]))
    )
    if chance is not None:
        top = ranked[-STRAYS:]
        return {layouts[chance.choices(top, [usage[n] + 1e-9 for n in top])[0]]: 1}
    return {layouts[ranked[-1]]: 1}


def _proper(layouts: Sequence[Layout], usage: Sequence[float], left: Instance) -> list[Layout]:
    """Return the layouts that are still proper, and those in use without their surplus."""
    found: dict[Layout, None] = {}
    for layout, share in zip(layouts, usage, strict=False):
        surplus = [max(0, n - d) for n, d in zip(layout.counts, left.demands, strict=True)]
        if not any(surplus):
            found[layout] = None
        elif share > 1e-6:
            slim = thinned(layout, surplus)
            if any(slim.counts):
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
