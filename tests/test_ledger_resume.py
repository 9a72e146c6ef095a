"""A job of the ledger that is gone on with in the middle: booked once, whole, and to the area."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import pytest
from conftest import Command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from racks import BOARD, booked, mats, measured, order, planned, size, small_ledger

import kerfwright as kw
from kerfwright.ledger import Ledger, cancel_job, go_on
from kerfwright.ledger.rack import (
    Found,
    Measured,
    add_offcuts,
    add_sheets,
    correct,
    count_rack,
    find_again,
    take,
)
from kerfwright.ledger.trace import cut_up
from kerfwright.plan.edges import edges_off
from kerfwright.plan.so_far import BenchPart
from kerfwright.telling import tell

INCH = kw.Length.of(1, kw.Unit.INCH)
EIGHTH = INCH * Fraction(1, 8)
NO = kw.Length(Fraction(0))


@dataclass(frozen=True, slots=True)
class Shop:
    """A ledger, and the folder of the plan that is being cut."""

    ledger: Ledger
    folder: Path

    @property
    def file(self) -> Path:
        """The plan being cut."""
        return self.folder / "plan.json"

    def resumed(
        self,
        done: Sequence[str] = (),
        wrong: Sequence[str] = (),
        ruined: Sequence[str] = (),
        *,
        name: str = "rest",
    ) -> tuple[kw.Resumed, Shop]:
        """Resume the plan, put the rest in its place, and return the shop as it goes on."""
        audited = kw.verify_plan(self.file)
        before = kw.resumable(self.ledger, self.file, audited.plan)
        assert before is not None
        resumed = kw.resume_plan(audited, done, wrong, ruined, holdings=before.holdings)
        assert not isinstance(resumed.plan, kw.NoPlan)
        rest = None if resumed.plan is None else kw.audit_plan(resumed.plan)
        folder = self.folder.with_name(name)
        go_on(self.ledger, before, resumed.so_far, resumed.step, rest, folder=folder)
        if rest is not None:
            folder.mkdir(exist_ok=True)
            (folder / "plan.json").write_text(kw.plan_to_json(rest.plan), encoding="utf-8")
        return resumed, Shop(self.ledger, folder if rest is not None else self.folder)


def _board() -> kw.Board:
    """Return the usual board, cut with a saw, its factory edges trimmed."""
    saw = kw.Tool("saw", kerf=EIGHTH)
    trim = kw.Trim(EIGHTH * 2, EIGHTH * 2, EIGHTH * 2, EIGHTH * 2)
    sheets = (kw.SheetSize(size("32 x 40"), Fraction(20)),)
    return kw.Board(BOARD, saw, sheets, trim, grade=kw.Grade.COTTON)


def _shop(folder: Path, *pieces: kw.Piece, board: kw.Board | None = None) -> Shop:
    """Plan a job of these pieces from the small ledger, with a larger offcut on its rack."""
    folder.mkdir(parents=True)
    ledger = small_ledger(folder / "rack.db")
    add_offcuts(ledger, [measured("22 x 30", "A3")])
    show = folder / "show"
    show.mkdir()
    asked = order(*pieces, board=_board() if board is None else board)
    made = booked(ledger, asked, str(show))
    offer = kw.offered(ledger, asked, show)
    plan = kw.make_plan(offer.order)
    assert isinstance(plan, kw.Plan)
    (show / "plan.json").write_text(kw.plan_to_json(plan), encoding="utf-8")
    assert made.job.number == 1
    return Shop(ledger, show)


ORDERED = Counter(A=5, B=4)


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """Five 15 x 19 and four 10 x 13 mats: some of them from offcut 3, 22 x 30, the rest sheets."""
    made = _shop(tmp_path / "shop", mats("A", 5, "15 x 19"), mats("B", 4, "10 x 13"))
    assert 3 in made.ledger.state().jobs[1].offcuts
    return made


def _pieces(ledger: Ledger) -> Counter[str]:
    """Return the pieces that are booked as made."""
    undone = {event.undoes for event in ledger.events()}
    made: Counter[str] = Counter()
    for event in ledger.events():
        if event.event == "pieces" and event.entry not in undone:
            made[event.note or ""] += event.count or 0
    return made


def _sheets_begun(shop: Shop) -> Counter[kw.Source]:
    plan = kw.read_plan(shop.file)
    taken: Counter[kw.Source] = Counter()
    for layout in plan.boards[0].layouts:
        taken[layout.source] += layout.copies
    return taken


def test_the_rest_takes_the_jobs_place(shop: Shop) -> None:
    """Job 1 is let go and job 2 set aside in one entry: the begun offcut is kept for job 2."""
    layout = next(one for one in kw.read_plan(shop.file).boards[0].layouts if one.source.id == "3")
    resumed, _ = shop.resumed([layout.id])
    state = shop.ledger.state()
    assert (state.jobs[1].state, state.jobs[2].state) == ("cancelled", "set aside")
    assert state.offcuts[3].aside == 2
    assert resumed.in_hand == Counter(piece.label for piece in layout.pieces)
    assert kw.check_ledger(shop.ledger).faults == ()


def test_what_is_booked_is_what_was_cut(shop: Shop) -> None:
    """With a wrong cut, a spoiled part and a second resume every piece is booked once.

    The sheets that both plans took are gone, and each area is accounted for.
    """
    first = kw.read_plan(shop.file).boards[0]
    sheet = next(one for one in first.layouts if one.source.kind is kw.SourceKind.SHEET)
    cut = sheet.cuts[4]
    step = kw.read_plan(shop.file).step
    used = (step * cut.setting).in_unit(kw.Unit.INCH) + Fraction(3, 32)
    name = sheet.id if sheet.copies == 1 else f"{sheet.id}/1"
    _, rest = shop.resumed([], [f"{name}:5={used}"])
    again = kw.read_plan(rest.file).boards[0].layouts[0]
    named = again.id if again.copies == 1 else f"{again.id}/1"
    _, last = rest.resumed([f"{named}:1"], [], [], name="last")
    opened = _sheets_begun(last)
    number = kw.job_named(shop.ledger, str(last.file))
    assert number == 3
    before = shop.ledger.state().sheets[BOARD, size("32 x 40")]
    kw.book_cut(shop.ledger, number)
    assert _pieces(shop.ledger) == ORDERED
    state = shop.ledger.state()
    new = sum(count for source, count in opened.items() if source.kind is kw.SourceKind.SHEET)
    begun = 1 + (again.source.kind is kw.SourceKind.SHEET)
    assert state.sheets[BOARD, size("32 x 40")] == before - new - begun
    assert kw.check_ledger(shop.ledger).faults == ()


@settings(
    deadline=None, max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_whatever_happens_every_area_is_accounted_for(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Three times some cuts are made, one goes wrong, a part is spoiled; then all is booked.

    Meanwhile offcuts with bad edges come on the rack, and the rest may be cut from them. Before
    that the job may have been given up, which is undone.

    The pieces booked are those ordered, and what came in is what went and is there.
    """
    shop = _shop(
        tmp_path_factory.mktemp("rack") / "shop", mats("A", 5, "15 x 19"), mats("B", 4, "10 x 13")
    )
    job = 1
    for turn in ("first", "second", "third"):
        plan = kw.read_plan(shop.file)
        done, wrong, ruined = _said(data, plan)
        came = data.draw(st.sampled_from(["", "15 1/8 x 21", "11 x 27", "33 x 20"]))
        if came:
            add_offcuts(shop.ledger, [measured(came, edges=(EIGHTH, NO, NO, EIGHTH))])
        try:
            _, following = shop.resumed(done, wrong, ruined, name=turn)
        except kw.RefusedValue:
            continue
        job += 1
        if following.folder == shop.folder:
            break
        shop = following
    if data.draw(st.booleans()):
        given_up = cancel_job(shop.ledger, job)
        _whole(shop.ledger)
        shop.ledger.undo(given_up.entry.number)
    kw.book_cut(shop.ledger, job)
    assert _pieces(shop.ledger) == ORDERED
    _whole(shop.ledger)


