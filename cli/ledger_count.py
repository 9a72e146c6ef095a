"""`kerfwright ledger count`: a stock-take."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import kerfwright as kw

from .ledger_common import (
    AsJson,
    LedgerFile,
    UnitOption,
    answer,
    noted,
    parsed,
    recording_at,
    unit_of,
)

app = typer.Typer()


@app.command("count")
def count_command(
    there: Annotated[
        list[str] | None,
        typer.Argument(metavar="NUMBER|FILE", help="The offcuts that are there, or a .csv."),
    ] = None,
    place: Annotated[
        str | None, typer.Option(metavar="PLACE", help="Only this place was counted.")
    ] = None,
    sheets: Annotated[
        int | None,
        typer.Option(metavar="N", min=0, max=999_999, help="Instead: so many sheets are there."),
    ] = None,
    board: Annotated[str, typer.Option(metavar="NAME", help="Of the sheets.")] = "",
    size: Annotated[str, typer.Option(metavar="SIZE", help="Of the sheets.")] = "",
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Reconcile the ledger with a count of the rack.

    Offcuts that are not there are lost, those that were lost and are there are found. A .csv
    has the column number, and size and place where they were looked at.
    """
    from kerfwright.ledger.rack import count_sheets

    book, bare = recording_at(ledger), unit_of(unit)
    if sheets is not None:
        if not (board.strip() and size.strip()) or there:
            raise typer.BadParameter("--sheets goes with --board and --size, and no offcuts")
        name, each = " ".join(board.split()), parsed(lambda: kw.parse_size(size, bare))
        entry = count_sheets(book, name, each, sheets)
        done = f"{sheets} full sheets of {name} are there: written down"
        noted(entry, done=done, otherwise="So many are in the ledger.", as_json=as_json)
        return
    _count_offcuts(book, there or [], place, bare, as_json=as_json)


def _count_offcuts(
    book: kw.Ledger, there: list[str], place: str | None, bare: kw.Unit, *, as_json: bool
) -> None:
    from kerfwright.ledger.exchange import read_count
    from kerfwright.ledger.rack import Found, count_rack

    if len(there) == 1 and not there[0].isdecimal():
        found = read_count(Path(there[0]), bare)
        if not found:
            raise typer.BadParameter(f"{there[0]}: lists no offcut, so nothing was counted")
    elif there and all(word.isascii() and word.isdecimal() for word in there):
        found = tuple(Found(int(word)) for word in there)
    else:
        raise typer.BadParameter("give the numbers of what is there, or one .csv file")
    entry = count_rack(book, found, place=place)
    told = {
        what: sorted({e.offcut for e in entry.events if e.event == what and e.offcut})
        for what in ("seen", "found", "lost")
    }
    changed = sorted({e.offcut for e in entry.events if e.area and e.event == "seen" and e.offcut})
    lines = [
        f"{what}: {', '.join(map(str, numbers)) or 'none'}"
        for what, numbers in (*told.items(), ("of another size", changed))
    ]
    answer([*lines, f"(entry {entry.number})"], {"entry": entry.number, **told}, as_json=as_json)
