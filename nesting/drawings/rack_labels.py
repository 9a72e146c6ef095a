"""A sheet of labels to stick on offcuts: the number large, and what else one must know of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from .files import replacing
from .lettering import MISSING, clean, elide, shorten, spelled, wrap
from .paper import Box, Paper
from .pdf import PdfFile

if TYPE_CHECKING:
    from .page import Page
    from .pages import Drawer

__all__ = ["RackLabel", "draw_labels", "fitted", "label_pages", "lacking"]

ACROSS, DOWN = 2, 7
GAP = 10.0  # points between labels, to cut along
PAD = 8.0
SIZES = (7.5, 7.0, 6.5, 6.0, 5.5)  # of type, in points: the largest at which all fits is taken
SPACING = 1.27  # from line to line, of the type's size
CODE = 76.0  # side of the QR code, in points
# Light modules round the code: four, by ISO/IEC 18004 (from memory).
QUIET = 4


@dataclass(frozen=True, slots=True)
class RackLabel:
    """What one label says.

    Attributes
    ----------
    number
        What is pencilled on the offcut.
    lines
        The size first, then what else there is to know, most important first.
    code
        What the QR code says.
    """

    number: str
    lines: tuple[str, ...]
    code: str


def draw_labels(labels: Sequence[RackLabel], path: Path | str, paper: Paper) -> Path:
    """Write labels as a PDF, fourteen a page, and return its path.

    Raises
    ------
    OSError
        If the file cannot be written; then whatever stood there is untouched.
    """
    path = Path(path)
    file = PdfFile(paper, landscape=False, title="Offcut labels", creator="kerfwright")
    for drawer in label_pages(labels):
        file.add(drawer)
    with replacing([path]) as (temporary,):
        temporary.write_bytes(file.whole())
    return path


def label_pages(labels: Sequence[RackLabel]) -> Iterator[Drawer]:
    """Yield what draws each page, with up to fourteen labels."""
    each = ACROSS * DOWN
    for start in range(0, len(labels), each):
        yield partial(_page, labels[start : start + each])


def _page(labels: Sequence[RackLabel], page: Page) -> None:
    for place, label in enumerate(labels):
        _label(page, label, _box(page, place))


def lacking(text: str) -> str:
    """Return the signs of a text that the labels' typeface lacks, each once."""
    return "".join(dict.fromkeys(sign for sign in text if clean(sign) == MISSING != sign))


def _box(page: Page, place: int) -> Box:
    width = (page.width - GAP * (ACROSS - 1)) / ACROSS
    height = (page.height - GAP * (DOWN - 1)) / DOWN
    row, column = divmod(place, ACROSS)
    return Box(column * (width + GAP), row * (height + GAP), width, height)


def _label(page: Page, label: RackLabel, box: Box) -> None:
    page.box(box, weight=0.5)
    code = Box(box.right - CODE - PAD / 2, box.top + (box.height - CODE) / 2, CODE, CODE)
    _code(page, label.code, code)
    room = code.left - box.left - 2 * PAD
    x, y = box.left + PAD, box.top + PAD + 20
    page.text(x, y, elide(label.number, room, 26, True), 26, bold=True)
    size, *rest = label.lines
    y += 16
    page.text(x, y, elide(size, room, 11, True), 11, bold=True)
    lines, size_of_type = fitted(rest, room, box.bottom - 3 - y)
    for line in lines:
        y += SPACING * size_of_type
        page.text(x, y, line, size_of_type)


def fitted(texts: Sequence[str], room: float, high: float) -> tuple[tuple[str, ...], float]:
    """Return texts in lines that fit a space, and the size of type in points.

    The type shrinks as far as it can be read at arm's length. If that will not do, the last
    texts lose their ends first, since what matters most stands first; an ellipsis says so.
    """
    for size in SIZES:
        wrapped = [wrap(spelled(text), room, size) for text in texts]
        lines = tuple(line for text in wrapped for line in text)
        most = int(high / (SPACING * size))
        if len(lines) <= most:
            return lines, size
    kept = [1] * len(wrapped)
    for place, parts in enumerate(wrapped):
        kept[place] += max(0, min(len(parts) - 1, most - sum(kept)))
    ends = [
        (*parts[: many - 1], shorten(" ".join(parts[many - 1 :]), room, size))
        for parts, many in zip(wrapped, kept, strict=True)
    ]
    return tuple(line for parts in ends for line in parts)[:most], size


def _code(page: Page, text: str, box: Box) -> None:
    """Draw a QR code as bars, sharp at any size."""
    import segno

    rows = [list(row) for row in segno.make(text, error="m", micro=False).matrix]
    module = box.width / (len(rows) + 2 * QUIET)
    for y, row in enumerate(rows):
        top = box.top + (y + QUIET) * module
        for x, length in _runs(row):
            left = box.left + (x + QUIET) * module
            # A little over, lest a light hair shows between two rows.
            bar = Box(left, top, length * module, 1.02 * module)
            page.box(bar, weight=0.0, fill="black")


def _runs(row: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Yield where each run of dark modules begins, and how long it is."""
    start: int | None = None
    for x, dark in enumerate([*row, 0]):
        if dark and start is None:
            start = x
        elif not dark and start is not None:
            yield start, x - start
            start = None
