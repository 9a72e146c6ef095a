"""`kerfwright plan`: from an order file to a proved plan and pages to cut from."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

import kerfwright as kw

from .interrupts import HAND
from .options import LedgerIfThere, NoLedger, Seconds, SummaryAsJson, out_option
from .outcomes import NothingFits
from .terminal import say

app = typer.Typer()


class Drawing(StrEnum):
    """What the pages may be drawn as, besides the PDF."""

    PNG = "png"
    SVG = "svg"


def _unit(text: str) -> str:
    # Here, lest --help load it.
    from kerfwright.lengths import parse_unit

    try:
        return parse_unit(text)
    except kw.RefusedValue as refusal:
        told = f"{text!r} {refusal.problem}; {refusal.accepted}"
        raise typer.BadParameter(told) from None


@app.command("plan")
def plan_command(
    order: Annotated[
        Path,
        typer.Argument(metavar="ORDER", help="The order: a .toml, .csv or .xlsx file."),
    ],
    stock: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Boards, tools and offcuts kept in a file of their own."),
    ] = None,
    unit: Annotated[
        str | None,
        typer.Option(
            metavar="UNIT",
            parser=_unit,
            help="in, mm or cm: what bare numbers are where the files do not say.",
        ),
    ] = None,
    out: Annotated[Path | None, out_option("a folder beside the order, named after it")] = None,
    seconds: Seconds = None,
    draw: Annotated[
        list[Drawing] | None,
        typer.Option(
            metavar="KIND",
            help="png or svg: draw each page as an image too. May be given twice.",
        ),
    ] = None,
    ledger: LedgerIfThere = None,
    no_ledger: NoLedger = False,
    as_json: SummaryAsJson = False,
) -> None:
    """Plan an order, and draw its cut sheets.

    Writes plan.json, cut-sheets.pdf and cuts.csv, and says how many sheets to take of each
    board, whether fewer is impossible, and what is left. Ctrl-C takes the best plan found so far.
    With a ledger, what the plan takes is set aside in it.
    """
    folder = out or kw.default_folder(order)
    rack = rack_at(ledger, without=no_ledger)
    asked = kw.load_order(order, stock=stock, unit=unit)
    job, offer = _job(asked, folder, rack, _named(order, stock))
    audited = _planned(job, folder, seconds, _of_the_rack(offer))
    HAND.count()  # heeded between pages, lest half of them be written
    with _set_aside(rack, offer, audited) as booked:
        files = kw.write_outputs(
            audited, folder, [kind.value for kind in draw or ()], between=HAND.heed
        )
    HAND.written()
    say(_told(audited, files, _of_the_ledger(rack, offer, audited, booked), as_json=as_json))


def rack_at(ledger: Path | None, *, without: bool) -> kw.Ledger | None:
    """Return the ledger that was named, or the usual one if it is there."""
    if ledger is not None and without:
        raise typer.BadParameter("--ledger and --no-ledger exclude one another")
    if without:
        return None
    if ledger is not None:
        return kw.Ledger(ledger)
    usual = kw.default_path()
    named = bool(os.environ.get("KERFWRIGHT_LEDGER", "").strip())
    return kw.Ledger(usual) if named or usual.exists() else None


def _named(order: Path, stock: Path | None) -> str:
    """Return how a command line names the files of an order, for a message."""
    files = f'"{order}"' if " " in str(order) else str(order)
    if stock is None:
        return files
    return f'{files} --stock "{stock}"' if " " in str(stock) else f"{files} --stock {stock}"


def _job(
    asked: kw.Order, folder: Path, rack: kw.Ledger | None, named: str
) -> tuple[kw.Order, kw.Offer | None]:
    """Return the order with what the rack offers it."""
    if rack is None:
        return asked, None
    offer = kw.offered(rack, asked, folder, named=named)
    return offer.order, offer


def _planned(
    job: kw.Order, folder: Path, seconds: float | None, of_the_rack: Sequence[str]
) -> kw.AuditedPlan:
    """Return the plan; where there is none, what the rack has may be why."""
    from .watch import watched

    kw.check_folder(folder)
    made = watched(lambda watch: kw.make_plan(job, watch), seconds, sizes=len(job.pieces))
    if isinstance(made, kw.NoPlan):
        raise NothingFits((*made.reasons, *of_the_rack), proved=made.proved)
    return kw.audit_plan(made)


def _of_the_rack(offer: kw.Offer | None) -> Sequence[str]:
    """Return what the ledger adds to an order's notes, but for what is said of single offcuts."""
    if offer is None:
        return ()
    added = offer.order.notes[len(offer.asked.notes) :]
    return [note for note in added if not note.startswith("Offcut ")]


@contextmanager
def _set_aside(
    rack: kw.Ledger | None, offer: kw.Offer | None, audited: kw.AuditedPlan
) -> Iterator[kw.Booked | None]:
    """Set aside what the plan takes; if its files then cannot be written, take that back.

    The ledger comes first: a plan that is written and has nothing set aside could be cut from an
    offcut that another job has, while a job without files is seen by `ledger jobs`.
    """
    if rack is None or offer is None:
        yield None
        return
    booked = kw.set_aside(rack, offer, audited)
    try:
        yield booked
    except BaseException:
        if booked.entry.number:
            rack.undo(booked.entry.number)
        raise


def _of_the_ledger(
    rack: kw.Ledger | None,
    offer: kw.Offer | None,
    audited: kw.AuditedPlan,
    booked: kw.Booked | None,
) -> kw.Reserved | None:
    if rack is None or offer is None or booked is None:
        return None
    return kw.reserved(rack, offer, audited, booked)


def _told(
    audited: kw.AuditedPlan,
    files: tuple[Path, ...],
    reserved: kw.Reserved | None,
    *,
    as_json: bool,
) -> str:
    if as_json:
        from .as_json import plan_text

        return plan_text(audited, files, reserved)
    from .summary import summary_text

    return summary_text(audited, files, reserved)
