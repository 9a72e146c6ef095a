"""The words of the summary: true of the plan, whatever the plan is like."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from conftest import Command

import kerfwright as kw
from kerfwright.cli import summary, terminal, wording


def facts_of(audited: kw.AuditedPlan, **changes: object) -> kw.BoardFacts:
    """Return the only board's facts, changed."""
    return replace(audited.facts[0], **changes)  # type: ignore[arg-type]


def board_of(audited: kw.AuditedPlan, **changes: object) -> kw.BoardPlan:
    """Return the only board's plan, changed."""
    return replace(audited.plan.boards[0], **changes)  # type: ignore[arg-type]


def proof(audited: kw.AuditedPlan, **changes: object) -> str:
    """Return the first sentence about the proof of the changed board."""
    return next(wording.proof(board_of(audited, **changes), facts_of(audited)))


def test_the_claim_is_no_stronger_than_the_plan(small_audited: kw.AuditedPlan) -> None:
    """Proved or not, by cost or by area: each has a sentence that says so much and no more."""
    area = {"aim": kw.Aim.AREA, "value": Fraction(480), "sheets": 6}
    small = small_audited
    assert proof(small) == "No plan can cost less, and none can use fewer."
    assert proof(small, sheets=2) == "No plan can cost less."
    assert proof(small, **area) == "No plan can use fewer."
    open_area = {**area, "proved_least": False, "sheets_lower_bound": 5}
    assert proof(small, **open_area) == "At least 5 are needed; fewer than 6 was not ruled out."
    open_cost = {"value": Fraction(43), "proved_least": False}
    said = "At least 21.50 must be spent; less than 43.00 was not ruled out."
    assert proof(small, **open_cost) == said


def test_sheets_of_several_sizes_are_not_counted_against_each_other(
    small_audited: kw.AuditedPlan,
) -> None:
    """Where the board comes in two sizes without prices, the claim is about area."""
    large = kw.StockItem(kw.Source(kw.SourceKind.SHEET, None, 10, 15), None, None)
    stock = (*small_audited.plan.boards[0].stock, large)
    area = {"aim": kw.Aim.AREA, "stock": stock}
    said = proof(small_audited, **area)
    assert said == "No plan can use less board in full sheets."
    said = proof(small_audited, **area, proved_least=False)
    assert said == "At least 1 is needed; less board than this was not ruled out."


def test_a_board_cut_from_offcuts_needs_no_proof(small_audited: kw.AuditedPlan) -> None:
    """Where no full sheet is taken, the summary says that none is needed."""
    assert proof(small_audited, sheets=0) == "No full sheet is needed."


def test_the_kind_of_proof_is_told(small_audited: kw.AuditedPlan) -> None:
    """Piece values that the audit priced again are told apart from a search."""
    board = board_of(small_audited)
    sentences = [*wording.proof(board, facts_of(small_audited, rechecked=True))]
    assert sentences[1] == "The bound was rechecked from the piece values in the plan."
    note = "every set of two layouts was tried."
    certificate = kw.Certificate(kw.CertificateKind.EXHAUSTION, {}, note)
    searched = board_of(small_audited, certificate=certificate)
    sentences = [*wording.proof(searched, facts_of(small_audited, rechecked=False))]
    assert sentences[1] == "Shown by search: every set of two layouts was tried."


def test_money_is_shown_in_cents_and_marked_where_that_rounds() -> None:
    """A third of one is marked as rounded; a half and a whole are not."""
    amounts = (Fraction(43, 2), Fraction(7), Fraction(1, 3), Fraction(0))
    assert [wording.money(amount) for amount in amounts] == ["21.50", "7.00", "≈0.33", "0.00"]


def test_offcuts_go_by_what_is_pencilled_on_them(small_audited: kw.AuditedPlan) -> None:
    """An offcut to take is named by its id and size; sheets are counted."""
    offcut = kw.Source(kw.SourceKind.OFFCUT, "7", 4, 8)
    sheet = small_audited.facts[0].sources[0].source
    uses = (kw.SourceUse(offcut, 1), kw.SourceUse(sheet, 2))
    taken = [
        *wording.take(facts_of(small_audited, sources=uses), wording.Ruler(small_audited.plan))
    ]
    assert taken == ["offcut 7 (16 x 32 in)", "2 sheets, 32 x 40 in"]


