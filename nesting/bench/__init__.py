"""The bench room: in which order a board's cuts are made, with which settings, how exactly."""

from .order_of_cuts import Bench, KindOf, order_board

__all__ = ["Bench", "KindOf", "order_board"]
