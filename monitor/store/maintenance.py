"""Retention, what a clock that was wrong leaves behind, and export as CSV."""

from __future__ import annotations

import csv
import datetime
import math
import time
from collections.abc import Callable, Iterator, Sequence
from typing import TextIO

from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_SECOND, QUANTITIES, SensorKey
from monitor.store import meta, readings
from monitor.store.connection import Database
from monitor.store.reading_writer import PRUNED_BEFORE, SMALLEST
from monitor.store.readings import Readings, Summaries

Progress = Callable[[int, int], None]
KEEP_MESSAGES_DAYS = 14
MOST_DAYS_AT_ONCE = 2
"""Own choice: days of the oldest readings, or of identities of messages, that one look may take."""
_CHUNK = 2000
_NOTHING_AHEAD = (
    "UPDATE outbox SET not_before_ms = max(0, not_before_ms - max(0, created_ms - ?1)), next_attempt_ms = 0 "
    "WHERE state = 'waiting' AND (created_ms > ?1 OR next_attempt_ms > ?1)",
    "UPDATE outbox SET finished_ms = ?1 WHERE finished_ms > ?1",
    "UPDATE outbox SET created_ms = ?1 WHERE created_ms > ?1",
    "UPDATE node SET last_heard_ms = ?1 WHERE last_heard_ms > ?1",
    "UPDATE node SET first_heard_ms = ?1 WHERE first_heard_ms > ?1",
    "UPDATE node SET last_reject_ms = ?1 WHERE last_reject_ms > ?1",
    "UPDATE board_report SET reported_ms = ?1 WHERE reported_ms > ?1",
    "UPDATE archive_queue SET queued_ms = ?1 WHERE queued_ms > ?1",
    "DELETE FROM forecast_made WHERE made_ms > ?1",
)
RAW_HEADER = ("time_utc", "node", "probe", "quantity", "unit", "value", "flag")
HOUR_HEADER = (
    *("hour_utc", "node", "probe", "quantity", "unit"),
    *("count", "minimum", "mean", "maximum", "flagged"),
)


def prune(database: Database, now_ms: int, keep_raw_days: int) -> int:
    """Delete raw readings older than the limit; gives how many went.

    The wall clock alone deletes nothing: at most the two oldest days go at once, and only while the store
    holds readings of so many days that `keep_raw_days` whole ones stay beside the newest. So a clock that is
    wrong for a look, or for good, costs no more than the days that are due anyway. Each step is a short
    transaction of its own with a pause as long behind it, so the service can write in between. The
    identities of messages are kept for two weeks, longer than a node can lag and still be believed.
    """
    before_ms = _may_go_before_ms(database, now_ms - keep_raw_days * MS_PER_DAY, keep_raw_days)
    deleted = 0
    if before_ms is not None:
        _note(database, before_ms)
        deleted = sum(_prune_sensor(database, row.sensor_id, before_ms) for row in readings.every(database))
    _prune_messages(database, now_ms - KEEP_MESSAGES_DAYS * MS_PER_DAY)
    return deleted


