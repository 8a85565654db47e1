"""What the farm has taught about its thermal constants: a normal posterior on ln K, on two levels.

Level one is the farm's own ln K of each stage; level two is how far one cohort lies from it. Everything is
conjugate (normal prior and likelihood), so each cohort gives an exact update. An event late in life tells of
several stages at once; they share it by how long each lasted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from monitor.climate.arrays import NORMAL_QUANTILE_90, FloatArray, square_root
from monitor.development.clocks import ClockOf, Clocks
from monitor.development.events import (
    EVENTS,
    Event,
    Observation,
    emergence_log_sd,
    ended_stage,
    event_at_ms,
    log_sd_of,
    middle_from_share,
    spread_of,
    time_of_share,
)
from monitor.development.progress import CohortTrack, advance, stage_ends_ms
from monitor.development.rates import SpeciesParameters
from monitor.records import MS_PER_DAY, Stage

FIRST_SEEN_Z_SD = 0.4
"""How unsure it is which share of the animals were out when the first were seen, in standard deviations of
the spread between animals [1]. Own choice."""

SPREAD_PRIOR_COHORTS = 3.0
"""Counted boxes for which the prior of the spread between animals counts [1]. Own choice."""
UNKNOWN_BETWEEN_LOG_SD = 0.3
"""How far boxes of a species differ of which nothing is known, for weighing counts alone [1]. Own choice."""
QUARTILES_ERROR = 1.17
"""Relative error of a spread from the quartiles of n animals, times the root of n [1]; that of a normal."""
COHORT_SPREAD_SD = 0.5
"""How unsure the spread between cohorts is before any was seen, in its logarithm [1]. Own choice."""
_SPREADS_Z = np.linspace(-2.5, 2.0, 10)

_GRID = np.linspace(-1.6, 1.6, 321)


@dataclass(frozen=True, slots=True, eq=False)
class FarmPosterior:
    """Normal posterior of ln K, the number of cohorts behind each stage, and the spread between animals.

    `mean` has shape (stages,), `covariance` shape (stages, stages). `log_sds` are the standard deviations of
    the prior below and above its median where they differ, by stage; its variance is then the mean of the
    two, and what a farm has learned takes the skew away. `spread_log_sd` is the middle spread between animals
    of one box of flies; its logarithm is unsure by `spread_farm_log_sd`, and boxes of a farm differ by
    `spread_between_log_sd`. `early_log_sd` is the spread before the animals are flies, of which counts of
    flies say nothing.
    """

    stages: tuple[Stage, ...]
    mean: FloatArray
    covariance: FloatArray
    cohort_log_sd: float
    cohorts: tuple[int, ...]
    spread_log_sd: float
    early_log_sd: float
    spread_cohorts: int = 0
    spread_farm_log_sd: float = 0.0
    spread_between_log_sd: float = 0.0
    log_sds: tuple[tuple[float, float], ...] = ()

    def skewed(self, deviations: FloatArray) -> FloatArray:
        """Deviations from the mean, shape (stages, draws), stretched above it and pressed together below it.

        Each half keeps its half of the draws, so the median stays. The stretch fades as the variance of a
        stage falls from that of its prior. Source: two-piece normal; the fading is our own choice.
        """
        stretched = deviations
        for index, (below, above) in enumerate(self.log_sds):
            if below == above:
                continue
            prior = (below**2 + above**2) / 2.0
            left = min(float(self.covariance[index, index]) / prior, 1.0)
            low, high = (1.0 + (sd / np.sqrt(prior) - 1.0) * left for sd in (below, above))
            if stretched is deviations:
                stretched = deviations.copy()
            stretched[index] *= np.where(deviations[index] > 0.0, high, low)
        return stretched

    @property
    def spread_unsure_log_sd(self) -> float:
        """How far the spread of a box that is to come may differ from the middle one, log-sd [1]."""
        return float(np.hypot(self.spread_farm_log_sd, self.spread_between_log_sd))


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What the n observations of a cohort say, made linear: values = weights (ln K + deviation) + error.

    `weights` has shape (n, stages), `values` shape (n,), `error` is their covariance, shape (n, n). `start`
    is the part of the error that is due to the start, which all events share: one standard deviation, shape
    (n,).
    """

    weights: FloatArray
    values: FloatArray
    error: FloatArray
    start: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class LearnedConstant:
    """One stage for a person: prior, own value with its 80 % band, and the cohorts that it rests on."""

    stage: Stage
    prior: float
    prior_low: float
    prior_high: float
    own: float
    own_low: float
    own_high: float
    cohorts: int


