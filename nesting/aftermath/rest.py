"""What a board's sheets hold now, and the order that is left: what is in hand, stock, wanted."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..lengths import ZERO, Size
from ..order import Order, Piece, PieceKind
from ..plan.edges import edges_off, trims_left_on
from ..plan.leftovers import KeepRule
from ..plan.model import NO_TRIM, Axis, Edge, LeftoverKind, PlanTrim, Source, SourceKind
from ..plan.so_far import BenchPart, Holdings, SoFar
from ..plan.trees import CutNode, DraftLayout, PieceNode
from ..stock import Board, Grade, Offcut, RuleClass, SheetSize, Tool, ToolKind, Trim, default_keep
from .names import names_of, together
from .offs import errors_of, worst_of
from .sheets import Cuttable, Rect, Scale, cut_so_far, standing_of, usable_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ..plan.model import BoardPlan, OrderedPiece, Plan
    from ..plan.trees import Node
    from .offs import Off
    from .said import SheetTale
    from .sheets import Lying, Sheet

__all__ = [
    "BESIDES",
    "LAID_BY",
    "Bench",
    "Found",
    "bench_of",
    "keep_rule",
    "offcuts_left",
    "parts_of_before",
    "pieces_in",
    "rest_of",
]

BESIDES = "On the bench besides, worth keeping"  # how the notes on idle parts begin
LAID_BY = "On the bench besides, worth keeping but of no use to this job"
PART = re.compile(r"L(\d+)(?:/[\d,-]+)? ")  # how the name of a part on the bench begins


@dataclass(frozen=True, slots=True)
class Found:
    """Equal parts on the bench.

    Attributes
    ----------
    source
        One of them as stock: with the edges of `trim` off, and those of `untrimmed` still on.
    trim
        What must first come off which edge of each.
    untrimmed
        What cuts are to take off its factory edges: of one that has an edge too long for the tool
        all do, as off a full sheet; else those that its scrap takes in.
    count
        How many there are.
    standing
        What the plan would make of those that are just as planned, each way with how many.
    kind
        What each is if nothing is cut from it.
    useful
        Whether it can hold a piece that is still to be made.
    off
        By how much its sides may be off at worst; None for what was measured.
    rough
        Their far edges that are still as the sheet came, where the tool squares the first ones.
    """

    source: Source
    trim: PlanTrim
    untrimmed: PlanTrim
    count: int
    standing: tuple[tuple[Node, int], ...]
    kind: LeftoverKind
    useful: bool
    off: Off | None
    rough: tuple[str, ...] = ()

    @property
    def lies(self) -> tuple[int, int]:
        """Width and height of one as it lies there, every edge still on."""
        source, trim = self.source, self.trim
        across, down = trim.left + trim.right, trim.top + trim.bottom
        return source.width + across, source.height + down

    @property
    def edges(self) -> tuple[str, ...]:
        """Which edges are still to come off it."""
        return tuple(
            edge.value
            for edge in Edge
            if getattr(self.trim, edge.value) or getattr(self.untrimmed, edge.value)
        )


@dataclass(frozen=True, slots=True)
class Bench:
    """One board in the middle of the job.

    Attributes
    ----------
    in_hand
        Finished pieces by label.
    found
        Every other part on the bench, equal ones together.
    untouched
        The layouts of which sheets are still to be opened, as trees, with how many.
    opened
        How many of each source are begun.
    sheets
        Those that are begun, as far as they are cut.
    so_far
        What became of each of these.
    mistakes
        How many cuts and parts went wrong.
    """

    board: BoardPlan
    in_hand: Counter[str]
    found: tuple[Found, ...]
    untouched: tuple[DraftLayout, ...]
    opened: Counter[Source]
    sheets: tuple[Sheet, ...]
    so_far: tuple[SoFar, ...]
    mistakes: int

    @property
    def parts(self) -> tuple[Found, ...]:
        """What can still be cut."""
        return tuple(part for part in self.found if part.useful)

    def may_serve(self, source: Source, untrimmed: PlanTrim = NO_TRIM) -> bool:
        """Return whether a source holds a piece that is still to be made."""
        wanted = [line for line in self.board.ordered if line.qty > self.in_hand[line.label]]
        return _useful(source, untrimmed, wanted, self.board.no_turn)

    @property
    def wanted(self) -> dict[str, int]:
        """How many of each label are still to be made."""
        left = {line.label: line.qty - self.in_hand[line.label] for line in self.board.ordered}
        return {label: count for label, count in left.items() if count > 0}


def bench_of(plan: Plan, board: BoardPlan, tales: Sequence[SheetTale], names: set[str]) -> Bench:
    """Return how a board stands once what is said was done.

    Parameters
    ----------
    plan
        Counted in a step that holds every length that was said.
    names
        Names that stock has already; those given here are added.
    """
    cuttable = {layout.id: Cuttable(layout, board.tool.kerf) for layout in board.layouts}
    begun = [tale for tale in tales if tale.layout in board.layouts]
    scale = Scale(plan.step, plan.unit, board.no_turn)
    looked = _Look(plan, board)
    called: dict[str, dict[int, str]] = {}
    for tale in begun:
        own = cuttable[tale.layout.id]
        if tale.layout.id not in called:
            called[tale.layout.id] = names_of(own, board, plan)
        errors = errors_of(plan, board)
        first = edges_off(tale.layout, board)
        looked.at(cut_so_far(tale, own, called[tale.layout.id], scale, errors, first))
    taken = Counter(tale.layout.id for tale in begun)
    found = tuple(looked.found(names))
    untouched = tuple(
        looked.whole(cuttable[layout.id], taken)
        for layout in board.layouts
        if layout.copies > taken[layout.id]
    )
    return Bench(
        board,
        looked.in_hand,
        found,
        untouched,
        Counter(tale.layout.source for tale in begun),
        tuple(looked.sheets),
        tuple(looked.so_far(found)),
        sum(tale.mistakes for tale in begun),
    )


@dataclass(frozen=True, slots=True)
class _Likeness:
    """What parts share that are taken together; `origin` is the offcut that they come from."""

    width: int
    height: int
    trim: PlanTrim
    untrimmed: PlanTrim
    origin: str | None
    rough: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Member:
    """One part that goes on: its sheet, its place among what lies there, and its tree."""

    sheet: int
    tale: SheetTale
    name: str
    area: int
    standing: Node | None
    off: Off | None


class _Look:
    """Goes from sheet to sheet, and sorts what lies there."""

    def __init__(self, plan: Plan, board: BoardPlan) -> None:
        self._plan, self._board = plan, board
        self._rule = keep_rule(plan, board)
        self.sheets: list[Sheet] = []
        self.in_hand: Counter[str] = Counter()
        self._pieces: list[list[tuple[str, int, int]]] = []
        self._trim_area: list[int] = []
        self._alike: dict[_Likeness, list[_Member]] = {}

    def whole(self, cuttable: Cuttable, taken: Counter[str]) -> DraftLayout:
        """Return the layout of sheets that nobody touched, as a tree."""
        layout = cuttable.layout
        root = cuttable.tree(0, standing_of(layout, self._board), (0, 0))
        assert root is not None
        return DraftLayout(layout.source, root, layout.copies - taken[layout.id])

    def at(self, sheet: Sheet) -> None:
        """Look at one sheet."""
        self.sheets.append(sheet)
        self._pieces.append([])
        self._trim_area.append(sheet.edge_area)
        for lying in sheet.lying:
            label = self._finished(sheet.cuttable, lying)
            if label is not None:
                self.in_hand[label] += 1
                self._pieces[-1].append((label, lying.rect.width, lying.rect.height))
            else:
                self._keep(sheet, lying)

    def _finished(self, cuttable: Cuttable, lying: Lying) -> str | None:
        """Return the label of a part that is a piece, exact, with no factory edge left on it."""
        if lying.planned is None:
            return None
        part = cuttable.parts[lying.planned]
        if part.piece is None or not _same_size(part.rect, lying.rect):
            return None
        return part.piece.label if self._needed(cuttable, lying.rect) == NO_TRIM else None

    def _keep(self, sheet: Sheet, lying: Lying) -> None:
        needed = NO_TRIM if lying.clean else self._needed(sheet.cuttable, lying.rect)
        rect = _trimmed(lying.rect, needed)
        source = sheet.tale.layout.source
        counted = lying.rect.within(Rect(0, 0, source.width, source.height))
        area = 0 if counted is None else counted.area
        if rect is None:
            self._trim_area[-1] += area
            return
        origin = source.id if source.kind is SourceKind.OFFCUT else None
        trim, untrimmed = needed, NO_TRIM
        if counted == lying.rect and self._too_long(lying.rect, needed):
            rect, trim, untrimmed = lying.rect, NO_TRIM, needed
        elif (on := self._stays_on(sheet.cuttable, lying)) != NO_TRIM:
            trim, untrimmed = _less(needed, on), on
            rect = _trimmed(lying.rect, trim) or rect
        standing = self._standing(sheet.cuttable, lying, rect, untrimmed)
        errors = errors_of(self._plan, self._board)
        off = lying.off
        if off is not None and errors is not None:
            off = errors.trimmed(off, _without(trim, sheet.pending))
        where = len(self.sheets) - 1
        rough = () if lying.clean else tuple(self._rough(source, rect))
        member = _Member(where, sheet.tale, lying.name, area, standing, off)
        key = _Likeness(rect.width, rect.height, trim, untrimmed, origin, rough)
        self._alike.setdefault(key, []).append(member)

    def _rough(self, source: Source, rect: Rect) -> Iterator[str]:
        """Yield the far edges of a part that are as its sheet came; the near ones were squared."""
        if not self._board.tool.squares:
            return
        said = (item.rough for item in self._board.stock if item.source == source)
        known = {edge for rough in said for edge in rough}
        for axis, edge in ((Axis.X, "right"), (Axis.Y, "bottom")):
            end = source.width if axis is Axis.X else source.height
            if rect.along(axis)[1] == end and (source.kind is SourceKind.SHEET or edge in known):
                yield edge

    def _standing(
        self, cuttable: Cuttable, lying: Lying, rect: Rect, untrimmed: PlanTrim
    ) -> Node | None:
        """Return the cuts still to come of a part that is as planned; `rect` is it as stock."""
        if lying.planned is None:
            return None
        planned = cuttable.parts[lying.planned].rect
        needed = self._needed(cuttable, planned)
        usable = _trimmed(planned, needed)
        if usable is None:
            return None
        begins = usable
        whole = planned.within(standing_of(cuttable.layout, self._board))
        if whole is not None and whole != usable:  # its scrap takes far trims in
            if untrimmed == NO_TRIM:
                return None
            usable = begins = whole
        elif untrimmed != NO_TRIM:  # then its edges decide which cuts are not too long
            if untrimmed != needed:
                return None
            begins = planned
        if not _same_size(rect, begins):
            return None
        tree = cuttable.tree(lying.planned, usable, (begins.x, begins.y))
        return tree if tree is not None and pieces_in(tree) else None

    def _stays_on(self, cuttable: Cuttable, lying: Lying) -> PlanTrim:
        """Return which far trims of a part that is as planned its scrap takes in."""
        if lying.planned is None or lying.clean:
            return NO_TRIM
        planned = cuttable.parts[lying.planned].rect
        needed = self._needed(cuttable, planned)
        if not _same_size(planned, lying.rect) or needed != self._needed(cuttable, lying.rect):
            return NO_TRIM
        left_on = trims_left_on(cuttable.layout, self._board)
        right, bottom = (edge in left_on for edge in (Edge.RIGHT, Edge.BOTTOM))
        return PlanTrim(0, needed.right * right, 0, needed.bottom * bottom)

    def _needed(self, cuttable: Cuttable, rect: Rect) -> PlanTrim:
        """Return what must come off which edge; a trim takes at least the kerf."""
        usable = usable_of(cuttable.layout.source, self._board)
        over = (
            usable.x - rect.x,
            rect.x + rect.width - usable.x - usable.width,
            usable.y - rect.y,
            rect.y + rect.height - usable.y - usable.height,
        )
        kerf = self._board.tool.kerf
        left, right, top, bottom = (max(size, kerf) if size > 0 else 0 for size in over)
        return PlanTrim(left, right, top, bottom)

    def found(self, names: set[str]) -> Iterator[Found]:
        """Yield every part that is no finished piece, equal ones together, with its name."""
        wanted = [line for line in self._board.ordered if line.qty > self.in_hand[line.label]]
        for alike, members in self._alike.items():
            name = _free(together((one.tale, one.name) for one in members), names)
            source, on = Source(SourceKind.OFFCUT, name, alike.width, alike.height), alike.untrimmed
            standing = Counter(one.standing for one in members if one.standing is not None)
            yield Found(
                source,
                alike.trim,
                on,
                len(members),
                tuple(standing.items()),
                self._rule.kind(alike.width, alike.height),
                _useful(source, on, wanted, self._board.no_turn),
                worst_of(one.off for one in members),
                alike.rough,
            )

    def _too_long(self, rect: Rect, trim: PlanTrim) -> bool:
        """Return whether an edge that must come off a part is longer than the longest cut."""
        longest = self._board.tool.longest_cut
        down = rect.height if trim.left or trim.right else 0
        across = rect.width if trim.top or trim.bottom else 0
        return longest is not None and max(down, across) > longest

    def so_far(self, found: Sequence[Found]) -> Iterator[SoFar]:
        """Yield what became of each sheet."""
        parts: list[list[BenchPart]] = [[] for _ in self.sheets]
        for one, members in zip(found, self._alike.values(), strict=True):
            for member in members:
                area = one.source.width * one.source.height
                name, width, height = one.source.id or "", one.source.width, one.source.height
                lost = member.area - area
                part = BenchPart(name, width, height, one.kind, lost, one.trim, one.untrimmed)
                parts[member.sheet].append(part)
        for number, sheet in enumerate(self.sheets):
            yield SoFar(
                self._board.board,
                sheet.tale.name,
                sheet.tale.layout.source,
                tuple(self._pieces[number]),
                tuple(parts[number]),
                sheet.ruined_area,
                self._trim_area[number],
                sheet.kerf_area,
            )


def _free(name: str, names: set[str]) -> str:
    """Return `name`, or that with a word more where it is taken, and take it."""
    while name in names:
        name += ", again"
    names.add(name)
    return name


def keep_rule(plan: Plan, board: BoardPlan) -> KeepRule:
    """Return what makes a leftover of a board an offcut, as the plan took it."""
    mats = [
        max(line.width, line.height)
        for one in plan.boards
        for line in one.ordered
        if line.kind is PieceKind.MAT
    ]
    mat_board = board.mat_board
    if mat_board is None:
        mat_board = any(line.kind is PieceKind.MAT for line in board.ordered)
    keep = board.keep or default_keep()
    return KeepRule(plan.step, plan.unit, keep, mat_board, max(mats, default=0))


def _trimmed(rect: Rect, trim: PlanTrim) -> Rect | None:
    width = rect.width - trim.left - trim.right
    height = rect.height - trim.top - trim.bottom
    if min(width, height) <= 0:
        return None
    return Rect(rect.x + trim.left, rect.y + trim.top, width, height)


def _less(trim: PlanTrim, other: PlanTrim) -> PlanTrim:
    """Return a trim without those of another's edges."""
    return replace(trim, **{edge.value: 0 for edge in Edge if getattr(other, edge.value)})


