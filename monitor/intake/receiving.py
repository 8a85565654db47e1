"""From a message of the MQTT library to a record of ours."""

from __future__ import annotations

import contextlib
import socket
from dataclasses import dataclass
from typing import Any

import paho.mqtt.client as paho

from monitor.intake import connection
from monitor.intake.payload import MOST_KEPT
from monitor.records import IncomingMessage


@dataclass(frozen=True, slots=True)
class Token:
    """What is needed to acknowledge one message: the connection it came over, its turn, its packet id."""

    connection: int
    turn: int
    packet_id: int
    qos: int


def confirm_at_once(client: paho.Client) -> None:
    """Confirm on the level of TCP what was just received.

    A broker that writes in small pieces otherwise waits up to 40 ms for our delayed confirmation before the
    next piece; the option holds for a moment only, so it is set with each message.
    """
    opened: Any = client.socket()
    if opened is not None and hasattr(socket, "TCP_QUICKACK"):
        with contextlib.suppress(OSError):
            opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)


def incoming(message: paho.MQTTMessage, received_ms: int, token: Token | None) -> IncomingMessage:
    """The record of a message; `token` is None where nothing needs to be acknowledged."""
    properties = message.properties
    user_properties = getattr(properties, "UserProperty", None)
    return IncomingMessage(
        message.topic,
        bytes(message.payload[:MOST_KEPT]),
        received_ms,
        bool(message.retain),
        getattr(properties, "ContentType", None),
        connection.age_s(getattr(properties, "MessageExpiryInterval", None), user_properties),
        token,
        bool(message.dup),
    )
