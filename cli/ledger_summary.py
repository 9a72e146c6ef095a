"""`kerfwright ledger summary`: what the rack is worth."""

from __future__ import annotations

from datetime import datetime

import typer

from .ledger_common import AsJson, LedgerFile, answer, ledger_at

app = typer.Typer()
SQUARE_METRE = 10**6


@app.command("summary")
def summary_command(ledger: LedgerFile = None, as_json: AsJson = False) -> None:
    """Sum up the rack, board by board.

    Sheets and offcuts with their area and worth, the offcuts' age, and slip sheets. Offcuts are
    worth what as much area of the board costs in full sheets, where a price is known.
    """
    from kerfwright.ledger.sums import sums
    from kerfwright.telling import counted, money

    lines, facts = [], []
    for one in sums(ledger_at(ledger).state(), datetime.now().astimezone()):
        worths = (one.sheets_worth if one.sheets else None, one.worth)
        of_sheets, worth = ("" if one is None else f", worth {money(one)}" for one in worths)
        oldest = "" if one.oldest is None else f", the oldest {counted(one.oldest, 'day')} old"
        lines += [
            one.board,
            f"  {counted(one.sheets, 'full sheet')}, {_area(one.sheets_area)}{of_sheets}",
            f"  {counted(one.offcuts, 'offcut')}, {_area(one.offcuts_area)}{worth}{oldest}",
            f"  {counted(one.slips, 'slip sheet')}",
        ]
        facts.append(
            {"board": one.board, "sheets": one.sheets, "sheets_mm2": str(one.sheets_area),
             "sheets_worth": None if one.sheets_worth is None else str(one.sheets_worth),
             "offcuts": one.offcuts, "offcuts_mm2": str(one.offcuts_area),
             "worth": None if one.worth is None else str(one.worth), "slip_sheets": one.slips,
             "oldest_days": one.oldest}
        )  # fmt: skip
    answer(lines or ["The rack is empty."], {"boards": facts}, as_json=as_json)


def _area(square_mm: object) -> str:
    from fractions import Fraction

    assert isinstance(square_mm, Fraction)
    inches = round(square_mm / Fraction(254, 10) ** 2)
    return f"{inches:,} sq in ({float(square_mm / SQUARE_METRE):.2f} m²)"
