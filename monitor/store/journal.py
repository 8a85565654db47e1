"""Alarm states as they are now, and every transition that led there."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import astuple

from monitor.records import AlarmEvent, AlarmState, AlarmStatus, Excursion, Priority, Transition
from monitor.store.connection import Queries

_TRANSITION_COLUMNS = (
    "alarm_id, place, quantity, priority, event, before, after, at_ms, processed_ms, "
    "value, setpoint, actor, reason"
)
_STATE_COLUMNS = (
    "alarm_id, status, active, acknowledged, since_ms, progress_s, last_at_ms, last_value, extreme_value, "
    "last_true_ms, shelved_until_ms, stale, over_since_ms, over_ms, over_extreme"
)


def write_states(connection: sqlite3.Connection, states: Iterable[AlarmState]) -> None:
    """Put states in place of the older ones, inside a transaction of the caller."""
    connection.executemany(
        f"INSERT OR REPLACE INTO alarm_state({_STATE_COLUMNS}) VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
        [astuple(state) for state in states],
    )


def write_transitions(connection: sqlite3.Connection, transitions: Iterable[Transition]) -> None:
    """Add transitions in their order, inside a transaction of the caller."""
    # A commit can fail after all was written; what is carried to the next one is then there already.
    connection.executemany(
        f"INSERT INTO journal({_TRANSITION_COLUMNS}) SELECT ?,?,?,?,?,?,?,?,?,?,?,?,? WHERE NOT EXISTS("  # noqa: S608
        "SELECT 1 FROM journal WHERE alarm_id = ?1 AND event = ?5 AND before = ?6 AND after = ?7 "
        "AND at_ms = ?8 AND processed_ms = ?9)",
        [astuple(transition) for transition in transitions],
    )


def write_found_late(connection: sqlite3.Connection, excursions: Iterable[Excursion], now_ms: int) -> None:
    """Add excursions found late; one that is found again has grown. Inside a transaction of the caller."""
    connection.executemany(
        "INSERT INTO found_late VALUES(?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET "
        "ended_ms = excluded.ended_ms, extreme = excluded.extreme",
        [(*astuple(excursion), now_ms) for excursion in excursions],
    )


def _state(row: tuple[object, ...]) -> AlarmState:
    cells = list(row)
    cells[1] = AlarmStatus(str(cells[1]))
    for at in (2, 3, 11):
        cells[at] = bool(cells[at])
    return AlarmState(*cells)  # type: ignore[arg-type]


def _transition(row: tuple[object, ...]) -> Transition:
    cells = list(row)
    cells[3] = Priority(str(cells[3]))
    cells[4] = AlarmEvent(str(cells[4]))
    cells[5], cells[6] = AlarmStatus(str(cells[5])), AlarmStatus(str(cells[6]))
    return Transition(*cells)  # type: ignore[arg-type]


class Journal(Queries):
    def states(self) -> dict[str, AlarmState]:
        """The state of every alarm that ever had one, by its id."""
        rows = self._database.rows(f"SELECT {_STATE_COLUMNS} FROM alarm_state ORDER BY alarm_id")  # noqa: S608
        return {row[0]: _state(row) for row in rows}

    def transitions(self, start_ms: int, end_ms: int, alarm_id: str | None = None) -> tuple[Transition, ...]:
        """Transitions with start <= at < end in the order of time, of one alarm or of all."""
        where = "" if alarm_id is None else "AND alarm_id = ?3 "
        rows = self._database.rows(
            f"SELECT {_TRANSITION_COLUMNS} FROM journal WHERE at_ms >= ?1 AND at_ms < ?2 {where}"  # noqa: S608
            "ORDER BY at_ms, entry_id",
            (start_ms, end_ms) if alarm_id is None else (start_ms, end_ms, alarm_id),
        )
        return tuple(_transition(row) for row in rows)

    def numbered_after(self, entry_id: int, limit: int) -> tuple[tuple[int, Transition], ...]:
        """The transitions that were written after a line, each with the number of its own, in that order."""
        rows = self._database.rows(
            f"SELECT entry_id, {_TRANSITION_COLUMNS} FROM journal WHERE entry_id > ? "  # noqa: S608
            "ORDER BY entry_id LIMIT ?",
            (entry_id, limit),
        )
        return tuple((int(row[0]), _transition(row[1:])) for row in rows)

    def acknowledged_since(self, alarm_id: str, since_ms: int) -> bool:
        """Whether a person, not the monitor, acknowledged the alarm at or after a moment."""
        return self.acknowledged(alarm_id, since_ms) is not None

    def acknowledged(self, alarm_id: str, since_ms: int) -> tuple[str, int] | None:
        """Which person acknowledged the alarm at or after a moment, and when; the last one that did."""
        rows = self._database.rows(
            "SELECT actor, at_ms FROM journal WHERE alarm_id = ? AND at_ms >= ? AND event = ? "
            "AND actor <> 'monitor' ORDER BY at_ms DESC, entry_id DESC LIMIT 1",
            (alarm_id, since_ms, AlarmEvent.ACKNOWLEDGE.value),
        )
        return next(((str(who), int(at_ms)) for who, at_ms in rows), None)

    def setpoint_passed(self, alarm_id: str, at_ms: int) -> float | None:
        """The limit with which the alarm last came up to a moment; None where none was written.

        One that another limit has ended since has that in its last row.
        """
        rows = self._database.rows(
            "SELECT setpoint FROM journal WHERE alarm_id = ? AND at_ms <= ? AND event = ? "
            "AND setpoint IS NOT NULL ORDER BY at_ms DESC, entry_id DESC LIMIT 1",
            (alarm_id, at_ms, AlarmEvent.ACTIVATE.value),
        )
        return next((float(setpoint) for (setpoint,) in rows), None)

    def newest_before(self, at_ms: int) -> dict[str, Transition]:
        """The newest transition of each alarm before a moment: how each stood then, by its id."""
        columns = ", ".join(f"journal.{column}" for column in _TRANSITION_COLUMNS.split(", "))
        newest = "SELECT alarm_id, max(at_ms) AS newest_ms FROM journal WHERE at_ms < ? GROUP BY alarm_id"
        rows = self._database.rows(
            f"SELECT {columns} FROM journal JOIN ({newest}) AS last ON journal.alarm_id = last.alarm_id "  # noqa: S608
            "AND journal.at_ms = last.newest_ms ORDER BY journal.entry_id",
            (at_ms,),
        )
        return {row[0]: _transition(row) for row in rows}

    def found_late(self, start_ms: int, end_ms: int) -> tuple[Excursion, ...]:
        """Excursions that were found in [start, end), in the order of their beginning."""
        rows = self._database.rows(
            "SELECT alarm_id, began_ms, ended_ms, extreme FROM found_late "
            "WHERE found_ms >= ? AND found_ms < ? ORDER BY began_ms, alarm_id",
            (start_ms, end_ms),
        )
        return tuple(Excursion(*row) for row in rows)

    def last(self, count: int, alarm_id: str | None = None) -> tuple[Transition, ...]:
        """The newest transitions, newest first, of one alarm or of all."""
        where = "" if alarm_id is None else "WHERE alarm_id = ?2 "
        rows = self._database.rows(
            f"SELECT {_TRANSITION_COLUMNS} FROM journal {where}"  # noqa: S608
            "ORDER BY at_ms DESC, entry_id DESC LIMIT ?1",
            (count,) if alarm_id is None else (count, alarm_id),
        )
        return tuple(_transition(row) for row in rows)
