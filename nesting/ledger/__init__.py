"""The ledger room: every offcut, sheet and slip sheet, in one SQLite file of dated events.

Names are loaded when they are first used: where there is no ledger, a plan pays for none of it.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .book import Entry, Ledger
    from .check import Balance, Checked, check_ledger
    from .jobs import Booked, book_cut, cancel_job, job_named, set_aside
    from .offer import Offer, Passed, offered
    from .place import ENVIRONMENT, default_path
    from .resuming import Resuming, go_on, resumable
    from .sentences import Reserved, reserved
    from .windows import DropOut

__all__ = [
    "ENVIRONMENT",
    "Balance",
    "Booked",
    "Checked",
    "DropOut",
    "Entry",
    "Ledger",
    "Offer",
    "Passed",
    "Reserved",
    "Resuming",
    "book_cut",
    "cancel_job",
    "check_ledger",
    "default_path",
    "go_on",
    "job_named",
    "offered",
    "reserved",
    "resumable",
    "set_aside",
]

_HOMES = {
    "book": ("Entry", "Ledger"),
    "check": ("Balance", "Checked", "check_ledger"),
    "jobs": ("Booked", "book_cut", "cancel_job", "job_named", "set_aside"),
    "offer": ("Offer", "Passed", "offered"),
    "place": ("ENVIRONMENT", "default_path"),
    "resuming": ("Resuming", "go_on", "resumable"),
    "sentences": ("Reserved", "reserved"),
    "windows": ("DropOut",),
}
_HOME = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> object:
    """Load a name of this room when it is first used (PEP 562)."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value: object = getattr(import_module(f".{_HOME[name]}", __name__), name)
    globals()[name] = value
    return value
