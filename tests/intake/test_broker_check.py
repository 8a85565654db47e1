"""The way to the broker, tried step by step against real brokers, with each thing that can be wrong."""

from __future__ import annotations

import socket
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from monitor.intake import proof
from monitor.intake.broker_check import broker_steps, steps_of_running_service
from monitor.intake.proof import Way
from monitor.settings.schema import BrokerSettings

SITE = "saltbush-yard"
Make = Callable[..., Any]


@pytest.fixture(autouse=True)
def _short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(proof, "WAIT_S", 0.6)
    monkeypatch.setattr(proof, "AGAIN_S", 0.2)


def steps(port: int, **settings: object) -> list[tuple[bool, str]]:
    broker = BrokerSettings.model_validate({"host": "127.0.0.1", "port": port, **settings})
    return [(step.good, str(step.said)) for step in broker_steps(broker, SITE)]


def failure(port: int, **settings: object) -> str:
    """What is said at the first step that fails; those before it are good, and none comes after it."""
    *before, (good, said) = steps(port, **settings)
    assert all(fine for fine, _ in before)
    assert not good, said
    return said


def with_users(make_mosquitto: Make, folder: Path, rules: str = "") -> Any:
    passwords = folder / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "farm", "right"], check=True)
    passwords.chmod(0o700)
    lines = [f"password_file {passwords}"]
    if rules:
        (folder / "acl").write_text(rules + "\n")
        (folder / "acl").chmod(0o700)
        lines.append(f"acl_file {folder / 'acl'}")
    return make_mosquitto(*lines, anonymous=False)


@pytest.mark.mosquitto
@pytest.mark.parametrize("protocol", ["auto", "3.1.1"])
def test_a_broker_that_is_right_passes_every_step(
    make_mosquitto: Make, tmp_path: Path, protocol: str
) -> None:
    broker = with_users(make_mosquitto, tmp_path, f"user farm\ntopic readwrite rearing/{SITE}/#")
    assert steps(broker.port, username="farm", password="right", protocol=protocol) == [
        (True, f"something answers at 127.0.0.1:{broker.port}"),
        (True, 'logged in as "farm"'),
        (True, f"subscribed to rearing/{SITE}/+/readings, rearing/{SITE}/+/status"),
        (True, "the broker passes on what boards send"),
    ]


def test_the_embedded_broker_by_its_name(embedded_broker: Any) -> None:
    said = steps(embedded_broker.port, host="localhost")
    assert [good for good, _ in said] == [True] * 5
    assert said[0][1].startswith("the name localhost stands for ")
    assert said[2][1] == "let in without a user name"


def test_a_name_that_no_computer_has() -> None:
    assert failure(1883, host="broker.invalid").startswith(
        'there is no computer named "broker.invalid". To mend: correct [broker] host'
    )


def test_a_port_on_which_nothing_listens(free_port: int) -> None:
    said = failure(free_port)
    assert said.startswith(f"nothing listens at 127.0.0.1:{free_port}. To mend: start the broker")


@pytest.mark.mosquitto
@pytest.mark.parametrize("protocol", ["auto", "3.1.1"])
@pytest.mark.parametrize(
    ("login", "remedy"),
    [
        ({}, "the broker wants a user name: add username and password_file to [broker]"),
        ({"username": "farm", "password": "wrong"}, "correct [broker] username and its password"),
        ({"username": "fram", "password": "right"}, "correct [broker] username and its password"),
    ],
)
def test_a_wrong_or_missing_login(
    make_mosquitto: Make, tmp_path: Path, login: dict[str, object], remedy: str, protocol: str
) -> None:
    said = failure(with_users(make_mosquitto, tmp_path).port, protocol=protocol, **login)
    assert said.startswith("the broker refused the user name or password. To mend: " + remedy)
    assert "mosquitto_passwd" in said


