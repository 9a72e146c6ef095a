"""The ledger's file: migrated, guarded, and never left half written."""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from racks import BOARD, booked, mats, measured, order, size, small_ledger

import kerfwright as kw
from kerfwright.ledger import Ledger, check, check_ledger, default_path
from kerfwright.ledger import book as book_module
from kerfwright.ledger.events import COLUMNS, Event, chained
from kerfwright.ledger.rack import add_offcuts, move, take
from kerfwright.ledger.schema import MIGRATIONS
from kerfwright.ledger.state import State, fold
from kerfwright.ledger.store import append

SAVED = Path(__file__).parent / "data" / "ledgers"
TESTS = Path(__file__).parent


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Give a ledger of five sheets and two offcuts."""
    return small_ledger(tmp_path / "rack" / "ledger.db")


def forced(ledger: Ledger, *statements: str) -> None:
    """Do to a ledger's file what nobody should."""
    connection = sqlite3.connect(ledger.path)
    for trigger in ("events_are_never_changed", "events_are_never_taken_out"):
        connection.execute(f"DROP TRIGGER {trigger}")
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


def test_there_is_a_saved_ledger_of_each_schema() -> None:
    """A migration that is added comes with a ledger saved at its version."""
    saved = {path.name for path in SAVED.glob("*.db")}
    assert saved == {f"schema-{number}.db" for number, _, _ in MIGRATIONS}


@pytest.mark.parametrize("version", [number for number, _, _ in MIGRATIONS])
def test_a_saved_ledger_of_each_schema_opens(version: int, tmp_path: Path) -> None:
    """Reading it changes nothing; recording brings it up to date, with a backup."""
    path = tmp_path / "ledger.db"
    shutil.copy(SAVED / f"schema-{version}.db", path)
    ledger = Ledger(path)
    assert {n: k.state for n, k in ledger.state().offcuts.items()} == {
        1: "on the rack",
        2: "cut",
        3: "on the rack",
    }
    assert check_ledger(ledger).faults == ()
    assert path.read_bytes() == (SAVED / f"schema-{version}.db").read_bytes()
    assert [one.name for one in tmp_path.iterdir()] == ["ledger.db"]
    assert add_offcuts(ledger, [measured("20 x 20")]).offcuts == (4,)
    assert check_ledger(ledger).faults == ()
    backups = sorted(path.name for path in tmp_path.glob("*.before-schema-*"))
    newest = version == MIGRATIONS[-1][0]
    assert backups == ([] if newest else [f"ledger.db.before-schema-{version + 1}"])


def test_the_backup_is_the_ledger_as_it_was(tmp_path: Path) -> None:
    """It still has the old schema, and every event."""
    path = tmp_path / "ledger.db"
    shutil.copy(SAVED / "schema-1.db", path)
    events = Ledger(path).events()
    Ledger(path).begin()
    connection = sqlite3.connect(tmp_path / "ledger.db.before-schema-2")
    assert connection.execute("SELECT max(version) FROM schema_migrations").fetchone() == (1,)
    assert connection.execute("SELECT count(*) FROM events").fetchone() == (len(events),)
    connection.close()


