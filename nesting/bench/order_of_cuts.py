"""A first cutting order: from the whole sheet down, trims early, equal settings together.

A list schedule over the parts on the bench: each part offers its next cut, and the next cut made
is one that needs no new setting; else the setting that most parts offer, larger parts first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..plan.model import (
    Axis,
    Cut,
    Edge,
    Layout,
    Leftover,
    LeftoverKind,
    PlacedPiece,
    SourceKind,
)
from ..plan.trees import CutNode, PieceNode, WasteNode

if TYPE_CHECKING:
    from ..plan.model import PlanTool, PlanTrim
    from ..plan.trees import DraftLayout, Node

__all__ = ["KindOf", "order_cuts"]

KindOf = Callable[[int, int], LeftoverKind]
"""What a leftover of this width and height is called."""


@dataclass(frozen=True, slots=True)
class _Part:
    """What lies on the bench: its true extent, what becomes of it, and its untrimmed edges.

    `node` is None for a strip of trim. `untrimmed` holds for each edge what is still to come off.
    """

    x: int
    y: int
    width: int
    height: int
    node: Node | None
    untrimmed: tuple[tuple[Edge, int], ...] = ()

    @property
    def area(self) -> int:
        return self.width * self.height


@dataclass(frozen=True, slots=True)
class _Offer:
    """The next cut of a part, and the parts that it makes."""

    part: _Part
    axis: Axis
    at: int
    stop: Edge
    setting: int
    is_trim: bool
    makes: tuple[_Part, ...]

    def cut(self, number: int) -> Cut:
        part = self.part
        start, size = (part.y, part.height) if self.axis is Axis.X else (part.x, part.width)
        return Cut(number, self.axis, self.at, start, start + size, self.setting, self.stop)


def order_cuts(
    draft: DraftLayout, name: str, tool: PlanTool, trim: PlanTrim, kind_of: KindOf
) -> Layout:
    """Return the layout with its cuts in order, each with its setting.

    Parameters
    ----------
    draft
        The tree over the usable rectangle of its source.
    name
        The layout's id.
    kind_of
        What a leftover is called.
    """
    bench = _Bench(tool)
    cuts: list[Cut] = []
    bench.lay(_whole(draft, trim))
    while bench.offers:
        offer = bench.next_offer(cuts[-1] if cuts else None)
        cuts.append(offer.cut(len(cuts) + 1))
    return Layout(
        name,
        draft.copies,
        draft.source,
        tuple(_pieces(bench.finished)),
        tuple(_leftovers(bench.finished, kind_of)),
        tuple(cuts),
    )


def _whole(draft: DraftLayout, trim: PlanTrim) -> _Part:
    source = draft.source
    untrimmed: tuple[tuple[Edge, int], ...] = ()
    if source.kind is SourceKind.SHEET:
        edges = (
            (Edge.LEFT, trim.left),
            (Edge.TOP, trim.top),
            (Edge.RIGHT, trim.right),
            (Edge.BOTTOM, trim.bottom),
        )
        untrimmed = tuple((edge, size) for edge, size in edges if size)
    return _Part(0, 0, source.width, source.height, draft.root, untrimmed)


class _Bench:
    """The parts not yet finished, each with its next cut."""

    def __init__(self, tool: PlanTool) -> None:
        self._tool = tool
        self.offers: list[_Offer] = []
        self.finished: list[_Part] = []

    def lay(self, part: _Part) -> None:
        """Put a part on the bench."""
        offer = next(self._offers_of(part), None)
        if offer is None:
            self.finished.append(part)
        else:
            self.offers.append(offer)

    def next_offer(self, last: Cut | None) -> _Offer:
        """Take the best next cut off the bench and lay down what it makes."""
        common = Counter((offer.axis, offer.setting) for offer in self.offers)

        def rank(offer: _Offer) -> tuple[object, ...]:
            same = last is not None and (last.setting, last.axis) == (offer.setting, offer.axis)
            near = last is not None and last.setting == offer.setting
            return (
                not offer.is_trim,
                not same,
                not near,
                -common[offer.axis, offer.setting],
                -offer.part.area,
                offer.part.y,
                offer.part.x,
            )

        offer = min(self.offers, key=rank)
        self.offers.remove(offer)
        for part in offer.makes:
            self.lay(part)
        return offer

    def _offers_of(self, part: _Part) -> Iterator[_Offer]:
        """Yield the part's trims that the tool can make, then its own first cut."""
        for edge, size in part.untrimmed:
            length = part.height if edge in (Edge.LEFT, Edge.RIGHT) else part.width
            if self._tool.longest_cut is None or length <= self._tool.longest_cut:
                yield self._trim(part, edge, size)
        if isinstance(part.node, CutNode):
            yield self._divide(part, part.node)

    def _trim(self, part: _Part, edge: Edge, size: int) -> _Offer:
        kerf = self._tool.kerf
        strip = size - kerf
        rest = tuple(pair for pair in part.untrimmed if pair[0] is not edge)
        if edge in (Edge.LEFT, Edge.RIGHT):
            axis, low, full = Axis.X, part.x, part.width
        else:
            axis, low, full = Axis.Y, part.y, part.height
        at = low + strip if edge in (Edge.LEFT, Edge.TOP) else low + full - size
        before, after = _halves(part, axis, at, kerf)
        if edge in (Edge.LEFT, Edge.TOP):
            makes = (replace(before, node=None), replace(after, node=part.node, untrimmed=rest))
        else:
            makes = (replace(before, node=part.node, untrimmed=rest), replace(after, node=None))
        return _Offer(part, axis, at, edge, strip, True, _real(makes))

    def _divide(self, part: _Part, node: CutNode) -> _Offer:
        kerf = self._tool.kerf
        before, after = _halves(part, node.axis, node.at, kerf)
        far, near = (Edge.RIGHT, Edge.LEFT) if node.axis is Axis.X else (Edge.BOTTOM, Edge.TOP)
        first = replace(
            before, node=node.first, untrimmed=tuple(p for p in part.untrimmed if p[0] is not far)
        )
        second = replace(
            after, node=node.second, untrimmed=tuple(p for p in part.untrimmed if p[0] is not near)
        )
        setting = node.at - (part.x if node.axis is Axis.X else part.y)
        return _Offer(part, node.axis, node.at, near, setting, False, _real((first, second)))


