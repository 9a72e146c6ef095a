"""Where the number of each cut stands, so that no two meet and none covers a label.

A number stands on its own line where there is room for it; beside it, with a short leader, where
lines lie too close together; else in the gutter round the sheet. Everything is in points from
the source's top left, and decided in cutting order by fixed preferences, so that the same layout
always looks the same.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from .paper import Box

__all__ = ["Balloon", "Placed", "Stroke", "gutter_for", "place", "radius_for"]

CELL = 24.0
CROSSING, PARALLEL, TAKEN = 8, 60, 10_000
GAP = 1.5  # kept free round a number
STUB = 6.0  # length of a short leader
PREFERRED = 0.12  # of the way along the line
MOST_PLACES = 36
COVERED = 60.0  # points of longer leader that one point on a text is worth
SKIPPED = 0.7  # of a short leader, which begins on its own line
NO_CUT = -1
FURTHEST = 24  # places along the gutter from the foot
WRITTEN = 2  # what stands in the crowd is a text or a number, no line

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A cut as drawn.

    Attributes
    ----------
    at
        The middle of its band, on the axis that it divides.
    start, end
        On the other axis.
    depth
        How many cuts had made the part that it divides.
    """

    number: int
    vertical: bool
    at: float
    start: float
    end: float
    depth: int

    def point(self, along: float, aside: float = 0.0) -> tuple[float, float]:
        """Return the point `along` the line, and `aside` from it to the right or below."""
        return (self.at + aside, along) if self.vertical else (along, self.at + aside)

    @property
    def box(self) -> Box:
        """The line as a thin box."""
        long = self.end - self.start
        if self.vertical:
            return Box(self.at - 0.5, self.start, 1.0, long)
        return Box(self.start, self.at - 0.5, long, 1.0)


@dataclass(frozen=True, slots=True)
class Balloon:
    """A number or a mark at `x`, `y`; its leader ends at `foot`, where it has one."""

    text: str
    x: float
    y: float
    foot: tuple[float, float] | None = None
    ringed: bool = True


@dataclass(frozen=True, slots=True)
class Placed:
    """All numbers and marks, and how many of them stand in the gutter."""

    balloons: tuple[Balloon, ...]
    in_gutter: int


def radius_for(cuts: int) -> float:
    """Return a number's radius: smaller where there are many."""
    return 8.5 if cuts <= 40 else 7.5


def gutter_for(radius: float) -> float:
    """Return how wide a gutter must be to hold numbers."""
    return 2 * radius + STUB + 2