def test_a_migration_that_fails_leaves_everything_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither its change nor the record of it stays, and it can be tried again."""
    path = tmp_path / "ledger.db"
    shutil.copy(SAVED / "schema-1.db", path)
    broken = (*MIGRATIONS[:1], (2, "broken", "CREATE TABLE half (x);\nCREATE NONSENSE;\n"))
    with monkeypatch.context() as patched:
        patched.setattr("kerfwright.ledger.store.MIGRATIONS", broken)
        with pytest.raises(kw.LedgerError, match="nothing was recorded"):
            move(Ledger(path), [1], "Z9")
    connection = sqlite3.connect(path)
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    assert "half" not in names
    assert connection.execute("SELECT max(version) FROM schema_migrations").fetchone() == (1,)
    connection.close()
    assert check_ledger(Ledger(path)).faults == ()


def test_a_newer_schema_is_left_alone(ledger: Ledger) -> None:
    """The message says so, and the file does not change."""
    forced(ledger, "INSERT INTO schema_migrations VALUES (99, 'to come', 'then')")
    before = ledger.path.read_bytes()
    with pytest.raises(kw.LedgerError, match="newer kerfwright"):
        ledger.state()
    assert ledger.path.read_bytes() == before


@pytest.mark.parametrize("kind", ["text", "database", "folder"])
def test_a_foreign_file_is_left_alone(kind: str, tmp_path: Path) -> None:
    """What is no ledger is not touched, whether it is read, begun or written to."""
    path = tmp_path / "ledger.db"
    if kind == "text":
        path.write_text("notes on frames\n" * 100)
    elif kind == "database":
        connection = sqlite3.connect(path)
        connection.execute("CREATE TABLE birds (name)")
        connection.close()
    else:
        path.mkdir()
    before = None if path.is_dir() else path.read_bytes()
    for attempt in (Ledger(path).begin, Ledger(path).state, Ledger(path).undo):
        with pytest.raises(kw.LedgerError, match=r"is not a ledger|is a folder"):
            attempt()
    assert path.is_dir() or path.read_bytes() == before


def test_a_ledger_that_is_not_there_is_not_made_by_asking(tmp_path: Path) -> None:
    """A slip in its name makes no empty ledger."""
    with pytest.raises(kw.LedgerError, match="there is no ledger"):
        Ledger(tmp_path / "ledgre.db").state()
    assert list(tmp_path.iterdir()) == []


# What is done to the file, and what the check says of it.
TAMPERINGS = {
    "changed": ("UPDATE events SET place = 'X' WHERE seq = 2", "event 2 was changed"),
    "taken out": ("DELETE FROM events WHERE seq = 2", "event 2 is missing"),
    "cut short": ("DELETE FROM events WHERE seq = 3", "event 3 is missing at the end"),
    "cut short by two": (
        "DELETE FROM events WHERE seq > 1",
        "events 2 to 3 are missing at the end",
    ),
    "rechained": ("UPDATE events SET digest = 'x' WHERE seq = 1", "event 1 was changed"),
    "cut short and the count lowered": (
        "DELETE FROM events WHERE seq = 3; UPDATE sqlite_sequence SET seq = 2",
        "event 3 is missing at the end",
    ),
    "cut short and the count taken out": (
        "DELETE FROM events WHERE seq = 3; DELETE FROM sqlite_sequence",
        "event 3 is missing at the end",
    ),
    "the end forgotten": ("DELETE FROM chain_end", "remembers of its last event was changed"),
    "the end taken out": ("DROP TABLE chain_end", "the table chain_end was taken out"),
    "the end bent": (
        "UPDATE chain_end SET digest = 'x'",
        "remembers of its last event was changed",
    ),
    "a guard taken out": ("", "the trigger events_are_never_changed was taken out"),
    "a guard that guards nothing": (
        "CREATE TRIGGER events_are_never_changed BEFORE UPDATE ON events BEGIN SELECT 1; END",
        "the trigger events_are_never_changed was changed",
    ),
    "a trigger more": (
        "CREATE TRIGGER more AFTER INSERT ON events BEGIN SELECT 1; END",
        "a trigger more was put in",
    ),
    "a kind of event": (
        "UPDATE event_kinds SET sheets = 2 WHERE event = 'sheets in'",
        "the rows of the table event_kinds were changed",
    ),
    "a meaning": (
        "UPDATE event_kinds SET meaning = 'it was sold' WHERE event = 'lost'",
        "the rows of the table event_kinds were changed",
    ),
    "a migration": (
        "UPDATE schema_migrations SET name = 'x' WHERE version = 1",
        "the rows of the table schema_migrations were changed",
    ),
    "a view": (
        "DROP VIEW areas; CREATE VIEW areas AS SELECT * FROM events",
        "the view areas was changed",
    ),
    "a view taken out": ("DROP VIEW offcuts", "the view offcuts was taken out"),
    "an index": ("DROP INDEX events_of_job", "the index events_of_job was taken out"),
    "a column": ("ALTER TABLE events ADD COLUMN more", "the table events was changed"),
    "no events": ("DROP TABLE events", "the table events was taken out"),
}


@pytest.mark.parametrize("how", TAMPERINGS)
def test_tampering_is_found(how: str, ledger: Ledger) -> None:
    """The check names what was changed, whatever was done to hide it."""
    statements, told = TAMPERINGS[how]
    forced(ledger, *statements.split("; ") if "BEGIN" not in statements else (statements,))
    faults = check_ledger(ledger).faults
    assert any(told in fault for fault in faults), faults
    assert "the trigger events_are_never_taken_out was taken out" in faults or how == "no events"


CUT_OFF = (
    "DELETE FROM events WHERE seq = 3",
    "DELETE FROM events WHERE seq = 3; UPDATE sqlite_sequence SET seq = 2",
)


@pytest.mark.parametrize("statements", CUT_OFF)
def test_nothing_is_recorded_over_an_end_that_was_cut_off(statements: str, ledger: Ledger) -> None:
    """Else the next entry would hide that one is missing."""
    forced(ledger, *statements.split("; "))
    for attempt in (ledger.state, lambda: move(ledger, [1], "B1"), ledger.undo):
        with pytest.raises(kw.LedgerError, match="event 3 is missing at the end"):
            attempt()


def test_what_others_put_into_the_file_is_remarked(ledger: Ledger) -> None:
    """A table of somebody's own changes nothing; it is no fault."""
    connection = sqlite3.connect(ledger.path)
    connection.execute("CREATE TABLE notes (text)")
    connection.close()
    checked = check_ledger(ledger)
    assert checked.faults == ()
    assert checked.remarks == ("the table notes is none of the ledger's own; it was left alone",)


