"""Quiet hours across midnight and daylight saving."""

from __future__ import annotations

from datetime import time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from notify_builders import BERLIN, GABORONE, MINUTE, at

from monitor.notify.policy import is_quiet, quiet_until_ms
from monitor.records import local
from monitor.settings.schema import QuietHours

NIGHT = QuietHours(start=time(21, 30), end=time(6, 0))
NOON = QuietHours(start=time(12, 0), end=time(14, 0))
SHORT = QuietHours(start=time(22, 0), end=time(2, 30))


def test_outside_quiet_hours_nothing_waits() -> None:
    assert quiet_until_ms(NIGHT, at("2026-11-25 06:00"), GABORONE) is None
    assert quiet_until_ms(NIGHT, at("2026-11-25 21:29"), GABORONE) is None
    assert quiet_until_ms(None, at("2026-11-25 02:00"), GABORONE) is None


@pytest.mark.parametrize(
    "now", ["2026-11-24 21:30", "2026-11-24 23:59", "2026-11-25 00:00", "2026-11-25 05:59"]
)
def test_a_night_that_spans_midnight_ends_in_the_morning(now: str) -> None:
    assert quiet_until_ms(NIGHT, at(now), GABORONE) == at("2026-11-25 06:00")


def test_hours_within_a_day() -> None:
    assert quiet_until_ms(NOON, at("2026-11-25 12:30"), GABORONE) == at("2026-11-25 14:00")
    assert not is_quiet(NOON, at("2026-11-25 14:00"), GABORONE)


def test_equal_start_and_end_means_never() -> None:
    never = QuietHours(start=time(6, 0), end=time(6, 0))
    assert not any(is_quiet(never, at(f"2026-11-25 {hour:02}:00"), GABORONE) for hour in range(24))


def test_spring_night_is_an_hour_shorter() -> None:
    start = at("2026-03-28 22:00", BERLIN)
    end = quiet_until_ms(NIGHT, start, BERLIN)
    assert end == at("2026-03-29 06:00", BERLIN)
    assert end - start == 7 * 60 * MINUTE


def test_an_end_that_the_clock_skips_is_the_first_minute_after_the_gap() -> None:
    end = quiet_until_ms(SHORT, at("2026-03-29 01:30", BERLIN), BERLIN)
    assert end == at("2026-03-29 03:00", BERLIN)


def test_autumn_night_is_an_hour_longer() -> None:
    start = at("2026-10-24 22:00", BERLIN)
    end = quiet_until_ms(NIGHT, start, BERLIN)
    assert end == at("2026-10-25 06:00", BERLIN)
    assert end - start == 9 * 60 * MINUTE


def test_an_end_that_comes_twice_ends_at_each_of_them() -> None:
    first, second = (at("2026-10-25 02:30", BERLIN, fold) for fold in (0, 1))
    assert quiet_until_ms(SHORT, at("2026-10-25 02:10", BERLIN, 0), BERLIN) == first
    assert quiet_until_ms(SHORT, at("2026-10-25 02:10", BERLIN, 1), BERLIN) == second


@settings(max_examples=40, deadline=None)
@given(
    minute=st.integers(0, 366 * 1440),
    start=st.times(),
    end=st.times(),
    zone=st.sampled_from([GABORONE, BERLIN, ZoneInfo("Australia/Lord_Howe"), ZoneInfo("America/St_Johns")]),
)
def test_the_end_is_never_quiet_and_all_before_it_is(
    minute: int, start: time, end: time, zone: ZoneInfo
) -> None:
    hours = QuietHours(start=start, end=end)
    now_ms = at("2026-01-01 00:00", zone) + minute * MINUTE
    until_ms = quiet_until_ms(hours, now_ms, zone)
    if until_ms is None:
        assert not is_quiet(hours, now_ms, zone)
        return
    assert not is_quiet(hours, until_ms, zone)
    assert is_quiet(hours, until_ms - MINUTE, zone) or until_ms - MINUTE < now_ms
    assert local(until_ms, zone) - local(now_ms, zone) <= timedelta(hours=25)
