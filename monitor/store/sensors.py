"""Sensors by number, and the whole-number form in which a value is kept."""

from __future__ import annotations

import math
import sqlite3
from dataclasses import dataclass

from monitor.records import QUANTITIES, SensorKey

_PER_UNIT_OF_UNKNOWN = 10_000
LARGEST_STEPS = 10**12


@dataclass(frozen=True, slots=True)
class SensorRow:
    """One sensor as stored; `per_unit` steps make one unit of its quantity."""

    sensor_id: int
    key: SensorKey
    per_unit: int


def per_unit(quantity: str) -> int:
    """Steps in one unit of a quantity, from its resolution; a fine grid for one that is not in the table."""
    facts = QUANTITIES.get(quantity)
    return round(1 / facts.resolution) if facts else _PER_UNIT_OF_UNKNOWN


def to_steps(value: float, steps_in_unit: int) -> int | None:
    """A value as a whole number of steps; None for one that is not finite or absurdly large."""
    steps = value * steps_in_unit
    return round(steps) if -LARGEST_STEPS <= steps <= LARGEST_STEPS else None


def from_steps(steps: int | None, steps_in_unit: int) -> float:
    """The value back; NaN where none was kept."""
    return math.nan if steps is None else steps / steps_in_unit


def find_or_add(connection: sqlite3.Connection, key: SensorKey) -> SensorRow:
    """The row of a sensor; written on its first reading."""
    return find(connection, key) or _add(connection, key)


def _add(connection: sqlite3.Connection, key: SensorKey) -> SensorRow:
    steps = per_unit(key.quantity)
    cursor = connection.execute(
        "INSERT INTO sensor(node, probe, quantity, per_unit) VALUES(?, ?, ?, ?)",
        (key.node, key.probe, key.quantity, steps),
    )
    if cursor.lastrowid is None:
        raise AssertionError("an insert gave no row number")
    return SensorRow(cursor.lastrowid, key, steps)


def find(connection: sqlite3.Connection, key: SensorKey) -> SensorRow | None:
    """The row of a sensor that has sent something, or None."""
    row = connection.execute(
        "SELECT sensor_id, per_unit FROM sensor WHERE node = ? AND probe = ? AND quantity = ?",
        (key.node, key.probe, key.quantity),
    ).fetchone()
    return SensorRow(row[0], key, row[1]) if row else None


def every(connection: sqlite3.Connection) -> tuple[SensorRow, ...]:
    """All sensors, in the order of their keys."""
    rows = connection.execute(
        "SELECT sensor_id, node, probe, quantity, per_unit FROM sensor ORDER BY node, probe, quantity"
    )
    return tuple(SensorRow(row[0], SensorKey(row[1], row[2], row[3]), row[4]) for row in rows)
