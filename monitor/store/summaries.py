"""Queries about hours; they are written together with the readings (`reading_writer`)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.records import MS_PER_HOUR, HourSummary, SensorKey
from monitor.store import sensors
from monitor.store.connection import Database
from monitor.store.sensors import SensorRow, from_steps


@dataclass(frozen=True, slots=True)
class HourParts:
    """Parts of several hours each: start, lowest, mean and highest raw value; empty parts are left out."""

    start_ms: NDArray[np.int64]
    minimum: NDArray[np.float64]
    mean: NDArray[np.float64]
    maximum: NDArray[np.float64]


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

    def parts(self, sensor: SensorKey, start_ms: int, end_ms: int, hours: int) -> HourParts:
        """The hours that begin in [start, end), so many of them put together, counted from the start."""
        first = -(-start_ms // MS_PER_HOUR)
        with self._database.read() as connection:
            row = sensors.find(connection, sensor)
            found = (
                row
                and connection.execute(
                    "SELECT (hour - ?2) / ?4, min(minimum), sum(total) * 1.0 / sum(count), max(maximum) "
                    "FROM hourly WHERE sensor_id = ?1 AND hour >= ?2 AND hour < ?3 AND count > 0 "
                    "GROUP BY 1 ORDER BY 1",
                    (row.sensor_id, first, -(-end_ms // MS_PER_HOUR), hours),
                ).fetchall()
            )
        cells = np.array(found or [], dtype=np.float64).reshape(-1, 4)
        start = (first + cells[:, 0].astype(np.int64) * hours) * MS_PER_HOUR
        per_unit = row.per_unit if row else 1
        return HourParts(start, cells[:, 1] / per_unit, cells[:, 2] / per_unit, cells[:, 3] / per_unit)


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
