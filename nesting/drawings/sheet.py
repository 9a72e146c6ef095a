"""One layout to scale: what stands where, and the drawing of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from ..audit.case import Part
from ..audit.replay import replay
from ..plan.model import Axis, BoardPlan, Layout, Leftover, LeftoverKind, PlacedPiece
from .labels import Area, Block, Legend, Lettered, areas, letter
from .lettering import CAP, LEADING, typeset, width
from .numbers import (
    MARK,
    Numbered,
    Placed,
    Stroke,
    gutter_for,
    number_size,
    place,
    radius_for,
    ring_width,
)
from .paper import Box
from .pen import Pen, Point
from .tags import ARROW, LETTER, Tag, arrow
from .words import Measures

__all__ = [
    "USUAL_GUTTERS",
    "Composition",
    "compose",
    "compose_at_least",
    "largest_scale",
    "paint",
]

DIMENSION = 11.0  # type size of the sheet's own two lengths
DIMENSIONED = 20.0  # gutter to the left and above, where they stand
PLAIN = 4.0  # gutter to the right and below
USUAL_GUTTERS = DIMENSIONED + PLAIN  # in either direction

# Hatch, grey and how they print: an offcut is open, scrap is dense, trim is solid.
LOOKS: dict[LeftoverKind, tuple[str, str]] = {
    LeftoverKind.OFFCUT: ("/", "0.93"),
    LeftoverKind.SLIP_SHEET: ("--", "0.97"),
    LeftoverKind.SCRAP: ("xx", "0.90"),
    LeftoverKind.TRIM: ("", "0.60"),
}
MOST_TAGGED = 30  # runs of cuts; the arrows and letters of more would hide the drawing
FEW = 3  # numbers in the gutter that are no reason to leave lettering out

Room = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Gutters:
    """What is kept free round the source, in points."""

    left: float
    top: float
    right: float
    bottom: float

    def scale(self, layout: Layout, width: float, height: float) -> float:
        """Return how many points a step may take in a room of that size."""
        source = layout.source
        across, down = width - self.left - self.right, height - self.top - self.bottom
        return min(across / source.width, down / source.height)


NARROW = Gutters(DIMENSIONED, DIMENSIONED, PLAIN, PLAIN)

HEAVIEST, LIGHTEST, LIGHTER = 2.8, 0.9, 0.5


@dataclass(frozen=True, slots=True)
class Composition:
    """Everything on the drawing of one layout, in points from the source's top left.

    Attributes
    ----------
    scale
        Points a step.
    kerf
        The width of a cut.
    """

    layout: Layout
    scale: float
    gutters: Gutters
    kerf: float
    areas: tuple[Area, ...]
    lettered: Lettered
    strokes: tuple[Stroke, ...]
    placed: Placed
    across: str
    down: str
    tags: tuple[Tag, ...] = ()

    @property
    def legend(self) -> Legend:
        """What must be said beside the drawing to read it."""
        placed = self.placed
        keys, tagged = self.lettered.keys, bool(self.tags)
        return Legend(self.scale, keys, placed.left_out, placed.shared, tagged)

    def corner(self, width: float) -> Point:
        """Return where the source's top left is in a room so wide: at the top, in the middle."""
        gutters = self.gutters
        spare = width - self.sheet.width - gutters.left - gutters.right
        return gutters.left + spare / 2, gutters.top

    @property
    def sheet(self) -> Box:
        """The source."""
        source = self.layout.source
        return Box(0, 0, source.width * self.scale, source.height * self.scale)


def largest_scale(layout: Layout, width: float, height: float) -> float:
    """Return how many points a step may take in a room of that size, numbers within the source."""
    return NARROW.scale(layout, width, height)


def compose(
    layout: Layout, board: BoardPlan, measures: Measures, width: float, height: float
) -> Composition:
    """Return what stands where when the layout is drawn in `width` by `height` points."""
    composed = compose_at_least(layout, board, measures, (width, height), 0.0)
    assert composed is not None
    return composed


def compose_at_least(
    layout: Layout, board: BoardPlan, measures: Measures, room: Room, least: float
) -> Composition | None:
    """Return the same; None where it could only be drawn at a scale below `least`."""
    composer = _Composer(layout, board, measures, room)
    full = composer.composed(NARROW, sparse=False, aside=False)
    if _wanting(full) == (0, 0):
        return full
    wide = composer.wide_gutters()
    if wide.scale(layout, *room) < least:
        return None
    full = composer.composed(wide, sparse=False)
    if _wanting(full) <= (0, FEW):
        return full
    return min(full, composer.composed(wide, sparse=True), key=_wanting)


def _wanting(composed: Composition) -> tuple[int, int]:
    """Return how many numbers and marks are left out, and how many stand in the gutter."""
    placed = composed.placed
    unmarked = sum(number - 1 for _, number in placed.shared)
    return len(placed.left_out) + unmarked, placed.in_gutter


