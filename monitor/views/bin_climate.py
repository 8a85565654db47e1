"""Air, humidity and substrate temperature of a bin out of the store, hour by hour, and the days ahead."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from monitor.model.climate import ClimateSeries, DayShape, climate_of, days_ahead, usual_day
from monitor.model.degree_days import FloatArray, IntArray
from monitor.model.moisture_outlook import HORIZON_H
from monitor.records import MS_PER_DAY, MS_PER_HOUR, FlaggedReading, Quantity, SensorKey
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.calibrations import coefficients

HALF_HOUR_MS = MS_PER_HOUR // 2
SHAPE_DAYS = 3
HOURS_PER_DAY = 24
HOT_SPAN_MS = MS_PER_HOUR


class BinReader:
    """Reads what several bins need at one moment; sensors and calibrations are looked up once."""

    def __init__(self, store: Store, plan: Plan, now_ms: int) -> None:
        self._store, self._plan, self.now_ms = store, plan, now_ms
        self._calibrations = store.calibrations.every()
        self._sensors: dict[tuple[str | None, str], list[SensorKey]] = {}
        for sensor in store.readings.sensors():
            self._sensors.setdefault((plan.place_of(sensor), sensor.quantity), []).append(sensor)
        self._hours: dict[tuple[SensorKey, int], tuple[IntArray, FloatArray]] = {}
        self._latest: dict[SensorKey, FlaggedReading] | None = None

    def climate(self, place: str, from_ms: int) -> ClimateSeries | None:
        """The climate of a place from some days before a time until now; None where its air is not known.

        A place without thermometer and hygrometer of its own goes by the air of its room.
        """
        start_ms = min(from_ms, self.now_ms - SHAPE_DAYS * MS_PER_DAY)
        start_ms -= start_ms % MS_PER_HOUR
        for where in (place, self._plan.places[place].room):
            air = self.hours(where, Quantity.AIR_TEMPERATURE, start_ms)
            humid = self.hours(where, Quantity.AIR_HUMIDITY, start_ms)
            times, at_air, at_humid = np.intersect1d(air[0], humid[0], return_indices=True)
            if len(times):
                probe = self.hours(place, Quantity.SUBSTRATE_TEMPERATURE, start_ms)
                substrate = _at(times, probe)
                return climate_of(self._moments(times), air[1][at_air], humid[1][at_humid], substrate)
        return None

    def substrate_lately(self, place: str) -> tuple[IntArray, FloatArray]:
        """Single readings of the substrate of the last hour, of all its thermometers in the order of time."""
        found = [self._lately(sensor) for sensor in self._of(place, Quantity.SUBSTRATE_TEMPERATURE)]
        times = np.concatenate([np.empty(0, dtype=np.int64), *(part[0] for part in found)])
        values = np.concatenate([np.empty(0), *(part[1] for part in found)])
        order = np.argsort(times, kind="stable")
        return times[order], values[order]

    def air_lately_c(self, place: str) -> float | None:
        """Air temperature of the last hour: of the place, else of its room."""
        for where in (place, self._plan.places[place].room):
            sensors = self._of(where, Quantity.AIR_TEMPERATURE)
            values = np.concatenate([np.empty(0), *(self._lately(sensor)[1] for sensor in sensors)])
            if len(values):
                return float(values.mean())
        return None

    def moisture_probe(self, place: str) -> tuple[SensorKey, FlaggedReading] | None:
        """The moisture probe of a place that was heard last, with its newest reading."""
        if self._latest is None:
            self._latest = self._store.readings.latest(self._calibrations)
        known = self._of(place, Quantity.SUBSTRATE_MOISTURE)
        heard = [(sensor, self._latest[sensor]) for sensor in known if sensor in self._latest]
        return max(heard, key=lambda each: each[1].reading.at_ms, default=None)

    def _of(self, place: str | None, quantity: Quantity) -> list[SensorKey]:
        return self._sensors.get((place, quantity), []) if place is not None else []

    def _lately(self, sensor: SensorKey) -> tuple[IntArray, FloatArray]:
        span = self.now_ms - HOT_SPAN_MS, self.now_ms + 1
        mine = [one for one in self._calibrations if one.sensor == sensor]
        usable = self._store.readings.series(sensor, *span, mine).usable()
        return usable.at_ms, usable.value

    def hours(self, place: str | None, quantity: Quantity, start_ms: int) -> tuple[IntArray, FloatArray]:
        """Hours of one quantity; several sensors of one place count as their mean."""
        return _mean_by_time(self._read(sensor, start_ms) for sensor in self._of(place, quantity))

    def _read(self, sensor: SensorKey, start_ms: int) -> tuple[IntArray, FloatArray]:
        if (sensor, start_ms) not in self._hours:
            hours = self._store.summaries.parts(sensor, start_ms, self.now_ms, 1)
            mine = [one for one in self._calibrations if one.sensor == sensor]
            slope, offset = coefficients(mine, hours.start_ms)
            self._hours[sensor, start_ms] = hours.start_ms, np.asarray(slope * hours.mean + offset)
        return self._hours[sensor, start_ms]

    def _moments(self, hours_ms: IntArray) -> IntArray:
        """The middle of each hour; the running one has lasted a part only."""
        middle = hours_ms + HALF_HOUR_MS
        middle[-1] = min(int(middle[-1]), (int(hours_ms[-1]) + self.now_ms) // 2)
        return middle


def _mean_by_time(parts: Iterable[tuple[IntArray, FloatArray]]) -> tuple[IntArray, FloatArray]:
    every = [part for part in parts if len(part[0])]
    if len(every) < 2:
        return every[0] if every else (np.empty(0, dtype=np.int64), np.empty(0))
    times, index = np.unique(np.concatenate([part[0] for part in every]), return_inverse=True)
    sums = np.bincount(index, weights=np.concatenate([part[1] for part in every]))
    return times, sums / np.bincount(index)


def _at(times: IntArray, series: tuple[IntArray, FloatArray]) -> FloatArray:
    """The values at some of the times, NaN where there is none."""
    found = np.full(len(times), np.nan)
    _, here, there = np.intersect1d(times, series[0], return_indices=True)
    found[here] = series[1][there]
    return found


def climate_ahead(climate: ClimateSeries, now_ms: int) -> tuple[ClimateSeries, bool]:
    """The coming days as the place's own usual day, and whether that day is known.

    Where less than half a day was measured, the mean of what was stands for every hour.
    """
    day = usual_day(climate, now_ms)
    if day is not None:
        return days_ahead(day, now_ms, HORIZON_H), True
    known = climate.substrate_c[np.isfinite(climate.substrate_c)]
    substrate = float(known.mean()) if len(known) else float("nan")
    steady = (float(climate.air_c.mean()), float(climate.humidity_percent.mean()), substrate)
    return days_ahead(DayShape(*(np.full(HOURS_PER_DAY, each) for each in steady)), now_ms, HORIZON_H), False
