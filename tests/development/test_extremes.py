"""Great heat and cold: development falls and stands, heat kills by dose, larvae flee, cold has no date."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from development_builders import (
    EGG_DD,
    FLY,
    LARVA_DD,
    NOW_MS,
    clocks_of,
    cohort,
    steady,
)
from hypothesis import given
from hypothesis import strategies as st

from monitor.climate.arrays import FloatArray
from monitor.development.clocks import Clocks, PlaceClimate, stage_clocks
from monitor.development.courses import CohortCase, forecast_basis
from monitor.development.degree_days import Cutoff, degree_days_of_steps, effective_excess_c
from monitor.development.events import Event
from monitor.development.forecast import Cause, CohortForecast, Heat, Standstill, forecast_cohorts
from monitor.development.posterior import prior_posterior
from monitor.development.progress import CohortTrack, Residence
from monitor.development.rates import (
    Logan10Shape,
    RateLaw,
    ThermalDeath,
    halvings_of_steps,
    halvings_per_day,
    logan10_rate,
    units_per_day,
)
from monitor.development.temperature_series import TemperatureSeries, series_of
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, Stage
from monitor.settings.species import load_species, species_parameters

PRIOR = prior_posterior(FLY)
FALL = (35.5, 39.8)
LARVA = FLY.stages[1]
DEATH = FLY.death or ThermalDeath(35.0, 36.0, 72.0, 4.3)


def forecast(track: CohortTrack, clocks: Clocks, now_ms: int = NOW_MS, draws: int = 400) -> CohortForecast:
    basis = forecast_basis(clocks, now_ms, draws=draws)
    return forecast_cohorts([CohortCase(track)], FLY, PRIOR, basis)[0]


def hours_to_half(temperature_c: float) -> float:
    per_day = float(halvings_per_day(temperature_c, DEATH))
    return 24.0 / per_day if per_day > 0.0 else float("inf")


def pupae(days_ago: float) -> CohortTrack:
    start_ms = NOW_MS - round(days_ago * MS_PER_DAY)
    return CohortTrack("p", start_ms, (Residence("room", start_ms),), Stage.PUPA, count=1000.0)


def median_days(found: CohortForecast, event: Event) -> float:
    forecast_of = found.event(event)
    assert forecast_of is not None
    return (forecast_of.median_ms - NOW_MS) / MS_PER_DAY


def flies(found: CohortForecast) -> float:
    return sum(day.flies or 0.0 for day in found.emergence)


class TestFallingRate:
    """The line keeps its height to where it begins to fall and is zero from its maximum on."""

    @pytest.mark.parametrize(
        ("temperature_c", "excess_c"), [(35.0, 20.0), (35.5, 20.0), (37.65, 10.0), (39.8, 0.0), (45.0, 0.0)]
    )
    def test_height(self, temperature_c: float, excess_c: float) -> None:
        found = effective_excess_c(temperature_c, 12.0, 32.0, Cutoff.HORIZONTAL, FALL)

        assert float(found) == pytest.approx(excess_c)

    @given(pair=st.tuples(st.floats(5.0, 50.0), st.floats(5.0, 50.0)))
    def test_a_step_is_integrated_exactly(self, pair: tuple[float, float]) -> None:
        values = pair[0] + (pair[1] - pair[0]) * (np.arange(20_000) + 0.5) / 20_000
        dense = effective_excess_c(values, 12.0, 32.0, Cutoff.HORIZONTAL, FALL).mean()

        found = degree_days_of_steps(
            np.array([0, MS_PER_DAY]), np.array(pair), 12.0, 32.0, Cutoff.HORIZONTAL, FALL
        )

        assert float(found[0]) == pytest.approx(float(dense), abs=2e-3)

    def test_it_is_the_line_nearest_to_the_published_curve(self) -> None:
        """Logan-10 fit of Padmanabha et al. 2020, Table 3, as a share of its peak at 31 °C."""
        fall = LARVA.law.fall
        assert fall is not None
        temperatures = np.linspace(32.0, 39.769, 2000)
        curve = logan10_rate(temperatures, Logan10Shape()) / logan10_rate(31.0, Logan10Shape())

        def off(start_c: float) -> FloatArray:
            line = np.clip((fall[1] - temperatures) / (fall[1] - start_c), 0.0, 1.0)
            return np.asarray(line - curve)

        best = min(np.arange(32.5, 39.0, 0.05).tolist(), key=lambda start: float((off(start) ** 2).mean()))
        assert fall[0] == pytest.approx(best, abs=0.06)
        assert np.abs(off(fall[0])).max() < 0.16

    def test_a_species_that_states_no_fall_stays_as_it_is(self) -> None:
        mealworm = species_parameters(load_species("mealworm"))

        assert [stage.law.fall for stage in mealworm.stages] == [None] * 4
        assert mealworm.death is None
        assert float(units_per_day(45.0, mealworm.stages[1].law)) == 24.0

    def test_an_upper_threshold_of_the_farm_moves_the_fall(self) -> None:
        """Settings of the release before may hold an upper threshold above the default's fall."""
        assert replace(LARVA.law, upper_threshold_c=37.0).fall == (37.0, 39.8)
        assert replace(LARVA.law, upper_threshold_c=41.0).fall is None
        assert replace(LARVA.law, upper_threshold_c=None).fall is None

    def test_a_fall_that_does_not_fall_is_refused(self) -> None:
        with pytest.raises(UsageError, match="falls_from_c is 40 and must lie below maximum_c"):
            RateLaw(12.0, 32.0, falls_from_c=40.0, maximum_c=39.0)
        with pytest.raises(UsageError, match="the two must rise, from the upper threshold 32"):
            degree_days_of_steps(
                np.array([0, 1]), np.array([1.0, 2.0]), 12.0, 32.0, Cutoff.HORIZONTAL, (31.0, 39.0)
            )
        with pytest.raises(UsageError, match="needs an upper threshold and the horizontal cutoff"):
            degree_days_of_steps(
                np.array([0, 1]), np.array([1.0, 2.0]), 12.0, 32.0, Cutoff.VERTICAL, (35.0, 39.0)
            )


