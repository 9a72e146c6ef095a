"""The summary that a person acts on, as text for a terminal or a pipe."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from kerfwright.lengths import Unit
from kerfwright.telling import Told, cautions, stopped, tell

from .terminal import width

if TYPE_CHECKING:
    from kerfwright.aftermath import Resumed, SetBack
    from kerfwright.audit.facts import AuditedPlan
    from kerfwright.ledger import Reserved
    from kerfwright.plan.model import BoardPlan, Plan

__all__ = ["rest_text", "summary_text", "verified_text"]

Rows = Iterable[tuple[str, Iterable[str]]]
KEY = 12  # columns that a row's name takes, indent included


def summary_text(
    audited: AuditedPlan, files: tuple[Path, ...], reserved: Reserved | None = None
) -> str:
    """Return what `plan` prints: an answer a board, then what to heed, then the files."""
    ledger = () if reserved is None else (("ledger", reserved.told), ("rack", reserved.why))
    rows = (*ledger, *_closing(audited.plan), ("files", _files(files)))
    return _text([*_boards(audited), ("", rows)], audited.plan.order)


def verified_text(audited: AuditedPlan) -> str:
    """Return what `verify` prints about a plan that passed."""
    cuts = sum(facts.cuts for facts in audited.facts)
    checked = (
        f"all {cuts} cuts replayed, pieces and leftovers recounted, nothing amiss",
        f"made by {audited.plan.program}",
    )
    rows = (("checked", checked), *_closing(audited.plan))
    return _text([*_boards(audited), ("", rows)], audited.plan.order)


def rest_text(
    old: AuditedPlan, resumed: Resumed, rest: AuditedPlan | None, files: tuple[Path, ...]
) -> str:
    """Return what `resume` prints: where the job stands, then the plan for the rest."""
    hand = ", ".join(f"{count} x {label}" for label, count in resumed.in_hand.items())
    rows: Rows = (
        ("in hand", (hand or "no finished piece yet",)),
        ("first", resumed.first),
        ("left out", resumed.left_out),
        ("compared", (set_back_told(old.plan, one) for one in resumed.set_backs)),
    )
    if rest is None:
        rows = (*rows, ("rest", ("nothing is left to cut: no plan is needed, no file is written",)))
        return _text([("", rows)], old.plan.order)
    notes = tuple(note for note in rest.plan.notes if note not in resumed.first)
    closing = (*_closing(replace(rest.plan, notes=notes)), ("files", _files(files)))
    return _text([("", rows), *_boards(rest), ("", closing)], rest.plan.order)


def set_back_told(plan: Plan, one: SetBack) -> str:
    """Return in a sentence what a board's rest takes beside what was planned for it."""
    sheets = f"{one.sheets} full sheet{'' if one.sheets == 1 else 's'} still to open"
    planned = f"{one.planned_sheets} as planned"
    if one.cost == 0:
        return f"{one.board}: {sheets}, {planned}; nothing is lost"
    if one.priced:
        amount = _money(abs(one.cost))
    else:
        inch = plan.unit is Unit.INCH
        shown = Unit.INCH if inch else Unit.CENTIMETRE
        square = abs(one.cost) / shown.millimetres**2
        amount = f"{_rounded(square)} square {'inches' if inch else 'centimetres'} of new sheet"
    told = f"this costs {amount}" if one.cost > 0 else f"this saves {amount}"
    return f"{one.board}: {sheets}, {planned}; {told}"


def _rounded(number: Fraction) -> str:
    return str(number.numerator) if number.denominator == 1 else f"about {round(number)}"


def _money(value: Fraction) -> str:
    if value.denominator == 1:
        return str(value.numerator)
    return f"{float(value):.2f}" if (value * 100).denominator == 1 else str(value)


def _boards(audited: AuditedPlan) -> Iterator[tuple[str, Rows]]:
    for board, told in zip(audited.plan.boards, tell(audited), strict=True):
        yield board.board, _rows(board, told)


def _rows(board: BoardPlan, told: Told) -> Rows:
    layouts = zip(board.layouts, told.cut, strict=True)
    return (
        ("take", told.take),
        ("proof", told.proof),
        ("cost", told.cost),
        ("cut", (f"{layout.id}, {made}" for layout, made in layouts)),
        ("left", told.left),
    )


def _closing(plan: Plan) -> Rows:
    return (
        ("stopped", stopped(plan)),
        ("assumed", plan.notes),
        ("take care", (caution.in_brief for caution in cautions(plan))),
    )


def _files(files: tuple[Path, ...]) -> Iterator[str]:
    shown = files if len(files) <= 4 else files[:3]
    yield from map(str, shown)
    if len(files) > len(shown):
        images = files[len(shown) :]
        yield f"{images[0]} to {images[-1].name}"


def _text(blocks: Iterable[tuple[str, Rows]], title: str) -> str:
    lines = [_styled(_one_line(title), "bold")]
    for heading, rows in blocks:
        lines.append("")
        if heading:
            lines.append(_styled(_one_line(heading), "bold"))
        for key, sentences in rows:
            lines += _row(key, sentences)
    return "\n".join(lines)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _row(key: str, sentences: Iterable[str]) -> Iterator[str]:
    """Yield one row, its name before the first line only, wrapped where somebody is looking."""
    name = f"  {key}"
    for sentence in sentences:
        for line in _wrapped(_one_line(sentence)):
            yield f"{name:<{KEY}} {line}"
            name = ""


def _wrapped(sentence: str) -> list[str]:
    columns = width()
    if columns is None:
        return [sentence]
    return textwrap.wrap(
        sentence,
        columns - KEY - 1,
        subsequent_indent="  ",
        break_long_words=False,  # the name of a file is copied whole or not at all
        break_on_hyphens=False,
    )


def _styled(text: str, style: str) -> str:
    """Return `text` in `style` on a terminal that shows styles, and unchanged elsewhere."""
    if width() is None:
        return text
    from rich.console import Console
    from rich.text import Text

    console = Console(file=sys.stdout)
    with console.capture() as captured:
        console.print(Text(text, style=style), end="", soft_wrap=True)
    return captured.get()
