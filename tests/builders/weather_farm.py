"""Simulated farms on given weather, their cohorts, and whether forecast windows hold what truly comes.

The truth does not assume what the forecast assumes about weather: it is real weather from outside, damped as
by a house, or days with a stated memory. The farm's constants are drawn from the priors of the species. Flies
come out as open counts have them: a body, and a tail of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from real_weather import OutdoorWeather, hourly_normals, seattle_days, stretch, typical_year

from monitor.climate.arrays import FloatArray
from monitor.development.clocks import Clocks, PlaceClimate, stage_clocks
from monitor.development.courses import CohortCase, ForecastBasis, forecast_basis
from monitor.development.events import EVENTS, Event, Observation, ended_stage
from monitor.development.forecast import CohortForecast, forecast_cohorts
from monitor.development.posterior import FarmPosterior, evidence_of, learn, prior_posterior
from monitor.development.progress import CohortTrack, Residence, stage_ends_ms
from monitor.development.rates import SpeciesParameters
from monitor.development.temperature_series import TemperatureSeries, series_of
from monitor.records import MS_PER_DAY, MS_PER_HOUR

SEED = 20
NOW_DAY, DAYS = 400, 480
SEEN = (Event.HATCH, Event.FIRST_PREPUPAE, Event.HALF_MOTIONLESS, Event.HALF_EMERGED)
FLOOR_C = 20.0
"""A heater keeps the room at least so warm where weather comes from outside [°C]."""
HOUSES = ((0.5, 0.0), (0.5, 0.5), (0.3, 0.3), (0.5, 0.3))
"""What is left inside of the weather and of the season outside [1]; the farms take turns."""
BETWEEN_ANIMALS, FIRST_Z = 0.08, -2.326
"""Of prepupae and pupae nothing was counted: a plain log-normal, whose first are one in a hundred [1]."""
LIFE_DAYS, FIRST_FLY_DAYS, MOST_FLIES_DAYS = 40.0, -4.0, 7.0
"""From half of the flies of a box to its first and to nine in ten, in a life of 40 days: 10/50/90/95 % were
out on day 1/4/11/16 after the first of some 59 (open counts of 48 boxes, ReproLab, common garden)."""
FIRST_SD_DAYS, TAIL_LOG_SD = 1.8, 0.65
"""How boxes differ: the day of the first fly had an SD of 1.8 d; the tail as the boxes' robust SD, whose
quartiles of 1.5 and 4.4 d are a log-sd of 0.8, less what 59 flies leave to chance."""
FEMALES_LATER_DAYS = 1.5
"""The first females after the first flies: males lead by 1 to 2 d (Tomberlin, Sheppard & Joyce 2002)."""

AirOf = Callable[[int, np.random.Generator], FloatArray]


@dataclass(frozen=True, eq=False)
class Farm:
    """The truth of one farm: constants, the clocks of its whole history and future."""

    constants: FloatArray
    air: TemperatureSeries
    substrate: TemperatureSeries
    truth: Clocks


@dataclass(frozen=True)
class Outcome:
    """One coming event: days until it truly comes, whether its window held, error of the median [d]."""

    event: Event
    ahead_days: float
    median_ahead_days: float
    held: bool

    @property
    def error_days(self) -> float:
        return abs(self.median_ahead_days - self.ahead_days)


def days_with_memory(phi: float) -> AirOf:
    """Anomalies of the daily mean that remember: autocorrelation `phi` from day to day; 0 is none at all."""

    def air(number: int, generator: np.random.Generator) -> FloatArray:
        del number
        sd = generator.uniform(0.5, 2.0)
        shocks = generator.normal(0.0, sd * np.sqrt(1.0 - phi**2), DAYS)
        days = np.empty(DAYS)
        days[0] = generator.normal(0.0, sd)
        for day in range(1, DAYS):
            days[day] = phi * days[day - 1] + shocks[day]
        hours = np.arange(DAYS * 24) / 24.0
        swing = generator.uniform(1.0, 4.0) * np.sin(2.0 * np.pi * (hours - generator.random()))
        return np.asarray(generator.uniform(23.0, 29.0) + swing + np.repeat(days, 24))

    return air


def weather_outside(*records: Callable[[], OutdoorWeather]) -> AirOf:
    """Real weather, damped by the house, around a mean at which such a farm works; records take turns."""

    def air(number: int, generator: np.random.Generator) -> FloatArray:
        weather = records[number % len(records)]()
        share, season_share = HOUSES[number // len(records) % len(HOUSES)]
        season, anomaly = stretch(weather, DAYS, generator)
        inside = share * anomaly + season_share * (season - weather.season.mean())[:, None]
        return np.asarray(np.maximum(generator.uniform(23.0, 29.0) + inside.ravel(), FLOOR_C))

    return air


WEATHERS: Mapping[str, AirOf] = {
    "independent days": days_with_memory(0.0),
    "autocorrelation 0.5": days_with_memory(0.5),
    "autocorrelation 0.8": days_with_memory(0.8),
    "Seattle": weather_outside(seattle_days),
    "San Francisco": weather_outside(lambda: hourly_normals("sf")),
    "a typical year": weather_outside(
        lambda: typical_year("723170TYA.CSV"),
        lambda: typical_year("703165TY.csv"),
        lambda: typical_year("12839.tm2"),
    ),
}


def simulate_farm(species: SpeciesParameters, air_of: AirOf, number: int) -> tuple[Farm, np.random.Generator]:
    """A farm with hourly temperatures over 480 days, and the generator of what else happens there."""
    generator = np.random.default_rng([SEED, number])
    priors = np.log([stage.thermal_constant for stage in species.stages])
    sds = np.array([stage.log_sd for stage in species.stages])
    constants = np.exp(priors + sds * generator.standard_normal(len(sds)))
    times = np.arange(DAYS * 24, dtype=np.int64) * MS_PER_HOUR
    air = air_of(number, generator)
    substrate = air + generator.uniform(1.0, 4.0)
    noise = generator.normal(0.0, 0.2, (2, len(times)))
    truth = stage_clocks(
        [PlaceClimate("room", series_of(times, air), series_of(times, substrate))], [species]
    )
    farm = Farm(constants, series_of(times, air + noise[0]), series_of(times, substrate + noise[1]), truth)
    return farm, generator


def true_times(
    farm: Farm,
    track: CohortTrack,
    species: SpeciesParameters,
    constants: FloatArray,
    generator: np.random.Generator,
) -> dict[Event, float]:
    """When each event truly happens in a cohort [ms]."""
    ends = stage_ends_ms(track, species, constants[:, None], farm.truth.of)[:, 0]
    found = {}
    for event in Event:
        index = ended_stage(event, species)
        assert index is not None
        early = float(np.exp(FIRST_Z * BETWEEN_ANIMALS)) if EVENTS[event].share < 0.5 else 1.0
        found[event] = float(track.start_ms + early * (ends[index] - track.start_ms))
    return found | _flies_of_box(track.start_ms, ends[-2], ends[-1] - ends[-2], generator)


def _flies_of_box(
    start_ms: int, half_ms: float, lag_ms: float, generator: np.random.Generator
) -> dict[Event, float]:
    """The flies of one box by open counts, and its first eggs a lag after its first females [ms]."""
    unit_ms = (half_ms - start_ms) / LIFE_DAYS
    first_days = min(FIRST_FLY_DAYS + FIRST_SD_DAYS * generator.standard_normal(), -0.5)
    most_days = MOST_FLIES_DAYS * np.exp(TAIL_LOG_SD * generator.standard_normal())
    first_ms = half_ms + first_days * unit_ms
    return {
        Event.FIRST_EMERGED: float(first_ms),
        Event.MOST_EMERGED: float(half_ms + most_days * unit_ms),
        Event.FIRST_EGGS: float(first_ms + FEMALES_LATER_DAYS * MS_PER_DAY + lag_ms),
    }


def cohort_constants(farm: Farm, species: SpeciesParameters, generator: np.random.Generator) -> FloatArray:
    """The constants of one cohort: a little off those of its farm."""
    deviation = species.cohort_log_sd * generator.standard_normal(len(species.stages))
    return np.asarray(farm.constants * np.exp(deviation))


def observe(truth: dict[Event, float], until_ms: float, generator: np.random.Generator) -> list[Observation]:
    """What a person logs: some events, a day off now and then."""
    sd_days = 0.5
    times = {event: truth[event] + generator.normal(0.0, sd_days) * MS_PER_DAY for event in SEEN}
    return [Observation(event, round(at), sd_days) for event, at in times.items() if at < until_ms]


def until(series: TemperatureSeries, end_ms: int) -> TemperatureSeries:
    """What had been measured by then."""
    last = int(np.searchsorted(series.times_ms, end_ms, side="right"))
    return replace(
        series,
        times_ms=series.times_ms[:last],
        temperatures_c=series.temperatures_c[:last],
        estimated=series.estimated[:last],
    )


def posteriors_after(
    farm: Farm,
    species: SpeciesParameters,
    clocks: Clocks,
    logged: tuple[int, ...],
    generator: np.random.Generator,
) -> Iterator[FarmPosterior]:
    """The farm's posterior after so many cohorts of the past were logged, for each number in turn."""
    posterior, number = prior_posterior(species), 0
    for wanted in logged:
        while number < wanted:
            start = (NOW_DAY - 345 + 24 * number) * MS_PER_DAY
            shown = start + round(generator.normal(0.0, 0.25) * MS_PER_DAY)
            truth = true_times(
                farm,
                CohortTrack("old", start, (Residence("room", start),)),
                species,
                cohort_constants(farm, species, generator),
                generator,
            )
            track = CohortTrack(f"old {number}", shown, (Residence("room", shown),), start_sd_days=0.25)
            seen = observe(truth, NOW_DAY * MS_PER_DAY, generator)
            evidence = evidence_of(track, species, seen, clocks.of, posterior)
            assert evidence is not None
            posterior, number = learn(posterior, evidence), number + 1
        yield posterior


