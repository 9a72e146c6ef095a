"""The rest of a job, planned again: never worse than carrying on as planned, with a proof."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from ..lengths import Size, common_step, format_size
from ..order import MOST_STEPS
from ..plan.build import merged
from ..plan.edges import edges_named
from ..plan.model import Aim, AsPlanned, LeftoverKind, NoPlan, Plan, Source, SourceKind
from ..plan.rungs import worth_in_twentieths
from ..plan.so_far import Holdings
from ..plan.trees import DraftLayout
from ..planning import Standing, make_plan
from .fetched import fetched_of, how_to_say, with_fetched
from .rest import (
    BESIDES,
    LAID_BY,
    bench_of,
    keep_rule,
    offcuts_left,
    parts_of_before,
    pieces_in,
    rest_of,
)
from .said import tales_of
from .sheets import Cuttable, finer, standing_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ..audit import AuditedPlan
    from ..lengths import Length
    from ..order import Order
    from ..plan.model import BoardPlan, Layout, StockItem
    from ..plan.so_far import SoFar
    from ..stock import Board, Offcut
    from ..watching import Watch
    from .fetched import Fetched
    from .rest import Bench

__all__ = ["Idle", "Resumed", "SetBack", "resume_plan"]

KEPT = (LeftoverKind.OFFCUT, LeftoverKind.SLIP_SHEET)


@dataclass(frozen=True, slots=True)
class SetBack:
    """What a board's rest takes now, beside what it would have taken as planned.

    Attributes
    ----------
    sheets, planned_sheets
        Full sheets still to be opened: now, and as it was planned.
    value, planned_value
        What they cost; where the board has no prices, their area in square millimetres.
    priced
        Whether they are money.
    mistakes
        How many cuts and parts are said to have gone wrong.
    """

    board: str
    sheets: int
    planned_sheets: int
    value: Fraction
    planned_value: Fraction
    priced: bool
    mistakes: int

    @property
    def cost(self) -> Fraction:
        """What the mistake costs; below zero where the new plan is the better one."""
        return self.value - self.planned_value


@dataclass(frozen=True, slots=True)
class Idle:
    """Equal parts on the bench that the new plan does not cut from, and that are worth keeping.

    Attributes
    ----------
    name
        By the letters of the old plan's pages.
    size
        Of one, as it lies there.
    in_stock
        Whether the plan might have cut from it; not where no piece fits it.
    edges
        Those of its edges that are still to come off, such as ``left``.
    """

    board: str
    name: str
    kind: LeftoverKind
    size: Size
    count: int
    in_stock: bool
    edges: tuple[str, ...] = ()

    def told(self, size: str) -> str:
        """Return how it is told of, its size being told so."""
        what = f"{self.kind} {self.name}, "
        if self.count > 1:
            what = f"{self.count} {self.kind}s {self.name}, each "
        if not self.edges:
            return f"{what}{size}"
        edge = f"{edges_named(self.edges)} edge{'' if len(self.edges) == 1 else 's'}"
        return f"{what}{size} with its {edge} still to come off"


@dataclass(frozen=True, slots=True)
class Resumed:
    """A job in the middle, and how it goes on.

    Attributes
    ----------
    plan
        For the rest; None where nothing is left to cut, and a `NoPlan` where it cannot be done.
    in_hand
        Finished pieces, by label, in the order of the plan.
    set_backs
        One for each board of the old plan; none where there is no plan for the rest.
    left_out
        A sentence for each offcut of the rack that does not go with the job's lengths.
    idle
        Parts on the bench that are not cut from and are offcuts or slip sheets.
    so_far
        What became of each sheet that was begun, in steps of the new plan where there is one.
    step
        What `so_far` counts.
    notes
        What the new plan says of `idle`, board by board.
    """

    plan: Plan | NoPlan | None
    in_hand: Mapping[str, int]
    set_backs: tuple[SetBack, ...]
    step: Length
    left_out: tuple[str, ...] = ()
    idle: tuple[Idle, ...] = ()
    so_far: tuple[SoFar, ...] = ()
    notes: tuple[str, ...] = ()


def resume_plan(
    audited: AuditedPlan,
    done: Sequence[str] = (),
    wrong: Sequence[str] = (),
    ruined: Sequence[str] = (),
    watch: Watch | None = None,
    *,
    holdings: Holdings | None = None,
    more: Sequence[str] = (),
) -> Resumed:
    """Return how a job goes on from where it stands.

    What lies on the bench becomes stock, the sheets not yet opened are as they were, and what is
    not yet made is planned again. Layouts and parts that are as planned keep their cuts unless
    something cheaper is found.

    Parameters
    ----------
    audited
        The plan that was being cut.
    done, wrong, ruined
        What was done, as `tales_of` reads it.
    holdings
        What the rack says of the plan's stock; by default all of it is to be had.
    more
        Full sheets that were fetched since, as `fetched_of` reads it.

    Raises
    ------
    RefusedValue
        If what was said cannot be so.
    Interrupted
        If `watch` asked to end before any plan was found.
    """
    offered = holdings or Holdings()
    fetched = fetched_of(audited.plan, more, offered)
    old = _named_drop_outs(with_fetched(audited.plan, fetched))
    said = [length for tale in tales_of(old, done, wrong, ruined) for length in tale.lengths]
    step, rack = _on_one_grid(old, common_step((old.step, *said)), offered)
    plan = finer(old, step)
    tales = tales_of(plan, done, wrong, ruined)
    names = {item.source.id for board in plan.boards for item in board.stock if item.source.id}
    names |= rack.names | {offcut.id for offcut in rack.offcuts}
    benches = [bench_of(plan, board, tales, names) for board in plan.boards]
    in_hand = {
        line.label: bench.in_hand[line.label]
        for bench in benches
        for line in bench.board.ordered
        if bench.in_hand[line.label]
    }
    made = _Resuming(plan, benches, rack, watch, fetched).planned()
    left_out = tuple(_off_the_grid(offered, rack))
    if isinstance(made, NoPlan):
        return Resumed(made, in_hand, (), plan.step, left_out)
    idle = tuple(_idle(plan, benches, rack, made))
    set_backs = tuple(_set_back(plan, bench, made) for bench in benches)
    so_far = tuple(one for bench in benches for one in bench.so_far)
    notes = tuple(_besides(idle, plan))
    if made is not None:
        made = _with_what_was_planned(made, plan, benches, notes)
    return Resumed(made, in_hand, set_backs, plan.step, left_out, idle, so_far, notes)


def _on_one_grid(plan: Plan, step: Length, rack: Holdings) -> tuple[Length, Holdings]:
    """Return a step that holds the rack's offcuts too; those left out that would make it too fine.

    Nobody needs them, and a job is not to be refused for an offcut of an odd size.
    """
    longest = max(
        plan.step.mm * max(item.source.width, item.source.height)
        for board in plan.boards
        for item in board.stock
    )
    kept: list[Offcut] = []
    for offcut in rack.offcuts:
        sides = (offcut.size.width, offcut.size.height)
        edges = (length for _, length in offcut.trim.edges())
        finer_step = common_step((step, *sides, *edges))
        longer = max(longest, *(side.mm for side in sides))
        if longer <= finer_step.mm * MOST_STEPS:
            kept.append(offcut)
            step, longest = finer_step, longer
    return step, replace(rack, offcuts=tuple(kept))


def _off_the_grid(offered: Holdings, rack: Holdings) -> Iterator[str]:
    for offcut in offered.offcuts:
        if offcut not in rack.offcuts:
            yield (
                f"Offcut {offcut.id} of the rack is left out: its size, {offcut.size}, would need"
                " a grid too fine for the job."
            )


def _named_drop_outs(plan: Plan) -> Plan:
    """Return a plan whose drop-outs are offcuts by name: by now they are stock like any other."""
    boards = tuple(_named_on(board) for board in plan.boards)
    return plan if boards == plan.boards else replace(plan, boards=boards)


def _named_on(board: BoardPlan) -> BoardPlan:
    taken: Counter[Source] = Counter()
    for layout in board.layouts:
        taken[layout.source] += layout.copies
    ids = {item.source.id for item in board.stock if item.source.kind is SourceKind.OFFCUT}
    renamed: dict[Source, Source] = {}
    stock: list[StockItem] = []
    for item in board.stock:
        if item.source.kind is SourceKind.DROP_OUT:
            name = f"drop-out {item.source.id or len(renamed) + 1}"
            while name in ids:
                name += ", again"
            ids.add(name)
            source = renamed.setdefault(
                item.source, replace(item.source, kind=SourceKind.OFFCUT, id=name)
            )
            there = taken[item.source] if item.available is None else item.available
            item = replace(item, source=source, available=there)  # noqa: PLW2901
        stock.append(item)
    if not renamed:
        return board
    layouts = tuple(
        replace(layout, source=renamed.get(layout.source, layout.source))
        for layout in board.layouts
    )
    return replace(board, stock=tuple(stock), layouts=layouts)


@dataclass(frozen=True, slots=True)
class _Resuming:
    """Plans the rest."""

    plan: Plan
    benches: Sequence[Bench]
    rack: Holdings
    watch: Watch | None
    fetched: Fetched

    def planned(self) -> Plan | NoPlan | None:
        """Return the plan for the rest; None where nothing is left to cut."""
        wanted = {label: count for bench in self.benches for label, count in bench.wanted.items()}
        if not wanted:
            return None
        kept: dict[str, tuple[DraftLayout, ...]] = {}
        for bench in self.benches:
            if bench.wanted and (standing := self._kept(bench)) is not None:
                kept[bench.board.board] = standing
        order = rest_of(self.plan, self.benches, wanted, self.rack)
        kept_on = Standing(self.plan.step, kept, _next_layout(self.plan))
        made = make_plan(order, self.watch, standing=kept_on)
        if isinstance(made, NoPlan):
            return self._with_more_sheets(order, made)
        return made

    def _kept(self, bench: Bench) -> tuple[DraftLayout, ...] | None:
        """Return layouts that make all that is wanted; None where there are none at hand."""
        standing = tuple(_standing(bench))
        if not self._to_be_had(bench, standing):
            return None
        more = self._for_the_lost(bench, standing)
        return None if more is None else merged((*standing, *more))

    def _to_be_had(self, bench: Bench, standing: Sequence[DraftLayout]) -> bool:
        """Whether the rack still has what is to be cut as planned."""
        if not self.rack.gone and not self.rack.sheets:
            return True
        order = rest_of(self.plan, (bench,), bench.wanted, self.rack)
        step = self.plan.step
        there: dict[tuple[str | None, int, int], int | None] = {}
        for sheet in order.boards[0].sheets:
            size = sheet.planned
            there[None, size.width.steps(step), size.height.steps(step)] = sheet.available
        for cut in order.offcuts:
            there[cut.id, cut.size.width.steps(step), cut.size.height.steps(step)] = cut.qty
        used: Counter[Source] = Counter()
        for layout in standing:
            used[layout.source] += layout.copies
        most = {one: there.get((one.id, one.width, one.height), 0) for one in used}
        return all(most[one] is None or count <= (most[one] or 0) for one, count in used.items())

    def _for_the_lost(
        self, bench: Bench, standing: Sequence[DraftLayout]
    ) -> tuple[DraftLayout, ...] | None:
        """Return layouts for the pieces that the standing ones do not make, from what these leave.

        None where no such layouts were found.
        """
        lost = Counter(bench.wanted)
        used: Counter[Source] = Counter()
        for layout in standing:
            used[layout.source] += layout.copies
            for label, count in pieces_in(layout.root).items():
                lost[label] -= count * layout.copies
        wanted = {label: count for label, count in lost.items() if count > 0}
        if not wanted:
            return ()
        order = rest_of(self.plan, (bench,), wanted, self.rack, used)
        made = make_plan(order, self.watch, standing=Standing(self.plan.step, {}))
        if isinstance(made, NoPlan):
            return None
        return tuple(_draft(layout, board) for board in made.boards for layout in board.layouts)

    def _with_more_sheets(self, order: Order, failed: NoPlan) -> NoPlan:
        """Return why there is no plan in sheets to be had, where they are what is short.

        The planner may name any source, but a part on the bench is not to be had again.
        """
        more = tuple(
            replace(board, sheets=tuple(replace(sheet, buyable=True) for sheet in board.sheets))
            for board in order.boards
        )
        if more == order.boards:
            return failed
        endless = replace(order, boards=more)
        made = make_plan(endless, self.watch, standing=Standing(self.plan.step, {}))
        if isinstance(made, NoPlan):
            return failed
        reasons = tuple(
            reason
            for board, planned in zip(order.boards, made.boards, strict=True)
            for reason in self._short_of(board, planned, made)
        )
        return replace(failed, reasons=reasons or failed.reasons)

    def _short_of(self, board: Board, planned: BoardPlan, made: Plan) -> Iterator[str]:
        """Yield how many sheets more are needed, and how to go on once they are there."""
        taken: Counter[Source] = Counter()
        for layout in planned.layouts:
            taken[layout.source] += layout.copies
        for sheet in board.sheets:
            size = sheet.planned
            width, height = size.width.steps(made.step), size.height.steps(made.step)
            count = taken[Source(SourceKind.SHEET, None, width, height)] - (sheet.available or 0)
            if sheet.available is not None and count > 0:
                told = format_size(size, made.unit, with_unit=True)
                what = f"{count} more full sheet{'' if count == 1 else 's'} of {told}"
                in_all = count + self.fetched[board.name, size]
                how = how_to_say(self.plan, board.name, sheet, in_all, self.rack)
                yield (
                    f"{board.name!r}: the sheets left are too few; with {what} it can be done."
                    f" {how}"
                )


def _next_layout(plan: Plan) -> int:
    """Return the number after that of the plan's last layout, so that no name comes twice."""
    ids = [layout.id for board in plan.boards for layout in board.layouts]
    numbers = [int(name[1:]) for name in ids if name[:1] == "L" and name[1:].isdecimal()]
    return 1 + max(numbers, default=0)


