"""Labels for the offcuts: to cut out and stick on, one for each where there are not too many."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from ..audit.facts import AuditedPlan, LeftoverCount
from ..plan.model import BoardPlan, LeftoverKind, Plan
from .lettering import elide, spelled, typeset, width, wrap
from .page import Page
from .paper import Box
from .words import Measures, short_digest

__all__ = ["Label", "label_pages", "put_labels"]

KINDS = (LeftoverKind.OFFCUT, LeftoverKind.SLIP_SHEET)
LABEL_HEIGHT, LABEL_WIDTH = 112.0, 250.0
GAP = 10.0
MOST_SINGLE = 48  # labels, from which on there is one for each size
SIZES, NAME, SMALL = (20.0, 16.0, 12.0), 11.5, 9.0


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label.

    Attributes
    ----------
    layouts
        Where it comes from.
    number
        How many offcuts it is for: one, or all of its size.
    directed
        Whether the board has a direction, to be marked with an arrow.
    """

    board: str
    kind: str
    size: str
    layouts: str
    number: int
    directed: bool


def label_pages(audited: AuditedPlan, room: Box) -> list[list[tuple[Box, Label]]]:
    """Return the labels page by page, each with its place; none if nothing is worth keeping."""
    labels = list(_labels(audited))
    places = _places(room)
    pages = iter(labels)
    found = []
    while page := list(islice(pages, len(places))):
        found.append(list(zip(places, page, strict=False)))
    return found


def _places(room: Box) -> list[Box]:
    across = max(1, int((room.width + GAP) // (LABEL_WIDTH + GAP)))
    down = max(1, int((room.height + GAP) // (LABEL_HEIGHT + GAP)))
    return [
        Box(room.left + column * (LABEL_WIDTH + GAP), room.top + row * (LABEL_HEIGHT + GAP),
            LABEL_WIDTH, LABEL_HEIGHT)
        for row in range(down)
        for column in range(across)
    ]  # fmt: skip


def _labels(audited: AuditedPlan) -> Iterator[Label]:
    measures = Measures(audited.plan)
    many = sum(left.count for facts in audited.facts for left in facts.left if left.kind in KINDS)
    for board, facts in zip(audited.plan.boards, audited.facts, strict=True):
        for left in facts.left:
            if left.kind in KINDS:
                number = left.count if many > MOST_SINGLE else 1
                label = _label(board, left, number, measures)
                yield from [label] * (left.count // number)


def _label(board: BoardPlan, left: LeftoverCount, number: int, measures: Measures) -> Label:
    wanted = (left.kind, left.width, left.height)
    origins = [
        layout.id
        for layout in board.layouts
        if any((one.kind, one.width, one.height) == wanted for one in layout.leftovers)
    ]
    size = measures.size_in_unit(left.width, left.height)
    shown = ", ".join(origins)
    return Label(board.board, left.kind.value, size, shown, number, board.no_turn)


def put_labels(page: Page, labels: list[tuple[Box, Label]], plan: Plan) -> None:
    """Draw the labels of one page."""
    for box, label in labels:
        page.box(box, 0.8)
        _put(page, box, label, plan)


def _put(page: Page, box: Box, label: Label, plan: Plan) -> None:
    left, room = box.left + 9, box.width - 18
    named, type_size = _named(spelled(label.board), room)
    first = box.top + (19 if len(named) == 1 else 14)
    for line, text in enumerate(named):
        page.text(left, first + 11 * line, text, type_size, bold=True)
    shown = typeset(label.size)
    size = next((s for s in SIZES if width(shown, s, True) <= room), SIZES[-1])
    page.text(left, box.top + 46, shown, size, bold=True)
    kind = label.kind if label.number == 1 else f"{label.number} {label.kind}s alike"
    origin = f"{kind} from {label.layouts} · order {short_digest(plan)}"
    page.text(left, box.top + 64, elide(origin, room, SMALL), SMALL)
    page.text(left, box.top + 84, "measured __________ × __________", SMALL)
    page.text(left, box.top + 101, "date ______________   no. ________", SMALL)
    if label.directed:
        page.text(box.right - 9, box.top + 101, "direction ↕", SMALL, align="right")


def _named(board: str, room: float) -> tuple[list[str], float]:
    """Return a board's name in one line or two, and their size of type.

    What tells boards apart may stand in the middle of their names, so nothing is left out that
    two lines can hold.
    """
    if width(board, NAME, True) <= room:
        return [board], NAME
    lines = wrap(board, room, SMALL, True)
    if len(lines) <= 2:
        return list(lines), SMALL
    begun = lines[0]
    return [begun, elide(board.removeprefix(begun).strip(), room, SMALL, True)], SMALL