@dataclass(frozen=True, eq=False)
class _NewCohort:
    """A cohort of which a forecast is made: what is shown of it, what was seen of it, what truly comes."""

    track: CohortTrack
    seen: list[Observation]
    truth: dict[Event, float]


def _new_cohort(
    farm: Farm, species: SpeciesParameters, now_ms: int, age_days: float, generator: np.random.Generator
) -> _NewCohort:
    start = now_ms - round(age_days * MS_PER_DAY)
    shown = start + round(generator.normal(0.0, 0.25) * MS_PER_DAY)
    track = CohortTrack("new", start, (Residence("room", start),))
    truth = true_times(farm, track, species, cohort_constants(farm, species, generator), generator)
    track = CohortTrack(f"new {age_days:.3f}", shown, (Residence("room", shown),), start_sd_days=0.25)
    return _NewCohort(track, observe(truth, now_ms, generator), truth)


def _forecast(
    new: _NewCohort, species: SpeciesParameters, posterior: FarmPosterior, basis: ForecastBasis
) -> CohortForecast:
    evidence = evidence_of(new.track, species, new.seen, basis.clocks.of, posterior)
    posterior = posterior if evidence is None else learn(posterior, evidence)
    return forecast_cohorts([CohortCase(new.track, evidence)], species, posterior, basis)[0]


