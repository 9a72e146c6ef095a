"""The audit's own recursion gives published optima, and what trying everything gives."""

from __future__ import annotations

import functools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.audit.reprice import Shape, TooManyPositions, best_value


def by_trying(
    shapes: tuple[Shape, ...], width: int, height: int, longest: int | None = None
) -> int:
    """Return the best layout's value by every cut at every step, with no reduction at all.

    With a longest cut, each piece must be cut free by cuts that are no longer.
    """
    most = max(width, height) if longest is None else longest

    @functools.cache
    def best(wide: int, high: int) -> int:
        found = max((s.value for s in shapes if (s.width, s.height) == (wide, high)), default=0)
        for at in range(1, wide if high <= most else 0):
            found = max(found, best(at, high) + best(wide - at, high))
        for at in range(1, high if wide <= most else 0):
            found = max(found, best(wide, at) + best(wide, high - at))
        return found

    return best(width, height)


def shapes_of(rows: list[tuple[int, int, int]], *, turn: bool = False) -> list[Shape]:
    """Return rows of width, height and value as shapes, with their quarter turns if wanted."""
    straight = [Shape(*row) for row in rows]
    return straight + [Shape(s.height, s.width, s.value) for s in straight] if turn else straight


def by_area(*sizes: tuple[int, int]) -> list[tuple[int, int, int]]:
    """Return sizes valued at their area."""
    return [(width, height, width * height) for width, height in sizes]


HERZ = by_area((21, 13), (36, 17), (54, 20), (24, 27), (18, 65))
CGCUT1 = [(8, 4, 66), (3, 7, 35), (8, 2, 24), (3, 4, 17), (3, 3, 11), (3, 2, 8), (2, 1, 2)]
M1 = by_area(
    (27, 32), (16, 50), (47, 66), (37, 46), (31, 51), (47, 51), (48, 44), (49, 45), (59, 78),
    (21, 87),
)  # fmt: skip
GCUT1 = by_area(
    (167, 184), (114, 118), (167, 152), (83, 140), (70, 86), (143, 166), (120, 160), (66, 148),
    (87, 141), (69, 165),
)  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "sheet", "turn", "optimum"),
    [
        # Herz 1972, IBM J. Res. Dev. 16; optimum as in Hifi & Zissimopoulos 1996, EJOR 91.
        (HERZ, (127, 98), False, 12348),
        # Christofides & Whitlock 1977, Oper. Res. 25, first problem, its limits on numbers left
        # out; optimum as in Hifi & Zissimopoulos 1996, EJOR 91.
        (CGCUT1, (15, 10), False, 249),
        # Morabito, Arenales & Arcaro 1992, EJOR 58; optimum from the same paper of 1996.
        (M1, (100, 156), False, 15024),
        # Beasley 1985, J. Oper. Res. Soc. 36, first problem; both optima in Cintra, Miyazawa,
        # Wakabayashi & Xavier 2008, EJOR 191.
        (GCUT1, (250, 250), False, 56460),
        (GCUT1, (250, 250), True, 58136),
    ],
    ids=["Herz", "cgcut1", "M1", "gcut1", "gcut1 turned"],
)
def test_published_optimum(
    rows: list[tuple[int, int, int]], sheet: tuple[int, int], turn: bool, optimum: int
) -> None:
    """The recursion gives the published value of the best edge-to-edge layout."""
    assert best_value(shapes_of(rows, turn=turn), *sheet) == optimum


side = st.integers(1, 12)
any_shapes = st.lists(st.builds(Shape, side, side, st.integers(0, 40)), min_size=1, max_size=5)


@given(any_shapes, st.integers(1, 22), st.integers(1, 22))
@settings(deadline=None)
def test_same_as_trying_every_cut(shapes: list[Shape], width: int, height: int) -> None:
    """On small sheets, the reduced positions give what every position gives."""
    assert best_value(shapes, width, height) == by_trying(tuple(shapes), width, height)


@given(any_shapes, st.integers(1, 16), st.integers(1, 16))
@settings(deadline=None)
def test_values_beyond_64_bits_are_exact(shapes: list[Shape], width: int, height: int) -> None:
    """Values too large for the machine's integers give the same layout, exactly."""
    large = 2**61 + 1
    grown = [Shape(s.width, s.height, s.value * large) for s in shapes]
    assert best_value(grown, width, height) == large * best_value(shapes, width, height)


@given(any_shapes, st.integers(1, 22), st.integers(1, 22))
@settings(deadline=None)
def test_exchanging_the_axes_changes_nothing(shapes: list[Shape], width: int, height: int) -> None:
    """The best layout of the sheet laid on its side is worth the same."""
    aside = [Shape(s.height, s.width, s.value) for s in shapes]
    assert best_value(aside, height, width) == best_value(shapes, width, height)


@pytest.mark.parametrize("shapes", [[], [Shape(9, 1, 5)], [Shape(1, 9, 5)], [Shape(2, 2, 0)]])
def test_nothing_fits_or_nothing_is_worth_anything(shapes: list[Shape]) -> None:
    """Then the best layout is worth nothing."""
    assert best_value(shapes, 8, 8) == 0


def test_windmill_is_no_layout() -> None:
    """Four 3 x 2 lie round a hole in a 5 x 5, but no cut gets between them: three, not four."""
    shapes = shapes_of(by_area((3, 2)), turn=True)
    assert best_value(shapes, 5, 5) == 3 * 6


def test_too_many_positions_are_refused() -> None:
    """A table that would take minutes is not begun."""
    with pytest.raises(TooManyPositions, match="10001 by 10001 cut positions"):
        best_value([Shape(1, 1, 1)], 10_000, 10_000)


@given(any_shapes, st.integers(1, 16), st.integers(1, 16), st.integers(1, 16))
@settings(max_examples=1000, deadline=None)
def test_with_a_longest_cut_it_is_never_less(
    shapes: list[Shape], width: int, height: int, longest: int
) -> None:
    """No layout whose cuts are short enough is worth more; and the limit never adds worth."""
    found = best_value(shapes, width, height, longest)
    assert by_trying(tuple(shapes), width, height, longest) <= found
    assert found <= best_value(shapes, width, height)


def test_a_part_that_no_cut_divides_may_be_trimmed_to_a_shorter_one() -> None:
    """Of 2 x 4, with cuts of 3 at most, 1 is cut off the height; then two 1 x 3 lie side by side.

    No two heights add up to 4, so that nothing but the trimming leads to them.
    """
    shapes = (Shape(1, 3, 1), Shape(1, 4, 1))
    assert best_value(shapes, 2, 4, 3) == by_trying(shapes, 2, 4, 3) == 2
    aside = tuple(Shape(s.height, s.width, s.value) for s in shapes)
    assert best_value(aside, 4, 2, 3) == by_trying(aside, 4, 2, 3) == 2


def test_a_longest_cut_makes_a_sheet_worth_less() -> None:
    """Of 10 x 6, with cuts of 6 at most, three 6 x 2 lie in the part that is 6 wide.

    Without the limit three strips of 10 x 2 are cut off along the whole sheet.
    """
    shapes = (Shape(10, 2, 21), Shape(6, 2, 10))
    assert best_value(shapes, 10, 6) == 63
    assert best_value(shapes, 10, 6, 6) == by_trying(shapes, 10, 6, 6) == 30
