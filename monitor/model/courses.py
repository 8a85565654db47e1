"""Possible courses of cohorts: each draws its constants from the belief and its future out of past days."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.model.belief import Evidence, FarmBelief, cohort_draws
from monitor.model.clocks import ClockOf, Clocks
from monitor.model.degree_days import FloatArray
from monitor.model.development import CohortTrack, stage_ends_ms
from monitor.model.emergence import survivors
from monitor.model.ensemble import DRAWS, FutureDraws, ensemble_clocks, future_draws
from monitor.model.events import Event, ended_stage
from monitor.model.rates import SpeciesParameters


@dataclass(frozen=True, slots=True, eq=False)
class CohortCourses:
    """The courses of one cohort: ends of its stages (stages, draws), and the share that lives to emerge."""

    track: CohortTrack
    ends_ms: FloatArray
    survival: FloatArray

    def half_emerged_ms(self, species: SpeciesParameters) -> FloatArray | None:
        """Half emergence of each course; None when the cohort has none to come."""
        index = ended_stage(Event.HALF_EMERGED, species)
        if index is None or index < species.index_of(self.track.start_stage):
            return None
        half: FloatArray = self.ends_ms[index]
        return half


@dataclass(frozen=True, slots=True, eq=False)
class ForecastBasis:
    """What all forecasts of a site rest on: the places' clocks, the random numbers, now, and the farm's days.

    `day_origin_ms` is any local midnight. The same seed gives the same forecasts.
    """

    clocks: Clocks
    draws: FutureDraws
    now_ms: int
    day_origin_ms: int
    seed: int
    ensemble: ClockOf


@dataclass(frozen=True, slots=True, eq=False)
class CohortCase:
    """One cohort and what was seen of it."""

    track: CohortTrack
    evidence: Evidence | None = None


def forecast_basis(
    clocks: Clocks, now_ms: int, day_origin_ms: int = 0, seed: int = 1, draws: int = DRAWS
) -> ForecastBasis:
    """What all forecasts of a site rest on.

    Parameters
    ----------
    clocks : Clocks
        Clocks of the places over the past, reaching to now.
    now_ms : int
        Now [ms since 1970 UTC].
    day_origin_ms : int
        Any local midnight [ms since 1970 UTC], so that days are the farm's days.
    seed : int
        The same seed gives the same forecasts [1].
    draws : int
        Courses of the ensemble [1].

    Returns
    -------
    ForecastBasis
        For all cohorts of all species in these places.

    Source
    ------
    See `future_draws` and `ensemble_clocks`.
    """
    random = future_draws(seed, draws)
    return ForecastBasis(clocks, random, now_ms, day_origin_ms, seed, ensemble_clocks(clocks, random, now_ms))


def courses_of(
    cases: Sequence[CohortCase],
    species: SpeciesParameters,
    belief: FarmBelief,
    basis: ForecastBasis,
    extra_log_sd: FloatArray | None = None,
) -> list[CohortCourses]:
    """Possible courses of some cohorts; course 7 of each has the same weather and the same farm.

    Parameters
    ----------
    cases : sequence of CohortCase
        The cohorts with their planned moves, and what was seen of them.
    species : SpeciesParameters
        Their species.
    belief : FarmBelief
        What the farm has taught.
    basis : ForecastBasis
        Clocks, random numbers and now.
    extra_log_sd : array or None
        Widening of ln K (cohorts, stages) [1].

    Returns
    -------
    list of CohortCourses
        Ends of the stages [ms since 1970 UTC], one column a course.

    Source
    ------
    Own choice; see `cohort_draws` and `stage_ends_ms`.
    """
    stages = len(species.stages)
    extra = np.zeros((len(cases), stages)) if extra_log_sd is None else extra_log_sd
    return [_course(case, species, belief, basis, wider) for case, wider in zip(cases, extra, strict=True)]


def _course(
    case: CohortCase,
    species: SpeciesParameters,
    belief: FarmBelief,
    basis: ForecastBasis,
    extra_log_sd: FloatArray,
) -> CohortCourses:
    own = np.random.default_rng([basis.seed, zlib.crc32(case.track.cohort.encode())])
    farm = basis.draws.farm_normals[: len(belief.stages)]
    constants = cohort_draws(belief, case.evidence, farm, own.standard_normal(farm.shape), extra_log_sd)
    ends = stage_ends_ms(case.track, species, np.exp(constants), basis.ensemble)
    return CohortCourses(case.track, ends, survivors(case.track, species, own, basis.draws.draws))
