"""Full sheets that were fetched in the middle of a job: of which board and size, and how many."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from ..errors import RefusedValue
from ..lengths import Size, format_size, parse_size
from ..plan.model import SourceKind
from .said import refused

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ..plan.model import BoardPlan, Plan, StockItem
    from ..plan.so_far import Holdings
    from ..stock import SheetSize

__all__ = ["MORE", "Fetched", "fetched_of", "how_to_say", "with_fetched"]

MORE = "--more"
ACCEPTED = (
    "write the size of one sheet, such as 32 x 40, or 2 of 32 x 40; of several boards name one,"
    ' such as "white rag: 2 of 32 x 40"'
)
Fetched = Counter[tuple[str, Size]]
_COUNTED = re.compile(r"(?P<count>[0-9]{1,6})(?: +of +(?P<size>.+))?", re.IGNORECASE)


def fetched_of(plan: Plan, said: Sequence[str], rack: Holdings) -> Fetched:
    """Return how many more sheets of which board, and of which size, are said to be there.

    The size is that which is planned with, be it as sold or as measured.

    Parameters
    ----------
    said
        ``32 x 40``, one more; ``2 of 32 x 40``; ``2``, where the board comes in one size; each
        with the board before it where there are several, ``white rag: 2 of 32 x 40``.
    rack
        Of boards and sizes that a ledger counts, it alone says how many there are.

    Raises
    ------
    RefusedValue
        For a board or a size that the plan does not have, or one of which there is no end.
    """
    found: Fetched = Counter()
    for text in said:
        board, item, count = _read(plan, text)
        sold = _sold(item, plan)
        if (board.board, sold) in rack.sheets:
            problem = "names sheets that the ledger counts"
            accepted = f"say it there: {_ledger_add(board.board, sold, count)}"
            raise refused(MORE, text, problem, accepted)
        found[board.board, _planned(item, plan)] += count
    return found


def with_fetched(plan: Plan, fetched: Fetched) -> Plan:
    """Return a plan whose stock has the sheets that were fetched."""
    if not fetched:
        return plan
    boards = tuple(
        replace(board, stock=tuple(_more_of(item, board, plan, fetched) for item in board.stock))
        for board in plan.boards
    )
    return replace(plan, boards=boards)


def how_to_say(plan: Plan, board: str, sheet: SheetSize, count: int, rack: Holdings) -> str:
    """Return what to do once so many more sheets are there."""
    them = "it" if count == 1 else "them"
    if (board, sheet.size) in rack.sheets:
        add = _ledger_add(board, sheet.size, count)
        return f"Once you have {them}, put {them} on the rack, {add}, and resume again."
    of = f"{board}: " if len(plan.boards) > 1 else ""
    many = "" if count == 1 else f"{count} of "
    told = format_size(sheet.planned, plan.unit)
    if "\N{ALMOST EQUAL TO}" in told:  # what is to be typed must be exact
        told = str(sheet.planned)
    return f'Once you have {them}, resume with {MORE} "{of}{many}{told}" as well.'


def _ledger_add(board: str, size: Size, count: int) -> str:
    return f'`kerfwright ledger add "{size}" --board "{board}" --sheets --qty {count}`'


def _more_of(item: StockItem, board: BoardPlan, plan: Plan, fetched: Fetched) -> StockItem:
    more = fetched[board.board, _planned(item, plan)] if item.source.kind is SourceKind.SHEET else 0
    return replace(
        item,
        available=None if item.available is None else item.available + more,
        on_hand=None if item.on_hand is None else item.on_hand + more,
    )


def _sold(item: StockItem, plan: Plan) -> Size:
    """Return the size that a sheet is sold in."""
    return item.nominal or _planned(item, plan)


def _planned(item: StockItem, plan: Plan) -> Size:
    return Size(plan.step * item.source.width, plan.step * item.source.height)


def _sheets(board: BoardPlan) -> tuple[StockItem, ...]:
    return tuple(item for item in board.stock if item.source.kind is SourceKind.SHEET)


def _read(plan: Plan, text: str) -> tuple[BoardPlan, StockItem, int]:
    boards, written = _boards(plan, text)
    match = _COUNTED.fullmatch(written)
    count = 1 if match is None else int(match["count"])
    size = _size(plan, text, written if match is None else match["size"])
    if not count:
        raise refused(MORE, text, "is no sheet more", ACCEPTED)
    having = [
        (board, item)
        for board in boards
        for item in _sheets(board)
        if size is None or size in (_sold(item, plan), _planned(item, plan))
    ]
    having = [one for one in having if _planned(one[1], plan) == size] or having
    if not having:
        known = ", ".join(dict.fromkeys(_known(plan, boards)))
        raise refused(MORE, text, f"names no size of full sheet in this plan ({known})", ACCEPTED)
    if len({board.board for board, _ in having}) > 1:
        raise refused(MORE, text, "does not say of which board", ACCEPTED)
    if len(having) > 1:
        known = ", ".join(_known(plan, boards))
        raise refused(MORE, text, f"does not say of which size ({known})", ACCEPTED)
    ((board, item),) = having
    if item.available is None and item.on_hand is None:
        problem = "names sheets of which the plan takes as many as it needs"
        raise refused(MORE, text, problem, "leave it out")
    return board, item, count


def _boards(plan: Plan, text: str) -> tuple[tuple[BoardPlan, ...], str]:
    """Return the boards that may be meant, and what is written after the name of one."""
    written = text.strip()
    named = [board for board in plan.boards if written.startswith(f"{board.board}:")]
    if named:
        board = max(named, key=lambda one: len(one.board))
        return (board,), written[len(board.board) + 1 :].strip()
    if ":" in written:
        known = ", ".join(board.board for board in plan.boards)
        raise refused(MORE, text, f"names no board of this plan ({known})", ACCEPTED)
    return plan.boards, written


def _size(plan: Plan, text: str, written: str | None) -> Size | None:
    if written is None:
        return None
    try:
        return parse_size(written.strip(), plan.unit, "size")
    except RefusedValue as refusal:
        problem = f"has the size {written.strip()!r}, which {refusal.problem}"
        raise refused(MORE, text, problem, ACCEPTED) from None


def _known(plan: Plan, boards: Sequence[BoardPlan]) -> Iterator[str]:
    for board in boards:
        for item in _sheets(board):
            yield format_size(_planned(item, plan), plan.unit, with_unit=True)
