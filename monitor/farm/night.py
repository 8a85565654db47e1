"""A night as the report and the page need it, read out of the store; and the week at a glance."""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from monitor.climate import psychrometrics
from monitor.climate.heat import USUAL_DAYS, HeatPast, heat_past
from monitor.development.degree_days import degree_days_of_steps
from monitor.errors import StoreError
from monitor.farm.night_alarms import SET_ASIDE, NightAlarms, late_excursions
from monitor.farm.night_records import (
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
    Span,
)
from monitor.farm.occupancy import UnguardedNight, kept_noted, plan_then, unguarded_between
from monitor.farm.place_reader import KeptReadings, PlacedSensors, PlaceReader
from monitor.farm.places import SiteReader, calibrated_probes, never_heard, sign_of_life
from monitor.farm.records import ActiveAlarm, NodeRow
from monitor.farm.today import Outlook
from monitor.logbook.place_entries import Noted
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmRule,
    Flag,
    PlaceKind,
    Quantity,
    SensorKey,
    Side,
    Stage,
)
from monitor.settings.plan import Plan
from monitor.settings.schema import Place
from monitor.store import Store
from monitor.store.copies import CopyState
from monitor.store.copies import states as copy_states
from monitor.store.readings import Series, excursions, extremes, gaps, minutes_where, time_mean

if TYPE_CHECKING:
    from monitor.farm.bins import BinsView
    from monitor.farm.cohorts import ForecastView
    from monitor.farm.yields import YieldsAhead, YieldWeek

log = logging.getLogger(__name__)

DOUBTFUL_MINUTES = 30.0
GRACE_MS = 2 * MS_PER_MINUTE
DEFAULT_THRESHOLD_C = 12.0
LONGEST_JOINED_H = 2.0
HEARTBEAT_LOST = "heartbeat_lost_ms"
"""Under this key the store keeps since when the heartbeat is not taken."""
HEARTBEAT_TOLD_MS = MS_PER_HOUR
"""A heartbeat that is not taken for so long is told in the report [ms]. Own choice."""

Result = TypeVar("Result")


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


def newest_night(plan: Plan, now_ms: int) -> Span:
    """The night that runs; between two nights the last one."""
    last = last_night(plan, now_ms)
    tonight = night_of(plan, date.fromisoformat(last.date) + timedelta(days=1))
    return tonight if tonight.start_ms <= now_ms else last


def running_day(plan: Plan, now_ms: int) -> Span | None:
    """The day from the end of the last night to the evening; None while a night runs."""
    last = last_night(plan, now_ms)
    tonight = night_of(plan, date.fromisoformat(last.date) + timedelta(days=1))
    return None if tonight.start_ms <= now_ms else Span(last.end_ms, tonight.start_ms, last.date, by_day=True)


