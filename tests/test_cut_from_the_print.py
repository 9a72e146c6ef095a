"""Three layouts are cut again from what their printed pages alone say, and come out as planned."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest
from page_reader import cut, rows
from pdf_reader import Pdf

import kerfwright as kw
from kerfwright.drawings import draw_pdf

ROOT = Path(__file__).parent.parent

SAWN = """\
name = "Sawn backs"
[[tool]]
name = "table saw"
kerf = "1/8"
reach = 30
[[board]]
name = "hardboard"
tool = "table saw"
trim = "1/4"
sheets = [{ size = "48 x 96" }]
[[backer]]
label = "K"
qty = 7
size = "15 7/8 x 19 7/8"
board = "hardboard"
[[backer]]
label = "M"
qty = 2
size = "24 x 36"
board = "hardboard"
[[backer]]
label = "N"
qty = 3
size = "8 x 10"
board = "hardboard"
"""


def metric(_: Path) -> kw.Order:
    """Return the sample job of a gallery, in centimetres, with what is on its rack."""
    jobs = ROOT / "sample_jobs"
    return kw.load_order(jobs / "06-town-gallery.csv", stock=jobs / "06-town-gallery-rack.toml")


def sawn(folder: Path) -> kw.Order:
    """Return backs for a saw with a kerf, a short reach, and an edge to trim off."""
    path = folder / "sawn.toml"
    path.write_text(SAWN, encoding="utf-8")
    return kw.load_order(path)


def sixty(folder: Path) -> kw.Order:
    """Return sixty mats, each of a size of its own, which leave many slivers."""
    chance = random.Random(3)  # noqa: S311  sizes, not secrets
    lines = ["label,kind,qty,size,board"]
    for label in range(1, 61):
        width, height = (f"{chance.randrange(5, 14)} {chance.randrange(1, 8)}/8" for _ in "wh")
        lines.append(f"P{label},mat,1,{width} x {height},b")
    path = folder / "sixty.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return kw.load_order(path)


def strips(folder: Path) -> kw.Order:
    """Return many small mats, whose strips stand in a row together and are named below it."""
    path = folder / "strips.csv"
    path.write_text("label,kind,qty,size,board\nA,mat,64,5 x 8,b\n", encoding="utf-8")
    return kw.load_order(path)


@pytest.mark.parametrize(("order", "least"), [(metric, 0), (sawn, 0), (sixty, 0), (strips, 1)])
def test_a_sheet_cut_by_its_printed_page_gives_the_pieces_of_the_plan(
    order: Callable[[Path], kw.Order], least: int, tmp_path: Path
) -> None:
    """Every row can be followed, with its turn, and nothing else comes of it than was planned.

    Where parts stand in a row together, they are taken by the letters below it.
    """
    plan = kw.make_plan(order(tmp_path))
    assert isinstance(plan, kw.Plan)
    pdf = Pdf(draw_pdf(kw.audit_plan(plan), tmp_path / "a.pdf").read_bytes())

    def length(steps: int) -> Fraction:
        return (plan.step * steps).in_unit(plan.unit)

    lettered = 0
    for board in plan.boards:
        for layout in board.layouts:
            labels = frozenset(piece.label for piece in layout.pieces)
            told = rows(pdf, layout.id)
            sheet = (length(layout.source.width), length(layout.source.height))
            bench = cut(told, sheet, length(board.tool.kerf), labels)
            lettered += bench.lettered
            assert not bench.named
            assert not bench.unnamed
            for found, planned in ((bench.pieces, layout.pieces), (bench.left, layout.leftovers)):
                sizes = Counter((length(one.width), length(one.height)) for one in planned)
                assert found == sizes
    assert lettered >= least
