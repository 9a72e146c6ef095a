"""The command in a process of its own: pipes, terminals, signals, and what it loads."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import kerfwright as kw

HEAVY = ["ortools", "matplotlib", "shapely", "openpyxl", "numpy", "pandas", "rich"]

# A command line that stops at one place, says so on standard error, and goes on when `signals` have
# come, or at "planning" also when the clock strikes. The plan is the one in the file `given` or,
# where that is "-", none is found.
WAITING = """\
import sys, time
from dataclasses import replace
from types import SimpleNamespace
import kerfwright as kw
from kerfwright.cli import plan, start
from kerfwright.cli.interrupts import HAND

given, where, signals = sys.argv.pop(1), sys.argv.pop(1), int(sys.argv.pop(1))
audit_plan, write_outputs, say = kw.audit_plan, kw.write_outputs, plan.say

def reach(place, gone_on=lambda: False):
    global where
    if place != where:
        return
    where = None
    print(place, file=sys.stderr, flush=True)
    while len(HAND.came) < signals and not gone_on():
        time.sleep(0.01)

def make_plan(order, watch):
    reach("planning", lambda: watch.stop() is kw.Stop.SECONDS)
    if given == "-":
        raise kw.Interrupted
    return replace(kw.read_plan(given), stopped=watch.stop() or kw.Stop.DONE)

def audit(made):
    reach("auditing")
    return audit_plan(made)

def write(audited, folder, draw, between):
    def paused():
        reach("drawing")
        between()
    return write_outputs(audited, folder, draw, between=paused)

def told(text):
    reach("telling")
    say(text)

plan.say = told
vars(kw).update(make_plan=make_plan, audit_plan=audit, write_outputs=write)
kw.load_order = lambda *_, **__: SimpleNamespace(pieces=())
start.main()
"""
NEVER = 99  # more signals than any test sends
STOPPED = "Stopped at once; no file was written or changed.\n"
needs_signals = pytest.mark.skipif(
    os.name == "nt", reason="a signal cannot be sent to one process there"
)


def python(*arguments: object, **options: object) -> subprocess.CompletedProcess[str]:
    """Run this Python and return how it ended, with its output as text."""
    line = [sys.executable, *map(str, arguments)]
    return subprocess.run(line, capture_output=True, text=True, check=False, **options)  # type: ignore[call-overload, no-any-return]


def waiting(
    given: object, folder: Path, *options: str, at: str = "planning", signals: int = 1
) -> subprocess.Popen[str]:
    """Start the command line that waits, and return once it has come to the place."""
    command = ["plan", "show.toml", "--out", str(folder), *options]
    process = begun([sys.executable, "-c", WAITING, str(given), at, str(signals), *command])
    assert process.stderr is not None
    assert process.stderr.readline() == f"{at}\n"
    return process


def begun(line: list[str]) -> subprocess.Popen[str]:
    """Start a process with a pipe at each end."""
    pipe = subprocess.PIPE
    return subprocess.Popen(line, stdin=pipe, stdout=pipe, stderr=pipe, text=True)


def names_in(folder: Path) -> set[str]:
    """Return the names in a folder, hidden ones too."""
    return {path.name for path in folder.iterdir()}


def snapshot(folder: Path) -> dict[Path, int | None]:
    """Return all that lies in a folder, hidden or not, and when each file was written."""
    return {path: path.stat().st_mtime_ns if path.is_file() else None for path in folder.rglob("*")}


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


@needs_signals
def test_an_interrupt_gives_the_best_plan_so_far(plan_file: Path, tmp_path: Path) -> None:
    """Ctrl-C while planning ends with status 0 and a plan that says it was stopped."""
    process = waiting(plan_file, tmp_path / "out")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    assert "stopped by hand" in out


@needs_signals
def test_an_interrupt_before_any_plan_has_its_own_status(tmp_path: Path) -> None:
    """Ctrl-C before a plan is found ends with status 130, one message and no file."""
    process = waiting("-", tmp_path / "out")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (130, "")
    assert err.startswith("Stopped before there was a plan")
    assert names_in(tmp_path) == set()


@needs_signals
def test_a_second_interrupt_ends_at_once(tmp_path: Path) -> None:
    """If planning does not heed the first Ctrl-C, a second ends the process all the same."""
    process = waiting("-", tmp_path / "out", signals=NEVER)
    process.send_signal(signal.SIGINT)
    with pytest.raises(subprocess.TimeoutExpired):  # the first is not enough
        process.wait(timeout=1)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out, err) == (130, "", STOPPED)
    assert names_in(tmp_path) == set()


@needs_signals
def test_being_told_to_end_leaves_nothing_behind(tmp_path: Path) -> None:
    """SIGTERM ends planning with its customary status, without a traceback or a file."""
    process = waiting("-", tmp_path / "out", signals=NEVER)
    process.terminate()
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out, err) == (128 + signal.SIGTERM, "", "")
    assert names_in(tmp_path) == set()


@needs_signals
@pytest.mark.parametrize("at", ["auditing", "drawing", "telling"])
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_plan_that_is_made_is_kept(
    plan_file: Path, tmp_path: Path, at: str, number: signal.Signals
) -> None:
    """Once planning has ended, one request to end changes nothing: the plan is whole, status 0."""
    process = waiting(plan_file, tmp_path / "out", at=at)
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    assert "1 full sheet" in out
    assert "stopped" not in out
    assert names_in(tmp_path / "out") == {"plan.json", "cut-sheets.pdf", "cuts.csv", ".kerfwright"}


@needs_signals
@pytest.mark.parametrize("at", ["auditing", "drawing"])
@pytest.mark.parametrize("earlier", [False, True])
def test_a_second_interrupt_leaves_the_folder_as_it_was(
    plan_file: Path, tmp_path: Path, at: str, earlier: bool
) -> None:
    """Two requests before the files are in place end it all: status 130, and nothing changed."""
    folder = tmp_path / "jobs" / "show"
    if earlier:
        kw.write_outputs(kw.verify_plan(plan_file), folder)
    before = snapshot(tmp_path)
    process = waiting(plan_file, folder, "--json", at=at, signals=2)
    process.send_signal(signal.SIGTERM)
    with pytest.raises(subprocess.TimeoutExpired):  # the first is not enough
        process.wait(timeout=0.5)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (130, STOPPED)
    assert json.loads(out)["messages"] == [STOPPED.rstrip()]
    assert snapshot(tmp_path) == before


@needs_signals
def test_a_summary_that_hangs_can_be_ended(plan_file: Path, tmp_path: Path) -> None:
    """Where the files are there and printing hangs, a second Ctrl-C ends it and says so."""
    process = waiting(plan_file, tmp_path / "out", at="telling", signals=NEVER)
    process.send_signal(signal.SIGINT)
    with pytest.raises(subprocess.TimeoutExpired):
        process.wait(timeout=0.5)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (74, "")
    assert err == "The summary could not be printed: stopped. The plan's files are written.\n"
    assert names_in(tmp_path / "out") == {"plan.json", "cut-sheets.pdf", "cuts.csv", ".kerfwright"}


# The command line, held up where `module` is first asked for. Ctrl-C is heard as at a terminal,
# though the tests be run as a job in the background, which hears none.
LOADING = """\
import signal, sys, time
from importlib.abc import MetaPathFinder
signal.signal(signal.SIGINT, signal.default_int_handler)
from kerfwright.cli.start import main

