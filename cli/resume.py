"""`kerfwright resume`: go on with a job from where it stands, whatever went wrong."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .interrupts import HAND
from .options import LedgerIfThere, NoLedger, Seconds, SummaryAsJson, out_option
from .outcomes import BrokenPlan, NothingFits
from .plan import rack_at
from .terminal import say

if TYPE_CHECKING:
    from kerfwright.ledger.sentences import OfTheRack
    from kerfwright.ledger.state import Job

app = typer.Typer()


@app.command("resume")
def resume_command(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan.json being cut.")],
    done: Annotated[
        list[str] | None,
        typer.Option(
            metavar="CUTS",
            help="Cuts that are made: L1:1-4, or L1 for all of it; L1/2:1-4 for sheet 2 only; "
            "L3:left for an edge that comes off first. May be given again.",
        ),
    ] = None,
    wrong: Annotated[
        list[str] | None,
        typer.Option(
            metavar="CUT=SETTING",
            help='A cut made at another setting: "L1:5=11 3/4". The cuts before it are made too. '
            'Or an edge that comes off first, and what was left: "L3:left=31 1/4". '
            "May be given again.",
        ),
    ] = None,
    ruined: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PART=GOOD",
            help="What is spoiled: L1:C, the part C, or L1:A, a finished A; and what of it is "
            'still good, if anything: "L1:C=12 x 20", or "L1:C=12 x 20 + 4 x 9" for two parts. '
            "May be given again.",
        ),
    ] = None,
    more: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SHEETS",
            help='Full sheets fetched since it was planned: "32 x 40" for one, "2 of 32 x 40", '
            'or with several boards "white rag: 2 of 32 x 40". May be given again.',
        ),
    ] = None,
    out: Annotated[Path | None, out_option("a new folder beside the plan's own")] = None,
    seconds: Seconds = None,
    ledger: LedgerIfThere = None,
    no_ledger: NoLedger = False,
    as_json: SummaryAsJson = False,
) -> None:
    """Plan the rest of a job that is partly cut.

    Say which cuts are made and which went wrong. What is left on the bench is used before a new
    sheet, the rest is planned again with a proof, and you are told what the mistake costs. With a
    ledger, the rest takes the place of the job in it.
    """
    audited, folder = _read(plan, out)
    rack = rack_at(ledger, without=no_ledger)
    before = None if rack is None else kw.resumable(rack, plan, audited.plan)
    if before is None and ledger is not None:
        kw.job_named(kw.Ledger(ledger), str(plan))  # says that there is no such job
    said = (done or [], wrong or [], ruined or [])
    resumed = _resumed(audited, said, more or [], seconds, before)
    if isinstance(resumed.plan, kw.NoPlan):
        raise NothingFits((*resumed.plan.reasons, *resumed.left_out), proved=resumed.plan.proved)
    rest = None if resumed.plan is None else kw.audit_plan(resumed.plan)
    HAND.count()  # heeded between pages, lest half of them be written
    files: tuple[Path, ...] = ()
    with _put_in_place(rack, before, resumed, rest, folder) as booked:
        if rest is not None:
            files = kw.write_outputs(rest, folder, between=HAND.heed)
    HAND.written()
    gone_on = None if before is None or booked is None else (before.held, booked)
    unknown_to = None if rack is None or before is not None else rack.path
    told = _of_the_rack(rack, before, rest, booked)
    say(_told(audited, resumed, rest, files, gone_on, unknown_to, told, as_json=as_json))


def _of_the_rack(
    rack: kw.Ledger | None,
    before: kw.Resuming | None,
    rest: kw.AuditedPlan | None,
    booked: kw.Booked | None,
) -> OfTheRack | None:
    """Return why the rest takes each offcut of the rack or not."""
    if rack is None or before is None or rest is None or booked is None:
        return None
    from kerfwright.ledger.sentences import of_the_rack

    return of_the_rack(rack, before, rest, booked)


@contextmanager
def _put_in_place(
    rack: kw.Ledger | None,
    before: kw.Resuming | None,
    resumed: kw.Resumed,
    rest: kw.AuditedPlan | None,
    folder: Path,
) -> Iterator[kw.Booked | None]:
    """Put the rest in the job's place in the ledger; take that back if no files can be written."""
    if rack is None or before is None:
        yield None
        return
    booked = kw.go_on(rack, before, resumed.so_far, resumed.step, rest, folder=folder)
    try:
        yield booked
    except BaseException:
        rack.undo(booked.entry.number)
        raise


def _read(plan: Path, out: Path | None) -> tuple[kw.AuditedPlan, Path]:
    try:
        audited = kw.verify_plan(plan)
    except kw.AuditError as error:
        raise BrokenPlan(error.findings) from error
    own = plan.parent
    if own.name in ("", ".."):
        own = own.resolve()
    if out is not None and out.resolve() == own.resolve():
        raise typer.BadParameter(f"{out} holds the plan being cut; choose another folder")
    folder = _new_folder(own) if out is None else out
    kw.check_folder(folder)
    return audited, folder


def _new_folder(own: Path) -> Path:
    """Return a folder beside `own` that is not there yet."""
    name = own.name
    number, folder = 1, own.with_name(f"{name}-rest") if name else own / "plan-rest"
    while folder.exists() or folder.is_symlink():
        number += 1
        folder = folder.with_name(f"{name}-rest-{number}")
    return folder


def _resumed(
    audited: kw.AuditedPlan,
    said: tuple[list[str], list[str], list[str]],
    more: list[str],
    seconds: float | None,
    before: kw.Resuming | None,
) -> kw.Resumed:
    from .watch import watched

    holdings = None if before is None else before.holdings
    sizes = sum(len(board.ordered) for board in audited.plan.boards)
    return watched(
        lambda watch: kw.resume_plan(audited, *said, watch, holdings=holdings, more=more),
        seconds,
        sizes=sizes,
    )


def _told(
    audited: kw.AuditedPlan,
    resumed: kw.Resumed,
    rest: kw.AuditedPlan | None,
    files: tuple[Path, ...],
    gone_on: tuple[Job, kw.Booked] | None,
    unknown_to: Path | None,
    of_the_rack: OfTheRack | None,
    *,
    as_json: bool,
) -> str:
    if as_json:
        from .as_json import resumed_text

        return resumed_text(audited, resumed, rest, files, gone_on, of_the_rack)
    from .summary import rest_text

    return rest_text(audited, resumed, rest, files, gone_on, unknown_to, of_the_rack)
