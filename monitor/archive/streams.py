"""What happened once and must reach the archive: the journal of alarms, and the summary of each hour.

Each stream is asked for what follows a place and gives the next place; the sender keeps the place in the
store as soon as the server has had time to write, so nothing waits in a table of its own.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from monitor.archive.series import ALARM_CHANGE, ALARM_STATUS, HOURLY, Point
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, Side, Transition
from monitor.store.archive_queue import ArchivedHour, ArchiveQueue, QueuedReading
from monitor.store.journal import Journal

HOUR_IS_OVER_MS = 3 * MS_PER_MINUTE
"""Own choice: readings of an hour have come by then, where nothing is wrong; later ones change it again."""
MOST_HOURS = 24
_BEFORE_ALL_HOURS = -(2**40)
_SIDES = frozenset(side.value for side in Side)


class Piece(NamedTuple):
    """Some points of a stream and the place after them."""

    place: int
    points: Sequence[Point]


class Stream(Protocol):
    """Points in an order of their own, each known by its place."""

    name: str
    start: int

    def after(self, place: int, limit: int) -> Piece:
        """The next points after a place, about `limit` at most; the same place where there are none."""

    def touched(self, readings: Sequence[QueuedReading], place: int) -> Sequence[Point]:
        """What such readings change of what was sent already."""


class JournalStream:
    """Each line of the journal of alarms; its place is the number of the line."""

    name, start = "journal", 0

    def __init__(self, journal: Journal) -> None:
        self._journal = journal

    def after(self, place: int, limit: int) -> Piece:
        """The next lines of the journal."""
        rows = self._journal.numbered_after(place, limit)
        return Piece(rows[-1][0] if rows else place, [change_point(*row) for row in rows])

    def touched(self, readings: Sequence[QueuedReading], place: int) -> Sequence[Point]:  # noqa: ARG002
        """No reading changes what the journal says."""
        return ()


def change_point(entry: int, change: Transition) -> Point:
    """One line of the journal. The side of an alarm stands in its id alone."""
    side = next((part for part in change.alarm_id.split("/")[-2:] if part in _SIDES), "")
    fields = {
        "before": ALARM_STATUS[change.before],
        "after": ALARM_STATUS[change.after],
        "value": change.value,
        "setpoint": change.setpoint,
        "by_person": change.actor != "monitor",
        "entry": entry,
    }
    tags = (change.place, change.quantity, side, change.priority.value, change.event.value)
    return Point(ALARM_CHANGE, tags, fields, change.at_ms)


def system_clock_ms() -> int:
    return time.time_ns() // 1_000_000


class HourStream:
    """The hours that are over; the place is the last of them. A late reading sends its hour again."""

    name, start = "hours", _BEFORE_ALL_HOURS

    def __init__(self, queue: ArchiveQueue, clock: Callable[[], int] = system_clock_ms) -> None:
        self._queue, self._clock = queue, clock
        self._empty_until = _BEFORE_ALL_HOURS

    def after(self, place: int, limit: int) -> Piece:
        """The next hours of all sensors: whole hours, and as many as give about `limit` points."""
        over = (self._clock() - HOUR_IS_OVER_MS) // MS_PER_HOUR
        if place >= over:  # the clock was ahead
            self._empty_until = _BEFORE_ALL_HOURS
            return Piece(over - 1, ())
        if over <= max(place + 1, self._empty_until):
            return Piece(place, ())
        first = self._queue.first_hour_after(place)
        if first is None or first >= over:
            self._empty_until = over
            return Piece(place, ())
        rows = [*self._queue.hours_between(first, first + 1)]
        end = min(over, first + max(1, min(MOST_HOURS, limit // max(1, len(rows)))))
        rows += self._queue.hours_between(first + 1, end)
        return Piece(end - 1, [hour_point(row) for row in rows])

    def touched(self, readings: Sequence[QueuedReading], place: int) -> Sequence[Point]:
        """The hours of late readings, as they are now."""
        hours = [(reading.sensor, reading.at_ms // MS_PER_HOUR) for reading in readings]
        late = {(sensor, hour) for sensor, hour in hours if hour <= place}
        if any(place < hour < self._empty_until for _, hour in hours):
            self._empty_until = _BEFORE_ALL_HOURS
        return [hour_point(row) for row in self._queue.hours_of(sorted(late))]


def hour_point(row: ArchivedHour) -> Point:
    """The summary of an hour, later by a millisecond for each reading in it: the last of an hour counts."""
    fields = {
        "count": row.count,
        "minimum": row.minimum,
        "mean": row.mean,
        "maximum": row.maximum,
        "flagged": row.flagged,
    }
    later_ms = min(row.count + row.flagged, MS_PER_HOUR - 1)
    tags = (row.sensor.node, row.sensor.probe, row.sensor.quantity)
    return Point(HOURLY, tags, fields, row.hour * MS_PER_HOUR + later_ms)
