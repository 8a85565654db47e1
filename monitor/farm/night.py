"""A night as the report and the page need it, read out of the store; and the week at a glance."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property

import numpy as np

from monitor.climate import psychrometrics
from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.development.degree_days import degree_days_of_steps
from monitor.farm.curves import ChartSpan, Points, read_points
from monitor.farm.due import Outlook
from monitor.farm.place_reader import PlacedSensors
from monitor.farm.places import SiteReader
from monitor.farm.records import (
    AirNight,
    AlarmNight,
    BoardCare,
    DegreeDays,
    DoubtfulSensor,
    Extreme,
    LateExcursion,
    NightReport,
    NightSummary,
    PlaceNight,
    QuantityNight,
    WeekCell,
    WeekRow,
)
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmEvent,
    AlarmRule,
    AlarmStatus,
    Excursion,
    Flag,
    Priority,
    Quantity,
    SensorKey,
    Side,
    Stage,
    Transition,
)
from monitor.settings.plan import Plan
from monitor.settings.schema import Place
from monitor.store import Store
from monitor.store.readings import Series, excursions, extremes, gaps

DOUBTFUL_MINUTES = 30.0
GRACE_MS = 2 * MS_PER_MINUTE
DEFAULT_THRESHOLD_C = 12.0
LONGEST_JOINED_H = 2.0
LOOK_BACK_MS = 8 * MS_PER_DAY
SET_ASIDE = frozenset({AlarmStatus.SHELVED, AlarmStatus.OUT_OF_SERVICE})
_CONDITION = (AlarmEvent.ACTIVATE, AlarmEvent.CLEAR)
_ENDINGS = (AlarmEvent.CLEAR, AlarmEvent.SUPPRESS)
_HOURS = ChartSpan("hours", 0, 1)


@dataclass(frozen=True, slots=True)
class Span:
    """A night: [start, end), and the local date of its morning."""

    start_ms: int
    end_ms: int
    date: str


def night_of(plan: Plan, morning: date) -> Span:
    """The night that ends on that morning, by the farm's clock; an hour longer or shorter twice a year."""
    report = plan.settings.report
    end = datetime.combine(morning, report.time, plan.zone)
    evening = morning if report.night_start < report.time else morning - timedelta(days=1)
    start = datetime.combine(evening, report.night_start, plan.zone)
    return Span(_ms(start), _ms(end), morning.isoformat())


def last_night(plan: Plan, now_ms: int) -> Span:
    """The newest night that is over."""
    today = datetime.fromtimestamp(now_ms / MS_PER_SECOND, plan.zone).date()
    tonight = night_of(plan, today)
    return tonight if tonight.end_ms <= now_ms else night_of(plan, today - timedelta(days=1))


