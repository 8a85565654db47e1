"""What every reader of an archive answers, compared with an archive in memory: exact times, values, flags."""

from __future__ import annotations

import os
import random
import time
from collections.abc import Iterable, Iterator
from contextlib import closing

import pytest
from archive_memory import MemoryArchive
from flux_stub import FluxStub
from pydantic import SecretStr
from victoria_server import Victoria, victoria

from monitor.archive.access import ReadAccess, access_of, open_reader
from monitor.archive.client import ArchiveClient, Verdict
from monitor.archive.flux import FluxReader
from monitor.archive.reader import ArchiveReader, Figure, Newest, Over, Selection, SensorReadings
from monitor.records import Flag, SensorKey
from monitor.settings.schema import ArchiveSettings

pytest.importorskip("influxdb_client", reason="the extra `archive` is not installed")

LIVE_URL = os.environ.get("REARING_INFLUX_URL")
START_MS = 1_770_000_000_123
SPAN_MS = 4 * 3_600_000
ODD = 'a "b" ${1 + 1} |é,=x (c) .*'
SENSORS = (
    SensorKey("node-1", "", "air_temperature"),
    SensorKey("node-1", "left", "air_temperature"),
    SensorKey("node-2", "", "air_temperature"),
    SensorKey("node-2", "", "light"),
    SensorKey("node-2", "", "some_value"),
    SensorKey(ODD, ODD, "air_temperature"),
)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Victoria]:
    """One server for all tests here; each writes sites of its own."""
    with victoria(tmp_path_factory.mktemp("archive")) as running:
        yield running


class Held:
    """A reader, and what its archive holds."""

    def __init__(self, reader: ArchiveReader, truth: MemoryArchive, write: Victoria | None) -> None:
        self.reader, self.truth, self._write = reader, truth, write

    def ready(self) -> None:
        """What was written into the truth is in the archive now."""
        if self._write is not None:
            self._write.write(self.truth.lines())


@pytest.fixture(params=["memory", "flux", pytest.param("victoria", marks=pytest.mark.archive_server)])
def held(request: pytest.FixtureRequest) -> Iterator[Held]:
    truth = MemoryArchive()
    if request.param == "memory":
        yield Held(truth, truth, None)
    elif request.param == "flux":
        stub = FluxStub(truth)
        reader = open_reader(ReadAccess(stub.url, "influx2", bucket=ODD, org="farm"))
        yield Held(reader, truth, None)
        reader.close()
        stub.close()
    else:
        server: Victoria = request.getfixturevalue("server")
        reader = open_reader(ReadAccess(server.url, "victoria"))
        yield Held(reader, truth, server)
        reader.close()


def _site(request: pytest.FixtureRequest) -> str:
    return str(request.node.name).replace("[", "-").rstrip("]")


def _fill(truth: MemoryArchive, site: str, rng: random.Random, each: int = 60) -> list[int]:
    """Readings at times that no two sensors share, all flags, values of all sizes; gives the times."""
    every = rng.sample(range(START_MS, START_MS + SPAN_MS), each * len(SENSORS))
    for number, sensor in enumerate(SENSORS):
        for at_ms in every[number :: len(SENSORS)]:
            value = rng.choice([rng.randrange(-20_000, 40_000) / 500, rng.randrange(0, 10**7) / 100, 0.0])
            truth.write_reading(site, sensor, at_ms, value, rng.choice([1, 1, 2, 3, 4]))
    return sorted(every)


def _as_rows(found: Iterable[SensorReadings]) -> dict[SensorKey, list[tuple[int, float, int]]]:
    rows = {}
    for readings in found:
        assert readings.sensor not in rows, "a sensor comes once"
        columns = (readings.at_ms.tolist(), readings.value.tolist(), readings.flag.tolist())
        rows[readings.sensor] = list(zip(*columns, strict=True))
    return rows


def test_readings_of_any_span_are_exactly_those_that_were_written(
    held: Held, request: pytest.FixtureRequest
) -> None:
    rng, site = random.Random(1), _site(request)
    times = _fill(held.truth, site, rng)
    _fill(held.truth, f"{site}-other", rng)
    held.ready()
    for _ in range(12):
        first, last = sorted(rng.sample(times, 2))
        start_ms, end_ms = first + rng.choice([0, 1]), last + rng.choice([0, 1])
        chosen = rng.sample(SENSORS, 2)

        everything = _as_rows(held.reader.readings(site, start_ms, end_ms))
        assert everything == _as_rows(held.truth.readings(site, start_ms, end_ms))
        assert _as_rows(held.reader.readings(site, start_ms, end_ms, chosen)) == {
            sensor: rows for sensor, rows in everything.items() if sensor in chosen
        }
        assert held.reader.span(site, start_ms, end_ms) == held.truth.span(site, start_ms, end_ms)
    assert _as_rows(held.reader.readings(site, times[0], times[-1] + 1)).keys() == set(SENSORS)


