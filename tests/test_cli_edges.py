"""The command in a process of its own: pipes, terminals, signals, and what it loads."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import kerfwright as kw

HEAVY = ["ortools", "matplotlib", "shapely", "openpyxl", "numpy", "pandas", "rich"]

# A command line whose planning waits for somebody to stop it, then gives the plan in argv[1],
# or, where that is "-", finds none. It says on standard error when it has begun.
WAITING = """\
import sys, time
import kerfwright as kw
from kerfwright.cli.main import main
from kerfwright.plan.model import Stop
from dataclasses import replace

def make_plan(order, watch):
    print("planning", file=sys.stderr, flush=True)
    while watch.stop() is None or {deaf}:
        time.sleep(0.01)
    if given == "-":
        raise kw.Interrupted
    return replace(kw.read_plan(given), stopped=watch.stop())

def write_outputs(audited, folder, draw):
    folder.mkdir()
    return ()

given = sys.argv.pop(1)
vars(kw).update(make_plan=make_plan, load_order=lambda *_, **__: None, write_outputs=write_outputs)
main()
"""


def python(*arguments: object, **options: object) -> subprocess.CompletedProcess[str]:
    """Run this Python and return how it ended, with its output as text."""
    line = [sys.executable, *map(str, arguments)]
    return subprocess.run(line, capture_output=True, text=True, check=False, **options)  # type: ignore[call-overload, no-any-return]


def waiting(
    given: object, folder: Path, *options: str, deaf: bool = False
) -> subprocess.Popen[str]:
    """Start the command line that waits, and return once it has begun to plan."""
    source = WAITING.replace("{deaf}", str(deaf))
    line = [sys.executable, "-c", source, str(given), "plan", "show.toml", "--out", str(folder)]
    process = subprocess.Popen(
        [*line, *options], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stderr is not None
    assert process.stderr.readline() == "planning\n"
    return process


@pytest.fixture
def plan_file(small_plan: kw.Plan, tmp_path: Path) -> Path:
    """Write the worked example to a file."""
    path = tmp_path / "plan.json"
    path.write_text(kw.plan_to_json(small_plan), encoding="utf-8")
    return path


@pytest.mark.parametrize("arguments", [["--help"], ["plan", "--help"], ["--version"]])
def test_help_is_instant(arguments: list[str]) -> None:
    """Help and version load none of the heavy packages, the summary's included."""
    source = (
        "import sys\n"
        "from kerfwright.cli.main import run\n"
        f"assert run({arguments!r}) == 0\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
    )
    assert python("-c", source).stderr == "[]\n"


def test_an_order_with_faults_is_refused_before_anything_heavy_is_loaded(tmp_path: Path) -> None:
    """Neither the solver nor the drawing package is loaded to say that an order is wrong."""
    (tmp_path / "show.toml").write_text("[[mat]]\nqty = 1\n")
    source = (
        "import sys\n"
        "from kerfwright.cli.main import run\n"
        f"status = run(['plan', {str(tmp_path / 'show.toml')!r}])\n"
        "print(status, [n for n in ('ortools', 'matplotlib', 'shapely') if n in sys.modules])\n"
    )
    assert python("-c", source).stdout == "2 []\n"


def test_the_command_is_a_module_too() -> None:
    """``python -m kerfwright.cli`` is the same command."""
    ran = python("-m", "kerfwright.cli", "--version")
    assert (ran.returncode, ran.stdout) == (0, f"kerfwright {kw.__version__}\n")


def test_a_terminal_of_few_characters_gets_plainer_ones(
    small_plan: kw.Plan, tmp_path: Path
) -> None:
    """In an ASCII terminal the summary is whole, a name's unknown letters apart."""
    path = tmp_path / "plan.json"
    text = kw.plan_to_json(small_plan).replace("warm white", "墨 × warm")
    path.write_text(text, encoding="utf-8")
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    ran = python("-m", "kerfwright.cli", "verify", path, env=environment)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "? x warm rag 4-ply" in ran.stdout


def test_a_reader_who_leaves_breaks_nothing(plan_file: Path) -> None:
    """With the other end of the pipe closed there is no traceback, and the status stands."""
    reading, writing = os.pipe()
    os.close(reading)
    line = [sys.executable, "-m", "kerfwright.cli", "verify", str(plan_file)]
    ran = subprocess.run(line, stdout=writing, stderr=subprocess.PIPE, text=True, check=False)
    os.close(writing)
    assert (ran.returncode, ran.stderr) == (0, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_summary_that_cannot_be_printed_is_told(plan_file: Path) -> None:
    """Standard output on a full disk gives status 74 and one line."""
    line = [sys.executable, "-m", "kerfwright.cli", "verify", str(plan_file)]
    with Path("/dev/full").open("w") as full:
        ran = subprocess.run(line, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert ran.returncode == 74
    assert ran.stderr == "The summary could not be printed: No space left on device.\n"


def test_a_pipe_gets_neither_colour_nor_progress(plan_file: Path, tmp_path: Path) -> None:
    """Into a pipe there goes no escape sequence, on either stream."""
    process = waiting(plan_file, tmp_path / "out", "--seconds", "0.1")
    out, err = process.communicate(timeout=60)
    assert process.returncode == 0
    assert "\x1b" not in out + err
    assert "stopped by the clock" in out


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C cannot be sent to one process there")
def test_an_interrupt_gives_the_best_plan_so_far(plan_file: Path, tmp_path: Path) -> None:
    """Ctrl-C while planning ends with status 0 and a plan that says it was stopped."""
    process = waiting(plan_file, tmp_path / "out")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    assert "stopped by hand" in out


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C cannot be sent to one process there")
def test_an_interrupt_before_any_plan_has_its_own_status(tmp_path: Path) -> None:
    """Ctrl-C before a plan is found ends with status 130, one message and no file."""
    process = waiting("-", tmp_path / "out")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (130, "")
    assert err.startswith("Stopped before there was a plan")
    assert not (tmp_path / "out").exists()


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C cannot be sent to one process there")
def test_a_second_interrupt_ends_at_once(tmp_path: Path) -> None:
    """If planning does not heed the first Ctrl-C, a second ends the process all the same."""
    process = waiting("-", tmp_path / "out", deaf=True)
    process.send_signal(signal.SIGINT)
    with pytest.raises(subprocess.TimeoutExpired):  # the first is not enough
        process.wait(timeout=1)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (130, "")
    assert "Traceback" not in err


@pytest.mark.skipif(os.name == "nt", reason="there is no such signal there")
def test_being_told_to_end_leaves_nothing_behind(tmp_path: Path) -> None:
    """SIGTERM ends the process with its customary status, without a traceback or a file."""
    process = waiting("-", tmp_path / "out", deaf=True)
    process.terminate()
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out, err) == (128 + signal.SIGTERM, "", "")
    assert [*tmp_path.iterdir()] == []
