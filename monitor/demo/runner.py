"""The demo from start to end: broker, monitor, farm, narration, night report."""

from __future__ import annotations

import datetime
import socket
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

from rich.console import Console

from monitor.demo.clock import SimulatedClock
from monitor.demo.farm import SimulatedFarm
from monitor.demo.inbox import Inbox
from monitor.demo.layout import TIME_ZONE
from monitor.demo.narrator import Narrator
from monitor.demo.nature import Deed
from monitor.demo.publishing import MqttPublisher, publish_days
from monitor.demo.settings import demo_environment, demo_settings, inbox_folder
from monitor.intake.broker import EmbeddedBroker
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, MS_PER_SECOND
from monitor.settings.loading import load
from monitor.settings.schema import Settings

LOOPBACK = "127.0.0.1"
TURN_S = 0.5
PAGE_PORT = 8460
# A clear spring day: cold nights, hot afternoons. Seven in the morning, so that two nights end before 06:30.
DEFAULT_START = datetime.datetime(2026, 9, 22, 7, 0, tzinfo=ZoneInfo(TIME_ZONE))


@dataclass(frozen=True, slots=True)
class DemoPlan:
    """What to play: where files go, which farm, how long, and whether with weeks of invented past."""

    folder: Path
    seed: int = 7
    start: datetime.datetime = DEFAULT_START
    days: float = 2.0
    page: bool = False
    stay: bool = False
    past: bool = True

    @property
    def start_ms(self) -> int:
        """Start of simulated time."""
        return round(self.start.timestamp() * 1000)

    @property
    def until_ms(self) -> int:
        """End of simulated time."""
        return self.start_ms + round(self.days * MS_PER_DAY)


class DemoMonitor(Protocol):
    """What the demo needs of a monitor that runs."""

    def wait_idle(self, published: int) -> None:
        """Return when so many messages have been taken in since the start, and acted on."""

    def stop(self) -> None:
        """Stop in order."""


StartMonitor = Callable[[Settings, SimulatedClock, Callable[[object], None]], DemoMonitor]
"""Starts a monitor with these settings, on this clock, telling each event to the callback."""


KeepDiary = Callable[[Sequence[Deed]], None]
"""Writes down what the keeper did to the bins."""


def run_demo(
    plan: DemoPlan,
    start_monitor: StartMonitor,
    console: Console,
    keep_diary: KeepDiary = lambda _deeds: None,
) -> int:
    """Play the invented farm through a real broker to a monitor; returns the messages published."""
    clock = SimulatedClock(plan.start_ms)
    inbox = Inbox(inbox_folder(plan.folder))
    narrator = Narrator(console, clock)
    narrator.opening(plan.days, str(inbox_folder(plan.folder)))
    with _broker() as port:
        settings = load(write_settings(plan, port), demo_environment(plan.folder))
        monitor = start_monitor(settings, clock, narrator.event)
        try:
            published = _play(plan, port, clock, monitor, narrator, inbox, keep_diary)
        finally:
            monitor.stop()
    narrator.closing(published, inbox.count, str(inbox_folder(plan.folder)))
    return published


def write_settings(plan: DemoPlan, port: int) -> Path:
    """Write the demo's settings file into its folder."""
    plan.folder.mkdir(parents=True, exist_ok=True)
    path = plan.folder / "farm.toml"
    page_port = free_port(PAGE_PORT) if plan.page else None
    path.write_text(demo_settings(plan.folder, port, plan.start, page_port), encoding="utf-8")
    return path


def _play(
    plan: DemoPlan,
    port: int,
    clock: SimulatedClock,
    monitor: DemoMonitor,
    narrator: Narrator,
    inbox: Inbox,
    keep_diary: KeepDiary,
) -> int:
    """All turns: wait for the monitor, tell what came of it, move the clock, publish the next minute."""
    farm = SimulatedFarm(plan.seed, plan.start_ms)
    publisher = MqttPublisher(LOOPBACK, port)

    def advance(now_ms: int) -> None:
        publisher.drain()
        keep_diary(farm.nature.take_deeds())
        monitor.wait_idle(publisher.published)
        narrator.messages(inbox.fresh())
        narrator.news(farm.news(clock(), now_ms))
        clock.advance_to(now_ms)

    try:
        publish_days(farm, publisher.publish, advance, plan.until_ms)
        advance(plan.until_ms)
        if plan.stay:
            narrator.staying()
            _stay(farm, publisher, advance, clock)
    finally:
        publisher.close()
    return publisher.published


def _stay(
    farm: SimulatedFarm, publisher: MqttPublisher, advance: Callable[[int], None], clock: SimulatedClock
) -> None:
    """Go on in real time, second by second, until somebody stops it (Ctrl-C): for the page."""
    began, start_ms = time.monotonic(), clock()
    with suppress(KeyboardInterrupt):
        while True:
            time.sleep(TURN_S)
            now_ms = start_ms + round((time.monotonic() - began) * MS_PER_SECOND)
            while farm.now_ms + MS_PER_MINUTE <= now_ms:
                for publication in farm.step(farm.now_ms + MS_PER_MINUTE):
                    publisher.publish(publication)
            advance(now_ms)


@contextmanager
def _broker() -> Iterator[int]:
    """A broker on a free port of this computer."""
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
