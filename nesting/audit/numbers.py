"""Which numbers of sheets can hold all that was ordered, by several sets of piece values at once.

Give each piece a value. The sheets of a plan, each taken at the worth of its best layout, must
together be worth all that was ordered: one linear rule on how many of each kind there are. Several
sets of values make several rules. The least that numbers keeping all of them can cost is a bound,
and one that knows that sheets are whole; it is found by trying the numbers of one kind after
another, as far as what the rules still ask for can be had for less than the plan costs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["Holding", "TooManyNumbers", "least_total"]

MOST_TRIED = 200_000


class TooManyNumbers(Exception):
    """The numbers to try are too many to be rechecked in reasonable time."""

    def __str__(self) -> str:
        return f"more than {MOST_TRIED} numbers of sheets tried"


@dataclass(frozen=True, slots=True)
class Holding:
    """One kind of source.

    Attributes
    ----------
    available
        How many there are; None for any number.
    worth
        Of the best layout, by each set of values.
    """

    cost: Fraction
    available: int | None
    worth: tuple[Fraction, ...]


def least_total(
    holdings: Sequence[Holding], wanted: Sequence[Fraction], most: Fraction, pieces: int
) -> Fraction:
    """Return the least cost of sources that are worth `wanted` by every set of values.

    Parameters
    ----------
    most
        What is known to be enough, and returned if nothing less is.
    pieces
        How many were ordered; no plan uses more of what costs nothing.

    Raises
    ------
    TooManyNumbers
        If it would take too long.
    """
    free = [one for one in holdings if one.cost == 0]
    numbers = [pieces if one.available is None else min(pieces, one.available) for one in free]
    left = [
        want - sum(number * one.worth[rule] for number, one in zip(numbers, free, strict=True))
        for rule, want in enumerate(wanted)
    ]
    paid = sorted((one for one in holdings if one.cost > 0), key=lambda one: one.cost, reverse=True)
    trial = _Trial(tuple(paid), most)
    trial.go(0, Fraction(0), left)
    return trial.least


@dataclass(slots=True)
class _Trial:
    """The kinds that cost something, the dearest first, and the least total so far."""

    kinds: tuple[Holding, ...]
    least: Fraction
    tried: int = 0

    def go(self, place: int, spent: Fraction, left: Sequence[Fraction]) -> None:
        """Try numbers of the kinds from `place` on for what the rules still ask for."""
        self.tried += 1
        if self.tried > MOST_TRIED:
            raise TooManyNumbers
        if all(want <= 0 for want in left):
            self.least = min(self.least, spent)
            return
        if place == len(self.kinds):
            return
        kind = self.kinds[place]
        number, last = self._from(place, spent, left), self._last(kind, spent)
        while number <= last:
            if not self._could_do(place, number, spent, left):
                # More of this kind helps only where it is what a rule can be kept cheaply with.
                further = self._from(place, spent, left)
                if further <= number:
                    return
                number = further
                continue
            more = zip(left, kind.worth, strict=True)
            self.go(place + 1, spent + number * kind.cost, [w - number * h for w, h in more])
            number, last = number + 1, self._last(kind, spent)

    def _last(self, kind: Holding, spent: Fraction) -> int:
        """Return the most of a kind that does not cost as much as the least total."""
        most = math.ceil((self.least - spent) / kind.cost) - 1
        return most if kind.available is None else min(most, kind.available)

    def _from(self, place: int, spent: Fraction, left: Sequence[Fraction]) -> int:
        """Return a number of a kind below which the later ones would cost too much, by some rule.

        With `n` of this kind a rule asks the later ones for ``want - n * worth``, at a rate each.
        """
        kind, first = self.kinds[place], 0
        for rule, want in enumerate(left):
            worth, rate = kind.worth[rule], self._rate(place + 1, rule)
            if want <= 0:
                continue
            if rate is None:
                first = max(
                    first, math.ceil(want / worth) if worth else 1 + self._last(kind, spent)
                )
                continue
            # spent + n * cost + (want - n * worth) * rate must stay below the least total.
            saved, over = worth * rate - kind.cost, spent + want * rate - self.least
            if saved > 0 and over >= 0:
                first = max(first, math.floor(over / saved) + 1)
        return first

    def _could_do(self, place: int, number: int, spent: Fraction, left: Sequence[Fraction]) -> bool:
        """Whether the later kinds could do the rest for less, each rule taken by itself."""
        kind = self.kinds[place]
        now = spent + number * kind.cost
        for rule, want in enumerate(left):
            rest, rate = want - number * kind.worth[rule], self._rate(place + 1, rule)
            if rest > 0 and (rate is None or now + rest * rate >= self.least):
                return False
        return now < self.least

    def _rate(self, place: int, rule: int) -> Fraction | None:
        """Return what a unit of worth costs at least on the kinds from `place` on."""
        rates = [one.cost / one.worth[rule] for one in self.kinds[place:] if one.worth[rule] > 0]
        return min(rates, default=None)
