"""One MQTT message to what it means: readings of a node, its status, or a refusal with its reason. Pure.

The node is the level of the topic, never a name in the payload: the broker's access rules can bind a topic
to a password, nothing binds a payload. A record is known by its own name `n` after the last colon, either
`quantity` or `probe/quantity`; the base name is only a prefix that makes names unique in the world, so it is
dropped. A record without `n` is known by its base name after the last colon. Boards that do not speak SenML
are read by a `PlainRoute`.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from monitor.errors import PayloadError, SaidText, Sentence, joined, sentence
from monitor.intake import board_talk, senml
from monitor.intake.board_talk import LARGEST_COUNT
from monitor.intake.senml import convert, convert_plain
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    QUANTITIES,
    Ask,
    BoardReport,
    IncomingMessage,
    NodeMessage,
    NodeStatus,
    Quantity,
    Reading,
    Rejected,
    SensorKey,
    TimeSource,
)
from monitor.settings.schema import PlainMapping

READINGS, STATUS, ASK, REPORT = "readings", "status", "ask", "report"
TIME, SETTINGS = "time", "settings"
PROOF = b"rearing-monitor proof "
"""So begins a message of a monitor to itself (`proof`); it is nobody's reading."""
IDENTIFIER = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}")
"""What a node and a probe may be called: it is shown on pages and written into files."""
NODE_MARK = "{node}"
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
_ONLY_NUMBER = re.compile(rf"\s*({_NUMBER.pattern})\s*")
MOST_BYTES = 16 * 1024
MOST_KEPT = 4 * MOST_BYTES
"""Of a longer payload only so much is taken into the queue."""
SAMPLE_BYTES = 512
MOST_REASON = 300
COUNTERS = ("boot", "sequence")
_KINDS = frozenset((READINGS, STATUS, ASK, REPORT))
_QUANTITY_NAMES = frozenset(Quantity)
Understood = NodeMessage | NodeStatus | Ask | BoardReport | Rejected


@dataclass(frozen=True, slots=True)
class Topics:
    """Where the nodes of one site publish, and how far their own time may be from ours."""

    site: str
    root: str = "rearing"
    oldest_ms: int = 7 * MS_PER_DAY
    newest_ms: int = 5 * MS_PER_MINUTE

    @property
    def base(self) -> str:
        """`rearing/{site}`."""
        return f"{self.root}/{self.site}"

    @property
    def service(self) -> str:
        """Where the monitor itself says online or offline, retained."""
        return f"{self.base}/service"

    @property
    def sounder(self) -> str:
        """Where the sounder is told on or off, retained."""
        return f"{self.base}/sounder"

    def filters(self) -> tuple[str, ...]:
        """What to subscribe to for the nodes that speak SenML."""
        return (f"{self.base}/+/{READINGS}", f"{self.base}/+/{STATUS}")

    def talk(self) -> tuple[tuple[str, int], ...]:
        """What to subscribe to beside it, with QoS, for boards that ask and report."""
        return (f"{self.base}/+/{ASK}", 0), (f"{self.base}/+/{REPORT}", 1)

    def of(self, node: str, kind: str) -> str:
        """A topic of one board, such as that on which it is answered."""
        return f"{self.base}/{node}/{kind}"

    def split(self, topic: str) -> tuple[str, str] | None:
        """(node, kind of message), or None when the topic is not one of ours."""
        prefix = self.base + "/"
        if not topic.startswith(prefix):
            return None
        node, _, kind = topic[len(prefix) :].partition("/")
        return (node, kind) if kind in _KINDS else None


@dataclass(frozen=True, slots=True)
class PlainRoute:
    """A mapping made ready: the MQTT filter to subscribe to, and the pattern that captures the node.

    The payload is a bare number or a flat JSON object. A value becomes `value * scale + offset`; then its
    unit is turned into the canonical one of its quantity.
    """

    mapping: PlainMapping
    filter: str
    pattern: re.Pattern[str]

    def node(self, topic: str) -> str | None:
        """The node that the topic belongs to, or None where the mapping is not for this topic."""
        match = self.pattern.fullmatch(topic)
        if match is None:
            return None
        return self.mapping.node or match.groupdict().get("node", "")


def compile_routes(mappings: Iterable[PlainMapping]) -> tuple[PlainRoute, ...]:
    """Mappings made ready for use; `problems` says beforehand what is wrong with them."""
    return tuple(
        PlainRoute(mapping, mapping.topic.replace(NODE_MARK, "+"), _pattern(mapping.topic))
        for mapping in mappings
    )


def problems(mapping: PlainMapping) -> tuple[str, ...]:
    """What is wrong with a mapping, in words for the person who wrote it."""
    return tuple(text for text in (_topic_problem(mapping), _unit_problem(mapping)) if text)


