"""Sends every stored reading to an InfluxDB v2 server, in its own thread with its own connection.

What the server took is kept in the queue for `settle_s` more: some servers answer before their disk has the
data and lose it when they are killed. When contact is lost, all that is kept is sent again; a point sent
twice is the same point. A restart of the server that nobody notices (quicker than one check each `poll_s`) is
the one case that this does not cover.
"""

from __future__ import annotations

import datetime
import email.utils
import json
import random
import socket
import threading
import time
from collections import deque
from collections.abc import Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, field, replace
from enum import Enum
from pathlib import Path
from typing import cast
from urllib.parse import urlsplit

from monitor.archive.series import escaped, tags_text
from monitor.errors import ArchiveError, MonitorError, Phrase, Sentence, sentence
from monitor.settings.schema import ArchiveSettings
from monitor.store.archive_queue import ArchiveQueue, ArchiveStatus, QueuedReading
from monitor.store.connection import open_database

LONGEST_RETRY_AFTER_S = 3600.0
TIMEOUT_S = 15.0
_MOST_REASON = 300
_REFUSED_DATA = frozenset({400, 413, 422})
_NEEDS_PERSON = {
    401: sentence("the archive server does not know the token; give a valid one in [archive] token"),
    403: sentence("the token may not write into this bucket; give one that may in [archive] token"),
    404: sentence(
        "the archive server does not know this address, organisation or bucket; look at [archive] and "
        "create the bucket"
    ),
}


class Verdict(Enum):
    """What an answer means for the batch."""

    STORED = "stored"
    REFUSED_DATA = "refused_data"
    NEEDS_PERSON = "needs_person"
    LATER = "later"
    NO_CONTACT = "no_contact"


@dataclass(frozen=True, slots=True)
class Answer:
    """A server's answer, judged. `retry_after_s` is what the server asked for."""

    verdict: Verdict
    reason: Phrase = ""
    retry_after_s: float | None = None
    status: int = 0


def line(site: str, reading: QueuedReading) -> str:
    """One reading in line protocol: quantity, tags node, probe and site, raw value and flag, time in ms.

    A point is known to the server by measurement, tags and time. Nothing that can change for the same reading
    is a tag (a node can move to another place), so sending twice writes the same point twice.
    """
    sensor = reading.sensor
    written = tags_text((("node", sensor.node), ("probe", sensor.probe)), site)
    fields = f"value={reading.value!r},flag={reading.flag}i"
    return f"{escaped(sensor.quantity)},{written} {fields} {reading.at_ms}"


def judge(status: int, reason: str, retry_after: str | None, now_ms: int) -> Answer:
    """What an HTTP status means; a server that is busy or broken is asked again later."""
    if status in _REFUSED_DATA:
        return Answer(Verdict.REFUSED_DATA, reason, status=status)
    if status in _NEEDS_PERSON:
        wrong = sentence("{problem} ({reason})", problem=_NEEDS_PERSON[status], reason=reason)
        return Answer(Verdict.NEEDS_PERSON, wrong, status=status)
    said = sentence(
        "the archive server is busy or in trouble ({status}: {reason}); it is asked again later",
        status=str(status),
        reason=reason,
    )
    return Answer(Verdict.LATER, said, retry_after_s(retry_after, now_ms), status)


def retry_after_s(header: str | None, now_ms: int) -> float | None:
    """Seconds from a Retry-After header (a number or a date), at most an hour; None where it says nothing."""
    if header is None:
        return None
    try:
        wait = float(header)
    except ValueError:
        wait = _seconds_until(header, now_ms)
    return min(max(wait, 0.0), LONGEST_RETRY_AFTER_S) if wait == wait else None


def _seconds_until(date: str, now_ms: int) -> float:
    try:
        moment = email.utils.parsedate_to_datetime(date)
    except ValueError:
        return float("nan")
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=datetime.UTC)
    return moment.timestamp() - now_ms / 1000


