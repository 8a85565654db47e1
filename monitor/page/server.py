"""Serves the page in a thread of its own, with little patience for clients that dawdle."""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import socket
import threading
import time
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from uvicorn.protocols.http.h11_impl import H11Protocol

from monitor.errors import MonitorError, UsageError
from monitor.farm.forecast_cache import let_rest
from monitor.page.app import build_app
from monitor.page.context import PageContext
from monitor.page.serving import compile_templates
from monitor.settings.checking import names_everybody

log = logging.getLogger(__name__)

HEAD_S = 10.0
MOST_CONNECTIONS = 96
KEEP_ALIVE_S = 15
START_S = 10.0
STOP_S = 3
READY_AFTER_S, READY_EVERY_S = 1.0, 300.0
"""When answers are first made ready: guarding comes first after a start; and how often. Own choice."""


class ImpatientProtocol(H11Protocol):
    """Closes a connection whose request line and headers take longer than `head_s`."""

    head_s = HEAD_S
    _waiting: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A new connection: its first request is due."""
        super().connection_made(transport)
        self._expect()

    def data_received(self, data: bytes) -> None:
        """Something came: the clock stops while a request is answered, and only then."""
        super().data_received(data)
        if self._is_answering():
            self._stop_waiting()
        elif self._waiting is None:
            self._expect()

    def on_response_complete(self) -> None:
        """An answer is out: where a part of the next request came meanwhile, its rest is due."""
        super().on_response_complete()
        if self._waiting is None and not self._is_answering() and self.conn.trailing_data[0]:
            self._expect()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is gone."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _is_answering(self) -> bool:
        cycle: Any = self.cycle
        return cycle is not None and not cycle.response_complete

    def _expect(self) -> None:
        self._waiting = self.loop.call_later(self.head_s, self._give_up)

    def _stop_waiting(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _give_up(self) -> None:
        self._waiting = None
        if not self._is_answering() and not self.transport.is_closing():
            self.transport.close()


def is_loopback(address: str) -> bool:
    """Whether only this computer reaches the address."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return address == "localhost"


def refuse_open_door(listen: str, has_password: bool) -> None:
    """Raise UsageError when the page would be open to a network without a password."""
    if not has_password and not is_loopback(listen):
        raise UsageError(
            "the page may not listen on {address} without a password: everybody in that network "
            "could use it. Give [page] password_env or password_file in the settings, "
            'or listen = "127.0.0.1".',
            address=listen,
        )


@dataclass(frozen=True, slots=True)
class Encrypted:
    """The port that is served over HTTPS, and the files with the certificate and its key."""

    port: int
    certificate: Path
    key: Path


class PageServer:
    """`start` returns when the page answers; `port` 0 takes a free one, `address` says which.

    Whatever says for whom it comes and over what is believed only when it comes from one of `proxies`, none
    of which is everybody. With `encrypted` the same page is served over HTTPS too, on a port of its own: a
    phone that has no certificate of the farm's CA yet gets it over the plain one, and what waits on a phone
    there can be handed in.
    """

    def __init__(
        self,
        context: PageContext,
        listen: str = "127.0.0.1",
        port: int = 8460,
        proxies: Sequence[str] = (),
        encrypted: Encrypted | None = None,
    ) -> None:
        self.context = context
        self._readiness: Readiness | None = None
        self._proxies = [each for each in proxies if not names_everybody(each)]
        self._doors = [Door(listen, port)]
        if encrypted is not None:
            self._doors.append(Door(listen, encrypted.port, encrypted))

    @property
    def address(self) -> str:
        """Where the page is."""
        return self._doors[0].address

    @property
    def encrypted_address(self) -> str:
        """Where the page is over HTTPS; "" where it is not."""
        return self._doors[1].address if len(self._doors) > 1 else ""

    def start(self) -> None:
        """Listen and serve; raises UsageError when a port is taken."""
        self.context.feed.open()
        with ExitStack() as undo:
            for door in self._doors:
                door.listen()
                undo.callback(door.close)
            ports = [door.port for door in self._doors]
            self.context.plain_port, self.context.https_port = ports[0], next(iter(ports[1:]), None)
            app = build_app(self.context)
            for door in self._doors:
                door.serve(app, self._proxies)
            undo.pop_all()

    def keep_ready(self, after_s: float = READY_AFTER_S, every_s: float = READY_EVERY_S) -> None:
        """Have what the page shows worked out before anybody looks: after the start, and ever again."""
        self._readiness = Readiness(self.context, after_s, every_s)
        self._readiness.start()

    @property
    def alive(self) -> bool:
        """Whether the page is served."""
        return all(door.alive for door in self._doors)

    def stop(self) -> None:
        """End open pages and stop listening."""
        self.context.feed.close()
        if self._readiness is not None:
            self._readiness.stop()
        for door in self._doors:
            door.leave()
        for door in self._doors:
            door.close()


