"""A small MQTT 3.1.1 client whose every wait is bounded: to try the broker as a board, and to cut one off.

It says exactly how a door is closed (no trust, another name, a refusal), which a client for daily use need
not know. The packets follow MQTT 3.1.1 (OASIS, 2014), sections 3.1 to 3.14.
"""

from __future__ import annotations

import socket
import ssl
import time
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

from monitor.intake.connection import tls_context
from monitor.settings.schema import BrokerSettings

PATIENCE_S = DELIVERY_S = 5.0
KEEP_ALIVE_S = 60
CONNACK, PUBLISH, PUBACK, SUBACK, PINGRESP = 0x20, 0x30, 0x40, 0x90, 0xD0
HOLD_S, MOST_TAKEOVERS = 1.0, 5
_OTHER_NAME = (62, 64)
"""X509_V_ERR_HOSTNAME_MISMATCH and ..._IP_ADDRESS_MISMATCH of OpenSSL."""


class Entry(StrEnum):
    """What became of an attempt to be let in."""

    LET_IN = "let in"
    REFUSED = "refused"
    """The broker said no: user name, password, client id."""
    HUNG_UP = "hung up"
    """The connection ended, or nothing was said, before an answer."""
    NOT_TRUSTED = "not trusted"
    """We do not believe the broker's certificate."""
    OTHER_NAME = "other name"
    """The certificate is that of another name."""
    NO_TLS = "no TLS"
    NOBODY = "nobody"
    """Nothing listens there."""


@dataclass(frozen=True, slots=True)
class Door:
    """Where the broker listens; with `trust` encrypted, and its certificate has to bear `name`."""

    host: str
    port: int
    trust: ssl.SSLContext | None = None
    name: str = ""

    @classmethod
    def of_monitor(cls, broker: BrokerSettings) -> Self:
        """The door through which the monitor goes."""
        return cls(broker.host, broker.port, tls_context(broker) if broker.tls else None, broker.host)


