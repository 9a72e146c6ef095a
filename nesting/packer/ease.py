"""Rung three, as far as layouts decide it: fewer different ones, at the cost and worth reached.

What the stop is set to depends on the order of cuts, which is found later; but each layout that a
plan does without is a page less to cut from, and its settings with it. After Foerster and Wäscher
(2000), Pattern reduction in one-dimensional cutting stock problems (from memory), as a choice
over every layout met: as few as will do, then as few pieces too many.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from .choice import does, most_copies, require, rounded
from .layouts import used_area
from .remains import Remains, slimmed
from .running import Stopped, run_program

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..problem.instance import Instance
    from .choice import Choice
    from .layouts import Layout
    from .running import Budget

__all__ = ["easiest"]

FEWEST_LAYOUTS = 4
MOST_POOL = 100
WORTH_STEPS = 10_000


def easiest(remains: Remains, plan: Choice, pool: Iterable[Layout], budget: Budget) -> Choice:
    """Return a plan of the same cost, worth as many twentieths, of fewer layouts if found.

    Parameters
    ----------
    remains
        Of neat layouts.
    pool
        Layouts that the tool can cut.
    budget
        Spent on one search by CP-SAT; a wish to stop leaves the plan as it was.
    """
    if len(plan.copies) < FEWEST_LAYOUTS or budget.spent:
        return plan
    instance = remains.instance
    layouts = _densest(instance, plan, pool)
    if len(layouts) == len(plan.copies):
        return plan
    try:
        found = _fewest(plan, layouts, Remains(instance, tidy=False), budget)
    except Stopped:
        return plan
    if found is None:
        return plan
    slim = slimmed(instance, found)
    fewer = len(slim.copies) < len(plan.copies)
    if not fewer or remains.twentieths(slim) < remains.twentieths(plan):
        return plan
    return remains.tidied_plan(slim)


def _densest(instance: Instance, plan: Choice, pool: Iterable[Layout]) -> list[Layout]:
    """Return the plan's layouts and the fullest of the others."""
    others = [layout for layout in pool if layout not in plan.copies]
    others.sort(key=lambda layout: -_fullness(instance, layout))
    return [*plan.copies, *others[:MOST_POOL]]


def _fullness(instance: Instance, layout: Layout) -> float:
    source = instance.sources[layout.source]
    return used_area(instance, layout) / (source.width * source.height)


def _fewest(
    plan: Choice, layouts: Sequence[Layout], remains: Remains, budget: Budget
) -> Choice | None:
    """Return a choice of fewer layouts that costs no more and leaves as many twentieths, or None.

    The fewest, if there is time. The search is short: making the model simpler first, or starting
    from the plan, which has too many, is time that does better in the search.
    """
    from ortools.linear_solver import pywraplp

    instance = remains.instance
    program = pywraplp.Solver.CreateSolver("SAT")
    most = [most_copies(instance, layout) for layout in layouts]
    copies = [program.IntVar(0, number, "") for number in most]
    used = [program.BoolVar("") for _ in layouts]
    for number, limit, one in zip(copies, most, used, strict=True):
        program.Add(number <= limit * one)
        program.Add(number >= one)
    program.Add(sum(used) <= len(plan.copies) - 1)
    require(program, instance, layouts, copies, plan.cost(instance))
    worths = [round(remains.gain(layout) * WORTH_STEPS) for layout in layouts]
    least = sum(worth * plan.copies.get(one, 0) for one, worth in zip(layouts, worths, strict=True))
    least -= math.floor(remains.spare(plan) * WORTH_STEPS)
    program.Add(sum(w * n for w, n in zip(worths, copies, strict=True)) >= least)
    pieces = [sum(layout.counts) for layout in layouts]
    made = sum(p * n for p, n in zip(pieces, copies, strict=True))
    # A piece too many is taken out of one copy, which then is a layout of its own.
    program.Minimize((1 + max(pieces) * sum(instance.demands)) * sum(used) + made)
    if run_program(program, budget) not in (program.OPTIMAL, program.FEASIBLE):
        return None
    found = rounded(layouts, copies)
    return found if does(instance, found, plan.cost(instance)) else None
