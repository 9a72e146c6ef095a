"""What to do at the bench, cut by cut, in words: the same on the pages and in the spreadsheet.

Parts are lettered as they appear, the sheet first, passing over what is a piece's label. Pieces
go by their labels, numbered where a layout has several; a number is set apart where the name would
be another label. Nothing here draws or writes.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import count, product

from .audit.case import Part, Step, part_of
from .audit.replay import is_trim, replay
from .lengths import Length, format_length
from .plan.model import (
    Axis,
    BoardPlan,
    Cut,
    Edge,
    Layout,
    LeftoverKind,
    Made,
    MadeBy,
    PlacedPiece,
    Plan,
)
from .plan.names import is_numbered

__all__ = [
    "BY_EYE",
    "Check",
    "Instruction",
    "Run",
    "board_instructions",
    "board_runs",
    "finished",
    "instructions",
    "is_by_eye",
    "letters",
    "nearest_mark",
]

# Without I and O, which are taken for 1 and 0.
ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ"
BY_EYE = "by eye"  # in a setting's place, where it is less than the rule shows
AROUND = (Edge.LEFT, Edge.TOP, Edge.RIGHT, Edge.BOTTOM)


@dataclass(frozen=True, slots=True)
class Check:
    """A side of a piece that no stop set: measure it.

    Attributes
    ----------
    name
        The piece.
    steps
        What the side should be.
    is_width
        Whether it is the side that runs across as drawn.
    error
        By how much it may be off at worst; None where nobody knows.
    """

    name: str
    steps: int
    is_width: bool
    error: Length | None = None


@dataclass(frozen=True, slots=True)
class Instruction:
    """One cut of a layout, to be made on every copy.

    Attributes
    ----------
    step
        The cut, the part that it divides, and both halves.
    part
        The part's letter.
    names
        What the halves are: a part's letter, a piece's name, or a leftover; None for nothing.
    by_stop
        Whether the stop reaches that far; if not, the cut is marked in pencil.
    by_eye
        Whether the setting is less than the rule shows, so that the cut is made by eye.
    moved
        Whether the stop must be looked to: it has stood elsewhere since this layout's last cut.
    turn
        Quarter turns of the part before it is cut, clockwise ones counted below zero.
    commits
        Whether the sheet can be used in no other way of this plan from here on.
    checks
        Sides of pieces, finished now, that are what was left over.
    square_to
        The edge that a sheet's second trim must be square to, with a tool that squares the first
        two; None for any other cut.
    """

    layout: Layout
    step: Step
    part: str
    names: tuple[str | None, str | None]
    by_stop: bool
    by_eye: bool
    moved: bool
    turn: int
    commits: bool
    checks: tuple[Check, ...]
    square_to: Edge | None = None

    @property
    def cut(self) -> Cut:
        """The cut."""
        return self.step.cut

    @property
    def is_edge_dust(self) -> bool:
        """Whether the blade takes all that there is on one side of the cut."""
        return self.step.first is None or self.step.second is None


@dataclass(frozen=True, slots=True)
class Run:
    """What is cut while the stop stands; or, its setting being None, by pencil marks.

    Attributes
    ----------
    cuts
        Layouts and the numbers of their cuts, in order.
    moves
        Whether the stop is set for it; not where it stands there still, nor for pencil marks.
    """

    setting: int | None
    cuts: tuple[tuple[Layout, tuple[int, ...]], ...]
    moves: bool


def letters() -> Iterator[str]:
    """Yield A, B, C and so on, then AA, AB; without I and O.

    Examples
    --------
    >>> names = letters()
    >>> [next(names) for _ in range(10)][-3:]
    ['H', 'J', 'K']
    """
    for length in count(1):
        yield from map("".join, product(ALPHABET, repeat=length))


def nearest_mark(setting: int, plan: Plan) -> tuple[Length, Length]:
    """Return the mark of the rule nearest to a setting, and how far beyond it the setting lies."""
    exact = plan.step * setting
    mark = plan.rule * math.floor(exact.mm / plan.rule.mm + Fraction(1, 2))
    return mark, exact - mark


def board_runs(board: BoardPlan) -> tuple[Run, ...]:
    """Return what is cut at each setting of the stop, over all layouts of a board."""
    layouts = {layout.id: layout for layout in board.layouts}
    runs: list[tuple[int | None, list[tuple[Layout, list[int]]]]] = []
    for setting, layout_id, numbers in _steps(board):
        layout = layouts[layout_id]
        if not runs or runs[-1][0] != setting:
            runs.append((setting, []))
        made = runs[-1][1]
        if not made or made[-1][0] is not layout:
            made.append((layout, []))
        made[-1][1].extend(numbers)
    return tuple(_moving(runs))


def _moving(
    runs: Iterable[tuple[int | None, list[tuple[Layout, list[int]]]]],
) -> Iterator[Run]:
    """Yield the runs; the stop stays where it was while cuts are marked in pencil."""
    stands: int | None = None
    for setting, made in runs:
        cuts = tuple((layout, tuple(numbers)) for layout, numbers in made)
        yield Run(setting, cuts, setting is not None and setting != stands)
        stands = stands if setting is None else setting


def _steps(board: BoardPlan) -> Iterator[tuple[int | None, str, tuple[int, ...]]]:
    """Yield the steps of the order of cuts; layout by layout where the plan has none."""
    if board.cutting is not None:
        for step in board.cutting.steps:
            yield step.setting, step.layout, step.cuts
        return
    for layout in board.layouts:
        for cut in layout.cuts:
            yield cut.setting, layout.id, (cut.number,)


def instructions(layout: Layout, board: BoardPlan, plan: Plan) -> tuple[Instruction, ...]:
    """Return what to do with each copy of a layout, in order."""
    return tuple(_Writer(layout, board, plan).written(_places(board)[layout.id]))


def board_instructions(board: BoardPlan, plan: Plan) -> dict[str, tuple[Instruction, ...]]:
    """Return what to do with each copy of each layout of a board, by the layouts' ids."""
    places = _places(board)
    return {
        layout.id: tuple(_Writer(layout, board, plan).written(places[layout.id]))
        for layout in board.layouts
    }


