"""Small facts by name."""

from __future__ import annotations

import sqlite3

from monitor.store.connection import Database

DEMO_CLOCK = "demo_clock_ms"
"""In the store of a demo: the simulated time up to which it was played."""


def get(connection: sqlite3.Connection, key: str) -> str | None:
    """The fact of that name, inside a transaction of the caller."""
    row = connection.execute("SELECT value FROM meta WHERE key = ?", (key,)).fetchone()
    return None if row is None else str(row[0])


def put(connection: sqlite3.Connection, key: str, value: str) -> None:
    """Write a fact, inside a transaction of the caller."""
    connection.execute(
        "INSERT INTO meta VALUES(?, ?) ON CONFLICT DO UPDATE SET value = excluded.value", (key, value)
    )


class Meta:
    """Small facts that must survive a restart."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def get(self, key: str) -> str | None:
        """The fact of that name, or None."""
        with self._database.read() as connection:
            return get(connection, key)

    def put(self, key: str, value: str) -> None:
        """Write a fact, in place of an older one."""
        with self._database.write() as connection:
            put(connection, key, value)
