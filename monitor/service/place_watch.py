"""What the monitor works out about places as time goes on: what lives in them, and when bins are dry."""

from __future__ import annotations

import logging
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from queue import Empty, SimpleQueue

from monitor.alarms.rules import DRYNESS
from monitor.alarms.timing import Sample
from monitor.bins.outlook import HORIZON_H
from monitor.errors import MonitorError, StoreError
from monitor.farm.bins import BinView, bin_rests, bin_view, keep_lessons
from monitor.farm.book import book_of
from monitor.farm.occupancy import (
    Stages,
    keep_noted,
    keep_stages,
    kept_noted,
    last_known_plan,
    last_known_words,
    work_out_stages,
)
from monitor.farm.place_reader import PlaceReader
from monitor.logbook.place_entries import next_arrival_ms
from monitor.logbook.replay import FarmBook
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmRule,
    Computed,
    LogbookEntry,
    Quantity,
)
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.settings.plan import Plan, Said, build_plan
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.words.bins import advice_sentences, moisture_basis, moisture_now
from monitor.words.localizer import Localizer

log = logging.getLogger(__name__)

EVERY_MS = MS_PER_HOUR
LOOK_MS = 30 * MS_PER_SECOND
NEVER_MS = 2**62
NEAR_MS, FAR_MS = 5 * MS_PER_MINUTE, 30 * MS_PER_MINUTE
NEAR_H = 36.0
NEAR_SHARE = 0.05
"""A moisture so near to a limit is looked at often [ratio]; a bin loses less in half an hour. Own choice."""
MOST_AT_ONCE = 4
ANY_GAP_S = float(MS_PER_DAY)
FINISHING = "the logbook says that the bin is finishing and meant to dry"
IN_USE = "the bin is in use"


class OccupancyWatch:
    """Follows what lives where: the words of people at once, stages as a thread of its own works them out.

    `plan` gives a plan as soon as it differs from the one that holds.
    """

    def __init__(
        self,
        store: Store,
        settings: Callable[[], Settings],
        launch: Callable[[Callable[[], None]], None],
        every_ms: int = EVERY_MS,
    ) -> None:
        self._store, self._settings, self._launch, self._every_ms = store, settings, launch, every_ms
        self._found: SimpleQueue[Stages] = SimpleQueue()
        self._busy = False
        self._started_ms: int | None = None
        self._cohort_entries = self._entries = -1
        self._read: tuple[LogbookEntry, ...] = ()
        self._looked_ms: int | None = None
        self._next_end_ms = NEVER_MS

    def plan(self, holds: Plan, now_ms: int) -> Plan | None:
        """The plan that should hold now, None where it is the one that holds."""
        try:
            self._keep_found()
            if not self._busy and self._stages_are_due(now_ms):
                self._busy, self._started_ms = True, now_ms
                # Whatever went wrong before: once an hour the logbook is read whole.
                self._read = ()
                self._launch(lambda: self._work_out(now_ms))
                self._keep_found()
            if not self._is_due(now_ms):
                return None
            said, settings = self._said(now_ms), self._settings()
            same = (said, settings) == (holds.said, holds.settings)
            return None if same else build_plan(settings, said)
        except MonitorError as error:
            log.warning("what lives where could not be read, it is tried again: %s", error)
            return None

    def start_over(self) -> None:
        """Settings were read again: what was worked out before may hold no more."""
        self._started_ms = self._looked_ms = None
        self._read = ()

    def clock_went_back(self) -> None:
        """What was put aside is over: for how long it has been is not known any more."""
        with suppress(StoreError):
            noted = kept_noted(self._store)
            keep_noted(self._store, replace(noted, asides_over=self._store.logbook.newest_id()))
        self._looked_ms = None

    def _is_due(self, now_ms: int) -> bool:
        """Each half minute, when an "aside" ends or a planned move comes, and at once after an entry."""
        newest = self._store.logbook.newest_id()
        if newest == self._entries and self._looked_ms is not None:
            return not self._looked_ms <= now_ms < min(self._looked_ms + LOOK_MS, self._next_end_ms)
        return True

    def _said(self, now_ms: int) -> Said:
        newest = self._store.logbook.newest_id()
        entries = self._every(newest)
        said = last_known_words(self._store, entries, now_ms)
        keep_noted(self._store, said.noted)
        self._entries, self._looked_ms = newest, now_ms
        asides = (*(words.aside for words in said.places.values()), *said.boards_aside.values())
        ends_ms = (aside.until_ms or 0 for aside in asides if aside)
        self._next_end_ms = min((*ends_ms, next_arrival_ms(entries, now_ms) or NEVER_MS))
        return said

    def _every(self, newest: int) -> tuple[LogbookEntry, ...]:
        """All entries. Those that were read stay as they are, so only newer ones are read."""
        read = self._read[-1].entry_id or 0 if self._read else 0
        if read > newest:
            self._read, read = (), 0
        self._read = (*self._read, *self._store.logbook.after(read))
        return self._read

    def _keep_found(self) -> None:
        with suppress(Empty):
            keep_stages(self._store, self._found.get_nowait())
            self._looked_ms = None

    def _stages_are_due(self, now_ms: int) -> bool:
        entries = self._store.logbook.newest_about_animals()
        if entries != self._cohort_entries:
            self._cohort_entries = entries
            return entries > 0
        if entries <= 0:
            return False
        return self._started_ms is None or not 0 <= now_ms - self._started_ms < self._every_ms

    def _work_out(self, now_ms: int) -> None:
        try:
            plan = last_known_plan(self._store, self._settings(), now_ms)
            self._found.put(work_out_stages(self._store, plan, now_ms))
        except MonitorError as error:
            log.error("the stages of what lives where could not be worked out: %s", error)
        except Exception:
            # Rules that follow the stage are a refinement; a fault in it must not end the guarding.
            log.exception("the stages of what lives where met an error of the program")
        finally:
            self._busy = False


