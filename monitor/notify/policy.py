"""Who is told what, and when, and in which language.

Everything is worked out from the alarm's state and from the messages already written about it, so a restart
changes nothing: what was told is in the outbox, what still stands is in the alarm's state. What becomes of a
message that waits (quiet hours, a dead channel, the cap) is decided when it is delivered: see `delivery`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, tzinfo
from zoneinfo import ZoneInfo

from monitor.alarms.timing import points_to_change
from monitor.logbook.place_entries import Unguarded
from monitor.notify.outbox import IN_SUMMARY, is_waiting
from monitor.records import (
    MS_PER_DAY,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    STANDING,
    AlarmEvent,
    AlarmStatus,
    Computed,
    MessageKind,
    OutboxMessage,
    Priority,
    Side,
    Transition,
    local,
)
from monitor.settings.schema import QuietHours, Recipient, Settings
from monitor.store.outbox import Phone
from monitor.words import alarm_messages
from monitor.words.alarm_messages import AlarmView, Notified, Text
from monitor.words.catalogue import ENGLISH
from monitor.words.localizer import Localizer

COMMON_CAUSE = "one message about power or network stands in for this one"
SILENCE_HOLD_MS = 3 * MS_PER_MINUTE
_ABOUT_HEIGHT = (MessageKind.ALARM, MessageKind.ESCALATION, MessageKind.REMINDER, MessageKind.RETURNED)
LONGEST_MINUTES = 2 * MS_PER_DAY // MS_PER_MINUTE

LinkFor = Callable[[str, str], str]
"""Gives the address with which a recipient acknowledges an alarm: (recipient, alarm_id), "" for none.

For a phone with the installed page it is a path, since that opens it on its own site.
"""
PHONE = "#"
"""Stands in no name of a person: `ann#3` is the phone with the number 3 that takes what Ann is told."""


def way_of(person: str, phone_id: int) -> str:
    """The name under which messages wait for a phone of a person."""
    return f"{person}{PHONE}{phone_id}"


def phone_of(way: str) -> int | None:
    """The number of the phone; None where the way is the person's own address."""
    number = way.partition(PHONE)[2]
    return int(number) if number else None


def person_of(way: str) -> str:
    """Whose way it is."""
    return way.partition(PHONE)[0]


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


def no_link(recipient: str, alarm_id: str) -> str:  # noqa: ARG001
    """Without a page that people can reach there is nothing to link to."""
    return ""


@dataclass(frozen=True, slots=True)
class RecipientPolicy:
    """The people who can be told, and the site's habits. `language` is the site's."""

    recipients: tuple[Recipient, ...]
    zone: tzinfo
    escalate_after_ms: int
    remind_after_ms: int
    language: str = ENGLISH

    @classmethod
    def of(cls, settings: Settings) -> RecipientPolicy:
        """The people and habits of the settings."""
        messages = settings.messages
        return cls(
            settings.recipients,
            ZoneInfo(settings.site.time_zone),
            round(messages.escalate_after_minutes * MS_PER_MINUTE),
            round(messages.remind_after_minutes * MS_PER_MINUTE),
            settings.site.language,
        )

    def with_phones(self, phones: Iterable[Phone]) -> RecipientPolicy:
        """Each phone as one way more to its person, who is told by it as by the address.

        Each way has messages of its own in the outbox: what one of them does not take is tried there again,
        and holds up no other. Who has no address of another kind waits for a first phone.
        """
        ways: list[Recipient] = []
        known = tuple(phones)
        for person in self.recipients:
            own = [way_of(person.id, phone.phone_id) for phone in known if phone.recipient == person.id]
            if not (own and person.by_page_alone):
                ways.append(person)
            ways += [person.model_copy(update={"id": way}) for way in own]
        return replace(self, recipients=tuple(ways))

    def words(self, recipient: Recipient, now_ms: int) -> Localizer:
        """The words of a recipient: their own language, else the site's."""
        return Localizer.plain(recipient.language or self.language, self.zone, now_ms)


