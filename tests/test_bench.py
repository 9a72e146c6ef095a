"""The order of cuts: the fewest settings, an order that can be cut, and how exact it comes out."""

from __future__ import annotations

import json
import random
import tempfile
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from heapq import heappop, heappush
from itertools import groupby, product
from pathlib import Path
from statistics import median

import pytest
from cut_again import Counted, cut_board, quarters
from hypothesis import example, given, settings
from hypothesis import strategies as st

import kerfwright as kw
import kerfwright.bench.otherwise
import kerfwright.planning
from kerfwright.audit.check import case_of
from kerfwright.audit.cutting import _left_over as left_over_of
from kerfwright.audit.cutting import is_shown
from kerfwright.bench import Bench, order_board
from kerfwright.bench.closest import Sides, closeness, closest
from kerfwright.bench.ease import NEVER, Chosen, Ease, Table
from kerfwright.bench.easiest import easiest
from kerfwright.bench.jobs import Job, jobs_of, rank_of
from kerfwright.bench.laying import Made, handling, in_a_row
from kerfwright.bench.sequence import Forest, never, shortened, shortest, shortest_of
from kerfwright.bench.sizes import rule_error, setting_error
from kerfwright.bench.strips import in_strips
from kerfwright.bench.work import work_of
from kerfwright.instructions import instructions as kw_instructions
from kerfwright.plan.edges import FACING
from kerfwright.plan.files import plan_from_json
from kerfwright.plan.trees import CutNode, DraftLayout, Node, PieceNode, WasteNode

ROOT = Path(__file__).parent.parent
INCH = kw.Length.of(1, kw.Unit.INCH)
SIXTEENTH = kw.Length.of(Fraction(1, 16), kw.Unit.INCH)
NO_TRIM = kw.PlanTrim(0, 0, 0, 0)
Extent = tuple[int, int, int, int]
Divided = tuple[kw.Cut, tuple[Extent | None, Extent | None]]
Options = list[frozenset[int]]
Parents = list[int | None]


# --- the fewest settings ----------------------------------------------------------------------


def brute_force(options: Options, parents: Parents) -> int:
    """Return the fewest settings by trying every order of every task at each of its settings.

    A breadth-first search over what is done and where the stop stands; a move costs one, a task
    at the setting that stands nothing.
    """
    everything = (1 << len(options)) - 1
    least: dict[tuple[int, int | None], int] = {(0, None): 0}
    waiting: deque[tuple[int, int | None]] = deque(least)
    while waiting:
        done, stands = waiting.popleft()
        if done == everything:
            return least[done, stands]
        for task, ways in enumerate(options):
            above = parents[task]
            if done >> task & 1 or (above is not None and not done >> above & 1):
                continue
            for setting in ways or {stands}:
                cost = least[done, stands] + (bool(ways) and setting != stands)
                after = (done | 1 << task, setting)
                if cost < least.get(after, len(options) + 1):
                    least[after] = cost
                    free = cost == least[done, stands]
                    (waiting.appendleft if free else waiting.append)(after)
    raise AssertionError("there is always an order")


@st.composite
def forests(draw: st.DrawFn) -> tuple[Options, Parents]:
    """Draw up to eight tasks with up to two of six settings each, some beyond the stop's reach."""
    number = draw(st.integers(1, 8))
    ways = st.frozensets(st.integers(1, 6), min_size=0, max_size=2)
    options = draw(st.lists(ways, min_size=number, max_size=number))
    parents: Parents = [None]
    for task in range(1, number):
        parents.append(draw(st.none() | st.integers(0, task - 1)))
    return options, parents


@settings(max_examples=3000, deadline=None)
@given(forests())
def test_no_order_takes_fewer_settings(forest: tuple[Options, Parents]) -> None:
    """On tiny jobs the sequence is as short as a brute force finds, and is proved so."""
    options, parents = forest
    found = shortest(options, parents)
    assert len(found.settings) == found.lower_bound == brute_force(options, parents)


@settings(max_examples=300, deadline=None)
@given(forests())
def test_a_search_cut_short_claims_no_more_than_is_so(forest: tuple[Options, Parents]) -> None:
    """Without any looks the sequence still does everything, and its bound still holds."""
    options, parents = forest
    found = shortest(options, parents, most_looks=0)
    least = brute_force(options, parents)
    assert found.lower_bound <= least <= len(found.settings)
    assert all_done(options, parents, found.settings)


def all_done(options: Options, parents: Parents, sequence: tuple[int, ...]) -> bool:
    """Return whether doing at each setting whatever can be done does everything."""
    done: set[int] = set()
    for setting in (None, *sequence):
        for _ in options:
            done |= {
                task
                for task, ways in enumerate(options)
                if (not ways or setting in ways)
                and (parents[task] is None or parents[task] in done)
            }
    return len(done) == len(options)


@settings(max_examples=300, deadline=None)
@given(forests(), st.randoms(use_true_random=False))
def test_settings_are_left_out_until_none_can_be(
    forest: tuple[Options, Parents], chance: random.Random
) -> None:
    """Of a sequence that does everything a shorter one is left that does, and needs each of it.

    Two rounds of all settings, in any order, do one generation of tasks each at least.
    """
    options, parents = forest
    every = sorted(frozenset[int]().union(*options))
    rounds = [chance.sample(every, len(every)) for _ in options]
    begun = tuple(setting for one in rounds for setting in one)
    found = shortened(Forest(options, parents, {}), begun)
    assert all_done(options, parents, found)
    for place in range(len(found)):
        assert not all_done(options, parents, (*found[:place], *found[place + 1 :]))


@settings(max_examples=300, deadline=None)
@given(forests())
def test_no_sequence_found_is_longer_than_one_that_is_known(
    forest: tuple[Options, Parents],
) -> None:
    """A known sequence that does everything is taken into account; one that does not is not."""
    options, parents = forest
    known = shortest(options, parents).settings
    again = shortest_of(Forest(options, parents, {}), 0, known)
    assert len(again.settings) == len(known)
    short = shortest_of(Forest(options, parents, {}), 0, known[1:])
    assert all_done(options, parents, short.settings)
    assert all(all_done(options, parents, other) for other in (*again.also, *short.also))


def test_a_worked_sequence() -> None:
    """Three strips, each to be crosscut: 16, then 20 for all of them, and not 16 20 16 20 16 20.

    A strip of 16 from the sheet, again of the rest, and each strip at 20 from its end.
    """
    ways = [frozenset({number}) for number in (16, 20, 16, 20, 16, 20)]
    found = shortest(ways, [None, 0, 0, 2, 2, 4])
    assert found.settings == (16, 20)


# --- drawn-up trees ---------------------------------------------------------------------------


@st.composite
def drafts(draw: st.DrawFn) -> tuple[list[DraftLayout], int]:
    """Draw one to three layouts of small sheets as trees of cuts, and a kerf."""
    kerf = draw(st.sampled_from([0, 0, 1]))
    found = []
    for _ in range(draw(st.integers(1, 3))):
        width, height = draw(st.integers(4, 14)), draw(st.integers(4, 14))
        root = draw(nodes(0, 0, width, height, kerf, 3))
        source = kw.Source(kw.SourceKind.SHEET, None, width, height)
        found.append(DraftLayout(source, root, draw(st.integers(1, 3))))
    return found, kerf


