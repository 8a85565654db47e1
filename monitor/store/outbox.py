"""Messages to people, one row per message and recipient; their phones; which night reports went out."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass, field, replace
from typing import Any

from monitor.records import MS_PER_DAY, MS_PER_MINUTE, MessageKind, OutboxMessage, Priority
from monitor.store.connection import Queries

_COLUMNS = (
    "recipient, kind, title, body, created_ms, priority, alarm_id, not_before_ms, attempts, "
    "next_attempt_ms, last_error, message_id, worst, setpoint"
)
_SMALL_CORRECTION_MS = 10 * MS_PER_MINUTE
_SENT, _SUPERSEDED = "sent", "superseded"
LOOK_BACK_MS = 40 * MS_PER_DAY
"""Messages older than that decide nothing about what is told next."""


def write(connection: sqlite3.Connection, messages: Iterable[OutboxMessage]) -> tuple[int, ...]:
    """Add messages and give their numbers, inside a transaction of the caller."""
    return tuple(_add(connection, message) for message in messages)


def _add(connection: sqlite3.Connection, message: OutboxMessage) -> int:
    cursor = connection.execute(
        f"INSERT INTO outbox({_COLUMNS}) VALUES(?,?,?,?,?,?,?,?,?,?,?,NULL,?,?)",
        (*astuple(message)[:11], message.worst, message.setpoint),
    )
    return cursor.lastrowid or 0


def _message(row: Sequence[Any]) -> OutboxMessage:
    cells, (worst, setpoint, state, finished_ms) = list(row[:12]), row[12:]
    cells[1], cells[5] = MessageKind(cells[1]), Priority(cells[5])
    message = replace(OutboxMessage(*cells), worst=worst, setpoint=setpoint)
    if state == _SENT:
        return replace(message, sent_ms=finished_ms)
    return replace(message, superseded=message.last_error or state) if state == _SUPERSEDED else message


class Outbox(Queries):
    """The outbox: what waits, what went out, how much lately."""

    def add(self, messages: Iterable[OutboxMessage]) -> tuple[int, ...]:
        """Add messages outside a batch (a test message, a reminder); gives their numbers."""
        with self._database.write() as connection:
            return write(connection, messages)

    def waiting(self) -> tuple[OutboxMessage, ...]:
        return self._messages("state = 'waiting' ORDER BY created_ms, message_id")

    def messages_for(self, alarm_id: str) -> tuple[OutboxMessage, ...]:
        """The messages of the last weeks about one alarm, whatever became of them.

        Bounded, since it is asked for with every change of an alarm; counted back from the newest message,
        so that no clock is needed here.
        """
        newest = "(SELECT max(created_ms) FROM outbox WHERE alarm_id = ?1)"
        return self._messages(
            f"created_ms >= {newest} - ?2 AND alarm_id = ?1 ORDER BY message_id", alarm_id, LOOK_BACK_MS
        )

    def unsent(self, start_ms: int, end_ms: int, at_ms: int) -> int:
        """How many messages that were made in [start, end) had not left at a moment."""
        count = self._database.value(
            "SELECT count(*) FROM outbox WHERE created_ms >= ? AND created_ms < ? "
            "AND (finished_ms IS NULL OR finished_ms > ?)",
            (start_ms, end_ms, at_ms),
        )
        return int(count)

    def since(self, start_ms: int) -> tuple[OutboxMessage, ...]:
        return self._messages("created_ms >= ? ORDER BY message_id", start_ms)

    def _messages(self, where: str, *values: object) -> tuple[OutboxMessage, ...]:
        query = f"SELECT {_COLUMNS}, state, finished_ms FROM outbox WHERE {where}"  # noqa: S608
        return tuple(_message(row) for row in self._database.rows(query, values))

    def sent_since(self, recipient: str, since_ms: int) -> int:
        query = "SELECT count(*) FROM outbox WHERE recipient = ? AND state = 'sent' AND finished_ms >= ?"
        return int(self._database.value(query, (recipient, since_ms)))

    def mark_sent(self, message_id: int, now_ms: int) -> None:
        self._finish(message_id, _SENT, now_ms, "")

    def supersede(self, message_id: int, reason: str, now_ms: int) -> None:
        self._finish(message_id, _SUPERSEDED, now_ms, reason)

    def mark_failed(self, message_id: int, error: str, next_attempt_ms: int) -> None:
        """The channel did not take it: one attempt more, and when the next one is."""
        self._database.change(
            "UPDATE outbox SET attempts = attempts + 1, last_error = ?, next_attempt_ms = ? "
            "WHERE message_id = ? AND state = 'waiting'",
            (error, next_attempt_ms, message_id),
        )

    def _finish(self, message_id: int, state: str, now_ms: int, note: str) -> None:
        self._database.change(
            "UPDATE outbox SET state = ?, finished_ms = ?, last_error = ?, attempts = attempts + ? "
            "WHERE message_id = ? AND state = 'waiting'",
            (state, now_ms, note, state == _SENT, message_id),
        )


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

    def forget_ahead(self, date: str, now_ms: int) -> None:
        """Give back the claims of later dates that a clock made which was ahead and is right again.

        Some minutes are left alone: a clock put right by so little brings no second report.
        """
        self._database.change(
            "DELETE FROM night_report WHERE date > ? AND claimed_ms > ?",
            (date, now_ms + _SMALL_CORRECTION_MS),
        )

    def claimed(self, date: str) -> bool:
        return self._database.row("SELECT 1 FROM night_report WHERE date = ?", (date,)) is not None


GONE_KEPT_MS = 30 * MS_PER_DAY
"""For so long it is said that a phone takes messages no more. Own choice."""
_PHONE_COLUMNS = (
    "recipient, person, role, device, endpoint, p256dh, auth, made_ms, last_ok_ms, failures, phone_id"
)


@dataclass(frozen=True, slots=True)
class Phone:
    """One browser to which messages are pushed: for whom, and who turned that on.

    Address and keys are secrets: whoever has them could send to the phone, or read what is sent.
    """

    recipient: str
    person: str
    role: str
    device: str
    endpoint: str = field(repr=False)
    p256dh: str = field(repr=False)
    auth: str = field(repr=False)
    made_ms: int
    last_ok_ms: int | None = None
    failures: int = 0
    phone_id: int = 0


@dataclass(frozen=True, slots=True)
class GonePhone:
    """A phone that took messages, until its push service said that it does so no more."""

    phone_id: int
    recipient: str
    device: str
    gone_ms: int


class Phones(Queries):
    """The phones to which messages are pushed."""

    def every(self) -> tuple[Phone, ...]:
        """All phones, the oldest first."""
        rows = self._database.rows(f"SELECT {_PHONE_COLUMNS} FROM phone ORDER BY phone_id")  # noqa: S608
        return tuple(Phone(*row) for row in rows)

    def gone(self) -> tuple[GonePhone, ...]:
        """Those that were lost lately, the oldest first."""
        rows = self._database.rows(
            "SELECT phone_id, recipient, device, gone_ms FROM phone_gone ORDER BY phone_id"
        )
        return tuple(GonePhone(*row) for row in rows)

    def add(self, phone: Phone, replaces: str = "") -> int:
        """Keep a phone and give its number; what was known under its address, or its old one, goes."""
        values = astuple(phone)[:8]
        with self._database.write() as connection:
            connection.execute("DELETE FROM phone WHERE endpoint IN (?, ?)", (phone.endpoint, replaces))
            connection.execute(
                "DELETE FROM phone_gone WHERE recipient = ? AND device = ?", (phone.recipient, phone.device)
            )
            cursor = connection.execute(
                f"INSERT INTO phone({_PHONE_COLUMNS}) VALUES(?,?,?,?,?,?,?,?,NULL,0,NULL)",
                values,
            )
            return cursor.lastrowid or 0

    def remove(self, phone_id: int) -> None:
        """Nothing is pushed to this phone any more."""
        self._database.change("DELETE FROM phone WHERE phone_id = ?", (phone_id,))

    def remove_all_of(self, name: str) -> int:
        """Nothing is pushed any more to phones that this person turned on, however the name is written."""
        found = [phone.phone_id for phone in self.every() if phone.person.casefold() == name.casefold()]
        for phone_id in found:
            self.remove(phone_id)
        return len(found)

    def remove_role(self, role: str) -> None:
        """The same of everybody in a role."""
        self._database.change("DELETE FROM phone WHERE role = ?", (role,))

    def lost(self, phone_id: int, now_ms: int) -> None:
        """Its push service knows the phone no more: it goes, and that is said."""
        with self._database.write() as connection:
            connection.execute(
                "INSERT INTO phone_gone SELECT phone_id, recipient, device, ? FROM phone WHERE phone_id = ?",
                (now_ms, phone_id),
            )
            connection.execute("DELETE FROM phone WHERE phone_id = ?", (phone_id,))
            connection.execute("DELETE FROM phone_gone WHERE gone_ms < ?", (now_ms - GONE_KEPT_MS,))

    def note(self, phone_id: int, now_ms: int, *, taken: bool) -> None:
        """What became of one message to a phone."""
        self._database.change(
            "UPDATE phone SET failures = CASE WHEN ?1 THEN 0 ELSE failures + 1 END, "
            "last_ok_ms = CASE WHEN ?1 THEN ?2 ELSE last_ok_ms END WHERE phone_id = ?3",
            (taken, now_ms, phone_id),
        )
