"""Sheets are cut again from what their pages alone say, row by row, and come out as planned."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

import kerfwright as kw
from kerfwright.drawings.arrange import arrange
from kerfwright.drawings.cutlist import CutRow
from kerfwright.drawings.words import Measures

ROOT = Path(__file__).parent.parent
# A part is told as ``C 32 × 20 1/2``: its letter, its width and its height.
PART = re.compile(r"(?P<letter>[A-Z]{1,2}) (?P<width>[\d /]+) × (?P<height>[\d /]+)")
LEFT = re.compile(r"(?:offcut|slip sheet|scrap|trim) (?P<width>[\d /]+) × (?P<height>[\d /]+)")
Size = tuple[Fraction, Fraction]


def number(text: str) -> Fraction:
    """Return the number that ``20 1/2`` says."""
    return sum((Fraction(word) for word in text.split()), Fraction(0))


def rows(plan: kw.Plan, board: kw.BoardPlan, layout: kw.Layout) -> list[CutRow]:
    """Return the rows of a layout's page."""
    shown = arrange(layout, board, Measures(plan), landscape=False)
    return [item for column in shown.listed for item in column if isinstance(item, CutRow)]


def cut(size: Size, edge: str, setting: Fraction, kerf: Fraction) -> tuple[Size, Size]:
    """Return the half between the stop and the blade, and the half beyond it."""
    width, height = size
    if edge in ("left", "right"):
        return (setting, height), (width - setting - kerf, height)
    return (width, setting), (width, height - setting - kerf)


def cut_from_page(told: list[CutRow], sheet: Size, kerf: Fraction) -> Counter[str]:
    """Cut a sheet by the rows of its page, and return how often each finished thing comes.

    Each row names the part by its letter and size, the edge against the stop with its length,
    and the setting. What the row says of sizes must be what the cut gives.
    """
    bench: dict[str, Size] = {}
    finished: Counter[str] = Counter()
    for row in told:
        text = " ".join(row.detail).split(" measure ")[0].split(" No way back")[0]
        whole, made = text.split(" → ")
        part = PART.search(whole)
        assert part is not None
        size = (number(part["width"]), number(part["height"]))
        taken = bench.pop(part["letter"], sheet) if bench else sheet
        assert taken == size
        edge, along = row.edge.split(", ")
        assert number(along) == (size[1] if edge in ("left", "right") else size[0])
        against, beyond = cut(size, edge, number(row.setting), kerf)
        both = (against, beyond) if edge in ("left", "top") else (beyond, against)
        halves = [half for half in both if min(half) > 0]
        for name, half in zip(made.split(" + "), halves, strict=True):
            again, left = PART.fullmatch(name), LEFT.fullmatch(name)
            if again is not None:
                assert (number(again["width"]), number(again["height"])) == half
                bench[again["letter"]] = half
            elif left is not None:
                assert (number(left["width"]), number(left["height"])) == half
                finished["left"] += 1
            else:
                finished[f"{sorted(half)}"] += 1
    assert not bench
    return finished


@pytest.mark.parametrize(
    "job",
    ["01-harbour-prints-trimmed.toml", "05-linen-portraits.toml", "05-linen-portraits-turning.toml",
     "07-double-mats.toml", "08-oversize.toml", "10-two-processes.toml"],
)  # fmt: skip
def test_a_sheet_cut_by_its_page_gives_the_pieces_of_the_plan(job: str) -> None:
    """Every row can be followed, says the true sizes, and the pieces come out as planned."""
    plan = kw.make_plan(kw.load_order(ROOT / "sample_jobs" / job))
    assert isinstance(plan, kw.Plan)

    def length(steps: int) -> Fraction:
        return (plan.step * steps).in_unit(plan.unit)

    for board in plan.boards:
        for layout in board.layouts:
            told = rows(plan, board, layout)
            assert len(told) == len(layout.cuts)
            sheet = (length(layout.source.width), length(layout.source.height))
            found = cut_from_page(told, sheet, length(board.tool.kerf))
            sizes = Counter(
                f"{sorted((length(piece.width), length(piece.height)))}" for piece in layout.pieces
            )
            assert found == sizes + Counter({"left": len(layout.leftovers)})
