"""How far the mean rate of the coming weeks lies from that of the last weeks, as a place's own record tells.

Futures are past days drawn again. They hold how days differ, but not that weeks differ: warm days follow
each other, and the season moves on. So each future has a level of its own, one factor on its rate, drawn
from what the record says of earlier forecasts of this kind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray
from monitor.development.clocks import StageClock
from monitor.records import MS_PER_DAY

# How past days become future ones; every number here is our own choice.
HALF_LIFE_DAYS = 5.0
MOST_DAYS = 60
MOST_ESTIMATED_HOURS = 12.0
# How much is learned from how long a record.
LONGEST_RECORD_DAYS = 800
YEAR_DAYS = 365.25
HORIZONS_DAYS = (1, 3, 7, 14, 28)
MEMORY_DAYS = 14
"""Days over which the weighted mean of the last days reaches, so that errors so close are one error [d]:
(1 + a) / (1 - a) with a = 0.5 ** (1 / half-life)."""
PRIOR_LOG_SD = (0.03, 0.04, 0.05, 0.06, 0.07)
"""Log-sd of the level at each horizon where nothing is known of a place [1]. Own choice, after simulated
rooms in real weather: one figure for all horizons held too few at 0.05 and too many at 0.08."""
PRIOR_STRETCHES = 4.0
"""Independent stretches of a record for which the prior counts [1]. Own choice."""
SEASON_LOG_SD = (0.15, 0.05)
"""Log-sd of the yearly and the half-yearly wave of the rate, before anything is seen [1]. Own choice."""
SEASON_MEMORY = 5.0
"""Days of weather that are worth one independent day: (1 + r) / (1 - r) for an autocorrelation r of 2/3, seen
in daily means of real weather (0.63 to 0.78) [d]."""
LEAST_SHARE = 0.05
"""A day's rate counts as at least this share of the mean [1], so that its logarithm exists. Own choice."""


@dataclass(frozen=True, slots=True, eq=False)
class RateLevel:
    """Expected drift and spread of the mean rate from now to the end of each coming day, in log rate.

    Both have shape (days,), the first for the first day from now [1].
    """

    log_drift: FloatArray
    log_sd: FloatArray

    def factors(self, normals: FloatArray) -> FloatArray:
        """Factors on what each course earns from now to each midnight of its own, shape (days + 1, draws)."""
        factors = np.ones((len(self.log_sd) + 1, len(normals)))
        np.exp(self.log_drift[:, None] + self.log_sd[:, None] * normals, out=factors[1:])
        return factors


def even_level(log_sd: float, days: int) -> RateLevel:
    """A level without drift that is equally unsure for all days."""
    return RateLevel(np.zeros(days), np.full(days, log_sd))


