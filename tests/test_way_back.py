"""No way back as late as it costs nothing: against every order of a few cuts."""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import kerfwright as kw
from kerfwright.bench import ordered, way_back
from kerfwright.bench.jobs import lines_of
from kerfwright.bench.laying import handled, handling
from kerfwright.bench.way_back import before_no_way_back, later
from kerfwright.instructions import instructions

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from kerfwright.bench.jobs import Job
    from kerfwright.bench.laying import Made
    from kerfwright.bench.way_back import Later
    from kerfwright.plan.trees import DraftLayout

SIZES = ((8, 10), (11, 14), (16, 20), (12, 16), (18, 24), (20, 24), (14, 18), (20, 30), (16, 30))
FEW = 7


@dataclass(frozen=True)
class Case:
    """What `later` was given, and what it gave."""

    made: list[Made]
    jobs: Sequence[Job]
    drafts: Sequence[DraftLayout]
    is_as_exact: Callable[[Sequence[Made]], bool]
    found: Later


@pytest.fixture
def put_later(monkeypatch: pytest.MonkeyPatch) -> list[Case]:
    """Return what `later` was given and gave, as plans are made."""
    seen: list[Case] = []

    def noting(
        made: Sequence[Made],
        jobs: Sequence[Job],
        drafts: Sequence[DraftLayout],
        stop: Callable[[], bool],
        is_as_exact: Callable[[Sequence[Made]], bool],
    ) -> Later:
        found = later(made, jobs, drafts, stop, is_as_exact)
        seen.append(Case(list(made), jobs, drafts, is_as_exact, found))
        return found

    monkeypatch.setattr(ordered, "later", noting)
    return seen


def plan(tmp_path: Path, pieces: Sequence[tuple[int, int, int]]) -> None:
    """Plan an order of how many pieces of which sizes from sheets of 32 x 40."""
    order = tmp_path / "order.toml"
    rows = [
        f'[[mat]]\nlabel = "P{number}"\nqty = {often}\nsize = "{wide} x {high}"\nboard = "w"\n'
        for number, (often, wide, high) in enumerate(pieces)
    ]
    order.write_text('unit = "in"\n' + "".join(rows), encoding="utf-8")
    kw.make_plan(kw.load_order(order))


def cuts_before(case: Case, made: Sequence[Made]) -> int:
    """Return how many cuts come before there is no way back."""
    lines = lines_of(case.jobs, case.drafts)
    return before_no_way_back(case.jobs, lines, [one.number for one in made])


def settings(made: Sequence[Made]) -> int:
    """Return how often the stop is set."""
    by_stop = [one.setting for one in made if one.setting is not None]
    return sum(1 for place, one in enumerate(by_stop) if not place or by_stop[place - 1] != one)


def every_row(jobs: Sequence[Job], begun: tuple[tuple[int, int], ...] = ()) -> Iterator[list[Made]]:
    """Yield the jobs in every order, each from either end."""
    if len(begun) == len(jobs):
        yield handled(jobs, begun)
    done = {number for number, _ in begun}
    for number, job in enumerate(jobs):
        if number not in done and (job.parent is None or job.parent in done):
            for place in range(len(job.task.ends)):
                yield from every_row(jobs, (*begun, (number, place)))


def test_cuts_that_two_layouts_share_are_moved_before_others(
    tmp_path: Path, put_later: list[Case]
) -> None:
    """Five 16 x 30 and five 16 x 20: one more shared cut comes before the first of its own."""
    plan(tmp_path, ((5, 16, 30), (5, 16, 20)))
    assert any(case.found.before > cuts_before(case, case.made) for case in put_later)


def test_nothing_more_is_asked_and_no_order_has_fewer_before(
    tmp_path: Path, put_later: list[Case]
) -> None:
    """Random small orders ask no more than before, and no order that asks as little has it later.

    Of a few cuts all orders are tried here, from every end, and the bound is what is found.
    """
    chance = random.Random(7)  # noqa: S311 - no secrets here
    for _ in range(40):
        sizes = chance.sample(SIZES, chance.randint(1, 3))
        plan(tmp_path, [(chance.randint(1, 6), *size) for size in sizes])
    compared = 0
    for case in put_later:
        made, jobs, found = case.made, case.jobs, case.found
        assert (settings(found.made), handling(found.made)) == (settings(made), handling(made))
        assert sorted(one.number for one in found.made) == list(range(len(jobs)))
        assert found.before == cuts_before(case, found.made) >= cuts_before(case, made)
        assert found.before <= found.most
        assert case.is_as_exact(found.made)
        if len(case.drafts) > 1 and len(jobs) <= FEW:
            asked = settings(found.made), handling(found.made)
            rows = (row for row in every_row(jobs) if (settings(row), handling(row)) <= asked)
            alike = [cuts_before(case, row) for row in rows if case.is_as_exact(row)]
            assert found.before == found.most == max(alike)
            compared += 1
    assert compared > 5


def test_a_bound_is_claimed_only_where_all_was_tried(
    tmp_path: Path, put_later: list[Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no order may be begun, the bound is what the layouts share, met or not."""
    monkeypatch.setattr(way_back, "MOST_BEGUN", 0)
    chance = random.Random(7)  # noqa: S311 - no secrets here
    for _ in range(40):
        sizes = chance.sample(SIZES, chance.randint(1, 3))
        plan(tmp_path, [(chance.randint(1, 6), *size) for size in sizes])
    assert any(case.found.before < case.found.most for case in put_later)
    assert all(case.found.before <= case.found.most for case in put_later)


def test_a_trim_as_wide_as_the_kerf_is_a_trim(tmp_path: Path) -> None:
    """Nothing is left of its strip; taking it off leaves a way back, and the audit agrees."""
    order = tmp_path / "order.toml"
    order.write_text(
        'unit = "in"\n[[tool]]\nname = "saw"\nkind = "table saw"\nkerf = "1/8"\n'
        '[[board]]\nname = "b"\ntool = "saw"\nsheets = ["48 x 96"]\n'
        'trim = { left = "1/8", top = "1/8" }\n'
        '[[mat]]\nlabel = "A"\nqty = 7\nsize = "16 x 20"\nboard = "b"\n'
        '[[mat]]\nlabel = "B"\nqty = 13\nsize = "11 x 14"\nboard = "b"\n',
        encoding="utf-8",
    )
    plan = kw.make_plan(kw.load_order(order))
    assert isinstance(plan, kw.Plan)
    board = kw.audit_plan(plan).plan.boards[0]
    for layout in board.layouts:
        told = instructions(layout, board, plan)
        trims = [one for one in told if None in (one.step.first, one.step.second)]
        assert len(trims) >= 2
        assert not any(one.commits for one in trims)
