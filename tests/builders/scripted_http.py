"""A web server that says what a test tells it to, whatever it is asked."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs


@dataclass(frozen=True, slots=True)
class Said:
    """One answer; with `cut` the connection ends before all of the body was sent."""

    status: int = 200
    body: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)
    cut: bool = False


Answering = Said | Callable[[str], Said]
"""What is said to everything, or what follows from the path."""


class ScriptedServer:
    """`seen` are (path, headers) of all questions, `forms` what was posted with them,
    `connections` the ports from which they came."""

    def __init__(self, answer: Answering) -> None:
        self.seen: list[tuple[str, dict[str, str]]] = []
        self.forms: list[dict[str, list[str]]] = []
        self.connections: set[int] = set()
        scripted = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self) -> None:
                scripted.connections.add(self.client_address[1])
                form = self.rfile.read(int(self.headers["Content-Length"]))
                scripted.forms.append(parse_qs(form.decode()))
                scripted.seen.append((self.path, dict(self.headers.items())))
                said = answer if isinstance(answer, Said) else answer(self.path)
                body = said.body.encode()
                self.send_response(said.status)
                for name, value in said.headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(body) + (100 if said.cut else 0)))
                self.end_headers()
                self.wfile.write(body)
                self.close_connection = said.cut

            def log_message(self, format: str, *args: object) -> None:
                """Keep quiet."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,))
        self._thread.start()

    def close(self) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()