def node_of(topic: str, routes: Iterable[PlainRoute]) -> str | None:
    """The node to which a topic belongs by the first mapping for it; None without one or with a bad name."""
    nodes = (route.node(topic) for route in routes)
    first = next((node for node in nodes if node is not None), None)
    return first if first is not None and IDENTIFIER.fullmatch(first) else None


def read_plain(message: IncomingMessage, routes: Iterable[PlainRoute], sent_ms: int) -> NodeMessage | None:
    """The readings of a message, or None where no mapping is for its topic.

    Raises PayloadError where a mapping is, and nothing could be read.
    """
    matching = [(node, route) for route in routes if (node := route.node(message.topic)) is not None]
    if not matching:
        return None
    node = matching[0][0]
    if not IDENTIFIER.fullmatch(node):
        raise PayloadError(
            "{node} is not a name for a node: letters, digits, - _ . only, 40 at most", node=ascii(node[:60])
        )
    content = _content(message.payload)
    readings: list[Reading] = []
    skipped: list[str] = []
    for other, route in matching:
        try:
            readings.append(_reading(other, node, route.mapping, content, sent_ms))
        except PayloadError as error:
            skipped.append(SaidText(error.said))
    if not readings:
        raise PayloadError(joined(skipped).said)
    return NodeMessage(
        node, message.received_ms, tuple(readings), TimeSource.RECEIVED, skipped=tuple(skipped)
    )


def _pattern(topic: str) -> re.Pattern[str]:
    levels = []
    for level in topic.split("/"):
        levels.append({"+": "[^/]*", "#": ".*", NODE_MARK: "(?P<node>[^/]*)"}.get(level) or re.escape(level))
    return re.compile("/".join(levels))


def _topic_problem(mapping: PlainMapping) -> str | None:
    levels = mapping.topic.split("/")
    captures = levels.count(NODE_MARK)
    if captures > 1 or any(NODE_MARK in level and level != NODE_MARK for level in levels):
        return f"the topic {mapping.topic!r} may hold {NODE_MARK} once, as a whole level between slashes"
    if captures == 0 and mapping.node is None:
        return f"the topic {mapping.topic!r} names no node; put {NODE_MARK} in place of a level, or set node"
    if "#" in levels[:-1] or any(len(level) > 1 and ("+" in level or "#" in level) for level in levels):
        return f"the topic {mapping.topic!r} is not an MQTT filter: + is a whole level, # stands last"
    return None


def _unit_problem(mapping: PlainMapping) -> str | None:
    if mapping.quantity not in set(Quantity):
        return f"the quantity {mapping.quantity!r} is not known; allowed: {', '.join(Quantity)}"
    if mapping.probe and not IDENTIFIER.fullmatch(mapping.probe):
        return f"the probe {mapping.probe!r} may hold letters, digits, - _ . only"
    try:
        _plain_value(1.0, mapping)
    except PayloadError as error:
        return str(error)
    return None


def _content(payload: bytes) -> float | Mapping[str, Any]:
    try:
        text = payload.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PayloadError("the payload is not text") from None
    match = _ONLY_NUMBER.fullmatch(text)
    if match:
        return float(match.group(1))
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        raise PayloadError("the payload is neither a number nor a JSON object") from None
    if not isinstance(content, dict):
        raise PayloadError("the payload is neither a number nor a JSON object")
    return content


def _reading(
    node_of_route: str, node: str, mapping: PlainMapping, content: float | Mapping[str, Any], at_ms: int
) -> Reading:
    if node_of_route != node:
        raise PayloadError(
            "one message cannot serve two nodes ({node} and {other})",
            node=node,
            other=ascii(node_of_route[:60]),
        )
    value = _plain_value(_number(mapping, content), mapping)
    return Reading(SensorKey(node, mapping.probe, mapping.quantity), at_ms, value)


