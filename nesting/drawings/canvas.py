"""One page as a matplotlib figure, addressed in points from the top left of its live area."""

from __future__ import annotations

from typing import Literal

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Affine2D

from .lettering import CAP, clean, font, in_order, width
from .paper import LIVE, Box, Paper

__all__ = ["INK", "Page", "blank", "ring_lines", "words"]

INK = "black"
RIM = 1.0  # how heavy the line of a ring is

Align = Literal["left", "center", "right"]
BEFORE: dict[Align, float] = {"left": 0.0, "center": 0.5, "right": 1.0}


def words(
    x: float,
    y: float,
    text: str,
    size: float,
    *,
    bold: bool = False,
    align: Align = "left",
    upright: bool = False,
) -> Text:
    """Return a text artist whose baseline begins, centres or ends at `x`, `y`.

    Nothing in the text is taken for a formula, and no sign in it is one that the face lacks.
    `upright` text reads from the bottom to the top.
    """
    return Words(x, y, in_order(clean(text)), size, bold=bold, align=align, upright=upright)


class Words(Text):
    """A line of text that is drawn where it stands, without being laid out by matplotlib.

    That would shape each text twice over, which on a long job is a third of all the time.
    """

    def __init__(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool,
        align: Align,
        upright: bool,
    ) -> None:
        super().__init__(
            x,
            y,
            text,
            color=INK,
            fontproperties=font(size, bold),
            horizontalalignment=align,
            verticalalignment="baseline",
            rotation=90 if upright else 0,
            rotation_mode="anchor",
            parse_math=False,
            usetex=False,
        )
        if hasattr(self, "set_fontfeatures"):
            # Where matplotlib sets ligatures, each face would be embedded a second time for them.
            self.set_fontfeatures(("-liga", "-clig"))
        self._font = font(size, bold)
        self._upright = upright
        self._before = BEFORE[align] * width(text, size, bold)

    def draw(self, renderer: RendererBase) -> None:
        """Draw the text with its baseline where it was put."""
        if not self.get_text():
            return
        x, y = self.get_transform().transform(self.get_position())
        before = renderer.points_to_pixels(self._before)
        x, y = (x, y - before) if self._upright else (x - before, y)
        if renderer.flipy():
            y = renderer.get_canvas_width_height()[1] - y
        context = renderer.new_gc()
        context.set_foreground((0.0, 0.0, 0.0, 1.0), isRGBA=True)
        angle = 90.0 if self._upright else 0.0
        renderer.draw_text(context, x, y, self.get_text(), self._font, angle, mtext=self)
        context.restore()
        self.stale = False


def ring_lines(box: Box, scale: float = 1.0) -> tuple[Line2D, Line2D]:
    """Return a ring as high as `box` and as wide: a thick line with round ends, a white one on it.

    Only the coordinates are multiplied by `scale`.
    """
    half = box.height / 2
    x, y = box.left + half, box.middle[1] * scale
    # A line of no length would have no ends to be round.
    xs = (x * scale, max(x + 0.01, box.right - half) * scale)
    outer, inner = (
        Line2D(xs, (y, y), color=color, linewidth=weight, solid_capstyle="round", clip_on=False)
        for color, weight in ((INK, box.height + RIM), ("white", box.height - RIM))
    )
    for line in (outer, inner):
        line.set_snap(False)  # snapped to dots, a very short line has no length, and no ends
    return outer, inner


def blank(paper: Paper, *, landscape: bool) -> Figure:
    """Return a figure as large as the paper."""
    across, down = paper.size(landscape=landscape)
    return Figure(figsize=(across / 72, down / 72), dpi=72)


class Page:
    """A figure to draw on.

    Attributes
    ----------
    figure
        The matplotlib figure, as large as the paper.
    width, height
        Of the live area, in points; its top left is the origin, y goes down.
    """

    def __init__(self, figure: Figure) -> None:
        self.figure = figure
        across, down = (float(side) * 72 for side in figure.get_size_inches())
        self.width, self.height = LIVE[::-1] if across > down else LIVE
        self._across, self._down = across, down
        self._left, self._top = (across - self.width) / 2, (down - self.height) / 2
        to_inches = Affine2D().translate(self._left, self._top).scale(1 / 72, -1 / 72)
        self._points = to_inches.translate(0, down / 72) + figure.dpi_scale_trans

    def _put(self, artist: Artist) -> None:
        artist.set_transform(self._points)
        self.figure.add_artist(artist)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        align: Align = "left",
    ) -> None:
        """Set a line of text with its baseline at `y`."""
        self._put(words(x, y, text, size, bold=bold, align=align))

    def line(self, x: float, y: float, to_x: float, to_y: float, weight: float) -> None:
        """Draw a straight line, `weight` points wide."""
        self._put(Line2D((x, to_x), (y, to_y), color=INK, linewidth=weight))

    def box(self, box: Box, weight: float = 0.8, fill: str = "none") -> None:
        """Draw a rectangle."""
        corner = (box.left, box.top)
        shape = Rectangle(corner, box.width, box.height, edgecolor=INK, facecolor=fill)
        shape.set_linewidth(weight)
        self._put(shape)

    def ring(self, box: Box, number: str, size: float) -> None:
        """Draw a number in a ring, as it stands on a cut."""
        for line in ring_lines(box):
            self._put(line)
        x, y = box.middle
        self.text(x, y + CAP * size / 2, number, size, bold=True, align="center")

    def axes(self, box: Box) -> Axes:
        """Return axes without frame or ticks that cover `box`."""
        left, bottom = self._left + box.left, self._down - self._top - box.bottom
        place = (left / self._across, bottom / self._down)
        axes = self.figure.add_axes(
            (*place, box.width / self._across, box.height / self._down), frameon=False
        )
        axes.set_axis_off()
        return axes
