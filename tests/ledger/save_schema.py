"""Save a ledger of each schema version into tests/data/ledgers; a saved one is never made anew.

``python tests/ledger/save_schema.py`` adds the file of the newest version after a new migration.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from pathlib import Path

from kerfwright.ledger import Ledger, book_cut, store
from kerfwright.ledger.rack import add_slips, move, take
from kerfwright.ledger.schema import APPLICATION_ID, MIGRATIONS, TRACKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

SAVED = Path(__file__).resolve().parent.parent / "data" / "ledgers"
NOON = "2026-03-02T12:00:00+00:00"


def story(path: Path) -> tuple[tuple[object, ...], ...]:
    """Return the rows of a short story: offcuts, a job, a slip sheet, an undo."""
    from racks import BOARD, booked, mats, order, size, small_ledger

    ledger: Ledger = small_ledger(path)
    add_slips(ledger, BOARD, size("4 x 40"), 2)
    job = booked(ledger, order(mats("A", 3, "16 x 20")), "/jobs/show").job
    book_cut(ledger, job.number, place="C2")
    move(ledger, [1], "B3")
    take(ledger, [1], "lost")
    ledger.undo()
    with sqlite3.connect(ledger.path) as connection:
        return tuple(connection.execute("SELECT * FROM events ORDER BY seq"))


def save(version: int, rows: tuple[tuple[object, ...], ...]) -> None:
    """Write a ledger as it stood at a version of the schema."""
    target = SAVED / f"schema-{version}.db"
    if target.exists():
        print(f"{target.name} is saved already")
        return
    connection = sqlite3.connect(target, isolation_level=None)
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(TRACKING)
    for number, name, script in MIGRATIONS[:version]:
        connection.executescript(script)
        row = (number, name, NOON)
        connection.execute("INSERT INTO schema_migrations VALUES (?, ?, ?)", row)
    places = ", ".join("?" * len(rows[0]))
    connection.executemany(f"INSERT INTO events VALUES ({places})", rows)  # noqa: S608  only marks
    connection.close()
    print(f"saved {target.name}")


if __name__ == "__main__":
    store.now = lambda: NOON
    import kerfwright.ledger.book as book

    book.now = store.now  # type: ignore[attr-defined]
    SAVED.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        told = story(Path(folder) / "ledger.db")
    for number, _, _ in MIGRATIONS:
        save(number, told)
