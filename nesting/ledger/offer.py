"""What the rack offers an order: which offcuts may serve it, and how many sheets are on hand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import LedgerError
from ..lengths import Size
from ..stock import Board, Grade, Offcut, SheetSize, Trim
from .book import square
from .events import length_text
from .state import RACK, BoardFacts, Kept, State
from .words import edge_words

if TYPE_CHECKING:
    from ..order import Order, Piece
    from .book import Ledger

__all__ = [
    "TOO_SMALL",
    "Offer",
    "Passed",
    "alike",
    "as_stock",
    "offer_of",
    "offered",
    "own_key",
    "sorted_out",
    "unfit",
]

# From the lowest; the others (foam, hardboard) are of another kind and stand in no such order.
_MAT_GRADES = (Grade.WOOD_PULP, Grade.ALPHA_CELLULOSE, Grade.COTTON)
TOO_SMALL = "too small for any piece ordered of its board"


@dataclass(frozen=True, slots=True)
class Passed:
    """An offcut of a board of the order that is not offered, and why."""

    number: int
    size: Size
    why: str


@dataclass(frozen=True, slots=True)
class Offer:
    """An order with what the ledger adds to it.

    Attributes
    ----------
    asked
        The order as it was read.
    order
        The same with offcuts and sheets on hand.
    folder
        Where the plan goes, by which a job is known when it is planned again.
    basis
        What the offer rests on, a name and a sentence each; compared before anything is set aside.
    passed
        Offcuts of the order's boards that are not offered.
    """

    asked: Order
    order: Order
    folder: str
    basis: tuple[tuple[str, str], ...]
    passed: tuple[Passed, ...]


def offered(ledger: Ledger, order: Order, folder: Path | str, *, named: str = "ORDER") -> Offer:
    """Return `order` with what the rack offers it.

    Offcuts that the order itself lists must have been taken into the ledger, which knows what has
    become of them since; the order's own list then counts no more.

    Parameters
    ----------
    named
        How a command line names the order's files, for a message.
    folder
        Where the plan will be written. What an earlier job of the same folder has set aside is
        offered too: planning it again replaces that job.

    Raises
    ------
    LedgerError
        If the order lists offcuts or sheets on hand that the ledger does not know, or says
        otherwise than the ledger what a board is.
    """
    state = ledger.state()
    _refuse_unknown(state, order, named)
    _refuse_unknown_sheets(state, order)
    return offer_of(state, order, str(Path(folder).absolute()))


def _refuse_unknown(state: State, order: Order, named: str) -> None:
    known = _brought(state)
    missing = [one for one in order.offcuts if (one.board, own_key(one)) not in known]
    if missing:
        many, them = ("", "it") if len(missing) == 1 else ("s", "them")
        names = ", ".join(f"{one.id!r} of {one.board}" for one in missing[:5])
        more = _and_more(len(missing) - 5)
        raise LedgerError(
            f"the order lists {len(missing)} offcut{many} that the ledger does not know: "
            f"{names}{more}. `kerfwright ledger import {named}` takes {them} into the ledger; then "
            f"plan again. If {'it is' if them == 'it' else 'they are'} in the ledger under another "
            "number, or gone, delete the order's list. Or plan with --no-ledger"
        )


def _refuse_unknown_sheets(state: State, order: Order) -> None:
    """Refuse sheets that only the order says are there: nothing would keep them for one job."""
    named = {piece.board for piece in order.pieces}
    missing = [
        (board.name, sheet)
        for board in order.boards
        for sheet in _as_on_the_rack(state, order, board).sheets
        if board.name in named and sheet.on_hand and (board.name, sheet.size) not in state.sheets
    ]
    if not missing:
        return
    told = ", ".join(f"{sheet.on_hand} of {sheet.size} of {name!r}" for name, sheet in missing[:3])
    ways = "; ".join(
        f'`kerfwright ledger add "{sheet.size}" --board "{name}" --sheets --qty {sheet.on_hand}`'
        for name, sheet in missing[:3]
    )
    more = _and_more(len(missing) - 3)
    lying = [
        f"{count} of {turned} of {name!r}"
        for name, sheet in missing[:3]
        for turned in [_turned(sheet.size)]
        if (count := state.sheets.get((name, turned), 0))
    ]
    if lying:
        ways = (
            f"are they the {' and '.join(lying)} that it has, the other way round, then write "
            f"that size in the order; else {ways}"
        )
    raise LedgerError(
        f"the order says that full sheets are on hand, and the ledger has never heard of them: "
        f"{told}{more}. Put them into the ledger if they are there: {ways}; then plan again. If "
        f"they are not, {_that_none_is(*missing[0])}, or delete on_hand from the order. Or plan "
        "with --no-ledger"
    )


def _and_more(others: int) -> str:
    return f" and {others} more" if others > 0 else ""


def _that_none_is(board: str, sheet: SheetSize) -> str:
    return f'`kerfwright ledger count --sheets 0 --board "{board}" --size "{sheet.size}"`'


def _brought(state: State) -> dict[tuple[str, str], int]:
    """Return which offcut of the ledger was which of an order's own."""
    kept = state.offcuts.values()
    return {(one.born_board, one.earlier): one.number for one in kept if one.earlier}


