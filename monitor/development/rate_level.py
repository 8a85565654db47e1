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
LEAST_KNOWN_SHARE = 0.8
"""Share of a year, of the weights, or of the next days that must be known to be used [1]. Own choice."""
FEWEST_WEIGHTS = 0.2
"""The spread grows as if at least this share of the last days' weights were known [1]. Own choice: with three
days (0.34) it is then as wide as where only the mean of a few hours is known."""
HORIZONS_DAYS = (1, 3, 7, 14, 28, 56)
MEMORY_DAYS = 14
"""Days over which the weighted mean of the last days reaches, so that errors so close are one error [d]:
(1 + a) / (1 - a) with a = 0.5 ** (1 / half-life)."""
PRIOR_LOG_SD = (0.03, 0.04, 0.05, 0.055, 0.06, 0.06)
"""Log-sd of the level at each horizon where nothing is known of a place [1]. Own choice, after simulated
rooms in real weather: one figure for all horizons held too few at 0.05 and too many at 0.08."""
PRIOR_STRETCHES = 4.0
"""Independent stretches of a record for which the prior counts [1]. Own choice."""
DEVIATION_LOG_SD = 0.05
"""How far the last days usually lie from the season, in log rate [1]; as PRIOR_LOG_SD. Own choice."""
SEASON_LOG_SD = (0.1, 0.04)
"""Log-sd of the yearly and the half-yearly wave of the rate, before anything is seen [1]. Own choice: 0.1 is
1.5 °C in 15 °C above the threshold, half of what the weather outside does in a temperate place."""
SEASON_MEMORY = 5.0
"""Days of weather that are worth one independent day: (1 + r) / (1 - r) for an autocorrelation r of 2/3; in
the real weather of the tests it is 0.63 to 0.78 [d]."""
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
        Drift where a year of days is known, else none: along the season, and from where the last days lay
        back towards it. Spread from how well the last days foretold the next 1 to 56 days, at each day of
        the record.

    Notes
    -----
    The variance at a horizon is (n0 v0 + n v) / (n0 + n): v is the mean square error in log rate, less what
    the drawn days themselves bring, n = days / (horizon + memory) the independent stretches, v0 and n0 the
    prior. It grows by the share of the last days' weights that is not known. What is kept of a deviation
    from the season is a regression through the record, shrunk to all of it in the same way.

    Source
    ------
    Shrinkage of a variance (scaled inverse chi-square) and of a slope; numbers are own choices.
    """
    starts, usable = usable_days(clock, now_ms, LONGEST_RECORD_DAYS)
    edges = np.append(starts[::-1], now_ms)
    earned, known = np.diff(np.interp(edges, clock.times_ms, clock.units)), usable[::-1]
    mean = float(earned[known].mean()) if known.any() else 0.0
    if mean <= 0.0:
        return RateLevel(np.zeros(horizon_days), _by_day(np.sqrt(_prior_variances(False)), horizon_days))
    rates, has_year = np.maximum(earned / mean, LEAST_SHARE), _has_year(known)
    season = _season(np.log(rates), known, horizon_days) if has_year else np.zeros(len(rates) + horizon_days)
    without_season = rates / np.exp(season[: len(rates)])
    last_days, steady = _last_days(rates, known), _last_days(without_season, known)
    variances, kept = _errors(steady, without_season, known, has_year)
    variances /= max(steady.known[-1], FEWEST_WEIGHTS)
    spread = _by_day(np.sqrt(variances), horizon_days)
    if not has_year:
        return RateLevel(np.zeros(horizon_days), spread)
    ahead = np.log(np.cumsum(np.exp(season[len(rates) :])) / np.arange(1.0, horizon_days + 1.0))
    expected = ahead + _by_day(kept, horizon_days) * np.log(steady.mean[-1])
    return RateLevel(expected - np.log(last_days.mean[-1]), spread)


def _by_day(values: FloatArray, days: int) -> FloatArray:
    """Values at the horizons, for each coming day; beyond the last horizon as at the last."""
    return np.asarray(np.interp(np.log(np.arange(1.0, days + 1.0)), np.log(HORIZONS_DAYS), values))


def _prior_variances(has_year: bool) -> FloatArray:
    """Variance of the level at each horizon before anything is seen; with the season where it is not known.

    A wave of the year moves by at most 2 pi / 365 of its size a day; the middle of the coming days lies half
    a horizon ahead, that of the last days a mean age back.
    """
    weather = np.square(PRIOR_LOG_SD)
    if has_year:
        return weather
    apart_days = np.array(HORIZONS_DAYS) / 2.0 + HALF_LIFE_DAYS / np.log(2.0)
    return np.asarray(weather + np.square(SEASON_LOG_SD[0] * 2.0 * np.pi / YEAR_DAYS * apart_days))


def _has_year(known: BoolArray) -> bool:
    return len(known) >= YEAR_DAYS and np.count_nonzero(known) >= LEAST_KNOWN_SHARE * YEAR_DAYS


def _season(log_rates: FloatArray, known: BoolArray, ahead: int) -> FloatArray:
    """Yearly waves of the log rate over the record and the coming days."""
    days = np.arange(len(log_rates) + ahead)
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


@dataclass(frozen=True, slots=True, eq=False)
class _LastDays:
    """At the end of each day of a record, shape (days,): mean and variance of the last days, weighted as the
    forecast weights them, the variance as a share of the squared mean, and the share of the weights known.
    """

    mean: FloatArray
    variance: FloatArray
    known: FloatArray


def _last_days(rates: FloatArray, known: BoolArray) -> _LastDays:
    kernel = 0.5 ** (np.arange(MOST_DAYS) / HALF_LIFE_DAYS)
    sums = [
        np.convolve(np.where(known, each, 0.0), kernel)[: len(rates)] for each in (rates**0, rates, rates**2)
    ]
    weight = np.maximum(sums[0], LEAST_SHARE)
    mean = np.maximum(sums[1] / weight, LEAST_SHARE)
    return _LastDays(mean, np.maximum(sums[2] / weight / mean**2 - 1.0, 0.0), weight / kernel.sum())


def _coming(values: FloatArray, known: BoolArray, horizon: int) -> tuple[FloatArray, FloatArray]:
    """At the end of each day with so many after it: mean of these, and the share of them that is known."""
    if len(values) <= horizon:
        return np.zeros(0), np.zeros(0)
    total = np.concatenate([[0.0], np.cumsum(np.where(known, values, 0.0))])
    number = np.concatenate([[0.0], np.cumsum(known)])
    gained, counted = total[horizon:] - total[:-horizon], number[horizon:] - number[:-horizon]
    return gained[1:] / np.maximum(counted[1:], 1.0), counted[1:] / horizon


def _errors(
    last_days: _LastDays, rates: FloatArray, known: BoolArray, has_year: bool
) -> tuple[FloatArray, FloatArray]:
    """What the record says of forecasts at each horizon, shape (horizons,): variance of the level, and what
    share of the deviation of the last days the next ones keep.
    """
    found = []
    for horizon, prior in zip(HORIZONS_DAYS, _prior_variances(has_year).tolist(), strict=True):
        coming, share = _coming(rates, known, horizon)
        origins = slice(0, len(coming))
        used = (last_days.known[origins] > LEAST_KNOWN_SHARE) & (share > LEAST_KNOWN_SHARE)
        last, after = np.log(last_days.mean[origins][used]), np.log(np.maximum(coming[used], LEAST_SHARE))
        stretches = np.count_nonzero(used) / (horizon + MEMORY_DAYS)
        kept = _kept(last, after, stretches) if has_year else 1.0
        excess = (after - kept * last) ** 2 - last_days.variance[origins][used] / horizon
        found.append((max(_shrunk(prior, excess, stretches), 0.0), kept))
    return np.array(found)[:, 0], np.array(found)[:, 1]


def _shrunk(prior: float, seen: FloatArray, stretches: float) -> float:
    """Mean of what was seen in so many independent stretches, drawn towards the prior."""
    mean = float(seen.mean()) if len(seen) else 0.0
    return (PRIOR_STRETCHES * prior + stretches * mean) / (PRIOR_STRETCHES + stretches)


def _kept(last: FloatArray, after: FloatArray, stretches: float) -> float:
    """Share of the deviation of the last days that the next ones keep [1]; all of it if little is known."""
    prior = DEVIATION_LOG_SD**2
    kept = _shrunk(prior, last * after, stretches) / _shrunk(prior, last**2, stretches)
    return min(max(kept, 0.0), 1.0)
