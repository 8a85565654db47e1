"""What the farm has taught about its own thermal constants: a normal belief on ln K, on two levels.

Level one is the farm's own ln K of each stage; level two is how far one cohort lies from it. Everything is
conjugate: normal prior, normal likelihood, so each cohort that was watched gives an exact update. An event
late in life says something about several stages at once; they share it by how long each lasted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.model.degree_days import FloatArray
from monitor.model.individuals import log_sd_of
from monitor.model.rates import SpeciesParameters
from monitor.records import Stage


@dataclass(frozen=True, slots=True, eq=False)
class FarmBelief:
    """Normal belief on ln K of each stage, how many cohorts it rests on, and the spread between animals."""

    stages: tuple[Stage, ...]
    mean: FloatArray
    covariance: FloatArray
    cohort_log_sd: float
    cohorts: tuple[int, ...]
    spread_log_sd: float
    spread_cohorts: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What one cohort's observations say, made linear: values = weights (ln K + deviation) + error."""

    weights: FloatArray
    values: FloatArray
    error: FloatArray


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


def prior_belief(species: SpeciesParameters) -> FarmBelief:
    """Belief about a farm of which nothing is known, from the species' table.

    Parameters
    ----------
    species : SpeciesParameters
        Medians of K and their log-sd [1].

    Returns
    -------
    FarmBelief
        Independent normals on ln K.

    Source
    ------
    Table of the species file, each number with its own source.
    """
    sds = np.array([stage.log_sd for stage in species.stages])
    return FarmBelief(
        tuple(stage.stage for stage in species.stages),
        np.log([stage.thermal_constant for stage in species.stages]),
        np.diag(sds**2),
        species.cohort_log_sd,
        (0,) * len(species.stages),
        log_sd_of(species.individual_variation),
    )


def learn(belief: FarmBelief, evidence: Evidence) -> FarmBelief:
    """The farm's belief after one more cohort.

    Parameters
    ----------
    belief : FarmBelief
        Belief before it.
    evidence : Evidence
        What the cohort said.

    Returns
    -------
    FarmBelief
        Belief after it; each stage that the events covered rests on one cohort more.

    Notes
    -----
    y ~ N(W m, W P W' + tau^2 W W' + R), gain P W' S^-1, with tau the deviation between cohorts.

    Source
    ------
    Conjugate normal updating.
    """
    weights = evidence.weights
    innovation = _between(belief, evidence) + weights @ belief.covariance @ weights.T
    gain = np.linalg.solve(innovation, weights @ belief.covariance).T
    mean = belief.mean + gain @ (evidence.values - weights @ belief.mean)
    covariance = belief.covariance - gain @ weights @ belief.covariance
    covered = weights.max(axis=0) > 0.0
    cohorts = tuple(number + int(new) for number, new in zip(belief.cohorts, covered, strict=True))
    return replace(belief, mean=mean, covariance=(covariance + covariance.T) / 2.0, cohorts=cohorts)


def _between(belief: FarmBelief, evidence: Evidence) -> FloatArray:
    """Covariance of a cohort's values when the farm's own ln K is known."""
    return np.asarray(belief.cohort_log_sd**2 * evidence.weights @ evidence.weights.T + evidence.error)


def cohort_draws(
    belief: FarmBelief,
    evidence: Evidence | None,
    farm_normals: FloatArray,
    cohort_normals: FloatArray,
    extra_log_sd: FloatArray,
) -> FloatArray:
    """Draws of ln K for one cohort, given the farm and what was seen of the cohort itself.

    Parameters
    ----------
    belief : FarmBelief
        The farm's belief, this cohort's evidence included.
    evidence : Evidence or None
        What was seen of this cohort.
    farm_normals : array
        Standard normals (stages, draws) that all cohorts share [1].
    cohort_normals : array
        Standard normals of this cohort alone, same form [1].
    extra_log_sd : array
        Widening of each stage, for a missing probe and estimated hours [1].

    Returns
    -------
    array
        ln K, one row a stage, one column a draw.

    Notes
    -----
    The deviation of the cohort is drawn from its distribution given the farm's ln K: prior tau^2, gain
    tau^2 W' (tau^2 W W' + R)^-1. So two cohorts share what is common to them and nothing else.

    Source
    ------
    Conjugate normal updating.
    """
    farm = belief.mean[:, None] + _root(belief.covariance) @ farm_normals
    identity = belief.cohort_log_sd**2 * np.eye(len(belief.mean))
    if evidence is None:
        return np.asarray(farm + np.hypot(belief.cohort_log_sd, extra_log_sd)[:, None] * cohort_normals)
    gain = np.linalg.solve(_between(belief, evidence), evidence.weights * belief.cohort_log_sd**2).T
    deviation = gain @ (evidence.values[:, None] - evidence.weights @ farm)
    left: FloatArray = identity - gain @ evidence.weights * belief.cohort_log_sd**2
    return np.asarray(farm + deviation + _root(left + np.diag(extra_log_sd**2)) @ cohort_normals)


def cohort_mean(belief: FarmBelief, evidence: Evidence | None) -> FloatArray:
    """Middle ln K of each stage of one cohort.

    Parameters
    ----------
    belief : FarmBelief
        The farm's belief.
    evidence : Evidence or None
        What was seen of this cohort.

    Returns
    -------
    array
        ln K [1].

    Source
    ------
    See `cohort_draws`.
    """
    zeros = np.zeros((len(belief.mean), 1))
    return cohort_draws(belief, evidence, zeros, zeros, np.zeros(len(belief.mean)))[:, 0]


def _root(covariance: FloatArray) -> FloatArray:
    """A square root that also takes a covariance with zeros in it."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def learn_spread(belief: FarmBelief, log_sds: Sequence[float], prior_cohorts: float = 3.0) -> FarmBelief:
    """The spread between animals after cohorts whose flies were counted day by day.

    Parameters
    ----------
    belief : FarmBelief
        Belief with the prior spread.
    log_sds : sequence of float
        Spread of each counted cohort [1].
    prior_cohorts : float
        How many cohorts the prior counts for [1]; our own choice.

    Returns
    -------
    FarmBelief
        With the new spread [1].

    Notes
    -----
    Weighted mean of the variances.

    Source
    ------
    Conjugate updating of a variance (scaled inverse chi-square).
    """
    total = prior_cohorts * belief.spread_log_sd**2 + sum(sd**2 for sd in log_sds)
    spread = float(np.sqrt(total / (prior_cohorts + len(log_sds))))
    return replace(belief, spread_log_sd=spread, spread_cohorts=belief.spread_cohorts + len(log_sds))


def learned_constants(prior: FarmBelief, belief: FarmBelief) -> tuple[LearnedConstant, ...]:
    """For each stage the prior, the farm's own value with its 80 % band, and the cohorts behind it.

    Parameters
    ----------
    prior : FarmBelief
        Before any cohort.
    belief : FarmBelief
        After the farm's cohorts.

    Returns
    -------
    tuple of LearnedConstant
        Medians and bands of K [°C d, or d for a shape].

    Source
    ------
    Quantiles of a log-normal.
    """
    lines = []
    for index, stage in enumerate(belief.stages):
        before, after = _band(prior, index), _band(belief, index)
        lines.append(LearnedConstant(stage, *before, *after, belief.cohorts[index]))
    return tuple(lines)


def _band(belief: FarmBelief, index: int) -> tuple[float, float, float]:
    middle, sd = belief.mean[index], np.sqrt(belief.covariance[index, index])
    return float(np.exp(middle)), float(np.exp(middle - 1.2816 * sd)), float(np.exp(middle + 1.2816 * sd))
