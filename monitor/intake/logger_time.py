"""Times in logger files: written forms, order of day and month, local time to UTC. Pure."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from monitor.errors import LoggerFileError
from monitor.intake.logger_columns import DateOrder

_DATE_AND_TIME = re.compile(
    r"(?P<a>\d{1,4})(?P<mark>[-/.])(?P<b>\d{1,2})(?P=mark)(?P<c>\d{2,4})"
    r"(?:[T ,]+(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<part>\d{1,6})\d*)?)?"
    r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<offset>Z|[+-][01]\d:?[0-5]\d)?)?",
    re.ASCII,
)
_EPOCH = re.compile(r"\d{10}(\d{3})?(\.\d*)?", re.ASCII)
_OFFSET = re.compile(r"(?:UTC|GMT)?([+-])([01]\d):?([0-5]\d)", re.ASCII)


@dataclass(frozen=True, slots=True)
class WrittenTime:
    """A time as written: its shape and its parts. `a b c` are the parts of the date in their order."""

    line: int
    text: str
    shape: str
    a: int
    b: int
    c: int
    time: dt.time
    offset: dt.tzinfo | None = None


def read_written(line: int, text: str) -> WrittenTime | str:
    """The parts of a time, or in words why it cannot be read."""
    if _EPOCH.fullmatch(text):
        return _from_epoch(line, text)
    match = _DATE_AND_TIME.fullmatch(text)
    if match is None:
        return f"the time {text[:40]!a} is not in a form that is known"
    try:
        time = _time_of_day(match)
    except ValueError as error:
        return f"the time {text[:40]!a} does not exist: {error}"
    offset = _offset(match["offset"])
    shape = ("year first" if len(match["a"]) == 4 else f"day or month first, with {match['mark']}") + (
        " and its own offset" if offset else ""
    )
    return WrittenTime(line, text, shape, int(match["a"]), int(match["b"]), int(match["c"]), time, offset)


def date_order(times: Sequence[WrittenTime], asked: DateOrder | None) -> DateOrder:
    """The order of day, month and year of the whole column; refused where the file leaves it open."""
    _refuse_mixed(times)
    if not times or times[0].shape.startswith(("year first", "seconds")):
        return "ymd"
    if asked in ("dmy", "mdy"):
        return asked
    return _order_from_numbers(times)


def time_zone(name: str) -> dt.tzinfo:
    """A time zone by its name, or a fixed offset such as +02:00."""
    match = _OFFSET.fullmatch(name)
    if match:
        return _offset(f"{match[1]}{match[2]}:{match[3]}") or dt.UTC
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise LoggerFileError(
            f"the time zone {name!r} is not known; write it like Africa/Gaborone, or as an offset like +02:00"
        ) from None


def to_local(written: WrittenTime, order: DateOrder) -> dt.datetime | str:
    """Date and time without zone, or with the offset that was written; or in words why there is none."""
    year, month, day = {
        "ymd": (written.a, written.b, written.c),
        "dmy": (written.c, written.b, written.a),
        "mdy": (written.c, written.a, written.b),
    }[order]
    try:
        date = dt.date(year + 2000 if year < 100 else year, month, day)
    except ValueError:
        return f"the date {written.text[:40]!a} does not exist"
    return dt.datetime.combine(date, written.time, written.offset)


@dataclass(slots=True)
class LocalClock:
    """Turns local times into UTC row by row, in the order of time, and counts the rows in doubled hours."""

    zone: dt.tzinfo
    previous_ms: int | None = None
    doubled: int = 0

    def to_ms(self, local: dt.datetime) -> int | str:
        """ms since 1970; in words why not, where clocks went forward over this time.

        Where clocks went back a time occurs twice: the first is taken unless the row before is as late.
        """
        if local.tzinfo is not None:
            return self._keep(_ms(local))
        first, second = (_ms(local.replace(tzinfo=self.zone, fold=fold)) for fold in (0, 1))
        if first > second:
            return f"the local time {local} does not exist: clocks went forward over it"
        if first == second:
            return self._keep(first)
        self.doubled += 1
        return self._keep(first if self.previous_ms is None or self.previous_ms < first else second)

    def _keep(self, at_ms: int) -> int:
        self.previous_ms = at_ms
        return at_ms


def _ms(moment: dt.datetime) -> int:
    return (moment - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(milliseconds=1)


def _from_epoch(line: int, text: str) -> WrittenTime:
    seconds = float(text) / (1000 if len(text.partition(".")[0]) == 13 else 1)
    moment = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(seconds=seconds)
    return WrittenTime(
        line, text, "seconds since 1970", moment.year, moment.month, moment.day, moment.time(), dt.UTC
    )


def _time_of_day(match: re.Match[str]) -> dt.time:
    hour = int(match["hour"] or 0)
    half = (match["half"] or "").lower().replace(".", "")
    if half:
        if not 1 <= hour <= 12:
            raise ValueError("hour must be in 1..12 with am or pm")
        hour = hour % 12 + (12 if half == "pm" else 0)
    microsecond = int((match["part"] or "0").ljust(6, "0"))
    return dt.time(hour, int(match["minute"] or 0), int(match["second"] or 0), microsecond)


def _offset(text: str | None) -> dt.tzinfo | None:
    if not text:
        return None
    if text == "Z":
        return dt.UTC
    sign = -1 if text[0] == "-" else 1
    return dt.timezone(sign * dt.timedelta(hours=int(text[1:3]), minutes=int(text[-2:])))


def _refuse_mixed(times: Sequence[WrittenTime]) -> None:
    first: dict[str, WrittenTime] = {}
    for time in times:
        first.setdefault(time.shape, time)
    if len(first) > 1:
        examples = "\n".join(f"  line {one.line}: {one.text} ({one.shape})" for one in first.values())
        raise LoggerFileError(
            f"the time column holds {len(first)} different forms; split the file, or mend these rows:\n"
            f"{examples}"
        )


def _order_from_numbers(times: Sequence[WrittenTime]) -> DateOrder:
    day_first = next((time for time in times if time.a > 12), None)
    month_first = next((time for time in times if time.b > 12), None)
    if day_first and month_first:
        raise LoggerFileError(
            "the time column has the day first in one row and the month first in another:\n"
            f"  line {day_first.line}: {day_first.text}\n  line {month_first.line}: {month_first.text}"
        )
    if day_first or "." in times[0].shape:
        return "dmy"
    if month_first:
        return "mdy"
    examples = "\n".join(f"  line {time.line}: {time.text}" for time in (times[0], times[-1]))
    raise LoggerFileError(
        "the dates can be read as day/month or as month/day; say which with --date-order dmy or "
        f"--date-order mdy:\n{examples}"
    )
