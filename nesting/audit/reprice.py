"""The worth of the best single layout on one source, by the audit's own exact recursion.

Gilmore & Gomory 1966 ("The theory and computation of knapsack functions") give the best
edge-to-edge layout of a W by H rectangle, any number of copies of each shape allowed, as

    F(x, y) = max( g(x, y),
                   F(x1, y) + F(x - x1, y)   for 0 < x1 <= x / 2,
                   F(x, y1) + F(x, y - y1)   for 0 < y1 <= y / 2 )

where g is the dearest single shape that fits. Two reductions make it quick, and neither changes
F(W, H). They are argued for one axis; the other is alike.

*Sums.* Let P be every sum of shape widths, repeats allowed, up to W, with 0; p(x) is the largest
of them that is at most x. Push everything in a layout to the left: a part divided across x needs
the sum of its halves' widths, one divided across y the wider of the two, so the width that a
layout needs is in P, and F(x, y) = F(p(x), y). (Herz 1972; Christofides & Whitlock 1977.)

*Raster points.* Let R be the set of all p(W - c), c in P; both p(W) and 0 are in it. The
recursion may use only parts whose width is in R (Terno, Lindemann & Scheithauer 1987, the name and
the year from memory, so here is the argument). Take b = p(W - c) in R and any division of it into
parts worth F(a) + F(d), where by the first reduction a and d are in P and a + d <= b. Put
a' = p(W - (c + d)); c + d is in P as P is closed under addition, so a' is in R, and a' >= a.
As a' + d is in P and at most W - c, it is at most b. Put d' = p(W - (c + a')); likewise d' is in
R, d' >= d, and a' + d' <= b. So a', d' divide b, lie in R and are worth no less; and as both are
positive both are less than b, which makes it an induction.

*A longest cut.* A part x by y can be divided across x only if y <= L, and across y only if x <= L,
where L is the tool's longest cut, a kerf added as to all sizes. Take each part for as small as its
content lets it be, p(x) by p(y), and each piece for free in any part that holds it: both can only
make F larger. While y <= L, F does not fall as x grows, since what is too wide can be trimmed, and
dividing adds up; the argument for raster points asks no more of F than that. But the part a' that
takes the place of a may be longer than L where a is not, and then is no longer divided across y.
That loses nothing if F(p(L), y) is among what F(a', y) is the most of, since a <= p(L) and y <= L.
So the raster points of L are taken in beside those of W, and for x > L one more way is allowed: to
trim x to the next smaller point. The other axis is alike.

*A narrowest strip* is another recursion, in `strips`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .strips import Side, fill_with_strips

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Shape", "TooManyPositions", "best_value"]

# Sums of two table entries must fit in 64 bits.
LARGEST_EXACT = 2**62
# About half a minute of numpy on an ordinary machine.
MOST_WORK = 3 * 10**10
MOST_POSITIONS = 6000
# The same where strips are held; beyond that they are taken to be as narrow as one likes.
MOST_STRIP_WORK = 10**10


class TooManyPositions(Exception):
    """The grid of cut positions is too large to be rechecked in reasonable time."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One way to lay one piece, with a whole-number value; sizes include the kerf."""

    width: int
    height: int
    value: int


@dataclass(frozen=True, slots=True)
class _Block:
    """Neighbouring positions that no cut relates to each other, so that all are found at once.

    Attributes
    ----------
    first, last
        The range of position indices.
    smaller
        How many positions from 1 on the nearer part of a cut may take.
    rest
        For each position and each nearer part, the index of what the farther part comes to;
        shape (positions, smaller).
    """

    first: int
    last: int
    smaller: int
    rest: NDArray[np.intp]


def best_value(
    shapes: Sequence[Shape],
    width: int,
    height: int,
    longest: int | None = None,
    strips: tuple[int, int] = (0, 0),
) -> int:
    """Return the greatest total value of shapes that edge-to-edge cuts can give.

    With limits of the tool, what is returned may be more than that, and is never less.

    Parameters
    ----------
    shapes
        Each may be used any number of times; sizes and source are already widened by the kerf.
    width, height
        Of the source, in steps.
    longest
        The longest cut, widened by the kerf like all sizes; None for no limit.
    strips
        How wide waste is at least, across the width and across the height; both 0 for no limit.

    Raises
    ------
    TooManyPositions
        If the table would be too large.
    """
    usable = [s for s in shapes if s.value > 0 and s.width <= width and s.height <= height]
    if not usable:
        return 0
    most = max(width, height) if longest is None else longest
    number = _number_type(usable, width, height)
    if min(strips) > 0:
        wide = _with_strips({shape.width for shape in usable}, width, strips[0])
        high = _with_strips({shape.height for shape in usable}, height, strips[1])
        if len(wide) * len(high) * (len(wide) + len(high)) <= MOST_STRIP_WORK:
            sides = Side(wide, strips[0], most), Side(high, strips[1], most)
            return int(fill_with_strips(usable, *sides, number)[-1, -1])
    across = _points({shape.width for shape in usable}, width, most)
    down = _points({shape.height for shape in usable}, height, most)
    _refuse_too_many(len(across), len(down))
    table = _single_shapes(usable, across, down, number)
    _fill(table, across, down, most)
    return int(table[-1, -1])


