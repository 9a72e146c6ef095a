"""The tables of a ledger, one migration for each version; `docs/ledger.md` says what they mean.

A migration that has been released is never changed: the next version is another one.
"""

from __future__ import annotations

__all__ = [
    "APPLICATION_ID",
    "MIGRATIONS",
    "NEWEST",
    "TRACKING",
    "WITH_END",
    "WITH_HOLDER",
    "WITH_SINCE",
    "WITH_VIEWS",
    "WITH_WINDOWS",
]

APPLICATION_ID = 0x6B657266  # "kerf", in the header of the file

TRACKING = """
CREATE TABLE schema_migrations (
    version INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    applied_at TEXT NOT NULL
)
"""

_EVENTS = """
CREATE TABLE events (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    entry INTEGER NOT NULL,
    at TEXT NOT NULL,
    event TEXT NOT NULL REFERENCES event_kinds (event),
    job INTEGER,
    offcut INTEGER,
    board TEXT,
    grade TEXT,
    buffered TEXT CHECK (buffered IN ('yes', 'no', 'unknown')),
    direction TEXT CHECK (direction IN ('known', 'unknown')),
    width TEXT,
    height TEXT,
    edges TEXT,
    count INTEGER,
    area TEXT,
    place TEXT,
    note TEXT,
    undoes INTEGER,
    details TEXT,
    previous TEXT NOT NULL,
    digest TEXT NOT NULL UNIQUE
);
CREATE INDEX events_of_offcut ON events (offcut) WHERE offcut IS NOT NULL;
CREATE INDEX events_of_job ON events (job) WHERE job IS NOT NULL;
CREATE TRIGGER events_are_never_changed BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'an event is never changed; record another one'); END;
CREATE TRIGGER events_are_never_taken_out BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'an event is never taken out; undo is an event too'); END;
"""

# What each event does: to the state of the offcut that it names, and to the count of sheets or
# slip sheets (times its own count). The views below are computed from this table.
_KINDS = """
CREATE TABLE event_kinds (
    event TEXT PRIMARY KEY,
    meaning TEXT NOT NULL,
    state TEXT,
    sheets INTEGER NOT NULL DEFAULT 0,
    slips INTEGER NOT NULL DEFAULT 0
);
INSERT INTO event_kinds (event, meaning, state, sheets, slips) VALUES
 ('board described', 'what a board is, or what a sheet of it costs', NULL, 0, 0),
 ('added', 'an offcut was measured by hand and put on the rack', 'on the rack', 0, 0),
 ('made', 'an offcut came from a layout of a job', 'on the rack', 0, 0),
 ('drop-out', 'the drop-out of a window was put on the rack', 'on the rack', 0, 0),
 ('measured', 'the true size of an offcut was measured', NULL, 0, 0),
 ('moved', 'an offcut was put somewhere else', NULL, 0, 0),
 ('corrected', 'what was written of an offcut was wrong', NULL, 0, 0),
 ('seen', 'an offcut was there when the rack was counted', NULL, 0, 0),
 ('set aside', 'an offcut is kept for a job', 'set aside', 0, 0),
 ('let go', 'an offcut is no longer kept for a job', 'on the rack', 0, 0),
 ('cut', 'an offcut was cut up for a job', 'cut', 0, 0),
 ('used', 'an offcut was used up for something outside any job', 'used', 0, 0),
 ('given away', 'an offcut was given away', 'given away', 0, 0),
 ('spoiled', 'an offcut was spoiled', 'spoiled', 0, 0),
 ('lost', 'an offcut was not there', 'lost', 0, 0),
 ('found', 'a lost offcut was there after all', 'on the rack', 0, 0),
 ('sheets in', 'full sheets were put on the rack', NULL, 1, 0),
 ('sheets out', 'full sheets went, other than by a job', NULL, -1, 0),
 ('sheets counted', 'a count of the rack found more sheets, or fewer', NULL, 1, 0),
 ('sheets set aside', 'full sheets on the rack are kept for a job', NULL, 0, 0),
 ('sheets cut', 'full sheets were cut up for a job', NULL, -1, 0),
 ('slips in', 'slip sheets were put with the others by hand', NULL, 0, 1),
 ('slips made', 'slip sheets came from a layout of a job', NULL, 0, 1),
 ('slips retired', 'slip sheets were scored too often, or went', NULL, 0, -1),
 ('slips counted', 'a count found more slip sheets, or fewer', NULL, 0, 1),
 ('pieces', 'the mats or backers that a job made', NULL, 0, 0),
 ('scrap', 'what was left and is of no use', NULL, 0, 0),
 ('trim', 'factory edges, and bad edges of offcuts', NULL, 0, 0),
 ('kerf', 'what the cuts removed', NULL, 0, 0),
 ('job planned', 'a job was planned from this ledger', NULL, 0, 0),
 ('job cut', 'a job was cut as planned', NULL, 0, 0),
 ('job cancelled', 'a job will not be cut as planned', NULL, 0, 0),
 ('undone', 'an earlier entry does not count', NULL, 0, 0);
"""