def prior_posterior(species: SpeciesParameters) -> FarmPosterior:
    """The posterior of a farm of which nothing is known: the numbers of the species file."""
    sds = np.array([stage.log_sds for stage in species.stages])
    between = species.spread_log_sd / np.sqrt(1.0 + 1.0 / SPREAD_PRIOR_COHORTS)
    return FarmPosterior(
        tuple(stage.stage for stage in species.stages),
        np.log([stage.thermal_constant for stage in species.stages]),
        np.diag((sds**2).mean(axis=1)),
        species.cohort_log_sd,
        (0,) * len(species.stages),
        log_sd_of(species.individual_variation),
        log_sd_of(species.individual_variation),
        spread_farm_log_sd=float(between / np.sqrt(SPREAD_PRIOR_COHORTS)),
        spread_between_log_sd=float(between),
        log_sds=tuple(stage.log_sds for stage in species.stages),
    )


def learn(posterior: FarmPosterior, evidence: Evidence) -> FarmPosterior:
    """The farm's posterior after one more cohort; each stage that its events covered rests on one cohort
    more.

    y ~ N(W m, W P W' + tau² W W' + R), gain P W' S^-1, with tau the deviation between cohorts. Source:
    conjugate normal updating.
    """
    weights = evidence.weights
    innovation = _between(posterior, evidence) + weights @ posterior.covariance @ weights.T
    gain = np.linalg.solve(innovation, weights @ posterior.covariance).T
    mean = posterior.mean + gain @ (evidence.values - weights @ posterior.mean)
    covariance = posterior.covariance - gain @ weights @ posterior.covariance
    covered = weights.max(axis=0) > 0.0
    cohorts = tuple(number + int(new) for number, new in zip(posterior.cohorts, covered, strict=True))
    return replace(posterior, mean=mean, covariance=(covariance + covariance.T) / 2.0, cohorts=cohorts)


def learn_cohort_spread(posterior: FarmPosterior, evidence: Sequence[Evidence]) -> FarmPosterior:
    """The same posterior with the spread between cohorts as the farm's own cohorts show it.

    `evidence` of each cohort in the order of time. Each spread of a grid is weighted by its prior (log-normal
    around that of the species) and by how well the cohorts before foretold the next. Source: Bayes' rule on a
    grid, the likelihood being that of the innovations of `learn`.
    """
    if not evidence:
        return posterior
    spreads = posterior.cohort_log_sd * np.exp(COHORT_SPREAD_SD * _SPREADS_Z)
    chances = _log_chances(posterior, spreads, evidence)
    weights = np.exp(chances - chances.max() - _SPREADS_Z**2 / 2.0)
    return replace(posterior, cohort_log_sd=float(np.sqrt(np.average(spreads**2, weights=weights))))


def _log_chances(posterior: FarmPosterior, spreads: FloatArray, evidence: Sequence[Evidence]) -> FloatArray:
    """Logarithm of the chance of what was seen with each spread between cohorts, up to a constant."""
    total = np.zeros(len(spreads))
    mean = np.repeat(posterior.mean[None, :], len(spreads), axis=0)
    covariance = np.repeat(posterior.covariance[None, :, :], len(spreads), axis=0)
    for each in evidence:
        weights = each.weights
        own = spreads[:, None, None] ** 2 * (weights @ weights.T) + each.error
        innovation = own + weights @ covariance @ weights.T
        missed = each.values - mean @ weights.T
        gain = np.linalg.solve(innovation, weights @ covariance).transpose(0, 2, 1)
        total -= 0.5 * np.einsum("gi,gi->g", missed, np.linalg.solve(innovation, missed[:, :, None])[:, :, 0])
        total -= 0.5 * np.linalg.slogdet(innovation)[1]
        mean = mean + np.einsum("gij,gj->gi", gain, missed)
        covariance = covariance - gain @ weights @ covariance
    return total


def _between(posterior: FarmPosterior, evidence: Evidence) -> FloatArray:
    """Covariance of a cohort's values when the farm's own ln K is known."""
    return np.asarray(posterior.cohort_log_sd**2 * evidence.weights @ evidence.weights.T + evidence.error)


def farm_draws(posterior: FarmPosterior, farm_normals: FloatArray) -> FloatArray:
    """Draws of ln K of the farm, which all its cohorts share, both of shape (stages, draws)."""
    return posterior.mean[:, None] + posterior.skewed(square_root(posterior.covariance) @ farm_normals)


