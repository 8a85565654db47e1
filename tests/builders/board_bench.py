"""The bench of the trials: a real mosquitto with TLS, users and rules, a real `run`, and boards that run the real program.

Boards are processes of MicroPython's Unix port with `fakes/hardware.py`; each has a wire of its own to the
broker (`board_wire`), and a witness (`board_witness`). Nothing here waits for a fixed time where it can look.
"""

from __future__ import annotations

import base64
import binascii
import datetime
import hashlib
import ipaddress
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from board_wire import Wire
from board_witness import Verdict, Witness, compare, stored_of
from conftest import find_free_port, wait_for_port

ROOT = Path(__file__).parent.parent.parent
SITE, TOPIC_ROOT, MONITOR_USER, MONITOR_PASSWORD = "sand-hill", "rearing", "rearing-monitor", "korma-31-quill"
TLS_NAME = "rearing-broker"
PATIENCE_S = 30.0


def wait_for(condition: Callable[[], object], what: str, seconds: float = PATIENCE_S) -> None:
    """Look until it is so; the error says what did not come."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            raise AssertionError(f"{what} did not come within {seconds:g} s")
        time.sleep(0.05)


class TrialBroker:
    """mosquitto as the product sets it up: a plain listener for the monitor, one with TLS for the boards.

    A third one, plain with users and rules, is there for the trial that needs to see the packets.
    """

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.folder = folder
        self.monitor_port, self.tls_port, self.plain_port = (find_free_port() for _ in range(3))
        self.process: subprocess.Popen[bytes] | None = None
        self.kills = 0
        self.users: dict[str, str] = {MONITOR_USER: MONITOR_PASSWORD}
        self.write()

    def write(self) -> None:
        """Users, rules and settings, in the files that mosquitto reads."""
        raise NotImplementedError

    def add_user(self, name: str, password: str) -> None:
        self.users[name] = password
        self.write()
        if self.process is not None:
            self.process.send_signal(signal.SIGHUP)

    def start(self) -> None:
        """The third listener is the last that mosquitto opens, so then all are open."""
        command = [_mosquitto(), "-c", str(self.folder / "mosquitto.conf")]
        with (self.folder / "mosquitto.log").open("ab") as log:
            self.process = subprocess.Popen(command, stdout=log, stderr=log)
        wait_for_port(self.plain_port, self.process)

    def kill(self) -> None:
        """kill -9, at once."""
        if self.process is not None:
            self.process.kill()
            self.process.wait(10)
            self.process, self.kills = None, self.kills + 1

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(10)
            self.process = None

    @contextmanager
    def frozen(self) -> Iterator[None]:
        """It neither answers nor closes: SIGSTOP."""
        assert self.process is not None
        self.process.send_signal(signal.SIGSTOP)
        try:
            yield
        finally:
            self.process.send_signal(signal.SIGCONT)


def _mosquitto() -> str:
    found = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    assert found, "mosquitto is not installed (Debian package mosquitto)"
    return found


class TrialMonitor:
    """The real command `run`, as often as it is started; its clock may be wrong by a stated time."""

    def __init__(self, folder: Path, broker: TrialBroker, nodes: Iterable[str], extra: str = "") -> None:
        folder.mkdir()
        self.folder, self.process = folder, None  # type: subprocess.Popen[bytes] | None
        self.config, self.database = folder / "farm.toml", folder / "rearing.sqlite"
        self.kills = 0
        lines = [
            f'[site]\nid = "{SITE}"\ntitle = "Sand Hill"\ntime_zone = "Africa/Gaborone"',
            '[store]\npath = "rearing.sqlite"',
            f'[broker]\nport = {broker.monitor_port}\nusername = "{MONITOR_USER}"\npassword_env = "TRIAL_PASSWORD"',
            '[[recipients]]\nid = "keeper"\naddress = "folder://inbox"',
            '[[places]]\nid = "room-1"\nkind = "room"',
            *(f'[[nodes]]\nid = "{node}"\nplace = "room-1"\ninterval_s = 10' for node in nodes),
            extra,
        ]
        self.config.write_text("\n".join(lines) + "\n", encoding="utf-8")
        self.config.chmod(0o600)

    def start(self, clock_by_s: float = 0.0) -> None:
        shifted = [str(ROOT / "tests/builders/run_with_clock.py"), str(clock_by_s)]
        command = [sys.executable, *(shifted if clock_by_s else ["-m", "monitor"]), "run", "--config", "farm.toml"]
        environment = {**os.environ, "TRIAL_PASSWORD": MONITOR_PASSWORD, "PYTHONPATH": str(ROOT)}
        with (self.folder / "run.log").open("ab") as log:
            self.process = subprocess.Popen(command, cwd=self.folder, env=environment, stdout=log, stderr=log)

    def wait_connected(self) -> None:
        before = self.log.count("connected")
        wait_for(lambda: self.log.count("connected") > 0 or before, "the monitor's connection")

    @property
    def log(self) -> str:
        path = self.folder / "run.log"
        return path.read_text(encoding="utf-8") if path.exists() else ""

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait(10)
            self.process, self.kills = None, self.kills + 1

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            assert self.process.wait(20) == 0, self.log[-2000:]
            self.process = None
