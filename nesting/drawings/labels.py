"""What is written in each rectangle of a layout, how large, and what goes to the key instead."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from ..audit.case import Part, part_of
from ..instructions import finished
from ..plan.model import BoardPlan, Layout, Leftover, LeftoverKind, PlacedPiece
from ..plan.names import is_numbered, piece_named
from .lettering import LEADING, clean, shorten, spelled, typeset, width, wrap
from .paper import Box
from .words import Measures

__all__ = [
    "DETAIL",
    "LONGEST_LABEL",
    "SMALLEST",
    "Area",
    "Block",
    "Key",
    "Legend",
    "Lettered",
    "Setting",
    "areas",
    "letter",
]

SIZES = (14.0, 12.0, 11.0, 10.0, 9.0, 8.0, 7.0)
SMALLEST = SIZES[-1]
# Below this, a fraction set small could not be read at arm's length.
TYPESET_FROM = 10.0
LINES_OF_TITLE = 3
# Large type leaves room for the numbers that stand on the edges.
# By how many cuts there are, at most.
LARGEST = ((15, 14.0), (30, 11.0), (10**9, 9.0))
ROOMY, TIGHT = 10.0, 2.0
FEWEST_SIGNS_KEPT = 5
NUMBER = 20.0  # points that a number takes, some air included
DETAIL, LONGEST_LABEL = 9.0, 72.0  # of the cut list: its type, and how long a label may be there
LARGE_ENOUGH = 9.0  # to be left level where upright text could be larger

Sides = tuple[float, float]
Texts = tuple[tuple[str, tuple[str, ...]], ...]  # a title and what stands under it


@dataclass(frozen=True, slots=True)
class Area:
    """One rectangle of a layout, in points from the source's top left.

    Attributes
    ----------
    name
        The title, and the code points of what the faces cannot show of it.
    kind
        What leftover it is; None for a piece.
    numbered
        The title as the cut list has it, which numbers pieces that are cut free one by one.
    """

    box: Box
    title: str
    name: str
    size: str
    turned: bool = False
    kind: LeftoverKind | None = None
    numbered: str = ""


@dataclass(frozen=True, slots=True)
class Setting:
    """Some lines of text, the first `bold` of them bold, and the room they take."""

    lines: tuple[str, ...]
    bold: int
    size: float
    upright: bool
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Block:
    """Lines of text set in the middle of an area; `box` is what they cover."""

    box: Box
    setting: Setting


@dataclass(frozen=True, slots=True)
class Key:
    """What a mark in the drawing stands for; a label that is its own mark has no title."""

    mark: str
    title: str
    size: str


@dataclass(frozen=True, slots=True)
class Legend:
    """What must be said beside a drawing to read it.

    Attributes
    ----------
    scale
        Points a step.
    left_out
        The numbers and marks for which the drawing has no room.
    shared
        Marks that stand beside one of many equal areas, and how many these are.
    tagged
        Whether cuts have arrows to their stops.
    """

    scale: float
    keys: tuple[Key, ...]
    left_out: tuple[str, ...] = ()
    shared: tuple[tuple[str, int], ...] = ()
    tagged: bool = True

    @property
    def marks(self) -> dict[tuple[str, str], str]:
        """The mark of each name and size that has one."""
        return {(key.title, key.size): key.mark for key in self.keys if key.title}


@dataclass(frozen=True, slots=True)
class Lettered:
    """The lettering of a whole layout.

    Attributes
    ----------
    stranded
        Marks of the areas too thin to write in, with their boxes.
    """

    blocks: tuple[Block, ...]
    keys: tuple[Key, ...]
    stranded: tuple[tuple[str, Box], ...]


def areas(layout: Layout, board: BoardPlan, measures: Measures, scale: float) -> tuple[Area, ...]:
    """Return the layout's pieces and leftovers at `scale` points a step."""
    names = _numbered(layout, board, measures)
    pieces = (_piece_area(piece, names, measures, scale) for piece in layout.pieces)
    leftovers = (
        Area(_box(left, scale), left.kind, left.kind, _size(left, measures), kind=left.kind)
        for left in layout.leftovers
    )
    return (*pieces, *leftovers)


