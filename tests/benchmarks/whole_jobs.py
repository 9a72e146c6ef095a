"""Whole jobs from the shell: ``python tests/benchmarks/whole_jobs.py``, or with ``--write FILE``.

Home jobs of our own generator, written as orders, are planned by the command in a process of its
own, files and all; between them a bare interpreter imports ortools and matplotlib. CPU time of the
processes, the median of several runs each, taken in turn.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from generator import KINDS, boards
from written import printed_or_written

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kerfwright.problem.instance import Instance

JOBS, RUNS, MOST_RATIO = 12, 5, 1.5
SIXTEENTHS = 16
# The sheets of the generator that are told in millimetres.
WIDTHS_MM = {815, 1000}
IMPORTS = "import ortools.sat.python.cp_model, matplotlib.figure"


def page() -> str:
    """Return the page: one line a job."""
    kind = next(one for one in KINDS if one.name == "home")
    with tempfile.TemporaryDirectory() as folder:
        orders = {}
        for board in boards(kind, JOBS):
            orders[board.id] = Path(folder) / f"{board.id}.toml"
            orders[board.id].write_text(order(board.instance), encoding="utf-8")
        imports, times = _measured(orders, Path(folder))
    least = statistics.median(imports)
    ratios = {job: statistics.median(found) / least for job, found in times.items()}
    within = sum(ratio <= MOST_RATIO for ratio in ratios.values())
    lines = [
        "# Whole home jobs from the shell",
        "",
        "Made by `python tests/benchmarks/whole_jobs.py --write docs/whole-jobs.md`: `kerfwright",
        f"plan` on {JOBS} home jobs of [our own kind](benchmarks.md#jobs-of-our-own), one board",
        "each, with all files that it writes, beside a bare interpreter that imports ortools and",
        f"matplotlib. CPU seconds of the process, the median of {RUNS}; the target is at most",
        f"{MOST_RATIO} times the imports.",
        "",
        f"Imports: {min(imports):.2f} / {least:.2f} / {max(imports):.2f} (least, median, most).",
        "",
        "| job | whole job | times the imports |",
        "|---|---|---|",
    ]
    lines += [
        f"| {job} | {statistics.median(times[job]):.2f} | {ratio:.2f} |"
        for job, ratio in ratios.items()
    ]
    lines += [
        "",
        f"Median {statistics.median(ratios.values()):.2f}, most {max(ratios.values()):.2f}; "
        f"{within} of {len(ratios)} within the target.",
        "",
    ]
    return "\n".join(lines)


def order(instance: Instance) -> str:
    """Return a board of the generator as an order file: backers of one board."""
    sheet = instance.sources[0]
    metric = sheet.width in WIDTHS_MM

    def length(steps: int) -> str:
        return str(steps) if metric else _inches(steps)

    lines = [
        f'unit = "{"mm" if metric else "in"}"',
        f'[[tool]]\nname = "tool"\nkerf = "{length(instance.kerf)}"',
        '[[board]]\nname = "board"\ntool = "tool"',
        f'sheets = [{{ size = "{length(sheet.width)} x {length(sheet.height)}" }}]',
    ]
    for number, piece in enumerate(instance.pieces, 1):
        lines.append(
            f'[[backer]]\nlabel = "P{number}"\nqty = {piece.demand}\nboard = "board"\n'
            f'size = "{length(piece.width)} x {length(piece.height)}"'
        )
        if not piece.may_turn:
            lines.append("turn = false")
    return "\n".join(lines) + "\n"


def _inches(steps: int) -> str:
    whole, rest = divmod(steps, SIXTEENTHS)
    return " ".join([str(whole)] * bool(whole or not rest) + [f"{rest}/{SIXTEENTHS}"] * bool(rest))


def _measured(orders: dict[str, Path], folder: Path) -> tuple[list[float], dict[str, list[float]]]:
    """Return what each run of the imports, and of each job, took."""
    command = [sys.executable, "-m", "kerfwright.cli", "plan"]
    imports: list[float] = []
    times: dict[str, list[float]] = {job: [] for job in orders}
    for run in range(RUNS):
        imports.append(_seconds([sys.executable, "-c", IMPORTS], folder))
        for job, path in orders.items():
            out = folder / f"{job}-{run}"
            times[job].append(_seconds([*command, str(path), "--out", str(out)], folder))
    return imports, times


def _seconds(command: Sequence[str], home: Path) -> float:
    """Return the CPU time of a command, which must end well; it finds no ledger."""
    before = _of_children()
    subprocess.run(
        command,
        check=True,
        stdout=subprocess.DEVNULL,
        env={"PATH": os.environ["PATH"], "HOME": str(home)},
    )
    return _of_children() - before


def _of_children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    sys.exit(printed_or_written(page, "Time whole home jobs from the shell."))
