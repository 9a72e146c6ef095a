"""The summary's facts for a program: lengths, areas and money as exact fractions in text."""

from __future__ import annotations

import json
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from kerfwright.plan.model import Aim
from kerfwright.telling import cautions, on_hand, tell

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kerfwright.aftermath import Idle, Resumed, SetBack
    from kerfwright.audit.facts import AuditedPlan, BoardFacts, SourceUse
    from kerfwright.ledger import Booked, Reserved
    from kerfwright.ledger.sentences import OfTheRack
    from kerfwright.ledger.state import Job
    from kerfwright.plan.model import BoardPlan, Plan

__all__ = ["plan_text", "resumed_text"]

# Of the order of cuts, as `Cutting` names them.
HANDLING = (
    "settings_lower_bound",
    "sides_left_over",
    "sides_left_over_lower_bound",
    "quarter_turns",
    "quarter_turns_lower_bound",
    "lifts",
    "lifts_lower_bound",
    "before_no_way_back",
    "before_no_way_back_upper_bound",
)


def plan_text(
    audited: AuditedPlan, files: tuple[Path, ...], reserved: Reserved | None = None
) -> str:
    """Return the facts of `audited` as a JSON object; `docs/command.md` lists its keys."""
    return json.dumps(_facts(audited, files, reserved), indent=2)


def resumed_text(
    old: AuditedPlan,
    resumed: Resumed,
    rest: AuditedPlan | None,
    files: tuple[Path, ...],
    gone_on: tuple[Job, Booked] | None = None,
    of_the_rack: OfTheRack | None = None,
) -> str:
    """Return the facts of a job resumed as a JSON object; `docs/command.md` lists its keys."""
    nothing: dict[str, object] = {
        "exit_status": 0,
        "order": old.plan.order,
        "unit": old.plan.unit.value,
        "boards": [],
        "files": [],
    }
    told = nothing if rest is None else _facts(rest, files)
    told["in_hand"] = dict(resumed.in_hand)
    lost = _worth_lost(rest)
    told["compared"] = [
        {**_set_back(old.plan, one), "worth_lost": lost.get(one.board)} for one in resumed.set_backs
    ]
    told["first"] = [] if rest is None else [one for board in tell(rest) for one in board.first]
    told["left_out"] = list(resumed.left_out)
    if gone_on is not None:
        before, booked = gone_on
        told["ledger"] = {
            "job": booked.job.number,
            "instead_of": before.number,
            "cancelled": None if booked.replaced is None else booked.replaced.number,
            "offcuts": list(booked.job.offcuts),
            "used": [] if of_the_rack is None else _with_why(of_the_rack.used),
            "untouched": [] if of_the_rack is None else _with_why(of_the_rack.untouched),
        }
    told["kept"] = [_idle(old.plan, one) for one in resumed.idle]
    return json.dumps(told, indent=2)


def _idle(plan: Plan, one: Idle) -> dict[str, object]:
    return {
        "board": one.board,
        "kind": one.kind.value,
        "name": one.name,
        "width": str(one.size.width.in_unit(plan.unit)),
        "height": str(one.size.height.in_unit(plan.unit)),
        "count": one.count,
        "untrimmed": list(one.edges),
    }


def _set_back(plan: Plan, one: SetBack) -> dict[str, object]:
    square = Fraction(1) if one.priced else plan.unit.millimetres**2
    return {
        "board": one.board,
        "aim": "cost" if one.priced else "area",
        "sheets": one.sheets,
        "sheets_as_planned": one.planned_sheets,
        "value": str(one.value / square),
        "value_as_planned": str(one.planned_value / square),
        "mistake": str(one.cost / square),
        "went_wrong": one.mistakes,
    }


def _worth_lost(rest: AuditedPlan | None) -> dict[str, int | None]:
    """Return by how many twentieths of a sheet each board's leftovers are worth less."""
    boards = () if rest is None else rest.plan.boards
    return {one.board: one.as_planned.worth_lost for one in boards if one.as_planned is not None}


