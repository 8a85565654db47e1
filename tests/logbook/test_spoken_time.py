"""Times and lengths of time as a person types them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from babel import Locale
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import UsageError
from monitor.logbook.times import TimeReader, iso, parse_length
from monitor.records import local
from monitor.words.catalogue import LANGUAGES
from monitor.words.localizer import Localizer

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
        ("23:59", "2026-11-24 23:59"),
        ("yesterday 23:10", "2026-11-24 23:10"),
        ("8 Oct 23:05", "2026-10-08 23:05"),
        ("2026-11-20", "2026-11-20 00:00"),
        ("2026-11-20 08:05", "2026-11-20 08:05"),
        ("2026-11-20T08:05:00+00:00", "2026-11-20 10:05"),
    ],
)
def test_a_moment_is_understood(text: str, expected: str) -> None:
    assert _local(TimeReader(NOW_MS, ZONE).moment(text)) == expected


@pytest.mark.parametrize(("text", "expected"), [("14:00", "2026-11-26 14:00"), ("18:00", "2026-11-25 18:00")])
def test_a_time_of_day_ahead_is_the_next_one(text: str, expected: str) -> None:
    assert _local(TimeReader(NOW_MS, ZONE, ahead=True).moment(text)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("8 Oct", "2026-10-08 00:00"),
        ("8 Oct 18:00", "2026-10-08 18:00"),
        ("8 oct, 18:00", "2026-10-08 18:00"),
        ("8 Oct at 18:00", "2026-10-08 18:00"),
        ("18:00 on 8 Oct", "2026-10-08 18:00"),
        ("Oct 8", "2026-10-08 00:00"),
        ("Oct 8, 2025", "2025-10-08 00:00"),
        ("October 8th 6pm", "2026-10-08 18:00"),
        ("8 October 2026", "2026-10-08 00:00"),
        ("the 8th of October", "2026-10-08 00:00"),
        ("8. Oct.", "2026-10-08 00:00"),
        ("8-Oct-2025", "2025-10-08 00:00"),
        ("8oct", "2026-10-08 00:00"),
        ("Thu 8 Oct", "2026-10-08 00:00"),
        ("Thursday, 8 October 6:30 pm", "2026-10-08 18:30"),
        ("25 Nov", "2026-11-25 00:00"),
        ("26 Nov", "2025-11-26 00:00"),
        ("29 Feb", "2024-02-29 00:00"),
        ("1 Jan 7:05", "2026-01-01 07:05"),
        ("8 octobre", "2026-10-08 00:00"),
        ("le 8 octobre à 18h", "2026-10-08 18:00"),
        ("jeudi 8 octobre 18h30", "2026-10-08 18:30"),
        ("1er août 2026 18 h 30", "2026-08-01 18:30"),
        ("1 févr.", "2026-02-01 00:00"),
        ("hier 18:00", "2026-11-24 18:00"),
        ("avant-hier", "2026-11-23 00:00"),
        ("il y a 2 heures", "2026-11-25 12:30"),
        ("dans 20 min", "2026-11-25 14:50"),
        ("jana 18:00", "2026-11-24 18:00"),
        ("juzi", "2026-11-23 00:00"),
        ("leo 7:00", "2026-11-25 07:00"),
        ("jumatatu 7:00", "2026-11-23 07:00"),
        ("8 okt 18:00", "2026-10-08 18:00"),
        ("8 Ago", "2026-08-08 00:00"),
        ("8 Agosti 2026, 18:00", "2026-08-08 18:00"),
        ("saa 2 zilizopita", "2026-11-25 12:30"),
        ("saa 1 dk 30 zilizopita", "2026-11-25 13:00"),
        ("siku 2 zilizopita", "2026-11-23 14:30"),
        ("baada ya dk 20", "2026-11-25 14:50"),
        ("mar. 7:00", "2026-11-24 07:00"),
        ("mar 24 nov", "2026-11-24 00:00"),
        ("Mar. 8", "2026-03-08 00:00"),
        ("8 mar", "2026-03-08 00:00"),
        ("monday 7:00", "2026-11-23 07:00"),
        ("lundi 7h", "2026-11-23 07:00"),
        ("wed 7:00", "2026-11-25 07:00"),
        ("wed 15:00", "2026-11-18 15:00"),
        ("last wed", "2026-11-18 00:00"),
        ("mercredi dernier", "2026-11-18 00:00"),
        ("sunday", "2026-11-22 00:00"),
        ("day before yesterday 6:00", "2026-11-23 06:00"),
        ("6pm", "2026-11-24 18:00"),
        ("12 am", "2026-11-25 00:00"),
        ("12:15 pm", "2026-11-25 12:15"),
        ("8/10", "2026-10-08 00:00"),
        ("8/10 18:00", "2026-10-08 18:00"),
        ("8.10.", "2026-10-08 00:00"),
        ("8. 10. 2025", "2025-10-08 00:00"),
        ("8.10.2025 7:00", "2025-10-08 07:00"),
        ("8/10/25", "2025-10-08 00:00"),
        ("8-10-2025", "2025-10-08 00:00"),
        ("2025/10/8", "2025-10-08 00:00"),
        ("2025-1-9", "2025-01-09 00:00"),
        ("10/25", "2026-10-25 00:00"),
    ],
)
def test_a_date_is_understood_as_people_write_it(text: str, expected: str) -> None:
    assert _local(TimeReader(NOW_MS, ZONE).moment(text)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("8/10", "2026-08-10 00:00"),
        ("8.10.", "2026-08-10 00:00"),
        ("8/10/2025 18:00", "2025-08-10 18:00"),
        ("25/10", "2026-10-25 00:00"),
        ("8 Oct", "2026-10-08 00:00"),
        ("2025/10/8", "2025-10-08 00:00"),
    ],
)
def test_where_the_month_stands_first_it_is_read_first(text: str, expected: str) -> None:
    assert _local(TimeReader(NOW_MS, ZONE, month_first=True).moment(text)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("8 Oct", "2027-10-08 00:00"),
        ("25 Nov", "2026-11-25 00:00"),
        ("monday 7:00", "2026-11-30 07:00"),
        ("wed 15:00", "2026-11-25 15:00"),
        ("wed 7:00", "2026-12-02 07:00"),
    ],
)
def test_a_day_ahead_is_the_next_one(text: str, expected: str) -> None:
    assert _local(TimeReader(NOW_MS, ZONE, ahead=True).moment(text)) == expected


def test_a_weekday_that_is_not_that_of_the_date_is_refused() -> None:
    with pytest.raises(UsageError, match="2026-10-08 is another day of the week"):
        TimeReader(NOW_MS, ZONE).moment("Fri 8 Oct")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("8 Oct", "2026-10-08 12:00"),
        ("yesterday", "2026-11-24 12:00"),
        ("2026-11-20", "2026-11-20 12:00"),
        ("today", "2026-11-25 12:00"),
        ("today 0:00", "2026-11-25 00:00"),
        ("3 days ago", "2026-11-22 14:30"),
        ("tomorrow", "2026-11-26 12:00"),
        ("monday", "2026-11-23 12:00"),
    ],
)
def test_the_day_of_an_entry_is_its_noon(text: str, expected: str) -> None:
    assert _local(TimeReader(NOW_MS, ZONE).entry_moment(text)) == expected


def test_a_noon_to_come_is_now_unless_the_time_was_written() -> None:
    morning_ms = NOW_MS - 6 * HOUR_MS
    reader = TimeReader(morning_ms, ZONE)
    assert reader.entry_moment("today") == morning_ms
    assert reader.entry_moment("25 Nov") == morning_ms
    assert _local(reader.entry_moment("today 12:00")) == "2026-11-25 12:00"
    assert _local(TimeReader(morning_ms, ZONE, ahead=True).entry_moment("today")) == "2026-11-25 12:00"


def test_a_time_of_day_that_the_clock_leaves_out_still_is_a_moment() -> None:
    now_ms = round(datetime(2026, 3, 29, 12, 0, tzinfo=BERLIN).timestamp() * 1000)
    assert _local(TimeReader(now_ms, BERLIN).moment("today 02:30"), BERLIN) == "2026-03-29 03:30"


@pytest.mark.parametrize(
    "text",
    [
        *("", "soon", "25:00", "2026-13-01", "3 apples ago", "ago", "yesterday noon", "8.10", "8", "31/4"),
        *("999999 weeks ago", "in 999999 weeks", "0001-01-01 00:00", "9999-12-31", "8 Oct 1812"),
        *("30 Feb", "13 pm", "8 Octember", "2026", "8/10/2026 25:00"),
    ],
)
def test_what_is_not_a_moment_is_refused_with_examples(text: str) -> None:
    with pytest.raises(UsageError, match="allowed: now, 14:30"):
        TimeReader(NOW_MS, ZONE).moment(text)


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


@given(
    st.lists(
        st.sampled_from(
            [
                *"0123456789/.-:, h",
                "oct",
                "mon ",
                "yesterday ",
                " ago",
                "in ",
                "pm",
                "days",
                "2026",
                "T",
                "+02:00",
            ]
        ),
        max_size=12,
    ).map("".join),
    st.booleans(),
    st.booleans(),
)
def test_any_text_is_a_moment_or_is_refused(text: str, month_first: bool, ahead: bool) -> None:
    reader = TimeReader(NOW_MS, ZONE, month_first, ahead)
    try:
        at_ms = reader.entry_moment(text)
    except UsageError:
        return
    assert _local(at_ms)


@pytest.mark.parametrize("text", ["saa 2", "jana saa 2", "saa 2 usiku", "saa mbili"])
def test_an_hour_by_the_swahili_clock_is_not_guessed(text: str) -> None:
    with pytest.raises(UsageError):
        TimeReader(NOW_MS, ZONE).moment(text)


def test_every_day_and_month_of_each_language_is_read_as_the_page_shows_it() -> None:
    reader = TimeReader(NOW_MS, ZONE)
    for language in LANGUAGES:
        locale, words = Locale.parse(language), Localizer.plain(language, ZONE, NOW_MS)
        for month in range(1, 13):
            for name in (words.month(month), locale.months["format"]["wide"][month]):
                assert _local(reader.moment(f"8 {name} 2025")) == f"2025-{month:02}-08 00:00"
        for number in range(7):
            monday = date(2026, 11, 23)
            for name in (words.weekday(monday + timedelta(number)), locale.days["format"]["wide"][number]):
                assert local(reader.moment(f"{name} 7:00"), ZONE).weekday() == number, name
