"""Orders and stock as files state them, in every format."""

from __future__ import annotations

import contextlib
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import order_toml, orders

from kerfwright import load_order
from kerfwright.errors import InputError
from kerfwright.lengths import Length, Unit, parse_length, parse_size
from kerfwright.order import Order, Piece, PieceKind, order_digest
from kerfwright.stock import Board, Grade, Offcut, SheetSize, Tool, Trim, common_sheet

GOOD = Path(__file__).parent / "data" / "good"


def mm(number: str | int) -> Length:
    """Return a length in millimetres."""
    return Length(Fraction(number))


def written(folder: Path, text: str, name: str = "order.toml") -> Path:
    """Write `text` into a file and return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


MAT = '[[mat]]\nlabel = "A"\nqty = 6\nsize = "16 x 20"\nboard = "rag"\n'
ROWS = "label,kind,qty,size,board\nA,mat,6,16 x 20,rag\n"

# What every file in tests/data/good but the rack orders. 16.5 in = 16 1/2 in; A3 is 297 x 420 mm.
PIECES = (
    Piece("A", PieceKind.MAT, 6, parse_size("16.5 x 20", Unit.INCH), "white rag"),
    Piece("2", PieceKind.BACKER, 12, parse_size("400 x 505", Unit.MILLIMETRE), "foam", turn=False),
    Piece("C", PieceKind.MAT, 1, parse_size("297 x 420", Unit.MILLIMETRE), "white rag"),
)


@pytest.mark.parametrize(
    "name", ["order.toml", "comma.csv", "byte-order-mark.csv", "semicolon.csv"]
)
def test_every_text_format_gives_the_same_pieces(name: str) -> None:
    """TOML, CSV with commas, with a byte-order mark, with semicolons and decimal commas."""
    assert load_order(GOOD / name).pieces == PIECES


def test_formats_differ_in_nothing_else() -> None:
    """The digest of the same order is the same from TOML and from CSV, once its name is."""
    stated = load_order(GOOD / "order.toml")
    rows = load_order(GOOD / "comma.csv")
    assert rows.name == "comma"
    assert order_digest(Order("Summer show", rows.pieces, rows.boards)) == order_digest(stated)


def test_boards_only_named_are_assumed_and_the_order_says_so() -> None:
    """32 x 40 in, any number, a knife; in the order of first mention."""
    order = load_order(GOOD / "order.toml")
    assert [board.name for board in order.boards] == ["white rag", "foam"]
    for board in order.boards:
        assert board.sheets == (common_sheet(),)
        assert board.tool == Tool()
        assert board.sheets_assumed
    assert order.notes == (
        "Bare numbers in order.toml are inches, since no unit is stated.",
        "Board 'white rag' is not described: taken to be sold in 32 x 40 in sheets, any number.",
        "Board 'foam' is not described: taken to be sold in 32 x 40 in sheets, any number.",
    )


def test_stock_describes_what_an_order_names() -> None:
    """Everything that a rack can say, in its own unit, mixed with others."""
    order = load_order(GOOD / "comma.csv", stock=GOOD / "rack.toml", unit="in")
    white, foam, hardboard = order.boards
    size = parse_size("815 x 1120", Unit.MILLIMETRE)
    assert white == Board(
        "white rag",
        Tool("knife"),
        (
            SheetSize(size, Fraction(43, 2), 4),
            SheetSize(parse_size("32 x 40", Unit.INCH), Fraction(19), 2, buyable=False),
        ),
        Trim(left=mm(3), bottom=parse_length("1/4", Unit.INCH)),
        no_turn=True,
        thickness=mm("1.4"),
        grade=Grade.COTTON,
        buffered=True,
        keep=parse_size("200 x 250", Unit.MILLIMETRE),
    )
    assert foam.sheets_assumed
    assert (hardboard.name, hardboard.tool) == ("hardboard", Tool("saw", mm("3.2")))
    assert order.offcuts == (Offcut("white rag", parse_size("300 x 800", Unit.MILLIMETRE), "7"),)
    assert order.rule == mm("0.5")


@pytest.mark.parametrize(
    ("stock", "asked", "side", "why"),
    [
        ("rack.toml", None, 16, "are millimetres, as rack.toml states"),
        ("rack.toml", "cm", 16, "are millimetres, as rack.toml states"),
        (None, "cm", 160, "are centimetres, as asked for"),
        (None, Unit.CENTIMETRE, 160, "are centimetres, as asked for"),
        (None, None, "406.4", "are inches, since no unit is stated"),
    ],
)
def test_bare_numbers_of_rows_take_the_nearest_unit(
    tmp_path: Path, stock: str | None, asked: str | None, side: str | int, why: str
) -> None:
    """The stock file's unit, else what was asked for, else inches; the order says which."""
    path = written(tmp_path, ROWS, "order.csv")
    order = load_order(path, stock=GOOD / stock if stock else None, unit=asked)
    assert order.pieces[0].size.width == mm(side)
    assert order.notes[0] == f"Bare numbers in order.csv {why}."


