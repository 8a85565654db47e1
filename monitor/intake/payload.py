"""One MQTT message to what it means: readings of a node, its status, or a refusal with its reason. Pure.

The node is the level of the topic, never a name in the payload: the broker's access rules can bind a topic
to a password, nothing binds a payload. A record is known by its own name `n` after the last colon, either
`quantity` or `probe/quantity`; the base name is only a prefix that makes names unique in the world, so it is
dropped. A record without `n` is known by its base name after the last colon.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.errors import PayloadError
from monitor.intake import senml
from monitor.intake.plain import PlainRoute, node_of, read_plain
from monitor.intake.topics import IDENTIFIER, STATUS, Topics
from monitor.intake.units import convert
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    QUANTITIES,
    IncomingMessage,
    NodeMessage,
    NodeStatus,
    Quantity,
    Reading,
    Rejected,
    SensorKey,
    TimeSource,
)

MOST_BYTES = 16 * 1024
MOST_KEPT = 4 * MOST_BYTES
"""Of a longer payload only so much is taken into the queue."""
SAMPLE_BYTES = 512
MOST_REASON = 300
LARGEST_COUNT = 2**53
COUNTERS = ("boot", "sequence")
_QUANTITY_NAMES = frozenset(Quantity)

Understood = NodeMessage | NodeStatus | Rejected


@dataclass(frozen=True, slots=True)
class _Times:
    """Times of a pack judged: what to add to each, where they came from, and the fault if there is one."""

    source: TimeSource
    shift_ms: int = 0
    fault: str | None = None


def understand(
    message: IncomingMessage, topics: Topics, plain: Sequence[PlainRoute] = ()
) -> Understood | None:
    """What a message means; None when it is not for us (a foreign topic, a retained reading)."""
    own = topics.split(message.topic)
    node = own[0] if own and IDENTIFIER.fullmatch(own[0]) else None
    try:
        _check_size(message)
        if own is None:
            return _understand_plain(message, plain)
        if node is None:
            raise PayloadError(
                "the node's level of the topic may hold letters, digits, - _ . only, 40 at most"
            )
        if own[1] == STATUS:
            return _status(node, message)
        return None if message.retained else _readings(node, message, topics)
    except PayloadError as error:
        return _rejected(node or node_of(message.topic, plain), message, str(error))


def sent_ms(message: IncomingMessage) -> int:
    """When the node sent the message: reception less the time in the broker's queue, where it is known."""
    return message.received_ms - round((message.age_s or 0.0) * MS_PER_SECOND)


def _check_size(message: IncomingMessage) -> None:
    if len(message.payload) > MOST_BYTES:
        more = " or more" if len(message.payload) >= MOST_KEPT else ""
        raise PayloadError(f"the payload has {len(message.payload)} bytes{more}; allowed: {MOST_BYTES}")


def _rejected(node: str | None, message: IncomingMessage, reason: str) -> Rejected:
    return Rejected(
        node, message.topic, message.received_ms, reason[:MOST_REASON], bytes(message.payload[:SAMPLE_BYTES])
    )


def _understand_plain(message: IncomingMessage, plain: Iterable[PlainRoute]) -> NodeMessage | None:
    if message.retained:
        return None
    return read_plain(message, plain, sent_ms(message))


def _status(node: str, message: IncomingMessage) -> NodeStatus:
    word = bytes(message.payload).strip().lower()
    if word not in (b"online", b"offline"):
        raise PayloadError(f"the status is {word[:40]!a}; allowed: online, offline")
    return NodeStatus(node, message.received_ms, word == b"online")


def _readings(node: str, message: IncomingMessage, topics: Topics) -> NodeMessage:
    sent = sent_ms(message)
    records = senml.resolve(senml.decode(message.payload, message.content_type), sent / MS_PER_SECOND)
    measured = [record for record in records if _local_name(record) not in COUNTERS]
    times = _judge_times(measured, message.received_ms, sent, topics)
    kept = _Kept(node)
    for record in measured:
        kept.take(record, times, message.received_ms, topics)
    counters = _counters(records, kept.skipped)
    if not kept.readings and (kept.skipped or not counters):
        raise PayloadError(
            "no record could be used: " + ("; ".join(kept.skipped) or "the pack holds no value")
        )
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


def _local_name(record: senml.Record) -> str:
    return (record.local_name or record.name).rpartition(":")[2]


def _counters(records: Sequence[senml.Record], skipped: list[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for record in records:
        name = _local_name(record)
        if name not in COUNTERS:
            continue
        value = record.value
        is_count = isinstance(value, int | float) and not isinstance(value, bool) and value == int(value)
        if is_count and 0 <= float(value or 0) <= LARGEST_COUNT and name not in found:
            found[name] = int(value or 0)
        else:
            skipped.append(f"{name} must be one whole number, 0 or above")
    return found


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
    side = "behind" if newest < received_ms else "ahead"
    fault = f"{_how_far(abs(newest - received_ms))} {side}; the time of arrival was used instead"
    return _Times(TimeSource.RECEIVED, sent - newest, fault)


def _how_far(by_ms: int) -> str:
    """Minutes, hours or days, whichever a person would say."""
    for unit, size_ms in (("days", MS_PER_DAY), ("hours", MS_PER_HOUR)):
        if by_ms >= 2 * size_ms:
            return f"{by_ms / size_ms:.0f} {unit}"
    return f"{by_ms / MS_PER_MINUTE:.0f} minutes"


def _ms(record: senml.Record) -> int:
    return round(record.time_s * MS_PER_SECOND)


class _Kept:
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
            reading = self._reading(record, times)
            _check_time(reading, received_ms, topics)
            if (reading.sensor, reading.at_ms) in self.readings:
                raise PayloadError("occurs twice at the same time; the first was kept")
        except PayloadError as error:
            self.skipped.append(f"{ascii(_local_name(record)[:60])[1:-1]}: {error}")
            return
        self.readings[reading.sensor, reading.at_ms] = reading
        if record.update_time_s is not None and record.update_time_s > 0:
            self.promises.append(record.update_time_s)

    def _reading(self, record: senml.Record, times: _Times) -> Reading:
        name = _local_name(record)
        sensor = _sensor(self.node, name)
        base = record.name[: len(record.name) - len(record.local_name)]
        if self._base_of.setdefault(name, base) != base:
            raise PayloadError("stands under two base names; the probe belongs into n, as in probe1/quantity")
        at_ms = _ms(record) + (0 if record.is_relative else times.shift_ms)
        return Reading(sensor, at_ms, _canonical(record, sensor.quantity))


def _sensor(node: str, name: str) -> SensorKey:
    probe, slash, quantity = name.rpartition("/")
    if quantity not in _QUANTITY_NAMES:
        raise PayloadError("not a quantity that is known here")
    if slash and not IDENTIFIER.fullmatch(probe):
        raise PayloadError("a probe's name may hold letters, digits, - _ . only, 40 at most")
    return SensorKey(node, probe, quantity)


def _canonical(record: senml.Record, quantity: str) -> float:
    value = record.value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PayloadError("holds no number")
    if record.unit is None:
        raise PayloadError(f"has no unit; it should be {QUANTITIES[quantity].unit}")
    return convert(float(value), record.unit, QUANTITIES[quantity].unit)


def _check_time(reading: Reading, received_ms: int, topics: Topics) -> None:
    if reading.at_ms < received_ms - topics.oldest_ms:
        raise PayloadError("older than is taken in")
    if reading.at_ms > received_ms + topics.newest_ms:
        raise PayloadError("lies in the future")
