"""Whole plans, one layout after another, within the demands that remain.

Sequential value correction: Mukhacheva, Belov, Kartak and Mukhacheva (2000), Linear one-dimensional
cutting-packing problems; Belov and Scheithauer (2007), Setup and open-stacks minimization in
one-dimensional stock cutting. Every layout is the best found for the current piece values; pieces
that end up in wasteful layouts become worth more, and the next plan places them sooner.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from .choice import Choice
from .layouts import Layout, caps, counts_of, fits, gross_areas, gross_rooms
from .legal import legal
from .refill import refilled
from .running import splits_as_seconds
from .within import best_within, trace_within, work_within

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .running import Budget

__all__ = ["corrected", "fill", "fill_seconds", "next_layout", "starting_values"]

VALUE_SCALE = 1 << 30
# How many different layouts a plan has at most, about, for each size.
LAYOUTS_A_SIZE = 2


@dataclass(slots=True)
class _Remaining:
    """What is still wanted, and what is still there to cut it from."""

    demands: list[int]
    sources: list[int | None]

    def take(self, layout: Layout) -> int:
        """Take as many copies of `layout` as are wanted whole; return how many."""
        copies = min(
            left // count for left, count in zip(self.demands, layout.counts, strict=True) if count
        )
        available = self.sources[layout.source]
        if available is not None:
            copies = min(copies, available)
            self.sources[layout.source] = available - copies
        for piece, count in enumerate(layout.counts):
            self.demands[piece] -= copies * count
        return copies


def starting_values(instance: Instance, power: float) -> list[float]:
    """Return the gross area of each piece type to a power a little over one."""
    return [float(area) ** power for area in gross_areas(instance)]


def whole_values(values: Sequence[float]) -> list[int]:
    """Return the values as whole numbers in proportion, at least 1 each."""
    top = max(values)
    return [max(1, int(value / top * VALUE_SCALE)) for value in values]


def next_layout(
    instance: Instance,
    grid: Grid,
    values: Sequence[int],
    demands: Sequence[int],
    sources: Sequence[int | None],
    budget: Budget,
) -> Layout | None:
    """Return the layout worth most for its cost within `demands`, or None if nothing fits.

    Only layouts that the tool can cut are returned.
    """
    limits = caps(instance, demands)
    bounded = best_within(grid, values, limits, budget.check)
    budget.spend(bounded.work)
    ranked = []
    for number, source in enumerate(instance.sources):
        if sources[number] == 0:
            continue
        cell = grid.root(source, instance)
        worth = int(bounded.values[cell])
        if worth:
            per_cost = Fraction(worth, source.cost) if source.cost else Fraction(worth)
            ranked.append((source.cost > 0, -per_cost, number, cell))
    for _, _, number, cell in sorted(ranked):
        root = trace_within(grid, bounded, *cell)
        layout = Layout(number, counts_of(root, len(instance.pieces)), root)
        cuttable = legal(instance, layout) if instance.has_bench_limits else layout
        if cuttable is None or not fits(instance, layout):
            continue
        if grid.x.exact:
            return cuttable
        fuller = refilled(instance, grid, layout, values, demands, budget)
        return (legal(instance, fuller) or cuttable) if instance.has_bench_limits else fuller
    return None


def fill(
    instance: Instance,
    grid: Grid,
    values: Sequence[float],
    budget: Budget,
    demands: Sequence[int] | None = None,
    available: Sequence[int | None] | None = None,
) -> Choice | None:
    """Return a plan for `demands` made layout by layout.

    None if the sources do not suffice, or the budget does not.
    """
    left = _Remaining(
        list(instance.demands if demands is None else demands),
        list([s.available for s in instance.sources] if available is None else available),
    )
    whole = whole_values(values)
    copies: dict[Layout, int] = {}
    while any(left.demands):
        if budget.spent:
            return None
        layout = next_layout(instance, grid, whole, left.demands, left.sources, budget)
        if layout is None:
            return None
        copies[layout] = copies.get(layout, 0) + left.take(layout)
    return Choice(copies)


def fill_seconds(instance: Instance, grid: Grid, demands: Sequence[int] | None = None) -> float:
    """Return about what filling a plan for `demands` counts as, in deterministic seconds.

    Going by their area; and a layout serves several sheets where sheets are many.
    """
    wanted = instance.demands if demands is None else demands
    layouts = min(_sheets_there_are(instance, wanted), LAYOUTS_A_SIZE * len(instance.pieces))
    return splits_as_seconds(layouts * work_within(grid, caps(instance, wanted)))


def _sheets_there_are(instance: Instance, demands: Sequence[int]) -> float:
    """Return how many sheets would be filled: all of which there are few, then the largest."""
    left = float(sum(a * d for a, d in zip(gross_areas(instance), demands, strict=True)))
    sheets, largest = 0.0, 0
    for source, room in zip(instance.sources, gross_rooms(instance), strict=True):
        if source.available is None:
            largest = max(largest, room)
            continue
        used = min(float(source.available), left / room)
        sheets, left = sheets + used, left - used * room
    return sheets + (left / largest if largest else 0.0)


def corrected(
    instance: Instance, values: Sequence[float], plan: Choice, power: float
) -> list[float]:
    """Return the values moved towards what each piece's layouts wasted."""
    areas, rooms = gross_areas(instance), gross_rooms(instance)
    moved = list(values)
    for layout, copies in plan.copies.items():
        room = rooms[layout.source]
        used = sum(area * count for area, count in zip(areas, layout.counts, strict=True))
        for piece, count in enumerate(layout.counts):
            if count:
                share = min(1.0, copies * count / max(1, instance.demands[piece]))
                target = math.pow(areas[piece], power) * room / used
                moved[piece] += 0.5 * share * (target - moved[piece])
    return moved
