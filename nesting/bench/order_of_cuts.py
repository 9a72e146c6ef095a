"""The cutting order of a board: all layouts together, their copies side by side.

The sequence of settings is the shortest that there is, or nearly. Among those the one is taken
that leaves the fewest sides of pieces over, then with the fewest quarter turns, then lifts; then
the ends are chosen so that the pieces come out closest to their sizes, and cuts are put so that
there is a way back for longest. What that leaves open is settled by what ranks first: trims, cuts
after which the sheet may still become another layout, larger parts; and at each setting the cuts
of a layout are put together. Parallel cuts of a part are put one after another where that is
better, and a drawing is cut by other cuts where that takes fewer settings, fewer cuts, or is better
in what follows. A far trim along which only scrap lies is then not cut by itself, where that is no
harder.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from ..plan.model import (
    BenchStep,
    Cut,
    Cutting,
    Layout,
    Leftover,
    LeftoverKind,
    PlacedPiece,
)
from ..plan.trees import PieceNode, WasteNode
from .far_edges import over_far_trims
from .laying import Made, by_layout, handling
from .ordered import Bench, Ordered, ordered_of
from .otherwise import KindOf, cut_otherwise, may_be_cut_otherwise
from .parallel import regrouped
from .sequence import Stop, never
from .sizes import sized
from .strips import in_strips
from .vain import without_vain_cuts

if TYPE_CHECKING:
    from ..plan.trees import DraftLayout
    from .way_back import Later
    from .work import Part

__all__ = ["Bench", "KindOf", "order_board"]

# Cuts of a board up to which it is put in order once more with far trims left on, and up to which
# that is tried for some of its layouts alone.
MOST_CUTS, MOST_CUTS_TWICE = 400, 150


def order_board(
    drafts: Sequence[DraftLayout],
    names: Sequence[str],
    bench: Bench,
    kind_of: KindOf,
    stop: Stop = never,
    *,
    is_standing: bool = False,
) -> tuple[tuple[Layout, ...], Cutting]:
    """Return the layouts of a board with their cuts in order, and the order of them all.

    Parameters
    ----------
    drafts
        The tree of each layout over the usable rectangle of its source.
    names
        The layouts' ids.
    kind_of
        What a leftover is called.
    stop
        Asked now and then whether to end with the best order so far.
    is_standing
        Whether each layout keeps its cuts; if not, its drawing may be cut by others.
    """
    if not is_standing:
        drafts = [without_vain_cuts(draft, bench, kind_of) for draft in drafts]
    redraws = not is_standing and may_be_cut_otherwise(drafts, bench)
    best = ordered_of(drafts, bench, stop, in_depth=not redraws)
    others = [draft if is_standing else in_strips(draft) for draft in drafts]
    if any(other is not draft for other, draft in zip(others, drafts, strict=True)) and not stop():
        best = min(best, ordered_of(others, bench, stop, in_depth=not redraws), key=Ordered.rank)
    if redraws:
        best = _cut_easily(best, bench, kind_of, stop)
    elif not is_standing:
        best = _settled(best, bench, kind_of, stop)
    late = best.put_late(stop)
    late = replace(late, made=by_layout(late.made, best.jobs))
    layouts = tuple(
        sized(_layout(number, best, late.made, names[number], kind_of), bench)
        for number in range(len(drafts))
    )
    return layouts, _cutting(late, names, best)


def _cut_easily(best: Ordered, bench: Bench, kind_of: KindOf, stop: Stop) -> Ordered:
    """Return the easiest order found of these cuts or others of the same drawings."""
    other = cut_otherwise(best, bench, kind_of, stop)
    found = _settled(other, bench, kind_of, stop)
    if other.drafts == best.drafts or stop():
        return found
    # What is easier before parallel cuts change places need not be so after.
    return min(found, _settled(best, bench, kind_of, stop, found), key=Ordered.rank)


def _settled(
    best: Ordered, bench: Bench, kind_of: KindOf, stop: Stop, beside: Ordered | None = None
) -> Ordered:
    """Return the order without what is in vain, and with parallel cuts in the best order.

    Parameters
    ----------
    beside
        Where there is another order: what is no better is not looked for.
    """
    best = _spared(best, bench, kind_of, stop)
    return _in_any_order(_with_far_trims_on(best, bench, kind_of, stop), bench, stop, beside)


def _spared(best: Ordered, bench: Bench, kind_of: KindOf, stop: Stop) -> Ordered:
    """Return the order without cuts that other cuts of a drawing have made vain."""
    drafts = [without_vain_cuts(draft, bench, kind_of) for draft in best.drafts]
    if drafts == list(best.drafts):
        return best
    return min(ordered_of(drafts, bench, stop, best.settings), best, key=Ordered.rank)


def _in_any_order(best: Ordered, bench: Bench, stop: Stop, beside: Ordered | None) -> Ordered:
    """Return the order with parallel cuts of a part in the best order, where they are few.

    Its bounds hold for whatever order then, of settings and of sides left over.
    """
    known = best.often, handling(best.found.made).left_over
    if beside is not None:
        known = min(known, _to_beat(beside, best.cuts))
    found = regrouped(best.drafts, bench, known, stop)
    if found is None:
        return best
    if (found.settings, found.left_over) < known:
        best = min(ordered_of(found.drafts, bench, stop), best, key=Ordered.rank)
    least = replace(best.found.least, left_over=found.left_over)
    return replace(best, lower_bound=found.settings, found=replace(best.found, least=least))


def _to_beat(beside: Ordered, cuts: int) -> tuple[int, int]:
    """Return the settings and sides left over below which so many cuts may be better."""
    if cuts == beside.cuts:
        return beside.often, handling(beside.found.made).left_over + 1
    return beside.often + (cuts < beside.cuts), 0


def _with_far_trims_on(best: Ordered, bench: Bench, kind_of: KindOf, stop: Stop) -> Ordered:
    """Return the order without cuts for far trims that scrap takes in, where that is easier.

    If it is not for all layouts together, those are left out of it that need further settings.
    """
    count, settings = sum(len(work.tasks) for work in best.works), best.settings
    if count > MOST_CUTS:
        return best
    drafts = [over_far_trims(draft, bench, kind_of) for draft in best.drafts]
    for _ in range(2):
        if drafts == list(best.drafts) or stop():
            break
        other = ordered_of(drafts, bench, stop, settings)
        if other.without_stop <= best.without_stop and other.rank() < best.rank():
            return other
        if len(drafts) == 1 or count > MOST_CUTS_TWICE:
            break
        new = {one.job.layout for one in other.found.made if one.setting not in (*settings, None)}
        drafts = [
            before if number in new else draft
            for number, (before, draft) in enumerate(zip(best.drafts, drafts, strict=True))
        ]
    return best


def _layout(
    number: int, ordered: Ordered, order: Sequence[Made], name: str, kind_of: KindOf
) -> Layout:
    draft, work = ordered.drafts[number], ordered.works[number]
    own = [made for made in order if made.job.layout == number]
    return Layout(
        name,
        draft.copies,
        draft.source,
        tuple(_pieces(work.finished)),
        tuple(_leftovers(work.finished, kind_of)),
        tuple(_cut(place, made) for place, made in enumerate(own, 1)),
    )


def _cut(number: int, made: Made) -> Cut:
    task = made.job.task
    start, size = task.part.across(task.axis)
    end = made.end
    return Cut(number, task.axis, task.at, start, start + size, end.setting, end.edge)


def _pieces(parts: Iterable[Part]) -> Iterator[PlacedPiece]:
    nodes = (part.node for part in parts)
    placed = (node for node in nodes if isinstance(node, PieceNode))
    for node in sorted(placed, key=lambda n: (n.y, n.x)):
        yield PlacedPiece(node.label, node.x, node.y, node.width, node.height, node.turned)


def _leftovers(parts: Iterable[Part], kind_of: KindOf) -> Iterator[Leftover]:
    for part in sorted(parts, key=lambda p: (p.y, p.x)):
        if isinstance(part.node, PieceNode):
            continue
        is_waste = isinstance(part.node, WasteNode)
        kind = kind_of(part.width, part.height) if is_waste else LeftoverKind.TRIM
        yield Leftover(kind, part.x, part.y, part.width, part.height)


def _cutting(late: Later, names: Sequence[str], ordered: Ordered) -> Cutting:
    numbers = [0] * len(names)
    steps: list[BenchStep] = []
    least = ordered.found.least
    for (setting, layout), group in groupby(late.made, key=lambda m: (m.setting, m.job.layout)):
        first = numbers[layout]
        numbers[layout] += len(list(group))
        cuts = tuple(range(first + 1, numbers[layout] + 1))
        steps.append(BenchStep(setting, names[layout], cuts))
    by_stop = [step.setting for step in steps if step.setting is not None]
    reached = handling(late.made)
    return Cutting(
        settings=sum(1 for _ in groupby(by_stop)),
        settings_lower_bound=ordered.lower_bound,
        quarter_turns=reached.turns,
        lifts=reached.lifts,
        steps=tuple(steps),
        sides_left_over=reached.left_over,
        sides_left_over_lower_bound=least.left_over,
        quarter_turns_lower_bound=least.turns,
        lifts_lower_bound=least.lifts,
        before_no_way_back=late.before,
        before_no_way_back_upper_bound=late.most,
    )
