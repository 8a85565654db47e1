"""The store as the other parts see it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self, TextIO

from monitor.records import Batch, CommitResult, SensorKey
from monitor.store import export, maintenance
from monitor.store.archive_queue import ArchiveQueue
from monitor.store.backup import backup
from monitor.store.calibrations import Calibrations
from monitor.store.commands import Commands
from monitor.store.connection import BUSY_TIMEOUT_S, Database, open_database
from monitor.store.forecasts import Forecasts
from monitor.store.journal import Journal
from monitor.store.logbook import Logbook
from monitor.store.meta import Meta
from monitor.store.nodes import Nodes
from monitor.store.outbox import Outbox
from monitor.store.readings import Readings
from monitor.store.reports import Reports
from monitor.store.runs import Runs
from monitor.store.summaries import Summaries
from monitor.store.writer import BatchWriter


class Store:
    """One database: `commit` writes batches, each attribute answers for its own tables.

    Any thread may call it, one at a time (one connection behind one lock). Views open their own with
    `read_only`, which works while the service writes; so do commands in another process with `open`.
    """

    def __init__(self, database: Database, archive: bool = False) -> None:
        self.database = database
        self.archive_queue = ArchiveQueue(database)
        self.calibrations = Calibrations(database)
        self.commands = Commands(database)
        self.forecasts = Forecasts(database)
        self.journal = Journal(database)
        self.logbook = Logbook(database)
        self.meta = Meta(database)
        self.nodes = Nodes(database)
        self.outbox = Outbox(database)
        self.reports = Reports(database)
        self.runs = Runs(database)
        self.summaries = Summaries(database)
        self.readings = Readings(database, self.summaries)
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
    def read_only(cls, path: Path) -> Self:
        """Open for reading only, beside a service that writes."""
        return cls(open_database(path, create=False, read_only=True, check=False))

    @property
    def path(self) -> Path:
        """Where the database is."""
        return self.database.path

    @property
    def archive(self) -> bool:
        """True when readings are queued for the archive; may be changed when settings are read again."""
        return self._writer.archive

    @archive.setter
    def archive(self, wanted: bool) -> None:
        self._writer.archive = wanted

    def commit(self, batch: Batch) -> CommitResult:
        """Write a batch in one transaction; on any error nothing of it is written."""
        return self._writer.commit(batch)

    def prune(self, now_ms: int, keep_raw_days: int) -> int:
        """Delete raw readings older than the limit; hours stay. Gives how many readings went."""
        return maintenance.prune(self.database, now_ms, keep_raw_days)

    def backup(self, target: Path, progress: Callable[[int, int], None] | None = None) -> None:
        """Copy the database to a new file while it is in use; `progress(done, total)` counts pages."""
        backup(self.database, target, progress)

    def export_csv(
        self,
        stream: TextIO,
        sensors: Sequence[SensorKey],
        start_ms: int,
        end_ms: int,
        *,
        hourly: bool = False,
    ) -> int:
        """Write raw readings or hours of sensors in [start, end) as CSV; gives the rows written."""
        return export.write_csv(stream, self.readings, self.summaries, sensors, (start_ms, end_ms), hourly)

    def close(self) -> None:
        """Close the connection."""
        self.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
