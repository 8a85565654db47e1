"""From the simulated farm to a real broker, one simulated minute after the other."""

from __future__ import annotations

from collections.abc import Callable

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from monitor.demo.farm import Publication, SimulatedFarm
from monitor.errors import BrokerUnreachable
from monitor.intake.receiving import confirm_at_once
from monitor.records import MS_PER_MINUTE

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