def own_key(offcut: Offcut) -> str:
    """Return by what an order's own offcut is known in the ledger: its id and its size."""
    size = offcut.size
    return f"{offcut.id}: {length_text(size.width)} x {length_text(size.height)}"


def offer_of(state: State, order: Order, folder: str) -> Offer:
    """Return what `state` offers; see `offered`."""
    from .jobs import cancelled, open_job_of, refuse_begun

    replaced = open_job_of(state, folder)
    if replaced is not None:
        refuse_begun(replaced)
        for event in cancelled(state, replaced):
            state.apply(event)
    named = {piece.board for piece in order.pieces}
    listed = tuple(_as_on_the_rack(state, order, board) for board in order.boards)
    boards = tuple(
        _stocked(state, order, board) if board.name in named else board for board in listed
    )
    fitting, passed = sorted_out(state, order.pieces, boards)
    offcuts = tuple(as_stock(kept, usable, boards) for kept, usable in fitting)
    notes = (
        *_directed_notes(order, boards),
        *_brought_notes(state, order),
        *_turned_notes(order, listed),
        *(note for board in listed if board.name in named for note in _counts(state, order, board)),
        *(
            note
            for board in boards
            if board.name in named
            for note in (*_passed_sheets(state, board), *_other_case(state, board.name))
        ),
    )
    made = replace(order, boards=boards, offcuts=offcuts, notes=(*order.notes, *notes))
    return Offer(order, made, folder, tuple(_basis(state, fitting, boards, named)), passed)


def _stocked(state: State, order: Order, board: Board) -> Board:
    """Return a board with what the ledger knows of it and has of it."""
    known = state.boards.get(board.name, BoardFacts())
    if board.grade and known.grade and board.grade is not known.grade:
        raise LedgerError(
            f"the order says that {board.name!r} is {board.grade}, and the ledger says "
            f"{known.grade}. Correct the order, or else the ledger: `kerfwright ledger board "
            f'"{board.name}" --grade {board.grade}`'
        )
    if board.buffered is not None and known.buffered not in (None, board.buffered):
        raise LedgerError(
            f"the order says that {board.name!r} is {_buffered(board.buffered)}, and the ledger "
            f"says {_buffered(known.buffered)}. Correct the order, or else the ledger: `kerfwright "
            f'ledger board "{board.name}" --buffered {"yes" if board.buffered else "no"}`'
        )
    sheets = tuple(_on_hand(state, board, sheet) for sheet in board.sheets)
    # First, since of sheets that cost the same the first are taken, and these are not to be bought.
    both = replace(board, sheets=(*_turned_too(state, order, board), *sheets))
    return replace(
        board,
        sheets=(*both.sheets, *_other_sheets(state, both)),
        grade=board.grade or known.grade,
        buffered=known.buffered if board.buffered is None else board.buffered,
        no_turn=board.no_turn or known.directed is True,
    )