def _numbered(layout: Layout, board: BoardPlan, measures: Measures) -> dict[Part, str]:
    """Return what the cut list calls each piece that a row of its own cuts free.

    A piece that would be taken for a leftover, or for a cut, is numbered in any case.
    """

    def asked() -> dict[Part, str]:
        told = measures.instructions(layout, board)
        runs = measures.runs(layout, board)
        single = {run.steps[0].cut.number for run in runs if len(run.steps) == 1}
        return {
            part_of(piece): name
            for one in told
            for name, piece in finished(one)
            if is_numbered(piece.label)
            or (one.cut.number in single and width(clean(piece.label), DETAIL) <= LONGEST_LABEL)
        }

    return measures.kept(("numbered", board.board, layout.id), asked)


def _piece_area(
    piece: PlacedPiece, names: dict[Part, str], measures: Measures, scale: float
) -> Area:
    title = clean(piece.label)
    return Area(
        _box(piece, scale),
        title,
        spelled(piece.label),
        _size(piece, measures),
        piece.turned,
        numbered=clean(names.get(part_of(piece), piece.label)),
    )


def _box(item: PlacedPiece | Leftover, scale: float) -> Box:
    return Box(item.x * scale, item.y * scale, item.width * scale, item.height * scale)


def _size(item: PlacedPiece | Leftover, measures: Measures) -> str:
    return measures.size(item.width, item.height)


def letter(drawn: Iterable[Area], cuts: int, sign: str, *, sparse: bool = False) -> Lettered:
    """Return the largest lettering that fits each area, and a key for what does not fit.

    Where there are many cuts, type is held smaller to leave room for their numbers; `sparse`
    lettering goes further and leaves the sizes of small pieces to the key. Marks begin with
    `sign`.
    """
    writer = _Writer(next(size for most, size in LARGEST if cuts <= most), sign, sparse=sparse)
    for area in drawn:
        if area.kind is not LeftoverKind.TRIM:
            writer.write(area)
    return Lettered(tuple(writer.blocks), tuple(writer.keys.values()), tuple(writer.stranded))


class _Writer:
    def __init__(self, largest: float, sign: str, *, sparse: bool) -> None:
        self.largest = largest
        self.sign = sign
        self.sparse = sparse
        self.blocks: list[Block] = []
        self.keys: dict[tuple[str, str], Key] = {}
        self.stranded: list[tuple[str, Box]] = []
        self._marks = 0

    def write(self, area: Area) -> None:
        sides = (round(area.box.width, 1), round(area.box.height, 1))
        setting = None
        if area.name == area.title:
            setting = self._by_name(area, sides)
        if setting is None:
            mark = self._mark(area)
            setting = self._marked(mark, area, sides)
        if setting is None:
            self.stranded.append((mark, area.box))
        else:
            self.blocks.append(_centred(setting, area.box))

    def _by_name(self, area: Area, sides: Sides) -> Setting | None:
        others = (area.title,) if area.kind is not None else (piece_named(area.title), area.title)
        for title in dict.fromkeys((area.numbered or area.title, *others)):
            setting = self._titled(title, area, sides)
            if setting is not None:
                return setting
        return None

    def _titled(self, title: str, area: Area, sides: Sides) -> Setting | None:
        whole = None
        for largest in sorted({self.largest, LARGE_ENOUGH}, reverse=True):
            whole = _whole(title, area.size, area.turned, sides, largest)
            if whole is not None and (not self.sparse or _leaves_room(whole, sides)):
                return whole
        return self._by_title(title, area, sides) if area.kind is None else whole

    def _marked(self, mark: str, area: Area, sides: Sides) -> Setting | None:
        marked = _marked(mark, area.title, area.size, sides)
        if marked is None or not self.sparse or _leaves_room(marked, sides):
            return marked
        return _best(((mark, ()),), sides, LARGE_ENOUGH)

    def _by_title(self, title: str, area: Area, sides: Sides) -> Setting | None:
        """Return a piece's label alone, its size in the key."""
        setting = _best(((title, ()),), sides, LARGE_ENOUGH)
        if setting is None or len(setting.lines) > 1:
            return None
        self.keys.setdefault((area.name, area.size), Key(area.title, "", area.size))
        return setting

    def _mark(self, area: Area) -> str:
        found = self.keys.get((area.name, area.size))
        if found is not None and found.title:
            return found.mark
        self._marks += 1
        key = Key(f"{self.sign}{self._marks}", area.name, area.size)
        self.keys[area.name, area.size] = key
        return key.mark


