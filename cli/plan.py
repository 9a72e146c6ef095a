"""`kerfwright plan`: from an order file to a proved plan and pages to cut from."""

from __future__ import annotations

import math
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

import kerfwright as kw

from .interrupts import HAND
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


def read_seconds(text: str) -> float:
    """Return a time to plan in, as an option gives it."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not (math.isfinite(seconds) and seconds > 0):
        raise typer.BadParameter(f"{text!r} is no time to plan in; write a number above 0")
    return seconds


def read_folder(text: str) -> Path:
    """Return a folder, as an option gives it."""
    if not text.strip():
        raise typer.BadParameter("it names no folder; write one such as jobs/show")
    return Path(text)


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
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            parser=read_folder,
            help="Where the files go; otherwise a folder beside the order, named after it.",
        ),
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option(
            metavar="S",
            parser=read_seconds,
            help="Take the best plan found after so many seconds. Without it the same order "
            "always gives the same plan.",
        ),
    ] = None,
    draw: Annotated[
        list[Drawing] | None,
        typer.Option(
            metavar="KIND",
            help="png or svg: draw each page as an image too. May be given twice.",
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the summary for a program.")
    ] = False,
) -> None:
    """Plan an order, and draw its cut sheets.

    Writes plan.json, cut-sheets.pdf and cuts.csv, and says how many sheets to take of each
    board, whether fewer is impossible, and what is left. Ctrl-C takes the best plan found so far.
    """
    audited, folder = _planned(order, stock, unit, out, seconds)
    HAND.count()  # heeded between pages, lest half of them be written
    files = kw.write_outputs(
        audited, folder, [kind.value for kind in draw or ()], between=HAND.heed
    )
    HAND.written()
    say(_told(audited, files, as_json=as_json))


def _planned(
    order: Path, stock: Path | None, unit: str | None, out: Path | None, seconds: float | None
) -> tuple[kw.AuditedPlan, Path]:
    from .watch import watched

    job = kw.load_order(order, stock=stock, unit=unit)
    folder = out or kw.default_folder(order)
    kw.check_folder(folder)
    made = watched(lambda watch: kw.make_plan(job, watch), seconds)
    if isinstance(made, kw.NoPlan):
        raise NothingFits(made.reasons, proved=made.proved)
    return kw.audit_plan(made), folder


def _told(audited: kw.AuditedPlan, files: tuple[Path, ...], *, as_json: bool) -> str:
    if as_json:
        from .as_json import plan_text

        return plan_text(audited, files)
    from .summary import summary_text

    return summary_text(audited, files)
