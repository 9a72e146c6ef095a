"""The best single layout within limited copies."""

from __future__ import annotations

from dataclasses import replace

from brute import yields
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.audit.reprice import Shape, best_value
from kerfwright.packer.exhaust import maximal_layouts
from kerfwright.packer.grids import build_grid
from kerfwright.packer.layouts import counts_of, needed
from kerfwright.packer.limited import BestLayout, NearBest, best_limited, paying_layouts
from kerfwright.packer.recursion import best_values
from kerfwright.packer.running import Budget
from kerfwright.packer.solve import Packed, pack
from kerfwright.problem.instance import Instance, PieceType, SourceType

PLENTY = 1e9


def best(instance: Instance, values: tuple[int, ...], work: float = PLENTY) -> BestLayout:
    """Return the best layout of the instance's one source, its demands as limits."""
    grid = build_grid(instance, limited=False)
    source, kerf = instance.sources[0], instance.kerf
    cell = grid.cell(source.width + kerf, source.height + kerf)
    found = best_limited(grid, cell, values, instance.demands, work)
    assert needed(found.root, 0, instance) <= source.width + kerf
    assert needed(found.root, 1, instance) <= source.height + kerf
    assert found.value == sum(v * n for v, n in zip(values, found.counts, strict=True))
    return found


def test_a_limit_leaves_room_for_the_lesser_piece() -> None:
    """Of 4 x 2, two 2 x 2 at 5 would be 10; with one of them, two 1 x 2 at 2 make 9."""
    pieces = (PieceType(2, 2, 1, may_turn=False), PieceType(1, 2, 9, may_turn=False))
    found = best(Instance(pieces, (SourceType(4, 2, 1, None),)), (5, 2))
    assert (found.value, found.upper, found.counts) == (9, 9, (1, 2))


def test_without_work_there_is_still_a_bound() -> None:
    """With no work to spend, the first bound stands, and the layout lies below it."""
    pieces = (PieceType(2, 3, 2, may_turn=True), PieceType(3, 4, 1, may_turn=True))
    instance = Instance(pieces, (SourceType(7, 5, 1, None),))
    hasty, whole = best(instance, (6, 12), work=0), best(instance, (6, 12))
    assert hasty.value <= whole.value == whole.upper <= hasty.upper


@st.composite
def tiny(draw: st.DrawFn) -> tuple[Instance, tuple[int, ...]]:
    """Draw a small sheet, pieces with few copies each, and what one of each is worth."""
    side = st.integers(1, 5)
    piece = st.builds(PieceType, side, side, st.integers(1, 3), st.booleans())
    pieces = draw(st.lists(piece, min_size=1, max_size=3))
    source = SourceType(draw(st.integers(5, 9)), draw(st.integers(5, 9)), 1, None)
    values = draw(st.tuples(*(st.integers(0, 20) for _ in pieces)))
    return Instance(tuple(pieces), (source,), kerf=draw(st.integers(0, 1))), values


@settings(max_examples=150, deadline=None)
@given(tiny())
def test_it_is_the_best_of_all_layouts(drawn: tuple[Instance, tuple[int, ...]]) -> None:
    """Trying every cut finds nothing better, and the layout is proved best."""
    instance, values = drawn
    source = instance.sources[0]
    most = max(
        sum(v * n for v, n in zip(values, counts, strict=True))
        for counts in yields(instance, source.width, source.height)
    )
    found = best(instance, values)
    assert (found.value, found.upper) == (most, most)


@settings(max_examples=100, deadline=None)
@given(tiny(), st.integers(0, 30))
def test_layouts_that_pay_keep_within_the_limits(
    drawn: tuple[Instance, tuple[int, ...]], least: int
) -> None:
    """Each layout is worth more than asked, none is worth more than the best of all."""
    instance, values = drawn
    grid, source = build_grid(instance, limited=False), instance.sources[0]
    most = best(instance, values).upper
    roots, _ = paying_layouts(
        grid, grid.root(source, instance), values, instance.demands, least, 30 * grid.work
    )
    for root in roots:
        counts = counts_of(root, len(values))
        assert all(n <= d for n, d in zip(counts, instance.demands, strict=True))
        assert least < sum(v * n for v, n in zip(values, counts, strict=True)) <= most
        assert needed(root, 0, instance) <= source.width + instance.kerf
        assert needed(root, 1, instance) <= source.height + instance.kerf


