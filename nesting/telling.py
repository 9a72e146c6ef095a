"""What is told of a plan, in the bench's words: the same on the pages and on a terminal.

Nothing here draws or prints. `tell` takes an audited plan, and whoever shows what it returns adds
nothing to what is claimed.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from .audit.facts import Areas, AuditedPlan, BoardFacts, LeftoverCount, SourceUse
from .audit.replay import replay
from .lengths import Length, Size, Unit, format_length
from .plan.edges import FACING, edges_named, edges_off, good_edges, square_to, trims_left_on
from .plan.model import (
    NO_TRIM,
    Aim,
    AsPlanned,
    BoardPlan,
    Edge,
    Layout,
    LeftoverKind,
    MadeBy,
    Plan,
    Source,
    SourceKind,
    Stop,
    trim_of,
)
from .plan.names import piece_named

__all__ = [
    "DEFER",
    "UNBROKEN",
    "Caution",
    "Told",
    "at_most",
    "cautions",
    "compared",
    "counted",
    "exactness",
    "first_off",
    "money",
    "often",
    "on_hand",
    "read_as_one",
    "source_size",
    "squaring",
    "stopped",
    "tell",
    "thinnest_held",
]


@dataclass(frozen=True, slots=True)
class Told:
    """What is told of one board, in sentences.

    Attributes
    ----------
    take
        What to take off the rack: sheets by size, offcuts by what is pencilled on them. Where
        it is known how many sheets are on hand, how many are to be bought.
    proof
        Whether the plan is proved least, and how anyone can see it.
    cost
        What the full sheets cost; nothing unless every size has a price.
    made
        Of each layout how often it is cut, and from what where that differs, to be read after
        its name, and what it makes, label by label.
    left
        What is left that is worth keeping, offcuts first, then how much is lost.
    compared
        Of the rest of a job: what it takes beside what was planned, so what a mistake costs.
    first
        What must come off an offcut's edges before its first cut.
    """

    take: tuple[str, ...]
    proof: tuple[str, ...]
    cost: tuple[str, ...]
    made: tuple[tuple[str, tuple[str, ...]], ...]
    left: tuple[str, ...]
    compared: tuple[str, ...] = ()
    first: tuple[str, ...] = ()

    @property
    def cut(self) -> tuple[str, ...]:
        """What each layout makes in one sentence: ``once, from sheet 32 x 40 in: 4 x A, B``."""
        return tuple(f"{often}: {', '.join(pieces)}" for often, pieces in self.made)


@dataclass(frozen=True, slots=True)
class Caution:
    """What keeps hands, eyes and lungs whole with one kind of tool, at two lengths."""

    heading: str
    in_brief: str
    in_full: tuple[str, ...]


# General good sense at the bench. What is said of blades follows the occupational-health advice
# on sharp blades in general use; what is said of saws and of slip sheets is common practice, no
# source.
_KNIFE = Caution(
    "With a knife",
    "Knife: a sharp blade, cut away from yourself, and no hand in its path.",
    (
        "A sharp blade, changed often: a dull one needs force, and slips.",
        "A slip sheet of scrap board under the cut spares blade and bench and keeps the face clean;"
        " shift it once it is scored, as blades follow old cuts.",
        "Cut away from yourself, on a stable surface, along a straightedge with a guard.",
        "Keep the holding hand behind the blade and out of the line of the cut;"
        " a cut-resistant glove on it, and eye protection.",
        "Put the knife down safely between cuts;"
        " spent blades go into a puncture-resistant container.",
    ),
)
_SAW = Caution(
    "With a saw",
    "Saw: guard and riving knife on, a push stick for strips, eyes and lungs covered.",
    (
        "Guard and riving knife in place; a push stick for narrow strips;"
        " hands out of the blade's line.",
        "Thin strips, such as trims, are set from the far edge: they fall off beside the blade, and"
        " never lie between it and the fence.",
        "A part that is longer across the fence than along it is not guided by the fence alone: it"
        " may turn and be thrown back. Cut it on a sliding table or a cross-cut sled, with a stop"
        " at the same setting.",
        "Eye and hearing protection; no gloves or loose sleeves near a turning blade.",
        "Dust extraction on, and a mask: the dust of hardboard and MDF harms the lungs.",
        "Let the blade stop before taking anything away.",
    ),
)
# Common practice, no source.
_DUST = (
    "Where a row says dust, the blade runs along the part's edge and nothing falls off beside it:"
    " hold the part firmly against the fence all the way."
)
DEFER = (
    "The tool's own manual and local rules come first; ask someone qualified if you are not sure."
)


def tell(
    audited: AuditedPlan, *, times: str = "x", spell: Callable[[str], str] = str
) -> tuple[Told, ...]:
    """Return what is to be told of each board, in the plan's order.

    Parameters
    ----------
    times
        The sign in a size and before a label: ``x``, or ``×`` where type is set.
    spell
        Makes names that people gave fit to be shown.

    Examples
    --------
    One board's `left` may be ``("1 offcut, 16 x 20 in, from L1", "Nothing goes to waste.")``.
    """
    pairs = zip(audited.plan.boards, audited.facts, strict=True)
    return tuple(
        _told(board, facts, _Hand(audited.plan, board, times, spell)) for board, facts in pairs
    )


def source_size(source: Source, board: BoardPlan, plan: Plan, *, times: str = "x") -> str:
    """Return a source's size; of a measured sheet first the one that it is sold in.

    Examples
    --------
    ``"32 x 40 in, measured 32 1/16 x 40 1/8"``.
    """
    size = Size(plan.step * source.width, plan.step * source.height)
    shown = _sides(size, plan, times)
    sold = [item.nominal for item in board.stock if item.source == source]
    named = next((one for one in sold if one is not None and one != size), None)
    if named is None:
        return f"{shown} {plan.unit}"
    return f"{_sides(named, plan, times)} {plan.unit}, measured {shown}"


def _sides(size: Size, plan: Plan, times: str) -> str:
    shown = (format_length(side, plan.unit, rule=plan.rule) for side in (size.width, size.height))
    return f" {times} ".join(shown)


def exactness(board: BoardPlan, plan: Plan) -> Iterator[str]:
    """Say how exact the pieces of a board come out at worst; nothing where the plan does not.

    The figures rest on the tool's own, which are the person's settings, and are rounded up.
    """
    sides = [
        (side, layout.copies)
        for layout in board.layouts
        for piece in layout.pieces
        for side in (piece.across, piece.down)
        if side is not None
    ]
    for by, told in (
        (MadeBy.STOP, "set by the stop"),
        (MadeBy.LEFT_OVER, "left over"),
        (MadeBy.SOURCE, "that no cut here makes"),
    ):
        errors = [side.error for side, _ in sides if side.by is by and side.error is not None]
        if errors:
            yield f"Sides {told} come out within {at_most(max(errors), plan.unit)} {plan.unit}."
    unknown = sum(copies for side, copies in sides if side.error is None)
    if unknown:
        yield (
            f"{counted(unknown, 'side')} {'is' if unknown == 1 else 'are'} what is left of sheets"
            f" that nobody measured: measure {'it' if unknown == 1 else 'them'} where the pages say"
            " so."
        )


def _has_edges_too_long(board: BoardPlan) -> bool:
    """Whether some sheet has an edge that the tool cannot cut along in one go."""
    longest = board.tool.longest_cut
    sheets = [one.source for one in board.layouts if one.source.kind is SourceKind.SHEET]
    return longest is not None and any(max(s.width, s.height) > longest for s in sheets)


def squaring(board: BoardPlan) -> Iterator[str]:
    """Say which edges of full sheets are squared first, where the tool asks for it, and of parts.

    A trim set off a factory edge is only as square as that edge. A sheet that nobody measured may
    be over its size; one that was is planned to the last of it.
    """
    taken = {one.source for one in board.layouts if one.source.kind is SourceKind.SHEET}
    trim = board.trim
    untrimmed = tuple(_untrimmed_parts(board))
    if untrimmed:
        yield (
            "Some edges of parts and offcuts are trimmed by cuts on their pages, as those of full"
            " sheets are:"
            f" {', '.join(untrimmed)}."
            + (
                " What is longer than the tool cuts is trimmed part by part, square to the edges"
                " that are trimmed already."
                if board.tool.longest_cut is not None
                else ""
            )
        )
    if not board.tool.squares:
        return
    as_came = tuple(_rough_parts(board))
    if as_came:
        yield (
            f"Some edges of parts are still as their sheet came: {', '.join(as_came)}. Nothing is"
            " set from them as far as the stop reaches; measure what lies along them."
        )
    if not taken:
        return
    if trim.left and trim.top and _has_edges_too_long(board):
        yield (
            "Trim a short edge of each sheet first. The long ones are longer than the tool cuts:"
            " they are trimmed part by part, square to the short one, by the tool's squaring arm"
            " or a try square."
        )
        return
    if trim.left and trim.top:
        yield (
            "Trim a long edge of each sheet first, then the one next to it square to that, by the"
            " tool's squaring arm or a try square, and measure from these two."
        )
        return
    told = (
        "Square a long edge of each sheet first, then the one next to it, and measure from these"
        " two."
    )
    if trim.left or trim.top:
        rough, trimmed = ("top", "left") if trim.left else ("left", "top")
        told = (
            f"Square the {rough} edge of each sheet first, and trim the {trimmed} one square to"
            " it. Measure from these two."
        )
    measured = {item.source for item in board.stock if item.nominal is not None}
    if taken - measured:
        which = "Of a sheet that was not measured take" if taken & measured else "Take"
        over = "it is over" if taken & measured else "the sheet is over"
        told += f" {which} off no more than {over} its size."
    if taken & measured:
        told += (
            " A measured sheet must still have its measured size when its edges are square;"
            " if one has not, give the order what is left of it, and plan again."
        )
    yield told


def _rough_parts(board: BoardPlan) -> Iterator[str]:
    """Yield ``right of L3``, ``right and bottom of L4`` for parts that keep such edges."""
    for layout in board.layouts:
        for item in board.stock:
            rough = [edge for edge in item.rough if not getattr(item.untrimmed, edge, 0)]
            if rough and item.source == layout.source:
                yield f"{edges_named(rough)} of {layout.id}"


def _untrimmed_parts(board: BoardPlan) -> Iterator[str]:
    """Yield ``left and right of L3`` for parts whose edges its cuts trim."""
    for layout in board.layouts:
        trim = trim_of(layout.source, NO_TRIM, board.stock)
        left_on = trims_left_on(layout, board)
        edges = [edge.value for edge in Edge if getattr(trim, edge.value) and edge not in left_on]
        if edges:
            yield f"{edges_named(edges)} of {layout.id}"


def at_most(error: Length, unit: Unit) -> str:
    """Return an error rounded up, without its unit: to thousandths of an inch, tenths of a mm."""
    places = {Unit.INCH: 1000, Unit.MILLIMETRE: 10, Unit.CENTIMETRE: 100}[unit]
    return f"{math.ceil(error.in_unit(unit) * places) / places:g}"


def stopped(plan: Plan) -> tuple[str, ...]:
    """Say that planning was cut short, or nothing."""
    ended = {Stop.INTERRUPTED: "by hand", Stop.SECONDS: "by the clock"}
    if plan.stopped not in ended:
        return ()
    return (
        f"Planning was stopped {ended[plan.stopped]}: this is the best plan found by then;"
        " another run may differ.",
    )


def cautions(plan: Plan) -> Iterator[Caution]:
    """Give what to heed with each kind of tool in the plan: a knife takes no kerf, a saw does."""
    knives = [board for board in plan.boards if not board.tool.kerf]
    if knives:
        thin = any(_has_thin(board, plan) for board in knives)
        yield replace(_KNIFE, in_full=(*_KNIFE.in_full, *_thin_strips(plan))) if thin else _KNIFE
    saws = [board for board in plan.boards if board.tool.kerf]
    if saws:
        dust = any(_has_dust(board) for board in saws)
        yield replace(_SAW, in_full=(*_SAW.in_full, _DUST)) if dust else _SAW


def _has_dust(board: BoardPlan) -> bool:
    """Return whether the blade takes all that there is on one side of some cut."""
    return any(
        step.first is None or step.second is None
        for layout in board.layouts
        for step in replay(layout, board.tool.kerf).steps
    )


def thinnest_held(unit: Unit) -> Length:
    """Return below which width a strip is too thin for a hand beside a knife.

    Common practice, no source.
    """
    return Length.of(Fraction(1, 2), unit) if unit is Unit.INCH else Length(Fraction(12))


def _has_thin(board: BoardPlan, plan: Plan) -> bool:
    """Return whether a thin strip is cut off: then something as thin comes of it in the end."""
    least = thinnest_held(plan.unit)
    sides = [
        min(one.width, one.height)
        for layout in board.layouts
        for found in (layout.pieces, layout.leftovers)
        for one in found
    ]
    return plan.step * min(sides, default=0) < least


def _thin_strips(plan: Plan) -> Iterator[str]:
    least = format_length(thinnest_held(plan.unit), plan.unit, with_unit=True)
    yield (
        f"A strip under {least} is too thin to hold: hold down the wider part, with straightedge"
        " or clamp on it, and make several light cuts."
    )


def counted(number: int, word: str) -> str:
    """Return ``1 sheet``, ``2 sheets``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def often(times: int) -> str:
    """Return ``once``, ``twice``, ``3 times``."""
    return {1: "once", 2: "twice"}.get(times, f"{times} times")