class Readiness:
    """A thread that works out what the page shows before anybody asks for it.

    From nothing that takes some tenths of a second, on a small computer seconds. Nothing older is shown by
    it: what is kept is made anew by the rules by which a look would have it made.
    """

    def __init__(self, context: PageContext, after_s: float, every_s: float) -> None:
        self._context, self._after_s, self._every_s = context, after_s, every_s
        self._leaving = threading.Event()
        self._thread = threading.Thread(target=self._run, name="ready", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """What is under way is not waited for longer than a moment: it only reads."""
        self._leaving.set()
        self._thread.join(STOP_S)

    def _run(self) -> None:
        wait_s = self._after_s
        while not self._leaving.wait(wait_s):
            wait_s = self._every_s
            context = self._context
            try:
                compile_templates()
                context.forecasts.make_ready(context.plan(), context.clock(), context.reading)
            except MonitorError as error:
                log.warning("the answers of the page could not be made ready: %s", error)
            except Exception:
                # Who looks then is told; the next time may go better.
                log.exception("making the answers of the page ready met an error of the program")
            let_rest()


class Door:
    """One port, plain or encrypted, with its server in a thread."""

    def __init__(self, host: str, port: int, encrypted: Encrypted | None = None) -> None:
        self._host, self.port, self._encrypted = host, port, encrypted
        self._socket: socket.socket | None = None
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None

    @property
    def address(self) -> str:
        """Where it is."""
        host = f"[{self._host}]" if ":" in self._host else self._host
        return f"{'https' if self._encrypted else 'http'}://{host}:{self.port}"

    def listen(self) -> None:
        """Take the port; raises UsageError where it is taken."""
        self._socket = _listening(self._host, self.port)
        self.port = self._socket.getsockname()[1]

    def serve(self, app: Starlette, proxies: list[str]) -> None:
        """Serve the application there; returns when it answers."""
        config = uvicorn.Config(
            app,
            http=ImpatientProtocol,
            ws="none",
            lifespan="off",
            loop="asyncio",
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=bool(proxies),
            forwarded_allow_ips=proxies,
            limit_concurrency=MOST_CONNECTIONS,
            timeout_keep_alive=KEEP_ALIVE_S,
            timeout_graceful_shutdown=STOP_S,
            ssl_certfile=self._encrypted.certificate if self._encrypted else None,
            ssl_keyfile=self._encrypted.key if self._encrypted else None,
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._run, name="page", daemon=True)
        self._thread.start()
        self._wait_until_started()

    def _run(self) -> None:
        if self._server is not None and self._socket is not None:
            self._server.run(sockets=[self._socket])

    def _wait_until_started(self) -> None:
        until = time.monotonic() + START_S
        while self._server is not None and not self._server.started:
            if time.monotonic() > until or not self.alive:
                raise UsageError(
                    "the page did not start at {address}; the log says why", address=self.address
                )
            time.sleep(0.01)

    @property
    def alive(self) -> bool:
        """Whether it is served."""
        return self._thread is not None and self._thread.is_alive()

    def leave(self) -> None:
        """Begin to end."""
        if self._server is not None:
            self._server.should_exit = True

    def close(self) -> None:
        """End, and give the port back."""
        self.leave()
        if self._thread is not None:
            self._thread.join(STOP_S + 2.0)
        if self._socket is not None:
            self._socket.close()


def _listening(listen: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in listen else socket.AF_INET
    # With the protocol named, asyncio switches off the waiting that would delay each small answer by 40 ms.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((listen, port))
    except OSError as error:
        listener.close()
        raise UsageError(
            "the page cannot listen on {address} port {port}: {error}. "
            "Another program may use it; give another [page] port in the settings.",
            address=listen,
            port=port,
            error=error.strerror,
        ) from None
    return listener
