"""Parts of a good single layout laid anew, one by one, until none gets better.

A layout that a search over the whole sheet ends with is seldom best in its parts. Some of the
parts that parallel cuts divide another into are taken together, as if they lay side by side, and
the rectangle that they make is planned as a sheet of its own, with the copies that the rest of the
layout leaves. What is worth at least as much takes their place; of equal worth, too, since that
leads to other parts. Which parts are taken is left to chance, from one seed, so that the same work
always gives the same layout.

This is a large neighbourhood search (Shaw 1998, Using constraint programming and local search
methods to solve vehicle routing problems; from memory) whose neighbourhoods are those of a
guillotine layout: parallel cuts may change places, and any of their parts be joined.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from .grids import build_grid
from .layouts import Place, Split, counts_of
from .limited import BestLayout, best_limited

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ..problem.instance import Instance
    from .layouts import Tree

__all__ = ["best_sheet", "laid_anew"]

# Of a layout's work, what goes into laying parts anew; of that, what one part may take.
ANEW_SHARE, PART_SHARE = 0.3, 0.03
# So often in a row nothing may get better before the search ends.
MOST_IDLE = 2_000
# What choosing parts costs, beside planning them, in splits compared.
A_TRY = 200_000


def best_sheet(
    instance: Instance, values: Sequence[int], limits: Sequence[int], work: float
) -> BestLayout:
    """Return the most valuable layout of the first source with at most `limits` copies of each.

    As `best_limited` on the exact grid, whose parameters these are, but that its layout is laid
    anew in parts before all sets of copies are collected.
    """
    grid = build_grid(instance, limited=False)

    def better(tree: Tree, left: float) -> tuple[Tree, float]:
        return laid_anew(instance, values, limits, tree, left * ANEW_SHARE)

    cell = grid.root(instance.sources[0], instance)
    return best_limited(grid, cell, values, limits, work, better)


def laid_anew(
    instance: Instance,
    values: Sequence[int],
    limits: Sequence[int],
    tree: Tree,
    work: float,
) -> tuple[Tree, float]:
    """Return a layout of the first source worth at least what `tree` is, and the work it took.

    Parameters
    ----------
    values
        Of one piece of each type.
    limits
        Most copies of each type, which `tree` keeps.
    work
        How much may be done, in splits compared.
    """
    search = _Search(instance, tuple(values), tuple(limits), work)
    source, kerf = instance.sources[0], instance.kerf
    return search.run(tree, source.width + kerf, source.height + kerf), work - search.work


@dataclass(frozen=True, slots=True)
class _Divided:
    """A part that parallel cuts divide.

    Attributes
    ----------
    path
        Which of the parts to follow from the sheet on.
    parts
        The size of each part along `axis`, and what lies in it.
    """

    path: tuple[int, ...]
    width: int
    height: int
    axis: int
    parts: tuple[tuple[int, Tree], ...]

    def sides(self, along: int) -> tuple[int, int]:
        """Return width and height of a part so large along the axis."""
        return (along, self.height) if self.axis == 0 else (self.width, along)


@dataclass(slots=True)
class _Search:
    """Lays parts anew, and remembers which it has planned."""

    instance: Instance
    values: tuple[int, ...]
    limits: tuple[int, ...]
    work: float
    part_work: float = 0.0
    known: dict[tuple[int, int, tuple[int, ...]], Tree] = field(default_factory=dict)

    def run(self, tree: Tree, width: int, height: int) -> Tree:
        """Return the layout once the work is done, or nothing has got better for long."""
        chance = random.Random(1)  # noqa: S311 - no secrets here
        self.part_work = self.work * PART_SHARE
        idle = 0
        while self.work > 0 and idle < MOST_IDLE:
            places = list(_divided(tree, width, height))
            if not places:
                break
            at = chance.choice(places)
            number = chance.randint(2, len(at.parts))
            chosen = sorted(chance.sample(range(len(at.parts)), number))
            idle += 1
            self.work -= A_TRY
            if not at.path and number == len(at.parts):
                continue  # that is the whole sheet
            found = self._anew(tree, at, chosen)
            if found is None:
                continue
            other, gain = found
            rest = [part for index, part in enumerate(at.parts) if index not in chosen]
            size = sum(at.parts[index][0] for index in chosen)
            together = [*rest, (size, other)]
            chance.shuffle(together)
            tree = _replaced(tree, width, height, at.path, _together(together, at.axis))
            idle = 0 if gain else idle
        return tree

    def _anew(self, tree: Tree, at: _Divided, chosen: Sequence[int]) -> tuple[Tree, int] | None:
        """Return what is worth at least as much as the chosen parts, and how much more."""
        inside = _together([at.parts[index] for index in chosen], at.axis)
        width, height = at.sides(sum(at.parts[index][0] for index in chosen))
        mine = counts_of(inside, len(self.values))
        all_ = counts_of(tree, len(self.values))
        left = tuple(
            most - (whole - own) for most, whole, own in zip(self.limits, all_, mine, strict=True)
        )
        other = self._planned(width, height, left)
        gain = self._worth(counts_of(other, len(self.values))) - self._worth(mine)
        return None if gain < 0 else (other, gain)

    def _worth(self, counts: Sequence[int]) -> int:
        return sum(value * n for value, n in zip(self.values, counts, strict=True))

    def _planned(self, width: int, height: int, left: tuple[int, ...]) -> Tree:
        """Return a layout of a part of that gross size."""
        kerf = self.instance.kerf
        wide, high = width - kerf, height - kerf
        pieces = [
            number
            for number, piece in enumerate(self.instance.pieces)
            if left[number] > 0 and any(w <= wide and h <= high for w, h in piece.orientations())
        ]
        key = (width, height, left)
        if key not in self.known:
            self.known[key] = self._plan(wide, high, pieces, left) if pieces else None
        return self.known[key]

    def _plan(self, wide: int, high: int, pieces: Sequence[int], left: Sequence[int]) -> Tree:
        sheet = replace(self.instance.sources[0], width=wide, height=high)
        kept = tuple(self.instance.pieces[number] for number in pieces)
        part = replace(self.instance, pieces=kept, sources=(sheet,))
        values = [self.values[number] for number in pieces]
        grid = build_grid(part, limited=False)
        most = [left[number] for number in pieces]
        found = best_limited(grid, grid.root(sheet, part), values, most, self.part_work)
        self.work -= found.spent
        return _renumbered(found.root, pieces)


def _divided(tree: Tree, width: int, height: int, path: tuple[int, ...] = ()) -> Iterator[_Divided]:
    """Yield every part that is cut, from the sheet on."""
    if not isinstance(tree, Split):
        return
    at = _Divided(path, width, height, tree.axis, _parts_of(tree, width, height))
    yield at
    for number, (size, part) in enumerate(at.parts):
        yield from _divided(part, *at.sides(size), (*path, number))


def _parts_of(tree: Split, width: int, height: int) -> tuple[tuple[int, Tree], ...]:
    """Return the parts into which the parallel cuts through a whole part divide it."""
    axis, found = tree.axis, []
    todo: list[tuple[int, Tree]] = [(width if axis == 0 else height, tree)]
    while todo:
        size, one = todo.pop()
        if isinstance(one, Split) and one.axis == axis:
            todo += [(size - one.at, one.second), (one.at, one.first)]
        else:
            found.append((size, one))
    return tuple(found)


def _together(parts: Sequence[tuple[int, Tree]], axis: int) -> Tree:
    """Return parts cut from one another, in that order; of no size are none."""
    sized = [part for part in parts if part[0] > 0]
    if not sized:
        return None
    *others, (_, tree) = sized
    for size, part in reversed(others):
        tree = Split(axis, size, part, tree)
    return tree


def _replaced(tree: Tree, width: int, height: int, path: Sequence[int], new: Tree) -> Tree:
    """Return the layout with `new` in place of the part at the end of `path`."""
    if not path:
        return new
    assert isinstance(tree, Split)
    at = _Divided((), width, height, tree.axis, _parts_of(tree, width, height))
    parts = list(at.parts)
    size, part = parts[path[0]]
    parts[path[0]] = size, _replaced(part, *at.sides(size), path[1:], new)
    return _together(parts, at.axis)


def _renumbered(tree: Tree, pieces: Sequence[int]) -> Tree:
    """Return a part's layout with the numbers that its pieces have in the whole."""
    if isinstance(tree, Place):
        return replace(tree, piece=pieces[tree.piece])
    if isinstance(tree, Split):
        first, second = (_renumbered(one, pieces) for one in (tree.first, tree.second))
        return Split(tree.axis, tree.at, first, second)
    return None
