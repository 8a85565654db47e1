"""Once a day: old raw readings go (hours stay), and the database is copied where the settings say so."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from monitor.errors import MonitorError, UsageError
from monitor.records import MS_PER_DAY
from monitor.settings.schema import StoreSettings
from monitor.store import Store

log = logging.getLogger(__name__)

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
