"""A real mosquitto with the files that `broker setup` writes, in a folder, on free ports.

    with TlsBroker(tmp_path / "broker", "saltbush-yard") as broker:
        password = broker.add_user("node-03")

`broker.settings()` are the keys of `[broker]` for a farm.toml; boards reach it at `boards_port` with the CA
of `broker.ca_der`. `kill()` is SIGKILL; `start()` again keeps what was stored.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

import pytest
from cryptography.hazmat.primitives import serialization

from monitor.boards import broker_files, certificates, users
from monitor.boards.broker_files import BrokerFiles, BrokerPlan
from monitor.settings.writing import NewFile, write_all

PATIENCE_S = 10.0
MONITOR_PASSWORD = "wet-bran-7"


def mosquitto_path() -> str:
    """The broker of Debian; the test is skipped where there is none."""
    path = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    if path is None:
        pytest.skip("mosquitto is not installed (Debian package mosquitto)")
    return path


def free_port() -> int:
    """A port that nothing listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def write_main_configuration(files: BrokerFiles) -> None:
    """A main configuration like Debian's, with everything in the folder; tests that run as root stay root."""
    data = files.etc / "data"
    for folder in (files.conf.parent, data):
        folder.mkdir(parents=True, exist_ok=True)
    lines = [
        f"pid_file {files.etc / 'mosquitto.pid'}",
        "persistence true",
        f"persistence_location {data}/",
        f"log_dest file {files.etc / 'mosquitto.log'}",
        f"include_dir {files.conf.parent}",
        *(["user root"] if os.geteuid() == 0 else []),
    ]
    files.main.write_text("\n".join(lines) + "\n")


def run_mosquitto(files: BrokerFiles, *ports: int) -> subprocess.Popen[bytes]:
    """Start mosquitto with these files and wait until all ports answer."""
    with (files.etc / "output").open("ab") as output:
        process = subprocess.Popen([mosquitto_path(), "-c", str(files.main)], stdout=output, stderr=output)
    deadline = time.monotonic() + PATIENCE_S
    waiting = list(ports)
    while waiting:
        if process.poll() is not None or time.monotonic() > deadline:
            process.kill()
            process.wait(10)
            raise RuntimeError(f"mosquitto did not start: {said_by(files)}")
        with socket.socket() as probe:
            probe.settimeout(0.2)
            if probe.connect_ex(("127.0.0.1", waiting[0])) == 0:
                waiting.pop(0)
            else:
                time.sleep(0.02)
    _wait_for_an_answer(ports[0])
    return process


def _wait_for_an_answer(port: int) -> None:
    """mosquitto listens before it takes signals: a SIGHUP in between ends it. Its first answer is later."""
    with socket.create_connection(("127.0.0.1", port), PATIENCE_S) as probe:
        probe.sendall(b"\x10\x0d\x00\x04MQTT\x04\x02\x00\x3c\x00\x01p")
        probe.recv(4)


def said_by(files: BrokerFiles) -> str:
    """What mosquitto wrote to its log and its output."""
    paths = (files.etc / "mosquitto.log", files.etc / "output")
    return "".join(path.read_text(errors="replace") for path in paths if path.exists())


def made_keys(
    folder: Path, site: str, names: Iterable[str], now: datetime, *, new: bool = False
) -> certificates.Keys:
    """The farm's CA and the broker's certificate in a folder, as `broker setup` writes them."""
    keys = certificates.planned(folder, site, names, now, new=new)
    certificates.make_folder(folder)
    write_all(keys.files)
    return keys


@dataclass
class TlsBroker:
    """The broker of one site. `names` are further names and addresses in its certificate."""

    folder: Path
    site: str = "saltbush-yard"
    topic_root: str = "rearing"
    names: tuple[str, ...] = ()
    monitor_port: int = field(default_factory=free_port)
    boards_port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        self.files = BrokerFiles(self.folder / "mosquitto")
        self.boards = self.folder / "boards"
        now = datetime.now(UTC)
        self.keys = made_keys(self.boards, self.site, self.names, now)
        write_main_configuration(self.files)
        self.files.folder.mkdir()
        storing = {**broker_files.STORING}
        del storing["persistence"], storing["persistence_location"]
        self.plan = BrokerPlan(
            self.site,
            self.topic_root,
            users.MONITOR,
            self.monitor_port,
            self.boards_port,
            tuple(storing.items()),
        )
        write_all(self._files())

    def _files(self) -> list[NewFile]:
        files, plan = self.files, self.plan
        lines = [
            broker_files.marker("users", self.site),
            users.password_line(users.MONITOR, MONITOR_PASSWORD),
        ]
        served = [
            NewFile(files.folder / name, (self.boards / name).read_bytes(), broker_files.FOR_GROUP)
            for name in (certificates.SERVER, certificates.SERVER_KEY)
        ]
        return [
            *served,
            NewFile(files.users, ("\n".join(lines) + "\n").encode(), broker_files.FOR_GROUP),
            NewFile(files.access, broker_files.access_text(plan).encode(), broker_files.FOR_GROUP),
            NewFile(files.conf, broker_files.conf_text(files, plan).encode(), broker_files.FOR_ALL),
        ]

    @property
    def ca_der(self) -> bytes:
        """The certificate of the farm's CA, as it stands on a card."""
        return self.keys.authority.certificate.public_bytes(serialization.Encoding.DER)

    @property
    def ca_file(self) -> Path:
        """The same as a file."""
        return self.boards / certificates.CA

    def settings(self) -> dict[str, Any]:
        """The table [broker] of a farm that uses this broker; the password lies in a file."""
        secret = self.folder / "broker-password"
        secret.touch(mode=0o600)
        secret.write_text(MONITOR_PASSWORD + "\n")
        return {
            "embedded": False,
            "host": "127.0.0.1",
            "port": self.monitor_port,
            "username": users.MONITOR,
            "password_file": str(secret),
            "boards_folder": str(self.boards),
            "boards_port": self.boards_port,
            "files": str(self.files.folder),
        }

    def start(self) -> Self:
        """Start it, or start it again."""
        self.process = run_mosquitto(self.files, self.monitor_port, self.boards_port)
        return self

    def add_user(self, name: str, password: str = "") -> str:
        """A user more, whom the broker knows when this returns; gives the password."""
        password = password or users.new_password()
        before = said_by(self.files).count("Reloading config")
        broker_files.add(self.files, name, password)
        if self.process is not None:
            assert broker_files.reload(self.files) is broker_files.Reload.DONE
            self._wait_for_reload(before)
        return password

    def remove_user(self, name: str) -> None:
        """Take a user away, whom the broker does not let in again when this returns."""
        before = said_by(self.files).count("Reloading config")
        broker_files.remove(self.files, name)
        if self.process is not None:
            assert broker_files.reload(self.files) is broker_files.Reload.DONE
            self._wait_for_reload(before)

    def _wait_for_reload(self, before: int) -> None:
        deadline = time.monotonic() + PATIENCE_S
        while said_by(self.files).count("Reloading config") <= before:
            if time.monotonic() > deadline:
                raise RuntimeError("mosquitto did not read its users again")
            time.sleep(0.02)

    def stop(self) -> None:
        """End it in order: it writes its sessions."""
        self._end(kill=False)

    def kill(self) -> None:
        """End it with SIGKILL."""
        self._end(kill=True)

    def _end(self, kill: bool) -> None:
        if self.process is not None:
            if kill:
                self.process.kill()
            else:
                self.process.terminate()
            self.process.wait(10)
            self.process = None

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *_: object) -> None:
        self.stop()
