"""What a limit would have meant in readings of the past."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.alarms.price import sounded
from monitor.records import MS_PER_MINUTE, AlarmRule, Priority, Quantity, Side

T0 = 1_700_000_000_000
RULE = AlarmRule(
    "bin-1/substrate_temperature/high/high", "bin-1", Quantity.SUBSTRATE_TEMPERATURE, Side.HIGH,
    42.0, 1.0, 600.0, 300.0, Priority.HIGH, "Hot.", "Stir.",
)  # fmt: skip


def times(count: int, step_min: int = 5) -> list[int]:
    return [T0 + at * step_min * MS_PER_MINUTE for at in range(count)]


def test_each_excursion_that_outlasts_its_delays_is_one_alarm_with_its_hours() -> None:
    hot = [40.0] * 12 + [43.0] * 24 + [40.0] * 12
    found = sounded(RULE, times(96), hot * 2, 1800.0)
    assert found is not None
    # On-delay 10 min, off-delay 5 min: each stands from 10 min after the rise to 5 min after the fall.
    assert (found.times, found.hours) == (2, pytest.approx(2 * 115 / 60))
    assert found.days == pytest.approx(95 * 5 / 1440)


def test_a_limit_that_was_never_passed_would_not_have_sounded() -> None:
    found = sounded(RULE, times(10), [42.0] * 10, 1800.0)
    assert found is not None and (found.times, found.hours) == (0, 0.0)


def test_a_silence_is_no_time_in_which_it_stood() -> None:
    at = [*times(6), *(each + 10 * 60 * MS_PER_MINUTE for each in times(6))]
    found = sounded(RULE, at, [43.0] * 12, 1800.0)
    assert found is not None and found.hours < 1.0


def test_too_little_says_nothing() -> None:
    assert sounded(RULE, [], [], 1800.0) is None
    assert sounded(RULE, times(1), [43.0], 1800.0) is None


def test_a_low_limit_counts_as_well() -> None:
    cold = replace(RULE, side=Side.LOW, setpoint=20.0)
    found = sounded(cold, times(12), [19.0] * 12, 1800.0)
    assert found is not None and found.times == 1
