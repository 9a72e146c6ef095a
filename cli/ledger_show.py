"""`kerfwright ledger show`: the life of one offcut."""

from __future__ import annotations

from typing import Annotated

import typer

from .ledger_common import (
    AsJson,
    LedgerFile,
    answer,
    kept_facts,
    kept_line,
    ledger_at,
    shown,
    source_words,
)

app = typer.Typer()


@app.command("show")
def show_command(
    number: Annotated[int, typer.Argument(metavar="NUMBER", help="What is pencilled on it.")],
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Show the life of one offcut, event by event."""
    from kerfwright.ledger.state import fold
    from kerfwright.ledger.words import changes

    events = ledger_at(ledger).events()
    undone = {event.undoes for event in events}
    state = fold(events)
    life = [event for event in events if event.offcut == number]
    if not life:
        state.kept(number)  # which says that there is none
    kept = state.offcuts.get(number)
    lines = [f"{number:>4}  its coming was undone" if kept is None else kept_line(kept)]
    for event in life:
        told, job = [event.event], f"job {event.job}"
        changed = changes(events, event)
        if event.width is not None and not any(one.startswith("size ") for one in changed):
            told.append(shown(event.size))
        if event.event == "corrected" and event.area and event.width is None:
            told.append(f"no longer counted as {event.board}")
        told += [job] if event.job and not (event.note or "").startswith(f"{job},") else []
        if event.place and not any(one.startswith("place ") for one in changed):
            told.append(f"at {event.place}")
        told += changed
        told += [source_words(event.note)] if event.note else []
        mark = "  (undone)" if event.entry in undone else ""
        lines.append(f"      {event.at[:16].replace('T', ' ')}  {', '.join(told)}{mark}")
    facts = {
        **({"number": number} if kept is None else kept_facts(kept)),
        "life": [
            {"seq": e.seq, "entry": e.entry, "at": e.at, "event": e.event, "job": e.job,
             "place": e.place, "note": e.note, "changed": list(changes(events, e)),
             "undone": e.entry in undone}
            for e in life
        ],
    }  # fmt: skip
    answer(lines, facts, as_json=as_json)
