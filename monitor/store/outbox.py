"""Messages to people, one row per message and recipient, and which night reports went out."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass
from enum import StrEnum

from monitor.records import MessageKind, OutboxMessage, Priority
from monitor.store.connection import Queries

_COLUMNS = (
    "recipient, kind, title, body, created_ms, priority, alarm_id, not_before_ms, attempts, "
    "next_attempt_ms, last_error, message_id"
)


class OutboxState(StrEnum):
    """What became of a message."""

    WAITING = "waiting"
    SENT = "sent"
    SUPERSEDED = "superseded"


@dataclass(frozen=True, slots=True)
class OutboxRecord:
    """A message with what became of it; `finished_ms` is None while it waits."""

    message: OutboxMessage
    state: OutboxState
    finished_ms: int | None


def write(connection: sqlite3.Connection, messages: Iterable[OutboxMessage]) -> tuple[int, ...]:
    """Add messages and give their numbers, inside a transaction of the caller."""
    return tuple(_add(connection, message) for message in messages)


def _add(connection: sqlite3.Connection, message: OutboxMessage) -> int:
    cursor = connection.execute(
        f"INSERT INTO outbox({_COLUMNS}) VALUES(?,?,?,?,?,?,?,?,?,?,?,NULL)",
        astuple(message)[:11],
    )
    return cursor.lastrowid or 0


def _message(row: Sequence[object]) -> OutboxMessage:
    cells = list(row[:12])
    cells[1], cells[5] = MessageKind(str(cells[1])), Priority(str(cells[5]))
    return OutboxMessage(*cells)  # type: ignore[arg-type]


class Outbox(Queries):
    """The outbox: what waits, what went out, how much lately."""

    def add(self, messages: Iterable[OutboxMessage]) -> tuple[int, ...]:
        """Add messages outside a batch (a test message, a reminder); gives their numbers."""
        with self._database.write() as connection:
            return write(connection, messages)

    def waiting(self, recipient: str | None = None) -> tuple[OutboxMessage, ...]:
        """All that is not sent yet, oldest first."""
        rows = self._database.rows(
            f"SELECT {_COLUMNS} FROM outbox WHERE state = 'waiting' AND (?1 IS NULL OR recipient = ?1) "  # noqa: S608
            "ORDER BY created_ms, message_id",
            (recipient,),
        )
        return tuple(_message(row) for row in rows)

    def sent(self, message_id: int, now_ms: int) -> None:
        """The channel took the message."""
        self._finish(message_id, OutboxState.SENT, now_ms, "")

    def superseded(self, message_id: int, now_ms: int, reason: str) -> None:
        """The message need not go out any more."""
        self._finish(message_id, OutboxState.SUPERSEDED, now_ms, reason)

    def failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """The channel did not take it: one attempt more, and when the next one is."""
        self._database.change(
            "UPDATE outbox SET attempts = attempts + 1, last_error = ?, next_attempt_ms = ? "
            "WHERE message_id = ? AND state = 'waiting'",
            (error, next_attempt_ms, message_id),
        )

    def _finish(self, message_id: int, state: OutboxState, now_ms: int, note: str) -> None:
        self._database.change(
            "UPDATE outbox SET state = ?, finished_ms = ?, last_error = ?, attempts = attempts + ? "
            "WHERE message_id = ? AND state = 'waiting'",
            (state, now_ms, note, state is OutboxState.SENT, message_id),
        )

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages went out to a recipient from that time on."""
        query = "SELECT count(*) FROM outbox WHERE recipient = ? AND state = 'sent' AND finished_ms >= ?"
        row = self._database.row(query, (recipient, since_ms))
        return row[0] if row else 0

    def newest_ms(self, alarm_id: str) -> int:
        """When the newest message about an alarm was written; 0 where there is none."""
        row = self._database.row("SELECT max(created_ms) FROM outbox WHERE alarm_id = ?", (alarm_id,))
        return row[0] or 0 if row else 0

    def history(self, since_ms: int, alarm_id: str | None = None) -> tuple[OutboxRecord, ...]:
        """Messages written from that time on with what became of them, in their order."""
        where = "" if alarm_id is None else "AND alarm_id = ?2 "
        rows = self._database.rows(
            f"SELECT {_COLUMNS}, state, finished_ms FROM outbox WHERE created_ms >= ?1 {where}"  # noqa: S608
            "ORDER BY message_id",
            (since_ms,) if alarm_id is None else (since_ms, alarm_id),
        )
        return tuple(OutboxRecord(_message(row), OutboxState(row[12]), row[13]) for row in rows)


class Reports(Queries):
    """The register of night reports."""

    def claim(self, date: str, now_ms: int, messages: Iterable[OutboxMessage] = ()) -> bool:
        """Take the report of a date and put its messages into the outbox, both or neither.

        True for the first caller of that date, False for every other.
        """
        with self._database.write() as connection:
            cursor = connection.execute(
                "INSERT INTO night_report VALUES(?, ?) ON CONFLICT DO NOTHING", (date, now_ms)
            )
            if cursor.rowcount != 1:
                return False
            write(connection, messages)
            return True

    def claimed(self, date: str) -> bool:
        """True when the report of that date was taken."""
        return self._database.row("SELECT 1 FROM night_report WHERE date = ?", (date,)) is not None