class TrialClient:
    """One connection. `messages` are what came, as pairs of topic and payload."""

    def __init__(self, door: Door, client_id: str, user: str | None = None, password: str = "") -> None:
        self._door, self._client_id, self._user, self._password = door, client_id, user, password
        self._socket: socket.socket | None = None
        self._number = 0
        self.messages: list[tuple[str, bytes]] = []

    def connect(self) -> Entry:
        """Try to be let in."""
        self._drop()
        try:
            self._socket = socket.create_connection((self._door.host, self._door.port), PATIENCE_S)
        except OSError:
            return Entry.NOBODY
        entry = self._encrypt(self._socket) or self._greet()
        if entry is not Entry.LET_IN:
            self._drop()
        return entry

    def _encrypt(self, plain: socket.socket) -> Entry | None:
        """Put TLS over the connection, if the door wants it; what went wrong, if anything did."""
        trust, name = self._door.trust, self._door.name
        if trust is None:
            return None
        try:
            # It is ours before the handshake, so that it is closed when that fails.
            encrypted = trust.wrap_socket(plain, do_handshake_on_connect=False, server_hostname=name)
            self._socket = encrypted
            encrypted.do_handshake()
        except ssl.SSLCertVerificationError as error:
            return Entry.OTHER_NAME if error.verify_code in _OTHER_NAME else Entry.NOT_TRUSTED
        except OSError:
            return Entry.NO_TLS
        return None

    def _greet(self) -> Entry:
        try:
            self._send(0x10, self._greeting())
            kind, body = self._read(time.monotonic() + PATIENCE_S)
        except OSError:
            return Entry.HUNG_UP
        if kind != CONNACK or len(body) != 2:
            return Entry.HUNG_UP
        return Entry.LET_IN if body[1] == 0 else Entry.REFUSED

    def _greeting(self) -> bytes:
        flags = 0x02 | (0 if self._user is None else 0xC0)
        login = b"" if self._user is None else _text(self._user) + _text(self._password)
        head = _text("MQTT") + bytes((4, flags)) + KEEP_ALIVE_S.to_bytes(2, "big")
        return head + _text(self._client_id) + login

    def subscribe(self, topic: str) -> bool:
        """Whether the broker says that it will send this topic."""
        self._number += 1
        self._send(0x82, self._number.to_bytes(2, "big") + _text(topic) + b"\x01")
        return self._wait_for(SUBACK)[-1:] not in (b"", b"\x80")

    def publish(self, topic: str, payload: bytes) -> bool:
        """Send at QoS 1; whether the broker says that it took the message, which proves nothing."""
        self._number += 1
        self._send(0x32, _text(topic) + self._number.to_bytes(2, "big") + payload)
        return bool(self._wait_for(PUBACK))

    def is_connected(self) -> bool:
        """Whether the broker still answers; what came before its answer is in `messages`."""
        try:
            self._send(0xC0, b"")
            self._wait_for(PINGRESP)
        except OSError:
            self._drop()
        return self._socket is not None

    def has_come(self, payload: bytes) -> bool:
        """Wait until a message with this payload has come; False when it has not in time."""
        deadline = time.monotonic() + DELIVERY_S
        while payload not in (each for _, each in self.messages):
            try:
                self._take(*self._read(deadline))
            except OSError:
                return False
        return True

    def close(self) -> None:
        """Say goodbye."""
        if self._socket is not None:
            try:
                self._send(0xE0, b"")
            except OSError:
                pass
            finally:
                self._drop()

    def _drop(self) -> None:
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _send(self, kind: int, body: bytes) -> None:
        if self._socket is None:
            raise OSError("not connected")
        self._socket.settimeout(PATIENCE_S)
        self._socket.sendall(_packet(kind, body))

    def _wait_for(self, wanted: int) -> bytes:
        deadline = time.monotonic() + PATIENCE_S
        while True:
            kind, body = self._read(deadline)
            if kind == wanted:
                return body
            self._take(kind, body)

    def _take(self, kind: int, body: bytes) -> None:
        if kind & 0xF0 != PUBLISH:
            return
        end = 2 + int.from_bytes(body[:2], "big")
        topic, rest = body[2:end].decode("utf-8", "replace"), body[end:]
        if kind & 0x06:
            self._send(PUBACK, rest[:2])
            rest = rest[2:]
        self.messages.append((topic, rest))

    def _read(self, deadline: float) -> tuple[int, bytes]:
        kind = self._exactly(1, deadline)[0]
        length = shift = 0
        while True:
            digit = self._exactly(1, deadline)[0]
            length |= (digit & 0x7F) << shift
            shift += 7
            if digit < 0x80 or shift > 21:
                return kind, self._exactly(length, deadline)

    def _exactly(self, count: int, deadline: float) -> bytes:
        data = b""
        while len(data) < count:
            left = deadline - time.monotonic()
            if left <= 0 or self._socket is None:
                raise TimeoutError("no answer")
            self._socket.settimeout(left)
            part = self._socket.recv(count - len(data))
            if not part:
                raise ConnectionResetError("hung up")
            data += part
        return data


def _text(text: str) -> bytes:
    data = text.encode()
    return len(data).to_bytes(2, "big") + data


def _packet(kind: int, body: bytes) -> bytes:
    return bytes((kind, *_length(len(body)))) + body


def _length(count: int) -> Iterator[int]:
    while count > 0x7F:
        yield count & 0x7F | 0x80
        count >>= 7
    yield count


def cut_off(broker: BrokerSettings, board: str, hold_s: float = HOLD_S) -> bool:
    """End the open connection of a board whose user is gone; call it after `broker_files.reload`.

    The monitor takes over the name of the board for a moment, which ends what is open under it, and stays
    `hold_s` to see whether the board comes in again. True: the board is out. False: it is let in still, or
    the monitor was not let in itself.
    """
    password = broker.password.get_secret_value() if broker.password else ""
    for _ in range(MOST_TAKEOVERS):
        client = TrialClient(Door.of_monitor(broker), board, broker.username, password)
        try:
            if client.connect() is not Entry.LET_IN:
                return False
            if not _is_thrown_off(client, hold_s):
                return True
        finally:
            client.close()
    return False


def _is_thrown_off(client: TrialClient, hold_s: float) -> bool:
    """Whether somebody else takes our name before the time is over."""
    deadline = time.monotonic() + hold_s
    while time.monotonic() < deadline:
        if not client.is_connected():
            return True
        time.sleep(min(0.1, hold_s))
    return not client.is_connected()
