from __future__ import annotations

import csv
import io
import re
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import combinations
from pathlib import Path

import drawn_plans as made
import matplotlib as mpl
import numpy as np
import pytest
from drawn_plans import P, W, X, Y, row
from matplotlib.backend_bases import RendererBase
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from plans import INCH, agreed, benched, cuts, values, with_board
from plans import left as left_at
from plans import piece as piece_at
from plans import sheet as sheet_of

import kerfwright as kw
from kerfwright.audit import AuditedPlan, audit_plan
from kerfwright.audit.replay import replay
from kerfwright.drawings import Paper, draw_cover, draw_images, draw_layout, draw_pdf, offcut_labels
from kerfwright.drawings.arrange import (
    HEADER,
    Arrangement,
    _divisions_of,
    _key_last,
    _whole,
    arrange,
)
from kerfwright.drawings.canvas import draw_pages
from kerfwright.drawings.cover import cover_pages
from kerfwright.drawings.cutlist import DENSE, USUAL, CutRow, Look, cut_rows, key_list
from kerfwright.drawings.flow import Gap, Item, Line, flow, paged, paragraph, scanty
from kerfwright.drawings.labels import Key, Legend
from kerfwright.drawings.lettering import (
    LEADING,
    clean,
    elide,
    in_order,
    shorten,
    spelled,
    typeset,
    width,
    wrap,
)
from kerfwright.drawings.numbers import Balloon, Stroke
from kerfwright.drawings.pages import Job
from kerfwright.drawings.paper import LIVE, Box
from kerfwright.drawings.rows import RowWords, _ones_of, _ranges, row_words
from kerfwright.drawings.runs import runs
from kerfwright.drawings.sheet import NARROW, Composition, compose, compose_at_least
from kerfwright.drawings.words import Measures, mark_sign
from kerfwright.instructions import instructions
from kerfwright.lengths import Length, Unit
from kerfwright.plan.model import (
    Layout,
    Leftover,
    LeftoverKind,
    Made,
    MadeBy,
    PlacedPiece,
    Plan,
    Stop,
)
from kerfwright.planning import make_plan
from kerfwright.readers import load_order
from kerfwright.spreadsheet import cuts_csv
from kerfwright.telling import cautions

FINE = 288.0  # dots to the inch
DRAWN: dict[tuple[str, Paper], list[Figure]] = {}
LEAST_IN_DRAWING, LEAST_IN_LIST = 7.0, 8.0


@cache
def composed(name: str) -> tuple[Composition, ...]:
    """Compose every layout of one of the hand-made plans as on its page."""
    plan = made.EVERY[name]()
    return tuple(
        arrange(layout, board, Measures(plan), landscape=False).composed
        for board in plan.boards
        for layout in board.layouts
    )


def pages(plan: Plan, paper: Paper = Paper.LETTER) -> list[Figure]:
    """Draw every page of a plan; equal plans are drawn once."""
    key = (repr(plan), paper)
    if key not in DRAWN:
        DRAWN[key] = list(draw_pages(made.audited(plan), paper))
    return DRAWN[key]


def measured(figure: Figure) -> Iterator[tuple[Text, Box]]:
    """Yield every text of a page with the box that a fine renderer gives it, in points."""
    with mpl.rc_context({"text.hinting": "none"}):
        figure.set_dpi(FINE)
        # matplotlib publishes no types for this one
        get_renderer: Callable[[], RendererBase] = FigureCanvasAgg(figure).get_renderer
        renderer = get_renderer()
        for artist in figure.findobj(Text):
            if artist.get_text():
                box = artist.get_window_extent(renderer)
                left, width_, high = (v * 72 / FINE for v in (box.x0, box.width, box.height))
                top = figure.get_figheight() * 72 - box.y1 * 72 / FINE
                yield artist, Box(left, top, width_, high)
        figure.set_dpi(72)


def texts(figure: Figure) -> list[str]:
    """Return every text on a page, without the marks that keep its signs in order."""
    found = (artist.get_text() for artist in figure.findobj(Text))
    return [text.replace("\u200e", "") for text in found if text]


def drawn(plan: Plan, number: int = 0) -> tuple[Figure, Composition]:
    """Draw one layout of the first board on axes as large as the figure."""
    figure = Figure(figsize=(6, 8))
    board = plan.boards[0]
    axes = figure.add_axes((0, 0, 1, 1))
    return figure, draw_layout(axes, board.layouts[number], board, plan)


def patches(figure: Figure) -> list[Rectangle]:
    """Return every rectangle on a figure's axes, but for what derives from one."""
    return [one for one in figure.axes[0].findobj(Rectangle) if type(one) is Rectangle]


def rectangles(figure: Figure) -> list[tuple[float, float, float, float]]:
    """Return x, y, width and height of every rectangle on a figure's axes."""
    found = patches(figure)
    return [(r.get_x(), r.get_y(), r.get_width(), r.get_height()) for r in found]


def points(line: Line2D) -> list[tuple[float, float]]:
    """Return the x and y of every point of a line."""
    both = (np.asarray(line.get_xdata()), np.asarray(line.get_ydata()))
    return [(float(x), float(y)) for x, y in zip(*both, strict=True)]


def type_size(text: Text) -> float:
    """Return how large a text is set; matplotlib's types allow names such as ``small`` too."""
    size = text.get_fontsize()
    assert not isinstance(size, str)
    return size


def rows_of(arranged: Arrangement) -> list[CutRow]:
    """Return the rows of an arrangement's cut list, in order."""
    return [item for column in arranged.listed for item in column if isinstance(item, CutRow)]


@pytest.fixture(params=made.EVERY)
def name(request: pytest.FixtureRequest) -> str:
    """Give the name of each of the hand-made plans."""
    return str(request.param)


class TestDrawing:
    """One layout, drawn to scale."""

    def test_pieces_and_leftovers_lie_where_the_plan_puts_them(self) -> None:
        """Every piece and leftover has a rectangle with the plan's own numbers, in steps."""
        whole = made.usual()
        for number, layout in enumerate(whole.boards[0].layouts):
            shown = rectangles(drawn(whole, number)[0])
            parts: tuple[PlacedPiece | Leftover, ...] = (*layout.pieces, *layout.leftovers)
            for part in parts:
                assert (part.x, part.y, part.width, part.height) in shown

    def test_y_goes_down_and_scale_is_the_same_both_ways(self) -> None:
        """The origin is the top left, and a step is as long across as down."""
        figure, shown = drawn(made.usual())
        axes = figure.axes[0]
        x, y = axes.transData.transform([(0, 0), (100, 100)])[1] - axes.transData.transform((0, 0))
        assert x > 0 > y
        assert x == pytest.approx(-y)
        assert x * 72 / figure.dpi == pytest.approx(100 * shown.scale)

    def test_cut_lines_span_what_the_plan_says(self) -> None:
        """Cut 2 of L2 is drawn at x = 320 from y = 0 to 258, as worked by hand in the plan."""
        lines = drawn(made.usual(), 1)[0].axes[0].findobj(Line2D)
        ends = [sorted(points(line)) for line in lines]
        assert any(one == [pytest.approx((320, 0)), pytest.approx((320, 258))] for one in ends)

    def test_first_cuts_are_heaviest(self) -> None:
        """No cut that divides a part of an earlier cut is drawn heavier than that cut."""
        whole = made.usual()
        figure, shown = drawn(whole)
        by_depth: dict[int, float] = {}
        for stroke in shown.strokes:
            x, y = stroke.point(stroke.start)
            start = (x / shown.scale, y / shown.scale)
            line = next(
                line
                for line in figure.axes[0].findobj(Line2D)
                if line.get_zorder() == 2
                and points(line)[0] == pytest.approx(start)
                and line.get_linewidth() >= 0.9
            )
            by_depth[stroke.depth] = line.get_linewidth()
        assert by_depth[0] > by_depth[1]

    def test_kerf_is_drawn_as_wide_as_it_is_where_it_can_be_seen(self) -> None:
        """On the 4 x 4 in offcut cut 1 is a band of 2 steps from x = 30, as high as the offcut."""
        shown = rectangles(drawn(made.sawn(), 1)[0])
        assert any(one == pytest.approx((30, 0, 2, 64)) for one in shown)

    def test_every_cut_number_is_shown_once(self, name: str) -> None:
        """Each cut, or run of cuts, has one number in a ring, or is said to have none."""
        for shown in composed(name):
            ringed = [one.text for one in shown.placed.balloons if one.ringed]
            left_out = set(shown.placed.left_out)
            assert not left_out & set(ringed)
            named = [run.name for run in runs(shown.layout, 2 if name == "sawn" else 0)]
            assert ringed == [one for one in named if one not in left_out]

    @pytest.mark.parametrize("usual", ["usual", "sixty", "sawn", "odd labels", "many", "halves"])
    def test_no_usual_page_leaves_a_number_out(self, usual: str) -> None:
        """Sixty sizes on a sheet still have room for all their numbers and marks."""
        assert [shown.placed.left_out for shown in composed(usual) if shown.placed.left_out] == []

    def test_numbers_do_not_meet_each_other_or_a_label(self, name: str) -> None:
        """No two numbers overlap, and none covers a text."""
        for shown in composed(name):
            rings = [one.box for one in shown.placed.balloons]
            blocks = [block.box for block in shown.lettered.blocks]
            assert not [pair for pair in combinations(rings, 2) if pair[0].meets(pair[1])]
            assert not [ring for ring in rings for block in blocks if ring.meets(block)]

    def test_leaders_are_short_and_run_over_nothing(self, name: str) -> None:
        """No leader is longer than an inch and a half, or meets a label or another's ring."""
        for shown in composed(name):
            balloons = shown.placed.balloons
            for one in balloons:
                if one.foot is None:
                    continue
                away, down = one.x - one.foot[0], one.y - one.foot[1]
                assert abs(away) + abs(down) <= 110  # points: 1.53 in
                spots = [Box.around(one.foot[0] + away * n / 40, one.foot[1] + down * n / 40, 1, 1)
                         for n in range(1, 40)]  # fmt: skip
                others = [other.box for other in balloons if other is not one]
                others += [block.box for block in shown.lettered.blocks]
                assert not [box for box in others for spot in spots if box.meets(spot)], one

    def test_a_number_stands_on_its_line_or_its_leader_ends_there(self, name: str) -> None:
        """The ring's centre, or its leader's foot, lies on a cut that it numbers."""
        for shown in composed(name):
            strokes = {stroke.number: stroke for stroke in shown.strokes}
            for one in shown.placed.balloons:
                if one.ringed:
                    first, _, last = one.text.partition("–")
                    numbers = range(int(first), int(last or first) + 1)
                    assert any(self._lies_on(one, strokes[number]) for number in numbers)

    @staticmethod
    def _lies_on(one: Balloon, stroke: Stroke) -> bool:
        x, y = one.foot or (one.x, one.y)
        across, along = (x, y) if stroke.vertical else (y, x)
        on_line = across == pytest.approx(stroke.at)
        return bool(on_line) and stroke.start - 0.01 <= along <= stroke.end + 0.01

    def test_labels_lie_in_their_areas(self, name: str) -> None:
        """Every text in the drawing fits the piece or leftover that it names."""
        for shown in composed(name):
            for block in shown.lettered.blocks:
                assert any(area.box.holds(block.box) for area in shown.areas)
                assert block.setting.size >= LEAST_IN_DRAWING

    def test_every_piece_is_named_or_keyed(self, name: str) -> None:
        """Each piece's label stands in the drawing, or in the key beside it."""
        for shown in composed(name):
            named = {" ".join(b.setting.lines[: b.setting.bold]) for b in shown.lettered.blocks}
            keyed = {key.title or key.mark for key in shown.legend.keys}
            for piece in shown.layout.pieces:
                label = spelled(piece.label)
                assert label in keyed or any(text.startswith(label) for text in named)

    def test_a_turned_piece_says_so(self) -> None:
        """The piece turned by a quarter is marked, with its size as drawn: 20 in across."""
        found = texts(drawn(made.usual(), 1)[0])
        assert "turned" in found
        assert typeset("20 × 16 1/8") in found

    def test_leftovers_look_different_from_pieces_and_from_each_other(self) -> None:
        """Pieces are plain white; offcut, slip sheet and scrap each have a hatch of their own."""
        shown = patches(drawn(made.usual(), 1)[0])
        hatches = {patch.get_hatch() for patch in shown if patch.get_hatch()}
        assert len(hatches) == 3

    def test_a_sliver_is_keyed(self) -> None:
        """Scrap 1/16 in wide has a mark with a leader, and the key gives its size."""
        (shown,) = composed("slivers")
        assert {"1/16 × 18 3/4", "30 1/2 × 1/16"} <= {key.size for key in shown.legend.keys}
        marks = [one for one in shown.placed.balloons if not one.ringed]
        assert marks
        assert all(one.foot for one in marks)

    @pytest.mark.parametrize("name_", ["tickets", "tickets 500"])
    def test_hundreds_of_pieces_keep_to_few_numbers(self, name_: str) -> None:
        """A sheet of 144 or of 513 equal pieces has two rings, and two rows in its list."""
        whole = made.tickets(*((12, 12) if name_ == "tickets" else (19, 27)))
        board = whole.boards[0]
        shown = arrange(board.layouts[0], board, Measures(whole), landscape=False)
        # 11 cuts give 12 strips, and 11 in each of these give 144: cuts 12 to 143.
        # 18 cuts give 19 strips, and 26 in each of these give 513: cuts 19 to 512.
        names = ["1–11", "12–143"] if name_ == "tickets" else ["1–18", "19–512"]
        assert [row.name for row in rows_of(shown)] == names
        assert [one.text for one in shown.composed.placed.balloons if one.ringed] == names

    def test_many_equal_slivers_take_one_mark(self) -> None:
        """Of forty strips too thin to write in one is marked, and the list says so."""
        # forty strips of 1/8 in, under 2 pt wide on the page
        strips = row([W(LeftoverKind.SCRAP)] * 40, 2, X, P("A"))
        whole = made.plan(made.board(made.layout(strips, 512, 640)))
        board = whole.boards[0]
        shown = arrange(board.layouts[0], board, Measures(whole), landscape=False)
        assert [one.text for one in shown.composed.placed.balloons if not one.ringed] == ["#1"]
        assert shown.composed.placed.shared == (("#1", 40),)
        assert "scrap 1/8 × 40, on one of 40" in texts(pages(whole)[1])

    def test_what_has_no_room_is_left_out_and_said(self) -> None:
        """Forty strips of 1/16 in have no room for their numbers, but all have their rows."""
        strips: made.Node = P("A")
        for number in range(20):
            strips = X(1, W(), X(2, Y(100 + number, W(), W()), strips))
        whole = made.plan(made.board(made.layout(strips, 512, 640)))
        board = whole.boards[0]
        shown = arrange(board.layouts[0], board, Measures(whole), landscape=False)
        left_out = [one for one in shown.composed.placed.left_out if not one.startswith("#")]
        assert left_out
        told = " ".join(text for figure in pages(whole) for text in texts(figure))
        assert f"No room for the numbers of cuts {left_out[0]}" in told
        listed = {one for figure in pages(whole) for one in texts(figure)}
        assert set(left_out) <= listed

    def test_grey_is_told_of_only_where_it_shows(self) -> None:
        """Trim of 1 in is grey on the page; of 1/8 in, it is under the lines and in the list."""
        told = {}
        for steps in (16, 2):
            trimmed = X(steps, W(LeftoverKind.TRIM), X(256, P("A"), P("B")))
            whole = made.plan(made.board(made.layout(trimmed, 512, 640)))
            told[steps] = " ".join(texts(pages(whole)[1]))
        assert "Solid grey is trim." in told[16]
        assert "Solid grey" not in told[2]
        assert "Trim is too thin to show; its cuts are in the list." in told[2]

    def test_trim_is_never_lettered(self) -> None:
        """Trim is solid grey and takes no mark from the key."""
        (shown,) = composed("slivers")
        assert all(key.title != LeftoverKind.TRIM for key in shown.legend.keys)

    def test_the_same_layout_is_always_placed_alike(self) -> None:
        """Composing twice gives equal results, to the last number."""
        once = composed("sixty")
        composed.cache_clear()
        assert composed("sixty") == once


