"""The pages as a PDF, written as ISO 32000-1 has it (PDF 1.7; from memory).

Everything on a page is a line, a rectangle, a triangle or a text, so that writing it is little
more than naming it. Both faces are embedded once, with the signs that the job uses.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from .lettering import clean, face, in_order, needs_shaping, width
from .outlines import outline
from .page import BEFORE, RIM, Align, Page, ring_ends
from .paper import Box, Paper
from .pen import DOT, Point
from .sheet import Composition, paint

if TYPE_CHECKING:
    from .pages import Drawer

__all__ = ["PdfFile", "PdfPage"]

# Marks are drawn in this order, those of a layout before all others.
DRAWING, BOXES, LINES, TEXTS = 0.0, 10.0, 20.0, 30.0
BUTT, ROUND, SQUARE = 0, 1, 2  # how lines end
HATCH_WEIGHT = 0.5
# How far the lines of a hatch are apart along an edge, and which way they run: up, down, level.
HATCHES = {"/": (24.0, "/"), "--": (6.0, "-"), "xx": (6.0, "/\\")}
ARROWS = {  # of a triangle one high and one wide, y down
    "<": ((-0.5, 0.0), (0.5, -0.5), (0.5, 0.5)),
    ">": ((0.5, 0.0), (-0.5, -0.5), (-0.5, 0.5)),
    "^": ((0.0, -0.5), (-0.5, 0.5), (0.5, 0.5)),
    "v": ((0.0, 0.5), (-0.5, -0.5), (0.5, -0.5)),
}
GREYS = {"white": 1.0, "black": 0.0}
FACES = (b"F1", b"F2")  # regular and bold


def _number(value: float) -> bytes:
    """Return a number as short as a thousandth of a point allows."""
    shown = f"{value:.3f}".rstrip("0").rstrip(".")
    return b"0" if shown in {"-0", ""} else shown.encode()


def _numbers(*values: float) -> bytes:
    return b" ".join(map(_number, values))


class _Type:
    """Which glyphs of both faces are used, and for which signs."""

    def __init__(self) -> None:
        self.used: tuple[dict[int, str], dict[int, str]] = ({}, {})

    def glyphs(self, text: str, bold: bool) -> bytes:
        """Return the numbers of a text's glyphs in hexadecimal."""
        charmap, used = face(bold).charmap, self.used[bold]
        numbers = []
        for sign in text:
            glyph = charmap.get(ord(sign), 0)
            used.setdefault(glyph, sign)
            numbers.append(f"{glyph:04X}")
        return "".join(numbers).encode()


