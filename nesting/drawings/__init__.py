"""The drawings room: an audited plan as pages to cut from.

Importing it loads matplotlib; callers that may end with a message instead import it late.
"""

from .files import ImageKind, draw_images, draw_pdf
from .pages import draw_cover
from .paper import Paper
from .sheet import draw_layout

__all__ = ["ImageKind", "Paper", "draw_cover", "draw_images", "draw_layout", "draw_pdf"]
