"""Places, cohorts and species for the tests of the development model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from monitor.development.clocks import Clocks, PlaceClimate, stage_clocks
from monitor.development.courses import ForecastBasis, forecast_basis
from monitor.development.ensemble import FutureDraws, ensemble_clocks, future_draws
from monitor.development.progress import CohortTrack, Residence
from monitor.development.rates import SpeciesParameters
from monitor.development.temperature_series import TemperatureSeries, fill_gaps, series_of
from monitor.records import MS_PER_DAY, MS_PER_MINUTE
from monitor.settings.species import load_species, species_parameters

FLY = species_parameters(load_species("black_soldier_fly"))
SURE_FLY = replace(FLY, adult=replace(FLY.adult, female_share_sd=0.0, male_lead_days=(1.0, 1.0)))
"""The fly without what sources disagree about."""
NOW_MS = 60 * MS_PER_DAY
EGG_DD, LARVA_DD, PREPUPA_DD, PUPA_DD, FIRST_EGGS_DD = (stage.thermal_constant for stage in FLY.stages)
TO_FLY_DD = EGG_DD + LARVA_DD + PREPUPA_DD + PUPA_DD
"""Degree-days of the stages of a fly, and of all up to the fly, as the species file has them."""


def steady(temperature_c: float, days: float = 60.0, every_minutes: int = 30) -> TemperatureSeries:
    """A place that is always equally warm."""
    times = np.arange(0, round(days * MS_PER_DAY) + 1, every_minutes * MS_PER_MINUTE, dtype=np.int64)
    return series_of(times, np.full(len(times), temperature_c))


def daily_wave(
    mean_c: float, swing_c: float, days: float = 60.0, every_minutes: int = 30
) -> TemperatureSeries:
    """A place that is warmer by day than by night."""
    times = np.arange(0, round(days * MS_PER_DAY) + 1, every_minutes * MS_PER_MINUTE, dtype=np.int64)
    return series_of(times, mean_c + swing_c * np.sin(2.0 * np.pi * times / MS_PER_DAY))


def without(series: TemperatureSeries, from_day: float, to_day: float) -> TemperatureSeries:
    """A series with a hole in it, filled as the model fills holes."""
    inside = (series.times_ms > from_day * MS_PER_DAY) & (series.times_ms < to_day * MS_PER_DAY)
    left = series_of(series.times_ms[~inside], series.temperatures_c[~inside])
    return fill_gaps(left, int(series.times_ms[0]), int(series.times_ms[-1]))


def clocks_of(species: SpeciesParameters = FLY, **places: TemperatureSeries) -> Clocks:
    """Clocks of places of which both air and substrate are equally warm."""
    return stage_clocks([PlaceClimate(name, series, series) for name, series in places.items()], [species])


def cohort(start_day: float, name: str = "c", place: str = "room", count: float | None = None) -> CohortTrack:
    """A cohort that stays where it was laid."""
    start_ms = round(start_day * MS_PER_DAY)
    return CohortTrack(name, start_ms, (Residence(place, start_ms),), count=count)


def known_level(draws: FutureDraws) -> FutureDraws:
    """Futures that are as warm as the days of which they are made: nothing but whole days is drawn."""
    return replace(draws, level_normals=np.zeros(draws.draws))


def known_level_basis(clocks: Clocks, now_ms: int = NOW_MS, seed: int = 1) -> ForecastBasis:
    """What forecasts rest on where the coming weeks are known to be like the last ones."""
    basis = forecast_basis(clocks, now_ms, seed=seed)
    draws = known_level(future_draws(seed))
    return replace(basis, draws=draws, ensemble=ensemble_clocks(clocks, draws, now_ms))
