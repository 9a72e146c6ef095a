"""A job in the middle: what became of each sheet that was begun, and what there is to go on with.

Lengths are whole numbers of a plan's step, areas of its square.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from .model import NO_TRIM, LeftoverKind, PlanTrim, Source

if TYPE_CHECKING:
    from ..lengths import Size
    from ..stock import Offcut

__all__ = ["BenchPart", "Holdings", "SoFar"]


@dataclass(frozen=True, slots=True)
class BenchPart:
    """A part on the bench that is no finished piece.

    Attributes
    ----------
    name
        By which a plan for the rest knows it; equal parts share one.
    width, height
        As it is stock for the rest: edges that come off it first are off.
    kind
        What it is if nothing more is cut from it.
    trim
        The area of such edges, as far as they lie within its sheet's source.
    off, on
        What must come off which edge as it lies on the bench: beyond `width` and `height`, and
        within them.
    """

    name: str
    width: int
    height: int
    kind: LeftoverKind
    trim: int
    off: PlanTrim = NO_TRIM
    on: PlanTrim = NO_TRIM


@dataclass(frozen=True, slots=True)
class SoFar:
    """One sheet, or offcut, as far as it is cut.

    Its area is that of its pieces and parts (factory edges included), and scrap, trim and kerf.

    Attributes
    ----------
    sheet
        Which one, as a person says it: ``L1/2``.
    pieces
        The finished ones: label, width and height.
    scrap, trim, kerf
        Areas of what is spoiled, of factory edges by themselves, and of what the cuts removed.
    """

    board: str
    sheet: str
    source: Source
    pieces: tuple[tuple[str, int, int], ...]
    parts: tuple[BenchPart, ...]
    scrap: int
    trim: int
    kerf: int


@dataclass(frozen=True, slots=True)
class Holdings:
    """What a rack says of the stock that a plan was made with.

    Attributes
    ----------
    gone
        Offcuts that are no longer to be had: board and id.
    sheets
        How many sheets of a board's size are on hand for the job, those begun included.
    names
        What parts of this job were called before.
    offcuts
        Free offcuts that the plan did not have and that may serve its pieces.
    """

    gone: frozenset[tuple[str, str]] = frozenset()
    sheets: Mapping[tuple[str, Size], int] = field(default_factory=dict)
    names: frozenset[str] = frozenset()
    offcuts: tuple[Offcut, ...] = ()
