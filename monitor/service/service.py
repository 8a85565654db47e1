"""The composition root: builds the parts from the settings, owns the clock, runs the turns."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from zoneinfo import ZoneInfo

from monitor.errors import StoreError
from monitor.intake.broker import EmbeddedBroker
from monitor.intake.node_clock import clock_is_set
from monitor.intake.plain import compile_routes
from monitor.intake.subscriber import Subscriber
from monitor.intake.topics import Topics
from monitor.notify.channels import open_channels
from monitor.notify.outbox import SafeOutbox
from monitor.notify.outbox_worker import OutboxWorker, in_thread
from monitor.notify.policy import Circle, LinkFor, no_link
from monitor.notify.sounder import Sounder
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, Batch, IncomingMessage
from monitor.service.announcer import Announcer
from monitor.service.archiving import Archiving
from monitor.service.bin_watch import BinWatch
from monitor.service.committing import Committer
from monitor.service.housekeeping import tend_if_due
from monitor.service.looking import AlarmLook
from monitor.service.night_job import Beats, NightJob, NightReportWritten, send_if_due
from monitor.service.reading_in import ReadingIn
from monitor.service.restoring import restore
from monitor.service.self_watch import Heard, SelfFacts, SelfWatch
from monitor.service.stored_outbox import StoredOutbox
from monitor.service.strangers import Strangers
from monitor.service.turning import OnEvent, Turner, Work
from monitor.service.watch import Turn, Watch
from monitor.settings.changes import changes
from monitor.settings.loading import reload
from monitor.settings.plan import build_plan
from monitor.settings.schema import Settings
from monitor.store import Store

log = logging.getLogger(__name__)

BATCH_MESSAGES = 500
BATCH_S = 0.25
ALIVE_MS = MS_PER_MINUTE // 2
STATUS_MS = MS_PER_MINUTE
CLOCK_WAIT_S = 5.0
STUCK_MS = 2 * MS_PER_MINUTE
UNHEALTHY_UNSENT_MINUTES = 60.0


def system_clock_ms() -> int:
    """The machine's clock."""
    return time.time_ns() // 1_000_000


