"""Alarms as text: those that are not normal, all of them, the journal, and how healthy they are. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import tzinfo

from monitor.model.alarm_metrics import LEAST_DAYS, AlarmHealth
from monitor.notify.phrases import clock_time, length_of_time, measured, quantity_title
from monitor.records import MS_PER_HOUR, AlarmEvent, AlarmState, AlarmStatus, Transition
from monitor.settings.plan import Plan
from monitor.views.alarm_words import condition, subject
from monitor.views.layout import entry, moment, plural
from monitor.views.now_text import SIGNS
from monitor.views.view_records import ActiveAlarm

STATUS_WORDS: Mapping[AlarmStatus, str] = {
    AlarmStatus.NORMAL: "normal",
    AlarmStatus.UNACKNOWLEDGED: "nobody has acknowledged it",
    AlarmStatus.ACKNOWLEDGED: "acknowledged",
    AlarmStatus.RETURNED_UNACKNOWLEDGED: "over, but nobody has acknowledged it",
    AlarmStatus.SHELVED: "shelved",
    AlarmStatus.SUPPRESSED_BY_DESIGN: "held back, as the settings or a change just made want it",
    AlarmStatus.OUT_OF_SERVICE: "out of service",
}
_EVENT_WORDS: Mapping[AlarmEvent, str] = {
    AlarmEvent.ACTIVATE: "came",
    AlarmEvent.CLEAR: "over",
    AlarmEvent.ACKNOWLEDGE: "acknowledged",
    AlarmEvent.SHELVE: "shelved",
    AlarmEvent.UNSHELVE: "shelf ended by hand",
    AlarmEvent.SHELF_END: "shelf ended",
    AlarmEvent.SUPPRESS: "held back",
    AlarmEvent.UNSUPPRESS: "no longer held back",
    AlarmEvent.TAKE_OUT: "taken out of service",
    AlarmEvent.PUT_BACK: "put back into service",
}
_INDENT = 5


def open_lines(
    alarms: Iterable[ActiveAlarm], numbers: Mapping[str, int], now_ms: int, zone: tzinfo, width: int = 80
) -> list[str]:
    """Every alarm that is not normal, with what to do and what to beware of."""
    lines: list[str] = []
    for alarm in alarms:
        rule, state = alarm.rule, alarm.state
        sign = SIGNS[rule.priority] if alarm.stands else " "
        what = condition(rule, alarm.value) if alarm.stands else subject(rule)
        text = f"{sign} {rule.priority.upper()} {alarm.title}: {what}"
        text += f"; {_status(state, now_ms, zone)}"
        lines += entry(f"{numbers[rule.alarm_id]:>3}  ", text, width, _INDENT)
        if alarm.stands:
            lines += _below(f"If nobody acts: {rule.consequence}" if rule.consequence else "", width)
            lines += _below(f"Do: {rule.response}", width)
            lines += _below(f"Beware: {rule.caution}" if rule.caution else "", width)
        lines += _below(f"Name: {rule.alarm_id}", width)
    return lines or ["No alarm is active, shelved or out of service."]


def _below(text: str, width: int) -> list[str]:
    return entry(" " * _INDENT, text, width, _INDENT) if text else []


def _status(state: AlarmState, now_ms: int, zone: tzinfo) -> str:
    words = STATUS_WORDS[state.status]
    if state.status is AlarmStatus.SHELVED and state.shelved_until_ms is not None:
        words = f"shelved until {clock_time(state.shelved_until_ms, now_ms, zone)}"
    if state.since_ms is not None:
        words += f", since {clock_time(state.since_ms, now_ms, zone)}"
    if state.stale and state.last_true_ms is not None:
        words += f"; no newer reading, last seen true at {clock_time(state.last_true_ms, now_ms, zone)}"
    return words


def every_line(
    plan: Plan, states: Mapping[str, AlarmState], numbers: Mapping[str, int], width: int = 80
) -> list[str]:
    """Every alarm that the settings make, with its number and state."""
    lines: list[str] = []
    for alarm_id, rule in plan.rules.items():
        state = states.get(alarm_id) or AlarmState(alarm_id)
        text = f"{plan.title(rule.place)}: {subject(rule)}, {rule.priority}"
        text += "" if state.status is AlarmStatus.NORMAL else f"; {STATUS_WORDS[state.status]}"
        lines += entry(f"{numbers[alarm_id]:>3}  ", text, width, _INDENT)
    return lines or ["The settings make no alarm: there is no [[places]] and no [[nodes]] table."]


def journal_lines(rows: Iterable[Transition], plan: Plan, zone: tzinfo, width: int = 80) -> list[str]:
    """What became of alarms, one entry for each change, in the order of time."""
    lines: list[str] = []
    for row in rows:
        value = "" if row.value is None else f" at {measured(row.quantity, row.value, against=row.setpoint)}"
        who = "" if row.actor == "monitor" else f" by {row.actor}"
        why = f" ({row.reason})" if row.reason else ""
        text = f"{row.priority.upper()} {plan.title(row.place)}: {quantity_title(row.quantity)}"
        text += f" {_EVENT_WORDS[row.event]}{value}{who}{why}"
        lines += entry(f"{moment(row.at_ms, zone)}  ", text, width, _INDENT)
    return lines or ["Nothing happened to any alarm in that time."]


def health_lines(found: AlarmHealth, plan: Plan, width: int = 80) -> list[str]:
    """How good the alarms themselves are: too many, too often, too long; by the measures of ISA-18.2."""
    lines = [f"Alarm health over {found.days:.0f} days (measures of ISA-18.2 / IEC 62682)"]
    if not found.graded:
        lines.append(f"Under {LEAST_DAYS:.0f} days these figures are no ground for a verdict yet.")
    for text in (*_rates(found), *_offenders(found, plan)):
        lines += entry("  ", text, width, 4)
    return lines


def _rates(found: AlarmHealth) -> Iterator[str]:
    yield f"alarms told: {found.annunciations}, that is {found.per_day:.1f} a day"
    yield f"most in ten minutes: {found.peak_10_min}"
    flood = length_of_time(round(found.flood_minutes * MS_PER_HOUR / 60)) if found.flood_minutes else "none"
    yield f"in flood (more than 10 in ten minutes): {flood}, {found.flood_percent:.1f} % of the time"
    shares = ", ".join(f"{name} {share:.0%}" for name, share in found.priority_shares.items())
    if found.annunciations:
        yield f"by priority: {shares}"


def _offenders(found: AlarmHealth, plan: Plan) -> Iterator[str]:
    if found.most_frequent:
        yield f"most frequent ({found.top_10_share:.0%} of all):"
    for alarm_id, count in found.most_frequent:
        yield f"  {count} times {_name(alarm_id, plan)}"
    for alarm_id in found.chattering:
        yield f"chatters (comes and goes; widen its deadband or delay): {_name(alarm_id, plan)}"
    for alarm_id, hours in found.stale:
        yield f"stood for more than a day ({hours:.0f} h): {_name(alarm_id, plan)}"
    if not found.chattering and not found.stale:
        yield "none chatters, none stood for more than a day"
    if found.stale_on_worst_day > 1:
        yield f"on the worst day {plural(found.stale_on_worst_day, 'alarm')} stood for more than a day"


def _name(alarm_id: str, plan: Plan) -> str:
    rule = plan.rules.get(alarm_id)
    if rule is None:
        return f"{alarm_id} (no longer in the settings)"
    return f"{plan.title(rule.place)}: {quantity_title(rule.quantity)}, {rule.side} {rule.priority}"