class TestThermalDeath:
    """Half of the animals die in 72 h at 36 °C, ten times faster for each 4.3 °C."""

    @pytest.mark.parametrize(("temperature_c", "hours"), [(36.0, 72.0), (40.3, 7.2), (44.6, 0.72)])
    def test_hours_to_half(self, temperature_c: float, hours: float) -> None:
        assert hours_to_half(temperature_c) == pytest.approx(hours)

    def test_nothing_is_counted_up_to_the_limit(self) -> None:
        assert hours_to_half(35.0) == float("inf")

    @given(pair=st.tuples(st.floats(20.0, 50.0), st.floats(20.0, 50.0)))
    def test_a_step_is_integrated_exactly(self, pair: tuple[float, float]) -> None:
        values = pair[0] + (pair[1] - pair[0]) * (np.arange(40_000) + 0.5) / 40_000

        found = halvings_of_steps(np.array([0, MS_PER_DAY]), np.array(pair), DEATH)

        assert float(found[0]) == pytest.approx(
            float(halvings_per_day(values, DEATH).mean()), rel=2e-3, abs=1e-4
        )

    def test_published_survival_at_a_constant_36_degrees(self) -> None:
        """0.1 % of 4-6 d old larvae to adult: Tomberlin, Adler & Myers 2009, abstract.

        Agreement: within the band; the dose is known to a factor of two.
        """
        young = CohortTrack(
            "c", NOW_MS, (Residence("room", NOW_MS),), Stage.LARVA, start_progress=0.25, count=1000.0
        )

        found = forecast(young, clocks_of(room=steady(36.0)))

        assert found.harm is not None
        assert found.harm.low <= 0.001 <= found.harm.high
        assert found.harm.lives < 0.02

    @pytest.mark.parametrize("temperature_c", [27.0, 30.0])
    def test_no_damage_at_27_and_30_degrees(self, temperature_c: float) -> None:
        """74-97 % to adult in the same abstract: nothing of it by heat."""
        found = forecast(cohort(55.0), clocks_of(room=steady(temperature_c)))

        assert (found.harm, found.heat) == (None, Heat.NONE)

    def test_knockdown_comes_within_half_an_hour(self) -> None:
        """Mean knockdown 46.6-47.9 °C: Li et al., Insect Science, 10.1111/1744-7917.13429, abstract."""
        assert 0.02 < hours_to_half(47.9) < hours_to_half(46.6) < 0.5

    def test_numbers_that_make_no_curve_are_refused(self) -> None:
        with pytest.raises(UsageError, match="must be above 0"):
            ThermalDeath(35.0, 36.0, 0.0, 4.3)


