"""The best single layout of a sheet on a grid too fine for a table, copies unlimited."""

from __future__ import annotations

import pytest
from brute import yields
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.packer.finegrid import best_on_fine_grid
from kerfwright.packer.grids import build_grid
from kerfwright.packer.layouts import needed
from kerfwright.packer.limited import BestLayout
from kerfwright.packer.recursion import best_values
from kerfwright.packer.sweep import Asked, swept
from kerfwright.problem.instance import Instance, PieceType, SourceType

PLENTY = 1e9


def best(instance: Instance, values: tuple[int, ...], work: float = PLENTY) -> BestLayout:
    """Return the best layout of the instance's one source, which is looked at again."""
    source, kerf = instance.sources[0], instance.kerf
    found = best_on_fine_grid(instance, values, work)
    assert needed(found.root, 0, instance) <= source.width + kerf
    assert needed(found.root, 1, instance) <= source.height + kerf
    assert found.value == sum(v * n for v, n in zip(values, found.counts, strict=True))
    assert found.value <= found.upper
    return found


def by_table(instance: Instance, values: tuple[int, ...]) -> int:
    """Return what the recursion over all part sizes says."""
    grid = build_grid(instance, limited=False)
    return int(best_values(grid, values)[grid.root(instance.sources[0], instance)])


@st.composite
def sheets(draw: st.DrawFn, most: int, largest: int) -> tuple[Instance, tuple[int, ...]]:
    """Draw a sheet, pieces and what one of each is worth: some by area, some by chance."""
    side = st.integers(1, largest)
    piece = st.builds(PieceType, side, side, st.just(1), st.booleans())
    pieces = draw(st.lists(piece, min_size=1, max_size=5))
    longer = st.integers(largest, most)
    source = SourceType(draw(longer), draw(longer), 1, None)
    by_area = tuple(piece.width * piece.height for piece in pieces)
    by_chance = st.tuples(*(st.integers(0, 60) for _ in pieces))
    values = draw(st.one_of(st.just(by_area), by_chance))
    return Instance(tuple(pieces), (source,), kerf=draw(st.integers(0, 1))), values


@settings(max_examples=40, deadline=None)
@given(sheets(7, 4))
def test_it_is_the_best_of_all_layouts(drawn: tuple[Instance, tuple[int, ...]]) -> None:
    """Trying every cut, with as many copies as have room, finds nothing better."""
    instance, values = drawn
    source = instance.sources[0]
    plenty = tuple(
        PieceType(piece.width, piece.height, source.width * source.height, piece.may_turn)
        for piece in instance.pieces
    )
    unlimited = Instance(plenty, instance.sources, kerf=instance.kerf)
    most = max(
        sum(v * n for v, n in zip(values, counts, strict=True))
        for counts in yields(unlimited, source.width, source.height)
    )
    found = best(instance, values)
    assert (found.value, found.upper) == (most, most)


@settings(max_examples=60, deadline=None)
@given(sheets(60, 25))
def test_it_agrees_with_the_recursion_over_all_sizes(
    drawn: tuple[Instance, tuple[int, ...]],
) -> None:
    """Leaving parts out and keeping all of them come to the same value."""
    instance, values = drawn
    found = best(instance, values)
    assert found.value == found.upper == by_table(instance, values)


@settings(max_examples=40, deadline=None)
@given(sheets(60, 25), st.integers(0, 2000))
def test_cut_short_it_says_only_what_is_so(
    drawn: tuple[Instance, tuple[int, ...]], work: int
) -> None:
    """With little work the best value still lies between what was found and the bound."""
    instance, values = drawn
    found = best(instance, values, work)
    assert found.value <= by_table(instance, values) <= found.upper


@settings(max_examples=60, deadline=None)
@given(sheets(40, 15), st.integers(0, 2000), st.booleans())
def test_every_part_is_worth_what_the_recursion_says(
    drawn: tuple[Instance, tuple[int, ...]], known: int, strict: bool
) -> None:
    """No part is worth more than its table's entry, and the sheet, if better, not less."""
    instance, values = drawn
    pieces = tuple(
        (piece.width, piece.height, value)
        for piece, value in zip(instance.pieces, values, strict=True)
        if value
    )
    source = instance.sources[0]
    if not pieces:
        return
    worths = tuple(value for _, _, value in pieces)
    straight = tuple(PieceType(w, h, 1, may_turn=False) for w, h, _ in pieces)

    def most(wide: int, high: int) -> int:
        return by_table(Instance(straight, (SourceType(wide, high, 1, None),)), worths)

    parts, _ = swept(Asked(source.width, source.height, pieces), known, PLENTY, strict=strict)
    sizes = zip(parts.width.tolist(), parts.height.tolist(), parts.value.tolist(), strict=True)
    kept = list(sizes)
    for wide, high, value in kept[:: 1 + len(kept) // 30]:
        assert value <= most(wide, high)
    whole = most(source.width, source.height)
    if not strict and whole > known:
        assert max(value for *_, value in kept) == whole


def test_values_too_large_are_refused() -> None:
    """Beyond 45 bits sums could overflow, so that nothing is said."""
    instance = Instance((PieceType(2, 2, 1, may_turn=False),), (SourceType(9, 9, 1, None),))
    with pytest.raises(ValueError, match="too large"):
        best_on_fine_grid(instance, (1 << 44,), PLENTY)


def test_the_example_of_the_packer_page() -> None:
    """One B and five C are worth 1212 of 1280, and no layout is worth more."""
    sizes = ((20, 24), (14, 18), (12, 16))
    pieces = tuple(PieceType(wide, high, 1, may_turn=True) for wide, high in sizes)
    example = Instance(pieces, (SourceType(32, 40, 1, None),))
    ways = tuple((w, h, w * h) for piece in pieces for w, h in piece.orientations())
    assert Asked(32, 40, ways).upper == 1280
    found = best(example, (480, 252, 192))
    assert (found.value, found.upper, found.counts) == (1212, 1212, (0, 1, 5))


def test_strips_that_fill_a_sheet_need_no_search() -> None:
    """Rows of one type each fill it: 3 x 4 of one type over 2 x 3 of another."""
    pieces = (PieceType(300, 500, 1, may_turn=False), PieceType(450, 700, 1, may_turn=False))
    found = best(Instance(pieces, (SourceType(900, 4100, 1, None),)), (150000, 315000), work=0)
    assert found.value == found.upper == 900 * 4100


def test_pieces_without_a_value_give_an_empty_sheet() -> None:
    """Nothing is worth cutting, and that is proved."""
    instance = Instance((PieceType(1, 1, 1, may_turn=False),), (SourceType(25, 25, 1, None),))
    found = best(instance, (0,))
    assert (found.value, found.upper, found.counts) == (0, 0, (0,))
