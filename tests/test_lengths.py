"""Exact lengths: read, written, added, and laid on a common grid."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import any_lengths, lengths, sizes, units

from kerfwright.errors import RefusedValue
from kerfwright.lengths import (
    ISO_216,
    ZERO,
    Length,
    Size,
    Unit,
    common_step,
    format_length,
    format_size,
    parse_length,
    parse_size,
    parse_step,
    parse_unit,
    step_text,
)

INCH, MM, CM = Unit.INCH, Unit.MILLIMETRE, Unit.CENTIMETRE


def inches(number: int | str) -> Length:
    """Return a length in inches, given as ``129/8`` or ``16.125``."""
    return Length.of(Fraction(number), INCH)


def mm(number: int | str) -> Length:
    """Return a length in millimetres."""
    return Length.of(Fraction(number), MM)


# 16 1/8 in is 129/8 in; 413 mm and 41.3 cm are the same length.
READ = [
    ("16", "16"), ("16.125", "129/8"), ("16 1/8", "129/8"), ("16-1/8", "129/8"), ("1/2", "1/2"),
    ('16 1/8"', "129/8"), ("16 1/8 in", "129/8"), ("16 1/8in", "129/8"), ("16 inches", "16"),
    ("1 INCH", "1"), (".5", "1/2"), ("016", "16"), ("9/8", "9/8"), (" 16  1/8 ", "129/8"),
    # Kindnesses: fraction characters, typographic quotes and dashes, the fraction slash.
    ("16½", "33/2"), ("16 ¼", "65/4"), ("16-⅛", "129/8"), ("½", "1/2"), ("16⅞″", "135/8"),
    ("16”", "16"), ("16''", "16"), ("16–1/8", "129/8"), ("16 1⁄8", "129/8"),
    ("16\u00a01/8", "129/8"), ("2⅓", "7/3"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "number"), READ)
def test_lengths_in_inches_are_read_exactly(text: str, number: str) -> None:
    """Every accepted spelling gives the exact number of inches."""
    assert parse_length(text, INCH) == inches(number)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("413mm", "413"),
        ("41.3 cm", "413"),
        ("413.5 MM", "827/2"),
        ("1/2 cm", "5"),
        ("1 in", "25.4"),
    ],
)
def test_a_stated_unit_outweighs_the_files(text: str, number: str) -> None:
    """A length that carries its unit means the same in every file."""
    for unit in Unit:
        assert parse_length(text, unit) == mm(number)


@pytest.mark.parametrize(("unit", "number"), [(INCH, "406.4"), (MM, "16"), (CM, "160")])
def test_a_bare_number_takes_the_files_unit(unit: Unit, number: str) -> None:
    """16 is 16 in, 16 mm or 16 cm as the file says; 16 x 25.4 = 406.4."""
    assert parse_length("16", unit) == mm(number)
    assert parse_length(16, unit) == mm(number)
    assert parse_length(Decimal("16.0"), unit) == mm(number)


NO_LENGTHS: list[tuple[object, str]] = [
    ("0", "is zero"), ("0/8", "is zero"), (0, "is zero"), ("0.000", "is zero"),
    ("-5", "is negative"), ("−5", "is negative"), ("- 1/2", "is negative"), ("-½", "is negative"),
    (-5, "is negative"), (Decimal("-0.5"), "is negative"),
    ("nan", "is not a length"), (Decimal("nan"), "is not a length"), ("inf", "is not a length"),
    (Decimal("-Infinity"), "is not a length"), ("1e5", "is not a length"),
    (Decimal("1e5"), "is not a length"), ("1e-3", "is not a length"), ("+5", "is not a length"),
    ("sixteen", "is not a length"), ("16 - 1/8", "is not a length"), ("16.", "is not a length"),
    ("16.5 1/8", "is not a length"), ("1/2/3", "is not a length"), ("١٦", "is not a length"),
    ("16 20", "is not a length"), ("1 1/8 1/8", "is not a length"), ("", "is empty"),
    ("   ", "is empty"), ("16,5", "has a decimal comma"), ("1/0", "divides by zero"),
    ("16 1/0", "divides by zero"), ("16 9/8", "has a fraction of one or more"),
    ("16 8/8", "has a fraction of one or more"), ("16ft", "has an unknown unit 'ft'"),
    ("16'", "has an unknown unit"), ("2 m", "has an unknown unit 'm'"), ("401", "is over 10 m"),
    ("10000.001mm", "is over 10 m"), ("9" * 39, "is over 10 m"), ("9" * 41, "is too long"),
    ("9" * 1_000_000, "is too long"), ("1/" + "9" * 99_999, "is too long"),
    (10**5000, "over 40 digits"), (-(10**5000), "over 40 digits"), (True, "is not a length"),
    (None, "is not a length"), (1.5, "is not a length"), ([16], "is not a length"),
]  # fmt: skip


# Numbered, since the longest of them cannot stand in a test's name.
@pytest.mark.parametrize("number", range(len(NO_LENGTHS)))
def test_what_is_no_length_is_refused(number: int) -> None:
    """Each is refused with its own reason, the field's name and what would do."""
    value, problem = NO_LENGTHS[number]
    with pytest.raises(RefusedValue) as refusal:
        parse_length(value, INCH, "width")
    assert problem in refusal.value.problem
    assert refusal.value.field == "width"
    assert refusal.value.accepted
    assert len(str(refusal.value)) < 250


