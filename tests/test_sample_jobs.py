"""Every sample job is planned, audited and held against its least number worked by hand."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

import kerfwright as kw

ROOT = Path(__file__).parent.parent
JOBS = tomllib.loads((ROOT / "tests/data/sample_jobs.toml").read_text(encoding="utf-8"))["job"]


@pytest.mark.parametrize("job", JOBS, ids=lambda job: str(job["file"]))
def test_sample_job_takes_the_least_sheets(job: dict[str, object], tmp_path: Path) -> None:
    """A sample job takes the sheets worked by hand, is proved least, and verifies from its file."""
    folder = ROOT / "sample_jobs"
    stock = folder / str(job["stock"]) if "stock" in job else None
    plan = kw.make_plan(kw.load_order(folder / str(job["file"]), stock=stock))
    assert isinstance(plan, kw.Plan)
    assert {board.board: board.sheets for board in plan.boards} == job["least"]
    assert all(board.proved_least for board in plan.boards)
    audited = kw.audit_plan(plan)
    written = tmp_path / "plan.json"
    written.write_text(kw.plan_to_json(audited.plan), encoding="utf-8")
    assert kw.verify_plan(written).plan == plan
