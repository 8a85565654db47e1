"""The connection to real brokers: mosquitto (MQTT 5 and 3.1.1) and the embedded one (3.1.1)."""

from __future__ import annotations

import socket
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from monitor.errors import BrokerRefused, BrokerUnreachable
from monitor.intake.broker import EmbeddedBroker
from monitor.intake.connection import EXPIRY_S
from monitor.intake.node_clock import Absence
from monitor.intake.subscriber import Subscriber
from monitor.records import IncomingMessage
from monitor.settings.schema import BrokerSettings

SITE = "saltbush-yard"
SERVICE = f"rearing/{SITE}/service"
Make = Callable[..., Any]

mosquitto = pytest.mark.mosquitto


def wait_until(condition: Callable[[], object]) -> None:
    """Return when the condition holds; fail after ten seconds."""
    pause = threading.Event()
    for _ in range(1000):
        if condition():
            return
        pause.wait(0.01)
    raise AssertionError("did not happen in time")


@pytest.fixture(params=[pytest.param("mosquitto", marks=mosquitto), "embedded"])
def port(request: pytest.FixtureRequest) -> int:
    """Each of the two brokers in turn."""
    name = "mosquitto_broker" if request.param == "mosquitto" else "embedded_broker"
    found: int = request.getfixturevalue(name).port
    return found


def test_messages_come_and_what_was_not_acknowledged_comes_again(
    port: int, listen: Make, board: Make
) -> None:
    listener = listen(port).start()
    node = board(port)
    node.publish("0", "1", "2", "3")
    first = listener.take(4)
    assert [one.payload for one in first] == [b"0", b"1", b"2", b"3"]
    assert listener.subscriber.acknowledge(reversed(first[:2])) == 2
    assert listener.nothing_comes()
    listener.subscriber.reconnect()
    again = listener.take(2)
    assert [one.payload for one in again] == [b"2", b"3"]
    assert listener.subscriber.acknowledge(first) == 0
    assert listener.subscriber.acknowledge(again) == 2
    assert listener.nothing_comes()  # time for the broker to see them before the next connection
    listener.subscriber.reconnect()
    wait_until(lambda: listener.subscriber.connected)
    assert listener.nothing_comes()


def test_queue_is_kept_while_the_monitor_is_away(port: int, listen: Make, board: Make) -> None:
    listen(port).start().subscriber.stop()
    board(port).publish(*map(str, range(50)))
    back = listen(port).start()
    assert [one.payload for one in back.take(50)] == [str(number).encode() for number in range(50)]


def test_service_topic_says_online_and_offline(port: int, listen: Make) -> None:
    words: list[bytes] = []
    settings = BrokerSettings(host="127.0.0.1", port=port, client_id="onlooker")
    onlooker = Subscriber(settings, "other", (SERVICE,), lambda message: words.append(message.payload))
    onlooker.start()
    onlooker.wait_connected(10)
    listener = listen(port).start()
    wait_until(lambda: words == [b"online"])
    listener.subscriber.stop()
    wait_until(lambda: words == [b"online", b"offline"])
    onlooker.stop()
    assert not onlooker.alive


def test_a_broker_that_was_not_there_has_queued_nothing() -> None:
    """Where nobody listened at the broker's address, what arrives later was not kept by it until then."""
    subscriber = Subscriber(BrokerSettings(), "yard")
    subscriber.lost_ms, subscriber.connected_ms = 1000, 95_000
    subscriber.down_ms = (2000, 90_000)
    assert subscriber.absence(None) == Absence(1000, 95_000, (2000, 90_000))
    subscriber.down_ms = (200, 500)
    assert subscriber.absence(None) == Absence(1000, 95_000), "that was in an earlier absence"


def test_how_long_nobody_listened_at_the_address() -> None:
    clock = iter((5000, 9000, 70_000, 71_000))
    subscriber = Subscriber(BrokerSettings(), "yard", now_ms=lambda: next(clock))
    subscriber._nobody_listens()
    subscriber._nobody_listens()
    assert subscriber.down_ms == (5000, 9000)
    subscriber.connected_ms, subscriber.lost_ms = 10_000, 60_000
    subscriber._nobody_listens()
    subscriber._nobody_listens()
    assert subscriber.down_ms == (70_000, 71_000), "another time"


def test_absence_covers_what_waited(port: int, listen: Make, board: Make) -> None:
    first = listen(port).start()
    assert first.subscriber.absence(None) is None
    assert first.subscriber.absence(7).start_ms == 7
    first.subscriber.stop()
    stopped_ms = first.subscriber.lost_ms
    board(port).publish("waited")
    back = listen(port).start()
    (message,) = back.take(1)
    absence = back.subscriber.absence(stopped_ms)
    assert absence.start_ms == stopped_ms
    assert absence.start_ms <= absence.end_ms <= message.received_ms