@st.composite
def nodes(draw: st.DrawFn, x: int, y: int, width: int, height: int, kerf: int, depth: int) -> Node:
    """Draw a tree of cuts over a rectangle."""
    axis = draw(st.sampled_from(kw.Axis))
    size = width if axis is kw.Axis.X else height
    if depth == 0 or size < 2 or draw(st.integers(0, 4)) == 0:
        if draw(st.booleans()):
            return PieceNode("A", x, y, width, height, False)
        return WasteNode(x, y, width, height)
    off = draw(st.integers(1, size - 1))
    rest = size - off - kerf
    if axis is kw.Axis.X:
        first = draw(nodes(x, y, off, height, kerf, depth - 1))
        beyond = (x + off + kerf, y, rest, height)
    else:
        first = draw(nodes(x, y, width, off, kerf, depth - 1))
        beyond = (x, y + off + kerf, width, rest)
    second = draw(nodes(*beyond, kerf, depth - 1)) if rest > 0 else None
    at = (x if axis is kw.Axis.X else y) + off
    return CutNode(axis, at, x, y, width, height, first, second)


def bench_of(kerf: int, reach: int | None, rule: kw.Length) -> Bench:
    """Return a bench of whole inches, with a knife."""
    tool = kw.PlanTool("knife", kerf, None, 0, reach=None if reach is None else INCH * reach,
                       repeatability=kw.Length.of(Fraction(1, 32), kw.Unit.INCH),
                       rule_class="II")  # fmt: skip
    return Bench(tool, NO_TRIM, INCH, rule)


def ordered(
    layouts: list[DraftLayout],
    kerf: int,
    reach: int | None = None,
    stop: Callable[[], bool] = never,
    *,
    is_standing: bool = False,
    rule: kw.Length = SIXTEENTH,
) -> tuple[kw.Plan, Counted]:
    """Return a plan of these layouts as the bench orders them, and what cutting it again gives."""
    bench = bench_of(kerf, reach, rule)
    names = [f"L{number}" for number in range(len(layouts))]
    made, cutting = order_board(
        layouts, names, bench, lambda _w, _h: kw.LeftoverKind.SCRAP, stop, is_standing=is_standing
    )
    board = kw.BoardPlan(
        "b", False, bench.tool, NO_TRIM, (), (), 0, 0, kw.Aim.AREA, Fraction(0), Fraction(0), True,
        kw.Certificate(kw.CertificateKind.PIECE_VALUES, {}), made, cutting=cutting,
    )  # fmt: skip
    plan = kw.Plan("kerfwright 0", "drawn", "sha256:0", INCH, kw.Unit.INCH, rule, (board,))
    read = json.loads(kw.plan_to_json(plan))
    return plan, cut_board(read["boards"][0], read["step"])


@dataclass(frozen=True)
class End:
    """One end to set a cut from: the edge, the distance, and the sides of pieces it leaves over."""

    edge: str
    setting: int
    left_over: int


@dataclass(frozen=True)
class Task:
    """A cut as it can be made, worked out from the placed cuts with nothing of the bench."""

    copies: int
    parent: int | None
    ends: tuple[End, ...]
    by_stop: bool


def tasks_of(board: kw.BoardPlan) -> list[Task]:
    """Return the cuts of a board as tasks: both ends of each, and what comes first."""
    tasks: list[Task] = []
    for layout in board.layouts:
        made: dict[Extent, int | None] = {(0, 0, layout.source.width, layout.source.height): None}
        pieces = {(p.x, p.y, p.x + p.width, p.y + p.height) for p in layout.pieces}
        divided: dict[Extent, Divided] = {}
        parents = []
        for number, cut in enumerate(layout.cuts, len(tasks)):
            part = next(p for p in made if across(p, cut) and into(p, cut))
            parents.append(made.pop(part))
            halves = cut_in_two(part, cut, board.tool.kerf)
            divided[part] = (cut, halves)
            made.update(dict.fromkeys([h for h in halves if h is not None], number))
        for parent, (part, (cut, halves)) in zip(parents, list(divided.items()), strict=True):
            low, high = (part[0], part[2]) if cut.axis is kw.Axis.X else (part[1], part[3])
            of = [sides(half, cut.axis, divided, pieces) for half in halves]
            names = ("left", "right") if cut.axis is kw.Axis.X else ("top", "bottom")
            near = End(names[0], cut.at - low, of[1])
            far = End(names[1], high - cut.at - board.tool.kerf, of[0])
            ends = [end for end in (near, far) if end.setting > 0] or [near]
            reach = board.tool.reach
            within = [end for end in ends if reach is None or INCH * end.setting <= reach]
            tasks.append(Task(layout.copies, parent, tuple(within or ends), bool(within)))
    return tasks


Last = tuple[int, int | None]
State = tuple[frozenset[int], frozenset[tuple[int, str]], int | None, Last | None]


def least_handling(tasks: list[Task]) -> tuple[int, int, int, int]:
    """Return the fewest settings, sides left over, turns and lifts, the first deciding first.

    Dijkstra's way over what is done, how each part that is still to be cut lies, where the stop
    stands, and which cut was last, in which way it was set.
    """
    start: State = (frozenset(), frozenset(), None, None)
    waiting: list[tuple[tuple[int, int, int, int], int, State]] = [((0, 0, 0, 0), 0, start)]
    least = {start: (0, 0, 0, 0)}
    count = 0
    while waiting:
        cost, _, state = heappop(waiting)
        done, lying, stands, last = state
        if len(done) == len(tasks):
            return cost
        if cost > least[state]:
            continue
        lies = dict(lying)
        for number, task in enumerate(tasks):
            if number in done or (task.parent is not None and task.parent not in done):
                continue
            before = "left" if task.parent is None else lies[task.parent]
            for end in task.ends:
                setting = end.setting if task.by_stop else None
                stays = last is not None and last[0] == task.parent
                stays = stays and last is not None and (task.copies == 1 or last[1] == setting)
                after = (
                    cost[0] + (task.by_stop and setting != stands),
                    cost[1] + task.copies * end.left_over,
                    cost[2] + task.copies * quarters(before, end.edge),
                    cost[3] + (0 if stays else task.copies),
                )
                now = done | {number}
                needed = {one.parent for n, one in enumerate(tasks) if n not in now}
                edges = {**lies, number: end.edge}
                following: State = (
                    now,
                    frozenset((n, edge) for n, edge in edges.items() if n in needed),
                    setting if task.by_stop else stands,
                    (number, setting) if number in needed else None,
                )
                if following not in least or after < least[following]:
                    least[following] = after
                    count += 1
                    heappush(waiting, (after, count, following))
    raise AssertionError("there is always an order")


def across(part: Extent, cut: kw.Cut) -> bool:
    """Whether the cut spans the part."""
    ends = (part[1], part[3]) if cut.axis is kw.Axis.X else (part[0], part[2])
    return ends == (cut.start, cut.end)


def into(part: Extent, cut: kw.Cut) -> bool:
    """Whether the cut's line lies on the part."""
    low, high = (part[0], part[2]) if cut.axis is kw.Axis.X else (part[1], part[3])
    return low <= cut.at < high


