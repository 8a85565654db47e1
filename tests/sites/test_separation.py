"""The proxy of config/archive-proxy.example.conf keeps farms apart: real nginx, real VictoriaMetrics."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest
from pydantic import SecretStr
from victoria_server import victoria

from monitor.archive.access import ReadAccess, open_reader
from monitor.archive.client import ArchiveClient
from monitor.archive.reader import Selection
from monitor.archive.sender import line
from monitor.errors import ArchiveRefused
from monitor.records import SensorKey
from monitor.settings.schema import ArchiveSettings
from monitor.store.archive_queue import QueuedReading

pytest.importorskip("influxdb_client", reason="the extra `archive` is not installed")
EXAMPLE = Path(__file__).parents[2] / "config" / "archive-proxy.example.conf"
NORTH, SOUTH = "CHANGE-ME-NORTH", "CHANGE-ME-SOUTH"
SENSOR = SensorKey("node-1", "", "air_temperature")


@dataclass(frozen=True, slots=True)
class Door:
    """The address of the proxy, and the server behind it."""

    front: str
    behind: str


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def door(tmp_path: Path) -> Iterator[Door]:
    program = shutil.which("nginx") or "/usr/sbin/nginx"
    if not Path(program).exists():
        pytest.skip("nginx is not installed (Debian package nginx-light)")
    with victoria(tmp_path / "archive") as server:
        front = free_port()
        lines = EXAMPLE.read_text(encoding="utf-8")
        lines = lines.replace("listen 8427;", f"listen 127.0.0.1:{front};")
        lines = lines.replace("http://127.0.0.1:8428;", f"{server.url};")
        lines = lines.replace("    include /etc/nginx/proxy_params;\n", "")
        user = "user root;" if os.geteuid() == 0 else ""
        temporary = "".join(
            f"{kind}_temp_path {tmp_path}/{kind};\n"
            for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        )
        conf = tmp_path / "nginx.conf"
        conf.write_text(
            f"{user}\ndaemon off;\npid {tmp_path}/nginx.pid;\nerror_log {tmp_path}/error.log;\nevents {{}}\n"
            f"http {{\naccess_log off;\n{temporary}{lines}\n}}\n",
            encoding="utf-8",
        )
        process = subprocess.Popen([program, "-c", str(conf), "-e", f"{tmp_path}/error.log"])
        try:
            until = time.monotonic() + 20
            with httpx.Client(trust_env=False) as client:
                while True:
                    try:
                        client.get(f"http://127.0.0.1:{front}/")
                        break
                    except httpx.TransportError:
                        assert process.poll() is None and time.monotonic() < until
                        time.sleep(0.05)
            yield Door(f"http://127.0.0.1:{front}", server.url)
        finally:
            process.terminate()
            process.wait(20)


def write(door: Door, token: str, site: str, value: float, at_ms: int) -> int:
    """What a farm writes that says it is `site`; the status that it gets."""
    settings = ArchiveSettings(url=door.front, bucket="farms", token=SecretStr(token))
    client = ArchiveClient(settings)
    try:
        answer = client.send([line(site, QueuedReading(1, SENSOR, at_ms, value, 1))])
        return answer.status
    finally:
        client.close()


def values(url: str, token: str | None, now_ms: int, tags: dict[str, str] | None = None) -> dict[str, float]:
    """The newest value by site, as somebody with a token reads it."""
    secret = None if token is None else SecretStr(token)
    reader = open_reader(ReadAccess(url, "victoria", secret))
    try:
        selection = Selection("air_temperature", tags=tags or {})
        rows = reader.last(selection, ("site",), now_ms - 3_600_000, now_ms + 60_000)
        return {row.tags["site"]: row.value for row in rows}
    finally:
        reader.close()


@pytest.mark.archive_server
def test_each_token_writes_and_reads_its_own_site_alone(door: Door) -> None:
    now_ms = time.time_ns() // 1_000_000
    write(door, NORTH, "north-yard", 21.0, now_ms - 60_000)
    write(door, SOUTH, "north-yard", 99.0, now_ms - 30_000)
    with httpx.Client(trust_env=False, headers={"Authorization": f"Token {SOUTH}"}) as farm:
        text = f"air_temperature,node=node-1,site=north-yard value=98 {now_ms - 20_000}"
        bent = f"{door.front}/api/v2/write?precision=ms&extra_label=site%3Dnorth-yard"
        assert farm.post(bent, content=text).status_code == 204
        assert farm.get(f"{door.front}/api/v1/admin/tsdb/delete_series").status_code == 404
        assert farm.post(f"{door.front}/write", content=text).status_code == 404
        httpx.get(f"{door.behind}/internal/force_flush", trust_env=False)
    assert values(door.behind, None, now_ms) == {"north-yard": 21.0, "south-yard": 98.0}
    assert values(door.front, NORTH, now_ms) == {"north-yard": 21.0}
    assert values(door.front, SOUTH, now_ms) == {"south-yard": 98.0}
    assert values(door.front, SOUTH, now_ms, {"site": "north-yard"}) == {}


@pytest.mark.archive_server
def test_without_a_token_that_it_knows_the_proxy_lets_nobody_in(door: Door) -> None:
    now_ms = time.time_ns() // 1_000_000
    assert write(door, "guessed", "north-yard", 50.0, now_ms) == 401
    with pytest.raises(ArchiveRefused):
        values(door.front, "guessed", now_ms)
    with pytest.raises(ArchiveRefused):
        values(door.front, f"{NORTH}x", now_ms)
