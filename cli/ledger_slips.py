"""`kerfwright ledger slips`: how many windows a slip sheet serves."""

from __future__ import annotations

from typing import Annotated

import typer

from .ledger_common import AsJson, LedgerFile, answer, ledger_at, noted, recording_at, shown

app = typer.Typer()


def _windows(text: str) -> int:
    """Return a number of windows; that it is one a slip sheet serves is for the ledger to say."""
    try:
        return int(text)
    except ValueError:
        from kerfwright.ledger.slips import MOST_A_SLIP

        told = f"{text!r} is no number of windows; say a whole number from 1 to {MOST_A_SLIP:,}"
        raise typer.BadParameter(told) from None


@app.command("slips")
def slips_command(
    windows: Annotated[
        int | None,
        typer.Option(
            metavar="N", parser=_windows, help="From now on one serves so many windows: 1 to 1000."
        ),
    ] = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Say how many windows are cut over a slip sheet before it is worn.

    That is ten, if you set nothing: common practice, no source. With fewer, those that are worn
    by that go off the rack at once.
    """
    from kerfwright.ledger.rack import set_slip_windows

    if windows is None:
        each = ledger_at(ledger).state().windows_a_slip
        many = "" if each == 1 else "s"
        answer((f"One slip sheet serves {each} window{many}.",), {"windows": each}, as_json=as_json)
        return
    entry = set_slip_windows(recording_at(ledger), windows)
    many = "" if windows == 1 else "s"
    told = [f"One slip sheet serves {windows} window{many} from now on"]
    told += [
        f"throw out {event.count} of {event.board}, {shown(event.size)}: worn"
        for event in entry.events
        if event.event == "slips retired"
    ]
    noted(
        entry,
        done="; ".join(told),
        otherwise=f"One slip sheet serves {windows} window{many} already; nothing was recorded.",
        as_json=as_json,
    )
