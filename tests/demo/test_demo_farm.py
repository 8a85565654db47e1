"""The whole invented farm: deterministic, complete, and its script shows in the messages."""

import datetime
import json
from collections import Counter, defaultdict
from collections.abc import Iterable

import pytest

from monitor.demo.farm import Publication, SimulatedFarm
from monitor.demo.script import BOARDS, SCRIPT, UNKNOWN_BOARD, IncidentKind, Script
from monitor.intake.payload import Topics, understand
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    IncomingMessage,
    NodeMessage,
    NodeStatus,
    TimeSource,
)
from monitor.words.catalogue import LANGUAGES
from monitor.words.localizer import Localizer

START_MS = round(datetime.datetime(2026, 9, 22, 5, 0, tzinfo=datetime.UTC).timestamp() * 1000)


@pytest.fixture(scope="module")
def two_days() -> list[Publication]:
    return SimulatedFarm(7, START_MS).step(START_MS + 2 * MS_PER_DAY)


def _of(published: Iterable[Publication], node: str, last: str = "readings") -> list[Publication]:
    return [each for each in published if each.node == node and each.topic.endswith(last)]


def _series(published: Iterable[Publication], node: str, name: str) -> dict[int, float]:
    """Values by time of measurement, a relative time counted from the time of sending."""
    series = {}
    for each in _of(published, node):
        pack = json.loads(each.payload)
        base_s = pack[0].get("bt", each.at_ms / 1000)
        for record in pack:
            if record["n"] == name:
                series[round((base_s + record.get("t", 0)) * 1000)] = record["v"]
    return series


def _between(series: dict[int, float], from_h: float, to_h: float) -> list[float]:
    left, right = START_MS + from_h * MS_PER_HOUR, START_MS + to_h * MS_PER_HOUR
    return [value for at_ms, value in series.items() if left <= at_ms < right]


def _at(kind: IncidentKind) -> tuple[float, float]:
    (incident,) = [each for each in SCRIPT if each.kind is kind]
    return incident.start_h, incident.end_h


def _fingerprint(published: Iterable[Publication]) -> list[tuple[str, bytes, int]]:
    return [(each.topic, each.payload, each.at_ms) for each in published]


def test_same_seed_same_bytes_and_another_seed_another_farm() -> None:
    until_ms = START_MS + 3 * MS_PER_HOUR
    first, again, other = (SimulatedFarm(seed, START_MS).step(until_ms) for seed in (7, 7, 8))
    assert _fingerprint(first) == _fingerprint(again)
    assert _fingerprint(first) != _fingerprint(other)


def test_one_long_step_publishes_what_many_short_ones_do() -> None:
    long, short = SimulatedFarm(7, START_MS), SimulatedFarm(7, START_MS)
    stepped = [each for minute in range(1, 121) for each in short.step(START_MS + minute * MS_PER_MINUTE)]
    whole = long.step(START_MS + 120 * MS_PER_MINUTE)
    assert sorted(_fingerprint(stepped)) == sorted(_fingerprint(whole))


def test_nothing_is_published_before_it_was_measured_or_after_the_step(two_days: list[Publication]) -> None:
    times = [each.at_ms for each in two_days]
    assert times == sorted(times)
    assert times[0] >= START_MS
    assert times[-1] <= START_MS + 2 * MS_PER_DAY


def test_every_board_speaks_once_a_minute_unless_something_befalls_it(two_days: list[Publication]) -> None:
    counts = Counter(each.node for each in two_days if each.topic.endswith("readings"))
    assert set(counts) == {board.id for board in (*BOARDS, UNKNOWN_BOARD)}
    power_cut_minutes = 90
    assert counts["node-01"] == 2 * 1440 - power_cut_minutes


def test_no_message_is_sent_twice(two_days: list[Publication]) -> None:
    seen = set()
    for each in two_days:
        if each.topic.endswith("readings"):
            pack = json.loads(each.payload)
            key = (each.node, pack[0]["v"], pack[1]["v"])
            assert key not in seen
            seen.add(key)


def test_times_of_measurement_of_a_board_never_repeat(two_days: list[Publication]) -> None:
    seen: dict[str, set[int]] = defaultdict(set)
    for each in _of(two_days, "node-06"):
        for record in json.loads(each.payload):
            if record["n"] == "air_humidity":
                at_ms = round(each.at_ms + record.get("t", 0) * 1000)
                assert at_ms not in seen[each.node]
                seen[each.node].add(at_ms)


def test_the_covered_bin_overheats_at_night_and_cools_when_the_keeper_comes(
    two_days: list[Publication],
) -> None:
    series = _series(two_days, "node-11", "substrate_temperature")
    start_h, end_h = _at(IncidentKind.COVERED)
    assert max(_between(series, 0, start_h)) < 38
    assert max(_between(series, start_h, end_h)) > 46
    assert max(_between(series, end_h + 0.1, 48)) < 38


