"""From single sensors to what a place shows: its sensors of one quantity make one lowest and highest value.

An alarm belongs to a place and a quantity, not to a sensor. Where two probes measure the same thing in one
place, the high side looks at the hotter one and the low side at the colder one, each while it is fresh.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from monitor.alarms.timing import Sample
from monitor.climate.psychrometrics import (
    HIGHEST_TEMPERATURE_C,
    LOWEST_TEMPERATURE_C,
    dew_point_c,
    vapour_pressure_deficit_pa,
)
from monitor.climate.trend import TREND_MOST, change_per_hour
from monitor.records import (
    MS_PER_MINUTE,
    MS_PER_SECOND,
    Computed,
    Flag,
    FlaggedReading,
    Quantity,
    SensorKey,
    Side,
)

LOWEST_HUMIDITY_PERCENT = 1.0
FEWEST_GAPS, MOST_GAPS = 3, 5


def computed(values: Mapping[str, float], surface_colder_by_k: float | None = None) -> dict[str, float]:
    """Vapour pressure deficit [Pa], dew point [°C] and condensation margin [K], as far as the readings reach.

    `values` are the latest good value of each quantity of one place in its canonical unit;
    `surface_colder_by_k` says how much colder than the air its coldest surface is [K], where there is no
    surface probe. margin = T_surface - T_dew; water condenses at 0 or less. Humidity above 100 % (sensors
    say so when wetted) counts as 100 %; below 1 % the dew point means nothing and no key is given, nor for
    air that a calibration puts beyond what a sensor can say.
    """
    air_c, humidity = values.get(Quantity.AIR_TEMPERATURE), values.get(Quantity.AIR_HUMIDITY)
    if air_c is None or humidity is None or humidity < LOWEST_HUMIDITY_PERCENT:
        return {}
    if not LOWEST_TEMPERATURE_C <= air_c <= HIGHEST_TEMPERATURE_C:
        return {}
    humidity_percent = min(humidity, 100.0)
    dew_c = float(dew_point_c(air_c, humidity_percent))
    quantities: dict[str, float] = {
        Computed.VAPOUR_PRESSURE_DEFICIT: float(vapour_pressure_deficit_pa(air_c, humidity_percent)),
        Computed.DEW_POINT: dew_c,
    }
    surface_c = _surface_c(values, air_c, surface_colder_by_k)
    if surface_c is not None:
        quantities[Computed.CONDENSATION_MARGIN] = surface_c - dew_c
    return quantities


def _surface_c(values: Mapping[str, float], air_c: float, colder_by_k: float | None) -> float | None:
    measured = values.get(Quantity.SURFACE_TEMPERATURE)
    if measured is not None:
        return measured
    return None if colder_by_k is None else air_c - colder_by_k


class Combined(NamedTuple):
    """What the fresh sensors of one place and quantity say together at one time."""

    at_ms: int
    lowest: float | None
    highest: float | None
    suspect: bool

    def sample(self, side: Side) -> Sample:
        """The value that the given side of a rule looks at."""
        return Sample(self.at_ms, self.of(side), self.suspect)

    def of(self, side: Side) -> float | None:
        """The highest for the high side, the lowest for the low one."""
        return self.highest if side is Side.HIGH else self.lowest


class Latest(NamedTuple):
    """Last usable value of one sensor."""

    at_ms: int
    value: float
    suspect: bool


@dataclass(slots=True)
class PlaceValues:
    """Latest values of the sensors of one place, by quantity."""

    fresh_s: float
    by_quantity: dict[str, dict[SensorKey, Latest]] = field(default_factory=dict)
    recent: dict[SensorKey, deque[tuple[int, float]]] = field(default_factory=dict)

    def note(self, item: FlaggedReading, usable: bool) -> Combined:
        """Take one reading in and return what its quantity shows now; a failed reading shows nothing.

        One that newer readings of its sensor have overtaken speaks for itself alone, at its own time.
        """
        sensor, at_ms, value = item.reading.sensor, item.reading.at_ms, item.calibrated
        sensors = self.by_quantity.get(sensor.quantity)
        if sensors is None:
            sensors = self.by_quantity[sensor.quantity] = {}
        if usable:
            latest, suspect = sensors.get(sensor), item.flag is Flag.SUSPECT
            if latest is not None and latest.at_ms > at_ms:
                return Combined(at_ms, value, value, suspect)
            sensors[sensor] = Latest(at_ms, value, suspect)
            self._remember(sensor, at_ms, value)
            if len(sensors) == 1:
                return Combined(at_ms, value, value, suspect)
        return _combine(at_ms, self._fresh(sensor.quantity, at_ms))

    def is_overtaken(self, item: FlaggedReading) -> bool:
        """Whether a newer usable reading of the same sensor was taken in before."""
        reading = item.reading
        sensors = self.by_quantity.get(reading.sensor.quantity)
        latest = None if sensors is None else sensors.get(reading.sensor)
        return latest is not None and latest.at_ms > reading.at_ms

    def forget(self, unwanted: Callable[[SensorKey, int], bool]) -> None:
        """Drop the latest values of sensors that moved elsewhere, or whose time cannot be."""
        for quantity, sensors in tuple(self.by_quantity.items()):
            kept = {key: latest for key, latest in sensors.items() if not unwanted(key, latest.at_ms)}
            if len(kept) < len(sensors):
                self.by_quantity[quantity] = kept
                for gone in sensors.keys() - kept.keys():
                    self.recent.pop(gone, None)

    def _remember(self, sensor: SensorKey, at_ms: int, value: float) -> None:
        """Of each minute the first value."""
        recent = self.recent.get(sensor)
        if recent is None:
            recent = self.recent[sensor] = deque(maxlen=TREND_MOST)
        if not recent or at_ms // MS_PER_MINUTE > recent[-1][0] // MS_PER_MINUTE:
            recent.append((at_ms, value))

    def usual_gap_s(self, quantity: str) -> float:
        """How far apart the newest readings of a quantity usually are [s]; 0 with fewer than four of them.

        For a computed quantity those of all sensors of the place count.
        """
        sensors = self.by_quantity.get(quantity)
        wanted = self.recent.keys() if sensors is None else sensors.keys()
        newest = [list(self.recent[sensor])[-1 - MOST_GAPS :] for sensor in wanted if sensor in self.recent]
        gaps = [[later[0] - earlier[0] for earlier, later in pairwise(points)] for points in newest]
        usual_ms = [sorted(each)[len(each) // 2] for each in gaps if len(each) >= FEWEST_GAPS]
        return max(usual_ms, default=0) / MS_PER_SECOND

    def change_per_hour(self, quantity: str, side: Side) -> float | None:
        """Change in an hour of the sensor that the given side looks at; None where too little tells."""
        # The thread of the messages asks too: copies, since the thread of the turns writes meanwhile.
        sensors = dict(self.by_quantity.get(quantity, {}))
        newest_ms = max((latest.at_ms for latest in sensors.values()), default=0)
        fresh_ms = newest_ms - round(self.fresh_s * MS_PER_SECOND)
        fresh = {sensor: latest.value for sensor, latest in sensors.items() if latest.at_ms >= fresh_ms}
        if not fresh:
            return None
        sensor = max(fresh, key=fresh.__getitem__) if side is Side.HIGH else min(fresh, key=fresh.__getitem__)
        return change_per_hour(quantity, tuple(self.recent.get(sensor, ())))

    def quantities_of(self, node: str) -> list[str]:
        """The quantities of this place that a node measures."""
        return [
            quantity
            for quantity, sensors in self.by_quantity.items()
            if any(sensor.node == node for sensor in sensors)
        ]

    def newest_ms(self, quantity: str) -> int:
        """Time of the newest usable value of a quantity."""
        return max((latest.at_ms for latest in self.by_quantity.get(quantity, {}).values()), default=0)

    def is_suspect(self, quantity: str) -> bool:
        """Whether a newest value of the quantity is flagged suspect."""
        return any(latest.suspect for latest in tuple(self.by_quantity.get(quantity, {}).values()))

    def current(self, at_ms: int) -> Mapping[str, float]:
        """One value per quantity for computed quantities: the mean of its fresh sensors."""
        means = {quantity: self.mean(quantity, at_ms) for quantity in self.by_quantity}
        return {quantity: value for quantity, value in means.items() if value is not None}

    def mean(self, quantity: str, at_ms: int) -> float | None:
        """The mean of the fresh sensors of one quantity; None without one."""
        fresh = self._fresh(quantity, at_ms)
        return sum(latest.value for latest in fresh) / len(fresh) if fresh else None

    def _fresh(self, quantity: str, at_ms: int) -> list[Latest]:
        limit_ms = self.fresh_s * MS_PER_SECOND
        return [
            latest
            for latest in self.by_quantity.get(quantity, {}).values()
            if abs(at_ms - latest.at_ms) <= limit_ms
        ]


def _combine(at_ms: int, fresh: Iterable[Latest]) -> Combined:
    values = list(fresh)
    if not values:
        return Combined(at_ms, None, None, False)
    numbers = [latest.value for latest in values]
    return Combined(at_ms, min(numbers), max(numbers), any(latest.suspect for latest in values))