def _buffered(flag: bool | None) -> str:
    return "buffered" if flag else "not buffered"


def _directed_notes(order: Order, boards: tuple[Board, ...]) -> Iterator[str]:
    """Yield which boards have a direction by the ledger, and not by the order."""
    for asked, found in zip(order.boards, boards, strict=True):
        if found.no_turn and not asked.no_turn:
            yield (
                f"{found.name} has a direction, as the ledger knows it, so no piece of it is "
                f'turned. If it has none: kerfwright ledger board "{found.name}" --direction no'
            )


def _brought_notes(state: State, order: Order) -> Iterator[str]:
    """Yield what the order's own offcuts are in the ledger."""
    known = _brought(state)
    pairs = [(one, known.get((one.board, own_key(one)))) for one in order.offcuts]
    told = [f"{one.id} is {number}" for one, number in pairs if number is not None]
    if told:
        yield (
            "The order lists offcuts of its own. The ledger knows them by other numbers, and "
            f"what became of them: {', '.join(told)}."
        )


def _turned(size: Size) -> Size:
    return Size(size.height, size.width)


def _as_on_the_rack(state: State, order: Order, board: Board) -> Board:
    """Return a board with its sheets the way round that the rack has them, if it makes no odds.

    A sheet of 40 x 32 is one of 32 x 40 where the board has no direction and every piece of it
    may be turned; else sheets would be bought that stand there.
    """
    if not _lies_either_way(state, order, board):
        return board
    listed = {sheet.size for sheet in board.sheets}

    def lies_turned(sheet: SheetSize) -> bool:
        here, there = (board.name, sheet.size), (board.name, _turned(sheet.size))
        if sheet.measured is not None or there[1] in listed or there not in state.sheets:
            return False
        # Those of which there are more can be bought as well, so that few are ever passed over.
        return state.free_sheets(*there) > state.free_sheets(*here) or here not in state.sheets

    sheets = tuple(
        replace(sheet, size=_turned(sheet.size)) if lies_turned(sheet) else sheet
        for sheet in board.sheets
    )
    return replace(board, sheets=sheets)


def _lies_either_way(state: State, order: Order, board: Board) -> bool:
    """Return whether it makes no odds which way round a full sheet of a board lies."""
    known = state.boards.get(board.name, BoardFacts())
    turns = all(piece.turn for piece in order.pieces if piece.board == board.name)
    trims = {length for _, length in board.trim.edges()}
    return turns and len(trims) == 1 and not (board.no_turn or known.directed is True)


def _turned_too(state: State, order: Order, board: Board) -> Iterator[SheetSize]:
    """Yield the sheets that the rack has turned besides, of the sizes of the order."""
    if not _lies_either_way(state, order, board):
        return
    listed = {sheet.size for sheet in board.sheets}
    for sheet in board.sheets:
        turned = _turned(sheet.size)
        free = state.free_sheets(board.name, turned)
        if sheet.measured is None and turned not in listed and free:
            yield SheetSize(turned, sheet.price, on_hand=free, buyable=False)


def _turned_notes(order: Order, boards: tuple[Board, ...]) -> Iterator[str]:
    """Yield which sheets the rack has the other way round than the order."""
    for asked, found in zip(order.boards, boards, strict=True):
        for one, other in zip(asked.sheets, found.sheets, strict=True):
            if one.size != other.size:
                yield (
                    f"{asked.name} has no direction, so its sheets of {one.size} are those that "
                    f"the ledger has as {other.size}."
                )


def _on_hand(state: State, board: Board, sheet: SheetSize) -> SheetSize:
    key = (board.name, sheet.size)
    return replace(sheet, on_hand=state.free_sheets(*key)) if key in state.sheets else sheet


