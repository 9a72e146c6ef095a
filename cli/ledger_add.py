"""`kerfwright ledger add`: put an offcut, sheets or slip sheets on the rack."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

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
    slips_of_the_pen,
    unit_of,
)

if TYPE_CHECKING:
    from kerfwright.ledger import Entry
    from kerfwright.ledger.rack import Measured

app = typer.Typer()


@app.command("add")
def add_command(
    size: Annotated[
        str,
        typer.Argument(metavar="SIZE", help="Such as '14 x 32'; first along the sheet's first."),
    ],
    board: Annotated[str, typer.Option(metavar="NAME", help="The board, as orders name it.")],
    qty: Annotated[int, typer.Option(min=1, max=10_000, help="How many.")] = 1,
    sheets: Annotated[bool, typer.Option("--sheets", help="They are full sheets.")] = False,
    slips: Annotated[bool, typer.Option("--slips", help="They are slip sheets.")] = False,
    drop_out: Annotated[
        bool, typer.Option("--drop-out", help="It fell from a window of no job in the ledger.")
    ] = False,
    price: Annotated[
        str | None, typer.Option(metavar="PRICE", help="With --sheets: what one costs.")
    ] = None,
    grade: Annotated[
        str | None, typer.Option(metavar="GRADE", help="What it is made of, or unknown.")
    ] = None,
    buffered: Annotated[
        str | None, typer.Option(metavar="yes|no|unknown", help="Whether it is buffered.")
    ] = None,
    no_direction: Annotated[
        bool, typer.Option("--no-direction", help="How it lay on its sheet is not known.")
    ] = False,
    edges: Annotated[
        str, typer.Option(metavar="EDGES", help="What bad edges lose: 'left 1/4, top 1/2'.")
    ] = "",
    place: Annotated[str, typer.Option(metavar="PLACE", help="Where it is put.")] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Where it came from.")] = "",
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Put offcuts, sheets or slip sheets on the rack.

    Each offcut gets the next number, to pencil on it. What is not said of its grade is taken
    from the board, if the ledger knows it.
    """
    from kerfwright.ledger.exchange import parse_buffered, parse_edges, parse_grade
    from kerfwright.ledger.rack import Measured

    _refuse_mixed(sheets=sheets, slips=slips, drop_out=drop_out, price=price)
    bare = unit_of(unit)
    one = Measured(
        board=" ".join(board.split()),
        size=parsed(lambda: kw.parse_size(size, bare)),
        grade=None if grade is None else parsed(lambda: parse_grade(grade)),
        buffered=None if buffered is None else parsed(lambda: parse_buffered(buffered)),
        unknown=grade == "unknown",
        directed=not (no_direction or drop_out),
        edges=parsed(lambda: parse_edges(edges, bare)),
        place=place,
        note=note,
        dropped=drop_out,
        unsure=buffered == "unknown",
    )
    if not one.board:
        raise typer.BadParameter("--board names no board")
    book = recording_at(ledger)
    entry, what = _added(book, one, qty, sheets=sheets, slips=slips, price=price)
    done = f"{what}, {shown(one.size)} of {one.board}"
    hints = slips_of_the_pen(book.state(), [(one.board, one.size if sheets else None)])
    noted(entry, done="\n".join((*hints, done)), otherwise="", as_json=as_json)


def _refuse_mixed(*, sheets: bool, slips: bool, drop_out: bool, price: str | None) -> None:
    """Refuse to take one thing for two."""
    if sheets + slips + drop_out > 1:
        raise typer.BadParameter("--sheets, --slips and --drop-out exclude one another")
    if price is not None and not sheets:
        raise typer.BadParameter("--price goes with --sheets")


def _added(
    book: kw.Ledger, one: Measured, qty: int, *, sheets: bool, slips: bool, price: str | None
) -> tuple[Entry, str]:
    from kerfwright.ledger.exchange import price_of
    from kerfwright.ledger.rack import add_offcuts, add_sheets, add_slips

    many = "" if qty == 1 else "s"
    if sheets:
        cost = None if price is None else parsed(lambda: price_of(price))
        return add_sheets(book, one.board, one.size, qty, price=cost), f"{qty} full sheet{many}"
    if slips:
        return add_slips(book, one.board, one.size, qty), f"{qty} slip sheet{many}"
    entry = add_offcuts(book, [one] * qty)
    numbers = ", ".join(map(str, entry.offcuts))
    pencil = "pencil the number on it" if qty == 1 else "pencil the numbers on them"
    return entry, f"Offcut{many} {numbers}: {pencil}"
