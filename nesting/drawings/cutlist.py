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
from ..telling import UNBROKEN, at_most, first_off, often
from .flow import Gap, Item, Line, paragraph
from .labels import DETAIL, LONGEST_LABEL, Legend
from .lettering import CAP, LEADING, clean, elide, spelled, typeset, width, wrap
from .numbers import number_size, ring_width
from .page import Page
from .paper import Box
from .runs import Run
from .words import Measures

__all__ = ["DENSE", "USUAL", "CutRow", "Look", "cut_list", "cut_rows", "key_list"]

BESIDE = 12.0  # of a row's width, what keeps ring, setting and edge apart
MOST_TICKS = 3  # a box for each copy up to this many, else one
VISIBLE = 3.2  # points of trim, of which half an outline and half a heavy cut cover two
LONGEST_CHECKED = 90.0  # points, where it is to be measured
TURNS = {0: "", 1: "↺ ", -1: "↻ ", 2: "↺↺ "}
NO_WAY_BACK = "No way back from this cut on."
MOST_NAMED = 3  # parts of a run that are named one by one in its own line
MOST_LETTERED = 40  # letters, or runs of them, that stand in a row; more would hide the row
PENCIL = "Beyond the stop: mark it in pencil at both ends."
FINER = "Finer than the rule: from that edge cut off"


@dataclass(frozen=True, slots=True)
class Look:
    """How large the list is set, in points.

    Attributes
    ----------
    narrowest
        The narrowest column that it is set in.
    setting, edge, detail, head
        Type of a row's setting, of its edge, of what stands below them, and of headings.
    radius
        Of the ring with the cut's number.
    tick, pitch
        The box to tick, and from one to the next.
    above, below
        What a row is set off by.
    running
        Whether what the marks on the drawing mean follows one another, not a line each.
    """

    narrowest: float
    setting: float
    edge: float
    detail: float
    head: float
    radius: float
    tick: float
    pitch: float
    above: float
    below: float
    running: bool = False


