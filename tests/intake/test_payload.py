"""What one message means: times, identity, quantities, limits, status, retained."""

from __future__ import annotations

import dataclasses
import json
from datetime import UTC
from typing import Any

import pytest

from monitor.errors import said_of
from monitor.intake.payload import MOST_BYTES, Topics, understand
from monitor.records import (
    MS_PER_DAY,
    MS_PER_MINUTE,
    IncomingMessage,
    NodeMessage,
    NodeStatus,
    Rejected,
    SensorKey,
    TimeSource,
)
from monitor.words.localizer import Localizer

TOPICS = Topics("saltbush-yard")
NOW_MS = 1_790_000_000_000
NOW_S = NOW_MS // 1000
AIR = {"n": "air_temperature", "u": "Cel", "v": 27.4}
HUMIDITY = {"n": "air_humidity", "u": "%RH", "v": 68.2}


def _message(*records: dict[str, Any], topic: str = "node-1/readings", **more: Any) -> IncomingMessage:
    payload = json.dumps(records).encode()
    return IncomingMessage(f"rearing/saltbush-yard/{topic}", payload, NOW_MS, **more)


def _taken(*records: dict[str, Any], **more: Any) -> NodeMessage:
    understood = understand(_message(*records, **more), TOPICS)
    assert isinstance(understood, NodeMessage), understood
    return understood


def _refused(*records: dict[str, Any], **more: Any) -> Rejected:
    understood = understand(_message(*records, **more), TOPICS)
    assert isinstance(understood, Rejected), understood
    return understood


def _offsets_ms(message: NodeMessage) -> list[int]:
    return [reading.at_ms - NOW_MS for reading in message.readings]


def test_whole_pack() -> None:
    counters = ({"n": "boot", "u": "count", "v": 7}, {"n": "sequence", "v": 12345})
    message = _taken(
        {"bn": "urn:dev:mac:0024befffe804ff1:", "bt": NOW_S - 3, **AIR, "ut": 90}, HUMIDITY, *counters
    )
    assert (message.node, message.boot, message.sequence) == ("node-1", 7, 12345)
    assert (message.silence_limit_s, message.clock_fault, message.skipped) == (90, None, ())
    assert message.time_source is TimeSource.NODE
    assert [(str(one.sensor), one.value) for one in message.readings] == [
        ("node-1/air_temperature", 27.4),
        ("node-1/air_humidity", 68.2),
    ]
    assert _offsets_ms(message) == [-3000, -3000]


def test_node_is_the_topic_never_the_payload() -> None:
    message = _taken({"bn": "node-2/", **AIR}, topic="node-1/readings")
    assert message.readings[0].sensor == SensorKey("node-1", "", "air_temperature")


@pytest.mark.parametrize(
    "record",
    [
        {"n": "probe1/air_temperature"},
        {"bn": "urn:dev:ow:10e2073a01080063:", "n": "probe1/air_temperature"},
        {"n": "urn:dev:ow:10e2073a01080063:probe1/air_temperature"},
        {"bn": "urn:dev:ow:10e2073a01080063:probe1/air_temperature"},
    ],
)
def test_probe_and_quantity_stand_after_the_last_colon(record: dict[str, Any]) -> None:
    message = _taken({"u": "Cel", "v": 1, **record})
    assert message.readings[0].sensor == SensorKey("node-1", "probe1", "air_temperature")


def test_probe_in_the_base_name_is_not_mistaken_for_the_same_sensor() -> None:
    message = _taken({"bn": "probe1/", **AIR}, {"bn": "probe2/", **AIR, "v": 30, "t": -1})
    assert len(message.readings) == 1
    assert "stands under two base names" in message.skipped[0]


