"""Every part of a sheet that may serve a layout worth more than one known, and no others.

The recursion of Gilmore and Gomory (1966), The theory and computation of knapsack functions,
fills a table of all part sizes. On a fine grid that is too large to hold; but of most parts no
layout is worth enough to lie in a better sheet, whatever the rest of it holds. Here parts are built
up from pieces, as in Wang (1983), Two algorithms for constrained two-dimensional cutting stock
problems (from memory), lowest first, each with the most it is worth, and dropped if that is too
little. What the rest may hold is bounded line by line, by a one-dimensional knapsack.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    IntArray = NDArray[np.int64]

__all__ = ["Asked", "Parts", "TooMuch", "most_on_lines", "swept"]

# Worths a line are whole numbers of parts of one unit of value: two to this power at most.
MOST_SHIFT = 20
MOST_BITS = 61
# A sheet's value must leave room for a number of rows.
MOST_VALUE_BITS = 45
# Columns of the sheet whose parts are looked up together.
BAND = 16
# Parts kept, and parts that wait, at once: what memory holds.
MOST_KEPT = 2_000_000
MOST_WAITING = 5_000_000
# Pairs of parts that are joined in one call.
AT_ONCE = 1 << 16


class TooMuch(Exception):
    """The parts are too many for the work allowed, or for memory."""


@dataclass(frozen=True)
class Asked:
    """A sheet and what may be cut from it, in whole steps of a grid.

    Attributes
    ----------
    pieces
        ``(width, height, value)``, values above 0, copies unlimited, no turns.

    Raises
    ------
    ValueError
        If a sheet full of the piece that is worth most for its area may need more than 45 bits.
    """

    width: int
    height: int
    pieces: tuple[tuple[int, int, int], ...]

    def __post_init__(self) -> None:
        if self._bits > MOST_VALUE_BITS:
            raise ValueError("the values are too large for this recursion")

    @property
    def _bits(self) -> int:
        rates = (-(-value // (wide * high)) for wide, high, value in self.pieces)
        densest = max(rates, default=0)
        return (densest * self.width * self.height).bit_length()

    @cached_property
    def shift(self) -> int:
        """How many bits of a fraction the worths of lines have."""
        return min(MOST_SHIFT, MOST_BITS - self._bits)

    @cached_property
    def across(self) -> IntArray:
        """The most that one line across a part can hold, for every width; rounded up."""
        pairs = [(w, -((-value << self.shift) // h)) for w, h, value in self.pieces]
        return most_on_lines(pairs, self.width)

    @cached_property
    def down(self) -> IntArray:
        """The most that one line down a part can hold, for every height; rounded up."""
        pairs = [(h, -((-value << self.shift) // w)) for w, h, value in self.pieces]
        return most_on_lines(pairs, self.height)

    @property
    def upper(self) -> int:
        """No layout is worth more."""
        by_rows = self.height * int(self.across[-1])
        return min(by_rows, self.width * int(self.down[-1])) >> self.shift

    def turned(self) -> Asked:
        """Return the same with widths and heights exchanged."""
        return Asked(self.height, self.width, tuple((h, w, v) for w, h, v in self.pieces))


def most_on_lines(pairs: Sequence[tuple[int, int]], longest: int) -> IntArray:
    """Return the knapsack of lengths and values, copies unlimited, for all lengths to `longest`."""
    best: dict[int, int] = {}
    for length, value in pairs:
        if length <= longest:
            best[length] = max(best.get(length, 0), value)
    most: IntArray = np.zeros(longest + 1, dtype=np.int64)
    for length, value in sorted(best.items()):
        # Sizes that differ by whole pieces stand in one column: copies less, a running maximum.
        rows = -(-(longest + 1) // length)
        table = np.zeros((rows, length), dtype=np.int64)
        table.ravel()[: longest + 1] = most
        copies = (value * np.arange(rows, dtype=np.int64))[:, np.newaxis]
        most = (np.maximum.accumulate(table - copies, axis=0) + copies).ravel()[: longest + 1]
    return np.maximum.accumulate(most)


@dataclass(frozen=True, slots=True)
class Parts:
    """Parts of a sheet, each worth more than any smaller one; arrays of one length.

    A part that is higher or wider than one of these is worth as much at least.
    """

    width: IntArray
    height: IntArray
    value: IntArray


class _Needs:
    """What a part must be worth to be kept.

    The rest of the sheet holds no more than its lines across: as many as the part is high are
    shortened by its width, the others whole. The same holds of the lines down. Both needs rise
    with the width and with the height, so that a part once dropped stays so when made larger.

    With `strict` a low part must come nearer the bound than that: it may lose only a share of what
    the sheet may lose, the root of its share of the height. Fewer parts are kept so, and a better
    layout may be missed.
    """

    def __init__(self, asked: Asked, known: int, strict: bool) -> None:
        self.shift = asked.shift
        self.across = asked.across[-1] - asked.across[::-1]
        self.down = asked.down[-1] - asked.down[::-1]
        scaled = known << self.shift
        self.lost = tuple(
            _shares(spare, asked.height) if strict else np.full_like(self.down, spare)
            for spare in (
                asked.height * int(asked.across[-1]) - scaled,
                asked.width * int(asked.down[-1]) - scaled,
            )
        )
        self.columns = np.arange(asked.width + 1, dtype=np.int64)

    def row(self, height: int) -> IntArray:
        """Return, for parts of one height and every width, what they must be worth more than."""
        need: IntArray = (height * self.across - self.lost[0][height]) >> self.shift
        other = (self.columns * self.down[height] - self.lost[1][height]) >> self.shift
        np.maximum(need, other, out=need)
        np.maximum(need, 0, out=need)
        return need

    def met(self, width: IntArray, height: IntArray, value: IntArray) -> NDArray[np.intp]:
        """Return which of the parts, laid out flat, are worth enough."""
        enough = (value << self.shift) > height * self.across[width] - self.lost[0][height]
        enough &= value > 0
        found = np.flatnonzero(enough)
        wide, high = width.ravel()[found], height.ravel()[found]
        worth = value.ravel()[found] << self.shift
        kept: NDArray[np.intp] = found[worth > wide * self.down[high] - self.lost[1][high]]
        return kept


def _shares(spare: int, height: int) -> IntArray:
    """Return `spare` times the root of ``h / height`` for each h, in whole numbers throughout."""
    roots = (math.isqrt((h << 40) // height) for h in range(height + 1))
    return np.array([spare * root >> 20 for root in roots], dtype=np.int64)


@dataclass(slots=True)
class _Shelf:
    """Parts by rising height, each with the widths up to which it is the best of its height."""

    number: int = 0
    table: IntArray = field(default_factory=lambda: np.empty((4, 4), dtype=np.int64))

    def add(self, strips: IntArray) -> None:
        """Add strips: their first width, the width past their last, height and value."""
        end = self.number + strips.shape[1]
        if end > self.table.shape[1]:
            wider = np.empty((4, end + end // 2), dtype=np.int64)
            wider[:, : self.number] = self.table[:, : self.number]
            self.table = wider
        self.table[:, self.number : end] = strips
        self.number = end

    def up_to(self, height: int) -> IntArray:
        """Return the strips that are no higher."""
        heights = self.table[2, : self.number]
        return self.table[:, : int(np.searchsorted(heights, height, side="right"))]


@dataclass(slots=True)
class _Waiting:
    """Parts stacked of lower ones, for a block of rows that is yet to come.

    Keys are ``height * (sheet width + 1) + width``.
    """

    keys: list[IntArray] = field(default_factory=list)
    values: list[IntArray] = field(default_factory=list)
    number: int = 0
    limit: int = 1 << 14

    def add(self, keys: IntArray, values: IntArray, columns: int) -> None:
        """Add parts; sort out those that others beat whenever their number has doubled."""
        self.keys.append(keys)
        self.values.append(values)
        self.number += len(keys)
        if self.number > self.limit:
            kept = self.sorted_out(columns)
            self.keys, self.values = [kept[0]], [kept[1]]
            self.number = len(kept[0])
            self.limit = max(self.limit, 2 * self.number)

    def sorted_out(self, columns: int) -> tuple[IntArray, IntArray]:
        """Return the parts by height and width, without those that a narrower one equals."""
        if not self.keys:
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        keys, values = _best_of_each(np.concatenate(self.keys), np.concatenate(self.values))
        return _rising(keys, values, keys // columns)


def _best_of_each(keys: IntArray, values: IntArray) -> tuple[IntArray, IntArray]:
    """Return the keys, sorted and each once, with the best value of each."""
    order = np.lexsort((values, keys))
    keys, values = keys[order], values[order]
    last = np.ones(len(keys), dtype=bool)
    last[:-1] = keys[1:] != keys[:-1]
    return keys[last], values[last]


def _rising(
    keys: IntArray, values: IntArray, rows: IntArray | None = None
) -> tuple[IntArray, IntArray]:
    """Return the sorted keys, of each row apart, whose value exceeds all before."""
    if len(keys) < 2:
        return keys, values
    raised = values
    if rows is not None:
        # A step between rows that no value bridges.
        raised = values + (rows - rows[0]) * (int(values.max()) + 1)
    keep = np.ones(len(keys), dtype=bool)
    keep[1:] = raised[1:] > np.maximum.accumulate(raised)[:-1]
    return keys[keep], values[keep]


class _Sweep:
    """One run from the lowest row to the sheet's own.

    The rows of a block differ by less than the lowest piece, so that none is stacked on another.
    A row holds, by rising width, the parts that are worth more than all narrower ones; each
    remains in the rows above while it is worth enough. A part that is new in a row is joined side
    by side with all parts of the row, and stacked with all parts found so far.
    """

    def __init__(self, asked: Asked, known: int, work: float, strict: bool) -> None:
        self.asked = asked
        self.needs = _Needs(asked, known, strict)
        self.left = work
        self.columns = asked.width + 1
        self.block = min(high for _, high, _ in asked.pieces)
        self.waiting = [_Waiting() for _ in range((asked.height - 1) // self.block + 1)]
        bands = asked.width // BAND + 1
        self.starting = [_Shelf() for _ in range(bands)]
        self.crossing = [_Shelf() for _ in range(bands)]
        none = np.zeros(0, dtype=np.int64)
        self.row, self.worth = none, none
        self.items: dict[int, list[tuple[int, int]]] = {}
        for wide, high, value in asked.pieces:
            if wide <= asked.width:
                self.items.setdefault(high, []).append((wide, value))

    def run(self) -> Parts:
        """Return all parts kept."""
        found: list[IntArray] = []
        kept = 0
        for number in range(len(self.waiting)):
            first = 1 + number * self.block
            strips = self._rows(number, first, min(first + self.block, self.asked.height + 1))
            if strips.shape[1]:
                found.append(strips[[0, 2, 3]])
                kept += strips.shape[1]
                if kept > MOST_KEPT or sum(w.number for w in self.waiting) > MOST_WAITING:
                    raise TooMuch
                self._stack(strips, first)
        if not found:
            none = np.zeros(0, dtype=np.int64)
            return Parts(none, none, none)
        return Parts(*np.concatenate(found, axis=1))

    def _rows(self, number: int, first: int, past: int) -> IntArray:
        """Return the strips that are new in the rows of a block."""
        keys, values = self.waiting[number].sorted_out(self.columns)
        self.waiting[number] = _Waiting()
        heights, widths = np.divmod(keys, self.columns)
        cuts = np.searchsorted(heights, np.arange(first, past + 1)).tolist()
        strips = [np.zeros((4, 0), dtype=np.int64)]
        for height in range(first, past):
            begin, end = cuts[height - first : height - first + 2]
            items = self.items.get(height, [])
            if begin == end and not items:
                continue
            wide, worth = widths[begin:end], values[begin:end]
            if items:
                wide, worth = _best_of_each(
                    np.concatenate([wide, [width for width, _ in items]]),
                    np.concatenate([worth, [value for _, value in items]]),
                )
            strips.append(self._widen(height, wide, worth))
        return np.concatenate(strips, axis=1)

    def _widen(self, height: int, wide: IntArray, worth: IntArray) -> IntArray:
        """Return the strips new in a row: parts given, and all that they make side by side."""
        need = self.needs.row(height)
        kept = self.worth > need[self.row]
        row, best = self.row[kept], self.worth[kept]
        fresh = np.zeros(len(row), dtype=bool)
        # What a part of the row must exceed; past the sheet's width nothing does.
        bar = np.append(need, np.iinfo(np.int64).max)
        bar[row] = best
        np.maximum.accumulate(bar[:-1], out=bar[:-1])
        better = worth > bar[wide]
        wide, worth = _rising(wide[better], worth[better])
        while len(wide):
            bar[wide] = worth
            np.maximum.accumulate(bar[:-1], out=bar[:-1])
            kept = (bar[row] == best) & (bar[row - 1] < best)
            row = np.concatenate([row[kept], wide])
            order = np.argsort(row, kind="stable")
            row = row[order]
            best = np.concatenate([best[kept], worth])[order]
            fresh = np.concatenate([fresh[kept], np.ones(len(wide), dtype=bool)])[order]
            wide, worth = self._side_by_side(wide, worth, row, best, bar)
        self.row, self.worth = row, best
        new = np.flatnonzero(fresh)
        past = np.append(row, self.columns)[new + 1]
        # Needs rise with the width, so that a strip ends where it is no longer worth enough.
        past = np.minimum(past, np.searchsorted(need, best[new], side="left"))
        return np.stack([row[new], past, np.full(len(new), height), best[new]])

    def _side_by_side(
        self, wide: IntArray, worth: IntArray, row: IntArray, best: IntArray, bar: IntArray
    ) -> tuple[IntArray, IntArray]:
        """Return the parts above the bar that new parts make with those of their row."""
        fit = int(np.searchsorted(row, self.asked.width - int(wide[0]), side="right"))
        if not fit:
            return wide[:0], worth[:0]
        self._spend(len(wide) * fit)
        widths, values = [], []
        lot = max(1, AT_ONCE // fit)
        for begin in range(0, len(wide), lot):
            sums = np.add.outer(wide[begin : begin + lot], row[:fit])
            np.minimum(sums, self.columns, out=sums)
            worths = np.add.outer(worth[begin : begin + lot], best[:fit])
            above = worths > bar[sums]
            widths.append(sums[above])
            values.append(worths[above])
        return _rising(*_best_of_each(np.concatenate(widths), np.concatenate(values)))

    def _stack(self, strips: IntArray, lowest: int) -> None:
        """Stack the new strips of a block with all known, and let the outcome wait.

        Two strips can be stacked at the widths they share; the least of these is enough. It lies
        in a band where one of them starts at least.
        """
        band = strips[0] // BAND
        more = (strips[1] - 1) // BAND - band
        across = np.repeat(np.arange(strips.shape[1]), more)
        over = band[across] + 1 + np.arange(len(across)) - np.repeat(np.cumsum(more) - more, more)
        starts, crosses = np.argsort(band, kind="stable"), np.argsort(over, kind="stable")
        numbers = np.arange(len(self.starting) + 1)
        start_cuts = np.searchsorted(band[starts], numbers)
        cross_cuts = np.searchsorted(over[crosses], numbers)
        found: list[IntArray] = []
        some = (np.diff(start_cuts) > 0) | (np.diff(cross_cuts) > 0)
        for number in np.flatnonzero(some).tolist():
            starting, crossing = self.starting[number], self.crossing[number]
            new = strips[:, starts[start_cuts[number] : start_cuts[number + 1]]]
            through = strips[:, across[crosses[cross_cuts[number] : cross_cuts[number + 1]]]]
            starting.add(new)
            crossing.add(through)
            room = self.asked.height - lowest
            found += self._pairs(new, starting.up_to(room))
            found += self._pairs(new, crossing.up_to(room))
            found += self._pairs(through, starting.up_to(room))
        if found:
            self._wait(np.concatenate(found, axis=1))

    def _pairs(self, new: IntArray, known: IntArray) -> list[IntArray]:
        """Return the widths, heights and values of what is worth keeping of all pairs."""
        if not new.shape[1] or not known.shape[1]:
            return []
        found = []
        self._spend(new.shape[1] * known.shape[1])
        lot = max(1, AT_ONCE // known.shape[1])
        for begin in range(0, new.shape[1], lot):
            some = new[:, begin : begin + lot, np.newaxis]
            width = np.maximum(some[0], known[0])
            height = some[2] + known[2]
            value = some[3] + known[3]
            # What is too high, or shares no width, is worth nothing.
            value[(height > self.asked.height) | (width >= np.minimum(some[1], known[1]))] = 0
            np.minimum(height, self.asked.height, out=height)
            kept = self.needs.met(width, height, value)
            if len(kept):
                found.append(np.stack([each.ravel()[kept] for each in (width, height, value)]))
        return found

    def _wait(self, parts: IntArray) -> None:
        keys, values = _best_of_each(parts[1] * self.columns + parts[0], parts[2])
        blocks = (keys // self.columns - 1) // self.block
        cuts = np.searchsorted(blocks, np.arange(len(self.waiting) + 1)).tolist()
        for number in np.unique(blocks).tolist():
            begin, end = cuts[number : number + 2]
            self.waiting[number].add(keys[begin:end], values[begin:end], self.columns)

    def _spend(self, pairs: int) -> None:
        self.left -= pairs
        if self.left < 0:
            raise TooMuch


def swept(asked: Asked, known: int, work: float, *, strict: bool = False) -> tuple[Parts, float]:
    """Return the parts of `asked` that may serve a layout worth more than `known`.

    Parameters
    ----------
    known
        At least 0. Of a layout worth more, the whole sheet and all parts are among those returned,
        unless `strict`.
    strict
        Low parts must come nearer to the bound than they have to.
    work
        Most pairs of parts to join.

    Returns
    -------
    Parts
        With the most that each is worth; by rising height.
    float
        The work left.

    Raises
    ------
    TooMuch
        If the work is not enough, or memory.
    """
    sweep = _Sweep(asked, known, work, strict)
    return sweep.run(), sweep.left
