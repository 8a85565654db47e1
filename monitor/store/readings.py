"""Queries about readings. Spans are [start, end): the end does not belong to them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from monitor.records import MS_PER_DAY, Calibration, Flag, FlaggedReading, HourSummary, Reading, SensorKey
from monitor.store import sensors
from monitor.store.calibrations import applied
from monitor.store.connection import Database
from monitor.store.sensors import SensorRow, from_steps
from monitor.store.series import Band, Series
from monitor.store.summaries import Summaries

LONGEST_RAW_MS = 3 * MS_PER_DAY


def _series(rows: Sequence[tuple[int, int | None, int]], steps_in_unit: int) -> Series:
    at = np.array([row[0] for row in rows], dtype=np.int64)
    steps = np.array([np.nan if row[1] is None else row[1] for row in rows], dtype=np.float64)
    return Series(at, steps / steps_in_unit, np.array([row[2] for row in rows], dtype=np.int8))


class Readings:
    """Raw readings, and the choice between them and the hours."""

    def __init__(self, database: Database, summaries: Summaries) -> None:
        self._database = database
        self._summaries = summaries

    def sensors(self) -> tuple[SensorKey, ...]:
        """Every sensor that ever sent a reading, in the order of their keys."""
        with self._database.read() as connection:
            return tuple(row.key for row in sensors.every(connection))

    def series(
        self,
        sensor: SensorKey,
        start_ms: int,
        end_ms: int,
        calibrations: Sequence[Calibration] | None = None,
    ) -> Series:
        """Readings of one sensor, empty for an unknown one.

        Raw without `calibrations`; with them (none, too) as they are to be shown: humidity within 0 to 100.
        """
        with self._database.read() as connection:
            row = sensors.find(connection, sensor)
            if row is None:
                return _series((), 1)
            rows = connection.execute(
                "SELECT at_ms, value, flag FROM reading WHERE sensor_id = ? AND at_ms >= ? AND at_ms < ? "
                "ORDER BY at_ms",
                (row.sensor_id, start_ms, end_ms),
            ).fetchall()
        found = _series(rows, row.per_unit)
        return found if calibrations is None else found.calibrated(calibrations, sensor.quantity)

    def band(
        self, sensor: SensorKey, start_ms: int, end_ms: int, calibrations: Sequence[Calibration] = ()
    ) -> Band:
        """What a chart needs: single usable readings for up to three days, hours for a longer span."""
        if end_ms - start_ms > LONGEST_RAW_MS:
            return _hour_band(self._summaries.hours(sensor, start_ms, end_ms), calibrations, sensor.quantity)
        usable = self.series(sensor, start_ms, end_ms, calibrations).usable()
        return Band(usable.at_ms, usable.value, usable.value, usable.value, hourly=False)

    def latest(self, calibrations: Iterable[Calibration] = ()) -> dict[SensorKey, FlaggedReading]:
        """The newest reading of each sensor, flags whatever they are."""
        by_sensor: dict[SensorKey, list[Calibration]] = {}
        for calibration in calibrations:
            by_sensor.setdefault(calibration.sensor, []).append(calibration)
        with self._database.read() as connection:
            found = ((row, _newest(connection, row)) for row in sensors.every(connection))
            return {
                row.key: _flagged(row, newest, by_sensor.get(row.key, ())) for row, newest in found if newest
            }

    def iterate(self, sensor: SensorKey, start_ms: int, end_ms: int) -> Iterator[tuple[int, float, Flag]]:
        """Raw readings one after the other in pieces of a day, so that a long export stays small."""
        last = self._last_ms(sensor)
        for day_ms in range(self._first_ms(sensor, start_ms), min(end_ms, last + 1), MS_PER_DAY):
            day = self.series(sensor, day_ms, min(day_ms + MS_PER_DAY, end_ms))
            for at, value, flag in zip(day.at_ms, day.value, day.flag, strict=True):
                yield int(at), float(value), Flag(int(flag))

    def _first_ms(self, sensor: SensorKey, start_ms: int) -> int:
        with self._database.read() as connection:
            row = sensors.find(connection, sensor)
            first = (
                row
                and connection.execute(
                    "SELECT min(at_ms) FROM reading WHERE sensor_id = ? AND at_ms >= ?",
                    (row.sensor_id, start_ms),
                ).fetchone()
            )
            return start_ms if not first or first[0] is None else int(first[0])

    def _last_ms(self, sensor: SensorKey) -> int:
        with self._database.read() as connection:
            row = sensors.find(connection, sensor)
            newest = row and _newest(connection, row)
            return newest[0] if newest else -(2**63)


def _newest(connection: sqlite3.Connection, row: SensorRow) -> tuple[int, int | None, int] | None:
    found: tuple[int, int | None, int] | None = connection.execute(
        "SELECT at_ms, value, flag FROM reading WHERE sensor_id = ? ORDER BY at_ms DESC LIMIT 1",
        (row.sensor_id,),
    ).fetchone()
    return found


def _flagged(
    row: SensorRow, newest: tuple[int, int | None, int], calibrations: Sequence[Calibration]
) -> FlaggedReading:
    at_ms, steps, flag = newest
    raw = from_steps(steps, row.per_unit)
    true = applied(calibrations, row.key.quantity, np.array([at_ms]), np.array([raw]))
    return FlaggedReading(Reading(row.key, at_ms, raw), Flag(flag), float(true[0]))


def _hour_band(hours: Sequence[HourSummary], calibrations: Sequence[Calibration], quantity: str) -> Band:
    filled = [hour for hour in hours if hour.count]
    at = np.array([hour.hour_ms for hour in filled], dtype=np.int64)
    first, mean, last = (
        applied(calibrations, quantity, at, np.array([getattr(hour, name) for hour in filled], np.float64))
        for name in ("minimum", "mean", "maximum")
    )
    return Band(at, np.minimum(first, last), mean, np.maximum(first, last), hourly=True)