UNBROKEN = "\N{NO-BREAK SPACE}"
# 16 1/8; 2 x A, 32 × 40; cut 5, cuts 2-3, page 4, mark 32; L1: cut 5; 2 in.
_READ_AS_ONE = re.compile(
    r"(?<=\d) (?=\d+/\d|[x×] |at ≈?\d|(?:in|mm|cm|wide|high)\b)|(?<=\d [x×]) (?=\S)"
    r"|(?:(?<=\bcut)|(?<=\bcuts)|(?<=\bpage)|(?<=\bmark)|(?<=\bat)) (?=≈?\d)"
    r"|(?<=\d:) (?=cuts? \d)|(?<=\bwide|\bhigh) (?=±)"
)


def read_as_one(text: str) -> str:
    """Return a text whose sizes, counts and numbers of cuts no line is to break.

    Examples
    --------
    >>> read_as_one("2 x A, 16 1/8 x 20 in").replace(UNBROKEN, "_")
    '2_x_A, 16_1/8_x_20_in'
    """
    return _READ_AS_ONE.sub(UNBROKEN, text)


def money(amount: Fraction) -> str:
    """Return an amount with two decimals, marked where they cannot hold it."""
    cents = round(amount * 100)
    mark = "" if cents == amount * 100 else "≈"
    return f"{mark}{cents // 100}.{cents % 100:02d}"


