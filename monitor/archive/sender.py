"""Decides what goes to the archive next, what its answers mean, and when something is surely written.

What the server acknowledged is kept until the same connection has carried another write at least `settle_s`
later. Some servers answer before their disk has the data and lose it when they are killed; a connection that
was closed in between tells of that, however soon the server was back, and all that is kept is sent again. A
point sent twice is the same point.
"""

from __future__ import annotations

import logging
import random
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from monitor.archive.client import Answer, ArchiveClient, Verdict
from monitor.archive.read_back import ReadBack
from monitor.archive.series import SITE, Point, escaped, tags_text
from monitor.archive.streams import Stream
from monitor.errors import sentence
from monitor.records import MS_PER_HOUR
from monitor.store.archive_queue import FEW_PARKED, ArchiveQueue, QueuedReading

log = logging.getLogger(__name__)

PRESENT_HELD_MS = 2 * MS_PER_HOUR
"""Own choice: what was so longer ago is not sent again as the present."""
_Key = tuple[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Pace:
    """Waiting times of the forwarder, in seconds. Own choices.

    Readings are gathered for `poll_s`: at many sites small requests are what costs. A way that closes each
    connection at once tells nothing by it and is not heeded after `give_up_s`.
    """

    poll_s: float = 10.0
    settle_s: float = 30.0
    first_delay_s: float = 1.0
    longest_delay_s: float = 300.0
    person_delay_s: float = 300.0
    give_up_s: float = 600.0
    retry_parked_s: float = 3600.0


class Item(NamedTuple):
    """One line; `seq` is its row in the queue, None for what is no reading."""

    text: str
    seq: int | None = None


@dataclass(slots=True)
class _Delivery:
    """What became of one batch. `proven`: the server takes a point that is surely right."""

    answer: Answer = field(default_factory=lambda: Answer(Verdict.STORED))
    parked: list[tuple[int, str]] = field(default_factory=list)
    refused: int = 0
    proven: bool = False


@dataclass(frozen=True, slots=True)
class _Written:
    """How far everything had come at a moment [s, steady clock]."""

    at_s: float
    seq: int
    places: Mapping[str, int]


def line(site: str, reading: QueuedReading) -> str:
    """One reading in line protocol: quantity, tags node, probe and site, raw value and flag, time in ms.

    A point is known to the server by measurement, tags and time. Nothing that can change for the same reading
    is a tag (a node can move to another place), so sending twice writes the same point twice.
    """
    sensor = reading.sensor
    written = tags_text((("node", sensor.node), ("probe", sensor.probe)), site)
    fields = f"value={reading.value!r},flag={reading.flag}i"
    return f"{escaped(sensor.quantity)},{written} {fields} {reading.at_ms}"


class ArchiveSender:
    """The work of the forwarder, one request or one check of what was sent at a time.

    `due` gives what is so now; `read_back` compares what was written.
    """

    def __init__(
        self,
        queue: ArchiveQueue,
        client: ArchiveClient,
        batch: int,
        site: str,
        pace: Pace,
        streams: Sequence[Stream] = (),
        due: Callable[[int], Sequence[Point]] | None = None,
        read_back: ReadBack | None = None,
    ) -> None:
        self._queue, self._client, self._batch, self._site, self._pace = queue, client, batch, site, pace
        self._streams, self._due, self._read_back = streams, due, read_back
        self._unsettled: deque[_Written] = deque()
        self._failures = 0
        self._has_trouble = True  # as far as the store says: from a life before
        self._unsure_since_s: float | None = None
        self._retried_s = float("-inf")
        self._present: dict[_Key, Point] = {}
        self._unsent: dict[_Key, Point] = {}
        self._begin()

    def _begin(self) -> None:
        """Take up the places that are surely written."""
        self._sent = self._queue.start()
        self._places = {
            stream.name: stream.start if (place := self._queue.mark(stream.name)) is None else place
            for stream in self._streams
        }
        self._unsettled.clear()
        held_ms = _now_ms() - PRESENT_HELD_MS
        self._unsent = {key: point for key, point in self._present.items() if point.at_ms >= held_ms}

    def step(self) -> float:
        """Send what is next, or check what was sent; gives the seconds until the next step."""
        if self._unsettled and not self._client.answers() and self._is_heeded():
            self._begin()
            self._queue.failed(self._sent, "")
        now_ms = _now_ms()
        wait = self._send_present(now_ms)
        if wait:
            return wait
        rows = self._queue.after(self._sent, self._batch)
        if rows:
            return self._send_readings(rows)
        for stream in self._streams:
            place, points = stream.after(self._places[stream.name], self._batch)
            if place != self._places[stream.name]:
                places = {**self._places, stream.name: place}
                return self._send([self._item(point) for point in points], places=places)
        return self._idle(now_ms)

    def _send_present(self, now_ms: int) -> float:
        """What is so now; what the server did not take is sent again, unless there is newer by then."""
        for point in () if self._due is None else self._due(now_ms):
            self._present[point.series.measurement, point.tags] = point
            self._unsent[point.series.measurement, point.tags] = point
        if not self._unsent:
            return 0.0
        wait = self._send([self._item(point) for point in self._unsent.values()])
        if not wait:
            self._unsent.clear()
        return wait

    def close(self) -> None:
        """Close the way on which the archive is read back."""
        if self._read_back is not None:
            self._read_back.close()

    def _is_heeded(self) -> bool:
        """Whether a closed connection means "send again": not where every one is closed without a failure."""
        now_s = time.monotonic()
        if self._unsure_since_s is None:
            self._unsure_since_s = now_s
        return now_s - self._unsure_since_s <= self._pace.give_up_s

    def _item(self, point: Point) -> Item:
        return Item(point.line(self._site))

    def _send_readings(self, rows: Sequence[QueuedReading]) -> float:
        items = [Item(line(self._site, row), row.seq) for row in rows]
        for stream in self._streams:
            items += [self._item(point) for point in stream.touched(rows, self._places[stream.name])]
        wait = self._send(items, rows[-1].seq)
        if not wait and self._read_back is not None:
            self._read_back.came_late(row.at_ms for row in rows)
        return wait

    def _send(
        self, items: Sequence[Item], seq: int | None = None, places: Mapping[str, int] | None = None
    ) -> float:
        """Send lines and note how far that has come; gives the seconds to wait, 0 where they were taken."""
        delivery = _Delivery()
        wanted = [item for item in items if item.text]
        while wanted and delivery.answer.verdict is Verdict.STORED:
            some, wanted = wanted[: self._batch], wanted[self._batch :]
            self._halve(some, delivery)
        if delivery.answer.verdict is not Verdict.STORED:
            return self._put_off(delivery.answer)
        self._failures = 0
        self._sent = self._sent if seq is None else seq
        self._places = dict(self._places if places is None else places)
        if seq is not None or places is not None:
            self._unsettled.append(_Written(time.monotonic(), self._sent, self._places))
        settled = self._settled() if items else None
        if seq is not None or settled is not None or self._has_trouble:
            self._note(settled, delivery.parked)
            self._has_trouble = False
        return 0.0

    def _settled(self) -> _Written | None:
        """The last of what was written long enough before the answer that has just come."""
        settled, before_s = None, time.monotonic() - self._pace.settle_s
        while self._unsettled and self._unsettled[0].at_s <= before_s:
            settled = self._unsettled.popleft()
            self._unsure_since_s = None
        return settled

    def _note(self, settled: _Written | None, parked: Sequence[tuple[int, str]]) -> None:
        if settled is None:
            self._queue.taken(self._sent, -1, parked, _now_ms())
        else:
            self._queue.taken(self._sent, settled.seq, parked, _now_ms(), settled.places)

    def _idle(self, now_ms: int) -> float:
        """Nothing waits: prove what is not surely written, then what takes its time."""
        if self._unsettled and time.monotonic() - self._unsettled[0].at_s >= self._pace.settle_s:
            wait = self._send([self._control()])
            if wait:
                return wait
        if self._queue.queue_history(now_ms, self._batch) or self._retry_parked(now_ms):
            return 0.0
        more = self._read_back is not None and self._read_back.step(now_ms)
        return 0.0 if more else self._pace.poll_s

    def _retry_parked(self, now_ms: int) -> int:
        now_s, count = time.monotonic(), 0
        if now_s - self._retried_s >= self._pace.retry_parked_s:
            self._retried_s = now_s
            count = self._queue.retry_parked(self._batch, now_ms)
        if not count:
            self._queue.parked_is_over()
        return count

    def _control(self) -> Item:
        """A point that is surely right: what refuses it refuses the way, not a reading."""
        waiting = self._queue.status().waiting
        return self._item(Point(SITE, (), {"waiting_readings": waiting}, _now_ms()))

    def _put_off(self, answer: Answer) -> float:
        if answer.verdict is Verdict.NO_CONTACT:
            self._begin()
        self._queue.failed(self._sent, answer.reason)
        self._has_trouble = True
        if answer.verdict is Verdict.NEEDS_PERSON:
            return self._pace.person_delay_s
        if answer.retry_after_s is not None:
            return answer.retry_after_s
        grown = self._pace.first_delay_s * 2.0 ** min(self._failures, 30)
        self._failures += 1
        return min(grown, self._pace.longest_delay_s) * random.uniform(0.5, 1.0)

    def _halve(self, items: Sequence[Item], delivery: _Delivery) -> None:
        """Send; where the data is refused, send each half, down to the one reading that is at fault.

        After a few of these a part whose first and last line are refused is parked without looking between:
        faults go by series or by time, and what is parked is tried again.
        """
        answer = self._client.send([item.text for item in items])
        if answer.verdict is not Verdict.REFUSED_DATA:
            delivery.answer = answer
            return
        if not delivery.proven and not self._prove(delivery):
            return
        if answer.status == 413 and len(items) > 1:
            self._batch = min(self._batch, max(1, len(items) // 2))
        elif len(items) == 1 or (delivery.refused >= FEW_PARKED and self._are_refused(items[0], items[-1])):
            self._park(items, str(answer.reason), delivery)
            return
        middle = len(items) // 2
        by_series = sorted(items, key=_series_and_time)
        for half in (by_series[:middle], by_series[middle:]):
            if delivery.answer.verdict is Verdict.STORED:
                self._halve(half, delivery)

    def _are_refused(self, *items: Item) -> bool:
        """Whether each of some lines is refused alone."""
        return all(self._client.send([item.text]).verdict is Verdict.REFUSED_DATA for item in items)

    def _park(self, items: Sequence[Item], reason: str, delivery: _Delivery) -> None:
        delivery.refused += len(items)
        delivery.parked += [(item.seq, reason) for item in items if item.seq is not None]
        others = [item.text for item in items if item.seq is None]
        if others:
            log.warning(
                "the archive server refuses %d points (%s), such as: %s", *(len(others), reason, others[0])
            )

    def _prove(self, delivery: _Delivery) -> bool:
        """Whether the way takes a point that is surely right; else a refusal says nothing of the readings."""
        answer = self._client.send([self._control().text])
        delivery.proven = answer.verdict is Verdict.STORED
        if answer.verdict is Verdict.REFUSED_DATA:
            reason = sentence(
                "the archive server refuses every reading ({said}); look at [archive] in the settings",
                said=str(answer.reason),
            )
            answer = Answer(Verdict.NEEDS_PERSON, reason)
        delivery.answer = answer
        return delivery.proven


def _series_and_time(item: Item) -> tuple[str, int]:
    head, _, rest = item.text.partition(" ")
    return head, int(rest.rpartition(" ")[2])


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