@dataclass(slots=True)
class BinWatch:
    """Steps the dryness alarms of filled bins; keeps the last view of each for the words of messages.

    A bin near its limit is worked out every five minutes, one far from it every half hour, and at once when
    something was entered that touches it. A few at a time, so that no batch is held up. Where a probe hangs
    in a bin, the alarms on its moisture follow the figure of the bin, which page and report show too; where
    that cannot be worked out, they follow the bare readings.
    """

    store: Store
    site: SiteState
    views: dict[str, BinView] = field(default_factory=dict)
    _book: FarmBook = field(default_factory=FarmBook)
    _newest_entry: int = -1
    _untaught: bool = False
    _due_ms: dict[str, int] = field(default_factory=dict)
    _stepped: dict[str, object] = field(default_factory=dict)
    _suppressed: set[str] = field(default_factory=set)

    def tick(self, now_ms: int, changes: AlarmChanges) -> None:
        """Work out the few bins whose time has come; a fault of the store leaves all as it was."""
        try:
            self._read_book(now_ms)
            self._learn(now_ms)
            due = sorted(place for place, at_ms in self._due_ms.items() if at_ms <= now_ms)
            if not due:
                return
            reader = PlaceReader(self.store, self.site.plan, now_ms)
            for place in due[:MOST_AT_ONCE]:
                self._look(place, reader, changes)
        except StoreError as error:
            self.site.worked_out.clear()
            log.warning("bins could not be worked out, it is tried again: %s", error)

    def look_at_all(self, now_ms: int) -> None:
        """The clock was set: no bin waits for a time that is far away by it."""
        self._due_ms = dict.fromkeys(self._due_ms, now_ms)

    def _read_book(self, now_ms: int) -> None:
        newest = self.store.logbook.newest_id()
        if newest == self._newest_entry:
            return
        self._newest_entry = newest
        self._book = book_of(self.store, self.site.plan, now_ms)
        self._untaught = True
        known = {*self._due_ms, *(fill.place for fill in self._book.standing), *self._alarmed()}
        self._due_ms = {
            place: self._due_ms.get(place, now_ms) for place in known if place in self.site.plan.places
        }
        self._look_at_touched(now_ms)

    def _look_at_touched(self, now_ms: int) -> None:
        """What an entry, a lesson or a calibration touched is due now; the others wait for their time."""
        reader = PlaceReader(self.store, self.site.plan, now_ms)
        for place in self._due_ms:
            if place not in self._stepped or self._stepped[place] != self._rests(place, reader):
                self._due_ms[place] = now_ms

    def _rests(self, place: str, reader: PlaceReader) -> object:
        """What the alarms of a place were stepped by: all that its view rests on, and its rules."""
        fill, plan = self._book.filled(place), self.site.plan
        rules = tuple(rule for quantity, _ in DRYNESS for rule in plan.rules_of(place, quantity))
        try:
            return None if fill is None else bin_rests(self.store, reader, fill), rules
        except StoreError:
            raise
        except Exception:
            # Like nothing else, so that it is looked at, and the fault told there.
            return object()

    def _learn(self, now_ms: int) -> None:
        """What fills teach each other; when the last of it is worked out, those that it teaches are due."""
        if self._untaught:
            self._untaught = keep_lessons(self.store, self.site.plan, now_ms, self._book)
            if not self._untaught:
                self._look_at_touched(now_ms)

    def _alarmed(self) -> set[str]:
        """Places whose dryness alarm stands from before, though they may be empty now."""
        rules = (rule for rule in self.site.plan.rules.values() if rule.quantity == Computed.HOURS_TO_DRY)
        return {rule.place for rule in rules if self.site.state(rule.alarm_id).active}

    def _look(self, place: str, reader: PlaceReader, changes: AlarmChanges) -> None:
        now_ms = reader.now_ms
        hours = earliest_h = float(HORIZON_H)
        fill = self._book.filled(place)
        self.site.worked_out.discard((place, Quantity.SUBSTRATE_MOISTURE))
        if fill is None or place not in self.site.plan.places:
            self.views.pop(place, None)
        else:
            try:
                self.views[place] = bin_view(self.store, self.site.plan, reader, fill)
            except StoreError:
                raise
            except Exception:
                # One bin that cannot be worked out must not take the guard off all others.
                log.exception("%s could not be worked out", place)
                self._due_ms[place] = now_ms + FAR_MS
                return
            likely_h, early_h = self.views[place].likely_dry_h, self.views[place].earliest_dry_h
            hours = hours if likely_h is None else likely_h
            earliest_h = earliest_h if early_h is None else early_h
        probed = place in self.views and self.views[place].probe is not None
        near = earliest_h < NEAR_H or (probed and self._near_limit(place))
        self._due_ms[place] = now_ms + (NEAR_MS if near else FAR_MS)
        self._stepped[place] = self._rests(place, reader)
        self._follow_finishing(place, fill is not None and fill.finishing, now_ms, changes)
        if fill is None or self.views[place].outlook is not None:
            self._step(place, Computed.HOURS_TO_DRY, hours, now_ms, changes)
        moisture = self.views[place].moisture if place in self.views else None
        if moisture is not None:
            self.site.worked_out.add((place, Quantity.SUBSTRATE_MOISTURE))
        if moisture is not None and probed:
            self._step(place, Quantity.SUBSTRATE_MOISTURE, moisture.share, now_ms, changes)

    def _near_limit(self, place: str) -> bool:
        """Whether an alarm on the moisture of a bin may come or end before the next look from far."""
        moisture = self.views[place].moisture
        rules = self.site.plan.rules_of(place, Quantity.SUBSTRATE_MOISTURE)
        return moisture is not None and any(
            abs(moisture.share - rule.setpoint) < NEAR_SHARE or self.site.state(rule.alarm_id).active
            for rule in rules
        )

    def _step(self, place: str, quantity: str, value: float, now_ms: int, changes: AlarmChanges) -> None:
        for rule in self.site.plan.rules_of(place, quantity):
            self.site.step(rule, [Sample(now_ms, value)], now_ms, ANY_GAP_S, changes)

    def _follow_finishing(self, place: str, wanted: bool, now_ms: int, changes: AlarmChanges) -> None:
        """A bin that is dried on purpose does not alarm as drought, by whatever it is measured."""
        for rule in self._dryness(place):
            name = rule.alarm_id
            if name in self.site.plan.suppressed_by_design or (not wanted and name not in self._suppressed):
                continue
            self.site.suppress(name, wanted, now_ms, FINISHING if wanted else IN_USE, changes)
            (self._suppressed.add if wanted else self._suppressed.discard)(name)

    def _dryness(self, place: str) -> list[AlarmRule]:
        plan = self.site.plan
        return [
            rule for quantity, side in DRYNESS for rule in plan.rules_of(place, quantity) if rule.side is side
        ]

    def advice(self, rule: AlarmRule, words: Localizer) -> str:
        """What to add, in numbers, for an alarm about moisture; "" for every other."""
        view = self.views.get(rule.place)
        if view is None or view.outlook is None or view.bands is None:
            return ""
        wanted = {quantity for quantity, _ in DRYNESS}
        if rule.quantity not in wanted:
            return ""
        said = words.t(
            "bins.figure", moisture=moisture_now(view.outlook, words), basis=moisture_basis(view, words)
        )
        return " ".join(part for part in (said, advice_sentences(view.outlook, view.bands, words)) if part)


def worked_out_at_start(store: Store, plan: Plan, now_ms: int) -> set[tuple[str, str]]:
    """The places whose moisture is worked out, before the first look: all that are filled."""
    try:
        standing = book_of(store, plan, now_ms).standing
    except Exception:
        # When in doubt the bare readings guard; a start must not fail for this.
        log.exception("the filled bins could not be read at the start")
        return set()
    return {(fill.place, Quantity.SUBSTRATE_MOISTURE) for fill in standing if fill.place in plan.places}
