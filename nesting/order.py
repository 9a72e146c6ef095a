"""What must be cut: the lines of an order, and the stock it is cut from."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from enum import StrEnum
from fractions import Fraction

from .errors import RefusedValue
from .lengths import ZERO, Length, Size, Unit, common_step, step_text
from .stock import Board, Offcut

__all__ = [
    "MOST_STEPS",
    "NamedLength",
    "Order",
    "Piece",
    "PieceKind",
    "TooFine",
    "default_rule",
    "job_step",
    "order_digest",
]

DEFAULT_RULE = Length(Fraction(254, 160))  # 1/16 in
MOST_STEPS = 2**26
MOST_PIECES = 1_000_000


def default_rule(unit: Unit) -> Length:
    """Return the finest mark of a usual bench rule: 1/16 in, or 1 mm where `unit` is metric."""
    return DEFAULT_RULE if unit is Unit.INCH else Length(Fraction(1))


class PieceKind(StrEnum):
    """A mat has a window; a backer has none."""

    MAT = "mat"
    BACKER = "backer"


@dataclass(frozen=True, slots=True)
class Piece:
    """One line of an order: `qty` equal blanks.

    Attributes
    ----------
    label
        Unique in the order.
    size
        Outer size of the blank.
    board
        Name of the board it is cut from.
    turn
        Whether it may be cut turned by a quarter.
    """

    label: str
    kind: PieceKind
    qty: int
    size: Size
    board: str
    turn: bool = True

    def __post_init__(self) -> None:
        if not self.label.strip():
            raise RefusedValue("label", self.label, "is empty", "write a label such as A")
        if not self.board.strip():
            raise RefusedValue("board", self.board, "is empty", "write the board's name")
        if not 1 <= self.qty <= MOST_PIECES:
            problem = "is less than one" if self.qty < 1 else f"is over {MOST_PIECES:,}"
            raise RefusedValue("qty", self.qty, problem, "write a whole number from 1")


@dataclass(frozen=True, slots=True)
class Order:
    """A whole order with the stock it is cut from.

    Attributes
    ----------
    unit
        What lengths are shown in.
    rule
        The finest mark on the bench rule.
    boards
        Every board that a piece names, in the order of first mention, then the stock's others.
    notes
        What was assumed, each a sentence to show.
    """

    name: str
    pieces: tuple[Piece, ...]
    boards: tuple[Board, ...]
    offcuts: tuple[Offcut, ...] = ()
    unit: Unit = Unit.INCH
    rule: Length = DEFAULT_RULE
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.pieces:
            raise RefusedValue("pieces", "", "are none", "order at least one mat or backer")
        if self.rule <= ZERO:
            raise RefusedValue("rule", str(self.rule), "is not longer than zero", "write 1/16 in")
        _once("label", (piece.label for piece in self.pieces))
        _once("board", (board.name for board in self.boards))
        _once("id", (f"{offcut.id} of {offcut.board}" for offcut in self.offcuts))
        known = {board.name for board in self.boards}
        named = [piece.board for piece in self.pieces] + [offcut.board for offcut in self.offcuts]
        for board in named:
            if board not in known:
                raise RefusedValue("board", board, "is not among the boards", "describe it")


def _once(field: str, names: Iterable[str]) -> None:
    for name, times in Counter(names).items():
        if times > 1:
            raise RefusedValue(field, name, "is given twice", "give each its own")


def order_digest(order: Order) -> str:
    """Return ``sha256:`` and hexadecimal digits over everything that the order says.

    Two files that say the same, whatever their format and their spelling of lengths, have the
    same digest. The notes, which say how a file was read, are left out.
    """
    said = {name: value for name, value in _canonical_fields(order).items() if name != "notes"}
    text = json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return f"sha256:{hashlib.sha256(text.encode()).hexdigest()}"


def _canonical_fields(thing: object) -> dict[str, object]:
    assert is_dataclass(thing)
    return {field.name: _canonical(getattr(thing, field.name)) for field in fields(thing)}


def _canonical(value: object) -> object:
    if isinstance(value, Length):
        return f"{value.mm} mm"
    if isinstance(value, tuple):
        return [_canonical(item) for item in value]
    if is_dataclass(value):
        return _canonical_fields(value)
    return str(value) if isinstance(value, Fraction) else value


@dataclass(frozen=True, slots=True)
class NamedLength:
    """A length of the job, and what it is the length of.

    Attributes
    ----------
    what
        For a person: ``"width of A"``.
    owner
        Whose it is: ``("piece", label)``, ``("board", name)``, ``("tool", name)`` or
        ``("offcut", board, id)``.
    field
        Where an order file says it: ``("size", "width")``, ``("sheets", 0)``,
        ``("trim", "left")`` or ``("kerf",)``.
    """

    what: str
    length: Length
    owner: tuple[str, ...]
    field: tuple[str | int, ...]

    def __str__(self) -> str:
        text = str(self.length)
        return f"{step_text(self.length) if text.startswith('≈') else text} ({self.what})"


class TooFine(RefusedValue):
    """No grid of the job is coarse enough.

    Parameters
    ----------
    culprits
        The lengths to blame; the first few are named in the message.
    """

    def __init__(self, culprits: tuple[NamedLength, ...]) -> None:
        self.culprits = culprits
        super().__init__(
            "lengths",
            ", ".join(map(str, culprits[:5])),
            f"would need more than {MOST_STEPS:,} steps to a sheet's side",
            "round them to a mark of the rule",
        )


def job_step(order: Order) -> Length:
    """Return the coarsest grid that holds every length of the job exactly.

    That is the lengths of the pieces and, of each board in use, its sheets, offcuts and trim
    and its tool's kerf, longest cut and narrowest strip. The rest (`keep`, `thickness`, the
    rule and boards that no piece names) places no cut.

    Raises
    ------
    TooFine
        If a sheet's side would be more than 2^26 steps, naming the lengths to blame.
    """
    named = tuple(_job_lengths(order))
    step = common_step(item.length for item in named)
    longest = _longest_side(order)
    if _fits(longest, step):
        return step
    raise TooFine(_to_blame(named, longest))


def _job_lengths(order: Order) -> Iterator[NamedLength]:
    """Yield every length that a cut's place can depend on."""
    used = {piece.board for piece in order.pieces}
    for board in order.boards:
        if board.name in used:
            yield from _board_lengths(board)
    for offcut in order.offcuts:
        if offcut.board in used:
            owner = ("offcut", offcut.board, offcut.id)
            yield from _sides(f"offcut {offcut.id}", offcut.size, owner)
            for edge, length in offcut.trim.edges():
                what = f"{edge} trim of offcut {offcut.id}"
                yield NamedLength(what, length, owner, ("trim", edge))
            for edge, length in offcut.untrimmed.edges():
                what = f"{edge} edge of offcut {offcut.id}"
                yield NamedLength(what, length, owner, ("untrimmed", edge))
    for piece in order.pieces:
        yield from _sides(piece.label, piece.size, ("piece", piece.label))