@dataclass(frozen=True, slots=True)
class _Hand:
    """How things of a board are written: sizes in the plan's own unit and on its own rule."""

    plan: Plan
    board: BoardPlan
    times: str
    spell: Callable[[str], str]

    def size(self, thing: Source | LeftoverCount) -> str:
        """Return a size such as ``16 x 20 in``."""
        if isinstance(thing, Source):
            return source_size(thing, self.board, self.plan, times=self.times)
        plan = self.plan
        size = Size(plan.step * thing.width, plan.step * thing.height)
        return f"{_sides(size, plan, self.times)} {plan.unit}"

    def area(self, steps: Fraction) -> str:
        """Return an area such as ``1,280 sq in`` or ``0.7 m²``, rounded down and then marked."""
        return _area_told(steps * self.plan.step.mm**2, self.plan.unit)

    def source(self, source: Source) -> str:
        """Return ``sheet 32 x 40 in``, or ``offcut 7, 14 x 32 in``."""
        name = "" if source.id is None else f" {self.spell(source.id)},"
        return f"{source.kind.value}{name} {self.size(source)}"


def _area_told(squared: Fraction, of: Unit) -> str:
    """Return an area of square millimetres, rounded down and then marked."""
    if of is Unit.INCH:
        shown, unit, places = squared / Unit.INCH.millimetres**2, "sq in", 0
    else:
        shown, unit, places = squared / 1000**2, "m²", 4
    parts = math.floor(shown * 10**places)
    mark = "" if parts == shown * 10**places else "≈"
    whole, part = divmod(parts, 10**places)
    decimals = f".{part:0{places}d}".rstrip("0") if part else ""
    return f"{mark}{whole:,}{decimals} {unit}"