class _Composer:
    """Composes one layout in a room of a given size."""

    def __init__(self, layout: Layout, board: BoardPlan, measures: Measures, room: Room) -> None:
        self.layout, self.board, self.measures, self.room = layout, board, measures, room
        self.runs = measures.runs(layout, board)

    def wide_gutters(self) -> Gutters:
        """Return gutters that hold numbers."""
        radius = radius_for(len(self.runs))
        high = gutter_for(2 * radius)
        wide = gutter_for(max((ring_width(run.name, radius) for run in self.runs), default=0.0))
        return Gutters(max(wide, DIMENSIONED), max(high, DIMENSIONED), wide, high)

    def composed(self, gutters: Gutters, *, sparse: bool, aside: bool = True) -> Composition:
        """Compose the layout; `sparse` lettering leaves room for more numbers.

        If none is to stand `aside`, in a gutter, no more are placed after the first that must.
        """
        layout, measures, kerf = self.layout, self.measures, self.board.tool.kerf
        scale = gutters.scale(layout, *self.room)
        source = layout.source
        drawn = areas(layout, self.board, measures, scale)
        lettered = letter(drawn, len(layout.cuts), measures.sign, sparse=sparse)
        strokes = tuple(_strokes(layout, kerf, scale))
        sheet = Box(0, 0, source.width * scale, source.height * scale)
        across, down = measures.length(source.width), measures.length(source.height)
        outside = _dimension_boxes(sheet, typeset(across), typeset(down))
        blocks = [block.box for block in lettered.blocks]
        tags = tuple(self._tags(strokes, self._firsts(), blocks, sheet))
        texts = [*blocks, *(tag.box for tag in tags)]
        placed = place(
            self._numbered(strokes), texts, lettered.stranded, sheet, outside, aside=aside
        )
        # Letters of cuts within a run come last, into what room the numbers leave.
        taken = [*texts, *(one.box for one in placed.balloons), *_leaders(placed)]
        tags = (*tags, *self._tags(strokes, self._others(len(tags)), taken, sheet))
        return Composition(
            layout,
            scale,
            gutters,
            kerf * scale,
            drawn,
            lettered,
            strokes,
            placed,
            across,
            down,
            tags,
        )

    def _firsts(self) -> list[int]:
        """Return the number of the first cut of each run; nothing where there are many."""
        few = len(self.runs) <= MOST_TAGGED
        return [run.steps[0].cut.number for run in self.runs] if few else []

    def _others(self, tagged: int) -> list[int]:
        """Return the numbers of the runs' other cuts, as many as may be tagged beside those."""
        others = [step.cut.number for run in self.runs for step in run.steps[1:]]
        return others[: max(0, MOST_TAGGED - tagged)]

    def _tags(
        self, strokes: tuple[Stroke, ...], numbers: list[int], blocks: list[Box], sheet: Box
    ) -> Iterator[Tag]:
        """Yield an arrow and a letter for each of these cuts, where there is room."""
        told = self.measures.instructions(self.layout, self.board)
        taken = list(blocks)
        for number in (one - 1 for one in numbers):
            tag = arrow(strokes[number], self.layout.cuts[number].stop, told[number].part, taken)
            if tag is not None and sheet.holds(tag.box):
                taken.append(tag.box)
                yield tag

    def _numbered(self, strokes: tuple[Stroke, ...]) -> tuple[Numbered, ...]:
        rest = iter(strokes)
        return tuple(Numbered(run.name, tuple(islice(rest, len(run.steps)))) for run in self.runs)


def _leaders(placed: Placed) -> Iterator[Box]:
    """Yield boxes that cover the leaders."""
    for one in placed.balloons:
        if one.foot is not None:
            x, y = one.foot
            left, top = min(one.x, x), min(one.y, y)
            yield Box(left, top, abs(one.x - x), abs(one.y - y)).grown(0.5)


def _strokes(layout: Layout, kerf: int, scale: float) -> Iterator[Stroke]:
    depths: dict[Part | None, int] = {}
    for step in replay(layout, kerf).steps:
        cut = step.cut
        depth = depths.get(step.part, 0)
        depths[step.first] = depths[step.second] = depth + 1
        at = (cut.at + kerf / 2) * scale
        vertical = cut.axis is Axis.X
        yield Stroke(cut.number, vertical, at, cut.start * scale, cut.end * scale, depth)


def _dimension_boxes(sheet: Box, across: str, down: str) -> tuple[Box, Box]:
    x, y = sheet.middle
    line = -DIMENSIONED / 2 + 1
    return (
        Box.around(x, line, width(across, DIMENSION) + 6, DIMENSION),
        Box.around(line, y, DIMENSION, width(down, DIMENSION) + 6),
    )


def paint(pen: Pen, composed: Composition) -> None:
    """Draw a composition."""
    painter = _Painter(pen, composed)
    painter.areas()
    painter.cuts()
    painter.lettering()
    painter.tags()
    painter.numbers()
    painter.dimensions()