class TestPages:
    """Whole pages."""

    def test_one_page_a_layout_after_the_cover(self) -> None:
        """Four layouts with short lists make five pages; a checklist and labels follow."""
        found = pages(made.usual())
        assert len(found) == 7
        for number, figure in enumerate(found, 1):
            assert f"page {number} of 7" in texts(figure)
        assert "The stop, setting by setting" in texts(found[5])
        assert "Labels for what is kept" in texts(found[6])

    def test_a_label_tells_boards_apart_by_what_stands_in_the_middle_of_their_names(self) -> None:
        """In two lines, where one is too short; of still longer names the end is kept."""
        short = "rag"
        names = [
            f"Museum rag board, {tint} white, 4-ply, 32 x 40" for tint in ("antique", "natural")
        ]
        longest = (
            "an extremely long name of a warm white rag board with a warm white core, lot 2231"
        )
        for name in (short, *names, f"{longest}, {longest}"):
            lines, _ = offcut_labels._named(name, 232.0)
            shown = " ".join(lines)
            assert len(lines) <= 2
            assert shown == name or (shown.endswith("lot 2231") and shown.count("…") == 1)

    def test_a_long_board_name_keeps_its_end(self) -> None:
        """The lot at the end of a board's name is not cut off."""
        name = "an extremely long name of a warm white rag board, 4-ply, lot 2231"
        whole = made.plan(made.board(made.layout(P("A"), 512, 640), name=name))
        (told,) = (text for text in texts(pages(whole)[1]) if "…" in text)
        assert told.startswith("an extremely")
        assert told.endswith("lot 2231")

    def test_headline_says_how_many_to_cut(self) -> None:
        """The first layout is cut three times, the next once."""
        found = pages(made.usual())
        assert "Cut 3 of these" in texts(found[1])
        assert "Cut 1 of these" in texts(found[2])
        assert "L2" in texts(found[2])
        assert "full sheet 32 × 40 in; knife" in texts(found[2])
        assert "offcut 7, 14 × 32 in; knife" in texts(found[3])

    def test_every_page_says_what_every_page_must(self, name: str) -> None:
        """Job, order, program and the advice to check the first piece are on each page."""
        for figure in pages(made.EVERY[name]()):
            found = texts(figure)
            assert "Check the first piece against the order before cutting the rest." in found
            assert any(
                spelled(made.EVERY[name]().order) in text
                and "order 01234567 · kerfwright 0.1.0" in text
                for text in found
            )

    def test_nothing_is_drawn_outside_what_both_papers_have(self, name: str) -> None:
        """As a renderer measures it, every text lies within the live area of its page."""
        for figure in pages(made.EVERY[name]())[:5]:
            across, down = (side * 72 for side in figure.get_size_inches())
            wide, high = LIVE[::-1] if across > down else LIVE
            live = Box.around(across / 2, down / 2, wide, high).grown(2.5)
            for artist, box in measured(figure):
                assert live.holds(box), artist.get_text()

    def test_widths_are_added_up_as_a_renderer_measures_them(self) -> None:
        """A text is no wider than what was reckoned with, kerning being left out."""
        for artist, box in measured(pages(made.usual())[2]):
            long = box.height if artist.get_rotation() else box.width
            reckoned = (width(artist.get_text(), type_size(artist), bold) for bold in (False, True))
            assert long <= max(reckoned) + 0.5, artist.get_text()

    def test_type_is_large_enough(self, name: str) -> None:
        """Nothing is below 7 pt, nor below 8 pt where it is not in the drawing or the foot."""
        for figure in pages(made.EVERY[name]())[:7]:
            in_drawing = {id(one) for axes in figure.axes for one in axes.findobj(Text)}
            for artist in figure.findobj(Text):
                least = LEAST_IN_DRAWING if id(artist) in in_drawing else LEAST_IN_LIST
                numbers = artist.get_text().replace("–", "").isdigit()
                if "kerfwright 0.1.0" not in artist.get_text() and not numbers:
                    assert type_size(artist) >= least, artist.get_text()

    def test_all_pages_lie_the_same_way(self, name: str) -> None:
        """Every page of a job has the same size."""
        assert len({tuple(figure.get_size_inches()) for figure in pages(made.EVERY[name]())}) == 1

    def test_a_wide_sheet_lays_the_page_on_its_long_side(self) -> None:
        """96 x 48 in is drawn larger on a page that lies on its long side, 48 x 96 upright."""
        wide = made.plan(made.board(made.layout(made.P("A"), 1536, 768)))
        tall = made.plan(made.board(made.layout(made.P("A"), 768, 1536)))
        (across, down), (narrow, high) = (
            pages(whole)[0].get_size_inches() for whole in (wide, tall)
        )
        assert across > down
        assert narrow < high

    def test_paper_follows_the_unit_unless_chosen(self, tmp_path: Path) -> None:
        """Inches give letter, 612 x 792 points; millimetres A4, 595.28 x 841.89."""
        sizes = {}
        for name, whole in (("in", made.halves()), ("mm", made.odd_labels())):
            written = draw_pdf(made.audited(whole), tmp_path / name).read_bytes()
            sizes[name] = re.search(rb"/MediaBox \[([^]]*)\]", written)[1].split()[2:]  # type: ignore[index]
        assert [float(side) for side in sizes["in"]] == [612, 792]
        assert [float(side) for side in sizes["mm"]] == pytest.approx([595.28, 841.89], abs=0.01)

    def test_both_papers_hold_the_same_page(self) -> None:
        """The live area is as large on letter as on A4, and centred on either."""
        letter, a4 = (pages(made.halves(), paper)[1] for paper in Paper)
        drawings = [figure.axes[0].get_position() for figure in (letter, a4)]
        sizes = [
            (box.width * figure.get_figwidth(), box.height * figure.get_figheight())
            for box, figure in zip(drawings, (letter, a4), strict=True)
        ]
        assert sizes[0] == pytest.approx(sizes[1])

    def test_live_area_is_what_the_papers_share(self) -> None:
        """210 mm (595.28 pt) wide as A4, 11 in (792 pt) high as letter, less both margins."""
        assert pytest.approx((595.28 - 60, 792 - 60), abs=0.01) == LIVE

    def test_a_long_list_goes_on_with_every_cut(self) -> None:
        """Sixty-six cuts take more pages, and each number is listed once."""
        found = pages(made.sixty())
        assert any("Cut 1 of these, continued" in texts(figure) for figure in found)
        listed = [
            artist.get_text()
            for figure in found
            for artist in figure.artists
            if isinstance(artist, Text) and artist.get_text().isdigit()
            and artist.get_horizontalalignment() == "center"
        ]  # fmt: skip
        assert listed == [str(number) for number in range(1, 67)]

    @pytest.mark.parametrize("seed", range(20, 30))
    def test_no_page_is_turned_to_for_a_few_lines(self, seed: int) -> None:
        """Of ten sheets cut at random none carries over one to three lines of its list."""
        for sheet in Job(made.audited(made.scattered(seed))).sheets:
            if sheet.carried:
                assert not scanty([item for column in sheet.carried[-1] for item in column])

    def test_marks_are_explained_on_the_page_of_the_drawing(self) -> None:
        """Whatever goes on to another page, what the marks mean stands by them."""
        seen = 0
        for plan in (made.audited(made.scattered(seed)) for seed in range(20, 40)):
            job = Job(plan)
            for sheet in job.sheets:
                for page in sheet.carried:
                    assert not any("On the drawing" in _said(column) for column in page)
                shown = sheet.arrangement
                columns = (*shown.listed[:-1], *(items for _, items in shown.below))
                said = [word for column in columns for word in _said(column)]
                running = " ".join(said).split("On the drawing ")[-1].split("; ")
                for key in shown.composed.legend.keys:
                    begun = (f"{key.mark} ", f"{key.mark}: ")
                    one_by_one = [one for one in running if one.startswith(begun)]
                    often = len(one_by_one) if shown.look is DENSE else said.count(key.mark)
                    assert often == 1, key.mark
                for _, items in shown.below:
                    assert sum(item.height for item in items) <= _free_below(shown)
                seen += bool(sheet.carried) and bool(shown.composed.legend.keys)
        assert seen

    def test_a_sheet_without_cuts_says_so(self) -> None:
        """A piece as large as its sheet has no list of cuts."""
        found = texts(pages(made.odd_labels())[-3])
        assert "No cuts: take it as it is." in found

    def test_a_list_is_never_lost_for_a_large_drawing(self, name: str) -> None:
        """What an arrangement lists and carries over together is every cut, in order."""
        plan = made.EVERY[name]()
        for board in plan.boards:
            for layout in board.layouts[:3]:
                shown = arrange(layout, board, Measures(plan), landscape=False)
                named = [row.name for row in rows_of(shown)]
                assert named == [run.name for run in runs(layout, board.tool.kerf)]
                assert shown.drawing.top == HEADER


