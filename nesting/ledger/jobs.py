"""The loop: a plan sets aside what it takes, and the job, once cut, books what became of it."""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import LedgerError
from ..lengths import Length, Size
from ..order import PieceKind
from ..plan.files import plan_to_json
from ..plan.model import LeftoverKind, SourceKind
from ..stock import Board, Grade
from .book import Entry, square
from .events import Event, area_text, length_text, read_exact, sized
from .offer import Offer, offer_of, unfit
from .rack import edges_text, flag_text, price_event
from .sources import PART, begun_offcuts, edges_on, left_parts, parent_of
from .state import ASIDE, CUT, LOST, Job, Kept, State
from .windows import DropOut, window_events
from .words import edge_words

if TYPE_CHECKING:
    from ..audit.facts import AuditedPlan, LayoutFacts
    from ..plan.model import Layout, Plan
    from .book import Ledger

Made = Any  # what was planned, as it is read back from JSON

__all__ = [
    "Booked",
    "book_cut",
    "cancel_job",
    "cancelled",
    "followers",
    "gone_on_as",
    "has_files",
    "is_begun",
    "job_named",
    "layout_details",
    "open_job_of",
    "plan_digest",
    "refuse_begun",
    "refuse_undone",
    "set_aside",
    "told_changes",
]


@dataclass(frozen=True, slots=True)
class Booked:
    """What became of a request about a job.

    Attributes
    ----------
    entry
        What was recorded; its number is 0 where that had been done before.
    job
        The job as it stood before.
    replaced
        The job of the same folder that was let go for it, if any.
    """

    entry: Entry
    job: Job
    replaced: Job | None = None


def open_job_of(state: State, folder: str) -> Job | None:
    """Return the job of that folder that is neither cut nor cancelled."""
    found = (job for job in state.jobs.values() if job.folder == folder and job.state == ASIDE)
    return next(found, None)


def followers(state: State, job: Job) -> list[Job]:
    """Return the jobs that took the place of a job, one after the other."""
    numbers = {job.number}
    later = []
    for number, one in sorted(state.jobs.items()):
        if one.plan.get("instead_of") in numbers:
            numbers.add(number)
            later.append(one)
    return later


def has_files(job: Job) -> bool:
    """Return whether the folder of a job holds the very plan.json that it was planned with."""
    try:
        text = (Path(job.folder) / "plan.json").read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError, ValueError):
        return False
    return digest_of(text) == job.plan.get("digest")


def plan_digest(plan: Plan) -> str:
    """Return the digest by which the plan.json of a plan is known."""
    return digest_of(plan_to_json(plan))


def digest_of(text: str) -> str:
    """Return the digest by which a plan.json is known."""
    return f"sha256:{hashlib.sha256(text.encode()).hexdigest()}"


# --- setting aside ------------------------------------------------------------------------------


def set_aside(ledger: Ledger, offer: Offer, audited: AuditedPlan) -> Booked:
    """Keep what an audited plan takes for its job, in one transaction.

    A job of the same folder that was neither cut nor cancelled is replaced; where it is the very
    same plan nothing is recorded.

    Raises
    ------
    LedgerError
        If what the ledger offers this order has changed since, saying what changed.
    """
    digest = plan_digest(audited.plan)
    kept: list[Job] = []
    replaced: list[Job] = []

    def drafts(state: State) -> Iterator[Event]:
        before = open_job_of(state, offer.folder)
        number = state.jobs_numbered + 1
        letting_go = cancelled(state, before) if before is not None else ()
        # This lets the earlier job go in `state` too.
        _refuse_changes(offer, offer_of(state, offer.asked, offer.folder))
        if before is not None and before.plan.get("digest") == digest:
            kept.append(before)
            return
        if before is not None:
            replaced.append(before)
        yield from letting_go
        yield from _planned(state, offer, audited, number, digest)

    entry = ledger.record(drafts)
    if kept:
        return Booked(entry, kept[0])
    planned = next(event for event in entry.events if event.event == "job planned")
    job = ledger.state().job(planned.job or 0)
    return Booked(entry, job, replaced[0] if replaced else None)


