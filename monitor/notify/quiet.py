"""Quiet hours in local time, right across midnight and daylight saving. Pure."""

from __future__ import annotations

from datetime import time, tzinfo

from monitor.notify.phrases import local
from monitor.records import MS_PER_DAY, MS_PER_MINUTE
from monitor.settings.schema import QuietHours

LONGEST_MINUTES = 2 * MS_PER_DAY // MS_PER_MINUTE


def _within(hours: QuietHours, clock: time) -> bool:
    if hours.start <= hours.end:
        return hours.start <= clock < hours.end
    return clock >= hours.start or clock < hours.end


def is_quiet(hours: QuietHours | None, at_ms: int, zone: tzinfo) -> bool:
    """Whether the wall clock stands within the quiet hours; an equal start and end means never."""
    return hours is not None and _within(hours, local(at_ms, zone).time())


def quiet_until_ms(hours: QuietHours | None, now_ms: int, zone: tzinfo) -> int | None:
    """The first whole minute at which the clock on the wall is out of the quiet hours; None outside them.

    It walks minute by minute, so that an hour that the clock skips or shows twice needs no rule of its own.
    """
    if not is_quiet(hours, now_ms, zone):
        return None
    first_ms = now_ms - now_ms % MS_PER_MINUTE + MS_PER_MINUTE
    for minute in range(LONGEST_MINUTES):
        at_ms = first_ms + minute * MS_PER_MINUTE
        if not is_quiet(hours, at_ms, zone):
            return at_ms
    return None
