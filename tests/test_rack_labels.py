"""The labels: fourteen a page, and a QR code that says what the label says."""

from __future__ import annotations

import segno
from matplotlib.collections import PolyCollection

from kerfwright.drawings.paper import Paper
from kerfwright.drawings.rack_labels import QUIET, RackLabel, label_pages


def label(number: int) -> RackLabel:
    """Return a label with a long board name."""
    name = "a board with a name that is as long as any that an order may have, sixty"
    lines = ("14 x 32 in", name, "cotton, buffered", "14 lies along the sheet's first side")
    return RackLabel(str(number), lines, f"kerfwright offcut {number}; 14 x 32 in")


def test_fourteen_labels_make_a_page() -> None:
    """Fifteen make a second one, and none makes none."""
    assert len(list(label_pages([label(number) for number in range(14)], Paper.A4))) == 1
    assert len(list(label_pages([label(number) for number in range(15)], Paper.LETTER))) == 2
    assert list(label_pages([], Paper.LETTER)) == []


def test_the_code_is_the_one_that_the_standard_package_makes() -> None:
    """The bars drawn, read back module by module, are segno's matrix in a quiet zone."""
    (page,) = label_pages([label(7)], Paper.LETTER)
    (axes,) = page.axes
    drawn: set[tuple[int, int]] = set()
    for row in axes.collections:
        assert isinstance(row, PolyCollection)
        for path in row.get_paths():
            box = path.get_extents()
            y = int(box.y0) - QUIET
            drawn |= {(x - QUIET, y) for x in range(round(box.x0), round(box.x1))}
    matrix = segno.make(label(7).code, error="m", micro=False).matrix
    dark = {(x, y) for y, row in enumerate(matrix) for x, module in enumerate(row) if module}
    assert drawn == dark
    assert axes.get_xlim() == (0, len(matrix) + 2 * QUIET)


def test_every_label_says_its_number_and_size() -> None:
    """The texts of the page hold each number, and each size as often as there are labels."""
    (page,) = label_pages([label(7), label(12)], Paper.LETTER)
    told = [text.get_text() for text in page.findobj(lambda a: hasattr(a, "get_text"))]  # type: ignore[attr-defined]
    assert {"7", "12"} <= {*told}
    assert told.count("14 x 32 in") == 2
