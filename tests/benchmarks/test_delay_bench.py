"""From publishing a reading to handing its alarm to the channel, and the whole intake against a bare loop.

Goals (DEVELOPERS.md, speed): 99 % of alarms under 1 s at 1,000 nodes with one message each 10 s, and intake
at least 70 % of the bare loop (paho + json + sqlite3 with the same durability).
"""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import numpy as np
import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.records import MessageKind
from monitor.service import Service
from monitor.settings.schema import Settings

NODES = 1000
INTERVAL_S = 10.0
RUN_S = 30.0
ALARMS_PER_S = 2
MESSAGES = 10_000


def farm(folder: Path, port: int) -> Settings:
    """A thousand bins with a board each; a first reading too hot is an alarm at once."""
    return Settings.model_validate(
        {
            "site": {"id": "yard", "title": "Yard", "time_zone": "UTC"},
            "store": {"path": str(folder / "yard.sqlite")},
            "broker": {"port": port},
            "places": [{"id": f"bin-{n}", "kind": "grow_out_bin"} for n in range(NODES)],
            "nodes": [{"id": f"n{n}", "place": f"bin-{n}", "interval_s": INTERVAL_S} for n in range(NODES)],
            "recipients": [
                {"id": "keeper", "address": f"folder://{folder / 'inbox'}", "most_per_hour": 1000}
            ],
            "rules": [
                {
                    "place_kind": "grow_out_bin",
                    "quantity": "substrate_temperature",
                    "side": "high",
                    "priority": "high",
                    "on_delay_minutes": 0,
                }
            ],
        }
    )


def pack(value: float, sequence: int) -> bytes:
    """One reading, now."""
    return json.dumps(
        [
            {"bt": time.time(), "n": "substrate_temperature", "u": "Cel", "v": value},
            {"n": "air_temperature", "u": "Cel", "v": 27.5},
            {"n": "boot", "u": "count", "v": 1},
            {"n": "sequence", "u": "count", "v": sequence},
        ]
    ).encode()


def publisher(port: int) -> mqtt.Client:
    """A connected client."""
    client = mqtt.Client(CallbackAPIVersion.VERSION2, "boards")
    client.max_inflight_messages_set(1000)
    client.connect("127.0.0.1", port)
    client.loop_start()
    return client


@pytest.mark.benchmark
@pytest.mark.mosquitto
def test_delay_from_reading_to_message(
    tmp_path: Path, mosquitto_broker: Any, benchmark: Any, figure: Any
) -> None:
    port = mosquitto_broker.port
    service = Service(farm(tmp_path, port))
    service.start()
    service.subscriber.wait_connected(10)
    client = publisher(port)
    hot: dict[str, float] = {}

    def run() -> None:
        start, sent = time.monotonic(), 0
        while time.monotonic() - start < RUN_S:
            node = sent % NODES
            is_hot = sent % (int(NODES / INTERVAL_S) // ALARMS_PER_S) == 0 and f"bin-{node}" not in hot
            client.publish(f"rearing/yard/n{node}/readings", pack(47.0 if is_hot else 28.0, sent // NODES), 1)
            if is_hot:
                hot[f"bin-{node}"] = time.time()
            sent += 1
            wait = start + sent * INTERVAL_S / NODES - time.monotonic()
            if wait > 0:
                time.sleep(wait)
        time.sleep(3)

    benchmark.pedantic(run, rounds=1)
    delays = [
        message.sent_ms / 1000 - hot[(message.alarm_id or "").split("/")[0]]
        for message in service.store.outbox.since(0)
        if message.kind is MessageKind.ALARM and message.sent_ms and "/high/high" in str(message.alarm_id)
    ]
    service.stop()
    assert len(delays) == len(hot)
    median_s, most_s = np.percentile(delays, [50, 99])
    figure("reading to message, median", float(median_s), "s")
    figure("reading to message, 99 %", float(most_s), "s", at_most=1.0)


def bare_loop(port: int, path: Path, client: mqtt.Client) -> float:
    """Messages per second of paho + json + sqlite3, committed in batches before the acknowledgement."""
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

    def write() -> None:
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

    thread = threading.Thread(target=write, daemon=True)
    thread.start()
    subscribed.wait(5)
    rate = timed(client, done.is_set)
    listener.disconnect()
    listener.loop_stop()
    return rate


def timed(client: mqtt.Client, finished: Callable[[], bool]) -> float:
    """Publish all messages as fast as they go and return messages per second until all were taken."""
    payloads = [pack(28.0 + n % 3, n // NODES) for n in range(MESSAGES)]
    start = time.perf_counter()
    for n, payload in enumerate(payloads):
        client.publish(f"rearing/yard/n{n % NODES}/readings", payload, 1)
    while not finished():
        time.sleep(0.002)
    return MESSAGES / (time.perf_counter() - start)


@pytest.mark.benchmark
@pytest.mark.mosquitto
def test_intake_against_the_bare_loop(
    tmp_path: Path, make_mosquitto: Callable[[], Any], benchmark: Any, figure: Any
) -> None:
    rates: dict[str, list[float]] = {"bare": [], "monitor": []}

    @contextmanager
    def fresh_broker() -> Iterator[mqtt.Client]:
        """A broker of its own for each phase: no session holds a backlog of the other phase."""
        broker = make_mosquitto()
        client = publisher(broker.port)
        yield client
        client.disconnect()
        client.loop_stop()
        broker.stop()

    def both() -> None:
        number = len(rates["bare"])
        with fresh_broker() as client:
            rates["bare"].append(bare_loop(client.port, tmp_path / f"bare{number}.sqlite", client))
        folder = tmp_path / f"monitor{number}"
        folder.mkdir()
        with fresh_broker() as client:
            service = Service(farm(folder, client.port))
            service.start()
            service.subscriber.wait_connected(10)
            rates["monitor"].append(timed(client, lambda: service.processor.taken >= MESSAGES))
            service.stop()

    benchmark.pedantic(both, rounds=3)
    bare, ours = (float(np.median(rates[name])) for name in ("bare", "monitor"))
    figure("bare loop", bare, "messages/s")
    figure("intake", ours, "messages/s")
    figure("intake against the bare loop", ours / bare, at_least=0.7)
