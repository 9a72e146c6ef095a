"""Spoilt order files: each is refused with its own message, and all its faults at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from kerfwright import load_order
from kerfwright.errors import InputError

BAD = Path(__file__).parent / "data" / "bad"

# Each file's faults in order, without the file's name in front and, unless it suggests a name,
# without the advice behind.
FAULTS: dict[str, tuple[str, ...]] = {
    "bad-rule.toml": ("line 1: rule 'fine' is not a length",),
    "bad-unit.toml": ("line 1: unit 'feet' is not a unit",),
    "binary.csv": ("is not text but something binary",),
    "blank.csv": ("is empty",),
    "board-empty.toml": ("line 5: board is empty",),
    "board-in-capitals.csv": ("row 3, cell E3: board 'rag' is spelled 'Rag' on row 2",),
    "board-in-capitals.toml": ("line 9: board 'RAG' is spelled 'rag' on line 2",),
    "board-is-a-number.toml": ("line 5: board '3' is a number, not text",),
    "board-missing.toml": ("line 1: board is missing",),
    "board-twice.toml": ("line 5: name 'rag' names a board described already, on line 2",),
    "board-unnamed.toml": ("line 1: name is missing",),
    "buffered-word.toml": ("line 3: buffered 'partly' is neither yes nor no",),
    "cells-extra.csv": (
        "row 2: has 6 cells where the header names 5 columns",
        "row 2, cell D2: size '16' is not a size",
    ),
    "cells-missing.csv": (
        "row 2, cell D2: size is missing",
        "row 2, cell E2: board is missing",
    ),
    "coarse-rule.toml": ("line 1: rule '16' is coarser than any bench rule",),
    "column-misnamed.csv": (
        "row 1: has no column qty",
        "row 1, cell C1: column 'quantity' is not known; did you mean qty?",
    ),
    "column-missing.csv": ("row 1: has no column board",),
    "column-twice.csv": ("row 1: has two columns qty",),
    "column-unknown.csv": ("row 1, cell F1: column 'colour' is not known",),
    "column-unnamed.csv": ("row 2, cell F2: 'white' stands under no column name",),
    "date-iso.csv": (
        "row 2, cell D2: width '2026-01-02' is a date, which spreadsheets make of fractions",
    ),
    "date-month.csv": (
        "row 2, cell E2: height '16-Jan' is a date, which spreadsheets make of fractions",
    ),
    "date-slashes.csv": (
        "row 2, cell D2: size '1/16/2026' is a date, which spreadsheets make of fractions",
    ),
    "decimal-comma.csv": (
        "row 2, cell D2: size '16,5 x 20' has the side '16,5', which has a decimal comma",
    ),
    "decimal-or-thousands.csv": (
        "row 2, cell C2: qty '1.000' may be read with a decimal point or with a sign for thousands",
        "row 2, cell D2: size '16.125 x 20' has the side '16.125', which has a point that may mark "
        "a decimal or thousands",
        "row 3, cell C3: qty '12.000' may be read with a decimal point or with a sign for "
        "thousands",
        "row 3, cell D3: size '0,5 x 1.000 mm' has the side '1.000 mm', which has a point that may "
        "mark a decimal or thousands",
    ),
    "deep-lists.toml": ("holds lists within lists beyond reason",),
    "empty.csv": ("is empty",),
    "empty.toml": ("is empty",),
    "empty.xlsx": ("is empty",),
    "grade-misspelled.toml": ("line 3: grade 'coton' is not a known grade; did you mean cotton?",),
    "grade-unknown.toml": ("line 3: grade 'museum' is not a known grade",),
    "grid-too-fine.toml": (
        "line 4: size '16.00000001 x 20' would need, beside the other lengths, more than 67,108,864"
        " steps to a sheet's side",
    ),
    "header-only.csv": ("orders no pieces",),
    "height-column-missing.csv": ("row 1: has no column height",),
    "huge-number.toml": ("holds a number of thousands of digits",),
    "keep-one-number.toml": ("line 3: keep '8' is not a size",),
    "kerf-exponent.toml": ("line 3: kerf '1e-1' is not a plain number",),
    "kerf-in-mm.toml": ("line 3: kerf '3 in' is wider than any saw blade",),
    "kerf-negative.toml": ("line 3: kerf '-1' is negative",),
    "key-twice.toml": ("line 4: 'qty = 7' is not TOML: the same key is given twice",),
    "kind-misspelled.csv": ("row 2, cell B2: kind 'matt' is not a known kind; did you mean mat?",),
    "kind-unknown.csv": ("row 2, cell B2: kind 'frame' is not a known kind",),
    "label-empty.toml": ("line 2: label is empty",),
    "label-is-true.toml": ("line 2: label 'true' is true or false, not text",),
    "label-missing.toml": ("line 1: label is missing",),
    "label-too-long.toml": (
        "line 2: label 'AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA…' is "
        "too long to print",
    ),
    "label-turns-direction.toml": (
        "line 2: label 'A\\u202eB' holds the unprintable character U+202E",
    ),
    "label-twice.csv": ("row 4, cell A4: label 'A' is used already, on row 2",),
    "label-twice.toml": ("line 8: label 'A' is used already, on line 2",),
    "label-unprintable.toml": ("line 2: label 'A\\x07' holds the unprintable character U+0007",),
    "latin-1.csv": ("row 3: is not UTF-8 text",),
    "latin-1.toml": ("line 2: is not UTF-8 text",),
    "list-left-open.toml": ("line 5: '[[mat]]' is not TOML: a list is opened and not closed",),
    "measured-one-number.toml": ("line 3: measured '32' is not a size",),
    "measured-turned.toml": (
        "line 3: measured '40 x 32 in' is more than 2 in off the 32 x 40 in sheet",
    ),
    "reach-zero.toml": ("line 3: reach '0' is zero",),
    "repeatability-wide.toml": ("line 3: repeatability '1 in' is more than any stop is out",),
    "rule-class-unknown.toml": ("line 3: rule_class 'IV' is not a known rule_class",),
    "squares-word.toml": ("line 3: squares 'often' is neither yes nor no",),
    "tool-kind-misspelled.toml": (
        "line 3: kind 'tabel saw' is not a known kind; did you mean table saw?",
    ),
    "tool-kind-unknown.toml": ("line 3: kind 'laser' is not a known kind",),
    "longest-cut-zero.toml": ("line 3: longest_cut '0' is zero",),
    "mat-is-a-list-of-words.toml": (
        "line 1: mat 'A' is not a table",
        "line 1: mat 'B' is not a table",
    ),
    "name-is-a-list.toml": ("line 1: name '[…]' is a list, not text",),
    "narrowest-strip-negative.toml": ("line 3: narrowest_strip '-1/2' is negative",),
    "no-header.csv": ("row 1: does not name the columns",),
    "no-pieces.toml": ("orders no pieces",),
    "no-turn-number.toml": ("line 3: no_turn '0' is neither yes nor no",),
    "not-buyable-none-on-hand.toml": ("line 3: on_hand is missing though buyable is false",),
    "not-toml.toml": (
        "line 1: 'label,kind,qty,size,board' is not TOML: the line is neither a [[header]"
        "] nor a key = value",
    ),
    "offcut-board-misspelled.toml": (
        "line 4: offcut '7' lies on a board 'Rag' that is not described or named; did you"
        " mean rag?",
    ),
    "offcut-id-twice.toml": ("line 9: id '7' is another offcut of the same board too, on line 4",),
    "offcut-of-unknown-board.toml": (
        "line 4: offcut '7' lies on a board 'foam' that is not described or named",
    ),
    "offcut-size-zero.toml": ("line 3: size '0 x 32' has the side '0', which is zero",),
    "offcut-without-id.toml": ("line 1: id is missing",),
    "old-workbook.csv": ("is an old workbook, whatever its name says",),
    "on-hand-half.toml": ("line 3: on_hand '1.5' is not a whole number",),
    "on-hand-negative.toml": ("line 3: on_hand '-1' is negative",),
    "only-comments.toml": ("orders no pieces",),
    "order": ("has no suffix to say what it is",),
    "order.txt": ("is a .txt file",),
    "order.xls": ("is a .xls file",),
    "password.xlsx": ("is protected by a password, or is an old workbook",),
    "price-comma.toml": ("line 3: price '21,50' has a comma",),
    "price-currency.toml": ("line 3: price '21.50 EUR' is not a plain number",),
    "price-decimals.toml": ("line 3: price '1.23456' has over nine digits, or over four decimals",),
    "price-digits.toml": (
        "line 3: price '12345678901' has over nine digits, or over four decimals",
    ),
    "price-nan.toml": ("line 3: price 'nan' is not a plain number",),
    "price-negative.toml": ("line 3: price '-1' is negative",),
    "price-true.toml": ("line 3: price 'true' is not a price",),
    "price-word.toml": ("line 3: price 'cheap' is not a plain number",),
    "price-zero.toml": ("line 3: price '0' is zero",),
    "qty-absurd.toml": ("line 3: qty '1000001' is over 1,000,000",),
    "qty-date.toml": ("line 3: qty '2026-01-16' is not a whole number",),
    "qty-half.toml": ("line 3: qty '2.5' is not a whole number",),
    "qty-infinite.toml": ("line 3: qty 'inf' is not a plain number",),
    "qty-list.toml": ("line 3: qty '[…]' is not a whole number",),
    "qty-missing.toml": ("line 1: qty is missing",),
    "qty-negative.toml": ("line 3: qty '-3' is negative",),
    "qty-true.toml": ("line 3: qty 'true' is not a whole number",),
    "qty-word.csv": ("row 2, cell C2: qty 'six' is not a whole number",),
    "qty-word.toml": ("line 3: qty 'six' is not a whole number",),
    "qty-zero.toml": ("line 3: qty '0' is zero",),
    "quotes-left-open.toml": (
        "line 2: 'label = \"A' is not TOML: quotes are opened and not closed",
    ),
    "quotes.csv": ("row 2: has quotes that do not match",),
    "sheet-size-twice.toml": ("line 3: sheets '32 x 40 in' is listed twice",),
    "sheet-without-size.toml": ("line 3: size is missing",),
    "sheets-empty.toml": ("line 3: sheets '[…]' is an empty list",),
    "sheets-number.toml": ("line 3: sheets '32' is a number, not a size",),
    "single-brackets.toml": ("line 1: mat '{…}' is a table, not a list of tables",),
    "six-faults.toml": (
        "line 1: unit 'furlong' is not a unit",
        "line 5: qty '0' is zero",
        "line 6: size '16 x' is not a size",
        "line 9: size is missing",
        "line 10: label 'A' is used already, on line 4",
        "line 13: sise is not known in [[mat]]; did you mean size?",
        "line 14: turn 'maybe' is neither yes nor no",
    ),
    "size-and-width.csv": ("row 2, cell E2: width '16' stands beside a size",),
    "size-date.toml": ("line 4: size '2026-01-16' is not a size",),
    "size-decimal-comma.toml": (
        "line 4: size '16,5 x 20' has the side '16,5', which has a decimal comma",
    ),
    "size-divides-by-zero.toml": (
        "line 4: size '16 1/0 x 20' has the side '16 1/0', which divides by zero",
    ),
    "size-empty.toml": ("line 4: size is empty",),
    "size-exponent.toml": ("line 4: size '1e1 x 20' has the side '1e1', which is not a length",),
    "size-feet.toml": (
        "line 4: size '2 ft x 3 ft' has the side '2 ft', which has an unknown unit 'ft'",
    ),
    "size-infinite.toml": ("line 4: size '16 x inf' has the side 'inf', which is not a length",),
    "size-long.toml": ("line 4: size '111111111111111111111111111111111111111…' is not a size",),
    "size-missing.toml": ("line 1: size is missing",),
    "size-nan.toml": ("line 4: size 'nan x 20' has the side 'nan', which is not a length",),
    "size-negative.toml": ("line 4: size '16 x -20' has the side '-20', which is negative",),
    "size-number.toml": ("line 4: size '16' is not a size",),
    "size-one-number.toml": ("line 4: size '16' is not a size",),
    "size-over-10-m.toml": ("line 4: size '16 x 400' has the side '400', which is over 10 m",),
    "size-table.toml": ("line 4: size '{…}' is not a size",),
    "size-three-numbers.toml": ("line 4: size '16 x 20 x 1' is not a size",),
    "size-top-heavy.toml": (
        "line 4: size '16 9/8 x 20' has the side '16 9/8', which has a fraction of one or more",
    ),
    "size-unknown-iso.toml": ("line 4: size 'A11' is not an ISO 216 size",),
    "size-without-quotes.toml": (
        "line 4: 'size = 16 x 20' is not TOML: the value is not in quotes, or something follows it",
    ),
    "size-zero.toml": ("line 4: size '0 x 20' has the side '0', which is zero",),
    "tabs.csv": ("is separated by tabs",),
    "text.xlsx": ("is no XLSX workbook, whatever its name says",),
    "thickness-is-a-ply.toml": ("line 3: thickness '4 in' is no board's",),
    "thousands.csv": (
        "row 2, cell D2: size '1.234,5 x 20' has the side '1.234,5', which is not a length",
    ),
    "tool-misspelled.toml": (
        "line 7: tool 'tabel saw' is described nowhere; did you mean table saw?",
    ),
    "tool-not-chosen.toml": (
        "line 7: board 'rag' has no tool, and several are described",
        "line 21: board 'foam' has no tool, and several are described",
    ),
    "tool-nowhere.toml": ("line 3: tool 'saw' is described nowhere",),
    "tool-twice.toml": ("line 5: name 'saw' names a tool described already, on line 2",),
    "tool-unnamed.toml": ("line 1: name is missing",),
    "trim-eats-the-sheet.toml": ("line 3: trim leaves nothing of the 32 x 40 in sheet",),
    "trim-negative.toml": ("line 3: trim '-1' is negative",),
    "trim-thinner-than-kerf.toml": (
        "line 8: trim '1/16 in' (left) is thinner than the 1/8 in kerf of 'saw'",
    ),
    "trim-unknown-edge.toml": ("line 3: bottem is not known in trim; did you mean bottom?",),
    "trim-word.toml": ("line 3: trim 'some' is not a length",),
    "turn-maybe.csv": ("row 2, cell F2: turn 'maybe' is neither yes nor no",),
    "turn-maybe.toml": ("line 6: turn 'maybe' is neither yes nor no",),
    "turn-number.toml": ("line 6: turn '1' is neither yes nor no",),
    "unit-is-a-number.toml": ("line 1: unit '1' is not a unit",),
    "unit-too-late.toml": ("line 6: unit is not known in [[mat]]",),
    "unit-unknown.csv": ("row 2, cell F2: unit 'yd' is not a unit",),
    "unknown-board-key.toml": (
        "line 3: colour is not known in [[board]]",
        "line 4: thicknes is not known in [[board]]; did you mean thickness?",
    ),
    "unknown-key.toml": (
        "line 1: title is not known in an order file",
        "line 2: nam is not known in an order file; did you mean name?",
    ),
    "unknown-offcut-key.toml": ("line 5: shelf is not known in [[offcut]]",),
    "unknown-piece-key.toml": (
        "line 6: colour is not known in [[mat]]",
        "line 7: quantity is not known in [[mat]]; did you mean qty?",
    ),
    "unknown-sheet-key.toml": ("line 3: cost is not known in sheets; did you mean price?",),
    "unknown-table.toml": ("line 1: mats is not known in an order file; did you mean mat?",),
    "unknown-tool-key.toml": ("line 3: blade is not known in [[tool]]; did you mean kerf?",),
    "utf-16.csv": ("is UTF-16 text",),
    "utf-16.toml": ("is UTF-16 text",),
    "word-without-quotes.toml": ("line 2: 'label = A' is not TOML: the value is not in quotes",),
    "workbook.csv": ("is a workbook or a zip file, whatever its name says",),
    "zip.xlsx": ("is damaged, or no XLSX workbook",),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_spoilt_file_is_refused_with_its_message(name: str) -> None:
    """The file is refused with exactly these faults, each with advice, on one line and short."""
    with pytest.raises(InputError) as refusal:
        load_order(BAD / name)
    faults = refusal.value.faults
    assert len(faults) == len(FAULTS[name])
    for fault, told in zip(faults, FAULTS[name], strict=True):
        assert f"{told}; " in f"{fault}; "
        assert fault.accepted
        assert fault.where.startswith((name, str(BAD / name)))
        assert "\n" not in str(fault)
        assert len(str(fault)) < 330


def test_every_spoilt_file_is_listed() -> None:
    """No file lies in the folder unchecked."""
    assert {path.name for path in BAD.iterdir()} == set(FAULTS)


def test_faults_of_two_files_are_told_together() -> None:
    """A fault in the order and one in the stock come in one refusal, the order's first."""
    with pytest.raises(InputError) as refusal:
        load_order(BAD / "qty-half.toml", stock=BAD / "kerf-negative.toml")
    assert [fault.where for fault in refusal.value.faults] == [
        "qty-half.toml, line 3",
        "kerf-negative.toml, line 3",
        "kerf-negative.toml, line 5",
    ]
    assert "[[mat]] does not belong in a stock file" in str(refusal.value)


