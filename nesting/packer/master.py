"""The linear master: layouts by column generation, and the bound that comes with it.

Gilmore and Gomory (1961, 1963), A linear programming approach to the cutting stock problem, parts
I and II; (1965), Multistage cutting stock problems of two and more dimensions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ortools.linear_solver import pywraplp

if TYPE_CHECKING:
    from ..problem.instance import Instance
    from .layouts import Layout

__all__ = ["Master", "MasterState", "NoOptimum"]

# The linear solver, and the one for masters that it fails on.
FIRST, LAST = "GLOP", "CLP"


class NoOptimum(Exception):
    """The linear solver found no optimum, although there is one."""


@dataclass(frozen=True, slots=True)
class MasterState:
    """An optimum of the master over the layouts so far, in floating point.

    Attributes
    ----------
    objective
        In units of `Master.whole`.
    duals
        Of the piece rows; not negative.
    source_duals
        Of the limited sources; not positive, zero for unlimited ones.
    usage
        Of each layout, in the order of adding.
    """

    objective: float
    duals: tuple[float, ...]
    source_duals: tuple[float, ...]
    usage: tuple[float, ...]


class Master:
    """Minimise the cost of layouts that cover all demands; costs are shares of `whole`."""

    def __init__(self, instance: Instance, whole: int, solver: str = FIRST) -> None:
        self._kind = solver
        self._instance = instance
        self._whole = whole
        self._solver = pywraplp.Solver.CreateSolver(solver)
        infinity = self._solver.infinity()
        self._rows = [self._solver.Constraint(float(d), infinity) for d in instance.demands]
        self._limits = [
            None
            if source.available is None
            else self._solver.Constraint(-infinity, source.available)
            for source in instance.sources
        ]
        self._goal = self._solver.Objective()
        self._goal.SetMinimization()
        self._columns: list[pywraplp.Variable] = []
        self.layouts: list[Layout] = []
        self._seen: set[tuple[int, tuple[int, ...]]] = set()

    def add(self, layout: Layout) -> bool:
        """Add a layout; return whether it is new."""
        key = (layout.source, layout.counts)
        if key in self._seen or not any(layout.counts):
            return False
        self._seen.add(key)
        column = self._solver.NumVar(0.0, self._solver.infinity(), "")
        self._goal.SetCoefficient(column, self._instance.sources[layout.source].cost / self._whole)
        for row, count in zip(self._rows, layout.counts, strict=True):
            if count:
                row.SetCoefficient(column, count)
        limit = self._limits[layout.source]
        if limit is not None:
            limit.SetCoefficient(column, 1.0)
        self._columns.append(column)
        self.layouts.append(layout)
        return True

    def solve(self) -> MasterState:
        """Return an optimum over the layouts so far; they must cover all demands.

        Raises
        ------
        NoOptimum
            If floating point fails every solver; each begins afresh after the first.
        """
        if self._solver.Solve() == pywraplp.Solver.OPTIMAL:
            return self._state()
        ways = pywraplp.MPSolverParameters()
        ways.SetIntegerParam(ways.INCREMENTALITY, ways.INCREMENTALITY_OFF)
        ways.SetIntegerParam(ways.LP_ALGORITHM, ways.DUAL)
        if self._solver.Solve(ways) == pywraplp.Solver.OPTIMAL:
            return self._state()
        if self._kind == LAST:
            raise NoOptimum
        other = Master(self._instance, self._whole, LAST)
        for layout in self.layouts:
            other.add(layout)
        return other.solve()

    def _state(self) -> MasterState:
        return MasterState(
            self._goal.Value(),
            tuple(max(0.0, row.dual_value()) for row in self._rows),
            tuple(0.0 if limit is None else min(0.0, limit.dual_value()) for limit in self._limits),
            tuple(column.solution_value() for column in self._columns),
        )