class _Writer:
    """Writes the instructions of one layout."""

    def __init__(self, layout: Layout, board: BoardPlan, plan: Plan) -> None:
        self.layout, self.board, self.plan = layout, board, plan
        labels = {piece.label.upper() for piece in layout.pieces}
        self._letters = (letter for letter in letters() if letter not in labels)
        self._steps = replay(layout, board.tool.kerf).steps
        self._pieces = {part_of(piece): piece for piece in layout.pieces}
        self._leftovers = {part_of(left): left for left in layout.leftovers}
        self._divided = {step.part for step in self._steps}
        ordered = {piece.label for one in plan.boards for piece in one.ordered}
        self._often = Counter(piece.label for piece in layout.pieces)
        self._before = _before_numbers(self._often, ordered | set(self._often))
        self._met: Counter[str] = Counter()
        self._names: dict[Part, str] = {}
        self._lies: dict[Part, Edge] = {}

    def written(self, places: Mapping[int, int]) -> Iterator[Instruction]:
        """Yield the instructions, told which setting of the stop each cut belongs to."""
        last: int | None = None
        commits = self._commits()
        for step in self._steps:
            part = self._names.setdefault(step.part, "") or self._begin(step.part)
            names = (self._name(step.first), self._name(step.second))
            place = places.get(step.cut.number)
            by_stop = self._by_stop(step.cut)
            yield Instruction(
                self.layout,
                step,
                part,
                names,
                by_stop,
                is_by_eye(step.cut.setting, self.plan),
                by_stop and (place != last or place is None),
                self._turn(step),
                step.cut.number == commits,
                tuple(self._checks(step)),
                self._square_to(step),
            )
            last = place if by_stop else last
            for half in (step.first, step.second):
                if half is not None:
                    self._lies[half] = step.cut.stop

    def _begin(self, whole: Part) -> str:
        self._names[whole] = next(self._letters)
        return self._names[whole]

    def _name(self, part: Part | None) -> str | None:
        if part is None:
            return None
        if part in self._pieces:
            self._names[part] = self._piece(self._pieces[part])
        elif part in self._divided:
            self._names[part] = next(self._letters)
        else:
            left = self._leftovers.get(part)
            self._names[part] = left.kind.value if left is not None else LeftoverKind.SCRAP.value
        return self._names[part]

    def _piece(self, piece: PlacedPiece) -> str:
        label = piece.label
        if self._often[label] == 1 and not is_numbered(label):
            return label
        self._met[label] += 1
        return f"{self._before[label]}{self._met[label]}"

    def _by_stop(self, cut: Cut) -> bool:
        reach = self.board.tool.reach
        return reach is None or self.plan.step * cut.setting <= reach

    def _turn(self, step: Step) -> int:
        before = self._lies.get(step.part, Edge.LEFT)
        quarters = (AROUND.index(step.cut.stop) - AROUND.index(before)) % 4
        return -1 if quarters == 3 else quarters

    def _checks(self, step: Step) -> Iterator[Check]:
        for half in (step.first, step.second):
            piece = None if half is None else self._pieces.get(half)
            if piece is None or half is None:
                continue
            sides = ((piece.across, piece.width, True), (piece.down, piece.height, False))
            for made, steps, is_width in sides:
                if made is not None and _unset(made):
                    yield Check(self._names[half], steps, is_width, made.error)

    def _square_to(self, step: Step) -> Edge | None:
        """Return the edge that a trim must be square to; the first to be squared is to none."""
        edge = self._near_trim(step)
        if edge is None or not self.board.tool.squares:
            return None
        other = Edge.TOP if edge is Edge.LEFT else Edge.LEFT
        trimmed = (self._near_trim(one) for one in self._steps)
        first = next(one for one in trimmed if one is not None)
        other_size = self.board.trim.top if other is Edge.TOP else self.board.trim.left
        return other if first is other or not other_size else None

    def _near_trim(self, step: Step) -> Edge | None:
        """Return which of a sheet's left and top edges a cut trims."""
        if not is_trim(step, self.layout, self.board):
            return None
        across = step.cut.axis is Axis.X
        trim = self.board.trim.left if across else self.board.trim.top
        is_near = trim > 0 and step.cut.at + self.board.tool.kerf <= trim
        return (Edge.LEFT if across else Edge.TOP) if is_near else None

    def _commits(self) -> int | None:
        """Return the first cut, trims apart, after which no other layout could be cut instead."""
        others = [
            {_line(cut) for cut in other.cuts}
            for other in self.board.layouts
            if other is not self.layout and other.source == self.layout.source
        ]
        made: set[tuple[Axis, int, int, int]] = set()
        for step in self._steps:
            made.add(_line(step.cut))
            if not is_trim(step, self.layout, self.board) and not any(
                made <= other for other in others
            ):
                return step.cut.number
        return None


