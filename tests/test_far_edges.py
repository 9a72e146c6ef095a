"""No far trim is cut off by itself where only scrap lies along its edge."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from racks import BOARD, booked, mats, order, size, small_ledger

import kerfwright as kw
from kerfwright.bench import order_of_cuts
from kerfwright.instructions import instructions
from kerfwright.ledger import go_on
from kerfwright.plan.edges import trims_left_on
from kerfwright.telling import squaring

INCH = kw.Length.of(1, kw.Unit.INCH)
NEAR = (kw.Edge.LEFT, kw.Edge.TOP)
Kinds = Counter[tuple[str, Fraction, Fraction]]


def job(
    tmp_path: Path,
    piece: str,
    *,
    sheet: str = "32 x 40",
    trim: str = '"1/4"',
    tool: str = 'kind = "knife"',
    unit: str = "in",
    line: str = "backer",
    grade: str = "foam",
    qty: int = 1,
) -> kw.AuditedPlan:
    """Return the plan of some equal pieces on one board, audited."""
    file = tmp_path / "job.toml"
    file.write_text(
        f'name = "job"\nunit = "{unit}"\n[[tool]]\nname = "t"\n{tool}\n'
        f'[[board]]\nname = "b"\ntool = "t"\ngrade = "{grade}"\nsheets = [{{ size = "{sheet}" }}]\n'
        f'trim = {trim}\n[[{line}]]\nlabel = "A"\nqty = {qty}\nsize = "{piece}"\nboard = "b"\n',
        encoding="utf-8",
    )
    return planned(kw.load_order(file))


def planned(asked: kw.Order) -> kw.AuditedPlan:
    """Return an order's plan; the audit raises what it finds wrong."""
    plan = kw.make_plan(asked)
    assert isinstance(plan, kw.Plan)
    return kw.audit_plan(plan)


def only(audited: kw.AuditedPlan) -> kw.Layout:
    """Return the only layout of a plan."""
    ((layout,),) = (board.layouts for board in audited.plan.boards)
    return layout


def kept(audited: kw.AuditedPlan) -> set[str]:
    """Return the far edges of the only layout whose trim no cut takes off by itself."""
    return {edge.value for edge in trims_left_on(only(audited), audited.plan.boards[0])}


def leftovers(audited: kw.AuditedPlan) -> Kinds:
    """Return the leftovers of a plan: what they are, and how wide and high."""
    step = audited.plan.step.in_unit(audited.plan.unit)
    return Counter(
        (left.kind.value, step * left.width, step * left.height)
        for board in audited.plan.boards
        for layout in board.layouts
        for left in layout.leftovers
        for _ in range(layout.copies)
    )


def cuts_of(plan: kw.Plan) -> int:
    """Return how many cuts a plan takes, over all copies."""
    return sum(len(one.cuts) * one.copies for board in plan.boards for one in board.layouts)


def settings_of(plan: kw.Plan) -> int:
    """Return how often a plan sets the stop."""
    return sum(board.cutting.settings for board in plan.boards if board.cutting is not None)


def pieces_of(plan: kw.Plan) -> Counter[tuple[object, ...]]:
    """Return where each piece lies, of which source."""
    return Counter(
        (layout.source, piece.label, piece.x, piece.y, piece.width, piece.height)
        for board in plan.boards
        for layout in board.layouts
        for piece in layout.pieces
        for _ in range(layout.copies)
    )


def test_a_saw_shaves_no_dust_off_where_the_trim_makes_the_strip_wide_enough(
    tmp_path: Path,
) -> None:
    """A 47 3/8 x 60 backer of 48 x 96: a strip of 1/2 in comes off, with 1/8 in of trim in it.

    Without the trim it would be 3/8 in wide, which the saw does not hold: it took the trim off
    first, and that strip a kerf at a time.
    """
    saw, trim = 'kind = "table saw"', '{ right = "1/8" }'
    audited = job(tmp_path, "47 3/8 x 60", sheet="48 x 96", trim=trim, tool=saw)
    layout, step = only(audited), audited.plan.step
    assert [(cut.axis, step * cut.at) for cut in layout.cuts] == [
        (kw.Axis.X, INCH * Fraction(379, 8)),
        (kw.Axis.Y, INCH * 60),
    ]
    assert settings_of(audited.plan) == 2
    assert leftovers(audited) == {
        ("scrap", Fraction(1, 2), 96): 1,
        ("offcut", Fraction(379, 8), Fraction(287, 8)): 1,
    }
    assert audited.facts[0].areas.trim == 0


