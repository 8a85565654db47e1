"""The connection to the archive server: kept open, over TLS too, and what is no answer at all."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
from archive_stub import ArchiveStub
from push_service import loopback_certificate

from monitor.archive.client import ArchiveClient, Verdict
from monitor.settings.schema import ArchiveSettings

LINE = "a,site=b c=1 1"


def client_of(url: str) -> ArchiveClient:
    return ArchiveClient(ArchiveSettings(url=url, bucket="readings"))


def is_noticed(client: ArchiveClient) -> bool:
    """Whether the end of the connection is noticed, as soon as it has come through."""
    deadline = time.monotonic() + 10.0
    while client.answers():
        if time.monotonic() > deadline:
            return False
        time.sleep(0.01)
    return True


def test_over_tls_the_connection_is_kept_and_its_end_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    certificate = loopback_certificate(tmp_path)
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate[0]))
    stub = ArchiveStub(certificate)
    client = client_of(stub.url)
    for _ in range(3):
        assert client.send([LINE]).verdict is Verdict.STORED
        assert client.answers() and client.answers()
    assert stub.accepted == 1
    stub.cut()
    assert is_noticed(client)
    assert client.send([LINE]).verdict is Verdict.STORED
    assert stub.accepted == 2
    client.close()
    stub.close()


def test_a_certificate_that_nobody_vouches_for_is_no_contact(tmp_path: Path) -> None:
    stub = ArchiveStub(loopback_certificate(tmp_path))
    client = client_of(stub.url)
    answer = client.send([LINE])
    assert answer.verdict is Verdict.NO_CONTACT and "certificate" in str(answer.reason)
    assert stub.requests == []
    client.close()
    stub.close()


@contextmanager
def speaking(said: bytes) -> Iterator[str]:
    """A server that says one thing to everybody and hangs up."""
    server = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        with suppress(OSError):
            while True:
                connection, _ = server.accept()
                with connection, suppress(OSError):
                    connection.recv(65_536)
                    connection.sendall(said)

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.getsockname()[1]}"
    finally:
        server.shutdown(socket.SHUT_RDWR)
        server.close()
        thread.join()


@pytest.mark.parametrize(
    "said",
    [
        b"",
        b"SSH-2.0-OpenSSH_9.2\r\n",
        b"HTTP/1.1 abc no\r\n\r\n",
        b"HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\nshort",
        b"HTTP/1.1 204 No Content\r\n" + b"x: y\r\n" * 200 + b"\r\n",
        b"HTTP/1.1 204 No Content\r\nx: " + b"y" * 70_000 + b"\r\n\r\n",
    ],
)
def test_what_is_no_answer_is_no_contact(said: bytes) -> None:
    with speaking(said) as url:
        client = client_of(url)
        assert client.send([LINE]).verdict is Verdict.NO_CONTACT
        assert not client.answers()
        client.close()


def test_an_answer_without_an_end_is_not_read_for_ever() -> None:
    with speaking(b"HTTP/1.1 400 No\r\n\r\n" + b"x" * 1_000_000) as url:
        client = client_of(url)
        answer = client.send([LINE])
        assert answer.verdict is Verdict.REFUSED_DATA and len(str(answer.reason)) == 300
        client.close()
