"""One batch, one transaction: all that a turn of the service writes, before anything is acknowledged."""

from __future__ import annotations

import sqlite3

from monitor.records import Batch, CommitResult
from monitor.store import again, archive_queue, commands, journal, outbox
from monitor.store.connection import Database
from monitor.store.node_writer import NodeMemory, NodeWriter
from monitor.store.reading_writer import Memory, ReadingWriter


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
        """Write the batch whole, or raise a StoreError with nothing of it written."""
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
        found = connection.execute("PRAGMA data_version").fetchone()[0]
        if found != self._data_version:
            self.forget()
            self._data_version = found

    def _write(self, connection: sqlite3.Connection, batch: Batch) -> CommitResult:
        if self.archive:
            archive_queue.note_history(connection)
        else:
            archive_queue.forget_history(connection)
        nodes = NodeWriter(connection, self._nodes)
        readings = ReadingWriter(connection, self._sensors, batch.now_ms if self.archive else None)
        duplicate_messages = 0
        for flagged in batch.messages:
            heard_before_ms = nodes.heard(flagged.message)
            duplicate_messages += heard_before_ms is not None
            readings.add(again.unknown_ones(flagged, heard_before_ms, readings))
        for status in batch.statuses:
            nodes.said(status)
        for rejected in batch.rejected:
            nodes.refused(rejected)
        counts = readings.flush()
        nodes.flush(counts.conflicts_by_node)
        _write_alarms(connection, batch)
        return CommitResult(counts.stored, duplicate_messages, counts.duplicates, counts.conflicts)


def _write_alarms(connection: sqlite3.Connection, batch: Batch) -> None:
    journal.write_states(connection, batch.alarm_states)
    journal.write_transitions(connection, batch.transitions)
    journal.write_found_late(connection, batch.found_late, batch.now_ms)
    outbox.write(connection, batch.outbox)
    commands.write_outcomes(connection, batch.done_commands)