# A length is 'n/d', in millimetres. The decimals are for reading only.
_MM = (
    "round(CAST(substr({0}, 1, instr({0}, '/') - 1) AS REAL)"
    " / CAST(substr({0}, instr({0}, '/') + 1) AS REAL), 3)"
)


def _latest(column: str) -> str:
    """Return a subquery: what the last event that says anything says of an offcut's `column`."""
    return (
        f"(SELECT {column} FROM standing s WHERE s.offcut = o.offcut AND s.{column} IS NOT NULL"
        " ORDER BY s.seq DESC LIMIT 1)"
    )


_COUNTS = """
CREATE VIEW {what} AS
SELECT board, {wide} AS width_mm, {high} AS height_mm, sum(count * k.{column}) AS count{more},
    width, height
FROM standing e JOIN event_kinds k USING (event)
WHERE k.{column} <> 0 OR event = '{also}'
GROUP BY board, width, height;
"""

_SET_ASIDE = """,
    sum(CASE WHEN event = 'sheets set aside' AND e.job IN
        (SELECT job FROM jobs WHERE state = 'set aside') THEN count ELSE 0 END) AS set_aside"""

_VIEWS = "\n".join(
    (
        """
CREATE VIEW standing AS
SELECT * FROM events
WHERE entry NOT IN (SELECT undoes FROM events WHERE undoes IS NOT NULL);
CREATE VIEW jobs AS
SELECT p.job, p.note AS name, coalesce(
    (SELECT CASE event WHEN 'job cut' THEN 'cut' ELSE 'cancelled' END FROM standing e
     WHERE e.job = p.job AND event IN ('job cut', 'job cancelled') ORDER BY seq DESC LIMIT 1),
    'set aside') AS state, p.at AS planned_at, p.place AS folder
FROM standing p WHERE event = 'job planned';
""",
        f"""
CREATE VIEW offcuts AS
SELECT o.offcut AS number,
    (SELECT k.state FROM standing s JOIN event_kinds k USING (event)
     WHERE s.offcut = o.offcut AND k.state IS NOT NULL ORDER BY s.seq DESC LIMIT 1) AS state,
    {_latest("board")} AS board, {_latest("grade")} AS grade,
    {_latest("buffered")} AS buffered, {_latest("direction")} AS direction,
    {_MM.format(_latest("width"))} AS width_mm, {_MM.format(_latest("height"))} AS height_mm,
    {_latest("place")} AS place, o.at AS since, o.event AS came_by, o.job AS from_job,
    o.note AS source,
    (SELECT job FROM standing s WHERE s.offcut = o.offcut AND event IN ('set aside', 'cut')
     ORDER BY seq DESC LIMIT 1) AS for_job,
    {_latest("edges")} AS edges, {_latest("width")} AS width, {_latest("height")} AS height
FROM standing o WHERE o.event IN ('added', 'made', 'drop-out');
""",
        _COUNTS.format(
            what="sheets",
            wide=_MM.format("width"),
            high=_MM.format("height"),
            column="sheets",
            more=_SET_ASIDE,
            also="sheets set aside",
        ),
        _COUNTS.format(
            what="slip_sheets",
            wide=_MM.format("width"),
            high=_MM.format("height"),
            column="slips",
            more="",
            also="",
        ),
        f"""
CREATE VIEW story AS
SELECT e.offcut AS number, e.seq, e.at, e.event, k.meaning, e.job,
    {_MM.format("e.width")} AS width_mm, {_MM.format("e.height")} AS height_mm,
    e.place, e.note,
    e.entry IN (SELECT undoes FROM events WHERE undoes IS NOT NULL) AS undone
FROM events e JOIN event_kinds k USING (event) WHERE e.offcut IS NOT NULL ORDER BY e.seq;
CREATE VIEW areas AS
SELECT board, event, {_MM.format("area")} AS area_mm2, job, seq
FROM standing WHERE area IS NOT NULL;
""",
    )
)

