"""A good single layout made better, part by part."""

from __future__ import annotations

import pytest
from brute import yields
from hypothesis import given, settings
from test_limited import tiny

from kerfwright.packer.anew import best_sheet, laid_anew
from kerfwright.packer.grids import build_grid
from kerfwright.packer.layouts import counts_of, needed
from kerfwright.packer.limited import BestLayout, best_limited
from kerfwright.problem.instance import Instance, PieceType, SourceType

# Found among random boards, invented: width, height and copies, each worth its area, of 60 x 40.
BOARDS = {
    "of five": ((23, 7, 2), (8, 20, 2), (20, 17, 1), (8, 20, 1), (17, 18, 3)),
    "of six": ((16, 21, 1), (19, 12, 3), (6, 10, 1), (16, 20, 1), (17, 22, 1), (23, 12, 1)),
    "of seven": ((13, 16, 3), (12, 20, 2), (7, 22, 2), (12, 22, 1), (9, 16, 1), (16, 15, 1),
                 (11, 7, 2)),
}  # fmt: skip


def hasty(instance: Instance, values: tuple[int, ...], limits: tuple[int, ...]) -> BestLayout:
    """Return a layout for which nothing was done but laying pieces one after the other."""
    grid = build_grid(instance, limited=False)
    cell = grid.root(instance.sources[0], instance)
    return best_limited(grid, cell, values, limits, 0)


@pytest.mark.parametrize("board", BOARDS)
def test_a_hasty_layout_becomes_the_best(board: str) -> None:
    """What was laid in haste is worth less; laid anew in parts it is as good as the proved best."""
    pieces = tuple(PieceType(*sides, may_turn=True) for sides in BOARDS[board])
    instance = Instance(pieces, (SourceType(60, 40, 1, None),))
    values = tuple(piece.width * piece.height for piece in pieces)
    limits = instance.demands
    begun = hasty(instance, values, limits)
    root, spent = laid_anew(instance, values, limits, begun.root, 1e9)
    worth = sum(v * n for v, n in zip(values, counts_of(root, len(values)), strict=True))
    best = best_sheet(instance, values, limits, 3e9)
    assert best.proved
    assert begun.value < worth == best.value
    assert spent > 0


@settings(max_examples=100, deadline=None)
@given(tiny())
def test_nothing_is_lost_and_limits_are_kept(drawn: tuple[Instance, tuple[int, ...]]) -> None:
    """Laid anew, a layout fits, keeps the limits, and lies between what it was and the best."""
    instance, values = drawn
    source, kerf = instance.sources[0], instance.kerf
    begun = hasty(instance, values, instance.demands)
    root, _ = laid_anew(instance, values, instance.demands, begun.root, 1e7)
    counts = counts_of(root, len(values))
    most = max(
        sum(v * n for v, n in zip(values, one, strict=True))
        for one in yields(instance, source.width, source.height)
    )
    assert all(n <= d for n, d in zip(counts, instance.demands, strict=True))
    assert begun.value <= sum(v * n for v, n in zip(values, counts, strict=True)) <= most
    assert needed(root, 0, instance) <= source.width + kerf
    assert needed(root, 1, instance) <= source.height + kerf


@settings(max_examples=60, deadline=None)
@given(tiny())
def test_the_best_sheet_is_the_best(drawn: tuple[Instance, tuple[int, ...]]) -> None:
    """The whole search is as exact as without laying anything anew."""
    instance, values = drawn
    source = instance.sources[0]
    most = max(
        sum(v * n for v, n in zip(values, one, strict=True))
        for one in yields(instance, source.width, source.height)
    )
    found = best_sheet(instance, values, instance.demands, 1e9)
    assert (found.value, found.upper) == (most, most)