def _said(data: st.DataObject, plan: kw.Plan) -> tuple[list[str], list[str], list[str]]:
    """Draw what a person says: cuts made of some sheets, a wrong one, and a part spoiled.

    Of an offcut it may be which bad edges are off, the last of them a little wrong.
    """
    done, wrong, ruined = [], [], []
    for layout in plan.boards[0].layouts:
        name = layout.id if layout.copies == 1 else f"{layout.id}/1"
        edges = edges_off(layout, plan.boards[0])
        if data.draw(st.booleans()) and edges:
            count = data.draw(st.integers(1, len(edges)))
            *others, last = data.draw(st.permutations(edges))[:count]
            done += [f"{name}:{edge.value}" for edge, _, _ in others]
            if data.draw(st.booleans()):
                done.append(f"{name}:{last[0].value}")
            else:
                wrong.append(f"{name}:{last[0].value}={_left(layout, plan, last)}")
            continue
        made = data.draw(st.integers(0, len(layout.cuts)))
        if made:
            done.append(f"{name}:{made}")
        if made < len(layout.cuts) and data.draw(st.booleans()):
            cut = layout.cuts[made]
            off = data.draw(st.sampled_from([-3, -1, 1, 5]))
            used = (plan.step * cut.setting).in_unit(kw.Unit.INCH) + Fraction(off, 16)
            if used > 0:
                wrong.append(f"{name}:{cut.number}={used}")
        if made + 2 <= len(layout.cuts) and data.draw(st.booleans()):
            good = data.draw(st.sampled_from(["", "=9 x 11", "=3 x 20 + 2 x 2", "=1/3 x 5"]))
            ruined.append(f"{name}:{made + 2}{good}")
    return done, wrong, ruined


def _left(layout: kw.Layout, plan: kw.Plan, edge: tuple[kw.Edge, int, int]) -> Fraction:
    """Return what is left of an offcut, in inches, where 1/16 in too much of an edge came off."""
    across = edge[0] in (kw.Edge.LEFT, kw.Edge.RIGHT)
    whole = layout.source.width if across else layout.source.height
    return (plan.step * whole).in_unit(kw.Unit.INCH) - Fraction(1, 16)


def test_saying_it_again_replaces_what_was_said_before(shop: Shop) -> None:
    """The same plan resumed twice: the second time is what counts, and nothing is held twice."""
    layout = kw.read_plan(shop.file).boards[0].layouts[0]
    shop.resumed([f"{layout.id}:1"])
    _, rest = shop.resumed([layout.id], name="rest-2")
    state = shop.ledger.state()
    states = [job.state for job in state.jobs.values()]
    assert states == ["cancelled", "cancelled", "set aside"]
    kw.book_cut(shop.ledger, kw.job_named(shop.ledger, str(rest.folder)))
    assert _pieces(shop.ledger) == ORDERED
    assert kw.check_ledger(shop.ledger).faults == ()


def test_all_made_is_a_job_to_book(shop: Shop) -> None:
    """Everything is cut, the last cut of one sheet wrong in what it leaves: job 2 books just that.

    It keeps the folder and the plan of job 1, so that `ledger cut` finds it by either.
    """
    layouts = kw.read_plan(shop.file).boards[0].layouts
    resumed, _ = shop.resumed([layout.id for layout in layouts])
    assert resumed.plan is None
    number = kw.job_named(shop.ledger, str(shop.folder))
    assert number == 2
    kw.book_cut(shop.ledger, number)
    assert _pieces(shop.ledger) == ORDERED
    assert kw.check_ledger(shop.ledger).faults == ()


def test_an_offcut_lost_meanwhile_is_not_planned_with(shop: Shop) -> None:
    """Offcut 3 of the plan is lost before it is cut: the rest comes from sheets alone."""
    take(shop.ledger, [3], "lost", "")
    layout = next(one for one in kw.read_plan(shop.file).boards[0].layouts if not one.source.id)
    name = layout.id if layout.copies == 1 else f"{layout.id}/1"
    resumed, rest = shop.resumed([f"{name}:1"])
    assert isinstance(resumed.plan, kw.Plan)
    used = {one.source.id for one in resumed.plan.boards[0].layouts}
    assert "3" not in used
    kw.book_cut(shop.ledger, kw.job_named(shop.ledger, str(rest.folder)))
    assert _pieces(shop.ledger) == ORDERED
    assert kw.check_ledger(shop.ledger).faults == ()


def test_a_ledger_that_changed_meanwhile_is_not_recorded_in(shop: Shop) -> None:
    """Between reading and recording another terminal takes offcut 3: nothing is recorded."""
    audited = kw.verify_plan(shop.file)
    before = kw.resumable(shop.ledger, shop.file, audited.plan)
    assert before is not None
    resumed = kw.resume_plan(audited, holdings=before.holdings)
    assert isinstance(resumed.plan, kw.Plan)
    take(shop.ledger, [3], "lost", "")
    count = len(shop.ledger.events())
    with pytest.raises(kw.LedgerError, match="has changed since the rest was planned"):
        go_on(
            shop.ledger,
            before,
            resumed.so_far,
            resumed.step,
            kw.audit_plan(resumed.plan),
            folder=shop.folder.with_name("rest"),
        )
    assert len(shop.ledger.events()) == count


def test_a_plan_of_no_job_is_none_of_the_ledgers(shop: Shop) -> None:
    """A plan that the ledger does not know is gone on with without it."""
    text = shop.file.read_text(encoding="utf-8").replace('"show"', '"other"', 1)
    other = shop.folder / "other.json"
    other.write_text(text, encoding="utf-8")
    assert kw.resumable(shop.ledger, other, kw.read_plan(other)) is None


@pytest.mark.parametrize(
    ("end", "told"),
    [
        (
            "cut",
            "job 1 of this plan is booked as cut; take that back with `kerfwright ledger undo`",
        ),
        ("cancel", "job 1 of this plan was cancelled, and nothing is set aside for it"),
        ("go on", "job 1 went on as job 2, which is cut by now; resume from the newest plan"),
    ],
)
def test_a_job_that_ended_is_not_gone_on_with(shop: Shop, end: str, told: str) -> None:
    """Cut, cancelled, or gone on with and then cut: one message that says the way."""
    if end == "cut":
        kw.book_cut(shop.ledger, 1)
    elif end == "cancel":
        kw.cancel_job(shop.ledger, 1)
    else:
        shop.resumed([kw.read_plan(shop.file).boards[0].layouts[0].id])
        kw.book_cut(shop.ledger, 2)
    with pytest.raises(kw.LedgerError) as refusal:
        kw.resumable(shop.ledger, shop.file, kw.read_plan(shop.file))
    assert told in str(refusal.value)


def test_the_old_job_names_the_new_one(shop: Shop) -> None:
    """`ledger cut` on job 1 says that it went on as job 2."""
    shop.resumed([kw.read_plan(shop.file).boards[0].layouts[0].id])
    with pytest.raises(kw.LedgerError, match="job 1 went on as job 2; book that one"):
        kw.book_cut(shop.ledger, 1)