def test_scrap_takes_both_far_trims_in(tmp_path: Path) -> None:
    """A 30 x 38 backer of 32 x 40 with 1/4 in off all round: four cuts, two of them near trims.

    Both sides are set by the stop; with the far trims cut by themselves it took six cuts.
    """
    audited = job(tmp_path, "30 x 38")
    layout, cutting = only(audited), audited.plan.boards[0].cutting
    assert cutting is not None
    assert (len(layout.cuts), cutting.settings, cutting.sides_left_over) == (4, 3, 0)
    assert {cut.stop for cut in layout.cuts} == set(NEAR)
    assert leftovers(audited) == {
        ("trim", Fraction(1, 4), 40): 1,
        ("trim", Fraction(127, 4), Fraction(1, 4)): 1,
        ("scrap", Fraction(7, 4), Fraction(159, 4)): 1,
        ("scrap", 30, Fraction(7, 4)): 1,
    }
    rows = instructions(layout, audited.plan.boards[0], audited.plan)
    assert [row.names[1] for row in rows[2:]] == ["scrap", "scrap"]


def test_in_millimetres_as_well(tmp_path: Path) -> None:
    """A 780 x 900 backer of 800 x 1000, 5 mm off the right edge: the strip is 20 mm wide.

    Beneath it is an offcut 95 mm high where that is worth keeping: here it is scrap.
    """
    audited = job(tmp_path, "780 x 970", sheet="800 x 1000", trim="{ right = 5 }", unit="mm")
    assert kept(audited) == {"right"}
    assert len(only(audited).cuts) == 2
    assert sum(leftovers(audited).values()) == 2
    assert {kind for kind, _, _ in leftovers(audited)} == {"scrap"}


def test_an_edge_along_which_an_offcut_lies_is_trimmed(tmp_path: Path) -> None:
    """Beside a 15 x 19 backer lie offcuts, to the right and beneath: no offcut has a bad edge."""
    audited = job(tmp_path, "15 x 19")
    assert kept(audited) == set()
    assert sum(kind == "trim" for kind, _, _ in leftovers(audited).elements()) == 4


def test_of_two_edges_that_of_the_scrap_alone_is_not_trimmed(tmp_path: Path) -> None:
    """Beneath a 31 x 19 backer lies an offcut, which ends at the right edge: both are trimmed.

    Beside a 20 x 39 one it lies to the right, and ends at the bottom edge. Only where it is cut
    from between strips of scrap has it no factory edge; the piece alone leaves that one.
    """
    assert kept(job(tmp_path, "31 x 19")) == set()
    assert kept(job(tmp_path, "20 x 39")) == set()
    assert kept(job(tmp_path, "31 x 39 1/2", trim='{ right = "1/2", bottom = "1/2" }')) == {"right"}


def test_an_edge_at_which_a_piece_lies_is_trimmed(tmp_path: Path) -> None:
    """A 31 3/4 x 38 backer ends where the right trim begins; beneath it is scrap."""
    audited = job(tmp_path, "31 3/4 x 38", trim='{ right = "1/4", bottom = "1/4" }')
    assert kept(audited) == {"bottom"}
    assert ("trim", Fraction(1, 4), Fraction(40)) in leftovers(audited)


