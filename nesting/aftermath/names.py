"""What parts on the bench are called: by the letters that the pages give them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from ..instructions import ALPHABET, instructions
from ..plan.model import Edge, LeftoverKind

if TYPE_CHECKING:
    from ..plan.model import BoardPlan, Cut, Plan
    from .said import SheetTale
    from .sheets import Cuttable

__all__ = ["names_of", "side_of", "together"]

LEFTOVERS = {kind.value for kind in LeftoverKind}
FEWEST_IN_A_RUN = 3


def names_of(cuttable: Cuttable, board: BoardPlan, plan: Plan) -> dict[int, str]:
    """Return the name of each part of a layout, by its number there.

    Parts that are divided have the letter, and pieces the name, that the layout's page gives
    them; a leftover has none there, and goes by the cut that makes it.
    """
    piece = cuttable.parts[0].piece
    names = {0: "whole" if piece is None else piece.label}
    for told in instructions(cuttable.layout, board, plan):
        number = cuttable.divided[told.cut.number]
        names[number] = told.part
        for index, half in enumerate(cuttable.parts[number].halves):
            if half is not None:
                name = told.names[index]
                leftover = cuttable.parts[half].piece is None and name in LEFTOVERS
                names[half] = side_of(told.cut, index) if name is None or leftover else name
    return names


def side_of(cut: Cut, half: int) -> str:
    """Return ``cut 5 at stop`` or ``cut 5 beyond`` for the first half of a cut, 0, or the other."""
    near = 0 if cut.stop in (Edge.LEFT, Edge.TOP) else 1
    return f"cut {cut.number} {'at stop' if half == near else 'beyond'}"


def together(members: Iterable[tuple[SheetTale, str]]) -> str:
    """Return one name for equal parts: ``L1 B``, ``L1/1-2 B, C``, ``L1 B; L2 D``.

    Parameters
    ----------
    members
        The sheet of each, and its own name there.
    """
    sheets: dict[tuple[str, int], list[str]] = {}
    alone: dict[str, bool] = {}
    for tale, name in members:
        sheets.setdefault((tale.layout.id, tale.sheet), []).append(name)
        alone[tale.layout.id] = tale.layout.copies == 1
    alike: dict[tuple[str, tuple[str, ...]], list[int]] = {}
    for (layout, sheet), names in sheets.items():
        alike.setdefault((layout, tuple(names)), []).append(sheet)
    return "; ".join(
        f"{layout if alone[layout] else f'{layout}/{_ranges(numbers)}'} {', '.join(_runs(names))}"
        for (layout, names), numbers in alike.items()
    )


def _ranges(numbers: list[int]) -> str:
    found: list[list[int]] = []
    for number in sorted(numbers):
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return ",".join(f"{a}" if a == b else f"{a}-{b}" for a, b in found)


def _runs(names: tuple[str, ...]) -> Iterator[str]:
    """Yield names, three or more letters in a row as ``B-E``."""
    run: list[str] = []
    for name in (*names, ""):
        if run and not _follows(run[-1], name):
            yield from run if len(run) < FEWEST_IN_A_RUN else (f"{run[0]}-{run[-1]}",)
            run = []
        run.append(name)


def _follows(before: str, name: str) -> bool:
    return len(before) == len(name) == 1 and f"{before}{name}" in ALPHABET
