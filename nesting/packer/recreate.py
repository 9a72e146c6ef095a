"""A whole plan made cheaper by ruin and recreate: parts cleared by chance, pieces put back.

After Schrimpf, Schneider, Stamm-Wilbrandt and Dueck (2000), Record breaking optimization results
using the ruin and recreate principle, and Gardeyn and Wauters (2022), A goal-driven ruin and
recreate heuristic for the 2D variable-sized bin packing problem with guillotine constraints (both
from memory). The goal is a cost below that of the plan in hand. As long as it is kept, pieces may
be left out; what is left out is to become less until nothing is. Where the pricing of layouts
wants many copies of few sizes, this wants the opposite: many sizes, few copies, few sheets.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from .choice import Choice
from .layouts import (
    Layout,
    Place,
    Split,
    counts_of,
    gross_areas,
    gross_rooms,
    needed,
    sheets_filled,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ..problem.instance import Instance
    from .layouts import Tree
    from .running import Budget

__all__ = [
    "Recreation",
    "cheaper",
    "is_soon_put_together",
    "loosest",
    "put_together",
    "soon_put_together",
    "unused",
]

HISTORY = 20
BLINKS = 0.03
CLIMBS = 0.6
MOST_CLEARED = 6
# What a round counts as, in splits compared, each piece put back in it, each sheet asked whether it
# has room for the piece, and each free part of those that may: about twice the time that they took
# on boards of many kinds.
SPLITS_A_ROUND, SPLITS_A_PIECE, SPLITS_A_SHEET, SPLITS_A_LOOK = 60_000, 7_000, 90, 85
LEFT_WEIGHT = 0.5
NOISE = 0.3
OUT_WEIGHT = 3.0
# How often a plan is put together, but no more than so many pieces in all. More of them would take
# long, as each asks ever more sheets, and so do fewer that ask so many sheets between them.
FIRST_TRIES, MOST_PIECES, MOST_ASKED = 4, 8_000, 20_000_000
# Between so many pieces somebody may ask to end.
PIECES_A_CHECK = 200
# Where the budget does not end the rounds before.
MOST_ROUNDS = 1_000_000
FEWEST_SHEETS, MOST_SHEETS = 3, 80


class _Part:
    """A rectangle on a sheet: free, a piece, or cut across one axis into parts.

    At most one of the parts that it is cut into is free, and none is cut across the same axis.
    """

    __slots__ = ("axis", "height", "parent", "parts", "piece", "turned", "width")

    def __init__(
        self,
        width: int,
        height: int,
        parent: _Part | None,
        axis: int = -1,
        piece: int = -1,
        turned: bool = False,
    ) -> None:
        self.width = width
        self.height = height
        self.parent = parent
        self.axis = axis
        self.parts: list[_Part] = []
        self.piece = piece
        self.turned = turned

    def is_free(self) -> bool:
        return self.piece < 0 and not self.parts

    def grow(self, axis: int, by: int) -> None:
        if axis == 0:
            self.width += by
        else:
            self.height += by

    def along(self, axis: int) -> int:
        return self.height if axis else self.width


class _Sheet:
    """One source of the plan, the parts that are free on it, each with its area, and the pieces.

    Most sheets stay as they are from round to round, so that what is asked each time is kept: the
    area of the largest free part, and what the free parts together are rated; None if unknown.
    """

    __slots__ = ("free", "largest", "pieces", "rated", "root", "source")

    def __init__(self, source: int, width: int, height: int) -> None:
        self.source = source
        self.root = _Part(width, height, None)
        self.free: dict[_Part, float] = {self.root: float(width * height)}
        self.pieces: dict[_Part, None] = {}
        self.largest = float(width * height)
        self.rated: float | None = None

    def _look_anew(self) -> None:
        self.largest = max(self.free.values(), default=0.0)
        self.rated = None

    def put(self, free: _Part, axis: int, piece: int, turned: bool, size: tuple[int, int]) -> None:
        """Put a piece into the corner of a free part, the first cut across `axis`."""
        across = 1 - axis
        rest, rest_across = free.along(axis) - size[axis], free.along(across) - size[across]
        if rest:
            free, _ = self.halves(free, axis, size[axis])
        if rest_across:
            free, _ = self.halves(free, across, size[across])
        del self.free[free]
        free.piece, free.turned = piece, turned
        self.pieces[free] = None
        self._look_anew()

    def halves(self, free: _Part, axis: int, size: int) -> tuple[_Part, _Part]:
        """Cut `size` off a free part; return what was cut off and the rest, both free."""
        parent = free.parent
        if parent is None or parent.axis != axis:
            parent, free = free, _Part(free.width, free.height, free)
            del self.free[parent]
            parent.axis = axis
            parent.parts = [free]
        if axis == 0:
            off = _Part(size, free.height, parent)
            free.width -= size
        else:
            off = _Part(free.width, size, parent)
            free.height -= size
        parent.parts.append(off)
        self._mark_free(free)
        self._mark_free(off)
        return off, free

    def _mark_free(self, part: _Part) -> None:
        self.free[part] = float(part.width * part.height)

    def clear(self, part: _Part) -> list[int]:
        """Free a part that is not free; return the pieces that were in it."""
        gone: list[int] = []
        todo = [part]
        while todo:
            one = todo.pop()
            if one.parts:
                todo += one.parts
            elif one.piece >= 0:
                gone.append(one.piece)
                del self.pieces[one]
            else:
                del self.free[one]
        part.parts = []
        part.axis = part.piece = -1
        self._mark_free(part)
        self._merge(part)
        self._look_anew()
        return gone

    def join(self) -> None:
        """Join free parts that lie side by side."""
        for part in list(self.free):
            if part in self.free:
                self._merge(part)
        self._look_anew()

    def _merge(self, part: _Part) -> None:
        """Join a free part with a free one beside it, and so on upwards."""
        parent = part.parent
        while parent is not None:
            beside = next((one for one in parent.parts if one is not part and one.is_free()), None)
            if beside is None:
                return
            parent.parts.remove(beside)
            del self.free[beside]
            part.grow(parent.axis, beside.along(parent.axis))
            if len(parent.parts) > 1:
                self._mark_free(part)
                continue
            del self.free[part]
            self._mark_free(parent)
            parent.parts = []
            parent.axis = -1
            part, parent = parent, parent.parent

    def copy(self) -> _Sheet:
        """Return the sheet once more, nothing shared."""
        other = _Sheet(self.source, self.root.width, self.root.height)
        other.largest = self.largest
        if not self.root.is_free():
            other.free.clear()
            other.root = other._twin(self.root, None)
        return other

    def _twin(self, part: _Part, parent: _Part | None) -> _Part:
        """Return a part of another sheet, and all in it, once more for this one."""
        twin = _Part(part.width, part.height, parent, part.axis, part.piece, part.turned)
        if part.parts:
            twin.parts = [self._twin(one, twin) for one in part.parts]
        elif part.piece >= 0:
            self.pieces[twin] = None
        else:
            self.free[twin] = float(part.width * part.height)
        return twin


def _tree(part: _Part) -> Tree:
    """Return the cuts that make a part's pieces, the free part last."""
    if part.piece >= 0:
        return Place(part.piece, part.turned)
    full = [one for one in part.parts if not one.is_free()]
    tree: Tree = None
    for one in reversed(full):
        inner = _tree(one)
        last = tree is None and len(full) == len(part.parts)
        tree = inner if last else Split(part.axis, one.along(part.axis), inner, tree)
    return tree


