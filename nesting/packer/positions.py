"""Where cuts need be considered along one axis.

All sizes here are gross (kerf added). An axis lists the widths that a part can have, and for
each the ways to split it in two. Width 0 stands first and means *nothing*.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    IntArray = NDArray[np.int64]

__all__ = [
    "CutAxis",
    "Level",
    "levels_of",
    "limited_axis",
    "normal_patterns",
    "relaxed_axis",
    "scaled",
    "sparse_axis",
]


@dataclass(frozen=True, slots=True)
class Level:
    """The widths ``start`` to ``end``, whose splits use only widths before ``start``.

    Attributes
    ----------
    first, second
        The splits of each width, shape ``(end - start, most splits)``; shorter lists are filled
        up with the split into nothing and nothing.
    lengths
        How many splits each width has.
    """

    start: int
    end: int
    first: IntArray
    second: IntArray
    lengths: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CutAxis:
    """The widths of parts along one axis, and how each may be split.

    Attributes
    ----------
    sizes
        Ascending gross widths, shape ``(m,)``; ``sizes[0] == 0``.
    splits
        For each width a pair of index arrays: ``sizes[first] + sizes[second] <= size``.
    levels
        Consecutive ranges of widths that can be priced at once.
    exact
        Whether ``sizes`` are true widths (with bench limits) or the reduced widths of the
        relaxation, where a part may be any width down to the next smaller one.
    """

    sizes: IntArray
    splits: tuple[tuple[IntArray, IntArray], ...]
    levels: tuple[Level, ...]
    exact: bool

    def floor(self, size: int) -> int:
        """Return the index of the largest width not over `size`."""
        return int(np.searchsorted(self.sizes, size, side="right")) - 1


def normal_patterns(widths: Iterable[int], longest: int) -> IntArray:
    """Return every sum of `widths`, copies unlimited, from 0 to `longest`.

    Herz (1972), A recursive computing procedure for two-dimensional stock cutting; Christofides
    and Whitlock (1977), An algorithm for two-dimensional cutting problems: some best layout has
    every cut at such a sum.
    """
    reach = np.zeros(longest + 1, dtype=bool)
    reach[0] = True
    for width in sorted(set(widths)):
        copies = 1
        while width * copies <= longest:
            reach[width * copies :] |= reach[: longest + 1 - width * copies]
            copies *= 2
    return np.flatnonzero(reach).astype(np.int64)


def relaxed_axis(
    widths: Sequence[int], roots: Sequence[int], longest: int | None = None
) -> CutAxis:
    """Return the axis without a narrowest strip for sources of gross widths `roots`.

    A width is worth no more than the largest normal pattern in it, so only those are kept; and of
    two ways to split a width, one with neither part smaller is enough. What can be reached so
    from the roots is the reduced set that Terno, Lindemann and Scheithauer (1987),
    Zuschnittprobleme und ihre praktische Lösung, call raster points (from memory).

    Parameters
    ----------
    longest
        The gross width beyond which a part is cut across its width only, if at all: it is one
        more root, and each larger width can be trimmed to the next smaller one.
    """
    return _axis_among(normal_patterns(widths, max(roots)), roots, longest)


def sparse_axis(sizes: Iterable[int], roots: Sequence[int], longest: int | None = None) -> CutAxis:
    """Return an axis as `relaxed_axis` makes it, but with these sizes alone to cut at.

    They are true sizes, so that nothing is lost to rounding; what only other sums would allow is.
    """
    most = max(roots)
    patterns = np.array(sorted({0, *(size for size in sizes if size <= most)}), dtype=np.int64)
    return _axis_among(patterns, roots, longest)


def _axis_among(patterns: IntArray, roots: Sequence[int], longest: int | None) -> CutAxis:
    """Return the axis reduced to what can be reached from the roots by cuts at `patterns`."""
    if longest is not None and longest < max(roots):
        roots = [*roots, longest]
    floors = np.searchsorted(patterns, np.arange(max(roots) + 1), side="right") - 1
    wanted = np.zeros(len(patterns), dtype=bool)
    wanted[[int(floors[root]) for root in roots]] = True
    found: dict[int, tuple[IntArray, IntArray]] = {}
    for index in range(len(patterns) - 1, 0, -1):
        if wanted[index]:
            first, second = _undominated(patterns, floors, index)
            wanted[first] = True
            wanted[second] = True
            found[index] = (first, second)
    wanted[0] = True
    axis = _compressed(patterns, wanted, found)
    return axis if longest is None else _trimmed(axis, longest)


def _trimmed(axis: CutAxis, longest: int) -> CutAxis:
    """Return the axis with a split into nothing and the next smaller width for each long one.

    Not where that width comes with something beside it.
    """
    splits = list(axis.splits)
    for index in range(max(2, axis.floor(longest) + 1), len(splits)):
        first, second = splits[index]
        if index - 1 not in second:
            splits[index] = np.insert(first, 0, 0), np.insert(second, 0, index - 1)
    return replace(axis, splits=tuple(splits), levels=levels_of(splits))


def _undominated(patterns: IntArray, floors: IntArray, index: int) -> tuple[IntArray, IntArray]:
    """Return the splits of ``patterns[index]`` in which neither part can grow, firsts rising.

    The first is the smaller part, or as large: so it is no more than half.
    """
    size = int(patterns[index])
    half = int(floors[size // 2])
    seconds = floors[size - patterns[1 : half + 1]]
    firsts = floors[size - patterns[seconds]]
    cannot_grow = firsts == np.arange(1, half + 1)
    return firsts[cannot_grow], seconds[cannot_grow]


def _compressed(
    patterns: IntArray,
    wanted: NDArray[np.bool_],
    found: dict[int, tuple[IntArray, IntArray]],
) -> CutAxis:
    renumber = np.cumsum(wanted) - 1
    none = np.zeros(0, dtype=np.int64)
    splits = tuple(
        (renumber[found[index][0]], renumber[found[index][1]]) if index in found else (none, none)
        for index in np.flatnonzero(wanted).tolist()
    )
    return CutAxis(patterns[wanted], splits, levels_of(splits), exact=False)


def levels_of(splits: Sequence[tuple[IntArray, IntArray]]) -> tuple[Level, ...]:
    """Return consecutive ranges, none of whose splits refers into its own range."""
    if len(splits) < 2:
        return ()
    lengths = np.array([len(first) for first, _ in splits])
    begins = np.cumsum(lengths) - lengths
    first = np.concatenate([first for first, _ in splits])
    second = np.concatenate([second for _, second in splits])
    largest = np.zeros(len(splits), dtype=np.int64)
    some = np.flatnonzero(lengths)
    if len(some):
        largest[some] = np.maximum.reduceat(np.maximum(first, second), begins[some])
    bounds = [1]
    for index, part in enumerate(largest.tolist()):
        if index > 1 and part >= bounds[-1]:
            bounds.append(index)
    bounds.append(len(splits))
    return tuple(
        _level(first[begins[start] :], second[begins[start] :], lengths[start:end], start)
        for start, end in itertools.pairwise(bounds)
    )


def _level(first: IntArray, second: IntArray, lengths: IntArray, start: int) -> Level:
    """Return the level of widths from `start` on, its splits those that the arrays begin with."""
    there = np.arange(lengths.max()) < lengths[:, np.newaxis]
    firsts = np.zeros(there.shape, dtype=np.intp)
    seconds = np.zeros_like(firsts)
    total = int(lengths.sum())
    firsts[there], seconds[there] = first[:total], second[:total]
    return Level(start, start + len(lengths), firsts, seconds, tuple(lengths.tolist()))


def scaled(axis: CutAxis, factor: int) -> CutAxis:
    """Return the axis with every size multiplied."""
    return replace(axis, sizes=axis.sizes * factor)


def limited_axis(
    widths: Sequence[int],
    roots: Sequence[int],
    kerf: int,
    narrowest: int,
    most: int,
) -> CutAxis:
    """Return the axis of true widths, on which bench limits can be held.

    A remainder that the reduction would shrink may be what makes a cut legal, so every width that
    left-justified cutting can produce from `roots` is kept as it is. Where that would be more
    than `most` widths, cuts are offered after fewer pieces in a row, and remainders that are not
    kept count as waste: layouts stay legal, but good ones may be missed.
    """
    positions = _row_sums(widths, max(roots), 64)
    sizes = _closure(positions, roots, kerf, narrowest, most)
    if sizes is None:
        positions = next(
            found
            for in_a_row in (6, 4, 3, 2, 1)
            if len(found := _row_sums(widths, max(roots), in_a_row)) <= most // 2 or in_a_row == 1
        )
        sizes = _likeliest(positions, roots, kerf, narrowest, most)
    splits = tuple(
        _limited_splits(sizes, positions, index, kerf, narrowest) for index in range(len(sizes))
    )
    return CutAxis(sizes, splits, levels_of(splits), exact=True)


def _likeliest(
    positions: IntArray, roots: Sequence[int], kerf: int, narrowest: int, most: int
) -> IntArray:
    """Return the roots, the positions, and remainders of the roots and then of the positions."""
    sizes = {0, *roots, *positions.tolist()}
    for size in (*sorted(set(roots), reverse=True), *positions[::-1].tolist()):
        if len(sizes) >= most:
            break
        _, rest = _cut_rests(size, positions, kerf, narrowest)
        sizes.update(rest.tolist())
    return np.array(sorted(sizes), dtype=np.int64)


def _row_sums(widths: Sequence[int], longest: int, in_a_row: int) -> IntArray:
    """Return the sums of at most `in_a_row` of `widths`, zero left out."""
    distinct = [width for width in sorted(set(widths)) if width <= longest]
    reach = np.zeros(longest + 1, dtype=bool)
    reach[0] = True
    for _ in range(in_a_row):
        before = reach.copy()
        for width in distinct:
            reach[width:] |= before[: longest + 1 - width]
        if (reach == before).all():
            break
    reach[0] = False
    return np.flatnonzero(reach).astype(np.int64)


def _cut_rests(
    size: int, positions: IntArray, kerf: int, narrowest: int
) -> tuple[IntArray, IntArray]:
    """Return where `size` may be cut and what then remains; a remainder of 0 is nothing.

    A tool with a kerf can take off a narrow remainder a kerf at a time.
    """
    first = positions[positions < size]
    rest = size - first
    nothing = rest <= kerf
    if kerf:
        nothing |= rest - kerf < narrowest
    wide = (rest - kerf >= narrowest) & (first - kerf >= narrowest)
    keep = wide | (nothing & (first - kerf >= narrowest))
    return first[keep], np.where(nothing, 0, rest)[keep]


def _closure(
    positions: IntArray, roots: Sequence[int], kerf: int, narrowest: int, most: int
) -> IntArray | None:
    """Return every width that cutting at `positions` can produce, or None if over `most`."""
    seen: set[int] = set()
    todo = sorted(set(roots))
    while todo:
        size = todo.pop()
        if size in seen:
            continue
        seen.add(size)
        if len(seen) > most:
            return None
        first, rest = _cut_rests(size, positions, kerf, narrowest)
        todo.extend(sorted(({*first.tolist(), *rest.tolist()}) - seen - {0}))
    return np.array(sorted({0} | seen), dtype=np.int64)


def _limited_splits(
    sizes: IntArray, positions: IntArray, index: int, kerf: int, narrowest: int
) -> tuple[IntArray, IntArray]:
    if index == 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    first, rest = _cut_rests(int(sizes[index]), positions, kerf, narrowest)
    # Each remainder may also be left as it is, so that one full of pieces no longer wanted does
    # not stand in the way.
    kept = np.isin(rest, sizes) & (rest > 0)
    firsts = np.concatenate([first[kept], first])
    rests = np.concatenate([rest[kept], np.zeros_like(first)])
    return np.searchsorted(sizes, firsts), np.searchsorted(sizes, rests)
