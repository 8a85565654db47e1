"""What the messages part asks of the place where messages wait, and a twin of it in memory.

The twin serves the tests, and takes new messages while the disk is full: `SafeOutbox` joins the two.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol, TypeVar

from monitor.errors import StoreError
from monitor.records import OutboxMessage, Priority

Result = TypeVar("Result")

IN_SUMMARY = "told in a summary"
MOST_FINISHED, MOST_WAITING = 2000, 10_000
"""Own choice: what the memory holds of messages that are over, and of those that wait."""


class OutboxStore(Protocol):
    """Messages with their fate, the oldest first.

    A message *waits* until it is sent or superseded. Rows about an alarm come back with `sent_ms` and
    `superseded` (the reason) filled in.
    """

    def add(self, messages: Sequence[OutboxMessage]) -> object:
        """Keep new messages."""

    def waiting(self) -> Sequence[OutboxMessage]:
        """All waiting messages, due or not."""

    def messages_for(self, alarm_id: str) -> Sequence[OutboxMessage]:
        """Messages about one alarm, whatever became of them."""

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


class MemoryOutbox:
    """An outbox in memory. Its message numbers are negative, so they never meet those of the database.

    Bounded: of what is over the newest are kept; of too much that waits the oldest goes, high ones last.
    """

    def __init__(self) -> None:
        self._waiting: dict[int, OutboxMessage] = {}
        self._finished: dict[int, OutboxMessage] = {}
        self._last = 0
        self._lock = threading.Lock()

    def _change(self, message_id: int, change: Callable[[OutboxMessage], OutboxMessage]) -> None:
        with self._lock:
            message = self._waiting.get(message_id)
            if message is None:
                return
            changed = change(message)
            if is_waiting(changed):
                self._waiting[message_id] = changed
                return
            del self._waiting[message_id]
            self._finished[message_id] = changed
            while len(self._finished) > MOST_FINISHED:
                del self._finished[next(iter(self._finished))]

    def add(self, messages: Sequence[OutboxMessage]) -> None:
        with self._lock:
            for message in messages:
                self._last -= 1
                self._waiting[self._last] = replace(message, message_id=self._last)
            for number in self._too_many():
                del self._waiting[number]

    def _too_many(self) -> list[int]:
        excess = len(self._waiting) - MOST_WAITING
        if excess <= 0:
            return []
        by_worth = sorted(
            self._waiting, key=lambda number: (self._waiting[number].priority is Priority.HIGH, -number)
        )
        return by_worth[:excess]

    def waiting(self) -> list[OutboxMessage]:
        with self._lock:
            return list(self._waiting.values())

    def messages_for(self, alarm_id: str) -> list[OutboxMessage]:
        return [message for message in self.all() if message.alarm_id == alarm_id]

    def all(self) -> list[OutboxMessage]:
        """The messages that are kept, in the order in which they were added, each with its fate."""
        with self._lock:
            kept = {**self._finished, **self._waiting}
        return [kept[number] for number in sorted(kept, reverse=True)]

    def sent_since(self, recipient: str, since_ms: int) -> int:
        sent_ms = [message.sent_ms for message in self.all() if message.recipient == recipient]
        return sum(at_ms is not None and at_ms >= since_ms for at_ms in sent_ms)

    def mark_sent(self, message_id: int, now_ms: int) -> None:
        self._change(message_id, lambda it: replace(it, attempts=it.attempts + 1, sent_ms=now_ms))

    def mark_failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        self._change(
            message_id,
            lambda it: replace(
                it, attempts=it.attempts + 1, last_error=error, next_attempt_ms=next_attempt_ms
            ),
        )

    def supersede(self, message_id: int, reason: str, now_ms: int) -> None:  # noqa: ARG002
        self._change(message_id, lambda it: replace(it, superseded=reason))


class SafeOutbox:
    """The database's outbox, and the twin in memory for what the database refuses.

    A refusal to add or to read is not raised: messages must go out while the disk is full. `faults` counts
    the refusals. A refusal to mark a message is raised, and the worker asks again. What only the memory
    holds is lost when the process ends; the fault itself raises an alarm elsewhere.
    """

    def __init__(self, store: OutboxStore, memory: MemoryOutbox | None = None) -> None:
        self._store, self.memory, self.faults = store, memory or MemoryOutbox(), 0

    def _read(self, ask: Callable[[], Result], otherwise: Result) -> Result:
        try:
            return ask()
        except StoreError:
            self.faults += 1
            return otherwise

    def _home_of(self, message_id: int) -> OutboxStore:
        return self.memory if message_id < 0 else self._store

    def add(self, messages: Sequence[OutboxMessage]) -> None:
        try:
            self._store.add(messages)
        except StoreError:
            self.faults += 1
            self.memory.add(messages)

    def waiting(self) -> list[OutboxMessage]:
        nothing: Sequence[OutboxMessage] = ()
        stored = self._read(self._store.waiting, nothing)
        return sorted((*stored, *self.memory.waiting()), key=lambda message: message.created_ms)

    def messages_for(self, alarm_id: str) -> list[OutboxMessage]:
        nothing: Sequence[OutboxMessage] = ()
        stored = self._read(lambda: self._store.messages_for(alarm_id), nothing)
        return sorted((*stored, *self.memory.messages_for(alarm_id)), key=lambda message: message.created_ms)

    def sent_since(self, recipient: str, since_ms: int) -> int:
        stored = self._read(lambda: self._store.sent_since(recipient, since_ms), 0)
        return stored + self.memory.sent_since(recipient, since_ms)

    def mark_sent(self, message_id: int, now_ms: int) -> None:
        self._home_of(message_id).mark_sent(message_id, now_ms)

    def mark_failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        self._home_of(message_id).mark_failed(message_id, error, next_attempt_ms)

    def supersede(self, message_id: int, reason: str, now_ms: int) -> None:
        self._home_of(message_id).supersede(message_id, reason, now_ms)
