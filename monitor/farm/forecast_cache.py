"""Forecasts for the page, kept until the logbook, the settings or the hour changes."""

from __future__ import annotations

import ctypes
import gc
import logging
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from operator import attrgetter
from typing import Generic, TypeVar

from monitor.errors import MonitorError
from monitor.farm.bins import BinsView, bins_view
from monitor.farm.book import BookKeeper, prices_of_farm
from monitor.farm.cohorts import view_of
from monitor.farm.development import Development, develop
from monitor.farm.night import NightReader, newest_night
from monitor.farm.place_reader import KeptReadings, PlaceReader
from monitor.farm.supply import LearnView, SupplyView, kept_for, learn_view, supply_view
from monitor.farm.yields import (
    ClimateSaid,
    YieldsAhead,
    YieldsNow,
    climate_said,
    yields_ahead,
    yields_now,
)
from monitor.logbook.replay import FarmBook
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, SubjectKind
from monitor.settings.plan import Plan
from monitor.store import Store
from monitor.yields.breeding import PrepupaeToKeep

log = logging.getLogger(__name__)

Answer = TypeVar("Answer")
COHORTS_KEPT_MS = MS_PER_HOUR
BINS_KEPT_MS = 5 * MS_PER_MINUTE
DRAWS = 2000
M_ARENA_MAX = -8
"""Number of this option in glibc's malloc.h."""


class CohortsAhead:
    """What lies ahead of the cohorts; cages and learning are worked out when they are first looked at.

    Of an `earlier` answer that stays which rests on the same.
    """

    def __init__(
        self,
        store: Store,
        plan: Plan,
        now_ms: int,
        earlier: CohortsAhead | None = None,
        book: FarmBook | None = None,
    ) -> None:
        before = None if earlier is None else earlier._development
        self._development: Development = develop(store, plan, now_ms, DRAWS, earlier=before, book=book)
        self._made = store.forecasts.every()
        self.forecast = view_of(self._made, self._development)

    @property
    def as_of_ms(self) -> int:
        """The hour up to which temperatures were read, at least."""
        return self._development.record_ms

    def yields(self, now: YieldsNow) -> YieldsAhead:
        """Eggs and larvae to come, from what was taken until now."""
        return yields_ahead(self._development, now.takings)

    def climate(self, store: Store, plan: Plan, now: YieldsNow) -> ClimateSaid:
        """What the climate of the last year went with."""
        reader = PlaceReader(store, plan, now.now_ms)
        return climate_said(reader, self._development, now.takings, prices_of_farm(plan))

    def kept_for(self, grams_a_week: float, ahead: YieldsAhead) -> PrepupaeToKeep:
        """Prepupae to keep for so many grams of eggs a week."""
        return kept_for(grams_a_week, self._development, ahead.eggs)

    @cached_property
    def supply(self) -> SupplyView:
        return supply_view(self._development)

    @cached_property
    def learned(self) -> LearnView:
        return learn_view(self._made, self._development)

    def complete(self) -> None:
        """Work out what else would wait for its first look."""
        _ = self.supply, self.learned
        self._development.basis.let_go()


@dataclass(frozen=True, slots=True)
class _Key:
    """What an answer rests on: entries of the logbook, calibrations, the settings, and a part of the day."""

    entries: tuple[int, int]
    plan: int
    part: int


@dataclass(frozen=True, slots=True)
class _Kept(Generic[Answer]):
    key: _Key
    plan: Plan
    answer: Answer


def _is_fresh(kept: _Kept[Answer], key: _Key) -> bool:
    """Whether what is kept is of this part of the day or the one before."""
    return 0 <= key.part - kept.key.part <= 1


Work = Callable[[Store, Plan, int], Answer]
Mend = Callable[[Store, Plan, int, Answer], Answer]
Opening = Callable[[], Store]


