"""What the tool can do: no cut too long, no strip too narrow to hold, trims excepted."""

from __future__ import annotations

from collections.abc import Iterator

from .case import Case, Part, Replay, Step, source_name
from .findings import Finding

__all__ = ["check_limits"]


def check_limits(case: Case) -> Iterator[Finding]:
    """Yield every cut that the bench described cannot make."""
    yield from _trims(case)
    for done in case.replays:
        for step in done.steps:
            yield from _length(step, case, done)
            yield from _strips(step, case, done)


def _trims(case: Case) -> Iterator[Finding]:
    kerf, scale = case.board.tool.kerf, case.scale
    trims = [("", case.board.trim)]
    trims += [(f" of {source_name(item.source, scale)}", item.untrimmed)
              for item in case.board.stock if item.untrimmed is not None]  # fmt: skip
    for of, trim in trims:
        for edge in ("left", "right", "top", "bottom"):
            width = getattr(trim, edge)
            if 0 != width < kerf:
                yield Finding(
                    "trim-under-kerf",
                    f"{case.name}: the {edge} trim{of} is {scale.show(width)}, thinner than the"
                    f" {scale.show(kerf)} that its cut removes.",
                )


def _length(step: Step, case: Case, done: Replay) -> Iterator[Finding]:
    tool, cut = case.board.tool, step.cut
    length = cut.end - cut.start
    if tool.longest_cut is not None and length > tool.longest_cut:
        yield Finding(
            "cut-too-long",
            f"{case.layout_name(done.layout)}, cut {cut.number}: it is {case.scale.show(length)}"
            f" long, and the {tool.name} cuts {case.scale.show(tool.longest_cut)} at most.",
        )


def _strips(step: Step, case: Case, done: Replay) -> Iterator[Finding]:
    narrowest = case.board.tool.narrowest_strip
    for verb, part in (("takes off", step.first), ("leaves", step.second)):
        if part is None or case.in_trim(done.layout.source, part):
            continue
        width = _width(step, part)
        if width < narrowest:
            yield Finding(
                "strip-too-narrow",
                f"{case.layout_name(done.layout)}, cut {step.cut.number}: it {verb} a strip"
                f" {case.scale.show(width)} wide, and the {case.board.tool.name} holds"
                f" {case.scale.show(narrowest)} at least.",
            )


def _width(step: Step, part: Part) -> int:
    low, high = part.along(step.cut.axis)
    return high - low
