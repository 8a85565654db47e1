"""Forecasts: events, windows, curve, planned moves, widening, heat, and the same answer twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import (
    EGG_DD,
    FLY,
    LARVA_DD,
    NOW_MS,
    SURE_FLY,
    TO_FLY_DD,
    clocks_of,
    cohort,
    daily_wave,
    known_level_basis,
    steady,
    without,
)

from monitor.development.clocks import Clocks, PlaceClimate, StageClock, stage_clocks
from monitor.development.courses import CohortCase, courses_of, forecast_basis
from monitor.development.ensemble import ensemble_clock, future_draws, past_days
from monitor.development.events import Event, ended_stage, events_of
from monitor.development.forecast import CohortForecast, EventForecast, Heat, forecast_cohorts, quantiles
from monitor.development.posterior import FarmPosterior, prior_posterior
from monitor.development.progress import CohortTrack, Residence
from monitor.development.rates import DrivenBy
from monitor.development.temperature_series import TemperatureSeries
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage
from monitor.settings.species import load_species, species_parameters

PRIOR = prior_posterior(FLY)
SURE = replace(
    PRIOR,
    covariance=np.zeros((5, 5)),
    cohort_log_sd=0.0,
    spread_farm_log_sd=0.0,
    spread_between_log_sd=0.0,
)
ALL_EVENTS = list(Event)


def forecast(
    track: CohortTrack, clocks: Clocks, posterior: FarmPosterior = PRIOR, now_ms: int = NOW_MS, seed: int = 1
) -> CohortForecast:
    basis = forecast_basis(clocks, now_ms, seed=seed)
    return forecast_cohorts([CohortCase(track)], FLY, posterior, basis)[0]


def forecast_at_known_level(track: CohortTrack, clocks: Clocks) -> CohortForecast:
    """Of a farm and a start that are known for sure, and of coming weeks that will be like the last ones."""
    known = CohortCase(replace(track, start_sd_days=0.0))
    return forecast_cohorts([known], FLY, SURE, known_level_basis(clocks))[0]


def moved(track: CohortTrack, place: str) -> CohortTrack:
    """The same cohort, to be moved on day 70."""
    return replace(track, residences=(*track.residences, Residence(place, 70 * MS_PER_DAY)))


def event(found: CohortForecast, name: Event) -> EventForecast:
    wanted = found.event(name)
    assert wanted is not None
    return wanted


def width_days(found: CohortForecast, name: Event) -> float:
    wanted = event(found, name)
    return (wanted.high_ms - wanted.low_ms) / MS_PER_DAY


def test_a_sure_farm_in_a_steady_room_knows_the_day() -> None:
    """Nothing is drawn but equal days and equal constants: half emergence on day 40.7 of the cohort."""
    found = forecast_at_known_level(cohort(50.0), clocks_of(room=steady(27.0)))

    half = event(found, Event.HALF_EMERGED)
    assert (half.median_ms - 50 * MS_PER_DAY) / MS_PER_DAY == pytest.approx(TO_FLY_DD / 15.0, abs=1e-6)
    assert half.low_ms == half.high_ms
    assert (found.stage, found.used) == (Stage.LARVA, DrivenBy.SUBSTRATE)
    assert found.units_done == pytest.approx(150.0 - EGG_DD)
    assert found.progress == pytest.approx((150.0 - EGG_DD) / LARVA_DD)


def test_an_unsure_start_makes_the_first_event_as_unsure() -> None:
    """Everything is known but the day of laying, to 0.5 d: nine tenths of a normal lie below 1.2816."""
    unsure = replace(cohort(59.0), start_sd_days=0.5)
    basis = known_level_basis(clocks_of(room=steady(27.0)))

    found = forecast_cohorts([CohortCase(unsure)], FLY, SURE, basis)[0]

    assert width_days(found, Event.HATCH) == pytest.approx(2.0 * 1.2816 * 0.5, rel=0.05)
    assert width_days(found, Event.HALF_EMERGED) == pytest.approx(2.0 * 1.2816 * 0.5, rel=0.05)


def test_events_come_in_order_and_inside_their_windows() -> None:
    found = forecast(cohort(59.0), clocks_of(room=daily_wave(27.0, 4.0)))

    assert [entry.event for entry in found.events] == ALL_EVENTS
    assert all(entry.low_ms <= entry.median_ms <= entry.high_ms for entry in found.events)
    for first, half in (
        (Event.FIRST_PREPUPAE, Event.HALF_PREPUPAE),
        (Event.HALF_PREPUPAE, Event.HALF_MOTIONLESS),
        (Event.FIRST_EMERGED, Event.HALF_EMERGED),
        (Event.HALF_EMERGED, Event.MOST_EMERGED),
        (Event.FIRST_EMERGED, Event.FIRST_EGGS),
    ):
        assert event(found, first).median_ms < event(found, half).median_ms
    upcoming = found.next_event()
    assert upcoming is not None
    assert upcoming.event is Event.HATCH


def test_the_same_call_twice_gives_the_same_answer() -> None:
    clocks = clocks_of(room=daily_wave(27.0, 4.0))

    assert forecast(cohort(50.0), clocks) == forecast(cohort(50.0), clocks)
    assert forecast(cohort(50.0), clocks, seed=2) != forecast(cohort(50.0), clocks)


def test_company_does_not_change_a_forecast() -> None:
    """A cohort gets the same courses alone and among others."""
    basis = forecast_basis(clocks_of(room=daily_wave(27.0, 4.0)), NOW_MS)
    many = [CohortCase(cohort(20.0 + n, f"c{n}")) for n in range(40)]

    together = forecast_cohorts(many, FLY, PRIOR, basis)

    assert together[7] == forecast_cohorts([many[7]], FLY, PRIOR, basis)[0]


def test_planned_moves_are_followed() -> None:
    clocks = clocks_of(room=steady(27.0), cool=steady(22.0))
    staying = cohort(58.0)
    moving = moved(staying, "cool")

    stays, moves = forecast_at_known_level(staying, clocks), forecast_at_known_level(moving, clocks)

    earned = 12.0 * 15.0
    half = event(moves, Event.HALF_EMERGED).median_ms
    assert half / MS_PER_DAY == pytest.approx(70.0 + (TO_FLY_DD - earned) / 10.0, abs=1e-6)
    assert event(stays, Event.HATCH).median_ms == event(moves, Event.HATCH).median_ms


def test_a_move_to_a_place_without_readings_has_no_date() -> None:
    found = forecast(moved(cohort(58.0), "new box"), clocks_of(room=steady(27.0)))

    assert event(found, Event.HALF_EMERGED).median_ms == float("inf")
    assert event(found, Event.HATCH).median_ms < 64 * MS_PER_DAY
    assert found.emergence == ()


class TestFuture:
    """Whole past days, drawn again."""

    def clock(self, series: TemperatureSeries) -> StageClock:
        found = clocks_of(room=series).of("room", FLY.stages[0])
        assert found is not None
        return found

    def test_recent_days_weigh_more(self) -> None:
        _, weights = past_days(self.clock(steady(27.0)), NOW_MS)

        assert len(weights) == 60
        assert weights[5] == pytest.approx(weights[0] / 2.0)

    def test_mostly_estimated_days_are_not_drawn(self) -> None:
        whole, _ = past_days(self.clock(daily_wave(27.0, 4.0)), NOW_MS)
        holed, _ = past_days(self.clock(without(daily_wave(27.0, 4.0), 40.0, 41.9)), NOW_MS)

        assert len(whole) - len(holed) == 2

    def test_time_and_units_undo_each_other_in_every_course(self) -> None:
        random = np.random.default_rng(5)
        clock = ensemble_clock(self.clock(daily_wave(26.0, 6.0)), future_draws(1, 300), NOW_MS)
        courses = np.arange(300)
        for days in (-20.0, -0.01, 0.01, 3.3, 59.9, 61.0, 200.0):
            times = NOW_MS + (days + random.random(300) * 0.01) * MS_PER_DAY
            back = clock.time_at(clock.units_at(times, courses), courses)
            assert np.abs(back - times).max() < 1.0

    def test_a_warm_week_makes_a_warm_future(self) -> None:
        times = daily_wave(22.0, 0.0).times_ms
        warmer = replace(daily_wave(22.0, 0.0), temperatures_c=np.where(times < 53 * MS_PER_DAY, 22.0, 28.0))

        track = cohort(59.0)
        found = forecast(track, clocks_of(room=warmer), SURE)

        days = (event(found, Event.HALF_EMERGED).median_ms - track.start_ms) / MS_PER_DAY
        assert TO_FLY_DD / 16.0 < days < TO_FLY_DD / 13.0

    def test_with_two_past_days_a_widened_flat_mean(self) -> None:
        now_ms = 2 * MS_PER_DAY + MS_PER_HOUR
        short = clocks_of(room=steady(27.0, days=now_ms / MS_PER_DAY))

        found = forecast(cohort(1.0), short, SURE, now_ms)

        assert event(found, Event.HALF_EMERGED).median_ms / MS_PER_DAY == pytest.approx(
            1.0 + TO_FLY_DD / 15.0, abs=1.0
        )
        assert 10.0 < width_days(found, Event.HALF_EMERGED) < 20.0

    def test_a_place_too_cold_has_no_dates(self) -> None:
        found = forecast(cohort(58.0), clocks_of(room=steady(8.0)))

        assert all(entry.median_ms == float("inf") for entry in found.events)
        assert found.next_event() is not None


class TestWidening:
    """What the sensors do not tell makes windows wider."""

    def test_without_a_probe(self) -> None:
        with_probe = clocks_of(room=steady(27.0))
        blind = stage_clocks([PlaceClimate("room", air=steady(27.0))], [FLY])

        narrow, wide = forecast(cohort(59.0), with_probe), forecast(cohort(59.0), blind)

        assert (narrow.without_probe, wide.without_probe) == (False, True)
        assert wide.used is DrivenBy.AIR
        assert width_days(wide, Event.HALF_EMERGED) > 1.1 * width_days(narrow, Event.HALF_EMERGED)
        assert width_days(wide, Event.HATCH) == pytest.approx(width_days(narrow, Event.HATCH))

    def test_estimated_hours(self) -> None:
        whole = forecast(cohort(50.0), clocks_of(room=daily_wave(27.0, 4.0)))
        holed = forecast(cohort(50.0), clocks_of(room=without(daily_wave(27.0, 4.0), 52.0, 53.9)))

        assert holed.estimated_hours == pytest.approx(45.5, abs=0.6)
        assert width_days(holed, Event.HALF_PREPUPAE) > width_days(whole, Event.HALF_PREPUPAE)

    def test_unknown_temperature_gives_no_date(self) -> None:
        found = forecast(cohort(45.0), clocks_of(room=without(daily_wave(27.0, 4.0), 50.0, 53.0)))

        assert found.unknown_since_ms == 50 * MS_PER_DAY
        assert (found.events, found.emergence) == ((), ())


@pytest.mark.parametrize(("days", "heat"), [(0.0, Heat.NONE), (0.5, Heat.WARNING), (2.0, Heat.MAY_FAIL)])
def test_heat_damage(days: float, heat: Heat) -> None:
    series = steady(27.0)
    hot = (series.times_ms > 55 * MS_PER_DAY) & (series.times_ms < (55 + days) * MS_PER_DAY)
    warm = replace(series, temperatures_c=np.where(hot, 37.0, 27.0))

    assert forecast(cohort(45.0), clocks_of(room=warm)).heat is heat


class TestCurve:
    """Share a day with its band; flies where the number is known."""

    def test_shares_add_up(self) -> None:
        found = forecast(cohort(40.0), clocks_of(room=daily_wave(27.0, 4.0)))

        assert sum(day.share for day in found.emergence) == pytest.approx(1.0, abs=0.03)
        assert all(day.share_low <= day.share <= day.share_high + 1e-9 for day in found.emergence)
        assert found.emergence[0].flies is None

    def test_days_follow_the_farms_midnight(self) -> None:
        clocks, midnight = clocks_of(room=daily_wave(27.0, 4.0)), 22 * MS_PER_HOUR
        basis = forecast_basis(clocks, NOW_MS, day_origin_ms=midnight)

        found = forecast_cohorts([CohortCase(cohort(40.0))], FLY, PRIOR, basis)[0]

        assert {day.day_start_ms % MS_PER_DAY for day in found.emergence} == {midnight}

    def test_flies_follow_the_count_and_what_survives(self) -> None:
        track = replace(cohort(40.0, count=1000.0), count_stage=Stage.PUPA)
        found = forecast(track, clocks_of(room=daily_wave(27.0, 4.0)))
        flies = sum(day.flies or 0.0 for day in found.emergence)

        # Days at the ends of the curve on which hardly any come out are left off.
        shown = sum(day.share for day in found.emergence)
        assert shown > 0.95
        assert flies == pytest.approx(shown * 1000.0 * (0.65 + 0.91) / 2.0, rel=0.03)

    def test_a_sure_curve_is_narrow(self) -> None:
        basis = known_level_basis(clocks_of(room=steady(27.0)))
        track = replace(cohort(40.0), start_sd_days=0.0)
        found = forecast_cohorts([CohortCase(track)], SURE_FLY, SURE, basis)[0]
        peak = max(found.emergence, key=lambda day: day.share)

        assert peak.share_high - peak.share_low < 1e-6
        assert (
            abs(peak.day_start_ms + MS_PER_DAY / 2 - event(found, Event.HALF_EMERGED).median_ms)
            < 2 * MS_PER_DAY
        )


def test_a_cohort_of_adults_has_only_eggs_to_come() -> None:
    track = replace(cohort(59.0), start_stage=Stage.ADULT, age_days=40.0)

    found = forecast(track, clocks_of(room=steady(27.0)))

    assert [entry.event for entry in found.events] == [Event.FIRST_EGGS]
    assert found.emergence == ()


def test_a_cricket_has_its_own_events() -> None:
    cricket = species_parameters(load_species("two_spotted_cricket"))
    names = [Event.HATCH, Event.FIRST_EMERGED, Event.HALF_EMERGED, Event.MOST_EMERGED, Event.FIRST_EGGS]
    basis = forecast_basis(clocks_of(cricket, room=steady(30.0)), NOW_MS)

    found = forecast_cohorts([CohortCase(cohort(55.0))], cricket, prior_posterior(cricket), basis)[0]

    assert list(events_of(cricket)) == names
    assert [entry.event for entry in found.events] == names
    assert ended_stage(Event.HALF_PREPUPAE, cricket) is None


def test_common_weather_binds_cohorts_together() -> None:
    """Courses of two cohorts of one farm go up and down together; that is what makes a sum of them honest."""
    basis = forecast_basis(clocks_of(room=daily_wave(27.0, 4.0)), NOW_MS)
    one, other = courses_of([CohortCase(cohort(58.0, "a")), CohortCase(cohort(59.0, "b"))], FLY, PRIOR, basis)

    pupa = FLY.index_of(Stage.PUPA)
    assert np.corrcoef(one.ends_ms[pupa], other.ends_ms[pupa])[0, 1] > 0.5


def test_quantiles_stand_infinite_values() -> None:
    values = np.array([1.0, 2.0, 3.0, np.inf, np.inf])

    assert quantiles(values, (0.0, 0.5, 0.9)) == (1.0, 3.0, np.inf)


def test_own_cohorts_are_those_of_the_least_known_stage_before_emergence() -> None:
    taught = replace(PRIOR, cohorts=(6, 2, 3, 4, 0))
    clocks = clocks_of(room=steady(27.0))

    assert forecast(cohort(59.0), clocks, taught).cohorts == 2
    assert forecast(cohort(30.0), clocks, taught).cohorts == 3
    assert forecast(cohort(10.0), clocks, taught).cohorts == 0