@settings(max_examples=150, deadline=None)
@given(tiny(), st.integers(1, 9))
def test_with_a_longest_cut_the_grid_gives_no_less_than_any_layout(
    drawn: tuple[Instance, tuple[int, ...]], longest: int
) -> None:
    """The grid that knows the longest cut prices as the audit does: never below a true layout."""
    instance, values = replace(drawn[0], longest_cut=longest), drawn[1]
    source, kerf = instance.sources[0], instance.kerf
    grid = build_grid(instance, limited=False)
    found = int(best_values(grid, list(values))[grid.root(source, instance)])
    shapes = [
        Shape(width + kerf, height + kerf, value)
        for piece, value in zip(instance.pieces, values, strict=True)
        for width, height in piece.orientations()
    ]
    audited = best_value(shapes, source.width + kerf, source.height + kerf, longest + kerf)
    free = replace(instance, pieces=tuple(replace(piece, demand=99) for piece in instance.pieces))
    most = max(
        sum(v * n for v, n in zip(values, counts, strict=True))
        for counts in yields(free, source.width, source.height)
    )
    assert most <= found
    if min(source.width, source.height) <= longest:
        assert found == audited


@settings(max_examples=100, deadline=None)
@given(tiny(), st.integers(1, 9))
def test_near_the_best_with_a_longest_cut_all_are_listed(
    drawn: tuple[Instance, tuple[int, ...]], longest: int
) -> None:
    """Every layout worth enough whose cuts are short enough lies within one that is listed."""
    instance, values = replace(drawn[0], longest_cut=longest), drawn[1]
    source = instance.sources[0]
    grid = build_grid(instance, limited=False)
    near = NearBest(grid, grid.root(source, instance), values, instance.demands, 30 * grid.work)
    least = near.upper - max(values)
    trees = near.worth(least, PLENTY, 10_000)
    assert near.whole
    listed = [counts_of(tree, len(values)) for tree in trees]
    for counts in yields(instance, source.width, source.height):
        if sum(v * n for v, n in zip(values, counts, strict=True)) >= max(1, least):
            assert any(all(x <= y for x, y in zip(counts, one, strict=True)) for one in listed)


@settings(max_examples=100, deadline=None)
@given(tiny(), st.integers(1, 9))
def test_maximal_layouts_with_a_longest_cut_hold_every_other(
    drawn: tuple[Instance, tuple[int, ...]], longest: int
) -> None:
    """Every set of pieces that short cuts can give lies within a listed one."""
    instance = replace(drawn[0], longest_cut=longest)
    source = instance.sources[0]
    grid = build_grid(instance, limited=False)
    listed = [one.counts for one in maximal_layouts(instance, grid, Budget(9.0))]
    for counts in yields(instance, source.width, source.height):
        assert not any(counts) or any(
            all(x <= y for x, y in zip(counts, one, strict=True)) for one in listed
        )


@settings(max_examples=150, deadline=None)
@given(tiny(), st.integers(1, 9), st.lists(st.integers(3, 12), min_size=4, max_size=4))
def test_of_several_sources_the_audit_prices_none_higher(
    drawn: tuple[Instance, tuple[int, ...]], longest: int, sides: list[int]
) -> None:
    """Whatever pieces have no value, so that the audit's sizes of parts are fewer."""
    values = (0, *drawn[1][1:])
    sources = tuple(SourceType(*size, 1, None) for size in zip(sides[:2], sides[2:], strict=True))
    instance = replace(drawn[0], sources=sources, longest_cut=longest)
    grid, kerf = build_grid(instance, limited=False), instance.kerf
    table = best_values(grid, list(values))
    shapes = [
        Shape(width + kerf, height + kerf, value)
        for piece, value in zip(instance.pieces, values, strict=True)
        for width, height in piece.orientations()
    ]
    for source in sources:
        if min(source.width, source.height) <= longest:
            priced = int(table[grid.root(source, instance)])
            gross = source.width + kerf, source.height + kerf
            assert best_value(shapes, *gross, longest + kerf) <= priced


def test_of_a_sheet_too_long_both_ways_nothing_comes_but_itself() -> None:
    """With cuts of 40 at most a 45 x 96 is left out: thirty 20 x 20 need fifteen of 32 x 40."""
    pieces = (PieceType(20, 20, 30, may_turn=True), PieceType(5, 5, 1, may_turn=True))
    sheets = (SourceType(32, 40, 20, None), SourceType(45, 96, 30, None))
    packed = pack(Instance(pieces, sheets, longest_cut=40), Budget(5.0))
    assert isinstance(packed, Packed)
    assert (packed.cost, packed.lower) == (300, 300)
    whole = (*pieces, PieceType(96, 45, 1, may_turn=True))
    packed = pack(Instance(whole, sheets, longest_cut=40), Budget(5.0))
    assert isinstance(packed, Packed)
    assert packed.cost == 330
