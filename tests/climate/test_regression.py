"""Log ratios in time against what held at each: what is there is found, what is shared is one case."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.climate.regression import WIDER, Series, fitted

ZERO, WIDE = np.zeros(1), np.full(1, 10.0)


def series(
    seed: int, effect: float = 0.0, days: int = 120, sd: float = 0.3, memory: float = 0.4, drift: float = 0.0
) -> Series:
    """Spells of exposed days, noise with memory, a level that drifts in a wave."""
    random = np.random.default_rng(seed)
    exposed = np.zeros(days)
    for start in random.integers(0, days - 4, 8).tolist():
        exposed[start : start + 4] = 1.0
    noise = np.zeros(days)
    for day in range(days):
        before = noise[day - 1] if day else 0.0
        noise[day] = memory * before + np.sqrt(1.0 - memory**2) * random.standard_normal()
    at = np.arange(days, dtype=np.float64)
    level = drift * np.sin(at / 12.0)
    return Series(at, level + effect * exposed + sd * noise, np.full(days, sd), exposed[:, None])


def test_an_effect_is_found_around_its_size_and_a_level_that_drifts_is_not_taken_for_it() -> None:
    found = [fitted([series(seed, -0.4, drift=0.3)], ZERO, WIDE) for seed in range(40)]
    middles = np.array([fit.mean[0] for fit in found])
    sds = np.array([np.sqrt(fit.variance[0]) for fit in found])
    assert middles.mean() == pytest.approx(-0.4, abs=0.05)
    assert 0.75 < middles.std() / sds.mean() < 1.25


def test_intervals_hold_what_they_say_without_an_effect_and_with_one() -> None:
    for effect in (0.0, -0.7):
        fits = [fitted([series(seed, effect, sd=0.45)], ZERO, WIDE) for seed in range(100, 220)]
        held = [abs(fit.mean[0] - effect) < 1.2816 * np.sqrt(fit.variance[0]) for fit in fits]
        assert 0.7 < np.mean(held) < 0.93


def test_days_in_two_spells_say_less_than_as_many_scattered_ones() -> None:
    """What a time shares is one case: 24 days in two spells are not 24 cases."""
    found = {}
    for name, start in (("spells", np.r_[20:32, 70:82]), ("scattered", np.arange(2, 120, 5))):
        exposed = np.zeros((120, 1))
        exposed[start] = 1.0
        every = [series(seed, drift=0.2) for seed in range(10)]
        lines = [Series(one.days, one.log_ratio, one.log_sd, exposed) for one in every]
        found[name] = np.mean([fitted([line], ZERO, WIDE).variance[0] for line in lines])
    assert found["spells"] > 2.0 * found["scattered"]


def test_what_was_expected_before_moves_the_answer_but_not_the_z_of_the_data() -> None:
    """A narrow prior pulls; the data alone say the same whatever was expected."""
    one = series(3, -0.3)
    wide = fitted([one], ZERO, WIDE)
    narrow = fitted([one], np.array([0.0]), np.array([0.05]))
    elsewhere = fitted([one], np.array([-0.5]), np.array([0.05]))
    assert abs(narrow.mean[0]) < 0.5 * abs(wide.mean[0])
    assert elsewhere.mean[0] < wide.mean[0] < narrow.mean[0]
    assert narrow.data_z[0] == pytest.approx(wide.data_z[0], rel=0.15)
    assert elsewhere.data_z[0] == pytest.approx(wide.data_z[0], rel=0.15)
    nothing = Series(one.days, one.log_ratio, one.log_sd, np.zeros((len(one.days), 1)))
    unseen = fitted([nothing], np.array([-0.2]), np.array([0.3]))
    assert unseen.mean[0] == pytest.approx(-0.2, abs=0.01)
    assert np.sqrt(unseen.variance[0]) == pytest.approx(0.3, rel=0.01)


def test_a_slip_among_the_cases_hardly_moves_the_answer() -> None:
    one = series(5, -0.4)
    ratio = one.log_ratio.copy()
    clean = fitted([one], ZERO, WIDE)
    ratio[np.flatnonzero(one.exposed[:, 0])[3]] += np.log(10.0)
    slipped = fitted([Series(one.days, ratio, one.log_sd, one.exposed)], ZERO, WIDE)
    assert slipped.mean[0] == pytest.approx(clean.mean[0], abs=0.1)


def test_two_conditions_at_once_are_told_apart() -> None:
    """The second comes mostly with the first and does nothing."""
    random = np.random.default_rng(8)
    one = series(8, -0.6, days=200)
    first = one.exposed[:, 0]
    second = np.where(random.random(200) < 0.8, first, 1.0 - first)
    both = Series(one.days, one.log_ratio, one.log_sd, np.column_stack([first, second]))
    fit = fitted([both], np.zeros(2), np.full(2, 1.0))
    assert fit.mean[0] < -0.35
    assert abs(fit.data_z[1]) < 2.0
    alone = fitted([Series(one.days, one.log_ratio, one.log_sd, second[:, None])], ZERO, WIDE)
    assert alone.data_z[0] < fit.data_z[1], "alone it would be taken for the first"


def test_series_add_what_they_know() -> None:
    one, other = series(11, -0.4), series(12, -0.4)
    apart = [fitted([each], ZERO, WIDE).variance[0] for each in (one, other)]
    together = fitted([one, other], ZERO, WIDE).variance[0]
    assert together == pytest.approx(1.0 / sum(1.0 / each for each in apart), rel=0.2)
    assert WIDER > 1.0
