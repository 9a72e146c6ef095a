"""Where pieces and leftovers lie: apart from each other, on the source, clear of its trim.

This does not look at the cuts at all, so it stands even if the replay were wrong. Coordinates are
whole numbers below 2**53, which shapely's floats hold exactly; no tolerance is needed.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..lengths import Length, Unit
from ..plan.model import Layout, Leftover, LeftoverKind, PlacedPiece
from .case import Case, Part, Replay, part_of, source_name
from .findings import Finding

__all__ = ["check_geometry"]

SLIP_SHEET_WIDTHS = {
    Unit.INCH: Length.of(3, Unit.INCH),
    Unit.MILLIMETRE: Length.of(75, Unit.MILLIMETRE),
    Unit.CENTIMETRE: Length.of(75, Unit.MILLIMETRE),
}
Item = PlacedPiece | Leftover
# DE-9IM: the insides of the two share at least a point.
INSIDES_MEET = "T********"


def check_geometry(case: Case) -> Iterator[Finding]:
    """Yield everything that lies where it may not, or is not the kind of leftover it is said."""
    for done in case.replays:
        items: tuple[Item, ...] = (*done.layout.pieces, *done.layout.leftovers)
        yield from _placing(items, done.layout, case)
        yield from _overlaps(items, done, case)
        for leftover in done.layout.leftovers:
            yield from _kind(leftover, done.layout, case)


def _title(item: Item, case: Case) -> str:
    told = f"piece {item.label!r}" if isinstance(item, PlacedPiece) else f"the {item.kind}"
    return f"{told} {case.scale.place(part_of(item))}"


def _placing(items: tuple[Item, ...], layout: Layout, case: Case) -> Iterator[Finding]:
    whole = Part(0, 0, layout.source.width, layout.source.height)
    usable = case.usable(layout.source)
    name = case.layout_name(layout)
    for item in items:
        part = part_of(item)
        if part.area == 0:
            yield Finding("no-area", f"{name}: {_title(item, case)} has no area.")
        elif not whole.holds(part):
            yield Finding(
                "outside-source",
                f"{name}: {_title(item, case)} lies outside the"
                f" {source_name(layout.source, case.scale)}.",
            )
        elif isinstance(item, PlacedPiece) and not usable.holds(part):
            yield Finding("piece-in-trim", f"{name}: {_title(item, case)} lies in the trim.")


def _overlaps(items: tuple[Item, ...], done: Replay, case: Case) -> Iterator[Finding]:
    import numpy as np
    import shapely

    parts = [part_of(item) for item in items]
    solid = [index for index, part in enumerate(parts) if part.area]
    if not solid:
        return
    edges = np.array([[p.left, p.top, p.right, p.bottom] for p in (parts[i] for i in solid)])
    boxes = shapely.box(*edges.T)
    one, other = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    one, other = one[one < other], other[one < other]
    meeting = shapely.relate_pattern(boxes[one], boxes[other], INSIDES_MEET)
    for first, second in sorted(zip(one[meeting].tolist(), other[meeting].tolist(), strict=True)):
        yield Finding(
            "overlap",
            f"{case.layout_name(done.layout)}: {_title(items[solid[first]], case)} and"
            f" {_title(items[solid[second]], case)} overlap.",
        )


def _kind(leftover: Leftover, layout: Layout, case: Case) -> Iterator[Finding]:
    allowed = _allowed_kinds(leftover, layout, case)
    if leftover.kind not in allowed:
        words = " or ".join(kind.value for kind in LeftoverKind if kind in allowed)
        yield Finding(
            "wrong-leftover-kind",
            f"{case.layout_name(layout)}: {_title(leftover, case)} is not that but {words}.",
        )


def _allowed_kinds(leftover: Leftover, layout: Layout, case: Case) -> set[LeftoverKind]:
    """Return what a leftover may be called, by what the file says of the board.

    It is trim where it lies in a trim. Elsewhere it is an offcut if it holds the board's `keep`
    size either way; else a slip sheet if the board is mat board and it is 3 in (75 mm) wide and
    as long as the order's longest mat; else scrap. What the file does not say is not checked.
    """
    if case.in_trim(layout.source, part_of(leftover)):
        return {LeftoverKind.TRIM}
    keep = _holds_keep(leftover, case)
    if keep is None:
        return set(LeftoverKind) - {LeftoverKind.TRIM}
    if keep:
        return {LeftoverKind.OFFCUT}
    slip = _is_slip_sheet(leftover, case)
    if slip is None:
        return {LeftoverKind.SLIP_SHEET, LeftoverKind.SCRAP}
    return {LeftoverKind.SLIP_SHEET if slip else LeftoverKind.SCRAP}


def _holds_keep(leftover: Leftover, case: Case) -> bool | None:
    keep = case.board.keep
    if keep is None:
        return None
    width, height = (case.scale.step * side for side in (leftover.width, leftover.height))
    straight = keep.width <= width and keep.height <= height
    return straight or (keep.width <= height and keep.height <= width)


def _is_slip_sheet(leftover: Leftover, case: Case) -> bool | None:
    """Return whether it can be a slip sheet; None where the file does not settle it."""
    short, long = sorted((leftover.width, leftover.height))
    if case.scale.step * short < SLIP_SHEET_WIDTHS[case.scale.unit]:
        return False
    if case.board.mat_board is None or (case.board.mat_board and case.scale.longest_mat is None):
        return None
    return case.board.mat_board and long >= (case.scale.longest_mat or 0)
