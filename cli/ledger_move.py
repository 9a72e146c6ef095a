"""`kerfwright ledger move`: put offcuts somewhere else."""

from __future__ import annotations

from typing import Annotated

import typer

from .ledger_common import AsJson, LedgerFile, noted, recording_at

app = typer.Typer()


@app.command("move")
def move_command(
    numbers: Annotated[list[int], typer.Argument(metavar="NUMBER", help="Which offcuts.")],
    to: Annotated[str, typer.Option(metavar="PLACE", help="Where they are put.")],
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Put offcuts somewhere else."""
    from kerfwright.ledger.rack import move

    entry = move(recording_at(ledger), numbers, to)
    many = "" if len(entry.offcuts) == 1 else "s"
    done = f"Offcut{many} {', '.join(map(str, entry.offcuts))}: now at {to}"
    noted(entry, done=done, otherwise="They are there already.", as_json=as_json)
