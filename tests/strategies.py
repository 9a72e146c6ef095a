"""Hypothesis strategies that several test files share, and the files that spell their orders."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from kerfwright.lengths import ZERO, Length, Size, Unit, step_text
from kerfwright.order import Order, Piece, PieceKind
from kerfwright.stock import Board, Offcut, SheetSize, Tool, Trim

__all__ = [
    "any_lengths",
    "boards",
    "lengths",
    "names",
    "order_toml",
    "orders",
    "pieces",
    "rule_lengths",
    "sizes",
    "units",
]

LONGEST_INCHES = 300

units = st.sampled_from(Unit)

# Lengths that a person can set on a rule: 16ths of an inch, or whole and half millimetres.
rule_lengths = st.one_of(
    st.integers(1, 16 * 60).map(lambda n: Length.of(Fraction(n, 16), Unit.INCH)),
    st.integers(1, 2 * 1500).map(lambda n: Length.of(Fraction(n, 2), Unit.MILLIMETRE)),
)

# Lengths that a file may state: up to 64ths of an inch, thousandths, or micrometres.
lengths = st.one_of(
    rule_lengths,
    st.builds(
        lambda n, d: Length.of(Fraction(n, d), Unit.INCH),
        st.integers(1, LONGEST_INCHES),
        st.sampled_from([1, 2, 3, 4, 5, 7, 8, 10, 16, 32, 64, 100, 1000]),
    ),
    st.integers(1, 5_000_000).map(lambda n: Length(Fraction(n, 1000))),
)

# Any exact length that arithmetic can make, zero and negative ones among them.
any_lengths = st.fractions(-10_000, 10_000, max_denominator=10_000).map(Length)

sizes = st.builds(Size, rule_lengths, rule_lengths)

names = st.text("abcdefghijklmnopqrstuvwxyzABC 0123456789-/'\"äé漢", min_size=1, max_size=20).map(
    lambda text: " ".join(text.split()) or "x"
)

_COMMON_SHEETS = [
    (32, 40, Unit.INCH),
    (40, 60, Unit.INCH),
    (48, 96, Unit.INCH),
    (815, 1120, Unit.MILLIMETRE),
    (1000, 1400, Unit.MILLIMETRE),
]


def _sheet_sizes() -> st.SearchStrategy[SheetSize]:
    sheets = [Size(Length.of(w, unit), Length.of(h, unit)) for w, h, unit in _COMMON_SHEETS]
    prices = st.none() | st.integers(1, 10_000).map(lambda cents: Fraction(cents, 100))
    return st.builds(SheetSize, st.sampled_from(sheets), prices, st.none() | st.integers(0, 9))


@st.composite
def boards(draw: st.DrawFn, name: str = "rag") -> Board:
    """Draw a board of one or two sheet sizes, cut by a knife or a saw."""
    tool = draw(st.sampled_from([Tool(), Tool("saw", Length.of(Fraction(1, 8), Unit.INCH))]))
    trim = draw(st.sampled_from([ZERO, Length.of(Fraction(1, 8), Unit.INCH)]))
    sheets = draw(
        st.lists(_sheet_sizes(), min_size=1, max_size=2, unique_by=lambda sheet: sheet.size)
    )
    return Board(
        name, tool, tuple(sheets), Trim(trim, trim, trim, trim), no_turn=draw(st.booleans())
    )


def pieces(label: str, board: str) -> st.SearchStrategy[Piece]:
    """Draw a line of an order under `label`, cut from `board`."""
    kinds = st.sampled_from(PieceKind)
    quantities = st.integers(1, 500)
    return st.builds(Piece, st.just(label), kinds, quantities, sizes, st.just(board), st.booleans())


@st.composite
def orders(draw: st.DrawFn) -> Order:
    """Draw an order of a few lines on one or two boards, with offcuts on the first."""
    board_names = draw(st.lists(names, min_size=1, max_size=2, unique_by=str.casefold))
    stock = [draw(boards(name)) for name in board_names]
    labels = draw(st.lists(names, min_size=len(stock), max_size=6, unique=True))
    lines = [
        draw(pieces(label, board_names[index % len(stock)])) for index, label in enumerate(labels)
    ]
    marks = draw(st.lists(names, max_size=2, unique=True))
    offcuts = [Offcut(board_names[0], draw(sizes), mark) for mark in marks]
    return Order(draw(names), tuple(lines), tuple(stock), tuple(offcuts))


def order_toml(order: Order) -> str:
    """Return a TOML order file that says what `order` does."""
    tools = {board.tool.name: board.tool for board in order.boards}
    parts = [f"name = {_quoted(order.name)}", f"rule = {_quoted(step_text(order.rule))}"]
    parts += [_tool_toml(tool) for tool in tools.values()]
    parts += [_board_toml(board) for board in order.boards]
    parts += [_offcut_toml(offcut) for offcut in order.offcuts]
    parts += [_piece_toml(piece) for piece in order.pieces]
    return "\n".join(parts) + "\n"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _size_text(size: Size) -> str:
    return f"{step_text(size.width)} x {step_text(size.height)}"


def _tool_toml(tool: Tool) -> str:
    kerf = _quoted(step_text(tool.kerf)) if tool.kerf else "0"
    return f"[[tool]]\nname = {_quoted(tool.name)}\nkerf = {kerf}"


def _board_toml(board: Board) -> str:
    sheets = ", ".join(_sheet_toml(sheet) for sheet in board.sheets)
    edges = ", ".join(
        f"{edge} = {_quoted(step_text(length)) if length else 0}"
        for edge, length in board.trim.edges()
    )
    return (
        f"[[board]]\nname = {_quoted(board.name)}\ntool = {_quoted(board.tool.name)}\n"
        f"sheets = [{sheets}]\ntrim = {{ {edges} }}\nno_turn = {str(board.no_turn).lower()}"
    )


def _sheet_toml(sheet: SheetSize) -> str:
    parts = [f"size = {_quoted(_size_text(sheet.size))}"]
    if sheet.price is not None:
        cents = sheet.price * 100
        assert cents.denominator == 1
        parts.append(f'price = "{cents.numerator // 100}.{cents.numerator % 100:02d}"')
    if sheet.on_hand is not None:
        parts.append(f"on_hand = {sheet.on_hand}")
    parts.append(f"buyable = {str(sheet.buyable).lower()}")
    return f"{{ {', '.join(parts)} }}"


def _offcut_toml(offcut: Offcut) -> str:
    return (
        f"[[offcut]]\nboard = {_quoted(offcut.board)}\n"
        f"size = {_quoted(_size_text(offcut.size))}\nid = {_quoted(offcut.id)}"
    )


def _piece_toml(piece: Piece) -> str:
    return (
        f"[[{piece.kind}]]\nlabel = {_quoted(piece.label)}\nqty = {piece.qty}\n"
        f"size = {_quoted(_size_text(piece.size))}\nboard = {_quoted(piece.board)}\n"
        f"turn = {str(piece.turn).lower()}"
    )