@dataclass(slots=True)
class Recreation:
    """Sheets whose pieces are to be cut at less cost.

    Attributes
    ----------
    goal
        The most that sheets may cost.
    worth
        Of a part of given true width and height, if what is left is to be worth much.
    left_out
        Pieces that are on no sheet.
    """

    instance: Instance
    goal: int
    available: list[int | None]
    chance: random.Random
    worth: Callable[[int, int], float] | None = None
    sheets: list[_Sheet] = field(default_factory=list)
    left_out: list[int] = field(default_factory=list)
    _own: set[int] = field(default_factory=set)
    _ways: list[list[tuple[bool, int, int]]] = field(default_factory=list)
    _areas: list[int] = field(default_factory=list)
    _sizes: tuple[list[int], ...] = ()
    _forgone: list[float] = field(default_factory=list)
    _room: int = 1
    _cheapest: int = 0
    _left: int = 0
    _asked: int = 0
    _looks: int = 0

    @classmethod
    def of(
        cls,
        instance: Instance,
        layouts: Sequence[Layout],
        goal: int,
        available: Sequence[int | None],
        seed: int,
        worth: Callable[[int, int], float] | None = None,
    ) -> Recreation:
        """Start from one sheet for each of `layouts`, the emptiest left out to keep the goal.

        Parameters
        ----------
        goal
            The most that the sheets may cost.
        available
            Of each source, how many there are for these sheets.
        seed
            The same seed takes the same course.
        worth
            See the class.
        """
        # Chance decides where to look, not what is right; nothing secret hangs on it.
        work = cls(instance, goal, list(available), random.Random(seed), worth)  # noqa: S311
        kerf = instance.kerf
        work._areas = gross_areas(instance)
        work._room = max(gross_rooms(instance))
        work._cheapest = min(source.cost for source in instance.sources)
        work._forgone = [
            worth(s.width, s.height) if worth is not None and s.cost == 0 else 0.0
            for s in instance.sources
        ]
        work._ways = [
            [
                (bool(turned), width + kerf, height + kerf)
                for turned, (width, height) in enumerate(piece.orientations())
            ]
            for piece in instance.pieces
        ]
        sides = [ways[0][1:] for ways in work._ways]
        work._sizes = (
            work._areas,
            [max(pair) * work._room for pair in sides],
            [sum(pair) * work._room for pair in sides],
        )
        ranked = sorted(layouts, key=lambda layout: -work._area(layout.counts))
        cost = 0
        for layout in ranked:
            price = instance.sources[layout.source].cost
            if cost + price <= goal and work._take(layout.source):
                cost += price
                work.sheets.append(work._laid_out(layout))
            else:
                work.left_out += [n for n, count in enumerate(layout.counts) for _ in range(count)]
        return work

    def run(self, budget: Budget, rounds: int = MOST_ROUNDS) -> bool:
        """Work until nothing is left out; return whether that was reached."""
        self._put_back(budget)
        now = self._badness()
        history = [now] * HISTORY
        for number in range(rounds):
            if not self.left_out or not self.sheets or budget.spent:
                break
            now = self._round(budget, now, history, number % HISTORY)
        return not self.left_out

    def gather(self, budget: Budget, rounds: int = MOST_ROUNDS) -> list[Layout]:
        """Return the layouts that leave the most of `worth` with nothing left out."""
        best, least = self.plan(), self._badness()
        history, now = [least] * HISTORY, least
        for number in range(rounds):
            if budget.spent:
                break
            now = self._round(budget, now, history, number % HISTORY)
            if not self.left_out and now < least:
                best, least = self.plan(), now
        return best

    def _round(self, budget: Budget, now: float, history: list[float], at: int) -> float:
        """Ruin and recreate once; return how bad it now is.

        What is no worse than the last, or than some rounds ago, is kept: late acceptance after
        Burke and Bykov (2017), The late acceptance hill-climbing heuristic (from memory).
        """
        before, out, stock = list(self.sheets), list(self.left_out), list(self.available)
        self._ruin()
        self._put_back(budget)
        new = self._badness()
        done = self.worth is None and not self.left_out
        if done or new <= max(now, history[at]):
            now = new
        else:
            self.sheets, self.left_out, self.available = before, out, stock
        history[at] = min(history[at], now)
        return now

    def plan(self) -> list[Layout]:
        """Return the layout of every sheet."""
        kinds = len(self.instance.pieces)
        trees = [(sheet.source, _tree(sheet.root)) for sheet in self.sheets if sheet.pieces]
        return [Layout(source, counts_of(tree, kinds), tree) for source, tree in trees]

    def _area(self, counts: Sequence[int]) -> int:
        return sum(area * count for area, count in zip(self._areas, counts, strict=True))

    def _take(self, source: int) -> bool:
        """Take one of a source off the stock; return whether there was one."""
        left = self.available[source]
        if left is None:
            return True
        self.available[source] = max(0, left - 1)
        return left > 0

    def _badness(self) -> float:
        """Return the area left out, in sheets, less what the free parts are worth."""
        out = sum(self._areas[piece] for piece in self.left_out) / self._room
        rated = sum([self._rated(sheet) for sheet in self.sheets])
        if self.worth is None:
            return out - LEFT_WEIGHT * rated / self._room**2
        return OUT_WEIGHT * out - rated

    def _rated(self, sheet: _Sheet) -> float:
        """Return how much a sheet's free parts have together, each squared, or are worth."""
        if sheet.rated is None:
            if self.worth is None:
                sheet.rated = sum([room * room for room in sheet.free.values()])
            else:
                kerf = self.instance.kerf
                worths = [self.worth(part.width - kerf, part.height - kerf) for part in sheet.free]
                sheet.rated = sum(worths) - self._forgone[sheet.source]
        return sheet.rated

    def _ruin(self) -> None:
        """Clear a few parts, some of them with all that lies around them."""
        self._own = set()
        for _ in range(self.chance.randint(1, MOST_CLEARED)):
            number = self.chance.randrange(len(self.sheets))
            sheet = self._owned(number)
            if not sheet.pieces:
                continue
            part = self.chance.choice(list(sheet.pieces))
            while part.parent is not None and self.chance.random() < CLIMBS:
                part = part.parent
            self.left_out += sheet.clear(part)
        for sheet in self.sheets:
            if not sheet.pieces:
                left = self.available[sheet.source]
                self.available[sheet.source] = None if left is None else left + 1
        kept = [number for number, sheet in enumerate(self.sheets) if sheet.pieces]
        self._own = {at for at, number in enumerate(kept) if number in self._own}
        self.sheets = [self.sheets[number] for number in kept]

    def _owned(self, number: int) -> _Sheet:
        """Return a sheet that may be changed: what stood before the round stays as it was."""
        if number not in self._own:
            self.sheets[number] = self.sheets[number].copy()
            self._own.add(number)
        return self.sheets[number]

    def _put_back(self, budget: Budget) -> None:
        """Put pieces back one by one, each where it spoils least; large ones first, mostly."""
        noise = NOISE * self.chance.random()
        by = self.chance.randrange(len(self._sizes))
        keyed = [
            (-self._sizes[by][piece] * (1 + noise * self.chance.random()), piece)
            for piece in self.left_out
        ]
        keyed.sort()
        self._asked = self._looks = 0
        sources = self.instance.sources
        self._left = self.goal - sum([sources[sheet.source].cost for sheet in self.sheets])
        self.left_out = []
        for number, (_, piece) in enumerate(keyed, 1):
            if not (self._put(piece) or self._open(piece)):
                self.left_out.append(piece)
            if number % PIECES_A_CHECK == 0:
                budget.check()
        work = SPLITS_A_ROUND + SPLITS_A_PIECE * len(keyed) + SPLITS_A_SHEET * self._asked
        budget.spend(work + SPLITS_A_LOOK * self._looks)

    def _put(self, piece: int) -> bool:
        """Put a piece into the free part where it leaves the most room together."""
        ways, area = self._ways[piece], self._areas[piece]
        chance = self.chance.random
        least = most = math.inf
        best = None
        limited = self.instance.has_bench_limits
        roomy = [one for one in enumerate(self.sheets) if one[1].largest >= area]
        self._asked += len(self.sheets)
        self._looks += sum([len(sheet.free) for _, sheet in roomy])
        for number, sheet in roomy:
            for part, room in sheet.free.items():
                if room < area or room > most:
                    continue
                width, height = part.width, part.height
                for turned, wide, high in ways:
                    right, below = width - wide, height - high
                    if right < 0 or below < 0:
                        continue
                    # What two parts have together, squared, is less than what one would have.
                    beside, under = float(right * height), float(wide * below)
                    across = beside * beside + under * under
                    under, beside = float(width * below), float(right * high)
                    down = under * under + beside * beside
                    spoilt = room * room - (down if down > across else across)
                    if spoilt >= least or chance() < BLINKS:
                        continue
                    if limited and not self._may(width, height, right, below):
                        continue
                    axis = 1 if down > across else 0
                    least, best = spoilt, (number, part, axis, turned, (wide, high))
                    # A larger part would be spoilt more even if all that is left were one part.
                    most = (spoilt / area + area) / 2
        if best is None:
            return False
        number, part, axis, turned, size = best
        if number not in self._own:
            path = _path(part)
            part = _follow(self._owned(number).root, path)
        self.sheets[number].put(part, axis, piece, turned, size)
        return True

    def _may(self, width: int, height: int, right: int, below: int) -> bool:
        """Return whether the tool may well free a piece, going by the part alone.

        What stands on the sheet beside it and the trims are for `legal` to judge.
        """
        kerf, strip = self.instance.kerf, self.instance.narrowest_strip
        longest = self.instance.longest_cut
        if any(0 < rest - kerf < strip for rest in (right, below)):
            return False
        return longest is None or min(width, height) - kerf <= longest

    def _open(self, piece: int) -> bool:
        """Put a piece on a sheet of its own, if the goal allows one more; return whether so."""
        instance, kerf = self.instance, self.instance.kerf
        if self._left < self._cheapest:
            return False
        found = [
            (number, source.width + kerf, source.height + kerf, way)
            for number, source in enumerate(instance.sources)
            if source.cost <= self._left and self.available[number] != 0
            for way in self._ways[piece]
            if way[1] <= source.width + kerf and way[2] <= source.height + kerf
        ]
        if not found:
            return False
        free = [one for one in found if instance.sources[one[0]].cost == 0]
        number, width, height, (turned, wide, high) = self.chance.choice(free or found)
        self._take(number)
        self._left -= instance.sources[number].cost
        sheet = _Sheet(number, width, height)
        axis = 0 if (width - wide) * height >= width * (height - high) else 1
        sheet.put(sheet.root, axis, piece, turned, (wide, high))
        self._own.add(len(self.sheets))
        self.sheets.append(sheet)
        return True

    def _laid_out(self, layout: Layout) -> _Sheet:
        source, kerf = self.instance.sources[layout.source], self.instance.kerf
        sheet = _Sheet(layout.source, source.width + kerf, source.height + kerf)
        self._lay(layout.root, sheet, sheet.root)
        sheet.join()
        return sheet

    def _lay(self, tree: Tree, sheet: _Sheet, free: _Part) -> None:
        """Lay a tree of cuts, closed up, into the corner of a free part."""
        if tree is None:
            return
        wide, high = needed(tree, 0, self.instance), needed(tree, 1, self.instance)
        if isinstance(tree, Place):
            axis = (
                0 if (free.width - wide) * free.height >= free.width * (free.height - high) else 1
            )
            sheet.put(free, axis, tree.piece, tree.turned, (wide, high))
            return
        size = needed(tree.first, tree.axis, self.instance)
        if size == 0 or size == free.along(tree.axis):
            self._lay(tree.second if size == 0 else tree.first, sheet, free)
            return
        first, rest = sheet.halves(free, tree.axis, size)
        self._lay(tree.first, sheet, first)
        self._lay(tree.second, sheet, rest)