@pytest.mark.parametrize("end", [kw.book_cut, cancel_job], ids=["cut", "cancelled"])
def test_a_layout_that_became_nothing_but_parts_adds_up(
    tmp_path: Path, end: Callable[[Ledger, int], object]
) -> None:
    """With a knife one cut leaves no scrap, trim nor kerf: twice in a row that was cut alone."""
    knife = replace(_board(), tool=kw.Tool("knife"), trim=kw.Trim(NO, NO, NO, NO))
    shop = _shop(tmp_path / "shop", mats("A", 9, "15 x 19"), board=knife)
    largest = _largest(shop)
    _, first = shop.resumed([f"{largest}:1"], name="first")
    parts = [one for one in _layouts(first) if (one.source.id or "").startswith(f"{largest} ")]
    part = max(parts, key=lambda one: len(one.cuts))
    _, second = first.resumed([f"{part.id}:1"], name="second")
    end(second.ledger, 3)
    assert kw.check_ledger(second.ledger).faults == ()


def _layouts(shop: Shop) -> tuple[kw.Layout, ...]:
    return kw.read_plan(shop.file).boards[0].layouts


def _largest(shop: Shop) -> str:
    """Return the layout with the most cuts."""
    return max(_layouts(shop), key=lambda one: len(one.cuts)).id


@pytest.mark.parametrize("end", [kw.book_cut, cancel_job], ids=["cut", "cancelled"])
def test_a_part_kept_with_factory_edges_on_is_booked_as_it_lies(
    tmp_path: Path, end: Callable[[Ledger, int], object]
) -> None:
    """A cut gone wrong leaves 8 3/4 x 39 3/4: a later job has 8 3/4 x 39 1/2 of it, trimmed first.

    Where the rest is cancelled, the part that it was to be cut from is kept so as well.
    """
    ledger = Ledger(tmp_path / "rack.db")
    ledger.begin()
    add_sheets(ledger, BOARD, size("32 x 40"), 2)
    knife = replace(_board(), tool=kw.Tool("knife"))
    asked = order(mats("A", 1, "15 x 19"), mats("B", 1, "10 x 12"), board=knife)
    shop = _taken_up(ledger, tmp_path / "show", asked)
    resumed, _ = shop.resumed(wrong=["L1:3=23"])
    parts = [part for one in resumed.so_far for part in one.parts if any_edge(part)]
    end(ledger, 2)
    kept = [one for one in ledger.state().offcuts.values() if any(edge.mm for edge in one.edges)]
    offcut = next(one for one in kept if one.size == size("8 3/4 x 39 3/4"))
    assert offcut.edges == (NO, NO, NO, EIGHTH * 2)
    assert offcut.usable == size("8 3/4 x 39 1/2")
    stock = {kw.Size(resumed.step * part.width, resumed.step * part.height) for part in parts}
    assert stock >= {one.usable for one in kept}
    assert len(kept) == (1 if end is kw.book_cut else len(parts))
    assert kw.check_ledger(ledger).faults == ()
    assert all(not one.rest for one in cut_up(ledger.events()))
    if end is kw.book_cut:
        later = order(mats("D", 1, "8 x 39 1/2"), board=knife)
        _, audited = planned(ledger, later, str(tmp_path / "later"))
        (told,) = tell(audited)
        assert "first take 1/4 in off its bottom edge" in told.first[0]


@pytest.mark.parametrize("end", [kw.book_cut, cancel_job], ids=["cut", "cancelled"])
def test_of_equal_parts_one_is_cut_and_the_other_kept_with_its_edges(
    tmp_path: Path, end: Callable[[Ledger, int], object]
) -> None:
    """Of two sheets the first edge is cut 12 in wide: of such a strip one gives the small mat.

    The other is kept with its edges on.
    """
    ledger = Ledger(tmp_path / "rack.db")
    ledger.begin()
    add_sheets(ledger, BOARD, size("32 x 40"), 2)
    knife = replace(_board(), tool=kw.Tool("knife"))
    asked = order(mats("A", 2, "19 x 39"), mats("B", 1, "8 x 30"), board=knife)
    shop = _taken_up(ledger, tmp_path / "show", asked)
    resumed, _ = shop.resumed(wrong=["L1:1=12", "L2:1=12"])
    names = Counter(part.name for one in resumed.so_far for part in one.parts if any_edge(part))
    assert set(names.values()) == {2}
    assert isinstance(resumed.plan, kw.Plan)
    end(ledger, 2)
    kept = [one for one in ledger.state().offcuts.values() if any(one.edges)]
    assert len(kept) == (1 if end is kw.book_cut else 4)
    _whole(ledger)


def _whole(ledger: Ledger) -> None:
    assert kw.check_ledger(ledger).faults == ()
    assert all(not one.rest for one in cut_up(ledger.events()))


@pytest.mark.parametrize("end", [kw.book_cut, cancel_job], ids=["cut", "cancelled"])
@pytest.mark.parametrize("last", [(["top"], []), ([], ["top=27 3/8"]), ([], ["top=27 5/8"])])
def test_an_edge_that_outlasts_two_resumes_is_booked_where_it_is(
    tmp_path: Path, last: tuple[list[str], list[str]], end: Callable[[Ledger, int], object]
) -> None:
    """The left bad edge is off, then the top one, not quite right; the bottom one is on at the end.

    A part of the offcut became a part again, which came on the rack or was cut: what is still on
    it is none of the trim that its offcut lost.
    """
    ledger = Ledger(tmp_path / "rack.db")
    ledger.begin()
    half = EIGHTH * 4
    add_offcuts(ledger, [measured("20 x 28", edges=(half, NO, half, half))])
    knife = replace(_board(), tool=kw.Tool("knife"), trim=kw.Trim(NO, NO, NO, NO))
    shop = _taken_up(ledger, tmp_path / "show", order(mats("A", 1, "15 x 19"), board=knife))
    _, shop = shop.resumed(["L1:left"])
    (layout,) = _layouts(shop)
    shop.resumed(*([f"{layout.id}:{one}" for one in said] for said in last), name="last")
    end(ledger, 3)
    _whole(ledger)
    edges = [one.edges for one in ledger.state().offcuts.values() if one.here]
    if end is cancel_job:
        assert [one[3] for one in edges] == [half]


@pytest.mark.parametrize("said", [(["L1:left"], []), ([], ["L1:left=19 1/4"])])
def test_a_bad_edge_that_is_still_on_is_not_booked_as_off(
    tmp_path: Path, said: tuple[list[str], list[str]]
) -> None:
    """Of two bad edges one is off when the job is cancelled; the other is on what is kept."""
    ledger = Ledger(tmp_path / "rack.db")
    ledger.begin()
    half = EIGHTH * 4
    add_offcuts(ledger, [measured("20 x 28", edges=(half, NO, half, NO))])
    knife = replace(_board(), tool=kw.Tool("knife"), trim=kw.Trim(NO, NO, NO, NO))
    shop = _taken_up(ledger, tmp_path / "show", order(mats("A", 1, "15 x 19"), board=knife))
    shop.resumed(*said)
    cancel_job(ledger, 2)
    (offcut,) = (one for one in ledger.state().offcuts.values() if one.here)
    assert offcut.edges == (NO, NO, half, NO)
    assert kw.check_ledger(ledger).faults == ()
    assert all(not one.rest for one in cut_up(ledger.events()))


def any_edge(part: BenchPart) -> bool:
    """Whether a part that is worth keeping has an edge on that must come off."""
    sides = ("left", "right", "top", "bottom")
    on = any(getattr(trim, side) for trim in (part.off, part.on) for side in sides)
    return part.kind is kw.LeftoverKind.OFFCUT and on