class NightReader:
    """Reads one night; every series is read once."""

    def __init__(self, store: Store, plan: Plan, span: Span, now_ms: int) -> None:
        self._store, self._plan, self._night, self._now_ms = store, plan, span, now_ms
        # Of a night that is not over yet, what lies ahead is not missing.
        self._span = replace(span, end_ms=min(span.end_ms, now_ms))
        self.sensors = PlacedSensors(store, plan)
        self._series: dict[SensorKey, Series] = {}

    @cached_property
    def now(self) -> SiteReader:
        return SiteReader(self._store, self._plan, self._now_ms)

    def summary(self) -> NightSummary:
        """What happened in the night, and what is wrong now."""
        store, plan, span = self._store, self._plan, self._span
        transitions = store.journal.transitions(span.start_ms, self._night.end_ms)
        alarms = self.now.alarms()
        first_run_ms = int(store.meta.get("first_started_ms") or self._night.end_ms)
        before = night_of(plan, date.fromisoformat(span.date) - timedelta(days=1))
        late = late_excursions(store, plan, before.end_ms, span.end_ms, self._found_late(transitions))
        return NightSummary(
            title=plan.settings.site.title,
            date=span.date,
            start_ms=span.start_ms,
            end_ms=self._night.end_ms,
            places=tuple(self._place(place) for place in plan.settings.places),
            alarms=tuple(
                replace(alarm, extreme=self._extreme(alarm)) for alarm in alarms_of(plan, transitions)
            ),
            found_late=late,
            still_active=tuple(alarm for alarm in alarms if alarm.stands),
            downtime=store.runs.downtime(max(span.start_ms, first_run_ms), span.end_ms, GRACE_MS),
            unsent_messages=len(store.outbox.waiting()),
            set_aside=tuple(alarm for alarm in alarms if alarm.state.status in SET_ASIDE),
            until_ms=span.end_ms,
        )

    def report(self) -> NightReport:
        """The night with what it asks of the day, as it was known on that morning."""
        outlook = Outlook(self._store, self._plan, self._span.end_ms)
        return NightReport(self.summary(), tuple(self._boards_in_need()), outlook.today())

    def series(self, sensor: SensorKey) -> Series:
        """The usable, calibrated readings of a sensor in the night."""
        if sensor not in self._series:
            span = self._span.start_ms, self._span.end_ms
            calibrations = self.sensors.calibrations.of(sensor)
            self._series[sensor] = self._store.readings.series(sensor, *span, calibrations).usable()
        return self._series[sensor]

    def _boards_in_need(self) -> Iterator[BoardCare]:
        doubtful: dict[str, list[DoubtfulSensor]] = defaultdict(list)
        for place in self.sensors.places:
            limit_ms = round(self._plan.longest_gap_s(place) * MS_PER_SECOND)
            for sensor in self.sensors.of(place):
                series = self.series(sensor)
                minutes = _minutes_where(series.at_ms, series.flag == Flag.SUSPECT, limit_ms)
                if minutes >= DOUBTFUL_MINUTES:
                    doubtful[sensor.node].append(DoubtfulSensor(sensor, minutes))
        for row in self.now.boards():
            sensors = tuple(doubtful.get(row.facts.node, ()))
            if sensors or row.needs_care:
                yield BoardCare(row, sensors)

    def _place(self, place: Place) -> PlaceNight:
        return PlaceNight(
            id=place.id,
            title=self._plan.title(place.id),
            kind=place.kind,
            empty=place.empty,
            quantities=tuple(self._quantities(place.id)),
            air=self._air(place),
            degree_days=self._degree_days(place),
        )

    def _extreme(self, alarm: AlarmNight) -> float | None:
        """The farthest value from the on-delay before the annunciation to its end; None for computed ones."""
        rule = alarm.rule
        series = self._joined(rule.place, rule.quantity) if rule else None
        if rule is None or series is None:
            return alarm.value
        since_ms = alarm.began_ms - round(rule.on_delay_s * MS_PER_SECOND)
        until_ms = self._span.end_ms if alarm.cleared_ms is None else alarm.cleared_ms
        values = series.value[(series.at_ms >= since_ms) & (series.at_ms <= until_ms)]
        if not len(values):
            return alarm.value
        return float(np.max(values) if rule.side is Side.HIGH else np.min(values))

    def _found_late(self, transitions: Iterable[Transition]) -> Iterator[LateExcursion]:
        """Excursions longer than their on-delay for which no alarm was raised in the night."""
        raised = {transition.alarm_id for transition in transitions}
        states = self._store.journal.states()
        started = {name for name, state in states.items() if state.active or state.status in SET_ASIDE}
        for rule in self._plan.rules.values():
            if rule.alarm_id not in raised | started and rule.alarm_id not in self._plan.suppressed_by_design:
                yield from self._unraised(rule)

    def _unraised(self, rule: AlarmRule) -> Iterator[LateExcursion]:
        join_ms = round(self._plan.longest_gap_s(rule.place) * MS_PER_SECOND)
        for sensor in self.sensors.of(rule.place, rule.quantity):
            above = rule.side is Side.HIGH
            for run in excursions(self.series(sensor), rule.setpoint, above=above, join_ms=join_ms):
                if run.end_ms - run.start_ms >= rule.on_delay_s * MS_PER_SECOND:
                    title = self._plan.title(rule.place)
                    yield LateExcursion(title, rule, run.start_ms, run.end_ms, run.extreme)

    def _joined(self, place: str, quantity: str) -> Series | None:
        read = [self.series(sensor) for sensor in self.sensors.of(place, quantity)]
        filled = [series for series in read if len(series)]
        if len(filled) < 2:
            return filled[0] if filled else None
        at, value, flag = (
            np.concatenate([getattr(series, name) for series in filled])
            for name in ("at_ms", "value", "flag")
        )
        order = np.argsort(at, kind="stable")
        return Series(at[order], value[order], flag[order])

    def _quantities(self, place: str) -> Iterator[QuantityNight]:
        for quantity in Quantity:
            series = self._joined(place, quantity) if quantity != Quantity.BATTERY else None
            if series is not None:
                yield self._quantity(place, quantity, series)

    def _quantity(self, place: str, quantity: str, series: Series) -> QuantityNight:
        found = extremes(series)
        if found is None:
            raise ValueError("a series that is joined has a value")
        limit_ms = round(self._plan.longest_gap_s(place) * MS_PER_SECOND)
        holes = gaps(series.at_ms, self._span.start_ms, self._span.end_ms, limit_ms)
        return QuantityNight(
            quantity=quantity,
            lowest=Extreme(found.lowest, found.lowest_ms),
            highest=Extreme(found.highest, found.highest_ms),
            mean=_time_mean(series.at_ms, series.value),
            minutes_out=self._minutes_out(place, quantity, series, limit_ms),
            gap_minutes=sum(end - start for start, end in holes) / MS_PER_MINUTE,
        )

    def _minutes_out(self, place: str, quantity: str, series: Series, limit_ms: int) -> float:
        rules = self._plan.rules_of(place, quantity)
        out = np.zeros(len(series), dtype=bool)
        for rule in rules:
            above = rule.side is Side.HIGH
            out |= series.value > rule.setpoint if above else series.value < rule.setpoint
        return _minutes_where(series.at_ms, out, limit_ms)

    def _air(self, place: Place) -> AirNight | None:
        temperature = self._joined(place.id, Quantity.AIR_TEMPERATURE)
        humidity = self._joined(place.id, Quantity.AIR_HUMIDITY)
        if temperature is None or humidity is None:
            return None
        air_c = np.interp(humidity.at_ms, temperature.at_ms, temperature.value)
        percent = np.clip(humidity.value, 1.0, 100.0)
        deficit = psychrometrics.vapour_pressure_deficit_pa(air_c, percent)
        dew_c = psychrometrics.dew_point_c(air_c, percent)
        margin = air_c - (self._plan.surface_colder_by_k(place.id) or 0.0) - dew_c
        at = int(np.argmin(margin))
        limit_ms = round(self._plan.longest_gap_s(place.id) * MS_PER_SECOND)
        return AirNight(
            mean_deficit_pa=_time_mean(humidity.at_ms, deficit),
            highest_deficit_pa=float(np.max(deficit)),
            dew_point_c=float(np.max(dew_c)),
            lowest_margin_k=float(margin[at]),
            margin_at_ms=int(humidity.at_ms[at]),
            minutes_condensing=_minutes_where(humidity.at_ms, margin <= 0.0, limit_ms),
        )

    def _degree_days(self, place: Place) -> DegreeDays | None:
        stage = self._plan.stage_of(place)
        if stage is None or place.empty:
            return None
        parameters = self._plan.species.stages.get(stage)
        threshold_c = parameters.threshold_c.value if parameters else DEFAULT_THRESHOLD_C
        upper_c = parameters.upper_threshold_c.value if parameters and parameters.upper_threshold_c else None
        in_substrate = stage in (Stage.LARVA, Stage.PREPUPA)
        driving = (Quantity.AIR_TEMPERATURE, Quantity.SUBSTRATE_TEMPERATURE)
        for quantity in reversed(driving) if in_substrate else driving:
            series = self._joined(place.id, quantity)
            if series is not None and len(series) > 1:
                earned = self._earned(series, threshold_c, upper_c, quantity)
                return replace(earned, in_doubt=in_substrate and quantity is Quantity.AIR_TEMPERATURE)
        return None

    def _earned(
        self, series: Series, threshold_c: float, upper_c: float | None, quantity: Quantity
    ) -> DegreeDays:
        steps = degree_days_of_steps(series.at_ms, series.value, threshold_c, upper_c)
        hours = np.diff(series.at_ms) / MS_PER_HOUR
        joined = hours <= LONGEST_JOINED_H
        night_h = (self._span.end_ms - self._span.start_ms) / MS_PER_HOUR
        missing = night_h - float(np.sum(hours[joined]))
        return DegreeDays(
            earned=float(np.sum(steps[joined])),
            threshold_c=threshold_c,
            measured=quantity,
            hours_missing=round(missing, 1) if missing >= 0.25 else 0.0,
        )


