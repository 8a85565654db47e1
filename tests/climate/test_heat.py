"""Minutes to the high limit by a robust slope."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import theilslopes

from monitor.climate.trend import (
    HORIZON_MIN,
    LONGEST_INTERVAL_MIN,
    MOST_POINTS,
    change_per_hour,
    minutes_to_limit,
    robust_slope,
)
from monitor.records import MS_PER_MINUTE

T0 = 1_700_000_000_000


def times(count: int, step_min: float = 1.0) -> list[int]:
    return [T0 + int(i * step_min * MS_PER_MINUTE) for i in range(count)]


def test_a_straight_line_reaches_its_limit_on_time() -> None:
    # 36 °C now, 6 °C an hour: 42 °C in 60 minutes
    rising = [36.0 - 0.1 * (44 - i) for i in range(45)]
    found = minutes_to_limit(times(45), rising, 42.0)
    assert found is not None
    assert found.median_min == pytest.approx(60.0)
    assert found.earliest_min == pytest.approx(60.0)
    assert found.slope_c_per_h == pytest.approx(6.0)


def test_only_the_last_45_minutes_count() -> None:
    values = [50.0] * 60 + [36.0 - 0.1 * (44 - i) for i in range(45)]
    found = minutes_to_limit(times(105), values, 42.0)
    assert found is not None
    assert found.median_min == pytest.approx(60.0)


def test_a_quarter_of_odd_readings_does_not_turn_it() -> None:
    rising = [36.0 - 0.1 * (44 - i) for i in range(45)]
    for i in range(2, 45, 4):
        rising[i] = 85.0
    found = minutes_to_limit(times(45), rising, 42.0)
    assert found is not None
    assert 30 < found.median_min < 75


@pytest.mark.parametrize("slope", [0.0, -0.05])
def test_steady_or_falling_is_a_day_or_more(slope: float) -> None:
    found = minutes_to_limit(times(45), [30.0 + slope * i for i in range(45)], 42.0)
    assert found is not None
    assert (found.median_min, found.earliest_min) == (HORIZON_MIN, HORIZON_MIN)


def test_beyond_the_limit_is_no_time_left() -> None:
    found = minutes_to_limit(times(45), [43.0] * 45, 42.0)
    assert found is not None
    assert (found.median_min, found.earliest_min) == (0.0, 0.0)


@pytest.mark.parametrize(("count", "step"), [(0, 1), (5, 5), (14, 1)])
def test_too_little_says_nothing(count: int, step: float) -> None:
    assert minutes_to_limit(times(count, step), [35.0] * count, 42.0) is None


def test_many_readings_are_thinned_and_say_the_same() -> None:
    rising = [36.0 - 0.01 * (269 - i) for i in range(270)]
    found = minutes_to_limit(times(270, 1 / 6), rising, 42.0)
    assert found is not None
    assert found.median_min == pytest.approx(100.0, rel=0.001)
    assert MOST_POINTS < 270


def test_slope_and_band_agree_with_scipy() -> None:
    # scipy.stats.theilslopes with alpha 0.8: the two-sided 80 % band, one in ten above
    rng = np.random.default_rng(11)
    minutes = np.arange(45.0)
    values = 34.0 + 0.06 * minutes + rng.normal(0, 0.2, 45)
    expected = theilslopes(values, minutes, alpha=0.8)
    found = minutes_to_limit(times(45), values.tolist(), 42.0)
    assert found is not None
    assert found.slope_c_per_h == pytest.approx(60 * expected.slope)
    level = np.median(values - expected.slope * (minutes - minutes[-1]))
    assert found.earliest_min == pytest.approx((42.0 - level) / expected.high_slope, rel=0.01)


def test_one_in_ten_crosses_before_the_earliest_credible_time() -> None:
    """Four hundred noisy bins that truly rise 4 °C an hour from 38 °C: 60 minutes to 42 °C."""
    rng = np.random.default_rng(3)
    line = 38.0 + (np.arange(45.0) - 44) * 4 / 60
    found = [minutes_to_limit(times(45), (line + rng.normal(0, 0.3, 45)).tolist(), 42.0) for _ in range(400)]
    late = np.mean([trend is not None and trend.earliest_min > 60.0 for trend in found])
    assert 0.03 < late < 0.2


def test_the_slope_is_that_of_theil_and_sen() -> None:
    minutes = np.arange(20.0)
    values = 30.0 + 0.2 * minutes + np.random.default_rng(3).normal(0, 0.3, 20)
    expected = theilslopes(values, minutes).slope
    points = list(zip(minutes.tolist(), values.tolist(), strict=True))
    assert robust_slope(points, 5, 10.0, 30) == pytest.approx(expected)


def test_a_slope_needs_enough_readings_over_enough_time() -> None:
    points = [(float(number), float(number)) for number in range(6)]
    assert robust_slope(points, 6, 5, 30) == 1.0
    assert robust_slope(points, 7, 5, 30) is None
    assert robust_slope(points, 6, 6, 30) is None
    assert robust_slope([], 1, 0, 30) is None


def test_thinning_keeps_the_first_and_the_last_reading() -> None:
    times_of_many = [0.0, *np.linspace(49.0, 51.0, 98).tolist(), 100.0]
    assert robust_slope([(time, time * 2.0) for time in times_of_many], 2, 100.0, 2) == 2.0


# A step is not a trend.


def put_back(step_min: float, lag_min: float, before_min: int = 60, after_min: int = 80) -> list[float]:
    """A probe that lay in the air at 33 °C and is put back into a bin at 39.5 °C, which stays as it is."""
    moments = np.arange(-before_min, after_min, step_min)
    approach = 1.0 - np.exp(-np.maximum(moments, 0.0) / lag_min) if lag_min else (moments >= 0) * 1.0
    return [round(value * 16) / 16 for value in (33.0 + 6.5 * approach).tolist()]


def earliest_of(values: list[float], step_min: float, limit_c: float = 42.0) -> list[float]:
    """The earliest credible minutes at each reading, as far as there are any."""
    at = times(len(values), step_min)
    found = (minutes_to_limit(at[: n + 1], values[: n + 1], limit_c) for n in range(len(values)))
    return [trend.earliest_min for trend in found if trend is not None]


@pytest.mark.parametrize("step_min", [0.5, 1.0, 5.0, 10.0, 15.0])
@pytest.mark.parametrize("lag_min", [0.0, 1.0, 2.0])
def test_a_probe_put_back_is_no_heating(step_min: float, lag_min: float) -> None:
    assert min(earliest_of(put_back(step_min, lag_min, 120, 200), step_min)) > 75.0


def test_after_a_step_the_heating_that_follows_shows_at_once() -> None:
    # put back at 39 °C and rising 4 °C an hour: 45 minutes to the limit
    values = [33.0] * 45 + [39.0 + i / 15.0 for i in range(31)]
    found = minutes_to_limit(times(len(values)), values, 42.0)
    assert found is not None
    assert found.median_min == pytest.approx(15.0, abs=0.5)
    assert minutes_to_limit(times(55), values[:55], 42.0) is None


def test_a_fall_and_a_single_odd_reading_cut_nothing_off() -> None:
    stirred = [38.0 + i / 10.0 for i in range(25)] + [37.0 + i / 10.0 for i in range(20)]
    found = minutes_to_limit(times(45), stirred, 42.0)
    assert found is not None
    odd = [38.0 + i / 15.0 for i in range(45)]
    odd[40] = 47.0
    found = minutes_to_limit(times(45), odd, 42.0)
    assert found is not None
    assert found.median_min == pytest.approx(16.0, abs=1.0)


@pytest.mark.parametrize(("per_hour", "known"), [(15.0, True), (19.0, True), (30.0, False)])
def test_a_bin_warms_by_twenty_degrees_an_hour_at_most(per_hour: float, known: bool) -> None:
    values = [25.0 + per_hour / 60.0 * i for i in range(45)]
    assert (minutes_to_limit(times(45), values, 60.0) is not None) is known


# Slow boards.


@pytest.mark.parametrize("interval_min", [1.0, 5.0, 8.0, 9.1, 10.0, 12.0, 15.0])
def test_the_window_follows_the_board_up_to_fifteen_minutes(interval_min: float) -> None:
    count = int(150 / interval_min)
    found = minutes_to_limit(
        times(count, interval_min), [30.0 + 0.05 * interval_min * i for i in range(count)], 60.0
    )
    assert found is not None
    assert found.slope_c_per_h == pytest.approx(3.0)


def test_a_board_slower_than_that_tells_no_trend() -> None:
    assert minutes_to_limit(times(20, 20.0), [30.0 + i for i in range(20)], 60.0) is None
    assert LONGEST_INTERVAL_MIN == 15.0


def test_a_quick_board_after_a_silence_starts_anew() -> None:
    at = [*times(45), times(45)[-1] + 50 * MS_PER_MINUTE]
    assert minutes_to_limit(at, [35.0 + 0.1 * (i % 2) for i in range(46)], 42.0) is None


# The trend that is told of any value.


def lately(*values: float, step_min: float = 1.0) -> list[tuple[int, float]]:
    return list(zip(times(len(values), step_min), values, strict=True))


def test_a_trend_is_the_change_in_an_hour_of_the_last_half_hour() -> None:
    rising = [30.0] * 60 + [30.0 + i / 20.0 for i in range(31)]
    assert change_per_hour("air_temperature", lately(*rising)) == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("quantity", "before", "after"),
    [
        ("air_humidity", 73.0, 44.0),
        ("air_humidity", 44.0, 73.0),
        ("substrate_moisture", 0.70, 0.62),
        ("air_temperature", 24.0, 31.0),
    ],
)
def test_no_trend_is_told_of_a_step(quantity: str, before: float, after: float) -> None:
    values = [before] * 30 + [after] * 40
    told = [change_per_hour(quantity, lately(*values[: n + 1])) for n in range(len(values))]
    assert all(rate is None or rate == pytest.approx(0.0) for rate in told)
    assert None in told and told[-1] == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("quantity", "slow", "quick"),
    [("air_humidity", 55.0, 90.0), ("air_temperature", 15.0, 25.0), ("substrate_moisture", -0.4, -0.6)],
)
def test_a_steady_change_is_told_up_to_what_can_be(quantity: str, slow: float, quick: float) -> None:
    told = [
        change_per_hour(quantity, lately(*(0.5 + rate / 60 * i for i in range(31)))) for rate in (slow, quick)
    ]
    assert told == [pytest.approx(slow), None]


@pytest.mark.parametrize(("count", "step"), [(4, 5.0), (10, 1.0), (0, 1.0)])
def test_too_few_readings_tell_no_trend(count: int, step: float) -> None:
    assert change_per_hour("air_temperature", lately(*[30.0] * count, step_min=step)) is None


def test_light_has_no_trend() -> None:
    assert change_per_hour("light", lately(*range(31))) is None