def _refuse_changes(offer: Offer, current: Offer) -> None:
    changes = told_changes(dict(offer.basis), dict(current.basis))
    if offer.order.boards != current.order.boards and not changes:
        changes.append("what the ledger says of a board")
    if changes:
        told = "; ".join(changes)
        raise LedgerError(
            f"the ledger has changed since this plan was begun ({told}); plan it again"
        )


def told_changes(before: Mapping[str, str], after: Mapping[str, str]) -> list[str]:
    """Return what changed of what a plan rests on, a name and a sentence each."""
    return [
        f"{name}: {_change(before.get(name), after.get(name))}"
        for name in dict.fromkeys([*before, *after])
        if before.get(name) != after.get(name)
    ]


def _change(before: str | None, after: str | None) -> str:
    if after is None:
        return "no longer to be had"
    return f"{before}, and now {after}" if before else f"new, {after}"


def _planned(
    state: State, offer: Offer, audited: AuditedPlan, number: int, digest: str
) -> Iterator[Event]:
    plan = audited.plan
    details = {
        "digest": digest,
        "step": length_text(plan.step),
        "mats": sum(p.qty for p in offer.order.pieces if p.kind is PieceKind.MAT),
        "kinds": {piece.label: piece.kind.value for piece in offer.order.pieces},
        "unit": offer.order.unit.value,
        "edges": dict(_bad_edges(state, audited)),
        "boards": [_board_details(offer, place, audited) for place in range(len(plan.boards))],
    }
    text = json.dumps(details, ensure_ascii=False, separators=(",", ":"))
    yield Event("job planned", job=number, note=plan.order, place=offer.folder, details=text)
    for board in offer.order.boards:
        yield from _learned(state, board, {one.board for one in plan.boards})
    for one, facts in zip(plan.boards, audited.facts, strict=True):
        for use in facts.sources:
            size = Size(plan.step * use.source.width, plan.step * use.source.height)
            if use.source.kind is SourceKind.OFFCUT:
                yield Event("set aside", job=number, offcut=int(use.source.id or 0))
            elif use.source.kind is SourceKind.SHEET:
                kept = min(use.copies, state.free_sheets(one.board, size))
                if kept:
                    event = Event("sheets set aside", job=number, board=one.board, count=kept)
                    yield replace(sized(event, size, kept), area=None)


def _bad_edges(state: State, audited: AuditedPlan) -> Iterator[tuple[str, str]]:
    """Yield the bad edges of each offcut that a plan takes, which its pages say to take off.

    Those of the others that it was offered too, if they have any: a rest may come to take them.
    """
    taken = {use.source for facts in audited.facts for use in facts.sources}
    for item in (item for board in audited.plan.boards for item in board.stock):
        if item.source.kind is SourceKind.OFFCUT:
            kept = state.kept(int(item.source.id or 0))
            if item.source in taken or any(kept.edges):
                yield str(kept.number), " ".join(map(length_text, kept.edges))


def _learned(state: State, board: Board, used: set[str]) -> Iterator[Event]:
    """Yield what the order tells of a board that the ledger did not know."""
    if board.name not in used:
        return
    known = state.boards.get(board.name)
    grade = board.grade if known is None or known.grade is None else None
    buffered = board.buffered if known is None or known.buffered is None else None
    directed = board.no_turn and (known is None or known.directed is None)
    if grade is not None or buffered is not None or directed:
        yield Event(
            "board described",
            board=board.name,
            grade=None if grade is None else grade.value,
            buffered=None if buffered is None else flag_text(buffered),
            direction="known" if directed else None,
        )
    for sheet in board.sheets:
        key = (board.name, sheet.size)
        if sheet.price is not None and state.prices.get(key) != sheet.price:
            yield price_event(board.name, sheet.size, sheet.price)


def _board_details(offer: Offer, place: int, audited: AuditedPlan) -> dict[str, object]:
    plan, facts = audited.plan.boards[place], audited.facts[place]
    board = next(one for one in offer.order.boards if one.name == plan.board)
    pairs = zip(plan.layouts, facts.layouts, strict=True)
    return {
        "board": plan.board,
        "grade": None if board.grade is None else board.grade.value,
        "buffered": board.buffered,
        "no_turn": board.no_turn,
        "layouts": [layout_details(layout, counted) for layout, counted in pairs],
    }


