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
from .events import COLUMNS, NUMBERS, Event
from .form import apply_script, differences, form_at, form_of
from .schema import APPLICATION_ID, MIGRATIONS, NEWEST, TRACKING, WITH_END

__all__ = [
    "append",
    "applied",
    "backups_of",
    "has_log",
    "now",
    "opened",
    "read_ends",
    "read_events",
    "reading",
    "writing",
]

DAMAGED = "is damaged; nothing was recorded; keep a copy of it, and go back to a backup"
PATIENCE = 30.0  # seconds to wait for another process that is writing


def now() -> str:
    """Return what the clock says, for people to read."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


class _Refusal(Exception):
    """The file is none that can be used; the message says why, but for its name."""


@contextmanager
def opened(
    path: Path, *, create: bool = False, record: bool = False
) -> Iterator[sqlite3.Connection]:
    """Give a connection to the ledger at `path`, and close it.

    Only to be recorded in, or begun, is a ledger brought to the newest schema: whoever merely
    reads never changes the file, nor makes one.

    Parameters
    ----------
    create
        Make a ledger where there is none; an empty file counts as none.
    record
        It will be written to.

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
        # By URI, since only so can SQLite be told to make no file.
        where = f"{path.absolute().as_uri()}?mode={'rwc' if create else 'rw'}"
        connection = sqlite3.connect(where, uri=True, timeout=PATIENCE, isolation_level=None)
        try:
            _settle(connection)
            if not create and applied(connection) == 0:
                raise _Refusal(
                    "is empty: there is no ledger in it. If there was one, go back to a copy of "
                    "it; else `kerfwright ledger begin` makes a new one"
                )
            if create or record:
                _one_file(connection)
                _bring_up(connection, path)
            yield connection
        finally:
            connection.close()


def _one_file(connection: sqlite3.Connection) -> None:
    """Put back the journal that another tool replaced by a log, once nobody else has it open."""
    if not has_log(connection):
        return
    connection.execute("PRAGMA busy_timeout=0")  # it can wait for the next time
    try:
        connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.OperationalError as error:
        if not _is_busy(error):
            raise
    finally:
        connection.execute(f"PRAGMA busy_timeout={int(PATIENCE * 1000)}")


def has_log(connection: sqlite3.Connection) -> bool:
    """Return whether the file is kept with a write-ahead log beside it."""
    mode: str = connection.execute("PRAGMA journal_mode").fetchone()[0]
    return mode == "wal"


def _is_busy(error: sqlite3.Error) -> bool:
    name = getattr(error, "sqlite_errorname", "") or ""
    return name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))


