"""Tools, boards and offcuts, out of the records of one or two files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..errors import RefusedValue
from ..lengths import ACCEPTED_SIZE, ZERO, Length
from ..stock import (
    Board,
    Grade,
    Offcut,
    RuleClass,
    SheetSize,
    Tool,
    ToolKind,
    Trim,
    common_sheet,
    default_keep,
)
from ._fields import Fields, Reading
from ._records import FaultList, Place, Record, closest, kind_of
from ._values import parse_choice, parse_flag, parse_name, parse_price, parse_whole

__all__ = ["Rack", "Source"]

Source = tuple[tuple[Record, ...], Reading]

_TOOL = (
    "name", "kind", "kerf", "longest_cut", "reach", "squares", "narrowest_strip",
    "repeatability", "rule_class",
)  # fmt: skip
_BOARD = (
    "name", "tool", "sheets", "trim", "no_turn", "thickness", "grade", "buffered", "keep",
)  # fmt: skip
_SHEET = ("size", "measured", "price", "on_hand", "buyable")
_EDGES = ("left", "right", "top", "bottom")
_OFFCUT = ("board", "size", "id")
_KNIFE = "knife"
_SHEETS = 'write a size such as "32 x 40", or a list of { size = "32 x 40", price = "21.50" }'


@dataclass(slots=True)
class Rack:
    """Everything described so far, whichever file described it.

    Attributes
    ----------
    tool_places, board_places
        Where each name is described, also where the description is at fault: whoever names it
        is not at fault as well.
    notes
        What was assumed.
    """

    faults: FaultList
    tools: dict[str, Tool] = field(default_factory=dict)
    tool_places: dict[str, Place] = field(default_factory=dict)
    boards: dict[str, Board] = field(default_factory=dict)
    board_places: dict[str, Place] = field(default_factory=dict)
    offcuts: dict[tuple[str, str], Offcut] = field(default_factory=dict)
    offcut_places: dict[tuple[str, str], Place] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    _folded: dict[str, str] = field(default_factory=dict)

    def add_tools(self, records: tuple[Record, ...], reading: Reading) -> None:
        """Take in the tools of one file."""
        for record in records:
            fields = Fields(record, reading, self.faults)
            fields.only(_TOOL, "[[tool]]")
            name = fields.need("name", parse_name("name"), "name the tool")
            tool = _tool(fields, name or _KNIFE)
            if name is not None and self._first(self.tool_places, name, "tool", fields):
                self.tools[name] = tool or Tool(name)

    def add_boards(self, records: tuple[Record, ...], reading: Reading) -> None:
        """Take in the boards of one file; every tool must have been taken in."""
        for record in records:
            fields = Fields(record, reading, self.faults)
            fields.only(_BOARD, "[[board]]")
            name = fields.need("name", parse_name("name"), "name the board")
            board = self._board(fields, name or "?")
            if name is not None and self._first(self.board_places, name, "board", fields):
                self.boards[name] = board or Board(name)

    def add_offcuts(self, records: tuple[Record, ...], reading: Reading) -> None:
        """Take in the offcuts of one file; whether their boards are known is seen later."""
        for record in records:
            fields = Fields(record, reading, self.faults)
            fields.only(_OFFCUT, "[[offcut]]")
            board = fields.need("board", parse_name("board"), "name the board it is of")
            size = fields.need("size", fields.size("size"), ACCEPTED_SIZE)
            known_as = fields.need(
                "id", parse_name("id", numbers=True), "write what is pencilled on it"
            )
            if board is not None and known_as is not None:
                self._keep_offcut(fields, Offcut(board, size or default_keep(), known_as))

    def _keep_offcut(self, fields: Fields, offcut: Offcut) -> None:
        key = (offcut.board, offcut.id)
        first = self.offcut_places.setdefault(key, fields.at("id"))
        if key in self.offcuts:
            told = first.told_from(fields.at("id"))
            problem = f"is another offcut of the same board too, on {told}"
            fields.fault("id", problem, "give each offcut its own id")
        self.offcuts.setdefault(key, offcut)

    def assume_board(self, name: str, fields: Fields) -> None:
        """Take in a board that is only named, by the piece of `fields`."""
        # Among hundreds of names a likeness says little, and looking for it takes long.
        near = closest(name, self.board_places) if len(self.board_places) < 100 else None
        hint = f" Was {near!r} meant?" if near else ""
        self.notes.append(
            f"Board {name!r} is not described: taken to be sold in 32 x 40 in sheets, any "
            f"number.{hint}"
        )
        tool = self._tool_for(name, None, fields, "board")
        self.boards[name] = Board(name, tool=tool, sheets=(common_sheet(),), sheets_assumed=True)
        self.board_places[name] = fields.at("board")
        self._folded[name.casefold()] = name

    def other_spelling(self, name: str) -> str | None:
        """Return a board's name that differs from `name` in upper and lower case only."""
        if len(self._folded) < len(self.board_places):
            self._folded = {known.casefold(): known for known in self.board_places}
        return self._folded.get(name.casefold())

    def _first(self, places: dict[str, Place], name: str, what: str, fields: Fields) -> bool:
        """Return whether `name` is described for the first time; note a fault if not."""
        here = fields.at("name")
        if name not in places:
            places[name] = here
            return True
        problem = f"names a {what} described already, on {places[name].told_from(here)}"
        fields.fault("name", problem, f"describe each {what} once")
        return False

    def _board(self, fields: Fields, name: str) -> Board | None:
        sheets = _sheets(fields)
        if sheets is None:
            self.notes.append(
                f"Board {name!r} states no sheets: taken to be sold in 32 x 40 in sheets, any "
                "number."
            )
        stated = fields.get("tool", parse_name("tool"), None)
        return fields.build(
            Board,
            {
                "name": name,
                "tool": self._tool_for(name, stated, fields, "tool"),
                "sheets": sheets or (common_sheet(),),
                "trim": _trim(fields),
                "no_turn": fields.get("no_turn", parse_flag("no_turn"), False),
                "thickness": fields.get("thickness", fields.length("thickness"), None),
                "grade": fields.get("grade", parse_choice("grade", Grade), None),
                "buffered": fields.get("buffered", parse_flag("buffered"), None),
                "keep": fields.get("keep", fields.size("keep"), default_keep()),
                "sheets_assumed": sheets is None,
            },
        )

    def _tool_for(self, board: str, stated: str | None, fields: Fields, field_name: str) -> Tool:
        if stated is not None:
            return self._named_tool(stated, fields)
        if fields.has("tool") or not self.tools:
            return Tool()
        if _KNIFE in self.tools:
            return self.tools[_KNIFE]
        if len(self.tools) > 1:
            known = ", ".join(self.tools)
            problem = "has no tool, and several are described"
            fields.faults.add(fields.at(field_name), "board", board, problem, f"name one: {known}")
            return Tool()
        (name,) = self.tools
        self.notes.append(f"Board {board!r} names no tool: cut with {name!r}, the only one.")
        return self.tools[name]

    def _named_tool(self, name: str, fields: Fields) -> Tool:
        if name not in self.tools and name != _KNIFE:
            near = closest(name, (*self.tools, _KNIFE))
            accepted = f"did you mean {near}?" if near else "describe it in a [[tool]]"
            fields.fault("tool", "is described nowhere", accepted)
        return self.tools.get(name, Tool())


