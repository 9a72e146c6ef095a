"""Labels of pieces that read like something else, and what they are called then."""

from __future__ import annotations

from .model import LeftoverKind

__all__ = ["DUST", "is_numbered", "piece_named"]

DUST = "dust"  # what comes off where nothing is left beside the blade
LEFT_NAMES = frozenset((*LeftoverKind, DUST))  # a piece goes by none of them alone


def is_numbered(label: str) -> bool:
    """Return whether a piece is numbered even if it is the only one: it reads like something else.

    That is so of a leftover's name, and of a number, which may be a cut, a count or a length.
    """
    return label.lower() in LEFT_NAMES or label.isdecimal()


def piece_named(label: str) -> str:
    """Return a label, set apart where it reads like something else beside a count or a size.

    Examples
    --------
    >>> piece_named("3"), piece_named("3a")
    ('piece 3', '3a')
    """
    return f"piece {label}" if is_numbered(label) else label