class Service:
    """One site's monitor. `start` builds and starts everything, `stop` ends it in order.

    With `inline` (the demo, on a simulated clock) no thread turns: each call of `settle` makes one turn,
    hands over messages and looks whether a night report is due.
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
        self._queue: SimpleQueue[IncomingMessage] = SimpleQueue()
        self._stopping, self._reload_wanted = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="turns", daemon=True)
        self._last_turn_ms = self._last_alive_ms = self._last_status_ms = 0
        self._archive_lag_h: float | None = None
        self._subscribing = False
        self._seen_connection_ms: int | None = None
        self._broker: EmbeddedBroker | None = None
        self._night: NightJob | None = None
        self._beats: Beats | None = None
        self._archive: Archiving | None = None
        self.failed: Exception | None = None
        self.link_for: LinkFor = no_link

    # Building and starting.

    def start(self) -> None:
        """Open the store, take up what was, connect, and begin; raises MonitorError when that cannot be."""
        self._broker = self._embedded_broker()
        self.prepare()
        if self._inline:
            self.subscriber.start()
        else:
            self._thread.start()
            self._start_helpers()

    def prepare(self) -> None:
        """Open the store and build the parts; `start` does it, and tests that make the turns themselves."""
        settings, now_ms = self.settings, self._clock()
        self.store = Store.open(settings.store.path, archive=settings.archive is not None)
        self._previous_alive_ms = self._last_alive(now_ms)
        self._run_id = self.store.runs.start(now_ms)
        if self.store.meta.get("first_started_ms") is None:
            self.store.meta.put("first_started_ms", str(now_ms))
        self._build(now_ms)

    def _embedded_broker(self) -> EmbeddedBroker | None:
        broker = self.settings.broker
        if not broker.embedded:
            return None
        password = broker.password.get_secret_value() if broker.password else None
        embedded = EmbeddedBroker(broker.listen, broker.port, broker.username, password)
        embedded.start()
        return embedded

    def _last_alive(self, now_ms: int) -> int | None:
        runs = self.store.runs.between(0, now_ms + 1)
        return max((run.alive_ms for run in runs), default=None)

    def _build(self, now_ms: int) -> None:
        settings, plan = self.settings, build_plan(self.settings)
        routes = compile_routes(settings.intake.plain)
        self.topics = Topics(
            settings.site.id,
            settings.broker.topic_root,
            round(settings.intake.oldest_days * MS_PER_DAY),
            round(settings.intake.newest_minutes * MS_PER_MINUTE),
        )
        self.subscriber = Subscriber(
            settings.broker,
            settings.site.id,
            [route.filter for route in routes],
            self._queue.put,
            most_unacknowledged=BATCH_MESSAGES * 2,
            now_ms=self._clock,
        )
        self.outbox = SafeOutbox(StoredOutbox(self.store))
        watch, turn = restore(self.store, plan, now_ms)
        bin_watch = BinWatch(self.store, watch)
        look = AlarmLook(watch, bin_watch.advice)
        circle = self._circle(settings)
        heard = Heard(now_ms)
        heard.restore(self.store.nodes.every())
        self.turner = Turner(
            store=self.store,
            reading_in=ReadingIn(self.topics, routes, self._strangers(watch)),
            watch=watch,
            self_watch=SelfWatch(watch, heard),
            bin_watch=bin_watch,
            look=look,
            announcer=Announcer(self.outbox, circle, look, self._link),
            committer=Committer(
                self.store, self.outbox, self.subscriber.acknowledge, self.subscriber.reconnect
            ),
            sounder=Sounder(self.subscriber.publish, self.topics.sounder),
            self_facts=self._self_facts,
            on_event=self._on_event,
            wake_outbox=lambda: self.worker.wake(),
        )
        self.worker = self._new_worker(circle)
        self.turner.finish(Work(now_ms, turn))

    def _strangers(self, watch: Watch) -> Strangers:
        boards = [facts.node for facts in self.store.nodes.every()]
        return Strangers(lambda node: node in watch.plan.nodes, boards, self.store.readings.sensors())

    def _circle(self, settings: Settings) -> Circle:
        zone = ZoneInfo(settings.site.time_zone)
        return Circle.of(settings.recipients, settings.messages, zone)

    def _link(self, recipient: str, alarm_id: str) -> str:
        return self.link_for(recipient, alarm_id)

    def _new_worker(self, circle: Circle) -> OutboxWorker:
        channels, problems = open_channels(circle.recipients)
        for recipient, problem in problems.items():
            self._say(f"messages to {recipient} cannot be sent: {problem}")
        launch = (lambda job: job()) if self._inline else in_thread
        look = self.turner.look
        return OutboxWorker(
            self.outbox, channels, circle, look, self._clock, launch=launch, link_for=self._link
        )

    def _start_helpers(self) -> None:
        self.worker.start()
        report = self.settings.report
        self._night = NightJob(report.time, self.turner.watch.plan.zone, self.send_night_report, self._tend)
        self._night.start()
        self._archive = Archiving(self.store.path, self.settings)
        self._archive.start()
        if self.settings.messages.heartbeat_url is not None:
            self._beats = Beats(self.settings.messages, self.healthy)
            self._beats.start()

    # Running.

    def _run(self) -> None:
        try:
            self._wait_for_clock()
            if not self._stopping.is_set():
                self.subscriber.start()
                self._subscribing = True
            while not self._stopping.is_set():
                self._one_turn()
        except Exception as error:
            # The thread that guards everything must not die unseen: the process ends and is started again.
            log.exception("the service met an error of the program")
            self.failed = error

    def _wait_for_clock(self) -> None:
        """Until the machine's clock is set after a boot, nothing is taken from the broker, which keeps it."""
        told = False
        while not clock_is_set(self._clock(), self._previous_alive_ms) and not self._stopping.is_set():
            if not told:
                self._say("the clock of this computer is not set yet; readings wait in the broker")
                told = True
            self._stopping.wait(CLOCK_WAIT_S)

    def _one_turn(self) -> None:
        incoming = self._collect()
        now_ms = self._clock()
        self._reload_if_wanted(now_ms)
        self._note_connection()
        self.turner.turn(incoming, now_ms)
        self._last_turn_ms = now_ms
        self._sign_of_life(now_ms)

    def _collect(self) -> list[IncomingMessage]:
        """The next batch: what arrives within 250 ms of the first message, at most 500 messages."""
        found: list[IncomingMessage] = []
        until = time.monotonic() + BATCH_S
        with suppress(Empty):
            while len(found) < BATCH_MESSAGES:
                left_s = until - time.monotonic()
                found.append(self._queue.get(timeout=left_s) if left_s > 0 else self._queue.get_nowait())
        return found

    def _note_connection(self) -> None:
        """After each new connection: what comes first may have waited, and the sounder is told again."""
        connected_ms = self.subscriber.connected_ms
        if connected_ms is None or connected_ms == self._seen_connection_ms:
            return
        self.turner.reading_in.absence = self.subscriber.absence(self._previous_alive_ms)
        self._seen_connection_ms = connected_ms
        self.turner.sounder.repeat()

    def _sign_of_life(self, now_ms: int) -> None:
        if now_ms - self._last_alive_ms < ALIVE_MS:
            return
        self._last_alive_ms = now_ms
        with suppress(StoreError):
            self.store.runs.alive(self._run_id, now_ms)
        if self._inline:
            self.send_night_report()

    def _self_facts(self, now_ms: int) -> SelfFacts:
        if now_ms - self._last_status_ms >= STATUS_MS:
            self._last_status_ms = now_ms
            self._archive_lag_h = self._archive.lag_hours(now_ms) if self._archive else None
            with suppress(StoreError):
                self.turner.watch.calibrations = self.store.calibrations.every()
        unsent = 0.0
        with suppress(StoreError):
            unsent = self.worker.oldest_unsent_minutes(now_ms)
        fault = self.turner.committer.fault is not None
        return SelfFacts(fault, self._archive_lag_h, unsent)

    def healthy(self) -> bool:
        """A full good cycle lately: connected, turning, written, and messages not stuck."""
        now_ms = self._clock()
        with suppress(StoreError):
            return (
                self.failed is None
                and self.subscriber.connected
                and now_ms - self._last_turn_ms < STUCK_MS
                and self.turner.committer.fault is None
                and self.worker.alive
                and self.worker.oldest_unsent_minutes(now_ms) < UNHEALTHY_UNSENT_MINUTES
            )
        return False

    @property
    def alive(self) -> bool:
        """False when a thread that must run has ended: the process should end and be started again."""
        helpers = self._inline or (self.worker.alive and self._receiving())
        return self.failed is None and self._thread.is_alive() and helpers

    def _receiving(self) -> bool:
        """Whether the connection's thread lives; it is started only once the clock is set."""
        return self.subscriber.alive or not self._subscribing

    def send_night_report(self) -> None:
        """Write the report of the night that is over, if it was not written yet."""
        circle = self.turner.announcer.circle
        text = send_if_due(self.store, self.turner.watch.plan, circle, self._clock())
        if text is not None:
            self.worker.wake()
            self._on_event(NightReportWritten(text))

    def _tend(self) -> None:
        tend_if_due(self.store, self.settings.store, self._clock())

    # For a simulated clock.

    def settle(self, messages: int, timeout_s: float = 10.0) -> None:
        """With `inline`: wait until so many messages have come since the start, then make exactly one turn.

        So the same messages at the same times always give the same turns, whatever the machine is doing.
        """
        incoming: list[IncomingMessage] = []
        with suppress(Empty):
            while self.turner.taken + len(incoming) < messages:
                incoming.append(self._queue.get(timeout=timeout_s))
        now_ms = self._clock()
        self._reload_if_wanted(now_ms)
        self._note_connection()
        self.turner.turn(incoming, now_ms)
        self._sign_of_life(now_ms)
        self.worker.step(now_ms)

    # Settings anew.

    def reload_soon(self) -> None:
        """Read the settings file again at the next turn; safe to call from a signal handler."""
        self._reload_wanted.set()

    def _reload_if_wanted(self, now_ms: int) -> None:
        if self._reload_wanted.is_set():
            self._reload_wanted.clear()
            self._reload(now_ms)

    def _reload(self, now_ms: int) -> None:
        if self._path is None:
            return
        new, problems = reload(self._path, self.settings)
        if problems:
            self._say("the changed settings are wrong, the old ones stay in force:")
            for problem in problems:
                self._say(f"  {problem}")
            return
        told = changes(self.settings, new) or ["nothing has changed"]
        self._say("settings read again: " + "; ".join(told))
        self._take_over(new, now_ms)

    def _take_over(self, new: Settings, now_ms: int) -> None:
        old, self.settings = self.settings, new
        turn = Turn()
        self.turner.watch.change_plan(build_plan(new), now_ms)
        self.turner.watch.follow_design(now_ms, turn)
        if (old.recipients, old.messages) != (new.recipients, new.messages):
            circle = self._circle(new)
            self.turner.announcer.circle = circle
            self.worker.stop()
            self.worker = self._new_worker(circle)
            if not self._inline:
                self.worker.start()
        self.turner.finish(Work(now_ms, turn))

    def _say(self, text: str) -> None:
        log.warning("%s", text)
        self._on_event(text)

    # Ending.

    def stop(self) -> None:
        """End in order: finish the turn, keep every alarm's state, say offline, close the database."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(10.0)
        self._stop_helpers()
        self.subscriber.stop()
        now_ms = self._clock()
        with suppress(StoreError):
            self.store.commit(Batch(now_ms, alarm_states=tuple(self.turner.watch.states.values())))
            self.store.runs.stop(self._run_id, now_ms)
        self.store.close()
        if self._broker is not None:
            self._broker.stop()

    def _stop_helpers(self) -> None:
        if self._night is not None:
            self._night.stop()
        self.worker.stop()
        if self._beats is not None:
            self._beats.stop()
        if self._archive is not None:
            self._archive.stop()
