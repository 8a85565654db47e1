"""The demo from start to end: broker, monitor, farm, narration, night report.

A clock that stands still until somebody moves it, and never runs backwards.

The settings file of the demo: the example farm, with messages that go into a folder.

From the simulated farm to a real broker, one simulated minute after the other.
"""

from __future__ import annotations

import datetime
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from rich.console import Console

from monitor.demo.farm import Publication, SimulatedFarm
from monitor.demo.narrator import Inbox, Narrator
from monitor.demo.nature import Deed
from monitor.demo.script import SITE_TITLE, TIME_ZONE
from monitor.errors import BrokerUnreachable, UsageError
from monitor.intake.broker import EmbeddedBroker
from monitor.intake.subscriber import confirm_at_once
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, MS_PER_SECOND
from monitor.settings.loading import load
from monitor.settings.schema import Settings
from monitor.settings.template import PlainTables, render, saltbush_yard


class SimulatedClock:
    """The time on the invented farm. Call it, or `now_ms`, wherever a clock is asked for."""

    def __init__(self, start_ms: int) -> None:
        self._now_ms = start_ms
        self._lock = threading.Lock()

    def __call__(self) -> int:
        """Milliseconds since 1970 UTC on the farm."""
        return self.now_ms()

    def now_ms(self) -> int:
        """Milliseconds since 1970 UTC on the farm."""
        with self._lock:
            return self._now_ms

    def advance_to(self, now_ms: int) -> None:
        """Move on to this time; going back is an error, since alarms count on time going forward."""
        with self._lock:
            if now_ms < self._now_ms:
                raise UsageError(
                    f"the simulated clock is at {self._now_ms} ms and cannot go back to {now_ms} ms"
                )
            self._now_ms = now_ms


KEEPER_ADDRESS, NEIGHBOUR_ADDRESS = "REARING_DEMO_KEEPER", "REARING_DEMO_NEIGHBOUR"

_NOTE = """\
Settings of the demo. Saltbush Yard, its boards and its people are invented; so is every reading.
Simulated time starts at {start}. Messages go into the folder {inbox}.
"""


def inbox_folder(folder: Path) -> Path:
    """Where the demo's messages are put, one folder for each person."""
    return folder / "inbox"


def demo_environment(folder: Path) -> Mapping[str, str]:
    """Addresses of the demo's people, as the settings ask for them in the environment."""
    inbox = inbox_folder(folder).resolve()
    return {
        KEEPER_ADDRESS: f"folder://{inbox / 'keeper'}",
        NEIGHBOUR_ADDRESS: f"folder://{inbox / 'neighbour'}",
    }


def demo_settings(folder: Path, port: int, start: datetime.datetime, page_port: int | None = None) -> str:
    """The demo's `farm.toml`: broker and page on these ports, store and inbox in this folder."""
    tables: PlainTables = saltbush_yard()
    tables["site"] = tables["site"] | {"title": SITE_TITLE}
    tables["store"] = {"path": str(folder / "rearing.sqlite")}
    tables["broker"] = {"embedded": False, "host": "127.0.0.1", "port": port}
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
    note = _NOTE.format(start=start.isoformat(" ", "minutes"), inbox=inbox_folder(folder))
    return render(tables, note)


DELIVERY_TIMEOUT_S = 20.0


def publish_days(
    farm: SimulatedFarm,
    publish: Callable[[Publication], None],
    advance: Callable[[int], None],
    until_ms: int,
    turn_ms: int = MS_PER_MINUTE,
) -> int:
    """Play the farm until this time and return how many messages were published.

    Each turn first calls `advance`, which waits for whoever listens and then moves the clock, and then
    publishes what the boards sent up to that time. So nothing arrives before it was measured.
    """
    published = 0
    for at_ms in range(farm.now_ms + turn_ms, until_ms + 1, turn_ms):
        advance(at_ms)
        for publication in farm.step(at_ms):
            publish(publication)
            published += 1
    advance(until_ms)
    return published


class MqttPublisher:
    """One client that publishes for all boards of the invented farm, QoS 1."""

    def __init__(self, host: str, port: int) -> None:
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="saltbush-yard-boards")
        self._client.max_inflight_messages_set(200)
        self._client.on_publish = lambda client, *_: confirm_at_once(client)
        self._waiting: list[mqtt.MQTTMessageInfo] = []
        self._where = f"{host}:{port}"
        self.published = 0
        try:
            self._client.connect(host, port)
        except OSError as error:
            raise BrokerUnreachable(f"no broker answers at {self._where}: {error}") from error
        self._client.loop_start()

    def publish(self, publication: Publication) -> None:
        """Hand one message to the broker without waiting for its answer."""
        info = self._client.publish(publication.topic, publication.payload, qos=1, retain=publication.retain)
        self._waiting.append(info)
        self.published += 1

    def drain(self) -> None:
        """Wait until the broker has acknowledged everything."""
        for info in self._waiting:
            info.wait_for_publish(DELIVERY_TIMEOUT_S)
            if not info.is_published():
                raise BrokerUnreachable(
                    f"the broker at {self._where} does not acknowledge the demo's messages"
                )
        self._waiting.clear()

    def close(self) -> None:
        """Leave the broker in order."""
        self._client.disconnect()
        self._client.loop_stop()


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