def takers(policy: RecipientPolicy, priority: Priority) -> tuple[Recipient, ...]:
    """Those who want this priority, in their order; a `high` alarm that nobody wants goes to everybody."""
    willing = [person for person in policy.recipients if priority in person.priorities]
    if not willing and priority is Priority.HIGH:
        willing = list(policy.recipients)
    return tuple(sorted(willing, key=lambda person: person.order))


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


def announcements_in(rows: Sequence[OutboxMessage]) -> tuple[OutboxMessage, ...]:
    """The rows of the current episode that told somebody, or still will."""
    return tuple(row for row in episode(rows) if row.superseded != COMMON_CAUSE)


def _hold_until_ms(recipient: Recipient, view: AlarmView, now_ms: int, zone: tzinfo) -> int:
    """Silence waits three minutes for a common cause; all but `high` waits for the end of quiet hours."""
    silence_ms = now_ms + SILENCE_HOLD_MS if view.rule.quantity == Computed.SILENT_MINUTES else 0
    if view.rule.priority is Priority.HIGH:
        return silence_ms
    return max(silence_ms, quiet_until_ms(recipient.quiet_hours, now_ms, zone) or 0)


def nobody(since_ms: int) -> bool:  # noqa: ARG001
    """Whether somebody acknowledged the alarm since then, where that is not known: nobody did."""
    return False


@dataclass(frozen=True, slots=True)
class AlarmMessages:
    """Writes the messages about one alarm at one moment, each in the words of its recipient.

    `acknowledged_since` says whether a person has acknowledged the alarm at or after a time.
    """

    view: AlarmView
    policy: RecipientPolicy
    now_ms: int
    link_for: LinkFor = no_link
    acknowledged_since: Callable[[int], bool] = nobody

    def write(
        self,
        kind: MessageKind,
        recipients: Iterable[Recipient],
        text: Callable[[AlarmView, Localizer, str], Text],
    ) -> tuple[OutboxMessage, ...]:
        """One message to each; `text` gets the view, the words and the link to acknowledge."""
        view, rule, now_ms = self.view, self.view.rule, self.now_ms
        messages = []
        for recipient in recipients:
            # On a phone a button acknowledges: `Pushed.acknowledge`.
            link = "" if phone_of(recipient.id) else self.link_for(recipient.id, rule.alarm_id)
            said = text(view, self.policy.words(recipient, now_ms), link)
            message = OutboxMessage(
                recipient=recipient.id,
                kind=kind,
                title=said.title,
                body=said.body,
                created_ms=now_ms,
                priority=rule.priority,
                alarm_id=rule.alarm_id,
                not_before_ms=_hold_until_ms(recipient, view, now_ms, self.policy.zone),
                worst=_worst(view),
                setpoint=rule.setpoint,
            )
            messages.append(message)
        return tuple(messages)


def _worst(view: AlarmView) -> float | None:
    """The farthest value that is known of the excursion that stands, or of the last one."""
    state = view.state
    return state.extreme_value if state.active else state.over_extreme


def realarm_is_held(messages: AlarmMessages, rows: Sequence[OutboxMessage]) -> bool:
    """Whether an alarm that came again is not told again: one waking for one thing.

    Somebody got a message about it within the rule's `realarm_after_s`, by the limit that holds now, a person
    has acknowledged it since, and it is not worse by `realarm_step` than the worst that was told. In doubt
    (a limit that moved, a message of an older version, a journal that cannot be read) it is told.

    Source: re-alarming as ANSI/ISA-18.2-2016 has it; the two conditions are our own choice.
    """
    rule, worst = messages.view.rule, _worst(messages.view)
    if rule.realarm_after_s <= 0.0:
        return False
    got = [row for row in rows if row.kind in _ABOUT_HEIGHT and (row.sent_ms or row.superseded == IN_SUMMARY)]
    told = [row for row in got if row.kind is not MessageKind.RETURNED]
    if worst is None or not told:
        return False
    last_ms = max(row.created_ms for row in told)
    since_ms = messages.now_ms - round(rule.realarm_after_s * MS_PER_SECOND)
    lately = [row for row in got if row.created_ms >= since_ms]
    heights = [row.worst for row in lately if row.setpoint == rule.setpoint and row.worst is not None]
    if last_ms < since_ms or len(heights) < len(lately):
        return False
    sign = 1.0 if rule.side is Side.HIGH else -1.0
    grown = sign * worst - max(sign * height for height in heights)
    return grown < rule.realarm_step and messages.acknowledged_since(last_ms)