def layout_details(layout: Layout, counted: LayoutFacts) -> dict[str, object]:
    """Return what one layout takes and leaves, as a job keeps it."""
    source = layout.source
    pieces = Counter((one.label, one.width, one.height) for one in layout.pieces)
    left = Counter((one.kind.value, one.width, one.height) for one in layout.leftovers)
    return {
        "id": layout.id,
        "copies": layout.copies,
        "source": [source.kind.value, source.id, source.width, source.height],
        "pieces": [[*piece, count] for piece, count in pieces.items()],
        "left": [[*one, count] for one, count in left.items()],
        "kerf": counted.areas.kerf,
    }


# --- cancelling ---------------------------------------------------------------------------------


def is_begun(job: Job) -> bool:
    """Return whether the ledger knows of sheets or offcuts that were cut into for a job."""
    boards: Made = job.plan["boards"]
    return any(layout.get("so_far") for board in boards for layout in board["layouts"])


def refuse_begun(job: Job) -> None:
    """Refuse to put another job in the folder of one that is partly cut.

    Raises
    ------
    LedgerError
        If it is partly cut, saying how to end it.
    """
    if is_begun(job):
        raise LedgerError(
            f"job {job.number} ({job.name}) has this folder and is partly cut. When it is cut: "
            f"`kerfwright ledger cut {job.number}`. If it is not gone on with: `kerfwright ledger "
            f"cancel {job.number}`, which books what is begun. Or choose another folder"
        )


def cancelled(state: State, job: Job) -> tuple[Event, ...]:
    """Return the events that let go what is set aside for a job."""
    mine = (state.offcuts[number] for number in job.offcuts)
    held = [one.number for one in mine if (one.state, one.aside) == (ASIDE, job.number)]
    return (
        *(Event("let go", job=job.number, offcut=number) for number in held),
        Event("job cancelled", job=job.number),
    )


def cancel_job(ledger: Ledger, number: int, *, place: str = "") -> Booked:
    """Let go what is set aside for a job; one that is cancelled already is left so.

    Of a job that is partly cut, what is begun is not let go: the sheets and offcuts that were cut
    into go, its pieces are booked, and what is left of them comes on the rack, in the same entry.

    Parameters
    ----------
    place
        Where what is left of the sheets and offcuts that are begun is put.

    Raises
    ------
    LedgerError
        If there is no such job, it is cut already, or an offcut that is begun has changed since.
    """
    found: list[Job] = []

    def drafts(state: State) -> Iterator[Event]:
        job = state.job(number)
        found.append(job)
        if job.state == CUT:
            raise LedgerError(
                f"job {number} is cut already; `kerfwright ledger undo` takes that back"
            )
        if job.state != ASIDE:
            last = next((one for one in followers(state, job) if one.state == ASIDE), None)
            if last is not None:
                raise LedgerError(
                    f"job {number} went on as job {last.number}, which stands; cancel that one: "
                    f"kerfwright ledger cancel {last.number}"
                )
            return
        # Sheets that are begun were there, whatever a count found since.
        for event in _Cutting(state, job, place, bought=True).begun():
            state.apply(event)
            yield event
        yield from cancelled(state, state.job(number))

    return Booked(ledger.record(drafts), found[-1])


# --- cut ----------------------------------------------------------------------------------------


def job_named(ledger: Ledger, name: str) -> int:
    """Return the number of a job given by its number, its plan.json or the folder that holds it.

    Raises
    ------
    LedgerError
        If no job of this ledger has that number or that very plan, or several have the plan and
        none of them this folder; or the number of one job is the name of another one's folder.
    """
    path = Path(name)
    asked = re.fullmatch(r"(?:job[ -]?)?([0-9]+)", name, re.IGNORECASE)
    if asked and (name.isdecimal() or not path.exists()):
        return _numbered(ledger, int(asked[1]), path)
    return _of_plan(ledger, path)


