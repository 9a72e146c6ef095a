"""`kerfwright ledger cancel`: a job will not be cut; what was set aside is let go."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import AsJson, LedgerFile, answer, job_words, recording_at, shown
from .ledger_cut import elsewhere, entry_lines, numbers_before

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from kerfwright.ledger import Entry

    from .ledger_cut import Alike

app = typer.Typer()


@app.command("cancel")
def cancel_command(
    job: Annotated[
        str, typer.Argument(metavar="JOB", help="Its number, its plan.json, or its folder.")
    ],
    place: Annotated[
        str,
        typer.Option(metavar="PLACE", help="Where what is left of sheets begun is put."),
    ] = "",
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Let go what is set aside for a job.

    For a job that will not be cut as it was planned. If some of it is cut, say first which cuts
    are made: kerfwright resume. What is begun is then not let go but booked: its pieces, and what
    is left of it, with new numbers.
    """
    from kerfwright.ledger.exchange import exact_size

    book = recording_at(ledger)
    done = kw.cancel_job(book, kw.job_named(book, job), place=place)
    name = job_words(done.job, book.state())
    if not done.entry.number:
        lines = [f"{name}, is cancelled already; nothing was recorded."]
        lines += elsewhere(book.state(), done.job.number, place)
    else:
        lines = [f"{name}, is cancelled (entry {done.entry.number})."]
        before = numbers_before(book.events(), done.job.number, done.entry.number)
        lines += _begun(done.entry, before)
        lines += _let_go(done)
    entry = done.entry
    sheets = _sheets(done) if entry.number else {}
    facts = {
        "entry": entry.number,
        "job": done.job.number,
        "offcuts": list(entry.offcuts),
        "let_go": {
            "offcuts": [event.offcut for event in entry.events if event.event == "let go"],
            "sheets": [
                {"board": board, "size": exact_size(size), "count": count}
                for (board, size), count in sheets.items()
            ],
        },
    }
    answer(lines, facts, as_json=as_json)


def _begun(entry: Entry, before: Mapping[Alike, list[int]]) -> Iterator[str]:
    """Yield what had been cut into, and what became of it."""
    taken = [
        f"{event.count} full sheet{'' if event.count == 1 else 's'}, {shown(event.size)} of "
        f"{event.board}"
        for event in entry.events
        if event.event == "sheets cut"
    ]
    taken += [f"offcut {event.offcut}" for event in entry.events if event.event == "cut"]
    if taken:
        yield "Some of it was cut before; that is booked and not let go:"
        yield f"  cut up: {'; '.join(taken)}"
        for event in entry.events:
            if event.event == "pieces":
                many = "" if event.count == 1 else "s"
                yield f"  made: {event.count} piece{many} {event.note}, {shown(event.size)}"
        yield from entry_lines(entry, before)


def _sheets(done: kw.Booked) -> Counter[tuple[str, kw.Size]]:
    """Return the full sheets that were set aside for the job, and are free now."""
    sheets = Counter(dict(done.job.sheets))
    for event in done.entry.events:
        if event.event in {"sheets cut", "sheets in"}:
            count = event.count or 0
            sheets[event.board or "", event.size] -= (
                count if event.event == "sheets cut" else -count
            )
    return +sheets


def _let_go(done: kw.Booked) -> Iterator[str]:
    numbers = [str(event.offcut) for event in done.entry.events if event.event == "let go"]
    told = [f"offcut{'' if len(numbers) == 1 else 's'} {', '.join(numbers)}"] if numbers else []
    told += [
        f"{count} full sheet{'' if count == 1 else 's'}, {shown(size)} of {board}"
        for (board, size), count in _sheets(done).items()
    ]
    if told:
        yield f"Let go: {'; '.join(told)}."
