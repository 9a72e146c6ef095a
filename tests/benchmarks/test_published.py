"""The recursion against published optima; the data are not part of the project.

Set KERFWRIGHT_BENCHMARKS to a folder that holds ``knapsack/gcut/gcut.json`` and
``knapsack/known_values.csv``. The instances are Beasley's (1985), Algorithms for unconstrained
two-dimensional guillotine cutting; the optima those of Cintra, Miyazawa, Wakabayashi and Xavier
(2008), Algorithms for two-dimensional cutting stock and strip packing problems using dynamic
programming and column generation.
"""

from __future__ import annotations

import csv
import json
import os
from pathlib import Path

from kerfwright.packer.grids import build_grid
from kerfwright.packer.recursion import best_values
from kerfwright.problem.instance import Instance, PieceType, SourceType


def test_gcut_optima(capsys: object) -> None:
    """The recursion gives every published gcut optimum exactly, oriented and turned."""
    named = os.environ.get("KERFWRIGHT_BENCHMARKS")
    if named is None:
        with capsys.disabled():  # type: ignore[attr-defined]
            print("\nKERFWRIGHT_BENCHMARKS is not set: the gcut optima were not compared.")
        return
    folder = Path(named) / "knapsack"
    with (folder / "known_values.csv").open(encoding="utf-8", newline="") as file:
        known = {
            (row["id"], row["orientation"]): int(row["published_value"])
            for row in csv.DictReader(file)
            if row["set_folder"] == "gcut"
            and row["quantities"] == "unlimited"
            and row["published_value"]
        }
    data = json.loads((folder / "gcut" / "gcut.json").read_text(encoding="utf-8"))
    found = {
        (entry["id"], orientation): _best(entry, turn=orientation == "rotatable")
        for entry in data["instances"]
        for orientation in ("oriented", "rotatable")
    }
    assert len(found) == 26
    assert found == known


def _best(entry: dict[str, list[list[int]]], *, turn: bool) -> int:
    width, height = entry["sheets"][0][:2]
    pieces = tuple(PieceType(item[0], item[1], 1, turn) for item in entry["items"])
    instance = Instance(pieces, (SourceType(width, height, width * height, None),))
    grid = build_grid(instance, limited=False)
    values = [item[3] or item[0] * item[1] for item in entry["items"]]
    return int(best_values(grid, values)[grid.cell(width, height)])