def _centred(setting: Setting, room: Box) -> Block:
    sides = (setting.width, setting.height)
    return Block(Box.around(*room.middle, *(sides[::-1] if setting.upright else sides)), setting)


def _leaves_room(setting: Setting, sides: Sides) -> bool:
    """Return whether numbers can stand on all four edges of an area beside its text."""
    text = (setting.width, setting.height)
    free = [
        (side - taken) / 2
        for side, taken in zip(sides, text[::-1] if setting.upright else text, strict=True)
    ]
    return min(free) >= NUMBER / 2 or max(free) >= NUMBER


@lru_cache(maxsize=4096)
def _whole(title: str, size: str, turned: bool, sides: Sides, largest: float) -> Setting | None:
    """Return title and size as large as they fit: under one another, or on one line."""
    if turned:
        told = _best(((title, (size, "turned")),), sides, largest)
        if told and told.size >= LARGE_ENOUGH:
            return told
    across, down = size.split(" × ")
    under = ((title, (size,)), (title, (f"{across} ×", down)))
    between = ": " if title.isdecimal() else "  "
    return _best((*under, (f"{title}{between}{size}", ())), sides, largest)


def _best(texts: Texts, sides: Sides, largest: float) -> Setting | None:
    """Return the text that fits largest, upright only where it is too small otherwise."""
    level = _largest(texts, *sides, largest, upright=False)
    if (level and level.size >= LARGE_ENOUGH) or sides[1] <= sides[0]:
        return level
    upright = _largest(texts, *sides[::-1], largest, upright=True)
    return max((one for one in (level, upright) if one), key=lambda one: one.size, default=None)


def _largest(
    texts: Texts, across: float, down: float, largest: float, *, upright: bool
) -> Setting | None:
    for size in SIZES[SIZES.index(largest) :]:
        for title, tail in texts:
            setting = _fit(title, tail, size, across, down, upright=upright)
            if setting:
                return setting
    return None


def _fit(
    title: str, tail: tuple[str, ...], size: float, across: float, down: float, *, upright: bool
) -> Setting | None:
    inset = ROOMY if size > TYPESET_FROM else TIGHT
    room, depth = across - 2 * inset, down - 2 * TIGHT
    most = int(depth / (LEADING * size)) - len(tail)
    if most < 1 or room < size:
        return None
    heads = _title_lines(title, room, size) if tail else (title,)
    shown = tuple(typeset(line) if size >= TYPESET_FROM else line for line in tail)
    widths = [width(line, size, True) for line in heads] + [width(line, size) for line in shown]
    if not heads or len(heads) > min(most, LINES_OF_TITLE) or max(widths) > room:
        return None
    lines = (*heads, *shown)
    return Setting(lines, len(heads), size, upright, max(widths), len(lines) * LEADING * size)


def _title_lines(title: str, room: float, size: float) -> tuple[str, ...]:
    """Return the title in lines, or none where a word of it would have to be broken."""
    if any(width(word, size, True) > room for word in title.split()):
        return ()
    return wrap(title, room, size, True)


def _marked(mark: str, title: str, size: str, sides: Sides) -> Setting | None:
    """Return the mark with the beginning of the title and the size, as far as they fit."""
    for type_size in SIZES[SIZES.index(LARGE_ENOUGH) :]:
        room = max(sides) - 2 * TIGHT - width(f"{mark} ", type_size, True)
        begun = shorten(title, room, type_size, True)
        begun_text = ((f"{mark} {begun}", ()),) if len(begun) > FEWEST_SIGNS_KEPT else ()
        for line, tail in (*begun_text, (mark, (size,)), (mark, ())):
            setting = _either_way(line, tail, type_size, sides)
            if setting:
                return setting
    return None


def _either_way(title: str, tail: tuple[str, ...], size: float, sides: Sides) -> Setting | None:
    level = _fit(title, tail, size, *sides, upright=False)
    return level or _fit(title, tail, size, *sides[::-1], upright=True)
