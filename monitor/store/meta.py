"""Small tables of the service: facts by name, requests from other processes, its own runs, marks of forms."""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Iterable
from dataclasses import astuple, dataclass, replace

from monitor.records import MS_PER_DAY, Command, CommandKind, ServiceRun
from monitor.store.connection import Queries

_COMMAND_COLUMNS = "kind, created_ms, actor, alarm_id, until_ms, reason, command_id"
PAGE_KEY, LINK_KEY = "page_key", "link_key"
PUSH_KEY = "push_key"
OWNER_PASSWORD, HELPER_PASSWORD = "page_owner_password", "page_helper_password"
SECRETS = (PAGE_KEY, LINK_KEY, PUSH_KEY, OWNER_PASSWORD, HELPER_PASSWORD)
"""Facts that no copy of the database holds: the keys of the page, and the hashes of its passwords."""
SECRET_TABLES = ("phone",)
"""Tables of which no copy holds a row: whoever has the address of a phone could send to it."""
_KEY_BYTES = 32
DAYS_KEPT = 400
"""For how many days it can be seen what was asked for and done. Own choice."""
DEMO_CLOCK = "demo_clock_ms"
"""In the store of a demo: the simulated time up to which it was played."""

BROKER_WAY, AWAY = "broker_way", "away"
"""What the service knows of its way through the broker: away while not connected, else a `Way`."""


def get(connection: sqlite3.Connection, key: str) -> str | None:
    """The fact of that name, inside a transaction of the caller."""
    row = connection.execute("SELECT value FROM meta WHERE key = ?", (key,)).fetchone()
    return None if row is None else str(row[0])


def put(connection: sqlite3.Connection, key: str, value: str) -> None:
    """Write a fact, inside a transaction of the caller."""
    connection.execute(
        "INSERT INTO meta VALUES(?, ?) ON CONFLICT DO UPDATE SET value = excluded.value", (key, value)
    )


class Meta(Queries):
    """Small facts that must survive a restart."""

    def get(self, key: str) -> str | None:
        with self._database.read() as connection:
            return get(connection, key)

    def put(self, key: str, value: str) -> None:
        with self._database.write() as connection:
            put(connection, key, value)

    def kept_key(self, key: str) -> bytes:
        """The secret key of that name, made and kept when it is asked for the first time."""
        with self._database.write() as connection:
            known = get(connection, key)
            if known is None:
                known = secrets.token_hex(_KEY_BYTES)
                put(connection, key, known)
        return bytes.fromhex(known)


@dataclass(frozen=True, slots=True)
class DayTask:
    """A task that a day asked for; `done_ms` and `who` are of a tick, not of an entry in the logbook."""

    task: str
    done_ms: int | None
    who: str


class DayTasks(Queries):
    """What each day asked for, and what a person ticked off because no entry of the logbook tells of it."""

    def of(self, day: str) -> tuple[DayTask, ...]:
        """The tasks of a day, in the order in which they came up."""
        query = "SELECT task, done_ms, who FROM day_task WHERE day = ? ORDER BY kept_ms, task"
        return tuple(DayTask(task, done, who or "") for task, done, who in self._database.rows(query, (day,)))

    def keep(self, day: str, tasks: Iterable[str], now_ms: int) -> None:
        """Add the tasks that are new, and forget days that are long over."""
        with self._database.write() as connection:
            connection.executemany(
                "INSERT INTO day_task(day, task, kept_ms) VALUES(?, ?, ?) ON CONFLICT DO NOTHING",
                [(day, task, now_ms) for task in tasks],
            )
            connection.execute("DELETE FROM day_task WHERE kept_ms < ?", (now_ms - DAYS_KEPT * MS_PER_DAY,))

    def tick(self, day: str, task: str, who: str, now_ms: int) -> None:
        """Write that a task was done; the first to say so stays."""
        self._database.change(
            "INSERT INTO day_task(day, task, kept_ms, done_ms, who) VALUES(?1, ?2, ?3, ?3, ?4) ON CONFLICT "
            "DO UPDATE SET done_ms = excluded.done_ms, who = excluded.who WHERE done_ms IS NULL",
            (day, task, now_ms, who),
        )