def _without(trim: PlanTrim, pending: Sequence[Edge]) -> PlanTrim:
    """Return a trim without that of edges whose errors the stock has in it already."""
    return replace(trim, **{edge.value: 0 for edge in pending})


def _same_size(one: Rect, other: Rect) -> bool:
    return (one.width, one.height) == (other.width, other.height)


def _useful(
    source: Source, untrimmed: PlanTrim, wanted: Sequence[OrderedPiece], no_turn: bool
) -> bool:
    usable = _trimmed(Rect(0, 0, source.width, source.height), untrimmed)

    def holds(width: int, height: int) -> bool:
        return usable is not None and width <= usable.width and height <= usable.height

    return any(
        holds(line.width, line.height)
        or (line.turn and not no_turn and holds(line.height, line.width))
        for line in wanted
    )


def pieces_in(root: Node) -> Counter[str]:
    """Return how many pieces of each label a tree makes."""
    found: Counter[str] = Counter()
    waiting: list[Node] = [root]
    while waiting:
        node = waiting.pop()
        if isinstance(node, PieceNode):
            found[node.label] += 1
        elif isinstance(node, CutNode):
            waiting += [node.first] if node.second is None else [node.first, node.second]
    return found


def rest_of(
    plan: Plan,
    benches: Sequence[Bench],
    wanted: Mapping[str, int],
    holdings: Holdings,
    used: Mapping[Source, int] | None = None,
) -> Order:
    """Return the order for `wanted` pieces, from what is left of the stock of their boards.

    Parameters
    ----------
    wanted
        By label, at least one.
    holdings
        What the rack says of the stock.
    used
        How many of which sources to leave alone, besides those that are begun.
    """
    benches = [bench for bench in benches if any(p.label in wanted for p in bench.board.ordered)]
    name = plan.order if plan.order.endswith(", the rest") else f"{plan.order}, the rest"
    left = _Left(plan, holdings, used or {})
    return Order(
        name=name,
        pieces=tuple(piece for bench in benches for piece in _pieces(plan, bench, wanted)),
        boards=tuple(_board(plan, bench, tuple(left.sheets(bench))) for bench in benches),
        offcuts=tuple(cut for bench in benches for cut in left.offcuts(bench)),
        unit=plan.unit,
        rule=plan.rule,
        notes=tuple(_still_true(plan)),
    )


