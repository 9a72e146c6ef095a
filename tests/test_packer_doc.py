"""docs/packer.md says what is so: the numbers of its example are computed again."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from kerfwright.audit.reprice import Shape, best_value
from kerfwright.packer.bounds import PieceValues, area_values, rate, simplified
from kerfwright.packer.choice import Choice, choose
from kerfwright.packer.columns import ColumnGeneration
from kerfwright.packer.exhaust import maximal_layouts
from kerfwright.packer.fill import fill, starting_values
from kerfwright.packer.grids import Grid, exact_grid
from kerfwright.packer.layouts import counts_of
from kerfwright.packer.limited import best_limited
from kerfwright.packer.positions import normal_patterns
from kerfwright.packer.recursion import best_values, trace
from kerfwright.packer.running import Budget
from kerfwright.packer.skeletons import skeletons
from kerfwright.packer.solve import POWERS, Packed, effort, pack
from kerfwright.problem.instance import Instance, PieceType, SourceType

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs" / "packer.md").read_text(encoding="utf-8")
MODULES = {path.stem for path in (ROOT / "nesting" / "packer").glob("[!_]*.py")}
AREAS = (480, 252, 192)
EIGHTHS = (4, 1, 1)
PLENTY = 1e9
ROW = re.compile(r"^\| ([A-Z]) \| (\d+) x (\d+) \| (\d+) \| (yes|no) \|$", re.MULTILINE)


def example() -> Instance:
    """Return the instance of the page, read from its table."""
    pieces = tuple(
        PieceType(int(width), int(height), int(wanted), may_turn=turn == "yes")
        for _, width, height, wanted, turn in ROW.findall(PAGE)
    )
    assert len(pieces) == 3
    return Instance(pieces, (SourceType(32, 40, 1, None),))


def grid() -> Grid:
    """Return the example's exact grid."""
    found = exact_grid(example())
    assert found is not None
    return found


def packed(instance: Instance) -> Packed:
    """Return the packer's plan."""
    outcome = pack(instance, Budget(effort(instance)))
    assert isinstance(outcome, Packed)
    return outcome


def first_plan() -> Choice:
    """Return the plan that the first fill makes."""
    instance = example()
    plan = fill(instance, grid(), starting_values(instance, POWERS[0]), Budget(PLENTY))
    assert plan is not None
    return plan


def spaced(numbers: Iterable[int]) -> str:
    """Return numbers as the page's tables have them."""
    return " ".join(str(int(number)) for number in numbers)


def best(values: Sequence[int]) -> int:
    """Return what the best layout of the sheet is worth, by packer and audit alike."""
    one, instance = grid(), example()
    found = int(best_values(one, values)[one.root(instance.sources[0], instance)])
    shapes = [
        Shape(width, height, value)
        for piece, value in zip(instance.pieces, values, strict=True)
        for width, height in piece.orientations()
    ]
    assert found == best_value(shapes, 32, 40)
    return found


def test_the_cut_positions_are_on_the_page() -> None:
    """Both axes stand there before and after the reduction, and how 40 is divided."""
    sides = {side for piece in example().pieces for side in (piece.width, piece.height)}
    one = grid()
    for name, length, axis in (("32 wide", 32, one.x), ("40 high", 40, one.y)):
        sums = spaced(normal_patterns(sides, length))
        assert f"| {name} | {sums} | {spaced(axis.sizes)} |" in PAGE
    firsts, seconds = one.y.splits[-1]
    ways = [f"{one.y.sizes[a]} + {one.y.sizes[b]}" for a, b in zip(firsts, seconds, strict=True)]
    assert f"40 is divided as {', '.join(ways[:-1])} or {ways[-1]}." in PAGE
    assert "The example's has {} x {} part sizes.".format(*one.shape) in PAGE


@pytest.mark.parametrize("values", [AREAS, EIGHTHS])
def test_the_best_layouts_are_on_the_page(values: tuple[int, ...]) -> None:
    """The table of pricing has the worth of the best layout and its counts."""
    one, instance = grid(), example()
    cell = one.root(instance.sources[0], instance)
    counts = counts_of(trace(one, values, best_values(one, values), *cell), 3)
    row = re.escape(", ".join(map(str, values))) + rf"[^|]*\| {best(values)} \| "
    assert re.search(rf"^\| {row}{re.escape(str(counts))} \|$", PAGE, re.MULTILINE)


def test_the_first_plan_is_on_the_page() -> None:
    """Its sheets are listed, in the order in which they are filled."""
    plan = first_plan()
    words = {1: "", 3: "three of "}
    told = [f"{words[copies]}{layout.counts}" for layout, copies in plan.copies.items()]
    cost = plan.cost(example())
    listed = f"{', '.join(told[:-1])}, and {told[-1]}"
    assert f"The first plan of the example takes {cost} sheets: {listed}." in PAGE