@pytest.mark.parametrize("name", ["usual", "slivers", "sawn", "sixty"])
def test_what_would_be_too_small_is_not_composed(name: str) -> None:
    """It is as composed otherwise, or left out where that would be below the least scale."""
    plan = made.EVERY[name]()
    measures = Measures(plan)
    outcomes = set()
    for board in plan.boards:
        for layout in board.layouts:
            for room in ((250.0, 250.0), (400.0, 500.0)):
                whole = compose(layout, board, measures, *room)
                for share in (0.9, 1.1):
                    found = compose_at_least(layout, board, measures, room, whole.scale * share)
                    narrow = whole.gutters == NARROW  # nothing stands in the gutter
                    expected = whole if share < 1 or narrow else None
                    assert found == expected
                    outcomes.add(found is None)
    assert False in outcomes  # something was composed


def _said(items: Sequence[Item]) -> list[str]:
    return [text for item in items if isinstance(item, Line) for _, text, _ in item.cells]


def _free_below(shown: Arrangement) -> float:
    gutters = shown.composed.gutters
    return shown.drawing.height - gutters.top - shown.composed.sheet.height - gutters.bottom


class TestCutList:
    """What stands in the rows."""

    def test_a_row_gives_setting_edge_and_parts(self) -> None:
        """Cut 1 of L2: 16 1/8 in from the top, 32 x 40 into 16 1/8 and 23 7/8 high."""
        # 40 - 16 1/8 = 23 7/8
        found = texts(pages(made.usual())[2])
        assert typeset("16 1/8") in found
        # No label of L2 is a letter but B, so the sheet is A and its parts are C and D.
        assert "top, 32" in found
        assert "↺ A 32 × 40 →" in found
        assert "C 32 × 16 1/8 + D 32 × 23 7/8" in found

    def test_a_finished_part_is_named(self) -> None:
        """Cut 4 of L2 leaves piece B and a scrap."""
        found = texts(pages(made.usual())[2])
        assert "B + scrap 11 × 9 7/8" in found

    def test_a_setting_between_two_marks_is_marked_and_told_exactly(self) -> None:
        """213/32 in is 6 21/32 in: between marks of 1/16, shown as 6 11/16; exactly 6.65625."""
        found = texts(pages(made.sixty())[1])
        assert typeset("≈6 11/16") in found
        # 6 11/16 is 6.6875: the setting lies 0.03125 under the mark.
        assert "exactly 6.65625 (−0.03125)" in found

    def test_a_setting_on_a_mark_has_no_sign(self) -> None:
        """20 in is on every rule, so nothing is said to be exact."""
        found = texts(pages(made.halves())[1])
        assert "20" in found
        assert not [text for text in found if text.startswith(("≈", "exactly"))]

    def test_a_run_of_equal_cuts_has_one_row(self) -> None:
        """Twelve strips cut eleven times each: what is taken, how often, and what comes of it."""
        whole = made.tickets(12, 12)
        board = whole.boards[0]
        shown = arrange(board.layouts[0], board, Measures(whole), landscape=False)
        one, other = rows_of(shown)
        # 24 x 36 in into 12 strips of 2 x 36, and each of these into 12 tickets of 2 x 3
        assert (one.name, one.setting, one.ticks) == ("1–11", "2", 2)
        # Every cut but the last frees a strip and a part that is cut again: B and C, D and E ...
        told = (
            "A 24 × 36, 11 times → 12 of 2 × 36 in between: C, E, G, J, L, N, Q, S, U, W"
            " 2 × 36: B, D, F, H, K, M, P, R, T, V, X, Y No way back from this cut on."
        )
        assert " ".join(one.detail) == told
        assert (other.name, other.setting, other.moved) == ("12–143", "3", True)
        # each strip is cut 11 times, so 10 parts come of it that are cut again
        told = "↺ 12 of 2 × 36, each 11 times → 144 of ticket in between, 120 letters, see cuts.csv"
        assert " ".join(other.detail) == told

    def test_a_run_gives_the_letters_of_the_parts_in_between(self) -> None:
        """Which letters there are on the way, and at last.

        A is cut into strips of 2 in, B, D, F and the last, G, with C and E on the way. Then each
        strip is cut into four, by turns, with two parts on the way.
        """
        whole = made.tickets(4, 4)
        board = whole.boards[0]
        shown = arrange(board.layouts[0], board, Measures(whole), landscape=False)
        one, other = rows_of(shown)
        assert "in between: C, E 2 × 12: B, D, F, G" in " ".join(one.detail)
        told = " ".join(other.detail)
        # Letters without I and O fall to the strips by turns.
        assert "in between, of B: H, M; of D: J, N; of F: K, P; of G: L, Q" in told

    def test_the_drawing_shows_the_letter_at_every_cut_of_a_run(self) -> None:
        """Where there is room, each of fifteen cuts has its arrow and the letter of its part."""
        whole = made.tickets(4, 4)
        board = whole.boards[0]
        shown = arrange(board.layouts[0], board, Measures(whole), landscape=False).composed
        told = instructions(board.layouts[0], board, whole)
        assert {tag.letter for tag in shown.tags} == {one.part for one in told}

    def test_letters_that_follow_one_another_are_given_by_their_ends(self) -> None:
        """Of six letters N to T without O, and of two apart, only the first are drawn together."""
        places = {letter: place for place, letter in enumerate("ABCNPQRST")}
        assert list(_ranges("NPQRST", places)) == ["N–T"]
        assert list(_ranges("ABN", places)) == ["A", "B", "N"]

    def test_few_cuts_stand_singly(self) -> None:
        """Twelve equal pieces, 11 cuts, are followed one by one."""
        whole = made.tickets(3, 4)
        layout = whole.boards[0].layouts[0]
        assert [run.name for run in runs(layout, 0)] == [str(n) for n in range(1, 12)]

    def test_a_run_whose_parts_are_not_cut_alike_is_divided(self) -> None:
        """Of two strips one is cut 20 times and the other 19: each time both are cut is a run."""
        # Cut 1 gives two strips; 2-3, 4-5 ... 38-39 each cut both, and 40 the first once more.
        whole = made.uneven()
        names = [run.name for run in runs(whole.boards[0].layouts[0], 0)]
        assert names == ["1", *(f"{n}–{n + 1}" for n in range(2, 40, 2)), "40"]

    def test_parts_cut_one_after_another_share_rows_with_those_cut_as_often(self) -> None:
        """The strips one after the other: the first 20 times, the other 19, are two rows."""
        whole = made.uneven()
        board = whole.boards[0]
        (layout,) = board.layouts
        halved, *across = layout.cuts
        across.sort(key=lambda cut: (cut.start, cut.at))
        cuts = [replace(cut, number=number) for number, cut in enumerate((halved, *across), 1)]
        layout = replace(layout, cuts=tuple(cuts))
        board = replace(board, layouts=(layout,))
        whole = replace(whole, boards=(board,))
        assert [run.name for run in runs(layout, 0)] == ["1", "2–21", "22–40"]
        words = row_words(layout, board, Measures(whole), Legend(1.0, ()))
        assert [one.whole for one in words[1:]] == [
            "↺ B 16 × 40, 20 times", "↺ C 16 × 40, 19 times"
        ]  # fmt: skip

    def test_a_long_label_is_named_by_its_mark(self) -> None:
        """Labels alike at both ends are told apart in the rows, by mark or in full."""
        long = "Exhibition piece no. {} for the long corridor, north wall"
        tree = X(8, P(long.format("01")), X(8, P(long.format("02")), P(long.format("03"))))
        whole = made.plan(made.board(made.layout(tree, 512, 640)))
        board = whole.boards[0]
        shown = arrange(board.layouts[0], board, Measures(whole), landscape=False)
        marks = {key.title: key.mark for key in shown.composed.legend.keys}
        first, second = rows_of(shown)
        assert marks[long.format("01")] in " ".join(first.detail)
        told = " ".join(second.detail)
        assert marks[long.format("02")] in told
        assert long.format("03") in told

    def test_a_box_to_tick_for_each_of_two_copies(self) -> None:
        """A layout cut twice has two boxes at each cut; one cut forty times has one."""
        ticks = {}
        for name, whole, page in (("two", made.halves(), 1), ("forty", made.many(), 40)):
            squares = [
                one
                for one in pages(whole)[page].artists
                if type(one) is Rectangle and one.get_width() == one.get_height()
            ]
            ticks[name] = len(squares)
        assert ticks == {"two": 2, "forty": 3}  # one cut twice; three cuts, one box each

    def test_a_repeated_setting_is_not_bold(self) -> None:
        """Of the three cuts of L1, set to 20, 16 and 16 in, only the last needs no new setting."""
        whole = made.usual()
        board = whole.boards[0]
        shown = arrange(board.layouts[0], board, Measures(whole), landscape=False)
        assert [(row.setting, row.moved) for row in rows_of(shown)] == [
            ("20", True),
            ("16", True),
            ("16", False),
        ]


