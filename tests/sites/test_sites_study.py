"""Hundreds and thousands of sites in VictoriaMetrics: how long the overview takes, and what each part costs.

Run by hand: `pytest -m study -s tests/sites/test_sites_study.py`. Its figures stand in DEVELOPERS.md. What is
written in bulk takes the server's import; three sites are written by the product's own forwarder.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pytest
from cli_farm import make_farm
from many_sites import settings_of
from site_fleet import Fleet, Server, own_peak_mb, site_name
from store_samples import batch, flagged, message

from monitor.archive.forwarder import ArchiveForwarder
from monitor.archive.sender import Pace
from monitor.records import SensorKey
from monitor.settings.loading import load
from monitor.settings.schema import ArchiveSettings, Settings
from monitor.sites.lookout import Known, Lookout, open_archive
from monitor.sites.overview import Standing
from monitor.sites.overview_reader import SitesReader
from monitor.sites.settings import SitesFile
from monitor.sites.site_reader import SiteReader
from monitor.store import Store

pytest.importorskip("influxdb_client", reason="the extra `archive` is not installed")
MINUTE_MS = 60_000


def now_ms() -> int:
    return time.time_ns() // 1_000_000


@pytest.fixture
def server(tmp_path: Path, free_port: int) -> Iterator[Server]:
    made = Server(tmp_path / "archive", free_port)
    made.start()
    yield made
    made.kill()


@dataclass(frozen=True, slots=True)
class Cost:
    """Wall time and CPU of the server and of this process [s]."""

    wall_s: float
    server_s: float
    own_s: float


class Meter:
    """Measures what a piece of work costs."""

    def __init__(self, server: Server) -> None:
        self._server = server

    def __enter__(self) -> Meter:
        self._begun = time.perf_counter(), self._server.cpu_s(), time.process_time()
        return self

    def __exit__(self, *_args: object) -> None:
        wall_s, server_s, own_s = self._begun
        self.cost = Cost(
            time.perf_counter() - wall_s, self._server.cpu_s() - server_s, time.process_time() - own_s
        )

    def __str__(self) -> str:
        cost = self.cost
        return f"{cost.wall_s:7.2f} s wall, {cost.server_s:7.2f} s CPU of the server, {cost.own_s:6.2f} s own"


def measure(server: Server, sites: int, minutes: int) -> dict[str, Cost]:
    """Fill the server, look as a first look and as each next one, open a site; print what each costs."""
    fleet = Fleet(sites, minutes, now_ms() // MINUTE_MS * MINUTE_MS)
    costs: dict[str, Cost] = {}

    def told(name: str, meter: Meter) -> None:
        costs[name] = meter.cost
        print(f"  {name:24} {meter}")

    print(f"\n{sites} sites, {minutes} minutes, {fleet.readings:,} readings")
    with Meter(server) as meter:
        fleet.fill(server)
    told(f"fill, {fleet.values:,} values", meter)
    settings = settings_of(archive={"url": server.url, "bucket": "b", "kind": "victoria"})
    reader = SitesReader(open_archive(settings.archive), settings)
    with Meter(server) as meter:
        first = reader.look(now_ms())
    told("first look", meter)
    with Meter(server) as meter:
        reader.look(now_ms() + 1)
    told("next look", meter)
    with Meter(server) as meter:
        line = reader.line(site_name(3), now_ms())
        assert line is not None
        picture = SiteReader(reader.questions, line).picture(now_ms())
    told("one site", meter)
    memory = f"server {server.peak_mb():.0f} MB, own {own_peak_mb():.0f} MB"
    print(f"  peak memory: {memory}; disk {server.disk_mb():.0f} MB")
    assert len(first.lines) == sites
    assert first.count(Standing.SILENT) + first.count(Standing.HIGH) >= len(fleet.silent)
    assert first.count(Standing.HIGH) == sum(number % 10 == 3 for number in range(sites))
    assert all(line.figures.eggs_g is not None for line in first.lines)
    assert len(picture.places) == 10 and len(picture.cohorts) == 5
    return costs


@pytest.mark.study
@pytest.mark.archive_server
@pytest.mark.timeout(3600)
@pytest.mark.parametrize(("sites", "minutes", "goal_s"), [(500, 1440, 0.5), (5000, 60, 3.0)])
def test_the_overview_of_many_sites(server: Server, sites: int, minutes: int, goal_s: float) -> None:
    costs = measure(server, sites, minutes)
    for name in ("first look", "next look"):
        busy_s = costs[name].server_s + costs[name].own_s
        print(f"  {name}: {costs[name].wall_s:.2f} s, {busy_s:.2f} s of CPU, goal {goal_s} s")
    assert costs["next look"].own_s + costs["next look"].server_s < 2 * goal_s


@pytest.mark.archive_server
def test_a_small_fleet_reads_as_it_was_written(server: Server) -> None:
    measure(server, 60, 120)


SENSORS = [SensorKey("node-01", "", quantity) for quantity in ("air_temperature", "air_humidity")]


class OwnSite:
    """A site with a database of its own, written by the product's forwarder, settings and all."""

    def __init__(self, folder: Path, url: str, name: str) -> None:
        folder.mkdir()
        farm = make_farm(folder)
        text = farm.config.read_text(encoding="utf-8").replace('"sand-hill"', f'"{name}"')
        farm.config.write_text(text, encoding="utf-8")
        self.name, self.stored = name, 0
        self.settings: Settings = load(farm.config, farm.environ)
        self.store = Store.open(farm.database, archive=True)
        self.life = self.store.runs.start(now_ms())
        archive = ArchiveSettings(url=url, bucket="b", batch=500)
        pace = Pace(poll_s=0.5, settle_s=11.0, first_delay_s=0.2, longest_delay_s=1.0)
        self.forwarder = ArchiveForwarder(self.store.path, archive, name, pace, farm=lambda: self.settings)
        self.forwarder.start()

    def measure(self, start_ms: int, count: int) -> None:
        """Store so many more readings of each sensor, a second apart."""
        for sensor in SENSORS:
            rows = [
                flagged(sensor, start_ms + (self.stored + at) * 1000, 20.0 + (self.stored + at) % 400 / 50)
                for at in range(count)
            ]
            self.store.commit(batch(message(*rows, node="node-01")))
        self.stored += count

    def live(self) -> None:
        """The service shows a sign of life: without it the forwarder writes no heartbeat."""
        self.store.runs.alive(self.life, now_ms())

    def close(self) -> None:
        self.forwarder.stop()
        self.store.close()


