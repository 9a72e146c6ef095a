"""plan.json out and in: the whole plan in one file, and nothing lost on the way.

`docs/plan-json.md` describes the format. The text depends on the plan alone, byte for byte.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from pathlib import Path

from ..lengths import LONGEST_MM, ZERO, Length, Size, Unit, parse_step, step_text
from ..order import PieceKind
from ..stock import RuleClass, ToolKind
from . import jsontext
from .fields import LARGEST_COUNT, LARGEST_LENGTH, Faults, Table, rational
from .model import (
    Aim,
    AsPlanned,
    Axis,
    BenchStep,
    BoardPlan,
    Certificate,
    CertificateKind,
    Cut,
    Cutting,
    Edge,
    Layout,
    Leftover,
    LeftoverKind,
    Made,
    MadeBy,
    OrderedPiece,
    PlacedPiece,
    Plan,
    PlanTool,
    PlanTrim,
    Rungs,
    Source,
    SourceKind,
    StockItem,
    Stop,
)
from .stops import near_edge, with_stops

__all__ = ["FORMAT", "VERSION", "plan_from_json", "plan_to_json", "read_plan"]

FORMAT = "kerfwright-plan"
VERSION = 1
LARGEST_AREA = 10**40
DEFAULT_RULES = {
    Unit.INCH: Length.of(Fraction(1, 16), Unit.INCH),
    Unit.MILLIMETRE: Length.of(1, Unit.MILLIMETRE),
    Unit.CENTIMETRE: Length.of(1, Unit.MILLIMETRE),
}

PLAN_KEYS = ("format", "version", "program", "order", "order_digest", "step",
             "unit", "rule", "notes", "stopped", "boards")  # fmt: skip
BOARD_KEYS = ("board", "no_turn", "mat_board", "keep", "tool", "trim", "ordered", "stock",
              "sheets", "sheets_lower_bound", "cost", "cost_lower_bound", "area",
              "area_lower_bound", "aim", "proved_least", "certificate", "layouts",
              "cutting", "rungs", "as_planned")  # fmt: skip
TOOL_KEYS = ("name", "kerf", "longest_cut", "narrowest_strip")
BENCH_KEYS = ("kind", "reach", "squares", "repeatability", "rule_class")
CUTTING_COUNTS = ("settings", "settings_lower_bound", "quarter_turns", "lifts")
CUTTING_MORE = ("sides_left_over", "sides_left_over_lower_bound", "quarter_turns_lower_bound",
                "lifts_lower_bound", "before_no_way_back",
                "before_no_way_back_upper_bound")  # fmt: skip
CUTTING_KEYS = (*CUTTING_COUNTS, *CUTTING_MORE, "order")
RUNGS_KEYS = ("worth", "worth_upper_bound", "cuts", "cuts_lower_bound", "layouts")
STEP_KEYS = ("setting", "layout", "cuts")
MADE_KEYS = ("width_by", "width_error", "height_by", "height_error")
TRIM_KEYS = ("left", "right", "top", "bottom")
ORDERED_KEYS = ("label", "kind", "qty", "width", "height", "turn")
SOURCE_KEYS = ("kind", "id", "width", "height")
OFF_KEYS = ("width_error", "height_error")
STOCK_KEYS = (*SOURCE_KEYS, "price", "available", "on_hand", "nominal", "trim", *OFF_KEYS,
              "rough", "untrimmed")  # fmt: skip
AS_PLANNED_KEYS = ("sheets", "cost", "area", "mistakes", "worth_lost")
CERTIFICATE_KEYS = ("kind", "values", "further", "note")
LAYOUT_KEYS = ("id", "copies", "source", "pieces", "leftovers", "cuts")
PIECE_KEYS = ("label", "x", "y", "width", "height", "turned")
LEFTOVER_KEYS = ("kind", "x", "y", "width", "height")
CUT_KEYS = ("number", "axis", "at", "start", "end", "setting", "stop")

ROUGH_EDGES = ("right", "bottom")

STEP_ACCEPTED = 'write an exact length such as "1/16 in", "4 in" or "1/80 mm"'
KEEP_ACCEPTED = 'write two exact lengths such as "8 in x 10 in"'


# --- out --------------------------------------------------------------------------------------


def plan_to_json(plan: Plan) -> str:
    """Return `plan` as the text of a plan.json, ending in a newline.

    The same plan gives the same text; reading it gives an equal plan.
    """
    made = {
        "format": FORMAT,
        "version": VERSION,
        "program": plan.program,
        "order": plan.order,
        "order_digest": plan.order_digest,
        "step": step_text(plan.step, plan.unit),
        "unit": plan.unit.value,
        "rule": step_text(plan.rule, plan.unit),
        "notes": list(plan.notes),
        "stopped": plan.stopped.value,
        "boards": [_board_out(board, plan.unit) for board in plan.boards],
    }
    return jsontext.render(made) + "\n"


def _board_out(board: BoardPlan, unit: Unit) -> dict[str, object]:
    return {
        "board": board.board,
        "no_turn": board.no_turn,
        "mat_board": board.mat_board,
        "keep": None if board.keep is None else _keep_text(board.keep, unit),
        "tool": _tool_out(board.tool),
        "trim": _attributes(board.trim, TRIM_KEYS),
        "ordered": [_attributes(piece, ORDERED_KEYS) for piece in board.ordered],
        "stock": [_stock_out(item) for item in board.stock],
        "sheets": board.sheets,
        "sheets_lower_bound": board.sheets_lower_bound,
        **_aim_out(board),
        "aim": board.aim.value,
        "proved_least": board.proved_least,
        "certificate": _certificate_out(board),
        "layouts": [_layout_out(layout) for layout in board.layouts],
        **_cutting_out(board.cutting),
        **({} if board.rungs is None else {"rungs": _attributes(board.rungs, RUNGS_KEYS)}),
        **_as_planned_out(board.as_planned, board.aim),
    }


def _tool_out(tool: PlanTool) -> dict[str, object]:
    """Return a tool; a bench that is not described leaves its keys out."""
    made = _attributes(tool, TOOL_KEYS)
    if tool.repeatability is None:
        return made
    return {
        **made,
        "kind": tool.kind,
        "reach": None if tool.reach is None else _exact(tool.reach),
        "squares": tool.squares,
        "repeatability": _exact(tool.repeatability),
        "rule_class": tool.rule_class,
    }


def _exact(length: Length) -> str:
    return step_text(length) if length else "0"


def _cutting_out(cutting: Cutting | None) -> dict[str, object]:
    if cutting is None:
        return {}
    order = [
        {"setting": step.setting, "layout": step.layout, "cuts": list(step.cuts)}
        for step in cutting.steps
    ]
    more = {name: count for name, count in _attributes(cutting, CUTTING_MORE).items()
            if count is not None}  # fmt: skip
    return {"cutting": {**_attributes(cutting, CUTTING_COUNTS), **more, "order": order}}


def _attributes(item: object, names: tuple[str, ...]) -> dict[str, object]:
    return {name: getattr(item, name) for name in names}


def _keep_text(keep: Size, unit: Unit) -> str:
    """Return both sides in one unit: the one in which their denominators are smaller."""
    sides = (keep.width, keep.height)
    preferred = Unit.INCH if unit is Unit.INCH else Unit.MILLIMETRE
    shown = min(
        (preferred, Unit.INCH, Unit.MILLIMETRE),
        key=lambda one: max(side.in_unit(one).denominator for side in sides),
    )
    return " x ".join(f"{side.in_unit(shown)} {shown}" for side in sides)


def _money(amount: Fraction) -> str:
    """Return `amount` in decimals, at least two, where they can hold it, else as a fraction."""
    for places in range(2, 19):
        scaled = amount * 10**places
        if scaled.denominator == 1:
            whole, part = divmod(scaled.numerator, 10**places)
            return f"{whole}.{part:0{places}d}"
    return str(amount)


def _aim_out(board: BoardPlan) -> dict[str, object]:
    in_money = board.aim is Aim.COST
    value, bound = board.value, board.value_lower_bound
    return {
        "cost": _money(value) if in_money else None,
        "cost_lower_bound": _money(bound) if in_money else None,
        "area": None if in_money else _area(value),
        "area_lower_bound": None if in_money else _area(bound),
    }


def _as_planned_out(then: AsPlanned | None, aim: Aim) -> dict[str, object]:
    if then is None:
        return {}
    in_money = aim is Aim.COST
    value = {"cost": _money(then.value)} if in_money else {"area": _area(then.value)}
    lost = {} if then.worth_lost is None else {"worth_lost": then.worth_lost}
    return {"as_planned": {"sheets": then.sheets, **value, "mistakes": then.mistakes, **lost}}


def _area(value: Fraction) -> int:
    if value.denominator != 1:
        raise ValueError(f"an area of {value} steps squared is not a whole number")
    return value.numerator


def _stock_out(item: StockItem) -> dict[str, object]:
    price = None if item.price is None else _money(item.price)
    made = {
        **_attributes(item.source, SOURCE_KEYS),
        "price": price,
        "available": item.available,
    }
    if item.on_hand is not None:
        made["on_hand"] = item.on_hand
    if item.nominal is not None:
        made["nominal"] = _keep_text(item.nominal, Unit.INCH)
    if item.trim is not None:
        made["trim"] = _attributes(item.trim, TRIM_KEYS)
    if item.off is not None:
        for name, off in zip(OFF_KEYS, item.off, strict=True):
            made[name] = None if off is None else _exact(off)
    if item.rough:
        made["rough"] = list(item.rough)
    if item.untrimmed is not None:
        made["untrimmed"] = _attributes(item.untrimmed, TRIM_KEYS)
    return made


def _certificate_out(board: BoardPlan) -> dict[str, object]:
    certificate = board.certificate
    made: dict[str, object] = {
        "kind": certificate.kind.value,
        "values": _values_out(board, certificate.values),
    }
    if certificate.further:
        made["further"] = [_values_out(board, values) for values in certificate.further]
    return {**made, "note": certificate.note} if certificate.note else made


def _values_out(board: BoardPlan, values: Mapping[str, Fraction]) -> dict[str, str]:
    labels = [piece.label for piece in board.ordered]
    order = dict.fromkeys([*labels, *values])
    return {label: str(values[label]) for label in order if label in values}


def _layout_out(layout: Layout) -> dict[str, object]:
    return {
        "id": layout.id,
        "copies": layout.copies,
        "source": _attributes(layout.source, SOURCE_KEYS),
        "pieces": [_piece_out(piece) for piece in layout.pieces],
        "leftovers": [_attributes(left, LEFTOVER_KEYS) for left in layout.leftovers],
        "cuts": [_attributes(cut, CUT_KEYS) for cut in layout.cuts],
    }


def _piece_out(piece: PlacedPiece) -> dict[str, object]:
    made = _attributes(piece, PIECE_KEYS)
    for side, how in (("width", piece.across), ("height", piece.down)):
        if how is not None:
            made[f"{side}_by"] = how.by.value
            made[f"{side}_error"] = None if how.error is None else _exact(how.error)
    return made


# --- in ---------------------------------------------------------------------------------------


def read_plan(path: Path | str) -> Plan:
    """Return the plan that the file at `path` holds; the audit has not seen it yet.

    Raises
    ------
    InputError
        If it cannot be read or is no plan.json of version 1, with every fault found.
    """
    return plan_from_json(jsontext.read_text(Path(path)), str(path))


def plan_from_json(text: str, where: str = "plan.json") -> Plan:
    """Return the plan that `text` holds.

    Parameters
    ----------
    where
        The file's name, for the messages.

    Raises
    ------
    InputError
        If it is no plan.json of version 1, with every fault found.
    """
    data = jsontext.parse(text, where)
    _refuse_other_formats(data, where)
    faults = Faults(where)
    plan = _plan_in(Table(data, "", faults, PLAN_KEYS))
    if faults:
        raise faults.error()
    return plan


def _refuse_other_formats(data: object, where: str) -> None:
    """Raise unless this is a plan.json of a version known here; nothing else is worth saying."""
    found = data.get("format") if isinstance(data, Mapping) else None
    if found != FORMAT:
        raise jsontext.refuse(
            where, f'is not a plan: its "format" is not "{FORMAT}"', "name a plan.json"
        )
    assert isinstance(data, Mapping)
    version = data.get("version")
    if isinstance(version, bool) or version != VERSION:
        told = "has no version" if version is None else f"is of version {str(version)[:20]}"
        raise jsontext.refuse(
            where, f"{told}, and this program reads version {VERSION}", "plan the order again"
        )


def _plan_in(table: Table) -> Plan:
    step = table.parsed("step", _step, STEP_ACCEPTED, Length(Fraction(1)))
    unit = table.choice("unit", Unit) if table.has("unit") else _unit_of(table.text("step"))
    rule = DEFAULT_RULES[unit]
    return Plan(
        program=table.text("program"),
        order=table.text("order"),
        order_digest=table.text("order_digest"),
        step=step,
        unit=unit,
        rule=table.parsed("rule", _step, STEP_ACCEPTED, rule) if table.has("rule") else rule,
        boards=tuple(_board_in(item, path, table) for item, path in table.rows("boards", "board")),
        notes=table.texts("notes") if table.has("notes") else (),
        stopped=table.choice("stopped", Stop) if table.has("stopped") else Stop.DONE,
    )


def _step(text: str) -> Length:
    step = parse_step(text)
    if step.mm > LONGEST_MM:
        raise ValueError("over 10 m")
    return step


def _unit_of(step: str) -> Unit:
    return Unit.INCH if step.endswith("in") else Unit.MILLIMETRE


def _board_in(item: object, path: str, above: Table) -> BoardPlan:
    table = Table(item, path, above.faults, BOARD_KEYS)
    tool = _tool_in(table.member("tool", (*TOOL_KEYS, *BENCH_KEYS)))
    stock = tuple(_stock_in(row, at, table) for row, at in table.rows("stock", "stock row"))
    layouts = tuple(
        _layout_in(row, at, table, tool.kerf) for row, at in table.rows("layouts", "layout")
    )
    bound = table.whole("sheets_lower_bound", 0, LARGEST_COUNT)
    aim = table.choice("aim", Aim)
    proved = table.flag("proved_least")
    value, value_bound = (
        _cost_in(table) if aim is Aim.COST else _area_in(table, stock, layouts, bound, proved)
    )
    return BoardPlan(
        board=table.text("board"),
        no_turn=table.flag("no_turn"),
        tool=tool,
        trim=_trim_in(table.member("trim", TRIM_KEYS)),
        ordered=tuple(_ordered_in(row, at, table) for row, at in table.rows("ordered", "piece")),
        stock=stock,
        sheets=table.whole("sheets", 0, LARGEST_COUNT),
        sheets_lower_bound=bound,
        aim=aim,
        value=value,
        value_lower_bound=value_bound,
        proved_least=proved,
        certificate=_certificate_in(table.member("certificate", CERTIFICATE_KEYS)),
        layouts=layouts,
        keep=table.parsed("keep", _keep, KEEP_ACCEPTED, None) if table.has("keep") else None,
        mat_board=table.flag("mat_board") if table.has("mat_board") else None,
        cutting=_cutting_in(table) if table.has("cutting") else None,
        rungs=_rungs_in(table.member("rungs", RUNGS_KEYS)) if table.has("rungs") else None,
        as_planned=_as_planned_in(table, aim) if table.has("as_planned") else None,
    )


def _as_planned_in(above: Table, aim: Aim) -> AsPlanned:
    table = above.member("as_planned", AS_PLANNED_KEYS)
    name, other = ("cost", "area") if aim is Aim.COST else ("area", "cost")
    if table.has(other):
        table.refuse(other, f"stands where the aim is {aim}", "leave it out")
    value = table.number(name) if aim is Aim.COST else Fraction(table.whole(name, 0, LARGEST_AREA))
    return AsPlanned(
        sheets=table.whole("sheets", 0, LARGEST_COUNT),
        value=value,
        mistakes=table.whole("mistakes", 0, LARGEST_COUNT),
        worth_lost=(
            table.whole("worth_lost", -LARGEST_COUNT, LARGEST_COUNT)
            if table.has("worth_lost")
            else None
        ),
    )


def _cutting_in(above: Table) -> Cutting:
    table = above.member("cutting", CUTTING_KEYS)
    settings, bound, turns, lifts = (table.whole(name, 0, LARGEST_COUNT) for name in CUTTING_COUNTS)
    more = (
        table.whole(name, 0, LARGEST_COUNT) if table.has(name) else None for name in CUTTING_MORE
    )
    steps = tuple(_step_in(row, at, table) for row, at in table.rows("order", "step"))
    return Cutting(settings, bound, turns, lifts, steps, *more)


def _rungs_in(table: Table) -> Rungs:
    return Rungs(
        worth=table.whole("worth", 0, LARGEST_COUNT),
        worth_upper_bound=table.whole_or_none("worth_upper_bound"),
        cuts=table.whole("cuts", 0, LARGEST_COUNT),
        cuts_lower_bound=table.whole("cuts_lower_bound", 0, LARGEST_COUNT),
        layouts=table.whole("layouts", 0, LARGEST_COUNT),
    )


def _step_in(item: object, path: str, above: Table) -> BenchStep:
    table = Table(item, path, above.faults, STEP_KEYS)
    return BenchStep(
        setting=table.whole_or_none("setting"),
        layout=table.text("layout"),
        cuts=table.wholes("cuts"),
    )


def _keep(text: str) -> Size | None:
    width, cross, height = text.partition(" x ")
    if not cross:
        raise ValueError("one length only")
    return Size(parse_step(width), parse_step(height))


def _cost_in(table: Table) -> tuple[Fraction, Fraction]:
    for name in ("area", "area_lower_bound"):
        if table.has(name):
            table.refuse(name, "stands where the aim is cost", "write null")
    return table.number("cost"), table.number("cost_lower_bound")


def _area_in(
    table: Table,
    stock: tuple[StockItem, ...],
    layouts: tuple[Layout, ...],
    sheets_bound: int,
    proved: bool,
) -> tuple[Fraction, Fraction]:
    """Return the area of the sheets taken and its bound.

    The two keys are an extension. Where they are absent, the area is that of the layouts'
    sheets, and its bound is the same if it is proved, else `sheets_bound` of the smallest sheet.
    """
    for name in ("cost", "cost_lower_bound"):
        if table.has(name):
            table.refuse(name, "stands where the aim is area", "write null")
    taken = sum(_sheet_area(layout.source) * layout.copies for layout in layouts)
    smallest = min((area for item in stock if (area := _sheet_area(item.source))), default=0)
    area = table.whole("area", 0, LARGEST_AREA) if table.has("area") else taken
    if table.has("area_lower_bound"):
        return Fraction(area), Fraction(table.whole("area_lower_bound", 0, LARGEST_AREA))
    return Fraction(area), Fraction(area if proved else min(area, smallest * sheets_bound))


def _sheet_area(source: Source) -> int:
    return source.width * source.height if source.kind is SourceKind.SHEET else 0


def _tool_in(table: Table) -> PlanTool:
    return PlanTool(
        name=table.text("name"),
        kerf=table.whole("kerf"),
        longest_cut=table.whole_or_none("longest_cut", 1),
        narrowest_strip=table.whole("narrowest_strip", 0, LARGEST_COUNT),
        kind=table.choice("kind", ToolKind).value if table.has("kind") else None,
        reach=table.parsed("reach", _step, STEP_ACCEPTED, None) if table.has("reach") else None,
        squares=table.flag("squares") if table.has("squares") else False,
        repeatability=_error_in(table, "repeatability"),
        rule_class=table.choice("rule_class", RuleClass).value if table.has("rule_class") else None,
    )


def _error_in(table: Table, name: str) -> Length | None:
    """Return a length that may be 0; None where nothing is said."""
    return table.parsed(name, _step_or_zero, STEP_ACCEPTED, None) if table.has(name) else None


def _step_or_zero(text: str) -> Length:
    return ZERO if text == "0" else _step(text)


def _trim_in(table: Table) -> PlanTrim:
    left, right, top, bottom = (table.whole(name) for name in TRIM_KEYS)
    return PlanTrim(left, right, top, bottom)


def _ordered_in(item: object, path: str, above: Table) -> OrderedPiece:
    table = Table(item, path, above.faults, ORDERED_KEYS)
    return OrderedPiece(
        label=table.text("label"),
        kind=table.choice("kind", PieceKind),
        qty=table.whole("qty", 1, LARGEST_COUNT),
        width=table.whole("width", 1),
        height=table.whole("height", 1),
        turn=table.flag("turn"),
    )


def _source_in(table: Table) -> Source:
    kind = table.choice("kind", SourceKind)
    if kind is SourceKind.SHEET and table.has("id"):
        table.refuse("id", "stands on a full sheet", "write null; only offcuts have an id")
    name = table.text("id") if kind is SourceKind.OFFCUT else table.text_or_none("id")
    return Source(kind, name, table.whole("width", 1), table.whole("height", 1))


def _stock_in(item: object, path: str, above: Table) -> StockItem:
    table = Table(item, path, above.faults, STOCK_KEYS)
    source = _source_in(table)
    return StockItem(
        source=source,
        price=table.number_or_none("price"),
        available=table.whole_or_none("available"),
        on_hand=table.whole_or_none("on_hand") if table.has("on_hand") else None,
        nominal=table.parsed("nominal", _keep, KEEP_ACCEPTED, None)
        if table.has("nominal")
        else None,
        trim=_trim_in(table.member("trim", TRIM_KEYS)) if table.has("trim") else None,
        off=_off_in(table) if isinstance(item, dict) and item.keys() & {*OFF_KEYS} else None,
        rough=tuple(_rough_in(table)) if table.has("rough") else (),
        untrimmed=_untrimmed_in(table, source) if table.has("untrimmed") else None,
    )


def _untrimmed_in(table: Table, source: Source) -> PlanTrim:
    trim = _trim_in(table.member("untrimmed", TRIM_KEYS))
    if source.kind is not SourceKind.OFFCUT:
        table.refuse("untrimmed", f"stands on a {source.kind}", "a full sheet has the board's trim")
    elif trim.left + trim.right >= source.width or trim.top + trim.bottom >= source.height:
        table.refuse("untrimmed", "leaves nothing of its offcut", "write what each edge loses")
    return trim


def _rough_in(table: Table) -> Iterator[str]:
    for edge, _ in table.rows("rough", "rough"):
        if edge in ROUGH_EDGES:
            yield str(edge)
        else:
            table.refuse(
                "rough", f"holds {edge!r}, which is no far edge", 'write "right" or "bottom"'
            )


def _off_in(table: Table) -> tuple[Length | None, Length | None]:
    width, height = (_error_in(table, name) for name in OFF_KEYS)
    return width, height


def _certificate_in(table: Table) -> Certificate:
    kind = table.choice("kind", CertificateKind)
    needed = kind is CertificateKind.PIECE_VALUES or table.has("values")
    values = table.mapping("values") if needed else {}
    note = table.text("note") if table.has("note") else ""
    further = _further_in(table) if table.has("further") else ()
    exact = {label: _value(table, label, values[label]) for label in values}
    return Certificate(kind, exact, note, further)


def _further_in(table: Table) -> tuple[Mapping[str, Fraction], ...]:
    found = []
    for row, path in table.rows("further", "further"):
        values = row if isinstance(row, dict) else {}
        one = Table(row, path, table.faults, tuple(values))
        found.append({label: _value(one, label, values[label]) for label in values})
    return tuple(found)


def _value(table: Table, label: str, written: object) -> Fraction:
    exact = rational(written)
    if exact is None:
        table.faults.add(
            table.path,
            f"value of {label}",
            written,
            "is not an exact number of zero or more",
            'write one in quotes, such as "43/8"',
        )
    return exact or Fraction(0)


def _layout_in(item: object, path: str, above: Table, kerf: int) -> Layout:
    table = Table(item, path, above.faults, LAYOUT_KEYS)
    cuts = [_cut_in(row, at, table) for row, at in table.rows("cuts", "cut")]
    layout = Layout(
        id=table.text("id"),
        copies=table.whole("copies", 1, LARGEST_COUNT),
        source=_source_in(table.member("source", SOURCE_KEYS)),
        pieces=tuple(_piece_in(row, at, table) for row, at in table.rows("pieces", "piece")),
        leftovers=tuple(
            _leftover_in(row, at, table) for row, at in table.rows("leftovers", "leftover")
        ),
        cuts=tuple(cut for cut, _ in cuts),
    )
    return with_stops(layout, tuple(given for _, given in cuts), kerf)


def _piece_in(item: object, path: str, above: Table) -> PlacedPiece:
    table = Table(item, path, above.faults, (*PIECE_KEYS, *MADE_KEYS))
    return PlacedPiece(
        table.text("label"),
        table.whole("x"),
        table.whole("y"),
        table.whole("width", 1),
        table.whole("height", 1),
        table.flag("turned"),
        _made_in(table, "width"),
        _made_in(table, "height"),
    )


def _made_in(table: Table, side: str) -> Made | None:
    if not table.has(f"{side}_by"):
        return None
    return Made(table.choice(f"{side}_by", MadeBy), _error_in(table, f"{side}_error"))


def _leftover_in(item: object, path: str, above: Table) -> Leftover:
    table = Table(item, path, above.faults, LEFTOVER_KEYS)
    return Leftover(
        table.choice("kind", LeftoverKind),
        table.whole("x"),
        table.whole("y"),
        table.whole("width", 1),
        table.whole("height", 1),
    )


def _cut_in(item: object, path: str, above: Table) -> tuple[Cut, bool]:
    """Return a cut, and whether the file says which edge is against the stop."""
    table = Table(item, path, above.faults, CUT_KEYS)
    axis = table.choice("axis", Axis)
    given = table.has("stop")
    cut = Cut(
        number=table.whole("number", 1),
        axis=axis,
        at=table.whole("at"),
        start=table.whole("start"),
        end=table.whole("end", 1, LARGEST_LENGTH),
        setting=table.whole("setting"),
        stop=table.choice("stop", Edge) if given else near_edge(axis),
    )
    return cut, given
