"""A job in the middle: the plan for the rest takes its place, and what is cut so far goes along.

Nothing is booked as cut before `book_cut`. Until then the new job keeps what the old one had
begun, and it remembers what became of each sheet: so that every area is accounted for, once.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import LedgerError
from ..lengths import Length, Size
from ..order import Piece
from ..plan.model import SourceKind
from ..plan.so_far import Holdings
from ..stock import Board, Grade, Offcut, Trim
from .events import Event, length_text, read_exact, sized
from .jobs import (
    Booked,
    cancelled,
    digest_of,
    followers,
    gone_on_as,
    layout_details,
    open_job_of,
    plan_digest,
    refuse_begun,
    refuse_undone,
    told_changes,
)
from .offer import TOO_SMALL, Passed, as_stock, sorted_out, unfit
from .sources import PART, is_of_the_rack, parent_of
from .state import ASIDE, CANCELLED, RACK, Job, Kept, State, fold
from .words import edge_words

if TYPE_CHECKING:
    from ..audit.facts import AuditedPlan
    from ..plan.model import BoardPlan, Plan, PlanTrim, Source
    from ..plan.so_far import SoFar
    from .book import Ledger

Made = Any  # what was planned, as it is read back from JSON

__all__ = ["Resuming", "go_on", "passed_over", "resumable"]


@dataclass(frozen=True, slots=True)
class Resuming:
    """A plan of this ledger that is to be gone on with.

    Attributes
    ----------
    digest
        Of its plan.json.
    origin
        The job that was planned so.
    held
        The job that what it takes is set aside for: the same, or one that went on from this plan
        before, and is now to be replaced.
    holdings
        What the ledger has of the plan's stock.
    """

    plan: Plan
    digest: str
    origin: Job
    held: Job
    holdings: Holdings


def resumable(ledger: Ledger, path: Path | str, plan: Plan) -> Resuming | None:
    """Return what a ledger knows of the plan in a file; None where it was planned without it.

    Raises
    ------
    LedgerError
        If its job is cut, cancelled or undone already, saying what to do.
    """
    digest = digest_of(Path(path).read_text(encoding="utf-8"))
    events = ledger.events()
    found = _resuming(fold(events), plan, digest, str(Path(path).absolute().parent))
    if found is None:
        refuse_undone(events, digest)
    return found


def _resuming(state: State, plan: Plan, digest: str, folder: str) -> Resuming | None:
    jobs = [job for job in state.jobs.values() if job.plan.get("digest") == digest]
    mine = [job for job in jobs if not job.plan.get("all_made")]
    mine = _of_folder(mine, folder)
    if not mine:
        return None
    origin = next((job for job in mine if job.state == ASIDE), mine[-1])
    # Another job may have been planned just so, and be partly cut as well.
    later = [one for one in followers(state, origin) if one.plan.get("goes_on_from") == digest]
    held = next((job for job in (origin, *later) if job.state == ASIDE), None)
    if held is None:
        raise LedgerError(_too_late(origin, later, gone_on_as(state, origin)))
    for event in cancelled(state, held):
        state.apply(event)
    return Resuming(plan, digest, origin, held, _holdings(state, plan, origin))


def _of_folder(jobs: list[Job], folder: str) -> list[Job]:
    """Return those of one plan that were planned into a folder, or all if there is but one place.

    Raises
    ------
    LedgerError
        If each has a folder of its own, and none has this one.
    """
    here = {folder, str(Path(folder).resolve())}
    ours = [job for job in jobs if job.folder in here]
    if not ours and len({job.folder for job in jobs}) > 1:
        told = "; ".join(f"job {job.number} in {job.folder}" for job in jobs)
        raise LedgerError(
            f"several jobs have this very plan, each in a folder of its own: {told}. Resume from "
            "the plan.json in that folder, or with --no-ledger"
        )
    return ours or jobs


def _too_late(origin: Job, later: Sequence[Job], last: Job | None) -> str:
    without = "or resume with --no-ledger, and correct the ledger by hand"
    if later:
        last = later[-1]
        return (
            f"job {origin.number} went on as job {last.number}, which is {last.state} by now; "
            f"resume from the newest plan, {without}"
        )
    if last is not None:
        return (
            f"job {origin.number} of this plan was replaced: the job went on as job {last.number}; "
            f"resume from the plan in {last.folder}, {without}"
        )
    if origin.state == CANCELLED:
        return (
            f"job {origin.number} of this plan was cancelled, and nothing is set aside for it; "
            f"plan it again, {without}"
        )
    return (
        f"job {origin.number} of this plan is booked as cut; take that back with `kerfwright "
        f"ledger undo` and the entry that booked it, {without}"
    )


def _holdings(state: State, plan: Plan, origin: Job) -> Holdings:
    asked = {board.board: _asked(board, origin) for board in plan.boards}
    mine = {(board.board, source) for board in plan.boards for source in _kept_of(board)}
    gone = {
        (board, source.id or "")
        for board, source in mine
        if not _there(state, plan, origin, asked[board], source)
    }
    still = {int(source.id or 0) for board, source in mine if (board, source.id) not in gone}
    return Holdings(
        gone=frozenset(gone),
        sheets=_sheets_there(state, plan, origin),
        names=frozenset(part[0] for _, entry in _entries(origin) for part in entry["parts"]),
        offcuts=tuple(_free(state, plan, tuple(asked.values()), still | _begun(origin))),
    )


def _kept_of(board: BoardPlan) -> Iterator[Source]:
    """Yield the offcuts of the ledger that a plan was offered."""
    return (item.source for item in board.stock if is_of_the_rack(item.source))


def _asked(board: BoardPlan, origin: Job) -> Board:
    """Return what a board must be, as it was when its job was planned."""
    boards: Made = origin.plan["boards"]
    known: Made = next((one for one in boards if one["board"] == board.board), {})
    grade = known.get("grade")
    return Board(
        board.board,
        grade=None if grade is None else Grade(grade),
        buffered=known.get("buffered"),
        no_turn=board.no_turn,
    )


def _sheets_there(state: State, plan: Plan, origin: Job) -> dict[tuple[str, Size], int]:
    """Return how many sheets there are for a plan; not those that were cut into before it."""
    step = Length(read_exact(str(origin.plan["step"])))
    sold = {
        (board.board, Size(plan.step * item.source.width, plan.step * item.source.height)): nominal
        for board in plan.boards
        for item in board.stock
        if (nominal := item.nominal) is not None
    }
    begun: Counter[tuple[str, Size]] = Counter()
    for board, entry in _entries(origin):
        kind, _, width, height = entry["source"][:4]
        if kind == SourceKind.SHEET:
            size = Size(step * width, step * height)
            begun[board, sold.get((board, size), size)] += 1
    named = {board.board for board in plan.boards}
    return {
        key: max(0, state.free_sheets(*key) - begun[key]) for key in state.sheets if key[0] in named
    }


def _begun(origin: Job) -> set[int]:
    """Return the offcuts that were cut into before a job was planned."""
    numbers = (parent_of(entry["source"]) for _, entry in _entries(origin))
    return {number for number in numbers if number is not None}


def _free(state: State, plan: Plan, boards: Sequence[Board], mine: set[int]) -> Iterator[Offcut]:
    """Yield the offcuts that may serve the plan's pieces, those left out that it has already."""
    fitting, _ = sorted_out(state, _pieces(plan), boards)
    for kept, usable in fitting:
        if kept.number not in mine:
            yield as_stock(kept, usable, boards)


