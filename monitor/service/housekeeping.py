"""What is done once a day beside the batches: old raw readings go, and the site is copied."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from monitor.copies.making import Outcome, Wish, make_copies
from monitor.copies.targets import Target, targets_of
from monitor.errors import Sentence, UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_SECOND
from monitor.settings.schema import Settings, StoreSettings
from monitor.store import Store, copies

log = logging.getLogger(__name__)

TENDED = "tended_ms"
AGAIN_S = 3600.0
"""Own choice: a copy that failed is tried again after an hour."""
MOST_HOURS_BETWEEN = 6
"""Own choice: an address that fails again is tried after 2 and 4 hours, then after so many."""
QUIET_HOURS = (1, 5)
"""Own choice, local time: copies move into these hours, in which nobody looks and the report is yet to
come."""
STOP_WAIT_S = 5.0
STUCK_S = 12 * 3600.0
"""Own choice: a place whose copy lasts longer, such as a network drive that hangs, is gone on without."""


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
    """Copies the site to each place of the settings, once in 24 hours, at night where that is possible.

    A place that fails is tried again after an hour, an address later and later. Only a good copy counts:
    `ages_h` is what the alarms look at. `fault` says why the last try failed.
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
        self._failures: dict[str, tuple[int, float]] = {}
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None
        self._begun_s, self._place = 0.0, ""
        self._stuck: dict[str, threading.Thread] = {}
        self.fault: Sentence | None = None

    def look(self, now_ms: int, *, clock_proven: bool) -> None:
        """Begin what is due in a thread of its own: a server that does not answer keeps nothing waiting."""
        if self._thread is not None and self._thread.is_alive():
            if self._steady_s() - self._begun_s < STUCK_S:
                return
            log.error("the copy to %r does not end; the other places go on without it", self._place)
            self._stuck[self._place] = self._thread
        arguments = (now_ms, self._stopping.is_set, clock_proven)
        self._begun_s = self._steady_s()
        self._thread = threading.Thread(target=self._run, args=arguments, name="copies", daemon=True)
        self._thread.start()

    def _run(self, now_ms: int, stopping: Callable[[], bool], clock_proven: bool) -> None:
        try:
            self.run_if_due(now_ms, stopping, clock_proven=clock_proven)
        except Exception:
            if not stopping():
                log.exception("the daily copy met an error of the program")

    def stop(self) -> None:
        """End a copy that is under way; nothing of it counts."""
        self._stopping.set()
        if self._thread is not None:
            self._thread.join(STOP_WAIT_S)

    def run_if_due(self, now_ms: int, stopping: Callable[[], bool], *, clock_proven: bool = True) -> bool:
        """Make the copies whose time has come; True when a good one was made now.

        While the clock is in doubt no old copy goes.
        """
        settings = self._settings()
        known = {state.place: state.good_ms for state in copies.states(self._store.meta, settings)}
        if not any(self._is_due(place, good_ms, now_ms) for place, good_ms in known.items()):
            return False
        due = [each for each in targets_of(settings) if self._is_due(each.id, known.get(each.id), now_ms)]

        def stop_early(_done: int, _total: int) -> None:
            if stopping():
                raise UsageError("the service stops; it is copied after the next start")

        wish = Wish(self._store.database, settings, self._settings_file, now_ms, thins_out=clock_proven)
        outcomes = make_copies(wish, self._one_by_one(due), stop_early, stopping)
        made = [self._noted(each, now_ms) for each in outcomes]
        return any(made)

    def _one_by_one(self, due: Iterable[Target]) -> Iterator[Target]:
        for target in due:
            self._place = target.id
            yield target

    def _noted(self, outcome: Outcome, now_ms: int) -> bool:
        """Keep what came of it; whether it is a good copy."""
        place, fault = outcome.target.id, outcome.fault
        copies.note(self._store.meta, place, fault, now_ms, self._settings())
        self.fault = fault
        if fault is None:
            self._failures.pop(place, None)
            if outcome.missing_photos:
                log.warning("%d photos that entries name cannot be read", outcome.missing_photos)
            return True
        longest = MOST_HOURS_BETWEEN if outcome.target.is_far else 1
        wait_s = AGAIN_S * min(2 ** self._failures.get(place, (0, 0.0))[0], longest)
        self._failures[place] = (self._failures.get(place, (0, 0.0))[0] + 1, self._steady_s() + wait_s)
        log.error("the daily copy to %s failed: %s", outcome.target.label, fault)
        return False

    def _is_due(self, place: str, good_ms: int | None, now_ms: int) -> bool:
        if place in self._stuck and self._stuck[place].is_alive():
            return False
        if place in self._failures and self._steady_s() < self._failures[place][1]:
            return False
        # A date in the future is from a clock that was wrong.
        if good_ms is None or not 0 <= now_ms - good_ms < MS_PER_DAY:
            return True
        local = datetime.fromtimestamp(now_ms / MS_PER_SECOND, ZoneInfo(self._settings().site.time_zone))
        first, last = QUIET_HOURS
        return first <= local.hour < last and now_ms - good_ms >= (last - first) * MS_PER_HOUR

    def ages_h(self, now_ms: int) -> tuple[float | None, float | None]:
        """Hours since the last good copy anywhere, and at the place that has waited longest for one.

        The second is None where there are not several places.
        """
        states = copies.states(self._store.meta, self._settings())
        ages = [self._age_h(state, now_ms) for state in states]
        return min(ages, default=None), max(ages) if len(ages) > 1 else None

    def _age_h(self, state: copies.CopyState, now_ms: int) -> float:
        facts, since = self._store.meta, copies.key_of(copies.SINCE, state.place)
        begun = facts.get(since)
        last = state.good_ms if state.good_ms is not None else int(begun) if begun else None
        if last is None or last > now_ms:
            # Never yet; or by a clock that was ahead, and then it cannot be older than that.
            facts.put(since if last is None else copies.key_of(copies.GOOD, state.place), str(now_ms))
            return 0.0
        return (now_ms - last) / MS_PER_HOUR
