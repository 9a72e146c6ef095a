"""The naive reference counts only what guillotine cuts can take apart."""

from __future__ import annotations

from dataclasses import asdict

import measuring
import naive
import pytest
import run
from cases import Case

from kerfwright.problem.instance import Instance, PieceType, SourceType


def test_four_round_a_hole_do_not_come_apart() -> None:
    """Four 2 x 1 round a hole of 1 x 1 fill 3 x 3; every straight cut would hit one."""
    wheel = [(0, 0, 2, 1), (2, 0, 1, 2), (1, 2, 2, 1), (0, 1, 1, 2)]
    assert not naive.cuts_apart(wheel, 3, 3)
    assert naive.cuts_apart(wheel[:3], 3, 3)


@pytest.mark.parametrize("second", [(1, 0, 2, 1), (2, 0, 2, 1)])
def test_overlaps_and_overhang_are_seen(second: tuple[int, int, int, int]) -> None:
    """Beside 2 x 1 in a sheet of 3 x 1, a second one overlaps the first or sticks out."""
    with pytest.raises(AssertionError):
        naive.cuts_apart([(0, 0, 2, 1), second], 3, 1)


def test_the_library_plans_with_kerf() -> None:
    """Of 5 x 2 two pieces of 2 x 2 can be cut with a kerf of 1, of 4 x 2 only one."""
    pieces = (PieceType(2, 2, 4, may_turn=True),)
    wide = Instance(pieces, (SourceType(5, 2, 10, None),), kerf=1)
    narrow = Instance(pieces, (SourceType(4, 2, 8, None),), kerf=1)
    found = [naive.packed(asdict(instance)) for instance in (wide, narrow)]
    assert [(one["ours"], one["sheets"]) for one in found] == [(20, 2), (32, 4)]


def test_too_few_sheets_are_no_plan() -> None:
    """With one sheet on hand for two that are needed, there is no plan."""
    instance = Instance((PieceType(2, 2, 2, may_turn=True),), (SourceType(2, 2, 1, 1),))
    assert naive.packed(asdict(instance))["outcome"] == "short"


def test_orders_too_large_are_left_out() -> None:
    """An order of more pieces than the reference takes is not given to it."""
    many = naive.MOST_PIECES + 1
    instance = Instance((PieceType(1, 1, many, may_turn=True),), (SourceType(9, 9, 1, None),))
    assert naive.packed(asdict(instance)) == {"outcome": "too many pieces"}


def test_a_run_goes_on_where_it_broke_off() -> None:
    """What this very packer answered in the same time is left out; what another did is not."""
    case = Case("set", "one", "plan", Instance((), ()))
    same = {"version": measuring.version(), "seconds": 10}
    kept = {"one": same}
    assert run._is_kept(case, kept, "same", 10)
    assert not run._is_kept(case, kept, "same", 20)
    assert not run._is_kept(case, kept, None, 10)
    kept = {"one": same | {"version": "another"}}
    assert not run._is_kept(case, kept, "same", 10)
    assert run._is_kept(case, kept, "any", 10)
