"""From an empty folder to an alarm by mail and a stolen board, by the commands that a person gives.

Real commands, a real mosquitto in a folder of its own, three boards with the real program, mail on loopback.
Each command's wall time is printed; the delay of the alarm alone is shortened, in the settings.
"""

from __future__ import annotations

import email
import email.header
import json
import os
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Sink
from board_bench import precompiled, wait_for
from micropython_run import STARTS_AGAIN, Node
from tls_broker import free_port, mosquitto_path

pytestmark = [pytest.mark.micropython, pytest.mark.mosquitto, pytest.mark.slow]

ROOT = Path(__file__).parent.parent
PROBE_CODE = "28ff641dc11603bf"
BOARDS = {"node-04": "bin-1", "node-05": "bin-2", "egg-board": "tray-1"}
"""Two of them stand in the settings that `init` proposes, one is new."""


class Mailbox(Sink):
    """Takes every mail and keeps its text."""

    def __init__(self) -> None:
        super().__init__()
        self.mails: list[str] = []

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:
        """What the server's protocol calls."""
        self.mails.append(envelope.content.decode("utf-8", "replace"))
        return "250 taken"


class Person:
    """Types commands in a folder, and looks at the clock."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.table = folder, list[tuple[str, float]]()
        self.environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "200", "LANG": "C.UTF-8"}
        for name in ("REARING_CONFIG", "LANGUAGE", "LC_ALL"):
            self.environment.pop(name, None)

    def types(self, *words: str, ends: int = 0) -> str:
        """One command; its outcome is looked at."""
        began = time.monotonic()
        done = subprocess.run(
            [sys.executable, "-m", "monitor", *words],
            cwd=self.folder,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        self.table.append((" ".join(words), time.monotonic() - began))
        assert done.returncode == ends, f"{words}: {done.returncode}\n{done.stdout}\n{done.stderr}"
        return done.stdout + done.stderr

    def starts(self, *words: str) -> subprocess.Popen[bytes]:
        """A command that stays, such as `run`."""
        with (self.folder / "run.log").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", "monitor", *words],
                cwd=self.folder,
                env=self.environment,
                stdout=log,
                stderr=log,
            )


class Hung:
    """A board that hangs somewhere: it begins again whenever its program ends by itself."""

    def __init__(self, folder: Path, port: int) -> None:
        self.port = port
        world = {
            "chips": ["sht4x"],
            "air_temperature_c": 27.5,
            "air_humidity_percent": 66,
            "probes": {PROBE_CODE: 31.0},
            "setup_port": port,
        }
        self.node = Node(folder, world, folders=precompiled())
        self._off = threading.Event()
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    def _live(self) -> None:
        while not self._off.is_set():
            process = self.node.start().process
            while process is not None and process.poll() is None and not self._off.is_set():
                time.sleep(0.05)
            if process is not None and process.poll() not in STARTS_AGAIN:
                break

    def wait_for_page(self) -> None:
        wait_for(lambda: _answers(self.port), "the set-up page")

    def paste(self, card: str) -> str:
        """The card into the set-up page of the board; what the page says."""
        address = f"http://127.0.0.1:{self.port}/"
        form = f"card={card}\r\nwifi=\r\npassword=\r\n".encode()
        asked = urllib.request.Request(address, form, {"content-type": "text/plain"})
        try:
            with urllib.request.urlopen(asked, timeout=10) as answer:
                return str(answer.read().decode())
        except urllib.error.HTTPError as refused:
            return str(refused.read().decode())

    def end(self) -> None:
        """The power goes for good."""
        self._off.set()
        self._thread.join(10)
        self.node.kill()


class Walk:
    """What a walk leaves behind: processes to be ended."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.person = Person(folder)
        self.running: list[subprocess.Popen[bytes]] = []
        self.boards: dict[str, Hung] = {}
        self.mailbox = Mailbox()
        self.mail_server = Controller(self.mailbox, "127.0.0.1", free_port())
        self.mail_server.start()

    @property
    def address(self) -> str:
        port = self.mail_server.port
        return f"mailto://127.0.0.1:{port}/?from=farm@sand-hill.example&to=keeper@sand-hill.example"

    def broker_folder(self) -> Path:
        """What the package of the system would have put there, in a folder of one's own."""
        etc = self.folder / "mq"
        for folder in (etc / "conf.d", etc / "data"):
            folder.mkdir(parents=True)
        lines = [
            f"pid_file {etc / 'mosquitto.pid'}",
            "persistence true",
            f"persistence_location {etc / 'data'}/",
            f"log_dest file {etc / 'mosquitto.log'}",
            f"include_dir {etc / 'conf.d'}",
            *(["user root"] if os.geteuid() == 0 else []),
        ]
        (etc / "mosquitto.conf").write_text("\n".join(lines) + "\n")
        return etc

    def start_broker(self, etc: Path, port: int) -> None:
        command = [mosquitto_path(), "-c", str(etc / "mosquitto.conf")]
        with (self.folder / "mosquitto.out").open("ab") as out:
            self.running.append(subprocess.Popen(command, stdout=out, stderr=out))
        wait_for(lambda: _is_open(port), "the broker")

    def card(self, board: str) -> str:
        return (self.folder / "boards" / "cards" / f"{board}.json").read_text().strip()

    def heard(self) -> set[str]:
        """Boards of which a message has come in."""
        said = self.person.types("board", "list", "--json")
        assert "b'" not in said, "JSON for other programs holds texts, not what Python writes for bytes"
        rows = json.loads(said)
        return {row["board"]["name"] for row in rows if row["heard"]["messages"]}

    def close(self) -> None:
        for board in self.boards.values():
            board.end()
        for process in reversed(self.running):
            process.terminate()
            process.wait(20)
        self.mail_server.stop()


