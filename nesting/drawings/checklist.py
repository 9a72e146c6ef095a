"""The checklist: every setting of the stop across the job, in order, on as few pages as hold it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from ..audit.facts import AuditedPlan, BoardFacts
from ..instructions import BY_EYE, Run, board_runs
from ..lengths import format_length
from ..plan.edges import edges_off
from ..plan.model import BoardPlan, Cutting, Layout
from ..telling import counted, first_off
from .flow import Gap, Item, columns, paged, paragraph
from .lettering import CAP, LEADING, spelled, typeset, width, wrap
from .page import Page
from .paper import Box
from .words import Measures

__all__ = ["SettingRow", "checklist_pages"]

HEADING = 12.0
TICK = 9.0
GUTTER = 18.0
SETTING_WIDTH = 74.0


@dataclass(frozen=True, slots=True)
class Look:
    """Columns and type sizes; smaller where that saves a page."""

    columns: int
    setting: float
    text: float
    gap: float


LOOKS = (Look(2, 15.0, 10.0, 4.0), Look(3, 12.0, 9.0, 2.5))


@dataclass(frozen=True, slots=True)
class SettingRow:
    """One setting of the stop, and the cuts that are made at it.

    Attributes
    ----------
    setting
        On the bench's rule; ``pencil`` where the cuts are marked, ``by eye`` where it is less.
    lines
        Which cuts, in one or more lines.
    moves
        Whether the stop is set for them.
    """

    setting: str
    lines: tuple[str, ...]
    look: Look
    moves: bool = True
    with_next: bool = False

    @property
    def height(self) -> float:
        """How much of the column it takes."""
        return (
            max(self.look.setting, len(self.lines) * self.look.text * LEADING) + 2 * self.look.gap
        )

    def draw(self, page: Page, left: float, top: float, width: float) -> None:
        """Draw it with its top left there."""
        page.line(left, top, left + width, top, 0.5)
        base = top + self.look.gap + self.look.setting * 0.85
        middle = base - CAP * self.look.setting / 2
        page.box(Box(left + 1, middle - TICK / 2, TICK, TICK), 0.9)
        bold = self.moves
        page.text(left + TICK + 8, base, typeset(self.setting), self.look.setting, bold=bold)
        for index, line in enumerate(self.lines):
            level = top + self.look.gap + self.look.text * (0.92 + index * LEADING)
            page.text(left + _indent(self.setting, self.look), level, line, self.look.text)


def _indent(setting: str, look: Look) -> float:
    """Return where the cuts begin: in one line down the page, but after a long setting."""
    return max(SETTING_WIDTH, TICK + 16 + width(typeset(setting), look.setting, True))


def checklist_pages(audited: AuditedPlan, room: Box) -> list[tuple[list[Box], list[list[Item]]]]:
    """Return the columns of each page of the checklist, and what stands in them."""
    usual, dense = (list(_paged(audited, room, look)) for look in LOOKS)
    return dense if len(dense) < len(usual) else usual


def _paged(
    audited: AuditedPlan, room: Box, look: Look
) -> Iterator[tuple[list[Box], list[list[Item]]]]:
    boxes = columns(room, look.columns, GUTTER)
    items = list(_items(audited, look, boxes[0].width))
    for filled in paged(items, [box.height for box in boxes]):
        yield boxes, filled


def _items(audited: AuditedPlan, look: Look, across: float) -> Iterator[Item]:
    measures = Measures(audited.plan)
    for board, facts in zip(audited.plan.boards, audited.facts, strict=True):
        yield from paragraph(spelled(board.board), across, HEADING, bold=True, with_next=True)
        yield from paragraph(_told(board, facts), across, look.text, with_next=True)
        yield Gap(3)
        for layout in board.layouts:
            for told in first_off(layout, board, audited.plan):
                yield _first(layout, told, look, across)
        for run in board_runs(board, audited.plan):
            yield _row(run, measures, look, across)
        yield Gap(10, with_next=False)


def _told(board: BoardPlan, facts: BoardFacts) -> str:
    if board.cutting is None:
        return "Layout by layout, all copies of each together."
    settings, least = board.cutting.settings, board.cutting.settings_lower_bound
    if not settings:
        first = any(edges_off(layout, board) for layout in board.layouts)
        return "No cuts but the edges that come off first." if first else "The stop is not used."
    told = f"{counted(settings, 'setting')} of the stop"
    shown = "" if facts.settings_rechecked else ", by a search that only a rerun can repeat"
    fewest = f"{told}; no order of cutting these parts takes {_fewer(settings, least)}{shown}."
    return " ".join((fewest, *_handling(board.cutting)))


def _handling(cutting: Cutting) -> Iterator[str]:
    """Say how often parts are turned and lifted, where the plan knows how good that is."""
    bounds = (cutting.quarter_turns_lower_bound, cutting.lifts_lower_bound)
    if None in bounds:
        return
    taken = (cutting.quarter_turns, cutting.lifts)
    told = f"In all {counted(taken[0], 'quarter turn')} and {counted(taken[1], 'lift')} of parts"
    fewest = (
        ", the fewest for these parts"
        if taken == bounds
        else f"; these parts need at least {bounds[0]} and {bounds[1]}"
    )
    yield f"{told}{fewest} with so few settings and sides left over."


def _fewer(settings: int, least: int) -> str:
    return "fewer" if settings == least else f"fewer than {least}"


def _first(layout: Layout, told: str, look: Look, across: float) -> SettingRow:
    """Return a row for the edges that come off before a layout's cuts."""
    lines = wrap(f"{_named(layout)}: {told}", across - _indent("first", look), look.text)
    return SettingRow("first", lines, look, moves=False)