def test_retained_words_are_said_again_after_each_connect(port: int, listen: Make) -> None:
    words: list[IncomingMessage] = []
    settings = BrokerSettings(host="127.0.0.1", port=port, client_id="onlooker")
    onlooker = Subscriber(settings, "other", (f"rearing/{SITE}/sounder",), words.append)
    onlooker.start()
    onlooker.wait_connected(10)
    listener = listen(port)
    assert not listener.subscriber.publish(f"rearing/{SITE}/sounder", "on", retain=True)
    listener.start()
    wait_until(lambda: [one.payload for one in words] == [b"on"])
    assert listener.subscriber.publish(f"rearing/{SITE}/sounder", b"off", retain=True)
    wait_until(lambda: [one.payload for one in words] == [b"on", b"off"])
    onlooker.stop()


def test_deliver_that_fails_leaves_the_message_in_the_broker(port: int, board: Make) -> None:
    taken: list[bytes] = []

    def deliver(message: IncomingMessage) -> None:
        taken.append(message.payload)
        if len(taken) == 1:
            raise RuntimeError("queue full")

    subscriber = Subscriber(BrokerSettings(host="127.0.0.1", port=port), SITE, (), deliver)
    subscriber.start()
    subscriber.wait_connected(10)
    board(port).publish("a")
    wait_until(lambda: taken == [b"a", b"a"])
    assert subscriber.alive
    subscriber.stop()


@mosquitto
@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_each_version_of_the_protocol(
    protocol: str, mosquitto_broker: Any, listen: Make, board: Make
) -> None:
    listener = listen(mosquitto_broker.port, protocol=protocol).start()
    node = board(mosquitto_broker.port, mqtt5=True)
    node.publish("x", ContentType="application/senml+json", MessageExpiryInterval=EXPIRY_S)
    (message,) = listener.take(1)
    with_5 = ("application/senml+json", 0.0)
    assert (message.content_type, message.age_s) == (with_5 if protocol == "5" else (None, None))


@mosquitto
def test_age_in_the_broker_is_known_and_grows(mosquitto_broker: Any, listen: Make, board: Make) -> None:
    listen(mosquitto_broker.port).start().subscriber.stop()
    node = board(mosquitto_broker.port, mqtt5=True)
    node.publish("a", MessageExpiryInterval=EXPIRY_S)
    node.publish("b", MessageExpiryInterval=600, UserProperty=[("expiry", "600")])
    node.publish("c", MessageExpiryInterval=EXPIRY_S - 3600)
    threading.Event().wait(2.1)
    ages = [one.age_s for one in listen(mosquitto_broker.port).start().take(3)]
    assert ages[0] in (2.0, 3.0)
    assert ages[1] in (2.0, 3.0)
    assert ages[2] in (3602.0, 3603.0)


@mosquitto
def test_session_outlives_a_killed_broker(mosquitto_broker: Any, listen: Make, board: Make) -> None:
    listener = listen(mosquitto_broker.port).start()
    node = board(mosquitto_broker.port)
    node.publish("before")
    (message,) = listener.take(1)
    mosquitto_broker.wait_saved()
    mosquitto_broker.kill()
    wait_until(lambda: not listener.subscriber.connected)
    wait_until(lambda: listener.subscriber.problem)
    assert listener.subscriber.acknowledge([message]) == 0
    mosquitto_broker.start()
    wait_until(lambda: listener.subscriber.connected)
    assert [one.payload for one in listener.take(1)] == [b"before"]
    assert listener.subscriber.problem is None
    board(mosquitto_broker.port).publish("after")
    assert [one.payload for one in listener.take(1)] == [b"after"]


@mosquitto
def test_wrong_password_is_said_in_words(make_mosquitto: Make, tmp_path: Path, listen: Make) -> None:
    passwords = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "farm", "right"], check=True)
    passwords.chmod(0o644)
    broker = make_mosquitto(f"password_file {passwords}", anonymous=False)
    for protocol in ("5", "3.1.1", "auto"):
        wrong = listen(broker.port, username="farm", password="wrong", protocol=protocol)
        wrong.subscriber.start()
        with pytest.raises(BrokerRefused, match="the broker refused the user name or password"):
            wrong.subscriber.wait_connected(1)
        assert "wrong" not in (wrong.subscriber.problem or "")
        wrong.subscriber.stop()
    assert listen(broker.port, username="farm", password="right").start().subscriber.connected