def test_a_rows_own_unit_comes_first(tmp_path: Path) -> None:
    """With a unit in every row no bare number is left to speak of, and results show that unit."""
    rows = "label,kind,qty,size,board,unit\nA,mat,6,400 x 500,white rag,mm\n"
    order = load_order(written(tmp_path, rows, "order.csv"), stock=GOOD / "rack.toml")
    assert order.pieces[0].size == parse_size("400 x 500", Unit.MILLIMETRE)
    assert not any("order.csv" in note for note in order.notes)
    plain = load_order(written(tmp_path, rows, "order.csv"))
    assert plain.unit is Unit.MILLIMETRE
    assert plain.rule == mm(1)


@pytest.mark.parametrize(("asked", "side"), [(None, "406.4"), ("mm", 16)])
def test_a_toml_order_without_a_unit_is_in_inches_or_as_asked(
    tmp_path: Path, asked: str | None, side: str | int
) -> None:
    """The stock file's unit is its own; a TOML order that states none is in inches."""
    order = load_order(written(tmp_path, MAT), stock=GOOD / "rack.toml", unit=asked)
    assert order.pieces[0].size.width == mm(side)


def test_a_stated_unit_needs_no_note(tmp_path: Path) -> None:
    """Nothing is assumed where the file says it, whatever is asked for."""
    text = 'unit = "cm"\nrule = "0.5 mm"\n[[board]]\nname = "rag"\nsheets = "80 x 120"\n' + MAT
    order = load_order(written(tmp_path, text), unit="in")
    assert order.pieces[0].size.width == mm(160)
    assert (order.unit, order.rule, order.notes) == (Unit.CENTIMETRE, mm("0.5"), ())


def test_an_order_is_named_after_its_file(tmp_path: Path) -> None:
    """A file's name becomes the order's where nothing else is said, cut to what can print."""
    assert load_order(written(tmp_path, MAT, "Summer  show.toml")).name == "Summer show"
    assert load_order(written(tmp_path, 'name = " July "\n' + MAT)).name == "July"
    long = load_order(written(tmp_path, MAT, "x" * 100 + ".toml"))
    assert long.name == "x" * 60


def test_pieces_keep_the_order_of_the_file(tmp_path: Path) -> None:
    """Mats and backers mixed come as they stand, whatever their kind."""
    parts = [
        f'[[{kind}]]\nlabel = "{kind} {n}"\nqty = 1\nsize = "8 x 10"\nboard = "rag"\n'
        for n in range(2)
        for kind in ("backer", "mat")
    ]
    order = load_order(written(tmp_path, "".join(parts)))
    assert [piece.label for piece in order.pieces] == ["backer 0", "mat 0", "backer 1", "mat 1"]


def test_toml_may_be_written_in_other_ways(tmp_path: Path) -> None:
    """Inline tables, nested headers, a size alone for sheets, yes and no, numbers in quotes."""
    text = """
mat = [ { label = 1, qty = "6", size = "16 x 20", board = "rag", turn = "no" } ]
[[board]]
name = "rag"
sheets = ["32 x 40", { size = "40 x 60" }]
trim.left = "1/8"
[[board]]
name = "foam"
[[board.sheets]]
size = "48 x 96"
price = 30
[board.trim]
top = 1
"""
    order = load_order(written(tmp_path, text))
    assert (order.pieces[0].label, order.pieces[0].qty, order.pieces[0].turn) == ("1", 6, False)
    rag, foam = order.boards
    assert [str(sheet.size) for sheet in rag.sheets] == ["32 x 40 in", "40 x 60 in"]
    assert rag.trim == Trim(left=parse_length("1/8", Unit.INCH))
    assert foam.trim == Trim(top=parse_length("1", Unit.INCH))
    assert foam.sheets[0].price == 30


def test_a_board_may_say_everything_but_its_sheets(tmp_path: Path) -> None:
    """It is taken to be sold in 32 x 40 in sheets, and the order says so."""
    order = load_order(written(tmp_path, '[[board]]\nname = "rag"\nno_turn = true\n' + MAT))
    assert order.boards[0].no_turn
    assert order.boards[0].sheets_assumed
    assert "Board 'rag' states no sheets" in order.notes[-1]


