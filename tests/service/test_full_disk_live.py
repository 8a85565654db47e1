"""While the database refuses, the broker sends only so much unacknowledged; alarms see the present anyway."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from service_farm import farm, pack, wait_until

from monitor.errors import StoreFull
from monitor.records import Batch, CommitResult, SensorKey
from monitor.service import Service, system_clock_ms

FEW = 20
HOT = "bin-1/substrate_temperature/high/high"
AT_ONCE = [{"place": "bin-1", "quantity": "substrate_temperature", "side": "high", "priority": "high"}]


@pytest.mark.mosquitto
@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_alarms_go_on_behind_a_full_window_and_nothing_is_lost(
    tmp_path: Path, make_mosquitto: Callable[..., Any], monkeypatch: pytest.MonkeyPatch, protocol: str
) -> None:
    broker = make_mosquitto(f"max_inflight_messages {FEW}")
    rules = [{**AT_ONCE[0], "on_delay_minutes": 0}]
    settings = farm(tmp_path, broker.port, rules=rules, broker={"port": broker.port, "protocol": protocol})
    service = Service(settings)
    service.start()
    try:
        service.subscriber.wait_connected(10)
        boards = mqtt.Client(CallbackAPIVersion.VERSION2, "boards", protocol=mqtt.MQTTv311)
        boards.connect("127.0.0.1", broker.port)
        boards.loop_start()
        commit, now_ms = service.store.commit, system_clock_ms()

        def full(_batch: Batch) -> CommitResult:
            raise StoreFull("the disk is full")

        def send(sequence: int, temperature_c: float) -> None:
            payload = pack(now_ms + sequence, temperature_c, sequence)
            boards.publish("rearing/yard/node-1/readings", payload, 1).wait_for_publish(10)

        monkeypatch.setattr(service.store, "commit", full)
        for sequence in range(1, 3 * FEW):
            send(sequence, 30.0)
        assert wait_until(lambda: service.processor.committer.fault is not None)
        send(100, 47.5)
        assert wait_until(lambda: _is_told(service))
        monkeypatch.setattr(service.store, "commit", commit)
        sensor = SensorKey("node-1", "", "substrate_temperature")
        expected = [now_ms + sequence for sequence in (*range(1, 3 * FEW), 100)]
        assert wait_until(lambda: _times(service, sensor) == expected), _times(service, sensor)
        boards.disconnect()
        boards.loop_stop()
    finally:
        service.stop()


def _is_told(service: Service) -> bool:
    inbox = Path(service.settings.recipients[0].address.get_secret_value().removeprefix("folder://"))
    return any("47.5" in path.name or "47.5" in path.read_text() for path in inbox.glob("*.txt"))


def _times(service: Service, sensor: SensorKey) -> list[int]:
    found: list[int] = service.store.readings.series(sensor, 0, 2**50).at_ms.tolist()
    return found
