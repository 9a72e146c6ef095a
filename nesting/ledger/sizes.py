"""Sizes as a person reads and types them at the rack."""

from __future__ import annotations

from fractions import Fraction

from ..errors import LedgerError
from ..lengths import Length, Size, Unit, format_size

__all__ = ["LEAST_SIDE", "refuse_tiny", "size_text"]

# Not a trade limit: what is narrower is a slip of unit or of the decimal point, and serves nothing.
LEAST_SIDE = Length(Fraction(10))


def size_text(size: Size) -> str:
    """Return a size in the unit that it is simpler in: ``32 x 40 in``.

    Examples
    --------
    >>> from kerfwright.lengths import parse_size
    >>> size_text(parse_size("406 x 508 mm", Unit.INCH))
    '406 x 508 mm'
    """
    sides = (size.width, size.height)
    inches = max(side.in_unit(Unit.INCH).denominator for side in sides)
    simple = inches <= max(side.mm.denominator for side in sides)
    return format_size(size, Unit.INCH if simple else Unit.MILLIMETRE, with_unit=True)


def refuse_tiny(size: Size, what: str) -> None:
    """Refuse a size that no offcut, sheet or slip sheet has.

    Raises
    ------
    LedgerError
        If a side is under `LEAST_SIDE`.
    """
    if min(size.width, size.height) < LEAST_SIDE:
        raise LedgerError(
            f"{size_text(size)} is too small for {what}: nothing narrower than 10 mm (3/8 in) is "
            "kept. Is the unit right?"
        )
