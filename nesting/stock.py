"""What is on the rack: boards, the sheets they are sold in, tools, and offcuts."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from .errors import RefusedValue
from .lengths import ZERO, Length, Size, Unit

__all__ = [
    "Board",
    "Grade",
    "Offcut",
    "RuleClass",
    "SheetSize",
    "Tool",
    "ToolKind",
    "Trim",
    "common_sheet",
    "default_keep",
]

ACCEPTED_PRICE = "write what one sheet costs, such as 21.50, or leave it out"
# Not trade limits: what is past them is a slip of unit, or a ply taken for a thickness.
WIDEST_KERF = Length.of(1, Unit.INCH)
THICKEST = Length.of(2, Unit.INCH)
LEAST_SURE = Length.of(Fraction(1, 2), Unit.INCH)
MOST_OFF = Length.of(2, Unit.INCH)
# About 1/64 to 1/32 in against a stop: common practice, no source, and never confirmed.
USUAL_REPEATABILITY = Length.of(Fraction(1, 32), Unit.INCH)


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


class ToolKind(StrEnum):
    """General kinds of tool for straight cuts; no maker's machine."""

    KNIFE = "knife"
    BENCH_CUTTER = "bench cutter"
    WALL_CUTTER = "wall cutter"
    TABLE_SAW = "table saw"


class RuleClass(StrEnum):
    """Accuracy classes of rules, as marked on them; `bench.sizes` has what each allows."""

    I = "I"  # noqa: E741  the class is called so
    II = "II"
    III = "III"


@dataclass(frozen=True, slots=True)
class Tool:
    """What makes the straight cuts, and the bench that it stands on.

    Attributes
    ----------
    kerf
        Width that a cut removes; zero for a knife.
    longest_cut
        The longest cut it can make; None where there is no limit.
    narrowest_strip
        The narrowest strip it can take off or leave, trims excepted; zero where there is no limit.
    kind
        What sort of tool it is; None where not said.
    reach
        The largest setting of its stop or scale; beyond it cuts are marked in pencil. None where
        there is no limit.
    squares
        Whether the first edges of a sheet must be squared before others are measured from them.
    repeatability
        How far two cuts at one setting may differ from it, either way.
    rule_class
        The class of the rule or scale that settings are read on.
    """

    name: str = "knife"
    kerf: Length = ZERO
    longest_cut: Length | None = None
    narrowest_strip: Length = ZERO
    kind: ToolKind | None = None
    reach: Length | None = None
    squares: bool = False
    repeatability: Length = USUAL_REPEATABILITY
    rule_class: RuleClass = RuleClass.II

    def __post_init__(self) -> None:
        _name_given("name", self.name)
        _not_negative("kerf", self.kerf)
        _not_negative("narrowest_strip", self.narrowest_strip)
        _not_negative("repeatability", self.repeatability)
        if self.kerf > WIDEST_KERF:
            raise RefusedValue(
                "kerf", str(self.kerf), "is wider than any saw blade", "1/8 in is usual for a saw"
            )
        for name, limit in (("longest_cut", self.longest_cut), ("reach", self.reach)):
            if limit is not None and limit <= ZERO:
                raise RefusedValue(name, str(limit), "is not longer than zero", "write a length")
        if self.repeatability > LEAST_SURE:
            raise RefusedValue(
                "repeatability",
                str(self.repeatability),
                "is more than any stop is out",
                "write how far a cut may be off its setting, such as 1/32 in",
            )

    @classmethod
    def usual(cls, kind: ToolKind, unit: Unit = Unit.INCH) -> Tool:
        """Return a tool of that kind with the figures taken where nothing else is said.

        They are starting points to be changed, no measurements: the kerf is that of a usual
        full-kerf blade, the lengths are nominal sizes in common use, one user's report of a
        reach, and a strip that can be pushed past a blade.
        """
        inch = unit is Unit.INCH

        def length(inches: Fraction | int, millimetres: int) -> Length:
            return Length.of(inches, Unit.INCH) if inch else Length(Fraction(millimetres))

        fine = Length.of(Fraction(1, 64), Unit.INCH)
        if kind is ToolKind.KNIFE:
            return cls(kind.value, kind=kind, squares=True)
        if kind is ToolKind.BENCH_CUTTER:
            return cls(
                kind.value,
                longest_cut=length(40, 1000),
                kind=kind,
                reach=length(Fraction(57, 2), 720),
                squares=True,
                repeatability=fine,
            )
        if kind is ToolKind.WALL_CUTTER:
            return cls(
                kind.value,
                longest_cut=length(60, 1500),
                kind=kind,
                squares=True,
                repeatability=fine,
            )
        return cls(
            kind.value,
            kerf=length(Fraction(1, 8), 3),
            narrowest_strip=length(Fraction(1, 2), 12),
            kind=kind,
            squares=True,
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

    def leaves_any(self, size: Size) -> bool:
        """Return whether anything is left of a sheet of this size."""
        return self.left + self.right < size.width and self.top + self.bottom < size.height


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
    measured
        What the sheets were found to measure; None where nobody measured them. A sheet is rarely
        exactly its nominal size.
    """

    size: Size
    price: Fraction | None = None
    on_hand: int | None = None
    buyable: bool = True
    measured: Size | None = None

    def __post_init__(self) -> None:
        if self.measured is not None:
            _near_nominal(self.measured, self.size)
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

    @property
    def planned(self) -> Size:
        """The size that is planned with: the measured one, else the nominal one."""
        return self.measured or self.size


def _near_nominal(measured: Size, size: Size) -> None:
    pairs = ((measured.width, size.width), (measured.height, size.height))
    if any(max(one - other, other - one) > MOST_OFF for one, other in pairs):
        raise RefusedValue(
            "measured",
            str(measured),
            f"is more than 2 in off the {size} sheet",
            "write both sides in the order of size, as they measure",
        )


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
        sizes = [sheet.planned for sheet in self.sheets]
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
            self._check_left_over(sheet.planned)

    def _check_left_over(self, size: Size) -> None:
        if not self.trim.leaves_any(size):
            raise RefusedValue(
                "trim", "", f"leaves nothing of the {size} sheet", "write what each edge loses"
            )


@dataclass(frozen=True, slots=True)
class Offcut:
    """A leftover kept as stock, named by what is pencilled on it.

    Attributes
    ----------
    qty
        How many there are, all alike and of one name.
    trim
        What must come off its edges before it has that size, each cut's kerf included.
    off
        By how much its width and its height may be off at worst, each None where nobody knows;
        None alone for what was measured.
    rough
        Its far edges, ``right`` or ``bottom``, that are still as its sheet came: with a tool whose
        first edges are squared nothing is to be set from them.
    untrimmed
        What cuts are to take off its factory edges, as off a full sheet's, each cut's kerf
        included; its size has them still.
    """

    board: str
    size: Size
    id: str
    qty: int = 1
    trim: Trim = field(default_factory=Trim)
    off: tuple[Length | None, Length | None] | None = None
    rough: tuple[str, ...] = ()
    untrimmed: Trim = field(default_factory=Trim)

    def __post_init__(self) -> None:
        _name_given("board", self.board)
        _name_given("id", self.id)
        if self.qty < 1:
            raise RefusedValue("qty", self.qty, "is less than one", "write a whole number from 1")
        if not self.untrimmed.leaves_any(self.size):
            problem = f"leaves nothing of the {self.size} offcut"
            raise RefusedValue("untrimmed", "", problem, "write what each edge loses")
