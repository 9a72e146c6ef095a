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
    void = [str(e.offcut) for e in done.events if e.event in {"added", "made", "drop-out"}]
    lines = [told]
    if void:
        many = "" if len(void) == 1 else "s"
        named = ", ".join(void[:12]) + (f" and {len(void) - 12} more" if len(void) > 12 else "")
        one = "it" if len(void) == 1 else "one of them"
        lines.append(f"Rub out the number{many} {named}: no offcut gets {one} again.")
    answer(lines, {"undone": done.number, "offcuts": list(done.offcuts)}, as_json=as_json)
