"""Measure one case in a process of its own: ``python worker.py`` reads it as JSON from stdin.

Time is counted from after the imports. Whatever the packer says is recounted here, by a reading
of its layouts that shares nothing with the packer.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from fractions import Fraction
from typing import TYPE_CHECKING, Any

# The packer loads CP-SAT only when it first needs it; imports do not count, so it is loaded here.
import ortools.sat.python.cp_model  # noqa: F401

from kerfwright.packer.anew import best_sheet
from kerfwright.packer.finegrid import best_on_fine_grid
from kerfwright.packer.grids import build_grid
from kerfwright.packer.layouts import Place, Split
from kerfwright.packer.positions import normal_patterns
from kerfwright.packer.recombine import recombined
from kerfwright.packer.recursion import best_values, trace
from kerfwright.packer.running import SPLITS_A_SECOND, Budget
from kerfwright.packer.solve import Packed, effort, pack
from kerfwright.problem.instance import Instance, PieceType, SourceType

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kerfwright.packer.grids import Grid
    from kerfwright.packer.layouts import Tree

__all__ = ["as_instance", "measured", "recounted", "room"]

KIBIBYTES_A_MEBIBYTE = 1024
CLOCKED = 10
# Sizes of parts that a table of the recursion may have: 160 MB of them.
MOST_PARTS = 40_000_000
# Pairs of parts that are joined where there are more.
FINE_WORK = 3e9
# Where that does not settle it, what goes into laying parts of the sheet anew.
RECOMBINED_WORK = 1.6e11


def as_instance(data: dict[str, Any]) -> Instance:
    """Return the instance that `dataclasses.asdict` was made of."""
    pieces = tuple(PieceType(**piece) for piece in data["pieces"])
    sources = tuple(SourceType(**source) for source in data["sources"])
    return Instance(**{**data, "pieces": pieces, "sources": sources, "keep": (*data["keep"],)})


def measured(case: dict[str, Any]) -> dict[str, Any]:
    """Return what the packer makes of a case, and what it took."""
    instance = as_instance(case["instance"])
    tasks: dict[str, Callable[..., dict[str, Any]]] = {"plan": _plan, "best": _best}
    began, began_wall = time.process_time(), time.perf_counter()
    limit = case["limit"]
    found = tasks[case["task"]](case, instance, lambda: _over(began, limit))
    found |= {
        "cpu": round(time.process_time() - began, 4),
        "wall": round(time.perf_counter() - began_wall, 4),
    }
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return found | {"peak_mib": round(used / KIBIBYTES_A_MEBIBYTE)}


def _over(began: float, limit: float | None) -> bool:
    return limit is not None and time.process_time() - began > limit


def _plan(case: dict[str, Any], instance: Instance, stop: Callable[[], bool]) -> dict[str, Any]:
    # Where the clock is the limit, work that is counted is not to be one before it.
    seconds = effort(instance) if case["limit"] is None else CLOCKED * case["limit"]
    packed = pack(instance, Budget(seconds, stop))
    if not isinstance(packed, Packed):
        return {"outcome": "stuck"}
    if any(packed.short):
        return {"outcome": "short", "surely": packed.surely_short}
    cost, sheets = recounted(instance, packed)
    if cost != packed.cost or packed.lower > packed.cost:
        raise AssertionError(f"the packer says {packed.lower} to {packed.cost}, not {cost}")
    return {
        "outcome": "plan",
        "ours": cost,
        "bound": packed.lower,
        "sheets": sheets,
        "exhausted": packed.by_exhaustion,
        "stopped": packed.stopped,
    }


def _best(case: dict[str, Any], instance: Instance, _: Callable[[], bool]) -> dict[str, Any]:
    """Return the best single sheet, copies unlimited; its tree is recounted.

    Where there are too many part sizes to hold, only those that may serve a better layout are
    looked at; if they are still too many, the result is a good sheet and a bound.
    """
    values = case["values"]
    if _parts(instance) > MOST_PARTS:
        return _best_on_fine_grid(values, instance)
    if any(most is not None for most in case["limits"]):
        return _best_within(case, instance)
    grid = build_grid(instance, limited=False)
    ours, bound = _found(values, instance, grid)
    return {"outcome": "best", "ours": ours, "bound": bound}


def _best_on_fine_grid(values: Sequence[int], instance: Instance) -> dict[str, Any]:
    """Return the best single sheet without a table of all part sizes; its tree is recounted."""
    found = best_on_fine_grid(instance, values, FINE_WORK)
    ours = _recounted_sheet(values, instance, found.root)
    assert ours == found.value
    if not found.proved:
        tree = recombined(instance, values, found.root, RECOMBINED_WORK)
        ours = _recounted_sheet(values, instance, tree)
    bound = min(found.upper, _by_area(values, instance))
    return {"outcome": "best", "ours": ours, "bound": bound}


def _recounted_sheet(values: Sequence[int], instance: Instance, tree: Tree) -> int:
    """Return what a tree of cuts is worth, once it is seen to fit the sheet."""
    source = instance.sources[0]
    wide, high = room(tree, instance)
    assert wide <= source.width + instance.kerf
    assert high <= source.height + instance.kerf
    return sum(values[piece] * number for piece, number in _yield(tree).items())


def _found(values: Sequence[int], instance: Instance, grid: Grid) -> tuple[int, int]:
    """Return what the recursion's layout is worth, recounted, and what the recursion says."""
    source = instance.sources[0]
    table = best_values(grid, values)
    row, column = grid.root(source, instance)
    tree = trace(grid, values, table, row, column)
    return _recounted_sheet(values, instance, tree), int(table[row, column])


