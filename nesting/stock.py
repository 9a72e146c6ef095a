"""What is on the rack: boards, the sheets they are sold in, tools, and offcuts."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from .errors import RefusedValue
from .lengths import ZERO, Length, Size, Unit

__all__ = ["Board", "Grade", "Offcut", "SheetSize", "Tool", "Trim", "common_sheet", "default_keep"]

ACCEPTED_PRICE = "write what one sheet costs, such as 21.50, or leave it out"
# Not trade limits: what is past them is a slip of unit, or a ply taken for a thickness.
WIDEST_KERF = Length.of(1, Unit.INCH)
THICKEST = Length.of(2, Unit.INCH)


def _not_negative(field: str, length: Length) -> None:
    if length < ZERO:
        raise RefusedValue(field, str(length), "is negative", "write 0 or more")


def _name_given(field: str, name: str) -> None:
    if not name.strip():
        raise RefusedValue(field, name, "is empty", "write a name")


class Grade(StrEnum):
    """What a board is made of, in the words of its label."""

    COTTON = "cotton"
    ALPHA_CELLULOSE = "alpha-cellulose"
    WOOD_PULP = "wood-pulp"
    FOAM = "foam"
    FLUTED = "fluted"
    HARDBOARD = "hardboard"
    MDF = "mdf"
    OTHER = "other"

    @property
    def is_mat_board(self) -> bool:
        """Whether a strip of it can lie under a window cut."""
        return self in {Grade.COTTON, Grade.ALPHA_CELLULOSE, Grade.WOOD_PULP}


@dataclass(frozen=True, slots=True)
class Tool:
    """What makes the straight cuts.

    Attributes
    ----------
    kerf
        Width that a cut removes; zero for a knife.
    longest_cut
        The longest cut it can make; None where there is no limit.
    narrowest_strip
        The narrowest strip it can take off or leave, trims excepted; zero where there is no limit.
    """

    name: str = "knife"
    kerf: Length = ZERO
    longest_cut: Length | None = None
    narrowest_strip: Length = ZERO

    def __post_init__(self) -> None:
        _name_given("name", self.name)
        _not_negative("kerf", self.kerf)
        _not_negative("narrowest_strip", self.narrowest_strip)
        if self.kerf > WIDEST_KERF:
            raise RefusedValue(
                "kerf", str(self.kerf), "is wider than any saw blade", "1/8 in is usual for a saw"
            )
        if self.longest_cut is not None and self.longest_cut <= ZERO:
            raise RefusedValue(
                "longest_cut", str(self.longest_cut), "is not longer than zero", "write a length"
            )


@dataclass(frozen=True, slots=True)
class Trim:
    """What is taken off each factory edge of a full sheet, that cut's kerf included."""

    left: Length = ZERO
    right: Length = ZERO
    top: Length = ZERO
    bottom: Length = ZERO

    def __post_init__(self) -> None:
        for _, length in self.edges():
            _not_negative("trim", length)

    def edges(self) -> tuple[tuple[str, Length], ...]:
        """Return the name of each edge with what is taken off it."""
        return (
            ("left", self.left),
            ("right", self.right),
            ("top", self.top),
            ("bottom", self.bottom),
        )


@dataclass(frozen=True, slots=True)
class SheetSize:
    """One size in which a board's full sheets come.

    Attributes
    ----------
    price
        What one sheet costs, exact, in the order's own money; None where not given. Never zero:
        sheets that cost nothing would leave nothing to save.
    on_hand
        How many stand on the rack; None where not given.
    buyable
        Whether more can be had. If not, `on_hand` is all there is.
    """

    size: Size
    price: Fraction | None = None
    on_hand: int | None = None
    buyable: bool = True

    def __post_init__(self) -> None:
        if self.on_hand is not None and self.on_hand < 0:
            raise RefusedValue("on_hand", self.on_hand, "is negative", "write 0 or more")
        if self.price is not None and self.price <= 0:
            problem = "is negative" if self.price < 0 else "is zero"
            raise RefusedValue("price", str(self.price), problem, ACCEPTED_PRICE)
        if not self.buyable and self.on_hand is None:
            raise RefusedValue(
                "on_hand", "", "is missing though buyable is false", "say how many there are"
            )

    @property
    def available(self) -> int | None:
        """How many can be had; None for any number."""
        return None if self.buyable else self.on_hand


def common_sheet() -> SheetSize:
    """Return the 32 x 40 in sheet assumed where a board names none."""
    return SheetSize(Size(Length.of(32, Unit.INCH), Length.of(40, Unit.INCH)))


def default_keep() -> Size:
    """Return 8 x 10 in, the smallest leftover worth keeping where nothing else is said."""
    return Size(Length.of(8, Unit.INCH), Length.of(10, Unit.INCH))


@dataclass(frozen=True, slots=True)
class Board:
    """A material as bought: pieces of different boards never share a sheet.

    Attributes
    ----------
    sheets_assumed
        True where the sheet size was not given but taken to be 32 x 40 in.
    """

    name: str
    tool: Tool = field(default_factory=Tool)
    sheets: tuple[SheetSize, ...] = field(default_factory=lambda: (common_sheet(),))
    trim: Trim = field(default_factory=Trim)
    no_turn: bool = False
    thickness: Length | None = None
    grade: Grade | None = None
    buffered: bool | None = None
    keep: Size = field(default_factory=default_keep)
    sheets_assumed: bool = False

    def __post_init__(self) -> None:
        _name_given("name", self.name)
        self._check_sheets()
        self._check_trim()
        if self.thickness is not None and not ZERO < self.thickness <= THICKEST:
            raise RefusedValue(
                "thickness", str(self.thickness), "is no board's", "4-ply is about 1/16 in"
            )

    def _check_sheets(self) -> None:
        if not self.sheets:
            raise RefusedValue("sheets", "", "is empty", "list a size, or leave it out")
        sizes = [sheet.size for sheet in self.sheets]
        for size in sizes:
            if sizes.count(size) > 1:
                raise RefusedValue("sheets", str(size), "is listed twice", "put it into one entry")

    def _check_trim(self) -> None:
        for edge, length in self.trim.edges():
            if length and length < self.tool.kerf:
                raise RefusedValue(
                    "trim",
                    str(length),
                    f"({edge}) is thinner than the {self.tool.kerf} kerf of {self.tool.name!r}",
                    f"write 0 or at least {self.tool.kerf}",
                )
        for sheet in self.sheets:
            self._check_left_over(sheet.size)

    def _check_left_over(self, size: Size) -> None:
        across = self.trim.left + self.trim.right
        along = self.trim.top + self.trim.bottom
        if across >= size.width or along >= size.height:
            raise RefusedValue(
                "trim", "", f"leaves nothing of the {size} sheet", "write what each edge loses"
            )


@dataclass(frozen=True, slots=True)
class Offcut:
    """A leftover kept as stock, named by what is pencilled on it."""

    board: str
    size: Size
    id: str

    def __post_init__(self) -> None:
        _name_given("board", self.board)
        _name_given("id", self.id)
