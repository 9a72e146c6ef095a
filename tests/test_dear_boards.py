"""Large boards of small pieces: a plan soon, dives that price seldom, splits kept in fronts."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from random import Random
from typing import TYPE_CHECKING

import pytest

from kerfwright.packer import dive as diving
from kerfwright.packer import grids, recreate, solve
from kerfwright.packer.columns import ProperColumns
from kerfwright.packer.dive import dive
from kerfwright.packer.dual_feasible import dual_feasible_values
from kerfwright.packer.fill import fill, fill_seconds, starting_values
from kerfwright.packer.layouts import Layout, Place, counts_of, fits
from kerfwright.packer.legal import legal
from kerfwright.packer.recreate import is_soon_put_together, put_together, soon_put_together
from kerfwright.packer.recursion import best_values
from kerfwright.packer.refill import refilled
from kerfwright.packer.running import Budget, Stopped
from kerfwright.packer.solve import Packed, Search, effort, pack
from kerfwright.problem.instance import Instance, PieceType, SourceType

if TYPE_CHECKING:
    from kerfwright.packer.choice import Choice
    from kerfwright.packer.columns import ColumnGeneration
    from kerfwright.packer.master import MasterState


@cache
def large(sizes: int, copies: int) -> Instance:
    """Return an order of odd sizes, a tenth as long as the sheet at most."""
    draw = Random(7)  # noqa: S311
    pieces = {(draw.randrange(90, 400), draw.randrange(200, 420)) for _ in range(sizes)}
    types = tuple(PieceType(w, h, draw.randrange(1, 2 * copies), True) for w, h in sorted(pieces))
    return Instance(types, (SourceType(4000, 2000, 4000 * 2000, None),))


def serves(instance: Instance, plan: Choice) -> bool:
    """Return whether a plan makes all pieces of layouts that fit."""
    made = [0] * len(instance.pieces)
    for layout, copies in plan.copies.items():
        assert fits(instance, layout)
        assert layout.counts == counts_of(layout.root, len(made))
        made = [n + copies * one for n, one in zip(made, layout.counts, strict=True)]
    return all(n >= demand for n, demand in zip(made, instance.demands, strict=True))


def narrow() -> Instance:
    """Return an order of which one piece is one step wide, so that every size is a sum."""
    sides = [(1, 44), (2, 65), (17, 64), (36, 68), (58, 78), (80, 81), (95, 97)]
    types = tuple(PieceType(w, h, 1, True) for w, h in sides)
    return Instance(types, (SourceType(300, 300, 90_000, None),))


def test_a_first_plan_is_there_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who stops at once gets a plan put together piece by piece; no dear fill is begun."""
    instance = large(50, 40)
    assert fill_seconds(instance, solve._grids(instance, None)[0]) > solve.MOST_FIRST_SECONDS
    monkeypatch.setattr(solve, "fill", lambda *_: pytest.fail("a fill was begun"))
    packed = pack(instance, Budget(effort(instance), stop=lambda: True))
    assert isinstance(packed, Packed)
    assert packed.stopped
    assert serves(instance, packed.choice)


