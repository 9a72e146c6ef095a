"""Run cases one at a time, each in a process of its own, and the reference between them."""

from __future__ import annotations

import hashlib
import json
import os
import platform
import subprocess
import sys
from dataclasses import asdict
from datetime import UTC, datetime
from functools import cache
from importlib.metadata import version as version_of
from pathlib import Path
from typing import TYPE_CHECKING, Any

import kerfwright.packer
import kerfwright.problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cases import Case

__all__ = [
    "WORK_SECONDS",
    "machine",
    "measure",
    "measure_all",
    "measure_naive",
    "naive_version",
    "reference",
    "version",
]

HERE = Path(__file__).resolve().parent
# What a plan made with the command may spend on a board.
WORK_SECONDS = 24.0
# A case that does not end by itself is killed so long after it should have been stopped.
GRACE_SECONDS = 480
REFERENCE_EVERY = 10

# The same sums of the same numbers each time, as the packer's pricing makes them: what the
# machine needs for them, and how much that varies, is what times here can be held against.
REFERENCE = """
import time
import numpy as np
table = np.arange(512 * 512, dtype=np.int64).reshape(512, 512) * 7919 % 10007
def sums():
    began = time.process_time()
    for row in range(512):
        (table[row] + table[::-1]).max(axis=0)
    return time.process_time() - began
sums()
print(sums())
"""
IMPORTS = """
import time
began = time.process_time()
import ortools.sat.python.cp_model
import matplotlib.figure
print(time.process_time() - began)
"""


def reference() -> dict[str, float]:
    """Return the CPU seconds of the fixed sums, and of importing what a plan needs anyway."""
    return {"sums": _timed(REFERENCE), "imports": _timed(IMPORTS)}


def machine() -> str:
    """Return what the times were measured on."""
    return f"{os.cpu_count()} cores, Python {platform.python_version()}"


@cache
def version() -> str:
    """Return a mark of the code that answers: equal marks, equal answers."""
    mark = hashlib.sha256()
    for package in (kerfwright.problem, kerfwright.packer):
        for path in sorted(Path(*package.__path__).glob("*.py")):
            mark.update(path.read_bytes())
    mark.update((HERE / "worker.py").read_bytes())
    return mark.hexdigest()[:12]


@cache
def naive_version() -> str:
    """Return a mark of the naive reference, its library's number in it."""
    mark = hashlib.sha256((HERE / "naive.py").read_bytes()).hexdigest()[:12]
    return f"{version_of('rectpack')} {mark}"


def _timed(program: str) -> float:
    ran = subprocess.run(
        [sys.executable, "-c", program], check=True, capture_output=True, text=True
    )
    return float(ran.stdout)


def measure(case: Case, seconds: float | None) -> dict[str, Any]:
    """Return the record of one case: what was found, what is known, and what it took.

    Parameters
    ----------
    seconds
        After so many seconds of CPU time the packer is asked to end; None to let it end by
        itself, after the work that a plan may spend.
    """
    given = WORK_SECONDS if seconds is None else seconds
    question = {
        "task": case.task,
        "instance": asdict(case.instance),
        "values": case.values,
        "limits": case.limits,
        "seconds": given,
        "limit": seconds,
    }
    record = {
        "set": case.set,
        "id": case.id,
        "seconds": seconds,
        "version": version(),
        "at": _now(),
        "unit": _unit(case),
        "published": case.known.published,
        "recalled": case.known.recalled,
        "computed": case.known.computed,
        "outside": case.known.bound,
    }
    return record | _answer("worker.py", question, GRACE_SECONDS + 10 * given)


def measure_naive(case: Case) -> dict[str, Any]:
    """Return what the naive reference makes of a case, in a process of its own."""
    answer = _answer("naive.py", asdict(case.instance), GRACE_SECONDS)
    return {"version": naive_version(), "at": _now()} | answer


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _unit(case: Case) -> int:
    """Return what a cost is divided by to be told: a sheet's cost where all are the same."""
    sources = case.instance.sources
    return sources[0].cost if case.task == "plan" and len(sources) == 1 else 1


def _answer(worker: str, question: dict[str, Any], patience: float) -> dict[str, Any]:
    try:
        ran = subprocess.run(
            [sys.executable, str(HERE / worker)],
            check=False,
            capture_output=True,
            text=True,
            input=json.dumps(question),
            timeout=patience,
        )
    except subprocess.TimeoutExpired:
        return {"outcome": "no end"}
    if ran.returncode != 0:
        print(ran.stderr, file=sys.stderr)
        return {"outcome": "failed"}
    answer: dict[str, Any] = json.loads(ran.stdout)
    return answer


def measure_all(cases: list[Case], seconds: float | None) -> Iterator[dict[str, Any]]:
    """Yield the record of each case, now and then with a measurement of the machine."""
    for number, case in enumerate(cases):
        took = (
            {"reference": {"machine": machine()} | reference()}
            if number % REFERENCE_EVERY == 0
            else {}
        )
        yield measure(case, seconds) | took