class TestCover:
    """What the cover says."""

    def test_it_says_what_to_take(self) -> None:
        """Sheets are counted by size, offcuts named by what is pencilled on them."""
        found = texts(pages(made.usual())[0])
        assert "4 full sheets, 32 × 40 in" in found
        assert "offcut 7, 14 × 32 in" in found

    def test_it_says_what_is_left_and_made(self) -> None:
        """Offcuts, slip sheets and pieces are listed; layouts with their page and copies."""
        found = texts(pages(made.usual())[0])
        assert "1 offcut, 21 × 23 7/8 in, from L2" in found
        assert "1 slip sheet, 12 × 16 1/8 in, from L2" in found
        assert "12 × A, mat 16 × 20" in found
        assert "L1 (page 2), 3 times, from sheet 32 × 40 in: 4 × A" in found

    def test_it_repeats_the_notes(self) -> None:
        """What was assumed stands on the cover."""
        found = texts(pages(made.usual())[0])
        assert "Board 'white foam 3/16' is taken to be sold in 32 x 40 in sheets." in found

    @pytest.mark.parametrize(
        ("whole", "knife", "saw"),
        [(made.usual(), True, False), (made.sawn(), False, True)],
        ids=["knife", "saw"],
    )
    def test_cautions_fit_the_tool(self, whole: Plan, knife: bool, saw: bool) -> None:
        """A knife's dangers are told where there is a knife, a saw's where there is a kerf."""
        found = texts(pages(whole)[0])
        assert ("With a knife" in found) is knife
        assert ("With a saw" in found) is saw
        assert any("local rules come first" in text for text in found)

    def test_forty_layouts_and_sixty_pieces_run_over(self) -> None:
        """A cover that is too long goes on, and the pages it names are still right."""
        found = pages(made.many())
        assert "continued" in texts(found[1])
        (told,) = (text for text in texts(found[0]) if text.startswith("L40 "))
        page = int(re.search(r"page (\d+)", told)[1])  # type: ignore[index]
        assert "L40" in texts(found[page - 1])
        assert "Cut 40 of these" in texts(found[page - 1])

    def test_long_labels_have_a_line_each(self) -> None:
        """Beside a label of 40 letters each of a layout's labels stands by itself, not in a row."""
        long = "Evening class: prints from linoleum cuts"
        found = []
        for label in (long, long[:13]):
            tree = X(256, P(label), P("B"))
            whole = made.plan(made.board(made.layout(tree, 512, 640)))
            found.append(texts(pages(whole)[0]))
        assert {long, "B", "L1 (page 2), once:"} <= set(found[0])
        assert "L1 (page 2), once: Evening class, B" in " ".join(found[1])

    def test_many_leftovers_are_totalled(self) -> None:
        """Twelve layouts that leave offcuts of twelve sizes have them added up on the cover."""
        # L1 is cut once and L2 to L12 twice: 1 + 11 x 2 = 23; the largest is 32 x (40 - 1) in
        layouts = [
            made.layout(Y(16 * n, P(f"P{n}"), W(LeftoverKind.OFFCUT)), 512, 640, id=f"L{n}",
                        copies=1 if n == 1 else 2)
            for n in range(1, 13)
        ]  # fmt: skip
        found = texts(pages(made.plan(made.board(*layouts)))[0])
        assert "23 offcuts of 12 sizes, up to 32 × 39 in" in found
        assert not [text for text in found if "from L" in text]
        listed = texts(pages(made.plan(made.board(*layouts[:9])))[0])
        assert "1 offcut, 32 × 39 in, from L1" in listed

    def test_smaller_type_is_taken_where_it_saves_a_page(self) -> None:
        """A cover a few lines too long for a page is set smaller, on one page."""
        quarter = row([row([P("A"), P("B")], 256, X, None)] * 2, 320, Y, None)
        sizes = {}
        for number in (3, 29):
            layouts = (made.layout(quarter, 512, 640, id=f"L{n}") for n in range(number))
            found = pages(made.plan(made.board(*layouts)))
            assert len(found) == 1 + number + 1  # and the checklist
            (told,) = (one for one in found[0].findobj(Text) if one.get_text().startswith("L1 "))
            sizes[number] = type_size(told)
        assert sizes == {3: 10.5, 29: 9.5}

    def test_cautions_stay_together(self) -> None:
        """No page of the cover ends within the cautions for one tool."""
        for whole in (made.usual(), made.sixty(), made.sawn(), made.many()):
            audited = made.audited(whole)
            pages_ = [
                1 + number for board in whole.boards for number, _ in enumerate(board.layouts)
            ]
            covers = cover_pages(audited, pages_, landscape=False)
            for caution in cautions(whole):
                found = {
                    number
                    for number, page in enumerate(covers)
                    for column in page
                    for text in [" ".join(_said(column))]
                    if caution.in_full[0][:20] in text or caution.in_full[-1][:20] in text
                }
                assert len(found) == 1

    def test_it_can_be_drawn_on_a_figure_of_ones_own(self) -> None:
        """draw_cover fills a letter page with what the first page of the PDF says."""
        figure = Figure(figsize=(8.5, 11))
        draw_cover(figure, made.audited(made.usual()))
        assert texts(figure) == texts(pages(made.usual())[0])

    def test_a_plan_cut_short_says_so(self) -> None:
        """A plan stopped by hand is marked as such."""
        stopped = replace(made.usual(), stopped=Stop.INTERRUPTED)
        assert any("stopped by hand" in text for text in texts(pages(stopped)[0]))


class TestLabels:
    """Labels that a drawing may trip over."""

    def test_no_formula_is_read_into_a_label(self) -> None:
        """Dollars, underscores, carets and backslashes are shown as they are."""
        found = texts(drawn(made.odd_labels())[0])
        for label in ("$x_1$", "a_b^c", r"C:\frac{1}{2}", "50% <b>&amp;"):
            assert label in found

    def test_a_sign_that_the_face_lacks_is_keyed_by_its_code_point(self) -> None:
        """The drawing shows a mark, the key the code points, so that labels stay distinct."""
        figure, shown = drawn(made.odd_labels())
        assert {"▯▯▯ (U+6D77 U+306E U+5BB6)", "▯ x (U+1F5BC)"} <= {
            k.title for k in shown.legend.keys
        }
        assert {"#1", "#2"} <= set(texts(figure))

    @pytest.mark.parametrize(
        ("labels", "sign"),
        [([], "#"), (["A", "no. #1"], "#"), (["#1"], "*"), ([" #", "*2", "§"], "¶"),
         (["#", "*", "§", "¶"], "##")],
    )  # fmt: skip
    def test_marks_begin_as_no_label_does(self, labels: list[str], sign: str) -> None:
        """The first sign that begins no label of the order is taken, or two of it."""
        assert mark_sign(labels) == sign

    def test_a_label_like_a_mark_changes_the_marks(self) -> None:
        """With a piece called #1, what is too thin is marked *1, even on another board."""
        thin = made.layout(X(2, W(), P("A")), 512, 640)
        other = made.board(made.layout(P("#1"), 512, 640), name="other")
        marks = {}
        for number, boards in enumerate(((made.board(thin),), (made.board(thin), other))):
            found = texts(pages(made.plan(*boards))[1])
            marks[number] = {mark for mark in ("#1", "*1") if mark in found}
        assert marks == {0: {"#1"}, 1: {"*1"}}

    def test_elided_text_keeps_both_ends(self) -> None:
        """The middle goes, and what is left fits; a text that fits is left alone."""
        text = "warm white rag 4-ply, lot 2231"
        short = elide(text, 100, 9)
        begun, ended = short.split("…")
        assert text.startswith(begun)
        assert text.endswith(ended)
        assert "2231" in ended
        assert width(short, 9) <= 100
        assert elide(text, 400, 9) == text

    def test_clean_leaves_one_line(self) -> None:
        """Line breaks, tabs and invisible marks go; other signs stay."""
        assert clean(" two\n\tlines\u200f\x07 ½ ") == "two lines ½"

    def test_sizes_after_a_hebrew_label_stay_in_order(self) -> None:
        """A mark after the label keeps what follows from being read right to left."""
        assert in_order("A + 16 × 20") == "A + 16 × 20"
        assert in_order("\u05d0\u05d1 16 × 20") == "\u200e\u05d0\u05d1\u200e 16 × 20"

    def test_a_long_label_is_cut_off_with_an_ellipsis(self) -> None:
        """What is left is no wider than the limit."""
        short = shorten("a label of many more words than will fit", 80, 9)
        assert short.endswith("…")
        assert width(short, 9) <= 80

    def test_wrapped_lines_fit_and_lose_nothing(self) -> None:
        """Words go to the next line whole; a word wider than the line is broken."""
        text = "a label with an unreasonablylongwordthatnolinecanhold in it"
        lines = wrap(text, 60, 9)
        assert all(width(line, 9) <= 60 for line in lines)
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")

    def test_a_size_is_broken_only_where_no_line_holds_it(self) -> None:
        """Of 100 points each line takes whole sizes; of 30 it takes what it can."""
        text = "take 2 × M34, 16 1/8 × 20 1/2, 3 × M35"
        assert wrap(text, 100, 9) == ("take 2 × M34,", "16 1/8 × 20 1/2,", "3 × M35")
        assert all(width(line, 9) <= 30 for line in wrap(text, 30, 9))

    @pytest.mark.parametrize(
        ("plain", "set_small"),
        [("16", "16"), ("16 1/8", "16\u2009¹⁄₈"), ("1/16 × 20 15/32", "¹⁄₁₆ × 20\u2009¹⁵⁄₃₂"),
         ("≈6 11/16", "≈6\u2009¹¹⁄₁₆"), ("100.3", "100.3")],
    )  # fmt: skip
    def test_fractions_are_set_small(self, plain: str, set_small: str) -> None:
        """Fractions take raised and lowered figures; the rest stays."""
        assert typeset(plain) == set_small

    def test_exact_decimals(self) -> None:
        """What no short decimal holds is given as a fraction instead."""
        thirds = replace(made.usual(), step=Length(Fraction(254, 30)))  # 1/3 in
        assert Measures(made.sixty()).exact(213) == "6.65625"
        assert Measures(made.sixty()).exact(212) == ""
        assert Measures(thirds).exact(1) == "1/3"

    def test_a_millimetre_rule(self) -> None:
        """1003 tenths of a millimetre are about 100 on a millimetre rule."""
        whole = made.odd_labels()
        assert whole.unit is Unit.MILLIMETRE
        assert Measures(whole).length(1003) == "≈100"
        assert Measures(whole).exact(1003) == "100.3"


