"""The labels: fourteen a page, and a QR code that says what the label says."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
import segno
from pdf_reader import Pdf

from kerfwright.drawings.paper import Paper
from kerfwright.drawings.rack_labels import (
    CODE,
    QUIET,
    RackLabel,
    draw_labels,
    label_pages,
    lacking,
)


def label(number: int) -> RackLabel:
    """Return a label with a long board name."""
    name = "a board with a name that is as long as any that an order may have, sixty"
    lines = ("14 x 32 in", name, "cotton, buffered", "14 lies along the sheet's first side")
    return RackLabel(str(number), lines, f"kerfwright offcut {number}; 14 x 32 in")


BAR = re.compile(rb"(?m)^0 g ([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+) re f$")


def drawn(folder: Path, *labels: RackLabel, paper: Paper = Paper.LETTER) -> Pdf:
    """Return a PDF of labels, read back."""
    return Pdf(draw_labels(labels, folder / "labels.pdf", paper).read_bytes())


def test_fourteen_labels_make_a_page(tmp_path: Path) -> None:
    """Fifteen make a second one, and none makes none."""
    assert len(drawn(tmp_path, *map(label, range(14)), paper=Paper.A4).pages()) == 1
    assert len(drawn(tmp_path, *map(label, range(15))).pages()) == 2
    assert list(label_pages([])) == []


def test_the_code_is_the_one_that_the_standard_package_makes(tmp_path: Path) -> None:
    """The bars drawn, read back module by module, are segno's matrix in a quiet zone."""
    (page,) = drawn(tmp_path, label(7)).pages()
    bars = [tuple(map(float, found)) for found in BAR.findall(page)]
    matrix = segno.make(label(7).code, error="m", micro=False).matrix
    module = CODE / (len(matrix) + 2 * QUIET)
    left = min(x for x, *_ in bars)
    top = max(y + high for _, y, _, high in bars)
    modules: set[tuple[int, int]] = set()
    for x, y, wide, high in bars:
        assert high == pytest.approx(1.02 * module, abs=0.001)
        row = round((top - y - high) / module)
        first = round((x - left) / module)
        modules |= {(first + one, row) for one in range(round(wide / module))}
    dark = {(x, y) for y, row in enumerate(matrix) for x, module in enumerate(row) if module}
    assert modules == dark


def test_every_label_says_its_number_and_size(tmp_path: Path) -> None:
    """The texts of the page hold each number, and each size as often as there are labels."""
    pdf = drawn(tmp_path, label(7), label(12))
    (page,) = pdf.pages()
    told = [one.text for one in pdf.said(page)]
    assert {"7", "12"} <= {*told}
    assert told.count("14 x 32 in") == 2


def test_what_the_typeface_lacks_is_spelled(tmp_path: Path) -> None:
    """A board in signs that no face has is told apart by their codes; letters that join are set."""
    ideographs = "\N{CJK UNIFIED IDEOGRAPH-6D77}\N{CJK UNIFIED IDEOGRAPH-62A5}"
    one = RackLabel("3", ("14 x 32 in", f"{ideographs} board"), "offcut 3")
    pdf = drawn(tmp_path, one)
    (page,) = pdf.pages()
    said = " ".join(text.text for text in pdf.said(page))
    assert "▯▯ board (U+6D77 U+62A5)" in said
    assert lacking(f"{ideographs} board {ideographs[0]}") == ideographs
    assert lacking("warm white rag, d'été") == ""


def test_labels_load_no_drawing_package() -> None:
    """They are written as the pages are."""
    code = (
        "import sys; from kerfwright.drawings import rack_labels; import segno;"
        "assert 'matplotlib' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
