"""How far the coming weeks may lie from the last ones: learned from the record, and from the season."""

from __future__ import annotations

import numpy as np
import pytest
from development_builders import FLY, clocks_of, steady

from monitor.climate.arrays import FloatArray
from monitor.development.clocks import StageClock
from monitor.development.ensemble import ensemble_clocks, future_draws
from monitor.development.rate_level import PRIOR_LOG_SD, RateLevel, even_level, rate_level, usable_days
from monitor.development.temperature_series import fill_gaps, series_of
from monitor.records import MS_PER_DAY, MS_PER_HOUR


def clock_of(daily_c: FloatArray) -> StageClock:
    """Clock of the eggs at a place with these means of days, the last of them just over."""
    times = np.arange(24 * len(daily_c), dtype=np.int64) * MS_PER_HOUR
    clock = clocks_of(room=series_of(times, np.repeat(daily_c, 24))).of("room", FLY.stages[0])
    assert clock is not None
    return clock


def level_of(daily_c: FloatArray) -> RateLevel:
    return rate_level(clock_of(daily_c), MS_PER_DAY * len(daily_c) - MS_PER_HOUR, 60)


def remembering(phi: float, days: int = 800) -> FloatArray:
    """Days around 22 °C with a standard deviation of 1.5 °C that remember each other."""
    shocks = np.random.default_rng(3).normal(0.0, 1.5 * np.sqrt(1.0 - phi**2), days)
    found = np.zeros(days)
    for day in range(1, days):
        found[day] = phi * found[day - 1] + shocks[day]
    return 22.0 + found


def yearly(days: int, amplitude_c: float = 3.0, last_turn: float = 0.0) -> FloatArray:
    """A smooth year; `last_turn` is where in it the record ends: 0 at its mean, rising [1]."""
    turns = (np.arange(days) - days) / 365.25 + last_turn
    return np.asarray(22.0 + amplitude_c * np.sin(2.0 * np.pi * turns))


def unknown_place_variance() -> float:
    """Four weeks ahead where nothing is known of a place: weather, and a season that is not known.

    A wave of 0.1 moves by 0.1 * 2 pi / 365 a day; the middle of the four weeks is 14 days ahead, that of the
    last days 7 back.
    """
    return float(PRIOR_LOG_SD[4] ** 2 + (0.1 * 2.0 * np.pi / 365.25 * (14.0 + 5.0 / np.log(2.0))) ** 2)


def test_a_short_record_is_as_unsure_as_the_prior() -> None:
    """Less is known of the last days, too: 12 whole ones hold 0.81 of the weights."""
    level = level_of(np.full(13, 22.0))

    assert level.log_sd[27] == pytest.approx(np.sqrt(unknown_place_variance() / (1.0 - 0.5**2.4)), rel=1e-3)
    assert level.log_sd[2] < level.log_sd[27] < level.log_sd[55]
    assert np.all(level.log_drift == 0.0)


def test_three_days_tell_hardly_more_than_a_flat_mean() -> None:
    assert 0.10 < level_of(np.full(4, 22.0)).log_sd[27] < 0.15


def test_a_long_steady_record_makes_sure() -> None:
    short, long = level_of(np.full(60, 22.0)), level_of(np.full(800, 22.0))

    assert long.log_sd[27] < 0.7 * short.log_sd[27]
    assert long.log_sd[2] < 0.5 * short.log_sd[2]


def test_what_remembers_is_less_sure_and_less_the_nearer() -> None:
    """An AR(1) of 0.8: two weeks lie apart by what independent days do not."""
    forgetful, stubborn = level_of(remembering(0.0)), level_of(remembering(0.8))

    assert stubborn.log_sd[13] > 1.5 * forgetful.log_sd[13]


def test_the_size_is_that_of_the_errors_made() -> None:
    """By hand, below a year: the weighted mean of the last 60 days beside that of the next 28, each day.

    Errors so far apart as the weights and the coming days reach are independent; the prior counts for four.
    """
    daily = remembering(0.8, 364)
    weights = 0.5 ** (np.arange(60) / 5.0) / (0.5 ** (np.arange(60) / 5.0)).sum()
    pasts = np.array([daily[at - 60 : at][::-1] - 12.0 for at in range(60, 364 - 28)])
    means = pasts @ weights
    errors = np.log(np.array([daily[at : at + 28].mean() - 12.0 for at in range(60, 364 - 28)]) / means)
    drawn = ((pasts - means[:, None]) ** 2 @ weights) / means**2 / 28.0
    stretches = len(errors) / (28.0 + 14.0)
    seen = float(np.mean(errors**2 - drawn))
    expected = np.sqrt((4.0 * unknown_place_variance() + stretches * seen) / (4.0 + stretches))

    assert level_of(daily).log_sd[27] == pytest.approx(expected, rel=0.1)


