"""What one board is asked for and has, in steps: the words that problem and plan share."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

from ..lengths import Length, Size
from ..order import PieceKind

__all__ = [
    "NO_TRIM",
    "Aim",
    "OrderedPiece",
    "PlanTool",
    "PlanTrim",
    "Source",
    "SourceKind",
    "StockItem",
    "commonest_area",
    "trim_of",
]


class Aim(StrEnum):
    """What rung one minimised: money where every sheet size has a price, else area."""

    COST = "cost"
    AREA = "area"


@dataclass(frozen=True, slots=True)
class OrderedPiece:
    """One line of the order on this board."""

    label: str
    kind: PieceKind
    qty: int
    width: int
    height: int
    turn: bool


@dataclass(frozen=True, slots=True)
class PlanTool:
    """The tool's limits in steps; `longest_cut` None and `narrowest_strip` 0 mean no limit.

    Attributes
    ----------
    kind
        What sort of tool it is; None where not said.
    reach
        The largest setting of its stop; None where there is no limit, or it is not said.
    squares
        Whether a sheet's first edges must be squared.
    repeatability
        How far a cut may be off its setting; None where not said, and then nothing is claimed of
        the sizes.
    rule_class
        The class of the rule: ``I``, ``II`` or ``III``.
    """

    name: str
    kerf: int
    longest_cut: int | None
    narrowest_strip: int
    kind: str | None = None
    reach: Length | None = None
    squares: bool = False
    repeatability: Length | None = None
    rule_class: str | None = None


@dataclass(frozen=True, slots=True)
class PlanTrim:
    """What is taken off each factory edge, kerf included, in steps."""

    left: int
    right: int
    top: int
    bottom: int


NO_TRIM = PlanTrim(0, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class Source:
    """What one layout is cut from."""

    kind: SourceKind
    id: str | None
    width: int
    height: int


class SourceKind(StrEnum):
    """What a layout is cut from."""

    SHEET = "sheet"
    OFFCUT = "offcut"
    DROP_OUT = "drop-out"


@dataclass(frozen=True, slots=True)
class StockItem:
    """One kind of source that could be used.

    Attributes
    ----------
    price
        Money for one; None where not given, and for offcuts.
    available
        How many there are; None for any number.
    on_hand
        How many of them stand on the rack already; None where not said.
    nominal
        The size it is sold in, where `source` has what it was found to measure; else None.
    trim
        What must come off an offcut before it has its size, kerf included; None for nothing.
    off
        By how much an offcut's width and height may be off at worst, each None where nobody
        knows; None alone for what was measured.
    rough
        The far edges of an offcut, ``right`` or ``bottom``, that are still as its sheet came.
    untrimmed
        What cuts take off an offcut's factory edges, as off a full sheet's, kerf included; its
        size has them still. None for nothing.
    """

    source: Source
    price: Fraction | None
    available: int | None
    on_hand: int | None = None
    nominal: Size | None = None
    trim: PlanTrim | None = None
    off: tuple[Length | None, Length | None] | None = None
    rough: tuple[str, ...] = ()
    untrimmed: PlanTrim | None = None


def trim_of(source: Source, trim: PlanTrim, stock: Iterable[StockItem]) -> PlanTrim:
    """Return what cuts take off a source's factory edges.

    Parameters
    ----------
    trim
        That of the board's full sheets.
    """
    if source.kind is SourceKind.SHEET:
        return trim
    said = (item.untrimmed for item in stock if item.source == source)
    return next((one for one in said if one is not None), NO_TRIM)


def commonest_area(stock: Sequence[StockItem]) -> int:
    """Return the area of the sheet of which most stand on the rack, else the first listed.

    Where there are no sheets, of the largest source.
    """
    sheets = [item for item in stock if item.source.kind is SourceKind.SHEET]
    if not sheets:
        return max((item.source.width * item.source.height for item in stock), default=1)
    most = max(sheets, key=lambda item: item.on_hand or 0)
    return most.source.width * most.source.height