def alarms_of(plan: Plan, transitions: Iterable[Transition]) -> list[AlarmNight]:
    """One entry per annunciation, with the acknowledgement and the end that followed it."""
    alarms: list[AlarmNight] = []
    newest: dict[str, int] = {}
    for row in transitions:
        at = newest.get(row.alarm_id)
        if row.announces:
            newest[row.alarm_id] = len(alarms)
            alarms.append(_began(plan, row))
        elif at is not None:
            alarms[at] = _followed(alarms[at], row)
    return alarms


def _began(plan: Plan, row: Transition) -> AlarmNight:
    return AlarmNight(
        title=plan.title(row.place),
        rule=plan.rules.get(row.alarm_id),
        priority=row.priority,
        alarm_id=row.alarm_id,
        began_ms=row.at_ms,
        value=row.value,
        reason=row.reason,
    )


def _followed(alarm: AlarmNight, row: Transition) -> AlarmNight:
    """The alarm after a later row about it; the first acknowledgement and the first ending count."""
    if row.event is AlarmEvent.ACKNOWLEDGE and alarm.acknowledged_ms is None:
        return replace(alarm, acknowledged_by=row.actor, acknowledged_ms=row.processed_ms)
    if row.event not in _ENDINGS or alarm.cleared_ms is not None:
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


