"""The demo farm with a year of minute readings from 40 sensors, and the time that a page of it takes."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import httpx

from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    AlarmEvent,
    AlarmState,
    AlarmStatus,
    Batch,
    FlaggedMessage,
    LogbookEntry,
    NodeMessage,
    SensorKey,
    SubjectKind,
    TimeSource,
    Transition,
)
from monitor.settings.plan import Plan
from monitor.store import Store, readings

NOW = datetime(2026, 9, 24, 6, 40, tzinfo=ZoneInfo("Africa/Gaborone"))
NOW_MS = round(NOW.timestamp() * 1000) // MS_PER_HOUR * MS_PER_HOUR
SENSORS, DAYS = 40, 365
PASSWORD = "a-long-password"
MOST_BYTES = 200_000
MOST_MS = 100.0
_MINUTES = """
    WITH RECURSIVE minute(at_ms) AS (
        SELECT :start UNION ALL SELECT at_ms + 60000 FROM minute WHERE at_ms + 60000 < :end)
    INSERT INTO reading SELECT :sensor, at_ms,
        CAST(:base + :swing * ((at_ms / 60000) % 1440 - 720) / 720 AS INTEGER) + (at_ms / 60000 * 7919) % 23,
        1
    FROM minute"""
_COPY = "INSERT INTO reading SELECT ?1, at_ms, value + ?2, 1 FROM reading WHERE sensor_id = ?3"
_HOURS = """
    INSERT INTO hourly SELECT sensor_id, at_ms / 3600000, count(*), min(value), sum(value), max(value), 0
    FROM reading WHERE sensor_id = ?1 GROUP BY sensor_id, at_ms / 3600000"""
_COPY_HOURS = """
    INSERT INTO hourly SELECT ?1, hour, count, minimum + ?2, total + ?2 * count, maximum + ?2, flagged
    FROM hourly WHERE sensor_id = ?3"""


def _keys(plan: Plan) -> list[SensorKey]:
    found = [
        SensorKey(node.id, *each.rpartition("/")[::2])
        for node in plan.nodes.values()
        for each in node.measures
    ]
    return sorted(found)[:SENSORS]


def fill_year(store: Store, plan: Plan) -> None:
    """A year of minutes, written as fast as SQLite copies rows; the hours are those of these minutes."""
    first: dict[int, int] = {}
    for number, key in enumerate(_keys(plan)):
        with store.database.write() as connection:
            row = readings.find_or_add(store.database, key)
            base = 28 * row.per_unit if row.per_unit != 10_000 else 6_000
            if row.per_unit not in first:
                first[row.per_unit] = row.sensor_id
                span = {"start": NOW_MS - DAYS * MS_PER_DAY, "end": NOW_MS + 1}
                connection.execute(
                    _MINUTES, {**span, "sensor": row.sensor_id, "base": base, "swing": row.per_unit * 2 or 1}
                )
                connection.execute(_HOURS, (row.sensor_id,))
            else:
                source = (row.sensor_id, number, first[row.per_unit])
                connection.execute(_COPY, source)
                connection.execute(_COPY_HOURS, source)


def fill_history(store: Store, plan: Plan) -> None:
    """Every node heard just now, six alarms a day for a year, some of them standing."""
    heard = [FlaggedMessage(NodeMessage(node, NOW_MS, (), TimeSource.NODE, 1, 1), ()) for node in plan.nodes]
    rules = list(plan.rules.values())
    rows: list[Transition] = []
    for number in range(DAYS * 6):
        rule, at_ms = rules[number % len(rules)], NOW_MS - number * 4 * MS_PER_HOUR
        head = (rule.alarm_id, rule.place, rule.quantity, rule.priority)
        quiet, loud = AlarmStatus.NORMAL, AlarmStatus.UNACKNOWLEDGED
        rows.append(Transition(*head, AlarmEvent.ACTIVATE, quiet, loud, at_ms, at_ms, rule.setpoint))
        end_ms = at_ms + 30 * MS_PER_MINUTE
        rows.append(Transition(*head, AlarmEvent.CLEAR, loud, quiet, end_ms, end_ms, rule.setpoint))
    states = [
        AlarmState(rule.alarm_id, AlarmStatus.UNACKNOWLEDGED, True, False, NOW_MS, last_value=rule.setpoint)
        for rule in rules[::9]
    ]
    batch = Batch(NOW_MS, messages=tuple(heard), alarm_states=tuple(states), transitions=tuple(rows[::-1]))
    store.commit(batch)
    store.meta.put("first_started_ms", str(NOW_MS - DAYS * MS_PER_DAY))
    run = store.runs.start(NOW_MS - DAYS * MS_PER_DAY)
    store.runs.alive(run, NOW_MS)


COHORTS, EVERY_DAYS, BINS = 24, 15, 6


def animals(living: int = 6) -> Iterator[LogbookEntry]:
    """A cohort every two weeks for a year, some of them living; six bins, watered each day."""
    ended = COHORTS - 6
    for number in range(ended):
        yield from _cohort(f"c-{number}", NOW_MS - (COHORTS - number) * EVERY_DAYS * MS_PER_DAY, ended=True)
    for number in range(living):
        days = 6.0 * EVERY_DAYS * (living - number) / living
        yield from _cohort(f"c-{ended + number}", NOW_MS - round(days * MS_PER_DAY), ended=False)
    for number in range(1, BINS + 1):
        filled_ms = NOW_MS - 21 * MS_PER_DAY
        body = {"kg": 10.0, "moisture": 0.7, "surface_m2": 0.24, "depth_m": 0.08, "larvae": 2500}
        yield about(SubjectKind.BIN, f"bin-{number}", "fill", filled_ms, **body)
        for day in range(1, 21):
            at_ms = filled_ms + day * MS_PER_DAY + MS_PER_HOUR
            yield about(SubjectKind.BIN, f"bin-{number}", "water", at_ms, kg=0.4)


def _cohort(name: str, start_ms: int, *, ended: bool) -> Iterator[LogbookEntry]:
    body: dict[str, object] = {"stage": "larva", "place": "box-1", "animals": 2000, "purpose": "breeding"}
    yield about(SubjectKind.COHORT, name, "start", start_ms, **body, cage="cage-1")
    prepupae_ms = start_ms + 12 * MS_PER_DAY
    if prepupae_ms < NOW_MS:
        yield about(SubjectKind.COHORT, name, "saw", prepupae_ms, event="first_prepupae")
    if ended:
        yield about(SubjectKind.COHORT, name, "end", start_ms + 60 * MS_PER_DAY, how="emerged")


def about(kind: SubjectKind, subject: str, what: str, at_ms: int, **body: object) -> LogbookEntry:
    """An entry of the keeper."""
    return LogbookEntry(kind, subject, what, at_ms, at_ms, "keeper", body)


@dataclass(frozen=True, slots=True)
class Loaded:
    """What one part took."""

    milliseconds: list[float]
    page_bytes: int


def load(client: httpx.Client, path: str, times: int) -> Loaded:
    """Ask for a page so many times."""
    taken = []
    for _ in range(times):
        started = time.perf_counter()
        answer = client.get(path)
        taken.append(1000 * (time.perf_counter() - started))
        assert answer.status_code == 200
    return Loaded(taken, len(answer.content))