def test_a_span_may_begin_with_the_clocks_and_end_in_years_to_come(
    held: Held, request: pytest.FixtureRequest
) -> None:
    site = _site(request)
    times = _fill(held.truth, site, random.Random(5), each=5)
    held.ready()
    selection = Selection("air_temperature", tags={"site": site})
    for end_ms in (times[-1] + 1, 2 * times[-1]):
        assert held.reader.span(site, 0, end_ms) == (times[0], times[-1])
        assert _as_rows(held.reader.readings(site, 0, end_ms)) == _as_rows(
            held.truth.readings(site, 0, end_ms)
        )
        assert held.reader.last(selection, (), 0, end_ms) == held.truth.last(selection, (), 0, end_ms)
        for over in Over:
            expected = held.truth.aggregate(selection, over, (), 0, end_ms)
            (figure,) = held.reader.aggregate(selection, over, (), 0, end_ms)
            assert figure.value == pytest.approx(expected[0].value)


def test_an_empty_span_an_unknown_site_and_no_sensor_give_nothing(
    held: Held, request: pytest.FixtureRequest
) -> None:
    site = _site(request)
    times = _fill(held.truth, site, random.Random(2), each=5)
    held.ready()
    whole = (times[0], times[-1] + 1)
    assert list(held.reader.readings(site, times[0], times[0])) == []
    assert list(held.reader.readings(site, 0, times[0])) == []
    assert list(held.reader.readings("nowhere", *whole)) == []
    assert list(held.reader.readings(site, *whole, [])) == []
    written = Selection("air_temperature", tags={"site": site})
    for empty in ((times[0], times[0]), (times[-1], times[0])):
        assert held.reader.last(written, ("node",), *empty) == ()
        assert held.reader.aggregate(written, Over.COUNT, ("node",), *empty) == ()
        assert list(held.reader.points(written, *empty)) == []
    assert held.reader.span(site, times[0], times[0]) is None
    assert held.reader.span("nowhere", *whole) is None
    assert held.reader.last(Selection("nothing"), (), *whole) == ()
    assert held.reader.aggregate(Selection("nothing"), Over.COUNT, (), *whole) == ()
    assert list(held.reader.points(Selection("nothing"), *whole)) == []


def test_what_is_no_reading_is_left_out(held: Held, request: pytest.FixtureRequest) -> None:
    site = _site(request)
    held.truth.write_reading(site, SENSORS[0], START_MS, 20.5)
    held.truth.write("alarm", {"site": site, "place": "bin-1"}, {"value": 41.0}, START_MS)
    held.truth.write("board", {"site": site, "node": "node-1"}, {"battery_v": 3.9, "value": 1.0}, START_MS)
    held.ready()
    assert _as_rows(held.reader.readings(site, START_MS, START_MS + 1)) == {SENSORS[0]: [(START_MS, 20.5, 1)]}


# The archive in memory loses no flag.
@pytest.mark.parametrize(
    "held", ["flux", pytest.param("victoria", marks=pytest.mark.archive_server)], indirect=True
)
def test_a_value_of_which_the_flag_is_lost_counts_as_not_evaluated(
    held: Held, request: pytest.FixtureRequest
) -> None:
    site = _site(request)
    tags = {"site": site, "node": "node-1"}
    held.truth.write("light", tags, {"value": 7.0}, START_MS)
    held.truth.write("light", tags, {"value": 8.0, "flag": 3}, START_MS + 1)
    held.truth.write("light", tags, {"flag": 1}, START_MS + 2)
    held.ready()
    assert _as_rows(held.reader.readings(site, START_MS, START_MS + 10)) == {
        SensorKey("node-1", "", "light"): [
            (START_MS, 7.0, Flag.NOT_EVALUATED),
            (START_MS + 1, 8.0, Flag.SUSPECT),
        ]
    }


@pytest.mark.parametrize("by", [(), ("node",), ("site", "probe"), ("nothing",)])
def test_figures_and_newest_points_of_groups(
    held: Held, request: pytest.FixtureRequest, by: tuple[str, ...]
) -> None:
    rng, site = random.Random(3), _site(request)
    times = _fill(held.truth, site, rng) + _fill(held.truth, f"{site}-other", rng)
    held.ready()
    narrow: tuple[dict[str, str | tuple[str, ...]], ...] = (
        {"site": site},
        {"site": (site, f"{site}-other"), "probe": ""},
        {"site": (site, f"{site}-other"), "node": ("node-2", ODD)},
        {"site": site, "probe": ("", "left"), "node": "node-1"},
        {"site": ()},
        {"site": site, "probe": ()},
    )
    for tags in narrow:
        selection = Selection("air_temperature", rng.choice(["value", "flag"]), tags)
        start_ms, end_ms = sorted(rng.sample(times, 2))
        newest = held.truth.last(selection, by, start_ms, end_ms)
        assert held.reader.last(selection, by, start_ms, end_ms) == newest
        assert bool(newest) is (() not in tags.values())
        for over in Over:
            expected = held.truth.aggregate(selection, over, by, start_ms, end_ms)
            figures = held.reader.aggregate(selection, over, by, start_ms, end_ms)
            assert [(figure.tags, pytest.approx(figure.value)) for figure in figures] == [
                (figure.tags, figure.value) for figure in expected
            ]


