"""Which night reports went out: each date once."""

from __future__ import annotations

from collections.abc import Iterable

from monitor.records import OutboxMessage
from monitor.store import outbox
from monitor.store.connection import Database


class Reports:
    """The register of night reports."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def claim(self, date: str, now_ms: int, messages: Iterable[OutboxMessage] = ()) -> bool:
        """Take the report of a date and put its messages into the outbox, both or neither.

        True for the first caller of that date, False for every other.
        """
        with self._database.write() as connection:
            cursor = connection.execute(
                "INSERT INTO night_report VALUES(?, ?) ON CONFLICT DO NOTHING", (date, now_ms)
            )
            if cursor.rowcount != 1:
                return False
            outbox.write(connection, messages)
            return True

    def claimed(self, date: str) -> bool:
        """True when the report of that date was taken."""
        with self._database.read() as connection:
            row = connection.execute("SELECT 1 FROM night_report WHERE date = ?", (date,)).fetchone()
            return row is not None
