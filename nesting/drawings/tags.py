"""Where a cut shows its part's letter, and an arrow towards the edge that lies against the stop."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..plan.model import Edge
from .lettering import width
from .numbers import Stroke
from .paper import Box

__all__ = ["ARROW", "LETTER", "Tag", "arrow"]

ARROW, LETTER = 5.0, 8.0  # size of the arrow, and of the letter's type
OFF = 4.5  # from the line to the middle of the arrow
ENDS = 5.0  # kept free of the line's ends
SHORTEST = 34.0  # a line that is shorter has no room for one
MARKERS = {Edge.LEFT: "<", Edge.RIGHT: ">", Edge.TOP: "^", Edge.BOTTOM: "v"}


@dataclass(frozen=True, slots=True)
class Tag:
    """An arrow and a letter beside a cut, in points.

    Attributes
    ----------
    box
        What they cover together.
    foot
        The middle of the arrow.
    middle
        The middle of the letter.
    """

    box: Box
    letter: str
    marker: str
    foot: tuple[float, float]
    middle: tuple[float, float]


def arrow(stroke: Stroke, stop: Edge, letter: str, taken: Sequence[Box]) -> Tag | None:
    """Return the arrow and letter of a cut, on its stop's side; None where all is taken."""
    if stroke.end - stroke.start < SHORTEST:
        return None
    side = -1.0 if stop in (Edge.LEFT, Edge.TOP) else 1.0
    tags = (_tag(stroke, side, stop, letter, along) for along in _places(stroke))
    return next((tag for tag in tags if not any(tag.box.meets(box) for box in taken)), None)


def _places(stroke: Stroke) -> Iterator[float]:
    """Yield where along a cut its arrow may stand: near its start, near its end, between."""
    low, high = stroke.start + ENDS + ARROW / 2, stroke.end - ENDS - ARROW - LETTER
    yield from (low, high, low + (high - low) / 3, low + 2 * (high - low) / 3)


def _tag(stroke: Stroke, side: float, stop: Edge, letter: str, along: float) -> Tag:
    long = width(letter, LETTER, True)
    foot = stroke.point(along, side * OFF)
    if stroke.vertical:
        middle = (foot[0] + side * (ARROW / 2 + 1.5 + long / 2), foot[1])
        edges = sorted((stroke.at + side, middle[0] + side * long / 2))
    else:
        middle = (foot[0] + ARROW / 2 + 1.5 + long / 2, foot[1] + side * 0.8)
        edges = [foot[0] - ARROW / 2, middle[0] + long / 2]
    box = Box(edges[0], foot[1] - LETTER / 2, edges[1] - edges[0], LETTER)
    return Tag(box, letter, MARKERS[stop], foot, middle)
