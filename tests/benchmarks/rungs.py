"""What rungs two and three gain: ``python tests/benchmarks/rungs.py [--write docs/rungs.md]``.

Twenty boards of our own kinds, each planned twice: for the least cost alone, and then for what
remains at that cost and for fewer layouts at that worth. Worths are those of plan.json: twentieths
of a commonest sheet, to the power 1.5.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from generator import KINDS, boards
from written import printed_or_written

from kerfwright.packer.remains import TWENTIETHS, Remains
from kerfwright.packer.running import Budget
from kerfwright.packer.solve import Packed, effort, pack
from kerfwright.packer.tidy import settings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.problem.instance import Instance

JOBS = 10
KINDS_SHOWN = ("home", "bench")
# 8 x 10 in, or 20 x 25 cm, in the boards' own steps.
KEEP_SIXTEENTHS, KEEP_MM = (128, 160), (200, 250)
SIDES_IN = {512, 640, 768}


def page() -> str:
    """Return the page: one line a board, and the sum."""
    rows = [row for kind in KINDS if kind.name in KINDS_SHOWN for row in _rows(kind.name)]
    lines = [
        "# What rungs two and three gain",
        "",
        "Made by `python tests/benchmarks/rungs.py --write docs/rungs.md`: twenty boards of our",
        "own kinds, each planned for the fewest sheets alone, then for what remains and for ease",
        "at the bench too, at as many sheets. Worths are twentieths of a sheet, to the power 1.5,",
        "of all that is left and holds the keep size; *at most* is what no plan of as many sheets",
        "can pass. *Sizes* are the different sizes at which parts are cut off, layout by layout:",
        "what the stop has to be set to, before the order of cuts lets layouts share settings.",
        "",
        "| board | sheets | worth, rung one | worth, all rungs | at most "
        "| layouts, rung one | layouts, all | sizes, rung one | sizes, all |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    lines += [f"| {' | '.join(str(cell) for cell in row)} |" for row in rows]
    sums = [sum(int(row[column]) for row in rows) for column in range(2, len(rows[0]))]
    better = sum(int(row[3]) > int(row[2]) for row in rows)
    fewer = sum(int(row[6]) < int(row[5]) for row in rows)
    plainer = sum(int(row[8]) < int(row[7]) for row in rows)
    lines += [
        "",
        f"In all worth {sums[0]} before and {sums[1]} after, more on {better} of {len(rows)}; "
        f"{sums[3]} layouts before and {sums[4]} after, fewer on {fewer}; "
        f"{sums[5]} sizes before and {sums[6]} after, fewer on {plainer}.",
        "",
    ]
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
            len(first.choice.copies),
            len(second.choice.copies),
            _sizes(instance, first),
            _sizes(instance, second),
        )


def _sizes(instance: Instance, packed: Packed) -> int:
    return sum(settings(instance, layout) for layout in packed.choice.copies)


def _packed(instance: Instance, *, rungs: int) -> Packed:
    packed = pack(instance, Budget(effort(instance)), rungs=rungs)
    if not isinstance(packed, Packed):
        raise TypeError("a board of our own kinds has a plan")
    return packed


def _with_keep(instance: Instance) -> Instance:
    inches = instance.sources[0].width in SIDES_IN
    return replace(instance, keep=KEEP_SIXTEENTHS if inches else KEEP_MM)


if __name__ == "__main__":
    sys.exit(printed_or_written(page, "Measure what rungs two and three gain."))
