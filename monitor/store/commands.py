"""What a person asked for from another process, until the service has done it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from monitor.records import Command, CommandKind
from monitor.store.connection import Database


def write_outcomes(connection: sqlite3.Connection, done: Iterable[tuple[int, str]]) -> None:
    """Mark commands as carried out, each with what came of it, inside a transaction of the caller."""
    connection.executemany(
        "UPDATE command SET outcome = ? WHERE command_id = ? AND outcome IS NULL",
        [(outcome, command_id) for command_id, outcome in done],
    )


class Commands:
    """The queue from a person's command line to the service."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, command: Command) -> int:
        """Ask for something; gives the number to ask for its outcome with."""
        with self._database.write() as connection:
            cursor = connection.execute(
                "INSERT INTO command(kind, created_ms, actor, alarm_id, until_ms, reason) "
                "VALUES(?, ?, ?, ?, ?, ?)",
                (
                    *(command.kind, command.created_ms, command.actor),
                    *(command.alarm_id, command.until_ms, command.reason),
                ),
            )
            return cursor.lastrowid or 0

    def pending(self) -> tuple[Command, ...]:
        """What is not done yet, in the order asked."""
        with self._database.read() as connection:
            rows = connection.execute(
                "SELECT kind, created_ms, actor, alarm_id, until_ms, reason, command_id FROM command "
                "WHERE outcome IS NULL ORDER BY command_id"
            )
            return tuple(Command(CommandKind(row[0]), *row[1:]) for row in rows)

    def outcome(self, command_id: int) -> str | None:
        """What came of a command; None while the service has not done it."""
        with self._database.read() as connection:
            row = connection.execute(
                "SELECT outcome FROM command WHERE command_id = ?", (command_id,)
            ).fetchone()
            return None if row is None else row[0]
