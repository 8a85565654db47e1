"""The store as the other rooms see it, and the transaction that writes one batch."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

from monitor.records import Batch, CommitResult
from monitor.store import archive_queue, copies, journal, maintenance, meta, outbox, reading_writer
from monitor.store.archive_queue import ArchiveQueue
from monitor.store.board_reports import BoardReports
from monitor.store.connection import BUSY_TIMEOUT_S, Database, open_database
from monitor.store.journal import Journal
from monitor.store.logbook import Calibrations, Forecasts, Logbook, LogbookMemory
from monitor.store.meta import Commands, DayTasks, FormMarks, Meta, Runs
from monitor.store.nodes import NodeMemory, Nodes, NodeWriter
from monitor.store.outbox import Outbox, Phones, Reports
from monitor.store.photos import Photos
from monitor.store.reading_writer import Memory, ReadingWriter
from monitor.store.readings import Readings, Summaries


class BatchWriter:
    """Commits batches; remembers sensors, newest times and sequences so that most rows need no look-up.

    The memory holds only while nobody else writes: SQLite's data_version tells when somebody did.
    """

    def __init__(self, database: Database, archive: bool) -> None:
        self.archive = archive
        self._database = database
        self._sensors: Memory = {}
        self._nodes: dict[str, NodeMemory] = {}
        self._data_version = -1

    def commit(self, batch: Batch) -> CommitResult:
        try:
            with self._database.write() as connection:
                self._notice_others(connection)
                return self._write(connection, batch)
        except BaseException:
            self.forget()
            raise

    def forget(self) -> None:
        """Drop the memory; it is read from the file again."""
        self._sensors.clear()
        self._nodes.clear()

    def _notice_others(self, connection: sqlite3.Connection) -> None:
        version = connection.execute("PRAGMA data_version").fetchone()[0]
        if version != self._data_version:
            self.forget()
            self._data_version = version

    def _write(self, connection: sqlite3.Connection, batch: Batch) -> CommitResult:
        if self.archive:
            archive_queue.note_history(connection)
        else:
            archive_queue.forget_history(connection)
        nodes = NodeWriter(connection, self._nodes)
        readings = ReadingWriter(
            self._database, connection, self._sensors, batch.now_ms if self.archive else None
        )
        duplicate_messages = 0
        for flagged in batch.messages:
            first = nodes.heard(flagged.message)
            found = reading_writer.new_readings(flagged, first, readings)
            if found.begins_anew:
                nodes.heard_as_new(flagged.message)
            duplicate_messages += first is not None and not found.begins_anew
            readings.add(found.readings)
        for status in batch.statuses:
            nodes.said(status)
        for rejected in batch.rejected:
            nodes.refused(rejected)
        for report in batch.reports:
            nodes.reported(report)
        counts = readings.flush()
        nodes.flush(counts.conflicts_by_node)
        _write_alarms(connection, batch)
        return CommitResult(counts.stored, duplicate_messages, counts.duplicates, counts.conflicts)


def _write_alarms(connection: sqlite3.Connection, batch: Batch) -> None:
    journal.write_states(connection, batch.alarm_states)
    journal.write_transitions(connection, batch.transitions)
    journal.write_found_late(connection, batch.found_late, batch.now_ms)
    outbox.write(connection, batch.outbox)
    meta.write_outcomes(connection, batch.done_commands)


class Store:
    """One database: `commit` writes batches, each attribute answers for its own tables.

    Any thread may call it, one at a time (one connection behind one lock). Views open their own with
    `read_only`, which works while the service writes; so do commands in another process with `open`.
    """

    def __init__(
        self, database: Database, archive: bool = False, memory: LogbookMemory | None = None
    ) -> None:
        self.database, self.path = database, database.path
        self.archive_queue = ArchiveQueue(database)
        self.board_reports = BoardReports(database)
        self.calibrations = Calibrations(database)
        self.commands = Commands(database)
        self.day_tasks = DayTasks(database)
        self.forecasts = Forecasts(database)
        self.form_marks = FormMarks(database)
        self.journal = Journal(database)
        self.logbook = Logbook(database, memory)
        self.meta = Meta(database)
        self.nodes = Nodes(database)
        self.outbox = Outbox(database)
        self.phones = Phones(database)
        self.photos = Photos(database)
        self.reports = Reports(database)
        self.runs = Runs(database)
        self.summaries = Summaries(database)
        self.readings = Readings(database)
        self._writer = BatchWriter(database, archive)

    @classmethod
    def open(
        cls,
        path: Path,
        *,
        create: bool = True,
        check: bool = True,
        archive: bool = False,
        busy_timeout_s: float = BUSY_TIMEOUT_S,
    ) -> Self:
        """Open for writing: check the file, bring its tables up to date.

        `archive` says whether readings are queued for the archive; `check=False` leaves out the check of
        the whole file, for short commands.
        """
        database = open_database(path, create=create, check=check, busy_timeout_s=busy_timeout_s)
        return cls(database, archive)

    @classmethod
    def read_only(cls, path: Path, memory: LogbookMemory | None = None) -> Self:
        """Open for reading only, while a service writes; `memory` holds what others read of the logbook."""
        database = open_database(path, create=False, read_only=True, check=False)
        return cls(database, memory=memory)

    def commit(self, batch: Batch) -> CommitResult:
        return self._writer.commit(batch)

    def prune(self, now_ms: int, keep_raw_days: int) -> int:
        """Delete raw readings older than the limit; hours stay. Gives how many readings went."""
        return maintenance.prune(self.database, now_ms, keep_raw_days)

    def clock_went_back(self, now_ms: int, run_id: int) -> None:
        """The machine's clock was ahead and is right again: nothing of what is kept lies in the future."""
        self.runs.went_back(run_id, now_ms)
        maintenance.clock_went_back(self.database, now_ms)

    def backup(self, target: Path, progress: Callable[[int, int], None] | None = None) -> None:
        """Copy the database to a new file while it is in use; `progress(done, total)` counts pages."""
        copies.backup(self.database, target, progress)

    def close(self) -> None:
        self.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
