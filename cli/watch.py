"""Run the planning while somebody watches: progress on a terminal, Ctrl-C, and the clock."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, wait
from contextlib import contextmanager, nullcontext
from types import FrameType
from typing import TYPE_CHECKING, TypeVar

from kerfwright.plan.model import Stop
from kerfwright.watching import Progress, Watch

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from rich.text import Text

__all__ = ["Watcher", "watched"]

T = TypeVar("T")
GLANCE = 0.1  # seconds between looks at the planning thread
STACK = 16 * 2**20  # bytes; some systems give a thread far less than the main one, and CP-SAT digs


class Watcher:
    """Keep what planning last reported, and know whether it should stop.

    Parameters
    ----------
    seconds
        When to stop, from now on; None for never.
    """

    def __init__(self, seconds: float | None = None) -> None:
        self.latest: Progress | None = None
        self.interrupted = False
        self._deadline = None if seconds is None else time.monotonic() + seconds

    def report(self, progress: Progress) -> None:
        """Take note of `progress`."""
        self.latest = progress

    def stop(self) -> Stop | None:
        """Return why planning should end now, or None."""
        if self.interrupted:
            return Stop.INTERRUPTED
        if self._deadline is not None and time.monotonic() >= self._deadline:
            return Stop.SECONDS
        return None

    def interrupt(self, number: int = 0, frame: FrameType | None = None) -> None:  # noqa: ARG002  a signal handler's
        """Ask for the best plan so far; the second time, for an end at once."""
        if self.interrupted:
            raise KeyboardInterrupt
        self.interrupted = True


def watched(job: Callable[[Watch], T], seconds: float | None = None) -> T:
    """Return what `job` returns, letting a person watch and stop it.

    The job has a thread of its own, so that Ctrl-C is heard while the solver computes.
    """
    watcher = Watcher(seconds)
    with _hearing_interrupts(watcher), _progress_shown(watcher):
        return _in_a_thread(lambda: job(watcher))


def _in_a_thread(job: Callable[[], T]) -> T:
    outcome: Future[T] = Future()

    def run() -> None:
        try:
            outcome.set_result(job())
        except BaseException as error:  # handed on to the thread that waits
            outcome.set_exception(error)

    usual = threading.stack_size(STACK)
    try:
        threading.Thread(target=run, daemon=True).start()
    finally:
        threading.stack_size(usual)
    while not outcome.done():
        wait([outcome], timeout=GLANCE)
    return outcome.result()


@contextmanager
def _hearing_interrupts(watcher: Watcher) -> Iterator[None]:
    if threading.current_thread() is not threading.main_thread():
        yield  # only the main thread may set handlers
        return
    before = signal.signal(signal.SIGINT, watcher.interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _progress_shown(watcher: Watcher) -> AbstractContextManager[object]:
    """Return a line on standard error that follows the planning; nothing in a pipe."""
    if sys.stderr is None or not sys.stderr.isatty():
        return nullcontext()
    from rich.console import Console
    from rich.live import Live

    console = Console(stderr=True)
    return Live(
        get_renderable=lambda: _line(watcher), console=console, transient=True, refresh_per_second=4
    )


def _line(watcher: Watcher) -> Text:
    from rich.text import Text

    text = "Stopping; Ctrl-C again ends at once." if watcher.interrupted else told(watcher.latest)
    return Text(text, no_wrap=True, overflow="ellipsis")


def told(progress: Progress | None) -> str:
    """Return the progress line: board, best so far, bound, and what is being tried."""
    if progress is None:
        return "Reading the job..."
    sheets = "no plan yet" if progress.sheets is None else f"{progress.sheets} full sheets so far"
    least = f"at least {progress.sheets_lower_bound} needed"
    return f"{progress.board}: {sheets}, {least}; {progress.trying}"
