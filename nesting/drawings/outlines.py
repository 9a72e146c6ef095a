"""Texts as outlines, where signs join or run from right to left: matplotlib knows how."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from .lettering import font

__all__ = ["outline"]

MOVE, LINE, CONIC, CUBIC, CLOSE = 1, 2, 3, 4, 79  # as matplotlib's paths have it


def outline(text: str, size: float, bold: bool, numbers: Callable[..., bytes]) -> Iterator[bytes]:
    """Yield a text's outline in the words of a PDF, its baseline beginning at the origin."""
    from matplotlib.textpath import TextPath

    path = TextPath((0, 0), text, size=size, prop=font(size, bold))
    last = (0.0, 0.0)
    for values, code in path.iter_segments(curves=True, simplify=False):
        place = tuple(map(float, values))
        if code == MOVE:
            yield numbers(*place) + b" m"
        elif code == LINE:
            yield numbers(*place) + b" l"
        elif code == CONIC:
            yield numbers(*_cubic(last, place[:2], place[2:])) + b" c"
        elif code == CUBIC:
            yield numbers(*place) + b" c"
        elif code == CLOSE:
            yield b"h"
        if code != CLOSE:
            last = (place[-2], place[-1])


def _cubic(
    start: tuple[float, ...], control: tuple[float, ...], end: tuple[float, ...]
) -> tuple[float, ...]:
    """Return the controls and the end of the cubic curve that a quadratic one is."""
    first = (s + 2 * (c - s) / 3 for s, c in zip(start, control, strict=True))
    second = (e + 2 * (c - e) / 3 for e, c in zip(end, control, strict=True))
    return (*first, *second, *end)
