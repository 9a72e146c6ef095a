"""A quick good layout of one sheet, copies unlimited: strips side by side, each row of one type.

A three-stage layout: the sheet is cut into strips, these into rows, and these into pieces of one
type. One-dimensional knapsacks, for the rows of each strip and for the strips, find the best such
layout (Gilmore and Gomory 1965, Multistage cutting stock problems of two and more dimensions). Only
rows that nearly meet the bound on the lines of a part of their width are tried. On large sheets
there are so many sizes to choose from that the pieces often fill one completely.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .layouts import Place, Split
from .sweep import most_on_lines

if TYPE_CHECKING:
    from collections.abc import Sequence

    from .layouts import Tree
    from .sweep import Asked

__all__ = ["best_of_strips"]

# A row may be worth one part in so many less than the bound.
NEAR = 1_000_000


def best_of_strips(
    asked: Asked, places: Sequence[Place], steps: tuple[int, int]
) -> tuple[int, Tree]:
    """Return the best layout of strips of rows, along either axis, and its value.

    Parameters
    ----------
    places
        What stands for each of the pieces.
    steps
        The gross size of a step of the width, and of the height.
    """
    turned = asked.turned()
    along = [_strips(asked)]
    if along[0][0] < asked.upper:
        along.append(_strips(turned))
    axis = 1 if along[-1][0] > along[0][0] else 0
    value, strips = along[axis]
    if not value:
        return 0, None
    one = turned if axis else asked
    trees: list[Tree] = []
    for wide, rows in strips:
        parts = [
            _in_a_row([places[piece]] * (wide // one.pieces[piece][0]),
                      one.pieces[piece][0] * steps[axis], axis)
            for piece in rows
        ]  # fmt: skip
        highs = [one.pieces[piece][1] * steps[1 - axis] for piece in rows]
        trees.append(_joined(parts, highs, 1 - axis))
    return value, _joined(trees, [wide * steps[axis] for wide, _ in strips], axis)


def _strips(asked: Asked) -> tuple[int, list[tuple[int, tuple[int, ...]]]]:
    """Return the best value of strips along the height: the width of each and its rows' pieces."""
    lines = asked.across.tolist()
    worths: list[tuple[int, int]] = []
    for wide in range(min(width for width, _, _ in asked.pieces), asked.width + 1):
        rows = _rows(asked, wide, lines[wide])
        if rows:
            pairs = [(high, value) for _, high, value in rows]
            worths.append((wide, int(most_on_lines(pairs, asked.height)[-1])))
    chosen = _chosen(worths, asked.width)
    strips = []
    for number in chosen:
        wide = worths[number][0]
        rows = _rows(asked, wide, lines[wide])
        picked = _chosen([(high, value) for _, high, value in rows], asked.height)
        strips.append((wide, tuple(rows[row][0] for row in picked)))
    return sum(worths[number][1] for number in chosen), strips


def _rows(asked: Asked, wide: int, most: int) -> list[tuple[int, int, int]]:
    """Return the rows for a strip: ``(piece, height, value)``."""
    least = most - most // NEAR
    return [
        (piece, high, value * (wide // width))
        for piece, (width, high, value) in enumerate(asked.pieces)
        if width <= wide and (value * (wide // width) << asked.shift) >= least * high
    ]


def _chosen(pairs: Sequence[tuple[int, int]], longest: int) -> list[int]:
    """Return the numbers of the lengths and values that fill a length best, copies included."""
    most = most_on_lines(pairs, longest).tolist()
    chosen, left = [], longest
    while most[left]:
        number = next(
            number
            for number, (length, value) in enumerate(pairs)
            if length <= left and most[left - length] + value == most[left]
        )
        chosen.append(number)
        left -= pairs[number][0]
    return chosen


def _in_a_row(trees: Sequence[Tree], size: int, axis: int) -> Tree:
    return _joined(trees, [size] * len(trees), axis)


def _joined(trees: Sequence[Tree], sizes: Sequence[int], axis: int) -> Tree:
    """Return the tree of parts of the given sizes beside each other, halved again and again."""
    if len(trees) < 2:
        return trees[0] if trees else None
    half = len(trees) // 2
    first = _joined(trees[:half], sizes[:half], axis)
    second = _joined(trees[half:], sizes[half:], axis)
    return Split(axis, sum(sizes[:half]), first, second)
