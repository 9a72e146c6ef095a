"""A page that is printed, or written where ``--write`` says."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["printed_or_written"]


def printed_or_written(page: Callable[[], str], what: str) -> int:
    """Make a page as the command line asks; return the command's exit status.

    Parameters
    ----------
    what
        What the command does, for its help.
    """
    parser = argparse.ArgumentParser(description=what)
    parser.add_argument("--write", type=Path, help="write the page there")
    asked = parser.parse_args()
    text = page()
    if asked.write is None:
        print(text)
    else:
        asked.write.write_text(text, encoding="utf-8")
    return 0
