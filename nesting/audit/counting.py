"""The facts of an audited plan, counted from the replay."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import fields

from ..plan.model import LeftoverKind, SourceKind
from .bound import Bound, is_rechecked
from .case import Case, Replay, part_of
from .cutting import is_shown, settings_of
from .facts import Areas, BoardFacts, LayoutFacts, LeftoverCount, SourceUse
from .totals import sources_used

__all__ = ["board_facts"]


def board_facts(case: Case, bound: Bound) -> BoardFacts:
    """Return what a board's plan comes to."""
    layouts = tuple(_layout_facts(done, case) for done in case.replays)
    cutting = case.board.cutting
    return BoardFacts(
        board=case.board.board,
        sheets=case.board.sheets,
        sources=tuple(SourceUse(*used) for used in sources_used(case.board).items()),
        areas=_sum((layout.areas, layout.copies) for layout in layouts),
        cuts=sum(layout.cuts * layout.copies for layout in layouts),
        settings=sum(one.settings for one in layouts) if cutting is None else cutting.settings,
        settings_rechecked=cutting is None or is_shown(cutting.settings_lower_bound, case),
        layouts=layouts,
        left=_left(case),
        bound=bound.value,
        sheets_bound=bound.sheets,
        rechecked=is_rechecked(case, bound),
    )


def _layout_facts(done: Replay, case: Case) -> LayoutFacts:
    layout = done.layout
    return LayoutFacts(
        id=layout.id,
        copies=layout.copies,
        cuts=len(layout.cuts),
        settings=settings_of(layout.cuts, case),
        areas=_areas(done),
    )


def _areas(done: Replay) -> Areas:
    layout = done.layout
    whole = layout.source.width * layout.source.height
    left: Counter[LeftoverKind] = Counter()
    for leftover in layout.leftovers:
        left[leftover.kind] += part_of(leftover).area
    return Areas(
        sources=whole,
        sheets=whole if layout.source.kind is SourceKind.SHEET else 0,
        pieces=sum(part_of(piece).area for piece in layout.pieces),
        kerf=done.kerf_area,
        offcut=left[LeftoverKind.OFFCUT],
        slip_sheet=left[LeftoverKind.SLIP_SHEET],
        scrap=left[LeftoverKind.SCRAP],
        trim=left[LeftoverKind.TRIM],
    )


def _sum(areas: Iterable[tuple[Areas, int]]) -> Areas:
    """Return areas added up, each as often as its copies say."""
    counted = list(areas)
    names = [field.name for field in fields(Areas)]
    return Areas(
        **{name: sum(getattr(area, name) * copies for area, copies in counted) for name in names}
    )


def _left(case: Case) -> tuple[LeftoverCount, ...]:
    counted: Counter[tuple[LeftoverKind, int, int]] = Counter()
    for done in case.replays:
        for leftover in done.layout.leftovers:
            key = (leftover.kind, leftover.width, leftover.height)
            counted[key] += done.layout.copies
    return tuple(LeftoverCount(*key, count) for key, count in counted.items())