def cut_in_two(part: Extent, cut: kw.Cut, kerf: int) -> tuple[Extent | None, Extent | None]:
    """Return both halves of the part; None for one that is nothing."""
    left, top, right, bottom = part
    at, beyond = cut.at, cut.at + kerf
    if cut.axis is kw.Axis.X:
        both = ((left, top, at, bottom), (beyond, top, right, bottom))
    else:
        both = ((left, top, right, at), (left, beyond, right, bottom))
    one, other = (half if half[2] > half[0] and half[3] > half[1] else None for half in both)
    return one, other


def sides(
    part: Extent | None, axis: kw.Axis, divided: dict[Extent, Divided], pieces: set[Extent]
) -> int:
    """Return how many pieces have the part's own size along `axis`."""
    if part is None:
        return 0
    if part not in divided:
        return int(part in pieces)
    cut, halves = divided[part]
    return 0 if cut.axis is axis else sum(sides(half, axis, divided, pieces) for half in halves)


@settings(max_examples=600, deadline=None)
@given(drafts(), st.sampled_from([None, None, 6]))
def test_small_boards_are_cut_with_the_least_moves(
    drawn: tuple[list[DraftLayout], int], reach: int | None
) -> None:
    """Cut again by a program of its own, a board takes what the plan says, which is the least.

    First of settings, then of sides left over, then of quarter turns, then of lifts.
    """
    layouts, kerf = drawn
    plan, again = ordered(layouts, kerf, reach)
    board = plan.boards[0]
    cutting = board.cutting
    assert cutting is not None
    assert (again.settings, again.turns, again.lifts) == (
        cutting.settings, cutting.quarter_turns, cutting.lifts,
    )  # fmt: skip
    assert reach is None or again.farthest <= reach
    tasks = tasks_of(board)
    if len(tasks) <= 9:
        ways = [frozenset(end.setting for end in one.ends if one.by_stop) for one in tasks]
        least = brute_force(ways, [one.parent for one in tasks])
        assert cutting.settings == cutting.settings_lower_bound == least
        case = case_of(board, plan)
        assert is_shown(least, case)
        assert not is_shown(least + 1, case)
    if len(tasks) <= 6:
        assert (cutting.settings, *reached(cutting)) == least_handling(tasks)
        assert bounds(cutting) == reached(cutting)
    for layout in board.layouts:
        items: tuple[kw.PlacedPiece | kw.Leftover, ...] = (*layout.pieces, *layout.leftovers)
        there = sorted((i.x, i.y, i.x + i.width, i.y + i.height) for i in items)
        assert again.parts[layout.id] == there


def test_the_stop_sets_the_piece_where_that_takes_no_more_settings() -> None:
    """3 in of scrap beside a piece of 29 x 38 from 32 x 40: 29 and 38, not 3 and 2."""
    piece = PieceNode("A", 0, 0, 29, 38, False)
    strip = CutNode(kw.Axis.Y, 38, 0, 0, 29, 40, piece, WasteNode(0, 38, 29, 2))
    root = CutNode(kw.Axis.X, 29, 0, 0, 32, 40, strip, WasteNode(29, 0, 3, 40))
    source = kw.Source(kw.SourceKind.SHEET, None, 32, 40)
    plan, again = ordered([DraftLayout(source, root, 1)], 0)
    cuts = plan.boards[0].layouts[0].cuts
    assert [(cut.setting, cut.stop.value) for cut in cuts] == [(29, "left"), (38, "top")]
    assert again.settings == 2


def many_cuts(seed: int) -> list[DraftLayout]:
    """Return four layouts of some forty pieces in all, no two sides of which need be alike."""
    chance = random.Random(seed)  # noqa: S311
    source = kw.Source(kw.SourceKind.SHEET, None, 1220, 815)
    return [DraftLayout(source, divided(chance, (0, 0, 1220, 815), 5), 1) for _ in range(4)]


def divided(chance: random.Random, extent: Extent, depth: int) -> Node:
    """Return a tree of cuts over a rectangle, most of its leaves pieces."""
    x, y, width, height = extent
    if depth == 0 or max(width, height) < 100 or (depth < 3 and chance.random() < 0.2):
        if chance.random() < 0.25:
            return WasteNode(x, y, width, height)
        return PieceNode("A", x, y, width, height, False)
    if width > height:
        at = chance.randint(30, width - 30)
        halves = (x, y, at, height), (x + at, y, width - at, height)
        axis, at = kw.Axis.X, x + at
    else:
        at = chance.randint(30, height - 30)
        halves = (x, y, width, at), (x, y + at, width, height - at)
        axis, at = kw.Axis.Y, y + at
    first, second = (divided(chance, half, depth - 1) for half in halves)
    return CutNode(axis, at, x, y, width, height, first, second)


@pytest.mark.parametrize("seed", range(3))
def test_no_cut_alone_at_its_setting_leaves_fewer_sides_over_from_its_other_end(seed: int) -> None:
    """From the opposite edge such a cut takes as few settings; it leaves no fewer sides over."""
    plan, _ = ordered(many_cuts(seed), 0, is_standing=True)
    board = plan.boards[0]
    assert board.cutting is not None
    runs = [list(run) for _, run in groupby(board.cutting.steps, key=lambda one: one.setting)]
    alone = [run[0] for run in runs if sum(len(step.cuts) for step in run) == 1]
    assert len(alone) > 10
    now = sides_left_over(plan)
    assert now == board.cutting.sides_left_over
    for step in alone:
        assert sides_left_over(turned_round(plan, step.layout, step.cuts[0])) >= now


def sides_left_over(plan: kw.Plan) -> int:
    """Return how many sides of pieces are what a cut leaves of a part, by a replay of the cuts."""
    replays = case_of(plan.boards[0], plan).replays
    assert all(done.finished for done in replays)
    return sum(map(left_over_of, replays))


def turned_round(plan: kw.Plan, name: str, number: int) -> kw.Plan:
    """Return the plan with one cut set from the opposite edge of its part."""
    board = plan.boards[0]
    case = case_of(board, plan)
    done = next(one for one in case.replays if one.layout.id == name)
    step = done.steps[number - 1]
    low, high = step.part.along(step.cut.axis)
    far = FACING[step.cut.stop]
    other = replace(step.cut, stop=far, setting=high - low - step.cut.setting)
    cuts = tuple(other if cut is step.cut else cut for cut in done.layout.cuts)
    layout = replace(done.layout, cuts=cuts)
    layouts = tuple(layout if one is done.layout else one for one in board.layouts)
    return replace(plan, boards=(replace(board, layouts=layouts),))


@settings(max_examples=200, deadline=None)
@given(drafts(), st.randoms(use_true_random=False))
def test_what_a_sequence_asks_is_known_layout_by_layout(
    drawn: tuple[list[DraftLayout], int], chance: random.Random
) -> None:
    """What was found of a layout for an earlier sequence gives the same as all of it afresh."""
    layouts, kerf = drawn
    bench = bench_of(kerf, None, SIXTEENTH)
    works = [work_of(one, bench.tool, NO_TRIM, None) for one in layouts]
    jobs = jobs_of(layouts, works)
    every = sorted({one for job in jobs for one in job.task.settings})
    ease = Ease(jobs)
    for _ in range(4):
        path = tuple(chance.choice(every) for _ in range(3 * len(every))) if every else ()
        for whole in (True, False):
            values = Table(Ease(jobs), path, whole=whole).values
            roots = (number for number, job in enumerate(jobs) if job.parent is None)
            afresh = sum(values[number][0, -1][0] for number in roots)
            assert ease.least(path, whole=whole) == min(NEVER, afresh)


