"""What is done once a day beside the batches: old raw readings go, and the database is copied."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from pathlib import Path

from monitor.errors import MonitorError, UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR
from monitor.settings.schema import Settings, StoreSettings
from monitor.store import Store, copies

log = logging.getLogger(__name__)

TENDED = "tended_ms"
COPIES_SINCE = "copies_since_ms"
"""Since when there has been a folder for copies: until the first good one, the age counts from then."""
AGAIN_S = 3600.0
"""Own choice: a copy that failed is tried again after an hour."""


def tend_if_due(
    store: Store,
    settings: StoreSettings,
    now_ms: int,
    *,
    clock_proven: bool = True,
) -> bool:
    """Delete what is old unless that was done within 24 hours; True when it was done now.

    While the clock is in doubt nothing is deleted.
    """
    last = store.meta.get(TENDED)
    # A date in the future is from a clock that was wrong.
    if last is not None and 0 <= now_ms - int(last) < MS_PER_DAY:
        return False
    pruned = store.prune(now_ms, settings.keep_raw_days) if clock_proven else 0
    if pruned:
        log.info("%d raw readings older than %d days were removed", pruned, settings.keep_raw_days)
    store.meta.put(TENDED, str(now_ms))
    return True


class DailyCopy:
    """Copies database and settings into the prepared folder of the settings, once in 24 hours.

    One that fails is tried again after an hour, and only a good one counts: `age_hours` is what the alarm
    looks at. `fault` says why the last try failed.
    """

    def __init__(
        self,
        store: Store,
        settings: Callable[[], Settings],
        settings_file: Path | None,
        steady_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._store, self._settings, self._settings_file = store, settings, settings_file
        self._steady_s = steady_s
        self._failed_s: float | None = None
        self.fault: Exception | None = None

    def run_if_due(self, now_ms: int, stopping: Callable[[], bool]) -> bool:
        """Make the copy if its time has come; True when a good one was made now."""
        folder = self._settings().store.backup_folder
        if folder is None or not self._is_due(now_ms):
            return False
        try:
            self._copy(folder, now_ms, stopping)
        except (MonitorError, OSError) as error:
            if stopping():
                return False
            self.fault, self._failed_s = error, self._steady_s()
            log.error("the daily copy of the database failed: %s", error)
            return False
        self.fault = self._failed_s = None
        return True

    def _is_due(self, now_ms: int) -> bool:
        if self._failed_s is not None and self._steady_s() - self._failed_s < AGAIN_S:
            return False
        good = self._store.meta.get(copies.GOOD)
        return good is None or not 0 <= now_ms - int(good) < MS_PER_DAY

    def _copy(self, folder: Path, now_ms: int, stopping: Callable[[], bool]) -> None:
        def stop_early(_done: int, _total: int) -> None:
            if stopping():
                raise UsageError("the service stops; it is copied after the next start")

        copies.refuse_unprepared(folder, self._settings().site.id)
        target = folder / copies.daily_name(now_ms)
        missing = copies.write_copy(
            self._store.database, self._settings_file, target, stop_early, replace=True
        )
        if missing:
            log.warning("photos that entries name cannot be read, so the copy has them not: %s", missing)
        self._store.meta.put(copies.GOOD, str(now_ms))
        copies.thin_out(folder, now_ms)

    def age_hours(self, now_ms: int) -> float | None:
        """Hours since the last good copy, or since copies have been wanted; None where none are."""
        if self._settings().store.backup_folder is None:
            return None
        last = self._store.meta.get(copies.GOOD) or self._store.meta.get(COPIES_SINCE)
        if last is None or int(last) > now_ms:
            # Never yet; or by a clock that was ahead, and then it cannot be older than that.
            self._store.meta.put(COPIES_SINCE if last is None else copies.GOOD, str(now_ms))
            return 0.0
        return (now_ms - int(last)) / MS_PER_HOUR
