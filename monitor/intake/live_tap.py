"""A second, forgetful connection to the broker: what comes in now, while nothing can be acknowledged.

While the database refuses, readings stay unacknowledged in the broker, and a broker sends only so many before
it waits for our answer. Through the tap the newest ones still reach the alarms. It has QoS 0 and a clean
session, so it takes nothing out of the lasting session.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.reasoncodes import ReasonCode

from monitor.records import IncomingMessage

log = logging.getLogger(__name__)

LONGEST_DELAY_S = 30


class LiveTap:
    """`client` is new, secured, and not connected; `read` makes a record of a message."""

    def __init__(
        self,
        client: paho.Client,
        address: tuple[str, int],
        filters: tuple[str, ...],
        read: Callable[[paho.MQTTMessage], IncomingMessage],
        deliver: Callable[[IncomingMessage], None],
    ) -> None:
        self._client, self._address, self._filters = client, address, filters
        self._read, self._deliver = read, deliver

    def open(self) -> None:
        """Begin to listen, and keep trying; returns at once."""
        client = self._client
        client.on_connect, client.on_message = self._on_connect, self._on_message
        client.reconnect_delay_set(1, LONGEST_DELAY_S)
        client.connect_async(*self._address)
        client.loop_start()

    def close(self) -> None:
        """Listen no more."""
        self._client.disconnect()
        self._client.loop_stop()

    def _on_connect(
        self, client: paho.Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any
    ) -> None:
        if not reason.is_failure:
            client.subscribe([(topic, 0) for topic in self._filters])

    def _on_message(self, _client: paho.Client, _data: Any, message: paho.MQTTMessage) -> None:
        # No exception may leave a callback: it would end the thread of the library.
        try:
            self._deliver(self._read(message))
        except Exception:
            log.warning("a message on the live connection was dropped", exc_info=True)
