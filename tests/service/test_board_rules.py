"""The broker as `broker setup` makes it: the monitor proves its way, and each board hears its own alone."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from service_farm import farm, pack, wait_until
from tls_broker import MONITOR_PASSWORD, TlsBroker

from monitor.intake.proof import Way
from monitor.service import Service

pytestmark = pytest.mark.mosquitto


class Board:
    """A board with its own user, over TLS, that listens to all that it is let."""

    def __init__(self, broker: TlsBroker, name: str, password: str) -> None:
        self.name, self.heard = name, {}  # type: tuple[str, dict[str, bytes]]
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2, "any", protocol=mqtt.MQTTv311)
        self.client.username_pw_set(name, password)
        self.client.tls_set(ca_certs=str(broker.ca_file))
        self.client.on_message = self._on_message
        self.client.connect("127.0.0.1", broker.boards_port)
        self.client.subscribe([("rearing/#", 1)])
        self.client.loop_start()

    def _on_message(self, _client: object, _data: object, message: mqtt.MQTTMessage) -> None:
        self.heard[message.topic.removeprefix("rearing/yard/")] = bytes(message.payload)

    def send(self, kind: str, payload: bytes, of: str = "", retain: bool = False) -> None:
        self.client.publish(f"rearing/yard/{of or self.name}/{kind}", payload, 1, retain).wait_for_publish(10)

    def stop(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[TlsBroker]:
    with TlsBroker(tmp_path / "broker", "yard") as running:
        yield running


def settings_of(folder: Path, broker: TlsBroker) -> Any:
    login = {"username": "rearing-monitor", "password": MONITOR_PASSWORD}
    nodes = [{"id": name, "place": "bin-1", "interval_s": 60} for name in ("node-1", "node-2")]
    return farm(folder, broker={"port": broker.monitor_port, **login}, nodes=nodes)


def test_what_a_board_asks_and_reports_reaches_it_and_no_other(tmp_path: Path, broker: TlsBroker) -> None:
    service = Service(settings_of(tmp_path, broker))
    service.start()
    boards = [Board(broker, name, broker.add_user(name)) for name in ("node-1", "node-2")]
    first, second = boards
    try:
        service.subscriber.wait_connected(10)
        assert wait_until(lambda: service.subscriber.proof.way is Way.PROVEN)
        now_ms = service._clock()
        for sequence in range(3):
            first.send("readings", pack(now_ms - 1000 * (3 - sequence), 28.0, sequence))
        first.send("report", b'{"version":"0.1.0","boot":1}', retain=True)
        assert wait_until(lambda: "node-1/settings" in first.heard)
        assert json.loads(first.heard["node-1/settings"])["interval_s"] == 60

        def answered() -> bool:
            first.send("ask", b'{"id":5,"boot":1,"first":0,"last":2}')
            return wait_until(lambda: b'"done": 2' in first.heard.get("node-1/time", b""), 0.5)

        assert wait_until(answered)
        # One board as another: the broker confirms it under MQTT 3.1.1, and nobody hears it.
        second.send("report", b'{"version":"0.1.0","boot":1}', of="node-2-b", retain=True)
        second.send("readings", pack(now_ms, 99.0, 3), of="node-1")
        second.send("settings", b"{}", of="node-1", retain=True)
        second.send("ask", b'{"id":6}')
        assert wait_until(lambda: b'"id": 6' in second.heard.get("node-2/time", b""))
        facts = service.store.nodes.one("node-1")
        assert facts is not None and facts.messages == 3
        assert set(service.store.board_reports.every()) == {"node-1"}
        assert {topic.split("/")[0] for topic in first.heard} <= {"node-1", "service", "sounder"}
        assert {topic.split("/")[0] for topic in second.heard} <= {"node-2", "service", "sounder"}
        assert first.heard["service"] == second.heard["service"] == b"online"
        assert first.heard["sounder"] == b"off"
    finally:
        service.stop()
        assert wait_until(lambda: all(board.heard.get("service") == b"offline" for board in boards))
        for board in boards:
            board.stop()


RUN = """
import sys, time
sys.path.insert(0, {builders!r})
from pathlib import Path
from service_farm import farm
from monitor.service import Service
service = Service(farm(Path({folder!r}), {port}))
service.start()
service.subscriber.wait_connected(10)
print("up", flush=True)
time.sleep(60)
"""


def test_a_killed_monitor_is_offline_by_its_will_so_that_boards_beep(
    tmp_path: Path, mosquitto_broker: Any
) -> None:
    heard: list[bytes] = []
    board = mqtt.Client(CallbackAPIVersion.VERSION2, "board", protocol=mqtt.MQTTv311)
    board.on_message = lambda _client, _data, message: heard.append(bytes(message.payload))
    board.connect("127.0.0.1", mosquitto_broker.port)
    board.subscribe("rearing/yard/service", 1)
    board.loop_start()
    builders = str(Path(__file__).parents[1] / "builders")
    code = RUN.format(builders=builders, folder=str(tmp_path), port=mosquitto_broker.port)
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None and process.stdout.readline() == b"up\n"
        assert wait_until(lambda: heard[-1:] == [b"online"])
        process.kill()
        assert wait_until(lambda: heard[-1:] == [b"offline"])
    board.disconnect()
    board.loop_stop()