def test_a_dear_fill_comes_second(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fill that was put off is made, though not counted, and may be a better plan."""
    instance = large(20, 60)
    monkeypatch.setattr(solve, "MOST_FIRST_SECONDS", 0.0)
    monkeypatch.setattr(solve, "MOST_PUT_OFF", 1e9)
    monkeypatch.setattr(solve, "FEW_COPIES", 0.0)
    said: list[tuple[int | None, str]] = []
    budget = Budget(1e-6, report=lambda cost, _, trying: said.append((cost, trying)))
    packed = pack(instance, budget, rungs=1)
    assert isinstance(packed, Packed)
    first = put_together(instance, Budget(math.inf))
    coarse = solve._grids(instance, grids.exact_grid(instance))[0]
    filled = fill(instance, coarse, starting_values(instance, 1.02), Budget(math.inf))
    assert first is not None
    assert filled is not None
    assert said[0] == (first.cost(instance), "whole plans")
    assert filled.cost(instance) < first.cost(instance)
    assert said[1] == (filled.cost(instance), "first plan")


def test_a_fill_of_many_budgets_is_not_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was put off may take a few budgets, and no more."""
    monkeypatch.setattr(solve, "fill", lambda *_: pytest.fail("a fill was begun"))
    monkeypatch.setattr(solve, "MOST_FIRST_SECONDS", 0.0)
    monkeypatch.setattr(solve, "FEW_COPIES", 0.0)
    packed = pack(large(20, 60), Budget(1e-6), rungs=1)
    assert isinstance(packed, Packed)


def test_a_large_order_is_put_together_in_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of more pieces than are soon put together, a share is, and its layouts are cut times over."""
    assert is_soon_put_together(large(50, 40))
    assert not is_soon_put_together(large(50, 5_000))
    instance = large(8, 40)
    monkeypatch.setattr(recreate, "MOST_PIECES", sum(instance.demands) // 7)
    plan = soon_put_together(instance, Budget(math.inf))
    assert plan is not None
    assert serves(instance, plan)
    assert all(copies % 8 == 0 for copies in plan.copies.values())
    source = replace(instance.sources[0], available=100)
    limited = replace(instance, sources=(source,))
    assert soon_put_together(limited, Budget(math.inf)) is None


def test_putting_together_counts_and_can_be_stopped() -> None:
    """Pieces put, sheets asked and parts looked at count; it ends between two pieces."""
    instance = large(50, 40)
    budget = Budget(1.0)
    put_together(instance, budget)
    assert budget.seconds < 1.0
    calls: list[int] = []

    def stop() -> bool:
        calls.append(1)
        return len(calls) > 2

    with pytest.raises(Stopped):
        put_together(instance, Budget(math.inf, stop))


def test_a_fill_is_reckoned_by_the_sheets_there_are() -> None:
    """Of a large sheet there may be one only; then small ones fill the most."""
    instance = large(20, 60)
    grid = grids.quick_grid(instance, None, 4e6)
    small = SourceType(800, 500, 800 * 500, None)
    one_large = replace(instance.sources[0], available=1)
    both = replace(instance, sources=(one_large, small))
    assert fill_seconds(both, grid) > 4 * fill_seconds(instance, grid)
    assert fill_seconds(instance, grid, [0] * len(instance.pieces)) == 0


def test_nothing_is_begun_that_the_budget_cannot_last_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither fills after the first plan, nor dives; pieces still find their plan."""
    instance = narrow()
    first = put_together(instance, Budget(math.inf))
    monkeypatch.setattr(solve, "_first_plan", lambda *_: (first, True))
    monkeypatch.setattr(solve, "fill_seconds", lambda *_: math.inf)
    monkeypatch.setattr(solve, "FEWEST_PRICINGS", math.inf)
    monkeypatch.setattr(solve, "fill", lambda *_: pytest.fail("a fill was begun"))
    monkeypatch.setattr(solve, "dive", lambda *_, **__: pytest.fail("a dive was begun"))
    packed = pack(instance, Budget(1.0), rungs=1)
    assert isinstance(packed, Packed)
    assert serves(instance, packed.choice)


def test_waste_is_left_where_the_budget_is_spent() -> None:
    """Looking for what else a layout's waste could hold ends with the budget."""
    instance = large(20, 60)
    grid = grids.quick_grid(instance, None, 4e6)
    counts = tuple(int(n == 0) for n in range(len(instance.pieces)))
    layout = Layout(0, counts, Place(0, turned=False))
    values = [1] * len(counts)
    assert refilled(instance, grid, layout, values, instance.demands, Budget(0.0)) == layout
    assert refilled(instance, grid, layout, values, instance.demands, Budget(9.0)) != layout


def started(instance: Instance) -> tuple[Search, ColumnGeneration]:
    """Return a search with a first plan."""
    found = solve._started(instance, Budget(10.0))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("above", "proves", "given"),
    [(1, True, []), (2, True, [20.0, 30.0]), (1, False, [30.0]), (0, False, [])],
)
def test_how_often_a_budget_is_extended(
    monkeypatch: pytest.MonkeyPatch, above: int, proves: bool, given: list[float]
) -> None:
    """Two sheets above the bound, twice; without an exact grid one sheet above, once."""
    search, bounding = started(narrow())
    bounding.proves = proves
    search.lower = search.cost - above * bounding.whole
    budgets: list[float] = []
    monkeypatch.setattr(solve, "_close", lambda search, _: budgets.append(search.budget.seconds))
    solve._go_on(search, bounding, 10.0)
    assert budgets == given


