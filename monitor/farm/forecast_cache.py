"""Forecasts for the page, kept until the logbook, the settings or the hour changes."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter
from typing import Generic, TypeVar

from monitor.errors import MonitorError
from monitor.farm.bins import BinsView, bins_view
from monitor.farm.cohorts import view_of
from monitor.farm.development import develop
from monitor.farm.supply import LearnView, SupplyView, learn_view, supply_view
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store

log = logging.getLogger(__name__)

Answer = TypeVar("Answer")
COHORTS_KEPT_MS = MS_PER_HOUR
BINS_KEPT_MS = 5 * MS_PER_MINUTE
DRAWS = 2000


class CohortsAhead:
    """What lies ahead of the cohorts; cages and learning are worked out when they are first looked at."""

    def __init__(self, store: Store, plan: Plan, now_ms: int) -> None:
        self._development = develop(store, plan, now_ms, DRAWS)
        self._made = store.forecasts.every()
        self.forecast = view_of(self._made, self._development)

    @cached_property
    def supply(self) -> SupplyView:
        return supply_view(self._development)

    @cached_property
    def learned(self) -> LearnView:
        return learn_view(self._made, self._development)


@dataclass(frozen=True, slots=True)
class _Key:
    """What an answer rests on: entries of the logbook, the settings, and a part of the day."""

    entries: int
    plan: int
    part: int


@dataclass(frozen=True, slots=True)
class _Kept(Generic[Answer]):
    key: _Key
    plan: Plan
    answer: Answer


Work = Callable[[Store, Plan, int], Answer]
Opening = Callable[[], Store]


class CachedForecast(Generic[Answer]):
    """Keeps one answer. A new entry renews it at once; other settings, or mere time, in the background.

    An answer that nobody asked for longer than that is renewed at once, so that nobody reads old hours.
    `opening` gives a store to the background thread, of which there is one at a time; it also does what is
    otherwise done when it is first looked at (`complete`).
    """

    def __init__(
        self,
        about: SubjectKind,
        work: Work[Answer],
        kept_ms: int,
        complete: Callable[[Answer], object] = lambda _: None,
    ) -> None:
        self._about, self._work, self._kept_ms, self._complete = about, work, kept_ms, complete
        self._lock, self._state = threading.Lock(), threading.Lock()
        self._kept: _Kept[Answer] | None = None
        self._renewing = False

    def answer(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> Answer:
        """The answer as it is now, or as it was a little while ago while the newer one is being made."""
        key = self._key(store, plan, now_ms)
        kept = self._kept
        if kept is not None and kept.key == key:
            return kept.answer
        if kept is not None and kept.key.entries == key.entries and 0 <= key.part - kept.key.part <= 1:
            self._renew(plan, now_ms, opening)
            return kept.answer
        return self._made(store, plan, now_ms, key)

    def _key(self, store: Store, plan: Plan, now_ms: int) -> _Key:
        if self._about is SubjectKind.COHORT:
            newest = store.logbook.newest_about_animals()
        else:
            newest = store.logbook.newest_about_bins()
        return _Key(newest, id(plan), now_ms // self._kept_ms)

    def _made(self, store: Store, plan: Plan, now_ms: int, key: _Key) -> Answer:
        with self._lock:
            kept = self._kept
            if kept is not None and kept.key == key:
                return kept.answer
            # The plan is kept too, so that its id cannot come again with other settings.
            made = _Kept(key, plan, self._work(store, plan, now_ms))
            self._kept = made
            return made.answer

    def _renew(self, plan: Plan, now_ms: int, opening: Opening) -> None:
        with self._state:
            if self._renewing:
                return
            self._renewing = True
        threading.Thread(
            target=self._renewed, args=(plan, now_ms, opening), name="forecast", daemon=True
        ).start()

    def _renewed(self, plan: Plan, now_ms: int, opening: Opening) -> None:
        try:
            store = opening()
            try:
                self._complete(self._made(store, plan, now_ms, self._key(store, plan, now_ms)))
            finally:
                store.close()
        except MonitorError as error:
            log.warning("the forecast for the page could not be made anew: %s", error)
        finally:
            self._renewing = False


class ForecastCache:
    """The answers that are kept: one of the cohorts, one of the bins."""

    def __init__(self) -> None:
        self._cohorts: CachedForecast[CohortsAhead] = CachedForecast(
            SubjectKind.COHORT, CohortsAhead, COHORTS_KEPT_MS, attrgetter("supply", "learned")
        )
        self._bins = CachedForecast(SubjectKind.BIN, bins_view, BINS_KEPT_MS)

    def cohorts(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> CohortsAhead:
        return self._cohorts.answer(store, plan, now_ms, opening)

    def bins(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> BinsView:
        return self._bins.answer(store, plan, now_ms, opening)
