"""The order: refused at birth if it is wrong, known by its digest, laid on its own grid."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from strategies import orders

from kerfwright.errors import RefusedValue
from kerfwright.lengths import ZERO, Length, Size, Unit, common_step, parse_length, parse_size
from kerfwright.order import (
    MOST_STEPS,
    Order,
    Piece,
    PieceKind,
    default_rule,
    job_step,
    order_digest,
)
from kerfwright.stock import Board, Offcut, SheetSize, Tool, Trim


def length(text: str) -> Length:
    """Return a length, inches where bare."""
    return parse_length(text, Unit.INCH)


def size(text: str) -> Size:
    """Return a size, inches where bare."""
    return parse_size(text, Unit.INCH)


def mat(label: str = "A", outer: str = "16 x 20", board: str = "rag", qty: int = 1) -> Piece:
    """Return a mat."""
    return Piece(label, PieceKind.MAT, qty, size(outer), board)


RAG = Board("rag")
ORDER = Order("show", (mat(), mat("B", "8 x 10")), (RAG,))


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"label": ""}, "label: '' is empty"),
        ({"board": " "}, "board: ' ' is empty"),
        ({"qty": 0}, "qty: 0 is less than one"),
        ({"qty": -2}, "qty: -2 is less than one"),
        ({"qty": 1_000_001}, "qty: 1000001 is over 1,000,000"),
    ],
)
def test_a_piece_refuses(change: dict[str, object], problem: str) -> None:
    """No label, no board, and quantities that cannot be meant."""
    with pytest.raises(RefusedValue, match=problem):
        replace(mat(), **change)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"pieces": ()}, "pieces: '' are none"),
        ({"pieces": (mat(), mat())}, "label: 'A' is given twice"),
        ({"boards": ()}, "board: 'rag' is not among the boards"),
        ({"boards": (RAG, RAG)}, "board: 'rag' is given twice"),
        ({"offcuts": (Offcut("foam", size("9 x 9"), "7"),)}, "board: 'foam' is not among"),
        ({"offcuts": (Offcut("rag", size("9 x 9"), "7"),) * 2}, "id: '7 of rag' is given twice"),
        ({"rule": ZERO}, "rule: '0 in' is not longer than zero"),
    ],
)
def test_an_order_refuses(change: dict[str, object], problem: str) -> None:
    """Nothing to cut, names that stand for two things, and names that stand for nothing."""
    with pytest.raises(RefusedValue, match=problem):
        replace(ORDER, **change)  # type: ignore[arg-type]


def test_the_usual_rule_goes_with_the_unit() -> None:
    """A rule in inches has 16ths, a metric one whole millimetres (common practice, no source)."""
    assert default_rule(Unit.INCH) == length("1/16")
    assert default_rule(Unit.MILLIMETRE) == default_rule(Unit.CENTIMETRE) == length("1mm")


CHANGES: list[dict[str, object]] = [
    {"name": "other"},
    {"pieces": (mat(), mat("B", "8 x 10 1/16"))},
    {"pieces": (mat("B", "8 x 10"), mat())},
    {"pieces": (mat(qty=2), mat("B", "8 x 10"))},
    {"boards": (Board("rag", no_turn=True),)},
    {"boards": (RAG, Board("foam"))},
    {"offcuts": (Offcut("rag", size("9 x 9"), "7"),)},
    {"unit": Unit.MILLIMETRE},
    {"rule": length("1/32")},
]


def test_the_digest_tells_every_difference() -> None:
    """Orders that differ in anything that they say differ in their digests."""
    changed = [replace(ORDER, **change) for change in CHANGES]  # type: ignore[arg-type]
    digests = {order_digest(order) for order in (ORDER, *changed)}
    assert len(digests) == 1 + len(CHANGES)
    assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", digest) for digest in digests)


def test_the_digest_overlooks_how_an_order_was_written() -> None:
    """16 1/8 in, 16.125 in and 409.575 mm are one size; what was noted in reading is not said."""
    spelled = [
        replace(ORDER, pieces=(mat(outer=f"{text} x 20"),), notes=(text,))
        for text in ("16 1/8", "16.125in", "409.575mm")
    ]
    spelled[2] = replace(spelled[2], pieces=(mat(outer="409.575mm x 508mm"),))
    assert len({order_digest(order) for order in spelled}) == 1


@given(orders(), orders())
def test_digests_are_equal_for_equal_orders_only(first: Order, second: Order) -> None:
    """Two orders have one digest exactly when they are equal, notes apart."""
    assert order_digest(first) == order_digest(replace(first, notes=("note",)))
    assert (order_digest(first) == order_digest(second)) == (first == second)


def test_the_grid_of_a_plain_job() -> None:
    """16 x 20, 8 x 10 and a 32 x 40 sheet: 2 divides all, and 8 and 10 share no more."""
    assert job_step(ORDER) == length("2")


@pytest.mark.parametrize(
    ("board", "step"),
    [
        (Board("rag", Tool(kerf=length("1/8"))), "1/8"),
        (Board("rag", Tool(longest_cut=length("60 1/2"))), "1/2"),
        (Board("rag", Tool(narrowest_strip=length("1/4"))), "1/4"),
        (Board("rag", trim=Trim(right=length("3/16"))), "1/16"),
        (Board("rag", sheets=(SheetSize(size("33 x 40")),)), "1"),
        # Not laid on the grid, since they place no cut:
        (Board("rag", thickness=length("1/17"), keep=size("8 1/3 x 10")), "2"),
    ],
)
def test_whatever_can_place_a_cut_lies_on_the_grid(board: Board, step: str) -> None:
    """Kerf, limits, trim and sheets refine the grid; thickness and keep do not."""
    assert job_step(replace(ORDER, boards=(board,))) == length(step)


def test_offcuts_refine_the_grid_and_boards_not_in_use_do_not() -> None:
    """An offcut of 9 x 9 makes the step 1 in; one of a board that nobody cuts changes nothing."""
    idle = Board("foam", sheets=(SheetSize(size("1000mm x 1400mm")),))
    spare = Offcut("foam", size("9 1/8 x 9"), "1")
    order = replace(ORDER, boards=(RAG, idle), offcuts=(spare,))
    assert job_step(order) == length("2")
    order = replace(order, offcuts=(spare, Offcut("rag", size("9 x 9"), "2")))
    assert job_step(order) == length("1")


def test_inches_and_millimetres_share_a_grid() -> None:
    """16ths of an inch are 127/80 mm, and 127 is prime: with whole millimetres the step is 1/80."""
    order = replace(ORDER, pieces=(mat(outer="16 1/16 x 297mm"),))
    assert job_step(order) == length("1/80 mm")


@given(orders())
def test_every_length_of_a_job_lies_on_its_grid(order: Order) -> None:
    """Pieces and sheets are whole numbers of steps."""
    step = job_step(order)
    found = [piece.size for piece in order.pieces]
    found += [sheet.size for board in order.boards for sheet in board.sheets]
    sides = [side for one in found for side in (one.width, one.height)]
    assert all(side.steps(step) > 0 for side in sides)
    assert common_step([step, *sides]) == step


def test_a_grid_too_fine_names_the_lengths_to_blame() -> None:
    """32 in is 2^26 steps of 1/2^21 in, which will do; half such a step is refused and named."""
    square = Board("rag", sheets=(SheetSize(size("32 x 32")),))
    finest = replace(ORDER, boards=(square,), pieces=(mat(outer="1/2097152 x 9"),))
    assert job_step(finest) == Length.of(Fraction(32, MOST_STEPS), Unit.INCH)
    with pytest.raises(RefusedValue, match=re.escape("'1/4194304 in (width of A)'")):
        job_step(replace(finest, pieces=(mat(outer="1/4194304 x 9"),)))
    order = replace(ORDER, pieces=(mat(), mat("B", "8.0000001 x 10")))
    with pytest.raises(RefusedValue) as refusal:
        job_step(order)
    assert str(refusal.value) == (
        "lengths: '8.0000001 in (width of B)' would need more than 67,108,864 steps to a "
        "sheet's side; round them to a mark of the rule"
    )


def test_of_several_lengths_to_blame_each_is_named() -> None:
    """1/1009 and 1/1013 of an inch need 40 x 1009 x 1013 = 40.9 million steps; 1/1019 is more."""
    order = replace(ORDER, pieces=(mat(outer="8 1/1009 x 8 1/1013"),))
    assert job_step(order) == Length.of(Fraction(1, 1009 * 1013), Unit.INCH)
    order = replace(ORDER, pieces=(mat(outer="8 1/1009 x 8 1/1013"), mat("C", "8 1/1019 x 9")))
    with pytest.raises(RefusedValue, match=r"\(width of C\)"):
        job_step(order)


def test_many_lines_too_fine_are_blamed_quickly_and_briefly() -> None:
    """Two thousand odd lengths give five names, not two thousand."""
    lines = tuple(mat(f"L{n}", f"8 {n}/100000007 x 9") for n in range(1, 2000))
    with pytest.raises(RefusedValue) as refusal:
        job_step(replace(ORDER, pieces=lines))
    assert str(refusal.value.value).count("width of") == 5
