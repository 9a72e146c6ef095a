"""Every set of copies that a part can yield and that is worth enough, against a brute force."""

from __future__ import annotations

import itertools

import pytest
from brute import yields
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.packer import collection
from kerfwright.packer.collection import Collection, PartToCut
from kerfwright.packer.grids import exact_grid
from kerfwright.packer.layouts import counts_of
from kerfwright.packer.recursion import best_values
from kerfwright.packer.running import Stopped
from kerfwright.problem.instance import Instance, PieceType, SourceType

PLENTY = 1e12
MANY = 10_000


def whole_sheet(instance: Instance, gains: tuple[int, ...]) -> PartToCut:
    """Return the instance's one sheet as the part to be cut."""
    grid = exact_grid(instance)
    assert grid is not None
    cell = grid.root(instance.sources[0], instance)
    return PartToCut(grid, cell, instance.demands, gains, best_values(grid, gains))


def worth(gains: tuple[int, ...], counts: tuple[int, ...]) -> int:
    """Return what so many pieces come to."""
    return sum(gain * count for gain, count in zip(gains, counts, strict=True))


@st.composite
def boards(draw: st.DrawFn) -> tuple[Instance, tuple[int, ...], int]:
    """Draw a sheet, pieces of few copies, what they gain, and how far below the most to look."""
    side = st.integers(2, 8)
    piece = st.builds(PieceType, side, side, st.integers(1, 2), st.booleans())
    pieces = draw(st.lists(piece, min_size=1, max_size=3))
    sheet = SourceType(draw(st.integers(8, 14)), draw(st.integers(8, 14)), 1, None)
    instance = Instance(tuple(pieces), (sheet,), kerf=draw(st.integers(0, 1)))
    gains = draw(st.tuples(*(st.integers(0, 30) for _ in pieces)))
    return instance, gains, draw(st.integers(0, 40))


@pytest.mark.parametrize(("few_pairs", "block"), [(0, 2), (1, 256), (64, 256)])
@settings(max_examples=120, deadline=None)
@given(boards())
def test_no_set_is_missed_and_none_made_up(
    few_pairs: int, block: int, drawn: tuple[Instance, tuple[int, ...], int]
) -> None:
    """However cuts are looked at, together or one by one, and sets compared in small lots."""
    instance, gains, below = drawn
    sheet = instance.sources[0]
    every = yields(instance, sheet.width, sheet.height)
    least = max(1, max(worth(gains, counts) for counts in every) - below)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(collection, "FEW_PAIRS", few_pairs)
        patch.setattr(collection, "BLOCK", block)
        found = Collection(whole_sheet(instance, gains), least, MANY, PLENTY)
        assert found.run()
    assert found.is_whole
    worths = found.worths(gains).tolist()
    sets = []
    for number, said in enumerate(worths):
        counts = counts_of(found.tree(number), len(gains))
        wanted = tuple(min(pair) for pair in zip(counts, instance.demands, strict=True))
        assert worth(gains, wanted) == said >= least
        assert any(all(x <= y for x, y in zip(wanted, one, strict=True)) for one in every)
        sets.append(counts)
    for counts in every:
        if worth(gains, counts) >= least:
            assert any(all(x <= y for x, y in zip(counts, one, strict=True)) for one in sets)


@settings(max_examples=120, deadline=None)
@given(boards(), st.integers(1, 3))
def test_what_is_left_out_is_worth_no_more_than_is_said(
    drawn: tuple[Instance, tuple[int, ...], int], most: int
) -> None:
    """With room for few sets of a part, those that are missing lie under the bound."""
    instance, gains, below = drawn
    sheet = instance.sources[0]
    every = yields(instance, sheet.width, sheet.height)
    least = max(1, max(worth(gains, counts) for counts in every) - below)
    found = Collection(whole_sheet(instance, gains), least, most, PLENTY)
    assert found.run()
    sets = [counts_of(found.tree(n), len(gains)) for n in range(len(found.worths(gains)))]
    for counts in every:
        if worth(gains, counts) >= max(least, found.dropped + 1):
            assert any(all(x <= y for x, y in zip(counts, one, strict=True)) for one in sets)


# A sheet that many sets fill as well: strips of three widths.
MANY_WAYS = Instance(
    tuple(PieceType(width, 10, 9, False) for width in (3, 4, 5)), (SourceType(40, 20, 1, None),)
)


def test_all_or_none_gives_up_and_says_so() -> None:
    """Where a part has more sets than there is room for, nothing is called whole."""
    part = whole_sheet(MANY_WAYS, (3, 4, 5))
    some = Collection(part, 70, 2, PLENTY)
    assert some.run()
    assert not some.is_whole
    none = Collection(part, 70, 2, PLENTY, or_none=True)
    assert not none.run()
    assert not none.is_whole
    assert Collection(part, 70, MANY, PLENTY, or_none=True).run()


def test_it_is_not_begun_where_the_parts_alone_take_too_much() -> None:
    """The parts that could lead to enough are counted first."""
    part = whole_sheet(MANY_WAYS, (3, 4, 5))
    least = part.least_work(70)
    assert least > 0
    hasty = Collection(part, 70, MANY, least)
    assert not hasty.run()
    assert not hasty.is_whole
    assert part.least_work(81) == 0, "no layout comes to more than the sheet's area"


def test_it_can_be_ended_between_any_two_parts() -> None:
    """Someone who wants to stop need not wait for all parts."""
    asked = itertools.count()

    def check() -> None:
        if next(asked) == 5:
            raise Stopped

    with pytest.raises(Stopped):
        Collection(whole_sheet(MANY_WAYS, (3, 4, 5)), 70, MANY, PLENTY, check=check).run()
