"""Readings and hours of sensors: queries, series as arrays, and what can be read off a series.

Spans are [start, end): the end does not belong to them. A value is kept as a whole number of steps of its
quantity's resolution. Hours are written together with the readings (`reading_writer`).
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.climate.calibration import PHYSICAL_SPANS, CalibrationTable, applied
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    QUANTITIES,
    Calibration,
    Flag,
    FlaggedReading,
    HourSummary,
    Reading,
    SensorKey,
)
from monitor.store.connection import Database, Queries

if TYPE_CHECKING:
    from numpy.typing import NDArray

_PER_UNIT_OF_UNKNOWN = 10_000
_NO_SENSOR = -1
_FAR_AHEAD_MS = 2**62
_NEWEST = """
    SELECT sensor.sensor_id, at_ms, value, flag FROM sensor CROSS JOIN reading
    ON reading.sensor_id = sensor.sensor_id AND at_ms = (
        SELECT max(at_ms) FROM reading WHERE sensor_id = sensor.sensor_id AND at_ms <= ?)
    ORDER BY node, probe, quantity"""
"""The newest reading of each sensor up to a moment."""
LARGEST_STEPS = 10**12
_UNUSABLE = (int(Flag.FAIL), int(Flag.MISSING))


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


def find_or_add(database: Database, key: SensorKey) -> SensorRow:
    """The row of a sensor; written on its first reading."""
    known = find(database, key)
    if known is not None:
        return known
    steps = per_unit(key.quantity)
    number = database.change(
        "INSERT INTO sensor(node, probe, quantity, per_unit) VALUES(?, ?, ?, ?)",
        (key.node, key.probe, key.quantity, steps),
    )
    return SensorRow(number, key, steps)


def find(database: Database, key: SensorKey) -> SensorRow | None:
    """The row of a sensor that has sent something, or None."""
    row = database.row(
        "SELECT sensor_id, per_unit FROM sensor WHERE node = ? AND probe = ? AND quantity = ?",
        (key.node, key.probe, key.quantity),
    )
    return SensorRow(row[0], key, row[1]) if row else None


def every(database: Database) -> tuple[SensorRow, ...]:
    rows = database.rows(
        "SELECT sensor_id, node, probe, quantity, per_unit FROM sensor ORDER BY node, probe, quantity"
    )
    return tuple(SensorRow(row[0], SensorKey(row[1], row[2], row[3]), row[4]) for row in rows)


@dataclass(frozen=True, slots=True)
class Series:
    """Readings in the order of time; NaN where no value was kept."""

    at_ms: IntArray
    value: FloatArray
    flag: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.at_ms)

    def usable(self) -> Series:
        """Without failed and missing readings."""
        keep = (self.flag != Flag.FAIL) & (self.flag != Flag.MISSING) & np.isfinite(self.value)
        if keep.all():
            return self
        return Series(self.at_ms[keep], self.value[keep], self.flag[keep])

    def between(self, start_ms: int, end_ms: int) -> Series:
        """The readings of a part of the time, [start, end)."""
        first, last = np.searchsorted(self.at_ms, (start_ms, end_ms))
        return Series(self.at_ms[first:last], self.value[first:last], self.flag[first:last])

    def followed_by(self, later: Series) -> Series:
        """These readings, then those of a later time."""
        return Series(
            np.concatenate([self.at_ms, later.at_ms]),
            np.concatenate([self.value, later.value]),
            np.concatenate([self.flag, later.flag]),
        )

    def calibrated(self, calibrations: Sequence[Calibration], quantity: str) -> Series:
        """With each value as the calibration in force at its time makes it."""
        return Series(self.at_ms, applied(calibrations, quantity, self.at_ms, self.value), self.flag)


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


def extremes(series: Series) -> Extremes | None:
    """The lowest and highest usable value, or None where there is none."""
    usable = series.usable()
    if len(usable) == 0:
        return None
    low, high = int(np.argmin(usable.value)), int(np.argmax(usable.value))
    return Extremes(
        float(usable.value[low]), int(usable.at_ms[low]), float(usable.value[high]), int(usable.at_ms[high])
    )


def gaps(at_ms: IntArray, start_ms: int, end_ms: int, limit_ms: int) -> tuple[tuple[int, int], ...]:
    """Spans of [start, end] longer than the limit without a reading, edges included."""
    edges = np.concatenate(([start_ms], at_ms, [end_ms]))
    wide = np.flatnonzero(np.diff(edges) > limit_ms)
    return tuple((int(edges[at]), int(edges[at + 1])) for at in wide)


def time_mean(at_ms: IntArray, value: FloatArray) -> float:
    """Mean over time of the line through the readings, so that dense readings weigh no more."""
    steps = np.diff(at_ms)
    total = float(np.sum(steps))
    return float(np.sum(0.5 * (value[1:] + value[:-1]) * steps)) / total if total else float(np.mean(value))


def minutes_where(at_ms: IntArray, wanted: BoolArray, longest_ms: int) -> float:
    """Minutes for which a condition held: each reading counts until the next one, at most `longest_ms`."""
    if len(at_ms) < 2:
        return 0.0
    lasts = np.minimum(np.diff(at_ms), longest_ms)
    return float(np.sum(lasts[wanted[:-1]]) / MS_PER_MINUTE)


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
    )


@dataclass(frozen=True, slots=True)
class HourParts:
    """Parts of several hours each: start, lowest, mean and highest raw value; empty parts are left out."""

    start_ms: IntArray
    minimum: FloatArray
    mean: FloatArray
    maximum: FloatArray


@dataclass(frozen=True, slots=True)
class HourExtremes:
    """Hours of one sensor with the number of readings, lowest and highest raw value; all of shape (n,)."""

    start_ms: IntArray
    count: IntArray
    minimum: FloatArray
    maximum: FloatArray

    def between(self, start_ms: int, end_ms: int) -> HourExtremes:
        """The hours that begin in [start, end)."""
        first, last = np.searchsorted(self.start_ms, (start_ms, end_ms))
        names = ("start_ms", "count", "minimum", "maximum")
        return HourExtremes(*(getattr(self, name)[first:last] for name in names))

    def followed_by(self, later: HourExtremes) -> HourExtremes:
        """These hours, then those of a later time."""
        names = ("start_ms", "count", "minimum", "maximum")
        return HourExtremes(*(np.concatenate([getattr(x, name) for x in (self, later)]) for name in names))


class Summaries(Queries):
    """Hourly summaries, kept for ever."""

    def hours(self, sensor: SensorKey, start_ms: int, end_ms: int) -> tuple[HourSummary, ...]:
        """Hours that begin in [start, end); raw values. With a count of 0 the values are NaN."""
        row = find(self._database, sensor)
        if row is None:
            return ()
        hours = self._database.rows(
            "SELECT hour, count, minimum, total, maximum, flagged FROM hourly "
            "WHERE sensor_id = ? AND hour >= ? AND hour < ? ORDER BY hour",
            (row.sensor_id, -(-start_ms // MS_PER_HOUR), -(-end_ms // MS_PER_HOUR)),
        )
        return tuple(_summary(row, *cells) for cells in hours)

    def extremes(
        self, sensors: Iterable[SensorKey], start_ms: int, end_ms: int
    ) -> dict[SensorKey, HourExtremes]:
        """The hours that touch [start, end) of many sensors, read at once."""
        wanted = frozenset(sensors)
        rows = {row.sensor_id: row for row in every(self._database) if row.key in wanted}
        cells = self._database.rows(
            "SELECT sensor_id, hour, count, minimum, maximum FROM hourly "
            "WHERE sensor_id IN (SELECT value FROM json_each(?)) AND hour >= ? AND hour < ? AND count > 0 "
            "ORDER BY sensor_id, hour",
            (json.dumps(list(rows)), start_ms // MS_PER_HOUR, -(-end_ms // MS_PER_HOUR)),
        )
        table = np.array(cells, dtype=np.float64).reshape(-1, 5)
        ids = table[:, 0]
        spans = ((row, *np.searchsorted(ids, (number, number + 1))) for number, row in rows.items())
        return {row.key: _extremes_of(table[first:last], row.per_unit) for row, first, last in spans}

    def held(self, sensors: Iterable[SensorKey], start_ms: int, end_ms: int) -> dict[SensorKey, str]:
        """How many readings the hours that touch [start, end) hold, of many sensors.

        Of each sensor a word for each hour: its number since 1970, usable ones, those with a flag. Readings
        are only ever added, so an hour that holds as many as before holds the same. As text it is made in a
        third of the time of rows.
        """
        wanted = frozenset(sensors)
        keys = {row.sensor_id: row.key for row in every(self._database) if row.key in wanted}
        rows = self._database.rows(
            "SELECT sensor_id, group_concat(hour || ':' || count || ':' || flagged, ' ') FROM hourly "
            "WHERE sensor_id IN (SELECT value FROM json_each(?)) AND hour >= ? AND hour < ? "
            "GROUP BY sensor_id",
            (json.dumps(list(keys)), start_ms // MS_PER_HOUR, -(-end_ms // MS_PER_HOUR)),
        )
        return dict.fromkeys(keys.values(), "") | {keys[number]: words for number, words in rows}

    def parts(self, sensor: SensorKey, start_ms: int, end_ms: int, hours: int) -> HourParts:
        """The hours that begin in [start, end), so many of them put together, counted from the start."""
        first = -(-start_ms // MS_PER_HOUR)
        row = find(self._database, sensor) or SensorRow(_NO_SENSOR, sensor, 1)
        parts = self._database.rows(
            "SELECT (hour - ?2) / ?4, min(minimum), sum(total) * 1.0 / sum(count), max(maximum) "
            "FROM hourly WHERE sensor_id = ?1 AND hour >= ?2 AND hour < ?3 AND count > 0 "
            "GROUP BY 1 ORDER BY 1",
            (row.sensor_id, first, -(-end_ms // MS_PER_HOUR), hours),
        )
        cells = np.array(parts, dtype=np.float64).reshape(-1, 4)
        start = (first + cells[:, 0].astype(np.int64) * hours) * MS_PER_HOUR
        minimum, mean, maximum = (cells[:, column] / row.per_unit for column in (1, 2, 3))
        return HourParts(start, minimum, mean, maximum)


def _extremes_of(table: FloatArray, steps_in_unit: int) -> HourExtremes:
    hour, count = (table[:, column].astype(np.int64) for column in (1, 2))
    return HourExtremes(hour * MS_PER_HOUR, count, table[:, 3] / steps_in_unit, table[:, 4] / steps_in_unit)


def _summary(
    row: SensorRow, hour: int, count: int, minimum: int | None, total: int, maximum: int | None, flagged: int
) -> HourSummary:
    return HourSummary(
        sensor=row.key,
        hour_ms=hour * MS_PER_HOUR,
        count=count,
        minimum=from_steps(minimum, row.per_unit),
        mean=total / row.per_unit / count if count else math.nan,
        maximum=from_steps(maximum, row.per_unit),
        flagged=flagged,
    )


def _series(rows: Sequence[tuple[int, int | None, int]], steps_in_unit: int) -> Series:
    at = np.array([row[0] for row in rows], dtype=np.int64)
    # None becomes NaN.
    steps = np.array([row[1] for row in rows], dtype=np.float64)
    return Series(at, steps / steps_in_unit, np.array([row[2] for row in rows], dtype=np.int8))


class Readings(Queries):
    def sensors(self) -> tuple[SensorKey, ...]:
        return tuple(row.key for row in every(self._database))

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
        row = find(self._database, sensor) or SensorRow(_NO_SENSOR, sensor, 1)
        raw = _series(self._span(row, start_ms, end_ms), row.per_unit)
        return raw if calibrations is None else raw.calibrated(calibrations, sensor.quantity)

    def usable(
        self, sensor: SensorKey, start_ms: int, end_ms: int, calibrations: CalibrationTable
    ) -> list[tuple[int, float]]:
        """Times and calibrated values of the readings of a short span that are neither failed nor missing."""
        row = find(self._database, sensor) or SensorRow(_NO_SENSOR, sensor, 1)
        if sensor.quantity not in PHYSICAL_SPANS and not calibrations.of(sensor):
            return [
                (at_ms, steps / row.per_unit)
                for at_ms, steps, flag in self._span(row, start_ms, end_ms)
                if steps is not None and flag not in _UNUSABLE
            ]
        return [
            (at_ms, calibrations.calibrated(from_steps(steps, row.per_unit), sensor, at_ms))
            for at_ms, steps, flag in self._span(row, start_ms, end_ms)
            if steps is not None and flag not in _UNUSABLE
        ]

    def _span(self, row: SensorRow, start_ms: int, end_ms: int) -> list[tuple[int, int | None, int]]:
        return self._database.rows(
            "SELECT at_ms, value, flag FROM reading WHERE sensor_id = ? AND at_ms >= ? AND at_ms < ? "
            "ORDER BY at_ms",
            (row.sensor_id, start_ms, end_ms),
        )

    def latest(
        self, calibrations: CalibrationTable, until_ms: int = _FAR_AHEAD_MS
    ) -> dict[SensorKey, FlaggedReading]:
        """The newest reading of each sensor up to a moment, flags whatever they are."""
        with self._database.read():
            rows = {row.sensor_id: row for row in every(self._database)}
            newest = self._database.rows(_NEWEST, (until_ms,))
            return {rows[row[0]].key: _flagged(rows[row[0]], row[1:], calibrations) for row in newest}

    def iterate(self, sensor: SensorKey, start_ms: int, end_ms: int) -> Iterator[tuple[int, float, Flag]]:
        """Raw readings one after the other in pieces of a day, so that a long export stays small."""
        row = find(self._database, sensor)
        query = "SELECT min(at_ms), max(at_ms) FROM reading WHERE sensor_id = ? AND at_ms >= ? AND at_ms < ?"
        bounds = row and self._database.row(query, (row.sensor_id, start_ms, end_ms))
        if not bounds or bounds[0] is None:
            return
        for day_ms in range(bounds[0], bounds[1] + 1, MS_PER_DAY):
            day = self.series(sensor, day_ms, min(day_ms + MS_PER_DAY, end_ms))
            for at, value, flag in zip(day.at_ms, day.value, day.flag, strict=True):
                yield int(at), float(value), Flag(int(flag))


def _flagged(
    row: SensorRow, newest: tuple[int, int | None, int], calibrations: CalibrationTable
) -> FlaggedReading:
    at_ms, steps, flag = newest
    raw = from_steps(steps, row.per_unit)
    true = calibrations.calibrated(raw, row.key, at_ms)
    return FlaggedReading(Reading(row.key, at_ms, raw), Flag(flag), true)
