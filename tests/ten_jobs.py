"""Ten jobs in a row, planned and cut through a ledger, against the same ten planned without.

``python tests/ten_jobs.py``. After each job the ledger's sums must come out exactly; the
sheets that each way takes are printed. The jobs are those of a small workshop over some weeks, made
up for this: prints, a school show, backs; one board of each kind. The windows of all mats are cut,
over slip sheets that wear, and the larger drop-outs are kept.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import kerfwright as kw
from kerfwright.ledger import Ledger, book_cut, check_ledger, offered, set_aside
from kerfwright.ledger.rack import add_slips

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
# By mat size, the drop-out that is kept: what falls from a window with borders of 2 1/2 in.
DROP_OUTS = {"16 x 20": "11 x 15", "22 x 28": "17 x 23", "20 x 24": "15 x 19", "14 x 18": "9 x 13"}


@dataclass(frozen=True, slots=True)
class Done:
    """One job, with and without a ledger.

    Attributes
    ----------
    without, through
        Full sheets.
    windows, dropped, retired
        Windows cut, drop-outs kept, and slip sheets that were worn out by them.
    from_windows
        Drop-outs of earlier jobs that this one was cut from.
    """

    without: int
    through: int
    windows: int
    dropped: int
    retired: int
    from_windows: int


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


def drop_outs_of(number: int) -> dict[str, kw.Size]:
    """Return what falls from the windows of one of the ten jobs and is kept."""
    return {
        f"M{place}": kw.parse_size(DROP_OUTS[size], kw.Unit.INCH)
        for place, (_, size) in enumerate(JOBS[number][0], 1)
        if size in DROP_OUTS
    }


def whole(ledger: Ledger) -> None:
    """See that the ledger is whole, and that every board's sum comes out exactly."""
    checked = check_ledger(ledger)
    assert checked.faults == (), checked.faults
    assert all(balance.difference == 0 for balance in checked.balances)


def done(ledger: Ledger, number: int) -> Done:
    """Plan a job with and without the rack, cut it from the rack, and see that all adds up."""
    without = sheets_of(plan_of(order_of(number)))
    offer = offered(ledger, order_of(number), f"/jobs/{number}")
    audited = plan_of(offer.order)
    job = set_aside(ledger, offer, audited).job
    whole(ledger)
    offcuts = ledger.state().offcuts
    from_windows = [offcut for offcut in job.offcuts if offcuts[offcut].came_by == "drop-out"]
    events = book_cut(ledger, job.number, drop_outs=drop_outs_of(number)).entry.events
    whole(ledger)

    def count(what: str) -> int:
        return sum(event.count or 1 for event in events if event.event == what)

    return Done(
        without=without,
        through=sheets_of(audited),
        windows=count("windows cut"),
        dropped=count("drop-out"),
        retired=count("slips retired"),
        from_windows=len(from_windows),
    )


def ten(jobs: int, path: Path) -> list[Done]:
    """Return what each of the first so many jobs took and left, done in a row."""
    ledger = Ledger(path)
    ledger.begin()
    add_slips(ledger, WHITE, kw.parse_size("4 x 40", kw.Unit.INCH), 1)
    return [done(ledger, number) for number in range(jobs)]


def main() -> None:
    """Print the comparison."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ledger.db"
        jobs = ten(len(JOBS), path)
        for number, one in enumerate(jobs, 1):
            print(
                f"job {number:>2}: {one.without} full sheets without a ledger, {one.through} with "
                f"one; {one.windows} windows, {one.dropped} drop-outs kept, {one.from_windows} "
                f"used, {one.retired} slip sheets worn out"
            )
        without, through = sum(one.without for one in jobs), sum(one.through for one in jobs)
        saved = f"{without - through} saved; sums exact after each"
        print(f"together: {without} and {through}, {saved}")
        for balance in check_ledger(Ledger(path)).balances:
            came = sum(area for _, area in balance.came)
            went = sum(area for _, area in balance.went)
            print(f"{balance.board}: {came} came, {went} went, {balance.offcuts} in offcuts, "
                  f"{balance.slips} in slip sheets, difference {balance.difference}")  # fmt: skip


if __name__ == "__main__":
    main()