def test_a_name_nearly_a_boards_is_pointed_out(tmp_path: Path) -> None:
    """A slip of the pen makes a board of its own, but not silently."""
    text = '[[board]]\nname = "warm white rag"\nsheets = "32 x 40"\n' + MAT.replace(
        '"rag"', '"warm whit rag"'
    )
    assert load_order(written(tmp_path, text)).notes[-1].endswith("Was 'warm white rag' meant?")


TOOLS = {
    "none": ("", "knife"),
    "one": ('[[tool]]\nname = "saw"\nkerf = "1/8"\n', "saw"),
    "knife among several": ('[[tool]]\nname = "saw"\n[[tool]]\nname = "knife"\n', "knife"),
}


@pytest.mark.parametrize("case", TOOLS)
def test_a_board_without_a_tool_gets_the_likely_one(tmp_path: Path, case: str) -> None:
    """The built-in knife, the only tool described, or the knife among several."""
    tools, name = TOOLS[case]
    order = load_order(written(tmp_path, f'{tools}[[board]]\nname = "foam"\n{MAT}'))
    assert {board.tool.name for board in order.boards} == {name}
    assert any("names no tool" in note for note in order.notes) == (case == "one")


def test_a_kind_of_tool_fills_in_figures_and_each_can_be_changed(tmp_path: Path) -> None:
    """A bench cutter comes with a reach of 28 1/2 in; "none" takes a limit away, a number sets it.

    The figures are those of the table in docs/order-files.md; in a metric file they are metric.
    """
    text = (
        '{unit}[[tool]]\nname = "mine"\nkind = "bench cutter"\n{more}'
        '[[mat]]\nlabel = "A"\nqty = 1\nsize = "10 x 12"\nboard = "rag"\n'
    )
    path = tmp_path / "order.toml"

    def tool(unit: str, more: str) -> Tool:
        path.write_text(text.format(unit=unit, more=more), encoding="utf-8")
        return load_order(path).boards[0].tool

    plain = tool("", "")
    assert (str(plain.reach), str(plain.longest_cut), plain.squares) == ("28 1/2 in", "40 in", True)
    assert (str(plain.repeatability), plain.rule_class.value) == ("1/64 in", "II")
    metric = tool('unit = "mm"\n', "")
    assert (str(metric.reach), str(metric.longest_cut)) == ("720 mm", "1000 mm")
    own = 'longest_cut = "none"\nreach = 20\nsquares = false\nrepeatability = 0\nrule_class = "i"\n'
    changed = tool("", own)
    assert (changed.longest_cut, str(changed.reach), changed.squares) == (None, "20 in", False)
    assert (str(changed.repeatability), changed.rule_class.value) == ("0 in", "I")


def test_a_knife_need_not_be_described(tmp_path: Path) -> None:
    """A board may name the knife though only a saw is described."""
    text = '[[tool]]\nname = "saw"\nkerf = "1/8"\n[[board]]\nname = "rag"\ntool = "knife"\n'
    assert load_order(written(tmp_path, text + MAT)).boards[0].tool == Tool()


@pytest.mark.parametrize(
    ("part", "told"),
    [
        ('[[tool]]\nname = "saw"\n', "a tool described already, on order.toml, line 2"),
        ('[[board]]\nname = "foam"\n', "a board described already, on order.toml, line 4"),
        (
            '[[offcut]]\nboard = "foam"\nsize = "9 x 9"\nid = "7"\n',
            "id '7' is another offcut of the same board too, on order.toml, line 8",
        ),
    ],
)
def test_a_thing_in_both_files_is_a_fault(tmp_path: Path, part: str, told: str) -> None:
    """What stands in the order cannot stand in the stock file too; both places are named."""
    own = (
        '[[tool]]\nname = "saw"\n[[board]]\nname = "foam"\n'
        '[[offcut]]\nboard = "foam"\nsize = "9 x 9"\nid = "7"\n'
    )
    stock = written(tmp_path, part, "rack.toml")
    with pytest.raises(InputError) as refusal:
        load_order(written(tmp_path, own + MAT), stock=stock)
    (fault,) = refusal.value.faults
    assert told in str(fault)
    assert fault.where.startswith("rack.toml, line ")


def test_an_offcut_needs_a_board_that_somebody_names(tmp_path: Path) -> None:
    """A piece's naming it is enough, though nobody describes it."""
    text = '[[offcut]]\nboard = "rag"\nsize = "9 x 9"\nid = "7"\n' + MAT
    assert load_order(written(tmp_path, text)).offcuts[0].board == "rag"