def test_what_is_said_after_two_resumes_names_the_newest_job(shop: Shop) -> None:
    """Job 1 went on as job 2, and that one's place was taken by job 3: booking names job 3.

    So does going on from the plan of job 2, which nobody cancelled; and once job 3 is cut, no
    message sends to it.
    """
    layout = kw.read_plan(shop.file).boards[0].layouts[0]
    _, second = shop.resumed([f"{layout.id}:1"])
    _, third = shop.resumed([layout.id], name="rest-2")
    for number in (1, 2):
        with pytest.raises(kw.LedgerError, match=f"job {number} went on as job 3; book that one"):
            kw.book_cut(shop.ledger, number)
    with pytest.raises(kw.LedgerError) as refusal:
        kw.resumable(second.ledger, second.file, kw.read_plan(second.file))
    told = str(refusal.value)
    assert "job 2 of this plan was replaced: the job went on as job 3" in told
    assert str(third.folder) in told
    kw.book_cut(shop.ledger, 3)
    with pytest.raises(kw.LedgerError, match="job 1 went on as job 3, which is cut by now"):
        kw.book_cut(shop.ledger, 1)


def test_a_part_is_no_better_known_than_its_offcut(tmp_path: Path) -> None:
    """What is left of an offcut of unknown grade, cut in two goes, is of unknown grade."""
    folder = tmp_path / "shop"
    folder.mkdir()
    ledger = Ledger(folder / "rack.db")
    ledger.begin()
    add_offcuts(ledger, [measured("30 x 30", grade=None)])
    board = kw.Board(BOARD, grade=kw.Grade.WOOD_PULP)
    show = folder / "show"
    show.mkdir()
    offer = kw.offered(ledger, order(mats("A", 2, "12 x 14"), board=board), show)
    plan = kw.make_plan(offer.order)
    assert isinstance(plan, kw.Plan)
    kw.set_aside(ledger, offer, kw.audit_plan(plan))
    (show / "plan.json").write_text(kw.plan_to_json(plan), encoding="utf-8")
    _, rest = Shop(ledger, show).resumed(["L1:1"])
    kw.book_cut(ledger, kw.job_named(ledger, str(rest.folder)))
    new = [kept for kept in ledger.state().offcuts.values() if kept.job == 2]
    assert new
    assert {kept.grade for kept in new} == {None}


def _planned_by_command(command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(tmp_path / "rack.db"))
    small_ledger(tmp_path / "rack.db")
    (tmp_path / "show.toml").write_text(
        f'[[board]]\nname = "{BOARD}"\ngrade = "cotton"\n'
        'sheets = [ { size = "32 x 40", price = "21.50" } ]\n'
        f'[[mat]]\nlabel = "A"\nqty = 6\nsize = "16 x 20"\nboard = "{BOARD}"\n'
    )
    assert command("plan", "show.toml").status == 0
    return tmp_path / "show" / "plan.json"


