"""What went wrong in nights: the alarms of one as the journal tells them, and a week of them at a glance.

A night that is past is told as it was, whatever the alarms, the rules and the limits are today.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray
from monitor.climate.calibration import coefficients
from monitor.farm.night_records import (
    QUIET_GAP_MINUTES,
    AlarmNight,
    LateExcursion,
    MarkedPlaces,
    NightMark,
    Span,
    WeekNight,
)
from monitor.farm.occupancy import plan_then, unguarded_between
from monitor.farm.place_reader import KeptReadings, PlacedSensors
from monitor.farm.places import calibrated_probes, limits_of
from monitor.farm.records import ActiveAlarm
from monitor.logbook.place_entries import Noted, PlaceEntryKind
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    STANDING,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Excursion,
    LogbookEntry,
    Priority,
    Quantity,
    SensorKey,
    Side,
    SubjectKind,
    Transition,
)
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.store.readings import HourExtremes, gaps

LOOK_BACK_MS = 8 * MS_PER_DAY
SET_ASIDE = frozenset({AlarmStatus.SHELVED, AlarmStatus.OUT_OF_SERVICE})
_CONDITION = (AlarmEvent.ACTIVATE, AlarmEvent.CLEAR)
_ENDINGS = (AlarmEvent.CLEAR, AlarmEvent.SUPPRESS)
_ASIDE = (AlarmEvent.SHELVE, AlarmEvent.TAKE_OUT)
_HEAT = (Quantity.AIR_TEMPERATURE, Quantity.SUBSTRATE_TEMPERATURE, Quantity.SURFACE_TEMPERATURE)
_WATER = (Quantity.AIR_HUMIDITY, Quantity.SUBSTRATE_MOISTURE)
_MARKS: Mapping[tuple[str, Side], NightMark] = {
    **{(quantity, Side.HIGH): NightMark.HOT for quantity in _HEAT},
    **{(quantity, Side.LOW): NightMark.COLD for quantity in _HEAT},
    **{(quantity, Side.HIGH): NightMark.HUMID for quantity in _WATER},
    **{(quantity, Side.LOW): NightMark.DRY for quantity in _WATER},
}


class NightAlarms:
    """The alarms between two moments; their ends and who saw them are known up to `known_ms`."""

    def __init__(self, store: Store, plan: Plan, span_ms: tuple[int, int], known_ms: int) -> None:
        self._store, self._plan, self._known_ms = store, plan, known_ms
        self._start_ms, self._end_ms = span_ms
        self._rows = store.journal.transitions(*span_ms)

    @cached_property
    def _at_start(self) -> Mapping[str, Transition]:
        return self._store.journal.newest_before(self._start_ms)

    @cached_property
    def came(self) -> list[AlarmNight]:
        """One entry for each annunciation, first those that stood when the night began."""
        rows = [*self._carried_over(), *self._rows]
        found = alarms_of(self._plan, rows, self._end_ms)
        going_on = {alarm.alarm_id for alarm in found if alarm.over_ms is None}
        later_ms = self._end_ms, self._known_ms + 1
        for alarm_id in sorted(going_on) if self._known_ms > self._end_ms else ():
            rows += self._store.journal.transitions(*later_ms, alarm_id)
        return alarms_of(self._plan, rows, self._end_ms)

    def _carried_over(self) -> Iterator[Transition]:
        """The rows of alarms that stood when the night began, from the annunciation on."""
        for alarm_id, newest in self._at_start.items():
            if newest.after in STANDING:
                rows = self._store.journal.transitions(0, self._start_ms, alarm_id)
                last = max((at for at, row in enumerate(rows) if row.announces), default=len(rows))
                yield from rows[last:]

    def stood_at_end(self) -> Iterator[ActiveAlarm]:
        """The alarms that stood when the night ended, with the limit of that time."""
        yield from (alarm for alarm in self._at_end() if alarm.stands)

    def aside_at_end(self) -> Iterator[ActiveAlarm]:
        """The alarms that a person had put aside or taken out of service when the night ended."""
        yield from (alarm for alarm in self._at_end() if alarm.state.status in SET_ASIDE)

    def _at_end(self) -> Iterator[ActiveAlarm]:
        since_ms = {alarm.alarm_id: alarm.began_ms for alarm in self.came}
        for alarm_id, row in self._store.journal.newest_before(self._end_ms).items():
            rule = rule_then(self._plan, row)
            state = AlarmState(
                alarm_id,
                row.after,
                active=row.after in STANDING,
                since_ms=since_ms.get(alarm_id),
                last_value=row.value,
            )
            yield ActiveAlarm(rule, state, self._plan.title(row.place), row.value)

    def told_of(self) -> frozenset[str]:
        """Alarms that were annunciated, stood already, or were held back: what they saw was known."""
        quiet = (AlarmStatus.NORMAL, AlarmStatus.RETURNED_UNACKNOWLEDGED)
        before = {alarm_id for alarm_id, row in self._at_start.items() if row.after not in quiet}
        return frozenset(before | {row.alarm_id for row in self._rows})


def rule_then(plan: Plan, row: Transition) -> AlarmRule:
    """The rule of a row of the journal with the setpoint of that time; one that is gone without its words."""
    known = plan.rules.get(row.alarm_id)
    if known is None:
        side = Side.LOW if f"/{Side.LOW}/" in row.alarm_id else Side.HIGH
        setpoint = 0.0 if row.setpoint is None else row.setpoint
        limits = (setpoint, 0.0, 0.0, 0.0)
        return AlarmRule(row.alarm_id, row.place, row.quantity, side, *limits, row.priority, "", "")
    return known if row.setpoint is None else replace(known, setpoint=row.setpoint)


def alarms_of(plan: Plan, rows: Iterable[Transition], until_ms: int) -> list[AlarmNight]:
    """One entry per annunciation before `until_ms`, with the acknowledgement and the end that followed it."""
    alarms: list[AlarmNight] = []
    newest: dict[str, int] = {}
    for row in rows:
        at = newest.pop(row.alarm_id, None) if row.announces else newest.get(row.alarm_id)
        if at is not None:
            alarms[at] = _followed(alarms[at], row)
        if row.announces and row.at_ms < until_ms:
            newest[row.alarm_id] = len(alarms)
            alarms.append(_began(plan, row))
    return alarms


def _began(plan: Plan, row: Transition) -> AlarmNight:
    return AlarmNight(
        title=plan.title(row.place),
        rule=rule_then(plan, row) if row.alarm_id in plan.rules else None,
        priority=row.priority,
        alarm_id=row.alarm_id,
        began_ms=row.at_ms,
        value=row.value,
        reason=row.reason,
    )


def _followed(alarm: AlarmNight, row: Transition) -> AlarmNight:
    """The alarm after a later row about it; the first acknowledgement, shelf and ending count."""
    if row.event is AlarmEvent.ACKNOWLEDGE and alarm.acknowledged_ms is None:
        return replace(alarm, acknowledged_by=row.actor, acknowledged_ms=row.processed_ms)
    if alarm.over_ms is not None:
        return alarm
    if row.announces:
        return replace(alarm, again_ms=row.at_ms)
    if row.event in _ASIDE:
        return replace(alarm, aside_by=row.actor, aside_ms=row.processed_ms)
    if row.event not in _ENDINGS:
        return alarm
    hidden = row.event is AlarmEvent.SUPPRESS
    return replace(alarm, cleared_ms=row.at_ms, hidden=hidden, reason=row.reason if hidden else alarm.reason)


def late_excursions(
    store: Store, plan: Plan, found_from_ms: int, found_to_ms: int, of_night: Iterable[LateExcursion]
) -> tuple[LateExcursion, ...]:
    """Those found in [from, to), whenever they were, and those of the night itself, each once, by time."""
    stored = [
        LateExcursion(plan.title(rule.place), rule, late.began_ms, late.ended_ms, late.extreme_value)
        for late in store.journal.found_late(found_from_ms, found_to_ms)
        if (rule := plan.rules.get(late.alarm_id)) is not None and not _was_known(store, late)
    ]
    fresh = [late for late in of_night if not any(_same(late, other) for other in stored)]
    return tuple(sorted((*stored, *fresh), key=lambda late: late.began_ms))


def _was_known(store: Store, late: Excursion) -> bool:
    """Whether the alarm was active then after all: the same readings can come twice."""
    rows = store.journal.transitions(late.began_ms - LOOK_BACK_MS, late.ended_ms + 1, late.alarm_id)
    changes = [row for row in rows if row.event in _CONDITION]
    within = any(row.event is AlarmEvent.ACTIVATE and row.at_ms >= late.began_ms for row in changes)
    before = [row for row in changes if row.at_ms < late.began_ms]
    return within or bool(before and before[-1].event is AlarmEvent.ACTIVATE)


def _same(late: LateExcursion, other: LateExcursion) -> bool:
    overlap = late.began_ms <= other.ended_ms and other.began_ms <= late.ended_ms
    return overlap and late.rule.alarm_id == other.rule.alarm_id


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


@dataclass(frozen=True, slots=True)
class _HourTable:
    """The hours of all sensors, one sensor after the other; `sensor` is the place of each in `keys`.

    `places`, `keys` and `usual`, readings in a usual hour, have one item for each sensor.
    """

    keys: tuple[SensorKey, ...]
    places: tuple[str, ...]
    usual: FloatArray
    sensor: IntArray
    start_ms: IntArray
    count: IntArray
    low: FloatArray
    high: FloatArray


def week_of(
    store: Store,
    plan: Plan,
    sensors: PlacedSensors,
    nights: Sequence[Span],
    now_ms: int | None = None,
    kept: KeptReadings | None = None,
) -> tuple[WeekNight, ...]:
    """One row for each night, from the newest back, as `nights` run; `kept` are hours of an earlier look."""
    return _WeekReader(store, plan, sensors, tuple(nights), now_ms, kept or KeptReadings()).rows()


@dataclass
class _WeekReader:
    """Reads the hours of the week once. Single readings only where hours leave a night in doubt."""

    store: Store
    plan: Plan
    sensors: PlacedSensors
    nights: tuple[Span, ...]
    now_ms: int | None
    kept: KeptReadings
    then: Mapping[str, Plan] = field(init=False)
    hours: Mapping[SensorKey, _Hours] = field(init=False)
    usual: dict[SensorKey, float] = field(init=False, default_factory=dict)
    _entries: tuple[LogbookEntry, ...] = field(init=False)
    _ever_empty: frozenset[str] = field(init=False)
    _empties: dict[tuple[int, int], frozenset[str]] = field(init=False, default_factory=dict)
    _limits_of: dict[int, tuple[FloatArray, FloatArray]] = field(init=False, default_factory=dict)

    def rows(self) -> tuple[WeekNight, ...]:
        self._entries = self.store.logbook.every()
        in_file = (place.id for place in self.plan.settings.places if place.empty)
        of_places = (entry for entry in self._entries if entry.subject_kind is SubjectKind.PLACE)
        said = (entry.subject for entry in of_places if entry.kind == PlaceEntryKind.EMPTY)
        self._ever_empty = frozenset((*in_file, *said))
        self.then = {night.date: plan_then(self.store, self.plan, night.end_ms) for night in self.nights}
        self.hours = self._hours()
        self.usual = {
            sensor: float(np.median(hours.count)) for sensor, hours in self.hours.items() if len(hours.count)
        }
        worst = _worst_alarms(self.store, self.nights)
        return tuple(self._row(night, worst.get(night.date)) for night in self.nights)

    def _row(self, night: Span, worst: Priority | None) -> WeekNight:
        doubtful = self._doubtful(night)
        if doubtful is None:
            return WeekNight(night.date, (), worst, known=False)
        looked_at = (place for place in self.plan.places if place in doubtful)
        marks = {place: marks for place in looked_at if (marks := self._marks(place, night))}
        if marks.keys() & self._ever_empty:
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
        before = sum(entry.entered_ms <= night.start_ms for entry in self._entries)
        by_end = sum(entry.entered_ms <= night.end_ms for entry in self._entries)
        if (before, by_end) not in self._empties:
            said = unguarded_between(self.plan, self._entries, Noted(), night.start_ms, night.end_ms)
            self._empties[before, by_end] = said.empty
        return self._empties[before, by_end]

    def _hours(self) -> Mapping[SensorKey, _Hours]:
        guarded = {(rule.place, rule.quantity) for plan in self.then.values() for rule in plan.rules.values()}
        calibrated = calibrated_probes(self.store)
        wanted = [
            sensor
            for place in self.plan.places
            for sensor in self.sensors.of(place)
            if (place, sensor.quantity) in guarded
            and (sensor.quantity != Quantity.SUBSTRATE_MOISTURE or str(sensor) in calibrated)
        ]
        bounds = self.nights[-1].start_ms, self.nights[0].end_ms
        read = self.kept.hours(self.store, wanted, *bounds)
        return {sensor: self._shown(sensor, hours) for sensor, hours in read.items()}

    def _shown(self, sensor: SensorKey, hours: HourExtremes) -> _Hours:
        # Once a board is put aside, what it measures in the salt jar says nothing of its place.
        own = hours.start_ms < self.sensors.before(sensor, self.nights[0].end_ms)
        start_ms, first, last = hours.start_ms[own], hours.minimum[own], hours.maximum[own]
        calibrations = self.sensors.calibrations.of(sensor)
        if not calibrations:
            return _Hours(start_ms, hours.count[own], first, last)
        slope, offset = coefficients(calibrations, start_ms)
        low, high = slope * first + offset, slope * last + offset
        return _Hours(start_ms, hours.count[own], np.minimum(low, high), np.maximum(low, high))

    def _doubtful(self, night: Span) -> frozenset[str] | None:
        """The places of which an hour passed a limit or holds few readings; None where nothing is known.

        All sensors at once: one after the other 100 boards took a third of the time of the whole page.
        """
        table, then = self._table, self.then[night.date]
        first, last = night.start_ms - MS_PER_HOUR + 1, night.end_ms
        here = np.flatnonzero((table.start_ms >= first) & (table.start_ms < last))
        if not len(here):
            return None
        at = np.flatnonzero(np.diff(table.sensor[here], prepend=-1))
        sensors = table.sensor[here[at]]
        lowest, highest = np.minimum.reduceat(table.low[here], at), np.maximum.reduceat(table.high[here], at)
        low, high = self._limits(then)
        beyond = sensors[(lowest < low[sensors]) | (highest > high[sensors])].tolist()
        return frozenset(table.places[each] for each in (*beyond, *self._few_of(table, night)))

    def _few_of(self, table: _HourTable, night: Span) -> list[int]:
        """The sensors of which there may be a hole, as `_few` tells of each."""
        end_ms = night.end_ms if self.now_ms is None else min(night.end_ms, self.now_ms)
        whole = (table.start_ms >= night.start_ms) & (table.start_ms + MS_PER_HOUR <= end_ms)
        sensor, number = table.sensor[whole], len(table.keys)
        lacks = np.maximum(table.usual[sensor] - table.count[whole], 0.0)
        missing = np.bincount(sensor, weights=lacks, minlength=number)
        absent = (end_ms - night.start_ms) // MS_PER_HOUR - np.bincount(sensor, minlength=number) - 1
        known = np.where(table.usual > 0.0, table.usual, 1.0)
        minutes = MS_PER_HOUR / MS_PER_MINUTE * (missing / known)
        few = (table.usual == 0.0) | (absent > 0) | (minutes > QUIET_GAP_MINUTES / 2)
        found: list[int] = np.flatnonzero(few).tolist()
        return found

    def _limits(self, plan: Plan) -> tuple[FloatArray, FloatArray]:
        """The low and high limit of each sensor; NaN for none, and nothing is beyond that."""
        if id(plan) not in self._limits_of:
            table = self._table
            each = zip(table.places, table.keys, strict=True)
            limits = [limits_of(plan, place, sensor.quantity) for place, sensor in each]
            low, high = np.array(limits, dtype=np.float64).reshape(-1, 2).T
            self._limits_of[id(plan)] = low, high
        return self._limits_of[id(plan)]

    @cached_property
    def _table(self) -> _HourTable:
        places = {sensor: place for place in self.plan.places for sensor in self.sensors.of(place)}
        parts = list(self.hours.values())
        start_ms, count, low, high = (
            np.concatenate([np.zeros(0, np.int64), *(getattr(part, name) for part in parts)])
            for name in ("start_ms", "count", "low", "high")
        )
        return _HourTable(
            keys=tuple(self.hours),
            places=tuple(places[sensor] for sensor in self.hours),
            usual=np.array([self.usual.get(sensor, 0.0) for sensor in self.hours]),
            sensor=np.repeat(np.arange(len(parts)), [len(part.start_ms) for part in parts]),
            start_ms=start_ms.astype(np.int64),
            count=count,
            low=low,
            high=high,
        )

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
        for rule in self.then[night.date].rules_of(place, sensor.quantity):
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