def outcomes_of_farm(
    species: SpeciesParameters,
    air_of: AirOf,
    number: int,
    logged: tuple[int, ...],
    ages_days: tuple[tuple[float, float], ...],
    draws: int,
) -> dict[int, list[Outcome]]:
    """What the windows of a farm held, by the number of cohorts logged; one cohort in each range of ages."""
    farm, generator = simulate_farm(species, air_of, number)
    now_ms = NOW_DAY * MS_PER_DAY + int(generator.integers(0, 24)) * MS_PER_HOUR
    climate = PlaceClimate("room", until(farm.air, now_ms), until(farm.substrate, now_ms))
    clocks = stage_clocks([climate], [species])
    basis = forecast_basis(clocks, now_ms, seed=number, draws=draws)
    cohorts = [
        _new_cohort(farm, species, now_ms, float(generator.uniform(*ages)), generator) for ages in ages_days
    ]
    past = posteriors_after(farm, species, clocks, logged, np.random.default_rng([SEED, number, 1]))
    return {
        count: [each for new in cohorts for each in _outcomes(new, _forecast(new, species, known, basis))]
        for count, known in zip(logged, past, strict=True)
    }


def _outcomes(new: _NewCohort, forecast: CohortForecast) -> Iterator[Outcome]:
    now_ms = forecast.made_ms
    for found in forecast.events:
        at_ms = new.truth[found.event]
        if at_ms > now_ms:
            yield Outcome(
                found.event,
                (at_ms - now_ms) / MS_PER_DAY,
                (found.median_ms - now_ms) / MS_PER_DAY,
                found.low_ms <= at_ms <= found.high_ms,
            )
