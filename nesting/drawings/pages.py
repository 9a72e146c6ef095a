"""All pages of a job: covers, each layout with what its list carries over, checklist, labels."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from ..audit.facts import AuditedPlan
from ..plan.model import BoardPlan, Layout, Source, SourceKind
from ..telling import source_size
from .arrange import FOOTER, GUTTER, Arrangement, arrange, body, lies_landscape
from .checklist import checklist_pages
from .cover import cover_columns, cover_pages, put_title
from .cutlist import USUAL, CutRow, cut_rows
from .flow import Item, columns, paged, put
from .lettering import elide, spelled, typeset, width
from .offcut_labels import Label, label_pages, put_labels
from .page import Page
from .paper import Box
from .words import CHECK_FIRST, Measures, short_digest

__all__ = ["Drawer", "Job"]

HEADLINE, SUBLINE, ID = 24.0, 12.0, 20.0
FOOT, FOOT_CHECK = 8.0, 9.5

Drawer = Callable[[Page], None]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One layout with the pages it takes."""

    layout: Layout
    board: BoardPlan
    arrangement: Arrangement
    columns: tuple[Box, ...]
    carried: tuple[tuple[tuple[Item, ...], ...], ...]

    @property
    def pages(self) -> int:
        return 1 + len(self.carried)


