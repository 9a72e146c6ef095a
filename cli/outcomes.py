"""How a command ends when it does not end well: one place for messages and exit statuses."""

from __future__ import annotations

from dataclasses import dataclass

import typer

from kerfwright.errors import AuditError, InputError, Interrupted, KerfwrightError

from .interrupts import CANNOT_PRINT, INTERRUPTED, STOPPED, Ended
from .terminal import CannotPrint

__all__ = ["BrokenLedger", "BrokenPlan", "Failure", "NothingFits", "failure_of"]

BAD_INPUT = 2
OWN_FAULT = 70  # EX_SOFTWARE of sysexits.h


class NothingFits(Exception):
    """There is no plan for the order; the reasons say why.

    Parameters
    ----------
    reasons
        A sentence each.
    proved
        Whether none exists; otherwise none was found.
    """

    def __init__(self, reasons: tuple[str, ...], *, proved: bool = True) -> None:
        self.reasons = reasons
        self.proved = proved
        super().__init__("\n".join(reasons))


class BrokenPlan(Exception):
    """The plan given to `verify` failed its audit."""

    def __init__(self, findings: tuple[str, ...]) -> None:
        self.findings = findings
        super().__init__("\n".join(findings))


class BrokenLedger(Exception):
    """The ledger failed its check."""

    def __init__(self, faults: tuple[str, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(faults))


@dataclass(frozen=True, slots=True)
class Failure:
    """What is told when a command fails.

    Attributes
    ----------
    status
        The exit status.
    kind
        What sort of failure, for a program.
    heading
        A first line to say before the messages; empty where they need none.
    messages
        One sentence each.
    proved
        Where there is no plan: whether none exists. None for other failures.
    """

    status: int
    kind: str
    heading: str
    messages: tuple[str, ...]
    proved: bool | None = None


TOO_EARLY = "Stopped before there was a plan, so nothing was written; let it run longer."


def failure_of(error: Exception) -> Failure:
    """Return what to tell about `error`."""
    match error:
        case NothingFits():
            return _no_plan(error)
        case BrokenPlan():
            heading = "This plan fails its audit; do not cut from it:"
            return Failure(1, "plan fails its audit", heading, error.findings)
        case BrokenLedger():
            heading = "This ledger is not whole; keep a copy, and go back to a backup:"
            return Failure(1, "ledger fails its check", heading, error.faults)
        case Interrupted():
            return Failure(INTERRUPTED, "interrupted", "", (TOO_EARLY,))
        case Ended():
            return Failure(INTERRUPTED, "interrupted", "", (STOPPED,))
        case CannotPrint():
            told = f"The summary could not be printed: {error}."
            return Failure(CANNOT_PRINT, "cannot print", "", (told,))
        case AuditError() | MemoryError():
            return _own_fault(error)
    return _misuse(error) or _own_fault(error)


def _no_plan(error: NothingFits) -> Failure:
    told = "no plan exists" if error.proved else "no plan was found"
    return Failure(1, told, f"{told.capitalize()}:", error.reasons, proved=error.proved)


def _misuse(error: Exception) -> Failure | None:
    match error:
        case typer.TyperException():
            return Failure(BAD_INPUT, "bad usage", "", (_usage(error),))
        case InputError():
            return Failure(BAD_INPUT, "bad input", "", tuple(map(str, error.faults)))
        case OSError():
            return Failure(BAD_INPUT, "bad input", "", (_system(error),))
        case KerfwrightError():
            return Failure(BAD_INPUT, "bad input", "", (str(error),))
    return None


def _usage(error: typer.TyperException) -> str:
    """Return a usage error in one line, with where to read on."""
    said = " ".join(error.format_message().split()).replace("Value error, ", "")
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "kerfwright"
    return f"{said.removesuffix('.')}; see {command} --help"


def _system(error: OSError) -> str:
    reason = error.strerror or str(error)
    return f"{error.filename}: {reason}" if error.filename else reason


def _own_fault(error: Exception) -> Failure:
    findings = error.findings if isinstance(error, AuditError) else ()
    told = (
        f"kerfwright itself failed: {_what(error)}. Please report this, with your order file; "
        "with KERFWRIGHT_TRACEBACK=1 set, the next run shows where it happened."
    )
    return Failure(OWN_FAULT, "internal error", "", (told, *findings))


def _what(error: Exception) -> str:
    match error:
        case AuditError():
            return "the plan that it made did not pass its own audit, and was thrown away"
        case MemoryError():
            return "the memory ran out"
        case _:
            return " ".join(f"{type(error).__name__}: {error}".split())
