"""The heartbeat to the outside, against a local server."""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from pydantic import SecretStr

from monitor.notify.signals import TIMEOUT_S, Heartbeat


class Watcher(BaseHTTPRequestHandler):
    """Counts calls and answers as told."""

    def do_GET(self) -> None:
        self.server.calls.append(self.path)  # type: ignore[attr-defined]
        self.send_response(self.server.status)  # type: ignore[attr-defined]
        self.send_header("Content-Length", "2")
        self.end_headers()
        self.wfile.write(b"ok")

    def log_message(self, *_: object) -> None:
        """Quiet."""


@pytest.fixture
def watcher() -> Iterator[ThreadingHTTPServer]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), Watcher)
    server.calls, server.status = [], 200  # type: ignore[attr-defined]
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join(5)


def address(server: ThreadingHTTPServer) -> SecretStr:
    return SecretStr(f"http://127.0.0.1:{server.server_address[1]}/ping/hunter2secret")


def test_it_calls_only_while_all_is_well(watcher: ThreadingHTTPServer) -> None:
    well = [True]
    heart = Heartbeat(address(watcher), lambda: well[0])
    assert heart.beat() is True
    well[0] = False
    assert heart.beat() is False
    assert watcher.calls == ["/ping/hunter2secret"]  # type: ignore[attr-defined]


def test_a_refusal_is_logged_and_harms_nothing(
    watcher: ThreadingHTTPServer, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    watcher.status = 503  # type: ignore[attr-defined]
    heart = Heartbeat(address(watcher), lambda: True)
    assert not heart.beat()
    assert "the other side answered 503" in caplog.text
    caplog.clear()
    watcher.status = 200  # type: ignore[attr-defined]
    assert heart.beat()
    assert caplog.text == ""


@pytest.mark.parametrize(
    ("url", "problem"),
    [
        ("http://127.0.0.1:{port}/hunter2secret", "the other side cannot be reached"),
        ("ftp://127.0.0.1/hunter2secret", "the address cannot be called"),
        ("http://127.0.0.1:hunter2secret/", "the address cannot be called"),
        ("hunter2secret", "the address cannot be called"),
    ],
)
def test_a_bad_address_is_logged_without_being_shown(
    url: str, problem: str, free_port: int, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    heart = Heartbeat(SecretStr(url.format(port=free_port)), lambda: True)
    assert not heart.beat()
    assert problem in caplog.text
    assert "hunter2secret" not in f"{caplog.text}{heart.__dict__!r}"


def test_it_waits_ten_seconds_at_most(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    given: list[float] = []

    def slow(_: str, timeout_s: float) -> None:
        given.append(timeout_s)
        raise TimeoutError

    heart = Heartbeat(SecretStr("http://127.0.0.1/x"), lambda: True, slow)
    assert not heart.beat()
    assert given == [TIMEOUT_S] == [10.0]
    assert "no answer within 10 s" in caplog.text
