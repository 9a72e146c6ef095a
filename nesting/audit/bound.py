"""The lower bound, found again from the certificate's piece values alone.

Let every piece be worth something, and let no layout of a source that can be had in any number be
worth more than that source costs. Then whatever is cut from such sources is paid for in full. A
source of which there are only so many may hold layouts worth more than it costs: each of those can
save at most the difference, and only so often. So

    sum(value x number ordered) - sum(available x max(0, best layout - cost))

is a lower bound on what any plan spends (linear programming duality; Gilmore & Gomory 1961).
Offcuts and drop-outs cost nothing. As what is spent is a sum of sheet costs, the bound rises to
the next such sum. Several sets of values together say more: which numbers of sheets can hold all
that was ordered, by each of them; see `numbers`. The best layout is taken over all edge-to-edge
layouts with any number of copies that no cut too long for the tool is needed for, trims left out
of account and without the tool's limit on width: that can only make it worth more, and the bound
less.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ..plan.model import CertificateKind, Source, SourceKind, StockItem
from .case import Case, amount, source_name
from .findings import Finding
from .numbers import Holding, TooManyNumbers, least_total
from .reprice import Shape, TooManyPositions, best_value
from .totals import available_of, cost_of

__all__ = [
    "Bound",
    "SheetKind",
    "check_bound",
    "fewest_sheets",
    "find_bound",
    "is_rechecked",
    "next_total",
]

# The sums of sheet costs are kept as the bits of one integer; 2**28 bits are 32 MB.
MOST_TOTALS = 2**28


@dataclass(frozen=True, slots=True)
class SheetKind:
    """Full sheets of one cost.

    Attributes
    ----------
    available
        How many there are; None for any number.
    """

    cost: Fraction
    available: int | None


@dataclass(frozen=True, slots=True)
class Bound:
    """What the certificate shows.

    Attributes
    ----------
    value
        Lower bound in the aim's unit; zero where the values show nothing.
    sheets
        Lower bound on the number of full sheets.
    findings
        What is wrong with the values themselves.
    """

    value: Fraction
    sheets: int
    findings: tuple[Finding, ...] = ()


# --- the value --------------------------------------------------------------------------------


def find_bound(case: Case) -> Bound:
    """Return the bound that the certificate's values give when re-priced here."""
    by_area = _sheets_by_area(case)
    faulty = tuple(_values_at_fault(case))
    if faulty:
        return Bound(Fraction(0), by_area, faulty)
    kinds = _sheet_kinds(case)
    try:
        raw, findings = _priced(case)
    except TooManyPositions as error:
        return Bound(Fraction(0), by_area, (_too_large(case, error),))
    if findings:
        return Bound(Fraction(0), by_area, findings)
    value = next_total(raw, kinds)
    if value is not None and value < _claimed(case):
        try:
            value = max(value, _by_numbers(case))
        except TooManyNumbers as error:
            if case.board.certificate.further:
                return Bound(Fraction(0), by_area, (_too_large(case, error),))
    sheets = None if value is None else fewest_sheets(value, kinds)
    if value is None or sheets is None:
        return Bound(Fraction(0), by_area, (_impossible(case, raw),))
    return Bound(value, max(sheets, by_area))


def _values_at_fault(case: Case) -> Iterator[Finding]:
    labels = {piece.label for piece in case.board.ordered}
    certificate = case.board.certificate
    given = (certificate.values, *certificate.further)
    for label, value in itertools.chain.from_iterable(values.items() for values in given):
        if label not in labels:
            yield Finding(
                "value-label-unknown",
                f"{case.name}: the certificate values {label!r}, which was not ordered.",
            )
        if value < 0:
            yield Finding(
                "value-negative",
                f"{case.name}: the certificate values {label!r} at {amount(value)}, less than"
                " nothing.",
            )
    by_values = certificate.kind is CertificateKind.PIECE_VALUES
    if by_values and not certificate.values and case.board.value_lower_bound > 0:
        yield Finding(
            "certificate-without-values",
            f"{case.name}: a bound is claimed by piece values, and none are given.",
        )
    if not by_values and not certificate.note.strip():
        yield Finding(
            "certificate-without-note",
            f"{case.name}: a bound is claimed by a search, and its note does not say what was"
            " searched.",
        )


