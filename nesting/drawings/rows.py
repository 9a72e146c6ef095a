"""What a row of the cut list says, before it is broken into lines for a column.

A page is composed in many ways before one is chosen, so words and lines are kept apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from ..audit.case import Part, Step, part_of
from ..instructions import BY_EYE, Check, Instruction, is_by_eye
from ..lengths import format_length
from ..plan.model import Axis, BoardPlan, Edge, Layout, Leftover, LeftoverKind, PlacedPiece
from ..plan.names import DUST, is_numbered, piece_named
from ..telling import at_most, often, thinnest_held
from .labels import DETAIL, LONGEST_LABEL, Legend
from .lettering import clean, elide, spelled, width
from .runs import Run
from .words import Measures

__all__ = ["RowWords", "counted_names", "row_words", "uncut"]

LONGEST_CHECKED = 90.0  # points, of an uncut piece that is to be measured
TURNS = {0: "", 1: "↺ ", -1: "↻ ", 2: "↺↺ "}
MOST_NAMED = 3  # parts of a run that are named one by one in its own line
MOST_LETTERED = 40  # letters, or runs of them, that stand in a row; more would hide the row
PENCIL = "Beyond the stop: mark it in pencil at both ends."
CARRIED = "Beyond the stop: mark it in pencil at one end, and carry it square to the {} edge."
AGAIN = "Mark it at both ends."
SQUARE = "Make it square to the {} edge, by the squaring arm or a try square."
STRAIGHT = "Make it straight."
KERF = "The blade runs beyond the mark: what was measured keeps its size."
THIN = "Thin strip: hold down the wider part."
FINER = "Finer than the rule: from that edge cut off"


@dataclass(frozen=True, slots=True)
class RowWords:
    """One cut, or one run of equal cuts, in words.

    Attributes
    ----------
    name
        The number of the cut, or ``72–83``.
    setting
        On the bench's rule.
    edge
        Which edge of the part lies against the stop, and how long it is.
    before
        What is to be known before the cut is made.
    whole
        What is cut, with a turn before it: ``↺ C 32 × 20``.
    given
        What comes of it, a name each.
    after
        Letters of parts, and what to measure.
    moved
        Whether the stop must be set anew.
    commits
        Whether there is no way back from here.
    """

    name: str
    setting: str
    edge: str
    before: tuple[str, ...]
    whole: str
    given: tuple[str, ...]
    after: tuple[str, ...]
    moved: bool
    commits: bool


def row_words(
    layout: Layout, board: BoardPlan, measures: Measures, legend: Legend
) -> tuple[RowWords, ...]:
    """Return what the rows of a layout say; the same where it was asked for with the same marks."""
    if not layout.cuts:
        return ()
    # No row has the mark of a short label; so it is the same whatever else the drawing keys.
    marks = tuple(
        (named, mark)
        for named, mark in legend.marks.items()
        if width(named[0], DETAIL) > LONGEST_LABEL
    )

    def written() -> tuple[RowWords, ...]:
        return tuple(_Rows(layout, board, measures, legend).all())

    return measures.kept(("words", board.board, layout.id, marks), written)


class _Rows:
    """Finds the words for the rows of one layout."""

    def __init__(
        self, layout: Layout, board: BoardPlan, measures: Measures, legend: Legend
    ) -> None:
        self.layout, self.measures = layout, measures
        self.told = measures.instructions(layout, board)
        self.runs = measures.runs(layout, board)
        self.names = _names(layout, measures, legend)
        self.labels = {part_of(piece): piece.label for piece in layout.pieces}
        self.places = _places(self.told)
        marked = [one for one in self.told if one.is_marked]
        self.first_marked = next((one for one in marked if one.square_to is None), None)
        # Where the mark before is to be made at one end, both ends are named once more.
        self.marked_again = [
            one
            for before, one in pairwise(marked)
            if before.square_to is not None and one.square_to is None
        ]
        self.first_sawn = marked[0] if marked and board.tool.kerf else None
        knife = not board.tool.kerf
        thin = (one for one in self.told if knife and _is_thin(one.step, measures))
        self.first_thin = next(thin, None)

    def all(self) -> Iterator[RowWords]:
        """Yield what each run is called; a setting is marked where the stop has stood elsewhere."""
        for run in self.runs:
            first = run.steps[0].cut.number - 1
            yield self._row(run, self.told[first : first + len(run.steps)])

    def _row(self, run: Run, told: Sequence[Instruction]) -> RowWords:
        cut = run.steps[0].cut
        setting = BY_EYE if told[0].by_eye else self.measures.length(cut.setting)
        return RowWords(
            run.name,
            f"mark {setting}" if told[0].is_marked else setting,
            f"{cut.stop.value}, {self.measures.length(cut.end - cut.start)}",
            tuple(self._before(run, told)),
            self._whole(run, told),
            tuple(self._given(run, told)),
            (*self._lettered(run, told), *self._checks(run, told)),
            told[0].moved,
            any(one.commits for one in told),
        )

    def _before(self, run: Run, told: Sequence[Instruction]) -> Iterator[str]:
        """Yield how the cut is set; a page says only once how to mark and how to hold."""
        yield from _exactly(run.steps[0], self.measures)
        square_to = told[0].square_to
        if square_to is not None:
            yield (CARRIED if told[0].is_marked else SQUARE).format(square_to)
        if told[0].is_straightened:
            yield STRAIGHT
        if any(one is self.first_marked for one in told):
            yield PENCIL
        elif any(one is again for one in told for again in self.marked_again):
            yield AGAIN
        if any(one is self.first_sawn for one in told):
            yield KERF
        if any(one is self.first_thin for one in told):
            yield THIN

    def _given(self, run: Run, told: Sequence[Instruction]) -> Iterator[str]:
        """Yield what comes of a run; the two halves of a single cut by their own names."""
        if len(run.steps) > 1:
            yield from self._together(run, told)
            return
        for half, name in _halves(told[0]):
            yield self._half(half, name)
        if told[0].is_edge_dust:
            yield DUST

    def _together(self, run: Run, told: Sequence[Instruction]) -> Iterator[str]:
        """Yield what comes of many cuts; of the parts to be cut again, few of a size by letters."""
        for part in run.given:
            if part in self.names:
                label = self.labels.get(part, "")
                yield piece_named(label) if is_numbered(label) else self.names[part]
        for size, named in self._given_letters(run, told).items():
            if len(named) <= MOST_NAMED:
                yield f"{', '.join(named)} {size}"
            else:
                yield from [size] * len(named)
        if any(one.is_edge_dust for one in told):
            yield DUST

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
                yield self._letters("cut:", [("", [letter for letter, _ in between])])
        elif len(between) == 1:
            yield self._letters("in between:", [("", between[0][1])])
        else:
            each = [(f"of {letter}: ", again) for letter, again in between]
            yield self._letters("in between,", each)
        for size, named in self._given_letters(run, told).items():
            if len(named) > MOST_NAMED:
                yield self._letters(f"{size}:", [("", named)])
            alike = [name for name in self._left_of(run) if name.endswith(f" {size}")]
            for kind in dict.fromkeys(name.removesuffix(f" {size}") for name in alike):
                many = kind if kind == LeftoverKind.SCRAP else f"{kind}s"
                yield f"{many} and parts of {size} are alike: take any."

    def _left_of(self, run: Run) -> Iterator[str]:
        """Yield what is left over of a run, each with its size."""
        for part in run.given:
            if part in self.names and part not in self.labels:
                yield self.names[part]

    def _letters(self, begin: str, groups: Sequence[tuple[str, Sequence[str]]]) -> str:
        """Return letters, those that follow one another by their ends; few, if at all."""
        ranged = [(of, list(_ranges(named, self.places))) for of, named in groups]
        if sum(len(names) for _, names in ranged) > MOST_LETTERED:
            told = f"{sum(len(named) for _, named in groups)} letters, see cuts.csv"
        else:
            told = "; ".join(f"{of}{', '.join(names)}" for of, names in ranged)
        return f"{begin} {told}"

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
            yield from self._of_pieces(told[0])
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
            which = _out_of(list(named))
            if key[1] is across:
                one_each = run.times == 1 and self._is_one_each(told)
                which = _ones_of(list(named), len(run.taken), one_each=one_each)
            yield f"measure {which}: should be {self._side(worst[key])}"

    def _is_one_each(self, told: Sequence[Instruction]) -> bool:
        """Return whether no cut finishes two pieces, so that there is no last one."""
        pieces = (sum(half in self.labels for half, _ in _halves(one)) for one in told)
        return max(pieces) < 2

    def _of_pieces(self, one: Instruction) -> Iterator[str]:
        """Yield what to measure of single pieces: of each all sides at once, the surest first."""
        sides: dict[str, list[Check]] = {}
        for check in one.checks:
            sides.setdefault(check.name, []).append(check)
        shown = self._told_apart(one)
        for name, found in sides.items():
            told = " and ".join(map(self._side, sorted(found, key=_off)))
            yield f"measure {shown[name]}: should be {told}"

    def _told_apart(self, one: Instruction) -> dict[str, str]:
        """Return what its row calls each half of a cut; of two called alike, which it is."""
        shown = {name: self._half(half, name) for half, name in _halves(one)}
        if len(set(shown.values())) == len(shown):
            return shown
        near, far = shown
        at_stop = near if one.step.cut.stop in (Edge.LEFT, Edge.TOP) else far
        return {name: "the first" if name == at_stop else "the last" for name in shown}

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


def uncut(layout: Layout, measures: Measures) -> Iterator[str]:
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


def _ones_of(letters: list[str], taken: int, *, one_each: bool) -> str:
    """Return which piece of a run's parts: the last of each, or the only one there is."""
    if taken == 1:
        return "it" if one_each else "the last"
    which = "" if one_each else "the last of "
    if len(letters) == taken:
        return f"{which}each"
    if len(letters) > MOST_NAMED:
        return f"{which or 'that of '}{len(letters)} parts"
    return f"{which or 'that of '}{', '.join(letters)}"


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


def counted_names(named: Iterable[str]) -> Iterator[str]:
    """Yield each name once, after the number of times that it comes."""
    for name, number in Counter(named).items():
        yield name if number == 1 else f"{number} of {name}"


def _exactly(step: Step, measures: Measures) -> Iterator[str]:
    """Yield the exact setting where the rule cannot show it, and what it cannot tell from none."""
    setting = step.cut.setting
    if is_by_eye(setting, measures.plan):
        yield f"{FINER} {_fine(setting, measures)} by eye."
        return
    told = measures.exactly(setting)
    if not told:
        return
    low, high = step.part.along(step.cut.axis)
    strip = high - low - setting
    if strip > 0 and is_by_eye(strip, measures.plan):
        told += f": {_fine(strip, measures)} comes off"
    yield told


def _is_thin(step: Step, measures: Measures) -> bool:
    """Return whether a cut takes off a strip that cannot safely be held."""
    least = thinnest_held(measures.unit)
    sides = (half.along(step.cut.axis) for half in (step.first, step.second) if half is not None)
    return any(measures.step * (high - low) < least for low, high in sides)


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
