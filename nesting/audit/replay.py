"""Every cut of a layout, made again in order on the whole source."""

from __future__ import annotations

from collections.abc import Iterator

from ..plan.model import Axis, BoardPlan, Cut, Edge, Layout, LeftoverKind, trim_of
from .case import Case, Part, Replay, Scale, Step, part_of
from .findings import Finding

__all__ = ["check_replay", "is_trim", "replay"]

EDGES = {Axis.X: (Edge.LEFT, Edge.RIGHT), Axis.Y: (Edge.TOP, Edge.BOTTOM)}
Key = tuple[Axis, tuple[int, int]]


class _Bench:
    """The parts on the bench, found by what a cut must span."""

    def __init__(self, whole: Part) -> None:
        self._by_span: dict[Key, set[Part]] = {}
        self._parts: set[Part] = set()
        self.put(whole)

    def put(self, part: Part) -> None:
        self._parts.add(part)
        for axis in Axis:
            self._by_span.setdefault((axis, part.across(axis)), set()).add(part)

    def take(self, part: Part) -> None:
        self._parts.remove(part)
        for axis in Axis:
            self._by_span[axis, part.across(axis)].remove(part)

    def divided_by(self, cut: Cut, kerf: int) -> Part | None:
        """Return the part that the cut spans from edge to edge; None if there is none."""
        spanned = self._by_span.get((cut.axis, (cut.start, cut.end)), set())
        return next((part for part in spanned if _bites(cut, part, kerf)), None)

    def touched_by(self, cut: Cut, kerf: int) -> list[Part]:
        """Return every part that the cut's line would enter."""
        return [
            part
            for part in self._parts
            if _bites(cut, part, kerf)
            and part.across(cut.axis)[0] < cut.end
            and cut.start < part.across(cut.axis)[1]
        ]

    def all(self) -> tuple[Part, ...]:
        return tuple(self._parts)


def _bites(cut: Cut, part: Part, kerf: int) -> bool:
    """Whether the cut begins on the part; a cut of no width must have some of it on each side."""
    low, high = part.along(cut.axis)
    return low + (kerf == 0) <= cut.at < high


def _divide(cut: Cut, part: Part, kerf: int) -> Step:
    low, high = part.along(cut.axis)
    first = part.between(cut.axis, low, cut.at)
    return Step(cut, part, first, part.between(cut.axis, cut.at + kerf, high))


def replay(layout: Layout, kerf: int) -> Replay:
    """Return what comes of the layout's cuts, up to the first that cannot be made."""
    source = layout.source
    bench = _Bench(Part(0, 0, source.width, source.height))
    steps: list[Step] = []
    dust = 0
    for cut in layout.cuts:
        part = bench.divided_by(cut, kerf)
        if part is None:
            return Replay(layout, tuple(steps), bench.all(), dust, finished=False)
        step = _divide(cut, part, kerf)
        bench.take(part)
        after = [made for made in (step.first, step.second) if made is not None]
        for made in after:
            bench.put(made)
        steps.append(step)
        dust += part.area - sum(made.area for made in after)
    return Replay(layout, tuple(steps), bench.all(), dust, finished=True)


def check_replay(case: Case) -> Iterator[Finding]:
    """Yield what is wrong with the cuts themselves: their numbers, their spans, their settings."""
    for done in case.replays:
        name = case.layout_name(done.layout)
        yield from _numbers(done.layout, name)
        for step in done.steps:
            yield from _setting(step, case, name)
        if not done.finished:
            yield _impossible(done, case, name)


def _numbers(layout: Layout, name: str) -> Iterator[Finding]:
    for expected, cut in enumerate(layout.cuts, 1):
        if cut.number != expected:
            yield Finding("cut-number", f"{name}: cut {expected} is numbered {cut.number}.")
            return


def _setting(step: Step, case: Case, name: str) -> Iterator[Finding]:
    cut, scale = step.cut, case.scale
    low, high = step.part.along(cut.axis)
    near, far = EDGES[cut.axis]
    right = {near: cut.at - low, far: high - cut.at - case.board.tool.kerf}
    if cut.stop not in right:
        yield Finding(
            "wrong-stop",
            f"{name}, cut {cut.number}: the {cut.stop} edge is said to lie against the stop, but a"
            f" cut across {cut.axis} is set from the {near} or the {far} edge.",
        )
    elif cut.setting != right[cut.stop]:
        yield Finding(
            "wrong-setting",
            f"{name}, cut {cut.number}: the setting is {scale.show(cut.setting)}, but from the"
            f" {cut.stop} edge to the cut is {scale.show(right[cut.stop])}.",
        )


def _impossible(done: Replay, case: Case, name: str) -> Finding:
    """Say why the first cut that could not be made cannot."""
    cut = done.layout.cuts[len(done.steps)]
    bench = _Bench(Part(0, 0, 0, 0))
    for part in done.parts:
        bench.put(part)
    touched = bench.touched_by(cut, case.board.tool.kerf)
    where = f"{name}, cut {cut.number}"
    if not touched:
        return Finding("cut-touches-nothing", f"{where}: {_line(cut, case.scale)} divides no part.")
    if len(touched) > 1:
        return Finding(
            "cut-through-several",
            f"{where}: {_line(cut, case.scale)} runs through {len(touched)} parts, and one cut"
            " divides one.",
        )
    low, high = touched[0].across(cut.axis)
    return Finding(
        "cut-not-edge-to-edge",
        f"{where}: {_line(cut, case.scale)} does not span the part that it divides, which runs"
        f" from {case.scale.show(low)} to {case.scale.show(high)}.",
    )


def _line(cut: Cut, scale: Scale) -> str:
    at, start, end = (scale.show(steps) for steps in (cut.at, cut.start, cut.end))
    return f"the line {cut.axis} = {at} from {start} to {end}"


def is_trim(step: Step, layout: Layout, board: BoardPlan) -> bool:
    """Whether a cut takes a factory edge off; of one as wide as the kerf nothing is left."""
    trims = {part_of(one) for one in layout.leftovers if one.kind is LeftoverKind.TRIM}
    if step.first in trims or step.second in trims:
        return True
    source, kerf = layout.source, board.tool.kerf
    trim = trim_of(source, board.trim, board.stock)
    if not kerf:
        return False
    near, far, size = (
        (trim.left, trim.right, source.width)
        if step.cut.axis is Axis.X
        else (trim.top, trim.bottom, source.height)
    )
    ends = [0] * (near == kerf) + [size - kerf] * (far == kerf)
    return step.cut.at in ends
