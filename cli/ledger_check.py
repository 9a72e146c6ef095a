"""`kerfwright ledger check`: whether the ledger is whole, and where all board is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import AsJson, LedgerFile, answer, ledger_at, shown
from .outcomes import BrokenLedger

if TYPE_CHECKING:
    from collections.abc import Iterator
    from fractions import Fraction

    from kerfwright.ledger import Balance
    from kerfwright.ledger.trace import Item, Trace

app = typer.Typer()


@app.command("check")
def check_command(
    trace: Annotated[
        bool, typer.Option("--trace", help="Trace all board, item by item, to where it is now.")
    ] = False,
    mark: Annotated[
        str | None,
        typer.Option(metavar="MARK", help="What an earlier check gave to write down."),
    ] = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Check that nothing is damaged, changed or missing.

    For every board: what came in is what went and what is there, in whole numbers. The mark at
    the end is to be written down elsewhere; with --mark a later check goes through it.
    """
    book = ledger_at(ledger)
    checked = kw.check_ledger(book, mark=mark)
    if checked.faults:
        raise BrokenLedger(checked.faults)
    lines = [f"{checked.events} events, none changed, the chain whole: {book.path}"]
    for balance in checked.balances:
        one = next(one for one in checked.traces if one.board == balance.board)
        lines += _traced(one, balance.unit) if trace else _lines(balance)
    lines += checked.remarks
    if checked.events:
        lines.append(f"Mark of this check, to write down: {checked.mark}")
    facts: dict[str, object] = {
        "events": checked.events,
        "boards": [_facts(balance) for balance in checked.balances],
        "remarks": list(checked.remarks),
        "mark": checked.mark,
    }
    if trace:
        units = {balance.board: balance.unit for balance in checked.balances}
        facts["traces"] = [_trace_facts(one, units[one.board]) for one in checked.traces]
    answer(lines, facts, as_json=as_json)


def _in_units(unit: Fraction) -> str:
    """Return what the numbers of a board are."""
    from fractions import Fraction
    from math import isqrt

    inches = Fraction(254, 10) ** 2 / unit
    if inches == 1:
        return "in square inches"
    if inches.denominator == 1 and isqrt(inches.numerator) ** 2 == inches.numerator:
        return f"in squares of 1/{isqrt(inches.numerator)} in"
    return "in square millimetres" if unit == 1 else f"in units of {unit} sq mm"


def _lines(one: Balance) -> Iterator[str]:
    yield f"{one.board}, {_in_units(one.unit)}"
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


def _traced(one: Trace, unit: Fraction) -> Iterator[str]:
    """Yield where all of a board came from and is now, and what each layout was cut into."""
    from kerfwright.ledger.trace import CAME, CHANGED, PARTS

    def number(area: Fraction) -> str:
        return f"{int(area / unit):,}"

    yield f"{one.board}, {_in_units(unit)}"
    wide = max((len(number(item.area)) for item in one.items), default=1)
    for part in PARTS:
        items = [item for item in one.items if item.part == part]
        if items:
            yield f"  {part}: {number(one.of(part))}"
            yield from (f"    {number(item.area):>{wide}}  {_told(item)}" for item in items)
    came, rest = one.of(CAME, CHANGED), one.of(*PARTS[2:])
    parts = [f"{number(one.of(part))} {part}" for part in PARTS[2:] if one.of(part)]
    exact = "exact" if came == rest else "NOT exact"
    yield f"  {number(came)} = {' + '.join(parts) or '0'}: {exact}."
    for layout in one.layouts:
        where = f", layout {layout.layout}" if layout.layout else ""
        took = " + ".join(f"{number(item.area)} ({_told(item)})" for item in layout.took)
        if layout.kept:
            yield f"  job {layout.job} cut nothing from {took}, which is"
        else:
            yield f"  job {layout.job}{where} was cut from {took}, and became"
        yield from (f"    {number(item.area):>{wide}}  {_told(item)}" for item in layout.became)


def _told(item: Item) -> str:
    """Return an item in a line."""
    size = "" if item.size is None else f", {shown(item.size)}"
    if item.offcut is not None:
        what = "offcut" if item.what.startswith("offcut") else item.what
        name = f"{item.what.replace('offcut', f'offcut {item.offcut}', 1)}{size}"
        if what != "offcut":
            name = f"{item.what}: offcut {item.offcut}{size}"
        job = f", from job {item.job}" if item.part and item.job is not None else ""
        return f"{name}{job}{f': {item.now}' if item.now else ''}"
    label = f" {item.label}" if item.label else ""
    what = item.what
    if item.count == 1:
        for word in ("sheet", "piece", "part"):
            what = what.replace(f"{word}s", word)
    counted = f"{item.count} {what}{label}{size}" if item.size is not None else what
    job = f", job {item.job}" if item.part and item.job is not None and not item.now else ""
    return f"{counted}{job}{f', {item.now}' if item.now else ''}"


def _facts(one: Balance) -> dict[str, object]:
    return {
        "board": one.board, "unit_mm2": str(one.unit), "came": dict(one.came),
        "changed": dict(one.changed), "went": dict(one.went), "sheets": one.sheets,
        "offcuts": one.offcuts, "slip_sheets": one.slips, "difference": one.difference,
    }  # fmt: skip


def _trace_facts(one: Trace, unit: Fraction) -> dict[str, object]:
    return {
        "board": one.board,
        "unit_mm2": str(unit),
        "items": [_item_facts(item, unit) for item in one.items],
        "layouts": [
            {
                "job": layout.job,
                "layout": layout.layout,
                "cut_from": [_item_facts(item, unit) for item in layout.took],
                "became": [_item_facts(item, unit) for item in layout.became],
            }
            for layout in one.layouts
        ],
        "difference": int(one.difference / unit),
    }


def _item_facts(item: Item, unit: Fraction) -> dict[str, object]:
    from kerfwright.ledger.exchange import exact_size

    return {
        "part": item.part, "what": item.what, "area": int(item.area / unit),
        "size": None if item.size is None else exact_size(item.size), "count": item.count,
        "offcut": item.offcut, "job": item.job, "label": item.label, "now": item.now,
    }  # fmt: skip
