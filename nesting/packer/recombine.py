"""Good single layouts of sheets whose grid is too fine for a table, copies unlimited.

Round by round a sparse grid is priced (`grids.sparse_grid` says what that is).

A long knapsack of unlimited copies is filled with the item that is worth most for its length, but
for a few others that make use of the rest: Gilmore and Gomory (1966), The theory and computation of
knapsack functions, show that its values become periodic. Large sheets are much like that each way:
long rows of equal pieces, and some odd lengths at their ends. So the first grids have the rows of
pieces that are worth most for their area, the least sums of any pieces, and what the sheet leaves
beside both. Each is larger than the last, as long as the work allows.

What work is left goes into rounds whose sizes are those of the parts of the best layouts so far,
and, drawn by chance from one seed, such sizes with a piece more or less and what the sheet leaves
beside them. Such a grid holds these layouts, so that a round never ends with less, and whatever
else their parts can be put together to.

Which sizes to combine is our own choice; that few of all sums are of use in good layouts is what
makes it pay.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING

from .grids import grid_of_sizes
from .layouts import counts_of, part_sizes
from .positions import normal_patterns
from .recursion import best_values, trace

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..problem.instance import Instance
    from .grids import Grid
    from .layouts import Tree

__all__ = ["recombined"]

# Of how many of the pieces worth most for their area the first grids have rows, and how many of the
# least sums of all pieces stand beside them: the fewer for where work is little.
ROWS_AND_ENDS = ((25, 0), (40, 250), (60, 400), (90, 600))
# Sizes a side of all of these but the first: a grid's splits take memory with their square.
MOST_SIZES = 4500
# How many sizes a side of a grid has, round by round, after that.
SIZES = (300, 450, 700)
# How many of the pieces worth most for their area may be added to a part, and how many of them are
# drawn for a round beside those of the best layout.
DENSEST, DRAWN = 60, 20
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
    left = search.periodic(work)
    number = 0
    while left > 0:
        most = SIZES[number % len(SIZES)]
        left -= search.round(search.grid(*search.sizes(most)))
        number += 1
    return search.best


@dataclass(slots=True)
class _Search:
    """The layouts so far, the best one last.

    Attributes
    ----------
    sides
        Of each type that may be of use, the one worth most for its area first, the kerf included:
        its widths and its heights.
    """

    instance: Instance
    values: Sequence[int]
    layouts: list[Tree]
    chance: random.Random
    sides: dict[int, tuple[set[int], set[int]]] = field(init=False)
    whole: tuple[int, int] = field(init=False)

    def __post_init__(self) -> None:
        source, kerf = self.instance.sources[0], self.instance.kerf
        self.whole = source.width + kerf, source.height + kerf
        ways = {number: self._ways(number) for number in range(len(self.values))}
        self.sides = {
            number: ({wide for wide, _ in ways[number]}, {high for _, high in ways[number]})
            for number in self._useful(ways)
        }

    def _ways(self, number: int) -> list[tuple[int, int]]:
        """Return the sizes in which a piece can be cut, the kerf included."""
        kerf = self.instance.kerf
        sizes = [(w + kerf, h + kerf) for w, h in self.instance.pieces[number].orientations()]
        return [(w, h) for w, h in sizes if w <= self.whole[0] and h <= self.whole[1]]

    def _useful(self, ways: dict[int, list[tuple[int, int]]]) -> list[int]:
        """Return the pieces without which layouts would be worth less, the densest first.

        Of equally dense ones the first listed comes first. Where copies of one other piece fit in
        the place of a piece, and are worth as much, it is not needed. What takes its place is no
        larger, so that going by area misses none.
        """

        def area(number: int) -> int:
            return math.prod(ways[number][0])

        def at_least(other: int, width: int, height: int, value: int) -> bool:
            copies = max((width // w) * (height // h) for w, h in ways[other])
            return copies * self.values[other] >= value

        able = [number for number, sizes in ways.items() if sizes and self.values[number] > 0]
        useful: list[int] = []
        for number in sorted(able, key=lambda n: (area(n), -self.values[n])):
            value = self.values[number]
            if not all(
                any(at_least(other, *size, value) for other in useful) for size in ways[number]
            ):
                useful.append(number)
        return sorted(useful, key=lambda n: (-self.values[n] / area(n), n))

    @property
    def best(self) -> Tree:
        """The best layout so far."""
        return self.layouts[-1]

    def worth(self, layout: Tree) -> int:
        """Return the value of a layout's pieces."""
        counts = counts_of(layout, len(self.values))
        return sum(value * count for value, count in zip(self.values, counts, strict=True))

    def periodic(self, work: float) -> float:
        """Price grids of rows and the ends beside them; return the work that is left.

        The first is priced whatever the work, no other takes more than half of what is left: where
        sheets are not so large beside their pieces, the rounds after it find more.
        """
        for number, (types, ends) in enumerate(ROWS_AND_ENDS):
            sizes = [self.rows(axis, types) | self.ends(axis, ends) for axis in (0, 1)]
            if number and max(map(len, sizes)) > MOST_SIZES:
                break
            grid = self.grid(*sizes)
            if number and 2 * grid.work > work:
                break
            work -= self.round(grid)
        return work

    def rows(self, axis: int, types: int) -> set[int]:
        """Return the lengths of rows of equal pieces along an axis, and of what is left beside."""
        dense = islice(self.sides.values(), types)
        each = {side for sides in dense for side in sides[axis]}
        whole = self.whole[axis]
        rows = {side * many for side in each for many in range(1, whole // side + 1)}
        return rows | {whole - row for row in rows if row < whole}

    def ends(self, axis: int, most: int) -> set[int]:
        """Return the least sums of any pieces along an axis, and what is left beside each."""
        whole = self.whole[axis]
        each = [side for sides in self.sides.values() for side in sides[axis]]
        sums = set(normal_patterns(each, whole)[1 : most + 1].tolist())
        return sums | {whole - one for one in sums if one < whole}

    def sizes(self, most: int) -> tuple[set[int], set[int]]:
        """Return the sizes of a grid's two sides, about `most` each."""
        parts = [
            size for layout in self.layouts[-KEPT:] for size in part_sizes(layout, self.instance)
        ]
        counts = counts_of(self.best, len(self.values))
        used = [number for number, count in enumerate(counts) if count and number in self.sides]
        found = []
        for axis in (0, 1):
            densest = [*islice(self.sides, DENSEST)]
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

    def grid(self, widths: Iterable[int], heights: Iterable[int]) -> Grid:
        """Return the grid of some sizes, of all pieces that may be of use, and of the sheet.

        Were the sheet rounded down to another size, it would not hold what is left beside a part.
        """
        return grid_of_sizes(
            self.instance,
            {*widths, self.whole[0], *(w for each, _ in self.sides.values() for w in each)},
            {*heights, self.whole[1], *(h for _, each in self.sides.values() for h in each)},
        )

    def round(self, grid: Grid) -> float:
        """Price a grid; return the splits compared."""
        table = best_values(grid, self.values)
        found = trace(grid, self.values, table, *grid.root(self.instance.sources[0], self.instance))
        if found is not None and self.worth(found) >= self.worth(self.best):
            self.layouts.append(found)
        return max(A_ROUND, grid.work)
