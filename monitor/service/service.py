"""The composition root: builds the parts from the settings, owns the clock, and processes batch after batch.

After a start it takes up alarm states, and the readings since they were stored.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC
from operator import attrgetter
from pathlib import Path

from monitor.climate.calibration import CalibrationTable
from monitor.errors import StoreError
from monitor.farm.book import carried_over, carry_over
from monitor.farm.forecast_cache import one_heap
from monitor.farm.occupancy import keep_limits, last_known_plan
from monitor.farm.places import calibrated_probes
from monitor.intake.broker import EmbeddedBroker
from monitor.intake.node_clock import EARLIEST_CLOCK_MS, clock_is_set
from monitor.intake.payload import compile_routes
from monitor.intake.proof import Way
from monitor.intake.subscriber import Subscriber
from monitor.notify.outbox import SafeOutbox
from monitor.notify.outbox_worker import Launch, OutboxWorker, in_thread
from monitor.notify.policy import LinkFor, no_link
from monitor.notify.signals import Sounder
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Batch,
    Flag,
    FlaggedReading,
    Reading,
    SensorKey,
)
from monitor.service.answers import Answers
from monitor.service.background import BackgroundTasks, BackgroundThreads, People, is_small
from monitor.service.batches import BatchProcessor, Committer, OnEvent, PendingBatch
from monitor.service.board_settings import BoardSettings
from monitor.service.commands import CommandDesk
from monitor.service.housekeeping import DailyCopy, tend_if_due
from monitor.service.ingest import (
    BATCH_MESSAGES,
    DOUBTFUL_JUMP_MS,
    ClockWatch,
    IngestQueue,
    MessageDecoder,
    topics_of,
)
from monitor.service.messages import AlarmViewBuilder, Announcer
from monitor.service.night_job import FIRST_STARTED, NightReportWritten, note_heartbeat, send_if_due
from monitor.service.place_watch import EVERY_MS, BinWatch, OccupancyWatch, worked_out_at_start
from monitor.service.self_watch import LastSeen, SelfFacts, SelfWatch
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.settings.loading import changes as settings_changes
from monitor.settings.loading import reload, waits_for_restart
from monitor.settings.plan import Plan, build_plan
from monitor.settings.schema import Settings
from monitor.store import Store
from monitor.store.meta import AWAY, BROKER_WAY
from monitor.words.catalogue import ENGLISH
from monitor.words.localizer import Localizer

log = logging.getLogger(__name__)

ALIVE_MS = MS_PER_MINUTE // 2
STATUS_MS = MS_PER_MINUTE
STUCK_S = 120.0
END_OF_TIME_MS = 2**62
UNHEALTHY_UNSENT_MINUTES = 60.0
CATCH_UP_MS = 2 * MS_PER_HOUR


def restore(store: Store, plan: Plan, now_ms: int, margin_ms: int) -> tuple[SiteState, AlarmChanges]:
    """The site as it was, brought up to date with stored readings; the changes are still to be written.

    A state is stored only when something changes that readings cannot restore, so the last two hours are
    gone through again. Samples that a state has seen are ignored by it. What a clock that was wrong has dated
    further ahead than `margin_ms` must not block.
    """
    site, changes = SiteState(plan, store.journal.states(), store.calibrations.table()), AlarmChanges()
    site.clock_went_back(now_ms, margin_ms)
    site.calibrated_probes = calibrated_probes(store)
    site.worked_out = worked_out_at_start(store, plan, now_ms)
    catch_up(store, site, now_ms, changes)
    site.follow_design(now_ms, changes)
    return site, changes


def catch_up(store: Store, site: SiteState, now_ms: int, changes: AlarmChanges) -> None:
    """Go through the readings of the last two hours again."""
    readings = [
        reading
        for sensor in store.readings.sensors()
        if site.plan.place_of(sensor) is not None
        for reading in _recent(store, site.calibrations, sensor, now_ms)
    ]
    site.feed(sorted(readings, key=attrgetter("reading.at_ms")), now_ms, changes)
    # What came late was found and written when it came.
    changes.found_late.clear()


def _recent(
    store: Store, calibrations: CalibrationTable, sensor: SensorKey, now_ms: int
) -> list[FlaggedReading]:
    start_ms, end_ms = now_ms - CATCH_UP_MS, now_ms + 1
    raw = store.readings.series(sensor, start_ms, end_ms)
    true = raw.calibrated(calibrations.of(sensor), sensor.quantity)
    rows = zip(raw.at_ms, raw.value, true.value, raw.flag, strict=True)
    return [
        FlaggedReading(Reading(sensor, int(at), float(value)), Flag(int(flag)), float(calibrated))
        for at, value, calibrated, flag in rows
    ]


def system_clock_ms() -> int:
    return time.time_ns() // 1_000_000


class Service:
    """One site's monitor. `start` builds and starts everything, `stop` ends it in order.

    With `inline` (the demo, on a simulated clock) there is no thread: each call of `settle` processes one
    batch, hands over messages and checks whether a night report is due.
    """

    def __init__(
        self,
        settings: Settings,
        *,
        settings_path: Path | None = None,
        clock: Callable[[], int] = system_clock_ms,
        on_event: OnEvent = lambda _event: None,
        inline: bool = False,
    ) -> None:
        self.settings, self._path = settings, settings_path
        self._clock, self._on_event, self._inline = clock, on_event, inline
        self._queue = IngestQueue()
        self._stopping, self._reload_wanted = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="batches", daemon=True)
        self._last_alive_ms = self._last_status_ms = 0
        self._processed_s = time.monotonic()
        self._clock_watch = ClockWatch(clock)
        self._clock_settled = threading.Event()
        self._clock_settled.set()
        self._archive_lag_h: float | None = None
        self._copy_ages_h: tuple[float | None, float | None] = (None, None)
        self._subscribing, self._noted_way = False, ""
        self._seen_connection_ms: int | None = None
        self._broker = EmbeddedBroker.wanted(settings.broker)
        self._background: BackgroundThreads | None = None
        self.failed: Exception | None = None
        self.link_for: LinkFor = no_link
        self._launch: Launch = (lambda job: job()) if inline else in_thread

    # Building and starting.

    def start(self) -> None:
        """Open the store, take up what was, connect, and begin; raises MonitorError when that cannot be."""
        one_heap()
        if self._broker is not None:
            self._broker.start()
        try:
            self.prepare()
        except BaseException:
            self._stop_broker()
            raise
        if self._inline:
            self.subscriber.start()
        else:
            if not clock_is_set(self._clock(), self._previous_alive_ms):
                self._clock_settled.clear()
            self._thread.start()
            tasks = BackgroundTasks(self.send_night_report, self._tend, self.healthy, self._note_heartbeat)
            self._background = BackgroundThreads(self.store, self.settings, self.worker, tasks, self._checked)
            self._background.start()

    def prepare(self) -> None:
        """Open the store and build the parts; `start` does it, and tests that process batches themselves."""
        settings, now_ms = self.settings, self._clock()
        # A large file is checked in the background, so that guarding begins at once.
        self._checked = is_small(settings.store.path)
        self.store = Store.open(
            settings.store.path, check=self._checked, archive=settings.archive is not None
        )
        runs = self.store.runs.between(0, END_OF_TIME_MS)
        self._previous_alive_ms = max((run.alive_ms for run in runs), default=None)
        if self._previous_alive_ms is not None and now_ms - self._previous_alive_ms >= DOUBTFUL_JUMP_MS:
            self._clock_watch.doubt()
        self._run_id = self.store.runs.start(now_ms)
        if self.store.meta.get(FIRST_STARTED) is None:
            self.store.meta.put(FIRST_STARTED, str(now_ms))
        self._carry_over(now_ms)
        self._copy = DailyCopy(self.store, lambda: self.settings, self._path)
        self._build(now_ms)
        self._keep_limits(now_ms)

    def _carry_over(self, now_ms: int) -> None:
        """Once after an update: a logbook in which bins and cohorts stood apart becomes one."""
        if carry_over(self.store, last_known_plan(self.store, self.settings, now_ms), now_ms):
            for said in carried_over(self.store):
                log.warning("the logbook was carried over: %s", said)

    def _build(self, now_ms: int) -> None:
        settings, plan = self.settings, last_known_plan(self.store, self.settings, now_ms)
        routes = compile_routes(settings.intake.plain)
        self.topics = topics_of(settings)
        self.subscriber = Subscriber(
            settings.broker,
            settings.site.id,
            [route.filter for route in routes],
            self._queue.put,
            most_unacknowledged=BATCH_MESSAGES * 2,
            now_ms=self._clock,
        )
        self.outbox = SafeOutbox(self.store.outbox)
        site, changes = restore(self.store, plan, now_ms, self.topics.newest_ms)
        bin_watch = BinWatch(self.store, site)
        alarm_views = AlarmViewBuilder(site, bin_watch.advice)
        self.people = People(self.store, settings, self._clock, self._say)
        policy, channels = self.people.of(settings)
        last_seen = LastSeen(now_ms)
        latest = self.store.readings.latest(self.store.calibrations.table())
        last_seen.restore(self.store.nodes.every(), (item.reading for item in latest.values()))
        self.processor = BatchProcessor(
            store=self.store,
            decoder=MessageDecoder.of(self.store, site, self.topics, routes),
            site=site,
            self_watch=SelfWatch(site, last_seen),
            bin_watch=bin_watch,
            alarm_views=alarm_views,
            announcer=Announcer(self.outbox, policy, alarm_views, self._link, self._was_seen),
            committer=Committer(self.store, self.outbox, self.subscriber),
            sounder=Sounder(self.subscriber.publish, self.topics.sounder),
            answers=self._answers(),
            board_settings=BoardSettings(self.store.board_reports, self.subscriber.publish, self.topics),
            desk=CommandDesk(self.store),
            self_facts=self._self_facts,
            on_event=self._on_event,
            wake_outbox=lambda: self.worker.wake(),
        )
        self.worker = OutboxWorker(
            self.outbox,
            channels,
            policy,
            alarm_views,
            self._clock,
            launch=self._launch,
            link_for=self._link,
        )
        every_ms = MS_PER_DAY // 4 if self._inline else EVERY_MS
        self._occupancy = OccupancyWatch(self.store, lambda: self.settings, self._launch, every_ms)
        self.processor.finish(PendingBatch(now_ms, changes))

    def _answers(self) -> Answers:
        publish, trusted = self.subscriber.publish, self._clock_watch.is_trusted
        return Answers(self.store.nodes, publish, self.topics, self._clock, trusted)

    def _was_seen(self, alarm_id: str, since_ms: int) -> bool:
        """Whether a person acknowledged the alarm since then; while the journal cannot be read: no."""
        with suppress(StoreError):
            return self.store.journal.acknowledged_since(alarm_id, since_ms)
        return False

    def _link(self, recipient: str, alarm_id: str) -> str:
        return self.link_for(recipient, alarm_id)

    # Running.

    def _run(self) -> None:
        try:
            if self._clock_watch.wait(self._previous_alive_ms, self._stopping, self._say):
                self._start_over(self._clock())
            self._clock_settled.set()
            if not self._stopping.is_set():
                self.subscriber.start()
                self._subscribing = True
            while not self._stopping.is_set():
                self._process_batch()
        except Exception as error:
            # The thread that guards everything must not die unseen: the process ends and is started again.
            log.exception("the service met an error of the program")
            self.failed = error

    def _start_over(self, now_ms: int) -> None:
        """The clock was set only now: what was dated at the start was dated wrongly."""
        self.store.runs.correct(self._run_id, now_ms)
        behind_ms = max(0, (self._previous_alive_ms or 0) - now_ms)
        if behind_ms:
            self.store.clock_went_back(now_ms, self._run_id)
        self._correct_first_start(now_ms)
        changes = AlarmChanges()
        self.processor.site.clock_went_back(now_ms, self.topics.newest_ms, behind_ms)
        catch_up(self.store, self.processor.site, now_ms, changes)
        self.processor.self_watch.last_seen.begin(now_ms)
        self.processor.finish(PendingBatch(now_ms, changes))

    def _correct_first_start(self, now_ms: int) -> None:
        first_ms = int(self.store.meta.get(FIRST_STARTED) or 0)
        if not EARLIEST_CLOCK_MS <= first_ms <= now_ms:
            self.store.meta.put(FIRST_STARTED, str(now_ms))

    def _process_batch(self) -> None:
        incoming = self._queue.batch()
        now_ms = self._clock()
        self._follow_clock(now_ms)
        self._reload_if_wanted(now_ms)
        self._follow_occupancy(now_ms)
        self._note_connection()
        self._note_way()
        if self._broker is not None:
            self._broker.keep_running(self._say)
        self.processor.process(incoming, now_ms)
        self._processed_s = time.monotonic()
        self._sign_of_life(now_ms)

    def _follow_clock(self, now_ms: int) -> None:
        jump_ms = self._clock_watch.jump_ms(now_ms)
        if not jump_ms:
            return
        way = "ahead" if jump_ms > 0 else "back"
        length = Localizer.plain(ENGLISH, UTC, now_ms).length(abs(jump_ms))
        self._say(f"the clock of this computer was set {way} by {length}")
        self._last_alive_ms = self._last_status_ms = 0
        if jump_ms < 0:
            self._occupancy.clock_went_back()
        self.processor.clock_was_set(now_ms, jump_ms, self.topics.newest_ms)
        if jump_ms < 0:
            self._leave_the_future(now_ms)
        self.worker.change(self.worker.policy)
        if self._background is not None:
            self._background.clock_was_set()

    def _leave_the_future(self, now_ms: int) -> None:
        states = tuple(self.processor.site.states.values())
        try:
            self.store.clock_went_back(now_ms, self._run_id)
            self._correct_first_start(now_ms)
            self.store.commit(Batch(now_ms, alarm_states=states))
        except StoreError as error:
            log.error("what was dated while the clock was ahead could not be dated anew: %s", error)

    def _note_connection(self) -> None:
        """After each new connection: what comes first may have waited, and the sounder is told again."""
        connected_ms = self.subscriber.connected_ms
        if connected_ms is None or connected_ms == self._seen_connection_ms:
            return
        self.processor.decoder.absence = self.subscriber.absence(self._previous_alive_ms)
        self._seen_connection_ms = connected_ms
        self.processor.sounder.repeat()

    def _note_way(self) -> None:
        """For `check --broker`, which must not connect beside us."""
        way = self.subscriber.proof.way if self.subscriber.connected else AWAY
        if way != self._noted_way:
            self._noted_way = way
            with suppress(StoreError):
                self.store.meta.put(BROKER_WAY, way)

    def _sign_of_life(self, now_ms: int) -> None:
        if 0 <= now_ms - self._last_alive_ms < ALIVE_MS:
            return
        self._last_alive_ms = now_ms
        with suppress(StoreError):
            self.store.runs.alive(self._run_id, now_ms)
        if self._inline:
            self.send_night_report()

    def _self_facts(self, now_ms: int) -> SelfFacts:
        if not 0 <= now_ms - self._last_status_ms < STATUS_MS:
            self._last_status_ms = now_ms
            if self._background is not None:
                self._archive_lag_h = self._background.archive_lag_h(now_ms)
            with suppress(StoreError):
                self._copy_ages_h = self._copy.ages_h(now_ms)
            with suppress(StoreError):
                self.processor.site.calibrations = self.store.calibrations.table()
                self.processor.site.calibrated_probes = calibrated_probes(self.store)
        unsent_minutes = 0.0
        with suppress(StoreError):
            unsent_minutes = self.worker.oldest_unsent_minutes(now_ms)
        return SelfFacts(
            self._store_fault, self._archive_lag_h, unsent_minutes, self._way_is_closed, *self._copy_ages_h
        )

    @property
    def _way_is_closed(self) -> bool:
        return self.subscriber.proof.way is Way.CLOSED

    @property
    def _store_fault(self) -> bool:
        damaged = self._background is not None and self._background.file_fault is not None
        return damaged or self.processor.committer.fault is not None

    def _note_heartbeat(self, lost: bool) -> None:
        note_heartbeat(self.store, lost, self._clock())

    def healthy(self) -> bool:
        """All is well lately: connected, batches processed and written, messages not stuck."""
        now_ms = self._clock()
        with suppress(StoreError):
            return (
                self.failed is None
                and self.subscriber.connected
                and not self._way_is_closed
                and time.monotonic() - self._processed_s < STUCK_S
                and not self._store_fault
                and self.worker.alive
                and self.worker.oldest_unsent_minutes(now_ms) < UNHEALTHY_UNSENT_MINUTES
            )
        return False

    @property
    def alive(self) -> bool:
        """False when a thread that must run has ended: the process should end and be started again."""
        receiving = self.subscriber.alive or not self._subscribing
        threads = self._inline or (self.worker.alive and receiving)
        return self.failed is None and self._thread.is_alive() and threads

    def send_night_report(self) -> None:
        """Write the report of the night that is over, if it was not written yet."""
        if not self._clock_settled.is_set():
            return
        policy = self.processor.announcer.policy
        text = send_if_due(self.store, self.processor.site.plan, policy, self._clock())
        if text is not None:
            self.worker.wake()
            self.processor.tell(NightReportWritten(text))

    def _tend(self) -> None:
        if self._clock_settled.is_set():
            proven = self._clock_watch.is_proven
            tend_if_due(self.store, self.settings.store, self._clock(), clock_proven=proven)
            self._copy.look(self._clock(), clock_proven=proven)

    # For a simulated clock.

    def settle(self, messages: int, timeout_s: float = 10.0) -> None:
        """With `inline`: wait until so many messages have come since the start, then process one batch.

        So the same messages at the same times always give the same batches, whatever the machine is doing.
        """
        incoming = self._queue.exactly(messages - self.processor.taken, timeout_s)
        now_ms = self._clock()
        self._reload_if_wanted(now_ms)
        self._follow_occupancy(now_ms)
        self._note_connection()
        self.processor.process(incoming, now_ms)
        self._sign_of_life(now_ms)
        self.worker.step(now_ms)

    # Changed settings.

    def reload_soon(self) -> None:
        """Read the settings file again before the next batch; safe to call from a signal handler."""
        self._reload_wanted.set()

    def _reload_if_wanted(self, now_ms: int) -> None:
        if self.people.changed.is_set():
            self._follow_people()
        if not self._reload_wanted.is_set():
            return
        self._reload_wanted.clear()
        if self._path is None:
            return
        new, problems = reload(self._path, self.settings)
        if problems:
            self._say("the changed settings are wrong, the old ones stay in force:")
            for problem in problems:
                self._say(f"  {problem}")
            return
        changed = settings_changes(self.settings, new) or ["nothing has changed"]
        waiting = waits_for_restart(self.settings, new)
        self._take_over(new, now_ms)
        self._say("settings read again: " + "; ".join(changed))
        if waiting:
            self._say(f"to take over {', '.join(waiting)}, stop the monitor and start it again")

    def _take_over(self, new: Settings, now_ms: int) -> None:
        old, self.settings = self.settings, new
        try:
            plan = last_known_plan(self.store, new, now_ms)
        except StoreError:
            plan = build_plan(new, self.processor.site.plan.said)
        self._occupancy.start_over()
        self._follow(plan, now_ms)
        self._follow_people()
        if self._background is not None:
            self._background.follow(old, new)

    def _follow_people(self) -> None:
        policy, channels = self.people.of(self.settings)
        if policy != self.worker.policy:
            self.processor.announcer.policy = policy
            self.worker.change(policy, channels)

    def _follow_occupancy(self, now_ms: int) -> None:
        """What people said of places holds from the next reading on."""
        plan = self._occupancy.plan(self.processor.site.plan, now_ms)
        if plan is not None:
            self._follow(plan, now_ms)

    def _follow(self, plan: Plan, now_ms: int) -> None:
        changes = AlarmChanges()
        self.processor.change_plan(plan, now_ms)
        self.processor.site.follow_design(now_ms, changes)
        self.processor.finish(PendingBatch(now_ms, changes))
        self._keep_limits(now_ms)

    def _keep_limits(self, now_ms: int) -> None:
        """Nights to come are held against the limits of their own time; a full disk is tried again."""
        with suppress(StoreError):
            keep_limits(self.store, self.processor.site.plan, now_ms)

    def _say(self, text: str) -> None:
        log.warning("%s", text)
        with suppress(Exception):
            self._on_event(text)

    # Ending.

    def stop(self) -> None:
        """End in order: finish the batch, keep every alarm's state, say offline, close the database."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(10.0)
        if self._background is None:
            self.worker.stop()
        else:
            self._background.stop()
            self._copy.stop()
        self.subscriber.stop()
        now_ms = self._clock()
        with suppress(StoreError):
            self.store.commit(Batch(now_ms, alarm_states=tuple(self.processor.site.states.values())))
            self.store.runs.stop(self._run_id, now_ms)
        if self._background is not None:
            self._background.stop_archive()
        self.store.close()
        self._stop_broker()

    def _stop_broker(self) -> None:
        if self._broker is not None:
            self._broker.stop()
