"""The temperatures of places as the development model needs them: hour by hour, gaps filled up to now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from monitor.model.clocks import PlaceClimate
from monitor.model.degree_days import FloatArray, IntArray
from monitor.model.temperature_series import TemperatureSeries, fill_gaps, series_of
from monitor.records import MS_PER_HOUR, Calibration, PlaceKind, Quantity, SensorKey
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.calibrations import coefficients

HALF_HOUR_MS = MS_PER_HOUR // 2


def place_climates(
    store: Store, plan: Plan, needed_from_ms: Mapping[str, int], now_ms: int
) -> list[PlaceClimate]:
    """Air and substrate of each place from the time from which it is needed until now.

    A place without a thermometer of its own goes by the air of the room in which it stands. Larvae do not
    stay in a hatching tray: there they are counted as in the grow-out bins, until they are moved. A pupation
    box has no heat of its own, so its air stands for its substrate.
    """
    reader = _Reader(store, plan, now_ms)
    return [reader.climate(place, from_ms) for place, from_ms in needed_from_ms.items()]


class _Reader:
    """Reads the hours of sensors by place."""

    def __init__(self, store: Store, plan: Plan, now_ms: int) -> None:
        self._store, self._plan, self._now_ms = store, plan, now_ms
        self._calibrations = store.calibrations.every()
        self._sensors: dict[tuple[str | None, str], list[SensorKey]] = {}
        for sensor in store.readings.sensors():
            self._sensors.setdefault((plan.place_of(sensor), sensor.quantity), []).append(sensor)

    def climate(self, place: str, from_ms: int) -> PlaceClimate:
        """What is known of one place."""
        air = self._series(place, Quantity.AIR_TEMPERATURE, from_ms)
        substrate = self._series(place, Quantity.SUBSTRATE_TEMPERATURE, from_ms)
        room = self._plan.places[place].room if place in self._plan.places else None
        if air is None and substrate is None and room is not None:
            air = self._series(room, Quantity.AIR_TEMPERATURE, from_ms)
        if substrate is None:
            substrate = self._stand_in(place, from_ms, air)
        return PlaceClimate(place, air, substrate)

    def _stand_in(self, place: str, from_ms: int, air: TemperatureSeries | None) -> TemperatureSeries | None:
        kind = self._plan.places[place].kind if place in self._plan.places else None
        if kind is PlaceKind.HATCHING_TRAY:
            bins = [each.id for each in self._plan.settings.places if each.kind is PlaceKind.GROW_OUT_BIN]
            return self._joined(bins, Quantity.SUBSTRATE_TEMPERATURE, from_ms)
        return None if kind is PlaceKind.GROW_OUT_BIN else air

    def _series(self, place: str, quantity: Quantity, from_ms: int) -> TemperatureSeries | None:
        return self._joined([place], quantity, from_ms)

    def _joined(self, places: Sequence[str], quantity: Quantity, from_ms: int) -> TemperatureSeries | None:
        sensors = [sensor for place in places for sensor in self._sensors.get((place, quantity), ())]
        parts = [self._hours(sensor, from_ms) for sensor in sensors]
        filled = [part for part in parts if len(part[0])]
        if not filled:
            return None
        times, values = _mean_by_time(filled)
        # The running hour has lasted a part only; its mean stands for the middle of that part.
        times[-1] = min(int(times[-1]), (int(times[-1]) - HALF_HOUR_MS + self._now_ms) // 2)
        return fill_gaps(series_of(times, values), from_ms, self._now_ms)

    def _hours(self, sensor: SensorKey, from_ms: int) -> tuple[IntArray, FloatArray]:
        hours = self._store.summaries.parts(sensor, from_ms, self._now_ms, 1)
        mine: Sequence[Calibration] = [one for one in self._calibrations if one.sensor == sensor]
        slope, offset = coefficients(mine, hours.start_ms)
        return hours.start_ms + HALF_HOUR_MS, np.asarray(slope * hours.mean + offset)


def places_with_probe(store: Store, plan: Plan) -> frozenset[str]:
    """Places in which the substrate itself is measured."""
    found = (
        plan.place_of(sensor)
        for sensor in store.readings.sensors()
        if sensor.quantity == Quantity.SUBSTRATE_TEMPERATURE
    )
    return frozenset(place for place in found if place is not None)


def _mean_by_time(parts: Iterable[tuple[IntArray, FloatArray]]) -> tuple[IntArray, FloatArray]:
    """Several sensors of one place as one: the mean of those that have a value in the hour."""
    every = list(parts)
    if len(every) == 1:
        return every[0][0].copy(), every[0][1]
    times, index = np.unique(np.concatenate([part[0] for part in every]), return_inverse=True)
    sums = np.bincount(index, weights=np.concatenate([part[1] for part in every]))
    return times, sums / np.bincount(index)