@pytest.fixture
def walk(tmp_path: Path) -> Iterator[Walk]:
    made = Walk(tmp_path)
    yield made
    made.close()


def test_from_an_empty_folder_to_an_alarm_and_a_stolen_board(walk: Walk) -> None:
    person, folder, began = walk.person, walk.folder, time.monotonic()
    port, boards_port = free_port(), free_port()
    farm = ("--name", "Sand Hill", "--time-zone", "Africa/Gaborone", "--address", walk.address)
    person.types("init", "--yes", *farm)
    etc = walk.broker_folder()
    where = ("--etc", str(etc), "--port", str(port), "--boards-port", str(boards_port), "--name", "127.0.0.1")
    person.types("broker", "setup", "--dry-run", *where)
    assert not (folder / "boards").exists()
    person.types("broker", "setup", "--yes", *where)
    walk.start_broker(etc, port)
    assert "keeps boards apart" in person.types("broker", "test")

    (folder / "wifi.txt").write_text("korma-quill-77\n")
    (folder / "wifi.txt").chmod(0o600)
    with (folder / "farm.toml").open("a", encoding="utf-8") as settings:
        settings.write(QUICK_RULE)
    walk.running.append(person.starts("run"))
    wait_for(lambda: "guarding" in (folder / "run.log").read_text(), "the monitor")
    for board, place in BOARDS.items():
        sensors = ("--sensor", "sht4x", *(("--sensor", "ds18b20") if place.startswith("bin") else ()))
        wifi = ("--wifi", "farm", "--wifi-password-file", "wifi.txt")
        quiet = ("--interval", "10s", "--wait", "0", "--no-qr")
        added = person.types("board", "add", board, "--place", place, *sensors, *wifi, *quiet)
        assert walk.card(board) in added
        walk.boards[board] = Hung(folder / board, free_port())

    for board, hung in walk.boards.items():
        hung.wait_for_page()
        assert "no whole card" in hung.paste(walk.card(board)[:200])
        assert "Saved" in hung.paste(walk.card(board))
    wait_for(lambda: walk.heard() == set(BOARDS), "three boards that are heard", 60)

    walk.boards["node-04"].node.write(probes={PROBE_CODE: 47.5})
    wait_for(lambda: any("bin 1" in _subject(mail) for mail in walk.mailbox.mails), "the alarm by mail", 60)

    person.types("board", "remove", "egg-board", "--yes")
    output = walk.boards["egg-board"].node
    wait_for(lambda: "refused_5" in output.output(), "the refusal of the stolen board", 60)
    assert not (folder / "boards" / "cards" / "egg-board.json").exists()
    log = (etc / "mosquitto.log").read_text()
    assert "egg-board" in log
    wall_s = time.monotonic() - began
    for command, seconds in person.table:
        print(f"{seconds:6.1f} s  {command}")
    print(f"{wall_s:6.1f} s  in all")
    assert wall_s < 600


QUICK_RULE = """
[[rules]]
place = "bin-1"
quantity = "substrate_temperature"
side = "high"
priority = "high"
setpoint = 46.0
on_delay_minutes = 0
"""


def _is_open(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def _answers(port: int) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5) as page:
            return bool(page.status == 200)
    except OSError:
        return False


def _subject(mail: str) -> str:
    """The subject line of a mail, encoded words decoded."""
    subject = email.message_from_string(mail)["Subject"] or ""
    return str(email.header.make_header(email.header.decode_header(subject)))
