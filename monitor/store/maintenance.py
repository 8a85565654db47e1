"""Retention: raw readings go after their time, in small steps; hours stay."""

from __future__ import annotations

import time

from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.store import meta, sensors
from monitor.store.connection import Database
from monitor.store.reading_writer import PRUNED_BEFORE

KEEP_MESSAGES_DAYS = 14
_CHUNK = 2000


def prune(database: Database, now_ms: int, keep_raw_days: int) -> int:
    """Delete raw readings older than the limit, whole hours only; gives how many went.

    Each step is a short transaction of its own with a pause as long behind it, so the service can write in
    between. The identities of messages are kept for two weeks, longer than a node can lag and still be
    believed.
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
    return _in_steps(
        database,
        "DELETE FROM reading WHERE sensor_id = ?1 AND at_ms < min(?2, ifnull(("
        "SELECT at_ms FROM reading WHERE sensor_id = ?1 ORDER BY at_ms LIMIT 1 OFFSET ?3), ?2))",
        (sensor_id, before_ms, _CHUNK),
    )


def _prune_messages(database: Database, before_ms: int) -> None:
    with database.read() as connection:
        nodes = [row[0] for row in connection.execute("SELECT node_id FROM node")]
    for node_id in nodes:
        _in_steps(
            database,
            "DELETE FROM message WHERE (node_id, boot, sequence) IN (SELECT node_id, boot, sequence "
            "FROM message WHERE node_id = ?1 AND received_ms < ?2 LIMIT ?3)",
            (node_id, before_ms, _CHUNK),
        )
    with database.write() as connection:
        connection.execute("DELETE FROM node_boot WHERE heard_ms < ?", (before_ms,))


def _in_steps(database: Database, statement: str, values: tuple[int, int, int]) -> int:
    """Repeat a deletion of at most `_CHUNK` rows until there are none left; gives how many went."""
    deleted = 0
    while True:
        began = time.monotonic()
        with database.write() as connection:
            step = connection.execute(statement, values).rowcount
        deleted += step
        if step < _CHUNK:
            return deleted
        # The lock is not fair: without a pause whoever waits for it could wait to the end.
        time.sleep(time.monotonic() - began)
