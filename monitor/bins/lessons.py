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

FACTOR_LOG_SD_PROBE = math.log(1.4) / NORMAL_QUANTILE_90
"""Log-sd of the factor of a fill in an unknown farm whose heat is measured by a probe: 80 % lie within 40 %.
Source: own choice. Shah's formula alone is 18 % off on the mean (log-sd about 0.22: Shah 2002, HVAC&R
Research 8(1):125-131), a humidity sensor moves the rate by 7 to 17 % (data sheets, at 28 °C and 70 %RH)."""

FACTOR_LOG_SD = math.log(1.6) / NORMAL_QUANTILE_90
"""Log-sd of the factor of a fill without a probe in an unknown farm: 80 % lie within 1.6 times. Source: own
choice: the 40 % of a known heat and a heat that is known to a third only, to which evaporation answers by
about 0.8 (energy balance at 50 to 200 W/m², 28 °C, 70 %RH). Was 2.5 times: of 33 boxes of Fuhrmann et al.
2024 (open data; 28 °C and 70 %RH assumed) none lay further off than 1.3 times."""

OWN_LOG_SD = 0.12
"""Median of what is believed beforehand of how far fills of one farm differ, log-sd. Source: 0.05 to 0.13
within three runs of 9 to 12 boxes in one room (Fuhrmann et al. 2024, open data)."""

OWN_LOG_SD_SPREAD = 0.6
"""Log-sd of that belief. Source: own choice: farms are less even than a trial; 0.05 to 0.26 holds four in
five."""

OWN_GRID: FloatArray = np.exp(math.log(OWN_LOG_SD) + OWN_LOG_SD_SPREAD * np.linspace(-2.4, 2.4, 25))


@dataclass(frozen=True, slots=True)
class FactorPrior:
    """What is believed of the factor of a fill before anything was measured: mean and sd of its ln [1].

    `fills` is how many fills of the farm taught it.
    """

    log_mean: float
    log_sd: float
    fills: int = 0


UNKNOWN_FARM = FactorPrior(0.0, FACTOR_LOG_SD)
UNKNOWN_FARM_PROBE = FactorPrior(0.0, FACTOR_LOG_SD_PROBE)


def unknown_farm(probe: bool) -> FactorPrior:
    """What is believed of a fill in a farm of which nothing is known, with a thermometer in it or without."""
    return UNKNOWN_FARM_PROBE if probe else UNKNOWN_FARM


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


LEAST_ADDED = 0.05
"""Measurements that add less than this share to what was known teach nothing [1]. Source: own choice."""


def taught(lessons: Sequence[Lesson], unknown: FactorPrior = UNKNOWN_FARM) -> FactorPrior:
    """What is to be believed of the next fill of a farm.

    Parameters
    ----------
    lessons : sequence of Lesson
        One for each fill of which something was measured.
    unknown : FactorPrior
        What is believed in a farm of which nothing is known; its spread holds farm and fill.

    Returns
    -------
    FactorPrior
        `unknown` itself without a lesson.

    Notes
    -----
    lesson ~ N(m, own² + sd²), m ~ N(unknown mean, farm²), ln own ~ N(ln 0.12, 0.6²) on a grid; the mixture's
    mean and variance are given. farm² is what is left of the variance of `unknown` beside that of a usual
    fill.

    Source
    ------
    Normal hierarchical model, Gelman et al., Bayesian Data Analysis, ch. 5.
    """
    if not lessons:
        return unknown
    found = np.array([each.log_factor for each in lessons])
    wide = OWN_GRID[:, None] ** 2 + np.array([each.log_sd for each in lessons]) ** 2
    farm = max(unknown.log_sd**2 - OWN_LOG_SD**2, OWN_LOG_SD**2)
    precision = 1.0 / farm + (1.0 / wide).sum(axis=1)
    middle = (unknown.log_mean / farm + (found / wide).sum(axis=1)) / precision
    fit = -0.5 * (np.log(wide) + (found - unknown.log_mean) ** 2 / wide).sum(axis=1)
    fit += 0.5 * precision * (middle - unknown.log_mean) ** 2 - 0.5 * np.log(precision)
    likely = np.exp(fit - fit.max() - 0.5 * (np.log(OWN_GRID / OWN_LOG_SD) / OWN_LOG_SD_SPREAD) ** 2)
    likely /= likely.sum()
    mean = float(likely @ middle)
    variance = float(likely @ (OWN_GRID**2 + 1.0 / precision + (middle - mean) ** 2))
    return FactorPrior(mean, math.sqrt(variance), len(lessons))
