"""What each side of a piece comes from, and by how much it may be off: worked out again."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ..lengths import Length
from ..plan.model import Axis, Edge, Made, MadeBy, PlacedPiece, PlanTool, Source, SourceKind
from .case import Case, Part, Replay, part_of
from .findings import Finding

__all__ = ["check_sizes", "length_off", "sides_of"]

# Maximum permissible error of a rule, in tenths of a millimetre: at all, and for each metre begun.
# Measuring Instruments Regulations 2016 (UK), schedule 1I; class III from memory.
TENTHS = {"I": (1, 1), "II": (3, 2), "III": (6, 4)}
Sides = tuple[Made, Made]


def check_sizes(case: Case) -> Iterator[Finding]:
    """Yield every side that is said to come about otherwise, or more exactly, than it does."""
    for done in case.replays:
        if not done.finished or not _knows(case):
            continue
        sides = sides_of(done, case)
        for piece in done.layout.pieces:
            right = sides.get(part_of(piece))
            if right is not None:
                yield from _piece(piece, right, case, done)


def _knows(case: Case) -> bool:
    return case.board.tool.repeatability is not None and case.board.tool.rule_class is not None


def _piece(piece: PlacedPiece, right: Sides, case: Case, done: Replay) -> Iterator[Finding]:
    pairs = (("width", piece.across, right[0]), ("height", piece.down, right[1]))
    for side, said, true in pairs:
        if said is None or said == true:
            continue
        code = "side-made-by" if said.by is not true.by else "side-error"
        yield Finding(
            code,
            f"{case.layout_name(done.layout)}: the {side} of piece {piece.label!r} at"
            f" {case.scale.place(part_of(piece))} is said to be {_told(said)}, and it is"
            f" {_told(true)}.",
        )


def _told(made: Made) -> str:
    off = "by nobody knows how much" if made.error is None else f"by {made.error} at most"
    return f"made by {made.by} and off {off}"


def sides_of(done: Replay, case: Case) -> dict[Part, Sides]:
    """Return how the width and the height of every part of a replay come about."""
    source = done.layout.source
    whole = Part(0, 0, source.width, source.height)
    across, down = _first(source, case)
    sides: dict[Part, Sides] = {whole: (Made(MadeBy.SOURCE, across), Made(MadeBy.SOURCE, down))}
    for step in done.steps:
        before = sides[step.part]
        index = 0 if step.cut.axis is Axis.X else 1
        off = _off(step.cut.setting, case)
        error = before[index].error
        left = Made(MadeBy.LEFT_OVER, None if error is None else error + off)
        halves = [Made(MadeBy.STOP, off), left]
        if step.cut.stop in (Edge.RIGHT, Edge.BOTTOM):
            halves.reverse()
        for part, made in zip((step.first, step.second), halves, strict=True):
            if part is not None:
                sides[part] = (made, before[1]) if index == 0 else (before[0], made)
    return sides


def _first(source: Source, case: Case) -> tuple[Length | None, Length | None]:
    """Return by how much a source's width and height are off; a part's are said with the stock."""
    said = [item.off for item in case.board.stock if item.source == source]
    off = next((one for one in said if one is not None), None)
    if off is not None:
        return off
    if not _is_measured(source, case):
        return None, None
    return _off(source.width, case), _off(source.height, case)


def _is_measured(source: Source, case: Case) -> bool:
    if source.kind is not SourceKind.SHEET:
        return True
    return any(item.nominal is not None for item in case.board.stock if item.source == source)


def _off(steps: int, case: Case) -> Length:
    return length_off(case.scale.step * steps, case.board.tool, case.rule)


def length_off(length: Length, tool: PlanTool, rule: Length) -> Length:
    """Return by how much a length set or read may be off: rule, nearest mark, repeatability."""
    assert tool.rule_class is not None
    assert tool.repeatability is not None
    fixed, each = TENTHS[tool.rule_class]
    metres = -(-length.mm // 1000)
    over = length.mm % rule.mm
    beside = min(over, rule.mm - over)
    return Length(Fraction(fixed, 10) + Fraction(each, 10) * metres + beside) + tool.repeatability
