"""From an order to a plan: each board planned by itself, then put together."""

from __future__ import annotations

import math
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from .errors import Interrupted
from .lengths import Length, Size
from .order import PieceKind, job_step, order_digest
from .plan.leftovers import KeepRule
from .plan.model import (
    BoardPlan,
    Certificate,
    CertificateKind,
    Cutting,
    Layout,
    NoPlan,
    Plan,
    SourceKind,
    Stop,
)
from .plan.rungs import rungs_of
from .problem.board import build_problem, misfits
from .watching import Progress, Silent

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from fractions import Fraction

    from .order import Order
    from .packer.solve import Packed
    from .plan.trees import DraftLayout
    from .problem.board import BoardProblem
    from .problem.instance import Instance
    from .watching import Watch

__all__ = ["Standing", "make_plan"]

REPORT_EVERY = 0.2
GRACE = 0.3  # seconds that the order of cuts may still take once planning is to end
DEEPEST_TREE = 60_000


@dataclass(frozen=True, slots=True)
class Standing:
    """Layouts that already make all that an order asks of some of its boards.

    Attributes
    ----------
    step
        What their coordinates count; every length of the order is a whole number of them.
    layouts
        By the board's name; the sources are as the order has them.
    first
        The number of the plan's first layout: one that no earlier plan of the job has given.
    """

    step: Length
    layouts: Mapping[str, tuple[DraftLayout, ...]]
    first: int = 1


def make_plan(
    order: Order, watch: Watch | None = None, *, standing: Standing | None = None
) -> Plan | NoPlan:
    """Return the best plan found for an order, or why none exists.

    Parameters
    ----------
    order
        What to cut, and from what.
    watch
        Told how it goes, and asked whether to end; by default nobody.
    standing
        Layouts that are kept, board by board, unless cheaper ones are found. The bound is the
        same either way, and so is what is proved.

    Raises
    ------
    Interrupted
        If `watch` asked to end before any plan was found.
    """
    with _deep_trees():
        step = job_step(order)  # refused here if it is too fine
        if standing is None:
            return _planned(_Run(order, watch or Silent(), step))
        run = _Run(order, watch or Silent(), standing.step, standing.layouts, standing.first)
        return _planned(run)


@contextmanager
def _deep_trees() -> Iterator[None]:
    """Let trees of cuts be as deep as a strip has pieces."""
    before = sys.getrecursionlimit()
    sys.setrecursionlimit(max(before, DEEPEST_TREE))
    try:
        yield
    finally:
        sys.setrecursionlimit(before)


def _planned(run: _Run) -> Plan | NoPlan:
    order = run.order
    named = {piece.board for piece in order.pieces}
    problems = [
        build_problem(order, board, run.step) for board in order.boards if board.name in named
    ]
    reasons = tuple(reason for problem in problems for reason in misfits(order, problem))
    if reasons:
        return NoPlan(order.name, reasons)
    found = run.plan_boards(problems)
    failed = [one for one in found if isinstance(one, _Failed)]
    if failed:
        reasons = tuple(reason for one in failed for reason in one.reasons)
        return NoPlan(order.name, reasons, any(one.proved for one in failed))
    solved = [one for one in found if isinstance(one, _Solved)]
    return Plan(
        program=_program(),
        order=order.name,
        order_digest=order_digest(order),
        step=run.step,
        unit=order.unit,
        rule=order.rule,
        boards=tuple(run.assembled(solved)),
        notes=order.notes,
        stopped=run.stopped,
    )


def _program() -> str:
    from . import __version__

    return f"kerfwright {__version__}"


@dataclass(frozen=True, slots=True)
class _Solved:
    problem: BoardProblem
    packed: Packed
    standing: tuple[DraftLayout, ...] | None = None


@dataclass(frozen=True, slots=True)
class _Failed:
    """Why one board has no plan, and whether that is proved."""

    reasons: tuple[str, ...]
    proved: bool


