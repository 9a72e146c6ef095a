"""A layout inside the packer: a tree of cuts over gross sizes, and what it yields."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ..problem.instance import Instance

__all__ = [
    "Layout",
    "Place",
    "Split",
    "Tree",
    "caps",
    "counts_of",
    "fits",
    "gross_areas",
    "gross_rooms",
    "needed",
    "part_sizes",
    "sheets_filled",
    "strips",
    "used_area",
]


@dataclass(frozen=True, slots=True)
class Place:
    """One piece lies in the corner of the part; what is beyond it is waste."""

    piece: int
    turned: bool


@dataclass(frozen=True, slots=True)
class Split:
    """The part is cut in two.

    Attributes
    ----------
    axis
        0 divides the width, 1 the height.
    at
        Gross size of the first part.
    """

    axis: int
    at: int
    first: Tree
    second: Tree


Tree = Place | Split | None


@dataclass(frozen=True, slots=True)
class Layout:
    """How one source of type `source` is cut.

    Attributes
    ----------
    counts
        Pieces of each type.
    root
        Over the source's gross usable size. Two layouts of equal yield count as equal.
    """

    source: int
    counts: tuple[int, ...]
    root: Tree = field(compare=False)


def counts_of(tree: Tree, types: int) -> tuple[int, ...]:
    """Return how many pieces of each of `types` types the tree yields."""
    counts = [0] * types
    todo = [tree]
    while todo:
        node = todo.pop()
        if isinstance(node, Place):
            counts[node.piece] += 1
        elif isinstance(node, Split):
            todo += (node.first, node.second)
    return tuple(counts)


def needed(tree: Tree, axis: int, instance: Instance) -> int:
    """Return the gross size along `axis` of the smallest part that the tree fits."""
    if isinstance(tree, Place):
        piece = instance.pieces[tree.piece]
        along_width = (axis == 0) != tree.turned
        return (piece.width if along_width else piece.height) + instance.kerf
    if isinstance(tree, Split):
        sizes = (needed(tree.first, axis, instance), needed(tree.second, axis, instance))
        return sum(sizes) if tree.axis == axis else max(sizes)
    return 0


def part_sizes(tree: Tree, instance: Instance) -> list[tuple[int, int]]:
    """Return the gross size of each part of the tree, closed up; the whole comes last."""
    if isinstance(tree, Place):
        return [(needed(tree, 0, instance), needed(tree, 1, instance))]
    if tree is None:
        return []
    first, second = part_sizes(tree.first, instance), part_sizes(tree.second, instance)
    wholes = [sizes[-1] for sizes in (first, second) if sizes] or [(0, 0)]
    widths, heights = zip(*wholes, strict=True)
    if tree.axis == 0:
        return [*first, *second, (sum(widths), max(heights))]
    return [*first, *second, (max(widths), sum(heights))]


def strips(tree: Tree, axis: int) -> Iterator[Tree]:
    """Yield what lies in the strips into which parallel cuts across `axis` divide a part."""
    if isinstance(tree, Split) and tree.axis == axis:
        yield from strips(tree.first, axis)
        yield from strips(tree.second, axis)
    else:
        yield tree


def used_area(instance: Instance, layout: Layout) -> int:
    """Return the area of the layout's pieces, kerf not counted."""
    return sum(
        count * piece.width * piece.height
        for count, piece in zip(layout.counts, instance.pieces, strict=True)
    )


def gross_areas(instance: Instance) -> list[int]:
    """Return the area of each piece type, kerf added to both sides."""
    kerf = instance.kerf
    return [(piece.width + kerf) * (piece.height + kerf) for piece in instance.pieces]


def gross_rooms(instance: Instance) -> list[int]:
    """Return the area of each source, kerf added to both sides."""
    kerf = instance.kerf
    return [(source.width + kerf) * (source.height + kerf) for source in instance.sources]


def fits(instance: Instance, layout: Layout) -> bool:
    """Return whether the tree, closed up, fits its source."""
    source = instance.sources[layout.source]
    wide, high = needed(layout.root, 0, instance), needed(layout.root, 1, instance)
    return wide <= source.width + instance.kerf and high <= source.height + instance.kerf


def sheets_filled(instance: Instance) -> float:
    """Return how many of the largest source all pieces would fill, going by area."""
    areas = zip(gross_areas(instance), instance.demands, strict=True)
    return sum(area * demand for area, demand in areas) / max(gross_rooms(instance))


def caps(instance: Instance, demands: Sequence[int]) -> list[int | None]:
    """Return the demands, or None where no source could hold more of a type, going by area."""
    room = max(gross_rooms(instance))
    most = [room // area for area in gross_areas(instance)]
    return [None if 0 < top <= left else left for left, top in zip(demands, most, strict=True)]
