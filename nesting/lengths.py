"""Exact lengths: parse, add, compare, and print on a rule.

Every length is a rational number of millimetres; 1 in = 25.4 mm exactly. Nothing is rounded
except in the text that a person reads, and then it is marked with ``≈``.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import total_ordering

from .errors import RefusedValue

__all__ = [
    "ISO_216",
    "Length",
    "Size",
    "Unit",
    "common_step",
    "format_length",
    "format_size",
    "parse_length",
    "parse_size",
    "parse_step",
    "parse_unit",
    "step_text",
]


class Unit(StrEnum):
    """A unit that a bare number may take."""

    INCH = "in"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"

    @property
    def millimetres(self) -> Fraction:
        """Exact millimetres in one of this unit."""
        return _MILLIMETRES[self]


# The inch: 25.4 mm exactly (international yard and pound agreement, 1959).
_MILLIMETRES = {
    Unit.INCH: Fraction(254, 10),
    Unit.MILLIMETRE: Fraction(1),
    Unit.CENTIMETRE: Fraction(10),
}

LONGEST_MM = Fraction(10_000)


@total_ordering
@dataclass(frozen=True, slots=True)
class Length:
    """An exact length; may be zero or negative as the result of arithmetic.

    Attributes
    ----------
    mm
        Millimetres, exact.
    """

    mm: Fraction

    @classmethod
    def of(cls, number: int | Fraction, unit: Unit) -> Length:
        """Return `number` units of `unit`."""
        return cls(Fraction(number) * unit.millimetres)

    def in_unit(self, unit: Unit) -> Fraction:
        """Return the exact number of `unit` in this length."""
        return self.mm / unit.millimetres

    def __add__(self, other: Length) -> Length:
        return Length(self.mm + other.mm)

    def __sub__(self, other: Length) -> Length:
        return Length(self.mm - other.mm)

    def __mul__(self, factor: int | Fraction) -> Length:
        return Length(self.mm * factor)

    def __lt__(self, other: Length) -> bool:
        return self.mm < other.mm

    def __bool__(self) -> bool:
        return self.mm != 0

    def __str__(self) -> str:
        return format_length(self, _simpler_unit(self, Unit.INCH), with_unit=True)

    def steps(self, step: Length) -> int:
        """Return how many of `step` make this length.

        Raises
        ------
        ValueError
            If it is not a whole number of them.
        """
        quotient = self.mm / step.mm
        if quotient.denominator != 1:
            raise ValueError(f"{self} is not a whole number of {step}")
        return quotient.numerator


ZERO = Length(Fraction(0))


@dataclass(frozen=True, slots=True)
class Size:
    """Two lengths; the first lies along the first number of the sheet's size.

    Raises
    ------
    RefusedValue
        If either is not longer than zero.
    """

    width: Length
    height: Length

    def __post_init__(self) -> None:
        for length in (self.width, self.height):
            if length <= ZERO:
                raise RefusedValue("size", str(length), "is not longer than zero", ACCEPTED_SIZE)

    def __str__(self) -> str:
        """Return it in the unit that both sides are plainest in: ``32 x 40 in``.

        Where one side is plain in inches only and the other in millimetres only, each has its own:
        ``16 1/8 in x 413 mm``.

        Examples
        --------
        >>> str(parse_size("406 x 508 mm", Unit.INCH))
        '406 x 508 mm'
        """
        sides = (self.width, self.height)
        own = {_simpler_unit(side, Unit.INCH) for side in sides}
        inches = max(side.in_unit(Unit.INCH).denominator for side in sides)
        millimetres = max(side.mm.denominator for side in sides)
        if len(own) > 1 and inches > PLAIN_INCHES and millimetres > PLAIN_MILLIMETRES:
            return f"{self.width} x {self.height}"
        unit = Unit.INCH if inches <= millimetres else Unit.MILLIMETRE
        return format_size(self, unit, with_unit=True)


# The finest parts of a unit that a size of two sides is told in, unless both are finer.
PLAIN_INCHES, PLAIN_MILLIMETRES = 64, 10

ISO_216: dict[str, tuple[int, int]] = {
    # ISO 216:2007, trimmed sizes in millimetres, short side first.
    "A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297),
    "A5": (148, 210), "A6": (105, 148), "A7": (74, 105), "A8": (52, 74), "A9": (37, 52),
    "A10": (26, 37),
    "B0": (1000, 1414), "B1": (707, 1000), "B2": (500, 707), "B3": (353, 500), "B4": (250, 353),
    "B5": (176, 250), "B6": (125, 176), "B7": (88, 125), "B8": (62, 88), "B9": (44, 62),
    "B10": (31, 44),
}  # fmt: skip

ACCEPTED_LENGTH = 'write a length such as 16, 16.125, 16 1/8, 16 1/8", 413mm or 41.3 cm'
ACCEPTED_SIZE = "write two lengths such as 16 x 20 or 406mm x 508mm, or an ISO name such as A3"
ACCEPTED_UNIT = "write in, mm or cm"
ACCEPTED_STEP = "write a step such as 1/16 in, 4 in or 1/80 mm"

# Longer texts are refused unread, so that no number in a file costs more than a glance.
_LONGEST_TEXT = 40
# A unit's names, where a file or an option states one and behind a number alike.
_INCHES = ("in", "inch", "inches", '"', "″", "”", "''")
_MILLIMETRE_NAMES = ("mm", "millimetre", "millimetres", "millimeter", "millimeters")
_CENTIMETRE_NAMES = ("cm", "centimetre", "centimetres", "centimeter", "centimeters")
_SUFFIX = {
    **dict.fromkeys(_INCHES, Unit.INCH),
    **dict.fromkeys(_MILLIMETRE_NAMES, Unit.MILLIMETRE),
    **dict.fromkeys(_CENTIMETRE_NAMES, Unit.CENTIMETRE),
}
_VULGAR = "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒"
_DASHES = {ord(dash): "-" for dash in "‐‑‒–—−"}
_LENGTH = re.compile(
    r"(?:(?P<whole>[0-9]+)(?:-| +))?(?P<top>[0-9]+)/(?P<bottom>[0-9]+)(?P<fraction_unit>.*)"
    r"|(?P<decimal>[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?P<unit>.*)"
)
# Where a comma is the decimal sign, a point before three digits may mark thousands; not after a
# zero, nor after four digits or more.
_THOUSANDS = re.compile(r"(?<![0-9.,])[1-9][0-9]{0,2}\.[0-9]{3}(?![0-9.,])")
_BY = re.compile(r" *(?:[x×✕✖]|by) *", re.IGNORECASE)
_ISO_NAME = re.compile(r"(?:iso ?)?([a-z][0-9]{1,3})", re.IGNORECASE)
_STEP = re.compile(r"([0-9]{1,40})(?:/([0-9]{1,40}))? (in|mm|cm)")


def parse_length(
    value: object,
    unit: Unit,
    field: str = "length",
    *,
    zero: bool = False,
    decimal_comma: bool = False,
) -> Length:
    """Return the exact length that `value` states.

    Fraction characters (``16½``), typographic quotes and dashes are read as what they stand for.

    Parameters
    ----------
    value
        A string, an int or a Decimal.
    unit
        What a bare number takes.
    field
        The field's name, for the message.
    zero
        Whether zero will do.
    decimal_comma
        Whether ``16,5`` is 16.5, as it is in a CSV file with semicolons. Then ``1.000``, which
        may be one or a thousand, is refused.

    Raises
    ------
    RefusedValue
        If it is no length, or is negative, zero (unless `zero`) or over 10 m.
    """
    text = _length_text(value, field)
    if decimal_comma:
        _refuse_thousands(text, value, field)
    match = _LENGTH.fullmatch(_decimal_point(text) if decimal_comma else text)
    if match is None:
        raise RefusedValue(field, value, *_no_length(text))
    number = _number(match, value, field)
    stated = (match["unit"] or match["fraction_unit"] or "").strip()
    length = Length.of(number, _suffix(stated, value, field, text) if stated else unit)
    if length.mm > LONGEST_MM:
        raise RefusedValue(field, value, "is over 10 m", ACCEPTED_LENGTH)
    if not length and not zero:
        raise RefusedValue(field, value, "is zero", ACCEPTED_LENGTH)
    return length


def _length_text(value: object, field: str) -> str:
    if isinstance(value, bool) or not isinstance(value, (str, int, Decimal)):
        raise RefusedValue(field, value, "is not a length", ACCEPTED_LENGTH)
    if isinstance(value, int) and abs(value) >= 10**_LONGEST_TEXT:
        # Python refuses to print an integer of some thousands of digits.
        raise RefusedValue(field, "", "is a number of over 40 digits", ACCEPTED_LENGTH)
    text = _plain(str(value))
    if len(text) > _LONGEST_TEXT:
        raise RefusedValue(field, _shortened(text), "is too long for a length", ACCEPTED_LENGTH)
    return text


def _shortened(text: str) -> str:
    return text if len(text) <= _LONGEST_TEXT else text[: _LONGEST_TEXT - 1] + "…"


def _plain(text: str) -> str:
    """Return `text` with one kind of space, dash and fraction, and none at the ends."""
    if len(text) > 4 * _LONGEST_TEXT:
        return text.strip()
    text = text.translate(_DASHES).replace("⁄", "/")
    text = re.sub(rf"(?<=[0-9])[- ]?([{_VULGAR}])|([{_VULGAR}])", _spelled, text)
    return " ".join(text.split())


def _spelled(match: re.Match[str]) -> str:
    sign = match[1] or match[2]
    return " " + unicodedata.normalize("NFKC", sign).replace("⁄", "/")


def _refuse_thousands(text: str, value: object, field: str) -> None:
    match = _THOUSANDS.search(text)
    if match is not None:
        decimal, whole = match[0].replace(".", ","), match[0].replace(".", "")
        problem = "has a point that may mark a decimal or thousands"
        raise RefusedValue(field, value, problem, f"write {decimal} or {whole}")


def _decimal_point(text: str) -> str:
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)


def _no_length(text: str) -> tuple[str, str]:
    """Return what is wrong with a text that starts with no number, and what would do."""
    if re.match(r"- ?\.?[0-9]", text):
        return "is negative", ACCEPTED_LENGTH
    if not text:
        return "is empty", ACCEPTED_LENGTH
    return "is not a length", ACCEPTED_LENGTH


def _number(match: re.Match[str], value: object, field: str) -> Fraction:
    if match["top"] is None:
        return Fraction(match["decimal"])
    top, bottom = int(match["top"]), int(match["bottom"])
    if bottom == 0:
        raise RefusedValue(field, value, "divides by zero", ACCEPTED_LENGTH)
    if match["whole"] and top >= bottom:
        raise RefusedValue(field, value, "has a fraction of one or more", ACCEPTED_LENGTH)
    return Fraction(top, bottom) + int(match["whole"] or 0)


def _suffix(stated: str, value: object, field: str, text: str) -> Unit:
    known = _SUFFIX.get(stated.lower())
    if known is not None:
        return known
    if re.fullmatch(r"[0-9]+,[0-9]+.*", text):
        raise RefusedValue(
            field, value, "has a decimal comma", "write a point, as in 16.5, for a decimal"
        )
    if stated.isalpha() or stated == "'":
        raise RefusedValue(field, value, f"has an unknown unit {stated!r}", ACCEPTED_UNIT)
    raise RefusedValue(field, value, "is not a length", ACCEPTED_LENGTH)


def parse_unit(value: object, field: str = "unit") -> Unit:
    """Return the unit that `value` names: ``in``, ``mm`` or ``cm``, or a spelling of these.

    Raises
    ------
    RefusedValue
        If it names none.
    """
    unit = _SUFFIX.get(value.strip().lower()) if isinstance(value, str) else None
    if unit is None:
        raise RefusedValue(field, value, "is not a unit", ACCEPTED_UNIT)
    return unit


def parse_size(
    value: object, unit: Unit, field: str = "size", *, decimal_comma: bool = False
) -> Size:
    """Return the size that `value` states: two lengths, or an ISO 216 name (short side first).

    A unit on the second number alone is meant for both, as in ``40 x 50 cm``. On the first
    alone it is meant for that one: in ``16 in x 400`` the 400 is bare and takes `unit`.

    Raises
    ------
    RefusedValue
        If it is no size, or either length is refused by `parse_length`.
    """
    text = _plain(value) if isinstance(value, str) else ""
    if not text or len(text) > 2 * _LONGEST_TEXT:
        shown = _shortened(value) if isinstance(value, str) else value
        problem = "is empty" if shown == "" else "is not a size"
        raise RefusedValue(field, shown, problem, ACCEPTED_SIZE)
    named = _ISO_NAME.fullmatch(text)
    if named:
        return _iso_size(named[1], field)
    parts = _BY.split(text)
    if len(parts) != 2 or not all(parts):
        raise RefusedValue(field, value, "is not a size", ACCEPTED_SIZE)
    try:
        return _size(parts[0], parts[1], unit, field, decimal_comma=decimal_comma)
    except RefusedValue as side:
        problem = f"has the side {side.value!r}, which {side.problem}"
        raise RefusedValue(field, text, problem, _accepted_side(side)) from None


def _accepted_side(side: RefusedValue) -> str:
    return ACCEPTED_SIZE if side.accepted == ACCEPTED_LENGTH else side.accepted


def _iso_size(name: str, field: str) -> Size:
    if name.upper() not in ISO_216:
        raise RefusedValue(
            field, name, "is not an ISO 216 size", "A0 to A10 and B0 to B10 are known"
        )
    short, long = ISO_216[name.upper()]
    return Size(Length(Fraction(short)), Length(Fraction(long)))


def _size(first: str, second: str, unit: Unit, field: str, *, decimal_comma: bool) -> Size:
    ending = re.search(r"[^0-9]*$", second)
    stated = _SUFFIX.get(ending[0].strip().lower()) if ending else None
    width = parse_length(first, stated or unit, field, decimal_comma=decimal_comma)
    return Size(width, parse_length(second, unit, field, decimal_comma=decimal_comma))


def format_length(
    length: Length, unit: Unit, *, rule: Length | None = None, with_unit: bool = False
) -> str:
    """Return `length` as a person reads it, marked with ``≈`` where it had to be rounded.

    Parameters
    ----------
    unit
        What it is shown in: inches as fractions down to 1/64, else decimals.
    rule
        The finest mark of the rule that it is read on. Given, the nearest mark is shown, a
        length halfway between two going to the longer, and one nearest to no mark at all as
        being under the first; without it the length is shown exactly where eight decimals or a
        denominator up to 64 can show it.
    with_unit
        Whether ``in``, ``mm`` or ``cm`` follows.

    Examples
    --------
    >>> format_length(parse_length("16.125", Unit.INCH), Unit.INCH)
    '16 1/8'
    >>> format_length(parse_length("16.1", Unit.INCH), Unit.INCH, rule=Length.of(1, Unit.INCH))
    '≈16'
    """
    shown = length if rule is None else rule * _nearest(length.mm / rule.mm)
    if rule is not None and length and not shown:
        return f"under {format_length(rule, unit, with_unit=with_unit)}"
    text = _exact_text(shown.in_unit(unit), unit)
    if text is None:
        fine = _FINEST[unit]
        text = "≈" + str(_exact_text(fine * _nearest(shown.in_unit(unit) / fine), unit))
    elif shown != length:
        text = "≈" + text
    return f"{text} {unit}" if with_unit else text


# What a length that no short decimal or fraction shows is rounded to, where no rule is given.
_FINEST = {
    Unit.INCH: Fraction(1, 64),
    Unit.MILLIMETRE: Fraction(1, 100),
    Unit.CENTIMETRE: Fraction(1, 1000),
}
_DECIMALS = 8


def _nearest(number: Fraction) -> int:
    return math.floor(number + Fraction(1, 2))


def _exact_text(number: Fraction, unit: Unit) -> str | None:
    if number < 0:
        text = _exact_text(-number, unit)
        return None if text is None else "-" + text
    bottom = number.denominator
    binary = bottom <= 64 and bottom & (bottom - 1) == 0
    if bottom == 1 or (unit is Unit.INCH and binary):
        return _fraction_text(number)
    if 10**_DECIMALS % bottom == 0:
        return _decimal_text(number)
    return _fraction_text(number) if bottom <= 64 else None


def _fraction_text(number: Fraction) -> str:
    whole, rest = divmod(number.numerator, number.denominator)
    if not rest:
        return str(whole)
    return f"{whole} {rest}/{number.denominator}" if whole else f"{rest}/{number.denominator}"


def _decimal_text(number: Fraction) -> str:
    digits = f"{int(number * 10**_DECIMALS):0{_DECIMALS + 1}d}"
    return f"{digits[:-_DECIMALS]}.{digits[-_DECIMALS:].rstrip('0')}"


def format_size(
    size: Size, unit: Unit, *, rule: Length | None = None, with_unit: bool = False
) -> str:
    """Return `size` as a person reads it, such as ``16 x 20``; see `format_length`."""
    width = format_length(size.width, unit, rule=rule)
    height = format_length(size.height, unit, rule=rule)
    return f"{width} x {height} {unit}" if with_unit else f"{width} x {height}"


def step_text(length: Length, unit: Unit = Unit.INCH) -> str:
    """Return `length` exactly, as ``n/d unit`` or ``n unit``: ``1/16 in``, ``1/80 mm``.

    It is in inches or millimetres, whichever takes the smaller denominator; where neither
    does, in inches if `unit` is the inch.
    """
    shown = _simpler_unit(length, unit)
    return f"{length.in_unit(shown)} {shown}"


def _simpler_unit(length: Length, preferred: Unit) -> Unit:
    inch = length.in_unit(Unit.INCH).denominator
    if inch == length.mm.denominator:
        return Unit.INCH if preferred is Unit.INCH else Unit.MILLIMETRE
    return Unit.INCH if inch < length.mm.denominator else Unit.MILLIMETRE


def parse_step(text: object, field: str = "step") -> Length:
    """Return the length that `step_text` wrote.

    Raises
    ------
    RefusedValue
        If it is not ``n/d unit`` or ``n unit``, or is zero.
    """
    match = _STEP.fullmatch(text) if isinstance(text, str) else None
    if match is None or int(match[1]) == 0 or int(match[2] or 1) == 0:
        raise RefusedValue(field, text, "is not a step", ACCEPTED_STEP)
    return Length.of(Fraction(int(match[1]), int(match[2] or 1)), Unit(match[3]))


def common_step(lengths: Iterable[Length]) -> Length:
    """Return the longest length of which every given one is a whole multiple.

    It is the greatest common divisor of fractions: that of the numerators over a common
    denominator, divided by it. Zero lengths are passed over.

    Raises
    ------
    ValueError
        If no length is other than zero.
    """
    numbers = [length.mm for length in lengths if length]
    if not numbers:
        raise ValueError("no length is other than zero")
    denominator = math.lcm(*(number.denominator for number in numbers))
    numerator = math.gcd(*(int(number * denominator) for number in numbers))
    return Length(Fraction(numerator, denominator))
