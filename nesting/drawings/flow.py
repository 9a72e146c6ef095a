"""Things that follow one another down a column, on to the next column, on to the next page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from .lettering import LEADING, wrap
from .page import Page
from .paper import Box

__all__ = ["Gap", "Item", "Line", "columns", "flow", "paged", "paragraph", "put", "scanty"]

FEW = 4  # lines; a page with fewer is hardly worth turning to
SHORTER = (0.95, 0.9, 0.8, 0.7, 0.6)  # of a page's height, tried where the last would be scanty


class Item(Protocol):
    """Something with a height that can be drawn into a column."""

    @property
    def height(self) -> float:
        """How much of the column it takes, in points."""

    @property
    def with_next(self) -> bool:
        """Whether it must not stand last in a column."""

    def draw(self, page: Page, left: float, top: float, width: float) -> None:
        """Draw it with its top left there."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text in cells, each so far from the left edge of the column.

    Attributes
    ----------
    cells
        Where each begins in points, its text, and whether it is bold.
    """

    cells: tuple[tuple[float, str, bool], ...]
    size: float
    with_next: bool = False

    @property
    def height(self) -> float:
        """How much of the column it takes."""
        return self.size * LEADING

    def draw(self, page: Page, left: float, top: float, width: float) -> None:  # noqa: ARG002
        """Draw it with its top left there."""
        for indent, text, bold in self.cells:
            page.text(left + indent, top + self.size, text, self.size, bold=bold)


@dataclass(frozen=True, slots=True)
class Gap:
    """Nothing, so many points of it, with a line across where `rule` is not zero."""

    height: float
    rule: float = 0.0
    with_next: bool = True

    def draw(self, page: Page, left: float, top: float, width: float) -> None:
        """Draw its line, if it has one."""
        if self.rule:
            level = top + self.height / 2
            page.line(left, level, left + width, level, self.rule)


def paragraph(
    text: str,
    width: float,
    size: float,
    *,
    bold: bool = False,
    indent: float = 0.0,
    mark: str = "",
    with_next: bool = False,
) -> list[Line]:
    """Return `text` in lines, indented, with `mark` before the first of them."""
    lines = wrap(text, width - indent, size, bold)
    marks = [mark, *[""] * (len(lines) - 1)]
    last = len(lines) - 1
    return [
        Line(
            ((0.0, sign, bold), (indent, line, bold)) if sign else ((indent, line, bold),),
            size,
            # Neither the first line stands alone at the foot of a column, nor the last at the top.
            with_next or (index < last and index in (0, last - 1)),
        )
        for index, (line, sign) in enumerate(zip(lines, marks, strict=True))
    ]


def columns(box: Box, number: int, gap: float) -> list[Box]:
    """Return a box divided into equal columns."""
    width = (box.width - (number - 1) * gap) / number
    lefts = (box.left + index * (width + gap) for index in range(number))
    return [Box(left, box.top, width, box.height) for left in lefts]


def flow(items: Sequence[Item], heights: Sequence[float]) -> list[list[Item]]:
    """Return the items column by column; the last list is what fits none of them.

    An item that must not stand last goes over with the one that follows it, and a column does
    not begin with a gap. An item higher than a whole column is put into it nevertheless.
    """
    rest = list(items)
    filled: list[list[Item]] = []
    for number, height in enumerate(heights, 1):
        while rest and isinstance(rest[0], Gap):
            rest.pop(0)
        taken = _fits(rest, height)
        if not taken and number == len(heights) and not any(filled):
            taken = 1  # lest things that must stay together and fit nowhere go round for ever
        filled.append(rest[:taken])
        rest = rest[taken:]
    return [*filled, rest]


def scanty(items: Sequence[Item]) -> bool:
    """Return whether there is something, but less than a few lines of it."""
    return 0 < sum(_lines(item) for item in items) < FEW


def _lines(item: Item) -> int:
    return 0 if isinstance(item, Gap) else 1 if isinstance(item, Line) else 2


def paged(items: Sequence[Item], heights: Sequence[float]) -> list[list[list[Item]]]:
    """Return the items page by page, each in columns of these heights; at least one page.

    Where only a few lines would come to stand on the last page, those before it are filled less.
    """
    pages = _pages(items, heights)
    if len(pages) == 1 or not scanty(_all(pages[-1])):
        return pages
    for share in SHORTER:
        fewer = _pages(items, [height * share for height in heights])
        if len(fewer) == len(pages) and not scanty(_all(fewer[-1])):
            return fewer
    return pages


def _all(filled: Sequence[Sequence[Item]]) -> list[Item]:
    return [item for column in filled for item in column]


def _pages(items: Sequence[Item], heights: Sequence[float]) -> list[list[list[Item]]]:
    pages: list[list[list[Item]]] = []
    rest = list(items)
    while rest or not pages:
        *filled, rest = flow(rest, heights)
        pages.append(filled)
    return pages


def _fits(items: list[Item], height: float) -> int:
    used = 0.0
    for index, item in enumerate(items):
        used += item.height
        if used > height + 0.01:
            return _unbroken(items, index) if index else 1
    return len(items)


def _unbroken(items: list[Item], index: int) -> int:
    while index and items[index - 1].with_next:
        index -= 1
    return index


def put(page: Page, items: Sequence[Item], box: Box) -> None:
    """Draw items down a column."""
    top = box.top
    for item in items:
        item.draw(page, box.left, top, box.width)
        top += item.height
