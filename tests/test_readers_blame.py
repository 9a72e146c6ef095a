"""Lengths that no grid holds are named where their file writes them, and as it does."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright import load_order
from kerfwright.errors import InputError

WHY = (
    "would need, beside the other lengths, more than 67,108,864 steps to a sheet's side;"
    " round it to a mark of the rule"
)
STOCK = """
[[tool]]
name = "saw"
kerf = {kerf}
[[board]]
name = "rag"
tool = "saw"
sheets = [ {{ size = "{sheet}" }}, "40 x 60" ]
trim = {trim}
[[offcut]]
board = "rag"
id = 7
size = "{offcut}"
"""
PLAIN = {"kerf": '"1/8"', "sheet": "32 x 40", "trim": '"1/8"', "offcut": "14 x 32"}
ORDER = "label,kind,qty,size,board\nA,mat,1,16 x 20,rag\n"


def refused(order: str, folder: Path, stock: str = "") -> list[str]:
    """Return the faults of an order, and of a stock file if there is one."""
    (folder / "order.csv").write_text(order, encoding="utf-8")
    (folder / "rack.toml").write_text(stock, encoding="utf-8")
    with pytest.raises(InputError) as refusal:
        load_order(folder / "order.csv", stock=folder / "rack.toml" if stock else None)
    return [str(fault) for fault in refusal.value.faults]


def test_a_row_is_named_with_its_cell(tmp_path: Path) -> None:
    """Thirds of a centimetre cut off at ten digits lie on no usable grid."""
    order = ORDER + "B,mat,1,8.3333333333 x 10,rag\n"
    said = f"order.csv, row 3, cell D3: size '8.3333333333 x 10' {WHY}"
    assert refused(order, tmp_path) == [said]


def test_of_width_and_height_the_one_to_blame_is_named(tmp_path: Path) -> None:
    """Where the sides have columns of their own, the message names the column."""
    order = "label,kind,qty,width,height,board\n7,mat,1,8,10.0000000001,rag\n"
    said = f"order.csv, row 2, cell E2: height '10.0000000001' {WHY}"
    assert refused(order, tmp_path) == [said]


@pytest.mark.parametrize(
    ("changed", "value", "said"),
    [
        ("kerf", "0.12499999", "line 4: kerf '0.12499999'"),
        ("sheet", "32.00000001 x 40", "line 8: sheets '32.00000001 x 40'"),
        ("trim", "0.12500001", "line 9: trim '0.12500001'"),
        ("trim", "{ left = 0.12500001 }", "line 9: trim '0.12500001'"),
        ("offcut", "14.00000001 x 32", "line 13: size '14.00000001 x 32'"),
    ],
)
def test_the_stock_file_is_named_where_the_length_is_its(
    tmp_path: Path, changed: str, value: str, said: str
) -> None:
    """A kerf, a sheet, a trim and an offcut are each found on their line."""
    stock = STOCK.format(**{**PLAIN, changed: value})
    assert refused(ORDER, tmp_path, stock) == [f"rack.toml, {said} {WHY}"]


def test_of_very_many_lengths_the_first_are_named_and_the_rest_counted(tmp_path: Path) -> None:
    """Twenty hair's breadths give five faults and a count of the fifteen others."""
    rows = "".join(f"L{n},mat,1,8.00000{n:02d}7 x 10,rag\n" for n in range(20))
    told = refused(ORDER + rows, tmp_path)
    assert len(told) == 6
    assert "order.csv: has 15 more lengths like these; round them too" in told