def _still_true(plan: Plan) -> Iterator[str]:
    """Yield the notes that still hold: what is idle is found anew, of boards that go on."""
    goes_on = (f"{BESIDES}:", *(f"{BESIDES}, of {board.board}:" for board in plan.boards))
    for note in plan.notes:
        if not note.startswith(goes_on):
            yield note


def parts_of_before(plan: Plan, bench: Bench, holdings: Holdings) -> Iterator[Found]:
    """Yield the parts that lay on the bench when `plan` was made, and that are not begun.

    They are offcuts of its stock, named by layouts of the plans before it.
    """
    layouts = bench.board.layouts
    own = min((int(one.id[1:]) for one in layouts if one.id[1:].isdecimal()), default=0)
    for part in offcuts_left(plan, bench):
        named = PART.match(part.source.id or "")
        gone = (bench.board.board, part.source.id) in holdings.gone
        if named is not None and int(named[1]) < own and not gone:
            yield part


def offcuts_left(plan: Plan, bench: Bench) -> Iterator[Found]:
    """Yield the offcuts of a plan's stock that are not begun."""
    rule = keep_rule(plan, bench.board)
    for item in bench.board.stock:
        source = item.source
        count = (item.available or 0) - bench.opened[source]
        if source.kind is SourceKind.OFFCUT and count > 0:
            kind = rule.kind(source.width, source.height)
            trim, on = item.trim or NO_TRIM, item.untrimmed or NO_TRIM
            useful = bench.may_serve(source, on)
            yield Found(source, trim, on, count, (), kind, useful, item.off, item.rough)