class CachedForecast(Generic[Answer]):
    """Keeps one answer. A new entry renews it at once; other settings, or mere time, in the background.

    An answer that nobody asked for longer than that is renewed at once, so that nobody reads old hours.
    `mend` makes the answer after an entry out of the one that is kept, where that is not too old: what the
    entry did not touch stays, as old as `as_of` says. `opening` gives a store to the background thread, of
    which there is one at a time; it also does what is otherwise done when it is first looked at
    (`complete`).
    """

    def __init__(
        self,
        about: SubjectKind,
        work: Work[Answer],
        kept_ms: int,
        complete: Callable[[Answer], object] = lambda _: None,
        mend: Mend[Answer] | None = None,
        as_of: Callable[[Answer], int] | None = None,
    ) -> None:
        self._about, self._work, self._kept_ms, self._complete = about, work, kept_ms, complete
        self._mend, self._as_of = mend, as_of
        self._lock, self._state = threading.Lock(), threading.Lock()
        self._kept: _Kept[Answer] | None = None
        self._whole: _Kept[Answer] | None = None
        self._renewing = False
        self._catching_up: threading.Event | None = None
        self.told: Callable[[], None] = lambda: None

    def newest(self, store: Store, plan: Plan, now_ms: int) -> Answer:
        """What is kept, where it is fresh; else it is made."""
        kept, key = self._kept, self._key(store, plan, now_ms)
        if kept is not None and kept.key.entries == key.entries and _is_fresh(kept, key):
            return kept.answer
        return self._made(store, plan, now_ms, key)

    def answer(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> Answer:
        """The answer as it is now, or as it was a little while ago while the newer one is being made."""
        key = self._key(store, plan, now_ms)
        kept = self._kept
        if kept is not None and kept.key == key:
            return kept.answer
        if kept is not None and kept.key.entries == key.entries and _is_fresh(kept, key):
            self._renew(plan, now_ms, opening)
            return kept.answer
        return self._made(store, plan, now_ms, key)

    def soon(
        self, store: Store, plan: Plan, now_ms: int, opening: Opening, patience_s: float
    ) -> tuple[Answer | None, bool]:
        """The newest whole answer and whether it knows the newest entry, after waiting so long at most.

        What is missing is worked out meanwhile, and `told` called when it is there. None where there is
        nothing yet, or only what is too old.
        """
        key = self._key(store, plan, now_ms)
        # What is under way may have begun before the newest entry: then once more.
        for _ in range(2):
            if self._is_known(key) or not self._catch_up(plan, now_ms, opening).wait(patience_s):
                break
        if self._is_known(key) and self._kept is not None and self._kept.key != key:
            self._renew(plan, now_ms, opening)
        whole = self._whole
        if whole is None or not _is_fresh(whole, key):
            return None, False
        return whole.answer, whole.key.entries == key.entries

    def _is_known(self, key: _Key) -> bool:
        """Whether the answer with the newest entry is there whole."""
        whole = self._whole
        return whole is not None and whole.key.entries == key.entries and _is_fresh(whole, key)

    def _catch_up(self, plan: Plan, now_ms: int, opening: Opening) -> threading.Event:
        """Work in what was entered, in the background; gives what is set once it is done."""
        with self._state:
            under_way = self._catching_up
            if under_way is None:
                under_way = self._catching_up = threading.Event()
                work = (plan, now_ms, opening)
                threading.Thread(target=self._caught_up, args=work, name="catch-up", daemon=True).start()
            return under_way

    def _caught_up(self, plan: Plan, now_ms: int, opening: Opening) -> None:
        caught_up = False
        try:
            store = opening()
            try:
                answer = self._made(store, plan, now_ms, self._key(store, plan, now_ms))
            finally:
                store.close()
            self._complete(answer)
            kept = self._kept
            if kept is not None and kept.answer is answer:
                self._whole, caught_up = kept, True
        except MonitorError as error:
            log.warning("what was entered could not be worked in: %s", error)
        finally:
            with self._state:
                done, self._catching_up = self._catching_up, None
            if done is not None:
                done.set()
        if caught_up:
            self.told()

    def at_hand(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> Answer:
        """The same, but nobody waits for the newest entry: what is kept, while a newer one is made."""
        kept, key = self._kept, self._key(store, plan, now_ms)
        if kept is None or not _is_fresh(kept, key):
            return self._made(store, plan, now_ms, key)
        if kept.key != key:
            self._renew(plan, now_ms, opening)
        return kept.answer

    def _key(self, store: Store, plan: Plan, now_ms: int) -> _Key:
        if self._about is SubjectKind.COHORT:
            newest = store.logbook.newest_about_animals()
        elif self._about is SubjectKind.BIN:
            newest = store.logbook.newest_about_bins()
        else:
            newest = store.logbook.newest_id()
        return _Key((newest, store.calibrations.newest_id()), id(plan), now_ms // self._kept_ms)

    def _made(self, store: Store, plan: Plan, now_ms: int, key: _Key) -> Answer:
        with self._lock:
            kept = self._kept
            if kept is not None and kept.key == key:
                return kept.answer
            if self._mend is not None and kept is not None and _is_fresh(kept, key):
                answer = self._mend(store, plan, now_ms, kept.answer)
                key = replace(key, part=self._part(answer, now_ms))
            else:
                answer = self._work(store, plan, now_ms)
            # The plan is kept too, so that its id cannot come again with other settings.
            self._kept = _Kept(key, plan, answer)
            return answer

    def _part(self, answer: Answer, now_ms: int) -> int:
        """The part of the day of an answer that holds older pieces: the next look has it made anew."""
        return (now_ms if self._as_of is None else self._as_of(answer)) // self._kept_ms

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
                self._made_anew(store, plan, now_ms)
            finally:
                store.close()
        except MonitorError as error:
            log.warning("the forecast for the page could not be made anew: %s", error)
        finally:
            self._renewing = False
            give_back_memory()

    def _made_anew(self, store: Store, plan: Plan, now_ms: int) -> None:
        """Make all of it anew without holding up anybody; what an entry has overtaken is dropped."""
        before, key = self._kept, self._key(store, plan, now_ms)
        answer = self._work(store, plan, now_ms)
        self._complete(answer)
        with self._lock:
            if self._kept is before:
                self._kept = self._whole = _Kept(key, plan, answer)


def one_heap() -> None:
    """Let all threads share one heap; of several, each keeps for itself what a forecast leaves free in it.

    Called before there are threads; where the C library knows no such thing nothing happens.
    """
    _c_library_does("mallopt", M_ARENA_MAX, 1)


def let_rest() -> None:
    """Have Python's search for garbage pass over what is there by now: modules, settings, templates, answers.

    The search went through all of it, 100 ms in one look of some fifty. What nobody holds any more is still
    freed; once is enough.
    """
    if not gc.get_freeze_count():
        gc.collect()
        gc.freeze()


def give_back_memory() -> None:
    """Give back to the system what large computations have left free, 47 MB after the forecasts of a demo."""
    _c_library_does("malloc_trim", 0)


def _c_library_does(name: str, *values: int) -> None:
    with suppress(AttributeError, OSError, TypeError):
        getattr(ctypes.CDLL(None), name)(*values)


class ForecastCache:
    """The answers that are kept: of the cohorts, of the bins, of the yield; and the logbook, read once.

    `nights` are readings of nights and weeks, read on.
    """

    def __init__(self) -> None:
        self._books, self.nights = BookKeeper(), KeptReadings()
        self._cohorts = CachedForecast(
            *(SubjectKind.COHORT, self._cohorts_ahead, COHORTS_KEPT_MS, CohortsAhead.complete),
            mend=self._cohorts_ahead,
            as_of=lambda ahead: ahead.as_of_ms,
        )
        self._bins = CachedForecast(
            SubjectKind.BIN, self._bins_now, BINS_KEPT_MS, mend=self._bins_now, as_of=attrgetter("now_ms")
        )
        self._yields = CachedForecast(SubjectKind.PLACE, self._yields_now, COHORTS_KEPT_MS)
        self._ahead = CachedForecast(SubjectKind.PLACE, self._yields_ahead, COHORTS_KEPT_MS)
        self._climate = CachedForecast(SubjectKind.PLACE, self._climate_said, COHORTS_KEPT_MS)

    def cohorts(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> CohortsAhead:
        return self._cohorts.answer(store, plan, now_ms, opening)

    def cohorts_soon(
        self, store: Store, plan: Plan, now_ms: int, opening: Opening, patience_s: float
    ) -> tuple[CohortsAhead | None, bool]:
        """What is known of the cohorts without waiting longer; see `CachedForecast.soon`."""
        return self._cohorts.soon(store, plan, now_ms, opening, patience_s)

    def tell_when_caught_up(self, told: Callable[[], None]) -> None:
        """Whom to tell when what was entered is worked in."""
        self._cohorts.told = told

    def cohorts_at_hand(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> CohortsAhead:
        return self._cohorts.at_hand(store, plan, now_ms, opening)

    def bins(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> BinsView:
        return self._bins.answer(store, plan, now_ms, opening)

    def yields(self, store: Store, plan: Plan, now_ms: int) -> YieldsNow:
        """What was taken and given, added up: with the newest entry."""
        return self._yields.newest(store, plan, now_ms)

    def yields_ahead(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> YieldsAhead:
        """What lies ahead of it; nobody waits for what the newest entry changes."""
        return self._ahead.at_hand(store, plan, now_ms, opening)

    def climate(self, store: Store, plan: Plan, now_ms: int, opening: Opening) -> ClimateSaid:
        """What the climate went with; nobody waits for what the newest entry changes."""
        return self._climate.at_hand(store, plan, now_ms, opening)

    def make_ready(self, plan: Plan, now_ms: int, opening: Opening) -> None:
        """Have at hand what is not kept yet, or is too old; without a logbook that is the night alone."""
        store = opening()
        try:
            NightReader(store, plan, newest_night(plan, now_ms), now_ms, kept=self.nights).read_ahead()
            if store.logbook.newest_id():
                self.bins(store, plan, now_ms, opening)
                self.cohorts(store, plan, now_ms, opening).complete()
                self.yields_ahead(store, plan, now_ms, opening)
                self.climate(store, plan, now_ms, opening)
        finally:
            store.close()

    def book_of(self, store: Store, plan: Plan, now_ms: int) -> FarmBook:
        """Cohorts and bins as the logbook tells of them now, without any computation."""
        return self._books.book_of(store, plan, now_ms)

    def _cohorts_ahead(
        self, store: Store, plan: Plan, now_ms: int, earlier: CohortsAhead | None = None
    ) -> CohortsAhead:
        return CohortsAhead(store, plan, now_ms, earlier, self.book_of(store, plan, now_ms))

    def _bins_now(self, store: Store, plan: Plan, now_ms: int, earlier: BinsView | None = None) -> BinsView:
        return bins_view(store, plan, now_ms, earlier=earlier, book=self.book_of(store, plan, now_ms))

    def _yields_now(self, store: Store, plan: Plan, now_ms: int) -> YieldsNow:
        return yields_now(store, plan, self.book_of(store, plan, now_ms), now_ms)

    def _yields_ahead(self, store: Store, plan: Plan, now_ms: int) -> YieldsAhead:
        cohorts = self._cohorts.newest(store, plan, now_ms)
        return cohorts.yields(self.yields(store, plan, now_ms))

    def _climate_said(self, store: Store, plan: Plan, now_ms: int) -> ClimateSaid:
        cohorts = self._cohorts.newest(store, plan, now_ms)
        return cohorts.climate(store, plan, self.yields(store, plan, now_ms))
