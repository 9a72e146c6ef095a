"""A TrueType font file: which signs it has, how wide they are, and a part of it to embed.

Tables and their layout are those of the OpenType specification (ISO/IEC 14496-22, "Open Font
Format"; from memory). Only what the pages need is read.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from functools import cached_property
from itertools import pairwise

__all__ = ["Typeface"]

# What a PDF needs of a TrueType font whose glyphs are addressed by number: ISO 32000-1, 9.9.
KEPT = (b"cvt ", b"fpgm", b"glyf", b"head", b"hhea", b"hmtx", b"loca", b"maxp", b"prep")
MAGIC = 0xB1B0AFBA  # what the sums of a whole font come to, less head's own adjustment
WORDS, SCALE, MORE, XY, TWO_BY_TWO = 0x0001, 0x0008, 0x0020, 0x0040, 0x0080  # composite glyphs


class Typeface:
    """A font as its file holds it.

    Attributes
    ----------
    units
        How many of the font's units make an em.
    charmap
        The number of the glyph for each code point.
    advances
        How wide each glyph is, in units.
    """

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._tables = dict(_directory(data))
        self.units: int
        self.glyphs: int
        (self.units,) = struct.unpack_from(">H", self._table(b"head"), 18)
        (self._long_offsets,) = struct.unpack_from(">h", self._table(b"head"), 50)
        (self.glyphs,) = struct.unpack_from(">H", self._table(b"maxp"), 4)
        self.box: tuple[int, int, int, int] = struct.unpack_from(">4h", self._table(b"head"), 36)
        self.ascent, self.descent = struct.unpack_from(">hh", self._table(b"hhea"), 4)

    def _table(self, tag: bytes) -> bytes:
        start, length = self._tables[tag]
        return self._data[start : start + length]

    @cached_property
    def advances(self) -> tuple[int, ...]:
        """How wide each glyph is, in units."""
        (number,) = struct.unpack_from(">H", self._table(b"hhea"), 34)
        table = self._table(b"hmtx")
        found: tuple[int, ...] = struct.unpack_from(f">{2 * number}h", table)[::2]
        return (*found, *found[-1:] * (self.glyphs - number))

    @cached_property
    def charmap(self) -> dict[int, int]:
        """The number of the glyph for each code point, from the table for all of Unicode."""
        table = self._table(b"cmap")
        (number,) = struct.unpack_from(">H", table, 2)
        places = (struct.unpack_from(">HHI", table, 4 + 8 * n) for n in range(number))
        offset = next(
            offset for platform, coding, offset in places if (platform, coding) == (3, 10)
        )
        (groups,) = struct.unpack_from(">I", table, offset + 12)
        found: dict[int, int] = {}
        for n in range(groups):
            start, end, glyph = struct.unpack_from(">III", table, offset + 16 + 12 * n)
            found.update(
                zip(range(start, end + 1), range(glyph, glyph + end - start + 1), strict=True)
            )
        return found

    @cached_property
    def _offsets(self) -> tuple[int, ...]:
        table = self._table(b"loca")
        if self._long_offsets:
            return tuple(struct.unpack_from(f">{self.glyphs + 1}I", table))
        return tuple(2 * half for half in struct.unpack_from(f">{self.glyphs + 1}H", table))

    def part(self, glyphs: Iterable[int]) -> bytes:
        """Return a font file with these glyphs, under their own numbers, and no others."""
        kept = self._with_components({0, *glyphs})
        outlines = bytearray()
        offsets = [0]
        whole, known = self._table(b"glyf"), self._offsets
        for glyph, (start, end) in enumerate(pairwise(known)):
            if glyph in kept:
                outlines += whole[start:end]
                outlines += bytes(-len(outlines) % 4)
            offsets.append(len(outlines))
        head = bytearray(self._table(b"head"))
        struct.pack_into(">I", head, 8, 0)
        struct.pack_into(">h", head, 50, 1)
        tables = {tag: self._table(tag) for tag in KEPT if tag in self._tables}
        tables[b"glyf"] = bytes(outlines)
        tables[b"loca"] = struct.pack(f">{len(offsets)}I", *offsets)
        tables[b"head"] = bytes(head)
        tables[b"hmtx"] = self._metrics(kept)
        return _file(tables)

    def _metrics(self, kept: set[int]) -> bytes:
        """Return the table of widths, with nothing for glyphs that are left out."""
        (number,) = struct.unpack_from(">H", self._table(b"hhea"), 34)
        table = bytearray(self._table(b"hmtx"))
        for glyph in range(number):
            if glyph not in kept:
                table[4 * glyph : 4 * glyph + 4] = bytes(4)
        return bytes(table)

    def _with_components(self, glyphs: set[int]) -> set[int]:
        """Return the glyphs with all that they are composed of."""
        found: set[int] = set()
        waiting = list(glyphs)
        while waiting:
            glyph = waiting.pop()
            if glyph not in found:
                found.add(glyph)
                waiting += self._components(glyph)
        return found

    def _components(self, glyph: int) -> Iterator[int]:
        start, end = self._offsets[glyph : glyph + 2]
        outline = self._table(b"glyf")[start:end]
        if not outline or struct.unpack_from(">h", outline)[0] >= 0:
            return
        place, flags = 10, MORE
        while flags & MORE:
            flags, component = struct.unpack_from(">HH", outline, place)
            yield component
            place += 8 if flags & WORDS else 6
            place += 2 if flags & SCALE else 4 if flags & XY else 8 if flags & TWO_BY_TWO else 0


def _directory(data: bytes) -> Iterator[tuple[bytes, tuple[int, int]]]:
    (number,) = struct.unpack_from(">H", data, 4)
    for n in range(number):
        tag, _, start, length = struct.unpack_from(">4sIII", data, 12 + 16 * n)
        yield tag, (start, length)


def _file(tables: dict[bytes, bytes]) -> bytes:
    """Return tables as a font file, with its sums."""
    number = len(tables)
    power = number.bit_length() - 1
    header = struct.pack(
        ">IHHHH", 0x00010000, number, 16 << power, power, 16 * (number - (1 << power))
    )
    start = len(header) + 16 * number
    directory, body = bytearray(), bytearray()
    for tag, table in sorted(tables.items()):
        place = start + len(body)
        directory += struct.pack(">4sIII", tag, _sum(table), place, len(table))
        if tag == b"head":
            adjustment = place + 8
        body += table + bytes(-len(table) % 4)
    whole = bytearray(header + directory + body)
    struct.pack_into(">I", whole, adjustment, (MAGIC - _sum(bytes(whole))) & 0xFFFFFFFF)
    return bytes(whole)


def _sum(table: bytes) -> int:
    padded = table + bytes(-len(table) % 4)
    total: int = sum(struct.unpack(f">{len(padded) // 4}I", padded))
    return total & 0xFFFFFFFF
