"""Tiny boards solved by trying everything: every cut, every set of pieces, every choice of sheets.

Nothing here comes from the packer. The rules are those of the order file's format: a cut goes
across the whole part and takes the kerf's width, which may run off the far end; it is no longer
than the tool's longest cut, and takes off and leaves no strip under the narrowest, nothing at all
excepted. Sources have no trims here.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from kerfwright.problem.instance import Instance

Counts = tuple[int, ...]

__all__ = ["least_cost", "yields"]


def yields(instance: Instance, width: int, height: int) -> frozenset[Counts]:
    """Return the sets of pieces a part can give that no other set it gives contains.

    Copies beyond the demand are not counted.
    """
    return _Yields(instance).of(width, height)


class _Yields:
    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.of: Callable[[int, int], frozenset[Counts]] = cache(self._of)

    def _of(self, width: int, height: int) -> frozenset[Counts]:
        instance = self.instance
        found = {tuple(0 for _ in instance.pieces)}
        for number, piece in enumerate(instance.pieces):
            if (width, height) in piece.orientations():
                found.add(tuple(int(other == number) for other in range(len(instance.pieces))))
        for first, rest in self._cuts(width, height):
            one = self.of(first, height)
            found |= self._sums(one, self.of(rest, height)) if rest else one
        for first, rest in self._cuts(height, width):
            one = self.of(width, first)
            found |= self._sums(one, self.of(width, rest)) if rest else one
        return _largest(found)

    def _cuts(self, along: int, length: int) -> list[tuple[int, int]]:
        """Return both sizes that each legal cut leaves; the second 0 where nothing remains."""
        kerf, strip = self.instance.kerf, self.instance.narrowest_strip
        longest = self.instance.longest_cut
        if longest is not None and length > longest:
            return []
        pairs = ((first, max(0, along - first - kerf)) for first in range(1, along))
        return [(a, b) for a, b in pairs if a >= strip and (b == 0 or b >= strip)]

    def _sums(self, one: frozenset[Counts], two: frozenset[Counts]) -> set[Counts]:
        demands = self.instance.demands
        return {
            tuple(min(x + y, most) for x, y, most in zip(a, b, demands, strict=True))
            for a in one
            for b in two
        }


def _largest(found: set[Counts]) -> frozenset[Counts]:
    return frozenset(
        one
        for one in found
        if not any(
            other != one and all(x <= y for x, y in zip(one, other, strict=True)) for other in found
        )
    )


def least_cost(instance: Instance) -> int | None:
    """Return the least cost of sources that give every piece wanted; None if none do."""
    given = [yields(instance, source.width, source.height) for source in instance.sources]

    @cache
    def least(left: Counts, stock: tuple[int | None, ...]) -> int | None:
        if not any(left):
            return 0
        best: int | None = None
        for number, source in enumerate(instance.sources):
            if stock[number] == 0:
                continue
            fewer = _one_less(stock, number)
            for counts in given[number]:
                rest = tuple(max(0, x - y) for x, y in zip(left, counts, strict=True))
                more = least(rest, fewer) if rest != left else None
                if more is not None and (best is None or more + source.cost < best):
                    best = more + source.cost
        return best

    return least(instance.demands, tuple(source.available for source in instance.sources))


def _one_less(stock: tuple[int | None, ...], number: int) -> tuple[int | None, ...]:
    return tuple(
        left - 1 if index == number and left is not None else left
        for index, left in enumerate(stock)
    )
