"""Results are kept, merged by their age, and make the page again one set at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
import run
from results import Results

if TYPE_CHECKING:
    from pathlib import Path

Record = dict[str, Any]


def record(instance: str, cost: int, at: str, **more: object) -> Record:
    """Return a record of a plan at its bound."""
    unknown = dict.fromkeys(("seconds", "published", "recalled", "computed", "outside"))
    told = {"set": "home", "id": instance, "at": at, "ours": cost}
    plan = {"outcome": "plan", "bound": cost, "sheets": cost, "unit": 1}
    unknown |= {"exhausted": False, "stopped": False}
    return unknown | told | plan | {"cpu": 1.0, "wall": 1.0, "peak_mib": 90} | more


def file_of(path: Path, *records: Record) -> Results:
    """Return results that were written one by one."""
    results = Results(path)
    for one in records:
        results.add(one)
    return results


def test_a_file_says_what_was_put_in(tmp_path: Path) -> None:
    """Read again it holds the same, in the order of the names."""
    two, ten = (
        record("home-2.1", 0, "a", published=7, exhausted=True),
        record("home-10.1", 5, "a", outside=0),
    )
    results = file_of(tmp_path / "one.jsonl", ten, two)
    results.add_naive("home", "home-2.1", {"ours": 5})
    results.save_as(tmp_path / "copy.jsonl")
    naive = {"set": "home", "id": "home-2.1", "ours": 5}
    for name in ("one.jsonl", "copy.jsonl"):
        assert Results(tmp_path / name).of("home") == [two | {"naive": naive}, ten]


def test_a_file_changes_only_where_a_result_does(tmp_path: Path) -> None:
    """Read and written again it is the same; one instance anew is one line."""
    first = tmp_path / "first.jsonl"
    file_of(first, *(record(f"home-{n}.1", 1, "a", reference={"sums": n}) for n in (3, 1, 20)))
    before = first.read_text(encoding="utf-8")
    Results(first).save()
    assert first.read_text(encoding="utf-8") == before
    Results(first).add(record("home-3.1", 2, "b"))
    pairs = zip(before.splitlines(), first.read_text(encoding="utf-8").splitlines(), strict=True)
    assert [old != new for old, new in pairs] == [False, True, False]


@pytest.mark.parametrize("turned", [False, True])
def test_the_latest_counts(tmp_path: Path, *, turned: bool) -> None:
    """Whichever file is filled in from which, and however often."""
    one = file_of(tmp_path / "one", record("home-1.1", 1, "a"), record("home-2.1", 1, "b"))
    two = file_of(tmp_path / "two", record("home-2.1", 2, "a"), record("home-1.1", 2, "b"))
    two.add_naive("home", "home-1.1", {"ours": 5, "at": "a"})
    first, second = (two, one) if turned else (one, two)
    for _ in range(2):
        first.fill_in(second)
        assert [found["ours"] for found in first.of("home")] == [2, 1]
        assert first.of("home")[0]["naive"]["ours"] == 5


@pytest.mark.parametrize("line", ["", "[]", "{", '{"about":"guess","set":"s","id":"i"}', "<<<<"])
def test_what_is_no_result_is_refused(tmp_path: Path, line: str) -> None:
    """With the file and the line, such as a merge leaves them."""
    path = tmp_path / "kept.jsonl"
    file_of(path, record("home-1.1", 1, "a"))
    with path.open("a", encoding="utf-8") as file:
        file.write(f"{line}\n")
    with pytest.raises(ValueError, match="line 2: is no result"):
        Results(path)


def test_a_page_keeps_what_it_was_made_of(tmp_path: Path) -> None:
    """Made again of one set alone, even twice, it still has the other, and its reference once."""
    where = tmp_path / "page.md"
    took = {"reference": {"machine": "two cores", "sums": 1.0, "imports": 2.0}}
    for name in ("home", "bench", "bench"):
        one = record(f"{name}-1.1", 3, "a", set=name) | took
        run._write(where, file_of(tmp_path / f"{name}.jsonl", one), [])
    text = where.read_text(encoding="utf-8")
    for name in ("home", "bench"):
        assert f"\n| {name} | 1 | 3 |" in text
        assert f"\n| {name} | 1 | 1.00 / 1.00 / 1.00 | 2.00 / 2.00 / 2.00 |" in text
    assert "most. two cores." in text
    assert "home-1.1" in where.with_name("page-instances.md").read_text(encoding="utf-8")
