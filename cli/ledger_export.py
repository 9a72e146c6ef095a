"""`kerfwright ledger export`: write the rack as CSV, or the whole ledger as JSON."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .ledger_common import AsJson, LedgerFile, answer, ledger_at

app = typer.Typer()


@app.command("export")
def export_command(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new .csv or .json file.")],
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Write the rack as CSV, or the ledger as JSON.

    CSV lists the offcuts, full sheets and slip sheets that are there; JSON holds everything
    that was ever recorded.
    """
    from kerfwright.ledger.exchange import export_csv, export_json, write_text

    forms = {".csv": export_csv, ".json": export_json}
    form = forms.get(file.suffix.lower())
    if form is None:
        raise typer.BadParameter(f"{file} ends in neither .csv nor .json, which says what to write")
    write_text(file, form(ledger_at(ledger)))
    answer((f"Written: {file}",), {"files": [str(file)]}, as_json=as_json)
