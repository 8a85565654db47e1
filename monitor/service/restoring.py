"""What the service takes up again after a start: alarm states, and the readings since they were stored."""

from __future__ import annotations

from operator import attrgetter

from monitor.records import MS_PER_HOUR, Flag, FlaggedReading, Reading, SensorKey
from monitor.service.watch import Turn, Watch
from monitor.settings.plan import Plan
from monitor.store import Store

CATCH_UP_MS = 2 * MS_PER_HOUR


def restore(store: Store, plan: Plan, now_ms: int) -> tuple[Watch, Turn]:
    """The live picture as it was, brought up to date with stored readings; the turn is still to be written.

    A state is stored only when something changes that readings cannot restore, so the last two hours are
    gone through again. Samples that a state has seen are ignored by it.
    """
    watch = Watch(plan, store.journal.states(), store.calibrations.every())
    turn = Turn()
    readings = [
        reading
        for sensor in store.readings.sensors()
        if plan.place_of(sensor) is not None
        for reading in _recent(store, sensor, now_ms)
    ]
    watch.feed(sorted(readings, key=attrgetter("reading.at_ms")), now_ms, turn)
    watch.follow_design(now_ms, turn)
    return watch, turn


def _recent(store: Store, sensor: SensorKey, now_ms: int) -> list[FlaggedReading]:
    start_ms, end_ms = now_ms - CATCH_UP_MS, now_ms + 1
    raw = store.readings.series(sensor, start_ms, end_ms)
    true = raw.calibrated(store.calibrations.of(sensor), sensor.quantity)
    rows = zip(raw.at_ms, raw.value, true.value, raw.flag, strict=True)
    return [
        FlaggedReading(Reading(sensor, int(at), float(value)), Flag(int(flag)), float(calibrated))
        for at, value, calibrated, flag in rows
    ]
