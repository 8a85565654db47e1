"""Takes the readings of one batch into `reading`, `hourly` and, where wanted, `archive_queue`.

A reading newer than the newest of its sensor is new without a look-up; any other is looked up first. The
first value of a (sensor, time) is kept. Hours are folded in memory and written once per batch, so the
summaries are right at every commit, for late readings too.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import repeat
from typing import TYPE_CHECKING

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    SensorKey,
    TimeSource,
)
from monitor.store import meta, readings
from monitor.store.connection import Database
from monitor.store.nodes import FirstCopy, content_of
from monitor.store.readings import LARGEST_STEPS, to_steps

if TYPE_CHECKING:
    from numpy.typing import NDArray

PRUNED_BEFORE = "readings_pruned_before_ms"
_SUSPECT, _FAIL, _MISSING = int(Flag.SUSPECT), int(Flag.FAIL), int(Flag.MISSING)
# A broker counts the age of a message in whole seconds.
_ROUNDING_MS = 1500
SOON_MS = 10 * MS_PER_MINUTE
_SURELY_AGAIN_MS = MS_PER_MINUTE // 2
"""Own choice: no board has begun anew and measured the same under the same numbers within so short a time."""
SMALLEST, _LARGEST = -(2**63), 2**63 - 1
_UPSERT_HOUR = """
    INSERT INTO hourly(sensor_id, hour, count, minimum, total, maximum, flagged) VALUES(?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT DO UPDATE SET
        count = count + excluded.count,
        minimum = min(ifnull(minimum, excluded.minimum), ifnull(excluded.minimum, minimum)),
        total = total + excluded.total,
        maximum = max(ifnull(maximum, excluded.maximum), ifnull(excluded.maximum, maximum)),
        flagged = flagged + excluded.flagged"""
_FOLD_HOURS = f"""
    INSERT INTO hourly(sensor_id, hour, count, minimum, total, maximum, flagged)
    SELECT sensor_id, at_ms / {MS_PER_HOUR}, count(held), min(held), ifnull(sum(held), 0), max(held),
        sum(flag IN ({_SUSPECT}, {_FAIL}))
    FROM (SELECT *, iif(flag IN ({_FAIL}, {_MISSING}), NULL, value) AS held FROM reading
        WHERE sensor_id = ?1 AND at_ms >= ?2 AND at_ms < ?3)
    GROUP BY 2
    ON CONFLICT DO UPDATE SET count = excluded.count, minimum = excluded.minimum, total = excluded.total,
        maximum = excluded.maximum, flagged = excluded.flagged
    WHERE excluded.hour >= ?4"""  # noqa: S608
_Row = tuple[int, int, int | None, int]


@dataclass(slots=True)
class Hour:
    """One hour of one sensor while it is being folded; values in steps."""

    count: int = 0
    minimum: int | None = None
    total: int = 0
    maximum: int | None = None
    flagged: int = 0

    def add(self, steps: int | None, flag: int) -> None:
        """Take in one reading; failed and missing values never enter count, mean and extremes."""
        if flag in (_SUSPECT, _FAIL):
            self.flagged += 1
        if steps is None or flag in (_FAIL, _MISSING):
            return
        self.count += 1
        self.total += steps
        if self.minimum is None or steps < self.minimum:
            self.minimum = steps
        if self.maximum is None or steps > self.maximum:
            self.maximum = steps


@dataclass(slots=True)
class ReadingCounts:
    """What happened to the readings of a batch; conflicts by node as well."""

    stored: int = 0
    duplicates: int = 0
    conflicts: int = 0
    conflicts_by_node: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class SensorMemory:
    """What is remembered of a sensor between batches: readings newer than `newest_ms` need no look-up."""

    sensor_id: int
    per_unit: int
    newest_ms: int
    hour_number: int | None = None
    hour: Hour = field(default_factory=Hour)


Memory = dict[tuple[str, str, str], SensorMemory]


class ReadingWriter:
    """Folds the readings of one transaction; `flush` writes what is left."""

    def __init__(
        self, database: Database, connection: sqlite3.Connection, memory: Memory, archive_ms: int | None
    ) -> None:
        self.counts = ReadingCounts()
        self._database, self._connection = database, connection
        self._memory = memory
        self._archive_ms = archive_ms
        self._rows: list[_Row] = []
        self._hours: dict[tuple[int, int], Hour] = {}
        self._touched: list[SensorMemory] = []
        self._closed_hours: dict[tuple[int, int], bool] = {}
        pruned_before = meta.get(connection, PRUNED_BEFORE)
        self._pruned_before_ms = int(pruned_before) if pruned_before else SMALLEST

    def add(self, readings: Iterable[FlaggedReading]) -> None:
        """Take in readings in their order; those known already are counted and dropped."""
        memory = self._memory
        for flagged in readings:
            reading = flagged.reading
            key = reading.sensor
            sensor = memory.get((key.node, key.probe, key.quantity)) or self._remember(key)
            steps = to_steps(reading.value, sensor.per_unit)
            if reading.at_ms > sensor.newest_ms:
                if reading.at_ms > _LARGEST:
                    continue
                sensor.newest_ms = reading.at_ms
            elif self._is_known(sensor.sensor_id, key, reading.at_ms, steps):
                self.counts.duplicates += 1
                continue
            self._keep(sensor, reading.at_ms, steps, int(flagged.flag))

    def has_near(self, flagged: FlaggedReading, shifts_ms: Iterable[int]) -> bool:
        """Whether the value is stored for its time, moved by one of the shifts."""
        key, at_ms = flagged.reading.sensor, flagged.reading.at_ms
        sensor = self._memory.get((key.node, key.probe, key.quantity)) or self._remember(key)
        self._write_rows()
        steps = to_steps(flagged.reading.value, sensor.per_unit)
        query = "SELECT 1 FROM reading WHERE sensor_id = ? AND at_ms BETWEEN ? AND ? AND value IS ?"
        for moment_ms in (at_ms + shift_ms for shift_ms in shifts_ms):
            span = (moment_ms - _ROUNDING_MS, moment_ms + _ROUNDING_MS)
            if self._connection.execute(query, (sensor.sensor_id, *span, steps)).fetchone():
                self.counts.duplicates += 1
                return True
        return False

    def _keep(self, sensor: SensorMemory, at_ms: int, steps: int | None, flag: int) -> None:
        if steps is None and flag != _MISSING:
            flag = _FAIL
        self._rows.append((sensor.sensor_id, at_ms, steps, flag))
        number = at_ms // MS_PER_HOUR
        if number != sensor.hour_number:
            self._touched.append(sensor)
            sensor.hour_number = number
            sensor.hour = self._hours.setdefault((sensor.sensor_id, number), Hour())
        sensor.hour.add(steps, flag)

    def _remember(self, key: SensorKey) -> SensorMemory:
        row = readings.find_or_add(self._database, key)
        newest = self._connection.execute(
            "SELECT max(at_ms) FROM reading WHERE sensor_id = ?", (row.sensor_id,)
        ).fetchone()[0]
        floor_ms = self._pruned_before_ms - 1
        newest_ms = floor_ms if newest is None else max(floor_ms, newest)
        sensor = SensorMemory(row.sensor_id, row.per_unit, newest_ms)
        self._memory[key.node, key.probe, key.quantity] = sensor
        return sensor

    def _is_known(self, sensor_id: int, key: SensorKey, at_ms: int, steps: int | None) -> bool:
        if at_ms < SMALLEST:
            return True
        self._write_rows()
        kept = self._connection.execute(
            "SELECT value FROM reading WHERE sensor_id = ? AND at_ms = ?", (sensor_id, at_ms)
        ).fetchone()
        if kept is None:
            return at_ms < self._pruned_before_ms and self._is_closed(sensor_id, at_ms // MS_PER_HOUR)
        if kept[0] != steps:
            self.counts.conflicts += 1
            by_node = self.counts.conflicts_by_node
            by_node[key.node] = by_node.get(key.node, 0) + 1
        return True

    def _is_closed(self, sensor_id: int, hour: int) -> bool:
        """True for an hour whose raw readings were pruned: its summary is final, or it would count twice."""
        closed = self._closed_hours.get((sensor_id, hour))
        if closed is None:
            row = self._connection.execute(
                "SELECT EXISTS(SELECT 1 FROM hourly WHERE sensor_id = ?1 AND hour = ?2) AND NOT EXISTS("
                "SELECT 1 FROM reading WHERE sensor_id = ?1 AND at_ms BETWEEN ?2 * ?3 AND (?2 + 1) * ?3 - 1)",
                (sensor_id, hour, MS_PER_HOUR),
            ).fetchone()
            closed = self._closed_hours[sensor_id, hour] = bool(row[0])
        return closed

    def flush(self) -> ReadingCounts:
        """Write what was folded and is not written yet."""
        self._write_rows()
        self._connection.executemany(
            _UPSERT_HOUR,
            [
                (*key, hour.count, hour.minimum, hour.total, hour.maximum, hour.flagged)
                for key, hour in self._hours.items()
            ],
        )
        for sensor in self._touched:
            sensor.hour_number = None
        return self.counts

    def _write_rows(self) -> None:
        if not self._rows:
            return
        self._connection.executemany("INSERT INTO reading VALUES(?, ?, ?, ?)", self._rows)
        if self._archive_ms is not None:
            self._connection.executemany(
                "INSERT INTO archive_queue(sensor_id, at_ms, value, flag, queued_ms) VALUES(?, ?, ?, ?, ?)",
                [(*row, self._archive_ms) for row in self._rows if row[2] is not None],
            )
        self.counts.stored += len(self._rows)
        self._rows.clear()


def fill_in(
    database: Database, sensor: SensorKey, at_ms: IntArray, value: FloatArray, flag: NDArray[np.int8]
) -> int:
    """Store the readings of a sensor that are not there yet; gives how many. All three of shape (n,).

    They are in the order of time and hold values, as an archive gives them back, and are not queued for it
    again. What is stored stays as it is. The hours are worked out anew from all their readings, except those
    of which raw readings were pruned: they are final, and their readings are not stored a second time.
    """
    row = readings.find_or_add(database, sensor)
    steps = np.rint(value * row.per_unit)
    with database.write() as connection:
        pruned_before_ms = int(meta.get(connection, PRUNED_BEFORE) or 0)
        wanted = (np.abs(steps) <= LARGEST_STEPS) & (at_ms >= 0)
        if len(at_ms) and at_ms[0] < pruned_before_ms:
            wanted &= _is_open(connection, row.sensor_id, at_ms, pruned_before_ms)
        at_ms, steps, flag = at_ms[wanted], steps[wanted], flag[wanted]
        before = connection.total_changes
        columns = (at_ms.tolist(), steps.astype(np.int64).tolist(), flag.tolist())
        connection.executemany(
            "INSERT OR IGNORE INTO reading VALUES(?, ?, ?, ?)", zip(repeat(row.sensor_id), *columns)
        )
        stored = connection.total_changes - before
        if stored:
            hours = (int(at_ms[0]) // MS_PER_HOUR, int(at_ms[-1]) // MS_PER_HOUR + 1)
            span = (hours[0] * MS_PER_HOUR, hours[1] * MS_PER_HOUR)
            connection.execute(_FOLD_HOURS, (row.sensor_id, *span, pruned_before_ms // MS_PER_HOUR))
    return stored


def _is_open(
    connection: sqlite3.Connection, sensor_id: int, at_ms: IntArray, pruned_before_ms: int
) -> BoolArray:
    """Which readings do not lie in an hour that was summed up before its raw readings were pruned."""
    query = "SELECT hour FROM hourly WHERE sensor_id = ? AND hour >= ? AND hour < ?"
    span = (int(at_ms[0]) // MS_PER_HOUR, pruned_before_ms // MS_PER_HOUR)
    final = [hour for (hour,) in connection.execute(query, (sensor_id, *span))]
    return ~np.isin(at_ms // MS_PER_HOUR, np.array(final, dtype=np.int64))


@dataclass(frozen=True, slots=True)
class Found:
    """The readings of a message that are to be stored.

    `begins_anew`: its boot and sequence came before for other readings, so its board began anew and counted
    from the start under the same boot.
    """

    readings: tuple[FlaggedReading, ...]
    begins_anew: bool = False


def new_readings(flagged: FlaggedMessage, first: FirstCopy | None, readings: ReadingWriter) -> Found:
    """What of a message is new; `first` is the one of the same boot and sequence that came before.

    One with the same values is the same message sent again, whatever its times say, unless they say that it
    was measured as much later as it came: a board whose boot number does not count up looks the same after
    each of its starts.
    """
    if first is None:
        return Found(flagged.readings)
    if first.newest_ms is not None and first.content == content_of(flagged.message):
        if not _is_measured_anew(flagged.message, first.received_ms, first.newest_ms):
            readings.counts.duplicates += len(flagged.readings)
            return Found(())
        return Found(flagged.readings, begins_anew=True)
    kept = _not_near(flagged, first.received_ms, readings)
    is_known = first.content is None or flagged.message.redelivered or len(kept) < len(flagged.readings)
    return Found(kept, begins_anew=not is_known and bool(kept))


def _is_measured_anew(message: NodeMessage, before_ms: int, newest_ms: int) -> bool:
    """Whether equal values were measured as much later as they came, and not only sent again."""
    passed_ms = abs(message.received_ms - before_ms)
    has_clock = message.time_source is TimeSource.NODE
    # Without a clock of its own, a pack that is sent again as it was looks as new as it comes.
    if (
        message.redelivered
        or not message.readings
        or passed_ms <= (_SURELY_AGAIN_MS if has_clock else SOON_MS)
    ):
        return False
    later_ms = message.readings[-1].at_ms - newest_ms
    return abs(later_ms - passed_ms) < passed_ms / 2


def _not_near(flagged: FlaggedMessage, before_ms: int, readings: ReadingWriter) -> tuple[FlaggedReading, ...]:
    """The readings that are not stored at about their time, or where the first arrival put them.

    Readings with the node's own time meet themselves in the table, up to the rounding of a base time that
    was worked out anew. Relative ones are dated by arrival, so they are looked for where the first arrival
    put them. Only what the broker marks as delivered again, or what follows within minutes, is judged so.
    """
    message = flagged.message
    passed_ms = message.received_ms - before_ms
    if not message.redelivered and not 0 <= passed_ms <= SOON_MS:
        return flagged.readings
    if message.time_source is TimeSource.NODE:
        return tuple(item for item in flagged.readings if not readings.has_near(item, (0,)))
    newest_ms = max((item.reading.at_ms for item in flagged.readings), default=0)
    # As it is dated now, as its first arrival would date it, and with its newest reading at that arrival.
    shifts_ms = (0, -passed_ms, before_ms - newest_ms)
    return tuple(item for item in flagged.readings if not readings.has_near(item, shifts_ms))