def rewritten(ledger: Ledger) -> None:
    """Rewrite a ledger from its first event on, with all that it takes, as only an expert would."""
    whole: list[Event] = []
    for event in ledger.events():
        other = replace(event, place="Z1" if event.offcut else None)
        whole += chained([other], whole[-1] if whole else None, event.entry, event.at)
    connection = sqlite3.connect(ledger.path, isolation_level=None)
    guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
    kept = [(name, sql) for name, sql in guards.fetchall() if name.startswith("events_")]
    for name, _ in kept:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute("DELETE FROM events")
    append(connection, whole)
    for _, sql in kept:
        connection.execute(sql)
    connection.close()


def test_a_mark_shows_what_the_file_alone_cannot(ledger: Ledger) -> None:
    """A ledger that was written anew altogether is whole by itself, and not what was marked."""
    mark = check_ledger(ledger).mark
    move(ledger, [1], "B1")
    assert check_ledger(ledger, mark=mark).faults == ()
    rewritten(ledger)
    assert check_ledger(ledger).faults == ()
    (fault,) = check_ledger(ledger, mark=mark).faults
    assert fault == "event 3 is not the one that was marked: it, or one before it, was changed"
    later = check_ledger(ledger, mark="9-abcdef").faults
    assert later == ("the mark names event 9, and there are only 4",)
    with pytest.raises(kw.LedgerError, match="'seven' is no mark"):
        check_ledger(ledger, mark="seven")


MIGRATIONS_LOST = ("DELETE FROM schema_migrations", "DROP TABLE schema_migrations",
                   "DELETE FROM schema_migrations WHERE version = 1")  # fmt: skip


@pytest.mark.parametrize("statement", MIGRATIONS_LOST)
def test_a_lost_record_of_migrations_is_one_clear_message(statement: str, ledger: Ledger) -> None:
    """It is neither made anew nor told in SQLite's own words; the file is left alone."""
    forced(ledger, statement)
    before = ledger.path.read_bytes()
    acts = (
        ledger.state,
        ledger.begin,
        lambda: move(ledger, [1], "B1"),
        partial(check_ledger, ledger),
    )
    for attempt in acts:
        with pytest.raises(kw.LedgerError, match="took rows out of its table schema_migrations"):
            attempt()
    assert ledger.path.read_bytes() == before