def _may_go_before_ms(database: Database, limit_ms: int, keep_raw_days: int) -> int | None:
    """Before when raw readings may go now: a bounded share, whole hours; None where all must stay."""
    sensors = [row.sensor_id for row in readings.every(database)]
    first = (_first_ms(database, sensor_id, SMALLEST) for sensor_id in sensors)
    oldest_ms = min((at_ms for at_ms in first if at_ms is not None), default=None)
    if oldest_ms is None:
        return None
    bound_ms = (oldest_ms // MS_PER_DAY + MOST_DAYS_AT_ONCE) * MS_PER_DAY
    before_ms = min(limit_ms, bound_ms) // MS_PER_HOUR * MS_PER_HOUR
    while before_ms > oldest_ms and not _days_stay(database, sensors, before_ms, keep_raw_days):
        # A day less: what lies between the oldest day and the bound may be all that can go.
        before_ms = (before_ms - 1) // MS_PER_DAY * MS_PER_DAY
    return before_ms if before_ms > oldest_ms else None


def _days_stay(database: Database, sensors: Sequence[int], from_ms: int, keep_raw_days: int) -> bool:
    """Whether readings of enough days are left from then on: those to be kept, and the newest beside them."""
    days: set[int] = set()
    for sensor_id in sensors:
        at_ms = _first_ms(database, sensor_id, from_ms)
        while at_ms is not None and len(days) <= keep_raw_days:
            days.add(at_ms // MS_PER_DAY)
            at_ms = _first_ms(database, sensor_id, (at_ms // MS_PER_DAY + 1) * MS_PER_DAY)
        if len(days) > keep_raw_days:
            return True
    return False


def _first_ms(database: Database, sensor_id: int, from_ms: int) -> int | None:
    query = "SELECT min(at_ms) FROM reading WHERE sensor_id = ? AND at_ms >= ?"
    first: int | None = database.value(query, (sensor_id, from_ms))
    return first


def _note(database: Database, before_ms: int) -> None:
    with database.write() as connection:
        known = meta.get(connection, PRUNED_BEFORE)
        if known is None or int(known) < before_ms:
            meta.put(connection, PRUNED_BEFORE, str(before_ms))


def clock_went_back(database: Database, now_ms: int) -> None:
    """The machine's clock was ahead and is right again: what was dated in the future waits for nothing.

    Messages are held and counted from now on, boards were heard by now, forecasts of days to come are made
    again. The journal stays as it was written.
    """
    with database.write() as connection:
        for statement in _NOTHING_AHEAD:
            connection.execute(statement, (now_ms,))


def _prune_sensor(database: Database, sensor_id: int, before_ms: int) -> int:
    return _in_steps(
        database,
        "DELETE FROM reading WHERE sensor_id = ?1 AND at_ms < min(?2, ifnull(("
        "SELECT at_ms FROM reading WHERE sensor_id = ?1 ORDER BY at_ms LIMIT 1 OFFSET ?3), ?2))",
        (sensor_id, before_ms, _CHUNK),
    )


def _prune_messages(database: Database, limit_ms: int) -> None:
    for (node_id,) in database.rows("SELECT node_id FROM node"):
        oldest = database.row("SELECT min(received_ms) FROM message WHERE node_id = ?", (node_id,))
        if oldest is None or oldest[0] is None:
            continue
        before_ms = min(limit_ms, (oldest[0] // MS_PER_DAY + MOST_DAYS_AT_ONCE) * MS_PER_DAY)
        _in_steps(
            database,
            "DELETE FROM message WHERE (node_id, boot, sequence) IN (SELECT node_id, boot, sequence "
            "FROM message WHERE node_id = ?1 AND received_ms < ?2 LIMIT ?3)",
            (node_id, before_ms, _CHUNK),
        )
        gone = "DELETE FROM refused_message WHERE node_id = ? AND received_ms < ?"
        database.change(gone, (node_id, before_ms))
        database.change("DELETE FROM node_boot WHERE node_id = ? AND heard_ms < ?", (node_id, before_ms))


def _in_steps(database: Database, statement: str, values: tuple[int, int, int]) -> int:
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


def write_csv(
    stream: TextIO,
    readings: Readings,
    summaries: Summaries,
    sensors: Sequence[SensorKey],
    span_ms: tuple[int, int],
    hourly: bool = False,
    progress: Progress | None = None,
) -> int:
    """Write raw readings or hours of sensors in [start, end) as CSV; gives the rows written.

    Times are UTC in a form that spreadsheets open; one row per reading or hour.
    `progress(done, total)` counts sensors.
    """
    writer = csv.writer(stream)
    writer.writerow(HOUR_HEADER if hourly else RAW_HEADER)
    written = 0
    for done, sensor in enumerate(sensors, start=1):
        rows = _hour_rows(summaries, sensor, span_ms) if hourly else _raw_rows(readings, sensor, span_ms)
        for row in rows:
            writer.writerow(row)
            written += 1
        if progress is not None:
            progress(done, len(sensors))
    return written


def _raw_rows(
    readings: Readings, sensor: SensorKey, span_ms: tuple[int, int]
) -> Iterator[tuple[object, ...]]:
    names = _names(sensor)
    for at_ms, value, flag in readings.iterate(sensor, *span_ms):
        yield (_time(at_ms), *names, _number(value), int(flag))


def _hour_rows(
    summaries: Summaries, sensor: SensorKey, span_ms: tuple[int, int]
) -> Iterator[tuple[object, ...]]:
    names = _names(sensor)
    for hour in summaries.hours(sensor, *span_ms):
        values = (_number(hour.minimum), _number(round(hour.mean, 6)), _number(hour.maximum))
        yield (_time(hour.hour_ms), *names, hour.count, *values, hour.flagged)


def _names(sensor: SensorKey) -> tuple[str, str, str, str]:
    facts = QUANTITIES.get(sensor.quantity)
    return sensor.node, sensor.probe, sensor.quantity, facts.unit if facts else ""


def _number(value: float) -> str:
    return "" if math.isnan(value) else repr(value)


def _time(at_ms: int) -> str:
    whole = datetime.datetime.fromtimestamp(at_ms // MS_PER_SECOND, tz=datetime.UTC)
    moment = whole.replace(microsecond=at_ms % MS_PER_SECOND * 1000)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