def test_ten_metres_are_the_most() -> None:
    """10 m exactly will do: 10000 mm, 1000 cm."""
    assert parse_length("10000mm", INCH) == parse_length("1000", CM) == mm(10_000)


def test_zero_will_do_where_it_is_asked_for() -> None:
    """A kerf or a trim may be zero."""
    assert parse_length("0", INCH, "kerf", zero=True) == ZERO
    assert parse_length(0, MM, "trim", zero=True) == ZERO


def test_a_decimal_comma_is_read_only_where_it_is_allowed() -> None:
    """With semicolons 16,5 is 16.5; 1.234,5 and 1,2,3 are no numbers in any file."""
    assert parse_length("16,5", CM, decimal_comma=True) == mm(165)
    assert parse_length("16.5", CM, decimal_comma=True) == mm(165)
    assert parse_size("40,5 x 50,5", CM, decimal_comma=True) == Size(mm(405), mm(505))
    for text in ("1.234,5", "1,2,3", ",5"):
        with pytest.raises(RefusedValue):
            parse_length(text, CM, decimal_comma=True)


@pytest.mark.parametrize("text", ["1.000", "16.125", "16.125 in", "999.999mm"])
def test_a_point_before_three_digits_may_mark_thousands(text: str) -> None:
    """Where commas are decimal signs it is refused with both readings; elsewhere it is decimal."""
    number = re.match(r"[0-9.]+", text)
    assert number is not None
    comma, none = number[0].replace(".", ","), number[0].replace(".", "")
    with pytest.raises(RefusedValue, match=f"thousands; write {comma} or {none}$"):
        parse_length(text, MM, decimal_comma=True)
    assert parse_length(text, MM) == parse_length(text.replace(".", ","), MM, decimal_comma=True)


@pytest.mark.parametrize("text", ["0.125", "16.12", "16.1250", "1234.567"])
def test_a_point_that_cannot_mark_thousands_is_a_decimal_point(text: str) -> None:
    """Thousands stand behind one to three digits, not all zero, and are three digits."""
    assert parse_length(text, MM, decimal_comma=True) == mm(text)


@pytest.mark.parametrize("word", ["mm", "Millimetres", "millimeter", "MM"])
def test_a_unit_has_several_names(word: str) -> None:
    """A unit may be spelled out, in either spelling, in a `unit` and behind a number."""
    assert parse_unit(word) is MM
    assert parse_length(f"25 {word}", CM) == mm(25)
    assert parse_unit("Inches") is parse_unit("inch") is INCH


def test_units_are_named_in_the_usual_spellings() -> None:
    """in, inches, mm and cm are units in any case; feet and nothing are not."""
    assert [parse_unit(text) for text in ("in", "Inches", " MM", "cm", '"')] == [
        INCH, INCH, MM, CM, INCH,
    ]  # fmt: skip
    for value in ("feet", "", None, 3):
        with pytest.raises(RefusedValue, match="write in, mm or cm"):
            parse_unit(value)