def _pieces(plan: Plan, bench: Bench, wanted: Mapping[str, int]) -> Iterator[Piece]:
    for line in bench.board.ordered:
        if line.label in wanted:
            size = Size(plan.step * line.width, plan.step * line.height)
            count = wanted[line.label]
            yield Piece(line.label, line.kind, count, size, bench.board.board, line.turn)


def _board(plan: Plan, bench: Bench, sheets: tuple[SheetSize, ...]) -> Board:
    board, step = bench.board, plan.step
    trim = board.trim
    # Of the grade a plan says no more than whether it is mat board, and needs no more.
    grade = {True: Grade.COTTON, False: Grade.OTHER, None: None}[board.mat_board]
    return Board(
        board.board,
        _tool(plan, bench),
        sheets,
        Trim(step * trim.left, step * trim.right, step * trim.top, step * trim.bottom),
        board.no_turn,
        grade=grade,
        keep=board.keep or default_keep(),
    )


def _tool(plan: Plan, bench: Bench) -> Tool:
    tool, step = bench.board.tool, plan.step
    made = Tool(
        tool.name,
        step * tool.kerf,
        None if tool.longest_cut is None else step * tool.longest_cut,
        step * tool.narrowest_strip if tool.narrowest_strip else ZERO,
        None if tool.kind is None else ToolKind(tool.kind),
        tool.reach,
        tool.squares,
    )
    if tool.repeatability is not None:
        made = replace(made, repeatability=tool.repeatability)
    if tool.rule_class is not None:
        made = replace(made, rule_class=RuleClass(tool.rule_class))
    return made