def usable_days(clock: StageClock, now_ms: int, most: int) -> tuple[FloatArray, BoolArray]:
    """Starts of the whole days of a record, counted back from now, the latest first, and which may be used.

    Days that are mostly estimated, or not known, may not.
    """
    days = min(int((now_ms - clock.times_ms[0]) // MS_PER_DAY), most)
    starts = np.asarray(now_ms - MS_PER_DAY * np.arange(1, days + 1), dtype=np.float64)
    edges = np.stack([starts, starts + MS_PER_DAY])
    estimated = np.diff(np.interp(edges, clock.times_ms, clock.estimated_hours), axis=0)[0]
    usable = np.asarray(estimated <= MOST_ESTIMATED_HOURS)
    for start, end in clock.unknown:
        usable &= ~((start < edges[1]) & (end > edges[0]))
    return starts, usable


def rate_level(clock: StageClock, now_ms: int, horizon_days: int) -> RateLevel:
    """The level of the coming days of a place, learned from its record up to now.

    Parameters
    ----------
    clock : StageClock
        What the place earned, up to `now_ms` [ms since 1970 UTC].
    horizon_days : int
        Coming days [d].

    Returns
    -------
    RateLevel
        Drift from the season where a year of days is known, else none; spread from how well the weighted
        mean of the last days foretold the next 1, 3, 7, 14 and 28 days at each day of the record.

    Notes
    -----
    The variance at a horizon is (n0 v0 + n v) / (n0 + n): v is the mean square error in log rate, less what
    the drawn days themselves bring, n = days / (horizon + memory) the independent stretches, v0 and n0 the
    prior.

    Source
    ------
    Shrinkage of a variance (scaled inverse chi-square); numbers are own choices.
    """
    starts, usable = usable_days(clock, now_ms, LONGEST_RECORD_DAYS)
    edges = np.append(starts[::-1], now_ms)
    earned, known = np.diff(np.interp(edges, clock.times_ms, clock.units)), usable[::-1]
    mean = float(earned[known].mean()) if known.any() else 0.0
    if mean <= 0.0:
        return RateLevel(np.zeros(horizon_days), _by_day(np.square(PRIOR_LOG_SD), horizon_days))
    rates = np.maximum(earned / mean, LEAST_SHARE)
    season = _season(np.log(rates), known, horizon_days)
    days = rates / np.exp(season[: len(rates)])
    variances = _level_variances(days, known)
    drift = _drift(rates, known, season)
    return RateLevel(drift, _by_day(variances, horizon_days))


def _by_day(variances: FloatArray, days: int) -> FloatArray:
    """Log-sd of each coming day from the variances at the horizons; beyond the last one as at the last."""
    at = np.log(np.arange(1, days + 1))
    return np.asarray(np.sqrt(np.interp(at, np.log(HORIZONS_DAYS), variances)))


def _season(log_rates: FloatArray, known: BoolArray, ahead: int) -> FloatArray:
    """Yearly waves of the log rate over the record and the coming days; nothing below a year of days."""
    days = np.arange(len(log_rates) + ahead)
    if len(log_rates) < YEAR_DAYS or np.count_nonzero(known) < 0.8 * YEAR_DAYS:
        return np.zeros(len(days))
    turns = 2.0 * np.pi * days / YEAR_DAYS
    waves = np.stack([wave(n * turns) for n in (1, 2) for wave in (np.cos, np.sin)], axis=1)
    seen = waves[: len(log_rates)][known]
    centre = seen.mean(axis=0)
    values = log_rates[known] - log_rates[known].mean()
    plain = np.linalg.lstsq(seen - centre, values, rcond=None)[0]
    noise = SEASON_MEMORY * float(np.var(values - (seen - centre) @ plain))
    ridge = noise / np.repeat(SEASON_LOG_SD, 2) ** 2
    design = seen - centre
    coefficients = np.linalg.solve(design.T @ design + np.diag(ridge), design.T @ values)
    return np.asarray((waves - centre) @ coefficients)


def _weighted(values: FloatArray, known: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Mean of the last days at the end of each day, weighted as the forecast does, and how much was known."""
    kernel = 0.5 ** (np.arange(MOST_DAYS) / HALF_LIFE_DAYS)
    total = np.convolve(np.where(known, values, 0.0), kernel)[: len(values)]
    weight = np.convolve(known.astype(np.float64), kernel)[: len(values)]
    return np.asarray(total / np.maximum(weight, 1e-9)), np.asarray(weight / kernel.sum())


def _coming(values: FloatArray, known: BoolArray, horizon: int) -> tuple[FloatArray, FloatArray]:
    """Mean of the next days at the end of each day that has so many after it, and the share of them known."""
    total = np.concatenate([[0.0], np.cumsum(np.where(known, values, 0.0))])
    number = np.concatenate([[0.0], np.cumsum(known)])
    gained, counted = total[horizon:] - total[:-horizon], number[horizon:] - number[:-horizon]
    return gained[1:] / np.maximum(counted[1:], 1.0), counted[1:] / horizon


def _level_variances(rates: FloatArray, known: BoolArray) -> FloatArray:
    """Variance of the level at each horizon, shape (horizons,)."""
    mean, weight = _weighted(rates, known)
    square = _weighted(rates**2, known)[0]
    mean = np.maximum(mean, LEAST_SHARE)
    between = np.maximum(square - mean**2, 0.0) / mean**2
    variances = []
    for horizon, prior in zip(HORIZONS_DAYS, PRIOR_LOG_SD, strict=True):
        if len(rates) <= horizon:
            variances.append(prior**2)
            continue
        coming, share = _coming(rates, known, horizon)
        origins = len(coming)
        used = (weight[:origins] > 0.8) & (share > 0.8)
        error = np.log(coming[used] / mean[:origins][used])
        excess = error**2 - between[:origins][used] / horizon
        stretches = np.count_nonzero(used) / (horizon + MEMORY_DAYS)
        seen = PRIOR_STRETCHES * prior**2 + stretches * (float(excess.mean()) if used.any() else 0.0)
        variances.append(max(seen / (PRIOR_STRETCHES + stretches), 0.0))
    return np.array(variances)


def _drift(rates: FloatArray, known: BoolArray, season: FloatArray) -> FloatArray:
    """What the season does to the mean of the coming days, beside that of the last days, in log rate."""
    past, coming = season[: len(rates)], season[len(rates) :]
    plain = _weighted(rates, known)[0][-1]
    level = _weighted(rates / np.exp(past), known)[0][-1]
    mean = np.cumsum(np.exp(coming)) / np.arange(1, len(coming) + 1)
    return np.asarray(np.log(np.maximum(mean * level, 1e-9) / max(plain, 1e-9)))
