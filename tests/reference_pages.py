"""Pages as they should look, in small: made anew by ``python tests/reference_pages.py``.

They are coarse on purpose: at fifty dots to the inch, and compared in squares of five dots, a
page looks the same whatever draws its type, and different once something is missing or elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import drawn_plans as made
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.image import imread, imsave

import kerfwright as kw
from kerfwright.drawings import Paper
from kerfwright.drawings.canvas import draw_pages
from kerfwright.drawings.files import drawn_our_way

ROOT = Path(__file__).parent.parent
FOLDER = Path(__file__).parent / "data" / "pages"
DOTS = 50
SQUARE = 5
MOST_ON_AVERAGE = 0.006  # of the way from white to black
MOST_UNLIKE, UNLIKE = 0.004, 0.2  # share of squares that may differ by more
Grey = np.ndarray[Any, np.dtype[np.float64]]


def harbour() -> kw.Plan:
    """Plan the first sample job."""
    plan = kw.make_plan(kw.load_order(ROOT / "sample_jobs" / "01-harbour-prints.toml"))
    assert isinstance(plan, kw.Plan)
    return plan


# The page's name, what it is of, and which page that is.
PAGES: dict[str, tuple[Callable[[], kw.Plan], int]] = {
    "cover": (harbour, 0),
    "sheet": (harbour, 1),
    "checklist": (harbour, 2),
    "sawn": (made.sawn, 2),  # a kerf that can be seen
    "slivers": (made.slivers, 1),
    "usual": (made.usual, 1),
}


def drawn(name: str) -> Grey:
    """Draw a page in greys from 0, black, to 1, white."""
    plan, number = PAGES[name]
    with drawn_our_way():
        figure = list(draw_pages(made.audited(plan()), Paper.LETTER))[number]
        figure.set_facecolor("white")
        figure.set_dpi(DOTS)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # type: ignore[no-untyped-call]
        buffer: Any = canvas.buffer_rgba()  # type: ignore[no-untyped-call]
        grey: Grey = np.asarray(buffer, dtype=np.float64)[:, :, 0] / 255
    return grey


def kept(name: str) -> Grey:
    """Return a page as it was kept."""
    grey: Grey = np.asarray(imread(FOLDER / f"{name}.png"), dtype=np.float64)[:, :, 0]
    return grey


def squares(grey: Grey) -> Grey:
    """Return the mean grey of each square."""
    high, wide = (side // SQUARE * SQUARE for side in grey.shape)
    cut = grey[:high, :wide].reshape(high // SQUARE, SQUARE, wide // SQUARE, SQUARE)
    mean: Grey = cut.mean(axis=(1, 3))
    return mean


def alike(one: Grey, other: Grey) -> bool:
    """Return whether two pages look the same from a little way off."""
    if one.shape != other.shape:
        return False
    off = np.abs(squares(one) - squares(other))
    return bool(off.mean() <= MOST_ON_AVERAGE and (off > UNLIKE).mean() <= MOST_UNLIKE)


def main() -> None:
    """Make all of them anew."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name in PAGES:
        metadata = {"Software": "kerfwright"}
        imsave(FOLDER / f"{name}.png", drawn(name), cmap="gray", vmin=0, vmax=1, metadata=metadata)


if __name__ == "__main__":
    main()
