"""`run` as a process: real readings through a real broker, signals, one service for one database; `demo`."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import paho.mqtt.client as paho
import pytest
from cli_farm import HOT, Farm, make_farm
from paho.mqtt.enums import CallbackAPIVersion

from monitor.cli.running import ConnectionLog, Signals, keep_running, only_service
from monitor.demo import runner as runner_module
from monitor.demo.runner import DemoPlan
from monitor.errors import BrokerRefused, BrokerUnreachable, StoreLocked
from monitor.intake.broker import EmbeddedBroker
from monitor.intake.payload import Topics
from monitor.intake.proof import WayProof
from monitor.settings.schema import BrokerSettings

if TYPE_CHECKING:
    from monitor.intake.subscriber import Subscriber
    from monitor.service import Service as GuardingService

Call = Callable[..., tuple[int, str, str]]
WAIT_S = 20.0


@dataclass
class Service:
    """A service of its own process, and its log."""

    process: subprocess.Popen[bytes]
    log: Path

    def wait_for(self, text: str, count: int = 1) -> str:
        """Wait until the log holds the text; gives the whole log."""
        until = time.monotonic() + WAIT_S
        while time.monotonic() < until:
            said = self.log.read_text()
            if said.count(text) >= count:
                return said
            time.sleep(0.05)
        pytest.fail(f"{text!r} is not in the log:\n{self.log.read_text()}")

    def end(self, how: signal.Signals) -> int:
        """Send a signal and wait for the end; gives the exit code."""
        self.process.send_signal(how)
        return self.process.wait(WAIT_S)


@contextmanager
def _running(farm: Farm) -> Iterator[Service]:
    log = farm.folder / "run.log"
    command = [sys.executable, "-m", "monitor", "run", "--config", str(farm.config)]
    with log.open("wb") as stream:
        process = subprocess.Popen(
            command, stdout=stream, stderr=stream, env={**os.environ, **farm.environ}, cwd=farm.folder
        )
    try:
        yield Service(process, log)
    finally:
        process.kill()
        process.wait(WAIT_S)


def _publish(port: int, *values: float) -> None:
    client = paho.Client(CallbackAPIVersion.VERSION2, "board")
    client.connect("127.0.0.1", port)
    client.loop_start()
    for sequence, value in enumerate(values):
        pack = [
            {"bt": time.time(), "n": "substrate_temperature", "u": "Cel", "v": value},
            {"n": "boot", "u": "count", "v": round(time.time())},
            {"n": "sequence", "u": "count", "v": sequence},
        ]
        topic = "rearing/sand-hill/node-02/readings"
        client.publish(topic, json.dumps(pack), 1).wait_for_publish(5)
    client.disconnect()
    client.loop_stop()


def _until(call: Callable[[], bool]) -> bool:
    until = time.monotonic() + WAIT_S
    while time.monotonic() < until:
        if call():
            return True
        time.sleep(0.1)
    return False


def test_run_guards_wakes_and_is_spoken_to(farm: Farm, call: Call, free_port: int) -> None:
    """The whole way: reading, alarm, message, `now`, `ack`, reload, orderly stop."""
    make_farm(farm.folder, port=free_port, embedded=True)
    with _running(farm) as service:
        service.wait_for(f"connected to the broker at 127.0.0.1:{free_port}; sending a message to ourselves")
        service.wait_for("its own broker is for a first evening: it has no rules for each board")
        service.wait_for("guarding: the broker passes on what boards send")
        _publish(free_port, 43.5)
        service.wait_for("bin-1: substrate temperature at 43.5 °C: unacknowledged (high)")
        assert _until(lambda: farm.inbox.is_dir() and any(farm.inbox.glob("*HIGH*.txt")))
        code, out, _ = call("now")
        assert code == 1
        said = " ".join(out.split())
        assert "▲ HIGH bin-1: substrate temperature 43.5 °C, should be below 42 °C, since" in said
        assert "seen by" not in said
        assert call("ack", "bin-1", "--by", "Naledi")[0] == 0
        said = " ".join(call("now")[1].split())
        assert "▲ HIGH bin-1: substrate temperature 43.5 °C, should be below 42 °C, since" in said
        assert re.search(r", seen by Naledi, \d\d:\d\d Do: Spread", said), said
        assert "by Naledi" in " ".join(call("alarms", "--journal")[1].split())
        assert call("send-test")[:2] == (0, "owner: sent\n")

        code, _, err = call("run")
        assert code == 3
        assert f"a monitor runs on this database already (process {service.process.pid})" in err

        farm.config.write_text(farm.config.read_text() + "\nwrong = true\n")
        service.process.send_signal(signal.SIGHUP)
        said = service.wait_for("the changed settings are wrong, the old ones stay in force")
        assert "Traceback" not in said
        assert service.end(signal.SIGTERM) == 0
    assert "stopping (SIGTERM)" in service.log.read_text()
    assert service.log.read_text().endswith("stopped\n")


def test_run_is_taken_up_again_after_a_kill(farm: Farm, call: Call, free_port: int) -> None:
    make_farm(farm.folder, port=free_port, embedded=True)
    with _running(farm) as service:
        service.wait_for("guarding")
        _publish(free_port, 43.5)
        service.wait_for("unacknowledged (high)")
        service.end(signal.SIGKILL)
    with _running(farm) as service:
        service.wait_for("guarding")
        code, out, _ = call("alarms")
        assert service.end(signal.SIGINT) == 0
    assert code == 0
    assert HOT in out


def test_run_goes_on_trying_when_no_broker_answers(farm: Farm, free_port: int) -> None:
    make_farm(farm.folder, port=free_port)
    with _running(farm) as service:
        said = service.wait_for("NOT GUARDING")
        assert service.process.poll() is None
        assert service.end(signal.SIGTERM) == 0
    assert f"nothing answers at 127.0.0.1:{free_port}" in said
    assert "start the broker, or see [broker] host and port" in said
    assert said.count("nothing answers") == 1


def test_run_with_wrong_settings_does_not_start(farm: Farm, call: Call) -> None:
    farm.config.write_text(farm.config.read_text().replace("bin-2", "bin-1"))
    code, _, err = call("run")
    assert code == 2
    assert "To mend" in err
    assert not farm.database.exists()


def test_run_with_an_address_that_no_service_takes_does_not_start(
    farm: Farm, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OWNER_ADDRESS", "carrier-pigeon://coop")
    code, _, err = call("run")
    assert code == 2
    assert "the address of recipient owner" in err
    assert not farm.database.exists()


# the loop


class _Connection:
    def __init__(self, connected: bool = False, problem: str | None = None, refused: bool = False) -> None:
        self.connected, self.problem, self.refused = connected, problem, refused
        self.proof = WayProof(BrokerSettings(), Topics("sand-hill"), lambda: self.steady_s)
        self.steady_s = 0.0

    def wait_connected(self, timeout_s: float) -> None:
        assert timeout_s == 0.0
        if not self.connected:
            raise (BrokerRefused if self.refused else BrokerUnreachable)(self.problem or "")


class _Running:
    def __init__(self, alive: bool = True) -> None:
        self.subscriber, self.alive = _Connection(True), alive
        self.failed: Exception | None = None
        self.reloads = 0

    def reload_soon(self) -> None:
        self.reloads += 1


def test_a_refused_password_is_said_loudly_and_again(caplog: pytest.LogCaptureFixture) -> None:
    connection = _Connection(problem="the broker refused the user name or password", refused=True)
    watch = ConnectionLog("broker.example:1883")
    for now_s in (0.0, 1.0, 299.0, 301.0):
        watch.check(cast("Subscriber", connection), now_s)
    errors = [record.getMessage() for record in caplog.records if record.levelname == "ERROR"]
    assert len(errors) == 2
    assert errors[0].startswith("NOT GUARDING: the broker refused the user name or password. ")
    assert "username, password" in errors[0]


def test_the_connection_is_told_when_it_comes_and_goes(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("INFO")
    watch = ConnectionLog("broker.example:1883")
    for connected in (False, True, True, False, True):
        watch.check(cast("Subscriber", _Connection(connected)), 0.0)
    assert [record.getMessage().split(" to the broker")[0] for record in caplog.records] == [
        "connected",
        "the connection",
        "connected",
    ]


def test_a_broker_that_passes_nothing_on_is_said_loudly_and_again(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("INFO")
    connection, watch = _Connection(True), ConnectionLog("broker.example:1883")
    connection.proof.begin()
    payload = b""
    for connection.steady_s in (0.0, 29.0, 31.0, 299.0, 332.0):
        payload = connection.proof.due() or payload
        watch.check(cast("Subscriber", connection), connection.steady_s)
    connection.proof.came(payload)
    watch.check(cast("Subscriber", connection), 333.0)
    said = [record.getMessage() for record in caplog.records]
    wrong = "NOT GUARDING: the broker takes what boards send, but does not pass it on: topic or rights"
    assert [text.split(". ")[0].split("; ")[0] for text in said] == [
        "connected to the broker at broker.example:1883",
        wrong,
        wrong,
        "guarding: the broker passes on what boards send",
    ]
    assert "rearing/sand-hill/+/readings" in said[1]
    assert "check --broker" in said[1]


def test_a_service_that_is_no_longer_alive_ends_the_loop(caplog: pytest.LogCaptureFixture) -> None:
    service = _Running(alive=False)
    service.failed = RuntimeError("no more")
    assert keep_running(cast("GuardingService", service), Signals(), "here") is False
    assert "a part of the monitor that must run has ended (no more)" in caplog.text


def test_a_wish_to_reload_is_passed_on_once() -> None:
    service, preferences = _Running(), Signals(reload=True)

    def stop_then() -> None:
        service.reloads += 1
        preferences.stop = "SIGTERM"

    service.reload_soon = stop_then  # type: ignore[method-assign]
    assert keep_running(cast("GuardingService", service), preferences, "here") is True
    assert (service.reloads, preferences.reload) == (1, False)


def test_the_lock_is_free_again_afterwards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("monitor.cli.running.PATIENCE_S", 0.0)
    store = tmp_path / "rearing.sqlite"
    refused = pytest.raises(StoreLocked, match=f"process {os.getpid()}")
    with only_service(store), refused, only_service(store):
        pytest.fail("two services at once")
    with only_service(store):
        assert (tmp_path / "rearing.sqlite.lock").read_text() == f"{os.getpid()}\n"


def test_a_folder_that_is_not_there_is_named(farm: Farm, call: Call) -> None:
    text = farm.config.read_text().replace("[broker]", '[store]\npath = "nowhere/rearing.sqlite"\n\n[broker]')
    farm.config.write_text(text)
    code, _, err = call("run")
    assert code in (2, 3)
    assert "nowhere" in err


# demo


@pytest.mark.usefixtures("farm")
def test_demo_plays_in_a_new_folder_that_is_kept(
    call: Call, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    plans: list[DemoPlan] = []
    monkeypatch.setattr(runner_module, "play", lambda plan, _console: plans.append(plan))
    code, out, _ = call("demo", "--days", "0.5", "--seed", "3", "--folder", tmp_path / "yard")
    assert code == 0
    assert (plans[0].days, plans[0].seed, plans[0].folder) == (0.5, 3, tmp_path / "yard")
    assert str(tmp_path / "yard") in out
    call("demo")
    assert plans[1].folder.is_dir()
    plans[1].folder.rmdir()


def test_demo_refuses_a_folder_in_use(farm: Farm, call: Call) -> None:
    code, _, err = call("demo", "--folder", farm.folder)
    assert code == 2
    assert "is not empty; allowed: an empty or a new folder" in err


def test_an_embedded_broker_whose_port_is_taken_is_named(farm: Farm, embedded_broker: EmbeddedBroker) -> None:
    make_farm(farm.folder, port=embedded_broker.port, embedded=True)
    with _running(farm) as service:
        assert service.process.wait(WAIT_S) == 4
    said = service.log.read_text()
    assert f"the embedded broker cannot listen on 127.0.0.1:{embedded_broker.port}" in said
    assert "set [broker] embedded = false; else choose another port" in said
    assert "Traceback" not in said


@pytest.mark.mosquitto
def test_a_broker_that_refuses_the_password_is_said_loudly(
    farm: Farm, make_mosquitto: Callable[..., Any]
) -> None:
    broker = make_mosquitto(anonymous=False)
    make_farm(farm.folder, port=broker.port)
    with _running(farm) as service:
        said = service.wait_for("NOT GUARDING: the broker refused the user name or password")
        assert service.end(signal.SIGTERM) == 0
    assert "see [broker] in the settings (username, password, client_id)" in said
    assert "Traceback" not in said
