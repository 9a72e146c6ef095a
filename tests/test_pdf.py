"""The PDF: a sound file, which says what the figures say, where they say it."""

from __future__ import annotations

from pathlib import Path

import drawn_plans as made
import matplotlib as mpl
import pytest
from matplotlib.figure import Figure
from matplotlib.ft2font import FT2Font, LoadFlags
from matplotlib.text import Text
from pdf_reader import Pdf, Said, spoken

from kerfwright.drawings import Paper, draw_pdf
from kerfwright.drawings.canvas import draw_pages
from kerfwright.drawings.lettering import face, needs_shaping, width

BEFORE = {"left": 0.0, "center": 0.5, "right": 1.0}


def read(name: str, folder: Path) -> Pdf:
    """Return the PDF of one of the hand-made plans."""
    path = draw_pdf(made.audited(made.EVERY[name]()), folder / "a.pdf", Paper.LETTER)
    return Pdf(path.read_bytes())


def on_figure(figure: Figure) -> list[tuple[Said, bool]]:
    """Return the texts of a figure as a PDF has them, and whether they are set as outlines."""
    found = []
    for artist in figure.findobj(Text):
        text = artist.get_text().replace("\u200e", "")
        if text:
            size = artist.get_fontsize()
            assert not isinstance(size, str)
            bold = "Bold" in str(artist.get_fontproperties().get_file())
            x, y = artist.get_transform().transform(artist.get_position())
            before = BEFORE[artist.get_horizontalalignment()] * width(text, size, bold)
            upright = artist.get_rotation() == 90
            x, y = (x, y - before) if upright else (x - before, y)
            found.append((Said(text, x, y, size, bold, upright), needs_shaping(text)))
    return found


@pytest.mark.parametrize("name", made.EVERY)
def test_the_pdf_says_what_the_figures_say_where_they_say_it(name: str, tmp_path: Path) -> None:
    """Each text stands on both at the same place, to a hundredth of a point."""
    pdf = read(name, tmp_path)
    figures = list(draw_pages(made.audited(made.EVERY[name]()), Paper.LETTER))
    contents = pdf.pages()
    assert len(contents) == len(figures)
    for content, figure in zip(contents, figures, strict=True):
        drawn = on_figure(figure)
        plain = sorted((one for one, shaped in drawn if not shaped), key=repr_of)
        found = sorted(pdf.said(content), key=repr_of)
        assert [repr_of(one)[:4] for one in found] == [repr_of(one)[:4] for one in plain]
        for one, other in zip(found, plain, strict=True):
            assert (one.x, one.y) == pytest.approx((other.x, other.y), abs=0.011)
        outlined = sorted(one.text for one, shaped in drawn if shaped)
        assert sorted(text.replace("\u200e", "") for text in spoken(content)) == outlined


def repr_of(said: Said) -> tuple[str, bool, bool, float, int, int]:
    """Return what texts are told apart by, the place in rounded points last."""
    return (said.text, said.bold, said.upright, round(said.size, 2), round(said.y), round(said.x))


@pytest.mark.parametrize("bold", [False, True])
def test_the_faces_are_read_as_freetype_reads_them(bold: bool) -> None:
    """Signs and advances are those that FreeType finds in the same file."""
    drawn = face(bold)
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    other = FT2Font(str(Path(mpl.get_data_path(), "fonts", "ttf", name)))
    assert drawn.charmap == other.get_charmap()
    assert drawn.units == other.units_per_EM
    for sign in "Aaé¹⁄₈≈↺×◂ fi":
        loaded = other.load_char(ord(sign), flags=LoadFlags.NO_SCALE)
        assert drawn.advances[drawn.charmap[ord(sign)]] == loaded.horiAdvance


def test_what_is_embedded_is_a_font_with_the_same_outlines(tmp_path: Path) -> None:
    """FreeType loads it, and draws what is used as from the whole face; é is composed of two."""
    path = tmp_path / "part.ttf"
    path.write_bytes(face(False).part(face(False).charmap[ord(sign)] for sign in "A8é⁄"))
    source = Path(mpl.get_data_path(), "fonts", "ttf", "DejaVuSans.ttf")
    part, whole = FT2Font(str(path)), FT2Font(str(source))
    for font in (part, whole):
        font.set_size(40, 72)

    def outline(font: FT2Font, sign: str) -> list[list[float]]:
        font.load_glyph(whole.get_char_index(ord(sign)), flags=LoadFlags.NO_HINTING)
        places: list[list[float]] = font.get_path()[0].tolist()
        return places

    for sign in "A8é⁄":
        assert outline(part, sign) == outline(whole, sign) != []
    assert outline(part, "B") == []
    assert path.stat().st_size < 60_000 < source.stat().st_size


def test_a_text_that_runs_from_right_to_left_can_be_searched(tmp_path: Path) -> None:
    """A Hebrew label is drawn as an outline, and the file says beside it what it reads."""
    said = [text for page in read("odd labels", tmp_path).pages() for text in spoken(page)]
    assert any("\u05d0\u05d1\u05d2" in text for text in said)