def test_a_form_that_was_lowered_is_not_migrated_again(ledger: Ledger) -> None:
    """A ledger that claims an earlier schema than it has is left alone, in one clear message."""
    newest = "WHERE version = (SELECT max(version) FROM schema_migrations)"
    forced(ledger, f"DELETE FROM schema_migrations {newest}")  # noqa: S608  our own names
    before = ledger.path.read_bytes()
    with pytest.raises(kw.LedgerError, match="another program changed its form"):
        move(ledger, [1], "B1")
    assert ledger.path.read_bytes() == before
    assert [path.name for path in ledger.path.parent.iterdir()] == ["ledger.db"]
    assert check_ledger(ledger).faults


ASKED: dict[str, Callable[[Ledger], object]] = {
    "state": Ledger.state,
    "events": Ledger.events,
    "check": check_ledger,
    "undo": Ledger.undo,
    "move": lambda ledger: move(ledger, [1], "B1"),
}


@pytest.mark.parametrize("how", ASKED)
def test_an_empty_file_is_made_a_ledger_by_begin_only(how: str, tmp_path: Path) -> None:
    """Whatever else is asked of it, it stays empty, and nothing comes beside it."""
    path = tmp_path / "ledger.db"
    path.touch()
    with pytest.raises(kw.LedgerError, match="is empty: there is no ledger in it"):
        ASKED[how](Ledger(path))
    assert [(one.name, one.stat().st_size) for one in tmp_path.iterdir()] == [("ledger.db", 0)]
    Ledger(path).begin()
    assert Ledger(path).events() == ()


def test_a_ledger_that_was_changed_takes_nothing_more(ledger: Ledger) -> None:
    """Nothing is recorded on top of a broken chain."""
    forced(ledger, "UPDATE events SET place = 'X' WHERE seq = 2")
    with pytest.raises(kw.LedgerError, match="event 2 was changed after it was recorded"):
        move(ledger, [2], "B1")


def test_damage_is_found(ledger: Ledger) -> None:
    """A file with bytes overwritten gives one message, or a fault of the check."""
    data = bytearray(ledger.path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 4096] = b"\xff" * 4096
    ledger.path.write_bytes(data)
    try:
        faults = check_ledger(ledger).faults
    except kw.LedgerError as error:
        faults = (str(error),)
    assert faults


def told_of(act: Callable[[], object]) -> str:
    """Return what is said where something is refused, or nothing; no other error may come."""
    try:
        act()
    except kw.LedgerError as error:
        return str(error)
    return ""


def test_bytes_overwritten_anywhere_give_one_message(ledger: Ledger) -> None:
    """Whatever is damaged, it is a fault, a message, or of no account: never a crash."""
    whole, chance = ledger.path.read_bytes(), random.Random(7)  # noqa: S311  not for secrets
    events = ledger.events()
    for _ in range(40):
        data = bytearray(whole)
        for _ in range(chance.choice([1, 1, 16])):
            data[chance.randrange(len(data))] = chance.randrange(256)
        ledger.path.write_bytes(data)
        told = told_of(lambda: check_ledger(ledger))
        assert "\n" not in told
        if not told_of(ledger.state):
            assert ledger.events() == events  # it was no part of any event


STRANGE: tuple[object, ...] = (
    None,
    -1,
    10**18,
    "",
    "x",
    "1/0",
    b"\xff",
    1.5,
    "[]",
    '{"boards": 5}',
)


@pytest.mark.parametrize("column", COLUMNS)
def test_no_value_in_any_column_is_a_crash(column: str, ledger: Ledger) -> None:
    """Each is found by the check, and nothing is recorded on top of it."""
    events = [(event.seq, getattr(event, column)) for event in ledger.events()]
    whole = ledger.path.read_bytes()
    for seq, right in events:
        for value in STRANGE:
            ledger.path.write_bytes(whole)
            if value == right or not forced_value(ledger, column, seq, value):
                continue
            found: list[object] = []
            told = told_of(lambda found=found: found.extend(check_ledger(ledger).faults))  # type: ignore[misc]
            assert told or found, (seq, value)
            assert told_of(lambda: move(ledger, [1], "Q"))


