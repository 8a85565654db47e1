"""The whole intake, from the broker to the acknowledgement, beside a bare loop of paho, json and sqlite3.

Each phase has a broker of its own, so that no session drains what the phase before has left, and the boards
publish from another process. What is counted is the CPU of this process: the clock on the wall also counts
whoever else uses the machine, and is printed beside it. Both write with the same durability (WAL,
synchronous=FULL).
"""

from __future__ import annotations

import json
import sqlite3
import statistics
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from outside_publisher import Publisher, publishing
from paho.mqtt.enums import CallbackAPIVersion
from service_farm import wait_until, wide_farm

from monitor.service import Service

BOARDS = 1000
MESSAGES = 10_000
ROUNDS = 5
MESSAGES_PER_S = 10_000 / 60
STEADY_S = 30.0


@dataclass(frozen=True)
class Cost:
    """What a phase took."""

    cpu_s: float
    wall_s: float

    @classmethod
    def of(cls, work: Callable[[], object]) -> Cost:
        """Of some work, all threads of this process counted."""
        cpu_s, wall_s = time.process_time(), time.perf_counter()
        work()
        return cls(time.process_time() - cpu_s, time.perf_counter() - wall_s)


@contextmanager
def bare_loop(port: int, path: Path) -> Iterator[threading.Event]:
    """Takes messages, commits them in batches, acknowledges; the event says that all were taken."""
    queue: SimpleQueue[mqtt.MQTTMessage] = SimpleQueue()
    done, subscribed = threading.Event(), threading.Event()
    listener = mqtt.Client(
        CallbackAPIVersion.VERSION2, "bare", clean_session=False, protocol=mqtt.MQTTv311, manual_ack=True
    )
    listener.on_message = lambda _c, _d, message: queue.put(message)
    listener.on_subscribe = lambda *_: subscribed.set()
    listener.connect("127.0.0.1", port)
    listener.subscribe("rearing/yard/+/readings", 1)
    listener.loop_start()
    thread = threading.Thread(target=_write, args=(listener, queue, path, done), daemon=True)
    thread.start()
    assert subscribed.wait(10)
    yield done
    listener.disconnect()
    listener.loop_stop()


def _write(
    listener: mqtt.Client, queue: SimpleQueue[mqtt.MQTTMessage], path: Path, done: threading.Event
) -> None:
    connection = sqlite3.connect(path)
    connection.executescript(
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
        "CREATE TABLE reading(sensor TEXT, at REAL, value REAL, PRIMARY KEY(sensor, at)) WITHOUT ROWID"
    )
    taken = 0
    while taken < MESSAGES:
        batch = [queue.get()]
        while len(batch) < 500 and not queue.empty():
            batch.append(queue.get())
        rows = []
        for message in batch:
            records = json.loads(message.payload)
            at, node = records[0]["bt"], message.topic.split("/")[2]
            rows += [(f"{node}/{record['n']}", at, record["v"]) for record in records[:2]]
        with connection:
            connection.executemany("INSERT OR IGNORE INTO reading VALUES(?,?,?)", rows)
        for message in batch:
            listener.ack(message.mid, message.qos)
        taken += len(batch)
    connection.close()
    done.set()


@contextmanager
def whole_service(folder: Path, port: int, boards: int, interval_s: float) -> Iterator[Service]:
    """The service, connected."""
    folder.mkdir()
    service = Service(wide_farm(folder, port, boards, interval_s))
    service.start()
    service.subscriber.wait_connected(10)
    yield service
    service.stop()


@pytest.mark.benchmark
@pytest.mark.mosquitto
def test_intake_against_the_bare_loop(
    tmp_path: Path, make_mosquitto: Callable[[], Any], benchmark: Any, figure: Any
) -> None:
    costs: dict[str, list[Cost]] = {"bare": [], "monitor": []}

    def bare(number: int) -> Cost:
        port = make_mosquitto().port
        with (
            bare_loop(port, tmp_path / f"bare{number}.sqlite") as done,
            publishing(port, MESSAGES, BOARDS) as boards,
        ):
            boards.begin()
            return Cost.of(lambda: done.wait(60))

    def monitor(number: int) -> Cost:
        port = make_mosquitto().port
        with (
            whole_service(tmp_path / f"monitor{number}", port, BOARDS, 10.0) as service,
            publishing(port, MESSAGES, BOARDS) as boards,
        ):
            time.sleep(1.0)
            boards.begin()
            return Cost.of(lambda: wait_until(lambda: service.processor.taken >= MESSAGES, 60.0))

    def both() -> None:
        number = len(costs["bare"])
        costs["bare"].append(bare(number))
        costs["monitor"].append(monitor(number))

    benchmark.pedantic(both, rounds=ROUNDS)
    ratios = {}
    for kind, seconds_of in (("CPU", lambda cost: cost.cpu_s), ("wall clock", lambda cost: cost.wall_s)):
        seconds = {name: statistics.median(map(seconds_of, each)) for name, each in costs.items()}
        ratios[kind] = seconds["bare"] / seconds["monitor"]
        for name, each_s in seconds.items():
            figure(f"{name}, {kind} of one message", each_s / MESSAGES * 1e6, "µs")
    figure("intake against the bare loop, wall clock", ratios["wall clock"])
    figure("intake against the bare loop, CPU", ratios["CPU"], at_least=0.7)


@pytest.mark.benchmark
@pytest.mark.mosquitto
@pytest.mark.parametrize("boards", [1000, 10_000])
def test_cpu_at_ten_thousand_messages_a_minute(
    boards: int, tmp_path: Path, make_mosquitto: Callable[[], Any], benchmark: Any, figure: Any
) -> None:
    """Beside the messages the boards of the settings are looked at every two seconds."""
    port, messages = make_mosquitto().port, round(MESSAGES_PER_S * STEADY_S)
    costs: list[Cost] = []
    with whole_service(tmp_path / "monitor", port, boards, boards / MESSAGES_PER_S) as service:

        def take(publisher: Publisher, until: int) -> None:
            publisher.begin()
            assert wait_until(lambda: service.processor.taken >= until, 120.0)

        with publishing(port, boards, boards) as publisher:
            # Every board is known; one that was never heard is looked for every two seconds.
            take(publisher, boards)
        with publishing(port, messages, boards, MESSAGES_PER_S, boot=2) as publisher:
            time.sleep(3.0)
            benchmark.pedantic(
                lambda: costs.append(Cost.of(lambda: take(publisher, boards + messages))), rounds=1
            )
    name = f"CPU at 167 messages/s, {boards:,} boards in the settings"
    figure(name, 100 * costs[0].cpu_s / costs[0].wall_s, "% of a core", at_most=5.0)