def test_of_two_series_at_one_time_the_highest_is_the_newest(
    held: Held, request: pytest.FixtureRequest
) -> None:
    site = _site(request)
    for node, value in (("node-1", 3.0), ("node-2", 5.0), ("node-3", 4.0)):
        held.truth.write_reading(site, SensorKey(node, "", "light"), START_MS, value)
    held.ready()
    selection = Selection("light", tags={"site": site})
    span = (START_MS, START_MS + 1)
    assert held.reader.last(selection, ("site",), *span) == (Newest({"site": site}, START_MS, 5.0),)
    assert held.reader.aggregate(selection, Over.SUM, (), *span) == (Figure({}, 12.0),)


def test_points_of_any_series_come_whole(held: Held, request: pytest.FixtureRequest) -> None:
    site = _site(request)
    tags = {"site": site, "cohort": "a-1"}
    for number in range(50):
        held.truth.write("forecast", tags, {"middle_ms": START_MS + number / 4}, START_MS + number * 7)
    held.ready()
    (points,) = held.reader.points(
        Selection("forecast", "middle_ms", {"site": site}), START_MS + 7, START_MS + 343
    )
    assert points.tags == tags
    assert points.at_ms.tolist() == [START_MS + number * 7 for number in range(1, 49)]
    assert points.value.tolist() == [START_MS + number / 4 for number in range(1, 49)]


@pytest.mark.archive_server
def test_what_was_written_a_moment_ago_is_the_newest(server: Victoria) -> None:
    """Such a server answers from half a minute ago, unless it is told not to."""
    truth, now_ms = MemoryArchive(), time.time_ns() // 1_000_000
    for at_ms in (now_ms - 60_000, now_ms - 500):
        truth.write("site", {"site": "fresh"}, {"heartbeat": 1.0}, at_ms)
    server.write(truth.lines())
    selection, span = Selection("site", "heartbeat", {"site": "fresh"}), (now_ms - 90_000, now_ms + 1)
    with closing(open_reader(ReadAccess(server.url))) as reader:
        assert reader.last(selection, (), *span) == (Newest({}, now_ms - 500, 1.0),)
        assert reader.aggregate(selection, Over.COUNT, (), *span) == (Figure({}, 2.0),)


def test_the_sites_that_wrote_anything(held: Held, request: pytest.FixtureRequest) -> None:
    site = _site(request)
    held.truth.write("site", {"site": f"{site}-b"}, {"heartbeat": 1.0}, START_MS)
    held.truth.write_reading(f"{site}-a", SENSORS[0], START_MS, 20.5)
    held.truth.write("weather", {"place": "hill"}, {"value": 1.0}, START_MS)
    held.ready()
    found = held.reader.sites(START_MS, START_MS + 1)
    assert [name for name in found if name.startswith(site)] == [f"{site}-a", f"{site}-b"]
    assert "" not in found


if LIVE_URL:

    def test_a_live_influxdb_gives_back_what_was_written() -> None:
        """Collected only where REARING_INFLUX_URL names a server (with _ORG, _BUCKET and _TOKEN)."""
        org, bucket, token = (
            os.environ.get(f"REARING_INFLUX_{name}", "") for name in ("ORG", "BUCKET", "TOKEN")
        )
        settings = ArchiveSettings(url=LIVE_URL or "", org=org, bucket=bucket, token=SecretStr(token))
        start_ms = time.time_ns() // 1_000_000 - 4 * 3_600_000
        truth, site = MemoryArchive(), f"live-test-{start_ms}"
        for number in range(500):
            for sensor in SENSORS:
                truth.write_reading(site, sensor, start_ms + number * 7001, number / 8, 1 + number % 4)
        with closing(ArchiveClient(settings)) as client:
            assert client.send(truth.lines()).verdict is Verdict.STORED
        with closing(open_reader(access_of(settings))) as reader:
            assert isinstance(reader, FluxReader)
            span = (start_ms + 7001, start_ms + 499 * 7001)
            assert _as_rows(reader.readings(site, *span)) == _as_rows(truth.readings(site, *span))
            assert reader.span(site, *span) == truth.span(site, *span)
            assert site in reader.sites(*span)
            selection = Selection("air_temperature", tags={"site": site, "probe": ("", "left")})
            for by in ((), ("node", "probe")):
                assert reader.last(selection, by, *span) == truth.last(selection, by, *span)
                for over in Over:
                    assert reader.aggregate(selection, over, by, *span) == truth.aggregate(
                        selection, over, by, *span
                    )


def test_a_reader_proves_that_it_is_understood(held: Held) -> None:
    held.reader.prove()
