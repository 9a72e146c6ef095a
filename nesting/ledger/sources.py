"""What a job's layouts are cut from, as the job keeps it."""

from __future__ import annotations

from typing import Any

from ..plan.model import SourceKind

__all__ = ["PART", "parent_of"]

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
