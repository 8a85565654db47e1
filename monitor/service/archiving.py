"""The archive beside the service: started where the settings ask for it, its lag for the alarm."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from monitor.errors import MonitorError
from monitor.records import MS_PER_HOUR
from monitor.settings.schema import Settings
from monitor.store.archive import ArchiveForwarder


class Archiving:
    """Does nothing where no archive is set up."""

    def __init__(self, store_path: Path, settings: Settings) -> None:
        archive, site = settings.archive, settings.site.id
        self._forwarder = None if archive is None else ArchiveForwarder(store_path, archive, site)
        self._lag_h: float | None = None

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