def test_the_command_books_the_rest(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`resume` says which job takes whose place; `ledger cut` books it, `ledger check` is happy."""
    plan = _planned_by_command(command, tmp_path, monkeypatch)
    ran = command("resume", plan, "--done", "L2:1")
    assert (ran.status, ran.err) == (0, "")
    assert "Job 2 takes the place of job 1. Set aside, with what is begun: offcut 2" in ran.out
    told = json.loads(command("resume", plan, "--done", "L2:1", "--json").out)
    assert told["ledger"]["job"] == 3
    assert told["ledger"]["instead_of"] == 2
    assert command("ledger", "cut", "show-rest-2").status == 0
    assert command("ledger", "check").status == 0
    ran = command("resume", plan, "--done", "L2:1")
    assert (ran.status, ran.out) == (2, "")
    assert "job 1 went on as job 3, which is cut by now" in ran.err


IN_PARTS = """
[[board]]
name = "blue"
sheets = [ { size = "32 x 40" } ]
[[mat]]
label = "A"
qty = 2
size = "14 x 40"
board = "blue"
[[mat]]
label = "B"
qty = 1
size = "10 x 12"
board = "blue"
"""


def test_the_command_says_why_the_rest_takes_an_offcut_or_not(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As `plan` does: here all comes from the parts on the bench, and what came since stays whole.

    A part is none of the rack's: it is neither told of nor looked up there.
    """
    plan = _planned_by_command(command, tmp_path, monkeypatch)
    ran = command("resume", plan, "--done", "L2:1", "--json")
    told = json.loads(ran.out)["ledger"]
    assert [one["offcut"] for one in told["used"]] == [2]
    assert told["used"][0]["why"].startswith("used for 1 x A")
    (tmp_path / "parts.toml").write_text(IN_PARTS)
    assert command("plan", "parts.toml").status == 0
    for text in ("30 x 42", "11 x 12", "9 x 9"):
        command("ledger", "add", text, "--board", "blue")
    ran = command("resume", "parts/plan.json", "--done", "L1:1", "--done", "L2")
    told_of = " ".join(ran.out.split())
    assert ran.status == 0, ran.err
    assert "in hand 1 x A, 1 x B" in told_of
    kept = "30 x 42 in: kept: worth 19 twentieths of a sheet whole; all that is left to cut of its"
    assert f"{kept} board comes from parts on the bench." in told_of
    assert "11 x 12 in; 5, 9 x 9 in: too small for any piece that is left to cut of its" in told_of


def test_drop_outs_come_from_the_mats_of_before_and_after(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All six mats give a drop-out, whichever plan cut them; their windows are counted once."""
    plan = _planned_by_command(command, tmp_path, monkeypatch)
    assert command("resume", plan, "--done", "L2:1").status == 0
    ran = command("ledger", "cut", "2", "--drop-out", "A=7 of 11 x 14")
    assert (ran.status, ran.out) == (2, "")
    assert "job 2 has 6 mats 'A', so that 7 drop-outs cannot come from it" in ran.err
    assert command("ledger", "cut", "2", "--drop-out", "A=11 x 14").status == 0
    state = Ledger(tmp_path / "rack.db").state()
    assert dict(state.jobs[2].windows) == {"A": 6}
    assert dict(state.jobs[2].dropped) == {"A": 6}
    ran = command("ledger", "check", "--trace")
    assert (ran.status, ran.err) == (0, "")
    assert "job 2, layout L2 was cut from" in ran.out


def test_without_the_ledger_nothing_is_recorded(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`--no-ledger` leaves the job as it was; a ledger that does not know the plan is refused."""
    plan = _planned_by_command(command, tmp_path, monkeypatch)
    ledger = Ledger(tmp_path / "rack.db")
    count = len(ledger.events())
    assert command("resume", plan, "--done", "L2:1", "--no-ledger").status == 0
    assert len(ledger.events()) == count
    Ledger(tmp_path / "other.db").begin()
    monkeypatch.setenv("KERFWRIGHT_LEDGER", "other.db")
    ran = command("resume", plan, "--done", "L2:1")
    assert ran.status == 0
    assert "This plan was made without the ledger other.db; nothing is recorded there." in ran.out
    ran = command("resume", plan, "--done", "L2:1", "--ledger", "other.db")
    assert ran.status == 2
    assert "nothing is set aside for this plan in other.db" in ran.err


def test_files_that_cannot_be_written_leave_the_job_as_it_was(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the disk is full the going on is taken back: job 1 holds what it held."""
    plan = _planned_by_command(command, tmp_path, monkeypatch)

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("kerfwright.write_outputs", full)
    before = Ledger(tmp_path / "rack.db").state().jobs[1]
    assert command("resume", plan, "--done", "L2:1").status == 2
    state = Ledger(tmp_path / "rack.db").state()
    assert list(state.jobs.values()) == [before]


def _two_cuts(shop: Shop) -> list[str]:
    """Return that a first full sheet is begun."""
    layouts = kw.read_plan(shop.file).boards[0].layouts
    one = next(one for one in layouts if one.source.kind.value == "sheet")
    return [f"{one.id}/1:1-2" if one.copies > 1 else f"{one.id}:1-2"]


def test_cancelling_a_job_partly_cut_books_what_is_begun(shop: Shop) -> None:
    """What was cut into goes, with its pieces and parts; the rest is let go; undo takes it back."""
    shop.resumed(_two_cuts(shop))
    before = shop.ledger.state()
    job = before.jobs[2]
    cancelled = cancel_job(shop.ledger, 2, place="C4").entry
    state = shop.ledger.state()
    assert state.jobs[2].state == "cancelled"
    begun = [layout for board in job.plan["boards"] for layout in board["layouts"]  # type: ignore[attr-defined]
             if layout.get("so_far")]  # fmt: skip
    assert len(begun) == 1
    cut = [event for event in cancelled.events if event.event in {"cut", "sheets cut"}]
    assert len(cut) == 1
    assert sum(_pieces(shop.ledger).values()) == sum(n for *_, n in begun[0]["pieces"])
    left = [one for one in state.offcuts.values() if one.number not in before.offcuts]
    assert left
    assert all((one.state, one.place, one.job) == ("on the rack", "C4", 2) for one in left)
    assert not [one for one in state.offcuts.values() if one.state == "set aside"]
    assert sum(state.sheets.values()) == 5 - (cut[0].event == "sheets cut")
    assert kw.check_ledger(shop.ledger).faults == ()
    assert cancel_job(shop.ledger, 2).entry.number == 0
    shop.ledger.undo(cancelled.number)
    again = shop.ledger.state()
    assert (again.offcuts, again.jobs[2]) == (before.offcuts, before.jobs[2])
    assert (again.sheets, kw.check_ledger(shop.ledger).faults) == (before.sheets, ())


def test_no_other_job_takes_the_folder_of_one_partly_cut(shop: Shop) -> None:
    """Its begun sheets would be let go; the message says how to end it."""
    _, rest = shop.resumed(["L1:1-2"])
    events = shop.ledger.events()
    told = r"job 2 \(.*\) has this folder and is partly cut.*`kerfwright ledger cancel 2`"
    with pytest.raises(kw.LedgerError, match=told):
        booked(shop.ledger, order(mats("C", 1, "8 x 10"), board=_board()), str(rest.folder))
    assert shop.ledger.events() == events


def test_an_offcut_begun_and_lost_since_stops_the_cancelling(shop: Shop) -> None:
    """What became of it is not known; nothing is let go before that is put right."""
    layout = next(one for one in kw.read_plan(shop.file).boards[0].layouts if one.source.id == "3")
    shop.resumed([f"{layout.id}:1-2"])
    take(shop.ledger, [3], "lost")
    events = shop.ledger.events()
    with pytest.raises(kw.LedgerError, match="offcut 3 is lost"):
        cancel_job(shop.ledger, 2)
    assert shop.ledger.events() == events


def test_the_command_says_what_was_begun_and_what_is_let_go(
    shop: Shop, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In one answer: what is cut up, what was made, what is new on the rack."""
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(shop.ledger.path))
    shop.resumed(_two_cuts(shop))
    out = command("ledger", "cancel", 2, "--place", "C4").out
    assert "is cancelled (entry" in out
    assert "Some of it was cut before; that is booked and not let go:" in out
    assert "  cut up: " in out
    assert "  new offcut " in out
    assert "nothing was recorded" in command("ledger", "cancel", 2).out


@pytest.fixture
def spoiled(tmp_path: Path) -> Shop:
    """Six 15 x 19 mats: one each from offcuts 2 and 3, four from a sheet, of which none is left."""
    return _shop(tmp_path / "shop", mats("A", 6, "15 x 19"))


SAID: tuple[list[str], list[str], list[str]] = (
    ["L3"],
    [],
    ["L3:A"],
)  # the sheet is cut up, and one of its mats is spoiled


def _resumed_later(shop: Shop) -> tuple[kw.Resumed, kw.Resuming]:
    """Return the rest planned, and not recorded."""
    audited = kw.verify_plan(shop.file)
    before = kw.resumable(shop.ledger, shop.file, audited.plan)
    assert before is not None
    return kw.resume_plan(audited, *SAID, holdings=before.holdings), before


def _recorded(shop: Shop, resumed: kw.Resumed, before: kw.Resuming) -> None:
    assert isinstance(resumed.plan, kw.Plan)
    rest, folder = kw.audit_plan(resumed.plan), shop.folder.with_name("rest")
    go_on(shop.ledger, before, resumed.so_far, resumed.step, rest, folder=folder)


def _from_the_rack(resumed: kw.Resumed) -> list[str]:
    assert isinstance(resumed.plan, kw.Plan)
    names = [one.source.id or "" for one in resumed.plan.boards[0].layouts]
    return [name for name in names if name.isdecimal()]


def _sheets_more(resumed: kw.Resumed) -> int:
    return sum(one.sheets - one.planned_sheets for one in resumed.set_backs)


def test_the_rest_is_offered_what_else_is_on_the_rack(spoiled: Shop) -> None:
    """A mat is spoiled, and the bench holds no other: offcut 4 does, and so no sheet is opened.

    It came after the job was planned. It is set aside with the rest, and booked with it; offcut
    1, 14 x 32, holds no mat and is not offered.
    """
    without, _ = _resumed_later(spoiled)
    assert (_from_the_rack(without), _sheets_more(without)) == (["2", "3"], 1)
    add_offcuts(spoiled.ledger, [measured("15 1/2 x 19 1/16", "B7")])
    resumed, rest = spoiled.resumed(*SAID)
    assert (_from_the_rack(resumed), _sheets_more(resumed)) == (["2", "3", "4"], 0)
    assert isinstance(resumed.plan, kw.Plan)
    assert [item.source.id for item in resumed.plan.boards[0].stock][-1] == "4"
    assert "1" not in [item.source.id for item in resumed.plan.boards[0].stock]
    assert spoiled.ledger.state().offcuts[4].aside == 2
    kw.book_cut(spoiled.ledger, kw.job_named(spoiled.ledger, str(rest.folder)))
    assert spoiled.ledger.state().offcuts[4].state == "cut"
    assert _pieces(spoiled.ledger) == Counter(A=6)
    assert kw.check_ledger(spoiled.ledger).faults == ()


def test_the_rack_offers_the_rest_only_what_the_board_may_be(spoiled: Shop) -> None:
    """Not an offcut of unknown grade, nor one of another board, lost, or kept for another job."""
    unknown, other = (
        measured("16 x 20", grade=None, unknown=True),
        Measured("blue", size("16 x 20")),
    )
    add_offcuts(spoiled.ledger, [unknown, other, measured("16 x 20"), measured("15 x 19")])
    take(spoiled.ledger, [6], "lost", "")
    booked(spoiled.ledger, order(mats("C", 1, "15 x 19")), "other")
    assert spoiled.ledger.state().offcuts[7].state == "set aside"
    resumed, _ = _resumed_later(spoiled)
    assert _from_the_rack(resumed) == ["2", "3"]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            lambda ledger: take(ledger, [4], "lost", ""),
            "offcut 4: no longer to be had",
        ),
        (
            lambda ledger: correct(ledger, 4, size=size("15 x 19 1/2")),
            "offcut 4: 16 x 20 in of warm white rag, to be had, and now 15 x 19 1/2 in of",
        ),
        (
            lambda ledger: booked(ledger, order(mats("C", 1, "15 x 19")), "other"),
            "no longer to be had",
        ),
        (
            lambda ledger: add_offcuts(ledger, [measured("17 x 20")]),
            "offcut 5: new, 17 x 20 in of warm white rag, to be had",
        ),
    ],
    ids=["lost", "measured", "set aside", "new"],
)
def test_the_rest_is_refused_if_its_offcuts_have_changed(
    spoiled: Shop, change: Callable[[Ledger], object], told: str
) -> None:
    """Between the planning of the rest and its recording: the message says what changed."""
    add_offcuts(spoiled.ledger, [measured("16 x 20", "B7")])
    resumed, before = _resumed_later(spoiled)
    change(spoiled.ledger)
    count = len(spoiled.ledger.events())
    with pytest.raises(kw.LedgerError) as refusal:
        _recorded(spoiled, resumed, before)
    assert told in str(refusal.value)
    assert len(spoiled.ledger.events()) == count