def _facts(
    audited: AuditedPlan, files: tuple[Path, ...], reserved: Reserved | None = None
) -> dict[str, object]:
    plan = audited.plan
    pairs = zip(plan.boards, audited.facts, strict=True)
    told: dict[str, object] = {
        "exit_status": 0,
        "order": plan.order,
        "order_digest": plan.order_digest,
        "program": plan.program,
        "unit": plan.unit.value,
        "stopped": plan.stopped.value,
        "boards": [_board(plan, board, facts) for board, facts in pairs],
        "assumed": list(plan.notes),
        "cautions": [caution.in_brief for caution in cautions(plan)],
        "files": [str(path) for path in files],
    }
    if reserved is not None:
        told["ledger"] = _reserved(reserved)
    return told


def _reserved(reserved: Reserved) -> dict[str, object]:
    return {
        "ledger": reserved.path,
        "job": reserved.job,
        "offcuts": list(reserved.offcuts),
        "used": _with_why(reserved.used),
        "untouched": _with_why(reserved.untouched),
        "slip_sheets_needed": reserved.slips_needed,
        "slip_sheets_on_hand": reserved.slips_on_hand,
        "slip_sheets_good_for_windows": reserved.slips_windows,
        "slip_sheets_made": reserved.slips_made,
    }


def _with_why(reasons: Iterable[tuple[int, str]]) -> list[dict[str, object]]:
    return [{"offcut": number, "why": why} for number, why in reasons]


def _board(plan: Plan, board: BoardPlan, facts: BoardFacts) -> dict[str, object]:
    priced = board.aim is Aim.COST
    return {
        "board": board.board,
        "sheets": board.sheets,
        "sheets_lower_bound": board.sheets_lower_bound,
        "aim": board.aim.value,
        "cost": str(board.value) if priced else None,
        "cost_lower_bound": str(board.value_lower_bound) if priced else None,
        "proved_least": board.proved_least,
        "certificate": board.certificate.kind.value,
        "rechecked": facts.rechecked,
        "cuts": facts.cuts,
        "settings": facts.settings,
        **_handling(board),
        "take": [_take(plan, board, use) for use in facts.sources],
        "layouts": _layouts(board),
        "left": _left(plan, board),
        "areas": _areas(plan, facts),
    }


def _handling(board: BoardPlan) -> dict[str, int | None]:
    """Return the counts of the order of cuts beside their bounds; None for what is not known."""
    return {name: getattr(board.cutting, name, None) for name in HANDLING}


def _length(plan: Plan, steps: int) -> str:
    return str((plan.step * steps).in_unit(plan.unit))


def _take(plan: Plan, board: BoardPlan, use: SourceUse) -> dict[str, object]:
    """Return what to take of one source, and what to buy of it where that is known."""
    source = use.source
    there, bought = on_hand(board, use) or (None, None)
    return {
        "kind": source.kind.value,
        "id": source.id,
        "width": _length(plan, source.width),
        "height": _length(plan, source.height),
        "count": use.copies,
        "on_hand": there,
        "to_buy": bought,
    }


def _layouts(board: BoardPlan) -> list[dict[str, object]]:
    return [
        {
            "id": layout.id,
            "copies": layout.copies,
            "pieces": Counter(piece.label for piece in layout.pieces),
        }
        for layout in board.layouts
    ]


def _left(plan: Plan, board: BoardPlan) -> list[dict[str, object]]:
    return [
        {
            "kind": leftover.kind.value,
            "width": _length(plan, leftover.width),
            "height": _length(plan, leftover.height),
            "layout": layout.id,
            "count": layout.copies,
        }
        for layout in board.layouts
        for leftover in layout.leftovers
    ]


def _areas(plan: Plan, facts: BoardFacts) -> dict[str, str]:
    square = plan.step.in_unit(plan.unit) ** 2
    names = ("sources", "sheets", "pieces", "offcut", "slip_sheet", "scrap", "trim", "kerf")
    return {name: str(Fraction(getattr(facts.areas, name)) * square) for name in names}
