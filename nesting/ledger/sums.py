"""The ledger summed up: by board, in area and in money, with age."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from .book import square

if TYPE_CHECKING:
    from collections.abc import Iterator

    from .state import Kept, State

__all__ = ["BoardSum", "age_in_days", "sums"]


@dataclass(frozen=True, slots=True)
class BoardSum:
    """What there is of one board; areas in exact square millimetres.

    Attributes
    ----------
    sheets_worth
        Of the full sheets, each at its price, or by its area as the offcuts; None where no price
        is known.
    worth
        Of the offcuts, at the price per area of the dearest priced sheet; None where no price is
        known.
    oldest
        In days; None where there is no offcut, or the clock says that all came in the future.
    """

    board: str
    sheets: int
    sheets_area: Fraction
    sheets_worth: Fraction | None
    offcuts: int
    offcuts_area: Fraction
    worth: Fraction | None
    slips: int
    oldest: int | None


def age_in_days(since: str, today: datetime) -> int:
    """Return the whole days since then; 0 where the clock has gone back meanwhile."""
    return max(0, (today - datetime.fromisoformat(since)).days)


def sums(state: State, today: datetime) -> Iterator[BoardSum]:
    """Yield the sum of each board that there is anything of."""
    here = [kept for kept in state.offcuts.values() if kept.here]
    boards = {kept.board for kept in here}
    for counts in (state.sheets, state.slips):
        boards |= {name for (name, _), count in counts.items() if count}
    for board in sorted(boards):
        yield _sum(state, board, [kept for kept in here if kept.board == board], today)


def _sum(state: State, board: str, here: list[Kept], today: datetime) -> BoardSum:
    sheets = {size: count for (name, size), count in state.sheets.items() if name == board}
    area = sum((square(kept.size) for kept in here), Fraction(0))
    prices = {size: price for (name, size), price in state.prices.items() if name == board}
    rates = [price / square(size) for size, price in prices.items()]
    dear = max(rates, default=Fraction(0))
    worths = [prices.get(size, dear * square(size)) * count for size, count in sheets.items()]
    return BoardSum(
        board=board,
        sheets=sum(sheets.values()),
        sheets_area=sum((square(size) * count for size, count in sheets.items()), Fraction(0)),
        sheets_worth=sum(worths, Fraction(0)) if rates else None,
        offcuts=len(here),
        offcuts_area=area,
        worth=area * max(rates) if rates else None,
        slips=sum(count for (name, _), count in state.slips.items() if name == board),
        oldest=max((age_in_days(kept.since, today) for kept in here), default=None),
    )
