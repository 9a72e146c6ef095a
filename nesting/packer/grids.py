"""The grid of part sizes that the recursion prices: exact, within the tool's limits, or coarse."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from .fronts import fronts, most_fronts, number_of_splits
from .layouts import part_sizes
from .positions import limited_axis, normal_patterns, relaxed_axis, scaled, sparse_axis
from .strips import StripAxis, most_positions, strip_axis

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from ..problem.instance import Instance, SourceType
    from .fronts import Front
    from .layouts import Layout
    from .positions import CutAxis, Level

# ``(piece, turned, row, column)`` of the smallest part that holds the piece.
Held: TypeAlias = "tuple[int, bool, int, int]"

__all__ = [
    "Grid",
    "Held",
    "build_grid",
    "chunks",
    "exact_grid",
    "grid_of_sizes",
    "quick_grid",
    "sparse_grid",
    "strip_grid",
]

MOST_LIMITED_SIZES = 260
MOST_PATTERNS = 3500
MOST_QUICK_PATTERNS = 1200
MOST_EXACT_WORK = 1.2e9
MOST_LOSS = 0.03
# Where strips are held. What the audit would have to do bounds it too: it prices all sums.
MOST_STRIP_WORK, MOST_STRIP_SUMS = 1.2e9, 4e9
# Splits that are kept in memory, 20 bytes each.
MOST_KEPT = 6_000_000
# So many where levels would take so many times the work.
MOST_KEPT_DEEP, DEEP = 16_000_000, 8
# What pricing a front, and one of its splits, costs in splits compared by levels, as measured.
SPLITS_A_FRONT = 10_000
FRONT_WORK = 2
# Sums that one call of the pricing makes at once: so many fit into a core's second cache.
CHUNK = 1 << 18
# Each such call costs as much as so many splits, however few it compares.
SPLITS_A_CALL = 20_000


@dataclass(frozen=True)
class Grid:
    """Every part size that matters, and what can be done with each.

    Attributes
    ----------
    places
        Of each piece, either way round, the smallest part that holds it.
    may_split_x, may_split_y
        Whether a part may be cut across its width, or its height; shape ``(m, n)``; None where
        nothing forbids it.
    """

    x: CutAxis
    y: CutAxis
    places: tuple[Held, ...]
    may_split_x: NDArray[np.bool_] | None = None
    may_split_y: NDArray[np.bool_] | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows (widths) and columns (heights)."""
        return len(self.x.sizes), len(self.y.sizes)

    @property
    def holds_strips(self) -> bool:
        """Whether it is one for bounds on which the narrowest strip is held."""
        return isinstance(self.x, StripAxis)

    @property
    def closes_up(self) -> bool:
        """Whether a tree of its parts leaves out the waste."""
        return not self.x.exact or self.holds_strips

    @cached_property
    def splits(self) -> int:
        """How many splits all parts have."""
        return number_of_splits(self.x, self.y)

    @cached_property
    def most_splits(self) -> int:
        """A number of splits that no part exceeds."""
        return sum(max(len(first) for first, _ in axis.splits) for axis in (self.x, self.y))

    @cached_property
    def work(self) -> int:
        """What one pricing costs, in splits compared by levels; budgets count so."""
        return self._front_work if self.keeps_fronts else self._level_work

    @cached_property
    def _front_work(self) -> int:
        return SPLITS_A_FRONT * most_fronts(self.x, self.y) + FRONT_WORK * self.splits

    @cached_property
    def _level_work(self) -> int:
        rows = len(self.x.sizes)
        total = 0
        for level in self.x.levels:
            total += _sweep_work(level, len(self.y.sizes))
            total += sum(_sweep_work(down, level.end - level.start) for down in self.y.levels)
        return total + rows * len(self.y.sizes)

    @cached_property
    def keeps_fronts(self) -> bool:
        """Whether its splits are kept in memory.

        More of them where the smallest piece is so narrow that levels would be of few sizes each.
        """
        return self.splits <= MOST_KEPT or (
            self.splits <= MOST_KEPT_DEEP and self._front_work * DEEP <= self._level_work
        )

    def fronts(self) -> Iterator[Front]:
        """Yield the parts with their splits, in an order in which they can be priced."""
        return iter(self._kept) if self.keeps_fronts else self._laid_out()

    @cached_property
    def _kept(self) -> tuple[Front, ...]:
        return tuple(self._laid_out())

    def _laid_out(self) -> Iterator[Front]:
        return fronts(self.x, self.y, self.may_split_x, self.may_split_y)

    def may_split(self, axis: int, row: int, column: int) -> bool:
        """Return whether a part may be cut across its width (axis 0) or its height (1)."""
        allowed = self.may_split_x if axis == 0 else self.may_split_y
        return allowed is None or bool(allowed[row, column])

    def holds(self, at_row: int, at_column: int, row: int, column: int) -> bool:
        """Return whether a piece whose smallest part is the first given lies in the second."""
        if self.x.exact:
            return at_row == row and at_column == column
        return at_row <= row and at_column <= column

    def turned(self, piece: int, row: int, column: int) -> bool:
        """Return whether a piece that fits a part must be turned in it."""
        return next(
            turned
            for number, turned, at_row, at_column in self.places_of[piece]
            if self.holds(at_row, at_column, row, column)
        )

    @cached_property
    def places_of(self) -> dict[int, list[Held]]:
        """The places of each piece."""
        found: dict[int, list[Held]] = {}
        for place in self.places:
            found.setdefault(place[0], []).append(place)
        return found

    def cell(self, width: int, height: int) -> tuple[int, int]:
        """Return the row and column of the gross part size `width` x `height`."""
        return self.x.floor(width), self.y.floor(height)

    def root(self, source: SourceType, instance: Instance) -> tuple[int, int]:
        """Return the row and column of a whole source; of one that no cut can be made on, nothing.

        Nothing comes of that but a piece of its very size.
        """
        longest = instance.longest_cut
        sides = source.width, source.height
        is_whole = any(sides in piece.orientations() for piece in instance.pieces)
        if longest is not None and min(sides) > longest and not is_whole:
            return 0, 0
        return self.cell(source.width + instance.kerf, source.height + instance.kerf)


