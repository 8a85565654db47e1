"""What runs beside the turns in threads of its own: messages, report, heartbeat, archive, file check.

The archive beside the service: started where the settings ask for it, its lag for the alarm.

The check of a large database file, beside the work: it reads every page, and nobody may wait for that.

Once a day: old raw readings go (hours stay), and the database is copied where the settings say so.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.errors import MonitorError, StoreError, UsageError
from monitor.notify.channels import Channel, open_channels
from monitor.notify.outbox_worker import OutboxWorker
from monitor.notify.policy import RecipientPolicy
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.service.night_job import Beats, NightJob
from monitor.settings.schema import Settings, StoreSettings
from monitor.store import Store
from monitor.store.connection import FileInspection


class Archiving:
    """Does nothing where no archive is set up."""

    def __init__(self, store_path: Path, settings: Settings) -> None:
        self._forwarder = None
        self._lag_h: float | None = None
        if settings.archive is not None:
            from monitor.store.archive import ArchiveForwarder

            self._forwarder = ArchiveForwarder(store_path, settings.archive, settings.site.id)

    def start(self) -> None:
        """Begin to send."""
        if self._forwarder is not None:
            self._forwarder.start()

    def stop(self) -> None:
        """End after the request that is under way."""
        if self._forwarder is not None:
            self._forwarder.stop()

    def lag_hours(self, now_ms: int) -> float | None:
        """Age of the oldest waiting reading [h]; the last known one where the store does not answer."""
        if self._forwarder is None:
            return None
        with suppress(MonitorError):
            oldest_ms = self._forwarder.status().oldest_waiting_ms
            self._lag_h = 0.0 if oldest_ms is None else max(0.0, (now_ms - oldest_ms) / MS_PER_HOUR)
        return self._lag_h


log = logging.getLogger(__name__)

SMALL_BYTES = 16 * 1024 * 1024
"""A file up to this size is checked before the start, which takes well under a second."""


def is_small(path: Path) -> bool:
    """Whether the file is checked before the start; one that is not there yet is small."""
    return not path.exists() or path.stat().st_size <= SMALL_BYTES


class FileCheck:
    """Checks the file once in a thread of its own; `fault` tells what is wrong."""

    def __init__(self, path: Path) -> None:
        self._inspection = FileInspection(path)
        self._thread = threading.Thread(target=self._run, name="file check", daemon=True)
        self.fault: StoreError | None = None

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """Give it up where it is not done."""
        self._inspection.give_up()
        if self._thread.is_alive():
            self._thread.join(5.0)

    def _run(self) -> None:
        try:
            self._inspection.run()
        except StoreError as error:
            self.fault = error
            log.error("%s", error)


TENDED = "tended_ms"
COPIES_KEPT = 7
PATTERN = "rearing-*.sqlite"


def tend_if_due(
    store: Store, settings: StoreSettings, now_ms: int, stopping: Callable[[], bool] = lambda: False
) -> bool:
    """Do the day's housekeeping unless it was done within 24 hours; True when it was done now."""
    last = store.meta.get(TENDED)
    # A date in the future is from a clock that was wrong.
    if last is not None and 0 <= now_ms - int(last) < MS_PER_DAY:
        return False
    pruned = store.prune(now_ms, settings.keep_raw_days)
    if pruned:
        log.info("%d raw readings older than %d days were removed", pruned, settings.keep_raw_days)
    if settings.backup_folder is not None:
        _copy(store, settings.backup_folder, now_ms, stopping)
    if stopping():
        return False
    store.meta.put(TENDED, str(now_ms))
    return True


def _copy(store: Store, folder: Path, now_ms: int, stopping: Callable[[], bool]) -> None:
    """Today's copy, then away with all but the newest seven; a failing copy leaves the older ones."""
    target = folder / f"rearing-{datetime.fromtimestamp(now_ms / 1000, UTC):%Y-%m-%d}.sqlite"
    if target.exists():
        return

    def look(_done: int, _total: int) -> None:
        if stopping():
            raise UsageError("the service stops; it is copied after the next start")

    try:
        folder.mkdir(parents=True, exist_ok=True)
        store.backup(target, look)
        for old in sorted(folder.glob(PATTERN))[:-COPIES_KEPT]:
            old.unlink()
    except (MonitorError, OSError) as error:
        log.error("the daily copy of the database failed: %s", error)


Say = Callable[[str], None]


def circle_of(settings: Settings) -> RecipientPolicy:
    """The people, and the habits of the site."""
    return RecipientPolicy.of(settings)


def channels_of(circle: RecipientPolicy, say: Say) -> Mapping[str, Channel]:
    """The ways to all people; those that cannot be used are named, and stand in for themselves."""
    channels, problems = open_channels(circle.recipients)
    for recipient, problem in problems.items():
        say(f"messages to {recipient} cannot be sent: {problem}")
    return channels


@dataclass(slots=True)
class BackgroundTasks:
    """What the helpers call at their times."""

    send_night_report: Callable[[], None]
    tend: Callable[[], None]
    healthy: Callable[[], bool]


class BackgroundThreads:
    """Started after the thread that processes batches, stopped before the database is closed."""

    def __init__(
        self, store: Store, settings: Settings, worker: OutboxWorker, tasks: BackgroundTasks, small: bool
    ) -> None:
        report, zone = settings.report, ZoneInfo(settings.site.time_zone)
        self._worker, self._tasks = worker, tasks
        self._night = NightJob(report.time, zone, tasks.send_night_report, tasks.tend)
        self._beats = self._beats_of(settings)
        self.archive = Archiving(store.path, settings)
        self._check = None if small else FileCheck(store.path)

    def _beats_of(self, settings: Settings) -> Beats | None:
        wanted = settings.messages.heartbeat_url is not None
        return Beats(settings.messages, self._tasks.healthy) if wanted else None

    def start(self) -> None:
        """Start all."""
        self._worker.start()
        self._night.start()
        self.archive.start()
        for one in (self._beats, self._check):
            if one is not None:
                one.start()

    def follow(self, old: Settings, new: Settings) -> None:
        """Take over changed settings."""
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
        for one in (self._check, self._beats):
            if one is not None:
                one.stop()
        self._night.stop()
        self._worker.stop()