def test_fewer_settings_come_before_sides_left_over() -> None:
    """2 in of scrap on both sides of a piece of 30 x 38: one setting of 2 cuts both off.

    The piece is then what the sheet leaves either way, and the page says to measure it.
    """
    piece = PieceNode("A", 0, 0, 30, 38, False)
    strip = CutNode(kw.Axis.Y, 38, 0, 0, 30, 40, piece, WasteNode(0, 38, 30, 2))
    root = CutNode(kw.Axis.X, 30, 0, 0, 32, 40, strip, WasteNode(30, 0, 2, 40))
    source = kw.Source(kw.SourceKind.SHEET, None, 32, 40)
    plan, again = ordered([DraftLayout(source, root, 1)], 0)
    board = plan.boards[0]
    assert again.settings == 1
    assert board.cutting is not None
    assert board.cutting.sides_left_over == board.cutting.sides_left_over_lower_bound == 2
    told = kw_instructions(board.layouts[0], board, plan)
    assert [check.steps for one in told for check in one.checks] == [30, 38]


# --- parallel cuts, and how close the pieces come out -----------------------------------------


def four_backs() -> DraftLayout:
    """Return 4 pieces of 10 x 32 from 40 x 32, divided in the middle and each half again."""
    pieces = [PieceNode("A", x, 0, 10, 32, False) for x in (0, 10, 20, 30)]
    halves = [CutNode(kw.Axis.X, x + 10, x, 0, 20, 32, *pieces[x // 10 : x // 10 + 2])
              for x in (0, 20)]  # fmt: skip
    source = kw.Source(kw.SourceKind.SHEET, None, 40, 32)
    return DraftLayout(source, CutNode(kw.Axis.X, 20, 0, 0, 40, 32, *halves), 1)


def test_parallel_cuts_are_made_strip_by_strip_where_that_is_better() -> None:
    """By halves it takes 20 and 10, and two sides are left over; by strips 10 alone, and one."""
    plan, again = ordered([four_backs()], 0)
    cutting = plan.boards[0].cutting
    assert cutting is not None
    assert (again.settings, cutting.sides_left_over, cutting.settings_lower_bound) == (1, 1, 1)
    stays, _ = ordered([four_backs()], 0, is_standing=True)
    cutting = stays.boards[0].cutting
    assert cutting is not None
    assert (cutting.settings, cutting.sides_left_over) == (2, 2)


@settings(max_examples=200, deadline=None)
@given(drafts())
def test_strips_are_the_same_parts_under_the_same_cuts(
    drawn: tuple[list[DraftLayout], int],
) -> None:
    """Whatever the tree, its finished parts and its lines stay; only their order is another.

    No half of a cut is narrower than a part that comes of it in the end, and none longer.
    """
    for layout in drawn[0]:
        made = in_strips(layout)
        assert sorted(leaves(made.root)) == sorted(leaves(layout.root))
        assert sorted(lines(made.root)) == sorted(lines(layout.root))
        assert in_strips(made) == made
        assert not any(runs_on(node) for node in cut_nodes(made.root))


def cut_nodes(root: Node) -> Iterator[CutNode]:
    """Yield every cut of a tree."""
    if isinstance(root, CutNode):
        yield root
        yield from cut_nodes(root.first)
        if root.second is not None:
            yield from cut_nodes(root.second)


def lines(root: Node) -> list[tuple[str, int, int, int]]:
    """Return every cut by its place: across which axis, where, and from where to where."""
    return [
        (node.axis.value, node.at, node.y, node.y + node.height)
        if node.axis is kw.Axis.X
        else (node.axis.value, node.at, node.x, node.x + node.width)
        for node in cut_nodes(root)
    ]


def leaves(root: Node) -> list[tuple[str, int, int, int, int]]:
    """Return every finished part: what it is, and its extent."""
    if not isinstance(root, CutNode):
        return [(type(root).__name__, root.x, root.y, root.width, root.height)]
    second = [] if root.second is None else leaves(root.second)
    return leaves(root.first) + second


def runs_on(node: CutNode) -> bool:
    """Whether the first half is divided the same way, by bands that could change places."""
    first = node.first
    if not isinstance(first, CutNode) or first.axis is not node.axis:
        return False
    while isinstance(first, CutNode) and first.axis is node.axis:
        if first.second is None:
            return False  # two bands meet
        first = first.second
    return True


def of_two(first: int, second: int) -> list[DraftLayout]:
    """Return an offcut of 20 inches wide, divided into two pieces down it."""
    whole = first + second
    halves = (
        PieceNode("A", 0, 0, 20, first, False),
        PieceNode("B", 0, first, 20, second, False),
    )
    source = kw.Source(kw.SourceKind.OFFCUT, "1", 20, whole)
    return [DraftLayout(source, CutNode(kw.Axis.Y, first, 0, 0, 20, whole, *halves), 1)]


@pytest.mark.parametrize("first", [17, 15])
def test_of_two_pieces_the_one_on_a_mark_is_set(first: int) -> None:
    """Of 17 and 15 the rule, marked every 5 in, shows 15: that is set, wherever it lies.

    17 lies 2 in from the nearest mark, by which both sides would be off. Either takes one
    setting, a quarter turn one way or the other and one lift, and leaves one side over.
    """
    plan, _ = ordered(of_two(first, 32 - first), 0, rule=INCH * 5)
    (cut,) = plan.boards[0].layouts[0].cuts
    assert cut.setting == 15


@settings(max_examples=200, deadline=None)
@given(drafts(), st.sampled_from([1, 3, 5]), st.sampled_from([None, None, 6]))
def test_no_other_ends_come_closer_at_as_little_handling(
    drawn: tuple[list[DraftLayout], int], mark: int, reach: int | None
) -> None:
    """Every choice of ends is tried for the settings that are made: none is as easy and closer.

    Closer is: fewer sides that nobody knows, then the side that is off most.
    """
    layouts, kerf = drawn
    bench = bench_of(kerf, reach, INCH * mark)
    works = [work_of(one, bench.tool, NO_TRIM, bench.reach, bench.finest) for one in layouts]
    jobs = jobs_of(layouts, works)
    if not 0 < len(jobs) <= 6:
        return
    sides = Sides(layouts, works, jobs, bench)
    begun = easiest_of(jobs)
    made = closest(begun, sides, never)
    assert handling(made) == handling(begun)
    best = closeness(made, sides)
    assert best <= closeness(begun, sides)
    path = path_of(made)
    for ends in product(*(range(len(job.task.ends)) for job in jobs)):
        chosen = first_places(jobs, ends, path)
        if chosen is not None:
            other = in_a_row(jobs, chosen)
            if handling(other) == handling(made) and len(path_of(other)) == len(path):
                close = closeness(other, sides)
                assert (best.unknown, best.worst) <= (close.unknown, close.worst)


def path_of(made: Sequence[Made]) -> tuple[int, ...]:
    """Return the settings of a row, one after another."""
    return tuple(key for key, _ in groupby(one.setting for one in made if one.setting is not None))


def first_places(
    jobs: Sequence[Job], ends: tuple[int, ...], path: tuple[int, ...]
) -> list[Chosen] | None:
    """Return when each job is first done from the end given; None if one never is."""
    places: list[int] = []
    for job, end in zip(jobs, ends, strict=True):
        there = 0 if job.parent is None else places[job.parent]
        setting = job.task.ends[end].setting
        later = [n for n in range(max(1, there), len(path) + 1) if path[n - 1] == setting]
        if job.task.by_stop and not later:
            return None
        places.append(later[0] if job.task.by_stop else there)
    return [Chosen(place, end) for place, end in zip(places, ends, strict=True)]


def easiest_of(jobs: Sequence[Job]) -> list[Made]:
    """Return the jobs in the order of least handling."""
    options, parents = [job.task.settings for job in jobs], [job.parent for job in jobs]
    forest = Forest(options, parents, rank_of(jobs), never)
    return easiest(jobs, forest, shortest_of(forest), is_shortest=True).made


def two_that_begin_alike() -> list[DraftLayout]:
    """Return two layouts of 32 x 40, both 16 wide, and both cut at 20 in the right half.

    In the left half the first is cut at 20 too, the second at 30.
    """
    source = kw.Source(kw.SourceKind.SHEET, None, 32, 40)
    found = []
    for at in (20, 30):
        halves = [
            CutNode(kw.Axis.Y, y, x, 0, 16, 40, PieceNode("A", x, 0, 16, y, False),
                    PieceNode("B", x, y, 16, 40 - y, False))
            for x, y in ((0, at), (16, 20))
        ]  # fmt: skip
        root = CutNode(kw.Axis.X, 16, 0, 0, 32, 40, *halves)
        found.append(DraftLayout(source, root, 1))
    return found


def test_cuts_after_which_there_is_no_way_back_come_as_late_as_costs_nothing() -> None:
    """What both layouts have in common is cut first: at 16, then at 20 in the right half."""
    plan, _ = ordered(two_that_begin_alike(), 0)
    board = plan.boards[0]
    told = kw_instructions(board.layouts[0], board, plan)
    assert [(one.cut.axis.value, one.cut.at, one.cut.start) for one in told] == [
        ("x", 16, 0), ("y", 20, 16), ("y", 20, 0),
    ]  # fmt: skip
    assert [one.commits for one in told] == [False, False, True]


def test_trims_come_before_there_is_no_way_back() -> None:
    """An eighth comes off every edge of a sheet before the first cut that divides it."""
    order = kw.load_order(ROOT / "sample_jobs" / "01-harbour-prints-trimmed.toml")
    plan = kw.make_plan(order)
    assert isinstance(plan, kw.Plan)
    board = plan.boards[0]
    told = kw_instructions(board.layouts[0], board, plan)
    trims = [kw.LeftoverKind.TRIM.value in one.names for one in told]
    first = next(place for place, one in enumerate(told) if one.commits)
    assert sum(trims) == sum(trims[:first]) == 4


# --- sample jobs ------------------------------------------------------------------------------


def jobs() -> list[Path]:
    """Return the order files among the sample jobs."""
    found = sorted(path for path in (ROOT / "sample_jobs").iterdir() if path.is_file())
    return [path for path in found if path.suffix != ".md" and "rack" not in path.name]


@pytest.fixture(scope="module")
def planned() -> dict[str, kw.Plan]:
    """Plan every sample job once."""
    return planned_all()


@pytest.fixture(scope="module")
def as_packed() -> dict[str, kw.Plan]:
    """Plan every sample job with the drawings' own cuts, as they were packed."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kerfwright.bench.otherwise, "MOST_CUTS", 0)
        return planned_all()


def planned_all() -> dict[str, kw.Plan]:
    """Plan every sample job."""
    plans = {}
    for path in jobs():
        rack = path.with_name(f"{path.stem}-rack.toml")
        plan = kw.make_plan(kw.load_order(path, stock=rack if rack.exists() else None))
        assert isinstance(plan, kw.Plan)
        plans[path.stem] = plan
    return plans


def test_sample_jobs_are_cut_as_their_files_say(planned: dict[str, kw.Plan]) -> None:
    """Each sample job, cut again from its file alone, comes out as it says, by the least moves."""
    for plan in planned.values():
        read = json.loads(kw.plan_to_json(plan))
        for board in read["boards"]:
            again = cut_board(board, read["step"])
            said = board["cutting"]
            assert (again.settings, again.turns, again.lifts) == (
                said["settings"], said["quarter_turns"], said["lifts"],
            )  # fmt: skip
            assert said["settings"] == said["settings_lower_bound"]
            assert said["sides_left_over"] == said["sides_left_over_lower_bound"]
            assert said["quarter_turns"] == said["quarter_turns_lower_bound"]
            assert said["lifts"] - 1 <= said["lifts_lower_bound"] <= said["lifts"]
            longest = board["tool"]["longest_cut"]
            assert longest is None or again.longest <= longest
            for layout in board["layouts"]:
                items = (*layout["pieces"], *layout["leftovers"])
                there = sorted(
                    (i["x"], i["y"], i["x"] + i["width"], i["y"] + i["height"]) for i in items
                )
                assert again.parts[layout["id"]] == there


def tree_order(layout: kw.Layout, kerf: int) -> list[int]:
    """Return the settings of a layout cut from the near end, each half to its end at once."""
    parts = [(0, 0, layout.source.width, layout.source.height)]
    found = []
    while parts:
        part = parts.pop()
        cut = next((c for c in layout.cuts if across(part, c) and into(part, c)
                    and inside(part, c)), None)  # fmt: skip
        if cut is not None:
            found.append(cut.at - (part[0] if cut.axis is kw.Axis.X else part[1]))
            parts += [half for half in reversed(cut_in_two(part, cut, kerf)) if half is not None]
    return found


def inside(part: Extent, cut: kw.Cut) -> bool:
    """Whether the cut begins where the part does, on both axes."""
    return cut.at > (part[0] if cut.axis is kw.Axis.X else part[1]) or cut.setting == 0


def changes(numbers: list[int]) -> int:
    """Return how often the stop is set for these settings in a row."""
    return sum(one != other for one, other in zip([None, *numbers], numbers, strict=False))


@dataclass(frozen=True)
class Counts:
    """Settings of a job: by the plain tree, sheet by sheet and copies side by side; and ours."""

    sheets: int
    copies: int
    ours: int

    @staticmethod
    def of(plan: kw.Plan, as_packed: kw.Plan) -> Counts:
        """Count them: trees as they were packed, and the order of the plan."""
        trees = [
            (changes(order * layout.copies), changes(order))
            for board in as_packed.boards
            for layout in board.layouts
            for order in [tree_order(layout, board.tool.kerf)]
        ]
        ours = sum(board.cutting.settings for board in plan.boards if board.cutting)
        return Counts(sum(one for one, _ in trees), sum(two for _, two in trees), ours)


def test_the_stop_is_set_a_third_less_often_than_by_the_tree(
    planned: dict[str, kw.Plan], as_packed: dict[str, kw.Plan]
) -> None:
    """At the median of the sample jobs, even against copies that are cut side by side."""
    counts = [Counts.of(plan, as_packed[name]) for name, plan in planned.items()]
    assert median(Fraction(one.sheets - one.ours, one.sheets) for one in counts) >= Fraction(2, 3)
    assert median(Fraction(one.copies - one.ours, one.copies) for one in counts) >= Fraction(1, 3)


def test_the_page_says_what_the_order_saves(
    planned: dict[str, kw.Plan], as_packed: dict[str, kw.Plan]
) -> None:
    """The table in docs/concepts.md is what the sample jobs take today."""
    page = (ROOT / "docs" / "concepts.md").read_text(encoding="utf-8")
    for name, plan in planned.items():
        counts = Counts.of(plan, as_packed[name])
        assert f"| `{name}` | {counts.sheets} | {counts.copies} | {counts.ours} |\n" in page


# --- an early end -----------------------------------------------------------------------------


class Asked:
    """Wants an end from so many questions on."""

    def __init__(self, patience: int) -> None:
        self.patience = patience

    def __call__(self) -> bool:
        """Return whether to end."""
        self.patience -= 1
        return self.patience < 0


@settings(max_examples=100, deadline=None)
@given(drafts(), st.integers(0, 40), st.booleans())
def test_an_order_cut_short_can_be_cut_and_claims_no_more_than_is_so(
    drawn: tuple[list[DraftLayout], int], patience: int, is_standing: bool
) -> None:
    """Wherever the search is ended, there is a whole order, and no bound above the best one.

    Where a drawing may be cut otherwise, the two are of other cuts, found one after another: then
    only the order itself is looked at.
    """
    layouts, kerf = drawn
    whole = ordered(layouts, kerf, is_standing=is_standing)[0].boards[0].cutting
    plan, again = ordered(layouts, kerf, stop=Asked(patience), is_standing=is_standing)
    cutting = plan.boards[0].cutting
    assert whole is not None
    assert cutting is not None
    assert (again.settings, again.turns, again.lifts) == (
        cutting.settings, cutting.quarter_turns, cutting.lifts,
    )  # fmt: skip
    if is_standing:
        assert cutting.settings_lower_bound <= whole.settings <= cutting.settings
    if is_standing and cutting.settings == whole.settings:
        assert reached(whole) <= reached(cutting)
        assert bounds(cutting) <= reached(whole)


def reached(cutting: kw.Cutting) -> tuple[int | None, ...]:
    """Return what an order takes besides settings."""
    return (cutting.sides_left_over, cutting.quarter_turns, cutting.lifts)


def bounds(cutting: kw.Cutting) -> tuple[int | None, ...]:
    """Return what is said to be needed besides settings."""
    return (
        cutting.sides_left_over_lower_bound,
        cutting.quarter_turns_lower_bound,
        cutting.lifts_lower_bound,
    )


class Struck(kw.Silent):
    """A clock that struck before planning began."""

    def stop(self) -> kw.Stop | None:
        """Return that the time is over."""
        return kw.Stop.SECONDS


def test_a_plan_whose_order_the_clock_cut_short_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without any grace the order is made in haste; the plan passes its audit all the same."""
    monkeypatch.setattr(kerfwright.planning, "GRACE", -1.0)
    order = kw.load_order(ROOT / "sample_jobs" / "04-science-fair.toml")
    plan = kw.make_plan(order, Struck())
    assert isinstance(plan, kw.Plan)
    assert kw.audit_plan(plan).plan.stopped is kw.Stop.SECONDS


class Clock(kw.Silent):
    """Goes on a thousandth of a second each time that it is looked at.

    Strikes after so many seconds, and writes down how much was left when a board came up.
    """

    def __init__(self, seconds: float) -> None:
        self.now = 0.0
        self.end = seconds
        self.seen: dict[str, float] = {}

    def monotonic(self) -> float:
        """Return what time it is."""
        self.now += 0.001
        return self.now

    def report(self, progress: kw.Progress) -> None:
        """Note how much time is left."""
        self.seen.setdefault(progress.board, self.seconds_left())

    def stop(self) -> kw.Stop | None:
        """Return that the time is over, once it is."""
        return kw.Stop.SECONDS if self.seconds_left() <= 0 else None

    def seconds_left(self) -> float:
        """Return how long it still is."""
        return self.end - self.now


def hard_order() -> str:
    """Return an order of two boards with forty odd sizes each, far from quick to prove."""
    chance = random.Random(4)  # noqa: S311 - no secrets here
    boards = "".join(f'[[board]]\nname = "{name}"\nsheets = "32 x 40"\n' for name in "ab")
    return boards + "".join(
        f'[[mat]]\nlabel = "{name}{n}"\nqty = {chance.randint(5, 9)}\nboard = "{name}"\n'
        f'size = "{chance.randint(80, 330)}/16 x {chance.randint(80, 330)}/16"\n'
        for name in "ab"
        for n in range(40)
    )


def test_the_clock_is_shared_among_boards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second of two hard boards has half of the time, and the plan says the clock struck."""
    path = tmp_path / "hard.toml"
    path.write_text(hard_order(), encoding="utf-8")
    clock = Clock(0.5)
    monkeypatch.setattr(kerfwright.planning, "time", clock)
    plan = kw.make_plan(kw.load_order(path), clock)
    assert isinstance(plan, kw.Plan)
    assert clock.seen["b"] == pytest.approx(0.25, abs=0.05)
    assert kw.audit_plan(plan).plan.stopped is kw.Stop.SECONDS


# --- how exact --------------------------------------------------------------------------------


def test_rule_classes_are_the_published_ones() -> None:
    """Measuring Instruments Regulations 2016 (UK), schedule 1I: a + b L, L in metres rounded up.

    Class II: 0.3 + 0.2 = 0.5 mm to a metre, 0.7 mm at 40 in (1016 mm); class I 0.1 + 0.1 L;
    class III 0.6 + 0.4 L.
    """
    metre, forty = kw.Length(Fraction(1000)), INCH * 40
    assert rule_error(metre, "II").mm == Fraction(5, 10)
    assert rule_error(forty, "II").mm == Fraction(7, 10)
    assert [rule_error(metre, name).mm * 10 for name in ("I", "III")] == [2, 10]
    assert [rule_error(forty, name).mm * 10 for name in ("I", "III")] == [3, 14]


def test_a_setting_between_two_marks_is_off_by_what_is_beside_it() -> None:
    """A third of an inch on a rule of sixteenths: 5/16 is 1/48 in away, and no mark is nearer."""
    tool = kw.PlanTool("knife", 0, None, 0, repeatability=kw.Length(Fraction(0)), rule_class="II")
    bench = Bench(tool, NO_TRIM, kw.Length.of(Fraction(1, 3), kw.Unit.INCH), SIXTEENTH)
    assert setting_error(1, bench).mm == Fraction(1, 2) + Fraction(254, 480)
    assert setting_error(3, bench).mm == Fraction(1, 2)


def test_a_measured_sheet_is_planned_with(tmp_path: Path) -> None:
    """Trimmed by 1/8 in, a 32 x 40 holds two 16 x 20; one that measures 32 1/4 x 40 1/4 four."""
    text = (
        '[[board]]\nname = "b"\ntrim = "1/8"\n'
        'sheets = [{ size = "32 x 40", measured = "32 1/4 x 40 1/4" }]\n'
        '[[mat]]\nlabel = "A"\nqty = 4\nsize = "16 x 20"\nboard = "b"\n'
    )
    path = tmp_path / "order.toml"
    path.write_text(text, encoding="utf-8")
    plan = kw.make_plan(kw.load_order(path))
    assert isinstance(plan, kw.Plan)
    board = kw.audit_plan(plan).plan.boards[0]
    assert board.sheets == 1
    assert board.stock[0].nominal == kw.Size(INCH * 32, INCH * 40)
    sides = [side for piece in board.layouts[0].pieces for side in (piece.across, piece.down)]
    assert all(side is not None and side.error is not None for side in sides)


def test_a_side_left_over_from_a_sheet_that_nobody_measured_is_not_known() -> None:
    """16 + 16 of a 32 in sheet: one is set, and the other is whatever the sheet leaves."""
    plan = kw.make_plan(kw.load_order(ROOT / "sample_jobs" / "01-harbour-prints.toml"))
    assert isinstance(plan, kw.Plan)
    sides = [piece.across for piece in plan.boards[0].layouts[0].pieces]
    assert {(side.by.value, side.error is None) for side in sides if side} == {
        ("stop", False),
        ("left over", True),
    }


# --- thin strips at a saw ---------------------------------------------------------------------

THIN = """
unit = "in"
[[tool]]
name = "t"
kind = "{kind}"
[[board]]
name = "hardboard"
tool = "t"
trim = {{ left = "1/8", right = "1/8", top = "1/8", bottom = "1/8" }}
sheets = "48 x 96"
[[backer]]
label = "A"
qty = 14
size = "16 x 20"
board = "hardboard"
"""


def settings_with(kind: str, tmp_path: Path) -> list[Fraction]:
    """Return every setting, in inches, of a job with trims of 1/8 in."""
    path = tmp_path / "thin.toml"
    path.write_text(THIN.format(kind=kind), encoding="utf-8")
    made = kw.make_plan(kw.load_order(path))
    assert isinstance(made, kw.Plan)
    (board,) = made.boards
    step = made.step
    return [(step * cut.setting).mm / INCH.mm for one in board.layouts for cut in one.cuts]


def test_no_thin_strip_lies_between_fence_and_blade(tmp_path: Path) -> None:
    """A saw's fence is set from the far edge for a trim (common practice, no source)."""
    assert min(settings_with("table saw", tmp_path)) >= Fraction(1, 2)
    assert min(settings_with("wall cutter", tmp_path)) == Fraction(1, 8)


# --- finer than the rule ----------------------------------------------------------------------

FINE = """
unit = "in"
[[tool]]
name = "t"
squares = {squares}
[[board]]
name = "foam"
tool = "t"
sheets = [{{ size = "32 x 40", measured = "32 1/64 x 40 1/64" }}]
[[backer]]
label = "A"
qty = 1
size = "32 x 40"
board = "foam"
"""


@pytest.mark.parametrize("squares", ["true", "false"])
def test_nothing_is_set_to_less_than_the_rule_shows(squares: str, tmp_path: Path) -> None:
    """Both slivers come off at 1/64 in with one setting, but no rule of sixteenths shows it.

    So 32 and 40 are set, from the other edges. The check finds that bound again.
    """
    path = tmp_path / "fine.toml"
    path.write_text(FINE.format(squares=squares), encoding="utf-8")
    plan = kw.make_plan(kw.load_order(path))
    assert isinstance(plan, kw.Plan)
    (facts,) = kw.audit_plan(plan).facts
    cutting = plan.boards[0].cutting
    assert cutting is not None
    assert (cutting.settings, cutting.settings_lower_bound) == (2, 2)
    assert facts.settings_rechecked
    assert {cut.setting * plan.step.mm for cut in plan.boards[0].layouts[0].cuts} == {
        32 * INCH.mm, 40 * INCH.mm
    }  # fmt: skip


@pytest.mark.parametrize(("sliver", "setting"), [("1/32", 32), ("3/64", 32), ("1/16", None)])
def test_what_rounds_to_the_first_mark_is_less_than_the_rule_shows(
    sliver: str, setting: int | None, tmp_path: Path
) -> None:
    """Half a sixteenth would be read as a whole one: that is set from the other edge, too."""
    fine = FINE.replace("32 1/64 x 40 1/64", f"32 {sliver} x 40 {sliver}")
    assert fine != FINE
    path = tmp_path / "fine.toml"
    path.write_text(fine.format(squares="false"), encoding="utf-8")
    plan = kw.make_plan(kw.load_order(path))
    assert isinstance(plan, kw.Plan)
    assert kw.audit_plan(plan).facts[0].settings_rechecked
    made = {cut.setting * plan.step.mm for cut in plan.boards[0].layouts[0].cuts}
    assert made == ({32 * INCH.mm, 40 * INCH.mm} if setting else {SIXTEENTH.mm})


TRIMMED = """
unit = "in"
rule = "1/8 in"
[[tool]]
name = "t"
kind = "bench cutter"
squares = {squares}
reach = 24
[[board]]
name = "rag"
tool = "t"
sheets = [{{ size = "32 x 40", measured = "32 1/16 x 40 3/32" }}]
trim = {{ left = "1/16", top = "1/16" }}
[[mat]]
label = "M"
qty = 4
size = "16 x 20"
board = "rag"
"""


def _trimmed_by_eye(tmp_path: Path, squares: str = "true") -> kw.Plan:
    path = tmp_path / "trimmed.toml"
    path.write_text(TRIMMED.format(squares=squares), encoding="utf-8")
    plan = kw.make_plan(kw.load_order(path))
    assert isinstance(plan, kw.Plan)
    return plan


@pytest.mark.parametrize("squares", ["true", "false"])
def test_a_cut_by_eye_is_no_setting_of_the_stop(squares: str, tmp_path: Path) -> None:
    """Both trims are half of the rule's first mark: the stop is set to 20 and to 16 alone.

    No order does with fewer, and the check finds that again; each layout is counted so, too.
    """
    plan = _trimmed_by_eye(tmp_path, squares)
    (board,), (facts,) = plan.boards, kw.audit_plan(plan).facts
    assert board.cutting is not None
    (layout,) = board.layouts
    settings = {number: step.setting for step in board.cutting.steps for number in step.cuts}
    by_eye = [cut for cut in layout.cuts if plan.step * cut.setting < plan.rule]
    assert {plan.step * cut.setting for cut in by_eye} == {SIXTEENTH}
    assert by_eye
    assert all(settings[cut.number] is None for cut in by_eye)
    told = [settings[cut.number] for cut in layout.cuts if cut not in by_eye]
    made = [round((plan.step * one).mm / INCH.mm) for one in told if one is not None]
    often = sum(1 for _ in groupby(made))
    assert (set(made), len(made)) == ({16, 20}, len(told))
    assert (often, often) == (board.cutting.settings, board.cutting.settings_lower_bound)
    assert (facts.settings, facts.layouts[0].settings) == (often, often)
    assert facts.settings_rechecked
    assert is_shown(often, case_of(board, plan))
    assert not is_shown(often + 1, case_of(board, plan))


def test_a_plan_that_sets_the_stop_for_a_cut_by_eye_still_holds(tmp_path: Path) -> None:
    """Files written before have such settings, and count them; another number they may not have."""
    plan = _trimmed_by_eye(tmp_path)
    (board,) = plan.boards
    (layout,) = board.layouts
    assert board.cutting is not None
    numbers = [number for step in board.cutting.steps for number in step.cuts]
    cuts = [layout.cuts[number - 1] for number in numbers]
    steps = tuple(kw.BenchStep(cut.setting, layout.id, (cut.number,)) for cut in cuts)
    often = sum(1 for _ in groupby(cut.setting for cut in cuts))
    assert often > board.cutting.settings

    def with_steps(steps: tuple[kw.BenchStep, ...], settings: int) -> kw.Plan:
        assert board.cutting is not None
        cutting = replace(board.cutting, steps=steps, settings=settings)
        return replace(plan, boards=(replace(board, cutting=cutting),))

    before = with_steps(steps, often)
    assert kw.audit_plan(before).facts[0].settings == often
    assert plan_from_json(kw.plan_to_json(before)) == before
    with pytest.raises(kw.AuditError, match="is said to take"):
        kw.audit_plan(with_steps(steps, board.cutting.settings))
    first = replace(steps[0], setting=2 * cuts[0].setting)
    with pytest.raises(kw.AuditError, match="where the cut needs"):
        kw.audit_plan(with_steps((first, *steps[1:]), often))


def test_no_saw_cuts_by_eye_what_it_can_set_from_the_other_edge(tmp_path: Path) -> None:
    """Even one that leaves any strip: what is left of the blade's trim is set from the far edge."""
    fine = TRIMMED.replace('kind = "bench cutter"', 'kind = "table saw"\nnarrowest_strip = 0')
    fine = fine.replace("reach = 24", 'kerf = "1/32"').replace("4\n", "2\n")
    path = tmp_path / "sawn.toml"
    path.write_text(fine.format(squares="false"), encoding="utf-8")
    plan = kw.make_plan(kw.load_order(path))
    assert isinstance(plan, kw.Plan)
    (layout,) = plan.boards[0].layouts
    assert all(plan.step * cut.setting >= plan.rule for cut in layout.cuts)
    assert kw.audit_plan(plan).facts[0].settings_rechecked


# --- squared edges ----------------------------------------------------------------------------

SQUARED = """
unit = "in"
[[tool]]
name = "t"
squares = {squares}
[[board]]
name = "foam"
tool = "t"
sheets = "32 x 40"
{trim}
[[backer]]
label = "A"
qty = 5
size = "9 x 20"
board = "foam"
[[backer]]
label = "B"
qty = 4
size = "15 x 19"
board = "foam"
"""


@pytest.mark.parametrize("trim", ["", 'trim = "1/4"'])
@pytest.mark.parametrize("squares", [True, False])
def test_nothing_is_set_from_a_far_edge_as_it_came(
    squares: bool, trim: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where first edges are squared, no setting is measured from a sheet's own right or bottom.

    Without that, the same cuts have such a setting. The check finds the bound again either way.
    """
    if not squares:
        # Other cuts of the drawing happen to need none.
        monkeypatch.setattr(kerfwright.bench.otherwise, "MOST_CUTS", 0)
    path = tmp_path / "squared.toml"
    path.write_text(SQUARED.format(squares=str(squares).lower(), trim=trim), encoding="utf-8")
    plan = kw.make_plan(kw.load_order(path))
    assert isinstance(plan, kw.Plan)
    (facts,) = kw.audit_plan(plan).facts
    assert facts.settings_rechecked
    (board,) = plan.boards
    found = [cut for one in board.layouts for cut in far_settings(one, board.tool.kerf)]
    assert bool(found) is not squares


def far_settings(layout: kw.Layout, kerf: int) -> list[kw.Cut]:
    """Return the cuts whose part lies with the sheet's own far edge against the stop."""
    far = {kw.Edge.RIGHT: layout.source.width, kw.Edge.BOTTOM: layout.source.height}
    return [cut for cut in layout.cuts if cut.at + kerf + cut.setting == far.get(cut.stop)]


# --- the same drawing, other cuts -------------------------------------------------------------

RAIL = """
unit = "in"
[[board]]
name = "rag"
sheets = "32 x 40"
keep = "8 x 10"
"""


def places(layout: kw.Layout) -> set[tuple[object, ...]]:
    """Return where a layout's pieces lie."""
    return {(one.label, one.x, one.y, one.width, one.height) for one in layout.pieces}


def kept(layout: kw.Layout) -> set[kw.Leftover]:
    """Return the offcuts and slip sheets of a layout."""
    kinds = (kw.LeftoverKind.OFFCUT, kw.LeftoverKind.SLIP_SHEET)
    return {one for one in layout.leftovers if one.kind in kinds}


@example([(11, 18, 4), (12, 9, 2), (14, 9, 2)])
@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from([5, 8, 10, 11, 12, 14, 16]),
            st.sampled_from([7, 9, 12, 14, 18, 20]),
            st.integers(1, 6),
        ),
        min_size=2,
        max_size=4,
        unique_by=lambda one: one[:2],
    )
)
def test_other_cuts_of_a_drawing_keep_it_and_set_the_stop_no_more_often(
    sizes: list[tuple[int, int, int]],
) -> None:
    """Every piece stays where it is; settings are as few as before or fewer.

    So does every offcut and slip sheet, or it is part of a larger one. The audit replays the cuts.
    """
    text = RAIL + "".join(
        f'[[mat]]\nlabel = "M{n}"\nqty = {qty}\nsize = "{w} x {h}"\nboard = "rag"\n'
        for n, (w, h, qty) in enumerate(sizes)
    )
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        path = Path(folder) / "rail.toml"
        path.write_text(text, encoding="utf-8")
        plan = kw.make_plan(kw.load_order(path))
        patch.setattr(kerfwright.bench.otherwise, "MOST_CUTS", 0)
        before = kw.make_plan(kw.load_order(path))
    assert isinstance(plan, kw.Plan)
    assert isinstance(before, kw.Plan)
    kw.audit_plan(plan)
    for now, then in zip(plan.boards, before.boards, strict=True):
        assert now.cutting is not None
        assert then.cutting is not None
        assert now.cutting.settings <= then.cutting.settings
        for one, other in zip(now.layouts, then.layouts, strict=True):
            assert (one.source, one.copies) == (other.source, other.copies)
            assert places(one) == places(other)
            assert all(any(lies_in(old, new) for new in kept(one)) for old in kept(other))


def lies_in(inner: kw.Leftover, outer: kw.Leftover) -> bool:
    """Whether one leftover is another, or a part of it."""
    beyond = outer.x + outer.width, outer.y + outer.height
    return (
        inner.x >= outer.x
        and inner.y >= outer.y
        and inner.x + inner.width <= beyond[0]
        and inner.y + inner.height <= beyond[1]
    )


def test_waste_is_left_to_the_end_where_that_saves_a_setting(tmp_path: Path) -> None:
    """Two rows of six pieces on one sheet: one setting for the rows and one for the pieces."""
    path = tmp_path / "row.toml"
    path.write_text(
        'unit = "in"\n[[board]]\nname = "b"\nsheets = "48 x 96"\n'
        '[[backer]]\nlabel = "A"\nqty = 12\nsize = "15 7/8 x 19 7/8"\nboard = "b"\n',
        encoding="utf-8",
    )
    plan = kw.make_plan(kw.load_order(path))
    assert isinstance(plan, kw.Plan)
    (board,) = plan.boards
    assert board.cutting is not None
    assert board.cutting.settings == 2
    assert board.cutting.settings_lower_bound == 2
