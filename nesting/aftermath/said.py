"""What a person says of the cuts: which are made, at which setting, and what was ruined."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from ..errors import RefusedValue
from ..lengths import Length, Size, Unit, common_step, format_length, parse_length, parse_size
from ..order import MOST_STEPS
from ..plan.edges import FACING, edges_off
from ..plan.model import Axis, BoardPlan, Edge, Layout, Plan, trim_of

__all__ = ["DONE", "RUINED", "WRONG", "SheetTale", "Spoiled", "refused", "tales_of"]

DONE, WRONG, RUINED = "--done", "--wrong", "--ruined"
ACCEPTED = {
    DONE: "write a layout and its cuts, such as L1:1-4 or L1/2:4",
    WRONG: "write a layout, a cut and the setting used, such as L1:5=11 3/4 or L1/2:5=11 3/4;"
    " or an edge and what was left, L1:left=31 3/4",
    RUINED: "write a layout and a part, such as L1:C, and what of it is good: L1:C=12 x 20",
}
_PLACE = re.compile(r"(?P<layout>[^/:]+)(?:/(?P<sheets>[^:]*))?(?::(?P<rest>.*))?", re.DOTALL)
_RANGE = re.compile(r"([0-9]{1,9})(?: *[-\N{EN DASH}] *([0-9]{1,9}))?")  # the pages print the dash
_NUMBER = re.compile(r"[0-9]{1,9}")


@dataclass(frozen=True, slots=True)
class Spoiled:
    """A part that is spoiled.

    Attributes
    ----------
    text
        As it was said.
    what
        Its letter, its label, its piece's name, or the number of the cut that would divide it.
    good
        What of it is still good, each the first number along the first of the sheet's size.
    """

    text: str
    what: str
    good: tuple[Size, ...] = ()


@dataclass(slots=True)
class SheetTale:
    """What is said of one sheet, or offcut, of a layout.

    Attributes
    ----------
    sheet
        Which of the layout's copies, from 1.
    begun
        Whether anything was done to it; a layout may have no cuts.
    made
        Cuts 1 to this one are made.
    settings
        By cut number: the setting that was used where it was not the plan's.
    edges
        Edges that were taken off before the first cut, each with what was left then from the edge
        that faces it; None where it is as the page has it.
    spoiled
        The parts that are spoiled; of pieces of one label, one for each mention.
    """

    layout: Layout
    sheet: int
    begun: bool = False
    made: int = 0
    settings: dict[int, Length] = field(default_factory=dict)
    edges: dict[Edge, Length | None] = field(default_factory=dict)
    spoiled: list[Spoiled] = field(default_factory=list)

    @property
    def lengths(self) -> Iterator[Length]:
        """Every length that was said of it."""
        yield from self.settings.values()
        yield from (left for left in self.edges.values() if left is not None)
        for spoiled in self.spoiled:
            for size in spoiled.good:
                yield from (size.width, size.height)

    @property
    def mistakes(self) -> int:
        """How many cuts, edges and parts are said to have gone wrong."""
        edges = sum(left is not None for left in self.edges.values())
        return len(self.settings) + edges + len(self.spoiled)

    @property
    def name(self) -> str:
        """The sheet as a person says it: ``L1``, or ``L1/2`` where there are several."""
        return self.layout.id if self.layout.copies == 1 else f"{self.layout.id}/{self.sheet}"


def refused(option: str, text: str, problem: str, accepted: str | None = None) -> RefusedValue:
    """Return the refusal of what was said with `option`."""
    return RefusedValue(option, text, problem, accepted or ACCEPTED[option])


def tales_of(
    plan: Plan, done: Sequence[str], wrong: Sequence[str] = (), ruined: Sequence[str] = ()
) -> tuple[SheetTale, ...]:
    """Return what is said of each sheet that was begun, in the order of the plan.

    Parameters
    ----------
    done
        ``L1`` (all of it), ``L1:4`` (up to cut 4), ``L1:1-4``, ``L1:1,3,2``, ``L1/2:1-4`` (sheet
        2 of it);
        ``L1:top`` (of the edges that come off before the first cut, those up to the top one).
    wrong
        ``L1:5=11 3/4``: cut 5 was made at 11 3/4, and those before it are made too.
        ``L1:left=31 3/4``: when the left edge was off, 31 3/4 was left from the right one.
    ruined
        ``L1:C``, the part C of its page; ``L1:A2``, the piece of that name; ``L1:A``, one
        finished A; ``L1:6``, the part that cut 6 would divide. ``L1:C=12 x 20 + 4 x 9`` says
        that two parts of these sizes are left of it.

    Raises
    ------
    RefusedValue
        For a layout, sheet, cut, edge or label that does not exist, or a setting that is none.
    """
    book = _Book(plan)
    book.note_done(done)
    for text in wrong:
        book.note_wrong(text)
    for text in ruined:
        book.note_ruined(text)
    return tuple(tale for tale in book.tales.values() if tale.begun)


class _Book:
    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._layouts = {layout.id: layout for board in plan.boards for layout in board.layouts}
        self._boards = {layout.id: board for board in plan.boards for layout in board.layouts}
        self.tales: dict[tuple[str, int], SheetTale] = {}
        for layout in self._layouts.values():
            for sheet in range(1, layout.copies + 1):
                self.tales[layout.id, sheet] = SheetTale(layout, sheet)

    def note_done(self, texts: Sequence[str]) -> None:
        made: dict[tuple[str, int], set[int]] = {}
        said: dict[tuple[str, int], str] = {}
        for text in texts:
            layout, sheets, rest = self._place(DONE, text)
            edge = _edge(rest)
            for sheet in sheets:
                if edge is not None:
                    self._note_off(DONE, text, self.tales[layout.id, sheet], edge)
                cuts = set() if edge is not None else set(_cuts(text, layout, rest))
                made.setdefault((layout.id, sheet), set()).update(cuts)
                said[layout.id, sheet] = text
        for key, cuts in made.items():
            missing = next((n for n in range(1, len(cuts) + 1) if n not in cuts), None)
            if missing is not None:
                name = self.tales[key].name
                problem = f"leaves out cut {missing} of {name}; the cuts are made in order"
                until = min(n for n in cuts if n > missing) - 1
                cut = f"{missing}" if until == missing else f"{missing}-{until}"
                raise refused(DONE, said[key], problem, f"say {name}:{cut} too")
            self.tales[key].made = len(cuts)
            self.tales[key].begun = True

    def note_wrong(self, text: str) -> None:
        place, equals, written = text.partition("=")
        tale, rest = self._one(WRONG, text, place)
        edge = _edge(rest)
        if equals and edge is not None:
            self._note_wrong_edge(text, tale, edge, self._setting(text, written))
            return
        if not equals or rest is None or not _NUMBER.fullmatch(rest.strip()):
            raise refused(WRONG, text, "does not say which cut was made at which setting")
        number = _known(WRONG, text, tale.layout, int(rest))
        setting = self._setting(text, written)
        cut = tale.layout.cuts[number - 1]
        if setting == self._plan.step * cut.setting:
            told = format_length(setting, self._plan.unit, with_unit=True)
            raise refused(
                WRONG, text, f"gives the setting of the plan, {told}", "say it with --done"
            )
        if number in tale.settings:
            raise refused(WRONG, text, f"speaks of cut {number} a second time", "say it once")
        tale.settings[number] = setting
        tale.made = max(tale.made, number)

    def _note_off(self, option: str, text: str, tale: SheetTale, edge: Edge) -> None:
        """Note that an edge is off, and those that the page has before it."""
        layout = tale.layout
        edges = [one for one, _, _ in edges_off(layout, self._boards[layout.id])]
        if edge not in edges:
            told = ", ".join(edges) or "none"
            problem = f"names the {edge} edge of {layout.id}; those that come off first are {told}"
            raise refused(option, text, problem)
        for one in edges[: edges.index(edge) + 1]:
            tale.edges.setdefault(one, None)

    def _note_wrong_edge(self, text: str, tale: SheetTale, edge: Edge, left: Length) -> None:
        layout, board = tale.layout, self._boards[tale.layout.id]
        first = {one: (size, rest) for one, size, rest in edges_off(layout, board)}
        by_cut = _trim_cut(edge, layout, board)
        if by_cut is not None:
            problem = f"names the {edge} edge of {layout.id}, which a cut takes off"
            raise refused(WRONG, text, problem, f"say {tale.name}:{by_cut}= and the setting used")
        across = edge in (Edge.LEFT, Edge.RIGHT)
        whole = layout.source.width if across else layout.source.height
        size, rest = first.get(edge, (0, whole))
        step, unit = self._plan.step, self._plan.unit
        if edge not in first and left >= step * whole:
            there = format_length(step * whole, unit, with_unit=True)
            told = ", ".join(first) or "none"
            problem = (
                f"leaves no less than there was, {there}: the {edge} edge of {layout.id} is to"
                f" stay; those that come off first are {told}"
            )
            raise refused(WRONG, text, problem)
        if left == step * rest:
            told = format_length(left, unit, with_unit=True)
            problem = f"gives what was to be left, {told}"
            raise refused(WRONG, text, problem, "say it with --done")
        if left >= step * (rest + size):
            there = format_length(step * (rest + size), unit, with_unit=True)
            problem = f"leaves no less than there was, {there} from the {FACING[edge]} edge"
            raise refused(WRONG, text, problem, "measure what was left when the edge was off")
        if tale.edges.get(edge) is not None:
            raise refused(WRONG, text, f"speaks of the {edge} edge a second time", "say it once")
        if edge in first:
            self._note_off(WRONG, text, tale, edge)
        tale.edges[edge] = left

    def note_ruined(self, text: str) -> None:
        place, equals, written = self._named_and_good(text)
        tale, rest = self._one(RUINED, text, place)
        what = (rest or "").strip()
        if not what:
            raise refused(RUINED, text, "does not say which part is spoiled")
        good = tuple(self._good(text, part) for part in written.split("+")) if equals else ()
        labels = {piece.label for piece in tale.layout.pieces}
        if what not in labels and any(what == said.what for said in tale.spoiled):
            accepted = f"say it once, such as {place}=12 x 20 + 4 x 20" if equals else "say it once"
            raise refused(RUINED, text, "is said twice", accepted)
        tale.spoiled.append(Spoiled(text, what, good))

    def _named_and_good(self, text: str) -> tuple[str, str, str]:
        """Return the place that is named, and what is said to be good of it after a ``=``.

        A label may have that sign in it; then it is the piece that is meant, whole.
        """
        place, equals, written = text.rpartition("=")
        if not equals:
            return text, "", ""
        layout, _, rest = self._place(RUINED, text)
        labels = {piece.label for piece in layout.pieces}
        if not _names_piece(rest, labels):
            return place, equals, written
        shorter = self._place(RUINED, text, place)[2] if place.strip() else None
        if _names_piece(shorter, labels) and _is_size(written, self._plan.unit):
            what, label = (rest or "").strip(), (shorter or "").strip()
            problem = f"may be a piece {what}, or what is good of {label}"
            raise refused(RUINED, text, problem, "write the piece with its name on the page")
        return text, "", ""

    def _good(self, text: str, written: str) -> Size:
        try:
            size = parse_size(written.strip(), self._plan.unit, "size")
        except RefusedValue as refusal:
            problem = f"has the size {written.strip()!r}, which {refusal.problem}"
            accepted = "say what is still good of it, such as 12 x 20, or nothing after the name"
            raise refused(RUINED, text, problem, accepted) from None
        self._not_too_fine(RUINED, text, size.width, size.height)
        return size

    def _setting(self, text: str, written: str) -> Length:
        try:
            setting = parse_length(written, self._plan.unit, "setting")
        except RefusedValue as refusal:
            problem = f"has the setting {written!r}, which {refusal.problem}"
            raise refused(WRONG, text, problem, refusal.accepted) from None
        self._not_too_fine(WRONG, text, setting)
        return setting

    def _not_too_fine(self, option: str, text: str, *lengths: Length) -> None:
        step = common_step((self._plan.step, *lengths))
        longest = max(
            max(layout.source.width, layout.source.height) for layout in self._layouts.values()
        )
        if self._plan.step.mm * longest / step.mm > MOST_STEPS:
            raise refused(option, text, "is finer than any rule", "round it to a mark of the rule")

    def _one(self, option: str, text: str, place: str) -> tuple[SheetTale, str | None]:
        layout, sheets, rest = self._place(option, text, place)
        if len(sheets) > 1:
            problem = f"does not say which of the {layout.copies} sheets of {layout.id}"
            accepted = f"name one, such as {layout.id}/1:{(rest or '').strip() or 1}"
            raise refused(option, text, problem, accepted)
        tale = self.tales[layout.id, sheets[0]]
        tale.begun = True
        return tale, rest

    def _place(
        self, option: str, text: str, place: str | None = None
    ) -> tuple[Layout, list[int], str | None]:
        match = _PLACE.fullmatch((text if place is None else place).strip())
        if match is None:
            raise refused(option, text, "names no layout")
        name = match["layout"].strip()
        layout = self._layouts.get(name) or self._layouts.get(name.upper())
        if layout is None:
            known = list(self._layouts)
            told = known[0] if len(known) == 1 else f"{known[0]} to {known[-1]}"
            raise refused(option, text, f"names no layout of this plan ({told})")
        return layout, _sheets(option, text, layout, match["sheets"]), match["rest"]


def _edge(written: str | None) -> Edge | None:
    """Return the edge that is named, if one is."""
    word = (written or "").strip().lower()
    return next((edge for edge in Edge if edge.value == word), None)


def _trim_cut(edge: Edge, layout: Layout, board: BoardPlan) -> int | None:
    """Return which cut takes its trim off a factory edge first; None for none."""
    source = layout.source
    size = getattr(trim_of(source, board.trim, board.stock), edge.value)
    if not size:
        return None
    axis = Axis.X if edge in (Edge.LEFT, Edge.RIGHT) else Axis.Y
    far = (source.width if axis is Axis.X else source.height) - size
    at = size - board.tool.kerf if edge in (Edge.LEFT, Edge.TOP) else far
    return next((cut.number for cut in layout.cuts if (cut.axis, cut.at) == (axis, at)), None)


def _names_piece(written: str | None, labels: set[str]) -> bool:
    """Return whether a label is written, or a piece's name: its label with a number after it."""
    word = (written or "").strip()
    number = re.search(r"-?[0-9]+$", word)
    stems = [word[:at] for at in range(number.start(), len(word))] if number else []
    return word in labels or any(stem in labels for stem in stems)


