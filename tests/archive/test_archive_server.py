"""The archive against a real server that is killed and started again, read back by its export.

VictoriaMetrics answers before its disk has the data (it flushes every 5 s) and keeps a point that comes twice
twice, unless it is told to remove duplicates (`-dedup.minScrapeInterval=1ms`).
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import subprocess
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from store_samples import START_MS, batch, flagged, message

from monitor.archive.access import ReadAccess, access_of
from monitor.archive.forwarder import ArchiveForwarder, Pace
from monitor.archive.prometheus import PrometheusReader
from monitor.archive.reader import SensorReadings
from monitor.records import SensorKey
from monitor.settings.schema import ArchiveSettings
from monitor.store import Store

pytest.importorskip("influxdb_client", reason="the extra `archive` is not installed")

SENSORS = [SensorKey(f"node-{at // 4}", f"p{at % 4}", "substrate_temperature") for at in range(40)]
LIVE_URL = os.environ.get("REARING_INFLUX_URL")


@dataclass
class Server:
    """VictoriaMetrics on a loopback port; `kill` and `start` again keep its folder."""

    folder: Path
    port: int
    process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        command = [
            "victoria-metrics",
            f"-httpListenAddr=127.0.0.1:{self.port}",
            f"-storageDataPath={self.folder}",
            "-retentionPeriod=100y",
            "-dedup.minScrapeInterval=1ms",
            "-memory.allowedBytes=128MB",
        ]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        _until(self._healthy, 60)

    def _healthy(self) -> bool:
        assert self.process is not None and self.process.poll() is None, "the server ended by itself"
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def end(self, how: signal.Signals) -> None:
        if self.process is not None:
            self.process.send_signal(how)
            self.process.wait(30)
            self.process = None

    def show(self) -> None:
        """Have what was taken seen at once; it is on disk no sooner."""
        urllib.request.urlopen(f"{self.url}/internal/force_flush", timeout=60).close()

    def exported(self, match: str) -> dict[tuple[str, str], dict[int, list[float]]]:
        """Every point of a metric: (node, probe) -> time -> values; more than one value is a double."""
        query = urllib.parse.urlencode({"match[]": match, "start": "0", "end": str(START_MS // 1000 + 10**8)})
        found: dict[tuple[str, str], dict[int, list[float]]] = {}
        urllib.request.urlopen(
            f"{self.url}/internal/force_flush", timeout=60
        ).close()  # to the eye, not to disk
        with urllib.request.urlopen(f"{self.url}/api/v1/export?{query}", timeout=60) as reply:
            for text in reply:
                row = json.loads(text)
                points = found.setdefault((row["metric"]["node"], row["metric"].get("probe", "")), {})
                for at_ms, value in zip(row["timestamps"], row["values"], strict=True):
                    points.setdefault(at_ms, []).append(value)
        return found

    def counted(self) -> int:
        try:
            found = self.exported("substrate_temperature_value")
        except (OSError, urllib.error.URLError):
            return -1
        return sum(len(points) for points in found.values())


class _SeesAtOnce(PrometheusReader):
    """Without waiting the seconds after which the server shows what it took."""

    def __init__(self, access: ReadAccess, server: Server) -> None:
        super().__init__(access)
        self._server = server

    def readings(self, *asked: Any) -> Iterator[SensorReadings]:
        self._server.show()
        return super().readings(*asked)


def _until(condition: Callable[[], bool], limit_s: float) -> None:
    deadline = time.monotonic() + limit_s
    while not condition():
        assert time.monotonic() < deadline, "did not happen in time"
        time.sleep(0.02)


@pytest.fixture
def server(tmp_path: Path, free_port: int) -> Iterator[Server]:
    """A running archive server."""
    if shutil.which("victoria-metrics") is None:
        pytest.skip("victoria-metrics is not installed (Debian package victoria-metrics)")
    made = Server(tmp_path / "archive", free_port)
    made.start()
    yield made
    made.end(signal.SIGKILL)


def _value(sensor: int, at: int) -> float:
    return (10_000 + (sensor * 31 + at) % 9000) / 500


def _store_all(store: Store, first: int, last: int) -> None:
    """Readings `first` to `last` of every sensor, a minute apart, 50 of each in a batch."""
    for start in range(first, last, 50):
        rows = [
            flagged(sensor, START_MS + at * 60_000, _value(number, at))
            for number, sensor in enumerate(SENSORS)
            for at in range(start, min(start + 50, last))
        ]
        store.commit(batch(message(*rows)))


def _check(server: Server, each: int) -> None:
    found = server.exported("substrate_temperature_value")
    assert len(found) == len(SENSORS)
    for number, sensor in enumerate(SENSORS):
        expected = {START_MS + at * 60_000: [_value(number, at)] for at in range(each)}
        assert found[sensor.node, sensor.probe] == expected
    flags = server.exported("substrate_temperature_flag")
    assert sum(len(points) for points in flags.values()) == each * len(SENSORS)


@pytest.mark.archive_server
def test_readings_are_read_back_as_they_were_stored(server: Server, tmp_path: Path) -> None:
    with Store.open(tmp_path / "rearing.sqlite", archive=True) as store:
        _store_all(store, 0, 25)
        settings = ArchiveSettings(url=server.url, bucket="readings", batch=300)
        forwarder = ArchiveForwarder(store.path, settings, "saltbush-yard", Pace(poll_s=0.1, settle_s=0.5))
        forwarder.start()
        _until(lambda: server.counted() == 1000, 30)
        forwarder.stop()
        assert store.archive_queue.status().waiting == 0
    _check(server, 25)


@pytest.mark.archive_server
def test_what_the_server_has_lost_is_found_and_filled(server: Server, tmp_path: Path) -> None:
    """A quarter of the series goes, as with a damaged disk; the way to it says nothing of that."""
    with Store.open(tmp_path / "rearing.sqlite", archive=True) as store:
        _store_all(store, 0, 300)
        settings = ArchiveSettings(url=server.url, bucket="readings")
        forwarder = ArchiveForwarder(store.path, settings, "saltbush-yard", Pace(poll_s=0.1, settle_s=0.1))
        forwarder.start()
        _until(lambda: store.archive_queue.after(0, 1) == (), 30)
        forwarder.stop()
        assert server.counted() == 300 * len(SENSORS)
        gone = urllib.parse.urlencode({"match[]": '{__name__=~".*_value",probe="p2"}'})
        urllib.request.urlopen(f"{server.url}/api/v1/admin/tsdb/delete_series?{gone}", timeout=60).close()
        _until(lambda: server.counted() == 225 * len(SENSORS), 30)
        forwarder = ArchiveForwarder(
            *(store.path, settings, "saltbush-yard", Pace(poll_s=0.1, settle_s=0.1)),
            open_reader=lambda: _SeesAtOnce(access_of(settings), server),
        )
        forwarder.start()
        _until(lambda: (store.archive_queue.proof().checked_ms or 0) >= START_MS + 5 * 3_600_000, 60)
        _until(lambda: store.archive_queue.after(0, 1) == (), 30)
        forwarder.stop()
        status = store.archive_queue.status()
        assert (status.proof.filled, status.proof.missing, status.waiting) == (75 * len(SENSORS), 0, 0)
    _check(server, 300)


DOWN_S = {
    "suite": [0.0, 0.1, 0.2, 2.0, 0.1, 0.3, 0.0, 0.1],
    "study": [
        0.0,
        0.1,
        0.2,
        10.0,
        0.1,
        0.3,
        5.0,
        0.1,
        0.15,
        0.0,
        10.0,
        0.1,
        0.1,
        2.0,
        0.24,
        0.1,
        0.0,
        0.5,
        1.0,
        0.1,
    ],
}


@pytest.mark.archive_server
@pytest.mark.timeout(600)
@pytest.mark.parametrize(
    "downs",
    [pytest.param("suite", marks=pytest.mark.slow), pytest.param("study", marks=pytest.mark.study)],
)
def test_nothing_is_lost_while_the_server_is_killed_again_and_again_for_a_moment_or_longer(
    server: Server, tmp_path: Path, downs: str
) -> None:
    downs_s = DOWN_S[downs]
    each = 100 * len(downs_s)
    pace = Pace(poll_s=1.5, settle_s=11.0, first_delay_s=0.2, longest_delay_s=1.0)
    with Store.open(tmp_path / "rearing.sqlite", archive=True) as store:
        settings = ArchiveSettings(url=server.url, bucket="readings", batch=2000)
        forwarder = ArchiveForwarder(store.path, settings, "saltbush-yard", pace)
        forwarder.start()
        for turn, down_s in enumerate(downs_s):
            _store_all(store, 100 * turn, 100 * (turn + 1))
            _until(lambda: store.archive_queue.status().waiting == 0, 60)
            time.sleep(0.2)
            server.end(signal.SIGKILL)
            time.sleep(down_s)
            server.start()
        _until(lambda: store.archive_queue.after(0, 1) == (), 120)
        forwarder.stop()
        assert store.archive_queue.status().parked == 0
    server.end(signal.SIGKILL)
    server.start()
    _until(lambda: server.counted() == each * len(SENSORS), 30)
    _check(server, each)


if LIVE_URL:

    def test_live_influx(tmp_path: Path) -> None:
        """Collected only where REARING_INFLUX_URL names a server (with _ORG, _BUCKET and _TOKEN)."""
        from influxdb_client.client.influxdb_client import InfluxDBClient

        names = {
            key: os.environ.get(f"REARING_INFLUX_{key.upper()}", "") for key in ("org", "bucket", "token")
        }
        settings = ArchiveSettings.model_validate({"url": LIVE_URL, **names})
        start_ms = time.time_ns() // 1_000_000 // 3_600_000 * 3_600_000 - 3_600_000
        with Store.open(tmp_path / "rearing.sqlite", archive=True) as store:
            rows = [flagged(SENSORS[0], start_ms + at * 1000, 20.0 + at / 8) for at in range(500)]
            store.commit(batch(message(*rows)))
            site = f"live-test-{start_ms}"
            forwarder = ArchiveForwarder(store.path, settings, site)
            forwarder.start()
            _until(lambda: store.archive_queue.status().waiting == 0, 60)
            forwarder.stop()
        query = (
            f'from(bucket: "{settings.bucket}") |> range(start: {start_ms // 1000}) '
            f'|> filter(fn: (r) => r.site == "{site}" and r._field == "value") |> count()'
        )
        with InfluxDBClient(settings.url, names["token"], org=names["org"]) as client:
            tables = client.query_api().query(query)
        assert [record.get_value() for table in tables for record in table.records] == [500]