def _number(mapping: PlainMapping, content: float | Mapping[str, Any]) -> float:
    if isinstance(content, float):
        if mapping.field is not None:
            raise PayloadError(
                "the mapping wants the field {field}; the payload is a bare number", field=mapping.field
            )
        return content
    if mapping.field is None:
        raise PayloadError("the mapping wants a bare number; the payload is a JSON object")
    value = content.get(mapping.field)
    if isinstance(value, str) and _NUMBER.fullmatch(value.strip()):
        return float(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PayloadError("the field {field} is missing or not a number", field=mapping.field)
    try:
        return float(value)
    except OverflowError:
        raise PayloadError("the field {field} is too large", field=mapping.field) from None


def _plain_value(value: float, mapping: PlainMapping) -> float:
    wanted = QUANTITIES[mapping.quantity].unit
    result = convert_plain(value * mapping.scale + mapping.offset, mapping.unit or wanted, wanted)
    if not math.isfinite(result):
        raise PayloadError("the value of {quantity} is not a finite number", quantity=mapping.quantity)
    return result


@dataclass(frozen=True, slots=True)
class _Times:
    """Times of a pack judged: what to add to each, where they came from, and the fault if there is one."""

    source: TimeSource
    shift_ms: int = 0
    fault: str | None = None


def understand(
    message: IncomingMessage, topics: Topics, plain: Sequence[PlainRoute] = ()
) -> Understood | None:
    """What a message means; None when it is not for us (a foreign topic, a retained reading, a proof)."""
    if message.payload.startswith(PROOF):
        return None
    own = topics.split(message.topic)
    node = own[0] if own and IDENTIFIER.fullmatch(own[0]) else None
    try:
        _check_size(message)
        if own is None:
            return None if message.retained else read_plain(message, plain, sent_ms(message))
        if node is None:
            raise PayloadError(
                "the node's level of the topic may hold letters, digits, - _ . only, 40 at most"
            )
        if own[1] in (STATUS, REPORT):
            return _retained(node, own[1], message)
        if message.retained:
            return None
        return board_talk.read_ask(node, message) if own[1] == ASK else _readings(node, message, topics)
    except PayloadError as error:
        return rejection(node or node_of(message.topic, plain), message, SaidText(error.said))


def sent_ms(message: IncomingMessage) -> int:
    """When the node sent the message: reception less the time in the broker's queue, where it is known."""
    return message.received_ms - round((message.age_s or 0.0) * MS_PER_SECOND)


def _check_size(message: IncomingMessage) -> None:
    if len(message.payload) > MOST_BYTES:
        counts = {"count": len(message.payload), "most": MOST_BYTES}
        if len(message.payload) >= MOST_KEPT:
            raise PayloadError("the payload has {count} bytes or more; allowed: {most}", **counts)
        raise PayloadError("the payload has {count} bytes; allowed: {most}", **counts)


def rejection(node: str | None, message: IncomingMessage, reason: str) -> Rejected:
    """The record of a message that is not taken, with the beginning of what it held."""
    is_pack = node is not None and message.topic.endswith(READINGS)
    return Rejected(
        node,
        message.topic,
        message.received_ms,
        reason if len(reason) <= MOST_REASON else reason[:MOST_REASON],
        bytes(message.payload[:SAMPLE_BYTES]),
        board_talk.identity_of(message.payload) if is_pack else None,
    )


def _retained(node: str, kind: str, message: IncomingMessage) -> NodeStatus | BoardReport | None:
    """What the broker keeps of a board; empty: it was cleared."""
    if not message.payload:
        return None
    return _status(node, message) if kind == STATUS else board_talk.read_report(node, message)


def _status(node: str, message: IncomingMessage) -> NodeStatus:
    word = bytes(message.payload).strip().lower()
    if word not in (b"online", b"offline"):
        raise PayloadError("the status is {word}; allowed: online, offline", word=ascii(word[:40]))
    return NodeStatus(node, message.received_ms, word == b"online")


def _readings(node: str, message: IncomingMessage, topics: Topics) -> NodeMessage:
    sent = sent_ms(message)
    records = senml.resolve(senml.decode(message.payload, message.content_type), sent / MS_PER_SECOND)
    measured = [record for record in records if local_name(record) not in COUNTERS]
    times = _judge_times(measured, message.received_ms, sent, topics)
    kept = PackReadings(node)
    for record in measured:
        kept.take(record, times, message.received_ms, topics)
    counters = _counters(records, kept.skipped)
    if not kept.readings and (kept.skipped or not counters):
        if not kept.skipped:
            raise PayloadError("no record could be used: the pack holds no value")
        raise PayloadError("no record could be used: {why}", why=joined(kept.skipped).said)
    return NodeMessage(
        node,
        message.received_ms,
        tuple(sorted(kept.readings.values(), key=lambda reading: reading.at_ms)),
        times.source,
        counters.get("boot"),
        counters.get("sequence"),
        times.fault,
        min(kept.promises, default=None),
        tuple(kept.skipped),
    )


def local_name(record: senml.Record) -> str:
    """What a record is known by: its own name after the last colon, else its base name."""
    return (record.local_name or record.name).rpartition(":")[2]


def _counters(records: Sequence[senml.Record], skipped: list[str]) -> dict[str, int]:
    counters: dict[str, int] = {}
    for record in records:
        name = local_name(record)
        if name not in COUNTERS:
            continue
        value = record.value
        is_count = isinstance(value, int | float) and not isinstance(value, bool) and value == int(value)
        if is_count and 0 <= float(value or 0) <= LARGEST_COUNT and name not in counters:
            counters[name] = int(value or 0)
        else:
            skipped.append(SaidText(sentence("{name} must be one whole number, 0 or above", name=name)))
    return counters


def _judge_times(records: Sequence[senml.Record], received_ms: int, sent: int, topics: Topics) -> _Times:
    """The newest time that the node gave decides whether its clock can be trusted.

    With a clock that cannot be trusted the newest record counts as measured when the message was sent, and
    the others keep their distance from it.
    """
    own = [_ms(record) for record in records if not record.is_relative]
    if not own:
        return _Times(TimeSource.RELATIVE)
    newest = max(own)
    if received_ms - topics.oldest_ms <= newest <= received_ms + topics.newest_ms:
        return _Times(TimeSource.NODE if len(own) == len(records) else TimeSource.RELATIVE)
    behind = sentence(
        "{length} behind; the time of arrival was used instead", length=_length(received_ms - newest)
    )
    ahead = sentence(
        "{length} ahead; the time of arrival was used instead", length=_length(newest - received_ms)
    )
    fault = SaidText(behind if newest < received_ms else ahead)
    return _Times(TimeSource.RECEIVED, sent - newest, fault)


def _length(by_ms: int) -> Sentence:
    if by_ms >= 2 * MS_PER_DAY:
        return sentence("{count} days", count=f"{by_ms / MS_PER_DAY:.0f}")
    if by_ms >= 2 * MS_PER_HOUR:
        return sentence("{count} hours", count=f"{by_ms / MS_PER_HOUR:.0f}")
    return sentence("{count} minutes", count=f"{by_ms / MS_PER_MINUTE:.0f}")


def _ms(record: senml.Record) -> int:
    return round(record.time_s * MS_PER_SECOND)


class PackReadings:
    """Readings taken from one pack so far, what was skipped, and the next times that were promised."""

    def __init__(self, node: str) -> None:
        self.node = node
        self.readings: dict[tuple[SensorKey, int], Reading] = {}
        self.skipped: list[str] = []
        self.promises: list[float] = []
        self._base_of: dict[str, str] = {}

    def take(self, record: senml.Record, times: _Times, received_ms: int, topics: Topics) -> None:
        """Keep the record as a reading, or note why not."""
        try:
            reading = self.reading(record, times.shift_ms)
            _check_time(reading, received_ms, topics)
            if (reading.sensor, reading.at_ms) in self.readings:
                raise PayloadError("occurs twice at the same time; the first was kept")
        except PayloadError as error:
            name = ascii(local_name(record)[:60])[1:-1]
            self.skipped.append(SaidText(sentence("{name}: {why}", name=name, why=error.said)))
            return
        self.readings[reading.sensor, reading.at_ms] = reading
        if record.update_time_s is not None and record.update_time_s > 0:
            self.promises.append(record.update_time_s)

    def reading(self, record: senml.Record, shift_ms: int) -> Reading:
        """The reading of a record, an absolute time moved by `shift_ms`; PayloadError where it makes none."""
        name = local_name(record)
        sensor = _sensor(self.node, name)
        base = record.name[: len(record.name) - len(record.local_name)]
        if self._base_of.setdefault(name, base) != base:
            raise PayloadError("stands under two base names; the probe belongs into n, as in probe1/quantity")
        at_ms = _ms(record) + (0 if record.is_relative else shift_ms)
        return Reading(sensor, at_ms, _senml_value(record, sensor.quantity))


def _sensor(node: str, name: str) -> SensorKey:
    probe, slash, quantity = name.rpartition("/")
    if quantity not in _QUANTITY_NAMES:
        raise PayloadError("not a quantity that is known here")
    if slash and not IDENTIFIER.fullmatch(probe):
        raise PayloadError("a probe's name may hold letters, digits, - _ . only, 40 at most")
    return SensorKey(node, probe, quantity)


def _senml_value(record: senml.Record, quantity: str) -> float:
    value = record.value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PayloadError("holds no number")
    if record.unit is None:
        raise PayloadError("has no unit; it should be {unit}", unit=QUANTITIES[quantity].unit)
    return convert(float(value), record.unit, QUANTITIES[quantity].unit)


def _check_time(reading: Reading, received_ms: int, topics: Topics) -> None:
    if reading.at_ms < received_ms - topics.oldest_ms:
        raise PayloadError("older than is taken in")
    if reading.at_ms > received_ms + topics.newest_ms:
        raise PayloadError("lies in the future")
