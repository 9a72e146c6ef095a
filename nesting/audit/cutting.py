"""The order of all cuts of a board: whether it can be followed, and what it comes to.

Settings, quarter turns and lifts are counted again from the cuts; so is the least number of
settings that the cuts' own distances show.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from ..plan.edges import trims_left_on
from ..plan.model import Axis, BenchStep, BoardPlan, Cut, Cutting, Edge, SourceKind
from .case import Case, Part, Replay, Step, part_of
from .findings import Finding
from .replay import is_trim

__all__ = ["beyond_reach", "check_cutting", "is_shown", "settings_of"]

CLOCKWISE = {Edge.LEFT: 0, Edge.TOP: 1, Edge.RIGHT: 2, Edge.BOTTOM: 3}
NEAR_EDGES = (Edge.LEFT, Edge.TOP)
MOST_TRIED = 3000  # settings, over all sequences


def beyond_reach(setting: int, case: Case) -> bool:
    """Return whether a setting is more than the stop reaches."""
    reach = case.board.tool.reach
    return reach is not None and case.scale.step * setting > reach


def is_by_eye(setting: int, case: Case) -> bool:
    """Return whether a setting is less than the rule's first mark, so that the stop is not used."""
    return case.scale.step.mm * setting < case.rule.mm


def settings_of(cuts: Iterable[Cut], case: Case) -> int:
    """Return how often the stop is set for cuts in this order; not for those made without it."""
    return _often(_without_order(cut, case) for cut in cuts)


def _without_order(cut: Cut, case: Case) -> int | None:
    """Return what the stop is set to for a cut; None beyond its reach, and for one made by eye."""
    is_set = not (beyond_reach(cut.setting, case) or is_by_eye(cut.setting, case))
    return cut.setting if is_set else None


def _often(settings: Iterable[int | None]) -> int:
    """Return how often the stop is set: at first, and where the number differs from the last."""
    numbers = [setting for setting in settings if setting is not None]
    return sum(one != other for one, other in pairwise(numbers)) + bool(numbers)


def check_cutting(case: Case) -> Iterator[Finding]:
    """Yield what is wrong with the order of the cuts, where the plan gives one."""
    cutting = case.board.cutting
    if cutting is None or not all(done.finished for done in case.replays):
        return
    findings = [*_order(cutting, case), *_settings(cutting, case)]
    yield from findings
    if not findings:
        yield from _counts(cutting, case)


def _order(cutting: Cutting, case: Case) -> Iterator[Finding]:
    """Yield where the order does not go through each layout's cuts, each once, as numbered."""
    done: dict[str, list[int]] = {layout.id: [] for layout in case.board.layouts}
    for step in cutting.steps:
        if step.layout not in done:
            yield Finding(
                "order-layout-unknown",
                f"{case.name}: the order of cuts names a layout {step.layout!r}, which there"
                " is not.",
            )
        elif not step.cuts:
            yield Finding("order-wrong", f"{case.name}: a step of the order of cuts makes no cut.")
        else:
            done[step.layout] += step.cuts
    for layout in case.board.layouts:
        if done[layout.id] != [cut.number for cut in layout.cuts]:
            yield Finding(
                "order-wrong",
                f"{case.layout_name(layout)}: the order of cuts does not make its cuts, each once"
                " and one after another.",
            )


def _settings(cutting: Cutting, case: Case) -> Iterator[Finding]:
    for step in cutting.steps:
        for cut in _cuts(step, case.board):
            right = _without_order(cut, case)
            # A plan may set the stop for a cut by eye all the same: then that counts as a setting.
            if step.setting == right or (
                step.setting == cut.setting and is_by_eye(cut.setting, case)
            ):
                continue
            told = "no setting" if step.setting is None else case.scale.show(step.setting)
            beyond = beyond_reach(cut.setting, case)
            yield Finding(
                "order-setting",
                f"{case.name}, layout {step.layout}, cut {cut.number}: the order of cuts has"
                f" {told} where the cut needs {case.scale.show(cut.setting)}"
                f"{', beyond the reach of the stop' if beyond else ''}.",
            )


def _cuts(step: BenchStep, board: BoardPlan) -> Iterator[Cut]:
    for layout in board.layouts:
        if layout.id == step.layout:
            yield from (cut for cut in layout.cuts if cut.number in step.cuts)


