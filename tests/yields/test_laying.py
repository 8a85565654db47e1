"""When the flies of a cage lay: lag, flies that follow each other, the published shape of a cage."""

from __future__ import annotations

import numpy as np
import pytest
from development_builders import FLY, NOW_MS, clocks_of, cohort, known_level_basis, steady

from monitor.climate.arrays import FloatArray
from monitor.development.courses import CohortCase, courses_of
from monitor.development.posterior import prior_posterior
from monitor.records import MS_PER_DAY
from monitor.yields.forecast import TIMING_LOG_PRIOR, TIMINGS, cage_flies
from monitor.yields.laying import (
    CageFlies,
    DayGrid,
    counted_females,
    day_grid,
    emerging_females,
    fecundity,
    filled_warmth,
    following_days,
    laying_days,
)
from monitor.yields.records import FliesPutIn, Takings

DAYS = 60
REPRO_SHARES = {
    "brewery grain": (1, (0.0087, 0.1164, 0.0848, 0.28, 0.3209, 0.1536, 0.0288, 0.0068)),
    "chicken feed": (
        3,
        (
            0.0265,
            0.1123,
            0.1526,
            0.261,
            0.1743,
            0.1125,
            0.0703,
            0.0,
            0.0217,
            0.0248,
            0.0114,
            0.0093,
            0.0094,
            0.0116,
            0.0013,
        ),
    ),
    "food waste": (
        1,
        (
            0.0005,
            0.0431,
            0.0675,
            0.139,
            0.2096,
            0.1153,
            0.1014,
            0.0776,
            0.0902,
            0.0,
            0.0332,
            0.0249,
            0.0193,
            0.0316,
            0.0176,
            0.0108,
            0.0174,
        ),
    ),
    "okara": (
        2,
        (
            0.0205,
            0.0517,
            0.218,
            0.1852,
            0.1638,
            0.1179,
            0.1062,
            0.0439,
            0.0207,
            0.0283,
            0.0217,
            0.0072,
            0.0094,
            0.0024,
            0.0026,
        ),
    ),
}
"""First day of collecting, and the share of a cage's eggs on it and the days after: means of three cages
each.

Source: own summary of "egg and hatch.csv", ReproLab, Data-and-codes_BSF-reproduction, commit 5d6a6d8, open
data.
"""


def expected_curve(warmth_c: float = 27.0) -> FloatArray:
    """Eggs of a cage filled on day 0 with flies that were counted, cumulated, as they are expected
    beforehand."""
    put_in = np.zeros(DAYS)
    put_in[0] = 1.0
    days = laying_days(np.full(DAYS, warmth_c), [timing.lag_factor for timing in TIMINGS], FLY)
    curves = np.zeros((len(TIMINGS), DAYS))
    for number, timing in enumerate(TIMINGS):
        follow = put_in
        if timing.spread:
            follow = put_in @ following_days(FLY, timing.spread * FLY.individual_variation, DAYS)
        curves[number] = follow @ days[timing.lag_factor]
    eggs = np.exp(TIMING_LOG_PRIOR) @ curves
    return np.asarray(np.cumsum(eggs) / eggs.sum())


def day_of_share(cumulated: FloatArray, share: float) -> float:
    """Days after filling at which a share of the eggs is laid, within the day by a straight line."""
    return float(np.interp(share, np.concatenate([[0.0], cumulated]), np.arange(len(cumulated) + 1)))


def test_a_cage_filled_on_one_day_has_the_published_shape() -> None:
    """10, 50 and 90 % by day 4, 6 and 9-14 (ReproLab, three of four feeds of the parents), within a day."""
    curve = expected_curve()
    tenth, half, most = (day_of_share(curve, share) for share in (0.1, 0.5, 0.9))
    assert tenth == pytest.approx(4.0, abs=1.0)
    assert half == pytest.approx(6.0, abs=1.0)
    assert 9.0 <= most <= 14.0


@pytest.mark.parametrize("feed", ["chicken feed", "food waste", "okara"])
def test_the_shape_lies_near_the_cages_that_were_counted(feed: str) -> None:
    """On no day is the cumulated share further off than three of these feeds are from each other, 0.25."""
    first, shares = REPRO_SHARES[feed]
    counted = np.concatenate([np.zeros(first), np.cumsum(shares) / sum(shares)])
    # A collecting on day 1 holds what was laid until then.
    forecast = np.concatenate([[0.0], expected_curve()])[: len(counted)]
    assert float(np.abs(forecast - counted).max()) < 0.25


def test_flies_of_one_age_lay_as_those_of_the_lean_feed() -> None:
    """Brewery grain: mean day 4.4, SD 1.3, over on day 8; flies of one age at 27 °C are as near as half a
    day."""
    first, shares = REPRO_SHARES["brewery grain"]
    collected = first + np.arange(len(shares))
    counted = float(np.average(collected, weights=shares))
    laid = laying_days(np.full(DAYS, 27.0), [1.0], FLY)[1.0][0]
    elapsed = np.arange(DAYS) + 0.5
    assert float(np.average(elapsed, weights=laid)) == pytest.approx(counted, abs=0.5)
    assert laid[2:7].sum() / laid.sum() > 0.85


