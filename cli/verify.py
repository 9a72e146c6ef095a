"""`kerfwright verify`: check a plan from its file alone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import kerfwright as kw

from .options import SummaryAsJson
from .outcomes import BrokenPlan
from .terminal import say

app = typer.Typer()


@app.command("verify")
def verify_command(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json.")],
    as_json: SummaryAsJson = False,
) -> None:
    """Check a plan from its file alone.

    Replays every cut, recounts every claim and rechecks the bound, with nothing of what made
    the plan.
    """
    try:
        audited = kw.verify_plan(plan)
    except kw.AuditError as error:
        raise BrokenPlan(error.findings) from error
    say(_told(audited, as_json=as_json))


def _told(audited: kw.AuditedPlan, *, as_json: bool) -> str:
    if as_json:
        from .as_json import plan_text

        return plan_text(audited, ())
    from .summary import verified_text

    return verified_text(audited)
