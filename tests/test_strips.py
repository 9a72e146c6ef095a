"""A narrowest strip in the bound: the grid that holds it, and the audit, against trying every cut.

Set KERFWRIGHT_TINY to a number to compare so many boards instead of the usual few.
"""

from __future__ import annotations

import functools
import os
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kerfwright.audit.reprice import Shape, best_value
from kerfwright.packer.grids import Grid, build_grid, strip_grid
from kerfwright.packer.layouts import counts_of
from kerfwright.packer.recursion import best_values, trace
from kerfwright.problem.instance import Instance, PieceType, SourceType

Part = tuple[int, int, int, int]
Trims = tuple[int, int, int, int]

EXAMPLES = int(os.environ.get("KERFWRIGHT_TINY", "300"))
NONE: Trims = (0, 0, 0, 0)


def by_trying(instance: Instance, values: tuple[int, ...], trims: Trims = NONE) -> int:
    """Return the most that one of the first source is worth, by every cut at every step.

    Parameters
    ----------
    trims
        Of the left, right, top and bottom edge. What lies wholly in one may be as narrow as it
        likes, and no piece may reach into any.
    """
    source, strip = instance.sources[0], instance.narrowest_strip
    left, right, top, bottom = trims
    usable = (left, top, left + source.width, top + source.height)
    longest = instance.longest_cut
    worth: dict[tuple[int, int], int] = {}
    for piece, value in zip(instance.pieces, values, strict=True):
        for size in piece.orientations():
            worth[size] = max(value, worth.get(size, 0))

    def is_held(part: Part, axis: int) -> bool:
        return part[axis + 2] - part[axis] >= strip or _in_trim(part, usable)

    @functools.cache
    def best(part: Part) -> int:
        if _in_trim(part, usable):
            return 0
        found = worth.get((part[2] - part[0], part[3] - part[1]), 0) if _in(part, usable) else 0
        for axis in (0, 1):
            if longest is not None and part[3 - axis] - part[1 - axis] > longest:
                continue
            for at in range(part[axis] + 1, part[axis + 2]):
                one, two = _divided(part, axis, at)
                if is_held(one, axis) and is_held(two, axis):
                    found = max(found, best(one) + best(two))
        return found

    return best((0, 0, usable[2] + right, usable[3] + bottom))


def _in(part: Part, usable: Part) -> bool:
    inside = part[0] >= usable[0] and part[1] >= usable[1]
    return inside and part[2] <= usable[2] and part[3] <= usable[3]


def _in_trim(part: Part, usable: Part) -> bool:
    beside = part[2] <= usable[0] or part[0] >= usable[2]
    return beside or part[3] <= usable[1] or part[1] >= usable[3]


def _divided(part: Part, axis: int, at: int) -> tuple[Part, Part]:
    x, y, to_x, to_y = part
    if axis:
        return (x, y, to_x, at), (x, at, to_x, to_y)
    return (x, y, at, to_y), (at, y, to_x, to_y)


def by_grid(grid: Grid | None, instance: Instance, values: tuple[int, ...]) -> int:
    """Return what a grid says that the first source is worth; its tree is worth as much."""
    assert grid is not None
    table, cell = best_values(grid, values), grid.root(instance.sources[0], instance)
    tree = trace(grid, values, table, *cell)
    found = zip(values, counts_of(tree, len(values)), strict=True)
    assert sum(value * count for value, count in found) == table[cell]
    return int(table[cell])


def by_audit(instance: Instance, values: tuple[int, ...]) -> int:
    """Return what the audit's recursion says of the first source."""
    source, strip = instance.sources[0], instance.narrowest_strip
    shapes = [
        Shape(width, height, value)
        for piece, value in zip(instance.pieces, values, strict=True)
        for width, height in piece.orientations()
    ]
    strips = strip - source.trim_x, strip - source.trim_y
    return best_value(shapes, source.width, source.height, instance.longest_cut, strips)


def is_cut(instance: Instance) -> bool:
    """Whether a cut can be made on the first source at all."""
    source, longest = instance.sources[0], instance.longest_cut
    return longest is None or min(source.width, source.height) <= longest


