"""The benchmark: ``python tests/benchmarks/run.py --help``.

Runs whole sets or the first instances of each, one process an instance, keeps the results in a
JSON file, prints tables, and writes the page from every result kept so far.
"""

from __future__ import annotations

import argparse
import os
import sys
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import measuring
from cases import SETS
from page import each, page, summary
from results import Results

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cases import BenchmarkSet

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / ".benchmarks" / "results.json"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the benchmark; return the exit status."""
    asked = _parser().parse_args(arguments)
    names = [one.name for one in SETS]
    if asked.list:
        print("\n".join(f"{one.name:24} {one.group:8} {one.source}" for one in SETS))
        return 0
    wanted = _wanted(asked.sets)
    if wanted is None:
        print(f"There is no such set. The sets are: {', '.join(names)}.", file=sys.stderr)
        return 2
    results = Results(asked.results)
    for one in wanted:
        if one.needs_data and asked.benchmarks is None:
            print(f"{one.name}: left out, name the folder with --benchmarks")
            continue
        _run(one, asked, results)
    if asked.write is not None:
        asked.write.write_text(page(results), encoding="utf-8")
        print(f"{asked.write} written")
    return 0


def _parser() -> argparse.ArgumentParser:
    folder = os.environ.get("KERFWRIGHT_BENCHMARKS")
    parser = argparse.ArgumentParser(description="Measure the packer, set by set.")
    parser.add_argument("sets", nargs="*", help="names of sets or groups; none: only the page")
    parser.add_argument("--list", action="store_true", help="name the sets and groups")
    parser.add_argument("--first", type=int, help="only so many instances of each set")
    parser.add_argument("--every", type=int, default=1, help="only every so manieth instance")
    parser.add_argument("--only", help="only instances whose name holds this text")
    parser.add_argument("--seconds", type=float, help="stop each instance after so much CPU time")
    parser.add_argument("--each", action="store_true", help="print every instance")
    parser.add_argument(
        "--benchmarks",
        type=Path,
        default=None if folder is None else Path(folder),
        help="the published sets; or set KERFWRIGHT_BENCHMARKS",
    )
    parser.add_argument("--results", type=Path, default=KEPT, help="where results are kept")
    parser.add_argument("--write", type=Path, help="write the page from all results kept")
    return parser


def _wanted(names: Sequence[str]) -> list[BenchmarkSet] | None:
    found: list[BenchmarkSet] = []
    for name in names:
        these = [one for one in SETS if name in (one.name, one.group)]
        if not these:
            return None
        found += [one for one in these if one not in found]
    return found


def _run(one: BenchmarkSet, asked: argparse.Namespace, results: Results) -> None:
    chosen = (case for case in one.load(asked.benchmarks) if (asked.only or "") in case.id)
    cases = [*islice(chosen, 0, None if asked.first is None else asked.first * asked.every)]
    cases = cases[:: asked.every]
    seconds = one.seconds if asked.seconds is None else asked.seconds
    results.begin(one.name, measuring.machine(), (case.id for case in cases))
    records = []
    for record, took in measuring.measure_all(cases, seconds):
        results.add(record, took)
        records.append(record)
        if sys.stderr.isatty():
            print(f"\r{one.name} {len(records)}/{len(cases)}", end="", file=sys.stderr)
    if asked.each:
        print(each(records))
    print(summary(one, records), flush=True)


if __name__ == "__main__":
    sys.exit(main())