def cohort_draws(
    posterior: FarmPosterior,
    evidence: Evidence | None,
    farm_normals: FloatArray,
    cohort_normals: FloatArray,
    extra_log_sd: FloatArray,
    farm: FloatArray | None = None,
) -> FloatArray:
    """Draws of ln K for one cohort, given the farm and what was seen of the cohort itself.

    Parameters
    ----------
    posterior : FarmPosterior
        The farm's posterior, this cohort's evidence included.
    evidence : Evidence or None
        What was seen of this cohort.
    farm_normals, cohort_normals : array
        Standard normals that all cohorts share, and of this cohort alone, each of shape (stages, draws) [1].
    extra_log_sd : array
        Widening of each stage, for a missing probe and estimated hours, shape (stages,) [1].
    farm : array or None
        What `farm_draws` gave for these normals, shape (stages, draws); None works it out.

    Returns
    -------
    array
        ln K, shape (stages, draws).

    Notes
    -----
    The deviation of the cohort is drawn from its distribution given the farm's ln K: prior tau², gain
    tau² W' (tau² W W' + R)^-1. So two cohorts share what is common to them and nothing else.

    Source
    ------
    Conjugate normal updating.
    """
    farm = farm_draws(posterior, farm_normals) if farm is None else farm
    identity = posterior.cohort_log_sd**2 * np.eye(len(posterior.mean))
    if evidence is None:
        return np.asarray(farm + np.hypot(posterior.cohort_log_sd, extra_log_sd)[:, None] * cohort_normals)
    gain = _gain(posterior, evidence)
    deviation = gain @ _left_over(farm, evidence)
    left: FloatArray = identity - gain @ evidence.weights * posterior.cohort_log_sd**2
    return np.asarray(farm + deviation + square_root(left + np.diag(extra_log_sd**2)) @ cohort_normals)


def start_draws(evidence: Evidence | None, constants: FloatArray, normals: FloatArray) -> FloatArray:
    """How many standard deviations later than was written down each course of a cohort began, shape (draws,).

    Given its ln K, `constants` of shape (stages, draws): an event that was seen later than these say makes a
    late start likely. `normals` are standard normals, shape (draws,); without evidence they are the answer.

    Source: conditional normal distribution.
    """
    if evidence is None or evidence.start is None:
        return normals
    gain = np.linalg.solve(evidence.error, evidence.start)
    left = max(1.0 - float(gain @ evidence.start), 0.0)
    return np.asarray(gain @ (evidence.values[:, None] - evidence.weights @ constants) + left**0.5 * normals)


def cohort_mean(posterior: FarmPosterior, evidence: Evidence | None) -> FloatArray:
    """Mean ln K of each stage of one cohort, shape (stages,); see `cohort_draws`."""
    if evidence is None:
        return posterior.mean
    return np.asarray(posterior.mean + _gain(posterior, evidence) @ _left_over(posterior.mean, evidence))


def _gain(posterior: FarmPosterior, evidence: Evidence) -> FloatArray:
    """Gain of a cohort's deviation on its evidence, shape (stages, n)."""
    wanted = evidence.weights * posterior.cohort_log_sd**2
    return np.asarray(np.linalg.solve(_between(posterior, evidence), wanted).T)


def _left_over(farm: FloatArray, evidence: Evidence) -> FloatArray:
    """What a cohort's evidence says beyond ln K of the farm, of shape (stages,) or (stages, draws)."""
    values = evidence.values if farm.ndim == 1 else evidence.values[:, None]
    return np.asarray(values - evidence.weights @ farm)


def learn_spread(
    posterior: FarmPosterior,
    log_sds: Sequence[float],
    prior_cohorts: float = SPREAD_PRIOR_COHORTS,
    counted: Sequence[float] | None = None,
) -> FarmPosterior:
    """The posterior with the spread between animals after boxes whose flies were counted day by day.

    Parameters
    ----------
    posterior : FarmPosterior
        Before; its prior counts for `prior_cohorts` boxes.
    log_sds : sequence of float
        Spread of each box [1], above 0.
    prior_cohorts : float
        Boxes for which the prior counts, above 0 [1].
    counted : sequence of float or None
        Flies that were counted of each box [1]; None takes the spreads as exact.

    Returns
    -------
    FarmPosterior
        Logarithms are averaged, since boxes differ by factors: one broad box does not carry the farm away.
        How far boxes differ is learned with it.

    Source
    ------
    Conjugate normal updating, and of a variance (scaled inverse chi-square).
    """
    if not log_sds:
        return posterior
    seen, prior_variance = np.log(log_sds), posterior.spread_between_log_sd**2
    flies = np.full(len(log_sds), np.inf) if counted is None else np.asarray(counted, dtype=np.float64)
    errors = QUARTILES_ERROR**2 / np.maximum(flies, 1.0)
    usual = prior_variance if prior_variance > 0.0 else UNKNOWN_BETWEEN_LOG_SD**2
    weights = usual / (usual + errors)
    total = prior_cohorts + float(weights.sum())
    middle = (prior_cohorts * np.log(posterior.spread_log_sd) + float(weights @ seen)) / total
    scatter = float(np.maximum((seen - middle) ** 2 - errors, 0.0).sum())
    between = float(np.sqrt((prior_cohorts * prior_variance + scatter) / (prior_cohorts + len(log_sds))))
    return replace(
        posterior,
        spread_log_sd=float(np.exp(middle)),
        spread_cohorts=posterior.spread_cohorts + len(log_sds),
        spread_farm_log_sd=between / float(np.sqrt(total)),
        spread_between_log_sd=between,
    )