@pytest.mark.parametrize(("width", "edges"), [("29 1/8", {"right"}), ("28 7/8", set())])
def test_scrap_does_not_become_a_slip_sheet_with_a_factory_edge_on(
    width: str, edges: set[str], tmp_path: Path
) -> None:
    """What is 3 in wide, and as long as the longest mat, is a slip sheet: 1/4 in of it is trim."""
    audited = job(
        tmp_path,
        f"{width} x 40",
        trim='{ right = "1/4" }',
        line="mat",
        grade="cotton",
        tool="kerf = 0",
    )
    assert kept(audited) == edges
    assert all(kind in ("scrap", "trim") for kind, _, _ in leftovers(audited))


@pytest.mark.parametrize(("width", "edges"), [("47 3/8", {"right"}), ("47 1/2", set())])
def test_a_strip_too_narrow_with_the_trim_in_it_keeps_the_trim_cut(
    width: str, edges: set[str], tmp_path: Path
) -> None:
    """With a kerf of 1/8 in 1/2 in is left of 48 in beside 47 3/8, and 3/8 in beside 47 1/2."""
    saw, trim = 'kind = "table saw"', '{ right = "1/8" }'
    audited = job(tmp_path, f"{width} x 60", sheet="48 x 96", trim=trim, tool=saw)
    assert kept(audited) == edges


@pytest.mark.parametrize(("longest", "edges"), [(96, {"right"}), (95, set())])
def test_a_sheet_longer_than_the_tool_cuts_is_trimmed(
    longest: int, edges: set[str], tmp_path: Path
) -> None:
    """There each trim makes the next cut short enough, or is cut part by part."""
    tool = f"kerf = 0\nlongest_cut = {longest}"
    audited = job(
        tmp_path, "47 x 93", sheet="48 x 96", trim='{ right = "1/8", top = 2 }', tool=tool
    )
    assert kept(audited) == edges


def test_a_band_that_reaches_the_trim_leaves_trim_alone(tmp_path: Path) -> None:
    """A piece ends 1/16 in before the right trim: the saw's own cut runs into that.

    One cut does for both, what it leaves is trim, and so it is a trim before there is no way back.
    """
    audited = job(tmp_path, "31 7/16 x 40", trim='{ right = "1/2" }', tool='kerf = "1/8"')
    (cut,) = only(audited).cuts
    assert audited.plan.step * cut.at == INCH * Fraction(503, 16)
    assert leftovers(audited) == {("trim", Fraction(7, 16), 40): 1}
    cutting = audited.plan.boards[0].cutting
    assert cutting is not None
    assert cutting.before_no_way_back == 1


def test_no_more_is_marked_in_pencil_for_it(tmp_path: Path) -> None:
    """The stop reaches 24 in, and not 30 from the near edges: 2 in is set from the far ones.

    So these are trimmed: with the trims left on, two cuts would be marked in pencil.
    """
    audited = job(tmp_path, "30 x 38", tool="kerf = 0\nreach = 24")
    cutting = audited.plan.boards[0].cutting
    assert cutting is not None
    assert sum(len(step.cuts) for step in cutting.steps if step.setting is None) == 0
    assert kept(audited) == set()


@pytest.mark.parametrize("piece", ["30 x 38", "9 x 12", "14 1/2 x 18 1/2"])
@pytest.mark.parametrize("tool", ['kind = "knife"', 'kind = "table saw"', 'kind = "bench cutter"'])
def test_a_job_goes_on_in_the_middle_as_planned(piece: str, tool: str, tmp_path: Path) -> None:
    """After any cut what is left is cut as it was planned, the near trims apart.

    Those come off a part first. The scrap still takes the far ones in, and the rest of the rest
    does so too.
    """
    audited = job(tmp_path, piece, tool=tool, qty=4 if piece.startswith("14") else 9)
    first = audited.plan.boards[0].layouts[0]
    assert trims_left_on(first, audited.plan.boards[0])
    own = first.id if first.copies == 1 else f"{first.id}/1"
    trims = [left for left in first.leftovers if left.kind is kw.LeftoverKind.TRIM]
    for made in range(len(trims), len(first.cuts)):
        resumed = kw.resume_plan(audited, done=[f"{own}:{made}"])
        if resumed.plan is None:
            continue
        assert isinstance(resumed.plan, kw.Plan)
        rest = kw.audit_plan(resumed.plan)
        _no_more_than_planned(rest.plan, cuts_of(audited.plan) - made)
        again = rest.plan.boards[0].layouts[0]
        named = again.id if again.copies == 1 else f"{again.id}/1"
        last = kw.resume_plan(rest, done=[f"{named}:1"])
        if isinstance(last.plan, kw.Plan):
            kw.audit_plan(last.plan)
            _no_more_than_planned(last.plan, cuts_of(rest.plan) - 1)


