"""Sizes that a rack keeps."""

from __future__ import annotations

from fractions import Fraction

from ..errors import LedgerError
from ..lengths import Length, Size

__all__ = ["LEAST_SIDE", "refuse_tiny"]

# Not a trade limit: what is narrower is a slip of unit or of the decimal point, and serves nothing.
LEAST_SIDE = Length(Fraction(10))


def refuse_tiny(size: Size, what: str) -> None:
    """Refuse a size that no offcut, sheet or slip sheet has.

    Raises
    ------
    LedgerError
        If a side is under `LEAST_SIDE`.
    """
    if min(size.width, size.height) < LEAST_SIDE:
        raise LedgerError(
            f"{size} is too small for {what}: nothing narrower than 10 mm (3/8 in) is "
            "kept. Is the unit right?"
        )
