"""The farm through a fake and through a real broker on this computer."""

import datetime
import io
import threading
import time
from collections.abc import Callable
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from rich.console import Console

from monitor.demo.clock import SimulatedClock
from monitor.demo.events import News
from monitor.demo.farm import Publication, SimulatedFarm
from monitor.demo.narrator import Narrator
from monitor.demo.publishing import MqttPublisher, publish_days
from monitor.demo.runner import DemoPlan, run_demo
from monitor.errors import BrokerUnreachable, UsageError
from monitor.intake.broker import EmbeddedBroker
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, AlarmEvent, AlarmStatus, Priority, Transition
from monitor.settings.schema import Settings

START_MS = round(datetime.datetime(2026, 9, 22, 5, 0, tzinfo=datetime.UTC).timestamp() * 1000)


class Listener:
    """A subscriber to everything, that can be waited for."""

    def __init__(self, port: int) -> None:
        self.heard: list[tuple[str, bytes]] = []
        self._ready = threading.Event()
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="listener")
        self._client.on_connect = lambda client, *_: client.subscribe("rearing/#", 1)
        self._client.on_subscribe = lambda *_: self._ready.set()
        self._client.on_message = lambda _c, _u, message: self.heard.append((message.topic, message.payload))
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        assert self._ready.wait(10)

    def wait_for(self, count: int) -> None:
        deadline = time.monotonic() + 20
        while len(self.heard) < count and time.monotonic() < deadline:
            time.sleep(0.01)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


def test_the_clock_moves_before_anything_of_that_minute_is_published() -> None:
    clock, seen = SimulatedClock(START_MS), []
    farm = SimulatedFarm(7, START_MS)

    def publish(publication: Publication) -> None:
        seen.append((publication.at_ms, clock()))

    count = publish_days(farm, publish, clock.advance_to, START_MS + 2 * MS_PER_HOUR)
    assert count == len(seen) > 1600
    assert all(measured <= now < measured + 2 * MS_PER_MINUTE for measured, now in seen)
    assert clock() == START_MS + 2 * MS_PER_HOUR


def test_the_clock_never_goes_back() -> None:
    clock = SimulatedClock(START_MS)
    with pytest.raises(UsageError, match="cannot go back"):
        clock.advance_to(START_MS - 1)
    assert clock() == clock.now_ms() == START_MS


def test_a_real_broker_delivers_every_message_in_order(embedded_broker: EmbeddedBroker) -> None:
    listener = Listener(embedded_broker.port)
    publisher = MqttPublisher("127.0.0.1", embedded_broker.port)
    expected = SimulatedFarm(7, START_MS).step(START_MS + MS_PER_HOUR)
    try:
        count = publish_days(
            SimulatedFarm(7, START_MS), publisher.publish, lambda _: publisher.drain(), START_MS + MS_PER_HOUR
        )
        publisher.drain()
        listener.wait_for(count)
    finally:
        publisher.close()
        listener.close()
    assert sorted(listener.heard) == sorted((each.topic, each.payload) for each in expected)
    board = "rearing/saltbush-yard/node-08/readings"
    assert [heard for heard in listener.heard if heard[0] == board] == [
        (each.topic, each.payload) for each in expected if each.topic == board
    ]


def test_no_broker_is_said_in_words(free_port: int) -> None:
    with pytest.raises(BrokerUnreachable, match=f"no broker answers at 127.0.0.1:{free_port}"):
        MqttPublisher("127.0.0.1", free_port)


class FakeMonitor:
    """Stands for the service: hears the broker, and is idle when it has heard all that was sent."""

    def __init__(self, settings: Settings, clock: SimulatedClock, on_event: Callable[[object], None]) -> None:
        self.settings, self.clock, self.on_event = settings, clock, on_event
        self.stopped = False
        on_event("the monitor has started")

    def wait_idle(self, published: int) -> None:  # noqa: ARG002
        """Nothing to wait for."""

    def night_text(self) -> str:
        """An invented report."""
        return "Night report of an invented farm"

    def stop(self) -> None:
        """Remember it."""
        self.stopped = True


def test_the_whole_demo_with_a_stand_in_for_the_monitor(tmp_path: Path) -> None:
    made: list[FakeMonitor] = []

    def start(settings: Settings, clock: SimulatedClock, on_event: Callable[[object], None]) -> FakeMonitor:
        made.append(FakeMonitor(settings, clock, on_event))
        return made[0]

    screen = io.StringIO()
    plan = DemoPlan(tmp_path / "demo", days=0.125)
    published = run_demo(plan, start, Console(file=screen, width=200))
    text = screen.getvalue()
    assert published > 2500
    assert made[0].stopped
    assert made[0].clock() == plan.until_ms
    assert len(made[0].settings.nodes) == 14
    assert "invented" in text
    assert "Nobody wets the pad of hatching tray 3" in text
    assert "A board that is not in the settings starts to send." in text
    assert "the monitor has started" in text
    assert "Night report of an invented farm" in text


def test_the_monitor_is_stopped_even_when_it_fails(tmp_path: Path) -> None:
    class Failing(FakeMonitor):
        def wait_idle(self, published: int) -> None:  # noqa: ARG002
            raise BrokerUnreachable("the broker has gone")

    made: list[FakeMonitor] = []

    def start(settings: Settings, clock: SimulatedClock, on_event: Callable[[object], None]) -> FakeMonitor:
        made.append(Failing(settings, clock, on_event))
        return made[0]

    with pytest.raises(BrokerUnreachable, match="has gone"):
        run_demo(DemoPlan(tmp_path, days=0.05), start, Console(file=io.StringIO()))
    assert made[0].stopped


def test_the_narration_gives_farm_time_and_plain_words() -> None:
    screen = io.StringIO()
    narrator = Narrator(Console(file=screen, width=160))
    narrator.news([News(START_MS, "A lid is left open.")])
    narrator.event(
        Transition(
            alarm_id="bin-4/substrate_temperature/high/high",
            place="bin-4",
            quantity="substrate_temperature",
            priority=Priority.HIGH,
            event=AlarmEvent.ACTIVATE,
            before=AlarmStatus.NORMAL,
            after=AlarmStatus.UNACKNOWLEDGED,
            at_ms=START_MS + 60_000,
            processed_ms=START_MS + 60_000,
            value=42.1,
        )
    )
    lines = screen.getvalue().splitlines()
    assert lines[0].split() == ["Tue", "07:00", "farm", "A", "lid", "is", "left", "open."]
    assert "Tue 07:01" in lines[1]
    assert "bin-4 substrate temperature at 42.1: unacknowledged (high)" in lines[1]
