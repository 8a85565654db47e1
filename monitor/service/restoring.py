"""What the service takes up again after a start: alarm states, and the readings since they were stored."""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter

from monitor.records import MS_PER_HOUR, Calibration, Flag, FlaggedReading, Reading, SensorKey
from monitor.service.watch import Turn, Watch
from monitor.settings.plan import Plan
from monitor.store import Store

CATCH_UP_MS = 2 * MS_PER_HOUR


def restore(store: Store, plan: Plan, now_ms: int, margin_ms: int) -> tuple[Watch, Turn]:
    """The live picture as it was, brought up to date with stored readings; the turn is still to be written.

    A state is stored only when something changes that readings cannot restore, so the last two hours are
    gone through again. Samples that a state has seen are ignored by it. What a clock that was wrong has dated
    further ahead than `margin_ms` must not block.
    """
    watch, turn = Watch(plan, store.journal.states(), store.calibrations.every()), Turn()
    watch.clock_went_back(now_ms, margin_ms)
    catch_up(store, watch, now_ms, turn)
    watch.follow_design(now_ms, turn)
    return watch, turn


def catch_up(store: Store, watch: Watch, now_ms: int, turn: Turn) -> None:
    """Go through the readings of the last two hours again."""
    readings = [
        reading
        for sensor in store.readings.sensors()
        if watch.plan.place_of(sensor) is not None
        for reading in _recent(store, watch.calibrations, sensor, now_ms)
    ]
    watch.feed(sorted(readings, key=attrgetter("reading.at_ms")), now_ms, turn)
    # What came late was found and written when it came.
    turn.found_late.clear()


def _recent(
    store: Store, calibrations: Sequence[Calibration], sensor: SensorKey, now_ms: int
) -> list[FlaggedReading]:
    start_ms, end_ms = now_ms - CATCH_UP_MS, now_ms + 1
    raw = store.readings.series(sensor, start_ms, end_ms)
    mine = [calibration for calibration in calibrations if calibration.sensor == sensor]
    true = raw.calibrated(mine, sensor.quantity)
    rows = zip(raw.at_ms, raw.value, true.value, raw.flag, strict=True)
    return [
        FlaggedReading(Reading(sensor, int(at), float(value)), Flag(int(flag)), float(calibrated))
        for at, value, calibrated, flag in rows
    ]
