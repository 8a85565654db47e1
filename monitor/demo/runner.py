"""The demo from start to end: broker, monitor, farm, narration, night report."""

from __future__ import annotations

import datetime
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

from rich.console import Console

from monitor.demo.clock import SimulatedClock
from monitor.demo.farm import SimulatedFarm
from monitor.demo.layout import TIME_ZONE
from monitor.demo.narrator import Narrator
from monitor.demo.publishing import MqttPublisher, publish_days
from monitor.demo.settings import demo_environment, demo_settings, inbox_folder
from monitor.intake.broker import EmbeddedBroker
from monitor.records import MS_PER_DAY
from monitor.settings.loading import load
from monitor.settings.schema import Settings

LOOPBACK = "127.0.0.1"
# A clear spring day: cold nights, hot afternoons. Seven in the morning, so that two nights end before 06:30.
DEFAULT_START = datetime.datetime(2026, 9, 22, 7, 0, tzinfo=ZoneInfo(TIME_ZONE))


@dataclass(frozen=True, slots=True)
class DemoPlan:
    """What to play: where files go, which farm, how long."""

    folder: Path
    seed: int = 7
    start: datetime.datetime = DEFAULT_START
    days: float = 2.0

    @property
    def start_ms(self) -> int:
        """Start of simulated time."""
        return round(self.start.timestamp() * 1000)

    @property
    def until_ms(self) -> int:
        """End of simulated time."""
        return self.start_ms + round(self.days * MS_PER_DAY)


class DemoMonitor(Protocol):
    """What the demo needs of the running monitor."""

    def wait_idle(self) -> None:
        """Return when everything published so far has been taken in and acted on."""

    def night_text(self) -> str:
        """The last night report."""

    def stop(self) -> None:
        """Stop in order."""


StartMonitor = Callable[[Settings, SimulatedClock, Callable[[object], None]], DemoMonitor]
"""Starts the monitor with these settings, on this clock, telling each event to the callback."""


def run_demo(plan: DemoPlan, start_monitor: StartMonitor, console: Console) -> int:
    """Play the invented farm through a real broker and a real monitor; returns the messages published."""
    clock = SimulatedClock(plan.start_ms)
    farm = SimulatedFarm(plan.seed, plan.start_ms)
    narrator = Narrator(console)
    inbox = str(inbox_folder(plan.folder))
    narrator.opening(plan.start_ms, plan.days, inbox)
    with _broker() as port:
        settings = load(write_settings(plan, port), demo_environment(plan.folder))
        monitor = start_monitor(settings, clock, narrator.event)
        try:
            published = _play(plan, farm, port, clock, monitor, narrator)
            narrator.closing(monitor.night_text(), published, inbox)
        finally:
            monitor.stop()
    return published


def write_settings(plan: DemoPlan, port: int) -> Path:
    """Write the demo's settings file into its folder."""
    plan.folder.mkdir(parents=True, exist_ok=True)
    path = plan.folder / "farm.toml"
    path.write_text(demo_settings(plan.folder, port, plan.start), encoding="utf-8")
    return path


def _play(
    plan: DemoPlan,
    farm: SimulatedFarm,
    port: int,
    clock: SimulatedClock,
    monitor: DemoMonitor,
    narrator: Narrator,
) -> int:
    publisher = MqttPublisher(LOOPBACK, port)

    def advance(now_ms: int) -> None:
        publisher.drain()
        monitor.wait_idle()
        narrator.news(farm.news(clock(), now_ms))
        clock.advance_to(now_ms)

    try:
        return publish_days(farm, publisher.publish, advance, plan.until_ms)
    finally:
        publisher.close()


@contextmanager
def _broker() -> Iterator[int]:
    """A broker on a free port of this computer."""
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        port = int(probe.getsockname()[1])
    broker = EmbeddedBroker(LOOPBACK, port)
    broker.start()
    try:
        yield port
    finally:
        broker.stop()