@pytest.mark.mosquitto
def test_tls(make_mosquitto: Make, tmp_path: Path, embedded_broker: Any) -> None:
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    command = (
        "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 "
        "-subj /CN=localhost -addext subjectAltName=IP:127.0.0.1,DNS:localhost "
        f"-keyout {key} -out {certificate}"
    )
    subprocess.run(command.split(), check=True, capture_output=True)
    key.chmod(0o644)
    port = make_mosquitto(f"certfile {certificate}", f"keyfile {key}").port
    encrypted = (True, "the connection is encrypted, and the broker's certificate is trusted")
    assert steps(port, tls=True, ca_file=str(certificate))[1] == encrypted
    assert f"certificate at 127.0.0.1:{port} is not trusted" in failure(port, tls=True)
    assert "see [broker] ca_file" in failure(port, tls=True)
    assert "the port wants TLS" in failure(port)
    other = failure(embedded_broker.port, tls=True)
    assert "is this the broker's TLS port?" in other or "are host and port right?" in other


def test_rights_to_subscribe() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        threading.Thread(target=_refuse_subscriptions, args=(server,), daemon=True).start()
        said = failure(server.getsockname()[1], protocol="3.1.1")
    assert said.startswith("the broker does not let us read rearing/saltbush-yard/+/readings")


def _refuse_subscriptions(server: socket.socket) -> None:
    """Take the connection that only looks whether somebody answers, then let in and refuse to subscribe."""
    server.accept()[0].close()
    client, _ = server.accept()
    with client:
        client.recv(1000)
        client.sendall(b"\x20\x02\x00\x00")
        packet = client.recv(1000)
        client.sendall(b"\x90\x04" + packet[2:4] + b"\x80\x80")
        client.recv(1000)


@pytest.mark.mosquitto
@pytest.mark.parametrize(
    ("rules", "protocol", "begin"),
    [
        ("topic readwrite rearing/other/#", "5", "the broker refuses what this program sends to itself"),
        ("topic readwrite rearing/other/#", "3.1.1", "the broker takes what boards send, but does not pass"),
        (f"topic write rearing/{SITE}/#", "5", "the broker takes what boards send, but does not pass it on"),
    ],
)
def test_rights_to_read(make_mosquitto: Make, tmp_path: Path, rules: str, protocol: str, begin: str) -> None:
    port = with_users(make_mosquitto, tmp_path, f"user farm\n{rules}").port
    said = failure(port, username="farm", password="right", protocol=protocol)
    assert said.startswith(begin)
    assert f"rearing/{SITE}/+/readings" in said


@pytest.mark.mosquitto
def test_what_waits_for_the_service_goes_on_waiting(mosquitto_broker: Any, listen: Make, board: Make) -> None:
    listen(mosquitto_broker.port).start().subscriber.stop()
    board(mosquitto_broker.port).publish("1", "2")
    assert steps(mosquitto_broker.port)[-1] == (True, "the broker passes on what boards send")
    assert [one.payload for one in listen(mosquitto_broker.port).start().take(2)] == [b"1", b"2"]


@pytest.mark.parametrize(
    ("way", "good", "said"),
    [
        (Way.PROVEN, True, "the broker passes on what boards send"),
        (Way.UNKNOWN, True, "its message to itself is still under way; ask again in half a minute"),
        (Way.CLOSED, False, "the broker takes what boards send, but does not pass it on: topic or rights."),
    ],
)
def test_a_service_that_runs_is_asked_and_not_disturbed(way: Way, good: bool, said: str) -> None:
    first, last = steps_of_running_service("yard", "rearing", None, way)
    assert first.good
    assert (last.good, str(last.said).startswith(said)) == (good, True)


@pytest.mark.mosquitto
def test_a_broker_that_lets_the_monitor_in_once_only_is_said(make_mosquitto: Make, tmp_path: Path) -> None:
    passwords = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "farm", "right"], check=True)
    passwords.chmod(0o700)
    lines = ("use_username_as_clientid true", f"password_file {passwords}")
    broker = make_mosquitto(*lines, anonymous=False)
    said = failure(broker.port, username="farm", password="right", protocol="3.1.1")
    assert said.startswith("the broker lets the monitor have one connection only")
    assert f"at port {broker.port}" in said
