"""Alarms: what is active with response and caution, what is shelved, the journal, and their health."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from starlette.responses import Response

from monitor.errors import UsageError
from monitor.model.alarm_metrics import LEAST_DAYS, AlarmHealth, health
from monitor.records import MS_PER_DAY, MS_PER_HOUR, CommandKind, Transition
from monitor.views.page.alarm_view import can_acknowledge, card, condition
from monitor.views.page.asking import ask, ask_only, said_of_command
from monitor.views.page.serving import Access, Asked, Page, Part, back
from monitor.views.page.words import Words
from monitor.views.queries import open_alarms
from monitor.views.trends import changes_per_hour

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


def show_alarms(asked: Asked) -> Response:
    """Active alarms first, then those that are shelved or out of service."""
    alarms = open_alarms(asked.store.journal.states(), asked.plan)
    wanted = {(alarm.rule.place, alarm.rule.quantity) for alarm in alarms if alarm.stands}
    trends = changes_per_hour(asked.store, asked.plan, wanted, asked.now_ms)
    cards = [card(alarm, asked.plan, asked.words, trends) for alarm in alarms]
    return asked.render(
        "alarms.html",
        standing=[each for each in cards if each.stands],
        over=[each for each in cards if not each.stands and each.can_acknowledge],
        aside=[each for each in cards if not each.stands and not each.can_acknowledge],
        shelf_hours=SHELF_HOURS,
        journal=journal(asked, asked.store.journal.last(JOURNAL_ROWS)),
        said=said_of_command(asked),
    )


def journal(asked: Asked, rows: Sequence[Transition]) -> list[JournalRow]:
    """The newest changes, newest first."""
    return [_journal_row(asked, row) for row in rows]


def _journal_row(asked: Asked, row: Transition) -> JournalRow:
    words, rule = asked.words, asked.plan.rules.get(row.alarm_id)
    what = (
        condition(rule, row.value, words) if rule and row.value is not None else words.quantity(row.quantity)
    )
    return JournalRow(
        at=words.clock(row.at_ms),
        title=asked.plan.title(row.place),
        what=what,
        event=words.t(f"event.{row.event}"),
        who="" if row.actor == "monitor" else row.actor,
        reason=words.text(row.reason) if row.actor == "monitor" else row.reason,
        shape=str(row.priority),
    )


def show_health(asked: Asked) -> Response:
    """How good the alarms themselves are, and the journal of the same days."""
    first_ms = int(asked.store.meta.get("first_started_ms") or 0)
    start_ms = max(asked.now_ms - HEALTH_DAYS * MS_PER_DAY, min(first_ms, asked.now_ms))
    rows = asked.store.journal.transitions(start_ms, asked.now_ms + 1)
    found = health(rows, start_ms, asked.now_ms + 1)
    return asked.render(
        "health.html",
        lines=health_lines(found, asked),
        graded=found.graded,
        least_days=round(LEAST_DAYS),
        days=HEALTH_DAYS,
        journal=journal(asked, rows[::-1][:MOST_JOURNAL_ROWS]),
    )


def health_lines(found: AlarmHealth, asked: Asked) -> list[HealthLine]:
    """The measures in words, each with advice where it is bad."""
    words = asked.words
    return [
        HealthLine(words.t("health.per_day"), words.number(found.per_day, 1)),
        HealthLine(words.t("health.peak"), words.number(found.peak_10_min)),
        HealthLine(
            words.t("health.flood"),
            words.t("health.share", share=words.number(found.flood_percent, 1)),
            words.t("health.flood_advice") if found.flood_minutes else "",
        ),
        *_shares(found, words),
        *_named(found, asked),
    ]


def _shares(found: AlarmHealth, words: Words) -> list[HealthLine]:
    return [
        HealthLine(
            words.t("health.of_priority", word=words.t(f"state.{name}")),
            words.t("health.share", share=words.number(100 * share)),
        )
        for name, share in found.priority_shares.items()
    ]


def _named(found: AlarmHealth, asked: Asked) -> list[HealthLine]:
    words = asked.words
    often = [
        HealthLine(_name(asked, alarm_id), words.n("health.times", count))
        for alarm_id, count in found.most_frequent[:10]
    ]
    chatter = [
        HealthLine(_name(asked, each), words.t("health.chatters"), words.t("health.chatters_advice"))
        for each in found.chattering
    ]
    stale = [
        HealthLine(
            _name(asked, alarm_id),
            words.t("health.stood", length=words.length(hours * MS_PER_HOUR)),
            words.t("health.stood_advice"),
        )
        for alarm_id, hours in found.stale
    ]
    return [*chatter, *stale, *often]


def _name(asked: Asked, alarm_id: str) -> str:
    rule = asked.plan.rules.get(alarm_id)
    if rule is None:
        return alarm_id
    words = asked.words
    return words.t(
        "health.name",
        title=asked.plan.title(rule.place),
        quantity=words.quantity(rule.quantity),
        limit=words.limit(rule.quantity, rule.setpoint),
    )


def acknowledge(asked: Asked) -> Response:
    """Somebody has seen it and goes: the lower alarms on the same thing are seen with it."""
    alarm_id = _alarm(asked)
    for other in _with_it(asked, alarm_id):
        ask_only(asked, CommandKind.ACKNOWLEDGE, other)
    return back(asked, "/alarms", ask(asked, CommandKind.ACKNOWLEDGE, alarm_id))


def _with_it(asked: Asked, alarm_id: str) -> list[str]:
    rule, states = asked.plan.rules[alarm_id], asked.store.journal.states()
    return [
        other.alarm_id
        for other in asked.plan.rules_of(rule.place, rule.quantity)
        if other.side is rule.side
        and other.alarm_id != alarm_id
        and can_acknowledge(states.get(other.alarm_id))
    ]


def shelve(asked: Asked) -> Response:
    """Out of the way until a stated time."""
    hours = asked.field("hours")
    if hours not in {str(each) for each in SHELF_HOURS}:
        raise UsageError(asked.words.t("shelve.hours_wrong"))
    until_ms = asked.now_ms + int(hours) * MS_PER_HOUR
    reason = asked.field("reason", 200)
    number = ask(asked, CommandKind.SHELVE, _alarm(asked), until_ms, reason)
    return back(asked, "/alarms", number)


def unshelve(asked: Asked) -> Response:
    """Back again before its time."""
    return back(asked, "/alarms", ask(asked, CommandKind.UNSHELVE, _alarm(asked)))


def _alarm(asked: Asked) -> str:
    alarm_id = asked.field("alarm")
    if alarm_id not in asked.plan.rules:
        raise UsageError(asked.words.t("alarm.unknown"))
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