class ArchiveClient:
    """One connection to the archive server. The library is imported here, when it is first needed."""

    def __init__(self, settings: ArchiveSettings) -> None:
        try:
            from influxdb_client.client.influxdb_client import InfluxDBClient
            from influxdb_client.client.write_api import SYNCHRONOUS
            from influxdb_client.domain.write_precision import WritePrecision
        except ImportError as error:
            raise ArchiveError(
                "[archive] needs one more package. To mend: pip install 'rearing-monitor[archive]'."
            ) from error
        token = settings.token.get_secret_value() if settings.token else ""
        self._settings = settings
        self._client = InfluxDBClient(
            settings.url, token, org=settings.org, timeout=round(TIMEOUT_S * 1000), enable_gzip=True
        )
        self._precision = cast(WritePrecision, WritePrecision.MS)
        self._write = self._client.write_api(write_options=SYNCHRONOUS)

    def send(self, lines: Sequence[str]) -> Answer:
        """Send lines and judge what the server says; never raises for what a server or network can do."""
        from influxdb_client.rest import ApiException
        from urllib3.exceptions import HTTPError

        try:
            self._write.write(
                self._settings.bucket, self._settings.org, list(lines), write_precision=self._precision
            )
        except ApiException as error:
            wait = error.headers.get("Retry-After") if error.headers else None
            return judge(error.status or 0, _reason(error), wait, time.time_ns() // 1_000_000)
        except (HTTPError, OSError) as error:
            silent = sentence("the archive server does not answer ({reason})", reason=_short(str(error)))
            return Answer(Verdict.NO_CONTACT, silent)
        return Answer(Verdict.STORED)

    def answers(self) -> bool:
        """True when something listens at the server's address."""
        parts = urlsplit(self._settings.url)
        port = parts.port or (443 if parts.scheme == "https" else 80)
        with suppress(OSError), socket.create_connection((parts.hostname or "", port), TIMEOUT_S):
            return True
        return False

    def close(self) -> None:
        self._write.close()  # type: ignore[no-untyped-call]
        self._client.close()  # type: ignore[no-untyped-call]


def _reason(error: Exception) -> str:
    body = str(getattr(error, "body", "") or getattr(error, "reason", "") or error)
    with suppress(ValueError):
        answer = json.loads(body)
        if isinstance(answer, dict) and answer.get("message"):
            return _short(str(answer["message"]))
    return _short(body)


def _short(text: str) -> str:
    return " ".join(text.split())[:_MOST_REASON]


@dataclass(frozen=True, slots=True)
class Pace:
    """Waiting times of the forwarder, in seconds."""

    poll_s: float = 1.0
    settle_s: float = 30.0
    first_delay_s: float = 1.0
    longest_delay_s: float = 300.0
    person_delay_s: float = 300.0


@dataclass(slots=True)
class _Delivery:
    """What became of one batch."""

    answer: Answer = field(default_factory=lambda: Answer(Verdict.STORED))
    parked: list[tuple[int, str]] = field(default_factory=list)
    statuses: set[int] = field(default_factory=set)


class ArchiveForwarder:
    """Runs in a thread of its own; it never makes the service wait, and `stop` ends it within a request."""

    def __init__(
        self, store_path: Path, settings: ArchiveSettings, site: str, pace: Pace | None = None
    ) -> None:
        self._path = store_path
        self._settings = settings
        self._site = site
        self._pace = pace or Pace()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="archive", daemon=True)
        self._trouble: Sentence | None = None

    def start(self) -> None:
        self._thread.start()

    def stop(self, timeout_s: float = 20.0) -> None:
        """End after the request that is under way."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout_s)

    def status(self) -> ArchiveStatus:
        """How far behind the archive is, read from the store with a connection of its own."""
        with closing(open_database(self._path, create=False, read_only=True, check=False)) as database:
            status = ArchiveQueue(database).status()
        return status if self._trouble is None else replace(status, trouble=self._trouble)

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                self._work()
            except Exception as error:
                self._trouble = _fault(error)
                self._stopping.wait(self._pace.person_delay_s / 10)

    def _work(self) -> None:
        with (
            closing(open_database(self._path, create=False, check=False)) as database,
            closing(ArchiveClient(self._settings)) as client,
        ):
            queue = ArchiveQueue(database)
            sender = ArchiveSender(queue, client, self._settings.batch, self._site, self._pace)
            self._trouble = None
            while not self._stopping.is_set():
                self._stopping.wait(sender.step())


class ArchiveSender:
    """The work of the forwarder, one request or one check of what was sent at a time."""

    def __init__(self, queue: ArchiveQueue, client: ArchiveClient, batch: int, site: str, pace: Pace) -> None:
        self._queue = queue
        self._client = client
        self._batch = batch
        self._site = site
        self._pace = pace
        self._sent = queue.start()
        self._unsettled: deque[tuple[float, int]] = deque()
        self._failures = 0

    def step(self) -> float:
        """Send the next batch, or check what was sent; gives the seconds until the next step."""
        rows = self._queue.after(self._sent, self._batch)
        if not rows:
            return self._idle()
        delivery = self._deliver(rows)
        if delivery.answer.verdict is not Verdict.STORED:
            return self._put_off(delivery.answer)
        self._failures = 0
        self._sent = rows[-1].seq
        self._unsettled.append((time.monotonic(), self._sent))
        self._queue.taken(self._sent, self._settled(), delivery.parked, _now_ms())
        return 0.0

    def _idle(self) -> float:
        if self._unsettled and not self._client.answers():
            return self._put_off(Answer(Verdict.NO_CONTACT, sentence("the archive server does not answer")))
        if self._unsettled and self._is_settled():
            self._queue.taken(self._sent, self._settled())
        if self._queue.queue_history(_now_ms(), self._batch):
            return 0.0
        return self._pace.poll_s

    def _is_settled(self) -> bool:
        return time.monotonic() - self._unsettled[0][0] >= self._pace.settle_s

    def _settled(self) -> int:
        settled = -1
        while self._unsettled and self._is_settled():
            settled = self._unsettled.popleft()[1]
        return settled

    def _put_off(self, answer: Answer) -> float:
        if answer.verdict is Verdict.NO_CONTACT:
            self._unsettled.clear()
            self._sent = self._queue.start()
        self._queue.failed(self._sent, answer.reason)
        if answer.verdict is Verdict.NEEDS_PERSON:
            return self._pace.person_delay_s
        if answer.retry_after_s is not None:
            return answer.retry_after_s
        grown = self._pace.first_delay_s * 2.0 ** min(self._failures, 30)
        self._failures += 1
        return min(grown, self._pace.longest_delay_s) * random.uniform(0.5, 1.0)

    def _deliver(self, rows: Sequence[QueuedReading]) -> _Delivery:
        delivery = _Delivery()
        self._halve(rows, delivery)
        nothing_taken = len(rows) > 1 and len(delivery.parked) == len(rows)
        if nothing_taken and delivery.statuses == {400}:
            said = delivery.parked[0][1]
            reason = sentence(
                "the archive server refuses every reading ({said}); look at [archive] in the settings",
                said=said,
            )
            delivery.answer = Answer(Verdict.NEEDS_PERSON, reason)
        return delivery

    def _halve(self, rows: Sequence[QueuedReading], delivery: _Delivery) -> None:
        """Send; where the data is refused, send each half, down to the one reading that is at fault."""
        answer = self._client.send([line(self._site, row) for row in rows])
        if answer.verdict is not Verdict.REFUSED_DATA:
            delivery.answer = answer
        elif len(rows) == 1:
            delivery.parked.append((rows[0].seq, str(answer.reason)))
            delivery.statuses.add(answer.status)
        else:
            middle = len(rows) // 2
            for half in (rows[:middle], rows[middle:]):
                if delivery.answer.verdict is Verdict.STORED:
                    self._halve(half, delivery)


def _fault(error: Exception) -> Sentence:
    """An unforeseen fault must be seen in the status and must not end the thread in silence."""
    if isinstance(error, MonitorError):
        return error.said
    return sentence(
        "the archive stopped and is begun again ({kind}: {error})",
        kind=type(error).__name__,
        error=str(error),
    )


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
