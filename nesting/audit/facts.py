"""What the audit counted for itself: integers that a summary or a drawing may rely on.

Lengths are in the plan's steps, areas in steps squared.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ..plan.model import LeftoverKind, Plan, Source

__all__ = ["Areas", "AuditedPlan", "BoardFacts", "LayoutFacts", "LeftoverCount", "SourceUse"]


@dataclass(frozen=True, slots=True)
class Areas:
    """Where the area of the sources went, in steps squared.

    ``sources == pieces + kerf + offcut + slip_sheet + scrap + trim``, always.

    Attributes
    ----------
    sources
        Of everything cut from: sheets, offcuts and drop-outs.
    sheets
        Of the full sheets among them.
    kerf
        Turned to dust by the cuts.
    """

    sources: int = 0
    sheets: int = 0
    pieces: int = 0
    kerf: int = 0
    offcut: int = 0
    slip_sheet: int = 0
    scrap: int = 0
    trim: int = 0


@dataclass(frozen=True, slots=True)
class LeftoverCount:
    """How many leftovers of one kind and one size a board leaves, over all copies."""

    kind: LeftoverKind
    width: int
    height: int
    count: int


@dataclass(frozen=True, slots=True)
class SourceUse:
    """How many of one source are taken."""

    source: Source
    copies: int


@dataclass(frozen=True, slots=True)
class LayoutFacts:
    """One copy of one layout.

    Attributes
    ----------
    cuts
        Straight cuts, trims included.
    settings
        How often the stop is set: once at the first cut, and again whenever the number differs
        from the cut before. A cut beyond the stop's reach does not move it.
    """

    id: str
    copies: int
    cuts: int
    settings: int
    areas: Areas


@dataclass(frozen=True, slots=True)
class BoardFacts:
    """One board, over all copies of its layouts.

    Attributes
    ----------
    sheets
        Full sheets taken.
    sources
        What to take, in the order of first use.
    cuts
        Straight cuts over all copies.
    settings
        Settings of the stop when all cuts are made in the plan's order, copies side by side. A
        plan without one has its layouts cut one after another, all copies of each together.
    settings_rechecked
        Whether the plan's bound on the settings is no higher than what the cuts' own distances
        show, or trying all that is shorter. If not, it rests on a search that only a rerun can
        repeat.
    left
        What is left, in the order of first appearance, trims and scrap included.
    bound
        The lower bound that the certificate's piece values give when re-priced here, in the
        aim's unit; zero where there are none.
    sheets_bound
        The fewest full sheets that this bound and the areas allow.
    rechecked
        Whether the plan's own bounds are no higher than these. If not, they rest on a search
        that only a rerun can repeat, and the plan says so in its certificate.
    """

    board: str
    sheets: int
    sources: tuple[SourceUse, ...]
    areas: Areas
    cuts: int
    settings: int
    layouts: tuple[LayoutFacts, ...]
    left: tuple[LeftoverCount, ...]
    bound: Fraction
    sheets_bound: int
    rechecked: bool
    settings_rechecked: bool = True


@dataclass(frozen=True, slots=True)
class AuditedPlan:
    """A plan whose every cut has been replayed and every claim recounted.

    Only `audit_plan` and `verify_plan` make one; whatever shows, writes or records a plan asks
    for this type.

    Attributes
    ----------
    facts
        One for each of ``plan.boards``, in the same order.
    """

    plan: Plan
    facts: tuple[BoardFacts, ...]
