"""The demo from start to end: its settings, a broker, the real service on a simulated clock, and the farm."""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

from rich.console import Console

from monitor.demo.farm import Publication, SimulatedFarm
from monitor.demo.history import record_actions, write_bins, write_history
from monitor.demo.narrator import Inbox, Narrator, PageOpened
from monitor.demo.physics import KeeperAction
from monitor.demo.real_board import RealBoard
from monitor.demo.script import SITE_TITLE, TIME_ZONE
from monitor.errors import UsageError
from monitor.intake.broker import EmbeddedBroker
from monitor.intake.connection import Publisher
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND
from monitor.service import Service
from monitor.service.page_door import PageDoor
from monitor.settings.loading import load
from monitor.settings.schema import BrokerSettings, Settings
from monitor.settings.template import PlainTables, render, saltbush_yard
from monitor.store import Store
from monitor.store.meta import DEMO_CLOCK
from monitor.words.catalogue import ENGLISH
from monitor.words.localizer import Localizer

LOOPBACK = "127.0.0.1"
# Stands in the settings until the demo's own broker has its port.
ANY_PORT = 1883
PAGE_PORT = 8460
KEEPER_ADDRESS, NEIGHBOUR_ADDRESS = "REARING_DEMO_KEEPER", "REARING_DEMO_NEIGHBOUR"
CONNECT_S = 15.0
REAL_TIME_STEP_S = 0.5
MARK_MS = MS_PER_HOUR
"""How often the other commands are told the time of the farm; in real time every minute."""
# A clear spring day: cold nights, hot afternoons. Seven in the morning, so that two nights end before 06:30.
DEFAULT_START = datetime(2026, 9, 22, 7, 0, tzinfo=ZoneInfo(TIME_ZONE))


@dataclass(frozen=True, slots=True)
class DemoPlan:
    """What to play: where files go, which farm, how long, in which language, with an invented past or not."""

    folder: Path
    seed: int = 7
    start: datetime = DEFAULT_START
    days: float = 2.0
    page: bool = False
    stay: bool = False
    past: bool = True
    language: str = ENGLISH

    @property
    def start_ms(self) -> int:
        return round(self.start.timestamp() * MS_PER_SECOND)

    @property
    def until_ms(self) -> int:
        return self.start_ms + round(self.days * MS_PER_DAY)

    @property
    def words(self) -> Localizer:
        return Localizer.plain(self.language, ZoneInfo(TIME_ZONE), self.start_ms)

    @property
    def inbox(self) -> Path:
        return self.folder / "inbox"


class SimulatedClock:
    """The time on the invented farm; it stands still until somebody moves it and never runs backwards."""

    def __init__(self, start_ms: int) -> None:
        self._now_ms = start_ms
        self._lock = threading.Lock()

    def __call__(self) -> int:
        """Milliseconds since 1970 UTC on the farm."""
        with self._lock:
            return self._now_ms

    def advance_to(self, now_ms: int) -> None:
        """Move on to this time; going back is an error, since alarms count on time going forward."""
        with self._lock:
            if now_ms < self._now_ms:
                raise ValueError(f"the clock is at {self._now_ms} ms and cannot go back to {now_ms} ms")
            self._now_ms = now_ms


def demo_environment(folder: Path) -> Mapping[str, str]:
    """Addresses of the demo's people, as the settings ask for them in the environment."""
    inbox = DemoPlan(folder).inbox.resolve()
    return {
        KEEPER_ADDRESS: f"folder://{inbox / 'keeper'}",
        NEIGHBOUR_ADDRESS: f"folder://{inbox / 'neighbour'}",
    }


