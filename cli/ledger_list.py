"""`kerfwright ledger list`: what is on the rack."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import (
    AsJson,
    LedgerFile,
    UnitOption,
    answer,
    kept_facts,
    kept_line,
    ledger_at,
    parsed,
    shown,
    unit_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.ledger.state import Kept, State

app = typer.Typer()


@app.command("list")
def list_command(
    board: Annotated[
        str | None, typer.Option(metavar="NAME", help="Only this board, or part of its name.")
    ] = None,
    holds: Annotated[
        str | None, typer.Option(metavar="SIZE", help="Only offcuts that hold this, either way.")
    ] = None,
    place: Annotated[str | None, typer.Option(metavar="PLACE", help="Only this place.")] = None,
    older: Annotated[
        int | None, typer.Option(metavar="DAYS", min=0, help="Only what came so long ago.")
    ] = None,
    gone: Annotated[bool, typer.Option("--gone", help="Also what is no longer there.")] = False,
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """List the offcuts, the full sheets and the slip sheets."""
    state = ledger_at(ledger).state()
    wanted = None if holds is None else parsed(lambda: kw.parse_size(holds, unit_of(unit)))
    found = [
        kept
        for kept in state.offcuts.values()
        if (gone or kept.here)
        and _is_of(kept.board, board)
        and (place is None or kept.place == place)
        and (wanted is None or _holds(kept, wanted))
        and (older is None or _age(kept) >= older)
    ]
    counted = [] if wanted or place or older is not None else list(_counted(state, board))
    lines = [*map(kept_line, found), *(line for line, _ in counted)]
    facts = {
        "offcuts": [kept_facts(kept) for kept in found],
        "counted": [one for _, one in counted],
    }
    answer(lines or ["Nothing."], facts, as_json=as_json)


def _is_of(name: str, part: str | None) -> bool:
    return part is None or part.casefold() in name.casefold()


def _holds(kept: Kept, wanted: kw.Size) -> bool:
    usable = kept.usable
    if usable is None:
        return False
    short, long = sorted((usable.width, usable.height))
    narrow, tall = sorted((wanted.width, wanted.height))
    return narrow <= short and tall <= long


def _age(kept: Kept) -> int:
    from kerfwright.ledger.sums import age_in_days

    return age_in_days(kept.since, datetime.now().astimezone())


def _counted(state: State, part: str | None) -> Iterator[tuple[str, dict[str, object]]]:
    from kerfwright.ledger.exchange import exact_size

    for what, counts in (("full sheet", state.sheets), ("slip sheet", state.slips)):
        for (board, size), count in counts.items():
            if count and _is_of(board, part):
                free = state.free_sheets(board, size) if what == "full sheet" else count
                aside = f", {count - free} set aside" if free != count else ""
                many = "" if count == 1 else "s"
                facts: dict[str, object] = {
                    "kind": what, "board": board, "size": exact_size(size), "count": count,
                    "free": free,
                }  # fmt: skip
                if what == "slip sheet":
                    facts["windows"] = state.scored[board, size]
                worn = _worn(state, board, size) if what == "slip sheet" else ""
                yield f"{count:>4} {what}{many}, {shown(size)} of {board}{aside}{worn}", facts


def _worn(state: State, board: str, size: kw.Size) -> str:
    windows = state.scored[board, size]
    return f", scored by {windows} window{'' if windows == 1 else 's'}" if windows else ""
