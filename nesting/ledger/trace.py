"""Where every bit of a board came from and where it is now, item by item, from the first sheet.

It is worked out from the events and from what stands, apart from the accounts that `state` keeps;
`check` holds the two equal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, pairwise
from typing import Any

from ..lengths import Length, Size
from .events import Event, read_exact
from .sources import PART, edges_on, left_parts
from .state import CUT, RACK, Kept, State, standing

__all__ = ["CutUp", "Item", "Trace", "cut_up", "traced", "where_now"]

CAME, CHANGED, THERE = "came in", "measured and counted", "there now"
PIECES, KERF, TRIM, SCRAP = "pieces", "kerf", "trim", "scrap"
RETIRED, GONE = "slip sheets retired", "gone otherwise"
PARTS = (CAME, CHANGED, PIECES, KERF, TRIM, SCRAP, RETIRED, GONE, THERE)
_BY_HAND = ("added", "drop-out")
_AMENDED = ("measured", "corrected", "seen")
_LEFT = ("pieces", "kerf", "scrap", "trim", "slips made", "made")
_TAKEN = ("sheets cut", "cut")
_OUT = ("used", "given away", "spoiled", "lost")
_TOOK, _BECAME = "took", "became"
Key = tuple[int, str, str]  # job, board and layout
Sides = dict[Key, list["Item"]]
Handed = tuple[str, Key, "Item"]


@dataclass(frozen=True, slots=True)
class Item:
    """One thing with its area.

    Attributes
    ----------
    part
        One of `PARTS`; empty for what a layout was cut from or into.
    what
        What sort of thing: ``full sheets``, ``offcut``, ``pieces``.
    area
        Exact square millimetres. What was counted or measured away, and drop-outs taken back out
        of pieces, are below zero.
    label
        Of pieces: the label that the order gives them.
    now
        Where it is now, or how it went.
    """

    part: str
    what: str
    area: Fraction
    size: Size | None = None
    count: int = 1
    offcut: int | None = None
    job: int | None = None
    label: str = ""
    now: str = ""


@dataclass(frozen=True, slots=True)
class CutUp:
    """What a layout of a job was cut from, and what it became; areas sum up to the same.

    Attributes
    ----------
    layout
        Its name; empty where the ledger does not say. Of parts that no layout was cut from, what
        the pages call them.
    rest
        What was cut and became nothing, in square millimetres; zero in a ledger that is whole.
    """

    job: int
    board: str
    layout: str
    took: tuple[Item, ...]
    became: tuple[Item, ...]

    @property
    def kept(self) -> bool:
        """Whether these are parts on the bench that nothing was cut from."""
        return bool(self.took) and all(one.label == self.layout for one in self.took)

    @property
    def rest(self) -> Fraction:
        """What was cut less what it became."""
        return _sum(self.took) - _sum(self.became)


@dataclass(frozen=True, slots=True)
class Trace:
    """One board's items, from the first sheet to now."""

    board: str
    items: tuple[Item, ...]
    layouts: tuple[CutUp, ...]

    def of(self, *parts: str) -> Fraction:
        """Return the area of some parts, in square millimetres."""
        return _sum(item for item in self.items if item.part in parts)

    @property
    def there(self) -> Fraction:
        """What is there now."""
        return self.of(THERE)

    @property
    def difference(self) -> Fraction:
        """What came in and is nowhere; zero where the ledger is whole."""
        return self.of(CAME, CHANGED) - self.of(*PARTS[2:])


def _sum(items: Iterable[Item]) -> Fraction:
    return sum((item.area for item in items), Fraction(0))


def where_now(kept: Kept) -> str:
    """Return where an offcut is: ``at C2, set aside for job 4``, ``cut for job 3``, ``lost``."""
    if not kept.here:
        return f"{kept.state} for job {kept.aside}" if kept.state == CUT else kept.state
    place = f"at {kept.place}" if kept.place else RACK
    return place if kept.state == RACK else f"{place}, set aside for job {kept.aside}"


def traced(events: Iterable[Event], state: State) -> tuple[Trace, ...]:
    """Return every board's trace.

    Parameters
    ----------
    state
        What the events lead to.
    """
    listed, undone = standing(events)
    counted = [event for event in listed if event.entry not in undone]
    layouts = cut_up(counted, state)
    boards = {event.board for event in counted if event.board is not None and event.area}
    boards |= {key[0] for counts in (state.sheets, state.slips) for key in counts}
    return tuple(
        Trace(
            board,
            tuple(_items(board, [e for e in counted if e.board == board], state)),
            tuple(one for one in layouts if one.board == board),
        )
        for board in sorted(boards)
    )


