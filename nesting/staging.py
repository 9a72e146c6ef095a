"""A hidden folder to make files in before they are put in place; those of the dead cleared away.

Whoever is killed at work leaves such a folder behind. Each holds a file that its maker keeps
locked for as long as it lives, so that nobody else ever clears away what is still being made.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

__all__ = ["clear_dead", "staging"]

PREFIX = ".kerfwright-"
LOCK = "lock"
LONG_AGO = 7 * 24 * 3600  # seconds; nobody is at work on one folder for so long


@contextmanager
def staging(beside: Path) -> Iterator[Path]:
    """Give a new hidden folder in the folder `beside`, and clear it away in the end."""
    stage = Path(tempfile.mkdtemp(prefix=PREFIX, dir=beside))
    try:
        with _held(stage):
            yield stage
    finally:
        shutil.rmtree(stage, ignore_errors=True)


@contextmanager
def _held(stage: Path) -> Iterator[None]:
    """Keep a lock for as long as this process lives; it has its name only once it is locked."""
    with (stage / "unlocked").open("x", encoding="utf-8") as file:
        file.write(_computer())
        file.flush()
        if _locked(file):
            Path(file.name).rename(stage / LOCK)
        yield


def _computer() -> str:
    return "" if sys.platform == "win32" else os.uname().nodename


def _locked(file: IO[str]) -> bool:
    """Lock a file, and return whether that was possible: its maker is dead then."""
    if sys.platform == "win32":
        return False  # the age of a folder tells there
    import fcntl

    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def clear_dead(folders: Iterable[Path]) -> None:
    """Clear away what killed processes left in some folders; what cannot be is left there."""
    for folder in dict.fromkeys(folders):
        with suppress(OSError):
            for stage in [*folder.glob(f"{PREFIX}*")]:
                _clear(stage)


def _clear(stage: Path) -> None:
    if stage.is_symlink() or not stage.is_dir():
        return
    try:
        file = (stage / LOCK).open("r+", encoding="utf-8")
    except OSError:
        if _is_old(stage):
            shutil.rmtree(stage, ignore_errors=True)
        return
    with file:
        # Not every disk in a network tells one computer what another has locked.
        here = file.read() == _computer()
        if (here or _is_old(stage)) and _locked(file):
            shutil.rmtree(stage, ignore_errors=True)


def _is_old(stage: Path) -> bool:
    with suppress(OSError):
        return time.time() - stage.lstat().st_mtime > LONG_AGO
    return False
