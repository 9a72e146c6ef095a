"""The cut list of a layout: each cut, or run of them, with number, setting, edge and parts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..audit.case import Part, part_of
from ..plan.model import BoardPlan, Cut, Layout, Leftover, LeftoverKind, PlacedPiece
from .canvas import Page
from .flow import Gap, Item, Line, paragraph
from .labels import Legend
from .lettering import CAP, LEADING, clean, elide, spelled, typeset, width, wrap
from .numbers import number_size, ring_width
from .paper import Box
from .runs import Run, runs
from .words import Measures

__all__ = ["NARROWEST", "CutRow", "cut_list"]

NARROWEST = 167.0  # of a column, in points
SETTING, EDGE, DETAIL = 14.0, 10.0, 9.0
TICK, TICK_PITCH = 9.0, 12.0
MOST_TICKS = 3  # a box for each copy up to this many, else one
VISIBLE = 3.2  # points of trim, of which half an outline and half a heavy cut cover two
RADIUS = 7.5
LONGEST_LABEL = 72.0  # points, in the list
HEAD = 11.0


@dataclass(frozen=True, slots=True)
class CutRow:
    """One cut, or one run of equal cuts, as it stands in the list.

    Attributes
    ----------
    name
        The number of the cut, or ``72–83``.
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

    name: str
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
        ring = Box(left + self.ticks * TICK_PITCH + 2, middle - RADIUS,
                   ring_width(self.name, RADIUS), 2 * RADIUS)  # fmt: skip
        page.ring(ring, self.name, number_size(RADIUS))
        page.text(ring.right + 6, base, typeset(self.setting), SETTING, bold=self.moved)
        page.text(left + width, base, f"{self.edge} edge", EDGE, align="right")
        for index, line in enumerate(self.detail):
            page.text(left + 2, base + 2.5 + DETAIL * (1 + index * LEADING), line, DETAIL)


def cut_list(
    layout: Layout, board: BoardPlan, measures: Measures, legend: Legend, room: float
) -> list[Item]:
    """Return everything that stands beside a drawing, for a column of that width."""
    items: list[Item] = []
    if layout.cuts:
        items += _head(room)
        items += _Rows(layout, measures, legend, room).of(runs(layout, board.tool.kerf))
    else:
        items += paragraph("No cuts: take it as it is.", room, HEAD, bold=True)
    items += _key(layout, legend, room)
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


class _Rows:
    """Makes the rows of one layout."""

    def __init__(self, layout: Layout, measures: Measures, legend: Legend, room: float) -> None:
        self.layout, self.measures, self.room = layout, measures, room
        self.names = _names(layout, measures, legend)

    def of(self, gathered: Iterable[Run]) -> Iterator[CutRow]:
        """Yield a row for each run; a setting is marked where it is another than before."""
        last: int | None = None
        for run in gathered:
            yield self._row(run, last)
            last = run.steps[0].cut.setting

    def _row(self, run: Run, last: int | None) -> CutRow:
        cut = run.steps[0].cut
        setting = self.measures.length(cut.setting)
        detail = (*_exactly(cut, self.measures), *self._detail(run))
        ticks = self._ticks(run.name, setting, cut.stop.value)
        return CutRow(run.name, setting, cut.stop.value, detail, ticks, cut.setting != last)

    def _ticks(self, name: str, setting: str, edge: str) -> int:
        """Return how many boxes there are: one where one for each copy is too many."""
        copies = self.layout.copies
        taken = ring_width(name, RADIUS) + width(typeset(setting), SETTING, True)
        taken += width(f"{edge} edge", EDGE) + 16
        fit = copies <= MOST_TICKS and taken + copies * TICK_PITCH <= self.room
        return copies if fit else 1

    def _detail(self, run: Run) -> tuple[str, ...]:
        """Return ``32 × 20 → A + offcut 16 × 20`` on as many lines as it takes."""
        room = self.room - 4
        whole = self._whole(run)
        parts = [self.names.get(part) or _sized(part, self.measures) for part in run.given]
        told = " + ".join(parts if len(parts) <= 2 else _counted(parts))
        if width(f"{whole} → {told}", DETAIL) <= room:
            return (f"{whole} → {told}",)
        if width(f"{whole} →", DETAIL) > room:
            return (*wrap(whole, room, DETAIL), *_one_a_line(("→", *_counted(parts)), room))
        if width(told, DETAIL) <= room:
            return (f"{whole} →", told)
        return (f"{whole} →", *_one_a_line(("", *_counted(parts)), room))

    def _whole(self, run: Run) -> str:
        """Return ``32 × 20``, or ``4 of 32 × 20, each 3 times``."""
        size = _sized(run.taken[0], self.measures)
        number, times = len(run.taken), run.times
        told = size if number == 1 else f"{number} of {size}"
        if times == 1:
            return told
        often = "twice" if times == 2 else f"{times} times"
        return f"{told}, {often}" if number == 1 else f"{told}, each {often}"