# What an offcut was before an event, undone entries left out if they were undone by then.
_BEFORE = (
    "(SELECT p.{0} FROM events p WHERE p.offcut = e.offcut AND p.seq < e.seq"
    " AND p.{0} IS NOT NULL AND NOT EXISTS"
    " (SELECT 1 FROM events u WHERE u.undoes = p.entry AND u.seq < e.seq)"
    " ORDER BY p.seq DESC LIMIT 1)"
)


def _was(column: str, before: str) -> str:
    """Return SQL for ``grade cotton, was unknown; ``, or nothing where that did not change."""
    return (
        f"CASE WHEN e.{column} <> {before}"
        f" THEN '{column} ' || e.{column} || ', was ' || {before} || '; ' ELSE '' END"
    )


_WIDTH, _HEIGHT = _BEFORE.format("width"), _BEFORE.format("height")
_CHANGED = "\n || ".join(
    (
        f"CASE WHEN e.width <> {_WIDTH} OR e.height <> {_HEIGHT}"
        f" THEN 'size ' || {_MM.format('e.width')} || ' x ' || {_MM.format('e.height')}"
        f" || ' mm, was ' || {_MM.format(_WIDTH)} || ' x ' || {_MM.format(_HEIGHT)} || ' mm; '"
        " ELSE '' END",
        *(
            _was(column, _BEFORE.format(column))
            for column in ("board", "grade", "buffered", "direction")
        ),
        _was("edges", f"coalesce({_BEFORE.format('edges')}, '0/1 0/1 0/1 0/1')"),
        _was("place", f"coalesce(nullif({_BEFORE.format('place')}, ''), 'not said')"),
    )
)

_END = f"""
CREATE TABLE chain_end (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    seq INTEGER NOT NULL,
    digest TEXT NOT NULL
);
INSERT INTO chain_end SELECT 1, coalesce(max(seq), 0),
    coalesce((SELECT digest FROM events ORDER BY seq DESC LIMIT 1), 'kerfwright ledger')
FROM events;
CREATE TRIGGER the_end_moves_on AFTER INSERT ON events
BEGIN UPDATE chain_end SET seq = NEW.seq, digest = NEW.digest; END;
CREATE INDEX events_that_undo ON events (undoes) WHERE undoes IS NOT NULL;
DROP VIEW story;
CREATE VIEW story AS
SELECT e.offcut AS number, e.seq, e.at, e.event, k.meaning, e.job,
    {_MM.format("e.width")} AS width_mm, {_MM.format("e.height")} AS height_mm,
    e.place, e.note,
    CASE WHEN e.event IN ('added', 'made', 'drop-out') THEN NULL ELSE
    nullif(rtrim({_CHANGED}, '; '), '') END AS changed,
    e.entry IN (SELECT undoes FROM events WHERE undoes IS NOT NULL) AS undone
FROM events e JOIN event_kinds k USING (event) WHERE e.offcut IS NOT NULL ORDER BY e.seq;
"""

