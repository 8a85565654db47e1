"""What a board asks and reports beside its readings, and the answer; who a refused pack was. Pure.

A confirmation of the broker proves nothing: one of MQTT 3.1.1 confirms what its rules refuse, and one that is
killed forgets. So a board keeps its packs until the monitor itself says that they are stored, and takes its
time from the same answer.
"""

from __future__ import annotations

import json
import re
from typing import Any

from monitor.board_records import Ask, BoardReport
from monitor.errors import PayloadError
from monitor.records import IncomingMessage

LARGEST_COUNT = 2**53
MOST_ASK_BYTES, MOST_REPORT_BYTES, MOST_PAIRS = 256, 1000, 24
_SENSOR, _CODE = re.compile(r"[A-Za-z0-9_./:@-]{1,60}"), re.compile(r"[a-z0-9_]{1,24}")
_ROM, _PROBE = re.compile(r"[0-9a-f]{16}"), re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}")
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


def read_report(node: str, message: IncomingMessage) -> BoardReport:
    """What a board says of itself; PayloadError where that cannot be. Keys that are new are left."""
    content = json_object(message.payload, MOST_REPORT_BYTES)
    boot, version = _count(content, "boot"), _text(content, "version", 40)
    if boot is None or not version:
        raise PayloadError("a report has a version, a text, and a boot, a whole number")
    return BoardReport(
        node,
        message.received_ms,
        version,
        boot,
        message.retained,
        chip=_text(content, "chip", 20),
        reset=_text(content, "reset", 20),
        clock=_text(content, "clock", 20),
        uptime_s=_count(content, "uptime_s"),
        waiting=_count(content, "waiting"),
        lost=_count(content, "lost"),
        damaged=_count(content, "damaged"),
        rssi_dbm=_signal(content),
        heap_bytes=_count(content, "heap_bytes"),
        faults=_pairs(content, "faults", _SENSOR, _CODE),
        probes=_pairs(content, "probes", _ROM, _PROBE),
        settings=_text(content, "settings", 8),
        refused=_text(content, "refused", 200),
    )


def _text(content: dict[str, Any], key: str, most: int) -> str:
    value = content.get(key)
    if value is None:
        return ""
    if not isinstance(value, str) or len(value) > most or not value.isprintable():
        raise PayloadError("{key} must be a printable text of at most {most} characters", key=key, most=most)
    return value


def _signal(content: dict[str, Any]) -> int | None:
    value = content.get("rssi_dbm")
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not -130 <= value <= 20:
        raise PayloadError("rssi_dbm must be a whole number of -130 to 20")
    return value


def _pairs(
    content: dict[str, Any], key: str, names: re.Pattern[str], values: re.Pattern[str]
) -> dict[str, str]:
    pairs = content.get(key)
    if pairs is None:
        return {}
    if not isinstance(pairs, dict) or len(pairs) > MOST_PAIRS:
        raise PayloadError("{key} must be an object of at most {most} pairs", key=key, most=MOST_PAIRS)
    for name, value in pairs.items():
        if not names.fullmatch(name) or not isinstance(value, str) or not values.fullmatch(value):
            raise PayloadError("{key} holds a pair that is not usable", key=key)
    return pairs


def json_object(payload: bytes, most_bytes: int) -> dict[str, Any]:
    """A JSON object of at most so many bytes; PayloadError where it is none."""
    if len(payload) > most_bytes:
        raise PayloadError(
            "the payload has {count} bytes; allowed: {most}", count=len(payload), most=most_bytes
        )
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
        raise PayloadError("{key} must be a whole number, 0 or above", key=key)
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