def test_a_change_that_does_not_concern_the_rest_does_no_harm(spoiled: Shop) -> None:
    """Sheets and offcuts of another board, and an offcut that holds no mat of the job."""
    resumed, before = _resumed_later(spoiled)
    other = Measured("blue", size("20 x 20"), grade=kw.Grade.COTTON)
    add_offcuts(spoiled.ledger, [other, measured("9 x 30")])
    add_sheets(spoiled.ledger, "blue", size("32 x 40"), 3)
    _recorded(spoiled, resumed, before)
    assert spoiled.ledger.state().jobs[2].state == "set aside"


def test_the_bad_edges_of_an_offcut_of_the_rack_are_said_on_its_page(spoiled: Shop) -> None:
    """Offcut 4 loses 1/2 in at its left: its layout says so first, and the area is booked."""
    half = INCH * Fraction(1, 2)
    add_offcuts(spoiled.ledger, [measured("15 1/2 x 20", "B7", edges=(half, NO, NO, NO))])
    resumed, rest = spoiled.resumed(*SAID)
    assert isinstance(resumed.plan, kw.Plan)
    (told,) = tell(kw.audit_plan(resumed.plan))
    assert told.first == (
        "L6, offcut 4, 15 x 20 in: first take 1/2 in off its left edge (set 15 in from the right "
        "one); the size given is what is left then.",
    )
    kw.book_cut(spoiled.ledger, kw.job_named(spoiled.ledger, str(rest.folder)))
    trim = [e for e in spoiled.ledger.events() if (e.event, e.note) == ("trim", "bad edges")]
    assert [event.area for event in trim] == ["32258/5"]
    assert kw.check_ledger(spoiled.ledger).faults == ()


@pytest.mark.parametrize("number", [2, 4], ids=["planned with", "offered to the rest"])
def test_a_bad_edge_corrected_after_a_resume_is_noticed(spoiled: Shop, number: int) -> None:
    """The pages say left and it is right by now: the job is not booked, be it resumed or not."""
    left = INCH * Fraction(1, 4)
    add_offcuts(spoiled.ledger, [measured("15 1/4 x 20", edges=(left, NO, NO, NO))])
    correct(spoiled.ledger, 2, edges=(left, NO, NO, NO))
    ledger, folder = spoiled.ledger, spoiled.folder
    offer, made = planned(ledger, order(mats("A", 6, "15 x 19"), board=_board()), str(folder))
    kw.set_aside(ledger, offer, made)
    spoiled.file.write_text(kw.plan_to_json(made.plan), encoding="utf-8")
    _, rest = spoiled.resumed(*SAID)
    correct(ledger, number, edges=(NO, left, NO, NO))
    with pytest.raises(kw.LedgerError, match=f"offcut {number} has other bad edges than the pages"):
        kw.book_cut(ledger, kw.job_named(ledger, str(rest.folder)))


def test_an_offcut_begun_is_not_offered_as_it_was_measured_since(spoiled: Shop) -> None:
    """Offcut 3 is cut into, and the ledger told what is left of it: that lies on the bench."""
    correct(spoiled.ledger, 3, size=size("22 x 29"))
    audited = kw.verify_plan(spoiled.file)
    before = kw.resumable(spoiled.ledger, spoiled.file, audited.plan)
    assert before is not None
    assert [offcut.id for offcut in before.holdings.offcuts] == ["3"]
    whole = kw.resume_plan(audited, holdings=before.holdings)
    assert (_from_the_rack(whole), _sheets_more(whole)) == (["2", "3"], 0)
    begun = kw.resume_plan(audited, ["L2:1"], holdings=before.holdings)
    assert _from_the_rack(begun) == ["2"]


def test_an_offcut_that_needs_too_fine_a_grid_is_left_out(spoiled: Shop) -> None:
    """The rest is planned all the same, and one sentence says why the offcut is not offered."""
    odd = kw.Size(INCH * (16 + Fraction(1, 9999991)), INCH * 20)
    add_offcuts(spoiled.ledger, [Measured(BOARD, odd, grade=kw.Grade.COTTON), measured("16 x 20")])
    resumed, before = _resumed_later(spoiled)
    assert _from_the_rack(resumed) == ["2", "3", "5"]
    (told,) = resumed.left_out
    assert told.startswith("Offcut 4 of the rack is left out: its size, ")
    _recorded(spoiled, resumed, before)


def test_a_job_gone_on_with_adds_up_layout_by_layout(spoiled: Shop) -> None:
    """What is spoiled booked to another layout of the job: its whole is exact, and two are not.

    Parts of a sheet go on by name: from L3, into the layouts of the rest or onto the rack.
    """
    cut = kw.read_plan(spoiled.file).boards[0].layouts[2].cuts
    _, rest = spoiled.resumed([f"L3:{len(cut) - 3}"])
    kw.book_cut(spoiled.ledger, kw.job_named(spoiled.ledger, str(rest.folder)))
    events = spoiled.ledger.events()
    layouts = cut_up(events)
    assert [one.rest for one in layouts] == [0] * len(layouts)
    parts = {
        item.label: item.area for one in layouts for item in one.became if item.what == "parts"
    }
    assert parts
    assert parts == {
        item.label: item.area for one in layouts for item in one.took if item.what == "parts"
    }
    kerf = next(e for e in events if e.event == "kerf" and e.told()["layout"] == "L3")
    moved = replace(kerf, details=json.dumps({"layout": "L1"}))
    wrong = [one for one in cut_up([moved if e is kerf else e for e in events]) if one.rest]
    assert sum((one.rest for one in wrong), Fraction(0)) == 0
    assert {one.layout for one in wrong} >= {"L1", "L3"}


def test_the_trace_says_what_became_of_parts(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sheet became two equal parts, and one layout was cut from both."""
    plan = _planned_by_command(command, tmp_path, monkeypatch)
    assert command("resume", plan, "--done", "L2:1").status == 0
    assert command("ledger", "cut", "2", "--place", "C2").status == 0
    out = command("ledger", "check", "--trace").out
    assert "job 2, layout L2 was cut from 1,280 (1 full sheet, 32 x 40 in), and became" in out
    assert "    1,280  2 parts L2 C, D, 16 x 40 in\n" in out
    assert "job 2, layout L6 was cut from 1,280 (2 parts L2 C, D, 16 x 40 in), and became" in out


def test_a_part_that_nothing_was_cut_from_says_what_it_is(
    spoiled: Shop, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a job that is cancelled in the middle every part was kept: as an offcut here, at C4."""
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(spoiled.ledger.path))
    spoiled.resumed(["L2:1"])
    cancel_job(spoiled.ledger, 2, place="C4")
    out = command("ledger", "check", "--trace").out
    lines = out.splitlines()
    kept = [n for n, line in enumerate(lines) if line.startswith("  job 2 cut nothing from ")]
    assert len(kept) == 2
    assert all(lines[n].endswith("which is") and " part L2 " in lines[n] for n in kept)
    assert all(lines[n + 1].endswith(": at C4") for n in kept)


