"""From the packer's layouts back to labels and places: cut trees over whole sources."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..packer.layouts import Place, Split, needed, strips
from .model import Axis, trim_of
from .trees import CutNode, DraftLayout, PieceNode, WasteNode

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ..packer.layouts import Layout, Tree
    from ..problem.board import BoardProblem
    from .model import OrderedPiece, Source
    from .trees import Node

__all__ = ["draft_layouts", "merged"]


@dataclass(slots=True)
class _Labels:
    """Deals out the labels that a piece type stands for, each as often as it was ordered."""

    left: list[list[tuple[OrderedPiece, int]]]

    def deal(self, piece: int, copies: int) -> OrderedPiece | None:
        """Return a line with at least `copies` still to cut, or None if no single one has."""
        for place, (line, wanted) in enumerate(self.left[piece]):
            if wanted >= copies:
                self.left[piece][place] = (line, wanted - copies)
                return line
        return None

    def most(self, counts: Sequence[int], copies: int) -> int:
        """Return how many copies of a layout can share one way of labelling, at least 1."""
        for share in range(copies, 1, -1):
            if all(self._deals(piece, count, share) for piece, count in enumerate(counts)):
                return share
        return 1

    def _deals(self, piece: int, count: int, share: int) -> bool:
        return count == 0 or sum(wanted // share for _, wanted in self.left[piece]) >= count


def draft_layouts(problem: BoardProblem, copies: Mapping[Layout, int]) -> tuple[DraftLayout, ...]:
    """Return the layouts as cut trees with labels, over sources of the stock.

    Copies of one layout are split where they stand for different labels or offcuts.
    """
    labels = _Labels(
        [[(problem.ordered[i], problem.ordered[i].qty) for i in lines] for lines in problem.lines]
    )
    sources = _SourceIds(problem)
    drafts = []
    for layout, count in sorted(copies.items(), key=lambda item: _rank(problem, *item)):
        remaining = count
        while remaining:
            source, room = sources.deal(layout.source, remaining)
            share = labels.most(layout.counts, min(room, remaining))
            sources.take(layout.source, share)
            root = _Placing(problem, labels, share, source).place(layout)
            drafts.append(DraftLayout(source, root, share))
            remaining -= share
    return merged(drafts)


def _rank(problem: BoardProblem, layout: Layout, copies: int) -> tuple[object, ...]:
    free = problem.instance.sources[layout.source].cost == 0
    return (not free, layout.source, -copies, tuple(-count for count in layout.counts))


def merged(drafts: Iterable[DraftLayout]) -> tuple[DraftLayout, ...]:
    """Return the layouts with equal ones together, which are cut alike."""
    copies: Counter[tuple[Source, Node]] = Counter()
    for draft in drafts:
        copies[draft.source, draft.root] += draft.copies
    return tuple(DraftLayout(source, root, number) for (source, root), number in copies.items())


class _SourceIds:
    """Deals out the stock items that a source type stands for."""

    def __init__(self, problem: BoardProblem) -> None:
        self._stock = problem.stock
        self._left = [
            [[item, problem.stock[item].available] for item in items] for items in problem.items
        ]

    def deal(self, source: int, wanted: int) -> tuple[Source, int]:
        """Return a stock item of the type and how many of it there still are."""
        item, available = next(entry for entry in self._left[source] if entry[1] != 0)
        assert item is not None
        return self._stock[item].source, wanted if available is None else available

    def take(self, source: int, copies: int) -> None:
        """Take `copies` off the item that `deal` would name."""
        entry = next(entry for entry in self._left[source] if entry[1] != 0)
        if entry[1] is not None:
            entry[1] -= copies


@dataclass(frozen=True, slots=True)
class _Placing:
    """Lays one layout out on its source, in absolute steps."""

    problem: BoardProblem
    labels: _Labels
    copies: int
    source: Source

    def place(self, layout: Layout) -> Node:
        trim = trim_of(self.source, self.problem.trim, self.problem.stock)
        usable = self.problem.instance.sources[layout.source]
        return self._part(layout.root, trim.left, trim.top, usable.width, usable.height)

    def _part(self, tree: Tree, x: int, y: int, width: int, height: int) -> Node:
        if isinstance(tree, Place):
            return self._piece(tree, x, y, width, height)
        if isinstance(tree, Split):
            return self._strips(tree, x, y, width, height)
        return WasteNode(x, y, width, height)

    def _strips(self, tree: Split, x: int, y: int, width: int, height: int) -> Node:
        """Lay out a run of parallel cuts: equal strips together, wide ones first, waste last."""
        if self.problem.instance.has_bench_limits:
            return self._as_given(tree, x, y, width, height)
        sized = [
            (needed(strip, tree.axis, self.problem.instance), strip)
            for strip in strips(tree, tree.axis)
            if strip is not None
        ]
        sized.sort(key=lambda strip: (-strip[0], _order(strip[1])))
        return self._cut_off(sized, tree.axis, x, y, width, height)

    def _as_given(self, tree: Split, x: int, y: int, width: int, height: int) -> Node:
        """Lay out one cut where the packer put it: moving it could break a limit of the tool."""
        kerf = self.problem.tool.kerf
        size = (width, height)[tree.axis]
        if tree.at - kerf >= size:
            return self._part(tree.first, x, y, width, height)
        left = size - tree.at
        if tree.axis == 0:
            here, there = (x, y, tree.at - kerf, height), (x + tree.at, y, left, height)
        else:
            here, there = (x, y, width, tree.at - kerf), (x, y + tree.at, width, left)
        first = self._part(tree.first, *here)
        second = self._part(tree.second, *there) if left > 0 else None
        at = here[tree.axis] + tree.at - kerf
        return CutNode((Axis.X, Axis.Y)[tree.axis], at, x, y, width, height, first, second)

    def _cut_off(
        self,
        sized: Sequence[tuple[int, Tree]],
        axis: int,
        x: int,
        y: int,
        width: int,
        height: int,
    ) -> Node:
        if not sized:
            return WasteNode(x, y, width, height)
        (gross, tree), rest = sized[0], sized[1:]
        kerf = self.problem.tool.kerf
        size = (width, height)[axis]
        if gross - kerf >= size:
            return self._part(tree, x, y, width, height)
        left = size - gross
        here = (x, y, gross - kerf, height) if axis == 0 else (x, y, width, gross - kerf)
        there = (x + gross, y, left, height) if axis == 0 else (x, y + gross, width, left)
        first = self._part(tree, *here)
        second = self._cut_off(rest, axis, *there) if left > 0 else None
        at = here[axis] + gross - kerf
        return CutNode((Axis.X, Axis.Y)[axis], at, x, y, width, height, first, second)

    def _piece(self, place: Place, x: int, y: int, width: int, height: int) -> Node:
        line = self.labels.deal(place.piece, self.copies)
        assert line is not None
        wide, high = self._size(place)
        leaf = PieceNode(line.label, x, y, wide, high, (line.width, line.height) != (wide, high))
        if width == wide and height == high:
            return leaf
        across_first = (width - wide) * height >= (height - high) * width
        return self._freed(leaf, width, height, across_first)

    def _size(self, place: Place) -> tuple[int, int]:
        piece = self.problem.instance.pieces[place.piece]
        return (piece.height, piece.width) if place.turned else (piece.width, piece.height)

    def _freed(self, leaf: PieceNode, width: int, height: int, across_first: bool) -> Node:
        """Cut the piece out of its part's corner, so that the larger waste stays whole."""
        if width > leaf.width and (across_first or height == leaf.height):
            first = self._freed(leaf, leaf.width, height, across_first)
            return self._waste_beyond(Axis.X, leaf, first, width, height)
        if height > leaf.height:
            first = self._freed(leaf, width, leaf.height, across_first)
            return self._waste_beyond(Axis.Y, leaf, first, width, height)
        return leaf

    def _waste_beyond(
        self, axis: Axis, leaf: PieceNode, first: Node, width: int, height: int
    ) -> Node:
        kerf = self.problem.tool.kerf
        at = leaf.x + leaf.width if axis is Axis.X else leaf.y + leaf.height
        rest = (width - leaf.width if axis is Axis.X else height - leaf.height) - kerf
        second: Node | None = None
        if rest > 0 and axis is Axis.X:
            second = WasteNode(at + kerf, leaf.y, rest, height)
        elif rest > 0:
            second = WasteNode(leaf.x, at + kerf, width, rest)
        return CutNode(axis, at, leaf.x, leaf.y, width, height, first, second)


def _order(tree: Tree) -> str:
    return repr(tree)
