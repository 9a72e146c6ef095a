"""`kerfwright ledger cut`: a job is cut; its leftovers go on the rack."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import (
    AsJson,
    LedgerFile,
    UnitOption,
    answer,
    job_words,
    parsed,
    recording_at,
    shown,
    unit_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from kerfwright.ledger import DropOut, Entry
    from kerfwright.ledger.events import Event
    from kerfwright.ledger.state import State

    Alike = tuple[str, str | None, kw.Size]

__all__ = ["app", "elsewhere", "entry_lines", "numbers_before"]

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
            help="Keep what falls from the windows of these mats: 'A=11 x 14', or "
            "'A=2 of 11 x 14'. Can be said later, too.",
        ),
    ] = None,
    windows: Annotated[
        bool | None,
        typer.Option(
            "--windows/--no-windows",
            help="Whether the windows are cut, too, over slip sheets; they are, if not said.",
            show_default=False,
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
    wanted = dict(_wanted(drop_out or (), bare))
    if len(wanted) != len(drop_out or ()):
        raise typer.BadParameter("--drop-out names the same mats twice")
    done = kw.book_cut(
        book, kw.job_named(book, job), place=place, drop_outs=wanted, windows=windows, bought=bought
    )
    number, entry = done.job.number, done.entry
    facts = {"entry": entry.number, "job": number, "offcuts": list(entry.offcuts)}
    name = job_words(done.job, book.state())
    if not entry.number:
        what = "booked" if done.job.state == "cancelled" else "booked as cut"
        told = f"{name}, is {what} already; nothing was recorded."
        answer((told, *elsewhere(book.state(), number, place)), facts, as_json=as_json)
        return
    what = {"set aside": "is cut", "cut": "was cut before; added to it"}.get(
        done.job.state, "was cancelled when it was partly cut; added to what was made"
    )
    lines = [f"{name}, {what} (entry {entry.number})."]
    before = numbers_before(book.events(), number, entry.number)
    answer([*lines, *entry_lines(entry, before)], facts, as_json=as_json)


def numbers_before(events: Iterable[Event], job: int, entry: int) -> dict[Alike, list[int]]:
    """Return the numbers that a job gave when it was booked before, and that was undone."""
    listed = tuple(events)
    undone = {event.undoes for event in listed}
    numbers: dict[Alike, list[int]] = {}
    latest = 0
    for event in listed:
        if event.job != job or event.entry not in undone or event.entry >= entry:
            continue
        if event.event in {"made", "drop-out"} and event.offcut is not None:
            if event.entry != latest:
                latest, numbers = event.entry, {}
            numbers.setdefault(_alike(event), []).append(event.offcut)
    return numbers


def _alike(event: Event) -> Alike:
    return event.event, event.note, event.size


def elsewhere(state: State, job: int, place: str) -> Iterator[str]:
    """Say how to move what a job left, where a place is said after it was booked."""
    kept = [
        str(one.number)
        for one in state.offcuts.values()
        if one.job == job and one.here and place not in ("", one.place)
    ]
    if kept:
        move = f'kerfwright ledger move {" ".join(kept)} --to "{place}"'
        yield f"What it left stays where it was. To move it: {move}"


def _wanted(texts: Iterable[str], bare: kw.Unit) -> Iterator[tuple[str, DropOut]]:
    from kerfwright.ledger import DropOut

    for text in texts:
        label, equals, told = text.rpartition("=")
        count, of, size = told.rpartition(" of ")
        number = count.strip()
        if not equals or (of and not (number.isascii() and number.isdecimal() and int(number))):
            raise typer.BadParameter(
                f"{text!r} is not clear; write such as 'A=11 x 14' or 'A=2 of 11 x 14'"
            )
        each = parsed(lambda size=size: kw.parse_size(size, bare))  # type: ignore[misc]
        yield label.strip(), DropOut(each, int(number) if of else None)


def entry_lines(entry: Entry, before: Mapping[Alike, list[int]]) -> Iterator[str]:
    """Yield what is new on the rack, and what became of the slip sheets."""
    from kerfwright.ledger.words import edges_told

    windows = sum(e.count or 0 for e in entry.events if e.event == "windows cut")
    scored = sum(max(0, e.count or 0) for e in entry.events if e.event == "slips scored")
    yield from _bought(entry)
    for event in entry.events:
        if event.event in {"made", "drop-out"}:
            new = "offcut" if event.event == "made" else "drop-out"
            void = before.get(_alike(event), [])
            was = f" (was {void.pop(0)} before the undo: rub that out)" if void else ""
            edges = f", bad edges {edges_told(event.edges)}" if event.edges else ""
            what = f"{shown(event.size)} of {event.board}{edges}, {event.note}"
            yield f"  new {new} {event.offcut}{was}: {what}"
    made: Counter[str] = Counter()
    for event in entry.events:
        if event.event == "slips made":
            made[f"{shown(event.size)} of {event.board}"] += event.count or 0
    for what, count in made.items():
        yield f"  {_slips(count, 'new ')}: {what}"
    if windows:
        many = "" if windows == 1 else "s"
        without = windows - scored
        told = f", {without} of them over no slip sheet in the ledger" if without else ""
        yield f"  {windows} window{many} cut{told}"
    for event in entry.events:
        if event.event == "slips retired":
            what = f"{shown(event.size)} of {event.board}, {event.note}"
            yield f"  {_slips(event.count or 0)} to throw out, and off the ledger: {what}"


def _slips(count: int, new: str = "") -> str:
    return f"{count} {new}slip sheet{'' if count == 1 else 's'}"


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
