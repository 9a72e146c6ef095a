"""`kerfwright ledger check`: whether the ledger is whole, and where all board is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

import kerfwright as kw

from .ledger_common import AsJson, LedgerFile, answer, ledger_at
from .outcomes import BrokenLedger

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.ledger import Balance

app = typer.Typer()


@app.command("check")
def check_command(ledger: LedgerFile = None, as_json: AsJson = False) -> None:
    """Check that nothing is damaged, changed or missing.

    For every board: what came in is what went and what is there, in whole numbers.
    """
    book = ledger_at(ledger)
    checked = kw.check_ledger(book)
    if checked.faults:
        raise BrokenLedger(checked.faults)
    lines = [f"{checked.events} events, none changed, the chain whole: {book.path}"]
    lines += [line for balance in checked.balances for line in _lines(balance)]
    facts = {
        "events": checked.events,
        "boards": [_facts(balance) for balance in checked.balances],
        "remarks": list(checked.remarks),
    }
    answer([*lines, *checked.remarks], facts, as_json=as_json)


def _lines(one: Balance) -> Iterator[str]:
    yield f"{one.board}, in units of {one.unit} sq mm"
    rows = [
        *((f"came: {name}", area) for name, area in one.came),
        *((f"by measure or count: {name}", area) for name, area in one.changed),
        *((f"went: {name}", -area) for name, area in one.went),
        ("there: full sheets", -one.sheets),
        ("there: offcuts", -one.offcuts),
        ("there: slip sheets", -one.slips),
    ]
    wide = max(len(f"{area:+,}") for _, area in rows)
    for name, area in rows:
        yield f"  {name:<32} {area:>+{wide},}"
    yield f"  {'unaccounted for':<32} {one.difference:>{wide}}"


def _facts(one: Balance) -> dict[str, object]:
    return {
        "board": one.board, "unit_mm2": str(one.unit), "came": dict(one.came),
        "changed": dict(one.changed), "went": dict(one.went), "sheets": one.sheets,
        "offcuts": one.offcuts, "slip_sheets": one.slips, "difference": one.difference,
    }  # fmt: skip