def _told(board: BoardPlan, facts: BoardFacts, hand: _Hand) -> Told:
    return Told(
        take=tuple(_take(board, facts, hand)),
        proof=tuple(_proof(board, facts, hand)),
        cost=(f"{money(board.value)} for full sheets",) if board.aim is Aim.COST else (),
        made=tuple(_made(layout, board, hand) for layout in board.layouts),
        left=(*_kept(board, facts, hand), _waste(facts.areas)),
        compared=tuple(_compared(board, hand.plan)),
        first=tuple(_first(board, hand)),
    )


def _compared(board: BoardPlan, plan: Plan) -> Iterator[str]:
    if board.as_planned is not None:
        fewest = board.proved_least and board.sheets == board.sheets_lower_bound
        yield compared(
            (board.sheets, board.value),
            board.as_planned,
            square=None if board.aim is Aim.COST else plan.step.mm**2,
            unit=plan.unit,
            proof="fewest" if fewest else "least" if board.proved_least else "",
        )


def compared(
    now: tuple[int, Fraction],
    then: AsPlanned,
    *,
    square: Fraction | None,
    unit: Unit,
    proof: str,
) -> str:
    """Say what the rest of a job takes beside what was planned, and so what a mistake costs.

    Parameters
    ----------
    now
        Full sheets still to be opened, and their value.
    square
        Square millimetres that the values count; None where they are money.
    proof
        ``fewest`` where no plan uses fewer sheets, ``least`` where none costs less, else empty.

    Examples
    --------
    ``"The mistake costs one more sheet (21.50): 2 still to be opened, 1 as planned; no plan can
    do with fewer."``
    """
    sheets, more = now[0], now[0] - then.sheets
    cost = now[1] - then.value
    amount = money(abs(cost)) if square is None else _area_told(abs(cost) * square, unit)
    opened = f"{sheets or 'none'} still to be opened, {then.sheets or 'none'} as planned"
    if sheets == then.sheets:
        many = f"{counted(sheets, 'full sheet')} {'is' if sheets == 1 else 'are'}"
        opened = f"{many if sheets else 'no full sheet is'} still to be opened, as planned"
        opened += _other_size(sheets, cost, is_money=square is None)
    who = {0: "This costs", 1: "The mistake costs"}.get(then.mistakes, "The mistakes cost")
    if cost == 0:
        if not then.mistakes:
            return f"Nothing is lost: {opened}."
        left = _left_told(then) or "what is left over may be less"
        return f"{who} no sheet: {opened}; {left}."
    left = f"; {_left_told(then)}" if then.worth_lost else ""
    if cost < 0:
        fewer = f"{_sheets_told(-more, 'fewer')} ({amount})" if more < 0 else amount
        return f"The new plan saves {fewer}: {opened}{left}."
    what = f"{_sheets_told(more, 'more')} ({amount})" if more > 0 else f"{amount} more"
    end = {
        "fewest": "no plan can do with fewer",
        "least": f"no plan can {'cost less' if square is None else 'use less'}",
    }.get(proof, "whether less would do was not settled")
    return f"{who} {what}: {opened}; {end}{left}."


