"""Who is told what, and when. Pure.

Everything is worked out from the alarm's state and from the rows already written about it, so a restart
changes nothing: what was told is in the outbox, what still stands is in the alarm's state. What becomes of a
message that waits (quiet hours, a dead channel, the cap) is decided when its turn comes: see `sending`.

Quiet hours in local time, right across midnight and daylight saving. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, time, tzinfo

from monitor.notify.outbox import IN_SUMMARY, is_waiting
from monitor.records import (
    MS_PER_DAY,
    MS_PER_MINUTE,
    AlarmEvent,
    AlarmStatus,
    Computed,
    MessageKind,
    OutboxMessage,
    Priority,
    Transition,
    local,
)
from monitor.settings.schema import MessageSettings, QuietHours, Recipient
from monitor.words import alarm_messages
from monitor.words.alarm_messages import AlarmView, Notified, Text

LONGEST_MINUTES = 2 * MS_PER_DAY // MS_PER_MINUTE


def _within(hours: QuietHours, clock: time) -> bool:
    if hours.start <= hours.end:
        return hours.start <= clock < hours.end
    return clock >= hours.start or clock < hours.end


def is_quiet(hours: QuietHours | None, at_ms: int, zone: tzinfo) -> bool:
    """Whether the wall clock stands within the quiet hours; an equal start and end means never."""
    return hours is not None and _within(hours, local(at_ms, zone).time())


def quiet_until_ms(hours: QuietHours | None, now_ms: int, zone: tzinfo) -> int | None:
    """The first whole minute at which the clock on the wall is out of the quiet hours; None outside them.

    It walks minute by minute, so that an hour that the clock skips or shows twice needs no rule of its own.
    """
    if not is_quiet(hours, now_ms, zone):
        return None
    first_ms = now_ms - now_ms % MS_PER_MINUTE + MS_PER_MINUTE
    for minute in range(LONGEST_MINUTES):
        at_ms = first_ms + minute * MS_PER_MINUTE
        if not is_quiet(hours, at_ms, zone):
            return at_ms
    return None


COMMON_CAUSE = "one message about power or network stands in for this one"
SILENCE_HOLD_MS = 3 * MS_PER_MINUTE
STANDING = (AlarmStatus.UNACKNOWLEDGED, AlarmStatus.ACKNOWLEDGED)

LinkFor = Callable[[str, str], str]
"""Gives the address with which a recipient acknowledges an alarm: (recipient, alarm_id), "" for none."""


def no_link(recipient: str, alarm_id: str) -> str:  # noqa: ARG001
    """Without a page that people can reach there is nothing to link to."""
    return ""


@dataclass(frozen=True, slots=True)
class RecipientPolicy:
    """The people who can be told, and the site's habits."""

    recipients: tuple[Recipient, ...]
    zone: tzinfo
    escalate_after_ms: int
    remind_after_ms: int

    @classmethod
    def of(cls, recipients: Sequence[Recipient], messages: MessageSettings, zone: tzinfo) -> RecipientPolicy:
        """The circle that the settings describe."""
        return cls(
            tuple(recipients),
            zone,
            round(messages.escalate_after_minutes * MS_PER_MINUTE),
            round(messages.remind_after_minutes * MS_PER_MINUTE),
        )


def takers(circle: RecipientPolicy, priority: Priority) -> tuple[Recipient, ...]:
    """Those who want this priority, in their order; a `high` alarm that nobody wants goes to everybody."""
    willing = [one for one in circle.recipients if priority in one.priorities]
    if not willing and priority is Priority.HIGH:
        willing = list(circle.recipients)
    return tuple(sorted(willing, key=lambda one: one.order))


def episode(rows: Sequence[OutboxMessage]) -> tuple[OutboxMessage, ...]:
    """The rows since the alarm last became active: after the last return, from the last alarm message on."""
    current: list[OutboxMessage] = []
    for row in rows:
        if row.kind is MessageKind.RETURNED:
            current = []
        elif row.kind is MessageKind.ALARM and current and row.created_ms != current[0].created_ms:
            current = [row]
        else:
            current.append(row)
    return tuple(current)


