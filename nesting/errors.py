"""Every exception that the library raises on purpose, alone here to avoid import loops."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "AuditError",
    "Fault",
    "InputError",
    "Interrupted",
    "KerfwrightError",
    "LedgerError",
    "RefusedValue",
]


class KerfwrightError(Exception):
    """Base of every error that kerfwright raises on purpose."""


class RefusedValue(KerfwrightError, ValueError):
    """A model object refused one of its fields at birth.

    Parameters
    ----------
    field
        The name of the field as a person writes it in an order file.
    value
        What was given.
    problem
        What is wrong with it, as a phrase: ``"is not a length"``.
    accepted
        What would do, as a phrase: ``"a length such as 16 1/8 or 413mm"``.
    """

    def __init__(self, field: str, value: object, problem: str, accepted: str) -> None:
        self.field = field
        self.value = value
        self.problem = problem
        self.accepted = accepted
        super().__init__(f"{field}: {value!r} {problem}; {accepted}")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with an input file, said so that a person can mend it.

    Attributes
    ----------
    where
        File and line, row or cell: ``"show.toml, line 12"`` or ``"show.csv, row 4"``.
    field
        The field at fault, such as ``"size"``; empty when the fault is the file's as a whole.
    value
        The value as written; empty when nothing was written.
    problem
        What is wrong, as a phrase.
    accepted
        What would be accepted, as a phrase.
    """

    where: str
    field: str
    value: str
    problem: str
    accepted: str

    def __str__(self) -> str:
        subject = " ".join(
            part for part in (self.field, repr(self.value) if self.value else "") if part
        )
        told = f"{subject} {self.problem}" if subject else self.problem
        return (
            f"{self.where}: {told}; {self.accepted}" if self.accepted else f"{self.where}: {told}"
        )


class InputError(KerfwrightError):
    """An input file cannot be used; every fault found in it is listed.

    Parameters
    ----------
    faults
        At least one fault, in the order of the file.
    """

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


class AuditError(KerfwrightError):
    """A plan failed its audit; it must not be shown, written or cut from.

    Parameters
    ----------
    findings
        What the audit found, each a full sentence naming the board, the layout and the culprit.
    codes
        The short name of each finding's kind, in the same order: ``"cut-too-long"``.
    """

    def __init__(self, findings: tuple[str, ...], codes: tuple[str, ...] = ()) -> None:
        self.findings = findings
        self.codes = codes
        super().__init__("\n".join(findings))


class Interrupted(KerfwrightError):
    """Planning was stopped before any plan was found."""


class LedgerError(KerfwrightError):
    """The ledger refuses what was asked of it, or cannot be used; it is as it was before."""
