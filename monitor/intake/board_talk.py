"""What a board asks beside its readings, and the answer; who a refused pack was. Pure.

A confirmation of the broker proves nothing: one of MQTT 3.1.1 confirms what its rules refuse, and one that is
killed forgets. So a board keeps its packs until the monitor itself says that they are stored, and takes its
time from the same answer.
"""

from __future__ import annotations

import json
import re
from typing import Any

from monitor.board_records import Ask
from monitor.errors import PayloadError
from monitor.records import IncomingMessage

LARGEST_COUNT = 2**53
MOST_ASK_BYTES = 256
_RECORD = re.compile(rb"\{[^{}]{0,400}\}")
_COUNTER = re.compile(rb'"n"\s*:\s*"(?:[^"]*:)?(boot|sequence)"')
_VALUE = re.compile(rb'"v"\s*:\s*(\d{1,16})(?:\.0+)?\s*[,}]')


def read_ask(node: str, message: IncomingMessage) -> Ask:
    """The question of a board; PayloadError where it is none."""
    content = json_object(message.payload, MOST_ASK_BYTES)
    number = _count(content, "id")
    if number is None:
        raise PayloadError("an ask has an id, a whole number that the answer repeats")
    boot, first, last = (_count(content, key) for key in ("boot", "first", "last"))
    if first is not None and (boot is None or last is None or last < first):
        raise PayloadError("an ask with first also has boot, and last, which is no smaller than first")
    return Ask(node, message.received_ms, number, boot, first, last)


def json_object(payload: bytes, most_bytes: int) -> dict[str, Any]:
    """A JSON object of at most so many bytes; PayloadError where it is none."""
    if len(payload) > most_bytes:
        raise PayloadError(f"the payload has {len(payload)} bytes; allowed: {most_bytes}")
    try:
        content = json.loads(payload.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise PayloadError("the payload is no JSON") from None
    if not isinstance(content, dict):
        raise PayloadError("the payload is no JSON object")
    return content


def _count(content: dict[str, Any], key: str) -> int | None:
    value = content.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= LARGEST_COUNT:
        raise PayloadError(f"{key} must be a whole number, 0 or above")
    return value


def answer(ask: Ask, unix_ms: int | None, done: int | None) -> bytes:
    """The answer to a board: the time (left out while ours is not to be trusted), and what is stored."""
    said = {"id": ask.id, "unix_ms": unix_ms, "boot": None if done is None else ask.boot, "done": done}
    return json.dumps({key: value for key, value in said.items() if value is not None}).encode()


def identity_of(payload: bytes) -> tuple[int, int] | None:
    """Boot and sequence of a JSON pack that was refused, read as well as can be."""
    found: dict[bytes, int] = {}
    for record in _RECORD.finditer(payload):
        name, value = _COUNTER.search(record[0]), _VALUE.search(record[0])
        if name and value and int(value[1]) <= LARGEST_COUNT:
            found.setdefault(name[1], int(value[1]))
    boot, sequence = found.get(b"boot"), found.get(b"sequence")
    return None if boot is None or sequence is None else (boot, sequence)
