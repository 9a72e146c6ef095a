"""The best single layout for given piece values, over a grid of part sizes.

Gilmore and Gomory (1966), The theory and computation of knapsack functions: the best value of a
part is that of one piece in it, or of its best split in two. `best_values` solves this exactly
for unlimited copies, `best_within` keeps within given numbers of copies and is then a heuristic.

Both price whole blocks of rows at once. The rows of a block differ by less than the narrowest
piece, so none is a part of another: first every row takes its best split of the width from
finished rows, then the block, transposed, takes its splits of the height column by column.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .layouts import Place, Split
from .positions import limited_axis, normal_patterns, relaxed_axis, scaled

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from ..problem.instance import Instance
    from .layouts import Tree
    from .positions import CutAxis, IntArray

__all__ = [
    "Bounded",
    "Grid",
    "best_values",
    "best_within",
    "build_grid",
    "quick_grid",
    "trace",
    "trace_within",
]

MOST_LIMITED_SIZES = 260
SPLITS_A_STEP = 5000
MOST_PATTERNS = 3500
MOST_QUICK_PATTERNS = 1200
MOST_EXACT_WORK = 1.2e9


@dataclass(frozen=True, slots=True)
class Grid:
    """Every part size that matters, and what can be done with each.

    Attributes
    ----------
    places
        ``(piece, turned, row, column)`` of the smallest part that holds the piece.
    may_split_x, may_split_y
        Whether a part may be cut across its width, or its height; shape ``(m, n)``; None where
        nothing forbids it.
    """

    x: CutAxis
    y: CutAxis
    places: tuple[tuple[int, bool, int, int], ...]
    may_split_x: NDArray[np.bool_] | None = None
    may_split_y: NDArray[np.bool_] | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows (widths) and columns (heights)."""
        return len(self.x.sizes), len(self.y.sizes)

    @property
    def work(self) -> int:
        """How many splits one pricing compares; the unit in which budgets are counted.

        Each step of the recursion costs as much as some thousands of splits, whatever its length.
        """
        rows, columns = self.shape
        across = sum(len(first) for first, _ in self.x.splits) * columns
        down = sum(len(first) for first, _ in self.y.splits) * rows
        steps = rows + len(self.x.blocks) * columns
        return across + down + steps * SPLITS_A_STEP

    def may_split(self, axis: int, row: int, column: int) -> bool:
        """Return whether a part may be cut across its width (axis 0) or its height (1)."""
        allowed = self.may_split_x if axis == 0 else self.may_split_y
        return allowed is None or bool(allowed[row, column])

    def holds(self, at_row: int, at_column: int, row: int, column: int) -> bool:
        """Return whether a piece whose smallest part is the first given lies in the second."""
        if self.x.exact:
            return at_row == row and at_column == column
        return at_row <= row and at_column <= column

    def cell(self, width: int, height: int) -> tuple[int, int]:
        """Return the row and column of the gross part size `width` x `height`."""
        return self.x.floor(width), self.y.floor(height)


def build_grid(
    instance: Instance,
    *,
    limited: bool,
    most: int = MOST_LIMITED_SIZES,
) -> Grid:
    """Return the grid of `instance`; with `limited`, one that holds the tool's limits.

    A piece that reaches into a trim which no cut can take off is not noticed here; see `legal`.

    """
    kerf = instance.kerf
    widths, heights = _gross_sides(instance)
    across = [source.width + kerf for source in instance.sources]
    down = [source.height + kerf for source in instance.sources]
    if not limited:
        x, y = relaxed_axis(widths, across), relaxed_axis(heights, down)
        return Grid(x, y, _places(instance, x, y))
    strip = instance.narrowest_strip
    x = limited_axis(widths, across, kerf, strip, most)
    y = limited_axis(heights, down, kerf, strip, most)
    may_x, may_y = _within_longest(instance, x, y)
    return Grid(x, y, _places(instance, x, y), may_x, may_y)


def exact_grid(instance: Instance) -> Grid | None:
    """Return the grid without the tool's limits, or None where it would be too large to price."""
    if _most_patterns(instance, 1) > MOST_PATTERNS:
        return None
    grid = build_grid(instance, limited=False)
    return grid if grid.work <= MOST_EXACT_WORK else None


def quick_grid(instance: Instance, exact: Grid | None, most: float) -> Grid:
    """Return `exact` if one pricing takes at most `most` work, else a coarser one that does.

    On a coarser grid pieces are rounded up and sources down to whole multiples of a coarser step.
    Its layouts fit, with a little waste that closing them up takes out again.
    """
    if exact is not None and exact.work <= most:
        return exact
    step = 2
    while step < _finest_side(instance):
        if _most_patterns(instance, step) <= MOST_QUICK_PATTERNS:
            grid = _rounded_grid(instance, step)
            if grid.work <= most:
                return grid
        step *= 2
    return _rounded_grid(instance, step)


