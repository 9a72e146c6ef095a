"""Write the live ``--help`` texts into the docs: ``python docs/refresh_help.py``.

Each stands between a line ``<!-- help: plan -->`` and the end of the code block after it.
tests/test_docs.py fails while a page is stale.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

PAGES = tuple(Path(__file__).with_name(name) for name in ("command.md", "ledger.md"))
BLOCK = re.compile(r"(<!-- help: ?(?P<command>[\w ]*?) ?-->\n```text\n).*?(?=```)", re.DOTALL)


def help_text(command: str) -> str:
    """Return what ``kerfwright COMMAND --help`` prints on a terminal of 80 columns."""
    line = [sys.executable, "-m", "kerfwright.cli", *command.split(), "--help"]
    environment = {**os.environ, "COLUMNS": "80", "PYTHONIOENCODING": "utf-8"}
    ran = subprocess.run(  # noqa: S603  this very Python, with our own arguments
        line, env=environment, capture_output=True, encoding="utf-8", check=True
    )
    return ran.stdout.strip() + "\n"


def refreshed(page: str) -> str:
    """Return the page with every help text as it is now."""
    return BLOCK.sub(lambda block: block[1] + help_text(block["command"]), page)


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(refreshed(page.read_text(encoding="utf-8")), encoding="utf-8")