def _no_more_than_planned(plan: kw.Plan, cuts: int) -> None:
    """Check that a rest takes no more cuts than were left, and says of no edge that cuts trim it.

    It may say so of a bottom edge that is still to come off.
    """
    assert cuts_of(plan) <= cuts
    for board in plan.boards:
        said = " ".join(squaring(board))
        for layout in board.layouts:
            for edge in trims_left_on(layout, board):
                assert f"{edge.value} of {layout.id}" not in said


def test_the_ledger_is_whole_after_it(tmp_path: Path) -> None:
    """A job is gone on with after each of its cuts in turn, and booked: each area is there.

    Some of its scrap takes far trims in.
    """
    trim = kw.Trim(*[INCH * Fraction(1, 4)] * 4)
    saw = kw.Tool("saw", kerf=INCH * Fraction(1, 8))
    board = kw.Board(
        BOARD, saw, (kw.SheetSize(size("32 x 40"), Fraction(20)),), trim, grade=kw.Grade.COTTON
    )
    ledger = small_ledger(tmp_path / "rack.db")
    file = tmp_path / "show" / "plan.json"
    asked = order(mats("A", 4, "15 x 19"), board=board)
    file.parent.mkdir()
    made = booked(ledger, asked, str(file.parent))
    plan = kw.make_plan(kw.offered(ledger, asked, file.parent).order)
    assert isinstance(plan, kw.Plan)
    assert any(trims_left_on(layout, plan.boards[0]) for layout in plan.boards[0].layouts)
    file.write_text(kw.plan_to_json(plan), encoding="utf-8")
    number = made.job.number
    while True:
        audited = kw.verify_plan(file)
        first = audited.plan.boards[0].layouts[0]
        before = kw.resumable(ledger, file, audited.plan)
        assert before is not None
        own = first.id if first.copies == 1 else f"{first.id}/1"
        done = [f"{own}:1" if first.cuts else own]
        resumed = kw.resume_plan(audited, done, holdings=before.holdings)
        assert not isinstance(resumed.plan, kw.NoPlan)
        rest = None if resumed.plan is None else kw.audit_plan(resumed.plan)
        go_on(ledger, before, resumed.so_far, resumed.step, rest, folder=file.parent)
        number += 1
        assert kw.check_ledger(ledger).faults == ()
        if rest is None:
            break
        file.write_text(kw.plan_to_json(rest.plan), encoding="utf-8")
    kw.book_cut(ledger, number)
    assert kw.check_ledger(ledger).faults == ()
    made_pieces = [event for event in ledger.events() if event.event == "pieces"]
    assert sum(event.count or 0 for event in made_pieces) == 4


