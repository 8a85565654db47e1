"""Log ratios of cases in time against what held at each: noise with a memory, a level that drifts. Pure.

What many cases of one time share is one case, not many. All is normal, with priors that go with it, solved
exactly on a small grid of noises.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.climate.arrays import FloatArray

MEMORIES = (0.1, 0.35, 0.6)
DRIFTS = (0.05, 0.15, 0.35)
SCALES = (0.5, 0.7, 1.0, 1.4, 2.0)
SCALE_LOG_SD = 0.5
"""What a day keeps of the one before, log-sd of the level's turns, and factors of the noise that are tried,
with the log-sd of the last [1]. Source: own choice."""
LEVEL_LOG_SD, KNOT_DAYS = 0.6, 10.0
"""Log-sd of the level of a series, and how often it may turn [1], [d]. Source: own choice."""
WIDER = 1.1
"""By how much the noise is wider than the model says [1]. Source: own choice, from simulated farms without
any effect (z of 1.0 to 1.1 for most conditions), none of them of the last run."""
FAR_OUT = 2.5
"""Standard deviations from which on a case counts less [1]. Source: own choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Cases of one line in time, in order: day of each [d], log ratio, its log-sd before scaling, all of
    shape (n,); how far each condition held, shape (n, conditions), 0 to 1."""

    days: FloatArray
    log_ratio: FloatArray
    log_sd: FloatArray
    exposed: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Log ratios of the conditions, their variances, and z of the data alone, all of shape (conditions,)."""

    mean: FloatArray
    variance: FloatArray
    data_z: FloatArray


def fitted(
    series: Sequence[Series],
    prior_mean: FloatArray,
    prior_sd: FloatArray,
    memories: Sequence[float] = MEMORIES,
) -> Fit:
    """The conditions together, over all series, with noise and drift learned on a grid.

    Source: normal regression with priors that go with it, own choice of the model.
    """
    parts = _weighed(series, prior_mean, prior_sd, memories)
    parts = _weighed(_calmed(series, parts, prior_mean), prior_mean, prior_sd, memories)
    mean = parts.chances @ parts.means
    variance = parts.chances @ (parts.variances + (parts.means - mean) ** 2)
    data = np.maximum(1.0 / variance - 1.0 / prior_sd**2, 1e-9)
    alone = (mean / variance - prior_mean / prior_sd**2) / data
    data /= WIDER**2
    variance = 1.0 / (data + 1.0 / prior_sd**2)
    return Fit(variance * (data * alone + prior_mean / prior_sd**2), variance, alone * np.sqrt(data))


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    """Chance of each setting of the noise, shape (m,), with means and variances of the conditions, shape (m,
    conditions); the likeliest scale and mean for outliers."""

    chances: FloatArray
    means: FloatArray
    variances: FloatArray
    scale: float
    best: FloatArray


def _weighed(
    series: Sequence[Series], prior_mean: FloatArray, prior_sd: FloatArray, memories: Sequence[float]
) -> _Parts:
    number = len(prior_mean)
    logs, means, variances, fits, scales = [], [], [], [], []
    knots = _knots(series)
    for memory in memories:
        gram, cross, square, log_det, count = _normal(series, knots, prior_mean, memory)
        for drift in DRIFTS:
            precision = np.concatenate([1.0 / prior_sd**2, _level_precision(knots, drift)])
            total = gram[None] / np.square(SCALES)[:, None, None] + np.diag(precision)
            right = cross[None] / np.square(SCALES)[:, None]
            inverse = np.linalg.inv(total)
            found = np.einsum("sij,sj->si", inverse, right)
            gone = square / np.square(SCALES) - np.einsum("si,si->s", found, right)
            log_total = np.linalg.slogdet(total)[1] - np.log(precision).sum()
            size = 2.0 * count * np.log(SCALES) + log_det
            logs.append(-0.5 * (gone + log_total + size + np.square(np.log(SCALES) / SCALE_LOG_SD)))
            means.append(found[:, :number] + prior_mean)
            variances.append(np.einsum("sii->si", inverse)[:, :number])
            fits.append(found)
            scales.append(np.array(SCALES))
    log = np.concatenate(logs)
    chances = np.exp(log - log.max())
    best = int(np.argmax(log))
    return _Parts(
        chances=chances / chances.sum(),
        means=np.concatenate(means),
        variances=np.concatenate(variances),
        scale=float(np.concatenate(scales)[best]),
        best=np.concatenate(fits)[best],
    )


