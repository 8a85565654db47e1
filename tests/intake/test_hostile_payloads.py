"""A hundred thousand hostile payloads: no crash, every one accounted for, memory flat."""

from __future__ import annotations

import gc
import json
import random
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import cbor2
import psutil
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.payload import MOST_REASON, SAMPLE_BYTES, Topics, compile_routes, understand
from monitor.intake.senml import CBOR_LABELS
from monitor.records import Ask, BoardReport, IncomingMessage, NodeMessage, NodeStatus, Rejected
from monitor.settings.schema import PlainMapping

NOW_MS = 1_790_000_000_000
COUNT = 100_000
TOPICS = Topics("saltbush-yard")
ROUTES = compile_routes(
    [
        PlainMapping(topic="boards/{node}/t", quantity="air_temperature"),
        PlainMapping(topic="boards/{node}/state", field="t", quantity="air_temperature", unit="degF"),
    ]
)
NAMES = (
    "rearing/saltbush-yard/node-1/readings",
    "rearing/saltbush-yard/node-1/readings",
    "rearing/saltbush-yard/node-1/readings",
    "rearing/saltbush-yard/node-1/readings",
    "rearing/saltbush-yard/node-1/readings",
    "rearing/saltbush-yard/node-1/status",
    "rearing/saltbush-yard/node-1/ask",
    "rearing/saltbush-yard/node-1/report",
    "rearing/saltbush-yard/\x00/readings",
    "rearing/saltbush-yard/service",
    "boards/b1/t",
    "boards/b1/state",
)
GOOD = [
    path.read_bytes()
    for path in sorted((Path(__file__).parents[2] / "firmware_notes" / "examples").glob("*/*"))
    if path.stat().st_size < 1000
]
PACKS = [payload for payload in GOOD if payload.startswith(b"[\n")]
REPORT: dict[str, object] = {
    "version": "1.0.0",
    "boot": 7,
    "reset": "power",
    "lost": 3,
    "rssi_dbm": -61,
    "faults": {"sht4x": "crc"},
    "probes": {"28ff641dc1160364": "p1"},
}
LABELS: tuple[str | int, ...] = (*CBOR_LABELS.values(), "x", "x_", *CBOR_LABELS)
WORDS = (
    "air_temperature",
    "probe/air_humidity",
    "boot",
    "sequence",
    "Cel",
    "%RH",
    "mV",
    "",
    "a b",
    "\ud800",
    "é" * 9,
)
NUMBERS = (0, -1, 1.5, 1e308, -1e308, 2**53, 2**64, 10**400, 1_790_000_000, 2**28, 1e-300, 10, 26)


def _scalar(chance: random.Random) -> object:
    kind = chance.randrange(5)
    if kind < 2:
        return chance.choice(NUMBERS)
    return (chance.choice(WORDS), chance.random() < 0.5, None)[kind - 2]


def _value(chance: random.Random, depth: int = 0) -> object:
    kind = chance.randrange(6 if depth < 4 else 4)
    if kind < 4:
        return _scalar(chance)
    if kind == 4:
        return [_value(chance, depth + 1) for _ in range(chance.randrange(4))]
    return {str(chance.choice(LABELS)): _value(chance, depth + 1) for _ in range(chance.randrange(5))}


def _pack(chance: random.Random, labels: tuple[str | int, ...]) -> list[dict[str | int, object]]:
    return [
        {chance.choice(labels): _scalar(chance) for _ in range(chance.randrange(1, 7))}
        for _ in range(chance.randrange(6))
    ]


def _mutated(chance: random.Random) -> bytes:
    data = bytearray(chance.choice(GOOD))
    for _ in range(chance.randrange(1, 5)):
        at = chance.randrange(len(data) + 1)
        kind = chance.randrange(3)
        if kind == 0:
            data[at:at] = chance.randbytes(chance.randrange(1, 4))
        elif kind == 1:
            del data[at : at + chance.randrange(1, 9)]
        else:
            data[at : at + 1] = bytes([chance.randrange(256)])
    return bytes(data)


def _changed(chance: random.Random) -> bytes:
    """A good pack with one field of one record changed."""
    pack = json.loads(chance.choice(PACKS))
    for _ in range(chance.randrange(3)):
        chance.choice(pack)[chance.choice(list(CBOR_LABELS.values()))] = _scalar(chance)
    if chance.random() < 0.5:
        return json.dumps(pack).encode()
    numbers = {text: number for number, text in CBOR_LABELS.items()}
    try:
        return cbor2.dumps([{numbers.get(key, key): value for key, value in one.items()} for one in pack])
    except UnicodeEncodeError:
        return b""


def _json(chance: random.Random) -> bytes:
    made = _pack(chance, tuple(CBOR_LABELS.values())) if chance.random() < 0.7 else _value(chance)
    return json.dumps(made).encode()


def _cbor(chance: random.Random) -> bytes:
    made = _pack(chance, tuple(CBOR_LABELS)) if chance.random() < 0.7 else _value(chance)
    try:
        return cbor2.dumps(made)
    except UnicodeEncodeError:
        return b"\x81\xa1\x00\x63\xed\xa0\x80"