def test_lines_are_found_behind_comments_and_long_strings(tmp_path: Path) -> None:
    """Brackets and headers inside comments and strings are no tables; CRLF counts once."""
    text = (
        "# [[mat]]\r\n"
        'name = """\r\n[[mat]]\r\nlabel = "no" """ # "\r\n'
        "\r\n"
        "[[ board ]] # one ] two\r\n"
        "name = 'r[[a]]g#'\r\n"
        "sheets = [\r\n  # { size\r\n  { size = '32 x 40', price = 'x' },\r\n]\r\n"
        '"trim" = "y"\r\n'
        "[[mat]]\r\nlabel = 'A'\r\nqty = 0\r\nsize = '8 x 10'\r\nboard = 'rag'\r\n"
    )
    path = tmp_path / "order.toml"
    path.write_bytes(text.encode())
    with pytest.raises(InputError) as refusal:
        load_order(path)
    # Lines: 1 comment, 2-4 name, 6 [[board]], 7 name, 8-11 sheets, 12 trim, 13 [[mat]], 15 qty.
    assert [(fault.field, fault.where) for fault in refusal.value.faults] == [
        ("price", "order.toml, line 8"),
        ("trim", "order.toml, line 12"),
        ("qty", "order.toml, line 15"),
    ]


def test_rows_are_numbered_as_a_spreadsheet_shows_them(tmp_path: Path) -> None:
    """A cell of two lines is one row, and a blank row counts."""
    rows = 'label,kind,qty,size,board\n"A\nfront",mat,1,8 x 10,rag\n\nB,mat,0,8 x 10,rag\n'
    path = written(tmp_path, rows, "order.csv")
    with pytest.raises(InputError, match=r"order\.csv, row 4, cell C4: qty '0' is zero"):
        load_order(path)
    order = load_order(written(tmp_path, rows.replace(",0,", ",1,"), "order.csv"))
    assert order.pieces[0].label == "A front"


@settings(max_examples=40)
@given(orders())
def test_any_order_written_as_toml_reads_back_the_same(
    tmp_path_factory: pytest.TempPathFactory, order: Order
) -> None:
    """Everything that an order file can say survives, exactly."""
    path = written(tmp_path_factory.mktemp("orders"), order_toml(order))
    read = load_order(path)
    # Boards come in the order of first mention; the strategy mentions them in theirs.
    assert read.pieces == order.pieces
    assert set(read.boards) == set(order.boards)
    assert read.offcuts == order.offcuts
    assert read.rule == order.rule


SAMPLE = order_toml(
    Order(
        "show",
        PIECES,
        (Board("white rag"), Board("foam", Tool("saw", mm(3)))),
        (Offcut("foam", parse_size("9 x 9", Unit.INCH), "7"),),
    )
)


@settings(max_examples=200)
@given(st.data())
def test_a_file_changed_anywhere_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Whatever is cut out of a good file or put into it, nothing but an InputError comes."""
    name, text = data.draw(
        st.sampled_from([("order.toml", SAMPLE), ("order.csv", ROWS)]), label="file"
    )
    start = data.draw(st.integers(0, len(text)), label="from")
    end = data.draw(st.integers(start, min(len(text), start + 12)), label="to")
    added = data.draw(st.text(max_size=6) | st.sampled_from(list('"[]{}=#,;\n.-/0')), label="with")
    changed = (text[:start] + added + text[end:]).encode("utf-8", "replace")
    path = tmp_path_factory.mktemp("changed") / name
    path.write_bytes(changed)
    with contextlib.suppress(InputError):
        assert load_order(path).pieces


@settings(max_examples=150)
@given(st.sampled_from(["order.toml", "order.csv", "order.xlsx"]), st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, name: str, content: bytes
) -> None:
    """No file of bytes makes anything but an InputError."""
    path = tmp_path_factory.mktemp("bytes") / name
    path.write_bytes(content)
    with pytest.raises(InputError):
        load_order(path)


@pytest.mark.parametrize(
    ("size", "told"),
    [
        ("140 x 32", "140 x 32 in"),
        ("41 x 1", "41 x 1 in"),
        ("32 x 40", None),
        ("40 x 32", None),
    ],
)
def test_an_offcut_larger_than_any_sheet_is_pointed_out(
    tmp_path: Path, size: str, told: str | None
) -> None:
    """It may be of a sheet no longer sold, but is mostly a slip: it is used, and a note says so."""
    path = tmp_path / "order.toml"
    path.write_text(
        f'[[offcut]]\nboard = "rag"\nid = "7"\nsize = "{size}"\n'
        '[[board]]\nname = "rag"\nsheets = "32 x 40"\n'
        '[[mat]]\nlabel = "A"\nqty = 1\nsize = "8 x 10"\nboard = "rag"\n',
        encoding="utf-8",
    )
    notes = [note for note in load_order(path).notes if "larger than any sheet" in note]
    said = (
        f"Offcut '7' of 'rag' is larger than any sheet of it: taken to be {told} as written;"
        " measure it again."
    )
    assert notes == ([said] if told else [])
