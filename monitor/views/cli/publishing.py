"""A short connection to the broker that publishes and waits until the broker has taken everything."""

from __future__ import annotations

import time
from types import TracebackType
from typing import Any, Self

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from monitor.errors import BrokerRefused, BrokerUnreachable
from monitor.intake import connection
from monitor.settings.schema import BrokerSettings

CONNECT_S = DELIVERY_S = 15.0


class Publisher:
    """Use it with `with`: it connects at the beginning, and has delivered all at the end."""

    def __init__(self, broker: BrokerSettings, client_id: str) -> None:
        self._broker = broker
        self._client = paho.Client(CallbackAPIVersion.VERSION2, client_id)
        self._reason: ReasonCode | None = None
        self._waiting: list[paho.MQTTMessageInfo] = []

    def __enter__(self) -> Self:
        broker, client = self._broker, self._client
        if broker.username is not None:
            password = broker.password.get_secret_value() if broker.password else None
            client.username_pw_set(broker.username, password)
        client.on_connect = self._on_connect
        try:
            if broker.tls:
                files = (broker.ca_file, broker.client_certificate, broker.client_key)
                authority, certificate, key = (str(file) if file else None for file in files)
                client.tls_set(authority, certificate, key)
            client.connect(broker.host, broker.port)
        except (OSError, ValueError) as error:
            raise BrokerUnreachable(connection.unreachable(broker.host, broker.port, error)) from None
        client.loop_start()
        try:
            self._wait_for_answer()
        except BaseException:
            client.loop_stop()
            raise
        return self

    def _on_connect(
        self, _client: Any, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any
    ) -> None:
        self._reason = reason

    def _wait_for_answer(self) -> None:
        until = time.monotonic() + CONNECT_S
        while self._reason is None:
            if time.monotonic() > until:
                where = f"{self._broker.host}:{self._broker.port}"
                has_password = self._broker.password is not None
                raise BrokerRefused(
                    connection.closed_early(where, has_password=has_password, tls=self._broker.tls)
                )
            time.sleep(0.02)
        if self._reason.is_failure:
            raise BrokerRefused(connection.refusal(self._reason.getName()))

    def publish(self, topic: str, payload: bytes) -> None:
        """Hand one message to the broker without waiting for its answer."""
        self._waiting.append(self._client.publish(topic, payload, qos=1))

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                self._drain()
        finally:
            self._client.disconnect()
            self._client.loop_stop()

    def _drain(self) -> None:
        until = time.monotonic() + DELIVERY_S
        for sent in self._waiting:
            sent.wait_for_publish(max(0.0, until - time.monotonic()))
            if not sent.is_published():
                raise BrokerUnreachable(
                    "the broker does not acknowledge the messages; not all of them arrived"
                )
