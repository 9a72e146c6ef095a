"""Where the number of each cut stands, so that no two meet and none covers a label.

A number stands on its own line where there is room for it; beside it, with a short leader, where
lines lie too close together; else in the gutter round the sheet. Where none of these has room it
is left out, for a number that cannot be read, or whose leader cannot be followed, is worse than
none. Everything is in points from the source's top left, and decided in cutting order by fixed
preferences, so that the same layout always looks the same.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from .lettering import width
from .paper import Box

__all__ = [
    "MARK",
    "Balloon",
    "Numbered",
    "Placed",
    "Stroke",
    "gutter_for",
    "number_size",
    "place",
    "radius_for",
    "ring_width",
]

CELL = 24.0
CROSSING, PARALLEL, TAKEN = 8, 60, 10_000
GAP = 1.5  # kept free round a number
STUB = 6.0  # length of a short leader
PREFERRED = 0.12  # of the way along the line
MOST_PLACES = 36
MOST_MARKED = 4  # equal thin areas that are each marked; of more, one is
MOST_MEMBERS = 24  # lines of a run on which its number is tried
LONGEST = 110.0  # points across and down that a leader may run
FLATTEST = 4.0  # how much farther along a dimension line than across it a leader may run
INSIDE = 3.0  # points from a line's end at which it is sure on which side of another it lies
EDGE = 8.0  # points from the sheet's edge within which a leader may cross a line
THREAD = 4.0  # what is kept free round a leader
MARK = 9.0  # type size of a mark in the gutter
LATER = 0.2  # dislike of each later line of a run
SKIPPED = 0.7  # of a short leader, which begins on its own line
NO_CUT = -1
MOST_FEET = 30
WRITTEN = 2  # what stands in the crowd is a text or a number, no line

Member = TypeVar("Member")
Point = tuple[float, float]
Cell = tuple[int, int]
Edges = tuple[float, float, float, float]  # left, top, right, bottom
_Line = tuple[int, Edges, int, bool]  # its place among all, its box, its cut, how it runs
Sides = tuple[float, float]  # width and height


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
class Numbered:
    """A number, and the lines that it stands for: one, or those of a run."""

    text: str
    strokes: tuple[Stroke, ...]


@dataclass(frozen=True, slots=True)
class Balloon:
    """A number or a mark that covers `box`; its leader ends at `foot`, where it has one."""

    text: str
    box: Box
    foot: tuple[float, float] | None = None
    ringed: bool = True

    @property
    def x(self) -> float:
        """Its middle, across."""
        return self.box.middle[0]

    @property
    def y(self) -> float:
        """Its middle, down."""
        return self.box.middle[1]


@dataclass(frozen=True, slots=True)
class Placed:
    """All numbers and marks for which there is room.

    Attributes
    ----------
    in_gutter
        How many of them stand in the gutter.
    left_out
        The numbers and marks for which there is none.
    shared
        Marks that stand beside one of many equal areas, and how many these are.
    """

    balloons: tuple[Balloon, ...]
    in_gutter: int
    left_out: tuple[str, ...]
    shared: tuple[tuple[str, int], ...]


def radius_for(numbers: int) -> float:
    """Return a ring's radius: smaller where there are many."""
    return 8.5 if numbers <= 40 else 7.5


def number_size(radius: float) -> float:
    """Return the type size of a number in a ring."""
    return radius + 1.5


def ring_width(text: str, radius: float) -> float:
    """Return how wide a ring is: round for a short number, drawn out for ``72–83``."""
    room = 3 if len(text) < 3 else 7
    return max(2 * radius, width(text, number_size(radius), True) + room)


def gutter_for(side: float) -> float:
    """Return how wide a gutter must be to hold rings of that width or height."""
    return side + STUB + 2


class _Crowd:
    """What is on the drawing already, found by place.

    A page is composed in many ways before one is chosen, so that this is asked very often.
    """

    def __init__(self) -> None:
        self._known: set[tuple[Box, int, int]] = set()
        self._lines: defaultdict[Cell, list[_Line]] = defaultdict(list)
        self._written: defaultdict[Cell, list[Edges]] = defaultdict(list)

    def add(self, box: Box, owner: int = 0, vertical: bool | None = None) -> None:
        flag = WRITTEN if vertical is None else int(vertical)
        if (box, owner, flag) in self._known:
            return
        self._known.add((box, owner, flag))
        edges = (box.left, box.top, box.right, box.bottom)
        for cell in _cells(*edges):
            if vertical is None:
                self._written[cell].append(edges)
            else:
                self._lines[cell].append((len(self._known), edges, owner, vertical))

    def cost(self, box: Box, stroke: Stroke | None = None) -> int:
        """Return how bad it would be to put a number of `stroke` on `box`; `TAKEN` for taken."""
        left, top, right, bottom = edges = (box.left, box.top, box.right, box.bottom)
        if self._is_taken(edges):
            return TAKEN
        met: dict[int, int] = {}
        for cell in _cells(*edges):
            for which, other, owner, vertical in self._lines.get(cell, ()):
                if left < other[2] and other[0] < right and top < other[3] and other[1] < bottom:
                    met[which] = _weight(owner, vertical, stroke)
        return sum(met.values())

    def taken(self, box: Box) -> bool:
        """Return whether `box` meets a text or a number."""
        return self._is_taken((box.left, box.top, box.right, box.bottom))

    def _is_taken(self, edges: Edges) -> bool:
        left, top, right, bottom = edges
        for cell in _cells(*edges):
            for other in self._written.get(cell, ()):
                if left < other[2] and other[0] < right and top < other[3] and other[1] < bottom:
                    return True
        return False


