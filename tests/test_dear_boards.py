"""Large boards of small pieces: a plan soon, dives that price seldom, splits kept in fronts."""

from __future__ import annotations

import math
from functools import cache
from random import Random
from typing import TYPE_CHECKING

import pytest

from kerfwright.packer import dive as diving
from kerfwright.packer import grids, solve
from kerfwright.packer.columns import ProperColumns
from kerfwright.packer.dive import dive
from kerfwright.packer.fill import fill, starting_values
from kerfwright.packer.layouts import counts_of, fits
from kerfwright.packer.recreate import is_soon_put_together, put_together
from kerfwright.packer.recursion import best_values
from kerfwright.packer.running import Budget
from kerfwright.packer.solve import Packed, effort, pack
from kerfwright.problem.instance import Instance, PieceType, SourceType

if TYPE_CHECKING:
    from kerfwright.packer.choice import Choice
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
    assert solve._starts_dearly(instance, solve._grids(instance, None)[0])
    monkeypatch.setattr(solve, "fill", lambda *_: pytest.fail("a fill was begun"))
    packed = pack(instance, Budget(effort(instance), stop=lambda: True))
    assert isinstance(packed, Packed)
    assert packed.stopped
    assert serves(instance, packed.choice)


def test_a_dear_fill_comes_second(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fill that was put off is made, whatever it counts as, and may be a better plan."""
    instance = large(20, 60)
    monkeypatch.setattr(solve, "MOST_FIRST_SECONDS", 0.0)
    monkeypatch.setattr(solve, "FEW_COPIES", 0.0)
    said: list[tuple[int | None, str]] = []
    budget = Budget(0.0, report=lambda cost, _, trying: said.append((cost, trying)))
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


def test_too_many_pieces_are_not_put_together() -> None:
    """A quarter of a million pieces would take minutes one by one."""
    assert is_soon_put_together(large(50, 40))
    assert not is_soon_put_together(large(50, 5_000))
    instance = large(50, 5_000)
    assert not solve._starts_dearly(instance, solve._grids(instance, None)[0])


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
        return dive(instance, grid, start.copies, 8000, most, Budget(60.0), values)[0]

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
