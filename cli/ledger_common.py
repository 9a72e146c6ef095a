"""What the ledger's commands share: which ledger, sizes as they are typed, and how they answer."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

import kerfwright as kw

from .interrupts import HAND
from .options import AsJson, LedgerFile, UnitOption
from .terminal import say

if TYPE_CHECKING:
    from kerfwright.ledger import Entry
    from kerfwright.ledger.state import Job, Kept, State

__all__ = [
    "AsJson",
    "LedgerFile",
    "UnitOption",
    "answer",
    "job_words",
    "kept_facts",
    "kept_line",
    "ledger_at",
    "noted",
    "parsed",
    "recording_at",
    "shown",
    "slips_of_the_pen",
    "source_words",
    "unit_of",
]

T = TypeVar("T")


def ledger_at(path: Path | None) -> kw.Ledger:
    """Return the ledger that was named, or else the usual one."""
    return kw.Ledger(kw.default_path() if path is None else path)


def recording_at(path: Path | None) -> kw.Ledger:
    """Return the same for a command that records something.

    One Ctrl-C is let pass: the entry is recorded by then or will be in a moment, and is told.
    """
    HAND.hold()
    return ledger_at(path)


def parsed(read: Callable[[], T]) -> T:
    """Return what `read` returns, its refusal told as a mistake in the command line."""
    try:
        return read()
    except kw.RefusedValue as refusal:
        told = f"{refusal.field} {refusal.value!r} {refusal.problem}; {refusal.accepted}"
        raise typer.BadParameter(told) from None


def unit_of(text: str | None) -> kw.Unit:
    """Return the unit that bare numbers take: inches where nothing is said."""
    from kerfwright.lengths import parse_unit

    return kw.Unit.INCH if text is None else parsed(lambda: parse_unit(text))


def answer(lines: Iterable[str], facts: Mapping[str, object], *, as_json: bool) -> None:
    """Print lines for a person, or facts for a program."""
    if as_json:
        say(json.dumps({"exit_status": 0, **facts}, indent=2))
    else:
        say("\n".join(lines))


def noted(entry: Entry, *, done: str, otherwise: str, as_json: bool) -> None:
    """Say what was recorded, and under which entry; or that there was nothing to record."""
    facts = {"entry": entry.number, "offcuts": list(entry.offcuts)}
    told = f"{done} (entry {entry.number})" if entry.number else otherwise
    answer((told,), facts, as_json=as_json)


def shown(size: kw.Size) -> str:
    """Return a size in the unit that it is simpler in."""
    return str(size)


def slips_of_the_pen(
    state: State, came: Iterable[tuple[str, kw.Size | None]], *, table: bool = False
) -> list[str]:
    """Return what looks like a slip in what came on the rack, which is recorded all the same.

    Parameters
    ----------
    came
        The boards, each with the size of its full sheets or None.
    table
        Whether a table told of them.
    """
    from kerfwright.ledger.offer import alike

    name, turn = "add it under the other name", "add it turned"
    if table:
        name = "change the name in the table, and import that"
        turn = "turn the size in the table, and import that"
    undo = f"If they are the same: kerfwright ledger undo,{'' if table else ' and'}"
    told: dict[frozenset[object], str] = {}
    for board, size in came:
        for other in alike(state, board):
            told.setdefault(
                frozenset((board, other)),
                f"There is a board {other} already, which plans keep apart from {board}. "
                f"{undo} {name}.",
            )
        turned = None if size is None else kw.Size(size.height, size.width)
        if size is None or turned is None or turned == size:
            continue
        if state.sheets[board, turned] or (board, turned) in state.prices:
            told.setdefault(
                frozenset((board, size, turned)),
                f"{board} is known in {shown(turned)} already. Where it has a direction, unequal "
                f"trims or pieces that may not turn, plans keep that apart from {shown(size)}. "
                f"{undo} {turn}.",
            )
    return list(told.values())


def job_words(job: Job, state: State) -> str:
    """Return a job's number and name, with its folder where another has the same name."""
    alike = [one for one in state.jobs.values() if one.name == job.name]
    folder = f" in {job.folder}" if len(alike) > 1 else ""
    return f"Job {job.number}, {job.name}{folder}"


def source_words(source: str) -> str:
    """Return where an offcut came from, without the digest by which a file is known again."""
    return re.sub(r" ?\[(.*) [0-9a-f]{12}\]$", r", \1", source)


def kept_line(kept: Kept) -> str:
    """Return an offcut in a line."""
    from kerfwright.ledger.words import edge_words

    grade = "grade unknown" if kept.grade is None else str(kept.grade)
    grade += {None: "", True: ", buffered", False: ", not buffered"}[kept.buffered]
    odd = "" if kept.directed else ", direction unknown"
    odd += f", bad edges {edge_words(kept.edges)}" if any(kept.edges) else ""
    place = f", at {kept.place}" if kept.place else ""
    state = "" if kept.state == "on the rack" else f", {kept.state}"
    job = f" for job {kept.aside}" if kept.aside and kept.state in {"set aside", "cut"} else ""
    fell = ", drop-out" if kept.came_by == "drop-out" else ""
    what = f"{kept.board}, {grade}{odd}{fell}, {kept.since[:10]}{place}{state}{job}"
    return f"{kept.number:>4}  {shown(kept.size):<20} {what}"


def kept_facts(kept: Kept) -> dict[str, object]:
    """Return an offcut for a program; lengths are exact, in text."""
    from kerfwright.ledger.exchange import exact_size
    from kerfwright.lengths import step_text

    return {
        "number": kept.number,
        "state": kept.state,
        "board": kept.board,
        "size": exact_size(kept.size),
        "usable": None if kept.usable is None else exact_size(kept.usable),
        "grade": None if kept.grade is None else kept.grade.value,
        "buffered": kept.buffered,
        "direction": "known" if kept.directed else "unknown",
        "edges": dict(
            zip(("left", "right", "top", "bottom"), map(step_text, kept.edges), strict=True)
        ),
        "place": kept.place,
        "since": kept.since,
        "source": kept.source,
        "came_by": kept.came_by,
        "job": kept.aside,
    }
