"""`kerfwright ledger import`: take in a whole rack, or a whole ledger."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import (
    AsJson,
    LedgerFile,
    UnitOption,
    answer,
    noted,
    recording_at,
    slips_of_the_pen,
    unit_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.ledger import Entry

app = typer.Typer()


@app.command("import")
def import_command(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="A .csv of a rack, an exported .json, or an order with offcuts."
        ),
    ],
    stock: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="With an order: its stock file, as for plan."),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Take in a file that was taken in before.")
    ] = False,
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Take in a rack from CSV, a ledger from JSON, or the offcuts that an order lists.

    A CSV file needs the columns size and board, and may have kind, qty, grade, buffered, grain,
    direction, edges, place, price, windows, since and note. All its rows are taken in, or none.
    """
    from kerfwright.ledger.exchange import import_csv, import_json

    book = recording_at(ledger)
    if stock is not None or file.suffix.lower() in {".toml", ".xlsx"}:
        _of_an_order(book, file, stock, unit, as_json=as_json)
        return
    if file.suffix.lower() == ".json":
        count = import_json(book, file)
        answer((f"{count} events were taken in.",), {"events": count}, as_json=as_json)
        return
    entry = import_csv(book, file, unit_of(unit), again=again)
    known = "All that it tells is in the ledger already; nothing was recorded."
    hints = slips_of_the_pen(book.state(), _came(entry), table=True)
    noted(entry, done="\n".join((*hints, _told(entry))), otherwise=known, as_json=as_json)


def _came(entry: Entry) -> Iterator[tuple[str, kw.Size | None]]:
    """Yield what boards came, each with the size of its full sheets or None."""
    for event in entry.events:
        if event.board is not None and event.event in {
            "added",
            "drop-out",
            "sheets in",
            "slips in",
        }:
            yield event.board, event.size if event.event == "sheets in" else None


def _told(entry: Entry) -> str:
    """Return what was taken in, with the numbers to pencil on the offcuts."""
    told, numbers = [], entry.offcuts
    if len(numbers) == 1:
        told.append(f"1 offcut, numbered {numbers[0]}")
    elif numbers:
        told.append(f"{len(numbers)} offcuts, numbered {numbers[0]} to {numbers[-1]}")
    for event, what in (("sheets in", "full sheet"), ("slips in", "slip sheet")):
        count = sum(one.count or 0 for one in entry.events if one.event == event)
        if count:
            told.append(f"{count} {what}{'' if count == 1 else 's'}")
    boards = {one.board for one in entry.events if one.event == "board described"}
    if boards and not told:
        told.append(f"what is known of {', '.join(sorted(filter(None, boards)))}")
    return "; ".join(told)


def _of_an_order(
    book: kw.Ledger, file: Path, stock: Path | None, unit: str | None, *, as_json: bool
) -> None:
    from kerfwright.ledger.rack import add_own

    order = kw.load_order(file, stock=stock, unit=None if unit is None else unit_of(unit))
    if not order.offcuts:
        raise kw.LedgerError(f"{file}: lists no offcut, so there is nothing to take in")
    entry = add_own(book, order, (stock or file).name)
    told = [f"{event.offcut} ({event.note})" for event in entry.events]
    done = f"Pencil the new numbers on them: {', '.join(told)}"
    otherwise = "All of them are in the ledger already; nothing was recorded."
    noted(entry, done=done, otherwise=otherwise, as_json=as_json)
