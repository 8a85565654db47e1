"""Alarms as text: those that are not normal, all of them, the journal, and how healthy they are. Pure.

One alarm in a few words: what is beyond which limit, or what is missing for how long. Pure.

A rule in plain words: what a place is guarded for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import tzinfo

from monitor.alarms.health import LEAST_DAYS, AlarmHealth
from monitor.farm.records import ActiveAlarm
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    QUANTITIES,
    AlarmEvent,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    Computed,
    Priority,
    Quantity,
    Side,
    Transition,
)
from monitor.settings.plan import Plan
from monitor.words.alarm_messages import breach
from monitor.words.phrases import (
    clock_time,
    entry,
    length_of_time,
    limit,
    measured,
    moment,
    plural,
    quantity_title,
)

SIGNS: Mapping[str, str] = {
    "high": "▲",
    "medium": "◆",
    "low": "●",
    "unknown": "?",
    "fine": "○",
    "empty": "–",
}


_LASTING: Mapping[str, str] = {
    Computed.SILENT_MINUTES: "no readings",
    Computed.DEAD_SENSOR_MINUTES: "no good reading",
    Computed.UNSENT_MESSAGE_MINUTES: "messages wait unsent",
}
_WHATEVER_VALUE: Mapping[str, str] = {
    Computed.MINUTES_TO_OVERHEATING: "heading for overheating",
    Computed.HOURS_TO_DRY: "drying out",
    Computed.SILENT_NODE_SHARE: "most boards are silent, power or network has failed",
    Computed.STORE_FAULT: "readings cannot be stored",
    Computed.ARCHIVE_LAG_HOURS: "the archive is behind",
}
_WITH_LIMIT = frozenset({Computed.MINUTES_TO_OVERHEATING, Computed.HOURS_TO_DRY, Computed.ARCHIVE_LAG_HOURS})


def condition(rule: AlarmRule, value: float | None) -> str:
    """What is wrong, with the value where it is known; never a value that is out of date."""
    if rule.quantity in _LASTING:
        lasting = "" if value is None else f" for {length_of_time(round(value * MS_PER_MINUTE))}"
        return f"{_LASTING[rule.quantity]}{lasting}"
    if value is not None:
        return breach(rule, value)
    if rule.quantity in _WHATEVER_VALUE:
        return _WHATEVER_VALUE[rule.quantity]
    return f"{quantity_title(rule.quantity)} {bound(rule)}"


def tells_how_long(rule: AlarmRule, value: float | None) -> bool:
    """Whether `condition` says already since when."""
    return rule.quantity in _LASTING and value is not None


def subject(rule: AlarmRule) -> str:
    """What the alarm looks at, and its limit."""
    if rule.quantity in _WHATEVER_VALUE and rule.quantity not in _WITH_LIMIT:
        return _WHATEVER_VALUE[rule.quantity]
    return f"{quantity_title(rule.quantity)} {bound(rule)}"


def bound(rule: AlarmRule) -> str:
    """ "above 42 °C"."""
    side = "above" if rule.side is Side.HIGH else "below"
    return f"{side} {limit(rule.quantity, rule.setpoint)}"


REACHES: Mapping[Priority, str] = {
    Priority.HIGH: "wakes you",
    Priority.MEDIUM: "sends a message, outside quiet hours",
    Priority.LOW: "stands in the night report",
}
PHRASES: Mapping[str, str] = {
    Computed.MINUTES_TO_OVERHEATING: "overheating expected within {limit}",
    Computed.HOURS_TO_DRY: "too dry within {limit}",
    Computed.SILENT_MINUTES: "silent for more than {limit}",
    Computed.SILENT_NODE_SHARE: "more than {limit} of the nodes silent at once",
    Computed.STORE_FAULT: "readings cannot be stored",
    Computed.ARCHIVE_LAG_HOURS: "the archive more than {limit} behind",
    Computed.UNSENT_MESSAGE_MINUTES: "a message unsent for more than {limit}",
    Computed.CONDENSATION_MARGIN: "a surface less than {limit} above the dew point",
}
PERCENT = (Quantity.SUBSTRATE_MOISTURE, Computed.SILENT_NODE_SHARE)


def explain(rule: AlarmRule, title: str = "") -> str:
    """Say in one line what a rule guards for and whom it reaches.

    Parameters
    ----------
    rule : AlarmRule
        the rule
    title : str
        name of the place for people; its id where none is given

    Returns
    -------
    str
        such as "Bin 1: substrate temperature above 42 °C for 2 minutes wakes you."
    """
    return f"{title or rule.place}: {guarded_condition(rule)}{_delay(rule)} {REACHES[rule.priority]}."


def guarded_condition(rule: AlarmRule) -> str:
    """Say what must be true for the alarm.

    Parameters
    ----------
    rule : AlarmRule
        the rule

    Returns
    -------
    str
        such as "substrate temperature above 42 °C"
    """
    limit = shown_limit(rule)
    phrase = PHRASES.get(rule.quantity)
    if phrase is not None and rule.setpoint == 0 and rule.quantity == Computed.CONDENSATION_MARGIN:
        return "a surface below the dew point"
    if phrase is not None:
        return phrase.format(limit=limit)
    side = "above" if rule.side is Side.HIGH else "below"
    return f"{QUANTITIES[rule.quantity].title} {side} {limit}"


def shown_limit(rule: AlarmRule) -> str:
    """Give the setpoint with its unit as a person reads it.

    Parameters
    ----------
    rule : AlarmRule
        the rule

    Returns
    -------
    str
        such as "42 °C", "45 %" or "30 minutes"
    """
    if rule.quantity in PERCENT:
        return f"{rule.setpoint * 100:g} %"
    unit = QUANTITIES[rule.quantity].shown_unit
    long = {"min": "minutes", "h": "hours"}.get(unit, unit)
    return f"{rule.setpoint:g} {long}".rstrip()


def _delay(rule: AlarmRule) -> str:
    minutes = rule.on_delay_s / 60
    if minutes == 0 or rule.quantity in PHRASES:
        return ""
    return " for 1 minute" if minutes == 1 else f" for {minutes:g} minutes"


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
