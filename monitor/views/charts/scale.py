"""Where the marks on the axes stand. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo

from monitor.notify.phrases import local
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_SECOND

_STEPS = (1.0, 2.0, 5.0, 10.0)
_DAY_HOURS = 6
_MOST_DAYS = 8
_WEEK = 7


def value_ticks(low: float, high: float, most: int = 5) -> tuple[float, ...]:
    """Round values from at or below `low` to at or above `high`, about `most` of them."""
    if high <= low:
        low, high = low - 0.5, high + 0.5
    raw = (high - low) / max(1, most - 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * each for each in _STEPS if power * each >= raw - 1e-12)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return tuple(round(number * step, 10) for number in range(first, last + 1))


def time_ticks(start_ms: int, end_ms: int, zone: tzinfo) -> tuple[int, ...]:
    """Every sixth hour of a day, every day of a week, every Monday of a month, every second month."""
    length_ms = end_ms - start_ms
    if length_ms <= 2 * MS_PER_DAY:
        found = _every(start_ms, zone, timedelta(hours=1), lambda at: at.hour % _DAY_HOURS == 0)
    elif length_ms <= _MOST_DAYS * MS_PER_DAY:
        found = _days(start_ms, length_ms, zone, lambda at: True)
    elif length_ms <= 60 * MS_PER_DAY:
        found = _days(start_ms, length_ms, zone, lambda at: at.weekday() == 0)
    else:
        found = _days(start_ms, length_ms, zone, lambda at: at.day == 1 and at.month % 2 == 1)
    return tuple(at_ms for at_ms in found if start_ms <= at_ms <= end_ms)


def midnights(start_ms: int, end_ms: int, zone: tzinfo) -> tuple[int, ...]:
    """The local midnights in [start, end]."""
    found = _days(start_ms, end_ms - start_ms, zone, lambda at: True)
    return tuple(at_ms for at_ms in found if start_ms <= at_ms <= end_ms)
