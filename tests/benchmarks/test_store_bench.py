"""Speed and size of the store: bytes a reading, series, hours, latest, pruning.

`test_bytes_on_disk` measures the whole file with hours and message identities: 14 nodes and 40 sensors with
minute data, batches of one minute in the order of arrival, for `DAYS` days.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    Batch,
    Flag,
    FlaggedMessage,
    FlaggedReading,
    NodeMessage,
    Reading,
    SensorKey,
    TimeSource,
)
from monitor.store import Store
from monitor.store.maintenance import KEEP_MESSAGES_DAYS

DAYS = 20
START_MS = 1_770_000_000_000 // MS_PER_DAY * MS_PER_DAY
LEVELS = {
    "air_temperature": (29.0, 4.0),
    "air_humidity": (62.0, 14.0),
    "substrate_temperature": (34.0, 5.0),
    "substrate_moisture": (0.66, 0.05),
    "battery": (3.9, 0.1),
}
QUANTITIES_OF_NODE = (
    *[("air_temperature", "air_humidity", "battery")] * 8,
    *[("substrate_temperature", "substrate_moisture", "battery")] * 4,
    *[("substrate_temperature", "air_humidity")] * 2,
)
NODES = [
    [SensorKey(f"node-{number}", "", quantity) for quantity in quantities]
    for number, quantities in enumerate(QUANTITIES_OF_NODE)
]


def _value(sensor: SensorKey, minute: int) -> float:
    middle, swing = LEVELS[sensor.quantity]
    phase = sum(sensor.node.encode())
    return (
        middle + swing * math.sin(minute / 229.2 + phase) + swing * 0.02 * math.sin(minute * 12.9898 + phase)
    )


def _message(number: int, minute: int) -> FlaggedMessage:
    at_ms = START_MS + minute * MS_PER_MINUTE + number * 4001
    rows = tuple(Reading(sensor, at_ms, _value(sensor, minute)) for sensor in NODES[number])
    heard = NodeMessage(f"node-{number}", at_ms + 180, rows, TimeSource.NODE, 3, minute)
    return FlaggedMessage(heard, tuple(FlaggedReading(row, Flag.PASS, row.value) for row in rows))


def _batch(minute: int) -> Batch:
    messages = tuple(_message(number, minute) for number in range(len(NODES)))
    return Batch(now_ms=START_MS + minute * MS_PER_MINUTE, messages=messages)


def _fill(store: Store, first: int, last: int) -> None:
    """Batches are made durable by the last one: the size does not depend on it."""
    with store.database.read() as connection:
        connection.execute("PRAGMA synchronous=OFF")
    for minute in range(first, last):
        store.commit(_batch(minute))


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Twenty days of a whole farm."""
    with Store.open(tmp_path_factory.mktemp("bench") / "rearing.sqlite") as store:
        _fill(store, 0, DAYS * 1440)
        yield store


@pytest.mark.benchmark(group="store size")
def test_bytes_on_disk(benchmark: BenchmarkFixture, figure: Any, filled: Store) -> None:
    """Readings and hours grow with time, identities stop growing after two weeks: counted for a year."""
    with filled.database.read() as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        count = connection.execute("SELECT count(*) FROM reading").fetchone()[0]
        parts = dict(connection.execute("SELECT name, sum(pgsize) FROM dbstat GROUP BY name"))
    identities = parts.pop("message")
    year = sum(parts.values()) / count + identities / count * KEEP_MESSAGES_DAYS / 365
    figure("a reading on disk after a year", year, "bytes", at_most=20.0)
    benchmark.pedantic(filled.path.stat, rounds=1)


@pytest.mark.benchmark(group="store queries")
def test_night_of_every_sensor(benchmark: BenchmarkFixture, figure: Any, filled: Store) -> None:
    end_ms = START_MS + DAYS * MS_PER_DAY - 5 * MS_PER_HOUR
    sensors = filled.readings.sensors()
    benchmark(lambda: [filled.readings.series(key, end_ms - 12 * MS_PER_HOUR, end_ms) for key in sensors])
    figure("a night of every sensor", 1000 * figure.median_s(), "ms")


@pytest.mark.benchmark(group="store queries")
def test_hours_of_one_sensor(benchmark: BenchmarkFixture, figure: Any, filled: Store) -> None:
    benchmark(filled.summaries.parts, NODES[0][0], START_MS, START_MS + DAYS * MS_PER_DAY, 1)
    figure("hours of one sensor", 1000 * figure.median_s(), "ms")


@pytest.mark.benchmark(group="store queries")
def test_latest_of_every_sensor(benchmark: BenchmarkFixture, figure: Any, filled: Store) -> None:
    benchmark(filled.readings.latest, filled.calibrations.table())
    figure("latest reading of every sensor", 1000 * figure.median_s(), "ms")


@pytest.mark.benchmark(group="store writes")
def test_one_minute_of_the_farm_made_durable(
    benchmark: BenchmarkFixture, figure: Any, tmp_path: Path
) -> None:
    minutes = itertools.count()
    with Store.open(tmp_path / "rearing.sqlite") as store:
        benchmark.pedantic(
            store.commit, setup=lambda: ((_batch(next(minutes)),), {}), rounds=200, warmup_rounds=3
        )
    figure("one minute of the farm made durable", 1000 * figure.median_s(), "ms")


@pytest.mark.benchmark(group="store writes")
def test_start_with_quick_check(benchmark: BenchmarkFixture, figure: Any, filled: Store) -> None:
    benchmark.pedantic(lambda: Store.open(filled.path).close(), rounds=5)
    figure("start with quick check", figure.median_s(), "s")