def told_in(rows: Sequence[OutboxMessage]) -> tuple[OutboxMessage, ...]:
    """The rows of the current episode that told somebody, or still will."""
    return tuple(row for row in episode(rows) if row.superseded != COMMON_CAUSE)


def _hold_until_ms(recipient: Recipient, view: AlarmView, now_ms: int, zone: tzinfo) -> int:
    """Silence waits three minutes for a common cause; all but `high` waits for the end of quiet hours."""
    silence_ms = now_ms + SILENCE_HOLD_MS if view.rule.quantity == Computed.SILENT_MINUTES else 0
    if view.rule.priority is Priority.HIGH:
        return silence_ms
    return max(silence_ms, quiet_until_ms(recipient.quiet_hours, now_ms, zone) or 0)


def _message(
    recipient: Recipient, kind: MessageKind, text: Text, view: AlarmView, now_ms: int, zone: tzinfo
) -> OutboxMessage:
    return OutboxMessage(
        recipient=recipient.id,
        kind=kind,
        title=text.title,
        body=text.body,
        created_ms=now_ms,
        priority=view.rule.priority,
        alarm_id=view.rule.alarm_id,
        not_before_ms=_hold_until_ms(recipient, view, now_ms, zone),
    )


def on_transition(
    transition: Transition,
    view: AlarmView,
    rows: Sequence[OutboxMessage],
    circle: RecipientPolicy,
    now_ms: int,
    link_for: LinkFor = no_link,
) -> tuple[OutboxMessage, ...]:
    """The messages that one change of one alarm calls for; `rows` are all earlier ones about this alarm."""
    if transition.announces:
        return _alarm_messages(view, circle, now_ms, link_for)
    if transition.event is AlarmEvent.CLEAR and transition.before in STANDING:
        return _returned_messages(transition, view, rows, circle, now_ms)
    return ()


def _alarm_messages(
    view: AlarmView, circle: RecipientPolicy, now_ms: int, link_for: LinkFor
) -> tuple[OutboxMessage, ...]:
    people = takers(circle, view.rule.priority)
    return tuple(
        _message(
            one,
            MessageKind.ALARM,
            _alarm_text(one, view, circle, now_ms, link_for),
            view,
            now_ms,
            circle.zone,
        )
        for one in people
        if one.order == people[0].order
    )


def _alarm_text(
    one: Recipient, view: AlarmView, circle: RecipientPolicy, now_ms: int, link_for: LinkFor
) -> Text:
    return alarm_messages.alarm(view, now_ms, circle.zone, link=link_for(one.id, view.rule.alarm_id))


def _returned_messages(
    transition: Transition,
    view: AlarmView,
    rows: Sequence[OutboxMessage],
    circle: RecipientPolicy,
    now_ms: int,
) -> tuple[OutboxMessage, ...]:
    """Everybody who was told of the alarm is told that it is over."""
    told = {row.recipient for row in told_in(rows)}
    text = alarm_messages.returned(view, transition.at_ms, now_ms, circle.zone)
    return tuple(
        _message(one, MessageKind.RETURNED, text, view, now_ms, circle.zone)
        for one in circle.recipients
        if one.id in told
    )


def on_tick(
    view: AlarmView,
    rows: Sequence[OutboxMessage],
    circle: RecipientPolicy,
    now_ms: int,
    link_for: LinkFor = no_link,
) -> tuple[OutboxMessage, ...]:
    """What the passing of time calls for while an alarm stands unacknowledged: next person, reminder.

    An alarm of which nobody was told (a common cause stood in for it and is over; the people changed) is
    told now.
    """
    if view.state.status is not AlarmStatus.UNACKNOWLEDGED or view.common_cause:
        return ()
    people = takers(circle, view.rule.priority)
    names = {one.id for one in people}
    told = tuple(row for row in told_in(rows) if row.recipient in names)
    if not told:
        return _alarm_messages(view, circle, now_ms, link_for)
    return (
        *_escalations(view, told, people, circle, now_ms, link_for),
        *_reminders(view, told, people, circle, now_ms, link_for),
    )