def test_four_heats_give_four_answers() -> None:
    """All four gave first prepupae in 4.4 d, half emergence in 16.4 d and 446 flies before."""
    found = {t: forecast(pupae(1.0), clocks_of(room=steady(t))) for t in (35.0, 36.0, 38.0, 41.0, 45.0)}

    days = {t: median_days(each, Event.HALF_EMERGED) for t, each in found.items()}
    assert days[35.0] < days[36.0] < days[38.0] < days[41.0] == days[45.0] == float("inf")
    numbers = {t: flies(each) for t, each in found.items()}
    assert numbers[35.0] > 700.0 > numbers[36.0] > 4.0 * numbers[38.0] > 0.0 == numbers[41.0]
    assert [found[t].heat for t in (35.0, 36.0, 41.0, 45.0)] == [
        Heat.NONE,
        Heat.MAY_FAIL,
        Heat.NONE_LIVE,
        Heat.NONE_LIVE,
    ]
    halves = [each.harm.half_in_hours if each.harm else float("inf") for each in found.values()]
    assert halves == sorted(halves, reverse=True) and len(set(halves)) == 5
    assert found[41.0].standstill == Standstill(Stage.PUPA, Cause.HEAT, 70.0)


class TestLarvaeOfABin:
    """They move; the spot of the probe is not the bin."""

    def bin(self, probe_c: float, air_c: float | None, refuge_c: float | None = None) -> Clocks:
        air, refuge = (None if each is None else steady(each) for each in (air_c, refuge_c))
        return stage_clocks([PlaceClimate("room", air, steady(probe_c), refuge)], [FLY])

    @staticmethod
    def larvae() -> CohortTrack:
        return replace(cohort(54.0), start_stage=Stage.LARVA, count=1000.0)

    @pytest.mark.parametrize("refuge", [(28.5, None), (None, 28.5)])
    def test_they_grow_on_beside_a_spot_of_43_degrees(
        self, refuge: tuple[float | None, float | None]
    ) -> None:
        """Nine bins: 24-56 h above 40 °C at the logger, room 28-29 °C: Alciatore et al. 2024."""
        hot = forecast(self.larvae(), self.bin(43.0, *refuge))
        warm = forecast(self.larvae(), self.bin(34.0, 28.5))

        assert (hot.stage, hot.heat_hours) == (Stage.LARVA, 0.0)
        assert hot.progress == pytest.approx(warm.progress)
        assert median_days(hot, Event.HALF_PREPUPAE) == pytest.approx(
            median_days(warm, Event.HALF_PREPUPAE), abs=0.2
        )

    def test_which_temperature_they_choose_is_unsure(self) -> None:
        def width(found: CohortForecast) -> float:
            event = found.event(Event.HALF_PREPUPAE)
            assert event is not None
            return event.high_ms - event.low_ms

        hot, warm = (
            forecast(self.larvae(), self.bin(43.0, 28.5)),
            forecast(self.larvae(), self.bin(34.0, 28.5)),
        )
        assert 1.03 * width(warm) < width(hot) < 1.5 * width(warm)

    @pytest.mark.parametrize("temperature_c", [41.0, 45.0])
    def test_where_the_air_is_as_hot_nothing_is_left(self, temperature_c: float) -> None:
        found = forecast(self.larvae(), self.bin(temperature_c, temperature_c))

        assert found.heat is Heat.NONE_LIVE
        assert found.standstill is not None and found.standstill.cause is Cause.HEAT
        assert found.emergence == ()

    def test_where_nothing_is_known_around_the_probe_it_counts(self) -> None:
        assert forecast(self.larvae(), self.bin(41.0, None)).standstill is not None

    def test_the_heat_of_feeding_does_not_last_for_the_stages_that_follow(self) -> None:
        """Days to come of prepupae and pupae in the bin are not drawn from the days of its feeding larvae."""
        found = forecast(self.larvae(), self.bin(43.0, 28.5))

        assert (found.heat, found.standstill) == (Heat.NONE, None)
        assert flies(found) > 400.0

    def test_prepupae_cannot_flee(self) -> None:
        """They lie still in the same spot, such as in a bin that nobody emptied."""
        lying = replace(self.larvae(), start_stage=Stage.PREPUPA)

        assert forecast(lying, self.bin(43.0, 28.5)).heat is Heat.NONE_LIVE

    def test_an_afternoon_above_the_limit_costs_some_pupae(self) -> None:
        """Six hours at 38 °C: 2 ** -(6 / 24.7), 84 %; before, it cost none and was called a warning."""
        times = np.arange(0, 60 * MS_PER_DAY + 1, MS_PER_HOUR, dtype=np.int64)
        hot = (times >= NOW_MS - 30 * MS_PER_HOUR) & (times <= NOW_MS - 24 * MS_PER_HOUR)
        room: TemperatureSeries = series_of(times, np.where(hot, 38.0, 27.0))
        start_ms = NOW_MS - 5 * MS_PER_DAY
        track = CohortTrack("p", start_ms, (Residence("room", start_ms),), Stage.PUPA, count=1000.0)

        found = forecast(track, stage_clocks([PlaceClimate("room", room, room)], [FLY]))

        assert found.harm is not None and found.heat in (Heat.WARNING, Heat.MAY_FAIL)
        assert found.harm.half_in_hours == float("inf")
        assert found.harm.high == pytest.approx(2.0 ** -(6.0 / 24.67 * 0.4), abs=0.05)


