"""InfluxDB line protocol and the meaning of a server's answers. Pure.

A point is known to the server by measurement, tags and time. Nothing that can change for the same reading is
a tag (a node can move to another place), so sending twice writes the same point twice, never a second one.
"""

from __future__ import annotations

import datetime
import email.utils
from dataclasses import dataclass
from enum import Enum

from monitor.store.archive_queue import QueuedReading

LONGEST_RETRY_AFTER_S = 3600.0
_REFUSED_DATA = frozenset({400, 413, 422})
_NEEDS_PERSON = {
    401: "the archive server does not know the token; give a valid one in [archive] token",
    403: "the token may not write into this bucket; give one that may in [archive] token",
    404: "the archive server does not know this address, organisation or bucket; look at [archive] and "
    "create the bucket",
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
    reason: str = ""
    retry_after_s: float | None = None
    status: int = 0


def line(site: str, reading: QueuedReading) -> str:
    """One reading as a line: quantity, tags node, probe and site, raw value and flag, time in ms."""
    sensor = reading.sensor
    tags = [("node", sensor.node), ("probe", sensor.probe), ("site", site)]
    written = ",".join(f"{name}={_escaped(text)}" for name, text in tags if _escaped(text))
    fields = f"value={reading.value!r},flag={reading.flag}i"
    return f"{_escaped(sensor.quantity)},{written} {fields} {reading.at_ms}"


def _escaped(text: str) -> str:
    clean = " ".join(text.split()).rstrip("\\")
    return clean.replace(",", r"\,").replace("=", r"\=").replace(" ", r"\ ")


def judge(status: int, reason: str, retry_after: str | None, now_ms: int) -> Answer:
    """What an HTTP status means; a server that is busy or broken is asked again later."""
    if status in _REFUSED_DATA:
        return Answer(Verdict.REFUSED_DATA, reason, status=status)
    if status in _NEEDS_PERSON:
        return Answer(Verdict.NEEDS_PERSON, f"{_NEEDS_PERSON[status]} ({reason})", status=status)
    said = f"the archive server is busy or in trouble ({status}: {reason}); it is asked again later"
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