def _tool(fields: Fields, name: str) -> Tool | None:
    kind = fields.get("kind", parse_choice("kind", ToolKind), None)
    usual = Tool() if kind is None else Tool.usual(kind, fields.reading.unit)

    def length(field: str, default: Length) -> Length:
        return fields.get(field, fields.length(field, zero=True), default)

    return fields.build(
        Tool,
        {
            "name": name,
            "kind": kind,
            "kerf": length("kerf", usual.kerf),
            "longest_cut": _limit(fields, "longest_cut", usual.longest_cut),
            "reach": _limit(fields, "reach", usual.reach),
            "squares": fields.get("squares", parse_flag("squares"), usual.squares),
            "narrowest_strip": length("narrowest_strip", usual.narrowest_strip),
            "repeatability": length("repeatability", usual.repeatability),
            "rule_class": fields.get(
                "rule_class", parse_choice("rule_class", RuleClass), usual.rule_class
            ),
        },
    )


def _limit(fields: Fields, name: str, default: Length | None) -> Length | None:
    """Return a limit; the word none takes away the one that comes with the kind of tool."""
    stated = fields.record.values.get(name)
    if isinstance(stated, str) and stated.strip().lower() == "none":
        return None
    return fields.get(name, fields.length(name), default)


def _trim(fields: Fields) -> Trim:
    stated = fields.record.values.get("trim")
    if not isinstance(stated, Mapping):
        length = fields.get("trim", fields.length("trim", zero=True), ZERO)
        return Trim(length, length, length, length)
    edges = Fields(_inner(fields, "trim", stated), fields.reading, fields.faults)
    edges.only(_EDGES, "trim")
    return Trim(*(edges.get(edge, edges.length(edge, zero=True), ZERO) for edge in _EDGES))


def _inner(fields: Fields, name: str, values: Mapping[str, object]) -> Record:
    """Return a table within a table as a record that stands where its key does."""
    return Record(fields.at(name), values, {})


def _sheets(fields: Fields) -> tuple[SheetSize, ...] | None:
    """Return the sheet sizes that a board states, or None if it states none."""
    if not fields.has("sheets"):
        return None
    stated = fields.record.values["sheets"]
    entries = stated if isinstance(stated, list) else [stated]
    if not entries:
        fields.fault("sheets", "is an empty list", "list a size, or leave sheets out")
    sheets = [_sheet(fields, entry) for entry in entries]
    return tuple(sheet for sheet in sheets if sheet is not None)


def _sheet(fields: Fields, entry: object) -> SheetSize | None:
    if isinstance(entry, str):
        entry = {"size": entry}
    if not isinstance(entry, Mapping):
        refusal = RefusedValue("sheets", entry, f"is {kind_of(entry)}, not a size", _SHEETS)
        fields.faults.refuse(fields.at("sheets"), refusal)
        return None
    sheet = Fields(_inner(fields, "sheets", entry), fields.reading, fields.faults)
    sheet.only(_SHEET, "sheets")
    size = sheet.need("size", sheet.size("size"), ACCEPTED_SIZE)
    measured = sheet.get("measured", sheet.size("measured"), None) if size is not None else None
    price = sheet.get("price", parse_price, None)
    on_hand = sheet.get("on_hand", parse_whole("on_hand", 0), None)
    buyable = sheet.get("buyable", parse_flag("buyable"), True)
    if sheet.has("on_hand") and on_hand is None:
        buyable = True  # said already; a sheet that is not buyable would complain again
    stated = {"size": size or default_keep(), "price": price, "on_hand": on_hand,
              "measured": measured}  # fmt: skip
    built = sheet.build(SheetSize, {**stated, "buyable": buyable})
    return built if size is not None else None
