"""From publishing a reading to handing its alarm to the channel.

Goal (DEVELOPERS.md, speed): 99 % of alarms under 1 s at 1,000 nodes with one message each 10 s.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np
import paho.mqtt.client as mqtt
import pytest
from outside_publisher import pack
from paho.mqtt.enums import CallbackAPIVersion
from service_farm import wide_farm

from monitor.records import MessageKind
from monitor.service import Service

NODES = 1000
INTERVAL_S = 10.0
RUN_S = 30.0
ALARMS_PER_S = 2


def publisher(port: int) -> mqtt.Client:
    """A connected client."""
    client = mqtt.Client(CallbackAPIVersion.VERSION2, "boards")
    client.max_inflight_messages_set(1000)
    client.connect("127.0.0.1", port)
    client.loop_start()
    return client


@pytest.mark.benchmark
@pytest.mark.mosquitto
def test_delay_from_reading_to_message(
    tmp_path: Path, mosquitto_broker: Any, benchmark: Any, figure: Any
) -> None:
    port = mosquitto_broker.port
    service = Service(wide_farm(tmp_path, port, NODES, INTERVAL_S))
    service.start()
    service.subscriber.wait_connected(10)
    client = publisher(port)
    hot: dict[str, float] = {}

    def run() -> None:
        start, sent = time.monotonic(), 0
        while time.monotonic() - start < RUN_S:
            node = sent % NODES
            is_hot = sent % (int(NODES / INTERVAL_S) // ALARMS_PER_S) == 0 and f"bin-{node}" not in hot
            payload = pack(47.0 if is_hot else 28.0, time.time(), sent // NODES)
            client.publish(f"rearing/yard/n{node}/readings", payload, 1)
            if is_hot:
                hot[f"bin-{node}"] = time.time()
            sent += 1
            wait = start + sent * INTERVAL_S / NODES - time.monotonic()
            if wait > 0:
                time.sleep(wait)
        time.sleep(3)

    benchmark.pedantic(run, rounds=1)
    delays = [
        message.sent_ms / 1000 - hot[(message.alarm_id or "").split("/")[0]]
        for message in service.store.outbox.since(0)
        if message.kind is MessageKind.ALARM and message.sent_ms and "/high/high" in str(message.alarm_id)
    ]
    service.stop()
    assert len(delays) == len(hot)
    median_s, most_s = np.percentile(delays, [50, 99])
    figure("reading to message, median", float(median_s), "s")
    figure("reading to message, 99 %", float(most_s), "s", at_most=1.0)
