"""Where the ledger is kept; asked of every plan, so it loads nothing else of this room."""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["ENVIRONMENT", "default_path"]

ENVIRONMENT = "KERFWRIGHT_LEDGER"


def default_path() -> Path:
    """Return where the ledger is kept: as the environment says, else in the user's data folder."""
    named = os.environ.get(ENVIRONMENT, "").strip()
    if named:
        return Path(named)
    from platformdirs import user_data_path

    return user_data_path("kerfwright", appauthor=False) / "ledger.db"