def _standing(bench: Bench) -> Iterator[DraftLayout]:
    """Yield what is still just as planned: sheets not yet opened, and parts of the others."""
    yield from bench.untouched
    for part in bench.parts:
        for root, count in part.standing:
            yield DraftLayout(part.source, root, count)


def _draft(layout: Layout, board: BoardPlan) -> DraftLayout:
    cuttable = Cuttable(layout, board.tool.kerf)
    root = cuttable.tree(0, standing_of(layout, board), (0, 0))
    assert root is not None
    return DraftLayout(layout.source, root, layout.copies)


def _set_back(plan: Plan, bench: Bench, made: Plan | None) -> SetBack:
    priced = bench.board.aim is Aim.COST
    worth = Fraction(1) if priced else plan.step.mm**2
    now = [] if made is None else [b for b in made.boards if b.board == bench.board.board]
    prices = {item.source: item.price or Fraction(0) for item in bench.board.stock}
    waiting = [one for one in bench.untouched if one.source.kind is SourceKind.SHEET]
    planned = sum(
        (
            (prices[one.source] if priced else one.source.width * one.source.height) * one.copies
            for one in waiting
        ),
        Fraction(0),
    )
    return SetBack(
        bench.board.board,
        sum(board.sheets for board in now),
        sum(one.copies for one in waiting),
        sum((board.value for board in now), Fraction(0)) * worth,
        planned * worth,
        priced,
        bench.mistakes,
    )


