"""The page of alarms: what is active, what to do about it, what is put aside, the journal, their health."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from starlette.responses import Response

from monitor.alarms.health import LEAST_DAYS, health
from monitor.errors import UsageError
from monitor.farm.places import SiteReader
from monitor.farm.records import ActiveAlarm
from monitor.page.bins import bins_now
from monitor.page.serving import Access, Page, Part, RequestContext, back, outcome_words, send_command
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    STANDING,
    UNSEEN,
    AlarmState,
    AlarmStatus,
    CommandKind,
    Transition,
)
from monitor.settings.plan import Plan
from monitor.words.alarms import JournalRow, health_table, journal_row, notes, what_is_so
from monitor.words.localizer import Localizer
from monitor.words.places import OVERLAID, alarm_outlook

SHELF_HOURS = (1, 4, 12, 24)
JOURNAL_ROWS = 40
MOST_JOURNAL_ROWS = 200
HEALTH_DAYS = 30


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


def alarm_card(alarm: ActiveAlarm, plan: Plan, words: Localizer) -> AlarmCard:
    """The card of an alarm that is not normal."""
    rule, state = alarm.rule, alarm.state
    shape = str(rule.priority) if alarm.stands else OVERLAID.get(state.status, "over")
    return AlarmCard(
        alarm_id=rule.alarm_id,
        place=rule.place if rule.place in plan.places else "",
        title=alarm.title,
        shape=shape,
        word=words.t(f"state.{shape}"),
        what=what_is_so(alarm, words),
        notes=tuple(notes(alarm, words)),
        outlook=alarm_outlook(alarm, words),
        consequence=words.text(rule.consequence) if alarm.stands else "",
        response=words.text(rule.response) if alarm.stands else "",
        caution=words.text(rule.caution) if alarm.stands else "",
        stands=alarm.stands,
        can_acknowledge=can_acknowledge(state),
        can_shelve=state.status in STANDING,
        shelved=state.status is AlarmStatus.SHELVED,
    )


def can_acknowledge(state: AlarmState | None) -> bool:
    """Whether it still waits for somebody to say that it was seen."""
    return state is not None and not state.acknowledged and state.status in UNSEEN


def show_alarms(request: RequestContext) -> Response:
    """Active alarms first, then those that are shelved or out of service."""
    alarms = SiteReader(request.store, request.plan, request.now_ms, partial(bins_now, request)).alarms()
    cards = [alarm_card(alarm, request.plan, request.words) for alarm in alarms]
    return request.render(
        "alarms.html",
        standing=[card for card in cards if card.stands],
        over=[card for card in cards if not card.stands and card.can_acknowledge],
        aside=[card for card in cards if not card.stands and not card.can_acknowledge],
        shelf_hours=SHELF_HOURS,
        journal=journal(request, request.store.journal.last(JOURNAL_ROWS)),
        said=outcome_words(request),
    )


def journal(request: RequestContext, rows: Sequence[Transition]) -> list[JournalRow]:
    """The newest changes, newest first."""
    return [journal_row(row, request.plan, request.words) for row in rows]


def show_health(request: RequestContext) -> Response:
    """How good the alarms themselves are, and the journal of the same days."""
    first_ms = int(request.store.meta.get("first_started_ms") or 0)
    start_ms = max(request.now_ms - HEALTH_DAYS * MS_PER_DAY, min(first_ms, request.now_ms))
    rows = request.store.journal.transitions(start_ms, request.now_ms + 1)
    measures = health(rows, start_ms, request.now_ms + 1)
    return request.render(
        "health.html",
        lines=health_table(measures, request.plan, request.words),
        graded=measures.graded,
        least_days=round(LEAST_DAYS),
        days=HEALTH_DAYS,
        journal=journal(request, rows[::-1][:MOST_JOURNAL_ROWS]),
    )


def acknowledge(request: RequestContext) -> Response:
    """Somebody has seen it and goes: the lower alarms on the same thing are seen with it."""
    alarm_id = _alarm(request)
    _refuse_newer(request, alarm_id)
    for other in _with_it(request, alarm_id):
        send_command(request, CommandKind.ACKNOWLEDGE, other, wait=False)
    return back(request, "/alarms", send_command(request, CommandKind.ACKNOWLEDGE, alarm_id))


def _refuse_newer(request: RequestContext, alarm_id: str) -> None:
    """Nobody has seen what began after they said so, on a phone without a connection."""
    state = request.store.journal.states().get(alarm_id)
    since_ms = None if state is None else state.since_ms
    if request.waited and since_ms is not None and since_ms > request.made_ms + MS_PER_MINUTE:
        raise UsageError(request.words.t("alarm.began_anew", at=request.words.moment(since_ms)))


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
    if hours not in {str(choice) for choice in SHELF_HOURS}:
        raise UsageError(request.words.t("shelve.hours_wrong"))
    until_ms = request.made_ms + int(hours) * MS_PER_HOUR
    if until_ms <= request.now_ms:
        raise UsageError(request.words.t("guard.aside_over", at=request.words.moment(until_ms)))
    reason = request.field("reason", 200)
    number = send_command(request, CommandKind.SHELVE, _alarm(request), until_ms, reason)
    return back(request, "/alarms", number)


def unshelve(request: RequestContext) -> Response:
    """Back again before its time."""
    return back(request, "/alarms", send_command(request, CommandKind.UNSHELVE, _alarm(request)))


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
