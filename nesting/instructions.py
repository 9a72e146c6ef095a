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
from .plan.edges import good_edges, square_to
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
    SourceKind,
    trim_of,
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
        Whether the stop is set for it; if not, the cut is marked in pencil or made by eye.
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
        With a tool that squares first edges, the edge that a trim must be square to: a sheet's
        second, or any of an offcut's. None for any other cut.
    is_straightened
        Whether a trim is made straight, none of the offcut's edges next to it being good.
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
    is_straightened: bool = False

    @property
    def cut(self) -> Cut:
        """The cut."""
        return self.step.cut

    @property
    def is_marked(self) -> bool:
        """Whether it is marked in pencil, the stop not reaching that far."""
        return not self.by_stop and not self.by_eye

    @property
    def is_edge_dust(self) -> bool:
        """Whether the blade takes all that there is on one side of the cut."""
        return self.step.first is None or self.step.second is None


@dataclass(frozen=True, slots=True)
class Run:
    """What is cut while the stop stands; or, its setting being None, by pencil marks or by eye.

    Attributes
    ----------
    cuts
        Layouts and the numbers of their cuts, in order.
    moves
        Whether the stop is set for it; not where it stands there still, nor where it is not used.
    by_eye
        Whether the cuts are made by eye.
    """

    setting: int | None
    cuts: tuple[tuple[Layout, tuple[int, ...]], ...]
    moves: bool
    by_eye: bool = False


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


def board_runs(board: BoardPlan, plan: Plan) -> tuple[Run, ...]:
    """Return what is cut at each setting of the stop, over all layouts of a board."""
    runs: list[tuple[_SetBy, list[tuple[Layout, list[int]]]]] = []
    for layout, cut in _in_order(board):
        set_by = _set_by(cut, board, plan)
        if not runs or runs[-1][0] != set_by:
            runs.append((set_by, []))
        made = runs[-1][1]
        if not made or made[-1][0] is not layout:
            made.append((layout, []))
        made[-1][1].append(cut.number)
    return tuple(_moving(runs))


_SetBy = tuple[int | None, bool]  # what the stop is set to, and whether a cut is made by eye


def _set_by(cut: Cut, board: BoardPlan, plan: Plan) -> _SetBy:
    """Return how a cut is set: by the stop, by eye, or else by pencil marks."""
    if is_by_eye(cut.setting, plan):
        return None, True
    reach = board.tool.reach
    is_reached = reach is None or plan.step * cut.setting <= reach
    return cut.setting if is_reached else None, False


def _moving(runs: Iterable[tuple[_SetBy, list[tuple[Layout, list[int]]]]]) -> Iterator[Run]:
    """Yield the runs; the stop stays where it was while cuts are made without it."""
    stands: int | None = None
    for (setting, by_eye), made in runs:
        cuts = tuple((layout, tuple(numbers)) for layout, numbers in made)
        yield Run(setting, cuts, setting is not None and setting != stands, by_eye)
        stands = stands if setting is None else setting


def _in_order(board: BoardPlan) -> Iterator[tuple[Layout, Cut]]:
    """Yield all cuts in their order; layout by layout where the plan has none."""
    if board.cutting is None:
        yield from ((layout, cut) for layout in board.layouts for cut in layout.cuts)
        return
    layouts = {layout.id: layout for layout in board.layouts}
    for step in board.cutting.steps:
        layout = layouts[step.layout]
        yield from ((layout, layout.cuts[number - 1]) for number in step.cuts)


def instructions(layout: Layout, board: BoardPlan, plan: Plan) -> tuple[Instruction, ...]:
    """Return what to do with each copy of a layout, in order."""
    return tuple(_Writer(layout, board, plan).written(_places(board, plan)[layout.id]))


def board_instructions(board: BoardPlan, plan: Plan) -> dict[str, tuple[Instruction, ...]]:
    """Return what to do with each copy of each layout of a board, by the layouts' ids."""
    places = _places(board, plan)
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
            setting, by_eye = _set_by(step.cut, self.board, self.plan)
            by_stop = setting is not None
            yield Instruction(
                self.layout,
                step,
                part,
                names,
                by_stop,
                by_eye,
                by_stop and (place != last or place is None),
                self._turn(step),
                step.cut.number == commits,
                tuple(self._checks(step)),
                *self._squared(step),
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

    def _squared(self, step: Step) -> tuple[Edge | None, bool]:
        """Return the edge that a trim must be square to, and whether it is made straight instead.

        What the cover says of sheets, that their first edge is squared, holds of no offcut.
        """
        if not self.board.tool.squares or not is_trim(step, self.layout, self.board):
            return None, False
        if self.layout.source.kind is SourceKind.SHEET:
            return self._square_to(step), False
        other = square_to(self._trimmed(step), self._good(step.part))
        return other, other is None

    def _trimmed(self, step: Step) -> Edge:
        """Return the edge of its part that a trim takes off."""
        near, far = (Edge.LEFT, Edge.RIGHT) if step.cut.axis is Axis.X else (Edge.TOP, Edge.BOTTOM)
        trim = trim_of(self.layout.source, self.board.trim, self.board.stock)
        low, _ = step.part.along(step.cut.axis)
        is_near = low == 0 and step.cut.at + self.board.tool.kerf <= getattr(trim, near.value)
        return near if is_near else far

    def _good(self, part: Part) -> set[Edge]:
        """Return the edges of a part of an offcut that cuts made, or that were good before."""
        source = self.layout.source
        own = {
            Edge.LEFT: part.left == 0,
            Edge.TOP: part.top == 0,
            Edge.RIGHT: part.right == source.width,
            Edge.BOTTOM: part.bottom == source.height,
        }
        good = good_edges(source, self.board)
        return {edge for edge, is_own in own.items() if edge in good or not is_own}

    def _square_to(self, step: Step) -> Edge | None:
        """Return the edge that a trim must be square to; the first to be squared is to none."""
        edge = self._near_trim(step)
        if edge is None:
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


def _places(board: BoardPlan, plan: Plan) -> dict[str, dict[int, int]]:
    """Return for each cut of each layout which setting of the stop it belongs to."""
    places: dict[str, dict[int, int]] = {layout.id: {} for layout in board.layouts}
    if board.cutting is None:
        for layout in board.layouts:
            for place, own in enumerate(_own_runs(layout.cuts, board, plan)):
                places[layout.id].update(dict.fromkeys(own, place))
        return places
    often = 0
    for run in board_runs(board, plan):
        often += run.moves
        for layout, numbers in run.cuts:
            places[layout.id].update(dict.fromkeys(numbers, often))
    return places


def _own_runs(cuts: Iterable[Cut], board: BoardPlan, plan: Plan) -> Iterator[list[int]]:
    """Yield the numbers of cuts while the stop stands, those made without it among them."""
    run: list[int] = []
    stands: int | None = None
    for cut in cuts:
        setting, _ = _set_by(cut, board, plan)
        if run and None not in (setting, stands) and setting != stands:
            yield run
            run = []
        run.append(cut.number)
        stands = stands if setting is None else setting
    yield run


def is_by_eye(setting: int, plan: Plan) -> bool:
    """Return whether a setting is less than the rule's first mark, so that it cannot be read."""
    return plan.step * setting < plan.rule


def told_length(steps: int, plan: Plan) -> str:
    """Return a length as it is read on the rule, without its unit."""
    return format_length(plan.step * steps, plan.unit, rule=plan.rule)