def _time_mean(at_ms: IntArray, value: FloatArray) -> float:
    """Mean over time of the line through the readings, so that dense readings weigh no more."""
    steps = np.diff(at_ms)
    total = float(np.sum(steps))
    return float(np.sum(0.5 * (value[1:] + value[:-1]) * steps)) / total if total else float(np.mean(value))


def _minutes_where(at_ms: IntArray, wanted: BoolArray, longest_ms: int) -> float:
    """Minutes for which a condition held: each reading counts until the next one, at most `longest_ms`."""
    if len(at_ms) < 2:
        return 0.0
    lasts = np.minimum(np.diff(at_ms), longest_ms)
    return float(np.sum(lasts[wanted[:-1]]) / MS_PER_MINUTE)


def _ms(at: datetime) -> int:
    return round(at.timestamp() * MS_PER_SECOND)


def week_of(store: Store, plan: Plan, sensors: PlacedSensors, nights: Sequence[Span]) -> tuple[WeekRow, ...]:
    """One row for each place that has a sensor; `nights` run from the newest back."""
    bounds_ms = (nights[-1].start_ms, nights[0].end_ms)
    worst = _worst_alarms(store.journal.transitions(*bounds_ms), nights)
    rows = []
    for place in plan.places:
        sensor = sensors.main(place)
        if sensor is not None:
            points = read_points(store, sensor, _HOURS, bounds_ms, sensors.calibrations.of(sensor))
            cells = (_week_cell(points, night, worst.get((place, night.date))) for night in nights)
            rows.append(WeekRow(place, plan.title(place), sensor.quantity, tuple(cells)))
    return tuple(rows)


def _week_cell(points: Points, night: Span, worst: Priority | None) -> WeekCell:
    hours_ms = points.at_ms - points.step_ms // 2
    within = (hours_ms >= night.start_ms) & (hours_ms < night.end_ms)
    if not within.any():
        return WeekCell(None, None, worst)
    return WeekCell(float(points.low[within].min()), float(points.high[within].max()), worst)


def _worst_alarms(
    transitions: Iterable[Transition], nights: Sequence[Span]
) -> dict[tuple[str, str], Priority]:
    order = list(Priority)
    worst: dict[tuple[str, str], Priority] = {}
    for row in transitions:
        night = next((night for night in nights if night.start_ms <= row.at_ms < night.end_ms), None)
        if night is not None and row.announces:
            key = (row.place, night.date)
            worst[key] = min(worst.get(key, row.priority), row.priority, key=order.index)
    return worst
