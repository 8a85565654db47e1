"""Hundreds of simulated sites in VictoriaMetrics: readings and series in bulk.

In bulk the server's import is used, a line for each series: values repeat after some patterns, since how fast
they are found does not depend on them.
"""

from __future__ import annotations

import http.client
import json
import os
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import psutil

from monitor.archive.series import ALARM, BIN, FORECAST, PLACE, SITE, YIELD_AHEAD, Series
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE

BOARDS, QUANTITIES, PLACES, BINS, COHORTS = 20, ("air_temperature", "air_humidity"), 10, 4, 5
PATTERNS = 16
CHUNK_BYTES = 16_000_000


@dataclass
class Server:
    """VictoriaMetrics on a loopback port; `kill` and `start` again keep its folder."""

    folder: Path
    port: int
    memory: str = "512MB"
    process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        assert shutil.which("victoria-metrics"), "Debian package victoria-metrics"
        command = [
            "victoria-metrics",
            f"-httpListenAddr=127.0.0.1:{self.port}",
            f"-storageDataPath={self.folder}",
            "-retentionPeriod=100y",
            "-dedup.minScrapeInterval=1ms",
            f"-memory.allowedBytes={self.memory}",
        ]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        until = time.monotonic() + 120
        while not self.is_healthy():
            assert self.process.poll() is None and time.monotonic() < until, "the server did not start"
            time.sleep(0.05)

    def is_healthy(self) -> bool:
        try:
            return self.ask("GET", "/health", b"") == 200
        except OSError:
            return False

    def ask(self, method: str, path: str, body: bytes) -> int:
        connection = http.client.HTTPConnection(str(urlsplit(self.url).netloc), timeout=120)
        try:
            connection.request(method, path, body)
            reply = connection.getresponse()
            reply.read()
            return reply.status
        finally:
            connection.close()

    def kill(self) -> None:
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait(30)
            self.process = None

    def cpu_s(self) -> float:
        assert self.process is not None
        times = psutil.Process(self.process.pid).cpu_times()
        return float(times.user + times.system)

    def peak_mb(self) -> float:
        assert self.process is not None
        status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        kilobytes = next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1]
        return int(kilobytes) / 1024

    def disk_mb(self) -> float:
        sizes = [path.stat().st_size for path in self.folder.rglob("*") if path.is_file()]
        return sum(sizes) / 1e6


def site_name(number: int) -> str:
    """Such as farm-0042."""
    return f"farm-{number:04}"


