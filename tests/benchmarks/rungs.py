"""What the second rung gains: ``python tests/benchmarks/rungs.py [--write docs/rungs.md]``.

Twenty boards of our own kinds, each planned twice: for the least cost alone, and then for what
remains at that cost. Worths are those of plan.json: twentieths of a commonest sheet, to the power
1.5.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from generator import KINDS, boards

from kerfwright.packer.remains import TWENTIETHS, Remains
from kerfwright.packer.running import Budget
from kerfwright.packer.solve import Packed, effort, pack

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.problem.instance import Instance

JOBS = 10
KINDS_SHOWN = ("home", "bench")
# 8 x 10 in, or 20 x 25 cm, in the boards' own steps.
KEEP_SIXTEENTHS, KEEP_MM = (128, 160), (200, 250)
SIDES_IN = {512, 640, 768}


def main() -> int:
    """Print the table, or write the page."""
    parser = argparse.ArgumentParser(description="Measure what the second rung gains.")
    parser.add_argument("--write", type=Path, help="write the page there")
    asked = parser.parse_args()
    text = page()
    if asked.write is None:
        print(text)
    else:
        asked.write.write_text(text, encoding="utf-8")
    return 0


def page() -> str:
    """Return the page: one line a board, and the sum."""
    rows = [row for kind in KINDS if kind.name in KINDS_SHOWN for row in _rows(kind.name)]
    lines = [
        "# What the second rung gains",
        "",
        "Made by `python tests/benchmarks/rungs.py --write docs/rungs.md`: twenty boards of our",
        "own kinds, each planned for the fewest sheets alone, then for what remains too. Worths",
        "are twentieths of a sheet, to the power 1.5, of all that is left and holds the keep size;",
        "the last column is what no plan of as many sheets can pass.",
        "",
        "| board | sheets | worth, fewest sheets alone | worth, both rungs | at most |",
        "|---|---|---|---|---|",
    ]
    lines += [f"| {' | '.join(str(cell) for cell in row)} |" for row in rows]
    before, after = sum(int(row[2]) for row in rows), sum(int(row[3]) for row in rows)
    better = sum(int(row[3]) > int(row[2]) for row in rows)
    lines += ["", f"In all {before} before and {after} after; more on {better} of {len(rows)}.", ""]
    return "\n".join(lines)


def _rows(kind: str) -> Iterator[tuple[str | int, ...]]:
    chosen = next(one for one in KINDS if one.name == kind)
    for board in boards(chosen, JOBS)[:JOBS]:
        instance = _with_keep(board.instance)
        first = _packed(instance, rungs=1)
        second = _packed(instance, rungs=2)
        if first.cost != second.cost:
            raise AssertionError(f"{board.id}: the second rung changed the cost")
        remains = Remains(instance)
        alone = Remains(instance, tidy=False)
        yield (
            board.id,
            first.cost // instance.sources[0].cost,
            int(TWENTIETHS * alone.total(first.choice)),
            int(TWENTIETHS * remains.total(second.choice)),
            int(TWENTIETHS * remains.most(first.cost)),
        )


def _packed(instance: Instance, *, rungs: int) -> Packed:
    packed = pack(instance, Budget(effort(instance)), rungs=rungs)
    if not isinstance(packed, Packed):
        raise TypeError("a board of our own kinds has a plan")
    return packed


def _with_keep(instance: Instance) -> Instance:
    inches = instance.sources[0].width in SIDES_IN
    return replace(instance, keep=KEEP_SIXTEENTHS if inches else KEEP_MM)


if __name__ == "__main__":
    sys.exit(main())
