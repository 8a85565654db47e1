"""A board without a clock and a 3.1.1 broker that goes away: what comes afterwards is dated rightly."""

from __future__ import annotations

import json
import selectors
import socket
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from service_farm import farm, wait_until

from monitor.intake import connection
from monitor.records import SensorKey
from monitor.service import Service

pytestmark = [pytest.mark.mosquitto, pytest.mark.slow]
STEP_S = 1.2
"""Readings that come faster have no rhythm that the monitor would learn."""
NEAR_S = 0.6


class Board:
    """Measures each STEP_S, keeps what it cannot send, and brings it in one pack with negative times."""

    def __init__(self, port: int) -> None:
        self.port, self.sequence, self.truth = port, 0, {}  # type: tuple[int, int, dict[float, float]]
        self.kept: list[tuple[float, float]] = []
        self.client: mqtt.Client | None = None

    def measure(self) -> None:
        """One reading, kept."""
        value = 20.0 + len(self.truth) * 0.5
        self.truth[value] = time.time()
        self.kept.append((value, self.truth[value]))

    def send(self) -> None:
        """All that is kept, in one pack, confirmed by the broker."""
        if self.client is None:
            self.client = mqtt.Client(CallbackAPIVersion.VERSION2, "node-1", protocol=mqtt.MQTTv311)
            self.client.connect("127.0.0.1", self.port)
            self.client.loop_start()
        now = time.time()
        records = [
            {"n": "substrate_temperature", "u": "Cel", "v": value, "t": round(at - now, 3)}
            for value, at in self.kept
        ]
        counters = (("boot", 1), ("sequence", self.sequence))
        pack = records + [{"n": name, "u": "count", "v": count} for name, count in counters]
        self.client.publish("rearing/yard/node-1/readings", json.dumps(pack), 1).wait_for_publish(5)
        self.sequence += 1
        self.kept.clear()

    def rounds(self, count: int, *, sends: bool = True) -> None:
        for _ in range(count):
            self.measure()
            if sends:
                self.send()
            time.sleep(STEP_S)

    def hang_up(self) -> None:
        if self.client is not None:
            self.client.disconnect()
            self.client.loop_stop()
            self.client = None


def off_by_s(service: Service, board: Board) -> dict[float, float]:
    """By how much each reading was dated wrongly [s]; all of them must be there."""
    series = service.store.readings.series(SensorKey("node-1", "", "substrate_temperature"), 0, 2**62)
    stored = dict(zip((round(float(value), 3) for value in series.value), series.at_ms, strict=True))
    assert stored.keys() == board.truth.keys()
    return {value: round(float(stored[value]) / 1000 - at, 2) for value, at in board.truth.items()}


def count(service: Service) -> int:
    facts = service.store.nodes.one("node-1")
    return 0 if facts is None else facts.messages


def monitor(folder: Path, port: int) -> Service:
    service = Service(farm(folder, broker={"port": port, "protocol": "3.1.1"}))
    service.start()
    service.subscriber.wait_connected(10)
    return service


def test_a_broker_that_was_down_while_the_monitor_ran_has_queued_nothing(
    tmp_path: Path, mosquitto_broker: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "delay_s", lambda *_: 0.3)
    service, board = monitor(tmp_path, mosquitto_broker.port), Board(mosquitto_broker.port)
    board.rounds(4)
    mosquitto_broker.wait_saved()
    board.hang_up()
    mosquitto_broker.kill()
    board.rounds(3, sends=False)
    mosquitto_broker.start()
    assert wait_until(lambda: service.subscriber.connected)
    assert wait_until(lambda: service.subscriber._drained)
    board.rounds(3)
    assert wait_until(lambda: count(service) == 7)
    wrong = {value: off_s for value, off_s in off_by_s(service, board).items() if abs(off_s) > NEAR_S}
    assert wrong == {}
    facts = service.store.nodes.one("node-1")
    assert facts is not None and facts.clock_fault is None
    service.stop()
    board.hang_up()


def test_what_a_broker_had_queued_before_it_went_down_is_dated_by_its_place(
    tmp_path: Path, mosquitto_broker: Any
) -> None:
    service, board = monitor(tmp_path, mosquitto_broker.port), Board(mosquitto_broker.port)
    board.rounds(4)
    assert wait_until(lambda: count(service) == 4)
    service.stop()
    board.rounds(3)
    mosquitto_broker.wait_saved()
    board.hang_up()
    mosquitto_broker.kill()
    time.sleep(2 * STEP_S)
    mosquitto_broker.start()
    again = monitor(tmp_path, mosquitto_broker.port)
    assert wait_until(lambda: again.subscriber._drained)
    board.rounds(1)
    assert wait_until(lambda: count(again) == 8)
    wrong = {value: off_s for value, off_s in off_by_s(again, board).items() if abs(off_s) > NEAR_S}
    assert wrong == {}
    again.stop()
    board.hang_up()


class Cable:
    """Passes bytes between monitor and broker; while it is cut, nothing comes through."""

    def __init__(self, port: int) -> None:
        self._broker_port, self.cut = port, threading.Event()
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        other: dict[socket.socket, socket.socket] = {}
        with selectors.DefaultSelector() as ready:
            ready.register(self._listening, selectors.EVENT_READ)
            while not self._ended.is_set():
                if self.cut.is_set():
                    time.sleep(0.05)
                    continue
                for key, _ in ready.select(0.05):
                    if key.fileobj is self._listening:
                        near, far = self._listening.accept()[0], socket.socket()
                        far.connect(("127.0.0.1", self._broker_port))
                        other.update({near: far, far: near})
                        for one in (near, far):
                            ready.register(one, selectors.EVENT_READ)
                        continue
                    assert isinstance(key.fileobj, socket.socket)
                    end = key.fileobj
                    with suppress(OSError, KeyError):
                        data = end.recv(65536)
                        if data:
                            other[end].sendall(data)
                            continue
                    for each in (end, other.pop(end, end)):
                        other.pop(each, None)
                        with suppress(KeyError, ValueError):
                            ready.unregister(each)
                        each.close()
        for each in (*other, self._listening):
            each.close()

    def end(self) -> None:
        self._ended.set()
        self._thread.join(5)


def test_what_was_sent_before_a_dead_line_was_noticed_is_dated_rightly(
    tmp_path: Path, mosquitto_broker: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The line is cut; monitor and broker notice that after one and a half keep-alive times."""
    monkeypatch.setattr(connection, "delay_s", lambda *_: 0.3)
    cable, board = Cable(mosquitto_broker.port), Board(mosquitto_broker.port)
    settings = farm(tmp_path, broker={"port": cable.port, "protocol": "3.1.1", "keep_alive_s": 5})
    service = Service(settings)
    service.start()
    service.subscriber.wait_connected(10)
    board.rounds(4)
    assert wait_until(lambda: count(service) == 4)
    cable.cut.set()
    board.rounds(9)
    assert wait_until(lambda: not service.subscriber.connected, 30)
    cable.cut.clear()
    assert wait_until(lambda: service.subscriber._drained and service.subscriber.connected, 30)
    board.rounds(1)
    assert wait_until(lambda: count(service) == 14)
    wrong = {value: off_s for value, off_s in off_by_s(service, board).items() if abs(off_s) > NEAR_S}
    assert wrong == {}
    service.stop()
    board.hang_up()
    cable.end()
