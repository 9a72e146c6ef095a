"""The rest of a job, planned again: never worse than carrying on as planned, with a proof."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from ..errors import RefusedValue
from ..lengths import common_step, format_length, format_size
from ..plan.model import Aim, NoPlan, Plan, Source, SourceKind
from ..plan.trees import DraftLayout
from ..planning import Standing, make_plan
from .rest import bench_of, pieces_in, rest_of
from .said import tales_of
from .sheets import Cuttable, finer, usable_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ..audit import AuditedPlan
    from ..order import Order
    from ..plan.model import BoardPlan, Layout
    from ..stock import Board
    from ..watching import Watch
    from .rest import Bench

__all__ = ["Resumed", "SetBack", "resume_plan"]

FIRST = "First of all, of the part"


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
    """

    board: str
    sheets: int
    planned_sheets: int
    value: Fraction
    planned_value: Fraction
    priced: bool

    @property
    def cost(self) -> Fraction:
        """What the mistake costs; below zero where the new plan is the better one."""
        return self.value - self.planned_value


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
    first
        What to do before the new plan's first cut, a sentence each.
    left_out
        A sentence for each part that could not be used for want of a longer cut.
    """

    plan: Plan | NoPlan | None
    in_hand: Mapping[str, int]
    set_backs: tuple[SetBack, ...]
    first: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def resume_plan(
    audited: AuditedPlan,
    done: Sequence[str] = (),
    wrong: Sequence[str] = (),
    ruined: Sequence[str] = (),
    watch: Watch | None = None,
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

    Raises
    ------
    RefusedValue
        If what was said cannot be so.
    Interrupted
        If `watch` asked to end before any plan was found.
    """
    old = audited.plan
    _refuse_unknown_sources(old)
    said = [tale.settings.values() for tale in tales_of(old, done, wrong, ruined)]
    plan = finer(old, common_step((old.step, *(length for lengths in said for length in lengths))))
    tales = tales_of(plan, done, wrong, ruined)
    names = {item.source.id for board in plan.boards for item in board.stock if item.source.id}
    benches = [bench_of(plan, board, tales, names) for board in plan.boards]
    in_hand = {
        line.label: bench.in_hand[line.label]
        for bench in benches
        for line in bench.board.ordered
        if bench.in_hand[line.label]
    }
    made = _planned(plan, benches, watch)
    left_out = tuple(_left_out(benches))
    if isinstance(made, NoPlan):
        return Resumed(made, in_hand, (), (), left_out)
    set_backs = tuple(_set_back(plan, bench, made) for bench in benches)
    if made is None:
        return Resumed(None, in_hand, set_backs, (), left_out)
    first = tuple(_first(plan, benches, made))
    made = replace(made, notes=(*_still_true(made), *first))
    return Resumed(made, in_hand, set_backs, first, left_out)


def _refuse_unknown_sources(plan: Plan) -> None:
    for board in plan.boards:
        for item in board.stock:
            if item.source.kind is SourceKind.DROP_OUT:
                raise RefusedValue(
                    "stock", "drop-out", "cannot be planned with again", "plan the order anew"
                )


def _planned(plan: Plan, benches: Sequence[Bench], watch: Watch | None) -> Plan | NoPlan | None:
    wanted = {label: count for bench in benches for label, count in bench.wanted.items()}
    if not wanted:
        return None
    kept: dict[str, tuple[DraftLayout, ...]] = {}
    for bench in benches:
        more = _for_the_lost(plan, bench, watch)
        if bench.wanted and more is not None:
            kept[bench.board.board] = (*_standing(bench), *more)
    order = rest_of(plan, benches, wanted)
    made = make_plan(order, watch, standing=Standing(plan.step, kept))
    return _with_more_sheets(plan, order, made, watch) if isinstance(made, NoPlan) else made


def _with_more_sheets(plan: Plan, order: Order, failed: NoPlan, watch: Watch | None) -> NoPlan:
    """Return why there is no plan in sheets to be had, where they are what is short.

    The planner may name any source, but a part on the bench is not to be had again.
    """
    more = tuple(
        replace(board, sheets=tuple(replace(sheet, buyable=True) for sheet in board.sheets))
        for board in order.boards
    )
    if more == order.boards:
        return failed
    made = make_plan(replace(order, boards=more), watch, standing=Standing(plan.step, {}))
    if isinstance(made, NoPlan):
        return failed
    reasons = tuple(
        reason
        for board, planned in zip(order.boards, made.boards, strict=True)
        for reason in _short_of(board, planned, made)
    )
    return replace(failed, reasons=reasons or failed.reasons)


def _short_of(board: Board, planned: BoardPlan, made: Plan) -> Iterator[str]:
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
            yield f"{board.name!r}: the sheets left are too few; with {what} it can be done."


def _standing(bench: Bench) -> Iterator[DraftLayout]:
    """Yield what is still just as planned: sheets not yet opened, and parts of the others."""
    yield from bench.untouched
    for part in bench.parts:
        if part.standing is not None:
            yield DraftLayout(part.source, part.standing, 1)


def _for_the_lost(plan: Plan, bench: Bench, watch: Watch | None) -> tuple[DraftLayout, ...] | None:
    """Return layouts for the pieces that the standing ones do not make, from what these leave.

    None where no such layouts were found.
    """
    lost = Counter(bench.wanted)
    used: Counter[Source] = Counter()
    for layout in _standing(bench):
        used[layout.source] += layout.copies
        for label, count in pieces_in(layout.root).items():
            lost[label] -= count * layout.copies
    wanted = {label: count for label, count in lost.items() if count > 0}
    if not wanted:
        return ()
    order = rest_of(plan, (bench,), wanted, used)
    made = make_plan(order, watch, standing=Standing(plan.step, {}))
    if isinstance(made, NoPlan):
        return None
    return tuple(_draft(layout, board) for board in made.boards for layout in board.layouts)


def _draft(layout: Layout, board: BoardPlan) -> DraftLayout:
    cuttable = Cuttable(layout, board.tool.kerf)
    root = cuttable.tree(0, usable_of(layout.source, board.trim), (0, 0))
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
    )


def _first(plan: Plan, benches: Sequence[Bench], made: Plan) -> Iterator[str]:
    """Yield a sentence for each part that is used and has a factory edge on it."""
    used = {layout.source for board in made.boards for layout in board.layouts}
    for part in (part for bench in benches for part in bench.parts):
        if part.trims and part.source in used:
            cuts = [
                f"{format_length(plan.step * size, plan.unit, with_unit=True)} off its {edge} edge"
                for edge, size in part.trims
            ]
            told = cuts[0] if len(cuts) == 1 else f"{', '.join(cuts[:-1])} and {cuts[-1]}"
            yield f"{_of_part(part.source)} take {told}."


def _of_part(source: Source) -> str:
    return f"{FIRST} {source.id!r}"


def _still_true(made: Plan) -> Iterator[str]:
    """Yield the notes of the old plan without those on parts that are not cut from any more."""
    kept = tuple(_of_part(one.source) for board in made.boards for one in board.layouts)
    for note in made.notes:
        if not note.startswith(FIRST) or note.startswith(kept):
            yield note


def _left_out(benches: Sequence[Bench]) -> Iterator[str]:
    for name in (name for bench in benches for name in bench.left_out):
        yield f"The part {name!r} is left out: its factory edge is longer than the longest cut."