def _items(board: str, events: list[Event], state: State) -> Iterator[Item]:
    """Yield the items of one board, its events given, sorted by part."""
    found = chain(
        _counted(events, state), _by_hand(events), _of_jobs(events), _of_state(board, state)
    )
    yield from sorted(found, key=lambda item: PARTS.index(item.part))


def _counted(events: list[Event], state: State) -> Iterator[Item]:
    """Yield sheets and slip sheets as they came and went other than by a cut."""
    kinds = {
        "sheets in": (CAME, "full sheets"),
        "slips in": (CAME, "slip sheets"),
        "sheets counted": (CHANGED, "full sheets, counted"),
        "slips counted": (CHANGED, "slip sheets, counted"),
        "sheets out": (GONE, "full sheets"),
        "slips retired": (RETIRED, "slip sheets"),
    }
    sums: dict[tuple[str, str, Size, int | None, str], int] = {}
    for event in events:
        if event.event in kinds:
            part, what = kinds[event.event]
            went = event.note or "" if event.event == "sheets out" else ""
            key = (part, what, event.size, event.job, went)
            sums[key] = sums.get(key, 0) + (event.count or 0)
    for (part, what, size, job, went), count in sums.items():
        area = size.width.mm * size.height.mm * count
        told = _named(job, state, "bought for ") if part == CAME else went
        yield Item(part, what, area, size, count, job=job, now=told)


def _named(job: int | None, state: State, before: str = "") -> str:
    if job is None:
        return ""
    name = state.jobs[job].name if job in state.jobs else ""
    return f"{before}job {job}{f', {name}' if name else ''}"


def _by_hand(events: list[Event]) -> Iterator[Item]:
    """Yield offcuts that came other than by a cut, and what measuring them anew changed."""
    gains: dict[int, Fraction] = {}
    for event in events:
        if event.event in _BY_HAND and event.job is None:
            yield Item(CAME, "offcut", _area(event), event.size, offcut=event.offcut)
        elif event.event in _AMENDED and event.area and event.offcut:
            gains[event.offcut] = gains.get(event.offcut, Fraction(0)) + _area(event)
    for offcut, gain in gains.items():
        if gain:
            yield Item(CHANGED, "offcut, measured or corrected", gain, offcut=offcut)


def _of_jobs(events: list[Event]) -> Iterator[Item]:
    """Yield what jobs made and lost, and the drop-outs that were taken back out of their mats."""
    sums: dict[tuple[int | None, str], Fraction] = {}
    for event in events:
        if event.event == "pieces":
            yield Item(
                PIECES, "pieces", _area(event), event.size, event.count or 0, job=event.job,
                label=event.note or "",
            )  # fmt: skip
        elif event.event == "drop-out" and event.job is not None:
            yield Item(
                PIECES, "drop-out, back on the rack", -_area(event), event.size,
                offcut=event.offcut, job=event.job,
            )  # fmt: skip
        elif event.event in {KERF, TRIM, SCRAP}:
            key = (event.job, event.event)
            sums[key] = sums.get(key, Fraction(0)) + _area(event)
    for (job, what), area in sums.items():
        yield Item(what, what, area, job=job)


def _of_state(board: str, state: State) -> Iterator[Item]:
    """Yield what is there, and the offcuts that went other than by a cut."""
    for what, counts in (("full sheets", state.sheets), ("slip sheets", state.slips)):
        for (name, size), count in counts.items():
            if name == board and count:
                area = size.width.mm * size.height.mm * count
                aside = _kept_for(state, board, size) if what == "full sheets" else ""
                yield Item(THERE, what, area, size, count, now=aside)
    for kept in state.offcuts.values():
        if kept.board == board and (kept.here or kept.state in _OUT):
            part = THERE if kept.here else GONE
            area = kept.size.width.mm * kept.size.height.mm
            yield Item(part, "offcut", area, kept.size, offcut=kept.number, now=where_now(kept))


def _kept_for(state: State, board: str, size: Size) -> str:
    jobs = [one for one in state.jobs.values() if one.state == "set aside"]
    held = [(one.number, dict(one.sheets).get((board, size), 0)) for one in jobs]
    return ", ".join(f"{count} set aside for job {job}" for job, count in held if count)


