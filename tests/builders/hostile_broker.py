"""A broker that does what none should, and certificates good and bad, for the board's MQTT client."""

from __future__ import annotations

import datetime as dt
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

CONNACK = b"\x20\x02\x00\x00"


def read_packet(peer: socket.socket) -> bytes:
    """One whole MQTT packet, or b"" when the peer is gone."""
    head = _exactly(peer, 1)
    length = shift = 0
    while head:
        byte = _exactly(peer, 1)
        head += byte
        length |= (byte[0] & 127) << shift if byte else 0
        shift += 7
        if not byte or byte[0] < 128:
            return head + _exactly(peer, length)
    return b""


def _exactly(peer: socket.socket, count: int) -> bytes:
    data = b""
    while len(data) < count:
        piece = peer.recv(count - len(data))
        if not piece:
            return b""
        data += piece
    return data


def publish_packet(topic: str, payload: bytes, qos: int = 0) -> bytes:
    """A PUBLISH from the broker; with QoS 1 its packet id is 7."""
    body = len(topic).to_bytes(2, "big") + topic.encode() + (b"\x00\x07" if qos else b"") + payload
    length, coded = len(body), b""
    while length > 127:
        coded, length = coded + bytes([length & 127 | 128]), length >> 7
    return bytes([0x30 | qos << 1]) + coded + bytes([length]) + body


@contextmanager
def hostile_broker(serve: Callable[[socket.socket], None]) -> Iterator[int]:
    """A port on which each connection is handed to `serve`; when the peer leaves, that is its end."""
    listener = socket.create_server(("127.0.0.1", 0))
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    peers: list[socket.socket] = []

    def handle(peer: socket.socket) -> None:
        try:
            serve(peer)
        except OSError:
            pass
        finally:
            peer.close()

    def accept() -> None:
        while True:
            try:
                peer, _ = listener.accept()
            except OSError:
                return
            peers.append(peer)
            threading.Thread(target=handle, args=(peer,), daemon=True).start()

    thread = threading.Thread(target=accept, daemon=True)
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()
        for peer in peers:
            peer.close()
        thread.join(5)


class Authority:
    """A private CA on P-256, and the certificates that it makes."""

    def __init__(self, name: str = "farm") -> None:
        self._key = ec.generate_private_key(ec.SECP256R1())
        self._name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
        self.certificate = self._signed(self._name, self._key, "", 2070)

    @property
    def der(self) -> bytes:
        """What stands in a card."""
        return self.certificate.public_bytes(serialization.Encoding.DER)

    def save(self, folder: Path, host: str = "rearing-broker", last_year: int = 2070) -> tuple[str, ...]:
        """Lines for mosquitto's listener, with a certificate for this host name valid until that year."""
        folder.mkdir(parents=True, exist_ok=True)
        key = ec.generate_private_key(ec.SECP256R1())
        subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, host)])
        certificate = self._signed(subject, key, host, last_year)
        pem = serialization.Encoding.PEM
        (folder / "ca.pem").write_bytes(self.certificate.public_bytes(pem))
        (folder / "server.pem").write_bytes(certificate.public_bytes(pem))
        plain = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        (folder / "server.key").write_bytes(key.private_bytes(pem, *plain))
        names = {"cafile": "ca.pem", "certfile": "server.pem", "keyfile": "server.key"}
        return tuple(f"{word} {folder / name}" for word, name in names.items())

    def _signed(
        self, subject: x509.Name, key: ec.EllipticCurvePrivateKey, host: str, last_year: int
    ) -> x509.Certificate:
        builder = (
            x509.CertificateBuilder()
            .subject_name(subject)
            .issuer_name(self._name)
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(dt.datetime(1970, 1, 1))
            .not_valid_after(dt.datetime(last_year, 1, 1))
        )
        if host:
            names = x509.SubjectAlternativeName([x509.DNSName(host)])
            return builder.add_extension(names, critical=False).sign(self._key, hashes.SHA256())
        return builder.add_extension(x509.BasicConstraints(True, 0), critical=True).sign(
            self._key, hashes.SHA256()
        )
