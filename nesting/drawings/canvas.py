"""The pages as matplotlib figures, for images and for figures of one's own."""

from __future__ import annotations

from collections.abc import Iterator

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Affine2D

from ..audit.facts import AuditedPlan
from ..plan.model import BoardPlan, Layout, Leftover, PlacedPiece, Plan
from .lettering import clean, font, in_order, width
from .page import BEFORE, RIM, Align, Page, ring_ends
from .pages import Job
from .paper import Box, Paper
from .pen import DOT, Point
from .sheet import Composition, compose, paint
from .words import Measures

__all__ = ["FigurePage", "blank", "draw_cover", "draw_layout", "draw_pages"]

INK = "black"


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
    xs, ys = ([place[side] * scale for place in ring_ends(box)] for side in (0, 1))
    outer, inner = (
        Line2D(xs, ys, color=color, linewidth=weight, solid_capstyle="round", clip_on=False)
        for color, weight in ((INK, box.height + RIM), ("white", box.height - RIM))
    )
    for line in (outer, inner):
        line.set_snap(False)  # snapped to dots, a very short line has no length, and no ends
    return outer, inner


def blank(paper: Paper, *, landscape: bool) -> Figure:
    """Return a figure as large as the paper."""
    across, down = paper.size(landscape=landscape)
    return Figure(figsize=(across / 72, down / 72), dpi=72)


class FigurePage(Page):
    """A figure to draw on.

    Attributes
    ----------
    figure
        The matplotlib figure, as large as the paper.
    """

    def __init__(self, figure: Figure) -> None:
        self.figure = figure
        across, down = (float(side) * 72 for side in figure.get_size_inches())
        super().__init__(across, down)
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

    def rim(self, box: Box) -> None:
        """Draw a ring with nothing in it."""
        for line in ring_lines(box):
            self._put(line)

    def draw(self, composed: Composition, box: Box) -> None:
        """Draw a layout to scale, as it was composed for `box`."""
        put_on(self.axes(box), composed, box.width, box.height)

    def axes(self, box: Box) -> Axes:
        """Return axes without frame or ticks that cover `box`."""
        left, bottom = self._left + box.left, self._down - self._top - box.bottom
        place = (left / self._across, bottom / self._down)
        axes = self.figure.add_axes(
            (*place, box.width / self._across, box.height / self._down), frameon=False
        )
        axes.set_axis_off()
        return axes


def draw_layout(ax: Axes, layout: Layout, board: BoardPlan, plan: Plan) -> Composition:
    """Draw one layout to scale, as large as the axes allow, and return what was put where.

    The data of the axes are the plan's steps, x to the right and y down, so that a piece's
    rectangle has the coordinates that it has in the plan.
    """
    box = ax.get_window_extent()
    points = 72 / ax.figure.dpi
    composed = compose(layout, board, Measures(plan), box.width * points, box.height * points)
    put_on(ax, composed, box.width * points, box.height * points)
    return composed


def put_on(ax: Axes, composed: Composition, width: float, height: float) -> None:
    """Draw a composition on axes of `width` by `height` points, the source at the top, amid."""
    scale = composed.scale
    left, top = composed.corner(width)
    ax.set_xlim(-left / scale, (width - left) / scale)
    ax.set_ylim((height - top) / scale, -top / scale)
    paint(AxesPen(ax, composed), composed)


class AxesPen:
    """Puts artists on axes whose data are steps."""

    def __init__(self, ax: Axes, composed: Composition) -> None:
        self.ax = ax
        self.scale = composed.scale
        layout = composed.layout
        # What the plan has in whole steps stays whole, whatever the scale.
        self._exact: dict[Box, tuple[int, int, int, int]] = {}
        items: list[PlacedPiece | Leftover] = [*layout.pieces, *layout.leftovers]
        for item in items:
            sides = (item.x, item.y, item.width, item.height)
            self._exact[Box(*(side * self.scale for side in sides))] = sides
        self._exact[composed.sheet] = (0, 0, layout.source.width, layout.source.height)

    def rectangle(
        self, box: Box, *, face: str, hatch: str = "", weight: float = 0.6, order: float = 1.0
    ) -> None:
        """Draw a rectangle."""
        sides = (box.left, box.top, box.width, box.height)
        x, y, across, down = self._exact.get(box) or [side / self.scale for side in sides]
        self.ax.add_artist(
            Rectangle(
                (x, y), across, down, facecolor=face, edgecolor=INK, hatch=hatch or None,
                linewidth=weight, zorder=order, clip_on=False,
            )
        )  # fmt: skip

    def line(self, one: Point, other: Point, weight: float) -> None:
        """Draw a straight line."""
        xs, ys = (
            tuple(value / self.scale for value in pair) for pair in zip(one, other, strict=True)
        )
        self.ax.add_artist(
            Line2D(xs, ys, color=INK, linewidth=weight, solid_capstyle="butt", zorder=2,
                   clip_on=False)
        )  # fmt: skip

    def text(
        self, place: Point, text: str, size: float, *, bold: bool = False, upright: bool = False
    ) -> None:
        """Set a line of text with the middle of its baseline at `place`."""
        x, y = (value / self.scale for value in place)
        artist = words(x, y, text, size, bold=bold, align="center", upright=upright)
        artist.set_zorder(5)
        artist.set_clip_on(False)
        self.ax.add_artist(artist)

    def arrow(self, foot: Point, marker: str, size: float) -> None:
        """Draw a triangle round `foot`."""
        x, y = (value / self.scale for value in foot)
        self.ax.add_artist(
            Line2D((x,), (y,), linestyle="none", marker=marker, markersize=size,
                   markerfacecolor=INK, markeredgewidth=0, zorder=4, clip_on=False)
        )  # fmt: skip

    def dots(self, feet: list[Point]) -> None:
        """Draw a dot at each place."""
        xs, ys = ([foot[side] / self.scale for foot in feet] for side in (0, 1))
        self.ax.add_artist(
            Line2D(xs, ys, linestyle="none", marker="o", markersize=DOT - 1, markerfacecolor=INK,
                   markeredgecolor=INK, zorder=4, clip_on=False)
        )  # fmt: skip

    def rim(self, box: Box) -> None:
        """Draw a ring, white within."""
        for line in ring_lines(box, 1 / self.scale):
            line.set_zorder(4)
            self.ax.add_artist(line)


def draw_pages(audited: AuditedPlan, paper: Paper) -> Iterator[Figure]:
    """Yield every page of the job, drawn."""
    job = Job(audited)
    drawers = job.drawers()
    for drawer in drawers:
        figure = blank(paper, landscape=job.landscape)
        drawer(FigurePage(figure))
        yield figure


def draw_cover(fig: Figure, audited: AuditedPlan) -> None:
    """Draw the first cover page on a figure as large as the paper."""
    across, down = fig.get_size_inches()
    job = Job(audited, landscape=bool(across > down))
    job.drawers()[0](FigurePage(fig))
