"""Whole plans by diving: fix what the master uses whole, price again for what is left.

After Vanderbeck (2000), On Dantzig-Wolfe decomposition in integer programming and ways to perform
branching in a branch-and-price algorithm (from memory): round, solve the residual anew, repeat.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from .choice import Choice
from .columns import ProperColumns
from .fill import fill

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .layouts import Layout
    from .running import Budget

__all__ = ["dive"]

MOST_PRICINGS = 12


def dive(
    instance: Instance,
    grid: Grid,
    pool: Iterable[Layout],
    whole: int,
    budget: Budget,
    values: Sequence[float],
) -> tuple[Choice | None, list[Layout]]:
    """Return a whole plan, or None, and every layout met on the way.

    Parameters
    ----------
    pool
        Layouts to start from.
    whole
        The dearest source's cost.
    values
        Piece values for the first plan of each residual.
    """
    left = instance
    fixed: dict[Layout, int] = {}
    met = list(pool)
    while any(left.demands) and not budget.spent:
        start = fill(left, grid, values, budget)
        if start is None:
            return None, met
        columns = ProperColumns(left, grid, budget, whole)
        columns.add([*start.copies, *met])
        for _ in range(MOST_PRICINGS):
            state = columns.step()
            if columns.done or budget.spent:
                break
        met = list(dict.fromkeys([*met, *columns.master.layouts]))
        taken = _taken(columns.master.layouts, state.usage)
        for layout, copies in taken.items():
            fixed[layout] = fixed.get(layout, 0) + copies
        left = _without(left, taken)
    return (None if any(left.demands) else Choice(fixed)), met


def _taken(layouts: Sequence[Layout], usage: Sequence[float]) -> dict[Layout, int]:
    """Return the whole parts of the usage; if there are none, the most used layout once."""
    whole = {
        layout: math.floor(share + 1e-6)
        for layout, share in zip(layouts, usage, strict=False)
        if share + 1e-6 >= 1
    }
    if whole:
        return whole
    most = max(range(len(usage)), key=lambda number: usage[number])
    return {layouts[most]: 1}


def _without(instance: Instance, taken: dict[Layout, int]) -> Instance:
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