def _started_ms(row: OutboxMessage) -> int:
    return max(row.created_ms, row.not_before_ms)


def _escalations(
    view: AlarmView,
    told: Sequence[OutboxMessage],
    people: Sequence[Recipient],
    circle: RecipientPolicy,
    now_ms: int,
    link_for: LinkFor,
) -> tuple[OutboxMessage, ...]:
    """The next order is told once the last one has had its time, whether its channel works or not."""
    order_of = {one.id: one.order for one in people}
    reached = max(order_of[row.recipient] for row in told)
    firsts = [
        row for row in told if row.kind is not MessageKind.REMINDER and order_of[row.recipient] == reached
    ]
    later = [one.order for one in people if one.order > reached]
    last_ms = max(_started_ms(row) for row in firsts or told)
    if not later or now_ms < last_ms + circle.escalate_after_ms:
        return ()
    before = told_before(told, now_ms)
    return tuple(
        _message(
            one,
            MessageKind.ESCALATION,
            alarm_messages.escalation(
                view, before, now_ms, circle.zone, link=link_for(one.id, view.rule.alarm_id)
            ),
            view,
            now_ms,
            circle.zone,
        )
        for one in people
        if one.order == min(later)
    )


def told_before(rows: Sequence[OutboxMessage], before_ms: int) -> tuple[Notified, ...]:
    """Who was told of the alarm before that time, each once, with the time of the first try."""
    told: dict[str, Notified] = {}
    for row in rows:
        if row.kind in (MessageKind.ALARM, MessageKind.ESCALATION) and row.created_ms < before_ms:
            reached = row.sent_ms is not None or row.superseded == IN_SUMMARY
            told.setdefault(row.recipient, Notified(row.recipient, row.sent_ms or _started_ms(row), reached))
    return tuple(told.values())


def _reminders(
    view: AlarmView,
    told: Sequence[OutboxMessage],
    people: Sequence[Recipient],
    circle: RecipientPolicy,
    now_ms: int,
    link_for: LinkFor,
) -> tuple[OutboxMessage, ...]:
    return tuple(
        _message(
            one,
            MessageKind.REMINDER,
            alarm_messages.reminder(view, now_ms, circle.zone, link=link_for(one.id, view.rule.alarm_id)),
            view,
            now_ms,
            circle.zone,
        )
        for one in people
        if _needs_reminder([row for row in told if row.recipient == one.id], view, circle, now_ms)
    )


def _needs_reminder(
    own: Sequence[OutboxMessage], view: AlarmView, circle: RecipientPolicy, now_ms: int
) -> bool:
    """A `high` alarm reminds again and again, others once; never while an earlier message still waits."""
    if not own or any(is_waiting(row) for row in own):
        return False
    if view.rule.priority is not Priority.HIGH and any(row.kind is MessageKind.REMINDER for row in own):
        return False
    last_ms = max(row.sent_ms or _started_ms(row) for row in own)
    return now_ms >= last_ms + circle.remind_after_ms


def night_report_messages(
    circle: RecipientPolicy, site_title: str, night: date, report: str, now_ms: int
) -> tuple[OutboxMessage, ...]:
    """The night report for everybody who wants it."""
    text = alarm_messages.night_report(site_title, night, report)
    return tuple(
        OutboxMessage(one.id, MessageKind.NIGHT_REPORT, text.title, text.body, now_ms)
        for one in circle.recipients
        if one.night_report
    )


def trial_messages(
    circle: RecipientPolicy, site_title: str, now_ms: int, only: str | None = None
) -> tuple[OutboxMessage, ...]:
    """A test message for everybody, or for one recipient; quiet hours and the cap do not hold it."""
    people = [one for one in circle.recipients if only is None or one.id == only]
    texts = [alarm_messages.trial(site_title, one.id, now_ms, circle.zone) for one in people]
    return tuple(
        OutboxMessage(one.id, MessageKind.TEST, text.title, text.body, now_ms)
        for one, text in zip(people, texts, strict=True)
    )
