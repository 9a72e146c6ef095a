"""What a plan from the ledger says of the rack: what it takes, what it leaves, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..lengths import ZERO, Length, format_length, format_size
from ..order import Order, PieceKind
from ..plan.model import LeftoverKind, SourceKind
from .sums import slip_sheets_for

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ..audit.facts import AuditedPlan
    from .book import Ledger
    from .jobs import Booked
    from .offer import Offer
    from .state import State

__all__ = ["Reserved", "reserved"]

# How many mats one slip sheet serves, shifted between cuts, before it is scored too often. A shop
# setting: no published figure is known.
MATS_A_SLIP = 10


@dataclass(frozen=True, slots=True)
class Reserved:
    """What a plan from the ledger has of the rack.

    Attributes
    ----------
    told
        What is set aside, slip sheets, and how to go on; a sentence each.
    why
        Each offcut of the order's boards that stays on the rack, and why; a sentence each.
    untouched
        The same, number and reason.
    """

    path: str
    job: int
    offcuts: tuple[int, ...]
    told: tuple[str, ...]
    why: tuple[str, ...]
    untouched: tuple[tuple[int, str], ...]
    slips_needed: int
    slips_on_hand: int
    slips_made: int


def reserved(ledger: Ledger, offer: Offer, audited: AuditedPlan, booked: Booked) -> Reserved:
    """Return what there is to say of the rack once a plan is set aside."""
    state, job = ledger.state(), booked.job
    used = {
        int(use.source.id or 0)
        for facts in audited.facts
        for use in facts.sources
        if use.source.kind is SourceKind.OFFCUT
    }
    untouched = tuple(_untouched(offer, audited, used))
    longest = _longest_mat(offer.order)
    slips = _slips(state, offer.order, audited, longest)
    unit = offer.order.unit
    why = tuple(
        f"Offcut {number}, {format_size(state.kept(number).size, unit, with_unit=True)}: {reason}."
        for number, reason in untouched
    )
    return Reserved(
        path=str(ledger.path),
        job=job.number,
        offcuts=tuple(sorted(used)),
        told=tuple(_told(offer.order, job.number, sorted(used), longest, slips)),
        why=why,
        untouched=untouched,
        slips_needed=slips[0],
        slips_on_hand=slips[1],
        slips_made=slips[2],
    )


def _untouched(offer: Offer, audited: AuditedPlan, used: set[int]) -> Iterator[tuple[int, str]]:
    """Yield what stays, with no more claimed of the plan than the plan itself claims."""
    proved = {board.board for board in audited.plan.boards if board.proved_least}
    for offcut in offer.order.offcuts:
        if int(offcut.id) in used:
            continue
        if offcut.board in proved:
            yield int(offcut.id), "stays whole, since no plan needs fewer sheets with it"
        else:
            yield int(offcut.id), "stays whole in the best plan found"
    for passed in offer.passed:
        yield passed.number, passed.why


def _longest_mat(order: Order) -> Length:
    sides = [p.size for p in order.pieces if p.kind is PieceKind.MAT]
    return max((max(size.width, size.height) for size in sides), default=ZERO)


def _slips(
    state: State, order: Order, audited: AuditedPlan, longest: Length
) -> tuple[int, int, int]:
    """Return how many slip sheets the job needs, how many that serve are there, and it makes."""
    mats = sum(piece.qty for piece in order.pieces if piece.kind is PieceKind.MAT)
    made = sum(
        left.count
        for facts in audited.facts
        for left in facts.left
        if left.kind is LeftoverKind.SLIP_SHEET
    )
    return -(-mats // MATS_A_SLIP), slip_sheets_for(state.slips.items(), longest), made


def _told(
    order: Order, job: int, used: list[int], longest: Length, slips: tuple[int, int, int]
) -> Iterator[str]:
    names = ", ".join(map(str, used))
    many = "" if len(used) == 1 else "s"
    what = f"offcut{many} {names}" if used else "no offcut"
    yield f"Job {job}: {what} set aside. When it is cut: kerfwright ledger cut {job}"
    needed, there, made = slips
    if needed:
        length = format_length(longest, order.unit, with_unit=True)
        each = "slip sheet" if needed == 1 else "slip sheets"
        yield (
            f"{needed} {each} of {length} or longer for the windows ({MATS_A_SLIP} mats each): "
            f"{there} on hand, {made} made by this job."
        )
