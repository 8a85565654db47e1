"""A farm dies at noon: killed, its folder deleted. From the night's copy and the archive it runs again.

Real commands, a real mosquitto, a real archive server; three boards that know nothing but their cards. The
time of each command is printed (`-s`).
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from card_boards import CardBoard
from tls_broker import free_port, mosquitto_path
from victoria_server import Victoria, victoria

from monitor.boards.broker_files import BrokerFiles

pytestmark = [pytest.mark.study, pytest.mark.mosquitto, pytest.mark.archive_server]
ROOT = Path(__file__).parent.parent.parent
BOARDS, EVERY_S = ("b-1", "b-2", "b-3"), 0.25
Rows = dict[tuple[str, int], float]


class Yard:
    """What a person types in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.file = folder, folder / "farm.toml"
        self.etc = folder / "mosquitto"

    def give(self, *arguments: str, code: int = 0) -> str:
        began_s = time.monotonic()
        command = [sys.executable, "-m", "monitor", *arguments, "--config", str(self.file)]
        done = subprocess.run(
            command, cwd=self.folder.parent, env=_environment(), capture_output=True, text=True
        )
        print(f"{time.monotonic() - began_s:6.1f} s  rearing-monitor {' '.join(arguments)}")
        assert done.returncode == code, done.stdout + done.stderr
        return done.stdout + done.stderr

    def broker_begins(self) -> None:
        """As the package of the system leaves it."""
        files = BrokerFiles(self.etc)
        files.conf.parent.mkdir(parents=True, exist_ok=True)
        rights = "user root\n" if os.geteuid() == 0 else ""
        files.main.write_text(f"pid_file {self.etc}/pid\n{rights}include_dir {files.conf.parent}\n")

    @contextmanager
    def at_work(self) -> Iterator[Callable[[], None]]:
        """Broker and monitor run; gives what kills both at once."""
        broker = [mosquitto_path(), "-c", str(self.etc / "mosquitto.conf")]
        monitor = [sys.executable, "-m", "monitor", "run", "--config", str(self.file)]
        with _begun(broker) as first, _begun(monitor) as second:

            def kill() -> None:
                for process in (second, first):
                    process.send_signal(signal.SIGKILL)
                    process.wait(10)

            try:
                yield kill
            finally:
                kill()

    def readings(self) -> Rows:
        if not (self.folder / "rearing.sqlite").exists():
            return {}
        with closing(sqlite3.connect(f"file:{self.folder}/rearing.sqlite?mode=ro", uri=True)) as connection:
            rows = connection.execute(
                "SELECT node, at_ms, value * 1.0 / per_unit FROM reading JOIN sensor USING(sensor_id)"
            )
            return {(node, at_ms): value for node, at_ms, value in rows}


def _begun(command: list[str]) -> subprocess.Popen[bytes]:
    quiet = subprocess.DEVNULL
    return subprocess.Popen(command, env=_environment(), stdout=quiet, stderr=quiet)


def _environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "LANG": "C.UTF-8", "COLUMNS": "200"}


def _archived(server: Victoria) -> Rows:
    found: Rows = {}
    with urllib.request.urlopen(f"{server.url}/internal/force_flush", timeout=60):
        pass
    question = f"{server.url}/api/v1/export?match[]=air_temperature_value"
    with urllib.request.urlopen(question, timeout=60) as answer:
        for line in answer:
            series = json.loads(line)
            for at_ms, value in zip(series["timestamps"], series["values"], strict=True):
                found[series["metric"]["node"], at_ms] = value
    return found


def _wait(is_so: Callable[[], bool], what: str) -> None:
    until_s = time.monotonic() + 60
    while not is_so():
        assert time.monotonic() < until_s, what
        time.sleep(0.2)


def _laid_out(yard: Yard, stick: Path, archive: str) -> None:
    yard.folder.mkdir()
    yard.give("init", "--yes", "--name", "Noon", "--time-zone", "Africa/Gaborone", "--bins", "3")
    for file, secret in (("passphrase", "four words kept apart"), ("wifi", "noon-wifi-8")):
        (yard.folder / file).write_text(secret)
        (yard.folder / file).chmod(0o600)
    stick.mkdir()
    text = re.sub(r"(?ms)^\[\[nodes\]\]\n.*?(?=^\[(?!\[nodes))", "", yard.file.read_text())
    kept = f'[store]\nbackup_folder = "{stick}"\nbackup_passphrase_file = "passphrase"\n'
    text = text.replace("[store]\n", kept, 1).replace("[page]\n", "[page]\nenabled = false\n", 1)
    text += f'[archive]\nurl = "{archive}"\nkind = "victoria"\norg = "o"\nbucket = "b"\ntoken = "t"\n'
    yard.file.write_text(text)
    yard.broker_begins()
    ports = ("--port", str(free_port()), "--boards-port", str(free_port()))
    yard.give("broker", "setup", "--etc", str(yard.etc), "--name", "127.0.0.1", "--yes", *ports)
    yard.give("backup", "--prepare", str(stick))


@pytest.mark.timeout(600)
def test_a_site_that_was_killed_and_deleted_at_noon_runs_again(tmp_path: Path) -> None:
    old, bare, stick = Yard(tmp_path / "farm"), Yard(tmp_path / "new" / "farm"), tmp_path / "stick"
    with victoria(tmp_path / "archive") as server:
        _laid_out(old, stick, server.url)
        for number, name in enumerate(BOARDS, 1):
            wifi = ("--wifi", "yard", "--wifi-password-file", str(old.folder / "wifi"))
            old.give(
                "board", "add", name, "--place", f"bin-{number}", "--sensor", "sht4x", *wifi, "--wait", "0"
            )
        boards = [CardBoard(old.folder / "boards" / "cards" / f"{name}.json", EVERY_S) for name in BOARDS]
        with old.at_work() as kill:
            for board in boards:
                board.start()
            _wait(lambda: len(old.readings()) > 30, "boards are heard")
            old.give("note", "bin-1", "before the night")
            old.give("backup")
            copied = len(old.readings())
            _wait(lambda: len(_archived(server)) > 3 * copied, "the archive has what came after the copy")
            kill()
        before = _archived(server)
        shutil.rmtree(old.folder)
        began_s = time.monotonic()
        bare.folder.parent.mkdir()
        (tmp_path / "passphrase").write_text("four words kept apart")
        said = bare.give(
            "restore", str(stick), "--yes", "--passphrase-file", str(tmp_path / "passphrase"), code=1
        )
        assert "check" in said and "not sent" not in said, "nobody is named to send to"
        held = bare.readings()
        assert {key: held.get(key) for key in before} == pytest.approx(before), "every reading of the archive"
        bare.broker_begins()
        bare.give("broker", "setup", "--etc", str(bare.etc), "--yes")
        with bare.at_work():
            newest_ms = max(at_ms for _, at_ms in held)
            _wait(
                lambda: {node for node, at_ms in bare.readings() if at_ms > newest_ms} == {*BOARDS}, "boards"
            )
            print(f"{time.monotonic() - began_s:6.1f} s  from the deleted folder to readings of every board")
            for board in boards:
                board.stop()
            assert all(board.connects >= 2 for board in boards), "with the cards that they had"
            assert "before the night" in bare.give("logbook", "list")
