"""Living flies in a cage, gaps, and the latest day to do something about them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import (
    EGG_DD,
    FIRST_EGGS_DD,
    FLY,
    NOW_MS,
    PREPUPA_DD,
    PUPA_DD,
    TO_FLY_DD,
    clocks_of,
    cohort,
    daily_wave,
    known_level_basis,
    steady,
)

from monitor.development.courses import CohortCase, ForecastBasis, courses_of, forecast_basis
from monitor.development.events import Event
from monitor.development.forecast import forecast_cohorts
from monitor.development.posterior import FarmPosterior, prior_posterior
from monitor.development.supply import CageSupply, cage_supply, hold_back, latest_starts, living_share
from monitor.records import MS_PER_DAY, Stage

PRIOR = prior_posterior(FLY)
SURE = replace(PRIOR, covariance=np.zeros((5, 5)), cohort_log_sd=0.0)
PUPAE = replace(cohort(0.0), start_stage=Stage.PUPA, count_stage=Stage.PUPA, age_days=30.0)
ROUTE = dict.fromkeys(Stage, "room")


def basis_of(temperature_c: float = 27.0) -> ForecastBasis:
    return known_level_basis(clocks_of(room=steady(temperature_c)))


def supply(
    starts: list[int], count: float | None = 1000.0, posterior: FarmPosterior = SURE, least: float = 100.0
) -> CageSupply:
    """Cage fed by cohorts of pupae that became motionless on some days; they emerge nine days later."""
    basis = basis_of()
    tracks = [replace(PUPAE, cohort=f"c{day}", start_ms=day * MS_PER_DAY, count=count) for day in starts]
    courses = courses_of([CohortCase(track) for track in tracks], FLY, posterior, basis)
    return cage_supply("cage", courses, FLY, posterior, basis, least)


def test_life_ends_around_its_mean() -> None:
    ages = np.arange(-2.0, 60.0, 0.01)
    shares = living_share(ages, 9.0, 0.3)

    assert (shares[ages < 0.0] == 0.0).all()
    assert shares[ages >= 0.0].sum() * 0.01 == pytest.approx(9.0, abs=0.05)
    assert (np.diff(shares[ages >= 0.0]) <= 0.0).all()


def test_flies_come_live_and_die() -> None:
    found = supply([59])
    living = [day.living for day in found.days]

    assert len(found.days) == 30
    assert found.days[0].day_start_ms == NOW_MS
    assert living[0] < 50.0
    assert max(living) == max(living[8:16])
    assert max(living) < 780.0
    assert living[-1] < 50.0


def test_flies_that_came_out_before_now_are_counted() -> None:
    found = supply([47])

    assert found.days[0].living > 200.0
    assert found.days[-1].living < 1.0


def test_two_cohorts_are_the_sum_of_each() -> None:
    both, one, other = supply([55, 60]), supply([55]), supply([60])

    for day, first, second in zip(both.days, one.days, other.days, strict=True):
        assert day.living == pytest.approx(first.living + second.living)


def test_bands_hold_the_mean_and_widen_with_doubt() -> None:
    sure, unsure = supply([59]), supply([59], posterior=PRIOR)
    peak = max(range(30), key=lambda i: unsure.days[i].living)

    assert all(day.low <= day.living <= day.high for day in unsure.days[8:18])
    assert unsure.days[peak].high - unsure.days[peak].low > sure.days[peak].high - sure.days[peak].low


def test_gap_and_short_days() -> None:
    found = supply([47], least=100.0)

    gap = found.gap
    assert gap is not None
    assert gap == found.short_days[0]
    assert found.days[0].living > 100.0
    assert all(day.living < 100.0 for day in found.short_days)


def test_a_cage_that_stays_full_has_no_gap() -> None:
    found = supply([45 + 3 * n for n in range(15)], least=50.0)

    assert found.gap is None
    assert found.short_days == ()


def test_a_cohort_without_a_count_is_named_not_guessed() -> None:
    found = supply([59], count=None)

    assert found.uncounted == ("c59",)
    assert all(day.living == 0.0 for day in found.days)


def test_eggs_follow_the_females_by_the_days_to_laying() -> None:
    found = supply([59])
    most_eggs = max(found.days, key=lambda day: day.eggs)
    total = sum(day.eggs for day in found.days)

    assert most_eggs.day_start_ms / MS_PER_DAY == pytest.approx(
        59.0 + (PUPA_DD + FIRST_EGGS_DD) / 15.0, abs=2.0
    )
    assert total == pytest.approx(780.0 * 0.575 * 610.0, rel=0.1)


def test_latest_starts_of_a_sure_farm() -> None:
    """At 27 °C a stage needs a fifteenth of its degree-days."""
    gap_ms = NOW_MS + 50.0 * MS_PER_DAY

    found = latest_starts(gap_ms, 500.0, ROUTE, FLY, SURE, basis_of())

    days = {option.stage: (gap_ms - option.even_ms) / MS_PER_DAY for option in found}
    assert days == {
        Stage.EGG: pytest.approx(TO_FLY_DD / 15.0),
        Stage.LARVA: pytest.approx((TO_FLY_DD - EGG_DD) / 15.0),
        Stage.PREPUPA: pytest.approx((PREPUPA_DD + PUPA_DD) / 15.0),
        Stage.PUPA: pytest.approx(PUPA_DD / 15.0),
    }
    animals = [option.animals for option in found]
    assert animals == sorted(animals, reverse=True)
    assert animals[-1] > 500.0 / 0.78


def test_an_unsure_farm_must_start_earlier() -> None:
    gap_ms = NOW_MS + 50.0 * MS_PER_DAY

    found = latest_starts(gap_ms, 500.0, ROUTE, FLY, PRIOR, basis_of())

    assert all(option.safe_ms < option.even_ms for option in found)


def test_hold_back_a_cohort_whose_flies_would_fill_the_gap() -> None:
    basis = forecast_basis(clocks_of(room=daily_wave(27.0, 3.0)), NOW_MS)
    cases = [CohortCase(cohort(day, f"c{day:g}")) for day in (35.0, 50.0, 58.0)]
    forecasts = forecast_cohorts(cases, FLY, SURE, basis)
    half = forecasts[1].event(Event.HALF_EMERGED)
    assert half is not None

    found = hold_back(half.median_ms + 2 * MS_PER_DAY, forecasts, FLY)

    assert [option.cohort for option in found] == ["c50"]
    leaving = forecasts[1].event(Event.FIRST_PREPUPAE)
    assert leaving is not None
    assert found[0].latest_ms == leaving.low_ms


def test_it_is_too_late_for_a_cohort_that_has_left() -> None:
    basis = forecast_basis(clocks_of(room=daily_wave(27.0, 3.0)), NOW_MS)
    forecasts = forecast_cohorts([CohortCase(cohort(30.0))], FLY, SURE, basis)
    half = forecasts[0].event(Event.HALF_EMERGED)
    assert half is not None

    assert hold_back(half.median_ms + MS_PER_DAY, forecasts, FLY) == ()