@pytest.mark.parametrize(
    ("text", "width", "height"),
    [
        ("16 x 20", inches(16), inches(20)),
        ("16x20", inches(16), inches(20)),
        ("16 X 20", inches(16), inches(20)),
        ("16×20", inches(16), inches(20)),
        ("16 by 20", inches(16), inches(20)),
        ("16 1/8 x 20-1/4", inches("129/8"), inches("81/4")),
        ("16½×20⅛", inches("33/2"), inches("161/8")),
        ('16" x 20"', inches(16), inches(20)),
        ("406mm x 508 mm", mm(406), mm(508)),
        ("16 in x 400mm", inches(16), mm(400)),
        # A unit at the end alone is meant for both, as people write it.
        ("40 x 50 cm", mm(400), mm(500)),
        ("1/2 x 50.5mm", mm("1/2"), mm("50.5")),
        # On the first number alone it is that number's: the other is bare.
        ("40 cm x 20", mm(400), inches(20)),
    ],
)
def test_two_lengths_make_a_size(text: str, width: Length, height: Length) -> None:
    """Every separator and mixture of units gives both sides exactly, in an inch file."""
    assert parse_size(text, INCH) == Size(width, height)


@pytest.mark.parametrize(
    ("value", "problem"),
    [
        ("16", "is not a size"), ("16 x", "is not a size"), ("x 20", "is not a size"),
        ("", "is empty"), ("16 x 20 x 3", "is not a size"), ("16*20", "is not a size"),
        (16, "is not a size"), (None, "is not a size"), (["16", "20"], "is not a size"),
        ("16 x " + "9" * 500, "is not a size"), ("large", "is not a size"),
        ("0 x 20", "has the side '0', which is zero"),
        ("16 x -20", "has the side '-20', which is negative"),
        ("16 x nan", "has the side 'nan', which is not a length"),
        ("16 x 20 ft", "has the side '20 ft', which has an unknown unit 'ft'"),
        ("16 x 2000", "has the side '2000', which is over 10 m"),
        ("16 x 20,5", "has the side '20,5', which has a decimal comma"),
        ("A11", "is not an ISO 216 size"), ("B-1", "is not a size"), ("C4", "is not an ISO 216"),
        ("A007", "is not an ISO 216 size"),
    ],
)  # fmt: skip
def test_what_is_no_size_is_refused(value: object, problem: str) -> None:
    """Each is refused with its own reason and what would do."""
    with pytest.raises(RefusedValue) as refusal:
        parse_size(value, INCH)
    assert problem in refusal.value.problem
    assert refusal.value.accepted
    assert len(str(refusal.value)) < 250


def test_a_size_is_longer_than_zero_both_ways() -> None:
    """A size made in code is refused like one in a file."""
    for width, height in ((ZERO, mm(5)), (mm(5), mm(-5))):
        with pytest.raises(RefusedValue, match="not longer than zero"):
            Size(width, height)


# ISO 216:2007, trimmed sizes; 0 to 6 of both series compared with an encyclopaedia's table and
# the paper appendix of an engraving manual, 7 to 10 from memory of the standard.
PUBLISHED = {
    "A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297),
    "A5": (148, 210), "A6": (105, 148), "A7": (74, 105), "A8": (52, 74), "A9": (37, 52),
    "A10": (26, 37), "B0": (1000, 1414), "B1": (707, 1000), "B2": (500, 707), "B3": (353, 500),
    "B4": (250, 353), "B5": (176, 250), "B6": (125, 176), "B7": (88, 125), "B8": (62, 88),
    "B9": (44, 62), "B10": (31, 44),
}  # fmt: skip


@pytest.mark.parametrize("name", PUBLISHED)
def test_iso_names_are_the_published_sizes(name: str) -> None:
    """Each name, in any case, is its published size, short side first, in any file."""
    short, long = PUBLISHED[name]
    for unit in Unit:
        assert parse_size(f" {name.lower()} ", unit) == Size(mm(short), mm(long))
    assert ISO_216[name] == (short, long)
    assert len(ISO_216) == len(PUBLISHED)