def _too_large(case: Case, error: TooManyPositions | TooManyNumbers) -> Finding:
    return Finding(
        "certificate-too-large",
        f"{case.name}: the certificate needs {error}, too many to recheck in reasonable time.",
    )


def _impossible(case: Case, raw: Fraction) -> Finding:
    return Finding(
        "values-impossible",
        f"{case.name}: by the certificate's values at least {amount(raw)} must be spent, more"
        " than all the sheets in stock cost, yet the plan exists.",
    )


def _priced(case: Case) -> tuple[Fraction, tuple[Finding, ...]]:
    """Return values times numbers ordered, less the charges; and every source priced too low."""
    values = case.board.certificate.values
    total = _worth_of_all(case, values)
    best = _BestLayouts(case, values)
    findings = []
    for item in case.board.stock:
        cost, most = cost_of(item, case.board.aim), available_of(item)
        gain = best.on(item) - cost if most != 0 else Fraction(0)
        if gain <= 0:
            continue
        if most is None:
            findings.append(_too_dear(item, gain + cost, cost, case))
        else:
            total -= most * gain
    return max(total, Fraction(0)), tuple(findings)


def _worth_of_all(case: Case, values: Mapping[str, Fraction]) -> Fraction:
    return sum(
        (values.get(piece.label, Fraction(0)) * piece.qty for piece in case.board.ordered),
        Fraction(0),
    )


def _by_numbers(case: Case) -> Fraction:
    """Return what the numbers of sheets that all sets of values allow cost, as far as is claimed.

    Raises
    ------
    TooManyNumbers
        If that takes too long.
    """
    board = case.board
    given = (board.certificate.values, *board.certificate.further)
    best = [_BestLayouts(case, values) for values in given]
    holdings = [
        Holding(
            cost_of(item, board.aim), available_of(item), tuple(one.at_most(item) for one in best)
        )
        for item in board.stock
    ]
    wanted = [_worth_of_all(case, values) for values in given]
    pieces = sum(piece.qty for piece in board.ordered)
    return least_total(holdings, wanted, _claimed(case), pieces)


def _claimed(case: Case) -> Fraction:
    return min(case.board.value_lower_bound, case.board.value)


def _too_dear(item: StockItem, worth: Fraction, cost: Fraction, case: Case) -> Finding:
    source = source_name(item.source, case.scale)
    return Finding(
        "value-too-high",
        f"{case.name}: by the certificate's values a layout of {source} is"
        f" worth {amount(worth)}, more than the {amount(cost)} that one costs, and any number"
        " can be had.",
    )


