"""A whole plan made better a few sheets at a time: free them, and pack what was on them again.

Large neighbourhood search after Shaw (1998), Using constraint programming and local search
methods to solve vehicle routing problems (from memory). The emptiest sheet is always among those
freed. A repacking is taken if it costs less, or costs the same and leaves the sheets more
unequally filled: what is left gathers on one sheet until nothing is on it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .choice import Choice
from .fill import fill, starting_values

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .layouts import Layout
    from .running import Budget

__all__ = ["Improvement"]

FEWEST, MOST = 2, 4
SPREAD = 0.12
POWERS = (1.0, 1.02, 1.06, 1.15)


@dataclass(slots=True)
class Improvement:
    """One plan, its sheets one by one, and the chance by which they are freed."""

    instance: Instance
    sheets: list[Layout]
    met: dict[Layout, None]
    chance: random.Random
    score: Callable[[Layout], float] | None = None

    @classmethod
    def of(
        cls,
        instance: Instance,
        plan: Choice,
        seed: int,
        score: Callable[[Layout], float] | None = None,
    ) -> Improvement:
        """Start from `plan`; the same seed frees the same sheets.

        Parameters
        ----------
        score
            Of one sheet; a repacking of no less score in all is taken. By default the area used,
            squared.
        """
        sheets = [layout for layout, copies in plan.copies.items() for _ in range(copies)]
        # Chance decides where to look, not what is right; nothing secret hangs on it.
        return cls(instance, sheets, {}, random.Random(seed), score)  # noqa: S311

    def plan(self) -> Choice:
        """Return the plan as it stands."""
        copies: dict[Layout, int] = {}
        for layout in self.sheets:
            copies[layout] = copies.get(layout, 0) + 1
        return Choice(copies)

    def round(self, grid: Grid, budget: Budget, values: Sequence[float] | None = None) -> bool:
        """Free some sheets and pack them again; return whether the plan became cheaper."""
        if len(self.sheets) < FEWEST:
            return False
        freed = self._freed()
        demands = self._demands(freed)
        again = fill(
            self.instance,
            grid,
            self._values(values),
            budget,
            demands,
            self._available(freed),
        )
        if again is None:
            return False
        self.met.update(dict.fromkeys(again.copies))
        before = [self.sheets[number] for number in freed]
        after = [layout for layout, copies in again.copies.items() for _ in range(copies)]
        cheaper = self._cost(after) - self._cost(before)
        if cheaper < 0 or (cheaper == 0 and self._order(after) >= self._order(before)):
            gone = set(freed)
            kept = [sheet for number, sheet in enumerate(self.sheets) if number not in gone]
            self.sheets = kept + after
        return cheaper < 0

    def _freed(self) -> list[int]:
        """Return the emptiest sheet and some others, emptier ones sooner."""
        wastes = [self._waste(layout) for layout in self.sheets]
        numbers = range(len(self.sheets))
        emptiest = max(numbers, key=lambda number: (wastes[number], -number))
        others = [number for number in numbers if number != emptiest]
        weights = [wastes[number] + 0.02 for number in others]
        wanted = min(self.chance.randint(FEWEST, MOST) - 1, len(others))
        chosen = {emptiest}
        while len(chosen) <= wanted:
            chosen.add(self.chance.choices(others, weights)[0])
        return sorted(chosen)

    def _waste(self, layout: Layout) -> float:
        source = self.instance.sources[layout.source]
        kerf = self.instance.kerf
        return 1 - self._area(layout) / ((source.width + kerf) * (source.height + kerf))

    def _area(self, layout: Layout) -> int:
        kerf = self.instance.kerf
        return sum(
            count * (piece.width + kerf) * (piece.height + kerf)
            for count, piece in zip(layout.counts, self.instance.pieces, strict=True)
        )

    def _demands(self, freed: Sequence[int]) -> list[int]:
        """Return what is missing without the sheets freed."""
        gone = set(freed)
        made = [0] * len(self.instance.pieces)
        for number, layout in enumerate(self.sheets):
            if number not in gone:
                made = [a + b for a, b in zip(made, layout.counts, strict=True)]
        return [max(0, d - m) for d, m in zip(self.instance.demands, made, strict=True)]

    def _available(self, freed: Sequence[int]) -> list[int | None]:
        gone = set(freed)
        used = [0] * len(self.instance.sources)
        for number, layout in enumerate(self.sheets):
            used[layout.source] += number not in gone
        return [
            None if source.available is None else source.available - count
            for source, count in zip(self.instance.sources, used, strict=True)
        ]

    def _values(self, values: Sequence[float] | None) -> list[float]:
        """Return piece values shaken a little, so that no two rounds are alike."""
        if values is None:
            values = starting_values(self.instance, self.chance.choice(POWERS))
        return [value * (1 + SPREAD * (self.chance.random() - 0.5)) for value in values]

    def _cost(self, layouts: Sequence[Layout]) -> int:
        return sum(self.instance.sources[layout.source].cost for layout in layouts)

    def _order(self, layouts: Sequence[Layout]) -> float:
        if self.score is not None:
            return sum(self.score(layout) for layout in layouts)
        return sum(self._area(layout) ** 2 for layout in layouts)
