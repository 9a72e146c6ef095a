"""`kerfwright ledger board`: what the ledger knows of a board."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import (
    AsJson,
    LedgerFile,
    UnitOption,
    answer,
    ledger_at,
    noted,
    parsed,
    recording_at,
    shown,
    unit_of,
)

if TYPE_CHECKING:
    from kerfwright.ledger.state import State

app = typer.Typer()


class Said(StrEnum):
    """An answer."""

    YES = "yes"
    NO = "no"


@app.command("board")
def board_command(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The board, as orders name it.")],
    grade: Annotated[str | None, typer.Option(metavar="GRADE", help="What it is made of.")] = None,
    buffered: Annotated[
        Said | None, typer.Option(metavar="yes|no", help="Whether it is buffered.")
    ] = None,
    direction: Annotated[
        Said | None,
        typer.Option(
            metavar="yes|no", help="Whether it has a grain or pattern, so that nothing is turned."
        ),
    ] = None,
    price: Annotated[
        str | None, typer.Option(metavar="PRICE", help="With --size: what a sheet costs.")
    ] = None,
    size: Annotated[str, typer.Option(metavar="SIZE", help="Of the sheet with that price.")] = "",
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Say what a board is, or write it down.

    What an order says of its boards is learned by itself when it is planned. Offcuts keep what
    was written of each: `ledger correct` changes that.
    """
    from kerfwright.ledger.exchange import parse_grade, price_of
    from kerfwright.ledger.rack import describe_board

    board = " ".join(name.split())
    if (price is None) is not (not size.strip()):
        raise typer.BadParameter("--price and --size go together")
    if all(one is None for one in (grade, buffered, direction, price)):
        _told(ledger_at(ledger).state(), board, as_json=as_json)
        return
    kind = None if grade is None else parsed(lambda: parse_grade(grade))
    if grade is not None and kind is None:
        raise typer.BadParameter("--grade needs a grade: that of an offcut may be unknown")
    prices = None
    if price is not None:
        bare = unit_of(unit)
        prices = {parsed(lambda: kw.parse_size(size, bare)): parsed(lambda: price_of(price))}
    entry = describe_board(
        recording_at(ledger),
        board,
        grade=kind,
        buffered=None if buffered is None else buffered is Said.YES,
        directed=None if direction is None else direction is Said.YES,
        prices=prices,
    )
    noted(
        entry,
        done=f"{board}: written down",
        otherwise="Nothing new; nothing was recorded.",
        as_json=as_json,
    )


def _told(state: State, board: str, *, as_json: bool) -> None:
    from kerfwright.ledger.exchange import exact_size
    from kerfwright.telling import money

    known = state.boards.get(board)
    prices = [(size, price) for (name, size), price in state.prices.items() if name == board]
    if known is None and not prices:
        named = {kept.board for kept in state.offcuts.values()} | {key[0] for key in state.sheets}
        if board not in named:
            raise kw.LedgerError(f"the ledger has no board {board!r}")
    grade = None if known is None else known.grade
    buffered = None if known is None else known.buffered
    directed = None if known is None else known.directed
    lines = [
        board,
        f"  grade: {grade or 'not known'}",
        f"  buffered: {_answer(buffered)}",
        f"  direction: {_answer(directed)}",
        *(f"  a sheet of {shown(size)} costs {money(price)}" for size, price in prices),
    ]
    facts: dict[str, object] = {
        "board": board,
        "grade": None if grade is None else grade.value,
        "buffered": buffered,
        "direction": directed,
        "prices": [{"size": exact_size(size), "price": str(price)} for size, price in prices],
    }
    answer(lines, facts, as_json=as_json)


def _answer(flag: bool | None) -> str:
    return "not known" if flag is None else "yes" if flag else "no"