def finished(one: Instruction) -> Iterator[tuple[str, PlacedPiece]]:
    """Yield the pieces that a cut finishes, each after its name."""
    pieces = {part_of(piece): piece for piece in one.layout.pieces}
    for half, name in zip((one.step.first, one.step.second), one.names, strict=True):
        if half is not None and name is not None and half in pieces:
            yield name, pieces[half]


def _before_numbers(often: Counter[str], labels: Collection[str]) -> dict[str, str]:
    """Return what each label is numbered after, so that no numbered name is another piece's."""
    taken = set(labels)
    before = {}
    for label, number in often.items():
        begin = label + ("-" if label[-1:].isdigit() else " " if " " in label else "")
        while (names := {f"{begin}{one}" for one in range(1, number + 1)}) & taken:
            begin += "-"
        before[label] = begin
        taken |= names
    return before


def _unset(made: Made) -> bool:
    """Whether nobody set the side: it is left over, or the sheet's own and never measured."""
    if made.by is MadeBy.STOP:
        return False
    return made.by is MadeBy.LEFT_OVER or made.error is None


def _line(cut: Cut) -> tuple[Axis, int, int, int]:
    return (cut.axis, cut.at, cut.start, cut.end)


def _places(board: BoardPlan) -> dict[str, dict[int, int]]:
    """Return for each cut of each layout which setting of the stop it belongs to."""
    places: dict[str, dict[int, int]] = {layout.id: {} for layout in board.layouts}
    if board.cutting is None:
        for layout in board.layouts:
            for place, own in enumerate(_own_runs(layout.cuts)):
                places[layout.id].update(dict.fromkeys(own, place))
        return places
    often = 0
    for run in board_runs(board):
        often += run.moves
        for layout, numbers in run.cuts:
            places[layout.id].update(dict.fromkeys(numbers, often))
    return places


def _own_runs(cuts: Iterable[Cut]) -> Iterator[list[int]]:
    run: list[int] = []
    setting: int | None = None
    for cut in cuts:
        if run and cut.setting != setting:
            yield run
            run = []
        run.append(cut.number)
        setting = cut.setting
    yield run


def is_by_eye(setting: int, plan: Plan) -> bool:
    """Return whether a setting is less than the rule's first mark, so that it cannot be read."""
    return plan.step * setting < plan.rule


def told_length(steps: int, plan: Plan) -> str:
    """Return a length as it is read on the rule, without its unit."""
    return format_length(plan.step * steps, plan.unit, rule=plan.rule)
