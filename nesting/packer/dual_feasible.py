"""Piece values from dual feasible functions, for a bound before any layout is known.

Fekete and Schepers (2001), New classes of fast lower bounds for bin packing problems: a function
f on [0, 1] is dual feasible if no numbers that sum to at most 1 have images that sum to more. One
applied to the widths and another to the heights of pieces, as shares of the sheet's, give values
of which no sheet holds more than 1. Values may be averaged over both ways to lie where the sheet
is square, after Clautiaux, Jouglet and El Hayek (2007), A new lower bound for the non-oriented
two-dimensional bin-packing problem (from memory); elsewhere the less of the two counts.

The values are only proposed here: they are priced exactly before they prove anything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from ..problem.instance import Instance

    IntArray: TypeAlias = NDArray[np.int64]
    FloatArray: TypeAlias = NDArray[np.float64]

__all__ = ["dual_feasible_values"]

MOST_MULTIPLE = 12
MOST_THRESHOLDS = 60
# Images that are fractions are not to fall short of them by a hair.
ROUNDING = 1e-3


def dual_feasible_values(
    instance: Instance, most: int, bits: int, check: Callable[[], None] = lambda: None
) -> list[tuple[int, ...]]:
    """Return piece values at which a largest sheet is worth about ``2 ** bits``, to be priced.

    Parameters
    ----------
    most
        How many sets of values, those first that are worth most over all demands.
    check
        Called now and then, as hundreds of sizes take a second; what it raises ends it.

    Notes
    -----
    Pieces are looked at as if no layout were cut edge to edge, so that the values can often be
    scaled up once layouts are priced. Where some pieces may turn on a square sheet and others
    not, the average is no proof, and they may have to be scaled down.
    """
    source = max(instance.sources, key=lambda one: one.width * one.height)
    wide, high = source.width + instance.kerf, source.height + instance.kerf
    first = np.array([piece.width for piece in instance.pieces]) + instance.kerf
    second = np.array([piece.height for piece in instance.pieces]) + instance.kerf
    every = np.concatenate([first, second])
    turns = np.array([piece.may_turn for piece in instance.pieces])
    upright = _products(first, second, every, wide, high)
    check()
    turned = _products(second, first, every, wide, high)
    check()
    both = (upright + turned) / 2 if wide == high else np.fmin(upright, turned)
    check()
    values = np.nan_to_num(np.where(turns, both, upright))
    check()
    totals = values @ np.array(instance.demands, dtype=np.float64)
    ranked = np.argsort(-totals, axis=None, kind="stable")[:most]
    chosen = values.reshape(-1, len(instance.pieces))[ranked]
    return [tuple(int(value * (1 << bits) + ROUNDING) for value in row) for row in chosen]


def _products(
    widths: IntArray, heights: IntArray, every: IntArray, wide: int, high: int
) -> FloatArray:
    """Return the product of images for each pair of functions, shape ``(f, g, n)``.

    Not a number where a piece does not fit so.
    """
    across, down = _images(widths, every, wide), _images(heights, every, high)
    return np.asarray(across[:, np.newaxis, :] * down[np.newaxis, :, :])


def _images(sizes: IntArray, every: IntArray, whole: int) -> FloatArray:
    """Return the image of each size under each function, shape ``(f, n)``."""
    share = sizes / whole
    rows = [share]
    for k in range(1, MOST_MULTIPLE + 1):
        steps, rest = np.divmod((k + 1) * sizes, whole)
        rows.append(np.where(rest == 0, share, steps / k))
    for least in _thresholds(every, whole):
        rows.append(np.where(sizes > whole - least, 1.0, np.where(sizes < least, 0.0, share)))
        fits = whole // least
        large = 1 - (whole - sizes) // least / fits
        small = np.where(sizes < least, 0.0, 1 / fits)
        rows.append(np.where(2 * sizes > whole, large, small))
    return np.where(sizes <= whole, np.array(rows), np.nan)


def _thresholds(every: IntArray, whole: int) -> Sequence[int]:
    """Return the sizes up to half the sheet, not too many of them."""
    found = np.unique(every[2 * every <= whole])
    step = -(-len(found) // MOST_THRESHOLDS) or 1
    return [int(size) for size in found[::step]]