def _halves(part: _Part, axis: Axis, at: int, kerf: int) -> tuple[_Part, _Part]:
    """Return the extents before and after a cut; the one after may come out empty."""
    if axis is Axis.X:
        rest = part.x + part.width - at - kerf
        return (
            _Part(part.x, part.y, at - part.x, part.height, None),
            _Part(at + kerf, part.y, rest, part.height, None),
        )
    rest = part.y + part.height - at - kerf
    return (
        _Part(part.x, part.y, part.width, at - part.y, None),
        _Part(part.x, at + kerf, part.width, rest, None),
    )


def _real(parts: tuple[_Part, ...]) -> tuple[_Part, ...]:
    return tuple(part for part in parts if part.width > 0 and part.height > 0)


def _pieces(parts: list[_Part]) -> Iterator[PlacedPiece]:
    found = (part.node for part in parts)
    for node in sorted(
        (node for node in found if isinstance(node, PieceNode)), key=lambda n: (n.y, n.x)
    ):
        yield PlacedPiece(node.label, node.x, node.y, node.width, node.height, node.turned)


def _leftovers(parts: list[_Part], kind_of: KindOf) -> Iterator[Leftover]:
    for part in sorted(parts, key=lambda p: (p.y, p.x)):
        if isinstance(part.node, PieceNode):
            continue
        is_waste = isinstance(part.node, WasteNode)
        kind = kind_of(part.width, part.height) if is_waste else LeftoverKind.TRIM
        yield Leftover(kind, part.x, part.y, part.width, part.height)