def _planned_into(ledger: Ledger, folder: Path, board: kw.Board) -> Shop:
    """Plan nine 16 x 20 mats from sheets that nobody counted: the same plan each time."""
    return _taken_up(ledger, folder, order(mats("A", 9, "16 x 20"), board=board))


def _taken_up(ledger: Ledger, folder: Path, asked: kw.Order) -> Shop:
    """Plan an order from the ledger, and set aside what it takes."""
    folder.mkdir(exist_ok=True)
    offer, made = planned(ledger, asked, str(folder))
    kw.set_aside(ledger, offer, made)
    (folder / "plan.json").write_text(kw.plan_to_json(made.plan), encoding="utf-8")
    return Shop(ledger, folder)


def test_resuming_again_leaves_another_job_of_the_same_plan_alone(tmp_path: Path) -> None:
    """Two batches of the same mats, planned alike: each goes on by itself, and is booked once."""
    ledger = Ledger(tmp_path / "rack.db")
    ledger.begin()
    board = kw.Board(BOARD, sheets=(kw.SheetSize(size("32 x 40")),))
    first = _planned_into(ledger, tmp_path / "show", board)
    first.resumed(["L1/1"], name="first")
    second = _planned_into(ledger, tmp_path / "show", board)
    assert {job.number: job.state for job in ledger.state().jobs.values()} == {
        1: "cancelled", 2: "set aside", 3: "set aside",
    }  # fmt: skip
    second.resumed(["L1/1:1"], name="second")
    second.resumed(["L1/1"], name="again")
    state = ledger.state()
    assert state.jobs[5].plan["instead_of"] == 4
    assert [n for n, job in state.jobs.items() if job.state == "set aside"] == [2, 5]
    third = _planned_into(ledger, tmp_path / "third", board)
    audited = kw.verify_plan(third.file)
    moved = tmp_path / "moved"
    third.folder.rename(moved)
    with pytest.raises(kw.LedgerError, match="several jobs have this very plan"):
        kw.resumable(ledger, moved / "plan.json", audited.plan)
    for number in (2, 5):
        kw.book_cut(ledger, number)
    assert _pieces(ledger) == Counter(A=18)
    assert kw.check_ledger(ledger).faults == ()


def test_a_rest_in_the_folder_of_another_job_says_which_is_cancelled(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its pages are written over, so that they no longer count."""
    plan = _planned_by_command(command, tmp_path, monkeypatch)
    other = (tmp_path / "show.toml").read_text().replace("qty = 6", "qty = 1")
    (tmp_path / "other.toml").write_text(other)
    assert command("plan", "other.toml").status == 0
    ran = command("resume", plan, "--done", "L2:1", "--out", "other")
    assert "Instead of job 2 (other), which had this folder and is cancelled" in ran.out
    assert Ledger(tmp_path / "rack.db").state().jobs[2].state == "cancelled"


def test_cancelling_the_job_as_first_planned_names_the_one_that_stands(spoiled: Shop) -> None:
    """Job 1 went on as 2 and that as 3: nothing is let go by saying that 1 is cancelled already."""
    _, rest = spoiled.resumed(["L2:1"])
    rest.resumed([], name="last")
    events = spoiled.ledger.events()
    for number in (1, 2):
        told = f"job {number} went on as job 3, which stands; cancel that one"
        with pytest.raises(kw.LedgerError, match=told):
            cancel_job(spoiled.ledger, number)
    assert spoiled.ledger.events() == events
    cancel_job(spoiled.ledger, 3)
    assert cancel_job(spoiled.ledger, 1).entry.number == 0


@pytest.mark.parametrize("way", ["count", "correct"])
def test_what_is_begun_and_lost_is_kept_for_its_job_once_it_is_found(
    spoiled: Shop, way: str
) -> None:
    """By a count or by its number; the job is then cancelled or cut as if nothing had been."""
    spoiled.resumed(["L2:1"])
    take(spoiled.ledger, [3], "lost")
    if way == "count":
        count_rack(spoiled.ledger, [Found(3)])
    else:
        find_again(spoiled.ledger, 3)
    assert spoiled.ledger.state().offcuts[3].aside == 2
    cancel_job(spoiled.ledger, 2)
    assert spoiled.ledger.state().offcuts[3].state == "cut"
    assert kw.check_ledger(spoiled.ledger).faults == ()


def test_a_count_does_not_miss_what_is_begun(spoiled: Shop, command: Command) -> None:
    """Offcut 3 is in two parts on the bench; the rest of the rack is lost, and the job stands."""
    spoiled.resumed(["L2:1"])
    ran = command("ledger", "count", "--none", "--ledger", spoiled.ledger.path)
    assert ran.status == 0, ran.err
    assert "offcut 3 is begun for job 2: in parts on the bench, and not lost" in ran.out
    kept = spoiled.ledger.state().offcuts
    assert {number for number, one in kept.items() if one.here} == {3}
    told = command("ledger", "count", "--none", "--ledger", spoiled.ledger.path).out
    assert "No other offcut in the ledger either; nothing was recorded." in told
    cancel_job(spoiled.ledger, 2)
    assert kw.check_ledger(spoiled.ledger).faults == ()


def test_what_is_begun_and_was_taken_as_lost_is_put_right_by_resuming(spoiled: Shop) -> None:
    """The refusal names the ways, and this one leads."""
    _, rest = spoiled.resumed(["L2:1"])
    take(spoiled.ledger, [3], "lost")
    lost = spoiled.ledger.events()[-1].entry
    with pytest.raises(kw.LedgerError) as refusal:
        cancel_job(spoiled.ledger, 2)
    told = str(refusal.value)
    assert told.startswith("job 2 cannot be cancelled, since the ledger has changed")
    assert f"`kerfwright ledger undo {lost}` takes it back" in told
    assert f"resume once more from {rest.file}" in told
    assert "cancel the job" not in told
    assert "`kerfwright ledger correct 3 --found` keeps it for this job again" in told
    find_again(spoiled.ledger, 3)
    assert spoiled.ledger.state().offcuts[3].aside == 2
    assert spoiled.ledger.state().jobs[2].offcuts.count(3) == 1
    rest.resumed([], name="again")
    assert spoiled.ledger.state().offcuts[3].aside == 3
    cancel_job(spoiled.ledger, 3)
    assert spoiled.ledger.state().offcuts[3].state == "cut"
    assert kw.check_ledger(spoiled.ledger).faults == ()


def test_the_command_says_which_sheets_are_let_go(
    spoiled: Shop, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One sheet is set aside and not begun; said again, a place is not dropped without a word."""
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(spoiled.ledger.path))
    spoiled.resumed(["L2:1"])
    out = command("ledger", "cancel", 2, "--place", "C4").out
    assert f"Let go: offcut 2; 1 full sheet, 32 x 40 in of {BOARD}." in out
    again = command("ledger", "cancel", 2, "--place", "D1").out
    assert "is cancelled already; nothing was recorded." in again
    assert '--to "D1"' in again
    assert spoiled.ledger.undo().number
    told = json.loads(command("ledger", "cancel", 2, "--json").out)
    assert told["let_go"] == {
        "offcuts": [2],
        "sheets": [{"board": BOARD, "size": "32 in x 40 in", "count": 1}],
    }