class PdfPage(Page):
    """A page of a PDF to draw on."""

    def __init__(self, paper: Paper, kind: _Type, *, landscape: bool) -> None:
        self.across, self.down = paper.size(landscape=landscape)
        super().__init__(self.across, self.down)
        self._type = kind
        self._marks: list[tuple[float, bytes]] = []

    @property
    def content(self) -> bytes:
        """Everything on the page, what lies under before what lies over."""
        return b"\n".join(mark for _, mark in sorted(self._marks, key=lambda pair: pair[0]))

    def put(self, order: float, mark: bytes) -> None:
        """Draw something; a higher order lies over a lower one."""
        self._marks.append((order, mark))

    def at(self, x: float, y: float) -> Point:
        """Return a place on the live area as the paper has it, y upwards."""
        return self._left + x, self.down - self._top - y

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
        self.words(TEXTS, (x, y), text, size, bold=bold, align=align)

    def line(self, x: float, y: float, to_x: float, to_y: float, weight: float) -> None:
        """Draw a straight line, `weight` points wide."""
        self.stroke(LINES, (x, y), (to_x, to_y), weight, cap=SQUARE)

    def box(self, box: Box, weight: float = 0.8, fill: str = "none") -> None:
        """Draw a rectangle."""
        self.rectangle(BOXES, box, face=fill, weight=weight)

    def rim(self, box: Box) -> None:
        """Draw a ring with nothing in it."""
        self.ringed(LINES, box)

    def draw(self, composed: Composition, box: Box) -> None:
        """Draw a layout to scale, as it was composed for `box`."""
        left, top = composed.corner(box.width)
        paint(PdfPen(self, (box.left + left, box.top + top)), composed)

    def words(
        self,
        order: float,
        place: Point,
        text: str,
        size: float,
        *,
        bold: bool = False,
        align: Align = "left",
        upright: bool = False,
    ) -> None:
        """Set a line of text whose baseline begins, centres or ends at `place`."""
        shown = clean(text)
        if not shown:
            return
        before = BEFORE[align] * width(shown, size, bold)
        x, y = self.at(*place)
        x, y = (x, y - before) if upright else (x - before, y)
        turn = (0.0, 1.0, -1.0, 0.0) if upright else (1.0, 0.0, 0.0, 1.0)
        matrix = _numbers(*turn, x, y)
        if needs_shaping(shown):
            self.put(order, _drawn(in_order(shown), size, bold, matrix))
            return
        kind = b"/" + FACES[bold] + b" " + _number(size) + b" Tf "
        glyphs = self._type.glyphs(shown, bold)
        self.put(order, b"0 g BT " + kind + matrix + b" Tm <" + glyphs + b"> Tj ET")

    def stroke(
        self, order: float, one: Point, other: Point, weight: float, *, cap: int, grey: float = 0.0
    ) -> None:
        """Draw a straight line."""
        ends = _numbers(*self.at(*one)) + b" m " + _numbers(*self.at(*other)) + b" l S"
        self.put(order, b"%d J %b w %b G %b" % (cap, _number(weight), _number(grey), ends))

    def ringed(self, order: float, box: Box) -> None:
        """Draw a ring: a thick line with round ends, a white one on it."""
        one, other = ring_ends(box)
        self.stroke(order, one, other, box.height + RIM, cap=ROUND)
        self.stroke(order, one, other, box.height - RIM, cap=ROUND, grey=1.0)

    def rectangle(
        self, order: float, box: Box, *, face: str, hatch: str = "", weight: float
    ) -> None:
        """Draw a rectangle: filled, hatched, edged."""
        shape = _numbers(*self.at(box.left, box.bottom), box.width, box.height) + b" re"
        if face != "none":
            grey = GREYS[face] if face in GREYS else float(face)
            self.put(order, _number(grey) + b" g " + shape + b" f")
        if hatch:
            lines = b" ".join(self._hatched(box, *HATCHES[hatch]))
            looks = b"0 J %b w 0 G " % _number(HATCH_WEIGHT)
            self.put(order, b"q " + shape + b" W n " + looks + lines + b" S Q")
        if weight:
            self.put(order, b"0 J " + _number(weight) + b" w 0 G " + shape + b" S")

    def _hatched(self, box: Box, apart: float, ways: str) -> Iterator[bytes]:
        """Yield the lines of a hatch that cross a box; where they lie is the page's, not its."""
        left, bottom = self.at(box.left, box.bottom)
        right, top = left + box.width, bottom + box.height
        if "-" in ways:
            for level in _steps(bottom, top, apart):
                yield _numbers(left, level) + b" m " + _numbers(right, level) + b" l"
        if "/" in ways:
            for at in _steps(left - top, right - bottom, apart):
                yield _numbers(at + bottom, bottom) + b" m " + _numbers(at + top, top) + b" l"
        if "\\" in ways:
            for at in _steps(left + bottom, right + top, apart):
                yield _numbers(at - bottom, bottom) + b" m " + _numbers(at - top, top) + b" l"

    def polygon(self, order: float, points: Iterable[Point]) -> None:
        """Draw a black polygon."""
        places = [_numbers(*self.at(*point)) for point in points]
        self.put(order, b"0 g " + places[0] + b" m " + b" l ".join(places[1:]) + b" l f")


