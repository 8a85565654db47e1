"""VictoriaMetrics on a loopback port, for tests that read what it holds."""

from __future__ import annotations

import shutil
import signal
import socket
import subprocess
import time
import urllib.request
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


class Victoria:
    """A server that runs. What is written is there to be asked for as soon as `write` is back."""

    def __init__(self, url: str) -> None:
        self.url = url

    def write(self, lines: Iterable[str]) -> None:
        body = "\n".join(lines).encode()
        request = urllib.request.Request(f"{self.url}/api/v2/write?bucket=b&org=o&precision=ms", body)
        with urllib.request.urlopen(request, timeout=60) as reply:
            assert reply.status == 204
        with urllib.request.urlopen(f"{self.url}/internal/force_flush", timeout=60):
            pass


@contextmanager
def victoria(folder: Path, prefix: str = "") -> Iterator[Victoria]:
    """A server for the time of a test; `prefix` is put before each of its paths."""
    if shutil.which("victoria-metrics") is None:
        pytest.skip("victoria-metrics is not installed (Debian package victoria-metrics)")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        "victoria-metrics",
        f"-httpListenAddr=127.0.0.1:{port}",
        f"-storageDataPath={folder}",
        "-retentionPeriod=100y",
        "-dedup.minScrapeInterval=1ms",
        "-memory.allowedBytes=128MB",
        f"-http.pathPrefix={prefix}",
    ]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        _wait_for(process, port)
        yield Victoria(f"http://127.0.0.1:{port}{prefix}")
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait(30)


def _wait_for(process: subprocess.Popen[bytes], port: int) -> None:
    deadline = time.monotonic() + 60
    while True:
        assert process.poll() is None, "the server ended by itself"
        assert time.monotonic() < deadline, "the server did not start"
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
