"""`kerfwright verify`: a plan is checked from its file alone."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import Command

import kerfwright as kw


@pytest.fixture
def plan_file(small_plan: kw.Plan, tmp_path: Path) -> Path:
    """Write the worked example to a file."""
    path = tmp_path / "plan.json"
    path.write_text(kw.plan_to_json(small_plan), encoding="utf-8")
    return path


def spoil(path: Path, old: str, new: str) -> None:
    """Change one thing in the file; it must be there."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_plan_that_holds_is_told_with_its_facts(command: Command, plan_file: Path) -> None:
    """With --json a plan that passes gives its facts, and no files."""
    told = json.loads(command("verify", plan_file, "--json").out)
    assert (told["exit_status"], told["files"]) == (0, [])
    assert told["boards"][0]["rechecked"] is True


def test_a_plan_that_fails_is_told_with_every_finding(command: Command, plan_file: Path) -> None:
    """A cut moved by a step gives status 1 and says not to cut from the plan."""
    spoil(plan_file, '"at": 4', '"at": 3')
    ran = command("verify", plan_file)
    heading, *findings = ran.err.splitlines()
    assert (ran.status, ran.out) == (1, "")
    assert heading == "This plan fails its audit; do not cut from it:"
    assert findings
    assert all(line.startswith("  ") for line in findings)


def test_failed_audits_are_told_to_programs_too(command: Command, plan_file: Path) -> None:
    """With --json the findings are on standard output as well."""
    spoil(plan_file, '"sheets": 1', '"sheets": 2')
    told = json.loads(command("verify", plan_file, "--json").out)
    assert (told["exit_status"], told["failure"]) == (1, "plan fails its audit")
    assert told["messages"]


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", '{"format": "other"}', "[" * 100_000])
def test_a_file_that_is_no_plan_is_bad_input(command: Command, tmp_path: Path, text: str) -> None:
    """What is no plan.json at all gives status 2 and a message that names the file."""
    path = tmp_path / "plan.json"
    path.write_text(text)
    ran = command("verify", path)
    assert (ran.status, ran.out) == (2, "")
    assert "plan.json" in ran.err
    assert "Traceback" not in ran.err


def test_missing_plans_and_folders_are_bad_input(command: Command, tmp_path: Path) -> None:
    """A file that is not there, and a folder, are each named with status 2."""
    for path in (tmp_path / "gone.json", tmp_path):
        ran = command("verify", path)
        assert ran.status == 2
        assert path.name in ran.err