class Slow(MetaPathFinder):
    def find_spec(self, name, path, target=None):
        global module
        if name == module:
            module = None
            print("loading", file=sys.stderr, flush=True)
            time.sleep(60)

module = sys.argv.pop(1)
sys.meta_path.insert(0, Slow())
main()
"""


@needs_signals
@pytest.mark.parametrize(
    "module", ["kerfwright.cli.interrupts", "kerfwright.cli.main", "typer", "kerfwright.readers"]
)
def test_an_interrupt_is_heard_from_the_first_moment(module: str, tmp_path: Path) -> None:
    """Ctrl-C while the command still loads ends with status 130 and one message."""
    line = [sys.executable, "-c", LOADING, module, "plan", str(tmp_path / "show.toml")]
    process = begun(line)
    assert process.stderr is not None
    assert process.stderr.readline() == "loading\n"
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out, err) == (130, "", STOPPED)


@needs_signals
@pytest.mark.parametrize(("argument", "status"), [("--version", 0), ("--nope", 2)])
def test_an_interrupt_at_the_very_end_changes_nothing(argument: str, status: int) -> None:
    """Ctrl-C while the process winds up, everything being said, leaves its exit status alone."""
    source = (
        "import atexit, sys\n"
        "from kerfwright.cli.start import main\n"
        "atexit.register(lambda: print('ending', flush=True) or sys.stdin.read())\n"
        "main()\n"
    )
    process = begun([sys.executable, "-c", source, argument])
    assert process.stdout is not None
    while process.stdout.readline() != "ending\n":
        pass
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == status
    assert "Traceback" not in err
