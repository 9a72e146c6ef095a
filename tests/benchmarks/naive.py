"""The naive reference: a general-purpose rectangle-packing library in its guillotine modes.

``python naive.py`` reads an instance as JSON from stdin, in a process of its own. The library,
``rectpack``, places one rectangle after another into free rectangles that guillotine cuts leave
(Jylänki 2010, A thousand ways to pack the bin; the library's own reference). It knows no kerf, no
limits of the bench and no demands, so kerf is added to pieces and sheets, the limits of the bench
are not asked of it, and every copy is a rectangle of its own. The best of a few modes counts.

Its plans are recounted here like ours: every piece is there, inside its sheet, overlaps no other,
and guillotine cuts from edge to edge take all of them apart. The library may join free rectangles
across cuts, so the last is not a matter of course; a plan that fails is not counted.
"""

from __future__ import annotations

import importlib.util
import json
import sys
import time
from collections import Counter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    Box = tuple[int, int, int, int]

__all__ = ["MOST_PIECES", "cuts_apart", "installed", "packed"]

MOST_PIECES = 3000
# No further mode is begun after so much CPU time.
SECONDS = 10.0
SPLITS = ("GuillotineBafMinas", "GuillotineBssfSas", "GuillotineBlsfLlas", "GuillotineBafMaxas")
ORDERS = ("SORT_AREA", "SORT_LSIDE", "SORT_SSIDE", "SORT_PERI")
# With more pieces than this, only the sheet that fits first is tried, not the one that fits best.
FEW = 300


def installed() -> bool:
    """Return whether the library is there."""
    return importlib.util.find_spec("rectpack") is not None


def packed(instance: dict[str, Any]) -> dict[str, Any]:
    """Return the cost of the best plan of all modes, and what they took.

    Parameters
    ----------
    instance
        As `dataclasses.asdict` makes it of one.
    """
    pieces = sum(piece["demand"] for piece in instance["pieces"])
    if pieces > MOST_PIECES:
        return {"outcome": "too many pieces"}
    began, began_wall = time.process_time(), time.perf_counter()
    best: tuple[int, int] | None = None
    tried = spoilt = 0
    for mode in _modes(pieces, several=len(instance["sources"]) > 1):
        if tried and time.process_time() - began > SECONDS:
            break
        tried += 1
        found = _plan(instance, *mode)
        if found == "spoilt":
            spoilt += 1
        elif not isinstance(found, str) and (best is None or found < best):
            best = found
    answer = {
        "modes": tried,
        "not_guillotine": spoilt,
        "cpu": round(time.process_time() - began, 4),
        "wall": round(time.perf_counter() - began_wall, 4),
    }
    if best is None:
        return answer | {"outcome": "short"}
    return answer | {"outcome": "plan", "ours": best[0], "sheets": best[1]}


def _modes(pieces: int, *, several: bool) -> Iterator[tuple[str, str, str, int]]:
    fits = ("BFF", "BBF") if pieces <= FEW else ("BFF",)
    for way in range(2 if several else 1):
        for order in ORDERS:
            for split in SPLITS:
                for fit in fits:
                    yield split, order, fit, way


def _plan(
    instance: dict[str, Any], split: str, order: str, fit: str, way: int
) -> tuple[int, int] | str:
    """Return cost and sheets of one mode's plan; ``short`` or ``spoilt`` where it is none."""
    import rectpack

    kerf = instance["kerf"]
    sources = _ordered(instance["sources"], way)
    copies = [(number, piece) for number, piece in enumerate(instance["pieces"])]
    packer = rectpack.newPacker(
        bin_algo=getattr(rectpack.PackingBin, fit),
        pack_algo=getattr(rectpack, split),
        sort_algo=getattr(rectpack, order),
        rotation=_may_turn(instance),
    )
    wanted = 0
    for number, piece in copies:
        wanted += piece["demand"]
        for _ in range(piece["demand"]):
            packer.add_rect(piece["width"] + kerf, piece["height"] + kerf, rid=number)
    for number, source in enumerate(sources):
        most = wanted if source["available"] is None else source["available"]
        packer.add_bin(source["width"] + kerf, source["height"] + kerf, count=most, bid=number)
    packer.pack()
    return _recounted(instance, sources, packer)