class TestFlow:
    """Columns of things that follow one another."""

    def test_a_heading_goes_with_what_it_heads(self) -> None:
        """A heading that would stand last goes over to the next column."""
        head = Line(((0, "Heading", True),), 10, with_next=True)
        lines = [Line(((0, str(number), False),), 10) for number in range(3)]
        # lines are 12.2 high: two fit 30, and the heading would be the second
        first, second, rest = flow([lines[0], head, *lines[1:]], [30, 40])
        assert first == [lines[0]]
        assert second == [head, *lines[1:]]
        assert rest == []

    def test_no_line_of_a_paragraph_stands_alone(self) -> None:
        """Of five lines neither the first nor the last is parted from its neighbour."""
        lines = paragraph("a b c d e", 5, 9)  # a letter a line, each 9 x 1.22 high
        assert [line.with_next for line in lines] == [True, False, False, True, False]
        first, second, rest = flow(lines, [4 * 10.98, 100])  # four would fit
        assert (len(first), len(second), rest) == (3, 2, [])

    def test_a_last_page_of_a_few_lines_takes_some_from_the_page_before(self) -> None:
        """Of 42 lines, 40 to a page, the first takes 38, 95 % of its room; of 44 it takes 40."""
        line = Line(((0.0, "x", False),), 10)
        for number, first in ((42, 38), (44, 40), (40, 40)):
            found = paged([line] * number, [40 * line.height])
            assert [len(page[0]) for page in found] == [n for n in (first, number - first) if n]
        assert paged([], [100]) == [[[]]]

    def test_a_column_does_not_begin_with_a_gap(self) -> None:
        """A gap at the top of a column is left out."""
        line = Line(((0, "x", False),), 10)
        assert flow([Gap(5), line], [30])[0] == [line]

    def test_an_item_too_high_for_any_column_is_placed_all_the_same(self) -> None:
        """Nothing is lost, and nothing goes round for ever."""
        line = Line(((0, "x", False),), 100)
        assert flow([line, line], [30, 30]) == [[line], [line], []]

    def test_what_must_stay_together_and_fits_nowhere_is_divided(self) -> None:
        """A heading of many lines, higher than any column, still comes to an end."""
        heads = [Line(((0, "x", False),), 10, with_next=True)] * 9
        columns = flow(heads, [30, 30])
        assert columns == [[], heads[:1], heads[1:]]

    @pytest.mark.parametrize(
        ("rows", "marks", "heights", "columns"),
        [
            (20, 7, (100, 100), [10, 3 + 7, 7]),  # cuts above the key, as many as have room
            (20, 10, (100, 100), [10, 10, 10]),  # a column of its own, filled
            (20, 12, (100, 100), [8 + 2, 10, 12]),  # more than one column, the first shared
            (3, 7, (100,), [3 + 7, 0]),
            (9, 10, (100,), None),  # no room for a single cut
        ],
    )
    def test_cuts_take_all_the_room_before_the_key(
        self, rows: int, marks: int, heights: tuple[int, ...], columns: list[int] | None
    ) -> None:
        """Where the list goes on, what the marks mean stays on the drawing's own page, last."""
        high = 10 / LEADING
        items = [Line(((0, "row", False),), high)] * rows
        key = [Line(((0, "key", True),), high, with_next=True)]
        key += [Line(((0, "mark", False),), high)] * (marks - 1)
        found = _key_last(items, key, heights)
        assert (None if found is None else [len(one) for one in found]) == columns
        if found is not None:
            kept = [item for column in found[:-1] for item in column]
            assert kept[-marks:] == key
            assert kept[:-marks] + found[-1] == items

    def test_a_paragraph_is_marked_once(self) -> None:
        """The mark stands before the first line only."""
        lines = paragraph("some words that take two lines or more", 80, 9, indent=10, mark="–")
        assert len(lines) > 1
        assert [len(line.cells) for line in lines] == [2, *[1] * (len(lines) - 1)]


