"""The site as it is between batches: quality memories, latest values, alarm states. No I/O, no clock.

`SiteState` hands back all its decisions as `AlarmChanges`, so that the service can write them in one
transaction and acknowledge afterwards. `AlarmViewBuilder` says what a message may tell of one alarm.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from operator import attrgetter

from monitor.alarms import state_machine
from monitor.alarms.place_values import Combined, PlaceValues, computed
from monitor.alarms.timing import LateFinds, Sample, at_rest, points_to_change, suppression_until
from monitor.climate import quality, trend
from monitor.climate.calibration import CalibrationTable
from monitor.climate.heat import minutes_to_overheating
from monitor.logbook.place_entries import Why
from monitor.records import (
    MS_PER_DAY,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Computed,
    Excursion,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Quantity,
    Reading,
    SensorKey,
    Side,
    Transition,
)
from monitor.service.guard_index import GuardIndex, PlaceFacts
from monitor.settings.plan import Plan

HEAT_WINDOW_MS = round(trend.LONGEST_WINDOW_MIN * MS_PER_MINUTE)
HEAT_STEP_MS = MS_PER_MINUTE
USUAL_GAPS = 1.5
HELD = "its setpoint was changed or its place newly filled a short while ago"
IN_USE = "the place is in use"
MONITOR = "monitor"
NOT_IN_READINGS = attrgetter("status", "active", "acknowledged", "since_ms", "stale", "shelved_until_ms")
"""What of a state stored readings cannot restore after a restart, so that a change of it is written."""
READ_AT_MS = attrgetter("reading.at_ms")
PASSED = "the high limit itself is passed, and its own alarm stands"


@dataclass(slots=True)
class AlarmChanges:
    """What one batch led to: flagged messages, alarm states, journal rows, excursions found late."""

    messages: list[FlaggedMessage] = field(default_factory=list)
    states: dict[str, AlarmState] = field(default_factory=dict)
    transitions: list[Transition] = field(default_factory=list)
    found_late: list[Excursion] = field(default_factory=list)


class SiteState:
    """Turns readings, the clock and requests into alarm transitions, following the plan."""

    def __init__(self, plan: Plan, states: Mapping[str, AlarmState], calibrations: CalibrationTable) -> None:
        self.plan, self._index = plan, GuardIndex(plan)
        self.states = dict(states)
        self.calibrations = calibrations
        self._memories: dict[SensorKey, quality.SensorMemory] = {}
        self._places: dict[str, PlaceValues] = {}
        self._heat: dict[str, list[tuple[int, float]]] = defaultdict(list)
        self._held_until_ms: dict[str, int] = {}
        self._held_otherwise: set[str] = set()
        self._late = LateFinds()
        self.worked_out: set[tuple[str, str]] = set()
        """Places and quantities whose alarms follow a figure that is worked out, not the bare readings."""
        self.calibrated_probes: frozenset[str] | None = None
        """The moisture probes with a calibration; what others say is no moisture. None: not known."""

    def change_plan(self, plan: Plan, now_ms: int) -> None:
        """Follow changed settings and what people said; a moved setpoint holds its alarm for a while.

        One that moved since another stage may live there holds nothing: nobody asked for it.
        """
        old, self.plan, self._index = self.plan, plan, GuardIndex(plan)
        moved = old.settings != plan.settings
        for alarm_id, rule in plan.rules.items() if moved else ():
            until_ms = self._held_after(old, rule, now_ms)
            if until_ms is not None:
                self._held_until_ms[alarm_id] = until_ms
        for place, values in self._places.items():
            values.forget(lambda sensor, _at_ms, place=place: plan.place_of(sensor) != place)  # type: ignore[misc]

    def clock_went_back(self, now_ms: int, margin_ms: int, by_ms: int = 0) -> None:
        """The machine's clock was ahead (by `by_ms`, if known) and is right again: nothing waits for then.

        Else an alarm would ignore every reading, and a shelf or a hold last, until that time has come. One
        that began before the clock went ahead ends earlier than was asked for: when in doubt, guard.
        """
        latest_ms = now_ms + margin_ms
        for name, state in self.states.items():
            self.states[name] = _not_ahead(state, latest_ms, now_ms, by_ms)
        self._held_until_ms = {name: end_ms - by_ms for name, end_ms in self._held_until_ms.items()}
        self._memories = {
            key: memory for key, memory in self._memories.items() if (memory.at_ms or 0) <= latest_ms
        }
        for place, values in self._places.items():
            values.forget(lambda _sensor, at_ms: at_ms > latest_ms)
            self._heat[place] = [point for point in self._heat[place] if point[0] <= latest_ms]

    def _held_after(self, old: Plan, rule: AlarmRule, now_ms: int) -> int | None:
        before, was = old.rules.get(rule.alarm_id), old.unguarded.get(rule.place)
        if before is None:
            return None
        if was is not None and was.why is Why.FILE and rule.place not in self.plan.unguarded:
            return suppression_until(rule, now_ms, None)
        return suppression_until(rule, now_ms, abs(rule.setpoint - before.setpoint))

    def _filled_until_ms(self, now_ms: int) -> dict[str, int]:
        """Until when the alarms of newly filled places are held, counted from the person's entry."""
        found: dict[str, int] = {}
        for alarm_id, rule in self.plan.rules.items():
            filled_ms = self.plan.words_of(rule.place).filled_ms
            if filled_ms is not None and filled_ms <= now_ms:
                until_ms = suppression_until(rule, filled_ms, None)
                if until_ms is not None and until_ms > now_ms:
                    found[alarm_id] = until_ms
        return found

    def follow_design(self, now_ms: int, changes: AlarmChanges) -> None:
        """Suppress by design what people and settings suppress: an empty place, a change just made."""
        held_until_ms = {name: end for name, end in self._held_until_ms.items() if end > now_ms}
        self._held_until_ms = {**held_until_ms, **self._filled_until_ms(now_ms)}
        for alarm_id, rule in self.plan.rules.items():
            held = HELD if alarm_id in self._held_until_ms else ""
            reason = self.plan.suppressed_by_design.get(alarm_id, held)
            why = self.plan.silenced_by(rule.place)
            said_by = why.said_by if why is not None and not held else ""
            if reason or alarm_id not in self._held_otherwise:
                self._suppress(alarm_id, bool(reason), now_ms, reason or IN_USE, changes, said_by or MONITOR)

    def take(self, message: NodeMessage, now_ms: int, changes: AlarmChanges) -> FlaggedMessage:
        """Flag and calibrate every reading, then step the alarms of the places that they belong to.

        What it changed before an error of the program stays in the changes.
        """
        flagged = FlaggedMessage(message, tuple(self._flag(reading) for reading in message.readings))
        changes.messages.append(flagged)
        self.feed(flagged.readings, now_ms, changes)
        return flagged

    def feed(self, readings: Iterable[FlaggedReading], now_ms: int, changes: AlarmChanges) -> None:
        """Step the alarms by readings that are flagged already (from a message, or from the store)."""
        told = (item for item in readings if not self._is_index(item.reading.sensor))
        for (place, quantity), combined in self._combine(told).items():
            if (place, quantity) in self.worked_out:
                continue
            for rule in self.plan.rules_of(place, quantity):
                if len(combined) > 1 or not self._stays_at_rest(rule, combined[0]):
                    samples = [value.sample(rule.side) for value in combined]
                    gap_s = self._longest_gap_s(rule, samples[0].at_ms)
                    self.step(rule, samples, now_ms, gap_s, changes)
            if quantity == Quantity.SUBSTRATE_TEMPERATURE:
                self._hush_forecast(place, now_ms, changes)

    def _stays_at_rest(self, rule: AlarmRule, value: Combined) -> bool:
        """Whether nothing goes on at an alarm and the value leaves it so; then it is noted and that is all.

        Nearly every reading of a farm where all is well ends here.
        """
        before = self.states.get(rule.alarm_id)
        if before is None:
            return False
        after = at_rest(before, rule, value.at_ms, value.of(rule.side))
        if after is None:
            return False
        self.states[rule.alarm_id] = after
        return True

    def _is_index(self, sensor: SensorKey) -> bool:
        if sensor.quantity != Quantity.SUBSTRATE_MOISTURE or self.calibrated_probes is None:
            return False
        return str(sensor) not in self.calibrated_probes

    def _longest_gap_s(self, rule: AlarmRule, at_ms: int) -> float:
        """The longest step that counts towards a delay [s]: longer where boards send more rarely than set.

        Else no delay would ever run for a board whose every reading comes after what counts as a gap.
        """
        planned_s, last_ms = self.plan.longest_gap_s(rule.place), self.state(rule.alarm_id).last_at_ms
        if last_ms is None or at_ms - last_ms <= planned_s * MS_PER_SECOND:
            return planned_s
        return max(planned_s, USUAL_GAPS * self._values(rule.place).usual_gap_s(rule.quantity))

    def _hush_forecast(self, place: str, now_ms: int, changes: AlarmChanges) -> None:
        """Once the high limit itself is passed, "overheats soon" has nothing to add: suppressed by design."""
        facts = self._index.facts(place)
        for name in facts.heat_forecasts:
            if name not in self._held_until_ms:
                hushed = self._is_hushed(place, facts, self.state(name), now_ms)
                self.suppress(name, hushed, now_ms, PASSED, changes)

    def _is_hushed(self, place: str, facts: PlaceFacts, forecast: AlarmState, now_ms: int) -> bool:
        """While the limit is passed, and after it while the trend still holds the readings from above it."""
        hottest = [self.state(name) for name in facts.heat_limits]
        if any(state.active for state in hottest):
            return True
        if forecast.status is not AlarmStatus.SUPPRESSED_BY_DESIGN or not forecast.active:
            return False
        last_true_ms = max((state.last_true_ms or 0 for state in hottest), default=0)
        window_ms = trend.window_min([at_ms for at_ms, _ in self._heat[place]]) * MS_PER_MINUTE
        return now_ms - last_true_ms < window_ms

    def step(
        self, rule: AlarmRule, samples: Sequence[Sample], now_ms: int, max_gap_s: float, changes: AlarmChanges
    ) -> None:
        """Advance one alarm by samples in the order of time."""
        before = self.state(rule.alarm_id)
        after = state_machine.advance_many(before, rule, samples, now_ms, max_gap_s)
        changes.found_late.extend(after.found_late)
        self._keep(before, after.state, after.transitions, changes)
        known_ms = before.last_at_ms
        past = [sample for sample in samples if known_ms is not None and sample.at_ms < known_ms]
        if past:
            changes.found_late.extend(self._late.take(rule, past, max_gap_s))

    def tick(self, now_ms: int, changes: AlarmChanges) -> None:
        """End shelves and holds whose time is over."""
        if any(end <= now_ms for end in self._held_until_ms.values()):
            self.follow_design(now_ms, changes)
        shelved = [state for state in self.states.values() if state.shelved_until_ms is not None]
        for before in shelved:
            rule = self.plan.rules.get(before.alarm_id)
            if rule is not None:
                after, transitions = state_machine.tick(before, rule, now_ms)
                self._keep(before, after, transitions, changes)

    def mark_silent(self, node: str, now_ms: int, limit_s: float, changes: AlarmChanges) -> None:
        """Note on the alarms of a silent node's places which quantities get no newer data from any sensor."""
        settings = self.plan.nodes[node]
        for place in dict.fromkeys((node, settings.place, *settings.probes.values())):
            values = None if place is None else self._places.get(place)
            if place is None or values is None:
                continue
            for quantity in values.quantities_of(node):
                if values.newest_ms(quantity) < now_ms - limit_s * MS_PER_SECOND:
                    self._mark_stale(place, quantity, now_ms, changes)

    def _mark_stale(self, place: str, quantity: str, now_ms: int, changes: AlarmChanges) -> None:
        if (place, quantity) in self.worked_out:
            return
        for rule in self.plan.rules_of(place, quantity):
            before = self.state(rule.alarm_id)
            after, transitions = state_machine.mark_stale(before, rule, now_ms)
            self._keep(before, after, transitions, changes)

    def is_suspect(self, place: str, quantity: str) -> bool:
        """Whether one of the newest values that a place and quantity rest on is flagged suspect."""
        return self._values(place).is_suspect(quantity) if place in self._places else False

    def change_per_hour(self, place: str, quantity: str, side: Side) -> float | None:
        """Change per hour over the last half hour, or None where too little is known."""
        return self._places[place].change_per_hour(quantity, side) if place in self._places else None

    def suppress(self, alarm_id: str, wanted: bool, now_ms: int, reason: str, changes: AlarmChanges) -> None:
        """Make one alarm suppressed by design, or not, as its readings want it.

        What is held back so stays so when people or settings change something else.
        """
        (self._held_otherwise.add if wanted else self._held_otherwise.discard)(alarm_id)
        known = self.states.get(alarm_id)
        if not wanted and known is not None and known.status is not AlarmStatus.SUPPRESSED_BY_DESIGN:
            return
        self._suppress(alarm_id, wanted, now_ms, reason, changes, MONITOR)

    def _suppress(
        self, alarm_id: str, wanted: bool, now_ms: int, reason: str, changes: AlarmChanges, actor: str
    ) -> None:
        before, rule = self.state(alarm_id), self.plan.rules[alarm_id]
        after, transitions = state_machine.suppress(before, rule, wanted, now_ms, reason, actor)
        self._keep(before, after, transitions, changes)

    def request(
        self,
        alarm_id: str,
        event: AlarmEvent,
        now_ms: int,
        actor: str,
        reason: str,
        until_ms: int | None,
        changes: AlarmChanges,
    ) -> None:
        """Carry out what a person asks of one alarm; raises MonitorError when it cannot be."""
        before = self.state(alarm_id)
        rule, suppressed = self.plan.rules[alarm_id], alarm_id in self.plan.suppressed_by_design
        after, rows = state_machine.request(before, rule, event, now_ms, actor, reason, until_ms, suppressed)
        self._keep(before, after, rows, changes)

    def state(self, alarm_id: str) -> AlarmState:
        """The state of one alarm; one never heard of is normal."""
        return self.states.get(alarm_id) or AlarmState(alarm_id)

    def _keep(
        self, before: AlarmState, after: AlarmState, transitions: Sequence[Transition], changes: AlarmChanges
    ) -> None:
        self.states[after.alarm_id] = after
        changes.transitions.extend(transitions)
        if (
            transitions
            or NOT_IN_READINGS(before) != NOT_IN_READINGS(after)
            or self.is_turning(before) is not self.is_turning(after)
        ):
            changes.states[after.alarm_id] = after

    def is_turning(self, state: AlarmState) -> bool:
        """Whether a delay of an alarm runs: a value beyond the limit, or back, that is still waited for."""
        rule = self.plan.rules.get(state.alarm_id)
        return rule is not None and points_to_change(state, rule, state.last_value)

    def _flag(self, reading: Reading) -> FlaggedReading:
        return quality.flagged(reading, self._memories, self.calibrations)

    def _combine(self, readings: Iterable[FlaggedReading]) -> dict[tuple[str, str], list[Combined]]:
        collected: dict[tuple[str, str], list[Combined]] = defaultdict(list)
        for at_ms, group in groupby(readings, key=READ_AT_MS):
            touched = set()
            for item in group:
                place = self._index.place_of(item.reading.sensor)
                if place is not None:
                    quantity, values = item.reading.sensor.quantity, self._values(place)
                    if not values.is_overtaken(item):
                        touched.add(place)
                    collected[place, quantity].append(values.note(item, item.flag.usable))
            for place in touched:
                for quantity, value in self._computed(place, at_ms).items():
                    collected[place, quantity].append(Combined(at_ms, value, value, False))
        return collected

    def _values(self, place: str) -> PlaceValues:
        values = self._places.get(place)
        if values is None:
            values = self._places[place] = PlaceValues(self.plan.longest_gap_s(place))
        return values

    def _computed(self, place: str, at_ms: int) -> dict[str, float]:
        facts, found = self._index.facts(place), dict[str, float]()
        if not facts.computes:
            return found
        values = self._values(place)
        if facts.needs_air:
            found.update(computed(values.current(at_ms), facts.surface_colder_by_k))
        if facts.excess_room is None and facts.heat_limit_c is None:
            return found
        temperature_c = values.mean(Quantity.SUBSTRATE_TEMPERATURE, at_ms)
        if temperature_c is None:
            return found
        if facts.excess_room is not None:
            air_c = self._values(facts.excess_room).mean(Quantity.AIR_TEMPERATURE, at_ms)
            if air_c is not None:
                found[Computed.SUBSTRATE_EXCESS] = temperature_c - air_c
        if facts.heat_limit_c is not None:
            minutes = self._minutes_to_overheating(place, at_ms, temperature_c, facts.heat_limit_c)
            if minutes is not None:
                found[Computed.MINUTES_TO_OVERHEATING] = minutes
        return found

    def _minutes_to_overheating(
        self, place: str, at_ms: int, temperature_c: float, limit_c: float
    ) -> float | None:
        points = self._heat[place]
        if points and at_ms - points[-1][0] < HEAT_STEP_MS:
            return None
        points.append((at_ms, temperature_c))
        self._heat[place] = points = [point for point in points if at_ms - point[0] <= HEAT_WINDOW_MS]
        return minutes_to_overheating([at for at, _ in points], [value for _, value in points], limit_c)


def _not_ahead(state: AlarmState, latest_ms: int, now_ms: int, by_ms: int) -> AlarmState:
    if state.last_at_ms is not None and state.last_at_ms > latest_ms:
        state = replace(state, last_at_ms=now_ms, last_value=None, progress_s=0.0)
    since_ms, true_ms = state.since_ms, state.last_true_ms
    if max(since_ms or 0, true_ms or 0) > latest_ms:
        state = replace(state, since_ms=_at_most(since_ms, now_ms), last_true_ms=_at_most(true_ms, now_ms))
    if state.shelved_until_ms is not None:
        longest_ms = now_ms + state_machine.LONGEST_SHELF_DAYS * MS_PER_DAY
        state = replace(state, shelved_until_ms=min(state.shelved_until_ms - by_ms, longest_ms))
    return state


def _at_most(at_ms: int | None, now_ms: int) -> int | None:
    return None if at_ms is None else min(at_ms, now_ms)
