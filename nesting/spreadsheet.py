"""``cuts.csv``: every cut of a job in cutting order, a row each, for a spreadsheet.

UTF-8 with a byte-order mark and rows that end in CR LF (RFC 4180), as spreadsheets read best.
Numbers are plain decimals. A text that a spreadsheet would take for a formula is given an
apostrophe before it, which makes it a text.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from decimal import Decimal, localcontext

from .audit.case import Part
from .audit.facts import AuditedPlan
from .cells import neutral
from .instructions import (
    Check,
    Instruction,
    board_instructions,
    board_runs,
    finished,
    told_length,
)
from .lengths import format_length
from .plan.model import BoardPlan, Plan
from .plan.names import DUST
from .telling import at_most, first_off

__all__ = ["COLUMNS", "cuts_csv"]

COLUMNS = (
    "place", "board", "layout", "copies", "cut", "part", "part width", "part height",
    "edge against the stop", "along the stop", "setting", "setting on the rule", "unit",
    "set by", "stop moves", "turn", "gives", "measure", "no way back", "take off first",
    "off at worst", "heed",
)  # fmt: skip
TURNS = {0: "", 1: "quarter, anticlockwise", -1: "quarter, clockwise", 2: "half"}
PLACES = Decimal("0.000001")


def cuts_csv(audited: AuditedPlan) -> str:
    """Return the text of ``cuts.csv``, its header first."""
    made = io.StringIO()
    writer = csv.writer(made)
    writer.writerow(COLUMNS)
    for place, row in enumerate(_rows(audited.plan), 1):
        writer.writerow([place, *(neutral(cell) for cell in row)])
    return "\ufeff" + made.getvalue()


def _rows(plan: Plan) -> Iterator[list[str]]:
    for board in plan.boards:
        told = board_instructions(board, plan)
        yield from _only_trimmed(board, plan)
        for run in board_runs(board, plan):
            moves = run.moves
            for layout, numbers in run.cuts:
                for number in numbers:
                    yield _row(told[layout.id][number - 1], board, plan, moves=moves)
                    moves = False


def _only_trimmed(board: BoardPlan, plan: Plan) -> Iterator[list[str]]:
    """Yield a row for each layout without cuts of whose offcut edges must come off."""
    for layout in board.layouts:
        first = first_off(layout, board, plan)
        if first and not layout.cuts:
            begin = [board.board, layout.id, str(layout.copies)]
            told = dict.fromkeys(COLUMNS[1:], "")
            told |= dict(zip(COLUMNS[1:], begin, strict=False))
            told["take off first"] = "; ".join(first)
            yield [*told.values()]


def _row(one: Instruction, board: BoardPlan, plan: Plan, *, moves: bool) -> list[str]:
    cut, part = one.cut, one.step.part
    return [
        board.board,
        one.layout.id,
        str(one.layout.copies),
        str(cut.number),
        one.part,
        _number(part.right - part.left, plan),
        _number(part.bottom - part.top, plan),
        cut.stop.value,
        _number(cut.end - cut.start, plan),
        _number(cut.setting, plan),
        _on_the_rule(one, plan),
        plan.unit.value,
        "eye" if one.by_eye else "stop" if one.by_stop else "pencil marks",
        "yes" if moves else "no",
        TURNS[one.turn],
        "; ".join(_gives(one, plan)),
        "; ".join(_measured(check, plan) for check in one.checks),
        "from here on" if one.commits else "",
        "" if cut.number > 1 else "; ".join(first_off(one.layout, board, plan)),
        "; ".join(_off(one, plan)),
        "; ".join(_heeded(one, board)),
    ]


def _on_the_rule(one: Instruction, plan: Plan) -> str:
    """Return a setting as the rule shows it, or that it is less than its first mark."""
    if one.by_eye:
        return f"under {format_length(plan.rule, plan.unit, with_unit=True)}"
    return f"{told_length(one.cut.setting, plan)} {plan.unit}"


def _heeded(one: Instruction, board: BoardPlan) -> Iterator[str]:
    """Yield what a row of its own says on the pages: how a trim is squared, where a blade runs."""
    if one.square_to is not None:
        yield f"square to the {one.square_to.value} edge"
    if one.is_straightened:
        yield "make it straight"
    if one.is_marked and board.tool.kerf:
        yield "the blade beyond the mark"


def _off(one: Instruction, plan: Plan) -> Iterator[str]:
    """Yield by how much the sides of each piece that is finished now may be off at worst."""
    for name, piece in finished(one):
        if piece.across is not None and piece.down is not None:
            across, down = (
                "not known" if made.error is None else at_most(made.error, plan.unit)
                for made in (piece.across, piece.down)
            )
            yield f"{name}: {across} wide, {down} high"


def _measured(check: Check, plan: Plan) -> str:
    which = "wide" if check.is_width else "high"
    return f"{check.name}: should be {_number(check.steps, plan)} {which}"


def _gives(one: Instruction, plan: Plan) -> Iterator[str]:
    for part, name in zip((one.step.first, one.step.second), one.names, strict=True):
        if part is not None and name is not None:
            yield f"{name} ({_size(part, plan)})"
    if one.is_edge_dust:
        yield DUST


def _size(part: Part, plan: Plan) -> str:
    sides = (part.right - part.left, part.bottom - part.top)
    return " x ".join(_number(side, plan) for side in sides)


def _number(steps: int, plan: Plan) -> str:
    """Return a length as a decimal: exact where six places can hold it."""
    exact = (plan.step * steps).in_unit(plan.unit)
    with localcontext() as context:
        context.prec = 40
        number = Decimal(exact.numerator) / Decimal(exact.denominator)
        return f"{number.quantize(PLACES).normalize():f}"
