"""What a leftover is called."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from ..lengths import Length, Unit
from .model import LeftoverKind

if TYPE_CHECKING:
    from ..lengths import Size

__all__ = ["KeepRule"]

SLIP_SHEET_WIDTH = {
    # Three or four inches: backing-sheet article of a cutter maker; 75 mm is its metric like.
    Unit.INCH: Length.of(3, Unit.INCH),
    Unit.MILLIMETRE: Length(Fraction(75)),
    Unit.CENTIMETRE: Length(Fraction(75)),
}


@dataclass(frozen=True, slots=True)
class KeepRule:
    """What makes a leftover of one board an offcut, a slip sheet or scrap.

    Attributes
    ----------
    keep
        The smallest offcut worth keeping, either way round.
    mat_board
        Whether a strip of the board can lie under a window cut.
    longest_mat
        In steps; zero where the order has no mat.
    """

    step: Length
    unit: Unit
    keep: Size
    mat_board: bool
    longest_mat: int

    def kind(self, width: int, height: int) -> LeftoverKind:
        """Return what a leftover of `width` x `height` steps is called."""
        short, long = sorted((width, height))
        if self._holds_keep(self.step * short, self.step * long):
            return LeftoverKind.OFFCUT
        wide = self.step * short >= SLIP_SHEET_WIDTH[self.unit]
        if self.mat_board and self.longest_mat and wide and long >= self.longest_mat:
            return LeftoverKind.SLIP_SHEET
        return LeftoverKind.SCRAP

    def _holds_keep(self, short: Length, long: Length) -> bool:
        narrow, tall = sorted((self.keep.width, self.keep.height))
        return narrow <= short and tall <= long
