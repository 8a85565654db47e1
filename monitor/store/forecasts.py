"""Forecasts as they were made, one a day for each subject and event, so that they can be held against what
was seen later. The first one of a day stays.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.store.connection import Database


@dataclass(frozen=True, slots=True)
class MadeForecast:
    """What was forecast of one event on one day: median and 80 % window."""

    subject: str
    day: str
    event: str
    made_ms: int
    median_ms: int
    low_ms: int
    high_ms: int


class Forecasts:
    """Keep and query."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, made: Iterable[MadeForecast]) -> int:
        """Keep forecasts of days that have none yet; gives how many were new."""
        rows = [
            (each.subject, each.day, each.event, each.made_ms, each.median_ms, each.low_ms, each.high_ms)
            for each in made
        ]
        with self._database.write() as connection:
            before = connection.total_changes
            connection.executemany(
                "INSERT INTO forecast_made VALUES(?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING", rows
            )
            return connection.total_changes - before

    def has(self, day: str) -> bool:
        """Whether any forecast of that day was kept."""
        with self._database.read() as connection:
            found = connection.execute("SELECT 1 FROM forecast_made WHERE day = ? LIMIT 1", (day,)).fetchone()
            return found is not None

    def every(self, subject: str | None = None) -> tuple[MadeForecast, ...]:
        """All that were kept, of one subject or of all, in the order in which they were made."""
        with self._database.read() as connection:
            rows = connection.execute(
                "SELECT subject, day, event, made_ms, median_ms, low_ms, high_ms FROM forecast_made "
                "WHERE ?1 IS NULL OR subject = ?1 ORDER BY made_ms, subject, event",
                (subject,),
            ).fetchall()
        return tuple(MadeForecast(*row) for row in rows)
