"""What a board asks, and the answer: the contract with the board's program, word for word."""

from __future__ import annotations

import json
import time

import pytest

from monitor.intake import board_talk
from monitor.intake.payload import TIME, Topics, understand
from monitor.records import Ask, IncomingMessage, Rejected

NOW_MS = 1_790_000_000_000
TOPICS = Topics("yard")


def came(payload: bytes | str, kind: str = "ask", *, retained: bool = False) -> object:
    data = payload.encode() if isinstance(payload, str) else payload
    return understand(IncomingMessage(f"rearing/yard/node-1/{kind}", data, NOW_MS, retained), TOPICS)


def test_a_question_with_and_without_packs_that_wait() -> None:
    assert came('{"id":17,"boot":7,"first":38,"last":41}') == Ask("node-1", NOW_MS, 17, 7, 38, 41)
    assert came('{"id":1}') == Ask("node-1", NOW_MS, 1)
    assert came('{"id":1,"boot":7,"later":"more"}') == Ask("node-1", NOW_MS, 1, 7)


def test_a_retained_question_is_an_old_one() -> None:
    assert came('{"id":17}', retained=True) is None


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"\xff",
        b"17",
        b"[1]",
        b"{}",
        b'{"id":"17"}',
        b'{"id":true}',
        b'{"id":-1}',
        b'{"id":1.5}',
        b'{"id":NaN}',
        b'{"id":1e999}',
        b'{"id":9007199254740993}',
        b'{"id":1,"first":3,"last":4}',
        b'{"id":1,"boot":2,"first":3}',
        b'{"id":1,"boot":2,"first":3,"last":2}',
        b'{"id":1,"boot":[],"first":3,"last":2}',
        b'{"id":1' + b" " * 300 + b"}",
        b"[" * 250,
        b'{"id":' + b"9" * 240 + b"}",
    ],
)
def test_what_is_no_question_is_refused_with_a_reason(payload: bytes) -> None:
    refused = came(payload)
    assert isinstance(refused, Rejected)
    assert refused.node == "node-1" and refused.reason and refused.identity is None


def test_the_answer() -> None:
    ask = Ask("node-1", NOW_MS, 17, 7, 38, 41)
    assert json.loads(board_talk.answer(ask, 1_790_000_000_123, 41)) == {
        "id": 17,
        "unix_ms": 1_790_000_000_123,
        "boot": 7,
        "done": 41,
    }
    assert json.loads(board_talk.answer(ask, None, 37)) == {"id": 17, "boot": 7, "done": 37}
    assert json.loads(board_talk.answer(Ask("n", 0, 1, 7), 5, None)) == {"id": 1, "unix_ms": 5}
    assert TOPICS.of("node-1", TIME) == "rearing/yard/node-1/time"


def test_a_pack_that_is_refused_says_who_it_was_where_that_can_be_read() -> None:
    counters = '{"n":"boot","u":"count","v":7},{"n":"farm:sequence","u":"count","v":41.0}'
    for broken in (
        f'[{{"n":"air_temperature","u":"Cel","v":1e999}},{counters}]',
        f'[{{"n":"nonsense","u":"Cel","v":1}},{counters}]',
        f"[{{broken,{counters}]",
        f'[{{"n":"air_temperature","u":"degF","v":80}},{counters}',
        f"[{counters}" + " " * 17_000 + "]",
    ):
        refused = came(broken, "readings")
        assert isinstance(refused, Rejected), broken
        assert refused.identity == (7, 41), broken


@pytest.mark.parametrize(
    "payload",
    [
        b"[]",
        b'[{"n":"boot","v":7},{"n":"sequence"}]',
        b'[{"n":"boot","v":7}]',
        b'[{"n":"boot","v":-7},{"n":"sequence","v":4}]',
        b'[{"n":"boot","v":7.5},{"n":"sequence","v":4}]',
        b'[{"n":"boot","v":9999999999999999},{"n":"sequence","v":4}]',
        b'[{"n":"reboot","v":7},{"n":"sequence","v":4}]',
    ],
)
def test_a_pack_whose_counters_cannot_be_read_has_no_name(payload: bytes) -> None:
    assert board_talk.identity_of(payload) is None


def test_looking_for_the_counters_costs_little() -> None:
    began = time.process_time()
    for hostile in (b"{" * 65_536, b'{"n":"' * 10_000, (b"{" + b"a" * 399 + b"}") * 160, b"a" * 65_536):
        assert board_talk.identity_of(hostile) is None
    assert time.process_time() - began < 1.0, "steps that grow with the square would take minutes"
