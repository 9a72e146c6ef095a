"""The cutting order of a board: all layouts together, their copies side by side.

The sequence of settings is the shortest that there is, or nearly. Among those the one is taken
that leaves the fewest sides of pieces over, then with the fewest quarter turns, then lifts; then
the ends are chosen so that the pieces come out closest to their sizes, and cuts are put so that
there is a way back for longest. What that leaves open is settled by what ranks first: trims, cuts
after which the sheet may still become another layout, larger parts. Parallel cuts of a part are
put one after another where that is better, and a drawing is cut by other cuts where a setting can
then be left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
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
from .closest import Closeness, Sides, closeness, closest
from .easiest import Easiest, easiest
from .jobs import Job, jobs_of, rank_of
from .laying import Made, handling
from .recut import Looks, recut
from .sequence import Forest, ForestCut, Stop, in_haste, never, shortest_of
from .sizes import sized
from .strips import in_strips
from .way_back import later
from .work import Part, Work, work_of

if TYPE_CHECKING:
    from ..lengths import Length
    from ..plan.model import PlanTool, PlanTrim, Source
    from ..plan.trees import DraftLayout

__all__ = ["Bench", "KindOf", "order_board"]

# Cuts of a board up to which other cuts of the same drawings are tried, and how many such orders.
MOST_CUTS, MOST_ORDERS = 150, 12
# A setting left out is worth so many cuts more, over all copies, and not scrap cut to crumbs.
CUTS_A_SETTING = 8

KindOf = Callable[[int, int], LeftoverKind]
"""What a leftover of this width and height is called."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What the cuts are made with and read on.

    Attributes
    ----------
    step, rule
        How long a step is, and the finest mark of the rule.
    measured
        The sources whose sizes somebody measured.
    offs
        Of parts, by how much their width and height may be off, each None where nobody knows.
    rough
        Of parts, their far edges that are still as the sheet came.
    """

    tool: PlanTool
    trim: PlanTrim
    step: Length
    rule: Length
    measured: frozenset[Source] = frozenset()
    offs: Mapping[Source, tuple[Length | None, Length | None]] = field(default_factory=dict)
    rough: Mapping[Source, tuple[str, ...]] = field(default_factory=dict)

    @property
    def finest(self) -> int:
        """The smallest setting, in steps, to which some mark of the rule is nearer than none."""
        return math.ceil(self.rule.mm / (2 * self.step.mm))

    @property
    def reach(self) -> int | None:
        """The largest setting of the stop in whole steps."""
        reach = self.tool.reach
        return None if reach is None else int(reach.mm / self.step.mm)

    def work_of(self, draft: DraftLayout) -> Work:
        """Return what there is to cut of a layout."""
        rough = self.rough.get(draft.source, ())
        return work_of(draft, self.tool, self.trim, self.reach, self.finest, rough)


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
    best = _ordered(drafts, bench, stop)
    others = [draft if is_standing else in_strips(draft) for draft in drafts]
    if any(other is not draft for other, draft in zip(others, drafts, strict=True)) and not stop():
        best = min(best, _ordered(others, bench, stop), key=_Ordered.rank)
    if not is_standing:
        best = _with_fewer_settings(best, bench, kind_of, stop)
    layouts = tuple(
        sized(_layout(number, best, names[number], kind_of), bench) for number in range(len(drafts))
    )
    return layouts, _cutting(best.found, names, best.lower_bound)


@dataclass(frozen=True, slots=True)
class _Ordered:
    """Layouts with their tasks in order.

    Attributes
    ----------
    lower_bound
        No order of these cuts sets the stop less often.
    close
        How far the pieces may be off; None where the tool's figures are not known.
    """

    drafts: Sequence[DraftLayout]
    works: Sequence[Work]
    lower_bound: int
    found: Easiest
    close: Closeness | None

    @property
    def often(self) -> int:
        """How often the stop is set."""
        settings = [one.setting for one in self.found.made if one.setting is not None]
        return sum(1 for _ in groupby(settings))

    @property
    def cuts(self) -> int:
        """How many cuts are made, over all copies."""
        return sum(one.job.copies for one in self.found.made)

    def rank(self) -> tuple[object, ...]:
        """Return what is less in the better of two, the first of it first."""
        close = self.close or Closeness(0, 0, 0)
        return (self.often, self.cuts, handling(self.found.made), close)

    def is_worth_more_cuts_than(self, other: _Ordered) -> bool:
        """Whether the settings left out are worth the further cuts."""
        return self.cuts - other.cuts <= CUTS_A_SETTING * (other.often - self.often)


def _with_fewer_settings(best: _Ordered, bench: Bench, kind_of: KindOf, stop: Stop) -> _Ordered:
    """Return the order with settings left out one by one, where the drawings can do without.

    Each time those layouts that use the setting are cut otherwise, at the others alone.
    """
    cuts = sum(len(work.tasks) for work in best.works)
    tried, looks = 0, Looks(stop)
    while cuts <= MOST_CUTS and tried < MOST_ORDERS:
        for drafts in _with_one_less(best, bench, kind_of, looks):
            tried += 1
            found = _ordered(drafts, bench, stop)
            if found.rank() < best.rank() and found.is_worth_more_cuts_than(best):
                best = found
                break
            if tried >= MOST_ORDERS or stop():
                return best
        else:
            return best
    return best


def _with_one_less(
    ordered: _Ordered, bench: Bench, kind_of: KindOf, looks: Looks
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
            drafts[layout] = found
        else:
            yield drafts


def _likeliest_first(ordered: _Ordered, runs: Sequence[Sequence[Made]]) -> list[int]:
    """Return the runs at one setting: those at no side of a piece first, then those of few cuts."""
    sides = {side for work in ordered.works for side in _sides_of_pieces(work.finished)}
    ranks = [(run[0].setting in sides, len(run), number) for number, run in enumerate(runs)]
    return [number for _, _, number in sorted(ranks)]


def _sides_of_pieces(parts: Iterable[Part]) -> Iterator[int]:
    for part in parts:
        if isinstance(part.node, PieceNode):
            yield from (part.width, part.height)


def _ordered(drafts: Sequence[DraftLayout], bench: Bench, stop: Stop) -> _Ordered:
    works = [bench.work_of(draft) for draft in drafts]
    jobs = jobs_of(drafts, works)
    lower_bound, found = _found(jobs, stop)
    if bench.tool.repeatability is None or bench.tool.rule_class is None or not jobs:
        found = replace(found, made=later(found.made, jobs, drafts, stop))
        return _Ordered(drafts, works, lower_bound, found, None)
    sides = Sides(drafts, works, jobs, bench)
    made = closest(found.made, sides, stop)
    found = replace(found, made=later(made, jobs, drafts, stop))
    return _Ordered(drafts, works, lower_bound, found, closeness(found.made, sides))


def _found(jobs: Sequence[Job], stop: Stop) -> tuple[int, Easiest]:
    """Return the jobs in order, and what no order sets the stop less often than."""
    options, parents = [job.task.settings for job in jobs], [job.parent for job in jobs]
    try:
        forest = Forest(options, parents, rank_of(jobs), stop)
        found = shortest_of(forest)
    except ForestCut:
        found = in_haste(options, parents)
        return found.lower_bound, easiest(jobs, None, found.settings, is_shortest=False)
    is_shortest = len(found.settings) == found.lower_bound
    return found.lower_bound, easiest(jobs, forest, found.settings, is_shortest=is_shortest)


def _layout(number: int, ordered: _Ordered, name: str, kind_of: KindOf) -> Layout:
    draft, work = ordered.drafts[number], ordered.works[number]
    own = [made for made in ordered.found.made if made.job.layout == number]
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


def _cutting(found: Easiest, names: Sequence[str], lower_bound: int) -> Cutting:
    numbers = [0] * len(names)
    steps: list[BenchStep] = []
    for (setting, layout), group in groupby(found.made, key=lambda m: (m.setting, m.job.layout)):
        first = numbers[layout]
        numbers[layout] += len(list(group))
        cuts = tuple(range(first + 1, numbers[layout] + 1))
        steps.append(BenchStep(setting, names[layout], cuts))
    by_stop = [step.setting for step in steps if step.setting is not None]
    reached = handling(found.made)
    return Cutting(
        settings=sum(1 for _ in groupby(by_stop)),
        settings_lower_bound=lower_bound,
        quarter_turns=reached.turns,
        lifts=reached.lifts,
        steps=tuple(steps),
        sides_left_over=reached.left_over,
        sides_left_over_lower_bound=found.least.left_over,
        quarter_turns_lower_bound=found.least.turns,
        lifts_lower_bound=found.least.lifts,
    )