def _other_size(sheets: int, cost: Fraction, *, is_money: bool) -> str:
    """Return how as many sheets can cost more or less than planned: they are of another size."""
    if cost == 0 or not sheets:
        return ""
    dearer, cheaper = ("dearer", "cheaper") if is_money else ("larger", "smaller")
    than = dearer if cost > 0 else cheaper
    return f", but {f'a {than} one' if sheets == 1 else f'{than} ones'}"


def _left_told(then: AsPlanned) -> str:
    """Return what the offcuts that remain are worth beside what was planned; nothing if unknown."""
    lost = then.worth_lost
    if lost is None:
        return ""
    if lost == 0:
        return "what is left over is worth as much as planned"
    than = "less" if lost > 0 else "more"
    return f"what is left over is worth {abs(lost)}/20 of a sheet {than} than planned"


def _sheets_told(number: int, than: str) -> str:
    return f"one {than} sheet" if number == 1 else f"{number} {than} sheets"


def _first(board: BoardPlan, hand: _Hand) -> Iterator[str]:
    for layout in board.layouts:
        for told in first_off(layout, board, hand.plan):
            yield f"{layout.id}, {hand.source(layout.source)}: {told[0].lower()}{told[1:]}"


def first_off(layout: Layout, board: BoardPlan, plan: Plan) -> tuple[str, ...]:
    """Say what must come off the edges of a layout's offcut before its first cut, or nothing.

    A part of a sheet that was begun may have its factory edges on it still. What is too thin to
    lie between a saw's fence and its blade, or to be set on the rule, is set from the far edge.
    Where the tool squares first edges, each is to be square to a good one next to it.
    """
    edges = edges_off(layout, board)
    if not edges:
        return ()
    good = set(good_edges(layout.source, board)) if board.tool.squares else None
    off = [
        f"{_squared_off(edge, size, good, plan)} {_left_then(edge, size, rest, board, plan)}"
        for edge, size, rest in edges
    ]
    told = off[0] if len(off) == 1 else f"{', '.join(off[:-1])} and {off[-1]}"
    return (f"First take {told}; the size given is what is left then.",)


