"""`kerfwright ledger undo`: take an entry back, by another entry."""

from __future__ import annotations

from typing import Annotated

import typer

from .ledger_common import AsJson, LedgerFile, answer, recording_at

app = typer.Typer()


@app.command("undo")
def undo_command(
    entry: Annotated[
        int | None, typer.Argument(metavar="ENTRY", help="Which; otherwise the latest.")
    ] = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Undo the latest entry, or the one named.

    Not one that something later rests on. Undoing is an entry too: nothing is taken out.
    """
    from kerfwright.ledger.words import entry_words

    done = recording_at(ledger).undo(entry)
    told = f"Entry {done.number} no longer counts: {entry_words(done.events)}"
    answer((told,), {"undone": done.number, "offcuts": list(done.offcuts)}, as_json=as_json)
