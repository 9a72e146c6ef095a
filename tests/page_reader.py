"""Cuts a sheet again from nothing but the printed words of its pages.

The rows are found in the PDF by where its words stand, and each is followed: the part it names,
turned as it says, the edge against the stop, the setting. What a row says of sizes must be what
the cut gives. Nothing of kerfwright is used.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from pdf_reader import Pdf, Said

Size = tuple[Fraction, Fraction]
AROUND = ("left", "top", "right", "bottom")
SMALL = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉⁄\u2009", "01234567890123456789/ ")
LENGTH = r"\d+(?:\.\d+)?(?: \d+/\d+)?|\d+/\d+"
EDGE = re.compile(rf"(left|top|right|bottom), ({LENGTH})")
SIZE = rf"(?P<width>{LENGTH}) × (?P<height>{LENGTH})"
WHOLE = re.compile(
    rf"(?P<turn>↺↺|↺|↻)? ?(?:(?P<names>[A-Z]{{1,2}}(?:, [A-Z]{{1,2}})*)|(?P<number>\d+) of) {SIZE}"
    r"(?:, (?:each )?(?P<times>twice|\d+ times))?"
)
LEFT = re.compile(rf"(?:(?P<number>\d+) of )?(?:offcut|slip sheet|scrap|trim) {SIZE}")
NAMED = re.compile(rf"(?P<names>[A-Z]{{1,2}}(?:, [A-Z]{{1,2}})*) {SIZE}")
UNNAMED = re.compile(rf"(?:(?P<number>\d+) of )?{SIZE}")
PIECES = re.compile(r"(?:(?P<number>\d+) of )?.+")
TURNS = {None: 0, "↺": 1, "↺↺": 2, "↻": 3}
NOT_THE_CUT = (
    r"^exactly .*?\)(?:: .*? comes off)? ", r"^Finer than the rule: .*? by eye\. ",
    r"Beyond the stop: mark it in pencil at both ends\. ",
    r"Beyond the stop: mark it in pencil at one end, and carry it square to the \w+ edge\. ",
    r"Mark it at both ends\. ",
    r"Make it square to the \w+ edge, by the squaring arm or a try square\. ",
    r"The blade runs beyond the mark: what was measured keeps its size\. ",
    r"Thin strip: hold down the wider part\. ", r" measure .*",
    r" No way back.*", r" in between[:,].*", r" cut: .*", rf" (?:{LENGTH}) × (?:{LENGTH}): .*",
)  # fmt: skip


SETTINGS, DETAILS = (14, 12), (9, 8)  # points, as the list is set or set smaller
LISTED = r"[A-Z]{1,2}(?:–[A-Z]{1,2})?(?:, [A-Z]{1,2}(?:–[A-Z]{1,2})?)*"
ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # without I and O, as the pages say


@dataclass(frozen=True)
class Row:
    """One row of a cut list, as printed."""

    setting: Fraction
    edge: str
    along: Fraction
    told: str


@dataclass
class Bench:
    """What lies there: parts by letter or, where a row gives none, by size; and what is done."""

    named: dict[str, tuple[Size, str]] = field(default_factory=dict)
    unnamed: list[tuple[Size, str]] = field(default_factory=list)
    pieces: Counter[Size] = field(default_factory=Counter)
    left: Counter[Size] = field(default_factory=Counter)
    lettered: int = 0  # rows whose parts were taken by the letters below them


def number(text: str) -> Fraction:
    """Return the number that ``20 1/2`` says."""
    return sum((Fraction(word) for word in text.split()), Fraction(0))


def size_of(match: re.Match[str]) -> Size:
    """Return a size that was read."""
    return number(match["width"]), number(match["height"])


def rows(pdf: Pdf, layout: str) -> list[Row]:
    """Return the rows of all pages of a layout, which stands bold at their top right."""
    found: list[Row] = []
    for content in pdf.pages():
        said = [
            Said(one.text.translate(SMALL), one.x, one.y, one.size, one.bold, one.upright)
            for one in pdf.said(content)
        ]
        if any(one.text == layout and one.size == 20 for one in said):
            found += _rows(said)
    return found


def _rows(said: list[Said]) -> Iterator[Row]:
    """Yield the rows of a page: column by column, each under the line with its edge."""
    heads = [one for one in said if EDGE.fullmatch(one.text)]
    placed = []
    for head in heads:
        left = [one for one in said if one.size in SETTINGS and one.x < head.x]
        beside = [one for one in left if abs(one.y - head.y) < 0.1]
        above = [one for one in left if 0 < one.y - head.y < 14]  # the edge has a line of its own
        setting = max(beside or above, key=lambda one: one.x)
        below = [one for one in said if 5 < head.y - one.y < 16 and one.size in DETAILS]
        below = [one for one in below if one.x < setting.x]
        column = max(one.x for one in below)  # further left is the drawing, or another column
        placed.append((column, head, setting))
    for column, head, setting in sorted(placed, key=lambda row: (row[0], -row[1].y)):
        following = [one.y for x, one, _ in placed if abs(x - column) < 1 and one.y < head.y]
        end = max(following, default=0.0)
        lines = [one for one in said if abs(one.x - column) < 0.6 and one.size in DETAILS]
        lines = [one for one in lines if end < one.y < head.y]
        told = " ".join(one.text for one in sorted(lines, key=lambda one: -one.y))
        edge = EDGE.fullmatch(head.text)
        assert edge is not None
        yield Row(number(setting.text.removeprefix("mark ")), edge[1], number(edge[2]), told)


@dataclass(frozen=True)
class Listed:
    """The letters that stand below a row: of the parts that it cuts, and of those that it gives.

    `between` is how many letters each of the parts has that are in between.
    """

    taken: tuple[str, ...]
    between: dict[str, int]
    given: dict[Size, tuple[str, ...]]


def listed(text: str, labels: frozenset[str]) -> Listed:
    """Return the letters that stand below a row; a letter that is a label of a piece is none."""
    cut_ = re.search(rf" cut: ({LISTED})", text)
    one_part = rf"of [A-Z]{{1,2}}: {LISTED}"
    of = re.search(rf" in between, ({one_part}(?:; {one_part})*)", text)
    each = re.findall(rf"of ([A-Z]{{1,2}}): ({LISTED})", of[1]) if of else []
    between = {name: len(spread(named, labels)) for name, named in each}
    given = {
        size_of(one): spread(one["listed"], labels)
        for one in re.finditer(rf" {SIZE}: (?P<listed>{LISTED})", text)
    }
    return Listed(spread(cut_[1], labels) if cut_ else tuple(between), between, given)


def spread(text: str, labels: frozenset[str]) -> tuple[str, ...]:
    """Return every letter that ``B, D, F–M`` says."""
    pairs = (one + other for one in ALPHABET for other in ALPHABET)
    letters = [name for name in (*ALPHABET, *pairs) if name not in labels]
    found: list[str] = []
    for one in text.split(", "):
        first, _, last = one.partition("–")
        begin = letters.index(first)
        found += letters[begin : letters.index(last) + 1] if last else [first]
    return tuple(found)


def cut(told: list[Row], sheet: Size, kerf: Fraction, labels: frozenset[str]) -> Bench:
    """Cut a sheet by the rows of its pages.

    Parameters
    ----------
    labels
        Of the layout's pieces, which no part is named by.
    """
    bench = Bench()
    for row in told:
        text = row.told.split(" On the drawing")[0]
        letters = listed(text, labels)
        for other in NOT_THE_CUT:
            text = re.sub(other, "", text)
        whole, made = text.split(" → ")
        again = WHOLE.fullmatch(whole)
        assert again is not None, whole
        parts = list(_taken(again, letters.taken, bench, sheet))
        times = {None: 1, "twice": 2}.get(again["times"]) or int(again["times"].split()[0])
        assert all(number in (times - 1, times) for number in letters.between.values())
        produced: list[Size] = []
        for size, lies in parts:
            assert size == size_of(again)
            turned = AROUND[(AROUND.index(lies) + TURNS[again["turn"]]) % 4]
            assert turned == row.edge
            assert row.along == (size[1] if row.edge in ("left", "right") else size[0])
            produced += _cut_off(size, row, times, kerf)
        _put(made.split(" + "), produced, row.edge, letters.given, bench)
    return bench


def _taken(
    told: re.Match[str], letters: tuple[str, ...], bench: Bench, sheet: Size
) -> Iterator[tuple[Size, str]]:
    """Yield the parts that a row names, or as many of their size as it says, by their letters."""
    if told["names"] is not None:
        for name in told["names"].split(", "):
            new = not (bench.named or bench.unnamed or bench.pieces or bench.left)
            yield (sheet, "left") if new else bench.named.pop(name)
        return
    if letters:
        bench.lettered += 1
        assert len(letters) == int(told["number"])
        yield from (bench.named.pop(name) for name in letters)
        return
    known = [name for name, part in bench.named.items() if part[0] == size_of(told)]
    found = [part for part in bench.unnamed if part[0] == size_of(told)]
    assert len(known) + len(found) == int(told["number"])
    yield from (bench.named.pop(name) for name in known)
    for part in found:
        bench.unnamed.remove(part)
        yield part


def _cut_off(size: Size, row: Row, times: int, kerf: Fraction) -> Iterator[Size]:
    """Yield what comes of a part that is pushed to the stop and cut so many times."""
    width, height = size
    for _ in range(times):
        if row.edge in ("left", "right"):
            yield row.setting, height
            width -= row.setting + kerf
        else:
            yield width, row.setting
            height -= row.setting + kerf
    if min(width, height) > 0:
        yield width, height


def _put(
    made: list[str],
    produced: list[Size],
    edge: str,
    letters: dict[Size, tuple[str, ...]],
    bench: Bench,
) -> None:
    """Put down what a row says comes of it; the sizes that it does not say are pieces."""
    rest = list(produced)
    pieces = 0
    for token in made:
        if left := LEFT.fullmatch(token):
            for _ in range(int(left["number"] or 1)):
                rest.remove(size_of(left))
                bench.left[size_of(left)] += 1
        elif named := NAMED.fullmatch(token):
            for name in named["names"].split(", "):
                rest.remove(size_of(named))
                assert name not in bench.named
                bench.named[name] = (size_of(named), edge)
        elif (unnamed := UNNAMED.fullmatch(token)) and size_of(unnamed) in letters:
            names = letters[size_of(unnamed)]
            assert len(names) == int(unnamed["number"] or 1)
            for name in names:
                rest.remove(size_of(unnamed))
                assert name not in bench.named
                bench.named[name] = (size_of(unnamed), edge)
        elif unnamed:
            for _ in range(int(unnamed["number"] or 1)):
                rest.remove(size_of(unnamed))
                bench.unnamed.append((size_of(unnamed), edge))
        else:
            finished = PIECES.fullmatch(token)
            assert finished is not None
            pieces += int(finished["number"] or 1)
    assert pieces == len(rest), (made, produced)
    bench.pieces.update(rest)
