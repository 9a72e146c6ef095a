"""Parallel cuts of a part in whatever order: no order at all of a small board's cuts is better."""

from __future__ import annotations

from collections.abc import Iterator
from heapq import heappop, heappush
from itertools import count

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_bench import SIXTEENTH, bench_of, drafts, ordered

import kerfwright as kw
from kerfwright.bench import parallel
from kerfwright.bench.parallel import regrouped
from kerfwright.bench.sequence import never
from kerfwright.plan.trees import CutNode, DraftLayout, Node, PieceNode, WasteNode

Rect = tuple[int, int, int, int]  # left, top, right, bottom
Lying = tuple[int, Rect]  # a layout's number, and a part of it
Made = tuple[int, int, frozenset[Lying]]  # setting or 0, sides left over, what comes of it


def least_of_all(board: kw.BoardPlan) -> tuple[int, int]:
    """Return the fewest settings, and sides left over, over all orders of a board's cuts.

    Dijkstra's way over the parts that lie there: any cut may divide any part that it goes across
    from edge to edge, and leaves something before it. It knows the cuts and the pieces where they
    are, and no tree.
    """
    start = frozenset(
        (number, (0, 0, layout.source.width, layout.source.height))
        for number, layout in enumerate(board.layouts)
    )
    order = count()
    heap: list[tuple[tuple[int, int], int, frozenset[Lying], int | None]] = []
    heappush(heap, ((0, 0), next(order), start, None))
    reached = {(start, heap[0][3]): (0, 0)}
    while heap:
        cost, _, parts, stands = heappop(heap)
        if cost > reached[parts, stands]:
            continue
        if not any(True for part in parts for _ in inside(part, board)):
            return cost
        for part in parts:
            for setting, left, made in ways(part, board):
                now = setting or stands
                paid = (cost[0] + (now != stands), cost[1] + left)
                after = (frozenset(parts - {part} | made), now)
                if paid < reached.get(after, (paid[0] + 1, 0)):
                    reached[after] = paid
                    heappush(heap, (paid, next(order), *after))
    raise AssertionError("there is always an order")


def inside(part: Lying, board: kw.BoardPlan) -> Iterator[kw.Cut]:
    """Yield the cuts that are still to be made of a part."""
    number, rect = part
    for cut in board.layouts[number].cuts:
        axis = 0 if cut.axis is kw.Axis.X else 1
        across = (rect[1 - axis], rect[3 - axis])
        begin = rect[axis] + (not board.tool.kerf)  # without kerf its edge is a cut already
        if across == (cut.start, cut.end) and begin <= cut.at < rect[axis + 2]:
            yield cut


def ways(part: Lying, board: kw.BoardPlan) -> Iterator[Made]:
    """Yield each way to divide a part by one of its layout's cuts."""
    number, rect = part
    layout, kerf = board.layouts[number], board.tool.kerf
    for cut in inside(part, board):
        axis = 0 if cut.axis is kw.Axis.X else 1
        if cut.at == rect[axis]:
            continue
        first, second = list(rect), list(rect)
        first[axis + 2], second[axis] = cut.at, cut.at + kerf
        halves = [(number, (one[0], one[1], one[2], one[3])) for one in (first, second)]
        made = frozenset(one for one in halves if one[1][axis] < one[1][axis + 2])
        ends = [(cut.at - rect[axis], halves[1]), (rect[axis + 2] - cut.at - kerf, halves[0])]
        ends = [end for end in ends if end[0] > 0]
        reach = board.tool.reach
        within = [end for end in ends if reach is None or board_length(end[0]) <= reach]
        for setting, left in within or ends:
            sides = sides_of(left, axis, layout) * layout.copies
            yield setting if within else 0, sides, made


def board_length(steps: int) -> kw.Length:
    """Return a length on the drawn boards, whose step is an inch."""
    return kw.Length.of(steps, kw.Unit.INCH)


def sides_of(part: Lying, axis: int, layout: kw.Layout) -> int:
    """Return how many pieces have their side along an axis from a part that is left over.

    None where a later cut goes across that side.
    """
    _, rect = part
    boxes = [
        (piece.x, piece.y, piece.x + piece.width, piece.y + piece.height)
        for piece in layout.pieces
        if rect[0] <= piece.x < rect[2] and rect[1] <= piece.y < rect[3]
    ]
    return sum((box[axis], box[axis + 2]) == (rect[axis], rect[axis + 2]) for box in boxes)


@settings(max_examples=400, deadline=None)
@given(drafts(), st.sampled_from([None, None, 6]))
def test_no_order_of_the_cuts_at_all_is_better(
    drawn: tuple[list[DraftLayout], int], reach: int | None
) -> None:
    """Whichever of parallel cuts comes first, settings are no fewer, nor then sides left over."""
    layouts, kerf = drawn
    if sum(cuts_of(draft.root) for draft in layouts) > 8:
        return
    plan, _ = ordered(layouts, kerf, reach)
    (board,) = plan.boards
    cutting = board.cutting
    assert cutting is not None
    least = least_of_all(board)
    assert (cutting.settings, cutting.sides_left_over) == least
    assert (cutting.settings_lower_bound, cutting.sides_left_over_lower_bound) == least


def cuts_of(node: Node | None) -> int:
    """Return how many cuts a tree has."""
    return 1 + cuts_of(node.first) + cuts_of(node.second) if isinstance(node, CutNode) else 0


def strips(sizes: tuple[int, ...], across: int) -> DraftLayout:
    """Return a sheet of strips side by side, each a piece, cut from the left."""
    *some, last = sizes
    x = sum(some)
    root: Node = PieceNode("A", x, 0, last, across, False)
    for size in reversed(some):
        first = PieceNode("A", x - size, 0, size, across, False)
        root = CutNode(kw.Axis.X, x, x - size, 0, sum(sizes) - x + size, across, first, root)
        x -= size
    source = kw.Source(kw.SourceKind.SHEET, None, sum(sizes), across)
    return DraftLayout(source, root, 1)


def test_two_equal_strips_are_taken_off_the_far_edge_one_after_the_other() -> None:
    """Of 7 + 5 + 5 the fives come off from the right at one setting, and the 7 is left.

    Whatever comes off the left first takes two.
    """
    plan, _ = ordered([strips((7, 5, 5), 9)], 0)
    cutting = plan.boards[0].cutting
    assert cutting is not None
    assert (cutting.settings, cutting.settings_lower_bound) == (1, 1)
    assert [cut.setting for cut in plan.boards[0].layouts[0].cuts] == [5, 5]


def test_what_takes_too_long_is_left_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without looks nothing is said, and neither where somebody wants an end."""
    bench = bench_of(0, None, SIXTEENTH)
    draft = strips((7, 5, 3, 2, 4), 9)
    known = 4, 1  # one cut after the other from the left
    found = regrouped([draft], bench, known, never)
    assert found is not None
    assert (found.settings, found.left_over) < known
    assert regrouped([draft], bench, known, lambda: True) is None
    monkeypatch.setattr(parallel, "MOST_LOOKS", 0)
    assert regrouped([draft], bench, known, never) is None
    whole = DraftLayout(draft.source, WasteNode(0, 0, 21, 9), 1)
    kept = regrouped([whole], bench, (0, 0), never)
    assert kept is not None
    assert kept.drafts == [whole]
