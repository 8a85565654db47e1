"""A long absence: thousands of messages wait in the broker and come at once; each is stored once."""

from __future__ import annotations

import time
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from service_farm import NODES, farm, pack, wait_until

from monitor.service import Service

WAITING = 8000


def stored(service: Service) -> int:
    """Messages of all boards that the store knows."""
    return sum(facts.messages for facts in service.store.nodes.every())


@pytest.mark.mosquitto
def test_a_backlog_larger_than_the_queue_is_taken_in_without_a_second_connection(
    tmp_path: Path, mosquitto_broker: object
) -> None:
    port = int(mosquitto_broker.port)  # type: ignore[attr-defined]
    first = Service(farm(tmp_path, port))
    first.start()
    first.subscriber.wait_connected(10)
    first.stop()
    client = mqtt.Client(CallbackAPIVersion.VERSION2, "boards")
    client.max_inflight_messages_set(1000)
    client.connect("127.0.0.1", port)
    client.loop_start()
    start_ms = time.time_ns() // 1_000_000 - WAITING * 100
    for number in range(WAITING):
        topic = f"rearing/yard/{NODES[number % 5]}/readings"
        sent = client.publish(topic, pack(start_ms + number * 100, 28.0, number // 5), 1)
    sent.wait_for_publish(60)
    client.disconnect()
    client.loop_stop()
    second = Service(farm(tmp_path, port))
    second.start()
    assert wait_until(lambda: stored(second) == WAITING, 60.0)
    assert wait_until(lambda: second.processor.taken >= WAITING)
    assert second.processor.taken == WAITING, "none came twice"
    second.stop()
