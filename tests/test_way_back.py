"""No way back as late as it costs nothing: against every order of a few cuts."""

from __future__ import annotations

import random
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import kerfwright as kw
from kerfwright.bench import ordered
from kerfwright.bench.jobs import lines_of
from kerfwright.bench.laying import handled, handling
from kerfwright.bench.way_back import before_no_way_back, later

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from kerfwright.bench.jobs import Job
    from kerfwright.bench.laying import Made
    from kerfwright.plan.trees import DraftLayout

SIZES = ((8, 10), (11, 14), (16, 20), (12, 16), (18, 24), (20, 24), (14, 18), (20, 30), (16, 30))
FEW = 7
Case = tuple[list["Made"], "Sequence[Job]", "Sequence[DraftLayout]", list["Made"]]


@pytest.fixture
def put_later(monkeypatch: pytest.MonkeyPatch) -> list[Case]:
    """Return what `later` was given and gave, as plans are made."""
    seen: list[Case] = []

    def noting(
        made: Sequence[Made],
        jobs: Sequence[Job],
        drafts: Sequence[DraftLayout],
        stop: Callable[[], bool],
    ) -> list[Made]:
        found = later(made, jobs, drafts, stop)
        seen.append((list(made), jobs, drafts, found))
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
    _, jobs, drafts, _ = case
    return before_no_way_back(jobs, lines_of(jobs, drafts), [one.number for one in made])


def settings(made: Sequence[Made]) -> int:
    """Return how often the stop is set."""
    by_stop = [one.setting for one in made if one.setting is not None]
    return sum(1 for place, one in enumerate(by_stop) if not place or by_stop[place - 1] != one)


def every_row(
    jobs: Sequence[Job], ends: dict[int, int], begun: tuple[int, ...] = ()
) -> Iterator[list[Made]]:
    """Yield the jobs in every order, each from its own end."""
    if len(begun) == len(jobs):
        yield handled(jobs, ((number, ends[number]) for number in begun))
    for number, job in enumerate(jobs):
        if number not in begun and (job.parent is None or job.parent in begun):
            yield from every_row(jobs, ends, (*begun, number))


def test_cuts_that_two_layouts_share_are_moved_before_others(
    tmp_path: Path, put_later: list[Case]
) -> None:
    """Five 16 x 30 and five 16 x 20: one more shared cut comes before the first of its own."""
    plan(tmp_path, ((5, 16, 30), (5, 16, 20)))
    assert any(cuts_before(case, case[3]) > cuts_before(case, case[0]) for case in put_later)


def test_nothing_more_is_asked_and_no_order_has_fewer_before(
    tmp_path: Path, put_later: list[Case]
) -> None:
    """Random small orders ask no more than before; with the same ends none has more before."""
    chance = random.Random(7)  # noqa: S311 - no secrets here
    for _ in range(30):
        sizes = chance.sample(SIZES, chance.randint(1, 3))
        plan(tmp_path, [(chance.randint(1, 6), *size) for size in sizes])
    compared = 0
    for case in put_later:
        made, jobs, _, found = case
        assert (settings(found), handling(found)) == (settings(made), handling(made))
        assert sorted(one.number for one in found) == list(range(len(jobs)))
        assert cuts_before(case, found) >= cuts_before(case, made)
        if len(case[2]) > 1 and len(jobs) <= FEW:
            asked = settings(found), handling(found)
            ends = {one.number: one.job.task.ends.index(one.end) for one in made}
            rows = every_row(jobs, ends)
            alike = [row for row in rows if (settings(row), handling(row)) <= asked]
            assert cuts_before(case, found) == max(cuts_before(case, row) for row in alike)
            compared += 1
    assert compared > 5
