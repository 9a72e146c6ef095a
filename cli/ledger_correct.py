"""`kerfwright ledger correct`: write down what an offcut is after all."""

from __future__ import annotations

from typing import Annotated

import typer

import kerfwright as kw

from .ledger_common import AsJson, LedgerFile, UnitOption, noted, parsed, recording_at, unit_of

app = typer.Typer()


@app.command("correct")
def correct_command(
    number: Annotated[int, typer.Argument(metavar="NUMBER", help="Which offcut.")],
    size: Annotated[
        str | None, typer.Option(metavar="SIZE", help="Its true size, as measured.")
    ] = None,
    board: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Its board; grade and buffering are then that board's, if not said.",
        ),
    ] = None,
    grade: Annotated[
        str | None, typer.Option(metavar="GRADE", help="What it is made of, or unknown.")
    ] = None,
    buffered: Annotated[
        str | None, typer.Option(metavar="yes|no|unknown", help="Whether it is buffered.")
    ] = None,
    direction: Annotated[
        str | None, typer.Option(metavar="known|unknown", help="How it lay on its sheet.")
    ] = None,
    edges: Annotated[
        str | None, typer.Option(metavar="EDGES", help="What bad edges lose: 'left 1/4'; or none.")
    ] = None,
    found: Annotated[bool, typer.Option("--found", help="It was lost, and is there.")] = False,
    note: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Write down what an offcut is after all.

    That is its size, board, grade, direction or bad edges; or that it was lost and is found.
    """
    from kerfwright.ledger.exchange import parse_buffered, parse_edges, parse_grade
    from kerfwright.ledger.rack import correct, find_again
    from kerfwright.ledger.words import changes

    book, bare = recording_at(ledger), unit_of(unit)
    given = (size, board, grade, buffered, direction, edges)
    if found and any(one is not None for one in given):
        raise typer.BadParameter("--found goes by itself; correct the rest with another command")
    if not found and all(one is None for one in given):
        raise typer.BadParameter("nothing is given to correct")
    if direction not in {None, "known", "unknown"}:
        raise typer.BadParameter(f"--direction {direction!r} is not clear; write known or unknown")
    kind = None if grade is None else parsed(lambda: parse_grade(grade))
    if found:
        entry = find_again(book, number)
    else:
        entry = correct(
            book,
            number,
            size=None if size is None else parsed(lambda: kw.parse_size(size, bare)),
            board=None if board is None else " ".join(board.split()) or None,
            grade=None if grade is None else "unknown" if kind is None else kind.value,
            buffered=None if buffered is None else parsed(lambda: parse_buffered(buffered)),
            directed=None if direction is None else direction == "known",
            edges=None if edges is None else parsed(lambda: parse_edges(edges, bare)),
            note=note,
        )
    told = [one for event in entry.events for one in changes(book.events(), event)]
    again = [f", and kept for job {e.job} again" for e in entry.events if e.event == "set aside"]
    done = f"Offcut {number}: {''.join(('found again', *again)) if found else '; '.join(told)}"
    noted(entry, done=done, otherwise="Nothing new; nothing was recorded.", as_json=as_json)