def _settle(connection: sqlite3.Connection) -> None:
    for pragma in ("foreign_keys=ON", "synchronous=EXTRA", "trusted_schema=OFF"):
        connection.execute(f"PRAGMA {pragma}")


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turn what SQLite says into one sentence for a person."""
    try:
        yield
    except _Refusal as refusal:
        raise LedgerError(f"{path}: {refusal}") from refusal
    except sqlite3.Error as error:
        raise LedgerError(f"{path}: {_sentence(error, path)}") from error
    except UnicodeDecodeError as error:  # SQLite's own words may quote damaged text
        raise LedgerError(f"{path}: {DAMAGED}") from error
    except OSError as error:
        raise LedgerError(f"{path}: {error.strerror or error}") from error


def _sentence(error: sqlite3.Error, path: Path) -> str:
    name = getattr(error, "sqlite_errorname", "") or ""
    untouched = "nothing was recorded"
    if _is_busy(error):
        return f"somebody else is writing to it; {untouched}, try again"
    if name.startswith(("SQLITE_FULL", "SQLITE_IOERR")):
        return f"the disk is full, or cannot be written to; {untouched}"
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN")):
        return f"{_closed(path)}; {untouched}"
    if name.startswith("SQLITE_NOTADB"):
        return "is not a ledger, and was left alone"
    if name.startswith("SQLITE_CORRUPT"):
        return DAMAGED
    said = "".join(one if one.isprintable() else " " for one in str(error))
    short = " ".join(said.split())[:80]
    return f"is not as kerfwright made it ({short}); {untouched}; go back to a backup"


def _closed(path: Path) -> str:
    """Say why a file cannot be opened, or not be written to."""
    if path.exists() and not os.access(path, os.R_OK):
        return "it cannot be read"
    if path.with_name(f"{path.name}-journal").exists():
        return (
            "an entry that was broken off must be taken back first, and it, or its folder, cannot "
            "be written to"
        )
    return "it, or its folder, cannot be written to"


def applied(connection: sqlite3.Connection) -> int:
    """Return the version of the schema; 0 for an empty file. Nothing is written."""
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    if not names and mark == 0:
        return 0
    if mark != APPLICATION_ID:
        raise _Refusal("is not a ledger, and was left alone")
    rows: list[tuple[int]] = []
    if "schema_migrations" in names:
        rows = connection.execute("SELECT version FROM schema_migrations ORDER BY 1").fetchall()
    versions = [row[0] for row in rows]
    if versions and versions[-1] > NEWEST:
        told = f"was written by a newer kerfwright (schema {versions[-1]}, and this one knows "
        raise _Refusal(f"{told}{NEWEST}); use the newer one")
    if not versions or versions != [*range(1, len(versions) + 1)]:
        raise _Refusal(
            "another program took rows out of its table schema_migrations, which says what form "
            "the ledger has; nothing was recorded; keep a copy of it, and go back to a backup"
        )
    return len(versions)


def _bring_up(connection: sqlite3.Connection, path: Path) -> None:
    """Apply what is missing, in one transaction, with a backup of a ledger that was in use."""
    if applied(connection) == NEWEST:
        return
    with writing(connection):
        version = applied(connection)  # another process may have been faster
        if version == NEWEST:
            return
        if version:
            _refuse_other_form(connection, version)
            _back_up(path, version)
        else:
            connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
            connection.execute(TRACKING)
        for number, name, script in MIGRATIONS:
            if number > version:
                apply_script(connection, script)
                row = (number, name, now())
                connection.execute("INSERT INTO schema_migrations VALUES (?, ?, ?)", row)


def _refuse_other_form(connection: sqlite3.Connection, version: int) -> None:
    """Refuse to change the form of a file that does not have the form that it claims."""
    later = {one for one in form_at(NEWEST).made if one not in form_at(version).made}
    found = [
        *differences(connection, version),
        *(
            f"the {kind} {name} is there already"
            for kind, name in later & {*form_of(connection).made}
        ),
    ]
    if found:
        raise _Refusal(
            f"another program changed its form ({'; '.join(found)}); nothing was recorded; keep a "
            "copy of it, and go back to a backup"
        )


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
    try:
        _copy(path, partial)
        partial.replace(target)
    except BaseException:
        partial.unlink(missing_ok=True)
        raise


def _copy(path: Path, partial: Path) -> None:
    source, copy = sqlite3.connect(path), sqlite3.connect(partial)
    try:
        source.backup(copy)
    finally:
        source.close()
        copy.close()
    with partial.open("rb+") as file:
        os.fsync(file.fileno())


@contextmanager
def reading(connection: sqlite3.Connection) -> Iterator[None]:
    """Hold the ledger as it is: whatever is read within belongs together."""
    connection.execute("BEGIN")
    try:
        yield
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


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
        if not all(_is_right(name, value) for name, value in zip(COLUMNS, row, strict=True)):
            raise _Refusal(
                f"holds an event {row[COLUMNS.index('seq')]} such as kerfwright never writes; it "
                "is damaged, or another program changed it; go back to a backup"
            )
        yield Event(*row)


def _is_right(column: str, value: object) -> bool:
    return value is None or isinstance(value, int if column in NUMBERS else str)


def read_ends(connection: sqlite3.Connection) -> tuple[tuple[int, str | None], ...]:
    """Return what the file says of its last event: its number, and its digest where that is kept.

    SQLite keeps the highest number that was ever given; a ledger of a schema from `WITH_END` on
    the digest as well. What is missing counts as number -1, which no event has.
    """
    row = connection.execute("SELECT seq FROM sqlite_sequence WHERE name = 'events'").fetchone()
    highest: tuple[int, str | None] = (row[0] if row else 0, None)
    if applied(connection) < WITH_END:
        return (highest,)
    tables = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'chain_end'")
    if not tables.fetchone()[0]:
        return (highest, (-1, None))
    kept = connection.execute("SELECT seq, digest FROM chain_end").fetchone() or (-1, None)
    return (highest, (kept[0], kept[1]))


def append(connection: sqlite3.Connection, events: Iterable[Event]) -> None:
    """Write events at the end, within a transaction."""
    places = ", ".join("?" * len(COLUMNS))
    statement = f"INSERT INTO events ({', '.join(COLUMNS)}) VALUES ({places})"  # noqa: S608  our own names
    last: Event | None = None
    for event in events:
        connection.execute(statement, [getattr(event, name) for name in COLUMNS])
        last = event
    if last is not None:
        _refuse_other_end(connection, last)


def _refuse_other_end(connection: sqlite3.Connection, last: Event) -> None:
    """Refuse to end a transaction in which the file did not take what was written to it."""
    row = connection.execute("SELECT seq, digest FROM events ORDER BY seq DESC LIMIT 1").fetchone()
    right = (last.seq, last.digest)
    whole = row == right and all(
        number == last.seq and digest in (None, last.digest)
        for number, digest in read_ends(connection)
    )
    if not whole:
        found = "; ".join(differences(connection, applied(connection)))
        raise _Refusal(
            f"did not keep what was written to it, since another program changed its form "
            f"({found or 'in a way not known'}); nothing was recorded; keep a copy of it, and go "
            "back to a backup"
        )