def _numbered(ledger: Ledger, number: int, path: Path) -> int:
    """Return a job by its number, unless a folder of that name holds the plan of another job."""
    state = ledger.state()
    there = path / "plan.json"
    if not there.is_file():
        return state.job(number).number
    try:
        other = _of_plan(ledger, path)
    except LedgerError:
        return state.job(number).number
    if number in state.jobs and other != number:
        raise LedgerError(
            f"{path} is the number of a job ({state.job(number).name}), and a folder with the plan "
            f'of job {other} ({state.job(other).name}). Write "job {number}" for the one, or '
            f"{path}/ for the other; nothing was recorded"
        )
    return other


def _of_plan(ledger: Ledger, path: Path) -> int:
    """Return the number of the job of a plan.json, or of the folder that holds it."""
    if path.is_dir():
        path = path / "plan.json"
    try:
        digest = digest_of(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        told = "give a job's number, or the plan.json that was written for it"
        raise LedgerError(f"{path}: cannot be read; {told}") from error
    jobs = [job for job in ledger.state().jobs.values() if job.plan.get("digest") == digest]
    if not jobs:
        refuse_undone(ledger.events(), digest)
        raise LedgerError(
            f"{path}: nothing is set aside for this plan in {ledger.path}; it was planned without "
            "this ledger, or changed since. Plan it again"
        )
    here = {str(path.parent), str(path.parent.resolve())}
    ours = [job for job in jobs if job.folder in here]
    if not ours and len(jobs) > 1:
        told = ", ".join(str(job.number) for job in jobs)
        raise LedgerError(
            f"{path}: several jobs have this very plan, each in a folder of its own: {told}. Give "
            "the job's number"
        )
    among = ours or jobs
    return next((job for job in among if job.state == ASIDE), among[-1]).number


def refuse_undone(events: tuple[Event, ...], digest: str) -> None:
    """Refuse a plan whose job was undone: what it takes is kept for nobody.

    Raises
    ------
    LedgerError
        If it was, naming the job and the entry that took it back.
    """
    by = {event.undoes: event.entry for event in events if event.undoes is not None}
    for event in reversed(events):
        planned = event.event == "job planned" and event.entry in by
        if planned and event.told().get("digest") == digest:
            raise LedgerError(
                f"job {event.job} of this plan was undone, by entry {by[event.entry]}, and nothing "
                "is set aside for it; plan it again"
            )


def book_cut(
    ledger: Ledger,
    number: int,
    *,
    place: str = "",
    drop_outs: Mapping[str, Size | DropOut] | None = None,
    windows: bool | None = None,
    bought: bool = False,
) -> Booked:
    """Book a job as cut, in one transaction.

    What was set aside goes, sheets that the plan had to buy are booked in and go as well, and the
    offcuts and slip sheets that the job leaves are put on the rack. The windows of its mats wear
    slip sheets. What is booked already is left as it is. Of a job that was cancelled when it was
    partly cut, the windows of the mats that were made can be told, and their drop-outs.

    Parameters
    ----------
    place
        Where the new offcuts and drop-outs are put.
    drop_outs
        For each label of mats, the drop-outs to keep; they can be told later than the cut.
    windows
        Whether the windows are cut too; where it is not said they are, once the job is cut. Told
        False at first and True later, they are counted then.
    bought
        Sheets that were set aside, and that a count since then did not find, were bought anew.

    Raises
    ------
    LedgerError
        If there is no such job, it was cancelled, what it takes has changed since, saying what, or
        its mats cannot have given these drop-outs.
    """
    found: list[Job] = []
    kept = {
        label: one if isinstance(one, DropOut) else DropOut(one)
        for label, one in (drop_outs or {}).items()
    }
    if kept and windows is False:
        raise LedgerError("a drop-out falls from a window, and no window is said to be cut")

    def drafts(state: State) -> Iterator[Event]:
        job = state.job(number)
        found.append(job)
        every = bool(windows)
        if job.state == ASIDE:
            every = windows is not False
            made = tuple(_Cutting(state, job, place, bought=bought).events())
            for event in made:
                state.apply(event)
            yield from made
        elif job.state != CUT and not (job.made and (kept or windows)):
            raise LedgerError(_not_aside(state, job))
        yield from window_events(state, state.job(number), kept, every=every, place=place)

    return Booked(ledger.record(drafts), found[-1])


def _not_aside(state: State, job: Job) -> str:
    """Say why a job that is cancelled cannot be booked, and which went on in its place."""
    last = gone_on_as(state, job)
    if last is not None and last.state == ASIDE:
        return (
            f"job {job.number} went on as job {last.number}; book that one: kerfwright ledger cut"
            f" {last.number}"
        )
    if last is not None:
        return f"job {job.number} went on as job {last.number}, which is {last.state} by now"
    if job.made:
        return (
            f"job {job.number} was cancelled, and what was cut of it by then is booked. For the "
            "windows of its mats say --windows, for what fell from them --drop-out"
        )
    return f"job {job.number} was cancelled, and nothing is set aside for it; plan it again"


def gone_on_as(state: State, job: Job) -> Job | None:
    """Return the job that took a job's place in the end; None where none did."""
    last = job
    for _, one in sorted(state.jobs.items()):  # each came after the one that it replaces
        if one.plan.get("instead_of") == last.number:
            last = one
    return None if last is job else last


class _Cutting:
    """One job as it is booked."""

    def __init__(self, state: State, job: Job, place: str, *, bought: bool) -> None:
        self._state = state
        self._anew = bought
        self._job = job
        self._place = place
        self._next = state.numbers
        self._step = Length(read_exact(str(job.plan["step"])))
        self._used: Counter[tuple[str, Size]] = Counter()

    def events(self) -> Iterator[Event]:
        """Yield everything that becomes of the job."""
        boards: Made = self._job.plan["boards"]
        self._refuse_changes(boards)
        yield from self._became(boards)
        yield Event("job cut", job=self._job.number)

    def begun(self) -> Iterator[Event]:
        """Yield what becomes of the sheets and offcuts that were cut into so far, and no more."""
        boards: Made = self._job.plan["boards"]
        begun = [
            {**board, "layouts": [one for one in board["layouts"] if one.get("so_far")]}
            for board in boards
        ]
        self._refuse_changes(begun, "cancelled")
        # All at once, since what becomes of them is worked out from the state before.
        yield from tuple(self._became(begun))

    def _became(self, boards: Made) -> Iterator[Event]:
        for board in boards:
            for layout in board["layouts"]:
                yield from self._source(board, layout)
                yield from self._made(board, layout)
            yield from self._left_on_the_bench(board)

    def _size(self, width: int, height: int) -> Size:
        return Size(self._step * width, self._step * height)

    def _refuse_changes(self, boards: Made, what: str = "booked as cut") -> None:
        """Refuse where what is set aside is no longer what it was when the job was planned."""
        changed = [
            change
            for board in boards
            for layout in board["layouts"]
            if layout["source"][0] == SourceKind.OFFCUT
            for change in self._change(board, layout["source"])
        ]
        missing = [] if self._anew else list(self._missing())
        if changed or missing:
            raise LedgerError(self._refusal(changed, missing, what))

    def _refusal(
        self, changed: list[tuple[str, int]], missing: list[tuple[str, int]], what: str
    ) -> str:
        """Return what changed, and what can be done about it."""
        job = self._job.number
        told = "; ".join(what for what, _ in (*changed, *missing))
        ways = []
        if missing and not changed:
            ways.append(
                "If the missing sheets were bought for this job, "
                f"`kerfwright ledger cut {job} --bought` books them in and the job as cut"
            )
        since = {entry for _, entry in (*changed, *missing) if entry > self._job.entry}
        ways += [
            f"If what entry {entry} says is wrong, `kerfwright ledger undo {entry}` takes it back"
            for entry in sorted(since, reverse=True)
        ]
        last = f"cancel the job (`kerfwright ledger cancel {job}`) and plan it again"
        if is_begun(self._job):
            ways += [
                f"If offcut {number} is there after all, `kerfwright ledger correct {number} "
                "--found` keeps it for this job again; then say the same once more"
                for number in self._lost_since()
            ]
            last = (
                "put the ledger right (`kerfwright ledger correct`, say), and resume once more "
                f"from {Path(self._job.folder) / 'plan.json'}; the job that then "
                f"stands can be {what}"
            )
        ways.append(f"Otherwise {last}" if ways else last[0].upper() + last[1:])
        return (
            f"job {job} cannot be {what}, since the ledger has changed after it was "
            f"planned: {told}. {'. '.join(ways)}"
        )

    def _lost_since(self) -> list[int]:
        """Return the offcuts that are begun for the job, and are lost."""
        begun = begun_offcuts(self._state).items()
        return [
            number
            for number, job in begun
            if job == self._job.number and self._state.kept(number).state == LOST
        ]

    def _change(self, board: Made, source: list[Any]) -> Iterator[tuple[str, int]]:
        """Yield what forbids to cut an offcut now, with the entry that last changed it."""
        kept = self._state.kept(int(source[1]))
        planned = self._size(source[2], source[3])
        grade = None if board["grade"] is None else Grade(board["grade"])
        asked = Board(
            board["board"],
            grade=grade,
            buffered=board["buffered"],
            no_turn=board.get("no_turn", False),
        )
        why = ""
        if kept.state != ASIDE:
            why = f"is {kept.state}" + (", no longer set aside" if kept.here else "")
        elif kept.aside != self._job.number:
            why = f"is set aside for job {kept.aside} now"
        elif kept.board != asked.name:
            why = f"is of {kept.board!r} and not of {asked.name!r}"
        elif kept.usable != planned and (kept.size != planned or self._other_edges(kept)):
            shown = [str(one) if one else "nothing" for one in (kept.usable, planned)]
            why = f"has {shown[0]} to use and not {shown[1]}"
        elif self._other_edges(kept):
            why = f"has other bad edges than the pages say: {edge_words(kept.edges)}"
        else:
            why = unfit(kept, asked)
        if why:
            yield f"offcut {kept.number} {why}", kept.amended

    def _other_edges(self, kept: Kept) -> bool:
        planned: Made = self._job.plan.get("edges", {})  # a job planned earlier has none
        now = " ".join(map(length_text, kept.edges))
        return bool(planned.get(str(kept.number), now) != now)

    def _missing(self) -> Iterator[tuple[str, int]]:
        """Yield of which sheets set aside there are fewer now, with the entry that says so."""
        for (board, size), aside in self._job.sheets:
            there = self._state.sheets[board, size]
            if there < aside:
                kept = f"{aside} full sheet{'' if aside == 1 else 's'} of {board} ({size})"
                were = "was" if aside == 1 else "were"
                left = "none is" if not there else f"only {there} {'is' if there == 1 else 'are'}"
                told = f"{kept} {were} set aside, and {left} there"
                yield told, self._state.missed.get((board, size), 0)

    def _source(self, board: Made, layout: Made) -> Iterator[Event]:
        kind, name, width, height = layout["source"][:4]
        if kind == PART:
            return  # it was accounted for with the sheet that it comes from
        size, copies, job = self._size(width, height), layout["copies"], self._job.number
        if kind == SourceKind.SHEET:
            yield from self._bought(board["board"], size, copies)
            event = Event("sheets cut", job=job, board=board["board"], count=copies)
            yield self._from(sized(event, size, copies), layout)
            return
        kept = self._state.kept(int(name))
        event = Event("cut", job=job, offcut=kept.number, board=kept.board)
        yield self._from(sized(event, kept.size), layout)
        lost = square(kept.size) - square(size)
        lost -= _still_on(board)["", layout["id"]] * self._step.mm**2
        if lost:
            trim = Event("trim", job=job, board=kept.board, note="bad edges", area=area_text(lost))
            yield self._from(trim, layout)

    def _bought(self, board: str, size: Size, copies: int) -> Iterator[Event]:
        """Yield the sheets that are neither set aside for the job nor free on the rack."""
        key = (board, size)
        # Of what is set aside for it all that is there, though a count found too few for all jobs.
        mine = min(dict(self._job.sheets).get(key, 0), self._state.sheets[key])
        free = self._state.free_sheets(*key, job=self._job.number)
        there = max(mine, free) - self._used[key]
        bought = copies - min(copies, there)
        self._used[key] += copies - bought
        if bought:
            note = f"for job {self._job.number}, not in the ledger before"
            event = Event("sheets in", job=self._job.number, board=board, count=bought, note=note)
            yield sized(event, size, bought)

    def _from(self, event: Event, layout: Made, **more: str) -> Event:
        return replace(event, details=json.dumps({"layout": layout["id"], **more}))

    def _kind(self, label: str) -> dict[str, str]:
        """Return whether these pieces are mats or backers, where the plan says."""
        kinds: Made = self._job.plan.get("kinds", {})
        return {"kind": kinds[label]} if label in kinds else {}

    def _made(self, board: Made, layout: Made) -> Iterator[Event]:
        copies, job, name = layout["copies"], self._job.number, board["board"]
        for label, width, height, count in layout["pieces"]:
            event = Event("pieces", job=job, board=name, count=count * copies, note=label)
            event = sized(event, self._size(width, height), count * copies)
            yield self._from(event, layout, **self._kind(label))
        for kind, width, height, count in layout["left"]:
            size, number = self._size(width, height), count * copies
            if kind == LeftoverKind.OFFCUT:
                yield from (self._offcut(board, layout, size) for _ in range(number))
                continue
            what = "slips made" if kind == LeftoverKind.SLIP_SHEET else kind
            event = Event(what, job=job, board=name, count=number)
            yield self._from(sized(event, size, number), layout)
        for what in ("kerf", "scrap", "trim"):
            yield from self._lost(what, board, layout, layout.get(what, 0) * copies)

    def _lost(self, what: str, board: Made, layout: Made, steps: int) -> Iterator[Event]:
        """Yield an area that has no size of its own."""
        if steps:
            area = area_text(steps * self._step.mm**2)
            event = Event(what, job=self._job.number, board=board["board"], area=area)
            yield self._from(event, layout)

    def _left_on_the_bench(self, board: Made) -> Iterator[Event]:
        """Yield what becomes of the parts that no later plan cut from."""
        still_on = _still_on(board)
        for layout, part, is_kept in left_parts(board["layouts"]):
            own = {**layout, "id": part.name}
            if is_kept and part.keeps_edges:
                size = self._size(*part.lies)
                edges = [self._step * one for one in part.edges]
                yield replace(self._offcut(board, own, size), edges=edges_text(edges))
                continue
            on = min(part.trim, still_on[part.name, layout["id"]])
            still_on[part.name, layout["id"]] -= on
            yield from self._lost("trim", board, layout, part.trim - on)
            if is_kept:
                yield self._kept(board, own, part.kind, self._size(part.width, part.height))

    def _kept(self, board: Made, layout: Made, kind: str, size: Size) -> Event:
        if kind == LeftoverKind.OFFCUT:
            return self._offcut(board, layout, size)
        what = "slips made" if kind == LeftoverKind.SLIP_SHEET else "scrap"
        event = Event(what, job=self._job.number, board=board["board"], count=1)
        return self._from(sized(event, size), layout)

    def _offcut(self, board: Made, layout: Made, size: Size) -> Event:
        """Return a new offcut; it is no better known than what it was cut from."""
        self._next += 1
        grade, buffered, directed = board["grade"] or "unknown", board["buffered"], True
        number = parent_of(layout["source"])
        if number is not None:
            parent = self._state.kept(number)
            grade = "unknown" if parent.grade is None else parent.grade.value
            buffered, directed = parent.buffered, parent.directed
        event = Event(
            "made",
            job=self._job.number,
            offcut=self._next,
            board=board["board"],
            grade=grade,
            buffered=flag_text(buffered),
            direction="known" if directed else "unknown",
            place=self._place,
            note=f"job {self._job.number}, layout {layout['id']}",
        )
        return self._from(sized(event, size), layout)


def _still_on(board: Made) -> Counter[tuple[str, str]]:
    """Return how much of whose trim came on the rack with kept parts, by part and layout."""
    found: Counter[tuple[str, str]] = Counter()
    for one in edges_on(board["layouts"]):
        found[one.part, one.layouts[0]] += one.area
    return found
