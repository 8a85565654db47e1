"""A push service on loopback, and a browser's half of Web Push, written from RFC 8188, 8291, 8292 alone."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import ssl
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from ipaddress import ip_address
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.x509.oid import NameOID

from monitor.notify.push import Reach
from monitor.store.outbox import Phone

CURVE = ec.SECP256R1()


def raw(text: str) -> bytes:
    """The bytes of base64url without its end."""
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def plain(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def point(key: ec.EllipticCurvePublicKey) -> bytes:
    return key.public_bytes(serialization.Encoding.X962, serialization.PublicFormat.UncompressedPoint)


def derived(salt: bytes, secret: bytes, info: bytes, length: int) -> bytes:
    """HKDF with SHA-256 (RFC 5869), of one block."""
    return hmac.digest(hmac.digest(salt, secret, hashlib.sha256), info + b"\x01", hashlib.sha256)[:length]


@dataclass(frozen=True)
class Browser:
    """The keys that a browser keeps to itself."""

    private: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(CURVE))
    auth: bytes = b"0123456789abcdef"

    def phone(self, endpoint: str, recipient: str = "ann", **values: Any) -> Phone:
        """What it tells the page."""
        about: dict[str, Any] = {"person": "Ann", "role": "owner", "device": "android", "made_ms": 0}
        key = plain(point(self.private.public_key()))
        return Phone(recipient, endpoint=endpoint, p256dh=key, auth=plain(self.auth), **{**about, **values})

    def read(self, body: bytes) -> bytes:
        """What was sent in one record of aes128gcm (RFC 8188, section 2; RFC 8291, section 3)."""
        salt, size, length = body[:16], int.from_bytes(body[16:20], "big"), body[20]
        sender, record = body[21 : 21 + length], body[21 + length :]
        assert length == 65 and 18 <= len(record) <= size
        shared = self.private.exchange(ec.ECDH(), ec.EllipticCurvePublicKey.from_encoded_point(CURVE, sender))
        info = b"WebPush: info\x00" + point(self.private.public_key()) + sender
        secret = derived(self.auth, shared, info, 32)
        key = derived(salt, secret, b"Content-Encoding: aes128gcm\x00", 16)
        nonce = derived(salt, secret, b"Content-Encoding: nonce\x00", 12)
        padded = AESGCM(key).decrypt(nonce, record, None).rstrip(b"\x00")
        assert padded.endswith(b"\x02"), "the last record ends with a 2"
        return padded[:-1]


def signed_claims(authorization: str, public: bytes) -> Mapping[str, Any]:
    """The claims of VAPID (RFC 8292), whose signature is checked with the key that the site has."""
    scheme, _, rest = authorization.partition(" ")
    parts = dict(part.strip().split("=", 1) for part in rest.split(","))
    assert scheme == "vapid" and raw(parts["k"]) == public
    head, claims, signature = parts["t"].split(".")
    assert json.loads(raw(head)) == {"typ": "JWT", "alg": "ES256"}
    both = raw(signature)
    assert len(both) == 64
    der = encode_dss_signature(int.from_bytes(both[:32], "big"), int.from_bytes(both[32:], "big"))
    known = ec.EllipticCurvePublicKey.from_encoded_point(CURVE, public)
    known.verify(der, f"{head}.{claims}".encode(), ec.ECDSA(hashes.SHA256()))
    found: Mapping[str, Any] = json.loads(raw(claims))
    return found


@dataclass(frozen=True)
class Taken:
    """One message as it came."""

    path: str
    headers: Mapping[str, str]
    body: bytes


@dataclass
class PushService:
    """`answers` says per path what comes back: a status and headers, or None for silence."""

    address: str
    reach: Reach
    answers: dict[str, tuple[int, dict[str, str]] | None] = field(default_factory=dict)
    taken: list[Taken] = field(default_factory=list)

    def endpoint(self, name: str) -> str:
        return f"{self.address}/push/{name}"

    def came(self, name: str) -> list[Taken]:
        return [one for one in self.taken if one.path == f"/push/{name}"]


def loopback_certificate(folder: Path) -> tuple[Path, Path]:
    """A certificate of this computer that vouches for itself, and its key."""
    key, now = ec.generate_private_key(CURVE), datetime.now(UTC)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "push on loopback")])
    names = x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=2))
        .add_extension(names, critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    certificate, private = folder / "push.crt", folder / "push.key"
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    private.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return certificate, private


@contextmanager
def push_service(folder: Path) -> Iterator[PushService]:
    """It listens on a free port over HTTPS."""
    certificate, private = loopback_certificate(folder)
    silence = threading.Event()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            service.taken.append(Taken(self.path, {k.lower(): v for k, v in self.headers.items()}, body))
            answer = service.answers.get(self.path.rpartition("/")[2], (201, {}))
            if answer is None:
                silence.wait(30.0)
                return
            status, headers = answer
            self.send_response(status)
            for name, value in headers.items():
                self.send_header(name, value)
            self.send_header("content-length", "0")
            self.end_headers()

        def do_GET(self) -> None:
            service.taken.append(Taken(self.path, {}, b""))
            self.send_error(500)

        def log_message(self, *_arguments: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    tls.load_cert_chain(certificate, private)
    server.socket = tls.wrap_socket(server.socket, server_side=True)
    service = PushService(f"https://127.0.0.1:{server.server_port}", Reach(True, str(certificate)))
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    try:
        yield service
    finally:
        silence.set()
        server.shutdown()
        server.server_close()
        thread.join(5.0)


def wait_for(condition: Any, timeout_s: float = 10.0) -> None:
    """Until it holds."""
    until = time.monotonic() + timeout_s
    while not condition():
        assert time.monotonic() < until, "waited in vain"
        time.sleep(0.02)