def _pieces(plan: Plan) -> list[Piece]:
    """Return what a plan was asked for."""
    return [
        Piece(
            line.label,
            line.kind,
            line.qty,
            Size(plan.step * line.width, plan.step * line.height),
            board.board,
            line.turn,
        )
        for board in plan.boards
        for line in board.ordered
    ]


def passed_over(state: State, before: Resuming, rest: Plan, job: Job) -> tuple[Passed, ...]:
    """Return the offcuts of a rest's boards that it was not offered, and why.

    Parameters
    ----------
    state
        The ledger once the rest has the place of its job.
    job
        The job of the rest; what it has itself is left out.
    """
    boards = [_asked(board, before.origin) for board in rest.boards]
    _, passed = sorted_out(state, _pieces(rest), boards)
    # What is made already was ordered as well.
    left = "too small for any piece that is left to cut of its board"
    return tuple(
        replace(one, why=left) if one.why == TOO_SMALL else one
        for one in passed
        if one.number not in job.offcuts
    )


def _there(state: State, plan: Plan, origin: Job, board: Board, source: Source) -> bool:
    kept = state.offcuts.get(int(source.id or 0))
    size = Size(plan.step * source.width, plan.step * source.height)
    if kept is None or (kept.state, kept.board) != (RACK, board.name):
        return False
    if size not in (kept.usable, kept.size):  # its bad edges off, or for cuts to take off
        return False
    return not unfit(kept, board) and _edges(kept) == _planned_edges(origin, kept)


def _edges(kept: Kept) -> str:
    return " ".join(map(length_text, kept.edges))


def _planned_edges(origin: Job, kept: Kept) -> str:
    """Return the bad edges of an offcut as a job was planned with them; a job of old knows none."""
    edges: Made = origin.plan.get("edges", {})
    return str(edges.get(str(kept.number), _edges(kept)))


