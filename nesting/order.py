"""What must be cut: the lines of an order, and the stock it is cut from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from .errors import RefusedValue
from .lengths import Length, Size, Unit
from .stock import Board, Offcut

__all__ = ["Order", "Piece", "PieceKind"]

DEFAULT_RULE = Length(Fraction(254, 160))  # 1/16 in


class PieceKind(StrEnum):
    """A mat has a window; a backer has none."""

    MAT = "mat"
    BACKER = "backer"


@dataclass(frozen=True, slots=True)
class Piece:
    """One line of an order: `qty` equal blanks.

    Attributes
    ----------
    label
        Unique in the order.
    size
        Outer size of the blank.
    board
        Name of the board it is cut from.
    turn
        Whether it may be cut turned by a quarter.
    """

    label: str
    kind: PieceKind
    qty: int
    size: Size
    board: str
    turn: bool = True

    def __post_init__(self) -> None:
        if not self.label:
            raise RefusedValue("label", self.label, "is empty", "write a label such as A")
        if self.qty < 1:
            raise RefusedValue("qty", self.qty, "is less than one", "write a whole number from 1")


@dataclass(frozen=True, slots=True)
class Order:
    """A whole order with the stock it is cut from.

    Attributes
    ----------
    unit
        What lengths are shown in.
    rule
        The finest mark on the bench rule.
    boards
        Every board that a piece names, in the order of first mention, then the stock's others.
    notes
        What was assumed, each a sentence to show.
    """

    name: str
    pieces: tuple[Piece, ...]
    boards: tuple[Board, ...]
    offcuts: tuple[Offcut, ...] = ()
    unit: Unit = Unit.INCH
    rule: Length = DEFAULT_RULE
    notes: tuple[str, ...] = ()
