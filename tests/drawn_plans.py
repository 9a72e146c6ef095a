"""Plans made by hand to be drawn: a few usual ones, and ugly ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import count
from random import Random

from kerfwright.audit.facts import Areas, AuditedPlan, BoardFacts, LeftoverCount, SourceUse
from kerfwright.lengths import Length, Unit
from kerfwright.order import PieceKind
from kerfwright.plan.model import (
    Aim,
    Axis,
    BoardPlan,
    Certificate,
    CertificateKind,
    Cut,
    Edge,
    Layout,
    Leftover,
    LeftoverKind,
    OrderedPiece,
    PlacedPiece,
    Plan,
    PlanTool,
    PlanTrim,
    Source,
    SourceKind,
    StockItem,
)

INCH_STEP = Length(Fraction(254, 160))  # 1/16 in: 16 steps to the inch
MM_STEP = Length(Fraction(1, 10))
RULE = Length(Fraction(254, 160))


@dataclass(frozen=True)
class P:
    """A part that is a piece."""

    label: str
    turned: bool = False


@dataclass(frozen=True)
class W:
    """A part that is left over."""

    kind: LeftoverKind = LeftoverKind.SCRAP


@dataclass(frozen=True)
class X:
    """A part cut across x, `at` steps from its left edge."""

    at: int
    first: Node
    second: Node | None


@dataclass(frozen=True)
class Y:
    """A part cut across y, `at` steps from its top edge."""

    at: int
    first: Node
    second: Node | None


Node = P | W | X | Y


@dataclass
class _Sawn:
    """What comes of sawing a tree up: cuts in the order of the tree, parts before what follows."""

    kerf: int = 0
    pieces: list[PlacedPiece] = field(default_factory=list)
    leftovers: list[Leftover] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)

    def saw(self, node: Node, x: int, y: int, width: int, height: int) -> None:
        if isinstance(node, P):
            self.pieces.append(PlacedPiece(node.label, x, y, width, height, node.turned))
        elif isinstance(node, W):
            self.leftovers.append(Leftover(node.kind, x, y, width, height))
        elif isinstance(node, X):
            self._cut(Axis.X, x + node.at, y, y + height, node.at, Edge.LEFT)
            self.saw(node.first, x, y, node.at, height)
            if node.second is not None:
                off = node.at + self.kerf
                self.saw(node.second, x + off, y, width - off, height)
        else:
            self._cut(Axis.Y, y + node.at, x, x + width, node.at, Edge.TOP)
            self.saw(node.first, x, y, width, node.at)
            if node.second is not None:
                off = node.at + self.kerf
                self.saw(node.second, x, y + off, width, height - off)

    def _cut(self, axis: Axis, at: int, start: int, end: int, setting: int, stop: Edge) -> None:
        self.cuts.append(Cut(len(self.cuts) + 1, axis, at, start, end, setting, stop))


def layout(
    tree: Node, width: int, height: int, *, id: str = "L1", copies: int = 1, kerf: int = 0,  # noqa: A002
    source: Source | None = None,
) -> Layout:  # fmt: skip
    """Return a layout of one tree on a sheet of `width` by `height` steps."""
    sawn = _Sawn(kerf)
    sawn.saw(tree, 0, 0, width, height)
    taken = source or Source(SourceKind.SHEET, None, width, height)
    parts = (tuple(sawn.pieces), tuple(sawn.leftovers), tuple(sawn.cuts))
    return Layout(id, copies, taken, *parts)


def board(*layouts: Layout, name: str = "warm white rag 4-ply", kerf: int = 0) -> BoardPlan:
    """Return a board's plan that claims to be proved least, area for its aim."""
    sheets = [one for one in layouts if one.source.kind is SourceKind.SHEET]
    number = sum(one.copies for one in sheets)
    area = Fraction(sum(one.copies * one.source.width * one.source.height for one in sheets))
    sources = dict.fromkeys(one.source for one in layouts)
    return BoardPlan(
        board=name,
        no_turn=False,
        tool=PlanTool("saw" if kerf else "knife", kerf, None, 0),
        trim=PlanTrim(0, 0, 0, 0),
        ordered=tuple(_ordered(layouts)),
        stock=tuple(StockItem(source, None, None) for source in sources),
        sheets=number,
        sheets_lower_bound=number,
        aim=Aim.AREA,
        value=area,
        value_lower_bound=area,
        proved_least=True,
        certificate=Certificate(CertificateKind.PIECE_VALUES, {}),
        layouts=layouts,
    )


def _ordered(layouts: Iterable[Layout]) -> Iterable[OrderedPiece]:
    counts: Counter[str] = Counter()
    sizes: dict[str, tuple[int, int]] = {}
    for one in layouts:
        for piece in one.pieces:
            counts[piece.label] += one.copies
            size = (piece.width, piece.height)
            sizes.setdefault(piece.label, size[::-1] if piece.turned else size)
    for label, number in counts.items():
        yield OrderedPiece(label, PieceKind.MAT, number, *sizes[label], True)


