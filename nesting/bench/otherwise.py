"""The same drawings cut otherwise, where that is easier: fewer settings, fewer cuts, closer pieces.

First settings are left out one by one. Then the layouts are cut anew at the settings that there
are: for a sequence of them the best cuts of each drawing are known (see `recut`), so that what is
looked for is the sequence. From the one at hand on, those are tried in which two neighbours are
swapped or one setting is exchanged for that of a cut's other end.
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

__all__ = ["KindOf", "cut_otherwise"]

# Cuts of a board up to which other cuts of the same drawings are tried, and how many such orders.
MOST_CUTS, MOST_ORDERS = 150, 12
BEST_FEW = 4  # of the drawings cut by other sequences, how many are put in order

KindOf = Callable[[int, int], LeftoverKind]
"""What a leftover of this width and height is called."""


def cut_otherwise(best: Ordered, bench: Bench, kind_of: KindOf, stop: Stop) -> Ordered:
    """Return the order with the drawings cut by other cuts where that is better."""
    if sum(len(work.tasks) for work in best.works) > MOST_CUTS:
        return best
    best = _with_fewer_settings(best, bench, kind_of, stop)
    return _Redrawn(bench, kind_of, stop).better(best)


def _with_fewer_settings(best: Ordered, bench: Bench, kind_of: KindOf, stop: Stop) -> Ordered:
    """Return the order with settings left out one by one, where the drawings can do without.

    Each time those layouts that use the setting are cut otherwise, at the others alone.
    """
    tried, looks = 0, Looks(stop)
    while tried < MOST_ORDERS:
        for drafts in _with_one_less(best, bench, kind_of, looks):
            tried += 1
            found = ordered_of(drafts, bench, stop)
            if found.is_better_than(best):
                best = found
                break
            if tried >= MOST_ORDERS or stop():
                return best
        else:
            return best
    return best


class _Redrawn:
    """Cuts the drawings of a board anew, for one sequence of settings after another."""

    def __init__(self, bench: Bench, kind_of: KindOf, stop: Stop) -> None:
        self._bench, self._kind_of, self._stop = bench, kind_of, stop
        self._looks, self._tried = Looks(stop), 0

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
        able = [n for n in range(len(best.drafts)) if self._recut(best, n, path) is not None]
        for settings in (path, *exchanged(path, jobs), *swapped(path)):
            made = self._drawn(best, able, settings)
            if made is not None and made[1] != list(best.drafts) and made not in found:
                found.append(made)
            if self._looks.left < 0:
                break
        for _, drafts in sorted(found, key=_cost)[:BEST_FEW]:
            self._tried += 1
            if self._tried > MOST_ORDERS or self._stop():
                return
            yield ordered_of(drafts, self._bench, self._stop)

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
        return recut(draft, settings, self._bench, self._kind_of, self._looks, exactness)


def _cost(found: tuple[Cost, list[DraftLayout]]) -> Cost:
    return found[0]


def _with_one_less(
    ordered: Ordered, bench: Bench, kind_of: KindOf, looks: Looks
) -> Iterator[list[DraftLayout]]:
    """Yield the layouts cut with one setting less than now, for each that can be left out."""
    made = [one for one in ordered.found.made if one.setting is not None]
    runs = [list(group) for _, group in groupby(made, key=lambda one: one.setting)]
    settings = [run[0].setting for run in runs]
    for number in _likeliest_first(ordered, runs):
        if looks.left < 0:
            return
        others = [one for one in (*settings[:number], *settings[number + 1 :]) if one is not None]
        drafts: list[DraftLayout] = list(ordered.drafts)
        for layout in sorted({one.job.layout for one in runs[number]}):
            found = recut(drafts[layout], others, bench, kind_of, looks)
            if found is None:
                break
            drafts[layout] = found.draft
        else:
            yield drafts


def _likeliest_first(ordered: Ordered, runs: Sequence[Sequence[Made]]) -> list[int]:
    """Return the runs at one setting: those at no side of a piece first, then those of few cuts."""
    sides = {side for work in ordered.works for side in _sides_of_pieces(work.finished)}
    ranks = [(run[0].setting in sides, len(run), number) for number, run in enumerate(runs)]
    return [number for _, _, number in sorted(ranks)]


def _sides_of_pieces(parts: Iterable[Part]) -> Iterator[int]:
    for part in parts:
        if isinstance(part.node, PieceNode):
            yield from (part.width, part.height)