def _board_lengths(board: Board) -> Iterator[NamedLength]:
    owner = ("board", board.name)
    for index, sheet in enumerate(board.sheets):
        for side in _sides(f"sheet of {board.name}", sheet.planned, owner):
            yield replace(side, field=("sheets", index))
    for edge, length in board.trim.edges():
        yield NamedLength(f"{edge} trim of {board.name}", length, owner, ("trim", edge))
    tool = board.tool
    limits = {
        "kerf": tool.kerf,
        "longest_cut": tool.longest_cut or ZERO,
        "narrowest_strip": tool.narrowest_strip,
    }
    for field, length in limits.items():
        what = f"{field.replace('_', ' ')} of {tool.name}"
        yield NamedLength(what, length, ("tool", tool.name), (field,))


def _sides(what: str, size: Size, owner: tuple[str, ...]) -> Iterator[NamedLength]:
    yield NamedLength(f"width of {what}", size.width, owner, ("size", "width"))
    yield NamedLength(f"height of {what}", size.height, owner, ("size", "height"))


def _longest_side(order: Order) -> Length:
    used = {piece.board for piece in order.pieces}
    sizes = [
        sheet.planned for board in order.boards if board.name in used for sheet in board.sheets
    ]
    sizes += [offcut.size for offcut in order.offcuts if offcut.board in used]
    return max(max(size.width, size.height) for size in sizes)


def _fits(longest: Length, step: Length) -> bool:
    return longest.mm / step.mm <= MOST_STEPS


def _to_blame(named: tuple[NamedLength, ...], longest: Length) -> tuple[NamedLength, ...]:
    """Return the lengths without which the grid would be coarse enough.

    Plain lengths are taken first, those with the smaller denominator in inches or millimetres;
    one that makes the grid of those already taken too fine is to blame.
    """
    blamed: list[NamedLength] = []
    step = ZERO
    for item in sorted((item for item in named if item.length), key=_fineness):
        finer = common_step((step, item.length))
        if _fits(longest, finer):
            step = finer
        else:
            blamed.append(item)
    return tuple(blamed)


def _fineness(item: NamedLength) -> int:
    return min(item.length.mm.denominator, item.length.in_unit(Unit.INCH).denominator)
