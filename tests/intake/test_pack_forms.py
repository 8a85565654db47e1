"""Packs read by their form are the same as those read the full way, refusals included."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake import pack_forms
from monitor.intake.pack_forms import PackForms
from monitor.intake.payload import Topics, understand
from monitor.records import MS_PER_DAY, IncomingMessage, NodeMessage, TimeSource

T0_S = 1_790_000_000
TOPICS = Topics("yard")
TOPIC = "rearing/yard/node-1/readings"

NAMES = st.sampled_from(
    [
        "air_temperature",
        "air_humidity",
        "bin1/substrate_temperature",
        "urn:dev:mac:0123:battery",
        "boot",
        "sequence",
        "nonsense",
        "b!/air_temperature",
        "",
        '":5,',
    ]
)
UNITS = st.sampled_from(["Cel", "%RH", "V", "mV", "K", "count", "lx", "°C"])
TIMES = st.sampled_from([T0_S, T0_S + 0.25, -60, 0, -3600.5, T0_S - 8 * 86_400, T0_S + 600, 2**41, 1e300])
VALUES = st.one_of(
    st.integers(-5, 90),
    st.floats(-50, 120),
    st.sampled_from([-0.0, 1e308, 7.5, 2**31, 2**53 + 1, 10**400, True, "28", None]),
)
OWN = {
    "n": NAMES,
    "u": UNITS,
    "v": VALUES,
    "t": st.sampled_from([-60, -30, 0, 0.5, T0_S, 1e300]),
    "ut": st.sampled_from([120, 0, -5, 300.5]),
    "bn": st.sampled_from(["urn:dev:mac:0123:", "urn:dev:mac:0123:probe2/", "1", ":"]),
    "bu": UNITS,
    "bt": TIMES,
    "bv": st.integers(0, 3),
    "bver": st.sampled_from([10, 10.0, 26, 11]),
    "vs": st.sampled_from(["on", '"', '":7}', "\\"]),
    "s": st.just(4),
    "rssi": st.integers(-90, -20),
    "must_": st.just(1),
    "x": st.sampled_from([[1, 2], {"y": 5}, {"v": 3}]),
}
USUAL = st.fixed_dictionaries({"n": NAMES, "u": UNITS, "v": VALUES})
ODD = st.fixed_dictionaries({}, optional=OWN)
PAIRS = [
    ("air_temperature", "Cel"),
    ("probe2/air_temperature", "K"),
    ("air_humidity", "%RH"),
    ("battery", "mV"),
    ("boot", "count"),
    ("sequence", "count"),
]
PLAIN = st.builds(
    lambda pair, value, more: {"n": pair[0], "u": pair[1], "v": value, **more},
    st.sampled_from(PAIRS),
    st.one_of(st.integers(0, 90), st.floats(-20, 90), VALUES),
    st.fixed_dictionaries({}, optional={"t": st.sampled_from([-60, -30, 0.5]), "ut": OWN["ut"]}),
)
HEAD = st.fixed_dictionaries({"bt": TIMES}, optional={"bn": OWN["bn"], "ut": OWN["ut"]})
NEAR = st.fixed_dictionaries({"bt": st.sampled_from([T0_S, T0_S + 0.25, 0, -30])})
PACKS = st.one_of(
    st.tuples(HEAD, st.lists(st.one_of(USUAL, PLAIN, ODD), min_size=1, max_size=6)),
    st.tuples(NEAR, st.lists(PLAIN, min_size=1, max_size=6, unique_by=lambda record: str(record["n"]))),
).map(lambda parts: [{**parts[0], **parts[1][0]}, *parts[1][1:]])


def incoming(payload: bytes, **changes: Any) -> IncomingMessage:
    return replace(IncomingMessage(TOPIC, payload, T0_S * 1000 + 400), **changes)


def shuffled(pack: object, draw: Any, nudge: float) -> object:
    """The same pack with other numbers in the same places."""
    if isinstance(pack, dict):
        return {label: shuffled(value, draw, nudge) for label, value in pack.items()}
    if isinstance(pack, list):
        return [shuffled(value, draw, nudge) for value in pack]
    if isinstance(pack, float) or type(pack) is int:
        return draw(st.sampled_from([pack, pack + nudge if abs(pack) < 1e12 else pack, 7]))
    return pack


def same(forms: PackForms, message: IncomingMessage) -> NodeMessage | None:
    """What the form made of it, after it was compared with the full way."""
    by_form = forms.read(message)
    if by_form is not None:
        whole = understand(message, TOPICS)
        assert by_form == whole
        assert repr(by_form) == repr(whole)
    return by_form


@given(
    st.data(), PACKS, st.sampled_from([None, 0, 3.0, 100_000]), st.sampled_from([(",", ":"), (", ", " : ")])
)
def test_the_form_reads_what_the_full_way_reads(
    data: st.DataObject, pack: list[dict[str, Any]], age_s: float | None, between: tuple[str, str]
) -> None:
    forms = PackForms(TOPICS)
    for _ in range(4):
        payload = json.dumps(pack, separators=between).encode()
        same(forms, incoming(payload, age_s=age_s))
        pack = shuffled(pack, data.draw, 0.5)  # type: ignore[assignment]


@given(st.binary(max_size=40), st.integers(0, 400), st.integers(0, 5))
def test_a_text_that_was_damaged_reads_as_it_does_the_full_way(damage: bytes, at: int, cut: int) -> None:
    forms, whole = PackForms(TOPICS), usual()
    same(forms, incoming(whole))
    same(forms, incoming(whole[:at] + damage + whole[at + cut :]))
    assert same(forms, incoming(whole)) is not None


def usual(sequence: int = 1, value: str = "28.25", at: str = str(T0_S)) -> bytes:
    """What the boards of this project send."""
    return (
        f'[{{"bt":{at},"n":"air_temperature","u":"Cel","v":{value},"ut":120}},'
        '{"n":"bin1/substrate_temperature","u":"Cel","v":33.1},{"n":"battery","u":"mV","v":3900},'
        f'{{"n":"boot","u":"count","v":7}},{{"n":"sequence","u":"count","v":{sequence}}}]'
    ).encode()


@pytest.mark.parametrize("at", [str(T0_S), "0", "-5", f"{T0_S}.250"])
def test_what_a_board_sends_is_read_by_its_form_from_the_first_pack_on(at: str) -> None:
    forms = PackForms(TOPICS)
    found = [same(forms, incoming(usual(number, f"{28 + number / 4}", at))) for number in range(3)]
    assert [message and message.sequence for message in found] == [0, 1, 2]
    assert [message and message.readings[2].value for message in found] == [3.9] * 3
    assert {message and message.time_source for message in found} <= {TimeSource.NODE, TimeSource.RELATIVE}


@pytest.mark.parametrize(
    "payload",
    [
        usual(value="028.25"),
        usual(value="+28.25"),
        usual(value="28."),
        usual(value=".5"),
        usual(value="1e999"),
        usual(value="NaN"),
        usual(value="0x1"),
        usual(value="2_8"),
        usual(sequence=-1),
        usual(sequence=2**63),
        usual(at=str(T0_S - 8 * 86_400)),
        usual(at=str(T0_S + 3600)),
        usual(at="1e300"),
        usual().replace(b'"n":"battery"', b'"n":"air_temperature"'),
        usual().replace(b'"n":"battery"', b'"n":"air_temperature","n":"battery"'),
        usual().replace(b'"u":"mV"', b'"u":"lx"'),
        usual().replace(b'"ut":120', b'"ut_":120'),
        usual().replace(b'"ut":120', b'"bver":11'),
        usual().replace(b"boot", b"b\0ot"),
        usual()[:-1],
        usual() + b"]",
    ],
)
def test_what_is_not_plain_goes_the_full_way(payload: bytes) -> None:
    forms = PackForms(TOPICS)
    assert same(forms, incoming(usual())) is not None
    for _ in range(2):
        assert forms.read(incoming(payload)) is None


def test_a_backlog_with_times_of_its_own_is_read_by_its_form() -> None:
    records = [
        {"bt": T0_S, "n": "air_temperature", "u": "Cel", "v": 28.0},
        *({"n": "air_temperature", "u": "Cel", "v": 28.0 + back, "t": -60 * back} for back in (3, 1, 2)),
        {"n": "boot", "u": "count", "v": 1},
        {"n": "sequence", "u": "count", "v": 1},
    ]
    forms = PackForms(TOPICS)
    found = same(forms, incoming(json.dumps(records).encode()))
    assert found is not None
    assert [reading.value for reading in found.readings] == [31.0, 30.0, 29.0, 28.0]
    records[1]["t"] = -60
    assert forms.read(incoming(json.dumps(records).encode())) is None


def test_only_packs_of_boards_are_read_so() -> None:
    forms = PackForms(TOPICS)
    assert forms.read(incoming(usual(), retained=True)) is None
    assert forms.read(incoming(usual(), content_type="application/senml+cbor")) is None
    for topic in ("rearing/yard/node-1/status", "rearing/other/node-1/readings", "rearing/yard/n d/readings"):
        assert forms.read(incoming(usual(), topic=topic)) is None
    assert forms.read(incoming(usual())) is not None


def test_a_form_belongs_to_its_topic() -> None:
    forms = PackForms(TOPICS)
    for node in ("node-1", "node-2", "node-1"):
        found = forms.read(incoming(usual(), topic=f"rearing/yard/{node}/readings"))
        assert found is not None
        assert {found.node, *(reading.sensor.node for reading in found.readings)} == {node}


def test_what_is_remembered_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pack_forms, "MOST_KEPT_BYTES", 10_000)
    forms = PackForms(TOPICS)
    for number in range(500):
        forms.read(incoming(usual().replace(b"bin1", b"bin%d" % number)))
    assert len(forms._forms) < 10_000 / 200
    assert forms.read(incoming(b"[" + b" " * 2100 + usual()[1:])) is None


def test_other_bounds_of_time_are_kept_too() -> None:
    forms = PackForms(replace(TOPICS, oldest_ms=30 * MS_PER_DAY))
    assert forms.read(incoming(usual(at=str(T0_S - 8 * 86_400)))) is not None
