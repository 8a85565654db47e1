"""Retention: raw readings go after their time, in small steps; hours stay."""

from __future__ import annotations

from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.store import meta, sensors
from monitor.store.connection import Database
from monitor.store.reading_writer import PRUNED_BEFORE

KEEP_MESSAGES_DAYS = 14
_CHUNK = 5000


def prune(database: Database, now_ms: int, keep_raw_days: int) -> int:
    """Delete raw readings older than the limit, whole hours only; gives how many went.

    Each step is a short transaction of its own, so the service can write in between. The identities of
    messages are kept for two weeks, longer than a node can lag and still be believed.
    """
    before_ms = (now_ms - keep_raw_days * MS_PER_DAY) // MS_PER_HOUR * MS_PER_HOUR
    _note(database, before_ms)
    with database.read() as connection:
        numbers = [row.sensor_id for row in sensors.every(connection)]
    deleted = sum(_prune_sensor(database, number, before_ms) for number in numbers)
    _prune_messages(database, now_ms - KEEP_MESSAGES_DAYS * MS_PER_DAY)
    return deleted


def _note(database: Database, before_ms: int) -> None:
    with database.write() as connection:
        found = meta.get(connection, PRUNED_BEFORE)
        if found is None or int(found) < before_ms:
            meta.put(connection, PRUNED_BEFORE, str(before_ms))


def _prune_sensor(database: Database, sensor_id: int, before_ms: int) -> int:
    deleted = 0
    while True:
        with database.write() as connection:
            step = connection.execute(
                "DELETE FROM reading WHERE sensor_id = ?1 AND at_ms < min(?2, ifnull(("
                "SELECT at_ms FROM reading WHERE sensor_id = ?1 ORDER BY at_ms LIMIT 1 OFFSET ?3), ?2))",
                (sensor_id, before_ms, _CHUNK),
            ).rowcount
        deleted += step
        if step < _CHUNK:
            return deleted


def _prune_messages(database: Database, before_ms: int) -> None:
    with database.write() as connection:
        connection.execute("DELETE FROM message WHERE received_ms < ?", (before_ms,))
        connection.execute("DELETE FROM node_boot WHERE heard_ms < ?", (before_ms,))
