"""The farm through a fake and through a real broker on this computer."""

import datetime
import threading
import time

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.demo.farm import Publication, SimulatedFarm
from monitor.demo.runner import SimulatedClock, publish_days
from monitor.errors import BrokerUnreachable
from monitor.intake.broker import EmbeddedBroker
from monitor.intake.connection import Publisher
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE
from monitor.settings.schema import BrokerSettings

START_MS = round(datetime.datetime(2026, 9, 22, 5, 0, tzinfo=datetime.UTC).timestamp() * 1000)


class Listener:
    """A subscriber to everything, that can be waited for."""

    def __init__(self, port: int) -> None:
        self.heard: list[tuple[str, bytes]] = []
        self._ready = threading.Event()
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="listener")
        self._client.on_connect = lambda client, *_: client.subscribe("rearing/#", 1)
        self._client.on_subscribe = lambda *_: self._ready.set()
        self._client.on_message = lambda _c, _u, message: self.heard.append(
            (message.topic, bytes(message.payload))
        )
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

    publish_days(farm, publish, clock.advance_to, START_MS + 2 * MS_PER_HOUR)
    assert len(seen) > 1600
    assert all(measured <= now < measured + 2 * MS_PER_MINUTE for measured, now in seen)
    assert clock() == START_MS + 2 * MS_PER_HOUR


def test_the_clock_never_goes_back() -> None:
    clock = SimulatedClock(START_MS)
    with pytest.raises(ValueError, match="cannot go back"):
        clock.advance_to(START_MS - 1)
    assert clock() == START_MS


def test_a_real_broker_delivers_every_message_in_order(embedded_broker: EmbeddedBroker) -> None:
    listener = Listener(embedded_broker.port)
    expected = SimulatedFarm(7, START_MS).step(START_MS + MS_PER_HOUR)
    try:
        with Publisher(BrokerSettings(port=embedded_broker.port), "boards") as publisher:
            publish_days(
                SimulatedFarm(7, START_MS),
                lambda message: publisher.publish(message.topic, message.payload, message.retain),
                lambda _: publisher.drain(),
                START_MS + MS_PER_HOUR,
            )
        listener.wait_for(publisher.published)
    finally:
        listener.close()
    assert sorted(listener.heard) == sorted((each.topic, each.payload) for each in expected)
    board = "rearing/saltbush-yard/node-08/readings"
    assert [heard for heard in listener.heard if heard[0] == board] == [
        (each.topic, each.payload) for each in expected if each.topic == board
    ]


def test_no_broker_is_said_in_words(free_port: int) -> None:
    broker = BrokerSettings(host="127.0.0.1", port=free_port)
    with pytest.raises(BrokerUnreachable, match=f"127.0.0.1.*{free_port}"), Publisher(broker, "boards"):
        pass
