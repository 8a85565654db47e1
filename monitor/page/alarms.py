"""Alarms: what is active with response and caution, what is shelved, the journal, and their health.

One alarm in the words of the page: what, since when, where it is heading, what to do.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from starlette.responses import Response

from monitor.alarms.health import LEAST_DAYS, AlarmHealth, health
from monitor.errors import UsageError
from monitor.farm.places import changes_per_hour, open_alarms
from monitor.farm.records import ActiveAlarm
from monitor.page.serving import Access, Page, Part, RequestContext, ask, ask_only, back, said_of_command
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    AlarmRule,
    AlarmState,
    AlarmStatus,
    CommandKind,
    Computed,
    Side,
    Transition,
)
from monitor.settings.plan import Plan
from monitor.words.localizer import Localizer

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


def card(
    alarm: ActiveAlarm, plan: Plan, words: Localizer, trends: Mapping[tuple[str, str], float]
) -> AlarmCard:
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


def what(rule: AlarmRule, state: AlarmState, words: Localizer) -> str:
    """What is so: the quantity, its value and the bound that it passed."""
    return condition(rule, state.last_value, words)


def condition(rule: AlarmRule, value: float | None, words: Localizer) -> str:
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


def _spoken(rule: AlarmRule, value: float | None, words: Localizer) -> str:
    if value is not None and rule.quantity in _MS_OF:
        return words.length(value * _MS_OF[Computed(rule.quantity)])
    return words.value(rule.quantity, value, rule.setpoint)


def _notes(state: AlarmState, words: Localizer) -> list[str]:
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
    rule: AlarmRule, state: AlarmState, words: Localizer, trends: Mapping[tuple[str, str], float]
) -> str:
    per_hour = trends.get((rule.place, rule.quantity))
    if per_hour is None or state.stale:
        return ""
    return outlook(rule.quantity, state.last_value, per_hour, words)


def outlook(quantity: str, value: float | None, per_hour: float, words: Localizer) -> str:
    """Rising or falling how fast, and what that makes of it in an hour."""
    way = direction(quantity, per_hour, words)
    if way == "steady" or value is None:
        return words.t("trend.steady")
    return words.t(
        f"trend.{way}",
        rate=words.rate(quantity, per_hour),
        later=words.value(quantity, value + per_hour),
    )


def direction(quantity: str, per_hour: float, words: Localizer) -> str:
    """rising, falling or steady: a change that the shown decimals do not show is none."""
    zero = words.rate(quantity, 0.0)
    if words.rate(quantity, per_hour) == zero:
        return "steady"
    return "rising" if per_hour > 0 else "falling"


SHELF_HOURS = (1, 4, 12, 24)
JOURNAL_ROWS = 40
MOST_JOURNAL_ROWS = 200
HEALTH_DAYS = 30


@dataclass(frozen=True, slots=True)
class JournalRow:
    """One change of one alarm."""

    at: str
    title: str
    what: str
    event: str
    who: str
    reason: str
    shape: str


@dataclass(frozen=True, slots=True)
class HealthLine:
    """One measure: its name, its figure, and what to do about it ("" where it is good)."""

    name: str
    figure: str
    advice: str = ""


def show_alarms(request: RequestContext) -> Response:
    """Active alarms first, then those that are shelved or out of service."""
    alarms = open_alarms(request.store.journal.states(), request.plan)
    wanted = {(alarm.rule.place, alarm.rule.quantity) for alarm in alarms if alarm.stands}
    trends = changes_per_hour(request.store, request.plan, wanted, request.now_ms)
    cards = [card(alarm, request.plan, request.words, trends) for alarm in alarms]
    return request.render(
        "alarms.html",
        standing=[each for each in cards if each.stands],
        over=[each for each in cards if not each.stands and each.can_acknowledge],
        aside=[each for each in cards if not each.stands and not each.can_acknowledge],
        shelf_hours=SHELF_HOURS,
        journal=journal(request, request.store.journal.last(JOURNAL_ROWS)),
        said=said_of_command(request),
    )


def journal(request: RequestContext, rows: Sequence[Transition]) -> list[JournalRow]:
    """The newest changes, newest first."""
    return [_journal_row(request, row) for row in rows]


def _journal_row(request: RequestContext, row: Transition) -> JournalRow:
    words, rule = request.words, request.plan.rules.get(row.alarm_id)
    what = (
        condition(rule, row.value, words) if rule and row.value is not None else words.quantity(row.quantity)
    )
    return JournalRow(
        at=words.clock(row.at_ms),
        title=request.plan.title(row.place),
        what=what,
        event=words.t(f"event.{row.event}"),
        who="" if row.actor == "monitor" else row.actor,
        reason=words.text(row.reason) if row.actor == "monitor" else row.reason,
        shape=str(row.priority),
    )


def show_health(request: RequestContext) -> Response:
    """How good the alarms themselves are, and the journal of the same days."""
    first_ms = int(request.store.meta.get("first_started_ms") or 0)
    start_ms = max(request.now_ms - HEALTH_DAYS * MS_PER_DAY, min(first_ms, request.now_ms))
    rows = request.store.journal.transitions(start_ms, request.now_ms + 1)
    found = health(rows, start_ms, request.now_ms + 1)
    return request.render(
        "health.html",
        lines=health_lines(found, request),
        graded=found.graded,
        least_days=round(LEAST_DAYS),
        days=HEALTH_DAYS,
        journal=journal(request, rows[::-1][:MOST_JOURNAL_ROWS]),
    )


def health_lines(found: AlarmHealth, request: RequestContext) -> list[HealthLine]:
    """The measures in words, each with advice where it is bad."""
    words = request.words
    return [
        HealthLine(words.t("health.per_day"), words.number(found.per_day, 1)),
        HealthLine(words.t("health.peak"), words.number(found.peak_10_min)),
        HealthLine(
            words.t("health.flood"),
            words.t("health.share", share=words.number(found.flood_percent, 1)),
            words.t("health.flood_advice") if found.flood_minutes else "",
        ),
        *_shares(found, words),
        *_named(found, request),
    ]


def _shares(found: AlarmHealth, words: Localizer) -> list[HealthLine]:
    return [
        HealthLine(
            words.t("health.of_priority", word=words.t(f"state.{name}")),
            words.t("health.share", share=words.number(100 * share)),
        )
        for name, share in found.priority_shares.items()
    ]


def _named(found: AlarmHealth, request: RequestContext) -> list[HealthLine]:
    words = request.words
    often = [
        HealthLine(_name(request, alarm_id), words.n("health.times", count))
        for alarm_id, count in found.most_frequent[:10]
    ]
    chatter = [
        HealthLine(_name(request, each), words.t("health.chatters"), words.t("health.chatters_advice"))
        for each in found.chattering
    ]
    stale = [
        HealthLine(
            _name(request, alarm_id),
            words.t("health.stood", length=words.length(hours * MS_PER_HOUR)),
            words.t("health.stood_advice"),
        )
        for alarm_id, hours in found.stale
    ]
    return [*chatter, *stale, *often]


def _name(request: RequestContext, alarm_id: str) -> str:
    rule = request.plan.rules.get(alarm_id)
    if rule is None:
        return alarm_id
    words = request.words
    return words.t(
        "health.name",
        title=request.plan.title(rule.place),
        quantity=words.quantity(rule.quantity),
        limit=words.limit(rule.quantity, rule.setpoint),
    )


def acknowledge(request: RequestContext) -> Response:
    """Somebody has seen it and goes: the lower alarms on the same thing are seen with it."""
    alarm_id = _alarm(request)
    for other in _with_it(request, alarm_id):
        ask_only(request, CommandKind.ACKNOWLEDGE, other)
    return back(request, "/alarms", ask(request, CommandKind.ACKNOWLEDGE, alarm_id))


def _with_it(request: RequestContext, alarm_id: str) -> list[str]:
    rule, states = request.plan.rules[alarm_id], request.store.journal.states()
    return [
        other.alarm_id
        for other in request.plan.rules_of(rule.place, rule.quantity)
        if other.side is rule.side
        and other.alarm_id != alarm_id
        and can_acknowledge(states.get(other.alarm_id))
    ]


def shelve(request: RequestContext) -> Response:
    """Out of the way until a stated time."""
    hours = request.field("hours")
    if hours not in {str(each) for each in SHELF_HOURS}:
        raise UsageError(request.words.t("shelve.hours_wrong"))
    until_ms = request.now_ms + int(hours) * MS_PER_HOUR
    reason = request.field("reason", 200)
    number = ask(request, CommandKind.SHELVE, _alarm(request), until_ms, reason)
    return back(request, "/alarms", number)


def unshelve(request: RequestContext) -> Response:
    """Back again before its time."""
    return back(request, "/alarms", ask(request, CommandKind.UNSHELVE, _alarm(request)))


def _alarm(request: RequestContext) -> str:
    alarm_id = request.field("alarm")
    if alarm_id not in request.plan.rules:
        raise UsageError(request.words.t("alarm.unknown"))
    return alarm_id


ALARMS = Part(
    "alarms",
    "/alarms",
    (
        Page("/alarms", get=show_alarms),
        Page("/alarms/health", get=show_health),
        Page("/alarms/acknowledge", post=acknowledge),
        Page("/alarms/shelve", post=shelve, post_access=Access.OWNER),
        Page("/alarms/unshelve", post=unshelve, post_access=Access.OWNER),
    ),
)
