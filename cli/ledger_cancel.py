"""`kerfwright ledger cancel`: a job will not be cut; what was set aside is let go."""

from __future__ import annotations

from typing import Annotated

import typer

import kerfwright as kw

from .ledger_common import AsJson, LedgerFile, job_words, noted, recording_at

app = typer.Typer()


@app.command("cancel")
def cancel_command(
    job: Annotated[
        str, typer.Argument(metavar="JOB", help="Its number, its plan.json, or its folder.")
    ],
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Let go what is set aside for a job.

    For a job that will not be cut as it was planned.
    """
    book = recording_at(ledger)
    done = kw.cancel_job(book, kw.job_named(book, job))
    name = job_words(done.job, book.state())
    already = f"{name}, is cancelled already; nothing was recorded."
    noted(done.entry, done=f"{name}, is cancelled", otherwise=already, as_json=as_json)