def _entries(job: Job) -> Iterator[tuple[str, Made]]:
    """Yield what was cut before a job was planned, sheet by sheet, with the board."""
    boards: Made = job.plan["boards"]
    for board in boards:
        for layout in board["layouts"]:
            if layout.get("so_far"):
                yield board["board"], layout


# --- the new job --------------------------------------------------------------------------------


def go_on(
    ledger: Ledger,
    before: Resuming,
    so_far: Sequence[SoFar],
    step: Length,
    rest: AuditedPlan | None,
    *,
    folder: Path | str,
) -> Booked:
    """Put a job for the rest in the place of a job that is partly cut, in one transaction.

    What is set aside and was not begun is let go, unless the rest takes it. What was begun stays
    set aside until the new job is booked as cut; then it goes, with everything that was made.

    Parameters
    ----------
    so_far
        What became of each sheet that was begun, in `step`.
    rest
        The plan for the rest, in the same step; None where nothing is left to cut.
    folder
        Where that plan is written.

    Raises
    ------
    LedgerError
        If the ledger has changed since `before` was read.
    """
    place = str(Path(folder).absolute()) if rest is not None else before.held.folder
    replaced: list[Job] = []

    def drafts(state: State) -> Iterator[Event]:
        held = state.jobs.get(before.held.number, before.held)
        letting_go = cancelled(state, held)
        now = _resuming(state, before.plan, before.digest, before.origin.folder)
        # This lets the held job go in `state` too.
        if now is None or now.held != before.held or now.holdings != before.holdings:
            changes = () if now is None else told_changes(_basis(before), _basis(now))
            told = f" ({'; '.join(changes)})" if changes else ""
            raise LedgerError(
                f"the ledger has changed since the rest was planned{told}; resume once more"
            )
        yield from letting_go
        other = open_job_of(state, place)
        if other is not None:
            refuse_begun(other)
            replaced.append(other)
            for event in cancelled(state, other):
                state.apply(event)
                yield event
        yield from _Following(state, before, so_far, step, rest, place).events()

    entry = ledger.record(drafts)
    planned = next(event for event in entry.events if event.event == "job planned")
    job = ledger.state().job(planned.job or 0)
    return Booked(entry, job, replaced[0] if replaced else None)


def _basis(before: Resuming) -> dict[str, str]:
    """Return what the rest rests on, a name and a sentence each, so that a change can be told."""
    there = before.holdings
    basis = {
        f"offcut {source.id}": "to be had as planned"
        for board in before.plan.boards
        for source in _kept_of(board)
        if (board.board, source.id) not in there.gone
    }
    for offcut in there.offcuts:
        trim = offcut.trim
        edges = edge_words((trim.left, trim.right, trim.top, trim.bottom))
        told = f", with bad edges {edges}" if trim != Trim() else ""
        basis[f"offcut {offcut.id}"] = f"{offcut.size} of {offcut.board}{told}, to be had"
    for (board, size), count in there.sheets.items():
        basis[f"sheets {size} of {board}"] = f"{count} to be had"
    return basis


