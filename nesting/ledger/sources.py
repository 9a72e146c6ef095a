"""What a job's layouts are cut from, as the job keeps it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..plan.model import SourceKind
from .state import ASIDE

if TYPE_CHECKING:
    from ..plan.model import Source
    from .state import State

__all__ = ["PART", "begun_offcuts", "is_of_the_rack", "parent_of"]

Made = Any  # what was planned, as it is read back from JSON

PART = "part"  # the kind of a source that is a part of a sheet begun before the job was planned


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
