"""The server with real connections: slow clients, live streams, a port that is taken."""

from __future__ import annotations

import re
import socket
from collections.abc import Callable

import httpx
import pytest
from page_farm import PageFarm, wait_for

from monitor.errors import StoreError, UsageError
from monitor.page.security import Bounds
from monitor.page.server import ImpatientProtocol, PageServer

LogIn = Callable[..., httpx.Client]
SHORT_S = 0.3


def connected(server: PageServer) -> socket.socket:
    host, _, port = server.address.removeprefix("http://").partition(":")
    return socket.create_connection((host, int(port)), timeout=10.0)


def rest(connection: socket.socket) -> bytes:
    """Everything until the other side closes."""
    parts = []
    while part := connection.recv(65_536):
        parts.append(part)
    return b"".join(parts)


def test_a_request_that_never_comes_whole_is_hung_up_on(
    monkeypatch: pytest.MonkeyPatch, served: PageServer
) -> None:
    monkeypatch.setattr(ImpatientProtocol, "head_s", SHORT_S)
    with connected(served) as silent, connected(served) as slow, connected(served) as second:
        slow.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nX-")
        second.sendall(b"GET /login HTTP/1.1\r\nHost: x\r\n\r\n")
        assert b"200 OK" in second.recv(65_536)
        second.sendall(b"GET /login HTTP/1.1\r\n")
        assert rest(silent) == b""
        assert rest(slow) == b""
        rest(second)


def test_a_request_begun_while_another_is_answered_is_hung_up_on(
    monkeypatch: pytest.MonkeyPatch, served: PageServer
) -> None:
    monkeypatch.setattr(ImpatientProtocol, "head_s", SHORT_S)
    with connected(served) as both:
        both.sendall(b"GET /login HTTP/1.1\r\nHost: x\r\n\r\nGET /login HTTP/1.1\r\n")
        assert rest(both).startswith(b"HTTP/1.1 200 OK")


def test_a_body_that_dawdles_is_refused(monkeypatch: pytest.MonkeyPatch, served: PageServer) -> None:
    monkeypatch.setattr(Bounds, "body_s", SHORT_S)
    with connected(served) as slow:
        slow.sendall(b"POST /login HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\npassword=")
        assert b"408 Request Timeout" in rest(slow)


def test_slow_clients_do_not_keep_others_waiting(served: PageServer) -> None:
    slow = [connected(served) for _ in range(40)]
    for each in slow:
        each.sendall(b"POST /login HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\n")
    assert httpx.get(served.address + "/login", trust_env=False).status_code == 200
    for each in slow:
        each.close()


def test_heads_that_are_too_long_are_refused(served: PageServer) -> None:
    with connected(served) as client:
        client.sendall(b"GET /login HTTP/1.1\r\nHost: x\r\nX-Long: " + b"x" * 66_000)
        assert client.recv(100).startswith(b"HTTP/1.1 400")


def test_a_change_reaches_an_open_page(page_farm: PageFarm, log_in: LogIn) -> None:
    page_farm.context.feed.look_s = 0.02
    with log_in().stream("GET", "/live") as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        lines = stream.iter_lines()
        assert next(lines).startswith("retry:")
        page_farm.context.feed.note("something came")
        assert any(line == "event: changed" for line in lines)


def test_places_for_streams_come_back_when_pages_close(page_farm: PageFarm, log_in: LogIn) -> None:
    page_farm.context.feed.look_s = 0.02
    client = log_in()
    for _ in range(6):
        with client.stream("GET", "/live") as stream:
            assert stream.status_code in (200, 503)
        page_farm.context.feed.note()
    assert wait_for(lambda: _streams(client) == 200)


def _streams(client: httpx.Client) -> int:
    with client.stream("GET", "/live") as stream:
        return stream.status_code


def test_a_stream_ends_when_the_page_stops(served: PageServer, log_in: LogIn) -> None:
    with log_in().stream("GET", "/live") as stream:
        lines = stream.iter_lines()
        next(lines)
        served.stop()
        list(lines)
    assert not served.alive


def test_a_port_that_is_taken_is_said_plainly(page_farm: PageFarm, served: PageServer) -> None:
    port = int(served.address.rpartition(":")[2])
    with pytest.raises(UsageError, match=f"port {port}.*Another program may use it"):
        PageServer(page_farm.context, port=port).start()


def sent(client: httpx.Client, path: str, coding: str = "gzip") -> tuple[int, httpx.Response]:
    """How many bytes of an answer go over the air, and the answer."""
    with client.stream("GET", path, headers={"accept-encoding": coding}) as answer:
        raw = b"".join(answer.iter_raw())
    return len(raw), answer


@pytest.mark.parametrize("path", ["/", "/night", "/static/page.css", "/static/offline.js"])
def test_pages_and_files_go_compressed_to_whoever_takes_that(log_in: LogIn, path: str) -> None:
    client = log_in()
    packed, answer = sent(client, path)
    plain, unpacked = sent(client, path, "identity")
    assert answer.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in unpacked.headers
    assert "accept-encoding" in answer.headers["vary"].lower()
    assert "accept-encoding" in unpacked.headers["vary"].lower()
    assert packed < plain / 2
    assert answer.headers["content-security-policy"] == unpacked.headers["content-security-policy"]


def test_the_first_load_takes_less_than_a_hundred_kilobytes(log_in: LogIn) -> None:
    """Now with everything that its head asks for, as it goes over the air."""
    client = log_in()
    page = client.get("/").text
    files = set(re.findall(r'(?:href|src)="(/static/[^"]+)"', page))
    assert len(files) >= 4
    assert sum(sent(client, path)[0] for path in ("/", *files)) < 100_000


def test_a_stream_of_changes_is_not_held_back_to_be_compressed(page_farm: PageFarm, log_in: LogIn) -> None:
    client = log_in()
    with client.stream("GET", "/live", headers={"accept-encoding": "gzip"}) as stream:
        assert "content-encoding" not in stream.headers
        lines = stream.iter_lines()
        assert next(lines).startswith("retry")
        page_farm.context.feed.note()
        assert any("changed" in line for line in lines)


def test_the_page_is_made_ready_after_the_start_and_ever_again_whatever_goes_wrong(
    page_farm: PageFarm, served: PageServer, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    made: list[int] = []
    faults = iter([StoreError("held"), RuntimeError("a fault"), None, None])

    def ready(*_: object) -> None:
        made.append(1)
        fault = next(faults, None)
        if fault is not None:
            raise fault

    monkeypatch.setattr(page_farm.context.forecasts, "make_ready", ready)
    monkeypatch.setattr("monitor.page.server.let_rest", lambda: None)
    served.keep_ready(after_s=0.0, every_s=0.01)
    wait_for(lambda: len(made) > 3)
    assert "held" in caplog.text and "an error of the program" in caplog.text
    served.stop()
    assert not served._readiness._thread.is_alive()  # type: ignore[union-attr]