def _talk(chance: random.Random) -> bytes:
    """What a board asks or reports, with some of it wrong."""
    said: dict[str, object] = {"id": 17, "boot": 7, "first": 38, "last": 41, **REPORT}
    for key in chance.sample(sorted(REPORT), chance.randrange(len(REPORT))):
        del said[key]
    for _ in range(chance.randrange(3)):
        said[chance.choice(list(said))] = _value(chance)
    return json.dumps(said).encode()


def _noise(chance: random.Random) -> bytes:
    return chance.choice((b"", b"\x81", b"[", b"\x9f")) + chance.randbytes(chance.randrange(64))


MAKERS: tuple[Callable[[random.Random], bytes], ...] = (_mutated, _changed, _json, _cbor, _noise)


def _sent(chance: random.Random) -> IncomingMessage:
    kind = chance.choice((None, None, "application/senml+json", "application/senml+cbor", "text/é"))
    age = chance.choice((None, None, 0.0, 3600.0, 1e9))
    topic = chance.choice(NAMES)
    payload = chance.choice((_talk, *MAKERS) if topic.endswith(("ask", "report")) else MAKERS)(chance)
    return IncomingMessage(topic, payload, NOW_MS, chance.random() < 0.05, kind, age)


def _check(message: IncomingMessage) -> str:
    understood = understand(message, TOPICS, ROUTES)
    if understood is None:
        return "not for us"
    assert understood.received_ms == NOW_MS
    if isinstance(understood, Rejected):
        assert understood.reason
        assert len(understood.reason) <= MOST_REASON
        assert understood.reason.isprintable() and understood.reason.isascii()
        assert understood.sample == message.payload[:SAMPLE_BYTES]
        return "rejected"
    if isinstance(understood, NodeStatus):
        return "status"
    if isinstance(understood, Ask):
        assert 0 <= understood.id <= 2**53
        assert understood.first is None or understood.first <= (understood.last or 0)
        return "asked"
    if isinstance(understood, BoardReport):
        texts = (understood.version, understood.reset, understood.refused, *understood.faults.values())
        assert all(text.isprintable() and len(text) <= 200 for text in texts)
        return "reported"
    _check_message(understood)
    return "taken"


def _check_message(message: NodeMessage) -> None:
    for reading in message.readings:
        assert reading.value - reading.value == 0, "not finite"
        assert reading.at_ms <= NOW_MS + TOPICS.newest_ms
        assert reading.sensor.node in ("node-1", "b1")
    assert all(text.isascii() and text.isprintable() for text in message.skipped)
    assert [one.at_ms for one in message.readings] == sorted(one.at_ms for one in message.readings)


def _run(seed: int, count: int) -> Counter[str]:
    """Counts by outcome."""
    chance = random.Random(seed)
    return Counter(_check(_sent(chance)) for _ in range(count))


def test_hundred_thousand_payloads() -> None:
    """Promise 3: no crash, memory flat, and the counters add up."""
    _run(1, 5_000)
    gc.collect()
    before = psutil.Process().memory_info().rss
    outcomes = _run(2, COUNT)
    gc.collect()
    grown = psutil.Process().memory_info().rss - before
    assert sum(outcomes.values()) == COUNT
    assert set(outcomes) == {"taken", "rejected", "status", "asked", "reported", "not for us"}
    assert outcomes["taken"] > COUNT / 100, "the payloads are too hostile to reach the later checks"
    assert grown < 8 * 1024 * 1024


@pytest.mark.parametrize(
    "payload",
    [
        b"[" * 16_384,
        b'[{"n":' * 2_700,
        b"[" + b"1," * 8_000 + b"1]",
        b'[{"n":"a","v":' + b"9" * 16_000 + b"}]",
        b'[{"n":"' + b"a" * 16_000 + b'","v":1}]',
        b"[{" + b",".join(b'"%d":1' % number for number in range(1_700)) + b"}]",
        b"\x81" * 16_384,
        b"\x81\xb9\x06\x00"
        + b"".join(b"\x19" + number.to_bytes(2, "big") + b"\x00" for number in range(1_536)),
    ],
)
def test_largest_hostile_shapes(payload: bytes) -> None:
    assert len(payload) <= 16_384
    assert _check(IncomingMessage(NAMES[0], payload, NOW_MS)) == "rejected"


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=600), st.sampled_from(NAMES), st.sampled_from([None, "cbor", "json"]))
def test_any_bytes(payload: bytes, topic: str, kind: str | None) -> None:
    _check(IncomingMessage(topic, payload, NOW_MS, content_type=kind))


_VALUES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.sampled_from(WORDS[:7])
)
_RECORDS = st.lists(
    st.dictionaries(st.sampled_from(list(CBOR_LABELS.values())), _VALUES, max_size=8), max_size=8
)


@settings(max_examples=300, deadline=None)
@given(_RECORDS, st.booleans())
def test_any_pack(records: list[dict[str, object]], in_cbor: bool) -> None:
    numbers = {text: number for number, text in CBOR_LABELS.items()}
    if in_cbor:
        payload = cbor2.dumps([{numbers[label]: value for label, value in one.items()} for one in records])
    else:
        payload = json.dumps(records).encode()
    _check(IncomingMessage(NAMES[0], payload, NOW_MS))


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_any_topic(topic: str) -> None:
    _check(IncomingMessage(topic, b'[{"n":"light","u":"lx","v":1}]', NOW_MS))