_WINDOWS = f"""
INSERT INTO event_kinds (event, meaning, state, sheets, slips) VALUES
 ('windows cut', 'the windows of a line of mats were cut', NULL, 0, 0),
 ('slips scored', 'windows were cut over slip sheets; below zero: those are retired', NULL, 0, 0);
DROP VIEW slip_sheets;
CREATE VIEW slip_sheets AS
SELECT board, {_MM.format("width")} AS width_mm, {_MM.format("height")} AS height_mm,
    sum(count * k.slips) AS count,
    sum(CASE WHEN event = 'slips scored' THEN count ELSE 0 END) AS windows, width, height
FROM standing e JOIN event_kinds k USING (event)
WHERE k.slips <> 0 OR event = 'slips scored'
GROUP BY board, width, height;
"""

# Read as text: SQLite lets no view call its functions for JSON in a file that it need not trust.
# Within a text in JSON a quote has a backslash before it, so that these marks are found only once.
_REST = 'substr(o.details, instr(o.details, \'"since": "\') + 10)'
_TOLD_SINCE = (
    "CASE WHEN instr(coalesce(o.details, ''), '\"since\": \"')"
    f" THEN substr({_REST}, 1, instr({_REST}, '\"') - 1) ELSE o.at END"
)
_OFFCUTS = f"""
DROP VIEW offcuts;
CREATE VIEW offcuts AS
SELECT o.offcut AS number,
    (SELECT k.state FROM standing s JOIN event_kinds k USING (event)
     WHERE s.offcut = o.offcut AND k.state IS NOT NULL ORDER BY s.seq DESC LIMIT 1) AS state,
    {_latest("board")} AS board, {_latest("grade")} AS grade,
    {_latest("buffered")} AS buffered, {_latest("direction")} AS direction,
    {_MM.format(_latest("width"))} AS width_mm, {_MM.format(_latest("height"))} AS height_mm,
    {_latest("place")} AS place,
    {_TOLD_SINCE} AS since, o.event AS came_by,
    o.job AS from_job, o.note AS source,
    (SELECT CASE event WHEN 'set aside' THEN job END FROM standing s WHERE s.offcut = o.offcut
     AND event IN ({{ends}}) ORDER BY seq DESC LIMIT 1) AS for_job,
    {_latest("edges")} AS edges, {_latest("width")} AS width, {_latest("height")} AS height
FROM standing o WHERE o.event IN ('added', 'made', 'drop-out');
"""
_SINCE = _OFFCUTS.format(ends="'set aside', 'let go', 'found'")
_HELD = _OFFCUTS.format(
    ends="'set aside', 'let go', 'found', 'used', 'given away', 'spoiled', 'lost'"
)

_SLIPS_SET = """
INSERT INTO event_kinds (event, meaning, state, sheets, slips) VALUES
 ('slips set', 'how many windows are cut over one slip sheet from now on', NULL, 0, 0);
"""

_VIEWS_MADE, _END_KEPT = "views to read", "the end of the chain, and what each event changed"
_WORN = "windows cut, and the wear of slip sheets"
_HELD_BY = "no job has what is spoiled or lost"
_SINCE_SAID = "when an offcut came, as was said, and only the job that still has it"

# In order; each and the record of it are one transaction.
MIGRATIONS: tuple[tuple[int, str, str], ...] = (
    (1, "events", _KINDS + _EVENTS),
    (2, _VIEWS_MADE, _VIEWS),
    (3, _END_KEPT, _END),
    (4, _WORN, _WINDOWS),
    (5, _SINCE_SAID, _SINCE),
    (6, "how many windows are cut over a slip sheet", _SLIPS_SET),
    (7, _HELD_BY, _HELD),
)
NEWEST = MIGRATIONS[-1][0]
# The first schemas that have the views, that keep the number and digest of the last event, that
# count windows, that know when an offcut came, and which job still has it.
WITH_VIEWS, WITH_END, WITH_WINDOWS, WITH_SINCE, WITH_HOLDER = (
    next(number for number, name, _ in MIGRATIONS if name == made)
    for made in (_VIEWS_MADE, _END_KEPT, _WORN, _SINCE_SAID, _HELD_BY)
)