def _most_patterns(instance: Instance, step: int) -> int:
    """Return how many normal patterns the longer list of the two sides would have."""
    widths, heights = _gross_sides(instance)
    longest = max(source.width for source in instance.sources) + instance.kerf
    highest = max(source.height for source in instance.sources) + instance.kerf
    return max(
        len(normal_patterns([-(-side // step) for side in sides], most // step))
        for sides, most in ((widths, longest), (heights, highest))
    )


def _finest_side(instance: Instance) -> int:
    return min(min(piece.width, piece.height) for piece in instance.pieces) + instance.kerf


def _rounded_up(sizes: Sequence[int], step: int, most: int) -> dict[int, int]:
    """Return each size in whole steps; what just fits the largest source still does.

    That it fits the other sources too is checked on the layouts.
    """
    return {
        size: min(-(-size // step), most // step) if size <= most else -(-size // step)
        for size in sizes
    }


def _rounded_grid(instance: Instance, step: int) -> Grid:
    kerf = instance.kerf
    widths, heights = _gross_sides(instance)
    across = [(source.width + kerf) // step for source in instance.sources]
    down = [(source.height + kerf) // step for source in instance.sources]
    wide = _rounded_up(widths, step, max(source.width for source in instance.sources) + kerf)
    high = _rounded_up(heights, step, max(source.height for source in instance.sources) + kerf)
    x = relaxed_axis(sorted(set(wide.values())), [root for root in across if root])
    y = relaxed_axis(sorted(set(high.values())), [root for root in down if root])
    places = tuple(
        (
            number,
            bool(turned),
            int(np.searchsorted(x.sizes, wide[width + kerf])),
            int(np.searchsorted(y.sizes, high[height + kerf])),
        )
        for number, piece in enumerate(instance.pieces)
        for turned, (width, height) in enumerate(piece.orientations())
    )
    held = tuple(p for p in places if p[2] < len(x.sizes) and p[3] < len(y.sizes))
    return Grid(scaled(x, step), scaled(y, step), held)


def _gross_sides(instance: Instance) -> tuple[list[int], list[int]]:
    sides = [
        (width + instance.kerf, height + instance.kerf)
        for piece in instance.pieces
        for width, height in piece.orientations()
    ]
    return [width for width, _ in sides], [height for _, height in sides]


def _places(instance: Instance, x: CutAxis, y: CutAxis) -> tuple[tuple[int, bool, int, int], ...]:
    found = []
    for number, piece in enumerate(instance.pieces):
        for turned, (width, height) in enumerate(piece.orientations()):
            gross = width + instance.kerf, height + instance.kerf
            row = int(np.searchsorted(x.sizes, gross[0]))
            column = int(np.searchsorted(y.sizes, gross[1]))
            if row == len(x.sizes) or column == len(y.sizes):
                continue
            exact = x.sizes[row] == gross[0] and y.sizes[column] == gross[1]
            if exact or not x.exact:
                found.append((number, bool(turned), row, column))
    return tuple(found)


def _within_longest(
    instance: Instance, x: CutAxis, y: CutAxis
) -> tuple[NDArray[np.bool_] | None, NDArray[np.bool_] | None]:
    """Return which parts may be split either way without a cut that is too long.

    A cut across the width is as long as the part is high. On a trimmed sheet the first cut crosses
    the trims too, unless those could be taken off before.
    """
    longest = instance.longest_cut
    if longest is None:
        return None, None
    rows, columns = len(x.sizes), len(y.sizes)
    may_x = np.repeat((y.sizes - instance.kerf <= longest)[np.newaxis, :], rows, axis=0)
    may_y = np.repeat((x.sizes - instance.kerf <= longest)[:, np.newaxis], columns, axis=1)
    for source in instance.sources:
        full_width, full_height = source.width + source.trim_x, source.height + source.trim_y
        row, column = x.floor(source.width + instance.kerf), y.floor(source.height + instance.kerf)
        if full_height > longest and not (full_width <= longest and source.height <= longest):
            may_x[row, column] = False
        if full_width > longest and not (full_height <= longest and source.width <= longest):
            may_y[row, column] = False
    return may_x, may_y


def _base(grid: Grid, values: Sequence[int]) -> IntArray:
    """Return the value of the best single piece in each part."""
    table = np.zeros(grid.shape, dtype=np.int64)
    for piece, _, row, column in grid.places:
        table[row, column] = max(int(table[row, column]), values[piece])
    if not grid.x.exact:
        np.maximum.accumulate(table, axis=0, out=table)
        np.maximum.accumulate(table, axis=1, out=table)
    return table


def best_values(grid: Grid, values: Sequence[int]) -> IntArray:
    """Return the best value of every part, copies unlimited.

    Parameters
    ----------
    values
        Of one piece of each type; not negative, and small enough that a source's value fits in
        63 bits.

    Returns
    -------
    ndarray of int64, shape ``(m, n)``
        By part width and height.
    """
    table = _base(grid, values)
    for start, end in grid.x.blocks:
        for row in range(start, end):
            first, second = grid.x.splits[row]
            if len(first):
                best = (table[first] + table[second]).max(axis=0)
                if grid.may_split_x is not None:
                    best[~grid.may_split_x[row]] = 0
                np.maximum(table[row], best, out=table[row])
        table[start:end] = _split_heights(grid, table, start, end).T
    return table


def _split_heights(grid: Grid, table: IntArray, start: int, end: int) -> IntArray:
    block = np.ascontiguousarray(table[start:end].T)
    for column, (first, second) in enumerate(grid.y.splits):
        if len(first):
            best = (block[first] + block[second]).max(axis=0)
            if grid.may_split_y is not None:
                best[~grid.may_split_y[start:end, column]] = 0
            np.maximum(block[column], best, out=block[column])
    return block


def trace(grid: Grid, values: Sequence[int], table: IntArray, row: int, column: int) -> Tree:
    """Return a tree of cuts that reaches ``table[row, column]``."""
    worth = int(table[row, column])
    if worth == 0:
        return None
    for piece, turned, at_row, at_column in grid.places:
        if values[piece] == worth and grid.holds(at_row, at_column, row, column):
            return Place(piece, turned)
    for split in _splits(grid, row, column):
        hit = np.flatnonzero(table[split.one] + table[split.two] == worth)
        if len(hit):
            one, two = split.chosen(table, hit)
            return split.joined(
                trace(grid, values, table, *one), trace(grid, values, table, *two), one
            )
    raise AssertionError("a part's value comes from no split")


@dataclass(frozen=True, slots=True)
class _Splits:
    """Every way to split one part across one axis: the rows and columns of both parts."""

    grid: Grid
    axis: int
    one: tuple[IntArray, IntArray]
    two: tuple[IntArray, IntArray]

    def chosen(
        self, worth: IntArray, hits: NDArray[np.intp]
    ) -> tuple[tuple[int, int], tuple[int, int]]:
        """Return the first hit with something in both parts, else the one that wastes most."""
        first, second = worth[self.one][hits], worth[self.two][hits]
        full = np.flatnonzero((first > 0) & (second > 0))
        if len(full):
            pick = int(hits[full[0]])
        else:
            larger = np.maximum(self.one[self.axis][hits], self.two[self.axis][hits])
            pick = int(hits[int(larger.argmin())])
        return (
            (int(self.one[0][pick]), int(self.one[1][pick])),
            (int(self.two[0][pick]), int(self.two[1][pick])),
        )

    def joined(self, first: Tree, second: Tree, one: tuple[int, int]) -> Tree:
        """Return the tree of the split; on reduced sizes an empty part need not be cut off."""
        if not self.grid.x.exact and (first is None or second is None):
            return first if second is None else second
        sizes = (self.grid.y if self.axis else self.grid.x).sizes
        return Split(self.axis, int(sizes[one[self.axis]]), first, second)


def _splits(grid: Grid, row: int, column: int) -> Iterator[_Splits]:
    for axis, (first, second) in ((0, grid.x.splits[row]), (1, grid.y.splits[column])):
        if len(first) and grid.may_split(axis, row, column):
            if axis == 0:
                across = np.full_like(first, column)
                yield _Splits(grid, axis, (first, across), (second, across))
            else:
                down = np.full_like(first, row)
                yield _Splits(grid, axis, (down, first), (down, second))


@dataclass(frozen=True, slots=True)
class _Packing:
    """Where each type's field lies: word, shift; and each word's offset and mask."""

    word: tuple[int, ...]
    one: tuple[int, ...]
    offsets: tuple[int, ...]
    guards: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Bounded:
    """Best values within limits, and the copies that make each up.

    Copies are packed into words, a field a piece type with one bit to spare, so that one addition
    adds all copies and one mask shows whether any exceeds its limit.

    Attributes
    ----------
    copies
        One table a word, each of the shape of `values`.
    """

    values: IntArray
    copies: tuple[IntArray, ...]
    fields: _Packing

    def holds_just(self, piece: int, row: int, column: int) -> bool:
        """Return whether the copies kept for a part are one of `piece` and nothing else."""
        return all(
            int(word[row, column])
            == (self.fields.one[piece] if self.fields.word[piece] == number else 0)
            for number, word in enumerate(self.copies)
        )


def _pack_fields(limits: Sequence[int]) -> _Packing:
    word, one = [], []
    offsets, guards = [0], [0]
    shift = 0
    for limit in limits:
        bits = limit.bit_length() + 1
        if shift + bits > 62:
            offsets.append(0)
            guards.append(0)
            shift = 0
        word.append(len(offsets) - 1)
        one.append(1 << shift)
        offsets[-1] += ((1 << (bits - 1)) - 1 - limit) << shift
        guards[-1] += 1 << (shift + bits - 1)
        shift += bits
    return _Packing(tuple(word), tuple(one), tuple(offsets), tuple(guards))


def best_within(grid: Grid, values: Sequence[int], limits: Sequence[int]) -> Bounded:
    """Return good values of every part with at most `limits` copies of each type.

    Each part keeps one set of copies, the best found, and splits whose sums exceed a limit are
    refused: every value is reached by some layout, but a better one may be missed.
    """
    packing = _pack_fields(limits)
    table = np.zeros(grid.shape, dtype=np.int64)
    copies = [np.zeros(grid.shape, dtype=np.int64) for _ in packing.offsets]
    for piece, _, row, column in grid.places:
        if limits[piece] > 0:
            _offer_piece(grid, table, copies, packing, piece, values[piece], row, column)
    for start, end in grid.x.blocks:
        for row in range(start, end):
            allowed = None if grid.may_split_x is None else grid.may_split_x[row]
            _offer_splits(table, copies, packing, row, grid.x.splits[row], allowed)
        block = np.ascontiguousarray(table[start:end].T)
        turned = [np.ascontiguousarray(word[start:end].T) for word in copies]
        for column, split in enumerate(grid.y.splits):
            allowed = None if grid.may_split_y is None else grid.may_split_y[start:end, column]
            _offer_splits(block, turned, packing, column, split, allowed)
        table[start:end] = block.T
        for word, part in zip(copies, turned, strict=True):
            word[start:end] = part.T
    return Bounded(table, tuple(copies), packing)


def _offer_piece(
    grid: Grid,
    table: IntArray,
    copies: Sequence[IntArray],
    packing: _Packing,
    piece: int,
    value: int,
    row: int,
    column: int,
) -> None:
    where = (
        (slice(row, row + 1), slice(column, column + 1))
        if grid.x.exact
        else (slice(row, None), slice(column, None))
    )
    better = table[where] < value
    table[where][better] = value
    for number, word in enumerate(copies):
        word[where][better] = packing.one[piece] if packing.word[piece] == number else 0


def _offer_splits(
    table: IntArray,
    copies: Sequence[IntArray],
    packing: _Packing,
    line: int,
    split: tuple[IntArray, IntArray],
    allowed: NDArray[np.bool_] | None,
) -> None:
    """Let row `line` of `table` take the best legal sum of two finished rows, column by column."""
    first, second = split
    if not len(first):
        return
    sums = table[first] + table[second]
    over = np.zeros(sums.shape, dtype=np.int64)
    for word, offset, guard in zip(copies, packing.offsets, packing.guards, strict=True):
        over |= (word[first] + word[second] + offset) & guard
    sums[over != 0] = -1
    if allowed is not None:
        sums[:, ~allowed] = -1
    pick = sums.argmax(axis=0)
    every = np.arange(sums.shape[1])
    best = sums[pick, every]
    better = best > table[line]
    table[line][better] = best[better]
    a, b = first[pick[better]], second[pick[better]]
    for word in copies:
        word[line][better] = word[a, every[better]] + word[b, every[better]]


def trace_within(grid: Grid, bounded: Bounded, row: int, column: int) -> Tree:
    """Return a tree of cuts that reaches the value and the copies kept for one part."""
    worth = int(bounded.values[row, column])
    if worth == 0:
        return None
    for piece, turned, at_row, at_column in grid.places:
        if grid.holds(at_row, at_column, row, column) and bounded.holds_just(piece, row, column):
            return Place(piece, turned)
    for split in _splits(grid, row, column):
        same = bounded.values[split.one] + bounded.values[split.two] == worth
        for word in bounded.copies:
            same &= word[split.one] + word[split.two] == word[row, column]
        hit = np.flatnonzero(same)
        if len(hit):
            one, two = split.chosen(bounded.values, hit)
            return split.joined(
                trace_within(grid, bounded, *one), trace_within(grid, bounded, *two), one
            )
    raise AssertionError("a part's copies come from no split")
