"""One parser for each sort of value but lengths; each refuses what it cannot read."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from ..errors import RefusedValue
from ..stock import ACCEPTED_PRICE
from ._records import closest, kind_of

__all__ = [
    "LONGEST_NAME",
    "clean_name",
    "parse_choice",
    "parse_flag",
    "parse_name",
    "parse_price",
    "parse_whole",
]

Choice = TypeVar("Choice", bound=StrEnum)

LONGEST_NAME = 60
MOST = 1_000_000
# Invisible marks that turn the reading direction: a label with one prints as another label.
_TURNERS = {*map(chr, range(0x202A, 0x202F)), *map(chr, range(0x2066, 0x206A))}
_FLAGS = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_WHOLE = re.compile(r"(-?[0-9]{1,15})(?:\.0{1,15})?")
_THOUSANDS = re.compile(r"-?[0-9]{1,3}\.000")
_PRICE = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,4})?")


def parse_name(field: str, *, numbers: bool = False) -> Callable[[object], str]:
    """Return a parser of names; `numbers` says whether a number will do for one."""

    def parse(value: object) -> str:
        if numbers and isinstance(value, (int, Decimal)) and not isinstance(value, bool):
            value = "" if isinstance(value, int) and abs(value) > 10**LONGEST_NAME else str(value)
        if not isinstance(value, str):
            raise RefusedValue(
                field, value, f"is {kind_of(value)}, not text", "write text, in quotes if in TOML"
            )
        return _checked_name(field, " ".join(value.split()))

    return parse


def _checked_name(field: str, name: str) -> str:
    if not name:
        raise RefusedValue(field, "", "is empty", "write a name")
    if len(name) > LONGEST_NAME:
        raise RefusedValue(
            field, name, "is too long to print", f"write at most {LONGEST_NAME} characters"
        )
    for character in name:
        if _is_unprintable(character):
            raise RefusedValue(
                field, name, f"holds the unprintable character U+{ord(character):04X}", "retype it"
            )
    return name


def _is_unprintable(character: str) -> bool:
    return character in _TURNERS or unicodedata.category(character) in {"Cc", "Co", "Cs"}


def clean_name(text: str) -> str:
    """Return `text` as a name that `parse_name` would take, for a name that nobody typed."""
    kept = "".join(character for character in text if not _is_unprintable(character))
    return " ".join(kept.split())[:LONGEST_NAME].strip() or "order"


def parse_whole(field: str, least: int) -> Callable[[object], int]:
    """Return a parser of whole numbers from `least` to a million.

    ``6.0`` is six; ``1.000`` is one to some and a thousand to others, and is refused.
    """
    accepted = f"write a whole number from {least} to {MOST:,}"

    def parse(value: object) -> int:
        number = _whole(value)
        if number is not None and _THOUSANDS.fullmatch(str(value).strip()):
            problem = "may be read with a decimal point or with a sign for thousands"
            raise RefusedValue(field, value, problem, f"write {number} or {number}000")
        if number is None:
            raise RefusedValue(field, value, "is not a whole number", accepted)
        if not least <= number <= MOST:
            raise RefusedValue(field, value, _out_of_range(number), accepted)
        return number

    return parse


def _out_of_range(number: int) -> str:
    if number < 0:
        return "is negative"
    return f"is over {MOST:,}" if number else "is zero"


def _whole(value: object) -> int | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return value
    if not isinstance(value, (str, Decimal)):
        return None
    match = _WHOLE.fullmatch(str(value).strip())
    return int(match[1]) if match else None


def parse_flag(field: str) -> Callable[[object], bool]:
    """Return a parser of yes and no."""

    def parse(value: object) -> bool:
        if isinstance(value, bool):
            return value
        flag = _FLAGS.get(value.strip().lower()) if isinstance(value, str) else None
        if flag is None:
            accepted = "write yes or no" if isinstance(value, str) else "write true or false"
            raise RefusedValue(field, value, "is neither yes nor no", accepted)
        return flag

    return parse


def parse_choice(field: str, choices: type[Choice]) -> Callable[[object], Choice]:
    """Return a parser of one of a few words, in upper or lower case."""
    words = [choice.value for choice in choices]
    known = f"{', '.join(words[:-1])} or {words[-1]}"

    def parse(value: object) -> Choice:
        word = value.strip().lower() if isinstance(value, str) else ""
        found = next((one for one in words if one.lower() == word), None)
        if found is None:
            near = closest(word, words) if word else None
            accepted = f"did you mean {near}?" if near else f"write {known}"
            raise RefusedValue(field, value, f"is not a known {field}", accepted)
        return choices(found)

    return parse


def parse_price(value: object) -> Fraction:
    """Return the exact price that `value` states; zero is for the model to refuse."""
    if isinstance(value, bool) or not isinstance(value, (str, int, Decimal)):
        raise RefusedValue("price", value, "is not a price", ACCEPTED_PRICE)
    text = "" if isinstance(value, int) and value > 10**LONGEST_NAME else str(value).strip()
    if not _PRICE.fullmatch(text):
        raise RefusedValue("price", value, _no_price(text), ACCEPTED_PRICE)
    return Fraction(text)


def _no_price(text: str) -> str:
    if re.fullmatch(r"-[0-9.]+", text):
        return "is negative"
    if re.fullmatch(r"[0-9]*(?:\.[0-9]*)?", text):
        return "has over nine digits, or over four decimals"
    if re.fullmatch(r"[0-9]+,[0-9]+", text):
        return "has a comma"
    return "is not a plain number"
