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

    labels = [_label(one) for one in kept]
    try:
        draw_labels(labels, out, Paper.A4 if a4 else Paper.LETTER)
    except OSError as error:
        raise kw.LedgerError(f"{out}: cannot be written: {error.strerror or error}") from error
    many = "" if len(kept) == 1 else "s"
    remarks = [*_gone(kept), *_unshown(kept)]
    told = (f"{len(kept)} label{many}: {out}", *remarks)
    answer(told, {"files": [str(out)], "remarks": remarks}, as_json=as_json)


def _gone(kept: list[Kept]) -> Iterator[str]:
    """Yield which offcuts are not there by the ledger; perhaps a number was misread."""
    for one in kept:
        if not one.here:
            yield f"Offcut {one.number} is {one.state}, by the ledger; it has a label all the same."


def _unshown(kept: list[Kept]) -> Iterator[str]:
    """Yield what the labels' typeface cannot show of an offcut's board or source."""
    from kerfwright.drawings.rack_labels import lacking

    numbers: dict[str, list[int]] = {}
    for one in kept:
        signs = lacking(one.board + source_words(one.source))
        if signs:
            numbers.setdefault(signs, []).append(one.number)
    for signs, listed in numbers.items():
        many, has, each = ("", "has", "it") if len(listed) == 1 else ("s", "have", "each")
        labels = f"label{many} {', '.join(map(str, listed))}"
        yield (
            f"The typeface of the labels lacks {signs}, so that {labels} {has} empty boxes there, "
            f"with the signs' codes behind; write the name on {each} by hand."
        )


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