@dataclass(frozen=True, slots=True)
class _Left:
    """What is left of the stock."""

    plan: Plan
    holdings: Holdings
    used: Mapping[Source, int]

    def sheets(self, bench: Bench) -> Iterator[SheetSize]:
        """Yield the full sheets of a board."""
        for item in bench.board.stock:
            source = item.source
            if source.kind is not SourceKind.SHEET:
                continue
            gone = bench.opened[source] + self.used.get(source, 0)
            size = self._size(source)
            sold = size if item.nominal is None else item.nominal
            there = item.on_hand if item.available is None else item.available
            there = self.holdings.sheets.get((bench.board.board, sold), there)
            yield SheetSize(
                sold,
                item.price,
                None if there is None else max(0, there - gone),
                buyable=item.available is None,
                measured=None if item.nominal is None else size,
            )

    def offcuts(self, bench: Bench) -> Iterator[Offcut]:
        """Yield the offcuts not yet begun, the parts on the bench, then what else the rack has."""
        board = bench.board.board
        for item in bench.board.stock:
            source = item.source
            if source.kind is not SourceKind.OFFCUT or source.id is None:
                continue
            there = 1 if item.available is None else item.available
            count = there - bench.opened[source] - self.used.get(source, 0)
            if count > 0 and (board, source.id) not in self.holdings.gone:
                trim, on = self._trim(item.trim or NO_TRIM), self._trim(item.untrimmed or NO_TRIM)
                size, off = self._size(source), item.off
                yield Offcut(board, size, source.id, count, trim, off, item.rough, on)
        for part in bench.parts:
            count = part.count - self.used.get(part.source, 0)
            if count > 0 and part.source.id is not None:
                trim, on = self._trim(part.trim), self._trim(part.untrimmed)
                size, off = self._size(part.source), part.off
                yield Offcut(board, size, part.source.id, count, trim, off, part.rough, on)
        for offcut in self.holdings.offcuts:
            if offcut.board == board and self._is_free(bench, offcut):
                yield offcut

    def _is_free(self, bench: Bench, offcut: Offcut) -> bool:
        """Return whether an offcut of the rack is neither begun nor used, and may hold a piece."""
        step = self.plan.step
        width, height = offcut.size.width.steps(step), offcut.size.height.steps(step)
        source = Source(SourceKind.OFFCUT, offcut.id, width, height)
        begun = any(one.id == offcut.id for one in bench.opened)
        return not begun and not self.used.get(source) and bench.may_serve(source)

    def _size(self, source: Source) -> Size:
        return Size(self.plan.step * source.width, self.plan.step * source.height)

    def _trim(self, trim: PlanTrim) -> Trim:
        edges = (trim.left, trim.right, trim.top, trim.bottom)
        left, right, top, bottom = (self.plan.step * edge for edge in edges)
        return Trim(left, right, top, bottom)
