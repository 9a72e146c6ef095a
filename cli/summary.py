"""The summary that a person acts on, as text for a terminal or a pipe."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from kerfwright.plan.model import AsPlanned
from kerfwright.telling import (
    UNBROKEN,
    Told,
    cautions,
    compared,
    counted,
    read_as_one,
    stopped,
    tell,
)

from .terminal import width

if TYPE_CHECKING:
    from kerfwright.aftermath import Idle, Resumed
    from kerfwright.audit.facts import AuditedPlan
    from kerfwright.ledger import Booked, Reserved
    from kerfwright.ledger.sentences import OfTheRack
    from kerfwright.ledger.state import Job
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
    old: AuditedPlan,
    resumed: Resumed,
    rest: AuditedPlan | None,
    files: tuple[Path, ...],
    gone_on: tuple[Job, Booked] | None = None,
    unknown_to: Path | None = None,
    of_the_rack: OfTheRack | None = None,
) -> str:
    """Return what `resume` prints: where the job stands, then the plan for the rest.

    Parameters
    ----------
    gone_on
        The job of the ledger, and what was booked in its place.
    unknown_to
        A ledger that knows nothing of the old plan.
    of_the_rack
        Why the rest takes each offcut of the rack or not.
    """
    hand = ", ".join(f"{count} x {label}" for label, count in resumed.in_hand.items())
    rows: Rows = (
        ("in hand", (hand or "no finished piece yet",)),
        ("left out", resumed.left_out),
        ("kept", (_idle(old.plan, one) for one in resumed.idle)),
        ("ledger", _of_the_ledger(gone_on, unknown_to, old.plan)),
        ("compared", _of_finished_boards(old.plan, resumed, rest)),
    )
    if rest is None:
        rows = (*rows, ("rest", ("nothing is left to cut: no plan is needed, no file is written",)))
        return _text([("", rows)], old.plan.order)
    notes = tuple(note for note in rest.plan.notes if note not in resumed.notes)  # said as "kept"
    why = () if of_the_rack is None else of_the_rack.why
    closing = (("rack", why), *_closing(replace(rest.plan, notes=notes)), ("files", _files(files)))
    return _text([("", rows), *_boards(rest), ("", closing)], rest.plan.order)


def _of_finished_boards(plan: Plan, resumed: Resumed, rest: AuditedPlan | None) -> Iterator[str]:
    """Yield what is to be said of boards that the new plan has nothing of."""
    going_on = set() if rest is None else {board.board for board in rest.plan.boards}
    for one in resumed.set_backs:
        if one.board not in going_on:
            then = AsPlanned(one.planned_sheets, one.planned_value, one.mistakes)
            told = compared(
                (one.sheets, one.value),
                then,
                square=None if one.priced else Fraction(1),
                unit=plan.unit,
                proof="fewest",
            )
            yield f"{one.board}, all made. {told}"


def _of_the_ledger(
    jobs: tuple[Job, Booked] | None, unknown_to: Path | None, plan: Plan
) -> Iterator[str]:
    """Yield what is set aside for the job that takes another's place."""
    from kerfwright.ledger.sentences import instead_of
    from kerfwright.lengths import format_size

    if unknown_to is not None:
        yield f"This plan was made without the ledger {unknown_to}; nothing is recorded there."
    if jobs is not None:
        before, booked = jobs
        after = booked.job
        yield from instead_of(booked.replaced)
        kept = [f"offcut {number}" for number in after.offcuts]
        kept += [
            f"{counted(count, 'sheet')} {format_size(size, plan.unit, with_unit=True)} of {board}"
            for (board, size), count in after.sheets
        ]
        aside = f" Set aside, with what is begun: {', '.join(kept)}." if kept else ""
        yield (
            f"Job {after.number} takes the place of job {before.number}.{aside} When it is cut: "
            f"kerfwright ledger cut {after.number}"
        )


def _idle(plan: Plan, one: Idle) -> str:
    from kerfwright.lengths import format_size

    size = format_size(one.size, plan.unit, rule=plan.rule, with_unit=True)
    board = f", of {one.board}" if len(plan.boards) > 1 else ""
    return f"{one.told(size)}{board}"


def _boards(audited: AuditedPlan) -> Iterator[tuple[str, Rows]]:
    for board, told in zip(audited.plan.boards, tell(audited), strict=True):
        yield board.board, _rows(board, told)


def _rows(board: BoardPlan, told: Told) -> Rows:
    layouts = zip(board.layouts, told.cut, strict=True)
    return (
        ("take", told.take),
        ("first", told.first),
        ("proof", told.proof),
        ("cost", told.cost),
        ("compared", told.compared),
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
    lines = textwrap.wrap(
        read_as_one(sentence),
        columns - KEY - 1,
        subsequent_indent="  ",
        break_long_words=False,  # the name of a file is copied whole or not at all
        break_on_hyphens=False,
    )
    return [line.replace(UNBROKEN, " ") for line in lines]


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
