"""The cover: what to take, how sure it is, what is left, and what to heed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from ..audit.facts import AuditedPlan, BoardFacts, LeftoverCount
from ..plan.edges import edges_off
from ..plan.model import BoardPlan, LeftoverKind, Plan
from ..plan.names import piece_named
from ..telling import DEFER, Told, cautions, counted, exactness, squaring, stopped, tell
from .flow import Gap, Item, Line, columns, paged, paragraph
from .lettering import elide, spelled, width
from .page import Page
from .paper import LIVE, Box
from .words import Measures, measuring

__all__ = ["cover_columns", "cover_pages", "put_title"]

TITLE, HEADING, SUBJECT, SUBLINE = 20.0, 13.0, 11.5, 10.5
TITLE_HEIGHT = 58.0
FOOT = 34.0
GUTTER = 24.0
INDENT = 14.0
KEY_INDENT = 62.0  # text after a row's name
NARROWEST_PIECE = 165.0
LONG_LABEL = 30  # letters, with its number; where one is longer, each has a line of its own
MANY_LAYOUTS, MANY_LINES = 10, 6  # from which on a board's leftovers are only totalled


@dataclass(frozen=True, slots=True)
class Setting:
    """Type sizes of the sentences and of the lists, and the gap between two subjects."""

    text: float
    small: float
    gap: float


USUAL = Setting(10.5, 9.5, 12.0)
DENSE = Setting(9.5, 9.0, 7.0)  # taken where it saves a page
DENSEST = Setting(9.0, 8.5, 6.0)


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
    best = _paged(audited, first_pages, USUAL, landscape=landscape)
    for setting in (DENSE, DENSEST):
        if len(best) == 1:
            break
        denser = _paged(audited, first_pages, setting, landscape=landscape)
        best = denser if len(denser) < len(best) else best
    return best


def _paged(
    audited: AuditedPlan, first_pages: Sequence[int], setting: Setting, *, landscape: bool
) -> list[list[list[Item]]]:
    boxes = cover_columns(landscape=landscape)
    items = _items(audited, first_pages, boxes[0].width, setting)
    return paged(items, [box.height for box in boxes])


def put_title(page: Page, plan: Plan, facts: Sequence[BoardFacts], *, again: bool) -> None:
    """Write the job's name and its size at the top of a cover page."""
    name = spelled(plan.order) or "Cut sheets"
    size = next((s for s in (TITLE, 17.0, 14.0) if width(name, s, True) <= page.width), 14.0)
    page.text(0, 20, elide(name, page.width, size, True), size, bold=True)
    told = "continued" if again else _size_of_job(plan, facts)
    page.text(0, 38, told, SUBLINE)
    page.line(0, 47, page.width, 47, 1.6)


def _size_of_job(plan: Plan, facts: Sequence[BoardFacts]) -> str:
    pieces = sum(piece.qty for board in plan.boards for piece in board.ordered)
    sheets = sum(one.sheets for one in facts)
    layouts = sum(len(board.layouts) for board in plan.boards)
    cuts = sum(one.cuts for one in facts)
    edges = sum(
        layout.copies * len(edges_off(layout, board))
        for board in plan.boards
        for layout in board.layouts
    )
    told = (
        counted(pieces, "piece"),
        f"from {counted(sheets, 'full sheet')}",
        counted(len(plan.boards), "board"),
        counted(layouts, "layout"),
        counted(cuts, "cut")
        + " in all"
        + (f" and {counted(edges, 'edge')} to trim" if edges else ""),
    )
    return " · ".join(told)


def _items(
    audited: AuditedPlan, first_pages: Sequence[int], room: float, setting: Setting
) -> list[Item]:
    """Return everything that the cover says, for a column of that width."""
    told = tell(audited, times="×", spell=spelled)
    return _Writer(audited, room, setting).items(told, first_pages)