def forced_value(ledger: Ledger, column: str, seq: int, value: object) -> bool:
    """Write a value into an event, and return whether the tables let it."""
    connection = sqlite3.connect(ledger.path, isolation_level=None)
    connection.execute("PRAGMA ignore_check_constraints=ON")
    connection.execute("DROP TRIGGER events_are_never_changed")
    try:
        connection.execute(f"UPDATE events SET {column} = ? WHERE seq = ?", (value, seq))  # noqa: S608
    except (sqlite3.Error, OverflowError):
        return False
    finally:
        connection.close()
    return True


def test_a_file_cut_short_is_found(ledger: Ledger) -> None:
    """Half a file gives one message."""
    ledger.path.write_bytes(ledger.path.read_bytes()[: 4096 * 2])
    with pytest.raises(kw.LedgerError, match="damaged"):
        ledger.state()


def test_a_clock_that_jumps_changes_no_order(
    ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Events are ordered by their number; the check remarks on the clock, and faults nothing."""
    for at in ("2031-01-01T00:00:00+00:00", "1999-01-01T00:00:00+00:00"):
        monkeypatch.setattr(book_module, "now", lambda at=at: at)
        move(ledger, [1], at[:4])
    assert ledger.state().offcuts[1].place == "1999"
    checked = check_ledger(ledger)
    assert checked.faults == ()
    assert len(checked.remarks) == 1
    assert "went back" in checked.remarks[0]


@contextmanager
def nobody_special() -> Iterator[None]:
    """Act for a while without the privileges of root, to whom nothing is read-only."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


@pytest.mark.parametrize("file", [0o444, 0o666])
def test_a_read_only_folder_gives_one_message(file: int) -> None:
    """What is in it can be read; an entry or a new ledger is refused, and nothing is left."""
    folder = Path(tempfile.mkdtemp())
    ledger = small_ledger(folder / "ledger.db")
    ledger.path.chmod(file)
    folder.chmod(0o555)
    before = ledger.path.read_bytes()
    try:
        with nobody_special():
            assert len(ledger.state().offcuts) == 2
            with pytest.raises(kw.LedgerError, match="cannot be written to; nothing was recorded"):
                move(ledger, [1], "B1")
            with pytest.raises(kw.LedgerError, match="cannot be written to"):
                Ledger(folder / "new.db").begin()
        assert ledger.path.read_bytes() == before
        assert [path.name for path in folder.iterdir()] == ["ledger.db"]
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)


def test_a_read_only_ledger_can_be_read(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    """Opened for reading only, it tells its state, and refuses an entry with one message."""
    usual = sqlite3.connect
    uri = f"file:{ledger.path}?mode=ro"
    monkeypatch.setattr("sqlite3.connect", lambda _, **how: usual(uri, **how))
    assert ledger.state().offcuts
    with pytest.raises(kw.LedgerError, match="cannot be written to; nothing was recorded"):
        move(ledger, [1], "B1")


def python(code: str, *arguments: object, **how: object) -> subprocess.Popen[str]:
    """Start a Python process that finds the tests' helpers."""
    environment = {**os.environ, "PYTHONPATH": str(TESTS)}
    line = [sys.executable, "-c", code, *map(str, arguments)]
    return subprocess.Popen(  # type: ignore[call-overload,no-any-return]
        line, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **how
    )


FILLING = """
import sys
from kerfwright.errors import LedgerError
from kerfwright.ledger import Ledger
from kerfwright.ledger.rack import move
ledger = Ledger(sys.argv[1])
try:
    for number in range(1000):
        move(ledger, [1], f"place {number} " + "x" * 2000)
        print(number, flush=True)
except LedgerError as error:
    sys.exit(str(error))
"""


def test_a_full_disk_loses_nothing(ledger: Ledger) -> None:
    """What was recorded before the disk was full is there, and what was not is told."""
    limit = ledger.path.stat().st_size + 60_000

    def full() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    process = python(FILLING, ledger.path, preexec_fn=full)
    out, err = process.communicate()
    assert process.returncode == 1
    assert "the disk is full, or cannot be written to; nothing was recorded" in err
    done = [int(line) for line in out.split()]
    places = [event.place or "" for event in ledger.events() if event.event == "moved"]
    assert [int(place.split()[1]) for place in places] == done
    assert check_ledger(ledger).faults == ()


def test_a_full_disk_leaves_an_old_ledger_as_it_was(tmp_path: Path) -> None:
    """The backup before its new form does not fit: nothing is changed, and nothing left over."""
    path = tmp_path / "ledger.db"
    shutil.copy(SAVED / "schema-1.db", path)
    before = path.read_bytes()

    def full() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192))

    process = python(FILLING, path, preexec_fn=full)
    assert "nothing was recorded" in process.communicate()[1]
    assert process.returncode == 1
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["ledger.db"]
    assert len(Ledger(path).state().offcuts) == 3


