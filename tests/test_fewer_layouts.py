"""Fewer different layouts: as few as there can be, by trial of every choice; stopped at once."""

from __future__ import annotations

import random
import time
from collections import Counter
from dataclasses import replace
from itertools import combinations, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from ortools.linear_solver import pywraplp

from kerfwright.packer.choice import Choice, most_copies
from kerfwright.packer.ease import easiest
from kerfwright.packer.layouts import Layout, Place, Split, Tree, counts_of
from kerfwright.packer.remains import Remains
from kerfwright.packer.running import Budget, Stopped, run_program
from kerfwright.problem.instance import Instance, PieceType, SourceType

LONG = 12


def strip(*pieces: int) -> Layout:
    """Return a strip cut into pieces, the number of each type being its length less three."""
    tree: Tree = None
    for piece in reversed(pieces):
        whole = Place(piece, turned=False)
        tree = whole if tree is None else Split(0, 3 + piece, whole, tree)
    return Layout(0, counts_of(tree, 3), tree)


def of_strips(demands: tuple[int, ...], available: int | None = None) -> Instance:
    """Return an order of pieces 3, 4 and 5 long, from strips as high as they are."""
    types = tuple(PieceType(3 + n, 1, demand, may_turn=False) for n, demand in enumerate(demands))
    # No leftover is worth keeping, so that none stands in the way of fewer layouts.
    return Instance(types, (SourceType(LONG, 1, LONG, available),), keep=(LONG + 1, LONG + 1))


FULL = [
    strip(*pieces)
    for count in (2, 3, 4)
    for pieces in combinations([0, 0, 0, 0, 1, 1, 1, 2, 2], count)
    if sum(3 + piece for piece in pieces) <= LONG
]
POOL = list({layout.counts: layout for layout in FULL}.values())


def made_by(choice: Choice) -> tuple[int, ...]:
    """Return how many of each piece a choice makes."""
    return tuple(sum(one.counts[n] * k for one, k in choice.copies.items()) for n in range(3))


def covers(instance: Instance, choice: Choice) -> bool:
    """Return whether a choice makes all that is wanted."""
    pairs = zip(made_by(choice), instance.demands, strict=True)
    return all(there >= wanted for there, wanted in pairs)


def fewest(instance: Instance, sheets: int, below: int, *, exactly: bool) -> int:
    """Return of how few layouts so many strips can do, by trial; `below` if not of fewer."""
    for count in range(1, below):
        for layouts in combinations(POOL, count):
            most = [range(1, most_copies(instance, one) + 1) for one in layouts]
            for copies in product(*most):
                choice = Choice(dict(zip(layouts, copies, strict=True)))
                does = covers(instance, choice)
                if exactly:
                    does = made_by(choice) == instance.demands
                if does and sum(copies) <= sheets:
                    return count
    return below


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(POOL), min_size=4, max_size=6, unique_by=lambda one: one.counts))
def test_no_choice_of_fewer_layouts_does(sheets: list[Layout]) -> None:
    """Each of several layouts is cut once: the plan found is of as few as trial of all finds.

    A piece too many is taken out of one copy, which then is a layout of its own: where so few do
    only with pieces over, the plan may have more.
    """
    made = Counter[int]()
    for layout in sheets:
        made.update(dict(enumerate(layout.counts)))
    instance = of_strips(tuple(max(1, made[n]) for n in range(3)))
    plan = Choice.of(sheets)
    assume(covers(instance, plan))
    found = easiest(Remains(instance), plan, POOL, Budget(10.0))
    assert covers(instance, found)
    assert found.cost(instance) <= plan.cost(instance)
    number = len(sheets)
    least = fewest(instance, number, number, exactly=False)
    assert least <= len(found.copies) <= number
    if fewest(instance, number, number, exactly=True) == least:
        assert len(found.copies) == least


@pytest.mark.parametrize(("available", "layouts"), [(None, 2), (2, 3)])
def test_no_more_are_taken_of_a_limited_source_than_there_are(
    available: int | None, layouts: int
) -> None:
    """Twice 3, 3, 5 and twice 4, 4, 3 are all; with two such strips it takes three layouts.

    Those are twice 4, 4, 3, four of 3, and two of 5. The plan in hand is of another source that
    costs as much: four strips, all different.
    """
    whole = of_strips((6, 4, 2))
    (other,) = whole.sources
    instance = replace(whole, sources=(replace(other, available=available), other))
    sheets = [strip(0, 0, 0, 0), strip(0, 0, 1), strip(1, 1, 1), strip(2, 2)]
    plan = Choice.of(replace(one, source=1) for one in sheets)
    found = easiest(Remains(instance), plan, [strip(0, 0, 2), strip(1, 1, 0)], Budget(10.0))
    assert covers(instance, found)
    assert len(found.copies) == layouts
    assert available is None or found.used(instance)[0] <= available


def test_a_wish_to_end_is_heard_while_a_program_is_solved() -> None:
    """A program that takes CP-SAT long ends within a second."""
    chance = random.Random(1)  # noqa: S311  repeatable
    program = pywraplp.Solver.CreateSolver("SAT")
    numbers = [program.IntVar(0, 5, "") for _ in range(60)]
    for _ in range(40):
        drawn = [one for one in numbers if chance.random() < 0.5]
        program.Add(sum(chance.randint(1, 50) * one for one in drawn) >= 500)
    program.Minimize(sum(chance.randint(40, 60) * one for one in numbers))
    begun = time.monotonic()
    budget = Budget(1e6, stop=lambda: time.monotonic() > begun + 0.2)
    with pytest.raises(Stopped):
        run_program(program, budget)
    assert time.monotonic() < begun + 1.2
