"""What a job's layouts are cut from, as the job keeps it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..plan.model import LeftoverKind, SourceKind
from .state import ASIDE

if TYPE_CHECKING:
    from ..plan.model import Source
    from .state import State

__all__ = [
    "PART",
    "EdgesOn",
    "LeftPart",
    "begun_offcuts",
    "edges_on",
    "is_of_the_rack",
    "left_part",
    "left_parts",
    "parent_of",
]

Made = Any  # what was planned, as it is read back from JSON

PART = "part"  # the kind of a source that is a part of a sheet begun before the job was planned


@dataclass(frozen=True, slots=True)
class LeftPart:
    """A part of a sheet begun before, as its job keeps it; lengths in the job's steps.

    Attributes
    ----------
    width, height
        As it was stock for what was planned then, the edges of `off` off.
    trim
        The area of the edges of `off` that lie within its layout's source, as a sheet's factory
        edges do; an offcut's bad edges lie beyond.
    off, on
        What must come off which edge, left, right, top and bottom, as it lies on the bench: beyond
        `width` and `height`, and within them. A job of old does not say.
    """

    name: str
    width: int
    height: int
    kind: str
    trim: int
    off: tuple[int, ...] = (0, 0, 0, 0)
    on: tuple[int, ...] = (0, 0, 0, 0)

    @property
    def keeps_edges(self) -> bool:
        """Whether it is worth keeping, and has edges on that must come off first."""
        return self.kind == LeftoverKind.OFFCUT and any(self.edges)

    @property
    def edges(self) -> tuple[int, ...]:
        """What must come off which edge as it lies there."""
        return tuple(one + other for one, other in zip(self.off, self.on, strict=True))

    @property
    def lies(self) -> tuple[int, int]:
        """Width and height as it lies there, every edge on."""
        left, right, top, bottom = self.off
        return self.width + left + right, self.height + top + bottom

    @property
    def beyond(self) -> int:
        """The area of the edges of `off` that lie beyond its layout's source."""
        wide, high = self.lies
        return wide * high - self.width * self.height - self.trim


def left_part(entry: Made) -> LeftPart:
    """Return a part as it is read from a job's details."""
    name, width, height, kind, trim, *edges = entry
    return LeftPart(name, width, height, kind, trim, *(tuple(one) for one in edges))


def left_parts(layouts: Made) -> Iterator[tuple[Made, LeftPart, bool]]:
    """Yield the parts of sheets begun before, each with its layout and whether it is kept.

    Of equal parts the last ones are, where layouts are cut from fewer than there are.
    """
    used: Counter[str] = Counter()
    for layout in layouts:
        if layout["source"][0] == PART:
            used[layout["source"][1]] += layout["copies"]
    for layout in layouts:
        for part in map(left_part, layout.get("parts", ())):
            used[part.name] -= 1
            yield layout, part, used[part.name] < 0


@dataclass(frozen=True, slots=True)
class EdgesOn:
    """Edges still on a part that is kept, which another part or an offcut was to lose first.

    Attributes
    ----------
    part
        Whose trim they would be in, if they were off; empty for an offcut's own bad edges.
    layouts
        From the one that left that part, or cuts that offcut, to the one that left what is kept.
    area
        In squares of the job's step.
    """

    part: str
    layouts: tuple[str, ...]
    area: int


def edges_on(layouts: Made) -> Iterator[EdgesOn]:
    """Yield the edges that are still on kept parts and lie beyond what these were cut from.

    An offcut may be cut with a bad edge on, and the part again that keeps it: so each is followed
    to where it would have been counted as trim.
    """
    parts = tuple(left_parts(layouts))
    came: dict[str, list[Made]] = {}
    room: Counter[tuple[str, str]] = Counter()
    for layout, part, is_kept in parts:
        if not is_kept:
            came.setdefault(part.name, []).append(layout)
            room[part.name, layout["id"]] += part.trim
    for layout, part, is_kept in parts:
        if is_kept and part.keeps_edges and part.beyond:
            yield from _followed(layout, part.beyond, came, room)


def _followed(
    layout: Made, area: int, came: dict[str, list[Made]], room: Counter[tuple[str, str]]
) -> Iterator[EdgesOn]:
    """Yield where so much area would have been trim; `room` is what parts have left of theirs."""
    chain = [layout["id"]]
    while layout["source"][0] == PART and area:
        name = layout["source"][1]
        for before in came[name]:
            within = min(area, room[name, before["id"]])
            if within:
                room[name, before["id"]] -= within
                area -= within
                yield EdgesOn(name, (before["id"], *chain), within)
        layout = came[name][0]
        chain.insert(0, layout["id"])
    if area:
        yield EdgesOn("", tuple(chain), area)


def parent_of(source: Made) -> int | None:
    """Return the number of the offcut that a source is, or comes from; None for full sheets.

    Parameters
    ----------
    source
        Kind, name, width and height, and of a part the number of its offcut; as read from JSON.
    """
    if source[0] == PART:
        number: int | None = source[4]
        return number
    return int(source[1]) if source[0] == SourceKind.OFFCUT else None


def begun_offcuts(state: State) -> dict[int, int]:
    """Return which offcuts are cut into for a job that is not booked yet, with that job.

    They lie in parts on the bench, and not on the rack.
    """
    found: dict[int, int] = {}
    for job in state.jobs.values():
        boards: Made = job.plan["boards"] if job.state == ASIDE else ()
        for layout in (one for board in boards for one in board["layouts"]):
            number = parent_of(layout["source"]) if layout.get("so_far") else None
            if number is not None:
                found[number] = job.number
    return found


def is_of_the_rack(source: Source) -> bool:
    """Whether a plan's source is an offcut of the ledger: these go by numbers, parts by letters."""
    return source.kind is SourceKind.OFFCUT and (source.id or "").isdecimal()