def plan(*boards: BoardPlan, name: str = "Harbour school summer show", **changes: object) -> Plan:
    """Return a plan in sixteenths of an inch."""
    whole = Plan(
        program="kerfwright 0.1.0",
        order=name,
        order_digest="sha256:0123456789abcdef",
        step=INCH_STEP,
        unit=Unit.INCH,
        rule=RULE,
        boards=boards,
    )
    return replace(whole, **changes)  # type: ignore[arg-type]


def audited(whole: Plan) -> AuditedPlan:
    """Return a plan with facts counted here, without an audit: what is drawn need not be good."""
    return AuditedPlan(whole, tuple(_facts(one) for one in whole.boards))


def _facts(one: BoardPlan) -> BoardFacts:
    used: Counter[Source] = Counter()
    left: Counter[tuple[LeftoverKind, int, int]] = Counter()
    areas: Counter[str] = Counter()
    for each in one.layouts:
        used[each.source] += each.copies
        areas["sources"] += each.copies * each.source.width * each.source.height
        for leftover in each.leftovers:
            left[leftover.kind, leftover.width, leftover.height] += each.copies
            name = leftover.kind.value.replace(" ", "_")
            areas[name] += each.copies * leftover.width * leftover.height
    return BoardFacts(
        board=one.board,
        sheets=one.sheets,
        sources=tuple(SourceUse(*use) for use in used.items()),
        areas=Areas(**areas),
        cuts=sum(each.copies * len(each.cuts) for each in one.layouts),
        settings=0,
        layouts=(),
        left=tuple(LeftoverCount(*key, number) for key, number in left.items()),
        bound=one.value_lower_bound,
        sheets_bound=one.sheets_lower_bound,
        rechecked=True,
    )


def row(labels: Iterable[Node], pitch: int, kind: type[X] | type[Y], rest: Node | None) -> Node:
    """Return parts of equal width, `pitch` steps, one cut off after the other, then the rest."""
    parts = list(labels)
    if rest is None:
        *parts, last = parts
        tree: Node = last
    else:
        tree = rest
    for part in reversed(parts):
        tree = kind(pitch, part, tree)
    return tree


def usual() -> Plan:
    """Return three layouts on two boards: mats, an offcut used, backers."""
    quarter = row([row([P("A"), P("A")], 256, X, None)] * 2, 320, Y, None)
    mixed = Y(
        258,  # 16 1/8 in
        X(320, P("Hall, portrait", True), W(LeftoverKind.SLIP_SHEET)),
        X(176, Y(224, P("B"), W(LeftoverKind.SCRAP)), W(LeftoverKind.OFFCUT)),
    )
    old = Source(SourceKind.OFFCUT, "7", 224, 512)
    small = Y(224, P("B", False), Y(10, W(), W(LeftoverKind.OFFCUT)))
    rag = board(
        layout(quarter, 512, 640, copies=3),
        layout(mixed, 512, 640, id="L2"),
        layout(small, 224, 512, id="L3", source=old),
    )
    foam = board(layout(quarter, 512, 640, copies=4), name="white foam 3/16")
    return plan(
        rag, foam, notes=("Board 'white foam 3/16' is taken to be sold in 32 x 40 in sheets.",)
    )


def sixty() -> Plan:
    """Return sixty sizes on one 40 x 60 in sheet, settings of 1/32 in on a rule of 1/16 in."""
    # steps of 1/32 in: 6 columns of 213 (6 21/32 in), 10 rows each of its own height
    heights = [150, 161, 172, 183, 190, 195, 200, 205, 210]
    columns = []
    for number in range(6):
        labels = [P(f"{number * 10 + index + 1:02d}") for index in range(10)]
        tree: Node = Y(1920 - sum(heights) - 20, labels[-1], W())
        for label, height in zip(labels, heights, strict=False):
            tree = Y(height + number % 2, label, tree)
        columns.append(tree)
    whole: Node = W()
    for column in reversed(columns):
        whole = X(213, column, whole)
    one = board(layout(whole, 1280, 1920))
    return plan(one, step=Length(Fraction(254, 320)))


def slivers() -> Plan:
    """Return slivers of 1/16 in between pieces, long labels, and trims."""
    long = "Grandmother's garden, second version, with the wide border"  # 58 characters
    strip = X(160, P(long), X(1, W(), X(160, P(long[:-1] + "z"), X(1, W(), P("C")))))
    cross = Y(100, P("thin"), Y(1, W(), Y(1, W(), P("D"))))
    tree = Y(
        4,
        W(LeftoverKind.TRIM),
        X(4, W(LeftoverKind.TRIM), Y(300, strip, X(20, P("narrow strip"), cross))),
    )
    return plan(
        board(
            layout(tree, 512, 640), name="a board with rather a long name of its own, as some are"
        )
    )


def sawn() -> Plan:
    """Return a 48 x 96 in sheet cut with a saw, and a 4 x 4 in offcut whose kerf can be seen."""
    pair = X(254, P("back"), X(254, P("back"), P("back")))
    big = Y(318, pair, Y(318, pair, Y(318, pair, Y(318, pair, W(LeftoverKind.OFFCUT)))))
    little = Source(SourceKind.OFFCUT, "K-12", 64, 64)
    tiny = X(30, P("t"), Y(30, P("u"), W()))
    both = (layout(big, 768, 1536, kerf=2), layout(tiny, 64, 64, id="L2", kerf=2, source=little))
    return plan(board(*both, name="hardboard 1/8", kerf=2))


