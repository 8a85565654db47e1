"""A small server that answers writes as a script says, and remembers the points it took."""

from __future__ import annotations

import gzip
import socket
import ssl
import threading
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

Answering = Callable[[list[str]], tuple[int, dict[str, str], str]]


def takes_all(_lines: list[str]) -> tuple[int, dict[str, str], str]:
    return 204, {}, ""


class ArchiveStub:
    """`answer` decides; what it answers with 204 is kept in `points`, about the site itself in `of_site`."""

    def __init__(self, certificate: tuple[Path, Path] | None = None) -> None:
        self.answer: Answering = takes_all
        self.points: Counter[str] = Counter()
        self.of_site: list[str] = []
        self.requests: list[int] = []
        self.queries: list[dict[str, list[str]]] = []
        self.headers: list[dict[str, str]] = []
        self.paths: list[str] = []
        self.accepted = 0
        self.connections: set[socket.socket] = set()
        stub = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"
            disable_nagle_algorithm = True

            def setup(self) -> None:
                super().setup()
                stub.connections.add(self.connection)
                stub.accepted += 1

            def do_POST(self) -> None:
                raw = self.rfile.read(int(self.headers["Content-Length"]))
                body = gzip.decompress(raw) if self.headers.get("Content-Encoding") == "gzip" else raw
                stub.queries.append(parse_qs(urlsplit(self.path).query))
                stub.headers.append(dict(self.headers))
                stub.paths.append(urlsplit(self.path).path)
                status, headers, text = stub.take(body.decode().splitlines())
                self.send_response(status)
                for name, value in headers.items():
                    self.send_header(name, value)
                if status != 204:
                    self.send_header("Content-Length", str(len(text.encode())))
                self.end_headers()
                if status != 204:
                    self.wfile.write(text.encode())

            def log_message(self, format: str, *args: object) -> None:
                """Keep quiet."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        if certificate is not None:
            tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            tls.load_cert_chain(*certificate)
            self._server.socket = tls.wrap_socket(self._server.socket, server_side=True)
        self.url = f"http{'' if certificate is None else 's'}://127.0.0.1:{self._server.server_address[1]}"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,))
        self._thread.start()

    def take(self, lines: list[str]) -> tuple[int, dict[str, str], str]:
        self.requests.append(len(lines))
        status, headers, text = self.answer(lines)
        if status == 204:
            self.points.update(text for text in lines if not text.startswith("site,"))
            self.of_site += [text for text in lines if text.startswith("site,")]
        return status, headers, text

    def close(self) -> None:
        """End; a second time does nothing."""
        if not self._thread.is_alive():
            return
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()
        self.cut()

    def cut(self) -> None:
        """End every connection without a word, as a process that is killed does."""
        for connection in self.connections:
            with suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
        self.connections.clear()
