"""First start with a broker whose rules name another site: the monitor proves its own way and says so."""

from __future__ import annotations

import signal
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from service_farm import farm, wait_until

from monitor.farm.places import SiteReader, site_now
from monitor.intake import proof
from monitor.service import Service, system_clock_ms
from monitor.settings.plan import build_plan
from monitor.settings.schema import Settings
from monitor.words.boards import broker_fault
from monitor.words.localizer import Localizer
from monitor.words.places import now_lines

pytestmark = pytest.mark.mosquitto
Make = Callable[..., Any]
FAULT = "site/broker_way_fault/high/high"


@pytest.fixture
def guard(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[Settings], Service]]:
    """Starts services that wait only shortly for their own message; they are stopped at the end."""
    monkeypatch.setattr(proof, "WAIT_S", 0.6)
    monkeypatch.setattr(proof, "AGAIN_S", 0.2)
    running: list[Service] = []

    def start(settings: Settings) -> Service:
        service = Service(settings)
        service.start()
        running.append(service)
        return service

    yield start
    for service in running:
        service.stop()


def rules(tmp_path: Path, site: str) -> str:
    """Access rules of a broker, as somebody writes them who thinks of one site."""
    path = tmp_path / f"acl-{site}"
    path.write_text(f"topic readwrite rearing/{site}/#\n")
    path.chmod(0o700)
    return f"acl_file {path}"


def standing(service: Service) -> bool:
    return service.processor.site.state(FAULT).active


def test_rules_that_name_another_site_raise_an_alarm_that_says_so(
    tmp_path: Path, make_mosquitto: Make, guard: Callable[[Settings], Service]
) -> None:
    broker = make_mosquitto(rules(tmp_path, "other-yard"))
    service = guard(farm(tmp_path, broker.port))
    assert wait_until(lambda: standing(service), 10)
    assert not service.healthy()
    assert wait_until(lambda: service.store.outbox.since(0))
    (said,) = service.store.outbox.since(0)
    assert "the broker takes what boards send, but does not pass it on" in said.title
    assert "rearing-monitor check --broker" in said.body
    site = site_now(service.store, build_plan(service.settings), system_clock_ms())
    words = Localizer.of_site(service.settings, system_clock_ms())
    shown = " ".join(line.text.strip() for line in now_lines(site, words))
    assert "the broker takes what boards send, but does not pass it on: topic or rights" in shown
    assert "rearing-monitor check --broker" in shown
    alarms = SiteReader(service.store, build_plan(service.settings), system_clock_ms()).alarms()
    what, do = broker_fault(alarms, words)
    assert what == "The broker takes what boards send, but does not pass it on: topic or rights."
    assert "rearing-monitor check --broker" in do


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
@pytest.mark.parametrize(
    "lines",
    [
        "user monitor\ntopic readwrite rearing/yard/#",
        # Boards are bound to their own topics by their user name, as the notes for boards recommend.
        "pattern write rearing/yard/%u/#\nuser monitor\ntopic read rearing/yard/#",
        "pattern write rearing/yard/%c/#\nuser monitor\ntopic read rearing/yard/#",
    ],
)
def test_rules_that_let_boards_through_prove_the_way(
    tmp_path: Path, make_mosquitto: Make, guard: Callable[[Settings], Service], lines: str, protocol: str
) -> None:
    passwords, access = tmp_path / "passwords", tmp_path / "acl"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "monitor", "wet bran 7"], check=True)
    access.write_text(lines + "\n")
    passwords.chmod(0o700)
    access.chmod(0o700)
    broker = make_mosquitto(f"password_file {passwords}", f"acl_file {access}", anonymous=False)
    login = {"username": "monitor", "password": "wet bran 7"}
    service = guard(farm(tmp_path, broker={"port": broker.port, "protocol": protocol, **login}))
    assert wait_until(lambda: service.subscriber.proof.way is proof.Way.PROVEN, 10)
    assert service.subscriber.proof.problem is None
    assert not standing(service)
    assert service.store.nodes.every() == (), "its own message is no board"


@pytest.mark.parametrize("kind", ["mosquitto_broker", "embedded_broker"])
def test_without_rules_the_way_is_proven_after_each_connection(
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    guard: Callable[[Settings], Service],
    kind: str,
) -> None:
    came: list[bytes] = []
    take = proof.WayProof.came

    def note(own: proof.WayProof, payload: bytes) -> bool:
        came.append(payload)
        return take(own, payload)

    monkeypatch.setattr(proof.WayProof, "came", note)
    service = guard(farm(tmp_path, request.getfixturevalue(kind).port))
    for count in (1, 2):
        assert wait_until(lambda count=count: len(set(came)) == count, 10)
        assert wait_until(lambda: service.subscriber.proof.way is proof.Way.PROVEN, 10)
        service.subscriber.reconnect()


def test_rules_that_are_mended_while_it_runs_end_the_alarm(
    tmp_path: Path, make_mosquitto: Make, guard: Callable[[Settings], Service]
) -> None:
    broker = make_mosquitto(rules(tmp_path, "other-yard"))
    service = guard(farm(tmp_path, broker.port))
    assert wait_until(lambda: standing(service), 10)
    assert service.subscriber.proof.problem is not None
    # MQTT 5: the broker says that it refuses, so it is a matter of rights.
    assert str(service.subscriber.proof.problem).startswith("the broker refuses what this program sends")
    (tmp_path / "acl-other-yard").write_text("topic readwrite rearing/yard/#\n")
    broker.process.send_signal(signal.SIGHUP)
    assert wait_until(lambda: not standing(service), 10)


def test_a_second_monitor_is_no_board(
    tmp_path: Path, mosquitto_broker: Any, guard: Callable[[Settings], Service]
) -> None:
    port = mosquitto_broker.port
    (tmp_path / "second").mkdir()
    first = guard(farm(tmp_path, port))
    assert wait_until(lambda: first.subscriber.proof.way is proof.Way.PROVEN, 10)
    second = guard(farm(tmp_path / "second", broker={"port": port, "client_id": "second-monitor"}))
    assert wait_until(lambda: second.subscriber.proof.way is proof.Way.PROVEN, 10)
    assert first.store.nodes.every() == ()
    assert first.store.nodes.without_name() is None
