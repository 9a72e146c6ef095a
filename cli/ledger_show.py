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

    events = ledger_at(ledger).events()
    undone = {event.undoes for event in events}
    state = fold(events)
    life = [event for event in events if event.offcut == number]
    if not life:
        state.kept(number)  # which says that there is none
    kept = state.offcuts.get(number)
    lines = [f"{number:>4}  its coming was undone" if kept is None else kept_line(kept)]
    for event in life:
        told = [event.event]
        if event.width is not None:
            told.append(shown(event.size))
        told += [f"job {event.job}"] if event.job else []
        told += [f"at {event.place}"] if event.place else []
        told += [source_words(event.note)] if event.note else []
        mark = "  (undone)" if event.entry in undone else ""
        lines.append(f"      {event.at[:16].replace('T', ' ')}  {', '.join(told)}{mark}")
    facts = {
        **({"number": number} if kept is None else kept_facts(kept)),
        "life": [
            {"seq": e.seq, "entry": e.entry, "at": e.at, "event": e.event, "job": e.job,
             "place": e.place, "note": e.note, "undone": e.entry in undone}
            for e in life
        ],
    }  # fmt: skip
    answer(lines, facts, as_json=as_json)
