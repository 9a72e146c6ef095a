"""One board's instance in integers: what must be cut, and what it may be cut from.

Nothing here knows inches, files or the names of boards. Following the usual device, kerf
disappears by adding it to every piece and every usable source: a part of true width ``w`` is
held as ``w + kerf`` (its *gross* width), and a cut then splits gross widths exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Instance", "PieceType", "SourceType"]


@dataclass(frozen=True, slots=True)
class PieceType:
    """Equal blanks: true `width` x `height`, wanted `demand` times."""

    width: int
    height: int
    demand: int
    may_turn: bool

    def orientations(self) -> tuple[tuple[int, int], ...]:
        """Return the true sizes in which it may be cut, as ordered first."""
        upright = (self.width, self.height)
        if self.may_turn and self.width != self.height:
            return (upright, (self.height, self.width))
        return (upright,)


@dataclass(frozen=True, slots=True)
class SourceType:
    """Equal sources.

    Attributes
    ----------
    width, height
        The usable rectangle, trim taken off.
    cost
        In the aim's own integer unit; zero for offcuts and drop-outs.
    available
        How many there are; None for any number.
    trim_x, trim_y
        What the trims take off the width and off the height, for the lengths of first cuts.
    """

    width: int
    height: int
    cost: int
    available: int | None
    trim_x: int = 0
    trim_y: int = 0


@dataclass(frozen=True, slots=True)
class Instance:
    """What one board asks for.

    Attributes
    ----------
    longest_cut
        None where there is no limit.
    narrowest_strip
        Zero where there is no limit.
    keep
        The smallest leftover worth keeping, either way round.
    commonest
        The area of the board's commonest sheet, by which leftovers are measured; 0 for the area
        of the largest source.
    """

    pieces: tuple[PieceType, ...]
    sources: tuple[SourceType, ...]
    kerf: int = 0
    longest_cut: int | None = None
    narrowest_strip: int = 0
    keep: tuple[int, int] = (0, 0)
    commonest: int = 0

    @property
    def has_bench_limits(self) -> bool:
        """Whether a limit of the tool could forbid a cut on one of the sources."""
        if self.narrowest_strip > 0:
            return True
        return self.longest_cut is not None and any(
            max(source.width + source.trim_x, source.height + source.trim_y) > self.longest_cut
            for source in self.sources
        )

    @property
    def demands(self) -> tuple[int, ...]:
        """How many of each type are wanted."""
        return tuple(piece.demand for piece in self.pieces)
