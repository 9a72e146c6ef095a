"""The hidden folder that files are made in: cleared away when its maker is dead, and not before."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

import kerfwright as kw
from kerfwright import staging
from kerfwright.ledger.exchange import write_text

AT_WORK = """
import sys, time
import kerfwright as kw
def stop():
    print("at work", flush=True)
    time.sleep(600)
audited = kw.verify_plan(sys.argv[1])
kw.write_outputs(audited, sys.argv[2], between=stop)
"""
WEEK = 7 * 24 * 3600


@pytest.fixture
def plan_file(small_plan: kw.Plan, tmp_path: Path) -> Path:
    """Write the worked example to a file."""
    path = tmp_path / "plan.json"
    path.write_text(kw.plan_to_json(small_plan), encoding="utf-8")
    return path


@pytest.fixture
def at_work() -> Iterator[list[subprocess.Popen[str]]]:
    """Give a list of processes that are ended with the test."""
    processes: list[subprocess.Popen[str]] = []
    yield processes
    for process in processes:
        process.kill()
        process.wait()
        assert process.stdout is not None
        process.stdout.close()


def _writing(plan_file: Path, folder: Path) -> subprocess.Popen[str]:
    """Start a process that writes a plan into a folder, and return while it is at its pages."""
    line = [sys.executable, "-c", AT_WORK, str(plan_file), str(folder)]
    process = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "at work\n"
    return process


def _stages(folder: Path) -> set[Path]:
    return set(folder.glob(".kerfwright-*"))


def _killed(process: subprocess.Popen[str]) -> None:
    process.send_signal(signal.SIGKILL)
    process.wait()


@pytest.mark.skipif(sys.platform == "win32", reason="there the age of a folder tells")
def test_what_a_killed_process_left_is_cleared_away(
    plan_file: Path, tmp_path: Path, at_work: list[subprocess.Popen[str]]
) -> None:
    """Two plans are being written into one folder, one is killed: the next clears that one's only.

    The killed one had begun beside the folder, which was not there yet.
    """
    folder = tmp_path / "show"
    at_work.append(_writing(plan_file, folder))
    (dead,) = _stages(tmp_path)
    _killed(at_work[0])
    folder.mkdir()
    at_work.append(_writing(plan_file, folder))
    (living,) = _stages(folder)
    at_work.append(_writing(plan_file, folder))
    (dead_too,) = _stages(folder) - {living}
    _killed(at_work[2])
    assert all(one.is_dir() for one in (dead, dead_too, living))
    kw.write_outputs(kw.verify_plan(plan_file), folder)
    assert (_stages(tmp_path), _stages(folder)) == (set(), {living})
    assert (living / "new" / "plan.json").is_file()
    _killed(at_work[1])
    kw.write_outputs(kw.verify_plan(plan_file), folder)
    assert _stages(folder) == set()
    assert {path.name for path in folder.iterdir()} == {
        "plan.json", "cut-sheets.pdf", "cuts.csv", ".kerfwright",
    }  # fmt: skip


def test_a_failed_plan_clears_nothing_away(plan_file: Path, tmp_path: Path) -> None:
    """What was killed in the middle of replacing files may hold the last copies of them."""
    folder = tmp_path / "show"
    kw.write_outputs(kw.verify_plan(plan_file), folder)
    left = folder / ".kerfwright-abc"
    left.mkdir()
    os.utime(left, (0, 0))
    (folder / "cuts.csv").write_text("mine")
    with pytest.raises(kw.InputError):
        kw.write_outputs(kw.verify_plan(plan_file), folder)
    assert left.is_dir()


def test_only_an_old_folder_without_a_lock_is_taken_for_dead(tmp_path: Path) -> None:
    """Its maker may be about to lock it; so may be another computer's, whose locks are not seen."""
    for name in ("fresh", "old", "elsewhere"):
        (tmp_path / f".kerfwright-{name}").mkdir()
    other = tmp_path / ".kerfwright-elsewhere" / "lock"
    other.write_text("another computer", encoding="utf-8")
    past = time.time() - WEEK - 3600
    os.utime(tmp_path / ".kerfwright-old", (past, past))
    target = tmp_path / "target"
    target.mkdir()
    (tmp_path / ".kerfwright-link").symlink_to(target)
    (tmp_path / ".kerfwright-file").touch()
    staging.clear_dead([tmp_path])
    names = {path.name.removeprefix(".kerfwright-") for path in tmp_path.iterdir()}
    assert names == {"fresh", "elsewhere", "link", "file", "target"}
    os.utime(other.parent, (past, past))
    staging.clear_dead([tmp_path])
    assert not other.parent.exists()


def test_the_living_keep_theirs_whatever_its_age(tmp_path: Path) -> None:
    """In one process too: a stage that is being used is left alone, and is gone when it ends."""
    with staging.staging(tmp_path) as stage:
        os.utime(stage, (0, 0))
        staging.clear_dead([tmp_path])
        assert stage.is_dir()
    assert _stages(tmp_path) == set()


def test_a_folder_that_is_gone_meanwhile_is_no_trouble(tmp_path: Path) -> None:
    """Two may clear at once."""
    staging.clear_dead([tmp_path / "nowhere"])
    shutil.rmtree(tmp_path)
    staging.clear_dead([tmp_path])


EXPORTING = """
import os, sys, time
from kerfwright.ledger import exchange
def stop(*_):
    print("at work", flush=True)
    time.sleep(600)
os.link = stop
exchange.write_text(exchange.Path(sys.argv[1]), "number\\n")
"""


def test_what_a_killed_export_left_is_cleared_away_by_the_next(
    tmp_path: Path, at_work: list[subprocess.Popen[str]]
) -> None:
    """The file is written whole or not at all, and nothing hidden stays beside it."""
    line = [sys.executable, "-c", EXPORTING, str(tmp_path / "rack.csv")]
    process = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
    at_work.append(process)
    assert process.stdout is not None
    assert process.stdout.readline() == "at work\n"
    write_text(tmp_path / "other.csv", "number\n")
    assert len(_stages(tmp_path)) == 1  # its maker is alive
    process.send_signal(signal.SIGKILL)
    process.wait()
    write_text(tmp_path / "rack.csv", "number\n")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["other.csv", "rack.csv"]