def _knots(series: Sequence[Series]) -> list[FloatArray]:
    """Where the level of each series may turn."""
    found = []
    for each in series:
        first, last = float(each.days[0]), float(each.days[-1])
        found.append(np.arange(first, last + KNOT_DAYS, KNOT_DAYS))
    return found


def _hats(each: Series, knots: FloatArray) -> FloatArray:
    """Level and its turns as columns, shape (n, 1 + knots)."""
    at = (each.days[:, None] - knots[None, :]) / KNOT_DAYS
    return np.hstack([np.ones((len(each.days), 1)), np.maximum(1.0 - np.abs(at), 0.0)])


def _level_precision(knots: Sequence[FloatArray], drift: float) -> FloatArray:
    parts = [np.concatenate([[1.0 / LEVEL_LOG_SD**2], np.full(len(each), 1.0 / drift**2)]) for each in knots]
    return np.concatenate(parts)


def _normal(
    series: Sequence[Series], knots: Sequence[FloatArray], prior_mean: FloatArray, memory: float
) -> tuple[FloatArray, FloatArray, float, float, int]:
    """Sums of squares of whitened conditions, levels and ratios; ln of the noise's determinant at scale 1."""
    number = len(prior_mean)
    width = number + sum(1 + len(each) for each in knots)
    gram, cross, square, log_det = np.zeros((width, width)), np.zeros(width), 0.0, 0.0
    at = number
    for each, turns in zip(series, knots, strict=True):
        hats = _hats(each, turns)
        mine = np.concatenate([np.arange(number), np.arange(at, at + hats.shape[1])])
        at += hats.shape[1]
        ratio = each.log_ratio - each.exposed @ prior_mean
        table = np.column_stack([each.exposed, hats, ratio]) / each.log_sd[:, None]
        white, fresh = _whitened(table, each.days, memory)
        gram[np.ix_(mine, mine)] += white[:, :-1].T @ white[:, :-1]
        cross[mine] += white[:, :-1].T @ white[:, -1]
        square += float(white[:, -1] @ white[:, -1])
        log_det += 2.0 * float(np.log(fresh * each.log_sd).sum())
    return gram, cross, square, log_det, sum(len(each.days) for each in series)


def _whitened(table: FloatArray, days: FloatArray, memory: float) -> tuple[FloatArray, FloatArray]:
    """Rows without what the one before tells of them, and the part of each that is new, shape (n,) [1]."""
    kept = memory ** np.diff(days) if memory else np.zeros(max(len(days) - 1, 0))
    fresh = np.concatenate([[1.0], np.sqrt(1.0 - kept**2)])
    before = np.vstack([np.zeros((1, table.shape[1])), kept[:, None] * table[:-1]])
    return (table - before) / fresh[:, None], fresh


def _calmed(series: Sequence[Series], parts: _Parts, prior_mean: FloatArray) -> list[Series]:
    """Cases that lie far out get a larger log-sd, so that they count less."""
    number, at, found = len(prior_mean), len(prior_mean), []
    for each, turns in zip(series, _knots(series), strict=True):
        hats = _hats(each, turns)
        level = hats @ parts.best[at : at + hats.shape[1]]
        at += hats.shape[1]
        off = each.log_ratio - each.exposed @ (prior_mean + parts.best[:number]) - level
        wide = np.maximum(np.abs(off) / (FAR_OUT * parts.scale * each.log_sd), 1.0)
        found.append(replace(each, log_sd=each.log_sd * wide))
    return found