def _counts(cutting: Cutting, case: Case) -> Iterator[Finding]:
    handled = tuple(_handled(cutting, case))
    counted = (
        ("settings", cutting.settings, _often(step.setting for step in cutting.steps)),
        ("sides left over", cutting.sides_left_over, sum(map(_left_over, case.replays))),
        ("quarter turns", cutting.quarter_turns, sum(one.turns for one in handled)),
        ("lifts", cutting.lifts, sum(one.lifts for one in handled)),
        ("cuts with a way back", cutting.before_no_way_back, sum(_with_way_back(case))),
    )
    for what, said, right in counted:
        if said is not None and said != right:
            yield Finding(
                "order-count",
                f"{case.name}: the order of cuts is said to take {said} {what}, and it takes"
                f" {right}.",
            )
    yield from _bounds(cutting, case)


def _bounds(cutting: Cutting, case: Case) -> Iterator[Finding]:
    """Yield the bounds that the order itself goes below."""
    if cutting.settings_lower_bound > cutting.settings:
        yield Finding(
            "settings-bound-too-high",
            f"{case.name}: at least {cutting.settings_lower_bound} settings are said to be needed,"
            f" and the plan itself takes {cutting.settings}.",
        )
    bounds = (
        ("sides left over", cutting.sides_left_over, cutting.sides_left_over_lower_bound),
        ("quarter turns", cutting.quarter_turns, cutting.quarter_turns_lower_bound),
        ("lifts", cutting.lifts, cutting.lifts_lower_bound),
    )
    for what, taken, bound in bounds:
        if bound is not None and taken is not None and bound > taken:
            yield Finding(
                "handling-bound-too-high",
                f"{case.name}: at least {bound} {what} are said to be needed, and the plan itself"
                f" takes {taken}.",
            )
    before, most = cutting.before_no_way_back, cutting.before_no_way_back_upper_bound
    if before is not None and most is not None and most < before:
        yield Finding(
            "way-back-bound-too-low",
            f"{case.name}: at most {most} cuts are said to come before there is no way back, and"
            f" in the plan itself {before} do.",
        )


def _left_over(done: Replay) -> int:
    """Return how many sides of pieces are what a cut left of a part, over all copies."""
    pieces = {part_of(piece) for piece in done.layout.pieces}
    left: dict[tuple[Part | None, Axis], bool] = {}
    for step in done.steps:
        axis = step.cut.axis
        other = Axis.Y if axis is Axis.X else Axis.X
        near = step.cut.stop in NEAR_EDGES
        for half, is_left in ((step.first, not near), (step.second, near)):
            left[half, axis] = is_left
            left[half, other] = left.get((step.part, other), False)
    sides = sum(1 for (part, _), is_left in left.items() if is_left and part in pieces)
    return sides * done.layout.copies


def _with_way_back(case: Case) -> Iterator[int]:
    """Yield for each layout how many cuts come while its sheet may still become another layout.

    A trim does not end that; any other cut does that no layout has that has all those before it.
    """
    layouts = [(done.layout, {_line(step.cut) for step in done.steps}) for done in case.replays]
    for done in case.replays:
        own = done.layout
        others = [all_lines for layout, all_lines in layouts
                  if layout is not own and layout.source == own.source]  # fmt: skip
        made: set[tuple[Axis, int, int, int]] = set()
        count = 0
        for step in done.steps:
            made.add(_line(step.cut))
            if not is_trim(step, own, case.board) and not any(
                made <= all_lines for all_lines in others
            ):
                break
            count += 1
        yield count


def _line(cut: Cut) -> tuple[Axis, int, int, int]:
    return cut.axis, cut.at, cut.start, cut.end


@dataclass(frozen=True, slots=True)
class _Handled:
    step: Step
    turns: int
    lifts: int


def _handled(cutting: Cutting, case: Case) -> Iterator[_Handled]:
    """Yield every cut in order with how its part is turned and lifted, over all copies."""
    replays = {done.layout.id: done for done in case.replays}
    lies: dict[tuple[str, Part], Edge] = {}
    last: tuple[str, Step, int | None] | None = None
    for bench_step in cutting.steps:
        done = replays[bench_step.layout]
        copies, name = done.layout.copies, bench_step.layout
        for number in bench_step.cuts:
            step = done.steps[number - 1]
            before = lies.get((name, step.part), Edge.LEFT)
            off = abs(CLOCKWISE[before] - CLOCKWISE[step.cut.stop])
            for half in (step.first, step.second):
                if half is not None:
                    lies[name, half] = step.cut.stop
            stays = (
                last is not None
                and last[0] == name
                and step.part in (last[1].first, last[1].second)
                and (copies == 1 or last[2] == bench_step.setting)
            )
            yield _Handled(step, copies * min(off, 4 - off), 0 if stays else copies)
            last = (name, step, bench_step.setting)


