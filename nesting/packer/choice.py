"""Which layouts to cut and how many of each: whole numbers, by CP-SAT over the pool.

Set covering over every layout met, after Monaci and Toth (2006), A set-covering-based heuristic
approach for bin-packing problems.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .running import run_model, run_program

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from ortools.linear_solver import pywraplp
    from ortools.sat.python import cp_model

    from ..problem.instance import Instance
    from .layouts import Layout
    from .mixes import Rule
    from .running import Budget

__all__ = [
    "Choice",
    "affordable",
    "choice_within",
    "choose",
    "does",
    "most_copies",
    "require",
    "rounded",
]

RULE_BITS = 16


@dataclass(frozen=True, slots=True)
class Choice:
    """How many copies of each layout; layouts not cut are left out."""

    copies: Mapping[Layout, int]

    @classmethod
    def of(cls, sheets: Iterable[Layout]) -> Choice:
        """Return the choice of one copy for each time that a layout is named."""
        return cls(Counter(sheets))

    @property
    def sheets(self) -> list[Layout]:
        """Return the layout of every sheet, copies named as often as they are cut."""
        return self.few_sheets(max(self.copies.values(), default=0))

    def few_sheets(self, most: int) -> list[Layout]:
        """Return the layout of every sheet, but at most so many copies of each."""
        return [one for one, copies in self.copies.items() for _ in range(min(copies, most))]

    def and_sheets(self, sheets: Iterable[Layout]) -> Choice:
        """Return the choice with one more copy for each time that a layout is named."""
        return Choice(Counter(self.copies) + Counter(sheets))

    def less_sheets(self, sheets: Iterable[Layout]) -> Choice:
        """Return the choice with one copy less for each time that a layout is named."""
        return Choice(Counter(self.copies) - Counter(sheets))

    def cost(self, instance: Instance) -> int:
        """Return what the sources cost."""
        return sum(instance.sources[one.source].cost * n for one, n in self.copies.items())

    def used(self, instance: Instance) -> tuple[int, ...]:
        """Return how many of each source are used."""
        used = [0] * len(instance.sources)
        for layout, copies in self.copies.items():
            used[layout.source] += copies
        return tuple(used)


def choose(
    instance: Instance,
    pool: Sequence[Layout],
    incumbent: Choice,
    lower: int,
    budget: Budget,
    effort: float,
    rules: Sequence[Rule] = (),
) -> tuple[Choice, int]:
    """Return the cheapest choice found over `pool`, at worst the incumbent, and its bound.

    The bound holds over the layouts of `pool` alone.

    Parameters
    ----------
    lower
        A cost below which no choice can lie.
    effort
        In CP-SAT's deterministic seconds.
    rules
        That numbers of sheets are known to keep; they spare CP-SAT finding out.
    """
    grain = _grain(instance)
    best = incumbent.cost(instance)
    if best <= lower:
        return incumbent, lower
    from ortools.sat.python import cp_model  # slow to load, and most jobs never come here

    model = cp_model.CpModel()
    copies = _covering(model, instance, pool)
    cost = _cost(instance, pool, copies, grain)
    for rule in rules:
        _keep(model, rule, pool, copies)
    model.add(cost >= lower // grain)
    model.add(cost <= best // grain - 1)
    model.minimize(cost)
    solver, status = run_model(model, budget, effort)
    if status == cp_model.INFEASIBLE:
        return incumbent, best
    bound = max(lower, round(solver.best_objective_bound) * grain)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return incumbent, bound
    return _read(solver, pool, copies), bound


def affordable(
    instance: Instance, pool: Sequence[Layout], most: int, budget: Budget
) -> Choice | None:
    """Return a choice over `pool` that costs no more than `most`, if one is found.

    None is no proof that there is none. Where few layouts are to choose from and one does, this
    spares the job loading CP-SAT's own front, which takes longer than packing.

    Parameters
    ----------
    budget
        All of it counts as spent.

    Raises
    ------
    Stopped
        If someone asked to end.
    """
    from ortools.linear_solver import pywraplp

    program = pywraplp.Solver.CreateSolver("SAT")
    copies = [program.IntVar(0, most_copies(instance, layout), "") for layout in pool]
    require(program, instance, pool, copies, most)
    if run_program(program, budget) not in (program.OPTIMAL, program.FEASIBLE):
        return None
    found = rounded(pool, copies)
    return found if does(instance, found, most) else None


def require(
    program: pywraplp.Solver,
    instance: Instance,
    pool: Sequence[Layout],
    copies: Sequence[pywraplp.Variable],
    most: int,
) -> None:
    """Demand of an integer program that copies make every piece wanted and cost at most `most`."""
    for demand in _demands(instance, pool, copies):
        program.Add(demand)
    costs = [instance.sources[layout.source].cost for layout in pool]
    program.Add(sum(cost * n for cost, n in zip(costs, copies, strict=True)) <= most)


def rounded(pool: Sequence[Layout], copies: Sequence[pywraplp.Variable]) -> Choice:
    """Return the choice that the variables of an integer program came to, to be checked."""
    counts = {layout: round(n.solution_value()) for layout, n in zip(pool, copies, strict=True)}
    return Choice({layout: number for layout, number in counts.items() if number})


def does(instance: Instance, found: Choice, most: int) -> bool:
    """Whether a choice makes every piece wanted, of what there is, and costs at most `most`."""
    made = [0] * len(instance.demands)
    for layout, copies in found.copies.items():
        for piece, count in enumerate(layout.counts):
            made[piece] += count * copies
    used = zip(found.used(instance), instance.sources, strict=True)
    return (
        all(there >= wanted for there, wanted in zip(made, instance.demands, strict=True))
        and all(one.available is None or number <= one.available for number, one in used)
        and found.cost(instance) <= most
    )


def choice_within(
    instance: Instance, pool: Sequence[Layout], most: int, budget: Budget, effort: float
) -> tuple[Choice | None, bool]:
    """Return a choice over `pool` that costs no more than `most`, and whether there is surely none.

    Parameters
    ----------
    effort
        In CP-SAT's deterministic seconds; neither may come of it.
    """
    from ortools.sat.python import cp_model  # slow to load, and most jobs never come here

    model = cp_model.CpModel()
    copies = _covering(model, instance, pool)
    grain = _grain(instance)
    model.add(_cost(instance, pool, copies, grain) <= most // grain)
    solver, status = run_model(model, budget, effort)
    if status == cp_model.INFEASIBLE:
        return None, True
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, False
    return _read(solver, pool, copies), False


def _grain(instance: Instance) -> int:
    return math.gcd(*(source.cost for source in instance.sources)) or 1


def _covering(
    model: cp_model.CpModel, instance: Instance, pool: Sequence[Layout]
) -> list[cp_model.IntVar]:
    """Return how many copies of each layout, which make every piece wanted."""
    copies = [model.new_int_var(0, most_copies(instance, layout), "") for layout in pool]
    for demand in _demands(instance, pool, copies):
        model.add(demand)
    return copies


def _cost(
    instance: Instance, pool: Sequence[Layout], copies: Sequence[cp_model.IntVar], grain: int
) -> cp_model.LinearExprT:
    """Return what the copies cost, in grains."""
    return sum(
        instance.sources[layout.source].cost // grain * n
        for layout, n in zip(pool, copies, strict=True)
    )


def _read(
    solver: cp_model.CpSolver, pool: Sequence[Layout], copies: Sequence[cp_model.IntVar]
) -> Choice:
    counts = {layout: solver.value(n) for layout, n in zip(pool, copies, strict=True)}
    return Choice({layout: n for layout, n in counts.items() if n})


def _keep(
    model: cp_model.CpModel, rule: Rule, pool: Sequence[Layout], copies: Sequence[cp_model.IntVar]
) -> None:
    """Demand that the numbers of sheets keep a rule, in numbers of few bits."""
    coarse = max(0, max(rule.best).bit_length() - RULE_BITS)
    best = [-(-worth >> coarse) for worth in rule.best]
    held = sum(best[layout.source] * n for layout, n in zip(pool, copies, strict=True))
    model.add(held >= rule.wanted >> coarse)


def most_copies(instance: Instance, layout: Layout) -> int:
    """Return how many copies of a layout could be of use, and are to be had."""
    most = max(
        -(-demand // count)
        for demand, count in zip(instance.demands, layout.counts, strict=True)
        if count
    )
    available = instance.sources[layout.source].available
    return most if available is None else min(most, available)


def _demands(instance: Instance, pool: Sequence[Layout], copies: Sequence[Any]) -> Iterator[Any]:
    """Yield what copies keep that make every piece wanted, of the sources that there are.

    Parameters
    ----------
    copies
        How many of each layout: variables of CP-SAT or of an integer program.
    """
    pairs = [*zip(pool, copies, strict=True)]
    for piece, demand in enumerate(instance.demands):
        yield sum(one.counts[piece] * n for one, n in pairs if one.counts[piece]) >= demand
    for number, source in enumerate(instance.sources):
        of_it = [n for one, n in pairs if one.source == number]
        if source.available is not None and of_it:
            yield sum(of_it) <= source.available
