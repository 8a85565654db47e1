"""Dating relative messages that waited in the broker while the monitor was away, or come late. Pure.

A pack with relative times counts from the moment when the node sent it. An MQTT 5 broker says how long a
message waited; a 3.1.1 broker does not, so such messages are dated by their sequence: known message, plus so
many periods. `NodeClock` is what must be remembered of a node; take the new one over only after the commit,
so that a message which comes again after a failed commit is dated from the same memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

from monitor.errors import SaidText, sentence
from monitor.records import MS_PER_DAY, MS_PER_MINUTE, NodeMessage, TimeSource

EARLIEST_CLOCK_MS = 1_735_689_600_000
"""2025-01-01: no machine that runs this program lives before it."""
LONGEST_PERIOD_MS = MS_PER_DAY
SHORTEST_PERIOD_MS, FEWEST_PERIODS = 1000, 3
"""What comes faster was kept by the node or the broker and is sent in one go; it has no rhythm."""
ROUNDING_MS = 1500
MOST_MISSING, FAR_BACK = 50, 10
"""Own choices: sequences that did not come and are remembered, of each board; a sequence so far behind that
comes with newer readings is counted from a new start."""
DRAIN_MS = MS_PER_MINUTE
"""After our return, messages that the broker had queued have all arrived by then."""


@dataclass(frozen=True, slots=True)
class Absence:
    """The last time that the monitor was away from the broker; `down_ms`: when the broker was down too."""

    start_ms: int
    end_ms: int
    down_ms: tuple[int, int] | None = None

    def possible_ms(self, sent_ms: int) -> int:
        """When a message was sent of which the rhythm says `sent_ms`: nobody could send while it was down."""
        if self.down_ms is not None and self.down_ms[0] < sent_ms < self.down_ms[1]:
            return self.down_ms[1]
        return sent_ms


@dataclass(frozen=True, slots=True)
class NodeClock:
    """The last dated message of a node: its boot and sequence, when it was sent, the usual period.

    `newest_ms` is the time of its newest reading, `missing` the sequences of its boot that did not come yet.
    """

    boot: int | None = None
    sequence: int | None = None
    sent_ms: int = 0
    period_ms: float | None = None
    newest_ms: int = 0
    missing: tuple[int, ...] = ()


def clock_is_set(now_ms: int, last_known_ms: int | None) -> bool:
    """False while the machine's own clock cannot be right.

    A small computer without a battery clock starts in the past. `last_known_ms` is the newest time that the
    store holds; a clock behind it has not been set. While this is False, messages stay unacknowledged in the
    broker.
    """
    return now_ms >= max(EARLIEST_CLOCK_MS, last_known_ms or 0)


def date_by_sequence(memory: NodeClock, boot: int | None, sequence: int | None) -> int | None:
    """When a message of the same boot was sent, from its distance to the known one; None where unknown."""
    if sequence is None or memory.sequence is None or memory.period_ms is None or boot != memory.boot:
        return None
    return round(memory.sent_ms + (sequence - memory.sequence) * memory.period_ms)


def clock_of(
    history: Sequence[tuple[int, int]], boot: int | None, interval_ms: float | None = None
) -> NodeClock:
    """What is known of a node after a restart of ours, from its last (sequence, arrival) of one boot.

    The period is the usual distance of arrivals a sequence apart; `interval_ms` is that of the settings, for
    a node of which too few are known. Messages that had waited arrive together and tell nothing.
    """
    rows = sorted(history)
    if not rows:
        return NodeClock(period_ms=interval_ms)
    steps = [(later[0] - row[0], later[1] - row[1]) for row, later in pairwise(rows) if later[0] > row[0]]
    periods = [passed / count for count, passed in steps if passed / count >= SHORTEST_PERIOD_MS]
    period_ms = median(periods) if len(periods) >= FEWEST_PERIODS else interval_ms
    missing = tuple(number for row, later in pairwise(rows) for number in _between(row[0], later[0]))
    return NodeClock(boot, rows[-1][0], rows[-1][1], period_ms, rows[-1][1], missing[-MOST_MISSING:])


def _between(sequence: int, later: int) -> range:
    """The sequences between two, at most the last few."""
    return range(max(sequence + 1, later - MOST_MISSING), later)


def resolve_clock(
    memory: NodeClock, message: NodeMessage, absence: Absence | None = None, *, age_known: bool = False
) -> tuple[NodeClock, NodeMessage]:
    """The message dated as well as can be known, and the memory that follows from it.

    Only relative messages of unknown age that arrive right after an absence get another date, and never to a
    time outside it. Where the node restarted meanwhile, or its period is not known, reception stands and it
    is said.
    """
    if message.sequence is None:
        return memory, message
    after, dated = _resolve(memory, message, absence, age_known)
    learned = (after.boot, after.sequence) != (memory.boot, memory.sequence)
    if not learned or dated.time_source is not TimeSource.RELATIVE or not dated.readings:
        return after, dated
    dated = _apart(memory, dated)
    return replace(after, newest_ms=dated.readings[-1].at_ms), dated


def _resolve(
    memory: NodeClock, message: NodeMessage, absence: Absence | None, age_known: bool
) -> tuple[NodeClock, NodeMessage]:
    if message.time_source is TimeSource.RELATIVE and not age_known and _may_have_waited(message, absence):
        return _date_anew(memory, message, absence)
    is_live = not _may_have_waited(message, absence)
    return _learn(memory, message, message.received_ms, is_live=is_live), _in_its_place(memory, message)


def _in_its_place(memory: NodeClock, message: NodeMessage) -> NodeMessage:
    """A pack that was missing and comes after later ones, yet says that its readings are newer than theirs.

    The board sends it again as it was, because the first copy was lost: it was made where its sequence says.
    One whose times were worked out anew is right as it is.
    """
    was_missing = message.boot == memory.boot and message.sequence in memory.missing
    if not was_missing or message.time_source is not TimeSource.RELATIVE or not message.readings:
        return message
    made_ms = date_by_sequence(memory, message.boot, message.sequence)
    if made_ms is None or message.readings[-1].at_ms <= memory.newest_ms:
        return message
    return _shift(message, min(0, made_ms - message.received_ms))


def _may_have_waited(message: NodeMessage, absence: Absence | None) -> bool:
    return absence is not None and absence.end_ms <= message.received_ms <= absence.end_ms + DRAIN_MS


def _date_anew(
    memory: NodeClock, message: NodeMessage, absence: Absence | None
) -> tuple[NodeClock, NodeMessage]:
    kept = _kept_by_the_board(memory, message)
    if kept is not None:
        return _learn(memory, message, memory.sent_ms, is_live=False), kept
    estimate = date_by_sequence(memory, message.boot, message.sequence)
    if estimate is None or absence is None:
        fault = SaidText(
            sentence("not known when it sent while the monitor was away; the time of arrival was used")
        )
        # Several such messages arrive at once: a millisecond apart, so that each keeps its readings.
        arrived_ms = max(message.received_ms, memory.sent_ms + 1)
        dated = _shift(replace(message, clock_fault=fault), arrived_ms - message.received_ms)
        return _learn(memory, message, arrived_ms, is_live=False), dated
    known = (
        memory.sequence is not None and message.sequence is not None and message.sequence <= memory.sequence
    )
    if not known:
        estimate = absence.possible_ms(estimate)
    earliest = estimate if known else max(absence.start_ms, memory.sent_ms)
    sent = min(
        max(estimate, earliest, 0 if known else _after_what_was_sent(memory, message)), message.received_ms
    )
    if not known:
        sent = max(sent, memory.sent_ms + 1)
    dated = _shift(message, sent - message.received_ms)
    return (memory if known else _learn(memory, message, sent, is_live=False)), dated


def _kept_by_the_board(memory: NodeClock, message: NodeMessage) -> NodeMessage | None:
    """A pack that was missing and says that it is older than what the board sent right before it: it is.

    A board that comes back sends its newest pack first. A broker keeps the order, so this one was sent then.
    """
    if message.boot != memory.boot or message.sequence not in memory.missing or not message.readings:
        return None
    sent = _shift(message, min(0, memory.sent_ms - message.received_ms))
    return sent if sent.readings[-1].at_ms < memory.newest_ms else None


def _after_what_was_sent(memory: NodeClock, message: NodeMessage) -> int:
    """The earliest time at which a later pack can have been sent: its readings follow those before it.

    A board that kept its readings itself brings minutes of them in one pack, the next of the sequence.
    """
    if not memory.newest_ms or not message.readings:
        return 0
    times = sorted({reading.at_ms for reading in message.readings})
    steps = [later - earlier for earlier, later in pairwise(times)]
    step_ms = median(steps) if steps else 0
    return round(memory.newest_ms + step_ms + message.received_ms - times[0])


def _apart(memory: NodeClock, message: NodeMessage) -> NodeMessage:
    """A later message whose newest reading would fall on that of the one before is put a millisecond behind.

    The age of a message that waited is known in whole seconds only, and two readings of one time are one.
    """
    behind_ms = memory.newest_ms - message.readings[-1].at_ms
    return _shift(message, behind_ms + 1) if 0 <= behind_ms <= ROUNDING_MS else message


def _shift(message: NodeMessage, by_ms: int) -> NodeMessage:
    readings = tuple(replace(reading, at_ms=reading.at_ms + by_ms) for reading in message.readings)
    return replace(message, readings=readings)


def _learn(memory: NodeClock, message: NodeMessage, sent_ms: int, *, is_live: bool) -> NodeClock:
    """The memory after a message that was sent at `sent_ms`; older ones of the same boot teach nothing."""
    if message.boot != memory.boot or memory.sequence is None or message.sequence is None:
        return NodeClock(message.boot, message.sequence, sent_ms, memory.period_ms)
    steps = message.sequence - memory.sequence
    if steps <= -FAR_BACK and message.sequence not in memory.missing and _is_newer(memory, message):
        # The board began anew under the same boot.
        return NodeClock(message.boot, message.sequence, sent_ms, memory.period_ms)
    if steps <= 0:
        missing = tuple(number for number in memory.missing if number != message.sequence)
        return memory if missing == memory.missing else replace(memory, missing=missing)
    period_ms = _period(memory.period_ms, (sent_ms - memory.sent_ms) / steps) if is_live else memory.period_ms
    missing = (*memory.missing, *_between(memory.sequence, message.sequence))[-MOST_MISSING:]
    return NodeClock(message.boot, message.sequence, sent_ms, period_ms, missing=missing)


def _is_newer(memory: NodeClock, message: NodeMessage) -> bool:
    return bool(message.readings) and message.readings[-1].at_ms > max(memory.newest_ms, memory.sent_ms)


def _period(known_ms: float | None, seen_ms: float) -> float | None:
    """The usual period: the first is taken as it is, later ones are averaged in, pauses are left out."""
    if not SHORTEST_PERIOD_MS <= seen_ms <= LONGEST_PERIOD_MS:
        return known_ms
    if known_ms is None or seen_ms < known_ms / 2:
        return seen_ms
    return known_ms if seen_ms > known_ms * 2 else 0.8 * known_ms + 0.2 * seen_ms
