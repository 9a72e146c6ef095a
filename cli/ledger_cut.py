"""`kerfwright ledger cut`: a job is cut; its leftovers go on the rack."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import (
    AsJson,
    LedgerFile,
    UnitOption,
    answer,
    parsed,
    recording_at,
    shown,
    unit_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.ledger import Entry

app = typer.Typer()


@app.command("cut")
def cut_command(
    job: Annotated[
        str, typer.Argument(metavar="JOB", help="Its number, its plan.json, or its folder.")
    ],
    place: Annotated[str, typer.Option(metavar="PLACE", help="Where new offcuts are put.")] = "",
    drop_out: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LABEL=SIZE",
            help="The windows of these mats are cut too; their drop-outs are kept.",
        ),
    ] = None,
    bought: Annotated[
        bool,
        typer.Option(
            "--bought", help="Sheets that were set aside and are gone since were bought anew."
        ),
    ] = False,
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Book a job as cut.

    What it took goes, what it left comes on the rack. Pencil the new numbers on
    the new offcuts. Doing it twice does nothing twice.
    """
    book, bare = recording_at(ledger), unit_of(unit)
    sizes = {}
    for text in drop_out or ():
        label, equals, size = text.rpartition("=")
        if not equals:
            raise typer.BadParameter(f"{text!r} is not clear; write such as A=11x14")
        sizes[label] = parsed(lambda size=size: kw.parse_size(size, bare))  # type: ignore[misc]
    done = kw.book_cut(book, kw.job_named(book, job), place=place, drop_outs=sizes, bought=bought)
    number, entry = done.job.number, done.entry
    facts = {"entry": entry.number, "job": number, "offcuts": list(entry.offcuts)}
    if not entry.number:
        told = f"Job {number} is booked as cut already; nothing was recorded."
        answer((told,), facts, as_json=as_json)
        return
    lines = [f"Job {number}, {done.job.name}, is cut (entry {entry.number})."]
    lines += _bought(entry)
    for event in entry.events:
        if event.event in {"made", "drop-out"}:
            new = "offcut" if event.event == "made" else "drop-out"
            lines.append(
                f"  new {new} {event.offcut}: {shown(event.size)} of {event.board}, {event.note}"
            )
        elif event.event == "slips made":
            lines.append(f"  {event.count} new slip sheets: {shown(event.size)} of {event.board}")
    answer(lines, facts, as_json=as_json)


def _bought(entry: Entry) -> Iterator[str]:
    """Yield the sheets that were bought for the job, by board and size."""
    counts: dict[tuple[str | None, kw.Size], int] = {}
    for event in entry.events:
        if event.event == "sheets in":
            key = (event.board, event.size)
            counts[key] = counts.get(key, 0) + (event.count or 0)
    for (board, size), count in counts.items():
        sheets = f"{count} full sheet{'' if count == 1 else 's'}, {shown(size)} of {board}"
        yield f"  {sheets}: not on the rack, so booked in as bought, and cut up"
