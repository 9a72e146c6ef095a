"""Small ledgers and orders made by hand, shared by the tests and scripts of the ledger."""

from __future__ import annotations

from pathlib import Path

import kerfwright as kw
from kerfwright.ledger import Ledger, Offer, offered, set_aside
from kerfwright.ledger.jobs import Booked
from kerfwright.ledger.rack import Measured, add_offcuts, add_sheets

BOARD = "warm white rag"
SMALL_ORDER = f"""
[[board]]
name = "{BOARD}"
grade = "cotton"
sheets = [ {{ size = "32 x 40", price = "21.50" }} ]
[[mat]]
label = "A"
qty = 3
size = "16 x 20"
board = "{BOARD}"
"""


def size(text: str) -> kw.Size:
    """Return a size in inches."""
    return kw.parse_size(text, kw.Unit.INCH)


def measured(text: str, place: str = "", **more: object) -> Measured:
    """Return a cotton offcut of the usual board."""
    told: dict[str, object] = {"grade": kw.Grade.COTTON, "place": place, **more}
    return Measured(BOARD, size(text), **told)  # type: ignore[arg-type]


def mats(label: str, qty: int, text: str, *, turn: bool = True) -> kw.Piece:
    """Return a line of mats of the usual board."""
    return kw.Piece(label, kw.PieceKind.MAT, qty, size(text), BOARD, turn)


def order(*pieces: kw.Piece, board: kw.Board | None = None, name: str = "show") -> kw.Order:
    """Return an order of the usual board, which is cotton."""
    return kw.Order(name, pieces, (board or kw.Board(BOARD, grade=kw.Grade.COTTON),))


def small_ledger(path: Path) -> Ledger:
    """Return a ledger with five sheets of 32 x 40 in, and offcuts 1 (14 x 32) and 2 (16 x 20)."""
    ledger = Ledger(path)
    ledger.begin()
    add_sheets(ledger, BOARD, size("32 x 40"), 5)
    add_offcuts(ledger, [measured("14 x 32", "A1"), measured("16 x 20", "A2")])
    return ledger


def planned(ledger: Ledger, job: kw.Order, folder: str) -> tuple[Offer, kw.AuditedPlan]:
    """Return what the rack offers a job, and an audited plan that takes it up."""
    offer = offered(ledger, job, folder)
    made = kw.make_plan(offer.order)
    assert isinstance(made, kw.Plan)
    return offer, kw.audit_plan(made)


def booked(ledger: Ledger, job: kw.Order, folder: str) -> Booked:
    """Plan a job and set aside what it takes."""
    return set_aside(ledger, *planned(ledger, job, folder))