def demo_settings(plan: DemoPlan, port: int, page_port: int | None = None) -> str:
    """The demo's `farm.toml`: broker and page on these ports, store and inbox in the plan's folder."""
    tables: PlainTables = saltbush_yard()
    tables["site"] |= {"title": SITE_TITLE}
    if plan.language != ENGLISH:
        tables["site"] |= {"language": plan.language}
    tables["store"] = {"path": str(plan.folder / "rearing.sqlite")}
    tables["broker"] = {"embedded": False, "host": LOOPBACK, "port": port}
    tables["recipients"] = [
        {"id": "keeper", "address_env": KEEPER_ADDRESS, "order": 1, "most_per_hour": 12},
        {
            "id": "neighbour",
            "address_env": NEIGHBOUR_ADDRESS,
            "order": 2,
            "priorities": ["high"],
            "night_report": False,
        },
    ]
    if page_port is not None:
        tables["page"] = {"enabled": True, "port": page_port}
    start = plan.start.isoformat(" ", "minutes")
    return render(tables, plan.words.t("demo.note", start=start, inbox=str(plan.inbox)))


def write_settings(plan: DemoPlan, port: int) -> Path:
    plan.folder.mkdir(parents=True, exist_ok=True)
    path = plan.folder / "farm.toml"
    page_port = free_port(PAGE_PORT) if plan.page else None
    path.write_text(demo_settings(plan, port, page_port), encoding="utf-8")
    return path


def publish_days(
    farm: SimulatedFarm,
    publish: Callable[[Publication], None],
    advance: Callable[[int], None],
    until_ms: int,
) -> None:
    """Play the farm until this time, minute by minute.

    Each minute first calls `advance`, which waits for the monitor and then moves the clock, and then
    publishes what the boards sent up to that time. So nothing arrives before it was measured.
    """
    for at_ms in range(farm.now_ms + MS_PER_MINUTE, until_ms + 1, MS_PER_MINUTE):
        advance(at_ms)
        for publication in farm.step(at_ms):
            publish(publication)
    advance(until_ms)


class DemoMonitor(Protocol):
    """What the demo needs of a monitor that runs."""

    def wait_idle(self, published: int) -> None:
        """Return when so many messages have been taken in since the start, and acted on."""

    def stop(self) -> None:
        """Stop in order."""


StartMonitor = Callable[[Settings, SimulatedClock, Callable[[object], None]], DemoMonitor]
"""Starts a monitor with these settings on this clock; each event goes to the callback."""

RecordActions = Callable[[Sequence[KeeperAction]], None]
"""Enters in the logbook what the keeper did to the bins."""


class ServiceMonitor:
    """The real service, with its page, as the demo drives it."""

    def __init__(self, settings: Settings, clock: SimulatedClock, on_event: Callable[[object], None]) -> None:
        path = settings.store.path.parent / "farm.toml"
        self._door = PageDoor(settings, path, invented=True)
        self._on_event = on_event
        self._service = Service(settings, settings_path=path, clock=clock, on_event=self._event, inline=True)
        self._service.start()
        self._service.subscriber.wait_connected(CONNECT_S)
        if settings.page.enabled:
            on_event(PageOpened(self._door.open(self._service, clock), self._door.first_password))

    def _event(self, event: object) -> None:
        self._on_event(event)
        self._door.note(event)

    def wait_idle(self, published: int) -> None:
        """Return when so many messages have been taken in and acted on."""
        self._service.settle(published)
        if self._service.failed is not None:
            raise UsageError("the monitor stopped: {reason}", reason=repr(self._service.failed))

    def stop(self) -> None:
        self._door.close()
        self._service.stop()


def play(plan: DemoPlan, console: Console) -> int:
    """Play the demo, its invented past included, to the real service; returns the messages published."""
    # The page reads the settings file again when a board is placed, and then needs the addresses too.
    os.environ.update(demo_environment(plan.folder))
    settings = load(write_settings(plan, ANY_PORT), demo_environment(plan.folder))
    if plan.past:
        write_history(settings, plan.start_ms, plan.seed)
    write_bins(settings, plan.start_ms, past=plan.past)
    # A connection of its own, beside that of the service.
    with Store.open(settings.store.path, check=False) as store:

        def mark(now_ms: int) -> None:
            store.meta.put(DEMO_CLOCK, str(now_ms))

        mark(plan.start_ms)
        board = RealBoard(plan.folder / "board")
        return run_demo(plan, ServiceMonitor, console, partial(record_actions, store), mark, board)


