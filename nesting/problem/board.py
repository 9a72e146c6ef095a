"""One board's instance on the job's integer grid, and the way back to labels and sizes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..lengths import format_size
from ..stock import Trim
from .instance import Instance, PieceType, SourceType
from .model import (
    Aim,
    OrderedPiece,
    PlanTool,
    PlanTrim,
    Source,
    SourceKind,
    StockItem,
    commonest_area,
    trim_of,
)

if TYPE_CHECKING:
    from fractions import Fraction

    from ..lengths import Length
    from ..order import Order, Piece
    from ..stock import Board, Tool

__all__ = ["BoardProblem", "build_problem", "misfits"]


@dataclass(frozen=True, slots=True)
class BoardProblem:
    """One board's part of an order.

    Attributes
    ----------
    ordered
        The lines of the order on this board, in steps.
    lines
        For each piece type of the instance, the indices into `ordered` that it stands for.
    stock
        What can be used; of each, `items` tells which source type of the instance it belongs to,
        or None where none of it is to be had.
    money
        What one unit of the instance's cost is worth in the aim's unit.
    """

    board: Board
    instance: Instance
    ordered: tuple[OrderedPiece, ...]
    lines: tuple[tuple[int, ...], ...]
    stock: tuple[StockItem, ...]
    items: tuple[tuple[int, ...], ...]
    aim: Aim
    money: Fraction
    tool: PlanTool
    trim: PlanTrim


def build_problem(order: Order, board: Board, step: Length) -> BoardProblem:
    """Return the instance that `order` asks of `board`, in whole steps.

    Pieces of equal size and freedom to turn become one type, and offcuts of equal size one source.
    """
    ordered = tuple(_ordered(piece, step) for piece in order.pieces if piece.board == board.name)
    trim = _trim(board.trim, step)
    tool = _tool(board.tool, step)
    stock = (*_sheets(board, step), *_offcuts(order, board, step))
    aim = Aim.COST if all(sheet.price is not None for sheet in board.sheets) else Aim.AREA
    pieces, lines = _piece_types(ordered, board.no_turn)
    money = _money_unit(stock, aim)
    sources, items = _source_types(stock, trim, aim, money)
    instance = Instance(
        pieces,
        sources,
        tool.kerf,
        tool.longest_cut,
        tool.narrowest_strip,
        (math.ceil(board.keep.width.mm / step.mm), math.ceil(board.keep.height.mm / step.mm)),
        commonest_area(stock),
    )
    return BoardProblem(board, instance, ordered, lines, stock, items, aim, money, tool, trim)


def _ordered(piece: Piece, step: Length) -> OrderedPiece:
    width, height = piece.size.width.steps(step), piece.size.height.steps(step)
    return OrderedPiece(piece.label, piece.kind, piece.qty, width, height, piece.turn)


def _trim(trim: Trim, step: Length) -> PlanTrim:
    return PlanTrim(
        trim.left.steps(step), trim.right.steps(step), trim.top.steps(step), trim.bottom.steps(step)
    )


def _tool(tool: Tool, step: Length) -> PlanTool:
    longest = None if tool.longest_cut is None else tool.longest_cut.steps(step)
    return PlanTool(
        tool.name,
        tool.kerf.steps(step),
        longest,
        tool.narrowest_strip.steps(step),
        kind=None if tool.kind is None else tool.kind.value,
        reach=tool.reach,
        squares=tool.squares,
        repeatability=tool.repeatability,
        rule_class=tool.rule_class.value,
    )


def _sheets(board: Board, step: Length) -> tuple[StockItem, ...]:
    return tuple(
        StockItem(
            Source(
                SourceKind.SHEET,
                None,
                sheet.planned.width.steps(step),
                sheet.planned.height.steps(step),
            ),
            sheet.price,
            sheet.available,
            sheet.on_hand,
            None if sheet.measured is None else sheet.size,
        )
        for sheet in board.sheets
    )


def _offcuts(order: Order, board: Board, step: Length) -> tuple[StockItem, ...]:
    return tuple(
        StockItem(
            Source(
                SourceKind.OFFCUT,
                offcut.id,
                offcut.size.width.steps(step),
                offcut.size.height.steps(step),
            ),
            None,
            offcut.qty,
            trim=_trim(offcut.trim, step) if offcut.trim != Trim() else None,
            off=offcut.off,
            rough=offcut.rough,
            untrimmed=_trim(offcut.untrimmed, step) if offcut.untrimmed != Trim() else None,
        )
        for offcut in order.offcuts
        if offcut.board == board.name
    )


def _piece_types(
    ordered: tuple[OrderedPiece, ...], no_turn: bool
) -> tuple[tuple[PieceType, ...], tuple[tuple[int, ...], ...]]:
    groups: dict[tuple[int, int, bool], list[int]] = {}
    for index, line in enumerate(ordered):
        may_turn = line.turn and not no_turn and line.width != line.height
        size = (line.width, line.height)
        if may_turn:
            size = (min(size), max(size))
        groups.setdefault((*size, may_turn), []).append(index)
    pieces = tuple(
        PieceType(width, height, sum(ordered[index].qty for index in indices), may_turn)
        for (width, height, may_turn), indices in groups.items()
    )
    return pieces, tuple(tuple(indices) for indices in groups.values())


def _money_unit(stock: tuple[StockItem, ...], aim: Aim) -> Fraction:
    from fractions import Fraction

    if aim is Aim.AREA:
        return Fraction(1)
    prices = [item.price for item in stock if item.price is not None]
    return Fraction(1, math.lcm(*(price.denominator for price in prices)))


def _source_types(
    stock: tuple[StockItem, ...], trim: PlanTrim, aim: Aim, money: Fraction
) -> tuple[tuple[SourceType, ...], tuple[tuple[int, ...], ...]]:
    groups: dict[tuple[int, int, int, int, int], list[int]] = {}
    for index, item in enumerate(stock):
        if item.available == 0:
            continue
        full = item.source.kind is SourceKind.SHEET
        area = item.source.width * item.source.height
        cost = 0 if not full else area if aim is Aim.AREA else int((item.price or 0) / money)
        own = trim_of(item.source, trim, stock)
        across, down = own.left + own.right, own.top + own.bottom
        usable = item.source.width - across, item.source.height - down
        groups.setdefault((*usable, cost, across, down), []).append(index)
    sources = tuple(
        SourceType(
            width, height, cost, _together([stock[i].available for i in indices]), across, down
        )
        for (width, height, cost, across, down), indices in groups.items()
    )
    return sources, tuple(tuple(indices) for indices in groups.values())


def _together(available: list[int | None]) -> int | None:
    numbers = [number for number in available if number is not None]
    return sum(numbers) if len(numbers) == len(available) else None


def misfits(order: Order, problem: BoardProblem) -> tuple[str, ...]:
    """Return a sentence for every piece that no source can hold, whatever the tool."""
    unit = order.unit
    return tuple(
        f"{piece.kind} {piece.label!r} ({format_size(piece.size, unit, with_unit=True)}) fits "
        f"{_no_source(order, problem)}."
        for piece, line in zip(
            (piece for piece in order.pieces if piece.board == problem.board.name),
            problem.ordered,
            strict=True,
        )
        if not any(_holds(source, line, problem) for source in problem.instance.sources)
    )


def _holds(source: SourceType, line: OrderedPiece, problem: BoardProblem) -> bool:
    upright = line.width <= source.width and line.height <= source.height
    turned = line.height <= source.width and line.width <= source.height
    return upright or (turned and line.turn and not problem.board.no_turn)


def _no_source(order: Order, problem: BoardProblem) -> str:
    board = problem.board
    if not problem.instance.sources:
        return f"nothing: there is no sheet or offcut of {board.name!r} to be had"
    sizes = ", ".join(
        format_size(sheet.planned, order.unit, with_unit=True) for sheet in board.sheets
    )
    trimmed = " less its trim" if any(length for _, length in board.trim.edges()) else ""
    turn = ", and the board may not be turned" if board.no_turn else ""
    return f"no sheet or offcut of {board.name!r} ({sizes}{trimmed}{turn})"
