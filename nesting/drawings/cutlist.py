"""The cut list of a layout: each cut, or run of them, with number, setting, edge and parts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ..audit.case import Part, Step, part_of
from ..instructions import BY_EYE, Check, Instruction, is_by_eye, is_numbered
from ..lengths import format_length
from ..plan.model import Axis, BoardPlan, Layout, Leftover, LeftoverKind, PlacedPiece
from ..telling import at_most, first_off
from .flow import Gap, Item, Line, paragraph
from .labels import DETAIL, LONGEST_LABEL, Legend
from .lettering import CAP, LEADING, clean, elide, spelled, typeset, width, wrap
from .numbers import number_size, ring_width
from .page import Page
from .paper import Box
from .runs import Run
from .words import Measures

__all__ = ["NARROWEST", "CutRow", "cut_list", "key_list"]

NARROWEST = 167.0  # of a column, in points
SETTING, EDGE = 14.0, 10.0
TICK, TICK_PITCH = 9.0, 12.0
MOST_TICKS = 3  # a box for each copy up to this many, else one
VISIBLE = 3.2  # points of trim, of which half an outline and half a heavy cut cover two
RADIUS = 7.5
LONGEST_CHECKED = 90.0  # points, where it is to be measured
HEAD = 11.0
TURNS = {0: "", 1: "↺ ", -1: "↻ ", 2: "↺↺ "}
NO_WAY_BACK = "No way back from this cut on."
MOST_NAMED = 3  # parts of a run that are named one by one in its own line
MOST_LETTERED = 40  # letters, or runs of them, that stand in a row; more would hide the row
PENCIL = "Beyond the stop: mark it in pencil at both ends."
FINER = "Finer than the rule: from that edge cut off"


@dataclass(frozen=True, slots=True)
class CutRow:
    """One cut, or one run of equal cuts, as it stands in the list.

    Attributes
    ----------
    name
        The number of the cut, or ``72–83``.
    setting
        On the bench's rule.
    edge
        Which edge of the part lies against the stop, and how long it is.
    detail
        What it cuts, in one or more lines.
    ticks
        Boxes to mark that it is made: one for each copy.
    moved
        Whether the stop must be set anew.
    commits
        Whether there is no way back from here: then the row's own line is double.
    """

    name: str
    setting: str
    edge: str
    detail: tuple[str, ...]
    ticks: int
    moved: bool
    with_next: bool = False
    commits: bool = False

    @property
    def height(self) -> float:
        """How much of the column it takes."""
        return 3 + SETTING + 2 + len(self.detail) * DETAIL * LEADING + 2.5

    def draw(self, page: Page, left: float, top: float, width: float) -> None:
        """Draw it with its top left there."""
        page.line(left, top, left + width, top, 1.6 if self.moved else 0.4)
        base = top + 3 + SETTING
        middle = base - CAP * SETTING / 2
        for index in range(self.ticks):
            corner = left + 1 + index * TICK_PITCH
            page.box(Box(corner, middle - TICK / 2, TICK, TICK), 0.9)
        ring = Box(left + self.ticks * TICK_PITCH + 2, middle - RADIUS,
                   ring_width(self.name, RADIUS), 2 * RADIUS)  # fmt: skip
        page.ring(ring, self.name, number_size(RADIUS))
        page.text(ring.right + 6, base, typeset(self.setting), SETTING, bold=self.moved)
        page.text(left + width, base, typeset(self.edge), EDGE, align="right")
        for index, line in enumerate(self.detail):
            bold = self.commits and line == NO_WAY_BACK
            low = base + 2.5 + DETAIL * (1 + index * LEADING)
            page.text(left + 2, low, line, DETAIL, bold=bold)


def cut_list(
    layout: Layout, board: BoardPlan, measures: Measures, legend: Legend, room: float
) -> list[Item]:
    """Return what there is to do to a layout, for a column of that width."""
    items: list[Item] = []
    first = first_off(layout, board, measures.plan)
    for told_first in first:
        items += paragraph(told_first, room, HEAD, bold=True)
        items.append(Gap(5))
    if layout.cuts:
        items += _head(room)
        items += _rows(layout, board, measures, legend, room)
    else:
        none = "No more cuts: then it is done." if first else "No cuts: take it as it is."
        items += paragraph(none, room, HEAD, bold=True)
        for told in _uncut(layout, measures):
            items += paragraph(told, room, DETAIL)
    return items


def _rows(
    layout: Layout, board: BoardPlan, measures: Measures, legend: Legend, room: float
) -> tuple[Item, ...]:
    """Return the rows; the same ones where they have been asked for with the same marks."""
    marks = tuple(legend.marks.items())

    def written() -> tuple[Item, ...]:
        told = measures.instructions(layout, board)
        return tuple(_Rows(layout, measures, legend, room, told).of(measures.runs(layout, board)))

    return measures.kept((board.board, layout.id, room, marks), written)


def _head(room: float) -> list[Item]:
    line = Line(((0, "Cuts, in order", True),), HEAD, with_next=True)
    told = paragraph(
        "Lay the edge named, so long, against the stop. Bold: the stop moves."
        " ↺ ↻: turn the part a quarter first.",
        room,
        DETAIL,
        with_next=True,
    )
    return [line, *told, Gap(3)]


class _Rows:
    """Makes the rows of one layout."""

    def __init__(
        self,
        layout: Layout,
        measures: Measures,
        legend: Legend,
        room: float,
        told: Sequence[Instruction],
    ) -> None:
        self.layout, self.measures, self.room = layout, measures, room
        self.told = told
        self.names = _names(layout, measures, legend)
        self.labels = {part_of(piece): piece.label for piece in layout.pieces}
        self.places = _places(told)

    def of(self, gathered: Iterable[Run]) -> Iterator[CutRow]:
        """Yield a row for each run; a setting is marked where the stop has stood elsewhere."""
        for run in gathered:
            first = run.steps[0].cut.number - 1
            yield self._row(run, self.told[first : first + len(run.steps)])

    def _row(self, run: Run, told: Sequence[Instruction]) -> CutRow:
        cut = run.steps[0].cut
        setting = BY_EYE if told[0].by_eye else self.measures.length(cut.setting)
        if not told[0].by_stop:
            setting = f"mark {setting}"
        edge = f"{cut.stop.value}, {self.measures.length(cut.end - cut.start)}"
        commits = any(one.commits for one in told)
        detail = (
            *_exactly(run.steps[0], self.measures, self.room - 4),
            *([] if told[0].by_stop else wrap(PENCIL, self.room - 4, DETAIL)),
            *self._detail(run, told),
            *self._lettered(run, told),
            *self._checks(run, told),
            *([NO_WAY_BACK] if commits else []),
        )
        ticks = self._ticks(run.name, setting, edge)
        moved = told[0].moved
        return CutRow(run.name, setting, edge, detail, ticks, moved, commits=commits)

    def _ticks(self, name: str, setting: str, edge: str) -> int:
        """Return how many boxes there are: one where one for each copy is too many."""
        copies = self.layout.copies
        taken = ring_width(name, RADIUS) + width(typeset(setting), SETTING, True)
        taken += width(typeset(edge), EDGE) + 16
        fit = copies <= MOST_TICKS and taken + copies * TICK_PITCH <= self.room
        return copies if fit else 1

    def _detail(self, run: Run, told: Sequence[Instruction]) -> tuple[str, ...]:
        """Return ``C 32 × 20 → A1 + offcut 16 × 20`` on as many lines as it takes."""
        room = self.room - 4
        whole = self._whole(run, told)
        parts = list(self._given(run, told))
        told_parts = " + ".join(parts if len(parts) <= 2 else _counted(parts))
        if width(f"{whole} → {told_parts}", DETAIL) <= room:
            return (f"{whole} → {told_parts}",)
        if width(f"{whole} →", DETAIL) > room:
            return (*wrap(whole, room, DETAIL), *_one_a_line(("→", *_counted(parts)), room))
        if width(told_parts, DETAIL) <= room:
            return (f"{whole} →", told_parts)
        return (f"{whole} →", *_one_a_line(("", *_counted(parts)), room))

    def _given(self, run: Run, told: Sequence[Instruction]) -> Iterator[str]:
        """Yield what comes of a run; the two halves of a single cut by their own names."""
        if len(run.steps) > 1:
            yield from self._together(run, told)
            return
        for half, name in _halves(told[0]):
            yield self._half(half, name)

    def _together(self, run: Run, told: Sequence[Instruction]) -> Iterator[str]:
        """Yield what comes of many cuts; of the parts to be cut again, few of a size by letters."""
        for part in run.given:
            if part in self.names:
                label = self.labels.get(part, "")
                yield f"piece {label}" if is_numbered(label) else self.names[part]
        for size, named in self._given_letters(run, told).items():
            if len(named) <= MOST_NAMED:
                yield f"{', '.join(named)} {size}"
            else:
                yield from [size] * len(named)

    def _given_letters(self, run: Run, told: Sequence[Instruction]) -> dict[str, list[str]]:
        """Return, by their size, the letters of the parts that a run leaves to be cut again."""
        names = {half: name for one in told for half, name in _halves(one)}
        letters: dict[str, list[str]] = {}
        for part in run.given:
            if part not in self.names:
                letters.setdefault(_sized(part, self.measures), []).append(names[part])
        return letters

    def _lettered(self, run: Run, told: Sequence[Instruction]) -> Iterator[str]:
        """Yield the letters of a run's parts that its own line only counts, or passes over."""
        if len(run.steps) == 1:
            return
        cut = {one.step.part: one.part for one in told}
        between = [(cut[part], [cut[one] for one in again]) for part, again in run.between.items()]
        if run.times == 1:
            if len(between) > MOST_NAMED:
                yield from self._letters("cut:", [("", [letter for letter, _ in between])])
        elif len(between) == 1:
            yield from self._letters("in between:", [("", between[0][1])])
        else:
            each = [(f"of {letter}: ", again) for letter, again in between]
            yield from self._letters("in between,", each)
        for size, named in self._given_letters(run, told).items():
            if len(named) > MOST_NAMED:
                yield from self._letters(f"{size}:", [("", named)])

    def _letters(self, begin: str, groups: Sequence[tuple[str, Sequence[str]]]) -> tuple[str, ...]:
        """Return letters in lines, those that follow one another by their ends; few, if at all."""
        ranged = [(of, list(_ranges(named, self.places))) for of, named in groups]
        if sum(len(names) for _, names in ranged) > MOST_LETTERED:
            told = f"{sum(len(named) for _, named in groups)} letters, see cuts.csv"
        else:
            told = "; ".join(f"{of}{', '.join(names)}" for of, names in ranged)
        return wrap(f"{begin} {told}", self.room - 4, DETAIL)

    def _half(self, part: Part, name: str) -> str:
        """Return ``A1`` for a piece, or ``C 32 × 20`` for a part that is cut again."""
        finished = self.names.get(part)
        if finished is None:
            return f"{name} {_sized(part, self.measures)}"
        label = next((p.label for p in self.layout.pieces if part_of(p) == part), None)
        if label is None or finished != clean(label):
            return finished
        return clean(name)

    def _whole(self, run: Run, told: Sequence[Instruction]) -> str:
        """Return ``C 32 × 20``, or ``4 of 32 × 20, each 3 times``, with a turn before it."""
        size = _sized(run.taken[0], self.measures)
        number, times = len(run.taken), run.times
        letters = {one.step.part: one.part for one in told}
        named = ", ".join(letters[part] for part in run.taken)
        whole = f"{named} {size}" if number <= MOST_NAMED else f"{number} of {size}"
        turned = TURNS[told[0].turn] + whole
        if times == 1:
            return turned
        often = "twice" if times == 2 else f"{times} times"
        return f"{turned}, {often}" if number == 1 else f"{turned}, each {often}"

    def _checks(self, run: Run, told: Sequence[Instruction]) -> Iterator[str]:
        """Yield what to measure: sides that no stop set."""
        if len(told) == 1:
            for check in told[0].checks:
                yield from self._check(clean(check.name), check)
            return
        letters = {one.step.part: one.part for one in told}
        sides: dict[tuple[int, bool], dict[str, None]] = {}
        worst: dict[tuple[int, bool], Check] = {}
        for one in told:
            for check in one.checks:
                whole = next(part for part in run.taken if part.holds(one.step.part))
                key = (check.steps, check.is_width)
                sides.setdefault(key, {})[letters[whole]] = None
                worst[key] = max(worst.get(key, check), check, key=_off)
        across = told[0].cut.axis is Axis.X
        for key, named in sides.items():
            which = "the last of each" if key[1] is across else _out_of(list(named))
            yield from self._check(which, worst[key])

    def _check(self, name: str, check: Check) -> tuple[str, ...]:
        which = "wide" if check.is_width else "high"
        shown = elide(name, LONGEST_CHECKED, DETAIL)
        told = f"measure {shown}: should be {self.measures.length(check.steps)} {which}"
        exact = self.measures.exact(check.steps)
        told += f", exactly {exact}" if exact else ""
        if check.error is not None:
            told += f" ±{at_most(check.error, self.measures.unit)}"
        return wrap(told, self.room - 4, DETAIL)


