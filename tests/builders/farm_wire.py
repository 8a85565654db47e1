"""The way between a phone and the page: one address in front of a server that comes and goes, and can be cut.

The page over it is as farther away behind a bad Wi-Fi: an answer can be lost after the monitor wrote.
"""

from __future__ import annotations

import os
import signal
import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from starlette.responses import Response

from monitor.page.context import once
from monitor.page.serving import RequestContext

_BLOCK = 65_536


class Wire:
    """Passes bytes on to the server's port; `up` is whether new connections are taken."""

    def __init__(self, to_port: int) -> None:
        self.to_port, self.up = to_port, True
        self._pairs: set[socket.socket] = set()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                threading.Thread(target=self._join, args=(near,), daemon=True).start()

    def _join(self, near: socket.socket) -> None:
        far = None
        if self.up:
            with suppress(OSError):
                far = socket.create_connection(("127.0.0.1", self.to_port))
        if far is None:
            near.close()
            return
        self._pairs |= {near, far}
        for one, other in ((near, far), (far, near)):
            threading.Thread(target=self._pass_on, args=(one, other), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while data := one.recv(_BLOCK):
                other.sendall(data)
        for each in (one, other):
            _shut(each)
            self._pairs.discard(each)

    def cut(self) -> None:
        """End every connection now, whatever is under way."""
        for each in list(self._pairs):
            _shut(each)

    def close(self) -> None:
        """For good."""
        self.up = False
        self._listener.close()
        self.cut()


def _shut(end: socket.socket) -> None:
    with suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
    end.close()


class HandingIn:
    """Counts the forms that the page takes, and does something right after some of them were written.

    `after` says what: it is done before the answer leaves.
    """

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.paths, self.after = list[str](), dict[int, Callable[[], None]]()
        monkeypatch.setattr("monitor.page.serving.once", self._once)

    def _once(self, request: RequestContext, work: Callable[[RequestContext], Response]) -> Response:
        response = once(request, work)
        if request.http.method == "POST" and request.scripted:
            self.paths.append(str(request.http.url.path))
            self.after.pop(len(self.paths), lambda: None)()
        return response


def kill_browser(profile: Path) -> None:
    """End the browser of that profile, as a phone does that needs the memory."""
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            words = (folder / "cmdline").read_bytes().split(b"\0")
            if f"--user-data-dir={profile}".encode() in words and not any(
                b"--type=" in word for word in words
            ):
                os.kill(int(folder.name), signal.SIGKILL)
