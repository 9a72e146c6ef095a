"""One board under audit: its plan, how to name its parts, and what the replay of it gave."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ..lengths import Length, Unit, format_length
from ..plan.model import Axis, BoardPlan, Cut, Layout, Leftover, PlacedPiece, Source, trim_of

__all__ = ["Case", "Part", "Replay", "Scale", "Step", "amount", "part_of", "source_name"]


@dataclass(frozen=True, slots=True, order=True)
class Part:
    """A rectangle on the bench, by its edges; the far edges are not part of it."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def area(self) -> int:
        """Area in steps squared; negative sides count as none."""
        return max(0, self.right - self.left) * max(0, self.bottom - self.top)

    def along(self, axis: Axis) -> tuple[int, int]:
        """Return where the part begins and ends on `axis`."""
        return (self.left, self.right) if axis is Axis.X else (self.top, self.bottom)

    def across(self, axis: Axis) -> tuple[int, int]:
        """Return where the part begins and ends on the other axis."""
        return (self.top, self.bottom) if axis is Axis.X else (self.left, self.right)

    def between(self, axis: Axis, low: int, high: int) -> Part | None:
        """Return what lies from `low` to `high` on `axis`; None where that is nothing."""
        if high <= low:
            return None
        if axis is Axis.X:
            return Part(low, self.top, high, self.bottom)
        return Part(self.left, low, self.right, high)

    def holds(self, other: Part) -> bool:
        """Return whether `other` lies within this part."""
        return (
            self.left <= other.left
            and self.top <= other.top
            and other.right <= self.right
            and other.bottom <= self.bottom
        )


def part_of(item: PlacedPiece | Leftover) -> Part:
    """Return the rectangle that a piece or a leftover covers."""
    return Part(item.x, item.y, item.x + item.width, item.y + item.height)


@dataclass(frozen=True, slots=True)
class Step:
    """One cut of the replay: the part before it, and the two after it."""

    cut: Cut
    part: Part
    first: Part | None
    second: Part | None


@dataclass(frozen=True, slots=True)
class Replay:
    """What came of cutting one copy of a layout in order.

    Attributes
    ----------
    parts
        What lies on the bench at the end, in no particular order.
    kerf_area
        What the cuts turned to dust.
    finished
        Whether every cut could be made; if not, `parts` means little.
    """

    layout: Layout
    steps: tuple[Step, ...]
    parts: tuple[Part, ...]
    kerf_area: int
    finished: bool


@dataclass(frozen=True, slots=True)
class Scale:
    """How the plan's steps are shown to a person, and the order's longest mat in steps.

    Attributes
    ----------
    longest_mat
        The longer side of the order's longest mat; None where it has no mat.
    """

    step: Length
    unit: Unit
    longest_mat: int | None

    def show(self, steps: int) -> str:
        """Return a length of `steps` as a person reads it, with its unit."""
        sign = "-" if steps < 0 else ""
        return sign + format_length(self.step * abs(steps), self.unit, with_unit=True)

    def size(self, width: int, height: int) -> str:
        """Return a size as a person reads it."""
        return f"{self.show(width).removesuffix(f' {self.unit}')} x {self.show(height)}"

    def place(self, part: Part) -> str:
        """Return a part's size and where its top left corner lies."""
        size = self.size(part.right - part.left, part.bottom - part.top)
        return f"{size} at {self.show(part.left)}, {self.show(part.top)}"


@dataclass(frozen=True, slots=True)
class Case:
    """One board under audit.

    Attributes
    ----------
    rule
        The finest mark of the bench rule.
    """

    board: BoardPlan
    scale: Scale
    replays: tuple[Replay, ...]
    rule: Length

    @property
    def name(self) -> str:
        """How a sentence about the board begins."""
        return f"Board {self.board.board!r}"

    def layout_name(self, layout: Layout) -> str:
        """How a sentence about a layout begins."""
        return f"{self.name}, layout {layout.id}"

    def usable(self, source: Source) -> Part:
        """Return what of a source pieces may lie in: a full sheet has its trim off.

        So has a part of one whose factory edges are still on.
        """
        trim = trim_of(source, self.board.trim, self.board.stock)
        return Part(trim.left, trim.top, source.width - trim.right, source.height - trim.bottom)

    def in_trim(self, source: Source, part: Part) -> bool:
        """Return whether a part lies wholly in one of a source's trims."""
        usable = self.usable(source)
        return Part(0, 0, source.width, source.height).holds(part) and (
            part.right <= usable.left
            or part.left >= usable.right
            or part.bottom <= usable.top
            or part.top >= usable.bottom
        )


def source_name(source: Source, scale: Scale) -> str:
    """Return a source in words: ``sheet 32 x 40 in``."""
    told = f"{source.kind} {source.id!r}" if source.id is not None else f"{source.kind}"
    return f"{told} {scale.size(source.width, source.height)}"


def amount(value: Fraction) -> str:
    """Return a cost or an area as a person reads it: ``54``, ``21.50``, or a fraction."""
    if value.denominator == 1:
        return str(value.numerator)
    cents = value * 100
    if cents.denominator != 1:
        return str(value)
    whole, rest = divmod(abs(cents.numerator), 100)
    return f"{'-' if value < 0 else ''}{whole}.{rest:02d}"
