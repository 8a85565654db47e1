"""The tables, as numbered steps. A step that was published is never changed: a new one is added.

A reading is kept as a whole number of steps of its quantity's resolution (`sensor.per_unit` steps in one
unit, 500 for °C): SQLite then needs two bytes for most values in place of eight, and the resolution
is finer than any of the sensors. NULL stands for a value that no sensor can mean (not finite, out of range).
`reading` and `hourly` have no foreign key on purpose: it would cost a look-up for each reading.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from monitor import __version__
from monitor.errors import StoreUnreadable

APPLICATION_ID = 0x52454152
OWN_VERSION = __version__
WRITTEN_BY = "program_version"
"""The fact under which the version is kept that an older program names when it refuses the file."""
_READINGS = (
    """CREATE TABLE sensor(
        sensor_id INTEGER PRIMARY KEY, node TEXT NOT NULL, probe TEXT NOT NULL, quantity TEXT NOT NULL,
        per_unit INTEGER NOT NULL CHECK(per_unit > 0), UNIQUE(node, probe, quantity)) STRICT""",
    """CREATE TABLE reading(
        sensor_id INTEGER NOT NULL, at_ms INTEGER NOT NULL, value INTEGER, flag INTEGER NOT NULL,
        PRIMARY KEY(sensor_id, at_ms)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE hourly(
        sensor_id INTEGER NOT NULL, hour INTEGER NOT NULL, count INTEGER NOT NULL,
        minimum INTEGER, total INTEGER NOT NULL, maximum INTEGER, flagged INTEGER NOT NULL,
        PRIMARY KEY(sensor_id, hour)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE calibration(
        calibration_id INTEGER PRIMARY KEY, node TEXT NOT NULL, probe TEXT NOT NULL, quantity TEXT NOT NULL,
        valid_from_ms INTEGER NOT NULL, slope REAL NOT NULL, shift REAL NOT NULL, note TEXT NOT NULL,
        entered_ms INTEGER NOT NULL) STRICT""",
    "CREATE INDEX calibration_by_sensor ON calibration(node, probe, quantity, valid_from_ms)",
)
_NODES = (
    """CREATE TABLE node(
        node_id INTEGER PRIMARY KEY, node TEXT NOT NULL UNIQUE, first_heard_ms INTEGER NOT NULL,
        last_heard_ms INTEGER NOT NULL, online INTEGER, boot INTEGER, sequence INTEGER, clock_fault TEXT,
        messages INTEGER NOT NULL DEFAULT 0, missing INTEGER NOT NULL DEFAULT 0,
        duplicates INTEGER NOT NULL DEFAULT 0, conflicts INTEGER NOT NULL DEFAULT 0,
        rejected INTEGER NOT NULL DEFAULT 0, last_reject_ms INTEGER,
        last_reject_reason TEXT NOT NULL DEFAULT '', last_reject_sample BLOB NOT NULL DEFAULT x'',
        silence_limit_s REAL) STRICT""",
    """CREATE TABLE node_boot(
        node_id INTEGER NOT NULL REFERENCES node, boot INTEGER NOT NULL, lowest INTEGER NOT NULL,
        highest INTEGER NOT NULL, heard_ms INTEGER NOT NULL,
        PRIMARY KEY(node_id, boot)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE message(
        node_id INTEGER NOT NULL, boot INTEGER NOT NULL, sequence INTEGER NOT NULL,
        received_ms INTEGER NOT NULL, time_source TEXT NOT NULL,
        PRIMARY KEY(node_id, boot, sequence)) STRICT, WITHOUT ROWID""",
)
_ALARMS = (
    """CREATE TABLE alarm_state(
        alarm_id TEXT PRIMARY KEY, status TEXT NOT NULL, active INTEGER NOT NULL,
        acknowledged INTEGER NOT NULL,
        since_ms INTEGER, progress_s REAL NOT NULL, last_at_ms INTEGER, last_value REAL, extreme_value REAL,
        last_true_ms INTEGER, shelved_until_ms INTEGER, stale INTEGER NOT NULL) STRICT, WITHOUT ROWID""",
    """CREATE TABLE journal(
        entry_id INTEGER PRIMARY KEY AUTOINCREMENT, alarm_id TEXT NOT NULL, place TEXT NOT NULL,
        quantity TEXT NOT NULL, priority TEXT NOT NULL, event TEXT NOT NULL, before TEXT NOT NULL,
        after TEXT NOT NULL, at_ms INTEGER NOT NULL, processed_ms INTEGER NOT NULL, value REAL, setpoint REAL,
        actor TEXT NOT NULL, reason TEXT NOT NULL) STRICT""",
    "CREATE INDEX journal_by_time ON journal(at_ms)",
    "CREATE INDEX journal_by_alarm ON journal(alarm_id, at_ms)",
    """CREATE TABLE command(
        command_id INTEGER PRIMARY KEY AUTOINCREMENT, kind TEXT NOT NULL, created_ms INTEGER NOT NULL,
        actor TEXT NOT NULL, alarm_id TEXT NOT NULL, until_ms INTEGER, reason TEXT NOT NULL,
        outcome TEXT) STRICT""",
    "CREATE INDEX command_waiting ON command(command_id) WHERE outcome IS NULL",
)
_MESSAGES = (
    """CREATE TABLE outbox(
        message_id INTEGER PRIMARY KEY AUTOINCREMENT, recipient TEXT NOT NULL, kind TEXT NOT NULL,
        title TEXT NOT NULL, body TEXT NOT NULL, created_ms INTEGER NOT NULL, priority TEXT NOT NULL,
        alarm_id TEXT, not_before_ms INTEGER NOT NULL, attempts INTEGER NOT NULL,
        next_attempt_ms INTEGER NOT NULL, last_error TEXT NOT NULL,
        state TEXT NOT NULL DEFAULT 'waiting' CHECK(state IN ('waiting', 'sent', 'superseded', 'folded')),
        finished_ms INTEGER) STRICT""",
    "CREATE INDEX outbox_waiting ON outbox(created_ms) WHERE state = 'waiting'",
    "CREATE INDEX outbox_sent ON outbox(recipient, finished_ms) WHERE state = 'sent'",
    "CREATE INDEX outbox_by_alarm ON outbox(alarm_id, created_ms)",
    "CREATE TABLE night_report(date TEXT PRIMARY KEY, claimed_ms INTEGER NOT NULL) STRICT, WITHOUT ROWID",
)
_LOGBOOK_INDEX_AND_TRIGGERS = (
    "CREATE INDEX logbook_by_subject ON logbook(subject_kind, subject, at_ms)",
    """CREATE TRIGGER logbook_keeps_entries BEFORE UPDATE ON logbook
        BEGIN SELECT RAISE(ABORT, 'an entry of the logbook is never changed'); END""",
    """CREATE TRIGGER logbook_loses_nothing BEFORE DELETE ON logbook
        BEGIN SELECT RAISE(ABORT, 'an entry of the logbook is never deleted'); END""",
)
_SERVICE = (
    """CREATE TABLE service_run(
        run_id INTEGER PRIMARY KEY AUTOINCREMENT, started_ms INTEGER NOT NULL, alive_ms INTEGER NOT NULL,
        stopped_ms INTEGER) STRICT""",
    "CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID",
    """CREATE TABLE logbook(
        entry_id INTEGER PRIMARY KEY AUTOINCREMENT,
        subject_kind TEXT NOT NULL CHECK(subject_kind IN ('cohort', 'bin')), subject TEXT NOT NULL,
        kind TEXT NOT NULL, at_ms INTEGER NOT NULL, entered_ms INTEGER NOT NULL, author TEXT NOT NULL,
        body TEXT NOT NULL, corrects INTEGER UNIQUE REFERENCES logbook(entry_id)) STRICT""",
    *_LOGBOOK_INDEX_AND_TRIGGERS,
)
_ARCHIVE = (
    """CREATE TABLE archive_queue(
        seq INTEGER PRIMARY KEY AUTOINCREMENT, sensor_id INTEGER NOT NULL, at_ms INTEGER NOT NULL,
        value INTEGER NOT NULL, flag INTEGER NOT NULL, queued_ms INTEGER NOT NULL) STRICT""",
    """CREATE TABLE archive_rejected(
        seq INTEGER PRIMARY KEY, sensor_id INTEGER NOT NULL, at_ms INTEGER NOT NULL, value INTEGER NOT NULL,
        flag INTEGER NOT NULL, reason TEXT NOT NULL, parked_ms INTEGER NOT NULL) STRICT""",
)
_FORECASTS = (
    """CREATE TABLE forecast_made(
        subject TEXT NOT NULL, day TEXT NOT NULL, event TEXT NOT NULL, made_ms INTEGER NOT NULL,
        median_ms INTEGER NOT NULL, low_ms INTEGER NOT NULL, high_ms INTEGER NOT NULL,
        PRIMARY KEY(subject, day, event)) STRICT, WITHOUT ROWID""",
)
_LATE = (
    """CREATE TABLE found_late(
        alarm_id TEXT NOT NULL, began_ms INTEGER NOT NULL, ended_ms INTEGER NOT NULL, extreme REAL NOT NULL,
        found_ms INTEGER NOT NULL, PRIMARY KEY(alarm_id, began_ms)) STRICT, WITHOUT ROWID""",
    "CREATE INDEX found_late_by_time ON found_late(found_ms)",
)
_ANY_SUBJECT = (
    # The table is made anew without the CHECK on the kind of its subject, so that an entry may be about
    # a place or a board; dropping a table fires no trigger.
    """CREATE TABLE logbook_anew(
        entry_id INTEGER PRIMARY KEY AUTOINCREMENT, subject_kind TEXT NOT NULL, subject TEXT NOT NULL,
        kind TEXT NOT NULL, at_ms INTEGER NOT NULL, entered_ms INTEGER NOT NULL, author TEXT NOT NULL,
        body TEXT NOT NULL, corrects INTEGER UNIQUE REFERENCES logbook_anew(entry_id)) STRICT""",
    """INSERT INTO logbook_anew
        SELECT entry_id, subject_kind, subject, kind, at_ms, entered_ms, author, body, corrects
        FROM logbook ORDER BY entry_id""",
    "DROP TABLE logbook",
    "ALTER TABLE logbook_anew RENAME TO logbook",
    *_LOGBOOK_INDEX_AND_TRIGGERS,
)
_OVER = tuple(
    f"ALTER TABLE alarm_state ADD COLUMN {column}"
    for column in ("over_since_ms INTEGER", "over_ms INTEGER", "over_extreme REAL")
)
_REFUSED = (
    """CREATE TABLE refused_message(
        node_id INTEGER NOT NULL REFERENCES node, boot INTEGER NOT NULL, sequence INTEGER NOT NULL,
        received_ms INTEGER NOT NULL, PRIMARY KEY(node_id, boot, sequence)) STRICT, WITHOUT ROWID""",
)
_REPORTS = (
    """CREATE TABLE board_report(
        node_id INTEGER PRIMARY KEY REFERENCES node, reported_ms INTEGER NOT NULL, kept INTEGER NOT NULL,
        body TEXT NOT NULL, lost_grew_ms INTEGER, damaged_grew_ms INTEGER, bad_reset_ms INTEGER,
        published TEXT) STRICT""",
)
_CONTENTS = (
    "ALTER TABLE message ADD COLUMN newest_ms INTEGER",
    "ALTER TABLE message ADD COLUMN content INTEGER",
    "ALTER TABLE node ADD COLUMN boot_stands_ms INTEGER",
)
_MARKS = (
    """CREATE TABLE form_mark(
        mark TEXT PRIMARY KEY, content TEXT NOT NULL, done_ms INTEGER NOT NULL, target TEXT NOT NULL)
        STRICT, WITHOUT ROWID""",
    "CREATE INDEX form_mark_by_time ON form_mark(done_ms)",
)
_DAYS = (
    """CREATE TABLE day_task(
        day TEXT NOT NULL, task TEXT NOT NULL, kept_ms INTEGER NOT NULL, done_ms INTEGER, who TEXT,
        PRIMARY KEY(day, task)) STRICT, WITHOUT ROWID""",
)
_PHONES = (
    # AUTOINCREMENT: a number names one way to a person in the outbox and is never given again.
    """CREATE TABLE phone(
        phone_id INTEGER PRIMARY KEY AUTOINCREMENT, recipient TEXT NOT NULL, person TEXT NOT NULL,
        role TEXT NOT NULL, device TEXT NOT NULL, endpoint TEXT NOT NULL UNIQUE, p256dh TEXT NOT NULL,
        auth TEXT NOT NULL, made_ms INTEGER NOT NULL, last_ok_ms INTEGER,
        failures INTEGER NOT NULL DEFAULT 0) STRICT""",
    """CREATE TABLE phone_gone(
        phone_id INTEGER PRIMARY KEY, recipient TEXT NOT NULL, device TEXT NOT NULL,
        gone_ms INTEGER NOT NULL) STRICT""",
)
_PHOTOS = (
    """CREATE TABLE photo(
        entry_id INTEGER PRIMARY KEY REFERENCES logbook(entry_id), name TEXT NOT NULL,
        bytes INTEGER NOT NULL, width INTEGER NOT NULL, height INTEGER NOT NULL, small BLOB,
        gone_ms INTEGER, gone_by TEXT) STRICT""",
    "CREATE INDEX photo_by_name ON photo(name)",
    """CREATE TABLE photo_waiting(
        name TEXT PRIMARY KEY, bytes INTEGER NOT NULL, width INTEGER NOT NULL, height INTEGER NOT NULL,
        small BLOB, since_ms INTEGER NOT NULL) STRICT, WITHOUT ROWID""",
    """CREATE TRIGGER photo_stays_noted BEFORE DELETE ON photo
        BEGIN SELECT RAISE(ABORT, 'that an entry had a photo is never deleted'); END""",
)
_TOLD = tuple(f"ALTER TABLE outbox ADD COLUMN {column} REAL" for column in ("worst", "setpoint"))


@dataclass(frozen=True, slots=True)
class Migration:
    """One step of the schema, with its own record."""

    number: int
    name: str
    statements: tuple[str, ...]


MIGRATIONS: tuple[Migration, ...] = (
    Migration(1, "readings and calibrations", _READINGS),
    Migration(2, "nodes and their messages", _NODES),
    Migration(3, "alarms, journal and commands", _ALARMS),
    Migration(4, "outbox and night reports", _MESSAGES),
    Migration(5, "service runs, facts, logbook", _SERVICE),
    Migration(6, "archive queue", _ARCHIVE),
    Migration(7, "forecasts as they were made", _FORECASTS),
    Migration(8, "excursions found late", _LATE),
    Migration(9, "entries about places and boards", _ANY_SUBJECT),
    Migration(10, "from when to when an alarm stood that is over", _OVER),
    Migration(11, "how bad it was when somebody was told", _TOLD),
    Migration(12, "packs that were refused", _REFUSED),
    Migration(13, "what boards report", _REPORTS),
    Migration(14, "what a message held, and boot numbers that stand still", _CONTENTS),
    Migration(15, "forms that were handed in", _MARKS),
    Migration(16, "what a day asks for, and what was ticked off", _DAYS),
    Migration(17, "phones to which messages are pushed", _PHONES),
    Migration(18, "photos of entries", _PHOTOS),
)


def newest(migrations: tuple[Migration, ...] = MIGRATIONS) -> int:
    """The number of the schema that this program writes."""
    return migrations[-1].number if migrations else 0


def version(connection: sqlite3.Connection) -> int:
    """The number of the last step that the file has; 0 for a new file."""
    if not _has_table(connection, "migration"):
        return 0
    return int(connection.execute("SELECT coalesce(max(number), 0) FROM migration").fetchone()[0])


def refuse_foreign(connection: sqlite3.Connection, path: Path) -> None:
    """Raise StoreUnreadable for a database that another program wrote."""
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables and mark != APPLICATION_ID:
        raise StoreUnreadable(
            "{path}: this database belongs to another program; nothing was changed. "
            "To mend: give another file in [store] path.",
            path=path,
        )


def migrate(
    connection: sqlite3.Connection,
    path: Path,
    migrations: tuple[Migration, ...] = MIGRATIONS,
    before: Callable[[Path, int], None] | None = None,
) -> int:
    """Do the steps that the file does not have yet, all of them or none; gives the step that it had.

    `before` is told file and step where it has one, while nobody else may write and nothing is changed yet;
    what it raises leaves the file as it is.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        found = version(connection)
        lacking = [step for step in migrations if step.number > found]
        if found and lacking and before is not None:
            before(path, found)
        for step in lacking:
            _run(connection, step)
        if lacking and _has_table(connection, "meta"):
            _note_version(connection)
        connection.execute("COMMIT")
        return found
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def written_by(connection: sqlite3.Connection) -> str:
    """The version of the program that brought the file to its schema; empty where that was not kept yet."""
    if not _has_table(connection, "meta"):
        return ""
    row = connection.execute("SELECT value FROM meta WHERE key = ?", (WRITTEN_BY,)).fetchone()
    return "" if row is None else str(row[0])


def _note_version(connection: sqlite3.Connection) -> None:
    connection.execute("INSERT OR REPLACE INTO meta VALUES(?, ?)", (WRITTEN_BY, OWN_VERSION))


def _has_table(connection: sqlite3.Connection, name: str) -> bool:
    return connection.execute("SELECT 1 FROM sqlite_schema WHERE name = ?", (name,)).fetchone() is not None


def _run(connection: sqlite3.Connection, step: Migration) -> None:
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(
        "CREATE TABLE IF NOT EXISTS migration("
        "number INTEGER PRIMARY KEY, name TEXT NOT NULL, applied_ms INTEGER NOT NULL) STRICT"
    )
    for statement in step.statements:
        connection.execute(statement)
    connection.execute(
        "INSERT INTO migration VALUES(?, ?, ?)", (step.number, step.name, time.time_ns() // 1_000_000)
    )
