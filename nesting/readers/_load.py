"""An order file and its stock file, read together into an Order."""

from __future__ import annotations

from os import PathLike
from pathlib import Path

from ..errors import RefusedValue
from ..lengths import Length, Size, Unit, format_size, parse_unit
from ..order import Order, Piece, TooFine, default_rule, job_step
from ..stock import Board
from ._blame import blame
from ._csv import read_csv
from ._fields import Fields, Reading
from ._pieces import read_pieces, row_units
from ._records import Document, FaultList, Place
from ._stock import Rack
from ._toml import read_toml
from ._values import clean_name, parse_name
from ._xlsx import read_xlsx

__all__ = ["load_order"]

_READERS = {".toml": read_toml, ".csv": read_csv, ".xlsx": read_xlsx}
_ACCEPTED = "give an order as a .toml, .csv or .xlsx file"
_ACCEPTED_STOCK = "give the stock as a .toml file"
_COARSEST_RULE = Length.of(1, Unit.INCH)
_NAMES = {Unit.INCH: "inches", Unit.MILLIMETRE: "millimetres", Unit.CENTIMETRE: "centimetres"}


def load_order(
    path: str | PathLike[str],
    *,
    stock: str | PathLike[str] | None = None,
    unit: Unit | str | None = None,
) -> Order:
    """Return the order that a TOML, CSV or XLSX file holds.

    Parameters
    ----------
    path
        The order file; its suffix says what it is.
    stock
        A TOML file of boards, tools and offcuts.
    unit
        What bare numbers take in a file that states no unit of its own (and, of a spreadsheet,
        whose stock file states none either); inches where not given.

    Raises
    ------
    InputError
        If either file cannot be used, with every fault found in both.

    See Also
    --------
    The complete form of both files is in ``docs/order-files.md``.
    """
    faults = FaultList(*(Path(file).name for file in (path, stock) if file is not None))
    asked = _asked(unit, faults)
    order = _read_order(Path(path), faults)
    shelf = None if stock is None else _read_stock(Path(stock), faults)
    if order is None or (shelf is None and stock is not None):
        faults.raise_any()
    assert order is not None
    return _Loading(order, shelf, asked, faults).order(clean_name(Path(path).stem))


def _asked(unit: Unit | str | None, faults: FaultList) -> Unit | None:
    try:
        return None if unit is None else parse_unit(unit)
    except RefusedValue as refusal:
        faults.refuse(Place("--unit"), refusal)
        return None


def _read_order(path: Path, faults: FaultList) -> Document | None:
    reader = _READERS.get(path.suffix.lower())
    if reader is None and not path.is_dir() and path.exists():
        problem = f"is a {path.suffix} file" if path.suffix else "has no suffix to say what it is"
        faults.add(Place(str(path)), "", "", problem, _ACCEPTED)
        return None
    return (reader or read_toml)(path, faults, _ACCEPTED)


def _read_stock(path: Path, faults: FaultList) -> Document | None:
    if path.suffix.lower() != ".toml" and not path.is_dir() and path.exists():
        problem = f"is a {path.suffix} file" if path.suffix else "has no suffix to say what it is"
        faults.add(Place(str(path)), "", "", problem, _ACCEPTED_STOCK)
        return None
    document = read_toml(path, faults, _ACCEPTED_STOCK)
    for record in document.pieces if document else ():
        problem = f"[[{record.values['kind']}]] does not belong in a stock file"
        faults.add(record.place, "", "", problem, "put the pieces into the order file")
    return document


