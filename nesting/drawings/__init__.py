"""The drawings room: an audited plan as pages to cut from.

What needs matplotlib is loaded when it is first used: images, and figures of one's own.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from .files import ImageKind, draw_images, draw_pdf
from .paper import Paper

if TYPE_CHECKING:
    from .canvas import draw_cover, draw_layout

__all__ = ["ImageKind", "Paper", "draw_cover", "draw_images", "draw_layout", "draw_pdf"]


def __getattr__(name: str) -> object:
    """Load what draws on figures when it is first used (PEP 562)."""
    if name not in {"draw_cover", "draw_layout"}:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value: object = getattr(import_module(".canvas", __name__), name)
    globals()[name] = value
    return value