def test_the_forgotten_tray_dries_and_recovers(two_days: list[Publication]) -> None:
    series = _series(two_days, "node-07", "air_humidity")
    assert min(_between(series, 4, 10.5)) < 58
    assert min(_between(series, 11.5, 24)) > 62
    assert min(_between(_series(two_days, "node-05", "air_humidity"), 0, 24)) > 62


def test_the_draught_cools_its_cage_alone(two_days: list[Publication]) -> None:
    start_h, end_h = _at(IncidentKind.DRAUGHT)
    assert min(_between(_series(two_days, "node-04", "air_temperature"), start_h, end_h)) < 22
    assert min(_between(_series(two_days, "node-03", "air_temperature"), start_h, end_h)) > 24


def test_a_power_cut_silences_all_boards_within_minutes_and_some_send_what_they_kept(
    two_days: list[Publication],
) -> None:
    start_h, end_h = _at(IncidentKind.POWER_CUT)
    left, right = START_MS + start_h * MS_PER_HOUR, START_MS + end_h * MS_PER_HOUR
    during = [each for each in two_days if left + 3 * MS_PER_MINUTE <= each.at_ms < right]
    assert during == []
    offline = [each.node for each in two_days if left <= each.at_ms < right and each.payload == b"offline"]
    assert len(set(offline)) == 15
    kept = _between(_series(two_days, "node-02", "air_temperature"), start_h, end_h)
    lost = _between(_series(two_days, "node-01", "air_temperature"), start_h, end_h)
    assert len(kept) == 90
    assert lost == []


def test_the_dead_board_is_announced_by_the_broker_and_returns_as_a_new_boot(
    two_days: list[Publication],
) -> None:
    start_h, end_h = _at(IncidentKind.DEAD)
    words = [(each.payload, each.retain) for each in _of(two_days, "node-13", "status")]
    assert words[:3] == [(b"online", True), (b"offline", True), (b"online", True)]
    series = _series(two_days, "node-13", "substrate_temperature")
    assert _between(series, start_h, end_h) == []
    boots = [json.loads(each.payload)[0]["v"] for each in _of(two_days, "node-13")]
    assert boots[-1] > boots[0]


def test_the_board_out_of_range_sends_hours_at_once(two_days: list[Publication]) -> None:
    start_h, end_h = _at(IncidentKind.OUT_OF_RANGE)
    assert len(_between(_series(two_days, "node-06", "air_temperature"), start_h, end_h)) == 240
    sent = [each for each in _of(two_days, "node-06") if len(json.loads(each.payload)) > 10]
    assert (
        START_MS + end_h * MS_PER_HOUR <= sent[0].at_ms < START_MS + end_h * MS_PER_HOUR + 2 * MS_PER_MINUTE
    )


def test_the_stuck_probe_and_the_loose_cable_show(two_days: list[Publication]) -> None:
    stuck = _between(_series(two_days, "node-12", "substrate_temperature"), *_at(IncidentKind.STUCK))
    assert len(set(stuck)) == 1
    loose = _between(_series(two_days, "node-10", "substrate_temperature"), *_at(IncidentKind.LOOSE_CABLE))
    assert -127.0 in loose


def test_the_monitor_understands_every_message_with_the_times_of_the_boards(
    two_days: list[Publication],
) -> None:
    topics = Topics("saltbush-yard")
    sources = set()
    for each in two_days:
        received_ms = -(-each.at_ms // MS_PER_MINUTE) * MS_PER_MINUTE
        understood = understand(IncomingMessage(each.topic, each.payload, received_ms), topics)
        assert isinstance(understood, NodeMessage | NodeStatus), understood
        assert understood.node == each.node
        if isinstance(understood, NodeMessage):
            assert understood.boot is not None
            assert understood.clock_fault is None
            sources.add((each.node, understood.time_source))
    assert {source for node, source in sources if node == "node-06"} == {TimeSource.RELATIVE}
    assert {source for node, source in sources if node == "node-08"} == {TimeSource.NODE}


def test_a_quiet_farm_has_nothing_wrong() -> None:
    farm = SimulatedFarm(7, START_MS, script=Script(START_MS, ()))
    published = farm.step(START_MS + 12 * MS_PER_HOUR)
    assert {each.payload for each in published if each.topic.endswith("status")} == {b"online"}
    assert UNKNOWN_BOARD.id not in {each.node for each in published}
    assert farm.news(START_MS, START_MS + MS_PER_DAY) == ()


def test_news_tells_each_beginning_and_end_once() -> None:
    farm = SimulatedFarm(7, START_MS)
    hours = range(120)
    told = [
        news.key
        for hour in hours
        for news in farm.news(START_MS + hour * MS_PER_HOUR, START_MS + (hour + 1) * MS_PER_HOUR)
    ]
    ends = [incident.key("ends") for incident in SCRIPT if incident.ends_aloud]
    assert sorted(told) == sorted([*(incident.key("begins") for incident in SCRIPT), *ends])
    assert all(
        Localizer.plain(language, datetime.UTC, START_MS).t(key) for key in told for language in LANGUAGES
    )
