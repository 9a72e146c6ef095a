"""The plan: which layouts to cut, how many of each, and what bound shows that fewer will not do.

Every coordinate and length here is an integer number of the plan's `step`. The origin is a
sheet's top left as drawn, x to the right along the sheet's first number, y down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from ..lengths import Length, Size, Unit
from ..problem.model import (
    NO_TRIM,
    Aim,
    OrderedPiece,
    PlanTool,
    PlanTrim,
    Source,
    SourceKind,
    StockItem,
    trim_of,
)
from ..watching import Stop

__all__ = [
    "NO_TRIM",
    "Aim",
    "AsPlanned",
    "Axis",
    "BenchStep",
    "BoardPlan",
    "Certificate",
    "CertificateKind",
    "Cut",
    "Cutting",
    "Edge",
    "Layout",
    "Leftover",
    "LeftoverKind",
    "Made",
    "MadeBy",
    "NoPlan",
    "OrderedPiece",
    "PlacedPiece",
    "Plan",
    "PlanTool",
    "PlanTrim",
    "Rungs",
    "Source",
    "SourceKind",
    "StockItem",
    "Stop",
    "trim_of",
]


class Axis(StrEnum):
    """Across which axis a cut divides: ``x`` means that the line is vertical as drawn."""

    X = "x"
    Y = "y"


class Edge(StrEnum):
    """An edge of a part, as drawn; the one against the stop when a cut is made."""

    LEFT = "left"
    RIGHT = "right"
    TOP = "top"
    BOTTOM = "bottom"


class LeftoverKind(StrEnum):
    """What becomes of a part that is no piece."""

    OFFCUT = "offcut"
    SLIP_SHEET = "slip sheet"
    SCRAP = "scrap"
    TRIM = "trim"


class CertificateKind(StrEnum):
    """How a lower bound is shown; `docs/plan-json.md` explains each."""

    PIECE_VALUES = "piece values"
    EXHAUSTION = "exhaustion"


@dataclass(frozen=True, slots=True)
class Certificate:
    """What lets anyone recheck the bound without the packer.

    Attributes
    ----------
    values
        For ``piece values``: label to exact value, in the aim's unit (money, or steps squared).
        Empty for other kinds.
    note
        For ``exhaustion``: what was searched, in a sentence. Empty for piece values.
    further
        More values, each label to a worth in a unit of its own. What the sheets of a plan can hold
        at most is worth no less, by any of them, than all that was ordered; so together they say
        how many sheets of each size there must be.
    """

    kind: CertificateKind
    values: Mapping[str, Fraction]
    note: str = ""
    further: tuple[Mapping[str, Fraction], ...] = ()


class MadeBy(StrEnum):
    """What a finished dimension comes from."""

    STOP = "stop"
    LEFT_OVER = "left over"
    SOURCE = "source"


@dataclass(frozen=True, slots=True)
class Made:
    """How one dimension of a piece comes about.

    Attributes
    ----------
    by
        The stop; or it is what was left over when the stop set another part; or the source's own.
    error
        By how much it may be off at worst, either way; None where that rests on a sheet that
        nobody measured.
    """

    by: MadeBy
    error: Length | None


@dataclass(frozen=True, slots=True)
class PlacedPiece:
    """A finished blank where it lies on its source, sizes as cut (after turning).

    Attributes
    ----------
    across, down
        How its width and its height come about; None where the file does not say.
    """

    label: str
    x: int
    y: int
    width: int
    height: int
    turned: bool
    across: Made | None = None
    down: Made | None = None


@dataclass(frozen=True, slots=True)
class Leftover:
    """A part that is no piece."""

    kind: LeftoverKind
    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Cut:
    """One straight cut, in cutting order.

    Attributes
    ----------
    at
        Where the removed band begins on `axis`; it ends at ``at + kerf``.
    start, end
        The part that it divides, on the other axis.
    setting
        From the part's edge against the stop to the cut's near side.
    stop
        Which edge of the part lies against the stop.
    """

    number: int
    axis: Axis
    at: int
    start: int
    end: int
    setting: int
    stop: Edge


@dataclass(frozen=True, slots=True)
class Layout:
    """How one source is cut; `copies` of it are."""

    id: str
    copies: int
    source: Source
    pieces: tuple[PlacedPiece, ...]
    leftovers: tuple[Leftover, ...]
    cuts: tuple[Cut, ...]


@dataclass(frozen=True, slots=True)
class BenchStep:
    """Cuts of one layout, made one after another at one setting, on all copies of it.

    Attributes
    ----------
    setting
        What the stop is set to; None where the cuts lie beyond its reach and are marked in
        pencil, or are made by eye, the rule not showing so little: then the stop stays as it was.
    layout
        The layout's id.
    cuts
        The numbers of its cuts.
    """

    setting: int | None
    layout: str
    cuts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Cutting:
    """In which order all cuts of a board are made, copies of a layout side by side.

    Attributes
    ----------
    settings
        How often the stop is set, the first time included.
    settings_lower_bound
        No order of these cuts, each of the part that it divides here, sets it less often.
    quarter_turns
        How often a part is turned by a quarter, over all copies; a half turn is two.
    lifts
        How often a part is laid on the tool, over all copies.
    steps
        The order.
    sides_left_over
        How many sides of pieces are what a cut leaves, over all copies.
    sides_left_over_lower_bound, quarter_turns_lower_bound, lifts_lower_bound
        No order with as few settings goes below: of turns, where as few sides are left over; of
        lifts, where there are as few of both. None where the file does not say, as above.
    before_no_way_back
        How many cuts come before there is no way back, over all layouts, each counted once.
    before_no_way_back_upper_bound
        No order that asks as little and is as exact has more.
    """

    settings: int
    settings_lower_bound: int
    quarter_turns: int
    lifts: int
    steps: tuple[BenchStep, ...]
    sides_left_over: int | None = None
    sides_left_over_lower_bound: int | None = None
    quarter_turns_lower_bound: int | None = None
    lifts_lower_bound: int | None = None
    before_no_way_back: int | None = None
    before_no_way_back_upper_bound: int | None = None


@dataclass(frozen=True, slots=True)
class Rungs:
    """What was reached below the first aim, beside what no plan of equal cost or area beats.

    Attributes
    ----------
    worth
        Of every leftover worth keeping, offcuts of the stock that stay whole among them: (its
        area / that of the commonest sheet) to the power 1.5, added up, in twentieths.
    worth_upper_bound
        None where there is none.
    cuts, cuts_lower_bound
        Straight cuts over all copies.
    layouts
        How many different ones.
    """

    worth: int
    worth_upper_bound: int | None
    cuts: int
    cuts_lower_bound: int
    layouts: int


@dataclass(frozen=True, slots=True)
class AsPlanned:
    """What the same pieces would have taken in the middle of a job, had all gone as planned.

    Attributes
    ----------
    sheets
        Full sheets still to be opened.
    value
        Of those, in the aim's unit, as the board's own value is.
    mistakes
        How many cuts and parts are said to have gone wrong.
    worth_lost
        How much less than planned the offcuts that remain are worth, in twentieths of a sheet as
        in `Rungs`; below zero where they are worth more; None where the plan did not say.
    """

    sheets: int
    value: Fraction
    mistakes: int
    worth_lost: int | None = None


@dataclass(frozen=True, slots=True)
class BoardPlan:
    """Everything about one board.

    Attributes
    ----------
    sheets
        Full sheets taken, over all layouts.
    sheets_lower_bound
        No plan takes fewer full sheets.
    aim
        What was minimised first.
    value, value_lower_bound
        Of the full sheets taken, in the aim's unit (money, or area in steps squared), and its
        valid lower bound over every edge-to-edge plan with the stock given.
    proved_least
        Whether the two meet.
    keep
        The smallest leftover worth keeping as stock; None where the file does not say.
    mat_board
        Whether a strip of the board can be a slip sheet; None where the file does not say.
    cutting
        The order of all cuts; None where the file does not say.
    rungs
        What remains and how easy it is at the bench; None where the file does not say.
    as_planned
        What the plan that this one goes on with would have taken; None for a first plan.
    """

    board: str
    no_turn: bool
    tool: PlanTool
    trim: PlanTrim
    ordered: tuple[OrderedPiece, ...]
    stock: tuple[StockItem, ...]
    sheets: int
    sheets_lower_bound: int
    aim: Aim
    value: Fraction
    value_lower_bound: Fraction
    proved_least: bool
    certificate: Certificate
    layouts: tuple[Layout, ...]
    keep: Size | None = None
    mat_board: bool | None = None
    cutting: Cutting | None = None
    rungs: Rungs | None = None
    as_planned: AsPlanned | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan.

    Attributes
    ----------
    program
        Name and version of what made it.
    order_digest
        ``sha256:`` and hexadecimal digits, over the order as read, stock included.
    step
        The length of one step of the grid.
    unit, rule
        What lengths are shown in, and the finest mark on the bench rule.
    notes
        What was assumed, each a sentence to show.
    stopped
        Why planning ended; anything but ``done`` means that another run may differ.
    """

    program: str
    order: str
    order_digest: str
    step: Length
    unit: Unit
    rule: Length
    boards: tuple[BoardPlan, ...]
    notes: tuple[str, ...] = ()
    stopped: Stop = Stop.DONE


@dataclass(frozen=True, slots=True)
class NoPlan:
    """No plan; every culprit is named in a sentence of its own.

    Attributes
    ----------
    proved
        Whether none exists; if False, none was found, and whether one exists was not settled.
    """

    order: str
    reasons: tuple[str, ...]
    proved: bool = True