def chunks(level: Level, width: int) -> Iterator[tuple[slice, slice]]:
    """Yield ranges of a level's widths and of their splits that are priced in one call."""
    splits = level.first.shape[1]
    rows = max(1, CHUNK // max(1, splits * width))
    at_once = max(1, CHUNK // width if rows == 1 else splits)
    for row in range(0, level.end - level.start, rows):
        most = max(level.lengths[row : row + rows])
        for split in range(0, most, at_once):
            yield (
                slice(row, min(row + rows, level.end - level.start)),
                slice(split, min(split + at_once, most)),
            )


def _sweep_work(level: Level, width: int) -> int:
    splits = level.first.shape[1]
    calls = -(-(level.end - level.start) * splits * width // CHUNK) if splits else 0
    return sum(level.lengths) * width + calls * SPLITS_A_CALL


def build_grid(
    instance: Instance,
    *,
    limited: bool,
    most: int = MOST_LIMITED_SIZES,
) -> Grid:
    """Return the grid of `instance`; with `limited`, one that holds all of the tool's limits.

    Without, it knows the longest cut only, and takes every part for as small as its content
    lets it be and every trim for taken off: no layout that the tool can cut is worth more.

    A piece that reaches into a trim which no cut can take off is not noticed here; see `legal`.
    """
    kerf = instance.kerf
    widths, heights = _gross_sides(instance)
    across = [source.width + kerf for source in instance.sources]
    down = [source.height + kerf for source in instance.sources]
    if not limited:
        longest = _gross_longest(instance)
        x, y = relaxed_axis(widths, across, longest), relaxed_axis(heights, down, longest)
        return Grid(x, y, _places(instance, x, y), *_short_cuts(x, y, longest))
    strip = instance.narrowest_strip
    x = limited_axis(widths, across, kerf, strip, most)
    y = limited_axis(heights, down, kerf, strip, most)
    may_x, may_y = _within_longest(instance, x, y)
    return Grid(x, y, _places(instance, x, y), may_x, may_y)


def exact_grid(instance: Instance) -> Grid | None:
    """Return the grid without a narrowest strip, or None where it would be too large to price."""
    if _most_patterns(instance, 1) > MOST_PATTERNS:
        return None
    grid = build_grid(instance, limited=False)
    return grid if grid.work <= MOST_EXACT_WORK else None


def strip_grid(instance: Instance) -> Grid | None:
    """Return the grid on which the narrowest strip is held, for bounds; see `strips`.

    None where the limit forbids nothing that it would know, or where the grid would be too large.
    """
    strip_x, strip_y = _strips_left(instance)
    if instance.kerf or min(strip_x, strip_y) <= 0:
        return None
    widths, heights = _gross_sides(instance)
    across = [source.width for source in instance.sources]
    down = [source.height for source in instance.sources]
    wide, high = (
        most_positions(sides, max(roots), strip)
        for sides, roots, strip in ((widths, across, strip_x), (heights, down, strip_y))
    )
    if wide * high * (wide + high) > MOST_STRIP_SUMS:
        return None
    longest = _gross_longest(instance)
    x, y = strip_axis(widths, across, strip_x, longest), strip_axis(heights, down, strip_y, longest)
    grid = Grid(x, y, _strip_places(instance, x, y), *_whole_cuts(x, y, longest))
    return grid if grid.work <= MOST_STRIP_WORK else None


def _strips_left(instance: Instance) -> tuple[int, int]:
    """Return how wide a waste strip is at least each way, a trim that may still be on it apart."""
    strip = instance.narrowest_strip
    return (
        strip - max(source.trim_x for source in instance.sources),
        strip - max(source.trim_y for source in instance.sources),
    )


def _strip_places(instance: Instance, x: StripAxis, y: StripAxis) -> tuple[Held, ...]:
    return tuple(
        (number, bool(turned), x.exactly[width], y.exactly[height])
        for number, piece in enumerate(instance.pieces)
        for turned, (width, height) in enumerate(piece.orientations())
        if width in x.exactly and height in y.exactly
    )


def _whole_cuts(
    x: StripAxis, y: StripAxis, longest: int | None
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which parts may be split either way: through what is short enough, and one part."""
    shape = len(x.sizes), len(y.sizes)
    across, down = ~y.undivided, ~x.undivided
    if longest is not None:
        across, down = across & (y.sizes <= longest), down & (x.sizes <= longest)
    return np.broadcast_to(across, shape), np.broadcast_to(down[:, np.newaxis], shape)


def quick_grid(instance: Instance, exact: Grid | None, most: float) -> Grid:
    """Return `exact` if one pricing takes at most `most` work, else a coarser one that does.

    On a coarser grid pieces are rounded up and sources down to whole multiples of a coarser step.
    Its layouts fit, with a little waste that closing them up takes out again. A step that makes
    the pieces too large is not taken, however quick it would be.
    """
    if exact is not None and exact.work <= most:
        return exact
    finest = exact
    step = 2
    while step < _finest_side(instance):
        if finest is not None and _rounding_loss(instance, step) > MOST_LOSS:
            return finest
        if _most_patterns(instance, step) <= MOST_QUICK_PATTERNS:
            finest = _rounded_grid(instance, step)
            if finest.work <= most:
                return finest
        step *= 2
    return finest or _rounded_grid(instance, step)


def sparse_grid(instance: Instance, layouts: Iterable[Layout]) -> Grid:
    """Return a grid of the sizes that parts of some layouts have, and pieces, and no others.

    It is far quicker to price than the exact grid, holds these layouts and whatever else can be
    put together of such parts, and rounds nothing. It proves nothing.
    """
    widths, heights = map(set, _gross_sides(instance))
    for layout in layouts:
        for width, height in part_sizes(layout.root, instance):
            widths.add(width)
            heights.add(height)
    return grid_of_sizes(instance, widths, heights)


def grid_of_sizes(instance: Instance, widths: Iterable[int], heights: Iterable[int]) -> Grid:
    """Return a grid of these sizes of parts and no others, kerf included; it proves nothing."""
    kerf, longest = instance.kerf, _gross_longest(instance)
    across = [source.width + kerf for source in instance.sources]
    down = [source.height + kerf for source in instance.sources]
    x, y = sparse_axis(widths, across, longest), sparse_axis(heights, down, longest)
    return Grid(x, y, _places(instance, x, y), *_short_cuts(x, y, longest))


def _rounding_loss(instance: Instance, step: int) -> float:
    """Return by what share of their area the pieces grow on a coarser step."""
    kerf = instance.kerf
    true = rounded = 0
    for piece in instance.pieces:
        wide, high = piece.width + kerf, piece.height + kerf
        true += wide * high * piece.demand
        rounded += -(-wide // step) * -(-high // step) * step * step * piece.demand
    return rounded / true - 1 if true else 0.0


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
    # Of a source narrower than a step nothing would be left.
    step_x = min(step, *(source.width + kerf for source in instance.sources))
    step_y = min(step, *(source.height + kerf for source in instance.sources))
    across = [(source.width + kerf) // step_x for source in instance.sources]
    down = [(source.height + kerf) // step_y for source in instance.sources]
    wide = _rounded_up(widths, step_x, max(source.width for source in instance.sources) + kerf)
    high = _rounded_up(heights, step_y, max(source.height for source in instance.sources) + kerf)
    longest = _gross_longest(instance)
    x = relaxed_axis(sorted(set(wide.values())), across, _in_steps(longest, step_x))
    y = relaxed_axis(sorted(set(high.values())), down, _in_steps(longest, step_y))
    places = tuple(
        (
            number,
            bool(turned),
            int(np.searchsorted(x.sizes, wide[width + kerf])),
            int(np.searchsorted(y.sizes, high[height + kerf])),
        )
        for number, piece in enumerate(instance.pieces)
        for turned, (width, height) in enumerate(piece.orientations())
        if _fits_one(instance, width, height)
    )
    held = tuple(p for p in places if p[2] < len(x.sizes) and p[3] < len(y.sizes))
    x, y = scaled(x, step_x), scaled(y, step_y)
    return Grid(x, y, held, *_short_cuts(x, y, longest))


def _in_steps(longest: int | None, step: int) -> int | None:
    return None if longest is None else longest // step


def _gross_sides(instance: Instance) -> tuple[list[int], list[int]]:
    """Return the sides of pieces as they may lie in a source, across and down."""
    sides = [
        (width + instance.kerf, height + instance.kerf)
        for piece in instance.pieces
        for width, height in piece.orientations()
        if _fits_one(instance, width, height)
    ]
    return [width for width, _ in sides], [height for _, height in sides]


def _fits_one(instance: Instance, width: int, height: int) -> bool:
    return any(width <= one.width and height <= one.height for one in instance.sources)


def _places(instance: Instance, x: CutAxis, y: CutAxis) -> tuple[Held, ...]:
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


def _gross_longest(instance: Instance) -> int | None:
    """Return the gross size up to which a part can be cut across the other side, if not any."""
    longest = instance.longest_cut
    sides = (max(source.width, source.height) for source in instance.sources)
    return None if longest is None or longest >= max(sides) else longest + instance.kerf


def _short_cuts(
    x: CutAxis, y: CutAxis, longest: int | None
) -> tuple[NDArray[np.bool_] | None, NDArray[np.bool_] | None]:
    """Return which parts may be split either way without a cut that is too long, trims apart."""
    if longest is None:
        return None, None
    shape = len(x.sizes), len(y.sizes)
    low, narrow = y.sizes <= longest, x.sizes <= longest
    return np.broadcast_to(low, shape), np.broadcast_to(narrow[:, np.newaxis], shape)


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