def _counted(named: Iterable[str]) -> Iterator[str]:
    """Yield each name once, after the number of times that it comes."""
    for name, number in Counter(named).items():
        yield name if number == 1 else f"{number} of {name}"


def _one_a_line(parts: Iterable[str], room: float) -> Iterator[str]:
    """Yield the parts in lines, a sign before each; the first is what stands before the others."""
    sign, *rest = parts
    for part in rest:
        yield from wrap(f"{sign} {part}", room, DETAIL)
        sign = "+"


def _exactly(cut: Cut, measures: Measures) -> tuple[str, ...]:
    """Return the exact setting where the rule cannot show it."""
    exact = measures.exact(cut.setting)
    return (f"exactly {exact}",) if exact else ()


def _names(layout: Layout, measures: Measures, legend: Legend) -> dict[Part, str]:
    """Return what each finished part is: a piece's label, or what leftover it is and its size."""
    names = {part_of(left): f"{left.kind.value} {_size(left, measures)}"
             for left in layout.leftovers}  # fmt: skip
    shown = _labels({piece.label for piece in layout.pieces})
    for piece in layout.pieces:
        label = clean(piece.label)
        mark = legend.marks.get((spelled(piece.label), _size(piece, measures)))
        short = width(label, DETAIL) <= LONGEST_LABEL
        names[part_of(piece)] = label if short else mark or shown[piece.label]
    return names


def _labels(labels: Iterable[str]) -> dict[str, str]:
    """Return how each label is shown: elided if it is long, unless it looked like another then."""
    short = {label: elide(clean(label), LONGEST_LABEL, DETAIL) for label in labels}
    often = Counter(short.values())
    return {label: one if often[one] == 1 else clean(label) for label, one in short.items()}


def _size(item: PlacedPiece | Leftover, measures: Measures) -> str:
    return measures.size(item.width, item.height)


def _sized(part: Part, measures: Measures) -> str:
    return measures.size(part.right - part.left, part.bottom - part.top)


def _key(layout: Layout, legend: Legend, room: float) -> list[Item]:
    """Return what the marks on the drawing mean, what solid grey is, and what is not shown."""
    lines: list[Item] = []
    shared = dict(legend.shared)
    for key in legend.keys:
        told = f"{key.title}  {key.size}".strip()
        told += f", on one of {shared[key.mark]}" if key.mark in shared else ""
        indent = max(24.0, width(key.mark, DETAIL) + 8)
        lines += paragraph(told, room, DETAIL, indent=indent, mark=key.mark)
    for told in (*_trim(layout, legend.scale), *_left_out(legend)):
        lines += paragraph(told, room, DETAIL)
    if not lines:
        return []
    return [Gap(10), Line(((0, "On the drawing", True),), HEAD, with_next=True), *lines]


def _trim(layout: Layout, scale: float) -> Iterator[str]:
    trims = [left for left in layout.leftovers if left.kind is LeftoverKind.TRIM]
    widest = max((min(trim.width, trim.height) * scale for trim in trims), default=0.0)
    if widest >= VISIBLE:
        yield "Solid grey is trim."
    elif trims:
        yield "Trim is too thin to show; its cuts are in the list."


def _left_out(legend: Legend) -> Iterator[str]:
    """Say what the drawing has no room for, and how to find it all the same."""
    marks = {key.mark for key in legend.keys}
    cuts = [text for text in legend.left_out if text not in marks]
    lost = [text for text in legend.left_out if text in marks]
    if cuts:
        one = len(cuts) == 1 and cuts[0].isdigit()
        told = "number of cut" if one else "numbers of cuts"
        yield f"No room for the {told} {', '.join(cuts)}: go by the sizes of the parts."
    if lost:
        yield f"No room beside every part for {', '.join(lost)}: go by the sizes."