def on_transition(
    transition: Transition, messages: AlarmMessages, rows: Sequence[OutboxMessage]
) -> tuple[OutboxMessage, ...]:
    """The messages that one change of one alarm calls for; `rows` are all earlier ones about this alarm."""
    if transition.announces:
        return () if realarm_is_held(messages, rows) else _first_messages(messages)
    if transition.event is AlarmEvent.CLEAR and transition.before in STANDING:
        return _returned_messages(messages, rows, transition.at_ms)
    return ()


def _first_messages(messages: AlarmMessages) -> tuple[OutboxMessage, ...]:
    people = takers(messages.policy, messages.view.rule.priority)
    first = [person for person in people if person.order == people[0].order]
    return messages.write(
        MessageKind.ALARM, first, lambda view, words, link: alarm_messages.alarm(view, words, link=link)
    )


def _returned_messages(
    messages: AlarmMessages, rows: Sequence[OutboxMessage], returned_ms: int
) -> tuple[OutboxMessage, ...]:
    notified = {row.recipient for row in announcements_in(rows)}
    people = [person for person in messages.policy.recipients if person.id in notified]
    return messages.write(
        MessageKind.RETURNED, people, lambda view, words, _: alarm_messages.returned(view, returned_ms, words)
    )


def on_unguarded(
    why: Unguarded, messages: AlarmMessages, rows: Sequence[OutboxMessage]
) -> tuple[OutboxMessage, ...]:
    """Those who were told of an alarm hear that somebody ended its guard, and how to undo that."""
    notified = {row.recipient for row in announcements_in(rows)}
    people = [person for person in messages.policy.recipients if person.id in notified]
    return messages.write(
        MessageKind.UNGUARDED, people, lambda view, words, _: alarm_messages.unguarded(view, why, words)
    )


def on_tick(messages: AlarmMessages, rows: Sequence[OutboxMessage]) -> tuple[OutboxMessage, ...]:
    """What the passing of time calls for while an alarm stands unacknowledged: next person, reminder.

    An alarm of which nobody was told (a common cause stood in for it and is over; the people changed) is
    told now. While the value is back and only the off-delay still runs, nobody is told anew. One that came
    again and was held back is told once it grew worse (`realarm_is_held`).
    """
    view = messages.view
    if view.state.status is not AlarmStatus.UNACKNOWLEDGED or view.common_cause:
        return ()
    if not view.is_old(messages.now_ms) and points_to_change(view.state, view.rule, view.state.last_value):
        return ()
    people = takers(messages.policy, view.rule.priority)
    names = {person.id for person in people}
    announcements = tuple(row for row in announcements_in(rows) if row.recipient in names)
    began_ms = view.state.since_ms or 0
    if not any(row.created_ms >= began_ms for row in announcements) and realarm_is_held(messages, rows):
        return ()
    if not announcements:
        return _first_messages(messages)
    return (*_escalations(messages, announcements, people), *_reminders(messages, announcements, people))


def _started_ms(row: OutboxMessage) -> int:
    return max(row.created_ms, row.not_before_ms)


