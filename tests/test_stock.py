"""What stands on the rack: refused at birth if it is wrong."""

from __future__ import annotations

from fractions import Fraction

import pytest

from kerfwright.errors import RefusedValue
from kerfwright.lengths import ZERO, Length, Size, Unit, parse_size
from kerfwright.stock import (
    Board,
    Grade,
    Offcut,
    SheetSize,
    Tool,
    Trim,
    common_sheet,
    default_keep,
)

SHEET = SheetSize(parse_size("32 x 40", Unit.INCH))


def inches(number: int | str) -> Length:
    """Return a length in inches."""
    return Length.of(Fraction(number), Unit.INCH)


def even_trim(length: Length) -> Trim:
    """Return a trim that takes the same off every edge."""
    return Trim(length, length, length, length)


def test_what_is_not_said_is_taken_as_usual() -> None:
    """A board of which only the name is known: a knife, 32 x 40 in sheets, keep 8 x 10 in."""
    board = Board("rag")
    assert board.tool == Tool("knife", ZERO, None, ZERO)
    assert board.sheets == (SHEET,) == (common_sheet(),)
    assert board.keep == default_keep() == parse_size("8 x 10", Unit.INCH)
    assert board.trim == even_trim(ZERO)


def test_only_mat_boards_make_slip_sheets() -> None:
    """Cotton, cellulose and wood pulp are mat board; foam, fluted, hardboard and MDF are not."""
    mat_boards = {grade.value for grade in Grade if grade.is_mat_board}
    assert mat_boards == {"cotton", "alpha-cellulose", "wood-pulp"}


@pytest.mark.parametrize(
    ("buyable", "on_hand", "available"),
    [(True, None, None), (True, 4, None), (False, 4, 4), (False, 0, 0)],
)
def test_on_hand_limits_only_what_cannot_be_bought(
    buyable: bool, on_hand: int | None, available: int | None
) -> None:
    """Sheets on hand are a limit only where no more can be had."""
    assert SheetSize(SHEET.size, None, on_hand, buyable).available == available


@pytest.mark.parametrize(
    ("price", "on_hand", "buyable", "problem"),
    [
        (Fraction(-1), None, True, "price: '-1' is negative"),
        (Fraction(0), None, True, "price: '0' is zero"),
        (None, -1, True, "on_hand: -1 is negative"),
        (None, None, False, "on_hand: '' is missing though buyable is false"),
    ],
)
def test_a_sheet_size_refuses(
    price: Fraction | None, on_hand: int | None, buyable: bool, problem: str
) -> None:
    """A price that is not above zero, a negative count, and a limit that is not given."""
    with pytest.raises(RefusedValue, match=problem):
        SheetSize(SHEET.size, price, on_hand, buyable)


@pytest.mark.parametrize(
    ("tool", "problem"),
    [
        ({"name": " "}, "name: ' ' is empty"),
        ({"kerf": inches(-1)}, "kerf: '-1 in' is negative"),
        ({"kerf": inches("9/8")}, "kerf: '1 1/8 in' is wider than any saw blade"),
        ({"longest_cut": ZERO}, "longest_cut: '0 in' is not longer than zero"),
        ({"narrowest_strip": inches(-1)}, "narrowest_strip: '-1 in' is negative"),
    ],
)
def test_a_tool_refuses(tool: dict[str, object], problem: str) -> None:
    """No name, a negative kerf or strip, a kerf meant in other units, no cut at all."""
    with pytest.raises(RefusedValue, match=problem):
        Tool(**tool)  # type: ignore[arg-type]


def test_trim_is_at_least_the_kerf_or_nothing() -> None:
    """A saw of 1/8 in cannot take 1/16 in off an edge; it can take 1/8 in, or leave it alone."""
    saw = Tool("saw", inches("1/8"))
    Board("mdf", saw, trim=Trim(left=inches("1/8")))
    with pytest.raises(RefusedValue) as refusal:
        Board("mdf", saw, trim=Trim(top=inches("1/16")))
    assert str(refusal.value) == (
        "trim: '1/16 in' (top) is thinner than the 1/8 in kerf of 'saw'; write 0 or at least 1/8 in"
    )


@pytest.mark.parametrize(
    ("trim", "eaten"),
    [
        (even_trim(inches(15)), False),
        (even_trim(inches(16)), True),  # 16 + 16 = 32: nothing across
        (Trim(top=inches(39)), False),
        (Trim(top=inches(20), bottom=inches(20)), True),
    ],
)
def test_trim_leaves_something_of_every_sheet(trim: Trim, eaten: bool) -> None:
    """Trim that takes the whole of a 32 x 40 in sheet is refused."""
    if eaten:
        with pytest.raises(RefusedValue, match="leaves nothing of the 32 x 40 in sheet"):
            Board("rag", trim=trim)
    else:
        assert Board("rag", trim=trim).trim == trim


def test_a_board_refuses() -> None:
    """No name, no sheets, a size twice, and a ply given for a thickness."""
    with pytest.raises(RefusedValue, match="name: '' is empty"):
        Board("")
    with pytest.raises(RefusedValue, match="sheets: '' is empty"):
        Board("rag", sheets=())
    with pytest.raises(RefusedValue, match="sheets: '32 x 40 in' is listed twice"):
        Board("rag", sheets=(SHEET, SheetSize(SHEET.size, Fraction(3))))
    with pytest.raises(RefusedValue, match="thickness: '4 in' is no board's"):
        Board("rag", thickness=inches(4))


def test_a_trim_and_an_offcut_refuse() -> None:
    """An edge cannot be given something; an offcut has a board and an id."""
    with pytest.raises(RefusedValue, match="trim: '-1 in' is negative"):
        Trim(bottom=inches(-1))
    size = Size(inches(9), inches(9))
    with pytest.raises(RefusedValue, match="id: '' is empty"):
        Offcut("rag", size, "")
    with pytest.raises(RefusedValue, match="board: '' is empty"):
        Offcut("", size, "7")
