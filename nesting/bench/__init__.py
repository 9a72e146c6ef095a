"""The bench room: in which order a layout's cuts are made, and with which settings."""

from .order_of_cuts import KindOf, order_cuts

__all__ = ["KindOf", "order_cuts"]
