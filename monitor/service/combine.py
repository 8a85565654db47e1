"""From single sensors to what a place shows: its sensors of one quantity make one lowest and highest value.

An alarm belongs to a place and a quantity, not to a sensor. Where two probes measure the same thing in one
place, the high side looks at the hotter one and the low side at the colder one, each while it is fresh.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from monitor.model.alarms import Sample
from monitor.records import MS_PER_SECOND, FlaggedReading, SensorKey, Side


class Combined(NamedTuple):
    """What the fresh sensors of one place and quantity say together at one time."""

    at_ms: int
    lowest: float | None
    highest: float | None
    suspect: bool

    def sample(self, side: Side) -> Sample:
        """The value that the given side of a rule looks at."""
        return Sample(self.at_ms, self.highest if side is Side.HIGH else self.lowest, self.suspect)


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

    def note(self, item: FlaggedReading, usable: bool) -> Combined:
        """Take one reading in and return what its quantity shows now; a failed reading shows nothing."""
        sensor, at_ms = item.reading.sensor, item.reading.at_ms
        sensors = self.by_quantity.setdefault(sensor.quantity, {})
        if usable:
            latest = sensors.get(sensor)
            if latest is None or latest.at_ms <= at_ms:
                sensors[sensor] = Latest(at_ms, item.calibrated, item.flag == 3)
        return _combine(at_ms, self._fresh(sensor.quantity, at_ms))

    def current(self, at_ms: int) -> Mapping[str, float]:
        """One value per quantity for computed quantities: the mean of its fresh sensors."""
        fresh = {quantity: self._fresh(quantity, at_ms) for quantity in self.by_quantity}
        return {
            quantity: sum(latest.value for latest in values) / len(values)
            for quantity, values in fresh.items()
            if values
        }

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
