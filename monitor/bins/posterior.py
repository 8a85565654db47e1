"""What is known of one bin: a normal posterior of its factors on evaporation and heat, its water and dry
matter.

Factors are log-normal and everything is updated as normals in log space. The factor on evaporation wanders as
time goes on (crust, larvae, depth, the hand that stirs), so that what a weighing or test said of it fades.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from monitor.bins.growth import UNCOUNTED_LOG_SD
from monitor.bins.lessons import UNKNOWN_FARM, FactorPrior
from monitor.bins.substrate import BinFacts
from monitor.bins.water_balance import LEAST_KG, Ensemble
from monitor.climate.arrays import FloatArray, square_root

PAIRS = 64

WANDER_LOG_SD = 0.1
"""How far the ln of a bin's factor has wandered after one day, log-sd; grows with the root of time. Source:
own choice. In 33 boxes of Fuhrmann et al. 2024 (open data) factors of parts of one fill, one or two days
long, lay 0.1 to 0.25 apart (log-sd) where more than a tenth of the water left; handfuls that differ are part
of it."""

HEAT_LOG_SD = 0.35
"""Log-sd of what the animals of a bin burn and the heat of it, around the laws of `growth`. Source: own
choice: 0.18 for heat by gram of CO2 (10.2 to 16.3 kJ published, 80 %), 0.2 for dry matter by gram of CO2
(0.65 to 1.10 measured), 0.2 for the animals with their number."""

HEAT_WANDER_LOG_SD = 0.15
"""How far the ln of the heat factor may be from where it was after a day, log-sd; it counts from one
observation to the next. Source: own choice: the rate of growth is known to a log-sd of 0.2 and the peak to
0.25 (`growth`), so that heat that was right on one day is 0.2 to 0.4 off some days later."""

FILL_SD_SHARE = 0.005
"""Standard deviation of the mass at filling, as a share of it. Source: own choice, a kitchen scale."""

MOST_STEPS = 20
LARGEST_LOG_STEP = 1.0
TOLERANCE = 1e-4
FIRST, FACTOR, MEAN, END, HEAT, WATER, DRY = range(7)
"""Dimensions of a posterior: ln factor at the filling, ln factor at the start of a stretch, its mean drift
over the stretch, its drift at the end, ln heat factor, water, dry matter."""

SIZE, PATH = DRY + 1, slice(FACTOR, DRY + 1)

Predict = Callable[[FloatArray], FloatArray]
"""What would be observed, from points of the posterior, one a row."""


@dataclass(frozen=True, slots=True, eq=False)
class BinPosterior:
    """Normal posterior of a bin over a stretch of time: see `FIRST` and what follows it.

    `mean` has shape (7,), `covariance` shape (7, 7); water and dry matter are those at the start of the
    stretch [kg].
    """

    mean: FloatArray
    covariance: FloatArray

    @property
    def factor(self) -> float:
        """Median factor on evaporation at the end of the stretch [1]."""
        return math.exp(float(self.mean[FACTOR] + self.mean[END]))

    @property
    def factor_log_sd(self) -> float:
        """Log-sd of the factor at the end of the stretch [1]."""
        now = np.ix_((FACTOR, END), (FACTOR, END))
        return math.sqrt(float(self.covariance[now].sum()))


@dataclass(frozen=True, slots=True)
class Comparison:
    """A weighing or test, and what had been expected; `surprise` counts standard deviations."""

    at_ms: int
    found: float
    expected: float
    surprise: float


def prior_posterior(facts: BinFacts, taught: FactorPrior | None = None, days: float = 0.0) -> BinPosterior:
    """The posterior of a bin that was just filled.

    `taught` is what other fills of the farm say of its factor; None for a farm of which nothing is known.
    `days` is how long its first stretch lasts.
    """
    prior = taught or UNKNOWN_FARM
    water, dry = facts.wet_kg * facts.moisture, facts.wet_kg * (1.0 - facts.moisture)
    by_mass, by_moisture = np.array([facts.moisture, 1.0 - facts.moisture]), np.array([1.0, -1.0])
    mass_sd, moisture_sd = FILL_SD_SHARE * facts.wet_kg, facts.moisture_sd * facts.wet_kg
    covariance = np.zeros((SIZE, SIZE))
    covariance[FIRST : FACTOR + 1, FIRST : FACTOR + 1] = prior.log_sd**2
    counted = facts.larvae is None or facts.larvae.count > 0.0 or facts.probe_depth_m is not None
    covariance[HEAT, HEAT] = HEAT_LOG_SD**2 + (0.0 if counted else UNCOUNTED_LOG_SD**2)
    covariance[WATER:, WATER:] = mass_sd**2 * np.outer(by_mass, by_mass) + moisture_sd**2 * np.outer(
        by_moisture, by_moisture
    )
    mean = np.array([prior.log_mean, prior.log_mean, 0.0, 0.0, 0.0, water, dry])
    return BinPosterior(mean, _with_drift(covariance, days))


def _with_drift(covariance: FloatArray, days: float) -> FloatArray:
    """A stretch of so many days is ahead: the drift of a random walk over it, its mean and its end.

    Variances s² T/3 and s² T, covariance s² T/2. Source: integral of a Wiener process.
    """
    drift = np.array([[1.0 / 3.0, 0.5], [0.5, 1.0]])
    covariance[MEAN : END + 1, MEAN : END + 1] = WANDER_LOG_SD**2 * max(days, 0.0) * drift
    return covariance


def drift_path(shares: FloatArray, mean: FloatArray, end: FloatArray) -> FloatArray:
    """The drift of ln factors at shares of a stretch, shape (n, k) [1].

    `shares` has shape (n,), 0 at its start and 1 at its end; `mean` and `end` shape (k,). What is expected
    of a Wiener process whose mean and end are known: (6x - 6x²) mean + (3x² - 2x) end.
    Source: conditional mean of joint normals.
    """
    x = np.asarray(shares)[:, None]
    return np.asarray(6.0 * x * (1.0 - x) * mean + x * (3.0 * x - 2.0) * end)


def updated(posterior: BinPosterior, predict: Predict, observed: float, sd: float) -> BinPosterior:
    """The posterior after one observation, at the same moment as before.

    Parameters
    ----------
    posterior : BinPosterior
        Before it.
    predict : callable
        What would be observed at each of k points of the posterior: shape (k, 7) to shape (k,).
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
    steps = np.array([*np.full(WATER, 0.02), *np.maximum(0.005 * at[WATER:], 1e-6)])
    values = predict(at + np.vstack([np.zeros(SIZE), np.diag(steps)]))
    return float(values[0]), (values[1:] - values[0]) / steps