def _cells(left: float, top: float, right: float, bottom: float) -> list[Cell]:
    first, last = int(left // CELL), int(right // CELL)
    high, low = int(top // CELL), int(bottom // CELL)
    if first == last and high == low:
        return [(first, high)]
    rows = range(high, low + 1)
    return [(column, row) for column in range(first, last + 1) for row in rows]


def _weight(owner: int, vertical: bool, stroke: Stroke | None) -> int:
    if stroke is None:
        return CROSSING
    if owner == stroke.number:
        return 0
    return PARALLEL if vertical == stroke.vertical else CROSSING


def place(
    numbers: Sequence[Numbered],
    texts: Iterable[Box],
    stranded: Iterable[tuple[str, Box]],
    sheet: Box,
    outside: Iterable[Box] = (),
    *,
    aside: bool = True,
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
    aside
        Whether gutters are there to be used; if not, none is placed after the first that goes
        there or has no room.
    """
    placer = _Placer(numbers, texts, sheet, outside)
    marked = _by_mark(stranded)
    tried: list[tuple[str, Balloon | None]] = []
    for one in _tries(placer, numbers, marked):
        tried.append(one)
        if not aside and (placer.in_gutter or one[1] is None):
            break
    placed = {text for text, balloon in tried if balloon is not None}
    shared = [(text, len(boxes)) for text, boxes in marked.items()
              if len(boxes) > MOST_MARKED and text in placed]  # fmt: skip
    balloons = tuple(balloon for _, balloon in tried if balloon is not None)
    left_out = dict.fromkeys(text for text, balloon in tried if balloon is None)
    return Placed(balloons, placer.in_gutter, tuple(left_out), tuple(shared))


def _tries(
    placer: _Placer, numbers: Iterable[Numbered], marked: Mapping[str, Sequence[Box]]
) -> Iterator[tuple[str, Balloon | None]]:
    """Yield each number and each mark with its place; None where all is taken."""
    for number in numbers:
        yield number.text, placer.number(number)
    for text, boxes in marked.items():
        if len(boxes) > MOST_MARKED:
            yield text, placer.one_mark(text, boxes)
        else:
            yield from ((text, placer.mark(text, box)) for box in boxes)


def _by_mark(stranded: Iterable[tuple[str, Box]]) -> dict[str, list[Box]]:
    found: dict[str, list[Box]] = {}
    for text, box in stranded:
        found.setdefault(text, []).append(box)
    return found


class _Placer:
    def __init__(
        self, numbers: Sequence[Numbered], texts: Iterable[Box], sheet: Box, outside: Iterable[Box]
    ) -> None:
        self.sheet = sheet
        self.radius = radius_for(len(numbers))
        self.in_gutter = 0
        self.crowd = _Crowd()
        self.strokes = [stroke for one in numbers for stroke in one.strokes]
        for box in (*texts, *outside):
            self.crowd.add(box)
        for stroke in self.strokes:
            self.crowd.add(stroke.box, stroke.number, stroke.vertical)

    def number(self, one: Numbered) -> Balloon | None:
        """Return the number on a line, beside one, or in the gutter; None where all is taken."""
        sides = (ring_width(one.text, self.radius), 2 * self.radius)
        members = _spaced(one.strokes)
        on_line = (found for index, stroke in enumerate(members)
                   for found in self._on_line(one.text, stroke, sides, LATER * index))  # fmt: skip
        cost, best = min(on_line, key=_first)
        if cost < PARALLEL:
            return self._settle(best)
        near = self._near(one.text, members, sides, SKIPPED)
        if near is None and cost < 2 * PARALLEL:
            near = best
        return near and self._settle(near)

    def mark(self, text: str, area: Box) -> Balloon | None:
        """Return the mark of a thin area beside it, or in the gutter; None where all is taken."""
        vertical = area.height > area.width
        x, y = area.middle
        ends = (area.top, area.bottom) if vertical else (area.left, area.right)
        stroke = Stroke(NO_CUT, vertical, x if vertical else y, *ends, 0)
        sides = (width(text, MARK, True) + 4, MARK + 4)
        near = self._near(text, [stroke], sides, min(area.width, area.height) / 2 + 1.2)
        return near and self._settle(near)

    def one_mark(self, text: str, boxes: Sequence[Box]) -> Balloon | None:
        """Return one mark for many equal areas, beside the first that has room for it."""
        tried = (self.mark(text, box) for box in _spaced(boxes))
        return next((balloon for balloon in tried if balloon is not None), None)

    def _near(
        self, text: str, strokes: Sequence[Stroke], sides: Sides, skip: float
    ) -> Balloon | None:
        """Return a place beside a line or in the gutter; None where all are taken."""
        best: Balloon | None = None
        least: float = PARALLEL

        def most() -> float:
            return least

        for stroke in strokes:
            for cost, balloon in self._beside(text, stroke, sides, skip, most):
                if cost < least:
                    least, best = cost, balloon
        return best or self._aside(text, strokes, sides)

    def _settle(self, balloon: Balloon) -> Balloon:
        self.crowd.add(balloon.box.grown(GAP))
        if balloon.foot is not None:
            for x, y in _along(balloon.foot, balloon.box.middle, THREAD):
                self.crowd.add(Box.around(x, y, THREAD, THREAD))
        return balloon

    def _on_line(
        self, text: str, stroke: Stroke, sides: Sides, dislike: float
    ) -> Iterator[tuple[float, Balloon]]:
        for along, less in _places(stroke, sides):
            box = Box.around(*stroke.point(along), *sides)
            cost = self.crowd.cost(box.grown(GAP), stroke)
            yield cost + dislike + less, Balloon(text, box)

    def _beside(
        self, text: str, stroke: Stroke, sides: Sides, skip: float, most: Callable[[], float]
    ) -> Iterator[tuple[float, Balloon]]:
        """Yield places beside the line that may cost less than `most` by now.

        `skip` of the leader is over what it points to.
        """
        away = (sides[0] if stroke.vertical else sides[1]) / 2 + STUB + skip
        for along, dislike in _places(stroke, sides):
            for aside in (away, -away):
                if dislike >= most():
                    continue
                box = Box.around(*stroke.point(along, aside), *sides)
                around = box.grown(GAP)
                if self.sheet.holds(around):
                    cost = self.crowd.cost(around, stroke)
                    if cost + dislike >= most():
                        continue
                    cost += self._crossed(stroke, along, aside, skip)
                    foot = stroke.point(along)
                    yield cost + dislike, Balloon(text, box, foot, stroke.number != NO_CUT)

    def _crossed(self, stroke: Stroke, along: float, aside: float, skip: float) -> int:
        """Return how bad what a short leader would run through is."""
        begin = skip if aside > 0 else -skip
        x, y = stroke.point(along, (begin + aside) / 2)
        long = abs(aside) - skip
        box = Box.around(x, y, *((long, 0.5) if stroke.vertical else (0.5, long)))
        hidden = self.crowd.taken(Box.around(*stroke.point(along), 1, 1))
        return self.crowd.cost(box, stroke) + TAKEN * hidden

    def _aside(self, text: str, strokes: Sequence[Stroke], sides: Sides) -> Balloon | None:
        """Return the place in the gutter with the shortest leader that runs over nothing."""
        feet = self._feet(strokes)
        tries = sorted(
            (far, slot, foot.at, number)
            for number, foot in enumerate(feet)
            for far, slot in self._slots(foot.at, sides)
        )
        for _, slot, at, number in tries:
            box = Box.around(*slot, *sides)
            if self.crowd.taken(box.grown(GAP)) or not self._clear(at, slot):
                continue
            if not self._runs_across(feet[number], slot):
                self.in_gutter += 1
                return Balloon(text, box, at, strokes[0].number != NO_CUT)
        return None

    def _clear(self, foot: Point, slot: Point) -> bool:
        """Return whether a leader would run over no text, number or other leader."""
        if self._is_along_a_dimension(foot, slot):
            return False
        taken = (self.crowd.taken(Box.around(*point, 1, 1))
                 for point in _along(foot, slot, THREAD / 2))  # fmt: skip
        return not any(taken)

    def _runs_across(self, foot: _Foot, slot: Point) -> bool:
        """Return whether a leader crosses another cut, but for one along the sheet's very edge."""
        for stroke in self.strokes:
            met = None if stroke is foot.of else _crossing(stroke, foot.inner, slot)
            if met is not None and self._within(met) > EDGE:
                return True
        return False

    def _within(self, point: Point) -> float:
        """Return how far a point lies from the nearest of the sheet's edges."""
        sheet = self.sheet
        return min(point[0] - sheet.left, point[1] - sheet.top,
                   sheet.right - point[0], sheet.bottom - point[1])  # fmt: skip

    def _is_along_a_dimension(self, foot: Point, slot: Point) -> bool:
        """Return whether a leader into the gutter above or to the left runs beside its line."""
        away, down = abs(slot[0] - foot[0]), abs(slot[1] - foot[1])
        above, beside = slot[1] < self.sheet.top, slot[0] < self.sheet.left
        return (above and away > FLATTEST * down) or (beside and down > FLATTEST * away)

    def _feet(self, strokes: Sequence[Stroke]) -> list[_Foot]:
        """Return where a long leader may meet one of the lines, the nearest to an edge first."""
        shares = (0.0, 0.25, 0.5, 0.75, 1.0)
        feet = [_foot(one, share) for one in strokes for share in shares]
        return sorted(feet, key=lambda foot: self._within(foot.at))[:MOST_FEET]

    def _slots(self, foot: Point, sides: Sides) -> Iterator[tuple[float, Point]]:
        """Yield places in the gutter near the foot, on all four sides, each after how far it is."""
        sheet = self.sheet
        across, down = (side / 2 + STUB for side in sides)
        foot_x, foot_y = foot
        columns = [x for x in (sheet.right + across, sheet.left - across)
                   if abs(x - foot_x) <= LONGEST]  # fmt: skip
        rows = [y for y in (sheet.bottom + down, sheet.top - down)
                if abs(y - foot_y) <= LONGEST]  # fmt: skip
        if columns:
            for y in _spread(foot_y, sheet.top, sheet.bottom, sides[1] + 2 * GAP):
                for x in columns:
                    far = abs(x - foot_x) + abs(y - foot_y)
                    if far <= LONGEST:
                        yield far, (x, y)
        if rows:
            for x in _spread(foot_x, sheet.left, sheet.right, sides[0] + 2 * GAP):
                for y in rows:
                    far = abs(x - foot_x) + abs(y - foot_y)
                    if far <= LONGEST:
                        yield far, (x, y)


def _first(tried: tuple[float, Balloon]) -> float:
    return tried[0]


def _spaced(members: Sequence[Member]) -> list[Member]:
    """Return those of many lines or areas that are tried, the first of them first."""
    pitch = max(1, -(-len(members) // MOST_MEMBERS))
    return list(members[::pitch])


@dataclass(frozen=True, slots=True)
class _Foot:
    """Where a leader may meet a line.

    Attributes
    ----------
    inner
        The same, or a little inside of the line's end: there it lies on the line that ends it.
    """

    of: Stroke
    at: Point
    inner: Point


def _foot(stroke: Stroke, share: float) -> _Foot:
    long = stroke.end - stroke.start
    inside = min(INSIDE, long / 2)
    inner = min(max(share * long, inside), long - inside)
    at, within = (stroke.point(stroke.start + along) for along in (share * long, inner))
    return _Foot(stroke, at, within)


def _crossing(stroke: Stroke, foot: Point, slot: Point) -> Point | None:
    """Return where a leader crosses a line; None where it does not."""
    axis = 0 if stroke.vertical else 1
    begin, end = foot[axis] - stroke.at, slot[axis] - stroke.at
    if begin * end >= 0:
        return None
    share = begin / (begin - end)
    along = foot[1 - axis] + share * (slot[1 - axis] - foot[1 - axis])
    return stroke.point(along) if stroke.start <= along <= stroke.end else None


def _far(slot: Point, foot: Point) -> float:
    return abs(slot[0] - foot[0]) + abs(slot[1] - foot[1])


def _along(foot: Point, slot: Point, pitch: float) -> Iterator[Point]:
    """Yield the points of a leader, about so far apart, from its foot on."""
    away, down = slot[0] - foot[0], slot[1] - foot[1]
    count = max(1, int(_far(slot, foot) / pitch))
    for index in range(count + 1):
        share = index / count
        yield foot[0] + share * away, foot[1] + share * down


def _spread(middle: float, low: float, high: float, pitch: float) -> Iterator[float]:
    yield middle
    for step in range(1, int(LONGEST / pitch) + 2):
        for place_ in (middle - step * pitch, middle + step * pitch):
            if low <= place_ <= high:
                yield place_


def _places(stroke: Stroke, sides: Sides) -> Iterator[tuple[float, float]]:
    """Yield places along a stroke, and how little each is liked: below 6 in all."""
    half = (sides[1] if stroke.vertical else sides[0]) / 2
    low, high = stroke.start + half + 2, stroke.end - half - 2
    if high <= low:
        yield (stroke.start + stroke.end) / 2, 0.0
        return
    count = min(MOST_PLACES, 2 + int((high - low) / half))
    for index in range(count):
        share = index / (count - 1)
        yield low + share * (high - low), 5 * abs(share - PREFERRED)
