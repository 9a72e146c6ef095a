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
from .layouts import Layout, used_area
from .legal import legal, of_fewest_cuts
from .recreate import Recreation, loosest, unused
from .running import Stopped
from .tidy import settings, tidied, wastes, without_surplus

if TYPE_CHECKING:
    from ..problem.instance import Instance
    from .running import Budget

__all__ = ["TWENTIETHS", "Remains", "kindest", "slimmed"]

TWENTIETHS = 20
SEED = 20
ROUNDING = 1e-9
# What packing a layout into a corner must at least promise.
WORTH_TIDYING = 0.02
SETTINGS_A_TYPE = 2
LOOSE = (0.6, 2.0)


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
    _lefts: dict[int, tuple[Layout, float]] = field(default_factory=dict)

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

    def twentieths(self, plan: Choice) -> int:
        """Return what the plan and the stock that stays whole leave, in whole twentieths."""
        return math.floor(self._in_twentieths(plan) + ROUNDING)

    def spare(self, plan: Choice) -> float:
        """Return how much less a plan may leave and still be worth as many twentieths."""
        return max(0.0, self._in_twentieths(plan) - self.twentieths(plan)) / TWENTIETHS

    def _in_twentieths(self, plan: Choice) -> float:
        free = [source for source in self.instance.sources if source.cost == 0]
        whole = sum(self.worth(one.width, one.height) * (one.available or 0) for one in free)
        return (self.total(plan) + whole) * TWENTIETHS

    def tidied_plan(self, plan: Choice) -> Choice:
        """Return the plan with every layout neat."""
        copies: dict[Layout, int] = {}
        for layout, number in plan.copies.items():
            one = self.neat(layout)
            copies[one] = copies.get(one, 0) + number
        return Choice(copies)

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
        found = self._left(layout), layout
        seen = self._seen.get(key)
        if seen is None:
            more = self._most_left(layout) - found[0] >= WORTH_TIDYING
            if self.tidy and (more or self._is_tangled(layout)):
                neat = self._tidied(layout)
                found = self._left(neat), neat
            self._seen[key] = found
        elif found[0] > seen[0]:
            # The same pieces, laid so that they leave more.
            self._seen[key] = found
        return self._seen[key]

    def _is_tangled(self, layout: Layout) -> bool:
        """Whether it has more sizes to set than a few strips of its pieces would have."""
        types = sum(1 for count in layout.counts if count)
        return settings(self.instance, layout) > SETTINGS_A_TYPE * types

    def _left(self, layout: Layout) -> float:
        """Return the worth of what the layout leaves as it is."""
        # Equal layouts may leave different parts; one that is kept here keeps its number.
        if id(layout) not in self._lefts:
            source = self.instance.sources[layout.source]
            parts = wastes(layout.root, source.width, source.height, self.instance)
            self._lefts[id(layout)] = layout, sum(self.worth(*part) for part in parts)
        return self._lefts[id(layout)][1]

    def _most_left(self, layout: Layout) -> float:
        """Return what all that is left would be worth in one part."""
        source = self.instance.sources[layout.source]
        left = source.width * source.height - used_area(self.instance, layout)
        if left < max(1, self.instance.keep[0] * self.instance.keep[1]):
            return 0.0
        return math.pow(left / self._commonest(), 1.5)

    def _tidied(self, layout: Layout) -> Layout:
        neat = tidied(self.instance, layout)
        if self.instance.has_bench_limits:
            return (
                of_fewest_cuts(self.instance, neat)
                or of_fewest_cuts(self.instance, layout)
                or layout
            )
        return neat


def slimmed(instance: Instance, plan: Choice) -> Choice:
    """Return the plan with nothing made beyond the demands."""
    areas = [piece.width * piece.height for piece in instance.pieces]
    return Choice(without_surplus(plan.copies, instance.demands, areas))


def kindest(remains: Remains, plan: Choice, budget: Budget) -> Choice:
    """Return a plan of the same cost that leaves no less, and more where some is found.

    Every layout is neat, and nothing is made beyond the demands. The pieces of the loosest sheets
    are cleared and put back by chance; worth is compared in whole twentieths.
    """
    instance = remains.instance
    best = slimmed(instance, plan)
    try:
        most = remains.most(best.cost(instance)) - 1 / TWENTIETHS
        for number, loose in enumerate(LOOSE):
            if budget.spent or remains.total(best) >= most:
                break
            with budget.lent(budget.seconds / (len(LOOSE) - number)) as share:
                found = _gathered(instance, best, remains, share, loose)
            if remains.twentieths(found) > remains.twentieths(best):
                best = found
    except Stopped:
        pass
    return remains.tidied_plan(best)


def _gathered(
    instance: Instance, plan: Choice, remains: Remains, budget: Budget, loose: float
) -> Choice:
    """Return the plan with the loosest sheets packed anew; as it was if that is not cuttable."""
    chosen, kept = loosest(instance, plan, loose, SEED)
    goal = sum(instance.sources[layout.source].cost for layout in chosen)
    work = Recreation.of(instance, chosen, goal, unused(instance, kept), SEED, remains.worth)
    if work.left_out:
        return plan
    found = work.gather(budget)
    if instance.has_bench_limits:
        cuttable = [legal(instance, layout) for layout in found]
        if None in cuttable:
            return plan
        found = [layout for layout in cuttable if layout is not None]
    return slimmed(instance, kept.and_sheets(found))