def surprise(posterior: BinPosterior, predict: Predict, observed: float, sd: float) -> tuple[float, float]:
    """What was expected, and how many standard deviations an observation lies above it [1]; as `updated`."""
    value, slope = _slope(posterior.mean, predict)
    spread = math.sqrt(float(slope @ posterior.covariance @ slope) + sd**2)
    return value, (observed - value) / spread


def carried(posterior: BinPosterior, water: Predict, dry: Predict, days: float) -> BinPosterior:
    """The posterior at the end of a stretch, where a new one of so many days begins.

    `water` and `dry` give water and dry matter at its end [kg] from points of the posterior. The factors keep
    what they share with water and dry matter; the factor of the new stretch begins where that of the old
    ended.
    """
    water_now, by_water = _slope(posterior.mean, water)
    dry_now, by_dry = _slope(posterior.mean, dry)
    keep, none = np.eye(SIZE), np.zeros(SIZE)
    moved = np.vstack([keep[FIRST], keep[FACTOR] + keep[END], none, none, keep[HEAT], by_water, by_dry])
    covariance = _with_drift(moved @ posterior.covariance @ moved.T, days)
    covariance[HEAT, HEAT] += HEAT_WANDER_LOG_SD**2 * max(days, 0.0)
    mean = moved @ posterior.mean
    mean[WATER:] = water_now, dry_now
    return BinPosterior(_possible(mean), covariance)


@dataclass(frozen=True, slots=True, eq=False)
class Members:
    """k possible bins at a moment of a stretch; `bins` has their factor at its start, `mean` and `end` the
    drift of its ln over the stretch, shape (k,).
    """

    bins: Ensemble
    mean: FloatArray
    end: FloatArray

    def over(self, shares: FloatArray) -> Ensemble:
        """The bins with their factor in each of n intervals, shape (n, k); `shares` says where these lie."""
        return replace(self.bins, factor=self.bins.factor * np.exp(drift_path(shares, self.mean, self.end)))

    def now(self, share: float) -> Ensemble:
        """The bins with their factor at a share of the stretch, shape (k,)."""
        return replace(self.over(np.array([share])), factor=self.over(np.array([share])).factor[0])

    def with_masses(self, water_kg: FloatArray, dry_kg: FloatArray) -> Members:
        """The same bins with other water and dry matter [kg]."""
        return replace(self, bins=replace(self.bins, water_kg=water_kg, dry_kg=dry_kg))


def members_at(points: FloatArray) -> Members:
    """Points of a posterior, shape (k, 7), as k bins at the start of its stretch."""
    water, dry = np.maximum(points[:, WATER], LEAST_KG), np.maximum(points[:, DRY], LEAST_KG)
    bins = Ensemble(water, dry, np.exp(points[:, FACTOR]), np.exp(points[:, HEAT]))
    return Members(bins, points[:, MEAN], points[:, END])


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


NORMALS = spread_normals(PAIRS, 9)
"""Of each member: six of the posterior without `FIRST`, then the weather and the drift of the days to
come."""

AHEAD_WEATHER, AHEAD_MEAN, AHEAD_END = 6, 7, 8


def drawn(posterior: BinPosterior) -> Members:
    """The 129 bins of an ensemble drawn from a posterior; the first is its mean."""
    root = square_root(posterior.covariance[PATH, PATH])
    points = np.tile(posterior.mean, (len(NORMALS), 1))
    points[:, PATH] += NORMALS[:, :AHEAD_WEATHER] @ root.T
    return members_at(points)


def drift_ahead(days: float) -> tuple[FloatArray, FloatArray]:
    """Mean and end of the drift of each member's ln factor over so many days to come, shape (129,) [1]."""
    root = np.linalg.cholesky(np.array([[1.0 / 3.0, 0.5], [0.5, 1.0]]))
    mean, end = WANDER_LOG_SD * math.sqrt(days) * root @ NORMALS[:, AHEAD_MEAN : AHEAD_END + 1].T
    return mean, end
