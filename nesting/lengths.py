"""Exact lengths: parse, add, compare, and print on a rule.

Every length is a rational number of millimetres; 1 in = 25.4 mm exactly. Nothing is rounded
except in the text that a person reads, and then it is marked with ``≈``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import total_ordering

from .errors import RefusedValue

__all__ = ["ISO_216", "Length", "Size", "Unit", "common_step", "parse_length", "parse_size"]


class Unit(StrEnum):
    """A unit that a bare number may take."""

    INCH = "in"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"

    @property
    def millimetres(self) -> Fraction:
        """Exact millimetres in one of this unit."""
        return _MILLIMETRES[self]


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
    """Two lengths; the first lies along the first number of the sheet's size."""

    width: Length
    height: Length


ISO_216: dict[str, tuple[int, int]] = {
    # ISO 216:2007, trimmed sizes in millimetres, short side first.
    "A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297),
    "A5": (148, 210), "A6": (105, 148), "A7": (74, 105), "A8": (52, 74), "A9": (37, 52),
    "A10": (26, 37),
    "B0": (1000, 1414), "B1": (707, 1000), "B2": (500, 707), "B3": (353, 500), "B4": (250, 353),
    "B5": (176, 250), "B6": (125, 176), "B7": (88, 125), "B8": (62, 88), "B9": (44, 62),
    "B10": (31, 44),
}  # fmt: skip

_NUMBER = r"(?:\d+[ -]\d+/\d+|\d+/\d+|\d+(?:\.\d+)?|\.\d+)"
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*(in|inch|inches|\"|″|mm|cm)?\s*", re.IGNORECASE)
_SUFFIX = {"in": Unit.INCH, "inch": Unit.INCH, "inches": Unit.INCH, '"': Unit.INCH, "″": Unit.INCH,
           "mm": Unit.MILLIMETRE, "cm": Unit.CENTIMETRE}  # fmt: skip
ACCEPTED_LENGTH = 'write a length such as 16, 16.125, 16 1/8, 16 1/8", 413mm or 41.3 cm'
ACCEPTED_SIZE = "write two lengths such as 16 x 20 or 406mm x 508mm, or an ISO name such as A3"


def parse_length(value: object, unit: Unit, field: str = "length", *, zero: bool = False) -> Length:
    """Return the exact length that `value` states.

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

    Raises
    ------
    RefusedValue
        If it is no length, or is negative, zero (unless `zero`) or over 10 m.
    """
    if isinstance(value, bool) or not isinstance(value, (str, int, Decimal)):
        raise RefusedValue(field, value, "is not a length", ACCEPTED_LENGTH)
    match = _LENGTH.fullmatch(str(value))
    if match is None:
        raise RefusedValue(field, value, "is not a length", ACCEPTED_LENGTH)
    number, suffix = match.groups()
    length = Length.of(_fraction(number), _SUFFIX[suffix.lower()] if suffix else unit)
    if length.mm > LONGEST_MM:
        raise RefusedValue(field, value, "is over 10 m", ACCEPTED_LENGTH)
    if not length and not zero:
        raise RefusedValue(field, value, "is zero", ACCEPTED_LENGTH)
    return length


def _fraction(number: str) -> Fraction:
    whole, _, rest = re.sub(r"[ -]+", " ", number).rpartition(" ")
    return Fraction(rest) + (int(whole) if whole else 0)


def parse_size(value: object, unit: Unit, field: str = "size") -> Size:
    """Return the size that `value` states: two lengths, or an ISO 216 name (short side first)."""
    if not isinstance(value, str):
        raise RefusedValue(field, value, "is not a size", ACCEPTED_SIZE)
    name = value.strip().upper()
    if name in ISO_216:
        short, long = ISO_216[name]
        return Size(Length(Fraction(short)), Length(Fraction(long)))
    parts = re.split(r"\s*(?:[x×X]|\bby\b)\s*", value.strip())
    if len(parts) != 2:
        raise RefusedValue(field, value, "is not a size", ACCEPTED_SIZE)
    return Size(parse_length(parts[0], unit, field), parse_length(parts[1], unit, field))


def common_step(lengths: Iterable[Length]) -> Length:
    """Return the longest length of which every given one is a whole multiple.

    Zero lengths are passed over; at least one must not be zero.
    """
    numbers = [length.mm for length in lengths if length]
    denominator = math.lcm(*(number.denominator for number in numbers))
    numerator = math.gcd(*(int(number * denominator) for number in numbers))
    return Length(Fraction(numerator, denominator))
