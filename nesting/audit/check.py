"""The audit of a whole plan: every board, every rule, every finding at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from ..order import PieceKind
from ..plan.files import read_plan
from ..plan.model import BoardPlan, Plan
from .bound import Bound, check_bound, find_bound
from .case import Case, Scale
from .counting import board_facts
from .cutting import check_cutting
from .facts import AuditedPlan
from .findings import Finding, refuse_if_any
from .geometry import check_geometry
from .limits import check_limits
from .pieces import check_pieces
from .replay import check_replay, replay
from .rungs import check_rungs
from .sizes import check_sizes
from .totals import check_totals

__all__ = ["audit_plan", "case_of", "find_faults", "verify_plan"]

# The table of contents of the audit: every rule stands in one of these, and the bound after them.
CHECKS = (
    check_replay,
    check_limits,
    check_pieces,
    check_geometry,
    check_totals,
    check_cutting,
    check_sizes,
    check_rungs,
)


def verify_plan(path: Path | str) -> AuditedPlan:
    """Return the plan in the file at `path` once the audit has passed it, from the file alone.

    Raises
    ------
    InputError
        If the file is no plan.json of version 1.
    AuditError
        If the plan is wrong, with every finding.
    """
    return audit_plan(read_plan(path))


def audit_plan(plan: Plan) -> AuditedPlan:
    """Return `plan` with what was counted on the way, once nothing is found wrong with it.

    Every cut of every layout is made again in order on the whole source, every sum is done again,
    and the lower bound is found again from the certificate.

    Raises
    ------
    AuditError
        If the plan is wrong, with every finding.
    """
    cases, bounds, findings = _examine(plan)
    refuse_if_any(findings)
    facts = tuple(board_facts(*pair) for pair in zip(cases, bounds, strict=True))
    return AuditedPlan(plan, facts)


def find_faults(plan: Plan) -> tuple[Finding, ...]:
    """Return everything that the audit has against `plan`; empty for a good one."""
    return _examine(plan)[2]


def _examine(plan: Plan) -> tuple[tuple[Case, ...], tuple[Bound, ...], tuple[Finding, ...]]:
    findings = list(_whole_plan(plan))
    if plan.step.mm <= 0:
        return (), (), tuple(findings)  # no length can be shown, so nothing can be said of the rest
    cases = tuple(case_of(board, plan) for board in plan.boards)
    bounds = tuple(find_bound(case) for case in cases)
    for case, bound in zip(cases, bounds, strict=True):
        for check in CHECKS:
            findings.extend(check(case))
        findings.extend(check_bound(case, bound))
    return cases, bounds, tuple(findings)


def _whole_plan(plan: Plan) -> Iterator[Finding]:
    if plan.step.mm <= 0:
        yield Finding("step-not-positive", "The plan's step is no length.")
    for name, times in Counter(board.board for board in plan.boards).items():
        if times > 1:
            yield Finding("board-twice", f"Board {name!r} stands in the plan {times} times.")


def case_of(board: BoardPlan, plan: Plan) -> Case:
    """Return one board of `plan` with every cut of its layouts made again."""
    kerf = board.tool.kerf
    replays = tuple(replay(layout, kerf) for layout in board.layouts)
    return Case(board, Scale(plan.step, plan.unit, _longest_mat(plan)), replays, plan.rule)


def _longest_mat(plan: Plan) -> int | None:
    return max(
        (
            max(piece.width, piece.height)
            for board in plan.boards
            for piece in board.ordered
            if piece.kind is PieceKind.MAT
        ),
        default=None,
    )
