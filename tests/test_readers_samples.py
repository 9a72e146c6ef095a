"""The sample jobs as files: each reads, and is what its table says."""

from __future__ import annotations

import math
import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from kerfwright import load_order
from kerfwright.lengths import Size
from kerfwright.order import Order, job_step

SAMPLES = Path(__file__).parents[1] / "sample_jobs"
TABLE = Path(__file__).parent / "data" / "sample_jobs.toml"
JOBS: list[dict[str, Any]] = tomllib.loads(TABLE.read_text(encoding="utf-8"))["job"]


def read(job: dict[str, Any]) -> Order:
    """Return the order of one line of the table."""
    stock = SAMPLES / job["stock"] if "stock" in job else None
    return load_order(SAMPLES / job["file"], stock=stock)


def area(size: Size) -> Fraction:
    """Return square millimetres."""
    return size.width.mm * size.height.mm


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job["file"])
def test_a_sample_job_orders_what_its_table_says(job: dict[str, Any]) -> None:
    """As many lines and blanks as stated, on the boards whose least sheets are stated."""
    order = read(job)
    assert len(order.pieces) == job["lines"]
    assert sum(piece.qty for piece in order.pieces) == job["pieces"]
    assert [board.name for board in order.boards] == list(job["least"])
    assert all(board.sheets_assumed for board in order.boards) == (
        job["file"][:2] in {"02", "03", "04"}
    )


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job["file"])
def test_the_least_number_of_sheets_is_not_below_the_area(job: dict[str, Any]) -> None:
    """Pieces over sheets by area, rounded up, is a bound that no hand-worked number may miss."""
    order = read(job)
    for board in order.boards:
        ordered = sum(
            piece.qty * area(piece.size) for piece in order.pieces if piece.board == board.name
        )
        assert job["least"][board.name] >= math.ceil(ordered / area(board.sheets[0].size))


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job["file"])
def test_a_sample_job_lies_on_a_coarse_grid(job: dict[str, Any]) -> None:
    """Sample sizes are marks of a bench rule: 1/16 in or 1 mm, or multiples of these."""
    step = job_step(read(job)).mm
    marks = (Fraction(254, 160), Fraction(1))
    assert any((step / mark).denominator == 1 for mark in marks)


def test_every_file_is_in_the_table_and_in_the_readme() -> None:
    """No sample goes unplanned by the tests or unexplained to people."""
    # Folders are what somebody planned here.
    files = {path.name for path in SAMPLES.iterdir() if path.is_file()} - {"README.md"}
    assert files == {job[key] for job in JOBS for key in ("file", "stock") if key in job}
    readme = (SAMPLES / "README.md").read_text(encoding="utf-8")
    assert [name for name in files if f"`{name}`" not in readme] == []


def test_all_three_formats_are_among_the_samples() -> None:
    """TOML, CSV and a workbook; one CSV with semicolons and a stock file."""
    assert {Path(job["file"]).suffix for job in JOBS} == {".toml", ".csv", ".xlsx"}
    (gallery,) = (job for job in JOBS if "stock" in job)
    first_line = (SAMPLES / gallery["file"]).read_text(encoding="utf-8").splitlines()[0]
    assert ";" in first_line