def _is_size(written: str, unit: Unit) -> bool:
    try:
        for part in written.split("+"):
            parse_size(part.strip(), unit, "size")
    except RefusedValue:
        return False
    return True


def _sheets(option: str, text: str, layout: Layout, written: str | None) -> list[int]:
    if written is None:
        return list(range(1, layout.copies + 1))
    ranges = list(_ranges(written)) or [(0, 0)]
    if not all(1 <= first <= last <= layout.copies for first, last in ranges):
        have = "1 sheet" if layout.copies == 1 else f"sheets 1 to {layout.copies}"
        raise refused(option, text, f"names no sheet of {layout.id}, which has {have}")
    return sorted({sheet for first, last in ranges for sheet in range(first, last + 1)})


def _ranges(written: str) -> Iterator[tuple[int, int]]:
    """Yield first and last of numbers and ranges between commas; nothing if one is neither."""
    matches = [_RANGE.fullmatch(one.strip()) for one in written.split(",")]
    if all(matches):
        for match in matches:
            assert match is not None
            yield int(match[1]), int(match[2] or match[1])


def _cuts(text: str, layout: Layout, written: str | None) -> Iterator[int]:
    """Yield the cuts that are said to be made."""
    if written is None:
        yield from range(1, len(layout.cuts) + 1)
        return
    ranges = list(_ranges(written))
    if not ranges:
        raise refused(DONE, text, "does not say which cuts are made")
    if _NUMBER.fullmatch(written.strip()):  # up to this cut; in a list, this cut
        ranges = [(1, last) for _, last in ranges]
    for first, last in ranges:
        _known(DONE, text, layout, first)
        _known(DONE, text, layout, last)
        if first > last:
            raise refused(DONE, text, "counts backwards")
        yield from range(first, last + 1)


def _known(option: str, text: str, layout: Layout, number: int) -> int:
    if not 1 <= number <= len(layout.cuts):
        problem = f"names cut {number} of {layout.id}, which has {_counted(len(layout.cuts))}"
        raise refused(option, text, problem)
    return number


def _counted(cuts: int) -> str:
    return {0: "none", 1: "one cut"}.get(cuts, f"cuts 1 to {cuts}")
