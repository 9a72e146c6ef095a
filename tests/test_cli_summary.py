"""The summary: what it looks like in a pipe and on a terminal."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from conftest import Command

import kerfwright as kw
from kerfwright.cli import summary, terminal


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
    assert f"{files[3]} to 8.png" in summary.summary_text(small_audited, files)


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