@st.composite
def boards(draw: st.DrawFn, most: int = 14) -> tuple[Instance, tuple[int, ...]]:
    """Draw a sheet and pieces with values, some too narrow, a narrowest strip, a longest cut."""
    pieces = draw(
        st.lists(
            st.builds(PieceType, st.integers(1, 9), st.integers(1, 9), st.just(1), st.booleans()),
            min_size=1,
            max_size=5,
        )
    )
    sheet = SourceType(draw(st.integers(2, most)), draw(st.integers(2, most)), 1, None)
    factors = draw(st.tuples(*(st.integers(1, 9) for _ in pieces)))
    values = tuple(f * p.width * p.height for f, p in zip(factors, pieces, strict=True))
    longest = draw(st.none() | st.integers(3, most))
    strip = draw(st.integers(1, 5))
    return Instance(tuple(pieces), (sheet,), longest_cut=longest, narrowest_strip=strip), values


tried = settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize="KERFWRIGHT_TINY" not in os.environ,
    suppress_health_check=[HealthCheck.too_slow],
)


@tried
@given(boards())
def test_the_bound_with_strips_is_what_trying_gives(
    board: tuple[Instance, tuple[int, ...]],
) -> None:
    """Without a longest cut exactly; with one it is no less, nor more than without strips."""
    instance, values = board
    found, tried = by_grid(strip_grid(instance), instance, values), by_trying(instance, values)
    assert tried <= found <= by_grid(build_grid(instance, limited=False), instance, values)
    if instance.longest_cut is None:
        assert found == tried
    if is_cut(instance):
        assert by_audit(instance, values) == found


@tried
@given(boards(10), st.tuples(*(st.integers(0, 2) for _ in range(4))))
def test_a_trim_that_is_still_on_makes_waste_wide_enough(
    board: tuple[Instance, tuple[int, ...]], trims: Trims
) -> None:
    """What is cut with its trim on is in the bound, whatever edges have one."""
    instance, values = board
    wide, high = trims[0] + trims[1], trims[2] + trims[3]
    sheet = replace(instance.sources[0], trim_x=wide, trim_y=high)
    instance = replace(instance, sources=(sheet,))
    grid = strip_grid(instance)
    assert (grid is None) == (instance.narrowest_strip <= max(wide, high))
    if grid is None:
        return
    found = by_grid(grid, instance, values)
    assert by_trying(instance, values, trims) <= found
    if is_cut(instance):
        assert by_audit(instance, values) == found


def test_two_pieces_that_differ_by_less_than_a_strip_do_not_lie_above_each_other() -> None:
    """Of 10 x 8, strips of 3: a 7 x 4 leaves 3 and a 10 x 4 none, but an 8 x 4 would leave 2."""
    sheet = SourceType(10, 8, 1, None)
    for width, worth in ((7, 2), (8, 1), (10, 2)):
        pieces = (PieceType(10, 4, 1, may_turn=False), PieceType(width, 4, 1, may_turn=False))
        instance = Instance(pieces, (sheet,), narrowest_strip=3)
        values = (0, 1) if width == 8 else (1, 1)
        free = by_grid(build_grid(instance, limited=False), instance, values)
        assert free == 2
        assert by_grid(strip_grid(instance), instance, values) == (0 if width == 8 else worth)


def test_with_a_kerf_a_strip_forbids_nothing_that_the_bound_knows() -> None:
    """What is too narrow is taken off a kerf at a time; so there is no such grid."""
    instance = Instance((PieceType(4, 4, 1, may_turn=True),), (SourceType(9, 9, 1, None),))
    assert strip_grid(instance) is None
    assert strip_grid(replace(instance, narrowest_strip=2)) is not None
    assert strip_grid(replace(instance, narrowest_strip=2, kerf=1)) is None


def test_values_beyond_64_bits_are_exact() -> None:
    """Values too large for the machine's integers give the audit the same layout."""
    pieces = (PieceType(4, 3, 1, may_turn=True), PieceType(5, 2, 1, may_turn=True))
    instance = Instance(pieces, (SourceType(13, 11, 1, None),), narrowest_strip=2)
    large = 2**61 + 1
    small = by_audit(instance, (12, 10))
    assert by_audit(instance, (12 * large, 10 * large)) == large * small
