"""What is known of one bin: a normal posterior of its factors on evaporation and heat, its water and dry
matter.

Factors are log-normal and everything is updated as normals in log space. Each stretch between two weighings
has a factor of its own around that of the bin (weather, crust, the hand that stirs), so that no number of
weighings makes the future certain.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from monitor.bins.substrate import BinFacts
from monitor.bins.water_balance import LEAST_KG, Ensemble
from monitor.climate.arrays import NORMAL_QUANTILE_90, FloatArray, square_root

PAIRS = 64

FACTOR_LOG_SD = math.log(2.5) / NORMAL_QUANTILE_90
"""Log-sd of a bin's factor without a probe: 80 % lie within 2.5 times. Source: own choice, from wet share,
cover, crust and heat that nobody measured."""

FACTOR_LOG_SD_PROBE = math.log(1.4) / NORMAL_QUANTILE_90
"""Log-sd with a substrate probe: 80 % lie within 40 %. Source: own choice."""

STRETCH_LOG_SD = 0.09
"""Log-sd of one stretch between weighings around the bin's own factor. Source: own choice; gives 15 to 20 %
after one weighing."""

HEAT_LOG_SD = 0.3
"""Log-sd of a bin's heat around the table of its substrate. Source: own choice."""

FILL_SD_SHARE = 0.005
"""Standard deviation of the mass at filling, as a share of it. Source: own choice, a kitchen scale."""

MOST_STEPS = 20
LARGEST_LOG_STEP = 1.0
TOLERANCE = 1e-4
FACTOR, STRETCH, HEAT, WATER, DRY = range(5)

Predict = Callable[[FloatArray], FloatArray]
"""What would be observed, from points of the posterior, one a row."""


@dataclass(frozen=True, slots=True, eq=False)
class BinPosterior:
    """Normal posterior on ln factor, ln stretch, ln heat factor, water [kg], dry matter [kg].

    `mean` has shape (5,), `covariance` shape (5, 5).
    """

    mean: FloatArray
    covariance: FloatArray

    @property
    def factor(self) -> float:
        """Median factor on evaporation [1]."""
        return math.exp(float(self.mean[FACTOR]))

    @property
    def factor_log_sd(self) -> float:
        """Log-sd of the factor that the coming stretch will have [1]."""
        block = self.covariance[FACTOR : STRETCH + 1, FACTOR : STRETCH + 1]
        return math.sqrt(float(block.sum()))


@dataclass(frozen=True, slots=True)
class Comparison:
    """A weighing or test, and what had been expected; `surprise` counts standard deviations."""

    at_ms: int
    found: float
    expected: float
    surprise: float


def prior_posterior(facts: BinFacts) -> BinPosterior:
    """The posterior of a bin that was just filled: factor 1 within 2.5 times, or within 40 % with a probe.

    Source: own choice, see the constants of this module.
    """
    wide = FACTOR_LOG_SD if facts.probe_depth_m is None else FACTOR_LOG_SD_PROBE
    water, dry = facts.wet_kg * facts.moisture, facts.wet_kg * (1.0 - facts.moisture)
    by_mass, by_moisture = np.array([facts.moisture, 1.0 - facts.moisture]), np.array([1.0, -1.0])
    mass_sd, moisture_sd = FILL_SD_SHARE * facts.wet_kg, facts.moisture_sd * facts.wet_kg
    covariance = np.zeros((5, 5))
    covariance[FACTOR, FACTOR] = wide**2 - STRETCH_LOG_SD**2
    covariance[STRETCH, STRETCH] = STRETCH_LOG_SD**2
    covariance[HEAT, HEAT] = HEAT_LOG_SD**2
    covariance[WATER:, WATER:] = mass_sd**2 * np.outer(by_mass, by_mass) + moisture_sd**2 * np.outer(
        by_moisture, by_moisture
    )
    return BinPosterior(np.array([0.0, 0.0, 0.0, water, dry]), covariance)


def updated(posterior: BinPosterior, predict: Predict, observed: float, sd: float) -> BinPosterior:
    """The posterior after one observation, at the same moment as before.

    Parameters
    ----------
    posterior : BinPosterior
        Before it.
    predict : callable
        What would be observed at each of k points of the posterior: shape (k, 5) to shape (k,).
    observed : float
        What was observed, in the unit of `predict`.
    sd : float
        Its standard deviation, in the same unit, above 0.

    Returns
    -------
    BinPosterior
        After it.

    Notes
    -----
    x = x0 + K (y - h(xi) - H (x0 - xi)), K = P H'/(H P H' + sd²), repeated until it stands still, 20 times at
    most; exact where h is a straight line. H by differences.

    Source
    ------
    Conjugate normal updating; iterated Kalman update, Jazwinski 1970, Stochastic Processes and Filtering
    Theory, ch. 8.
    """
    at, weight = posterior.mean, posterior.covariance
    for _ in range(MOST_STEPS):
        value, slope = _slope(at, predict)
        gain = weight @ slope / (slope @ weight @ slope + sd**2)
        move = posterior.mean + gain * (observed - value - slope @ (posterior.mean - at)) - at
        move *= min(1.0, LARGEST_LOG_STEP / max(float(np.abs(move[:WATER]).max()), LEAST_KG))
        at = _possible(at + move)
        if np.abs(move).max() < TOLERANCE:
            break
    smaller = weight - np.outer(gain, slope @ weight)
    return BinPosterior(at, (smaller + smaller.T) / 2.0)