class _Painter:
    """Says what a drawing consists of, in points from its source's top left."""

    def __init__(self, pen: Pen, composed: Composition) -> None:
        self.pen = pen
        self.composed = composed
        self.scale = composed.scale

    def areas(self) -> None:
        layout = self.composed.layout
        for piece in layout.pieces:
            self.pen.rectangle(self._of(piece), face="white")
        for left in layout.leftovers:
            hatch, grey = LOOKS[left.kind]
            self.pen.rectangle(self._of(left), face=grey, hatch=hatch)
        self.pen.rectangle(self.composed.sheet, face="none", weight=1.4)

    def _of(self, item: PlacedPiece | Leftover) -> Box:
        sides = (item.x, item.y, item.width, item.height)
        return Box(*(side * self.scale for side in sides))

    def cuts(self) -> None:
        """Draw each cut as a line, or as its kerf where that is wider; first ones heaviest."""
        for stroke in self.composed.strokes:
            weight = max(LIGHTEST, HEAVIEST - LIGHTER * stroke.depth)
            if self.composed.kerf > weight:
                self._kerf(stroke)
            else:
                self.pen.line(stroke.point(stroke.start), stroke.point(stroke.end), weight)

    def _kerf(self, stroke: Stroke) -> None:
        kerf = self.composed.kerf
        x, y = stroke.point(stroke.start, -kerf / 2)
        sides = (kerf, stroke.end - stroke.start)
        across, down = sides if stroke.vertical else sides[::-1]
        self.pen.rectangle(Box(x, y, across, down), face="0.15", weight=0, order=2)

    def lettering(self) -> None:
        hatched = [area.box for area in self.composed.areas if area.kind is not None]
        for block in self.composed.lettered.blocks:
            if any(box.holds(block.box) for box in hatched):
                self._whiten(block.box.grown(1.5))
            self._block(block)

    def _whiten(self, box: Box) -> None:
        self.pen.rectangle(box, face="white", weight=0, order=3)

    def _block(self, block: Block) -> None:
        """Set the lines round the middle of their box, each on its own baseline."""
        setting = block.setting
        x, y = block.box.middle
        first = -(len(setting.lines) - 1) / 2 * LEADING * setting.size + CAP * setting.size / 2
        for index, line in enumerate(setting.lines):
            off = first + index * LEADING * setting.size
            place_ = (x + off, y) if setting.upright else (x, y + off)
            bold = index < setting.bold
            self.pen.text(place_, line, setting.size, bold=bold, upright=setting.upright)

    def tags(self) -> None:
        """Draw an arrow from each cut towards its stop, and the letter of its part."""
        for tag in self.composed.tags:
            self._whiten(tag.box)
            self.pen.arrow(tag.foot, tag.marker, ARROW)
            across, down = tag.middle
            self.pen.text((across, down + CAP * LETTER / 2), tag.letter, LETTER, bold=True)

    def numbers(self) -> None:
        """Draw leaders first, then rings over their ends, then what stands in them."""
        balloons = self.composed.placed.balloons
        for balloon in balloons:
            if balloon.foot is not None:
                self.pen.line((balloon.x, balloon.y), balloon.foot, 0.7)
            if not balloon.ringed:
                self._whiten(balloon.box)
        self.pen.dots([balloon.foot for balloon in balloons if balloon.foot is not None])
        for balloon in balloons:
            size = MARK
            if balloon.ringed:
                self.pen.rim(balloon.box)
                size = number_size(balloon.box.height / 2)
            place_ = (balloon.x, balloon.y + CAP * size / 2)
            self.pen.text(place_, balloon.text, size, bold=True)

    def dimensions(self) -> None:
        """Write the source's two lengths above and to the left, between lines to its corners."""
        sheet = self.composed.sheet
        x, y = sheet.middle
        level, size = -DIMENSIONED / 2 + 1, DIMENSION
        across, down = typeset(self.composed.across), typeset(self.composed.down)
        for begin, end in _pauses(sheet.width, width(across, size) / 2 + 4):
            self._dimension_line((begin, level), (end, level))
        self.pen.text((x, level + CAP * size / 2), across, size)
        for begin, end in _pauses(sheet.height, width(down, size) / 2 + 4):
            self._dimension_line((level, begin), (level, end))
        self.pen.text((level + CAP * size / 2, y), down, size, upright=True)

    def _dimension_line(self, outer: Point, inner: Point) -> None:
        """Draw a line with a tick at its outer end."""
        self.pen.line(outer, inner, 0.6)
        x, y = outer
        level = y == inner[1]
        self.pen.line(*(((x, y - 3), (x, y + 3)) if level else ((x - 3, y), (x + 3, y))), 0.6)


def _pauses(long: float, half: float) -> Iterator[tuple[float, float]]:
    """Yield the two pieces of a dimension line, outer end first, where there is room for them."""
    if long / 2 > half:
        yield 0, long / 2 - half
        yield long, long / 2 + half