def cut_up(events: Iterable[Event], state: State | None = None) -> tuple[CutUp, ...]:
    """Return every layout that was cut, with what it was cut from and into; undone ones left out.

    Of a job that went on from one partly cut, a sheet begun before became parts as well, and a
    layout may be cut from these. A part that no layout was cut from is an item of its own.

    Parameters
    ----------
    state
        Where given, each offcut says where it is now.
    """
    listed, undone = standing(events)
    took: Sides = {}
    became: Sides = {}
    offcuts = {} if state is None else state.offcuts
    told = {
        event.job or 0: event.told()
        for event in listed
        if event.event == "job planned" and event.entry not in undone
    }
    for event in listed:
        if event.entry in undone or event.job is None or event.area is None:
            continue
        side = took if event.event in _TAKEN else became if event.event in _LEFT else None
        if side is not None:
            key = (event.job, event.board or "", str(event.told().get("layout", "")))
            took.setdefault(key, [])
            side.setdefault(key, []).append(_cut_item(event, offcuts))
    for job in {key[0] for key in took}:
        for which, key, item in _handed_on(job, told.get(job, {}), {*took, *became}):
            took.setdefault(key, [])
            (took if which == _TOOK else became).setdefault(key, []).append(item)
    return tuple(CutUp(*key, tuple(took[key]), tuple(became.get(key, ()))) for key in took)


def _handed_on(job: int, told: Mapping[str, Any], seen: Container[Key]) -> tuple[Handed, ...]:
    """Return the parts of sheets begun before, as what layouts left and what they were cut from.

    Those that no layout was cut from were kept, each under its own name. None where the job did
    not go on from one partly cut, or its details cannot be read.

    Parameters
    ----------
    seen
        Jobs' layouts of which the events tell; of a job given up the others were not cut.
    """
    if "goes_on_from" not in told:
        return ()
    try:
        step = read_exact(told["step"])
        return tuple(
            (which, (job, board["board"], layout), item)
            for board in told["boards"]
            for which, layout, item in _of_parts(
                step,
                [
                    one
                    for one in board["layouts"]
                    if one.get("so_far") or (job, board["board"], one["id"]) in seen
                ],
            )
        )
    except (ArithmeticError, LookupError, TypeError, ValueError):
        return ()


def _of_parts(step: Fraction, layouts: list[Any]) -> Iterator[tuple[str, str, Item]]:
    """Yield for each layout, or part that is kept, what it took or became."""
    left = Counter((layout["id"], part, kept) for layout, part, kept in left_parts(layouts))
    for (layout, part, is_kept), count in left.items():
        lies = part.lies if is_kept and part.keeps_edges else (part.width, part.height)
        yield _BECAME, layout, _part(step, part.name, (part.width, part.height), count)
        edges = (lies[0] * lies[1] - part.width * part.height) * count
        if edges:
            yield _BECAME, layout, _edges(step, edges)
        if is_kept:
            yield _TOOK, part.name, _part(step, part.name, lies, count)
    for layout in layouts:
        kind, name, width, height = layout["source"][:4]
        if kind == PART:
            yield _TOOK, layout["id"], _part(step, name, (width, height), layout["copies"])
    for one in edges_on(layouts):
        for gave, got in pairwise(one.layouts):
            yield _BECAME, gave, _edges(step, one.area)
            yield _TOOK, got, _edges(step, one.area)


def _part(step: Fraction, name: str, size: tuple[int, int], count: int) -> Item:
    width, height = (Length(step * side) for side in size)
    area = width.mm * height.mm * count
    return Item("", "parts", area, Size(width, height), count, label=name)


def _edges(step: Fraction, area: int) -> Item:
    return Item("", "edges of a part", step**2 * area)


def _cut_item(event: Event, offcuts: Mapping[int, Kept]) -> Item:
    what = {"sheets cut": "full sheets", "slips made": "slip sheets"}.get(event.event, event.event)
    kept = offcuts.get(event.offcut or 0)
    now = where_now(kept) if kept is not None and event.event == "made" else ""
    return Item(
        "",
        "offcut" if event.offcut else what,
        _area(event),
        event.size if event.width is not None else None,
        1 if event.count is None else event.count,
        event.offcut,
        event.job,
        event.note or "" if event.event == "pieces" else "",
        now,
    )


def _area(event: Event) -> Fraction:
    return read_exact(event.area or "0/1")
