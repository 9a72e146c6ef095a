"""`kerfwright ledger count`: a stock-take."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import (
    AsJson,
    LedgerFile,
    UnitOption,
    answer,
    noted,
    parsed,
    recording_at,
    shown,
    unit_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.ledger.rack import Found
    from kerfwright.ledger.state import State

app = typer.Typer()


@app.command("count")
def count_command(
    there: Annotated[
        list[str] | None,
        typer.Argument(metavar="NUMBER|FILE", help="The offcuts that are there, or a .csv."),
    ] = None,
    place: Annotated[
        str | None, typer.Option(metavar="PLACE", help="Only this place was counted.")
    ] = None,
    none: Annotated[
        bool, typer.Option("--none", help="No offcut is there: all of them are lost.")
    ] = False,
    sheets: Annotated[
        int | None,
        typer.Option(metavar="N", min=0, max=999_999, help="Instead: so many sheets are there."),
    ] = None,
    slips: Annotated[
        int | None,
        typer.Option(
            metavar="N", min=0, max=999_999, help="Instead: so many slip sheets are there."
        ),
    ] = None,
    board: Annotated[str, typer.Option(metavar="NAME", help="Of sheets or slip sheets.")] = "",
    size: Annotated[str, typer.Option(metavar="SIZE", help="Of sheets or slip sheets.")] = "",
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Reconcile the ledger with a count of the rack.

    Offcuts that are not there are lost, those that were lost and are there are found. A .csv
    has the column number, and size and place where they were looked at.
    """
    book, bare = recording_at(ledger), unit_of(unit)
    if sheets is None and slips is None:
        if board or size:
            raise typer.BadParameter("--board and --size go with --sheets or --slips")
        _count_offcuts(book, _found(there or [], bare, none=none), place, as_json=as_json)
        return
    alone = not (there or none or place is not None) and (sheets is None) != (slips is None)
    if not (board.strip() and size.strip() and alone):
        raise typer.BadParameter(
            "--sheets or --slips goes with --board and --size, and with nothing else"
        )
    name, each = " ".join(board.split()), parsed(lambda: kw.parse_size(size, bare))
    _count_stack(book, name, each, sheets, slips, as_json=as_json)


def _count_stack(
    book: kw.Ledger,
    name: str,
    each: kw.Size,
    sheets: int | None,
    slips: int | None,
    *,
    as_json: bool,
) -> None:
    from kerfwright.ledger.rack import count_sheets, count_slips

    if slips is not None:
        entry, number, what = count_slips(book, name, each, slips), slips, "slip sheet"
    else:
        number = sheets or 0
        entry, what = count_sheets(book, name, each, number), "full sheet"
    is_there = f"{what} is there" if number == 1 else f"{what}s are there"
    done = f"{number} {is_there}, {shown(each)} of {name}: written down"
    noted(entry, done=done, otherwise="So many are in the ledger.", as_json=as_json)


def _found(there: list[str], bare: kw.Unit, *, none: bool) -> tuple[Found, ...]:
    """Return what is there; that nothing is must be said."""
    from kerfwright.ledger.exchange import read_count
    from kerfwright.ledger.rack import Found

    if len(there) == 1 and Path(there[0]).suffix.lower() == ".csv":
        found = read_count(Path(there[0]), bare)
    elif all(word.isascii() and word.isdecimal() for word in there):
        found = tuple(Found(int(word)) for word in there)
    else:
        odd = next(word for word in there if not (word.isascii() and word.isdecimal()))
        raise typer.BadParameter(
            f"{odd!r} is no offcut's number; give the numbers of what is there, or one .csv file"
        )
    if found and none:
        raise typer.BadParameter("--none says that no offcut is there, and some are named")
    if not found and not none:
        told = f"{there[0]}: lists no offcut, so" if there else "no offcut is named, so"
        raise typer.BadParameter(
            f"{told} nothing was counted; give the numbers of what is there, or --none"
        )
    return found


def _count_offcuts(
    book: kw.Ledger, found: tuple[Found, ...], place: str | None, *, as_json: bool
) -> None:
    from kerfwright.ledger.rack import count_rack

    entry = count_rack(book, found, place=place)
    told = {
        what: sorted({e.offcut for e in entry.events if e.event == what and e.offcut})
        for what in ("seen", "found", "lost")
    }
    begun = list(_begun(book.state(), {one.number for one in found}, place))
    if not entry.number:
        where = "" if place is None else f" at {place}"
        other = "other " if begun else ""
        lines = [f"No {other}offcut{where} in the ledger either; nothing was recorded."]
        answer([*begun, *lines], {"entry": 0, **told}, as_json=as_json)
        return
    changed = sorted({e.offcut for e in entry.events if e.area and e.event == "seen" and e.offcut})
    lines = [
        f"{what}: {', '.join(map(str, numbers)) or 'none'}"
        for what, numbers in (*told.items(), ("of another size", changed))
    ]
    lines += [*begun, f"(entry {entry.number})"]
    answer(lines, {"entry": entry.number, **told}, as_json=as_json)


def _begun(state: State, seen: set[int], place: str | None) -> Iterator[str]:
    """Yield what was not seen, and is not lost, since a job has begun it."""
    from kerfwright.ledger.sources import begun_offcuts

    where = None if place is None else " ".join(place.split())
    for number, job in sorted(begun_offcuts(state).items()):
        kept = state.kept(number)
        if kept.here and number not in seen and where in (None, kept.place):
            yield f"offcut {number} is begun for job {job}: in parts on the bench, and not lost"