USUAL = Look(167.0, 14.0, 10.0, DETAIL, 11.0, 7.5, 9.0, 12.0, 3.0, 4.5)
# Read at arm's length still; taken where it keeps a layout on one page.
DENSE = Look(150.0, 12.0, 9.0, 8.0, 10.0, 6.5, 8.0, 10.5, 2.0, 3.5, running=True)


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
        Whether there is no way back from here.
    edge_below
        Whether the edge stands in a line of its own, as beside the setting it has no room.
    """

    name: str
    setting: str
    edge: str
    detail: tuple[str, ...]
    ticks: int
    moved: bool
    with_next: bool = False
    commits: bool = False
    look: Look = USUAL
    edge_below: bool = False

    @property
    def height(self) -> float:
        """How much of the column it takes."""
        look = self.look
        set_off = look.above + look.below + self._edge_line
        return look.setting + len(self.detail) * look.detail * LEADING + set_off

    @property
    def _edge_line(self) -> float:
        return self.look.edge * LEADING if self.edge_below else 0.0

    def draw(self, page: Page, left: float, top: float, width: float) -> None:
        """Draw it with its top left there."""
        look = self.look
        page.line(left, top, left + width, top, 1.6 if self.moved else 0.4)
        base = top + look.above + look.setting
        middle = base - CAP * look.setting / 2
        for index in range(self.ticks):
            corner = left + 1 + index * look.pitch
            page.box(Box(corner, middle - look.tick / 2, look.tick, look.tick), 0.9)
        ring = Box(left + self.ticks * look.pitch + 2, middle - look.radius,
                   ring_width(self.name, look.radius), 2 * look.radius)  # fmt: skip
        page.ring(ring, self.name, number_size(look.radius))
        page.text(ring.right + 6, base, typeset(self.setting), look.setting, bold=self.moved)
        base += self._edge_line
        page.text(left + width, base, typeset(self.edge), look.edge, align="right")
        for index, line in enumerate(self.detail):
            bold = self.commits and line == NO_WAY_BACK
            low = base + 2.5 + look.detail * (1 + index * LEADING)
            page.text(left + 2, low, line, look.detail, bold=bold)


def cut_list(
    layout: Layout,
    board: BoardPlan,
    measures: Measures,
    legend: Legend,
    room: float,
    look: Look = USUAL,
) -> list[Item]:
    """Return what there is to do to a layout, for a column of that width."""
    items: list[Item] = []
    first = first_off(layout, board, measures.plan)
    for told_first in first:
        items += paragraph(told_first, room, look.head, bold=True)
        items.append(Gap(5))
    if layout.cuts:
        items += _head(room, look)
        items += cut_rows(layout, board, measures, legend, room, look)
    else:
        none = "No more cuts: then it is done." if first else "No cuts: take it as it is."
        items += paragraph(none, room, look.head, bold=True)
        for told in _uncut(layout, measures):
            items += paragraph(told, room, look.detail)
    return items


def cut_rows(
    layout: Layout,
    board: BoardPlan,
    measures: Measures,
    legend: Legend,
    room: float,
    look: Look = USUAL,
) -> tuple[Item, ...]:
    """Return the rows; the same ones where they have been asked for with the same marks."""
    marks = tuple(legend.marks.items())

    def written() -> tuple[Item, ...]:
        told = measures.instructions(layout, board)
        rows = _Rows(layout, measures, legend, room, look, told)
        return tuple(rows.of(measures.runs(layout, board)))

    return measures.kept((board.board, layout.id, room, look, marks), written)


def _head(room: float, look: Look) -> list[Item]:
    line = Line(((0, "Cuts, in order", True),), look.head, with_next=True)
    told = paragraph(
        "Lay the edge named (its length follows) against the stop. Bold: the stop moves."
        " ↺ ↻: first turn the part a quarter that way.",
        room,
        look.detail,
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
        look: Look,
        told: Sequence[Instruction],
    ) -> None:
        self.layout, self.measures, self.room, self.look = layout, measures, room, look
        self.inner = room - 4  # what a row's lines are broken for
        self.told = told
        self.first_marked = next((one for one in told if not one.by_stop), None)
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
            *self._wrapped(_exactly(run.steps[0], self.measures)),
            *(self._wrapped(PENCIL) if any(one is self.first_marked for one in told) else []),
            *self._detail(run, told),
            *self._lettered(run, told),
            *self._checks(run, told),
            *([NO_WAY_BACK] if commits else []),
        )
        ticks = self._ticks(run.name, setting, edge, moved=told[0].moved)
        return CutRow(
            run.name,
            setting,
            edge,
            detail,
            max(ticks, 1),
            told[0].moved,
            commits=commits,
            look=self.look,
            edge_below=not ticks,
        )

    def _wrapped(self, text: str) -> tuple[str, ...]:
        return wrap(text, self.inner, self.look.detail)

    def _fits(self, text: str) -> bool:
        return width(text, self.look.detail) <= self.inner

    def _ticks(self, name: str, setting: str, edge: str, *, moved: bool) -> int:
        """Return how many boxes have room beside the rest: one for each copy, one, or none."""
        copies, look = self.layout.copies, self.look
        taken = ring_width(name, look.radius) + width(typeset(setting), look.setting, moved)
        taken += width(typeset(edge), look.edge) + BESIDE
        room = int((self.room - taken) // look.pitch)
        return copies if copies <= min(MOST_TICKS, room) else min(1, max(0, room))

    def _detail(self, run: Run, told: Sequence[Instruction]) -> tuple[str, ...]:
        """Return ``C 32 × 20 → A1 + offcut 16 × 20`` on as many lines as it takes."""
        whole = self._whole(run, told)
        parts = list(self._given(run, told))
        told_parts = " + ".join(parts if len(parts) <= 2 else _counted(parts))
        if self._fits(f"{whole} → {told_parts}"):
            return (f"{whole} → {told_parts}",)
        if not self._fits(f"{whole} →"):
            return (*self._wrapped(whole), *self._one_a_line("→", _counted(parts)))
        if self._fits(told_parts):
            return (f"{whole} →", told_parts)
        first, *rest = _counted(parts)
        if self._fits(f"{whole} → {first}"):
            return (f"{whole} → {first}", *self._one_a_line("+", rest))
        return (f"{whole} →", *self._one_a_line("", [first, *rest]))

    def _one_a_line(self, sign: str, parts: Iterable[str]) -> Iterator[str]:
        """Yield the parts in lines, a sign before each; the first has its own."""
        for part in parts:
            yield from self._wrapped(f"{sign} {part}")
            sign = "+"

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
        return self._wrapped(f"{begin} {told}")

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
        return f"{turned}, {often(times)}" if number == 1 else f"{turned}, each {often(times)}"

    def _checks(self, run: Run, told: Sequence[Instruction]) -> Iterator[str]:
        """Yield what to measure: sides that no stop set."""
        if len(told) == 1:
            yield from self._of_pieces(told[0].checks)
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
            yield from self._wrapped(f"measure {which}: should be {self._side(worst[key])}")

    def _of_pieces(self, checks: Sequence[Check]) -> Iterator[str]:
        """Yield what to measure of single pieces: of each all sides at once, the surest first."""
        sides: dict[str, list[Check]] = {}
        for check in checks:
            sides.setdefault(check.name, []).append(check)
        for name, found in sides.items():
            shown = elide(clean(name), LONGEST_CHECKED, DETAIL)
            told = " and ".join(map(self._side, sorted(found, key=_off)))
            yield from self._wrapped(f"measure {shown}: should be {told}")

    def _side(self, check: Check) -> str:
        """Return ``16 wide ±0.05``, with what it is exactly where the rule cannot show it."""
        told = f"{self.measures.length(check.steps)} {'wide' if check.is_width else 'high'}"
        exact = self.measures.exact(check.steps)
        told += f", exactly {exact}" if exact else ""
        if check.error is not None:
            told += f" ±{at_most(check.error, self.measures.unit)}"
        return told


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


def _exactly(step: Step, measures: Measures) -> str:
    """Return the exact setting where the rule cannot show it, and what it cannot tell from none."""
    setting = step.cut.setting
    if is_by_eye(setting, measures.plan):
        return f"{FINER} {_fine(setting, measures)} by eye."
    exact = measures.exact(setting)
    if not exact:
        return ""
    told = f"exactly {exact} ({measures.beside_mark(setting)})"
    low, high = step.part.along(step.cut.axis)
    strip = high - low - setting
    if strip > 0 and is_by_eye(strip, measures.plan):
        told += f": {_fine(strip, measures)} comes off"
    return told


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


def key_list(layout: Layout, legend: Legend, room: float, look: Look = USUAL) -> list[Item]:
    """Return what the marks on the drawing mean, what solid grey is, and what is not shown."""
    lines: list[Item] = list(_keys(legend, room, look))
    for told in (*_tags(legend), *_trim(layout, legend.scale), *_left_out(legend)):
        lines += paragraph(told, room, look.detail)
    if not lines:
        return []
    heading = Line(((0, "On the drawing", True),), look.head, with_next=True)
    return [Gap(10 if look is USUAL else 7), heading, *lines]


def _keys(legend: Legend, room: float, look: Look) -> Iterator[Item]:
    """Yield what each mark means: in a line of its own, or where room is scarce one by one."""
    shared = dict(legend.shared)
    told = {
        key.mark: f"{key.title}  {key.size}".strip()
        + (f", on one of {shared[key.mark]}" if key.mark in shared else "")
        for key in legend.keys
    }
    if look.running and told:
        pairs = (UNBROKEN.join([mark, *one.split()]) for mark, one in told.items())
        yield from paragraph("; ".join(pairs), room, look.detail)
        return
    for mark, one in told.items():
        indent = max(24.0, width(mark, look.detail) + 8)
        yield from paragraph(one, room, look.detail, indent=indent, mark=mark)


def _tags(legend: Legend) -> Iterator[str]:
    if legend.tagged:
        yield "◂ C: cuts part C, whose stop lies that way."


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
