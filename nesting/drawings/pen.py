"""What a layout is drawn with, in points from its source's top left."""

from __future__ import annotations

from typing import Protocol

from .paper import Box

__all__ = ["DOT", "Pen", "Point"]

Point = tuple[float, float]

DOT = 4.0  # how wide a dot is


class Pen(Protocol):
    """Draws marks; those of a higher order lie over the others."""

    def rectangle(
        self, box: Box, *, face: str, hatch: str = "", weight: float = 0.6, order: float = 1.0
    ) -> None:
        """Draw a rectangle.

        Parameters
        ----------
        face
            White, none, or a grey from 0 to 1.
        hatch
            ``/`` for wide diagonals, ``--`` for level lines, ``xx`` for a lattice.
        weight
            Of the edge in points; none for 0.
        """

    def line(self, one: Point, other: Point, weight: float) -> None:
        """Draw a straight line."""

    def text(
        self, place: Point, text: str, size: float, *, bold: bool = False, upright: bool = False
    ) -> None:
        """Set a line of text with the middle of its baseline at `place`."""

    def arrow(self, foot: Point, marker: str, size: float) -> None:
        """Draw a triangle round `foot`; `marker` is which way it points, one of ``<>^v``."""

    def dots(self, feet: list[Point]) -> None:
        """Draw a dot at each place."""

    def rim(self, box: Box) -> None:
        """Draw a ring, white within."""
