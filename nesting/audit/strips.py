"""The worth of the best single layout where a tool without kerf must hold every strip.

Such a tool cuts off and leaves nothing narrower than its narrowest strip, S, so that waste beside
something is S wide at least. This is argued for one axis; the other is alike.

Which widths can a given tree of cuts be laid out at? A piece has one. Waste that is cut off has any
from S on. Two halves side by side have the sums of theirs, and two halves one above the other those
that both have. By induction each set is either one width, or all from a least one on; call the tree
tight, or loose. The width of a tight tree and the least of a loose one are sums of pieces' widths
and S: adding gives such a sum, and having both gives one of the two.

So let P be those sums, and let V(x, y) be the most that a tree is worth whose set contains x, and
U(x, y) the most of loose trees whose least width is at most x; U <= V. With all else the same,

    U(x) = max( U(x'), U(a) + V(b) )             x' < x;  a + b <= x, b in P, a >= S
    V(x) = max( U(x), g(x), V(a) + V(b) )        a + b = x, both in P

across x, where g(x) is one piece of exactly this width, and U(a) is 0 where a holds waste alone.
Across y both halves keep x, and stay what they are: V(x) or U(x). Each axis has both, which makes
four tables. A tree laid out on a part x by y is worth no more than V(x, y), which is found from
V(x) for x in P and from U alone elsewhere.

A longest cut L allows a division across x only where y <= L. The tree is given the least height
that it has, if it is loose, and U grows with x and y alike; so no layout is left out.

A piece narrower than S cannot be cut off: it has the width of its source. What a trim still on a
strip adds to its width is left to the caller, who gives a smaller S. What is returned may be more
than any layout is worth, and is never less.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Index = NDArray[np.intp]
    Points = NDArray[np.int64]

__all__ = ["Side", "fill_with_strips"]

TIGHT, LOOSE = 0, 1


class _Sized(Protocol):
    """A piece as it lies, and its value."""

    @property
    def width(self) -> int: ...

    @property
    def height(self) -> int: ...

    @property
    def value(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a source: P, with 0 before and its own length last, and how these divide.

    Attributes
    ----------
    strip, longest
        The narrowest strip, and the longest cut along this side.
    """

    points: Points
    strip: int
    longest: int

    def below(self, lengths: Points) -> Index:
        """Return the index of the largest point that is at most each of `lengths`."""
        import numpy as np

        return np.searchsorted(self.points, lengths, side="right") - 1

    def with_slack(self, at: int) -> tuple[Index, Index]:
        """Return every way to divide a point into any part and a loose one, or waste."""
        import numpy as np

        rests = self.points[at] - self.points[1:at]
        enough = int(np.searchsorted(-rests, -self.strip, side="right"))
        return np.arange(1, enough + 1), self.below(rests[:enough])

    def without(self, at: int) -> tuple[Index, Index]:
        """Return every way to divide a point into two others, the smaller one first."""
        import numpy as np

        nearer = np.arange(1, int(self.below(self.points[at : at + 1] // 2)[0]) + 1)
        rests = self.points[at] - self.points[nearer]
        farther = self.below(rests)
        fits = self.points[farther] == rests
        return nearer[fits], farther[fits]

    def runs(self) -> Iterator[tuple[int, int]]:
        """Yield runs of points of which none is part of another; one ends at the longest cut."""
        short = int(self.below(self.points[:1] + self.longest)[0]) + 1
        first = 1
        while first < len(self.points):
            last = int(self.below(self.points[first : first + 1] + self.points[1] - 1)[0]) + 1
            if first < short:
                last = min(last, short)
            yield first, last
            first = last


@dataclass(frozen=True, slots=True)
class _Run:
    """A run of points along the height, and how each is divided; unused entries are nothing."""

    first: int
    last: int
    whole: Index
    loose: Index
    nearer: Index
    farther: Index

    @classmethod
    def of(cls, side: Side, first: int, last: int) -> _Run:
        points = range(first, last)
        whole, loose = _padded([side.with_slack(at) for at in points])
        nearer, farther = _padded([side.without(at) for at in points])
        return cls(first, last, whole, loose, nearer, farther)


def _padded(ways: Sequence[tuple[Index, Index]]) -> tuple[Index, Index]:
    """Return ways of different number as two tables, filled up with nothing and nothing."""
    import numpy as np

    one = np.zeros((len(ways), max(len(first) for first, _ in ways)), dtype=np.intp)
    two = np.zeros_like(one)
    for row, (first, second) in enumerate(ways):
        one[row, : len(first)], two[row, : len(second)] = first, second
    return one, two


def fill_with_strips(
    shapes: Sequence[_Sized], across: Side, down: Side, number: type
) -> NDArray[Any]:
    """Return V, by width and height; the last entry is the whole source's.

    Parameters
    ----------
    shapes
        One whose width is not among the points across, or its height not among those down, cannot
        be cut off.
    """
    import numpy as np

    # By tight or loose across, tight or loose down, width and height.
    table: NDArray[Any] = np.zeros((2, 2, len(across.points), len(down.points)), dtype=number)
    for shape in shapes:
        if shape.width in across.points and shape.height in down.points:
            column = int(np.searchsorted(across.points, shape.width))
            row = int(np.searchsorted(down.points, shape.height))
            dearest = max(table[TIGHT, TIGHT, column, row], shape.value)
            table[TIGHT, TIGHT, column, row] = dearest
    runs = [_Run.of(down, first, last) for first, last in down.runs()]
    low = int(np.searchsorted(down.points, across.longest, side="right"))
    for first, last in across.runs():
        for at in range(first, last):
            _divide_across(table, across, at, low)
        is_short = int(across.points[first]) <= down.longest
        for kind in (LOOSE, TIGHT):
            both = table[kind, :, first:last]
            if kind == TIGHT:
                np.maximum(both, table[LOOSE, :, first:last], out=both)
            if is_short:
                for run in runs:
                    _divide_down(both, run)
            else:
                np.maximum.accumulate(both[LOOSE], axis=1, out=both[LOOSE])
                np.maximum(both[TIGHT], both[LOOSE], out=both[TIGHT])
    best: NDArray[Any] = table[TIGHT, TIGHT]
    return best


def _divide_across(table: NDArray[Any], side: Side, at: int, low: int) -> None:
    """Divide a width, over all heights that are not too long for the cut."""
    import numpy as np

    tight, loose = table[TIGHT], table[LOOSE]
    np.maximum(loose[:, at], loose[:, at - 1], out=loose[:, at])
    for into, (one, two), other in (
        (loose, side.with_slack(at), loose),
        (tight, side.without(at), tight),
    ):
        if len(one):
            divided = tight[:, one, :low] + other[:, two, :low]
            view = into[:, at, :low]
            np.maximum(view, divided.max(axis=1), out=view)


def _divide_down(both: NDArray[Any], run: _Run) -> None:
    """Divide a run of heights, over some widths."""
    import numpy as np

    tight, loose = both[TIGHT], both[LOOSE]
    view = loose[:, run.first : run.last]
    if run.whole.shape[1]:
        divided = tight[:, run.whole] + loose[:, run.loose]
        np.maximum(view, divided.max(axis=2), out=view)
    grown = loose[:, run.first - 1 : run.last]
    np.maximum.accumulate(grown, axis=1, out=grown)
    exact = tight[:, run.first : run.last]
    np.maximum(exact, view, out=exact)
    if run.nearer.shape[1]:
        divided = tight[:, run.nearer] + tight[:, run.farther]
        np.maximum(exact, divided.max(axis=2), out=exact)