BROKEN_OFF = """
import os, sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("PRAGMA cache_size=1")
connection.execute("BEGIN IMMEDIATE")
for trigger in ("events_are_never_changed", "events_are_never_taken_out"):
    connection.execute(f"DROP TRIGGER {trigger}")
connection.execute("UPDATE events SET note = ?", ("x" * 20000,))
os._exit(1)
"""


def test_an_entry_that_was_broken_off_is_taken_back(ledger: Ledger) -> None:
    """By the next to read; where that may not be written to, one message says so."""
    events, folder = ledger.events(), ledger.path.parent
    python(BROKEN_OFF, ledger.path).communicate()
    assert sorted(path.name for path in folder.iterdir()) == ["ledger.db", "ledger.db-journal"]
    for path in folder.iterdir():
        path.chmod(0o444)
    top = Path(tempfile.mkdtemp())  # pytest's own folders are closed to others
    moved = Path(shutil.move(folder, top / "rack"))
    moved.chmod(0o555)
    top.chmod(0o755)
    try:
        with nobody_special(), pytest.raises(kw.LedgerError, match="was broken off must be taken"):
            Ledger(moved / "ledger.db").state()
        moved.chmod(0o755)
        for path in moved.iterdir():
            path.chmod(0o644)
        assert Ledger(moved / "ledger.db").events() == events
        assert [path.name for path in moved.iterdir()] == ["ledger.db"]
        assert check_ledger(Ledger(moved / "ledger.db")).faults == ()
    finally:
        shutil.rmtree(top)


