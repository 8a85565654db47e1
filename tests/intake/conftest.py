"""A listener that keeps what a subscriber delivers, and a small node that publishes."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from monitor.intake.subscriber import Subscriber
from monitor.records import IncomingMessage
from monitor.settings.schema import BrokerSettings

SITE = "saltbush-yard"
TOPIC = f"rearing/{SITE}/node-1/readings"
TIMEOUT_S = 10.0


class Listener:
    """A subscriber and what it delivered."""

    def __init__(self, port: int, **settings: object) -> None:
        self.inbox: queue.Queue[IncomingMessage] = queue.Queue()
        broker = BrokerSettings.model_validate({"host": "127.0.0.1", "port": port, **settings})
        self.subscriber = Subscriber(broker, SITE, (), self.inbox.put)

    def start(self) -> Listener:
        """Connect and wait for the subscription."""
        self.subscriber.start()
        self.subscriber.wait_connected(TIMEOUT_S)
        return self

    def take(self, count: int) -> list[IncomingMessage]:
        """The next messages."""
        return [self.inbox.get(timeout=TIMEOUT_S) for _ in range(count)]

    def nothing_comes(self, seconds: float = 0.3) -> bool:
        """True when no further message arrives for a while."""
        try:
            self.inbox.get(timeout=seconds)
        except queue.Empty:
            return True
        return False


class Board:
    """A node: publishes with QoS 1 and waits until the broker has confirmed."""

    def __init__(self, port: int, *, mqtt5: bool = False, username: str = "", password: str = "") -> None:
        protocol = MQTTProtocolVersion.MQTTv5 if mqtt5 else MQTTProtocolVersion.MQTTv311
        self.client = paho.Client(CallbackAPIVersion.VERSION2, protocol=protocol)
        if username:
            self.client.username_pw_set(username, password)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def publish(self, *payloads: str, topic: str = TOPIC, retain: bool = False, **properties: object) -> None:
        """Send each payload; `properties` by their paho names."""
        extra = None
        if properties:
            extra = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
            for name, value in properties.items():
                setattr(extra, name, value)
        for payload in payloads:
            info = self.client.publish(topic, payload, 1, retain, extra)
            info.wait_for_publish(TIMEOUT_S)
            assert info.is_published()

    def stop(self) -> None:
        """Disconnect."""
        self.client.disconnect()
        self.client.loop_stop()


def wait_until(condition: Callable[[], object], timeout_s: float = TIMEOUT_S) -> None:
    """Return when the condition holds; fail when it does not in time."""
    deadline = time.monotonic() + timeout_s
    while not condition():
        assert time.monotonic() < deadline, "did not happen in time"
        time.sleep(0.01)


@pytest.fixture
def listen() -> Iterator[Callable[..., Listener]]:
    """Makes listeners that are stopped at the end."""
    made: list[Listener] = []

    def make(port: int, **settings: object) -> Listener:
        made.append(Listener(port, **settings))
        return made[-1]

    yield make
    for listener in made:
        listener.subscriber.stop()


@pytest.fixture
def board() -> Iterator[Callable[..., Board]]:
    """Makes boards that are stopped at the end."""
    made: list[Board] = []

    def make(port: int, **options: object) -> Board:
        made.append(Board(port, **options))  # type: ignore[arg-type]
        return made[-1]

    yield make
    for one in made:
        one.stop()
