"""The lines of an order, out of the records of a file."""

from __future__ import annotations

from ..errors import RefusedValue
from ..lengths import ACCEPTED_LENGTH, ACCEPTED_SIZE, Size, Unit, parse_unit
from ..order import Piece, PieceKind
from ._fields import Fields, Reading
from ._records import Document, FaultList, Place, Record
from ._stock import Rack
from ._values import parse_choice, parse_flag, parse_name, parse_whole

__all__ = ["read_pieces", "row_units"]


def row_units(document: Document) -> set[Unit | None]:
    """Return the units that the rows state, with None if a row states none that is known."""
    return {_unit_or_none(record) for record in document.pieces}


def _unit_or_none(record: Record) -> Unit | None:
    try:
        return parse_unit(record.values.get("unit"))
    except RefusedValue:
        return None


def read_pieces(
    document: Document, reading: Reading, rack: Rack, faults: FaultList
) -> tuple[Piece, ...]:
    """Return the pieces of `document`; boards that are only named go into `rack`."""
    places: dict[str, Place] = {}
    pieces = [_piece(record, reading, rack, places, faults) for record in document.pieces]
    return tuple(piece for piece in pieces if piece is not None)


def _piece(
    record: Record, reading: Reading, rack: Rack, places: dict[str, Place], faults: FaultList
) -> Piece | None:
    unit = Fields(record, reading, faults).get("unit", parse_unit, reading.unit)
    fields = Fields(record, Reading(unit, reading.decimal_comma), faults)
    label = fields.need("label", parse_name("label", numbers=True), "write a label such as A")
    kind = fields.need("kind", parse_choice("kind", PieceKind), "write mat or backer")
    qty = fields.need("qty", parse_whole("qty", 1), "write how many")
    size = _size(fields)
    board = fields.need(
        "board", parse_name("board", numbers=_from_row(record)), "name the board to cut it from"
    )
    turn = fields.get("turn", parse_flag("turn"), True)
    if label is not None:
        _check_label(fields, label, places)
    if board is not None:
        _check_board(fields, board, rack)
    if label is None or kind is None or qty is None or size is None or board is None:
        return None
    return Piece(label, kind, qty, size, board, turn)


def _from_row(record: Record) -> bool:
    """Return whether the record is a spreadsheet's, where a name may be typed as a number."""
    return record.place.noun == "row"


def _check_label(fields: Fields, label: str, places: dict[str, Place]) -> None:
    here = fields.at("label")
    first = places.setdefault(label, here)
    if first is not here:
        fields.fault("label", f"is used already, on {first.spot}", "give each line its own label")


def _check_board(fields: Fields, board: str, rack: Rack) -> None:
    """Refuse a board that only its capitals tell from another; take in one not seen before."""
    if board in rack.board_places:
        return
    other = rack.other_spelling(board)
    if other is None:
        rack.assume_board(board, fields)
        return
    place = rack.board_places[other].told_from(fields.at("board"))
    fields.fault("board", f"is spelled {other!r} on {place}", "spell the board's name one way")


def _size(fields: Fields) -> Size | None:
    sides = [name for name in ("width", "height") if fields.has(name)]
    columns = {"width", "height"} & set(fields.record.places)
    if fields.has("size") or not (sides or columns):
        for name in sides:
            fields.fault(name, "stands beside a size", "give either the size or width and height")
        return fields.need("size", fields.size("size"), ACCEPTED_SIZE)
    width = fields.need("width", fields.length("width"), ACCEPTED_LENGTH)
    height = fields.need("height", fields.length("height"), ACCEPTED_LENGTH)
    return None if width is None or height is None else Size(width, height)
