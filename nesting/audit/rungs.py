"""The rungs below the first aim, worked out again: what remains, and how many cuts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from ..plan.model import Aim, LeftoverKind, SourceKind, StockItem
from .case import Case
from .findings import Finding

__all__ = ["check_rungs"]

# A worth is rounded down to whole parts, so many to a commonest sheet, before it is added up.
PARTS = 10**12


def check_rungs(case: Case) -> Iterator[Finding]:
    """Yield every rung that is not what the layouts give, or whose bound is beyond reason."""
    said = case.board.rungs
    if said is None or case.board.keep is None:
        return
    worth = _worth_of_what_remains(case)
    if said.worth != worth:
        yield Finding(
            "wrong-worth",
            f"Board {case.board.board!r}: what remains is said to be worth {said.worth} twentieths"
            f" of a sheet, and it is worth {worth}.",
        )
    most = _room_bound(case)
    if said.worth_upper_bound is not None and (most is None or said.worth_upper_bound < most):
        yield Finding(
            "worth-bound-too-low",
            f"Board {case.board.board!r}: the bound on the worth of what remains is"
            f" {said.worth_upper_bound}; the room shows no less than {most}.",
        )
    cuts = sum(len(layout.cuts) * layout.copies for layout in case.board.layouts)
    if (said.cuts, said.layouts) != (cuts, len(case.board.layouts)):
        yield Finding(
            "wrong-ease",
            f"Board {case.board.board!r}: {said.cuts} cuts and {said.layouts} layouts are claimed;"
            f" there are {cuts} and {len(case.board.layouts)}.",
        )
    if said.cuts_lower_bound > _fewest_cuts(case):
        yield Finding(
            "cuts-bound-too-high",
            f"Board {case.board.board!r}: no plan is said to make fewer than"
            f" {said.cuts_lower_bound} cuts; the pieces and sources show {_fewest_cuts(case)}.",
        )


def _area(item: StockItem) -> int:
    return item.source.width * item.source.height


def _sheets(case: Case) -> list[StockItem]:
    return [item for item in case.board.stock if item.source.kind is SourceKind.SHEET]


def _others(case: Case) -> list[StockItem]:
    return [item for item in case.board.stock if item.source.kind is not SourceKind.SHEET]


def _commonest(case: Case) -> int:
    sheets = _sheets(case)
    if not sheets:
        return max((_area(item) for item in case.board.stock), default=1)
    counts = [item.on_hand or 0 for item in sheets]
    return _area(sheets[counts.index(max(counts))])


def _power(share: Fraction) -> int:
    """Return the share to the power 1.5, in units of the last place kept, rounded down."""
    return math.isqrt(math.floor(share**3 * PARTS**2))


def _worth_of_what_remains(case: Case) -> int:
    sheet = _commonest(case)
    total = 0
    for layout in case.board.layouts:
        for left in layout.leftovers:
            if left.kind is LeftoverKind.OFFCUT:
                total += layout.copies * _power(Fraction(left.width * left.height, sheet))
    assert case.board.keep is not None
    narrow, tall = sorted((case.board.keep.width, case.board.keep.height))
    for item in _others(case):
        short, long = sorted((item.source.width, item.source.height))
        if case.scale.step * short >= narrow and case.scale.step * long >= tall:
            used = sum(one.copies for one in case.board.layouts if one.source == item.source)
            total += ((item.available or 0) - used) * _power(Fraction(short * long, sheet))
    return total * 20 // PARTS


def _room_bound(case: Case) -> int | None:
    """Return the most that the room without the pieces could be worth, a hair rounded down."""
    room = _room(case)
    if room is None:
        return None
    room -= sum(piece.width * piece.height * piece.qty for piece in case.board.ordered)
    part = max((_part(case, item) for item in case.board.stock), default=0)
    if room <= 0 or part == 0:
        return 0
    sheet = _commonest(case)
    total = room // part * _power(Fraction(part, sheet)) + _power(Fraction(room % part, sheet))
    return total * 20 // PARTS


def _room(case: Case) -> int | None:
    free = sum(_area(item) * (item.available or 0) for item in _others(case))
    if case.board.aim is Aim.AREA:
        return free + int(case.board.value)
    prices = [(_area(item), item.price) for item in _sheets(case) if item.price is not None]
    if any(price == 0 for _, price in prices):
        return None
    best = max((Fraction(area) / price for area, price in prices), default=Fraction(0))
    return free + int(best * case.board.value)


def _part(case: Case, item: StockItem) -> int:
    width, height = item.source.width, item.source.height
    if item.source.kind is not SourceKind.SHEET:
        return width * height
    best = 0
    for piece in case.board.ordered:
        turned = [(piece.width, piece.height)]
        if piece.turn:
            turned.append((piece.height, piece.width))
        for wide, high in turned:
            if wide <= width and high <= height:
                best = max(best, width * height - min(wide * height, high * width))
    return best


def _fewest_cuts(case: Case) -> int:
    """Return the pieces less the sources that a plan of this value can have: each cut adds one."""
    pieces = sum(piece.qty for piece in case.board.ordered)
    sources = sum(item.available or 0 for item in _others(case))
    costs = [
        Fraction(_area(item)) if case.board.aim is Aim.AREA else item.price
        for item in _sheets(case)
    ]
    known = [cost for cost in costs if cost is not None]
    if known and min(known) == 0:
        return 0
    if known:
        sources += int(case.board.value / min(known))
    return max(0, pieces - sources)
