"""Where drawing and cut list go on a page, and which way round the paper lies."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from ..plan.model import BoardPlan, Layout
from .cutlist import DENSE, USUAL, Look, cut_list, cut_rows, key_list
from .flow import Item, columns, flow, scanty
from .labels import Legend, areas, letter
from .lettering import LEADING
from .paper import LIVE, Box
from .sheet import USUAL_GUTTERS, Composition, compose, compose_at_least, largest_scale
from .words import Measures

__all__ = ["FOOTER", "HEADER", "Arrangement", "arrange", "body", "lies_landscape"]

HEADER, FOOTER = 58.0, 34.0
GUTTER = 16.0  # between drawing and list, and between columns
# Of the height, what a list below may take.
SHARES = (0.06, 0.1, 0.14, 0.18, 0.22, 0.27, 0.33, 0.4, 0.46, 0.53)
# A list is carried over to another page only where it would shrink the drawing below this share.
LEAST_SHARE = 0.45
SPARE_SHARE = 0.6  # the same where the drawing has no room for some of its numbers
SMALLEST_SHARE = 0.33  # of the largest drawing, to save a page of a few lines
CARRIED_WORTH = 0.5
DENSE_WORTH = 0.8  # the same where the list is set smaller
LARGE_SHARE = 0.8  # what a drawing is worth where the list is carried over in any case
LEAST_DRAWING = 0.25  # of the page's width
LEAST_KEY = 30.0  # points, for what the marks mean
WIDER = (1.0, 1.15, 1.3, 1.45, 1.6)  # a wider column takes fewer lines, and leaves the drawing less
KEY_GAP = 6.0  # between the drawing and its key

Columns = tuple[tuple[Item, ...], ...]


@dataclass(frozen=True, slots=True)
class Arrangement:
    """One layout's first page.

    Attributes
    ----------
    drawing
        Where the drawing goes.
    lists
        The columns of the cut list.
    listed
        What stands in each column; the last is what is carried over.
    below
        Where the meaning of the drawing's marks stands under it, column by column; nowhere if it
        is among what is listed.
    look
        How large the list is set.
    """

    drawing: Box
    composed: Composition
    lists: tuple[Box, ...]
    listed: tuple[tuple[Item, ...], ...]
    below: tuple[tuple[Box, tuple[Item, ...]], ...] = ()
    look: Look = USUAL

    @property
    def carried(self) -> tuple[Item, ...]:
        """What of the list goes on to the next page."""
        return self.listed[-1]


def body(*, landscape: bool) -> Box:
    """Return the part of a page between its head and its foot."""
    width, height = LIVE[::-1] if landscape else LIVE
    return Box(0, HEADER, width, height - HEADER - FOOTER)


def lies_landscape(layouts: list[tuple[Layout, BoardPlan]], measures: Measures) -> bool:
    """Return whether the job's pages lie on their long side: where its drawings are larger so.

    All pages of a job lie the same way, so that they can be pinned up or clipped together.
    """
    return (
        sum(
            _worth(layout, board, measures, landscape=True)
            - _worth(layout, board, measures, landscape=False)
            for layout, board in layouts
        )
        > 0
    )


def _worth(layout: Layout, board: BoardPlan, measures: Measures, *, landscape: bool) -> float:
    """Return how large the layout is drawn; less where its list does not fit beside it."""
    longer = max(layout.source.width, layout.source.height)
    for look, worth in ((USUAL, 1.0), (DENSE, DENSE_WORTH)):
        divisions = _divisions_of(layout, look, landscape=landscape)
        whole = next(_holding(divisions, layout, board, measures), None)
        if whole is not None:
            return whole.scale * longer * worth
    divisions = _divisions_of(layout, USUAL, landscape=landscape)
    return _roomiest(divisions).scale * longer * CARRIED_WORTH


def arrange(
    layout: Layout, board: BoardPlan, measures: Measures, *, landscape: bool
) -> Arrangement:
    """Return the arrangement that draws the layout largest with its whole list beside it.

    Where it has no room, it is set smaller. If numbers in the gutters would leave little of the
    drawing even then, the list is carried over; not for a few lines, if a smaller drawing leaves
    them room or a larger one takes more along.
    """
    for look in (USUAL, DENSE):
        whole = _whole(_divisions_of(layout, look, landscape=landscape), layout, board, measures)
        if whole is not None:
            return whole
    divisions = _divisions_of(layout, USUAL, landscape=landscape)
    roomiest = _arranged(_roomiest(divisions), layout, board, measures)
    if not scanty(roomiest.carried):
        return roomiest
    return _unscanty(divisions, layout, board, measures) or roomiest


def _whole(
    divisions: list[_Division], layout: Layout, board: BoardPlan, measures: Measures
) -> Arrangement | None:
    """Return the arrangement with the largest drawing that carries nothing over."""
    largest = divisions[0].scale
    for division in _holding(divisions, layout, board, measures):
        room = (division.drawing.width, division.drawing.height)
        composed = compose_at_least(layout, board, measures, room, LEAST_SHARE * largest)
        if composed is None:
            continue
        least = SPARE_SHARE if composed.placed.left_out else LEAST_SHARE
        if composed.scale >= least * largest:
            arranged = _with_list(division, composed, board, measures)
            if not arranged.carried:
                return arranged
    return None


def _unscanty(
    divisions: list[_Division], layout: Layout, board: BoardPlan, measures: Measures
) -> Arrangement | None:
    """Return an arrangement that carries over nothing, or more than a few lines."""
    others = [one for one in divisions if one.scale >= SMALLEST_SHARE * divisions[0].scale]
    # Where the bare list has no room, it has none with what the drawing leaves out either.
    held = (one for one in others if _holds_list(one, layout, board, measures))
    whole = (_arranged(one, layout, board, measures) for one in held)
    found = next((one for one in whole if not one.carried), None)
    if found is not None:
        return found
    more = (_arranged(one, layout, board, measures) for one in others)
    return next((one for one in more if not scanty(one.carried)), None)


def _arranged(
    division: _Division, layout: Layout, board: BoardPlan, measures: Measures
) -> Arrangement:
    drawing = division.drawing
    composed = compose(layout, board, measures, drawing.width, drawing.height)
    return _with_list(division, composed, board, measures)


def _with_list(
    division: _Division, composed: Composition, board: BoardPlan, measures: Measures
) -> Arrangement:
    drawing, lists, layout = division.drawing, division.lists, composed.layout
    legend = composed.legend
    items = cut_list(layout, board, measures, legend, lists[0].width, division.look)
    free = drawing.height - composed.sheet.height - composed.gutters.top - composed.gutters.bottom
    listed, below = _placed(items, division, free, layout, legend)
    return Arrangement(drawing, composed, lists, listed, below, division.look)


def _placed(
    items: list[Item], division: _Division, free: float, layout: Layout, legend: Legend
) -> tuple[Columns, tuple[tuple[Box, tuple[Item, ...]], ...]]:
    """Return what stands in each column of the list, carried over last, and under the drawing.

    What the drawing's marks mean stands after the cuts if both have room, else in what is `free`
    under the drawing, else in the last columns: cuts go on to another page, it does not.
    """
    lists, look = division.lists, division.look
    heights = [column.height for column in lists]
    key = key_list(layout, legend, lists[0].width, look)
    together = flow([*items, *key], heights)
    if not together[-1]:
        return _columns(together), ()
    if free >= LEAST_KEY + KEY_GAP:
        boxes = _under(division.drawing, free)
        beneath = key_list(layout, legend, boxes[0].width, look)
        keyed = flow(beneath, [box.height for box in boxes])
        if not keyed[-1]:
            below = tuple(zip(boxes, map(tuple, keyed[:-1]), strict=True))
            return _columns(flow(items, heights)), below
    return _columns(_key_last(items, key, heights) or together), ()


def _key_last(
    items: Sequence[Item], key: Sequence[Item], heights: Sequence[float]
) -> list[list[Item]] | None:
    """Return the columns with the key at their end, and cuts in all the room before it, if any."""
    for first in range(len(heights) - 1, -1, -1):
        for begun in range(1, len(key) + 1):
            beside = heights[first] - sum(item.height for item in key[:begun])
            *later, lost = flow(key[begun:], heights[first + 1 :])
            if lost or beside < 0 or key[begun - 1].with_next:
                continue
            *filled, carried = _within(items, [*heights[:first], beside])
            if any(filled):
                return [*filled[:-1], [*filled[-1], *key[:begun]], *later, carried]
    return None


def _within(items: Sequence[Item], heights: Sequence[float]) -> list[list[Item]]:
    """Return the items column by column; nothing in the last one if it is too low for a row."""
    found = flow(items, heights)
    if sum(item.height for item in found[-2]) <= heights[-1] + 0.01:
        return found
    *filled, carried = flow(items, heights[:-1])
    return [*filled, [], carried]


def _columns(filled: list[list[Item]]) -> Columns:
    return tuple(map(tuple, filled))


def _under(drawing: Box, free: float) -> list[Box]:
    """Return columns in what is free under a drawing."""
    number = max(1, int((drawing.width + GUTTER) // (USUAL.narrowest + GUTTER)))
    room = Box(drawing.left, drawing.bottom - free + KEY_GAP, drawing.width, free - KEY_GAP)
    return columns(room, number, GUTTER)


@dataclass(frozen=True, slots=True)
class _Division:
    """One way to divide a page between drawing and list."""

    scale: float
    drawing: Box
    lists: tuple[Box, ...]
    look: Look


def _divisions_of(layout: Layout, look: Look, *, landscape: bool) -> list[_Division]:
    """Return the ways to divide a page, the one with the largest drawing first."""
    found = [
        _Division(largest_scale(layout, drawing.width, drawing.height), drawing, lists, look)
        for drawing, lists in _divisions(layout, body(landscape=landscape), look.narrowest)
    ]
    return sorted(found, key=lambda one: -one.scale)


def _holding(
    divisions: list[_Division], layout: Layout, board: BoardPlan, measures: Measures
) -> Iterator[_Division]:
    """Yield the divisions that hold the whole list, unless the drawing is much smaller for it."""
    for division in divisions:
        fair = division.scale >= LEAST_SHARE * divisions[0].scale
        if fair and _holds_list(division, layout, board, measures):
            yield division


def _roomiest(divisions: list[_Division]) -> _Division:
    """Return the division with most room for the list among those with a large drawing."""
    large = [one for one in divisions if one.scale >= LARGE_SHARE * divisions[0].scale]
    return max(large, key=lambda one: sum(box.height for box in one.lists))


def _holds_list(division: _Division, layout: Layout, board: BoardPlan, measures: Measures) -> bool:
    """Return whether a page holds the whole list; whichever way pages lie, it is asked twice."""
    key = ("holds", board.board, layout.id, division)
    return measures.kept(key, lambda: _has_room(division, layout, board, measures))


def _has_room(division: _Division, layout: Layout, board: BoardPlan, measures: Measures) -> bool:
    lists, look = division.lists, division.look
    heights = [column.height for column in lists]
    if len(measures.runs(layout, board)) * _least_row(division.look) > sum(heights):
        return False
    bare = cut_rows(layout, board, measures, Legend(division.scale, ()), lists[0].width, look)
    if sum(row.height for row in bare) > sum(heights):
        return False
    keys = letter(
        areas(layout, board, measures, division.scale), len(layout.cuts), measures.sign
    ).keys
    legend = Legend(division.scale, keys)
    items = cut_list(layout, board, measures, legend, lists[0].width, division.look)
    free = division.drawing.height - division.scale * layout.source.height - USUAL_GUTTERS
    listed, _ = _placed(items, division, free, layout, legend)
    return not listed[-1]


def _least_row(look: Look) -> float:
    """Return how much of a column a row takes at least, with one line below its setting."""
    return look.above + look.setting + look.detail * LEADING + look.below


def _divisions(
    layout: Layout, room: Box, narrowest: float
) -> Iterator[tuple[Box, tuple[Box, ...]]]:
    """Yield the ways to divide a page: list to the right in columns, or below in columns."""
    source = layout.source
    for number, wider in product((1, 2, 3), WIDER):
        most = room.width - number * (narrowest * wider + GUTTER)
        if most > LEAST_DRAWING * room.width:
            scale = largest_scale(layout, most, room.height)
            wide = scale * source.width + USUAL_GUTTERS
            if wide < most and wider > 1:
                continue  # the columns are as wide as that already
            wide = min(most, wide)
            drawing = Box(room.left, room.top, wide, room.height)
            left = drawing.right + GUTTER
            lists = Box(left, room.top, room.right - left, room.height)
            yield drawing, tuple(columns(lists, number, GUTTER))
    number = int((room.width + GUTTER) // (narrowest + GUTTER))
    for share in SHARES:
        high = share * room.height
        drawing = Box(room.left, room.top, room.width, room.height - high - GUTTER)
        lists = Box(room.left, drawing.bottom + GUTTER, room.width, high)
        yield drawing, tuple(columns(lists, number, GUTTER))
