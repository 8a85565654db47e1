"""Intake: the whole commit of the store beside the bare loop of json and sqlite3.

Both take the same messages in the same batches with the same durability (WAL, synchronous=FULL). The bare
loop keeps nothing but the readings; the store also keeps identities, node facts, hours and counts. Parsing by
the rules of RFC 8428 is measured apart.
"""

from __future__ import annotations

import itertools
import json
import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from monitor.intake.payload import Topics, understand
from monitor.records import Batch, Flag, FlaggedMessage, FlaggedReading, IncomingMessage, NodeMessage
from monitor.store import Store

NODES = 100
BATCH = 500
BATCHES = 8
START_S = 1_770_000_000
TOPICS = Topics("saltbush-yard")

Payload = tuple[str, bytes, int]


def _payloads(round_number: int) -> list[Payload]:
    """One round of messages: each node every ten seconds, four readings a message."""
    made = []
    for number in range(BATCH * BATCHES):
        turn, node = divmod(number + round_number * BATCH * BATCHES, NODES)
        at_s = START_S + turn * 10
        pack = [
            {"bn": f"urn:dev:mac:{node:012x}:", "bt": at_s, "n": "air_temperature", "u": "Cel", "v": 28.25},
            {"n": "air_humidity", "u": "%RH", "v": 64.5 + node % 7},
            {"n": "bin1/substrate_temperature", "u": "Cel", "v": 33.125},
            {"n": "battery", "u": "V", "v": 3.9},
            {"n": "boot", "u": "count", "v": 7},
            {"n": "sequence", "u": "count", "v": turn},
        ]
        made.append((f"node-{node}", json.dumps(pack).encode(), at_s * 1000 + 200))
    return made


def _understood(payload: Payload) -> FlaggedMessage:
    node, body, received_ms = payload
    topic = f"rearing/saltbush-yard/{node}/readings"
    message = understand(IncomingMessage(topic, body, received_ms), TOPICS)
    assert isinstance(message, NodeMessage)
    flagged = tuple(FlaggedReading(reading, Flag.PASS, reading.value) for reading in message.readings)
    return FlaggedMessage(message, flagged)


class Bare:
    """The least that keeps readings: json, one table, one transaction a batch."""

    def __init__(self, path: Path) -> None:
        self.connection = sqlite3.connect(path, isolation_level=None)
        self.connection.execute("PRAGMA journal_mode=WAL")
        self.connection.execute("PRAGMA synchronous=FULL")
        self.connection.execute(
            "CREATE TABLE reading(sensor_id INTEGER, at_ms INTEGER, value REAL, flag INTEGER, "
            "PRIMARY KEY(sensor_id, at_ms)) STRICT, WITHOUT ROWID"
        )
        self.numbers: dict[tuple[str, str], int] = {}

    def take(self, payloads: list[Payload]) -> None:
        """Parse and commit batch by batch."""
        for some in _batches(payloads):
            rows = [row for payload in some for row in self._rows(payload)]
            self.connection.execute("BEGIN IMMEDIATE")
            self.connection.executemany("INSERT INTO reading VALUES(?, ?, ?, ?)", rows)
            self.connection.execute("COMMIT")

    def _rows(self, payload: Payload) -> Iterator[tuple[int, int, float, int]]:
        node, body, _ = payload
        pack = json.loads(body)
        at_ms = round(pack[0]["bt"] * 1000)
        for record in pack:
            if record["u"] != "count":
                number = self.numbers.setdefault((node, record["n"]), len(self.numbers))
                yield number, at_ms, record["v"], 1


def _batches(items: list[Any]) -> Iterator[list[Any]]:
    return (items[at : at + BATCH] for at in range(0, len(items), BATCH))


def _commit(store: Store, messages: list[FlaggedMessage]) -> None:
    for some in _batches(messages):
        store.commit(Batch(now_ms=some[-1].message.received_ms, messages=tuple(some)))


@pytest.mark.benchmark(group="intake")
def test_store_against_the_bare_loop(benchmark: BenchmarkFixture, figure: Any, tmp_path: Path) -> None:
    """Each round hands the same messages to both, one after the other."""
    bare, numbers = Bare(tmp_path / "bare.sqlite"), itertools.count()
    times_s: dict[str, list[float]] = {"bare": [], "commit": [], "parse": []}

    def measure(name: str, work: Callable[[], object]) -> None:
        started = time.perf_counter()
        work()
        times_s[name].append(time.perf_counter() - started)

    def compare(payloads: list[Payload]) -> None:
        understood: list[FlaggedMessage] = []
        measure("bare", lambda: bare.take(payloads))
        measure("parse", lambda: understood.extend(map(_understood, payloads)))
        measure("commit", lambda: _commit(store, understood))

    with Store.open(tmp_path / "store.sqlite") as store:
        benchmark.pedantic(
            compare, setup=lambda: ((_payloads(next(numbers)),), {}), rounds=8, warmup_rounds=1, iterations=1
        )
    bare.connection.close()
    bare_s, commit_s, parse_s = (statistics.median(times_s[name][1:]) for name in ("bare", "commit", "parse"))
    figure("store against json + sqlite3", bare_s / commit_s, at_least=0.7)
    figure("parsing and store against json + sqlite3", bare_s / (parse_s + commit_s))