def test_what_is_not_there_cannot_be_read(tmp_path: Path) -> None:
    """A missing file, a folder and a missing stock file are said as such, by their whole path."""
    missing = tmp_path / "missing.toml"
    with pytest.raises(InputError) as refusal:
        load_order(missing, stock=tmp_path)
    assert str(refusal.value).splitlines() == [
        f"{missing}: does not exist; give an order as a .toml, .csv or .xlsx file",
        f"{tmp_path}: is a folder; give the stock as a .toml file",
    ]


def test_stock_is_toml(tmp_path: Path) -> None:
    """Boards and tools cannot be given as rows."""
    rack = tmp_path / "rack.csv"
    rack.write_text("board\nrag\n")
    with pytest.raises(InputError, match=r"is a \.csv file; give the stock as a \.toml file"):
        load_order(BAD.parent / "good" / "order.toml", stock=rack)


def test_an_order_too_large_is_refused_unread(tmp_path: Path) -> None:
    """Something of 33 MB is no order."""
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(33 * 2**20)
    with pytest.raises(InputError, match="over 32 MB"):
        load_order(path)


def test_a_unit_asked_for_must_be_one() -> None:
    """What a caller asks for is checked like what a file states."""
    with pytest.raises(InputError, match="--unit: unit 'yd' is not a unit; write in, mm or cm"):
        load_order(BAD.parent / "good" / "order.toml", unit="yd")