class NightReader:
    """Reads one night; every series is read once. A part that fails says so, the rest goes on.

    `bins` and `forecast` give filled bins and cohorts where they are kept already, `kept` are readings of an
    earlier look. A `brief` night leaves out of a quiet place what is told of the others only.
    """

    def __init__(
        self,
        store: Store,
        plan: Plan,
        span: Span,
        now_ms: int,
        bins: Callable[[], BinsView] | None = None,
        forecast: Callable[[], ForecastView] | None = None,
        *,
        brief: bool = False,
        kept: KeptReadings | None = None,
    ) -> None:
        self._store, self._plan, self._night, self._now_ms = store, plan, span, now_ms
        self._bins, self._forecast, self._brief = bins, forecast, brief
        # Of a night that is not over yet, what lies ahead is not missing.
        self._span = replace(span, end_ms=min(span.end_ms, now_ms))
        self.of_now = span.end_ms > now_ms or span == newest_night(plan, now_ms)
        self.sensors = PlacedSensors(store, plan)
        self._kept = kept or KeptReadings()
        self._series: dict[SensorKey, Series] = {}
        self._joins: dict[tuple[str, str], Series | None] = {}
        self._reaches: dict[SensorKey, tuple[float, float]] = {}
        self.failed: dict[str, str] = {}
        self._alarms = NightAlarms(store, plan, (self._span.start_ms, self._span.end_ms), now_ms)

    @cached_property
    def _calibrated(self) -> frozenset[str]:
        return calibrated_probes(self._store)

    @cached_property
    def now(self) -> SiteReader:
        return SiteReader(self._store, self._plan, self._now_ms, self._bins, self._forecast)

    @cached_property
    def then(self) -> Plan:
        """The plan with the limits that held at the end of the night; of one that runs those of now."""
        if self._night.end_ms > self._now_ms:
            return self._plan
        return plan_then(self._store, self._plan, self._night.end_ms)

    @cached_property
    def _said(self) -> UnguardedNight:
        """What people had said of places by then; an earlier night knows nothing of what time did since."""
        noted = kept_noted(self._store) if self.of_now else Noted()
        entries = self._store.logbook.every()
        return unguarded_between(self._plan, entries, noted, self._span.start_ms, self._span.end_ms)

    def summary(self) -> NightSummary:
        """What happened in the night, and what was wrong at its end, or is wrong now."""
        store, plan, span = self._store, self._plan, self._span
        first_run_ms = int(store.meta.get("first_started_ms") or self._night.end_ms)
        since_ms = self._told_to_ms()
        places = tuple(self._place_or_failure(place) for place in plan.places.values())
        known_ms = self._now_ms if self.of_now else span.end_ms
        alarms = self.part("alarms", lambda: tuple(map(self._with_extreme, self._alarms.came))) or ()
        late = self.part("late", lambda: self._late(since_ms)) or ()
        standing, aside = self.part("standing", self._standing) or ((), ())
        return NightSummary(
            title=plan.settings.site.title,
            date=span.date,
            start_ms=span.start_ms,
            end_ms=self._night.end_ms,
            places=places,
            alarms=alarms,
            found_late=late,
            still_active=standing,
            downtime=store.runs.downtime(max(span.start_ms, first_run_ms), span.end_ms, GRACE_MS),
            unsent_messages=store.outbox.unsent(since_ms, span.end_ms, known_ms),
            set_aside=aside,
            until_ms=span.end_ms,
            of_now=self.of_now,
            unknown=self._unknown(places),
            running=not self.of_now or sign_of_life(store, self._now_ms)[0],
            began_ms=first_run_ms,
            heartbeat_lost_ms=self._heartbeat_lost_ms(),
            copies_failed=self._copies_failed(),
            failed=dict(self.failed),
            by_day=span.by_day,
        )

    def read_ahead(self) -> None:
        """Read what was measured, so that a later look only reads on."""
        _ = self._raw

    def _told_to_ms(self) -> int:
        """Up to when the report before told: what came to light since then is told now."""
        if self._span.by_day:
            return self._span.start_ms
        return night_of(self._plan, date.fromisoformat(self._span.date) - timedelta(days=1)).end_ms

    def report(self) -> NightReport:
        """The night with what it asks of the day, as it was known on that morning."""
        yields = self.part("yields", self.yields)
        night = self.summary()
        boards = self.part("boards", lambda: tuple(self._boards_in_need())) or ()
        end_ms = self._span.end_ms
        outlook = Outlook(self._store, self._plan, end_ms, known_ms=end_ms if end_ms < self._now_ms else None)
        hands = (self.now.boards(), self.now.alarms()) if self.of_now else ()
        return NightReport(night, boards, outlook.today(*hands), self.failed.get("boards", ""), yields)

    def yields(self, ahead: Callable[[], YieldsAhead] | None = None) -> YieldWeek | None:
        """Of a night to a Monday the week that is over, and what is to come; of any other None."""
        from monitor.farm.yields import yield_week

        monday = date.fromisoformat(self._span.date).weekday() == 0
        if self._span.by_day or not monday or not self._store.logbook.newest_id():
            return None
        at_ms, now_ms = self._night.end_ms, self._now_ms
        if at_ms >= now_ms:
            # It runs: until Monday began by the clock, the week is not over.
            midnight = datetime.combine(date.fromisoformat(self._span.date), time(), self._plan.zone)
            at_ms = now_ms
            if now_ms < _ms(midnight):
                return None
        return yield_week(self._store, self._plan, at_ms, None if self.of_now else at_ms, ahead)

    def part(self, name: str, work: Callable[[], Result]) -> Result | None:
        """What a part gives; None where it meets an error of the program, whose name is kept.

        An error of the store is raised: what cannot be read now is tried again.
        """
        try:
            return work()
        except StoreError:
            raise
        except Exception as error:
            log.exception("%s of the night to %s could not be worked out", name, self._span.date)
            self.failed[name] = type(error).__name__
            return None

    def _standing(self) -> tuple[tuple[ActiveAlarm, ...], tuple[ActiveAlarm, ...]]:
        """The alarms that stand, and those that were put aside: now, or at the end of an earlier night."""
        if not self.of_now:
            then = tuple(self._alarms.stood_at_end())
            return tuple(map(self._as_measured_then, then)), tuple(self._alarms.aside_at_end())
        alarms = self.now.alarms()
        return (
            tuple(alarm for alarm in alarms if alarm.stands),
            tuple(alarm for alarm in alarms if alarm.state.status in SET_ASIDE),
        )

    def _as_measured_then(self, alarm: ActiveAlarm) -> ActiveAlarm:
        """The alarm with the last value before the end of the night, where it is about a measured one."""
        series = self._joined(alarm.rule.place, alarm.rule.quantity)
        if series is None:
            return alarm
        stale = self._span.end_ms - int(series.at_ms[-1]) > self._limit_ms(alarm.rule.place)
        state = replace(alarm.state, stale=stale, last_true_ms=int(series.at_ms[-1]) if stale else None)
        return replace(alarm, value=float(series.value[-1]), state=state)

    def _unknown(self, places: Iterable[PlaceNight]) -> int:
        """Places with animals of which nothing is known now, or was when an earlier night ended."""
        if self.of_now:
            lived_in = [place.id for place in self._plan.places.values() if not place.empty]
            return sum(not self.now.is_known(place) for place in lived_in)
        return sum(not (place.empty or place.known_at_end) for place in places)

    def _heartbeat_lost_ms(self) -> int | None:
        """Since when the heartbeat is not taken, where that is long enough to be told."""
        wanted = self._plan.settings.messages.heartbeat_url is not None
        text = self._store.meta.get(HEARTBEAT_LOST) if self.of_now and wanted else None
        since_ms = int(text) if text else None
        told = since_ms is not None and self._now_ms - since_ms >= HEARTBEAT_TOLD_MS
        return since_ms if told else None

    def _copies_failed(self) -> tuple[CopyState, ...]:
        known = copy_states(self._store.meta, self._plan.settings) if self.of_now else ()
        return tuple(state for state in known if state.fault is not None)

    def series(self, sensor: SensorKey) -> Series:
        """The usable, calibrated readings of a sensor in the night."""
        if sensor not in self._series:
            span = self._span.start_ms, self.sensors.before(sensor, self._span.end_ms)
            calibrations = self.sensors.calibrations.of(sensor)
            if sensor in self._raw:
                found = self._raw[sensor].between(*span).calibrated(calibrations, sensor.quantity)
            else:
                found = self._store.readings.series(sensor, *span, calibrations)
            self._series[sensor] = found.usable()
        return self._series[sensor]

    @cached_property
    def _raw(self) -> dict[SensorKey, Series]:
        """What the sensors of all places said in the night, but for batteries, which few ask about."""
        places = [place for place in self.sensors.places if place in self._plan.places]
        sensors = [sensor for place in places for sensor in self.sensors.of(place)]
        wanted = [sensor for sensor in sensors if sensor.quantity != Quantity.BATTERY]
        return self._kept.readings(self._store, wanted, self._span.start_ms, self._span.end_ms)

    def _boards_in_need(self) -> Iterator[BoardCare]:
        doubtful: dict[str, list[DoubtfulSensor]] = defaultdict(list)
        for place in self.sensors.places:
            limit_ms = self._limit_ms(place)
            for sensor in self.sensors.of(place):
                series = self.series(sensor)
                minutes = minutes_where(series.at_ms, series.flag == Flag.SUSPECT, limit_ms)
                if minutes >= DOUBTFUL_MINUTES:
                    doubtful[sensor.node].append(DoubtfulSensor(sensor, minutes))
        for row in self.now.boards():
            sensors = tuple(doubtful.get(row.facts.node, ()))
            if sensors or (self.of_now and row.needs_care):
                yield BoardCare(row if self.of_now else _as_told_then(row), sensors)

    def _place_or_failure(self, place: Place) -> PlaceNight:
        name = f"place {place.id}"
        nothing = PlaceNight(place.id, self._plan.title(place.id), place.kind, False, (), None, None)
        found = self.part(name, lambda: self._place(place)) or nothing
        return replace(found, failed=self.failed.pop(name, ""))

    def _place(self, place: Place) -> PlaceNight:
        quantities = tuple(self._quantities(place.id))
        measured = {each.quantity for each in quantities}
        unmeasured = {sensor.quantity for sensor in self.sensors.of(place.id)} - measured if measured else ()
        found = PlaceNight(
            id=place.id,
            title=self._plan.title(place.id),
            kind=place.kind,
            empty=place.id in self._said.empty,
            unguarded=self._said.places.get(place.id, ()),
            quantities=quantities,
            air=self._air(place),
            degree_days=None,
            missing=tuple(each for each in sorted(unmeasured) if self.then.rules_of(place.id, each)),
            known_at_end=self._known_at_end(place.id),
        )
        if self._brief and found.quiet:
            return found
        return replace(found, degree_days=self._degree_days(place), heat=self._heat(place))

    @cached_property
    def _hours(self) -> PlaceReader:
        return PlaceReader(self._store, self._plan, self._span.end_ms, self.sensors)

    def _heat(self, place: Place) -> HeatPast | None:
        if place.kind is not PlaceKind.GROW_OUT_BIN:
            return None
        return heat_past(*self._hours.hottest(place.id, self._span.end_ms - USUAL_DAYS * MS_PER_DAY))

    def _known_at_end(self, place: str) -> bool:
        newest = [int(series.at_ms[-1]) for series in self._of_place(place) if len(series)]
        return bool(newest) and self._span.end_ms - max(newest) <= self._limit_ms(place)

    def _of_place(self, place: str) -> Iterator[Series]:
        return (
            self.series(sensor) for sensor in self.sensors.of(place) if sensor.quantity != Quantity.BATTERY
        )

    def _limit_ms(self, place: str) -> int:
        """How long a place may be silent."""
        return round(self._plan.longest_gap_s(place) * MS_PER_SECOND)

    def _with_extreme(self, alarm: AlarmNight) -> AlarmNight:
        return replace(alarm, extreme=self._extreme(alarm))

    def _extreme(self, alarm: AlarmNight) -> float | None:
        """The farthest value from the on-delay before the annunciation to its end; None for computed ones."""
        rule = alarm.rule
        if rule is None:
            return alarm.value
        since_ms = alarm.began_ms - round(rule.on_delay_s * MS_PER_SECOND)
        until_ms = self._span.end_ms if alarm.over_ms is None else alarm.over_ms
        parts = [
            self._between(sensor, since_ms, until_ms) for sensor in self.sensors.of(rule.place, rule.quantity)
        ]
        values = [float(value) for part in parts for value in part.value]
        values += [] if alarm.value is None else [alarm.value]
        return (max if rule.side is Side.HIGH else min)(values, default=None)

    def _between(self, sensor: SensorKey, since_ms: int, until_ms: int) -> Series:
        """Readings from one moment to another, that one included; an alarm may reach beyond the night."""
        if self._span.start_ms <= since_ms and until_ms < self._span.end_ms:
            series = self.series(sensor)
            within = (series.at_ms >= since_ms) & (series.at_ms <= until_ms)
            return Series(series.at_ms[within], series.value[within], series.flag[within])
        calibrations = self.sensors.calibrations.of(sensor)
        return self._store.readings.series(sensor, since_ms, until_ms + 1, calibrations).usable()

    def _late(self, found_from_ms: int) -> tuple[LateExcursion, ...]:
        """Excursions that nobody was told of: of this night, and those found since the night before."""
        span, told_of = self._span, self._alarms.told_of()
        known = (rule for name, rule in self.then.rules.items() if name in self._plan.rules)
        rules = (rule for rule in known if rule.alarm_id not in told_of)
        fresh = [late for rule in rules for late in self._unraised(rule)]
        if fresh and self.of_now:
            states = self._store.journal.states().items()
            aside = {name for name, state in states if state.status in SET_ASIDE}
            held_back = aside.union(self._plan.suppressed_by_design)
            fresh = [late for late in fresh if late.rule.alarm_id not in held_back]
        return late_excursions(self._store, self._plan, found_from_ms, span.end_ms, fresh)

    def _unraised(self, rule: AlarmRule) -> Iterator[LateExcursion]:
        join_ms = self._limit_ms(rule.place)
        for sensor in self.sensors.of(rule.place, rule.quantity):
            above, series = rule.side is Side.HIGH, self.series(sensor)
            low, high = self._reach(sensor)
            if not (high > rule.setpoint if above else low < rule.setpoint):
                continue
            for run in excursions(series, rule.setpoint, above=above, join_ms=join_ms):
                if run.end_ms - run.start_ms >= rule.on_delay_s * MS_PER_SECOND:
                    title = self._plan.title(rule.place)
                    yield LateExcursion(title, rule, run.start_ms, run.end_ms, run.extreme)

    def _reach(self, sensor: SensorKey) -> tuple[float, float]:
        """The lowest and the highest value of a sensor, which tell at once that no limit was passed."""
        if sensor not in self._reaches:
            value = self.series(sensor).value
            found = (float(value.min()), float(value.max())) if len(value) else (np.inf, -np.inf)
            self._reaches[sensor] = found
        return self._reaches[sensor]

    def _joined(self, place: str, quantity: str) -> Series | None:
        """The readings of all sensors of a quantity of a place in the order of time."""
        if (place, quantity) not in self._joins:
            self._joins[place, quantity] = self._join(place, quantity)
        return self._joins[place, quantity]

    def _join(self, place: str, quantity: str) -> Series | None:
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
        heard = {sensor.quantity for sensor in self.sensors.of(place)} - {Quantity.BATTERY}
        for quantity in (each for each in Quantity if each in heard):
            series = self._joined(place, quantity)
            if series is not None:
                yield self._quantity(place, quantity, series)

    def _quantity(self, place: str, quantity: str, series: Series) -> QuantityNight:
        found = extremes(series)
        if found is None:
            raise ValueError("a series that is joined has a value")
        limit_ms = self._limit_ms(place)
        holes = gaps(series.at_ms, self._span.start_ms, self._span.end_ms, limit_ms)
        is_index = self._is_index(place, quantity)
        return QuantityNight(
            quantity=quantity,
            lowest=Extreme(found.lowest, found.lowest_ms),
            highest=Extreme(found.highest, found.highest_ms),
            mean=time_mean(series.at_ms, series.value),
            minutes_out=0.0 if is_index else self._minutes_out(place, quantity, series, limit_ms),
            gap_minutes=sum(end - start for start, end in holes) / MS_PER_MINUTE,
            is_index=is_index,
        )

    def _is_index(self, place: str, quantity: str) -> bool:
        """Whether no moisture probe of a place is calibrated: then what they say is an index."""
        if quantity != Quantity.SUBSTRATE_MOISTURE:
            return False
        return not any(str(sensor) in self._calibrated for sensor in self.sensors.of(place, quantity))

    def _minutes_out(self, place: str, quantity: str, series: Series, limit_ms: int) -> float:
        lowest, highest = float(series.value.min()), float(series.value.max())
        passed = [
            series.value > rule.setpoint if rule.side is Side.HIGH else series.value < rule.setpoint
            for rule in self.then.rules_of(place, quantity)
            if (highest > rule.setpoint if rule.side is Side.HIGH else lowest < rule.setpoint)
        ]
        return minutes_where(series.at_ms, np.logical_or.reduce(passed), limit_ms) if passed else 0.0

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
        limit_ms = self._limit_ms(place.id)
        return AirNight(
            mean_deficit_pa=time_mean(humidity.at_ms, deficit),
            highest_deficit_pa=float(np.max(deficit)),
            dew_point_c=float(np.max(dew_c)),
            lowest_margin_k=float(margin[at]),
            margin_at_ms=int(humidity.at_ms[at]),
            minutes_condensing=minutes_where(humidity.at_ms, margin <= 0.0, limit_ms),
        )

    def _degree_days(self, place: Place) -> DegreeDays | None:
        stage = self._plan.stage_of(place)
        if stage is None or place.id in self._said.empty:
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


def _as_told_then(row: NodeRow) -> NodeRow:
    """A board under an earlier night: what it lacks today is not of that night."""
    return NodeRow(never_heard(row.facts.node), row.place, known=True, silent=False, battery_v=None)


def _ms(at: datetime) -> int:
    return round(at.timestamp() * MS_PER_SECOND)
