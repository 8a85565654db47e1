"""The rules of a place follow what lives in it: looks now and then, and after new entries about cohorts."""

from __future__ import annotations

import logging
from collections.abc import Callable
from contextlib import suppress
from queue import Empty, SimpleQueue

from monitor.errors import MonitorError
from monitor.records import MS_PER_HOUR, SubjectKind
from monitor.settings.plan import Plan
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.views.living import refresh_living

log = logging.getLogger(__name__)

EVERY_MS = MS_PER_HOUR


class LivingWatch:
    """Works out what lives where beside the turns, since that takes a forecast, and hands over a plan."""

    def __init__(
        self,
        store: Store,
        settings: Callable[[], Settings],
        launch: Callable[[Callable[[], None]], None],
        every_ms: int = EVERY_MS,
    ) -> None:
        self._store, self._settings, self._launch, self._every_ms = store, settings, launch, every_ms
        self._found: SimpleQueue[tuple[Settings, Plan]] = SimpleQueue()
        self._busy = False
        self._looked_ms: int | None = None
        self._entries = -1

    def plan(self, now_ms: int) -> Plan | None:
        """A plan worked out since the last call, to take over; else looks again when it is time."""
        with suppress(Empty):
            settings, plan = self._found.get_nowait()
            # Settings that were read again meanwhile must not be undone.
            return plan if settings is self._settings() else None
        if not self._busy and self._is_due(now_ms):
            self._busy, self._looked_ms = True, now_ms
            self._launch(lambda: self._look(now_ms))
        return None

    def look_again(self) -> None:
        """Settings were read again: what was found before may hold no more."""
        self._looked_ms = None

    def _is_due(self, now_ms: int) -> bool:
        with suppress(MonitorError):
            entries = self._store.logbook.newest_id(SubjectKind.COHORT)
            if entries != self._entries:
                self._entries = entries
                return entries > 0
        if self._entries <= 0:
            return False
        return self._looked_ms is None or not 0 <= now_ms - self._looked_ms < self._every_ms

    def _look(self, now_ms: int) -> None:
        try:
            settings = self._settings()
            self._found.put((settings, refresh_living(self._store, settings, now_ms)))
        except MonitorError as error:
            log.error("what lives where could not be worked out: %s", error)
        except Exception:
            # Rules that follow the stage are a refinement; a fault in it must not end the guarding.
            log.exception("what lives where met an error of the program")
        finally:
            self._busy = False