@pytest.mark.parametrize(
    ("record", "reason"),
    [
        ({"n": "wind_speed", "u": "m/s", "v": 1}, "not a quantity that is known here"),
        ({"n": "dew_point", "u": "Cel", "v": 1}, "not a quantity that is known here"),
        ({"n": "a/b/air_temperature", "u": "Cel", "v": 1}, "a probe's name may hold"),
        ({"n": "/air_temperature", "bn": "x", "u": "Cel", "v": 1}, "a probe's name may hold"),
        ({"n": "air_humidity", "u": "Cel", "v": 1}, "cannot be turned into %RH"),
        ({"n": "air_humidity", "v": 1}, "has no unit; it should be %RH"),
        ({"n": "air_humidity", "u": "%RH", "vs": "dry"}, "holds no number"),
        ({"n": "air_humidity", "u": "%RH", "vb": True}, "holds no number"),
        ({"n": "air_humidity", "u": "%RH", "s": 12}, "holds no number"),
        ({**AIR, "v": 3}, "occurs twice at the same time"),
        ({**HUMIDITY, "t": -8 * 86400}, "older than is taken in"),
        ({**HUMIDITY, "t": 301}, "lies in the future"),
        ({"n": "sequence", "v": 1.5}, "must be one whole number"),
        ({"n": "boot", "v": -1}, "must be one whole number"),
        ({"n": "boot", "vs": "first"}, "must be one whole number"),
        ({"n": "boot", "v": 1e300}, "must be one whole number"),
    ],
)
def test_one_unusable_record_is_skipped_and_named(record: dict[str, Any], reason: str) -> None:
    message = _taken(AIR, record)
    assert [one.value for one in message.readings] == [27.4]
    assert (message.boot, message.sequence) == (None, None)
    assert len(message.skipped) == 1
    assert reason in message.skipped[0]


def test_nothing_usable_is_a_refusal() -> None:
    refused = _refused({"n": "wind_speed", "u": "m/s", "v": 1}, {"n": "air_humidity", "v": 1})
    assert refused.reason.startswith("no record could be used: wind_speed: not a quantity")
    assert "air_humidity: has no unit" in refused.reason


def test_counters_alone_are_a_sign_of_life() -> None:
    message = _taken({"n": "boot", "v": 1}, {"n": "sequence", "v": 2})
    assert (message.readings, message.boot, message.sequence) == ((), 1, 2)


def test_counters_are_kept_up_to_the_largest_whole_double() -> None:
    assert _taken(AIR, {"n": "sequence", "v": 2**53}).sequence == 2**53


def test_shortest_promise_counts() -> None:
    assert _taken({**AIR, "ut": 300}, {**HUMIDITY, "ut": 60}).silence_limit_s == 60
    assert _taken({**AIR, "ut": 0}, {**HUMIDITY, "ut": -5}).silence_limit_s is None


