"""Packs whose form was seen before, read by their numbers alone. Pure.

A board sends the same text again and again with other numbers in it. So the text around the numbers is taken
for a form: what it means (sensors, units, which number is the time) is worked out once, by the full way of
`payload`, and remembered. What is not plain about a pack (a number that is not finite, a time outside of what
is taken in, a form with anything that would be left out or refused) is left to the full way, so that there is
one place where such things are decided and worded. `tests/intake/test_pack_forms.py` compares the two.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from monitor.errors import PayloadError
from monitor.intake import senml
from monitor.intake.board_talk import LARGEST_COUNT
from monitor.intake.payload import COUNTERS, IDENTIFIER, READINGS, PackReadings, Topics, local_name, sent_ms
from monitor.records import (
    MS_PER_SECOND,
    QUANTITIES,
    IncomingMessage,
    NodeMessage,
    Reading,
    SensorKey,
    TimeSource,
)

_NUMBER = re.compile(
    rb'(?<=":)[ \t\r\n]*(-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?)(?=[ \t\r\n]*[,}])'
)
"""A number of JSON in the place of a value; what it finds inside a text is noticed when a form is learnt."""
_HOLE = b"\0"
"""Stands for a number in a form; JSON text never holds it."""
_REFUSED = frozenset(("bver", "bv", "bs", "s"))
NO_COUNT = -1
MOST_LEARNT, MOST_KEPT_BYTES = 2048, 8 * 1024 * 1024
"""Own choices: a longer pack is not learnt, and of forms so much is kept; ten thousand boards take half."""


@dataclass(frozen=True, slots=True)
class _Value:
    """One reading of a form: which of the numbers are its value, its own time and its promise."""

    sensor: SensorKey
    number: int
    own_time: int | None
    promise: int | None
    unit: str
    wanted: str

    def of(self, numbers: Sequence[float]) -> float:
        """The value in the unit that is wanted; PayloadError where it is too large for that."""
        value = numbers[self.number] + 0.0
        return value if self.unit == self.wanted else senml.convert(value, self.unit, self.wanted)


_Key = tuple[str, str | None, bytes]
"""Topic, content type, and the text around the numbers."""


@dataclass(frozen=True, slots=True)
class _Form:
    """What the numbers of a pack mean, by their order in its text."""

    node: str
    count: int
    base_time: int | None
    values: tuple[_Value, ...]
    boot: int | None
    sequence: int | None
    promises: tuple[int, ...]
    own_times: tuple[int | None, ...]
    has_one_time: bool


class PackForms:
    """Remembers forms by topic; a form that has to go the full way is remembered as that."""

    def __init__(self, topics: Topics) -> None:
        self._topics = topics
        self._forms: dict[_Key, _Form | None] = {}
        self._kept_bytes = 0

    def read(self, message: IncomingMessage) -> NodeMessage | None:
        """What the full way makes of the message, or None where that has to be asked."""
        if message.retained or len(message.payload) > MOST_LEARNT:
            return None
        parts = _NUMBER.split(message.payload)
        key = message.topic, message.content_type, _HOLE.join(parts[::2])
        form = self._forms[key] if key in self._forms else self._learn(key)
        if form is None:
            return None
        numbers = [*map(float, parts[1::2])]
        if len(numbers) != form.count or not all(map(math.isfinite, numbers)):
            return None
        return _read(form, numbers, message, self._topics)

    def _learn(self, key: _Key) -> _Form | None:
        if self._kept_bytes > MOST_KEPT_BYTES:
            self._forms.clear()
            self._kept_bytes = 0
        topic, content_type, skeleton = key
        node, kind = self._topics.split(topic) or ("", "")
        is_pack = kind == READINGS and IDENTIFIER.fullmatch(node) is not None
        self._forms[key] = form = _form(node, skeleton, content_type) if is_pack else None
        self._kept_bytes += len(topic) + len(skeleton)
        return form


def _read(
    form: _Form, numbers: Sequence[float], message: IncomingMessage, topics: Topics
) -> NodeMessage | None:
    base_s = 0.0 if form.base_time is None else numbers[form.base_time]
    if form.has_one_time:
        times_s = [base_s]
    else:
        times_s = [base_s if own is None else base_s + numbers[own] for own in form.own_times]
    is_absolute = min(times_s) >= senml.FIRST_ABSOLUTE_S
    now_s = 0.0 if is_absolute else sent_ms(message) / MS_PER_SECOND
    times_ms = [round((now_s + time_s) * MS_PER_SECOND) for time_s in times_s]
    if not _are_plain(base_s, times_s, times_ms, is_absolute, message.received_ms, topics):
        return None
    boot, sequence = _count(numbers, form.boot), _count(numbers, form.sequence)
    try:
        readings = _readings(form, numbers, times_s, times_ms)
    except PayloadError:
        return None
    if readings is None or boot == NO_COUNT or sequence == NO_COUNT:
        return None
    promises = [numbers[number] for number in form.promises if numbers[number] > 0]
    return NodeMessage(
        form.node,
        message.received_ms,
        readings,
        TimeSource.NODE if is_absolute else TimeSource.RELATIVE,
        boot,
        sequence,
        None,
        min(promises) if promises else None,
    )


def _are_plain(
    base_s: float,
    times_s: Sequence[float],
    times_ms: Sequence[int],
    is_absolute: bool,
    received_ms: int,
    topics: Topics,
) -> bool:
    """Whether all times are of one kind, and taken in as the board says them."""
    if abs(base_s) > senml.FURTHEST_S or not (is_absolute or max(times_s) < senml.FIRST_ABSOLUTE_S):
        return False
    return received_ms - topics.oldest_ms <= min(times_ms) and max(times_ms) <= received_ms + topics.newest_ms


def _readings(
    form: _Form, numbers: Sequence[float], times_s: Sequence[float], times_ms: Sequence[int]
) -> tuple[Reading, ...] | None:
    if form.has_one_time:
        at_ms = times_ms[0]
        return tuple([Reading(value.sensor, at_ms, value.of(numbers)) for value in form.values])
    readings = [
        Reading(value.sensor, at_ms, value.of(numbers))
        for value, at_ms in zip(form.values, times_ms, strict=True)
    ]
    if len({(reading.sensor, reading.at_ms) for reading in readings}) < len(readings):
        return None
    order = sorted(range(len(readings)), key=times_s.__getitem__)
    return tuple([readings[at] for at in order])


def _count(numbers: Sequence[float], number: int | None) -> int | None:
    if number is None:
        return None
    value = numbers[number]
    return int(value) if value == int(value) and 0 <= value <= LARGEST_COUNT else NO_COUNT


def _form(node: str, skeleton: bytes, content_type: str | None) -> _Form | None:
    """The form of a text with holes; None where its packs have to go the full way."""
    between = skeleton.split(_HOLE)
    numbered = [b"%d" % number for number in range(len(between) - 1)]
    text = b"".join(piece for pair in zip(between, [*numbered, b""], strict=True) for piece in pair)
    try:
        if senml.is_cbor(text, content_type):
            return None
        records = senml.decode(text, content_type)
        holes = _holes(records, len(numbered))
        return None if holes is None else _understood(node, records, holes)
    except PayloadError:
        return None


def _holes(records: Sequence[Mapping[str, Any]], count: int) -> dict[tuple[int, str], int] | None:
    """Which number stands under which label of which record; None where one has no place or an odd one."""
    holes = {
        (at, label): value
        for at, fields in enumerate(records)
        for label, value in fields.items()
        if type(value) is int
    }
    if sorted(holes.values()) != list(range(count)):
        return None
    if any(label in _REFUSED or (label == "bt" and at) for at, label in holes):
        return None
    return holes


def _understood(
    node: str, records: Sequence[Mapping[str, Any]], holes: Mapping[tuple[int, str], int]
) -> _Form | None:
    """What the full way makes of the records with zeros in place of the numbers."""
    zeros = [
        {label: 0 if (at, label) in holes else value for label, value in fields.items()}
        for at, fields in enumerate(records)
    ]
    places = [at for at, fields in enumerate(records) if senml.is_record(fields)]
    pack, values, counters = PackReadings(node), list[_Value](), dict[str, int]()
    for at, record in zip(places, senml.resolve(zeros, 0.0), strict=True):
        number, own_time = holes.get((at, "v")), holes.get((at, "t"))
        name = local_name(record)
        if number is None or record.unit is None:
            return None
        if name not in COUNTERS:
            sensor = pack.reading(record, 0).sensor
            wanted = QUANTITIES[sensor.quantity].unit
            values.append(_Value(sensor, number, own_time, holes.get((at, "ut")), record.unit, wanted))
        elif own_time is not None or name in counters:
            return None
        else:
            counters[name] = number
    return _form_of(node, holes, values, counters)


def _form_of(
    node: str,
    holes: Mapping[tuple[int, str], int],
    values: Sequence[_Value],
    counters: Mapping[str, int],
) -> _Form | None:
    has_one_time = all(value.own_time is None for value in values)
    is_twice = len({value.sensor for value in values}) < len(values)
    if not values or (has_one_time and is_twice):
        return None
    return _Form(
        node,
        len(holes),
        holes.get((0, "bt")),
        tuple(values),
        counters.get("boot"),
        counters.get("sequence"),
        tuple(value.promise for value in values if value.promise is not None),
        tuple(value.own_time for value in values),
        has_one_time,
    )
