"""A bench of its own: cuts a plan.json again, by its order, and counts on the way.

It reads nothing but the file's own words, with nothing of kerfwright, so that no error of the
bench room or of the audit can be repeated here. Parts are sets of edges; a part is found by the
line that is to run across it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

Json = Any  # what a plan.json holds
INCH = Fraction(254, 10)


@dataclass
class Counted:
    """What cutting a board again came to."""

    settings: int = 0
    turns: int = 0
    lifts: int = 0
    cuts: int = 0
    longest: int = 0
    farthest: int = 0
    parts: dict[str, list[tuple[int, int, int, int]]] = field(default_factory=dict)


def length_mm(text: str) -> Fraction:
    """Return the millimetres of ``"1/16 in"``."""
    number, unit = text.split(" ")
    return Fraction(number) * (INCH if unit == "in" else 1)


def cut_board(board: Json, step: str) -> Counted:
    """Cut every layout of a board by the order in the file; fails where that cannot be done."""
    done = Counted()
    on_bench = {
        layout["id"]: {(0, 0, layout["source"]["width"], layout["source"]["height"]): "left"}
        for layout in board["layouts"]
    }
    layouts = {layout["id"]: layout for layout in board["layouts"]}
    made_last: set[tuple[str, tuple[int, int, int, int]]] = set()
    stop: int | None = None
    held: object = ()
    reach = board["tool"].get("reach")
    for row in board["cutting"]["order"]:
        layout = layouts[row["layout"]]
        for number in row["cuts"]:
            cut = layout["cuts"][number - 1]
            assert cut["number"] == number
            parts = on_bench[layout["id"]]
            part = next(one for one in parts if spans(cut, one))
            lay = parts.pop(part)
            pieces = split(cut, part, board["tool"]["kerf"])
            assert cut["setting"] == distance(cut, part, board["tool"]["kerf"])
            if reach is not None and cut["setting"] * length_mm(step) > length_mm(reach):
                assert row["setting"] is None
            else:
                assert row["setting"] == cut["setting"]
                if stop != cut["setting"]:
                    done.settings += 1
                stop = cut["setting"]
                done.farthest = max(done.farthest, cut["setting"])
            copies = layout["copies"]
            done.turns += copies * quarters(lay, cut["stop"])
            stays = (layout["id"], part) in made_last and (copies == 1 or held == row["setting"])
            done.lifts += 0 if stays else copies
            done.cuts += copies
            done.longest = max(done.longest, cut["end"] - cut["start"])
            parts.update(dict.fromkeys(pieces, cut["stop"]))
            made_last = {(layout["id"], one) for one in pieces}
            held = row["setting"]
    done.parts = {name: sorted(parts) for name, parts in on_bench.items()}
    return done


def spans(cut: Json, part: tuple[int, int, int, int]) -> bool:
    """Whether the line runs across the part from edge to edge, and through it."""
    left, top, right, bottom = part
    if cut["axis"] == "x":
        return (top, bottom) == (cut["start"], cut["end"]) and left <= cut["at"] < right
    return (left, right) == (cut["start"], cut["end"]) and top <= cut["at"] < bottom


def split(cut: Json, part: tuple[int, int, int, int], kerf: int) -> list[tuple[int, int, int, int]]:
    """Return what the cut makes of the part."""
    left, top, right, bottom = part
    at, beyond = cut["at"], cut["at"] + kerf
    if cut["axis"] == "x":
        halves = [(left, top, at, bottom), (beyond, top, right, bottom)]
    else:
        halves = [(left, top, right, at), (left, beyond, right, bottom)]
    return [half for half in halves if half[2] > half[0] and half[3] > half[1]]


def distance(cut: Json, part: tuple[int, int, int, int], kerf: int) -> int:
    """Return how far the near side of the cut is from the edge against the stop."""
    left, top, right, bottom = part
    from_edge = {
        "left": cut["at"] - left,
        "right": right - cut["at"] - kerf,
        "top": cut["at"] - top,
        "bottom": bottom - cut["at"] - kerf,
    }
    assert (cut["stop"] in ("left", "right")) == (cut["axis"] == "x")
    return int(from_edge[cut["stop"]])


def quarters(one: str, other: str) -> int:
    """Return by how many quarter turns one edge takes the place of another."""
    ring = ["left", "top", "right", "bottom"]
    steps = abs(ring.index(one) - ring.index(other))
    return min(steps, 4 - steps)
