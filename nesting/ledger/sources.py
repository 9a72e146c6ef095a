"""What a job's layouts are cut from, as the job keeps it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..plan.model import LeftoverKind, SourceKind
from .state import ASIDE

if TYPE_CHECKING:
    from ..plan.model import Source
    from .state import State

__all__ = ["PART", "LeftPart", "begun_offcuts", "is_of_the_rack", "left_part", "parent_of"]

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
        The area of these edges.
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
        """The area of edges on it that lie beyond its sheet's source, as an offcut's bad ones do.

        A sheet's factory edges lie in its source, and are in `trim`.
        """
        wide, high = self.lies
        return wide * high - self.width * self.height - self.trim


def left_part(entry: Made) -> LeftPart:
    """Return a part as it is read from a job's details."""
    name, width, height, kind, trim, *edges = entry
    return LeftPart(name, width, height, kind, trim, *(tuple(one) for one in edges))


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