def test_what_is_left_is_told_with_its_layout(small_audited: kw.AuditedPlan) -> None:
    """Every offcut is told with its size and layout, then the share that goes to waste."""
    ruler = wording.Ruler(small_audited.plan)
    board = board_of(small_audited)
    assert [*wording.left(board, facts_of(small_audited), ruler)] == [
        "1 offcut, 16 x 20 in, from L1",
        "nothing wasted",
    ]
    areas = kw.Areas(sources=1000, scrap=20, trim=10, kerf=5)
    waste = [*wording.left(board, facts_of(small_audited, areas=areas), ruler)][-1]
    assert waste == "4% of what is taken goes in scrap, trim and kerf"  # 35 in 1000, to the even
    areas = kw.Areas(sources=1000, scrap=9)
    waste = [*wording.left(board, facts_of(small_audited, areas=areas), ruler)][-1]
    assert waste == "under 1% of what is taken goes in scrap, trim and kerf"


def test_a_plan_cut_short_says_so(small_audited: kw.AuditedPlan) -> None:
    """Ctrl-C and --seconds are each told; a finished plan says nothing of it."""
    said = {stop: [*wording.stopped(replace(small_audited.plan, stopped=stop))] for stop in kw.Stop}
    assert said[kw.Stop.DONE] == []
    assert "by hand" in said[kw.Stop.INTERRUPTED][0]
    assert "by the clock" in said[kw.Stop.SECONDS][0]


def test_each_tool_has_its_caution(small_audited: kw.AuditedPlan) -> None:
    """A knife's caution stands where a knife cuts, a saw's where a saw does."""
    knife = small_audited.plan
    saw = replace(knife, boards=(board_of(small_audited, tool=kw.PlanTool("saw", 1, None, 0)),))
    both = replace(knife, boards=knife.boards + saw.boards)
    assert [text[:5] for text in wording.cautions(knife)] == ["Knife"]
    assert [text[:4] for text in wording.cautions(saw)] == ["Saw:"]
    assert len([*wording.cautions(both)]) == 2


def test_a_long_line_is_wrapped_for_a_narrow_terminal(
    small_audited: kw.AuditedPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a terminal no line is wider than it; in a pipe no line is broken."""
    text = summary.summary_text(small_audited, (Path("show/plan.json"),))
    monkeypatch.setattr(summary, "width", lambda: 40)
    narrow = summary.summary_text(small_audited, (Path("show/plan.json"),))
    assert max(map(len, narrow.splitlines())) <= 40
    assert len(narrow.splitlines()) > len(text.splitlines())
    assert narrow.split() == text.split()


def test_names_with_brackets_and_breaks_are_shown_as_they_are(
    small_plan: kw.Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name such as [red] is no mark-up, and a line break in a name breaks no line."""
    monkeypatch.setattr(summary, "width", lambda: 80)
    audited = kw.audit_plan(replace(small_plan, order="[red]sale[/red]\n:smile:"))
    assert "[red]sale[/red] :smile:" in summary.summary_text(audited, ())


def test_many_images_are_told_by_the_first_and_the_last(small_audited: kw.AuditedPlan) -> None:
    """A page a line would bury the answer."""
    files = tuple(Path("show") / f"{n}.png" for n in range(1, 9))
    assert f"{files[2]} to 8.png" in summary.summary_text(small_audited, files)


def test_verify_says_what_it_checked(command: Command, small_plan: kw.Plan, tmp_path: Path) -> None:
    """A plan that passes is told with its answer and the number of cuts replayed."""
    (tmp_path / "plan.json").write_text(kw.plan_to_json(small_plan), encoding="utf-8")
    ran = command("verify", tmp_path / "plan.json")
    assert (ran.status, ran.err) == (0, "")
    assert "all 3 cuts replayed" in ran.out
    assert "No plan can cost less" in ran.out


def test_characters_that_the_terminal_lacks_have_plainer_ones() -> None:
    """A rounded length keeps its mark, and nothing is lost but the unknown."""
    terminal.prepare()
    text = "≈16 × 20 “warm” 墨"
    assert text.encode("ascii", "kerfwright-plainer") == b'~16 x 20 "warm" ?'
