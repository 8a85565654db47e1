"""What runs beside the batches in threads of its own: messages, report, heartbeat, archive, housekeeping."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from monitor.errors import MonitorError, StoreError
from monitor.notify.channels import Channel, open_channels
from monitor.notify.outbox_worker import OutboxWorker
from monitor.notify.policy import RecipientPolicy
from monitor.notify.push import PushSender, contact_of
from monitor.records import MS_PER_HOUR
from monitor.service.night_job import Beats, NightJob
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.store.connection import FileInspection
from monitor.store.meta import PUSH_KEY
from monitor.store.outbox import Phone

if TYPE_CHECKING:
    from monitor.archive.forwarder import ArchiveForwarder

log = logging.getLogger(__name__)

SMALL_BYTES = 16 * 1024 * 1024
"""A file up to this size is checked before the start, which takes well under a second."""


def is_small(path: Path) -> bool:
    """Whether the file is checked before the start; one that is not there yet is small."""
    return not path.exists() or path.stat().st_size <= SMALL_BYTES


class FileCheck:
    """Checks a large file once in a thread of its own, since it reads all of it; `fault` is what it found."""

    def __init__(self, path: Path) -> None:
        self._inspection = FileInspection(path)
        self._thread = threading.Thread(target=self._run, name="file check", daemon=True)
        self.fault: StoreError | None = None

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._inspection.give_up()
        if self._thread.is_alive():
            self._thread.join(5.0)

    def _run(self) -> None:
        try:
            self._inspection.run()
        except StoreError as error:
            self.fault = error
            log.error("%s", error)


class People:
    """Everybody who is told, with each of their phones, and the ways to them.

    A way that cannot be used is named, and stands in for itself. `changed` is set when the phones are others.
    """

    def __init__(
        self,
        store: Store,
        settings: Settings,
        clock: Callable[[], int],
        say: Callable[[str], None],
    ) -> None:
        self._phones, self._say, self._known = store.phones, say, tuple[Phone, ...]()
        self._settings = settings
        self.changed = threading.Event()
        self._sender = PushSender(
            store.phones,
            store.meta.kept_key(PUSH_KEY),
            contact_of(settings),
            lambda: [place.id for place in self._settings.places],
            self.changed.set,
            clock,
        )

    def of(self, settings: Settings) -> tuple[RecipientPolicy, Mapping[str, Channel]]:
        """The people of the settings; while the database cannot be read the phones known before."""
        self.changed.clear()
        self._settings = settings
        with suppress(StoreError):
            self._known = self._phones.every()
        policy = RecipientPolicy.of(settings).with_phones(self._known)
        phones = self._sender.channels(self._known)
        channels, problems = open_channels([way for way in policy.recipients if way.id not in phones])
        for recipient, problem in problems.items():
            self._say(f"messages to {recipient} cannot be sent: {problem}")
        return policy, {**channels, **phones}


@dataclass(slots=True)
class BackgroundTasks:
    """What the threads call at their times."""

    send_night_report: Callable[[], None]
    tend: Callable[[], None]
    healthy: Callable[[], bool]
    note_heartbeat: Callable[[bool], None]


class BackgroundThreads:
    """Started after the thread that processes batches, stopped before the database is closed."""

    def __init__(
        self, store: Store, settings: Settings, worker: OutboxWorker, tasks: BackgroundTasks, small: bool
    ) -> None:
        report, zone = settings.report, ZoneInfo(settings.site.time_zone)
        self._worker, self._tasks = worker, tasks
        self._night = NightJob(report.time, zone, tasks.send_night_report, tasks.tend)
        self._beats = self._beats_of(settings)
        self._settings = settings
        self._archive = _archive(store.path, settings, lambda: self._settings)
        self._archive_lag_h: float | None = None
        self._check = None if small else FileCheck(store.path)

    def _beats_of(self, settings: Settings) -> Beats | None:
        wanted = settings.messages.heartbeat_url is not None
        return Beats(settings.messages, self._tasks.healthy, self._tasks.note_heartbeat) if wanted else None

    def start(self) -> None:
        self._worker.start()
        self._night.start()
        for thread in (self._archive, self._beats, self._check):
            if thread is not None:
                thread.start()

    def clock_was_set(self) -> None:
        """What is done at times of the wall clock is reckoned anew."""
        self._night.clock_was_set()
        if self._beats is not None:
            self._beats.clock_was_set()

    def follow(self, old: Settings, new: Settings) -> None:
        self._settings = new
        if (old.report.time, old.site.time_zone) != (new.report.time, new.site.time_zone):
            self._night.move_to(new.report.time, ZoneInfo(new.site.time_zone))
        if old.messages != new.messages:
            if self._beats is not None:
                self._beats.stop()
            self._beats = self._beats_of(new)
            if self._beats is not None:
                self._beats.start()

    @property
    def file_fault(self) -> Exception | None:
        """What the check of the file found."""
        return None if self._check is None else self._check.fault

    def stop(self) -> None:
        """Stop all but the archive, which has a database connection of its own and may take its time."""
        for thread in (self._check, self._beats):
            if thread is not None:
                thread.stop()
        self._night.stop()
        self._worker.stop()

    def stop_archive(self) -> None:
        """End the archive after the request that is under way."""
        if self._archive is not None:
            self._archive.stop()

    def archive_lag_h(self, now_ms: int) -> float | None:
        """For how long the archive has not had all that it should; as last known if the store refuses."""
        if self._archive is not None:
            with suppress(MonitorError):
                since_ms = self._archive.status().behind_since_ms
                lag_ms = 0 if since_ms is None else max(0, now_ms - since_ms)
                self._archive_lag_h = lag_ms / MS_PER_HOUR
        return self._archive_lag_h


def _archive(
    store_path: Path, settings: Settings, in_force: Callable[[], Settings]
) -> ArchiveForwarder | None:
    archive = settings.archive
    if archive is None:
        return None
    from monitor.archive.access import access_of, open_reader
    from monitor.archive.forwarder import ArchiveForwarder

    return ArchiveForwarder(
        store_path,
        archive,
        settings.site.id,
        farm=in_force,
        open_reader=lambda: open_reader(access_of(archive)),
    )
