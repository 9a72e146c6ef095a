"""The benchmark: ``python tests/benchmarks/run.py --help``.

Runs whole sets or the first instances of each, one process an instance, keeps the results in a
file, prints tables, and writes the page from every result kept so far. What a page was made of is
kept beside it, so that one set can be run again, anywhere, and the others stand.
"""

from __future__ import annotations

import argparse
import os
import sys
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import measuring
import naive
from cases import SETS
from page import each, instances_page, page, summary
from results import Results

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cases import BenchmarkSet, Case
    from results import Record

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / ".benchmarks" / "results.jsonl"


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
        _write(asked.write, results, asked.also)
    return 0


def _write(where: Path, results: Results, others: Sequence[Path]) -> None:
    """Write the two pages, and beside them all results that they were made of.

    Of each instance the latest result counts: of this file, of others, or of what the page was made
    of before.
    """
    made_of = where.with_suffix(".jsonl")
    for path in (*others, made_of):
        results.fill_in(Results(path))
    singly = where.with_name(f"{where.stem}-instances.md")
    results.save_as(made_of)
    where.write_text(page(results, singly.name, made_of.name), encoding="utf-8")
    singly.write_text(instances_page(results, where.name), encoding="utf-8")
    print(f"{where}, {singly} and {made_of} written")


def _parser() -> argparse.ArgumentParser:
    folder = os.environ.get("KERFWRIGHT_BENCHMARKS")
    parser = argparse.ArgumentParser(description="Measure the packer, set by set.")
    parser.add_argument("sets", nargs="*", help="names of sets or groups; none: only the page")
    parser.add_argument("--list", action="store_true", help="name the sets and groups")
    parser.add_argument("--first", type=int, help="only so many instances of each set")
    parser.add_argument("--every", type=int, default=1, help="only every so manieth instance")
    parser.add_argument("--only", help="only instances whose name holds this text")
    parser.add_argument("--seconds", type=float, help="stop each instance after so much CPU time")
    parser.add_argument(
        "--missing",
        nargs="?",
        const="same",
        choices=("same", "proved", "any"),
        help="leave out what is kept already from this very packer, what is settled already by "
        "any, or whatever is kept; so a run that was broken off goes on",
    )
    parser.add_argument(
        "--naive",
        default="with",
        choices=("with", "without", "only"),
        help="run the naive reference too, or not, or nothing else; it needs the extra 'bench'",
    )
    parser.add_argument("--each", action="store_true", help="print every instance")
    parser.add_argument(
        "--benchmarks",
        type=Path,
        default=None if folder is None else Path(folder),
        help="the published sets; or set KERFWRIGHT_BENCHMARKS",
    )
    parser.add_argument("--results", type=Path, default=KEPT, help="where results are kept")
    parser.add_argument(
        "--also",
        type=Path,
        nargs="+",
        default=[],
        help="other files of results; of each instance the page has the latest, of these, of the "
        "first, or of what it was made of last",
    )
    parser.add_argument(
        "--write",
        type=Path,
        help="write the page from all results kept, and keep those it was made of beside it",
    )
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
    if asked.naive != "only":
        _run_ours(one, cases, asked, results)
    if asked.naive != "without":
        _run_naive(one, cases, results)
    records = [record for record in results.of(one.name) if record["id"] in {c.id for c in cases}]
    if asked.each:
        print(each(records))
    if records:
        print(summary(one, records), flush=True)


def _run_ours(
    one: BenchmarkSet, cases: list[Case], asked: argparse.Namespace, results: Results
) -> None:
    seconds = one.seconds if asked.seconds is None else asked.seconds
    kept = results.records.get(one.name, {})
    todo = [case for case in cases if not _is_kept(case, kept, asked.missing, seconds)]
    for number, record in enumerate(measuring.measure_all(todo, seconds)):
        results.add(record)
        _tell(f"{one.name} {number + 1}/{len(todo)}")


def _is_kept(
    case: Case, kept: dict[str, Record], missing: str | None, seconds: float | None
) -> bool:
    if missing is None or case.id not in kept:
        return False
    record = kept[case.id]
    same = (record.get("version"), record["seconds"]) == (measuring.version(), seconds)
    settled = missing == "proved" and "ours" in record and record["ours"] == record["bound"]
    return same or settled or missing == "any"


def _run_naive(one: BenchmarkSet, cases: list[Case], results: Results) -> None:
    todo = [case for case in cases if case.task == "plan"]
    if not todo:
        return
    if not naive.installed():
        print("naive reference: left out, rectpack is not installed (pip install '.[bench]')")
        return
    kept = results.naive.get(one.name, {})
    for number, case in enumerate(todo):
        # It never changes with the packer, so that it need not be run again.
        if kept.get(case.id, {}).get("version") != measuring.naive_version():
            results.add_naive(one.name, case.id, measuring.measure_naive(case))
            _tell(f"{one.name}, naive {number + 1}/{len(todo)}")


def _tell(where: str) -> None:
    if sys.stderr.isatty():
        print(f"\r{where}", end="", file=sys.stderr)


if __name__ == "__main__":
    sys.exit(main())
