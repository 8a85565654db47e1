"""What becomes of a message when it is due: sent, reworded, told in a summary, or dropped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from monitor.notify.channels import Pushed
from monitor.notify.outbox import IN_SUMMARY, is_waiting
from monitor.notify.policy import COMMON_CAUSE, episode, notified_before
from monitor.records import (
    MS_PER_HOUR,
    MS_PER_MINUTE,
    OVERLAYS,
    STANDING,
    AlarmStatus,
    Computed,
    MessageKind,
    OutboxMessage,
    Priority,
)
from monitor.words import alarm_messages
from monitor.words.alarm_messages import AlarmView, Text
from monitor.words.localizer import Localizer

NEWER = "a newer message about the same alarm follows"
OVER = "the alarm was over before the message was due"
SEEN = "somebody acknowledged the alarm before the message was due"
HIDDEN = "the alarm was shelved, suppressed or taken out of service"
NEVER_TOLD = "the alarm itself was never told"
OUT_OF_DATE = "a test message is of no use an hour later"
ALREADY_SAID = "the message before already said that it is over"
LATE_AFTER_MS = 2 * MS_PER_MINUTE
FIRST_DELAY_S, LONGEST_DELAY_S, MOST_DOUBLINGS = 10.0, 300.0, 10
JITTER = 0.2

_ABOUT_AN_ALARM = (MessageKind.ALARM, MessageKind.ESCALATION, MessageKind.REMINDER)
_NEVER_HELD = (MessageKind.NIGHT_REPORT, MessageKind.TEST)


@dataclass(frozen=True, slots=True)
class DeliveryContext:
    """The moment at which a message is looked at again: what is known, and what was written before.

    `rows` are all messages about the same alarm to anybody, in their order, with their fate.
    """

    message: OutboxMessage
    view: AlarmView | None
    rows: Sequence[OutboxMessage]
    words: Localizer
    link: str = ""
    path: str = ""
    """Where the installed page acknowledges the alarm."""

    @property
    def now_ms(self) -> int:
        """The moment."""
        return self.words.now_ms

    @property
    def held(self) -> bool:
        """True where the message waited on purpose, for the end of quiet hours or for a common cause."""
        return self.message.not_before_ms > self.message.created_ms

    @property
    def late_since_ms(self) -> int | None:
        """Since when it waits against our will; None when it is in time."""
        started_ms = max(self.message.created_ms, self.message.not_before_ms)
        return started_ms if self.now_ms - started_ms > LATE_AFTER_MS else None

    @property
    def own(self) -> list[OutboxMessage]:
        """The rows of the same recipient."""
        return [row for row in self.rows if row.recipient == self.message.recipient]


def pushed(context: DeliveryContext) -> Pushed:
    """What the installed page is told beside the words of the message."""
    message, view = context.message, context.view
    waits = view is not None and view.state.status is AlarmStatus.UNACKNOWLEDGED
    calls = waits and message.kind in _ABOUT_AN_ALARM
    return Pushed(
        message.kind,
        message.priority,
        context.words,
        message.alarm_id or "",
        view.rule.place if view else "",
        context.path if calls else "",
    )


def backoff_s(attempt: int, rng: Random) -> float:
    """Seconds until the next try after `attempt` failures: 10 s doubling up to 5 minutes, ±20 %."""
    doublings = min(max(attempt, 1) - 1, MOST_DOUBLINGS)
    delay_s: float = min(LONGEST_DELAY_S, FIRST_DELAY_S * 2.0**doublings)
    return delay_s * rng.uniform(1.0 - JITTER, 1.0 + JITTER)


def why_not(context: DeliveryContext) -> str:
    """The reason for which the message is not sent any more, or ""."""
    if context.message.kind is MessageKind.TEST and context.now_ms - context.message.created_ms > MS_PER_HOUR:
        return OUT_OF_DATE
    if context.message.alarm_id is None or context.view is None:
        return ""
    if context.message.kind is MessageKind.UNGUARDED:
        return ""
    if _newer_waits(context):
        return NEWER
    if context.message.kind is MessageKind.RETURNED:
        return _why_no_return(context)
    return _why_no_alarm(context, context.view)


def _position(context: DeliveryContext) -> int:
    numbers = [row.message_id for row in context.own]
    return (
        numbers.index(context.message.message_id) if context.message.message_id in numbers else len(numbers)
    )


def _newer_waits(context: DeliveryContext) -> bool:
    """A newer alarm message says all that an older one can, once the older one could not be sent."""
    after = context.own[_position(context) + 1 :]
    return any(row.kind is MessageKind.ALARM and is_waiting(row) for row in after)


def _why_no_alarm(context: DeliveryContext, view: AlarmView) -> str:
    if view.state.status in OVERLAYS:
        return HIDDEN
    if view.common_cause and view.rule.quantity == Computed.SILENT_MINUTES:
        return COMMON_CAUSE
    may_be_dropped = context.held or context.message.kind is not MessageKind.ALARM
    if may_be_dropped and view.state.status not in STANDING:
        return OVER
    return SEEN if may_be_dropped and view.state.status is AlarmStatus.ACKNOWLEDGED else ""


def _why_no_return(context: DeliveryContext) -> str:
    own = context.own[: _position(context)]
    while own and own[-1].kind is MessageKind.RETURNED:
        own.pop()
    announcements = [row for row in episode(own) if row.kind in _ABOUT_AN_ALARM]
    sent = [row.sent_ms for row in announcements if row.sent_ms is not None]
    if sent and max(sent) > context.message.created_ms:
        return ALREADY_SAID
    if not sent and not any(is_waiting(row) or row.superseded == IN_SUMMARY for row in announcements):
        return NEVER_TOLD
    return ""


def final_text(context: DeliveryContext) -> Text:
    """The words in which the message goes out: the stored ones in time, fresh ones after a wait."""
    message, view = context.message, context.view
    stored = Text(message.title, message.body)
    if view is None or message.alarm_id is None:
        return stored
    if message.kind is MessageKind.RETURNED:
        return _late_return(context, view, stored)
    if message.kind not in _ABOUT_AN_ALARM:
        return stored
    if view.state.status not in STANDING:
        late_ms = context.late_since_ms
        return alarm_messages.returned(view, view.returned_ms, context.words, late_since_ms=late_ms)
    fresh = context.held or context.late_since_ms is not None or view.state.status is AlarmStatus.ACKNOWLEDGED
    return _standing(context, view) if fresh else stored


def _late_return(context: DeliveryContext, view: AlarmView, stored: Text) -> Text:
    if context.late_since_ms is None or view.returned_ms is None or view.state.status in STANDING:
        return stored
    return alarm_messages.returned(view, view.returned_ms, context.words, late_since_ms=context.late_since_ms)


def _standing(context: DeliveryContext, view: AlarmView) -> Text:
    words, late_ms, link = context.words, context.late_since_ms, context.link
    if context.message.kind is MessageKind.REMINDER:
        return alarm_messages.reminder(view, words, late_since_ms=late_ms, link=link)
    if context.message.kind is MessageKind.ESCALATION:
        notified = notified_before(episode(context.rows), context.message.created_ms)
        return alarm_messages.escalation(view, notified, words, late_since_ms=late_ms, link=link)
    notes = [_missed(context)]
    if view.state.status is AlarmStatus.ACKNOWLEDGED:
        notes.append(alarm_messages.acknowledged_note(view, words))
    note = " ".join(part for part in notes if part)
    return alarm_messages.alarm(view, words, note=note, late_since_ms=late_ms, link=link)


def _missed(context: DeliveryContext) -> str:
    """The earlier times at which the alarm came and went while messages could not be sent."""
    missed: list[int] = []
    for row in context.own[: _position(context)]:
        if row.sent_ms is not None:
            missed = []
        elif row.kind is MessageKind.ALARM and row.superseded == NEWER:
            missed.append(row.created_ms)
    return alarm_messages.came_and_went(missed, context.words)


def is_urgent(message: OutboxMessage) -> bool:
    """Not held by the hourly cap: all about `high` alarms, the night report, a test."""
    return message.priority is Priority.HIGH or message.kind in _NEVER_HELD


@dataclass(frozen=True, slots=True)
class Action:
    """What to do next for one recipient: send one message, or fold several into one, or (empty) wait."""

    send: OutboxMessage | None = None
    fold: tuple[OutboxMessage, ...] = ()


def next_action(due: Sequence[OutboxMessage], sent_last_hour: int, most_per_hour: int) -> Action:
    """Urgent messages first and always; the last one that the cap allows carries all others that wait."""
    urgent = [message for message in due if is_urgent(message)]
    if urgent:
        return Action(send=urgent[0])
    room = most_per_hour - sent_last_hour
    if not due or room <= 0:
        return Action()
    if room > 1 or len(due) == 1 or due[0].kind is MessageKind.FOLDED:
        return Action(send=due[0])
    return Action(fold=tuple(message for message in due if message.kind is not MessageKind.FOLDED))


def repeats(message: OutboxMessage, before: Sequence[OutboxMessage]) -> str:
    """The reason for which a summary that lists `before` need not list this one, or "".

    An alarm that is over stands there as such already.
    """
    said = message.kind is MessageKind.RETURNED and any(
        other.alarm_id == message.alarm_id for other in before
    )
    return ALREADY_SAID if said else ""


def summary_of(messages: Sequence[OutboxMessage], most_per_hour: int, words: Localizer) -> OutboxMessage:
    """One message in place of several to the same recipient."""
    text = alarm_messages.folded([message.title for message in messages], most_per_hour, words)
    gravest = (
        Priority.MEDIUM if any(message.priority is Priority.MEDIUM for message in messages) else Priority.LOW
    )
    return OutboxMessage(
        messages[0].recipient, MessageKind.FOLDED, text.title, text.body, words.now_ms, priority=gravest
    )