def _path(part: _Part) -> list[int]:
    """Return which part of which part this is, from the root."""
    path: list[int] = []
    while part.parent is not None:
        path.append(next(n for n, one in enumerate(part.parent.parts) if one is part))
        part = part.parent
    return path[::-1]


def _follow(root: _Part, path: Sequence[int]) -> _Part:
    for number in path:
        root = root.parts[number]
    return root


def put_together(instance: Instance, budget: Budget) -> Choice | None:
    """Return a plan made piece by piece, whatever it costs.

    None if the stock does not suffice.
    """
    goal = sum(s.cost * (s.available or 0) for s in instance.sources)
    goal += max(s.cost for s in instance.sources) * sum(instance.demands)
    best: Choice | None = None
    tries = min(FIRST_TRIES, max(1, MOST_PIECES // max(1, sum(instance.demands))))
    for seed in range(tries):
        available = [source.available for source in instance.sources]
        work = Recreation.of(instance, [], goal, available, seed)
        work.left_out = [n for n, demand in enumerate(instance.demands) for _ in range(demand)]
        if work.run(budget, 0):
            plan = Choice.of(work.plan())
            if best is None or plan.cost(instance) < best.cost(instance):
                best = plan
    return best


def is_soon_put_together(instance: Instance) -> bool:
    """Whether `put_together` takes a second or two at most."""
    pieces = sum(instance.demands)
    return pieces <= MOST_PIECES and pieces * sheets_filled(instance) <= MOST_ASKED


def soon_put_together(instance: Instance, budget: Budget) -> Choice | None:
    """Return a plan put together for so small a share of the order as is soon done, times over.

    None if the stock is limited and the order large, or does not suffice.
    """
    times = math.ceil(
        max(
            sum(instance.demands) / MOST_PIECES,
            math.sqrt(sum(instance.demands) * sheets_filled(instance) / MOST_ASKED),
        )
    )
    if times <= 1:
        return put_together(instance, budget)
    if any(source.available is not None for source in instance.sources):
        return None
    pieces = tuple(replace(piece, demand=-(-piece.demand // times)) for piece in instance.pieces)
    plan = put_together(replace(instance, pieces=pieces), budget)
    return None if plan is None else Choice({one: times * n for one, n in plan.copies.items()})


def cheaper(
    instance: Instance,
    sheets: Sequence[Layout],
    kept: Choice,
    budget: Budget,
    seed: int,
) -> list[Layout] | None:
    """Return sheets that make the same and cost less, or None if none were found.

    Parameters
    ----------
    kept
        The plan's other sheets, which keep what they take of the stock.
    """
    goal = sum(instance.sources[layout.source].cost for layout in sheets) - 1
    work = Recreation.of(instance, sheets, goal, unused(instance, kept), seed)
    return work.plan() if work.run(budget) else None


def loosest(
    instance: Instance, plan: Choice, loose: float, seed: int
) -> tuple[list[Layout], Choice]:
    """Return the emptiest sheets of a plan that waste `loose` sheets between them, and the others.

    Of sheets as empty as each other, the seed says which come first.
    """
    # Chance decides where to look, not what is right; nothing secret hangs on it.
    chance = random.Random(seed)  # noqa: S311
    wastes = {layout: _waste(instance, layout) for layout in plan.copies}
    sheets = plan.few_sheets(MOST_SHEETS)
    chance.shuffle(sheets)
    sheets.sort(key=lambda layout: -wastes[layout])
    paid = [source.cost for source in instance.sources if source.cost]
    wanted = loose * min(paid, default=0)
    wasted, number = 0.0, 0
    while number < min(len(sheets), MOST_SHEETS) and (wasted < wanted or number < FEWEST_SHEETS):
        layout = sheets[number]
        wasted += wastes[layout] * instance.sources[layout.source].cost
        number += 1
    return sheets[:number], plan.less_sheets(sheets[:number])


def unused(instance: Instance, plan: Choice) -> list[int | None]:
    """Return how many of each source a plan leaves."""
    return [
        None if source.available is None else source.available - used
        for source, used in zip(instance.sources, plan.used(instance), strict=True)
    ]


def _waste(instance: Instance, layout: Layout) -> float:
    """Return the share of a sheet's gross area that is not piece."""
    areas = zip(gross_areas(instance), layout.counts, strict=True)
    used = sum(area * count for area, count in areas)
    return 1 - used / gross_rooms(instance)[layout.source]
