"""The cut list of a layout: each cut with its number, setting, edge and what it divides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..audit.case import Part, Step, part_of
from ..audit.replay import replay
from ..plan.model import BoardPlan, Cut, Layout, Leftover, LeftoverKind
from .canvas import Page
from .flow import Gap, Item, Line, paragraph
from .labels import Key
from .lettering import CAP, LEADING, clean, shorten, typeset, width, wrap
from .paper import Box
from .words import Measures

__all__ = ["NARROWEST", "CutRow", "cut_list"]

NARROWEST = 167.0  # of a column, in points
SETTING, EDGE, DETAIL = 14.0, 10.0, 9.0
TICK, TICK_PITCH = 9.0, 12.0
MOST_TICKS = 3  # a box for each copy up to this many, else one
RADIUS = 7.5
LONGEST_LABEL = 72.0  # points, in the list
HEAD = 11.0


@dataclass(frozen=True, slots=True)
class CutRow:
    """One cut as it stands in the list.

    Attributes
    ----------
    setting
        On the bench's rule.
    edge
        Which edge of the part lies against the stop.
    detail
        What it cuts, in one or more lines.
    ticks
        Boxes to mark that it is made: one for each copy.
    moved
        Whether the stop must be set anew.
    """

    number: int
    setting: str
    edge: str
    detail: tuple[str, ...]
    ticks: int
    moved: bool
    with_next: bool = False

    @property
    def height(self) -> float:
        """How much of the column it takes."""
        return 3 + SETTING + 2 + len(self.detail) * DETAIL * LEADING + 2.5

    def draw(self, page: Page, left: float, top: float, width: float) -> None:
        """Draw it with its top left there."""
        page.line(left, top, left + width, top, 1.6 if self.moved else 0.4)
        base = top + 3 + SETTING
        middle = base - CAP * SETTING / 2
        for index in range(self.ticks):
            corner = left + 1 + index * TICK_PITCH
            page.box(Box(corner, middle - TICK / 2, TICK, TICK), 0.9)
        x = left + self.ticks * TICK_PITCH + RADIUS + 2
        page.ring(x, middle, RADIUS, str(self.number), 9 if self.number < 100 else 7)
        page.text(x + RADIUS + 6, base, typeset(self.setting), SETTING, bold=self.moved)
        page.text(left + width, base, f"{self.edge} edge", EDGE, align="right")
        for index, line in enumerate(self.detail):
            page.text(left + 2, base + 2.5 + DETAIL * (1 + index * LEADING), line, DETAIL)


def cut_list(
    layout: Layout, board: BoardPlan, measures: Measures, keys: Sequence[Key], room: float
) -> list[Item]:
    """Return everything that stands beside a drawing, for a column of that width."""
    items: list[Item] = []
    if layout.cuts:
        items += _head(room)
        items += _rows(layout, board, measures, room)
    else:
        items += paragraph("No cuts: take it as it is.", room, HEAD, bold=True)
    items += _key(layout, keys, room)
    return items


def _head(room: float) -> list[Item]:
    line = Line(((0, "Cuts, in order", True),), HEAD, with_next=True)
    told = paragraph(
        "Set the stop, lay the edge named against it. Bold: the stop moves.",
        room,
        DETAIL,
        with_next=True,
    )
    return [line, *told, Gap(3)]


def _rows(layout: Layout, board: BoardPlan, measures: Measures, room: float) -> Iterator[CutRow]:
    names = _names(layout, measures)
    ticks = layout.copies if layout.copies <= MOST_TICKS else 1
    last: int | None = None
    for step in replay(layout, board.tool.kerf).steps:
        cut = step.cut
        yield CutRow(
            cut.number,
            measures.length(cut.setting),
            cut.stop.value,
            (*_exactly(cut, measures), *_detail(step, names, measures, room - 4)),
            ticks,
            cut.setting != last,
        )
        last = cut.setting


def _exactly(cut: Cut, measures: Measures) -> tuple[str, ...]:
    """Return the exact setting where the rule cannot show it."""
    exact = measures.exact(cut.setting)
    return (f"exactly {exact}",) if exact else ()


def _names(layout: Layout, measures: Measures) -> dict[Part, str]:
    """Return what each finished part is: a piece's label, or what leftover it is and its size."""
    names = {part_of(left): f"{left.kind.value} {_size(left, measures)}"
             for left in layout.leftovers}  # fmt: skip
    for piece in layout.pieces:
        names[part_of(piece)] = shorten(clean(piece.label), LONGEST_LABEL, DETAIL)
    return names


def _size(left: Leftover, measures: Measures) -> str:
    return measures.size(left.width, left.height)


def _detail(step: Step, names: dict[Part, str], measures: Measures, room: float) -> tuple[str, ...]:
    """Return ``32 × 20 → A + offcut 16 × 20`` on as many lines as it takes."""
    whole = f"{_sized(step.part, measures)} →"
    parts = [_named(part, names, measures) for part in (step.first, step.second) if part]
    told = " + ".join(parts)
    if width(f"{whole} {told}", DETAIL) <= room:
        return (f"{whole} {told}",)
    if width(told, DETAIL) <= room:
        return (whole, told)
    first, *others = parts
    lines = [whole, *wrap(first, room, DETAIL)]
    for other in others:
        lines += wrap(f"+ {other}", room, DETAIL)
    return tuple(lines)


def _sized(part: Part, measures: Measures) -> str:
    return measures.size(part.right - part.left, part.bottom - part.top)


def _named(part: Part, names: dict[Part, str], measures: Measures) -> str:
    return names.get(part) or _sized(part, measures)


def _key(layout: Layout, keys: Sequence[Key], room: float) -> list[Item]:
    """Return what the marks on the drawing mean, and what solid grey is."""
    lines: list[Item] = []
    for key in keys:
        told = f"{key.title}  {key.size}".strip()
        indent = max(24.0, width(key.mark, DETAIL) + 8)
        lines += paragraph(told, room, DETAIL, indent=indent, mark=key.mark)
    if any(left.kind is LeftoverKind.TRIM for left in layout.leftovers):
        lines += paragraph("Solid grey is trim.", room, DETAIL)
    if not lines:
        return []
    return [Gap(10), Line(((0, "On the drawing", True),), HEAD, with_next=True), *lines]