def _off(check: Check) -> tuple[bool, Fraction]:
    """Return what is greater the less a side is known."""
    return check.error is None, Fraction(0) if check.error is None else check.error.mm


def _uncut(layout: Layout, measures: Measures) -> Iterator[str]:
    """Yield what to measure of a piece that is its source as it is: sides that nobody knows."""
    for piece in layout.pieces:
        sides = ((piece.across, piece.width, "wide"), (piece.down, piece.height, "high"))
        for made, steps, which in sides:
            if made is not None and made.error is None:
                label = elide(clean(piece.label), LONGEST_CHECKED, DETAIL)
                yield f"measure {label}: should be {measures.length(steps)} {which}"


def _out_of(letters: list[str]) -> str:
    """Return ``all of M``; of many parts only that there are some."""
    if len(letters) > MOST_NAMED:
        return f"all of {len(letters)} parts"
    return f"all of {', '.join(letters)}"


def _halves(one: Instruction) -> Iterator[tuple[Part, str]]:
    """Yield the halves of a cut that there are, each with its name."""
    for half, name in zip((one.step.first, one.step.second), one.names, strict=True):
        if half is not None and name is not None:
            yield half, name


def _places(told: Sequence[Instruction]) -> dict[str, int]:
    """Return where each letter of a layout's parts comes in their order."""
    divided = {one.step.part for one in told}
    lettered = (told[0].part, *(n for one in told for half, n in _halves(one) if half in divided))
    return {letter: place for place, letter in enumerate(dict.fromkeys(lettered))}


