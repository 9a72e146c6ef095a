"""The order in which the recursion prices the parts of a grid: many at once, none too early.

A part's splits use only smaller parts. How many cuts deep a width can be split, and a height, add
up to a part's depth, and both halves of a split lie less deep than the whole. So all parts of one
depth are a front: what they are worth hangs on earlier fronts alone, and numpy can price a whole
front with a few calls. Fronts run along the anti-diagonals of the table, as is usual for dynamic
programs of this shape.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from .positions import CutAxis

    Index = NDArray[np.intp]

__all__ = ["Front", "fronts", "most_fronts", "number_of_splits"]

# A front of more splits than this is priced in several lots: what they need stays in the cache.
MOST_SPLITS = 1 << 16


@dataclass(frozen=True, slots=True)
class Front:
    """Parts that can be priced at once, and their splits.

    Attributes
    ----------
    cells
        The parts, as places in the table laid out row by row; shape ``(p,)``.
    first, second
        The places of the two halves of each split, part by part; shape ``(s,)``.
    starts, lengths
        Where each part's splits begin, and how many there are, at least one; shape ``(p,)``.
    ranks
        How many splits of the same part come after this one; shape ``(s,)``.
    """

    cells: Index
    first: Index
    second: Index
    starts: Index
    lengths: Index
    ranks: NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class _Axis:
    """The splits of one axis end to end: where each width's begin, how many, how deep."""

    begins: Index
    numbers: Index
    depths: Index
    first: Index
    second: Index

    @classmethod
    def of(cls, axis: CutAxis) -> _Axis:
        numbers = np.array([len(first) for first, _ in axis.splits], dtype=np.intp)
        return cls(
            np.cumsum(numbers) - numbers,
            numbers,
            _depths(axis),
            np.concatenate([first for first, _ in axis.splits]).astype(np.intp),
            np.concatenate([second for _, second in axis.splits]).astype(np.intp),
        )


def _depths(axis: CutAxis) -> Index:
    """Return how many cuts deep each width can be split."""
    depths = np.zeros(len(axis.sizes), dtype=np.intp)
    for level in axis.levels:
        # Widths without splits are filled up with nothing and nothing.
        halves = np.maximum(depths[level.first], depths[level.second])
        deep = 1 + halves.max(axis=1, initial=0)
        depths[level.start : level.end] = np.where(np.array(level.lengths) > 0, deep, 0)
    return depths


def number_of_splits(x: CutAxis, y: CutAxis) -> int:
    """Return how many splits all parts of a grid have, if nothing forbids any."""
    across = sum(len(first) for first, _ in x.splits)
    down = sum(len(first) for first, _ in y.splits)
    return across * len(y.sizes) + down * len(x.sizes)


def most_fronts(x: CutAxis, y: CutAxis) -> int:
    """Return a number of fronts that the grid's do not exceed."""
    return int(_depths(x).max() + _depths(y).max())


def fronts(
    x: CutAxis,
    y: CutAxis,
    may_split_x: NDArray[np.bool_] | None,
    may_split_y: NDArray[np.bool_] | None,
) -> Iterator[Front]:
    """Yield the fronts of a grid, small parts first.

    Parameters
    ----------
    may_split_x, may_split_y
        Which parts may be split either way; shape ``(m, n)``; None for all of them.
    """
    across, down = _Axis.of(x), _Axis.of(y)
    shape = len(x.sizes), len(y.sizes)
    wide = np.broadcast_to(across.numbers[:, np.newaxis], shape)
    high = np.broadcast_to(down.numbers[np.newaxis, :], shape)
    wide = wide if may_split_x is None else np.where(may_split_x, wide, 0)
    high = high if may_split_y is None else np.where(may_split_y, high, 0)
    depths = across.depths[:, np.newaxis] + down.depths[np.newaxis, :]
    depths[wide + high == 0] = 0
    # Width or height 0 is nothing.
    depths[0, :] = depths[:, 0] = 0
    deep, wide, high = depths.ravel(), wide.ravel(), high.ravel()
    order = np.argsort(deep, kind="stable")
    bounds = np.searchsorted(deep[order], np.arange(1, int(deep.max(initial=0)) + 2))
    for start, end in itertools.pairwise(bounds):
        for cells in _in_lots(order[start:end], wide, high):
            yield _front(cells, shape[1], across, down, wide[cells], high[cells])


def _in_lots(cells: Index, wide: Index, high: Index) -> list[Index]:
    """Return the parts in lots that have no more than `MOST_SPLITS` splits, or are one part."""
    if not len(cells):
        return []
    lots = np.cumsum(wide[cells] + high[cells]) // MOST_SPLITS
    return np.split(cells, np.flatnonzero(np.diff(lots)) + 1)


def _front(
    cells: Index, columns: int, across: _Axis, down: _Axis, wide: Index, high: Index
) -> Front:
    """Return the front of some parts, each with its splits of the width, then of the height."""
    row, column = np.divmod(cells, columns)
    lengths = wide + high
    starts = np.cumsum(lengths) - lengths
    total = int(lengths.sum())
    first, second = np.empty(total, dtype=np.intp), np.empty(total, dtype=np.intp)
    for axis, here, numbers, entry, scale, base in (
        (across, row, wide, starts, columns, column),
        (down, column, high, starts + wide, 1, row * columns),
    ):
        ends = np.cumsum(numbers)
        each, before = np.arange(int(ends[-1])), ends - numbers
        source = each + np.repeat(axis.begins[here] - before, numbers)
        target = each + np.repeat(entry - before, numbers)
        shift = np.repeat(base, numbers)
        first[target] = axis.first[source] * scale + shift
        second[target] = axis.second[source] * scale + shift
    ranks = np.repeat(starts + lengths - 1, lengths) - np.arange(total)
    return Front(cells, first, second, starts, lengths, ranks.astype(np.int32))