def test_the_bounds_are_on_the_page() -> None:
    """Areas prove 99/20, areas priced 528/101, and the master's values in eighths 41/8."""
    instance = example()
    assert f"= {area_values(instance).bound}," in PAGE
    priced = rate(instance, AREAS, [best(AREAS)], Fraction(1, 1280))
    assert f"= {priced.bound}," in PAGE
    values = (Fraction(1, 2), Fraction(3, 14), Fraction(1, 7))
    total = sum((v * d for v, d in zip(values, instance.demands, strict=True)), Fraction(0))
    plain = simplified(instance, PieceValues(values, total, Fraction(0)), 6, 1, 6)
    assert "{}, {} and {}.".format(*plain.values) in PAGE
    assert plain.values == tuple(Fraction(value, 8) for value in EIGHTHS)
    assert best(EIGHTHS) == 8
    assert f"7/2 + 8/8 + 5/8 = {plain.bound} is above 5" in PAGE


def test_the_master_is_on_the_page() -> None:
    """It starts and ends at the costs given, which GLOP reaches in floating point."""
    instance = example()
    columns = ColumnGeneration(instance, grid(), Budget(PLENTY), area_values(instance), 1)
    columns.add(first_plan().copies)
    costs = []
    while not columns.done:
        columns.step()
        assert columns.state is not None
        costs.append(Fraction(columns.state.objective).limit_denominator(100))
    assert f"costs {costs[0]} = {float(costs[0])}." in PAGE
    assert f"it costs {costs[-1]}, about {float(costs[-1]):.2f}:" in PAGE
    rows = re.findall(r"^\| \((\d), (\d), (\d)\) \| (\d+/\d+) \|$", PAGE, re.MULTILINE)
    shares = {tuple(map(int, row[:3])): Fraction(row[3]) for row in rows}
    made = [sum(layout[n] * share for layout, share in shares.items()) for n in range(3)]
    assert made == list(instance.demands)
    assert sum(shares.values()) == costs[-1]


def test_the_maximal_layouts_are_on_the_page() -> None:
    """All are listed, and CP-SAT finds that no five sheets of them do."""
    instance = example()
    layouts = maximal_layouts(instance, grid(), Budget(PLENTY))
    told = [str(layout.counts) for layout in layouts]
    text = f"{len(layouts)} maximal layouts:\n{', '.join(told[:-1])} and {told[-1]}."
    assert f"The example has {text}" in PAGE
    assert choose(instance, layouts, first_plan(), 0, Budget(PLENTY), 10)[1] == 6


def test_the_skeletons_are_on_the_page() -> None:
    """A plan with six sheets can use all maximal layouts but one."""
    instance = example()
    found = skeletons(instance, (7, 3, 2), Fraction(1, 14), 6, Budget(PLENTY))
    assert found is not None
    every = {layout.counts for layout in maximal_layouts(instance, grid(), Budget(PLENTY))}
    (other,) = every - {layout.counts for layout in found.layouts}
    assert "can waste 6 - 83/14 = 1/14, and of the" in PAGE
    told = (
        f"of the {len(every)} maximal layouts {len(found.layouts)} waste no more: all but {other}."
    )
    assert told in PAGE


def test_the_plan_is_on_the_page() -> None:
    """Six sheets, proved by piece values; their layouts are those given."""
    found = packed(example())
    assert (found.cost, found.lower, found.by_exhaustion) == (6, 6, False)
    words = {1: "one ", 2: "two of ", 3: "three of "}
    told = [f"{words[copies]}{layout.counts}" for layout, copies in found.choice.copies.items()]
    plan = f"{', '.join(told[:-1])}, and {told[-1]}"
    assert f"The {found.cost} sheets of the example come out as {plan}." in PAGE
    assert f"up to 30: {effort(example())} for the example" in PAGE


def test_fills_save_the_sheet() -> None:
    """Seven sheets become six by the fills alone, and the bound meets them."""
    met: list[tuple[int | None, int, str]] = []
    budget = Budget(effort(example()), report=lambda *told: met.append(told))
    pack(example(), budget)
    assert met[0] == (7, 5, "first plan")
    assert met[-1] == (6, 6, "whole plans")
    assert "Such fills bring the example from 7 to 6 sheets, and the bound says" in PAGE


def test_the_limits_of_the_tool_are_on_the_page() -> None:
    """A longest cut of 36 is in the bound, and so is a narrowest strip of 3."""
    found = packed(replace(example(), longest_cut=36))
    assert found.proved
    assert f"With a longest cut of 36 the example needs {found.cost} sheets, and that" in PAGE
    found = packed(replace(example(), narrowest_strip=3))
    assert found.proved
    assert f"With a narrowest strip of 3 the example needs {found.cost} sheets, and that" in PAGE


