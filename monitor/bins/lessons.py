"""What the fills of a farm teach the next one: how its factor on evaporation lies, and how far fills differ.

A fill of which nothing was measured but its filling has the factor of its farm, which nobody knows at first,
and a deviation of its own. Each fill that was weighed, tested or compared with a probe says something of
both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import NORMAL_QUANTILE_90, FloatArray

FACTOR_LOG_SD = math.log(1.4) / NORMAL_QUANTILE_90
"""Log-sd of the factor of a fill in a farm of which nothing is known: 80 % lie within 40 %. Source: own
choice. Shah's formula alone is 18 % off on the mean (log-sd about 0.22: Shah 2002, HVAC&R Research
8(1):125-131), a humidity sensor moves the rate by 7 to 17 % (data sheets, at 28 °C and 70 %RH). Was 2.5
times without a probe, for heat that nobody measured; that is carried by the heat factor now, to which the
evaporation answers, and once. Of 33 boxes of Fuhrmann et al. 2024 (open data; 28 °C and 70 %RH assumed, heat
by age) none lay further off than 1.3 times."""

OWN_LOG_SD = 0.12
"""Median of what is believed beforehand of how far fills of one farm differ, log-sd. Source: 0.05 to 0.13
within three runs of 9 to 12 boxes in one room (Fuhrmann et al. 2024, open data)."""

OWN_LOG_SD_SPREAD = 0.6
"""Log-sd of that belief. Source: own choice: farms are less even than a trial; 0.05 to 0.26 holds four in
five."""

_STEPS: FloatArray = np.linspace(-2.4, 2.4, 25)
OWN_GRID: FloatArray = OWN_LOG_SD * np.exp(OWN_LOG_SD_SPREAD * _STEPS)
OWN_LOG_WEIGHT: FloatArray = -0.5 * _STEPS**2
FARM_VARIANCE = FACTOR_LOG_SD**2 - float(np.average(OWN_GRID**2, weights=np.exp(OWN_LOG_WEIGHT)))
"""What is left of the variance of an unknown farm's fill beside that of fills of one farm [1]."""


LEAST_ADDED = 0.05
"""Measurements that add less than this share to what was known teach nothing [1]. Source: own choice."""


@dataclass(frozen=True, slots=True)
class FactorPrior:
    """What is believed of the factor of a fill before anything was measured: mean and sd of its ln [1].

    `fills` is how many fills of the farm taught it.
    """

    log_mean: float
    log_sd: float
    fills: int = 0


UNKNOWN_FARM = FactorPrior(0.0, FACTOR_LOG_SD)


@dataclass(frozen=True, slots=True)
class Lesson:
    """What the measurements of one fill say of its ln factor, whatever was believed before [1]."""

    log_factor: float
    log_sd: float


def lesson_of(before: FactorPrior, log_mean: float, log_sd: float) -> Lesson | None:
    """What measurements added to a belief, from the belief before and after them; None where that is nothing.

    Source: quotient of two normals.
    """
    added = log_sd**-2 - before.log_sd**-2
    if added <= LEAST_ADDED * before.log_sd**-2:
        return None
    middle = (log_mean * log_sd**-2 - before.log_mean * before.log_sd**-2) / added
    return Lesson(middle, added**-0.5)


def taught(lessons: Sequence[Lesson]) -> FactorPrior:
    """What is to be believed of the next fill of a farm.

    Parameters
    ----------
    lessons : sequence of Lesson
        One for each fill of which something was measured.

    Returns
    -------
    FactorPrior
        `UNKNOWN_FARM` without a lesson; its spread holds farm and fill.

    Notes
    -----
    lesson ~ N(m, own² + sd²), m ~ N(0, farm²), ln own ~ N(ln 0.12, 0.6²) on a grid; the mixture's
    mean and variance are given. farm² is what is left of the variance of `UNKNOWN_FARM` beside that of a
    usual fill.

    Source
    ------
    Normal hierarchical model, Gelman et al., Bayesian Data Analysis, ch. 5.
    """
    if not lessons:
        return UNKNOWN_FARM
    found = np.array([each.log_factor for each in lessons])
    wide = OWN_GRID[:, None] ** 2 + np.array([each.log_sd for each in lessons]) ** 2
    precision = 1.0 / FARM_VARIANCE + (1.0 / wide).sum(axis=1)
    middle = (found / wide).sum(axis=1) / precision
    fit = -0.5 * (np.log(wide) + found**2 / wide).sum(axis=1)
    fit += 0.5 * precision * middle**2 - 0.5 * np.log(precision)
    likely = np.exp(fit - fit.max() + OWN_LOG_WEIGHT)
    likely /= likely.sum()
    mean = float(likely @ middle)
    variance = float(likely @ (OWN_GRID**2 + 1.0 / precision + (middle - mean) ** 2))
    return FactorPrior(mean, math.sqrt(variance), len(lessons))
