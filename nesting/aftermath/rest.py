"""What a board's sheets hold now, and the order that is left: what is in hand, stock, wanted."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..lengths import ZERO, Size
from ..order import Order, Piece
from ..plan.model import Source, SourceKind
from ..plan.trees import CutNode, DraftLayout, PieceNode
from ..stock import Board, Grade, Offcut, RuleClass, SheetSize, Tool, ToolKind, Trim, default_keep
from .said import RUINED, refused
from .sheets import Cuttable, Rect, cut_so_far, usable_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ..plan.model import BoardPlan, OrderedPiece, Plan
    from ..plan.trees import Node
    from .said import SheetTale
    from .sheets import Lying, Sheet

__all__ = ["Bench", "Found", "bench_of", "pieces_in", "rest_of"]

Trims = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A part on the bench from which pieces can still be cut.

    Attributes
    ----------
    source
        The part with its factory edges off, as stock.
    trims
        What must first come off which edge of it, in steps.
    standing
        What the plan would make of it, where it is just as planned; else None.
    """

    source: Source
    trims: Trims
    standing: Node | None


@dataclass(frozen=True, slots=True)
class Bench:
    """One board in the middle of the job.

    Attributes
    ----------
    in_hand
        Finished pieces by label.
    parts
        What can still be cut.
    left_out
        The names of parts whose factory edges the tool cannot take off.
    untouched
        The layouts of which sheets are still to be opened, as trees, with how many.
    opened
        How many of each source are begun.
    """

    board: BoardPlan
    in_hand: Counter[str]
    parts: tuple[Found, ...]
    left_out: tuple[str, ...]
    untouched: tuple[DraftLayout, ...]
    opened: Counter[Source]
    sheets: tuple[Sheet, ...]

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
        Counted in a step that holds every setting used.
    names
        Names that stock has already; those given here are added.
    """
    cuttable = {layout.id: Cuttable(layout, board.tool.kerf) for layout in board.layouts}
    begun = [tale for tale in tales if tale.layout in board.layouts]
    sheets = tuple(
        cut_so_far(tale, cuttable[tale.layout.id], plan.step, plan.unit) for tale in begun
    )
    looked = _Look(board, names)
    for sheet in sheets:
        looked.at(sheet)
    wanted = [line for line in board.ordered if line.qty > looked.in_hand[line.label]]
    taken = Counter(tale.layout.id for tale in begun)
    return Bench(
        board,
        looked.in_hand,
        tuple(part for part in looked.parts if _useful(part.source, wanted, board.no_turn)),
        tuple(looked.left_out),
        tuple(
            looked.whole(cuttable[layout.id], taken)
            for layout in board.layouts
            if layout.copies > taken[layout.id]
        ),
        Counter(tale.layout.source for tale in begun),
        sheets,
    )


class _Look:
    """Goes from sheet to sheet, and sorts what lies there."""

    def __init__(self, board: BoardPlan, names: set[str]) -> None:
        self._board, self._names = board, names
        self.in_hand: Counter[str] = Counter()
        self.parts: list[Found] = []
        self.left_out: list[str] = []

    def whole(self, cuttable: Cuttable, taken: Counter[str]) -> DraftLayout:
        layout = cuttable.layout
        root = cuttable.tree(0, usable_of(layout.source, self._board.trim), (0, 0))
        assert root is not None
        return DraftLayout(layout.source, root, layout.copies - taken[layout.id])

    def at(self, sheet: Sheet) -> None:
        here: Counter[str] = Counter()
        for lying in sheet.lying:
            label = self._finished(sheet.cuttable, lying)
            if label is not None:
                here[label] += 1
            else:
                self._keep(sheet.cuttable, lying)
        for label, count in Counter(sheet.tale.ruined_labels).items():
            if count > here[label]:
                have = {0: "none is", 1: "one is"}.get(here[label], f"{here[label]} are")
                problem = f"names a finished {label}, of which {have} in hand"
                accepted = "say with --done which cuts are made"
                raise refused(RUINED, f"{sheet.tale.name}:{label}", problem, accepted)
            here[label] -= count
        self.in_hand += here

    def _finished(self, cuttable: Cuttable, lying: Lying) -> str | None:
        """Return the label of a part that is a piece, exact, with no factory edge left on it."""
        if lying.planned is None:
            return None
        part = cuttable.parts[lying.planned]
        if part.piece is None or not _same_size(part.rect, lying.rect):
            return None
        return None if self._needed(cuttable, lying.rect) else part.piece.label

    def _keep(self, cuttable: Cuttable, lying: Lying) -> None:
        trims = self._needed(cuttable, lying.rect)
        rect = _trimmed(lying.rect, trims)
        if rect is None:
            return
        name = self._named(lying.name)
        across = max(
            (
                lying.rect.height if edge in ("left", "right") else lying.rect.width
                for edge, _ in trims
            ),
            default=0,
        )
        longest = self._board.tool.longest_cut
        if longest is not None and across > longest:
            self.left_out.append(name)
            return
        source = Source(SourceKind.OFFCUT, name, rect.width, rect.height)
        self.parts.append(Found(source, trims, self._standing(cuttable, lying, trims)))

    def _standing(self, cuttable: Cuttable, lying: Lying, trims: Trims) -> Node | None:
        if lying.planned is None:
            return None
        planned = cuttable.parts[lying.planned].rect
        if not _same_size(planned, lying.rect) or self._needed(cuttable, planned) != trims:
            return None
        usable = _trimmed(planned, trims)
        assert usable is not None
        tree = cuttable.tree(lying.planned, usable, (usable.x, usable.y))
        return tree if tree is not None and pieces_in(tree) else None

    def _named(self, name: str) -> str:
        while name in self._names:
            name += ", again"
        self._names.add(name)
        return name

    def _needed(self, cuttable: Cuttable, rect: Rect) -> Trims:
        """Return what must come off which edge; a trim takes at least the kerf."""
        usable = usable_of(cuttable.layout.source, self._board.trim)
        sides = (
            ("left", usable.x - rect.x),
            ("right", rect.x + rect.width - usable.x - usable.width),
            ("top", usable.y - rect.y),
            ("bottom", rect.y + rect.height - usable.y - usable.height),
        )
        return tuple((edge, max(size, self._board.tool.kerf)) for edge, size in sides if size > 0)


def _trimmed(rect: Rect, trims: Trims) -> Rect | None:
    off = dict(trims)
    left, top = off.get("left", 0), off.get("top", 0)
    width = rect.width - left - off.get("right", 0)
    height = rect.height - top - off.get("bottom", 0)
    return Rect(rect.x + left, rect.y + top, width, height) if min(width, height) > 0 else None


def _same_size(one: Rect, other: Rect) -> bool:
    return (one.width, one.height) == (other.width, other.height)


def _useful(source: Source, wanted: Sequence[OrderedPiece], no_turn: bool) -> bool:
    def holds(width: int, height: int) -> bool:
        return width <= source.width and height <= source.height

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
    used: Mapping[Source, int] | None = None,
) -> Order:
    """Return the order for `wanted` pieces, from what is left of the stock of their boards.

    Parameters
    ----------
    wanted
        By label, at least one.
    used
        How many of which sources to leave alone, besides those that are begun.
    """
    benches = [bench for bench in benches if any(p.label in wanted for p in bench.board.ordered)]
    name = plan.order if plan.order.endswith(", the rest") else f"{plan.order}, the rest"
    used = used or {}
    return Order(
        name=name,
        pieces=tuple(piece for bench in benches for piece in _pieces(plan, bench, wanted)),
        boards=tuple(_board(plan, bench, used) for bench in benches),
        offcuts=tuple(cut for bench in benches for cut in _offcuts(plan, bench, used)),
        unit=plan.unit,
        rule=plan.rule,
        notes=plan.notes,
    )


def _pieces(plan: Plan, bench: Bench, wanted: Mapping[str, int]) -> Iterator[Piece]:
    for line in bench.board.ordered:
        if line.label in wanted:
            size = Size(plan.step * line.width, plan.step * line.height)
            count = wanted[line.label]
            yield Piece(line.label, line.kind, count, size, bench.board.board, line.turn)


def _board(plan: Plan, bench: Bench, used: Mapping[Source, int]) -> Board:
    board, step = bench.board, plan.step
    trim = board.trim
    # Of the grade a plan says no more than whether it is mat board, and needs no more.
    grade = {True: Grade.COTTON, False: Grade.OTHER, None: None}[board.mat_board]
    return Board(
        board.board,
        _tool(plan, bench),
        tuple(_sheets(plan, bench, used)),
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


def _sheets(plan: Plan, bench: Bench, used: Mapping[Source, int]) -> Iterator[SheetSize]:
    for item in bench.board.stock:
        source = item.source
        if source.kind is not SourceKind.SHEET:
            continue
        gone = bench.opened[source] + used.get(source, 0)
        size = Size(plan.step * source.width, plan.step * source.height)
        there = item.on_hand if item.available is None else item.available
        yield SheetSize(
            size if item.nominal is None else item.nominal,
            item.price,
            None if there is None else max(0, there - gone),
            buyable=item.available is None,
            measured=None if item.nominal is None else size,
        )


def _offcuts(plan: Plan, bench: Bench, used: Mapping[Source, int]) -> Iterator[Offcut]:
    """Yield the offcuts not yet begun, then the parts on the bench."""
    for item in bench.board.stock:
        source = item.source
        gone = bench.opened[source] + used.get(source, 0)
        if source.kind is SourceKind.OFFCUT and source.id is not None and not gone:
            size = Size(plan.step * source.width, plan.step * source.height)
            yield Offcut(bench.board.board, size, source.id)
    for part in bench.parts:
        name = part.source.id
        assert name is not None
        if not used.get(part.source, 0):
            size = Size(plan.step * part.source.width, plan.step * part.source.height)
            yield Offcut(bench.board.board, size, name)
