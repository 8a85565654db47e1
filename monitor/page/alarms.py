"""The page of alarms: what is active, what to do about it, what is put aside, the journal, their health."""

from __future__ import annotations

import secrets
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from starlette.responses import Response

from monitor.alarms.health import LEAST_DAYS, health
from monitor.errors import MonitorError, UsageError
from monitor.farm.book import FILLED_KINDS
from monitor.farm.places import SiteReader
from monitor.farm.records import ActiveAlarm
from monitor.page.bins import BinButton, bin_buttons, bins_now
from monitor.page.logbook import just_written
from monitor.page.serving import (
    Access,
    Page,
    Part,
    RequestContext,
    back,
    outcome_words,
    send_command,
    send_commands,
)
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    STANDING,
    UNSEEN,
    AlarmEvent,
    AlarmState,
    AlarmStatus,
    CommandKind,
    Computed,
    Priority,
    Quantity,
    Transition,
)
from monitor.settings.plan import Plan
from monitor.words.alarm_health import health_table
from monitor.words.alarms import JournalRow, journal_rows, notes, over_line, what_is_so
from monitor.words.localizer import Localizer
from monitor.words.places import OVERLAID, alarm_outlook

SHELF_HOURS = (1, 4, 12, 24)
ASIDE_MINUTES = (15, 60, 120, 240)
JOURNAL_ROWS = 40
MOST_JOURNAL_ROWS = 200
HEALTH_DAYS = 30
LONGEST_SEEN = 20_000
"""Of a form that names every alarm that is over [characters]."""
PUTS_ASIDE, LOOKED_BACK = frozenset({AlarmEvent.SHELVE, AlarmEvent.TAKE_OUT}), 50
READ_ROWS = 5 * JOURNAL_ROWS
"""Read more than are shown: what one alarm stands for is folded into it."""
OF_A_BIN = frozenset(
    {
        Quantity.SUBSTRATE_TEMPERATURE,
        Quantity.SUBSTRATE_MOISTURE,
        Computed.MINUTES_TO_OVERHEATING,
        Computed.HOURS_TO_DRY,
    }
)
"""What alarms about heat and dryness of a bin look at: the entries that help stand at them."""


@dataclass(frozen=True, slots=True)
class AlarmCard:
    """What a page shows of an alarm; empty where there is nothing to say.

    `mark` tells its forms apart; `over` says in one line what is over; `began_ms` and `ended_ms` are of the
    excursion that it tells of.
    """

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
    out_of_service: bool = False
    mark: str = ""
    over: str = ""
    ended_ms: int = 0
    began_ms: int = 0
    buttons: tuple[BinButton, ...] = ()


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
        out_of_service=state.status is AlarmStatus.OUT_OF_SERVICE,
        mark=f"{zlib.crc32(rule.alarm_id.encode()):x}",
        over=over_line(alarm, words) if not alarm.stands else "",
        ended_ms=state.over_ms or 0,
        began_ms=state.since_ms or 0,
    )


def can_acknowledge(state: AlarmState | None) -> bool:
    """Whether it still waits for somebody to say that it was seen."""
    return state is not None and not state.acknowledged and state.status in UNSEEN


def show_alarms(request: RequestContext) -> Response:
    """Active alarms first, then those that are over in one line each, then what is put aside."""
    alarms = SiteReader(request.store, request.plan, request.now_ms, partial(bins_now, request)).alarms()
    cards = [alarm_card(alarm, request.plan, request.words) for alarm in alarms]
    over = [card for card in cards if not card.stands and card.can_acknowledge]
    return request.render(
        "alarms.html",
        standing=list(_with_help(request, alarms, cards)),
        over=over,
        seen=" ".join(f"{card.alarm_id}@{card.ended_ms}" for card in over),
        titles={place: request.plan.title(place) for place in request.plan.places},
        aside_minutes=ASIDE_MINUTES,
        aside=[card for card in cards if not card.stands and not card.can_acknowledge],
        shelf_hours=SHELF_HOURS,
        journal=journal(request, request.store.journal.last(READ_ROWS))[:JOURNAL_ROWS],
        said=outcome_words(request) or just_written(request),
        mark=secrets.token_urlsafe(9),
    )


