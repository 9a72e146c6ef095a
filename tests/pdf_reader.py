"""Reads a PDF as kerfwright writes it: its objects by their table of places, and its texts.

A reader of its own, after ISO 32000-1, so that what the file says is not taken from what wrote it.
"""

from __future__ import annotations

import re
import zlib
from dataclasses import dataclass

SHOWN = re.compile(
    rb"(?m)^0 g BT /F(?P<face>\d) (?P<size>[\d.]+) Tf (?P<matrix>(?:[-\d.]+ ){6})Tm"
    rb" <(?P<hex>[0-9A-F]*)> Tj ET"
)
SPOKEN = re.compile(rb"/ActualText <([0-9a-f]+)>")


@dataclass(frozen=True)
class Said:
    """A text on a page: where its baseline begins, in points from the paper's lower left."""

    text: str
    x: float
    y: float
    size: float
    bold: bool
    upright: bool


class Pdf:
    """A PDF by its objects."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        start = int(data[data.rindex(b"startxref") :].split()[1])
        lines = data[start:].split(b"\n")
        assert lines[0] == b"xref"
        places = [int(line.split()[0]) for line in lines[3 : 2 + int(lines[1].split()[1])]]
        self.objects = {}
        for number, place in enumerate(places, 1):
            head = b"%d 0 obj\n" % number
            assert data[place : place + len(head)] == head
            self.objects[number] = data[place + len(head) : data.index(b"\nendobj", place)]

    def stream(self, number: int) -> bytes:
        """Return what an object's stream holds."""
        content = self.objects[number]
        length = int(re.search(rb"/Length (\d+)", content)[1])  # type: ignore[index]
        begin = content.index(b"stream\n") + len(b"stream\n")
        return zlib.decompress(content[begin : begin + length])

    def _pointed(self, number: int, key: bytes) -> list[int]:
        found = re.search(rb"/" + key + rb" \[?((?:\d+ 0 R ?)+)", self.objects[number])
        assert found is not None, (number, key)
        return [int(one) for one in re.findall(rb"(\d+) 0 R", found[1])]

    def pages(self) -> list[bytes]:
        """Return what each page is drawn by."""
        return [
            self.stream(self._pointed(kid, b"Contents")[0]) for kid in self._pointed(2, b"Kids")
        ]

    def signs(self, face: int) -> dict[int, str]:
        """Return which sign each glyph of a face stands for."""
        (font,) = self._pointed(4, b"F%d" % face)
        (told,) = self._pointed(font, b"ToUnicode")
        pairs = re.findall(rb"<([0-9A-F]{4})> <([0-9A-F]+)>\n", self.stream(told))
        return {int(one, 16): bytes.fromhex(two.decode()).decode("utf-16-be") for one, two in pairs}

    def font_file(self, face: int) -> bytes:
        """Return a face as it is embedded."""
        (font,) = self._pointed(4, b"F%d" % face)
        (descendant,) = self._pointed(font, b"DescendantFonts")
        (descriptor,) = self._pointed(descendant, b"FontDescriptor")
        return self.stream(self._pointed(descriptor, b"FontFile2")[0])

    def said(self, page: bytes) -> list[Said]:
        """Return the texts on a page."""
        signs = {face: self.signs(face) for face in (1, 2)}
        found = []
        for shown in SHOWN.finditer(page):
            numbers = bytes.fromhex(shown["hex"].decode())
            glyphs = [int.from_bytes(numbers[n : n + 2]) for n in range(0, len(numbers), 2)]
            face = int(shown["face"])
            text = "".join(signs[face][glyph] for glyph in glyphs)
            _, b, _, _, x, y = map(float, shown["matrix"].split())
            found.append(Said(text, x, y, float(shown["size"]), face == 2, b == 1))
        return found


def spoken(page: bytes) -> list[str]:
    """Return the texts that are drawn as outlines, as they are said to be."""
    found = (bytes.fromhex(one.decode()).decode("utf-16-be") for one in SPOKEN.findall(page))
    return [text.removeprefix("\ufeff") for text in found]
