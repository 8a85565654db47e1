"""What the messages part asks of the place where messages wait, and a twin of it in memory.

The twin serves the tests, and takes new messages while the disk is full: `SafeOutbox` joins the two.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from monitor.errors import StoreError
from monitor.records import OutboxMessage

Result = TypeVar("Result")

WAITING, SENT, SUPERSEDED, FOLDED = "waiting", "sent", "superseded", "folded"
IN_SUMMARY = "told in a summary"


class OutboxRow(Protocol):
    """A message with what became of it: waiting, sent, superseded or folded, and when."""

    @property
    def message(self) -> OutboxMessage:
        """The message; after superseding, its `last_error` holds the reason."""

    @property
    def state(self) -> str:
        """One of the four words above."""

    @property
    def finished_ms(self) -> int | None:
        """When it stopped waiting."""


class OutboxStore(Protocol):
    """Messages with their fate, as the database keeps them."""

    def add(self, messages: Iterable[OutboxMessage]) -> Sequence[int]:
        """Keep new messages; gives their numbers."""

    def waiting(self, recipient: str | None = None) -> Sequence[OutboxMessage]:
        """All that is not sent yet, due or not, oldest first."""

    def sent(self, message_id: int, now_ms: int) -> None:
        """The channel has taken the message."""

    def failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """The channel has not taken it: count the attempt, keep the error, try again then."""

    def superseded(self, message_ids: Iterable[int], now_ms: int, reason: str) -> None:
        """These are not wanted any more; the rows stay, with the reason."""

    def folded(self, message_ids: Iterable[int], summary: OutboxMessage, now_ms: int) -> int:
        """Put one summary in the place of several messages, all or nothing; gives its number."""

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages have gone out to a recipient from that time on."""

    def history(self, since_ms: int, alarm_id: str | None = None) -> Sequence[OutboxRow]:
        """Messages written from that time on, in their order."""


def is_waiting(message: OutboxMessage) -> bool:
    """True until the message is sent or superseded."""
    return message.sent_ms is None and not message.superseded


def told_rows(rows: Sequence[OutboxRow]) -> tuple[OutboxMessage, ...]:
    """The rows as messages whose `sent_ms` and `superseded` are filled in."""
    return tuple(_with_fate(row) for row in rows)


def _with_fate(row: OutboxRow) -> OutboxMessage:
    if row.state == SENT:
        return replace(row.message, sent_ms=row.finished_ms)
    if row.state == FOLDED:
        return replace(row.message, superseded=IN_SUMMARY)
    if row.state == SUPERSEDED:
        return replace(row.message, superseded=row.message.last_error or SUPERSEDED)
    return row.message


@dataclass(frozen=True, slots=True)
class MemoryRow:
    """A row of the twin."""

    message: OutboxMessage
    state: str = WAITING
    finished_ms: int | None = None


