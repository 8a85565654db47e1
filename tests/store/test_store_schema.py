"""Migrations: all of a step or nothing; files from the future and of others are refused."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from monitor.errors import StoreTooNew, StoreUnreadable
from monitor.store import Store, schema
from monitor.store.schema import MIGRATIONS, Migration


@pytest.fixture
def connection(tmp_path: Path) -> sqlite3.Connection:
    return sqlite3.connect(tmp_path / "schema.sqlite", isolation_level=None)


def test_each_step_leaves_its_record(connection: sqlite3.Connection, tmp_path: Path) -> None:
    schema.migrate(connection, tmp_path)
    rows = connection.execute("SELECT number, name FROM migration ORDER BY number").fetchall()
    assert rows == [(step.number, step.name) for step in MIGRATIONS]
    connection.close()


def test_steps_are_numbered_without_holes() -> None:
    assert [step.number for step in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


@pytest.mark.parametrize("known", range(1, len(MIGRATIONS)))
def test_an_older_file_gets_only_what_it_lacks(
    connection: sqlite3.Connection, tmp_path: Path, known: int
) -> None:
    schema.migrate(connection, tmp_path, MIGRATIONS[:known])
    assert schema.version(connection) == known
    schema.migrate(connection, tmp_path)
    assert schema.version(connection) == schema.newest()
    connection.close()


def test_a_step_that_fails_leaves_nothing(connection: sqlite3.Connection, tmp_path: Path) -> None:
    broken = Migration(1, "broken", ("CREATE TABLE half(done INTEGER)", "CREATE TABLE half(done INTEGER)"))
    with pytest.raises(sqlite3.OperationalError):
        schema.migrate(connection, tmp_path, (broken,))
    assert connection.execute("SELECT count(*) FROM sqlite_schema").fetchone() == (0,)
    connection.close()


def test_every_table_is_strict(connection: sqlite3.Connection, tmp_path: Path) -> None:
    schema.migrate(connection, tmp_path)
    loose = connection.execute(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND strict = 0 AND name NOT LIKE 'sqlite_%'"
    ).fetchall()
    assert loose == []
    connection.close()


def test_a_newer_file_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "rearing.sqlite"
    Store.open(path).close()
    with sqlite3.connect(path) as other:
        other.execute("INSERT INTO migration VALUES(?, 'from the future', 0)", (schema.newest() + 1,))
    other.close()
    for opening in (Store.open, Store.read_only):
        with pytest.raises(StoreTooNew, match=r"newer version.*To mend: install the newer version"):
            opening(path)


def test_an_older_file_is_not_opened_for_reading_only(tmp_path: Path) -> None:
    path = tmp_path / "old.sqlite"
    connection = sqlite3.connect(path, isolation_level=None)
    schema.migrate(connection, path, MIGRATIONS[:1])
    connection.close()
    with pytest.raises(StoreUnreadable, match=r"older version.*start the service once"):
        Store.read_only(path)


def test_a_database_of_another_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "contacts.sqlite"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE contact(name TEXT)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(StoreUnreadable, match="belongs to another program"):
        Store.open(path)
    assert path.read_bytes() == before


LOGBOOK_ROWS = [
    (1, "cohort", "b1", "start", 10, 11, "keeper", '{"place": "bin-1"}', None),
    (2, "bin", "bin-1", "fill", 12, 13, "keeper", "{}", None),
    (5, "cohort", "b1", "start", 9, 14, "keeper", '{"place": "bin-2"}', 1),
]


def test_an_old_logbook_takes_entries_about_places_and_keeps_every_entry(tmp_path: Path) -> None:
    path = tmp_path / "old.sqlite"
    old = sqlite3.connect(path, isolation_level=None)
    schema.migrate(old, path, MIGRATIONS[:8])
    old.executemany("INSERT INTO logbook VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?)", LOGBOOK_ROWS)
    insert = "INSERT INTO logbook VALUES(NULL, 'place', 'bin-1', 'empty', 1, 1, 'keeper', '{}', NULL)"
    with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
        old.execute(insert)
    old.close()
    Store.open(path).close()
    new = sqlite3.connect(path, isolation_level=None)
    new.execute("PRAGMA foreign_keys=ON")
    assert new.execute("SELECT * FROM logbook ORDER BY entry_id").fetchall() == LOGBOOK_ROWS
    assert new.execute(insert).lastrowid == 6, "numbers go on where they were"
    for change in ("DELETE FROM logbook WHERE entry_id = 6", "UPDATE logbook SET author = 'x'"):
        with pytest.raises(sqlite3.IntegrityError, match="an entry of the logbook is never"):
            new.execute(change)
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        new.execute("INSERT INTO logbook VALUES(NULL, 'bin', 'b', 'stir', 1, 1, 'k', '{}', 99)")
    names = new.execute("SELECT name FROM sqlite_schema WHERE tbl_name = 'logbook' AND sql NOT NULL")
    assert {name for (name,) in names} == {
        *("logbook", "logbook_by_subject", "logbook_keeps_entries", "logbook_loses_nothing")
    }
    new.close()
