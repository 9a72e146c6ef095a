"""`kerfwright ledger take`: what goes off the rack other than by a job."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

import kerfwright as kw

from .ledger_common import (
    AsJson,
    LedgerFile,
    UnitOption,
    noted,
    parsed,
    recording_at,
    shown,
    unit_of,
)

app = typer.Typer()


class Way(StrEnum):
    """How it went."""

    USED = "used"
    GIVEN_AWAY = "given-away"
    SPOILED = "spoiled"
    LOST = "lost"


@app.command("take")
def take_command(
    numbers: Annotated[
        list[int] | None, typer.Argument(metavar="NUMBER", help="Which offcuts.")
    ] = None,
    why: Annotated[
        Way, typer.Option(metavar="WHY", help="used, given-away, spoiled or lost.")
    ] = Way.USED,
    sheets: Annotated[
        int, typer.Option(metavar="N", min=0, help="Instead of offcuts: so many full sheets.")
    ] = 0,
    slips: Annotated[
        int, typer.Option(metavar="N", min=0, help="So many slip sheets, scored too often.")
    ] = 0,
    board: Annotated[str, typer.Option(metavar="NAME", help="Of sheets or slip sheets.")] = "",
    size: Annotated[str, typer.Option(metavar="SIZE", help="Of sheets or slip sheets.")] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="For what, or to whom.")] = "",
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Take things off the rack, other than by a job.

    Offcuts by their numbers, full sheets by count; or slip sheets that are scored too often.
    """
    from kerfwright.ledger.rack import retire_slips, take, take_sheets

    if bool(numbers) + bool(sheets) + bool(slips) != 1:
        raise typer.BadParameter("name offcuts by number, or give --sheets N, or --slips N")
    book, way = recording_at(ledger), why.value.replace("-", " ")
    if numbers:
        entry = take(book, list(dict.fromkeys(numbers)), way, note)
        what = f"Offcuts taken: {', '.join(map(str, entry.offcuts))}, {way}"
    else:
        if not (board.strip() and size.strip()):
            raise typer.BadParameter("--sheets and --slips need --board and --size")
        name, each = " ".join(board.split()), parsed(lambda: kw.parse_size(size, unit_of(unit)))
        if sheets:
            told = f"{way}: {note}" if note else way
            entry = take_sheets(book, name, each, sheets, told)
            what = f"Full sheets taken: {sheets}, {shown(each)} of {name}, {way}"
        else:
            entry = retire_slips(book, name, each, slips)
            what = f"Slip sheets retired: {slips}, {shown(each)} of {name}"
    noted(entry, done=what, otherwise="Nothing was taken.", as_json=as_json)
