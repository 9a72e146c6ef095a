"""What only the pages say, and how they show lengths; nothing here draws."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterable
from decimal import Decimal
from fractions import Fraction
from itertools import count
from typing import TypeVar, cast

from ..instructions import Instruction, board_instructions
from ..lengths import Length, Unit, format_length
from ..plan.model import BoardPlan, Layout, Plan
from .runs import Run, runs

__all__ = ["CHECK_FIRST", "Measures", "mark_sign", "measuring", "short_digest"]

T = TypeVar("T")
SIGNS = "#*§¶"
CHECK_FIRST = "Check the first piece against the order before cutting the rest."


class Measures:
    """Shows a plan's steps in its own unit, on its own rule.

    Attributes
    ----------
    plan
        The plan that it is for.
    sign
        What a mark on a drawing begins with, so that no label of the order reads like one.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.step, self.unit, self.rule = plan.step, plan.unit, plan.rule
        labels = [piece.label for board in plan.boards for piece in board.ordered]
        self.sign = mark_sign(labels)
        # A page is composed in many ways before one is chosen, and says the same in each.
        self._lengths: dict[int, str] = {}
        self._told: dict[str, dict[str, tuple[Instruction, ...]]] = {}
        self._runs: dict[tuple[str, str], tuple[Run, ...]] = {}
        self._kept: dict[Hashable, object] = {}

    def length(self, steps: int) -> str:
        """Return a length such as ``16 1/8``, without its unit."""
        if steps not in self._lengths:
            shown = format_length(self.step * steps, self.unit, rule=self.rule)
            self._lengths[steps] = shown
        return self._lengths[steps]

    def instructions(self, layout: Layout, board: BoardPlan) -> tuple[Instruction, ...]:
        """Return what to do with each copy of one of the plan's layouts, in order."""
        if board.board not in self._told:
            self._told[board.board] = board_instructions(board, self.plan)
        return self._told[board.board][layout.id]

    def runs(self, layout: Layout, board: BoardPlan) -> tuple[Run, ...]:
        """Return the cuts of one of the plan's layouts in order, gathered into runs."""
        key = (board.board, layout.id)
        if key not in self._runs:
            self._runs[key] = runs(layout, board.tool.kerf)
        return self._runs[key]

    def kept(self, key: Hashable, made: Callable[[], T]) -> T:
        """Return what was made for a key, or make it now; all of a key is of one type."""
        if key not in self._kept:
            self._kept[key] = made()
        return cast("T", self._kept[key])

    def size(self, width: int, height: int) -> str:
        """Return a size such as ``16 × 20``, without its unit."""
        return f"{self.length(width)} × {self.length(height)}"

    def size_in_unit(self, width: int, height: int) -> str:
        """Return a size such as ``16 × 20 in``."""
        return f"{self.size(width, height)} {self.unit}"

    def exact_size(self, width: int, height: int) -> str:
        """Return a size as the order has it, whatever the rule can show."""
        sides = (format_length(self.step * side, self.unit) for side in (width, height))
        return " × ".join(sides)

    def beside_mark(self, steps: int) -> str:
        """Return how far a setting lies from the mark that is shown: ``+0.03`` or ``−0.03``."""
        marks = math.floor((self.step * steps).mm / self.rule.mm + Fraction(1, 2))
        off = self.step * steps - self.rule * marks
        return f"{'+' if off.mm > 0 else '−'}{_decimal(Length(abs(off.mm)), self.unit)}"

    def exactly(self, steps: int) -> str:
        """Return ``exactly 16.1 (+0.0375)`` for a setting between two marks, else nothing."""
        exact = self.exact(steps)
        return f"exactly {exact} ({self.beside_mark(steps)})" if exact else ""

    def exact(self, steps: int) -> str:
        """Return the exact decimal of a length that the rule cannot show, else nothing."""
        length = self.step * steps
        if (length.mm / self.rule.mm).denominator == 1:
            return ""
        return _decimal(length, self.unit)


def _decimal(length: Length, unit: Unit) -> str:
    number = length.in_unit(unit)
    if 10**8 % number.denominator:
        return format_length(length, unit)
    return f"{(Decimal(number.numerator) / number.denominator).normalize():f}"


def mark_sign(labels: Iterable[str]) -> str:
    """Return the first sign that begins no label of the order, but for spaces before it.

    Examples
    --------
    >>> mark_sign(["A", "#1"])
    '*'
    """
    begun = tuple(label.strip() for label in labels)
    signs = (sign * often for often in count(1) for sign in SIGNS)
    return next(sign for sign in signs if not any(label.startswith(sign) for label in begun))


def short_digest(plan: Plan) -> str:
    """Return the first eight digits of the order's digest."""
    return plan.order_digest.removeprefix("sha256:")[:8]


def measuring(plan: Plan) -> str:
    """Say what unit and what rule the pages are written for."""
    unit = {Unit.INCH: "inches", Unit.MILLIMETRE: "millimetres", Unit.CENTIMETRE: "centimetres"}
    mark = format_length(plan.rule, plan.unit, with_unit=True)
    return (
        f"All lengths are in {unit[plan.unit]}, for a rule marked every {mark}."
        " Sizes give the width as drawn first. ± after a side to measure is by how much it may be"
        " off at worst. ≈ marks a length that falls between two marks;"
        " beside a setting stands the exact one."
    )