def _ranges(named: Sequence[str], places: dict[str, int]) -> Iterator[str]:
    """Yield letters one by one, and three or more that follow one another by their ends."""
    held: list[str] = []
    for letter in named:
        if held and places[letter] != places[held[-1]] + 1:
            yield from _ends(held)
            held = []
        held.append(letter)
    yield from _ends(held)


def _ends(held: list[str]) -> list[str]:
    return held if len(held) < 3 else [f"{held[0]}–{held[-1]}"]


def _counted(named: Iterable[str]) -> Iterator[str]:
    """Yield each name once, after the number of times that it comes."""
    for name, number in Counter(named).items():
        yield name if number == 1 else f"{number} of {name}"


def _one_a_line(parts: Iterable[str], room: float) -> Iterator[str]:
    """Yield the parts in lines, a sign before each; the first is what stands before the others."""
    sign, *rest = parts
    for part in rest:
        yield from wrap(f"{sign} {part}", room, DETAIL)
        sign = "+"


def _exactly(step: Step, measures: Measures, room: float) -> tuple[str, ...]:
    """Return the exact setting where the rule cannot show it, and what it cannot tell from none."""
    setting = step.cut.setting
    if is_by_eye(setting, measures.plan):
        return wrap(f"{FINER} {_fine(setting, measures)} by eye.", room, DETAIL)
    exact = measures.exact(setting)
    if not exact:
        return ()
    told = f"exactly {exact} ({measures.beside_mark(setting)})"
    low, high = step.part.along(step.cut.axis)
    strip = high - low - setting
    if strip > 0 and is_by_eye(strip, measures.plan):
        told += f": {_fine(strip, measures)} comes off"
    return wrap(told, room, DETAIL)


