"""What every connection to the broker needs: TLS, words for what went wrong, delays, age in the queue.

`Publisher` is a short connection that publishes and waits until the broker has taken everything.
"""

from __future__ import annotations

import contextlib
import socket
import ssl
import time
from collections.abc import Iterable
from types import TracebackType
from typing import Any, Self

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from monitor.errors import BrokerRefused, BrokerUnreachable, IntakeError, Sentence, sentence
from monitor.settings.schema import BrokerSettings

EXPIRY_S = 604_800
"""Message Expiry Interval that an MQTT 5 node sets on each message (firmware notes), unless it says another
one in the user property `expiry`."""
SHORTEST_DELAY_S, LONGEST_DELAY_S = 1.0, 60.0
STEADY_S = 30.0
"""A connection that lived that long was a good one: the next delay starts small again."""

CONNECT_S = DELIVERY_S = 15.0
MOST_IN_FLIGHT = 200
_NO_PASSWORD = sentence("the broker refused the user name or password")
_REFUSALS = {
    "Not authorized": _NO_PASSWORD,
    "Bad user name or password": _NO_PASSWORD,
    "Unsupported protocol version": sentence(
        'the broker does not speak this version of MQTT; try [broker] protocol = "3.1.1"'
    ),
    "Client identifier not valid": sentence(
        "the broker refused the client id; choose another [broker] client_id"
    ),
    "Banned": sentence("the broker has banned this client"),
    "Server unavailable": sentence("the broker says that it is not available now"),
    "Server busy": sentence("the broker says that it is busy"),
}
TAKEN_OVER = sentence("another program uses the same client id; give each its own [broker] client_id")


def refusal(reason: str) -> Sentence:
    return _REFUSALS.get(reason) or sentence("the broker refused the connection: {reason}", reason=reason)


def unreachable(host: str, port: int, error: BaseException) -> Sentence:
    where = f"{host}:{port}"
    if isinstance(error, ssl.SSLCertVerificationError):
        return sentence(
            "the broker's certificate at {where} is not trusted: {error}; see [broker] ca_file",
            where=where,
            error=error.verify_message,
        )
    if isinstance(error, ssl.SSLError):
        return sentence(
            "no TLS connection to {where}: {error}; is this the broker's TLS port?", where=where, error=error
        )
    return sentence(
        "nothing answers at {where}: {error}; is the broker running, and are host and port right?",
        where=where,
        error=error,
    )


def lost(reason: str) -> Sentence:
    if reason == "Unspecified error":
        return sentence("the connection to the broker was lost")
    return sentence("the connection to the broker was lost: {reason}", reason=reason)


def closed_early(broker: BrokerSettings) -> Sentence:
    return sentence(
        "the broker at {where} hung up without an answer; "
        "perhaps: {password}, it speaks another version of MQTT, {tls}",
        where=f"{broker.host}:{broker.port}",
        password=sentence("wrong or missing user name or password")
        if broker.password is not None
        else sentence("it wants a user name and password"),
        tls=sentence("it does not speak TLS") if broker.tls else sentence("the port wants TLS"),
    )


def delay_s(failures: int, chance: float) -> float:
    """Growing delay before the next attempt, spread by `chance` (0..1) lest clients come in step."""
    longest = min(LONGEST_DELAY_S, SHORTEST_DELAY_S * 2.0 ** min(failures, 10))
    return longest * (0.5 + 0.5 * chance)


def age_s(remaining_s: int | None, user_properties: Iterable[tuple[str, str]] | None) -> float | None:
    """Time that a message waited in the broker, from the expiry that is left; None where it cannot be known.

    The broker counts in whole seconds: one second is no more than rounding.
    """
    if remaining_s is None:
        return None
    waited = _original_expiry(user_properties) - remaining_s
    return None if waited < 0 else float(waited) if waited > 1 else 0.0


def _original_expiry(user_properties: Iterable[tuple[str, str]] | None) -> int:
    for name, value in user_properties or ():
        if name == "expiry" and value.isascii() and value.isdecimal() and len(value) < 11:
            return int(value)
    return EXPIRY_S


class _ClosingSocket(ssl.SSLSocket):
    """Closes itself when the handshake fails; paho leaves that to the garbage collector."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


def tls_context(broker: BrokerSettings) -> ssl.SSLContext:
    """TLS as the settings want it; IntakeError names a bad file."""
    try:
        context = ssl.create_default_context(cafile=str(broker.ca_file) if broker.ca_file else None)
    except (OSError, ssl.SSLError) as error:
        raise IntakeError(
            "[broker] ca_file {file} cannot be used: {error}", file=broker.ca_file, error=error
        ) from error
    context.sslsocket_class = _ClosingSocket
    if broker.client_certificate is not None:
        try:
            context.load_cert_chain(broker.client_certificate, broker.client_key)
        except (OSError, ssl.SSLError) as error:
            raise IntakeError(
                "[broker] client_certificate {certificate} and client_key {key} cannot be used: {error}",
                certificate=broker.client_certificate,
                key=broker.client_key,
                error=error,
            ) from error
    return context


def secure(client: paho.Client, broker: BrokerSettings) -> None:
    """Give a client user name, password and TLS as the settings want; IntakeError names a bad file."""
    if broker.username is not None:
        password = broker.password.get_secret_value() if broker.password else None
        client.username_pw_set(broker.username, password)
    if broker.tls:
        client.tls_set_context(tls_context(broker))


def confirm_at_once(client: paho.Client) -> None:
    """Confirm on the level of TCP what was just received.

    A broker that writes in small pieces otherwise waits up to 40 ms for our delayed confirmation before the
    next piece; the option holds for a moment only, so it is set with each message.
    """
    opened: Any = client.socket()
    if opened is not None and hasattr(socket, "TCP_QUICKACK"):
        with contextlib.suppress(OSError):
            opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)


class Publisher:
    """Use it with `with`: it connects at the beginning, and has delivered all at the end."""

    def __init__(self, broker: BrokerSettings, client_id: str) -> None:
        self._broker = broker
        self._client = paho.Client(CallbackAPIVersion.VERSION2, client_id)
        self._reason: ReasonCode | None = None
        self._client.max_inflight_messages_set(MOST_IN_FLIGHT)
        self._client.on_publish = lambda client, *_: confirm_at_once(client)
        self._waiting: list[paho.MQTTMessageInfo] = []
        self.published = 0

    def __enter__(self) -> Self:
        broker, client = self._broker, self._client
        secure(client, broker)
        client.on_connect = self._on_connect
        try:
            client.connect(broker.host, broker.port)
        except (OSError, ValueError) as error:
            raise BrokerUnreachable(unreachable(broker.host, broker.port, error)) from None
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
                raise BrokerRefused(closed_early(self._broker))
            time.sleep(0.02)
        if self._reason.is_failure:
            raise BrokerRefused(refusal(self._reason.getName()))

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        """Hand one message to the broker without waiting for its answer."""
        self._waiting.append(self._client.publish(topic, payload, qos=1, retain=retain))
        self.published += 1

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                self.drain()
        finally:
            self._client.disconnect()
            self._client.loop_stop()

    def drain(self) -> None:
        until = time.monotonic() + DELIVERY_S
        for sent in self._waiting:
            sent.wait_for_publish(max(0.0, until - time.monotonic()))
            if not sent.is_published():
                raise BrokerUnreachable(
                    "the broker does not acknowledge the messages; not all of them arrived"
                )
        self._waiting.clear()
