"""A ledger under random acts: after each it is whole, and every bit of board is accounted for."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from racks import BOARD, booked, mats, measured, order, size, small_ledger

import kerfwright as kw
from kerfwright.ledger import Ledger, book_cut, cancel_job, check_ledger
from kerfwright.ledger.exchange import export_json, import_json
from kerfwright.ledger.rack import (
    Found,
    add_offcuts,
    add_sheets,
    add_slips,
    correct,
    count_rack,
    count_sheets,
    describe_board,
    find_again,
    move,
    retire_slips,
    set_slip_windows,
    take,
    take_sheets,
)
from kerfwright.ledger.state import State

SHEET, SLIP = size("32 x 40"), size("4 x 40")
OTHER = "black core"
NUMBERS = st.integers(1, 8)
LENGTHS = st.sampled_from(["9 1/2", "11", "14 3/16", "16", "20", "355.6 mm"])
WAYS = st.sampled_from(["used", "given away", "spoiled", "lost"])
INCH, NOTHING = kw.parse_length("1/2", kw.Unit.INCH), kw.Length(Fraction(0))


def compared(state: State) -> tuple[object, ...]:
    """Return what an undo must bring back; numbers given stay given."""
    counts = [{key: n for key, n in one.items() if n} for one in (state.sheets, state.slips)]
    return (state.offcuts, counts, state.jobs, state.boards, state.prices)


class Rack(RuleBasedStateMachine):
    """Somebody at a bench who does, miscounts, corrects and takes back."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.ledger = small_ledger(self.folder / "ledger.db")
        self.events = self.ledger.events()
        self.ordered: dict[int, Fraction] = {}  # square millimetres, by job

    def teardown(self) -> None:
        """See that what is exported and taken in elsewhere is the same ledger; and clean up."""
        path = self.folder / "all.json"
        path.write_text(export_json(self.ledger), encoding="utf-8")
        copy = Ledger(self.folder / "copy.db")
        copy.begin()
        import_json(copy, path)
        assert copy.events() == self.ledger.events()
        mark = check_ledger(self.ledger).mark
        assert check_ledger(copy, mark=mark).faults == ()
        shutil.rmtree(self.folder)

    def do(self, act: Callable[[], object]) -> None:
        """Do something; what is refused changes no byte, and says so in words for a person."""
        before, refusal = self.ledger.path.read_bytes(), ""
        try:
            act()
        except kw.LedgerError as error:
            refusal = str(error)
        if refusal:
            assert self.ledger.path.read_bytes() == before
            assert "makes no sense" not in refusal
            assert "event " not in refusal

    @rule(wide=LENGTHS, high=LENGTHS, known=st.booleans(), edged=st.booleans())
    def add(self, wide: str, high: str, known: bool, edged: bool) -> None:
        """Put an offcut on the rack."""
        edges = (INCH, NOTHING, NOTHING, NOTHING) if edged else (NOTHING,) * 4
        grade = kw.Grade.COTTON if known else None
        one = measured(f"{wide} x {high}", grade=grade, directed=known, edges=edges)
        self.do(lambda: add_offcuts(self.ledger, [one]))

    @rule(count=st.integers(1, 3), out=st.booleans())
    def sheets(self, count: int, out: bool) -> None:
        """Put sheets on the rack, or take some."""
        if out:
            self.do(lambda: take_sheets(self.ledger, BOARD, SHEET, count, "spoiled"))
        else:
            self.do(lambda: add_sheets(self.ledger, BOARD, SHEET, count, price=Fraction(20)))

    @rule(windows=st.integers(1, 12))
    def setting(self, windows: int) -> None:
        """Say how many windows a slip sheet serves."""
        self.do(lambda: set_slip_windows(self.ledger, windows))

    @rule(count=st.integers(1, 3), out=st.booleans())
    def slips(self, count: int, out: bool) -> None:
        """Add slip sheets, or retire some."""
        act = retire_slips if out else add_slips
        self.do(lambda: act(self.ledger, BOARD, SLIP, count))

    @rule(number=NUMBERS, place=st.sampled_from(["A1", "B2", ""]))
    def move(self, number: int, place: str) -> None:
        """Put an offcut elsewhere."""
        self.do(lambda: move(self.ledger, [number], place))

    @rule(number=NUMBERS, wide=LENGTHS, high=LENGTHS)
    def measure(self, number: int, wide: str, high: str) -> None:
        """Measure an offcut."""
        self.do(lambda: correct(self.ledger, number, size=size(f"{wide} x {high}")))

    @rule(
        number=NUMBERS,
        board=st.sampled_from([None, BOARD, OTHER]),
        grade=st.sampled_from([None, "cotton", "wood-pulp", "unknown"]),
        directed=st.sampled_from([None, True, False]),
        high=st.one_of(st.none(), LENGTHS),
    )
    def correct(
        self, number: int, board: str | None, grade: str | None, directed: bool | None,
        high: str | None,
    ) -> None:  # fmt: skip
        """Correct what an offcut is."""
        sized = None if high is None else size(f"12 x {high}")
        self.do(
            lambda: correct(
                self.ledger, number, board=board, grade=grade, directed=directed, size=sized
            )
        )

    @rule(number=NUMBERS, way=WAYS)
    def take(self, number: int, way: str) -> None:
        """Take an offcut off the rack."""
        self.do(lambda: take(self.ledger, [number], way))

    @rule(number=NUMBERS)
    def find(self, number: int) -> None:
        """Find a lost offcut."""
        self.do(lambda: find_again(self.ledger, number))

    @rule(numbers=st.sets(NUMBERS, min_size=1), long=st.one_of(st.none(), LENGTHS))
    def count(self, numbers: set[int], long: str | None) -> None:
        """Count the rack, well or badly."""
        sized = None if long is None else size(f"{long} x 13")
        found = [Found(number, sized if number % 2 else None) for number in numbers]
        self.do(lambda: count_rack(self.ledger, found))

    @rule(there=st.integers(0, 6))
    def count_sheets(self, there: int) -> None:
        """Count the sheets, well or badly."""
        self.do(lambda: count_sheets(self.ledger, BOARD, SHEET, there))

    @rule(directed=st.booleans())
    def describe(self, directed: bool) -> None:
        """Say whether the board has a direction."""
        self.do(lambda: describe_board(self.ledger, BOARD, directed=directed))

    @rule(folder=st.sampled_from("abc"), qty=st.integers(1, 5), long=st.integers(8, 20))
    def plan(self, folder: str, qty: int, long: int) -> None:
        """Plan a job, or plan it again."""

        def act() -> None:
            asked = order(mats("A", qty, f"{long} x 15"))
            job = booked(self.ledger, asked, f"/jobs/{folder}").job
            each = size(f"{long} x 15")
            self.ordered[job.number] = qty * each.width.mm * each.height.mm

        self.do(act)

    @rule(job=st.integers(1, 5), bought=st.booleans(), windows=st.booleans())
    def cut(self, job: int, bought: bool, windows: bool) -> None:
        """Book a job as cut, sheets bought after all or not."""
        drop_outs = {"A": size("5 x 7")} if windows else {}
        self.do(lambda: book_cut(self.ledger, job, place="C", bought=bought, drop_outs=drop_outs))

    @rule(job=st.integers(1, 5))
    def cancel(self, job: int) -> None:
        """Cancel a job."""
        self.do(lambda: cancel_job(self.ledger, job))

    @rule()
    def undo(self) -> None:
        """Undo the latest entry."""
        self.do(self.ledger.undo)

    @precondition(lambda self: self.events)
    @rule(wide=LENGTHS)
    def act_and_take_back(self, wide: str) -> None:
        """See that an undo brings back exactly what was before."""
        before = compared(self.ledger.state())
        add_offcuts(self.ledger, [measured(f"{wide} x 20")])
        self.ledger.undo()
        assert compared(self.ledger.state()) == before

    @rule(entry=st.integers(1, 12))
    def undo_one(self, entry: int) -> None:
        """Undo any entry; where others rest on it, go the way that the message says."""
        try:
            self.ledger.undo(entry)
        except kw.LedgerError as error:
            one = re.search(r"kerfwright ledger undo (\d+)", str(error))
            several = re.search(r"in this order: ([\d, ]+)\.", str(error))
            if one is None and several is None:
                return
            named = several[1].split(", ") if several else [one[1] if one else ""]
            for number in map(int, named):
                self.ledger.undo(number)
            self.ledger.undo(entry)

    @invariant()
    def it_is_whole(self) -> None:
        """See that the check finds nothing, the past is as it was, and mats are as ordered."""
        checked = check_ledger(self.ledger)
        assert checked.faults == ()
        events = self.ledger.events()
        assert events[: len(self.events)] == self.events
        self.events = events
        state = self.ledger.state()
        cut = {number for number, job in state.jobs.items() if job.state == "cut"}
        pieces = [item for trace in checked.traces for item in trace.items if item.label]
        for number in cut:
            made = sum((item.area for item in pieces if item.job == number), Fraction(0))
            assert made == self.ordered[number]
        assert {item.job for item in pieces} == cut
        for trace in checked.traces:
            assert trace.difference == 0

    @invariant()
    def nothing_is_in_two_jobs(self) -> None:
        """See that what is set aside is so for one job, which waits, and knows it."""
        state = self.ledger.state()
        for kept in state.offcuts.values():
            if kept.state == "set aside":
                assert kept.aside is not None
                job = state.jobs[kept.aside]
                assert job.state == "set aside"
                assert kept.number in job.offcuts


TestRack = pytest.mark.filterwarnings("default")(Rack.TestCase)
TestRack.settings = settings(
    max_examples=12,
    stateful_step_count=14,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