def _steps(low: float, high: float, apart: float) -> Iterator[float]:
    for number in range(-int(-low // apart), int(high // apart) + 1):
        yield number * apart


def _drawn(text: str, size: float, bold: bool, matrix: bytes) -> bytes:
    """Return a text as its outline, with what it says for whoever searches it."""
    said = ("\ufeff" + text).encode("utf-16-be").hex().encode()
    path = b" ".join(outline(text, size, bold, _numbers))
    tag = b"/Span <</ActualText <" + said + b">>> BDC "
    return tag + b"q " + matrix + b" cm 0 g " + path + b" f Q EMC"


class PdfPen:
    """Draws a layout on a page, its source's top left at `corner`."""

    def __init__(self, page: PdfPage, corner: Point) -> None:
        self._page, self._corner = page, corner

    def _at(self, place: Point) -> Point:
        return self._corner[0] + place[0], self._corner[1] + place[1]

    def _moved(self, box: Box) -> Box:
        return Box(*self._at((box.left, box.top)), box.width, box.height)

    def rectangle(
        self, box: Box, *, face: str, hatch: str = "", weight: float = 0.6, order: float = 1.0
    ) -> None:
        """Draw a rectangle."""
        moved = self._moved(box)
        self._page.rectangle(DRAWING + order, moved, face=face, hatch=hatch, weight=weight)

    def line(self, one: Point, other: Point, weight: float) -> None:
        """Draw a straight line."""
        self._page.stroke(DRAWING + 2, self._at(one), self._at(other), weight, cap=BUTT)

    def text(
        self, place: Point, text: str, size: float, *, bold: bool = False, upright: bool = False
    ) -> None:
        """Set a line of text with the middle of its baseline at `place`."""
        self._page.words(
            DRAWING + 5, self._at(place), text, size, bold=bold, align="center", upright=upright
        )

    def arrow(self, foot: Point, marker: str, size: float) -> None:
        """Draw a triangle round `foot`."""
        x, y = self._at(foot)
        corners = ((x + size * across, y + size * down) for across, down in ARROWS[marker])
        self._page.polygon(DRAWING + 4, corners)

    def dots(self, feet: list[Point]) -> None:
        """Draw a dot at each place."""
        for x, y in map(self._at, feet):
            self._page.stroke(DRAWING + 4, (x, y), (x + 0.01, y), DOT, cap=ROUND)

    def rim(self, box: Box) -> None:
        """Draw a ring, white within."""
        self._page.ringed(DRAWING + 4, self._moved(box))


class PdfFile:
    """A PDF, page by page, then whole.

    Parameters
    ----------
    title, creator
        What is said of the file; there is no date, so that equal pages make equal files.
    """

    def __init__(self, paper: Paper, *, landscape: bool, title: str, creator: str) -> None:
        self._paper, self._landscape = paper, landscape
        self._title, self._creator = title, creator
        self._type = _Type()
        self._pages: list[bytes] = []

    def add(self, drawer: Drawer) -> None:
        """Draw a page and add it."""
        page = PdfPage(self._paper, self._type, landscape=self._landscape)
        drawer(page)
        self._pages.append(page.content)

    def whole(self) -> bytes:
        """Return the file."""
        objects: list[bytes] = [b""] * 4  # the catalogue, the pages, what is said, the faces
        fonts = []
        for bold in (False, True):
            fonts.append(b"/%b %d 0 R" % (FACES[bold], len(objects) + 1))
            objects += _font(bold, self._type.used[bold], len(objects) + 1)
        objects[3] = b"<< /Font << " + b" ".join(fonts) + b" >> >>"
        kids = []
        box = _numbers(0, 0, *self._paper.size(landscape=self._landscape))
        for content in self._pages:
            number = len(objects) + 1
            kids.append(b"%d 0 R" % number)
            objects += [
                b"<< /Type /Page /Parent 2 0 R /MediaBox [" + box + b"] /Resources 4 0 R"
                b" /Contents %d 0 R >>" % (number + 1),
                _stream(content),
            ]
        objects[0] = b"<< /Type /Catalog /Pages 2 0 R >>"
        objects[1] = b"<< /Type /Pages /Count %d /Kids [%b] >>" % (len(kids), b" ".join(kids))
        objects[2] = b"<< /Title %b /Creator %b >>" % (_text(self._title), _text(self._creator))
        return _joined(objects)


def _text(text: str) -> bytes:
    """Return a text as a string of a PDF."""
    if text.isascii():
        for sign in "\\()":
            text = text.replace(sign, f"\\{sign}")
        return f"({text})".encode("ascii")
    return b"<" + ("\ufeff" + text).encode("utf-16-be").hex().encode() + b">"


def _stream(content: bytes, more: bytes = b"") -> bytes:
    packed = zlib.compress(content)
    head = b"<< /Length %d /Filter /FlateDecode%b >>" % (len(packed), more)
    return head + b"\nstream\n" + packed + b"\nendstream"


def _joined(objects: list[bytes]) -> bytes:
    whole = bytearray(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, content in enumerate(objects, 1):
        places.append(len(whole))
        whole += b"%d 0 obj\n" % number + content + b"\nendobj\n"
    start = len(whole)
    whole += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    whole += b"".join(b"%010d 00000 n \n" % place for place in places)
    whole += b"trailer\n<< /Size %d /Root 1 0 R /Info 3 0 R >>\n" % (len(objects) + 1)
    return bytes(whole + b"startxref\n%d\n%%%%EOF\n" % start)


def _font(bold: bool, used: dict[int, str], first: int) -> list[bytes]:
    """Return the objects of a face: itself, its glyphs, what it is like, its file, its signs."""
    drawn = face(bold)
    name = b"/KERFWR+" + (b"DejaVuSans-Bold" if bold else b"DejaVuSans")
    em = 1000 / drawn.units
    widths = b" ".join(
        b"%d [%b]" % (glyph, _number(drawn.advances[glyph] * em)) for glyph in sorted(used)
    )
    data = drawn.part(used)
    box = _numbers(*(side * em for side in drawn.box))
    lines = _numbers(drawn.ascent * em, drawn.descent * em)
    ascent, descent = lines.split()
    return [
        b"<< /Type /Font /Subtype /Type0 /BaseFont %b /Encoding /Identity-H"
        b" /DescendantFonts [%d 0 R] /ToUnicode %d 0 R >>" % (name, first + 1, first + 4),
        b"<< /Type /Font /Subtype /CIDFontType2 /BaseFont %b /CIDToGIDMap /Identity"
        b" /CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >>"
        b" /FontDescriptor %d 0 R /DW 600 /W [%b] >>" % (name, first + 2, widths),
        b"<< /Type /FontDescriptor /FontName %b /Flags 4 /FontBBox [%b] /ItalicAngle 0"
        b" /Ascent %b /Descent %b /CapHeight 729 /StemV %d /FontFile2 %d 0 R >>"
        % (name, box, ascent, descent, 140 if bold else 80, first + 3),
        _stream(data, b" /Length1 %d" % len(data)),
        _stream(_signs(used)),
    ]


def _signs(used: dict[int, str]) -> bytes:
    """Return which sign each glyph stands for, so that the text can be searched and copied."""
    pairs = [
        f"<{glyph:04X}> <{sign.encode('utf-16-be').hex().upper()}>"
        for glyph, sign in sorted(used.items())
    ]
    groups = [pairs[start : start + 100] for start in range(0, len(pairs), 100)]
    told = "\n".join(
        f"{len(group)} beginbfchar\n" + "\n".join(group) + "\nendbfchar" for group in groups
    )
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        "1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n"
        f"{told}\nendcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
    ).encode("ascii")