def test_denied_topic_is_said_in_words(listen: Make) -> None:
    """A broker that confirms the connection and refuses both subscriptions (MQTT 3.1.1, 3.9.3: 0x80)."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        threading.Thread(target=_refuse_subscriptions, args=(server,), daemon=True).start()
        denied = listen(server.getsockname()[1], protocol="3.1.1")
        denied.subscriber.start()
        wait_until(lambda: denied.subscriber.problem)
        with pytest.raises(BrokerRefused, match=r"does not let us read rearing/saltbush-yard/.*access rules"):
            denied.subscriber.wait_connected(0.1)
        denied.subscriber.stop()


def _refuse_subscriptions(server: socket.socket) -> None:
    client, _ = server.accept()
    with client:
        client.recv(1000)
        client.sendall(b"\x20\x02\x00\x00")
        packet = client.recv(1000)
        client.sendall(b"\x90\x04" + packet[2:4] + b"\x80\x80")
        client.recv(1000)


@mosquitto
def test_same_client_id_twice_is_said_in_words(mosquitto_broker: Any, listen: Make) -> None:
    first = listen(mosquitto_broker.port).start()
    second = listen(mosquitto_broker.port).start()
    wait_until(lambda: "another program uses the same client id" in (first.subscriber.problem or ""))
    second.subscriber.stop()
    first.subscriber.reconnect()
    wait_until(lambda: first.subscriber.connected)


@mosquitto
def test_tls(make_mosquitto: Make, tmp_path: Path, listen: Make) -> None:
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    command = (
        "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 "
        "-subj /CN=localhost -addext subjectAltName=IP:127.0.0.1,DNS:localhost "
        f"-keyout {key} -out {certificate}"
    )
    subprocess.run(command.split(), check=True, capture_output=True)
    key.chmod(0o644)
    broker = make_mosquitto(f"certfile {certificate}", f"keyfile {key}")
    trusting = listen(broker.port, tls=True, ca_file=str(certificate)).start()
    assert trusting.subscriber.connected
    for settings, words in (
        ({"tls": True}, "certificate at 127.0.0.1:.* is not trusted"),
        ({"tls": False}, "hung up without an answer.*the port wants TLS"),
    ):
        other = listen(broker.port, client_id="other", **settings)
        other.subscriber.start()
        with pytest.raises((BrokerRefused, BrokerUnreachable), match=words):
            other.subscriber.wait_connected(1)


def test_tls_against_a_port_without_it(embedded_broker: EmbeddedBroker, listen: Make) -> None:
    other = listen(embedded_broker.port, tls=True)
    other.subscriber.start()
    with pytest.raises(BrokerUnreachable, match=r"no TLS connection|nothing answers"):
        other.subscriber.wait_connected(1)
    assert other.subscriber.alive


def test_certificate_file_that_is_not_there(listen: Make, free_port: int) -> None:
    for key in ("ca_file", "client_certificate"):
        lost = listen(free_port, tls=True, **{key: "nowhere.pem"})
        lost.subscriber.start()
        with pytest.raises(BrokerRefused, match=rf"\[broker\] {key} nowhere.pem .*cannot be used"):
            lost.subscriber.wait_connected(0.5)
        lost.subscriber.stop()


def test_nobody_there(free_port: int, listen: Make) -> None:
    alone = listen(free_port)
    alone.subscriber.start()
    with pytest.raises(
        BrokerUnreachable, match=f"nothing answers at 127.0.0.1:{free_port}.*is the broker running"
    ):
        alone.subscriber.wait_connected(0.5)
    assert alone.subscriber.alive
    assert not alone.subscriber.connected
    alone.subscriber.stop()
    assert not alone.subscriber.alive


def test_something_else_there(listen: Make) -> None:
    """A server that is no broker: the thread lives on and says what it saw."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        answer = threading.Thread(target=_answer_nonsense, args=(server,), daemon=True)
        answer.start()
        confused = listen(server.getsockname()[1], protocol="3.1.1")
        confused.subscriber.start()
        wait_until(lambda: confused.subscriber.problem)
        assert confused.subscriber.alive
    confused.subscriber.stop()


def _answer_nonsense(server: socket.socket) -> None:
    while True:
        try:
            client, _ = server.accept()
        except OSError:
            return
        with client:
            client.recv(100)
            client.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n")


@mosquitto
def test_topic_that_is_no_text_does_not_block_the_rest(
    mosquitto_broker: Any, listen: Make, board: Make
) -> None:
    """Hostile bytes at the broker's door: whatever it passes on, later messages arrive."""
    listener = listen(mosquitto_broker.port).start()
    with socket.create_connection(("127.0.0.1", mosquitto_broker.port)) as raw:
        raw.sendall(b"\x10\x10\x00\x04MQTT\x04\x02\x00\x3c\x00\x04evil")
        topic = f"rearing/{SITE}/".encode() + b"\xff\xfe/readings"
        body = len(topic).to_bytes(2, "big") + topic + b"\x00\x01x"
        raw.sendall(b"\x32" + bytes([len(body)]) + body)
        threading.Event().wait(0.2)
    board(mosquitto_broker.port).publish("fine")
    assert b"fine" in [one.payload for one in listener.take(1)]
