"""Ten jobs in a row, planned and cut through a ledger, against the same ten planned without.

``python tests/ten_jobs.py``. After each job the ledger's sums must come out exactly; the
sheets that each way takes are printed. The jobs are those of a small workshop over some weeks, made
up for this: prints, a school show, backs; one board of each kind.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import kerfwright as kw
from kerfwright.ledger import Ledger, book_cut, check_ledger, offered, set_aside

WHITE, FOAM = "warm white rag", "white foam 3/16"
BOARDS = (kw.Board(WHITE, grade=kw.Grade.COTTON), kw.Board(FOAM, grade=kw.Grade.FOAM))
# (mats of the rag, backs of the foam), each a count and a size in inches
JOBS: tuple[tuple[tuple[tuple[int, str], ...], tuple[tuple[int, str], ...]], ...] = (
    (((3, "16 x 20"),), ((3, "16 x 20"),)),
    (((2, "11 x 14"), (1, "12 x 16")), ((2, "11 x 14"),)),
    (((5, "8 x 10"),), ((5, "8 x 10"),)),
    (((1, "22 x 28"),), ((1, "22 x 28"),)),
    (((4, "14 x 18"), (2, "8 x 10")), ((4, "14 x 18"),)),
    (((6, "5 x 7"),), ((6, "5 x 7"),)),
    (((2, "20 x 24"),), ((2, "19 7/8 x 23 7/8"),)),
    (((3, "9 x 12"), (1, "16 x 20")), ((1, "16 x 20"),)),
    (((7, "11 x 14"),), ((7, "11 x 14"),)),
    (((2, "12 x 16"), (3, "8 x 10")), ((2, "12 x 16"), (3, "8 x 10"))),
)


def order_of(number: int) -> kw.Order:
    """Return one of the ten jobs."""
    mats, backs = JOBS[number]
    pieces = [
        kw.Piece(f"{kind[0].upper()}{place}", kind, qty, kw.parse_size(size, kw.Unit.INCH), board)
        for kind, board, lines in (
            (kw.PieceKind.MAT, WHITE, mats),
            (kw.PieceKind.BACKER, FOAM, backs),
        )
        for place, (qty, size) in enumerate(lines, 1)
    ]
    return kw.Order(f"job {number + 1}", tuple(pieces), BOARDS)


def plan_of(order: kw.Order) -> kw.AuditedPlan:
    """Return an audited plan, which each of these orders has."""
    made = kw.make_plan(order)
    assert isinstance(made, kw.Plan)
    return kw.audit_plan(made)


def sheets_of(audited: kw.AuditedPlan) -> int:
    """Return the full sheets of all boards."""
    return sum(board.sheets for board in audited.plan.boards)


def through_a_ledger(ledger: Ledger, number: int) -> int:
    """Plan a job from the rack, cut it, see that all adds up, and return its sheets."""
    offer = offered(ledger, order_of(number), f"/jobs/{number}")
    audited = plan_of(offer.order)
    booked = set_aside(ledger, offer, audited)
    checked = check_ledger(ledger)
    assert checked.faults == (), checked.faults
    book_cut(ledger, booked.job.number)
    checked = check_ledger(ledger)
    assert checked.faults == (), checked.faults
    assert all(balance.difference == 0 for balance in checked.balances)
    return sheets_of(audited)


def compare(jobs: int, path: Path) -> tuple[list[int], list[int]]:
    """Return the sheets of each job without a ledger, and with one."""
    ledger = Ledger(path)
    ledger.begin()
    without, through = [], []
    for number in range(jobs):
        without.append(sheets_of(plan_of(order_of(number))))
        through.append(through_a_ledger(ledger, number))
    return without, through


def main() -> None:
    """Print the comparison."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ledger.db"
        without, through = compare(len(JOBS), path)
        for number, pair in enumerate(zip(without, through, strict=True), 1):
            print("job {:>2}: {} full sheets without a ledger, {} with one".format(number, *pair))
        saved = sum(without) - sum(through)
        print(f"together: {sum(without)} and {sum(through)}, {saved} saved; sums exact after each")
        for balance in check_ledger(Ledger(path)).balances:
            came = sum(area for _, area in balance.came)
            went = sum(area for _, area in balance.went)
            print(f"{balance.board}: {came} came, {went} went, {balance.offcuts} in offcuts, "
                  f"{balance.slips} in slip sheets, difference {balance.difference}")  # fmt: skip


if __name__ == "__main__":
    main()
