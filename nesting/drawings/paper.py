"""The paper: one drawing area that prints whole on letter and on A4, and boxes on it.

Everything here is in points, 72 to the inch, the unit in which type is set.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ..lengths import Unit

__all__ = ["LIVE", "MARGIN", "Box", "Paper"]

# ISO 216 A4 is 210 x 297 mm; letter is 8 1/2 x 11 in.
_SIZES = {"letter": (612.0, 792.0), "a4": (210 / 25.4 * 72, 297 / 25.4 * 72)}

MARGIN = 30.0


class Paper(StrEnum):
    """What a page is made for; printed on the other one at full size, it is whole as well."""

    LETTER = "letter"
    A4 = "a4"

    @classmethod
    def usual(cls, unit: Unit) -> Paper:
        """Return the paper to be expected where lengths are in `unit`."""
        return cls.LETTER if unit is Unit.INCH else cls.A4

    def size(self, *, landscape: bool) -> tuple[float, float]:
        """Return width and height in points."""
        short, long = _SIZES[self.value]
        return (long, short) if landscape else (short, long)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in points, x to the right and y down."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Where it ends to the right."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Where it ends below."""
        return self.top + self.height

    @property
    def middle(self) -> tuple[float, float]:
        """Its centre."""
        return self.left + self.width / 2, self.top + self.height / 2

    @classmethod
    def around(cls, x: float, y: float, width: float, height: float) -> Box:
        """Return the box of that size with its centre at `x`, `y`."""
        return cls(x - width / 2, y - height / 2, width, height)

    def grown(self, by: float) -> Box:
        """Return the box with `by` more on every side."""
        return Box(self.left - by, self.top - by, self.width + 2 * by, self.height + 2 * by)

    def meets(self, other: Box) -> bool:
        """Return whether the two have more than an edge in common."""
        return (
            self.left < other.left + other.width
            and other.left < self.left + self.width
            and self.top < other.top + other.height
            and other.top < self.top + self.height
        )

    def holds(self, other: Box) -> bool:
        """Return whether `other` lies within this box."""
        return (
            self.left <= other.left
            and self.top <= other.top
            and other.right <= self.right
            and other.bottom <= self.bottom
        )


# What letter and A4 have in common, less a margin that home printers can print to.
_COMMON = (min(size[0] for size in _SIZES.values()), min(size[1] for size in _SIZES.values()))
LIVE = (_COMMON[0] - 2 * MARGIN, _COMMON[1] - 2 * MARGIN)