class TestCold:
    """Past a credible length it is not believed that a stage ends at all."""

    @pytest.mark.parametrize("temperature_c", [12.5, 14.0])
    def test_no_date_of_next_year(self, temperature_c: float) -> None:
        """Half emergence was forecast in 290 d at 14 °C and in 1,192 d at 12.5 °C."""
        found = forecast(cohort(59.0, count=1000.0), clocks_of(room=steady(temperature_c)))

        assert found.standstill == Standstill(Stage.EGG, Cause.COLD, 21.0)
        assert median_days(found, Event.HALF_EMERGED) == float("inf")
        assert (found.emergence, found.harm) == ((), None)

    def test_a_cool_room_is_slow_and_has_its_date(self) -> None:
        found = forecast(cohort(59.0), clocks_of(room=steady(18.0)))

        assert found.standstill is None
        assert 80.0 < median_days(found, Event.HALF_EMERGED) < 120.0

    def test_half_of_a_stage_behind_it_makes_no_date_of_it(self) -> None:
        """Larvae at 14 °C for 100 days have 50 more to go, at a pace that no larva is known to finish at."""
        now_ms = 100 * MS_PER_DAY
        larvae = replace(cohort(0.0), start_stage=Stage.LARVA)

        found = forecast(larvae, clocks_of(room=steady(14.0, days=100.0)), now_ms)

        assert found.standstill == Standstill(Stage.LARVA, Cause.COLD, 120.0)

    def test_larvae_that_are_warm_again_go_on(self) -> None:
        """130 days at 13 °C and then 27 °C: cold storage is no end."""
        times = np.arange(0, 140 * MS_PER_DAY + 1, MS_PER_HOUR, dtype=np.int64)
        room = series_of(times, np.where(times < 130 * MS_PER_DAY, 13.0, 27.0))
        larvae = replace(cohort(0.0), start_stage=Stage.LARVA)

        found = forecast(larvae, clocks_of(room=room), 139 * MS_PER_DAY)

        assert found.standstill is None
        half = found.event(Event.HALF_PREPUPAE)
        assert half is not None
        assert (half.median_ms / MS_PER_DAY) == pytest.approx(130.0 + (LARVA_DD - 130.0) / 15.0, abs=1.0)

    def test_a_place_without_readings_is_not_called_cold(self) -> None:
        track = replace(
            cohort(58.0), residences=(Residence("room", 0), Residence("new", NOW_MS + MS_PER_DAY))
        )

        found = forecast(track, clocks_of(room=steady(27.0)))

        assert found.standstill is None
        assert median_days(found, Event.HALF_EMERGED) == float("inf")

    def test_eggs_hatch_and_then_stand(self) -> None:
        """Eggs in a warm tray, a planned move into a cold room: the hatch keeps its day."""
        stays = (Residence("room", 0), Residence("cold", NOW_MS + 8 * MS_PER_DAY))
        track = replace(cohort(58.0), residences=stays)

        found = forecast(track, clocks_of(room=steady(27.0), cold=steady(13.0)))

        assert median_days(found, Event.HATCH) == pytest.approx(EGG_DD / 15.0 - 2.0, abs=0.3)
        assert found.standstill == Standstill(Stage.LARVA, Cause.COLD, 120.0)