@dataclass(slots=True)
class _Run:
    """One run of planning: who watches it, and whether it was cut short."""

    order: Order
    watch: Watch
    step: Length
    standing: Mapping[str, tuple[DraftLayout, ...]] = field(default_factory=dict)
    first: int = 1
    stopped: Stop = Stop.DONE
    planned: bool = False
    _struck: float | None = None
    _share_ends: float = math.inf

    def plan_boards(self, problems: Sequence[BoardProblem]) -> list[_Solved | _Failed]:
        """Plan each board; of what time there is, each has the share that its sizes call for."""
        from .packer.solve import effort

        efforts = [effort(problem.instance) for problem in problems]
        found = []
        for number, problem in enumerate(problems):
            left = self.watch.seconds_left()
            if left is not None:
                share = efforts[number] / sum(efforts[number:])
                self._share_ends = time.monotonic() + share * left
            found.append(self.plan_board(problem))
        return found

    def plan_board(self, problem: BoardProblem) -> _Solved | _Failed:
        """Return the packer's plan for one board, or why there is none."""
        from .packer.running import Budget, Stopped
        from .packer.solve import Stuck, effort, pack, surely_unreachable, unreachable

        culprits = unreachable(problem.instance)
        if culprits:
            sure = surely_unreachable(problem.instance)
            return _Failed(tuple(self._beyond_the_tool(problem, culprits, sure)), proved=sure)
        standing = self.standing.get(problem.board.name)
        seconds = effort(problem.instance)
        budget = Budget(seconds, self._stop, self._abort, self._reporter(problem))
        try:
            outcome = pack(problem.instance, budget)
        except Stopped:
            if standing is None:
                raise Interrupted("Stopped before any plan was found.") from None
            self._ended_early()
            return _as_it_stands(problem, standing)
        if isinstance(outcome, Stuck):
            if standing is not None:
                return _as_it_stands(problem, standing)
            return _Failed(tuple(self._stuck(problem, outcome.pieces)), proved=False)
        if outcome.stopped:
            self._ended_early()
        if any(outcome.short) and standing is None:
            return _Failed(tuple(self._too_short(problem, outcome)), outcome.surely_short)
        self.planned = True
        return self._cheaper(problem, outcome)

    def _ended_early(self) -> None:
        if self.stopped is Stop.DONE:
            over = Stop.SECONDS if time.monotonic() >= self._share_ends else Stop.INTERRUPTED
            self.stopped = self.watch.stop() or over

    def _cheaper(self, problem: BoardProblem, packed: Packed) -> _Solved:
        """Return the layouts that stand already, unless the packer's cost less."""
        standing = self.standing.get(problem.board.name)
        if standing is None:
            return _Solved(problem, packed)
        cost = _cost(problem, standing)
        if packed.cost < cost and not any(packed.short):
            return _Solved(problem, packed)
        return _Solved(problem, replace(packed, cost=cost, short=()), standing)

    def _stop(self) -> bool:
        return self.watch.stop() is not None or time.monotonic() >= self._share_ends

    def _stop_ordering(self) -> bool:
        """Return whether to take the order of cuts as it is: a moment after planning is to end."""
        why = self.watch.stop()
        if why is None:
            return False
        now = time.monotonic()
        if self._struck is None:
            self._struck = now
        if now - self._struck < GRACE:
            return False
        if self.stopped is Stop.DONE:
            self.stopped = why
        return True

    def _abort(self) -> bool:
        return not self.planned and self.watch.stop() is Stop.INTERRUPTED

    def _reporter(self, problem: BoardProblem) -> _Reporter:
        return _Reporter(self.watch, problem)

    def _beyond_the_tool(
        self, problem: BoardProblem, culprits: Sequence[int], sure: bool
    ) -> Iterator[str]:
        """Yield each piece that the tool cannot free, with the limits that are in its way."""
        unsure = " once the trim is off; with a smaller trim, or none, it may do"
        for number in culprits:
            limits = self._in_the_way(problem, number)
            for piece in self._named(problem, (number,)):
                yield (
                    f"{piece} cannot be cut from any sheet or offcut of {problem.board.name!r} "
                    f"with the tool {problem.board.tool.name!r} ({limits}){'' if sure else unsure}."
                )

    def _in_the_way(self, problem: BoardProblem, culprit: int) -> str:
        """Return the limits of the tool without one of which the piece could be cut, else all."""
        from .lengths import format_length
        from .packer.solve import unreachable

        tool, single = problem.board.tool, (problem.instance.pieces[culprit],)
        freed: dict[str, Instance] = {}
        if tool.longest_cut is not None:
            told = format_length(tool.longest_cut, self.order.unit, with_unit=True)
            freed[f"longest cut {told}"] = replace(
                problem.instance, pieces=single, longest_cut=None
            )
        if tool.narrowest_strip:
            told = format_length(tool.narrowest_strip, self.order.unit, with_unit=True)
            freed[f"narrowest strip {told}"] = replace(
                problem.instance, pieces=single, narrowest_strip=0
            )
        matter = [limit for limit, without in freed.items() if not unreachable(without)]
        return ", ".join(matter or freed)

    def _named(self, problem: BoardProblem, types: Sequence[int]) -> Iterator[str]:
        """Yield every line of the order that `types` stand for, with its size."""
        from .lengths import format_size

        pieces = {piece.label: piece for piece in self.order.pieces}
        for number in types:
            for line in problem.lines[number]:
                piece = pieces[problem.ordered[line].label]
                size = format_size(piece.size, self.order.unit, with_unit=True)
                yield f"{piece.kind} {piece.label!r} ({size})"

    def _stuck(self, problem: BoardProblem, culprits: Sequence[int]) -> Iterator[str]:
        for piece in self._named(problem, culprits):
            yield f"no way was found to cut {piece} from what there is of {problem.board.name!r}."

    def _too_short(self, problem: BoardProblem, packed: Packed) -> Iterator[str]:
        """Yield what is missing: sheets, or room on the offcuts."""
        from .lengths import format_size

        unsure = "" if packed.surely_short else "; whether it can be done without was not settled"
        for number, copies in enumerate(packed.short):
            if not copies:
                continue
            source = problem.stock[problem.items[number][0]].source
            size = Size(self.step * source.width, self.step * source.height)
            told = format_size(size, self.order.unit, with_unit=True)
            what = f"{source.kind}{'' if copies == 1 else 's'} of {told}"
            yield (
                f"{problem.board.name!r}: the stock is too short; with {copies} more {what} it "
                f"can be done{unsure}."
            )

    def assembled(self, solved: Sequence[_Solved]) -> Iterator[BoardPlan]:
        """Yield the boards' plans, layouts numbered through."""
        number = self.first
        for one in solved:
            plan = self._board_plan(one, number)
            number += len(plan.layouts)
            yield plan

    def _board_plan(self, solved: _Solved, number: int) -> BoardPlan:
        problem, packed = solved.problem, solved.packed
        layouts, cutting = self._ordered(solved, number)
        dearest = max(source.cost for source in problem.instance.sources)
        sheets = sum(one.copies for one in layouts if one.source.kind is SourceKind.SHEET)
        return BoardPlan(
            board=problem.board.name,
            no_turn=problem.board.no_turn,
            tool=problem.tool,
            trim=problem.trim,
            ordered=problem.ordered,
            stock=problem.stock,
            sheets=sheets,
            sheets_lower_bound=-(-packed.lower // dearest) if dearest else 0,
            aim=problem.aim,
            value=packed.cost * problem.money,
            value_lower_bound=packed.lower * problem.money,
            proved_least=packed.proved,
            certificate=_certificate(solved),
            layouts=layouts,
            keep=problem.board.keep,
            mat_board=_is_mat_board(problem),
            cutting=cutting,
            rungs=rungs_of(
                problem.stock,
                problem.ordered,
                layouts,
                problem.aim,
                packed.cost * problem.money,
                problem.board.keep,
                self.step,
            ),
        )

    def _ordered(self, solved: _Solved, number: int) -> tuple[tuple[Layout, ...], Cutting]:
        """Return the layouts with their cuts in order, numbered from `number`, and that order."""
        from .bench import Bench, order_board
        from .plan.build import draft_layouts

        problem = solved.problem
        drafts = solved.standing or draft_layouts(problem, solved.packed.choice.copies)
        rule = KeepRule(
            self.step,
            self.order.unit,
            problem.board.keep,
            _is_mat_board(problem),
            self._longest_mat(),
        )
        names = [f"L{place}" for place in range(number, number + len(drafts))]
        measured = frozenset(item.source for item in problem.stock if item.nominal is not None)
        offs = {item.source: item.off for item in problem.stock if item.off is not None}
        rough = {item.source: item.rough for item in problem.stock if item.rough}
        made_with = (problem.tool, problem.trim, self.step, self.order.rule)
        trims = {item.source: item.untrimmed for item in problem.stock if item.untrimmed}
        bench = Bench(*made_with, measured, offs, rough, trims)
        return order_board(
            drafts,
            names,
            bench,
            rule.kind,
            self._stop_ordering,
            is_standing=bool(solved.standing),
        )

    def _longest_mat(self) -> int:
        return max(
            (
                max(piece.size.width, piece.size.height).steps(self.step)
                for piece in self.order.pieces
                if piece.kind is PieceKind.MAT
            ),
            default=0,
        )


def _as_it_stands(problem: BoardProblem, standing: tuple[DraftLayout, ...]) -> _Solved:
    """Return layouts that stand already, where the packer has none: the bound is that by area."""
    from .packer.bounds import area_values, next_total
    from .packer.choice import Choice
    from .packer.solve import Packed

    cost, area = _cost(problem, standing), area_values(problem.instance)
    lower = next_total(area.bound, problem.instance, cost)
    return _Solved(problem, Packed(Choice({}), cost, lower, area, False, "", False), standing)


def _cost(problem: BoardProblem, layouts: Sequence[DraftLayout]) -> int:
    """Return what the sheets of some layouts cost, in the instance's unit."""
    costs = {
        problem.stock[item].source: source.cost
        for source, items in zip(problem.instance.sources, problem.items, strict=True)
        for item in items
    }
    return sum(costs[layout.source] * layout.copies for layout in layouts)


def _is_mat_board(problem: BoardProblem) -> bool:
    grade = problem.board.grade
    if grade is None:
        return any(line.kind is PieceKind.MAT for line in problem.ordered)
    return grade.is_mat_board


def _certificate(solved: _Solved) -> Certificate:
    from fractions import Fraction

    problem, packed = solved.problem, solved.packed
    values = _by_label(problem, [value * problem.money for value in packed.proof.values])
    further = tuple(
        _by_label(problem, [Fraction(value) for value in rule.values]) for rule in packed.rules
    )
    if packed.by_exhaustion:
        return Certificate(CertificateKind.EXHAUSTION, values, packed.searched, further)
    return Certificate(CertificateKind.PIECE_VALUES, values, further=further)


def _by_label(problem: BoardProblem, values: Sequence[Fraction]) -> dict[str, Fraction]:
    """Return the values of piece types by the labels of the lines that they are made of."""
    found = {
        problem.ordered[line].label: value
        for value, lines in zip(values, problem.lines, strict=True)
        for line in lines
    }
    return {line.label: found[line.label] for line in problem.ordered}


@dataclass(slots=True)
class _Reporter:
    """Passes the packer's progress on, a few times a second at most."""

    watch: Watch
    problem: BoardProblem
    _last: float = float("-inf")

    def __call__(self, cost: int | None, lower: int, trying: str) -> None:
        now = time.monotonic()
        if now - self._last < REPORT_EVERY:
            return
        self._last = now
        dearest = max(source.cost for source in self.problem.instance.sources) or 1
        sheets = None if cost is None else -(-cost // dearest)
        self.watch.report(Progress(self.problem.board.name, sheets, -(-lower // dearest), trying))