def _ordered(sources: Sequence[dict[str, Any]], way: int) -> list[dict[str, Any]]:
    """Return the sheets with the cheapest by area first, or with the largest first."""
    areas = [source["width"] * source["height"] for source in sources]
    ranks = [
        (-area if way else source["cost"] / area, -area)
        for source, area in zip(sources, areas, strict=True)
    ]
    return [sources[number] for number in sorted(range(len(sources)), key=ranks.__getitem__)]


def _may_turn(instance: dict[str, Any]) -> bool:
    """Return whether all pieces may turn; the library knows all or none."""
    return all(p["may_turn"] or p["width"] == p["height"] for p in instance["pieces"])


def _recounted(
    instance: dict[str, Any], sources: Sequence[dict[str, Any]], packer: Iterable[Any]
) -> tuple[int, int] | str:
    kerf, cost, sheets = instance["kerf"], 0, 0
    turn = _may_turn(instance)
    left = Counter({number: piece["demand"] for number, piece in enumerate(instance["pieces"])})
    used: Counter[int] = Counter()
    for sheet in packer:
        boxes: list[Box] = []
        for rectangle in sheet:
            piece = instance["pieces"][rectangle.rid]
            sides = (piece["width"] + kerf, piece["height"] + kerf)
            size = (int(rectangle.width), int(rectangle.height))
            assert size == sides or (turn and size == sides[::-1]), size
            boxes.append((int(rectangle.x), int(rectangle.y), *size))
            left[rectangle.rid] -= 1
        source = sources[sheet.bid]
        if not cuts_apart(boxes, source["width"] + kerf, source["height"] + kerf):
            return "spoilt"
        used[sheet.bid] += 1
        cost += source["cost"]
        sheets += 1
    if any(number > 0 for number in left.values()):
        return "short"
    assert not any(left.values())
    for number, source in enumerate(sources):
        assert source["available"] is None or used[number] <= source["available"]
    return cost, sheets


def cuts_apart(boxes: Sequence[Box], width: int, height: int) -> bool:
    """Return whether guillotine cuts take rectangles apart that lie inside a sheet.

    Parameters
    ----------
    boxes
        Each ``(x, y, width, height)``.

    Raises
    ------
    AssertionError
        If one lies outside the sheet, or two overlap.
    """
    for x, y, wide, high in boxes:
        assert x >= 0
        assert y >= 0
        assert x + wide <= width
        assert y + high <= height
    for number, (x, y, wide, high) in enumerate(boxes):
        for x2, y2, wide2, high2 in boxes[:number]:
            apart = x + wide <= x2 or x2 + wide2 <= x or y + high <= y2 or y2 + high2 <= y
            assert apart, "two overlap"
    todo = [list(boxes)]
    while todo:
        some = todo.pop()
        if len(some) > 1:
            parts = _strips(some, 0)
            if len(parts) == 1:
                parts = _strips(some, 1)
            if len(parts) == 1:
                return False
            todo += parts
    return True


def _strips(boxes: Sequence[Box], axis: int) -> list[list[Box]]:
    """Return the boxes in the strips into which all cuts across an axis divide them."""
    parts: list[list[Box]] = []
    reach = None
    for box in sorted(boxes, key=lambda one: one[axis]):
        if reach is None or box[axis] >= reach:
            parts.append([])
        parts[-1].append(box)
        reach = max(reach or 0, box[axis] + box[axis + 2])
    return parts


if __name__ == "__main__":
    print(json.dumps(packed(json.load(sys.stdin))))