def odd_labels() -> Plan:
    """Return labels that a drawing may trip over, in tenths of a millimetre, one sheet uncut."""
    labels = [
        "$x_1$",
        "a_b^c",
        r"C:\frac{1}{2}",
        "50% <b>&amp;",
        "\u05d0\u05d1\u05d2",
        "海の家",
        "🖼 x",
        "two\nlines\u200f",
    ]
    tree = row([P(label) for label in labels], 1003, Y, W(LeftoverKind.SLIP_SHEET))
    uncut = layout(P("whole $"), 8150, 11200, id="L2")
    one = board(layout(tree, 8150, 11200), uncut, name="$weiß_4$ & <b>")
    return plan(
        one,
        name="50% of \\ $x$ & <others>",
        step=MM_STEP,
        unit=Unit.MILLIMETRE,
        rule=Length(Fraction(1)),
    )


def many() -> Plan:
    """Return forty layouts."""
    quarter = row([row([P("A"), P("B")], 256, X, None)] * 2, 320, Y, None)
    return plan(board(*(layout(quarter, 512, 640, id=f"L{n}", copies=n) for n in range(1, 41))))


def tiny() -> Plan:
    """Return 192 pieces on one sheet, more than can be labelled or numbered at ease."""
    strips = row([row([P("bookmark")] * 12, 50, Y, W())] * 16, 32, X, None)
    return plan(board(layout(strips, 512, 640)))


def tickets(across: int, down: int) -> Plan:
    """Return a layout cut twice, all tickets of 2 x 3 in: first into strips, then all of these.

    The strips are cut row by row, as a packer that sorts cuts by their setting does it.
    """
    width, height = across * 32, down * 48
    lines = [(Axis.X, n * 32, 0, height, 32, Edge.LEFT) for n in range(1, across)]
    lines += [(Axis.Y, n * 48, column * 32, column * 32 + 32, 48, Edge.TOP)
              for n in range(1, down) for column in range(across)]  # fmt: skip
    cuts = tuple(Cut(number, *line) for number, line in enumerate(lines, 1))
    pieces = tuple(PlacedPiece("ticket", x * 32, y * 48, 32, 48, False)
                   for x in range(across) for y in range(down))  # fmt: skip
    source = Source(SourceKind.SHEET, None, width, height)
    return plan(board(Layout("L1", 2, source, pieces, (), cuts)))


def uneven() -> Plan:
    """Return two equal strips, cut by turns at the same setting: one 20 times, the other 19."""
    lines = [(Axis.X, 256, 0, 640, 256, Edge.LEFT)]
    lines += [(Axis.Y, n * 30, x, x + 256, 30, Edge.TOP)
              for n in range(1, 21) for x in (0, 256) if (n, x) != (20, 256)]  # fmt: skip
    cuts = tuple(Cut(number, *line) for number, line in enumerate(lines, 1))
    pieces = [PlacedPiece("slat", x, n * 30, 256, 30, False)
              for n in range(20) for x in (0, 256) if (n, x) != (19, 256)]  # fmt: skip
    left = (Leftover(LeftoverKind.SCRAP, 0, 600, 256, 40),
            Leftover(LeftoverKind.SCRAP, 256, 570, 256, 70))  # fmt: skip
    source = Source(SourceKind.SHEET, None, 512, 640)
    return plan(board(Layout("L1", 1, source, tuple(pieces), left, cuts)))


def scattered(seed: int) -> Plan:
    """Return one sheet cut at random places, most of its parts being pieces."""
    chance = Random(seed)  # noqa: S311
    width, height = chance.choice([(512, 640), (640, 512), (512, 512), (640, 960)])
    names = (f"Q{number}" for number in count(1))

    def part(wide: int, high: int, depth: int) -> Node:
        if depth == 0 or min(wide, high) < 40:
            return P(next(names)) if chance.random() < 0.8 else W()
        if chance.random() < wide / (wide + high):
            at = chance.randrange(12, wide - 12)
            return X(at, part(at, high, depth - 1), part(wide - at, high, depth - 1))
        at = chance.randrange(12, high - 12)
        return Y(at, part(wide, at, depth - 1), part(wide, high - at, depth - 1))

    return plan(board(layout(part(width, height, chance.choice([4, 5])), width, height)))


def halves() -> Plan:
    """Return one sheet cut once."""
    return plan(board(layout(Y(320, P("A"), P("A")), 512, 640, copies=2)))


EVERY: dict[str, Callable[[], Plan]] = {
    "usual": usual,
    "sixty": sixty,
    "slivers": slivers,
    "sawn": sawn,
    "odd labels": odd_labels,
    "many": many,
    "tiny": tiny,
    "halves": halves,
    "tickets": lambda: tickets(19, 27),
}
