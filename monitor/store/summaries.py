"""Queries about hours; they are written together with the readings (`reading_writer`)."""

from __future__ import annotations

import math

from monitor.records import MS_PER_HOUR, HourSummary, SensorKey
from monitor.store import sensors
from monitor.store.connection import Database
from monitor.store.sensors import SensorRow, from_steps


class Summaries:
    """Hourly summaries, kept for ever."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def hours(self, sensor: SensorKey, start_ms: int, end_ms: int) -> tuple[HourSummary, ...]:
        """Hours that begin in [start, end); raw values. With a count of 0 the values are NaN."""
        with self._database.read() as connection:
            row = sensors.find(connection, sensor)
            if row is None:
                return ()
            found = connection.execute(
                "SELECT hour, count, minimum, total, maximum, flagged FROM hourly "
                "WHERE sensor_id = ? AND hour >= ? AND hour < ? ORDER BY hour",
                (row.sensor_id, -(-start_ms // MS_PER_HOUR), -(-end_ms // MS_PER_HOUR)),
            ).fetchall()
        return tuple(_summary(row, cells) for cells in found)


def _summary(row: SensorRow, cells: tuple[int, int, int | None, int, int | None, int]) -> HourSummary:
    hour, count, minimum, total, maximum, flagged = cells
    return HourSummary(
        sensor=row.key,
        hour_ms=hour * MS_PER_HOUR,
        count=count,
        minimum=from_steps(minimum, row.per_unit),
        mean=total / row.per_unit / count if count else math.nan,
        maximum=from_steps(maximum, row.per_unit),
        flagged=flagged,
    )