class TestSeason:
    """With a year of days the coming weeks follow the season."""

    @pytest.mark.parametrize(("last_turn", "sign"), [(0.0, 1.0), (0.5, -1.0)])
    def test_spring_warms_and_autumn_cools(self, last_turn: float, sign: float) -> None:
        """A wave of 3 °C at its steepest moves 0.36 °C a week: the next four weeks beside the last."""
        daily = yearly(400, last_turn=last_turn)
        weights = 0.5 ** (np.arange(60) / 5.0)
        last = (daily[::-1][:60] - 12.0) @ weights / weights.sum()
        ahead = 22.0 + 3.0 * np.sin(2.0 * np.pi * (np.arange(28) / 365.25 + last_turn)) - 12.0

        drift = level_of(daily).log_drift

        assert drift[27] == pytest.approx(np.log(ahead.mean() / last), abs=0.02)
        assert sign * drift[27] > 0.08
        assert abs(drift[2]) < abs(drift[27])

    def test_a_warm_fortnight_passes_where_weeks_forget_each_other(self) -> None:
        """3 °C above a year of days without memory; where the years themselves wander, more of it stays."""
        warm = np.concatenate([np.zeros(586), np.full(14, 3.0)])
        wandering = 22.0 + 2.0 * np.sin(2.0 * np.pi * np.arange(600) / 230.0)
        passing, staying = level_of(remembering(0.0, 600) + warm), level_of(wandering + warm)

        assert passing.log_drift[27] < -0.1
        assert passing.log_drift[27] < passing.log_drift[2] < 0.0
        assert np.exp(passing.log_drift[27]) > 10.0 / 13.0
        assert staying.log_drift[27] > passing.log_drift[27] / 2.0

    def test_below_a_year_the_season_is_unknown(self) -> None:
        level, with_year = level_of(yearly(300)), level_of(yearly(400))

        assert np.all(level.log_drift == 0.0)
        assert level.log_sd[27] > 1.5 * with_year.log_sd[27]


class TestRecord:
    """Days that may not be used, and places where nothing lives on."""

    def test_estimated_and_unknown_days_are_left_out(self) -> None:
        times = steady(22.0, 40.0).times_ms
        kept = (times <= 10 * MS_PER_DAY) | (times >= 14 * MS_PER_DAY)
        clock = clocks_of(
            room=fill_gaps(series_of(times[kept], np.full(kept.sum(), 22.0)), 0, 40 * MS_PER_DAY)
        ).of("room", FLY.stages[0])
        assert clock is not None

        starts, usable = usable_days(clock, 40 * MS_PER_DAY, 60)

        assert len(starts) == 40
        assert np.flatnonzero(~usable).tolist() == [26, 27, 28, 29]

    def test_a_record_that_begins_with_unknown_days(self) -> None:
        times = steady(22.0, 90.0).times_ms
        kept = (times < MS_PER_HOUR) | (times > 20 * MS_PER_DAY)
        clock = clocks_of(
            room=fill_gaps(series_of(times[kept], np.full(kept.sum(), 22.0)), 0, 90 * MS_PER_DAY)
        ).of("room", FLY.stages[0])
        assert clock is not None

        level = rate_level(clock, 90 * MS_PER_DAY, 60)

        assert 0.0 < level.log_sd[27] < level_of(np.full(13, 22.0)).log_sd[27]

    def test_a_place_too_cold_has_the_prior(self) -> None:
        level = level_of(np.full(100, 8.0))

        assert level.log_sd[27] == pytest.approx(np.sqrt(unknown_place_variance()), rel=1e-3)

    def test_a_place_at_the_threshold_stays_finite(self) -> None:
        level = level_of(12.0 + np.random.default_rng(1).normal(0.0, 1.0, 400))

        assert np.all(np.isfinite(level.log_sd))
        assert np.all(np.isfinite(level.log_drift))


def test_all_places_share_the_level_of_a_future() -> None:
    """A warm month is warm in every room, so cohorts add up course by course."""
    clocks = clocks_of(one=steady(22.0), other=steady(27.0))
    of = ensemble_clocks(clocks, future_draws(1, 200), 60 * MS_PER_DAY)
    one, other = of("one", FLY.stages[0]), of("other", FLY.stages[0])
    assert one is not None
    assert other is not None

    earned = [clock.readings_at(81.0 * MS_PER_DAY, 200) for clock in (one, other)]

    assert np.corrcoef(earned)[0, 1] > 0.999
    assert np.std(earned[0]) > 1.0


def test_factors_are_one_now_and_drift_with_the_level() -> None:
    factors = even_level(0.1, 3).factors(np.array([-1.0, 0.0, 1.0]))

    assert factors.shape == (4, 3)
    assert np.all(factors[0] == 1.0)
    assert factors[1:, 2] == pytest.approx(np.exp(0.1))
    assert factors[1:, 0] == pytest.approx(np.exp(-0.1))
