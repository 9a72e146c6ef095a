"""The cut list of a layout: each cut, or run of them, with number, setting, edge and parts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ..plan.model import BoardPlan, Layout, LeftoverKind
from ..plan.names import piece_named
from ..telling import UNBROKEN, first_off
from .flow import Gap, Item, Line, paragraph
from .labels import DETAIL, Legend
from .lettering import CAP, LEADING, typeset, width, wrap
from .numbers import number_size, ring_width
from .page import Page
from .paper import Box
from .rows import RowWords, counted_names, row_words, uncut
from .words import Measures

__all__ = ["DENSE", "USUAL", "CutRow", "Look", "cut_list", "cut_rows", "key_list"]

BESIDE = 12.0  # of a row's width, what keeps ring, setting and edge apart
MOST_TICKS = 3  # a box for each copy up to this many, else one
LEAST_INDENT = 24.0  # of what a mark means
VISIBLE = 3.2  # points of trim, of which half an outline and half a heavy cut cover two
NO_WAY_BACK = "No way back from this cut on."


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
        for told in uncut(layout, measures):
            items += paragraph(told, room, look.detail)
    return items


def cut_rows(
    layout: Layout,
    board: BoardPlan,
    measures: Measures,
    legend: Legend,
    room: float,
    look: Look = USUAL,
) -> tuple[CutRow, ...]:
    """Return the rows of a layout, broken into lines for a column of that width."""
    told = row_words(layout, board, measures, legend)

    def broken() -> tuple[CutRow, ...]:
        lines = _Lines(room, look)
        return tuple(lines.row(one, layout.copies) for one in told)

    return measures.kept(("rows", told, room, look, layout.copies), broken)


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


class _Lines:
    """Breaks what rows say into lines for a column."""

    def __init__(self, room: float, look: Look) -> None:
        self.room, self.look = room, look
        self.inner = room - 4  # what a row's lines are broken for

    def row(self, told: RowWords, copies: int) -> CutRow:
        """Return a row with its lines."""
        detail = (
            *(line for one in told.before for line in self._wrapped(one)),
            *self._detail(told.whole, told.given),
            *(line for one in told.after for line in self._wrapped(one)),
            *([NO_WAY_BACK] if told.commits else []),
        )
        ticks = self._ticks(told, copies)
        return CutRow(
            told.name,
            told.setting,
            told.edge,
            detail,
            max(ticks, 1),
            told.moved,
            commits=told.commits,
            look=self.look,
            edge_below=not ticks,
        )

    def _wrapped(self, text: str) -> tuple[str, ...]:
        return wrap(text, self.inner, self.look.detail)

    def _fits(self, text: str) -> bool:
        return width(text, self.look.detail) <= self.inner

    def _ticks(self, told: RowWords, copies: int) -> int:
        """Return how many boxes have room beside the rest: one for each copy, one, or none."""
        look = self.look
        taken = ring_width(told.name, look.radius)
        taken += width(typeset(told.setting), look.setting, told.moved)
        taken += width(typeset(told.edge), look.edge) + BESIDE
        room = int((self.room - taken) // look.pitch)
        return copies if copies <= min(MOST_TICKS, room) else min(1, max(0, room))

    def _detail(self, whole: str, given: Sequence[str]) -> tuple[str, ...]:
        """Return ``C 32 × 20 → A1 + offcut 16 × 20`` on as many lines as it takes."""
        together = " + ".join(given if len(given) <= 2 else counted_names(given))
        if self._fits(f"{whole} → {together}"):
            return (f"{whole} → {together}",)
        if not self._fits(f"{whole} →"):
            return (*self._wrapped(whole), *self._one_a_line("→", counted_names(given)))
        if self._fits(together):
            return (f"{whole} →", together)
        first, *others = counted_names(given)
        if self._fits(f"{whole} → {first}"):
            return (f"{whole} → {first}", *self._one_a_line("+", others))
        return (f"{whole} →", *self._one_a_line("", [first, *others]))

    def _one_a_line(self, sign: str, parts: Iterable[str]) -> Iterator[str]:
        """Yield the parts in lines, a sign before each; the first has its own."""
        for part in parts:
            yield from self._wrapped(f"{sign} {part}")
            sign = "+"


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
        key.mark: _named(key.title, key.size)
        + (f", on one of {shared[key.mark]}" if key.mark in shared else "")
        for key in legend.keys
        if key.title
    }
    labels = [f"{label}: {size}" for label, size in _sizes_of_labels(legend)]
    if look.running and (told or labels):
        pairs = (UNBROKEN.join([mark, *one.split()]) for mark, one in told.items())
        yield from paragraph("; ".join([*pairs, *labels]), room, look.detail)
        return
    for mark, one in told.items():
        indent = max(LEAST_INDENT, width(mark, look.detail) + 8)
        yield from paragraph(one, room, look.detail, indent=indent, mark=mark)
    for (label, size), whole in zip(_sizes_of_labels(legend), labels, strict=True):
        indent = max(LEAST_INDENT, width(label, look.detail) + 8)
        if indent + width(size, look.detail) <= room:
            yield from paragraph(size, room, look.detail, indent=indent, mark=label)
        else:
            yield from paragraph(whole, room, look.detail)


def _sizes_of_labels(legend: Legend) -> list[tuple[str, str]]:
    """Return each label drawn without its size, and the size; both, if it lies both ways."""
    sizes: dict[str, list[str]] = {}
    for key in legend.keys:
        if not key.title:
            sizes.setdefault(key.mark, []).append(key.size)
    return [(piece_named(label), " or ".join(both)) for label, both in sizes.items()]


def _named(title: str, size: str) -> str:
    """Return a name with its size; a name that ends in a number must not run into it."""
    last = title.rsplit(" ", 1)[-1]
    between = ": " if last.isdecimal() and title and size else "  "
    name = piece_named(title) if title.isdecimal() else title
    return f"{name}{between}{size}".strip()


def _tags(legend: Legend) -> Iterator[str]:
    if legend.tagged:
        yield "◂ C: cuts C; its stop lies that way."


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
