"""Lower bounds that hold exactly, from whole-number piece values.

Floating-point duals prove nothing. They are rounded down to whole numbers first, the recursion
prices those exactly, and everything after is rational arithmetic.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from .layouts import gross_areas, gross_rooms

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..problem.instance import Instance, SourceType

__all__ = ["PieceValues", "area_values", "next_total", "rate", "simplified"]

TOTALS_LIMIT = 4_000_000


@dataclass(frozen=True, slots=True)
class PieceValues:
    """Exact piece values and the bound that they prove.

    Attributes
    ----------
    values
        One a piece type, in units of cost.
    bound
        No plan costs less.
    charges
        What was taken off for limited sources.
    """

    values: tuple[Fraction, ...]
    bound: Fraction
    charges: Fraction


def rate(
    instance: Instance, values: Sequence[int], best: Sequence[int], unit: Fraction
) -> PieceValues:
    """Return the bound that whole-number values prove.

    Parameters
    ----------
    values
        One a piece type.
    best
        The value of the best single layout on each source, exactly (or an overestimate).
    unit
        Cost of one unit of value.

    Notes
    -----
    The Lagrangian bound: values times demands, less, over each limited source, its number times
    what its best layout is worth above its cost; first scaled so that no layout of an unlimited
    source is worth more than it costs. With unlimited sources alone this is Farley (1990), A note
    on bounding a class of linear programming problems, including cutting stock problems.
    """
    scale = unit
    for source, worth in zip(instance.sources, best, strict=True):
        if source.available is None and worth * scale > source.cost:
            scale = Fraction(source.cost, worth)
    charges = sum(
        (
            source.available * max(Fraction(0), worth * scale - source.cost)
            for source, worth in zip(instance.sources, best, strict=True)
            if source.available is not None
        ),
        Fraction(0),
    )
    total = scale * sum(v * d for v, d in zip(values, instance.demands, strict=True))
    return PieceValues(tuple(scale * value for value in values), total - charges, charges)


def area_values(instance: Instance) -> PieceValues:
    """Return the bound by gross area: each piece is worth its share of the dearest-used sheet."""
    areas, rooms = gross_areas(instance), gross_rooms(instance)
    rates = [
        Fraction(source.cost, room)
        for source, room in zip(instance.sources, rooms, strict=True)
        if source.cost
    ]
    return rate(instance, areas, rooms, min(rates, default=Fraction(0)))


def next_total(bound: Fraction, instance: Instance, most: int) -> int:
    """Return the least total, at or above `bound`, that the costs of sources can add up to.

    Parameters
    ----------
    most
        A total known to be enough; the answer is at most this.
    """
    least = max(0, math.ceil(bound))
    paid = [source for source in instance.sources if source.cost > 0]
    grain = math.gcd(*(source.cost for source in paid))
    if grain == 0 or least >= most:
        return min(least, most)
    if most // grain > TOTALS_LIMIT:
        return min(-(-least // grain) * grain, most)
    reach = _totals(paid, grain, most // grain)
    wanted = reach >> -(-least // grain)
    if wanted == 0:
        return most
    return min((-(-least // grain) + (wanted & -wanted).bit_length() - 1) * grain, most)


def _totals(paid: Sequence[SourceType], grain: int, most: int) -> int:
    """Return a bit set of the totals, in grains, that the costs can add up to."""
    reach = 1
    mask = (1 << (most + 1)) - 1
    for source in paid:
        cost = source.cost // grain
        room = most // cost
        left = room if source.available is None else min(source.available, room)
        copies = 1
        while left > 0:
            step = min(copies, left)
            reach |= (reach << (cost * step)) & mask
            left -= step
            copies *= 2
    return reach


def simplified(
    instance: Instance, proof: PieceValues, goal: int, whole: int, most: int
) -> PieceValues:
    """Return the same proof with the plainest values that still reach `goal`.

    Values may always be rounded down: every layout is then worth less. The coarsest binary
    fraction of `whole` that still proves the goal is what a person will want to recheck.
    """
    for bits in range(3, 40):
        grain = Fraction(whole, 1 << bits)
        values = tuple(value // grain * grain for value in proof.values)
        total = sum((v * d for v, d in zip(values, instance.demands, strict=True)), Fraction(0))
        if next_total(total - proof.charges, instance, most) >= goal:
            return PieceValues(values, total - proof.charges, proof.charges)
    return proof
