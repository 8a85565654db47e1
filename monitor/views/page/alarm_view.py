"""One alarm in the words of the page: what, since when, where it is heading, what to do."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from monitor.records import AlarmRule, AlarmState, AlarmStatus, Computed, Side
from monitor.settings.plan import Plan
from monitor.views.page.words import Words
from monitor.views.view_records import ActiveAlarm

_MINUTES = (
    Computed.MINUTES_TO_OVERHEATING,
    Computed.SILENT_MINUTES,
    Computed.DEAD_SENSOR_MINUTES,
    Computed.UNSENT_MESSAGE_MINUTES,
)
_HOURS = (Computed.HOURS_TO_DRY, Computed.ARCHIVE_LAG_HOURS)
_MS_OF = {**dict.fromkeys(_MINUTES, 60_000), **dict.fromkeys(_HOURS, 3_600_000)}
_OVERLAID = {
    AlarmStatus.SHELVED: "shelved",
    AlarmStatus.OUT_OF_SERVICE: "out_of_service",
    AlarmStatus.RETURNED_UNACKNOWLEDGED: "over",
}


@dataclass(frozen=True, slots=True)
class AlarmCard:
    """What a page shows of an alarm; empty where there is nothing to say."""

    alarm_id: str
    place: str
    title: str
    shape: str
    word: str
    what: str
    notes: tuple[str, ...]
    outlook: str
    consequence: str
    response: str
    caution: str
    stands: bool
    can_acknowledge: bool
    can_shelve: bool
    shelved: bool


def card(alarm: ActiveAlarm, plan: Plan, words: Words, trends: Mapping[tuple[str, str], float]) -> AlarmCard:
    """The card of an alarm that is not normal."""
    rule, state = alarm.rule, alarm.state
    shape = str(rule.priority) if alarm.stands else _OVERLAID.get(state.status, "over")
    return AlarmCard(
        alarm_id=rule.alarm_id,
        place=rule.place if rule.place in plan.places else "",
        title=alarm.title,
        shape=shape,
        word=words.t(f"state.{shape}"),
        what=what(rule, state, words),
        notes=tuple(_notes(state, words)),
        outlook=_outlook(rule, state, words, trends) if alarm.stands else "",
        consequence=words.text(rule.consequence) if alarm.stands else "",
        response=words.text(rule.response) if alarm.stands else "",
        caution=words.text(rule.caution) if alarm.stands else "",
        stands=alarm.stands,
        can_acknowledge=can_acknowledge(state),
        can_shelve=state.status in _TO_SHELVE,
        shelved=state.status is AlarmStatus.SHELVED,
    )


_TO_ACKNOWLEDGE = frozenset({AlarmStatus.UNACKNOWLEDGED, AlarmStatus.RETURNED_UNACKNOWLEDGED})
_TO_SHELVE = frozenset({AlarmStatus.UNACKNOWLEDGED, AlarmStatus.ACKNOWLEDGED})


def can_acknowledge(state: AlarmState | None) -> bool:
    """Whether it still waits for somebody to say that it was seen."""
    return state is not None and not state.acknowledged and state.status in _TO_ACKNOWLEDGE


def what(rule: AlarmRule, state: AlarmState, words: Words) -> str:
    """What is so: the quantity, its value and the bound that it passed."""
    return condition(rule, state.last_value, words)


def condition(rule: AlarmRule, value: float | None, words: Words) -> str:
    """The sentence of a rule with a value."""
    key = f"alarm.{rule.quantity}"
    if value is not None and value <= 0 and words.has(f"{key}_passed"):
        return words.t(f"{key}_passed")
    if words.has(key) and (rule.quantity not in _MS_OF or _is_number(value)):
        return words.t(
            key, value=_spoken(rule, value, words), limit=words.limit(rule.quantity, rule.setpoint)
        )
    side = "above" if rule.side is Side.HIGH else "below"
    return words.t(
        f"alarm.{side}",
        quantity=words.quantity(rule.quantity),
        value=words.value(rule.quantity, value, rule.setpoint),
        limit=words.limit(rule.quantity, rule.setpoint),
    )


def _is_number(value: float | None) -> bool:
    return value is not None and math.isfinite(value)


def _spoken(rule: AlarmRule, value: float | None, words: Words) -> str:
    if value is not None and rule.quantity in _MS_OF:
        return words.length(value * _MS_OF[Computed(rule.quantity)])
    return words.value(rule.quantity, value, rule.setpoint)


def _notes(state: AlarmState, words: Words) -> list[str]:
    notes = []
    if state.since_ms is not None:
        since = words.clock(state.since_ms)
        notes.append(words.t("alarm.since", at=since, length=words.length(words.now_ms - state.since_ms)))
    if state.status is AlarmStatus.SHELVED and state.shelved_until_ms is not None:
        notes.append(words.t("alarm.shelved_until", at=words.clock(state.shelved_until_ms)))
    if state.status is AlarmStatus.ACKNOWLEDGED:
        notes.append(words.t("alarm.acknowledged"))
    if state.stale:
        last = state.last_true_ms
        notes.append(
            words.t("alarm.no_newer") if last is None else words.t("alarm.last_true", at=words.clock(last))
        )
    return notes


def _outlook(
    rule: AlarmRule, state: AlarmState, words: Words, trends: Mapping[tuple[str, str], float]
) -> str:
    per_hour = trends.get((rule.place, rule.quantity))
    if per_hour is None or state.stale:
        return ""
    return outlook(rule.quantity, state.last_value, per_hour, words)


def outlook(quantity: str, value: float | None, per_hour: float, words: Words) -> str:
    """Rising or falling how fast, and what that makes of it in an hour."""
    way = direction(quantity, per_hour, words)
    if way == "steady" or value is None:
        return words.t("trend.steady")
    return words.t(
        f"trend.{way}",
        rate=words.rate(quantity, per_hour),
        later=words.value(quantity, value + per_hour),
    )


def direction(quantity: str, per_hour: float, words: Words) -> str:
    """rising, falling or steady: a change that the shown decimals do not show is none."""
    zero = words.rate(quantity, 0.0)
    if words.rate(quantity, per_hour) == zero:
        return "steady"
    return "rising" if per_hour > 0 else "falling"
