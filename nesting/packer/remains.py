"""Rung two: what a plan leaves, at the cost reached.

The worth of a leftover is its area over that of the board's commonest sheet, to the power 1.5,
and nothing below the size worth keeping: one large offcut beats two small ones. Offcuts of the
stock that stay whole count with those of the job. Plans of equal cost are compared in twentieths.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from .choice import Choice
from .improve import Improvement
from .layouts import Layout, used_area
from .legal import legal
from .running import Stopped
from .tidy import tidied, wastes, without_surplus

if TYPE_CHECKING:
    from ..problem.instance import Instance
    from .grids import Grid
    from .running import Budget

__all__ = ["TWENTIETHS", "Remains", "kindest", "slimmed"]

TWENTIETHS = 20
SEED = 20


@dataclass(slots=True)
class Remains:
    """What layouts leave, each looked at once.

    Attributes
    ----------
    tidy
        Whether to pack a layout into a corner first where that leaves more.
    """

    instance: Instance
    tidy: bool = True
    _seen: dict[tuple[int, tuple[int, ...]], tuple[float, Layout]] = field(default_factory=dict)

    def neat(self, layout: Layout) -> Layout:
        """Return the layout packed into a corner where that leaves more."""
        return self._look(layout)[1]

    def gain(self, layout: Layout) -> float:
        """Return what the layout leaves, less what its source would be worth whole."""
        source = self.instance.sources[layout.source]
        whole = self.worth(source.width, source.height) if source.cost == 0 else 0.0
        return self._look(layout)[0] - whole

    def total(self, plan: Choice) -> float:
        """Return the plan's gain, over all copies."""
        return sum(self.gain(layout) * copies for layout, copies in plan.copies.items())

    def worth(self, width: int, height: int) -> float:
        """Return the worth of one part of this true size."""
        short, long = sorted((width, height))
        keep_short, keep_long = sorted(self.instance.keep)
        if short < max(1, keep_short) or long < keep_long:
            return 0.0
        return math.pow(short * long / self._commonest(), 1.5)

    def most(self, cost: int) -> float:
        """Return a gain that no plan of this cost exceeds.

        All the room that the pieces do not take, in parts as large as one piece leaves on the
        best source: the worth of a part grows faster than its area, so fewer parts are worth more.
        """
        sources = self.instance.sources
        rates = [source.width * source.height / source.cost for source in sources if source.cost]
        free = [source for source in sources if source.cost == 0]
        room = cost * max(rates, default=0.0) + sum(
            source.width * source.height * (source.available or 0) for source in free
        )
        taken = sum(piece.width * piece.height * piece.demand for piece in self.instance.pieces)
        largest = max(
            [self._beyond_one(source.width, source.height) for source in sources]
            + [source.width * source.height for source in free]
        )
        whole = sum(
            self.worth(source.width, source.height) * (source.available or 0) for source in free
        )
        if largest == 0 or room <= taken:
            return -whole
        parts, rest = divmod(room - taken, largest)
        return (
            float(parts * (largest / self._commonest()) ** 1.5 + (rest / self._commonest()) ** 1.5)
            - whole
        )

    def _beyond_one(self, width: int, height: int) -> int:
        """Return the area of the largest part that cutting one piece off a corner leaves."""
        return max(
            (
                max((width - w) * height, (height - h) * width)
                for piece in self.instance.pieces
                for w, h in piece.orientations()
                if w <= width and h <= height
            ),
            default=0,
        )

    def _commonest(self) -> int:
        return self.instance.commonest or max(
            source.width * source.height for source in self.instance.sources
        )

    def _look(self, layout: Layout) -> tuple[float, Layout]:
        key = (layout.source, layout.counts)
        if key not in self._seen:
            source = self.instance.sources[layout.source]
            neat = self._tidied(layout) if self.tidy and self._could_keep(layout) else layout
            left = wastes(neat.root, source.width, source.height, self.instance)
            self._seen[key] = (sum(self.worth(*part) for part in left), neat)
        return self._seen[key]

    def _could_keep(self, layout: Layout) -> bool:
        """Whether all that is left, in one part, could be worth keeping."""
        source = self.instance.sources[layout.source]
        left = source.width * source.height - used_area(self.instance, layout)
        return left >= max(1, self.instance.keep[0] * self.instance.keep[1])

    def _tidied(self, layout: Layout) -> Layout:
        neat = tidied(self.instance, layout)
        if self.instance.has_bench_limits:
            return legal(self.instance, neat) or layout
        return neat


def slimmed(instance: Instance, plan: Choice) -> Choice:
    """Return the plan with nothing made beyond the demands."""
    areas = [piece.width * piece.height for piece in instance.pieces]
    return Choice(without_surplus(plan.copies, instance.demands, areas))


def kindest(instance: Instance, plan: Choice, grid: Grid, budget: Budget, rounds: int) -> Choice:
    """Return a plan of the same cost that leaves no less, and more where some is found.

    Every layout is neat, and nothing is made beyond the demands. A few sheets at a time are freed
    and packed again, as in `Improvement`; what gains less than a twentieth is not worth a change.
    """
    remains = Remains(instance)
    best = slimmed(instance, plan)
    try:
        work = Improvement.of(instance, best, SEED, remains.gain)
        most = remains.most(best.cost(instance)) - 1 / TWENTIETHS
        for _ in range(rounds):
            if budget.spent or remains.total(work.plan()) >= most:
                break
            work.round(grid, budget)
            budget.check()
        found = slimmed(instance, work.plan())
        gained = remains.total(found) - remains.total(best)
        if found.cost(instance) <= best.cost(instance) and gained * TWENTIETHS >= 1:
            best = found
    except Stopped:
        pass
    neat: dict[Layout, int] = {}
    for layout, copies in best.copies.items():
        one = remains.neat(layout)
        neat[one] = neat.get(one, 0) + copies
    return Choice(neat)