def _with_help(
    request: RequestContext, alarms: Sequence[ActiveAlarm], cards: Sequence[AlarmCard]
) -> Iterator[AlarmCard]:
    """The cards of the alarms that stand; the first one of a hot or dry bin offers what helps there."""
    helped = set[str]()
    for alarm, card in zip(alarms, cards, strict=True):
        if not card.stands:
            continue
        if card.place in helped or alarm.rule.quantity not in OF_A_BIN:
            yield card
            continue
        helped.add(card.place)
        yield replace(card, buttons=_help(request, card.place))


def _help(request: RequestContext, place: str) -> tuple[BinButton, ...]:
    if request.plan.places[place].kind not in FILLED_KINDS:
        return ()
    try:
        view = bins_now(request).of(place)
    except MonitorError:
        return ()
    return () if view is None else bin_buttons(view, request.words)


def journal(request: RequestContext, rows: Sequence[Transition]) -> list[JournalRow]:
    """The newest changes, newest first."""
    return journal_rows(rows[::-1], request.plan, request.words)[::-1]


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
    seen = [(name, None) for name in (*_with_it(request, alarm_id), alarm_id)]
    return back(request, "/alarms", send_commands(request, CommandKind.ACKNOWLEDGE, seen))


def see_all(request: RequestContext) -> Response:
    """Somebody has seen all that is over, as it stood on the page; what came meanwhile stays unseen."""
    states, seen = request.store.journal.states(), list[tuple[str, int | None]]()
    for shown in request.field("seen", LONGEST_SEEN).split():
        alarm_id, _, ended = shown.rpartition("@")
        state = states.get(alarm_id) if alarm_id in request.plan.rules else None
        over = state is not None and state.status is AlarmStatus.RETURNED_UNACKNOWLEDGED
        if state is not None and over and f"{state.over_ms or 0}" == ended:
            seen.append((alarm_id, state.over_ms))
    if not seen:
        return back(request, "/alarms")
    return back(request, "/alarms", send_commands(request, CommandKind.ACKNOWLEDGE, seen))


def _refuse_newer(request: RequestContext, alarm_id: str) -> None:
    """Nobody has seen what began after their page was made, or after they said so without a connection."""
    state = request.store.journal.states().get(alarm_id)
    if state is None or state.since_ms is None:
        return
    began = request.field("began")
    if _is_newer(request, state) or (began.isdecimal() and state.since_ms > int(began)):
        raise UsageError(request.words.t("alarm.began_anew", at=request.words.moment(state.since_ms)))


def _is_newer(request: RequestContext, state: AlarmState) -> bool:
    began_ms = 0 if state.since_ms is None else state.since_ms
    return request.waited and began_ms > request.made_ms + MS_PER_MINUTE


def _with_it(request: RequestContext, alarm_id: str) -> list[str]:
    """The lower alarms on the same thing. A higher one goes on calling: it is told apart, and worse."""
    rule, states = request.plan.rules[alarm_id], request.store.journal.states()
    order = list(Priority)
    lower = (
        other.alarm_id
        for other in request.plan.rules_of(rule.place, rule.quantity)
        if other.side is rule.side and order.index(other.priority) > order.index(rule.priority)
    )
    known = {name: states[name] for name in lower if name in states}
    return [name for name, state in known.items() if can_acknowledge(state) and not _is_newer(request, state)]


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
    return _take_back(request, CommandKind.UNSHELVE)


def put_back(request: RequestContext) -> Response:
    """Back into service: it guards again."""
    return _take_back(request, CommandKind.PUT_BACK)


def _take_back(request: RequestContext, kind: CommandKind) -> Response:
    """Nobody takes back what somebody else put aside after they said so, on a phone without a connection."""
    alarm_id = _alarm(request)
    rows = request.store.journal.last(LOOKED_BACK, alarm_id) if request.waited else ()
    newer = next((row for row in rows if row.event in PUTS_ASIDE and row.at_ms > request.made_ms), None)
    if newer is not None:
        words = request.words
        raise UsageError(words.t("alarm.aside_anew", at=words.moment(newer.at_ms), who=newer.actor))
    return back(request, "/alarms", send_command(request, kind, alarm_id))


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
        Page("/alarms/seen-all", post=see_all),
        Page("/alarms/put-back", post=put_back, post_access=Access.OWNER),
        Page("/alarms/shelve", post=shelve, post_access=Access.OWNER),
        Page("/alarms/unshelve", post=unshelve, post_access=Access.OWNER),
    ),
)
