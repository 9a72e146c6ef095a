"""The packer against an enumerator of its own rules, on boards small enough to try everything.

Set KERFWRIGHT_TINY to a number to compare so many boards instead of the usual few.
"""

from __future__ import annotations

import os

from brute import least_cost, yields
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kerfwright.packer.layouts import counts_of
from kerfwright.packer.running import Budget
from kerfwright.packer.solve import Packed, Stuck, pack, unreachable
from kerfwright.problem.instance import Instance, PieceType, SourceType

EXAMPLES = int(os.environ.get("KERFWRIGHT_TINY", "300"))
WORK_SECONDS = 2.0
SIDES = st.integers(2, 9)


@st.composite
def tiny(draw: st.DrawFn) -> Instance:
    """Draw a board whose pieces each fit a source: kerf, limits, stock, costs, no turning."""
    sources = tuple(
        draw(
            st.lists(
                st.builds(
                    SourceType, SIDES, SIDES, st.integers(0, 9), st.none() | st.integers(1, 2)
                ),
                min_size=1,
                max_size=2,
                unique_by=lambda source: (source.width, source.height),
            )
        )
    )
    fitting = st.builds(
        PieceType, st.integers(1, 6), st.integers(1, 6), st.integers(1, 3), st.booleans()
    ).filter(lambda piece: _fits(piece, sources))
    pieces = draw(st.lists(fitting, min_size=1, max_size=3, unique_by=_size))
    return Instance(
        tuple(pieces),
        sources,
        kerf=draw(st.integers(0, 2)),
        longest_cut=draw(st.none() | st.integers(3, 9)),
        narrowest_strip=draw(st.integers(0, 3)),
    )


def _size(piece: PieceType) -> tuple[int, int, bool]:
    return piece.width, piece.height, piece.may_turn


def _fits(piece: PieceType, sources: tuple[SourceType, ...]) -> bool:
    return any(
        width <= source.width and height <= source.height
        for width, height in piece.orientations()
        for source in sources
    )


def agrees(instance: Instance) -> None:
    """Assert that what the packer claims of a board is so."""
    least = least_cost(instance)
    lost = unreachable(instance)
    packed = Stuck(lost) if lost else pack(instance, Budget(WORK_SECONDS))
    if isinstance(packed, Stuck) or any(packed.short):
        assert least is None, f"no plan found, but one costs {least}"
        return
    assert least is not None, "a plan for what cannot be cut"
    assert packed.lower <= least <= packed.cost, (packed.lower, least, packed.cost)
    for layout in packed.choice.copies:
        assert counts_of(layout.root, len(instance.pieces)) == layout.counts
        source = instance.sources[layout.source]
        cut = tuple(
            min(number, most) for number, most in zip(layout.counts, instance.demands, strict=True)
        )
        possible = yields(instance, source.width, source.height)
        assert any(all(x <= y for x, y in zip(cut, other, strict=True)) for other in possible), (
            f"no legal cuts give {layout.counts}"
        )


def test_a_sheet_of_four_quarters() -> None:
    """4 x 4 gives four of 2 x 2 with a knife; a kerf of 1 leaves room for one only."""
    piece, sheet = PieceType(2, 2, 4, may_turn=False), SourceType(4, 4, 1, None)
    assert yields(Instance((piece,), (sheet,)), 4, 4) == {(4,)}
    assert least_cost(Instance((piece,), (sheet,), kerf=1)) == 4


def test_limits_of_the_tool_count() -> None:
    """A 2 x 2 leaves a strip of 1 in a 3 x 3: not with a narrowest strip of 2, nor a short cut."""
    piece, sheet = PieceType(2, 2, 1, may_turn=False), SourceType(3, 3, 5, None)
    assert least_cost(Instance((piece,), (sheet,))) == 5
    assert least_cost(Instance((piece,), (sheet,), narrowest_strip=2)) is None
    assert least_cost(Instance((piece,), (sheet,), longest_cut=2)) is None


def test_a_strip_may_be_sold_narrower_than_any_that_is_cut() -> None:
    """Slats of 2 x 8 come from strips of that size alone where no strip below 3 is cut."""
    pieces = (PieceType(4, 4, 2, may_turn=False), PieceType(2, 8, 2, may_turn=False))
    sheet, strip = SourceType(10, 8, 10, None), SourceType(2, 8, 3, None)
    instance = Instance(pieces, (sheet, strip), kerf=1, narrowest_strip=3)
    agrees(instance)
    packed = pack(instance, Budget(WORK_SECONDS))
    assert isinstance(packed, Packed)
    assert packed.choice.used(instance)[1] == 2


def test_limited_stock_and_costs_count() -> None:
    """Of three 2 x 2, one comes from the only free offcut and two from one sheet of 4 x 2 at 3."""
    piece = PieceType(2, 2, 3, may_turn=False)
    offcut, sheet = SourceType(2, 2, 0, 1), SourceType(4, 2, 3, None)
    assert least_cost(Instance((piece,), (offcut, sheet))) == 3
    assert least_cost(Instance((piece,), (offcut, SourceType(4, 2, 3, 0)))) is None


def test_a_part_may_be_shaved_twice() -> None:
    """An 8 x 2 becomes 7 x 2 and then 6 x 2, two cuts that take off nothing but their kerf."""
    piece, sheet = PieceType(6, 2, 1, may_turn=False), SourceType(8, 2, 1, None)
    instance = Instance((piece,), (sheet,), kerf=1, narrowest_strip=2)
    assert least_cost(instance) == 1
    assert unreachable(instance) == ()


@settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize="KERFWRIGHT_TINY" not in os.environ,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(tiny())
def test_the_packer_claims_only_what_is_so(instance: Instance) -> None:
    """Its plans can be cut, none is cheaper than its bound, and "no plan" means that none is."""
    agrees(instance)
