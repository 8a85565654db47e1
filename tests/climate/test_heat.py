"""Minutes to the high limit by a robust slope."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import theilslopes

from monitor.climate.trend import HORIZON_MIN, MOST_POINTS, minutes_to_limit, robust_slope
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
