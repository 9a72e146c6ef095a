"""Planning is watched and stopped through one small object."""

from __future__ import annotations

import signal
import threading

import pytest

import kerfwright as kw
from kerfwright.cli.interrupts import Ended, Interrupts
from kerfwright.cli.watch import Watcher, told, watched


def test_nobody_stops_what_nobody_stopped() -> None:
    """Without an interrupt or a limit there is no reason to stop."""
    assert Watcher().stop() is None
    assert Watcher(seconds=1e9).stop() is None


def test_the_clock_stops_planning() -> None:
    """Once the seconds have passed, that is the reason to stop."""
    assert Watcher(seconds=1e-9).stop() is kw.Stop.SECONDS


@pytest.mark.parametrize(
    ("seconds", "sizes", "end"),
    [(1.0, 1, 0.5), (2.0, 5, 1.0), (60.0, 5, 59.0), (60.0, 55, 56.0), (4.0, 55, 2.0)],
)
def test_some_of_the_time_is_kept_for_the_pages(
    seconds: float, sizes: int, end: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half of the seconds at most, the more the more sizes, is left when planning is to end."""
    now = 1000.0
    monkeypatch.setattr("kerfwright.cli.watch.time.monotonic", lambda: now)
    watcher = Watcher(seconds, sizes=sizes)
    assert watcher.seconds_left() == pytest.approx(end)
    now = 1000.0 + end - 0.01
    assert watcher.stop() is None
    now = 1000.0 + end
    assert watcher.stop() is kw.Stop.SECONDS


def test_an_interrupt_stops_planning_and_a_second_ends_it() -> None:
    """The first interrupt asks, whatever the clock says; the second ends."""
    hand = Interrupts()
    watcher = Watcher(1e-9, hand)
    hand.came.append(signal.SIGINT)
    watcher.heed()
    assert watcher.stop() is kw.Stop.INTERRUPTED
    hand.came.append(signal.SIGINT)
    with pytest.raises(Ended):
        watcher.heed()


def test_another_signal_ends_planning_with_its_own_status() -> None:
    """A request to end that is no Ctrl-C asks for no plan: 15 gives 128 + 15 = 143."""
    hand = Interrupts()
    watcher = Watcher(hand=hand)
    hand.came.append(signal.SIGTERM)
    assert watcher.stop() is None
    with pytest.raises(SystemExit, match="143"):
        watcher.heed()


def test_a_job_that_is_done_is_kept_whatever_was_asked_once() -> None:
    """A request that comes as the job ends is held; two of them end it all."""
    hand = Interrupts()

    def asked_to_end(_watch: kw.Watch) -> int:
        hand.came.append(signal.SIGTERM)
        return 7

    assert watched(asked_to_end, hand=hand) == 7
    hand.came.append(signal.SIGINT)
    with pytest.raises(Ended):
        hand.hold()


def test_a_watched_job_hands_back_what_it_made() -> None:
    """The job runs in a thread of its own, and its result or error comes out."""
    thread = watched(lambda _: threading.current_thread())
    assert thread is not threading.main_thread()

    def fails(_watch: kw.Watch) -> None:
        raise kw.Interrupted

    with pytest.raises(kw.Interrupted):
        watched(fails)


def test_a_job_can_be_watched_from_any_thread() -> None:
    """Outside the main thread, where no handler may be set, a job is run all the same."""
    results: list[int] = []
    thread = threading.Thread(target=lambda: results.append(watched(lambda _: 7)))
    thread.start()
    thread.join()
    assert results == [7]


def test_progress_is_told_in_a_line() -> None:
    """The line has the board, the best so far, the bound, and what is being tried."""
    first = kw.Progress("rag", None, 5, "first layouts")
    assert told(first) == "rag: no plan yet, at least 5 needed; first layouts"
    later = kw.Progress("rag", 6, 5, "one sheet fewer")
    assert told(later) == "rag: 6 full sheets so far, at least 5 needed; one sheet fewer"
    assert told(None)
