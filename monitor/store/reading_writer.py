"""Takes the readings of one batch into `reading`, `hourly` and, where wanted, `archive_queue`.

A reading newer than the newest of its sensor is new without a look-up; any other is looked up first. The
first value of a (sensor, time) is kept. Hours are folded in memory and written once per batch, so the
summaries are right at every commit, for late readings too.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field

from monitor.records import MS_PER_HOUR, Flag, FlaggedReading, SensorKey
from monitor.store import meta
from monitor.store.sensors import SensorNumbers, to_steps

PRUNED_BEFORE = "readings_pruned_before_ms"
_SUSPECT, _FAIL, _MISSING = int(Flag.SUSPECT), int(Flag.FAIL), int(Flag.MISSING)
_SMALLEST, _LARGEST = -(2**63), 2**63 - 1
_UPSERT_HOUR = """
    INSERT INTO hourly(sensor_id, hour, count, minimum, total, maximum, flagged) VALUES(?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT DO UPDATE SET
        count = count + excluded.count,
        minimum = min(ifnull(minimum, excluded.minimum), ifnull(excluded.minimum, minimum)),
        total = total + excluded.total,
        maximum = max(ifnull(maximum, excluded.maximum), ifnull(excluded.maximum, maximum)),
        flagged = flagged + excluded.flagged"""


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


class ReadingWriter:
    """Folds the readings of one transaction; `flush` writes them."""

    def __init__(
        self, connection: sqlite3.Connection, numbers: SensorNumbers, newest: dict[int, int]
    ) -> None:
        self.counts = ReadingCounts()
        self._connection = connection
        self._numbers = numbers
        self._newest = newest
        self._rows: dict[tuple[int, int], tuple[int, int, int | None, int]] = {}
        self._hours: dict[tuple[int, int], Hour] = {}
        self._closed_hours: dict[tuple[int, int], bool] = {}
        self._pruned_before_ms: int | None = None

    def add(self, readings: Iterable[FlaggedReading]) -> None:
        """Take in readings in their order; those known already are counted and dropped."""
        for flagged in readings:
            reading = flagged.reading
            sensor = self._numbers.number(self._connection, reading.sensor)
            steps = to_steps(reading.value, sensor.per_unit)
            self._take(sensor.sensor_id, reading.sensor, reading.at_ms, steps, int(flagged.flag))

    def _take(self, sensor_id: int, key: SensorKey, at_ms: int, steps: int | None, flag: int) -> None:
        if not _SMALLEST <= at_ms <= _LARGEST:
            return
        if at_ms > self._newest_of(sensor_id):
            self._newest[sensor_id] = at_ms
        elif self._known(sensor_id, key, at_ms, steps):
            self.counts.duplicates += 1
            return
        if steps is None and flag != _MISSING:
            flag = _FAIL
        self._rows[sensor_id, at_ms] = (sensor_id, at_ms, steps, flag)
        hour = (sensor_id, at_ms // MS_PER_HOUR)
        folded = self._hours.get(hour)
        if folded is None:
            folded = self._hours[hour] = Hour()
        folded.add(steps, flag)

    def _newest_of(self, sensor_id: int) -> int:
        newest = self._newest.get(sensor_id)
        if newest is None:
            row = self._connection.execute(
                "SELECT max(at_ms) FROM reading WHERE sensor_id = ?", (sensor_id,)
            ).fetchone()
            newest = self._newest[sensor_id] = _SMALLEST - 1 if row[0] is None else row[0]
        if newest < self._pruned_before():
            return self._pruned_before()
        return newest

    def _known(self, sensor_id: int, key: SensorKey, at_ms: int, steps: int | None) -> bool:
        mine = self._rows.get((sensor_id, at_ms))
        kept = (mine[2],) if mine else self._stored(sensor_id, at_ms)
        if kept is None:
            return self._is_closed(sensor_id, at_ms)
        if kept[0] != steps:
            self.counts.conflicts += 1
            by_node = self.counts.conflicts_by_node
            by_node[key.node] = by_node.get(key.node, 0) + 1
        return True

    def _stored(self, sensor_id: int, at_ms: int) -> tuple[int | None] | None:
        row: tuple[int | None] | None = self._connection.execute(
            "SELECT value FROM reading WHERE sensor_id = ? AND at_ms = ?", (sensor_id, at_ms)
        ).fetchone()
        return row

    def _is_closed(self, sensor_id: int, at_ms: int) -> bool:
        """True for an hour whose raw readings were pruned: its summary is final, or it would count twice."""
        hour = at_ms // MS_PER_HOUR
        if at_ms >= self._pruned_before():
            return False
        closed = self._closed_hours.get((sensor_id, hour))
        if closed is None:
            row = self._connection.execute(
                "SELECT EXISTS(SELECT 1 FROM hourly WHERE sensor_id = ?1 AND hour = ?2) AND NOT EXISTS("
                "SELECT 1 FROM reading WHERE sensor_id = ?1 AND at_ms BETWEEN ?2 * ?3 AND (?2 + 1) * ?3 - 1)",
                (sensor_id, hour, MS_PER_HOUR),
            ).fetchone()
            closed = self._closed_hours[sensor_id, hour] = bool(row[0])
        return closed

    def _pruned_before(self) -> int:
        if self._pruned_before_ms is None:
            found = meta.get(self._connection, PRUNED_BEFORE)
            self._pruned_before_ms = int(found) if found else _SMALLEST - 1
        return self._pruned_before_ms

    def flush(self, archive_ms: int | None) -> ReadingCounts:
        """Write all that was folded; with `archive_ms` (the time now) also queue it for the archive."""
        rows = list(self._rows.values())
        self._connection.executemany("INSERT INTO reading VALUES(?, ?, ?, ?)", rows)
        self._connection.executemany(
            _UPSERT_HOUR,
            [
                (*key, hour.count, hour.minimum, hour.total, hour.maximum, hour.flagged)
                for key, hour in self._hours.items()
            ],
        )
        if archive_ms is not None:
            self._connection.executemany(
                "INSERT INTO archive_queue(sensor_id, at_ms, value, flag, queued_ms) VALUES(?, ?, ?, ?, ?)",
                [(*row, archive_ms) for row in rows if row[2] is not None],
            )
        self.counts.stored = len(rows)
        return self.counts