def _squared_off(edge: Edge, size: int, good: set[Edge] | None, plan: Plan) -> str:
    """Return ``5 mm off its right edge square to the top edge``; it is good then.

    Where no edge next to it is good it is made straight.
    """
    other, straight = None, ""
    if good is not None:
        other = square_to(edge, good)
        straight = "straight " if other is None else ""
        good.add(edge)
    squared = "" if other is None else f" square to the {other.value} edge"
    return f"{_length(size, plan)} {straight}off its {edge.value} edge{squared}"


def _left_then(edge: Edge, size: int, rest: int, board: BoardPlan, plan: Plan) -> str:
    """Return ``(set 2425 mm from the left one)``, or what is left."""
    too_fine = plan.step * size < plan.rule
    if not board.tool.kerf and not too_fine:
        return f"({_length(rest, plan)} is left)"
    reach = board.tool.reach
    is_marked = reach is not None and plan.step * rest > reach
    how = "mark" if is_marked else "set"
    beyond = ", the blade beyond the mark" if is_marked and board.tool.kerf else ""
    return f"({how} {_length(rest, plan)} from the {FACING[edge].value} one{beyond})"


def _length(steps: int, plan: Plan) -> str:
    return format_length(plan.step * steps, plan.unit, rule=plan.rule, with_unit=True)


def _take(board: BoardPlan, facts: BoardFacts, hand: _Hand) -> Iterator[str]:
    for use in facts.sources:
        source = use.source
        if source.kind is SourceKind.SHEET:
            whence = _whence(board, use)
            yield f"{counted(use.copies, 'full sheet')}, {hand.size(source)}{whence}"
        elif source.id is None:
            yield f"{counted(use.copies, source.kind.value)}, {hand.size(source)}"
        else:
            yield _named(use, hand)


def _named(use: SourceUse, hand: _Hand) -> str:
    source, name = use.source, hand.spell(use.source.id or "")
    if use.copies == 1:
        return hand.source(source)
    return f"{use.copies} {source.kind.value}s {name}, each {hand.size(source)}"


def _whence(board: BoardPlan, use: SourceUse) -> str:
    """Return ``: 2 on hand, 1 to buy``; nothing where the order does not say what is on hand."""
    split = on_hand(board, use)
    if split is None:
        return ""
    parts = zip(split, ("on hand", "to buy"), strict=True)
    return ": " + ", ".join(f"{number} {told}" for number, told in parts if number)


def on_hand(board: BoardPlan, use: SourceUse) -> tuple[int, int] | None:
    """Return how many of what is taken are on hand and how many are to be bought.

    What is on hand is used first. None where the plan does not say how many are.
    """
    known = [item.on_hand for item in board.stock if item.source == use.source]
    stated = [number for number in known if number is not None]
    if not stated:
        return None
    there = min(sum(stated), use.copies)
    return there, use.copies - there


