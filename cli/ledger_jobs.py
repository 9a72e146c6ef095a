"""`kerfwright ledger jobs`: what is set aside, and for which job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from .ledger_common import AsJson, LedgerFile, answer, ledger_at, shown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.ledger.state import Job, State

app = typer.Typer()


@app.command("jobs")
def jobs_command(
    every: Annotated[bool, typer.Option("--all", help="Also those cut or cancelled.")] = False,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """List the jobs that are planned and not yet cut."""
    from kerfwright.ledger.jobs import has_files

    state = ledger_at(ledger).state()
    jobs = [job for job in state.jobs.values() if every or job.state == "set aside"]
    lines = []
    for job in jobs:
        held = [] if job.state == "cancelled" else list(_held(job))
        lines.append(f"{job.number:>4}  {job.name}, planned {job.planned[:10]}, {job.state}")
        if job.state == "set aside" and not has_files(job):
            held.append(
                f"its plan is not in that folder: {_way(state, job)}, or `kerfwright ledger cancel "
                f"{job.number}`"
            )
        lines += [f"      {one}" for one in (job.folder, *held) if one]
    facts = [
        {"job": job.number, "name": job.name, "state": job.state, "planned": job.planned,
         "folder": job.folder, "plan_there": has_files(job), "offcuts": list(job.offcuts)}
        for job in jobs
    ]  # fmt: skip
    answer(lines or ["No job is waiting to be cut."], {"jobs": facts}, as_json=as_json)


def _held(job: Job) -> Iterator[str]:
    """Yield what is set aside for a job, or was cut for it."""
    yield from (f"offcut {number}" for number in job.offcuts)
    for (board, size), count in job.sheets:
        yield f"{count} full sheet{'' if count == 1 else 's'}, {shown(size)} of {board}"


def _way(state: State, job: Job) -> str:
    """Say how a job comes by its plan again: a rest by resuming, since some of it is cut."""
    wanted, one = job.plan.get("goes_on_from"), job
    while (number := one.plan.get("instead_of")) in state.jobs:
        one = state.jobs[int(str(number))]
        if one.plan.get("digest") == wanted:
            return f"resume once more from {one.folder}/plan.json"
    return "plan it again"