def _row(run: Run, measures: Measures, look: Look, across: float) -> SettingRow:
    setting, exact = BY_EYE if run.by_eye else "pencil", ""
    if run.setting is not None:
        setting, exact = measures.length(run.setting), measures.exactly(run.setting)
    room = across - _indent(setting, look)
    told = "; ".join(_made(run, layout, numbers, measures) for layout, numbers in run.cuts)
    lines = (*(wrap(exact, room, look.text) if exact else ()), *wrap(told, room, look.text))
    return SettingRow(setting, lines, look, run.moves)


def _made(run: Run, layout: Layout, numbers: tuple[int, ...], measures: Measures) -> str:
    """Return ``L1 × 6: cuts 4–9``, with how far from its edge each is made without the stop."""
    if run.by_eye:
        return _by_eye(layout, numbers, measures)
    if run.setting is None:
        return _marks(layout, numbers, measures)
    return f"{_named(layout)}: {_which(numbers)}"


def _marks(layout: Layout, numbers: tuple[int, ...], measures: Measures) -> str:
    """Return ``L1 × 6: cuts 4–5 at 32, cut 6 at 36``: how far from its edge each is marked."""
    told = (
        f"{_which(alike)} at {_mark(distance, measures)}"
        for distance, alike in _alike(layout, numbers)
    )
    return f"{_named(layout)}: {', '.join(told)}"


def _by_eye(layout: Layout, numbers: tuple[int, ...], measures: Measures) -> str:
    """Return ``L1 × 6: cuts 1–2, 1/64 in off``: how much each takes off."""
    told = (
        f"{_which(alike)}, {format_length(measures.step * size, measures.unit, with_unit=True)} off"
        for size, alike in _alike(layout, numbers)
    )
    return f"{_named(layout)}: {', '.join(told)}"


def _alike(layout: Layout, numbers: tuple[int, ...]) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Yield the distances of cuts in their order, each with the cuts made at it."""
    for setting, alike in groupby(numbers, key=lambda number: layout.cuts[number - 1].setting):
        yield setting, tuple(alike)


def _mark(distance: int, measures: Measures) -> str:
    """Return ``32``, or ``≈16 1/16, exactly 16.1 (+0.0375)``."""
    exact = measures.exactly(distance)
    return measures.length(distance) + (f", {exact}" if exact else "")


def _named(layout: Layout) -> str:
    return layout.id if layout.copies == 1 else f"{layout.id} × {layout.copies}"


def _which(numbers: tuple[int, ...]) -> str:
    first, last = numbers[0], numbers[-1]
    return f"cut {first}" if first == last else f"cuts {first}–{last}"