def test_a_rest_without_its_files_is_resumed_and_not_planned_again(
    spoiled: Shop, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To plan the order again would be to make all of it anew; of a job not begun it is right."""
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(spoiled.ledger.path))
    _, rest = spoiled.resumed(["L2:1"])
    rest.file.unlink()
    out = command("ledger", "jobs").out
    assert f"not in that folder: resume once more from {spoiled.file}, or" in out
    assert "plan it again" not in out
    listed = command("ledger", "jobs", "--all").out
    assert listed.count("offcut 2") == 1  # job 1 holds nothing any more


def test_a_plan_whose_job_was_undone_is_not_taken_for_one_without_a_ledger(spoiled: Shop) -> None:
    """What it takes is free for any plan: neither resumed nor cut before it is planned again."""
    spoiled.ledger.undo()
    entry = spoiled.ledger.events()[-1].entry
    told = f"job 1 of this plan was undone, by entry {entry}, and nothing is set aside for it"
    with pytest.raises(kw.LedgerError, match=told):
        kw.resumable(spoiled.ledger, spoiled.file, kw.read_plan(spoiled.file))
    with pytest.raises(kw.LedgerError, match=told):
        kw.job_named(spoiled.ledger, str(spoiled.folder))


def test_the_windows_of_mats_made_before_a_cancelling_can_be_told(
    spoiled: Shop, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One mat was made, and no more: its window is counted, and its drop-out leaves its area."""
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(spoiled.ledger.path))
    spoiled.resumed(["L1"])
    cancel_job(spoiled.ledger, 2)
    ran = command("ledger", "cut", "2")
    assert ran.status == 2
    assert "job 2 was cancelled, and what was cut of it by then is booked" in ran.err
    ran = command("ledger", "cut", "2", "--drop-out", "A=2 of 9 x 13")
    assert ran.status == 2
    assert "job 2 has 1 mat 'A'" in ran.err
    out = command("ledger", "cut", "2", "--windows", "--drop-out", "A=9 x 13").out
    assert "was cancelled when it was partly cut; added to what was made" in out
    state = spoiled.ledger.state()
    assert (state.jobs[2].windows, state.jobs[2].dropped) == ((("A", 1),), (("A", 1),))
    assert "nothing was recorded" in command("ledger", "cut", "2", "--windows").out
    assert kw.check_ledger(spoiled.ledger).faults == ()
    with pytest.raises(kw.LedgerError, match="job 1 went on as job 2"):
        kw.book_cut(spoiled.ledger, 1, windows=True)


def _panels(folder: Path, on_hand: int) -> Shop:
    """Plan six 11 x 17 mats from a 44 x 90 sheet whose long edges the tool cannot trim at once."""
    sheet = size("44 x 90")
    half = EIGHTH * 4
    board = kw.Board(
        BOARD,
        kw.Tool("cutter", longest_cut=EIGHTH * 8 * 50),
        (kw.SheetSize(sheet, Fraction(30), on_hand=on_hand, buyable=False),),
        kw.Trim(half, half, half, half),
        grade=kw.Grade.COTTON,
    )
    ledger = Ledger(folder / "rack.db")
    ledger.begin()
    add_sheets(ledger, BOARD, sheet, on_hand)
    show = folder / "show"
    show.mkdir(parents=True)
    offer = kw.offered(ledger, order(mats("A", 6, "11 x 17"), board=board), show)
    booked(ledger, order(mats("A", 6, "11 x 17"), board=board), str(show))
    plan = kw.make_plan(offer.order)
    assert isinstance(plan, kw.Plan)
    (show / "plan.json").write_text(kw.plan_to_json(plan), encoding="utf-8")
    return Shop(ledger, show)


def test_a_part_with_its_edges_on_is_booked_whole(tmp_path: Path) -> None:
    """Cuts 1 and 2 take the short edges off; the rest takes the long ones off, accounted for."""
    shop = _panels(tmp_path, 1)
    resumed, rest = shop.resumed(["L1:1-2"])
    assert isinstance(resumed.plan, kw.Plan)
    assert any(item.untrimmed for item in resumed.plan.boards[0].stock)
    assert resumed.plan.boards[0].sheets == 0
    layout = resumed.plan.boards[0].layouts[0]
    again, last = rest.resumed([f"{layout.id}:1-2"], name="last")
    assert isinstance(again.plan, kw.Plan)
    assert again.plan.boards[0].sheets == 0
    kw.book_cut(shop.ledger, kw.job_named(shop.ledger, str(last.file)))
    assert _pieces(shop.ledger) == Counter(A=6)
    assert kw.check_ledger(shop.ledger).faults == ()
    assert shop.ledger.state().sheets[BOARD, size("44 x 90")] == 0


def test_sheets_begun_before_the_plan_are_not_there_again(tmp_path: Path) -> None:
    """Of one sheet, begun in the first plan, all is spoiled in the second: there is no other.

    The ledger counts, so one that was fetched is put on its rack; then it is used.
    """
    _, rest = _panels(tmp_path, 1).resumed(["L1:1-2"])
    plan = kw.read_plan(rest.file)
    layout = plan.boards[0].layouts[0]

    def resumed(more: tuple[str, ...] = ()) -> kw.Plan | kw.NoPlan | None:
        audited = kw.verify_plan(rest.file)
        before = kw.resumable(rest.ledger, rest.file, audited.plan)
        assert before is not None
        ruined = [f"{layout.id}:1"]
        return kw.resume_plan(audited, [], [], ruined, holdings=before.holdings, more=more).plan

    failed = resumed()
    assert isinstance(failed, kw.NoPlan)
    add = f'`kerfwright ledger add "44 x 90 in" --board "{BOARD}" --sheets --qty 1`'
    (reason,) = failed.reasons
    assert reason.endswith(f"Once you have it, put it on the rack, {add}, and resume again.")
    with pytest.raises(kw.RefusedValue, match="names sheets that the ledger counts") as refusal:
        resumed(("44 x 90",))
    assert str(refusal.value).endswith(add)
    add_sheets(rest.ledger, BOARD, size("44 x 90"), 1)
    found = resumed()
    assert isinstance(found, kw.Plan)
    assert found.boards[0].sheets == 1


@pytest.mark.parametrize("done", [[], ["L1:1"], ["L1:1-2"]], ids=["none", "one", "two"])
def test_a_bad_edge_longer_than_the_tool_cuts_is_taken_off_part_by_part(
    tmp_path: Path, done: list[str]
) -> None:
    """The left edge of a 20 x 60 offcut is bad, and no page asks a 50 in cutter for more.

    The offcut is resumed like a sheet, booked whole, and what is kept of it has the edge on.
    """
    ledger = Ledger(tmp_path / "rack.db")
    ledger.begin()
    half = EIGHTH * 4
    add_offcuts(ledger, [measured("20 x 60", edges=(half, NO, NO, NO))])
    cutter = kw.Tool("cutter", longest_cut=INCH * 50)
    board = replace(_board(), tool=cutter, trim=kw.Trim(NO, NO, NO, NO))
    shop = _taken_up(ledger, tmp_path / "show", order(mats("A", 2, "15 x 19"), board=board))
    audited = kw.verify_plan(shop.file)
    (layout,) = _layouts(shop)
    assert not edges_off(layout, audited.plan.boards[0])
    lengths = [audited.plan.step * (cut.end - cut.start) for cut in layout.cuts]
    assert max(lengths) <= INCH * 50
    (told,) = tell(audited)
    assert not told.first
    if done:
        shop.resumed(done)
        cancelled = cancel_job(ledger, 2)
        _whole(ledger)
        kept = [one for one in ledger.state().offcuts.values() if one.here]
        assert any(any(one.edges) for one in kept)
        ledger.undo(cancelled.entry.number)
    kw.book_cut(ledger, max(ledger.state().jobs))
    assert _pieces(ledger) == Counter(A=2)
    _whole(ledger)
