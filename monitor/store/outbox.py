"""Which night reports went out: each date once.

Messages to people: one row per message and recipient, kept until sent, superseded or folded.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from monitor.records import MessageKind, OutboxMessage, Priority
from monitor.store.connection import Database

_COLUMNS = (
    "recipient, kind, title, body, created_ms, priority, alarm_id, not_before_ms, attempts, "
    "next_attempt_ms, last_error, message_id"
)


class OutboxState(StrEnum):
    """What became of a message."""

    WAITING = "waiting"
    SENT = "sent"
    SUPERSEDED = "superseded"
    FOLDED = "folded"


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
        (
            *(message.recipient, message.kind, message.title, message.body, message.created_ms),
            *(message.priority, message.alarm_id, message.not_before_ms, message.attempts),
            *(message.next_attempt_ms, message.last_error),
        ),
    )
    return cursor.lastrowid or 0


def _message(row: Sequence[object]) -> OutboxMessage:
    cells = list(row[:12])
    cells[1], cells[5] = MessageKind(str(cells[1])), Priority(str(cells[5]))
    return OutboxMessage(*cells)  # type: ignore[arg-type]


class Outbox:
    """The outbox: what waits, what went out, how much lately."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, messages: Iterable[OutboxMessage]) -> tuple[int, ...]:
        """Add messages outside a batch (a test message, a reminder); gives their numbers."""
        with self._database.write() as connection:
            return write(connection, messages)

    def due(self, now_ms: int, limit: int = 100) -> tuple[OutboxMessage, ...]:
        """Waiting messages whose time has come: the gravest first, then the oldest."""
        with self._database.read() as connection:
            rows = connection.execute(
                f"SELECT {_COLUMNS} FROM outbox WHERE state = 'waiting' AND not_before_ms <= ?1 "  # noqa: S608
                "AND next_attempt_ms <= ?1 ORDER BY CASE priority WHEN 'high' THEN 0 WHEN 'medium' THEN 1 "
                "ELSE 2 END, created_ms, message_id LIMIT ?2",
                (now_ms, limit),
            )
            return tuple(_message(row) for row in rows)

    def waiting(self, recipient: str | None = None) -> tuple[OutboxMessage, ...]:
        """All that is not sent yet, oldest first."""
        with self._database.read() as connection:
            rows = connection.execute(
                f"SELECT {_COLUMNS} FROM outbox WHERE state = 'waiting' AND (?1 IS NULL OR recipient = ?1) "  # noqa: S608
                "ORDER BY created_ms, message_id",
                (recipient,),
            )
            return tuple(_message(row) for row in rows)

    def sent(self, message_id: int, now_ms: int) -> None:
        """The channel took the message."""
        self._finish((message_id,), OutboxState.SENT, now_ms, "")

    def superseded(self, message_ids: Iterable[int], now_ms: int, reason: str) -> None:
        """These need not go out any more."""
        self._finish(message_ids, OutboxState.SUPERSEDED, now_ms, reason)

    def failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """The channel did not take it: one attempt more, and when the next one is."""
        with self._database.write() as connection:
            connection.execute(
                "UPDATE outbox SET attempts = attempts + 1, last_error = ?, next_attempt_ms = ? "
                "WHERE message_id = ? AND state = 'waiting'",
                (error, next_attempt_ms, message_id),
            )

    def folded(self, message_ids: Iterable[int], summary: OutboxMessage, now_ms: int) -> int:
        """Put one summary in the place of several messages, all or nothing; gives the summary's number."""
        with self._database.write() as connection:
            self._finish(message_ids, OutboxState.FOLDED, now_ms, "told in a summary")
            return _add(connection, summary)

    def _finish(self, message_ids: Iterable[int], state: OutboxState, now_ms: int, note: str) -> None:
        with self._database.write() as connection:
            connection.executemany(
                "UPDATE outbox SET state = ?, finished_ms = ?, last_error = ?, attempts = attempts + ? "
                "WHERE message_id = ? AND state = 'waiting'",
                [(state, now_ms, note, state is OutboxState.SENT, number) for number in message_ids],
            )

    def sent_since(self, recipient: str, since_ms: int) -> int:
        """How many messages went out to a recipient from that time on."""
        with self._database.read() as connection:
            row = connection.execute(
                "SELECT count(*) FROM outbox WHERE recipient = ? AND state = 'sent' AND finished_ms >= ?",
                (recipient, since_ms),
            ).fetchone()
            return int(row[0])

    def oldest_unsent_ms(self, now_ms: int) -> int | None:
        """When the oldest message was written that should have gone out by now, or None."""
        with self._database.read() as connection:
            row = connection.execute(
                "SELECT min(max(created_ms, not_before_ms)) FROM outbox "
                "WHERE state = 'waiting' AND not_before_ms <= ?",
                (now_ms,),
            ).fetchone()
            return None if row[0] is None else int(row[0])

    def newest_ms(self, alarm_id: str) -> int:
        """When the newest message about an alarm was written; 0 where there is none."""
        with self._database.read() as connection:
            row = connection.execute(
                "SELECT max(created_ms) FROM outbox WHERE alarm_id = ?", (alarm_id,)
            ).fetchone()
            return int(row[0] or 0)

    def history(self, since_ms: int, alarm_id: str | None = None) -> tuple[OutboxRecord, ...]:
        """Messages written from that time on with what became of them, in their order."""
        where = "" if alarm_id is None else "AND alarm_id = ?2 "
        values = (since_ms,) if alarm_id is None else (since_ms, alarm_id)
        with self._database.read() as connection:
            rows = connection.execute(
                f"SELECT {_COLUMNS}, state, finished_ms FROM outbox WHERE created_ms >= ?1 {where}"  # noqa: S608
                "ORDER BY message_id",
                values,
            )
            return tuple(OutboxRecord(_message(row), OutboxState(row[12]), row[13]) for row in rows)


class Reports:
    """The register of night reports."""

    def __init__(self, database: Database) -> None:
        self._database = database

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
        with self._database.read() as connection:
            row = connection.execute("SELECT 1 FROM night_report WHERE date = ?", (date,)).fetchone()
            return row is not None
