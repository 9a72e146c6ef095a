"""Type: the two faces, how wide a text is, and texts that any label may safely become.

Widths are added up from the font's own advances, so that no page has to be drawn to learn
whether a text fits. Both faces come with matplotlib, and are named by file, so that a page looks
the same whatever fonts a machine has.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from ..telling import UNBROKEN, read_as_one
from .typeface import Typeface

if TYPE_CHECKING:
    from matplotlib.font_manager import FontProperties

__all__ = [
    "CAP",
    "LEADING",
    "MISSING",
    "clean",
    "elide",
    "face",
    "font",
    "in_order",
    "needs_shaping",
    "shorten",
    "spelled",
    "typeset",
    "width",
    "wrap",
]

LEADING = 1.22  # from one baseline to the next, of the type's size
CAP = 0.73  # height of a capital, of the type's size: DejaVu Sans
MISSING = "▯"  # for a sign that the faces lack


@cache
def _file(bold: bool) -> Path:
    """Return the file of a face, found without loading matplotlib, which takes a while."""
    found = find_spec("matplotlib")
    assert found is not None
    assert found.origin is not None
    inside = Path("fonts", "ttf", "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")
    usual = Path(found.origin).with_name("mpl-data") / inside
    if usual.exists():
        return usual
    import matplotlib as mpl  # some systems keep its data elsewhere

    return Path(mpl.get_data_path(), inside)


@cache
def face(bold: bool) -> Typeface:
    """Return one of the two faces."""
    return Typeface(_file(bold).read_bytes())


@cache
def _signs() -> frozenset[int]:
    """Every sign that both faces have."""
    return frozenset(face(False).charmap) & frozenset(face(True).charmap)


@cache
def font(size: float, bold: bool = False) -> FontProperties:
    """Return a face at `size` points, for matplotlib."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(fname=str(_file(bold)), size=size)


@cache
def _advance(sign: str, bold: bool) -> float:
    drawn = face(bold)
    return drawn.advances[drawn.charmap.get(ord(sign), 0)] / drawn.units


@lru_cache(maxsize=1 << 16)
def _ems(text: str, bold: bool) -> float:
    return sum(_advance(sign, bold) for sign in text)


def width(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a cleaned text is in points, kerning left out."""
    return _ems(text, bold) * size


_SPACES = re.compile(r"[^\S\u2009]+")  # all but the thin space of a fraction


@lru_cache(maxsize=4096)
def clean(text: str) -> str:
    """Return `text` on one line, without control signs, `MISSING` for what the faces lack."""
    line = _SPACES.sub(" ", text).strip()
    kept = (sign for sign in line if unicodedata.category(sign) not in {"Cc", "Cf", "Cs"})
    return "".join(sign if ord(sign) in _signs() else MISSING for sign in kept)


_RIGHT_TO_LEFT = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff]+")
_MARK = "\u200e"


def in_order(text: str) -> str:
    """Return a cleaned text with marks that keep the numbers after a Hebrew or Arabic label.

    Without them the text's direction would be taken from that label, and sizes be read backwards.
    """
    if not _RIGHT_TO_LEFT.search(text) or ord(_MARK) not in _signs():
        return text
    return _MARK + _RIGHT_TO_LEFT.sub(lambda run: run[0] + _MARK, text)


def needs_shaping(text: str) -> bool:
    """Return whether signs of the text join, run from right to left, or stand over others."""
    if text.isascii():
        return False
    return bool(_RIGHT_TO_LEFT.search(text)) or any(map(unicodedata.combining, text))


def spelled(text: str) -> str:
    """Return a cleaned text, followed by the code points of what the faces lack.

    Examples
    --------
    >>> spelled("A \N{GRINNING FACE WITH SMILING EYES}\N{CJK UNIFIED IDEOGRAPH-6D77}")
    'A ▯▯ (U+1F601 U+6D77)'
    """
    shown = clean(text)
    lacking = [f"U+{ord(sign):04X}" for sign in text if clean(sign) == MISSING != sign]
    return f"{shown} ({' '.join(lacking)})" if lacking else shown


def shorten(text: str, limit: float, size: float, bold: bool = False) -> str:
    """Return `text`, cut off with an ellipsis where it is wider than `limit` points."""
    if width(text, size, bold) <= limit:
        return text
    end = len(text)
    while end and width(text[:end].rstrip() + "…", size, bold) > limit:
        end -= 1
    return text[:end].rstrip() + "…"


def elide(text: str, limit: float, size: float, bold: bool = False) -> str:
    """Return `text`, its middle left out where it is wider than `limit` points.

    The end is kept because it so often tells one thing from another: a lot, a number.
    """
    if width(text, size, bold) <= limit:
        return text
    for kept in range(len(text) - 1, 1, -1):
        end = kept // 2
        short = f"{text[: kept - end].rstrip()}…{text[len(text) - end :].lstrip()}"
        if width(short, size, bold) <= limit:
            return short
    return "…"


@lru_cache(maxsize=4096)
def wrap(text: str, limit: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """Return `text` in lines no wider than `limit`; a word too wide for a line is broken.

    So is what is read as one, such as a size, only where it is too wide.
    """
    lines: list[str] = []
    for word in _words(text, limit, size, bold):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and width(joined, size, bold) <= limit:
            lines[-1] = joined
        else:
            lines.extend(_broken(word, limit, size, bold))
    return tuple(lines)


def _words(text: str, limit: float, size: float, bold: bool) -> Iterator[str]:
    for word in read_as_one(text).split(" "):
        one = word.replace(UNBROKEN, " ").strip()
        if width(one, size, bold) <= limit:
            yield from [one] if one else []
        else:
            yield from one.split()


def _broken(word: str, limit: float, size: float, bold: bool) -> list[str]:
    parts = [""]
    for sign in word:
        if parts[-1] and width(parts[-1] + sign, size, bold) > limit:
            parts.append("")
        parts[-1] += sign
    return parts


_FRACTION = re.compile(r"(?:(?<=\d)( ))?\b(\d+)/(\d+)\b")
_ABOVE = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_BELOW = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")


def typeset(length: str) -> str:
    r"""Return a length or a size with its fractions set small, as on a rule.

    Examples
    --------
    >>> typeset("16 1/8 × 20")
    '16\u2009¹⁄₈ × 20'
    """
    return _FRACTION.sub(_set_fraction, length)


def _set_fraction(match: re.Match[str]) -> str:
    space = "\u2009" if match[1] else ""
    return f"{space}{match[2].translate(_ABOVE)}⁄{match[3].translate(_BELOW)}"
