"""The windows of a job's mats: that they are cut, what falls out of them, and what they wear.

A drop-out is no new board: its area leaves the mat that it was part of. So it can only come from
mats that the job cut, one from each at most, and is smaller than they are.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ..errors import LedgerError
from ..lengths import Length, Size, Unit
from ..order import PieceKind
from ..stock import Grade
from .events import Event, read_exact, sized
from .rack import flag_text
from .sizes import refuse_tiny
from .slips import wear
from .sources import parent_of
from .state import CANCELLED, standing

if TYPE_CHECKING:
    from .state import Job, State

__all__ = ["DropOut", "drop_out_faults", "window_events"]

Known = tuple[Grade | None, bool | None]  # grade, and whether it is buffered


@dataclass(frozen=True, slots=True)
class DropOut:
    """What falls from the windows of one line of mats and is kept.

    Attributes
    ----------
    count
        How many in all; None for one from each mat.
    """

    size: Size
    count: int | None = None


@dataclass(slots=True)
class _Mats:
    """The mats of one line, as a job cut them."""

    board: str
    size: Size
    count: int = 0
    known: set[Known] = field(default_factory=set)

    @property
    def longest(self) -> Length:
        return max(self.size.width, self.size.height)

    @property
    def grade(self) -> Grade | None:
        grades = {grade for grade, _ in self.known}
        return grades.pop() if len(grades) == 1 else None

    @property
    def buffered(self) -> bool | None:
        flags = {flag for _, flag in self.known}
        return flags.pop() if len(flags) == 1 else None


def window_events(
    state: State, job: Job, drop_outs: Mapping[str, DropOut], *, every: bool, place: str
) -> Iterator[Event]:
    """Yield what becomes of cutting windows in the mats of a job that is cut.

    What was recorded before is not recorded twice. `state` is moved on by each event.

    Parameters
    ----------
    drop_outs
        By the label of the mats; their windows are cut too.
    every
        Whether all mats' windows are cut, or only those that `drop_outs` names.

    Raises
    ------
    LedgerError
        If a drop-out does not come from mats of the job.
    """
    pieces = _pieces(state, job)
    kinds: Any = job.plan.get("kinds", {})
    mats = {label: one for label, one in pieces.items() if kinds.get(label) == PieceKind.MAT}
    for label, one in drop_outs.items():
        _refuse(job, label, one, pieces, mats)
    counted = dict(job.windows)
    new = [n for n in mats if n not in counted and (every or n in drop_outs)]
    for label in new:
        board, count = mats[label].board, mats[label].count
        event = Event("windows cut", job=job.number, board=board, count=count, note=label)
        yield _moved(state, event)
    for label, one in drop_outs.items():
        already = dict(job.dropped).get(label, 0)
        wanted = mats[label].count if one.count is None else one.count
        if already >= wanted or (already and one.count is None):
            _refuse_others(state, job, label, one)
        for _ in range(wanted - already):
            yield _moved(state, _dropped(state, job, label, mats[label], one, place))
    unit = Unit(str(job.plan.get("unit", Unit.INCH)))
    yield from wear(state, job.number, [(mats[n].longest, mats[n].count) for n in new], unit)


def _refuse_others(state: State, job: Job, label: str, one: DropOut) -> None:
    """Refuse to be told otherwise of drop-outs that are in the ledger already."""
    where = _source(job, label)
    there = [kept for kept in state.offcuts.values() if (kept.job, kept.source) == where]
    numbers = ", ".join(str(kept.number) for kept in there)
    told = f"drop-outs of {label!r} are in the ledger already ({numbers})"
    for kept in there:
        if kept.size != one.size and not kept.amended:
            asked = str(one.size)
            raise LedgerError(
                f"{told}: {kept.number} as {kept.size}, and not {asked}; nothing was "
                f'recorded. `kerfwright ledger correct {kept.number} --size "{asked}"` corrects it'
            )
    if one.count is not None and one.count < len(there):
        raise LedgerError(
            f"{told}: {len(there)}, and not {one.count}; nothing was recorded. `kerfwright ledger "
            f"take {there[-1].number} --why spoiled` takes one off"
        )


def _source(job: Job, label: str) -> tuple[int, str]:
    """Return by what the drop-outs of a line are known."""
    return job.number, f"job {job.number}, window of {label}"


def _moved(state: State, event: Event) -> Event:
    state.apply(event)
    return event


def _pieces(state: State, job: Job) -> dict[str, _Mats]:
    """Return every line of a job, with how well its board is known; what was made of it."""
    step = Length(read_exact(str(job.plan["step"])))
    boards: Any = job.plan["boards"]
    found: dict[str, _Mats] = {}
    for board in boards:
        for layout in board["layouts"]:
            if job.state == CANCELLED and not layout.get("so_far"):
                continue
            known: Known = (board["grade"] and Grade(board["grade"]), board["buffered"])
            number = parent_of(layout["source"])
            if number is not None:
                parent = state.kept(number)
                known = (parent.grade, parent.buffered)
            for label, width, height, count in layout["pieces"]:
                size = Size(step * width, step * height)
                one = found.setdefault(label, _Mats(board["board"], size))
                one.count += count * layout["copies"]
                one.known.add(known)
    return found


def _refuse(
    job: Job, label: str, one: DropOut, pieces: Mapping[str, _Mats], mats: Mapping[str, _Mats]
) -> None:
    if label not in pieces:
        raise LedgerError(f"job {job.number} has no piece {label!r} to have a drop-out")
    if "kinds" not in job.plan:
        raise LedgerError(
            f"job {job.number} was planned before the ledger noted which pieces are mats, so that "
            "no drop-out can be taken from them; add it with `kerfwright ledger add --drop-out`"
        )
    if label not in mats:
        raise LedgerError(f"{label!r} of job {job.number} is a backer: no window is cut in it")
    mat = mats[label]
    refuse_tiny(one.size, "a drop-out")
    if not _falls_from(one.size, mat.size):
        told = f"the mat {label!r} ({mat.size})"
        raise LedgerError(f"a drop-out of {one.size} does not come from {told}")
    if one.count is not None and one.count > mat.count:
        cut = "1 mat" if mat.count == 1 else f"{mat.count} mats"
        raise LedgerError(
            f"job {job.number} has {cut} {label!r}, so that {one.count} drop-outs cannot come from "
            "it: each window has one"
        )


def _falls_from(size: Size, mat: Size) -> bool:
    """Return whether a mat has room for the window, with a border all round."""
    short, long = sorted((size.width, size.height))
    narrow, tall = sorted((mat.width, mat.height))
    return short < narrow and long < tall


def _dropped(state: State, job: Job, label: str, mats: _Mats, one: DropOut, place: str) -> Event:
    """Return a new drop-out; it is no better known than what its mat was cut from."""
    event = Event(
        "drop-out",
        job=job.number,
        offcut=state.numbers + 1,
        board=mats.board,
        grade="unknown" if mats.grade is None else mats.grade.value,
        buffered=flag_text(mats.buffered),
        direction="unknown",
        place=place,
        note=_source(job, label)[1],
        details=json.dumps({"kind": PieceKind.MAT.value, "label": label}, ensure_ascii=False),
    )
    return sized(event, one.size)


def drop_out_faults(events: Iterable[Event]) -> Iterator[str]:
    """Yield every drop-out of a job that its mats cannot have given."""
    listed, undone = standing(events)
    cut: Counter[tuple[int, str]] = Counter()
    sizes: dict[tuple[int, str], Size] = {}
    given: Counter[tuple[int, str]] = Counter()
    for event in listed:
        if event.entry in undone or event.job is None:
            continue
        if event.event == "pieces" and event.told().get("kind") == PieceKind.MAT:
            cut[event.job, event.note or ""] += event.count or 0
            sizes[event.job, event.note or ""] = event.size
        elif event.event == "drop-out" and "label" in event.told():
            key = (event.job, str(event.told()["label"]))
            given[key] += 1
            if key not in sizes or not _falls_from(event.size, sizes[key]):
                yield f"event {event.seq}: no mat of job {event.job} has room for this drop-out"
    for (job, label), count in given.items():
        if count > cut[job, label]:
            yield f"job {job}: {count} drop-outs of {cut[job, label]} mats {label!r}"
