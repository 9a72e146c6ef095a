"""Good single layouts of a fine sheet: never worse than the first, never better than the best."""

from __future__ import annotations

from hypothesis import given, settings
from test_limited import tiny

from kerfwright.packer.finegrid import best_on_fine_grid
from kerfwright.packer.grids import build_grid
from kerfwright.packer.layouts import Place, Tree, counts_of, needed
from kerfwright.packer.limited import best_limited
from kerfwright.packer.recombine import recombined
from kerfwright.packer.recursion import best_values
from kerfwright.problem.instance import Instance, PieceType, SourceType

SHEET = SourceType(640, 900, 1, None)
# Invented: width, height and value, on a sheet far larger than any.
SIZES = (
    (101, 124, 125), (156, 80, 126), (57, 197, 113), (130, 117, 152), (83, 90, 76),
    (183, 73, 135), (47, 159, 76), (117, 140, 165), (74, 214, 159), (151, 99, 151),
)  # fmt: skip


def worth(values: tuple[int, ...], tree: Tree) -> int:
    """Return the value of a layout's pieces."""
    return sum(v * n for v, n in zip(values, counts_of(tree, len(values)), strict=True))


@settings(max_examples=100, deadline=None)
@given(tiny())
def test_it_stays_between_the_first_and_the_best(
    drawn: tuple[Instance, tuple[int, ...]],
) -> None:
    """Copies unlimited, nothing is lost, and the recursion's exact value is not passed."""
    instance, values = drawn
    grid, source = build_grid(instance, limited=False), instance.sources[0]
    begun = best_limited(grid, grid.root(source, instance), values, instance.demands, 0)
    root = recombined(instance, values, begun.root, 1e6)
    most = int(best_values(grid, list(values))[grid.root(source, instance)])
    assert begun.value <= worth(values, root) <= most
    assert needed(root, 0, instance) <= source.width + instance.kerf
    assert needed(root, 1, instance) <= source.height + instance.kerf


def fine(kerf: int) -> tuple[Instance, tuple[int, ...]]:
    """Return a sheet of half a million part sizes, and the values of its pieces."""
    pieces = tuple(PieceType(wide, high, 1, may_turn=False) for wide, high, _ in SIZES)
    return Instance(pieces, (SHEET,), kerf), tuple(value for _, _, value in SIZES)


def test_parts_of_good_layouts_make_better_ones() -> None:
    """From nothing it comes within two per cent of the exact best, and past a layout of strips.

    The exact best is the recursion's, over all sizes that parts can have.
    """
    for kerf in (0, 3):
        instance, values = fine(kerf)
        grid = build_grid(instance, limited=False)
        exact = int(best_values(grid, list(values))[grid.root(SHEET, instance)])
        strips = best_on_fine_grid(instance, values, 0).value
        found = worth(values, recombined(instance, values, None, 1e9))
        assert strips < found <= exact
        assert found >= 0.98 * exact


def test_the_same_work_gives_the_same_layout() -> None:
    """Chance comes from the seed alone."""
    instance, values = fine(0)
    one, other = (recombined(instance, values, None, 1e8, seed=7) for _ in range(2))
    assert one == other


def strip(*pieces: tuple[int, int]) -> Instance:
    """Return a strip 1007 long and 10 wide, and the pieces to cut from it."""
    types = tuple(PieceType(wide, high, 1, may_turn=False) for wide, high in pieces)
    return Instance(types, (SourceType(1007, 10, 1, None),))


def test_a_row_leaves_room_for_unlike_pieces() -> None:
    """The first grid has what the sheet leaves beside rows of equal pieces.

    The first piece is worth 10.1 for each of its 10, the others hardly less. 96 of it leave 47,
    which is 33 and 14: 9696 + 333 + 141 = 10170, and 1007 times 10.1 is no more than 10170.7.
    """
    instance, values = strip((10, 10), (33, 10), (14, 10)), (101, 333, 141)
    root = recombined(instance, values, None, 0)
    assert counts_of(root, 3) == (96, 1, 1)


def test_a_piece_that_smaller_ones_replace_is_not_missed() -> None:
    """Two of 10 are worth 202, one of 20 is worth 201: no layout needs it, nor gets lost with it.

    100 of 10 are worth 10100; seven units of length are left.
    """
    instance, values = strip((10, 10), (20, 10)), (101, 201)
    root = recombined(instance, values, Place(1, turned=False), 1e6)
    assert counts_of(root, 2) == (100, 0)