def _with_strips(lengths: set[int], limit: int, strip: int) -> NDArray[np.int64]:
    """Return every sum of strips and of lengths that cuts can leave, and the side itself."""
    import numpy as np

    held = {length for length in lengths if length >= strip}
    return np.union1d(_sums(held | {strip}, limit), [limit])


def _refuse_too_many(across: int, down: int) -> None:
    if max(across, down) > MOST_POSITIONS or across * down * (across + down) > MOST_WORK:
        raise TooManyPositions(f"{across} by {down} cut positions")


def _number_type(shapes: Sequence[Shape], width: int, height: int) -> type:
    """Return 64-bit integers where no total can pass them, else Python's own."""
    import numpy as np

    narrowest = min(shape.width for shape in shapes)
    lowest = min(shape.height for shape in shapes)
    most = (width // narrowest) * (height // lowest)
    dearest = max(shape.value for shape in shapes)
    return np.int64 if dearest * most < LARGEST_EXACT else object


def _sums(lengths: set[int], limit: int) -> NDArray[np.int64]:
    """Return every sum of `lengths`, repeats allowed, from 0 to `limit`, in order."""
    import numpy as np

    within = (1 << (limit + 1)) - 1
    reached = 1  # bit n says that n is a sum
    for length in sorted(lengths):
        shift = length
        while shift <= limit:
            # After shifts by 1, 2, 4, ... times the length, every multiple has been added.
            reached |= (reached << shift) & within
            shift *= 2
    packed = np.frombuffer(reached.to_bytes(limit // 8 + 1, "little"), dtype=np.uint8)
    return np.flatnonzero(np.unpackbits(packed, bitorder="little"))


def _index_below(points: NDArray[np.int64], lengths: NDArray[np.int64]) -> NDArray[np.intp]:
    """Return the index of the largest of `points` that is at most each of `lengths`."""
    import numpy as np

    return np.searchsorted(points, lengths, side="right") - 1


def _raster_points(lengths: set[int], limit: int) -> NDArray[np.int64]:
    import numpy as np

    sums = _sums(lengths, limit)
    return np.unique(sums[_index_below(sums, limit - sums)])


def _points(lengths: set[int], limit: int, longest: int) -> NDArray[np.int64]:
    """Return the raster points of a side, and those of the longest cut if that is shorter."""
    import numpy as np

    points = _raster_points(lengths, limit)
    if longest >= limit:
        return points
    return np.union1d(points, _raster_points(lengths, longest))


def _single_shapes(
    shapes: Sequence[Shape], across: NDArray[np.int64], down: NDArray[np.int64], number: type
) -> NDArray[Any]:
    """Return the table of the dearest single shape that fits each part: g above."""
    import numpy as np

    table: NDArray[Any] = np.zeros((len(across), len(down)), dtype=number)
    for shape in shapes:
        column = int(np.searchsorted(across, shape.width))
        row = int(np.searchsorted(down, shape.height))
        view = table[column:, row:]
        np.maximum(view, shape.value, out=view)
    return table


def _fill(
    table: NDArray[Any], across: NDArray[np.int64], down: NDArray[np.int64], longest: int
) -> None:
    """Turn g into F, a column of the table at a time."""
    import numpy as np

    blocks = tuple(_blocks(down))
    low = int(np.searchsorted(down, longest, side="right"))  # so many positions are not too long
    for index in range(1, len(across)):
        column, short = table[index], table[index, :low]
        smaller = int(_index_below(across, across[index] // 2))
        if smaller:
            rest = _index_below(across, across[index] - across[1 : smaller + 1])
            divided = table[1 : smaller + 1, :low] + table[rest, :low]
            np.maximum(short, divided.max(axis=0), out=short)
        if across[index] > longest:
            np.maximum(short, table[index - 1, :low], out=short)
            continue
        for block in blocks:
            if block.smaller:
                _cut_block(column, block)
            if block.last > low:
                trimmed = column[block.first - 1 : block.last]
                np.maximum.accumulate(trimmed, out=trimmed)


def _cut_block(column: NDArray[Any], block: _Block) -> None:
    import numpy as np

    divided = column[1 : block.smaller + 1] + column[block.rest]
    view = column[block.first : block.last]
    np.maximum(view, divided.max(axis=1), out=view)


def _blocks(points: NDArray[np.int64]) -> Iterator[_Block]:
    """Yield runs of positions shorter than the least part, so that none is part of another."""
    first = 1
    while first < len(points):
        last = int(_index_below(points, points[first] + points[1] - 1)) + 1
        smaller = int(_index_below(points, points[last - 1] // 2))
        nearer = points[1 : smaller + 1]
        rest = _index_below(points, points[first:last, None] - nearer[None, :])
        yield _Block(first, last, smaller, rest)
        first = last
