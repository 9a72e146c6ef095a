"""Which edge lies against the stop, where a plan.json gives only the setting.

The key is an extension, so a file may do without. Each cut is followed on the part that it
divides: a setting that is right only from the far edge means that the far edge is against the
stop. Where no part fits, the cut keeps its near edge, and the audit says what is wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from .model import Axis, Cut, Edge, Layout, Source

__all__ = ["near_edge", "with_stops"]


@dataclass(frozen=True, slots=True)
class _Part:
    low_x: int
    high_x: int
    low_y: int
    high_y: int

    def along(self, axis: Axis) -> tuple[int, int]:
        return (self.low_x, self.high_x) if axis is Axis.X else (self.low_y, self.high_y)

    def across(self, axis: Axis) -> tuple[int, int]:
        return self.along(Axis.Y if axis is Axis.X else Axis.X)

    def piece(self, axis: Axis, low: int, high: int) -> _Part:
        if axis is Axis.X:
            return _Part(low, high, self.low_y, self.high_y)
        return _Part(self.low_x, self.high_x, low, high)


def near_edge(axis: Axis) -> Edge:
    """Return the edge at the start of `axis`."""
    return Edge.LEFT if axis is Axis.X else Edge.TOP


def _far_edge(axis: Axis) -> Edge:
    return Edge.RIGHT if axis is Axis.X else Edge.BOTTOM


def with_stops(layout: Layout, given: tuple[bool, ...], kerf: int) -> Layout:
    """Return `layout` with the stop of every cut that is not `given` worked out."""
    if all(given):
        return layout
    parts = [_whole(layout.source)]
    cuts = []
    for cut, known in zip(layout.cuts, given, strict=True):
        part = _divided(parts, cut)
        if part is not None:
            _divide(parts, part, cut, kerf)
        cuts.append(cut if part is None or known else replace(cut, stop=_stop(cut, part, kerf)))
    return replace(layout, cuts=tuple(cuts))


def _whole(source: Source) -> _Part:
    return _Part(0, source.width, 0, source.height)


def _divided(parts: list[_Part], cut: Cut) -> _Part | None:
    for part in parts:
        low, high = part.along(cut.axis)
        if part.across(cut.axis) == (cut.start, cut.end) and low <= cut.at < high:
            return part
    return None


def _stop(cut: Cut, part: _Part, kerf: int) -> Edge:
    low, high = part.along(cut.axis)
    from_near, from_far = cut.at - low, high - cut.at - kerf
    if cut.setting != from_near and cut.setting == from_far:
        return _far_edge(cut.axis)
    return near_edge(cut.axis)


def _divide(parts: list[_Part], part: _Part, cut: Cut, kerf: int) -> None:
    low, high = part.along(cut.axis)
    parts.remove(part)
    parts.append(part.piece(cut.axis, low, cut.at))
    parts.append(part.piece(cut.axis, min(cut.at + kerf, high), high))
