"""What a plan claims of its cuts, counted again from plan.json alone.

Nothing of kerfwright counts here: neither the room that orders the cuts, nor the audit. The file is
read as JSON, every part is a rectangle by its edges, and what may go wrong is added up along the
way: which sides the stop sets, by how much each may be off, and how often a part is lifted on.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from typing import Any

import pytest

import kerfwright as kw

SAMPLES = Path(__file__).resolve().parent.parent / "sample_jobs"
MILLIMETRES = {"in": Fraction(254, 10), "mm": Fraction(1), "cm": Fraction(10)}
# Maximum permissible errors of rules, in mm: fixed, and for each metre begun. Measuring
# Instruments Regulations 2016 (UK), schedule 1I; class III from memory.
CLASSES = {
    "I": (Fraction(1, 10), Fraction(1, 10)),
    "II": (Fraction(3, 10), Fraction(1, 5)),
    "III": (Fraction(6, 10), Fraction(2, 5)),
}
Json = dict[str, Any]
Rect = tuple[int, int, int, int]  # left, top, right, bottom
Error = Fraction | None
Side = tuple[str, Error]


def length(written: str) -> Fraction:
    """Return a length such as ``1/16 in`` in millimetres."""
    if written == "0":
        return Fraction(0)
    number, unit = written.split()
    return Fraction(number) * MILLIMETRES[unit]


class Bench:
    """Cuts one layout as its file says, and keeps what is known of every part."""

    def __init__(self, plan: Json, board: Json, layout: Json) -> None:
        self.step, self.rule = length(plan["step"]), length(plan["rule"])
        self.tool, self.layout = board["tool"], layout
        source = layout["source"]
        keys = ("kind", "id", "width", "height")
        known = [item for item in board["stock"] if all(item[k] == source[k] for k in keys)]
        self.parts: dict[Rect, tuple[Side, Side]] = {
            (0, 0, source["width"], source["height"]): self._whole(source, known)
        }
        self.made_by: dict[Rect, int] = {}

    def _whole(self, source: Json, known: list[Json]) -> tuple[Side, Side]:
        said = next((item for item in known if "width_error" in item), None)
        if said is not None:
            errors = [said["width_error"], said["height_error"]]
            first, second = (None if one is None else length(one) for one in errors)
        elif source["kind"] == "sheet" and not any("nominal" in item for item in known):
            first = second = None
        else:
            first, second = self.error(source["width"]), self.error(source["height"])
        return ("source", first), ("source", second)

    def error(self, steps: int) -> Fraction:
        """Return by how much what is set to so many steps may be off at worst, in millimetres."""
        fixed, each = CLASSES[self.tool["rule_class"]]
        exact = self.step * steps
        nearest = self.rule * floor(exact / self.rule + Fraction(1, 2))
        beside = abs(exact - nearest)
        sure = length(self.tool["repeatability"])
        return fixed + each * ceil(exact / 1000) + beside + sure

    def cut(self, number: int) -> tuple[Rect, int]:
        """Make a cut; return the part that it divides, and the cut that made it, 0 for none."""
        cut = self.layout["cuts"][number - 1]
        axis = 0 if cut["axis"] == "x" else 1
        (part,) = (one for one in self.parts
                   if (one[1 - axis], one[3 - axis]) == (cut["start"], cut["end"])
                   and one[axis] <= cut["at"] < one[axis + 2])  # fmt: skip
        sides = self.parts.pop(part)
        halves = [list(part), list(part)]
        halves[0][axis + 2], halves[1][axis] = cut["at"], cut["at"] + self.tool["kerf"]
        set_first = cut["stop"] in ("left", "top")
        for place, (left, top, right, bottom) in enumerate(halves):
            if left < right and top < bottom:
                own = list(sides)
                own[axis] = self._after(
                    sides[axis], cut["setting"], is_set=set_first == (not place)
                )
                self.parts[left, top, right, bottom] = (own[0], own[1])
                self.made_by[left, top, right, bottom] = number
        return part, self.made_by.get(part, 0)

    def _after(self, before: Side, setting: int, *, is_set: bool) -> Side:
        error = self.error(setting)
        if is_set:
            return "stop", error
        return "left over", None if before[1] is None else before[1] + error


def recounted(plan: Json, board: Json) -> tuple[int, int, int]:
    """Check every side of a board's pieces; return lifts, sides left over and sides in all."""
    benches = {layout["id"]: Bench(plan, board, layout) for layout in board["layouts"]}
    lifts = 0
    last: tuple[str, int, int | None] | None = None
    for step in board["cutting"]["order"]:
        bench = benches[step["layout"]]
        copies = bench.layout["copies"]
        for number in step["cuts"]:
            _, made_by = bench.cut(number)
            follows = last is not None and made_by > 0 and last[:2] == (step["layout"], made_by)
            alike = last is not None and last[2] == step["setting"]
            lifts += 0 if follows and (copies == 1 or alike) else copies
            last = (step["layout"], number, step["setting"])
    left = sides = 0
    for bench in benches.values():
        for by, error, said_by, said in _sides(bench):
            assert (by, error) == (said_by, said)
            left += bench.layout["copies"] * (by == "left over")
            sides += 1
    return lifts, left, sides


