"""Ctrl-C and requests to end: counted as they come, heeded only where nothing is half done.

One handler is set before anything slow is loaded, and stays. It never raises: an exception out of
nowhere can be lost in a weak reference's callback, or leave a file half moved. Where there is
nothing to tidy it ends the process itself; elsewhere it counts, and whoever works asks.
"""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType
from typing import NoReturn

__all__ = ["CANNOT_PRINT", "HAND", "INTERRUPTED", "STOPPED", "Ended", "Interrupts"]

INTERRUPTED = 130
CANNOT_PRINT = 74  # EX_IOERR of sysexits.h
STOPPED = "Stopped at once; no file was written or changed."
UNTOLD = "The summary could not be printed: stopped. The plan's files are written."
_AS_JSON = f"""\
{{
  "exit_status": {INTERRUPTED},
  "failure": "interrupted",
  "messages": [
    "{STOPPED}"
  ]
}}"""


class Ended(Exception):
    """Somebody asked a second time to end, before the plan's files were in place."""


class Interrupts:
    """What this process was asked to do by signals, and what one more would do.

    At first, one ends the process. `count`, `hold` and `written` change that as a plan comes
    nearer.

    Attributes
    ----------
    came
        The signals so far, by number, in order.
    """

    def __init__(self) -> None:
        self.came: list[int] = []
        self._enough: int | None = 1  # as many end the process; None: never by themselves
        self._written = False
        self._heard: list[int] = []

    def listen(self) -> None:
        """Hear Ctrl-C, and those requests to end that whoever started us left to us."""
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is None:
                continue
            if name == "SIGINT" or signal.getsignal(number) is not signal.SIG_IGN:
                signal.signal(number, self._hear)
                self._heard.append(number)

    def deafen(self) -> None:
        """Hear nothing more: how the process ends is settled."""
        for number in self._heard or [signal.SIGINT]:
            signal.signal(number, signal.SIG_IGN)

    def count(self) -> None:
        """From now on only count; whoever works asks."""
        self._enough = None

    def heed(self) -> None:
        """Raise `Ended` if somebody asked twice to end."""
        if len(self.came) >= 2:
            raise Ended

    def hold(self) -> None:
        """From now on let one request pass, the plan being nearly there; a second ends all.

        Raises
        ------
        Ended
            If there were two already.
        """
        self._enough = 2
        self.heed()

    def written(self) -> None:
        """From now on let one more request pass; another means that printing hangs."""
        self._written = True
        self._enough = len(self.came) + 2

    def leave(self) -> NoReturn:
        """End the process at once, and say so where a person did it."""
        self.deafen()
        if self._written:
            _write(sys.stderr, UNTOLD)
            os._exit(CANNOT_PRINT)
        if len(self.came) == 1 and self.came[0] != signal.SIGINT:
            os._exit(128 + self.came[0])
        _write(sys.stderr, STOPPED)
        if "--json" in sys.argv:
            _write(sys.stdout, _AS_JSON)
        os._exit(INTERRUPTED)

    def _hear(self, number: int, frame: FrameType | None) -> None:  # noqa: ARG002  a signal handler's
        self.came.append(number)
        if self._enough is not None and len(self.came) >= self._enough:
            self.leave()


def _write(stream: object, text: str) -> None:
    """Write past the stream, which may be in the middle of something."""
    try:
        os.write(stream.fileno(), f"{text}\n".encode("ascii"))  # type: ignore[attr-defined]
    except (AttributeError, OSError, ValueError):
        return  # nobody reads it


HAND = Interrupts()  # one for the process, as its signals are
