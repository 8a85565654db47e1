"""Boards that send a bare number or a flat JSON object."""

from __future__ import annotations

from typing import Any

import pytest

from monitor.intake.payload import Topics, compile_routes, problems, understand
from monitor.records import IncomingMessage, NodeMessage, Rejected, TimeSource
from monitor.settings.schema import PlainMapping

NOW_MS = 1_790_000_000_000
TOPICS = Topics("saltbush-yard")
NUMBER: dict[str, Any] = {"topic": "boards/{node}/t", "quantity": "air_temperature"}
FIELDS: tuple[dict[str, Any], ...] = (
    {"topic": "boards/{node}/state", "field": "t", "quantity": "air_temperature", "unit": "degF"},
    {"topic": "boards/{node}/state", "field": "h", "quantity": "air_humidity"},
)


def _understand(topic: str, payload: bytes, *mappings: dict[str, Any], **more: Any) -> object:
    routes = compile_routes(PlainMapping(**mapping) for mapping in mappings)
    return understand(IncomingMessage(topic, payload, NOW_MS, **more), TOPICS, routes)


def _values(understood: object) -> dict[str, float]:
    assert isinstance(understood, NodeMessage), understood
    return {str(one.sensor): one.value for one in understood.readings}


def test_bare_number_is_dated_by_reception() -> None:
    understood = _understand("boards/shed-1/t", b" 27.4\n", NUMBER, age_s=60.0)
    assert _values(understood) == {"shed-1/air_temperature": 27.4}
    assert isinstance(understood, NodeMessage)
    assert understood.time_source is TimeSource.RECEIVED
    assert understood.readings[0].at_ms == NOW_MS - 60_000


def test_scale_and_offset_come_before_the_unit() -> None:
    mapping = {**NUMBER, "scale": 0.1, "offset": 2, "unit": "degF"}
    assert _values(_understand("boards/x/t", b"300", mapping)) == {"x/air_temperature": pytest.approx(0)}


def test_several_mappings_share_one_message() -> None:
    assert _values(_understand("boards/x/state", b'{"t": 212, "h": "55.5", "up": 1}', *FIELDS)) == {
        "x/air_temperature": 100,
        "x/air_humidity": 55.5,
    }


def test_missing_field_is_named_and_the_other_taken() -> None:
    understood = _understand("boards/x/state", b'{"t": 212}', *FIELDS)
    assert isinstance(understood, NodeMessage)
    assert understood.skipped == ("the field h is missing or not a number",)
    assert len(understood.readings) == 1


def test_node_and_probe_by_settings() -> None:
    mapping = {"topic": "old/+/#", "node": "shed-9", "probe": "p1", "quantity": "substrate_temperature"}
    assert _values(_understand("old/a/b/c", b"30", mapping)) == {"shed-9/p1/substrate_temperature": 30}


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"warm",
        b"nan",
        b"inf",
        b"1_0",
        b"27,4",
        b"[27.4]",
        b"null",
        b'"27"',
        b"\xff",
        b"{" * 9000,
        b"0x10",
    ],
)
def test_other_payloads_are_refused(payload: bytes) -> None:
    assert isinstance(_understand("boards/x/t", payload, NUMBER), Rejected)


@pytest.mark.parametrize("value", ["true", "null", "[1]", '"warm"', "1e999", "NaN", "9" * 400])
def test_other_fields_are_refused(value: str) -> None:
    understood = _understand("boards/x/state", f'{{"t": {value}}}'.encode(), *FIELDS)
    assert isinstance(understood, Rejected)


def test_number_and_object_are_not_confused() -> None:
    bare, field = (
        _understand("boards/x/t", b'{"t": 1}', NUMBER),
        _understand("boards/x/state", b"1", *FIELDS),
    )
    assert isinstance(bare, Rejected) and "wants a bare number" in bare.reason
    assert isinstance(field, Rejected) and "wants the field t" in field.reason


def test_hostile_node_level_is_refused_and_retained_is_ignored() -> None:
    refused = _understand("boards/<b>/t", b"1", NUMBER)
    assert isinstance(refused, Rejected) and "is not a name for a node" in refused.reason
    assert _understand("boards/x/t", b"1", NUMBER, retained=True) is None
    assert _understand("boards/x/other", b"1", NUMBER) is None


def test_one_message_serves_one_node() -> None:
    other = {"topic": "boards/+/t", "node": "fixed", "quantity": "light"}
    understood = _understand("boards/x/t", b"1", NUMBER, other)
    assert _values(understood) == {"x/air_temperature": 1}
    assert isinstance(understood, NodeMessage)
    assert "cannot serve two nodes" in understood.skipped[0]


def test_filters_to_subscribe_to() -> None:
    routes = compile_routes([PlainMapping(topic="a/{node}/b.c/#", quantity="light")])
    assert routes[0].filter == "a/+/b.c/#"
    assert routes[0].node("a/x/bXc/d") is None
    assert routes[0].node("a/x/b.c/d/e") == "x"


@pytest.mark.parametrize(
    ("mapping", "reason"),
    [
        ({"topic": "a/b"}, "names no node"),
        ({"topic": "a/{node}x"}, "once, as a whole level"),
        ({"topic": "{node}/{node}"}, "once, as a whole level"),
        ({"topic": "a/#/{node}"}, "not an MQTT filter"),
        ({"topic": "a+/{node}"}, "not an MQTT filter"),
        ({"quantity": "wind"}, "'wind' is not known; allowed: air_temperature"),
        ({"unit": "lx"}, "cannot be turned into Cel"),
        ({"probe": "a b"}, "may hold letters"),
    ],
)
def test_wrong_mapping_is_explained(mapping: dict[str, Any], reason: str) -> None:
    found = problems(PlainMapping(**{**NUMBER, **mapping}))
    assert len(found) == 1
    assert reason in found[0]


def test_right_mapping_has_no_problem() -> None:
    assert [problems(PlainMapping(**mapping)) for mapping in (NUMBER, *FIELDS)] == [(), (), ()]


def test_a_refusal_is_counted_with_its_board() -> None:
    refused = _understand("boards/shed-1/t", b"warm", NUMBER)
    assert isinstance(refused, Rejected)
    assert refused.node == "shed-1"
    too_long = _understand("boards/shed-1/t", b"1" * 20_000, NUMBER)
    assert isinstance(too_long, Rejected)
    assert too_long.node == "shed-1"
    nobody = _understand("boards/sh ed/t", b"27", NUMBER)
    assert isinstance(nobody, Rejected)
    assert nobody.node is None
