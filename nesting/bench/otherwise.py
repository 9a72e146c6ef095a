"""The same drawings cut otherwise, where that is easier: fewer settings, fewer cuts, closer pieces.

First settings are left out one by one; from the cuts at hand on, and again from others that do with
fewer different distances, in whatever order. Then the layouts are cut anew at the settings that
there are: for a sequence of them the best cuts of each drawing are known (see `recut`), so that
what is looked for is the sequence. From the one at hand on, those are tried in which two neighbours
are swapped or one setting is exchanged for that of a cut's other end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from ..plan.model import LeftoverKind
from ..plan.trees import PieceNode
from .easiest import exchanged, swapped
from .ordered import Ordered, ordered_of
from .recut import NOTHING, Exactness, Looks, recut, together

if TYPE_CHECKING:
    from ..plan.trees import DraftLayout
    from .laying import Made
    from .ordered import Bench
    from .recut import Cost, Recut
    from .sequence import Stop
    from .work import Part

__all__ = ["KindOf", "cut_otherwise", "may_be_cut_otherwise"]

# Cuts of a board up to which other cuts of the same drawings are tried, and how many such orders.
MOST_CUTS, MOST_ORDERS = 150, 12
MOST_ROUNDS = 3  # of leaving settings out, and cutting the drawings anew
BEST_FEW = 4  # of the drawings cut by other sequences, how many are put in order

KindOf = Callable[[int, int], LeftoverKind]
"""What a leftover of this width and height is called."""


def may_be_cut_otherwise(drafts: Sequence[DraftLayout], bench: Bench) -> bool:
    """Return whether drawings have so few cuts that others are tried."""
    return sum(len(bench.work_of(draft).tasks) for draft in drafts) <= MOST_CUTS


def cut_otherwise(best: Ordered, bench: Bench, kind_of: KindOf, stop: Stop) -> Ordered:
    """Return the order with the drawings cut by other cuts where that is better, in depth."""
    orders = _Orders(bench, kind_of, stop)
    begun = (best, _with_fewer_distances(best, orders))
    tried = [_better_by_rounds(one, orders) for one in begun if one is not None]
    worth = [one for one in tried if one.is_worth_more_cuts_than(best)]
    return orders.in_depth(min([best, *worth], key=Ordered.rank))


class _Orders:
    """Puts drawings in order, none of them twice; in depth only what turns out the best."""

    def __init__(self, bench: Bench, kind_of: KindOf, stop: Stop) -> None:
        self.bench, self.kind_of, self.stop = bench, kind_of, stop
        self._known: dict[tuple[DraftLayout, ...], Ordered] = {}

    def of(self, drafts: Sequence[DraftLayout], settings: Sequence[int] = ()) -> Ordered:
        """Return the order of drawings for which a sequence of settings may do."""
        key = tuple(drafts)
        if key not in self._known:
            self._known[key] = ordered_of(drafts, self.bench, self.stop, settings, in_depth=False)
        return self._known[key]

    def in_depth(self, found: Ordered) -> Ordered:
        """Return the best order of the same drawings."""
        again = ordered_of(found.drafts, self.bench, self.stop, found.settings)
        return min(again, found, key=Ordered.rank)


def _with_fewer_distances(best: Ordered, orders: _Orders) -> Ordered | None:
    """Return the drawings cut at fewer different distances; None if that changes nothing.

    The others may come in any order twice over, so that more cuts are found than for a sequence of
    settings that was found for other cuts.
    """
    looks = Looks(orders.stop)
    drafts, settings = list(best.drafts), best.settings
    for distance in _distances(best):
        others = [one for one in settings if one != distance]
        found = _at(2 * others, distance, drafts, (orders.bench, orders.kind_of, looks))
        if found is not None:
            drafts, settings = found, others
        if looks.left < 0:
            break
    return None if drafts == list(best.drafts) else orders.of(drafts)


def _distances(ordered: Ordered) -> list[int]:
    """Return the different settings, those most likely to be done without first."""
    settings = ordered.settings
    return list(dict.fromkeys(settings[n] for n in _likeliest_first(ordered, _runs(ordered))))


def _at(
    settings: Sequence[int],
    distance: int,
    drafts: Sequence[DraftLayout],
    by: tuple[Bench, KindOf, Looks],
) -> list[DraftLayout] | None:
    """Return layouts cut at a sequence of settings, of those that may need another distance.

    None if one of them cannot be.
    """
    made = list(drafts)
    for number, draft in enumerate(drafts):
        if any(distance in task.settings for task in by[0].work_of(draft).tasks):
            found = recut(draft, settings, *by)
            if found is None:
                return None
            made[number] = found.draft
    return made


def _better_by_rounds(best: Ordered, orders: _Orders) -> Ordered:
    """Return the order with settings left out, and its drawings cut anew, in turns."""
    for _ in range(MOST_ROUNDS):
        fewer = _with_fewer_settings(best, orders)
        redrawn = _Redrawn(orders).better(fewer)
        is_done, best = redrawn.often == fewer.often, redrawn
        if is_done:
            break
    return best


def _with_fewer_settings(best: Ordered, orders: _Orders) -> Ordered:
    """Return the order with settings left out one by one, where the drawings can do without.

    Each time those layouts that use the setting are cut otherwise, at the others alone.
    """
    tried, looks = 0, Looks(orders.stop)
    met = [list(best.drafts)]
    while tried < MOST_ORDERS:
        for drafts, settings in _with_one_less(best, orders, looks):
            if drafts in met:
                continue
            met.append(drafts)
            tried += 1
            found = orders.of(drafts, settings)
            if found.is_better_than(best):
                best = found
                break
            if tried >= MOST_ORDERS or orders.stop():
                return best
        else:
            return best
    return best


class _Redrawn:
    """Cuts the drawings of a board anew, for one sequence of settings after another."""

    def __init__(self, orders: _Orders) -> None:
        self._orders = orders
        self._looks, self._tried = Looks(orders.stop), 0

    def better(self, best: Ordered) -> Ordered:
        """Return the best order found, from one to a better one by a change of the sequence."""
        while True:
            found = next((one for one in self._near(best) if one.is_better_than(best)), None)
            if found is None:
                return best
            best = found

    def _near(self, best: Ordered) -> Iterator[Ordered]:
        """Yield orders of other cuts, those of the fewest cuts first."""
        path = tuple(best.settings)
        jobs = [one.job for one in best.found.made]
        found: list[tuple[Cost, list[DraftLayout]]] = []
        sequences: list[Sequence[int]] = []
        able = [n for n in range(len(best.drafts)) if self._recut(best, n, path) is not None]
        for sequence in (path, *exchanged(path, jobs), *swapped(path)):
            made = self._drawn(best, able, sequence)
            if made is not None and made[1] != list(best.drafts) and made not in found:
                found.append(made)
                sequences.append(sequence)
            if self._looks.left < 0:
                break
        ranked = sorted(zip(found, sequences, strict=True), key=_cost)
        for (_, drafts), settings in ranked[:BEST_FEW]:
            self._tried += 1
            if self._tried > MOST_ORDERS or self._orders.stop():
                return
            yield self._orders.of(drafts, settings)

    def _drawn(
        self, best: Ordered, able: Sequence[int], settings: Sequence[int]
    ) -> tuple[Cost, list[DraftLayout]] | None:
        """Return the best cuts of drawings at a sequence of settings; None if there are none.

        A drawing that cannot be cut anew even at the settings that it has stays as it is.
        """
        whole, drafts = NOTHING, list(best.drafts)
        for number in able:
            found = self._recut(best, number, settings)
            if found is None:
                return None
            drafts[number] = found.draft
            whole = together(whole, found.cost, found.draft.copies)
        return whole, drafts

    def _recut(self, best: Ordered, number: int, settings: Sequence[int]) -> Recut | None:
        exactness = None
        if best.sides is not None:
            exactness = Exactness(best.sides.offs, best.sides.first[number])
        draft = best.drafts[number]
        bench, kind_of = self._orders.bench, self._orders.kind_of
        return recut(draft, settings, bench, kind_of, self._looks, exactness)


def _cost(found: tuple[tuple[Cost, list[DraftLayout]], Sequence[int]]) -> Cost:
    return found[0][0]


def _with_one_less(
    ordered: Ordered, orders: _Orders, looks: Looks
) -> Iterator[tuple[list[DraftLayout], list[int]]]:
    """Yield the layouts cut with one setting less than now, for each that can be left out.

    With them go the settings that are left.
    """
    runs, settings = _runs(ordered), ordered.settings
    for number in _likeliest_first(ordered, runs):
        if looks.left < 0:
            return
        others = [*settings[:number], *settings[number + 1 :]]
        drafts: list[DraftLayout] = list(ordered.drafts)
        for layout in sorted({one.job.layout for one in runs[number]}):
            found = recut(drafts[layout], others, orders.bench, orders.kind_of, looks)
            if found is None:
                break
            drafts[layout] = found.draft
        else:
            yield drafts, others


def _runs(ordered: Ordered) -> list[list[Made]]:
    """Return what is cut by the stop, setting by setting."""
    made = [one for one in ordered.found.made if one.setting is not None]
    return [list(group) for _, group in groupby(made, key=lambda one: one.setting)]


def _likeliest_first(ordered: Ordered, runs: Sequence[Sequence[Made]]) -> list[int]:
    """Return the runs at one setting: those at no side of a piece first, then those of few cuts."""
    sides = {side for work in ordered.works for side in _sides_of_pieces(work.finished)}
    ranks = [(run[0].setting in sides, len(run), number) for number, run in enumerate(runs)]
    return [number for _, _, number in sorted(ranks)]


def _sides_of_pieces(parts: Iterable[Part]) -> Iterator[int]:
    for part in parts:
        if isinstance(part.node, PieceNode):
            yield from (part.width, part.height)
