"""What the pages say, in the bench's words; nothing here draws."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from ..audit.facts import Areas, BoardFacts
from ..lengths import Length, Unit, format_length
from ..plan.model import Aim, BoardPlan, LeftoverKind, Plan, Source, SourceKind, Stop

__all__ = [
    "CHECK_FIRST",
    "KNIFE_CAUTIONS",
    "SAW_CAUTIONS",
    "Measures",
    "cautions",
    "counted",
    "left_over",
    "measuring",
    "money",
    "proof",
    "short_digest",
    "stopped",
    "take",
    "waste",
]

CHECK_FIRST = "Check the first piece against the order before cutting the rest."

# General good sense at the bench. What is said of blades follows the occupational-health advice
# on sharp blades in general use; what is said of saws is common practice, no source.
KNIFE_CAUTIONS = (
    "A sharp blade, changed often: a dull one needs force, and slips.",
    "Cut away from yourself, on a stable surface, along a straightedge with a guard.",
    "Keep the holding hand behind the blade and out of the line of the cut;"
    " a cut-resistant glove on it, and eye protection.",
    "Put the knife down safely between cuts; spent blades go into a puncture-resistant container.",
)
SAW_CAUTIONS = (
    "Guard and riving knife in place; a push stick for narrow strips;"
    " hands out of the blade's line.",
    "Eye and hearing protection; no gloves or loose sleeves near a turning blade.",
    "Dust extraction on, and a mask: the dust of hardboard and MDF harms the lungs.",
    "Let the blade stop before taking anything away.",
)
DEFER = (
    "The tool's own manual and local rules come first; ask someone qualified if you are not sure."
)


class Measures:
    """Shows a plan's steps in its own unit, on its own rule."""

    def __init__(self, plan: Plan) -> None:
        self.step, self.unit, self.rule = plan.step, plan.unit, plan.rule

    def length(self, steps: int) -> str:
        """Return a length such as ``16 1/8``, without its unit."""
        return format_length(self.step * steps, self.unit, rule=self.rule)

    def size(self, width: int, height: int) -> str:
        """Return a size such as ``16 × 20``, without its unit."""
        return f"{self.length(width)} × {self.length(height)}"

    def size_in_unit(self, width: int, height: int) -> str:
        """Return a size such as ``16 × 20 in``."""
        return f"{self.size(width, height)} {self.unit}"

    def exact_size(self, width: int, height: int) -> str:
        """Return a size as the order has it, whatever the rule can show."""
        sides = (format_length(self.step * side, self.unit) for side in (width, height))
        return " × ".join(sides)

    def exact(self, steps: int) -> str:
        """Return the exact decimal of a length that the rule cannot show, else nothing."""
        length = self.step * steps
        if (length.mm / self.rule.mm).denominator == 1:
            return ""
        return _decimal(length, self.unit)


def _decimal(length: Length, unit: Unit) -> str:
    number = length.in_unit(unit)
    if 10**8 % number.denominator:
        return format_length(length, unit)
    return f"{(Decimal(number.numerator) / number.denominator).normalize():f}"


def source_name(source: Source, measures: Measures) -> str:
    """Return a source such as ``sheet 32 × 40 in`` or ``offcut 7, 14 × 32 in``."""
    size = measures.size_in_unit(source.width, source.height)
    named = source.kind.value if source.id is None else f"{source.kind.value} {source.id},"
    return f"{named} {size}"


def counted(number: int, word: str) -> str:
    """Return ``1 sheet``, ``2 sheets``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def money(amount: Fraction) -> str:
    """Return an amount with two decimals, marked where they cannot hold it."""
    cents = round(amount * 100)
    mark = "" if cents == amount * 100 else "≈"
    return f"{mark}{cents // 100}.{cents % 100:02d}"


def short_digest(plan: Plan) -> str:
    """Return the first eight digits of the order's digest."""
    return plan.order_digest.removeprefix("sha256:")[:8]


