"""The sums: areas in integers, sheets, cost, and what the stock allows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

from ..plan.model import Aim, BoardPlan, Source, SourceKind, StockItem
from .case import Case, Replay, amount, part_of, source_name
from .findings import Finding

__all__ = ["available_of", "check_totals", "cost_of", "sources_used"]


def available_of(item: StockItem) -> int | None:
    """Return how many of a source there are; an offcut that says nothing is one."""
    if item.available is None and item.source.kind is SourceKind.OFFCUT:
        return 1
    return item.available


def cost_of(item: StockItem, aim: Aim) -> Fraction:
    """Return what using one of a source adds to the aim: only full sheets cost anything."""
    if item.source.kind is not SourceKind.SHEET:
        return Fraction(0)
    if aim is Aim.AREA:
        return Fraction(item.source.width * item.source.height)
    return item.price or Fraction(0)


def sources_used(board: BoardPlan) -> Counter[Source]:
    """Return how many of each source the layouts take, in the order of first use."""
    used: Counter[Source] = Counter()
    for layout in board.layouts:
        used[layout.source] += layout.copies
    return used


def check_totals(case: Case) -> Iterator[Finding]:
    """Yield every sum that does not come out."""
    yield from _layouts(case)
    yield from _stock(case)
    yield from _sheets(case)
    yield from _aim(case)
    yield from _value(case)


def _layouts(case: Case) -> Iterator[Finding]:
    names = Counter(layout.id for layout in case.board.layouts)
    for name, times in names.items():
        if times > 1:
            yield Finding("layout-twice", f"{case.name}: {times} layouts are called {name!r}.")
    for done in case.replays:
        if done.layout.copies < 1:
            yield Finding(
                "wrong-copies",
                f"{case.layout_name(done.layout)}: it is cut {done.layout.copies} times, and a"
                " layout is cut once at least.",
            )
        if done.finished:
            yield from _areas(done, case)


def _areas(done: Replay, case: Case) -> Iterator[Finding]:
    source = done.layout.source
    whole = source.width * source.height
    pieces = sum(part_of(piece).area for piece in done.layout.pieces)
    leftovers = sum(part_of(leftover).area for leftover in done.layout.leftovers)
    if pieces + done.kerf_area + leftovers != whole:
        yield Finding(
            "areas-differ",
            f"{case.layout_name(done.layout)}: pieces {pieces}, kerf {done.kerf_area} and leftovers"
            f" {leftovers} do not add up to the source's {whole} steps squared.",
        )


def _stock_of(board: BoardPlan) -> dict[Source, list[StockItem]]:
    stock: dict[Source, list[StockItem]] = {}
    for item in board.stock:
        stock.setdefault(item.source, []).append(item)
    return stock


def _most(items: list[StockItem]) -> int | None:
    limits = [available_of(item) for item in items]
    known = [limit for limit in limits if limit is not None]
    return sum(known) if len(known) == len(limits) else None


def _on_hand(case: Case) -> Iterator[Finding]:
    for item in case.board.stock:
        most = available_of(item)
        if item.on_hand is None:
            continue
        told = f"{case.name}: {item.on_hand} of {source_name(item.source, case.scale)} are on hand"
        if item.on_hand < 0:
            yield Finding("wrong-on-hand", f"{told}, which is fewer than none.")
        elif most is not None and item.on_hand > most:
            yield Finding("wrong-on-hand", f"{told}, and there are {most}.")


def _stock(case: Case) -> Iterator[Finding]:
    yield from _on_hand(case)
    stock = _stock_of(case.board)
    for source, used in sources_used(case.board).items():
        told = source_name(source, case.scale)
        if source not in stock:
            yield Finding("not-in-stock", f"{case.name}: the stock has no {told}.")
            continue
        most = _most(stock[source])
        if most is None or used <= most:
            continue
        if source.kind is SourceKind.OFFCUT and most == 1:
            yield Finding("offcut-used-twice", f"{case.name}: the one {told} is used {used} times.")
        else:
            yield Finding(
                "stock-exceeded", f"{case.name}: {used} of {told} are used, and there are {most}."
            )


def _sheets(case: Case) -> Iterator[Finding]:
    used = sources_used(case.board)
    taken = sum(copies for source, copies in used.items() if source.kind is SourceKind.SHEET)
    if case.board.sheets != taken:
        yield Finding(
            "wrong-sheets",
            f"{case.name}: the plan counts {case.board.sheets} full sheets, and its layouts take"
            f" {taken}.",
        )


def _aim(case: Case) -> Iterator[Finding]:
    sheets = [item for item in case.board.stock if item.source.kind is SourceKind.SHEET]
    priced = all(item.price is not None for item in sheets)
    right = Aim.COST if priced else Aim.AREA
    if sheets and case.board.aim is not right:
        why = "every sheet has a price" if priced else "a sheet has no price"
        yield Finding(
            "wrong-aim", f"{case.name}: the aim is {case.board.aim}, but {why}, so it is {right}."
        )


def _value(case: Case) -> Iterator[Finding]:
    board = case.board
    stock = _stock_of(board)
    used = sources_used(board)
    if any(source not in stock for source in used):
        return
    value = sum((_spent(stock[source], used[source], board.aim) for source in used), Fraction(0))
    if board.value != value:
        yield Finding(
            "wrong-value",
            f"{case.name}: the plan gives its {board.aim} as {amount(board.value)}, and the sheets"
            f" that it takes come to {amount(value)}.",
        )


def _spent(items: list[StockItem], copies: int, aim: Aim) -> Fraction:
    """Return the cost of `copies` of one source, the cheapest of its stock rows first."""
    total, left = Fraction(0), copies
    for item in sorted(items, key=lambda item: cost_of(item, aim)):
        most = available_of(item)
        taken = left if most is None else min(left, most)
        total += taken * cost_of(item, aim)
        left -= taken
    return total