def learned_constants(prior: FarmPosterior, posterior: FarmPosterior) -> tuple[LearnedConstant, ...]:
    """For each stage the prior, the farm's own value with its 80 % band, and the cohorts behind it.

    Quantiles of a log-normal [°C d, or d for a shape].
    """
    lines = []
    for index, stage in enumerate(posterior.stages):
        before, after = _band(prior, index), _band(posterior, index)
        lines.append(LearnedConstant(stage, *before, *after, posterior.cohorts[index]))
    return tuple(lines)


def _band(posterior: FarmPosterior, index: int) -> tuple[float, float, float]:
    spread = NORMAL_QUANTILE_90 * np.sqrt(posterior.covariance[index, index])
    bounds = np.zeros((len(posterior.mean), 2))
    bounds[index] = -spread, spread
    low, high = np.exp(posterior.mean[index] + posterior.skewed(bounds)[index])
    return float(np.exp(posterior.mean[index])), float(low), float(high)


def evidence_of(
    track: CohortTrack,
    species: SpeciesParameters,
    observations: Sequence[Observation],
    clock_of: ClockOf,
    posterior: FarmPosterior,
) -> Evidence | None:
    """What the observations of one cohort say about ln K; None when none can be used.

    For each event the common factor exp(x) on all constants is found that puts it where it was seen; with one
    stage x is exactly ln(units earned / K). `posterior` is the point around which this is made linear. The
    weights are the shares of the stages in the time since the start. Errors: the day, the start (shared by
    all events of the cohort), and the share seen as "the first".

    Source: conjugate normal updating; linearisation is our own choice.
    """
    usable = [seen for seen in observations if _usable(seen, track, species)]
    if not usable:
        return None
    first = species.index_of(track.start_stage)
    constants = np.exp(posterior.mean)[:, None] * np.exp(_GRID)[None, :]
    ends = stage_ends_ms(track, species, constants, clock_of)
    rows = [_row(seen, track, species, ends, first, posterior) for seen in usable]
    used = [row for row in rows if row is not None]
    if not used:
        return None
    weights = np.array([row[0] for row in used])
    values = np.array([row[1] for row in used]) + weights @ posterior.mean
    own, shared = np.array([row[2] for row in used]), np.array([row[3] for row in used])
    error = np.asarray(np.diag(own**2) + np.outer(shared, shared), dtype=np.float64)
    return Evidence(weights, values, error, shared)


def _usable(seen: Observation, track: CohortTrack, species: SpeciesParameters) -> bool:
    index = ended_stage(seen.event, species)
    return index is not None and index >= species.index_of(track.start_stage) and seen.at_ms > track.start_ms


def _row(
    seen: Observation,
    track: CohortTrack,
    species: SpeciesParameters,
    ends: FloatArray,
    first: int,
    posterior: FarmPosterior,
) -> tuple[FloatArray, float, float, float] | None:
    """Weights, log mismatch, own error and shared error of one observation."""
    index = ended_stage(seen.event, species)
    flies = spread_of(posterior.spread_log_sd, species.adult)
    log_sd = posterior.early_log_sd
    course = event_at_ms(seen.event, species, track.origin_ms, ends, flies, log_sd, seen.share)
    if index is None or not np.isfinite(course).all() or not course[0] < seen.at_ms < course[-1]:
        return None
    mismatch = float(np.interp(seen.at_ms, course, _GRID))
    bounds = [track.start_ms, *(float(np.interp(mismatch, _GRID, ends[i])) for i in range(first, index + 1))]
    elapsed_days = (bounds[-1] - bounds[0]) / MS_PER_DAY
    weights = np.zeros(len(species.stages))
    weights[first : index + 1] = np.diff(bounds) / (bounds[-1] - bounds[0])
    sd_days = _middle_animal(seen, track, species, posterior)[1]
    return weights, mismatch, sd_days / elapsed_days, track.start_sd_days / elapsed_days