def test_who_must_wait_too_long_is_told(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    """While somebody is recording, others read; the second to record waits, and is told."""
    monkeypatch.setattr("kerfwright.ledger.store.PATIENCE", 0.05)
    connection = sqlite3.connect(ledger.path, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    assert len(ledger.state().offcuts) == 2
    with pytest.raises(kw.LedgerError, match="somebody else is writing to it; nothing was"):
        move(ledger, [1], "B1")
    connection.execute("ROLLBACK")
    connection.execute("BEGIN EXCLUSIVE")
    with pytest.raises(kw.LedgerError, match="somebody else is writing to it"):
        ledger.state()
    connection.close()
    assert move(ledger, [1], "B1").number == 3


def test_a_check_while_others_record_finds_nothing_wrong(ledger: Ledger) -> None:
    """What it reads belongs together, whatever comes meanwhile."""
    process = python(WRITING, ledger.path, 0)
    assert process.stdout is not None
    process.stdout.readline()
    try:
        counted = [check_ledger(ledger) for _ in range(15)]
    finally:
        process.kill()
        process.communicate()
    assert all(one.faults == () for one in counted)
    assert counted[-1].events > counted[0].events


RESERVING = """
import sys
from pathlib import Path
from racks import mats, order, planned
from kerfwright.errors import LedgerError
from kerfwright.ledger import Ledger, set_aside
ledger, folder = Ledger(sys.argv[1]), sys.argv[2]
plan = planned(ledger, order(mats("A", 1, "16 x 20")), folder)
print("ready", flush=True)
sys.stdin.readline()
try:
    print("job", set_aside(ledger, *plan).job.number)
except LedgerError as error:
    print(error)
"""


def test_of_processes_that_want_the_same_offcut_one_wins(ledger: Ledger) -> None:
    """All have planned with it before the first sets it aside; the others are told that it went."""
    racers = [
        python(RESERVING, ledger.path, f"/jobs/{number}", stdin=subprocess.PIPE)
        for number in range(3)
    ]
    for racer in racers:
        assert racer.stdout is not None
        assert racer.stdout.readline() == "ready\n"
    for racer in racers:
        assert racer.stdin is not None
        racer.stdin.write("\n")
        racer.stdin.flush()
    told = [racer.communicate()[0].strip() for racer in racers]
    assert sorted(line.startswith("job ") for line in told) == [False, False, True]
    assert sum("offcut 2: no longer to be had" in line for line in told) == 2
    assert check_ledger(ledger).faults == ()


WRITING = """
import sys
from kerfwright.ledger import Ledger
from kerfwright.ledger.rack import move
ledger = Ledger(sys.argv[1])
for number in range(int(sys.argv[2]), 10**6):
    move(ledger, [1], f"place {number}")
    print(number, flush=True)
"""


def test_a_kill_at_any_moment_loses_nothing(ledger: Ledger) -> None:
    """What was told as recorded is recorded, once and in order, and the ledger is whole."""
    begin = 0
    for delay in (0.01, 0.03, 0.05):
        process = python(WRITING, ledger.path, begin)
        assert process.stdout is not None
        first = process.stdout.readline()
        time.sleep(delay)
        process.kill()
        told = [int(line) for line in (first + process.communicate()[0]).split()]
        places = [event.place or "" for event in ledger.events() if event.event == "moved"]
        numbers = [int(place.split()[1]) for place in places]
        assert numbers == [*range(len(numbers))]
        assert numbers[-1] - told[-1] in {0, 1}  # the one that it was killed before telling
        begin = numbers[-1] + 1
    assert check_ledger(ledger).faults == ()


def test_two_beginnings_make_one_ledger(tmp_path: Path) -> None:
    """Two processes that begin the same ledger at once leave one that is whole."""
    code = "import sys; from kerfwright.ledger import Ledger; Ledger(sys.argv[1]).begin()"
    both = [python(code, tmp_path / "ledger.db") for _ in range(2)]
    assert [process.communicate()[1] for process in both] == ["", ""]
    assert check_ledger(Ledger(tmp_path / "ledger.db")).faults == ()


def test_the_environment_names_the_ledger(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Without it the ledger is in the user's own data folder."""
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(tmp_path / "mine.db"))
    assert default_path() == tmp_path / "mine.db"
    monkeypatch.setenv("KERFWRIGHT_LEDGER", "")
    assert default_path().parts[-2:] == ("kerfwright", "ledger.db")


def test_to_ask_where_the_ledger_is_loads_nothing_else_of_it() -> None:
    """A plan without a ledger does not pay for one; all names are there once they are used."""
    code = (
        "import sys, kerfwright as kw; kw.default_path();"
        "print(sorted(m for m in sys.modules if m.startswith('kerfwright.ledger')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == "['kerfwright.ledger', 'kerfwright.ledger.place']"
    import kerfwright.ledger

    assert all(hasattr(kerfwright.ledger, name) for name in kerfwright.ledger.__all__)
    with pytest.raises(AttributeError, match="no attribute 'folly'"):
        kerfwright.ledger.folly  # noqa: B018


LIES: dict[str, Callable[[State], None]] = {
    "place": lambda state: bend(state, place="Z9"),
    "grade": lambda state: bend(state, grade=None),
    "buffered": lambda state: bend(state, buffered=True),
    "direction": lambda state: bend(state, directed=False),
    "edges": lambda state: bend(state, edges=(kw.Length(Fraction(1)),) * 4),
    "date": lambda state: bend(state, since="2020-01-01T00:00:00+00:00"),
    "job": lambda state: bend(state, aside=7),
    "source": lambda state: bend(state, source="from nowhere"),
    "windows": lambda state: state.scored.update({(BOARD, size("4 x 40")): 1}),
    "slip sheets": lambda state: state.slips.update({(BOARD, size("4 x 40")): 1}),
    "sheets": lambda state: state.sheets.update({(BOARD, size("32 x 40")): 1}),
    "set aside": lambda state: state.jobs.update({1: replace(state.jobs[1], state="set aside")}),
    "folder": lambda state: state.jobs.update({1: replace(state.jobs[1], folder="/elsewhere")}),
}  # fmt: skip


def bend(state: State, **told: Any) -> None:  # noqa: ANN401  of each column its own sort
    """Make a state say otherwise of offcut 1."""
    state.offcuts[1] = replace(state.offcuts[1], **told)


@pytest.mark.parametrize("lie", LIES)
def test_whatever_a_view_says_otherwise_is_found(
    lie: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check would see it if a view and the state ever came apart, column by column."""
    path = tmp_path / "ledger.db"
    shutil.copy(SAVED / f"schema-{MIGRATIONS[-1][0]}.db", path)
    right = fold(Ledger(path).events())
    assert check_ledger(Ledger(path)).faults == ()
    LIES[lie](right)
    monkeypatch.setattr(check, "fold", lambda _: right)
    assert any("view" in fault for fault in check_ledger(Ledger(path)).faults)


def test_a_log_that_another_tool_keeps_is_remarked_and_put_back(tmp_path: Path) -> None:
    """A ledger is one file, which people copy: a log beside it would hold part of it.

    While the other tool has the file open entries are recorded all the same, and lie in its log.
    """
    ledger = small_ledger(tmp_path / "rack.db")
    other = sqlite3.connect(ledger.path)
    assert other.execute("PRAGMA journal_mode=WAL").fetchone() == ("wal",)
    other.execute("SELECT count(*) FROM events").fetchone()
    move(ledger, [1], "B1")
    checked = check_ledger(ledger)
    assert checked.faults == ()
    (remark,) = checked.remarks
    assert remark.startswith("another program keeps a log beside the file (write-ahead logging)")
    other.close()
    move(ledger, [1], "B2")
    assert check_ledger(ledger).remarks == ()
    assert [path.name for path in tmp_path.iterdir()] == ["rack.db"]
    copy = tmp_path / "copy.db"
    shutil.copy(ledger.path, copy)
    assert Ledger(copy).state().offcuts[1].place == "B2"


def test_begin_says_whether_there_was_one(tmp_path: Path) -> None:
    """A file of one line break is none to SQLite, and becomes one."""
    ledger = Ledger(tmp_path / "rack.db")
    ledger.path.write_text("\n")
    assert ledger.begin()
    assert not ledger.begin()
    (tmp_path / "text.db").write_text("a letter to the framer, of more than a line\n" * 40)
    with pytest.raises(kw.LedgerError, match="is not a ledger, and was left alone"):
        Ledger(tmp_path / "text.db").begin()


def test_no_job_has_what_is_spoiled_or_lost(tmp_path: Path) -> None:
    """The view says so as the events do, whatever becomes of the job, and the check compares."""
    ledger = small_ledger(tmp_path / "rack.db")
    job = booked(ledger, order(mats("A", 1, "16 x 20")), "/jobs/show").job
    assert job.offcuts == (2,)
    query = "SELECT state, for_job FROM offcuts WHERE number = 2"
    with closing(sqlite3.connect(ledger.path)) as connection:
        assert connection.execute(query).fetchone() == ("set aside", 1)
        take(ledger, [2], "spoiled")
        assert connection.execute(query).fetchone() == ("spoiled", None)
        assert ledger.state().offcuts[2].aside is None
        kw.cancel_job(ledger, 1)
        assert connection.execute(query).fetchone() == ("spoiled", None)
    assert check_ledger(ledger).faults == ()