def is_shown(bound: int, case: Case) -> bool:
    """Return whether no order of the cuts can do with fewer settings than `bound`.

    It may follow from the distances alone; else every sequence of fewer settings is tried, unless
    there are too many.
    """
    return bound <= _least_settings(case) or _Tried(case).takes(bound)


def _least_settings(case: Case) -> int:
    """Return how many different settings the cuts need at least, in whatever order.

    A cut may be set from either end, where the tool allows it. One that can be set in a single
    way forces its setting; of the others, none of them forced, those that share none take one
    each.
    """
    ways = [way for done in case.replays for way in _ways(done, case)]
    forced = {setting for way in ways if len(way) == 1 for setting in way}
    met, more = set(forced), 0
    for way in sorted(ways, key=sorted):
        if way and not way & met:
            met |= way
            more += 1
    return len(forced) + more


def _ways(done: Replay, case: Case) -> Iterator[frozenset[int]]:
    """Yield what the stop may be set to for each cut; nothing for one that is made without it."""
    for step in done.steps:
        low, high = step.part.along(step.cut.axis)
        near, far = step.cut.at - low, high - step.cut.at - case.board.tool.kerf
        ends = _not_thin([end for end in (near, far) if end > 0] or [near], case)
        if case.board.tool.kerf or not is_trim(step, done.layout, case.board):
            ends = [end for end in ends if not is_by_eye(end, case)] or ends
        if near in ends and _is_rough(high, step.cut.axis, done, case):
            ends = [near]
        is_set = not any(is_by_eye(end, case) for end in ends)
        yield frozenset(end for end in ends if is_set and not beyond_reach(end, case))


def _not_thin(ends: list[int], case: Case) -> list[int]:
    """Return the ends that put no strip too thin to hold between a saw's fence and its blade."""
    tool = case.board.tool
    return [end for end in ends if not tool.kerf or end >= tool.narrowest_strip] or ends


def _is_rough(high: int, axis: Axis, done: Replay, case: Case) -> bool:
    """Whether a part ends at a far edge of its sheet that nothing is measured from.

    That is one as it came, where the first are squared, or one whose trim stays on.
    """
    source = done.layout.source
    edge, end = (Edge.RIGHT, source.width) if axis is Axis.X else (Edge.BOTTOM, source.height)
    if high != end:
        return False
    if edge in trims_left_on(done.layout, case.board):
        return True
    if not case.board.tool.squares:
        return False
    said = (item.rough for item in case.board.stock if item.source == source)
    return source.kind is SourceKind.SHEET or any(edge in rough for rough in said)


class _Tried:
    """All that can be cut with one setting after another, whatever can be cut being cut at each.

    That loses nothing: to cut more while the stop stands only leaves less to do.
    """

    def __init__(self, case: Case) -> None:
        self._ways: list[frozenset[int]] = []
        self._after: dict[int | None, list[int]] = {}
        for done in case.replays:
            made: dict[Part, int] = {}
            for number, step in enumerate(done.steps, len(self._ways)):
                self._after.setdefault(made.get(step.part), []).append(number)
                made.update((half, number) for half in (step.first, step.second) if half)
            self._ways += _ways(done, case)

    def takes(self, bound: int) -> bool:
        """Return whether nothing shorter than `bound` does everything, as far as can be tried."""
        reached = {self._left(frozenset(self._after.get(None, ())), None)}
        tried = 0
        for _ in range(bound - 1):
            following: set[frozenset[int]] = set()
            for ready in reached:
                if not ready or tried > MOST_TRIED:
                    return False
                for setting in frozenset[int]().union(*(self._ways[one] for one in ready)):
                    following.add(self._left(ready, setting))
                    tried += 1
            reached = following
        return frozenset() not in reached

    def _left(self, ready: frozenset[int], setting: int | None) -> frozenset[int]:
        """Return what can be cut next once all has been cut that can be at a setting."""
        left: set[int] = set()
        waiting = list(ready)
        while waiting:
            number = waiting.pop()
            ways = self._ways[number]
            if not ways or setting in ways:
                waiting += self._after.get(number, ())
            else:
                left.add(number)
        return frozenset(left)