class _BestLayouts:
    """The best layout's worth on each source, found once for each usable size."""

    def __init__(self, case: Case, values: Mapping[str, Fraction]) -> None:
        self._case = case
        self._scale = math.lcm(*(value.denominator for value in values.values()))
        self._shapes = tuple(_shapes(case, values, self._scale))
        tool = case.board.tool
        self._longest = None if tool.longest_cut is None else tool.longest_cut + tool.kerf
        self._known: dict[tuple[tuple[int, int], tuple[int, int]], Fraction] = {}

    def on(self, item: StockItem) -> Fraction:
        """Return the worth of the best layout of one source, its trim off, kerf allowed for."""
        usable, kerf = self._case.usable(item.source), self._case.board.tool.kerf
        size = (usable.right - usable.left + kerf, usable.bottom - usable.top + kerf)
        if min(size) <= 0:
            return Fraction(0)
        if self._longest is not None and min(size) > self._longest:
            # No cut can be made on it: nothing comes of it but a piece of its very size.
            alone = (s.value for s in self._shapes if (s.width, s.height) == size)
            return Fraction(max(alone, default=0), self._scale)
        strips = self._strips(item.source)
        if (size, strips) not in self._known:
            self._known[size, strips] = self._priced(*size, strips)
        return self._known[size, strips]

    def _strips(self, source: Source) -> tuple[int, int]:
        """Return how wide waste on a source is at least, each way; both 0 if it may be narrower.

        A strip of waste at an edge may have the trim on. With a kerf, what is too narrow for a
        strip is taken off a kerf at a time.
        """
        tool, usable = self._case.board.tool, self._case.usable(source)
        trim_x = source.width - (usable.right - usable.left)
        trim_y = source.height - (usable.bottom - usable.top)
        strips = tool.narrowest_strip - trim_x, tool.narrowest_strip - trim_y
        return (0, 0) if tool.kerf or min(strips) <= 0 else strips

    def at_most(self, item: StockItem) -> Fraction:
        """Return the same, or more where that takes too long to find, whatever a source costs."""
        try:
            return self.on(item)
        except TooManyPositions:
            usable, kerf = self._case.usable(item.source), self._case.board.tool.kerf
            width, height = usable.right - usable.left + kerf, usable.bottom - usable.top + kerf
            return self._by_area(width, height)

    def _priced(self, width: int, height: int, strips: tuple[int, int]) -> Fraction:
        """Return the worth of the best layout, or more where that takes too long to find.

        No layout is worth more than its whole area at the rate of the piece worth most for its
        area. Where that is no more than a source costs of which there is no end, nothing finer
        need be known; and of limited ones too high a worth can only lower the bound.

        Raises
        ------
        TooManyPositions
            If it takes too long and the rate by area does not settle it either.
        """
        try:
            worth = best_value(self._shapes, width, height, self._longest, strips)
        except TooManyPositions:
            by_area = self._by_area(width, height)
            if any(by_area > cost for cost in self._endless(width, height)):
                raise
            return by_area
        return Fraction(worth, self._scale)

    def _by_area(self, width: int, height: int) -> Fraction:
        rates = (Fraction(shape.value, shape.width * shape.height) for shape in self._shapes)
        return max(rates) * width * height / self._scale

    def _endless(self, width: int, height: int) -> Iterator[Fraction]:
        """Yield what each source of this usable size costs of which any number can be had."""
        case, kerf = self._case, self._case.board.tool.kerf
        for item in case.board.stock:
            usable = case.usable(item.source)
            size = (usable.right - usable.left + kerf, usable.bottom - usable.top + kerf)
            if size == (width, height) and available_of(item) is None:
                yield cost_of(item, case.board.aim)


def _shapes(case: Case, values: Mapping[str, Fraction], scale: int) -> Iterator[Shape]:
    """Yield each way to lay each piece, a kerf wider and higher, valued in whole numbers.

    A part holds pieces side by side with a kerf between each two. Give each piece its kerf after
    it, and the part one more, and kerf is gone from the question.
    """
    board, kerf = case.board, case.board.tool.kerf
    for piece in board.ordered:
        value = values.get(piece.label, Fraction(0)) * scale
        worth = value.numerator  # whole: the scale is a multiple of its denominator
        yield Shape(piece.width + kerf, piece.height + kerf, worth)
        if piece.turn and not board.no_turn and piece.width != piece.height:
            yield Shape(piece.height + kerf, piece.width + kerf, worth)


# --- sums of sheet costs ----------------------------------------------------------------------


def _sheet_kinds(case: Case) -> tuple[SheetKind, ...]:
    return tuple(
        SheetKind(cost_of(item, case.board.aim), item.available)
        for item in case.board.stock
        if item.source.kind is SourceKind.SHEET and item.available != 0
    )


def next_total(least: Fraction, kinds: Sequence[SheetKind]) -> Fraction | None:
    """Return the smallest sum of sheet costs that is `least` or more; None if there is none.

    Where there would be too many sums to list, it returns `least` rounded up to a multiple of the
    costs' greatest common divisor, which every sum is: not as high, and still a bound.
    """
    costly = [kind for kind in kinds if kind.cost > 0 and kind.available != 0]
    if least <= 0:
        return Fraction(0)
    if not costly:
        return None
    unit = _greatest_common_divisor([kind.cost for kind in costly])
    target = math.ceil(least / unit)
    steps = [(int(kind.cost / unit), kind.available) for kind in costly]
    if target + max(step for step, _ in steps) > MOST_TOTALS:
        return target * unit
    found = _first_sum(target, steps)
    return None if found is None else found * unit


def _greatest_common_divisor(numbers: Sequence[Fraction]) -> Fraction:
    denominator = math.lcm(*(number.denominator for number in numbers))
    return Fraction(math.gcd(*(int(number * denominator) for number in numbers)), denominator)


