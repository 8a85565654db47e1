"""SIGKILL under load, twenty times: every reading that the broker acknowledged is stored exactly once."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from service_farm import NODES, pack, wait_until

from monitor.records import SensorKey
from monitor.store import Store

KILLS = 20
FARM = """
[site]
id = "yard"
title = "Yard"
time_zone = "Africa/Gaborone"
[store]
path = "yard.sqlite"
[broker]
port = {port}
[[recipients]]
id = "keeper"
address = "folder://{folder}/inbox"
"""


class Boards:
    """Publishes for five boards without a pause, QoS 1, and remembers what the broker acknowledged."""

    def __init__(self, port: int) -> None:
        self._sent: dict[int, tuple[str, int]] = {}
        self._confirmed: set[int] = set()
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, "boards", protocol=mqtt.MQTTv311)
        self._client.on_publish = lambda _client, _data, number, *_: self._confirmed.add(number)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        sequence = 0
        while not self._stopping.is_set():
            sequence += 1
            at_ms = time.time_ns() // 1_000_000
            for node in NODES:
                payload = pack(at_ms, 28.0 + sequence % 5, sequence)
                sent = self._client.publish(f"rearing/yard/{node}/readings", payload, 1)
                assert sent.mid not in self._sent, "packet numbers have come round; publish less"
                self._sent[sent.mid] = (node, at_ms)
            time.sleep(0.02)

    def stop(self) -> None:
        """Stop publishing and wait until the broker has acknowledged all of it."""
        self._stopping.set()
        self._thread.join(5)
        assert wait_until(lambda: self._confirmed == set(self._sent))
        self._client.disconnect()
        self._client.loop_stop()

    @property
    def acknowledged(self) -> dict[str, list[int]]:
        """Times of the acknowledged readings by board."""
        found: dict[str, list[int]] = {node: [] for node in NODES}
        for number in self._confirmed:
            node, at_ms = self._sent[number]
            found[node].append(at_ms)
        return {node: sorted(times) for node, times in found.items()}


@pytest.fixture
def start_monitor(tmp_path: Path) -> Iterator[Callable[[int], subprocess.Popen[bytes]]]:
    """Starts `rearing-monitor run` on a broker's port, as many times as asked."""
    running: list[subprocess.Popen[bytes]] = []

    def start(port: int) -> subprocess.Popen[bytes]:
        settings = tmp_path / "farm.toml"
        settings.write_text(FARM.format(port=port, folder=tmp_path))
        settings.chmod(0o600)
        command = [sys.executable, "-m", "monitor", "run", "--config", str(settings)]
        with (tmp_path / "run.log").open("ab") as log:
            process = subprocess.Popen(command, stdout=log, stderr=log)
        running.append(process)
        return process

    yield start
    for process in running:
        if process.poll() is None:
            process.kill()
        process.wait(10)


def stored(path: Path) -> dict[str, list[int]]:
    """Times of all stored readings by board."""
    found = {}
    with Store.read_only(path) as store:
        for node in NODES:
            sensor = SensorKey(node, "", "substrate_temperature")
            found[node] = store.readings.series(sensor, 0, 2**50).at_ms.tolist()
    return found


def count(path: Path) -> int:
    """Number of stored readings; 0 while there is no database yet."""
    return sum(len(times) for times in stored(path).values()) if path.exists() else 0


@pytest.mark.mosquitto
@pytest.mark.slow
@pytest.mark.timeout(400)
def test_sigkill_twenty_times_under_load_loses_and_doubles_nothing(
    tmp_path: Path,
    mosquitto_broker: object,
    start_monitor: Callable[[int], subprocess.Popen[bytes]],
) -> None:
    port, database = int(mosquitto_broker.port), tmp_path / "yard.sqlite"  # type: ignore[attr-defined]
    rng = random.Random(11)
    process = start_monitor(port)
    assert wait_until(database.exists)
    # The session must exist in the broker before the first reading, or there is nothing to keep.
    assert wait_until(lambda: b"connected" in (tmp_path / "run.log").read_bytes())
    boards = Boards(port)
    for _ in range(KILLS):
        before = count(database)
        assert wait_until(lambda before=before: count(database) > before)
        time.sleep(rng.uniform(0.0, 0.5))
        os.kill(process.pid, signal.SIGKILL)
        process.wait(10)
        process = start_monitor(port)
    boards.stop()
    expected = boards.acknowledged
    total = sum(len(times) for times in expected.values())
    assert wait_until(lambda: count(database) >= total, 60.0)
    assert stored(database) == expected
    print(f"{total} acknowledged readings, {KILLS} kills: all stored once")
    process.send_signal(signal.SIGTERM)
    assert process.wait(15) == 0