def test_the_limited_sheet_is_on_the_page() -> None:
    """The best layout with few copies stands there, proved, and its bound without work."""
    one, instance = grid(), example()
    cell = one.root(instance.sources[0], instance)
    proved = best_limited(one, cell, AREAS, (1, 2, 2), PLENTY)
    assert proved.proved
    assert f"is {proved.counts}, worth {proved.value}, and that is proved." in PAGE
    hasty = best_limited(one, cell, AREAS, (1, 2, 2), 0)
    assert hasty.counts == proved.counts
    assert f"an upper bound of {hasty.upper}." in PAGE


def test_the_values_within_the_order_are_on_the_page() -> None:
    """For two, three and one, values of unlimited copies say less than those of few copies."""
    instance = example()
    wanted = (2, 3, 1)
    pieces = tuple(
        replace(piece, demand=n) for piece, n in zip(instance.pieces, wanted, strict=True)
    )
    one, worths = grid(), (7, 3, 2)
    cell = one.root(instance.sources[0], instance)
    best = int(best_values(one, worths)[cell])
    most = Fraction(sum(v * n for v, n in zip(worths, wanted, strict=True)), best)
    assert f"values of unlimited copies would add up to {most} sheets." in PAGE
    few = replace(instance, pieces=pieces)
    halves = (2, 1, 1)
    listed = maximal_layouts(few, one, Budget(9.0))
    assert max(sum(v * n for v, n in zip(halves, x.counts, strict=True)) for x in listed) == 4
    assert sum(v * n for v, n in zip(halves, wanted, strict=True)) == 2 * 4
    assert "With 1/2, 1/4 and 1/4 no layout within that order is worth more than a sheet" in PAGE


def test_the_rule_for_numbers_of_sheets_is_on_the_page() -> None:
    """With a second sheet the master's bound is too low, and one rule of values raises it."""
    sheets = (SourceType(32, 40, 20, None), SourceType(20, 32, 13, None))
    instance = replace(example(), sources=sheets)
    found = packed(instance)
    assert found.proved
    assert found.choice.used(instance) == (6, 0)
    assert f"the plan with {found.cost} is proved." in PAGE
    assert found.rules == ()
    values = found.proof.values
    assert f"{values[0]} for A, {values[1]} for B and {values[2]} for C.\nNo large" in PAGE
    whole = [int(value * 4) for value in values]
    shapes = [
        Shape(*sides, worth)
        for piece, worth in zip(instance.pieces, whole, strict=True)
        for sides in piece.orientations()
    ]
    large, small = (Fraction(best_value(shapes, *size), 4) for size in ((32, 40), (20, 32)))
    assert f"No large sheet holds more than {large} and no small one more than {small}," in PAGE
    worth = sum(v * d for v, d in zip(values, instance.demands, strict=True))
    assert f"all pieces are worth {worth}; four and three hold {4 * large + 3 * small}." in PAGE
    exact = exact_grid(instance)
    assert exact is not None
    columns = ColumnGeneration(instance, exact, Budget(9.0), area_values(instance), 20)
    filled = fill(instance, exact, starting_values(instance, 1.02), Budget(9.0))
    assert filled is not None
    columns.add(filled.copies)
    while not columns.done:
        columns.step()
    assert columns.state is not None
    assert f"The master costs {columns.state.objective * 20:.2f}," in PAGE
    assert f"the next total of prices is {columns.lower(120)}:" in PAGE


def test_every_module_of_the_packer_is_named() -> None:
    """No module is left out, and every name in code type that looks like one is one."""
    named = set(re.findall(r"`(\w+)\.py`", PAGE))
    assert named == MODULES
    assert all(
        (ROOT / "nesting" / path).is_file()
        for path in re.findall(r"`(\w+/\w+\.py)`", PAGE)
        if not path.startswith("tests/")
    )


def test_every_function_named_is_there() -> None:
    """What stands on the page in code type, and looks like a name of Python, is in the code."""
    source = "\n".join(
        path.read_text(encoding="utf-8")
        for room in ("packer", "problem", "plan", "audit")
        for path in sorted((ROOT / "nesting" / room).glob("*.py"))
    )
    names = set(re.findall(r"`([A-Za-z_][\w.]*)(?:\(.*?\))?`", PAGE))
    parts = {
        part for name in names if not name.endswith((".py", ".json")) for part in name.split(".")
    }
    assert len(parts) > 50
    assert {part for part in parts if not re.search(rf"\b{part}\b", source)} == set()
