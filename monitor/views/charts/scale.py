"""Where the marks on the axes stand. Pure."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from datetime import date, datetime, time, timedelta, tzinfo

from monitor.notify.phrases import local
from monitor.records import MS_PER_DAY, MS_PER_SECOND

_STEPS = (1.0, 2.0, 5.0, 10.0)
_CLOCK_HOURS = (0, 6, 12, 18)
_LONGEST_BY_HOUR_MS = 2 * MS_PER_DAY
_LONGEST_BY_DAY_MS = 8 * MS_PER_DAY
_LONGEST_BY_WEEK_MS = 60 * MS_PER_DAY


def value_ticks(low: float, high: float, most: int = 5) -> tuple[float, ...]:
    """Round values from at or below `low` to at or above `high`, about `most` of them."""
    if high <= low:
        low, high = low - 0.5, high + 0.5
    raw = (high - low) / max(1, most - 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * each for each in _STEPS if power * each >= raw * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return tuple(round(number * step, 10) for number in range(first, last + 1))


def time_ticks(start_ms: int, end_ms: int, zone: tzinfo) -> tuple[int, ...]:
    """Every sixth hour of a day, each day of a week, Mondays of a month, every second month of a year."""
    length_ms = end_ms - start_ms
    if length_ms <= _LONGEST_BY_HOUR_MS:
        return _clock_times(start_ms, end_ms, zone, _CLOCK_HOURS, _any_day)
    return _clock_times(start_ms, end_ms, zone, (0,), _days_for(length_ms))


def _days_for(length_ms: int) -> Callable[[date], bool]:
    if length_ms <= _LONGEST_BY_DAY_MS:
        return _any_day
    if length_ms <= _LONGEST_BY_WEEK_MS:
        return lambda day: day.weekday() == 0
    return lambda day: day.day == 1 and day.month % 2 == 1


def _any_day(_day: date) -> bool:
    return True


def _clock_times(
    start_ms: int, end_ms: int, zone: tzinfo, hours: tuple[int, ...], wanted: Callable[[date], bool]
) -> tuple[int, ...]:
    at_times = (
        datetime.combine(day, time(hour), zone)
        for day in days(start_ms, end_ms, zone)
        if wanted(day)
        for hour in hours
    )
    found = (round(at.timestamp() * MS_PER_SECOND) for at in at_times)
    return tuple(at_ms for at_ms in found if start_ms <= at_ms <= end_ms)


def days(start_ms: int, end_ms: int, zone: tzinfo) -> Iterator[date]:
    """The local dates that the span touches."""
    day, last = local(start_ms, zone).date(), local(end_ms, zone).date()
    while day <= last:
        yield day
        day += timedelta(days=1)