def _counts(state: State, order: Order, board: Board) -> Iterator[str]:
    """Yield where the order counts on more sheets than the ledger has free."""
    turned = {_turned(one.size): one.on_hand or 0 for one in _turned_too(state, order, board)}
    for sheet in board.sheets:
        free = state.free_sheets(board.name, sheet.size) + turned.get(sheet.size, 0)
        if (sheet.on_hand or 0) > free:
            yield (
                f"The order says that {sheet.on_hand} sheets of {board.name}, "
                f"{sheet.size}, are on hand. By the ledger {free or 'none'} "
                f"{'is' if free == 1 else 'are'} free, and the ledger counts."
            )


def _passed_sheets(state: State, board: Board) -> Iterator[str]:
    """Yield which sheets of the board are on the rack and not offered, and what would help."""
    offered = {sheet.size for sheet in board.sheets}
    for name, size in state.sheets:
        free = state.free_sheets(name, size)
        if name != board.name or size in offered or not free:
            continue
        left, right, top, bottom = (length for _, length in board.trim.edges())
        if left + right >= size.width or top + bottom >= size.height:
            continue
        is_are, sheets = ("is", "sheet") if free == 1 else ("are", "sheets")
        told = str(size)
        turned = Size(size.height, size.width) in offered
        same = " They are listed the other way round." if turned else ""
        yield (
            f"{free} full {sheets} of {name}, {told}, {is_are} on the rack and not used, since the "
            f"order does not list the size and no price is known.{same} To use them: kerfwright "
            f'ledger board "{name}" --size "{told}" --price PRICE, with what one costs; then plan '
            "again."
        )


def _other_case(state: State, board: str) -> Iterator[str]:
    """Yield a board on the rack whose name differs from the order's in capitals or spaces only."""
    for other in alike(state, board):
        yield (
            f"The rack has {other}, too, which is not used, since the order says {board}. If they "
            "are the same board, write both names alike."
        )


def alike(state: State, board: str) -> tuple[str, ...]:
    """Return the boards of which something is there, named as `board` but for capitals."""
    here = [kept.board for kept in state.offcuts.values() if kept.here]
    here += [name for (name, _), count in state.sheets.items() if count]
    wanted = _folded(board)
    return tuple(
        other for other in dict.fromkeys(here) if other != board and _folded(other) == wanted
    )


def _folded(name: str) -> str:
    return "".join(name.casefold().replace("-", " ").split())


def _other_sheets(state: State, board: Board) -> Iterator[SheetSize]:
    """Yield sizes that the order does not list and the rack has, where their price is no riddle."""
    priced = any(sheet.price is not None for sheet in board.sheets)
    listed = {sheet.size for sheet in board.sheets}
    for name, size in state.sheets:
        free = state.free_sheets(name, size)
        price = state.prices.get((name, size)) if priced else None
        if name == board.name and size not in listed and free and (price or not priced):
            left, right, top, bottom = (length for _, length in board.trim.edges())
            if left + right < size.width and top + bottom < size.height:
                yield SheetSize(size, price, on_hand=free, buyable=False)


def sorted_out(
    state: State, asked: Sequence[Piece], boards: Sequence[Board]
) -> tuple[tuple[tuple[Kept, Size], ...], tuple[Passed, ...]]:
    """Return the offcuts that may serve and those that may not, the oldest of equals first.

    Those that may are listed the smallest first: of plans that seem equal while they are looked
    for the first is taken, and a small offcut broken leaves more than a large one.
    """
    by_name = {board.name: board for board in boards}
    pieces = list(asked)
    named = {piece.board for piece in pieces}
    fitting: list[tuple[Kept, Size]] = []
    passed: list[Passed] = []
    for kept in sorted(state.offcuts.values(), key=lambda one: one.born):
        if kept.board not in named or not kept.here:
            continue
        why = _why_not(kept, by_name[kept.board], pieces)
        usable = kept.usable
        if why or usable is None:
            passed.append(Passed(kept.number, kept.size, why or "its bad edges leave nothing"))
        else:
            fitting.append((kept, usable))
    fitting.sort(key=lambda one: square(one[1]))  # stable: the oldest of equals stays first
    return tuple(fitting), tuple(passed)


