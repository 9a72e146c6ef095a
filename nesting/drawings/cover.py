"""The cover: what to take, how sure it is, what is left, and what to heed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..audit.facts import AuditedPlan, BoardFacts
from ..plan.model import BoardPlan, Plan
from ..telling import DEFER, Told, cautions, counted, stopped, tell
from .canvas import Page
from .flow import Gap, Item, Line, columns, flow, paragraph
from .lettering import shorten, spelled, width
from .paper import LIVE, Box
from .words import Measures, measuring

__all__ = ["cover_columns", "cover_items", "cover_pages", "put_title"]

TITLE, HEADING, SUBJECT, TEXT, SMALL = 20.0, 13.0, 11.5, 10.5, 9.5
TITLE_HEIGHT = 58.0
FOOT = 34.0
GUTTER = 24.0
INDENT = 14.0
KEY_INDENT = 62.0  # text after a row's name
NARROWEST_PIECE = 165.0


def cover_columns(*, landscape: bool) -> list[Box]:
    """Return the columns of a cover page: two on a page that lies on its long side."""
    across, down = LIVE[::-1] if landscape else LIVE
    room = Box(0, TITLE_HEIGHT, across, down - TITLE_HEIGHT - FOOT)
    return columns(room, 2 if landscape else 1, GUTTER)


def cover_pages(
    audited: AuditedPlan, first_pages: Sequence[int], *, landscape: bool
) -> list[list[list[Item]]]:
    """Return what stands on each cover page, column by column.

    Parameters
    ----------
    first_pages
        The page on which each layout is drawn, in order.
    """
    boxes = cover_columns(landscape=landscape)
    heights = [box.height for box in boxes]
    rest: Sequence[Item] = cover_items(audited, first_pages, boxes[0].width)
    pages: list[list[list[Item]]] = []
    while rest or not pages:
        *filled, rest = flow(rest, heights)
        pages.append(filled)
    return pages


def put_title(page: Page, plan: Plan, facts: Sequence[BoardFacts], *, again: bool) -> None:
    """Write the job's name and its size at the top of a cover page."""
    name = spelled(plan.order) or "Cut sheets"
    size = next((s for s in (TITLE, 17.0, 14.0) if width(name, s, True) <= page.width), 14.0)
    page.text(0, 20, shorten(name, page.width, size, True), size, bold=True)
    told = "continued" if again else _size_of_job(plan, facts)
    page.text(0, 38, told, TEXT)
    page.line(0, 47, page.width, 47, 1.6)


def _size_of_job(plan: Plan, facts: Sequence[BoardFacts]) -> str:
    pieces = sum(piece.qty for board in plan.boards for piece in board.ordered)
    sheets = sum(one.sheets for one in facts)
    layouts = sum(len(board.layouts) for board in plan.boards)
    cuts = sum(one.cuts for one in facts)
    told = (
        counted(pieces, "piece"),
        f"from {counted(sheets, 'full sheet')}",
        counted(len(plan.boards), "board"),
        counted(layouts, "layout"),
        counted(cuts, "cut") + " in all",
    )
    return " · ".join(told)


def cover_items(audited: AuditedPlan, first_pages: Sequence[int], room: float) -> list[Item]:
    """Return everything that the cover says, for a column of that width."""
    plan = audited.plan
    measures = Measures(plan)
    pages = iter(first_pages)
    items: list[Item] = []
    for board, told in zip(plan.boards, tell(audited, times="×", spell=spelled), strict=True):
        items += _board(board, told, [next(pages) for _ in board.layouts], room)
    items += _pieces(plan, measures, room)
    items += _notes(plan, room)
    items += _cautions(plan, room)
    return items


def _board(board: BoardPlan, told: Told, pages: list[int], room: float) -> Iterator[Item]:
    yield from paragraph(spelled(board.board), room, HEADING, bold=True, with_next=True)
    yield from _row("Take", told.take, room, bold=True)
    yield from _row("Proof", told.proof, room)
    yield from _row("Cost", told.cost, room)
    yield from _row("Left", told.left, room)
    layouts = zip(board.layouts, pages, told.cut, strict=True)
    cut = (f"{layout.id} (page {page}), {made}" for layout, page, made in layouts)
    yield from _row("Cut", cut, room)
    yield Gap(14, rule=0.4)


def _row(name: str, told: Iterable[str], room: float, *, bold: bool = False) -> list[Item]:
    """Return sentences with the row's name before the first; nothing for none."""
    items: list[Item] = []
    for sentence in told:
        mark = "" if items else name
        items += paragraph(sentence, room, TEXT, bold=bold, indent=KEY_INDENT, mark=mark)
    return [*items, Gap(3, with_next=False)] if items else []


def _pieces(plan: Plan, measures: Measures, room: float) -> Iterator[Item]:
    """Yield every piece of the order, in as many columns as their names allow."""
    yield Line(((0, "Pieces made", True),), HEADING, with_next=True)
    told = [
        f"{piece.qty} × {spelled(piece.label)}, {piece.kind.value}"
        f" {measures.exact_size(piece.width, piece.height)}"
        for board in plan.boards
        for piece in board.ordered
    ]
    widest = max((width(text, SMALL) for text in told), default=0.0) + 12
    number = max(1, int(room // max(widest, NARROWEST_PIECE)))
    pitch = room / number
    if number == 1:
        for text in told:
            yield from paragraph(text, room, SMALL, indent=INDENT)
    else:
        for start in range(0, len(told), number):
            row = told[start : start + number]
            yield Line(tuple((i * pitch, text, False) for i, text in enumerate(row)), SMALL)
    yield Gap(12)


def _notes(plan: Plan, room: float) -> Iterator[Item]:
    yield Line(((0, "Notes", True),), HEADING, with_next=True)
    for note in (*stopped(plan), *plan.notes, measuring(plan)):
        yield from _bullet(spelled(note), room)
    yield from _bullet(
        "Leftovers: an offcut is worth keeping as stock, a slip sheet is fit to lie under a"
        " window cut, scrap is the rest. Mark offcuts in pencil with their board.",
        room,
    )
    yield Gap(12)


def _bullet(text: str, room: float) -> list[Line]:
    return paragraph(text, room, SMALL, indent=INDENT, mark="–")


def _cautions(plan: Plan, room: float) -> Iterator[Item]:
    for caution in cautions(plan):
        yield Line(((0, caution.heading, True),), SUBJECT, with_next=True)
        for sentence in caution.in_full:
            yield from _bullet(sentence, room)
        yield Gap(6)
    yield from _bullet(DEFER, room)
