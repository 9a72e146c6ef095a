"""Options that several commands share: what each takes, and its help, said in one place."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from typer.models import OptionInfo

__all__ = [
    "AsJson",
    "LedgerFile",
    "LedgerIfThere",
    "NoLedger",
    "Seconds",
    "SummaryAsJson",
    "UnitOption",
    "out_option",
]


def _seconds(text: str) -> float:
    """Return a time to plan in."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not (math.isfinite(seconds) and seconds > 0):
        raise typer.BadParameter(f"{text!r} is no time to plan in; write a number above 0")
    return seconds


def _folder(text: str) -> Path:
    """Return a folder to write into."""
    if not text.strip():
        raise typer.BadParameter("it names no folder; write one such as jobs/show")
    return Path(text)


def out_option(otherwise: str) -> OptionInfo:
    """Return what `--out` takes, its help saying where the files go `otherwise`."""
    told = f"Where the files go; otherwise {otherwise}."
    option: OptionInfo = typer.Option(metavar="DIR", parser=_folder, help=told)
    return option


Seconds = Annotated[
    float | None,
    typer.Option(
        metavar="S",
        parser=_seconds,
        help="Take the best plan found after so many seconds. Without it the same job always "
        "gives the same plan.",
    ),
]
SummaryAsJson = Annotated[bool, typer.Option("--json", help="Print the summary for a program.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the answer for a program.")]
LedgerFile = Annotated[
    Path | None,
    typer.Option(
        "--ledger",
        metavar="FILE",
        help="The ledger; otherwise $KERFWRIGHT_LEDGER, else the one in your data folder.",
    ),
]
LedgerIfThere = Annotated[
    Path | None,
    typer.Option(
        "--ledger",
        metavar="FILE",
        help="Use the offcuts and sheets of this ledger; otherwise of $KERFWRIGHT_LEDGER or "
        "the one in your data folder, if it is there.",
    ),
]
NoLedger = Annotated[bool, typer.Option("--no-ledger", help="Plan without any ledger.")]
UnitOption = Annotated[
    str | None, typer.Option(metavar="UNIT", help="in, mm or cm: what bare numbers are.")
]
