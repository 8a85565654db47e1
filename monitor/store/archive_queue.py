"""Readings on their way to the archive, in the order in which they were stored: the durable cursor.

A row is written together with its reading and deleted only some time after the server took it. `sent` is the
last row that the server took; everything after it waits. Other streams (the journal, the hours) need no rows
of their own: how far each has come is a mark (`ArchiveQueue.mark`) that moves only with what the server has
had time to write. What was read back is kept as a `Proof`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from monitor.errors import Phrase, Sentence, sentence
from monitor.records import SensorKey
from monitor.store import meta
from monitor.store.connection import Queries
from monitor.store.kept_sentences import packed, unpacked
from monitor.store.readings import from_steps

_SENT, _ERROR, _HISTORY = "archive_sent", "archive_error", "archive_history"
_PARKED_SINCE, _PROOF = "archive_parked_since", "archive_proof"
FEW_PARKED = 3
"""Own choice: so many points at fault are a slip of a sensor; more are a fault of the way or of the server.
"""
_DONE = "done"
_HOUR_COLUMNS = "node, probe, quantity, hour, count, minimum, total, maximum, flagged, per_unit"
_SELECT = """
    SELECT seq, node, probe, quantity, at_ms, value, per_unit, flag
    FROM archive_queue JOIN sensor USING(sensor_id) WHERE seq > ? ORDER BY seq LIMIT ?"""


@dataclass(frozen=True, slots=True)
class QueuedReading:
    """One reading that waits; the value is the raw one."""

    seq: int
    sensor: SensorKey
    at_ms: int
    value: float
    flag: int


@dataclass(frozen=True, slots=True)
class ParkedReading:
    """One reading that the server will not take, and why."""

    sensor: SensorKey
    at_ms: int
    value: float
    reason: str
    parked_ms: int


@dataclass(frozen=True, slots=True)
class ArchivedHour:
    """The summary of an hour of a sensor as the archive gets it: raw values, None where all failed."""

    sensor: SensorKey
    hour: int
    count: int
    minimum: float | None
    mean: float | None
    maximum: float | None
    flagged: int


@dataclass(frozen=True, slots=True)
class Proof:
    """What reading the archive back has shown; times in ms since 1970 UTC.

    Every reading before `checked_ms` was compared. `filled` were not there and were sent again. `missing` are
    still not there although the server took them twice: since when that is known, and between which times
    they lie. The archive holds nothing from before `begins_ms`; `unreadable` says why it cannot be read.
    """

    checked_ms: int | None = None
    begins_ms: int | None = None
    filled: int = 0
    missing: int = 0
    missing_since_ms: int | None = None
    missing_from_ms: int | None = None
    missing_to_ms: int | None = None
    unreadable: Sentence | None = None


@dataclass(frozen=True, slots=True)
class ArchiveStatus:
    """How far behind the archive is, and what is wrong; None while all is well.

    `refused_since_ms` is since when more than a few readings are parked.
    """

    waiting: int
    oldest_waiting_ms: int | None
    parked: int
    trouble: Sentence | None
    proof: Proof = Proof()
    refused_since_ms: int | None = None

    @property
    def last_error(self) -> str:
        """What is wrong, in English; empty while all is well."""
        return "" if self.trouble is None else self.trouble.text

    @property
    def behind_since_ms(self) -> int | None:
        """Since when the archive does not have all that it should: waiting, refused, or lost by it."""
        since = (self.oldest_waiting_ms, self.refused_since_ms, self.proof.missing_since_ms)
        return min((at_ms for at_ms in since if at_ms is not None), default=None)


def forget_history(connection: sqlite3.Connection) -> None:
    """A reading is stored without being queued: the next archive has to begin at the first reading."""
    connection.execute("DELETE FROM meta WHERE key = ?", (_HISTORY,))


def note_history(connection: sqlite3.Connection) -> None:
    """Before the first reading is queued: what is stored up to now is history and is queued bit by bit.

    A reading of a time within the history that arrives late is sent twice, which is the same point.
    """
    if meta.get(connection, _HISTORY) is not None:
        return
    newest = connection.execute(
        "SELECT max((SELECT max(at_ms) FROM reading WHERE reading.sensor_id = sensor.sensor_id)) FROM sensor"
    ).fetchone()[0]
    meta.put(connection, _HISTORY, _DONE if newest is None else json.dumps([newest, -1, 0]))


def begin_from_archive(connection: sqlite3.Connection) -> None:
    """Before an empty database is filled from the archive: what comes from there is not sent there again."""
    if (
        meta.get(connection, _HISTORY) is None
        and not connection.execute("SELECT EXISTS(SELECT 1 FROM reading)").fetchone()[0]
    ):
        meta.put(connection, _HISTORY, _DONE)


class ArchiveQueue(Queries):
    """The queue and its cursor."""

    def after(self, seq: int, limit: int) -> tuple[QueuedReading, ...]:
        rows = self._database.rows(_SELECT, (seq, limit))
        return tuple(
            QueuedReading(row[0], SensorKey(*row[1:4]), row[4], from_steps(row[5], row[6]), row[7])
            for row in rows
        )

    def start(self) -> int:
        """The position before the first row that is kept."""
        with self._database.read() as connection:
            return _start(connection)

    def taken(
        self,
        sent: int,
        settled: int,
        parked: Iterable[tuple[int, str]] = (),
        now_ms: int = 0,
        marks: Mapping[str, int] | None = None,
    ) -> None:
        """The server took all up to `sent`; rows up to `settled` can go; `parked` it does not take.

        `marks` are how far the other streams have come, as far as the server had time to write.
        """
        parked = tuple(parked)
        with self._database.write() as connection:
            for seq, reason in parked:
                connection.execute(
                    "INSERT OR REPLACE INTO archive_rejected SELECT seq, sensor_id, at_ms, value, flag, ?, ? "
                    "FROM archive_queue WHERE seq = ?",
                    (reason, now_ms, seq),
                )
            if parked:
                _note_parked(connection, now_ms)
            connection.execute("DELETE FROM archive_queue WHERE seq <= ?", (settled,))
            for name, place in (marks or {}).items():
                meta.put(connection, _mark(name), str(place))
            meta.put(connection, _SENT, str(sent))
            meta.put(connection, _ERROR, "")

    def failed(self, sent: int, error: Phrase) -> None:
        """The server did not take more; `sent` may be lower than before when it has to be sent again."""
        with self._database.write() as connection:
            meta.put(connection, _SENT, str(sent))
            meta.put(connection, _ERROR, packed(error) if isinstance(error, Sentence) else error)

    def status(self) -> ArchiveStatus:
        """How many readings wait, since when, how many were parked, and what the last trouble was."""
        with self._database.read() as connection:
            sent = max(int(meta.get(connection, _SENT) or 0), _start(connection))
            last = connection.execute("SELECT ifnull(max(seq), 0) FROM archive_queue").fetchone()[0]
            oldest = connection.execute(
                "SELECT queued_ms FROM archive_queue WHERE seq > ? ORDER BY seq LIMIT 1", (sent,)
            ).fetchone()
            parked = connection.execute("SELECT count(*) FROM archive_rejected").fetchone()[0]
            error = meta.get(connection, _ERROR) or ""
            since = meta.get(connection, _PARKED_SINCE) or None
            proof = _proof(connection)
        trouble = unpacked(error) if error else None
        if trouble is None and since is not None:
            trouble = sentence(
                "the archive server refuses {count} readings and takes others ({said}); they are tried again "
                "each hour",
                count=parked,
                said=self.parked(1)[0].reason if parked else "",
            )
        return ArchiveStatus(
            max(0, last - sent),
            oldest[0] if oldest else None,
            parked,
            trouble,
            proof,
            None if since is None else int(since),
        )

    def mark(self, name: str) -> int | None:
        """How far a stream beside the readings has surely come; None where it has not begun."""
        with self._database.read() as connection:
            kept = meta.get(connection, _mark(name))
        return None if kept is None else int(kept)

    def proof(self) -> Proof:
        """What reading back has shown so far."""
        with self._database.read() as connection:
            return _proof(connection)

    def keep_proof(self, proof: Proof) -> None:
        """Keep what reading back has shown."""
        unreadable = None if proof.unreadable is None else packed(proof.unreadable)
        kept = {**asdict(replace(proof, unreadable=None)), "unreadable": unreadable}
        with self._database.write() as connection:
            meta.put(connection, _PROOF, json.dumps(kept))

    def put_again(self, sensor: SensorKey, times_ms: Sequence[int], now_ms: int) -> None:
        """Queue stored readings of a sensor once more."""
        with self._database.write() as connection:
            connection.executemany(
                "INSERT INTO archive_queue(sensor_id, at_ms, value, flag, queued_ms) "
                "SELECT sensor_id, at_ms, value, flag, ? FROM reading JOIN sensor USING(sensor_id) "
                "WHERE node = ? AND probe = ? AND quantity = ? AND at_ms = ? AND value IS NOT NULL",
                [(now_ms, sensor.node, sensor.probe, sensor.quantity, at_ms) for at_ms in times_ms],
            )

    def retry_parked(self, limit: int, now_ms: int) -> int:
        """Queue the readings that were refused longest ago once more; gives how many."""
        with self._database.write() as connection:
            rows = connection.execute(
                "SELECT seq, sensor_id, at_ms, value, flag FROM archive_rejected ORDER BY seq LIMIT ?",
                (limit,),
            ).fetchall()
            connection.executemany(
                "INSERT INTO archive_queue(sensor_id, at_ms, value, flag, queued_ms) VALUES(?, ?, ?, ?, ?)",
                [(*row[1:], now_ms) for row in rows],
            )
            if rows:
                connection.execute("DELETE FROM archive_rejected WHERE seq <= ?", (rows[-1][0],))
        return len(rows)

    def parked_is_over(self) -> None:
        """Forget since when many were parked, where that is no longer so."""
        with self._database.read() as connection:
            is_over = bool(meta.get(connection, _PARKED_SINCE)) and _count_parked(connection) <= FEW_PARKED
        if is_over:
            with self._database.write() as connection:
                meta.put(connection, _PARKED_SINCE, "")

    def span_ms(self) -> tuple[int, int] | None:
        """The times of the oldest and newest stored reading, None where there is none."""
        ends = "(SELECT {}(at_ms) FROM reading WHERE reading.sensor_id = sensor.sensor_id)"
        row = self._database.row(f"SELECT min({ends.format('min')}), max({ends.format('max')}) FROM sensor")  # noqa: S608
        return None if row is None or row[0] is None else (int(row[0]), int(row[1]))

    def oldest_kept_ms(self) -> int | None:
        """The time of the oldest reading that is on its way or not surely written."""
        oldest = self._database.value("SELECT min(at_ms) FROM archive_queue")
        return None if oldest is None else int(oldest)

    def parked_times(self, start_ms: int, end_ms: int) -> frozenset[tuple[SensorKey, int]]:
        """Which readings of a span are parked, so that nobody looks for them in the archive."""
        rows = self._database.rows(
            "SELECT node, probe, quantity, at_ms FROM archive_rejected JOIN sensor USING(sensor_id) "
            "WHERE at_ms >= ? AND at_ms < ?",
            (start_ms, end_ms),
        )
        return frozenset((SensorKey(*row[:3]), row[3]) for row in rows)

    def first_hour_after(self, hour: int) -> int | None:
        """The first hour after another of which any sensor has a summary."""
        found = self._database.value(
            "SELECT min((SELECT min(hour) FROM hourly WHERE hourly.sensor_id = sensor.sensor_id "
            "AND hour > ?)) FROM sensor",
            (hour,),
        )
        return None if found is None else int(found)

    def hours_between(self, first: int, end: int) -> tuple[ArchivedHour, ...]:
        """The summaries of all sensors from one hour to just before another, hour by hour."""
        rows = self._database.rows(
            f"SELECT {_HOUR_COLUMNS} FROM sensor CROSS JOIN hourly USING(sensor_id) "  # noqa: S608
            "WHERE hour >= ? AND hour < ? ORDER BY hour, sensor_id",
            (first, end),
        )
        return tuple(_archived_hour(row) for row in rows)

    def hours_of(self, wanted: Iterable[tuple[SensorKey, int]]) -> tuple[ArchivedHour, ...]:
        """The summaries of given sensors and hours."""
        query = (
            f"SELECT {_HOUR_COLUMNS} FROM sensor CROSS JOIN hourly USING(sensor_id) "  # noqa: S608
            "WHERE node = ? AND probe = ? AND quantity = ? AND hour = ?"
        )
        rows = [
            self._database.row(query, (sensor.node, sensor.probe, sensor.quantity, hour))
            for sensor, hour in wanted
        ]
        return tuple(_archived_hour(row) for row in rows if row is not None)

    def parked(self, limit: int = 100) -> tuple[ParkedReading, ...]:
        """The readings that the server will not take, newest first."""
        rows = self._database.rows(
            "SELECT node, probe, quantity, at_ms, value, per_unit, reason, parked_ms "
            "FROM archive_rejected JOIN sensor USING(sensor_id) ORDER BY seq DESC LIMIT ?",
            (limit,),
        )
        return tuple(
            ParkedReading(SensorKey(*row[:3]), row[3], from_steps(row[4], row[5]), row[6], row[7])
            for row in rows
        )

    def queue_history(self, now_ms: int, limit: int) -> int:
        """Queue the next readings from before the archive was turned on; gives how many (0: all done).

        Walks sensor by sensor; its place is kept in the store, in the same transaction.
        """
        with self._database.write() as connection:
            note_history(connection)
            cursor = meta.get(connection, _HISTORY)
            if cursor is None or cursor == _DONE:
                return 0
            newest_ms, sensor_id, at_ms = json.loads(cursor)
            rows = connection.execute(
                "SELECT sensor_id, at_ms, value, flag FROM reading "
                "WHERE (sensor_id, at_ms) > (?, ?) ORDER BY sensor_id, at_ms LIMIT ?",
                (sensor_id, at_ms, limit),
            ).fetchall()
            connection.executemany(
                "INSERT INTO archive_queue(sensor_id, at_ms, value, flag, queued_ms) VALUES(?, ?, ?, ?, ?)",
                [(*row, now_ms) for row in rows if row[1] <= newest_ms and row[2] is not None],
            )
            ended = len(rows) < limit
            meta.put(connection, _HISTORY, _DONE if ended else json.dumps([newest_ms, *rows[-1][:2]]))
            return len(rows)


def _start(connection: sqlite3.Connection) -> int:
    row = connection.execute("SELECT min(seq) FROM archive_queue").fetchone()
    if row[0] is not None:
        return int(row[0]) - 1
    last = connection.execute("SELECT seq FROM sqlite_sequence WHERE name = 'archive_queue'").fetchone()
    return int(last[0]) if last else 0


def _mark(name: str) -> str:
    return f"archive_mark_{name}"


def _count_parked(connection: sqlite3.Connection) -> int:
    return int(connection.execute("SELECT count(*) FROM archive_rejected").fetchone()[0])


def _note_parked(connection: sqlite3.Connection, now_ms: int) -> None:
    """From when on more than a few are parked; those that are tried anew keep their time."""
    if _count_parked(connection) > FEW_PARKED and not meta.get(connection, _PARKED_SINCE):
        meta.put(connection, _PARKED_SINCE, str(now_ms))


def _proof(connection: sqlite3.Connection) -> Proof:
    kept = meta.get(connection, _PROOF)
    if kept is None:
        return Proof()
    fields = json.loads(kept)
    said = fields.pop("unreadable")
    return Proof(**fields, unreadable=None if said is None else unpacked(said))


def _archived_hour(row: tuple[Any, ...]) -> ArchivedHour:
    hour, count, minimum, total, maximum, flagged, steps_in_unit = row[3:]
    return ArchivedHour(
        SensorKey(*row[:3]),
        hour,
        count,
        None if minimum is None else from_steps(minimum, steps_in_unit),
        total / count / steps_in_unit if count else None,
        None if maximum is None else from_steps(maximum, steps_in_unit),
        flagged,
    )
