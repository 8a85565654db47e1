"""The night as the report needs it: from the store to one `NightSummary`.

From the rows of the journal to the alarms of a night.

Excursions whose readings came too late to wake anybody: found by the service, or seen in the night.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from monitor.climate import psychrometrics
from monitor.development.degree_days import degree_days_of_steps
from monitor.farm.due import bin_sections, cohort_sections
from monitor.farm.places import current_values, node_rows, open_alarms
from monitor.farm.records import (
    ActiveAlarm,
    AirNight,
    AlarmNight,
    DegreeDays,
    Extreme,
    LateExcursion,
    NightSection,
    NightSummary,
    NodeCare,
    NodeRow,
    PlaceNight,
    QuantityNight,
)
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    QUANTITIES,
    AlarmEvent,
    AlarmRule,
    AlarmStatus,
    Excursion,
    Flag,
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
from monitor.words.phrases import length_of_time, plural


def alarms_of(plan: Plan, transitions: Iterable[Transition]) -> list[AlarmNight]:
    """One entry per annunciation, with the acknowledgement and the end that followed it."""
    found: list[AlarmNight] = []
    rows = list(transitions)
    for index, row in enumerate(rows):
        if row.announces:
            later = [other for other in rows[index + 1 :] if other.alarm_id == row.alarm_id]
            found.append(_alarm(plan, row, later))
    return found


def _alarm(plan: Plan, row: Transition, later: list[Transition]) -> AlarmNight:
    until = next((other for other in later if other.announces), None)
    mine = later[: later.index(until)] if until else later
    acknowledged = _first(mine, lambda other: other.event is AlarmEvent.ACKNOWLEDGE)
    ended = _first(mine, lambda other: other.event in (AlarmEvent.CLEAR, AlarmEvent.SUPPRESS))
    return AlarmNight(
        title=plan.title(row.place),
        rule=plan.rules.get(row.alarm_id),
        priority=row.priority,
        alarm_id=row.alarm_id,
        began_ms=row.at_ms,
        value=row.value,
        extreme=None,
        acknowledged_by=acknowledged.actor if acknowledged else "",
        acknowledged_ms=acknowledged.processed_ms if acknowledged else None,
        cleared_ms=ended.at_ms if ended else None,
        reason=ended.reason if ended and ended.event is AlarmEvent.SUPPRESS else row.reason,
        hidden=ended is not None and ended.event is AlarmEvent.SUPPRESS,
    )


def _first(rows: Iterable[Transition], wanted: Callable[[Transition], bool]) -> Transition | None:
    return next((row for row in rows if wanted(row)), None)


LOOK_BACK_MS = 8 * MS_PER_DAY
_CONDITION = (AlarmEvent.ACTIVATE, AlarmEvent.CLEAR)


def late_excursions(
    store: Store, plan: Plan, found_from_ms: int, found_to_ms: int, of_night: Iterable[LateExcursion]
) -> tuple[LateExcursion, ...]:
    """Those found in [from, to), whenever they were, and those of the night itself, each once, by time."""
    stored = [
        LateExcursion(plan.title(rule.place), rule, found.began_ms, found.ended_ms, found.extreme_value)
        for found in store.journal.found_late(found_from_ms, found_to_ms)
        if (rule := plan.rules.get(found.alarm_id)) is not None and not _was_known(store, found)
    ]
    fresh = [one for one in of_night if not any(_same(one, other) for other in stored)]
    return tuple(sorted((*stored, *fresh), key=lambda one: one.began_ms))


def _was_known(store: Store, found: Excursion) -> bool:
    """Whether the alarm was active then after all: the same readings can come twice."""
    rows = store.journal.transitions(found.began_ms - LOOK_BACK_MS, found.ended_ms + 1, found.alarm_id)
    changes = [row for row in rows if row.event in _CONDITION]
    within = any(row.event is AlarmEvent.ACTIVATE and row.at_ms >= found.began_ms for row in changes)
    before = [row for row in changes if row.at_ms < found.began_ms]
    return within or bool(before and before[-1].event is AlarmEvent.ACTIVATE)


def _same(one: LateExcursion, other: LateExcursion) -> bool:
    overlap = one.began_ms <= other.ended_ms and other.began_ms <= one.ended_ms
    return overlap and one.rule.alarm_id == other.rule.alarm_id


IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

DOUBTFUL_MINUTES = 30.0
GRACE_MS = 2 * MS_PER_MINUTE
DEFAULT_THRESHOLD_C = 12.0
LONGEST_JOINED_H = 2.0
SET_ASIDE = {AlarmStatus.SHELVED: "shelved", AlarmStatus.OUT_OF_SERVICE: "out of service"}


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


def summarise(store: Store, plan: Plan, span: Span, now_ms: int) -> NightSummary:
    """Everything the night report says of one night."""
    transitions = store.journal.transitions(span.start_ms, span.end_ms)
    states = store.journal.states()
    # Of a night that is not over yet, what lies ahead is not missing.
    nightly = _Night(store, plan, replace(span, end_ms=min(span.end_ms, now_ms)))
    alarms = open_alarms(states, plan, current_values(store, plan, now_ms).of)
    return NightSummary(
        title=plan.settings.site.title,
        date=span.date,
        start_ms=span.start_ms,
        end_ms=span.end_ms,
        places=tuple(nightly.place(place) for place in plan.settings.places),
        alarms=tuple(nightly.alarms(transitions)),
        found_late=late_excursions(
            store,
            plan,
            night_of(plan, date.fromisoformat(span.date) - timedelta(days=1)).end_ms,
            min(span.end_ms, now_ms),
            nightly.found_late(transitions),
        ),
        still_active=tuple(alarm for alarm in alarms if alarm.stands),
        nodes=tuple(_care(node_rows(store, plan, now_ms), plan, now_ms, nightly.doubts())),
        downtime=store.runs.downtime(
            max(span.start_ms, _first_run_ms(store, span)), min(span.end_ms, now_ms), GRACE_MS
        ),
        unsent_messages=len(store.outbox.waiting()),
        notes=tuple(_set_aside(alarms)),
        sections=_sections(store, plan, min(span.end_ms, now_ms)),
        until_ms=min(span.end_ms, now_ms),
    )


def _sections(store: Store, plan: Plan, at_ms: int) -> tuple[NightSection, ...]:
    return (*bin_sections(store, plan, at_ms), *cohort_sections(store, plan, at_ms))


def _set_aside(alarms: Iterable[ActiveAlarm]) -> Iterator[str]:
    """What a person put aside stays in sight, so that it is not forgotten."""
    for alarm in alarms:
        if alarm.state.status in SET_ASIDE:
            words = SET_ASIDE[alarm.state.status]
            yield f"- {alarm.title}: the alarm on {QUANTITIES[alarm.rule.quantity].title} is {words}"


class _Night:
    """The series of one night, each read once."""

    def __init__(self, store: Store, plan: Plan, span: Span) -> None:
        self._store, self._plan, self._span = store, plan, span
        self._calibrations = store.calibrations.table()
        self._by_place: dict[str, list[SensorKey]] = {}
        for sensor in store.readings.sensors():
            place = plan.place_of(sensor)
            if place is not None:
                self._by_place.setdefault(place, []).append(sensor)
        self._series: dict[SensorKey, Series] = {}

    def place(self, place: Place) -> PlaceNight:
        """One place over the night."""
        quantities = self._quantities(place.id)
        return PlaceNight(
            id=place.id,
            title=self._plan.title(place.id),
            kind=place.kind,
            empty=place.empty,
            quantities=tuple(quantities),
            air=self._air(place),
            degree_days=self._degree_days(place),
        )

    def doubts(self) -> dict[str, list[str]]:
        """By board, which of its sensors gave doubtful readings for how long in the night."""
        found: dict[str, list[str]] = {}
        for place, sensors in self._by_place.items():
            limit_ms = round(self._plan.longest_gap_s(place) * MS_PER_SECOND)
            for sensor in sensors:
                series = self._read(sensor)
                minutes = _minutes_where(series.at_ms, series.flag == Flag.SUSPECT, limit_ms)
                if minutes >= DOUBTFUL_MINUTES:
                    what = f"{sensor.probe} {QUANTITIES[sensor.quantity].title}".strip()
                    found.setdefault(sensor.node, []).append(
                        f"{what} doubtful for {minutes / 60:.1f} h (stuck, jumping or wetted)"
                    )
        return found

    def alarms(self, transitions: Iterable[Transition]) -> Iterator[AlarmNight]:
        """One entry per annunciation, with how far it went."""
        for alarm in alarms_of(self._plan, transitions):
            yield replace(alarm, extreme=self._extreme(alarm))

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

    def found_late(self, transitions: Iterable[Transition]) -> Iterator[LateExcursion]:
        """Excursions longer than their on-delay for which no alarm was raised in the night."""
        told = {transition.alarm_id for transition in transitions}
        states = self._store.journal.states()
        started = {name for name, state in states.items() if state.active or state.status in SET_ASIDE}
        for rule in self._plan.rules.values():
            if rule.alarm_id not in told | started and rule.alarm_id not in self._plan.suppressed_by_design:
                yield from self._untold(rule)

    def _untold(self, rule: AlarmRule) -> Iterator[LateExcursion]:
        join_ms = round(self._plan.longest_gap_s(rule.place) * MS_PER_SECOND)
        for sensor in self._sensors(rule.place, rule.quantity):
            above = rule.side is Side.HIGH
            for found in excursions(self._read(sensor), rule.setpoint, above=above, join_ms=join_ms):
                if found.end_ms - found.start_ms >= rule.on_delay_s * MS_PER_SECOND:
                    title = self._plan.title(rule.place)
                    yield LateExcursion(title, rule, found.start_ms, found.end_ms, found.extreme)

    def _sensors(self, place: str, quantity: str) -> list[SensorKey]:
        return [sensor for sensor in self._by_place.get(place, ()) if sensor.quantity == quantity]

    def _read(self, sensor: SensorKey) -> Series:
        if sensor not in self._series:
            span = self._span.start_ms, self._span.end_ms
            mine = self._calibrations.of(sensor)
            self._series[sensor] = self._store.readings.series(sensor, *span, mine).usable()
        return self._series[sensor]

    def _joined(self, place: str, quantity: str) -> Series | None:
        """All sensors of one quantity in a place, in the order of time."""
        read = [self._read(sensor) for sensor in self._sensors(place, quantity)]
        filled = [series for series in read if len(series)]
        if not filled:
            return None
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
        for quantity, words in _driving(stage):
            series = self._joined(place.id, quantity)
            if series is not None and len(series) > 1:
                return self._earned(series, threshold_c, upper_c, words)
        return None

    def _earned(self, series: Series, threshold_c: float, upper_c: float | None, words: str) -> DegreeDays:
        steps = degree_days_of_steps(series.at_ms, series.value, threshold_c, upper_c)
        hours = np.diff(series.at_ms) / MS_PER_HOUR
        joined = hours <= LONGEST_JOINED_H
        night_h = (self._span.end_ms - self._span.start_ms) / MS_PER_HOUR
        missing = night_h - float(np.sum(hours[joined]))
        return DegreeDays(
            earned=float(np.sum(steps[joined])),
            threshold_c=threshold_c,
            measured=words,
            hours_missing=round(missing, 1) if missing >= 0.25 else 0.0,
        )


def _driving(stage: Stage) -> tuple[tuple[str, str], ...]:
    air = (Quantity.AIR_TEMPERATURE, "the air")
    if stage in (Stage.LARVA, Stage.PREPUPA):
        in_doubt = (Quantity.AIR_TEMPERATURE, "the air (a dense bin can run many degrees hotter)")
        return (Quantity.SUBSTRATE_TEMPERATURE, "the substrate"), in_doubt
    return air, (Quantity.SUBSTRATE_TEMPERATURE, "the substrate")


def _time_mean(at_ms: IntArray, value: FloatArray) -> float:
    """Mean over time of the line through the readings, so that dense readings weigh no more."""
    steps = np.diff(at_ms)
    total = float(np.sum(steps))
    return float(np.sum(0.5 * (value[1:] + value[:-1]) * steps)) / total if total else float(np.mean(value))


def _minutes_where(at_ms: IntArray, wanted: NDArray[np.bool_], longest_ms: int) -> float:
    """Minutes for which a condition held: each reading counts until the next one, at most `longest_ms`."""
    if len(at_ms) < 2:
        return 0.0
    lasts = np.minimum(np.diff(at_ms), longest_ms)
    return float(np.sum(lasts[wanted[:-1]]) / MS_PER_MINUTE)


def _ms(at: datetime) -> int:
    return round(at.timestamp() * MS_PER_SECOND)


def _first_run_ms(store: Store, span: Span) -> int:
    first = store.meta.get("first_started_ms")
    return span.end_ms if first is None else int(first)


def _care(
    rows: Iterable[NodeRow], plan: Plan, now_ms: int, doubts: Mapping[str, list[str]]
) -> Iterator[NodeCare]:
    for row in rows:
        reasons = (*_reasons(row, plan, now_ms), *doubts.get(row.facts.node, ()))
        if reasons:
            yield NodeCare(row.facts.node, row.place, reasons)


def _reasons(row: NodeRow, plan: Plan, now_ms: int) -> Iterator[str]:
    facts, node = row.facts, plan.nodes.get(row.facts.node)
    if facts.messages == 0 and node is not None:
        yield "never heard"
    elif row.silent:
        yield f"silent for {length_of_time(now_ms - facts.last_heard_ms)}"
    if not row.placed:
        yield "sends readings, but is not in the settings: `rearing-monitor nodes` shows what to add"
    if node and node.battery_low_v and row.battery_v is not None and row.battery_v < node.battery_low_v:
        yield f"battery low, {row.battery_v:.2f} V"
    if facts.clock_fault:
        yield f"its clock is wrong: {facts.clock_fault}"
    if facts.missing:
        yield f"{plural(facts.missing, 'message')} missing"
    if facts.conflicts:
        said = plural(facts.conflicts, "reading contradicts", "readings contradict")
        yield f"{said} an earlier one of the same time"
    if facts.rejected:
        yield f"{plural(facts.rejected, 'message')} not understood, last: {facts.last_reject_reason}"
