"""The ledger room: every offcut, sheet and slip sheet, in one SQLite file of dated events."""

from .book import ENVIRONMENT, Entry, Ledger, default_path
from .check import Balance, Checked, check_ledger
from .jobs import Booked, book_cut, cancel_job, job_named, set_aside
from .offer import Offer, Passed, offered
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
