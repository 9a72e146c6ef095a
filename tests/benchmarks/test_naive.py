"""The naive reference counts only what guillotine cuts can take apart, and results merge."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import measuring
import naive
import pytest
import run
from cases import Case
from results import Results

from kerfwright.problem.instance import Instance, PieceType, SourceType

if TYPE_CHECKING:
    from pathlib import Path


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


def test_files_of_results_fill_each_other_in(tmp_path: Path) -> None:
    """The first file's records stand; the second adds those that the first lacks."""
    first, second = Results(tmp_path / "first.jsonl"), Results(tmp_path / "second.jsonl")
    first.add({"set": "s", "id": "a", "ours": 1}, None)
    second.add({"set": "s", "id": "a", "ours": 2}, {"sums": 1.0})
    second.add({"set": "s", "id": "b", "ours": 3}, None)
    second.add_naive("s", "a", {"ours": 5})
    first.fill_in(Results(tmp_path / "second.jsonl"))
    assert [record["ours"] for record in first.of("s")] == [1, 3]
    assert first.of("s")[0]["naive"] == {"ours": 5}


def test_a_file_of_results_says_what_was_put_in(tmp_path: Path) -> None:
    """Read again, it holds the same; so does its copy, and filling in with itself adds nothing."""
    unknown = {"published": None, "recalled": None, "computed": None, "outside": None}
    record = unknown | {"set": "s", "id": "a", "seconds": None, "bound": 0, "published": 7}
    written = Results(tmp_path / "one.jsonl")
    written.begin("s", {"cores": "2"}, ["a"])
    written.add(record, {"sums": 1.0})
    written.add_naive("s", "a", {"ours": 5})
    written.save_as(tmp_path / "copy.jsonl")
    for name in ("one.jsonl", "copy.jsonl"):
        read = Results(tmp_path / name)
        read.fill_in(written)
        assert read.machine == {"cores": "2"}
        assert read.of("s") == [record | {"naive": {"ours": 5}}]
        assert read.references == {"s": [{"sums": 1.0}]}


def test_a_page_keeps_what_it_was_made_of(tmp_path: Path) -> None:
    """Made again of one set alone, the page still has the other, of an earlier run."""
    where = tmp_path / "page.md"
    case = {"seconds": None, "outcome": "plan", "unit": 1, "exhausted": False, "cpu": 1, "wall": 1}
    case |= {"peak_mib": 90, "sheets": 3, "ours": 3, "bound": 3, "outside": None}
    for name in ("home", "bench"):
        results = Results(tmp_path / f"{name}.jsonl")
        results.add(case | {"set": name, "id": f"{name}-1.1"}, None)
        run._write(where, results, [])
    assert "| home | 1 |" in where.read_text(encoding="utf-8")
    assert "| bench | 1 |" in where.read_text(encoding="utf-8")
    assert "home-1.1" in where.with_name("page-instances.md").read_text(encoding="utf-8")