def _escalations(
    messages: AlarmMessages, announcements: Sequence[OutboxMessage], people: Sequence[Recipient]
) -> tuple[OutboxMessage, ...]:
    """The next order is told once the last one has had its time, whether its channel works or not."""
    order_of = {person.id: person.order for person in people}
    reached = max(order_of[row.recipient] for row in announcements)
    firsts = [
        row
        for row in announcements
        if row.kind is not MessageKind.REMINDER and order_of[row.recipient] == reached
    ]
    later = [person.order for person in people if person.order > reached]
    last_ms = max(_started_ms(row) for row in firsts or announcements)
    if not later or messages.now_ms < last_ms + messages.policy.escalate_after_ms:
        return ()
    before = notified_before(announcements, messages.now_ms)
    return messages.write(
        MessageKind.ESCALATION,
        [person for person in people if person.order == min(later)],
        lambda view, words, link: alarm_messages.escalation(view, before, words, link=link),
    )


def notified_before(rows: Sequence[OutboxMessage], before_ms: int) -> tuple[Notified, ...]:
    """Who was told of the alarm before that time, each once, with the time of the first try."""
    notified: dict[str, Notified] = {}
    for row in rows:
        if row.kind in (MessageKind.ALARM, MessageKind.ESCALATION) and row.created_ms < before_ms:
            name, at_ms = person_of(row.recipient), row.sent_ms or _started_ms(row)
            person = Notified(name, at_ms, row.sent_ms is not None or row.superseded == IN_SUMMARY)
            before = notified.setdefault(name, person)
            if person.reached and not before.reached:
                notified[name] = person
    return tuple(notified.values())


def _reminders(
    messages: AlarmMessages, announcements: Sequence[OutboxMessage], people: Sequence[Recipient]
) -> tuple[OutboxMessage, ...]:
    due = [person for person in people if _needs_reminder(_own(announcements, person.id), messages)]
    return messages.write(
        MessageKind.REMINDER, due, lambda view, words, link: alarm_messages.reminder(view, words, link=link)
    )


def _own(rows: Sequence[OutboxMessage], way: str) -> list[OutboxMessage]:
    """The rows of one way; for a phone that was added meanwhile those of its person."""
    own = [row for row in rows if row.recipient == way]
    return own or [row for row in rows if phone_of(way) and row.recipient == person_of(way)]


def _needs_reminder(own: Sequence[OutboxMessage], messages: AlarmMessages) -> bool:
    """A `high` alarm reminds again and again, others once; never while an earlier message still waits."""
    if not own or any(is_waiting(row) for row in own):
        return False
    is_high = messages.view.rule.priority is Priority.HIGH
    if not is_high and any(row.kind is MessageKind.REMINDER for row in own):
        return False
    last_ms = max(row.sent_ms or _started_ms(row) for row in own)
    return messages.now_ms >= last_ms + messages.policy.remind_after_ms


def night_report_messages(
    policy: RecipientPolicy, site_title: str, night: date, report: Callable[[Localizer], str], now_ms: int
) -> tuple[OutboxMessage, ...]:
    """The night report for everybody who wants it; `report` writes it in the words of a recipient."""

    def text(recipient: Recipient, words: Localizer) -> Text:  # noqa: ARG001
        return alarm_messages.night_report(site_title, night, report(words), words)

    people = [person for person in policy.recipients if person.night_report]
    return _plain_messages(policy, people, MessageKind.NIGHT_REPORT, text, now_ms)


def trial_messages(
    policy: RecipientPolicy, site_title: str, now_ms: int, only: str | None = None
) -> tuple[OutboxMessage, ...]:
    """A test message for everybody, or for one recipient; quiet hours and the cap do not hold it."""

    def text(recipient: Recipient, words: Localizer) -> Text:
        return alarm_messages.trial(site_title, person_of(recipient.id), words)

    people = [
        person for person in policy.recipients if only is None or only in (person.id, person_of(person.id))
    ]
    return _plain_messages(policy, people, MessageKind.TEST, text, now_ms)


def _plain_messages(
    policy: RecipientPolicy,
    people: Iterable[Recipient],
    kind: MessageKind,
    text: Callable[[Recipient, Localizer], Text],
    now_ms: int,
) -> tuple[OutboxMessage, ...]:
    texts = [(person, text(person, policy.words(person, now_ms))) for person in people]
    return tuple(OutboxMessage(person.id, kind, said.title, said.body, now_ms) for person, said in texts)