@pytest.mark.parametrize("series", ["A", "B"])
def test_each_iso_size_is_half_the_one_before(series: str) -> None:
    """ISO 216: halve the long side and drop the half millimetre; the other side stays."""
    for number in range(10):
        short, long = ISO_216[f"{series}{number}"]
        assert ISO_216[f"{series}{number + 1}"] == (long // 2, short)


def tolerance(side: int) -> float:
    """Return the tolerance of ISO 216 in mm: by length of side, as a print studio states it."""
    return 1.5 if side <= 150 else 2.0 if side <= 600 else 3.0


@pytest.mark.parametrize(("series", "area"), [("A", 1_000_000.0), ("B", 1_000_000 * math.sqrt(2))])
def test_iso_sizes_keep_their_ratio_within_the_standards_tolerance(
    series: str, area: float
) -> None:
    """Both sides lie within ±1.5, ±2 or ±3 mm of area / 2^n in the ratio 1 to the root of 2."""
    for number in range(11):
        short, long = ISO_216[f"{series}{number}"]
        ideal = math.sqrt(area / 2**number / math.sqrt(2))
        assert abs(short - ideal) <= tolerance(short)
        assert abs(long - ideal * math.sqrt(2)) <= tolerance(long)


@pytest.mark.parametrize(
    ("length", "unit", "text"),
    [
        (inches("129/8"), INCH, "16 1/8"), (inches("1/64"), INCH, "1/64"), (inches(16), INCH, "16"),
        (inches("16.1"), INCH, "16.1"), (inches("1/128"), INCH, "0.0078125"),
        (inches("16/3"), INCH, "5 1/3"), (inches("1/127"), INCH, "≈1/64"),
        (mm(413), MM, "413"), (mm("413.5"), MM, "413.5"), (mm("1/3"), MM, "1/3"),
        (mm("1/97"), MM, "≈0.01"), (mm(413), CM, "41.3"), (inches("129/8"), MM, "409.575"),
        (inches("1/64"), CM, "0.0396875"), (mm(1), INCH, "≈3/64"), (ZERO, INCH, "0"),
        (inches("-129/8"), INCH, "-16 1/8"), (mm("-1/2"), MM, "-0.5"),
    ],
)  # fmt: skip
def test_lengths_are_written_as_people_read_them(length: Length, unit: Unit, text: str) -> None:
    """Inches as fractions, the rest as decimals; 1 mm is 0.0394 in, or 2.52 of 64, so 3/64."""
    assert format_length(length, unit) == text


@pytest.mark.parametrize(
    ("length", "unit", "rule", "text"),
    [
        (inches("129/8"), INCH, inches("1/16"), "16 1/8"),
        (inches("16.1"), INCH, inches("1/16"), "≈16 1/8"),  # 16.1 x 16 = 257.6, so 258/16
        (mm(413), INCH, inches("1/16"), "≈16 1/4"),  # 413 / 25.4 = 16.2598, x 16 = 260.2
        (inches("1/32"), INCH, inches("1/16"), "≈1/16"),  # halfway goes to the longer
        (inches("1/64"), INCH, inches("1/16"), "under 1/16"),
        (inches("129/8"), MM, mm(1), "≈410"),  # 409.575
        (inches("129/8"), MM, mm("1/2"), "≈409.5"),
        (mm(413), MM, mm(1), "413"),
        (mm(413), CM, mm(1), "41.3"),
        (inches(1), MM, inches("1/16"), "25.4"),
        (mm(413), INCH, mm(1), "≈16 17/64"),  # a mark of the rule that inches cannot spell
    ],
)
def test_on_a_rule_the_nearest_mark_is_shown(
    length: Length, unit: Unit, rule: Length, text: str
) -> None:
    """What the rule cannot show exactly is marked, and only that."""
    assert format_length(length, unit, rule=rule) == text


def test_units_follow_where_they_are_asked_for() -> None:
    """A length or a size can carry its unit, and str() gives the simpler one."""
    assert format_length(inches("129/8"), INCH, with_unit=True) == "16 1/8 in"
    assert format_size(Size(inches(16), inches("20.5")), INCH) == "16 x 20 1/2"
    assert format_size(Size(mm(400), mm(500)), CM, with_unit=True) == "40 x 50 cm"
    assert format_size(Size(mm(400), mm(500)), MM, rule=mm(3)) == "≈399 x ≈501"
    assert str(Size(inches("129/8"), mm(413))) == "16 1/8 in x 413 mm"
    assert str(Size(inches(32), inches(40))) == "32 x 40 in"
    assert str(Size(inches("32.125"), inches("40.0625"))) == "32 1/8 x 40 1/16 in"
    assert str(Size(mm(406), mm(508))) == "406 x 508 mm"  # though 508 mm are 20 in
    assert str(Size(mm(300), mm("401.5"))) == "300 x 401.5 mm"
    assert str(Size(mm(254), mm(508))) == "10 x 20 in"


@given(lengths, units)
def test_a_length_written_exactly_reads_back_the_same(length: Length, unit: Unit) -> None:
    """Writing and reading lose nothing unless the text says that it is rounded."""
    text = format_length(length, unit)
    if text.startswith("≈"):
        assert parse_length(text[1:], unit, zero=True) != length
    else:
        assert parse_length(text, unit) == length
        assert parse_length(format_length(length, unit, with_unit=True), MM) == length


@given(lengths, st.sampled_from([inches("1/16"), inches("1/32"), mm(1), mm("1/2")]), units)
def test_a_rounded_length_is_off_by_half_a_mark_at_most(
    length: Length, rule: Length, unit: Unit
) -> None:
    """What is shown is within half a mark, and half of what the unit itself can spell.

    What is nearer to no mark at all is shown as being under the first.
    """
    text = format_length(length, unit, rule=rule)
    if text.startswith("under "):
        assert 0 < length.mm < rule.mm / 2
        assert text == f"under {format_length(rule, unit)}"
        return
    read = parse_length(text.removeprefix("≈"), unit, zero=True)
    finest = inches("1/64") if unit is INCH else mm("1/100")
    off = max(read - length, length - read)
    assert off <= (rule + finest) * Fraction(1, 2)
    on_the_rule = (length.mm / rule.mm).denominator == 1
    if text.startswith("≈"):
        assert not on_the_rule or format_length(length, unit).startswith("≈")
    else:
        assert on_the_rule
        assert read == length


@given(sizes, units)
def test_a_size_written_exactly_reads_back_the_same(size: Size, unit: Unit) -> None:
    """Both with the unit behind the second number and with bare numbers."""
    text = format_size(size, unit)
    if "≈" not in text:
        assert parse_size(text, unit) == size
        for other in Unit:
            assert parse_size(format_size(size, unit, with_unit=True), other) == size


@given(any_lengths, any_lengths, any_lengths)
def test_lengths_add_like_numbers(a: Length, b: Length, c: Length) -> None:
    """Addition is exact: associative, commutative, undone by subtraction, and keeps order."""
    assert (a + b) + c == a + (b + c)
    assert a + b == b + a
    assert (a + b) - b == a
    assert a + a + a == a * 3
    assert (a < b) == (a + c < b + c)


@pytest.mark.parametrize(
    ("length", "unit", "text"),
    [
        (inches("1/16"), INCH, "1/16 in"), (inches(4), INCH, "4 in"), (mm("1/80"), INCH, "1/80 mm"),
        (mm(1), INCH, "1 mm"), (mm(5), MM, "5 mm"), (inches("1/16"), MM, "1/16 in"),
        (mm(254), MM, "254 mm"), (mm(254), INCH, "10 in"), (mm("0.2"), INCH, "1/5 mm"),
        (mm(127), CM, "127 mm"), (inches("3/16"), CM, "3/16 in"),
    ],
)  # fmt: skip
def test_steps_are_spelled_in_the_simpler_unit(length: Length, unit: Unit, text: str) -> None:
    """The smaller denominator wins; where both are equal, the unit preferred."""
    assert step_text(length, unit) == text
    assert parse_step(text) == length


@given(lengths, units)
def test_a_step_reads_back_exactly(length: Length, unit: Unit) -> None:
    """step_text loses nothing, whatever the unit preferred."""
    assert parse_step(step_text(length, unit)) == length


@pytest.mark.parametrize(
    "text",
    ["", "1/16", "1/16in", "1/16  in", "0 in", "1/0 in", "0/5 mm", "-1 mm", "1.5 mm", "1 1/2 in",
     "1 ft", "1/16 in ", "9" * 50 + " mm", 16, None],
)  # fmt: skip
def test_what_is_no_step_is_refused(text: object) -> None:
    """A step is written one way only: ``n unit`` or ``n/d unit``."""
    with pytest.raises(RefusedValue, match="is not a step"):
        parse_step(text)


@pytest.mark.parametrize(
    ("given_lengths", "step"),
    [
        ([inches(16), inches(20), inches(32), inches(40)], inches(4)),
        ([inches(16), ZERO, inches("1/8")], inches("1/8")),
        ([inches("129/8"), inches(20)], inches("1/8")),
        # 297 mm and 25.4 mm: 2970/10 and 254/10, and gcd(2970, 254) = 2.
        ([mm(297), inches(1)], mm("1/5")),
        ([inches("1/3"), inches("1/2")], inches("1/6")),
        ([mm(7)], mm(7)),
    ],
)
def test_the_common_step_worked_by_hand(given_lengths: list[Length], step: Length) -> None:
    """The grid of a few lengths whose common divisor is plain."""
    assert common_step(given_lengths) == step


def test_no_lengths_have_no_common_step() -> None:
    """Zeros alone lie on every grid, so that none is the coarsest."""
    with pytest.raises(ValueError, match="no length"):
        common_step([ZERO, ZERO])


@given(st.lists(lengths, min_size=1, max_size=8))
def test_the_common_step_divides_each_and_nothing_coarser_does(found: list[Length]) -> None:
    """Each length is a whole number of steps, and those numbers have no common divisor."""
    step = common_step(found)
    assert math.gcd(*(length.steps(step) for length in found)) == 1


@given(st.lists(lengths, min_size=1, max_size=5), st.lists(lengths, min_size=1, max_size=5))
def test_common_steps_can_be_taken_in_any_grouping(a: list[Length], b: list[Length]) -> None:
    """The step of all is the step of the steps of the parts."""
    assert common_step([*a, *b]) == common_step([common_step(b), common_step(a)])


def test_steps_are_counted_exactly() -> None:
    """16 1/8 in is 258 sixteenths, and no whole number of millimetres."""
    assert inches("129/8").steps(inches("1/16")) == 258
    with pytest.raises(ValueError, match="16 1/8 in is not a whole number of 1 mm"):
        inches("129/8").steps(mm(1))


@pytest.mark.parametrize(
    ("outer", "smaller_by", "left"),
    [
        # A ready-cut mat's window is 1/2 in smaller overall (a frame supplier's sizing page).
        ("11 x 14", "1/2", "10 1/2 x 13 1/2"),
        # An under-mat's blank is cut 1/4 in smaller overall (a cutter maker's double-mat page).
        ("11 x 14", "1/4", "10 3/4 x 13 3/4"),
        # A frame's contents are 1/8 in under the rabbet (a workshop's and a supplier's pages).
        ("16 x 20", "1/8", "15 7/8 x 19 7/8"),
    ],
)
def test_published_allowances_come_out_on_the_rule(outer: str, smaller_by: str, left: str) -> None:
    """Sizes that trade pages work out by fractions are what the arithmetic here prints."""
    size, less = parse_size(outer, INCH), parse_length(smaller_by, INCH)
    assert format_size(Size(size.width - less, size.height - less), INCH) == left


def test_a_published_border_worked_out() -> None:
    """A photographer's page (2010): a 12 x 18 image in an 18 x 24 frame, 1/8 overlap a side.

    The window is 11 3/4 x 17 3/4, and (18 - 11 3/4) / 2 = (24 - 17 3/4) / 2 = 3 1/8.
    """
    overlap = parse_length("1/8", INCH) * 2
    for image, frame in (("12", "18"), ("18", "24")):
        window = parse_length(image, INCH) - overlap
        border = (parse_length(frame, INCH) - window) * Fraction(1, 2)
        assert format_length(border, INCH, rule=inches("1/16")) == "3 1/8"
