"""The tasks of a board's layouts in order, and what tells a better order from a worse one.

Whatever cuts the layouts are drawn with, the sequence of settings, the ends, and the places of the
cuts are found here one after another; which cuts they are drawn with is tried in `otherwise`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import TYPE_CHECKING

from ..plan.model import NO_TRIM, Axis, SourceKind
from .closest import Closeness, Sides, closeness, closest
from .easiest import Easiest, easiest
from .jobs import jobs_of, rank_of
from .laying import handling
from .sequence import MOST_LOOKS, Forest, ForestCut, in_haste, shortest_of
from .way_back import later
from .work import trims_left_on, unset_ends, work_of

if TYPE_CHECKING:
    from ..lengths import Length
    from ..plan.model import PlanTool, PlanTrim, Source
    from ..plan.trees import DraftLayout
    from .jobs import Job
    from .laying import Made
    from .sequence import Stop
    from .way_back import Later
    from .work import Work

__all__ = ["CUTS_A_SETTING", "Bench", "Ordered", "ordered_of"]

# A setting left out is worth so many cuts more, over all copies, and not scrap cut to crumbs.
CUTS_A_SETTING = 8
# For the shortest sequence, where one is known that may do and nothing is looked for in depth.
FEW_LOOKS = 200
UNSAID = Closeness(0, 0, 0)


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
    trims
        What cuts take off the factory edges that parts still have; of sheets it is `trim`.
    """

    tool: PlanTool
    trim: PlanTrim
    step: Length
    rule: Length
    measured: frozenset[Source] = frozenset()
    offs: Mapping[Source, tuple[Length | None, Length | None]] = field(default_factory=dict)
    rough: Mapping[Source, tuple[str, ...]] = field(default_factory=dict)
    trims: Mapping[Source, PlanTrim] = field(default_factory=dict)

    @property
    def finest(self) -> int:
        """The smallest setting, in steps, that is not less than the rule shows."""
        return math.ceil(self.rule.mm / self.step.mm)

    @property
    def reach(self) -> int | None:
        """The largest setting of the stop in whole steps."""
        reach = self.tool.reach
        return None if reach is None else int(reach.mm / self.step.mm)

    def work_of(self, draft: DraftLayout) -> Work:
        """Return what there is to cut of a layout."""
        rough = self.rough.get(draft.source, ())
        trim = self._whole_trim_of(draft.source)
        return work_of(draft, self.tool, trim, self.reach, self.finest, rough)

    def unset_ends(self, draft: DraftLayout) -> dict[Axis, int]:
        """Return where the far edges of a layout's source lie that nothing is to be set from."""
        rough = self.rough.get(draft.source, ())
        return unset_ends(draft, self.tool, self._whole_trim_of(draft.source), rough)

    def trim_of(self, draft: DraftLayout) -> PlanTrim:
        """Return what cuts take off the edges of a layout's source by themselves."""
        trim = self._whole_trim_of(draft.source)
        left_on = trims_left_on(draft, trim)
        right = 0 if Axis.X in left_on else trim.right
        return replace(trim, right=right, bottom=0 if Axis.Y in left_on else trim.bottom)

    def _whole_trim_of(self, source: Source) -> PlanTrim:
        if source.kind is SourceKind.SHEET:
            return self.trim
        return self.trims.get(source, NO_TRIM)


@dataclass(frozen=True, slots=True)
class Ordered:
    """Layouts with their tasks in order.

    Attributes
    ----------
    lower_bound
        No order of these cuts sets the stop less often.
    sides
        What is known of how exact settings are; None where the tool's figures are not.
    close
        How far the pieces may be off; None likewise.
    """

    drafts: Sequence[DraftLayout]
    works: Sequence[Work]
    jobs: Sequence[Job]
    lower_bound: int
    found: Easiest
    sides: Sides | None = None
    close: Closeness | None = None

    @property
    def settings(self) -> list[int]:
        """What the stop is set to, one setting after another."""
        settings = (one.setting for one in self.found.made if one.setting is not None)
        return [setting for setting, _ in groupby(settings)]

    @property
    def often(self) -> int:
        """How often the stop is set."""
        return len(self.settings)

    @property
    def cuts(self) -> int:
        """How many cuts are made, over all copies."""
        return sum(one.job.copies for one in self.found.made)

    @property
    def without_stop(self) -> int:
        """How many of them are made without the stop, marked in pencil or by eye."""
        return sum(one.job.copies for one in self.found.made if one.setting is None)

    def put_late(self, stop: Stop) -> Later:
        """Return the jobs in an order that asks no more, with no way back as late as is found."""

        def is_as_exact(made: Sequence[Made]) -> bool:
            return self.sides is None or closeness(made, self.sides) <= (self.close or UNSAID)

        return later(self.found.made, self.jobs, self.drafts, stop, is_as_exact)

    def rank(self) -> tuple[object, ...]:
        """Return what is less in the better of two, the first of it first."""
        return (self.often, self.cuts, handling(self.found.made), self.close or UNSAID)

    def is_worth_more_cuts_than(self, other: Ordered) -> bool:
        """Whether the settings left out are worth the further cuts."""
        return self.cuts - other.cuts <= CUTS_A_SETTING * (other.often - self.often)

    def is_better_than(self, other: Ordered) -> bool:
        """Whether it is easier at the bench, and not bought with too many cuts."""
        return self.rank() < other.rank() and self.is_worth_more_cuts_than(other)


def ordered_of(
    drafts: Sequence[DraftLayout],
    bench: Bench,
    stop: Stop,
    known: Sequence[int] = (),
    *,
    in_depth: bool = True,
) -> Ordered:
    """Return the tasks of layouts in the best order found for these very cuts.

    Parameters
    ----------
    known
        Settings, one after another, that may do: the order sets the stop no more often then.
    in_depth
        Whether more than what is near the first orders is looked through for less handling.
    """
    works = [bench.work_of(draft) for draft in drafts]
    jobs = jobs_of(drafts, works)
    lower_bound, found = _found(jobs, stop, tuple(known), in_depth=in_depth)
    if bench.tool.repeatability is None or bench.tool.rule_class is None or not jobs:
        return Ordered(drafts, works, jobs, lower_bound, found)
    sides = Sides(drafts, works, jobs, bench)
    found = replace(found, made=closest(found.made, sides, stop))
    return Ordered(drafts, works, jobs, lower_bound, found, sides, closeness(found.made, sides))


def _found(
    jobs: Sequence[Job], stop: Stop, known: tuple[int, ...], *, in_depth: bool
) -> tuple[int, Easiest]:
    """Return the jobs in order, and what no order sets the stop less often than."""
    options, parents = [job.task.settings for job in jobs], [job.parent for job in jobs]
    try:
        forest = Forest(options, parents, rank_of(jobs), stop)
        found = shortest_of(forest, FEW_LOOKS if known and not in_depth else MOST_LOOKS, known)
    except ForestCut:
        found = in_haste(options, parents)
        return found.lower_bound, easiest(jobs, None, found, is_shortest=False)
    is_shortest = len(found.settings) == found.lower_bound
    return found.lower_bound, easiest(
        jobs, forest, found, is_shortest=is_shortest, in_depth=in_depth
    )