def _fine(steps: int, measures: Measures) -> str:
    return format_length(measures.step * steps, measures.unit, with_unit=True)


def _names(layout: Layout, measures: Measures, legend: Legend) -> dict[Part, str]:
    """Return what each finished part is: a piece's label, or what leftover it is and its size."""
    names = {part_of(left): f"{left.kind.value} {_size(left, measures)}"
             for left in layout.leftovers}  # fmt: skip
    shown = _labels({piece.label for piece in layout.pieces})
    for piece in layout.pieces:
        label = clean(piece.label)
        mark = legend.marks.get((spelled(piece.label), _size(piece, measures)))
        short = width(label, DETAIL) <= LONGEST_LABEL
        names[part_of(piece)] = label if short else mark or shown[piece.label]
    return names


def _labels(labels: Iterable[str]) -> dict[str, str]:
    """Return how each label is shown: elided if it is long, unless it looked like another then."""
    short = {label: elide(clean(label), LONGEST_LABEL, DETAIL) for label in labels}
    often = Counter(short.values())
    return {label: one if often[one] == 1 else clean(label) for label, one in short.items()}


def _size(item: PlacedPiece | Leftover, measures: Measures) -> str:
    return measures.size(item.width, item.height)


def _sized(part: Part, measures: Measures) -> str:
    return measures.size(part.right - part.left, part.bottom - part.top)