def _first_sum(target: int, steps: Sequence[tuple[int, int | None]]) -> int | None:
    """Return the least sum of steps from `target` on; bit n of `reached` says that n is a sum.

    No sum above the target plus the longest step can be the least one, so those are dropped.
    """
    limit = target + max(step for step, _ in steps)
    within = (1 << (limit + 1)) - 1
    reached = 1
    for step, available in steps:
        most = limit // step if available is None else min(available, limit // step)
        for count in _doubling(most):
            reached |= (reached << (step * count)) & within
    beyond = reached >> target
    return target + (beyond & -beyond).bit_length() - 1 if beyond else None


def _doubling(most: int) -> Iterator[int]:
    """Yield 1, 2, 4, ... and a remainder; their sums are exactly the numbers from 0 to `most`."""
    count = 1
    while most > 0:
        yield min(count, most)
        most -= count
        count *= 2


def fewest_sheets(value: Fraction, kinds: Sequence[SheetKind]) -> int | None:
    """Return the least number of sheets whose costs can reach `value`: the dearest first.

    None where all of them do not.
    """
    left, sheets = value, 0
    for kind in sorted(kinds, key=lambda kind: kind.cost, reverse=True):
        if left <= 0 or kind.cost <= 0:
            break
        needed = math.ceil(left / kind.cost)
        taken = needed if kind.available is None else min(needed, kind.available)
        sheets += taken
        left -= taken * kind.cost
    return sheets if left <= 0 else None


def _sheets_by_area(case: Case) -> int:
    """Return how many sheets the pieces need by area alone, after every offcut is used up."""
    kerf = case.board.tool.kerf
    needed = sum(
        (piece.width + kerf) * (piece.height + kerf) * piece.qty for piece in case.board.ordered
    )
    kinds = []
    for item in case.board.stock:
        usable, most = case.usable(item.source), available_of(item)
        width, height = usable.right - usable.left + kerf, usable.bottom - usable.top + kerf
        area = max(0, width) * max(0, height)
        if item.source.kind is SourceKind.SHEET:
            kinds.append(SheetKind(Fraction(area), most))
        elif most is None:
            return 0
        else:
            needed -= area * most
    return fewest_sheets(Fraction(max(0, needed)), kinds) or 0


# --- the claims -------------------------------------------------------------------------------


def check_bound(case: Case, bound: Bound) -> Iterator[Finding]:
    """Yield every claim about the least that the certificate does not bear out."""
    yield from bound.findings
    yield from _against_plan(case, bound)
    if case.board.certificate.kind is CertificateKind.PIECE_VALUES and not bound.findings:
        yield from _against_certificate(case, bound)


def _against_plan(case: Case, bound: Bound) -> Iterator[Finding]:
    board = case.board
    claims = (
        (board.aim.value, board.value_lower_bound, board.value),
        ("number of sheets", board.sheets_lower_bound, board.sheets),
        ("rechecked " + board.aim.value, bound.value, board.value),
    )
    for what, least, reached in claims:
        if least > reached:
            yield Finding(
                "bound-above-value",
                f"{case.name}: the {what} is said to be at least {amount(Fraction(least))}, and"
                f" the plan itself reaches {amount(Fraction(reached))}.",
            )
    if board.proved_least != (board.value == board.value_lower_bound):
        yield Finding(
            "wrong-proof",
            f"{case.name}: the plan says that it is {'' if board.proved_least else 'not '}proved"
            f" least, but its {board.aim} is {amount(board.value)} and its bound"
            f" {amount(board.value_lower_bound)}.",
        )


def _against_certificate(case: Case, bound: Bound) -> Iterator[Finding]:
    board = case.board
    if board.value_lower_bound > bound.value:
        yield Finding(
            "bound-too-high",
            f"{case.name}: the {board.aim} is said to be at least"
            f" {amount(board.value_lower_bound)}, and the certificate shows {amount(bound.value)}.",
        )
    if board.sheets_lower_bound > bound.sheets:
        yield Finding(
            "sheets-bound-too-high",
            f"{case.name}: at least {board.sheets_lower_bound} sheets are said to be needed, and"
            f" the certificate shows {bound.sheets}.",
        )


def is_rechecked(case: Case, bound: Bound) -> bool:
    """Return whether the plan's own bounds are no higher than what was found here."""
    board = case.board
    return board.value_lower_bound <= bound.value and board.sheets_lower_bound <= bound.sheets