class _Loading:
    """An order in the making."""

    def __init__(
        self, order: Document, shelf: Document | None, asked: Unit | None, faults: FaultList
    ) -> None:
        self._order = order
        self._shelf = shelf
        self._asked = asked
        self._faults = faults
        self._unread = len(faults) > 0
        self._notes: list[str] = [*order.notes]
        self._rack = Rack(faults)

    def order(self, name: str) -> Order:
        """Return the whole order, or raise with every fault."""
        reading = Reading(self._order_unit(), self._order.decimal_comma)
        self._fill_rack(reading)
        pieces = read_pieces(self._order, reading, self._rack, self._faults)
        if not self._order.pieces and not self._unread:
            self._refuse_emptiness()
        unit = self._shown_unit(reading.unit)
        self._check_offcuts(unit)
        rule = self._rule(reading, unit)
        top = Fields(self._order.top, reading, self._faults)
        name = top.get("name", parse_name("name"), name)
        self._faults.raise_any()
        return self._finished(Order(
            name, pieces, self._boards(pieces), tuple(self._rack.offcuts.values()), unit, rule,
            (*self._notes, *self._rack.notes),
        ))  # fmt: skip

    def _refuse_emptiness(self) -> None:
        wanted = "a row" if self._order.is_rows else "a [[mat]] or a [[backer]]"
        accepted = f"write {wanted} for each size"
        self._faults.add(self._order.top.place, "", "", "orders no pieces", accepted)

    def _finished(self, order: Order) -> Order:
        """Return `order` after seeing that a grid can hold it."""
        try:
            job_step(order)
        except TooFine as refusal:
            documents = (self._order,) if self._shelf is None else (self._order, self._shelf)
            blame(refusal, documents, self._faults)
        self._faults.raise_any()
        return order

    def _fill_rack(self, reading: Reading) -> None:
        """Take in both files' tools, then their boards, which may name either's tools."""
        sources = [(self._order, reading)]
        if self._shelf is not None:
            sources.append((self._shelf, Reading(self._shelf_unit(self._shelf))))
        for document, its_reading in sources:
            self._rack.add_tools(document.tools, its_reading)
        for document, its_reading in sources:
            self._rack.add_boards(document.boards, its_reading)
            self._rack.add_offcuts(document.offcuts, its_reading)

    def _order_unit(self) -> Unit:
        """Return what bare numbers of the order take; say so where the file does not."""
        document = self._order
        if document.top.values.get("unit") is not None:
            return self._stated(document)
        shelf = self._shelf if document.is_rows else None
        if shelf is not None and shelf.top.values.get("unit") is not None:
            return self._tell(document, self._stated(shelf), f"as {shelf.file} states")
        return self._unstated(document)

    def _shelf_unit(self, shelf: Document) -> Unit:
        if shelf.top.values.get("unit") is not None:
            return self._stated(shelf)
        return self._unstated(shelf)

    def _unstated(self, document: Document) -> Unit:
        if self._asked is not None:
            return self._tell(document, self._asked, "as asked for")
        return self._tell(document, Unit.INCH, "since no unit is stated")

    def _tell(self, document: Document, unit: Unit, why: str) -> Unit:
        """Return `unit` after noting why it was taken, if any bare number can have taken it."""
        if document.is_rows and None not in row_units(document):
            return unit
        self._notes.append(f"Bare numbers in {document.file} are {_NAMES[unit]}, {why}.")
        return unit

    def _stated(self, document: Document) -> Unit:
        """Return the unit that a file states.

        One that is no unit gives millimetres, in which the least of the file's lengths would
        seem to be over 10 m as well.
        """
        top = Fields(document.top, Reading(Unit.MILLIMETRE), self._faults)
        return top.get("unit", parse_unit, Unit.MILLIMETRE)

    def _shown_unit(self, unit: Unit) -> Unit:
        """Return what lengths are shown in: what all rows state, else what bare numbers take."""
        stated = row_units(self._order) if self._order.is_rows else set()
        only = next(iter(stated)) if len(stated) == 1 else None
        return only or unit

    def _rule(self, reading: Reading, unit: Unit) -> Length:
        """Return the rule that the order states, else the stock file, else a usual one."""
        rule = self._stated_rule(self._order, reading)
        if rule is None and self._shelf is not None:
            rule = self._stated_rule(self._shelf, Reading(self._stated(self._shelf)))
        return rule or default_rule(unit)

    def _stated_rule(self, document: Document, reading: Reading) -> Length | None:
        top = Fields(document.top, reading, self._faults)
        rule = top.get("rule", top.length("rule"), None)
        if rule is not None and rule > _COARSEST_RULE:
            top.fault("rule", "is coarser than any bench rule", "write 1/16 in or 1 mm")
        return rule

    def _check_offcuts(self, unit: Unit) -> None:
        for key, offcut in self._rack.offcuts.items():
            board = self._rack.boards.get(offcut.board)
            if board is not None and not any(_holds(s.planned, offcut.size) for s in board.sheets):
                size = format_size(offcut.size, unit, with_unit=True)
                self._notes.append(
                    f"Offcut {offcut.id!r} of {offcut.board!r} is larger than any sheet of it: "
                    f"taken to be {size} as written; measure it again."
                )
            if offcut.board not in self._rack.board_places:
                place = self._rack.offcut_places[key]
                problem = f"lies on a board {offcut.board!r} that is not described or named"
                other = self._rack.other_spelling(offcut.board)
                accepted = f"did you mean {other}?" if other else "describe that board"
                self._faults.add(place, "offcut", offcut.id, problem, accepted)

    def _boards(self, pieces: tuple[Piece, ...]) -> tuple[Board, ...]:
        boards = self._rack.boards
        first = dict.fromkeys(piece.board for piece in pieces)
        return tuple(boards[name] for name in (*first, *(n for n in boards if n not in first)))


def _holds(sheet: Size, offcut: Size) -> bool:
    """Return whether `offcut` can have been cut from `sheet`, either way round."""
    short, long = sorted((offcut.width, offcut.height))
    narrow, tall = sorted((sheet.width, sheet.height))
    return short <= narrow and long <= tall
