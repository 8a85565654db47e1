"""Fixtures that several folders need: free ports, brokers, and the mode in which a skip is a failure."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import micropython_run
import pytest

from monitor.intake.broker import EmbeddedBroker

NO_SKIP = os.environ.get("REARING_NO_SKIP") == "1"
START_TIMEOUT_S = 10.0


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """With REARING_NO_SKIP=1 a skipped test has failed: nothing may be left out unnoticed.

    Benchmarks are not tests: they are skipped by an option of ours, not by what is missing on the machine.
    """
    report = yield
    is_benchmark = "benchmark" in getattr(item, "fixturenames", ())
    if NO_SKIP and report.skipped and not hasattr(report, "wasxfail") and not is_benchmark:
        _fail(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """The same for a whole file that skips itself."""
    report = yield
    if NO_SKIP and report.skipped:
        _fail(report)
    return report


def _fail(report: pytest.TestReport | pytest.CollectReport) -> None:
    reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
    report.outcome = "failed"
    report.longrepr = f"REARING_NO_SKIP=1, and this was skipped: {reason}"


def find_free_port() -> int:
    """A loopback port that nothing listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def wait_for_port(port: int, process: subprocess.Popen[bytes]) -> None:
    """Return when the port answers; fail with the process's own words when it ends or takes too long."""
    deadline = time.monotonic() + START_TIMEOUT_S
    while time.monotonic() < deadline:
        if process.poll() is not None:
            raise RuntimeError(f"the server ended with code {process.returncode}")
        with socket.socket() as probe:
            probe.settimeout(0.2)
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.02)
    raise RuntimeError("the server did not answer in time")


@dataclass
class Mosquitto:
    """The Debian broker on a loopback port, with persistence; `kill` and `start` again keep its sessions."""

    folder: Path
    port: int
    extra: tuple[str, ...] = ()
    anonymous: bool = True
    process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def start(self) -> Mosquitto:
        """Write its settings and start it."""
        lines = [
            f"listener {self.port} 127.0.0.1",
            f"allow_anonymous {str(self.anonymous).lower()}",
            "persistence true",
            f"persistence_location {self.folder}/",
            "autosave_interval 1",
            "max_queued_messages 100000",
            "max_inflight_messages 1000",
            *(["user root"] if os.geteuid() == 0 else []),
            *self.extra,
        ]
        settings = self.folder / "mosquitto.conf"
        settings.write_text("\n".join(lines) + "\n")
        command = [_mosquitto_path() or "", "-c", str(settings)]
        with (self.folder / "mosquitto.log").open("ab") as log:
            self.process = subprocess.Popen(command, stdout=log, stderr=log)
        wait_for_port(self.port, self.process)
        return self

    def wait_saved(self) -> None:
        """Return when its sessions are on disk: with autosave_interval 1 that takes up to two seconds."""
        database, now_ns = self.folder / "mosquitto.db", time.time_ns()
        deadline = time.monotonic() + START_TIMEOUT_S
        while not database.exists() or database.stat().st_mtime_ns <= now_ns:
            if time.monotonic() > deadline:
                raise RuntimeError("mosquitto did not save its sessions")
            time.sleep(0.02)

    def stop(self) -> None:
        """End it in order: it writes its sessions."""
        self._end(lambda process: process.terminate())

    def kill(self) -> None:
        """End it with SIGKILL."""
        self._end(lambda process: process.kill())

    def _end(self, how: Callable[[subprocess.Popen[bytes]], None]) -> None:
        if self.process is not None:
            how(self.process)
            self.process.wait(10)
            self.process = None


def _mosquitto_path() -> str | None:
    return shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")


@pytest.fixture
def free_port() -> int:
    """A loopback port that nothing listens on now."""
    return find_free_port()


@pytest.fixture
def make_mosquitto(tmp_path: Path) -> Iterator[Callable[..., Mosquitto]]:
    """Starts mosquitto with extra settings lines: `make_mosquitto("password_file ...", anonymous=False)`."""
    if _mosquitto_path() is None:
        pytest.skip("mosquitto is not installed (Debian package mosquitto)")
    brokers: list[Mosquitto] = []

    def make(*extra: str, anonymous: bool = True) -> Mosquitto:
        folder = tmp_path / f"mosquitto-{len(brokers)}"
        folder.mkdir()
        brokers.append(Mosquitto(folder, find_free_port(), tuple(extra), anonymous))
        return brokers[-1].start()

    yield make
    for broker in brokers:
        broker.stop()


@pytest.fixture
def mosquitto_broker(make_mosquitto: Callable[..., Mosquitto]) -> Mosquitto:
    """A running mosquitto without a password."""
    return make_mosquitto()


@pytest.fixture
def embedded_broker(free_port: int) -> Iterator[EmbeddedBroker]:
    """The broker that comes with the program, running on a loopback port."""
    broker = EmbeddedBroker("127.0.0.1", free_port)
    broker.start()
    yield broker
    broker.stop()


@pytest.fixture
def micropython() -> str:
    """The Unix port of MicroPython, for tests with the marker `micropython`; skips where there is none."""
    return micropython_run.micropython()