def _with_what_was_planned(
    made: Plan, plan: Plan, benches: Sequence[Bench], notes: tuple[str, ...]
) -> Plan:
    """Return the plan with what it is compared to, and what it leaves on the bench."""
    then = {bench.board.board: _as_planned(bench, _set_back(plan, bench, made), plan, made)
            for bench in benches}  # fmt: skip
    boards = tuple(replace(board, as_planned=then[board.board]) for board in made.boards)
    return replace(made, boards=boards, notes=(*made.notes, *notes))


def _besides(idle: Sequence[Idle], plan: Plan) -> Iterator[str]:
    """Yield what is said of idle parts, board by board; what is stock apart from what is not.

    What is not stock stays as it is whatever comes, so that the sentence stays true.
    """
    several = len(plan.boards) > 1
    for board in dict.fromkeys(one.board for one in idle):
        of = f", of {board}" if several else ""
        for begins, in_stock in ((BESIDES, True), (LAID_BY, False)):
            kept = [
                _told(one, plan) for one in idle if (one.board, one.in_stock) == (board, in_stock)
            ]
            if kept:
                yield f"{begins}{of}: {'; '.join(kept)}."


def _as_planned(bench: Bench, back: SetBack, plan: Plan, made: Plan) -> AsPlanned:
    square = Fraction(1) if back.priced else plan.step.mm**2
    lost = _worth_lost(plan, bench, made)
    return AsPlanned(back.planned_sheets, back.planned_value / square, bench.mistakes, lost)


