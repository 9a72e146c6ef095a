"""What a plan reaches below its first aim: the worth of what remains, then ease at the bench."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

from ..problem.model import commonest_area
from .model import Aim, LeftoverKind, Rungs, SourceKind

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ..lengths import Length, Size
    from ..problem.model import OrderedPiece, StockItem
    from .model import Layout

__all__ = ["rungs_of", "worth_in_twentieths"]

TWENTIETHS = 20
# Worths are whole numbers of so many parts of a commonest sheet, rounded down.
PARTS = 10**12


def rungs_of(
    stock: Sequence[StockItem],
    ordered: Sequence[OrderedPiece],
    layouts: Sequence[Layout],
    aim: Aim,
    value: Fraction,
    keep: Size,
    step: Length,
) -> Rungs:
    """Return what the layouts leave and ask for, and what no plan of equal `value` beats.

    Notes
    -----
    The worth of a leftover is (its area / the area of the commonest sheet) to the power 1.5, and
    nothing below the size worth keeping. It grows faster than area, so that all the room which no
    piece takes is worth most in parts as large as one piece leaves of a source.
    """
    sheet = commonest_area(stock)
    left = [
        (part.width * part.height, layout.copies)
        for layout in layouts
        for part in layout.leftovers
        if part.kind is LeftoverKind.OFFCUT
    ]
    whole = list(_untouched(stock, layouts, keep, step))
    worth = sum(_worth(area, sheet) * count for area, count in (*left, *whole))
    pieces = sum(piece.qty for piece in ordered)
    return Rungs(
        worth=worth * TWENTIETHS // PARTS,
        worth_upper_bound=_most(stock, ordered, aim, value, sheet),
        cuts=sum(len(layout.cuts) * layout.copies for layout in layouts),
        cuts_lower_bound=max(0, pieces - _most_sources(stock, aim, value, pieces)),
        layouts=len(layouts),
    )


def worth_in_twentieths(area: int, stock: Sequence[StockItem]) -> Fraction:
    """Return the worth of a part that holds the size worth keeping, in twentieths of a sheet.

    Parameters
    ----------
    area
        In steps squared, as the sizes of `stock` are in steps.
    """
    return Fraction(_worth(area, commonest_area(stock)) * TWENTIETHS, PARTS)


def _worth(area: int, sheet: int) -> int:
    return math.isqrt(area**3 * PARTS**2 // sheet**3)


def _untouched(
    stock: Sequence[StockItem], layouts: Sequence[Layout], keep: Size, step: Length
) -> Iterable[tuple[int, int]]:
    """Yield the area of every offcut of the stock worth keeping and how many stay whole."""
    narrow, tall = sorted((keep.width, keep.height))
    for item in stock:
        short, long = sorted((item.source.width, item.source.height))
        if item.source.kind is SourceKind.SHEET or step * short < narrow or step * long < tall:
            continue
        used = sum(one.copies for one in layouts if one.source == item.source)
        yield short * long, (item.available or 0) - used


def _most(
    stock: Sequence[StockItem],
    ordered: Sequence[OrderedPiece],
    aim: Aim,
    value: Fraction,
    sheet: int,
) -> int | None:
    """Return an upper bound on the worth in twentieths; None where a free sheet leaves none."""
    room = _most_area(stock, aim, value)
    if room is None:
        return None
    taken = sum(piece.width * piece.height * piece.qty for piece in ordered)
    largest = max((_largest_part(item, ordered) for item in stock), default=0)
    if room <= taken or largest == 0:
        return 0
    parts, rest = divmod(room - taken, largest)
    total = parts * (_worth(largest, sheet) + 1) + _worth(rest, sheet) + 1
    return total * TWENTIETHS // PARTS


def _most_area(stock: Sequence[StockItem], aim: Aim, value: Fraction) -> int | None:
    """Return the most area that sheets of this value in all, and every offcut, can have."""
    free = sum(
        item.source.width * item.source.height * (item.available or 0)
        for item in stock
        if item.source.kind is not SourceKind.SHEET
    )
    if aim is Aim.AREA:
        return free + int(value)
    sheets = [item for item in stock if item.source.kind is SourceKind.SHEET]
    if any(item.price == 0 for item in sheets):
        return None
    rates = [item.source.width * item.source.height / item.price for item in sheets if item.price]
    return free + math.ceil(value * max(rates, default=0))


def _largest_part(item: StockItem, ordered: Sequence[OrderedPiece]) -> int:
    """Return the area of the largest part that a source can leave."""
    width, height = item.source.width, item.source.height
    if item.source.kind is not SourceKind.SHEET:
        return width * height
    sides = [(piece.width, piece.height) for piece in ordered]
    sides += [(piece.height, piece.width) for piece in ordered if piece.turn]
    return max(
        (
            max((width - wide) * height, (height - high) * width)
            for wide, high in sides
            if wide <= width and high <= height
        ),
        default=0,
    )


def _most_sources(stock: Sequence[StockItem], aim: Aim, value: Fraction, pieces: int) -> int:
    """Return how many sources a plan of this value can use: none of them without a piece."""
    free = sum(item.available or 0 for item in stock if item.source.kind is not SourceKind.SHEET)
    sheets = [item for item in stock if item.source.kind is SourceKind.SHEET]
    costs = [
        item.source.width * item.source.height if aim is Aim.AREA else item.price for item in sheets
    ]
    least = min((cost for cost in costs if cost is not None), default=None)
    if least is None:
        return min(pieces, free)
    return min(pieces, free + int(value / least)) if least else pieces