def run_demo(
    plan: DemoPlan,
    start_monitor: StartMonitor,
    console: Console,
    record: RecordActions = lambda _actions: None,
    mark: Callable[[int], None] = lambda _now_ms: None,
    board: RealBoard | None = None,
) -> int:
    """Play the invented farm through a real broker to a monitor; returns the messages published.

    `board` runs the real board program where that can be; it needs a monitor that answers boards.
    """
    clock = SimulatedClock(plan.start_ms)
    inbox = Inbox(plan.inbox)
    narrator = Narrator(console, plan.words, clock)
    narrator.opening(plan.days, plan.inbox)
    with _broker() as port:
        settings = load(write_settings(plan, port), demo_environment(plan.folder))
        monitor = start_monitor(settings, clock, narrator.event)
        try:
            if board is not None:
                board.start(settings.broker, settings.site.id, clock())
            published = _play(plan, settings.broker, clock, monitor, narrator, inbox, record, mark, board)
        finally:
            monitor.stop()
            if board is not None:
                board.stop()
    narrator.closing(published, inbox)
    return published


def _play(
    plan: DemoPlan,
    broker: BrokerSettings,
    clock: SimulatedClock,
    monitor: DemoMonitor,
    narrator: Narrator,
    inbox: Inbox,
    record: RecordActions,
    mark: Callable[[int], None],
    board: RealBoard | None,
) -> int:
    farm = SimulatedFarm(plan.seed, plan.start_ms, played=board)
    step_ms, marked_ms = MARK_MS, plan.start_ms
    with Publisher(broker, "saltbush-yard-boards") as publisher:

        def publish(publication: Publication) -> None:
            publisher.publish(publication.topic, publication.payload, publication.retain)

        def wait_idle() -> None:
            if board is not None:
                board.follow(lambda: monitor.wait_idle(publisher.published + board.published))
            monitor.wait_idle(all_published())

        def all_published() -> int:
            return publisher.published + (0 if board is None else board.published)

        def advance(now_ms: int) -> None:
            nonlocal marked_ms
            publisher.drain()
            record(farm.physics.take_actions())
            wait_idle()
            narrator.messages(inbox.fresh())
            narrator.news(farm.news(clock(), now_ms))
            clock.advance_to(now_ms)
            if now_ms - marked_ms >= step_ms or now_ms == plan.until_ms:
                mark(now_ms)
                marked_ms = now_ms

        publish_days(farm, publish, advance, plan.until_ms)
        if plan.stay:
            step_ms = MS_PER_MINUTE
            narrator.staying()
            _stay(farm, publish, advance, clock())
        return all_published()


def _stay(
    farm: SimulatedFarm,
    publish: Callable[[Publication], None],
    advance: Callable[[int], None],
    start_ms: int,
) -> None:
    began = time.monotonic()
    with suppress(KeyboardInterrupt):
        while True:
            time.sleep(REAL_TIME_STEP_S)
            now_ms = start_ms + round((time.monotonic() - began) * MS_PER_SECOND)
            for publication in farm.step(now_ms):
                publish(publication)
            advance(now_ms)


@contextmanager
def _broker() -> Iterator[int]:
    port = free_port()
    broker = EmbeddedBroker(LOOPBACK, port)
    broker.start()
    try:
        yield port
    finally:
        broker.stop()


def free_port(wanted: int = 0) -> int:
    """The wanted port of this computer if nothing uses it, else any free one."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((LOOPBACK, wanted))
        except OSError:
            return free_port()
        return int(probe.getsockname()[1])
