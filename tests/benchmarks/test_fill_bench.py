"""How fast a database is filled from its archive: from VictoriaMetrics, and from annotated CSV alone.

40 sensors with minute data, values and flags as a farm writes them. The seconds are those of this process's
own CPU, since server and test share the machine; the time on the clock stands beside them.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from archive_memory import MemoryArchive
from flux_stub import FluxStub, series_csv
from pytest_benchmark.fixture import BenchmarkFixture
from victoria_server import Victoria, victoria

from monitor.archive.access import ReadAccess, open_reader
from monitor.archive.fill import Filled, fill
from monitor.records import MS_PER_DAY, MS_PER_MINUTE
from monitor.store import Store

pytest.importorskip("influxdb_client", reason="the extra `archive` is not installed")

SENSORS, DAYS = 40, 14
START_MS = 1_770_000_000_000 // MS_PER_DAY * MS_PER_DAY
UNTIL_MS = START_MS + DAYS * MS_PER_DAY
READINGS = SENSORS * DAYS * 1440
CSV_SENSORS, CSV_READINGS = 10, 10_000
SITE = "saltbush-yard"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Victoria]:
    """A server that holds the readings."""
    with victoria(tmp_path_factory.mktemp("archive")) as running:
        for number in range(SENSORS):
            running.write(_lines(number))
        yield running


def _points(number: int, count: int) -> list[tuple[int, float, int]]:
    rng = np.random.default_rng(number)
    wander = np.clip(np.cumsum(rng.normal(0, 15, count)), -4000, 4000)
    steps = (15_000 + wander).astype(int).tolist()
    flags = np.where(rng.random(count) < 0.01, 3, 1).tolist()
    return [
        (START_MS + minute * MS_PER_MINUTE, step / 500, flag)
        for minute, (step, flag) in enumerate(zip(steps, flags, strict=True))
    ]


def _lines(number: int) -> list[str]:
    tags = f"node=node-{number // 3:02d},probe=p{number % 3},site={SITE}"
    return [
        f"air_temperature,{tags} value={value!r},flag={flag}i {at_ms}"
        for at_ms, value, flag in _points(number, DAYS * 1440)
    ]


@dataclass
class Took:
    """Seconds of our own CPU and on the clock."""

    cpu_s: float = 0.0
    clock_s: float = 0.0


@contextmanager
def _timed() -> Iterator[Took]:
    took, began, began_cpu = Took(), time.perf_counter(), time.process_time()
    yield took
    took.cpu_s, took.clock_s = time.process_time() - began_cpu, time.perf_counter() - began


@pytest.mark.benchmark(group="archive")
def test_filling_from_victoria_metrics(
    benchmark: BenchmarkFixture, figure: Any, server: Victoria, tmp_path: Path
) -> None:
    with (
        closing(open_reader(ReadAccess(server.url))) as reader,
        Store.open(tmp_path / "rearing.sqlite") as store,
    ):
        with _timed() as took:
            filled = benchmark.pedantic(fill, (store.database, reader, SITE, None, UNTIL_MS), rounds=1)
        with _timed() as took_again:
            again = fill(store.database, reader, SITE, None, UNTIL_MS)
        hours = store.database.value("SELECT sum(count) FROM hourly")
    assert filled == Filled(READINGS, READINGS, SENSORS, UNTIL_MS - MS_PER_MINUTE, None)
    assert (again.read, again.stored, hours) == (READINGS, 0, READINGS)
    figure("filling from VictoriaMetrics, by CPU", READINGS / took.cpu_s, "readings/s", at_least=200_000)
    figure("filling from VictoriaMetrics, by the clock", READINGS / took.clock_s, "readings/s")
    figure("where all is there already, by CPU", READINGS / took_again.cpu_s, "readings/s", at_least=200_000)


@pytest.mark.benchmark(group="archive")
def test_reading_annotated_csv(benchmark: BenchmarkFixture, figure: Any) -> None:
    """The Flux way without its server: what influxdb-client and we need for the answer."""
    stub = FluxStub(MemoryArchive())
    tables: list[str] = []
    for number in range(CSV_SENSORS):
        points = _points(number, CSV_READINGS)
        key = {"_measurement": "air_temperature", "node": f"node-{number}", "site": SITE}
        for name, column in (("value", 1), ("flag", 2)):
            rows = [(point[0], point[column]) for point in points]
            tables.append(series_csv(len(tables), {**key, "_field": name}, (0, UNTIL_MS), rows))
    stub.answer = (200, "\r\n".join(tables).encode())

    def read() -> int:
        return sum(len(found) for found in reader.readings(SITE, START_MS, UNTIL_MS))

    with closing(open_reader(ReadAccess(stub.url, "influx2", bucket="b"))) as reader, _timed() as took:
        count = benchmark.pedantic(read, rounds=1)
    stub.close()
    assert count == CSV_SENSORS * CSV_READINGS
    figure("reading annotated CSV, by CPU (stub included)", count / took.cpu_s, "readings/s")


@pytest.mark.benchmark(group="archive")
def test_a_day_of_one_site(benchmark: BenchmarkFixture, figure: Any, server: Victoria) -> None:
    with closing(open_reader(ReadAccess(server.url))) as reader:
        benchmark.pedantic(
            lambda: list(reader.readings(SITE, UNTIL_MS - MS_PER_DAY, UNTIL_MS)), rounds=10, warmup_rounds=1
        )
    figure("a day of 40 sensors from the archive", 1000 * figure.median_s(), "ms")
