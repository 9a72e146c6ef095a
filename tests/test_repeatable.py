"""The same order gives the same bytes, on one core as on all."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ORDER = """
name = "Two rooms"
[[board]]
name = "white"
sheets = [ { size = "32 x 40" } ]
[[mat]]
label = "A"
qty = 7
size = "11 x 14"
board = "white"
[[mat]]
label = "B"
qty = 5
size = "12 1/4 x 15 3/8"
board = "white"
[[mat]]
label = "C"
qty = 6
size = "7 1/2 x 9"
board = "white"
"""
PLAN = """
import os, sys
if sys.argv[3] == "one" and hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
from kerfwright.cli.main import run
sys.exit(run(["plan", sys.argv[1], "--out", sys.argv[2]]))
"""


def planned(order: Path, out: Path, cores: str, seed: str) -> bytes:
    """Return plan.json as a process of its own writes it."""
    subprocess.run(
        [sys.executable, "-c", PLAN, str(order), str(out), cores],
        check=True,
        capture_output=True,
        env={**os.environ, "PYTHONHASHSEED": seed},
    )
    return (out / "plan.json").read_bytes()


def test_the_same_order_gives_the_same_bytes_on_one_core_and_on_all(tmp_path: Path) -> None:
    """Neither the number of cores nor the hashing of strings changes a plan."""
    order = tmp_path / "order.toml"
    order.write_text(ORDER, encoding="utf-8")
    one = planned(order, tmp_path / "one", "one", "1")
    assert planned(order, tmp_path / "all", "all", "2") == one