class Job:
    """Everything about a job's pages that must be known before the first is drawn.

    Parameters
    ----------
    landscape
        Whether the pages lie on their long side; if not given, where the drawings are larger so.
    """

    def __init__(self, audited: AuditedPlan, *, landscape: bool | None = None) -> None:
        self.audited = audited
        self.plan = audited.plan
        self.measures = Measures(audited.plan)
        pairs = [(layout, board) for board in self.plan.boards for layout in board.layouts]
        self.landscape = lies_landscape(pairs, self.measures) if landscape is None else landscape
        self.sheets = [self._sheet(*pair) for pair in pairs]
        self.covers = self._covers()
        room = body(landscape=self.landscape)
        self.checklists = checklist_pages(audited, room)
        self.labels = label_pages(audited, room)

    def _sheet(self, layout: Layout, board: BoardPlan) -> _Sheet:
        arranged = arrange(layout, board, self.measures, landscape=self.landscape)
        if not arranged.carried:
            return _Sheet(layout, board, arranged, (), ())
        found = [
            (boxes, self._carried(layout, board, arranged, boxes)) for boxes in self._columnings()
        ]
        boxes, carried = min(found, key=lambda one: len(one[1]))
        return _Sheet(layout, board, arranged, boxes, carried)

    def _columnings(self) -> Iterator[tuple[Box, ...]]:
        """Yield the columns that a page of nothing but rows may have, the widest first."""
        room = body(landscape=self.landscape)
        most = int((room.width + GUTTER) // (USUAL.narrowest + GUTTER))
        for number in range(min(2, most), most + 1):
            yield tuple(columns(room, number, GUTTER))

    def _carried(
        self, layout: Layout, board: BoardPlan, arranged: Arrangement, boxes: tuple[Box, ...]
    ) -> tuple[tuple[tuple[Item, ...], ...], ...]:
        """Return what is carried over page by page, its rows broken into lines anew."""
        legend, room = arranged.composed.legend, boxes[0].width
        rows = {row.name: row for row in cut_rows(layout, board, self.measures, legend, room)}
        items = [rows[one.name] if isinstance(one, CutRow) else one for one in arranged.carried]
        pages = paged(items, [box.height for box in boxes])
        return tuple(tuple(map(tuple, filled)) for filled in pages)

    def _covers(self) -> list[list[list[Item]]]:
        """Return the cover pages; their number decides which page a layout is on."""
        covers = cover_pages(self.audited, self._first_pages(1), landscape=self.landscape)
        return cover_pages(self.audited, self._first_pages(len(covers)), landscape=self.landscape)

    def _first_pages(self, covers: int) -> list[int]:
        firsts, page = [], covers + 1
        for sheet in self.sheets:
            firsts.append(page)
            page += sheet.pages
        return firsts

    def drawers(self) -> list[Drawer]:
        """Return what draws each page, in order."""
        drawers = self._drawers()
        return [partial(self._whole, *each, len(drawers)) for each in enumerate(drawers, 1)]

    def _whole(self, number: int, drawer: Drawer, pages: int, page: Page) -> None:
        drawer(page)
        self.foot(page, number, pages)

    def _drawers(self) -> list[Drawer]:
        found: list[Drawer] = [partial(self._cover, index) for index in range(len(self.covers))]
        for sheet in self.sheets:
            found.append(partial(self._drawing, sheet))
            found += [partial(self._list_page, sheet, listed) for listed in sheet.carried]
        found += [partial(self._checklist, index) for index in range(len(self.checklists))]
        found += [partial(self._label_page, labels) for labels in self.labels]
        return found

    def _checklist(self, index: int, page: Page) -> None:
        told = "The stop, setting by setting" + (", continued" if index else "")
        self._short_head(page, told, "Tick each when every cut named is made, on every copy.")
        for box, items in zip(*self.checklists[index], strict=True):
            put(page, items, box)

    def _label_page(self, labels: list[tuple[Box, Label]], page: Page) -> None:
        told = "Cut out, stick on the offcut, and fill in what it measures: pencil, not ink."
        self._short_head(page, "Labels for what is kept", told)
        put_labels(page, labels, self.plan)

    def _short_head(self, page: Page, title: str, told: str) -> None:
        page.text(0, 22, title, 20.0, bold=True)
        page.text(0, 41, told, 10.5)
        page.line(0, 49, page.width, 49, 1.6)

    def _cover(self, index: int, page: Page) -> None:
        put_title(page, self.plan, self.audited.facts, again=index > 0)
        boxes = cover_columns(landscape=self.landscape)
        for box, items in zip(boxes, self.covers[index], strict=True):
            put(page, items, box)

    def _drawing(self, sheet: _Sheet, page: Page) -> None:
        self._head(sheet, page)
        arranged = sheet.arrangement
        page.draw(arranged.composed, arranged.drawing)
        for column, items in zip(arranged.lists, arranged.listed, strict=False):
            put(page, items, column)
        for column, items in arranged.below:
            put(page, items, column)
        if arranged.carried:
            last = arranged.lists[-1]
            page.text(last.right, last.bottom + 6, "continued on the next page", 9, align="right")

    def _list_page(self, sheet: _Sheet, listed: tuple[tuple[Item, ...], ...], page: Page) -> None:
        self._head(sheet, page, continued=True)
        for column, items in zip(sheet.columns, listed, strict=True):
            put(page, items, column)

    def _head(self, sheet: _Sheet, page: Page, *, continued: bool = False) -> None:
        layout = sheet.layout
        told = f"Cut {layout.copies} of these" + (", continued" if continued else "")
        page.text(0, 22, told, HEADLINE, bold=True)
        name_width = width(layout.id, ID, True) + 16
        page.box(Box(page.width - name_width, 0, name_width, 28), 1.4)
        page.text(page.width - name_width / 2, 21, layout.id, ID, bold=True, align="center")
        source = f"{self._source(layout.source, sheet.board)}; {self._tool(sheet.board)}"
        source_width = width(source, SUBLINE)
        board = elide(spelled(sheet.board.board), page.width - source_width - 12, SUBLINE, True)
        page.text(0, 43, board, SUBLINE, bold=True)
        page.text(page.width, 43, source, SUBLINE, align="right")
        page.line(0, 49, page.width, 49, 1.6)

    def _source(self, source: Source, board: BoardPlan) -> str:
        size = typeset(source_size(source, board, self.plan, times="×"))
        if source.kind is SourceKind.SHEET:
            return f"full sheet {size}"
        name = "" if source.id is None else f" {elide(spelled(source.id), 190, SUBLINE)},"
        return f"{source.kind.value}{name} {size}"

    def _tool(self, board: BoardPlan) -> str:
        name = elide(spelled(board.tool.name), 90, SUBLINE)
        kerf = board.tool.kerf
        told = f"{name}, kerf {typeset(self.measures.length(kerf))}" if kerf else name
        return f"{told}; do not turn" if board.no_turn else told

    def foot(self, page: Page, number: int, pages: int) -> None:
        """Write at the foot what every page says."""
        base = page.height
        page.line(0, base - FOOTER + 10, page.width, base - FOOTER + 10, 0.6)
        page.text(0, base - 12, CHECK_FIRST, FOOT_CHECK, bold=True)
        page.text(page.width, base - 12, f"page {number} of {pages}", FOOT_CHECK, bold=True,
                  align="right")  # fmt: skip
        end = f" · order {short_digest(self.plan)} · {self.plan.program}"
        room = page.width - width(end, FOOT)
        page.text(0, base, elide(spelled(self.plan.order), room, FOOT) + end, FOOT)
