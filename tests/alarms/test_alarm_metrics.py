"""Alarm health against journals worked out by hand."""

from __future__ import annotations

import pytest

from monitor.alarms.health import health
from monitor.records import (
    MS_PER_DAY,
    MS_PER_HOUR,
    MS_PER_MINUTE,
    MS_PER_SECOND,
    AlarmEvent,
    AlarmStatus,
    Priority,
    Transition,
)

START = 1_700_000_000_000
EVENT_TO = {
    AlarmStatus.UNACKNOWLEDGED: AlarmEvent.ACTIVATE,
    AlarmStatus.ACKNOWLEDGED: AlarmEvent.ACKNOWLEDGE,
    AlarmStatus.RETURNED_UNACKNOWLEDGED: AlarmEvent.CLEAR,
    AlarmStatus.NORMAL: AlarmEvent.CLEAR,
    AlarmStatus.SHELVED: AlarmEvent.SHELVE,
}
NORMAL, UNACK, ACK = AlarmStatus.NORMAL, AlarmStatus.UNACKNOWLEDGED, AlarmStatus.ACKNOWLEDGED


def row(
    at_ms: float,
    name: str = "a",
    after: AlarmStatus = UNACK,
    before: AlarmStatus = NORMAL,
    priority: Priority = Priority.MEDIUM,
    processed_ms: float | None = None,
) -> Transition:
    processed = START + int(at_ms if processed_ms is None else processed_ms)
    return Transition(name, "p", "q", priority, EVENT_TO[after], before, after, START + int(at_ms), processed)


def at_minutes(*minutes: float, name: str = "a") -> list[Transition]:
    return [row(minute * MS_PER_MINUTE, name) for minute in minutes]


def days(number: float) -> int:
    return START + int(number * MS_PER_DAY)


def test_only_annunciations_count() -> None:
    journal = [
        row(0),
        row(1, after=ACK, before=UNACK),
        row(2, after=NORMAL, before=ACK),
        row(3, after=AlarmStatus.SHELVED),
        Transition(
            "a",
            "p",
            "q",
            Priority.HIGH,
            AlarmEvent.ACTIVATE,
            AlarmStatus.SHELVED,
            AlarmStatus.SHELVED,
            START,
            START,
        ),
    ]
    found = health(journal, START, days(2))
    assert (found.annunciations, found.per_day, found.per_hour) == (1, 0.5, pytest.approx(1 / 48))
    assert found.per_10_min == pytest.approx(1 / 288)


def test_rows_outside_the_period_are_left_out() -> None:
    journal = [row(-1), row(0), row(MS_PER_DAY - 1), row(MS_PER_DAY)]
    assert health(journal, START, days(1)).annunciations == 2


@pytest.mark.parametrize(("length", "graded"), [(29.99, False), (30, True), (365, True)])
def test_under_thirty_days_is_not_graded(length: float, graded: bool) -> None:
    assert health([], START, days(length)).graded is graded


def test_peak_is_the_share_of_intervals_above_ten() -> None:
    ten, eleven = [row(i) for i in range(10)], [row(10 * MS_PER_MINUTE + i) for i in range(11)]
    found = health(ten + eleven, START, START + 100 * MS_PER_MINUTE)
    assert (found.peak_10_min, found.peak_percent) == (11, 10.0)


def test_flood_starts_above_ten_and_ends_below_five() -> None:
    # per interval: 10 (no flood), 11 (starts), 5 (goes on), 4 (ends), 10 (no flood), 12, 0
    counts = [10, 11, 5, 4, 10, 12, 0]
    journal = [row(i * 10 * MS_PER_MINUTE + n) for i, count in enumerate(counts) for n in range(count)]
    found = health(journal, START, START + 70 * MS_PER_MINUTE)
    assert found.flood_minutes == 30.0
    assert found.flood_percent == pytest.approx(100 * 3 / 7)


def test_the_last_interval_may_be_short() -> None:
    found = health([row(14.5 * MS_PER_MINUTE)], START, START + 15 * MS_PER_MINUTE)
    assert (found.per_10_min, found.peak_10_min) == (0.5, 1)


def test_the_ten_most_frequent() -> None:
    # alarm 0 once ... alarm 11 twelve times: 78 in all, the ten most frequent are 3 + 4 + ... + 12 = 75
    journal = [row(n * MS_PER_HOUR, f"alarm-{i}") for i in range(12) for n in range(i + 1)]
    found = health(journal, START, days(30))
    assert found.most_frequent[0] == ("alarm-11", 12)
    assert len(found.most_frequent) == 10
    assert found.top_10_share == pytest.approx(75 / 78)


def test_chattering_is_three_within_twelve_intervals_of_measurement() -> None:
    # with one reading a minute: 12 minutes hold three, 12.1 do not
    journal = at_minutes(0, 6, 12, name="chatters") + at_minutes(0, 6, 12.1, name="does-not")
    found = health(journal, START, days(30), interval_s=60)
    assert found.chattering == ("chatters",)
    slow = health(journal, START, days(30), interval_s={"does-not": 300.0})
    assert slow.chattering == ("chatters", "does-not")
    assert found.chattering_in_a_minute == ()


def test_the_rule_of_the_trade_is_three_within_a_minute() -> None:
    journal = [row(s * MS_PER_SECOND, "fast") for s in (0, 30, 60)]
    journal += [row(s * MS_PER_SECOND, "slower") for s in (0, 30, 61)]
    assert health(journal, START, days(30)).chattering_in_a_minute == ("fast",)


def test_stale_stands_for_more_than_a_day() -> None:
    journal = [
        row(0, "stale"),
        row(MS_PER_HOUR, "stale", after=ACK, before=UNACK),
        row(0, "a-day"),
        row(24 * MS_PER_HOUR, "a-day", after=NORMAL, before=UNACK),
        row(50 * MS_PER_HOUR, "stale", after=NORMAL, before=ACK),
        row(60 * MS_PER_HOUR, "still"),
        row(70 * MS_PER_HOUR, "before", after=NORMAL, before=ACK),
    ]
    found = health(sorted(journal, key=lambda r: r.at_ms), START, days(5))
    assert dict(found.stale) == {"stale": 50.0, "before": 70.0, "still": 60.0}
    # "stale" counts on days 1 and 2, "before" on 1 and 2, "still" on days 3 and 4
    assert found.stale_on_worst_day == 2


def test_priority_shares() -> None:
    kinds = [Priority.LOW] * 16 + [Priority.MEDIUM] * 3 + [Priority.HIGH]
    found = health([row(i, priority=p) for i, p in enumerate(kinds)], START, days(30))
    assert found.priority_shares == {Priority.LOW: 0.8, Priority.MEDIUM: 0.15, Priority.HIGH: 0.05}


def test_load_goes_by_processing_and_chattering_by_measurement() -> None:
    journal = [row(i * MS_PER_HOUR, processed_ms=10 * MS_PER_HOUR + i) for i in range(3)]
    found = health(journal, START, days(30))
    assert (found.peak_10_min, found.chattering, found.chattering_in_a_minute) == (3, (), ("a",))


def test_an_empty_journal_is_all_noughts() -> None:
    found = health([], START, days(30))
    assert (found.annunciations, found.per_day, found.top_10_share, found.stale) == (0, 0.0, 0.0, ())
    assert found.priority_shares[Priority.HIGH] == 0.0
