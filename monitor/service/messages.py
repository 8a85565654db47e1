"""Messages that changes of alarms and the passing of time call for, and the store's outbox for `notify`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from monitor.notify.outbox import OutboxStore
from monitor.notify.policy import LinkFor, RecipientPolicy, no_link, on_tick, on_transition
from monitor.records import MS_PER_DAY, AlarmEvent, OutboxMessage, Transition
from monitor.service.site_state import AlarmViewBuilder
from monitor.store import OutboxRecord, OutboxState, Store


class Announcer:
    """Gives the messages that belong into the next transaction; it writes nothing itself."""

    def __init__(
        self,
        outbox: OutboxStore,
        policy: RecipientPolicy,
        view_of: AlarmViewBuilder,
        link_for: LinkFor = no_link,
    ) -> None:
        self._outbox, self.policy, self._view_of, self._link_for = outbox, policy, view_of, link_for

    def announce(self, transitions: Sequence[Transition], now_ms: int) -> list[OutboxMessage]:
        """Messages for the changes of one turn, in their order; each sees what those before called for."""
        self._view_of.remember(transitions)
        found: list[OutboxMessage] = []
        for row in transitions:
            view = self._view_of(row.alarm_id)
            if view is not None and (row.announces or row.event is AlarmEvent.CLEAR):
                rows = self._rows(row.alarm_id, found)
                found += on_transition(row, view, rows, self.policy, now_ms, self._link_for)
        return found

    def tick(self, alarm_ids: Iterable[str], now_ms: int) -> list[OutboxMessage]:
        """Escalations and reminders that are due for these unacknowledged alarms."""
        found: list[OutboxMessage] = []
        for alarm_id in alarm_ids:
            view = self._view_of(alarm_id)
            if view is not None:
                rows = self._rows(alarm_id, ())
                found += on_tick(view, rows, self.policy, now_ms, self._link_for)
        return found

    def _rows(self, alarm_id: str, fresh: Iterable[OutboxMessage]) -> tuple[OutboxMessage, ...]:
        written = self._outbox.messages_for(alarm_id)
        return (*written, *(one for one in fresh if one.alarm_id == alarm_id))


LOOK_BACK_MS = 40 * MS_PER_DAY
"""Rows older than that decide nothing about what is told next."""


class StoredOutbox:
    """`notify.outbox.OutboxStore` over the database."""

    def __init__(self, store: Store) -> None:
        self._outbox = store.outbox

    def add(self, messages: Sequence[OutboxMessage]) -> None:
        """Keep new messages."""
        self._outbox.add(messages)

    def waiting(self) -> Sequence[OutboxMessage]:
        """All waiting messages, due or not, the oldest first."""
        return self._outbox.waiting()

    def messages_for(self, alarm_id: str) -> Sequence[OutboxMessage]:
        """Messages of the last weeks about one alarm, whatever became of them.

        Bounded, since it is asked for with every change of an alarm; counted back from the newest message of
        all, so that no clock is needed here.
        """
        newest_ms = self._outbox.newest_ms(alarm_id)
        since_ms = newest_ms - LOOK_BACK_MS
        return [_with_fate(record) for record in self._outbox.history(since_ms, alarm_id)]

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages have gone out to a recipient at or after `since_ms`."""
        return self._outbox.sent_since(recipient, since_ms)

    def mark_sent(self, message_id: int, now_ms: int) -> None:
        """The channel has taken the message."""
        self._outbox.sent(message_id, now_ms)

    def mark_failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """The channel has not taken it."""
        self._outbox.failed(message_id, error, next_attempt_ms)

    def supersede(self, message_id: int, reason: str, now_ms: int) -> None:
        """The message is not wanted any more."""
        self._outbox.superseded(message_id, now_ms, reason)


def _with_fate(record: OutboxRecord) -> OutboxMessage:
    message = record.message
    if record.state is OutboxState.SENT:
        return replace(message, sent_ms=record.finished_ms)
    if record.state is OutboxState.SUPERSEDED:
        return replace(message, superseded=message.last_error or "superseded")
    return message
