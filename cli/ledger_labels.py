"""`kerfwright ledger labels`: labels for offcuts, to print and stick on."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import AsJson, LedgerFile, answer, ledger_at, shown, source_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.drawings.rack_labels import RackLabel
    from kerfwright.ledger.state import Kept

app = typer.Typer()


@app.command("labels")
def labels_command(
    numbers: Annotated[
        list[int] | None,
        typer.Argument(metavar="NUMBER", help="Otherwise all that are there."),
    ] = None,
    out: Annotated[Path, typer.Option(metavar="FILE", help="A new .pdf file.")] = Path(
        "offcut-labels.pdf"
    ),
    a4: Annotated[bool, typer.Option("--a4", help="For A4 paper; otherwise letter.")] = False,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Draw labels to stick on offcuts.

    Each has the number, the size, the board with its grade, and a QR code of the same.
    """
    state = ledger_at(ledger).state()
    kept = [state.kept(number) for number in dict.fromkeys(numbers or ())]
    kept = kept or [one for one in state.offcuts.values() if one.here]
    if not kept:
        raise kw.LedgerError("there is no offcut to make a label for")
    if os.path.lexists(out):
        raise kw.LedgerError(f"{out}: is there already; give another name with --out")
    from kerfwright.drawings.paper import Paper
    from kerfwright.drawings.rack_labels import draw_labels

    draw_labels([_label(one) for one in kept], out, Paper.A4 if a4 else Paper.LETTER)
    many = "" if len(kept) == 1 else "s"
    answer((f"{len(kept)} label{many}: {out}",), {"files": [str(out)]}, as_json=as_json)


def _label(kept: Kept) -> RackLabel:
    from kerfwright.drawings.rack_labels import RackLabel

    size = shown(kept.size)
    buffered = {True: "buffered", False: "not buffered", None: "buffering unknown"}[kept.buffered]
    grade = "grade unknown" if kept.grade is None else str(kept.grade)
    first, unit = size.partition(" x ")[0], size.rpartition(" ")[2]
    along = f"{first} {unit} lies along the sheet's first side"
    lines = (
        size,
        kept.board,
        f"{grade}, {buffered}",
        along if kept.directed else "direction unknown",
        *_bad_edges(kept),
        f"{kept.since[:10]}, {source_words(kept.source)}",
    )
    code = f"kerfwright offcut {kept.number}; {size}; {kept.board}; {grade}; {buffered}"
    return RackLabel(str(kept.number), lines, code)


def _bad_edges(kept: Kept) -> Iterator[str]:
    named = zip(("left", "right", "top", "bottom"), kept.edges, strict=True)
    bad = ", ".join(f"{name} {length}" for name, length in named if length)
    if bad:
        yield f"take off its bad edges: {bad}"
