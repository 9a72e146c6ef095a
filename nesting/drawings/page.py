"""What can be drawn on a page, addressed in points from the top left of its live area."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, Literal

from .lettering import CAP
from .paper import LIVE, Box

if TYPE_CHECKING:
    from .sheet import Composition

__all__ = ["BEFORE", "RIM", "Align", "Page", "ring_ends"]

RIM = 1.0  # how heavy the line of a ring is

Align = Literal["left", "center", "right"]
BEFORE: dict[Align, float] = {"left": 0.0, "center": 0.5, "right": 1.0}
Point = tuple[float, float]


def ring_ends(box: Box) -> tuple[Point, Point]:
    """Return the ends of the line that, thick and with round ends, is a ring as large as `box`."""
    half = box.height / 2
    x, y = box.left + half, box.middle[1]
    # A line of no length would have no ends to be round.
    return (x, y), (max(x + 0.01, box.right - half), y)


class Page(ABC):
    """A page to draw on.

    Attributes
    ----------
    width, height
        Of the live area, in points; its top left is the origin, y goes down.
    """

    def __init__(self, across: float, down: float) -> None:
        self.width, self.height = LIVE[::-1] if across > down else LIVE
        self._across, self._down = across, down
        self._left, self._top = (across - self.width) / 2, (down - self.height) / 2

    @abstractmethod
    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        align: Align = "left",
    ) -> None:
        """Set a line of text with its baseline at `y`."""

    @abstractmethod
    def line(self, x: float, y: float, to_x: float, to_y: float, weight: float) -> None:
        """Draw a straight line, `weight` points wide."""

    @abstractmethod
    def box(self, box: Box, weight: float = 0.8, fill: str = "none") -> None:
        """Draw a rectangle."""

    @abstractmethod
    def rim(self, box: Box) -> None:
        """Draw a ring with nothing in it."""

    @abstractmethod
    def draw(self, composed: Composition, box: Box) -> None:
        """Draw a layout to scale, as it was composed for `box`."""

    def ring(self, box: Box, number: str, size: float) -> None:
        """Draw a number in a ring, as it stands on a cut."""
        self.rim(box)
        x, y = box.middle
        self.text(x, y + CAP * size / 2, number, size, bold=True, align="center")
