"""Readings of places: hours of the past days, single readings of the last hour, and the points of a chart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import TypeVar

import numpy as np

from monitor.alarms.price import Sounded, sounded
from monitor.climate.arrays import FloatArray, IntArray
from monitor.climate.calibration import CalibrationTable, coefficients
from monitor.climate.surfaces import SurfaceState, surface_state
from monitor.development.kept import Lately
from monitor.farm.records import MATTERS
from monitor.logbook.place_entries import Unguarded
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    Calibration,
    FlaggedReading,
    Quantity,
    SensorKey,
    Side,
    local,
)
from monitor.settings.plan import Plan
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.store.readings import HourExtremes, HourParts, Series

Rows = TypeVar("Rows", Series, HourExtremes)
HALF_HOUR_MS = MS_PER_HOUR // 2
LATELY_MS = MS_PER_HOUR
CLOCK_AHEAD_MS = 5 * MS_PER_MINUTE
"""How far ahead the clock of a board may be."""
PRICE_DAYS = 30
"""How far back `check` looks for what a limit would have meant [d]."""
SURFACE_LOOK_BACK_MS = 72 * MS_PER_HOUR
"""How far back the damp time of a surface is looked for. Own choice."""
MOST_POINTS = 1500
THINNED_TO = 720
_OF_SURFACES = (Quantity.AIR_TEMPERATURE, Quantity.AIR_HUMIDITY, Quantity.SURFACE_TEMPERATURE)
TimedValues = tuple[IntArray, FloatArray]
"""Times [ms since 1970 UTC] and calibrated values, both of shape (n,), in the order of time."""


@dataclass(frozen=True, slots=True)
class SensorRests:
    """What readings of places rest on, beside the readings: while it is the same, they say the same."""

    settings: Settings
    boards_aside: Mapping[str, Unguarded]
    heard: tuple[SensorKey, ...]
    calibrations: tuple[Calibration, ...]


class PlacedSensors:
    """The sensors of each place with their calibrations, looked up once.

    A board that is put aside keeps its place for what it measured before: `before` bounds a span of time.
    """

    def __init__(self, store: Store, plan: Plan) -> None:
        self._plan = plan
        self._by_place: dict[str, list[SensorKey]] = defaultdict(list)
        heard, calibrations = store.readings.sensors(), store.calibrations.every()
        self.rests = SensorRests(plan.settings, plan.said.boards_aside, heard, calibrations)
        for sensor in heard:
            place = plan.home_of(sensor)
            if place is not None:
                self._by_place[place].append(sensor)
        self.calibrations = CalibrationTable(calibrations)

    @property
    def places(self) -> Iterable[str]:
        """The places (and boards, for their batteries) that have a sensor."""
        return self._by_place.keys()

    def of(self, place: str | None, quantity: str | None = None) -> list[SensorKey]:
        """The sensors of a place, all or those of one quantity."""
        here = () if place is None else self._by_place.get(place, ())
        return [sensor for sensor in here if quantity is None or sensor.quantity == quantity]

    def before(self, sensor: SensorKey, end_ms: int) -> int:
        """The end of a span [ms since 1970 UTC], or when the board was put aside, if that is earlier.

        What it measures in the salt jar says nothing of its place.
        """
        aside = self._plan.said.boards_aside.get(sensor.node)
        return end_ms if aside is None or aside.said_ms is None else min(end_ms, aside.said_ms)

    def main(self, place: str) -> SensorKey | None:
        """The sensor of the quantity that matters most in a place."""
        matters = MATTERS[self._plan.places[place].kind]
        return next((sensor for quantity in matters for sensor in self.of(place, quantity)), None)


MOST_SPANS = 2
"""How many nights, and weeks, are kept at once. Own choice."""


_Known = dict[SensorKey, tuple[str, Rows]]
"""Of each sensor how many readings its hours held (`Summaries.held`), and what was read of them."""


class KeptReadings:
    """Readings and hours of many sensors, read on from look to look.

    Of 100 boards a night is 150,000 readings. Of each sensor only that is read again which holds more
    readings than before, so a late one is found too.
    """

    def __init__(self) -> None:
        self._readings: Lately[int, _Known[Series]] = Lately(MOST_SPANS)
        self._hours: Lately[int, _Known[HourExtremes]] = Lately(MOST_SPANS)

    def readings(
        self, store: Store, sensors: Collection[SensorKey], start_ms: int, end_ms: int
    ) -> dict[SensorKey, Series]:
        """Raw usable readings of each sensor in [start, end)."""
        span_ms = _whole_hours(start_ms, end_ms)

        def read(of: Collection[SensorKey], from_ms: int) -> dict[SensorKey, Series]:
            return {each: store.readings.series(each, from_ms, span_ms[1]).usable() for each in of}

        known = self._readings.of(span_ms[0], dict)
        rows = _read_on(known, store.summaries.held(sensors, *span_ms), span_ms[0], read)
        return {each: found.between(start_ms, end_ms) for each, found in rows.items()}

    def hours(
        self, store: Store, sensors: Collection[SensorKey], start_ms: int, end_ms: int
    ) -> dict[SensorKey, HourExtremes]:
        """The hours of each sensor that touch [start, end); see `Summaries.extremes`."""
        span_ms = _whole_hours(start_ms, end_ms)

        def read(of: Collection[SensorKey], from_ms: int) -> dict[SensorKey, HourExtremes]:
            return store.summaries.extremes(of, from_ms, span_ms[1])

        known = self._hours.of(span_ms[0], dict)
        rows = _read_on(known, store.summaries.held(sensors, *span_ms), span_ms[0], read)
        return {each: found.between(span_ms[0], end_ms) for each, found in rows.items()}


def _whole_hours(start_ms: int, end_ms: int) -> tuple[int, int]:
    return start_ms - start_ms % MS_PER_HOUR, -(-end_ms // MS_PER_HOUR) * MS_PER_HOUR


def _read_on(
    known: _Known[Rows],
    held: Mapping[SensorKey, str],
    start_ms: int,
    read: Callable[[Collection[SensorKey], int], dict[SensorKey, Rows]],
) -> dict[SensorKey, Rows]:
    """What each sensor has now: from the first hour on that holds more than it did it is read again.

    What it held then stays beside its rows, put there at once, since several looks may read on.
    """
    before = {sensor: known[sensor] for sensor in held.keys() & known.keys()}
    rows = {sensor: found for sensor, (_, found) in before.items()}
    anew: dict[int, list[SensorKey]] = defaultdict(list)
    for sensor, now in held.items():
        from_ms = _first_changed_ms(before[sensor][0], now) if sensor in before else start_ms
        if from_ms is not None:
            anew[from_ms].append(sensor)
    for from_ms, changed in anew.items():
        for sensor, found in read(changed, from_ms).items():
            rows[sensor] = rows[sensor].between(0, from_ms).followed_by(found) if sensor in rows else found
            known[sensor] = held[sensor], rows[sensor]
    return rows


def _first_changed_ms(before: str, now: str) -> int | None:
    """From when on a sensor is read again; None where nothing came."""
    if before == now:
        return None
    changed = set(before.split()) ^ set(now.split())
    return MS_PER_HOUR * min(int(word.partition(":")[0]) for word in changed)


class PlaceReader:
    """Reads the sensors of places; hours that were read are kept."""

    def __init__(self, store: Store, plan: Plan, now_ms: int, sensors: PlacedSensors | None = None) -> None:
        self._store, self.plan, self.now_ms = store, plan, now_ms
        self.sensors = sensors or PlacedSensors(store, plan)
        self._calibrations = self.sensors.calibrations
        self._hours: dict[tuple[SensorKey, int], TimedValues] = {}
        self._means: dict[tuple[tuple[SensorKey, ...], int], TimedValues] = {}
        self._latest: dict[SensorKey, FlaggedReading] | None = None

    def measured(self, quantity: Quantity) -> frozenset[str]:
        return frozenset(place for place in self.sensors.places if self.sensors.of(place, quantity))

    def hours(self, place: str | None, quantity: Quantity, start_ms: int) -> TimedValues:
        """The starts of the hours with their means; several sensors of one place count as their mean."""
        return self.hours_of(self.sensors.of(place, quantity), start_ms)

    def surface(self, place: str) -> SurfaceState | None:
        """The coldest surface of a place in its newest hour; None where neither it nor its air is known."""
        start_ms = self.now_ms - SURFACE_LOOK_BACK_MS
        air, humid, surface = (self.hours(place, quantity, start_ms) for quantity in _OF_SURFACES)
        colder_k = self.plan.surface_colder_by_k(place)
        if not len(surface[0]) and colder_k is not None:
            surface = air[0], air[1] - colder_k
        times, at_air, at_humid = np.intersect1d(air[0], humid[0], return_indices=True)
        times, here, at_surface = np.intersect1d(times, surface[0], return_indices=True)
        if not len(times):
            return None
        percent = np.clip(humid[1][at_humid][here], 0.0, 100.0)
        return surface_state(
            times.tolist(), air[1][at_air][here].tolist(), percent.tolist(), surface[1][at_surface].tolist()
        )

    def hours_of(self, sensors: Iterable[SensorKey], start_ms: int) -> TimedValues:
        """The same of any sensors; kept, since every hatching tray goes by all bins."""
        key = tuple(sensors), start_ms
        if key not in self._means:
            self._means[key] = _mean_by_time(self._hours_of_sensor(sensor, start_ms) for sensor in key[0])
        return self._means[key]

    def _hours_of_sensor(self, sensor: SensorKey, start_ms: int) -> TimedValues:
        if (sensor, start_ms) not in self._hours:
            end_ms = self.sensors.before(sensor, self.now_ms)
            hours = self._store.summaries.parts(sensor, start_ms, end_ms, 1)
            slope, offset = coefficients(self._calibrations.of(sensor), hours.start_ms)
            self._hours[sensor, start_ms] = hours.start_ms, np.asarray(slope * hours.mean + offset)
        return self._hours[sensor, start_ms]

    def hottest(self, place: str, start_ms: int) -> tuple[IntArray, FloatArray, FloatArray]:
        """Starts, means and highest values of the hours of a substrate, by the sensor that reached most."""
        found = (np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))
        for sensor in self.sensors.of(place, Quantity.SUBSTRATE_TEMPERATURE):
            hours = self._store.summaries.parts(sensor, start_ms, self.sensors.before(sensor, self.now_ms), 1)
            slope, offset = coefficients(self._calibrations.of(sensor), hours.start_ms)
            highest = np.asarray(slope * hours.maximum + offset)
            if len(highest) and (not len(found[2]) or highest.max() > found[2].max()):
                found = (hours.start_ms, np.asarray(slope * hours.mean + offset), highest)
        return found

    def middles(self, hours_ms: IntArray) -> IntArray:
        """The middle of each hour, shape (n,); of the running hour the middle of what has passed of it."""
        middle = hours_ms + HALF_HOUR_MS
        middle[-1] = min(int(middle[-1]), (int(hours_ms[-1]) + self.now_ms) // 2)
        return middle

    def lately(self, place: str | None, quantity: Quantity, span_ms: int = LATELY_MS) -> TimedValues:
        """Single usable readings of the last hour, of all sensors of a place in the order of time."""
        start_ms, end_ms = self.now_ms - span_ms, self.now_ms + 1
        parts = [
            self._store.readings.series(
                sensor, start_ms, self.sensors.before(sensor, end_ms), self._calibrations.of(sensor)
            ).usable()
            for sensor in self.sensors.of(place, quantity)
        ]
        times = np.concatenate([np.empty(0, dtype=np.int64), *(part.at_ms for part in parts)])
        values = np.concatenate([np.empty(0), *(part.value for part in parts)])
        order = np.argsort(times, kind="stable")
        return times[order], values[order]

    def newest(self, place: str, quantity: Quantity) -> tuple[SensorKey, FlaggedReading] | None:
        """The sensor of a place that was heard last, with its newest reading up to now."""
        if self._latest is None:
            until_ms = self.now_ms + CLOCK_AHEAD_MS
            self._latest = self._store.readings.latest(self._calibrations, until_ms)
        known = [sensor for sensor in self.sensors.of(place, quantity) if self.plan.place_of(sensor) == place]
        heard = [(sensor, self._latest[sensor]) for sensor in known if sensor in self._latest]
        return max(heard, key=lambda pair: pair[1].reading.at_ms, default=None)


def _mean_by_time(parts: Iterable[TimedValues]) -> TimedValues:
    filled = [part for part in parts if len(part[0])]
    if len(filled) < 2:
        return filled[0] if filled else (np.empty(0, dtype=np.int64), np.empty(0))
    times, index = np.unique(np.concatenate([part[0] for part in filled]), return_inverse=True)
    sums = np.bincount(index, weights=np.concatenate([part[1] for part in filled]))
    return times, sums / np.bincount(index)


def heat_sounded(reader: PlaceReader, place: str) -> tuple[Sounded, ...]:
    """For each high limit of temperature of a place, how often it would have sounded in the last month."""
    found = []
    for quantity in (Quantity.SUBSTRATE_TEMPERATURE, Quantity.AIR_TEMPERATURE):
        rules = [rule for rule in reader.plan.rules_of(place, quantity) if rule.side is Side.HIGH]
        if rules:
            times_ms, values = reader.lately(place, quantity, PRICE_DAYS * MS_PER_DAY)
            gap_s = reader.plan.longest_gap_s(place)
            played = (sounded(rule, times_ms.tolist(), values.tolist(), gap_s) for rule in rules)
            found += [each for each in played if each is not None]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class ChartSpan:
    """A length of time that a person can choose, and how many hours make one point (0: single readings)."""

    name: str
    length_ms: int
    hours: int


SPANS: Mapping[str, ChartSpan] = {
    span.name: span
    for span in (
        ChartSpan("24h", MS_PER_DAY, 0),
        ChartSpan("7d", 7 * MS_PER_DAY, 1),
        ChartSpan("30d", 30 * MS_PER_DAY, 3),
        ChartSpan("year", 365 * MS_PER_DAY, 24),
    )
}


@dataclass(frozen=True, slots=True)
class Points:
    """Lowest, mean and highest value by time; for single readings the three are the same array."""

    at_ms: IntArray
    low: FloatArray
    mean: FloatArray
    high: FloatArray
    step_ms: int

    def __len__(self) -> int:
        return len(self.at_ms)

    @property
    def single(self) -> bool:
        """Whether each point is one reading."""
        return self.step_ms == 0


def span_ending(span: ChartSpan, now_ms: int, zone: tzinfo) -> tuple[int, int]:
    """Start and end of the span: to now for a day, to the end of the running point for longer ones."""
    if span.hours == 0:
        return now_ms - span.length_ms, now_ms
    step_ms = span.hours * MS_PER_HOUR
    shift_ms = _offset_ms(now_ms, zone)
    end_ms = -(-(now_ms + shift_ms) // step_ms) * step_ms - shift_ms
    return end_ms - span.length_ms, end_ms


def _offset_ms(at_ms: int, zone: tzinfo) -> int:
    offset = local(at_ms, zone).utcoffset()
    return round(offset.total_seconds()) * MS_PER_SECOND if offset is not None else 0


def read_points(
    store: Store,
    sensor: SensorKey,
    span: ChartSpan,
    bounds_ms: tuple[int, int],
    calibrations: Sequence[Calibration],
) -> Points:
    """The points of one sensor in the span; a reading of this very moment belongs to it."""
    start_ms, end_ms = bounds_ms
    if span.hours == 0:
        usable = store.readings.series(sensor, start_ms, end_ms + 1, calibrations).usable()
        points = Points(usable.at_ms, usable.value, usable.value, usable.value, 0)
        return points if len(points) <= MOST_POINTS else thinned(points, bounds_ms)
    return _of_hours(store.summaries.parts(sensor, start_ms, end_ms, span.hours), span, calibrations)


def _of_hours(parts: HourParts, span: ChartSpan, calibrations: Sequence[Calibration]) -> Points:
    slope, offset = coefficients(calibrations, parts.start_ms)
    first, mean, last = (slope * value + offset for value in (parts.minimum, parts.mean, parts.maximum))
    step_ms = span.hours * MS_PER_HOUR
    middle_ms = parts.start_ms + step_ms // 2
    return Points(middle_ms, np.minimum(first, last), mean, np.maximum(first, last), step_ms)


def thinned(points: Points, bounds_ms: tuple[int, int], most: int = THINNED_TO) -> Points:
    """At most `most` points, each with the lowest, mean and highest of its part of the span."""
    start_ms, end_ms = bounds_ms
    step_ms = -(-(end_ms - start_ms) // most)
    part = (points.at_ms - start_ms) // step_ms
    first = np.flatnonzero(np.diff(part, prepend=part[0] - 1))
    counts = np.diff(np.append(first, len(part)))
    return Points(
        start_ms + part[first] * step_ms + step_ms // 2,
        np.minimum.reduceat(points.low, first),
        np.add.reduceat(points.mean, first) / counts,
        np.maximum.reduceat(points.high, first),
        step_ms,
    )