def _worth_lost(plan: Plan, bench: Bench, made: Plan) -> int | None:
    """Return how much less than planned the offcuts are worth that remain, in twentieths.

    An offcut that only the rack offers counts where it is cut from.
    """
    board = bench.board
    if board.rungs is None:
        return None
    remain: Counter[tuple[int, int]] = Counter()
    used: Counter[Source] = Counter()
    for layout in (one for new in made.boards if new.board == board.board for one in new.layouts):
        used[layout.source] += layout.copies
        for left in layout.leftovers:
            if left.kind is LeftoverKind.OFFCUT:
                remain[left.width, left.height] += layout.copies
    kept_rule = keep_rule(plan, board)
    there = Counter(
        {part.source: part.count for part in (*bench.found, *offcuts_left(plan, bench))}
    )
    for source in {*there, *used}:
        width, height = source.width, source.height
        kept = kept_rule.kind(width, height) is LeftoverKind.OFFCUT
        if kept and source.kind is SourceKind.OFFCUT:
            remain[width, height] += there[source] - used[source]
    worth = (
        worth_in_twentieths(width * height, board.stock) * count
        for (width, height), count in remain.items()
    )
    return board.rungs.worth - math.floor(sum(worth, Fraction(0)))


def _idle(
    plan: Plan, benches: Sequence[Bench], rack: Holdings, made: Plan | None
) -> Iterator[Idle]:
    """Yield what lies on the bench, is not cut from, and is more than scrap."""
    used: Counter[tuple[str, str | None]] = Counter()
    for board in () if made is None else made.boards:
        for layout in board.layouts:
            used[board.board, layout.source.id] += layout.copies
    for bench in benches:
        board_name = bench.board.board
        for part in (*bench.found, *parts_of_before(plan, bench, rack)):
            count = part.count - used[board_name, part.source.id]
            if count > 0 and part.kind in KEPT:
                name, (width, height) = part.source.id or "", part.lies
                size = Size(plan.step * width, plan.step * height)
                yield Idle(board_name, name, part.kind, size, count, part.useful, part.edges)


def _told(one: Idle, plan: Plan) -> str:
    return one.told(format_size(one.size, plan.unit, rule=plan.rule, with_unit=True))
