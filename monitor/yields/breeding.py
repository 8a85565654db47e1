"""How many prepupae to keep for a wanted number of grams of eggs a week, and by when."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.development.courses import ForecastBasis
from monitor.development.posterior import FarmPosterior
from monitor.development.rates import SpeciesParameters, units_per_day
from monitor.development.supply import LatestStart, latest_starts
from monitor.records import MS_PER_DAY, Stage
from monitor.yields.forecast import COUNT_LOG_SD, EggForecast
from monitor.yields.laying import USUAL_C, fecundity

MIDDLE_OF_WEEK_DAYS = 3.5
SAFE_CHANCE = 0.8
DRAWS = 4000


@dataclass(frozen=True, slots=True)
class PrepupaeToKeep:
    """Prepupae to set aside each week for so many grams of eggs a week.

    `even` give them in one week of two, `safe` in four of five. For the week from `week_ms` on they are set
    aside by `safe_ms`, then they come in time nine times in ten, or `even_ms`, one time in two; None where
    that cannot be told. A time in the past means too late for that week.
    """

    grams_a_week: float
    even: float
    safe: float
    week_ms: int
    safe_ms: float | None
    even_ms: float | None


def prepupae_to_keep(
    grams_a_week: float,
    week_ms: int,
    forecast: EggForecast,
    species: SpeciesParameters,
    start: LatestStart | None = None,
    warmth_c: float = USUAL_C,
) -> PrepupaeToKeep:
    """Prepupae for a number of grams of eggs in a week, one week like the other.

    `forecast` holds what is known of the eggs of a female here, `start` is what `start_of` says of the week;
    `warmth_c` is that of the cage.

    Source: grams by female, share of females, and survival of the species file multiplied; own choice.
    """
    generator = np.random.default_rng(1)
    levels = np.resize(forecast.log_levels[:, :, -1], DRAWS)
    normals = generator.standard_normal((3, len(levels)))
    adult = species.adult
    females = np.clip(adult.female_share + adult.female_share_sd * normals[0], 0.2, 0.8)
    a_fly = females * np.exp(levels + COUNT_LOG_SD * normals[1]) * float(fecundity(np.array([warmth_c]))[0])
    needed = grams_a_week / (a_fly * _survival(species, generator, len(levels)))
    even, safe = np.quantile(needed, (0.5, SAFE_CHANCE)).tolist()
    late = None, None
    safe_ms, even_ms = late if start is None else (start.safe_ms, start.even_ms)
    return PrepupaeToKeep(grams_a_week, even, safe, week_ms, safe_ms, even_ms)


def _survival(species: SpeciesParameters, generator: np.random.Generator, number: int) -> FloatArray:
    """Share of prepupae that become flies, each stage uniform in its range, shape (number,)."""
    share = np.ones(number)
    for stage in species.stages:
        if stage.stage in (Stage.PREPUPA, Stage.PUPA):
            share *= generator.uniform(*stage.survival, number)
    return share


def start_of(
    week_ms: int,
    route: Mapping[Stage, str],
    species: SpeciesParameters,
    posterior: FarmPosterior,
    basis: ForecastBasis,
    warmth_c: float = USUAL_C,
) -> LatestStart | None:
    """Until when prepupae must be set aside so that half of their flies lay by the middle of a week.

    `route` says where each stage lives. None where the cage is too cold to lay, there is no such stage, or
    nothing is known of the warmth in which they would grow.
    """
    adult = species.stages[species.index_of(Stage.ADULT)]
    a_day = float(units_per_day(np.array([warmth_c]), adult.law)[0])
    if a_day <= 0.0:
        return None
    lag_days = adult.thermal_constant / a_day
    out_ms = week_ms + (MIDDLE_OF_WEEK_DAYS - lag_days) * MS_PER_DAY
    starts = latest_starts(out_ms, 1.0, route, species, posterior, basis)
    return next(
        (each for each in starts if each.stage is Stage.PREPUPA and math.isfinite(each.safe_ms)), None
    )
