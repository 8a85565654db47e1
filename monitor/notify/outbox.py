"""What the messages part asks of the place where messages wait, and a twin of it in memory.

The twin serves the tests, and takes new messages while the disk is full: `SafeOutbox` joins the two.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol, TypeVar

from monitor.errors import StoreError
from monitor.records import OutboxMessage

Result = TypeVar("Result")

FOLDED = "folded into a summary"


class OutboxStore(Protocol):
    """Messages with their fate. All lists are in the order of `created_ms`, then `message_id`.

    A message *waits* until it is sent or superseded. `superseded` on the rows that come back holds the reason.
    """

    def add(self, messages: Sequence[OutboxMessage]) -> None:
        """Keep new messages."""

    def due(self, now_ms: int) -> Sequence[OutboxMessage]:
        """Waiting messages whose `not_before_ms` and `next_attempt_ms` have come."""

    def waiting(self) -> Sequence[OutboxMessage]:
        """All waiting messages, due or not."""

    def messages_for(self, alarm_id: str) -> Sequence[OutboxMessage]:
        """Messages about one alarm of the last days, whatever became of them."""

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages have gone out to a recipient at or after `since_ms`."""

    def mark_sent(self, message_id: int, now_ms: int) -> None:
        """The channel has taken the message."""

    def mark_failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """The channel has not taken it: count the attempt, keep the error, try again then."""

    def supersede(self, message_id: int, reason: str, now_ms: int) -> None:
        """The message is not wanted any more; the row stays, with the reason."""


def is_waiting(message: OutboxMessage) -> bool:
    """True until the message is sent or superseded."""
    return message.sent_ms is None and not message.superseded


def in_order(message: OutboxMessage) -> tuple[int, int, int]:
    """Sort key: the order in which messages came up. Those of the twin have negative, falling numbers."""
    number = message.message_id or 0
    return message.created_ms, 1 if number < 0 else 0, abs(number)


class MemoryOutbox:
    """An outbox in memory. Its message numbers are negative, so they never meet those of the database."""

    def __init__(self) -> None:
        self._messages: dict[int, OutboxMessage] = {}
        self._lock = threading.Lock()

    def _kept(self, wanted: Callable[[OutboxMessage], bool]) -> list[OutboxMessage]:
        with self._lock:
            return sorted((one for one in self._messages.values() if wanted(one)), key=in_order)

    def _change(self, message_id: int, change: Callable[[OutboxMessage], OutboxMessage]) -> None:
        with self._lock:
            if message_id in self._messages:
                self._messages[message_id] = change(self._messages[message_id])

    def add(self, messages: Sequence[OutboxMessage]) -> None:
        """Keep new messages."""
        with self._lock:
            for message in messages:
                number = -len(self._messages) - 1
                self._messages[number] = replace(message, message_id=number)

    def due(self, now_ms: int) -> list[OutboxMessage]:
        """Waiting messages whose times have come."""
        return self._kept(
            lambda one: is_waiting(one) and one.not_before_ms <= now_ms and one.next_attempt_ms <= now_ms
        )

    def waiting(self) -> list[OutboxMessage]:
        """All waiting messages."""
        return self._kept(is_waiting)

    def messages_for(self, alarm_id: str) -> list[OutboxMessage]:
        """Messages about one alarm."""
        return self._kept(lambda one: one.alarm_id == alarm_id)

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages have gone out to a recipient at or after `since_ms`."""
        return len(
            self._kept(
                lambda one: one.recipient == recipient and one.sent_ms is not None and one.sent_ms >= since_ms
            )
        )

    def mark_sent(self, message_id: int, now_ms: int) -> None:
        """The channel has taken the message."""
        self._change(message_id, lambda one: replace(one, attempts=one.attempts + 1, sent_ms=now_ms))

    def mark_failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """Count the attempt, keep the error, try again then."""
        self._change(
            message_id,
            lambda one: replace(
                one, attempts=one.attempts + 1, last_error=error, next_attempt_ms=next_attempt_ms
            ),
        )

    def supersede(self, message_id: int, reason: str, now_ms: int) -> None:  # noqa: ARG002
        """The message is not wanted any more."""
        self._change(message_id, lambda one: replace(one, superseded=reason))


class SafeOutbox:
    """The database's outbox, with the twin in memory for as long as the database refuses.

    A refusal is not raised: messages must go out while the disk is full. `faults` counts the refusals.
    What only the memory holds is lost when the process ends; the fault itself raises an alarm elsewhere.
    """

    def __init__(self, store: OutboxStore, memory: MemoryOutbox | None = None) -> None:
        self._store, self.memory, self.faults = store, memory or MemoryOutbox(), 0

    def _try(self, ask: Callable[[], Result], otherwise: Result) -> Result:
        try:
            return ask()
        except StoreError:
            self.faults += 1
            return otherwise

    def _of(self, message_id: int) -> OutboxStore:
        return self.memory if message_id < 0 else self._store

    def add(self, messages: Sequence[OutboxMessage]) -> None:
        """Keep new messages in the database, or in memory where it refuses."""
        try:
            self._store.add(messages)
        except StoreError:
            self.faults += 1
            self.memory.add(messages)

    def due(self, now_ms: int) -> list[OutboxMessage]:
        """Waiting messages of both whose times have come."""
        stored = self._try(lambda: self._store.due(now_ms), ())
        return sorted((*stored, *self.memory.due(now_ms)), key=in_order)

    def waiting(self) -> list[OutboxMessage]:
        """All waiting messages of both."""
        stored = self._try(self._store.waiting, ())
        return sorted((*stored, *self.memory.waiting()), key=in_order)

    def messages_for(self, alarm_id: str) -> list[OutboxMessage]:
        """Messages about one alarm, of both."""
        stored = self._try(lambda: self._store.messages_for(alarm_id), ())
        return sorted((*stored, *self.memory.messages_for(alarm_id)), key=in_order)

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages have gone out to a recipient at or after `since_ms`."""
        stored = self._try(lambda: self._store.sent_since(recipient, since_ms), 0)
        return stored + self.memory.sent_since(recipient, since_ms)

    def mark_sent(self, message_id: int, now_ms: int) -> None:
        """Raises StoreError where the database cannot take the mark; the worker asks again."""
        self._of(message_id).mark_sent(message_id, now_ms)

    def mark_failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """Raises StoreError where the database cannot take the mark; the worker asks again."""
        self._of(message_id).mark_failed(message_id, error, next_attempt_ms)

    def supersede(self, message_id: int, reason: str, now_ms: int) -> None:
        """Raises StoreError where the database cannot take the mark; the worker asks again."""
        self._of(message_id).supersede(message_id, reason, now_ms)
