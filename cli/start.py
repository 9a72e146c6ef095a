"""Where the command begins: Ctrl-C is heard before anything that takes time is loaded."""

from __future__ import annotations

import sys

__all__ = ["main"]


def main() -> None:
    """Run the command line of this process, and end it with the exit status."""
    try:
        from .interrupts import HAND

        HAND.listen()
        status = _status()
        HAND.deafen()
    except KeyboardInterrupt:  # before anybody listened
        from .interrupts import HAND

        HAND.leave()
    _end(status)


def _status() -> int:
    from .main import run

    try:
        return run(sys.argv[1:])
    except SystemExit as ending:
        return ending.code if isinstance(ending.code, int) else 1


def _end(status: int) -> None:
    import os
    import threading

    if threading.active_count() > 1:
        os._exit(status)  # a solver given up in its thread cannot be ended otherwise
    sys.exit(status)