class MemoryOutbox:
    """An outbox in memory. Its message numbers are negative, so they never meet those of the database."""

    def __init__(self) -> None:
        self._rows: dict[int, MemoryRow] = {}
        self._lock = threading.RLock()

    def _kept(self, wanted: Callable[[MemoryRow], bool]) -> list[MemoryRow]:
        with self._lock:
            return [row for row in self._rows.values() if wanted(row)]

    def _change(self, message_id: int, change: Callable[[MemoryRow], MemoryRow]) -> None:
        with self._lock:
            row = self._rows.get(message_id)
            if row is not None and row.state == WAITING:
                self._rows[message_id] = change(row)

    def add(self, messages: Iterable[OutboxMessage]) -> tuple[int, ...]:
        """Keep new messages; gives their numbers."""
        with self._lock:
            return tuple(self._add(message) for message in messages)

    def _add(self, message: OutboxMessage) -> int:
        number = -len(self._rows) - 1
        self._rows[number] = MemoryRow(replace(message, message_id=number))
        return number

    def waiting(self, recipient: str | None = None) -> list[OutboxMessage]:
        """All that is not sent yet, oldest first."""
        rows = self._kept(lambda row: row.state == WAITING and recipient in (None, row.message.recipient))
        return [row.message for row in rows]

    def sent(self, message_id: int, now_ms: int) -> None:
        """The channel has taken the message."""
        self._change(message_id, lambda row: MemoryRow(_tried(row.message, "", 0), SENT, now_ms))

    def failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """Count the attempt, keep the error, try again then."""
        self._change(message_id, lambda row: MemoryRow(_tried(row.message, error, next_attempt_ms)))

    def superseded(self, message_ids: Iterable[int], now_ms: int, reason: str) -> None:
        """These are not wanted any more."""
        self._finish(message_ids, SUPERSEDED, now_ms, reason)

    def folded(self, message_ids: Iterable[int], summary: OutboxMessage, now_ms: int) -> int:
        """Put one summary in the place of several messages."""
        with self._lock:
            self._finish(message_ids, FOLDED, now_ms, IN_SUMMARY)
            return self._add(summary)

    def _finish(self, message_ids: Iterable[int], state: str, now_ms: int, note: str) -> None:
        for number in message_ids:
            self._change(number, lambda row: MemoryRow(replace(row.message, last_error=note), state, now_ms))

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages have gone out to a recipient from that time on."""
        rows = self._kept(lambda row: row.state == SENT and row.message.recipient == recipient)
        return sum(1 for row in rows if (row.finished_ms or 0) >= since_ms)

    def history(self, since_ms: int, alarm_id: str | None = None) -> list[MemoryRow]:
        """Messages written from that time on, in their order."""
        return self._kept(
            lambda row: row.message.created_ms >= since_ms and alarm_id in (None, row.message.alarm_id)
        )


def _tried(message: OutboxMessage, error: str, next_attempt_ms: int) -> OutboxMessage:
    return replace(message, attempts=message.attempts + 1, last_error=error, next_attempt_ms=next_attempt_ms)


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

    def _of(self, message_id: int) -> OutboxStore:
        return self.memory if message_id < 0 else self._store

    def add(self, messages: Iterable[OutboxMessage]) -> Sequence[int]:
        """Keep new messages in the database, or in memory where it refuses."""
        kept = tuple(messages)
        try:
            return self._store.add(kept)
        except StoreError:
            self.faults += 1
            return self.memory.add(kept)

    def waiting(self, recipient: str | None = None) -> list[OutboxMessage]:
        """All waiting messages of both, the oldest first."""
        nothing: Sequence[OutboxMessage] = ()
        stored = self._read(lambda: self._store.waiting(recipient), nothing)
        return sorted((*stored, *self.memory.waiting(recipient)), key=lambda one: one.created_ms)

    def sent(self, message_id: int, now_ms: int) -> None:
        """The channel has taken the message."""
        self._of(message_id).sent(message_id, now_ms)

    def failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """The channel has not taken it."""
        self._of(message_id).failed(message_id, error, next_attempt_ms)

    def superseded(self, message_ids: Iterable[int], now_ms: int, reason: str) -> None:
        """These are not wanted any more."""
        numbers = tuple(message_ids)
        self.memory.superseded((number for number in numbers if number < 0), now_ms, reason)
        stored = tuple(number for number in numbers if number > 0)
        if stored:
            self._store.superseded(stored, now_ms, reason)

    def folded(self, message_ids: Iterable[int], summary: OutboxMessage, now_ms: int) -> int:
        """One summary in the place of several; kept where the first of them is kept."""
        numbers = tuple(message_ids)
        home = self._of(numbers[0]) if numbers else self._store
        own = tuple(number for number in numbers if self._of(number) is home)
        others = tuple(number for number in numbers if number not in own)
        number = home.folded(own, summary, now_ms)
        self.superseded(others, now_ms, IN_SUMMARY)
        return number

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages have gone out to a recipient from that time on."""
        stored = self._read(lambda: self._store.sent_since(recipient, since_ms), 0)
        return stored + self.memory.sent_since(recipient, since_ms)

    def history(self, since_ms: int, alarm_id: str | None = None) -> list[OutboxRow]:
        """Messages of both, in the order in which they were written."""
        nothing: Sequence[OutboxRow] = ()
        stored = self._read(lambda: self._store.history(since_ms, alarm_id), nothing)
        rows: tuple[OutboxRow, ...] = (*stored, *self.memory.history(since_ms, alarm_id))
        return sorted(rows, key=lambda row: row.message.created_ms)
