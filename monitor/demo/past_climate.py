"""The weeks before the demo: the same rooms and bins in coarser steps, the last days stored more finely."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray
from monitor.demo.bins import BinState, step_bin, water_to
from monitor.demo.physics import BIN_PLANS, FarmPhysics
from monitor.demo.script import BOARDS, Board, Incident, Script, Sensor
from monitor.demo.weather import Surroundings
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Quantity,
    Reading,
    SensorKey,
    TimeSource,
)
from monitor.store import Store

STEP_MS = 15 * MS_PER_MINUTE
BIN_ROOM = "room-b"
FRESH_FILL = BinState(29.0, 28.5, 7.6, 3.0, 0.0)
MOISTURE_LOW, MOISTURE_WATERED = 0.66, 0.70
# The quantities that are kept of the past, with the noise of their sensors.
NOISE: Mapping[str, float] = {
    Quantity.AIR_TEMPERATURE: 0.1,
    Quantity.AIR_HUMIDITY: 0.5,
    Quantity.SUBSTRATE_TEMPERATURE: 0.1,
    Quantity.SUBSTRATE_MOISTURE: 0.004,
}
DAYS_IN_BATCH = 5
RECENT_DAYS = 7
FINE_STEP_MS = 5 * MS_PER_MINUTE


@dataclass(frozen=True, slots=True, eq=False)
class PastClimate:
    """True values by place and quantity: each array of shape (n,) beside `times_ms` of shape (n,)."""

    times_ms: IntArray
    values: Mapping[tuple[str, str], FloatArray]


def past_climate(
    seed: int,
    start_ms: int,
    days: int,
    fills_ms: Mapping[str, Sequence[int]],
    incidents: tuple[Incident, ...] = (),
) -> PastClimate:
    """Simulate the days before the start, kept hourly; each bin is refilled at its times.

    `incidents` are by hours since the first of those days.
    """
    first_ms = start_ms - days * MS_PER_DAY
    physics = FarmPhysics(seed, first_ms, Script(first_ms, incidents))
    bins = dict.fromkeys(BIN_PLANS, FRESH_FILL)
    kept: dict[tuple[str, str], list[float]] = {key: [] for board in BOARDS for key in _measured(board)}
    hours = []
    for at_ms in range(first_ms + STEP_MS, start_ms, STEP_MS):
        physics.step(at_ms)
        air = physics.room(BIN_ROOM)
        bins = {name: _stepped(name, state, air, at_ms, fills_ms) for name, state in bins.items()}
        if (at_ms - first_ms) % MS_PER_HOUR == 0:
            hours.append(at_ms)
            for (place, quantity), series in kept.items():
                series.append(_value(physics, bins, place, quantity))
    values = {key: np.array(series) for key, series in kept.items()}
    return PastClimate(np.array(hours, dtype=np.int64), values)


def _measured(board: Board) -> Iterator[tuple[str, str]]:
    for sensor in board.sensors:
        if sensor.quantity in NOISE:
            yield sensor.place, sensor.quantity


def _stepped(
    name: str, state: BinState, air: Surroundings, at_ms: int, fills_ms: Mapping[str, Sequence[int]]
) -> BinState:
    if any(at_ms - STEP_MS < fill_ms <= at_ms for fill_ms in fills_ms.get(name, ())):
        state = FRESH_FILL
    state = step_bin(BIN_PLANS[name], state, air, STEP_MS / 1000.0).state
    state = water_to(state, MOISTURE_WATERED) if state.moisture < MOISTURE_LOW else state
    return replace(state, age_days=min(state.age_days, 60.0))


def _value(physics: FarmPhysics, bins: Mapping[str, BinState], place: str, quantity: str) -> float:
    if place in bins:
        return bins[place].core_c if quantity == Quantity.SUBSTRATE_TEMPERATURE else bins[place].moisture
    return physics.value(place, quantity)


def store_climate(store: Store, climate: PastClimate, seed: int, start_ms: int) -> int:
    """Store the past as readings of the boards; returns how many were stored."""
    climate = _finer(climate, start_ms)
    random = Random(seed)
    stored = 0
    step = 24 * DAYS_IN_BATCH
    for first in range(0, len(climate.times_ms), step):
        span = slice(first, first + step)
        messages = [_message(board, climate, span, random, start_ms) for board in BOARDS]
        filled = tuple(message for message in messages if message.readings)
        now_ms = int(climate.times_ms[span][-1])
        stored += store.commit(Batch(now_ms=now_ms, messages=filled)).stored
    return stored


def _finer(climate: PastClimate, start_ms: int) -> PastClimate:
    recent_ms = start_ms - RECENT_DAYS * MS_PER_DAY
    old = climate.times_ms[climate.times_ms < recent_ms]
    fine = np.arange(recent_ms, climate.times_ms[-1] + 1, FINE_STEP_MS, dtype=np.int64)
    times = np.concatenate((old, fine))
    values = {key: np.interp(times, climate.times_ms, series) for key, series in climate.values.items()}
    return PastClimate(times, values)


def _message(
    board: Board, climate: PastClimate, span: slice, random: Random, start_ms: int
) -> FlaggedMessage:
    """All readings of one board over the span. The last one ends just before the demo begins."""
    readings: list[Reading] = []
    for sensor in board.sensors:
        if sensor.quantity in NOISE:
            readings += _readings(board, sensor, climate, span, random)
    readings.sort(key=lambda reading: reading.at_ms)
    received_ms = start_ms - MS_PER_MINUTE
    if span.stop < len(climate.times_ms):
        received_ms = int(climate.times_ms[span][-1])
    message = NodeMessage(board.id, received_ms, tuple(readings), TimeSource.NODE)
    flagged = tuple(FlaggedReading(reading, Flag.PASS, reading.value) for reading in readings)
    return FlaggedMessage(message, flagged)


def _readings(
    board: Board, sensor: Sensor, climate: PastClimate, span: slice, random: Random
) -> Iterator[Reading]:
    key = SensorKey(board.id, sensor.probe, sensor.quantity)
    values = climate.values[sensor.place, sensor.quantity][span]
    noise = NOISE[sensor.quantity]
    for at_ms, value in zip(climate.times_ms[span].tolist(), values.tolist(), strict=True):
        yield Reading(key, at_ms, value + random.gauss(0.0, noise))