def _proof(board: BoardPlan, facts: BoardFacts, hand: _Hand) -> Iterator[str]:
    """Claim no more than the plan does."""
    if not board.sheets:
        yield "No full sheet is needed."
        return
    yield _cost_claim(board, hand) if board.aim is Aim.COST else _area_claim(board, hand)
    if facts.rechecked:
        yield "The bound was rechecked from the piece values in the plan."
    else:
        note = hand.spell(board.certificate.note)
        yield f"Shown by a search that only a rerun can repeat. {note}".rstrip()


def _among(board: BoardPlan, hand: _Hand) -> str:
    """Say what the bound is a bound over; other cuts, or other sheets, might do better.

    It knows the longest cut of the tool, where some sheet or offcut is longer than that.
    """
    longest, plan = board.tool.longest_cut, hand.plan
    sides = (max(item.source.width, item.source.height) for item in board.stock)
    if longest is None or longest >= max(sides, default=0):
        return "with straight cuts from this stock"
    told = format_length(plan.step * longest, plan.unit, with_unit=True)
    return f"with straight cuts of at most {told} from this stock"


def _area_claim(board: BoardPlan, hand: _Hand) -> str:
    among = _among(board, hand)
    one_size = len(_sheet_sizes(board)) < 2
    if board.proved_least:
        what = "fewer" if one_size else "less board in full sheets"
        return f"No plan can use {what} {among}."
    if not one_size:
        bound, used = hand.area(board.value_lower_bound), hand.area(board.value)
        return (
            f"At least {bound} of full sheets is needed {among}; this plan uses {used};"
            " less was not ruled out."
        )
    least = board.sheets_lower_bound
    needed = f"At least {counted(least, 'sheet')} {'is' if least == 1 else 'are'} needed"
    return f"{needed} {among}; this plan uses {board.sheets}; fewer was not ruled out."


def _cost_claim(board: BoardPlan, hand: _Hand) -> str:
    among = _among(board, hand)
    if not board.proved_least:
        least, spent = money(board.value_lower_bound), money(board.value)
        return (
            f"At least {least} must be spent {among}; this plan spends {spent};"
            " less was not ruled out."
        )
    if board.sheets == board.sheets_lower_bound:
        return f"No plan can cost less {among}, and none can use fewer sheets."
    return f"No plan can cost less {among}."


def _sheet_sizes(board: BoardPlan) -> set[tuple[int, int]]:
    sources = (item.source for item in board.stock)
    return {(s.width, s.height) for s in sources if s.kind is SourceKind.SHEET}


def _made(layout: Layout, board: BoardPlan, hand: _Hand) -> tuple[str, tuple[str, ...]]:
    """Return ``3 times, from sheet 32 x 40 in`` and what comes of it, ``4 x A`` and ``B``.

    Where all layouts of a board are cut from the same, what is taken says it already.
    """
    made = Counter(hand.spell(piece_named(piece.label)) for piece in layout.pieces)
    several = len({one.source for one in board.layouts}) > 1
    whence = f", from {hand.source(layout.source)}" if several else ""
    return f"{often(layout.copies)}{whence}", tuple(
        label if number == 1 else f"{number} {hand.times} {label}" for label, number in made.items()
    )


def _kept(board: BoardPlan, facts: BoardFacts, hand: _Hand) -> Iterator[str]:
    for kind in (LeftoverKind.OFFCUT, LeftoverKind.SLIP_SHEET):
        for left in facts.left:
            if left.kind is kind:
                origin = ", ".join(_leaving(board, left))
                yield f"{counted(left.count, kind.value)}, {hand.size(left)}, from {origin}"


def _leaving(board: BoardPlan, left: LeftoverCount) -> Iterator[str]:
    """Yield the names of the layouts that leave some of these."""
    wanted = (left.kind, left.width, left.height)
    for layout in board.layouts:
        if wanted in {(one.kind, one.width, one.height) for one in layout.leftovers}:
            yield layout.id


def _waste(areas: Areas) -> str:
    lost = areas.scrap + areas.trim + areas.kerf
    if not lost:
        return "Nothing goes to waste."
    percent = Fraction(100 * lost, areas.sources)
    share = "Under 1%" if percent < 1 else f"About {round(percent)}%"
    return f"{share} of what is taken goes to scrap, trim and kerf."
