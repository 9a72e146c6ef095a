"""Text that goes into a spreadsheet's cells."""

from __future__ import annotations

__all__ = ["neutral", "plain"]

# What begins a formula in a common spreadsheet, or lets one follow.
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "＝", "＋", "－", "＠")


def neutral(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    Examples
    --------
    >>> neutral("=1+1")
    "'=1+1"
    """
    return f"'{text}" if text.lstrip(" \u00a0").startswith(STARTS_A_FORMULA) else text


def plain(text: str) -> str:
    """Return what `neutral` was given.

    Examples
    --------
    >>> plain("'=1+1")
    '=1+1'
    """
    return text[1:] if text[:1] == "'" and neutral(text[1:]) == text else text