@pytest.mark.parametrize(("warmth_c", "days"), [(25.0, 4.3), (30.0, 3.1)])
def test_the_lag_of_a_female_is_the_published_one(warmth_c: float, days: float) -> None:
    """First eggs after 4.3 d at 25 °C and 3.1 d at 30 °C (Kobelski et al. 2024); she comes out at midday."""
    laid = laying_days(np.full(DAYS, warmth_c), [1.0], FLY)[1.0][0]
    assert day_of_share(np.cumsum(laid) / laid.sum(), 0.5) - 0.5 == pytest.approx(days, abs=0.35)


def test_a_cool_week_delays_eggs_and_a_warm_one_hastens_them() -> None:
    halves = []
    for week_c in (18.0, 25.0, 30.0):
        warmth = np.full(DAYS, 25.0)
        warmth[:7] = week_c
        laid = laying_days(warmth, [1.0], FLY)[1.0][0]
        halves.append(day_of_share(np.cumsum(laid) / laid.sum(), 0.5))
    assert halves[0] > halves[1] + 2.0
    assert halves[2] < halves[1] - 0.5


@pytest.mark.parametrize(("warmth_c", "share"), [(20.0, 0.60), (22.0, 0.76), (28.6, 1.0), (35.0, 0.78)])
def test_fecundity_is_the_published_curve(warmth_c: float, share: float) -> None:
    assert float(fecundity(np.array([warmth_c]))[0]) == pytest.approx(share)


def test_cold_nights_beyond_the_curve_leave_a_little() -> None:
    assert float(fecundity(np.array([5.0]))[0]) == pytest.approx(0.1)


def test_unknown_days_are_as_the_last_and_coming_ones_as_the_week() -> None:
    grid = DayGrid(0, 10, 5)
    warmth = np.array([20.0, np.nan, 24.0, 26.0, 26.0, 26.0, 26.0, 26.0, 26.0, 26.0])
    filled = filled_warmth(warmth, grid)
    assert filled[1] == 20.0
    assert filled[10:] == pytest.approx(np.full(5, 26.0))
    assert filled_warmth(None, grid) == pytest.approx(np.full(15, 27.0))


def test_days_are_local() -> None:
    grid = day_grid(10 * MS_PER_DAY + 5, day_origin_ms=3_600_000, past=2, ahead=1)
    assert grid.first_ms == 7 * MS_PER_DAY + 3_600_000


def test_counted_flies_are_half_females_unless_someone_looked() -> None:
    grid = DayGrid(0, 10, 5)
    flies = [
        FliesPutIn(at_ms=2 * MS_PER_DAY, place="cage-1", count=1000.0),
        FliesPutIn(at_ms=2 * MS_PER_DAY + 5, place="cage-1", count=100.0, female_share=0.4),
        FliesPutIn(at_ms=3 * MS_PER_DAY, place="cage-2", count=7.0),
        FliesPutIn(at_ms=99 * MS_PER_DAY, place="cage-1", count=7.0),
    ]
    females = counted_females(flies, "cage-1", grid, FLY)
    assert females[2] == pytest.approx(540.0)
    assert females.sum() == pytest.approx(540.0)


def test_flies_of_a_cohort_come_as_its_courses_say() -> None:
    """The females of all days are its flies times their share, spread as in its emergence."""
    grid = day_grid(NOW_MS, 0, 40, 56)
    basis = known_level_basis(clocks_of(room=steady(27.0)))
    (course,) = courses_of([CohortCase(cohort(25.0, count=1000.0))], FLY, prior_posterior(FLY), basis)
    females = emerging_females([course], [], FLY, grid, 200)
    expected = 1000.0 * course.survival[:200] * np.asarray(course.spread.female_share)[:200]
    assert females.shape == (200, grid.days)
    # The last flies of a broad box come out beyond the days that are looked ahead to.
    assert float(females.sum()) == pytest.approx(float(expected.sum()), rel=0.01)
    assert (females.sum(axis=1) < expected * 1.001).all()
    flies = cage_flies("cage-1", Takings(), [course], FLY, grid)
    assert isinstance(flies, CageFlies) and flies.emerging.sum() > 0.0 and not flies.is_counted


def test_flies_that_were_counted_are_not_counted_again_as_they_come_out() -> None:
    grid = day_grid(NOW_MS, 0, 40, 56)
    basis = known_level_basis(clocks_of(room=steady(27.0)))
    (course,) = courses_of([CohortCase(cohort(25.0, count=1000.0))], FLY, prior_posterior(FLY), basis)
    all_flies = (emerging_females([course], [], FLY, grid, 200)).sum()

    def left(count: float) -> float:
        put_in = [FliesPutIn(at_ms=NOW_MS - MS_PER_DAY, place="cage-1", cohort="c", count=count)]
        females = emerging_females([course], put_in, FLY, grid, 200)
        assert not females[:, : grid.past].any()
        return float(females.sum() / all_flies)

    assert left(5000.0) == pytest.approx(0.0, abs=1e-9)
    assert 0.2 < left(300.0) < 0.8