def _why_not(kept: Kept, board: Board, pieces: list[Piece]) -> str:
    """Return why an offcut may not serve an order, or nothing."""
    if kept.state != RACK:
        return f"is set aside for job {kept.aside}"
    return unfit(kept, board) or (
        "" if _holds_any(kept, board, pieces) else _too_small(kept, board, pieces)
    )


def unfit(kept: Kept, board: Board) -> str:
    """Return what forbids an offcut to serve a board, whatever its size; or nothing."""
    undirected = board.no_turn and not kept.directed
    return _wrong_grade(kept, board) or (
        "has no known direction, and the board has one" if undirected else ""
    )


def _wrong_grade(kept: Kept, board: Board) -> str:
    """Say that it is of too low a grade, or of one that nobody knows."""
    return _too_low(kept, board) or _otherwise_buffered(kept, board)


def _too_low(kept: Kept, board: Board) -> str:
    asked = board.grade
    if asked is None or asked is kept.grade:
        return ""
    if kept.grade is None:
        better = asked in _MAT_GRADES[1:]
        return f"is of unknown grade, and may not serve {asked}" if better else ""
    if asked in _MAT_GRADES and kept.grade in _MAT_GRADES:
        lower = _MAT_GRADES.index(kept.grade) < _MAT_GRADES.index(asked)
        return f"is {kept.grade}, a lower grade than {asked}" if lower else ""
    return f"is {kept.grade}, and not {asked}"


def _otherwise_buffered(kept: Kept, board: Board) -> str:
    if board.buffered is None or kept.buffered is board.buffered:
        return ""
    if kept.buffered is None:
        asked = "buffered" if board.buffered else "not buffered"
        return f"is not known to be buffered or not, and the board asked for is {asked}"
    return f"is {'buffered' if kept.buffered else 'not buffered'}, unlike the order's board"


def _holds_any(kept: Kept, board: Board, pieces: list[Piece]) -> bool:
    usable = kept.usable
    if usable is None:
        return False
    return any(_holds(usable, piece, board) for piece in pieces if piece.board == board.name)


def _too_small(kept: Kept, board: Board, pieces: list[Piece]) -> str:
    """Say that no piece fits, or none as it may lie."""
    free = replace(board, no_turn=False)
    turned = [replace(piece, turn=True) for piece in pieces]
    if not _holds_any(kept, free, turned):
        return TOO_SMALL
    why = "the board has a direction" if board.no_turn else "the order forbids that"
    return f"holds a piece only if it is turned, and {why}"


def _holds(usable: Size, piece: Piece, board: Board) -> bool:
    width, height = piece.size.width, piece.size.height
    if width <= usable.width and height <= usable.height:
        return True
    turns = piece.turn and not board.no_turn
    return turns and height <= usable.width and width <= usable.height


def as_stock(kept: Kept, usable: Size, boards: Iterable[Board]) -> Offcut:
    """Return an offcut of the ledger as a plan has it: its bad edges come off first.

    Where one is longer than the tool cuts, the plan's cuts take them off, part by part.
    """
    longest = next((one.tool.longest_cut for one in boards if one.name == kept.board), None)
    left, right, top, bottom = kept.edges
    sides = (left or right, kept.size.height), (top or bottom, kept.size.width)
    edges = Trim(*kept.edges)
    if longest is not None and any(bad and side > longest for bad, side in sides):
        return Offcut(kept.board, kept.size, str(kept.number), untrimmed=edges)
    return Offcut(kept.board, usable, str(kept.number), trim=edges)


def _basis(
    state: State,
    fitting: tuple[tuple[Kept, Size], ...],
    boards: tuple[Board, ...],
    named: set[str],
) -> Iterator[tuple[str, str]]:
    """Yield what the plan will rest on, so that a change can be told."""
    for kept, usable in fitting:
        edges = f", with bad edges {edge_words(kept.edges)}" if any(kept.edges) else ""
        yield f"offcut {kept.number}", f"{usable} of {kept.board}{edges}, to be had"
    for board in boards:
        if board.name in named:
            for sheet in board.sheets:
                free = state.free_sheets(board.name, sheet.size)
                yield f"sheets {sheet.size} of {board.name}", f"{free} to be had"
