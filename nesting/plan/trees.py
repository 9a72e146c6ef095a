"""Layouts as trees of straight cuts, before anyone has put the cuts in order.

A tree covers the usable rectangle of a source, that is the whole offcut or the sheet less its
trim, in absolute coordinates: the origin is the source's own top left. The bench room turns a
tree into cuts.
"""

from __future__ import annotations

from dataclasses import dataclass

from .model import Axis, Source

__all__ = ["CutNode", "DraftLayout", "Node", "PieceNode", "WasteNode"]


@dataclass(frozen=True, slots=True)
class PieceNode:
    """A part that is exactly one piece."""

    label: str
    x: int
    y: int
    width: int
    height: int
    turned: bool


@dataclass(frozen=True, slots=True)
class WasteNode:
    """A part that is no piece."""

    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class CutNode:
    """A part divided by one straight cut.

    `at` is where the removed band begins, in absolute coordinates on `axis`; `first` lies before
    it, `second` after it. `second` is None where the band reaches or runs off the part's far end.
    """

    axis: Axis
    at: int
    x: int
    y: int
    width: int
    height: int
    first: Node
    second: Node | None


Node = PieceNode | WasteNode | CutNode


@dataclass(frozen=True, slots=True)
class DraftLayout:
    """A source, the tree that divides its usable rectangle, and how many are cut so."""

    source: Source
    root: Node
    copies: int
