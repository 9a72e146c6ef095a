"""The sentences of a summary: what to take, how sure it is, what is left."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from kerfwright.audit.facts import Areas, BoardFacts
from kerfwright.lengths import Size, format_size
from kerfwright.plan.model import (
    Aim,
    BoardPlan,
    Layout,
    LeftoverKind,
    Plan,
    Source,
    SourceKind,
    Stop,
)

__all__ = ["Ruler", "cautions", "cost", "layouts", "left", "money", "proof", "stopped", "take"]


@dataclass(frozen=True, slots=True)
class Ruler:
    """Shows a plan's steps in its own unit."""

    plan: Plan

    def size(self, width: int, height: int) -> str:
        """Return a size such as ``16 x 20 in``."""
        step, unit = self.plan.step, self.plan.unit
        shown = Size(step * width, step * height)
        return format_size(shown, unit, rule=self.plan.rule, with_unit=True)


def counted(number: int, word: str) -> str:
    """Return ``1 sheet``, ``2 sheets``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def money(amount: Fraction) -> str:
    """Return an amount with two decimals, marked where they cannot hold it."""
    cents = amount * 100
    whole = round(cents)
    mark = "" if whole == cents else "≈"
    return f"{mark}{whole // 100}.{whole % 100:02d}"


def _source_name(source: Source, ruler: Ruler) -> str:
    size = ruler.size(source.width, source.height)
    if source.kind is SourceKind.SHEET:
        return f"{size} sheet"
    named = source.kind.value if source.id is None else f"{source.kind.value} {source.id}"
    return f"{named} ({size})"


def take(facts: BoardFacts, ruler: Ruler) -> Iterator[str]:
    """Say what to take off the rack, a line for each kind of source."""
    for use in facts.sources:
        source = use.source
        if source.kind is SourceKind.SHEET:
            yield f"{counted(use.copies, 'sheet')}, {ruler.size(source.width, source.height)}"
        else:
            yield _source_name(source, ruler)


def proof(board: BoardPlan, facts: BoardFacts) -> Iterator[str]:
    """Say whether the plan is proved least, and how anyone can see it."""
    if not board.sheets:
        yield "No full sheet is needed."
        return
    yield _claim(board)
    if facts.rechecked:
        yield "The bound was rechecked from the piece values in the plan."
    elif board.certificate.note:
        yield f"Shown by search: {board.certificate.note.removesuffix('.')}."


def _claim(board: BoardPlan) -> str:
    if board.aim is Aim.COST:
        return _cost_claim(board)
    one_size = len(_sheet_sizes(board)) < 2
    if board.proved_least:
        return (
            "No plan can use fewer." if one_size else "No plan can use less board in full sheets."
        )
    least = f"At least {board.sheets_lower_bound} {_needed(board.sheets_lower_bound)} needed"
    if one_size:
        return f"{least}; fewer than {board.sheets} was not ruled out."
    return f"{least}; less board than this was not ruled out."


def _needed(number: int) -> str:
    return "is" if number == 1 else "are"


def _cost_claim(board: BoardPlan) -> str:
    if not board.proved_least:
        least, most = money(board.value_lower_bound), money(board.value)
        return f"At least {least} must be spent; less than {most} was not ruled out."
    if board.sheets == board.sheets_lower_bound:
        return "No plan can cost less, and none can use fewer."
    return "No plan can cost less."


def _sheet_sizes(board: BoardPlan) -> set[tuple[int, int]]:
    sources = (item.source for item in board.stock)
    return {(s.width, s.height) for s in sources if s.kind is SourceKind.SHEET}


def cost(board: BoardPlan) -> Iterator[str]:
    """Say what the full sheets cost, where every size has a price."""
    if board.aim is Aim.COST:
        yield f"{money(board.value)} for full sheets"


def layouts(board: BoardPlan, ruler: Ruler) -> Iterator[str]:
    """Say what each layout makes: ``L1, twice, from a 32 x 40 in sheet: 4 A``."""
    for layout in board.layouts:
        made = Counter(piece.label for piece in layout.pieces)
        pieces = ", ".join(f"{number} {label}" for label, number in made.items())
        source = _source_name(layout.source, ruler)
        alike = f", {layout.copies} alike" if layout.copies > 1 else ""
        yield f"{layout.id}{alike}, from {_article(source)}: {pieces}"


def _article(source: str) -> str:
    return f"a {source}" if source.endswith("sheet") else source


def left(board: BoardPlan, facts: BoardFacts, ruler: Ruler) -> Iterator[str]:
    """Say what is left: every offcut and where it falls, the slip sheets, the scrap."""
    yield from _fallen(board.layouts, LeftoverKind.OFFCUT, ruler)
    yield from _fallen(board.layouts, LeftoverKind.SLIP_SHEET, ruler)
    yield _waste(facts.areas)


def _fallen(layouts: Iterable[Layout], kind: LeftoverKind, ruler: Ruler) -> Iterator[str]:
    found: Counter[tuple[str, str]] = Counter()
    for layout in layouts:
        for leftover in layout.leftovers:
            if leftover.kind is kind:
                found[ruler.size(leftover.width, leftover.height), layout.id] += layout.copies
    for (size, layout_id), number in found.items():
        yield f"{counted(number, kind.value)}, {size}, from {layout_id}"


def _waste(areas: Areas) -> str:
    wasted = areas.scrap + areas.trim + areas.kerf
    if not wasted:
        return "nothing wasted"
    percent = Fraction(100 * wasted, areas.sources)
    share = "under 1%" if percent < 1 else f"{round(percent)}%"
    return f"{share} of what is taken goes in scrap, trim and kerf"


def stopped(plan: Plan) -> Iterator[str]:
    """Say whether planning was cut short."""
    if plan.stopped is Stop.INTERRUPTED:
        yield "Stopped by hand: the best plan found by then; another run may differ."
    elif plan.stopped is Stop.SECONDS:
        yield "Stopped by the clock: the best plan found by then; another run may differ."


def cautions(plan: Plan) -> Iterator[str]:
    """Say what keeps hands whole, for each kind of tool in the plan."""
    kerfs = {bool(board.tool.kerf) for board in plan.boards}
    if False in kerfs:
        yield "Knife: a sharp blade, cut away from yourself, and no hand in its path."
    if True in kerfs:
        yield "Saw: guard and riving knife on, a push stick for strips, eyes and lungs covered."
