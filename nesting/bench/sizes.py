"""How exact each piece comes out: what sets its sides, and by how much they may be off at worst.

A side that the stop sets is off by what the rule, the nearest mark and the stop are off. A side
that is left over is off by what its part was off, and by the cut beside it. What a rule may be off
is its class's maximum permissible error: in millimetres ``a + b L``, with ``L`` the length in
metres rounded up to a whole one (Measuring Instruments Regulations 2016, UK, schedule 1I, which
has it from Directive 2014/32/EU, annex X, chapter I; the figures of class III from memory). Errors
are added up as they are, none of them being likely to make up for another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from ..lengths import Length
from ..plan.model import Axis, Edge, Made, MadeBy, SourceKind

if TYPE_CHECKING:
    from ..plan.model import Cut, Layout, Source
    from .ordered import Bench

__all__ = ["RULE_ERRORS", "rule_error", "setting_error", "sized", "source_errors"]

# Millimetres, and millimetres for each metre begun.
RULE_ERRORS = {
    "I": (Fraction(1, 10), Fraction(1, 10)),
    "II": (Fraction(3, 10), Fraction(2, 10)),
    "III": (Fraction(6, 10), Fraction(4, 10)),
}


def rule_error(length: Length, rule_class: str) -> Length:
    """Return by how much a length read on a rule of a class may be off, either way.

    Examples
    --------
    >>> rule_error(Length(Fraction(1016)), "II").mm
    Fraction(7, 10)
    """
    fixed, each = RULE_ERRORS[rule_class]
    return Length(fixed + each * math.ceil(length.mm / 1000))


def setting_error(setting: int, bench: Bench) -> Length:
    """Return by how much a cut at a setting may be off: rule, nearest mark and stop together."""
    tool = bench.tool
    assert tool.rule_class is not None
    assert tool.repeatability is not None
    length = bench.step * setting
    marks = math.floor(length.mm / bench.rule.mm + Fraction(1, 2))
    beside = Length(abs(length.mm - bench.rule.mm * marks))
    return rule_error(length, tool.rule_class) + tool.repeatability + beside


@dataclass(frozen=True, slots=True)
class _Part:
    """A part's extent along x and along y, and how each comes about."""

    x: tuple[int, int]
    y: tuple[int, int]
    across: Made
    down: Made

    def along(self, axis: Axis) -> tuple[int, int]:
        return self.x if axis is Axis.X else self.y

    def made(self, axis: Axis) -> Made:
        return self.across if axis is Axis.X else self.down

    def between(self, axis: Axis, low: int, high: int, made: Made) -> _Part:
        if axis is Axis.X:
            return replace(self, x=(low, high), across=made)
        return replace(self, y=(low, high), down=made)


def sized(layout: Layout, bench: Bench) -> Layout:
    """Return the layout with what each piece's sides come from; unchanged if nothing is known."""
    if bench.tool.repeatability is None or bench.tool.rule_class is None:
        return layout
    parts = {(part.x, part.y): part for part in _cut_up(layout, bench)}
    pieces = []
    for piece in layout.pieces:
        extent = ((piece.x, piece.x + piece.width), (piece.y, piece.y + piece.height))
        part = parts[extent]
        pieces.append(replace(piece, across=part.across, down=part.down))
    return replace(layout, pieces=tuple(pieces))


def _cut_up(layout: Layout, bench: Bench) -> list[_Part]:
    source = layout.source
    across, down = (Made(MadeBy.SOURCE, off) for off in source_errors(source, bench))
    parts = [_Part((0, source.width), (0, source.height), across, down)]
    for cut in layout.cuts:
        part = next(one for one in parts if _divides(cut, one))
        parts.remove(part)
        parts += _halves(part, cut, bench)
    return parts


def source_errors(source: Source, bench: Bench) -> tuple[Length | None, Length | None]:
    """Return by how much a source's width and height may be off; None for what nobody measured."""
    if source in bench.offs:
        return bench.offs[source]
    if source.kind is SourceKind.SHEET and source not in bench.measured:
        return None, None
    return setting_error(source.width, bench), setting_error(source.height, bench)


def _divides(cut: Cut, part: _Part) -> bool:
    low, high = part.along(cut.axis)
    across = part.along(Axis.Y if cut.axis is Axis.X else Axis.X)
    return across == (cut.start, cut.end) and low <= cut.at < high


def _halves(part: _Part, cut: Cut, bench: Bench) -> list[_Part]:
    low, high = part.along(cut.axis)
    off = setting_error(cut.setting, bench)
    before = part.made(cut.axis).error
    by_stop = Made(MadeBy.STOP, off)
    left = Made(MadeBy.LEFT_OVER, None if before is None else before + off)
    first, second = (by_stop, left) if cut.stop in (Edge.LEFT, Edge.TOP) else (left, by_stop)
    beyond = cut.at + bench.tool.kerf
    made = [part.between(cut.axis, low, cut.at, first)] if cut.at > low else []
    if beyond < high:
        made.append(part.between(cut.axis, beyond, high, second))
    return made
