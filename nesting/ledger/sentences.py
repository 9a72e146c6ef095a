"""What a plan from the ledger says of the rack: what it takes, what it leaves, and why."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..lengths import ZERO, Length, Unit, format_length, format_size
from ..order import Order, PieceKind
from ..plan.leftovers import SLIP_SHEET_WIDTH
from ..plan.model import LeftoverKind, SourceKind
from .reasons import reasons_of
from .resuming import passed_over
from .slips import Serving, serving

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ..audit.facts import AuditedPlan
    from .book import Ledger
    from .jobs import Booked
    from .offer import Offer
    from .resuming import Resuming
    from .state import Job, State

__all__ = ["OfTheRack", "Reserved", "instead_of", "of_the_rack", "reserved"]


@dataclass(frozen=True, slots=True)
class Reserved:
    """What a plan from the ledger has of the rack.

    Attributes
    ----------
    told
        What is set aside, slip sheets, and how to go on; a sentence each.
    why
        Why each offcut of the order's boards on the rack is used or not, a sentence for all that
        share a reason.
    used, untouched
        The same, number and reason.
    slips_windows
        How many windows the slip sheets on hand are still good for.
    """

    path: str
    job: int
    offcuts: tuple[int, ...]
    told: tuple[str, ...]
    why: tuple[str, ...]
    used: tuple[tuple[int, str], ...]
    untouched: tuple[tuple[int, str], ...]
    slips_needed: int
    slips_on_hand: int
    slips_windows: int
    slips_made: int


def reserved(ledger: Ledger, offer: Offer, audited: AuditedPlan, booked: Booked) -> Reserved:
    """Return what there is to say of the rack once a plan is set aside."""
    state, job, order = ledger.state(), booked.job, offer.order
    reasons = reasons_of(state, offer.passed, audited)
    used = [number for number, _ in reasons.used]
    there = serving(state, _longest_mat(order), order.unit)
    needed, made = _slips(order, audited, state.windows_a_slip)
    return Reserved(
        path=str(ledger.path),
        job=job.number,
        offcuts=tuple(used),
        told=(
            *instead_of(booked.replaced),
            *_told(order, job.number, used, needed, there, made),
            *_left_there(order, audited),
        ),
        why=tuple(_why(state, order.unit, (*reasons.used, *reasons.unused))),
        used=reasons.used,
        untouched=reasons.unused,
        slips_needed=needed,
        slips_on_hand=there.count,
        slips_windows=there.windows,
        slips_made=made,
    )


@dataclass(frozen=True, slots=True)
class OfTheRack:
    """Why each offcut of the boards of a rest is used or not; see `Reserved`."""

    why: tuple[str, ...]
    used: tuple[tuple[int, str], ...]
    untouched: tuple[tuple[int, str], ...]


def of_the_rack(ledger: Ledger, before: Resuming, rest: AuditedPlan, booked: Booked) -> OfTheRack:
    """Return what there is to say of the rack once a rest has the place of its job."""
    state = ledger.state()
    reasons = reasons_of(state, passed_over(state, before, rest.plan, booked.job), rest)
    why = tuple(_why(state, rest.plan.unit, (*reasons.used, *reasons.unused)))
    return OfTheRack(why, reasons.used, reasons.unused)


def instead_of(replaced: Job | None) -> Iterator[str]:
    """Say which job of the folder was let go."""
    if replaced is not None:
        yield (
            f"Instead of job {replaced.number} ({replaced.name}), which had this folder and is "
            "cancelled; its pages no longer count."
        )


def _why(state: State, unit: Unit, reasons: Iterable[tuple[int, str]]) -> Iterator[str]:
    """Yield each reason, with the offcuts that it holds for."""
    by_reason: dict[str, list[str]] = {}
    for number, reason in reasons:
        size = format_size(state.kept(number).size, unit, with_unit=True)
        by_reason.setdefault(reason, []).append(f"{number}, {size}")
    for reason, named in by_reason.items():
        if len(named) == 1:
            yield f"Offcut {named[0]}: {reason}."
        else:
            yield f"Offcuts {'; '.join(named)}: {_of_several(reason)}."


def _of_several(reason: str) -> str:
    """Return a reason that is told of one offcut as it is told of several."""
    verb, _, rest = reason.partition(" ")
    told = {"used": "each used", "is": "are", "has": "have", "holds": "each holds"}
    return f"{told.get(verb, verb)} {rest}"


def _longest_mat(order: Order) -> Length:
    sides = [p.size for p in order.pieces if p.kind is PieceKind.MAT]
    return max((max(size.width, size.height) for size in sides), default=ZERO)


def _mats(order: Order) -> int:
    return sum(piece.qty for piece in order.pieces if piece.kind is PieceKind.MAT)


def _slips(order: Order, audited: AuditedPlan, each: int) -> tuple[int, int]:
    """Return how many slip sheets the job needs, and how many it makes."""
    made = sum(
        left.count
        for facts in audited.facts
        for left in facts.left
        if left.kind is LeftoverKind.SLIP_SHEET
    )
    return -(-_mats(order) // each), made


def _told(
    order: Order, job: int, used: list[int], needed: int, there: Serving, made: int
) -> Iterator[str]:
    names = ", ".join(map(str, used))
    many = "" if len(used) == 1 else "s"
    what = f"offcut{many} {names}" if used else "no offcut"
    yield f"Job {job}: {what} set aside. When it is cut: kerfwright ledger cut {job}"
    if needed:
        yield _slips_told(order, needed, there, made)


def _left_there(order: Order, audited: AuditedPlan) -> Iterator[str]:
    """Yield which full sheets stay on the rack though others of their board are to be bought."""
    boards = {board.name: board for board in order.boards}
    for plan, facts in zip(audited.plan.boards, audited.facts, strict=True):
        taken = Counter({use.source: use.copies for use in facts.sources})
        bought, left = [], []
        for item, sheet in zip(
            (one for one in plan.stock if one.source.kind is SourceKind.SHEET),
            boards[plan.board].sheets,
            strict=True,
        ):
            there, copies = item.on_hand or 0, taken[item.source]
            told = format_size(sheet.size, order.unit, with_unit=True)
            bought += [f"{copies - there} of {told}"] if copies > there else []
            left += [f"{there - copies} of {told}"] if there > copies else []
        if bought and left:
            yield (
                f"Of {plan.board} full sheets stay on the rack ({', '.join(left)}), though some "
                f"are to be bought ({', '.join(bought)})."
            )


def _slips_told(order: Order, needed: int, there: Serving, made: int) -> str:
    length = format_length(_longest_mat(order), order.unit, with_unit=True)
    wide = format_length(SLIP_SHEET_WIDTH[order.unit], order.unit, with_unit=True)
    windows = _mats(order)
    told = (
        f"{needed} slip sheet{'' if needed == 1 else 's'} for {windows} "
        f"window{'' if windows == 1 else 's'} ({there.each} windows each), {length} or longer and "
        f"{wide} or wider: {there.count} on hand"
    )
    if there.count:
        told += f", good for {there.windows} window{'' if there.windows == 1 else 's'}"
    if there.others:
        told += f" ({there.others} more of another size or board)"
    return f"{told}, {made} made by this job."
