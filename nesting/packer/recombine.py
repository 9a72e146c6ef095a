"""Good single layouts of sheets whose grid is too fine for a table, copies unlimited.

Round by round a sparse grid is priced (`grids.sparse_grid` says what that is). Its sizes are those
of the parts of the best layouts so far, and, drawn by chance from one seed, such sizes with a piece
more or less and what the sheet leaves beside them. It holds these layouts, so that a round never
ends with less, and whatever else their parts can be put together to. The first grid has rows of
equal pieces, of those that are worth most for their area.

Which sizes to combine is our own choice; that few of all sums are of use in good layouts is what
makes it pay.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from .grids import grid_of_sizes
from .layouts import counts_of, part_sizes
from .recursion import best_values, trace

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..problem.instance import Instance
    from .layouts import Tree

__all__ = ["recombined"]

# How many sizes a side of a grid has, round by round.
SIZES = (300, 450, 700)
# Of the pieces worth most for their area: how many the first grid has rows of, and how many of
# these may be added to a part, and are drawn for a round beside those of the best layout.
IN_ROWS, DENSEST, DRAWN = 25, 60, 20
# What a round costs at least, in splits compared.
A_ROUND = 1e5
# How many of the latest best layouts give their parts' sizes.
KEPT = 3


def recombined(
    instance: Instance, values: Sequence[int], first: Tree, work: float, *, seed: int = 1
) -> Tree:
    """Return a layout of the first source that is worth as much as `first`, or more.

    Parameters
    ----------
    instance
        Without limits of the tool.
    values
        Of one piece of each type, not negative.
    work
        Splits to compare; the round that exceeds them is the last.
    """
    search = _Search(instance, values, [first], random.Random(seed))  # noqa: S311  repeatable
    left = work - search.round(search.rows(0), search.rows(1))
    number = 0
    while left > 0:
        most = SIZES[number % len(SIZES)]
        left -= search.round(*search.sizes(most))
        number += 1
    return search.best


@dataclass(slots=True)
class _Search:
    """The layouts so far, the best one last.

    Attributes
    ----------
    sides
        Of each type that is worth anything, the kerf included: its widths and its heights.
    """

    instance: Instance
    values: Sequence[int]
    layouts: list[Tree]
    chance: random.Random
    sides: dict[int, tuple[set[int], set[int]]] = field(init=False)
    dense: list[int] = field(init=False)
    whole: tuple[int, int] = field(init=False)

    def __post_init__(self) -> None:
        source, kerf = self.instance.sources[0], self.instance.kerf
        self.whole = source.width + kerf, source.height + kerf
        pieces = self.instance.pieces
        self.sides = {
            number: (
                {wide + kerf for wide, _ in piece.orientations()},
                {high + kerf for _, high in piece.orientations()},
            )
            for number, piece in enumerate(pieces)
            if self.values[number] > 0
        }
        self.dense = sorted(
            self.sides, key=lambda n: -self.values[n] / (pieces[n].width * pieces[n].height)
        )

    @property
    def best(self) -> Tree:
        """The best layout so far."""
        return self.layouts[-1]

    def worth(self, layout: Tree) -> int:
        """Return the value of a layout's pieces."""
        counts = counts_of(layout, len(self.values))
        return sum(value * count for value, count in zip(self.values, counts, strict=True))

    def rows(self, axis: int) -> set[int]:
        """Return the lengths of rows of equal pieces along an axis."""
        each = {side for number in self.dense[:IN_ROWS] for side in self.sides[number][axis]}
        whole = self.whole[axis]
        return {side * many for side in each for many in range(1, whole // side + 1)}

    def sizes(self, most: int) -> tuple[set[int], set[int]]:
        """Return the sizes of a grid's two sides, about `most` each."""
        parts = [
            size for layout in self.layouts[-KEPT:] for size in part_sizes(layout, self.instance)
        ]
        counts = counts_of(self.best, len(self.values))
        used = [number for number, count in enumerate(counts) if count]
        found = []
        for axis in (0, 1):
            densest = self.dense[:DENSEST]
            drawn = self.chance.sample(densest, min(DRAWN, len(densest)))
            pieces = {side for number in (*used, *drawn) for side in self.sides[number][axis]}
            sure = {part[axis] for part in parts} | pieces
            found.append(sure | self._drawn(sure, pieces, axis, most - len(sure)))
        return found[0], found[1]

    def _drawn(self, sure: set[int], pieces: set[int], axis: int, most: int) -> set[int]:
        """Return sizes that sure ones and pieces make, drawn by chance."""
        whole = self.whole[axis]
        near = {whole - size for size in sure}
        near |= {size + sign * side for size in sure for side in pieces for sign in (1, -1)}
        able = sorted(size for size in near - sure if 0 < size <= whole)
        return set(self.chance.sample(able, min(max(0, most), len(able))))

    def round(self, widths: Iterable[int], heights: Iterable[int]) -> float:
        """Price a grid of some sizes; return the splits compared."""
        grid = grid_of_sizes(self.instance, widths, heights)
        table = best_values(grid, self.values)
        found = trace(grid, self.values, table, *grid.root(self.instance.sources[0], self.instance))
        if found is not None and self.worth(found) >= self.worth(self.best):
            self.layouts.append(found)
        return max(A_ROUND, grid.work)