def _sides(bench: Bench) -> Iterator[tuple[str, Error, str, Error]]:
    for piece in bench.layout["pieces"]:
        x, y = piece["x"], piece["y"]
        both = bench.parts[x, y, x + piece["width"], y + piece["height"]]
        for name, (by, error) in zip(("width", "height"), both, strict=True):
            said = piece[f"{name}_error"]
            yield by, error, piece[f"{name}_by"], None if said is None else length(said)


def checked(plan: kw.Plan) -> int:
    """Check a plan's file against what its cuts come to; return how many sides there were."""
    written: Json = json.loads(kw.plan_to_json(plan))
    count = 0
    for board in written["boards"]:
        lifts, left, sides = recounted(written, board)
        said = board["cutting"]
        assert (lifts, left) == (said["lifts"], said["sides_left_over"])
        count += sides
    return count


def made(order: kw.Order) -> kw.Plan:
    """Return the plan of an order that can be cut."""
    plan = kw.make_plan(order)
    assert isinstance(plan, kw.Plan)
    return plan


@pytest.mark.parametrize("stem", ["01-harbour-prints-trimmed", "04-science-fair", "07-double-mats",
                                  "09-hardboard-backs", "10-two-processes"])  # fmt: skip
def test_sample_jobs_say_what_their_cuts_come_to(stem: str) -> None:
    """Lifts, sides left over, and of every side what makes it and by how much it may be off."""
    assert checked(made(kw.load_order(SAMPLES / f"{stem}.toml"))) > 0


@pytest.mark.parametrize("seed", range(12))
def test_random_orders_say_what_their_cuts_come_to(seed: int, tmp_path: Path) -> None:
    """By knives and saws, in inches and millimetres, from measured sheets and others, and parts.

    The last are those of a job that is gone on with in the middle.
    """
    chance = random.Random(seed)  # noqa: S311 - no secrets here
    unit = chance.choice(("in", "mm"))
    kind = chance.choice(("knife", "bench cutter", "wall cutter", "table saw"))
    wide, high = (32, 40) if unit == "in" else (815, 1020)
    measured = f', measured = "{wide} x {high}"' if chance.random() < 0.5 else ""
    sheet = f'size = "{wide} x {high}"{measured}'
    rows = [
        f'unit = "{unit}"\n[[tool]]\nname = "t"\nkind = "{kind}"\n',
        f'rule_class = "{chance.choice(("I", "II", "III"))}"\n',
        f'[[board]]\nname = "w"\ntool = "t"\nsheets = [{{ {sheet} }}]\n',
    ]
    for number in range(chance.randint(2, 4)):
        sides = (chance.randint(wide // 10, wide // 2), chance.randint(high // 10, high // 2))
        size = (
            f"{sides[0]} x {sides[1]} 1/3" if chance.random() < 0.3 else f"{sides[0]} x {sides[1]}"
        )
        rows.append(
            f'[[mat]]\nlabel = "P{number}"\nqty = {chance.randint(1, 6)}\nsize = "{size}"\n'
            'board = "w"\n'
        )
    path = tmp_path / "order.toml"
    path.write_text("".join(rows), encoding="utf-8")
    plan = made(kw.load_order(path))
    assert checked(plan) > 0
    rest = kw.resume_plan(kw.audit_plan(plan), done=["L1/1:2"]).plan
    assert isinstance(rest, kw.Plan)
    assert checked(rest) > 0
