"""Sends a site's readings, alarms and forecasts to a time-series server, in a thread of its own.

It has its own connection to the database, never makes the service wait, and says in its status what is wrong.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from monitor.archive.client import Answer as Answer
from monitor.archive.client import ArchiveClient as ArchiveClient
from monitor.archive.client import Verdict as Verdict
from monitor.archive.client import judge as judge
from monitor.archive.client import retry_after_s as retry_after_s
from monitor.archive.farm_points import FarmPoints
from monitor.archive.read_back import ReadBack
from monitor.archive.reader import ArchiveReader
from monitor.archive.sender import ArchiveSender as ArchiveSender
from monitor.archive.sender import Pace as Pace
from monitor.archive.sender import line as line
from monitor.archive.streams import HourStream, JournalStream, Stream
from monitor.errors import MonitorError, Sentence, sentence
from monitor.settings.schema import ArchiveSettings, Settings
from monitor.store import Store
from monitor.store.archive_queue import ArchiveQueue, ArchiveStatus
from monitor.store.connection import open_database


class ArchiveForwarder:
    """Runs in a thread of its own; it never makes the service wait, and `stop` ends it within a request.

    With `farm`, the settings in force, it also writes what is so at the farm; with `open_reader` it reads
    back what it wrote.
    """

    def __init__(
        self,
        store_path: Path,
        settings: ArchiveSettings,
        site: str,
        pace: Pace | None = None,
        *,
        farm: Callable[[], Settings] | None = None,
        open_reader: Callable[[], ArchiveReader] | None = None,
    ) -> None:
        self._path = store_path
        self._settings = settings
        self._site = site
        self._pace = pace or Pace()
        self._farm, self._open_reader = farm, open_reader
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="archive", daemon=True)
        self._trouble: Sentence | None = None

    def start(self) -> None:
        self._thread.start()

    def stop(self, timeout_s: float = 20.0) -> None:
        """End after the request that is under way."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout_s)

    def status(self) -> ArchiveStatus:
        """How far behind the archive is, read from the store with a connection of its own."""
        with closing(open_database(self._path, create=False, read_only=True, check=False)) as database:
            status = ArchiveQueue(database).status()
        return status if self._trouble is None else replace(status, trouble=self._trouble)

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                self._work()
            except Exception as error:
                self._trouble = _fault(error)
                self._stopping.wait(self._pace.person_delay_s / 10)

    def _work(self) -> None:
        with (
            closing(open_database(self._path, create=False, check=False)) as database,
            closing(ArchiveClient(self._settings)) as client,
        ):
            sender = self._sender(Store(database), client)
            self._trouble = None
            with closing(sender):
                while not self._stopping.is_set():
                    self._stopping.wait(sender.step())

    def _sender(self, store: Store, client: ArchiveClient) -> ArchiveSender:
        queue = store.archive_queue
        streams: tuple[Stream, ...] = (JournalStream(store.journal), HourStream(queue))
        due = None if self._farm is None else FarmPoints(store, self._farm).due
        read_back = None
        if self._open_reader is not None:
            read_back = ReadBack(queue, store.readings, self._open_reader, self._site)
        parts = (queue, client, self._settings.batch, self._site, self._pace)
        return ArchiveSender(*parts, streams, due, read_back)


def _fault(error: Exception) -> Sentence:
    """An unforeseen fault must be seen in the status and must not end the thread in silence."""
    if isinstance(error, MonitorError):
        return error.said
    return sentence(
        "the archive stopped and is begun again ({kind}: {error})",
        kind=type(error).__name__,
        error=str(error),
    )
