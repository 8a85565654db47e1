"""The week at a glance: which nights were hot, cold, dry, humid or silent, and where."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray
from monitor.climate.calibration import coefficients
from monitor.farm.night import Span
from monitor.farm.night_records import QUIET_GAP_MINUTES, MarkedPlaces, NightMark, WeekNight
from monitor.farm.occupancy import unguarded_between
from monitor.farm.place_reader import PlacedSensors
from monitor.farm.places import calibrated_probes
from monitor.logbook.place_entries import Noted
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    STANDING,
    AlarmRule,
    LogbookEntry,
    Priority,
    Quantity,
    SensorKey,
    Side,
)
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.readings import HourExtremes, gaps

_HEAT = (Quantity.AIR_TEMPERATURE, Quantity.SUBSTRATE_TEMPERATURE, Quantity.SURFACE_TEMPERATURE)
_WATER = (Quantity.AIR_HUMIDITY, Quantity.SUBSTRATE_MOISTURE)
_MARKS: Mapping[tuple[str, Side], NightMark] = {
    **{(quantity, Side.HIGH): NightMark.HOT for quantity in _HEAT},
    **{(quantity, Side.LOW): NightMark.COLD for quantity in _HEAT},
    **{(quantity, Side.HIGH): NightMark.HUMID for quantity in _WATER},
    **{(quantity, Side.LOW): NightMark.DRY for quantity in _WATER},
}


@dataclass(frozen=True, slots=True)
class _Hours:
    """The hours of one sensor over the week, its values as they are to be shown; all of shape (n,)."""

    start_ms: IntArray
    count: IntArray
    low: FloatArray
    high: FloatArray

    def in_night(self, night: Span) -> slice:
        """The part of the arrays whose hours touch a night."""
        bounds = (night.start_ms - MS_PER_HOUR + 1, night.end_ms)
        first, last = np.searchsorted(self.start_ms, bounds)
        return slice(int(first), int(last))


def week_of(
    store: Store, plan: Plan, sensors: PlacedSensors, nights: Sequence[Span], now_ms: int | None = None
) -> tuple[WeekNight, ...]:
    """One row for each night, from the newest back, as `nights` run."""
    return _WeekReader(store, plan, sensors, tuple(nights), now_ms).rows()


@dataclass(slots=True)
class _WeekReader:
    """Reads the hours of the week once. Single readings only where hours leave a night in doubt."""

    store: Store
    plan: Plan
    sensors: PlacedSensors
    nights: tuple[Span, ...]
    now_ms: int | None
    hours: Mapping[SensorKey, _Hours] = field(init=False)
    usual: dict[SensorKey, float] = field(init=False, default_factory=dict)
    _entries: tuple[LogbookEntry, ...] | None = field(init=False, default=None)
    _empties: dict[tuple[int, int], frozenset[str]] = field(init=False, default_factory=dict)

    def rows(self) -> tuple[WeekNight, ...]:
        self.hours = self._hours()
        self.usual = {
            sensor: float(np.median(hours.count)) for sensor, hours in self.hours.items() if len(hours.count)
        }
        worst = _worst_alarms(self.store, self.nights)
        return tuple(self._row(night, worst.get(night.date)) for night in self.nights)

    def _row(self, night: Span, worst: Priority | None) -> WeekNight:
        if not any(len(hours.start_ms[hours.in_night(night)]) for hours in self.hours.values()):
            return WeekNight(night.date, (), worst, known=False)
        marks = {place: marks for place in self.plan.places if (marks := self._marks(place, night))}
        if marks:
            empty = self._empty(night)
            marks = {place: found for place, found in marks.items() if place not in empty}
        titles = {
            mark: tuple(self.plan.title(place) for place, found in marks.items() if mark in found)
            for mark in NightMark
        }
        found = tuple(MarkedPlaces(mark, places) for mark, places in titles.items() if places)
        return WeekNight(night.date, found, worst, known=True)

    def _empty(self, night: Span) -> frozenset[str]:
        """The places that were empty all night, as people had said by then.

        To follow the logbook takes time: where nothing was written since another night, it is as it was then.
        """
        if self._entries is None:
            self._entries = self.store.logbook.every()
        before = sum(entry.entered_ms <= night.start_ms for entry in self._entries)
        by_end = sum(entry.entered_ms <= night.end_ms for entry in self._entries)
        if (before, by_end) not in self._empties:
            said = unguarded_between(self.plan, self._entries, Noted(), night.start_ms, night.end_ms)
            self._empties[before, by_end] = said.empty
        return self._empties[before, by_end]

    def _hours(self) -> Mapping[SensorKey, _Hours]:
        guarded = {(rule.place, rule.quantity) for rule in self.plan.rules.values()}
        calibrated = calibrated_probes(self.store)
        wanted = [
            sensor
            for place in self.plan.places
            for sensor in self.sensors.of(place)
            if (place, sensor.quantity) in guarded
            and (sensor.quantity != Quantity.SUBSTRATE_MOISTURE or str(sensor) in calibrated)
        ]
        bounds = self.nights[-1].start_ms, self.nights[0].end_ms
        read = self.store.summaries.extremes(wanted, *bounds)
        return {sensor: self._shown(sensor, hours) for sensor, hours in read.items()}

    def _shown(self, sensor: SensorKey, hours: HourExtremes) -> _Hours:
        # Once a board is put aside, what it measures in the salt jar says nothing of its place.
        own = hours.start_ms < self.sensors.before(sensor, self.nights[0].end_ms)
        start_ms, first, last = hours.start_ms[own], hours.minimum[own], hours.maximum[own]
        slope, offset = coefficients(self.sensors.calibrations.of(sensor), start_ms)
        low, high = slope * first + offset, slope * last + offset
        return _Hours(start_ms, hours.count[own], np.minimum(low, high), np.maximum(low, high))

    def _marks(self, place: str, night: Span) -> frozenset[NightMark]:
        here = [sensor for sensor in self.sensors.of(place) if sensor in self.hours]
        marks = {
            _MARKS.get((rule.quantity, rule.side), NightMark.OTHER)
            for sensor in here
            for rule in self._beyond(place, sensor, night)
        }
        silent = [NightMark.SILENT] if self._is_silent(place, here, night) else []
        return frozenset((*marks, *silent))

    def _beyond(self, place: str, sensor: SensorKey, night: Span) -> Iterator[AlarmRule]:
        """The rules beyond whose limit a reading of the night was."""
        hours = self.hours[sensor]
        here = hours.in_night(night)
        start_ms, low, high = hours.start_ms[here], hours.low[here], hours.high[here]
        if not len(start_ms):
            return
        lowest, highest = float(low.min()), float(high.max())
        for rule in self.plan.rules_of(place, sensor.quantity):
            above = rule.side is Side.HIGH
            if highest > rule.setpoint if above else lowest < rule.setpoint:
                passed = high > rule.setpoint if above else low < rule.setpoint
                if self._within(sensor, rule, night, start_ms[passed]):
                    yield rule

    def _within(self, sensor: SensorKey, rule: AlarmRule, night: Span, start_ms: IntArray) -> bool:
        """Whether an hour that passed a limit is of the night; one that its end cuts is looked up."""
        if ((start_ms >= night.start_ms) & (start_ms + MS_PER_HOUR <= night.end_ms)).any():
            return True
        spans = (
            (max(hour_ms, night.start_ms), min(hour_ms + MS_PER_HOUR, night.end_ms))
            for hour_ms in start_ms.tolist()
        )
        return any(self._passed(sensor, rule, span) for span in spans)

    def _passed(self, sensor: SensorKey, rule: AlarmRule, span: tuple[int, int]) -> bool:
        calibrations = self.sensors.calibrations.of(sensor)
        value = self.store.readings.series(sensor, *span, calibrations).usable().value
        return bool((value > rule.setpoint if rule.side is Side.HIGH else value < rule.setpoint).any())

    def _is_silent(self, place: str, here: Sequence[SensorKey], night: Span) -> bool:
        """Whether a guarded quantity was silent for longer than a quiet night allows.

        Hours tell where readings are fewer than usual; whether there is a hole only single readings tell.
        """
        end_ms = night.end_ms if self.now_ms is None else min(night.end_ms, self.now_ms)
        by_quantity: dict[str, list[SensorKey]] = {}
        for sensor in here:
            by_quantity.setdefault(sensor.quantity, []).append(sensor)
        return any(self._has_hole(place, group, night.start_ms, end_ms) for group in by_quantity.values())

    def _has_hole(self, place: str, group: Sequence[SensorKey], start_ms: int, end_ms: int) -> bool:
        if not any(self._few(sensor, start_ms, end_ms) for sensor in group):
            return False
        times = [
            self.store.readings.series(sensor, start_ms, self.sensors.before(sensor, end_ms), ())
            .usable()
            .at_ms
            for sensor in group
        ]
        at_ms = np.sort(np.concatenate(times))
        limit_ms = round(self.plan.longest_gap_s(place) * MS_PER_SECOND)
        holes = gaps(at_ms, start_ms, end_ms, limit_ms)
        return sum(end - start for start, end in holes) > QUIET_GAP_MINUTES * MS_PER_MINUTE

    def _few(self, sensor: SensorKey, start_ms: int, end_ms: int) -> bool:
        """Whether so many readings are missing, by what is usual for the sensor, that there may be a hole."""
        hours, usual = self.hours[sensor], self.usual.get(sensor, 0.0)
        whole = (hours.start_ms >= start_ms) & (hours.start_ms + MS_PER_HOUR <= end_ms)
        missing = np.maximum(usual - hours.count[whole], 0.0).sum() if usual else 0.0
        absent = (end_ms - start_ms) // MS_PER_HOUR - int(whole.sum()) - 1
        minutes = MS_PER_HOUR / MS_PER_MINUTE * (missing / usual if usual else 0.0)
        return bool(not usual or absent > 0 or minutes > QUIET_GAP_MINUTES / 2)


def _worst_alarms(store: Store, nights: Sequence[Span]) -> dict[str, Priority]:
    """The gravest alarm of each night, those that stood when it began among them."""
    order = list(Priority).index
    worst: dict[str, Priority] = {}
    newest = store.journal.newest_before(nights[-1].start_ms)
    rows = deque(store.journal.transitions(nights[-1].start_ms, nights[0].end_ms))
    for night in reversed(nights):
        while rows and rows[0].at_ms < night.start_ms:
            row = rows.popleft()
            newest[row.alarm_id] = row
        told = [row.priority for row in newest.values() if row.after in STANDING]
        while rows and rows[0].at_ms < night.end_ms:
            row = rows.popleft()
            newest[row.alarm_id] = row
            told += [row.priority] if row.announces else []
        if told:
            worst[night.date] = min(told, key=order)
    return worst
