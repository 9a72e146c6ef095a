"""Run the planning while somebody watches: progress on a terminal, Ctrl-C, and the clock."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, wait
from contextlib import nullcontext
from typing import TYPE_CHECKING, TypeVar

from kerfwright.plan.model import Stop
from kerfwright.watching import Progress, Watch

from .interrupts import HAND, Interrupts

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from rich.text import Text

__all__ = ["Watcher", "watched"]

T = TypeVar("T")
GLANCE = 0.1  # seconds between looks at the planning thread
KEPT, KEPT_A_SIZE = 0.7, 0.06  # seconds; of many sizes there are many layouts, a page each
STACK = 16 * 2**20  # bytes; some systems give a thread far less than the main one, and CP-SAT digs


class Watcher:
    """Keep what planning last reported, and know whether it should stop.

    Parameters
    ----------
    seconds
        When all is to be done, from now on; None for whenever. Planning ends before that: half
        of it at most is kept for the order of the cuts, the audit and the pages, which take the
        longer the more sizes there are.
    sizes
        How many sizes the order has.
    hand
        What was asked of the process.
    """

    def __init__(
        self, seconds: float | None = None, hand: Interrupts = HAND, sizes: int = 0
    ) -> None:
        self.latest: Progress | None = None
        self._hand = hand
        self._deadline = None
        if seconds is not None:
            kept = min(KEPT + KEPT_A_SIZE * sizes, seconds / 2)
            self._deadline = time.monotonic() + seconds - kept

    @property
    def interrupted(self) -> bool:
        """Whether somebody asked for the best plan so far, by Ctrl-C."""
        return signal.SIGINT in self._hand.came

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

    def seconds_left(self) -> float | None:
        """Return how long it is until planning is to end; None for as long as it takes."""
        return None if self._deadline is None else self._deadline - time.monotonic()

    def heed(self) -> None:
        """End at once if that was asked: by a second Ctrl-C, or by anything but Ctrl-C.

        Raises
        ------
        Ended
            For a second Ctrl-C.
        SystemExit
            For another signal, with its customary status.
        """
        for number in self._hand.came:
            if number != signal.SIGINT:
                raise SystemExit(128 + number)
        self._hand.heed()


def watched(
    job: Callable[[Watch], T],
    seconds: float | None = None,
    hand: Interrupts = HAND,
    *,
    sizes: int = 0,
) -> T:
    """Return what `job` returns, letting a person watch and stop it.

    Of how many sizes the job is matters only to how the seconds are shared out.

    The job has a thread of its own, so that Ctrl-C is heard while the solver computes. Once it
    has ended, one request to end is held: what was found is to be kept.
    """
    watcher = Watcher(seconds, hand, sizes)
    hand.count()
    try:
        with _progress_shown(watcher):
            return _in_a_thread(lambda: job(watcher), watcher.heed)
    finally:
        hand.hold()


def _in_a_thread(job: Callable[[], T], heed: Callable[[], None]) -> T:
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
        heed()
        wait([outcome], timeout=GLANCE)
    return outcome.result()


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
