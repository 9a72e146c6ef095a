"""`kerfwright ledger begin`: make a ledger."""

from __future__ import annotations

import typer

from .ledger_common import AsJson, LedgerFile, answer, recording_at

app = typer.Typer()


@app.command("begin")
def begin_command(ledger: LedgerFile = None, as_json: AsJson = False) -> None:
    """Make a ledger, where there is none yet."""
    book = recording_at(ledger)
    told = "A ledger was begun" if book.begin() else "There is a ledger already"
    answer((f"{told}: {book.path}",), {"ledger": str(book.path)}, as_json=as_json)
