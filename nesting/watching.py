"""How a person watches a plan being made, and stops it: the seam to a terminal."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

__all__ = ["Progress", "Silent", "Stop", "Watch"]


class Stop(StrEnum):
    """Why planning ended."""

    DONE = "done"
    SECONDS = "seconds"
    INTERRUPTED = "interrupted"


@dataclass(frozen=True, slots=True)
class Progress:
    """Where planning stands on one board.

    Attributes
    ----------
    sheets
        Full sheets in the best plan so far; None before the first.
    sheets_lower_bound
        No plan takes fewer.
    trying
        What is being tried, in a few words.
    """

    board: str
    sheets: int | None
    sheets_lower_bound: int
    trying: str


class Watch(Protocol):
    """Told how planning goes, and asked whether it should end."""

    def report(self, progress: Progress) -> None:
        """Take note of `progress`; called a few times a second at most."""

    def stop(self) -> Stop | None:
        """Return why planning should end now, or None; must be cheap."""

    def seconds_left(self) -> float | None:
        """Return how long planning may still take, or None for as long as it likes."""


class Silent:
    """Says nothing and never stops."""

    def report(self, progress: Progress) -> None:
        """Pass over it."""

    def stop(self) -> Stop | None:
        """Return None."""
        return None

    def seconds_left(self) -> float | None:
        """Return None."""
        return None
