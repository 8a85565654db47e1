"""Readings on their way to the archive, in the order in which they were stored: the durable cursor.

A row is written together with its reading and deleted only some time after the server took it. `sent` is the
last row that the server took; everything after it waits.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from monitor.errors import Phrase, Sentence
from monitor.records import SensorKey
from monitor.store import meta
from monitor.store.connection import Queries
from monitor.store.kept_sentences import packed, unpacked
from monitor.store.readings import from_steps

_SENT, _ERROR, _HISTORY = "archive_sent", "archive_error", "archive_history"
_DONE = "done"
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
class ArchiveStatus:
    """How far behind the archive is, and what is wrong; None while all is well."""

    waiting: int
    oldest_waiting_ms: int | None
    parked: int
    trouble: Sentence | None

    @property
    def last_error(self) -> str:
        """What is wrong, in English; empty while all is well."""
        return "" if self.trouble is None else self.trouble.text


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

    def taken(self, sent: int, settled: int, parked: Iterable[tuple[int, str]] = (), now_ms: int = 0) -> None:
        """The server took all up to `sent`; rows up to `settled` can go; `parked` it will never take."""
        with self._database.write() as connection:
            for seq, reason in parked:
                connection.execute(
                    "INSERT OR REPLACE INTO archive_rejected SELECT seq, sensor_id, at_ms, value, flag, ?, ? "
                    "FROM archive_queue WHERE seq = ?",
                    (reason, now_ms, seq),
                )
            connection.execute("DELETE FROM archive_queue WHERE seq <= ?", (settled,))
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
        trouble = unpacked(error) if error else None
        return ArchiveStatus(max(0, last - sent), oldest[0] if oldest else None, parked, trouble)

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
