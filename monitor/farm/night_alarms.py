"""The alarms of a night as the journal tells them: what came, what stood at its end, what was put aside.

A night that is past is told as it was, whatever the alarms, the rules and the limits are today.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cached_property

from monitor.farm.night_records import AlarmNight, LateExcursion
from monitor.farm.records import ActiveAlarm
from monitor.records import (
    MS_PER_DAY,
    STANDING,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Excursion,
    Side,
    Transition,
)
from monitor.settings.plan import Plan
from monitor.store import Store

LOOK_BACK_MS = 8 * MS_PER_DAY
SET_ASIDE = frozenset({AlarmStatus.SHELVED, AlarmStatus.OUT_OF_SERVICE})
_CONDITION = (AlarmEvent.ACTIVATE, AlarmEvent.CLEAR)
_ENDINGS = (AlarmEvent.CLEAR, AlarmEvent.SUPPRESS)
_ASIDE = (AlarmEvent.SHELVE, AlarmEvent.TAKE_OUT)


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
