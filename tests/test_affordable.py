"""A plan at the bound, chosen among few layouts: found wherever trial of every choice finds one."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.packer import solve
from kerfwright.packer.choice import Choice, affordable, does
from kerfwright.packer.layouts import Layout
from kerfwright.packer.running import Budget
from kerfwright.packer.solve import Packed, pack
from kerfwright.problem.instance import Instance, PieceType, SourceType

if TYPE_CHECKING:
    from collections.abc import Sequence

ENOUGH = 5.0
COUNTS = st.tuples(*[st.integers(0, 2)] * 3)


def order(demands: tuple[int, ...], costs: tuple[int, int], available: int | None) -> Instance:
    """Return an order whose sizes do not matter: layouts are told by their counts."""
    pieces = tuple(PieceType(1, 1, demand, may_turn=False) for demand in demands)
    first, second = costs
    return Instance(pieces, (SourceType(9, 9, first, available), SourceType(9, 9, second, None)))


@st.composite
def pools(draw: st.DrawFn) -> list[Layout]:
    """Return a few layouts of two sources, no two alike."""
    drawn = draw(
        st.lists(st.tuples(st.integers(0, 1), COUNTS), min_size=1, max_size=4, unique=True)
    )
    return [Layout(source, counts, None) for source, counts in drawn if any(counts)]


def made(pool: list[Layout], copies: tuple[int, ...], piece: int) -> int:
    """Return how many of a piece so many copies make."""
    return sum(n * layout.counts[piece] for n, layout in zip(copies, pool, strict=True))


def least(instance: Instance, pool: list[Layout]) -> int | None:
    """Return what the cheapest choice costs, by trial of every one; None if none does."""
    costs = []
    for copies in product(*(range(sum(instance.demands) + 1) for _ in pool)):
        pairs = list(zip(copies, pool, strict=True))
        used = [sum(n for n, layout in pairs if layout.source == source) for source in (0, 1)]
        available = instance.sources[0].available
        if available is not None and used[0] > available:
            continue
        if all(made(pool, copies, n) >= one for n, one in enumerate(instance.demands)):
            both = zip(used, instance.sources, strict=True)
            costs.append(sum(count * source.cost for count, source in both))
    return min(costs, default=None)


@given(
    st.tuples(*[st.integers(1, 2)] * 3),
    st.tuples(st.integers(1, 3), st.integers(1, 3)),
    st.none() | st.integers(0, 2),
    pools(),
    st.integers(1, 8),
)
def test_one_is_found_where_there_is_one(
    demands: tuple[int, ...],
    costs: tuple[int, int],
    available: int | None,
    pool: list[Layout],
    most: int,
) -> None:
    """And none where trial finds none; what is found makes all pieces and costs no more."""
    instance = order(demands, costs, available)
    cheapest = least(instance, pool)
    found = affordable(instance, pool, most, Budget(ENOUGH))
    if cheapest is None or cheapest > most:
        assert found is None
    else:
        assert found is not None
        copies = tuple(found.copies.get(layout, 0) for layout in pool)
        assert all(made(pool, copies, n) >= one for n, one in enumerate(demands))
        assert cheapest <= found.cost(instance) <= most


ONE_EACH = Layout(0, (1, 1, 1), None)


@pytest.mark.parametrize(
    ("copies", "available", "most", "whether"),
    [(2, None, 4, True), (1, None, 4, False), (2, 1, 4, False), (2, None, 3, False)],
    ids=["all is well", "too few pieces", "more than there are", "too dear"],
)
def test_what_comes_back_is_checked(
    copies: int, available: int | None, most: int, whether: bool
) -> None:
    """It went through floating point: pieces, stock and cost are counted again."""
    instance = order((2, 2, 2), (2, 9), available)
    assert does(instance, Choice({ONE_EACH: copies}), most) is whether


def test_a_job_settled_so_needs_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eight pieces fit one sheet, which no fill finds; the search that loads more is not begun."""
    asked: list[int] = []

    def found(
        instance: Instance, pool: Sequence[Layout], most: int, budget: Budget
    ) -> Choice | None:
        asked.append(most)
        return affordable(instance, pool, most, budget)

    monkeypatch.setattr(solve, "affordable", found)
    monkeypatch.setattr(solve, "choose", None)
    sizes = {(400, 500): 2, (280, 350): 3, (180, 240): 3}
    pieces = tuple(PieceType(*size, number, may_turn=True) for size, number in sizes.items())
    packed = pack(Instance(pieces, (SourceType(815, 1120, 1, None),)), Budget(ENOUGH))
    assert isinstance(packed, Packed)
    assert (packed.cost, packed.lower, asked) == (1, 1, [1])