def _parts(instance: Instance) -> int:
    """Return how many sizes of parts there are before any reduction."""
    source, sides = instance.sources[0], [piece.orientations() for piece in instance.pieces]
    wide = normal_patterns([w + instance.kerf for way in sides for w, _ in way], source.width)
    high = normal_patterns([h + instance.kerf for way in sides for _, h in way], source.height)
    return len(wide) * len(high)


def _by_area(values: Sequence[int], instance: Instance) -> int:
    """Return the worth of a sheet full of the piece that is worth most for its area."""
    source = instance.sources[0]
    pairs = zip(values, instance.pieces, strict=True)
    densest = max(Fraction(value, piece.width * piece.height) for value, piece in pairs)
    return int(densest * source.width * source.height)


def _best_within(case: dict[str, Any], instance: Instance) -> dict[str, Any]:
    """Return the best single sheet within limited copies; its tree is recounted."""
    values, source = case["values"], instance.sources[0]
    limits = [
        (source.width * source.height) // (piece.width * piece.height) if most is None else most
        for most, piece in zip(case["limits"], instance.pieces, strict=True)
    ]
    found = best_sheet(instance, values, limits, case["seconds"] * SPLITS_A_SECOND)
    wide, high = room(found.root, instance)
    assert wide <= source.width
    assert high <= source.height
    cut = _yield(found.root)
    assert all(number <= limits[piece] for piece, number in cut.items())
    worth = sum(values[piece] * number for piece, number in cut.items())
    return {"outcome": "best", "ours": worth, "bound": found.upper}


def recounted(instance: Instance, packed: Packed) -> tuple[int, int]:
    """Return the cost and the number of sources of a plan, recounted.

    Raises
    ------
    AssertionError
        If a layout does not fit its source, a demand is not met or a stock is exceeded.
    """
    cut = [0] * len(instance.pieces)
    used = [0] * len(instance.sources)
    for layout, copies in packed.choice.copies.items():
        source = instance.sources[layout.source]
        wide, high = room(layout.root, instance)
        assert wide <= source.width + instance.kerf, layout
        assert high <= source.height + instance.kerf, layout
        used[layout.source] += copies
        for piece, number in _yield(layout.root).items():
            cut[piece] += number * copies
    for wanted, number in zip(instance.pieces, cut, strict=True):
        assert number >= wanted.demand, wanted
    for source, number in zip(instance.sources, used, strict=True):
        assert source.available is None or number <= source.available, source
    return sum(s.cost * n for s, n in zip(instance.sources, used, strict=True)), sum(used)


def room(tree: Tree, instance: Instance) -> tuple[int, int]:
    """Return the gross width and height that a tree of cuts needs, closed up."""
    if isinstance(tree, Place):
        piece = instance.pieces[tree.piece]
        assert piece.may_turn or not tree.turned, piece
        sides = (piece.height, piece.width) if tree.turned else (piece.width, piece.height)
        return sides[0] + instance.kerf, sides[1] + instance.kerf
    if not isinstance(tree, Split):
        return 0, 0
    one, two = room(tree.first, instance), room(tree.second, instance)
    if tree.axis == 0:
        return one[0] + two[0], max(one[1], two[1])
    return max(one[0], two[0]), one[1] + two[1]


def _yield(tree: Tree) -> dict[int, int]:
    """Return how many pieces of each type a tree of cuts gives."""
    counts: dict[int, int] = {}
    todo = [tree]
    while todo:
        node = todo.pop()
        if isinstance(node, Place):
            counts[node.piece] = counts.get(node.piece, 0) + 1
        elif isinstance(node, Split):
            todo += (node.first, node.second)
    return counts


if __name__ == "__main__":
    sys.setrecursionlimit(20_000)
    print(json.dumps(measured(json.load(sys.stdin))))