def kill_again_and_again(
    server: Server, folder: Path, downs_s: list[float], *, beats: bool = True, count: int = 3
) -> None:
    """Kill the server while sites write; the lookout never fails, and says how old what it shows is.

    With `beats` the next heartbeats are waited for, up to a minute.
    """
    start_ms = now_ms() - 3600 * 1000
    sites = [OwnSite(folder / f"own-{number}", server.url, f"own-{number}") for number in range(count)]
    settings = settings_of(archive={"url": server.url, "bucket": "b", "kind": "victoria"})
    lookout = Lookout(SitesFile(folder / "sites.toml", settings))
    away, looks = 0, 0
    for down_s in downs_s:
        for site in sites:
            site.live()
            site.measure(start_ms, 40)
        time.sleep(1.5)
        server.kill()
        known = lookout.look(now_ms())
        away += check_age(known)
        time.sleep(down_s)
        server.start()
        known = lookout.look(now_ms())
        looks += known.trouble is None
        check_age(known)
    assert away >= len(downs_s) - 1, "a server that is killed does not answer"
    for site in sites:
        _wait_for(partial(_is_sent, site), "the queue did not empty")
        assert site.store.archive_queue.status().parked == 0
    # A heartbeat tells of now, so those of before are not sent again: the next ones come within a minute.
    if beats:
        _wait_for(partial(_are_heard, lookout, sites), "not all sites are heard")
    for site in sites:
        site.close()
    reader = open_archive(settings.archive)
    for site in sites:
        found = {each.sensor: each for each in reader.readings(site.name, start_ms, now_ms() + 3_600_000)}
        assert {sensor: len(found[sensor]) for sensor in SENSORS} == dict.fromkeys(SENSORS, site.stored)
    print(f"\n{len(downs_s)} kills, nothing lost; looks: {away} without an answer, {looks} with one")


def _is_sent(site: OwnSite) -> bool:
    return site.store.archive_queue.after(0, 1) == ()


def _are_heard(lookout: Lookout, sites: list[OwnSite]) -> bool:
    for site in sites:
        site.live()
    overview = lookout.look(now_ms()).overview
    lines = () if overview is None else overview.lines
    just_now_ms = now_ms() - 2 * MINUTE_MS
    heard = {line.site for line in lines if (line.figures.heard_ms or 0) > just_now_ms}
    return heard == {site.name for site in sites}


def _wait_for(is_so: Callable[[], bool], otherwise: str) -> None:
    until = time.monotonic() + 120
    while not is_so():
        assert time.monotonic() < until, otherwise
        time.sleep(0.5)


def check_age(known: Known) -> bool:
    """Whether the archive did not answer; what is shown then is from before."""
    if known.trouble is not None and known.overview is not None:
        assert known.overview.read_ms <= now_ms()
    return known.trouble is not None


@pytest.mark.study
@pytest.mark.archive_server
@pytest.mark.timeout(1200)
def test_twenty_kills_lose_nothing_and_the_overview_says_how_old_it_is(
    server: Server, tmp_path: Path
) -> None:
    kill_again_and_again(server, tmp_path, [0.1, 0.2, 4.0, 0.1, 10.0] * 4)


@pytest.mark.slow
@pytest.mark.archive_server
def test_two_kills_lose_nothing_and_the_overview_says_how_old_it_is(server: Server, tmp_path: Path) -> None:
    kill_again_and_again(server, tmp_path, [0.1, 1.0], beats=False, count=1)
