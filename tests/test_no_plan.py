"""Where there is no plan, the reasons name the piece, its size, and what is in the way."""

from __future__ import annotations

from pathlib import Path

import pytest

import kerfwright as kw

BOARD = '[[board]]\nname = "b"\nsheets = "32 x 40"\ntool = "t"\n'


def no_plan(tmp_path: Path, text: str) -> kw.NoPlan:
    """Return what comes of the order of `text`, which has no plan."""
    path = tmp_path / "order.toml"
    path.write_text(text, encoding="utf-8")
    made = kw.make_plan(kw.load_order(path))
    assert isinstance(made, kw.NoPlan)
    return made


def reasons(tmp_path: Path, text: str) -> tuple[str, ...]:
    """Return why the order of `text` has no plan."""
    return no_plan(tmp_path, text).reasons


def mat(size: str) -> str:
    """Return a mat of that size."""
    return f'[[mat]]\nlabel = "A"\nqty = 1\nsize = "{size}"\nboard = "b"\n'


def test_a_piece_that_fits_nothing_is_told_with_its_unit(tmp_path: Path) -> None:
    """41 in lies on no 32 x 40 sheet; both sizes are told with their unit."""
    text = '[[board]]\nname = "b"\nsheets = "32 x 40"\n' + mat("30 x 41")
    said = "mat 'A' (30 x 41 in) fits no sheet or offcut of 'b' (32 x 40 in)."
    assert reasons(tmp_path, text) == (said,)


@pytest.mark.parametrize(
    ("size", "limit"),
    [
        # The first cut of a 32 x 40 sheet is 32 or 40 in long, and the tool makes 20.
        ("10 x 10", "longest cut 20 in"),
        # No cut is needed that way; across, 31 3/4 in leaves a strip of 1/4 in.
        ("31 3/4 x 40", "longest cut 20 in, narrowest strip 1/2 in"),
    ],
)
def test_only_the_limits_in_the_way_are_named(tmp_path: Path, size: str, limit: str) -> None:
    """A limit without which the piece could still not be cut is named only where all are."""
    tool = '[[tool]]\nname = "t"\nlongest_cut = 20\nnarrowest_strip = "1/2"\n'
    told = f"mat 'A' ({size} in) cannot be cut from any sheet or offcut of 'b' with the tool 't'"
    assert reasons(tmp_path, tool + BOARD + mat(size)) == (f"{told} ({limit}).",)


def test_a_limit_that_does_no_harm_is_not_named(tmp_path: Path) -> None:
    """The strip of 1/4 in is too narrow; a longest cut of 60 in forbids nothing here."""
    tool = '[[tool]]\nname = "t"\nlongest_cut = 60\nnarrowest_strip = "1/2"\n'
    (said,) = reasons(tmp_path, tool + BOARD + mat("31 3/4 x 40"))
    assert said.endswith("with the tool 't' (narrowest strip 1/2 in).")


TRIMMED = """
[[tool]]
name = "saw"
narrowest_strip = "{strip}"
[[board]]
name = "b"
tool = "saw"
trim = {{ {trim} }}
sheets = "{sheet}"
"""


@pytest.mark.parametrize(
    ("sheet", "trim", "strip", "size"),
    [
        # With its trim on, the waste would be 1/2 in wide: not looked for, so not ruled out.
        ("32 x 40", 'right = "1/4"', "1/2", "31 1/2 x 40"),
        # Both trims off leave 2 in of the sheet, less than can be held.
        ("4 x 8", "left = 1, right = 1", "3", "2 x 8"),
    ],
)
def test_trims_and_narrow_strips_leave_it_open(
    tmp_path: Path, sheet: str, trim: str, strip: str, size: str
) -> None:
    """Where only the width of strips beside a trim is in the way, nothing is said to be proved."""
    text = TRIMMED.format(sheet=sheet, trim=trim, strip=strip)
    made = no_plan(tmp_path, text + mat(size))
    assert not made.proved
    assert "once the trim is off; with a smaller trim, or none, it may do." in made.reasons[0]


def test_what_the_stock_lacks_is_told_with_its_unit(tmp_path: Path) -> None:
    """One sheet is there and two are needed; the size of what is missing has its unit."""
    sheets = 'sheets = [ { size = "32 x 40", on_hand = 1, buyable = false } ]\n'
    piece = mat("30 x 38").replace("qty = 1", "qty = 2")
    (said,) = reasons(tmp_path, '[[board]]\nname = "b"\n' + sheets + piece)
    assert "1 more sheet of 32 x 40 in" in said
