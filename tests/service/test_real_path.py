"""The whole way: mosquitto_pub, `run` with the example farm, an e-mail received, answers by command."""

from __future__ import annotations

import email
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from email.message import Message
from pathlib import Path

import pytest
from aiosmtpd.controller import Controller
from service_farm import wait_until

EXAMPLE = Path(__file__).parents[2] / "config" / "farm.example.toml"
TOPIC = "rearing/saltbush-yard/{node}/readings"


class Mailbox:
    """Keeps what the local mail server received."""

    def __init__(self) -> None:
        self.mails: list[Message] = []

    async def handle_DATA(self, _server: object, _session: object, envelope: object) -> str:
        """Called by the server for each mail."""
        self.mails.append(email.message_from_bytes(envelope.content))  # type: ignore[attr-defined]
        return "250 OK"

    def subjects(self) -> list[str]:
        """Subjects in order, decoded."""
        return [str(email.header.make_header(email.header.decode_header(m["Subject"]))) for m in self.mails]


@pytest.fixture
def mailbox(free_port: int) -> Iterator[tuple[Mailbox, int]]:
    """A mail server on loopback."""
    box = Mailbox()
    server = Controller(box, hostname="127.0.0.1", port=free_port)
    server.start()
    yield box, free_port
    server.stop()


class Farm:
    """The example farm in a folder of its own, and the commands that a person gives."""

    def __init__(self, folder: Path, port: int, smtp_port: int) -> None:
        self.folder, self.port = folder, port
        text = EXAMPLE.read_text().replace("port = 1883", f"port = {port}", 1)
        (folder / "farm.toml").write_text(text)
        address = f"mailto://127.0.0.1:{smtp_port}/?from=monitor@farm.test&to=owner@farm.test&mode=insecure"
        self.environment = {**os.environ, "REARING_OWNER_ADDRESS": address, "NO_COLOR": "1"}

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        """One command, to its end."""
        line = [sys.executable, "-m", "monitor", *words]
        return subprocess.run(
            line,
            cwd=self.folder,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    process: subprocess.Popen[bytes] | None = None

    def start(self) -> subprocess.Popen[bytes]:
        """`rearing-monitor run`."""
        line = [sys.executable, "-m", "monitor", "run"]
        with (self.folder / "run.log").open("ab") as log:
            return subprocess.Popen(line, cwd=self.folder, env=self.environment, stdout=log, stderr=log)

    def log(self) -> str:
        """What `run` has said."""
        return (self.folder / "run.log").read_text()

    def publish(self, node: str, name: str, unit: str, value: float, sequence: int, age_s: int = 0) -> None:
        """One reading with mosquitto_pub."""
        pack = [
            {"n": name, "u": unit, "v": value, "t": time.time() - age_s},
            {"n": "boot", "u": "count", "v": 1},
            {"n": "sequence", "u": "count", "v": sequence},
        ]
        program = shutil.which("mosquitto_pub") or ""
        line = [
            program,
            "-p",
            str(self.port),
            "-q",
            "1",
            "-t",
            TOPIC.format(node=node),
            "-m",
            json.dumps(pack),
        ]
        subprocess.run(line, check=True, timeout=10)


@pytest.fixture
def run_farm(
    tmp_path: Path, mosquitto_broker: object, mailbox: tuple[Mailbox, int]
) -> Iterator[Callable[[], tuple[Farm, Mailbox]]]:
    """Starts the example farm; ends it with SIGTERM and looks at its exit code."""
    running: list[subprocess.Popen[bytes]] = []

    def start() -> tuple[Farm, Mailbox]:
        box, smtp_port = mailbox
        farm = Farm(tmp_path, int(mosquitto_broker.port), smtp_port)  # type: ignore[attr-defined]
        farm.process = farm.start()
        running.append(farm.process)
        assert wait_until(lambda: "connected to the broker" in farm.log()), farm.log()
        return farm, box

    yield start
    for process in running:
        process.send_signal(signal.SIGTERM)
        assert process.wait(20) == 0


@pytest.mark.mosquitto
@pytest.mark.slow
def test_a_hot_bin_becomes_an_email_and_is_acknowledged_by_command(
    run_farm: Callable[[], tuple[Farm, Mailbox]],
) -> None:
    farm, box = run_farm()
    # Three readings spread over five minutes: the on-delay counts in time of measurement.
    for sequence, age_s in enumerate((360, 180, 0)):
        farm.publish("node-08", "substrate_temperature", "Cel", 47.5, sequence, age_s)
    assert wait_until(lambda: any("47.5" in subject for subject in box.subjects())), (
        farm.log(),
        farm.command("alarms").stdout,
    )
    subject = next(subject for subject in box.subjects() if "HIGH" in subject)
    assert "substrate 47.5 °C" in subject
    now = farm.command("now")
    assert now.returncode == 1
    assert "47.5" in now.stdout
    alarms = json.loads(farm.command("alarms", "--json").stdout)
    assert "47.5" in json.dumps(alarms)
    place = subject.split("HIGH ")[1].split(" substrate")[0]
    identity = next(i for i, title in _places(farm).items() if title == place)
    done = farm.command("ack", f"{identity}/substrate_temperature/high/high")
    assert done.returncode == 0, done.stdout + done.stderr
    journal = farm.command("alarms", "--journal").stdout
    assert "acknowledge" in journal


def _places(farm: Farm) -> dict[str, str]:
    import tomllib

    data = tomllib.loads((farm.folder / "farm.toml").read_text())
    return {place["id"]: place.get("title") or place["id"] for place in data["places"]}


@pytest.mark.mosquitto
@pytest.mark.slow
def test_changed_settings_are_read_on_sighup_and_wrong_ones_are_not_taken(
    run_farm: Callable[[], tuple[Farm, Mailbox]], tmp_path: Path
) -> None:
    farm, _ = run_farm()
    pid = farm.process.pid if farm.process else 0
    path = tmp_path / "farm.toml"
    good = path.read_text()
    path.write_text(good.replace('kind = "love_cage"', 'kind = "love_nest"', 1))
    os.kill(pid, signal.SIGHUP)
    assert wait_until(lambda: "old ones stay in force" in farm.log())
    assert "love_nest" in farm.log()
    path.write_text(good + '\n[[places]]\nid = "bin-9"\nkind = "grow_out_bin"\n')
    os.kill(pid, signal.SIGHUP)
    assert wait_until(lambda: "settings read again" in farm.log() and "bin-9" in farm.log()), farm.log()
