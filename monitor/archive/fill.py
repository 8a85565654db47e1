"""Fills a database from the archive: what it lacks is taken from there, value, time and flag as they were.

It goes window by window. The readings of a window, their hours and how far it has come are one transaction;
so it may end at any moment and goes on from there. What the database holds already is never changed.
"""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from monitor.archive.reader import ArchiveReader, SensorReadings
from monitor.errors import ArchiveUnreachable
from monitor.records import MS_PER_DAY, MS_PER_HOUR, SensorKey
from monitor.store import archive_queue, meta, nodes
from monitor.store.connection import Database
from monitor.store.reading_writer import fill_in

Progress = Callable[[int, int], None]
Answer = TypeVar("Answer")
FIRST_WINDOW_MS = MS_PER_DAY
_SHORTEST_WINDOW_MS, _LONGEST_WINDOW_MS = MS_PER_HOUR, 8 * MS_PER_DAY
_FEW, _MANY = 50_000, 200_000
"""Own choice: with fewer or more readings in a window the next one is longer or shorter, so that a slow
computer is back within seconds for the service that writes beside it, and memory stays small."""
PAUSES_S = (2.0, 10.0, 30.0)
"""Before each time that a window is asked for again."""
_CURSOR = "archive_fill"


@dataclass(frozen=True, slots=True)
class Filled:
    """What came of it. `read` were in the archive, `stored` of them were new here."""

    read: int
    stored: int
    sensors: int
    newest_ms: int | None
    resumed_ms: int | None
    """where an earlier one had ended that was broken off; None where this one began at the beginning"""


def fill(
    database: Database,
    reader: ArchiveReader,
    site: str,
    since_ms: int | None,
    until_ms: int,
    progress: Progress | None = None,
    pauses_s: Sequence[float] = PAUSES_S,
) -> Filled:
    """Take what the database lacks of [since, until) from the archive; without `since` from its beginning.

    `progress(done, total)` counts milliseconds of the span. Raises what the reader raises; what was taken
    until then stays, and the same call goes on behind it.
    """
    return _Filling(database, reader, site, pauses_s).run(since_ms, until_ms, progress)


class _Filling:
    def __init__(
        self, database: Database, reader: ArchiveReader, site: str, pauses_s: Sequence[float]
    ) -> None:
        self._database, self._reader, self._site = database, reader, site
        self._pauses_s = pauses_s
        self._read = self._stored = 0
        self._sensors: set[SensorKey] = set()
        self._newest_ms: int | None = None

    def run(self, since_ms: int | None, until_ms: int, progress: Progress | None) -> Filled:
        """Window by window, each as long as the last one lets expect."""
        resumed_ms = self._resumed_ms(since_ms)
        span = self._asked(lambda: self._reader.span(self._site, since_ms or 0, until_ms))
        if span is not None:
            begin_ms, end_ms = max(span[0], resumed_ms or 0), span[1] + 1
            at_ms, window_ms = begin_ms, FIRST_WINDOW_MS
            while at_ms < end_ms:
                window_end_ms = min(at_ms + window_ms, end_ms)
                count = self._take(since_ms, at_ms, window_end_ms)
                at_ms, window_ms = window_end_ms, _next_window_ms(window_ms, count)
                if progress is not None:
                    progress(at_ms - begin_ms, end_ms - begin_ms)
        with self._database.write() as connection:
            meta.put(connection, _CURSOR, "")
        return Filled(self._read, self._stored, len(self._sensors), self._newest_ms, resumed_ms)

    def _resumed_ms(self, since_ms: int | None) -> int | None:
        """Up to where one had come that was broken off, if all that is wanted before there was in it."""
        with self._database.read() as connection:
            kept = meta.get(connection, _CURSOR)
        if not kept:
            return None
        site, begin_ms, at_ms = json.loads(kept)
        is_same = site == self._site and begin_ms <= (since_ms or 0) <= at_ms
        return int(at_ms) if is_same else None

    def _take(self, since_ms: int | None, start_ms: int, end_ms: int) -> int:
        """Fetch a window, then write it; nothing waits for the network while the database is held."""
        window = self._asked(lambda: list(self._reader.readings(self._site, start_ms, end_ms)))
        with self._database.write() as connection:
            archive_queue.begin_from_archive(connection)
            for sensor in window:
                self._write(connection, sensor)
            meta.put(connection, _CURSOR, json.dumps([self._site, since_ms or 0, end_ms]))
        return sum(len(sensor) for sensor in window)

    def _write(self, connection: sqlite3.Connection, found: SensorReadings) -> None:
        first_ms, last_ms = int(found.at_ms[0]), int(found.at_ms[-1])
        self._stored += fill_in(self._database, found.sensor, found.at_ms, found.value, found.flag)
        nodes.was_heard(connection, found.sensor.node, first_ms, last_ms)
        self._read += len(found)
        self._sensors.add(found.sensor)
        self._newest_ms = max(last_ms, self._newest_ms or last_ms)

    def _asked(self, question: Callable[[], Answer]) -> Answer:
        """The answer; where none comes the question is put again, some times."""
        for pause_s in self._pauses_s:
            try:
                return question()
            except ArchiveUnreachable:
                time.sleep(pause_s)
        return question()


def _next_window_ms(window_ms: int, count: int) -> int:
    if count > _MANY:
        return max(window_ms // 2, _SHORTEST_WINDOW_MS)
    return min(window_ms * 2, _LONGEST_WINDOW_MS) if count < _FEW else window_ms