@pytest.mark.parametrize(
    ("offset_ms", "source"),
    [
        (-7 * MS_PER_DAY, TimeSource.NODE),
        (-7 * MS_PER_DAY - 1000, TimeSource.RECEIVED),
        (5 * MS_PER_MINUTE, TimeSource.NODE),
        (5 * MS_PER_MINUTE + 1000, TimeSource.RECEIVED),
    ],
)
def test_own_time_is_taken_from_seven_days_back_to_five_minutes_ahead(
    offset_ms: int, source: TimeSource
) -> None:
    message = _taken({**AIR, "t": NOW_S + offset_ms // 1000})
    assert message.time_source is source
    assert (message.clock_fault is None) == (source is TimeSource.NODE)
    assert _offsets_ms(message) == [offset_ms if source is TimeSource.NODE else 0]


def test_limits_of_time_can_be_set() -> None:
    topics = dataclasses.replace(TOPICS, oldest_ms=MS_PER_DAY, newest_ms=0)
    understood = understand(_message({**AIR, "t": NOW_S - 2 * 86400}), topics)
    assert isinstance(understood, NodeMessage)
    assert understood.clock_fault == "2 days behind; the time of arrival was used instead"


def test_backlog_of_a_wrong_clock_keeps_its_distances() -> None:
    message = _taken({"bt": 1_000_000_000, **AIR, "t": -600}, {**AIR, "t": -300}, AIR)
    assert message.time_source is TimeSource.RECEIVED
    assert _offsets_ms(message) == [-600_000, -300_000, 0]


def test_backlog_of_a_right_clock_loses_only_what_is_too_old() -> None:
    message = _taken({"bt": NOW_S, **AIR, "t": -8 * 86400}, AIR)
    assert message.time_source is TimeSource.NODE
    assert _offsets_ms(message) == [0]
    assert message.skipped == ("air_temperature: older than is taken in",)


def test_relative_times_count_from_the_moment_of_sending() -> None:
    message = _taken({**AIR, "t": -60}, HUMIDITY, age_s=3600.0)
    assert message.time_source is TimeSource.RELATIVE
    assert _offsets_ms(message) == [-3_660_000, -3_600_000]


def test_age_does_not_move_absolute_times() -> None:
    assert _offsets_ms(_taken({**AIR, "t": NOW_S - 10}, age_s=3600.0)) == [-10_000]


def test_readings_come_in_the_order_of_time() -> None:
    message = _taken({**AIR, "t": -1}, {**AIR, "t": -9}, {**AIR, "t": -5})
    assert _offsets_ms(message) == [-9000, -5000, -1000]


def test_retained_readings_are_nobodys_news() -> None:
    assert understand(_message(AIR, retained=True), TOPICS) is None


@pytest.mark.parametrize("retained", [False, True])
@pytest.mark.parametrize(("word", "online"), [(b"online", True), (b" OFFLINE\n", False)])
def test_status(word: bytes, online: bool, retained: bool) -> None:
    message = IncomingMessage("rearing/saltbush-yard/node-1/status", word, NOW_MS, retained)
    assert understand(message, TOPICS) == NodeStatus("node-1", NOW_MS, online)


def test_other_status_is_refused() -> None:
    understood = understand(IncomingMessage("rearing/saltbush-yard/node-1/status", b"<b>", NOW_MS), TOPICS)
    assert isinstance(understood, Rejected)
    assert understood.reason == "the status is b'<b>'; allowed: online, offline"


@pytest.mark.parametrize(
    "topic",
    [
        "rearing/saltbush-yard/service",
        "rearing/saltbush-yard/sounder",
        "rearing/other-yard/node-1/readings",
        "rearing/saltbush-yard/node-1/readings/more",
        "rearing/saltbush-yard/node-1/log",
        "rearing/saltbush-yard//",
        "",
    ],
)
def test_foreign_topics_are_not_for_us(topic: str) -> None:
    assert understand(IncomingMessage(topic, b"[]", NOW_MS), TOPICS) is None


@pytest.mark.parametrize("node", ["", "-x", "a b", "n" * 41, "<script>", "näh", "../etc"])
def test_node_name_must_be_safe(node: str) -> None:
    understood = understand(IncomingMessage(f"rearing/saltbush-yard/{node}/readings", b"[]", NOW_MS), TOPICS)
    if "/" in node:
        assert understood is None
        return
    assert isinstance(understood, Rejected)
    assert understood.node is None
    assert "may hold letters" in understood.reason


def test_payload_has_a_largest_size() -> None:
    at_limit = json.dumps([AIR]).encode().ljust(MOST_BYTES)
    topic = "rearing/saltbush-yard/node-1/readings"
    assert isinstance(understand(IncomingMessage(topic, at_limit, NOW_MS), TOPICS), NodeMessage)
    refused = understand(IncomingMessage(topic, at_limit + b" ", NOW_MS), TOPICS)
    assert isinstance(refused, Rejected)
    assert refused.reason == "the payload has 16385 bytes; allowed: 16384"
    assert len(refused.sample) == 512


def test_impossible_value_is_taken_for_quality_to_judge() -> None:
    """A negative humidity is a fault of the sensor: it is flagged, not dropped."""
    assert _taken({**HUMIDITY, "v": -4}).readings[0].value == -4


@pytest.mark.parametrize(
    ("payload", "french"),
    [
        (b"{", "le contenu n’est pas du JSON : JSONDecodeError"),
        (
            b'[{"n":"air_temperature","u":"%RH","v":5}]',
            "aucun enregistrement n’a pu servir : air_temperature : l’unité '%RH' ne peut pas être convertie",
        ),
        (
            b'[{"n":"light","v":5},{"n":"mood","u":"lx","v":5}]',
            "light : n’a pas d’unité ; ce devrait être lx; mood : grandeur inconnue ici",
        ),
    ],
)
def test_a_refusal_can_be_said_in_another_language(payload: bytes, french: str) -> None:
    topic = "rearing/yard/node-1/readings"
    refused = understand(IncomingMessage(topic, payload, NOW_MS), Topics("yard"))
    assert isinstance(refused, Rejected)
    words = Localizer.plain("fr", UTC, NOW_MS)
    said = words.sentence(said_of(refused.reason)).replace("\u202f", " ").replace("\u00a0", " ")
    assert french in said
    assert said_of(refused.reason).text == refused.reason