class _Following:
    """The job that takes another's place."""

    def __init__(
        self,
        state: State,
        before: Resuming,
        so_far: Sequence[SoFar],
        step: Length,
        rest: AuditedPlan | None,
        place: str,
    ) -> None:
        self._state, self._before, self._so_far = state, before, so_far
        self._step, self._rest, self._place = step, rest, place
        self._number = state.jobs_numbered + 1
        self._parents: dict[tuple[str, str], int | None] = {}

    def events(self) -> Iterator[Event]:
        """Yield the planning of the job, and everything that is set aside for it."""
        details = self._details()
        text = json.dumps(details, ensure_ascii=False, separators=(",", ":"))
        name = self._before.origin.name if self._rest is None else self._rest.plan.order
        yield Event("job planned", job=self._number, note=name, place=self._place, details=text)
        sheets: Counter[tuple[str, Size]] = Counter()
        boards: Made = details["boards"]
        for board in boards:
            for layout in board["layouts"]:
                kind, own, width, height = layout["source"][:4]
                if kind == SourceKind.OFFCUT:
                    self._refuse_missing(int(own))
                    yield Event("set aside", job=self._number, offcut=int(own))
                elif kind == SourceKind.SHEET:
                    size = Size(self._step * width, self._step * height)
                    sheets[board["board"], size] += layout["copies"]
        for (name, size), count in sheets.items():
            kept = min(count, self._state.free_sheets(name, size))
            if kept:
                event = Event("sheets set aside", job=self._number, board=name, count=kept)
                yield replace(sized(event, size, kept), area=None)

    def _refuse_missing(self, number: int) -> None:
        kept = self._state.kept(number)
        if kept.state != RACK:
            raise LedgerError(
                f"offcut {number} was cut for this job, and the ledger has it as {kept.state}; "
                f"correct that first"
            )

    def _details(self) -> dict[str, object]:
        before = self._before
        plan = before.origin.plan
        boards = [self._board(board) for board in self._boards()]
        return {
            "digest": before.digest if self._rest is None else plan_digest(self._rest.plan),
            "step": length_text(self._step),
            "mats": plan.get("mats", 0),
            **{key: plan[key] for key in ("kinds", "unit") if key in plan},
            "edges": self._edges(boards),
            "goes_on_from": before.digest,
            "instead_of": before.held.number,
            "all_made": self._rest is None,
            "boards": boards,
        }

    def _edges(self, boards: Sequence[Made]) -> dict[str, str]:
        """Return the bad edges of each offcut that the job takes or may come to take.

        Of an offcut that the earlier pages had they are as these said; of one that the rest is
        offered anew, as they are now.
        """
        anew = {offcut.id for offcut in self._before.holdings.offcuts}
        sources = [layout["source"] for board in boards for layout in board["layouts"]]
        taken = {number for kind, number, *_ in sources if kind == SourceKind.OFFCUT}
        rest = () if self._rest is None else self._rest.plan.boards
        offered = {source.id or "" for board in rest for source in _kept_of(board)}
        edges = {}
        for number in sorted(taken | offered, key=int):
            kept = self._state.kept(int(number))
            planned = _planned_edges(self._before.origin, kept)
            told = _edges(kept) if number in anew else planned
            if number in taken or any(kept.edges):
                edges[number] = told
        return edges

    def _boards(self) -> list[Made]:
        boards: Made = self._before.origin.plan["boards"]
        return list(boards)

    def _board(self, old: Made) -> dict[str, object]:
        name = old["board"]
        factor = Length(read_exact(str(self._before.origin.plan["step"]))).steps(self._step)
        carried = [_times(one, factor) for one in old["layouts"] if one.get("so_far")]
        self._note_parents(name, carried)
        fresh = [self._entry(one) for one in self._so_far if one.board == name]
        self._note_parents(name, fresh)
        kept = {key: value for key, value in old.items() if key != "layouts"}
        return {**kept, "layouts": [*carried, *fresh, *self._planned(name)]}

    def _note_parents(self, board: str, entries: Sequence[Made]) -> None:
        for entry in entries:
            for part in entry["parts"]:
                self._parents[board, part[0]] = parent_of(entry["source"])

    def _entry(self, one: SoFar) -> Made:
        pieces = Counter(one.pieces)
        return {
            "id": one.sheet,
            "copies": 1,
            "so_far": True,
            "source": self._source(one.board, one.source),
            "pieces": [[*piece, count] for piece, count in pieces.items()],
            "left": [],
            "kerf": one.kerf,
            "scrap": one.scrap,
            "trim": one.trim,
            "parts": [
                [p.name, p.width, p.height, p.kind.value, p.trim, _sides(p.off), _sides(p.on)]
                for p in one.parts
            ],
        }

    def _planned(self, name: str) -> Iterator[Made]:
        if self._rest is None:
            return
        for plan, facts in zip(self._rest.plan.boards, self._rest.facts, strict=True):
            if plan.board == name:
                for layout, counted in zip(plan.layouts, facts.layouts, strict=True):
                    made = layout_details(layout, counted)
                    yield {**made, "source": self._source(name, layout.source)}

    def _source(self, board: str, source: Source) -> list[object]:
        """Return a source as a job's details have it; a part with the offcut it comes from."""
        if source.kind is not SourceKind.OFFCUT or is_of_the_rack(source):
            return [source.kind.value, source.id, source.width, source.height]
        parent = self._parents.get((board, source.id or ""))
        return [PART, source.id, source.width, source.height, parent]


def _times(entry: Made, factor: int) -> Made:
    """Return what was cut of a sheet in a step that is so many times finer."""
    kind, name, width, height, *parent = entry["source"]
    square = factor**2
    return {
        **entry,
        "source": [kind, name, width * factor, height * factor, *parent],
        "pieces": [[label, w * factor, h * factor, n] for label, w, h, n in entry["pieces"]],
        "kerf": entry["kerf"] * square,
        "scrap": entry["scrap"] * square,
        "trim": entry["trim"] * square,
        "parts": [
            [
                n,
                w * factor,
                h * factor,
                k,
                t * square,
                *([e * factor for e in one] for one in edges),
            ]
            for n, w, h, k, t, *edges in entry["parts"]
        ],
    }


def _sides(trim: PlanTrim) -> list[int]:
    return [trim.left, trim.right, trim.top, trim.bottom]
