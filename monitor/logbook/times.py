"""Times and lengths of time as a person types them: "2 hours ago", "yesterday 18:00", "90 min", ISO."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import datetime, time, timedelta, tzinfo

from monitor.errors import UsageError, sentence
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND, local

MOMENTS = sentence(
    "now, 14:30, today 14:30, yesterday 18:00, 2 hours ago, 3 days ago, 2026-11-25, 2026-11-25 14:30 "
    "or 2026-11-25T14:30+02:00"
)
LENGTHS = sentence("30 min, 2 h, 1 h 30 min or 3 days")

_UNITS: Mapping[str, int] = {
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes"), MS_PER_MINUTE),
    **dict.fromkeys(("h", "hour", "hours"), MS_PER_HOUR),
    **dict.fromkeys(("d", "day", "days"), MS_PER_DAY),
    **dict.fromkeys(("w", "week", "weeks"), 7 * MS_PER_DAY),
}
_DAYS: Mapping[str, int] = {"yesterday": -1, "today": 0, "tomorrow": 1}
_PART = re.compile(r"(\d{1,6}(?:\.\d{1,3})?)\s*([a-z]+)\s*")
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_DAY_AND_CLOCK = re.compile(rf"({'|'.join(_DAYS)})(?:\s+(?:at\s+)?({_CLOCK.pattern}))?")


def iso(at_ms: int | None, zone: tzinfo) -> str | None:
    """ISO 8601 with the offset of the zone; None stays None."""
    return None if at_ms is None else local(at_ms, zone).isoformat(timespec="seconds")


def parse_length(text: str) -> int:
    """A length of time in ms; UsageError for one that is not understood or not above zero."""
    length_ms = _length(text.strip().lower())
    if not length_ms:
        raise UsageError("{text} is no length of time; allowed: {allowed}", text=repr(text), allowed=LENGTHS)
    return length_ms


def _length(text: str) -> int | None:
    total, at = 0.0, 0
    while at < len(text):
        part = _PART.match(text, at)
        if part is None or part[2] not in _UNITS:
            return None
        total += float(part[1]) * _UNITS[part[2]]
        at = part.end()
    return round(total)


def parse_moment(text: str, now_ms: int, zone: tzinfo, *, ahead: bool = False) -> int:
    """A moment in ms since 1970, by the farm's clock.

    A bare time of day is the last such time, or with `ahead` the next one.
    """
    plain = " ".join(text.strip().lower().split())
    for reader in (_now, _ago, _day, _clock_reader(ahead), _iso):
        at_ms = reader(plain, now_ms, zone)
        if at_ms is not None:
            return at_ms
    raise UsageError(
        "{text} is no time that is understood; allowed: {allowed}", text=repr(text), allowed=MOMENTS
    )


def _now(text: str, now_ms: int, _zone: tzinfo) -> int | None:
    return now_ms if text == "now" else None


def _ago(text: str, now_ms: int, _zone: tzinfo) -> int | None:
    if text.endswith(" ago"):
        length = _length(text.removesuffix(" ago"))
        return None if length is None else now_ms - length
    length = _length(text.removeprefix("in ")) if text.startswith("in ") else None
    return None if length is None else now_ms + length


def _day(text: str, now_ms: int, zone: tzinfo) -> int | None:
    match = _DAY_AND_CLOCK.fullmatch(text)
    if match is None:
        return None
    day = local(now_ms, zone).date() + timedelta(days=_DAYS[match[1]])
    hour, minute = (match[3], match[4]) if match[2] else (0, 0)
    return _ms(datetime.combine(day, time(int(hour), int(minute)), zone))


def _clock_reader(ahead: bool) -> Callable[[str, int, tzinfo], int | None]:
    def read(text: str, now_ms: int, zone: tzinfo) -> int | None:
        match = _CLOCK.fullmatch(text)
        if match is None:
            return None
        today, clock = local(now_ms, zone).date(), time(int(match[1]), int(match[2]))
        times_ms = [_ms(datetime.combine(today + timedelta(days=days), clock, zone)) for days in (-1, 0, 1)]
        if ahead:
            return next(at_ms for at_ms in times_ms if at_ms > now_ms)
        return next(at_ms for at_ms in reversed(times_ms) if at_ms <= now_ms)

    return read


def _iso(text: str, _now_ms: int, zone: tzinfo) -> int | None:
    try:
        at = datetime.fromisoformat(text.upper())
    except ValueError:
        return None
    return _ms(at if at.tzinfo else at.replace(tzinfo=zone))


def _ms(at: datetime) -> int:
    return round(at.timestamp() * MS_PER_SECOND)