class _Writer:
    """Writes a cover for a column of a given width."""

    def __init__(self, audited: AuditedPlan, room: float, setting: Setting) -> None:
        self.audited, self.plan = audited, audited.plan
        self.measures = Measures(audited.plan)
        self.room, self.setting = room, setting

    def items(self, told: Iterable[Told], first_pages: Sequence[int]) -> list[Item]:
        """Return everything, board by board, then what holds for the whole job."""
        pages = iter(first_pages)
        items: list[Item] = []
        for board, facts, one in zip(self.plan.boards, self.audited.facts, told, strict=True):
            left = _totalled(board, facts, one, self.measures)
            items += self._board(board, one, left, [next(pages) for _ in board.layouts])
        return [*items, *self._pieces(), *self._notes(), *self._cautions()]

    def _board(
        self, board: BoardPlan, told: Told, left: tuple[str, ...], pages: list[int]
    ) -> Iterator[Item]:
        yield from paragraph(spelled(board.board), self.room, HEADING, bold=True, with_next=True)
        yield from self._row("Take", told.take, bold=True)
        yield from self._row("First", told.first)
        yield from self._row("Proof", told.proof)
        yield from self._row("Cost", told.cost)
        mistaken = board.as_planned is not None and board.as_planned.mistakes > 0
        name = "Mistake" if mistaken else "Compared"
        yield from self._row(name, told.compared, bold=mistaken)
        yield from self._row("Left", left)
        yield from self._row("Exact", exactness(board, self.plan))
        yield from self._row("Bench", self._bench(board))
        yield from self._cut(board, told, pages)
        yield Gap(self.setting.gap + 2, rule=0.4)

    def _cut(self, board: BoardPlan, told: Told, pages: list[int]) -> list[Item]:
        """Return what each layout makes: in a sentence, or with long labels one to a line."""
        names = [
            f"{layout.id} (page {page})" for layout, page in zip(board.layouts, pages, strict=True)
        ]
        if all(len(piece) <= LONG_LABEL for _, pieces in told.made for piece in pieces):
            return self._row("Cut", (f"{n}, {cut}" for n, cut in zip(names, told.cut, strict=True)))
        size = self.setting.text
        items: list[Item] = []
        for name, (often, pieces) in zip(names, told.made, strict=True):
            mark = "" if items else "Cut"
            items += paragraph(f"{name}, {often}:", self.room, size,
                               indent=KEY_INDENT, mark=mark, with_next=True)  # fmt: skip
            for piece in pieces:
                items += paragraph(piece, self.room, size, indent=KEY_INDENT + INDENT)
        return [*items, Gap(3, with_next=False)]

    def _bench(self, board: BoardPlan) -> Iterator[str]:
        """Say what comes before the first cut, and how often the stop is set."""
        yield from squaring(board)
        if board.cutting is not None and board.cutting.settings:
            yield (
                f"{counted(board.cutting.settings, 'setting')} of the stop: cut all layouts"
                " together, by the list of settings after their pages."
            )

    def _row(self, name: str, told: Iterable[str], *, bold: bool = False) -> list[Item]:
        """Return sentences with the row's name before the first; nothing for none."""
        items: list[Item] = []
        for sentence in told:
            mark = "" if items else name
            items += paragraph(sentence, self.room, self.setting.text, bold=bold,
                               indent=KEY_INDENT, mark=mark)  # fmt: skip
        return [*items, Gap(3, with_next=False)] if items else []

    def _pieces(self) -> Iterator[Item]:
        """Yield every piece of the order, in as many columns as their names allow."""
        size = self.setting.small
        yield Line(((0, "Pieces made", True),), HEADING, with_next=True)
        told = [
            f"{piece.qty} × {spelled(piece_named(piece.label))}, {piece.kind.value}"
            f" {self.measures.exact_size(piece.width, piece.height)}"
            for board in self.plan.boards
            for piece in board.ordered
        ]
        widest = max((width(text, size) for text in told), default=0.0) + 12
        number = max(1, int(self.room // max(widest, NARROWEST_PIECE)))
        pitch = self.room / number
        if number == 1:
            for text in told:
                yield from paragraph(text, self.room, size, indent=INDENT)
        else:
            for start in range(0, len(told), number):
                row = told[start : start + number]
                yield Line(tuple((i * pitch, text, False) for i, text in enumerate(row)), size)
        yield Gap(self.setting.gap)

    def _notes(self) -> Iterator[Item]:
        yield Line(((0, "Notes", True),), HEADING, with_next=True)
        for note in (*stopped(self.plan), *self.plan.notes, measuring(self.plan)):
            yield from self._bullet(spelled(note))
        yield from self._bullet(
            "Leftovers: an offcut is worth keeping as stock, a slip sheet is fit to lie under a"
            " window cut, scrap is the rest. Mark offcuts in pencil with their board."
        )
        yield Gap(self.setting.gap)

    def _cautions(self) -> Iterator[Item]:
        for caution in cautions(self.plan):
            yield Line(((0, caution.heading, True),), SUBJECT, with_next=True)
            lines = [line for one in caution.in_full for line in self._bullet(one)]
            yield from (replace(line, with_next=True) for line in lines[:-1])
            yield lines[-1]
            yield Gap(self.setting.gap / 2)
        yield from self._bullet(DEFER)

    def _bullet(self, text: str) -> list[Line]:
        return paragraph(text, self.room, self.setting.small, indent=INDENT, mark="–")


def _totalled(
    board: BoardPlan, facts: BoardFacts, told: Told, measures: Measures
) -> tuple[str, ...]:
    """Return what is left as it is told; where that is very long, only how much of each kind."""
    *kept, waste = told.left
    if len(board.layouts) < MANY_LAYOUTS or len(kept) < MANY_LINES:
        return told.left
    kinds = (LeftoverKind.OFFCUT, LeftoverKind.SLIP_SHEET)
    totals = (_total([left for left in facts.left if left.kind is kind], measures)
              for kind in kinds)  # fmt: skip
    where = "Each layout's page shows its own."
    return (*(total for total in totals if total), where, waste)


def _total(left: Sequence[LeftoverCount], measures: Measures) -> str:
    """Return ``58 offcuts of 55 sizes, up to 47 1/2 × 81 1/2 in``; nothing for none."""
    if not left:
        return ""
    number = counted(sum(one.count for one in left), left[0].kind.value)
    largest = max(left, key=lambda one: (one.width * one.height, one.width))
    size = measures.size_in_unit(largest.width, largest.height)
    return f"{number}, {size}" if len(left) == 1 else f"{number} of {len(left)} sizes, up to {size}"
