"""Budgets, progress and interruption: how long the packer may work, and who is told.

Work is counted, not timed: splits compared by the recursion and CP-SAT's own deterministic time,
so that the same input ends at the same point on any machine. A person's wish to stop is asked for
between steps and, while CP-SAT runs, twenty times a second.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    from ortools.linear_solver import pywraplp
    from ortools.sat.python import cp_model

__all__ = [
    "SPLITS_A_SECOND",
    "Budget",
    "Stopped",
    "hold_memory",
    "run_model",
    "run_program",
    "splits_as_seconds",
]

POLL_SECONDS = 0.05
SPLITS_A_SECOND = 9e8
CP_SAT_WEIGHT = 2.0
T = TypeVar("T")
# More than any array of a front, and less than the 32 MiB that glibc's limit stays below.
HELD_BYTES = 31 << 20


def hold_memory() -> None:
    """Let the process keep the memory of arrays that it is done with, for the next ones.

    The allocator gives back at once what was larger than the largest block freed so far, with
    glibc; the system then clears each new array page by page, and on some boards that takes longer
    than all sums. A block freed that nobody wrote to moves the limit. Elsewhere it does nothing.
    """
    np.empty(HELD_BYTES, dtype=np.uint8)


def splits_as_seconds(splits: float) -> float:
    """Return the deterministic seconds that comparing `splits` splits counts as."""
    return splits / SPLITS_A_SECOND


class Stopped(Exception):
    """Someone asked the packer to end; what it has found so far stands."""


@dataclass(slots=True)
class Budget:
    """What may still be spent on one board.

    Attributes
    ----------
    seconds
        Deterministic seconds left: splits compared at a nominal rate, and CP-SAT's own count.
    stop
        Whether to end now, with what has been found.
    abort
        Whether to end even before a first plan.
    report
        Told the best cost so far, the bound and what is being tried.
    """

    seconds: float
    stop: Callable[[], bool] = field(default=lambda: False)
    abort: Callable[[], bool] = field(default=lambda: False)
    report: Callable[[int | None, int, str], None] = field(default=lambda *_: None)

    def spend(self, splits: float) -> None:
        """Take off the work of comparing `splits` splits.

        Raises
        ------
        Stopped
            If someone asked to end.
        """
        self.seconds -= splits_as_seconds(splits)
        self.check()

    def check(self) -> None:
        """Raise `Stopped` if someone asked to end."""
        if self.stop():
            raise Stopped

    @contextmanager
    def lent(self, seconds: float) -> Iterator[Budget]:
        """Lend a budget of at most `seconds`; what is spent of it is taken off here at the end."""
        share = Budget(min(seconds, self.seconds), self.stop, self.abort, self.report)
        before = share.seconds
        try:
            yield share
        finally:
            self.seconds -= before - share.seconds

    def for_first_plan(self) -> Budget:
        """Return a budget without end, which only an abort cuts short."""
        return Budget(math.inf, self.abort, self.abort)

    @property
    def spent(self) -> bool:
        """Whether nothing is left."""
        return self.seconds <= 0


def run_model(
    model: cp_model.CpModel, budget: Budget, effort: float
) -> tuple[cp_model.CpSolver, Any]:
    """Solve with one worker within `effort` deterministic seconds; return solver and status.

    Raises
    ------
    Stopped
        If someone asked to end; whatever CP-SAT had is dropped.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = max(0.01, min(effort, budget.seconds))
    solver.parameters.catch_sigint_signal = False
    status = _watched(lambda: solver.solve(model), solver.stop_search, budget)
    budget.seconds -= CP_SAT_WEIGHT * solver.response_proto.deterministic_time
    return solver, status


def run_program(program: pywraplp.Solver, budget: Budget) -> int:
    """Solve an integer program by CP-SAT, with one worker and without presolve; return the status.

    The linear solver's front is loaded anyhow, CP-SAT's own brings pandas with it. What is spent is
    not told, so that all of the budget counts as spent. What comes back went through floating
    point, and is to be checked.

    Raises
    ------
    Stopped
        If someone asked to end; whatever CP-SAT had is dropped.
    """
    effort = max(0.01, budget.seconds)
    program.SetSolverSpecificParametersAsString(
        f"num_workers:1 random_seed:1 max_deterministic_time:{effort} "
        "catch_sigint_signal:false cp_model_presolve:false"
    )
    status: int = _watched(program.Solve, program.InterruptSolve, budget)
    budget.seconds = min(0.0, budget.seconds)
    return status


def _watched(solve: Callable[[], T], interrupt: Callable[[], object], budget: Budget) -> T:
    """Return what `solve` does; it is interrupted when someone asks to end."""
    outcome: list[T] = []
    runner = threading.Thread(target=lambda: outcome.append(solve()), daemon=True)
    runner.start()
    while runner.is_alive():
        runner.join(POLL_SECONDS)
        if budget.stop():
            interrupt()
            runner.join()
            raise Stopped
    return outcome[0]