class Fleet:
    """So many sites for so many minutes up to `end_ms`; a tenth has alarms, a fiftieth fell silent."""

    def __init__(self, sites: int, minutes: int, end_ms: int) -> None:
        self.sites, self.minutes, self.end_ms = sites, minutes, end_ms
        self.readings = sites * BOARDS * len(QUANTITIES) * minutes
        self.values = 0
        self._times: dict[tuple[int, int], str] = {}
        self._patterns: dict[tuple[float, float, int], str] = {}

    @property
    def silent(self) -> list[int]:
        """Sites that fell silent two thirds through."""
        return [number for number in range(self.sites) if number % 50 == 7]

    def fill(self, server: Server) -> None:
        """Write everything."""
        body, size = [], 0
        for line in self._lines():
            body.append(line)
            size += len(line)
            if size > CHUNK_BYTES:
                self._post(server, body)
                body, size = [], 0
        self._post(server, body)
        assert server.ask("GET", "/internal/force_flush", b"") == 200

    @staticmethod
    def _post(server: Server, body: Sequence[str]) -> None:
        assert server.ask("POST", "/api/v1/import", "\n".join(body).encode()) == 204

    def _lines(self) -> Iterator[str]:
        for number in range(self.sites):
            silent = number % 50 == 7
            steps = self.minutes * 2 // 3 if silent else self.minutes
            yield from self._readings(number, steps)
            yield from self._of_site(number, steps)

    def _readings(self, number: int, steps: int) -> Iterator[str]:
        for board in range(BOARDS):
            for quantity, base in zip(QUANTITIES, (24.0, 60.0), strict=True):
                pattern = (number + board) % PATTERNS
                tags = {"node": f"node-{board:02}"}
                yield self._line(
                    f"{quantity}_value", number, tags, base + pattern, 0.02, MS_PER_MINUTE, steps
                )

    def _of_site(self, number: int, steps: int) -> Iterator[str]:
        troubled = number % 10 == 3
        alarms = 2.0 if troubled else 0.0
        counts = {
            "heartbeat": 1.0,
            "open_alarms": alarms,
            "unacknowledged_alarms": alarms / 2,
            "high_alarms": alarms / 2,
            "places": float(PLACES),
            "boards": float(BOARDS),
            "boards_to_mend": float(number % 25 == 5),
        }
        for name, value in counts.items():
            yield self._of(SITE, name, number, {}, value, MS_PER_MINUTE, steps)
        if troubled:
            yield from self._alarms(number, min(steps, 120))
        for place in range(PLACES):
            for name, value in (("state", 6.0), ("kind", 3.0), ("stage", 1.0)):
                tags = {"place": f"bin-{place}"}
                yield self._of(PLACE, name, number, tags, value, 5 * MS_PER_MINUTE, steps // 5)
        yield from self._hourly(number, max(1, steps // 60))

    def _alarms(self, number: int, steps: int) -> Iterator[str]:
        for place, priority in ((1, "high"), (2, "medium")):
            tags = {
                "place": f"bin-{place}",
                "quantity": "substrate_temperature",
                "side": "high",
                "priority": priority,
            }
            begun = float(self.end_ms - 2 * MS_PER_HOUR)
            of_alarm = (("status", 1.0), ("setpoint", 42.0), ("value", 44.5), ("since_ms", begun))
            for name, value in of_alarm:
                yield self._of(ALARM, name, number, tags, value, MS_PER_MINUTE, steps)

    def _hourly(self, number: int, steps: int) -> Iterator[str]:
        for place in range(BINS):
            tags = {"place": f"bin-{place}"}
            dry_h = 6.0 if number % 20 == 9 and place == 0 else 40.0
            for name, value in (("state", 8.0), ("moisture", 0.6), ("dry_likely_h", dry_h), ("litres", 1.0)):
                yield self._of(BIN, name, number, tags, value, MS_PER_HOUR, steps)
        for cohort in range(COHORTS):
            for name, value in (
                ("stage", 1.0),
                ("event", 2.0),
                *((f"{part}_ms", float(self.end_ms + MS_PER_HOUR)) for part in ("low", "middle", "high")),
            ):
                yield self._of(FORECAST, name, number, {"cohort": f"C{cohort}"}, value, MS_PER_HOUR, steps)
        for week in range(4):
            for what, unit in (("eggs", "g"), ("larvae", "kg")):
                for part, value in (("low", 20.0), ("middle", 30.0), ("high", 42.0)):
                    name = f"{what}_{part}_{unit}"
                    tags = {"week": str(week)}
                    yield self._of(YIELD_AHEAD, name, number, tags, value, MS_PER_HOUR, steps)

    def _of(
        self,
        series: Series,
        name: str,
        number: int,
        tags: dict[str, str],
        value: float,
        every_ms: int,
        steps: int,
    ) -> str:
        return self._line(f"{series.measurement}_{name}", number, tags, value, 0.0, every_ms, steps)

    def _line(
        self,
        metric: str,
        number: int,
        tags: dict[str, str],
        base: float,
        step: float,
        every_ms: int,
        steps: int,
    ) -> str:
        steps = max(1, steps)
        self.values += steps
        named = json.dumps({"__name__": metric, "site": site_name(number), **tags})
        ended = self._silent_ms if number % 50 == 7 else self.end_ms
        times = self._times.setdefault((every_ms * 10 + (number % 50 == 7), steps), "")
        if not times:
            first_ms = ended - every_ms * (steps - 1)
            times = ",".join(str(first_ms + at * every_ms) for at in range(steps))
            self._times[every_ms * 10 + (number % 50 == 7), steps] = times
        values = self._patterns.setdefault((base, step, steps), "")
        if not values:
            values = ",".join(f"{base + step * (at % 60):.2f}" for at in range(steps))
            self._patterns[base, step, steps] = values
        return f'{{"metric":{named},"values":[{values}],"timestamps":[{times}]}}'

    @property
    def _silent_ms(self) -> int:
        return self.end_ms - (self.minutes - self.minutes * 2 // 3) * MS_PER_MINUTE


def own_peak_mb() -> float:
    """The most memory that this process ever held."""
    status = Path(f"/proc/{os.getpid()}/status").read_text(encoding="ascii")
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1]) / 1024
