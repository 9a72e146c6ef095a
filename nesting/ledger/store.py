"""The file: opened, migrated, read and written, whole or untouched.

The rollback journal is chosen, not the write-ahead log: a ledger is one file, which people copy,
put on a shared folder and open with other tools, and a log beside it would hold part of it. With
``synchronous=EXTRA`` a recorded entry is on the disk, and so is its folder's, before it is told.
A process killed half-way leaves a journal, with which the next one to open the file undoes it.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from ..errors import LedgerError
from .events import COLUMNS, Event
from .schema import APPLICATION_ID, MIGRATIONS, TRACKING

__all__ = ["append", "applied", "backups_of", "now", "opened", "read_events", "writing"]

PATIENCE = 30.0  # seconds to wait for another process that is writing
NEWEST = MIGRATIONS[-1][0]


def now() -> str:
    """Return what the clock says, for people to read."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


@contextmanager
def opened(path: Path, *, create: bool = False) -> Iterator[sqlite3.Connection]:
    """Give a connection to the ledger at `path`, brought to the newest schema, and close it.

    Raises
    ------
    LedgerError
        If there is none, it is no ledger, is damaged, or is of a newer schema.
    """
    if not path.exists() and not create:
        raise LedgerError(f"{path}: there is no ledger; `kerfwright ledger begin` makes one")
    if path.is_dir():
        raise LedgerError(f"{path}: is a folder; name a file")
    with _told(path):
        if create:
            path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, timeout=PATIENCE, isolation_level=None)
        try:
            _settle(connection)
            _bring_up(connection, path)
            yield connection
        finally:
            connection.close()


def _settle(connection: sqlite3.Connection) -> None:
    for pragma in ("foreign_keys=ON", "synchronous=EXTRA", "trusted_schema=OFF"):
        connection.execute(f"PRAGMA {pragma}")


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turn what SQLite says into one sentence for a person."""
    try:
        yield
    except sqlite3.Error as error:
        raise LedgerError(f"{path}: {_sentence(error, path)}") from error
    except OSError as error:
        raise LedgerError(f"{path}: {error.strerror or error}") from error


def _sentence(error: sqlite3.Error, path: Path) -> str:
    name = getattr(error, "sqlite_errorname", "") or ""
    untouched = "nothing was recorded"
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return f"somebody else is writing to it; {untouched}, try again"
    if name.startswith(("SQLITE_FULL", "SQLITE_IOERR")):
        return f"the disk is full, or cannot be written to; {untouched}"
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN")):
        unreadable = path.exists() and not os.access(path, os.R_OK)
        what = "it cannot be read" if unreadable else "it, or its folder, cannot be written to"
        return f"{what}; {untouched}"
    if name.startswith("SQLITE_NOTADB"):
        return "is not a ledger, and was left alone"
    if name.startswith("SQLITE_CORRUPT"):
        return f"is damaged; {untouched}; keep a copy of it, and go back to a backup"
    return f"{error}; {untouched}"


def applied(connection: sqlite3.Connection) -> int:
    """Return the version of the schema; 0 for an empty file. Nothing is written.

    Raises
    ------
    LedgerError
        If the file holds something else, or a schema that is newer than this program.
    """
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    if not names and mark == 0:
        return 0
    if mark != APPLICATION_ID or "schema_migrations" not in names:
        raise sqlite3.DatabaseError("is not a ledger, and was left alone")
    version = connection.execute("SELECT max(version) FROM schema_migrations").fetchone()[0] or 0
    if version > NEWEST:
        told = f"was written by a newer kerfwright (schema {version}, and this one knows {NEWEST})"
        raise sqlite3.DatabaseError(f"{told}; use the newer one")
    return int(version)


def _bring_up(connection: sqlite3.Connection, path: Path) -> None:
    """Apply what is missing, in one transaction, with a backup of a ledger that was in use."""
    if applied(connection) == NEWEST:
        return
    with writing(connection):
        version = applied(connection)  # another process may have been faster
        if version:
            _back_up(path, version)
        else:
            connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
            connection.execute(TRACKING)
        for number, name, script in MIGRATIONS:
            if number > version:
                _apply(connection, script)
                row = (number, name, now())
                connection.execute("INSERT INTO schema_migrations VALUES (?, ?, ?)", row)


def _apply(connection: sqlite3.Connection, script: str) -> None:
    """Run a script statement by statement; `executescript` would end the transaction."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.execute(statement)
            statement = ""


def backups_of(path: Path, version: int) -> Path:
    """Return where the next backup of a ledger of `version` goes, over no other file."""
    for number in range(1, 10_000):
        more = "" if number == 1 else f"-{number}"
        backup = path.with_name(f"{path.name}.before-schema-{version + 1}{more}")
        if not os.path.lexists(backup):
            return backup
    raise OSError("there are ten thousand backups already")


def _back_up(path: Path, version: int) -> None:
    """Copy the ledger; the caller holds the lock, so that nobody writes meanwhile."""
    target = backups_of(path, version)
    partial = target.with_name(f"{target.name}.part")
    for left in (partial, partial.with_name(f"{partial.name}-journal")):
        left.unlink(missing_ok=True)  # by a process that was killed here
    source, copy = sqlite3.connect(path), sqlite3.connect(partial)
    try:
        source.backup(copy)
    finally:
        source.close()
        copy.close()
    with partial.open("rb+") as file:
        os.fsync(file.fileno())
    partial.replace(target)


@contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[None]:
    """Hold the ledger for one transaction: all that is written within, or none of it."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        # SQLite has rolled back by itself where the disk is full.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def read_events(connection: sqlite3.Connection) -> Iterator[Event]:
    """Yield every event in order."""
    columns = ", ".join(COLUMNS)
    for row in connection.execute(f"SELECT {columns} FROM events ORDER BY seq"):  # noqa: S608  our own names
        yield Event(*row)


def append(connection: sqlite3.Connection, events: Iterable[Event]) -> None:
    """Write events at the end, within a transaction."""
    places = ", ".join("?" * len(COLUMNS))
    statement = f"INSERT INTO events ({', '.join(COLUMNS)}) VALUES ({places})"  # noqa: S608  our own names
    for event in events:
        connection.execute(statement, [getattr(event, name) for name in COLUMNS])
