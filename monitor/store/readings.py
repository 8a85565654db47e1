"""Queries about readings. Spans are [start, end): the end does not belong to them.

Sensors by number, and the whole-number form in which a value is kept.

A sensor's readings over a span as arrays, and what can be read off them. Pure.

Queries about hours; they are written together with the readings (`reading_writer`).
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.climate.calibration import CalibrationTable, applied
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    QUANTITIES,
    Calibration,
    Flag,
    FlaggedReading,
    HourSummary,
    Reading,
    SensorKey,
)
from monitor.store.connection import Database

_PER_UNIT_OF_UNKNOWN = 10_000
LARGEST_STEPS = 10**12


@dataclass(frozen=True, slots=True)
class SensorRow:
    """One sensor as stored; `per_unit` steps make one unit of its quantity."""

    sensor_id: int
    key: SensorKey
    per_unit: int


def per_unit(quantity: str) -> int:
    """Steps in one unit of a quantity, from its resolution; a fine grid for one that is not in the table."""
    facts = QUANTITIES.get(quantity)
    return round(1 / facts.resolution) if facts else _PER_UNIT_OF_UNKNOWN


def to_steps(value: float, steps_in_unit: int) -> int | None:
    """A value as a whole number of steps; None for one that is not finite or absurdly large."""
    steps = value * steps_in_unit
    return round(steps) if -LARGEST_STEPS <= steps <= LARGEST_STEPS else None


def from_steps(steps: int | None, steps_in_unit: int) -> float:
    """The value back; NaN where none was kept."""
    return math.nan if steps is None else steps / steps_in_unit


def find_or_add(connection: sqlite3.Connection, key: SensorKey) -> SensorRow:
    """The row of a sensor; written on its first reading."""
    return find(connection, key) or _add(connection, key)


def _add(connection: sqlite3.Connection, key: SensorKey) -> SensorRow:
    steps = per_unit(key.quantity)
    cursor = connection.execute(
        "INSERT INTO sensor(node, probe, quantity, per_unit) VALUES(?, ?, ?, ?)",
        (key.node, key.probe, key.quantity, steps),
    )
    if cursor.lastrowid is None:
        raise AssertionError("an insert gave no row number")
    return SensorRow(cursor.lastrowid, key, steps)


def find(connection: sqlite3.Connection, key: SensorKey) -> SensorRow | None:
    """The row of a sensor that has sent something, or None."""
    row = connection.execute(
        "SELECT sensor_id, per_unit FROM sensor WHERE node = ? AND probe = ? AND quantity = ?",
        (key.node, key.probe, key.quantity),
    ).fetchone()
    return SensorRow(row[0], key, row[1]) if row else None


def every(connection: sqlite3.Connection) -> tuple[SensorRow, ...]:
    """All sensors, in the order of their keys."""
    rows = connection.execute(
        "SELECT sensor_id, node, probe, quantity, per_unit FROM sensor ORDER BY node, probe, quantity"
    )
    return tuple(SensorRow(row[0], SensorKey(row[1], row[2], row[3]), row[4]) for row in rows)


@dataclass(frozen=True, slots=True)
class Series:
    """Readings in the order of time; NaN where no value was kept."""

    at_ms: NDArray[np.int64]
    value: NDArray[np.float64]
    flag: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.at_ms)

    def usable(self) -> Series:
        """Without failed and missing readings."""
        keep = (self.flag != Flag.FAIL) & (self.flag != Flag.MISSING) & np.isfinite(self.value)
        return Series(self.at_ms[keep], self.value[keep], self.flag[keep])

    def calibrated(self, calibrations: Sequence[Calibration], quantity: str) -> Series:
        """With each value as the calibration in force at its time makes it."""
        return Series(self.at_ms, applied(calibrations, quantity, self.at_ms, self.value), self.flag)


@dataclass(frozen=True, slots=True)
class Band:
    """Lowest, mean and highest value by time: single readings, or hours dated by their start."""

    at_ms: NDArray[np.int64]
    minimum: NDArray[np.float64]
    mean: NDArray[np.float64]
    maximum: NDArray[np.float64]
    hourly: bool


@dataclass(frozen=True, slots=True)
class Extremes:
    """Lowest and highest value of a span with the first time of each."""

    lowest: float
    lowest_ms: int
    highest: float
    highest_ms: int


@dataclass(frozen=True, slots=True)
class Excursion:
    """A span beyond a bound: from the first to the last reading beyond it, and the farthest value."""

    start_ms: int
    end_ms: int
    extreme: float
    extreme_ms: int


def extremes(series: Series) -> Extremes | None:
    """The lowest and highest usable value, or None where there is none."""
    usable = series.usable()
    if len(usable) == 0:
        return None
    low, high = int(np.argmin(usable.value)), int(np.argmax(usable.value))
    return Extremes(
        float(usable.value[low]), int(usable.at_ms[low]), float(usable.value[high]), int(usable.at_ms[high])
    )


def gaps(at_ms: NDArray[np.int64], start_ms: int, end_ms: int, limit_ms: int) -> tuple[tuple[int, int], ...]:
    """Spans of [start, end] longer than the limit without a reading, edges included."""
    edges = np.concatenate(([start_ms], at_ms, [end_ms]))
    wide = np.flatnonzero(np.diff(edges) > limit_ms)
    return tuple((int(edges[at]), int(edges[at + 1])) for at in wide)


def excursions(series: Series, bound: float, *, above: bool, join_ms: int) -> tuple[Excursion, ...]:
    """Runs of usable readings beyond the bound; a hole longer than `join_ms` ends a run."""
    usable = series.usable()
    beyond = usable.value > bound if above else usable.value < bound
    at = np.flatnonzero(beyond)
    if len(at) == 0:
        return ()
    broken = (np.diff(at) > 1) | (np.diff(usable.at_ms[at]) > join_ms)
    runs = np.split(at, np.flatnonzero(broken) + 1)
    return tuple(_excursion(usable, run, above) for run in runs)


def _excursion(series: Series, run: NDArray[np.intp], above: bool) -> Excursion:
    values = series.value[run]
    farthest = run[int(np.argmax(values) if above else np.argmin(values))]
    return Excursion(
        int(series.at_ms[run[0]]),
        int(series.at_ms[run[-1]]),
        float(series.value[farthest]),
        int(series.at_ms[farthest]),
    )


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
            row = find(connection, sensor)
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
            row = find(connection, sensor)
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
            return tuple(row.key for row in every(connection))

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
            row = find(connection, sensor)
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

    def latest(self, calibrations: CalibrationTable) -> dict[SensorKey, FlaggedReading]:
        """The newest reading of each sensor, flags whatever they are."""
        with self._database.read() as connection:
            found = ((row, _newest(connection, row)) for row in every(connection))
            return {row.key: _flagged(row, newest, calibrations) for row, newest in found if newest}

    def iterate(self, sensor: SensorKey, start_ms: int, end_ms: int) -> Iterator[tuple[int, float, Flag]]:
        """Raw readings one after the other in pieces of a day, so that a long export stays small."""
        last = self._last_ms(sensor)
        for day_ms in range(self._first_ms(sensor, start_ms), min(end_ms, last + 1), MS_PER_DAY):
            day = self.series(sensor, day_ms, min(day_ms + MS_PER_DAY, end_ms))
            for at, value, flag in zip(day.at_ms, day.value, day.flag, strict=True):
                yield int(at), float(value), Flag(int(flag))

    def _first_ms(self, sensor: SensorKey, start_ms: int) -> int:
        with self._database.read() as connection:
            row = find(connection, sensor)
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
            row = find(connection, sensor)
            newest = row and _newest(connection, row)
            return newest[0] if newest else -(2**63)


def _newest(connection: sqlite3.Connection, row: SensorRow) -> tuple[int, int | None, int] | None:
    found: tuple[int, int | None, int] | None = connection.execute(
        "SELECT at_ms, value, flag FROM reading WHERE sensor_id = ? ORDER BY at_ms DESC LIMIT 1",
        (row.sensor_id,),
    ).fetchone()
    return found


def _flagged(
    row: SensorRow, newest: tuple[int, int | None, int], calibrations: CalibrationTable
) -> FlaggedReading:
    at_ms, steps, flag = newest
    raw = from_steps(steps, row.per_unit)
    true = calibrations.calibrated(raw, row.key, at_ms)
    return FlaggedReading(Reading(row.key, at_ms, raw), Flag(flag), true)


def _hour_band(hours: Sequence[HourSummary], calibrations: Sequence[Calibration], quantity: str) -> Band:
    filled = [hour for hour in hours if hour.count]
    at = np.array([hour.hour_ms for hour in filled], dtype=np.int64)
    first, mean, last = (
        applied(calibrations, quantity, at, np.array([getattr(hour, name) for hour in filled], np.float64))
        for name in ("minimum", "mean", "maximum")
    )
    return Band(at, np.minimum(first, last), mean, np.maximum(first, last), hourly=True)
