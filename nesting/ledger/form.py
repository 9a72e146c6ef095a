"""The form of a ledger's file: what it ought to be, and where a file differs from it.

What a file holds is compared with a schema made anew in memory, statement by statement: SQLite
keeps the text of each, so that a trigger that was weakened or a view that was bent is seen.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from .schema import MIGRATIONS, TRACKING

__all__ = ["Form", "apply_script", "differences", "form_at", "form_of", "strangers"]

# The tables that are the same in every ledger of a version, and what of them is.
_CONSTANT = {
    "event_kinds": "SELECT event, meaning, state, sheets, slips FROM event_kinds ORDER BY event",
    "schema_migrations": "SELECT version, name FROM schema_migrations ORDER BY version",
}


@dataclass(frozen=True, slots=True)
class Form:
    """The tables, indexes, triggers and views of a file, and the rows that never change.

    Attributes
    ----------
    made
        Kind and name of each, with the statement that made it.
    rows
        Of each constant table, its rows; empty where there is no such table.
    """

    made: dict[tuple[str, str], str]
    rows: dict[str, tuple[tuple[object, ...], ...]]


def apply_script(connection: sqlite3.Connection, script: str) -> None:
    """Run a script statement by statement; `executescript` would end the transaction."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.execute(statement)
            statement = ""


def form_of(connection: sqlite3.Connection) -> Form:
    """Return the form of a file as it stands."""
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    made = {(kind, name): sql for kind, name, sql in rows if not name.startswith("sqlite_")}
    present = {name for kind, name in made if kind == "table"}
    constant = {
        name: tuple(connection.execute(query)) if name in present else ()
        for name, query in _CONSTANT.items()
    }
    return Form(made, constant)


def form_at(version: int) -> Form:
    """Return the form that a ledger of that version ought to have."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        connection.execute(TRACKING)
        for number, name, script in MIGRATIONS[:version]:
            apply_script(connection, script)
            row = (number, name, "")
            connection.execute("INSERT INTO schema_migrations VALUES (?, ?, ?)", row)
        return form_of(connection)
    finally:
        connection.close()


def differences(connection: sqlite3.Connection, version: int) -> Iterator[str]:
    """Yield, a sentence each, where a file is not as a ledger of that version was made."""
    found, right = form_of(connection), form_at(version)
    for (kind, name), statement in right.made.items():
        there = found.made.get((kind, name))
        if there is None:
            yield f"the {kind} {name} was taken out"
        elif there != statement:
            yield f"the {kind} {name} was changed"
    for kind, name in found.made:
        if kind == "trigger" and (kind, name) not in right.made:
            yield f"a trigger {name} was put in, which may change what is recorded"
    for name, rows in right.rows.items():
        if ("table", name) in found.made and found.rows[name] != rows:
            yield f"the rows of the table {name} were changed"


def strangers(connection: sqlite3.Connection, version: int) -> Iterator[str]:
    """Yield what somebody else put into the file, which changes nothing of the ledger."""
    right = form_at(version).made
    for kind, name in form_of(connection).made:
        if kind != "trigger" and (kind, name) not in right:
            yield f"the {kind} {name} is none of the ledger's own; it was left alone"