class _Crowd:
    """What is on the drawing already, found by place."""

    def __init__(self) -> None:
        self._cells: defaultdict[tuple[int, int], list[tuple[Box, int, int]]] = defaultdict(list)

    def add(self, box: Box, owner: int = 0, vertical: bool | None = None) -> None:
        flag = WRITTEN if vertical is None else int(vertical)
        for cell in _cells(box):
            self._cells[cell].append((box, owner, flag))

    def cost(self, box: Box, stroke: Stroke | None = None) -> int:
        """Return how bad it would be to put a number of `stroke` on `box`."""
        met = {
            item for cell in _cells(box) for item in self._cells.get(cell, ()) if item[0].meets(box)
        }
        return sum(_weight(owner, flag, stroke) for _, owner, flag in met)

    def taken(self, box: Box) -> int:
        """Return how many texts and numbers `box` meets."""
        return len(
            {
                other
                for cell in _cells(box)
                for other, _, flag in self._cells.get(cell, ())
                if flag == WRITTEN and other.meets(box)
            }
        )


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    for column in range(int(box.left // CELL), int(box.right // CELL) + 1):
        for row in range(int(box.top // CELL), int(box.bottom // CELL) + 1):
            yield column, row


def _weight(owner: int, flag: int, stroke: Stroke | None) -> int:
    if flag == WRITTEN:
        return TAKEN
    if stroke is None:
        return CROSSING
    if owner == stroke.number:
        return 0
    return PARALLEL if bool(flag) == stroke.vertical else CROSSING


def place(
    strokes: tuple[Stroke, ...],
    texts: Iterable[Box],
    stranded: Iterable[tuple[str, Box]],
    sheet: Box,
    outside: Iterable[Box] = (),
) -> Placed:
    """Return where every cut's number stands, and every mark of an area too thin for it.

    Parameters
    ----------
    texts
        What the lettering covers.
    stranded
        Marks to be put into the gutter, with the areas that they mean.
    outside
        What is written in the gutter already.
    """
    placer = _Placer(strokes, texts, sheet, outside)
    balloons = [placer.number(stroke) for stroke in strokes]
    balloons += [placer.mark(text, box) for text, box in stranded]
    return Placed(tuple(balloons), placer.in_gutter)


class _Placer:
    def __init__(
        self, strokes: tuple[Stroke, ...], texts: Iterable[Box], sheet: Box, outside: Iterable[Box]
    ) -> None:
        self.sheet = sheet
        self.radius = radius_for(len(strokes))
        self.side = 2 * (self.radius + GAP)
        self.in_gutter = 0
        self.crowd = _Crowd()
        for box in (*texts, *outside):
            self.crowd.add(box)
        for stroke in strokes:
            self.crowd.add(stroke.box, stroke.number, stroke.vertical)

    def number(self, stroke: Stroke) -> Balloon:
        """Return the number on its line, beside it, or in the gutter."""
        on_line = min(self._on_line(stroke), key=_first)
        if on_line[0] < PARALLEL:
            return self._settle(on_line[1])
        near = self._near(stroke, str(stroke.number), SKIPPED)
        return self._settle(near or on_line[1])

    def mark(self, text: str, area: Box) -> Balloon:
        """Return the mark of a thin area beside it, or in the gutter."""
        vertical = area.height > area.width
        x, y = area.middle
        ends = (area.top, area.bottom) if vertical else (area.left, area.right)
        stroke = Stroke(NO_CUT, vertical, x if vertical else y, *ends, 0)
        near = self._near(stroke, text, min(area.width, area.height) / 2 + 1.2)
        return self._settle(near or Balloon(text, x, y, (x, y), ringed=False))

    def _near(self, stroke: Stroke, text: str, skip: float) -> Balloon | None:
        """Return a place beside the line or in the gutter; None where all are taken."""
        cost, beside = min(self._beside(stroke, text, skip), key=_first, default=(TAKEN, None))
        if beside is not None and cost < PARALLEL:
            return beside
        return self._aside(stroke, text)

    def _settle(self, balloon: Balloon) -> Balloon:
        self.crowd.add(self._round(balloon.x, balloon.y))
        return balloon

    def _round(self, x: float, y: float) -> Box:
        return Box.around(x, y, self.side, self.side)

    def _on_line(self, stroke: Stroke) -> Iterator[tuple[float, Balloon]]:
        for along, dislike in _places(stroke, self.radius):
            x, y = stroke.point(along)
            cost = self.crowd.cost(self._round(x, y), stroke)
            yield cost + dislike, Balloon(str(stroke.number), x, y)

    def _beside(self, stroke: Stroke, text: str, skip: float) -> Iterator[tuple[float, Balloon]]:
        """Yield places beside the line; `skip` of the leader is over what it points to."""
        away = self.radius + STUB + skip
        for along, dislike in _places(stroke, self.radius):
            for aside in (away, -away):
                x, y = stroke.point(along, aside)
                box = self._round(x, y)
                if self.sheet.holds(box):
                    cost = self.crowd.cost(box, stroke) + self._crossed(stroke, along, aside, skip)
                    foot = stroke.point(along)
                    yield cost + dislike, Balloon(text, x, y, foot, stroke.number != NO_CUT)

    def _crossed(self, stroke: Stroke, along: float, aside: float, skip: float) -> int:
        """Return how bad what a short leader would run through is."""
        begin = skip if aside > 0 else -skip
        x, y = stroke.point(along, (begin + aside) / 2)
        long = abs(aside) - skip
        box = Box.around(x, y, *((long, 0.5) if stroke.vertical else (0.5, long)))
        return self.crowd.cost(box, stroke)

    def _aside(self, stroke: Stroke, text: str) -> Balloon | None:
        """Return the place in the gutter with the shortest leader that runs over no text."""
        self.in_gutter += 1
        tries = [(self._far(slot, foot), slot, foot) for foot in _feet(stroke) for slot in
                 self._slots(foot)]  # fmt: skip
        best, chosen = float("inf"), tries[0]
        for far, slot, foot in sorted(tries):
            if far >= best:
                break
            cost = far + COVERED * self._covered(slot, foot)
            if cost < best:
                best, chosen = cost, (far, slot, foot)
        far, (x, y), foot = chosen
        return None if far >= TAKEN else Balloon(text, x, y, foot, stroke.number != NO_CUT)

    def _far(self, slot: Point, foot: Point) -> float:
        distance = abs(slot[0] - foot[0]) + abs(slot[1] - foot[1])
        return TAKEN * self.crowd.taken(self._round(*slot)) + distance

    def _covered(self, slot: Point, foot: Point) -> int:
        """Return how many points of a leader lie on text or numbers."""
        away, down = slot[0] - foot[0], slot[1] - foot[1]
        count = min(40, int((abs(away) + abs(down)) / 8))
        shares = (index / (count + 1) for index in range(1, count + 1))
        points = ((foot[0] + share * away, foot[1] + share * down) for share in shares)
        return sum(self.crowd.taken(Box.around(*point, 1, 1)) for point in points)

    def _slots(self, foot: Point) -> Iterator[Point]:
        """Yield places in the gutter near the foot, on all four sides."""
        away = self.radius + STUB
        sheet = self.sheet
        for y in _spread(foot[1], sheet.top, sheet.bottom, self.side):
            yield sheet.right + away, y
            yield sheet.left - away, y
        for x in _spread(foot[0], sheet.left, sheet.right, self.side):
            yield x, sheet.bottom + away
            yield x, sheet.top - away


def _first(tried: tuple[float, Balloon]) -> float:
    return tried[0]


def _feet(stroke: Stroke) -> Iterator[Point]:
    """Yield where a long leader may meet a line."""
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        yield stroke.point(stroke.start + share * (stroke.end - stroke.start))


def _spread(middle: float, low: float, high: float, pitch: float) -> Iterator[float]:
    yield middle
    for step in range(1, min(FURTHEST, int((high - low) / pitch)) + 2):
        for place_ in (middle - step * pitch, middle + step * pitch):
            if low <= place_ <= high:
                yield place_


def _places(stroke: Stroke, radius: float) -> Iterator[tuple[float, float]]:
    """Yield places along a stroke, and how little each is liked: below 6 in all."""
    low, high = stroke.start + radius + 2, stroke.end - radius - 2
    if high <= low:
        yield (stroke.start + stroke.end) / 2, 0.0
        return
    count = min(MOST_PLACES, 2 + int((high - low) / radius))
    for index in range(count):
        share = index / (count - 1)
        yield low + share * (high - low), 5 * abs(share - PREFERRED)