def _middle_animal(
    seen: Observation, track: CohortTrack, species: SpeciesParameters, posterior: FarmPosterior
) -> tuple[float, float]:
    """When the middle animal reaches an event that was seen [ms], and the standard deviation of that [d].

    The day itself, the share of the animals that was out, and of flies how far their box spreads.
    """
    share, flies = seen.share_seen, EVENTS[seen.event].begins in (Stage.ADULT, None)
    if share == 0.5:
        return float(seen.at_ms), seen.sd_days
    own = species.adult.own_origin_share if flies else 0.0
    spread = spread_at(posterior, species, seen, track)
    middle_ms = middle_from_share(track.origin_ms, seen.at_ms, spread, share, own)
    normal = NormalDist()
    shares = [normal.cdf(normal.inv_cdf(share) + side * FIRST_SEEN_Z_SD) for side in (-1.0, 1.0)]
    unsure = posterior.spread_unsure_log_sd if flies else 0.0
    by_share = [float(time_of_share(track.origin_ms, middle_ms, spread, each, own)) for each in shares]
    by_spread = [
        float(time_of_share(track.origin_ms, middle_ms, spread * np.exp(side * unsure), share, own))
        for side in (-1.0, 1.0)
    ]
    off_days = [(high - low) / (2.0 * MS_PER_DAY) for low, high in (by_share, by_spread)]
    lead = species.adult.female_share * species.adult.lead_sd_days if flies else 0.0
    return middle_ms, float(np.linalg.norm([seen.sd_days, *off_days, lead]))


def spread_at(
    posterior: FarmPosterior, species: SpeciesParameters, seen: Observation, track: CohortTrack
) -> float:
    """Log standard deviation between animals that counts for an event; at emergence the sexes lie apart."""
    if EVENTS[seen.event].begins not in (Stage.ADULT, None):
        return posterior.early_log_sd
    life_days = max((seen.at_ms - track.origin_ms) / MS_PER_DAY, 1.0)
    return float(emergence_log_sd(posterior.spread_log_sd, species.adult, life_days))


def anchored(
    track: CohortTrack,
    species: SpeciesParameters,
    observations: Sequence[Observation],
    clocks: Clocks,
    posterior: FarmPosterior,
    now_ms: int,
) -> tuple[CohortTrack, tuple[Observation, ...]]:
    """A cohort whose temperature was unknown for too long starts anew at the next event that was seen.

    Returns the cohort, from its start or from the event that set it right, and the observations that still
    count. It begins at the end of the stage that the event ended, and keeps its age, so its animals stay as
    far spread.
    """
    left = tuple(sorted(observations, key=lambda seen: seen.at_ms))
    constants = np.exp(posterior.mean)
    while True:
        state = advance(track, species, constants, clocks, now_ms)
        since_ms = state.unknown_since_ms
        if since_ms is None:
            return track, left
        later = [seen for seen in left if seen.at_ms > since_ms and _usable(seen, track, species)]
        if not later:
            return track, left
        track = _restarted(track, species, later[0], posterior)
        left = tuple(later[1:])


def anchor_of(
    track: CohortTrack,
    species: SpeciesParameters,
    observations: Sequence[Observation],
    posterior: FarmPosterior,
) -> CohortTrack | None:
    """The cohort from the last event of half its animals that was seen, in the order of life; None without.

    What was seen outranks what was forecast: it stands at its date. The first animals tell less of the middle
    one, so they only count as evidence.
    """
    halves = [
        seen for seen in observations if EVENTS[seen.event].share == 0.5 and _usable(seen, track, species)
    ]
    last = max(halves, key=lambda seen: list(Event).index(seen.event), default=None)
    return None if last is None else _restarted(track, species, last, posterior)


def _restarted(
    track: CohortTrack, species: SpeciesParameters, seen: Observation, posterior: FarmPosterior
) -> CohortTrack:
    index = ended_stage(seen.event, species)
    middle_ms, sd_days = _middle_animal(seen, track, species, posterior)
    return replace(
        track,
        start_ms=round(middle_ms),
        start_stage=species.stages[index or 0].stage,
        start_progress=1.0 - 1e-6,
        start_sd_days=sd_days,
        age_days=(middle_ms - track.origin_ms) / MS_PER_DAY,
    )