class TestFiles:
    """The files that are written."""

    def test_the_pdf_has_every_page_and_embeds_its_type(self, tmp_path: Path) -> None:
        """Type 42 fonts are embedded, each face once, and there is no date."""
        written = draw_pdf(made.audited(made.usual()), tmp_path / "a.pdf").read_bytes()
        assert written.startswith(b"%PDF-")
        assert len(re.findall(rb"/Type /Page\b", written)) == 7
        assert len(re.findall(rb"/Subtype /CIDFontType2", written)) == 2
        assert b"CreationDate" not in written
        assert b"/Creator (kerfwright 0.1.0)" in written

    def test_the_same_plan_gives_the_same_bytes(self, tmp_path: Path) -> None:
        """PDF, PNG and SVG are repeatable."""
        audited = made.audited(made.halves())
        once, again = tmp_path / "once", tmp_path / "again"
        for folder in (once, again):
            folder.mkdir()
            draw_pdf(audited, folder / "cut-sheets.pdf")
            draw_images(audited, folder, "png")
            draw_images(audited, folder, "svg")
        names = sorted(path.name for path in once.iterdir())
        assert names == [
            "cut-sheets-01.png", "cut-sheets-01.svg", "cut-sheets-02.png", "cut-sheets-02.svg",
            "cut-sheets-03.png", "cut-sheets-03.svg", "cut-sheets.pdf",
        ]  # fmt: skip
        for name in names:
            assert (once / name).read_bytes() == (again / name).read_bytes()

    def test_images_are_named_page_by_page(self, tmp_path: Path) -> None:
        """The paths come back in the order of the pages, and say who wrote them."""
        paths = draw_images(made.audited(made.halves()), tmp_path, "svg")
        assert [path.name for path in paths] == [f"cut-sheets-0{n}.svg" for n in (1, 2, 3)]
        assert all("<dc:title>kerfwright 0.1.0: Harbour" in path.read_text() for path in paths)

    def test_own_settings_of_matplotlib_change_nothing(self, tmp_path: Path) -> None:
        """A person's own fonts and styles leave the page as it is."""
        audited = made.audited(made.halves())
        plain = draw_pdf(audited, tmp_path / "plain.pdf").read_bytes()
        own = {"font.family": "serif", "text.usetex": True, "pdf.fonttype": 3, "lines.linewidth": 9,
               "hatch.linewidth": 4, "savefig.bbox": "tight", "axes.facecolor": "red",
               "figure.facecolor": "red", "lines.marker": "x"}  # fmt: skip
        with mpl.rc_context(mpl.RcParams(own)):
            assert draw_pdf(audited, tmp_path / "own.pdf").read_bytes() == plain

    def test_a_failed_page_leaves_the_old_file(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """What stood there is untouched, and nothing half-written is left beside it."""
        target = tmp_path / "cut-sheets.pdf"
        target.write_text("old")

        def broken(*_: object, **__: object) -> None:
            raise RuntimeError("no")

        monkeypatch.setattr("kerfwright.drawings.pages.put_title", broken)
        with pytest.raises(RuntimeError, match="no"):
            draw_pdf(made.audited(made.usual()), target)
        assert target.read_text() == "old"
        assert [path.name for path in tmp_path.iterdir()] == ["cut-sheets.pdf"]

    def test_no_window_toolkit_is_loaded(self) -> None:
        """Drawing needs no pyplot, which would keep figures and may open windows."""
        code = (
            "import sys, kerfwright.drawings;"
            "print([m for m in sys.modules if m in ('matplotlib.pyplot', 'tkinter', 'ortools')])"
        )
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
        assert done.stdout.strip() == b"[]"

    def test_words_alone_load_no_matplotlib(self) -> None:
        """The lengths and the audit can be used without paying for drawings."""
        code = "import sys, kerfwright.audit.facts; print('matplotlib' in sys.modules)"
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
        assert done.stdout.strip() == b"False"


class TestAfterTheLayouts:
    """The checklist of settings and the labels for what is kept."""

    @staticmethod
    def benched_pages() -> list[Figure]:
        """Draw a plan with an order of cuts and every side's error, as the audit passed it."""
        return list(draw_pages(audit_plan(benched()), Paper.LETTER))

    def test_the_checklist_has_each_setting_with_its_cuts(self) -> None:
        """Two settings, 20 for cuts 1 and 2, 16 for cuts 3 and 4, and no order takes fewer."""
        found = texts(self.benched_pages()[2])
        assert "The stop, setting by setting" in found
        assert [text for text in found if text in {"20", "16"}] == ["20", "16"]
        assert [text for text in found if text[:3] == "L1:"] == ["L1: cuts 1–2", "L1: cuts 3–4"]
        told = " ".join(found)
        assert "2 settings of the stop" in told
        assert "3 quarter turns and 3 lifts of parts; these parts need at least 3 and 2" in told
        assert "takes fewer." in " ".join(found)

    def test_pencil_marks_say_how_far_they_are(self) -> None:
        """With a reach of 15 in nothing is set by the stop: cuts 1 and 2 lie at 20, 3 and 4 at 16.

        Cuts that follow one another at the same distance are named together.
        """
        plan = benched()
        board = plan.boards[0]
        assert board.cutting is not None
        steps = tuple(replace(one, setting=None) for one in board.cutting.steps)
        cutting = replace(board.cutting, settings=0, settings_lower_bound=0, steps=steps)
        changed = replace(board, tool=replace(board.tool, reach=kw.Length.of(15, Unit.INCH)),
                          cutting=cutting)  # fmt: skip
        audited = audit_plan(replace(plan, boards=(changed,)))
        found = " ".join(texts(list(draw_pages(audited, Paper.A4))[2]))
        assert "pencil L1: cuts 1–2 at 20, cuts 3–4 at 16" in found

    def test_the_checklist_of_a_long_job_is_one_page(self) -> None:
        """Forty layouts, or sixty sizes, have their settings on a single page."""
        for whole in (made.many(), made.sixty()):
            heads = [text for page in pages(whole) for text in texts(page)
                     if text.startswith("The stop, setting by setting")]  # fmt: skip
            assert len(heads) == 1

    def test_a_long_setting_leaves_room_for_its_cuts(self) -> None:
        """No two texts of the checklist overlap, as a renderer measures them."""
        for whole in (made.sixty(), made.odd_labels(), made.many()):
            page = next(p for p in pages(whole) if "The stop, setting by setting" in texts(p))
            boxes = [box for _, box in measured(page)]
            assert not [pair for pair in combinations(boxes, 2) if pair[0].grown(-1).meets(pair[1])]

    def test_each_offcut_has_a_label(self) -> None:
        """An offcut and a slip sheet are labelled with board, size and layout, scrap is not."""
        whole = made.usual()
        kept = [left for facts in made.audited(whole).facts for left in facts.left
                if left.kind in (LeftoverKind.OFFCUT, LeftoverKind.SLIP_SHEET)]  # fmt: skip
        found = texts(pages(whole)[-1])
        origins = [text for text in found if "from L" in text]
        assert len(origins) == sum(left.count for left in kept) > 0
        assert not [text for text in found if text.startswith("scrap")]

    def test_nothing_kept_needs_no_labels(self) -> None:
        """A sheet cut into halves leaves nothing, so the checklist is the last page."""
        assert "The stop, setting by setting" in texts(pages(made.halves())[-1])

    def test_the_cover_says_how_exact_and_what_to_square(self) -> None:
        """207/160 mm is 0.0509 in, twice that 0.1019, both rounded up; no trim, so square first."""
        told = " ".join(texts(self.benched_pages()[0]))
        assert "Sides set by the stop come out within 0.051 in." in told
        assert "Sides left over come out within 0.102 in." in told
        assert "Square a long edge of each sheet first" in told
        assert "its measured size when its edges are square" in told

    def test_a_measured_sheet_is_named_as_it_is_sold(self) -> None:
        """Sold as 32 x 40 in, it measures 40 1/2 high; the head of its page says both."""
        head = " ".join(texts(self.benched_pages()[1]))
        assert "full sheet 32 × 40 in, measured 32 × 40\u2009¹⁄₂" in head


class TestAtTheBench:
    """What a page says at each cut."""

    def test_turns_letters_and_what_to_measure(self) -> None:
        """The sheet is turned to its top edge; D is cut as it lies; A2 is what is left of 32 in.

        It may be off by 207/80 mm, which is 0.10187 in, rounded up.
        """
        plan = benched()
        board = plan.boards[0]
        shown = arrange(board.layouts[0], board, Measures(plan), landscape=False)
        first, second, third, _ = rows_of(shown)
        assert (first.edge, first.commits) == ("top, 32", True)
        assert " ".join(first.detail).startswith("↺ B 32 × 40 1/2 → C 32 × 20 + D 32 × 20 1/2")
        assert " ".join(second.detail) == "D 32 × 20 1/2 → E 32 × 20 + scrap 32 × 1/2"
        assert " ".join(third.detail) == (
            "↻ C 32 × 20 → A1 + A2 measure A2: should be 16 wide ±0.102"
        )

    def test_pieces_have_the_same_names_on_the_drawing(self) -> None:
        """What the list numbers, A1 and A2, the drawing numbers; so is a piece labelled scrap."""
        plan = benched()
        (board,) = plan.boards
        assert {"A1", "A2", "A3", "A4"} <= set(texts(pages(plan)[1]))
        (layout,) = board.layouts
        named = replace(
            plan,
            boards=(
                replace(
                    board,
                    ordered=tuple(replace(line, label="scrap") for line in board.ordered),
                    certificate=values(scrap="1296"),
                    layouts=(
                        replace(
                            layout,
                            pieces=tuple(replace(one, label="scrap") for one in layout.pieces),
                        ),
                    ),
                ),
            ),
        )
        assert {"scrap1", "scrap2", "scrap3", "scrap4"} <= set(texts(pages(named)[1]))

    def test_what_to_measure_is_told_exactly_where_the_rule_cannot_show_it(self) -> None:
        """On a rule marked every 3 in, what should be 16 wide reads ≈15, exactly 16."""
        plan = replace(benched(), rule=Length(Fraction(3 * 254, 10)))
        board = plan.boards[0]
        shown = arrange(board.layouts[0], board, Measures(plan), landscape=False)
        told = " ".join(rows_of(shown)[2].detail)
        assert told.endswith("measure A2: should be ≈15 wide, exactly 16 ±0.102")

    @pytest.mark.parametrize("squares", ["true", "false"])
    def test_a_trim_finer_than_the_rule_says_how_much(self, squares: str, tmp_path: Path) -> None:
        """A stop cannot be set to nothing: page, list and checklist say by eye, and how much.

        It is not set then: neither is bold.
        """
        order = tmp_path / "fine.toml"
        order.write_text(
            f'unit = "in"\n[[tool]]\nname = "t"\nsquares = {squares}\n'
            '[[board]]\nname = "foam"\nsheets = "32 x 40"\ntrim = { left = "1/64" }\n'
            '[[mat]]\nlabel = "A"\nqty = 1\nsize = "31 63/64 x 40"\nboard = "foam"\n',
            encoding="utf-8",
        )
        plan = make_plan(load_order(order))
        assert isinstance(plan, Plan)
        audited = audit_plan(plan)
        _, page, checklist = (" ".join(texts(one)) for one in draw_pages(audited, Paper.A4))
        assert "≈0" not in page + checklist
        board = plan.boards[0]
        words = row_words(board.layouts[0], board, Measures(plan), Legend(1.0, ()))
        assert [(one.setting, one.moved) for one in words] == [("by eye", False)]
        assert " by eye " in page
        assert "Finer than the rule: from that edge cut off 1/64 in by eye." in page
        assert "trim under 1/16 × 40" in page
        assert "The stop is not used." in checklist
        assert " by eye L1: cut 1, 1/64 in off" in checklist
        assert ",eye,no," in cuts_csv(audited)

    def test_a_sliver_finer_than_the_rule_says_how_much(self, tmp_path: Path) -> None:
        """From the far edge the nearest mark is that of the whole sheet, so the strip is told."""
        order = tmp_path / "fine.toml"
        order.write_text(
            'unit = "in"\n[[board]]\nname = "foam"\nsheets = "32 x 40"\n'
            '[[mat]]\nlabel = "A"\nqty = 1\nsize = "31 63/64 x 40"\nboard = "foam"\n',
            encoding="utf-8",
        )
        plan = make_plan(load_order(order))
        assert isinstance(plan, Plan)
        _, page, checklist = (
            " ".join(texts(one)) for one in draw_pages(audit_plan(plan), Paper.A4)
        )
        assert "≈0" not in page + checklist
        assert "exactly 31.984375 (−0.015625): 1/64 in comes off" in page

    def test_a_thin_strip_is_warned_of_once_a_page(self) -> None:
        """Of a knife's cuts the first that leaves less than 1/2 in says so; a saw's have guards."""
        for kerf, often in ((0, 1), (1, 0)):
            plan = made.slivers()
            board = replace(plan.boards[0], tool=replace(plan.boards[0].tool, kerf=kerf))
            words = row_words(board.layouts[0], board, Measures(plan), Legend(1.0, ()))
            found = [one for row_ in words for one in row_.before if one.startswith("Thin strip")]
            assert len(found) == often

    def test_sides_of_a_piece_to_measure_stand_together(self) -> None:
        """Four 16 x 20 from a sheet that nobody measured: the last has both sides left over."""
        size = kw.parse_size("16 x 20", Unit.INCH)
        mat = kw.Piece("A", kw.PieceKind.MAT, 4, size, "rag")
        sheets = (kw.SheetSize(kw.parse_size("32 x 40", Unit.INCH)),)
        plan = make_plan(kw.Order("show", (mat,), (kw.Board("rag", sheets=sheets),)))
        assert isinstance(plan, Plan)
        board = plan.boards[0]
        words = row_words(board.layouts[0], board, Measures(plan), Legend(1.0, ()))
        assert [row_.after for row_ in words] == [
            (),
            ("measure A2: should be 20 high",),
            ("measure A3: should be 16 wide", "measure A4: should be 16 wide and 20 high"),
        ]

    @pytest.mark.parametrize("marked", [True, False])
    def test_of_two_pieces_called_alike_it_says_which_to_measure(self, *, marked: bool) -> None:
        """A long label is a mark in its row, or loses its number there: then it is which of two."""
        label = "The corridor between the old library and the new hall, second series"
        size = kw.parse_size("16 x 20", Unit.INCH)
        mat = kw.Piece(label, kw.PieceKind.MAT, 4, size, "rag")
        sheets = (kw.SheetSize(kw.parse_size("32 x 40", Unit.INCH)),)
        plan = make_plan(kw.Order("show", (mat,), (kw.Board("rag", sheets=sheets),)))
        assert isinstance(plan, Plan)
        board = plan.boards[0]
        keys = (Key("#1", label, "16 × 20"),) if marked else ()
        words = row_words(board.layouts[0], board, Measures(plan), Legend(1.0, keys))
        assert words[2].after == (
            "measure the first: should be 16 wide",
            "measure the last: should be 16 wide and 20 high",
        )
        assert ("#1" in " ".join(words[2].given)) is marked

    def test_what_the_stop_does_not_reach_says_where_to_mark(self) -> None:
        """With a reach of 19 in, 20 in are marked in pencil at both ends."""
        plan = benched()
        board = plan.boards[0]
        board = replace(board, tool=replace(board.tool, reach=Length(Fraction(19 * 254, 10))))
        shown = arrange(board.layouts[0], board, Measures(plan), landscape=False)
        assert [row.setting for row in rows_of(shown)] == ["mark 20", "mark 20", "16", "16"]
        assert "mark it in pencil at both ends" in " ".join(rows_of(shown)[0].detail)

    def test_an_arrow_points_to_the_stop(self, name: str) -> None:
        """Each arrow stands on the side of its cut where the stop lies, with its part's letter."""
        for shown in composed(name):
            cuts = {stroke.number: stroke for stroke in shown.strokes}
            for tag in shown.tags:
                near = min(
                    cuts.values(),
                    key=lambda s: abs((tag.foot[0] if s.vertical else tag.foot[1]) - s.at)
                    + (0 if (tag.marker in "<>") == s.vertical else 1e6)
                    + (0 if s.start <= (tag.foot[1] if s.vertical else tag.foot[0]) <= s.end
                       else 1e6),
                )  # fmt: skip
                stop = shown.layout.cuts[near.number - 1].stop.value
                assert tag.marker == {"left": "<", "right": ">", "top": "^", "bottom": "v"}[stop]
                off = (tag.foot[0] if near.vertical else tag.foot[1]) - near.at
                assert (off < 0) == (stop in ("left", "top"))

    def test_arrows_and_letters_meet_nothing(self, name: str) -> None:
        """No arrow lies on a label, on a number or on another arrow, nor off the sheet."""
        for shown in composed(name):
            boxes = [tag.box for tag in shown.tags]
            others = [block.box for block in shown.lettered.blocks]
            others += [one.box for one in shown.placed.balloons]
            assert not [pair for pair in combinations(boxes, 2) if pair[0].meets(pair[1])]
            assert not [box for box in boxes for other in others if box.meets(other)]
            assert all(shown.sheet.holds(box) for box in boxes)

    def test_a_run_says_what_to_measure_of_it(self) -> None:
        """The last piece of each strip is left over; so is the width of a strip that was.

        Of a sheet of 32 x 40 come four strips of 8 x 40, and the fourth, G, is what is left. Each
        gives eight pieces of 8 x 5, the last of them left over.
        """
        size = kw.parse_size("8 x 5", Unit.INCH)
        mat = kw.Piece("small", kw.PieceKind.MAT, 32, size, "rag")
        sheets = (kw.SheetSize(kw.parse_size("32 x 40", Unit.INCH)),)
        plan = make_plan(kw.Order("show", (mat,), (kw.Board("rag", sheets=sheets),)))
        assert isinstance(plan, Plan)
        board = plan.boards[0]
        shown = arrange(board.layouts[0], board, Measures(plan), landscape=False)
        told = " ".join(rows_of(shown)[-1].detail)
        assert "measure the last of each: should be 5 high" in told
        assert "measure all of G: should be 8 wide" in told

    def test_pieces_of_a_run_are_measured_each_where_none_is_the_last(self) -> None:
        """Of fourteen strips of 1 x 6 the stop sets an inch of scrap, and leaves a piece of 1 x 5.

        Two of 1 x 3 from each, of which one is set and one left over, have a last one.
        """
        strips = " ".join(_told_of_strips(5, 1))
        assert "measure each: should be 5 high" in strips
        assert "the last of each" not in strips
        assert "measure the last of each: should be 3 high" in " ".join(_told_of_strips(3, 0))

    def test_what_is_measured_of_one_part_is_not_of_each(self) -> None:
        """Sixteen strips come of one sheet, and only the sixteenth is left over."""
        size = kw.parse_size("2 x 10", Unit.INCH)
        mat = kw.Piece("strip", kw.PieceKind.MAT, 16, size, "rag")
        sheets = (kw.SheetSize(kw.parse_size("32 x 10", Unit.INCH)),)
        plan = make_plan(kw.Order("show", (mat,), (kw.Board("rag", sheets=sheets),)))
        assert isinstance(plan, Plan)
        board = plan.boards[0]
        (row_,) = row_words(board.layouts[0], board, Measures(plan), Legend(1.0, ()))
        assert "measure the last: should be 2 wide" in row_.after
        assert not [told for told in row_.after if "each" in told]

    @pytest.mark.parametrize(
        ("named", "taken", "one_each", "told"),
        [
            ("B", 1, False, "the last"),
            ("B", 1, True, "it"),
            ("BC", 2, False, "the last of each"),
            ("BC", 2, True, "each"),
            ("BC", 3, False, "the last of B, C"),
            ("BC", 3, True, "that of B, C"),
            ("BCDE", 5, False, "the last of 4 parts"),
            ("BCDE", 5, True, "that of 4 parts"),
        ],
    )
    def test_of_parts_that_end_in_a_piece_the_last_is_measured(
        self, named: str, taken: int, one_each: bool, told: str
    ) -> None:
        """Where some parts of a run end in waste, the others are named."""
        assert _ones_of(list(named), taken, one_each=one_each) == told

    def test_scrap_and_parts_of_one_size_are_said_to_be_alike(self) -> None:
        """Of 14 strips the first seven are cut again, and the others are scrap."""
        told = " ".join(_told_of_strips(5, 1, scrap=7, row=0))
        assert "scrap and parts of 1 × 6 are alike: take any." in told
        assert "alike" not in " ".join(_told_of_strips(5, 1, row=0))

    def test_a_slip_sheet_of_a_parts_size_is_not_called_scrap(self) -> None:
        """Fifteen strips of 3 x 88 are cut in two, and the sixteenth is left as it is."""
        size = kw.parse_size("3 x 44", Unit.INCH)
        mat = kw.Piece("strip", kw.PieceKind.MAT, 30, size, "rag", turn=False)
        sheets = (kw.SheetSize(kw.parse_size("48 x 88", Unit.INCH)),)
        plan = make_plan(kw.Order("show", (mat,), (kw.Board("rag", sheets=sheets),)))
        assert isinstance(plan, Plan)
        board = plan.boards[0]
        words = row_words(board.layouts[0], board, Measures(plan), Legend(1.0, ()))
        told = [one for row_ in words for one in row_.after if "alike" in one]
        assert told == ["slip sheets and parts of 3 × 88 are alike: take any."]

    def test_rows_say_where_nothing_but_dust_comes_off(self) -> None:
        """A saw shaves the waste beside a piece a blade's width at a time; so says the caution."""
        eighth = Fraction(1, 8)
        saw = kw.Tool("saw", kerf=INCH * eighth, narrowest_strip=INCH * (eighth * 4))
        size = kw.Size(INCH * Fraction(63, 4), INCH * Fraction(79, 4))
        backer = kw.Piece("A", kw.PieceKind.BACKER, 4, size, "hb")
        sheets = (kw.SheetSize(kw.parse_size("32 x 40", Unit.INCH)),)
        boards = (kw.Board("hb", saw, sheets),)
        plan = make_plan(kw.Order("backs", (backer,), boards))
        assert isinstance(plan, Plan)
        board = plan.boards[0]
        shown = arrange(board.layouts[0], board, Measures(plan), landscape=False)
        steps = replay(board.layouts[0], board.tool.kerf).steps
        dust = [None in (step.first, step.second) for step in steps]
        assert set(dust) == {True, False}
        assert ["+ dust" in " ".join(row.detail) for row in rows_of(shown)] == dust
        (caution,) = cautions(plan)
        assert "Where a row says dust" in caution.in_full[-1]


@pytest.mark.parametrize("seed", range(28, 34))
def test_no_leader_runs_beside_a_dimension_line(seed: int) -> None:
    """Into the gutters above and to the left leaders cross the dimension's line, and go on."""
    found = 0
    for one in Job(made.audited(made.scattered(seed))).sheets:
        composed = one.arrangement.composed
        for balloon in composed.placed.balloons:
            if balloon.foot is not None:
                x, y = balloon.box.middle
                away, down = abs(x - balloon.foot[0]), abs(y - balloon.foot[1])
                assert not (y < composed.sheet.top and away > 4 * down)
                assert not (x < composed.sheet.left and down > 4 * away)
                found += 1
    assert found


def test_no_leader_runs_across_the_sheet() -> None:
    """A leader into the gutter crosses no cut but its own, save one along the sheet's very edge."""
    found = 0
    for seed in range(60):
        for one in Job(made.audited(made.scattered(seed))).sheets:
            composed = one.arrangement.composed
            aside = [
                balloon
                for balloon in composed.placed.balloons
                if balloon.foot and balloon.ringed and not composed.sheet.holds(balloon.box)
            ]
            found += len(aside)
            for balloon in aside:
                assert not list(_crossed_within(balloon, composed))
    assert found > 50


def _crossed_within(balloon: Balloon, composed: Composition) -> Iterator[Stroke]:
    """Yield the cuts that a leader crosses more than 8 points within the sheet.

    Where its foot is the end of its own cut, it lies on the one that ends that; so it is looked at
    from 3 points inside its own cut on.
    """
    assert balloon.foot is not None
    first, *last = map(int, balloon.text.split("–"))
    numbers = range(first, (last or [first])[0] + 1)
    foot, ring = balloon.foot, balloon.box.middle
    own = next(one for one in composed.strokes if one.number in numbers and _is_on(foot, one))
    for other in composed.strokes:
        if other is not own and _is_crossed(other, _within_own(own, foot), ring, composed.sheet):
            yield other


def _is_on(point: tuple[float, float], stroke: Stroke) -> bool:
    across, along = point if stroke.vertical else point[::-1]
    return abs(across - stroke.at) < 1e-6 and stroke.start - 1e-6 <= along <= stroke.end + 1e-6


def _within_own(stroke: Stroke, foot: tuple[float, float]) -> tuple[float, float]:
    along = foot[1] if stroke.vertical else foot[0]
    inside = min(3.0, (stroke.end - stroke.start) / 2)
    return stroke.point(min(max(along, stroke.start + inside), stroke.end - inside))


def _is_crossed(
    stroke: Stroke, foot: tuple[float, float], ring: tuple[float, float], sheet: Box
) -> bool:
    """Return whether a straight way crosses a line, looked at in 2000 steps."""
    for step in range(2000):
        here, there = (
            tuple(a + (b - a) * share / 2000 for a, b in zip(foot, ring, strict=True))
            for share in (step, step + 1)
        )
        axis = 0 if stroke.vertical else 1
        if (here[axis] - stroke.at) * (there[axis] - stroke.at) < 0:
            x, y = here
            deep = min(x - sheet.left, y - sheet.top, sheet.right - x, sheet.bottom - y)
            return deep > 8.2 and stroke.start <= here[1 - axis] <= stroke.end
    return False


def _key_of(keys: Sequence[Key], look: Look, room: float) -> list[str]:
    """Return the list On the drawing, line by line, without its heading."""
    layout_ = made.halves().boards[0].layouts[0]
    return _said(key_list(layout_, Legend(1.0, tuple(keys), tagged=False), room, look))[1:]


@pytest.mark.parametrize("look", [USUAL, DENSE])
def test_a_long_label_without_its_size_keeps_to_the_column_in_the_list(look: Look) -> None:
    """It is broken into lines as a title beside a mark is, and its size comes with it."""
    label = "Overdoor frieze for the reading room, west wall, second version"
    legend = Legend(1.0, (Key(label, "", "3 × 44"),), tagged=False)
    items = key_list(made.halves().boards[0].layouts[0], legend, look.narrowest, look)
    for item in items:
        if isinstance(item, Line):
            for left, text, bold in item.cells:
                assert left + width(text, item.size, bold) <= look.narrowest
    assert " ".join(_said(items)[1:]).replace("\u00a0", " ") == f"{label}: 3 × 44"


def test_a_label_that_lies_both_ways_has_both_in_the_list() -> None:
    """Backers of 8 x 10 without their size on the drawing: some lie so, some a quarter round."""
    keys = [Key("B", "", "10 × 8"), Key("#1", "scrap", "4 × 8"), Key("B", "", "8 × 10")]
    assert _key_of(keys, USUAL, 160) == ["#1", "scrap 4 × 8", "B", "10 × 8 or 8 × 10"]
    running = " ".join(_key_of(keys, DENSE, 160)).replace("\u00a0", " ")
    assert running == "#1 scrap 4 × 8; B: 10 × 8 or 8 × 10"


def test_a_number_for_a_label_is_called_a_piece_beside_a_size_or_a_count() -> None:
    """In the list On the drawing, on the cover, and on the drawing itself."""
    keys = [Key("3", "", "3 7/8 × 8"), Key("#1", "12", "2 × 8")]
    assert _key_of(keys, USUAL, 200) == ["#1", "piece 12: 2 × 8", "piece 3", "3 7/8 × 8"]
    quarters = row([row([P("3"), P("3")], 256, X, None)] * 2, 320, Y, None)
    plan = made.plan(made.board(made.layout(quarters, 512, 640)))
    cover, page, *_ = pages(plan)
    assert any(text.endswith("once: 4 × piece 3") for text in texts(cover))
    assert any(text.startswith("4 × piece 3, mat ") for text in texts(cover))
    assert {"3-1", "3-2", "3-3", "3-4"} <= set(texts(page))


SAWN_BEYOND = """
unit = "in"
rule = "1/16"
[[tool]]
name = "bandsaw"
kind = "table saw"
reach = 20
[[board]]
name = "panel"
tool = "bandsaw"
sheets = "{size}"
trim = "1/4"
[[backer]]
label = "Rear"
qty = 4
size = "17 3/32 x 21"
board = "panel"
"""


def _rows_told(size: str, tmp_path: Path, **changes: str) -> tuple[list[RowWords], AuditedPlan]:
    """Return what the rows of the only layout say, and the plan."""
    order = tmp_path / "sawn.toml"
    text = SAWN_BEYOND.format(size=size)
    for old, new in changes.items():
        text = text.replace({"reach": "reach = 20", "kind": "table saw"}[old], new)
    order.write_text(text, encoding="utf-8")
    plan = make_plan(load_order(order))
    assert isinstance(plan, Plan)
    board = plan.boards[0]
    (layout_,) = board.layouts
    told = row_words(layout_, board, Measures(plan), Legend(1.0, ()))
    return list(told), audit_plan(plan)


@pytest.mark.parametrize(("size", "first"), [("48 x 60", "left"), ("60 x 48", "top")])
def test_the_second_trim_is_marked_at_one_end_and_carried_square(
    size: str, first: str, tmp_path: Path
) -> None:
    """As the cover says: the first along a long edge, the second square to that one.

    A mark at both ends would make the second parallel to a factory edge. The page says once on
    which side of a mark the blade runs.
    """
    told, audited = _rows_told(size, tmp_path)
    both = "Beyond the stop: mark it in pencil at both ends."
    beyond = "The blade runs beyond the mark: what was measured keeps its size."
    carried = f"{both[:-10]}one end, and carry it square to the {first} edge."
    assert told[0].before == (both, beyond)
    assert told[1].before == (carried,)
    assert all(one not in row_.before for row_ in told[2:] for one in (both, beyond, carried))
    rows_ = list(csv.DictReader(io.StringIO(cuts_csv(audited).lstrip("\ufeff"))))
    # After a mark at one end the next one says that it is made at both, and no other does.
    marks = [row_ for row_ in told if row_.setting.startswith("mark")]
    assert len(marks) > 3
    again = "Mark it at both ends."
    assert [again in row_.before for row_ in marks] == [number == 2 for number in range(len(marks))]
    heed = [row_["heed"] for row_ in rows_]
    assert heed[:2] == [
        "the blade beyond the mark", f"square to the {first} edge; the blade beyond the mark"
    ]  # fmt: skip
    assert all((one == "the blade beyond the mark") is (row_["set by"] == "pencil marks")
               for one, row_ in zip(heed[2:], rows_[2:], strict=True))  # fmt: skip


def test_a_trim_by_the_stop_is_told_to_be_square_and_a_knife_has_no_kerf(tmp_path: Path) -> None:
    """With a stop that reaches nothing is marked; with a knife a mark has no side."""
    told, _ = _rows_told("48 x 60", tmp_path, reach="reach = 90")
    assert [row_.before for row_ in told[:2]] == [
        (), ("Make it square to the left edge, by the squaring arm or a try square.",)
    ]  # fmt: skip
    told, _ = _rows_told("48 x 60", tmp_path, kind="wall cutter")
    said = " ".join(one for row_ in told for one in row_.before)
    assert "pencil" in said
    assert "blade" not in said


def test_the_checklist_gives_the_exact_setting_beside_one_between_two_marks(
    tmp_path: Path,
) -> None:
    """17 3/32 on a rule of sixteenths: the cover says that the exact one stands beside it."""
    _, audited = _rows_told("48 x 60", tmp_path)
    checklist = next(" ".join(texts(one)) for one in draw_pages(audited, Paper.LETTER)
                     if "setting by setting" in " ".join(texts(one)))  # fmt: skip
    found = re.search(r"≈17.¹⁄₈ exactly 17.09375 \(−0.03125\) L1: cut", checklist)
    assert found, checklist


def _told_of_strips(high: int, waste: int, *, scrap: int = 0, row: int = -1) -> list[str]:
    """Return what a row says of 14 strips of 1 in, each cut in two, but for some that are scrap.

    What comes of each is a piece so high, and below it either some waste or another such piece.
    """
    whole = high + (waste or high)
    steps = [f"x {at} 0 {whole} 1 left" for at in range(1, 14)]
    cut = range(14 - scrap)
    steps += [f"y {high} {at} {at + 1} {waste or high} bottom" for at in cut]
    pieces = [
        replace(piece_at("A", at, 0, 1, high), down=Made(MadeBy.LEFT_OVER, None)) for at in cut
    ]
    if not waste:
        by_stop = Made(MadeBy.STOP, None)
        pieces += [replace(piece_at("A", at, high, 1, high), down=by_stop) for at in cut]
    rest = [left_at("scrap", at, high, 1, waste) for at in cut if waste]
    rest += [left_at("scrap", at, 0, 1, whole) for at in range(14 - scrap, 14)]
    layout = Layout("L1", 1, sheet_of(14, whole), tuple(pieces), tuple(rest), cuts(*steps))
    plan = replace(with_board(agreed(), layouts=(layout,)), step=INCH)
    board = plan.boards[0]
    shown = arrange(layout, board, Measures(plan), landscape=False)
    return list(rows_of(shown)[row].detail)


class TestTheRestOfAJob:
    """Pages of a plan that goes on with one that is partly cut."""

    @pytest.fixture
    def figures(self) -> list[Figure]:
        """Two 31 x 39 mats from two trimmed sheets: one has a trim off, the other cut 5 wrong."""
        quarter = kw.Length.of(Fraction(1, 4), kw.Unit.INCH)
        sheets = (kw.SheetSize(kw.parse_size("32 x 40", kw.Unit.INCH), Fraction(20)),)
        board = kw.Board("rag", sheets=sheets, trim=kw.Trim(quarter, quarter, quarter, quarter))
        size = kw.parse_size("31 x 39", kw.Unit.INCH)
        mat = kw.Piece("A", kw.PieceKind.MAT, 2, size, "rag")
        plan = kw.make_plan(kw.Order("show", (mat,), (board,)))
        assert isinstance(plan, kw.Plan)
        rest = kw.resume_plan(audit_plan(plan), done=["L1/1:1"], wrong=["L1/2:5=20"])
        assert isinstance(rest.plan, kw.Plan)
        return list(draw_pages(audit_plan(rest.plan), Paper.LETTER))

    def test_the_cover_says_what_the_mistake_costs(self, figures: list[Figure]) -> None:
        """One sheet more, and no plan does with fewer: two lines beside the word Mistake."""
        told = " ".join(texts(figures[0]))
        assert "Mistake" in told
        assert "The mistake costs one more sheet (20.00)" in told
        assert "no plan can do with fewer" in told

    def test_a_layouts_page_says_what_comes_off_first(self, figures: list[Figure]) -> None:
        """The page of the part with factory edges says so, and the other pages do not."""
        pages = [" ".join(texts(figure)) for figure in figures[1:3]]
        assert ["First take 1/4 in off" in page for page in pages].count(True) == 1


@pytest.mark.parametrize("name", ["sixty"])
def test_a_list_carried_over_is_broken_into_lines_for_its_own_columns(name: str) -> None:
    """On the next page no line is wider than its column, nor is one broken that has room."""
    job = Job(made.audited(made.EVERY[name]()))
    carried = [one for one in job.sheets if one.carried]
    assert carried
    for sheet in carried:
        room = sheet.columns[0].width - 4
        for page in sheet.carried:
            rows = [one for column in page for one in column if isinstance(one, CutRow)]
            assert rows
            for one in rows:
                lines = [width(line, one.look.detail) for line in one.detail]
                assert max(lines) <= room
                assert not _needless(one, room), one.detail


def _needless(one: CutRow, room: float) -> bool:
    """Return whether what comes of a cut stands in more lines than it needs."""
    arrow = next((n for n, line in enumerate(one.detail[:-1]) if line.endswith(" →")), None)
    if arrow is None:
        return False
    both = f"{one.detail[arrow]} {one.detail[arrow + 1]}"
    return width(both, one.look.detail) <= room


@pytest.mark.parametrize("seed", range(20, 26))
def test_smaller_type_is_taken_only_where_it_keeps_a_layout_on_one_page(seed: int) -> None:
    """A list set smaller carries nothing over, and set as usual it would have."""
    plan = made.scattered(seed)
    job = Job(made.audited(plan))
    for sheet in job.sheets:
        shown = sheet.arrangement
        assert not (shown.look is DENSE and shown.carried)
        kinds = {one.look for column in shown.listed for one in column if isinstance(one, CutRow)}
        assert kinds == {shown.look}
        if shown.look is DENSE:
            divisions = _divisions_of(sheet.layout, USUAL, landscape=job.landscape)
            assert _whole(divisions, sheet.layout, sheet.board, job.measures) is None


class Written:
    """A page that only notes where texts begin and end."""

    def __init__(self) -> None:
        self.texts: list[tuple[float, float, float]] = []

    def line(self, *_: float) -> None:
        """Pass over a line."""

    def box(self, *_: object) -> None:
        """Pass over a box."""

    def ring(self, box: Box, text: str, size: float) -> None:
        """Note a number in its ring."""
        assert width(text, size, True) <= box.width
        self.texts.append((box.bottom, box.left, box.right))

    def text(
        self, x: float, y: float, text: str, size: float, *, bold: bool = False, align: str = "left"
    ) -> None:
        """Note a text."""
        wide = width(text, size, bold)
        begin = x - wide if align == "right" else x
        self.texts.append((y, begin, begin + wide))


LONG_MARKS = """
unit = "mm"
[[tool]]
name = "saw"
kind = "table saw"
reach = 700
[[board]]
name = "mdf"
tool = "saw"
trim = 5
sheets = "1220 x 2440"
[[backer]]
label = "large"
qty = 3
size = "600 x 1200"
board = "mdf"
"""


def test_setting_and_edge_never_meet(tmp_path: Path) -> None:
    """Where "mark 2435" leaves "bottom, 1214" no room, that stands in a line of its own."""
    path = tmp_path / "marks.toml"
    path.write_text(LONG_MARKS, encoding="utf-8")
    plan = make_plan(load_order(path))
    assert isinstance(plan, Plan)
    (board,) = plan.boards
    legend = Legend(0.1, ())
    below = 0
    for look in (USUAL, DENSE):
        room = look.narrowest
        rows = cut_rows(board.layouts[0], board, Measures(plan), legend, room, look)
        for row_ in rows:
            assert isinstance(row_, CutRow)
            below += row_.edge_below
            page = Written()
            row_.draw(page, 0, 0, room)  # type: ignore[arg-type]
            for (high, _, end), (low, begin, right) in combinations(page.texts, 2):
                assert end <= room
                assert right <= room
                if abs(high - low) < 1:
                    assert end < begin
    assert below