@st.composite
def orders(draw: st.DrawFn) -> kw.Order:
    """Draw an order of a few backers and mats on a board with trims, in inches or millimetres."""
    unit = draw(st.sampled_from([kw.Unit.INCH, kw.Unit.MILLIMETRE]))
    step = kw.Length.of(Fraction(1, 8) if unit is kw.Unit.INCH else 4, unit)
    kind = draw(st.sampled_from([None, *kw.ToolKind]))
    longest = draw(st.sampled_from([None, None, step * 330, step * 260]))
    kerf = draw(st.sampled_from([kw.Length(Fraction(0)), step]))
    strip = draw(st.sampled_from([kw.Length(Fraction(0)), step * 4]))
    tool = kw.Tool("t", kerf, longest, strip, kind)
    edge = st.sampled_from([kw.Length(Fraction(0)), step, step * 2, step * 5])
    trim = kw.Trim(*(draw(edge) for _ in range(4)))
    sheet = kw.SheetSize(kw.Size(step * 256, step * 320))
    side = st.integers(30, 240)
    lines = draw(st.lists(st.tuples(side, side, st.integers(1, 5)), min_size=1, max_size=4))
    board = kw.Board("b", tool, (sheet,), trim, no_turn=draw(st.booleans()))
    pieces = tuple(
        kw.Piece(f"P{number}", draw(st.sampled_from(kw.PieceKind)), qty,
                 kw.Size(step * wide, step * high), "b")
        for number, (wide, high, qty) in enumerate(lines)
    )  # fmt: skip
    return kw.Order("drawn", pieces, (board,), unit=unit)


@settings(max_examples=40, deadline=None)
@given(orders(), st.data())
def test_every_piece_stays_and_nothing_takes_more(asked: kw.Order, data: st.DataObject) -> None:
    """Against the same plan with every far trim cut: no more cuts, settings, or pencil marks.

    No offcut or slip sheet is another one, and the job goes on from the middle of it.
    """
    plan = kw.make_plan(asked)
    if isinstance(plan, kw.NoPlan):
        return
    audited = kw.audit_plan(plan)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(order_of_cuts, "over_far_trims", lambda draft, *_: draft)
        trimmed = planned(asked)
    assert pieces_of(plan) == pieces_of(trimmed.plan)
    assert cuts_of(plan) <= cuts_of(trimmed.plan)
    assert settings_of(plan) <= settings_of(trimmed.plan)
    assert _marked(plan) <= _marked(trimmed.plan)
    assert _worth_keeping(audited) == _worth_keeping(trimmed)
    for layout in plan.boards[0].layouts:
        _no_leaf_but_scrap_at_an_untrimmed_edge(layout, plan.boards[0])
    layout = data.draw(st.sampled_from(plan.boards[0].layouts))
    made = data.draw(st.integers(0, len(layout.cuts)))
    name = layout.id if layout.copies == 1 else f"{layout.id}/1"
    resumed = kw.resume_plan(audited, done=[f"{name}:{made}"] if made else [])
    if isinstance(resumed.plan, kw.Plan):
        kw.audit_plan(resumed.plan)
    else:
        assert resumed.plan is None


def _marked(plan: kw.Plan) -> int:
    return sum(
        len(step.cuts) * next(one.copies for one in board.layouts if one.id == step.layout)
        for board in plan.boards
        if board.cutting is not None
        for step in board.cutting.steps
        if step.setting is None
    )


def _worth_keeping(audited: kw.AuditedPlan) -> Kinds:
    kinds = leftovers(audited)
    return Counter({one: count for one, count in kinds.items() if one[0] not in ("scrap", "trim")})


def _no_leaf_but_scrap_at_an_untrimmed_edge(layout: kw.Layout, board: kw.BoardPlan) -> None:
    left_on = trims_left_on(layout, board)
    for left in layout.leftovers:
        at_right = left.x + left.width == layout.source.width
        at_bottom = left.y + left.height == layout.source.height
        if (kw.Edge.RIGHT in left_on and at_right) or (kw.Edge.BOTTOM in left_on and at_bottom):
            assert left.kind in (kw.LeftoverKind.SCRAP, kw.LeftoverKind.TRIM)
    kerf, strip = board.tool.kerf, board.tool.narrowest_strip
    for cut in layout.cuts:  # nothing is measured from such an edge, if it can be from the other
        across = cut.axis is kw.Axis.X
        edge, end = (kw.Edge.RIGHT, layout.source.width) if across else (
            kw.Edge.BOTTOM, layout.source.height)  # fmt: skip
        if edge in left_on and cut.stop is edge and cut.at + kerf + cut.setting == end:
            trim = board.trim.left if across else board.trim.top
            assert cut.at + kerf == trim
            assert cut.at < max(strip, 1)
