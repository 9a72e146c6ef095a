"""The best single layout of a sheet whose grid is too fine for a table, copies unlimited.

A line across a sheet, or down it, holds no more than a one-dimensional knapsack says; that is the
first upper bound. Sheets of great size come so near to it that few parts need be looked at
(`sweep`). The first layout is one of strips (`uniform`). Then only parts are kept that come nearer
to the bound than they must, with a little more allowed each time, until a better layout is found;
last all that could serve one still better, which finds it, or proves that there is none.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from .layouts import Place, Split, counts_of
from .limited import BestLayout
from .sweep import Asked, TooMuch, swept
from .uniform import best_of_strips

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from ..problem.instance import Instance
    from .layouts import Tree
    from .sweep import Parts

    IntArray = NDArray[np.int64]

__all__ = ["best_on_fine_grid"]

# What a first layout may fall short of the bound: one part in so many, then half as much again.
FIRST_SHORT = 2000


def best_on_fine_grid(instance: Instance, values: Sequence[int], work: float) -> BestLayout:
    """Return the most valuable layout of the first source, copies unlimited.

    Parameters
    ----------
    instance
        Without limits of the tool.
    values
        Of one piece of each type, not negative.
    work
        Most pairs of parts to join. What is found by then is the result, proved or not.

    Raises
    ------
    ValueError
        If a sheet may be worth more than 45 bits hold.
    """
    source, types = instance.sources[0], len(instance.pieces)
    ways = [
        (number, bool(turned), wide + instance.kerf, high + instance.kerf)
        for number, piece in enumerate(instance.pieces)
        for turned, (wide, high) in enumerate(piece.orientations())
        if values[number] > 0
    ]
    steps = _step(ways, 2), _step(ways, 3)
    asked = Asked(
        (source.width + instance.kerf) // steps[0],
        (source.height + instance.kerf) // steps[1],
        tuple((w // steps[0], h // steps[1], values[number]) for number, _, w, h in ways),
    )
    held = [n for n, (w, h, _) in enumerate(asked.pieces) if w <= asked.width and h <= asked.height]
    if not held:
        return BestLayout(0, 0, None, (0,) * types)
    asked = Asked(asked.width, asked.height, tuple(asked.pieces[number] for number in held))
    places = [Place(*ways[number][:2]) for number in held]
    first = best_of_strips(asked, places, steps)
    best, parts, proved = _searched(asked, first[0], work)
    root = first[1]
    if parts is not None:
        root = _Traced(asked, parts, places, steps).tree(asked.width, asked.height)
    upper = best if proved else asked.upper
    return BestLayout(best, upper, root, counts_of(root, types))


def _step(ways: Sequence[tuple[int, bool, int, int]], side: int) -> int:
    """Return what divides all widths, or all heights; 1 if there are none."""
    return math.gcd(*(way[side] for way in ways)) or 1


def _searched(asked: Asked, best: int, work: float) -> tuple[int, Parts | None, bool]:
    """Return the best value, the parts it is made of if better than `best`, and if it is proved."""
    found = None
    try:
        for known in _levels(asked.upper, best):
            parts, work = swept(asked, known, work, strict=True)
            if _most(parts) > best:
                best, found = _most(parts), parts
            if best > known:
                break
        if best < asked.upper:
            parts, work = swept(asked, best, work)
            if _most(parts) > best:
                best, found = _most(parts), parts
    except TooMuch:
        return best, found, best == asked.upper
    return best, found, True


def _levels(upper: int, best: int) -> Iterator[int]:
    """Yield falling values above `best` that a better layout is to exceed."""
    short = max(1, upper // FIRST_SHORT)
    while upper - short > best:
        yield upper - short
        short += -(-short // 2)


def _most(parts: Parts) -> int:
    """Return the most that any part is worth: as much as the whole sheet."""
    return int(parts.value.max()) if len(parts.value) else 0


class _Traced:
    """Reads a tree of cuts out of parts and their values."""

    def __init__(
        self, asked: Asked, parts: Parts, places: Sequence[Place], steps: tuple[int, int]
    ) -> None:
        self.asked = asked
        self.parts = parts
        self.places = places
        self.steps = steps
        self.known: dict[tuple[int, int], Tree] = {}

    @cached_property
    def pieces(self) -> dict[tuple[int, int, int], Place]:
        """The piece that a part of a size and a value is."""
        pairs = zip(self.asked.pieces, self.places, strict=True)
        return dict(pairs)

    def tree(self, width: int, height: int) -> Tree:
        """Return the cuts of the best part that is no larger."""
        parts = self.parts
        inside = np.flatnonzero((parts.width <= width) & (parts.height <= height))
        best = int(inside[int(parts.value[inside].argmax())])
        wide, high = int(parts.width[best]), int(parts.height[best])
        if (wide, high) not in self.known:
            self.known[wide, high] = self._cut(wide, high, int(parts.value[best]))
        return self.known[wide, high]

    def _cut(self, width: int, height: int, worth: int) -> Tree:
        place = self.pieces.get((width, height, worth))
        if place is not None:
            return place
        for axis, size in enumerate((width, height)):
            line = self._line(axis, width, height)
            half = line[1 : size // 2 + 1]
            rest = line[size - 1 : size - 1 - len(half) : -1]
            hits = np.flatnonzero((half > 0) & (rest > 0) & (half + rest == worth)) + 1
            if len(hits):
                # The most even cut, so that trees do not grow deep.
                at = int(hits[-1])
                one = (at, height) if axis == 0 else (width, at)
                two = (width - at, height) if axis == 0 else (width, height - at)
                return Split(axis, at * self.steps[axis], self.tree(*one), self.tree(*two))
        raise AssertionError("a part's value comes from no cut")

    def _line(self, axis: int, width: int, height: int) -> IntArray:
        """Return the values of all parts of one height, by width, or the other way about."""
        sizes, others = self.parts.width, self.parts.height
        most, other = width, height
        if axis == 1:
            sizes, others, most, other = others, sizes, height, width
        inside = (sizes <= most) & (others <= other)
        line = np.zeros(most + 1, dtype=np.int64)
        np.maximum.at(line, sizes[inside], self.parts.value[inside])
        return np.maximum.accumulate(line)
