"""Where cuts need be considered along one axis that a tool without kerf cuts, strips being held.

Nothing less than the narrowest strip, `s`, is cut off or left. With a kerf that forbids little:
what is too narrow is taken off a kerf at a time. Without one, waste is nothing or at least `s`.

*Widths.* Take the widths at which a tree of cuts can be laid out. A piece has its own width only,
a waste strip any from `s` on. Parts side by side add up; parts one above the other need a width
that both can have. So every tree is either *tight*, with a single width, or *loose*, with all
widths from a least one on; and that width is a sum of pieces' widths and of `s`
(a piece narrower than `s` is not cut off, and has the width of its source):

- side by side: tight if both are, and least widths add up;
- beside waste: loose, and `s` more;
- one above the other: tight if one is, else loose with the larger of the least widths.

That is all that matters of an axis, and the other axis is alike. (Pushing everything to the left
does not do here: a cut that is moved may leave a strip too narrow.)

*States.* A part is asked for in one of four ways:

- `EXACT` x: tight at x, or loose with a least width up to x;
- `LOOSE` x: loose with a least width up to x;
- `AT_MOST` x: tight at most x wide, or loose with a least width up to x;
- `PIECE` x: a single piece at most x wide.

A loose row of parts is a loose part and one more, whichever, or a part and waste. So LOOSE x is
the best of LOOSE a beside AT_MOST b where a + b <= x, pairs being enough in which neither can grow;
and of PIECE x - s, since waste beside parts one above the other may as well be beside each of them.
EXACT x is LOOSE x, or EXACT a beside EXACT b where a + b = x: no size can be rounded there.
AT_MOST x is LOOSE x or one of EXACT y; of these, y > x - s are enough, since what is narrower has
room for waste beside it. AT_MOST is not divided across the other axis, as its parts would differ in
width; neither way of dividing adds anything that the others lack.

*A row's order.* The part that stands alone may be any of the row, if what is left is loose: any
but the only loose one, where nothing is wasted in the row.

*A longest cut*, `L`. A loose part that is longer may hold one that is not: LOOSE x > L is also
LOOSE L. Parts one above the other cannot each have waste beside them there, for the cut between
them would be too long; so LOOSE x > L is EXACT y, too, for each y up to x - s that is no more
than L, and so wide that LOOSE L lacks it: y > L - s. Then a part is divided only where it is short
enough, as on the exact grid.

All this leaves out what else a tool may forbid, so that no layout that can be cut is worth more.
A waste strip at a trimmed edge may have its trim on: there `s` is less by as much.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .positions import CutAxis, levels_of, normal_patterns

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    IntArray = NDArray[np.int64]
    State = tuple[int, int]
    Pair = tuple[State, State]

__all__ = ["StripAxis", "most_positions", "strip_axis"]

# In this order a state of one size rests on smaller sizes and on the states before it.
LOOSE, EXACT, AT_MOST, PIECE = 0, 1, 2, 3
NOTHING = (0, LOOSE)


@dataclass(frozen=True, slots=True)
class StripAxis(CutAxis):
    """The states of parts along one axis, ordered so that each comes after those it rests on.

    Attributes
    ----------
    exactly
        The index of each size that a part can have exactly.
    undivided
        Which states are not divided across the other axis.
    """

    exactly: Mapping[int, int]
    undivided: NDArray[np.bool_]

    def floor(self, size: int) -> int:
        """Return the index of a part of exactly this size."""
        return self.exactly[size]


def most_positions(widths: Iterable[int], longest: int, strip: int) -> int:
    """Return how many sums of widths and strips there are."""
    return len(normal_patterns([*_wide_enough(widths, strip), strip], longest))


def _wide_enough(widths: Iterable[int], strip: int) -> list[int]:
    """Return the widths that a cut can leave; a narrower piece is as wide as its source."""
    return [width for width in widths if width >= strip]


def strip_axis(
    widths: Sequence[int], roots: Sequence[int], strip: int, longest: int | None
) -> StripAxis:
    """Return the states that can be reached from whole sources of widths `roots`."""
    sums = _Sums.of(_wide_enough(widths, strip), max(roots), strip)
    most = max(roots) if longest is None else longest
    found: dict[State, list[Pair]] = {NOTHING: []}
    todo = [(root, EXACT) for root in roots]
    while todo:
        state = todo.pop()
        if state not in found:
            found[state] = sums.ways(state, most)
            todo += {half for pair in found[state] for half in pair if half not in found}
    return _ordered(found)


@dataclass(frozen=True, slots=True)
class _Sums:
    """Which widths a part can have, and the largest up to each width.

    Attributes
    ----------
    pieces, tight
        The widths of pieces, and of tight parts, rising.
    is_tight
        Whether each width is one.
    parts
        Those of any part.
    loose_floor
        The largest of loose parts up to each width; 0 for none.
    """

    strip: int
    pieces: IntArray
    tight: IntArray
    is_tight: NDArray[np.bool_]
    parts: IntArray
    loose_floor: IntArray

    @classmethod
    def of(cls, widths: Sequence[int], longest: int, strip: int) -> _Sums:
        tight = normal_patterns(widths, longest)[1:]
        is_tight = np.zeros(longest + 1, dtype=bool)
        is_tight[tight] = True
        part = is_tight.copy()
        more = strip
        while more <= longest:
            part[more:] |= part[: longest + 1 - more].copy()
            more *= 2
        loose = np.concatenate((np.zeros(strip, dtype=bool), part))[: longest + 1]
        size = np.arange(longest + 1)
        loose_floor = np.maximum.accumulate(np.where(loose, size, 0))
        pieces = np.array(sorted({width for width in widths if width <= longest}), dtype=np.int64)
        return cls(strip, pieces, tight, is_tight, np.flatnonzero(part), loose_floor)

    def ways(self, state: State, most: int) -> list[Pair]:
        """Return the pairs of states that a state comes of; one of them may be nothing."""
        size, kind = state
        if kind == LOOSE:
            return [*self._too_long(size, most), *self._loose(size)]
        if kind == PIECE:
            return _alone(self.pieces, 0, size)
        loose = int(self.loose_floor[size])
        found: list[Pair] = [(NOTHING, (loose, LOOSE))] if loose else []
        if kind == AT_MOST:
            return found + _alone(self.tight, size - self.strip, size)
        first = self.tight[: np.searchsorted(self.tight, size // 2, side="right")]
        first = first[self.is_tight[size - first]]
        return found + [((one, EXACT), (size - one, EXACT)) for one in first.tolist()]

    def _loose(self, size: int) -> list[Pair]:
        """Return the pairs that make up a loose part."""
        fitting = int(np.searchsorted(self.pieces, size - self.strip, side="right"))
        found: list[Pair] = []
        if fitting:
            found.append((NOTHING, (int(self.pieces[fitting - 1]), PIECE)))
        beside = self.parts[: np.searchsorted(self.parts, size)]
        loose = self.loose_floor[size - beside]
        # Of those that leave as much to the loose part, the last is the largest.
        last = np.append(loose[1:] != loose[:-1], [True] * (len(loose) > 0))
        keep = last & (loose > 0)
        pairs = zip(loose[keep].tolist(), beside[keep].tolist(), strict=True)
        return found + [((one, LOOSE), (two, AT_MOST)) for one, two in pairs]

    def _too_long(self, size: int, most: int) -> list[Pair]:
        """Return what no longer than the longest cut a loose part may hold that is longer."""
        if size <= most:
            return []
        shorter = int(self.loose_floor[most])
        found: list[Pair] = [(NOTHING, (shorter, LOOSE))] if shorter else []
        return found + _alone(self.tight, most - self.strip, min(most, size - self.strip))


def _alone(sizes: IntArray, above: int, most: int) -> list[Pair]:
    """Return each of some sizes in a range, exact and with nothing beside it."""
    start, end = np.searchsorted(sizes, (above, most), side="right")
    return [(NOTHING, (size, EXACT)) for size in sizes[start:end].tolist()]


def _ordered(found: Mapping[State, list[Pair]]) -> StripAxis:
    """Return the axis of the states, fewest cuts deep first, so that many are priced at once."""
    depths: dict[State, int] = {}
    for state in sorted(found):
        halves = (depths[half] for pair in found[state] for half in pair)
        depths[state] = 0 if state == NOTHING else 1 + max(halves, default=0)
    states = sorted(found, key=lambda state: (depths[state], len(found[state]), state))
    index = {state: number for number, state in enumerate(states)}
    splits = tuple(_indices(found[state], index) for state in states)
    sizes = np.array([size for size, _ in states], dtype=np.int64)
    return StripAxis(
        sizes=sizes,
        splits=splits,
        levels=levels_of(splits),
        exact=True,
        exactly={size: index[size, kind] for size, kind in states if kind == EXACT},
        undivided=np.array([kind in (AT_MOST, PIECE) for _, kind in states]),
    )


def _indices(pairs: Sequence[Pair], index: Mapping[State, int]) -> tuple[IntArray, IntArray]:
    first = np.array([index[one] for one, _ in pairs], dtype=np.int64)
    return first, np.array([index[two] for _, two in pairs], dtype=np.int64)
