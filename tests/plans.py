"""Good plans made by hand, for the tests of the audit, of plan.json and of the drawings.

Each is small enough to be followed with a pencil; the arithmetic stands beside it.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from kerfwright.lengths import Length, Size, Unit
from kerfwright.order import PieceKind
from kerfwright.plan.model import (
    Aim,
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
    Source,
    SourceKind,
    StockItem,
)

INCH = Length.of(1, Unit.INCH)
EIGHTH = Length.of(Fraction(1, 8), Unit.INCH)
SIXTEENTH = Length.of(Fraction(1, 16), Unit.INCH)
KEEP = Size(INCH * 8, INCH * 10)
KNIFE = PlanTool("knife", 0, None, 0)
NO_TRIM = PlanTrim(0, 0, 0, 0)


def sheet(width: int, height: int) -> Source:
    """Return a full sheet."""
    return Source(SourceKind.SHEET, None, width, height)


def offcut(name: str, width: int, height: int) -> Source:
    """Return an offcut with its name pencilled on it."""
    return Source(SourceKind.OFFCUT, name, width, height)


def mat(label: str, qty: int, width: int, height: int, *, turn: bool = True) -> OrderedPiece:
    """Return a line of mats."""
    return OrderedPiece(label, PieceKind.MAT, qty, width, height, turn)


def backer(label: str, qty: int, width: int, height: int, *, turn: bool = True) -> OrderedPiece:
    """Return a line of backers."""
    return OrderedPiece(label, PieceKind.BACKER, qty, width, height, turn)


def values(**exact: str) -> Certificate:
    """Return a certificate of piece values."""
    worth = {label: Fraction(value) for label, value in exact.items()}
    return Certificate(CertificateKind.PIECE_VALUES, worth)


def piece(
    label: str, x: int, y: int, width: int, height: int, *, turned: bool = False
) -> PlacedPiece:
    """Return a piece where it lies."""
    return PlacedPiece(label, x, y, width, height, turned)


def left(kind: str, x: int, y: int, width: int, height: int) -> Leftover:
    """Return a leftover where it lies."""
    return Leftover(LeftoverKind(kind), x, y, width, height)


def cuts(*rows: str) -> tuple[Cut, ...]:
    """Return numbered cuts; each row reads ``x at start end setting stop``."""
    made = []
    for number, row in enumerate(rows, 1):
        axis, at, start, end, setting, stop = row.split()
        lengths = (int(at), int(start), int(end), int(setting))
        made.append(Cut(number, Axis(axis), *lengths, Edge(stop)))
    return tuple(made)


def plan_of(*boards: BoardPlan, step: Length = INCH, unit: Unit = Unit.INCH) -> Plan:
    """Return a plan of these boards."""
    return Plan(
        program="kerfwright 0.1.0",
        order="made by hand",
        order_digest="sha256:0000",
        step=step,
        unit=unit,
        rule=SIXTEENTH,
        boards=boards,
    )


def with_board(plan: Plan, /, **changes: object) -> Plan:
    """Return `plan` with fields of its first board changed."""
    board = replace(plan.boards[0], **changes)  # type: ignore[arg-type]
    return replace(plan, boards=(board, *plan.boards[1:]))


def with_layout(plan: Plan, place: int = 0, /, **changes: object) -> Plan:
    """Return `plan` with fields of one layout of its first board changed."""
    layouts = list(plan.boards[0].layouts)
    layouts[place] = replace(layouts[place], **changes)  # type: ignore[arg-type]
    return with_board(plan, layouts=tuple(layouts))


def with_cut(plan: Plan, place: int, /, **changes: object) -> Plan:
    """Return `plan` with fields of one cut of its first layout changed; cuts count from 1."""
    made = list(plan.boards[0].layouts[0].cuts)
    made[place - 1] = replace(made[place - 1], **changes)  # type: ignore[arg-type]
    return with_layout(plan, cuts=tuple(made))


def with_piece(plan: Plan, place: int, /, **changes: object) -> Plan:
    """Return `plan` with fields of one piece of its first layout changed; pieces count from 0."""
    pieces = list(plan.boards[0].layouts[0].pieces)
    pieces[place] = replace(pieces[place], **changes)  # type: ignore[arg-type]
    return with_layout(plan, pieces=tuple(pieces))


def agreed() -> Plan:
    """Return three 16 x 20 in mats from a 32 x 40 in sheet, by a knife; the step is 4 in.

    One sheet holds four, so each is worth a quarter of 21.50: three make 16.125, and the next sum
    of sheets is 21.50.
    """
    board = BoardPlan(
        board="warm white rag 4-ply",
        no_turn=False,
        tool=PlanTool("knife", 0, 10, 0),
        trim=NO_TRIM,
        ordered=(mat("A", 3, 4, 5),),
        stock=(StockItem(sheet(8, 10), Fraction("21.50"), None),),
        sheets=1,
        sheets_lower_bound=1,
        aim=Aim.COST,
        value=Fraction("21.50"),
        value_lower_bound=Fraction("21.50"),
        proved_least=True,
        certificate=values(A="43/8"),
        layouts=(
            Layout(
                id="L1",
                copies=1,
                source=sheet(8, 10),
                pieces=(
                    piece("A", 0, 0, 4, 5),
                    piece("A", 0, 5, 4, 5),
                    piece("A", 4, 0, 4, 5),
                ),
                leftovers=(left("offcut", 4, 5, 4, 5),),
                cuts=cuts("x 4 0 10 4 left", "y 5 0 4 5 top", "y 5 4 8 5 top"),
            ),
        ),
        keep=KEEP,
        mat_board=True,
    )
    return plan_of(board, step=INCH * 4)


def trimmed() -> Plan:
    """Return four pieces that fill a trimmed sheet, by a saw with a kerf of one step.

    The sheet is 100 x 80 eighths; 2 off each edge leave 96 x 76 from (2, 2). Across,
    47 + 1 + 47 = 95 and the last kerf takes 1; down, 37 + 1 + 37 = 75 and 1. The strips that the
    trims leave are 2 - 1 = 1 wide, under the narrowest strip of 5, which trims may be.
    """
    board = BoardPlan(
        board="brown hardboard",
        no_turn=False,
        tool=PlanTool("panel saw", 1, 96, 5),
        trim=PlanTrim(2, 2, 2, 2),
        ordered=(backer("A", 4, 47, 37, turn=False),),
        stock=(StockItem(sheet(100, 80), Fraction(8), None),),
        sheets=1,
        sheets_lower_bound=1,
        aim=Aim.COST,
        value=Fraction(8),
        value_lower_bound=Fraction(8),
        proved_least=True,
        certificate=values(A="2"),
        layouts=(
            Layout(
                id="L1",
                copies=1,
                source=sheet(100, 80),
                pieces=tuple(piece("A", x, y, 47, 37) for x in (2, 50) for y in (2, 40)),
                leftovers=(
                    left("trim", 0, 0, 1, 80),
                    left("trim", 99, 0, 1, 80),
                    left("trim", 2, 0, 96, 1),
                    left("trim", 2, 79, 96, 1),
                ),
                cuts=cuts(
                    "x 1 0 80 1 left",
                    "x 98 0 80 96 left",
                    "y 1 2 98 1 top",
                    "y 78 2 98 76 top",
                    "x 49 2 78 47 left",
                    "x 97 2 78 47 left",
                    "y 39 2 49 37 top",
                    "y 77 2 49 37 top",
                    "y 39 50 97 37 top",
                    "y 77 50 97 37 top",
                ),
            ),
        ),
        keep=KEEP,
        mat_board=False,
    )
    return plan_of(board, step=EIGHTH)


def with_a_way_back() -> Plan:
    """Return the trimmed sheet with the order of its cuts: its four trims come first.

    The stop stands at 1, 96, 1, 76, 47 and 37. The sheet is turned for the third cut and for the
    fifth, and each of two strips for its first cut; the sheet and both strips are lifted on once.
    """
    stops = ((1, 1), (96, 2), (1, 3), (76, 4), (47, 5, 6), (37, 7, 8, 9, 10))
    steps = tuple(step(setting, "L1", *numbers) for setting, *numbers in stops)
    cutting = Cutting(6, 6, 4, 3, steps,
                      before_no_way_back=4, before_no_way_back_upper_bound=4)  # fmt: skip
    return with_board(trimmed(), cutting=cutting)


def with_an_offcut() -> Plan:
    """Return three 16 x 20 mats from a sheet and two 14 x 14 from an offcut, in whole inches.

    The 16 x 20 fits the 14 x 32 offcut neither way, so at a quarter of a 32 x 40 sheet each the
    three come to 960 of 1280 square inches: one sheet. The offcut leaves 14 x 4, which is 3 in
    wide and more, but not as long as the longest mat, 20 in: scrap.
    """
    board = BoardPlan(
        board="warm white rag 4-ply",
        no_turn=False,
        tool=PlanTool("knife", 0, 40, 1),
        trim=NO_TRIM,
        ordered=(mat("A", 3, 16, 20), mat("B", 2, 14, 14)),
        stock=(
            StockItem(sheet(32, 40), None, None),
            StockItem(offcut("7", 14, 32), None, 1),
        ),
        sheets=1,
        sheets_lower_bound=1,
        aim=Aim.AREA,
        value=Fraction(1280),
        value_lower_bound=Fraction(1280),
        proved_least=True,
        certificate=values(A="320", B="0"),
        layouts=(
            Layout(
                id="L1",
                copies=1,
                source=sheet(32, 40),
                pieces=(
                    piece("A", 0, 0, 16, 20),
                    piece("A", 0, 20, 16, 20),
                    piece("A", 16, 0, 16, 20),
                ),
                leftovers=(left("offcut", 16, 20, 16, 20),),
                cuts=cuts("x 16 0 40 16 left", "y 20 0 16 20 top", "y 20 16 32 20 top"),
            ),
            Layout(
                id="L2",
                copies=1,
                source=offcut("7", 14, 32),
                pieces=(piece("B", 0, 0, 14, 14), piece("B", 0, 14, 14, 14)),
                leftovers=(left("scrap", 0, 28, 14, 4),),
                cuts=cuts("y 14 0 14 14 top", "y 28 0 14 14 top"),
            ),
        ),
        keep=KEEP,
        mat_board=True,
    )
    return plan_of(board)


def two_sheet_sizes() -> Plan:
    """Return six 20 x 30 mats from one 40 x 60 sheet, of which there is one, and a 32 x 40.

    At 10 each, the 32 x 40 holds two for its 20. The 40 x 60 holds four, 40 for its 34: one saves
    6 at most. 6 x 10 - 6 = 54 is what both sheets cost.
    """
    board = BoardPlan(
        board="black core 4-ply",
        no_turn=False,
        tool=PlanTool("knife", 0, 60, 0),
        trim=NO_TRIM,
        ordered=(mat("D", 6, 20, 30),),
        stock=(
            StockItem(sheet(32, 40), Fraction(20), None),
            StockItem(sheet(40, 60), Fraction(34), 1),
        ),
        sheets=2,
        sheets_lower_bound=2,
        aim=Aim.COST,
        value=Fraction(54),
        value_lower_bound=Fraction(54),
        proved_least=True,
        certificate=values(D="10"),
        layouts=(
            Layout(
                id="L1",
                copies=1,
                source=sheet(40, 60),
                pieces=tuple(piece("D", x, y, 20, 30) for x in (0, 20) for y in (0, 30)),
                leftovers=(),
                cuts=cuts("x 20 0 60 20 left", "y 30 0 20 30 top", "y 30 20 40 30 bottom"),
            ),
            Layout(
                id="L2",
                copies=1,
                source=sheet(32, 40),
                pieces=(
                    piece("D", 0, 0, 30, 20, turned=True),
                    piece("D", 0, 20, 30, 20, turned=True),
                ),
                leftovers=(left("scrap", 30, 0, 2, 40),),
                cuts=cuts("x 30 0 40 2 right", "y 20 0 30 20 top"),
            ),
        ),
        keep=KEEP,
        mat_board=True,
    )
    return plan_of(board)


BACK_COLUMN = ("159", "319", "479")


def _twelve_backs() -> tuple[PlacedPiece, ...]:
    return tuple(piece("A back", x, y, 127, 159) for x in (0, 128, 256) for y in (0, 160, 320, 480))


def _cuts_of_twelve() -> tuple[str, ...]:
    """Return the cut above the strip, three columns, and each column in four."""
    columns = [(0, 127), (128, 255), (256, 383)]
    crosscuts = [f"y {at} {x} {end} 159 top" for x, end in columns for at in BACK_COLUMN]
    return (
        "y 639 0 384 639 top",
        "x 127 0 639 127 left",
        "x 255 0 639 127 left",
        "x 383 0 639 127 left",
        *crosscuts,
    )


def hardboard_backs() -> Plan:
    """Return 26 backs, 15 7/8 x 19 7/8 in, from 48 x 96 in hardboard by a 1/8 in saw.

    In eighths a back is 127 x 159, with its kerf 128 x 160 (16 x 20 in); the sheet with one kerf
    more is 385 x 769. Three columns of four take 3 x 128 = 384 by 4 x 160 = 640; the strip below,
    768 - 640 = 128 by 384, holds two turned ones: 14 a sheet. That none holds 15 is shown by the
    recursion. 26 at a fourteenth of a sheet are under two sheets and over one.
    """
    area = 384 * 768
    board = BoardPlan(
        board="hardboard 1/8",
        no_turn=False,
        tool=PlanTool("table saw", 1, None, 8),
        trim=NO_TRIM,
        ordered=(backer("A back", 26, 127, 159),),
        stock=(StockItem(sheet(384, 768), None, None),),
        sheets=2,
        sheets_lower_bound=2,
        aim=Aim.AREA,
        value=Fraction(2 * area),
        value_lower_bound=Fraction(2 * area),
        proved_least=True,
        certificate=Certificate(CertificateKind.PIECE_VALUES, {"A back": Fraction(area, 14)}),
        layouts=(
            Layout(
                id="L1",
                copies=1,
                source=sheet(384, 768),
                pieces=(
                    *_twelve_backs(),
                    piece("A back", 0, 640, 159, 127, turned=True),
                    piece("A back", 160, 640, 159, 127, turned=True),
                ),
                # 384 - 2 x 160 = 64 wide: 8 x 15 7/8 in, which holds 8 x 10.
                leftovers=(left("offcut", 320, 640, 64, 127),),
                cuts=cuts(
                    *_cuts_of_twelve(),
                    "y 767 0 384 127 top",
                    "x 159 640 767 159 left",
                    "x 319 640 767 159 left",
                ),
            ),
            Layout(
                id="L2",
                copies=1,
                source=sheet(384, 768),
                pieces=_twelve_backs(),
                leftovers=(left("offcut", 0, 640, 384, 128),),
                cuts=cuts(*_cuts_of_twelve()),
            ),
        ),
        keep=KEEP,
        mat_board=False,
    )
    return plan_of(board, step=EIGHTH)


def searched() -> Plan:
    """Return the backs again, their bound resting on a search and no values."""
    search = Certificate(CertificateKind.EXHAUSTION, {}, "Every layout of one sheet was tried.")
    return with_board(hardboard_backs(), certificate=search)


def step(setting: int | None, layout: str, *numbers: int) -> BenchStep:
    """Return a step of the order of cuts."""
    return BenchStep(setting, layout, numbers)


def benched() -> Plan:
    """Return four 16 x 20 from a measured sheet, with the order of cuts and every side's error.

    The sheet, sold as 32 x 40, measures 32 x 40 1/2 in; the rule is of class II, the stop sure to
    1/32 in (127/160 mm), and the step is 1/2 in. Cut 1 sets 20 in for the upper half, and cut 2
    takes the half inch off the lower one, 20 in again: one setting. Cuts 3 and 4 set 16 for the
    two on the left, and leave 16 of 32 to those on the right.

    20 in are 508 mm and 16 in 406.4 mm, both within the first metre: 0.3 + 0.2 = 0.5 mm, and the
    stop: 1/2 + 127/160 = 207/160 mm. 32 in are 812.8 mm, in the first metre too: 207/160 mm. What
    is left of them is off by both: 207/80 mm.

    The sheet begins with its left edge against the stop: a quarter turn to the top, two halves to
    turn back; the lower half is cut again as it lies. It is lifted on once, and each half again.
    """
    sure = Length.of(Fraction(1, 32), Unit.INCH)
    knife = PlanTool("knife", 0, None, 0, "knife", None, True, sure, "II")
    once = Length(Fraction(207, 160))
    high = Made(MadeBy.STOP, once)
    on_left, on_right = Made(MadeBy.STOP, once), Made(MadeBy.LEFT_OVER, once + once)
    sides = ((0, on_left), (32, on_right))
    pieces = [replace(piece("A", x, y, 32, 40), across=made, down=high)
              for y in (0, 40) for x, made in sides]  # fmt: skip
    measured = sheet(64, 81)
    board = BoardPlan(
        board="warm white rag 4-ply",
        no_turn=False,
        tool=knife,
        trim=NO_TRIM,
        ordered=(mat("A", 4, 32, 40),),
        stock=(StockItem(measured, None, None, nominal=Size(INCH * 32, INCH * 40)),),
        sheets=1,
        sheets_lower_bound=1,
        aim=Aim.AREA,
        value=Fraction(64 * 81),
        value_lower_bound=Fraction(64 * 81),
        proved_least=True,
        certificate=values(A="1296"),
        layouts=(
            Layout(
                id="L1",
                copies=1,
                source=measured,
                pieces=tuple(pieces),
                leftovers=(left("scrap", 0, 80, 64, 1),),
                cuts=cuts(
                    "y 40 0 64 40 top",
                    "y 80 0 64 40 top",
                    "x 32 0 40 32 left",
                    "x 32 40 80 32 left",
                ),
            ),
        ),
        keep=KEEP,
        mat_board=True,
        cutting=Cutting(
            2,
            2,
            3,
            3,
            (step(40, "L1", 1, 2), step(32, "L1", 3, 4)),
            sides_left_over=2,
            sides_left_over_lower_bound=2,
            quarter_turns_lower_bound=3,
            lifts_lower_bound=2,
        ),
    )
    return plan_of(board, step=Length.of(Fraction(1, 2), Unit.INCH))


GOOD_PLANS = {
    "agreed": agreed,
    "trimmed": trimmed,
    "with a way back": with_a_way_back,
    "with an offcut": with_an_offcut,
    "two sheet sizes": two_sheet_sizes,
    "hardboard backs": hardboard_backs,
    "searched": searched,
    "benched": benched,
}
