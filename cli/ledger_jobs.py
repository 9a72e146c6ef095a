"""`kerfwright ledger jobs`: what is set aside, and for which job."""

from __future__ import annotations

from typing import Annotated

import typer

from .ledger_common import AsJson, LedgerFile, answer, ledger_at, shown

app = typer.Typer()


@app.command("jobs")
def jobs_command(
    every: Annotated[bool, typer.Option("--all", help="Also those cut or cancelled.")] = False,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """List the jobs that are planned and not yet cut."""
    from kerfwright.ledger.jobs import has_files

    jobs = [
        job for job in ledger_at(ledger).state().jobs.values() if every or job.state == "set aside"
    ]
    lines = []
    for job in jobs:
        held = [f"offcut {number}" for number in job.offcuts]
        held += [
            f"{count} full sheet{'' if count == 1 else 's'}, {shown(size)} of {board}"
            for (board, size), count in job.sheets
        ]
        lines.append(f"{job.number:>4}  {job.name}, planned {job.planned[:10]}, {job.state}")
        if job.state == "set aside" and not has_files(job):
            held.append(
                "its plan is not in that folder: plan it again, or `kerfwright ledger cancel "
                f"{job.number}`"
            )
        lines += [f"      {one}" for one in (job.folder, *held) if one]
    facts = [
        {"job": job.number, "name": job.name, "state": job.state, "planned": job.planned,
         "folder": job.folder, "plan_there": has_files(job), "offcuts": list(job.offcuts)}
        for job in jobs
    ]  # fmt: skip
    answer(lines or ["No job is waiting to be cut."], {"jobs": facts}, as_json=as_json)