def test_refilling_has_the_most_where_no_fill_is_possible(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bound's share is less where pieces go one by one and even one fill is too dear."""
    search, _ = started(narrow())
    assert solve._reserve(search) == solve.RESERVE
    monkeypatch.setattr(solve, "MOST_FILL_WORK", 0.0)
    assert solve._reserve(search) == solve.RESERVE
    monkeypatch.setattr(solve, "fill_seconds", lambda *_: math.inf)
    assert solve._reserve(search) == solve.RESERVE_PIECEMEAL


@pytest.mark.parametrize("seed", range(8))
def test_a_dear_dive_keeps_the_limits_of_the_tool(
    monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """What is put together piece by piece goes into a plan only if the tool can cut it."""
    draw = Random(seed)  # noqa: S311
    sides = [(draw.randrange(12, 40), draw.randrange(12, 40)) for _ in range(10)]
    types = tuple(PieceType(w, h, draw.randrange(2, 9), True) for w, h in sides)
    sheet = (SourceType(100, 80, 100 * 80, None),)
    instance = Instance(types, sheet, longest_cut=82, narrowest_strip=5)
    grid = grids.build_grid(instance, limited=True)
    values = starting_values(instance, 1.02)
    start = fill(instance, grid, values, Budget(60.0))
    assert start is not None
    monkeypatch.setattr(diving, "DEAR_SHARE", 0.0)
    most = start.cost(instance) + 8000
    budget = Budget(5.0)
    plan, _ = dive(instance, grid, start.copies, 8000, most, budget, values, seldom=True)
    assert plan is not None
    assert all(legal(instance, layout) is not None for layout in plan.copies)


# Of the first six seeds, those where the dive goes below its first master.
@pytest.mark.parametrize("seed", [0, 2, 3, 4, 5])
def test_a_dear_dive_goes_by_known_layouts(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """Where the budget would not last for pricing each sheet, a plan comes all the same."""
    draw = Random(seed)  # noqa: S311
    sides = [(draw.randrange(12, 40), draw.randrange(12, 40)) for _ in range(12)]
    types = tuple(PieceType(w, h, draw.randrange(10, 30), True) for w, h in sides)
    instance = Instance(types, (SourceType(100, 80, 100 * 80, None),))
    grid = grids.build_grid(instance, limited=False)
    values = starting_values(instance, 1.02)
    start, other = fill(instance, grid, values, Budget(60.0)), put_together(instance, Budget(60.0))
    assert start is not None
    assert other is not None
    most = other.cost(instance) - 8000
    solved: list[ProperColumns] = []
    solve_alone = ProperColumns.solve

    def noted(columns: ProperColumns) -> MasterState:
        solved.append(columns)
        return solve_alone(columns)

    monkeypatch.setattr(ProperColumns, "solve", noted)

    def dived() -> Choice | None:
        budget = Budget(60.0)
        return dive(instance, grid, start.copies, 8000, most, budget, values, seldom=True)[0]

    plan = dived()
    assert plan is not None
    assert plan.cost(instance) <= most
    assert not solved
    monkeypatch.setattr(diving, "DEAR_SHARE", 0.0)
    plan = dived()
    assert plan is not None
    assert plan.cost(instance) <= most
    assert serves(instance, plan)
    assert solved


def test_narrow_pieces_leave_an_exact_grid() -> None:
    """Where levels would be of one size each, more splits are kept, and pricing is exact."""
    instance = narrow()
    grid = grids.exact_grid(instance)
    assert grid is not None
    assert grids.MOST_KEPT < grid.splits <= grids.MOST_KEPT_DEEP
    assert grid.keeps_fronts
    values = [piece.width * piece.height for piece in instance.pieces]
    by_fronts = best_values(grid, values)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(grids, "MOST_KEPT_DEEP", 0)
        by_levels = grids.build_grid(instance, limited=False)
        assert not by_levels.keeps_fronts
        assert grids.exact_grid(instance) is None
        assert (best_values(by_levels, values) == by_fronts).all()


def test_dual_feasible_values_can_be_stopped() -> None:
    """Of hundreds of sizes they take a second, in which somebody may ask to end."""
    budget = Budget(1.0, stop=lambda: True)
    with pytest.raises(Stopped):
        dual_feasible_values(narrow(), 2, 27, budget.check)
