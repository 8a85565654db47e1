"""A stage that may have come with a few per cent chance is guarded; one that cannot have come yet is not.

The truth comes from elsewhere: flies of a box by open counts, farms with constants and houses of their own.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import FLY, NOW_MS, clocks_of, cohort, steady, without
from weather_farm import (
    NOW_DAY,
    SEED,
    WEATHERS,
    Farm,
    cohort_constants,
    simulate_farm,
    true_times,
    until,
)

from monitor.development.clocks import Clocks, PlaceClimate, stage_clocks
from monitor.development.courses import CohortCase, forecast_basis
from monitor.development.events import Event, Observation
from monitor.development.forecast import CohortForecast, first_flies_ms, forecast_cohorts, possible_stages
from monitor.development.posterior import FarmPosterior, prior_posterior
from monitor.development.progress import Cohort, CohortTrack, Origin, Residence
from monitor.records import MS_PER_DAY, Stage
from monitor.settings.species import load_species, species_parameters

PRIOR = prior_posterior(FLY)
SURE = replace(PRIOR, covariance=np.zeros((5, 5)), cohort_log_sd=0.0)
"""Of a farm whose half emergence is known; what differs between boxes is not."""
DRAWS = 100
"""As many as the guard looks at."""
FIRST_OF_59_DAYS, BETWEEN_BOXES_DAYS = 4.0, 1.8
"""Before half emergence: open counts of 48 boxes (ReproLab, common garden)."""
FIRST_OF_10_000_DAYS = FIRST_OF_59_DAYS * 3.7 / 2.1
"""The first of 59 is 2.1 standard deviations of a normal early, the first of ten thousand 3.7."""
TRUE_FIRST = {Stage.PREPUPA: Event.FIRST_PREPUPAE, Stage.PUPA: Event.FIRST_MOTIONLESS}


def forecast(
    track: CohortTrack, clocks: Clocks, posterior: FarmPosterior = PRIOR, draws: int = DRAWS
) -> CohortForecast:
    basis = forecast_basis(clocks, NOW_MS, draws=draws)
    return forecast_cohorts([CohortCase(track)], FLY, posterior, basis)[0]


def alive(track: CohortTrack, seen: tuple[Observation, ...] = ()) -> Cohort:
    return Cohort(track.cohort, track, Origin.LAID, seen=seen)


def earliest(found: CohortForecast) -> dict[Stage, float]:
    return {start.stage: start.earliest_ms for start in found.starts}


def test_the_first_fly_of_ten_thousand_is_guarded_in_nearly_every_box() -> None:
    """The window of the first that are noticed, by which it was guarded, misses one box in three."""
    found = forecast(cohort(58.0), clocks_of(room=steady(28.0)), SURE)
    half, noticed = found.event(Event.HALF_EMERGED), found.event(Event.FIRST_EMERGED)
    assert half is not None
    assert noticed is not None
    boxes = np.random.default_rng(59).normal(FIRST_OF_10_000_DAYS, BETWEEN_BOXES_DAYS, 1000)
    first_ms = half.median_ms - boxes * MS_PER_DAY

    unguarded = [
        float(np.mean([Stage.ADULT not in possible_stages(alive(cohort(58.0)), each, at) for at in first_ms]))
        for each in (found, replace(found, starts=()))
    ]

    assert unguarded[0] < 0.05
    assert unguarded[1] > 0.15


def test_a_cage_may_hold_flies_before_the_first_are_noticed() -> None:
    found = forecast(cohort(58.0), clocks_of(room=steady(28.0)))
    noticed = found.event(Event.FIRST_EMERGED)
    assert noticed is not None
    at_ms = round(earliest(found)[Stage.ADULT])

    assert at_ms < noticed.low_ms
    assert first_flies_ms(found, at_ms - 1) is None
    assert first_flies_ms(found, at_ms + 1) == at_ms
    assert first_flies_ms(found, round(noticed.low_ms) + 1) == int(noticed.low_ms)


def true_starts(farm: Farm, track: CohortTrack, generator: np.random.Generator) -> dict[Stage, float]:
    times = true_times(farm, track, FLY, cohort_constants(farm, FLY, generator), generator)
    # A truth of the first of ten thousand; that of a box of 59 is a later one.
    earlier_days = FIRST_OF_10_000_DAYS - FIRST_OF_59_DAYS
    flies_ms = times[Event.FIRST_EMERGED] - earlier_days * MS_PER_DAY
    return {stage: times[event] for stage, event in TRUE_FIRST.items()} | {Stage.ADULT: flies_ms}


@pytest.mark.parametrize("weather", ["autocorrelation 0.5", "Seattle"])
def test_hardly_a_stage_has_come_that_is_not_guarded(weather: str) -> None:
    """Of farms of which nothing is known and cohorts of one to three weeks: of each stage not one in twenty.

    Windows of the first that are noticed miss one in ten first prepupae and pupae, one in five first flies.
    """
    missed = dict.fromkeys((*TRUE_FIRST, Stage.ADULT), 0)
    farms, now_ms = 60, NOW_DAY * MS_PER_DAY
    for number in range(farms):
        farm, generator = simulate_farm(FLY, WEATHERS[weather], number)
        start_ms = now_ms - round(generator.uniform(8.0, 20.0) * MS_PER_DAY)
        track = CohortTrack("new", start_ms, (Residence("room", start_ms),), start_sd_days=0.25)
        climate = PlaceClimate("room", until(farm.air, now_ms), until(farm.substrate, now_ms))
        basis = forecast_basis(stage_clocks([climate], [FLY]), now_ms, seed=SEED + number, draws=DRAWS)
        found = forecast_cohorts([CohortCase(track)], FLY, PRIOR, basis)[0]
        for stage, at_ms in true_starts(farm, track, generator).items():
            missed[stage] += at_ms < earliest(found)[stage]

    assert all(count <= farms / 20 for count in missed.values()), missed


def test_a_bin_that_feeds_has_no_prepupae_from_its_first_day() -> None:
    """Their limits are lower, and a bin that feeds is hot: who is warned of nothing stops looking."""
    track, clocks = cohort(58.0), clocks_of(room=steady(28.0))

    found = forecast(track, clocks)

    for day in (6.0, 8.0, 9.5):
        at_ms = round((58.0 + day) * MS_PER_DAY)
        assert possible_stages(alive(track), found, at_ms) <= {Stage.EGG, Stage.LARVA}, day
    assert Stage.PREPUPA in possible_stages(alive(track), found, round(74.0 * MS_PER_DAY))


def test_the_less_is_known_of_the_temperature_the_earlier_a_stage_is_guarded() -> None:
    room = steady(28.0)
    sure, gap, blind = (
        earliest(forecast(cohort(50.0), stage_clocks([place], [FLY]), draws=2000))
        for place in (
            PlaceClimate("room", room, room),
            PlaceClimate("room", *[without(room, 51.0, 53.0)] * 2),
            PlaceClimate("room", room, None),
        )
    )

    assert gap[Stage.PREPUPA] < sure[Stage.PREPUPA]
    for stage in (Stage.PREPUPA, Stage.PUPA, Stage.ADULT):
        assert blind[stage] < sure[stage], stage


def test_where_the_temperature_is_not_known_no_stage_is_ruled_out() -> None:
    track = cohort(50.0)
    nothing = stage_clocks([PlaceClimate("room", None, None)], [FLY])

    found = forecast(track, nothing)

    assert found.unknown_since_ms is not None
    assert possible_stages(alive(track), found, NOW_MS) == frozenset()


def test_a_start_stage_and_what_was_seen_are_guarded_whatever_the_forecast_says() -> None:
    track, clocks = cohort(58.0), clocks_of(room=steady(28.0))
    found, seen = forecast(track, clocks), Observation(Event.FIRST_PREPUPAE, NOW_MS)

    assert Stage.EGG in possible_stages(alive(track), found, NOW_MS)
    assert Stage.PREPUPA in possible_stages(alive(track, (seen,)), found, NOW_MS)


def test_other_species_have_their_own_stages() -> None:
    mealworm = species_parameters(load_species("mealworm"))
    track, clocks = cohort(50.0), clocks_of(mealworm, room=steady(27.0))
    basis = forecast_basis(clocks, NOW_MS, draws=DRAWS)

    found = forecast_cohorts([CohortCase(track)], mealworm, prior_posterior(mealworm), basis)[0]

    assert [start.stage for start in found.starts] == [each.stage for each in mealworm.stages[1:]]
    times = [start.earliest_ms for start in found.starts]
    assert times == sorted(times)


def test_no_forecast_alone_says_that_there_are_no_eggs() -> None:
    """Eggs of which no hatch was noted stay guarded as eggs until a person has moved them on."""
    track = cohort(50.0)
    moved = replace(track, residences=(*track.residences, Residence("bin", round(55.0 * MS_PER_DAY))))
    found = forecast(track, clocks_of(room=steady(28.0), bin=steady(28.0)))

    assert Stage.EGG in possible_stages(alive(track), found, NOW_MS)
    assert Stage.EGG not in possible_stages(alive(moved), found, NOW_MS)
    assert Stage.EGG in possible_stages(alive(moved), found, round(54.0 * MS_PER_DAY))