class Runs(Queries):
    """Start, sign of life, orderly stop."""

    def start(self, now_ms: int) -> int:
        statement = "INSERT INTO service_run(started_ms, alive_ms) VALUES(?1, ?1)"
        return self._database.change(statement, (now_ms,))

    def alive(self, run_id: int, now_ms: int) -> None:
        self._database.change(
            "UPDATE service_run SET alive_ms = max(alive_ms, ?) WHERE run_id = ?", (now_ms, run_id)
        )

    def stop(self, run_id: int, now_ms: int) -> None:
        self._database.change(
            "UPDATE service_run SET alive_ms = max(alive_ms, ?1), stopped_ms = ?1 WHERE run_id = ?2",
            (now_ms, run_id),
        )

    def end_all(self) -> None:
        """No life goes on in a database that came out of a copy."""
        self._database.change("UPDATE service_run SET stopped_ms = alive_ms WHERE stopped_ms IS NULL")

    def correct(self, run_id: int, now_ms: int) -> None:
        """The clock was wrong when this life began, or in an earlier one: no life lies in the future."""
        with self._database.write() as connection:
            connection.execute(
                "DELETE FROM service_run WHERE started_ms > ?1 AND run_id <> ?2", (now_ms, run_id)
            )
            connection.execute(
                "UPDATE service_run SET alive_ms = min(alive_ms, ?1), stopped_ms = min(stopped_ms, ?1)",
                (now_ms,),
            )
            connection.execute(
                "UPDATE service_run SET started_ms = ?1, alive_ms = ?1, stopped_ms = NULL WHERE run_id = ?2",
                (now_ms, run_id),
            )

    def went_back(self, run_id: int, now_ms: int) -> None:
        """The clock was ahead and is right again: no life lies in the future; when this one began stays."""
        with self._database.write() as connection:
            connection.execute(
                "DELETE FROM service_run WHERE started_ms > ?1 AND run_id <> ?2", (now_ms, run_id)
            )
            connection.execute(
                "UPDATE service_run SET started_ms = min(started_ms, ?1), alive_ms = min(alive_ms, ?1), "
                "stopped_ms = min(stopped_ms, ?1)",
                (now_ms,),
            )

    def between(self, start_ms: int, end_ms: int) -> tuple[ServiceRun, ...]:
        """Lives that touch the span, in the order of their start."""
        rows = self._database.rows(
            "SELECT started_ms, alive_ms, stopped_ms FROM service_run "
            "WHERE started_ms < ? AND alive_ms >= ? ORDER BY started_ms, run_id",
            (end_ms, start_ms),
        )
        return tuple(ServiceRun(*row) for row in rows)

    def downtime(self, start_ms: int, end_ms: int, grace_ms: int = 0) -> tuple[tuple[int, int], ...]:
        """Spans of [start, end) without a life; those no longer than `grace_ms` are left out.

        A life counts up to its last sign of life, so a grace of one interval between such signs is fitting.
        """
        spans: list[tuple[int, int]] = []
        covered_ms = start_ms
        for run in self.between(start_ms, end_ms):
            spans.append((covered_ms, run.started_ms))
            covered_ms = max(covered_ms, run.alive_ms)
        spans.append((covered_ms, end_ms))
        return tuple(span for span in spans if span[1] - span[0] > grace_ms)


def write_outcomes(connection: sqlite3.Connection, done: Iterable[tuple[int, str]]) -> None:
    """Mark commands as carried out, each with what came of it, inside a transaction of the caller."""
    connection.executemany(
        "UPDATE command SET outcome = ? WHERE command_id = ? AND outcome IS NULL",
        [(outcome, command_id) for command_id, outcome in done],
    )


class Commands(Queries):
    """The queue from a person's command line to the service."""

    def add(self, command: Command) -> int:
        """Ask for something; gives the number to ask for its outcome with."""
        return self._database.change(
            f"INSERT INTO command({_COMMAND_COLUMNS}) VALUES(?, ?, ?, ?, ?, ?, ?)",
            astuple(replace(command, command_id=None)),
        )

    def pending(self) -> tuple[Command, ...]:
        rows = self._database.rows(
            f"SELECT {_COMMAND_COLUMNS} FROM command WHERE outcome IS NULL ORDER BY command_id"  # noqa: S608
        )
        return tuple(Command(CommandKind(row[0]), *row[1:]) for row in rows)

    def outcome(self, command_id: int) -> str | None:
        """What came of a command; None while the service has not done it."""
        query = "SELECT outcome FROM command WHERE command_id = ?"
        outcome: str | None = self._database.value(query, (command_id,))
        return outcome


KEEP_MARKS_DAYS = 31
"""For so long a mark is known. Own choice; what waited longer on a phone is asked of its person."""
_MOST_AT_ONCE = 50
"""So many old marks go with each new one, so that a clock that is wrong for a while forgets few."""


@dataclass(frozen=True, slots=True)
class HandedIn:
    """A form that was handed in: its mark, a digest of what it said, when, and where its answer led."""

    mark: str
    content: str
    done_ms: int
    target: str


class FormMarks(Queries):
    """Marks are kept in the transaction that writes what their form says."""

    def find(self, mark: str) -> HandedIn | None:
        """What is known of a mark."""
        row = self._database.row(
            "SELECT mark, content, done_ms, target FROM form_mark WHERE mark = ?", (mark,)
        )
        return None if row is None else HandedIn(*row)

    def keep(self, done: HandedIn) -> None:
        """Keep a mark, and forget some that are older than a month."""
        with self._database.write() as connection:
            connection.execute(
                "DELETE FROM form_mark WHERE mark IN (SELECT mark FROM form_mark WHERE done_ms < ? LIMIT ?)",
                (done.done_ms - KEEP_MARKS_DAYS * MS_PER_DAY, _MOST_AT_ONCE),
            )
            connection.execute(
                "INSERT INTO form_mark(mark, content, done_ms, target) VALUES(?, ?, ?, ?)", astuple(done)
            )