def _possible(point: FloatArray) -> FloatArray:
    return np.concatenate([point[:WATER], np.maximum(point[WATER:], LEAST_KG)])


def _slope(at: FloatArray, predict: Predict) -> tuple[float, FloatArray]:
    steps = np.array([0.02, 0.02, 0.02, *np.maximum(0.005 * at[WATER:], 1e-6)])
    values = predict(at + np.vstack([np.zeros(5), np.diag(steps)]))
    return float(values[0]), (values[1:] - values[0]) / steps


def surprise(posterior: BinPosterior, predict: Predict, observed: float, sd: float) -> tuple[float, float]:
    """What was expected, and how many standard deviations an observation lies above it [1]; as `updated`."""
    value, slope = _slope(posterior.mean, predict)
    spread = math.sqrt(float(slope @ posterior.covariance @ slope) + sd**2)
    return value, (observed - value) / spread


def carried(posterior: BinPosterior, water: Predict, dry: Predict) -> BinPosterior:
    """The posterior at the end of a stretch, where a new one begins.

    `water` and `dry` give water and dry matter at its end [kg] from points of the posterior. The factors keep
    what they share with water and dry matter.
    """
    water_now, by_water = _slope(posterior.mean, water)
    dry_now, by_dry = _slope(posterior.mean, dry)
    keep = np.eye(5)
    moved = np.vstack([keep[FACTOR], np.zeros(5), keep[HEAT], by_water, by_dry])
    covariance = moved @ posterior.covariance @ moved.T
    covariance[STRETCH, STRETCH] = STRETCH_LOG_SD**2
    mean = np.array([posterior.mean[FACTOR], 0.0, posterior.mean[HEAT], water_now, dry_now])
    return BinPosterior(_possible(mean), covariance)


def ensemble_at(points: FloatArray) -> Ensemble:
    """Points of a posterior, shape (k, 5), as k bins."""
    water, dry = np.maximum(points[:, WATER], LEAST_KG), np.maximum(points[:, DRY], LEAST_KG)
    factor = np.exp(points[:, FACTOR] + points[:, STRETCH])
    return Ensemble(water, dry, factor, np.exp(points[:, HEAT]))


def spread_normals(pairs: int, dimensions: int) -> FloatArray:
    """Evenly spread standard normals, the same at every call, shape (2 pairs + 1, dimensions) [1].

    Zeros, then points and their mirror images. By their symmetry the median of any sum of columns is that of
    the first row, exactly; each column has the quantiles of a normal, and they are nearly uncorrelated.

    u = frac(0.5 + n/g^k), g the root of g^(d + 1) = g + 1; normal quantiles of u, made uncorrelated, then
    each column put on evenly spaced quantiles by its ranks. Source: additive recurrence (Kronecker sequence)
    with the generalised golden ratio; antithetic points.
    """
    root = 2.0
    for _ in range(40):
        root = math.pow(1.0 + root, 1.0 / (dimensions + 1))
    steps = np.array([root ** -(k + 1) for k in range(dimensions)])
    uniforms = (0.5 + np.arange(1, pairs + 1)[:, None] * steps) % 1.0
    quantile = NormalDist().inv_cdf
    points = np.array([[quantile(min(max(u, 1e-6), 1.0 - 1e-6)) for u in row] for row in uniforms.tolist()])
    root_covariance = np.linalg.cholesky(points.T @ points / pairs)
    even = np.linalg.solve(root_covariance, points.T).T
    ranks = np.abs(even).argsort(axis=0).argsort(axis=0)
    sizes = np.array([quantile(0.5 + (rank + 0.5) / (2 * pairs)) for rank in range(pairs)])
    even = np.sign(even) * sizes[ranks]
    return np.vstack([np.zeros(dimensions), even, -even])


NORMALS = spread_normals(PAIRS, 6)


def drawn(posterior: BinPosterior) -> Ensemble:
    """The 129 bins of an ensemble drawn from a posterior; the first is its mean."""
    return ensemble_at(posterior.mean + NORMALS[:, :5] @ square_root(posterior.covariance).T)