def take(facts: BoardFacts, measures: Measures) -> Iterator[str]:
    """Say what to take off the rack: sheets by size, offcuts by what is pencilled on them."""
    for use in facts.sources:
        source = use.source
        size = measures.size_in_unit(source.width, source.height)
        if source.kind is SourceKind.SHEET:
            yield f"{counted(use.copies, 'full sheet')}, {size}"
        elif source.id is None:
            yield f"{counted(use.copies, source.kind.value)}, {size}"
        else:
            yield source_name(source, measures)


def proof(board: BoardPlan, facts: BoardFacts) -> str:
    """Say whether the plan is proved least, claiming no more than the plan does."""
    if not board.sheets:
        return "No full sheet is needed."
    claim = _cost_claim(board) if board.aim is Aim.COST else _area_claim(board)
    if board.proved_least and not facts.rechecked:
        return f"{claim} (Shown by a search that only a rerun can repeat.)"
    return claim


def _area_claim(board: BoardPlan) -> str:
    one_size = len(_sheet_sizes(board)) < 2
    if board.proved_least:
        return (
            "No plan can use fewer." if one_size else "No plan can use less board in full sheets."
        )
    left_open = "fewer" if one_size else "less board"
    needed = f"At least {board.sheets_lower_bound} {_are(board.sheets_lower_bound)} needed"
    return f"{needed}; this plan uses {board.sheets}; {left_open} was not ruled out."


def _cost_claim(board: BoardPlan) -> str:
    spent = money(board.value)
    if not board.proved_least:
        least = money(board.value_lower_bound)
        return f"The sheets cost {spent}; at least {least} must be spent; less was not ruled out."
    if board.sheets == board.sheets_lower_bound:
        return f"The sheets cost {spent}. No plan can cost less, and none can use fewer."
    return f"The sheets cost {spent}. No plan can cost less."


def _are(number: int) -> str:
    return "is" if number == 1 else "are"


def _sheet_sizes(board: BoardPlan) -> set[tuple[int, int]]:
    sources = (item.source for item in board.stock)
    return {(s.width, s.height) for s in sources if s.kind is SourceKind.SHEET}


_WORTH_KEEPING = (LeftoverKind.OFFCUT, LeftoverKind.SLIP_SHEET)


def left_over(facts: BoardFacts, measures: Measures) -> Iterator[str]:
    """Say what is left that is worth keeping, offcuts first."""
    for kind in _WORTH_KEEPING:
        for left in facts.left:
            if left.kind is kind:
                size = measures.size_in_unit(left.width, left.height)
                yield f"{counted(left.count, kind.value)}, {size}"


def waste(areas: Areas) -> str:
    """Say how much of what is taken is lost."""
    lost = areas.scrap + areas.trim + areas.kerf
    if not lost:
        return "Nothing goes to waste."
    percent = Fraction(100 * lost, areas.sources)
    share = "Under 1%" if percent < 1 else f"About {round(percent)}%"
    return f"{share} of what is taken goes to scrap, trim and kerf."


def stopped(plan: Plan) -> str:
    """Say that planning was cut short, or nothing."""
    ended = {Stop.INTERRUPTED: "stopped by hand", Stop.SECONDS: "stopped by the clock"}
    if plan.stopped not in ended:
        return ""
    return (
        f"Planning was {ended[plan.stopped]}: this is the best plan found by then;"
        " another run may differ."
    )


def measuring(plan: Plan) -> str:
    """Say what unit and what rule the pages are written for."""
    unit = {Unit.INCH: "inches", Unit.MILLIMETRE: "millimetres", Unit.CENTIMETRE: "centimetres"}
    mark = format_length(plan.rule, plan.unit, with_unit=True)
    return (
        f"All lengths are in {unit[plan.unit]}, for a rule marked every {mark}."
        " Sizes give the width as drawn first. ≈ marks a length that falls between two marks;"
        " beside a setting stands the exact one."
    )


def cautions(plan: Plan) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Give what keeps hands, eyes and lungs whole, for each kind of tool in the plan."""
    kerfs = [bool(board.tool.kerf) for board in plan.boards]
    if not all(kerfs) or not kerfs:
        yield "With a knife", KNIFE_CAUTIONS
    if any(kerfs):
        yield "With a saw", SAW_CAUTIONS
    yield "", (DEFER,)
