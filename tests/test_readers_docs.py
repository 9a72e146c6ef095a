"""What docs/order-files.md shows is what the readers read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kerfwright import load_order
from kerfwright.lengths import Unit, parse_length, parse_size
from kerfwright.order import job_step
from kerfwright.readers import _rows, _stock, _toml
from kerfwright.stock import Grade

PAGE = (Path(__file__).parents[1] / "docs" / "order-files.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(csv|toml)\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)


@pytest.mark.parametrize("number", range(len(BLOCKS)))
def test_every_example_is_an_order(tmp_path: Path, number: int) -> None:
    """Each block can be saved as it stands and read."""
    suffix, text = BLOCKS[number]
    path = tmp_path / f"order.{suffix}"
    path.write_text(text, encoding="utf-8")
    assert len(load_order(path).pieces) >= 2


def test_there_are_examples_of_both_kinds_of_csv_and_of_toml() -> None:
    """Commas, semicolons and the whole TOML form."""
    assert [suffix for suffix, _ in BLOCKS] == ["csv", "csv", "toml"]
    assert ";" in BLOCKS[1][1]


def test_every_key_and_column_is_explained() -> None:
    """Whatever a file may say stands on the page, by its name."""
    known = {*_toml._TOP, *_toml.PIECE_KEYS, *_rows.COLUMNS, *_stock._TOOL, *_stock._BOARD}
    known |= {*_stock._SHEET, *_stock._OFFCUT, *(grade.value for grade in Grade)}
    told = set(re.findall(r"[\w-]+", " ".join(re.findall(r"`[^`\n]+`", PAGE))))
    assert known - told == set()


def test_every_length_and_size_shown_is_read() -> None:
    """The spellings in the two tables are accepted, whichever unit the file has."""
    rows = re.findall(r"^\| (`.*?) \| ", PAGE[PAGE.index("## Lengths") :], re.MULTILINE)
    for text in re.findall(r"`([^`]+)`", " ".join(rows[:3])):
        assert parse_length(text, Unit.INCH)
    for text in re.findall(r"`([^`]+)`", " ".join(rows[3:8])):
        assert parse_size(text, Unit.INCH).width


@pytest.mark.parametrize("text", ["0", "-3", "nan", "inf", "1e5", "9/0", "16 9/8", "10001mm"])
def test_what_the_page_says_is_refused_is(text: str) -> None:
    """Each of the page's examples of what is no length."""
    with pytest.raises(ValueError, match=re.escape(text)):
        parse_length(text, Unit.INCH)


def test_64ths_and_tenths_of_a_millimetre_share_a_grid(tmp_path: Path) -> None:
    """The finest usual marks together, on the longest usual sheet, stay under the limit.

    1/64 in is 127/320 mm and 1/10 mm is 32/320 mm: the step is 1/320 mm, and 96 in are 2438.4 mm
    or 780,288 steps.
    """
    text = (
        '[[board]]\nname = "b"\nsheets = "48 x 96"\n'
        '[[mat]]\nlabel = "A"\nqty = 1\nsize = "16 1/64 in x 400.1mm"\nboard = "b"\n'
    )
    path = tmp_path / "order.toml"
    path.write_text(text, encoding="utf-8")
    assert job_step(load_order(path)) == parse_length("1/320 mm", Unit.INCH)
