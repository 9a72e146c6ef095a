"""`kerfwright ledger makes`: what could still be cut from the offcuts alone."""

from __future__ import annotations

from typing import Annotated

import typer

import kerfwright as kw

from .ledger_common import AsJson, LedgerFile, UnitOption, answer, ledger_at, parsed, shown, unit_of

app = typer.Typer()


@app.command("makes")
def makes_command(
    size: Annotated[
        list[str] | None, typer.Argument(metavar="SIZE", help="Otherwise the usual ones.")
    ] = None,
    kerf: Annotated[str, typer.Option(metavar="LENGTH", help="What the tool removes.")] = "0",
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Say what the offcuts alone would make.

    Each line stands by itself: so many of this size, or so many of that. Of a board with a
    direction nothing is turned, and the first number of a size lies along the sheet's first.
    """
    from kerfwright.ledger.exchange import exact_size
    from kerfwright.makes import what_they_make

    bare = unit_of(unit)
    sizes = [parsed(lambda text=text: kw.parse_size(text, bare)) for text in size or ()]  # type: ignore[misc]
    width = parsed(lambda: kw.parse_length(kerf, bare, "kerf", zero=True))
    lines, facts = [], []
    directed: dict[str, None] = {}
    for one in what_they_make(ledger_at(ledger).state(), sizes, kerf=width):
        proof = "" if one.proved else "; more was not ruled out"
        numbers = ", ".join(map(str, one.offcuts))
        many = "" if len(one.offcuts) == 1 else "s"
        whence = f"{one.board}, from offcut{many} {numbers}{proof}"
        if one.directed:
            directed[one.board] = None
        lines.append(f"{one.count:>4} of {shown(one.size):<14} {whence}")
        facts.append(
            {"board": one.board, "size": exact_size(one.size), "count": one.count,
             "offcuts": list(one.offcuts), "proved": one.proved,
             "no_turn": one.directed}
        )  # fmt: skip
    lines += [f"Nothing of {name} is turned, since it has a direction." for name in directed]
    answer(lines or ["Nothing of these sizes."], {"makes": facts}, as_json=as_json)
