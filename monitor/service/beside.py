"""What runs beside the turns in threads of its own: messages, report, heartbeat, archive, file check."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.notify.channels import Channel, open_channels
from monitor.notify.outbox_worker import OutboxWorker
from monitor.notify.policy import Circle
from monitor.service.archiving import Archiving
from monitor.service.file_check import FileCheck
from monitor.service.night_job import Beats, NightJob
from monitor.settings.schema import Settings
from monitor.store import Store

Say = Callable[[str], None]


def circle_of(settings: Settings) -> Circle:
    """The people, and the habits of the site."""
    return Circle.of(settings.recipients, settings.messages, ZoneInfo(settings.site.time_zone))


def channels_of(circle: Circle, say: Say) -> Mapping[str, Channel]:
    """The ways to all people; those that cannot be used are named, and stand in for themselves."""
    channels, problems = open_channels(circle.recipients)
    for recipient, problem in problems.items():
        say(f"messages to {recipient} cannot be sent: {problem}")
    return channels


@dataclass(slots=True)
class Errands:
    """What the helpers call at their times."""

    send_night_report: Callable[[], None]
    tend: Callable[[], None]
    healthy: Callable[[], bool]


class Helpers:
    """Started after the turns, stopped before the database is closed."""

    def __init__(
        self, store: Store, settings: Settings, worker: OutboxWorker, errands: Errands, small: bool
    ) -> None:
        report, zone = settings.report, ZoneInfo(settings.site.time_zone)
        self._worker, self._errands = worker, errands
        self._night = NightJob(report.time, zone, errands.send_night_report, errands.tend)
        self._beats = self._beats_of(settings)
        self.archive = Archiving(store.path, settings)
        self._check = None if small else FileCheck(store.path)

    def _beats_of(self, settings: Settings) -> Beats | None:
        wanted = settings.messages.heartbeat_url is not None
        return Beats(settings.messages, self._errands.healthy) if wanted else None

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
