"""Times and lengths of time as a person types them."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from monitor.errors import UsageError
from monitor.logbook.times import iso, parse_length, parse_moment

ZONE = ZoneInfo("Africa/Gaborone")
BERLIN = ZoneInfo("Europe/Berlin")
NOW_MS = round(datetime(2026, 11, 25, 14, 30, tzinfo=ZONE).timestamp() * 1000)
HOUR_MS = 3_600_000


def _local(at_ms: int, zone: ZoneInfo = ZONE) -> str:
    return f"{datetime.fromtimestamp(at_ms / 1000, zone):%Y-%m-%d %H:%M}"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("now", "2026-11-25 14:30"),
        ("2 hours ago", "2026-11-25 12:30"),
        ("1 h 30 min ago", "2026-11-25 13:00"),
        ("in 20 minutes", "2026-11-25 14:50"),
        ("3 days ago", "2026-11-22 14:30"),
        ("yesterday 18:00", "2026-11-24 18:00"),
        ("Yesterday at 06:15", "2026-11-24 06:15"),
        ("today", "2026-11-25 00:00"),
        ("tomorrow 06:00", "2026-11-26 06:00"),
        ("14:00", "2026-11-25 14:00"),
        ("18:00", "2026-11-24 18:00"),
        ("2026-11-20", "2026-11-20 00:00"),
        ("2026-11-20 08:05", "2026-11-20 08:05"),
        ("2026-11-20T08:05:00+00:00", "2026-11-20 10:05"),
    ],
)
def test_a_moment_is_understood(text: str, expected: str) -> None:
    assert _local(parse_moment(text, NOW_MS, ZONE)) == expected


@pytest.mark.parametrize(("text", "expected"), [("14:00", "2026-11-26 14:00"), ("18:00", "2026-11-25 18:00")])
def test_a_time_of_day_ahead_is_the_next_one(text: str, expected: str) -> None:
    assert _local(parse_moment(text, NOW_MS, ZONE, ahead=True)) == expected


def test_a_time_of_day_that_the_clock_leaves_out_still_is_a_moment() -> None:
    now_ms = round(datetime(2026, 3, 29, 12, 0, tzinfo=BERLIN).timestamp() * 1000)
    assert _local(parse_moment("today 02:30", now_ms, BERLIN), BERLIN) == "2026-03-29 03:30"


@pytest.mark.parametrize("text", ["", "soon", "25:00", "2026-13-01", "3 apples ago", "ago", "yesterday noon"])
def test_what_is_not_a_moment_is_refused_with_examples(text: str) -> None:
    with pytest.raises(UsageError, match="allowed: now, 14:30"):
        parse_moment(text, NOW_MS, ZONE)


@pytest.mark.parametrize(
    ("text", "hours"),
    [("30 min", 0.5), ("2h", 2), ("2 hours", 2), ("1 h 30 min", 1.5), ("3 days", 72), ("1.5 h", 1.5)],
)
def test_a_length_of_time_is_understood(text: str, hours: float) -> None:
    assert parse_length(text) == round(hours * HOUR_MS)


@pytest.mark.parametrize("text", ["", "2", "h", "0 min", "2 fortnights", "-1 h", "1 h and more"])
def test_what_is_not_a_length_is_refused_with_examples(text: str) -> None:
    with pytest.raises(UsageError, match="allowed: 30 min"):
        parse_length(text)


def test_a_time_for_other_programs_carries_its_offset() -> None:
    at_ms = round(datetime(2026, 11, 25, 12, 30, tzinfo=UTC).timestamp() * 1000)
    assert iso(at_ms, ZONE) == "2026-11-25T14:30:00+02:00"
    assert iso(None, ZONE) is None
