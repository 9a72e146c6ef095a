"""Text out, on whatever stands at the other end: a terminal, a pipe, a closed door."""

from __future__ import annotations

import codecs
import io
import os
import sys
from typing import TextIO

__all__ = ["CannotPrint", "complain", "prepare", "say", "width"]

# What to write for a character that the other end's encoding does not hold.
_PLAINER = {"≈": "~", "×": "x", "–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"',
            "″": '"', "…": ".", "·": "-", "é": "e", "ü": "u", "ö": "o", "ä": "a"}  # fmt: skip
WIDEST = 100


class CannotPrint(Exception):
    """The text could not be written out: the disk behind a redirection is full, say."""


def _plainer(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    missed = error.object[error.start : error.end]
    return "".join(_PLAINER.get(character, "?") for character in missed), error.end


def prepare() -> None:
    """Let both streams write plainer characters where their encoding lacks one."""
    codecs.register_error("kerfwright-plainer", _plainer)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="kerfwright-plainer")


def say(text: str) -> None:
    """Write `text` and a newline to standard output."""
    _write(sys.stdout, text)


def complain(text: str) -> None:
    """Write `text` and a newline to standard error."""
    _write(sys.stderr, text)


def _write(stream: TextIO | None, text: str) -> None:
    if stream is None:  # started without one
        return
    try:
        stream.write(text + "\n")
        stream.flush()
    except BrokenPipeError:
        _deafen(stream)
    except OSError as error:
        _deafen(stream)
        raise CannotPrint(error.strerror or str(error)) from error


def _deafen(stream: TextIO) -> None:
    """Let nothing more reach a reader who has gone, the interpreter's last flush included."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def width() -> int | None:
    """Return how wide a line may be on standard output; None where nobody is looking."""
    if sys.stdout is None or not sys.stdout.isatty():
        return None
    try:
        columns = os.get_terminal_size(sys.stdout.fileno()).columns
    except OSError:
        columns = 80
    return max(30, min(columns or 80, WIDEST))