def key_list(layout: Layout, legend: Legend, room: float) -> list[Item]:
    """Return what the marks on the drawing mean, what solid grey is, and what is not shown."""
    lines: list[Item] = []
    shared = dict(legend.shared)
    for key in legend.keys:
        told = f"{key.title}  {key.size}".strip()
        told += f", on one of {shared[key.mark]}" if key.mark in shared else ""
        indent = max(24.0, width(key.mark, DETAIL) + 8)
        lines += paragraph(told, room, DETAIL, indent=indent, mark=key.mark)
    for told in (*_tags(legend), *_trim(layout, legend.scale), *_left_out(legend)):
        lines += paragraph(told, room, DETAIL)
    if not lines:
        return []
    return [Gap(10), Line(((0, "On the drawing", True),), HEAD, with_next=True), *lines]


def _tags(legend: Legend) -> Iterator[str]:
    if legend.tagged:
        yield "◂ C: part C; its stop lies that way."


def _trim(layout: Layout, scale: float) -> Iterator[str]:
    trims = [left for left in layout.leftovers if left.kind is LeftoverKind.TRIM]
    widest = max((min(trim.width, trim.height) * scale for trim in trims), default=0.0)
    if widest >= VISIBLE:
        yield "Solid grey is trim."
    elif trims:
        yield "Trim is too thin to show; its cuts are in the list."


def _left_out(legend: Legend) -> Iterator[str]:
    """Say what the drawing has no room for, and how to find it all the same."""
    marks = {key.mark for key in legend.keys}
    cuts = [text for text in legend.left_out if text not in marks]
    lost = [text for text in legend.left_out if text in marks]
    if cuts:
        one = len(cuts) == 1 and cuts[0].isdigit()
        told = "number of cut" if one else "numbers of cuts"
        yield f"No room for the {told} {', '.join(cuts)}: go by the sizes of the parts."
    if lost:
        yield f"No room beside every part for {', '.join(lost)}: go by the sizes."
